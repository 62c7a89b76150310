//! Test plans worked by hand: which runs, which currents to the milliampere, which category, rated
//! power and limit, for labels of every kind; and that a record filled in by its plan lacks nothing.
//!
//! Sources: 10 CFR 430 Subpart B Appendix Z (87 FR 51221) for loads, allocation and the 2 A rule;
//! limits of 10 CFR 430.32(w).

use brickbook::bench::decode::decode_value;
use brickbook::bench::record::{Input, NoLoad, Output, Point, Record, Run, Temperature};
use brickbook::evaluate::evaluation::{Evaluation, Outcome};
use brickbook::evaluate::loading::to_milliampere;
use brickbook::evaluate::plan::{Choice, Plan, PlannedRun, Supply, outlook, plan};
use brickbook::evaluate::{Method, evaluate};
use rand::{RngExt, SeedableRng, rngs::SmallRng};
use serde_json::{Value, json};
use std::sync::LazyLock;

static METHOD: LazyLock<Method> = LazyLock::new(Method::standard);

/// (volts, amperes) of each fixed mode.
fn port(label: &str, connector: &str, modes: &[(f64, f64)], group: Option<&str>) -> Value {
    let modes: Vec<Value> = modes
        .iter()
        .map(|(v, a)| json!({"kind": "fixed", "voltage_v": v, "current_a": a}))
        .collect();
    json!({"label": label, "connector": connector, "share_group": group, "modes": modes})
}

fn unit(power_w: f64, ports: Vec<Value>) -> Record {
    decode_value(json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "planned",
            "nameplate": {"output_power_w": power_w, "input_voltage_min_v": 100,
                "input_voltage_max_v": 240, "input_current_a": 1.5},
            "ports": ports}
    }))
    .unwrap_or_else(|faults| panic!("{faults:?}"))
}

fn planned(record: &Record) -> Plan {
    let plan = plan(record, &Choice::standard(&METHOD), &METHOD);
    assert_eq!(plan.hindrances, []);
    plan
}

/// What a case says of one run; the same on both supplies.
struct Expected {
    voltages_v: &'static [f64],
    rated_power_w: f64,
    category: &'static str,
    /// Average efficiency asked for at 115 V by 10 CFR 430.32(w).
    level_vi: f64,
    /// Port, and its currents at 100, 75, 50, 25 and 10 %.
    currents: &'static [(&'static str, [&'static str; 5])],
}

/// The plan has exactly these runs, on 115 V 60 Hz and on 230 V 50 Hz.
fn check(record: &Record, expected: &[Expected]) {
    let plan = planned(record);
    let supplies: Vec<(f64, f64)> = plan
        .supplies
        .iter()
        .filter(|s| s.left_out.is_none())
        .map(|s| (s.supply.voltage_v, s.supply.frequency_hz))
        .collect();
    assert_eq!(supplies, [(115.0, 60.0), (230.0, 50.0)]);
    assert_eq!(plan.runs.len(), 2 * expected.len());
    for (i, run) in plan.runs.iter().enumerate() {
        let wanted = &expected[i % expected.len()];
        let line = supplies[i / expected.len()];
        assert_eq!((run.line.voltage_v, run.line.frequency_hz), line);
        let voltages: Vec<f64> = run.rated_outputs.iter().map(|o| o.voltage_v).collect();
        assert_eq!(voltages, wanted.voltages_v, "{}", run.name);
        assert!(
            (run.rated_power_w - wanted.rated_power_w).abs() < 1e-9,
            "{}: {} W",
            run.name,
            run.rated_power_w
        );
        assert_eq!(run.category.word(), wanted.category, "{}", run.name);
        if line.0 == 115.0 {
            let [limit] = run.limits.as_slice() else {
                panic!("one rule judges at 115 V: {:?}", run.limits)
            };
            assert_eq!(limit.regime, "us_doe_level_vi");
            assert!(
                (limit.average_efficiency - wanted.level_vi).abs() < 1e-6,
                "{}: {}",
                run.name,
                limit.average_efficiency
            );
        }
        // 100, 75, 50, 25 %, then no load, then the optional load.
        let order: Vec<f64> = run.loads.iter().map(|l| l.load_percent).collect();
        assert_eq!(order, [100.0, 75.0, 50.0, 25.0, 0.0, 10.0]);
        for (port, currents) in wanted.currents {
            let set: Vec<String> = run
                .loads
                .iter()
                .filter(|l| !l.is_no_load())
                .map(|l| {
                    let c = l.currents.iter().find(|c| c.port == *port);
                    to_milliampere(c.expect("every port is loaded").current_a)
                })
                .collect();
            assert_eq!(set, currents, "{} {port}", run.name);
        }
        assert_eq!(
            run.rated_outputs.len(),
            wanted.currents.len(),
            "every port is loaded in {}",
            run.name
        );
    }
}

/// One USB-C port, 5 V 3 A and 9 V 2.22 A, 20 W.
/// High: 9 x 2.22 = 19.98 W, not above 20 W, so D = 1; 9 V is not below 6 V: basic;
/// 0.071 ln 19.98 - 0.0014 x 19.98 + 0.67 = 0.071 x 2.994732 - 0.027972 + 0.67 = 0.854654.
/// Low: USB PD, so 2 A at 5 V: 10 W, below 6 V and above 0.55 A: low;
/// 0.0834 ln 10 - 0.014 + 0.609 = 0.787036.
#[test]
fn a_20_w_usb_c_unit_is_tested_at_9_v_and_at_5_v_2_a() {
    let record = unit(
        20.0,
        vec![port("C1", "usb-c", &[(5.0, 3.0), (9.0, 2.22)], None)],
    );
    check(
        &record,
        &[
            Expected {
                voltages_v: &[9.0],
                rated_power_w: 19.98,
                category: "basic",
                level_vi: 0.854654,
                currents: &[("C1", ["2.220", "1.665", "1.110", "0.555", "0.222"])],
            },
            Expected {
                voltages_v: &[5.0],
                rated_power_w: 10.0,
                category: "low",
                level_vi: 0.787036,
                currents: &[("C1", ["2.000", "1.500", "1.000", "0.500", "0.200"])],
            },
        ],
    );
}

/// Two USB-C ports, each 20 V 3.25 A, 65 W together.
/// High: D = 65 / 130 = 0.5; each port 1.625, 1.21875, 0.8125, 0.40625 A, 10 %: 0.1625 A.
/// Multiple: above 49 W 0.860.
/// Low: 2 x 10 W = 20 W, below 65 W: D = 1; 0.075 ln 20 + 0.561 = 0.785680.
#[test]
fn a_65_w_two_port_unit_is_loaded_with_half_its_currents_at_20_v() {
    let modes = [(5.0, 3.0), (9.0, 3.0), (15.0, 3.0), (20.0, 3.25)];
    let record = unit(
        65.0,
        vec![
            port("C1", "usb-c", &modes, None),
            port("C2", "usb-c", &modes, None),
        ],
    );
    const HIGH: [&str; 5] = ["1.625", "1.219", "0.813", "0.406", "0.163"];
    const LOW: [&str; 5] = ["2.000", "1.500", "1.000", "0.500", "0.200"];
    check(
        &record,
        &[
            Expected {
                voltages_v: &[20.0, 20.0],
                rated_power_w: 65.0,
                category: "multiple",
                level_vi: 0.86,
                currents: &[("C1", HIGH), ("C2", HIGH)],
            },
            Expected {
                voltages_v: &[5.0, 5.0],
                rated_power_w: 20.0,
                category: "multiple",
                level_vi: 0.785680,
                currents: &[("C1", LOW), ("C2", LOW)],
            },
        ],
    );
    assert_eq!(planned(&record).runs[0].allocation, 0.5);
}

/// C1 and C2 20 V 5 A (one group), C3 9 V 2.22 A and A1 5 V 2.4 A (another), 100 W together.
/// High: sum = 100 + 100 + 19.98 + 12 = 231.98 W, D = 100 / 231.98 = 0.431072.
///   C1, C2: 5 A x D = 2.155358; x 0.75 = 1.616519; x 0.5 = 1.077679; x 0.25 = 0.538840; x 0.1 = 0.215536
///   C3: 2.22 A x D = 0.956979; 0.717734; 0.478490; 0.239245; 0.095698
///   A1: 2.4 A x D = 1.034572; 0.775929; 0.517286; 0.258643; 0.103457
/// Low: 3 x 10 W + 12 W = 42 W, below 100 W: D = 1; 0.075 ln 42 + 0.561 = 0.841325.
#[test]
fn a_100_w_four_port_unit_with_two_groups_loads_every_port_in_both_runs() {
    let record = unit(
        100.0,
        vec![
            port(
                "C1",
                "usb-c",
                &[(5.0, 3.0), (9.0, 3.0), (15.0, 3.0), (20.0, 5.0)],
                Some("upper"),
            ),
            port(
                "C2",
                "usb-c",
                &[(5.0, 3.0), (9.0, 3.0), (15.0, 3.0), (20.0, 5.0)],
                Some("upper"),
            ),
            port("C3", "usb-c", &[(5.0, 3.0), (9.0, 2.22)], Some("lower")),
            port("A1", "usb-a", &[(5.0, 2.4)], Some("lower")),
        ],
    );
    const UPPER: [&str; 5] = ["2.155", "1.617", "1.078", "0.539", "0.216"];
    const TWO: [&str; 5] = ["2.000", "1.500", "1.000", "0.500", "0.200"];
    check(
        &record,
        &[
            Expected {
                voltages_v: &[20.0, 20.0, 9.0, 5.0],
                rated_power_w: 100.0,
                category: "multiple",
                level_vi: 0.86,
                currents: &[
                    ("C1", UPPER),
                    ("C2", UPPER),
                    ("C3", ["0.957", "0.718", "0.478", "0.239", "0.096"]),
                    ("A1", ["1.035", "0.776", "0.517", "0.259", "0.103"]),
                ],
            },
            Expected {
                voltages_v: &[5.0, 5.0, 5.0, 5.0],
                rated_power_w: 42.0,
                category: "multiple",
                level_vi: 0.841325,
                currents: &[
                    ("C1", TWO),
                    ("C2", TWO),
                    ("C3", TWO),
                    ("A1", ["2.400", "1.800", "1.200", "0.600", "0.240"]),
                ],
            },
        ],
    );
    let plan = planned(&record);
    let said = |run: &PlannedRun, words: &str| run.remarks.iter().any(|r| r.text.contains(words));
    assert!(
        plan.runs
            .iter()
            .all(|r| said(r, "C1, C2 share") && said(r, "C3, A1 share"))
    );
    assert!(said(&plan.runs[1], "fixed ports count in the rated power"));
    // Each port alone, then all together, come before any pair.
    let first: Vec<usize> = plan.combinations[..5]
        .iter()
        .map(|c| c.ports.len())
        .collect();
    assert_eq!(first, [1, 1, 1, 1, 4]);
}

/// One USB-C port with 28 V 5 A. 28 V lies outside the method's USB PD unit (3.3 V to 20 V), so it
/// is an adaptive unit like any other: 5 V at the label's 3 A, 15 W, low:
/// 0.0834 ln 15 - 0.021 + 0.609 = 0.813851 (the figure a maker's sheet prints as 81.39 %).
/// High: 28 x 5 = 140 W, D = 1; basic above 49 W: 0.880.
#[test]
fn a_140_w_extended_range_unit_keeps_its_3_a_at_5_v() {
    let modes = [
        (5.0, 3.0),
        (9.0, 3.0),
        (15.0, 3.0),
        (20.0, 5.0),
        (28.0, 5.0),
    ];
    let record = unit(140.0, vec![port("C1", "usb-c", &modes, None)]);
    check(
        &record,
        &[
            Expected {
                voltages_v: &[28.0],
                rated_power_w: 140.0,
                category: "basic",
                level_vi: 0.88,
                currents: &[("C1", ["5.000", "3.750", "2.500", "1.250", "0.500"])],
            },
            Expected {
                voltages_v: &[5.0],
                rated_power_w: 15.0,
                category: "low",
                level_vi: 0.813851,
                currents: &[("C1", ["3.000", "2.250", "1.500", "0.750", "0.300"])],
            },
        ],
    );
    let plan = planned(&record);
    assert!(plan.runs[1].remarks.iter().any(|r| r.text.contains("28 V")));
}

/// One USB-A port, 5 V 2.4 A: one voltage, one run a supply; below 6 V and above 0.55 A: low;
/// 0.0834 ln 12 - 0.0014 x 12 + 0.609 = 0.0834 x 2.484907 - 0.0168 + 0.609 = 0.799441.
#[test]
fn a_5_v_usb_a_unit_has_one_run_on_each_supply() {
    let record = unit(12.0, vec![port("A1", "usb-a", &[(5.0, 2.4)], None)]);
    check(
        &record,
        &[Expected {
            voltages_v: &[5.0],
            rated_power_w: 12.0,
            category: "low",
            level_vi: 0.799441,
            currents: &[("A1", ["2.400", "1.800", "1.200", "0.600", "0.240"])],
        }],
    );
}

/// The worked derating of three ports: C1 and C2 20 V 5 A, A 5 V 4.5 A on 100 W.
/// High: D = 100 / 222.5 = 0.449438; 100 % sum = 100.000 W. Low: 10 + 10 + 22.5 = 42.5 W, D = 1.
#[test]
fn the_worked_derating_of_a_100_w_unit_comes_out() {
    let modes = [(5.0, 3.0), (9.0, 3.0), (15.0, 3.0), (20.0, 5.0)];
    let record = unit(
        100.0,
        vec![
            port("C1", "usb-c", &modes, None),
            port("C2", "usb-c", &modes, None),
            port("A", "usb-a", &[(5.0, 4.5)], None),
        ],
    );
    let plan = planned(&record);
    let currents = |run: &PlannedRun, port: usize| -> Vec<f64> {
        let loaded = run.loads.iter().filter(|l| l.currents.len() == 3);
        loaded.map(|l| l.currents[port].current_a).take(4).collect()
    };
    let close = |got: &[f64], want: &[f64]| {
        assert_eq!(got.len(), want.len());
        for (g, w) in got.iter().zip(want) {
            assert!((g - w).abs() < 5e-7, "{got:?} {want:?}");
        }
    };
    let (high, low) = (&plan.runs[0], &plan.runs[1]);
    assert!((high.allocation - 0.449438).abs() < 5e-7);
    close(
        &currents(high, 0),
        &[2.247191, 1.685393, 1.123596, 0.561798],
    );
    close(
        &currents(high, 2),
        &[2.022472, 1.516854, 1.011236, 0.505618],
    );
    let full = high.loads[0].currents.iter();
    assert!((full.map(|c| c.voltage_v * c.current_a).sum::<f64>() - 100.0).abs() < 1e-9);
    assert_eq!(low.allocation, 1.0);
    assert!((low.rated_power_w - 42.5).abs() < 1e-12);
    close(&currents(low, 1), &[2.0, 1.5, 1.0, 0.5]);
    close(&currents(low, 2), &[4.5, 3.375, 2.25, 1.125]);
}

// ---- a record filled in by its plan ----

/// A plausible reading at every place that the plan calls needed, and nowhere else.
fn filled(record: &Record, plan: &Plan, efficiency: f64) -> Record {
    let mut record = record.clone();
    for planned in &plan.runs {
        let mut run = Run {
            name: planned.name.clone(),
            tested_on: None,
            ambient_c: planned.ambient.as_ref().map(|a| a.0),
            line: planned.line,
            rated_outputs: planned.rated_outputs.clone(),
            points: Vec::new(),
            no_load: None,
            waveforms: Vec::new(),
        };
        for load in planned.loads.iter().filter(|l| l.needed) {
            if load.is_no_load() {
                run.no_load = Some(NoLoad {
                    power_w: Some(0.04),
                    ..NoLoad::default()
                });
                continue;
            }
            let power_w: f64 = load
                .currents
                .iter()
                .map(|c| c.voltage_v * c.current_a)
                .sum();
            let needs = |key: &str| {
                load.readings.iter().any(|r| {
                    r.needed && r.place == brickbook::evaluate::plan::Place::Point(key.to_owned())
                })
            };
            run.points.push(Point {
                load_percent: load.load_percent,
                input: Some(Input {
                    power_w: Some(power_w / efficiency + 0.02),
                    power_factor: needs("input.power_factor").then_some(0.7),
                    ..Input::default()
                }),
                outputs: load
                    .currents
                    .iter()
                    .map(|c| Output {
                        port: c.port.clone(),
                        voltage_v: Some(c.voltage_v * 1.002),
                        current_a: Some(c.current_a),
                    })
                    .collect(),
                log: None,
                log_from_s: None,
                log_to_s: None,
            });
        }
        record.runs.push(run);
    }
    if let Some(heat) = &plan.heat {
        for (minutes, _) in &heat.minutes {
            record.temperatures.push(Temperature {
                load_w: Some(heat.load_w),
                minutes: Some(*minutes),
                ambient_c: Some(23.0),
                surface_c: None,
                hot_spot_c: Some(60.0 - 20.0 / minutes),
                material: None,
                place: None,
            });
        }
    }
    record
}

/// No chosen regime lacks a run or a point, and the score is not provisional.
fn lacks_nothing(record: &Record, plan: &Plan) -> Evaluation {
    let evaluation = evaluate(record, &METHOD);
    for id in &Choice::standard(&METHOD).regimes {
        let result = evaluation.regimes.iter().find(|r| r.regime == *id).unwrap();
        let out = plan.out_of_scope.iter().find(|(out, _)| out == id);
        match out {
            None => assert!(
                !matches!(result.result, Outcome::NotAssessed | Outcome::Incomplete),
                "{id}: {:?} for {:?}",
                result,
                record.unit
            ),
            Some(_) => assert!(
                result
                    .reason
                    .as_deref()
                    .unwrap_or("")
                    .contains("out of scope"),
                "{id}: {result:?} is not out of scope for {:?}",
                record.unit
            ),
        }
    }
    assert!(
        evaluation.score.coverage >= 0.80 && !evaluation.score.provisional,
        "{:?} for {:?}",
        evaluation.score,
        record.unit
    );
    // The plan said what the evaluation derives.
    for planned in &plan.runs {
        let run = evaluation
            .runs
            .iter()
            .find(|r| r.name == planned.name)
            .unwrap();
        assert_eq!(run.category, planned.category);
        assert_eq!(run.rated_power_w, Some(planned.rated_power_w));
        assert_eq!(run.allocation, planned.allocation);
        assert_eq!(run.informative, None, "{}", run.name);
        for limit in &planned.limits {
            let verdict = evaluation.verdicts.iter().find(|v| {
                v.regime == limit.regime
                    && v.run.as_deref() == Some(&run.name)
                    && v.requirement
                        == brickbook::evaluate::evaluation::Requirement::AverageEfficiency
            });
            assert_eq!(verdict.unwrap().limit, Some(limit.average_efficiency));
        }
    }
    evaluation
}

fn random_port(rng: &mut SmallRng, place: usize) -> Value {
    let label = format!("P{place}");
    let hundredths = |x: f64| (x * 100.0).round() / 100.0;
    match rng.random_range(0..5) {
        // A USB-C port of any rating, with or without a programmable range.
        0..=2 => {
            let power: f64 =
                [20.0, 27.0, 30.0, 45.0, 65.0, 100.0, 140.0, 240.0][rng.random_range(0..8)];
            let mut modes = vec![json!({"kind": "fixed", "voltage_v": 5, "current_a": 3})];
            for volts in [9.0, 12.0, 15.0, 20.0, 28.0, 48.0] {
                let from =
                    [0.0, 0.0, 30.0, 45.0, 140.0, 240.0][[9.0, 12.0, 15.0, 20.0, 28.0, 48.0]
                        .iter()
                        .position(|v| *v == volts)
                        .unwrap()];
                if power >= from && rng.random_bool(0.8) {
                    let most: f64 = if volts < 20.0 { 3.0 } else { 5.0 };
                    modes.push(json!({"kind": "fixed", "voltage_v": volts,
                        "current_a": hundredths((power / volts).min(most))}));
                }
            }
            if rng.random_bool(0.4) {
                modes.push(
                    json!({"kind": "pps", "voltage_min_v": 5, "voltage_max_v": 11, "current_a": 3}),
                );
            }
            json!({"label": label, "connector": "usb-c", "power_w": power, "modes": modes})
        }
        3 => {
            let amps = hundredths(rng.random_range(0.4..3.0));
            let mut modes = vec![json!({"kind": "fixed", "voltage_v": 5, "current_a": amps})];
            if rng.random_bool(0.3) {
                modes.push(json!({"kind": "fixed", "voltage_v": 9, "current_a": 2}));
            }
            json!({"label": label, "connector": "usb-a", "modes": modes})
        }
        _ => {
            let volts = hundredths(rng.random_range(3.0..24.0));
            json!({"label": label, "connector": "barrel",
                "modes": [{"kind": "fixed", "voltage_v": volts, "current_a": hundredths(rng.random_range(0.3..4.0))}]})
        }
    }
}

#[test]
fn a_record_filled_in_by_the_plan_of_a_random_label_lacks_no_run_and_no_point() {
    let mut rng = SmallRng::seed_from_u64(20_260_114);
    for _ in 0..400 {
        let ports: Vec<Value> = (0..rng.random_range(1..=5))
            .map(|i| random_port(&mut rng, i))
            .collect();
        let together: f64 = ports
            .iter()
            .map(|p| {
                let modes = p["modes"].as_array().unwrap();
                modes
                    .iter()
                    .filter(|m| m["kind"] == "fixed")
                    .map(|m| m["voltage_v"].as_f64().unwrap() * m["current_a"].as_f64().unwrap())
                    .fold(0.0, f64::max)
            })
            .sum();
        let nameplate = (together * rng.random_range(0.4..1.05))
            .round()
            .clamp(1.0, 240.0);
        let record = unit(nameplate, ports);
        let plan = planned(&record);
        let full = filled(&record, &plan, rng.random_range(0.8..0.95));
        let evaluation = lacks_nothing(&full, &plan);
        // The program never warns of the runs that its own plan asked for.
        let about_ratings: Vec<&str> = evaluation
            .warnings
            .iter()
            .filter(|w| w.path == "runs" || w.path.contains("rated_outputs"))
            .map(|w| w.message.as_str())
            .filter(|m| !m.contains("the label gives no more"))
            .collect();
        assert!(
            about_ratings.is_empty(),
            "{about_ratings:?} {:?}",
            record.unit
        );
        // Planned anew, nothing is open any more, and every run is found again.
        let choice = Choice::standard(&METHOD);
        let again = super::plans::plan(&full, &choice, &METHOD);
        let left = outlook(&again, None, &choice, &METHOD);
        assert_eq!(left.readings_done, left.readings);
        assert!(left.regimes.iter().all(|r| r.open.is_empty()));
        for (i, run) in again.runs.iter().enumerate() {
            assert_eq!(run.recorded, Some(i), "{}", run.name);
        }
    }
}

#[test]
fn what_is_missing_is_named_for_each_verdict_and_for_the_score() {
    let record = unit(12.0, vec![port("A1", "usb-a", &[(5.0, 2.4)], None)]);
    let choice = Choice::standard(&METHOD);
    let mut half = filled(&record, &planned(&record), 0.85);
    half.runs.truncate(1);
    half.runs[0].points.retain(|p| p.load_percent != 50.0);
    half.temperatures.clear();
    let plan = plan(&half, &choice, &METHOD);
    let left = outlook(&plan, Some(&evaluate(&half, &METHOD)), &choice, &METHOD);
    let open = |id: &str| {
        let found = left.regimes.iter().find(|r| r.regime == id).unwrap();
        found
            .open
            .iter()
            .map(|o| (o.run, plan.runs[o.run].loads[o.load].load_percent))
            .collect::<Vec<_>>()
    };
    assert_eq!(open("us_doe_level_vi"), [(0, 50.0)]);
    let whole = [100.0, 75.0, 50.0, 25.0, 0.0].map(|load| (1, load));
    assert_eq!(open("eu_2019_1782"), whole);
    assert_eq!(
        open("eu_coc_v5_tier2").last(),
        Some(&(1, 10.0)),
        "10 % is a requirement there"
    );
    let score = left.score.unwrap();
    assert!(!score.is_firm());
    let terms: Vec<&str> = score.missing.iter().map(|t| t.term.as_str()).collect();
    assert_eq!(terms, ["active-loss", "line-current", "surface"]);
}

#[test]
fn a_supply_that_the_nameplate_does_not_cover_is_left_out_with_the_reason() {
    let mut record = unit(12.0, vec![port("A1", "usb-a", &[(5.0, 2.4)], None)]);
    record.unit.nameplate.input_voltage_max_v = Some(125.0);
    let plan = planned(&record);
    assert!(plan.runs.iter().all(|r| r.line.voltage_v == 115.0));
    let left_out = plan
        .supplies
        .iter()
        .find(|s| s.supply.voltage_v == 230.0)
        .unwrap();
    assert!(
        left_out
            .left_out
            .as_ref()
            .unwrap()
            .contains("ends at 125 V")
    );
    assert!(plan.out_of_scope.iter().any(|(id, _)| id == "eu_2019_1782"));
}

#[test]
fn a_supply_asked_for_by_hand_is_planned_beside_the_others() {
    let record = unit(12.0, vec![port("A1", "usb-a", &[(5.0, 2.4)], None)]);
    let choice = Choice {
        regimes: vec!["us_doe_level_vi".into()],
        score: false,
        supplies: vec![Supply {
            voltage_v: 100.0,
            frequency_hz: 50.0,
        }],
    };
    let plan = plan(&record, &choice, &METHOD);
    let lines: Vec<f64> = plan.runs.iter().map(|r| r.line.voltage_v).collect();
    assert_eq!(lines, [115.0, 100.0]);
    // The US rule sets nothing at 10 %, the score is not wanted.
    let optional = |run: usize| {
        plan.runs[run]
            .loads
            .iter()
            .find(|l| l.load_percent == 10.0)
            .unwrap()
    };
    assert!(!optional(0).needed && optional(1).needed);
}

#[test]
fn a_label_without_voltages_or_connector_is_not_planned_and_the_field_is_named() {
    let bare = json!({"label": "C1", "connector": "usb-c"});
    let no_connector = json!({"label": "C2", "modes": [
        {"kind": "fixed", "voltage_v": 5, "current_a": 3},
        {"kind": "fixed", "voltage_v": 9, "current_a": 2}]});
    let plan = plan(
        &unit(30.0, vec![bare, no_connector]),
        &Choice::standard(&METHOD),
        &METHOD,
    );
    let paths: Vec<&str> = plan.hindrances.iter().map(|h| h.path.as_str()).collect();
    assert_eq!(paths, ["unit.ports[0].modes", "unit.ports[1].connector"]);
    assert!(plan.runs.is_empty());
    let none = super::plans::plan(&unit(30.0, vec![]), &Choice::standard(&METHOD), &METHOD);
    assert_eq!(none.hindrances[0].path, "unit.ports");
}

// ---- labels and ratings that are less than the whole ----

fn pps(from_v: f64, to_v: f64, amps: f64) -> Value {
    json!({"kind": "pps", "voltage_min_v": from_v, "voltage_max_v": to_v, "current_a": amps})
}

/// One USB-C port with 5 V 3 A and a programmable range.
fn programmable(power_w: f64, range: Value) -> Record {
    let mut c1 = port("C1", "usb-c", &[(5.0, 3.0)], None);
    c1["modes"].as_array_mut().unwrap().push(range);
    unit(power_w, vec![c1])
}

/// Warnings about which outputs were loaded how far.
fn rating_warnings(record: &Record) -> Vec<(String, String)> {
    evaluate(record, &METHOD)
        .warnings
        .into_iter()
        .filter(|w| w.path == "runs" || w.path.contains("rated_outputs"))
        .map(|w| (w.path, w.message))
        .collect()
}

/// 5 V 3 A and 3.3 V to 11 V 2.77 A, 25 W. 5 x 3 = 15 W is not 25 W; 11 x 2.77 = 30.47 W is more. A
/// range that ends at 11 V is nominally 9 V: 9 x 2.77 = 24.93 W, within 2 % of 25 W.
/// High: 9 V, basic; 0.071 ln 24.93 - 0.0014 x 24.93 + 0.67 = 0.228341 - 0.034902 + 0.67 = 0.863439.
/// Low: 5 V 2 A, as in every USB PD unit.
#[test]
fn a_unit_that_gives_its_power_only_in_a_programmable_range_is_loaded_there() {
    let record = programmable(25.0, pps(3.3, 11.0, 2.77));
    check(
        &record,
        &[
            Expected {
                voltages_v: &[9.0],
                rated_power_w: 24.93,
                category: "basic",
                level_vi: 0.863439,
                currents: &[("C1", ["2.770", "2.078", "1.385", "0.693", "0.277"])],
            },
            Expected {
                voltages_v: &[5.0],
                rated_power_w: 10.0,
                category: "low",
                level_vi: 0.787036,
                currents: &[("C1", ["2.000", "1.500", "1.000", "0.500", "0.200"])],
            },
        ],
    );
    let plan = planned(&record);
    let said = |run: usize| {
        plan.runs[run]
            .remarks
            .iter()
            .any(|r| r.text.contains("range"))
    };
    assert!(said(0) && !said(1));
    let full = filled(&record, &plan, 0.9);
    lacks_nothing(&full, &plan);
    assert_eq!(rating_warnings(&full), []);
    // Tested at its fixed voltage alone, the power of the label is warned to be missing.
    let mut fixed = full.clone();
    for run in fixed.runs.iter_mut().step_by(2) {
        run.rated_outputs[0].voltage_v = 5.0;
        run.rated_outputs[0].current_a = 3.0;
    }
    let warned = rating_warnings(&fixed);
    assert!(
        warned
            .iter()
            .any(|(path, what)| path == "runs" && what.contains("no run at 9 V on 115 V 60 Hz")),
        "{warned:?}"
    );
    assert!(
        warned
            .iter()
            .any(|(path, what)| path == "runs[0].rated_outputs" && what.contains("rated 15 W")),
        "{warned:?}"
    );
}

/// A range without a nominal voltage that gives the power: 25 / 2.6 = 9.615 V, in steps of 20 mV
/// 9.6 V; x 2.6 A = 24.96 W. A range that gives less, or one beside a fixed voltage that gives the
/// power, is not loaded.
#[test]
fn a_range_is_loaded_where_its_current_times_voltage_is_the_nameplate_and_only_if_it_must() {
    let highest = |record: &Record| {
        let rated = &planned(record).runs[0].rated_outputs[0];
        (rated.voltage_v, rated.current_a)
    };
    assert_eq!(
        highest(&programmable(25.0, pps(3.3, 11.0, 2.6))),
        (9.6, 2.6)
    );
    assert_eq!(highest(&programmable(25.0, pps(3.3, 5.9, 3.0))), (5.0, 3.0));
    assert_eq!(
        highest(&programmable(15.0, pps(3.3, 11.0, 3.0))),
        (5.0, 3.0)
    );
}

#[test]
fn a_unit_of_one_fixed_voltage_and_a_range_is_not_warned_of_the_run_that_its_plan_asks_for() {
    let record = programmable(15.0, pps(3.3, 5.9, 3.0));
    let plan = planned(&record);
    let asked: Vec<f64> = plan
        .runs
        .iter()
        .map(|r| r.rated_outputs[0].current_a)
        .collect();
    assert_eq!(asked, [3.0, 2.0, 3.0, 2.0]);
    assert_eq!(rating_warnings(&filled(&record, &plan, 0.85)), []);
}

#[test]
fn a_run_at_a_part_of_the_rating_is_warned_of_and_decides_as_before() {
    let record = unit(
        27.0,
        vec![port("C1", "usb-c", &[(5.0, 3.0), (9.0, 3.0)], None)],
    );
    let whole = filled(&record, &planned(&record), 0.9);
    assert_eq!(rating_warnings(&whole), []);
    let mut part = whole.clone();
    for run in &mut part.runs {
        if run.rated_outputs[0].voltage_v == 9.0 {
            run.rated_outputs[0].current_a = 1.0;
        }
        for point in &mut run.points {
            let share = point.load_percent / 100.0;
            let rated = &run.rated_outputs[0];
            point.outputs[0].current_a = Some(rated.current_a * share);
            point.input.as_mut().unwrap().power_w =
                Some(rated.voltage_v * rated.current_a * share / 0.88);
        }
    }
    let warned = rating_warnings(&part);
    let at: Vec<&str> = warned.iter().map(|(path, _)| path.as_str()).collect();
    assert_eq!(
        at,
        [
            "runs[0].rated_outputs[0]",
            "runs[2].rated_outputs[0]",
            "runs[0].rated_outputs",
            "runs[2].rated_outputs"
        ],
        "the 2 A at 5 V are the method's own"
    );
    assert!(warned[0].1.contains("1 A at 9 V") && warned[0].1.contains("3 A"));
    assert!(warned[2].1.contains("9 W") && warned[2].1.contains("27 W"));
    let us = |record: &Record| {
        let found = evaluate(record, &METHOD).regimes;
        found
            .into_iter()
            .find(|r| r.regime == "us_doe_level_vi")
            .unwrap()
            .result
    };
    assert_eq!(us(&part), us(&whole), "a warning changes no verdict");
}

#[test]
fn shares_of_several_ports_are_no_part_load_but_a_unit_never_loaded_whole_is_warned_of() {
    let modes = [(5.0, 3.0), (20.0, 3.25)];
    let record = unit(
        65.0,
        vec![
            port("C1", "usb-c", &modes, None),
            port("C2", "usb-c", &modes, None),
        ],
    );
    let mut shared = filled(&record, &planned(&record), 0.9);
    // 45 W and 20 W together are the whole of 65 W.
    for run in shared.runs.iter_mut().step_by(2) {
        run.rated_outputs[0].current_a = 2.25;
        run.rated_outputs[1].current_a = 1.0;
    }
    assert_eq!(rating_warnings(&shared), []);
    let mut alone = shared.clone();
    for run in &mut alone.runs {
        run.rated_outputs.truncate(1);
        for point in &mut run.points {
            point.outputs.truncate(1);
        }
    }
    let warned = rating_warnings(&alone);
    let whole: Vec<&str> = warned
        .iter()
        .filter(|(path, what)| path == "runs" && what.contains("loads all 2 ports together"))
        .map(|(_, what)| what.as_str())
        .collect();
    assert_eq!(whole.len(), 2, "once a supply: {warned:?}");
}

// ---- what counts as held ----

#[test]
fn a_log_that_the_record_does_not_list_holds_nothing_and_the_verdicts_reason_is_told() {
    let record = unit(12.0, vec![port("A1", "usb-a", &[(5.0, 2.4)], None)]);
    let mut named = filled(&record, &planned(&record), 0.85);
    for run in &mut named.runs {
        run.no_load = Some(NoLoad {
            log: Some("missing.csv".into()),
            ..NoLoad::default()
        });
        run.points[0].log = Some("missing.csv".into());
        run.points[0].input = None;
    }
    let choice = Choice::standard(&METHOD);
    let plan = plan(&named, &choice, &METHOD);
    let left = outlook(&plan, Some(&evaluate(&named, &METHOD)), &choice, &METHOD);
    let us = &left.regimes[0];
    assert_eq!(us.regime, "us_doe_level_vi");
    let open: Vec<f64> = us
        .open
        .iter()
        .map(|o| plan.runs[o.run].loads[o.load].load_percent)
        .collect();
    assert_eq!(open, [100.0, 0.0]);
    assert!(us.unjudged.is_some(), "{us:?}");
}

#[test]
fn one_reading_of_heat_is_not_the_series_that_the_plan_asks_for() {
    let record = unit(12.0, vec![port("A1", "usb-a", &[(5.0, 2.4)], None)]);
    let heat_is_done = |temperatures: &[(f64, f64)]| {
        let mut record = record.clone();
        for (minutes, hot_spot_c) in temperatures {
            record.temperatures.push(Temperature {
                load_w: Some(12.0),
                minutes: Some(*minutes),
                ambient_c: Some(23.0),
                surface_c: None,
                hot_spot_c: Some(*hot_spot_c),
                material: None,
                place: None,
            });
        }
        planned(&record).heat.unwrap().done
    };
    assert!(!heat_is_done(&[(60.0, 58.0)]), "where does it end?");
    assert!(
        !heat_is_done(&[(10.0, 40.0), (20.0, 50.0)]),
        "still warming"
    );
    assert!(heat_is_done(&[(40.0, 57.5), (50.0, 57.9), (60.0, 58.0)]));
}

#[test]
fn a_unit_whose_nameplate_leaves_the_scores_supply_out_is_told_that_no_firm_score_is_possible() {
    let choice = Choice::standard(&METHOD);
    let out_of_reach = |min_v: f64| {
        let mut record = unit(12.0, vec![port("B1", "barrel", &[(12.0, 1.0)], None)]);
        record.unit.nameplate.input_voltage_min_v = Some(min_v);
        let plan = planned(&record);
        let evaluation = evaluate(&record, &METHOD);
        let left = outlook(&plan, Some(&evaluation), &choice, &METHOD);
        left.score.unwrap().out_of_reach
    };
    let why = out_of_reach(220.0).unwrap();
    assert!(
        why.contains("115 V 60 Hz") && why.contains("220 V"),
        "{why}"
    );
    assert_eq!(out_of_reach(100.0), None);
}

#[test]
fn a_score_is_not_firm_while_the_changed_label_asks_for_loads_that_nobody_took() {
    let twenty = unit(
        20.0,
        vec![port("C1", "usb-c", &[(5.0, 3.0), (9.0, 2.22)], None)],
    );
    let choice = Choice::standard(&METHOD);
    let standing = |record: &Record| {
        let plan = plan(record, &choice, &METHOD);
        outlook(&plan, Some(&evaluate(record, &METHOD)), &choice, &METHOD)
            .score
            .unwrap()
    };
    let mut record = filled(&twenty, &planned(&twenty), 0.9);
    assert!(standing(&record).is_firm());
    record.unit.nameplate.output_power_w = 27.0;
    record.unit.ports = unit(
        27.0,
        vec![port("C1", "usb-c", &[(5.0, 3.0), (9.0, 3.0)], None)],
    )
    .unit
    .ports;
    let left = standing(&record);
    assert!(left.is_covered() && !left.is_firm());
    // 100, 75, 50, 25, no load of the same supply held, 10 %: five loads at 9 V.
    assert_eq!(left.open, 5);
}
