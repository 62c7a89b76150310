//! A measured value that travels with its standard uncertainty.

/// A value with its standard uncertainty, both in the unit that the context names.
/// `u` is `None` where no instrument data tells it: unknown, which is not zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    pub value: f64,
    pub u: Option<f64>,
}

impl Measured {
    pub fn new(value: f64, u: Option<f64>) -> Measured {
        Measured { value, u }
    }

    /// A value that is known, not measured.
    pub fn exact(value: f64) -> Measured {
        Measured {
            value,
            u: Some(0.0),
        }
    }

    /// Expanded uncertainty U with coverage factor k = 2 (JCGM 100:2008, 6.2; about 95 % for a
    /// normal distribution).
    pub fn expanded(&self) -> Option<f64> {
        self.u.map(|u| 2.0 * u)
    }
}

/// Root of the sum of squares of independent contributions (JCGM 100:2008, 5.1.2).
/// `None` if any of them is unknown.
pub fn combined(contributions: impl IntoIterator<Item = Option<f64>>) -> Option<f64> {
    contributions
        .into_iter()
        .try_fold(0.0, |sum, c| c.map(|c| sum + c * c))
        .map(f64::sqrt)
}

/// Half-width of a rectangular distribution to standard uncertainty: a/√3 (JCGM 100:2008, 4.3.7).
pub fn rectangular(half_width: f64) -> f64 {
    half_width / 3f64.sqrt()
}
