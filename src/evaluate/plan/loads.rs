//! The loads of a run in their order: what to set, what to read, and what is read already.

use super::{PlannedRun, Reason};
use crate::bench::record::{Category, NoLoad, Output, Point, Record, Run};
use crate::evaluate::Method;
use crate::evaluate::loading;
use crate::evaluate::runs::within;
use crate::standards::Regime;
use crate::standards::procedure::{NeededFor, Reading};

/// The current of one port at one load.
#[derive(Debug, Clone, PartialEq)]
pub struct PortCurrent {
    pub port: String,
    pub voltage_v: f64,
    /// Amperes, not rounded.
    pub current_a: f64,
}

/// Where a reading stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// Below a point: `input.power_w`.
    Point(String),
    /// Below the output of this port at a point: `voltage_v`, `current_a`.
    Output { port: String, key: &'static str },
    /// Below the no-load section: `power_w`.
    NoLoad(String),
}

/// One reading that a load asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedReading {
    pub place: Place,
    /// Is a verdict or a term of the score missing without it?
    pub needed: bool,
    pub done: bool,
    pub why: Reason,
}

/// One load of a run; 0 %: no load.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedLoad {
    pub load_percent: f64,
    /// In the order of the run's outputs; empty without load.
    pub currents: Vec<PortCurrent>,
    /// Is a verdict or the score missing without this load?
    pub needed: bool,
    pub why: Reason,
    /// How long to watch or record before the reading counts.
    pub dwell: Reason,
    pub readings: Vec<PlannedReading>,
    /// Place of the point in its run of the record; for no load: is the section there?
    pub recorded: Option<usize>,
}

impl PlannedLoad {
    pub fn is_no_load(&self) -> bool {
        self.load_percent == 0.0
    }

    /// Needed readings that the record lacks.
    pub fn open(&self) -> impl Iterator<Item = &PlannedReading> {
        self.readings
            .iter()
            .filter(move |r| self.needed && r.needed && !r.done)
    }

    pub fn is_done(&self) -> bool {
        self.open().next().is_none()
    }
}

/// The loads of a run. `again`: another run on this supply comes first.
pub(super) fn loads(
    run: &PlannedRun,
    regimes: &[&Regime],
    again: bool,
    record: &Record,
    method: &Method,
) -> Vec<PlannedLoad> {
    let held = run.recorded.and_then(|place| record.runs.get(place));
    let bench = Bench {
        run,
        regimes,
        again,
        record,
        held,
        method,
    };
    method
        .standards
        .procedure
        .order
        .loads_percent
        .iter()
        .map(|&load| {
            if load == 0.0 {
                bench.no_load()
            } else {
                bench.loaded(load)
            }
        })
        .collect()
}

struct Bench<'a> {
    run: &'a PlannedRun,
    regimes: &'a [&'a Regime],
    again: bool,
    record: &'a Record,
    /// The run of the record that holds the readings.
    held: Option<&'a Run>,
    method: &'a Method,
}

impl Bench<'_> {
    /// Asked for by hand alone: then everything is wanted.
    fn by_hand(&self) -> bool {
        self.regimes.is_empty() && !self.run.scores
    }

    fn loaded(&self, load_percent: f64) -> PlannedLoad {
        let procedure = &self.method.standards.procedure;
        let points = &procedure.load_points;
        let averaged = points.average_percents.contains(&load_percent);
        let (needed, why) = if averaged {
            let why = "One of the four loads whose efficiencies make the average";
            (true, Reason::new(why, points.source.clone()))
        } else {
            self.light_load(load_percent)
        };
        let tolerance = if load_percent == points.ten_percent {
            points.ten_percent_tolerance
        } else {
            points.tolerance_percent
        };
        let recorded = self
            .held
            .and_then(|run| nearest(&run.points, load_percent, tolerance));
        let point = recorded.and_then(|place| self.held?.points.get(place));
        let five_minute = &self.method.standards.low_power.five_minute;
        let drift = if self.run.category == Category::Multiple {
            five_minute.drift_percent_multiple
        } else {
            five_minute.drift_percent
        };
        let mut readings: Vec<PlannedReading> = procedure
            .readings
            .iter()
            .map(|reading| PlannedReading {
                place: Place::Point(reading.key.clone()),
                needed: self.is_needed(reading),
                done: point.is_some_and(|p| self.has_log(&p.log) || holds(p, &reading.key)),
                why: Reason::new(reading.why.clone(), reading.source.clone()),
            })
            .collect();
        for output in &self.run.rated_outputs {
            let held = point.and_then(|p| p.outputs.iter().find(|o| o.port == output.port));
            let from_log = point.is_some_and(|p| self.has_log(&p.log));
            for (key, get) in [
                ("voltage_v", (|o| o.voltage_v) as fn(&Output) -> Option<f64>),
                ("current_a", |o| o.current_a),
            ] {
                readings.push(PlannedReading {
                    place: Place::Output {
                        port: output.port.clone(),
                        key,
                    },
                    needed: true,
                    done: from_log || held.and_then(get).is_some(),
                    why: Reason::new("output power = sum of V x I", points.source.clone()),
                });
            }
        }
        PlannedLoad {
            load_percent,
            currents: self
                .run
                .rated_outputs
                .iter()
                .map(|output| PortCurrent {
                    port: output.port.clone(),
                    voltage_v: output.voltage_v,
                    current_a: loading::load_current_a(
                        load_percent,
                        output.current_a,
                        self.run.allocation,
                    ),
                })
                .collect(),
            needed,
            why,
            dwell: Reason::new(
                format!(
                    "Watch the input power for {} minutes. If it drifts by at most {drift} % of its largest, read at the end; if not, record averages or a log of {} minutes or more.",
                    five_minute.minutes, self.method.standards.low_power.average.least_minutes_each
                ),
                five_minute.clause.clone(),
            ),
            readings,
            recorded,
        }
    }

    /// 10 %: required by some regimes, and by the score; else it may be declared.
    fn light_load(&self, load_percent: f64) -> (bool, Reason) {
        let required: Vec<&&Regime> = self
            .regimes
            .iter()
            .filter(|r| r.ten_percent_is_requirement)
            .collect();
        let order = &self.method.standards.procedure.order.source;
        if let Some(first) = required.first() {
            let names: Vec<&str> = required.iter().map(|r| r.short.as_str()).collect();
            let text = format!(
                "{} set a minimum at {load_percent} % load",
                names.join(", ")
            );
            (true, Reason::new(text, first.citation.clone()))
        } else if self.run.scores {
            let text = "Light-load loss and line current of the score";
            (true, Reason::new(text, "score formula of this database"))
        } else if let Some((regime, how)) = self
            .regimes
            .iter()
            .find_map(|r| Some((r, r.ten_percent_reporting.as_ref()?)))
        {
            (false, Reason::new(how.clone(), regime.citation.clone()))
        } else {
            (self.by_hand(), Reason::new("Optional load", order.clone()))
        }
    }

    fn no_load(&self) -> PlannedLoad {
        let standards = &self.method.standards;
        let low_power = &standards.low_power;
        let held = self.held.and_then(|run| run.no_load.as_ref());
        let wide = standards.procedure.line.warning_tolerance_percent;
        let line = self.run.line;
        // One physical measurement: whichever run on this supply holds it.
        let elsewhere = self.record.runs.iter().any(|run| {
            within(run.line.voltage_v, line.voltage_v, wide)
                && within(run.line.frequency_hz, line.frequency_hz, wide)
                && run
                    .no_load
                    .as_ref()
                    .is_some_and(|n| n.power_w.is_some() || self.has_log(&n.log))
        });
        let readings = standards
            .procedure
            .no_load_readings
            .iter()
            .map(|reading| {
                let needed = reading.needed_for == NeededFor::Verdict;
                PlannedReading {
                    place: Place::NoLoad(reading.key.clone()),
                    needed,
                    done: held
                        .is_some_and(|n| self.has_log(&n.log) || no_load_holds(n, &reading.key))
                        || (needed && elsewhere),
                    why: Reason::new(reading.why.clone(), reading.source.clone()),
                }
            })
            .collect();
        let sampling = &low_power.sampling;
        PlannedLoad {
            load_percent: 0.0,
            currents: Vec::new(),
            needed: !self.again,
            why: if self.again {
                Reason::new(
                    "The same physical measurement as in the run before: optional, it shows how well it repeats",
                    standards.procedure.order.source.clone(),
                )
            } else {
                Reason::new(
                    "No-load limit of every rule; the outputs unplugged, every signal connection removed",
                    standards.procedure.order.source.clone(),
                )
            },
            dwell: Reason::new(
                format!(
                    "Record for {} minutes or more, a reading a second; the first third is for settling. Without a log: settle for {} minutes, then the average over {} minutes.",
                    sampling.least_minutes,
                    low_power.average.stabilise_minutes,
                    low_power.average.least_minutes_each
                ),
                standards.procedure.low_power_reading.source.clone(),
            ),
            readings,
            recorded: held.map(|_| 0),
        }
    }

    /// A log holds whatever is needed, if the record lists it: a name alone holds nothing.
    fn has_log(&self, name: &Option<String>) -> bool {
        name.as_ref()
            .is_some_and(|name| self.record.logs.iter().any(|log| log.name == *name))
    }

    fn is_needed(&self, reading: &Reading) -> bool {
        match reading.needed_for {
            NeededFor::Verdict => true,
            NeededFor::Score => {
                self.run.scores || self.regimes.iter().any(|r| r.power_factor.is_some())
            }
            NeededFor::Nothing => false,
        }
    }
}

/// The point at a nominal load, as an evaluation picks it: the nearest, of equals the last.
fn nearest(points: &[Point], nominal: f64, tolerance: f64) -> Option<usize> {
    let distance = |p: &Point| (p.load_percent - nominal).abs();
    points
        .iter()
        .enumerate()
        .filter(|(_, p)| distance(p) <= tolerance)
        .reduce(|best, p| {
            if distance(p.1) <= distance(best.1) {
                p
            } else {
                best
            }
        })
        .map(|(place, _)| place)
}

/// Does a point hold the reading of this key?
fn holds(point: &Point, key: &str) -> bool {
    let Some(input) = &point.input else {
        return false;
    };
    match key {
        "input.power_w" => input.power_w.is_some(),
        // Follows from voltage and current as well.
        "input.power_factor" => {
            input.power_factor.is_some() || input.voltage_v.is_some() && input.current_a.is_some()
        }
        "input.voltage_v" => input.voltage_v.is_some(),
        "input.current_a" => input.current_a.is_some(),
        "input.current_thd_percent" => input.current_thd_percent.is_some(),
        "input.current_peak_a" => input.current_peak_a.is_some(),
        _ => false,
    }
}

fn no_load_holds(no_load: &NoLoad, key: &str) -> bool {
    match key {
        "power_w" => no_load.power_w.is_some(),
        "current_a" => no_load.current_a.is_some(),
        "power_factor" => no_load.power_factor.is_some(),
        "current_peak_a" => no_load.current_peak_a.is_some(),
        _ => false,
    }
}
