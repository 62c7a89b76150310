# Diagramme der Seite eines Netzteils und der Listen zum Auswählen.

chart-not-read = nicht abgelesen
chart-whiskers = Fehlerbalken zeigen die erweiterte Unsicherheit U, 95 %, wo sie bekannt ist.
    .k2 = Fehlerbalken zeigen die erweiterte Unsicherheit, k = 2, wo sie bekannt ist.
chart-bars = { $count ->
    [one] Balken: { $count } Messwert
   *[other] Balken: { $count } Messwerte
}
chart-bars-of = Balken: { $drawn } von { $all } Messwerten; die übrigen stehen in der Tabelle
chart-bars-units = Balken: { $units }
chart-bars-units-of = Balken: { $units }, die ersten von { $all }; die übrigen stehen in der Tabelle
chart-limit-named = Grenzwert { $name }
no-load-chart = Leerlaufaufnahme: { $subject }
no-load-chart-none = Leerlaufaufnahme: nichts gemessen
no-load-axis-mw = Leerlaufaufnahme in Milliwatt
no-load-axis-w = Leerlaufaufnahme in Watt
chart-table-95 = { $title } (± U, 95 %, soweit bekannt)
chart-no-figure = Kein Netzteil hat diesen Wert
axis-better-more = { $figure } (mehr ist besser)
axis-better-less = { $figure } (weniger ist besser)
scatter = Streudiagramm: { $units }. Quer: { $x }. Hoch: { $y }.
scatter-drawn = { $count } davon sind gezeichnet.
scatter-front = Durch eine Linie verbundene Rauten, { $units }, werden von keinem anderen in beiden Werten übertroffen
scatter-unnamed = { $count } Namen fanden keinen Platz; alle stehen in der Tabelle.
scatter-none = Kein Netzteil hat beide Werte
scatter-unbeaten = Von keinem in beiden übertroffen
heat-drawn = Temperatur über der Zeit: { $subject }
heat-final-value = Endwert nach der Anpassung
    .alone = { $value } (nur Anpassung)
heat-state-steady = eingeschwungen
heat-state-extrapolated = noch in Erwärmung, Endwert extrapoliert
heat-state-changing = noch in Änderung
heat-state-unknown = die Messwerte zeigen nicht, ob es eingeschwungen war
heat-desc = { $count ->
    [one] { $count } Messwert über { $minutes } min; zuletzt { $temperature }; { $state }.
   *[other] { $count } Messwerte über { $minutes } min; zuletzt { $temperature }; { $state }.
}
heat-desc-ambient = { $count ->
    [one] { $count } Messwert über { $minutes } min; zuletzt { $temperature } bei { $ambient } Umgebung; { $state }.
   *[other] { $count } Messwerte über { $minutes } min; zuletzt { $temperature } bei { $ambient } Umgebung; { $state }.
}
heat-desc-final = Endwert nach der Anpassung: { $value }.
heat-label-surface = Oberfläche
heat-label-hot-spot = heißeste Stelle
heat-label-ambient = Umgebung
heat-label-fit = Anpassung erster Ordnung
heat-label-steady = eingeschwungen in den letzten { $minutes } min
heat-none = Temperatur: kein Verlauf über der Zeit
heat-axis-temperature = Temperatur, °C
heat-axis-time = Zeit, min
heat-hover = { $minutes } min: { $temperature }, Umgebung { $ambient }
heat-row-final = Endwert nach der Anpassung
heat-temperature = Temperatur
heat-rise-column = Übertemperatur
step-delivered = geliefert
step-limited = begrenzt oder einbrechend
step-off = aus, beim verlangten Strom
state-on = an
state-limited = begrenzt
state-cycling = von selbst aus und an
state-off = aus
state-below = an, unter seinem Fenster
overload-drawn = Ausgang bei steigender Last: { $subject }
overload-lets-go = schaltet ab bei { $current } A
overload-good = zuletzt gut: { $current } A
overload-good-power = zuletzt gut: { $current } A, { $power } W
overload-desc = { $count ->
    [one] Spannung über dem Strom bei { $count } Laststufe.
   *[other] Spannung über dem Strom bei { $count } Laststufen.
}
overload-off-stands = Ein abgeschalteter Anschluss steht beim verlangten Strom.
overload-rated-line = Nennstrom { $current } A
overload-hover = verlangt { $set } A: { $current } A, { $voltage } V, { $state }
overload-chart-none = Überlast: keine Stufe hat Strom und Spannung
overload-axis-voltage = Spannung, V
overload-axis-current = Strom, A
overload-asked = Verlangt
overload-flowed = Geflossen
overload-power = Leistung
overload-held-for = Gehalten
overload-last-good-step = { $state }: die letzte gute Stufe
harmonics = Oberschwingungsströme nach Ordnung: { $subject }
harmonics-desc = Balken nach Ordnung auf einer logarithmischen Achse in Ampere (effektiv). Grundschwingung { $fundamental }; Verzerrung der Ordnungen 2 bis { $order }: { $thd }, von allem außer der Grundschwingung: { $all }. Sichtung: { $result }. Gestrichelte Linie: die Schwelle von { $floor }, unter der die Norm nicht hinsieht.
harmonics-none-above = Keine Ordnung überschreitet Klasse { $class }.
harmonics-above = Über Klasse { $class }: Ordnung { $orders }.
harmonics-order = Ordnung { $order }: { $current }
harmonics-order-class = Klasse { $class }: { $share } von { $limit }, { $result }
harmonics-outside = außerhalb der Grenzwerte
order-accepted = darüber, hingenommen
order-too-small = unter der Schwelle
order-no-limit = kein Grenzwert
harmonics-none = Oberschwingungsströme: keine bekannt
harmonics-limits = Grenzwerte Klasse { $class }
harmonics-compared = Klasse { $class }, zum Vergleich
harmonics-floor = Schwelle
harmonics-axis = Strom, effektiv, logarithmisch; ein Dreieck zeigt eine Ordnung außerhalb ihres Grenzwerts
    .narrow = Strom, eff. (log); ▲: über Grenzwert
    .order = Ordnung der Oberschwingung
harmonics-column-order = Ordnung
harmonics-column-group = Strom (Gruppe)
harmonics-column-share = Von der Grundschwingung
harmonics-column-limit = Grenzwert Klasse { $class }
harmonics-column-against = Gegen Klasse { $class }
harmonics-table = { $title } (Sichtung: { $result })
shape = Spannung, Strom und Leistung über zwei Perioden: { $subject }
shape-desc = Drei Spuren über { $time } ms. Spannung { $voltage } V effektiv, Spitze { $peak } V; Strom { $current } effektiv, Spitze { $current-peak }, Scheitelfaktor { $crest }; Wirkleistung { $power }, das Mittel der Augenblicksleistung. Jeder Punkt ist das Mittel der Abtastwerte um ihn. Jeder zehnte Punkt steht in der Tabelle.
lane-voltage = Spannung, V: { $voltage } V effektiv, Spitze { $peak } V, Scheitelfaktor { $crest }
    .short = Spannung, V: { $voltage } V effektiv
lane-current = Strom, A: { $current } effektiv, Spitze { $peak }, Scheitelfaktor { $crest }
    .short = Strom, A: { $current } eff., Scheitel { $crest }
lane-power = Leistung, W: { $power } Wirkleistung (gestrichelt), Leistungsfaktor { $factor }
    .short = Leistung, W: { $power } Wirkl. (gestrichelt)
shape-none = Kurvenform: die Aufzeichnung enthält keine Periode
shape-axis = Zeit in Millisekunden, ab einem steigenden Nulldurchgang der Spannung
    .narrow = Zeit, ms
shape-table = { $title } (jeder zehnte Punkt; alle stehen im Auswertungsdokument)
shape-time = Zeit
trace = Leerlaufaufnahme über der Zeit: { $subject }
trace-desc = { $count ->
    [one] Liniendiagramm der Leerlaufaufnahme über { $time }, { $count } Abtastwert von { $log }: ein Band vom kleinsten bis zum größten Abtastwert mit dem Mittel darin. Verwendet von { $from } bis { $to }, Mittel { $mean }
   *[other] Liniendiagramm der Leerlaufaufnahme über { $time }, { $count } Abtastwerte von { $log }: ein Band vom kleinsten bis zum größten Abtastwert mit dem Mittel darin. Verwendet von { $from } bis { $to }, Mittel { $mean }
}
trace-discarded = die ersten { $time } verworfen
trace-settled = eingeschwungen nach { $time }
trace-never = nie eingeschwungen
trace-limit = Grenzwert { $name } { $limit }
trace-limit-windows = { $count ->
    [one] Grenzwert { $name } { $limit }, { $above } von { $count } Fünf-Minuten-Fenster darüber
   *[other] Grenzwert { $name } { $limit }, { $above } von { $count } Fünf-Minuten-Fenstern darüber
}
trace-windows = Die Fenster stehen in der Tabelle.
trace-not-used = nicht verwendet
trace-used = für den Wert verwendet
    .short = verwendet
trace-up-to = bis { $power }
trace-window = { $from } bis { $to }: Mittel { $mean }
    .none = { $from } bis { $to }: Mittel { $mean }, über keinem Grenzwert
    .above = { $from } bis { $to }: Mittel { $mean }, über { $limits }
trace-none = Leerlaufaufnahme: die Aufzeichnung enthält keine Abtastwerte
trace-mean = Mittel
trace-samples = Abtastwerte
trace-seconds = Zeit in Sekunden
trace-minutes = Zeit in Minuten
trace-hours = Zeit in Stunden
trace-row-used = Für den Wert verwendet
trace-row-not-used = Nicht verwendet
trace-row-window = Fenster { $number }
trace-row-more = { $count } weitere Fenster
trace-row-elsewhere = im Auswertungsdokument
trace-table = { $title }: Teile und Fünf-Minuten-Fenster (± U, etwa 95 %, soweit bekannt)
trace-part = Teil
trace-from = Von
trace-to = Bis
trace-mean-power = Mittlere Leistung
trace-above = Über dem Grenzwert von
trace-above-none = keinem
