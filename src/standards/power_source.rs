//! Limited-power and power-class figures, and how overload steps are read: `power_source.toml` as
//! types.

use serde::Deserialize;

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PowerSource {
    pub limited_power: Vec<LimitedPower>,
    /// From the lowest to the highest.
    pub power_classes: Vec<PowerClass>,
    pub above: AboveClasses,
    pub protection: ProtectionReading,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LimitedPower {
    pub id: String,
    pub title: String,
    pub citation: String,
    /// Seconds after which current and power are read.
    pub after_s: f64,
    pub source: String,
    pub rows: Vec<LimitedPowerRow>,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct LimitedPowerRow {
    /// Open-circuit voltage above this, volts.
    pub over_v: f64,
    pub up_to_v: f64,
    pub current_a: Option<f64>,
    /// In place of a current: this many volts divided by the open-circuit voltage, in amperes.
    pub current_volts: Option<f64>,
    pub power_va: f64,
}

impl LimitedPower {
    /// (amperes, volt-amperes) at an open-circuit voltage; `None` beyond the table.
    pub fn figures(&self, open_circuit_v: f64) -> Option<(f64, f64)> {
        let row = self
            .rows
            .iter()
            .find(|r| open_circuit_v > r.over_v && open_circuit_v <= r.up_to_v)?;
        let current_a = row
            .current_a
            .or(row.current_volts.map(|v| v / open_circuit_v))?;
        Some((current_a, row.power_va))
    }
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PowerClass {
    pub id: String,
    pub power_w: f64,
    pub after_s: f64,
    pub citation: String,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct AboveClasses {
    pub id: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ProtectionReading {
    pub held_share: f64,
    pub off_share: f64,
    pub good_voltage_share: f64,
    pub current_share: f64,
    pub source: String,
}

impl PowerSource {
    /// The class whose power holds these watts, sustained.
    pub fn class_of(&self, watts: f64) -> &str {
        self.power_classes
            .iter()
            .find(|c| watts <= c.power_w)
            .map_or(self.above.id.as_str(), |c| c.id.as_str())
    }
}

#[cfg(test)]
mod tests {
    use crate::standards::Standards;

    #[test]
    fn the_rows_of_limited_power_meet_and_every_row_gives_a_current() {
        for table in Standards::embedded().power_source.limited_power {
            for pair in table.rows.windows(2) {
                assert_eq!(pair[0].up_to_v, pair[1].over_v);
            }
            for row in &table.rows {
                assert!(table.figures(row.up_to_v).is_some());
            }
        }
    }

    /// Standards notes, section 1.1: 150/48 = 3.125 A, 150/36 = 4.167 A; at 28 V the 8 A row.
    #[test]
    fn the_current_figure_falls_with_the_voltage_above_30_v() {
        let lps = &Standards::embedded().power_source.limited_power[0];
        assert_eq!(lps.figures(48.0), Some((3.125, 100.0)));
        assert!((lps.figures(36.0).unwrap().0 - 4.1667).abs() < 1e-4);
        assert_eq!(lps.figures(28.0), Some((8.0, 100.0)));
        assert_eq!(lps.figures(61.0), None);
    }
}
