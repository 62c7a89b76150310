//! Records whose figures come from logs: evaluated as a user's would be, from the text on.

use brickbook::bench::decode::decode_value;
use brickbook::bench::record::Record;
use brickbook::evaluate::evaluation::{Evaluation, Outcome, Requirement};
use brickbook::evaluate::steps;
use brickbook::evaluate::{Evidence, Logs, Method, evaluate, evaluate_with};
use brickbook::log;
use brickbook::standards::Standards;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::Read;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Logs in memory, which remember, and count what is read of them.
#[derive(Default)]
struct Shelf {
    texts: BTreeMap<String, String>,
    remembered: RefCell<BTreeMap<String, String>>,
    bytes_read: AtomicUsize,
}

struct Counted<'a> {
    bytes: &'a [u8],
    read: &'a AtomicUsize,
}

impl Read for Counted<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let count = self.bytes.read(buffer)?;
        self.read.fetch_add(count, Ordering::Relaxed);
        Ok(count)
    }
}

impl Shelf {
    fn with(text: &str) -> (Shelf, String) {
        let sha256: String = Sha256::digest(text.as_bytes())
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect();
        let texts = BTreeMap::from([(sha256.clone(), text.to_owned())]);
        let shelf = Shelf {
            texts,
            ..Shelf::default()
        };
        (shelf, sha256)
    }
}

impl Logs for Shelf {
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        Ok(self.texts.get(sha256).map(|text| {
            let counted = Counted {
                bytes: text.as_bytes(),
                read: &self.bytes_read,
            };
            Box::new(counted) as Box<dyn Read + Send>
        }))
    }

    fn remembered(&self, key: &str) -> Option<String> {
        self.remembered.borrow().get(key).cloned()
    }

    fn remember(&self, key: &str, findings: &str) {
        self.remembered
            .borrow_mut()
            .insert(key.to_owned(), findings.to_owned());
    }
}

/// A small even noise without a pattern, in units of its own standard deviation.
fn noise(i: usize) -> f64 {
    // The finaliser of SplitMix64.
    let mut mixed = (i as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    mixed ^= mixed >> 31;
    ((mixed >> 11) as f64 / (1u64 << 53) as f64 - 0.5) * 12f64.sqrt()
}

/// An hour of no-load readings: seconds, milliwatts, milliamperes, peak, power factor.
fn idle_csv(power_w: impl Fn(usize) -> f64) -> String {
    let mut text = "t,P,I,Ipk,PF\n".to_owned();
    for i in 0..3600 {
        text += &format!("{i},{:.4},31.0,112.0,0.021\n", power_w(i) * 1e3);
    }
    text
}

fn idle_columns() -> Value {
    json!([
        {"column": 2, "quantity": "input_power_w", "factor": 0.001},
        {"column": 3, "quantity": "input_current_a", "factor": 0.001},
        {"column": 4, "quantity": "input_current_peak_a", "factor": 0.001},
        {"column": 5, "quantity": "power_factor"}
    ])
}

fn log_entry(sha256: &str, text: &str, columns: Value) -> Value {
    json!({
        "name": "bench.csv", "sha256": sha256, "size_bytes": text.len(),
        "layout": {"encoding": "utf-8", "delimiter": "comma", "decimal": "point", "first_line": 2,
            "time": {"form": "seconds", "column": 1}, "columns": columns}
    })
}

/// A 45 W unit; its no-load figure comes from the log. The analyser's accuracy at no load is
/// `fixed` watts.
fn record(log: Value, fixed: f64, typed_w: Option<f64>, points: Value) -> Record {
    let mut no_load = json!({"log": "bench.csv"});
    if let Some(watts) = typed_w {
        no_load["power_w"] = json!(watts);
    }
    if points.as_array().is_some_and(|points| !points.is_empty()) {
        no_load = json!(null);
    }
    decode_value(json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "LF-45C", "nameplate": {"output_power_w": 45.0},
            "ports": [{"label": "P", "modes": [{"kind": "fixed", "voltage_v": 20.0, "current_a": 2.25}]}]},
        "instruments": [
            {"quantity": "no_load_power_w", "fixed": fixed},
            {"quantity": "input_power_w", "reading_percent": 0.1},
            {"quantity": "input_voltage_v", "reading_percent": 0.1},
            {"quantity": "output_voltage_v", "reading_percent": 0.02},
            {"quantity": "output_current_a", "reading_percent": 0.05}
        ],
        "logs": [log],
        "runs": [{"name": "run", "line": {"voltage_v": 115.0, "frequency_hz": 60.0},
            "rated_outputs": [{"port": "P", "voltage_v": 20.0, "current_a": 2.25}],
            "points": points, "no_load": no_load}]
    }))
    .unwrap_or_else(|faults| panic!("{faults:?}"))
}

fn idle(power_w: impl Fn(usize) -> f64, fixed: f64, typed_w: Option<f64>) -> (Record, Shelf) {
    let text = idle_csv(power_w);
    let (shelf, sha256) = Shelf::with(&text);
    let entry = log_entry(&sha256, &text, idle_columns());
    (record(entry, fixed, typed_w, json!([])), shelf)
}

fn judged(record: &Record, logs: &dyn Logs) -> Evaluation {
    let method = Method::standard();
    evaluate_with(record, &Evidence::gather(record, logs, &method), &method)
}

fn no_load_verdict<'a>(
    evaluation: &'a Evaluation,
    regime: &str,
) -> &'a brickbook::evaluate::evaluation::Verdict {
    evaluation
        .verdicts
        .iter()
        .find(|v| v.regime == regime && v.requirement == Requirement::NoLoad)
        .unwrap()
}

const US: &str = "us_doe_level_vi";

#[test]
fn a_log_gives_the_no_load_figure_and_its_guard_band() {
    let (record, shelf) = idle(|i| 0.090 + 0.001 * noise(i), 0.001, None);
    let evaluation = judged(&record, &shelf);
    let no_load = evaluation.runs[0].no_load.as_ref().unwrap();
    let log = no_load.log.as_ref().unwrap();
    assert_eq!(no_load.method, "sampling");
    assert!((no_load.power_w - 0.090).abs() < 1e-4);
    // u = a/√3 = 0.577 mW; the scatter of 1 mW over 2400 readings is 0.02 mW.
    assert!((log.instrument_u_w.unwrap() - 0.001 / 3f64.sqrt()).abs() < 1e-12);
    assert!(
        (1e-5..5e-5).contains(&log.scatter_u_w),
        "{}",
        log.scatter_u_w
    );
    let expanded = no_load.expanded_uncertainty_w.unwrap();
    assert!((expanded - log.coverage_factor * no_load.power_u.unwrap()).abs() < 1e-15);
    assert!((1.95..1.97).contains(&log.coverage_factor));

    let verdict = no_load_verdict(&evaluation, US);
    assert_eq!(verdict.limit, Some(0.100));
    assert_eq!(verdict.result, Outcome::Pass);
    assert_eq!(verdict.expanded_uncertainty, Some(expanded));
    assert_eq!(verdict.reason, None);
    let against = log.limits.iter().find(|l| l.limit_w == 0.100).unwrap();
    assert!(against.regimes.iter().any(|r| r == US));
    assert_eq!(against.windows_above, 0.0);
    assert_eq!(against.longer.answer, "clear");
    // By hand: crest factor 112/31 = 3.613, over 0.021 an MCR of 172.0; 2 % · [1 + 0.08 · 162.0] is
    // 27.9 %, of 90 mW 25.1 mW, more than 20 mW.
    assert!((log.allowed_uncertainty_w.unwrap() - 0.0251).abs() < 5e-5);
    assert_eq!(log.current_peak_a, Some(0.112));
}

#[test]
fn a_figure_within_its_guard_band_says_that_this_instrument_will_never_tell() {
    let (record, shelf) = idle(|i| 0.0995 + 0.001 * noise(i), 0.002, None);
    let evaluation = judged(&record, &shelf);
    assert_eq!(
        no_load_verdict(&evaluation, US).result,
        Outcome::ConditionalPass
    );
    let log = evaluation.runs[0]
        .no_load
        .as_ref()
        .unwrap()
        .log
        .as_ref()
        .unwrap();
    let against = log.limits.iter().find(|l| l.limit_w == 0.100).unwrap();
    assert_eq!(against.longer.answer, "never");
    assert!(against.longer.message.contains("An instrument whose"));
}

#[test]
fn a_figure_that_scatters_says_how_long_to_go_on() {
    // Blocks of a minute at one of two levels without a pattern.
    let level = |i: usize| if noise(i / 20) > 0.0 { 0.110 } else { 0.086 };
    let (record, shelf) = idle(level, 0.0001, None);
    let evaluation = judged(&record, &shelf);
    let no_load = evaluation.runs[0].no_load.as_ref().unwrap();
    let log = no_load.log.as_ref().unwrap();
    let against = log.limits.iter().find(|l| l.limit_w == 0.100).unwrap();
    let distance = (no_load.power_w - 0.100).abs();
    assert!(distance < no_load.expanded_uncertainty_w.unwrap());
    assert_eq!(against.longer.answer, "after", "{}", against.longer.message);
    assert!(against.longer.further_s.unwrap() >= 60.0);
    assert!((0.0..=1.0).contains(&against.windows_above));
}

#[test]
fn a_log_that_never_settles_gives_no_firm_verdict() {
    // 40 mW/h, an hour long, far below the limit.
    let (record, shelf) = idle(|i| 0.020 + 0.040 * i as f64 / 3600.0, 0.0001, None);
    let evaluation = judged(&record, &shelf);
    let no_load = evaluation.runs[0].no_load.as_ref().unwrap();
    assert_eq!(no_load.method, "average-unsettled");
    let verdict = no_load_verdict(&evaluation, US);
    assert_eq!(verdict.result, Outcome::ConditionalPass);
    assert!(verdict.reason.as_ref().unwrap().contains("no firm verdict"));
    let warned = evaluation
        .warnings
        .iter()
        .any(|w| w.path == "runs[0].no_load.log");
    assert!(warned);
}

#[test]
fn a_log_that_is_not_at_hand_leaves_the_typed_reading_and_says_so() {
    let (record, _) = idle(|_| 0.09, 0.001, Some(0.085));
    let evaluation = evaluate(&record, &Method::standard());
    let no_load = evaluation.runs[0].no_load.as_ref().unwrap();
    assert_eq!(
        (no_load.power_w, no_load.method.as_str()),
        (0.085, "reading")
    );
    assert!(no_load.log.is_none());
    let verdict = no_load_verdict(&evaluation, US);
    assert_eq!(verdict.result, Outcome::Pass);
    let reason = verdict.reason.as_ref().unwrap();
    assert!(
        reason.contains("not kept here: the typed reading is used"),
        "{reason}"
    );
    let warning = evaluation
        .warnings
        .iter()
        .find(|w| w.path == "runs[0].no_load.log")
        .unwrap();
    assert!(warning.message.contains("bench.csv"));
}

#[test]
fn without_log_and_typed_reading_the_figure_is_absent_and_the_reason_named() {
    let (record, _) = idle(|_| 0.09, 0.001, None);
    let evaluation = evaluate(&record, &Method::standard());
    assert!(evaluation.runs[0].no_load.is_none());
    let verdict = no_load_verdict(&evaluation, US);
    assert_eq!(verdict.result, Outcome::NotAssessed);
    assert!(verdict.reason.as_ref().unwrap().contains("not kept here"));
}

#[test]
fn a_log_with_too_many_bad_rows_gives_no_figure_and_says_why() {
    let mut text = idle_csv(|_| 0.09);
    for _ in 0..200 {
        text += "9999,over range,31.0,112.0,0.021\n";
    }
    text += "10000,90.0,31.0,112.0,0.021\n";
    let (shelf, sha256) = Shelf::with(&text);
    let entry = log_entry(&sha256, &text, idle_columns());
    let record = record(entry, 0.001, None, json!([]));
    let evaluation = judged(&record, &shelf);
    assert!(evaluation.runs[0].no_load.is_none());
    let reason = no_load_verdict(&evaluation, US).reason.clone().unwrap();
    assert!(reason.contains("cannot be read"), "{reason}");
}

#[test]
fn a_typed_reading_that_contradicts_the_log_is_warned_of_and_the_log_wins() {
    let (record, shelf) = idle(|i| 0.090 + 0.001 * noise(i), 0.001, Some(0.070));
    let evaluation = judged(&record, &shelf);
    assert!((evaluation.runs[0].no_load.as_ref().unwrap().power_w - 0.090).abs() < 1e-4);
    let warning = evaluation
        .warnings
        .iter()
        .find(|w| w.path == "runs[0].no_load.power_w")
        .unwrap();
    assert!(
        warning.message.contains("0.07 W was typed"),
        "{}",
        warning.message
    );
}

#[test]
fn what_was_found_is_remembered_and_gives_the_same_document() {
    let (record, shelf) = idle(|i| 0.090 + 0.002 * noise(i), 0.001, None);
    let first = judged(&record, &shelf);
    let read = shelf.bytes_read.load(Ordering::Relaxed);
    assert!(read > 0);
    let second = judged(&record, &shelf);
    assert_eq!(shelf.bytes_read.load(Ordering::Relaxed), read);
    let text = |evaluation: &Evaluation| serde_json::to_string(evaluation).unwrap();
    assert_eq!(text(&first), text(&second));
    let (_, fresh) = idle(|i| 0.090 + 0.002 * noise(i), 0.001, None);
    assert_eq!(text(&first), text(&judged(&record, &fresh)));
}

// ---------------------------------------------------------------- load points

/// A stepped load, six minutes a step, at 100, 75, 50, 25 and 10 % of 2.25 A, then nothing; the
/// input settles for a minute after every change. Efficiency 0.9 once settled.
fn stepped_csv(shares: &[f64]) -> String {
    let mut text = "t,Pin,Vin,Vout,Iout\n".to_owned();
    for (step, share) in shares.iter().enumerate() {
        for i in 0..360 {
            let (amps, volts) = (2.25 * share, 20.0 * (1.0 + 1e-5 * noise(i)));
            let settling = 1.0 + 0.04 * (-(i as f64) / 20.0).exp();
            let input = 0.05 + volts * amps / 0.9 * settling * (1.0 + 2e-4 * noise(i + 77));
            text += &format!(
                "{},{input:.5},115.02,{volts:.5},{amps:.5}\n",
                step * 360 + i
            );
        }
    }
    text
}

fn stepped_columns() -> Value {
    json!([
        {"column": 2, "quantity": "input_power_w"},
        {"column": 3, "quantity": "input_voltage_v"},
        {"column": 4, "quantity": "output_voltage_v", "port": "P"},
        {"column": 5, "quantity": "output_current_a", "port": "P"}
    ])
}

const SHARES: [f64; 6] = [1.0, 0.75, 0.5, 0.25, 0.1, 0.0];

#[test]
fn steps_of_a_load_are_found_with_their_stable_part_and_go_to_the_loads_of_the_run() {
    let text = stepped_csv(&SHARES);
    let (_, sha256) = Shelf::with(&text);
    let record = record(
        log_entry(&sha256, &text, stepped_columns()),
        0.001,
        None,
        json!([{"load_percent": 100}]),
    );
    let reading = log::read(
        text.as_bytes(),
        &record.logs[0].layout,
        log::Section::default(),
        &mut |_| {},
    )
    .unwrap();
    let rules = &Standards::embedded().low_power;
    let steps = steps::find(&reading, false, rules);
    assert_eq!(steps.len(), 6);
    for (i, step) in steps.iter().enumerate().take(5) {
        assert!(
            (step.from_s - i as f64 * 360.0).abs() < 5.0,
            "{}",
            step.from_s
        );
        assert!(
            (step.to_s - (i + 1) as f64 * 360.0).abs() < 5.0,
            "{}",
            step.to_s
        );
        assert!(step.stable, "{}", step.stability);
        // The minute that settles is left out.
        assert!(step.window_from_s - step.from_s > 30.0);
        assert!(step.window_to_s < step.to_s);
    }
    assert!(steps[5].no_load);
    let assigned = steps::assign(&steps, &record.runs[0], 1.0);
    let loads: Vec<(usize, f64)> = assigned.iter().map(|a| (a.step, a.load_percent)).collect();
    assert_eq!(
        loads,
        [(0, 100.0), (1, 75.0), (2, 50.0), (3, 25.0), (4, 10.0)]
    );
    assert!((assigned[1].reached_percent.unwrap() - 75.0).abs() < 0.01);
    // With the input power alone the order tells.
    let input_only = log::Reading {
        columns: vec![reading.columns[0].clone()],
        ..reading.clone()
    };
    let steps = steps::find(&input_only, false, rules);
    let five: Vec<_> = steps.into_iter().take(5).collect();
    let assigned = steps::assign(&five, &record.runs[0], 1.0);
    assert_eq!(assigned.len(), 5);
    assert!(assigned[0].by.contains("order"));
}

#[test]
fn a_step_that_is_short_or_drifts_is_flagged() {
    let mut text = "t,Pin,Vin,Vout,Iout\n".to_owned();
    for i in 0..900 {
        // Ten minutes that climb by 12 %, then five that are too short by their edges.
        let (input, amps) = if i < 700 {
            (50.0 * (1.0 + 0.12 * i as f64 / 700.0), 2.25)
        } else {
            (25.0, 1.125)
        };
        text += &format!("{i},{input:.4},115.0,20.0,{amps}\n");
    }
    let (_, sha256) = Shelf::with(&text);
    let record = record(
        log_entry(&sha256, &text, stepped_columns()),
        0.001,
        None,
        json!([{"load_percent": 100}]),
    );
    let reading = log::read(
        text.as_bytes(),
        &record.logs[0].layout,
        log::Section::default(),
        &mut |_| {},
    )
    .unwrap();
    let rules = &Standards::embedded().low_power;
    let steps = steps::find(&reading, false, rules);
    assert_eq!(steps.len(), 2);
    // Over its last five minutes it climbs by 300/700 of 12 % of the start: 4.6 % of the end.
    assert!(steps[0].stable, "{}", steps[0].stability);
    assert!(!steps::find(&reading, true, rules)[0].stable);
    assert!(!steps[1].stable);
    assert!(steps[1].stability.contains("the step lasts"));
}

#[test]
fn a_point_from_a_log_has_the_averages_and_their_scatter() {
    let text = stepped_csv(&SHARES);
    let (shelf, sha256) = Shelf::with(&text);
    let points: Vec<Value> = SHARES
        .iter()
        .take(5)
        .enumerate()
        .map(|(i, share)| {
            let from = i as f64 * 360.0;
            json!({"load_percent": share * 100.0, "log": "bench.csv",
                   "log_from_s": from + 58.0, "log_to_s": from + 358.0})
        })
        .collect();
    let record = record(
        log_entry(&sha256, &text, stepped_columns()),
        0.001,
        None,
        json!(points),
    );
    let evaluation = judged(&record, &shelf);
    let run = &evaluation.runs[0];
    // Input 50 mW above the output over 0.9, all settled but for a remnant of the exponential.
    let average = run.average_efficiency.unwrap();
    assert!((0.895..0.900).contains(&average), "{average}");
    assert!(run.ten_percent_efficiency.is_some());
    let point = &run.points[0];
    let log = point.log.as_ref().unwrap();
    assert!(log.stable, "{}", log.stability);
    assert_eq!(log.samples, 301);
    assert!((point.output_power_w.unwrap() - 45.0).abs() < 1e-3);
    let scatter = log
        .scatter
        .iter()
        .find(|s| s.quantity == "input_power_w")
        .unwrap();
    let instrument = 0.001 * point.input_power_w.unwrap() / 3f64.sqrt();
    let expected = (instrument.powi(2) + scatter.u.unwrap().powi(2)).sqrt();
    assert!((point.input_power_u.unwrap() - expected).abs() < 1e-12);
    assert!(
        evaluation
            .warnings
            .iter()
            .all(|w| !w.path.ends_with(".log"))
    );
    // Documents of records without logs do not change: the same readings typed give no evidence.
    assert!(
        evaluate(&record, &Method::standard()).runs[0]
            .average_efficiency
            .is_none()
    );
}

#[test]
fn a_point_that_is_watched_for_less_than_five_minutes_is_flagged() {
    let text = stepped_csv(&SHARES);
    let (shelf, sha256) = Shelf::with(&text);
    let points =
        json!([{"load_percent": 100, "log": "bench.csv", "log_from_s": 200.0, "log_to_s": 320.0}]);
    let record = record(
        log_entry(&sha256, &text, stepped_columns()),
        0.001,
        None,
        points,
    );
    let evaluation = judged(&record, &shelf);
    let log = evaluation.runs[0].points[0].log.as_ref().unwrap();
    assert!(!log.stable);
    assert!(log.stability.contains("watches it for 5 min"));
    assert!(
        evaluation
            .warnings
            .iter()
            .any(|w| w.path == "runs[0].points[0].log")
    );
}

/// A log of any rows in the layout of [`idle_csv`].
fn idle_of(text: String) -> (Record, Shelf) {
    let (shelf, sha256) = Shelf::with(&text);
    let entry = log_entry(&sha256, &text, idle_columns());
    (record(entry, 0.0005, None, json!([])), shelf)
}

#[test]
fn a_power_that_switches_between_two_levels_gives_no_firm_verdict_on_the_last_one() {
    // Half an hour at each level over three hours; the limit of 100 mW lies between them, and so
    // does the mean, on one side of it or the other.
    for (first, second) in [(130.0, 80.0), (75.0, 120.0)] {
        let mut text = "t,P,I,Ipk,PF\n".to_owned();
        for i in 0..10_800 {
            let level = if (i / 1800) % 2 == 0 { first } else { second };
            let power = level * (1.0 + 0.002 * noise(i));
            text += &format!("{i},{power:.4},31.0,112.0,0.021\n");
        }
        let (record, shelf) = idle_of(text);
        let evaluation = judged(&record, &shelf);
        let no_load = evaluation.runs[0].no_load.as_ref().unwrap();
        let verdict = no_load_verdict(&evaluation, US);
        assert!(
            matches!(
                verdict.result,
                Outcome::ConditionalPass | Outcome::ConditionalFail
            ),
            "{} {} {:?}",
            no_load.method,
            no_load.power_w,
            verdict.result
        );
    }
}

#[test]
fn a_power_that_falls_once_to_its_level_has_settled_there() {
    let (record, shelf) = idle(
        |i| {
            let level = if i < 900 { 0.09 } else { 0.06 };
            level * (1.0 + 0.002 * noise(i))
        },
        0.0005,
        None,
    );
    let evaluation = judged(&record, &shelf);
    let no_load = evaluation.runs[0].no_load.as_ref().unwrap();
    assert_eq!(no_load.method, "sampling");
    assert!((no_load.power_w - 0.06).abs() < 1e-4, "{}", no_load.power_w);
    assert_eq!(no_load_verdict(&evaluation, US).result, Outcome::Pass);
}

#[test]
fn a_power_below_zero_gives_no_figure_and_says_why() {
    let (record, shelf) = idle(|_| -0.05, 0.0005, None);
    let evaluation = judged(&record, &shelf);
    assert!(evaluation.runs[0].no_load.is_none());
    let verdict = no_load_verdict(&evaluation, US);
    assert_eq!(verdict.result, Outcome::NotAssessed);
    let reason = verdict.reason.as_ref().unwrap();
    assert!(
        reason.contains("runs[0].no_load.power_w: -0.05"),
        "{reason}"
    );
}

#[test]
fn a_logged_load_that_gives_out_more_than_goes_in_gives_no_efficiency() {
    let text: String = stepped_csv(&[1.0])
        .lines()
        .enumerate()
        .map(|(i, line)| match line.split_once(',') {
            // 18 W in, 45 W out.
            Some((t, rest)) if i > 0 => {
                let rest = rest.split_once(',').unwrap().1;
                format!("{t},18.0,{rest}\n")
            }
            _ => format!("{line}\n"),
        })
        .collect();
    let (shelf, sha256) = Shelf::with(&text);
    let entry = log_entry(&sha256, &text, stepped_columns());
    let record = record(
        entry,
        0.001,
        None,
        json!([{"load_percent": 100, "log": "bench.csv"}]),
    );
    let evaluation = judged(&record, &shelf);
    assert_eq!(evaluation.runs[0].points[0].efficiency, None);
    let warned = evaluation
        .warnings
        .iter()
        .any(|w| w.path == "runs[0].points[0].log" && w.message.contains("cannot be right"));
    assert!(warned, "{:?}", evaluation.warnings);
}

#[test]
fn a_log_that_does_not_show_what_the_power_does_gives_no_figure() {
    let rows = |times: &mut dyn Iterator<Item = u32>| {
        times.fold("t,P,I,Ipk,PF\n".to_owned(), |text, t| {
            text + &format!("{t},50.0,31.0,112.0,0.021\n")
        })
    };
    for (times, why) in [
        // One reading every ten minutes.
        (rows(&mut (0..60).map(|i| i * 600)), "rows are"),
        // Only the first and last minutes of three hours.
        (
            rows(&mut (0..200).chain(10_600..10_800)),
            "rows are missing",
        ),
        // Written on change only: nine seconds at one value, one at the other.
        (
            rows(&mut (0..2000).map(|i| i / 2 * 10 + (i % 2) * 9)),
            "uneven times",
        ),
    ] {
        let (record, shelf) = idle_of(times);
        let evaluation = judged(&record, &shelf);
        assert!(evaluation.runs[0].no_load.is_none(), "{why}");
        let reason = no_load_verdict(&evaluation, US).reason.clone().unwrap();
        assert!(reason.contains(why), "{reason}");
    }
}

#[test]
fn rows_that_could_not_be_read_are_warned_of_beside_the_figure() {
    let text = idle_csv(|_| 0.05).replacen("\n1000,50.0000,", "\n1000,OL,", 1);
    let (record, shelf) = idle_of(text);
    let evaluation = judged(&record, &shelf);
    assert!(evaluation.runs[0].no_load.is_some());
    let warned = evaluation.warnings.iter().any(|w| {
        w.path == "runs[0].no_load.log" && w.message.starts_with("1 of the section's rows")
    });
    assert!(warned, "{:?}", evaluation.warnings);
}
