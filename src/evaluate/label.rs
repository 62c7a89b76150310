//! What the label claims, held against physics, against itself and against the measurement.

use super::compliance::marking_regimes;
use super::evaluation::{LabelCheck, LabelOutcome, Outcome, RegimeResult, RunResult};
use super::points;
use crate::bench::record::{Connector, Mode, Port, Record};
use crate::quantity::divisor;
use crate::standards::{Role, Standards};

/// All checks that the label gives cause for.
pub fn checks(
    record: &Record,
    runs: &[RunResult],
    regimes: &[RegimeResult],
    standards: &Standards,
) -> Vec<LabelCheck> {
    let mut checks = Vec::new();
    checks.extend(implied_power_factor(record, runs, standards));
    checks.extend(efficiency_mark(record, regimes, standards));
    checks.extend(port_powers(record, standards));
    checks.extend(
        record
            .unit
            .ports
            .iter()
            .filter_map(|port| pd_power_rules(port, standards)),
    );
    checks
}

/// (P_out / 0.9) / (V_min I_label): what the printed input current says of the power factor.
fn implied_power_factor(
    record: &Record,
    runs: &[RunResult],
    standards: &Standards,
) -> Option<LabelCheck> {
    let plate = &record.unit.nameplate;
    let rule = &standards.procedure.implied_power_factor;
    let volt_amperes = divisor(plate.input_voltage_min_v? * plate.input_current_a?)?;
    let implied = plate.output_power_w / rule.assumed_efficiency / volt_amperes;
    let measured = runs
        .iter()
        .filter(|r| r.informative.is_none())
        .filter(|r| {
            r.rated_power_w
                .is_some_and(|p| p > 0.5 * plate.output_power_w)
        })
        .find_map(|r| points::at_percent(&r.points, 100.0, 2.0)?.power_factor);
    // Without any loss at all the input would still need this power factor: above 1 no adapter can.
    let lossless = plate.output_power_w / volt_amperes;
    let (result, meaning) = if lossless > 1.0 {
        (
            LabelOutcome::Contradicts,
            "no power factor is above 1: the printed input current is too small for the printed output power",
        )
    } else if implied > 1.0 {
        (
            LabelOutcome::Note,
            "only a unit more efficient than assumed here can keep to the printed input current",
        )
    } else if implied >= rule.active_correction_from {
        (
            LabelOutcome::Note,
            "suggests active power factor correction",
        )
    } else {
        (
            LabelOutcome::Note,
            "suggests no active power factor correction",
        )
    };
    Some(LabelCheck {
        check: "implied-power-factor".to_owned(),
        port: None,
        claim: Some(format!("{implied:.3}")),
        found: measured.map(|pf| format!("{pf:.3}")),
        result,
        message: format!(
            "the label implies a power factor of {implied:.2} at the lowest input voltage; {meaning}"
        ),
        source: rule.source.clone(),
    })
}

/// The efficiency mark against the highest level whose limits the measurement meets.
fn efficiency_mark(
    record: &Record,
    regimes: &[RegimeResult],
    standards: &Standards,
) -> Option<LabelCheck> {
    let claim = record.unit.nameplate.efficiency_mark.as_deref()?;
    let outcome = |mark: &str| {
        let regime = marking_regimes(standards, mark).next()?;
        regimes
            .iter()
            .find(|r| r.regime == regime.id)
            .map(|r| r.result)
    };
    let met = |o: Option<Outcome>| matches!(o, Some(Outcome::Pass | Outcome::ConditionalPass));
    // The tables stand in falling order of their levels.
    let reached = standards
        .regimes
        .iter()
        .filter(|r| r.role != Role::Earlier)
        .filter_map(|r| r.marking.as_deref())
        .find(|level| met(outcome(level)));
    let (result, message) = match outcome(claim) {
        Some(Outcome::Pass) => (
            LabelOutcome::Agrees,
            format!("the measurement meets level {claim}"),
        ),
        Some(Outcome::ConditionalPass) => (
            LabelOutcome::Agrees,
            format!("the measurement meets level {claim}, though by less than its uncertainty"),
        ),
        Some(Outcome::ConditionalFail) => (
            LabelOutcome::Note,
            format!("the measurement misses level {claim}, though by less than its uncertainty"),
        ),
        Some(Outcome::Fail) => (
            LabelOutcome::Contradicts,
            format!("the measurement does not meet level {claim}"),
        ),
        Some(Outcome::Incomplete | Outcome::NotAssessed) => (
            LabelOutcome::Unknown,
            format!("not measured enough to tell whether level {claim} is met"),
        ),
        None => (
            LabelOutcome::Unknown,
            format!("no limits on file for level {claim}"),
        ),
    };
    let found = reached.map(|level| format!("level {level}"));
    let message = match (&found, result) {
        (Some(level), LabelOutcome::Contradicts) => format!("{message}; it meets {level}"),
        _ => message,
    };
    Some(LabelCheck {
        check: "efficiency-mark".to_owned(),
        port: None,
        claim: Some(format!("level {claim}")),
        found,
        result,
        message,
        source: "International Efficiency Marking Protocol v3.0 (Sept 2013): the highest level whose average and no-load limits are both met (secondary source)".to_owned(),
    })
}

/// Port powers against the total, and each port's fixed voltages against its power.
fn port_powers(record: &Record, standards: &Standards) -> Vec<LabelCheck> {
    let total = record.unit.nameplate.output_power_w;
    let check =
        |port: Option<&Port>, claim: String, found: String, result, message: String| LabelCheck {
            check: "port-power".to_owned(),
            port: port.map(|p| p.label.clone()),
            claim: Some(claim),
            found: Some(found),
            result,
            message,
            source: "arithmetic: power = voltage x current".to_owned(),
        };
    let rounding = 1.0 + standards.procedure.cross_checks.label_power_percent / 100.0;
    let mut checks = Vec::new();
    let powers: Option<Vec<f64>> = record.unit.ports.iter().map(|p| p.power_w).collect();
    if let Some(powers) = powers.filter(|p| !p.is_empty()) {
        let sum: f64 = powers.iter().sum();
        let (result, message) = if powers.iter().any(|&p| p > total * rounding) {
            (
                LabelOutcome::Contradicts,
                "a port alone is rated above the total".to_owned(),
            )
        } else if sum > total * rounding {
            (
                LabelOutcome::Note,
                format!(
                    "the ports add up to {sum} W: they cannot all give their full power at once"
                ),
            )
        } else if sum * rounding < total {
            (
                LabelOutcome::Contradicts,
                format!("the ports add up to only {sum} W"),
            )
        } else {
            (
                LabelOutcome::Agrees,
                "the ports add up to the total".to_owned(),
            )
        };
        checks.push(check(
            None,
            format!("{total} W"),
            format!("{sum} W"),
            result,
            message,
        ));
    }
    for port in &record.unit.ports {
        let Some(power) = port.power_w else { continue };
        for mode in &port.modes {
            if let Mode::Fixed {
                voltage_v,
                current_a,
            } = *mode
                && voltage_v * current_a > power * rounding
            {
                checks.push(check(
                    Some(port),
                    format!("{power} W"),
                    format!("{voltage_v} V {current_a} A"),
                    LabelOutcome::Contradicts,
                    format!("{voltage_v} V at {current_a} A is more than the port's {power} W"),
                ));
            }
        }
    }
    checks
}

/// What a USB PD source of the port's rating must offer.
fn pd_power_rules(port: &Port, standards: &Standards) -> Option<LabelCheck> {
    if port.connector != Some(Connector::UsbC) || !port.negotiates() {
        return None;
    }
    let rating = port.power_w?;
    let rules = &standards.pd_rules;
    let (result, found, message) = match rules.required(rating) {
        None => (
            LabelOutcome::Unknown,
            None,
            format!("no USB PD power rules above {rating} W on file"),
        ),
        Some(required) => {
            let offered = |v: f64| {
                port.modes
                    .iter()
                    .filter_map(|m| match *m {
                        Mode::Fixed {
                            voltage_v,
                            current_a,
                        } if (voltage_v - v).abs() < 0.01 => Some(current_a),
                        _ => None,
                    })
                    .reduce(f64::max)
            };
            let faults: Vec<String> = required
                .iter()
                .filter_map(|&(v, a)| match offered(v) {
                    None => Some(format!("{v} V is missing")),
                    Some(i) if i < a - rules.current_tolerance_a => {
                        Some(format!("{v} V offers {i} A, at least {a:.2} A expected"))
                    }
                    Some(_) => None,
                })
                .collect();
            if faults.is_empty() {
                (
                    LabelOutcome::Agrees,
                    None,
                    format!("offers what a {rating} W source must"),
                )
            } else {
                (
                    LabelOutcome::Contradicts,
                    Some(faults.join("; ")),
                    format!("a {rating} W source must offer more: {}", faults.join("; ")),
                )
            }
        }
    };
    Some(LabelCheck {
        check: "pd-power-rules".to_owned(),
        port: Some(port.label.clone()),
        claim: Some(format!("{rating} W")),
        found,
        result,
        message,
        source: rules.citation.clone(),
    })
}
