//! Limits of harmonic currents drawn from the mains, and how a waveform is held against them, as
//! the table holds them.

use crate::bench::record::HarmonicClass;
use serde::Deserialize;

/// IEC 61000-3-2 with the windows of IEC 61000-4-7.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct HarmonicLimits {
    pub title: String,
    pub citation: String,
    pub note: String,
    pub scope: HarmonicScope,
    pub exemption: HarmonicExemption,
    pub class_assignment: ClassAssignment,
    pub class_a: Vec<HarmonicRow>,
    pub class_d: Vec<HarmonicRow>,
    pub comparison: HarmonicComparison,
    pub partial_odd_harmonic_current: PartialOddHarmonicCurrent,
    pub short_excursion: ShortExcursion,
    pub window: HarmonicWindow,
    pub test_supply: TestSupply,
    pub agreement: Agreement,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct HarmonicScope {
    pub largest_current_a: f64,
    /// Nominal line-to-neutral voltage from which on limits are set.
    pub least_nominal_voltage_v: f64,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct HarmonicExemption {
    /// No limits at this rated input power or less.
    pub rated_power_w: f64,
    pub assumed_efficiency: f64,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ClassAssignment {
    pub default: HarmonicClass,
    pub class_d_up_to_w: f64,
    pub reason: String,
    pub reason_d: String,
    pub confidence: String,
}

/// Limits of one order or of every second order in a range.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct HarmonicRow {
    /// First and last, every second one.
    pub orders: [u32; 2],
    /// r.m.s. amperes.
    pub limit_a: Option<f64>,
    /// The limit is this over the order.
    pub limit_times_order_a: Option<f64>,
    /// Milliamperes per watt of active input power.
    pub limit_ma_per_w: Option<f64>,
    /// Milliamperes per watt are this over the order.
    pub limit_times_order_ma_per_w: Option<f64>,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct HarmonicComparison {
    pub smoothed_up_to_percent: f64,
    pub floor_percent_of_input_current: f64,
    pub floor_a: f64,
    pub repeatability_percent: f64,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct PartialOddHarmonicCurrent {
    pub orders: [u32; 2],
    pub mean_up_to_percent: f64,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ShortExcursion {
    pub smoothed_up_to_percent: f64,
    pub share_percent: f64,
    pub longest_s: f64,
    pub mean_up_to_percent: f64,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct HarmonicWindow {
    pub cycles_at_50_hz: u32,
    pub cycles_at_60_hz: u32,
    pub highest_order: u32,
    pub smoothing_weight: f64,
    pub citation: String,
    pub confidence: String,
}

/// What the supply of a conformity test must keep.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TestSupply {
    pub nominal_voltage_v: f64,
    pub nominal_frequency_hz: f64,
    pub voltage_tolerance_percent: f64,
    pub frequency_tolerance_percent: f64,
    pub harmonics: Vec<SupplyHarmonic>,
    pub crest_factor_least: f64,
    pub crest_factor_most: f64,
    pub confidence: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SupplyHarmonic {
    /// First and last, every second one.
    pub orders: [u32; 2],
    pub most_percent: f64,
}

/// How far a waveform's figures may lie from the analyser's.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Agreement {
    /// A waveform within this of 100 % load, in percentage points, is one at full load.
    pub full_load_percent_tolerance: f64,
    pub source: String,
    pub quantities: Vec<AgreementTolerance>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct AgreementTolerance {
    /// Word of the record's quantity, such as `input_power_w`.
    pub quantity: String,
    /// Share of the analyser's reading.
    pub percent: f64,
    /// At least this much, in the quantity's unit.
    pub absolute: f64,
}

/// Does an order belong to first, first + 2, … last?
fn holds(orders: [u32; 2], order: u32) -> bool {
    (orders[0]..=orders[1]).contains(&order) && (order - orders[0]).is_multiple_of(2)
}

impl SupplyHarmonic {
    pub fn holds(&self, order: u32) -> bool {
        holds(self.orders, order)
    }
}

impl HarmonicLimits {
    /// The limits this program ships.
    pub fn embedded() -> HarmonicLimits {
        toml::from_str(include_str!("harmonics.toml"))
            .expect("the shipped table of harmonic limits is well-formed")
    }

    /// Limit of r.m.s. current in amperes for an order; `power_w`, the active input power, counts
    /// in Class D only. `None`: the class sets no limit for this order.
    pub fn limit_a(&self, class: HarmonicClass, order: u32, power_w: f64) -> Option<f64> {
        let find = |rows: &[HarmonicRow], of: &dyn Fn(&HarmonicRow) -> Option<f64>| {
            rows.iter().find(|r| holds(r.orders, order)).and_then(of)
        };
        let n = f64::from(order);
        let class_a = || {
            find(&self.class_a, &|r| {
                r.limit_a.or(r.limit_times_order_a.map(|x| x / n))
            })
        };
        match class {
            HarmonicClass::A => class_a(),
            HarmonicClass::D => {
                let ma_per_w = find(&self.class_d, &|r| {
                    r.limit_ma_per_w
                        .or(r.limit_times_order_ma_per_w.map(|x| x / n))
                })?;
                let by_power = ma_per_w / 1000.0 * power_w.max(0.0);
                Some(class_a().map_or(by_power, |cap| by_power.min(cap)))
            }
        }
    }

    /// Orders of the partial odd harmonic current.
    pub fn partial_odd_orders(&self) -> impl Iterator<Item = u32> + use<> {
        let [first, last] = self.partial_odd_harmonic_current.orders;
        (first..=last).step_by(2)
    }

    /// Partial odd harmonic current of the limits, in amperes.
    pub fn partial_odd_limit_a(&self, class: HarmonicClass, power_w: f64) -> f64 {
        self.partial_odd_orders()
            .filter_map(|n| self.limit_a(class, n, power_w))
            .map(|limit| limit * limit)
            .sum::<f64>()
            .sqrt()
    }

    /// What a harmonic must exceed to be looked at, in amperes, at an input current in amperes.
    pub fn floor_a(&self, input_current_a: f64) -> f64 {
        let share = self.comparison.floor_percent_of_input_current / 100.0;
        self.comparison.floor_a.max(share * input_current_a)
    }

    /// Cycles of a window at a nominal frequency of 50 or 60 Hz.
    pub fn window_cycles(&self, nominal_frequency_hz: f64) -> u32 {
        if nominal_frequency_hz < 55.0 {
            self.window.cycles_at_50_hz
        } else {
            self.window.cycles_at_60_hz
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_row_is_known_from_somewhere_and_gives_exactly_one_figure() {
        let limits = HarmonicLimits::embedded();
        for row in limits.class_a.iter().chain(&limits.class_d) {
            assert!(!row.confidence.is_empty(), "{row:?}");
            let figures = [
                row.limit_a,
                row.limit_times_order_a,
                row.limit_ma_per_w,
                row.limit_times_order_ma_per_w,
            ];
            assert_eq!(figures.iter().flatten().count(), 1, "{row:?}");
        }
    }

    #[test]
    fn class_a_limits_every_order_from_2_to_40_and_class_d_the_odd_ones_only() {
        let limits = HarmonicLimits::embedded();
        for order in 2..=40 {
            assert!(limits.limit_a(HarmonicClass::A, order, 0.0).is_some());
            assert_eq!(
                limits.limit_a(HarmonicClass::D, order, 100.0).is_some(),
                order % 2 == 1,
                "{order}"
            );
        }
        for class in [HarmonicClass::A, HarmonicClass::D] {
            assert_eq!(limits.limit_a(class, 1, 100.0), None);
            assert_eq!(limits.limit_a(class, 41, 100.0), None);
        }
    }
}
