# Die Rangliste, und was sie mit den Listen zum Auswählen gemein hat.

ranking-all = Alle Netzteile
ranking-class = Netzteile { $class }
ranking-description =
    { $count ->
        [one] { $count } USB-Netzteil
       *[other] { $count } USB-Netzteile
    }, von uns gemessen und nach einer Gesamtwertung mit Unsicherheit gereiht: Wirkungsgrad, Leerlaufaufnahme, Netzstrom, Urteile nach Energievorschriften.
ranking-classes = Leistungsklassen
ranking-all-short = Alle
class-short-to = bis { $watts }
class-short-over = über { $watts }
ranking-chart-caption = Wirkungsgrad aller Netzteile der Klasse über der Last, in Prozent ihrer Nennleistung. Quer: der durchschnittliche Wirkungsgrad, den die geltenden Vorschriften von einem Netzteil normaler Ausgangsspannung mit { $watts } mindestens verlangen. Die Zahlen stehen in der Tabelle darunter und auf der Seite jedes Netzteils.
together-known = { $ports }: wie von uns beobachtet; wo keine Kombination so vieler Anschlüsse beobachtet wurde, nach dem Typenschild, und die Liste sagt, welches von beiden.
together-port = Ein Anschluss mit { $watts }
together-usb-c-port = Ein USB-C-Anschluss mit { $watts }
together-ports = { $count } Anschlüsse mit { $watts } gleichzeitig
together-usb-c-ports = { $count } USB-C-Anschlüsse mit { $watts } gleichzeitig

## Suche und Filter

filter-region = Netzteile
filter-search = Suche
filter-search-example = Hersteller oder Modell
filter-maker-or-model = Hersteller oder Modell
filter-class = Klasse
filter-sort = Sortieren nach
filter-order = Reihenfolge
filter-descending = absteigend
filter-ascending = aufsteigend
filter-show = Anzeigen
filter-reset = Zurücksetzen
filter-more = Weitere Filter
filter-maker = Hersteller
filter-any = beliebig
filter-ports = Anschlüsse, mindestens
filter-usb-c = USB-C, mindestens
filter-usb-c-ports = USB-C-Anschlüsse, mindestens
filter-each = Jeder gleichzeitig, W
filter-rule = Vorschrift
filter-result = Ergebnis
filter-price = Preis, höchstens
filter-currency = Währung
filter-no-currency = keine bekannt
filter-from = Getestet ab
filter-to = Getestet bis
filter-columns = Spalten
filter-columns-legend = Spalten der Tabelle

## Was von einer Adresse nicht lesbar war

left-out = { $name }: „{ $value }“ wurde weggelassen; erwartet wird { $expected }.
expected-class = eine der aufgeführten Klassen
expected-count = eine ganze Zahl von 0 bis 99
expected-watts = 0,1 bis 1000 W
expected-result = eines der aufgeführten Ergebnisse
expected-rule = eine der aufgeführten Vorschriften
expected-price = ein Betrag über 0, höchstens 1000000
expected-date = ein Datum wie 2026-09-01
expected-column = eine der aufgeführten Spalten
expected-direction = asc oder desc
expected-page = eine ganze Zahl ab 1
asked-class = Klasse
asked-ports = Anschlüsse
asked-usb-c = USB-C-Anschlüsse
asked-watts = Watt gleichzeitig
asked-verdict = Urteil
asked-price = Preis
asked-sort = Sortierung
asked-direction = Richtung
asked-page = Seite

## Die Tabelle

board-region = Ergebnisse
board-count = { $first }–{ $last } von { $count ->
    [one] { $count } Netzteil
   *[other] { $count } Netzteilen
}
board-compare = Ausgewählte vergleichen
board-choose = 2 bis 6 auswählen
board-chosen = { $count } ausgewählt
board-too-many = { $count } ausgewählt: höchstens 6 lassen sich vergleichen
board-none-fits = Kein Netzteil erfüllt das alles. Verlangen Sie weniger, oder setzen Sie zurück.
board-none-of-class = Von dieser Klasse ist noch kein Netzteil veröffentlicht.
board-none = Es ist noch kein Netzteil veröffentlicht.
board-how-units-appear = Ein Netzteil erscheint hier mit Wertung, Rang und Urteilen, sobald seine Messung veröffentlicht ist.
board-first-record = Die erste Messung am Messplatz eingeben
board-show-all = Alle Netzteile anzeigen
board-caption-class = Ränge innerhalb dieser Klasse; ± ist die erweiterte Unsicherheit, k = 2
board-caption-all = Ränge unter allen Netzteilen; ± ist die erweiterte Unsicherheit, k = 2
board-pick = Vergleichen
board-pick-unit = { $unit } vergleichen
board-rank = Rang
    .title = Rang: wo eine Spanne steht, geben die Daten nicht mehr her
board-unit = Netzteil
    .title = Hersteller und Modell
board-score = Wertung
    .title = Gesamtwertung, 0 bis 100, mit U (k = 2)
board-verdicts = Urteile
    .title = Ergebnisse nach Energievorschriften
board-sort-by = { $column }: sortieren
board-provisional-group = Vorläufig: Von der Wertung ist noch zu viel ungemessen; diese sind unter sich gereiht
board-provisional = vorläufig
    .short = vorl.
board-pages = Seiten
board-previous = Zurück
board-next = Weiter
board-page-of = Seite { $page } von { $pages }
ways-to-choose = Wege zur Auswahl
board-ways = Wählen Sie nach den <a href="{ $use }">Kosten im Gebrauch</a>, nach dem <a href="{ $at }">Wirkungsgrad bei Ihrer Leistung</a> oder nach <a href="{ $trade }">Abwägungen</a> wie Wertung gegen Preis.
download-table = Diese Tabelle herunterladen: <a href="{ $csv }">CSV</a>, <a href="{ $json }">JSON</a>.
download-licence = Lizenz: { $licence }.
download-class-chart = Das Diagramm der Klasse für andere Seiten: <a href="{ $svg }">SVG</a>.
board-link = Link zu dieser Ansicht:
board-report = Bericht über diese Klasse (PDF, englisch)

## Wählbare Spalten: über der Spalte, beim Darüberfahren, in einer Karte und in der Auswahl

column-average-efficiency = Ø η
    .title = Durchschnittlicher Wirkungsgrad bei 25, 50, 75 und 100 % Last
    .card = Ø Wirkungsgrad
    .choice = durchschnittlicher Wirkungsgrad
column-ten-percent = η 10 %
    .title = Wirkungsgrad bei 10 % Last
    .card = Wirkungsgrad 10 %
    .choice = Wirkungsgrad bei 10 % Last
column-no-load = Leerlauf
    .title = Eingangsleistung ohne Last
    .card = Leerlauf
    .choice = Leerlaufaufnahme
column-power-factor = λ
    .title = Leistungsfaktor bei Volllast
    .card = Leistungsfaktor
    .choice = Leistungsfaktor
column-thd = THD
    .title = Oberschwingungsgehalt (THD) des Netzstroms bei Volllast
    .card = THD Netzstrom
    .choice = THD des Netzstroms
column-trip = Abschalt.
    .title = Abschaltreserve: kleinster Strom über dem Nennstrom, bei dem ein Anschluss abschaltet
    .card = Abschaltreserve
    .choice = Abschaltreserve
column-recovery = Wiederan.
    .title = Wiederanlauf nach einer Überlast
    .card = Wiederanlauf
    .choice = Wiederanlauf nach Überlast
column-touch = Gehäuse
    .title = Höchste eingeschwungene Oberflächentemperatur, umgerechnet auf 25 °C Umgebung
    .card = Gehäuse bei 25 °C
    .choice = Berührungstemperatur bei 25 °C
column-rise = Erwärm.
    .title = Übertemperatur der heißesten Stelle bei höchster Last
    .card = Übertemperatur
    .choice = Übertemperatur der heißesten Stelle
column-price = Preis
    .title = Bezahlter Preis
    .card = Preis
    .choice = Preis
column-points-for-price = Pkt/Preis
    .title = Punkte der Wertung je Einheit der Währung des Preises
    .card = Wertung je Preis
    .choice = Wertung für den Preis
column-mass = Masse
    .title = Masse des Netzteils ohne Leitung
    .card = Masse
    .choice = Masse
column-volume = Volumen
    .title = Volumen des umschließenden Quaders, ohne Leitung
    .card = Volumen
    .choice = Größe (Volumen)
column-density = W/cm³
    .title = Leistungsdichte: Nennausgangsleistung durch Volumen
    .card = Dichte, W/cm³
    .choice = Leistungsdichte
column-ports = Ausgänge
    .title = Ausgänge (Anschlüsse)
    .card = Ausgänge
    .choice = Zahl der Anschlüsse
column-tested = Getestet
    .title = Datum des letzten Tests
    .card = Getestet
    .choice = Testdatum
column-ripple = Ripple
    .choice = Restwelligkeit und Rauschen
column-load-regulation = Lastreg.
    .choice = Lastausregelung
column-line-regulation = Netzreg.
    .choice = Netzausregelung
column-turn-on = Einschalt
    .choice = Einschaltverzögerung
column-hold-up = Überbrück
    .choice = Netzausfallüberbrückungszeit
column-inrush = I Einsch.
    .choice = Einschaltstrom
column-leakage = Ableitstr
    .choice = Ableitstrom (Berührungsstrom)
column-noise = Geräusch
    .choice = Geräusch

sort-score = Wertung
sort-name = Hersteller und Modell
sort-output-power = Ausgangsleistung
sort-verdicts = Urteile
cell-recovery-auto = von selbst
cell-recovery-replug = Last ab
cell-recovery-mains = Netz aus
cell-recovery-none = nie
cell-other-ports = andere
cell-ports-observed = { $ports }, beobachtet
cell-ports-by-label = { $ports }, laut Typenschild
