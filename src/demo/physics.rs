//! What an adapter does when nobody reads a meter: losses, input current, heat, size, price.
//!
//! A model for plausible figures, not for design work. Its shapes are those of the trade (loss
//! a + b I + c I², capacitor-input and corrected line current); its coefficients are chosen by
//! eye so that ordinary units fall where published figures of ordinary units fall.

use super::chance::Chance;
use super::sketch::{Correction, Sketch, Technology};
use crate::bench::record::Connector;

/// A line supply: volts and hertz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Supply {
    pub voltage_v: f64,
    pub frequency_hz: f64,
}

pub(super) const AMERICAN: Supply = Supply {
    voltage_v: 115.0,
    frequency_hz: 60.0,
};
pub(super) const EUROPEAN: Supply = Supply {
    voltage_v: 230.0,
    frequency_hz: 50.0,
};

/// Shape of the input current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    pub power_factor: f64,
    /// Relative to the fundamental, as a fraction.
    pub thd: f64,
    /// Peak over r.m.s.
    pub crest: f64,
}

/// The hidden truth of a unit.
#[derive(Debug, Clone)]
pub(super) struct Design {
    pub output_power_w: f64,
    pub top_voltage_v: f64,
    pub correction: Correction,
    /// Control, core and bias while working, at the top voltage on 115 V.
    fixed_w: f64,
    /// Correction stage: fixed part and part proportional to power.
    correction_fixed_w: f64,
    correction_share: f64,
    /// Primary side: proportional to power, and to its square over rated power.
    primary_linear: f64,
    primary_square: f64,
    /// Secondary side of each port: rectifier volts and ohms of copper, switches and connector.
    rectifier_v: f64,
    copper_ohm: f64,
    /// What the terminals lose per ampere, and how far the set point is off, per cent.
    pub output_resistance_ohm: f64,
    pub set_point_percent: f64,
    pub no_load_w: (f64, f64),
    line_capacitance_f: f64,
    power_factor_uncorrected: (f64, f64),
    corrected_thd: f64,
    idle_crest: f64,
    /// Kelvin per watt of loss, mean of the surface.
    thermal_resistance_k_per_w: f64,
    pub hot_spot_over_mean: f64,
    pub size_mm: [f64; 3],
    pub mass_g: f64,
    pub cord_g: Option<f64>,
    pub packaging_g: f64,
    pub price: f64,
    pub label_input_current_a: f64,
    pub max_ambient_c: f64,
}

impl Design {
    /// Draws the hidden truth of a sketch. `full` is the full-load condition at the highest
    /// voltage: volts and amperes of each port.
    pub(super) fn of(sketch: &Sketch, full: &[(f64, f64)], chance: &mut Chance) -> Design {
        let rated_w = sketch.output_power_w;
        let delivered_w: f64 = full.iter().map(|(v, i)| v * i).sum();
        let top_voltage_v = full.iter().map(|&(v, _)| v).fold(0.0, f64::max);
        let nitride = sketch.technology == Technology::GalliumNitride;
        let several = sketch.ports.len() as f64 - 1.0;

        let fixed_w = (0.11
            + (if nitride { 0.017 } else { 0.023 }) * libm::pow(rated_w, 0.7)
            + 0.03 * several)
            * sketch.fixed_loss_factor
            * (1.0 + 0.25 * chance.bell());

        // Efficiency at full load on 115 V without correction: rises with power, falls with
        // low output voltage and with the second converter that several ports need.
        let (ceiling, slope) = if nitride {
            (0.944, 0.25)
        } else {
            (0.919, 0.30)
        };
        let full_load_efficiency = ceiling - slope / libm::pow(rated_w, 0.65)
            + if rated_w > 120.0 { 0.008 } else { 0.0 }
            - if top_voltage_v < 6.0 { 0.022 } else { 0.0 }
            - if several > 0.0 {
                0.008 + 0.002 * several
            } else {
                0.0
            }
            + 0.008 * chance.bell();
        let loss_w = delivered_w * (1.0 / full_load_efficiency - 1.0) * sketch.loss_factor;
        let with_load_w = (loss_w - fixed_w).max(0.3 * loss_w);
        let primary_w = (0.55 + 0.13 * (rated_w / 200.0).min(1.0)) * with_load_w;
        let secondary_w = with_load_w - primary_w;
        let linear = if nitride { 0.5 } else { 0.6 };
        let amperes: f64 = full.iter().map(|&(_, i)| i).sum();
        let square_amperes: f64 = full.iter().map(|(_, i)| i * i).sum();
        let corrected = sketch.correction != Correction::None;

        let volume_cm3 = if nitride {
            11.0 + libm::pow(rated_w, 1.08) * 0.85
        } else {
            14.0 + libm::pow(rated_w, 1.06) * 1.55
        } * (1.0 + 0.05 * several)
            * chance.between(0.88, 1.18);
        let size_mm = sides(volume_cm3, rated_w > 110.0, chance);
        let surface_m2 = 2.0
            * (size_mm[0] * size_mm[1] + size_mm[1] * size_mm[2] + size_mm[2] * size_mm[0])
            * 1e-6;
        // Convection and radiation together, still air.
        let film_w_per_m2_k = 13.0;

        let typical_no_load_w = (if nitride { 0.020 } else { 0.030 }
            + 0.00033 * rated_w
            + 0.014 * several
            + if corrected { 0.018 } else { 0.0 })
            * (1.0 + 0.5 * chance.bell());
        let base_price = if nitride {
            8.0 + 0.42 * rated_w
        } else {
            5.0 + 0.27 * rated_w
        };
        let power_factor = if corrected { 0.93 } else { 0.56 };
        let desktop = rated_w > 130.0;

        Design {
            output_power_w: rated_w,
            top_voltage_v,
            correction: sketch.correction,
            fixed_w,
            correction_fixed_w: if corrected {
                0.12 + 0.0011 * rated_w
            } else {
                0.0
            },
            correction_share: if corrected {
                0.0105 * chance.between(0.85, 1.2)
            } else {
                0.0
            },
            primary_linear: linear * primary_w / delivered_w,
            primary_square: (1.0 - linear) * primary_w * rated_w / (delivered_w * delivered_w),
            rectifier_v: linear * secondary_w / amperes,
            // A design for many small currents still has real copper: bounded above.
            copper_ohm: ((1.0 - linear) * secondary_w / square_amperes).min(0.16),
            output_resistance_ohm: chance.between(0.014, 0.034)
                + sketch.extra_output_resistance_ohm,
            set_point_percent: 0.55 + 0.5 * chance.bell(),
            no_load_w: sketch.no_load_w.unwrap_or((
                typical_no_load_w,
                typical_no_load_w * chance.between(1.12, 1.35),
            )),
            line_capacitance_f: 1e-6
                * if corrected {
                    0.33 * libm::pow(rated_w / 100.0, 0.5) * chance.between(0.8, 1.2)
                } else if rated_w > 30.0 {
                    chance.pick(&[0.1, 0.15, 0.22])
                } else {
                    chance.pick(&[0.022, 0.033, 0.047])
                },
            power_factor_uncorrected: (chance.between(0.580, 0.620), chance.between(0.502, 0.545)),
            corrected_thd: chance.between(0.050, 0.085),
            idle_crest: chance.between(1.6, 3.4),
            thermal_resistance_k_per_w: sketch.heat_factor * chance.between(0.92, 1.08)
                / (film_w_per_m2_k * surface_m2),
            hot_spot_over_mean: chance.between(1.10, 1.26),
            size_mm,
            mass_g: (volume_cm3 * if nitride { 1.78 } else { 1.22 } * chance.between(0.94, 1.08))
                .round(),
            cord_g: desktop.then(|| chance.between(150.0, 230.0).round()),
            packaging_g: (18.0 + 0.22 * volume_cm3 * chance.between(0.8, 1.3)).round(),
            price: (base_price + 3.5 * several) * chance.between(0.78, 1.28),
            label_input_current_a: (delivered_w / full_load_efficiency / 100.0 / power_factor
                * 10.0)
                .ceil()
                / 10.0,
            max_ambient_c: chance.pick(&[25.0, 35.0, 40.0, 40.0, 40.0, 45.0]),
        }
    }

    /// Input power in watts that carries these outputs (volts, amperes).
    pub(super) fn input_power_w(&self, supply: Supply, outputs: &[(f64, f64)]) -> f64 {
        let power_w: f64 = outputs.iter().map(|(v, i)| v * i).sum();
        let highest_v = outputs.iter().map(|&(v, _)| v).fold(0.0, f64::max);
        // Half the line voltage is twice the line current.
        let current = 115.0 / supply.voltage_v;
        // The core works less at a low output voltage, and harder on a high line.
        let fixed_w = self.fixed_w
            * (0.5 + 0.5 * (highest_v / self.top_voltage_v))
            * (1.0 + 0.12 * (supply.voltage_v / 115.0 - 1.0));
        let primary_w = self.primary_linear * power_w * (0.75 + 0.25 * current)
            + self.primary_square * power_w * power_w / self.output_power_w
                * (0.6 + 0.4 * current * current);
        let secondary_w: f64 = outputs
            .iter()
            .map(|&(_, i)| self.rectifier_v * i + self.copper_ohm * i * i)
            .sum();
        let before_correction_w = power_w + fixed_w + primary_w + secondary_w;
        if self.corrects(before_correction_w) {
            before_correction_w
                + self.correction_fixed_w
                + self.correction_share * before_correction_w * (0.35 + 0.65 * current)
        } else {
            before_correction_w
        }
    }

    fn corrects(&self, input_w: f64) -> bool {
        match self.correction {
            Correction::None => false,
            Correction::Active { off_below_w } => input_w >= off_below_w,
        }
    }

    /// Shape of the line current at this input power.
    pub(super) fn shape(&self, supply: Supply, input_w: f64) -> Shape {
        let load = (input_w / (self.output_power_w * 1.08)).min(1.0);
        let light = 1.0 - load;
        if self.corrects(input_w) {
            let american = supply.voltage_v < 160.0;
            let thd = self.corrected_thd
                * (1.0 + 1.25 * light * light)
                * if american { 1.0 } else { 1.15 };
            // The filter capacitors draw reactive power that does not shrink with the load.
            let tangent = self.reactive_power_var(supply) / input_w + 0.06;
            Shape {
                power_factor: 1.0 / (1.0 + tangent * tangent).sqrt() / (1.0 + thd * thd).sqrt(),
                thd,
                crest: 1.44 + 1.1 * thd,
            }
        } else {
            // Short charging pulses: shorter on a high line and at light load. Power factor is
            // that of the fundamental over sqrt(1 + THD²) (IEEE 1459, sinusoidal voltage).
            let (american, european) = self.power_factor_uncorrected;
            let (full, fall) = if supply.voltage_v < 160.0 {
                (american, 0.085)
            } else {
                (european, 0.048)
            };
            let power_factor = full - fall * light * light.sqrt();
            let fundamental = 0.985 - 0.1 * light;
            let ratio = fundamental / power_factor;
            Shape {
                power_factor,
                thd: (ratio * ratio - 1.0).sqrt(),
                crest: 1.74 / power_factor,
            }
        }
    }

    fn reactive_power_var(&self, supply: Supply) -> f64 {
        supply.voltage_v
            * supply.voltage_v
            * std::f64::consts::TAU
            * supply.frequency_hz
            * self.line_capacitance_f
    }

    /// No-load input: watts, amperes and crest factor. The current is mostly that of the filter
    /// capacitors.
    pub(super) fn idle(&self, supply: Supply) -> (f64, f64, f64) {
        let power_w = if supply.voltage_v < 160.0 {
            self.no_load_w.0
        } else {
            self.no_load_w.1
        };
        let reactive = self.reactive_power_var(supply);
        let current_a = (power_w * power_w + reactive * reactive).sqrt() / supply.voltage_v;
        (power_w, current_a, self.idle_crest)
    }

    /// Rise of the mean surface over the room, kelvin, in balance with this loss.
    pub(super) fn surface_rise_k(&self, loss_w: f64) -> f64 {
        self.thermal_resistance_k_per_w * loss_w
    }

    /// Minutes in which the body comes 63 % of the way to its balance: heat capacity times thermal
    /// resistance.
    pub(super) fn warming_time_constant_min(&self) -> f64 {
        // Plastic, ferrite, copper and potting together.
        let joules_per_g_k = 0.95;
        joules_per_g_k * self.mass_g * self.thermal_resistance_k_per_w / 60.0
    }

    /// Volts at the terminals of a port set to `nominal_v` that carries `current_a`. Makers set
    /// 5 V a little high, because the cord takes the most there.
    pub(super) fn terminal_voltage_v(&self, nominal_v: f64, current_a: f64) -> f64 {
        let lift = if nominal_v < 6.0 { 1.0 } else { 0.0 };
        nominal_v * (1.0 + (self.set_point_percent + lift) / 100.0)
            - self.output_resistance_ohm * current_a
    }
}

/// Sides of a block of this volume, whole millimetres: a brick, or flatter where it stands on a desk.
fn sides(volume_cm3: f64, flat: bool, chance: &mut Chance) -> [f64; 3] {
    let (width, depth) = if flat {
        (chance.between(1.5, 2.1), chance.between(1.2, 1.6))
    } else {
        (chance.between(1.2, 1.6), chance.between(1.1, 1.5))
    };
    let height_mm = libm::pow(volume_cm3 * 1000.0 / (width * depth), 1.0 / 3.0);
    [
        (height_mm * width).round(),
        (height_mm * depth).round(),
        height_mm.round(),
    ]
}

/// Is this the kind of port that a USB PD test loads to 2 A at its lowest voltage?
pub(super) fn is_power_delivery(port: &crate::bench::record::Port) -> bool {
    port.connector == Some(Connector::UsbC) && port.negotiates()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn designed(sketch: &Sketch, full: &[(f64, f64)]) -> Design {
        Design::of(sketch, full, &mut Chance::new(1))
    }

    #[test]
    fn an_uncorrected_input_obeys_the_identity_of_power_factor_and_distortion() {
        let unit = designed(
            &Sketch::new("Larkfield", "T", 65.0).c("C1", 65.0),
            &[(20.0, 3.25)],
        );
        for supply in [AMERICAN, EUROPEAN] {
            for watts in [7.0, 18.0, 36.0, 72.0] {
                let shape = unit.shape(supply, watts);
                let bound = 1.0 / (1.0 + shape.thd * shape.thd).sqrt();
                assert!(shape.power_factor <= bound, "{shape:?}");
                assert!((0.45..0.63).contains(&shape.power_factor), "{shape:?}");
                assert!((1.0..1.75).contains(&shape.thd), "{shape:?}");
            }
        }
    }

    #[test]
    fn a_corrected_input_is_near_one_at_full_load_and_falls_with_the_load() {
        let unit = designed(
            &Sketch::new("Larkfield", "T", 100.0).c("C1", 100.0),
            &[(20.0, 5.0)],
        );
        for supply in [AMERICAN, EUROPEAN] {
            let full = unit.shape(supply, 110.0);
            let quarter = unit.shape(supply, 28.0);
            assert!(
                full.power_factor > 0.98 && full.power_factor < 1.0,
                "{full:?}"
            );
            assert!(quarter.power_factor < full.power_factor);
            assert!(full.thd < 0.12 && full.crest < 1.6);
        }
    }

    #[test]
    fn a_higher_line_voltage_costs_less_at_full_load_and_more_at_light_load() {
        let unit = designed(
            &Sketch::new("Larkfield", "T", 65.0).c("C1", 65.0),
            &[(20.0, 3.25)],
        );
        let loss = |supply, i| unit.input_power_w(supply, &[(20.0, i)]) - 20.0 * i;
        assert!(loss(EUROPEAN, 3.25) < loss(AMERICAN, 3.25));
        assert!(loss(EUROPEAN, 0.05) > loss(AMERICAN, 0.05));
    }
}
