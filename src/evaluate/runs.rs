//! One run: its rated power and category, its points, averages and loss model, and whether it
//! may decide a verdict.

use super::evaluation::{NoLoadResult, PointResult, RunResult};
use super::evidence::{Evidence, RunEvidence};
use super::loading;
use super::loss_model::{self, LossReading};
use super::no_load;
use super::points;
use super::uncertainty::Accuracy;
use crate::bench::record::{Category, Log, MeasuredQuantity as Q, Record, Run, Unit};
use crate::standards::Standards;

/// Two voltages or currents this close are the same label value.
const SAME: f64 = 1e-9;

/// All runs of a record, which reads as its logs make it read.
pub fn results(record: &Record, evidence: &Evidence, standards: &Standards) -> Vec<RunResult> {
    let accuracy = Accuracy::of(&record.instruments);
    let mut results: Vec<RunResult> = record
        .runs
        .iter()
        .enumerate()
        .map(|(i, run)| {
            let bench = Bench {
                record,
                evidence: evidence.run(i),
                accuracy,
                standards,
            };
            bench.result(run)
        })
        .collect();
    let reasons: Vec<Option<String>> = (0..results.len())
        .map(|i| informative(i, &results, &record.unit, standards))
        .collect();
    for (result, reason) in results.iter_mut().zip(reasons) {
        result.informative = reason;
    }
    results
}

/// What one run is worked out from.
struct Bench<'a> {
    record: &'a Record,
    evidence: &'a RunEvidence,
    accuracy: Accuracy<'a>,
    standards: &'a Standards,
}

impl Bench<'_> {
    fn log(&self, name: &Option<String>) -> Option<&Log> {
        let name = name.as_deref()?;
        self.record.logs.iter().find(|log| log.name == name)
    }

    fn points(&self, run: &Run, multiple: bool) -> Vec<PointResult> {
        run.points
            .iter()
            .enumerate()
            .map(|(j, point)| {
                let found = self.evidence.point(j).and_then(|found| found.as_ref().ok());
                let mut result = points::result(point, &run.rated_outputs, self.accuracy, found);
                result.log = found
                    .zip(self.log(&point.log))
                    .map(|(found, log)| found.log(log, multiple, &self.standards.low_power));
                result
            })
            .collect()
    }

    fn no_load(&self, run: &Run, multiple: bool) -> Option<NoLoadResult> {
        let reading = run.no_load.as_ref()?;
        if let Some(Ok(found)) = &self.evidence.no_load
            && let Some(log) = self.log(&reading.log)
        {
            let rules = &self.standards.low_power;
            return Some(no_load::result(found, log, self.accuracy, multiple, rules));
        }
        let power_w = reading.power_w?;
        Some(NoLoadResult {
            power_w,
            power_u: self.accuracy.of_reading(Q::NoLoadPowerW, Some(power_w)),
            method: "reading".to_owned(),
            expanded_uncertainty_w: None,
            log: None,
        })
    }

    fn result(&self, run: &Run) -> RunResult {
        let (unit, standards) = (&self.record.unit, self.standards);
        let load = &standards.procedure.load_points;
        let allocation = allocation(run, unit);
        let (category, category_reason) = category(run, unit, standards);
        let multiple = category == Category::Multiple;
        let points = self.points(run, multiple);

        let found: Vec<_> = load
            .average_percents
            .iter()
            .map(|&percent| {
                let point = points::at_percent(&points, percent, load.tolerance_percent)
                    .filter(|p| p.efficiency.is_some());
                (percent, point)
            })
            .collect();
        let average_missing: Vec<f64> = found
            .iter()
            .filter(|(_, p)| p.is_none())
            .map(|(percent, _)| *percent)
            .collect();
        // Mean of the ratios, not ratio of the sums (Appendix Z; IEC).
        let mean = |values: Vec<Option<f64>>| -> Option<f64> {
            let known: Option<Vec<f64>> = values.into_iter().collect();
            known
                .filter(|k| !k.is_empty())
                .map(|k| k.iter().sum::<f64>() / k.len() as f64)
        };
        let average_efficiency = mean(
            found
                .iter()
                .map(|(_, p)| p.and_then(|p| p.efficiency))
                .collect(),
        );
        // The same instruments' errors act at every point: fully correlated, so the mean of the u.
        let average_efficiency_u = mean(
            found
                .iter()
                .map(|(_, p)| p.and_then(|p| p.efficiency_u))
                .collect(),
        );
        let ten = points::at_percent(&points, load.ten_percent, load.ten_percent_tolerance)
            .filter(|p| p.efficiency.is_some());

        let rated_power_w = rated_power_w(run, unit);
        let no_load = self.no_load(run, multiple);
        let mut losses: Vec<LossReading> = run
            .points
            .iter()
            .zip(&points)
            .filter_map(|(point, result)| {
                Some(LossReading {
                    current_a: points::output_current_a(&point.outputs)?,
                    output_power_w: result.output_power_w?,
                    loss_w: result.loss_w?,
                })
            })
            .collect();
        losses.extend(no_load.as_ref().map(|n| LossReading {
            current_a: 0.0,
            output_power_w: 0.0,
            loss_w: n.power_w,
        }));

        RunResult {
            name: run.name.clone(),
            line_voltage_v: run.line.voltage_v,
            line_frequency_hz: run.line.frequency_hz,
            rated_power_w,
            rated_current_a: (!run.rated_outputs.is_empty())
                .then(|| run.rated_outputs.iter().map(|o| o.current_a).sum::<f64>() * allocation),
            rated_voltage_v: run
                .rated_outputs
                .iter()
                .map(|o| o.voltage_v)
                .reduce(f64::max),
            allocation,
            category,
            category_reason,
            all_ports: unit
                .ports
                .iter()
                .all(|port| run.rated_outputs.iter().any(|o| o.port == port.label)),
            informative: None,
            average_efficiency,
            average_efficiency_u,
            average_missing,
            ten_percent_efficiency: ten.and_then(|p| p.efficiency),
            ten_percent_efficiency_u: ten.and_then(|p| p.efficiency_u),
            loss_model: loss_model::fit(&losses, rated_power_w),
            no_load,
            waveforms: Vec::new(),
            points,
        }
    }
}

fn rated_sum_w(run: &Run) -> f64 {
    run.rated_outputs
        .iter()
        .map(|o| o.voltage_v * o.current_a)
        .sum()
}

/// Sum of the rated outputs' V·I, at most the nameplate power, in watts.
pub fn rated_power_w(run: &Run, unit: &Unit) -> Option<f64> {
    (!run.rated_outputs.is_empty()).then(|| rated_sum_w(run).min(unit.nameplate.output_power_w))
}

/// Proportional allocation: D = nameplate power / sum of the ports' V·I where that is below 1
/// (Appendix Z), else 1. Port current at a load = load % x rated current x D.
pub fn allocation(run: &Run, unit: &Unit) -> f64 {
    loading::allocation(unit.nameplate.output_power_w, rated_sum_w(run))
}

/// The category of a run and why.
pub fn category(run: &Run, unit: &Unit, standards: &Standards) -> (Category, String) {
    if let Some(choice) = &unit.category {
        return (
            choice.value,
            format!("chosen by the tester: {}", choice.reason),
        );
    }
    match delivers_different_voltages(unit) {
        Some(reason) => (Category::Multiple, reason),
        None => by_voltage(run, standards),
    }
}

/// Can two ports carry different voltages at one time? Then: which, in words.
pub fn delivers_different_voltages(unit: &Unit) -> Option<String> {
    for (i, one) in unit.ports.iter().enumerate() {
        for other in &unit.ports[i + 1..] {
            if one.negotiates() && other.negotiates() {
                return Some(format!(
                    "ports {} and {} negotiate on their own, so they can carry different voltages at the same time",
                    one.label, other.label
                ));
            }
            let differ = one.modes.iter().any(|a| {
                other.modes.iter().any(|b| {
                    (a.voltage_min_v() - b.voltage_min_v()).abs() > SAME
                        || (a.voltage_max_v() - b.voltage_max_v()).abs() > SAME
                })
            });
            if differ {
                return Some(format!(
                    "ports {} and {} can carry different voltages at the same time",
                    one.label, other.label
                ));
            }
        }
    }
    None
}

/// Low or basic by the run's rated output.
pub fn by_voltage(run: &Run, standards: &Standards) -> (Category, String) {
    let Some(voltage) = run
        .rated_outputs
        .iter()
        .map(|o| o.voltage_v)
        .reduce(f64::max)
    else {
        return (
            Category::Basic,
            "no rated output given: taken as basic voltage".to_owned(),
        );
    };
    let current: f64 = run.rated_outputs.iter().map(|o| o.current_a).sum();
    let low = &standards.procedure.low_voltage;
    let (below_v, at_least_a) = (low.below_v, low.at_least_a);
    let (category, why) = if voltage >= below_v {
        (Category::Basic, format!("is not below {below_v} V"))
    } else if current >= at_least_a {
        (
            Category::Low,
            format!("is below {below_v} V and {current} A is at least {at_least_a} A"),
        )
    } else {
        (
            Category::Basic,
            format!("is below {below_v} V, but {current} A is below {at_least_a} A"),
        )
    };
    (
        category,
        format!("one output voltage at a time; rated {voltage} V {why}"),
    )
}

/// Is `value` within `percent` of `nominal`?
pub fn within(value: f64, nominal: f64, percent: f64) -> bool {
    // The rounding allowance makes 113.85 V lie within 1 % of 115 V.
    (value - nominal).abs() <= nominal * (percent / 100.0 + 1e-12)
}

/// Why a run decides no verdict: it loads one port alone where a run loads all together, or it
/// lies between the highest and the lowest voltage of an adaptive unit.
fn informative(i: usize, runs: &[RunResult], unit: &Unit, standards: &Standards) -> Option<String> {
    let run = &runs[i];
    let wide = standards.procedure.line.warning_tolerance_percent;
    let same_line: Vec<&RunResult> = runs
        .iter()
        .filter(|r| {
            within(r.line_voltage_v, run.line_voltage_v, wide)
                && within(r.line_frequency_hz, run.line_frequency_hz, wide)
                && r.rated_power_w.is_some()
        })
        .collect();
    if !run.all_ports
        && let Some(together) = same_line.iter().find(|r| r.all_ports)
    {
        return Some(format!(
            "per-voltage, informative: does not load all ports; \u{201c}{}\u{201d} loads them together and decides",
            together.name
        ));
    }
    let voltage = run.rated_voltage_v?;
    if !unit.is_adaptive() {
        return None;
    }
    let peers = same_line
        .iter()
        .filter(|r| r.all_ports == run.all_ports)
        .filter_map(|r| r.rated_voltage_v);
    let (lowest, highest) = peers.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
        (lo.min(v), hi.max(v))
    });
    (voltage > lowest + SAME && voltage < highest - SAME).then(|| {
        format!(
            "per-voltage, informative: an adaptive unit is assessed at its highest and lowest tested voltage, {highest} V and {lowest} V"
        )
    })
}
