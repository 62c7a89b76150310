# Vergleich und Rangliste, im Browser berechnet, wo die Website aus Dateien besteht.

files-curves = Wirkungsgrad über der Ausgangsleistung
    .description = { $units }; die Zahlen stehen in der Tabelle darunter.
    .axis = Ausgangsleistung, W
    .heading = Wirkungsgrad über der Last
files-no-unit = Hier gibt es kein Netzteil namens „{ $name }“; es wurde weggelassen.
files-too-many = Höchstens { $most } lassen sich vergleichen; gezeigt werden die ersten { $most }.
files-no-other = Kein anderes Netzteil passt zu „{ $words }“.
files-which = Welches?
files-leave-out = weglassen
files-rank-in-class = Rang in seiner Klasse
files-figures = Messwerte
    .caption = Messwerte nebeneinander; ± ist die erweiterte Unsicherheit, k = 2
    .quantity = Größe
files-points = Wirkungsgrad, wie gemessen
    .caption = Wirkungsgrad bei jeder gemessenen Ausgangsleistung
files-not-certified = Von uns an jeweils einem Exemplar gemessen; keine Zertifizierung.
