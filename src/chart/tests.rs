//! What holds for every chart, and how the drawings look in a page.

use super::*;
use crate::bench::record::{Category, HarmonicClass, HarmonicClassChoice};
use crate::evaluate::evaluation::{
    ClassRef, LossModel, NoLoadAgainstLimit, NoLoadLog, NoLoadResult, PointResult, PowerTrace,
    PowerWindow, RunResult, Score, ScoreTerm, WaveformResult,
};
use crate::evaluate::uncertainty::Accuracy;
use crate::evaluate::waveform;
use crate::ranking::Row;
use crate::standards::HarmonicLimits;

fn point(load_percent: f64, output_power_w: f64, efficiency: f64) -> PointResult {
    let input = output_power_w / efficiency;
    PointResult {
        load_percent,
        output_power_w: Some(output_power_w),
        output_power_u: Some(output_power_w * 1e-3),
        input_power_w: Some(input),
        input_power_u: Some(input * 1e-3),
        efficiency: Some(efficiency),
        efficiency_u: Some(0.0014),
        loss_w: Some(input - output_power_w),
        loss_u: None,
        apparent_power_va: None,
        power_factor: Some(0.55 + 0.004 * load_percent),
        power_factor_u: None,
        nonactive_power_va: None,
        crest_factor: None,
        current_thd_percent: Some(140.0 - 0.6 * load_percent),
        voltage_deviation_percent: None,
        voltage_deviation_u: None,
        log: None,
    }
}

/// A run whose losses follow a + b I + c I² exactly.
fn run(name: &str, volts: f64, rated_w: f64, model: (f64, f64, f64)) -> RunResult {
    let loss = |w: f64| model.0 + model.1 * w / volts + model.2 * (w / volts).powi(2);
    RunResult {
        name: name.into(),
        line_voltage_v: 115.0,
        line_frequency_hz: 60.0,
        rated_power_w: Some(rated_w),
        rated_current_a: Some(rated_w / volts),
        rated_voltage_v: Some(volts),
        allocation: 1.0,
        category: Category::Basic,
        category_reason: String::new(),
        all_ports: true,
        informative: None,
        points: [10.0, 25.0, 50.0, 75.0, 100.0]
            .map(|p| {
                let w = rated_w * p / 100.0;
                point(p, w, w / (w + loss(w)))
            })
            .to_vec(),
        average_efficiency: None,
        average_efficiency_u: None,
        average_missing: vec![],
        ten_percent_efficiency: None,
        ten_percent_efficiency_u: None,
        loss_model: Some(LossModel {
            a_w: model.0,
            b_v: model.1,
            c_ohm: model.2,
            rms_residual_w: 0.01,
            peak_efficiency: 0.93,
            peak_at_w: rated_w / 2.0,
            effective_voltage_v: volts,
            valid_to_w: rated_w,
        }),
        no_load: Some(NoLoadResult {
            power_w: model.0 * 0.3,
            power_u: Some(0.002),
            method: "reading".into(),
            expanded_uncertainty_w: Some(0.004),
            log: None,
        }),
        waveforms: Vec::new(),
    }
}

fn evaluation(runs: Vec<RunResult>) -> Evaluation {
    let term = |term: &str, weight, points| ScoreTerm {
        term: term.into(),
        weight,
        k: 2.5,
        points,
        points_u: points.map(|_| 1.2),
        measured: None,
        reference: None,
        reason: None,
        runs: vec![],
    };
    Evaluation {
        format: String::new(),
        engine: String::new(),
        class: ClassRef {
            id: "w100".into(),
            label: "over 70 to 100 W".into(),
        },
        runs,
        verdicts: vec![],
        regimes: vec![],
        label_checks: vec![],
        ports: vec![],
        sharing: None,
        overloads: vec![],
        heat: vec![],
        measurements: vec![],
        build: None,
        warnings: vec![],
        score: Score {
            version: 1,
            value: Some(64.0),
            u: Some(0.8),
            coverage: 0.9,
            provisional: false,
            u_lacks: vec![],
            terms: vec![
                term("active-loss", 35.0, Some(72.4)),
                term("light-load-loss", 10.0, Some(55.0)),
                term("no-load", 20.0, Some(91.0)),
                term("line-current", 20.0, Some(31.5)),
                term("delivery", 10.0, None),
                term("surface", 5.0, Some(12.0)),
            ],
        },
    }
}

fn two_runs() -> Evaluation {
    evaluation(vec![
        run("C1 20 V on 115 V", 20.0, 100.0, (0.45, 0.6, 0.09)),
        run("C1 5 V on 115 V", 5.0, 15.0, (0.35, 0.3, 0.05)),
    ])
}

/// A class of invented units, each a little worse than the one before.
fn rows(count: usize) -> Vec<Row> {
    (0..count)
        .map(|i| {
            let worse = i as f64 / count.max(2) as f64;
            let wobble = ((i * 7919) % 101) as f64 / 101.0 - 0.5;
            let run = run(
                "r",
                20.0,
                100.0,
                (0.3 + worse + 0.3 * wobble, 0.5, 0.06 + 0.08 * worse),
            );
            Row {
                unit_id: i as i64,
                slug: format!("u{i}"),
                maker: "Larkfield".into(),
                model: format!("LF-{i}"),
                sample: None,
                class: ClassRef {
                    id: "w100".into(),
                    label: "over 70 to 100 W".into(),
                },
                output_power_w: 100.0,
                score: Some(90.0 - 60.0 * worse),
                score_u: Some(1.0),
                score_version: 1,
                coverage: 1.0,
                provisional: false,
                run: Some("r".into()),
                average_efficiency: None,
                average_efficiency_u: None,
                ten_percent_efficiency: None,
                peak_efficiency: None,
                no_load_w: Some(0.03 + 0.1 * worse),
                no_load_u: Some(0.001),
                power_factor: None,
                current_thd_percent: None,
                price: None,
                currency: None,
                mass_g: None,
                volume_cm3: None,
                power_density_w_per_cm3: None,
                hot_spot_rise_k: None,
                trip_margin_percent: None,
                trip_margin_u_percent: None,
                recovery: None,
                touch_temperature_c: None,
                touch_temperature_u: None,
                others: vec![],
                ports: 1,
                usb_c_ports: 1,
                usb_a_ports: 0,
                tested_on: None,
                verdicts: vec![],
                curve: run
                    .points
                    .iter()
                    .map(|p| (p.output_power_w.unwrap(), p.efficiency.unwrap()))
                    .collect(),
                loss_curve: None,
                together: Default::default(),
            }
        })
        .collect()
}

fn six_units() -> Vec<(String, RunResult)> {
    [
        "Larkfield LF-100Q",
        "Tarnhelm T96",
        "Osier & Vane 100 Duo",
        "Quillon Q-100",
        "Brae 100 GaN Slim",
        "Nordhaven Kompakt 100",
    ]
    .iter()
    .enumerate()
    .map(|(i, n)| {
        let x = i as f64;
        (
            n.to_string(),
            run(
                n,
                20.0,
                100.0 - 5.0 * x,
                (0.25 + 0.12 * x, 0.5, 0.06 + 0.012 * x),
            ),
        )
    })
    .collect()
}

/// A log of `to_s` seconds in `cells` cells, of which the first third was discarded; `power` gives
/// watts at a time.
fn no_load_log(to_s: f64, cells: usize, power: impl Fn(f64) -> f64) -> NoLoadLog {
    let cell_s = to_s / cells as f64;
    let wobble = |i: usize| ((i * 7919) % 211) as f64 / 211.0 - 0.5;
    let mean: Vec<f64> = (0..cells)
        .map(|i| power((i as f64 + 0.5) * cell_s) * (1.0 + 0.01 * wobble(i)))
        .collect();
    let windows: Vec<PowerWindow> = (0..(to_s / 300.0) as usize)
        .map(|n| {
            let within: Vec<f64> = mean
                .iter()
                .enumerate()
                .filter(|(i, _)| ((*i as f64 + 0.5) * cell_s / 300.0) as usize == n)
                .map(|(_, w)| *w)
                .collect();
            PowerWindow {
                from_s: n as f64 * 300.0,
                to_s: (n + 1) as f64 * 300.0,
                mean_w: within.iter().sum::<f64>() / within.len() as f64,
            }
        })
        .collect();
    let limits = [
        (vec!["coc"], 0.075),
        (vec!["us", "eu"], 0.210),
        (vec!["old"], 1.0),
    ]
    .map(|(regimes, limit_w)| NoLoadAgainstLimit {
        regimes: regimes.into_iter().map(str::to_owned).collect(),
        limit_w,
        windows_above: windows.iter().filter(|w| w.mean_w > limit_w).count() as f64
            / windows.len().max(1) as f64,
        longer: crate::evaluate::evaluation::LongerRecording {
            answer: "clear".into(),
            further_s: None,
            message: String::new(),
        },
    })
    .to_vec();
    NoLoadLog {
        name: "idle.csv".into(),
        sha256: "0".repeat(64),
        from_s: 0.0,
        to_s,
        samples: cells as u64 * 4,
        interval_s: cell_s / 4.0,
        used_from_s: to_s / 3.0,
        used_to_s: to_s,
        settled_at_s: Some(to_s / 5.0),
        slope_w_per_h: 0.001,
        slope_limit_w_per_h: 0.010,
        slope_u_w_per_h: 0.002,
        cycle: None,
        instrument_u_w: Some(0.0008),
        scatter_u_w: 0.0002,
        scatter_degrees_of_freedom: 20.0,
        long_enough: true,
        block_s: 10.0,
        degrees_of_freedom: Some(400.0),
        coverage_factor: 1.97,
        allowed_uncertainty_w: None,
        current_peak_a: Some(0.11),
        current_a: None,
        power_factor: None,
        methods: Vec::new(),
        known: String::new(),
        five_minute: None,
        windows,
        limits,
        trace: PowerTrace {
            from_s: 0.0,
            cell_s,
            min_w: mean.iter().map(|w| Some(w * 0.985)).collect(),
            max_w: mean.iter().map(|w| Some(w * 1.02)).collect(),
            mean_w: mean.into_iter().map(Some).collect(),
        },
    }
}

/// The chart of a log with the mean over its used part as figure.
fn no_load_trace(log: NoLoadLog) -> NoLoadTrace {
    let used: Vec<f64> = log
        .trace
        .mean_w
        .iter()
        .enumerate()
        .filter(|(i, _)| log.trace.cell_s * (*i as f64 + 0.5) >= log.used_from_s)
        .filter_map(|(_, w)| *w)
        .collect();
    let mut run = run("20 V on 115 V", 20.0, 100.0, (0.4, 0.6, 0.09));
    run.no_load = Some(NoLoadResult {
        power_w: used.iter().sum::<f64>() / used.len() as f64,
        power_u: Some(0.0008),
        method: "sampling".into(),
        expanded_uncertainty_w: Some(0.0016),
        log: Some(log),
    });
    NoLoadTrace::of_run("Larkfield LF-100Q, 20 V on 115 V", &run, |id| {
        Some(
            match id {
                "coc" => "CoC v5 Tier 2",
                "us" => "Level VI",
                "eu" => "EU 2019/1782",
                _ => return None,
            }
            .to_owned(),
        )
    })
    .expect("the run has a log")
}

/// Settles from above the limit to just below it, switched on with a burst.
fn settling(t: f64) -> f64 {
    if t < 5.0 {
        4.2
    } else {
        0.0738 + 0.03 * (-t / 180.0).exp()
    }
}

fn gallery() -> Vec<(&'static str, Box<dyn Chart>)> {
    let e = two_runs();
    let limits = || {
        vec![
            LimitLine::at("Level VI", 0.880, 100.0),
            LimitLine::at("EU 2019/1782", 0.880, 100.0),
            LimitLine::at("CoC v5 Tier 2", 0.890, 100.0),
            LimitLine::at("Level VI", 0.820, 15.0),
        ]
    };
    let no_load = || {
        vec![
            LimitLine::new("Level VI", 0.210),
            LimitLine::new("EU 2019/1782", 0.210),
            LimitLine::new("CoC v5 Tier 2", 0.075),
        ]
    };
    let units = six_units();
    let compared =
        |q, axis| LoadChart::comparison(q, units.iter().map(|(n, r)| (n.clone(), r)), axis);
    let mut gap = two_runs();
    gap.runs[0].points[2].efficiency = None;
    gap.runs[0].no_load = None;
    gap.runs[1].loss_model = None;
    let many = evaluation(
        (0..8)
            .map(|i| {
                run(
                    &format!("C1 {} V on {} V", [5, 9, 15, 20][i % 4], [115, 230][i / 4]),
                    [5.0, 9.0, 15.0, 20.0][i % 4],
                    [15.0, 27.0, 45.0, 100.0][i % 4],
                    (0.3 + 0.05 * i as f64, 0.5, 0.05),
                )
            })
            .collect(),
    );
    vec![
        (
            "efficiency-log",
            Box::new(
                LoadChart::efficiency("Larkfield LF-100Q", &e, LoadAxis::WattsLog)
                    .with_limits(limits()),
            ),
        ),
        (
            "efficiency-linear",
            Box::new(
                LoadChart::efficiency("Larkfield LF-100Q", &e, LoadAxis::WattsLinear)
                    .with_limits(limits()),
            ),
        ),
        (
            "efficiency-percent",
            Box::new(
                LoadChart::efficiency("Larkfield LF-100Q", &e, LoadAxis::PercentOfRated)
                    .with_limits(limits()),
            ),
        ),
        (
            "efficiency-gap",
            Box::new(LoadChart::efficiency("Gap", &gap, LoadAxis::WattsLog)),
        ),
        (
            "efficiency-many",
            Box::new(
                LoadChart::efficiency("Many", &many, LoadAxis::WattsLog).with_limits(limits()),
            ),
        ),
        ("overload-held", Box::new(held())),
        (
            "overload-shut-off",
            Box::new(overload_chart(&[
                (2.5, Some(2.5), Some(20.1)),
                (2.8, Some(0.0), Some(0.0)),
            ])),
        ),
        (
            "overload-unread",
            Box::new(overload_chart(&[(2.5, None, None)])),
        ),
        ("heat-short", Box::new(heat_chart(4.0, 7, |_| Some(24.0)))),
        (
            "heat-steady",
            Box::new(heat_chart(10.0, 10, |t| Some(23.5 + 0.02 * t))),
        ),
        ("heat-no-ambient", Box::new(heat_chart(10.0, 8, |_| None))),
        (
            "power-factor",
            Box::new(LoadChart::power_factor(
                "Larkfield LF-100Q",
                &e,
                LoadAxis::WattsLog,
            )),
        ),
        (
            "thd",
            Box::new(LoadChart::current_thd(
                "Larkfield LF-100Q",
                &e,
                LoadAxis::PercentOfRated,
            )),
        ),
        (
            "comparison",
            Box::new(
                compared(LoadQuantity::Efficiency, LoadAxis::WattsLog)
                    .with_marked_w(10.0)
                    .with_limits(limits()[..1].to_vec()),
            ),
        ),
        (
            "comparison-thd",
            Box::new(compared(LoadQuantity::CurrentThd, LoadAxis::WattsLinear)),
        ),
        (
            "class-1",
            Box::new(ClassOverview::of_rows(
                "over 70 to 100 W",
                &rows(1),
                None,
                LoadAxis::WattsLog,
            )),
        ),
        (
            "class-40",
            Box::new(
                ClassOverview::of_rows(
                    "over 70 to 100 W",
                    &rows(40),
                    Some("u7"),
                    LoadAxis::WattsLog,
                )
                .with_limits(limits()[1..].to_vec()),
            ),
        ),
        (
            "class-1700",
            Box::new(
                ClassOverview::of_rows(
                    "over 70 to 100 W",
                    &rows(1700),
                    Some("u700"),
                    LoadAxis::PercentOfRated,
                )
                .with_limits(limits()[..1].to_vec()),
            ),
        ),
        (
            "no-load",
            Box::new(NoLoadBars::of_unit("Larkfield LF-100Q", &e).with_limits(no_load())),
        ),
        ("no-load-gap", Box::new(NoLoadBars::of_unit("Gap", &gap))),
        (
            "no-load-class",
            Box::new(
                NoLoadBars::of_rows("class over 70 to 100 W", &rows(9), Some("u3"))
                    .with_limits(no_load()),
            ),
        ),
        (
            "trace-settling",
            Box::new(no_load_trace(no_load_log(1_800.0, 900, settling))),
        ),
        (
            "trace-straddling",
            Box::new(no_load_trace({
                let mut log = no_load_log(10_800.0, 1_800, |t| {
                    0.075
                        + if ((t / 700.0) as u64).is_multiple_of(3) {
                            0.004
                        } else {
                            -0.002
                        }
                });
                for i in 1_200..1_230 {
                    log.trace.mean_w[i] = None;
                }
                log
            })),
        ),
        (
            "trace-bursts",
            Box::new(no_load_trace(no_load_log(90_000.0, 1_500, |t| {
                if ((t / 60.0) as u64).is_multiple_of(97) {
                    0.6
                } else {
                    0.031
                }
            }))),
        ),
        (
            "trace-short",
            Box::new(no_load_trace(no_load_log(240.0, 60, |t| 1.31 + 0.0004 * t))),
        ),
        (
            "trace-empty",
            Box::new(no_load_trace({
                let mut log = no_load_log(900.0, 3, settling);
                log.trace.mean_w = Vec::new();
                log
            })),
        ),
        ("waveform", Box::new(waveform_chart(100.0, None))),
        ("waveform-idle", Box::new(waveform_chart(0.3, None))),
        ("harmonics-class-a", Box::new(harmonics_chart(100.0, None))),
        (
            "harmonics-class-d",
            Box::new(harmonics_chart(100.0, Some(HarmonicClass::D))),
        ),
        ("harmonics-idle", Box::new(harmonics_chart(0.3, None))),
        (
            "empty",
            Box::new(LoadChart::efficiency(
                "Nothing",
                &evaluation(vec![]),
                LoadAxis::WattsLog,
            )),
        ),
    ]
}

/// What a bridge rectifier with a capacitor draws from 230 V at a load in watts.
fn bridge_waveform(load_w: f64, class: Option<HarmonicClass>) -> WaveformResult {
    let (volts, fine, ohms, farads) = (230.0 * 2f64.sqrt(), 40, 4.0, 180e-6);
    let dt = 1.0 / (10_000.0 * f64::from(fine));
    let mut capacitor_v = volts - 1.4;
    let (mut t, mut v, mut i) = (vec![], vec![], vec![]);
    for k in 0..(24_000 * fine as usize) {
        let line = volts * (std::f64::consts::TAU * 50.0 * k as f64 * dt).sin();
        let charging = ((line.abs() - 1.4 - capacitor_v) / ohms).max(0.0);
        capacitor_v += dt / farads * (charging - load_w / capacitor_v);
        if k % fine as usize == 0 && k >= 20_000 * fine as usize {
            t.push(k as f64 * dt);
            v.push(line);
            i.push(charging * line.signum());
        }
    }
    let limits = HarmonicLimits::embedded();
    let findings = waveform::analyse(&t, &v, &i, 50.0, &limits).unwrap();
    waveform::result(
        waveform::WaveformSection {
            name: "w.csv".into(),
            sha256: String::new(),
            load_percent: 100.0,
            from_s: 0.0,
            to_s: Some(0.4),
        },
        Ok(&findings),
        &waveform::Equipment {
            line_voltage_v: 230.0,
            rated_input: waveform::RatedInput {
                power_w: load_w,
                reason: "measured".into(),
                measured: true,
            },
            full_load_is_nameplate: true,
            class: class.map(|value| HarmonicClassChoice {
                value,
                reason: "sold with a notebook".into(),
            }),
        },
        &waveform::AnalyserReadings::default(),
        Accuracy::of(&[]),
        &limits,
    )
}

fn waveform_chart(load_w: f64, class: Option<HarmonicClass>) -> WaveformChart {
    WaveformChart::of(
        "Larkfield LF-100Q at full load",
        &bridge_waveform(load_w, class),
    )
    .unwrap()
}

fn harmonics_chart(load_w: f64, class: Option<HarmonicClass>) -> HarmonicsChart {
    HarmonicsChart::of(
        "Larkfield LF-100Q at full load",
        &bridge_waveform(load_w, class),
    )
    .unwrap()
}

#[test]
fn an_order_outside_its_limit_has_a_triangle_and_says_so_on_hover_and_in_the_table() {
    let outside = harmonics_chart(100.0, Some(HarmonicClass::D));
    let svg = outside.svg(Size::Wide, "p");
    assert!(svg.contains("c-flag"));
    assert!(svg.contains("order 3: 425 mA; Class D: 121 % of 351 mA, outside"));
    let table = outside.table();
    assert_eq!(table.rows.len(), 40);
    assert_eq!(table.rows[2][5], "121 %, outside");
    assert!(table.caption.contains("outside the limits"));
    let within = harmonics_chart(100.0, None);
    assert!(!within.svg(Size::Wide, "p").contains("c-flag"));
    assert_eq!(within.table().rows[1][5], "0 %, below the floor");
}

#[test]
fn each_lane_of_a_waveform_has_its_line_and_the_power_its_mean() {
    let svg = waveform_chart(100.0, None).svg(Size::Wide, "p");
    for lane in ["c-line c-s1", "c-line c-s2", "c-line c-s4", "c-limit"] {
        assert_eq!(
            svg.matches(&format!("class=\"{lane}\"")).count(),
            1,
            "{lane}"
        );
    }
    let chart = waveform_chart(100.0, None);
    let drawn: Vec<Vec<(f64, f64)>> = ["c-line c-s1", "c-line c-s2"]
        .iter()
        .map(|class| path_of(&svg, class))
        .collect();
    // Where the current is largest, the voltage is near its peak: both lanes share their time.
    let highest =
        |points: &[(f64, f64)]| points.iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0;
    assert!((highest(&drawn[0]) - highest(&drawn[1])).abs() < 60.0);
    assert_eq!(drawn[0].len(), chart.quality.shape.voltage_v.len());
}

/// Points of the path with exactly this class.
/// An evaluated record of one adapter of 60 W with these overloads and temperatures.
fn tested(
    overloads: serde_json::Value,
    temperatures: serde_json::Value,
) -> (crate::bench::record::Record, Evaluation) {
    let document = serde_json::json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "LF-60", "nameplate": {"output_power_w": 60},
            "ports": [{"label": "C1", "connector": "usb-c", "power_w": 60,
                "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3}]}]},
        "instruments": [{"quantity": "output_current_a", "fixed": 0.01},
            {"quantity": "temperature_c", "fixed": 1.0}],
        "overloads": overloads,
        "temperatures": temperatures,
    });
    let record = crate::bench::decode::decode(&document.to_string()).unwrap();
    let evaluation = crate::evaluate::evaluate(&record, &crate::evaluate::Method::standard());
    (record, evaluation)
}

/// Asked for, flowing, volts.
fn overload_chart(steps: &[(f64, Option<f64>, Option<f64>)]) -> OverloadChart {
    let steps: Vec<_> = steps
        .iter()
        .map(|(set, i, v)| {
            serde_json::json!({"set_current_a": set, "current_a": i, "voltage_v": v, "held_s": 10})
        })
        .collect();
    let overload = serde_json::json!([{"port": "C1", "voltage_v": 20, "steps": steps}]);
    let (record, evaluation) = tested(overload, serde_json::json!([]));
    let readings = crate::evaluate::overload::step_readings(
        &record,
        0,
        &crate::standards::Standards::embedded(),
    );
    OverloadChart::of(
        "Larkfield LF-60, C1 at 20 V",
        &record.overloads[0].steps,
        &readings,
        &evaluation.overloads[0],
    )
    .unwrap()
}

fn held() -> OverloadChart {
    overload_chart(&[
        (0.0, Some(0.0), Some(20.2)),
        (1.5, Some(1.5), Some(20.1)),
        (3.0, Some(3.0), Some(20.0)),
        (3.4, Some(3.3), Some(15.0)),
        (4.0, Some(3.3), Some(9.0)),
        (4.5, Some(0.0), Some(0.0)),
    ])
}

/// A first-order warming by 40 K with a time constant of 15 min, read every so many minutes.
fn heat_chart(every_min: f64, readings: u32, ambient: impl Fn(f64) -> Option<f64>) -> HeatChart {
    let temperatures: Vec<_> = (0..readings)
        .map(|i| {
            let t = f64::from(i) * every_min;
            let c = 24.0 + 40.0 * (1.0 - (-t / 15.0).exp());
            serde_json::json!({"load_w": 60, "minutes": t, "ambient_c": ambient(t),
                "hot_spot_c": (c * 10.0).round() / 10.0, "where": "top face"})
        })
        .collect();
    let (_, evaluation) = tested(serde_json::json!([]), serde_json::json!(temperatures));
    HeatChart::of(
        "Larkfield LF-60, top face at 60 W",
        &evaluation.heat[0],
        10.0,
    )
    .unwrap()
}

#[test]
fn a_port_that_holds_its_current_is_drawn_as_an_upright_line_and_off_stands_apart() {
    let chart = held();
    let svg = chart.svg(Size::Wide, "o");
    let course = polyline(&svg, "c-line c-s1 c-d1");
    assert_eq!(course.len(), 5, "the step that is off is not on the line");
    assert_eq!(course[3].0, course[4].0, "one current, two voltages");
    assert!(course[4].1 > course[3].1, "the voltage falls");
    assert!(svg.contains(">rated 3 A<"), "{svg}");
    assert!(svg.contains(">lets go at 3.300 A ± 0.012 A<"), "{svg}");
    assert!(svg.contains("asked for 4.5 A: 0 A, 0 V, off"));
    let table = chart.table();
    assert!(table.rows[2][4].contains("the last good step"));
    assert_eq!(table.rows[5][4], "off");
}

#[test]
fn a_step_that_was_not_read_breaks_the_line_and_is_no_zero() {
    let chart = overload_chart(&[
        (1.0, Some(1.0), Some(20.1)),
        (1.5, Some(1.5), Some(20.1)),
        (2.0, Some(2.0), None),
        (2.5, Some(2.5), Some(20.0)),
        (3.0, Some(3.0), Some(20.0)),
    ]);
    let svg = chart.svg(Size::Wide, "o");
    assert_eq!(
        svg.matches("<polyline class=\"c-line c-s1 c-d1\"").count(),
        2
    );
    assert_eq!(chart.table().rows[2][2], "not read");
    assert!(!svg.contains("lets go"), "it never did");
}

#[test]
fn a_warming_cut_short_is_drawn_on_to_its_final_value_with_a_band() {
    let chart = heat_chart(4.0, 7, |_| Some(24.0));
    let svg = chart.svg(Size::Wide, "h");
    assert!(svg.contains("c-band c-s3"), "{svg}");
    let read = polyline(&svg, "c-line c-s1 c-d1");
    let fit = polyline(&svg, "c-model c-s3");
    assert!(
        fit.last().unwrap().0 > read.last().unwrap().0 + 20.0,
        "it goes on beyond the readings"
    );
    assert!(
        fit.last().unwrap().1 < read.last().unwrap().1,
        "and upwards"
    );
    assert_eq!(
        chart.table().rows.last().unwrap()[0],
        "Final value by the fit"
    );
    // The truth is 64 °C.
    let words = chart.table().rows.pop().unwrap().remove(1);
    let value: f64 = words.split(' ').next().unwrap().parse().unwrap();
    assert!((value - 64.0).abs() < 1.5, "{words}");
}

#[test]
fn a_steady_end_is_marked_and_nothing_is_drawn_beyond_it() {
    let chart = heat_chart(10.0, 10, |_| Some(24.0));
    let svg = chart.svg(Size::Wide, "h");
    assert!(svg.contains(">steady over the last 10 min<"), "{svg}");
    assert!(!svg.contains("c-band"), "{svg}");
    let read = polyline(&svg, "c-line c-s1 c-d1");
    let fit = polyline(&svg, "c-model c-s3");
    assert_eq!(fit.last().unwrap().0, read.last().unwrap().0);
}

#[test]
fn an_ambient_that_was_not_read_is_a_gap() {
    let chart = heat_chart(10.0, 8, |t| (t != 30.0).then_some(24.0));
    let svg = chart.svg(Size::Narrow, "h");
    assert_eq!(
        svg.matches("<polyline class=\"c-line c-s2 c-d2\"").count(),
        2
    );
    assert!(!svg.contains("c-model"), "no rise, no fit");
    assert_eq!(chart.table().rows[3][2], "not read");
}

fn path_of(svg: &str, class: &str) -> Vec<(f64, f64)> {
    let open = format!("<path class=\"{class}\" d=\"M");
    let data = svg.split(&open).nth(1).unwrap().split('"').next().unwrap();
    data.split('L')
        .map(|point| {
            let (x, y) = point.split_once(' ').unwrap();
            (x.parse().unwrap(), y.parse().unwrap())
        })
        .collect()
}

/// Writes every chart into a page, to be looked at in a browser:
/// `cargo test --lib chart::tests::gallery -- --ignored` then open /tmp/brickbook-charts.html.
#[test]
#[ignore = "writes a page for the eye"]
fn gallery_page() {
    let css = include_str!("../../static/chart.css");
    let mut page = String::from(
        "<!doctype html><meta charset=utf-8><meta name=viewport content='width=device-width'>",
    );
    page.push_str(&format!(
        "<style>{css} body{{margin:8px;background:var(--chart-paper);color:var(--chart-text);font:14px sans-serif}}</style>"
    ));
    for (name, chart) in gallery() {
        let svg = chart.both(name);
        page.push_str(&format!("<h3>{name} ({} bytes both)</h3>{svg}", svg.len()));
    }
    let directory = std::env::temp_dir();
    std::fs::write(directory.join("brickbook-charts.html"), page).unwrap();
    let unit = UnitCard {
        name: "Larkfield LF-100Q".into(),
        class_label: "over 70 to 100 W".into(),
        score: Some(71.3),
        photo: None,
        score_u: Some(0.6),
        rank: "rank 3 to 5 of 41 in its class".into(),
        verdicts: vec![
            VerdictMark {
                regime: "US Level VI".into(),
                outcome: Outcome::Pass,
            },
            VerdictMark {
                regime: "EU 2019/1782".into(),
                outcome: Outcome::ConditionalPass,
            },
            VerdictMark {
                regime: "CoC v5 Tier 1".into(),
                outcome: Outcome::ConditionalFail,
            },
            VerdictMark {
                regime: "CoC v5 Tier 2".into(),
                outcome: Outcome::Fail,
            },
            VerdictMark {
                regime: "EU 2025/2052".into(),
                outcome: Outcome::NotAssessed,
            },
        ],
        curve: rows(1)[0].curve.clone(),
    };
    let list = ListCard {
        title: "Class over 70 to 100 W".into(),
        subtitle: "41 units, by score".into(),
        lines: (0..5)
            .map(|i| ListLine {
                rank: format!("{}–{}", i + 1, i + 2),
                name: if i == 2 {
                    "Wonderful ".repeat(9)
                } else {
                    format!("Larkfield LF-{i}")
                },
                score: (i != 4).then_some(88.0 - f64::from(i)),
                score_u: Some(0.7),
                figure: None,
            })
            .collect(),
    };
    let comparison = ComparisonCard {
        units: six_units()
            .into_iter()
            .map(|(name, run)| UnitCard {
                name,
                score: Some(70.0),
                score_u: Some(0.6),
                curve: run
                    .points
                    .iter()
                    .map(|p| (p.output_power_w.unwrap(), p.efficiency.unwrap()))
                    .collect(),
                ..UnitCard::default()
            })
            .collect(),
    };
    let long = UnitCard {
        name: "The Extraordinarily Long Maker Name Company LF-100Q Extra Long Edition 2".into(),
        ..unit.clone()
    };
    for (name, card) in [
        ("unit", PreviewCard::Unit(unit)),
        ("long", PreviewCard::Unit(long)),
        ("list", PreviewCard::List(list)),
        ("comparison", PreviewCard::Comparison(comparison)),
    ] {
        std::fs::write(
            directory.join(format!("brickbook-{name}.png")),
            preview_png(&card, false),
        )
        .unwrap();
    }
}

/// A minimal XML reading of the drawing: usvg refuses what isn't well-formed.
fn parsed(svg: &str) -> resvg::usvg::Tree {
    resvg::usvg::Tree::from_str(svg, &resvg::usvg::Options::default())
        .unwrap_or_else(|e| panic!("not well-formed ({e}): {svg}"))
}

/// Values of an attribute, in the order of the drawing.
fn attributes<'s>(svg: &'s str, name: &str) -> Vec<&'s str> {
    let key = format!(" {name}=\"");
    svg.split(&key)
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect()
}

/// First polyline of a class as points.
fn polyline(svg: &str, class: &str) -> Vec<(f64, f64)> {
    let at = svg
        .find(&format!("<polyline class=\"{class}"))
        .expect("the line is drawn");
    let points = attributes(&svg[at..], "points")[0];
    points
        .split(' ')
        .filter_map(|p| p.split_once(','))
        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
        .collect()
}

#[test]
fn every_drawing_is_well_formed_named_and_without_style_or_literal_colour() {
    for (name, chart) in gallery() {
        for size in [Size::Wide, Size::Narrow] {
            let svg = chart.svg(size, name);
            parsed(&svg);
            assert!(svg.contains("role=\"img\""), "{name}");
            assert!(
                svg.contains(&format!("<title id=\"{name}-title\">")),
                "{name}"
            );
            assert!(
                svg.contains(&format!("<desc id=\"{name}-desc\">")),
                "{name}"
            );
            assert!(
                svg.contains(&format!("aria-labelledby=\"{name}-title {name}-desc\"")),
                "{name}"
            );
            assert!(svg.contains("viewBox=\"0 0 "), "{name}");
            let head = &svg[..svg.find('>').unwrap()];
            assert!(!head.contains(" width="), "{name}: it scales");
            for forbidden in [
                "style=", "<style", "#", "rgb(", "NaN", "inf", "<script", "font-",
            ] {
                assert!(!svg.contains(forbidden), "{name} holds {forbidden}: {svg}");
            }
            assert!(!svg.contains("backdrop"), "{name}");
        }
    }
}

#[test]
fn ids_on_a_page_with_every_chart_in_both_sizes_are_unique() {
    let page: String = gallery()
        .iter()
        .map(|(name, chart)| chart.both(name))
        .collect();
    let ids = attributes(&page, "id");
    let distinct: std::collections::HashSet<_> = ids.iter().collect();
    assert_eq!(ids.len(), distinct.len());
    assert_eq!(ids.len(), gallery().len() * 4);
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    for ((name, a), (_, b)) in gallery().into_iter().zip(gallery()) {
        assert_eq!(a.both(name), b.both(name));
    }
}

#[test]
fn every_table_is_rectangular_and_has_a_caption() {
    for (name, chart) in gallery() {
        let table = chart.table();
        assert!(!table.caption.is_empty(), "{name}");
        for row in &table.rows {
            assert_eq!(row.len(), table.columns.len(), "{name}: {row:?}");
        }
    }
}

#[test]
fn a_higher_efficiency_is_drawn_higher_and_a_larger_load_further_right() {
    for axis in LoadAxis::ALL {
        let mut e = two_runs();
        e.runs.truncate(1);
        let svg = LoadChart::efficiency("u", &e, axis).svg(Size::Wide, "p");
        let drawn = polyline(&svg, "c-line c-s1");
        assert_eq!(drawn.len(), 5);
        assert!(drawn.windows(2).all(|w| w[0].0 < w[1].0), "{axis:?}");
        let measured: Vec<f64> = e.runs[0]
            .points
            .iter()
            .filter_map(|p| p.efficiency)
            .collect();
        for i in 0..5 {
            for j in 0..5 {
                if measured[i] > measured[j] + 0.002 {
                    assert!(drawn[i].1 < drawn[j].1, "{axis:?}: {measured:?} {drawn:?}");
                }
            }
        }
    }
}

#[test]
fn a_limit_stands_at_the_height_of_a_point_of_the_same_value() {
    let mut e = two_runs();
    e.runs.truncate(1);
    e.runs[0].loss_model = None;
    let limit = e.runs[0].points[3].efficiency.unwrap();
    let svg = LoadChart::efficiency("u", &e, LoadAxis::WattsLinear)
        .with_limits(vec![LimitLine::new("Level VI", limit)])
        .svg(Size::Wide, "p");
    let line = polyline(&svg, "c-line c-s1");
    let drawn = polyline(&svg, "c-limit");
    assert_eq!(drawn[0].1, line[3].1);
    assert_eq!(drawn[0].1, drawn[1].1);
}

#[test]
fn a_limit_for_a_rating_runs_from_a_quarter_of_it_to_its_full_load() {
    let mut e = two_runs();
    e.runs.truncate(1);
    for axis in LoadAxis::ALL {
        let svg = LoadChart::efficiency("u", &e, axis)
            .with_limits(vec![LimitLine::at("Level VI", 0.9, 100.0)])
            .svg(Size::Wide, "p");
        let line = polyline(&svg, "c-line c-s1");
        let drawn = polyline(&svg, "c-limit");
        // The run is rated 100 W: its second point is 25 %, its last one 100 %.
        assert_eq!((drawn[0].0, drawn[1].0), (line[1].0, line[4].0), "{axis:?}");
        assert!(svg.contains("90.0 % at 100 W"), "{svg}");
    }
}

#[test]
fn the_model_curve_passes_through_points_that_follow_the_model() {
    let mut e = two_runs();
    e.runs.truncate(1);
    let svg = LoadChart::efficiency("u", &e, LoadAxis::WattsLog).svg(Size::Wide, "p");
    let (points, curve) = (
        polyline(&svg, "c-line c-s1"),
        polyline(&svg, "c-model c-s1"),
    );
    for (x, y) in points {
        let after = curve
            .iter()
            .position(|c| c.0 >= x)
            .expect("the curve reaches the point");
        let (a, b) = (curve[after.saturating_sub(1)], curve[after]);
        let low = a.1.min(b.1) - 2.0;
        let high = a.1.max(b.1) + 2.0;
        assert!(
            (low..=high).contains(&y),
            "{y} outside {low}..{high} at {x}"
        );
    }
}

#[test]
fn a_point_not_measured_is_a_gap_and_never_a_zero() {
    let mut e = two_runs();
    e.runs.truncate(1);
    let whole = LoadChart::efficiency("u", &e, LoadAxis::WattsLog);
    e.runs[0].points[2].efficiency = None;
    let gap = LoadChart::efficiency("u", &e, LoadAxis::WattsLog);
    let lines = |c: &LoadChart| {
        c.svg(Size::Wide, "p")
            .matches("<polyline class=\"c-line")
            .count()
    };
    let marks = |c: &LoadChart| {
        c.svg(Size::Wide, "p")
            .matches("<circle class=\"c-mark")
            .count()
    };
    assert_eq!((lines(&whole), lines(&gap)), (1, 2));
    assert_eq!(marks(&whole), marks(&gap) + 1);
    assert_eq!(gap.table().rows[2][3], "not measured");
    // A wild number is no measurement either.
    e.runs[0].points[2].efficiency = Some(f64::NAN);
    let wild = LoadChart::efficiency("u", &e, LoadAxis::WattsLog);
    assert_eq!(wild.svg(Size::Wide, "p"), gap.svg(Size::Wide, "p"));
}

#[test]
fn an_unknown_uncertainty_draws_no_bar_and_claims_none_in_words() {
    let mut e = two_runs();
    e.runs.truncate(1);
    for p in &mut e.runs[0].points {
        p.efficiency_u = None;
    }
    let chart = LoadChart::efficiency("u", &e, LoadAxis::WattsLog);
    assert!(!chart.svg(Size::Wide, "p").contains("c-error"));
    assert!(chart.table().rows.iter().all(|r| !r[3].contains('±')));
    let with = LoadChart::efficiency("u", &two_runs(), LoadAxis::WattsLog);
    assert!(with.svg(Size::Wide, "p").contains("c-error"));
    assert!(with.table().rows[0][3].ends_with("± 0.28 %"));
}

#[test]
fn hovering_a_point_tells_run_load_and_value_with_uncertainty() {
    let svg = LoadChart::efficiency("u", &two_runs(), LoadAxis::WattsLog).svg(Size::Wide, "p");
    let table = LoadChart::efficiency("u", &two_runs(), LoadAxis::WattsLog).table();
    let row = &table.rows[4];
    assert!(
        svg.contains(&format!(
            "<title>{}: {}, {}</title>",
            row[0], row[2], row[3]
        )),
        "{svg}"
    );
}

#[test]
fn names_from_users_cannot_leave_their_place_in_the_markup() {
    let evil = "\"><script>alert(1)</script>&<b x='y";
    let mut e = two_runs();
    e.runs[0].name = evil.into();
    let mut class = rows(2);
    class[0].maker = evil.into();
    let charts: Vec<Box<dyn Chart>> = vec![
        Box::new(
            LoadChart::efficiency(evil, &e, LoadAxis::WattsLog)
                .with_limits(vec![LimitLine::new(evil, 0.9)]),
        ),
        Box::new(ClassOverview::of_rows(
            evil,
            &class,
            Some("u0"),
            LoadAxis::WattsLog,
        )),
        Box::new(NoLoadBars::of_unit(evil, &e).with_limits(vec![LimitLine::new(evil, 0.1)])),
    ];
    for chart in charts {
        let svg = chart.svg(Size::Wide, evil);
        assert!(!svg.contains("<script") && !svg.contains("<b "), "{svg}");
        parsed(&svg);
    }
}

#[test]
fn labels_at_line_ends_stay_apart_and_inside_the_drawing() {
    for (name, chart) in gallery() {
        for size in [Size::Wide, Size::Narrow] {
            let svg = chart.svg(size, name);
            let texts: Vec<(f64, f64, String, bool)> = svg
                .split("<text ")
                .skip(1)
                .map(|t| {
                    let number = |k| attributes(&format!(" {t}"), k)[0].parse::<f64>().unwrap();
                    let words = t
                        .split('>')
                        .nth(1)
                        .unwrap()
                        .trim_end_matches("</text")
                        .replace("&amp;", "&");
                    (number("x"), number("y"), words, t.contains("text-anchor"))
                })
                .collect();
            let beside: Vec<_> = texts.iter().filter(|t| !t.3).collect();
            for (i, a) in beside.iter().enumerate() {
                let end = a.0 + labels::text_width(&a.2, frame::FONT);
                assert!(
                    end <= size.width() + 0.5,
                    "{name} {size:?}: {} ends at {end}",
                    a.2
                );
                for b in beside
                    .iter()
                    .skip(i + 1)
                    .filter(|b| (a.0 - b.0).abs() < 1.0)
                {
                    assert!(
                        (a.1 - b.1).abs() > 13.0,
                        "{name} {size:?}: {} on {}",
                        a.2,
                        b.2
                    );
                }
            }
        }
    }
}

#[test]
fn a_class_of_thousands_stays_small_and_says_what_it_leaves_out() {
    let chart = ClassOverview::of_rows("c", &rows(1700), Some("u700"), LoadAxis::PercentOfRated);
    let svg = chart.svg(Size::Wide, "p");
    assert!(svg.len() < 60_000, "{} bytes", svg.len());
    assert!(svg.matches("<path class=\"c-muted\"").count() <= 50);
    assert!(svg.contains("400 of 1\u{202f}699 units"), "{}", &svg[..600]);
    assert!(svg.contains("In front: Larkfield LF-700"));
    assert_eq!(chart.table().rows.len(), 401);
    assert!(chart.table().caption.contains("400 of 1\u{202f}699"));
}

#[test]
fn a_class_of_one_names_its_line_and_an_empty_one_says_so() {
    let one = ClassOverview::of_rows("c", &rows(1), None, LoadAxis::WattsLog);
    assert!(one.svg(Size::Wide, "p").contains(">Larkfield LF-0</text>"));
    let none = ClassOverview::of_rows("c", &[], None, LoadAxis::WattsLog);
    assert!(
        none.svg(Size::Wide, "p")
            .contains("No unit of this class has measured efficiency")
    );
    assert!(none.svg(Size::Wide, "p").contains("<title"));
}

#[test]
fn a_bar_shows_the_uncertainty_by_its_own_coverage_factor() {
    let mut e = two_runs();
    let idle = e.runs[0].no_load.as_mut().unwrap();
    *idle = NoLoadResult {
        power_w: 0.1,
        power_u: Some(0.002),
        method: "sampling".into(),
        // A short log: Student's k is 3.
        expanded_uncertainty_w: Some(0.006),
        log: Some(no_load_log(1_800.0, 900, settling)),
    };
    let bars = NoLoadBars::of_unit("u", &e).bars;
    assert!((bars[0].expanded_w.unwrap() - 0.006).abs() < 1e-12);
    // A reading keeps k = 2.
    assert!((bars[1].expanded_w.unwrap() - 0.004).abs() < 1e-12);
}

#[test]
fn bars_are_as_long_as_their_values_and_missing_ones_are_words() {
    let mut e = two_runs();
    e.runs[0].no_load.as_mut().unwrap().power_w = 0.100;
    e.runs[1].no_load.as_mut().unwrap().power_w = 0.050;
    let svg = NoLoadBars::of_unit("u", &e).svg(Size::Wide, "p");
    let widths: Vec<f64> = svg
        .split("<rect class=\"c-bar\"")
        .skip(1)
        .map(|r| attributes(r, "width")[0].parse().unwrap())
        .collect();
    assert!((widths[0] / widths[1] - 2.0).abs() < 0.02, "{widths:?}");
    e.runs[1].no_load = None;
    let svg = NoLoadBars::of_unit("u", &e).svg(Size::Wide, "p");
    assert_eq!(svg.matches("<rect class=\"c-bar\"").count(), 1);
    assert!(svg.contains(">not measured</text>"));
}

#[test]
fn a_narrow_drawing_grows_rather_than_cut_the_names_that_tell_its_lines_apart() {
    let many = gallery()
        .into_iter()
        .find(|(name, _)| *name == "efficiency-many")
        .unwrap()
        .1;
    let svg = many.svg(Size::Narrow, "p");
    for volts in ["on 115 V</text>", "on 230 V</text>"] {
        assert_eq!(svg.matches(volts).count(), 4, "{svg}");
    }
    assert!(!svg.contains('…'), "{svg}");
}

#[test]
fn limits_at_one_value_share_a_line_that_names_them_all() {
    let lines = merged(&[
        LimitLine::new("Level VI", 0.88),
        LimitLine::new("Tier 2", 0.89),
        LimitLine::new("EU", 0.88),
        LimitLine::new("EU", 0.88),
        LimitLine::new("unknown", f64::NAN),
    ]);
    let told: Vec<_> = lines.iter().map(|l| (l.label.as_str(), l.value)).collect();
    assert_eq!(told, vec![("Level VI, EU", 0.88), ("Tier 2", 0.89)]);
}

/// Places of the first path of a class.
fn path(svg: &str, class: &str) -> Vec<(f64, f64)> {
    let at = svg
        .find(&format!("<path class=\"{class}\""))
        .unwrap_or_else(|| panic!("no {class} is drawn"));
    attributes(&svg[at..], "d")[0]
        .split(['M', 'L', 'Z'])
        .filter_map(|place| place.split_once(' '))
        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
        .collect()
}

/// Height of a path of a class that is level.
fn height(svg: &str, class: &str) -> f64 {
    let places = path(svg, class);
    assert!(places.iter().all(|p| p.1 == places[0].1), "{places:?}");
    places[0].1
}

#[test]
fn a_power_at_its_limit_is_drawn_on_the_limit() {
    let mut log = no_load_log(1_800.0, 900, |_| 0.075);
    for cells in [
        &mut log.trace.min_w,
        &mut log.trace.max_w,
        &mut log.trace.mean_w,
    ] {
        cells.fill(Some(0.075));
    }
    let svg = no_load_trace(log).svg(Size::Wide, "t");
    let limit = height(&svg, "c-limit");
    assert_eq!(height(&svg, "c-line c-fine c-s1"), limit);
    assert_eq!(height(&svg, "c-line c-s2"), limit);
}

#[test]
fn a_limit_far_above_the_trace_is_named_at_the_edge_and_does_not_flatten_it() {
    let chart = no_load_trace(no_load_log(1_800.0, 900, |_| 0.070));
    let svg = chart.svg(Size::Wide, "t");
    assert!(svg.contains("↑ Level"), "{svg}");
    assert!(!svg.contains("↑ CoC"), "{svg}");
    // One limit's line across, and its sign beside each of the two names.
    assert_eq!(svg.matches("<path class=\"c-limit\"").count(), 3);
}

#[test]
fn windows_are_marked_against_the_limit_nearest_to_the_figure_alone() {
    // Just below 210 mW and far above 75 mW, which every window is above.
    let log = no_load_log(1_800.0, 900, |t| if t < 900.0 { 0.213 } else { 0.205 });
    let chart = no_load_trace(log);
    let svg = chart.svg(Size::Wide, "t");
    assert_eq!(path(&svg, "c-window c-above").len(), 2 * 3);
    assert!(svg.contains("↓ CoC"), "{svg}");
    let windows = chart.table().rows.into_iter();
    let named = windows.filter(|row| row[0].starts_with("Window") && row[4].contains("CoC"));
    assert_eq!(named.count(), 6);
}

#[test]
fn one_sample_above_all_others_survives_in_a_log_of_many_hours() {
    let mut log = no_load_log(100_000.0, 100_000, |_| 0.070);
    let quiet = no_load_trace(log.clone()).svg(Size::Wide, "t");
    log.trace.max_w[61_803] = Some(0.140);
    let svg = no_load_trace(log).svg(Size::Wide, "t");
    let top = |svg: &str| {
        path(svg, "c-band c-s1")
            .iter()
            .map(|p| p.1)
            .fold(f64::MAX, f64::min)
    };
    let peaks = |svg: &str| {
        let band = path(svg, "c-band c-s1");
        band.iter().filter(|p| p.1 < top(svg) + 1.0).count()
    };
    assert!(peaks(&quiet) > 100);
    assert_eq!(peaks(&svg), 1);
    assert!(svg.len() < 60_000, "{} bytes", svg.len());
}

#[test]
fn a_burst_beyond_the_paper_is_cut_and_said() {
    let svg = no_load_trace(no_load_log(1_800.0, 900, settling)).svg(Size::Wide, "t");
    assert!(svg.contains(">up to 4.29 W</text>"), "{svg}");
    let quiet = no_load_trace(no_load_log(1_800.0, 900, |_| 0.07)).svg(Size::Wide, "t");
    assert!(!quiet.contains(">up to "), "{quiet}");
}

#[test]
fn a_stretch_without_samples_is_a_gap_in_the_trace() {
    let log = no_load_log(1_800.0, 300, |_| 0.07);
    let pieces = |log: NoLoadLog| {
        let svg = no_load_trace(log).svg(Size::Wide, "t");
        (
            svg.matches("<path class=\"c-line c-fine c-s1\"").count(),
            svg.matches("<path class=\"c-band").count(),
        )
    };
    assert_eq!(pieces(log.clone()), (1, 1));
    let mut broken = log;
    for i in 100..140 {
        broken.trace.mean_w[i] = None;
    }
    assert_eq!(pieces(broken), (2, 2));
}

#[test]
fn windows_above_a_limit_are_thick_and_flagged_and_named_in_the_table() {
    let mut log = no_load_log(1_800.0, 900, |t| if t < 1_200.0 { 0.07 } else { 0.08 });
    log.settled_at_s = None;
    let chart = no_load_trace(log);
    let svg = chart.svg(Size::Wide, "t");
    assert_eq!(path(&svg, "c-window").len(), 2 * 4);
    assert_eq!(path(&svg, "c-window c-above").len(), 2 * 2);
    assert_eq!(svg.matches("<path class=\"c-flag\"").count(), 2);
    assert!(svg.contains("<title>25 min to 30 min: mean 80.0 mW, above CoC v5 Tier 2</title>"));
    assert!(svg.contains("never settled"));
    let table = chart.table();
    let windows: Vec<&str> = table
        .rows
        .iter()
        .filter(|row| row[0].starts_with("Window"))
        .map(|row| row[4].as_str())
        .collect();
    let tier = "CoC v5 Tier 2";
    assert_eq!(windows, ["none", "none", "none", "none", tier, tier]);
}

#[test]
fn what_was_discarded_is_hatched_up_to_where_the_used_part_begins() {
    let svg = no_load_trace(no_load_log(1_800.0, 900, |_| 0.07)).svg(Size::Wide, "t");
    let unused = path(&svg, "c-unused");
    let axis = polyline(&svg, "c-axis");
    // plotters' own marks are drawn at twice the size.
    let (left, right) = (axis[0].0 / 2.0, axis[1].0 / 2.0);
    let edge = unused.iter().map(|p| p.0).fold(0.0, f64::max);
    assert!((edge - (left + (right - left) / 3.0)).abs() < 1.0, "{edge}");
    assert!(svg.contains(">not used</text>") && svg.contains(">used for the figure</text>"));
    let mut whole = no_load_log(1_800.0, 900, |_| 0.07);
    whole.used_from_s = 0.0;
    let svg = no_load_trace(whole).svg(Size::Wide, "t");
    assert!(!svg.contains("c-unused") && !svg.contains("c-hatch"));
}

#[test]
fn a_typed_reading_has_no_trace() {
    let run = run("r", 20.0, 100.0, (0.4, 0.6, 0.09));
    assert_eq!(
        NoLoadTrace::of_run("x", &run, |id| Some(id.to_owned())),
        None
    );
}

mod palette {
    //! The style sheet's colours, read from the file that browsers get.

    const CSS: &str = include_str!("../../static/chart.css");

    fn luminance(hex: &str) -> f64 {
        let channel = |at: usize| {
            let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    /// Contrast ratio (WCAG 2.2, definition of contrast ratio).
    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// CIE lightness L*.
    fn lightness(hex: &str) -> f64 {
        116.0 * luminance(hex).cbrt() - 16.0
    }

    /// Blocks of custom properties: light, dark by the system, dark by choice.
    fn blocks() -> Vec<std::collections::BTreeMap<&'static str, &'static str>> {
        CSS.split('}')
            .filter(|b| b.contains("--chart-text:"))
            .map(|b| {
                b.split(['{', ';'])
                    .filter_map(|d| d.trim().split_once(": "))
                    .filter(|(k, _)| k.starts_with("--chart-"))
                    .collect()
            })
            .collect()
    }

    #[test]
    fn lines_and_text_stand_out_from_the_paper_in_light_and_dark() {
        let blocks = blocks();
        assert_eq!(blocks.len(), 3);
        assert_eq!(blocks[1], blocks[2], "dark is dark, chosen or not");
        for (block, paper) in blocks.iter().zip(["#fbfaf7", "#16181d", "#16181d"]) {
            assert_eq!(block["--chart-paper"], paper);
            for (name, colour) in block {
                let least = match *name {
                    "--chart-paper" | "--chart-grid" => continue,
                    "--chart-text" | "--chart-faint" => 4.5,
                    _ => 3.0,
                };
                let found = contrast(colour, paper);
                assert!(found >= least, "{name} {colour} on {paper}: {found:.2}");
            }
        }
    }

    #[test]
    fn series_differ_in_lightness_for_those_who_see_no_hue() {
        for block in blocks() {
            let mut steps: Vec<f64> = (1..=6)
                .map(|n| lightness(block[format!("--chart-{n}").as_str()]))
                .collect();
            steps.sort_by(f64::total_cmp);
            assert!(steps.windows(2).all(|w| w[1] - w[0] >= 5.0), "{steps:?}");
        }
    }

    #[test]
    fn every_class_that_a_drawing_uses_is_painted() {
        for (name, chart) in super::gallery() {
            use super::Size;
            for size in [Size::Wide, Size::Narrow] {
                for classes in super::attributes(&chart.svg(size, name), "class") {
                    for class in classes.split(' ') {
                        // The first series is drawn solid: no rule is needed for its dash.
                        assert!(
                            class == "c-d1" || CSS.contains(&format!(".{class}")),
                            "{class} of {name} has no rule"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn the_lines_behind_a_unit_do_not_change_with_the_ranks() {
    let rows = rows(300);
    let ranked: Vec<&Row> = rows.iter().collect();
    let other: Vec<&Row> = rows.iter().rev().collect();
    let shown = ClassOverview::shown_behind_a_unit(&ranked);
    assert_eq!(shown.len(), 60);
    assert_eq!(shown, ClassOverview::shown_behind_a_unit(&other));
    // Whoever is in front is drawn, in the sample or not.
    for row in rows.iter().step_by(7) {
        let chart = ClassOverview::behind_a_unit("c", &shown, 300, row, LoadAxis::WattsLog);
        let front = chart.units.iter().filter(|unit| unit.highlighted).count();
        assert_eq!(front, 1, "{}", row.slug);
        let svg = chart.svg(Size::Wide, "c");
        assert!(svg.contains("of the 300 units of the class"), "{svg}");
        assert!(svg.contains(&format!("In front: {}", row.name())));
    }
    let few = &ranked[..60];
    assert_eq!(ClassOverview::shown_behind_a_unit(few), few);
    let chart = ClassOverview::behind_a_unit("c", few, few.len(), few[3], LoadAxis::WattsLog);
    let svg = chart.svg(Size::Wide, "c");
    assert!(svg.contains("Thin lines: 59 units."));
}
