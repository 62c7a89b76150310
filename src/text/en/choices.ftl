# Pages for buyers: cost of use, one’s own wattage, trade-offs.

choices-together = { $ports }: as we observed it; where no combination of so many ports was observed, by the label.
choices-none = No unit has a figure for this.
choices-chart-below = The same figures stand in the table below.
choices-fixed = This site is kept as files: its lists of cost are of all units, by energy lost, and what an own use would cost is not worked out here. The downloads hold every unit.
choices-how = How it is computed

## Use profiles: titles and notes of those that are shipped, and of a reader’s own

profile-phone-overnight = Phone overnight, adapter left plugged in
    .note = About 16 Wh a night, then trickling until morning.
    .source = our assumption, no source
profile-laptop-by-day = Laptop by day
    .note = Charges for an hour, then runs on the adapter; the adapter stays plugged in overnight.
    .source = our assumption, no source
profile-always-on = A small device that never sleeps
    .note = Five watts all day and night.
    .source = our assumption, no source
profile-plugged-in = Plugged in, nothing attached
    .note = What a forgotten adapter costs.
    .source = our assumption, no source
profile-us-charger-class-2 = US battery charger class 2 (phone type)
    .note = 0.54 charges a day; 18 Wh at 10 W a charge are our assumption. Hours attached with a full battery are left out, as their load is not known.
    .source = 10 CFR 430 Subpart B Appendix Y, Table 3.3.3, class 2 (from memory)
profile-us-charger-class-4 = US battery charger class 4 (notebook type)
    .note = 0.5 charges a day; 70 Wh at 35 W a charge are our assumption. Hours attached with a full battery are left out, as their load is not known.
    .source = 10 CFR 430 Subpart B Appendix Y, Table 3.3.3, class 4 (from memory)
profile-own = Your own use
    .note = Hours a day as you gave them; the rest of the day unplugged.
    .source = yours
profile-source = Source: { $source }.
profile-unknown = There is no use profile called “{ $id }”.

own-use-how = Hours a day at each load. 0 W is plugged in with nothing attached; the rest of the day the adapter is unplugged.
own-use-load = Load { $number }
own-use-watts = Watts
own-use-hours = Hours a day
own-use-show = Show the units
own-use-invalid = Your own use: { $fault }.
own-use-not-a-load = “{ $entry }”: expected watts:hours, like 15:2
own-use-bad-watts = “{ $entry }”: expected 0 to 1000 W
own-use-bad-hours = “{ $entry }”: expected 0 to 24 hours a day
own-use-too-many = { $count } loads: expected at most { $most }
own-use-too-long = the hours are { $hours } together: a day has { $day }
own-use-nothing = no hours were given: expected entries like 15:2 (watts:hours)

## What adapters cost to use

use-heading = What adapters cost to use
use-title = What adapters cost to use: { $profile }
use-description = Energy that USB power adapters lose in a year of everyday use, from losses measured by us, with its cost at your tariff and its uncertainty.
use-description-profile =
    { $count ->
        [one] { $count } USB power adapter
       *[other] { $count } USB power adapters
    } of { $class } by the energy they lose in a year: { $profile }. { $hours }.
use-lead = What an adapter turns into heat instead of passing on is on your bill. It is often little: each list says whether the difference matters.
use-profiles = Use profiles
use-form = Units and tariff
use-price-per-kwh = Price of a kWh
use-asked-tariff = Tariff
use-expected-tariff = a price for a kilowatt-hour above 0 and a currency's three letters, such as 0.30 and EUR
use-caption = { $count }; ± is the expanded uncertainty, k = 2
use-chart = Energy lost in a year, { $class }: { $profile }
    .axis = Energy lost in a year, kWh
use-file = Energy lost in a year: { $profile }
use-rank-title = By energy lost: where an interval stands, the data does not tell more
use-energy = Lost a year, kWh
    .title = Energy lost in a year, with U (k = 2)
use-unloaded = No load, kWh
    .title = Of which plugged in with nothing attached
use-cost = Cost a year, { $currency }
    .title = Cost of the energy lost in a year
    .card = Cost a year
use-beyond = More than the least
    .title = Against the unit of its class that loses least
use-total = Price + 5 years
    .title = Price and the cost of five years' losses
use-is-least = the least of its class
use-like-least = cannot be told apart from the least
use-beyond-cost = { $a-year } a year, { $over-years } in { $years } years
use-beyond-energy = { $energy } a year
use-choose-class = Differences are against the unit that loses least in the same class. Choose a class to see whether they matter.
use-all-alike = Within the uncertainty of our measurement, no unit of { $class } can be told apart from the one that loses least. For this use, choose by something else.
use-spread = Between the least and the most loss of { $class } lie { $energy } a year. Give a tariff to see what that costs.
    .cost = Between the least and the most loss of { $class } lie { $energy } a year: { $a-year } a year, { $over-years } in { $years } years.
    .little = Between the least and the most loss of { $class } lie { $energy } a year: { $a-year } a year, { $over-years } in { $years } years. That is less than { $share } of the median price, { $median }: for this use the difference does not matter. Choose by something else.
    .much = Between the least and the most loss of { $class } lie { $energy } a year: { $a-year } a year, { $over-years } in { $years } years. The median price is { $median }, so the difference is worth a look.
use-some-alike = { $count ->
    [one] { $count } other unit cannot be told apart from the one that loses least, within the uncertainty of our measurement.
   *[other] { $count } other units cannot be told apart from the one that loses least, within the uncertainty of our measurement.
}
use-how = Energy is loss times hours, over 365 days. The loss at a load is that of a curve fitted to our readings of the unit’s run with the highest voltage on { $line }: at another output voltage a unit loses more or less. Plugged in with nothing attached it draws the no-load power we measured. The instruments’ errors count as the same at every load, those of the no-load power as independent. Two units can be told apart if they differ by more than 2·√(u₁² + u₂²), as in ranks. A difference over five years below 5 % of the median price listed here is said not to matter; that share is our choice.

## At one wattage

at-heading = All units at { $watts }
at-title = At { $watts }
at-description =
    { $count ->
        [one] Efficiency and loss of { $count } USB power adapter
       *[other] Efficiency and loss of { $count } USB power adapters
    } of { $class } at { $watts }, by losses measured by us, with their uncertainty.
at-wattages = Wattages
at-form = Wattage and units
at-output-power = Output power, W
at-asked-watts = Watts
at-caption = { $count }; ± is the expanded uncertainty, k = 2; marked: cannot be told from the least loss
at-chart = Loss at { $watts } W, { $class }
    .axis = Loss in watts
at-file = Efficiency and loss at { $watts } W
at-rank-title = By loss: where an interval stands, the data does not tell more
at-efficiency = Efficiency
at-loss = Loss
at-this-wattage = At this wattage, with U (k = 2)
at-load = Of its rating
    .title = This wattage in percent of the rated output power
at-measured-to = measured up to { $to } only
at-least = At { $watts }, { $unit } loses least: { $loss } of { $watts } at the port. No other can be taken for it.
at-least-alike = { $count ->
    [one] At { $watts }, { $unit } loses least: { $loss } of { $watts } at the port. { $count } other unit cannot be told apart from it within the uncertainty.
   *[other] At { $watts }, { $unit } loses least: { $loss } of { $watts } at the port. { $count } other units cannot be told apart from it within the uncertainty.
}
at-how = From a curve fitted to our readings of each unit’s run with the highest voltage on { $line }: loss = a + b·I + c·I². Its uncertainty is that of the instruments, between the measured loads interpolated, and the fit’s residual. Beyond the loads that were measured there is no figure.

## Trade-offs; a figure’s name as a heading, and inside a sentence

trade-heading = { $x } against { $y }
trade-title = Trade-offs: { $x } against { $y }
trade-description =
    { $count ->
        [one] { $count } USB power adapter
       *[other] { $count } USB power adapters
    } of { $class } by { $x } and { $y }, with those that no other beats in both.
trade-chart = { $x } against { $y }: { $class }
trade-pairs = Pairs of figures
trade-form = Figures and units
trade-across = Across
trade-up = Up
trade-expected-figure = one of the figures listed
trade-expected-currency = one of the currencies listed
trade-marks = Diamonds: beaten by no other in both figures. Circles: the others. All stand in the table below.
trade-caption = Those beaten by none first; ± is the expanded uncertainty, k = 2, where it is known
trade-more = more is better
trade-less = less is better
trade-front = Beaten by none
trade-left-off = { $count ->
    [one] { $count } more stands in the downloads.
   *[other] { $count } more stand in the downloads.
}
trade-summary = { $front ->
    [one] { $front } of { $count } is beaten by no other in both figures: whoever wants more of one there gives up some of the other. The figures are taken as measured; their uncertainty is not part of this comparison.
   *[other] { $front } of { $count } are beaten by no other in both figures: whoever wants more of one there gives up some of the other. The figures are taken as measured; their uncertainty is not part of this comparison.
}
trade-priced-in = priced in { $currency }
    .none = priced in no currency
trade-provisional = its score is provisional
trade-unknown = { $figure } not known
trade-score-for-price = Score for the price
trade-score-for-mass = Score for the mass
trade-score-for-size = Score for the size
trade-efficiency-for-price = Efficiency for the price
trade-warmth-for-size = Warmth for the size
trade-price = Price
    .inside = price
trade-score = Score
    .inside = score
trade-mass = Mass
    .inside = mass
trade-volume = Volume
    .inside = volume
trade-output-power = Rated output power
    .inside = rated output power
trade-power-density = Power density
    .inside = power density
trade-average-efficiency = Average efficiency
    .inside = average efficiency
trade-ten-percent = Efficiency at 10 % load
    .inside = efficiency at 10 % load
trade-peak-efficiency = Peak efficiency
    .inside = peak efficiency
trade-no-load = No-load power
    .inside = no-load power
trade-power-factor = Power factor at full load
    .inside = power factor at full load
trade-thd = Line current THD at full load
    .inside = line current THD at full load
trade-rise = Hot-spot rise
    .inside = hot-spot rise
