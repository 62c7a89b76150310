//! Windows of whole cycles and what each holds: spectral lines, groups, powers.

use super::frequency;
use super::resampling::{Interpolated, PASS_BAND, quick_length};
use super::sampling::Samples;
use crate::standards::HarmonicLimits;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

/// Whole cycles are whole samples if they are to this share of the window. What leaks from the
/// fundamental to a harmonic then is below this share of it.
const SYNCHRONISED: f64 = 1e-5;

/// One window: r.m.s. phasors and means.
pub(super) struct Window {
    /// Begin, in samples of the record.
    pub start: f64,
    pub length: f64,
    pub voltage_square: f64,
    pub current_square: f64,
    pub active_power_w: f64,
    pub voltage_dc_v: f64,
    pub current_dc_a: f64,
    /// By order from 1, at index order - 1: r.m.s. phasors of the lines.
    pub voltage: Vec<Complex<f64>>,
    pub current: Vec<Complex<f64>>,
    pub current_group_a: Vec<f64>,
    pub current_subgroup_a: Vec<f64>,
}

pub(super) struct Windows {
    pub windows: Vec<Window>,
    pub cycles: u32,
    pub full_length: bool,
    pub resampled: bool,
    pub points: usize,
    /// Last order that the sampling rate can tell.
    pub highest_order: u32,
}

/// Cuts the record into windows one after the other and transforms each.
///
/// # Errors
/// A sentence if the voltage loses its fundamental on the way.
pub(super) fn of(
    samples: &Samples,
    frequency_hz: f64,
    nominal_frequency_hz: f64,
    limits: &HarmonicLimits,
) -> Result<Windows, String> {
    let standard = limits.window_cycles(nominal_frequency_hz);
    let n = samples.len() as f64;
    let cycle = 1.0 / (frequency_hz * samples.interval_s);
    // Half a sample more than there are belongs to the last one.
    let held = (n + 0.5) / cycle;
    let (cycles, full_length) = if held >= f64::from(standard) {
        (standard, true)
    } else {
        ((held.floor() as u32).max(2), false)
    };
    let stretches = stretches(samples, cycle, cycles)?;

    // A window is synchronised by itself where each of them is nearly a whole number of samples.
    let whole = (f64::from(cycles) * cycle).round();
    let resampled = stretches
        .iter()
        .any(|(_, length)| (length / whole - 1.0).abs() > SYNCHRONISED)
        || whole > n;
    let points = if resampled {
        quick_length((f64::from(cycles) * cycle).ceil() as usize)
    } else {
        whole as usize
    };
    // The upper edge of the last group must be within what the samples can tell.
    let most = if resampled { PASS_BAND } else { 0.5 } * cycle;
    let highest_order = (1..=limits.window.highest_order)
        .take_while(|order| f64::from(*order) + 0.5 < most)
        .last()
        .unwrap_or(1);

    let signals = resampled.then(|| {
        [samples.voltage_v, samples.current_a].map(|values| Interpolated::new(values, cycle))
    });
    let mut transform = Transform::new(points, cycles as usize, highest_order as usize);
    let mut windows = Vec::with_capacity(stretches.len());
    for (k, &(start, length)) in stretches.iter().enumerate() {
        windows.push(match &signals {
            Some([voltage, current]) => transform.window(
                start,
                length,
                &voltage.window(start, length, points),
                &current.window(start, length, points),
            ),
            None => {
                let first = k * points;
                if first + points > samples.len() {
                    break;
                }
                transform.window(
                    first as f64,
                    points as f64,
                    &samples.voltage_v[first..first + points],
                    &samples.current_a[first..first + points],
                )
            }
        });
    }
    Ok(Windows {
        windows,
        cycles,
        full_length,
        resampled,
        points,
        highest_order,
    })
}

/// Begin and length in samples of windows of so many cycles, each as long as its own frequency
/// makes them: the mains drifts while it is recorded.
fn stretches(samples: &Samples, cycle: f64, cycles: u32) -> Result<Vec<(f64, f64)>, String> {
    let n = samples.len() as f64;
    let usual = f64::from(cycles) * cycle;
    // With a single window the whole record tells its frequency best.
    if n + 0.5 < 2.0 * usual {
        return Ok(vec![(0.0, usual)]);
    }
    let mut found = Vec::new();
    let mut start = 0.0;
    while start + usual <= n + 0.5 {
        let first = (start as usize).min(samples.len());
        let end = ((start + usual).ceil() as usize).min(samples.len());
        let hz = frequency::of_fundamental(
            &samples.voltage_v[first..end],
            samples.interval_s,
            1.0 / (cycle * samples.interval_s),
        )
        .map_err(|why| {
            format!(
                "in the window from {:.3} s on: {why}",
                samples.time_s(start)
            )
        })?;
        let length = f64::from(cycles) / (hz * samples.interval_s);
        if start + length > n + 0.5 {
            break;
        }
        found.push((start, length));
        start += length;
    }
    if found.is_empty() {
        found.push((0.0, usual.min(n)));
    }
    Ok(found)
}

/// The discrete Fourier transform of windows of one length.
struct Transform {
    fft: std::sync::Arc<dyn realfft::RealToComplex<f64>>,
    cycles: usize,
    highest_order: usize,
}

impl Transform {
    fn new(points: usize, cycles: usize, highest_order: usize) -> Transform {
        Transform {
            fft: RealFftPlanner::new().plan_fft_forward(points),
            cycles,
            highest_order,
        }
    }

    /// r.m.s. phasor of every spectral line; the mean at index 0.
    fn lines(&self, values: &[f64]) -> Vec<Complex<f64>> {
        let mut input = values.to_vec();
        let mut lines = self.fft.make_output_vec();
        // Lengths are those of the plan, so there is nothing to refuse.
        self.fft.process(&mut input, &mut lines).ok();
        let points = values.len() as f64;
        for (k, line) in lines.iter_mut().enumerate() {
            *line *= if k == 0 { 1.0 } else { 2f64.sqrt() } / points;
        }
        lines
    }

    fn window(&mut self, start: f64, length: f64, voltage_v: &[f64], current_a: &[f64]) -> Window {
        let mean =
            |values: &mut dyn Iterator<Item = f64>| values.sum::<f64>() / voltage_v.len() as f64;
        let (voltage, current) = (self.lines(voltage_v), self.lines(current_a));
        let orders = |lines: &[Complex<f64>]| {
            (1..=self.highest_order)
                .map(|order| lines[order * self.cycles])
                .collect()
        };
        Window {
            start,
            length,
            voltage_square: mean(&mut voltage_v.iter().map(|v| v * v)),
            current_square: mean(&mut current_a.iter().map(|i| i * i)),
            active_power_w: mean(&mut voltage_v.iter().zip(current_a).map(|(v, i)| v * i)),
            voltage_dc_v: voltage[0].re,
            current_dc_a: current[0].re,
            voltage: orders(&voltage),
            current_group_a: (1..=self.highest_order)
                .map(|order| group(&current, order, self.cycles))
                .collect(),
            current_subgroup_a: (1..=self.highest_order)
                .map(|order| subgroup(&current, order, self.cycles))
                .collect(),
            current: orders(&current),
        }
    }
}

/// Harmonic group: G² = half of C² half-way to either neighbour + C² of all lines nearer to this
/// order (IEC 61000-4-7, 5.5.1, from memory). With an odd number of cycles no line is half-way.
fn group(lines: &[Complex<f64>], order: usize, cycles: usize) -> f64 {
    let middle = order * cycles;
    let near = (cycles - 1) / 2;
    let square = |k: usize| lines.get(k).map_or(0.0, Complex::norm_sqr);
    let inner: f64 = (middle - near..=middle + near).map(square).sum();
    let edges = if cycles.is_multiple_of(2) {
        0.5 * (square(middle - cycles / 2) + square(middle + cycles / 2))
    } else {
        0.0
    };
    (inner + edges).sqrt()
}

/// Harmonic subgroup: the line and its two neighbours.
fn subgroup(lines: &[Complex<f64>], order: usize, cycles: usize) -> f64 {
    let middle = order * cycles;
    (middle - 1..=middle + 1)
        .filter_map(|k| lines.get(k))
        .map(Complex::norm_sqr)
        .sum::<f64>()
        .sqrt()
}

/// The next value of the 1.5 s smoothing of 200 ms windows: a first-order low pass,
/// y = ((weight - 1) y_before + x) / weight.
pub fn smoothed(before: f64, value: f64, weight: f64) -> f64 {
    ((weight - 1.0) * before + value) / weight
}

/// Largest smoothed value of a row of windows. It begins at the first value: the adapter was
/// running before the record began.
pub(super) fn largest_smoothed(values: impl IntoIterator<Item = f64>, weight: f64) -> f64 {
    all_smoothed(values, weight)
        .into_iter()
        .fold(f64::NEG_INFINITY, f64::max)
}

/// Every smoothed value, beginning at the first.
pub(super) fn all_smoothed(values: impl IntoIterator<Item = f64>, weight: f64) -> Vec<f64> {
    let mut state: Option<f64> = None;
    values
        .into_iter()
        .map(|x| {
            let y = state.map_or(x, |before| smoothed(before, x, weight));
            state = Some(y);
            y
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_half_way_between_two_harmonics_counts_half_in_each_group() {
        let mut lines = vec![Complex::new(0.0, 0.0); 60];
        lines[25] = Complex::new(2.0, 0.0);
        lines[20] = Complex::new(3.0, 0.0);
        lines[21] = Complex::new(0.0, 1.0);
        assert_eq!(group(&lines, 2, 10), (9.0f64 + 1.0 + 2.0).sqrt());
        assert_eq!(group(&lines, 3, 10), 2f64.sqrt());
        assert_eq!(subgroup(&lines, 2, 10), 10f64.sqrt());
    }

    #[test]
    fn smoothing_begins_where_the_record_begins() {
        assert_eq!(all_smoothed([2.0, 2.0, 2.0], 8.012), [2.0, 2.0, 2.0]);
        assert!(largest_smoothed([1.0, 3.0], 8.012) < 1.3);
    }
}
