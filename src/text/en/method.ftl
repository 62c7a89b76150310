# How units are measured, judged, scored and ranked.

method = Method
    .description = How adapters are measured, judged with guard bands, scored and ranked here: formulas, references, uncertainty, sources and limits of the method.
    .lead = How units are measured, judged, scored and ranked here, so that anyone can do it again from a unit’s readings and disagree with good reason.
method-contents-measured = What is measured
method-contents-logs = Raw logs
method-contents-waveforms = Waveforms
method-contents-uncertainty = Uncertainty
method-contents-verdicts = Verdicts
method-contents-score = Score
method-contents-ranks = Ranks
method-contents-classes = Classes
method-contents-limits = What this can’t tell

## What is measured, and how

method-measured = What is measured, and how
    .lead = One sample of an adapter is run on one line supply with one full-load condition at a time: a run. At each load the input is read (voltage, current, active power, power factor, distortion) and every loaded output (voltage, current).
method-output-power = Output power
    .text = the sum over the loaded ports of voltage times current
method-efficiency = Efficiency η
    .text = output power over input power; loss is their difference
method-average-efficiency = Average active efficiency
    .text = the mean of the efficiencies at { $loads } of rated load, each within { $tolerance } of it; without any one of them there is no average
method-power-factor = Power factor
    .text = as read, else active power over voltage times current; N = √(S² − P²) is the non-active power
method-no-load = No-load power
    .text = input power with nothing plugged in: a reading, or better a <a href="#logs">log</a>
method-loss-model = Loss model
    .text = loss = a + b·I + c·I², by least squares with no negative part, over the load points and the no-load reading; it gives the efficiency at any load up to the highest one measured, and its residual is shown
method-line = Line supply
    .text = within { $tolerance } of a rule’s voltage and frequency; within { $warning } judged with a warning; else not used
method-ambient = Ambient on { $line }
method-runs = A unit whose ports negotiate is run at its highest and its lowest voltage. A unit with several ports is run with all of them loaded, each in proportion, so that together they stay within the nameplate; runs of one port alone are shown but decide nothing where such a run exists.
method-label = The label is held against physics and the measurement: the power factor that its ratings imply (<span lang="en">{ $implied }</span>), its efficiency mark, the powers of its ports, and the voltages and currents that USB PD asks of its rating (<span lang="en">{ $pd }</span>).

## Raw logs

method-logs = Raw logs
    .lead = A reading that will not sit still is answered with a recording. The files of the instruments are kept byte for byte and offered on the unit’s page with their SHA-256; the record says how each is read and which stretch of it a figure comes from. So the figures can be computed again by anybody.
    .ways = From a log to a no-load power there are several ways (<span lang="en">{ $citation }</span>). They are tried in this order, the first that applies gives the figure, and the page says why the others did not:
method-cycles = Whole cycles
    .text = where the power repeats itself: after { $unused }, two comparison periods of at least { $cycles } whole cycles and { $least } each; their means may drift by the slope allowed between their middles, and the figure is the mean of both
method-sample = Sampling
    .text = at least { $least } recorded, the first { $discarded } of it discarded; the least-squares slope over the rest must be below { $slope }/h up to { $power }, { $above } of the power an hour above; the figure is the mean of the rest
method-mean = Running mean
    .text = a power that varies without a pattern: at least { $least } recorded, and over the last two thirds the running mean stays within ±{ $band }
method-longer-average = Average
    .text = after { $unused }, two comparison periods of { $least } to { $most } each, with the slope allowed between their middles; the figure is the mean of both
method-none = None of them
    .text = the plain average stands in, and no verdict on it is firm
method-five = Beside the figure stands the five-minute method of the US procedure: over the last { $minutes } the input power may drift by { $drift } of its largest value ({ $multiple } for a unit that delivers several voltages at once); if it keeps to that, the value at the end counts, else the average <small>(<span lang="en">{ $source }</span>)</small>. The means of consecutive five-minute windows show how often the power is above a limit.
method-log-uncertainty = The uncertainty of such a mean has two parts: the instrument’s stated accuracy, which no recording makes smaller, and the scatter. Samples that follow each other closely hang together, so they are taken in blocks long enough to be independent, and only the blocks count. Both parts together have effective degrees of freedom (Welch–Satterthwaite); U = k·u with k from Student’s t for { $coverage } <small>(<span lang="en">{ $source }</span>)</small>. From the same figures follows how much longer would have to be recorded until the verdict is clear, or that it never will be with this instrument.
method-log-points = Load points can be cut from a log too: the readings are then means over the stretch, and the page marks a stretch that was not stable.

## Waveforms

method-waveforms = Waveforms
    .lead = From line voltage and current sampled together follow r.m.s. values, active, apparent and non-active power, power factor and displacement (IEEE 1459), and the harmonics of the current. These are screened against { $citation }. <strong>One short record is a screening, never a verdict of conformity.</strong>
    .agree = The waveform’s figures are held against the analyser’s readings of the same load, and the page shows where they differ by more than both allow.
method-windows = Windows
    .text = rectangular, of { $at50 } cycles at 50 Hz and { $at60 } at 60 Hz, brought to whole cycles by resampling where needed; orders up to { $order }
method-who = Who has limits
    .text = equipment above { $power } of rated input power, on supplies of { $voltage } and more, up to { $current }
method-harmonic-class = Class
    .text = Class A unless the tester chooses Class D with a reason:
method-comparison = Comparison
    .text = the mean of each order at most its limit, every smoothed value at most { $smoothed } of it; what is below { $share } of the input current or below { $floor } is not looked at
method-high-orders = High odd orders
    .text = orders { $from } to { $to } may reach { $share } of their limits if together they stay below what their limits make together

## Uncertainty and verdicts

method-uncertainty = Uncertainty
    .text = An instrument’s stated accuracy, ±(% of reading + % of range + fixed part), is taken as the half-width a of a rectangular distribution: standard uncertainty u = a/√3 (JCGM 100:2008, 4.3.7). Uncertainties go through the formulas to first order (5.1.2); instrument errors are taken as fully correlated between the load points of a run, so an average is no surer than its points. Printed after ± is the expanded uncertainty U = 2u, about 95 %, for a figure from a <a href="#logs">log</a> with the k that belongs to its degrees of freedom. Where no instrument data was recorded, the uncertainty is unknown and printed as such, never as zero.
method-verdicts = Verdicts
    .lead = Each requirement of each <a href="{ $rules }">rule</a> is judged by ILAC-G8:09/2019, the non-binary statement with a guard band w = U:
    .text = A rule’s result is that of its worst requirement. Where U is unknown, the bare limit decides (simple acceptance) and the page says so. Beside each result stand simple acceptance, the binary rule with guard band, and the probability that the true value conforms, from a normal distribution (JCGM 106:2012). Average efficiency is judged at every run that counts, at that run’s own rated power, and the worst margin decides; no-load by the nameplate power and the least favourable reading.
method-pass = inside the limit by U or more
method-conditional-pass = inside the limit by less than U
method-conditional-fail = outside the limit by less than U
method-fail = outside the limit by U or more
method-incomplete = of a whole rule: something that it asks for was not measured, and nothing failed
method-not-assessed = could not be judged; the reason stands beside it

## The score

method-score = Score, version { $version }
    .lead = 0 to 100, higher is better. A term gives 50 points exactly at its reference, 100 at a k-th of it, none at k times it, on a logarithmic scale:
    .formula = points = 50 − 50 · ln(measured / reference) / ln(k), kept within 0 … 100
    .absolute = Nothing is relative to other units, so a score never moves because another unit was added.
    .terms = Terms of the score
    .caption = Terms of the score, version { $version }
    .together = Together
    .text = Runs count that are on { $line }, within { $voltage } and { $frequency }. A term’s points are the mean over the runs that have it. Terms that were not measured are left out and the others’ weights rescaled; the share of the weight that is present is the coverage. Below { $provisional } the score is provisional: shown, marked and ranked after the others. The score’s ± comes from the measured quantities’ uncertainties through these formulas, the terms taken as independent; a term at 0 or 100 contributes none.
    .versions = A change of a weight, reference or k is a new version. Old scores are kept with their version, and a page says which it shows.
method-active-loss = 1 − average active efficiency of the run
    .reference = 1 − minimum average efficiency of { $rule }, for the run’s category and rated power
method-light-load-loss = 1 − efficiency at 10 % load
    .reference = 1 − minimum efficiency at 10 % load of { $rule }, for the run’s category and rated power
    .multiple = 1 − minimum efficiency at 10 % load of { $rule }, for the run’s category and rated power (multiple-voltage runs use its row “{ $row }”)
method-no-load-term = no-load power of the run
    .reference = no-load limit of { $rule } for the unit, as its verdict uses it
method-line-current = mean over the points at { $loads } % of N/P = √(1/PF² − 1), non-active over active power
    .reference = N/P at a power factor of { $factor }: { $ratio }
method-delivery = largest deviation of an output voltage from rated; no points if full load was not held ({ $share } of rated power)
method-surface = rise of the hot spot over ambient at the highest load recorded
    .reference = { $rise }: 77 °C, the touch limit for plastic at a short contact (IEC 62368-1 Table 38, as quoted by secondary sources), less 25 °C

## Bench

method-bench = Overload, temperatures and other measurements
method-overload = The load is raised step by step. A step is delivered if the current is within { $current } of what was asked for and the voltage in the port’s window (without one: at { $voltage } of nominal or more). A limited current that stays above { $held } of the largest is called constant current, else foldback. Where the output switches off, it let go somewhere between the last step that was delivered and the next: the middle is given, with the width between them as part of its uncertainty. Trip margin = trip current / rated current − 1. A port that lets go inside its rating is a failed delivery; a rating that lies between two steps stays conditional. <small><span lang="en">{ $source }</span>.</small>
method-heat = Temperatures are steady that changed by less than { $change } in { $time } at the end. Else the rise is fitted by A + B·exp(−t/τ), and A is taken where one time constant or more is on record; its uncertainty is that of the scatter about the fit, with Student’s t. T<sub>25</sub> = T − T<sub>ambient</sub> + 25 °C is compared for ambients of { $from } to { $to } alone. What had not settled is shown only where it is outside a figure already. <small><span lang="en">{ $source }</span>.</small>
method-figures = Figures of standards are compared with one measured value at a time, with the same guard band as a limit: within or outside the figure. That is an indication, never a statement that something is safe: the standards ask for single faults, insulation and more.
method-touch = Touch-temperature figures
    .caption = Touch-temperature figures, TS1 / TS2 ({ $citation })
    .contact = Contact
    .metal = Metal
    .glass = Glass, porcelain
    .plastic = Plastic, rubber
    .wood = Wood
method-others = Other figures that are compared with
    .of = Of
    .at-most = At most
method-voltages = over { $from } to { $to }
method-open-circuit = { $voltage } / open-circuit voltage
method-limited = { $current }, { $power } after { $time }
method-power-class = { $power } after { $time }

## Ranks, classes, limits

method-ranks = Ranks
    .text = Unit i is surely better than unit j if their scores differ by more than 2·√(u<sub>i</sub>² + u<sub>j</sub>²). A rank is printed as an interval: from one more than the number of units that are surely better, to the number that are not surely worse. Where both ends agree it is a single number. A score of unknown uncertainty is ranked as if it were exact, and marked. The same rule decides in comparisons whether a difference is called one.
method-classes = Classes
    .text = By the output power on the nameplate, all ports together:
method-limits = What this can’t tell
    .sample = One sample was measured. Another of the same model may differ, and no figure here says by how much.
    .verdicts = Measured by us is not certified. Verdicts compare our readings with published limits; market surveillance has its own samples, tolerances and procedures.
    .safety = Nothing here judges electrical safety: no insulation, no fault tests. A leakage current, a power or a temperature beside one figure of a standard is no assessment of safety.
    .surface = A surface temperature was read at the places and loads stated, in still air.
    .sources = Some limits are known from secondary sources; each <a href="{ $rules }">rule’s page</a> says which.
method-engine = Engine { $engine }; digest of all limits, formulas and classes: <code>{ $digest }</code>
method-caution = <strong>Mains voltage is dangerous.</strong> Measuring at the line needs equipment and training for it. Follow the electrical rules of your place, and leave work on wiring to licensed people.
