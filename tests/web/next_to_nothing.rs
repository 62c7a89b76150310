//! Units with readings that are next to nothing, on every page and in every download: what cannot
//! be computed is shown as unknown, never as a number that is none, and no page fails.

use crate::app::{TestApp, seed};
use axum::http::StatusCode;
use brickbook::bench::decode::decode_value;
use rand::{RngExt, SeedableRng, rngs::SmallRng};
use serde_json::{Value, json};

const TINY: [f64; 5] = [0.0, 5e-324, 3.7e-212, 1e-80, 1e-9];
const UNITS: usize = 12;

/// Every number of a document, as a place to write to.
fn numbers<'a>(value: &'a mut Value, found: &mut Vec<&'a mut Value>) {
    match value {
        Value::Number(_) => found.push(value),
        Value::Array(list) => list.iter_mut().for_each(|inner| numbers(inner, found)),
        Value::Object(fields) => fields
            .iter_mut()
            .for_each(|(_, inner)| numbers(inner, found)),
        _ => {}
    }
}

/// Records that are accepted, with some numbers next to nothing: a few anywhere, or all of one kind.
fn records() -> Vec<String> {
    let mut made = Vec::new();
    let plain: Value = serde_json::from_str(&seed("larkfield-lf-100q")).unwrap();
    for number in 0.. {
        if made.len() == UNITS {
            break;
        }
        let mut rng = SmallRng::seed_from_u64(number);
        let mut record = plain.clone();
        record["unit"]["model"] = json!(format!("T{number}"));
        record.as_object_mut().unwrap().remove("photos");
        match number {
            0 => record["unit"]["nameplate"]["output_power_w"] = 5e-324.into(),
            1 => record["unit"]["size_mm"] = json!([5e-324, 1e-80, 1e-80]),
            2 => {
                for run in record["runs"].as_array_mut().unwrap() {
                    for point in run["points"].as_array_mut().unwrap() {
                        for output in point["outputs"].as_array_mut().unwrap() {
                            output["current_a"] = 1e-80.into();
                        }
                    }
                }
            }
            3 => {
                for run in record["runs"].as_array_mut().unwrap() {
                    run["no_load"]["power_w"] = 5e-324.into();
                }
            }
            _ => {
                let mut found = Vec::new();
                numbers(&mut record, &mut found);
                for _ in 0..rng.random_range(1..8) {
                    let at = rng.random_range(0..found.len());
                    *found[at] = TINY[rng.random_range(0..TINY.len())].into();
                }
            }
        }
        if decode_value(record.clone()).is_ok() {
            made.push(record.to_string());
        }
    }
    made
}

#[tokio::test]
async fn every_page_of_units_with_next_to_nothing_shows_numbers_or_nothing() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let mut slugs = Vec::new();
    for record in records() {
        slugs.push(app.publish(&record).await.slug);
    }
    app.site.refresh().await.unwrap();
    let mut addresses: Vec<String> = [
        "/",
        "/?columns=trip-margin,touch-temperature",
        "/table.csv",
        "/table.json",
        "/at?w=5",
        "/at?w=0.0000001",
        "/at/table.csv?w=50",
        "/trade-offs",
        "/trade-offs?x=mass&y=score",
        "/use",
        "/use/phone-overnight?tariff=0.3&currency=eur",
        "/use/own/table.csv?load=10:2&load=0:4",
        "/class/w100",
        "/class/w100/chart.svg",
        "/class/w30",
        "/api/v1/ranking?per_page=200",
        "/sitemap.xml",
        "/feed.atom",
    ]
    .map(str::to_owned)
    .into();
    for (number, slug) in slugs.iter().enumerate() {
        for below in ["", "/chart.svg", "/badge.svg", "/evaluation.json"] {
            addresses.push(format!("/unit/{slug}{below}"));
        }
        addresses.push(format!("/de/unit/{slug}"));
        addresses.push(format!("/compare?unit={slug}&unit=larkfield-lf-100q"));
        // A report takes a second in an unoptimised build.
        if number < 4 {
            addresses.push(format!("/unit/{slug}/report.pdf"));
        }
    }
    let mut faults = Vec::new();
    for address in addresses {
        let mut answer = app.get(&address).await;
        // Some queries have a shorter form.
        if answer.status == StatusCode::SEE_OTHER {
            answer = app.get(answer.header("location")).await;
        }
        if answer.status != StatusCode::OK {
            faults.push(format!("{address}: {} {}", answer.status, answer.words()));
        } else if !answer.header("content-type").contains("pdf") {
            faults.extend(no_number(&answer.text()).map(|said| format!("{address}: {said}")));
        }
    }
    assert_eq!(faults, Vec::<String>::new());
}

/// What stands around a number that is none, if there is one.
fn no_number(text: &str) -> Option<String> {
    let none = text
        .split(|c: char| !c.is_alphanumeric())
        .find(|word| ["NaN", "inf", "Infinity", "infinity"].contains(word))?;
    let at = none.as_ptr() as usize - text.as_ptr() as usize;
    let before: String = text[..at].chars().rev().take(200).collect();
    let before: String = before.chars().rev().collect();
    let after: String = text[at..].chars().take(80).collect();
    Some(before + &after)
}
