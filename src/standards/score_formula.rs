//! The composite score's weights, references and scales, as `score.toml` holds them.

use serde::Deserialize;

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ScoreFormula {
    pub version: u32,
    pub provisional_below: f64,
    pub line: ScoreLine,
    pub active_loss: RegimeTerm,
    pub light_load_loss: RegimeTerm,
    pub no_load: RegimeTerm,
    pub line_current: LineCurrentTerm,
    pub delivery: DeliveryTerm,
    pub surface: SurfaceTerm,
}

/// The supply whose runs count.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct ScoreLine {
    pub voltage_v: f64,
    pub frequency_hz: f64,
    pub voltage_tolerance_percent: f64,
    pub frequency_tolerance_hz: f64,
}

impl ScoreLine {
    /// Is a run on `volts`, `hertz` counted?
    pub fn holds(&self, volts: f64, hertz: f64) -> bool {
        (volts - self.voltage_v).abs() <= self.voltage_v * self.voltage_tolerance_percent / 100.0
            && (hertz - self.frequency_hz).abs() <= self.frequency_tolerance_hz
    }
}

/// A term whose reference is a regime's limit.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct RegimeTerm {
    pub weight: f64,
    pub k: f64,
    pub regime: String,
    /// Row name that stands in where the regime has none for category multiple.
    pub multiple_uses: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LineCurrentTerm {
    pub weight: f64,
    pub k: f64,
    pub reference_power_factor: f64,
    pub load_percents: Vec<f64>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct DeliveryTerm {
    pub weight: f64,
    pub k: f64,
    pub reference_percent: f64,
    pub held_above: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SurfaceTerm {
    pub weight: f64,
    pub k: f64,
    pub reference_rise_k: f64,
}

impl ScoreFormula {
    /// The formula this program ships.
    pub fn embedded() -> ScoreFormula {
        toml::from_str(include_str!("score.toml")).expect("the shipped score table is well-formed")
    }
}
