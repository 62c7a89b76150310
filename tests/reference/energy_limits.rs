//! `cases/energy_checks.csv`: 82 limits, 14 of them published worked figures (the `source` column).

use crate::record_builder::Bench;
use brickbook::evaluate::evaluation::{Requirement, Verdict};
use brickbook::evaluate::{Method, evaluate};
use brickbook::standards::Standards;
use serde::Deserialize;

#[derive(Deserialize)]
struct Check {
    check_id: String,
    regime: String,
    category: String,
    nameplate_w: f64,
    expected_min_avg_efficiency: f64,
    expected_no_load_max_w: f64,
    expected_ten_percent_efficiency: Option<f64>,
    source: String,
}

fn checks() -> Vec<Check> {
    csv::Reader::from_reader(include_str!("cases/energy_checks.csv").as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("the case file is well-formed")
}

/// The cases print six decimals.
const PRINTED: f64 = 0.6e-6;

#[test]
fn every_limit_of_the_case_file_is_the_one_a_verdict_uses() {
    let method = Method::standard();
    let checks = checks();
    assert_eq!(checks.len(), 82, "the whole file is read");
    let mut through_evaluate = 0;
    for check in &checks {
        assert!(
            !check.source.is_empty(),
            "{}: a case without source",
            check.check_id
        );
        let regime = method
            .standards
            .regime(&check.regime)
            .expect(&check.check_id);
        // Our record describes adapters with DC output; AC-AC rows are reached by look-up only.
        let ours = regime
            .ac_dc_category_map
            .iter()
            .find(|(_, theirs)| **theirs == check.category)
            .map(|(ours, _)| ours.clone());
        let Some(ours) = ours else {
            look_up(&method.standards, check);
            continue;
        };
        let (voltage_v, category) = match ours.as_str() {
            "low" => (5.0, None),
            // Up to 20 A the higher voltage; above it the record format's bound on current asks for more.
            "basic" => (
                if check.nameplate_w > 240.0 {
                    48.0
                } else {
                    12.0
                },
                None,
            ),
            _ => (20.0, Some("multiple")),
        };
        let record = Bench {
            nameplate_w: check.nameplate_w,
            voltage_v,
            category,
            line: (regime.line_voltage_v, regime.line_frequency_hz),
            ..Bench::default()
        }
        .record();
        let evaluation = evaluate(&record, &method);
        let verdict = |requirement| -> Option<&Verdict> {
            evaluation
                .verdicts
                .iter()
                .find(|v| v.regime == check.regime && v.requirement == requirement)
        };
        let limit = |requirement| {
            verdict(requirement)
                .and_then(|v| v.limit)
                .expect(&check.check_id)
        };
        let average = verdict(Requirement::AverageEfficiency).unwrap();
        assert_eq!(
            average.category.as_deref(),
            Some(check.category.as_str()),
            "{}",
            check.check_id
        );
        assert!(average.citation.as_ref().is_some_and(|c| !c.is_empty()));
        close(
            limit(Requirement::AverageEfficiency),
            check.expected_min_avg_efficiency,
            &check.check_id,
        );
        close(
            limit(Requirement::NoLoad),
            check.expected_no_load_max_w,
            &check.check_id,
        );
        match check.expected_ten_percent_efficiency {
            Some(expected) => close(
                limit(Requirement::TenPercentEfficiency),
                expected,
                &check.check_id,
            ),
            None => assert!(
                verdict(Requirement::TenPercentEfficiency).is_none(),
                "{}",
                check.check_id
            ),
        }
        through_evaluate += 1;
    }
    assert_eq!(
        through_evaluate, 79,
        "all but the three AC-AC rows go through evaluate"
    );
}

fn look_up(standards: &Standards, check: &Check) {
    let row = standards
        .regime(&check.regime)
        .unwrap()
        .row(&check.category, check.nameplate_w)
        .expect(&check.check_id);
    close(
        row.avg_efficiency.at(check.nameplate_w),
        check.expected_min_avg_efficiency,
        &check.check_id,
    );
    close(
        row.no_load_w.unwrap(),
        check.expected_no_load_max_w,
        &check.check_id,
    );
}

fn close(found: f64, expected: f64, id: &str) {
    assert!(
        (found - expected).abs() <= PRINTED,
        "{id}: {found}, expected {expected}"
    );
}
