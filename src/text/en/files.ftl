# Comparison and ranking worked out in the browser, where the site is files.

files-curves = Efficiency against output power
    .description = { $units }; the figures stand in the table below.
    .axis = output power, W
    .heading = Efficiency against load
files-no-unit = There is no unit called “{ $name }” here; it was left out.
files-too-many = At most { $most } can be compared, so the first { $most } are shown.
files-no-other = No other unit fits “{ $words }”.
files-which = Which one?
files-leave-out = leave out
files-rank-in-class = Rank in its class
files-figures = Figures
    .caption = Figures side by side; ± is the expanded uncertainty, k = 2
    .quantity = Quantity
files-points = Efficiency as measured
    .caption = Efficiency at each measured output power
files-not-certified = Measured by us on one sample each; not a certification.
