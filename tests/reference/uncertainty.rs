//! `cases/checks_uncertainty.csv`, E1 to E3: efficiency, average and no-load with their
//! uncertainties (calculated; E1 confirmed there with the Python `uncertainties` package and a
//! Monte Carlo of 2·10⁶ draws).

use brickbook::bench::decode::decode_value;
use brickbook::evaluate::{Evaluation, Method, evaluate};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Expected value and tolerance by case and quantity.
fn table() -> BTreeMap<(String, String), (f64, f64)> {
    csv::Reader::from_reader(include_str!("cases/checks_uncertainty.csv").as_bytes())
        .records()
        .map(|row| {
            let row = row.unwrap();
            let number = |i: usize| row[i].parse::<f64>().unwrap();
            (
                (row[0].to_owned(), row[1].to_owned()),
                (number(2), number(3)),
            )
        })
        .collect()
}

fn instruments() -> Value {
    json!([
        {"quantity": "input_power_w", "reading_percent": 0.1, "range_percent": 0.05, "range": 150},
        {"quantity": "no_load_power_w", "reading_percent": 0.1, "range_percent": 0.1, "range": 3},
        {"quantity": "output_voltage_v", "reading_percent": 0.025, "range_percent": 0.005, "range": 100},
        {"quantity": "output_current_a", "reading_percent": 0.1, "range_percent": 0.02, "range": 10}])
}

fn evaluation(points: &[(f64, f64, f64)]) -> Evaluation {
    let points: Vec<Value> = points
        .iter()
        .map(|(percent, amps, input)| {
            json!({"load_percent": percent, "input": {"power_w": input},
                   "outputs": [{"port": "C1", "voltage_v": 20.010, "current_a": amps}]})
        })
        .collect();
    let record = decode_value(json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "E", "nameplate": {"output_power_w": 65}, "ports": [{"label": "C1"}]},
        "instruments": instruments(),
        "runs": [{"name": "r", "line": {"voltage_v": 115, "frequency_hz": 60},
            "rated_outputs": [{"port": "C1", "voltage_v": 20, "current_a": 3.25}],
            "points": points, "no_load": {"power_w": 0.0652}}]
    }))
    .unwrap();
    evaluate(&record, &Method::standard())
}

#[test]
fn e1_one_point_has_the_efficiency_and_uncertainty_of_the_worked_example() {
    let evaluation = evaluation(&[(100.0, 3.2480, 71.85)]);
    let point = &evaluation.runs[0].points[0];
    let eta = point.efficiency.unwrap();
    let u = point.efficiency_u.unwrap();
    let (u_out, u_in) = (point.output_power_u.unwrap(), point.input_power_u.unwrap());
    let table = table();
    let mut checked = 0;
    let mut check = |case: &str, quantity: &str, found: f64| {
        let (expected, tolerance) = table[&(case.to_owned(), quantity.to_owned())];
        assert!(
            (found - expected).abs() <= tolerance,
            "{case} {quantity}: {found}, expected {expected}"
        );
        checked += 1;
    };
    check(
        "E1 efficiency 65 W",
        "P_out W",
        point.output_power_w.unwrap(),
    );
    check("E1 efficiency 65 W", "efficiency", eta);
    check("E1 efficiency 65 W", "u(efficiency)", u);
    check("E1 efficiency 65 W", "U k=2", 2.0 * u);
    // Shares of the variance: what the input meter, and the load's two readings, contribute.
    check(
        "E1 share of variance P_in",
        "fraction",
        (eta * u_in / 71.85 / u).powi(2),
    );
    let out_share = (u_out / 71.85 / u).powi(2);
    let (v_share, i_share) = (
        table[&(
            "E1 share of variance V_out".to_owned(),
            "fraction".to_owned(),
        )],
        table[&(
            "E1 share of variance I_out".to_owned(),
            "fraction".to_owned(),
        )],
    );
    assert!((out_share - v_share.0 - i_share.0).abs() <= v_share.1 + i_share.1);
    check("E1 loss", "P_loss W", point.loss_w.unwrap());
    check("E1 loss", "U k=2 W", 2.0 * point.loss_u.unwrap());
    assert_eq!(checked, 7);
}

/// The file's Monte Carlo half-width of E1, drawn again here: rectangular errors of the stated
/// half-widths, 95 % of the efficiencies lie within it.
#[test]
fn e1_a_monte_carlo_of_the_instrument_errors_gives_the_half_width_of_the_case_file() {
    use rand::{RngExt, SeedableRng};
    let mut rng = rand::rngs::SmallRng::seed_from_u64(1);
    let half = [
        0.00025 * 20.010 + 0.005,
        0.001 * 3.248 + 0.002,
        0.001 * 71.85 + 0.075,
    ];
    let nominal: f64 = 20.010 * 3.248 / 71.85;
    let mut off: Vec<f64> = (0..200_000)
        .map(|_| {
            let [v, i, p]: [f64; 3] = half.map(|a| rng.random_range(-a..=a));
            ((20.010 + v) * (3.248 + i) / (71.85 + p) - nominal).abs()
        })
        .collect();
    off.sort_by(f64::total_cmp);
    let half_width = off[off.len() * 95 / 100];
    let (expected, tolerance) = table()[&(
        "E1 efficiency 65 W".to_owned(),
        "Monte Carlo 95 % half-width".to_owned(),
    )];
    assert!((half_width - expected).abs() <= tolerance, "{half_width}");
}

#[test]
fn e2_the_four_point_average_is_fully_correlated_by_default() {
    let amps = |power: f64| power / 20.010;
    let evaluation = evaluation(&[
        (25.0, amps(16.248), 18.100),
        (50.0, amps(32.496), 35.55),
        (75.0, amps(48.744), 53.42),
        (100.0, amps(64.992), 71.85),
    ]);
    let run = &evaluation.runs[0];
    let table = table();
    let expect = |quantity: &str| table[&("E2 four-point average".to_owned(), quantity.to_owned())];
    let (average, tolerance) = expect("average efficiency");
    assert!((run.average_efficiency.unwrap() - average).abs() <= tolerance);
    let (u, tolerance) = expect("u fully correlated");
    assert!((run.average_efficiency_u.unwrap() - u).abs() <= tolerance);
    // the file's other figure, from the same points taken as independent
    let (independent, tolerance) = expect("u uncorrelated");
    let squares: f64 = run
        .points
        .iter()
        .map(|p| p.efficiency_u.unwrap().powi(2))
        .sum();
    assert!((squares.sqrt() / 4.0 - independent).abs() <= tolerance);
}

#[test]
fn e3_no_load_uncertainty_is_driven_by_the_range() {
    let evaluation = evaluation(&[(100.0, 3.2480, 71.85)]);
    let case = "E3 no-load 0.0652 W, 0.1% rdg + 0.1% of 3 W range";
    let (expected, tolerance) = table()[&(case.to_owned(), "U k=2 W".to_owned())];
    let u = evaluation.runs[0]
        .no_load
        .as_ref()
        .unwrap()
        .power_u
        .unwrap();
    assert!((2.0 * u - expected).abs() <= tolerance);
}
