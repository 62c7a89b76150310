//! Figures for measurements that have no rules of their own here: `other_figures.toml` as types.

use crate::bench::record::OtherQuantity;
use serde::Deserialize;

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OtherFigures {
    pub figures: Vec<OtherFigure>,
}

/// A largest value that a standard names.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OtherFigure {
    pub quantity: OtherQuantity,
    pub name: String,
    /// In `unit`, which is the quantity's.
    pub limit: f64,
    pub unit: String,
    /// The output voltage that it holds for; absent: any.
    pub voltage_v: Option<f64>,
    pub source: String,
}

impl OtherFigures {
    /// The figure for a quantity at an output voltage.
    pub fn of(&self, quantity: OtherQuantity, voltage_v: Option<f64>) -> Option<&OtherFigure> {
        self.figures.iter().find(|f| {
            f.quantity == quantity
                && f.voltage_v
                    .is_none_or(|at| voltage_v.is_some_and(|v| (v - at).abs() < 0.01))
        })
    }
}
