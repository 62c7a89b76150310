# Words that many pages use: verdicts, quantities, parts of an adapter.

units = { $count ->
    [one] { $count } unit
   *[other] { $count } units
}
not-measured = not measured
lists-lacking = Without a figure
chart-numbers = Numbers of this chart
uncertainty-unknown = uncertainty not known
sample = sample { $name }
all-classes = all classes
class-up-to = up to { $to } W
class-between = over { $over } to { $to } W
class-over = over { $over } W
class-called = class { $class }

## Verdicts

outcome-pass = pass
outcome-conditional-pass = conditional pass
outcome-conditional-fail = conditional fail
outcome-fail = fail
outcome-incomplete = incomplete
outcome-not-assessed = not assessed
outcome-passes = pass or conditional pass
outcome-fails = fail or conditional fail
outcome-conditional-meaning = Conditional: nearer to the limit than the uncertainty of the measurement.
outcome-pass-meaning = inside the limit by more than the uncertainty of the measurement
outcome-conditional-pass-meaning = inside the limit, but by less than the uncertainty of the measurement
outcome-conditional-fail-meaning = outside the limit, but by less than the uncertainty of the measurement
outcome-fail-meaning = outside the limit by more than the uncertainty of the measurement
outcome-incomplete-meaning = some of what the rule asks for was not measured
outcome-not-assessed-meaning = could not be judged; the reason is given
simple-pass-meaning = inside the limit as read; the uncertainty of the measurement is not known, so this is simple acceptance
simple-fail-meaning = outside the limit as read; the uncertainty of the measurement is not known, so this is simple acceptance

label-agrees = agrees
label-contradicts = contradicts
label-note = worth knowing
label-unknown = cannot be told

## What rules ask for

requirement-average-efficiency = Average active efficiency
requirement-no-load = No-load power
requirement-ten-percent-efficiency = Efficiency at 10 % load
requirement-power-factor = Power factor

category-basic = basic voltage
category-low = low voltage
category-multiple = multiple voltage

category-standard = standard voltage
category-any = any
category-ac-dc-basic = AC-DC basic
category-ac-dc-low = AC-DC low
category-ac-ac-basic = AC-AC basic
category-ac-ac-low = AC-AC low
category-class-a = class a any

## Of an adapter

connector-usb-c = USB-C
connector-usb-a = USB-A
connector-barrel = barrel
connector-other = other

recovery-auto = by itself
recovery-replug = after unplugging the load
recovery-mains = after unplugging from the mains
recovery-none = did not recover

other-ports-held = kept their output
other-ports-reset = were reset for a moment
other-ports-lost = lost their output
other-ports-none = no other ports

material-plastic = plastic
material-metal = metal
material-glass = glass
material-wood = wood
material-rubber = rubber

## Measured quantities

quantity-input-power = input power
quantity-no-load-power = no-load power
quantity-input-voltage = input voltage
quantity-input-current = input current
quantity-peak-input-current = peak input current
quantity-power-factor = power factor
quantity-current-thd = input current THD
quantity-output-voltage = output voltage
quantity-output-current = output current
quantity-output-power = output power
quantity-temperature = temperature
quantity-ambient = ambient temperature
quantity-surface = surface temperature
quantity-line-voltage = line voltage, sampled
quantity-line-current = line current, sampled

other-ripple = Ripple and noise, peak to peak, 20 MHz
other-load-regulation = Load regulation
other-line-regulation = Line regulation
other-turn-on = Turn-on delay
other-hold-up = Hold-up time
other-inrush = Inrush current, peak
other-leakage = Leakage (touch) current
other-noise = Acoustic noise
