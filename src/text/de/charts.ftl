# Diagramme: Titel, Achsen, Beschreibungen, Tabellen.

chart-limit = Grenzwert: { $name }
chart-limit-at = { $value } bei { $watts } W
chart-value-at = { $value } bei { $load }
chart-lines = { $count ->
    [one] { $count } Linie
   *[other] { $count } Linien
}
chart-line-column = Linie
chart-load-column = Last
chart-output-power = Ausgangsleistung
chart-efficiency = Wirkungsgrad
chart-power-factor = Leistungsfaktor
chart-thd = THD des Netzstroms

axis-log = Watt, logarithmisch
    .wide = Ausgangsleistung in Watt, logarithmisch
    .narrow = Ausgangsleistung, W (log)
    .over = Ausgangsleistung in Watt auf einer logarithmischen Achse
axis-linear = Watt, linear
    .wide = Ausgangsleistung in Watt
    .narrow = Ausgangsleistung, W
    .over = Ausgangsleistung in Watt
axis-percent = Prozent der Nennleistung
    .wide = Last in Prozent der Nennleistung
    .narrow = Last, % der Nennleistung
    .over = Last in Prozent der Nennleistung

## Eine Größe über der Last

load-chart = { $quantity } über der Last: { $subject }
load-chart-model = Dünne Kurven sind das angepasste Verlustmodell.
load-chart-desc = Liniendiagramm über: { $axis }. { $lines }
load-chart-series = { $name } von { $low } bis { $high }
load-chart-unmeasured = { $name } nicht gemessen
load-chart-limit = Grenzwert { $name }: { $value }
load-chart-bars = Balken zeigen die erweiterte Unsicherheit, k = 2, wo sie bekannt ist.
load-chart-in-table = Dieselben Zahlen stehen in der Tabelle.
load-chart-table = { $title } (± U, k = 2, soweit bekannt)

## Alle Netzteile einer Klasse

class-chart = Wirkungsgrad über der Last: Klasse { $class }
class-chart-none = Von keinem Netzteil dieser Klasse ist der Wirkungsgrad gemessen
class-chart-lines = Dünne Linien: { $units }.
class-chart-sample = Dünne Linien: { $drawn } von { $all } Netzteilen der Klasse, gleichmäßig nach der Wertung ausgewählt.
class-chart-few = Dünne Linien: eine Auswahl von { $drawn } der { $all } Netzteile der Klasse.
class-chart-table-few = { $title } (eine Auswahl von { $drawn } aus { $all } Netzteilen)
class-chart-silent = { $units } ohne gemessenen Wirkungsgrad nicht gezeichnet.
class-chart-front = Im Vordergrund: { $name }, von { $low } bis { $high }.
class-chart-no-front = Kein Netzteil ist hervorgehoben.
class-chart-limit = Grenzwert { $name }: { $value }.
class-chart-table-sample = { $title } ({ $drawn } von { $all } Netzteilen, gleichmäßig ausgewählt)
class-chart-measured = Gemessener Wirkungsgrad
