//! How an adapter is loaded: which current each output carries at each load.
//!
//! The plan that a tester works by, the form that shows the current to set, the warnings that
//! hold a reading against it and the rated power of a verdict all take it from here.

use crate::bench::record::{Connector, Mode, Port, Unit};
use crate::standards::Standards;

/// Proportional allocation: D = nameplate power / sum of the outputs' V·I where that is below 1,
/// else 1 (10 CFR 430 Subpart B Appendix Z, several outputs). Powers in watts.
pub fn allocation(nameplate_w: f64, outputs_together_w: f64) -> f64 {
    if outputs_together_w > nameplate_w && outputs_together_w > 0.0 {
        nameplate_w / outputs_together_w
    } else {
        1.0
    }
}

/// Current in amperes that an output carries at a load in percent: load x rated current x D.
pub fn load_current_a(load_percent: f64, rated_current_a: f64, allocation: f64) -> f64 {
    load_percent / 100.0 * rated_current_a * allocation
}

/// A current as it is set on a load, in amperes to the milliampere: "0.813".
pub fn to_milliampere(current_a: f64) -> String {
    // Halves go up, and the dust of binary fractions does not send them down.
    let milliamperes = (current_a * 1000.0 + 1e-6).round();
    format!("{:.3}", milliamperes / 1000.0)
}

/// Lowest and highest voltage of a port, volts. Fixed voltages count; a programmable range only
/// where there are none, because its lower end is not a rating of its own.
pub fn port_voltages(port: &Port) -> Option<(f64, f64)> {
    let is_fixed = |m: &&Mode| matches!(m, Mode::Fixed { .. });
    let any_fixed = port.modes.iter().any(|m| is_fixed(&m));
    let of = |m: &Mode| [m.voltage_min_v(), m.voltage_max_v()];
    let voltages = || {
        port.modes
            .iter()
            .filter(move |m| !any_fixed || is_fixed(m))
            .flat_map(of)
    };
    Some((voltages().reduce(f64::min)?, voltages().reduce(f64::max)?))
}

/// Rated current of a port at one of its voltages, amperes: the largest that a mode gives there. A
/// programmable range gives no more than the port's power.
pub fn rated_current_a(port: &Port, voltage_v: f64) -> Option<f64> {
    const SAME_V: f64 = 1e-6;
    let at = |fixed: bool| {
        port.modes
            .iter()
            .filter(move |m| matches!(m, Mode::Fixed { .. }) == fixed)
            .filter(|m| {
                (m.voltage_min_v() - SAME_V..=m.voltage_max_v() + SAME_V).contains(&voltage_v)
            })
            .map(|m| m.current_a())
            .reduce(f64::max)
    };
    at(true).or_else(|| {
        let range = at(false)?;
        Some(match port.power_w {
            Some(power) if voltage_v > 0.0 => range.min(power / voltage_v),
            _ => range,
        })
    })
}

/// Where a port gives its full power by a programmable range alone: volts and amperes of that load.
/// `None`: a fixed voltage reaches the power, or no range does, or a fixed voltage is higher than
/// where the range reaches it, or the port has no fixed voltage and its range is its rating anyway.
///
/// The method does not say where a range is loaded. Read here: at the range's nominal voltage where
/// that gives the power, else at the highest voltage at which V·I of the label is the power.
pub fn full_power_in_range(port: &Port, unit: &Unit, standards: &Standards) -> Option<(f64, f64)> {
    let nameplate_w = unit.nameplate.output_power_w;
    let power_w = match (port.power_w, unit.ports.len()) {
        (Some(own), _) => own.min(nameplate_w),
        (None, 1) => nameplate_w,
        (None, _) => return None,
    };
    let least_w = power_w * (1.0 - standards.procedure.cross_checks.label_power_percent / 100.0);
    let fixed = || {
        port.modes.iter().filter_map(|m| match *m {
            Mode::Fixed {
                voltage_v,
                current_a,
            } => Some((voltage_v, current_a)),
            Mode::Pps { .. } | Mode::Avs { .. } => None,
        })
    };
    let highest_fixed_v = fixed().map(|(volts, _)| volts).reduce(f64::max)?;
    if fixed().any(|(volts, amps)| volts * amps >= least_w) {
        return None;
    }
    port.modes
        .iter()
        .filter_map(|mode| {
            // Ranges are set in steps of 20 mV (programmable) or 100 mV (adjustable).
            let steps_per_v = match mode {
                Mode::Fixed { .. } => return None,
                Mode::Pps { .. } => 50.0,
                Mode::Avs { .. } => 10.0,
            };
            let (end_v, amps) = (mode.voltage_max_v(), mode.current_a());
            if end_v * amps < least_w {
                return None;
            }
            let nominal_v = standards
                .pd_rules
                .pps
                .range_to(end_v)
                .map(|range| range.nominal_v)
                .filter(|_| matches!(mode, Mode::Pps { .. }))
                .filter(|&v| v >= mode.voltage_min_v() && v * amps >= least_w);
            let volts = nominal_v.unwrap_or_else(|| {
                let at_power = (power_w / amps).clamp(mode.voltage_min_v(), end_v);
                (at_power * steps_per_v + 1e-6).floor() / steps_per_v
            });
            // To the milliampere, downwards: the range gives no more than the power.
            let most_a = (power_w / volts * 1000.0 + 1e-6).floor() / 1000.0;
            (volts >= highest_fixed_v).then_some((volts, amps.min(most_a)))
        })
        .reduce(|best, next| if next.0 > best.0 { next } else { best })
}

/// Is the unit a USB PD EPS of the method, whose adaptive ports are rated 2 A at the lowest
/// voltage? `None`: it has no USB PD port. `Err`: it has one, but lies outside the definition, and
/// why; then it is tested as any adaptive unit.
pub fn usb_pd_unit(unit: &Unit, standards: &Standards) -> Option<Result<(), String>> {
    let rule = &standards.procedure.usb_pd_unit;
    let mut ports = unit.ports.iter().filter(|p| is_usb_pd(p)).peekable();
    ports.peek()?;
    for port in ports {
        let (lowest, highest) = port_voltages(port)?;
        if highest > rule.voltage_max_v || lowest < rule.voltage_min_v {
            let outside = if highest > rule.voltage_max_v {
                highest
            } else {
                lowest
            };
            return Some(Err(format!(
                "port {} offers {outside} V, outside the {} V to {} V of a USB PD unit",
                port.label, rule.voltage_min_v, rule.voltage_max_v
            )));
        }
        let current = rated_current_a(port, lowest)?;
        if current < rule.lowest_voltage_at_least_a {
            return Some(Err(format!(
                "port {} gives {current} A at {lowest} V, less than the {} A of a USB PD unit",
                port.label, rule.lowest_voltage_at_least_a
            )));
        }
        for most in &rule.at_most {
            let at = port.modes.iter().find(|m| {
                matches!(m, Mode::Fixed { voltage_v, .. } if *voltage_v == most.voltage_v)
                    && m.current_a() > most.current_a
            });
            if let Some(mode) = at {
                return Some(Err(format!(
                    "port {} gives {} A at {} V, more than the {} A of a USB PD unit",
                    port.label,
                    mode.current_a(),
                    most.voltage_v,
                    most.current_a
                )));
            }
        }
    }
    Some(Ok(()))
}

/// A USB-C port that agrees on its voltage.
pub fn is_usb_pd(port: &Port) -> bool {
    port.connector == Some(Connector::UsbC) && port.negotiates()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_ports_of_65_w_on_a_nameplate_of_65_w_carry_half_their_current() {
        // Worked derating: D = 65 / 130 = 0.5; 20 V 3.25 A each.
        let d = allocation(65.0, 130.0);
        let loads = [100.0, 75.0, 50.0, 25.0].map(|load| load_current_a(load, 3.25, d));
        assert_eq!(loads, [1.625, 1.21875, 0.8125, 0.40625]);
    }

    #[test]
    fn half_a_milliampere_goes_up() {
        let d = allocation(65.0, 130.0);
        assert_eq!(to_milliampere(load_current_a(50.0, 3.25, d)), "0.813");
        assert_eq!(to_milliampere(load_current_a(10.0, 3.25, d)), "0.163");
        assert_eq!(to_milliampere(load_current_a(25.0, 3.25, d)), "0.406");
    }

    #[test]
    fn outputs_within_the_nameplate_carry_their_own_current() {
        assert_eq!(allocation(100.0, 42.5), 1.0);
        assert_eq!(allocation(100.0, 100.0), 1.0);
        assert_eq!(allocation(100.0, 0.0), 1.0);
    }
}
