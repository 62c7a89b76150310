//! Builds records that pin one figure and leave the rest plain.

use brickbook::bench::decode::decode_value;
use brickbook::bench::record::Record;
use serde_json::{Value, json};

/// A single-port unit with one fixed voltage.
pub struct Bench {
    pub nameplate_w: f64,
    pub voltage_v: f64,
    pub line: (f64, f64),
    pub category: Option<&'static str>,
    /// Efficiency at the four loads and at 10 %, a fraction.
    pub efficiency: f64,
    pub no_load_w: f64,
    pub instruments: Value,
}

impl Default for Bench {
    fn default() -> Bench {
        Bench {
            nameplate_w: 65.0,
            voltage_v: 20.0,
            line: (115.0, 60.0),
            category: None,
            efficiency: 0.9,
            no_load_w: 0.05,
            instruments: json!([]),
        }
    }
}

impl Bench {
    pub fn record(&self) -> Record {
        let current = self.nameplate_w / self.voltage_v;
        let points: Vec<Value> = [100.0, 75.0, 50.0, 25.0, 10.0]
            .iter()
            .map(|percent| {
                let amps = current * percent / 100.0;
                json!({"load_percent": percent,
                       "input": {"power_w": self.voltage_v * amps / self.efficiency},
                       "outputs": [{"port": "P", "voltage_v": self.voltage_v, "current_a": amps}]})
            })
            .collect();
        let category = self
            .category
            .map(|c| json!({"value": c, "reason": "the check asks for it"}));
        decode_value(json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "check", "category": category,
                "nameplate": {"output_power_w": self.nameplate_w},
                "ports": [{"label": "P", "modes": [{"kind": "fixed", "voltage_v": self.voltage_v, "current_a": current}]}]},
            "instruments": self.instruments,
            "runs": [{"name": "run", "line": {"voltage_v": self.line.0, "frequency_hz": self.line.1},
                "rated_outputs": [{"port": "P", "voltage_v": self.voltage_v, "current_a": current}],
                "points": points, "no_load": {"power_w": self.no_load_w}}]
        }))
        .unwrap_or_else(|faults| panic!("{faults:?}"))
    }
}
