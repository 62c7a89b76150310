//! Invented overload tests: the load raised step by step until the port lets go.

use super::chance::Chance;
use super::measure::decimals;
use super::physics::Design;
use crate::bench::record::{Overload, OverloadStep, PortState, Protection, Record};

/// How a port of the collection protects itself; `None`: only the trip current was written down.
fn protection(model: &str) -> Option<Protection> {
    use Protection::{ConstantCurrent, Foldback, Hiccup, ShutOff};
    Some(match model {
        "LF-15C" | "LF-20C" | "LF-30C" | "BH-45CA" | "LF-65C" | "TW-65CCA" | "TW-100CC"
        | "TW-120CCA" => Hiccup,
        "HK-10A" | "LF-45C" | "LF-100Q" => ConstantCurrent,
        "UF-24AA" | "GS-75C" => Foldback,
        "IB-27C" | "QM-45C" | "QM-65C" | "OD-70CA" | "LF-140C" | "UF-140CC" | "LF-240C" => ShutOff,
        _ => return None,
    })
}

/// Loads below the rated current, as shares of it; from there the load rises by [`STEP`].
const BELOW: [f64; 5] = [0.0, 0.5, 0.8, 0.9, 0.96];
const STEP: f64 = 0.03;

/// Gives the overload tests of a record their steps.
pub(super) fn step_by_step(record: &mut Record, design: &Design, chance: &mut Chance) {
    let Some(protection) = protection(&record.unit.model) else {
        return;
    };
    for overload in &mut record.overloads {
        let (Some(nominal_v), Some(rated_a), Some(trip_a)) = (
            overload.voltage_v,
            overload.rated_current_a,
            overload.trip_current_a,
        ) else {
            continue;
        };
        let bench = Steps {
            design,
            nominal_v,
            trip_a,
        };
        overload.steps = bench.raised(rated_a, protection, chance);
        details(overload, protection, chance);
    }
}

struct Steps<'a> {
    design: &'a Design,
    nominal_v: f64,
    trip_a: f64,
}

impl Steps<'_> {
    fn raised(
        &self,
        rated_a: f64,
        protection: Protection,
        chance: &mut Chance,
    ) -> Vec<OverloadStep> {
        let currents = BELOW
            .into_iter()
            .chain((0..).map(|n| 1.0 + STEP * f64::from(n)))
            .map(|share| decimals(share * rated_a, 2));
        let mut steps = Vec::new();
        let mut beyond = 0;
        for set_a in currents {
            if set_a <= self.trip_a {
                steps.push(self.good(set_a, chance));
                continue;
            }
            beyond += 1;
            let step = self.beyond(set_a, beyond, protection, chance);
            let over = step.state == Some(PortState::Off)
                || step.state == Some(PortState::Cycling) && beyond == 2;
            steps.push(step);
            if over {
                break;
            }
        }
        steps
    }

    fn good(&self, set_a: f64, chance: &mut Chance) -> OverloadStep {
        let current_a = set_a * (1.0 + 0.0008 * chance.bell());
        let voltage_v = self.design.terminal_voltage_v(self.nominal_v, current_a);
        OverloadStep {
            set_current_a: set_a,
            current_a: Some(decimals(current_a, 3)),
            voltage_v: Some(decimals(voltage_v * (1.0 + 0.0002 * chance.bell()), 3)),
            state: Some(PortState::On),
            held_s: Some(if set_a > 0.0 { 30.0 } else { 5.0 }),
        }
    }

    fn beyond(
        &self,
        set_a: f64,
        nth: u32,
        protection: Protection,
        chance: &mut Chance,
    ) -> OverloadStep {
        let bare = OverloadStep {
            set_current_a: set_a,
            current_a: None,
            voltage_v: None,
            state: None,
            held_s: None,
        };
        let nothing = OverloadStep {
            current_a: Some(0.0),
            voltage_v: Some(decimals(0.02 + 0.02 * chance.bell(), 2)),
            state: Some(PortState::Off),
            ..bare.clone()
        };
        // Past the knee the voltage falls quickly; below some volts the control stops.
        let depth = f64::from(nth);
        let sagging_v = decimals(self.nominal_v * (0.99 - 0.16 * depth), 2);
        match protection {
            Protection::ShutOff => nothing,
            Protection::Hiccup => OverloadStep {
                state: Some(PortState::Cycling),
                held_s: Some(60.0),
                ..bare
            },
            Protection::ConstantCurrent | Protection::Foldback if nth > 3 => nothing,
            Protection::ConstantCurrent => OverloadStep {
                current_a: Some(decimals(self.trip_a * (1.0 + 0.002 * chance.bell()), 3)),
                voltage_v: Some(sagging_v),
                state: Some(PortState::Limited),
                held_s: Some(10.0),
                ..bare
            },
            Protection::Foldback => OverloadStep {
                current_a: Some(decimals(self.trip_a * (1.04 - 0.26 * depth), 3)),
                voltage_v: Some(sagging_v),
                state: Some(PortState::Limited),
                held_s: Some(10.0),
                ..bare
            },
        }
    }
}

/// What is written beside the steps. The steps tell the power and, where the current was held, the
/// trip current too.
fn details(overload: &mut Overload, protection: Protection, chance: &mut Chance) {
    use crate::bench::record::Recovery;
    overload.last_good_power_w = None;
    match protection {
        Protection::ConstantCurrent => overload.trip_current_a = None,
        // A slow ramp gave the current; the steps alone would not be as fine.
        Protection::Foldback => {}
        Protection::Hiccup | Protection::ShutOff => {
            let inside = overload.trip_current_a < overload.rated_current_a;
            if chance.says(0.5) && !inside {
                overload.trip_current_a = None;
            }
        }
    }
    // Half of the testers write down what they saw; the steps tell it anyway.
    overload.protection = chance.says(0.5).then_some(protection);
    if overload.recovery == Some(Recovery::Auto) {
        overload.recovery_s = Some(decimals(chance.between(0.4, 2.6), 1));
    }
    if protection == Protection::Hiccup {
        overload.short_circuit_input_power_w = Some(decimals(chance.between(0.12, 0.9), 2));
    }
    overload.line_voltage_v = Some(115.0);
}
