# Die Anschlüsse eines Netzteils und ihre Aufteilung.

ports-none = Es ist kein Anschluss aufgezeichnet.
port = Anschluss { $port }
port-no-voltages = Seine Spannungen wurden weder aufgezeichnet noch gemessen.
port-voltages = Spannungen von Anschluss { $port }
    .measured = Spannungen von Anschluss { $port }: angegeben, gemessen
    .ruled = Spannungen von Anschluss { $port }: verlangt, angegeben, gemessen
    .advertised = Spannungen von Anschluss { $port }: angegeben, angeboten, gemessen
    .all = Spannungen von Anschluss { $port }: verlangt, angegeben, angeboten, gemessen
port-voltage = Spannung
port-rules = Regeln verlangen
port-claims = Typenschild gibt an
port-list = Liste bietet an
port-window = Spannungsfenster
port-nothing = nichts
port-not-claimed = nicht angegeben
port-not-listed = nicht in der Liste
port-findings = Was zu Anschluss { $port } zu sagen ist
port-objects = { $count ->
    [one] { $count } Power Data Object der Liste, Bit für Bit
   *[other] { $count } Power Data Objects der Liste, Bit für Bit
}
port-object = Objekt { $number }: <code>{ $word }</code>
port-object-fields = Felder von Objekt { $number }, vom höchsten Bit abwärts
port-field = Feld
port-holds = Enthält
port-says = Besagt
port-bits = Bits
port-connector = Stecker
port-rated = Bemessen
    .nameplate = { $power } laut Typenschild des Netzteils, da es sein einziger Anschluss ist
    .list = { $power } laut seiner Fähigkeitsliste; das Typenschild nennt nichts
    .label = { $power } laut Typenschild
port-group = Gruppe auf dem Typenschild
    .text = { $group }: teilt mit den übrigen so gekennzeichneten Anschlüssen
port-advertised = Angeboten
    .text = { $power } laut seiner Fähigkeitsliste
port-must-offer = Muss mindestens anbieten
port-asked = Verlangt neben programmierbaren Bereichen
port-missing = Fehlend oder zu wenig
port-optional = Freiwillig
port-cable = Kabel
    .text = { $cable }, für bis zu { $current } bei bis zu { $voltage }
port-measured-at = { $percent } Last, { $run }
port-offered = angeboten
port-too-little = zu wenig
port-is-missing = fehlt
port-is-optional = freiwillig
window-within = innerhalb
window-within-unsure = innerhalb, um weniger als ±
window-outside-unsure = außerhalb, um weniger als ±
window-outside = außerhalb
window-not-shown = nicht gezeigt
rule-kept = hält die Regel ein
rule-broken = gegen die Regel
window-words = { $count ->
    [one] { $count } Messwert, { $low } bis { $high }; Abstand { $margin }
   *[other] { $count } Messwerte, { $low } bis { $high }; Abstand { $margin }
}

## Aufteilung

sharing = Aufteilung zwischen den Anschlüssen
sharing-settled = geklärt
    .how = Von je zwei Anschlüssen wurde beobachtet, ob der eine ändert, was dem anderen angeboten wird. Eine gemeinsame Grenze, die nie greift, bleibt unbemerkt.
sharing-unsettled = nicht geklärt
sharing-contradictions = Diese Beobachtungen widersprechen einander, dem Typenschild oder den Regeln:
sharing-combinations = Kombinationen von Anschlüssen
    .caption = Was jeder Anschluss in jeder Kombination anbietet; in Klammern der Unterschied zum Anschluss allein
sharing-in-use = Belegte Anschlüsse
sharing-together = Zusammen
sharing-delivered = Geliefert
sharing-attaching = Anstecken und Abstecken
sharing-observation = Beobachtung { $number }
sharing-not-in-use = nicht belegt
sharing-not-read = nicht abgelesen
sharing-not-whole = unvollständig
sharing-groups = Gruppen, und was sie zeigt
sharing-untried = { $count ->
    [one] Nicht versucht: { $count } Kombination
   *[other] Nicht versucht: { $count } Kombinationen
}
sharing-needed = (nötig, bevor die Gruppen geklärt sind)
sharing-confirming = { $combinations }: würden nur bestätigen oder lassen womöglich keine Frage mehr offen, sobald die anderen bekannt sind
listed = { $first } und { $last }
sharing-held = die anderen behielten ihre Ausgangsspannung
sharing-reset = die anderen fielen kurz aus
sharing-lost = die anderen verloren ihre Ausgangsspannung
sharing-no-other = kein anderer Anschluss war belegt
sharing-observations = { $count ->
    [one] Beobachtung { $numbers }
   *[other] Beobachtungen { $numbers }
}
attached-another = Ein weiterer angesteckt: { $effect }
attached = { $port } angesteckt: { $effect }
attached-last = { $port } zuletzt angesteckt
detached-again = Wieder abgesteckt: { $effect }
detached = { $port } wieder abgesteckt: { $effect }
disturbed-none = kein Anschluss wurde gestört
disturbed = gestört: { $ports }
interrupted = { $time } ohne Spannung
down-to = bis hinab auf { $voltage }
share-evidence = { $port } bekommt { $before } angeboten ohne { $other } und { $after } damit ({ $seen })
share-none = kein anderer Anschluss änderte, was ihm angeboten wird, noch er das der anderen
share-unknown = { $count ->
    [one] noch nicht bekannt: ob { $ports } dazugehört
   *[other] noch nicht bekannt: ob { $ports } dazugehören
}
group-alone = { $port } für sich
group-not-seen = { $port }, Teilen nicht beobachtet
group-seems = { $ports } teilen anscheinend
group-shares = { $ports } teilen
offered-most = Höchstens { $power } werden zusammen angeboten, mit { $ports }; das Typenschild nennt { $nameplate }.
offered-all = Alle Anschlüsse zusammen bekommen { $power } angeboten.
delivered-most = Höchstens { $power } wurden zusammen geliefert, von uns gemessen.
