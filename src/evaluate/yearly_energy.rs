//! Energy of a year from the power of each mode and how much of the time it lasts.

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
}
