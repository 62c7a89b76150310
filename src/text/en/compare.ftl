# Two to six units side by side.

compare = Compare adapters
    .description = USB power adapters side by side, as measured by us: efficiency curves, load points and differences that the uncertainty allows to be told.
compare-versus = { $first } vs { $other }
compare-choose = Choose two to six units: tick them in the <a href="{ $ranking }">ranking</a>, or look for them here.
    .one-more = One more is needed: tick them in the <a href="{ $ranking }">ranking</a>, or look for them here.
compare-by-run = { $class }, by its run “{ $run }”
compare-leave-out = leave out<span class="vh"> { $unit }</span>
compare-add = Add a unit
compare-at = Efficiency at, W

## What could not be shown

compare-too-many = { $count } units were asked for; at most { $most } can be compared, so the first { $most } are shown.
compare-no-power = “{ $text }” is no output power; expected watts above 0, at most 1000.
compare-offered = { $count } units fit “{ $words }”; the best { $most } are offered.

## Which is best

best = Which is best at { $power }?
best-at = Efficiency at { $power }
    .caption = Efficiency at { $power } by each unit’s loss model
best-loss = Loss
best-beside = Beside the highest
best-model = The model holds for the voltage of each unit’s run. Two figures count as different only beyond 2·√(u₁² + u₂²), the fit’s residual included.
best-not-measured = not measured up to this power
best-highest = highest figure
best-lower = surely lower
best-not-apart = not to be told apart from the highest
best-none = None of these units was measured up to { $power }.
best-only = At { $power } only { $unit } can be told: { $figure }.
best-unsure = At { $power } { $unit } has the highest figure, { $figure }, but an uncertainty is not known, so it can’t be said that it is surely best.
best-is = At { $power } { $unit } is best: { $figure }.
best-close = At { $power } { $units } cannot be told apart within the uncertainty; the highest figure is { $figure }.
best-others = { $count ->
    [one] The other one is surely lower.
   *[other] The other { $count } are surely lower.
}
best-unmeasured = { $count ->
    [one] { $units } cannot be told: not measured up to this power.
   *[other] { $units } cannot be told: not measured up to this power.
}

## Figures

compare-against = Against { $unit }:
compare-better = better
compare-worse = worse
compare-not-apart = not to be told apart
    .legend = not to be told apart within the uncertainty
compare-pp = percentage points
compare-figures = Figures side by side
compare-points = Efficiency, load point by load point
    .caption = Efficiency at each load, in percent of each run’s rated power
compare-thd = Current THD at full load
compare-touch = Touch temperature at 25 °C ambient
compare-failed = { $margin } (failed delivery)
compare-largest-voltage = Largest voltage offered
compare-pps = Programmable supply (PPS)
compare-avs = Adjustable supply (AVS)
compare-together = All ports together
compare-sharing = Ports that share
compare-yes = yes, { $low }–{ $high }
compare-no = no
compare-ports = { $number } × { $connector }
    .unknown = { $number } × connector not stated
    .none = none recorded
compare-link = Link to this comparison:
