# A unit’s page: identity, label, score, verdicts, readings.

unit-past = This is revision { $number } of { $newest }, as it stood before it was revised. <a href="{ $url }">To the newest revision</a>
unit-past-newest = This is revision { $number } of { $newest }, as it stood and still stands. <a href="{ $url }">To the newest revision</a>
unit-measured = Measured by us on one sample; not a certification. Another sample of the same model may differ. ± is the expanded uncertainty of our measurement, about 95 %: k = 2, or Student’s k for a figure from a log.
unit-rank-interval = A rank with two ends says that within the uncertainty the data does not tell more.
unit-rank-exact = This unit’s uncertainty is not known, so it is ranked as if it were exact.
unit-contents = On this page
contents-photos = Photos
contents-label = Label
contents-score = Score
contents-verdicts = Verdicts
contents-charts = Charts
contents-no-load = No load over time
contents-waveforms = Waveforms
contents-runs = Readings
contents-ports = Ports
contents-sharing = Sharing
contents-overload = Overload
contents-heat = Temperatures
contents-measurements = Other measurements
contents-notes = Notes
contents-instruments = Instruments
contents-logs = Raw logs
contents-standing = Standing
contents-use = Cost of use
contents-history = History

## Where it stands

standing = Where it stands in its class
standing-chart = Every unit of the class { $class }, this one in front.
standing-alone = No other unit of this class has been published yet.
standing-neighbours = Neighbours in its class
    .caption = Its neighbours by score, in the class { $class }
standing-this = this unit
standing-class = The whole class
standing-compare = Compare with its neighbours

## History and data

history = History and data
history-revisions = Revisions
    .caption = Revisions of this record, newest first
history-revision = Revision
history-when = When
history-by = By
history-reason = Reason
history-shown = shown here
history-first = first published
history-no-score = none
history-evaluated = Evaluated by engine { $engine }, score formula version { $version }, on { $when }.
history-report = <a href="{ $report }">Report (PDF)</a>, to print.
history-documents = <a href="{ $report }">Report (PDF)</a>, to print; download: <a href="{ $record }">record.json</a> (what was measured), <a href="{ $evaluation }">evaluation.json</a> (what follows from it).
unit-link = Link to this page:
unit-caution = <strong>Mains voltage is dangerous.</strong> These measurements were made with equipment for that purpose. Don’t open an adapter, and leave work on mains wiring to licensed people under the rules of your place.

## The head of the page

head-score = Score of 100
head-u-unknown = ± not known
head-no-score = no score
head-provisional = provisional: { $coverage } of the score measured
head-rank-class = Rank in its class
head-rank-overall = Rank overall
rank-of = { $rank } of { $units }
rank-of-provisional = { $rank } of { $units } provisional ones

## The label

label = The label and what we measured
label-claims = Claims of the label beside what was measured
label-property = Property
label-label = Label
label-measured = Measured by us
not-stated = not stated
source = Source
label-odd = { $count ->
    [one] { $count } odd thing in the record
   *[other] { $count } odd things in the record
}
fact-rated-output = Rated output
fact-rated-input = Rated input
fact-efficiency-mark = Efficiency mark
fact-rated-ambient = Rated up to
    .text = { $temperature } ambient
fact-safety-marks = Safety marks on the label
fact-mass = Mass
fact-mass-cord = Mass of the cord
fact-mass-packaging = Mass of the packaging
fact-size = Size
fact-density = Power density
fact-price = Price paid
fact-acquired = Acquired
fact-tested = Tested
fact-buy = Where to buy
fact-write-up = Write-up
claim-output = Output power
    .measured = { $power } at the highest load tested
claim-line = Line supply
    .measured = tested on { $lines }
claim-input-current = Input current
    .measured = { $current } at most
check-implied-power-factor = Power factor that the label implies
check-efficiency-mark = Efficiency mark
check-port-power = Port powers
check-pd-power-rules = USB PD power rules
check-port = { $check }, port { $port }

## The score

score-terms = Score, term by term
score-none = No term of the score could be computed from what was measured.
score-how = A term gives 50 points at its reference r₀, 100 at r₀/k and none at k·r₀: <span class="formula">points = 50 − 50 · ln(measured / reference) / ln(k), kept within 0 … 100</span> A term that several runs speak for is the mean of their points. The score is the mean of the points by weight. <a href="{ $method }">The whole formula, version { $version }</a>
score-term = Term
score-run = Run
score-measured = Measured
score-reference = Reference
score-working = Working
score-points = Points
score-weight = Weight
score-contribution = Contribution
score-mean = mean <b>{ $points }</b>
score-sum = Sum of weight × points = { $sum }, over the weight present
score-absent = Left out, and their weight shared among the others:
    .term = { $term } (weight { $weight }):
score-u-lacks = The ± of the score leaves out, for want of instrument data: { $terms }.
score-whole-unit = whole unit
term-active-loss = Loss under load
term-light-load-loss = Loss at light load
term-no-load = No-load power
term-line-current = Line current
term-delivery = Delivery of rated voltage
term-surface = Surface temperature
term-other = Other

## Verdicts

verdicts-how = By measurement on one sample, with a guard band of the expanded uncertainty U (k = 2, or Student’s k for a figure from a log), ILAC-G8:09/2019, non-binary rule. Not a certification.
verdicts-other = Earlier rules and marking levels:

## Charts

charts = Charts
charts-none = Nothing was measured that could be drawn.
charts-axis = Load in:
chart-title-efficiency = Efficiency against load
chart-title-power-factor = Power factor against load
chart-title-thd = Line current distortion against load

## Readings

runs = Readings, run by run
runs-none = No run has been recorded.
run-informative = Decides no verdict:
run-average-none = none
run-average-missing = none: nothing measured at { $loads }
run-model = Loss model
    .text = <code>{ $formula }</code>, I the sum of the output currents ({ $current }); residual { $residual } rms; peak efficiency { $peak }; holds up to { $range }
run-model-formula = loss = { $a } W + { $b } V × I + { $c } Ω × I²
run-model-current = output power / { $voltage }
run-points = Load points of { $run }
point-stable = stable
point-unstable = not stable
point-log = log
points-logged = Load points that are averages of a log
point-output = Output, W
point-input = Input, W
point-efficiency = Efficiency, %
point-loss = Loss, W
point-apparent = Apparent, VA
point-power-factor = Power factor
point-nonactive = Non-active, VA
point-thd = Current THD, %
point-crest = Crest factor
point-voltage = Voltage off rated by, %
run-rated-power = Rated power of this run
run-rated-outputs = Rated outputs
run-share = Share of the rating per port
    .text = { $share } of each port’s own, so that together they stay within the nameplate
run-category = Category
run-ambient = Ambient
notes = Notes of the tester

## Instruments

instruments = Instruments
instruments-none = No instrument data has been recorded, so no uncertainty is known: verdicts fall back to simple acceptance.
instrument-quantity = Quantity
instrument-name = Instrument
instrument-accuracy = Accuracy as its maker states it
instrument-range = Range
instrument-unnamed = not named
instrument-any-range = any
instrument-of-reading = { $percent } of reading
instrument-of-range = { $percent } of range

## A rule

regime-each = Each requirement
regime-every = { $rule }: every requirement
verdict-requirement = Requirement
verdict-limit = Limit
verdict-result = Result
verdict-margin = Margin
    .title = positive on the right side of the limit; pp: percentage points
verdict-u = expanded uncertainty, k = 2 or Student’s k for a figure from a log
verdict-p = P (conforms)
    .title = probability that the true value conforms
verdict-simple = Simple
    .title = without any guard band
verdict-guarded = Guarded
    .title = binary rule with a guard band of U
verdict-why = Why
verdict-category = Category { $category }.
    .reason = Category { $category }:
verdict-limit-source = Limit:
verdict-all-limits = All limits of this rule
verdict-informative = Informative: does not count for the rule’s result.
    .short = informative
not-known = not known
verdict-for = { $limit } for { $power }
alternative-limit = Under category { $category } the limit would be { $limit } → { $outcome }
alternative-no-limit = Under category { $category } there would be no limit → { $outcome }
alternative-reading = By another reading the limit would be { $limit } → { $outcome }
alternative-reading-no-limit = By another reading there would be no limit → { $outcome }
role-law = in force
role-voluntary = voluntary
role-pending = adopted, not yet in force
role-earlier = earlier rule
role-marking = marking level

## Photos and pictures for other pages

photo-missing = { $photo }: not at hand.
embed = Show this unit on another page
embed-how = The pictures have stable addresses, follow a correction, and are light or dark as the reader prefers.
embed-badge-alt = The rank badge: { $unit }
embed-badge = Rank badge, as HTML
embed-chart = Efficiency chart, as HTML
embed-badge-text = { $unit }: rank and score, measured
embed-chart-text = { $unit }: efficiency against load, measured

## Titles and summaries

unit-title = { $unit }: measured
unit-title-revision = { $unit }, revision { $number }
unit-sample = { $unit }, sample { $sample }
unit-of-sample = { $unit } (sample { $sample })
unit-summary = Measured by us on one sample: score { $score } of 100, average efficiency { $efficiency }. { $verdicts }.
unit-summary-score = Measured by us on one sample: score { $score } of 100. { $verdicts }.
unit-summary-efficiency = Measured by us on one sample: no score yet, average efficiency { $efficiency }. { $verdicts }.
unit-summary-bare = Measured by us on one sample: no score yet. { $verdicts }.
unit-none = There is no unit called “{ $name }” here.
unit-no-revision = This unit has no revision { $number }.
unit-no-axis = axis: “{ $name }” is none; expected log, linear or percent.
log-rows-bad = { $rows }, { $bad } more unreadable
