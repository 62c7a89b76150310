//! Even samples at other times: band-limited interpolation, so that a window holds whole cycles.

use std::f64::consts::PI;
use std::sync::LazyLock;

/// Samples on each side that count for a value between two samples.
pub(super) const HALF_WIDTH: usize = 24;

/// Kaiser's shape parameter: what lies outside the band is some 100 dB down, and signals up to
/// 0.43 of the sampling rate pass unchanged to 1e-5 (Kaiser's estimate for 48 samples).
const BETA: f64 = 10.0;

/// Highest frequency, as a share of the sampling rate, that passes unchanged.
pub(super) const PASS_BAND: f64 = 0.43;

/// Entries of the kernel for each sample.
const FINE: usize = 2048;

/// sin(pi x)/(pi x) under a Kaiser window, for x from 0 to [`HALF_WIDTH`].
static KERNEL: LazyLock<Vec<f64>> = LazyLock::new(|| {
    (0..=HALF_WIDTH * FINE + 1)
        .map(|k| {
            let x = k as f64 / FINE as f64;
            let share = x / HALF_WIDTH as f64;
            if share >= 1.0 {
                return 0.0;
            }
            let sinc = if k == 0 {
                1.0
            } else {
                libm::sin(PI * x) / (PI * x)
            };
            sinc * bessel_i0(BETA * (1.0 - share * share).sqrt()) / bessel_i0(BETA)
        })
        .collect()
});

/// Modified Bessel function of order zero, by its series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..60 {
        term *= quarter / f64::from(k * k);
        sum += term;
        if term < 1e-18 * sum {
            break;
        }
    }
    sum
}

fn kernel(distance: f64) -> f64 {
    let place = distance.abs() * FINE as f64;
    let k = (place as usize).min(HALF_WIDTH * FINE);
    let part = place - k as f64;
    KERNEL[k] + part.min(1.0) * (KERNEL[k + 1] - KERNEL[k])
}

/// A signal that can be asked for at any time within its record.
pub(super) struct Interpolated {
    /// [`HALF_WIDTH`] samples more on each side than the record.
    padded: Vec<f64>,
}

impl Interpolated {
    /// `cycle` is the length of a cycle in samples, at least 24; the record holds at least three.
    /// Beyond its ends the signal is taken to be what it was two cycles later or earlier.
    pub fn new(values: &[f64], cycle: f64) -> Interpolated {
        let zeros = vec![0.0; HALF_WIDTH];
        let mut signal = Interpolated {
            padded: [&zeros, values, &zeros].concat(),
        };
        let n = values.len() as f64;
        let before: Vec<f64> = (1..=HALF_WIDTH)
            .rev()
            .map(|k| signal.at(2.0 * cycle - k as f64))
            .collect();
        let after: Vec<f64> = (0..HALF_WIDTH)
            .map(|k| signal.at(n + k as f64 - 2.0 * cycle))
            .collect();
        signal.padded[..HALF_WIDTH].copy_from_slice(&before);
        let end = HALF_WIDTH + values.len();
        signal.padded[end..].copy_from_slice(&after);
        signal
    }

    /// Value at a place between samples, counted from the first one of the record.
    pub fn at(&self, place: f64) -> f64 {
        let last = (self.padded.len() - 2 * HALF_WIDTH) as f64;
        let place = place.clamp(-0.5, last) + HALF_WIDTH as f64;
        let below = place.floor() as usize;
        let first = (below + 1).saturating_sub(HALF_WIDTH);
        let end = (below + 1 + HALF_WIDTH).min(self.padded.len());
        let (mut sum, mut weights) = (0.0, 0.0);
        for (k, value) in self.padded[first..end].iter().enumerate() {
            let weight = kernel(place - (first + k) as f64);
            sum += weight * value;
            weights += weight;
        }
        // Over the sum of the weights a constant stays exactly that.
        sum / weights
    }

    /// `points` values from `start` on, over a length in samples.
    pub fn window(&self, start: f64, length: f64, points: usize) -> Vec<f64> {
        let step = length / points as f64;
        (0..points)
            .map(|k| self.at(start + step * k as f64))
            .collect()
    }
}

/// The smallest even number from `least` on that has no prime factor above five: quick to
/// transform.
pub(super) fn quick_length(least: usize) -> usize {
    (least.max(2)..)
        .find(|&n| {
            let mut rest = n;
            for prime in [2, 3, 5] {
                while rest.is_multiple_of(prime) {
                    rest /= prime;
                }
            }
            rest == 1 && n.is_multiple_of(2)
        })
        .expect("there is a power of two above any length in memory")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_up_to_the_fortieth_harmonic_at_ten_thousand_samples_a_second_is_found_between_them() {
        let cycle = 10_000.0 / 50.3;
        for order in [1.0, 7.0, 40.0] {
            let tone = |place: f64| (2.0 * PI * order * place / cycle + 0.3).cos();
            let samples: Vec<f64> = (0..2000).map(|k| tone(f64::from(k))).collect();
            let signal = Interpolated::new(&samples, cycle);
            // Near the ends too, where samples are borrowed from other cycles.
            for place in [-0.4, 0.3, 1.5, 700.123, 1000.5, 1998.7, 1999.4] {
                let off = (signal.at(place) - tone(place)).abs();
                assert!(off < 3e-5, "order {order} at {place}: {off:e}");
            }
        }
    }

    #[test]
    fn lengths_are_even_and_quick() {
        assert_eq!(quick_length(2001), 2048);
        assert_eq!(quick_length(2000), 2000);
        assert_eq!(quick_length(0), 2);
    }
}
