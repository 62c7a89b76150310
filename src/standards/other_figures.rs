//! Figures for measurements that have no rules of their own here: `other_figures.toml` as types.

use crate::bench::record::{Mode, OtherQuantity, Unit};
use serde::Deserialize;

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OtherFigures {
    /// The only kind of unit that the figures are for.
    pub phone_charger: PhoneCharger,
    pub figures: Vec<OtherFigure>,
}

/// The common phone charger: one port of one fixed voltage.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PhoneCharger {
    pub voltage_from_v: f64,
    pub voltage_to_v: f64,
    pub current_from_a: f64,
    pub current_to_a: f64,
    pub source: String,
}

impl PhoneCharger {
    /// Is a unit one, by all that its label and capability list say? Not where neither says what
    /// its port offers.
    pub fn is(&self, unit: &Unit) -> bool {
        let [port] = unit.ports.as_slice() else {
            return false;
        };
        let fits = |volts: f64, amperes: f64| {
            (self.voltage_from_v..=self.voltage_to_v).contains(&volts)
                && (self.current_from_a..=self.current_to_a).contains(&amperes)
        };
        let objects = port.capabilities();
        let largest_w = self.voltage_to_v * self.current_to_a;
        !(port.modes.is_empty() && objects.is_empty())
            && unit.nameplate.output_power_w <= largest_w
            && port.power_w.is_none_or(|w| w <= largest_w)
            && port
                .modes
                .iter()
                .all(|m| matches!(m, Mode::Fixed { voltage_v, current_a } if fits(*voltage_v, *current_a)))
            && objects.iter().all(|(.., o)| {
                o.kind() == "fixed" && o.current_a().is_some_and(|a| fits(o.voltage_max_v(), a))
            })
    }
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
    /// The figure for a quantity of a unit at an output voltage; `None` for units that no figure
    /// is for.
    pub fn of(
        &self,
        unit: &Unit,
        quantity: OtherQuantity,
        voltage_v: Option<f64>,
    ) -> Option<&OtherFigure> {
        self.figures
            .iter()
            .filter(|_| self.phone_charger.is(unit))
            .find(|f| {
                f.quantity == quantity
                    && f.voltage_v
                        .is_none_or(|at| voltage_v.is_some_and(|v| (v - at).abs() < 0.01))
            })
    }
}
