# Wie Netzteile gemessen, beurteilt, bewertet und eingereiht werden.

method = Verfahren
    .description = Wie Netzteile hier gemessen, mit Schutzabstand beurteilt, bewertet und eingereiht werden: Formeln, Bezugswerte, Unsicherheit, Quellen und Grenzen des Verfahrens.
    .lead = Wie Netzteile hier gemessen, beurteilt, bewertet und eingereiht werden, sodass es jede und jeder aus den Messwerten eines Netzteils nachrechnen und mit guten Gründen widersprechen kann.
method-contents-measured = Was gemessen wird
method-contents-logs = Rohdaten
method-contents-waveforms = Kurvenformen
method-contents-uncertainty = Unsicherheit
method-contents-verdicts = Urteile
method-contents-score = Wertung
method-contents-ranks = Ränge
method-contents-classes = Klassen
method-contents-limits = Was hier offenbleibt

## Was gemessen wird, und wie

method-measured = Was gemessen wird, und wie
    .lead = Ein Exemplar eines Netzteils wird jeweils an einer Netzversorgung und mit einer Art von Volllast betrieben: eine Messreihe. Bei jeder Last werden der Eingang (Spannung, Strom, Wirkleistung, Leistungsfaktor, Verzerrung) und jeder belastete Ausgang (Spannung, Strom) abgelesen.
method-output-power = Ausgangsleistung
    .text = die Summe von Spannung mal Strom über die belasteten Anschlüsse
method-efficiency = Wirkungsgrad η
    .text = Ausgangsleistung durch Eingangsleistung; der Verlust ist ihre Differenz
method-average-efficiency = Durchschnittlicher Wirkungsgrad im Betrieb
    .text = der Mittelwert der Wirkungsgrade bei { $loads } der Nennlast, jeweils auf { $tolerance } genau eingestellt; fehlt einer davon, gibt es keinen Durchschnitt
method-power-factor = Leistungsfaktor
    .text = wie abgelesen, sonst Wirkleistung durch Spannung mal Strom; N = √(S² − P²) ist die Blindleistung
method-no-load = Leerlaufaufnahme
    .text = Eingangsleistung, wenn nichts angeschlossen ist: ein abgelesener Wert oder, besser, eine <a href="#logs">Aufzeichnung</a>
method-loss-model = Verlustmodell
    .text = Verlust = a + b·I + c·I², nach kleinsten Quadraten ohne negativen Teil, aus den Lastpunkten und dem Leerlaufwert; es gibt den Wirkungsgrad bei jeder Last bis zur höchsten gemessenen, und sein Rest wird gezeigt
method-line = Netzversorgung
    .text = innerhalb von { $tolerance } der Spannung und Frequenz einer Vorschrift; innerhalb von { $warning } mit einem Hinweis beurteilt; sonst nicht verwendet
method-ambient = Umgebung bei { $line }
method-runs = Ein Netzteil, dessen Anschlüsse ihre Spannung aushandeln, wird bei seiner höchsten und bei seiner niedrigsten Spannung gemessen. Ein Netzteil mit mehreren Anschlüssen wird an allen zugleich belastet, an jedem anteilig, sodass sie zusammen innerhalb des Typenschilds bleiben; Messreihen an nur einem Anschluss werden gezeigt, entscheiden aber nichts, wo es eine solche gibt.
method-label = Das Typenschild wird mit der Physik und der Messung verglichen: der Leistungsfaktor, der aus seinen Angaben folgt (<span lang="en">{ $implied }</span>), sein Effizienzkennzeichen, die Leistungen seiner Anschlüsse und die Spannungen und Ströme, die USB PD bei seiner Nennleistung verlangt (<span lang="en">{ $pd }</span>).

## Rohdaten

method-logs = Rohdaten
    .lead = Wo ein Messwert nicht stillsteht, wird aufgezeichnet. Die Dateien der Messgeräte werden Byte für Byte aufbewahrt und auf der Seite des Netzteils mit ihrem SHA-256 angeboten; die Messdaten sagen, wie jede gelesen wird und aus welchem Abschnitt ein Wert stammt. So kann jeder die Werte nachrechnen.
    .ways = Von einer Aufzeichnung zur Leerlaufaufnahme führen mehrere Wege (<span lang="en">{ $citation }</span>). Sie werden in dieser Reihenfolge versucht, der erste anwendbare gibt den Wert, und die Seite sagt, warum es die anderen nicht waren:
method-cycles = Ganze Zyklen
    .text = wo sich die Leistung wiederholt: nach { $unused } zwei Vergleichszeiträume von je mindestens { $cycles } ganzen Zyklen und { $least }; ihre Mittel dürfen zwischen ihren Mitten um die erlaubte Steigung driften, und der Wert ist das Mittel aus beiden
method-sample = Abtastverfahren
    .text = mindestens { $least } aufgezeichnet, das erste { $discarded } davon weggelassen; die Steigung nach kleinsten Quadraten über den Rest muss bis { $power } unter { $slope }/h liegen, darüber unter { $above } der Leistung je Stunde; der Wert ist das Mittel des Rests
method-mean = Laufendes Mittel
    .text = eine Leistung, die ohne Muster schwankt: mindestens { $least } aufgezeichnet, und über die letzten zwei Drittel bleibt das laufende Mittel innerhalb von ±{ $band }
method-longer-average = Mittel über längere Zeit
    .text = nach { $unused } zwei Vergleichszeiträume von je { $least } bis { $most }, mit der erlaubten Steigung zwischen ihren Mitten; der Wert ist das Mittel aus beiden
method-none = Keines davon
    .text = das einfache Mittel tritt an ihre Stelle, und kein Urteil darüber ist fest
method-five = Neben dem Wert steht das Fünf-Minuten-Verfahren der USA: Über die letzten { $minutes } darf die Eingangsleistung um { $drift } ihres größten Werts driften ({ $multiple } bei einem Netzteil, das mehrere Spannungen zugleich liefert); hält sie das ein, zählt der Wert am Ende, sonst das Mittel <small>(<span lang="en">{ $source }</span>)</small>. Die Mittel aufeinanderfolgender Fünf-Minuten-Fenster zeigen, wie oft die Leistung über einem Grenzwert liegt.
method-log-uncertainty = Die Unsicherheit eines solchen Mittels hat zwei Teile: die angegebene Genauigkeit des Messgeräts, die durch keine Aufzeichnung kleiner wird, und die Streuung. Abtastwerte, die dicht aufeinander folgen, hängen zusammen; deshalb werden sie in Blöcken genommen, die lang genug sind, um unabhängig zu sein, und nur die Blöcke zählen. Beide Teile zusammen haben effektive Freiheitsgrade (Welch–Satterthwaite); U = k·u mit k nach Student für { $coverage } <small>(<span lang="en">{ $source }</span>)</small>. Aus denselben Zahlen folgt, wie viel länger aufgezeichnet werden müsste, bis das Urteil klar ist, oder dass es mit diesem Messgerät nie klar wird.
method-log-points = Auch Lastpunkte lassen sich aus einer Aufzeichnung schneiden: Die Messwerte sind dann Mittel über den Abschnitt, und die Seite kennzeichnet einen Abschnitt, der nicht stabil war.

## Kurvenformen

method-waveforms = Kurvenformen
    .lead = Aus gemeinsam abgetasteter Netzspannung und abgetastetem Netzstrom folgen Effektivwerte, Wirk-, Schein- und Blindleistung, Leistungsfaktor und Verschiebung (IEEE 1459) und die Oberschwingungen des Stroms. Diese werden mit { $citation } verglichen. <strong>Eine kurze Aufzeichnung ist ein Vergleich zur Orientierung, nie ein Urteil über Konformität.</strong>
    .agree = Die Werte der Kurvenform werden neben die Messwerte des Leistungsmessers bei derselben Last gestellt, und die Seite zeigt, wo sie weiter auseinanderliegen, als beide zulassen.
method-windows = Fenster
    .text = rechteckig, { $at50 } Perioden bei 50 Hz und { $at60 } bei 60 Hz, wo nötig durch Umtasten auf ganze Perioden gebracht; Ordnungen bis { $order }
method-who = Für wen Grenzwerte gelten
    .text = Geräte über { $power } Nenneingangsleistung, an Netzen von { $voltage } und mehr, bis { $current }
method-harmonic-class = Klasse
    .text = Klasse A, solange der Prüfer nicht mit Begründung Klasse D wählt:
method-comparison = Vergleich
    .text = das Mittel jeder Ordnung höchstens ihr Grenzwert, jeder geglättete Wert höchstens { $smoothed } davon; was unter { $share } des Eingangsstroms oder unter { $floor } liegt, wird nicht betrachtet
method-high-orders = Hohe ungerade Ordnungen
    .text = die Ordnungen { $from } bis { $to } dürfen { $share } ihrer Grenzwerte erreichen, wenn sie zusammen unter dem bleiben, was ihre Grenzwerte zusammen ergeben

## Unsicherheit und Urteile

method-uncertainty = Unsicherheit
    .text = Die angegebene Genauigkeit eines Messgeräts, ±(% vom Messwert + % vom Bereich + fester Teil), gilt als halbe Breite a einer Rechteckverteilung: Standardunsicherheit u = a/√3 (JCGM 100:2008, 4.3.7). Unsicherheiten gehen in erster Ordnung durch die Formeln (5.1.2); Fehler der Messgeräte gelten als vollständig korreliert zwischen den Lastpunkten einer Messreihe, sodass ein Durchschnitt nicht sicherer ist als seine Punkte. Nach ± steht die erweiterte Unsicherheit U = 2u, etwa 95 %, bei einem Wert aus einer <a href="#logs">Aufzeichnung</a> mit dem k, das zu seinen Freiheitsgraden gehört. Wo keine Angaben zu Messgeräten aufgezeichnet sind, ist die Unsicherheit unbekannt und steht auch so da, nie als null.
method-verdicts = Urteile
    .lead = Jede Anforderung jeder <a href="{ $rules }">Vorschrift</a> wird nach ILAC-G8:09/2019 beurteilt, nach der nicht-binären Regel mit Schutzabstand w = U:
    .text = Das Ergebnis einer Vorschrift ist das ihrer schlechtesten Anforderung. Wo U unbekannt ist, entscheidet der bloße Grenzwert (einfache Annahme), und die Seite sagt es. Neben jedem Ergebnis stehen die einfache Annahme, die binäre Regel mit Schutzabstand und die Wahrscheinlichkeit, dass der wahre Wert konform ist, aus einer Normalverteilung (JCGM 106:2012). Der durchschnittliche Wirkungsgrad wird bei jeder Messreihe beurteilt, die zählt, bei deren eigener Nennleistung, und der schlechteste Abstand entscheidet; die Leerlaufaufnahme nach der Leistung auf dem Typenschild und dem ungünstigsten Messwert.
method-pass = innerhalb des Grenzwerts, um U oder mehr
method-conditional-pass = innerhalb des Grenzwerts, um weniger als U
method-conditional-fail = außerhalb des Grenzwerts, um weniger als U
method-fail = außerhalb des Grenzwerts, um U oder mehr
method-incomplete = von einer ganzen Vorschrift: Etwas, das sie verlangt, wurde nicht gemessen, und nichts ist nicht erfüllt
method-not-assessed = ließ sich nicht beurteilen; der Grund steht daneben

## Die Wertung

method-score = Wertung, Fassung { $version }
    .lead = 0 bis 100, mehr ist besser. Ein Teil gibt genau bei seinem Bezugswert 50 Punkte, 100 bei dessen k-tem Teil und keinen beim k-Fachen, auf einer logarithmischen Skala:
    .formula = Punkte = 50 − 50 · ln(gemessen / Bezug) / ln(k), begrenzt auf 0 … 100
    .absolute = Nichts hängt von anderen Netzteilen ab; eine Wertung ändert sich also nie, weil ein anderes Netzteil dazukam.
    .terms = Teile der Wertung
    .caption = Teile der Wertung, Fassung { $version }
    .together = Zusammen
    .text = Es zählen Messreihen an { $line }, innerhalb von { $voltage } und { $frequency }. Die Punkte eines Teils sind der Mittelwert über die Messreihen, die ihn haben. Teile, die nicht gemessen wurden, bleiben weg, und die Gewichte der übrigen werden hochgerechnet; der vorhandene Anteil des Gewichts ist die Abdeckung. Unter { $provisional } ist die Wertung vorläufig: gezeigt, gekennzeichnet und nach den anderen eingereiht. Das ± der Wertung folgt aus den Unsicherheiten der Messgrößen durch diese Formeln, wobei die Teile als unabhängig gelten; ein Teil mit 0 oder 100 Punkten trägt nichts bei.
    .versions = Wird ein Gewicht, ein Bezugswert oder ein k geändert, ist das eine neue Fassung. Alte Wertungen werden mit ihrer Fassung aufbewahrt, und jede Seite sagt, welche sie zeigt.
method-active-loss = 1 − durchschnittlicher Wirkungsgrad der Messreihe im Betrieb
    .reference = 1 − Mindestwert des durchschnittlichen Wirkungsgrads nach { $rule }, für Kategorie und Nennleistung der Messreihe
method-light-load-loss = 1 − Wirkungsgrad bei 10 % Last
    .reference = 1 − Mindestwirkungsgrad bei 10 % Last nach { $rule }, für Kategorie und Nennleistung der Messreihe
    .multiple = 1 − Mindestwirkungsgrad bei 10 % Last nach { $rule }, für Kategorie und Nennleistung der Messreihe (für Messreihen mit mehreren Ausgangsspannungen gilt die Zeile „{ $row }“)
method-no-load-term = Leerlaufaufnahme der Messreihe
    .reference = Leerlauf-Grenzwert nach { $rule } für das Netzteil, wie ihn dessen Urteil verwendet
method-line-current = Mittel über die Punkte bei { $loads } % von N/P = √(1/PF² − 1), Blindleistung durch Wirkleistung
    .reference = N/P bei einem Leistungsfaktor von { $factor }: { $ratio }
method-delivery = größte Abweichung einer Ausgangsspannung vom Nennwert; keine Punkte, wenn die Volllast nicht gehalten wurde ({ $share } der Nennleistung)
method-surface = Erwärmung der heißesten Stelle über die Umgebung bei der höchsten aufgezeichneten Last
    .reference = { $rise }: 77 °C, die Berührungsgrenze für Kunststoff bei kurzem Kontakt (IEC 62368-1 Tabelle 38, nach Sekundärquellen), abzüglich 25 °C

## Messplatz

method-bench = Überlast, Temperaturen und weitere Messungen
method-overload = Die Last wird Stufe um Stufe erhöht. Eine Stufe gilt als geliefert, wenn der Strom innerhalb von { $current } des geforderten und die Spannung im Fenster des Anschlusses liegt (ohne Fenster: bei { $voltage } des Nennwerts oder mehr). Ein begrenzter Strom, der über { $held } des größten bleibt, heißt Konstantstrom, sonst Foldback. Schaltet der Ausgang ab, so geschah es irgendwo zwischen der letzten gelieferten Stufe und der nächsten: Angegeben ist die Mitte, mit dem Abstand der beiden als Teil ihrer Unsicherheit. Abschaltreserve = Abschaltstrom / Nennstrom − 1. Ein Anschluss, der innerhalb seiner Nennwerte abschaltet, liefert nicht, was er soll; liegt der Nennwert zwischen zwei Stufen, bleibt das Urteil bedingt. <small><span lang="en">{ $source }</span>.</small>
method-heat = Beharrung heißt, dass sich eine Temperatur am Ende um weniger als { $change } in { $time } änderte. Sonst wird der Anstieg durch A + B·exp(−t/τ) angenähert, und A gilt, wo mindestens eine Zeitkonstante aufgezeichnet ist; seine Unsicherheit ist die der Streuung um die Näherung, mit dem t nach Student. T<sub>25</sub> = T − T<sub>Umgebung</sub> + 25 °C wird nur bei Umgebungen von { $from } bis { $to } verglichen. Was noch nicht in Beharrung war, wird nur gezeigt, wo es schon außerhalb eines Richtwerts liegt. <small><span lang="en">{ $source }</span>.</small>
method-figures = Werte aus Normen werden jeweils mit einem einzelnen Messwert verglichen, mit demselben Schutzabstand wie ein Grenzwert: innerhalb oder außerhalb des Werts. Das ist ein Anhaltspunkt und nie eine Aussage über Sicherheit: Die Normen verlangen Einzelfehler, Isolation und mehr.
method-touch = Berührungstemperaturen
    .caption = Berührungstemperaturen, TS1 / TS2 ({ $citation })
    .contact = Kontakt
    .metal = Metall
    .glass = Glas, Porzellan
    .plastic = Kunststoff, Gummi
    .wood = Holz
method-others = Weitere Werte, mit denen verglichen wird
    .of = Wovon
    .at-most = Höchstens
method-voltages = über { $from } bis { $to }
method-open-circuit = { $voltage } / Leerlaufspannung
method-limited = { $current }, { $power } nach { $time }
method-power-class = { $power } nach { $time }

## Ränge, Klassen, Grenzen

method-ranks = Ränge
    .text = Netzteil i ist sicher besser als Netzteil j, wenn sich ihre Wertungen um mehr als 2·√(u<sub>i</sub>² + u<sub>j</sub>²) unterscheiden. Ein Rang steht als Intervall da: von eins mehr als der Anzahl der sicher besseren Netzteile bis zur Anzahl derer, die nicht sicher schlechter sind. Wo beide Enden gleich sind, ist es eine einzige Zahl. Eine Wertung mit unbekannter Unsicherheit wird eingereiht, als wäre sie genau, und gekennzeichnet. Dieselbe Regel entscheidet in Vergleichen, ob ein Unterschied so genannt wird.
method-classes = Klassen
    .text = Nach der Ausgangsleistung auf dem Typenschild, alle Anschlüsse zusammen:
method-limits = Was hier offenbleibt
    .sample = Gemessen wurde ein Exemplar. Ein anderes desselben Modells kann abweichen, und keine Zahl hier sagt, um wie viel.
    .verdicts = Von uns gemessen ist keine Zertifizierung. Urteile vergleichen unsere Messwerte mit veröffentlichten Grenzwerten; die Marktüberwachung hat ihre eigenen Exemplare, Toleranzen und Verfahren.
    .safety = Nichts hier beurteilt die elektrische Sicherheit: keine Isolation, keine Fehlerprüfungen. Ein Ableitstrom, eine Leistung oder eine Temperatur neben einem einzelnen Wert einer Norm ist keine Beurteilung der Sicherheit.
    .surface = Eine Oberflächentemperatur wurde an den genannten Stellen und bei den genannten Lasten abgelesen, in ruhender Luft.
    .sources = Einige Grenzwerte sind aus Sekundärquellen bekannt; die <a href="{ $rules }">Seite jeder Vorschrift</a> sagt, welche.
method-engine = Programm { $engine }; Prüfsumme aller Grenzwerte, Formeln und Klassen: <code>{ $digest }</code>
method-caution = <strong>Netzspannung ist gefährlich.</strong> Messungen am Netz verlangen geeignete Geräte und die nötige Ausbildung. Beachten Sie die elektrotechnischen Vorschriften Ihres Landes, und überlassen Sie Arbeiten an der Installation Fachkräften.
