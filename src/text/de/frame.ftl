# Der Rahmen jeder Seite, und Seiten, die sagen, was nicht geklappt hat.

skip = Zum Inhalt springen
demo-region = Vorführung
demo = <strong>Vorführung.</strong> Alle Daten sind hier erfunden: Diese Hersteller und Netzteile gibt es nicht.
site-navigation = Website
nav-ranking = Rangliste
nav-choose = Auswählen
nav-compare = Vergleichen
nav-rules = Vorschriften
nav-method = Verfahren
nav-coming = Demnächst
nav-desk = Messplatz
nav-sign-in = Anmelden
signed-in-as = Angemeldet als { $name }
sign-out = Abmelden
feed-title = { $site }: Ergebnisse
languages = Sprachen
footer = Von uns an jeweils einem Exemplar gemessen. Keine Zertifizierung. <a href="{ $method }">Wie gemessen und geurteilt wird</a>
data-not-loaded = Die Daten dieser Seite ließen sich nicht laden ({ $cause }). Filter und Vergleiche brauchen sie.

## Was nicht geklappt hat

error-search = Hersteller oder Modell suchen
error-search-button = Suchen
error-to-ranking = Zur Rangliste
error-again = Nichts von dem, was Sie eingegeben haben, ist verloren: Es wartet in dieser Seite.
error-again-button = Noch einmal senden
status = Status { $code }
error-request = Anfrage <code>{ $id }</code>
error-not-found = Nicht gefunden
error-not-possible = Hier nicht möglich
error-not-allowed = Nicht erlaubt
error-not-saved = Nicht gespeichert
error-please-wait = Bitte warten
error-not-now = Im Moment nicht
error-no-room = Kein Platz
error-too-large = Zu groß
error-ours = Unser Fehler
error-unreadable = Das ist nicht lesbar
no-page = Unter dieser Adresse gibt es keine Seite.
nothing-here = Hier ist nichts (mehr).
no-class = Es gibt keine Leistungsklasse namens „{ $id }“.
too-many-attempts = Zu viele Versuche. Bitte warten Sie { $seconds } Sekunden.
method-not-allowed = Diese Adresse nimmt solche Anfragen nicht an.
too-large = Was gesendet wurde, ist größer, als diese Website annimmt.
no-room = Auf dem Datenträger ist kein Platz mehr; es wurde nichts gespeichert.
took-too-long = Das hat zu lange gedauert und wurde abgebrochen. Bitte versuchen Sie es noch einmal.
busy = Die Datenbank ist gerade beschäftigt. Bitte versuchen Sie es gleich noch einmal.
our-mistake = Bei uns ist etwas schiefgegangen. Es wurde im Protokoll festgehalten.
unreadable-kind = Was gesendet wurde, ist von einer Art, die hier nicht gelesen werden kann.
unreadable-request = Diese Anfrage war nicht zu verstehen.
unreadable-query = Der Teil der Adresse nach dem Fragezeichen ist nicht lesbar: { $cause }.
unreadable-form = Das Formular ist nicht lesbar: { $cause }.

## Datumsangaben

month-01 = Jan.
month-02 = Feb.
month-03 = März
month-04 = Apr.
month-05 = Mai
month-06 = Juni
month-07 = Juli
month-08 = Aug.
month-09 = Sept.
month-10 = Okt.
month-11 = Nov.
month-12 = Dez.
