//! Cross checks that warn: readings that disagree with each other, with the method, with the label.

use super::compliance::label_voltages;
use super::evaluation::{
    LabelCheck, LabelOutcome, NoLoadLog, PointLog, PointResult, RunResult, Warning,
};
use super::evidence::Evidence;
use super::loading;
use super::no_load::UNSETTLED;
use super::plan::{Condition, are_same_outputs, full_load_conditions};
use super::points;
use super::runs::{self, within};
use super::uncertainty::{Accuracy, Unknown};
use crate::bench::record::{MeasuredQuantity as Q, Point, Record, Run, Unit};
use crate::quantity::{NEXT_TO_NOTHING, combined, divisor};
use crate::standards::Standards;
use std::collections::BTreeSet;

/// All warnings, in the order of the record.
pub fn warnings(
    record: &Record,
    results: &[RunResult],
    label_checks: &[LabelCheck],
    standards: &Standards,
) -> Vec<Warning> {
    let mut found = Vec::new();
    let mut warn = |path: String, message: String| found.push(Warning { path, message });
    for check in label_checks
        .iter()
        .filter(|c| c.result == LabelOutcome::Contradicts)
    {
        let path = match check.check.as_str() {
            "implied-power-factor" => "unit.nameplate.input_current_a",
            "port-power" | "pd-power-rules" => "unit.ports",
            // A mark that is not met is a finding about the unit, not an oddity of the record.
            _ => continue,
        };
        warn(path.to_owned(), check.message.clone());
    }
    let accuracy = Accuracy::of(&record.instruments);
    let planned = full_load_conditions(&record.unit, standards);
    for (i, (run, result)) in record.runs.iter().zip(results).enumerate() {
        let path = format!("runs[{i}]");
        line(run, &path, standards, &mut warn);
        ambient(run, &path, standards, &mut warn);
        missing_points(run, result, &path, standards, &mut warn);
        // What the test plan asks for is never warned of.
        let is_planned = planned
            .iter()
            .any(|c| are_same_outputs(&run.rated_outputs, &c.outputs, standards));
        if !is_planned {
            pd_low_run(run, record, &path, standards, &mut warn);
            rated_below_label(run, &record.unit, &path, standards, &mut warn);
        }
        readings(run, result, &path, standards, &mut warn);
        next_to_nothing(run, &path, &mut warn);
        ranges(run, &path, accuracy, &mut warn);
    }
    untested_voltages(record, results, &planned, standards, &mut warn);
    full_power(record, results, &planned, standards, &mut warn);
    hot_spots(record, accuracy, &mut warn);
    found
}

/// A hot spot that is not the hottest, beyond what the thermometer may err.
fn hot_spots(record: &Record, accuracy: Accuracy, warn: &mut impl FnMut(String, String)) {
    for (at, t) in record.temperatures.iter().enumerate() {
        let Some(hot) = t.hot_spot_c else { continue };
        let below = |other: Option<f64>| {
            other.filter(|&other| {
                let u = combined([hot, other].map(|c| accuracy.standard(Q::TemperatureC, c).ok()));
                other - hot > u.map_or(0.0, |u| 2.0 * u)
            })
        };
        let path = || format!("temperatures[{at}].hot_spot_c");
        // What comes from a colder room may be below the ambient as the load is put on.
        if let Some(ambient) = below(t.ambient_c).filter(|_| t.minutes != Some(0.0)) {
            warn(
                path(),
                format!("{hot} °C is below the ambient of {ambient} °C"),
            );
        }
        if let Some(surface) = below(t.surface_c) {
            warn(
                path(),
                format!(
                    "{hot} °C is below the surface of {surface} °C, which counts for the score"
                ),
            );
        }
    }
}

fn line(run: &Run, path: &str, standards: &Standards, warn: &mut impl FnMut(String, String)) {
    let tolerance = &standards.procedure.line;
    let lines: BTreeSet<(u64, u64)> = standards
        .regimes
        .iter()
        .map(|r| (r.line_voltage_v.to_bits(), r.line_frequency_hz.to_bits()))
        .collect();
    let lines = lines
        .into_iter()
        .map(|(v, f)| (f64::from_bits(v), f64::from_bits(f)));
    let is_within = |(v, f): (f64, f64), percent| {
        within(run.line.voltage_v, v, percent) && within(run.line.frequency_hz, f, percent)
    };
    let nearest: Vec<(f64, f64)> = lines
        .filter(|&l| is_within(l, tolerance.warning_tolerance_percent))
        .collect();
    match nearest.first() {
        Some(&l) if is_within(l, tolerance.tolerance_percent) => {}
        Some(&(v, f)) => warn(
            format!("{path}.line"),
            format!(
                "{} V {} Hz is off {v} V {f} Hz by more than {} %: assessed all the same, with this warning",
                run.line.voltage_v, run.line.frequency_hz, tolerance.tolerance_percent
            ),
        ),
        None => warn(
            format!("{path}.line"),
            format!(
                "{} V {} Hz is no regime's supply: the run decides no verdict",
                run.line.voltage_v, run.line.frequency_hz
            ),
        ),
    }
}

fn ambient(run: &Run, path: &str, standards: &Standards, warn: &mut impl FnMut(String, String)) {
    let wide = standards.procedure.line.warning_tolerance_percent;
    let window = standards
        .procedure
        .ambient
        .iter()
        .find(|w| within(run.line.voltage_v, w.line_voltage_v, wide));
    if let (Some(ambient), Some(window)) = (run.ambient_c, window)
        && (ambient - window.c).abs() > window.tolerance_c
    {
        warn(
            format!("{path}.ambient_c"),
            format!(
                "{ambient} °C is outside the method's {} °C ± {} K ({})",
                window.c, window.tolerance_c, window.source
            ),
        );
    }
}

fn missing_points(
    run: &Run,
    result: &RunResult,
    path: &str,
    standards: &Standards,
    warn: &mut impl FnMut(String, String),
) {
    if run.points.is_empty() {
        return;
    }
    let load = &standards.procedure.load_points;
    let mut missing = result.average_missing.clone();
    if result.ten_percent_efficiency.is_none() {
        missing.insert(0, load.ten_percent);
    }
    if !missing.is_empty() {
        let loads: Vec<String> = missing.iter().map(|p| format!("{p} %")).collect();
        warn(
            format!("{path}.points"),
            format!("no complete point at {} load", loads.join(", ")),
        );
    }
    if run.rated_outputs.is_empty() {
        warn(
            format!("{path}.rated_outputs"),
            "no rated outputs: the run has no rated power to be judged at".to_owned(),
        );
    }
    if run.no_load.as_ref().and_then(|n| n.power_w).is_none() {
        warn(format!("{path}.no_load"), "no no-load reading".to_owned());
    }
    for (j, point) in run.points.iter().enumerate() {
        if run.points[..j]
            .iter()
            .any(|p| (p.load_percent - point.load_percent).abs() < 1e-9)
        {
            warn(
                format!("{path}.points[{j}].load_percent"),
                format!(
                    "{} % load stands more than once: the last one is used",
                    point.load_percent
                ),
            );
        }
    }
}

/// The 5 V run of a USB PD port is rated 2 A by the US method.
fn pd_low_run(
    run: &Run,
    record: &Record,
    path: &str,
    standards: &Standards,
    warn: &mut impl FnMut(String, String),
) {
    // A unit outside the definition is an adaptive one like any other.
    if !matches!(loading::usb_pd_unit(&record.unit, standards), Some(Ok(()))) {
        return;
    }
    let rule = &standards.procedure.usb_pd_lowest_voltage;
    let Some((lowest, _)) = label_voltages(&record.unit) else {
        return;
    };
    for (j, rated) in run.rated_outputs.iter().enumerate() {
        let pd_port = record
            .unit
            .ports
            .iter()
            .any(|p| p.label == rated.port && loading::is_usb_pd(p));
        if pd_port
            && (rated.voltage_v - lowest).abs() < 1e-9
            && (rated.current_a - rule.current_a).abs() > 1e-9
        {
            warn(
                format!("{path}.rated_outputs[{j}].current_a"),
                format!(
                    "{} A: the method rates a USB PD port at its lowest voltage, {lowest} V, at {} A ({})",
                    rated.current_a, rule.current_a, rule.source
                ),
            );
        }
    }
}

/// Rated outputs that are less than what the label's port offers at that voltage: such a run is
/// one at a part of the load, whatever its points are called.
fn rated_below_label(
    run: &Run,
    unit: &Unit,
    path: &str,
    standards: &Standards,
    warn: &mut impl FnMut(String, String),
) {
    let procedure = &standards.procedure;
    let percent = procedure.cross_checks.label_power_percent;
    let least = 1.0 - percent / 100.0;
    let rule = &procedure.usb_pd_lowest_voltage;
    let is_pd_unit = matches!(loading::usb_pd_unit(unit, standards), Some(Ok(())));
    let together_w: f64 = run
        .rated_outputs
        .iter()
        .map(|o| o.voltage_v * o.current_a)
        .sum();
    for (j, rated) in run.rated_outputs.iter().enumerate() {
        let Some(port) = unit.ports.iter().find(|p| p.label == rated.port) else {
            continue;
        };
        let Some(offered) = loading::rated_current_a(port, rated.voltage_v) else {
            continue;
        };
        let at_lowest = loading::port_voltages(port)
            .is_some_and(|(lowest, _)| within(rated.voltage_v, lowest, percent));
        // Many load a port of an extended-range unit by the 2 A rule as well: a debatable reading, not
        // a part load.
        let by_rule = loading::is_usb_pd(port) || is_pd_unit && port.negotiates();
        let wanted = if at_lowest && by_rule {
            offered.min(rule.current_a)
        } else {
            offered
        };
        if rated.current_a >= wanted * least - 1e-9 {
            continue;
        }
        // Ports that are loaded together may have their shares of the power noted as ratings.
        let shares = run.rated_outputs.iter().any(|other| {
            other.port != rated.port
                && port.share_group.is_some()
                && unit
                    .ports
                    .iter()
                    .any(|p| p.label == other.port && p.share_group == port.share_group)
        });
        let allocated =
            run.rated_outputs.len() > 1 && together_w >= unit.nameplate.output_power_w * least;
        if shares || allocated {
            continue;
        }
        warn(
            format!("{path}.rated_outputs[{j}]"),
            format!(
                "{} A at {} V is less than the {wanted} A that the label gives port {}: the run is judged at a part of the rating, not at full load",
                rated.current_a, rated.voltage_v, rated.port
            ),
        );
    }
}

/// On each supply: the run at the highest voltage loads the unit to its nameplate power, and a unit
/// of several ports has a run that loads them all.
fn full_power(
    record: &Record,
    results: &[RunResult],
    planned: &[Condition],
    standards: &Standards,
    warn: &mut impl FnMut(String, String),
) {
    let unit = &record.unit;
    let nameplate_w = unit.nameplate.output_power_w;
    let procedure = &standards.procedure;
    let least = 1.0 - procedure.cross_checks.label_power_percent / 100.0;
    let wide = procedure.line.warning_tolerance_percent;
    // What the label itself gives at its highest voltage, where every port says so.
    let label_w = planned
        .first()
        .filter(|c| c.outputs.len() == unit.ports.len())
        .map(|c| c.together_w());
    let mut seen: Vec<(f64, f64)> = Vec::new();
    for run in results.iter().filter(|r| r.rated_power_w.is_some()) {
        let line = (run.line_voltage_v, run.line_frequency_hz);
        let same = |l: (f64, f64)| within(line.0, l.0, wide) && within(line.1, l.1, wide);
        if seen.iter().any(|&l| same(l)) {
            continue;
        }
        seen.push(line);
        let here = || {
            results.iter().enumerate().filter(|(_, r)| {
                r.rated_power_w.is_some() && same((r.line_voltage_v, r.line_frequency_hz))
            })
        };
        if unit.ports.len() > 1 && here().all(|(_, r)| !r.all_ports) {
            warn(
                "runs".to_owned(),
                format!(
                    "no run on {} V {} Hz loads all {} ports together: what is judged is less than the whole unit",
                    line.0,
                    line.1,
                    unit.ports.len()
                ),
            );
            continue;
        }
        let highest = here()
            .filter(|(_, r)| r.informative.is_none())
            .reduce(|best, next| {
                let key = |r: &RunResult| (r.rated_voltage_v, r.rated_power_w);
                if key(next.1) > key(best.1) {
                    next
                } else {
                    best
                }
            });
        let Some((i, highest)) = highest else {
            continue;
        };
        let Some(watts) = highest.rated_power_w.filter(|w| *w < nameplate_w * least) else {
            continue;
        };
        let why = match label_w {
            Some(label) if watts >= label * least => {
                "at its highest voltage the label gives no more, so that its full power is not tested"
            }
            _ => "the unit is not tested at its full power",
        };
        warn(
            format!("runs[{i}].rated_outputs"),
            format!(
                "the run at the highest voltage is rated {} W, the nameplate {nameplate_w} W: {why}",
                (watts * 100.0).round() / 100.0
            ),
        );
    }
}

fn readings(
    run: &Run,
    result: &RunResult,
    path: &str,
    standards: &Standards,
    warn: &mut impl FnMut(String, String),
) {
    let limits = &standards.procedure.cross_checks;
    for (j, (point, computed)) in run.points.iter().zip(&result.points).enumerate() {
        let path = format!("{path}.points[{j}]");
        if let Some(input) = &point.input {
            power_factor(
                input.power_factor,
                input.power_w,
                input.voltage_v,
                input.current_a,
                &format!("{path}.input"),
                limits.power_factor_percent,
                warn,
            );
            if let Some(volts) = input.voltage_v
                && !within(volts, run.line.voltage_v, limits.supply_percent)
            {
                warn(
                    format!("{path}.input.voltage_v"),
                    format!(
                        "{volts} V is off the nominal {} V by more than {} %",
                        run.line.voltage_v, limits.supply_percent
                    ),
                );
            }
            if input.power_factor == Some(0.0) && computed.output_power_w.is_some_and(|p| p > 0.0) {
                warn(
                    format!("{path}.input.power_factor"),
                    "a power factor of 0 under load is impossible".to_owned(),
                );
            }
        }
        for (k, output) in point.outputs.iter().enumerate() {
            let Some(rated) = run.rated_outputs.iter().find(|r| r.port == output.port) else {
                continue;
            };
            let target =
                loading::load_current_a(point.load_percent, rated.current_a, result.allocation);
            let rated_current = rated.current_a * result.allocation;
            if let Some(current) = output.current_a
                && (current - target).abs()
                    > limits.load_percent_of_rated / 100.0 * rated_current * (1.0 + 1e-9)
            {
                warn(
                    format!("{path}.outputs[{k}].current_a"),
                    format!(
                        "{current} A is off the target of {} A by more than {} % of rated",
                        loading::to_milliampere(target),
                        limits.load_percent_of_rated
                    ),
                );
            }
        }
    }
    if let Some(no_load) = &run.no_load {
        let volts = Some(run.line.voltage_v);
        power_factor(
            no_load.power_factor,
            no_load.power_w,
            volts,
            no_load.current_a,
            &format!("{path}.no_load"),
            limits.no_load_power_factor_percent,
            warn,
        );
    }
}

/// Amounts that nothing is divided by: what would follow from them cannot be computed.
fn next_to_nothing(run: &Run, path: &str, warn: &mut impl FnMut(String, String)) {
    let mut look = |path: String, amount: Option<f64>, unit: &str| {
        if let Some(amount) = amount.filter(|x| *x > 0.0 && *x < NEXT_TO_NOTHING) {
            warn(
                path,
                format!(
                    "{amount:e} {unit} is next to nothing: what would be divided by it, such as an efficiency, cannot be computed"
                ),
            );
        }
    };
    for (j, rated) in run.rated_outputs.iter().enumerate() {
        let path = format!("{path}.rated_outputs[{j}]");
        look(format!("{path}.voltage_v"), Some(rated.voltage_v), "V");
        look(format!("{path}.current_a"), Some(rated.current_a), "A");
    }
    for (j, point) in run.points.iter().enumerate() {
        let path = format!("{path}.points[{j}]");
        if let Some(input) = &point.input {
            look(format!("{path}.input.power_w"), input.power_w, "W");
            look(format!("{path}.input.voltage_v"), input.voltage_v, "V");
            look(format!("{path}.input.current_a"), input.current_a, "A");
        }
        for (k, output) in point.outputs.iter().enumerate() {
            let path = format!("{path}.outputs[{k}]");
            look(format!("{path}.voltage_v"), output.voltage_v, "V");
            look(format!("{path}.current_a"), output.current_a, "A");
        }
    }
}

#[allow(clippy::too_many_arguments)] // four readings that belong together, and where they stand
fn power_factor(
    given: Option<f64>,
    power_w: Option<f64>,
    voltage_v: Option<f64>,
    current_a: Option<f64>,
    path: &str,
    percent: f64,
    warn: &mut impl FnMut(String, String),
) {
    let (Some(given), Some(p), Some(v), Some(i)) = (given, power_w, voltage_v, current_a) else {
        return;
    };
    let Some(apparent) = divisor(v * i) else {
        return;
    };
    let computed = p / apparent;
    if (given - computed).abs() > percent / 100.0 * computed {
        warn(
            format!("{path}.power_factor"),
            format!("{given} differs from P/(V I) = {computed:.3} by more than {percent} %"),
        );
    }
}

fn ranges(run: &Run, path: &str, accuracy: Accuracy, warn: &mut impl FnMut(String, String)) {
    let mut check = |quantity, reading: Option<f64>, path: String| {
        if let Some(x) = reading
            && accuracy.standard(quantity, x) == Err(Unknown::AboveEveryRange)
        {
            warn(
                path,
                format!("{x} is above every range of the instruments: its uncertainty is unknown"),
            );
        }
    };
    for (j, point) in run.points.iter().enumerate() {
        let path = format!("{path}.points[{j}]");
        if let Some(input) = &point.input {
            check(
                Q::InputPowerW,
                input.power_w,
                format!("{path}.input.power_w"),
            );
            check(
                Q::InputVoltageV,
                input.voltage_v,
                format!("{path}.input.voltage_v"),
            );
            check(
                Q::InputCurrentA,
                input.current_a,
                format!("{path}.input.current_a"),
            );
        }
        for (k, output) in point.outputs.iter().enumerate() {
            check(
                Q::OutputVoltageV,
                output.voltage_v,
                format!("{path}.outputs[{k}].voltage_v"),
            );
            check(
                Q::OutputCurrentA,
                output.current_a,
                format!("{path}.outputs[{k}].current_a"),
            );
        }
    }
    if let Some(no_load) = &run.no_load {
        check(
            Q::NoLoadPowerW,
            no_load.power_w,
            format!("{path}.no_load.power_w"),
        );
    }
}

/// An adaptive unit should be tested at the ends of its label's voltages on each supply.
fn untested_voltages(
    record: &Record,
    results: &[RunResult],
    planned: &[Condition],
    standards: &Standards,
    warn: &mut impl FnMut(String, String),
) {
    let voltages = || {
        let outputs = planned.iter().flat_map(|c| &c.outputs);
        outputs.map(|o| o.voltage_v)
    };
    let (Some(lowest), Some(highest), true) = (
        voltages().reduce(f64::min),
        voltages().reduce(f64::max),
        record.unit.is_adaptive(),
    ) else {
        return;
    };
    let percent = standards.procedure.cross_checks.label_power_percent;
    let mut seen: Vec<(f64, f64)> = Vec::new();
    let wide = standards.procedure.line.warning_tolerance_percent;
    for run in results.iter().filter(|r| r.rated_voltage_v.is_some()) {
        let line = (run.line_voltage_v, run.line_frequency_hz);
        let same = |l: &(f64, f64)| within(line.0, l.0, wide) && within(line.1, l.1, wide);
        if seen.iter().any(same) {
            continue;
        }
        seen.push(line);
        let mut ends = vec![highest, lowest];
        ends.dedup();
        for wanted in ends {
            // Beside a port of one higher voltage the lowest one is not the run's highest.
            let tested = record.runs.iter().any(|r| {
                same(&(r.line.voltage_v, r.line.frequency_hz))
                    && r.rated_outputs
                        .iter()
                        .any(|o| within(o.voltage_v, wanted, percent))
            });
            if !tested {
                warn(
                    "runs".to_owned(),
                    format!(
                        "no run at {wanted} V on {} V {} Hz, though the label offers it",
                        line.0, line.1
                    ),
                );
            }
        }
    }
}

/// What the logs warn of: sections that give nothing, typed readings that contradict them, figures
/// that are not stable. `typed` is the record as it was entered, `read` as its logs make it read.
pub fn of_logs(
    typed: &Record,
    read: &Record,
    results: &[RunResult],
    evidence: &Evidence,
) -> Vec<Warning> {
    let mut found = evidence.absences(typed);
    let mut warn = |path: String, message: String| found.push(Warning { path, message });
    let accuracy = Accuracy::of(&typed.instruments);
    for (i, result) in results.iter().enumerate() {
        let path = format!("runs[{i}]");
        if let (Some(no_load), Some(log)) = (
            &result.no_load,
            result.no_load.as_ref().and_then(|n| n.log.as_ref()),
        ) {
            let path = format!("{path}.no_load");
            let reading = typed.runs[i].no_load.as_ref().and_then(|n| n.power_w);
            contradicts(
                reading,
                (no_load.power_w, no_load.expanded_uncertainty_w),
                reading
                    .and_then(|x| accuracy.of_reading(Q::NoLoadPowerW, Some(x)))
                    .map(|u| 2.0 * u),
                &format!("{path}.power_w"),
                "W",
                &mut warn,
            );
            no_load_log(no_load.method == UNSETTLED, log, &path, &mut warn);
        }
        for (j, point) in result.points.iter().enumerate() {
            let Some(log) = &point.log else { continue };
            let path = format!("{path}.points[{j}]");
            let (before, now) = (&typed.runs[i].points[j], &read.runs[i].points[j]);
            point_log(before, now, log, point, accuracy, &path, &mut warn);
        }
    }
    found
}

/// A typed reading and a log's average of the same quantity, further apart than both expanded
/// uncertainties reach.
fn contradicts(
    typed: Option<f64>,
    (mean, mean_u): (f64, Option<f64>),
    typed_u: Option<f64>,
    path: &str,
    unit: &str,
    warn: &mut impl FnMut(String, String),
) {
    let (Some(typed), Some(typed_u), Some(mean_u)) = (typed, typed_u, mean_u) else {
        return;
    };
    if (typed - mean).abs() > typed_u + mean_u {
        warn(
            path.to_owned(),
            format!(
                "{typed} {unit} was typed, but the log's average is {mean:.6} {unit}: further apart than the uncertainty of both, {:.2e} {unit}; the log's average is used",
                typed_u + mean_u
            ),
        );
    }
}

fn no_load_log(
    unsettled: bool,
    log: &NoLoadLog,
    path: &str,
    warn: &mut impl FnMut(String, String),
) {
    if unsettled {
        warn(
            format!("{path}.log"),
            "the log satisfies none of the standard's methods for a stable figure: its average is shown, and no verdict on it is firm".to_owned(),
        );
    }
    if !log.long_enough {
        warn(
            format!("{path}.log"),
            "the log is too short to tell how slowly the power changes: the uncertainty from its scatter was widened".to_owned(),
        );
    }
    if let (Some(instrument_u), Some(allowed)) = (log.instrument_u_w, log.allowed_uncertainty_w)
        && 2.0 * instrument_u > allowed
    {
        warn(
            format!("{path}.power_w"),
            format!(
                "the instrument's expanded uncertainty of {:.4} W is above the {allowed:.4} W that the method allows at this power",
                2.0 * instrument_u
            ),
        );
    }
}

fn point_log(
    typed: &Point,
    read: &Point,
    log: &PointLog,
    result: &PointResult,
    accuracy: Accuracy,
    path: &str,
    warn: &mut impl FnMut(String, String),
) {
    if !log.stable {
        warn(format!("{path}.log"), log.stability.clone());
    }
    if let Some(efficiency) = result.efficiency.filter(|&e| e > 1.0) {
        warn(
            format!("{path}.log"),
            format!(
                "by the log the output power is {:.1} % of the input power, which is impossible: a column is mapped wrongly or was read by another unit",
                efficiency * 100.0
            ),
        );
    }
    let scatter = |quantity: &str, port: Option<&str>| {
        log.scatter
            .iter()
            .find(|s| s.quantity == quantity && (s.port.is_none() || s.port.as_deref() == port))
    };
    let mut compare = |quantity,
                       word: &str,
                       port: Option<&str>,
                       typed: Option<f64>,
                       read: Option<f64>,
                       path: String,
                       unit| {
        let Some((mean, found)) = read.zip(scatter(word, port)) else {
            return;
        };
        let expanded = |x: f64| accuracy.of_reading(quantity, Some(x)).map(|u| 2.0 * u);
        let mean_u = expanded(mean).map(|u| u + 2.0 * found.u.unwrap_or(0.0));
        contradicts(
            typed,
            (mean, mean_u),
            typed.and_then(expanded),
            &path,
            unit,
            warn,
        );
    };
    let (before, now) = (
        typed.input.clone().unwrap_or_default(),
        read.input.clone().unwrap_or_default(),
    );
    for (quantity, word, typed, read, field, unit) in [
        (
            Q::InputPowerW,
            "input_power_w",
            before.power_w,
            now.power_w,
            "power_w",
            "W",
        ),
        (
            Q::InputVoltageV,
            "input_voltage_v",
            before.voltage_v,
            now.voltage_v,
            "voltage_v",
            "V",
        ),
        (
            Q::InputCurrentA,
            "input_current_a",
            before.current_a,
            now.current_a,
            "current_a",
            "A",
        ),
    ] {
        compare(
            quantity,
            word,
            None,
            typed,
            read,
            format!("{path}.input.{field}"),
            unit,
        );
    }
    for (k, before) in typed.outputs.iter().enumerate() {
        let Some(now) = read.outputs.iter().find(|o| o.port == before.port) else {
            continue;
        };
        let port = Some(before.port.as_str());
        for (quantity, word, typed, read, field, unit) in [
            (
                Q::OutputVoltageV,
                "output_voltage_v",
                before.voltage_v,
                now.voltage_v,
                "voltage_v",
                "V",
            ),
            (
                Q::OutputCurrentA,
                "output_current_a",
                before.current_a,
                now.current_a,
                "current_a",
                "A",
            ),
        ] {
            compare(
                quantity,
                word,
                port,
                typed,
                read,
                format!("{path}.outputs[{k}].{field}"),
                unit,
            );
        }
    }
}

/// Dates that lie after `today` (all ISO 8601). Apart from the rest, because an evaluation must
/// not depend on the day it is made.
pub fn future_dates(record: &Record, today: &str) -> Vec<Warning> {
    let dates = std::iter::once((
        "unit.acquired_on".to_owned(),
        record.unit.acquired_on.as_deref(),
    ))
    .chain(
        record
            .runs
            .iter()
            .enumerate()
            .map(|(i, r)| (format!("runs[{i}].tested_on"), r.tested_on.as_deref())),
    );
    dates
        .filter_map(|(path, date)| {
            let date = date.filter(|d| *d > today)?;
            Some(Warning {
                path,
                message: format!("{date} is in the future"),
            })
        })
        .collect()
}

/// The target current of each rated output of a run at a load, amperes: load % x rated current x D.
pub fn target_currents_a(run: &Run, record: &Record, load_percent: f64) -> Vec<(String, f64)> {
    let allocation = runs::allocation(run, &record.unit);
    run.rated_outputs
        .iter()
        .map(|o| {
            let current = loading::load_current_a(load_percent, o.current_a, allocation);
            (o.port.clone(), current)
        })
        .collect()
}

/// Is the point at `load_percent` below the share of rated power that counts as held?
pub fn not_held(result: &RunResult, held_above: f64) -> Option<f64> {
    let point = points::at_percent(&result.points, 100.0, 0.5)?;
    let share = point.output_power_w? / divisor(result.rated_power_w?)?;
    (share < held_above).then_some(share)
}
