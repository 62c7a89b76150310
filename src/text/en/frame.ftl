# The frame around every page, and pages that say what went wrong.

skip = Skip to content
demo-region = Demonstration
demo = <strong>Demonstration.</strong> All data here is invented: no such makers, no such adapters.
site-navigation = Site
nav-ranking = Ranking
nav-choose = Choose
nav-compare = Compare
nav-rules = Rules
nav-method = Method
nav-coming = Coming
nav-desk = Desk
nav-sign-in = Sign in
signed-in-as = Signed in as { $name }
sign-out = Sign out
feed-title = { $site }: results
languages = Languages
footer = Measured by us on one sample each. Not a certification. <a href="{ $method }">How it is measured and judged</a>
data-not-loaded = The data of this page could not be loaded ({ $cause }). Filters and comparisons need it.

## What went wrong

error-search = Look for a maker or model
error-search-button = Search
error-to-ranking = To the ranking
error-again = Nothing that you typed is lost: it waits in this page.
error-again-button = Send it again
status = Status { $code }
error-request = request <code>{ $id }</code>
error-not-found = Not found
error-not-possible = Not possible here
error-not-allowed = Not allowed
error-not-saved = Not saved
error-please-wait = Please wait
error-not-now = Not just now
error-no-room = No room
error-too-large = Too large
error-ours = Our mistake
error-unreadable = That cannot be read
no-page = There is no page at this address.
nothing-here = There is nothing here (any more).
no-class = There is no wattage class called “{ $id }”.
too-many-attempts = Too many attempts. Please wait { $seconds } seconds.
method-not-allowed = This address does not take that kind of request.
too-large = What was sent is larger than this site takes.
no-room = There is no room left on the disk, so nothing was kept.
took-too-long = This took too long, so it was given up. Please try again.
busy = The database is busy just now. Please try again in a moment.
our-mistake = Something went wrong on our side. It has been written to the log.
unreadable-kind = What was sent is of a kind that cannot be read here.
unreadable-request = This request could not be understood.
unreadable-query = The part of the address after the question mark cannot be read: { $cause }.
unreadable-form = The form cannot be read: { $cause }.

## Dates

month-01 = Jan
month-02 = Feb
month-03 = Mar
month-04 = Apr
month-05 = May
month-06 = Jun
month-07 = Jul
month-08 = Aug
month-09 = Sep
month-10 = Oct
month-11 = Nov
month-12 = Dec
