# Seiten zum Auswählen: Kosten im Gebrauch, eigene Leistung, Abwägungen.

choices-together = { $ports }: wie von uns beobachtet; wo keine Kombination so vieler Anschlüsse beobachtet wurde, nach dem Typenschild.
choices-none = Dafür hat kein Netzteil einen Wert.
choices-chart-below = Dieselben Werte stehen in der Tabelle darunter.
choices-fixed = Diese Website liegt als Dateien vor: Ihre Kostenlisten zeigen alle Netzteile nach Verlustenergie, und was ein eigener Gebrauch kosten würde, wird hier nicht ausgerechnet. Die Downloads enthalten jedes Netzteil.
choices-how = Wie gerechnet wird

## Nutzungsprofile: Titel und Anmerkungen der mitgelieferten und des eigenen

profile-phone-overnight = Handy über Nacht, Netzteil bleibt eingesteckt
    .note = Etwa 16 Wh je Nacht, danach Erhaltungsladung bis zum Morgen.
    .source = unsere Annahme, ohne Quelle
profile-laptop-by-day = Notebook tagsüber
    .note = Lädt eine Stunde und läuft dann am Netzteil; das Netzteil bleibt über Nacht eingesteckt.
    .source = unsere Annahme, ohne Quelle
profile-always-on = Ein kleines Gerät, das nie schläft
    .note = Fünf Watt bei Tag und bei Nacht.
    .source = unsere Annahme, ohne Quelle
profile-plugged-in = Eingesteckt, nichts angeschlossen
    .note = Was ein vergessenes Netzteil kostet.
    .source = unsere Annahme, ohne Quelle
profile-us-charger-class-2 = US-Batterieladegerät der Klasse 2 (Telefone)
    .note = 0,54 Ladungen am Tag; 18 Wh bei 10 W je Ladung sind unsere Annahme. Stunden mit angeschlossenem vollem Akku bleiben außer Betracht, weil die Last dabei nicht bekannt ist.
    .source = 10 CFR 430 Subpart B Appendix Y, Tabelle 3.3.3, Klasse 2 (aus dem Gedächtnis)
profile-us-charger-class-4 = US-Batterieladegerät der Klasse 4 (Notebooks)
    .note = 0,5 Ladungen am Tag; 70 Wh bei 35 W je Ladung sind unsere Annahme. Stunden mit angeschlossenem vollem Akku bleiben außer Betracht, weil die Last dabei nicht bekannt ist.
    .source = 10 CFR 430 Subpart B Appendix Y, Tabelle 3.3.3, Klasse 4 (aus dem Gedächtnis)
profile-own = Ihr eigener Gebrauch
    .note = Stunden am Tag nach Ihrer Angabe; den Rest des Tages ausgesteckt.
    .source = Ihre Angabe
profile-source = Quelle: { $source }.
profile-unknown = Es gibt kein Nutzungsprofil namens „{ $id }“.

own-use-how = Stunden am Tag bei jeder Last. 0 W heißt: eingesteckt ohne angeschlossenes Gerät; den Rest des Tages ist das Netzteil ausgesteckt.
own-use-load = Last { $number }
own-use-watts = Watt
own-use-hours = Stunden am Tag
own-use-show = Netzteile anzeigen
own-use-invalid = Ihr eigener Gebrauch: { $fault }.
own-use-not-a-load = „{ $entry }“: erwartet wird Watt:Stunden, etwa 15:2
own-use-bad-watts = „{ $entry }“: erwartet werden 0 bis 1000 W
own-use-bad-hours = „{ $entry }“: erwartet werden 0 bis 24 Stunden am Tag
own-use-too-many = { $count } Lasten: erwartet werden höchstens { $most }
own-use-too-long = zusammen sind es { $hours } Stunden: ein Tag hat { $day }
own-use-nothing = es wurden keine Stunden angegeben: erwartet werden Einträge wie 15:2 (Watt:Stunden)

## Kosten im Gebrauch

use-heading = Was Netzteile im Gebrauch kosten
use-title = Was Netzteile im Gebrauch kosten: { $profile }
use-description = Energie, die USB-Netzteile in einem Jahr alltäglichen Gebrauchs verlieren, aus von uns gemessenen Verlusten, mit den Kosten bei Ihrem Stromtarif und der Unsicherheit.
use-description-profile =
    { $count ->
        [one] { $count } USB-Netzteil
       *[other] { $count } USB-Netzteile
    } ({ $class }) nach der Energie, die in einem Jahr verloren geht: { $profile }. { $hours }.
use-lead = Was ein Netzteil in Wärme umsetzt, statt es weiterzugeben, steht auf Ihrer Stromrechnung. Oft ist es wenig: Jede Liste sagt, ob der Unterschied ins Gewicht fällt.
use-profiles = Nutzungsprofile
use-form = Netzteile und Stromtarif
use-price-per-kwh = Preis je kWh
use-asked-tariff = Stromtarif
use-expected-tariff = ein Preis je Kilowattstunde über 0 und die drei Buchstaben einer Währung, etwa 0,30 und EUR
use-caption = { $count }; ± ist die erweiterte Unsicherheit, k = 2
use-chart = Verlustenergie im Jahr, { $class }: { $profile }
    .axis = Verlustenergie im Jahr, kWh
use-file = Verlustenergie im Jahr: { $profile }
use-rank-title = Nach Verlustenergie: wo eine Spanne steht, geben die Daten nicht mehr her
use-energy = Verlust im Jahr, kWh
    .title = Verlustenergie im Jahr, mit U (k = 2)
use-unloaded = Leerlauf, kWh
    .title = Davon eingesteckt ohne angeschlossenes Gerät
use-cost = Kosten im Jahr, { $currency }
    .title = Kosten der Verlustenergie im Jahr
    .card = Kosten im Jahr
use-beyond = Mehr als das sparsamste
    .title = Gegenüber dem Netzteil der Klasse, das am wenigsten verliert
use-total = Preis + 5 Jahre
    .title = Preis und Kosten der Verluste von fünf Jahren
use-is-least = das sparsamste seiner Klasse
use-like-least = vom sparsamsten nicht zu unterscheiden
use-beyond-cost = { $a-year } im Jahr, { $over-years } in { $years } Jahren
use-beyond-energy = { $energy } im Jahr
use-choose-class = Die Unterschiede gelten gegenüber dem Netzteil derselben Klasse, das am wenigsten verliert. Wählen Sie eine Klasse, um zu sehen, ob sie ins Gewicht fallen.
use-all-alike = Innerhalb unserer Messunsicherheit lässt sich kein Netzteil der { $class } von dem unterscheiden, das am wenigsten verliert. Wählen Sie für diesen Gebrauch nach etwas anderem.
use-spread = In der { $class } liegen zwischen dem geringsten und dem größten Verlust { $energy } im Jahr. Geben Sie einen Stromtarif an, um zu sehen, was das kostet.
    .cost = In der { $class } liegen zwischen dem geringsten und dem größten Verlust { $energy } im Jahr: { $a-year } im Jahr, { $over-years } in { $years } Jahren.
    .little = In der { $class } liegen zwischen dem geringsten und dem größten Verlust { $energy } im Jahr: { $a-year } im Jahr, { $over-years } in { $years } Jahren. Das ist weniger als { $share } des Medianpreises von { $median }: Für diesen Gebrauch fällt der Unterschied nicht ins Gewicht. Wählen Sie nach etwas anderem.
    .much = In der { $class } liegen zwischen dem geringsten und dem größten Verlust { $energy } im Jahr: { $a-year } im Jahr, { $over-years } in { $years } Jahren. Der Medianpreis ist { $median }; der Unterschied verdient also Beachtung.
use-some-alike = { $count ->
    [one] { $count } weiteres Netzteil lässt sich innerhalb unserer Messunsicherheit nicht von dem unterscheiden, das am wenigsten verliert.
   *[other] { $count } weitere Netzteile lassen sich innerhalb unserer Messunsicherheit nicht von dem unterscheiden, das am wenigsten verliert.
}
use-how = Energie ist Verlust mal Stunden, über 365 Tage. Der Verlust bei einer Last ist der einer Kurve, die an unsere Messwerte vom Messlauf mit der höchsten Ausgangsspannung an { $line } angepasst ist: Bei einer anderen Ausgangsspannung verliert ein Netzteil mehr oder weniger. Eingesteckt ohne angeschlossenes Gerät nimmt es die von uns gemessene Leerlaufleistung auf. Die Fehler der Messgeräte zählen bei allen Lasten als dieselben, die der Leerlaufaufnahme als unabhängig. Zwei Netzteile lassen sich unterscheiden, wenn sie um mehr als 2·√(u₁² + u₂²) auseinanderliegen, wie bei den Rängen. Ein Unterschied, der über fünf Jahre unter 5 % des Medianpreises der hier gelisteten liegt, gilt als nicht ins Gewicht fallend; dieser Anteil ist unsere Wahl.

## Bei einer Leistung

at-heading = Alle Netzteile bei { $watts }
at-title = Bei { $watts }
at-description =
    { $count ->
        [one] Wirkungsgrad und Verlust von { $count } USB-Netzteil
       *[other] Wirkungsgrad und Verlust von { $count } USB-Netzteilen
    } ({ $class }) bei { $watts }, aus von uns gemessenen Verlusten, mit ihrer Unsicherheit.
at-wattages = Leistungen
at-form = Leistung und Netzteile
at-output-power = Ausgangsleistung, W
at-asked-watts = Watt
at-caption = { $count }; ± ist die erweiterte Unsicherheit, k = 2; hervorgehoben: vom geringsten Verlust nicht zu unterscheiden
at-chart = Verlust bei { $watts } W, { $class }
    .axis = Verlust in Watt
at-file = Wirkungsgrad und Verlust bei { $watts } W
at-rank-title = Nach Verlust: wo eine Spanne steht, geben die Daten nicht mehr her
at-efficiency = Wirkungsgrad
at-loss = Verlust
at-this-wattage = Bei dieser Leistung, mit U (k = 2)
at-load = Auslastung
    .title = Diese Leistung in Prozent der Nennausgangsleistung
at-measured-to = nur bis { $to } gemessen
at-least = Bei { $watts } verliert { $unit } am wenigsten: { $loss } bei { $watts } am Anschluss. Mit keinem anderen ist es zu verwechseln.
at-least-alike = { $count ->
    [one] Bei { $watts } verliert { $unit } am wenigsten: { $loss } bei { $watts } am Anschluss. { $count } weiteres Netzteil lässt sich innerhalb der Unsicherheit nicht davon unterscheiden.
   *[other] Bei { $watts } verliert { $unit } am wenigsten: { $loss } bei { $watts } am Anschluss. { $count } weitere Netzteile lassen sich innerhalb der Unsicherheit nicht davon unterscheiden.
}
at-how = Aus einer Kurve, die an unsere Messwerte vom Messlauf jedes Netzteils mit der höchsten Ausgangsspannung an { $line } angepasst ist: Verlust = a + b·I + c·I². Ihre Unsicherheit ist die der Messgeräte, zwischen den gemessenen Lasten interpoliert, und die Restabweichung der Anpassung. Jenseits der gemessenen Lasten gibt es keinen Wert.

## Abwägungen; der Name eines Werts als Überschrift und im Satz

trade-heading = { $x } gegen { $y }
trade-title = Abwägung: { $x } gegen { $y }
trade-description =
    { $count ->
        [one] { $count } USB-Netzteil
       *[other] { $count } USB-Netzteile
    } ({ $class }): { $x } und { $y }, mit denen, die kein anderes in beidem übertrifft.
trade-chart = { $x } gegen { $y }: { $class }
trade-pairs = Wertepaare
trade-form = Werte und Netzteile
trade-across = Quer
trade-up = Hoch
trade-expected-figure = einer der aufgeführten Werte
trade-expected-currency = eine der aufgeführten Währungen
trade-marks = Rauten: von keinem anderen in beiden Werten übertroffen. Kreise: die übrigen. Alle stehen in der Tabelle darunter.
trade-caption = Die von keinem übertroffenen zuerst; ± ist die erweiterte Unsicherheit, k = 2, wo sie bekannt ist
trade-more = mehr ist besser
trade-less = weniger ist besser
trade-front = Von keinem übertroffen
trade-left-off = { $count ->
    [one] { $count } weiteres steht in den Downloads.
   *[other] { $count } weitere stehen in den Downloads.
}
trade-summary = { $front ->
    [one] { $front } von { $count } wird von keinem anderen in beiden Werten übertroffen: Wer dort vom einen mehr will, gibt vom anderen etwas auf. Die Werte gelten wie gemessen; ihre Unsicherheit geht in diesen Vergleich nicht ein.
   *[other] { $front } von { $count } werden von keinem anderen in beiden Werten übertroffen: Wer dort vom einen mehr will, gibt vom anderen etwas auf. Die Werte gelten wie gemessen; ihre Unsicherheit geht in diesen Vergleich nicht ein.
}
trade-priced-in = Preis in { $currency }
    .none = Preis ohne Währung
trade-provisional = seine Wertung ist vorläufig
trade-unknown = { $figure } nicht bekannt
trade-score-for-price = Wertung für den Preis
trade-score-for-mass = Wertung für die Masse
trade-score-for-size = Wertung für die Größe
trade-efficiency-for-price = Wirkungsgrad für den Preis
trade-warmth-for-size = Erwärmung für die Größe
trade-price = Preis
    .inside = Preis
trade-score = Wertung
    .inside = Wertung
trade-mass = Masse
    .inside = Masse
trade-volume = Volumen
    .inside = Volumen
trade-output-power = Nennausgangsleistung
    .inside = Nennausgangsleistung
trade-power-density = Leistungsdichte
    .inside = Leistungsdichte
trade-average-efficiency = Ø Wirkungsgrad
    .inside = Ø Wirkungsgrad
trade-ten-percent = Wirkungsgrad bei 10 % Last
    .inside = Wirkungsgrad bei 10 % Last
trade-peak-efficiency = Spitzenwirkungsgrad
    .inside = Spitzenwirkungsgrad
trade-no-load = Leerlaufaufnahme
    .inside = Leerlaufaufnahme
trade-power-factor = Leistungsfaktor bei Volllast
    .inside = Leistungsfaktor bei Volllast
trade-thd = THD des Netzstroms bei Volllast
    .inside = THD des Netzstroms bei Volllast
trade-rise = Übertemperatur der heißesten Stelle
    .inside = Übertemperatur der heißesten Stelle
