//! What the rules for USB outputs ask of a source of a rating, and how far a voltage may be off:
//! `usb_pd.toml` as types.

use serde::Deserialize;

/// What a USB PD source of a rating must offer.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PdRules {
    pub citation: String,
    pub current_tolerance_a: f64,
    pub rows: Vec<PdRow>,
    pub more_current: MoreCurrent,
    pub twelve_volt: TwelveVolt,
    pub list: ListRules,
    pub pps: PpsRules,
    pub spr_avs: SprAvsRules,
    pub epr_avs: EprAvsRules,
    /// From the least to the most capable.
    pub cables: Vec<Cable>,
    pub cable_rule: Sourced,
    pub windows: Vec<VoltageWindow>,
    pub charging_port_droop: ChargingPortDroop,
    pub sharing: SharingRules,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PdRow {
    pub over_w: f64,
    pub up_to_w: f64,
    pub fixed: Vec<PdFixed>,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct PdFixed {
    pub voltage_v: f64,
    /// Absent: the rating divided by the voltage.
    pub current_a: Option<f64>,
}

/// Where a rule stands.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Sourced {
    pub source: String,
}

/// The optional currents above the required ones.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct MoreCurrent {
    pub up_to_a: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TwelveVolt {
    pub voltage_v: f64,
    /// Without a 5 A cable.
    pub standard_cable_a: f64,
    pub up_to_a: f64,
    pub source: String,
}

/// How many objects a list holds.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ListRules {
    pub standard_objects: usize,
    pub objects: usize,
    pub source: String,
    /// Of the bit that a source of extended objects sets.
    pub extended_capable_source: String,
    /// Of one object for each offer.
    pub repeat_source: String,
    /// Of the connector that Power Delivery needs.
    pub connector_source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PpsRules {
    pub source: String,
    pub current_step_a: f64,
    pub minima: Vec<PpsMinimum>,
    pub ranges: Vec<PpsRange>,
    pub rows: Vec<PpsRow>,
}

/// The lowest voltage of a programmable range tells which generation of the rules it follows.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PpsMinimum {
    pub voltage_v: f64,
    pub generation: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PpsRange {
    pub name: String,
    pub nominal_v: f64,
    pub voltage_max_v: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PpsRow {
    pub up_to_w: f64,
    /// Does `up_to_w` itself belong to the row?
    pub inclusive: bool,
    pub ranges: Vec<PpsNeed>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PpsNeed {
    pub name: String,
    /// Absent: the rating divided by the range's nominal voltage.
    pub current_a: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SprAvsRules {
    pub source: String,
    pub rows: Vec<SprAvsRow>,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct SprAvsRow {
    pub over_w: f64,
    pub up_to_w: f64,
    /// From 9 V to 15 V; absent: the rating divided by 15 V.
    pub to_15v_a: Option<f64>,
    /// Highest voltage, 15 V or 20 V.
    pub to_v: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct EprAvsRules {
    pub source: String,
    pub voltage_min_v: f64,
    pub rows: Vec<EprAvsRow>,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct EprAvsRow {
    pub over_w: f64,
    pub up_to_w: f64,
    pub to_v: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Cable {
    pub name: String,
    pub max_a: f64,
    pub max_v: f64,
    pub emarker: bool,
}

/// Where the steady voltage at a connector should lie: either `low_v` to `high_v`, or within
/// `tolerance_percent` of what was agreed or rated.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct VoltageWindow {
    /// Word of the record: `usb-c`, `usb-a`, `barrel`.
    pub connector: String,
    /// The one nominal voltage that it holds for; absent: any.
    pub voltage_v: Option<f64>,
    pub low_v: Option<f64>,
    pub high_v: Option<f64>,
    pub tolerance_percent: Option<f64>,
    pub name: String,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ChargingPortDroop {
    pub floor_v: f64,
    pub from_a: f64,
    pub to_a: f64,
    pub source: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SharingRules {
    /// What every exposed USB-C port keeps, watts.
    pub least_w: f64,
    pub source: String,
}

/// Volts that are the same nominal voltage.
const SAME_VOLTAGE_V: f64 = 0.01;

impl PdRules {
    /// Required fixed (volts, amperes) of a source rated `watts`; `None` above the tables.
    pub fn required(&self, watts: f64) -> Option<Vec<(f64, f64)>> {
        let row = self
            .rows
            .iter()
            .find(|r| watts > r.over_w && watts <= r.up_to_w)?;
        Some(
            row.fixed
                .iter()
                .map(|f| (f.voltage_v, f.current_a.unwrap_or(watts / f.voltage_v)))
                .collect(),
        )
    }

    /// The least capable cable that carries `amperes` at `volts`; `None` beyond all.
    pub fn cable(&self, volts: f64, amperes: f64) -> Option<&Cable> {
        self.cables
            .iter()
            .find(|c| amperes <= c.max_a + 1e-9 && volts <= c.max_v + 1e-9)
    }

    /// (low, high, window) for a nominal or agreed voltage at a connector, in volts.
    pub fn window(&self, connector: &str, nominal_v: f64) -> Option<(f64, f64, &VoltageWindow)> {
        let window = self.windows.iter().find(|w| {
            w.connector == connector
                && w.voltage_v
                    .is_none_or(|v| (v - nominal_v).abs() < SAME_VOLTAGE_V)
        })?;
        let share = window.tolerance_percent.unwrap_or(0.0) / 100.0;
        Some((
            window.low_v.unwrap_or(nominal_v * (1.0 - share)),
            window.high_v.unwrap_or(nominal_v * (1.0 + share)),
            window,
        ))
    }
}

impl PpsRules {
    /// (range, amperes) that a source rated `watts` must offer if it offers any programmable
    /// range; none above the tables.
    pub fn required(&self, watts: f64) -> Vec<(&PpsRange, f64)> {
        let row = self.rows.iter().find(|row| {
            if row.inclusive {
                watts <= row.up_to_w
            } else {
                watts < row.up_to_w
            }
        });
        row.into_iter()
            .flat_map(|row| &row.ranges)
            .filter_map(|need| {
                let range = self.ranges.iter().find(|r| r.name == need.name)?;
                Some((range, need.current_a.unwrap_or(watts / range.nominal_v)))
            })
            .collect()
    }

    /// The range that ends at this voltage.
    pub fn range_to(&self, voltage_max_v: f64) -> Option<&PpsRange> {
        self.ranges
            .iter()
            .find(|r| (r.voltage_max_v - voltage_max_v).abs() < SAME_VOLTAGE_V)
    }

    /// The generation whose ranges begin at this voltage.
    pub fn generation(&self, voltage_min_v: f64) -> Option<&str> {
        self.minima
            .iter()
            .find(|m| (m.voltage_v - voltage_min_v).abs() < SAME_VOLTAGE_V)
            .map(|m| m.generation.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::Standards;

    fn rules() -> PdRules {
        Standards::embedded().pd_rules
    }

    #[test]
    fn every_range_that_a_row_names_is_listed_and_the_rows_rise() {
        let pps = rules().pps;
        for row in &pps.rows {
            for need in &row.ranges {
                assert!(pps.ranges.iter().any(|r| r.name == need.name));
            }
        }
        assert!(pps.rows.windows(2).all(|w| w[0].up_to_w <= w[1].up_to_w));
    }

    #[test]
    fn programmable_ranges_change_at_the_edges_of_the_rules() {
        let names = |watts: f64| {
            rules()
                .pps
                .required(watts)
                .iter()
                .map(|(range, amperes)| format!("{} {amperes:.2}", range.name))
                .collect::<Vec<_>>()
        };
        assert_eq!(names(15.0), ["5V Prog 3.00"]);
        assert_eq!(names(18.0), ["5V Prog 3.00", "9V Prog 2.00"]);
        assert_eq!(names(27.0), ["9V Prog 3.00"]);
        assert_eq!(names(30.0), ["9V Prog 3.00", "15V Prog 2.00"]);
        assert_eq!(names(45.0), ["15V Prog 3.00"]);
        assert_eq!(names(50.0), ["15V Prog 3.00", "20V Prog 2.50"]);
        assert_eq!(names(60.0), ["20V Prog 3.00"]);
        assert_eq!(names(100.0), ["20V Prog 5.00"]);
        assert!(names(140.0).is_empty());
    }

    #[test]
    fn the_cable_follows_current_and_voltage() {
        let rules = rules();
        let name = |v, a| rules.cable(v, a).map(|c| c.max_a + c.max_v);
        assert_eq!(name(20.0, 3.0), Some(24.0));
        assert_eq!(name(20.0, 3.25), Some(26.0));
        assert_eq!(name(28.0, 3.0), Some(55.0));
        assert_eq!(name(48.0, 6.0), None);
    }

    #[test]
    fn windows_are_those_of_the_notes() {
        let rules = rules();
        let window = |connector, v| rules.window(connector, v).map(|(low, high, _)| (low, high));
        assert_eq!(window("usb-c", 5.0), Some((4.75, 5.5)));
        assert_eq!(window("usb-a", 5.0), Some((4.75, 5.25)));
        assert_eq!(window("usb-a", 9.0), None, "no standard says");
        for (v, low, high) in [
            (9.0, 8.55, 9.45),
            (15.0, 14.25, 15.75),
            (20.0, 19.0, 21.0),
            (28.0, 26.6, 29.4),
            (36.0, 34.2, 37.8),
            (48.0, 45.6, 50.4),
        ] {
            let (l, h) = window("usb-c", v).unwrap();
            assert!((l - low).abs() < 1e-9 && (h - high).abs() < 1e-9, "{v} V");
        }
    }
}
