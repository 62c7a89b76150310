//! A score worked by hand from the published formula (score version 1), step by step, for one
//! record whose figures are round.

use brickbook::bench::decode::decode_value;
use brickbook::evaluate::{Evaluation, Method, evaluate};
use serde_json::{Value, json};

/// 65 W, 20 V, one fixed output; two runs on 115 V (equal but for the no-load) and one on 230 V
/// that must not count.
fn evaluation() -> Evaluation {
    let points = |eta_ten: f64| -> Vec<Value> {
        [
            (100.0, 0.90, 0.9, 19.8),
            (75.0, 0.91, 0.9, 19.9),
            (50.0, 0.92, 0.9, 20.0),
            (25.0, 0.91, 0.8, 20.1),
            (10.0, eta_ten, 0.6, 20.2),
        ]
        .map(|(percent, eta, pf, volts)| {
            let power = 65.0 * percent / 100.0;
            json!({"load_percent": percent, "input": {"power_w": power / eta, "power_factor": pf},
                       "outputs": [{"port": "P", "voltage_v": volts, "current_a": power / volts}]})
        })
        .to_vec()
    };
    let run = |name: &str, volts: f64, hertz: f64, no_load: f64| {
        json!({"name": name, "line": {"voltage_v": volts, "frequency_hz": hertz},
            "rated_outputs": [{"port": "P", "voltage_v": 20, "current_a": 3.25}],
            "points": points(0.80), "no_load": {"power_w": no_load}})
    };
    let record = decode_value(json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "LF-65", "nameplate": {"output_power_w": 65},
            "ports": [{"label": "P", "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3.25}]}]},
        "runs": [run("a", 115.0, 60.0, 0.10), run("b", 120.0, 60.0, 0.06), run("c", 230.0, 50.0, 9.0)],
        "temperatures": [{"load_w": 30, "ambient_c": 25, "hot_spot_c": 90}, {"load_w": 65, "ambient_c": 23, "hot_spot_c": 62}]
    }))
    .unwrap();
    evaluate(&record, &Method::standard())
}

#[test]
fn the_score_is_what_a_reader_gets_with_a_pocket_calculator() {
    let score = evaluation().score;
    let term = |name: &str| score.terms.iter().find(|t| t.term == name).unwrap();
    let close = |found: Option<f64>, expected: f64, what: &str| {
        let found = found.unwrap_or_else(|| panic!("{what} is missing"));
        assert!(
            (found - expected).abs() < 5e-4,
            "{what}: {found}, expected {expected}"
        );
    };
    // Average (0.90 + 0.91 + 0.92 + 0.91) / 4 = 0.91: loss 0.09 against 1 - 0.88 = 0.12.
    // r = 0.75: 50 - 50 ln 0.75 / ln 2.5 = 50 + 50 x 0.287682 / 0.916291 = 65.698
    close(term("active-loss").points, 65.698, "active loss");
    // 1 - 0.80 = 0.20 against 1 - 0.79 = 0.21. r = 0.952381: 50 + 50 x 0.048790 / 0.916291 = 52.662
    close(term("light-load-loss").points, 52.662, "light-load loss");
    // 0.10 / 0.21 and 0.06 / 0.21: 50 + 50 x 0.741937 / 2.302585 = 66.111; 50 + 50 x 1.252763 / 2.302585 = 77.204
    close(term("no-load").points, (66.111 + 77.204) / 2.0, "no-load");
    // N/P: PF 0.9 -> 0.484322 (three times), 0.8 -> 0.75, 0.6 -> 1.333333; mean 0.707260.
    // r = 0.707260 / 0.484322 = 1.460309: 50 - 50 x 0.378648 / 1.386294 = 36.343
    close(term("line-current").points, 36.343, "line current");
    close(
        term("line-current").reference,
        0.484322,
        "line current reference",
    );
    // Largest deviation 1 % of 20 V: r = 0.2: 50 + 50 x 1.609438 / 1.386294 = 108.05, clamped to 100.
    close(term("delivery").points, 100.0, "delivery");
    // At the highest load recorded 62 - 23 = 39 K against 52 K: 50 + 50 x 0.287682 / 0.693147 = 70.752
    close(term("surface").points, 70.752, "surface");
    // 0.35 x 65.698 + 0.10 x 52.662 + 0.20 x 71.6575 + 0.20 x 36.343 + 0.10 x 100 + 0.05 x 70.752
    close(
        score.value,
        22.9943 + 5.2662 + 14.3315 + 7.2686 + 10.0 + 3.5376,
        "score",
    );
    assert_eq!((score.coverage, score.provisional), (1.0, false));
    assert_eq!(
        term("active-loss").runs.len(),
        2,
        "the 230 V run is not on the score's supply"
    );
}

#[test]
fn missing_terms_are_left_out_and_a_score_below_eighty_percent_coverage_is_provisional() {
    let record = |drop_ten: bool| {
        let loads: &[f64] = if drop_ten {
            &[100.0, 75.0, 50.0, 25.0]
        } else {
            &[100.0, 75.0, 50.0, 25.0, 10.0]
        };
        let points: Vec<Value> = loads
            .iter()
            .map(|percent| {
                let power = 65.0 * percent / 100.0;
                json!({"load_percent": percent, "input": {"power_w": power / 0.91, "power_factor": 0.9},
                       "outputs": [{"port": "P", "voltage_v": 20, "current_a": power / 20.0}]})
            })
            .collect();
        let record = decode_value(json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF-65", "nameplate": {"output_power_w": 65},
                "ports": [{"label": "P", "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3.25}]}]},
            "runs": [{"name": "a", "line": {"voltage_v": 115, "frequency_hz": 60},
                "rated_outputs": [{"port": "P", "voltage_v": 20, "current_a": 3.25}],
                "points": points, "no_load": {"power_w": 0.1}}]
        }))
        .unwrap();
        evaluate(&record, &Method::standard()).score
    };
    // Only `surface` (5) is missing.
    let complete = record(false);
    assert!((complete.coverage - 0.95).abs() < 1e-12 && !complete.provisional);
    // Without 10 % load `light-load-loss` (10) and `line-current` (20) go as well: 0.65.
    let short = record(true);
    assert!((short.coverage - 0.65).abs() < 1e-12 && short.provisional);
    // The weights of the rest are rescaled: active loss, no-load and delivery alone.
    let weighted: f64 = short
        .terms
        .iter()
        .filter_map(|t| Some(t.weight * t.points?))
        .sum();
    assert!((short.value.unwrap() - weighted / 65.0).abs() < 1e-9);
}

#[test]
fn an_output_that_could_not_be_held_gives_no_points_for_delivery() {
    let record = decode_value(json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "LF-65", "nameplate": {"output_power_w": 65},
            "ports": [{"label": "P", "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3.25}]}]},
        "runs": [{"name": "a", "line": {"voltage_v": 115, "frequency_hz": 60},
            "rated_outputs": [{"port": "P", "voltage_v": 20, "current_a": 3.25}],
            "points": [{"load_percent": 100, "input": {"power_w": 66}, "outputs": [{"port": "P", "voltage_v": 20, "current_a": 3.0}]}]}]
    }))
    .unwrap();
    let score = evaluate(&record, &Method::standard()).score;
    let delivery = score.terms.iter().find(|t| t.term == "delivery").unwrap();
    assert_eq!(delivery.points, Some(0.0));
    assert!(delivery.reason.as_ref().unwrap().contains("not held"));
}
