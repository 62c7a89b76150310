//! Everything else that was measured, each with its unit and, where a standard has one, a figure
//! beside it; and how much power the housing holds.

use super::figure::{self, FigureResult};
use crate::bench::record::{OtherQuantity, Record, Unit};
use crate::quantity::{divisor, rectangular};
use crate::standards::Standards;
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MeasurementResult {
    /// Place in the record's `measurements`, from 0.
    pub measurement: u64,
    pub quantity: OtherQuantity,
    /// `mV`, `%`, `ms`, `A`, `µA` or `dB(A)`.
    pub unit: String,
    pub value: f64,
    /// Standard uncertainty from the accuracy stated with it; null where unknown.
    pub u: Option<f64>,
    pub port: Option<String>,
    pub voltage_v: Option<f64>,
    pub load_percent: Option<f64>,
    pub line_voltage_v: Option<f64>,
    pub note: Option<String>,
    /// Null where no figure is known for it.
    pub figure: Option<FigureResult>,
}

/// Size and mass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct BuildResult {
    /// Of the box around it, without the cord; cm³.
    pub volume_cm3: Option<f64>,
    /// Nameplate power over that volume, W/cm³.
    pub power_density_w_per_cm3: Option<f64>,
    /// Of the adapter alone, g.
    pub mass_g: Option<f64>,
    /// Nameplate power over that mass, W/g.
    pub specific_power_w_per_g: Option<f64>,
}

/// One result an entry of the record.
pub fn results(record: &Record, standards: &Standards) -> Vec<MeasurementResult> {
    record
        .measurements
        .iter()
        .enumerate()
        .map(|(at, m)| {
            let u = m.accuracy.map(rectangular);
            MeasurementResult {
                measurement: at as u64,
                quantity: m.quantity,
                unit: unit_of(m.quantity).to_owned(),
                value: m.value,
                u,
                port: m.port.clone(),
                voltage_v: m.voltage_v,
                load_percent: m.load_percent,
                line_voltage_v: m.line_voltage_v,
                note: m.note.clone(),
                figure: standards
                    .other_figures
                    .of(&record.unit, m.quantity, m.voltage_v)
                    .map(|f| figure::at_most(&f.name, &f.unit, (m.value, u), f.limit, &f.source)),
            }
        })
        .collect()
}

/// The unit that a quantity is recorded in.
pub fn unit_of(quantity: OtherQuantity) -> &'static str {
    match quantity {
        OtherQuantity::RippleMv => "mV",
        OtherQuantity::LoadRegulationPercent | OtherQuantity::LineRegulationPercent => "%",
        OtherQuantity::TurnOnDelayMs | OtherQuantity::HoldUpMs => "ms",
        OtherQuantity::InrushA => "A",
        OtherQuantity::TouchCurrentUa => "µA",
        OtherQuantity::AcousticNoiseDba => "dB(A)",
    }
}

/// Power density; `None` where neither size nor mass is on record.
pub fn build(unit: &Unit) -> Option<BuildResult> {
    let volume_cm3 = unit
        .size_mm
        .map(|[a, b, c]| a * b * c / 1000.0)
        .and_then(divisor);
    let mass_g = unit
        .mass_g
        .as_ref()
        .and_then(|m| m.adapter)
        .and_then(divisor);
    if volume_cm3.is_none() && mass_g.is_none() {
        return None;
    }
    let power_w = unit.nameplate.output_power_w;
    Some(BuildResult {
        volume_cm3,
        power_density_w_per_cm3: volume_cm3.map(|v| power_w / v),
        mass_g,
        specific_power_w_per_g: mass_g.map(|m| power_w / m),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode;
    use crate::evaluate::figure::AgainstFigure;
    use serde_json::json;

    fn record(measurements: serde_json::Value, unit: serde_json::Value) -> Record {
        let mut document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 65}},
            "measurements": measurements,
        });
        for (key, value) in unit.as_object().unwrap() {
            document["unit"][key] = value.clone();
        }
        decode(&document.to_string()).unwrap()
    }

    fn phone_charger() -> serde_json::Value {
        json!({"nameplate": {"output_power_w": 5}, "ports": [{"label": "A1", "modes": [
            {"kind": "fixed", "voltage_v": 5, "current_a": 1}]}]})
    }

    #[test]
    fn the_figures_of_phone_chargers_are_for_such_units_alone() {
        let figures = |unit| {
            let measured = json!([
                {"quantity": "ripple_mv", "value": 120, "voltage_v": 5},
                {"quantity": "touch_current_ua", "value": 131},
            ]);
            results(&record(measured, unit), &Standards::embedded())
                .iter()
                .filter(|m| m.figure.is_some())
                .count()
        };
        assert_eq!(figures(phone_charger()), 2);
        for (key, value) in [
            ("/ports/0/modes/0/current_a", json!(3)),
            ("/ports/0/modes/0/current_a", json!(0.3)),
            ("/ports/0/modes/0/voltage_v", json!(9)),
            ("/ports/0/modes", json!([])),
            ("/ports", json!([])),
            ("/nameplate/output_power_w", json!(15)),
        ] {
            let mut unit = phone_charger();
            *unit.pointer_mut(key).unwrap() = value;
            assert_eq!(figures(unit), 0, "{key}");
        }
        // Its label says 5 V, its capability list 9 V and 3 A as well.
        let mut unit = phone_charger();
        unit["ports"][0]["source_capabilities"] = json!(["0x0A01912C", "0x0002D12C"]);
        assert_eq!(figures(unit), 0);
        assert_eq!(figures(json!({})), 0);
    }

    #[test]
    fn ripple_has_a_figure_at_5_v_only_and_is_judged_with_its_accuracy() {
        let record = record(
            json!([
                {"quantity": "ripple_mv", "value": 74, "voltage_v": 5, "accuracy": 5},
                {"quantity": "ripple_mv", "value": 120, "voltage_v": 20},
                {"quantity": "ripple_mv", "value": 60},
                {"quantity": "touch_current_ua", "value": 131},
                {"quantity": "hold_up_ms", "value": 18},
            ]),
            phone_charger(),
        );
        let found = results(&record, &Standards::embedded());
        let ripple = found[0].figure.as_ref().unwrap();
        // 74 + 2 · 5/√3 = 79.77 mV
        assert_eq!(ripple.result, AgainstFigure::Within);
        assert!((ripple.expanded_uncertainty.unwrap() - 5.7735).abs() < 1e-4);
        assert!(found[1].figure.is_none(), "no figure at 20 V");
        assert!(found[2].figure.is_none(), "the voltage is not on record");
        assert_eq!(
            found[3].figure.as_ref().unwrap().message,
            "131 µA is outside the touch current figure of phone power supplies of 90 µA"
        );
        assert!(found[4].figure.is_none());
        assert_eq!(found[4].unit, "ms");
    }

    #[test]
    fn the_unit_of_a_quantity_is_the_one_that_its_word_names() {
        let words = crate::bench::schema::OTHER_QUANTITIES;
        assert_eq!(words.len(), OtherQuantity::ALL.len());
        let bounds = crate::bench::schema::OTHER_BOUNDS;
        assert_eq!(bounds.len(), words.len());
        for (word, listed) in words.iter().zip(OtherQuantity::ALL) {
            let quantity: OtherQuantity = serde_json::from_value(json!(word)).unwrap();
            assert_eq!(quantity, listed);
            let at = words.iter().position(|w| w == word).unwrap();
            assert_eq!(bounds[at].unit, unit_of(quantity), "{word}");
            let end = match unit_of(quantity) {
                "%" => "percent".to_owned(),
                "µA" => "ua".to_owned(),
                "dB(A)" => "dba".to_owned(),
                unit => unit.to_lowercase(),
            };
            assert!(word.ends_with(&format!("_{end}")), "{word}");
        }
    }

    #[test]
    fn a_value_that_no_adapter_has_is_refused_with_its_quantitys_bounds() {
        let decoded = |quantity: &str, value: f64| {
            decode(
                &json!({
                    "format": "brickbook-record/1",
                    "unit": {"maker": "Larkfield", "model": "LF",
                        "nameplate": {"output_power_w": 65}},
                    "measurements": [{"quantity": quantity, "value": value}],
                })
                .to_string(),
            )
            .map_err(|problems| {
                assert_eq!(problems.len(), 1);
                problems[0].to_string()
            })
        };
        for (quantity, value, expected) in [
            ("touch_current_ua", -1.0, "a number from 0 to 100000 µA"),
            ("ripple_mv", -5.0, "a number from 0 to 10000 mV"),
            ("ripple_mv", 1e6, "a number from 0 to 10000 mV"),
            ("inrush_a", -40.0, "a number from 0 to 500 A"),
            ("hold_up_ms", 600_001.0, "a number from 0 to 600000 ms"),
            ("turn_on_delay_ms", -0.1, "a number from 0 to 600000 ms"),
            ("acoustic_noise_dba", -3.0, "a number from 0 to 120 dB(A)"),
            (
                "load_regulation_percent",
                -101.0,
                "a number from -100 to 100 %",
            ),
        ] {
            assert_eq!(
                decoded(quantity, value).unwrap_err(),
                format!("measurements[0].value: {value}; expected {expected}")
            );
        }
        assert!(decoded("line_regulation_percent", -6.0).is_ok());
        assert!(decoded("ripple_mv", 0.0).is_ok());
        assert!(decoded("ripple_mv", 10_000.0).is_ok());
    }

    #[test]
    fn power_density_is_that_of_the_box() {
        let unit = json!({"size_mm": [50, 40, 30], "mass_g": {"adapter": 130}});
        let built = build(&record(json!([]), unit).unit).unwrap();
        assert_eq!(built.volume_cm3, Some(60.0));
        assert!((built.power_density_w_per_cm3.unwrap() - 65.0 / 60.0).abs() < 1e-12);
        assert_eq!(built.specific_power_w_per_g, Some(0.5));
        assert!(build(&record(json!([]), json!({})).unit).is_none());
    }
}
