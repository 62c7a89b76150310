//! One quantity over time, small enough for memory whatever the length of the log.

/// Samples of one quantity in order of time. Up to [`Trace::MOST_CELLS`] samples every cell is one
/// sample; a longer log has cells of equal length that stand for several.
///
/// All vectors have one entry a cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// Middle of the cell's samples: their weighted mean time, seconds from the log's first row.
    pub t_s: Vec<f64>,
    /// Time that the cell's samples stand for, in seconds: half-way to their neighbours, the ends
    /// mirrored, gaps cut to what an ordinary sample stands for. Power times this is energy.
    pub weight_s: Vec<f64>,
    /// Weighted mean of the samples, in the quantity's unit.
    pub mean: Vec<f64>,
    pub min: Vec<f64>,
    pub max: Vec<f64>,
    /// How many samples it stands for, in all cells together.
    pub samples: u64,
    /// Median time between samples, in seconds.
    pub interval_s: f64,
    /// Gaps: begin and end of every stretch that is longer than [`Trace::GAP`] intervals.
    pub gaps_s: Vec<(f64, f64)>,
}

impl Trace {
    /// 2^17: three hours at 12 samples a second stay as they are.
    pub const MOST_CELLS: usize = 1 << 17;

    /// A stretch without samples is a gap if longer than this many median intervals.
    pub const GAP: f64 = 5.0;

    /// A trace of given samples, every cell one sample. Times must rise; values must be finite.
    pub fn from_samples(t_s: &[f64], values: &[f64]) -> Trace {
        assert_eq!(t_s.len(), values.len(), "one value a time");
        let mut steps: Vec<f64> = t_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
        steps.sort_by(f64::total_cmp);
        let interval_s = steps.get(steps.len() / 2).copied().unwrap_or(0.0);
        let is_gap = |step: f64| step > Trace::GAP * interval_s;
        let half = |step: f64| {
            if is_gap(step) {
                interval_s / 2.0
            } else {
                step / 2.0
            }
        };
        let weight_s = (0..t_s.len())
            .map(|i| {
                let before = (i > 0).then(|| half(t_s[i] - t_s[i - 1]));
                let after = t_s.get(i + 1).map(|next| half(next - t_s[i]));
                match (before, after) {
                    (Some(before), Some(after)) => before + after,
                    // An end stands for as much outside as inside.
                    (Some(only), None) | (None, Some(only)) => 2.0 * only,
                    (None, None) => 1.0,
                }
            })
            .collect();
        Trace {
            t_s: t_s.to_vec(),
            weight_s,
            mean: values.to_vec(),
            min: values.to_vec(),
            max: values.to_vec(),
            samples: t_s.len() as u64,
            interval_s,
            gaps_s: t_s
                .windows(2)
                .filter(|pair| is_gap(pair[1] - pair[0]))
                .map(|pair| (pair[0], pair[1]))
                .collect(),
        }
    }

    pub fn len(&self) -> usize {
        self.t_s.len()
    }

    pub fn is_empty(&self) -> bool {
        self.t_s.is_empty()
    }

    /// Time-weighted mean over all cells; `None` without any.
    pub fn mean(&self) -> Option<f64> {
        let weight: f64 = self.weight_s.iter().sum();
        let sum: f64 = self
            .weight_s
            .iter()
            .zip(&self.mean)
            .map(|(weight, mean)| weight * mean)
            .sum();
        (weight > 0.0).then(|| sum / weight)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_even_samples_is_the_plain_mean() {
        let trace = Trace::from_samples(&[0.0, 1.0, 2.0, 3.0], &[1.0, 2.0, 3.0, 6.0]);
        assert_eq!(trace.mean(), Some(3.0));
        assert!(trace.gaps_s.is_empty());
    }

    #[test]
    fn a_gap_is_named_and_weighs_no_more_than_a_sample() {
        let times: Vec<f64> = (0..10)
            .map(f64::from)
            .chain((100..110).map(f64::from))
            .collect();
        let values: Vec<f64> = (0..20).map(|i| if i < 10 { 1.0 } else { 3.0 }).collect();
        let trace = Trace::from_samples(&times, &values);
        assert_eq!(trace.gaps_s, [(9.0, 100.0)]);
        assert_eq!(trace.mean(), Some(2.0));
    }
}
