# Zwei bis sechs Netzteile nebeneinander.

compare = Netzteile vergleichen
    .description = USB-Netzteile nebeneinander, wie von uns gemessen: Wirkungsgradkurven, Lastpunkte und Unterschiede, soweit die Unsicherheit sie erkennen lässt.
compare-versus = { $first } gegen { $other }
compare-choose = Wählen Sie zwei bis sechs Netzteile: Haken Sie sie in der <a href="{ $ranking }">Rangliste</a> an, oder suchen Sie hier danach.
    .one-more = Eines fehlt noch: Haken Sie es in der <a href="{ $ranking }">Rangliste</a> an, oder suchen Sie hier danach.
compare-by-run = { $class }, nach der Messreihe „{ $run }“
compare-leave-out = weglassen<span class="vh">: { $unit }</span>
compare-add = Netzteil hinzufügen
compare-at = Wirkungsgrad bei, W

## Was nicht gezeigt werden konnte

compare-too-many = { $count } Netzteile wurden angefragt; höchstens { $most } lassen sich vergleichen, daher werden die ersten { $most } gezeigt.
compare-no-power = „{ $text }“ ist keine Ausgangsleistung; erwartet werden mehr als 0 und höchstens 1000 Watt.
compare-offered = { $count } Netzteile passen zu „{ $words }“; die besten { $most } stehen zur Wahl.

## Welches ist das beste

best = Welches ist bei { $power } das beste?
best-at = Wirkungsgrad bei { $power }
    .caption = Wirkungsgrad bei { $power } nach dem Verlustmodell jedes Netzteils
best-loss = Verlust
best-beside = Neben dem höchsten
best-model = Das Modell gilt für die Spannung der jeweiligen Messreihe. Zwei Werte gelten erst als verschieden, wenn sie um mehr als 2·√(u₁² + u₂²) auseinanderliegen, den Rest der Anpassung eingeschlossen.
best-not-measured = bis zu dieser Leistung nicht gemessen
best-highest = höchster Wert
best-lower = sicher niedriger
best-not-apart = vom höchsten nicht zu unterscheiden
best-none = Keines dieser Netzteile wurde bis { $power } gemessen.
best-only = Bei { $power } lässt sich nur { $unit } beurteilen: { $figure }.
best-unsure = Bei { $power } hat { $unit } den höchsten Wert, { $figure }; da eine Unsicherheit unbekannt ist, lässt sich aber nicht sagen, dass es sicher das beste ist.
best-is = Bei { $power } ist { $unit } das beste: { $figure }.
best-close = Bei { $power } sind { $units } innerhalb der Unsicherheit nicht zu unterscheiden; der höchste Wert ist { $figure }.
best-others = { $count ->
    [one] Das andere liegt sicher niedriger.
   *[other] Die anderen { $count } liegen sicher niedriger.
}
best-unmeasured = { $count ->
    [one] { $units } lässt sich nicht beurteilen: bis zu dieser Leistung nicht gemessen.
   *[other] { $units } lassen sich nicht beurteilen: bis zu dieser Leistung nicht gemessen.
}

## Messwerte

compare-against = Gegenüber { $unit }:
compare-better = besser
compare-worse = schlechter
compare-not-apart = nicht zu unterscheiden
    .legend = innerhalb der Unsicherheit nicht zu unterscheiden
compare-pp = Prozentpunkte
compare-figures = Messwerte nebeneinander
compare-points = Wirkungsgrad, Lastpunkt für Lastpunkt
    .caption = Wirkungsgrad bei jeder Last, in Prozent der Nennleistung der jeweiligen Messreihe
compare-thd = THD des Stroms bei Volllast
compare-touch = Berührungstemperatur bei 25 °C Umgebung
compare-failed = { $margin } (liefert nicht, wofür es bemessen ist)
compare-largest-voltage = Größte angebotene Spannung
compare-pps = Programmierbare Versorgung (PPS)
compare-avs = Einstellbare Versorgung (AVS)
compare-together = Alle Anschlüsse zusammen
compare-sharing = Anschlüsse, die sich Leistung teilen
compare-yes = ja, { $low }–{ $high }
compare-no = nein
compare-ports = { $number } × { $connector }
    .unknown = { $number } × Steckertyp nicht angegeben
    .none = keine aufgezeichnet
compare-link = Link zu diesem Vergleich:
