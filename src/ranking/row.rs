//! One line of the leaderboard: the few figures of a unit that pages sort, filter and chart by.

use crate::evaluate::evaluation::{ClassRef, Outcome};
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
}

impl Row {
    /// Maker, model and, where there is one, sample: how a page names the unit.
    pub fn name(&self) -> String {
        format!("{} {}", self.maker, self.model)
    }
}
