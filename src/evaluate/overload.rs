//! What happens above the rated current: where the output lets go, how it protects itself, how it
//! comes back, and how its power compares with figures for limited sources.
//!
//! A bench can only indicate: a comparison with one figure of a standard is no verdict on the unit.

use super::decision;
use super::evaluation::Outcome;
use super::figure::{self, FigureResult};
use super::ports::short;
use super::uncertainty::Accuracy;
use crate::bench::record::{
    Connector, MeasuredQuantity as Q, OtherPorts, Overload, OverloadStep, Port, PortState,
    Protection, Record, Recovery,
};
use crate::quantity::combined;
use crate::standards::{PowerSource, Standards};
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct OverloadResult {
    /// Place in the record's `overloads`, from 0.
    pub overload: u64,
    pub port: String,
    pub voltage_v: Option<f64>,
    /// Null where neither the record nor the label nor the capability list tells.
    pub rated_current_a: Option<f64>,
    /// `record`, `list` or `label`.
    pub rated_from: Option<String>,
    /// The last step that the port delivered in full.
    pub last_good: Option<LoadStep>,
    pub last_good_power_w: Option<f64>,
    /// Null if it did not let go as far as it was loaded.
    pub trip_current_a: Option<f64>,
    /// `record`; `steps`: the middle between the last good step and the first that was not
    /// delivered, or the latter alone where no step was good; `limited`: the current that it was
    /// held to.
    pub trip_from: Option<String>,
    /// Standard uncertainty, the width between two steps included; null where unknown.
    pub trip_u: Option<f64>,
    /// Trip current over rated current, less one, in percent.
    pub trip_margin_percent: Option<f64>,
    /// Highest current that was asked for.
    pub highest_set_current_a: Option<f64>,
    /// Trip current against rated current: anything but above it is a failed delivery.
    pub delivery: Outcome,
    pub delivery_reason: String,
    pub protection: Option<Protection>,
    /// `seen` by the tester, or derived from the `steps`.
    pub protection_from: Option<String>,
    /// How the steps show it, or why they do not.
    pub protection_why: String,
    /// `auto`, `replug`, `mains` or `none`.
    pub recovery: Option<String>,
    pub recovery_s: Option<f64>,
    /// What the other ports did: `held`, `reset`, `lost` or `not-applicable`.
    pub other_ports: Option<String>,
    pub short_circuit_input_power_w: Option<f64>,
    pub line_voltage_v: Option<f64>,
    /// Comparison with figures for limited sources; null without a voltage and a current.
    pub screening: Option<SourceScreening>,
    /// Entries of the record that do not fit together.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub contradictions: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LoadStep {
    pub set_current_a: f64,
    pub current_a: Option<f64>,
    pub voltage_v: Option<f64>,
    pub power_w: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SourceScreening {
    /// Highest voltage on record for the port, in place of the open-circuit voltage.
    pub open_circuit_v: f64,
    /// Largest current and power that flowed.
    pub current_a: f64,
    pub power_w: f64,
    /// Class that the power indicates: `PS1`, `PS2` or `PS3`.
    pub indicated_class: String,
    /// Is the power within both figures of a limited source? Null beyond the tables.
    pub within_limited_power: Option<bool>,
    pub figures: Vec<FigureResult>,
    pub cautions: Vec<String>,
}

/// One result an entry of the record.
pub fn results(record: &Record, standards: &Standards) -> Vec<OverloadResult> {
    record
        .overloads
        .iter()
        .enumerate()
        .map(|(at, overload)| Reading::of(overload, record, standards).result(at))
        .collect()
}

/// How one step of a test is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StepReading {
    /// As the tester saw it, or by what was read; `None` where neither tells.
    pub state: Option<PortState>,
    /// Delivered, with its voltage in the port's window.
    pub good: bool,
}

/// The steps of the record's test at this place, in their order; none without such a test.
pub fn step_readings(record: &Record, overload: usize, standards: &Standards) -> Vec<StepReading> {
    let Some(overload) = record.overloads.get(overload) else {
        return Vec::new();
    };
    let reading = Reading::of(overload, record, standards);
    overload
        .steps
        .iter()
        .map(|step| StepReading {
            state: reading.state(step),
            good: reading.is_good(step),
        })
        .collect()
}

struct Reading<'a> {
    overload: &'a Overload,
    port: Option<&'a Port>,
    accuracy: Accuracy<'a>,
    standards: &'a Standards,
    voltage_v: Option<f64>,
    rated: Option<(f64, &'static str)>,
}

impl<'a> Reading<'a> {
    fn of(overload: &'a Overload, record: &'a Record, standards: &'a Standards) -> Reading<'a> {
        let port = record.unit.ports.iter().find(|p| p.label == overload.port);
        let near = |v: f64| {
            overload
                .voltage_v
                .is_some_and(|nominal| (v - nominal).abs() <= 0.05 * nominal)
        };
        let listed = port.and_then(|p| {
            p.capabilities()
                .iter()
                .filter(|(.., o)| o.kind() == "fixed" && near(o.voltage_max_v()))
                .filter_map(|(.., o)| o.current_a())
                .reduce(f64::max)
        });
        let labelled = port.and_then(|p| {
            p.modes
                .iter()
                .filter(|m| near(m.voltage_max_v()) && near(m.voltage_min_v()))
                .map(|m| m.current_a())
                .reduce(f64::max)
        });
        Reading {
            rated: overload
                .rated_current_a
                .map(|a| (a, "record"))
                .or(listed.map(|a| (a, "list")))
                .or(labelled.map(|a| (a, "label")))
                .filter(|(a, _)| *a > 0.0),
            overload,
            port,
            accuracy: Accuracy::of(&record.instruments),
            standards,
            voltage_v: overload.voltage_v,
        }
    }

    fn tables(&self) -> &'a PowerSource {
        &self.standards.power_source
    }

    /// Lowest voltage of a good step.
    fn good_from_v(&self) -> Option<f64> {
        let nominal = self.voltage_v?;
        let connector = match self.port.and_then(|p| p.connector) {
            Some(Connector::UsbC) => "usb-c",
            Some(Connector::UsbA) => "usb-a",
            Some(Connector::Barrel) => "barrel",
            _ => "",
        };
        Some(
            self.standards
                .pd_rules
                .window(connector, nominal)
                .map_or(nominal * self.tables().protection.good_voltage_share, |w| {
                    w.0
                }),
        )
    }

    /// The state of a step: as the tester saw it, or by what was read.
    fn state(&self, step: &OverloadStep) -> Option<PortState> {
        if step.state.is_some() {
            return step.state;
        }
        let rule = &self.tables().protection;
        let off =
            |value: Option<f64>, asked: f64| value.is_some_and(|x| x <= rule.off_share * asked);
        let nominal = self.voltage_v.unwrap_or(5.0);
        if off(step.voltage_v, nominal)
            && step
                .current_a
                .is_none_or(|i| i <= rule.off_share * step.set_current_a)
        {
            return Some(PortState::Off);
        }
        let falls_short = step
            .current_a
            .is_some_and(|i| i < rule.current_share * step.set_current_a);
        let sags = self
            .good_from_v()
            .zip(step.voltage_v)
            .is_some_and(|(least, v)| v < least);
        match (step.current_a, step.voltage_v) {
            (None, None) => None,
            _ if falls_short || sags => Some(PortState::Limited),
            _ => Some(PortState::On),
        }
    }

    fn is_good(&self, step: &OverloadStep) -> bool {
        let sags = self
            .good_from_v()
            .zip(step.voltage_v)
            .is_some_and(|(least, v)| v < least);
        self.state(step) == Some(PortState::On) && !sags
    }

    fn result(&self, at: usize) -> OverloadResult {
        let overload = self.overload;
        // Only steps whose state is known can tell where it lets go.
        let known: Vec<&OverloadStep> = overload
            .steps
            .iter()
            .filter(|s| self.state(s).is_some())
            .collect();
        let bad_from = known.iter().position(|s| !self.is_good(s));
        let good = &known[..bad_from.unwrap_or(known.len())];
        let bad = &known[bad_from.unwrap_or(known.len())..];
        let last_good = good.last().map(|s| step_result(s));
        let limited_a = bad
            .iter()
            .filter(|s| self.state(s) == Some(PortState::Limited))
            .filter_map(|s| s.current_a)
            .reduce(f64::max);
        // A limit holds at least what flowed before; less has fallen back, and tells only that it
        // let go between the two steps.
        let flowed_a = good.last().map(|g| g.current_a.unwrap_or(g.set_current_a));
        let held_a = limited_a
            .filter(|a| flowed_a.is_none_or(|f| *a >= self.tables().protection.current_share * f))
            .map(|a| a.max(flowed_a.unwrap_or(a)));
        let between = bad.first().map(|first| match good.last() {
            Some(before) => (
                (before.set_current_a + first.set_current_a) / 2.0,
                Some((first.set_current_a - before.set_current_a).abs()),
            ),
            None => (first.set_current_a, None),
        });
        let trip = overload
            .trip_current_a
            .map(|a| (a, "record"))
            .or(held_a.map(|a| (a, "limited")))
            .or(between.map(|(a, _)| (a, "steps")));
        let trip_u = trip.and_then(|(a, from)| {
            let instrument = self.accuracy.standard(Q::OutputCurrentA, a).ok();
            match (from, between) {
                // Anywhere between two steps: a rectangle as wide as the step (JCGM 100:2008,
                // 4.3.7). Without a good step nothing bounds it from below.
                ("steps", Some((_, width))) => {
                    combined([instrument, width.map(|w| w / 12f64.sqrt())])
                }
                _ => instrument,
            }
        });
        let (delivery, delivery_reason) = self.delivery(trip, trip_u, good, bad);
        let (derived, why) = self.protection(good, bad);
        let protection = overload.protection.or(derived);
        let mut contradictions = Vec::new();
        if let (Some(seen), Some(derived)) = (overload.protection, derived)
            && seen != derived
        {
            contradictions.push(format!(
                "the protection was seen as {}, the steps look like {}",
                protection_words(seen),
                protection_words(derived)
            ));
        }
        if let (Some(stated), Some(first)) = (overload.trip_current_a, bad.first())
            && (stated > first.set_current_a * 1.01
                || good.last().is_some_and(|g| stated < g.set_current_a * 0.99))
        {
            contradictions.push(format!(
                "the trip current is given as {} A, the steps show it up to {} A",
                short(stated),
                short(first.set_current_a)
            ));
        }
        let last_good_power_w = overload
            .last_good_power_w
            .or(last_good.as_ref().and_then(|s| s.power_w));
        OverloadResult {
            overload: at as u64,
            port: overload.port.clone(),
            voltage_v: self.voltage_v,
            rated_current_a: self.rated.map(|r| r.0),
            rated_from: self.rated.map(|r| r.1.to_owned()),
            last_good,
            last_good_power_w,
            trip_current_a: trip.map(|t| t.0),
            trip_from: trip.map(|t| t.1.to_owned()),
            trip_u,
            trip_margin_percent: trip
                .zip(self.rated)
                .map(|((trip, _), (rated, _))| (trip / rated - 1.0) * 100.0)
                // A rated current of next to nothing makes no margin.
                .filter(|margin| margin.is_finite()),
            highest_set_current_a: overload
                .steps
                .iter()
                .map(|s| s.set_current_a)
                .reduce(f64::max),
            delivery,
            delivery_reason,
            protection,
            protection_from: protection.map(|_| {
                if overload.protection.is_some() {
                    "seen"
                } else {
                    "steps"
                }
                .to_owned()
            }),
            protection_why: why,
            recovery: overload.recovery.map(recovery_word),
            recovery_s: overload.recovery_s,
            other_ports: overload.other_ports.map(other_ports_word),
            short_circuit_input_power_w: overload.short_circuit_input_power_w,
            line_voltage_v: overload.line_voltage_v,
            screening: self.screening(last_good_power_w, trip.map(|t| t.0)),
            contradictions,
        }
    }

    /// Does it deliver what it is rated? What the steps show outright comes before a comparison of
    /// currents.
    fn delivery(
        &self,
        trip: Option<(f64, &str)>,
        trip_u: Option<f64>,
        good: &[&OverloadStep],
        bad: &[&OverloadStep],
    ) -> (Outcome, String) {
        /// Currents that are set are round numbers; this is only their binary rounding.
        const ROUNDING_A: f64 = 1e-9;
        let Some((rated, _)) = self.rated else {
            return (
                Outcome::NotAssessed,
                "the rated current at this voltage is not on record".to_owned(),
            );
        };
        let share = self.tables().protection.current_share;
        let reached = good
            .iter()
            .filter(|s| s.current_a.is_none_or(|i| i >= share * s.set_current_a))
            .map(|s| s.set_current_a)
            .reduce(f64::max);
        let first_bad = bad.first().map(|s| s.set_current_a);
        let rated_text = short(rated);
        let failed = |at: f64, current: f64| {
            let place = if at >= rated - ROUNDING_A {
                "at"
            } else {
                "inside"
            };
            (
                Outcome::Fail,
                format!(
                    "failed delivery: lets go {place} its rating: {} A of {rated_text} A rated",
                    short(current)
                ),
            )
        };
        match (trip, reached, first_bad) {
            // A good step at or above the rated current settles it, wherever it trips.
            (_, Some(reached), _) if reached >= rated - ROUNDING_A => (
                Outcome::Pass,
                format!("delivered {} A, rated {rated_text} A", short(reached)),
            ),
            (Some((_, "steps" | "limited")), _, Some(bad)) if bad <= rated + ROUNDING_A => {
                failed(bad, bad)
            }
            (Some((_, "steps" | "limited")), None, Some(bad)) => (
                Outcome::NotAssessed,
                format!(
                    "loaded with {} A and more only, rated {rated_text} A: whether it delivers that was not tried",
                    short(bad)
                ),
            ),
            (Some((trip, "steps")), Some(reached), Some(bad)) => (
                if trip >= rated - ROUNDING_A {
                    Outcome::ConditionalPass
                } else {
                    Outcome::ConditionalFail
                },
                format!(
                    "lets go between {} A and {} A; its rating of {rated_text} A lies between and was not tried",
                    short(reached),
                    short(bad)
                ),
            ),
            // At the rating itself the current is not delivered.
            (Some((trip, _)), ..) if (trip - rated).abs() <= ROUNDING_A => failed(trip, trip),
            (Some((trip, _)), ..) => {
                let judged = decision::judge(trip, trip_u, rated, true);
                let what = match judged.result {
                    Outcome::Pass => "lets go above its rating",
                    Outcome::ConditionalPass => {
                        "lets go above its rating, though by less than the uncertainty"
                    }
                    Outcome::ConditionalFail => {
                        "lets go inside its rating, though by less than the uncertainty"
                    }
                    _ => return failed(trip, trip),
                };
                (
                    judged.result,
                    format!("{what}: {} A of {rated_text} A rated", short(trip)),
                )
            }
            (None, Some(reached), _) => (
                Outcome::NotAssessed,
                format!(
                    "loaded up to {} A only, rated {rated_text} A",
                    short(reached)
                ),
            ),
            (None, None, _) => (
                Outcome::NotAssessed,
                "neither steps nor a trip current on record".to_owned(),
            ),
        }
    }

    /// The kind of protection that the steps show, and how.
    fn protection(
        &self,
        good: &[&OverloadStep],
        bad: &[&OverloadStep],
    ) -> (Option<Protection>, String) {
        let rule = &self.tables().protection;
        let of = |state| {
            bad.iter()
                .filter(|s| self.state(s) == Some(state))
                .collect::<Vec<_>>()
        };
        if bad.is_empty() {
            let why = match good.last() {
                Some(last) => format!("it did not let go up to {} A", short(last.set_current_a)),
                None => "no steps on record".to_owned(),
            };
            return (None, why);
        }
        if let Some(cycling) = of(PortState::Cycling).first() {
            return (
                Some(Protection::Hiccup),
                format!(
                    "off and on again by itself at {} A",
                    short(cycling.set_current_a)
                ),
            );
        }
        let limited: Vec<(f64, f64)> = of(PortState::Limited)
            .iter()
            .filter_map(|s| Some((s.set_current_a, s.current_a?)))
            .collect();
        let then_off = if of(PortState::Off).is_empty() {
            ""
        } else {
            ", then off"
        };
        if let Some(&(set, last)) = limited.last() {
            let most = limited
                .iter()
                .map(|l| l.1)
                .chain(good.iter().filter_map(|s| s.current_a))
                .fold(0.0, f64::max);
            return if last >= rule.held_share * most {
                (
                    Some(Protection::ConstantCurrent),
                    format!(
                        "held to {} A when asked for {} A{then_off}",
                        short(last),
                        short(set)
                    ),
                )
            } else {
                (
                    Some(Protection::Foldback),
                    format!(
                        "falls to {} A when asked for {} A, after {} A{then_off}",
                        short(last),
                        short(set),
                        short(most)
                    ),
                )
            };
        }
        if let Some(off) = of(PortState::Off).first() {
            return (
                Some(Protection::ShutOff),
                format!("off at {} A", short(off.set_current_a)),
            );
        }
        (
            None,
            "limited, though the current that flowed was not read".to_owned(),
        )
    }

    fn screening(
        &self,
        last_good_power_w: Option<f64>,
        trip_a: Option<f64>,
    ) -> Option<SourceScreening> {
        let steps = &self.overload.steps;
        let open_circuit_v = steps
            .iter()
            .filter_map(|s| s.voltage_v)
            .chain(self.voltage_v)
            .reduce(f64::max)
            .filter(|v| *v > 0.0)?;
        let mut cautions = Vec::new();
        // What flowed counts; a current that was only asked for does not.
        let flowing =
            |s: &&OverloadStep| matches!(self.state(s), Some(PortState::On | PortState::Limited));
        let read: Vec<(f64, f64, Option<f64>)> = steps
            .iter()
            .filter(flowing)
            .filter_map(|s| Some((s.voltage_v?, s.current_a?, s.held_s)))
            .collect();
        let by_power = read
            .iter()
            .max_by(|a, b| (a.0 * a.1).total_cmp(&(b.0 * b.1)));
        let (power_w, power_u, held) = match (by_power, last_good_power_w) {
            (Some(&(v, i, held)), _) => {
                let u = combined([
                    self.accuracy
                        .standard(Q::OutputVoltageV, v)
                        .ok()
                        .map(|u| u * i),
                    self.accuracy
                        .standard(Q::OutputCurrentA, i)
                        .ok()
                        .map(|u| u * v),
                ]);
                (v * i, u, held)
            }
            (None, Some(power)) => (power, None, None),
            (None, None) => return None,
        };
        let current_a = read
            .iter()
            .map(|r| r.1)
            .chain(trip_a.filter(|_| read.is_empty()))
            .reduce(f64::max)
            .or(Some(power_w / open_circuit_v).filter(|a| a.is_finite()))?;
        let current_u = self.accuracy.standard(Q::OutputCurrentA, current_a).ok();
        let screening = screen(
            open_circuit_v,
            (current_a, current_u),
            (power_w, power_u),
            self.tables(),
        );
        let longest = self
            .tables()
            .power_classes
            .iter()
            .map(|c| c.after_s)
            .chain(self.tables().limited_power.iter().map(|l| l.after_s))
            .fold(0.0, f64::max);
        match held {
            Some(held) if held >= longest => {}
            Some(held) => cautions.push(format!(
                "the largest power was held for {} s; the figures hold after up to {} s",
                short(held),
                short(longest)
            )),
            None => cautions.push(format!(
                "how long the largest power was held is not on record; the figures hold after up to {} s",
                short(longest)
            )),
        }
        if self.overload.steps.iter().all(|s| s.set_current_a > 0.0) {
            cautions.push(
                "the open-circuit voltage was not read: the highest voltage on record stands for it"
                    .to_owned(),
            );
        }
        cautions.push("a whole assessment asks for single faults and a short circuit too: this is an indication from one sample".to_owned());
        Some(SourceScreening {
            cautions,
            ..screening
        })
    }
}

/// Holds an output's largest sustained current (with its standard uncertainty) and power against
/// the figures for limited sources at an open-circuit voltage.
pub fn screen(
    open_circuit_v: f64,
    (current_a, current_u): (f64, Option<f64>),
    (power_w, power_u): (f64, Option<f64>),
    tables: &PowerSource,
) -> SourceScreening {
    let mut figures = Vec::new();
    let mut within_limited_power = None;
    for table in &tables.limited_power {
        let Some((limit_a, limit_va)) = table.figures(open_circuit_v) else {
            continue;
        };
        let source = format!("{}; {}", table.citation, table.source);
        let name = |what: &str| format!("{what} figure for a {}", table.title);
        let current = figure::at_most(
            &name("current"),
            "A",
            (current_a, current_u),
            limit_a,
            &source,
        );
        let power = figure::at_most(&name("power"), "VA", (power_w, power_u), limit_va, &source);
        within_limited_power = Some(current.result.is_within() && power.result.is_within());
        figures.extend([current, power]);
    }
    for class in &tables.power_classes {
        let name = format!("{} figure after {} s", class.id, short(class.after_s));
        let source = format!("{}; {}", class.citation, class.source);
        figures.push(figure::at_most(
            &name,
            "W",
            (power_w, power_u),
            class.power_w,
            &source,
        ));
    }
    SourceScreening {
        open_circuit_v,
        current_a,
        power_w,
        indicated_class: tables.class_of(power_w).to_owned(),
        within_limited_power,
        figures,
        cautions: Vec::new(),
    }
}

fn step_result(step: &OverloadStep) -> LoadStep {
    LoadStep {
        set_current_a: step.set_current_a,
        current_a: step.current_a,
        voltage_v: step.voltage_v,
        power_w: step.voltage_v.zip(step.current_a).map(|(v, i)| v * i),
    }
}

fn protection_words(protection: Protection) -> &'static str {
    match protection {
        Protection::ShutOff => "shut-off",
        Protection::Hiccup => "hiccup",
        Protection::Foldback => "foldback",
        Protection::ConstantCurrent => "constant current",
    }
}

fn recovery_word(recovery: Recovery) -> String {
    match recovery {
        Recovery::Auto => "auto",
        Recovery::Replug => "replug",
        Recovery::Mains => "mains",
        Recovery::None => "none",
    }
    .to_owned()
}

fn other_ports_word(other: OtherPorts) -> String {
    match other {
        OtherPorts::Held => "held",
        OtherPorts::Reset => "reset",
        OtherPorts::Lost => "lost",
        OtherPorts::NotApplicable => "not-applicable",
    }
    .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode;
    use crate::evaluate::figure::AgainstFigure;
    use serde_json::{Value, json};

    fn judged(overload: Value, instruments: Value) -> OverloadResult {
        let document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 60},
                "ports": [{"label": "C1", "connector": "usb-c", "power_w": 60,
                    "modes": [{"kind": "fixed", "voltage_v": 5, "current_a": 3},
                        {"kind": "fixed", "voltage_v": 20, "current_a": 3}]}]},
            "instruments": instruments,
            "overloads": [overload],
        });
        let record = decode(&document.to_string()).unwrap();
        results(&record, &Standards::embedded()).remove(0)
    }

    /// Set, flowing, volts, state.
    type Step = (f64, Option<f64>, Option<f64>, Option<&'static str>);

    /// Steps at 20 V.
    fn steps(list: &[Step]) -> Value {
        json!({"port": "C1", "voltage_v": 20, "steps": list.iter().map(|(set, i, v, state)| json!({
            "set_current_a": set, "current_a": i, "voltage_v": v, "state": state, "held_s": 10,
        })).collect::<Vec<_>>()})
    }

    #[test]
    fn a_port_that_switches_off_above_its_rating_has_a_margin() {
        let found = judged(
            steps(&[
                (0.0, Some(0.0), Some(20.2), Some("on")),
                (3.0, Some(3.0), Some(20.05), Some("on")),
                (3.3, Some(3.3), Some(20.0), Some("on")),
                (3.6, Some(0.0), Some(0.0), Some("off")),
            ]),
            json!([]),
        );
        assert_eq!(found.rated_current_a, Some(3.0));
        assert_eq!(found.rated_from.as_deref(), Some("label"));
        assert_eq!(found.last_good.as_ref().unwrap().set_current_a, 3.3);
        assert!((found.last_good_power_w.unwrap() - 66.0).abs() < 1e-9);
        // between 3.3 A, which it held, and 3.6 A
        assert!((found.trip_current_a.unwrap() - 3.45).abs() < 1e-12);
        assert_eq!(found.trip_from.as_deref(), Some("steps"));
        assert!((found.trip_margin_percent.unwrap() - 15.0).abs() < 1e-9);
        assert_eq!(found.protection, Some(Protection::ShutOff));
        assert_eq!(found.delivery, Outcome::Pass);
        let screening = found.screening.unwrap();
        assert_eq!(screening.open_circuit_v, 20.2);
        assert!((screening.power_w - 66.0).abs() < 1e-9);
        assert_eq!(screening.indicated_class, "PS2");
        assert_eq!(screening.within_limited_power, Some(true));
        assert_eq!(screening.cautions.len(), 1, "{:?}", screening.cautions);
        assert!(found.contradictions.is_empty());
    }

    #[test]
    fn the_kind_of_protection_follows_from_what_flows() {
        let kind = |list: &[Step]| judged(steps(list), json!([])).protection;
        let good = (3.0, Some(3.0), Some(20.0), None);
        // held current, falling voltage: read without any state noted
        assert_eq!(
            kind(&[
                good,
                (3.4, Some(3.3), Some(14.0), None),
                (4.0, Some(3.3), Some(9.0), None)
            ]),
            Some(Protection::ConstantCurrent)
        );
        assert_eq!(
            kind(&[
                good,
                (3.4, Some(2.6), Some(12.0), None),
                (4.0, Some(0.7), Some(3.0), None)
            ]),
            Some(Protection::Foldback)
        );
        assert_eq!(
            kind(&[good, (3.4, None, None, Some("cycling"))]),
            Some(Protection::Hiccup)
        );
        assert_eq!(
            kind(&[good, (3.4, Some(0.0), Some(0.2), None)]),
            Some(Protection::ShutOff)
        );
        assert_eq!(kind(&[good]), None);
        assert_eq!(kind(&[good, (3.4, None, None, Some("limited"))]), None);
        let limited = judged(
            steps(&[good, (3.4, Some(3.3), Some(14.0), None)]),
            json!([]),
        );
        assert_eq!(limited.trip_current_a, Some(3.3));
        assert_eq!(limited.trip_from.as_deref(), Some("limited"));
    }

    #[test]
    fn a_trip_inside_the_rating_is_a_failed_delivery() {
        let found = judged(
            json!({"port": "C1", "voltage_v": 20, "trip_current_a": 2.82, "recovery": "replug"}),
            json!([]),
        );
        assert_eq!(found.delivery, Outcome::Fail);
        assert_eq!(
            found.delivery_reason,
            "failed delivery: lets go inside its rating: 2.82 A of 3 A rated"
        );
        assert!((found.trip_margin_percent.unwrap() + 6.0).abs() < 1e-9);
        assert_eq!(found.recovery.as_deref(), Some("replug"));
        let at = judged(
            json!({"port": "C1", "voltage_v": 20, "trip_current_a": 3.0}),
            json!([]),
        );
        assert_eq!(at.delivery, Outcome::Fail);
        let sagging = judged(
            steps(&[
                (2.5, Some(2.5), Some(19.5), Some("on")),
                // on, as the tester saw it, though below the window of 19 V
                (3.0, Some(3.0), Some(18.7), Some("on")),
            ]),
            json!([]),
        );
        assert_eq!(sagging.last_good.unwrap().set_current_a, 2.5);
        assert_eq!(sagging.delivery, Outcome::Fail);
    }

    #[test]
    fn a_trip_between_two_steps_is_uncertain_by_the_step() {
        let meter = json!([{"quantity": "output_current_a", "fixed": 0.01}]);
        let found = judged(
            steps(&[
                (2.9, Some(2.9), Some(20.0), Some("on")),
                (3.1, Some(0.0), Some(0.0), Some("off")),
            ]),
            meter,
        );
        let u = found.trip_u.unwrap();
        assert!((u - (0.2f64.powi(2) / 12.0 + 0.01f64.powi(2) / 3.0).sqrt()).abs() < 1e-12);
        assert_eq!(found.delivery, Outcome::ConditionalPass);
        // The width of the step is known though the meter is not.
        let unknown = judged(
            steps(&[
                (2.9, Some(2.9), Some(20.0), Some("on")),
                (3.1, Some(0.0), Some(0.0), Some("off")),
            ]),
            json!([]),
        );
        assert_eq!(unknown.trip_u, None);
        assert_eq!(unknown.delivery, Outcome::ConditionalPass);
        assert_eq!(
            unknown.delivery_reason,
            "lets go between 2.9 A and 3.1 A; its rating of 3 A lies between and was not tried"
        );
    }

    #[test]
    fn a_current_that_folds_back_is_not_where_it_let_go() {
        let found = judged(
            steps(&[
                (3.0, Some(3.0), Some(20.0), None),
                (3.4, Some(2.6), Some(12.0), None),
                (4.0, Some(0.7), Some(3.0), None),
            ]),
            json!([]),
        );
        assert_eq!(found.protection, Some(Protection::Foldback));
        assert_eq!(found.trip_from.as_deref(), Some("steps"));
        assert!((found.trip_current_a.unwrap() - 3.2).abs() < 1e-12);
        assert!(found.trip_margin_percent.unwrap() > 0.0);
        assert_eq!(found.delivery, Outcome::Pass);
    }

    #[test]
    fn without_a_step_that_was_delivered_only_a_bad_one_within_the_rating_tells() {
        let one = |set: f64, flowing: f64| {
            judged(
                steps(&[(set, Some(flowing), Some(6.0), Some("limited"))]),
                json!([]),
            )
        };
        assert_eq!(one(3.4, 2.6).delivery, Outcome::NotAssessed);
        assert_eq!(one(3.0, 2.6).delivery, Outcome::Fail);
        assert!(one(3.0, 2.6).delivery_reason.starts_with("failed delivery"));
    }

    #[test]
    fn what_was_not_tried_is_not_judged() {
        let found = judged(json!({"port": "C1", "voltage_v": 20}), json!([]));
        assert_eq!(found.delivery, Outcome::NotAssessed);
        assert!(found.screening.is_none());
        assert_eq!(found.trip_margin_percent, None);
        let low = judged(steps(&[(2.0, Some(2.0), Some(20.0), None)]), json!([]));
        assert_eq!(low.delivery, Outcome::NotAssessed);
        assert_eq!(low.delivery_reason, "loaded up to 2 A only, rated 3 A");
        let unknown = judged(
            json!({"port": "C1", "voltage_v": 9, "trip_current_a": 4}),
            json!([]),
        );
        assert_eq!(unknown.rated_current_a, None);
        assert_eq!(unknown.delivery, Outcome::NotAssessed);
    }

    #[test]
    fn entries_that_do_not_fit_together_are_named() {
        let mut overload = steps(&[
            (3.0, Some(3.0), Some(20.0), Some("on")),
            (3.6, Some(0.0), Some(0.0), Some("off")),
        ]);
        overload["protection"] = json!("hiccup");
        overload["trip_current_a"] = json!(4.5);
        let found = judged(overload, json!([]));
        assert_eq!(
            found.protection,
            Some(Protection::Hiccup),
            "what was seen stands"
        );
        assert_eq!(
            found.contradictions,
            [
                "the protection was seen as hiccup, the steps look like shut-off",
                "the trip current is given as 4.5 A, the steps show it up to 3.6 A"
            ]
        );
    }

    /// `power_source_limits.json`: its five worked cases.
    #[test]
    fn the_worked_cases_of_limited_sources_come_out() {
        let tables = Standards::embedded().power_source;
        for (uoc, isc, va, lps, class) in [
            (5.1, 3.45, 17.6, true, "PS2"),
            (20.2, 3.9, 78.0, true, "PS2"),
            (20.2, 5.6, 112.0, false, "PS3"),
            (48.3, 3.2, 98.0, false, "PS2"),
            (5.1, 8.4, 40.0, false, "PS2"),
        ] {
            let found = screen(uoc, (isc, None), (va, None), &tables);
            assert_eq!(
                found.within_limited_power,
                Some(lps),
                "{uoc} V {isc} A {va} VA"
            );
            assert_eq!(found.indicated_class, class, "{uoc} V {isc} A {va} VA");
        }
        let found = screen(48.3, (3.2, None), (98.0, None), &tables);
        let current = &found.figures[0];
        assert_eq!(current.result, AgainstFigure::Outside);
        assert!((current.limit - 3.106).abs() < 1e-3);
        assert_eq!(found.figures[3].result, AgainstFigure::Within, "PS2");
        let beyond = screen(70.0, (1.0, None), (70.0, None), &tables);
        assert_eq!(beyond.within_limited_power, None);
    }

    /// Standards notes, section 1.4: a 3.1 A load, shut down at 3.45 A: 111.3 %.
    #[test]
    fn a_published_trip_has_the_published_margin() {
        let found = judged(
            json!({"port": "C1", "voltage_v": 5, "rated_current_a": 3.1, "trip_current_a": 3.45}),
            json!([]),
        );
        assert!((found.trip_margin_percent.unwrap() - 11.3).abs() < 0.05);
        assert_eq!(found.delivery, Outcome::Pass);
    }
}
