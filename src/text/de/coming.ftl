# Was demnächst getestet wird, und was Leser vorschlagen.

coming = Demnächst
    .description = Was demnächst getestet wird und wann die Ergebnisse geplant sind.
    .lead = Was demnächst getestet wird. Ein geplanter Termin ist ein Plan: Der Messplatz entscheidet.
coming-dated = Mit geplantem Termin
    .none = Zurzeit ist kein Termin geplant.
coming-planned = Geplant für
coming-state = Stand
coming-later = Später
coming-published = Inzwischen mit Ergebnis
coming-follow = Auf dem Laufenden bleiben
coming-calendar = <a href="{ $calendar }">Kalender der geplanten Termine</a> (iCalendar, englisch); zum Abonnieren geben Sie Ihrem Kalender diese Adresse: <code>{ $address }</code>
coming-feed = <a href="{ $feed }">Feed der veröffentlichten und berichtigten Ergebnisse</a> (Atom, englisch)
coming-suggest = <a href="{ $suggest }">Ein Netzteil vorschlagen</a>: ohne Konto
coming-state-wanted = gewünscht, noch nicht gekauft
coming-state-ordered = bestellt
coming-state-here = da, wartet auf den Messplatz
coming-state-on-the-bench = auf dem Messplatz
coming-state-measured = gemessen, wird aufgeschrieben
coming-state-published = veröffentlicht
coming-state-skipped = wird nicht getestet

## Ein Netzteil vorschlagen

suggest = Ein Netzteil vorschlagen
    .description = Nennen Sie ein USB-Netzteil, das hier getestet werden soll.
    .lead = Welches USB-Netzteil soll hier getestet werden? Sie brauchen kein Konto, und über Sie wird nichts aufbewahrt: nur, was Sie eingeben.
suggest-thanks = <strong>Danke. Der Vorschlag ist angekommen.</strong> Der Prüfer entscheidet; was getestet wird, steht unter <a href="{ $coming }">Demnächst</a>.
suggest-alike = Noch nicht gesendet: Vielleicht ist es schon da.
suggest-anyway = Es ist ein anderes: vorschlagen
suggest-maker = Hersteller
suggest-model = Modell, wie auf dem Typenschild
    .short = Modell
suggest-link = Link zu seiner Seite, falls Sie einen haben
    .short = Link
suggest-why = Warum dieses? (höchstens 500 Zeichen)
    .short = Warum
suggest-it = Vorschlagen
suggest-too-many = Es warten so viele Vorschläge auf eine Entscheidung, dass zurzeit keine weiteren angenommen werden. Bitte versuchen Sie es in einigen Wochen noch einmal.
suggest-expected-line = erwartet wird eine Zeile mit 1 bis { $most } Zeichen.
suggest-expected-text = erwartet wird ein Text von höchstens { $most } Zeichen.
suggest-expected-link = erwartet wird eine Adresse, die mit https:// oder http:// beginnt.
alike-tested = getestet
alike-queued = auf der Warteliste: { $state }
queue-wanted = gewünscht
queue-ordered = bestellt
queue-here = da
queue-on-the-bench = auf dem Messplatz
queue-measured = gemessen
queue-published = veröffentlicht
queue-skipped = übersprungen
