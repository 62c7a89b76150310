//! What else was measured of a unit, each with its unit, conditions and, where a standard has one,
//! the figure beside it; and size, mass and cord.

use super::{
    figure_rows::{FigureRow, plus_minus},
    sheet::Fact,
};
use crate::{
    bench::record::{CordFixing, OtherQuantity, Record},
    evaluate::{
        evaluation::{Evaluation, MeasurementResult},
        other_measurements,
    },
    text::{t, word},
    web::format,
};

/// The section of a unit's page.
pub struct MeasurementSection {
    pub measurements: Vec<MeasurementView>,
    /// Size, mass, density and cord.
    pub build: Vec<Fact>,
}

impl MeasurementSection {
    pub fn of(record: &Record, evaluation: &Evaluation) -> MeasurementSection {
        MeasurementSection {
            measurements: evaluation.measurements.iter().map(measurement).collect(),
            build: build(record),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.measurements.is_empty() && self.build.is_empty()
    }
}

pub struct MeasurementView {
    pub name: &'static str,
    /// With its expanded uncertainty where that is known.
    pub value: String,
    pub u_known: bool,
    pub conditions: Option<String>,
    pub figure: Option<FigureRow>,
    pub note: Option<String>,
}

fn measurement(result: &MeasurementResult) -> MeasurementView {
    MeasurementView {
        name: quantity_name(result.quantity),
        value: plus_minus(result.value, result.u.map(|u| 2.0 * u), &result.unit),
        u_known: result.u.is_some(),
        conditions: conditions(result),
        figure: result.figure.as_ref().map(FigureRow::of),
        note: result.note.clone(),
    }
}

/// "C1, 20 V, 100 % load, 230 V mains"; none where nothing was noted.
pub fn conditions(result: &MeasurementResult) -> Option<String> {
    let with = |v: f64, unit| format::with_unit(format::plain(v), unit);
    let parts: Vec<String> = [
        result.port.clone(),
        result.voltage_v.map(|v| with(v, "V")),
        result.load_percent.map(|p| {
            t("condition-load")
                .with("percent", with(p, "%"))
                .to_string()
        }),
        result.line_voltage_v.map(|v| {
            t("condition-mains")
                .with("voltage", with(v, "V"))
                .to_string()
        }),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// What a quantity is called on a page.
pub fn quantity_name(quantity: OtherQuantity) -> &'static str {
    match quantity {
        OtherQuantity::RippleMv => word("other-ripple"),
        OtherQuantity::LoadRegulationPercent => word("other-load-regulation"),
        OtherQuantity::LineRegulationPercent => word("other-line-regulation"),
        OtherQuantity::TurnOnDelayMs => word("other-turn-on"),
        OtherQuantity::HoldUpMs => word("other-hold-up"),
        OtherQuantity::InrushA => word("other-inrush"),
        OtherQuantity::TouchCurrentUa => word("other-leakage"),
        OtherQuantity::AcousticNoiseDba => word("other-noise"),
    }
}

fn build(record: &Record) -> Vec<Fact> {
    let unit = &record.unit;
    let mut facts = Vec::new();
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    let grams = |g: f64| format::with_unit(format::plain(g), "g");
    let three = |v: f64, unit| format::with_unit(format::significant(v, 3), unit);
    let built = other_measurements::build(unit);
    let of = |figure: fn(&other_measurements::BuildResult) -> Option<f64>| {
        built.as_ref().and_then(figure)
    };
    add(word("build-mass"), of(|b| b.mass_g).map(grams));
    add(
        word("build-dimensions"),
        unit.size_mm.map(|size| {
            let sides: Vec<String> = size.iter().map(|side| format::plain(*side)).collect();
            format::with_unit(sides.join(" × "), "mm")
        }),
    );
    add(
        word("build-volume"),
        of(|b| b.volume_cm3).map(|v| three(v, "cm³")),
    );
    add(
        word("fact-density"),
        of(|b| b.power_density_w_per_cm3).map(|d| three(d, "W/cm³")),
    );
    add(
        word("build-specific-power"),
        of(|b| b.specific_power_w_per_g).map(|d| three(d, "W/g")),
    );
    add(word("build-cord"), cord(record));
    facts
}

fn cord(record: &Record) -> Option<String> {
    let cord = record.unit.cord.as_ref();
    let mass_g = record.unit.mass_g.as_ref().and_then(|m| m.cord);
    let parts: Vec<String> = [
        cord.and_then(|c| c.fixing).map(|fixing| {
            match fixing {
                CordFixing::Captive => word("cord-captive"),
                CordFixing::Detachable => word("cord-detachable"),
            }
            .to_owned()
        }),
        cord.and_then(|c| c.length_m)
            .map(|m| format::with_unit(format::plain(m), "m")),
        cord.and_then(|c| c.resistance_mohm).map(|r| {
            let resistance = format::with_unit(format::plain(r), "mΩ");
            t("cord-resistance")
                .with("resistance", resistance)
                .to_string()
        }),
        mass_g.map(|g| format::with_unit(format::plain(g), "g")),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        bench::decode::decode,
        evaluate::{Method, evaluate},
    };
    use serde_json::{Value, json};

    fn section(extra: Value, measurements: Value) -> MeasurementSection {
        let mut document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 60},
                "ports": [{"label": "C1"}]},
            "measurements": measurements,
        });
        for (key, value) in extra.as_object().unwrap() {
            document["unit"][key] = value.clone();
        }
        let record = decode(&document.to_string()).unwrap();
        let evaluation = evaluate(&record, &Method::standard());
        MeasurementSection::of(&record, &evaluation)
    }

    #[test]
    fn a_measurement_has_its_unit_conditions_uncertainty_and_figure() {
        let section = section(
            json!({"nameplate": {"output_power_w": 5}, "ports": [{"label": "C1", "modes": [
                {"kind": "fixed", "voltage_v": 5, "current_a": 1}]}]}),
            json!([
                {"quantity": "ripple_mv", "value": 74, "voltage_v": 5, "port": "C1",
                    "load_percent": 100, "accuracy": 5},
                {"quantity": "hold_up_ms", "value": 18, "line_voltage_v": 115},
            ]),
        );
        let said = |text: &str| text.replace('\u{202f}', " ");
        let ripple = &section.measurements[0];
        assert_eq!(said(&ripple.value), "(74.0 ± 5.8) mV");
        assert_eq!(
            said(ripple.conditions.as_deref().unwrap()),
            "C1, 5 V, 100 % load"
        );
        let figure = ripple.figure.as_ref().unwrap();
        assert_eq!(said(&figure.limit), "80.0 mV");
        assert!(!figure.source.is_empty());
        let hold_up = &section.measurements[1];
        assert_eq!(said(&hold_up.value), "18.0 ms");
        assert!(!hold_up.u_known && hold_up.figure.is_none());
    }

    #[test]
    fn a_unit_of_which_nothing_else_was_measured_has_no_such_section() {
        assert!(section(json!({}), json!([])).is_empty());
        let with_cord = section(
            json!({"cord": {"length_m": 1.5, "fixing": "captive", "resistance_mohm": 120}}),
            json!([]),
        );
        assert_eq!(
            with_cord.build[0].text.replace('\u{202f}', " "),
            "fixed to the adapter, 1.5 m, 120 mΩ both conductors together"
        );
    }
}
