# Abschnitte der Seite eines Netzteils jenseits des Wirkungsgrads: Überlast, Wärme, weitere Messungen, Fotos, Rohdaten.

figure-compared = Verglichen mit
figure-figure = Richtwert
figure-probability = Wahrscheinlichkeit, darin zu liegen
figure-within = innerhalb des Richtwerts
figure-within-unsure = innerhalb des Richtwerts, um weniger als die Unsicherheit
figure-outside-unsure = außerhalb des Richtwerts, um weniger als die Unsicherheit
figure-outside = außerhalb des Richtwerts
figure-not-shown = nicht gezeigt, dass innerhalb des Richtwerts

## Weitere Messungen

measurements-caption = Von uns an einem Exemplar gemessen; ein Richtwert steht dort, wo eine Norm bekanntermaßen einen hat
measurements-conditions = Bedingungen
measurements-note = Anmerkung
not-noted = nicht notiert
measurements-no-figure = keiner bekannt
measurements-not-compared = nicht verglichen
none-given = keine
measurements-build = Größe, Masse und Leitung
condition-load = { $percent } Last
condition-mains = { $voltage } Netz
build-mass = Masse, ohne Leitung
build-dimensions = Abmessungen
build-volume = Volumen dieses Quaders
build-specific-power = Leistung je Masse
build-cord = Leitung
cord-captive = fest am Netzteil
cord-detachable = abnehmbar
cord-resistance = { $resistance } beide Leiter zusammen

## Temperaturen

heat-touch = Berührungstemperaturen: { $series }
    .caption = Neben Richtwerten für Berührungstemperaturen ({ $source }): TS1 für den üblichen Gebrauch, TS2 bei einem Fehler
heat-contact = Berührung
heat-at-25 = Bei 25 °C
heat-against-ts1 = Gegen TS1
heat-against-ts2 = Gegen TS2
heat-usual = die Zeile, nach der Netzteile gewöhnlich beurteilt werden
heat-comfort = die Komfortgrenze
heat-recorded = Jeder Messwert, wie aufgezeichnet
    .caption = Temperaturen, wie aufgezeichnet
heat-surface = Oberfläche
heat-hot-spot = Heißeste Stelle
heat-at-load = bei { $load }
heat-chart = Temperatur und Umgebung über der Zeit
heat-not-above = Nicht über der Komfortgrenze von { $limit } ({ $duration }), nach der Netzteile aber nicht beurteilt werden.
heat-above = Über der Komfortgrenze von { $limit } ({ $duration }), nach der Netzteile aber nicht beurteilt werden.
heat-last = Letzter Messwert
heat-highest = Höchster Messwert
heat-reading =
    .after-at = { $temperature } nach { $minutes } bei { $ambient } Umgebung
    .after = { $temperature } nach { $minutes }, Umgebung nicht abgelesen
    .at = { $temperature } bei { $ambient } Umgebung
    .bare = { $temperature }, Umgebung nicht abgelesen
heat-peak =
    .after = { $temperature } nach { $minutes }, { $rise } über der Umgebung
    .bare = { $temperature }, { $rise } über der Umgebung
heat-steady = Beharrungszustand
    .reached = erreicht
    .extrapolated = nicht erreicht, extrapoliert
    .changing = nicht erreicht
heat-fit = Anpassung erster Ordnung
    .text = endet { $rise } über der Umgebung (± nur aus der Streuung, k = { $k }), Zeitkonstante { $time }, { $residual } effektiv neben den Messwerten
heat-final = Endtemperatur
    .text = { $temperature } bei der letzten Umgebung, nach der Anpassung
heat-rise = Übertemperatur
heat-reference = Bei 25 °C Umgebung
    .fit-alone = { $temperature } allein nach der Anpassung, die Unsicherheit des Thermometers ist nicht bekannt
    .unknown = { $temperature }, Unsicherheit unbekannt
    .brought = { $temperature } (umgerechnet auf { $reference })
heat-max = Bei der höchsten Umgebung laut Typenschild
    .text = { $temperature } bei { $ambient }, zur Information: damit wird kein Richtwert verglichen
heat-material = Material
    .assumed = nicht notiert, angenommen: { $material }
heat-glass = Glas oder Porzellan
heat-plastic = Kunststoff oder Gummi
heat-after = Nach
heat-where = Wo

## Überlast

overload-how = Was oberhalb des Nennstroms geschah, an einem Exemplar. Der Vergleich mit einem Wert aus einer Norm ist ein Hinweis, keine Zertifizierung: Die ganzen Normen verlangen auch Einzelfehler, Isolation und Kennzeichnung.
overload-failed = Der Anschluss liefert nicht, wofür er bemessen ist.
overload-contradiction = Die Aufzeichnung passt nicht zusammen:
overload-limited = Neben Richtwerten für begrenzte Quellen:
overload-figures = Jeder Richtwert mit seiner Quelle
overload-at = { $port } bei { $voltage }
delivery-pass = liefert, wofür er bemessen ist
delivery-conditional-pass = liefert, wofür er bemessen ist, soweit sich das sagen lässt
delivery-conditional-fail = liefert womöglich nicht, wofür er bemessen ist
delivery-fail = liefert nicht, wofür er bemessen ist
overload-chart = Spannung über dem Strom
overload-rated = Nennstrom
    .list = { $current } laut seiner Fähigkeitsliste
    .label = { $current } laut Typenschild
overload-last-good = Letzter guter Punkt
overload-trip = Schaltet ab bei
    .steps = { $current }, die Mitte zwischen zwei Stufen
    .limited = { $current }, der Strom, auf den er begrenzt wurde
    .contradicted = nicht zu sagen: Die Stufen widersprechen sich
    .held = gar nicht, bis { $current }
overload-margin = Abschaltreserve
    .text = { $margin } des Nennstroms
    .unknown = { $margin } des Nennstroms, Unsicherheit unbekannt
overload-protection = Schutz
    .seen = { $kind }, wie gesehen;
    .told = { $kind }:
    .unknown = nicht zu sagen:
overload-recovery = Wiederanlauf
    .after = { $how }, nach { $time }
overload-others = Andere Anschlüsse derweil
overload-short = Eingangsleistung im Kurzschluss
protection-shut-off = Abschaltung
protection-hiccup = Hiccup (versucht es immer wieder)
protection-foldback = Foldback (der Strom sinkt mit wachsender Last)
protection-constant = Konstantstrom (stattdessen sinkt die Spannung)
limited-indicated = { $limited }; seine Leistung deutet auf { $class }
limited-class-unknown = { $limited }; seine Leistungsklasse ist nicht gezeigt
limited-within = innerhalb beider Richtwerte für eine Quelle begrenzter Leistung
limited-outside = außerhalb der Richtwerte für eine Quelle begrenzter Leistung
limited-not-shown = nicht gezeigt, dass innerhalb der Richtwerte für eine Quelle begrenzter Leistung
limited-beyond = jenseits der Spannungen, für die die Richtwerte einer Quelle begrenzter Leistung gelten
limited-conditions = { $voltage } ohne Last, bis zu { $current } und { $power } aufgezeichnet
overload-port = Anschluss
overload-at-voltage = Bei
overload-trips-at = Schaltet ab bei
overload-held = Letzte gehaltene Leistung
overload-other-ports = Andere Anschlüsse

## Fotos

photo-alt = Foto { $number } von { $unit }

## Rohdaten

raw-logs-how = Die Dateien, wie die Messgeräte sie geschrieben haben. Die Werte oben, die aus Aufzeichnungen stammen, lassen sich aus diesen Bytes noch einmal berechnen; die SHA-256 sagt, ob eine Datei die gelesene ist.
raw-logs-table = Tabelle der Rohdaten
raw-logs-caption = Rohdaten zu dieser Messung
raw-logs-for-tester = zum Herunterladen, sobald veröffentlicht
raw-logs-not-kept = hier nicht aufbewahrt
raw-logs-nothing = noch nichts
raw-logs-uncounted = nicht gezählt
raw-logs-log = Aufzeichnung
raw-logs-used = Verwendet für
raw-logs-rows = Zeilen
raw-logs-read = Wie sie gelesen wird

## Kosten im Gebrauch

unit-use = Was sein Gebrauch kostet
    .region = Energieverlust im Jahr
    .caption = Energie, die es in einem Jahr in Wärme umsetzt; ± ist die erweiterte Unsicherheit, k = 2
    .lost = Verlust im Jahr
unit-use-use = Gebrauch
unit-use-no-figure = kein Wert: { $why }
unit-use-lists = Zu jedem Gebrauch gibt es eine Liste der ganzen Klasse, die sagt, ob der Unterschied ins Gewicht fällt. <a href="{ $at }">Alle Netzteile bei Ihrer Leistung</a> · <a href="{ $trade }">Abwägungen</a>
profile-load = { $time } mit { $power }
profile-idle = { $time } eingesteckt ohne angeschlossenes Gerät
profile-a-day = Täglich { $loads }
lacks-loss-model = seine Verluste wurden nicht bei genügend Lasten gemessen
lacks-no-load = seine Leerlaufaufnahme wurde nicht gemessen
lacks-load = gemessen bis { $covered }, was weniger als { $power } ist
choice-use = Was der Gebrauch kostet
choice-at = Bei meiner Leistung
choice-trade-offs = Abwägungen
