//! Frequency of the voltage's fundamental, far below the spacing of spectral lines.

use super::sampling::LEAST_CYCLES;
use realfft::num_complex::Complex;
use std::f64::consts::TAU;

/// Where the fundamental of a mains may lie, in hertz: a little beyond what a record may say.
const RANGE_HZ: (f64, f64) = (44.0, 67.0);

/// The search begins on no more than this many samples.
const FEW_SAMPLES: usize = 4096;

/// Turns by a constant angle; exact again every so many steps, so that errors don't gather.
struct Turning {
    step: Complex<f64>,
    angle: f64,
    first: f64,
    now: Complex<f64>,
    count: usize,
}

impl Turning {
    const EXACT_EVERY: usize = 128;

    fn new(first: f64, angle: f64) -> Turning {
        Turning {
            step: unit(angle),
            angle,
            first,
            now: unit(first),
            count: 0,
        }
    }

    fn next(&mut self) -> Complex<f64> {
        let now = self.now;
        self.count += 1;
        self.now = if self.count.is_multiple_of(Turning::EXACT_EVERY) {
            unit(self.first + self.angle * self.count as f64)
        } else {
            now * self.step
        };
        now
    }
}

/// e^(j angle), the same on every machine.
fn unit(angle: f64) -> Complex<f64> {
    let (sin, cos) = libm::sincos(angle);
    Complex::new(cos, sin)
}

/// The fundamental's phasor (r.m.s.) under a Hann window of `length` samples from `start`, both
/// fractional, against a clock of `cycles_a_sample`. Over a whole number of cycles, two or more,
/// dc and every harmonic are nulls of this window.
fn phasor(
    values: &[f64],
    start: f64,
    length: f64,
    cycles_a_sample: f64,
    stride: usize,
) -> Complex<f64> {
    let first = start.ceil().max(0.0) as usize;
    let last = ((start + length).floor() as usize).min(values.len().saturating_sub(1));
    if first > last {
        return Complex::new(0.0, 0.0);
    }
    let turn = TAU * stride as f64;
    let mut clock = Turning::new(
        -TAU * cycles_a_sample * first as f64,
        -turn * cycles_a_sample,
    );
    let mut hann = Turning::new(TAU * (first as f64 - start) / length, turn / length);
    let mut sum = Complex::new(0.0, 0.0);
    for value in values[first..=last].iter().step_by(stride) {
        sum += clock.next() * (value * (1.0 - hann.next().re));
    }
    // The window's mean is 1: the mean times two is the amplitude, over the root of two r.m.s.
    sum * (stride as f64 / length * 2f64.sqrt())
}

/// Frequency in hertz.
///
/// A coarse search over the beginning, then the phase of the fundamental at both ends of ever
/// longer stretches: its drift against the clock is the error of the frequency. Windows hold
/// whole cycles, so a periodic voltage of any shape has no bias.
///
/// # Errors
/// A sentence if there is no fundamental of a mains.
pub(super) fn of_fundamental(
    voltage_v: &[f64],
    interval_s: f64,
    nominal_hz: f64,
) -> Result<f64, String> {
    let n = voltage_v.len();
    let mean = voltage_v.iter().sum::<f64>() / n as f64;
    let beginning = n.min((12.0 / (nominal_hz * interval_s)).ceil() as usize);
    let without_dc: Vec<f64> = voltage_v[..beginning].iter().map(|v| v - mean).collect();
    let stride = (beginning / FEW_SAMPLES).max(1);
    let found = (0..=((RANGE_HZ.1 - RANGE_HZ.0) * 4.0) as usize)
        .map(|k| RANGE_HZ.0 + k as f64 * 0.25)
        .map(|hz| {
            let sum = phasor(&without_dc, 0.0, beginning as f64, hz * interval_s, stride);
            (hz, sum.norm_sqr())
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, power)| *power > 0.0)
        .ok_or("no fundamental: the voltage does not change")?;

    let mut hz = found.0;
    let mut stretch = beginning;
    loop {
        // The last stretch is walked until the frequency stands still.
        let rounds = if stretch == n { 12 } else { 3 };
        for _ in 0..rounds {
            let Some(better) = refined(&voltage_v[..stretch], interval_s, hz) else {
                break;
            };
            let change = (better - hz).abs();
            hz = better;
            if change <= 1e-13 * hz {
                break;
            }
        }
        if !(RANGE_HZ.0..=RANGE_HZ.1).contains(&hz) {
            return Err(format!(
                "no fundamental between {} and {} Hz",
                RANGE_HZ.0, RANGE_HZ.1
            ));
        }
        if stretch == n {
            break;
        }
        stretch = n.min(stretch * 4);
    }
    let cycles = n as f64 * interval_s * hz;
    // A hair less than three cycles still is three: the frequency was not known to this digit.
    if cycles < LEAST_CYCLES - 0.01 {
        return Err(format!(
            "too short: {cycles:.2} cycles of {hz:.2} Hz, expected at least {LEAST_CYCLES}"
        ));
    }
    Ok(hz)
}

/// One step towards the frequency from the drift of the phase; `None` where there is no phase.
fn refined(values: &[f64], interval_s: f64, hz: f64) -> Option<f64> {
    let cycles_a_sample = hz * interval_s;
    let whole = values.len() as f64;
    let cycles = whole * cycles_a_sample;
    let in_window = (cycles / 2.0).floor().max(2.0);
    let length = in_window / cycles_a_sample;
    // Between the windows' beginnings: what is left of the record.
    let apart = whole - length;
    if apart * cycles_a_sample < 0.25 {
        return None;
    }
    let early = phasor(values, 0.0, length, cycles_a_sample, 1);
    let late = phasor(values, apart, length, cycles_a_sample, 1);
    let drift = late * early.conj();
    if drift.norm_sqr() <= 0.0 {
        return None;
    }
    let error_hz = libm::atan2(drift.im, drift.re) / (TAU * apart * interval_s);
    let better = hz + error_hz;
    better.is_finite().then_some(better)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sampled(hz: f64, rate: f64, seconds: f64, shape: impl Fn(f64) -> f64) -> Vec<f64> {
        (0..(rate * seconds) as usize)
            .map(|k| shape(TAU * hz * k as f64 / rate))
            .collect()
    }

    #[test]
    fn a_distorted_voltage_with_dc_has_its_frequency_found_to_nine_digits() {
        for (hz, rate, seconds) in [
            (49.3, 10e3, 0.21),
            (60.7, 10e3, 0.4),
            (50.0123, 25e3, 1.7),
            (59.871, 100e3, 0.1),
            (50.0, 10e3, 0.2),
        ] {
            let voltage = sampled(hz, rate, seconds, |x| {
                3.0 + 325.0 * (x + 0.4).sin() + 9.0 * (3.0 * x).cos() + 12.0 * (5.0 * x + 1.0).sin()
            });
            let found = of_fundamental(&voltage, 1.0 / rate, hz.round()).unwrap();
            assert!((found / hz - 1.0).abs() < 1e-8, "{hz}: {found}");
        }
    }

    #[test]
    fn a_constant_voltage_has_no_fundamental() {
        let refused = of_fundamental(&[230.0; 4000], 1e-4, 50.0);
        assert!(refused.unwrap_err().contains("no fundamental"));
    }
}
