//! One line of the leaderboard: the few figures of a unit that pages sort, filter and chart by.

use super::together::Together;
use crate::bench::record::{Connector, OtherQuantity, Record};
use crate::evaluate::evaluation::{ClassRef, Evaluation, Outcome, OverloadResult, RunResult};
use crate::evaluate::heat::HeatState;
use crate::evaluate::loss_model::LossCurve;
use crate::evaluate::{Method, points};
use crate::quantity::{Measured, divisor};
use serde::{Deserialize, Serialize};

/// Derived from a record and its evaluation by [`Row::of`]; stored beside them, read whole. A row
/// that an earlier version stored lacks the newer figures: they are unknown until the unit is
/// evaluated again (`rescore`), which the program asks for at its start.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Row {
    pub unit_id: i64,
    /// The unit's part of its address.
    pub slug: String,
    pub maker: String,
    pub model: String,
    pub sample: Option<String>,
    pub class: ClassRef,
    /// Nameplate output power.
    pub output_power_w: f64,
    pub score: Option<f64>,
    pub score_u: Option<f64>,
    pub score_version: u32,
    pub coverage: f64,
    pub provisional: bool,
    /// Name of the run that the figures below come from: the highest-voltage run on the score line.
    pub run: Option<String>,
    pub average_efficiency: Option<f64>,
    pub average_efficiency_u: Option<f64>,
    pub ten_percent_efficiency: Option<f64>,
    pub peak_efficiency: Option<f64>,
    /// Least favourable no-load reading on the score line.
    pub no_load_w: Option<f64>,
    pub no_load_u: Option<f64>,
    /// At 100 % load.
    pub power_factor: Option<f64>,
    /// At 100 % load.
    pub current_thd_percent: Option<f64>,
    pub price: Option<f64>,
    pub currency: Option<String>,
    /// Adapter alone.
    pub mass_g: Option<f64>,
    pub volume_cm3: Option<f64>,
    pub power_density_w_per_cm3: Option<f64>,
    /// Hot spot over ambient at the highest load recorded.
    pub hot_spot_rise_k: Option<f64>,
    /// The smallest trip margin of all ports tried, in percent of the rated current.
    #[serde(default)]
    pub trip_margin_percent: Option<f64>,
    /// Standard uncertainty of it, in percent points.
    #[serde(default)]
    pub trip_margin_u_percent: Option<f64>,
    /// The most laborious recovery seen after an overload.
    #[serde(default)]
    pub recovery: Option<Recovered>,
    /// The highest temperature of a series that settled, brought to 25 °C ambient: where it settled,
    /// or a hotter reading before.
    #[serde(default)]
    pub touch_temperature_c: Option<f64>,
    #[serde(default)]
    pub touch_temperature_u: Option<f64>,
    /// The least favourable value of each further quantity that was measured.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<OtherValue>,
    pub ports: u32,
    pub usb_c_ports: u32,
    pub usb_a_ports: u32,
    /// Latest test date, ISO 8601.
    pub tested_on: Option<String>,
    /// Result by regime id, in the order of the standards.
    pub verdicts: Vec<(String, Outcome)>,
    /// Measured (output watts, efficiency) of `run`, in rising watts.
    pub curve: Vec<(f64, f64)>,
    /// Loss of `run` at any output power. Absent in rows stored before it was kept.
    #[serde(default)]
    pub loss_curve: Option<LossCurve>,
    /// What the ports give at the same time. Empty in rows stored before it was kept.
    #[serde(default)]
    pub together: Together,
}

/// How a unit comes back after an overload, the easiest first.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Recovered {
    /// By itself.
    Auto,
    /// After the load was unplugged.
    Replug,
    /// After the mains were switched off and on.
    Mains,
    /// It did not.
    None,
}

impl Recovered {
    fn of(result: &OverloadResult) -> Option<Recovered> {
        match result.recovery.as_deref()? {
            "auto" => Some(Recovered::Auto),
            "replug" => Some(Recovered::Replug),
            "mains" => Some(Recovered::Mains),
            "none" => Some(Recovered::None),
            _ => None,
        }
    }

    /// The word of documents.
    pub fn id(self) -> &'static str {
        match self {
            Recovered::Auto => "auto",
            Recovered::Replug => "replug",
            Recovered::Mains => "mains",
            Recovered::None => "none",
        }
    }
}

/// A further quantity, in the unit that its word names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OtherValue {
    pub quantity: OtherQuantity,
    pub value: f64,
    /// Standard uncertainty; unknown where no accuracy was stated.
    pub u: Option<f64>,
}

/// Is more of the quantity better? Then the least favourable value is the smallest.
fn more_is_better(quantity: OtherQuantity) -> bool {
    quantity == OtherQuantity::HoldUpMs
}

/// The least favourable value of each quantity, in the order of the quantities. Regulation counts
/// by its size: a voltage that rises is as far off as one that falls.
fn others(evaluation: &Evaluation) -> Vec<OtherValue> {
    let mut found: std::collections::BTreeMap<OtherQuantity, OtherValue> = Default::default();
    for measured in &evaluation.measurements {
        let quantity = measured.quantity;
        let one = OtherValue {
            quantity,
            value: match quantity {
                OtherQuantity::LoadRegulationPercent | OtherQuantity::LineRegulationPercent => {
                    measured.value.abs()
                }
                _ => measured.value,
            },
            u: measured.u,
        };
        let worst = found.entry(quantity).or_insert(one);
        let worse = if more_is_better(quantity) {
            one.value < worst.value
        } else {
            one.value > worst.value
        };
        if worse {
            *worst = one;
        }
    }
    found.into_values().collect()
}

impl Row {
    /// The row of a unit, from its record and evaluation. Bench figures come from the deciding run
    /// with the highest voltage on the score's line supply, no-load from the least favourable
    /// reading on it.
    pub fn of(
        unit_id: i64,
        slug: &str,
        record: &Record,
        evaluation: &Evaluation,
        method: &Method,
    ) -> Row {
        let unit = &record.unit;
        let line = &method.formula.line;
        let on_line: Vec<&RunResult> = evaluation
            .runs
            .iter()
            .filter(|r| line.holds(r.line_voltage_v, r.line_frequency_hz))
            .collect();
        let run = on_line
            .iter()
            .copied()
            .filter(|r| r.informative.is_none() && !r.points.is_empty())
            .reduce(|best, r| {
                if r.rated_voltage_v > best.rated_voltage_v {
                    r
                } else {
                    best
                }
            });
        let no_load = on_line
            .iter()
            .filter_map(|r| r.no_load.as_ref())
            .reduce(|worst, n| if n.power_w > worst.power_w { n } else { worst });
        let full_load = run.and_then(|r| points::at_percent(&r.points, 100.0, 2.0));
        let mut curve: Vec<(f64, f64)> = run
            .iter()
            .flat_map(|r| &r.points)
            .filter_map(|p| Some((p.output_power_w?, p.efficiency?)))
            .collect();
        curve.sort_by(|a, b| a.0.total_cmp(&b.0));
        let least_margin = evaluation
            .overloads
            .iter()
            .filter_map(|o| Some((o.trip_margin_percent?, o)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        // What had not settled would flatter.
        let hottest = evaluation
            .heat
            .iter()
            .filter(|h| matches!(h.state, HeatState::Steady | HeatState::Extrapolated))
            .filter(|h| {
                h.ambient_c
                    .is_some_and(|a| method.standards.touch_temperature.may_shift_from(a))
            })
            .filter_map(|h| match h.compared_c {
                Some(celsius) => Some((celsius, h.compared_u)),
                // As an earlier version evaluated it.
                None => Some((h.at_reference_c?, h.at_reference_u)),
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let volume_cm3 = unit
            .size_mm
            .and_then(|[a, b, c]| divisor(a * b * c / 1000.0));
        let connectors = |wanted| {
            unit.ports
                .iter()
                .filter(|p| p.connector == Some(wanted))
                .count() as u32
        };
        Row {
            unit_id,
            slug: slug.to_owned(),
            maker: unit.maker.clone(),
            model: unit.model.clone(),
            sample: unit.sample.clone(),
            class: evaluation.class.clone(),
            output_power_w: unit.nameplate.output_power_w,
            score: evaluation.score.value,
            score_u: evaluation.score.u,
            score_version: evaluation.score.version,
            coverage: evaluation.score.coverage,
            provisional: evaluation.score.provisional,
            run: run.map(|r| r.name.clone()),
            average_efficiency: run.and_then(|r| r.average_efficiency),
            average_efficiency_u: run.and_then(|r| r.average_efficiency_u),
            ten_percent_efficiency: run.and_then(|r| r.ten_percent_efficiency),
            peak_efficiency: run
                .and_then(|r| r.loss_model.as_ref())
                .map(|m| m.peak_efficiency),
            no_load_w: no_load.map(|n| n.power_w),
            no_load_u: no_load.and_then(|n| n.power_u),
            power_factor: full_load.and_then(|p| p.power_factor),
            current_thd_percent: full_load.and_then(|p| p.current_thd_percent),
            price: unit.price.as_ref().and_then(|p| p.amount.parse().ok()),
            currency: unit.price.as_ref().map(|p| p.currency.clone()),
            mass_g: unit.mass_g.as_ref().and_then(|m| m.adapter),
            volume_cm3,
            power_density_w_per_cm3: volume_cm3.map(|v| unit.nameplate.output_power_w / v),
            hot_spot_rise_k: evaluation
                .score
                .terms
                .iter()
                .find(|t| t.term == "surface")
                .and_then(|t| t.measured),
            trip_margin_percent: least_margin.map(|(margin, _)| margin),
            trip_margin_u_percent: least_margin.and_then(|(_, o)| {
                let rated = o.rated_current_a.and_then(divisor)?;
                Some(100.0 * o.trip_u? / rated)
            }),
            recovery: evaluation.overloads.iter().filter_map(Recovered::of).max(),
            touch_temperature_c: hottest.map(|h| h.0),
            touch_temperature_u: hottest.and_then(|h| h.1),
            others: others(evaluation),
            ports: unit.ports.len() as u32,
            usb_c_ports: connectors(Connector::UsbC),
            usb_a_ports: connectors(Connector::UsbA),
            tested_on: record.tested_on().map(str::to_owned),
            verdicts: evaluation
                .regimes
                .iter()
                .map(|r| (r.regime.clone(), r.result))
                .collect(),
            curve,
            loss_curve: run.and_then(LossCurve::of),
            together: Together::of(unit, evaluation.sharing.as_ref()),
        }
    }

    /// No-load power in watts with its standard uncertainty.
    pub fn no_load(&self) -> Option<Measured> {
        Some(Measured::new(self.no_load_w?, self.no_load_u))
    }

    /// Points of the score for each unit of the price's currency.
    pub fn points_for_price(&self) -> Option<f64> {
        Some(self.score? / divisor(self.price?)?)
    }

    /// The least favourable value of a further quantity.
    pub fn other(&self, quantity: OtherQuantity) -> Option<&OtherValue> {
        self.others.iter().find(|o| o.quantity == quantity)
    }

    /// Maker and model: how a page names the unit.
    pub fn name(&self) -> String {
        format!("{} {}", self.maker, self.model)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode;
    use crate::evaluate::evaluate;
    use serde_json::json;

    fn row(extra: serde_json::Value) -> Row {
        let mut document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 60},
                "ports": [{"label": "C1", "modes": [
                    {"kind": "fixed", "voltage_v": 5, "current_a": 3},
                    {"kind": "fixed", "voltage_v": 20, "current_a": 3}]}]},
        });
        for (key, value) in extra.as_object().unwrap() {
            document[key] = value.clone();
        }
        let record = decode(&document.to_string()).unwrap();
        let method = Method::standard();
        let evaluation = evaluate(&record, &method);
        Row::of(1, "lf", &record, &evaluation, &method)
    }

    #[test]
    fn of_several_tests_the_least_favourable_stands_in_the_row() {
        let row = row(json!({
            "overloads": [
                {"port": "C1", "voltage_v": 5, "trip_current_a": 3.9, "recovery": "auto"},
                {"port": "C1", "voltage_v": 20, "trip_current_a": 3.3, "recovery": "replug"}],
            "measurements": [
                {"quantity": "ripple_mv", "value": 60, "voltage_v": 5, "accuracy": 5},
                {"quantity": "ripple_mv", "value": 110, "voltage_v": 20},
                {"quantity": "hold_up_ms", "value": 22, "line_voltage_v": 230},
                {"quantity": "hold_up_ms", "value": 14, "line_voltage_v": 115},
                {"quantity": "load_regulation_percent", "value": -2.5},
                {"quantity": "load_regulation_percent", "value": 1}],
        }));
        assert!((row.trip_margin_percent.unwrap() - 10.0).abs() < 1e-9);
        assert_eq!(row.trip_margin_u_percent, None, "no meter on record");
        assert_eq!(row.recovery, Some(Recovered::Replug));
        let value = |q| row.other(q).map(|o| o.value);
        assert_eq!(value(OtherQuantity::RippleMv), Some(110.0));
        assert_eq!(value(OtherQuantity::HoldUpMs), Some(14.0));
        assert_eq!(value(OtherQuantity::LoadRegulationPercent), Some(2.5));
        assert_eq!(value(OtherQuantity::InrushA), None);
    }

    #[test]
    fn a_temperature_that_had_not_settled_is_not_in_the_row() {
        let at = |minutes: f64, c: f64| json!({"load_w": 60, "minutes": minutes, "ambient_c": 24, "surface_c": c});
        let changing = row(json!({"temperatures": [at(10.0, 40.0), at(20.0, 48.0)]}));
        assert_eq!(changing.touch_temperature_c, None);
        let steady = row(json!({"temperatures": [at(50.0, 61.0), at(60.0, 61.4)]}));
        assert!((steady.touch_temperature_c.unwrap() - 62.4).abs() < 1e-9);
        let fell = row(json!({"temperatures": [at(30.0, 95.0), at(50.0, 61.0), at(60.0, 61.0)]}));
        assert_eq!(fell.touch_temperature_c, Some(96.0), "it was that hot");
    }

    #[test]
    fn a_row_that_an_earlier_version_stored_reads_with_the_newer_figures_unknown() {
        let new = row(json!({"overloads": [
            {"port": "C1", "voltage_v": 20, "trip_current_a": 3.3, "recovery": "auto"}]}));
        let mut stored = serde_json::to_value(&new).unwrap();
        for key in [
            "trip_margin_percent",
            "trip_margin_u_percent",
            "recovery",
            "touch_temperature_c",
            "touch_temperature_u",
            "others",
        ] {
            stored.as_object_mut().unwrap().remove(key);
        }
        let old: Row = serde_json::from_value(stored).unwrap();
        let expected = Row {
            trip_margin_percent: None,
            recovery: None,
            ..new
        };
        assert_eq!(old, expected);
    }
}
