# Die Seite eines Netzteils: Typ, Typenschild, Wertung, Urteile, Messwerte.

unit-past = Dies ist Fassung { $number } von { $newest }, wie sie vor ihrer Überarbeitung war. <a href="{ $url }">Zur neuesten Fassung</a>
unit-past-newest = Dies ist Fassung { $number } von { $newest }, die noch immer gilt. <a href="{ $url }">Zur neuesten Fassung</a>
unit-measured = Von uns an einem Exemplar gemessen; keine Zertifizierung. Ein anderes Exemplar desselben Modells kann abweichen. ± ist die erweiterte Unsicherheit unserer Messung, etwa 95 %: k = 2, bei einem Wert aus einer Aufzeichnung das k nach Student.
unit-rank-interval = Ein Rang mit zwei Enden besagt, dass die Daten innerhalb der Unsicherheit nicht mehr hergeben.
unit-rank-exact = Die Unsicherheit dieses Netzteils ist nicht bekannt; es ist eingereiht, als wäre sein Wert genau.
unit-contents = Auf dieser Seite
contents-photos = Fotos
contents-label = Typenschild
contents-score = Wertung
contents-verdicts = Urteile
contents-charts = Diagramme
contents-no-load = Leerlauf über der Zeit
contents-waveforms = Kurvenformen
contents-runs = Messreihen
contents-ports = Anschlüsse
contents-sharing = Aufteilung
contents-overload = Überlast
contents-heat = Temperaturen
contents-measurements = Weitere Messungen
contents-notes = Anmerkungen
contents-instruments = Messgeräte
contents-logs = Rohdaten
contents-standing = Einordnung
contents-use = Kosten im Gebrauch
contents-history = Verlauf

## Einordnung

standing = Einordnung in seiner Klasse
standing-chart = Alle Netzteile der Klasse { $class }, dieses im Vordergrund.
standing-alone = Aus dieser Klasse ist noch kein anderes Netzteil veröffentlicht.
standing-neighbours = Nachbarn in seiner Klasse
    .caption = Seine Nachbarn nach der Wertung, in der Klasse { $class }
standing-this = dieses Netzteil
standing-class = Die ganze Klasse
standing-compare = Mit seinen Nachbarn vergleichen

## Verlauf und Daten

history = Verlauf und Daten
history-revisions = Fassungen
    .caption = Fassungen dieser Messung, neueste zuerst
history-revision = Fassung
history-when = Wann
history-by = Von
history-reason = Grund
history-shown = hier gezeigt
history-first = erstmals veröffentlicht
history-no-score = keine
history-evaluated = Ausgewertet von Version { $engine } des Programms nach Fassung { $version } der Wertungsformel, am { $when }.
history-report = <a href="{ $report }">Bericht (PDF, englisch)</a> zum Ausdrucken.
history-documents = <a href="{ $report }">Bericht (PDF, englisch)</a> zum Ausdrucken; herunterladen: <a href="{ $record }">record.json</a> (was gemessen wurde), <a href="{ $evaluation }">evaluation.json</a> (was daraus folgt).
unit-link = Link zu dieser Seite:
unit-caution = <strong>Netzspannung ist gefährlich.</strong> Diese Messungen wurden mit dafür bestimmten Geräten gemacht. Öffnen Sie kein Netzteil, und überlassen Sie Arbeiten an der Netzinstallation Fachkräften, wie es die Vorschriften Ihres Landes verlangen.

## Der Kopf der Seite

head-score = Wertung von 100
head-u-unknown = ± unbekannt
head-no-score = keine Wertung
head-provisional = vorläufig: { $coverage } der Wertung gemessen
head-rank-class = Rang in seiner Klasse
head-rank-overall = Rang insgesamt
rank-of = { $rank } von { $units }
rank-of-provisional = { $rank } von { $units } vorläufigen

## Das Typenschild

label = Das Typenschild und was wir gemessen haben
label-claims = Angaben des Typenschilds neben dem Gemessenen
label-property = Eigenschaft
label-label = Typenschild
label-measured = Von uns gemessen
not-stated = nicht angegeben
source = Quelle
label-odd = { $count ->
    [one] { $count } Auffälligkeit in den Messdaten
   *[other] { $count } Auffälligkeiten in den Messdaten
}
fact-rated-output = Nennausgangsleistung
fact-rated-input = Nenneingang
fact-efficiency-mark = Effizienzkennzeichen
fact-rated-ambient = Zulässig bis
    .text = { $temperature } Umgebung
fact-safety-marks = Prüfzeichen auf dem Typenschild
fact-mass = Masse
fact-mass-cord = Masse der Leitung
fact-mass-packaging = Masse der Verpackung
fact-size = Größe
fact-density = Leistungsdichte
fact-price = Bezahlter Preis
fact-acquired = Erworben
fact-tested = Getestet
fact-buy = Bezugsquelle
fact-write-up = Testbericht
claim-output = Ausgangsleistung
    .measured = { $power } bei der höchsten geprüften Last
claim-line = Netzversorgung
    .measured = geprüft an { $lines }
claim-input-current = Eingangsstrom
    .measured = höchstens { $current }
check-implied-power-factor = Leistungsfaktor, der aus dem Typenschild folgt
check-efficiency-mark = Effizienzkennzeichen
check-port-power = Leistungen der Anschlüsse
check-pd-power-rules = USB-PD-Leistungsregeln
check-port = { $check }, Anschluss { $port }

## Die Wertung

score-terms = Wertung, Teil für Teil
score-none = Aus dem Gemessenen ließ sich kein Teil der Wertung berechnen.
score-how = Ein Teil gibt 50 Punkte bei seinem Bezugswert r₀, 100 bei r₀/k und keinen bei k·r₀: <span class="formula">Punkte = 50 − 50 · ln(gemessen / Bezug) / ln(k), begrenzt auf 0 … 100</span> Wofür mehrere Messreihen sprechen, das ist der Mittelwert ihrer Punkte. Die Wertung ist der gewichtete Mittelwert der Punkte. <a href="{ $method }">Die ganze Formel, Fassung { $version }</a>
score-term = Teil
score-run = Messreihe
score-measured = Gemessen
score-reference = Bezug
score-working = Rechnung
score-points = Punkte
score-weight = Gewicht
score-contribution = Beitrag
score-mean = Mittel <b>{ $points }</b>
score-sum = Summe aus Gewicht × Punkte = { $sum }, durch das vorhandene Gewicht
score-absent = Weggelassen, ihr Gewicht unter den übrigen aufgeteilt:
    .term = { $term } (Gewicht { $weight }):
score-u-lacks = Im ± der Wertung fehlen mangels Angaben zu den Messgeräten: { $terms }.
score-whole-unit = ganzes Netzteil
term-active-loss = Verlust unter Last
term-light-load-loss = Verlust bei kleiner Last
term-no-load = Leerlaufaufnahme
term-line-current = Netzstrom
term-delivery = Einhaltung der Nennspannung
term-surface = Oberflächentemperatur
term-other = Sonstiges

## Urteile

verdicts-how = Nach Messung an einem Exemplar, mit einem Schutzabstand in Höhe der erweiterten Unsicherheit U (k = 2, bei einem Wert aus einer Aufzeichnung das k nach Student), ILAC-G8:09/2019, nicht-binäre Regel. Keine Zertifizierung.
verdicts-other = Frühere Vorschriften und Kennzeichnungsstufen:

## Diagramme

charts = Diagramme
charts-none = Es wurde nichts gemessen, was sich zeichnen ließe.
charts-axis = Last in:
chart-title-efficiency = Wirkungsgrad über der Last
chart-title-power-factor = Leistungsfaktor über der Last
chart-title-thd = Verzerrung des Netzstroms über der Last

## Messreihen

runs = Messwerte, Reihe für Reihe
runs-none = Es ist keine Messreihe aufgezeichnet.
run-informative = Entscheidet kein Urteil:
run-average-none = keiner
run-average-missing = keiner: nichts gemessen bei { $loads }
run-model = Verlustmodell
    .text = <code>{ $formula }</code>, I ist die Summe der Ausgangsströme ({ $current }); Rest { $residual } effektiv; höchster Wirkungsgrad { $peak }; gilt bis { $range }
run-model-formula = Verlust = { $a } W + { $b } V × I + { $c } Ω × I²
run-model-current = Ausgangsleistung / { $voltage }
run-points = Lastpunkte von { $run }
point-stable = stabil
point-unstable = nicht stabil
point-log = Aufz.
points-logged = Lastpunkte, die Mittelwerte einer Aufzeichnung sind
point-output = Ausgang, W
point-input = Eingang, W
point-efficiency = Wirkungsgrad, %
point-loss = Verlust, W
point-apparent = Scheinleistung, VA
point-power-factor = Leistungsfaktor
point-nonactive = Blindleistung, VA
point-thd = THD Strom, %
point-crest = Scheitelfaktor
point-voltage = Spannung neben Nennwert, %
run-rated-power = Nennleistung dieser Messreihe
run-rated-outputs = Nennausgänge
run-share = Anteil an der Nennleistung je Anschluss
    .text = { $share } der eigenen, damit sie zusammen innerhalb des Typenschilds bleiben
run-category = Kategorie
run-ambient = Umgebung
notes = Anmerkungen des Prüfers

## Messgeräte

instruments = Messgeräte
instruments-none = Es sind keine Angaben zu Messgeräten aufgezeichnet, daher ist keine Unsicherheit bekannt: Urteile gehen auf einfache Annahme zurück.
instrument-quantity = Größe
instrument-name = Messgerät
instrument-accuracy = Genauigkeit laut Hersteller
instrument-range = Messbereich
instrument-unnamed = nicht genannt
instrument-any-range = jeder
instrument-of-reading = { $percent } vom Messwert
instrument-of-range = { $percent } vom Bereich

## Eine Vorschrift

regime-each = Jede Anforderung
regime-every = { $rule }: alle Anforderungen
verdict-requirement = Anforderung
verdict-limit = Grenzwert
verdict-result = Ergebnis
verdict-margin = Abstand
    .title = positiv auf der richtigen Seite des Grenzwerts; pp: Prozentpunkte
verdict-u = erweiterte Unsicherheit, k = 2, bei einem Wert aus einer Aufzeichnung das k nach Student
verdict-p = P (konform)
    .title = Wahrscheinlichkeit, dass der wahre Wert konform ist
verdict-simple = Einfach
    .title = ohne Schutzabstand
verdict-guarded = Mit Abstand
    .title = binäre Regel mit Schutzabstand U
verdict-why = Warum
verdict-category = Kategorie { $category }.
    .reason = Kategorie { $category }:
verdict-limit-source = Grenzwert:
verdict-all-limits = Alle Grenzwerte dieser Vorschrift
verdict-informative = Zur Information: zählt nicht für das Ergebnis der Vorschrift.
    .short = zur Information
not-known = unbekannt
verdict-for = { $limit } bei { $power }
alternative-limit = In Kategorie { $category } wäre der Grenzwert { $limit } → { $outcome }
alternative-no-limit = In Kategorie { $category } gäbe es keinen Grenzwert → { $outcome }
alternative-reading = Nach anderer Lesart wäre der Grenzwert { $limit } → { $outcome }
alternative-reading-no-limit = Nach anderer Lesart gäbe es keinen Grenzwert → { $outcome }
role-law = in Kraft
role-voluntary = freiwillig
role-pending = beschlossen, noch nicht in Kraft
role-earlier = frühere Vorschrift
role-marking = Kennzeichnungsstufe

## Fotos und Bilder für andere Seiten

photo-missing = { $photo }: nicht vorhanden.
embed = Dieses Netzteil auf einer anderen Seite zeigen
embed-how = Die Bilder haben bleibende Adressen, folgen einer Berichtigung und sind hell oder dunkel, wie es die Leser vorziehen.
embed-badge-alt = Die Rangplakette: { $unit }
embed-badge = Rangplakette, als HTML
embed-chart = Wirkungsgrad-Diagramm, als HTML
embed-badge-text = { $unit }: Rang und Wertung, gemessen
embed-chart-text = { $unit }: Wirkungsgrad über der Last, gemessen

## Titel und Zusammenfassungen

unit-title = { $unit }: gemessen
unit-title-revision = { $unit }, Fassung { $number }
unit-sample = { $unit }, Exemplar { $sample }
unit-of-sample = { $unit } (Exemplar { $sample })
unit-summary = Von uns an einem Exemplar gemessen: Wertung { $score } von 100, durchschnittlicher Wirkungsgrad { $efficiency }. { $verdicts }.
unit-summary-score = Von uns an einem Exemplar gemessen: Wertung { $score } von 100. { $verdicts }.
unit-summary-efficiency = Von uns an einem Exemplar gemessen: noch keine Wertung, durchschnittlicher Wirkungsgrad { $efficiency }. { $verdicts }.
unit-summary-bare = Von uns an einem Exemplar gemessen: noch keine Wertung. { $verdicts }.
unit-none = Hier gibt es kein Netzteil namens „{ $name }“.
unit-no-revision = Dieses Netzteil hat keine Fassung { $number }.
unit-no-axis = axis: „{ $name }“ gibt es nicht; erwartet wird log, linear oder percent.
log-rows-bad = { $rows }, dazu { $bad } unlesbare
