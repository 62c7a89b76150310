# What is going to be tested, and what readers suggest.

coming = Coming
    .description = What is going to be tested, and when the results are planned.
    .lead = What is going to be tested. A planned date is a plan: the bench decides.
coming-dated = With a planned date
    .none = No date is planned at present.
coming-planned = Planned for
coming-state = State
coming-later = Later
coming-published = Has a result by now
coming-follow = To keep up
coming-calendar = <a href="{ $calendar }">Calendar of the planned dates</a> (iCalendar); to subscribe, give your calendar this address: <code>{ $address }</code>
coming-feed = <a href="{ $feed }">Feed of published and corrected results</a> (Atom)
coming-suggest = <a href="{ $suggest }">Suggest a unit</a>: no account is needed
coming-state-wanted = wanted, not bought yet
coming-state-ordered = ordered
coming-state-here = arrived, waiting for the bench
coming-state-on-the-bench = on the bench
coming-state-measured = measured, being written up
coming-state-published = published
coming-state-skipped = will not be tested

## Suggesting a unit

suggest = Suggest a unit
    .description = Name a USB power adapter that should be tested here.
    .lead = Which USB power adapter should be tested here? No account is needed, and nothing about you is kept: only what you type.
suggest-thanks = <strong>Thank you. The suggestion was taken in.</strong> The tester decides; what is going to be tested stands under <a href="{ $coming }">Coming</a>.
suggest-alike = Not sent yet: it may be here already.
suggest-anyway = It is another one: suggest it
suggest-maker = Maker
suggest-model = Model, as printed on the label
    .short = Model
suggest-link = Link to its page, if you have one
    .short = Link
suggest-why = Why this one? (at most 500 characters)
    .short = Why
suggest-it = Suggest it
suggest-too-many = So many suggestions wait for a decision that no more are taken at present. Please try again in some weeks.
suggest-expected-line = expected one line of 1 to { $most } characters.
suggest-expected-text = expected text of at most { $most } characters.
suggest-expected-link = expected an address that begins with https:// or http://.
alike-tested = tested
alike-queued = in the queue: { $state }
queue-wanted = wanted
queue-ordered = ordered
queue-here = here
queue-on-the-bench = on the bench
queue-measured = measured
queue-published = published
queue-skipped = skipped
