# Sections of a unit’s page beyond efficiency: overload, heat, other measurements, photos, logs.

figure-compared = Compared with
figure-figure = Figure
figure-probability = Probability within
figure-within = within the figure
figure-within-unsure = within the figure, by less than the uncertainty
figure-outside-unsure = outside the figure, by less than the uncertainty
figure-outside = outside the figure
figure-not-shown = not shown to be within the figure

## Other measurements

measurements-caption = Measured by us on one sample; a figure stands beside what a standard is known to have one for
measurements-conditions = Conditions
measurements-note = Note
not-noted = not noted
measurements-no-figure = none known
measurements-not-compared = not compared
none-given = none
measurements-build = Size, mass and cord
condition-load = { $percent } load
condition-mains = { $voltage } mains
build-mass = Mass, without cord
build-dimensions = Dimensions
build-volume = Volume of that box
build-specific-power = Power per mass
build-cord = Cord
cord-captive = fixed to the adapter
cord-detachable = detachable
cord-resistance = { $resistance } both conductors together

## Temperatures

heat-touch = Touch temperatures: { $series }
    .caption = Beside touch-temperature figures ({ $source }): TS1 for ordinary use, TS2 where a fault is present
heat-contact = Contact
heat-at-25 = At 25 °C
heat-against-ts1 = Against TS1
heat-against-ts2 = Against TS2
heat-usual = the row that adapters are usually judged by
heat-comfort = the line of comfort
heat-recorded = Every reading as recorded
    .caption = Temperatures as recorded
heat-surface = Surface
heat-hot-spot = Hot spot
heat-at-load = at { $load }
heat-chart = Temperature and ambient against time
heat-not-above = Not above the line of comfort of { $limit } ({ $duration }), which is not what adapters are judged by.
heat-above = Above the line of comfort of { $limit } ({ $duration }), which is not what adapters are judged by.
heat-last = Last reading
heat-highest = Highest reading
heat-reading =
    .after-at = { $temperature } after { $minutes } at an ambient of { $ambient }
    .after = { $temperature } after { $minutes }, ambient not read
    .at = { $temperature } at an ambient of { $ambient }
    .bare = { $temperature }, ambient not read
heat-peak =
    .after = { $temperature } after { $minutes }, { $rise } over the ambient
    .bare = { $temperature }, { $rise } over the ambient
heat-steady = Steady state
    .reached = reached
    .extrapolated = not reached, extrapolated
    .changing = not reached
heat-fit = First-order fit
    .text = ends { $rise } above the ambient (± of the scatter alone, k = { $k }), time constant { $time }, { $residual } rms off the readings
heat-final = Final temperature
    .text = { $temperature } at the last ambient, by the fit
heat-rise = Rise over ambient
heat-reference = At 25 °C ambient
    .fit-alone = { $temperature } by the fit alone, the thermometer’s uncertainty is not known
    .unknown = { $temperature }, uncertainty not known
    .brought = { $temperature } (brought to { $reference })
heat-max = At the label’s highest ambient
    .text = { $temperature } at { $ambient }, for information: no figure is compared with it
heat-material = Material
    .assumed = not noted, taken as { $material }
heat-glass = glass or porcelain
heat-plastic = plastic or rubber
heat-after = After
heat-where = Where

## Overload

overload-how = What happened above the rated current, on one sample. A comparison with one figure of a standard is an indication, not a certification: the whole standards ask for single faults, insulation and marking too.
overload-failed = The port does not deliver what it is rated for.
overload-contradiction = The record does not fit together:
overload-limited = Beside figures for limited sources:
overload-figures = Each figure with its source
overload-at = { $port } at { $voltage }
delivery-pass = delivers its rating
delivery-conditional-pass = delivers its rating, as far as can be told
delivery-conditional-fail = may not deliver its rating
delivery-fail = failed delivery
overload-chart = Voltage against current
overload-rated = Rated current
    .list = { $current } by its list of capabilities
    .label = { $current } by its label
overload-last-good = Last good point
overload-trip = Lets go at
    .steps = { $current }, the middle between two steps
    .limited = { $current }, the current that it was held to
    .contradicted = not told: the steps contradict each other
    .held = it did not, up to { $current }
overload-margin = Trip margin
    .text = { $margin } of the rated current
    .unknown = { $margin } of the rated current, uncertainty not known
overload-protection = Protection
    .seen = { $kind }, as seen;
    .told = { $kind }:
    .unknown = not told:
overload-recovery = Recovery
    .after = { $how }, after { $time }
overload-others = Other ports meanwhile
overload-short = Input power in a short circuit
protection-shut-off = shut-off
protection-hiccup = hiccup (tries again and again)
protection-foldback = foldback (the current falls as the load grows)
protection-constant = constant current (the voltage falls instead)
limited-indicated = { $limited }; its power indicates { $class }
limited-class-unknown = { $limited }; its class of power is not shown
limited-within = within both figures of a limited power source
limited-outside = outside the figures of a limited power source
limited-not-shown = not shown to be within the figures of a limited power source
limited-beyond = beyond the voltages that the figures of a limited power source are for
limited-conditions = { $voltage } without load, up to { $current } and { $power } on record
overload-port = Port
overload-at-voltage = At
overload-trips-at = Trips at
overload-held = Last power held
overload-other-ports = Other ports

## Photos

photo-alt = Photo { $number } of { $unit }

## Raw logs

raw-logs-how = The files as the instruments wrote them. The figures above that come from logs can be computed again from these bytes; the SHA-256 tells whether a file is the one that was read.
raw-logs-table = Table of raw logs
raw-logs-caption = Raw logs of this record
raw-logs-for-tester = for download once published
raw-logs-not-kept = not kept here
raw-logs-nothing = nothing yet
raw-logs-uncounted = not counted
raw-logs-log = Log
raw-logs-used = Used for
raw-logs-rows = Rows
raw-logs-read = How it is read

## What it costs to use

unit-use = What it costs to use
    .region = Energy lost in a year
    .caption = Energy it turns into heat in a year; ± is the expanded uncertainty, k = 2
    .lost = Lost in a year
unit-use-use = Use
unit-use-no-figure = no figure: { $why }
unit-use-lists = Each use has a list of the whole class, which says whether the difference matters. <a href="{ $at }">All units at your wattage</a> · <a href="{ $trade }">Trade-offs</a>
profile-load = { $power } for { $time }
profile-idle = plugged in with nothing attached for { $time }
profile-a-day = { $loads } a day
lacks-loss-model = its losses were not measured at enough loads
lacks-no-load = its no-load power was not measured
lacks-load = measured up to { $covered }, which is less than { $power }
choice-use = What it costs to use
choice-at = At my wattage
choice-trade-offs = Trade-offs
