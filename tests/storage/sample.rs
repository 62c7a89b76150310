//! Invented records for what a test is about; everything else has a plausible value.

use serde_json::{Value, json};

/// A record of an invented 30 W adapter with one full run on 115 V, as pretty-printed text.
pub fn record_text(maker: &str, model: &str, sample: Option<&str>) -> String {
    let mut text = serde_json::to_string_pretty(&record(maker, model, sample)).unwrap();
    text.push('\n');
    text
}

pub fn record(maker: &str, model: &str, sample: Option<&str>) -> Value {
    let point = |percent: f64| {
        let current = 1.5 * percent / 100.0;
        let output = 19.9 * current;
        let input = output + 0.2 + 0.05 * output + 0.2 * current * current;
        json!({
            "load_percent": percent,
            "input": {"voltage_v": 115.1, "power_w": (input * 1000.0).round() / 1000.0, "power_factor": 0.55},
            "outputs": [{"port": "C1", "voltage_v": 19.9, "current_a": (current * 1000.0).round() / 1000.0}]
        })
    };
    json!({
        "format": "brickbook-record/1",
        "unit": {
            "maker": maker,
            "model": model,
            "sample": sample,
            "nameplate": {"output_power_w": 30, "efficiency_mark": "VI"},
            "ports": [{
                "label": "C1", "connector": "usb-c", "power_w": 30,
                "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 1.5}]
            }]
        },
        "runs": [{
            "name": "20 V on 115 V",
            "tested_on": "2026-09-01",
            "line": {"voltage_v": 115, "frequency_hz": 60},
            "rated_outputs": [{"port": "C1", "voltage_v": 20, "current_a": 1.5}],
            "points": [point(100.0), point(75.0), point(50.0), point(25.0), point(10.0)],
            "no_load": {"power_w": 0.05}
        }]
    })
}
