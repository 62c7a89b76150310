//! One line of the leaderboard: the few figures of a unit that pages sort, filter and chart by.

use super::together::Together;
use crate::bench::record::{Connector, Record};
use crate::evaluate::evaluation::{ClassRef, Evaluation, Outcome, RunResult};
use crate::evaluate::loss_model::LossCurve;
use crate::evaluate::{Method, points};
use crate::quantity::Measured;
use serde::{Deserialize, Serialize};

/// Derived from a record and its evaluation by [`Row::of`]; stored beside them, read whole.
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
        let volume_cm3 = unit.size_mm.map(|[a, b, c]| a * b * c / 1000.0);
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
        let price = self.price.filter(|price| *price > 0.0)?;
        Some(self.score? / price)
    }

    /// Maker and model: how a page names the unit.
    pub fn name(&self) -> String {
        format!("{} {}", self.maker, self.model)
    }
}
