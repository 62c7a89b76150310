//! What holds for every chart, and how the drawings look in a page.

use super::*;
use crate::bench::record::Category;
use crate::evaluate::evaluation::{
    ClassRef, LossModel, NoLoadResult, PointResult, RunResult, Score, ScoreTerm,
};
use crate::ranking::Row;

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
        }),
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

fn gallery() -> Vec<(&'static str, Box<dyn Chart>)> {
    let e = two_runs();
    let limits = || {
        vec![
            LimitLine::new("Level VI", 0.880),
            LimitLine::new("EU 2019/1782", 0.880),
            LimitLine::new("CoC v5 Tier 2", 0.890),
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
            "score",
            Box::new(ScoreTerms::new("Larkfield LF-100Q", &e.score)),
        ),
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
            preview_png(&card),
        )
        .unwrap();
    }
}
