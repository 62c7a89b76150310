//! Overload, temperatures and other measurements: on a unit's page, in the ranking and compared.

use crate::app::TestApp;
use axum::http::StatusCode;
use serde_json::{Value, json};

/// An invented adapter of 60 W with more in its record.
fn record(model: &str, more: Value) -> String {
    let mut record = json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": model, "nameplate": {"output_power_w": 60},
            "ports": [{"label": "C1", "connector": "usb-c", "power_w": 60,
                "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3}]}]},
        "instruments": [{"quantity": "output_current_a", "fixed": 0.01},
            {"quantity": "temperature_c", "fixed": 1.0}],
    });
    for (key, value) in more.as_object().expect("more is an object") {
        record[key] = value.clone();
    }
    record.to_string()
}

/// Delivered up to so many amperes, off at the next step.
fn shuts_off(good_a: f64, off_a: f64) -> Value {
    json!([{"port": "C1", "voltage_v": 20, "recovery": "replug", "other_ports": "not-applicable",
        "steps": [
            {"set_current_a": 0, "current_a": 0, "voltage_v": 20.2, "held_s": 10},
            {"set_current_a": good_a, "current_a": good_a, "voltage_v": 20, "held_s": 10},
            {"set_current_a": off_a, "current_a": 0, "voltage_v": 0, "state": "off", "held_s": 10}]}])
}

/// A warming of 40 K, read every so many minutes.
fn warming(every_min: f64, readings: u32) -> Value {
    (0..readings)
        .map(|i| {
            let t = f64::from(i) * every_min;
            let c = 24.0 + 40.0 * (1.0 - (-t / 15.0).exp());
            json!({"load_w": 60, "minutes": t, "ambient_c": 24, "hot_spot_c": (c * 10.0).round() / 10.0,
                "material": "plastic", "where": "top face"})
        })
        .collect()
}

async fn app(records: &[String]) -> TestApp {
    let app = TestApp::empty().await;
    for text in records {
        app.publish(text).await;
    }
    app.site.refresh().await.expect("the database can be read");
    app
}

#[tokio::test]
async fn a_trip_inside_the_rating_is_called_a_failed_delivery_on_the_page() {
    let app = app(&[
        record("LF-60", json!({"overloads": shuts_off(2.6, 2.8)})),
        record("LF-61", json!({"overloads": shuts_off(3.3, 3.6)})),
    ])
    .await;
    let failed = app.get("/unit/larkfield-lf-60").await.words();
    assert!(
        failed.contains("Failed delivery: lets go inside its rating: 2.8 A of 3 A rated."),
        "{failed}"
    );
    assert!(failed.contains("✗ failed delivery"));
    let fine = app.get("/unit/larkfield-lf-61").await;
    let words = fine.words();
    assert!(!words.contains("failed delivery"), "{words}");
    for said in [
        "✓ delivers its rating",
        "Last good point 3.3 A, 20 V, 66.0 W",
        "after unplugging the load",
        "shut-off: off at 3.6 A",
        "within both figures of a limited power source; its power indicates PS2",
        "this is an indication from one sample",
        "IEC 62368-1 clause 6.2.2",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    let html = fine.text();
    assert!(html.contains("id=\"overload-0-chart-figure\"") && html.contains("href=\"#overload\""));
}

#[tokio::test]
async fn temperatures_are_compared_in_words_that_promise_nothing() {
    let app = app(&[
        record("LF-60", json!({"temperatures": warming(10.0, 10)})),
        record("LF-61", json!({"temperatures": warming(4.0, 7)})),
    ])
    .await;
    let steady = app.get("/unit/larkfield-lf-60").await;
    let words = steady.words();
    for said in [
        "Steady state reached",
        "At 25 °C ambient (64.9 ± 1.6) °C",
        "✓ within the figure",
        "✗ outside the figure",
        "Above the line of comfort of 48 °C",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    assert!(steady.text().contains("href=\"#heat\""));
    let section = steady.text();
    let section = section
        .split("<h2 id=\"heat\">")
        .nth(1)
        .and_then(|rest| rest.split("<h2 ").next())
        .expect("the section is there")
        .to_lowercase();
    for promise in ["safe ", "safe.", "certif", "complies", "approved"] {
        assert!(!section.contains(promise), "{promise}");
    }
    let short = app.get("/unit/larkfield-lf-61").await.words();
    assert!(
        short.contains("Steady state not reached, extrapolated"),
        "{short}"
    );
    assert!(short.contains("Final value by the fit"));
}

#[tokio::test]
async fn a_unit_without_such_tests_has_no_such_sections() {
    let app = app(&[record("LF-60", json!({}))]).await;
    let html = app.get("/unit/larkfield-lf-60").await.text();
    for id in ["overload", "heat", "measurements"] {
        assert!(!html.contains(&format!("id=\"{id}\"")), "{id}");
        assert!(!html.contains(&format!("href=\"#{id}\"")), "{id}");
    }
}

#[tokio::test]
async fn a_measurement_stands_with_its_conditions_and_its_figure() {
    let app = app(&[record(
        "LF-60",
        json!({"measurements": [
            {"quantity": "touch_current_ua", "value": 131, "line_voltage_v": 230, "accuracy": 4},
            {"quantity": "inrush_a", "value": 31, "line_voltage_v": 230}]}),
    )])
    .await;
    let words = app.get("/unit/larkfield-lf-60").await.words();
    assert!(
        words.contains("Leakage (touch) current (131.0 ± 4.6) µA 230 V mains none known"),
        "{words}"
    );
    assert!(
        words.contains("Inrush current, peak 31.0 A ±&#8239;? 230 V mains none known"),
        "{words}"
    );
}

#[tokio::test]
async fn a_column_is_there_only_where_a_unit_in_sight_has_it() {
    let app = app(&[
        record(
            "LF-60",
            json!({"overloads": shuts_off(3.3, 3.6), "measurements": [
                {"quantity": "ripple_mv", "value": 74, "voltage_v": 5}]}),
        ),
        record("QM-60", json!({})),
    ])
    .await;
    let plain = app.get("/").await;
    let html = plain.text();
    for offered in ["trip-margin", "recovery", "ripple"] {
        assert!(
            html.contains(&format!("name=\"columns\" value=\"{offered}\"")),
            "{offered}"
        );
    }
    for absent in ["hold-up", "inrush", "touch-temperature", "mass", "price"] {
        assert!(
            !html.contains(&format!("name=\"columns\" value=\"{absent}\"")),
            "{absent}"
        );
        assert!(!html.contains(&format!("sort={absent}")), "{absent}");
    }
    assert!(
        !html.contains("data-label=\"Trip margin\""),
        "not asked for"
    );

    let asked = "/?columns=trip-margin%2Cripple%2Chold-up";
    let chosen = app.get(asked).await;
    assert_eq!(
        chosen.status,
        StatusCode::OK,
        "{}",
        chosen.header("location")
    );
    let words = chosen.words();
    assert!(
        words.contains("+15 %") && words.contains("74.0 mV"),
        "{words}"
    );
    let html = chosen.text();
    assert!(html.contains("data-label=\"Ripple\"") && !html.contains("data-label=\"Hold-up\""));
    assert!(
        html.contains("sort=trip-margin&#38;columns="),
        "the choice stays when the order changes"
    );
    let other = app
        .get("/?q=QM-60&columns=trip-margin%2Cripple%2Chold-up")
        .await;
    assert!(
        !other.text().contains("data-label=\"Trip margin\""),
        "nobody in sight has it"
    );
}

#[tokio::test]
async fn columns_are_chosen_by_ticks_and_have_one_address() {
    let app = app(&[
        record("LF-60", json!({"overloads": shuts_off(3.3, 3.6), "unit": {
            "maker": "Larkfield", "model": "LF-60", "nameplate": {"output_power_w": 60},
            "mass_g": {"adapter": 120}, "size_mm": [60, 50, 30],
            "ports": [{"label": "C1", "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3}]}]}})),
        record("QM-60", json!({})),
    ])
    .await;
    let to = async |path: &str| app.get(path).await.header("location").to_owned();
    assert_eq!(
        to("/?columns=&columns=mass&columns=trip-margin").await,
        "/?columns=trip-margin%2Cmass"
    );
    assert_eq!(
        to("/?columns=").await,
        "/?columns=none",
        "no tick is a choice too"
    );
    assert_eq!(
        to("/?columns=&columns=mass&columns=power-density&columns=ports").await,
        "/",
        "the usual ones as far as they exist here"
    );
    let none = app.get("/?columns=none").await;
    assert!(!none.text().contains("data-label=\"Mass\""));
    let strange = app.get("/?columns=mass,colour").await.words();
    assert!(
        strange.contains("Columns: “colour” was left out"),
        "{strange}"
    );
    let sorted = app.get("/?sort=trip-margin").await.text();
    assert!(
        sorted.contains("data-label=\"Trip margin\""),
        "the order shows its column"
    );
    let first = sorted.find("LF-60").expect("it is there");
    let second = sorted.rfind("QM-60").expect("it is there");
    assert!(first < second, "a unit without a margin comes last");
}

#[tokio::test]
async fn compared_units_have_a_row_of_what_at_least_one_of_them_has() {
    let app = app(&[
        record(
            "LF-60",
            json!({"overloads": shuts_off(2.6, 2.8), "temperatures": warming(10.0, 10),
                "measurements": [{"quantity": "hold_up_ms", "value": 18, "accuracy": 0.5,
                    "line_voltage_v": 115}]}),
        ),
        record("QM-60", json!({"temperatures": warming(10.0, 9)})),
    ])
    .await;
    let words = app
        .get("/compare?unit=larkfield-lf-60&unit=larkfield-qm-60")
        .await
        .words();
    for said in [
        "(\u{2212}10.0 ± 3.9) % (failed delivery) – not measured",
        "Recovery after an overload after unplugging the load",
        "Hold-up time (18.00 ± 0.58) ms (115 V mains)",
        "Touch temperature at 25 °C ambient (64.9 ± 1.6) °C",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    for absent in ["Inrush current", "Ripple and noise", "Mass", "Volume"] {
        assert!(!words.contains(absent), "{absent}: {words}");
    }
}
