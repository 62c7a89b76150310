//! Energy of a year from the power of each mode and how much of the time it lasts.

use super::loss_model::LossCurve;
use crate::quantity::Measured;
use crate::standards::UseProfile;

/// Hours of a year of 365 days.
pub const HOURS_A_YEAR: f64 = 8760.0;

/// A mode of use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ModeOfUse {
    pub power_w: f64,
    /// Share of the year, 0..=1.
    pub share: f64,
}

/// Typical energy consumption E = sum(P t) in kilowatt-hours a year.
///
/// # Errors
/// A sentence if a share lies outside 0..=1, a power is no number of at least 0, or the shares
/// together are not the whole year: energy of an unknown mode is not zero.
pub fn typical_kwh(modes: &[ModeOfUse]) -> Result<f64, String> {
    for mode in modes {
        if !(0.0..=1.0).contains(&mode.share) {
            return Err(format!("share of the year {}: expected 0 to 1", mode.share));
        }
        if !(mode.power_w >= 0.0 && mode.power_w.is_finite()) {
            return Err(format!(
                "power {} W: expected a number of at least 0",
                mode.power_w
            ));
        }
    }
    let together: f64 = modes.iter().map(|m| m.share).sum();
    // Shares are written with few digits.
    if (together - 1.0).abs() > 1e-6 {
        return Err(format!(
            "the shares of the year are {together} together: expected 1"
        ));
    }
    let mean_w: f64 = modes.iter().map(|m| m.power_w * m.share).sum();
    Ok(mean_w * HOURS_A_YEAR / 1000.0)
}

/// Days of the year that [`HOURS_A_YEAR`] has.
pub const DAYS_A_YEAR: f64 = 365.0;

/// What an adapter loses in a year of a use profile, in kilowatt-hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearlyLoss {
    /// While something is attached.
    pub loaded: Measured,
    /// Plugged in with nothing attached.
    pub no_load: Measured,
    /// Both together.
    pub total: Measured,
    /// What comes out at the ports.
    pub delivered_kwh: f64,
}

/// Why a unit has no figure for a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lacks {
    /// Its losses at loads were not measured, or at too few loads.
    LossModel,
    /// Its no-load power was not measured.
    NoLoad,
    /// It was not measured up to the profile's load, or is not made for it.
    Load { power_w: f64, covered_to_w: f64 },
}

/// Energy lost in a year: sum of loss times hours. The errors of the instruments are the same at
/// every load (fully correlated, as in an average efficiency); no-load power is another range or
/// instrument, independent of them.
///
/// # Errors
/// What the unit lacks for this profile; no part of it is guessed.
pub fn yearly_loss(
    curve: Option<&LossCurve>,
    no_load_w: Option<Measured>,
    profile: &UseProfile,
) -> Result<YearlyLoss, Lacks> {
    let kwh = |power_w: f64, hours: f64| power_w * hours * DAYS_A_YEAR / 1000.0;
    let mut loaded = Measured::exact(0.0);
    let mut delivered_kwh = 0.0;
    for load in profile.loads.iter().filter(|l| l.hours_a_day > 0.0) {
        let curve = curve.ok_or(Lacks::LossModel)?;
        let loss = curve.loss_at(load.power_w).ok_or(Lacks::Load {
            power_w: load.power_w,
            covered_to_w: curve.model.valid_to_w,
        })?;
        loaded = Measured::new(
            loaded.value + kwh(loss.value, load.hours_a_day),
            loaded
                .u
                .zip(loss.u)
                .map(|(sum, u)| sum + kwh(u, load.hours_a_day)),
        );
        delivered_kwh += kwh(load.power_w, load.hours_a_day);
    }
    let no_load = if profile.no_load_hours_a_day > 0.0 {
        let power_w = no_load_w.ok_or(Lacks::NoLoad)?;
        Measured::new(
            kwh(power_w.value, profile.no_load_hours_a_day),
            power_w.u.map(|u| kwh(u, profile.no_load_hours_a_day)),
        )
    } else {
        Measured::exact(0.0)
    };
    Ok(YearlyLoss {
        loaded,
        no_load,
        total: Measured::new(
            loaded.value + no_load.value,
            loaded.u.zip(no_load.u).map(|(a, b)| a.hypot(b)),
        ),
        delivered_kwh,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_year_with_a_mode_left_out_has_no_energy_figure() {
        let known = ModeOfUse {
            power_w: 2.0,
            share: 0.75,
        };
        let rest = ModeOfUse {
            power_w: 0.0,
            share: 0.25,
        };
        assert!(typical_kwh(&[known]).unwrap_err().contains("0.75"));
        assert_eq!(typical_kwh(&[known, rest]), Ok(13.14));
    }

    fn curve() -> LossCurve {
        LossCurve {
            model: crate::evaluate::evaluation::LossModel {
                a_w: 0.5,
                b_v: 0.4,
                c_ohm: 0.1,
                rms_residual_w: 0.0,
                peak_efficiency: 0.9,
                peak_at_w: 20.0,
                effective_voltage_v: 10.0,
                valid_to_w: 30.0,
            },
            known_u: vec![(0.0, Some(0.01)), (20.0, Some(0.03))],
        }
    }

    #[test]
    fn a_load_beyond_what_was_measured_gives_no_figure() {
        let profile = UseProfile::of_reader(["45:1"]).unwrap();
        assert_eq!(
            yearly_loss(Some(&curve()), None, &profile),
            Err(Lacks::Load {
                power_w: 45.0,
                covered_to_w: 30.0
            })
        );
        let idle = UseProfile::of_reader(["0:24"]).unwrap();
        assert_eq!(yearly_loss(Some(&curve()), None, &idle), Err(Lacks::NoLoad));
        assert_eq!(
            yearly_loss(None, Some(Measured::exact(0.1)), &profile),
            Err(Lacks::LossModel)
        );
    }

    #[test]
    fn a_year_is_loss_times_hours_and_its_uncertainty_follows() {
        let profile = UseProfile::of_reader(["10:2", "20:1", "0:10"]).unwrap();
        let year = yearly_loss(
            Some(&curve()),
            Some(Measured::new(0.1, Some(0.02))),
            &profile,
        )
        .unwrap();
        // at 10 W, 1 A: 0.5 + 0.4 + 0.1 = 1.0 W; at 20 W, 2 A: 0.5 + 0.8 + 0.4 = 1.7 W
        let loaded = (1.0 * 2.0 + 1.7 * 1.0) * 0.365;
        let idle = 0.1 * 10.0 * 0.365;
        assert!((year.loaded.value - loaded).abs() < 1e-12);
        assert!((year.total.value - loaded - idle).abs() < 1e-12);
        assert!((year.delivered_kwh - 40.0 * 0.365).abs() < 1e-12);
        // u(10 W) = 0.02 W between the points, u(20 W) = 0.03 W: together, then no load aside
        let u: f64 = ((0.02 * 2.0 + 0.03) * 0.365f64).hypot(0.02 * 10.0 * 0.365);
        assert!((year.total.u.unwrap() - u).abs() < 1e-12);
    }
}
