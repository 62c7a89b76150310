# Charts: titles, axes, descriptions, tables.

chart-limit = Limit: { $name }
chart-limit-at = { $value } at { $watts } W
chart-value-at = { $value } at { $load }
chart-lines = { $count ->
    [one] { $count } line
   *[other] { $count } lines
}
chart-line-column = Line
chart-load-column = Load
chart-output-power = Output power
chart-efficiency = Efficiency
chart-power-factor = Power factor
chart-thd = Line current THD

axis-log = watts, logarithmic
    .wide = Output power in watts, logarithmic
    .narrow = Output power, W (log)
    .over = output power in watts on a logarithmic axis
axis-linear = watts, linear
    .wide = Output power in watts
    .narrow = Output power, W
    .over = output power in watts
axis-percent = percent of rated
    .wide = Load in percent of rated power
    .narrow = Load, % of rated
    .over = load in percent of rated power

## A quantity against load

load-chart = { $quantity } against load: { $subject }
load-chart-model = Thin curves are the fitted loss model.
load-chart-desc = Line chart over { $axis }. { $lines }
load-chart-series = { $name } from { $low } to { $high }
load-chart-unmeasured = { $name } not measured
load-chart-limit = limit { $name }: { $value }
load-chart-bars = Bars show the expanded uncertainty, k = 2, where it is known.
load-chart-in-table = The same numbers stand in the table.
load-chart-table = { $title } (± U, k = 2, where known)

## All units of a class

class-chart = Efficiency against load: class { $class }
class-chart-none = No unit of this class has measured efficiency
class-chart-lines = Thin lines: { $units }.
class-chart-sample = Thin lines: { $drawn } of { $all } units of the class, an even sample in order of score.
class-chart-few = Thin lines: a sample of { $drawn } of the { $all } units of the class.
class-chart-table-few = { $title } (a sample of { $drawn } of { $all } units)
class-chart-silent = { $units } without measured efficiency not drawn.
class-chart-front = In front: { $name }, from { $low } to { $high }.
class-chart-no-front = No unit is emphasised.
class-chart-limit = Limit { $name }: { $value }.
class-chart-table-sample = { $title } ({ $drawn } of { $all } units, an even sample)
class-chart-measured = Measured efficiency
