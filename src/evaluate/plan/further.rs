//! What a complete bench report holds beyond the energy runs: overload, heat, sharing between
//! ports, capability lists, mass and size.

use super::{PlannedRun, PortCurrent, Reason};
use crate::bench::record::{Mode, Port, Record};
use crate::evaluate::heat::{self, HeatState};
use crate::evaluate::loading::{is_usb_pd, port_voltages, rated_current_a};
use crate::evaluate::runs::within;
use crate::evaluate::sharing;
use crate::standards::Standards;

/// One port at one voltage, loaded beyond its rating step by step.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedOverload {
    pub port: String,
    pub voltage_v: f64,
    pub rated_current_a: f64,
    pub first_step_a: f64,
    pub step_a: f64,
    pub last_step_a: f64,
    pub hold_s: f64,
    pub why: Reason,
    /// Place in the record's overloads.
    pub recorded: Option<usize>,
    pub done: bool,
}

/// Temperatures at full load.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedHeat {
    /// Name of the planned run whose 100 % condition it is.
    pub run: String,
    pub load_w: f64,
    pub currents: Vec<PortCurrent>,
    /// Moments in minutes, and the place in the record's temperatures where one was read.
    pub minutes: Vec<(f64, Option<usize>)>,
    /// Steady: less than this, kelvin, over that, minutes.
    pub steady_k: f64,
    pub steady_min: f64,
    pub why: Reason,
    /// Does the record hold a series of hot-spot temperatures at this load that is steady, or that
    /// tells where it ends?
    pub done: bool,
}

/// A combination of ports to be looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedCombination {
    pub ports: Vec<String>,
    pub needed: bool,
    pub why: Reason,
}

/// A field of the label or the body that a complete report has.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDetail {
    pub path: String,
    pub what: String,
    pub why: Reason,
    pub done: bool,
}

pub(super) fn overloads(record: &Record, standards: &Standards) -> Vec<PlannedOverload> {
    let procedure = &standards.procedure.overload;
    let same = standards.procedure.cross_checks.label_power_percent;
    let mut found = Vec::new();
    for port in &record.unit.ports {
        for voltage_v in rated_voltages(port) {
            let Some(rated) = rated_current_a(port, voltage_v) else {
                continue;
            };
            let recorded = record.overloads.iter().position(|o| {
                o.port == port.label && o.voltage_v.is_some_and(|v| within(v, voltage_v, same))
            });
            let done = recorded.is_some_and(|place| {
                let o = &record.overloads[place];
                o.trip_current_a.is_some() || !o.steps.is_empty()
            });
            found.push(PlannedOverload {
                port: port.label.clone(),
                voltage_v,
                rated_current_a: rated,
                first_step_a: rated * procedure.first_percent / 100.0,
                step_a: rated * procedure.step_percent / 100.0,
                last_step_a: rated * procedure.up_to_percent / 100.0,
                hold_s: procedure.hold_s,
                why: Reason::new(
                    "Where it trips, how it recovers, whether other ports notice; a trip inside the rating is a failed delivery",
                    procedure.source.clone(),
                ),
                recorded,
                done,
            });
        }
    }
    found
}

/// Fixed voltages of a port; where it has none, the highest of its ranges.
fn rated_voltages(port: &Port) -> Vec<f64> {
    let mut fixed: Vec<f64> = port
        .modes
        .iter()
        .filter_map(|m| match m {
            Mode::Fixed { voltage_v, .. } => Some(*voltage_v),
            Mode::Pps { .. } | Mode::Avs { .. } => None,
        })
        .collect();
    fixed.sort_by(f64::total_cmp);
    fixed.dedup();
    if fixed.is_empty() {
        fixed.extend(port_voltages(port).map(|(_, highest)| highest));
    }
    fixed
}

/// Heat at the 100 % condition of the largest rated power, of equals the first.
pub(super) fn heat(
    record: &Record,
    runs: &[PlannedRun],
    standards: &Standards,
) -> Option<PlannedHeat> {
    let procedure = &standards.procedure.temperature;
    let same = standards.procedure.cross_checks.load_percent_of_rated;
    let run = runs.iter().reduce(|best, run| {
        if run.rated_power_w > best.rated_power_w {
            run
        } else {
            best
        }
    })?;
    let load = run
        .loads
        .iter()
        .find(|l| l.load_percent == procedure.load_percent)?;
    // To the milliwatt: sums of products carry the dust of binary fractions.
    let load_w = (run.rated_power_w * procedure.load_percent * 10.0).round() / 1000.0;
    let at_this_load = |minutes: f64| {
        record.temperatures.iter().position(|t| {
            t.load_w.is_some_and(|w| within(w, load_w, same)) && t.minutes == Some(minutes)
        })
    };
    // One reading tells nothing of where it ends: a series must have settled, or told where to.
    let done = heat::results(record, standards).iter().any(|series| {
        series.quantity == "hot-spot"
            && series.load_w.is_some_and(|w| within(w, load_w, same))
            && series.ambient_c.is_some()
            && matches!(series.state, HeatState::Steady | HeatState::Extrapolated)
    });
    let table = &standards.touch_temperature;
    Some(PlannedHeat {
        run: run.name.clone(),
        load_w,
        currents: load.currents.clone(),
        minutes: procedure
            .minutes
            .iter()
            .map(|&minutes| (minutes, at_this_load(minutes)))
            .collect(),
        steady_k: table.steady_k,
        steady_min: table.steady_min,
        why: Reason::new(
            "Hot-spot rise is a term of the score; touch temperatures are compared with figures by material",
            procedure.source.clone(),
        ),
        done,
    })
}

/// Combinations still worth an observation, most informative first, and how many are recorded.
pub(super) fn combinations(record: &Record) -> (Vec<PlannedCombination>, usize) {
    let open = sharing::untested(record)
        .into_iter()
        .map(|c| PlannedCombination {
            ports: c.ports,
            needed: c.needed,
            why: Reason::new(c.why, String::new()),
        })
        .collect();
    (open, record.sharing.len())
}

pub(super) fn details(record: &Record, standards: &Standards) -> Vec<PlannedDetail> {
    let sources = &standards.procedure.further;
    let unit = &record.unit;
    let mut found = Vec::new();
    for (i, port) in unit.ports.iter().enumerate().filter(|(_, p)| is_usb_pd(p)) {
        found.push(PlannedDetail {
            path: format!("unit.ports[{i}].source_capabilities"),
            what: format!(
                "Capability list of port {}, read with a PD analyser",
                port.label
            ),
            why: Reason::new(
                "Shows what is advertised beside what is claimed and measured",
                sources.capabilities_source.clone(),
            ),
            done: !port.source_capabilities.is_empty(),
        });
    }
    let size = Reason::new("A complete report has it", sources.size_source.clone());
    let mass = unit.mass_g.as_ref();
    let mut detail = |path: &str, what: &str, done: bool| {
        found.push(PlannedDetail {
            path: path.to_owned(),
            what: what.to_owned(),
            why: size.clone(),
            done,
        });
    };
    detail(
        "unit.mass_g.adapter",
        "Mass of the adapter without cord",
        mass.is_some_and(|m| m.adapter.is_some()),
    );
    for (i, edge) in ["first", "second", "third"].into_iter().enumerate() {
        detail(
            &format!("unit.size_mm[{i}]"),
            &format!("Size, {edge} edge, without the cord"),
            unit.size_mm.is_some(),
        );
    }
    found
}
