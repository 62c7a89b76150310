//! How runs are done and the wattage classes, as the tables hold them.

use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Procedure {
    pub line: LineTolerance,
    pub load_points: LoadPoints,
    pub usb_pd_lowest_voltage: PdLowestVoltage,
    pub ambient: Vec<AmbientWindow>,
    pub low_voltage: LowVoltage,
    pub cross_checks: CrossChecks,
    pub implied_power_factor: ImpliedPowerFactor,
    pub usb_pd_unit: UsbPdUnit,
    pub order: LoadOrder,
    pub warm_up: WarmUp,
    pub set_up: SetUp,
    pub set_current: SetCurrent,
    pub several_outputs: SeveralOutputs,
    pub adaptive: Sourced,
    pub nameplate_supply: NameplateSupply,
    pub low_power_reading: Sourced,
    /// What is read at a load, in the order of the sheet.
    pub readings: Vec<Reading>,
    pub no_load_readings: Vec<Reading>,
    pub overload: OverloadProcedure,
    pub temperature: TemperatureProcedure,
    pub further: FurtherSources,
}

/// What makes a unit a USB PD EPS of the method.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct UsbPdUnit {
    pub voltage_min_v: f64,
    pub voltage_max_v: f64,
    pub lowest_voltage_at_least_a: f64,
    pub at_most: Vec<MostCurrent>,
    pub source: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct MostCurrent {
    pub voltage_v: f64,
    pub current_a: f64,
}

/// Loads in the order of the bench, percent; 0: no load.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LoadOrder {
    pub loads_percent: Vec<f64>,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct WarmUp {
    pub minutes: f64,
    pub load_percent: f64,
    pub source: String,
}

/// Supply and room of a session.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SetUp {
    /// Least power of the source in nameplate input powers.
    pub least_source_power: f64,
    pub supply_thd_percent: f64,
    pub supply_thd_up_to_order: u32,
    pub crest_factor_min: f64,
    pub crest_factor_max: f64,
    pub air_m_per_s: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SetCurrent {
    /// How close the load's set point must be with several output voltages at the same time.
    pub multiple_percent: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SeveralOutputs {
    pub allocation_source: String,
    pub fixed_beside_pd_source: String,
    pub minimum_current_percent: f64,
    pub minimum_current_source: String,
    pub shared_source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Sourced {
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct NameplateSupply {
    pub margin_percent: f64,
    pub source: String,
}

/// One reading that the sheet asks for; `key` is its path below the point or the no-load section.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Reading {
    pub key: String,
    pub needed_for: NeededFor,
    pub why: String,
    pub source: String,
}

/// What is missing without a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum NeededFor {
    /// Also terms of the score.
    Verdict,
    Score,
    Nothing,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct OverloadProcedure {
    pub first_percent: f64,
    pub step_percent: f64,
    pub up_to_percent: f64,
    pub hold_s: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TemperatureProcedure {
    pub minutes: Vec<f64>,
    pub load_percent: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct FurtherSources {
    pub capabilities_source: String,
    pub sharing_source: String,
    pub size_source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LineTolerance {
    pub tolerance_percent: f64,
    pub warning_tolerance_percent: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LoadPoints {
    pub average_percents: Vec<f64>,
    pub tolerance_percent: f64,
    pub ten_percent: f64,
    pub ten_percent_tolerance: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PdLowestVoltage {
    pub current_a: f64,
    pub load_currents_a: Vec<f64>,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct AmbientWindow {
    pub line_voltage_v: f64,
    pub c: f64,
    pub tolerance_c: f64,
    pub source: String,
}

/// Nameplate voltage and current that make an output "low voltage".
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LowVoltage {
    pub below_v: f64,
    pub at_least_a: f64,
    pub source: String,
}

/// Disagreements inside a record beyond which it is warned, in percent.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct CrossChecks {
    pub power_factor_percent: f64,
    pub no_load_power_factor_percent: f64,
    pub label_power_percent: f64,
    pub load_percent_of_rated: f64,
    pub supply_percent: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ImpliedPowerFactor {
    pub assumed_efficiency: f64,
    pub active_correction_from: f64,
    pub source: String,
}

/// A class holds nameplate powers over `over_w`, up to and including `up_to_w`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WattageClass {
    pub id: String,
    pub label: String,
    pub over_w: f64,
    pub up_to_w: Option<f64>,
}

impl WattageClass {
    pub fn holds(&self, watts: f64) -> bool {
        watts > self.over_w && self.up_to_w.is_none_or(|max| watts <= max)
    }
}

#[derive(Deserialize)]
struct ClassTable {
    classes: Vec<WattageClass>,
}

/// The classes this program ships.
pub fn embedded_classes() -> Vec<WattageClass> {
    classes_from_toml(include_str!("classes.toml")).expect("the shipped class table is well-formed")
}

/// Reads a table of classes and checks that every power belongs to exactly one.
///
/// # Errors
/// A sentence that says what is wrong with the table.
pub fn classes_from_toml(text: &str) -> Result<Vec<WattageClass>, String> {
    let table: ClassTable = toml::from_str(text).map_err(|e| e.to_string())?;
    let mut reached = Some(0.0);
    for class in &table.classes {
        if reached != Some(class.over_w) {
            return Err(format!(
                "class {}: over_w is {}, expected {:?}, where the class before it ends",
                class.id, class.over_w, reached
            ));
        }
        if class.up_to_w.is_some_and(|max| {
            // An end that is no number is as wrong as one below the beginning.
            max.partial_cmp(&class.over_w) != Some(std::cmp::Ordering::Greater)
        }) {
            return Err(format!("class {}: up_to_w must be above over_w", class.id));
        }
        if !class
            .id
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
        {
            return Err(format!(
                "class id {:?}: expected small letters and digits",
                class.id
            ));
        }
        reached = class.up_to_w;
    }
    if table.classes.is_empty() || reached.is_some() {
        return Err("the last class must have no up_to_w, so that every unit has a class".into());
    }
    Ok(table.classes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_power_at_a_class_edge_belongs_to_the_lower_class() {
        let classes = embedded_classes();
        let of = |w: f64| {
            classes
                .iter()
                .filter(|c| c.holds(w))
                .map(|c| c.id.as_str())
                .collect::<Vec<_>>()
        };
        assert_eq!(of(0.3), ["w15"]);
        assert_eq!(of(15.0), ["w15"]);
        assert_eq!(of(15.01), ["w30"]);
        assert_eq!(of(100.0), ["w100"]);
        assert_eq!(of(500.0), ["w240plus"]);
    }

    #[test]
    fn a_table_with_a_gap_is_refused_by_the_class_that_causes_it() {
        let text = "[[classes]]\nid='a'\nlabel='a'\nover_w=0\nup_to_w=10\n[[classes]]\nid='b'\nlabel='b'\nover_w=12\n";
        assert!(classes_from_toml(text).unwrap_err().contains("class b"));
    }
}
