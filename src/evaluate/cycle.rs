//! Does a power repeat itself, and with what period?

use super::course::Course;
use realfft::RealFftPlanner;

/// A period found in a quantity's course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    pub period_s: f64,
    /// Share of the variation that repeats from one cycle to the next, 0..=1: the
    /// autocorrelation at one period.
    pub repeats: f64,
}

/// The longest series that is transformed; a longer one is averaged together.
const MOST_POINTS: usize = 1 << 17;
/// Below this share of repeated variation a pattern is not called a cycle.
const LEAST_REPEATS: f64 = 0.35;
/// Below this share of the mean (r.m.s.) a variation is no sequence of power levels.
const LEAST_SIZE: f64 = 0.005;
/// Of several maxima the first that reaches this share of the highest is one cycle, the later
/// ones are several.
const AS_HIGH: f64 = 0.85;
/// So many cycles must fit, so that a repetition is seen and not one accident.
const LEAST_CYCLES: f64 = 5.0;

/// Looks for a period between two moments, from two sampling intervals up to a fifth of the time
/// between them. The autocorrelation of the evenly resampled quantity, with the fitted line taken
/// out, must reach a high maximum at one period and again at two and three. The period is then
/// refined over as many cycles as stay in step, so that whole cycles are whole to a small part
/// of a sampling interval. `None` where nothing repeats.
pub fn period(course: &Course, from_s: f64, to_s: f64, interval_s: f64) -> Option<Period> {
    let length_s = to_s - from_s;
    if !(interval_s > 0.0 && length_s > 0.0) {
        return None;
    }
    let points = ((length_s / interval_s).round() as usize).min(MOST_POINTS);
    if points < 3 * LEAST_CYCLES as usize {
        return None;
    }
    let step_s = length_s / points as f64;
    let series = without_line(evenly(course, from_s, step_s, points)?);
    let size = (series.iter().map(|y| y * y).sum::<f64>() / points as f64).sqrt();
    if size < LEAST_SIZE * course.mean(from_s, to_s)?.abs() {
        return None;
    }
    let correlation = autocorrelation(&series)?;
    let longest = (points as f64 / LEAST_CYCLES) as usize;
    let first = first_period(&correlation, longest)?;
    let (lag, _) = refined(&correlation, first, longest);
    Some(Period {
        period_s: lag * step_s,
        repeats: correlation[first].min(1.0),
    })
}

/// Means of equal steps; a gap holds the mean of all.
fn evenly(course: &Course, from_s: f64, step_s: f64, points: usize) -> Option<Vec<f64>> {
    let all = course.mean(from_s, from_s + step_s * points as f64)?;
    Some(
        (0..points)
            .map(|i| {
                let begin = from_s + i as f64 * step_s;
                course.mean(begin, begin + step_s).unwrap_or(all)
            })
            .collect(),
    )
}

fn without_line(mut series: Vec<f64>) -> Vec<f64> {
    let n = series.len() as f64;
    let mean = series.iter().sum::<f64>() / n;
    let at = |i: usize| i as f64 - (n - 1.0) / 2.0;
    let (mut along, mut length) = (0.0, 0.0);
    for (i, y) in series.iter().enumerate() {
        along += at(i) * (y - mean);
        length += at(i) * at(i);
    }
    let slope = along / length;
    for (i, y) in series.iter_mut().enumerate() {
        *y -= mean + slope * at(i);
    }
    series
}

/// Autocorrelation at every lag, each sum divided by the number of its products; 1 at lag 0.
/// `None` of a series that does not move.
fn autocorrelation(series: &[f64]) -> Option<Vec<f64>> {
    let n = series.len();
    // Zeros behind the series keep its end from being multiplied with its beginning.
    let padded = (2 * n).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(padded);
    let mut input = forward.make_input_vec();
    input[..n].copy_from_slice(series);
    let mut spectrum = forward.make_output_vec();
    forward
        .process(&mut input, &mut spectrum)
        .expect("the buffers were made by the transform");
    for line in &mut spectrum {
        *line = line.norm_sqr().into();
    }
    let back = planner.plan_fft_inverse(padded);
    let mut products = back.make_output_vec();
    back.process(&mut spectrum, &mut products)
        .expect("the buffers were made by the transform");
    let variance = products[0] / n as f64;
    // What is left of a constant is rounding.
    let size: f64 = series.iter().fold(0.0, |most, y| y.abs().max(most));
    (size > 1e-12 && variance > 0.0).then(|| {
        products[..n]
            .iter()
            .enumerate()
            .map(|(lag, sum)| sum / (n - lag) as f64 / variance)
            .collect()
    })
}

/// The lag of one cycle, in steps.
fn first_period(correlation: &[f64], longest: usize) -> Option<usize> {
    let maxima = maxima_after_troughs(correlation, longest);
    let highest = maxima
        .iter()
        .map(|&lag| correlation[lag])
        .fold(0.0, f64::max);
    let first = maxima
        .into_iter()
        .find(|&lag| correlation[lag] >= AS_HIGH * highest)?;
    let repeats = correlation[first];
    let again = |times: usize| {
        let around = first / 4 + 1;
        let near = times * first;
        correlation[near - around..=(near + around).min(correlation.len() - 1)]
            .iter()
            .fold(f64::NEG_INFINITY, |most, &r| r.max(most))
    };
    (repeats >= LEAST_REPEATS && again(2) >= repeats / 2.0 && again(3) >= repeats / 3.0)
        .then_some(first)
}

/// The highest point of every stretch above zero, after the correlation first fell below zero.
fn maxima_after_troughs(correlation: &[f64], longest: usize) -> Vec<usize> {
    let mut maxima = Vec::new();
    let mut best: Option<usize> = None;
    let mut fell = false;
    for (lag, &r) in correlation.iter().enumerate().take(longest + 1) {
        if r < 0.0 {
            fell = true;
            maxima.extend(best.take());
        } else if fell && best.is_none_or(|b| r > correlation[b]) {
            best = Some(lag);
        }
    }
    // A stretch that goes on beyond the longest lag has its maximum inside only if it falls again.
    maxima.extend(best.filter(|&lag| lag < longest));
    maxima
}

/// The period in steps, from the maximum at twice, four times, … as many cycles as still repeat;
/// and that many.
fn refined(correlation: &[f64], first: usize, longest: usize) -> (f64, usize) {
    let mut lag = top(correlation, first);
    let mut cycles = 1;
    loop {
        let next = 2 * cycles;
        let near = lag * next as f64;
        // The period must be known well enough that the maximum can't be a neighbour's.
        let around = (lag / 3.0).max(1.0);
        let (low, high) = (
            (near - around).round() as usize,
            (near + around).round() as usize,
        );
        if high + 1 >= correlation.len().min(4 * longest) {
            return (lag, cycles);
        }
        let best = (low..=high)
            .max_by(|&a, &b| correlation[a].total_cmp(&correlation[b]))
            .expect("the range is not empty");
        if correlation[best] < correlation[first] / 2.0 {
            return (lag, cycles);
        }
        lag = top(correlation, best) / next as f64;
        cycles = next;
    }
}

/// The top of the parabola through a maximum and its neighbours.
fn top(correlation: &[f64], at: usize) -> f64 {
    let (before, here, after) = (correlation[at - 1], correlation[at], correlation[at + 1]);
    let bend = before - 2.0 * here + after;
    let shift = if bend < 0.0 {
        (0.5 * (before - after) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    at as f64 + shift
}
