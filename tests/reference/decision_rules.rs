//! `cases/checks_decision_rules.csv`: the three decision rules of ILAC-G8:09/2019 (4.2), calculated
//! examples with the expanded uncertainty given.

use crate::record_builder::Bench;
use brickbook::evaluate::evaluation::{Outcome, Requirement};
use brickbook::evaluate::{Method, evaluate};
use serde::Deserialize;
use serde_json::json;

#[derive(Deserialize)]
struct Check {
    limit_kind: String,
    limit: f64,
    #[serde(rename = "U_k2")]
    expanded_u: f64,
    measured: f64,
    simple_acceptance: String,
    binary_guard_w_eq_u: String,
    non_binary_guard_w_eq_u: String,
}

fn outcome(words: &str) -> Outcome {
    Outcome::from_id(&words.replace(' ', "-")).expect(words)
}

#[test]
fn every_row_of_the_decision_table_is_reached_through_evaluate() {
    let method = Method::standard();
    let text = include_str!("cases/checks_decision_rules.csv").replace("_eq_U", "_eq_u");
    let checks: Vec<Check> = csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(checks.len(), 14, "the whole file is read");
    for check in checks {
        // Half-width a = u √3 = U √3 / 2, given as a fixed term so that U comes out exactly.
        let half_width = check.expanded_u * 3f64.sqrt() / 2.0;
        let (record, regime, requirement) = if check.limit_kind == "min" {
            // 60 W above 6 V: CoC v5 Tier 1 asks 0.890. An input meter with reading error only
            // gives every point the same relative uncertainty U/η, and so the average.
            let percent = half_width / check.measured * 100.0;
            let exact = |quantity: &str| json!({"quantity": quantity, "fixed": 0});
            let bench = Bench {
                nameplate_w: 60.0,
                line: (230.0, 50.0),
                efficiency: check.measured,
                instruments: json!([{"quantity": "input_power_w", "reading_percent": percent},
                    exact("output_voltage_v"), exact("output_current_a")]),
                ..Bench::default()
            };
            (
                bench.record(),
                "eu_coc_v5_tier1",
                Requirement::AverageEfficiency,
            )
        } else {
            // 20 W: level VI allows 0.100 W at no load.
            let bench = Bench {
                nameplate_w: 20.0,
                no_load_w: check.measured,
                instruments: json!([{"quantity": "no_load_power_w", "fixed": half_width}]),
                ..Bench::default()
            };
            (bench.record(), "us_doe_level_vi", Requirement::NoLoad)
        };
        let evaluation = evaluate(&record, &method);
        let verdict = evaluation
            .verdicts
            .iter()
            .find(|v| v.regime == regime && v.requirement == requirement)
            .unwrap();
        let at = format!(
            "{} {} U {}",
            check.limit_kind, check.measured, check.expanded_u
        );
        assert_eq!(verdict.limit, Some(check.limit), "{at}");
        assert!(
            (verdict.measured.unwrap() - check.measured).abs() < 1e-12,
            "{at}"
        );
        assert!(
            (verdict.expanded_uncertainty.unwrap() - check.expanded_u).abs() < 1e-12,
            "{at}"
        );
        assert_eq!(
            verdict.simple_acceptance,
            Some(outcome(&check.simple_acceptance)),
            "{at}"
        );
        assert_eq!(
            verdict.guarded_acceptance,
            Some(outcome(&check.binary_guard_w_eq_u)),
            "{at}"
        );
        assert_eq!(
            verdict.result,
            outcome(&check.non_binary_guard_w_eq_u),
            "{at}"
        );
    }
}
