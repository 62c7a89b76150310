# Wörter, die auf vielen Seiten stehen: Urteile, Größen, Teile eines Netzteils.

units = { $count ->
    [one] { $count } Netzteil
   *[other] { $count } Netzteile
}
not-measured = nicht gemessen
lists-lacking = Ohne Messwert
chart-numbers = Zahlen zu diesem Diagramm
uncertainty-unknown = Unsicherheit unbekannt
sample = Exemplar { $name }
all-classes = alle Klassen
class-up-to = bis { $to } W
class-between = über { $over } bis { $to } W
class-over = über { $over } W
class-called = Klasse { $class }

## Urteile

outcome-pass = erfüllt
outcome-conditional-pass = bedingt erfüllt
outcome-conditional-fail = bedingt nicht erfüllt
outcome-fail = nicht erfüllt
outcome-incomplete = unvollständig
outcome-not-assessed = nicht beurteilt
outcome-passes = erfüllt oder bedingt erfüllt
outcome-fails = nicht oder bedingt nicht erfüllt
outcome-conditional-meaning = Bedingt: näher am Grenzwert, als die Messunsicherheit groß ist.
outcome-pass-meaning = innerhalb des Grenzwerts, mit mehr Abstand als die Messunsicherheit
outcome-conditional-pass-meaning = innerhalb des Grenzwerts, aber mit weniger Abstand als die Messunsicherheit
outcome-conditional-fail-meaning = außerhalb des Grenzwerts, aber mit weniger Abstand als die Messunsicherheit
outcome-fail-meaning = außerhalb des Grenzwerts, mit mehr Abstand als die Messunsicherheit
outcome-incomplete-meaning = einiges, was die Vorschrift verlangt, wurde nicht gemessen
outcome-not-assessed-meaning = ließ sich nicht beurteilen; der Grund steht dabei
simple-pass-meaning = wie abgelesen innerhalb des Grenzwerts; die Messunsicherheit ist nicht bekannt, daher einfache Annahme
simple-fail-meaning = wie abgelesen außerhalb des Grenzwerts; die Messunsicherheit ist nicht bekannt, daher einfache Annahme

label-agrees = stimmt überein
label-contradicts = widerspricht
label-note = wissenswert
label-unknown = lässt sich nicht sagen

## Was Vorschriften verlangen

requirement-average-efficiency = Durchschnittlicher Wirkungsgrad im Betrieb
requirement-no-load = Leerlaufaufnahme
requirement-ten-percent-efficiency = Wirkungsgrad bei 10 % Last
requirement-power-factor = Leistungsfaktor

category-basic = normale Ausgangsspannung
category-low = niedrige Ausgangsspannung
category-multiple = mehrere Ausgangsspannungen

category-standard = Standardspannung
category-any = beliebig
category-ac-dc-basic = AC-DC normal
category-ac-dc-low = AC-DC niedrig
category-ac-ac-basic = AC-AC normal
category-ac-ac-low = AC-AC niedrig
category-class-a = Klasse A, beliebig

## An einem Netzteil

connector-usb-c = USB-C
connector-usb-a = USB-A
connector-barrel = Hohlstecker
connector-other = anderer

recovery-auto = von selbst
recovery-replug = nach Abstecken der Last
recovery-mains = nach Trennen vom Netz
recovery-none = nicht wieder angelaufen

other-ports-held = behielten ihre Ausgangsspannung
other-ports-reset = fielen kurz aus
other-ports-lost = verloren ihre Ausgangsspannung
other-ports-none = keine weiteren Anschlüsse

material-plastic = Kunststoff
material-metal = Metall
material-glass = Glas
material-wood = Holz
material-rubber = Gummi

## Messgrößen

quantity-input-power = Eingangsleistung
quantity-no-load-power = Leerlaufaufnahme
quantity-input-voltage = Eingangsspannung
quantity-input-current = Eingangsstrom
quantity-peak-input-current = Scheitelwert des Eingangsstroms
quantity-power-factor = Leistungsfaktor
quantity-current-thd = THD des Eingangsstroms
quantity-output-voltage = Ausgangsspannung
quantity-output-current = Ausgangsstrom
quantity-output-power = Ausgangsleistung
quantity-temperature = Temperatur
quantity-ambient = Umgebungstemperatur
quantity-surface = Oberflächentemperatur
quantity-line-voltage = Netzspannung, abgetastet
quantity-line-current = Netzstrom, abgetastet

other-ripple = Restwelligkeit und Rauschen, Spitze-Spitze, 20 MHz
other-load-regulation = Lastausregelung
other-line-regulation = Netzausregelung
other-turn-on = Einschaltverzögerung
other-hold-up = Netzausfallüberbrückungszeit
other-inrush = Einschaltstrom, Spitze
other-leakage = Ableitstrom (Berührungsstrom)
other-noise = Geräusch
