# Ports of a unit and how they share.

ports-none = No port has been recorded.
port = Port { $port }
port-no-voltages = Its voltages were neither recorded nor measured.
port-voltages = Voltages of port { $port }
    .measured = Voltages of port { $port }: claimed, measured
    .ruled = Voltages of port { $port }: asked for, claimed, measured
    .advertised = Voltages of port { $port }: claimed, advertised, measured
    .all = Voltages of port { $port }: asked for, claimed, advertised, measured
port-voltage = Voltage
port-rules = Rules ask for
port-claims = Label claims
port-list = List advertises
port-window = Voltage window
port-nothing = nothing
port-not-claimed = not claimed
port-not-listed = not in the list
port-findings = What is to be said of port { $port }
port-objects = { $count ->
    [one] { $count } power data object of the list, bit by bit
   *[other] { $count } power data objects of the list, bit by bit
}
port-object = Object { $number }: <code>{ $word }</code>
port-object-fields = Fields of object { $number }, from the highest bit down
port-field = Field
port-holds = Holds
port-says = Says
port-bits = Bits
port-connector = Connector
port-rated = Rated
    .nameplate = { $power } by the unit’s nameplate, this being its only port
    .list = { $power } by its capability list; the label states none
    .label = { $power } by its label
port-group = Group on the label
    .text = { $group }: shares with the other ports so marked
port-advertised = Advertised
    .text = { $power } by its capability list
port-must-offer = Must offer at least
port-asked = Asked for beside programmable ranges
port-missing = Missing or too little
port-optional = Optional
port-cable = Cable
    .text = { $cable }, for up to { $current } at up to { $voltage }
port-measured-at = { $percent } load, { $run }
port-offered = offered
port-too-little = too little
port-is-missing = missing
port-is-optional = optional
window-within = within
window-within-unsure = within, by less than ±
window-outside-unsure = outside, by less than ±
window-outside = outside
window-not-shown = not shown
rule-kept = keeps the rule
rule-broken = against the rule
window-words = { $count ->
    [one] { $count } reading, { $low } to { $high }; margin { $margin }
   *[other] { $count } readings, { $low } to { $high }; margin { $margin }
}

## Sharing

sharing = Sharing between ports
sharing-settled = settled
    .how = Of every two ports it was observed whether one changes what the other is offered. A shared limit that never bites stays unseen.
sharing-unsettled = not settled
sharing-contradictions = These observations contradict each other, the label or the rules:
sharing-combinations = Combinations of ports
    .caption = What each port offers in each combination; in brackets the difference from the port alone
sharing-in-use = Ports in use
sharing-together = Together
sharing-delivered = Delivered
sharing-attaching = Attaching and detaching
sharing-observation = observation { $number }
sharing-not-in-use = not in use
sharing-not-read = not read
sharing-not-whole = not whole
sharing-groups = Groups, and what shows them
sharing-untried = { $count ->
    [one] Not tried: { $count } combination
   *[other] Not tried: { $count } combinations
}
sharing-needed = (needed before the groups are settled)
sharing-confirming = { $combinations }: would only confirm, or may leave no question once the others are known
listed = { $first } and { $last }
sharing-held = the others kept their output
sharing-reset = the others were reset for a moment
sharing-lost = the others lost their output
sharing-no-other = there was no other port in use
sharing-observations = { $count ->
    [one] observation { $numbers }
   *[other] observations { $numbers }
}
attached-another = Another attached: { $effect }
attached = { $port } attached: { $effect }
attached-last = { $port } attached last
detached-again = Detached again: { $effect }
detached = { $port } detached again: { $effect }
disturbed-none = no port was disturbed
disturbed = disturbed: { $ports }
interrupted = without voltage for { $time }
down-to = down to { $voltage }
share-evidence = { $port } is offered { $before } without { $other } and { $after } with it ({ $seen })
share-none = no other port changed what it is offered, nor it theirs
share-unknown = { $count ->
    [one] not known yet: whether { $ports } belongs to it
   *[other] not known yet: whether { $ports } belong to it
}
group-alone = { $port } by itself
group-not-seen = { $port }, not seen to share
group-seems = { $ports } seem to share
group-shares = { $ports } share
offered-most = At most { $power } are offered together, with { $ports }; the nameplate says { $nameplate }.
offered-all = All ports together are offered { $power }.
delivered-most = At most { $power } were delivered together, measured by us.
