//! A regime and its limit rows, as the tables hold them.

use crate::bench::record::Category;
use serde::Deserialize;
use std::collections::BTreeMap;

/// One standard or rule in one edition.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Regime {
    pub id: String,
    /// How pages name it where room is short.
    pub short: String,
    pub role: Role,
    pub order: u32,
    pub title: String,
    pub citation: String,
    /// ISO 8601 date.
    pub effective_from: String,
    pub effective_from_confidence: Option<String>,
    pub effective_to: Option<String>,
    pub status: String,
    pub line_voltage_v: f64,
    pub line_frequency_hz: f64,
    /// A second supply (volts, hertz) at which a unit rated for it must also comply.
    pub alt_line: Option<[f64; 2]>,
    /// Roman numeral that this level lets a label carry.
    pub marking: Option<String>,
    pub ten_percent_is_requirement: bool,
    pub ten_percent_reporting: Option<String>,
    pub ten_percent_note: Option<String>,
    #[serde(default = "yes")]
    pub limits_known: bool,
    /// Output power in watts, lowest and highest, that the regime covers.
    pub scope_w: Option<[f64; 2]>,
    /// No-load limit in watts for an adaptive unit that is not of category multiple.
    pub adaptive_no_load_override_w: Option<f64>,
    pub adaptive_no_load_override_source: Option<String>,
    pub mobile_handheld_no_load: Option<MobileHandheldNoLoad>,
    pub power_factor: Option<PowerFactorRule>,
    /// Our category word to this regime's row name; a word that is missing is out of scope.
    #[serde(default)]
    pub ac_dc_category_map: BTreeMap<String, String>,
    #[serde(default)]
    pub conflicts: Vec<String>,
    #[serde(default)]
    pub known_facts: Vec<String>,
    pub edge_note: Option<String>,
    #[serde(default)]
    pub rows: Vec<Row>,
}

fn yes() -> bool {
    true
}

/// What a regime is to a buyer today.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// In force.
    Law,
    /// A code that makers may follow.
    Voluntary,
    /// Adopted, not yet in force.
    Pending,
    /// An earlier rule, kept for comparison.
    Earlier,
    /// A level of the International Efficiency Marking Protocol.
    Marking,
}

/// Lower no-load limit for small mobile handheld products.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct MobileHandheldNoLoad {
    pub applies: String,
    /// Output power in watts below which it may apply.
    pub below_w: f64,
    pub no_load_w: f64,
}

/// Least true power factor at one load.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PowerFactorRule {
    pub min_true_power_factor: f64,
    pub at_load_percent: f64,
    pub line_voltage_v: f64,
    pub line_frequency_hz: f64,
    pub applies_if_input_power_w_at_least: f64,
    pub confidence: String,
}

/// Limits of one category in one power band.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Row {
    pub category: String,
    pub p_min: f64,
    pub p_min_inclusive: bool,
    pub p_max: Option<f64>,
    pub p_max_inclusive: bool,
    pub avg_efficiency: LimitCurve,
    pub no_load_w: Option<f64>,
    pub ten_percent_efficiency: Option<LimitCurve>,
    /// How the figures are known: primary text, secondary source, or from memory.
    pub confidence: String,
    pub note: Option<String>,
    /// Other printed values of the same figure.
    #[serde(default)]
    pub alternates: Vec<Alternate>,
}

/// A value that another print of the same table gives.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Alternate {
    pub ten_percent_efficiency: Option<LimitCurve>,
    pub avg_efficiency: Option<LimitCurve>,
    pub source: String,
    pub why_not_default: String,
}

/// Minimum efficiency (fraction) = a ln(P) + b P + c, P in watts.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct LimitCurve {
    pub a: f64,
    pub b: f64,
    pub c: f64,
}

impl LimitCurve {
    /// The limit at `watts` of output power, a fraction.
    pub fn at(&self, watts: f64) -> f64 {
        // ln is left out where it has no weight: 0 * ln(0) would be NaN.
        let log = if self.a == 0.0 {
            0.0
        } else {
            self.a * watts.ln()
        };
        log + self.b * watts + self.c
    }
}

impl Row {
    /// Does the band hold `watts`?
    pub fn holds(&self, watts: f64) -> bool {
        let above = if self.p_min_inclusive {
            watts >= self.p_min
        } else {
            watts > self.p_min
        };
        let below = match self.p_max {
            None => true,
            Some(max) if self.p_max_inclusive => watts <= max,
            Some(max) => watts < max,
        };
        above && below
    }
}

impl Regime {
    /// This regime's own name for our category; `None`: not covered.
    pub fn category(&self, category: Category) -> Option<&str> {
        self.ac_dc_category_map
            .get(category.word())
            .map(String::as_str)
    }

    /// The row of `category` (the regime's own name) whose band holds `watts`.
    pub fn row(&self, category: &str, watts: f64) -> Option<&Row> {
        self.rows
            .iter()
            .find(|r| r.category == category && r.holds(watts))
    }

    /// The supplies (volts, hertz) at which the regime is assessed, the first one always, the
    /// other only where the nameplate covers it.
    pub fn lines(&self, nameplate_v: Option<(f64, f64)>) -> Vec<(f64, f64)> {
        let first = (self.line_voltage_v, self.line_frequency_hz);
        let Some([volts, hertz]) = self.alt_line else {
            return vec![first];
        };
        match nameplate_v {
            Some((min, max)) => [first, (volts, hertz)]
                .into_iter()
                .filter(|(v, _)| (min..=max).contains(v))
                .collect(),
            None => vec![first],
        }
    }
}
