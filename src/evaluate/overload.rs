//! What happens above the rated current: where the output lets go, how it protects itself, how it
//! comes back, and how its power compares with figures for limited sources.
//!
//! A bench can only indicate: a comparison with one figure of a standard is no verdict on the unit.

use super::decision;
use super::evaluation::Outcome;
use super::figure::{self, AgainstFigure, FigureResult};
use super::ports::short;
use super::uncertainty::Accuracy;
use crate::bench::record::{
    Connector, MeasuredQuantity as Q, Mode, OtherPorts, Overload, OverloadStep, Port, PortState,
    Protection, Record, Recovery,
};
use crate::bench::usb_pd::PowerDataObject;
use crate::quantity::{combined, divisor};
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
    /// Trip current over rated current, less one, in percent; null where the stated trip current
    /// and the steps contradict each other.
    pub trip_margin_percent: Option<f64>,
    /// Largest current of a step that was delivered: what flowed where that was read, else what
    /// was asked for.
    #[serde(default)]
    pub held_current_a: Option<f64>,
    /// Highest current that was asked for.
    pub highest_set_current_a: Option<f64>,
    /// What the steps show, then trip current against rated current: anything but above it is a
    /// failed delivery.
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
    /// Largest current and power on record: of the steps, the stated trip current, the last good
    /// power.
    pub current_a: f64,
    pub power_w: f64,
    /// Class that the power indicates: `PS1`, `PS2` or `PS3`; null where `not_shown` tells why.
    pub indicated_class: Option<String>,
    /// Is it within both figures of a limited source? Null beyond the tables, and where
    /// `not_shown` tells why.
    pub within_limited_power: Option<bool>,
    /// Why something is not shown to be within a figure: the port may deliver more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_shown: Option<String>,
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
            let objects = p.capabilities();
            let fixed = objects
                .iter()
                .filter(|(.., o)| o.kind() == "fixed" && near(o.voltage_max_v()))
                .filter_map(|(.., o)| o.current_a())
                .reduce(f64::max);
            fixed.or_else(|| {
                let at_v = overload.voltage_v?;
                objects
                    .iter()
                    .filter_map(|(.., o)| range_current_a(o, at_v, p.power_w))
                    .reduce(f64::max)
            })
        });
        let labelled = port.and_then(|p| {
            let largest = |fits: &dyn Fn(&Mode) -> bool| {
                p.modes
                    .iter()
                    .filter(|m| fits(m))
                    .map(Mode::current_a)
                    .reduce(f64::max)
            };
            largest(&|m| near(m.voltage_max_v()) && near(m.voltage_min_v())).or_else(|| {
                let at_v = overload.voltage_v?;
                largest(&|m| in_range(at_v, m.voltage_min_v(), m.voltage_max_v()))
            })
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
            voltage_v: overload.voltage_v.filter(|v| *v > 0.0),
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
        // Only steps whose state is known can tell where it lets go, and without load there is
        // nothing to let go of: a port that is off there was off before.
        let known: Vec<&OverloadStep> = overload
            .steps
            .iter()
            .filter(|s| self.state(s).is_some())
            .collect();
        let was_off = known
            .first()
            .is_some_and(|s| s.set_current_a <= 0.0 && self.state(s) == Some(PortState::Off));
        let known: Vec<&OverloadStep> = known
            .into_iter()
            .filter(|s| !was_off && (s.set_current_a > 0.0 || self.is_good(s)))
            .collect();
        let bad_from = known.iter().position(|s| !self.is_good(s));
        let good = &known[..bad_from.unwrap_or(known.len())];
        let bad = &known[bad_from.unwrap_or(known.len())..];
        let seen = Seen {
            was_off,
            good,
            bad,
            all_good: known.iter().copied().filter(|s| self.is_good(s)).collect(),
        };
        let held_current_a = seen
            .all_good
            .iter()
            .map(|s| delivered_a(s))
            .reduce(f64::max);
        let crossing = seen.crossing();
        let last_good = good.last().map(|s| step_result(s));
        let limited_a = bad
            .iter()
            .filter(|s| self.state(s) == Some(PortState::Limited))
            .filter_map(|s| s.current_a)
            .reduce(f64::max);
        // A limit holds at least what flowed before; less has fallen back, and tells only that it
        // let go between the two steps.
        let flowed_a = good.last().map(|g| delivered_a(g));
        let held_a = limited_a
            .filter(|a| flowed_a.is_none_or(|f| *a >= self.tables().protection.current_share * f))
            .map(|a| a.max(flowed_a.unwrap_or(a)));
        let between = bad
            .first()
            .filter(|_| crossing.is_none())
            .map(|first| match good.last() {
                Some(before) => {
                    let from = self.taken_a(before);
                    (
                        (from + first.set_current_a) / 2.0,
                        Some((first.set_current_a - from).abs()),
                    )
                }
                None => (first.set_current_a, None),
            });
        let trip = overload
            .trip_current_a
            .map(|a| (a, "record"))
            .or(held_a
                .filter(|_| crossing.is_none())
                .map(|a| (a, "limited")))
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
        let (delivery, delivery_reason) = self.delivery(trip, trip_u, &seen);
        let (derived, why) = self.protection(&seen);
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
        if let Some((held, first)) = crossing {
            contradictions.push(format!(
                "the steps show {} A delivered, yet not {} A",
                short(delivered_a(held)),
                short(first.set_current_a)
            ));
        }
        let mut trip_agrees = true;
        if let Some(stated) = overload.trip_current_a {
            let said = if was_off {
                Some("the port off without load".to_owned())
            } else {
                match bad.first() {
                    Some(first)
                        if stated > first.set_current_a * 1.01
                            || good.last().is_some_and(|g| stated < self.taken_a(g) * 0.99) =>
                    {
                        Some(format!("it up to {} A", short(first.set_current_a)))
                    }
                    None => held_current_a
                        .filter(|held| stated < held * 0.99)
                        .map(|held| format!("{} A delivered", short(held))),
                    _ => None,
                }
            };
            if let Some(said) = said {
                trip_agrees = false;
                contradictions.push(format!(
                    "the trip current is given as {} A, the steps show {said}",
                    short(stated)
                ));
            }
        }
        let last_good_power_w = overload
            .last_good_power_w
            .or(last_good.as_ref().and_then(|s| s.power_w));
        OverloadResult {
            overload: at as u64,
            port: overload.port.clone(),
            voltage_v: overload.voltage_v,
            rated_current_a: self.rated.map(|r| r.0),
            rated_from: self.rated.map(|r| r.1.to_owned()),
            last_good,
            last_good_power_w,
            trip_current_a: trip.map(|t| t.0),
            trip_from: trip.map(|t| t.1.to_owned()),
            trip_u,
            trip_margin_percent: trip
                .zip(self.rated.and_then(|(rated, _)| divisor(rated)))
                .map(|((trip, _), rated)| (trip / rated - 1.0) * 100.0)
                .filter(|_| trip_agrees),
            held_current_a,
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
            screening: self.screening(&seen, trip),
            contradictions,
        }
    }

    /// The current that a step took of the port: as asked, or what flowed where that falls short.
    fn taken_a(&self, step: &OverloadStep) -> f64 {
        let share = self.tables().protection.current_share;
        step.current_a
            .filter(|i| *i < share * step.set_current_a)
            .unwrap_or(step.set_current_a)
    }

    /// Does it deliver what it is rated? What the steps show outright comes before a comparison of
    /// currents; steps that contradict each other show nothing outright.
    fn delivery(
        &self,
        trip: Option<(f64, &str)>,
        trip_u: Option<f64>,
        seen: &Seen,
    ) -> (Outcome, String) {
        /// Currents that are set are round numbers; this is only their binary rounding.
        const ROUNDING_A: f64 = 1e-9;
        let Some((rated, _)) = self.rated else {
            return (
                Outcome::NotAssessed,
                "the rated current at this voltage is not on record".to_owned(),
            );
        };
        if seen.was_off {
            return (
                Outcome::NotAssessed,
                "the port was off without load already: its steps test nothing".to_owned(),
            );
        }
        let share = self.tables().protection.current_share;
        let in_full = |s: &&&OverloadStep| s.current_a.is_none_or(|i| i >= share * s.set_current_a);
        // The step that shows the rating delivered: the largest load of those in full.
        let shows = seen
            .all_good
            .iter()
            .filter(in_full)
            .max_by(|a, b| a.set_current_a.total_cmp(&b.set_current_a))
            .filter(|s| s.set_current_a >= rated - ROUNDING_A)
            .or_else(|| {
                seen.all_good
                    .iter()
                    .find(|s| s.current_a.is_some_and(|i| i >= rated - ROUNDING_A))
            });
        let reached = seen.good.iter().map(|s| self.taken_a(s)).reduce(f64::max);
        let first_bad = seen.bad.first().map(|s| s.set_current_a);
        let inside = first_bad.filter(|bad| *bad <= rated + ROUNDING_A);
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
        match (shows, inside) {
            (Some(step), Some(bad)) => {
                return (
                    Outcome::ConditionalFail,
                    format!(
                        "the steps contradict each other: {}, and not {} A; rated {rated_text} A",
                        delivered_words(step),
                        short(bad)
                    ),
                );
            }
            (None, Some(bad)) => return failed(bad, bad),
            (Some(step), None) => {
                let delivered = format!("{}, rated {rated_text} A", delivered_words(step));
                return match trip {
                    Some((stated, "record")) if stated < rated - ROUNDING_A => (
                        Outcome::ConditionalPass,
                        format!(
                            "{delivered}, though the trip current is given as {} A",
                            short(stated)
                        ),
                    ),
                    _ => match seen.crossing() {
                        Some((_, bad)) => (
                            Outcome::ConditionalPass,
                            format!("{delivered}, though not {} A", short(bad.set_current_a)),
                        ),
                        None => (Outcome::Pass, delivered),
                    },
                };
            }
            (None, None) => {}
        }
        match (trip, reached, first_bad) {
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
            (None, Some(_), _) => (
                Outcome::NotAssessed,
                format!(
                    "loaded up to {} A only, rated {rated_text} A",
                    short(
                        seen.all_good
                            .iter()
                            .map(|s| delivered_a(s))
                            .fold(0.0, f64::max)
                    )
                ),
            ),
            (None, None, _) => (
                Outcome::NotAssessed,
                if self.overload.steps.is_empty() {
                    "neither steps nor a trip current on record"
                } else {
                    "what the port did at the steps is not on record"
                }
                .to_owned(),
            ),
        }
    }

    /// The kind of protection that the steps show, and how.
    fn protection(&self, seen: &Seen) -> (Option<Protection>, String) {
        let (good, bad) = (seen.good, seen.bad);
        let rule = &self.tables().protection;
        let of = |state| {
            bad.iter()
                .filter(|s| self.state(s) == Some(state))
                .collect::<Vec<_>>()
        };
        if seen.was_off {
            return (None, "the port was off without load already".to_owned());
        }
        let Some(first) = bad.first() else {
            let why = match good.iter().map(|s| delivered_a(s)).reduce(f64::max) {
                Some(most) if self.overload.trip_current_a.is_some() => {
                    format!("the steps end at {} A, before it let go", short(most))
                }
                Some(most) => format!("it did not let go up to {} A", short(most)),
                None if self.overload.steps.is_empty() => "no steps on record".to_owned(),
                None => "what the port did at the steps is not on record".to_owned(),
            };
            return (None, why);
        };
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
        let why = match (self.state(first), first.voltage_v) {
            (Some(PortState::On), Some(v)) => format!(
                "{} A at {} V only: what it does beyond was not tried",
                short(delivered_a(first)),
                short(v)
            ),
            _ => "limited, though the current that flowed was not read".to_owned(),
        };
        (None, why)
    }

    /// The largest current and power on record against the figures. More may come than was seen:
    /// up to where the port let go, or any amount where it did not.
    fn screening(&self, seen: &Seen, trip: Option<(f64, &str)>) -> Option<SourceScreening> {
        let steps = &self.overload.steps;
        let open_circuit_v = steps
            .iter()
            .filter_map(|s| s.voltage_v)
            .chain(self.voltage_v)
            .reduce(f64::max)
            .filter(|v| *v > 0.0)?;
        let mut cautions = Vec::new();
        // What flowed counts; a current that was only asked for does so where it was delivered.
        let flowing: Vec<(Option<f64>, f64, Option<f64>)> = steps
            .iter()
            .filter_map(|s| {
                let current_a = match self.state(s)? {
                    PortState::On => delivered_a(s),
                    PortState::Limited => s.current_a?,
                    PortState::Cycling | PortState::Off => return None,
                };
                Some((s.voltage_v, current_a, s.held_s))
            })
            .collect();
        let by_power = flowing
            .iter()
            .filter_map(|&(v, i, held)| Some((v?, i, held)))
            .max_by(|a, b| (a.0 * a.1).total_cmp(&(b.0 * b.1)));
        let (power_w, power_u, held) = match (by_power, self.overload.last_good_power_w) {
            (Some((v, i, held)), stated) if stated.is_none_or(|p| p <= v * i) => {
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
            (_, Some(power)) => (power, None, None),
            (_, None) => return None,
        };
        let flowed_a = flowing.iter().map(|f| f.1).reduce(f64::max);
        let stated_a = self.overload.trip_current_a;
        let current_a = flowed_a
            .into_iter()
            .chain(stated_a)
            .reduce(f64::max)
            .or(divisor(open_circuit_v).map(|v| power_w / v))?;
        if stated_a.is_some_and(|a| flowed_a.is_none_or(|f| a > f)) {
            cautions.push(
                "the largest current is the stated trip current; how long it flowed is not on record"
                    .to_owned(),
            );
        }
        // Where it let go bounds what may come; a step that was not delivered does so only above
        // all that were.
        let let_go_a = match trip {
            _ if seen.was_off => None,
            Some((a, "record" | "limited")) => Some(a),
            _ => seen
                .bad
                .iter()
                .find(|s| self.state(s) != Some(PortState::On))
                .map(|s| s.set_current_a)
                .filter(|_| trip.is_some()),
        };
        let reach_a = let_go_a.map(|a| a.max(current_a));
        let reach = reach_a.map(|a| (a, power_w.max(a * open_circuit_v)));
        let current_u = self.accuracy.standard(Q::OutputCurrentA, current_a).ok();
        let screening = screen(
            open_circuit_v,
            (current_a, current_u),
            (power_w, power_u),
            reach,
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
/// the figures for limited sources at an open-circuit voltage. `reach`: the current and power that
/// it may deliver at most, `None` where it had not let go; within a figure is only what cannot
/// leave it.
pub fn screen(
    open_circuit_v: f64,
    (current_a, current_u): (f64, Option<f64>),
    (power_w, power_u): (f64, Option<f64>),
    reach: Option<(f64, f64)>,
    tables: &PowerSource,
) -> SourceScreening {
    let why = match reach {
        None => format!("it had not let go up to {} A", short(current_a)),
        Some((a, w)) => format!(
            "it was seen up to {} A and {} W, and may reach {} A and {} W before it lets go",
            short(current_a),
            short(power_w),
            short(a),
            short(w)
        ),
    };
    let shown = |figure: FigureResult, reach: Option<f64>| {
        let bounded = reach.is_some_and(|most| most <= figure.limit * (1.0 + 1e-12));
        if bounded || !figure.result.is_within() {
            return figure;
        }
        FigureResult {
            result: AgainstFigure::NotShown,
            risk: None,
            message: format!(
                "{} {} is {}: {why}",
                short(figure.measured),
                figure.unit,
                AgainstFigure::NotShown.words(&format!(
                    "{} of {} {}",
                    figure.figure,
                    short(figure.limit),
                    figure.unit
                ))
            ),
            ..figure
        }
    };
    let (reach_a, reach_w) = (reach.map(|r| r.0), reach.map(|r| r.1));
    let mut figures = Vec::new();
    let mut within_limited_power = None;
    let mut undecided = false;
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
        let both = [shown(current, reach_a), shown(power, reach_w)];
        let is = |result| both.iter().any(|f| f.result == result);
        within_limited_power =
            if is(AgainstFigure::Outside) || is(AgainstFigure::OutsideByLessThanUncertainty) {
                Some(false)
            } else if is(AgainstFigure::NotShown) {
                undecided = true;
                None
            } else {
                Some(true)
            };
        figures.extend(both);
    }
    for class in &tables.power_classes {
        let name = format!("{} figure after {} s", class.id, short(class.after_s));
        let source = format!("{}; {}", class.citation, class.source);
        let power = figure::at_most(&name, "W", (power_w, power_u), class.power_w, &source);
        figures.push(shown(power, reach_w));
    }
    let class = tables.class_of(power_w);
    let indicated_class = (class == tables.above.id
        || reach_w.is_some_and(|most| tables.class_of(most) == class))
    .then(|| class.to_owned());
    SourceScreening {
        open_circuit_v,
        current_a,
        power_w,
        not_shown: (undecided || indicated_class.is_none()).then_some(why),
        indicated_class,
        within_limited_power,
        figures,
        cautions: Vec::new(),
    }
}

/// Steps of a test whose state is known.
struct Seen<'s> {
    /// Off at the first step, without load: it tests nothing.
    was_off: bool,
    /// Delivered, before the first that was not.
    good: &'s [&'s OverloadStep],
    /// From the first that was not delivered on.
    bad: &'s [&'s OverloadStep],
    all_good: Vec<&'s OverloadStep>,
}

impl<'s> Seen<'s> {
    /// A step that was delivered although the first that was not asked for less.
    fn crossing(&self) -> Option<(&'s OverloadStep, &'s OverloadStep)> {
        let first = *self.bad.first()?;
        let held = self
            .all_good
            .iter()
            .copied()
            .filter(|s| s.set_current_a > first.set_current_a + 1e-9)
            .max_by(|a, b| a.set_current_a.total_cmp(&b.set_current_a))?;
        Some((held, first))
    }
}

/// What a delivered step carried: what flowed where that was read, else what was asked for.
fn delivered_a(step: &OverloadStep) -> f64 {
    step.current_a.unwrap_or(step.set_current_a)
}

/// "delivered 4.9 A with 5 A set"; what was set is left out where it flowed.
fn delivered_words(step: &OverloadStep) -> String {
    let (flowed, set) = (short(delivered_a(step)), short(step.set_current_a));
    if flowed == set {
        format!("delivered {flowed} A")
    } else {
        format!("delivered {flowed} A with {set} A set")
    }
}

fn in_range(at_v: f64, from_v: f64, to_v: f64) -> bool {
    at_v >= from_v - 1e-9 && at_v <= to_v + 1e-9
}

/// The current that an adjustable offer grants at a voltage; `None` outside its range, and where
/// the source may hold it to a power that is not known.
fn range_current_a(object: &PowerDataObject, at_v: f64, port_power_w: Option<f64>) -> Option<f64> {
    let within = in_range(at_v, object.voltage_min_v(), object.voltage_max_v());
    match *object {
        _ if !within => None,
        PowerDataObject::Pps {
            power_limited: true,
            ..
        } => Some(object.current_a()?.min(port_power_w? / at_v)),
        PowerDataObject::EprAvs { power_w, .. } => Some((f64::from(power_w) / at_v).min(5.0)),
        PowerDataObject::Pps { .. } | PowerDataObject::SprAvs { .. } => object
            .modes()
            .iter()
            .filter(|m| in_range(at_v, m.voltage_min_v(), m.voltage_max_v()))
            .map(Mode::current_a)
            .reduce(f64::max),
        _ => None,
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
        assert_eq!(screening.indicated_class.as_deref(), Some("PS2"));
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
            let found = screen(uoc, (isc, None), (va, None), Some((isc, va)), &tables);
            assert_eq!(
                found.within_limited_power,
                Some(lps),
                "{uoc} V {isc} A {va} VA"
            );
            assert_eq!(
                found.indicated_class.as_deref(),
                Some(class),
                "{uoc} V {isc} A {va} VA"
            );
        }
        let found = screen(48.3, (3.2, None), (98.0, None), Some((3.2, 98.0)), &tables);
        let current = &found.figures[0];
        assert_eq!(current.result, AgainstFigure::Outside);
        assert!((current.limit - 3.106).abs() < 1e-3);
        assert_eq!(found.figures[3].result, AgainstFigure::Within, "PS2");
        let beyond = screen(70.0, (1.0, None), (70.0, None), Some((1.0, 70.0)), &tables);
        assert_eq!(beyond.within_limited_power, None);
    }

    #[test]
    fn a_port_that_had_not_let_go_is_never_within_a_figure_of_limited_sources() {
        let low = judged(
            json!({"port": "C1", "voltage_v": 5, "steps": [
                {"set_current_a": 2, "current_a": 2, "voltage_v": 5, "held_s": 60}]}),
            json!([]),
        );
        let screening = low.screening.unwrap();
        assert_eq!(screening.indicated_class, None);
        assert_eq!(screening.within_limited_power, None);
        assert_eq!(
            screening.not_shown.as_deref(),
            Some("it had not let go up to 2 A")
        );
        assert!(
            screening
                .figures
                .iter()
                .all(|f| f.result == AgainstFigure::NotShown && f.risk.is_none())
        );
        assert_eq!(
            screening.figures[0].message,
            "2 A is not shown to be within the current figure for a limited power source, \
             inherently limited of 8 A: it had not let go up to 2 A"
        );
        // Outside is outside, whatever more may come.
        let high = judged(steps(&[(5.5, Some(5.5), Some(20.0), None)]), json!([]))
            .screening
            .unwrap();
        assert_eq!(high.within_limited_power, Some(false));
        assert_eq!(high.indicated_class.as_deref(), Some("PS3"));
        assert_eq!(high.figures[0].result, AgainstFigure::NotShown, "5.5 A");
    }

    #[test]
    fn the_largest_figures_on_record_are_screened() {
        let found = |more: Value| {
            let mut overload = steps(&[(4.0, Some(4.0), Some(20.0), None)]);
            for (key, value) in more.as_object().unwrap() {
                overload[key] = value.clone();
            }
            judged(overload, json!([])).screening.unwrap()
        };
        let trip = found(json!({"trip_current_a": 9}));
        assert_eq!(trip.current_a, 9.0);
        assert_eq!(trip.figures[0].result, AgainstFigure::Outside);
        assert_eq!(trip.within_limited_power, Some(false));
        // 80 W were seen; up to 9 A at 20 V may come.
        assert_eq!(trip.indicated_class, None);
        let power = found(json!({"trip_current_a": 5.74, "last_good_power_w": 113.6}));
        assert_eq!(power.power_w, 113.6);
        assert_eq!(power.indicated_class.as_deref(), Some("PS3"));
        assert_eq!(power.within_limited_power, Some(false));
        let lower = found(json!({"trip_current_a": 4.2, "last_good_power_w": 60}));
        assert_eq!(lower.power_w, 80.0);
        assert_eq!(lower.within_limited_power, Some(true));
        assert_eq!(lower.not_shown, None);
    }

    #[test]
    fn a_figure_between_the_last_good_step_and_the_next_is_not_shown_to_be_kept() {
        let found = judged(
            steps(&[
                (4.9, Some(4.9), Some(20.0), None),
                (5.2, Some(0.0), Some(0.0), None),
            ]),
            json!([]),
        )
        .screening
        .unwrap();
        assert_eq!(found.figures[0].result, AgainstFigure::Within, "5.2 of 8 A");
        assert_eq!(found.figures[1].result, AgainstFigure::NotShown);
        assert_eq!(found.within_limited_power, None);
        assert_eq!(
            found.not_shown.as_deref(),
            Some(
                "it was seen up to 4.9 A and 98 W, and may reach 5.2 A and 104 W before it lets go"
            )
        );
    }

    #[test]
    fn steps_come_before_a_stated_trip_current_and_contradictions_are_never_firm() {
        let mut off_inside = steps(&[
            (2.0, Some(2.0), Some(20.0), None),
            (2.5, Some(0.0), Some(0.0), Some("off")),
        ]);
        off_inside["trip_current_a"] = json!(3.5);
        let found = judged(off_inside, json!([]));
        assert_eq!(found.delivery, Outcome::Fail);
        assert_eq!(
            found.delivery_reason,
            "failed delivery: lets go inside its rating: 2.5 A of 3 A rated"
        );
        assert_eq!(found.contradictions.len(), 1);
        assert_eq!(found.trip_margin_percent, None, "3.5 A is contradicted");

        let falling = judged(
            steps(&[
                (3.5, Some(3.5), Some(20.0), None),
                (3.0, Some(3.0), Some(19.8), None),
                (2.5, Some(0.0), Some(0.0), None),
            ]),
            json!([]),
        );
        assert_eq!(falling.delivery, Outcome::ConditionalFail);
        assert_eq!(
            falling.delivery_reason,
            "the steps contradict each other: delivered 3.5 A, and not 2.5 A; rated 3 A"
        );
        assert_eq!(
            falling.contradictions,
            ["the steps show 3.5 A delivered, yet not 2.5 A"]
        );
        assert_eq!(falling.trip_current_a, None);
        assert_eq!(falling.screening.unwrap().within_limited_power, None);

        let mut stated_low = steps(&[(3.0, Some(3.0), Some(20.0), None)]);
        stated_low["trip_current_a"] = json!(2.7);
        let found = judged(stated_low, json!([]));
        assert_eq!(found.delivery, Outcome::ConditionalPass);
        assert_eq!(found.contradictions.len(), 1);
        // After it let go above its rating a port may stay off: no contradiction.
        let latched = judged(
            steps(&[
                (3.0, Some(3.0), Some(20.0), None),
                (3.6, Some(0.0), Some(0.0), None),
                (1.0, Some(0.0), Some(0.0), None),
                (0.0, Some(0.0), Some(0.0), None),
            ]),
            json!([]),
        );
        assert_eq!(latched.delivery, Outcome::Pass);
        assert!(latched.contradictions.is_empty());
    }

    #[test]
    fn what_flowed_is_said_where_it_was_read() {
        let short_of = judged(
            steps(&[(3.0, Some(2.95), Some(20.0), Some("on"))]),
            json!([]),
        );
        assert_eq!(short_of.delivery, Outcome::Pass);
        assert_eq!(
            short_of.delivery_reason,
            "delivered 2.95 A with 3 A set, rated 3 A"
        );
        let little = judged(
            steps(&[(3.0, Some(1.2), Some(20.0), Some("on"))]),
            json!([]),
        );
        assert_eq!(little.delivery, Outcome::NotAssessed);
        assert_eq!(little.delivery_reason, "loaded up to 1.2 A only, rated 3 A");
        assert_eq!(little.protection_why, "it did not let go up to 1.2 A");
        assert_eq!(little.held_current_a, Some(1.2));
        let sags = judged(
            steps(&[(3.0, Some(3.0), Some(10.0), Some("on"))]),
            json!([]),
        );
        assert_eq!(sags.delivery, Outcome::Fail);
        assert_eq!(
            sags.protection_why,
            "3 A at 10 V only: what it does beyond was not tried"
        );
        assert_eq!(sags.protection, None);
        assert_eq!(sags.screening.unwrap().within_limited_power, None);
    }

    #[test]
    fn a_port_that_was_off_without_load_is_not_tested() {
        for voltage_v in [0, 20] {
            let found = judged(
                json!({"port": "C1", "voltage_v": voltage_v, "rated_current_a": 1,
                    "trip_current_a": 3, "steps": [
                        {"set_current_a": 0, "current_a": 0, "voltage_v": 0},
                        {"set_current_a": 1, "current_a": 0, "voltage_v": 0}]}),
                json!([]),
            );
            assert_eq!(found.delivery, Outcome::NotAssessed);
            assert_eq!(found.protection, None);
            assert_eq!(
                found.protection_why,
                "the port was off without load already"
            );
            assert_eq!(found.contradictions.len(), 1);
        }
    }

    #[test]
    fn a_voltage_inside_an_adjustable_range_is_rated_by_the_range() {
        let rated = |port: Value, voltage_v: f64| {
            let document = json!({
                "format": "brickbook-record/1",
                "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 33},
                    "ports": [port]},
                "overloads": [{"port": "C1", "voltage_v": voltage_v, "trip_current_a": 3.4}],
            });
            let record = decode(&document.to_string()).unwrap();
            let found = results(&record, &Standards::embedded()).remove(0);
            (found.rated_current_a, found.rated_from)
        };
        let label = json!({"label": "C1", "connector": "usb-c", "modes": [
            {"kind": "pps", "voltage_min_v": 3.3, "voltage_max_v": 11, "current_a": 3}]});
        assert_eq!(
            rated(label.clone(), 11.0),
            (Some(3.0), Some("label".into()))
        );
        assert_eq!(rated(label.clone(), 7.5).0, Some(3.0));
        assert_eq!(rated(label, 12.0), (None, None));
        // 5 V 3 A; programmable 3.3 V to 11 V 3 A, and the same held to the port's power.
        let listed = |pps: &str, power: Value| {
            json!({"label": "C1", "power_w": power,
                "source_capabilities": ["0x0801912C", pps]})
        };
        assert_eq!(
            rated(listed("0xC0DC213C", Value::Null), 11.0),
            (Some(3.0), Some("list".into()))
        );
        assert_eq!(rated(listed("0xC8DC213C", json!(22)), 11.0).0, Some(2.0));
        assert_eq!(rated(listed("0xC8DC213C", Value::Null), 11.0).0, None);
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
