# Charts of a unit’s page and of the lists for buyers.

chart-not-read = not read
chart-whiskers = Whiskers show the expanded uncertainty U, 95 %, where it is known.
    .k2 = Whiskers show the expanded uncertainty, k = 2, where it is known.
chart-bars = { $count ->
    [one] Bars: { $count } reading
   *[other] Bars: { $count } readings
}
chart-bars-of = Bars: { $drawn } readings of { $all }; the others stand in the table
chart-bars-units = Bars: { $units }
chart-bars-units-of = Bars: { $units }, the first of { $all }; the others stand in the table
chart-limit-named = limit { $name }
no-load-chart = No-load power: { $subject }
no-load-chart-none = No-load power: nothing measured
no-load-axis-mw = No-load power in milliwatts
no-load-axis-w = No-load power in watts
chart-table-95 = { $title } (± U, 95 %, where known)
chart-no-figure = No unit has this figure
axis-better-more = { $figure } (more is better)
axis-better-less = { $figure } (less is better)
scatter = Scatter of { $units }. Across: { $x }. Up: { $y }.
scatter-drawn = { $count } of them are drawn.
scatter-front = Diamonds joined by a line, { $units }, are beaten by no other in both figures
scatter-unnamed = { $count } names found no room; all stand in the table.
scatter-none = No unit has both figures
scatter-unbeaten = Beaten by none in both
heat-drawn = Temperature against time: { $subject }
heat-final-value = final value by the fit
    .alone = { $value } (fit alone)
heat-state-steady = steady
heat-state-extrapolated = still warming, final value extrapolated
heat-state-changing = still changing
heat-state-unknown = the readings do not show whether it had settled
heat-desc = { $count ->
    [one] { $count } reading over { $minutes } min; last { $temperature }; { $state }.
   *[other] { $count } readings over { $minutes } min; last { $temperature }; { $state }.
}
heat-desc-ambient = { $count ->
    [one] { $count } reading over { $minutes } min; last { $temperature } at an ambient of { $ambient }; { $state }.
   *[other] { $count } readings over { $minutes } min; last { $temperature } at an ambient of { $ambient }; { $state }.
}
heat-desc-final = Final value by the fit: { $value }.
heat-label-surface = surface
heat-label-hot-spot = hot spot
heat-label-ambient = ambient
heat-label-fit = first-order fit
heat-label-steady = steady over the last { $minutes } min
heat-none = Temperature: no course over time
heat-axis-temperature = Temperature, °C
heat-axis-time = Time, min
heat-hover = { $minutes } min: { $temperature }, ambient { $ambient }
heat-row-final = Final value by the fit
heat-temperature = Temperature
heat-rise-column = Rise
step-delivered = delivered
step-limited = limited or sagging
step-off = off, at the current asked for
state-on = on
state-limited = limited
state-cycling = off and on by itself
state-off = off
state-below = on, below its window
overload-drawn = Output under rising load: { $subject }
overload-lets-go = lets go at { $current } A
overload-good = last good: { $current } A
overload-good-power = last good: { $current } A, { $power } W
overload-desc = { $count ->
    [one] Voltage against current over { $count } step of the load.
   *[other] Voltage against current over { $count } steps of the load.
}
overload-off-stands = A port that is off stands at the current that was asked for.
overload-rated-line = rated { $current } A
overload-hover = asked for { $set } A: { $current } A, { $voltage } V, { $state }
overload-chart-none = Overload: no step has both a current and a voltage
overload-axis-voltage = Voltage, V
overload-axis-current = Current, A
overload-asked = Asked for
overload-flowed = Flowed
overload-power = Power
overload-held-for = Held for
overload-last-good-step = { $state }: the last good step
harmonics = Harmonic currents by order: { $subject }
harmonics-desc = Bars by order on a logarithmic axis of r.m.s. amperes. Fundamental { $fundamental }; distortion of orders 2 to { $order }: { $thd }, of everything but the fundamental: { $all }. Screening: { $result }. Dashed line: the floor of { $floor }, below which the standard does not look.
harmonics-none-above = No order exceeds Class { $class }.
harmonics-above = Above Class { $class }: order { $orders }.
harmonics-order = order { $order }: { $current }
harmonics-order-class = Class { $class }: { $share } of { $limit }, { $result }
harmonics-outside = outside the limits
order-accepted = above, accepted
order-too-small = below the floor
order-no-limit = no limit
harmonics-none = Harmonic currents: none known
harmonics-limits = Class { $class } limits
harmonics-compared = Class { $class }, for comparison
harmonics-floor = floor
harmonics-axis = Current, r.m.s., logarithmic; a triangle marks an order outside its limit
    .narrow = Current, r.m.s. (log); ▲: outside its limit
    .order = Harmonic order
harmonics-column-order = Order
harmonics-column-group = Current (group)
harmonics-column-share = Of fundamental
harmonics-column-limit = Class { $class } limit
harmonics-column-against = Against Class { $class }
harmonics-table = { $title } (screening: { $result })
shape = Voltage, current and power over two cycles: { $subject }
shape-desc = Three lanes over { $time } ms. Voltage { $voltage } V r.m.s., peak { $peak } V; current { $current } r.m.s., peak { $current-peak }, crest factor { $crest }; active power { $power }, the mean of the instantaneous power. Each point is the mean of the samples around it. Every tenth point stands in the table.
lane-voltage = Voltage, V: { $voltage } V r.m.s., peak { $peak } V, crest factor { $crest }
    .short = Voltage, V: { $voltage } V r.m.s.
lane-current = Current, A: { $current } r.m.s., peak { $peak }, crest factor { $crest }
    .short = Current, A: { $current } r.m.s., crest { $crest }
lane-power = Power, W: { $power } active power (dashed), power factor { $factor }
    .short = Power, W: { $power } active (dashed)
shape-none = Waveform: the record holds no cycle
shape-axis = Time in milliseconds, from a rising zero of the voltage
    .narrow = Time, ms
shape-table = { $title } (every tenth point; all stand in the evaluation document)
shape-time = Time
trace = No-load power over time: { $subject }
trace-desc = { $count ->
    [one] Line chart of no-load power over { $time }, { $count } sample of { $log }: a band from the least to the greatest sample with the mean in it. Used from { $from } to { $to }, mean { $mean }
   *[other] Line chart of no-load power over { $time }, { $count } samples of { $log }: a band from the least to the greatest sample with the mean in it. Used from { $from } to { $to }, mean { $mean }
}
trace-discarded = the first { $time } discarded
trace-settled = settled at { $time }
trace-never = never settled
trace-limit = limit { $name } { $limit }
trace-limit-windows = { $count ->
    [one] limit { $name } { $limit }, { $above } of { $count } five-minute window above it
   *[other] limit { $name } { $limit }, { $above } of { $count } five-minute windows above it
}
trace-windows = The windows stand in the table.
trace-not-used = not used
trace-used = used for the figure
    .short = used
trace-up-to = up to { $power }
trace-window = { $from } to { $to }: mean { $mean }
    .none = { $from } to { $to }: mean { $mean }, above no limit
    .above = { $from } to { $to }: mean { $mean }, above { $limits }
trace-none = No-load power: the log holds no samples
trace-mean = mean
trace-samples = samples
trace-seconds = Time in seconds
trace-minutes = Time in minutes
trace-hours = Time in hours
trace-row-used = Used for the figure
trace-row-not-used = Not used
trace-row-window = Window { $number }
trace-row-more = { $count } more windows
trace-row-elsewhere = in the evaluation document
trace-table = { $title }: parts and five-minute windows (± U, about 95 %, where known)
trace-part = Part
trace-from = From
trace-to = To
trace-mean-power = Mean power
trace-above = Above the limit of
trace-above-none = none
