# The leaderboard and what it shares with the lists for buyers.

ranking-all = All adapters
ranking-class = Adapters { $class }
ranking-description =
    { $count ->
        [one] { $count } USB power adapter
       *[other] { $count } USB power adapters
    } measured by us, ranked by a composite score with its uncertainty: efficiency, no-load power, line current, verdicts against energy rules.
ranking-classes = Wattage classes
ranking-all-short = All
class-short-to = to { $watts }
class-short-over = over { $watts }
ranking-chart-caption = Efficiency of every unit of the class against load, in percent of its rating. Across: the least average efficiency that the rules in force ask of a basic-voltage unit of { $watts }. The figures stand in the table below and on each unit’s page.
together-known = { $ports }: as we observed it; where no combination of so many ports was observed, by the label, and the list says which.
together-port = A port of { $watts }
together-usb-c-port = A USB-C port of { $watts }
together-ports = { $count } ports of { $watts } at the same time
together-usb-c-ports = { $count } USB-C ports of { $watts } at the same time

## Search and filters

filter-region = Units
filter-search = Search
filter-search-example = maker or model
filter-maker-or-model = Maker or model
filter-class = Class
filter-sort = Sort by
filter-order = Order
filter-descending = high to low
filter-ascending = low to high
filter-show = Show
filter-reset = Start over
filter-more = More filters
filter-maker = Maker
filter-any = any
filter-ports = Ports, at least
filter-usb-c = USB-C, at least
filter-usb-c-ports = USB-C ports, at least
filter-each = Each at the same time, W
filter-rule = Rule
filter-result = Result
filter-price = Price, at most
filter-currency = Currency
filter-no-currency = none known
filter-from = Tested from
filter-to = Tested to
filter-columns = Columns
filter-columns-legend = Columns of the table

## What could not be read of an address

left-out = { $name }: “{ $value }” was left out; expected { $expected }.
expected-class = one of the classes listed
expected-count = a whole number from 0 to 99
expected-watts = 0.1 to 1000 W
expected-result = one of the results listed
expected-rule = one of the rules listed
expected-price = an amount above 0, at most 1000000
expected-date = a date such as 2026-09-01
expected-column = one of the columns listed
expected-direction = asc or desc
expected-page = a whole number from 1
asked-class = Class
asked-ports = Ports
asked-usb-c = USB-C ports
asked-watts = Watts at the same time
asked-verdict = Verdict
asked-price = Price
asked-sort = Sort
asked-direction = Direction
asked-page = Page

## The table

board-region = Results
board-count = { $first }–{ $last } of { $count ->
    [one] { $count } unit
   *[other] { $count } units
}
board-compare = Compare the chosen ones
board-choose = choose 2 to 6
board-chosen = { $count } chosen
board-too-many = { $count } chosen: at most 6 can be compared
board-none-fits = No unit fits all of that. Ask for less, or start over.
board-none-of-class = No unit of this class has been published yet.
board-none = No unit has been published yet.
board-how-units-appear = A unit appears here with its score, rank and verdicts once its record is published.
board-first-record = Enter the first record at the desk
board-show-all = Show all units
board-caption-class = ranks are among this class; ± is the expanded uncertainty, k = 2
board-caption-all = ranks are among all units; ± is the expanded uncertainty, k = 2
board-pick = Compare
board-pick-unit = Compare { $unit }
board-rank = Rank
    .title = Rank: where an interval stands, the data does not tell more
board-unit = Unit
    .title = Maker and model
board-score = Score
    .title = Composite score, 0 to 100, with U (k = 2)
board-verdicts = Verdicts
    .title = Results against energy rules
board-sort-by = { $column }: sort
board-provisional-group = Provisional: too much of the score is still unmeasured, so these are ranked among themselves
board-provisional = provisional
    .short = prov.
board-pages = Pages
board-previous = Previous
board-next = Next
board-page-of = Page { $page } of { $pages }
ways-to-choose = Ways to choose
board-ways = Choose by <a href="{ $use }">what it costs to use</a>, by <a href="{ $at }">efficiency at your wattage</a>, or by <a href="{ $trade }">trade-offs</a> such as score against price.
download-table = Download this table: <a href="{ $csv }">CSV</a>, <a href="{ $json }">JSON</a>.
download-licence = Licence: { $licence }.
download-class-chart = The class’s chart for other pages: <a href="{ $svg }">SVG</a>.
board-link = Link to this view:
board-report = Report of this class (PDF)

## Columns that can be chosen: over the column, on hover, in a card, and where they are chosen

column-average-efficiency = Avg. eff.
    .title = Average active efficiency over 25, 50, 75 and 100 % load
    .card = Average efficiency
    .choice = average efficiency
column-ten-percent = Eff. 10 %
    .title = Efficiency at 10 % load
    .card = Eff. 10 %
    .choice = efficiency at 10 % load
column-no-load = No-load
    .title = Input power without load
    .card = No-load
    .choice = no-load power
column-power-factor = PF
    .title = Power factor at full load
    .card = Power factor
    .choice = power factor
column-thd = THD
    .title = Total harmonic distortion of the line current at full load
    .card = Current THD
    .choice = current THD
column-trip = Trip
    .title = Trip margin: smallest current above the rated one at which a port lets go
    .card = Trip margin
    .choice = trip margin
column-recovery = Recovers
    .title = Recovery after an overload
    .card = Recovers
    .choice = recovery after overload
column-touch = Touch
    .title = Highest settled surface temperature, brought to 25 °C ambient
    .card = Touch, at 25 °C
    .choice = touch temperature at 25 °C
column-rise = Rise
    .title = Hot-spot rise over ambient at the highest load
    .card = Hot-spot rise
    .choice = hot-spot rise
column-price = Price
    .title = Price paid
    .card = Price
    .choice = price
column-points-for-price = Per price
    .title = Points of the score for each unit of the price’s currency
    .card = Score per price
    .choice = score for the price
column-mass = Mass
    .title = Mass of the adapter without its cord
    .card = Mass
    .choice = mass
column-volume = Volume
    .title = Volume of the box around it, without the cord
    .card = Volume
    .choice = size (volume)
column-density = W/cm³
    .title = Power density: rated output power over volume
    .card = Density, W/cm³
    .choice = power density
column-ports = Ports
    .title = Output ports
    .card = Ports
    .choice = number of ports
column-tested = Tested
    .title = Date of the latest test
    .card = Tested
    .choice = date tested
column-ripple = Ripple
    .choice = ripple and noise
column-load-regulation = Load reg.
    .choice = load regulation
column-line-regulation = Line reg.
    .choice = line regulation
column-turn-on = Turn-on
    .choice = turn-on delay
column-hold-up = Hold-up
    .choice = hold-up time
column-inrush = Inrush
    .choice = inrush current
column-leakage = Leakage
    .choice = leakage (touch) current
column-noise = Noise
    .choice = acoustic noise

sort-score = score
sort-name = maker and model
sort-output-power = output power
sort-verdicts = verdicts
cell-recovery-auto = by itself
cell-recovery-replug = load off
cell-recovery-mains = mains off
cell-recovery-none = did not
cell-other-ports = other
cell-ports-observed = { $ports }, observed
cell-ports-by-label = { $ports }, by the label
