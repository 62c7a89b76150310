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
    /// Median time between samples, in seconds. In a log of more than [`Trace::MOST_CELLS`] samples
    /// it is known to 3 %, and exactly where samples are even.
    pub interval_s: f64,
    /// Gaps: begin and end of stretches that are longer than [`Trace::GAP`] intervals, the first
    /// [`Trace::MOST_GAPS`] of them.
    pub gaps_s: Vec<(f64, f64)>,
}

impl Trace {
    /// 2^17: three hours at 12 samples a second stay as they are.
    pub const MOST_CELLS: usize = 1 << 17;

    /// A stretch without samples is a gap if longer than this many median intervals.
    pub const GAP: f64 = 5.0;

    /// Later gaps are weighed like these, and not listed.
    pub const MOST_GAPS: usize = 10_000;

    /// A trace of given samples, every cell one sample. Times must rise; values must be finite.
    pub fn from_samples(t_s: &[f64], values: &[f64]) -> Trace {
        assert_eq!(t_s.len(), values.len(), "one value a time");
        Timing::of(t_s).trace(t_s, values)
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

/// What the times of samples tell, whatever was sampled.
struct Timing {
    weight_s: Vec<f64>,
    interval_s: f64,
    gaps_s: Vec<(f64, f64)>,
}

impl Timing {
    fn of(t_s: &[f64]) -> Timing {
        let interval_s = median_step(t_s);
        let mut weights = Weights::new(interval_s);
        let mut weight_s: Vec<f64> = t_s
            .windows(2)
            .map(|p| weights.of_first(p[0], p[1]))
            .collect();
        if !t_s.is_empty() {
            weight_s.push(weights.of_last());
        }
        Timing {
            weight_s,
            interval_s,
            gaps_s: weights.gaps_s,
        }
    }

    fn trace(&self, t_s: &[f64], values: &[f64]) -> Trace {
        Trace {
            t_s: t_s.to_vec(),
            weight_s: self.weight_s.clone(),
            mean: values.to_vec(),
            min: values.to_vec(),
            max: values.to_vec(),
            samples: t_s.len() as u64,
            interval_s: self.interval_s,
            gaps_s: self.gaps_s.clone(),
        }
    }
}

fn median_step(t_s: &[f64]) -> f64 {
    let mut steps: Vec<f64> = t_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let middle = steps.len() / 2;
    if steps.is_empty() {
        return 0.0;
    }
    *steps.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// What each sample stands for, one after the other.
struct Weights {
    interval_s: f64,
    /// Half of the step that came last, as it counts; none before the first.
    before: Option<f64>,
    gaps_s: Vec<(f64, f64)>,
}

impl Weights {
    fn new(interval_s: f64) -> Weights {
        Weights {
            interval_s,
            before: None,
            gaps_s: Vec::new(),
        }
    }

    /// Weight of the sample at `t_s`, now that the next one is known.
    #[inline]
    fn of_first(&mut self, t_s: f64, next_s: f64) -> f64 {
        let step = next_s - t_s;
        let after = if step > Trace::GAP * self.interval_s {
            if self.gaps_s.len() < Trace::MOST_GAPS {
                self.gaps_s.push((t_s, next_s));
            }
            self.interval_s / 2.0
        } else {
            step / 2.0
        };
        // An end stands for as much outside as inside.
        self.before.replace(after).unwrap_or(after) + after
    }

    fn of_last(&self) -> f64 {
        self.before.map_or(1.0, |before| 2.0 * before)
    }
}

/// Makes traces of several quantities that were sampled together, in one pass and in bounded memory.
///
/// Up to [`Trace::MOST_CELLS`] samples are kept as they are. With one more, samples go into cells
/// of equal time length, at first two median intervals; whenever there would be too many cells, the
/// length doubles and neighbours merge. Weights, weighted means and extremes stay exact. What is a
/// gap is judged by the median interval known at that time: that of the first 2^17 samples, later
/// that of all samples to the last doubling. Which cells come out depends on the samples alone.
pub struct Gatherer {
    t_s: Vec<f64>,
    /// One list of values a quantity.
    values: Vec<Vec<f64>>,
    cells: Option<Cells>,
    most: usize,
}

impl Gatherer {
    pub fn new(quantities: usize) -> Gatherer {
        Gatherer::with_most_cells(quantities, Trace::MOST_CELLS)
    }

    fn with_most_cells(quantities: usize, most: usize) -> Gatherer {
        Gatherer {
            t_s: Vec::new(),
            values: vec![Vec::new(); quantities],
            cells: None,
            most,
        }
    }

    /// Takes one sample of each quantity. Times must rise; values must be finite.
    #[inline]
    pub fn push(&mut self, t_s: f64, values: &[f64]) {
        if let Some(cells) = &mut self.cells {
            cells.push(t_s, values);
            return;
        }
        if self.t_s.len() == self.most {
            self.begin_cells().push(t_s, values);
            return;
        }
        self.t_s.push(t_s);
        for (list, value) in self.values.iter_mut().zip(values) {
            list.push(*value);
        }
    }

    #[cold]
    fn begin_cells(&mut self) -> &mut Cells {
        let t_s = std::mem::take(&mut self.t_s);
        let values = std::mem::take(&mut self.values);
        let mut cells = Cells::new(median_step(&t_s), values.len(), self.most);
        let mut row = vec![0.0; values.len()];
        for (i, t_s) in t_s.into_iter().enumerate() {
            for (cell, list) in row.iter_mut().zip(&values) {
                *cell = list[i];
            }
            cells.push(t_s, &row);
        }
        self.cells.insert(cells)
    }

    /// One trace a quantity, in their order.
    pub fn traces(self) -> Vec<Trace> {
        match self.cells {
            Some(cells) => cells.traces(),
            None => {
                let timing = Timing::of(&self.t_s);
                let trace = |values: Vec<f64>| timing.trace(&self.t_s, &values);
                self.values.into_iter().map(trace).collect()
            }
        }
    }
}

struct Cells {
    length_s: f64,
    /// More cells than these merge.
    most: usize,
    weights: Weights,
    steps: Steps,
    /// The last sample: it waits for the next one to know what it stands for.
    last: Option<f64>,
    last_values: Vec<f64>,
    samples: u64,
    /// The cell that samples go to at present.
    open: Option<OpenCell>,
    /// Number of the cell, counted in cell lengths from the log's first row. Cells without a sample
    /// do not exist.
    number: Vec<u64>,
    weight_s: Vec<f64>,
    /// Sum of weight times time.
    weighted_t: Vec<f64>,
    columns: Vec<Column>,
}

#[derive(Clone, Default)]
struct Column {
    /// Sum of weight times value.
    weighted: Vec<f64>,
    min: Vec<f64>,
    max: Vec<f64>,
}

struct OpenCell {
    number: u64,
    weight_s: f64,
    weighted_t: f64,
    columns: Vec<OpenColumn>,
}

struct OpenColumn {
    weighted: f64,
    min: f64,
    max: f64,
}

impl Cells {
    fn new(interval_s: f64, quantities: usize, most: usize) -> Cells {
        Cells {
            // Times that stand still have no interval; any length will do and grow.
            length_s: (2.0 * interval_s).max(1e-9),
            most,
            weights: Weights::new(interval_s),
            steps: Steps::new(),
            last: None,
            last_values: vec![0.0; quantities],
            samples: 0,
            open: None,
            number: Vec::new(),
            weight_s: Vec::new(),
            weighted_t: Vec::new(),
            columns: vec![Column::default(); quantities],
        }
    }

    #[inline]
    fn push(&mut self, t_s: f64, values: &[f64]) {
        if let Some(last) = self.last {
            self.steps.add(t_s - last);
            let weight = self.weights.of_first(last, t_s);
            self.add(last, weight);
        }
        self.last = Some(t_s);
        self.last_values.copy_from_slice(values);
        self.samples += 1;
    }

    /// Puts the last sample into its cell.
    #[inline]
    fn add(&mut self, t_s: f64, weight: f64) {
        let number = (t_s / self.length_s) as u64;
        if let Some(open) = &mut self.open
            && open.number == number
        {
            open.weight_s += weight;
            open.weighted_t += weight * t_s;
            for (column, value) in open.columns.iter_mut().zip(&self.last_values) {
                column.weighted += weight * value;
                column.min = column.min.min(*value);
                column.max = column.max.max(*value);
            }
            return;
        }
        self.begin(t_s, weight);
    }

    /// Begins a cell with the last sample.
    fn begin(&mut self, t_s: f64, weight: f64) {
        self.close();
        while self.number.len() >= self.most {
            self.merge();
        }
        let number = (t_s / self.length_s) as u64;
        if self.number.last() == Some(&number) {
            // The cells that merged reach up to this sample.
            self.reopen();
            return self.add(t_s, weight);
        }
        let columns = self.last_values.iter().map(|value| OpenColumn {
            weighted: weight * value,
            min: *value,
            max: *value,
        });
        self.open = Some(OpenCell {
            number,
            weight_s: weight,
            weighted_t: weight * t_s,
            columns: columns.collect(),
        });
    }

    fn close(&mut self) {
        let Some(open) = self.open.take() else { return };
        self.number.push(open.number);
        self.weight_s.push(open.weight_s);
        self.weighted_t.push(open.weighted_t);
        for (column, open) in self.columns.iter_mut().zip(open.columns) {
            column.weighted.push(open.weighted);
            column.min.push(open.min);
            column.max.push(open.max);
        }
    }

    fn reopen(&mut self) {
        let last = |list: &mut Vec<f64>| list.pop().unwrap_or_default();
        self.open = self.number.pop().map(|number| OpenCell {
            number,
            weight_s: last(&mut self.weight_s),
            weighted_t: last(&mut self.weighted_t),
            columns: self
                .columns
                .iter_mut()
                .map(|column| OpenColumn {
                    weighted: last(&mut column.weighted),
                    min: last(&mut column.min),
                    max: last(&mut column.max),
                })
                .collect(),
        });
    }

    /// Doubles the length of the cells.
    #[cold]
    fn merge(&mut self) {
        self.length_s *= 2.0;
        self.weights.interval_s = self.steps.median();
        let mut kept = 0;
        for i in 0..self.number.len() {
            let number = self.number[i] / 2;
            if i > 0 && self.number[kept - 1] == number {
                let into = kept - 1;
                self.weight_s[into] += self.weight_s[i];
                self.weighted_t[into] += self.weighted_t[i];
                for column in &mut self.columns {
                    column.weighted[into] += column.weighted[i];
                    column.min[into] = column.min[into].min(column.min[i]);
                    column.max[into] = column.max[into].max(column.max[i]);
                }
            } else {
                self.number[kept] = number;
                self.weight_s[kept] = self.weight_s[i];
                self.weighted_t[kept] = self.weighted_t[i];
                for column in &mut self.columns {
                    column.weighted[kept] = column.weighted[i];
                    column.min[kept] = column.min[i];
                    column.max[kept] = column.max[i];
                }
                kept += 1;
            }
        }
        self.number.truncate(kept);
        self.weight_s.truncate(kept);
        self.weighted_t.truncate(kept);
        for column in &mut self.columns {
            column.weighted.truncate(kept);
            column.min.truncate(kept);
            column.max.truncate(kept);
        }
    }

    fn traces(mut self) -> Vec<Trace> {
        if let Some(last) = self.last {
            let weight = self.weights.of_last();
            self.add(last, weight);
        }
        self.close();
        let interval_s = self.steps.median();
        // Only samples at one and the same time weigh nothing.
        let quotient = |sum: f64, weight: f64, otherwise: f64| {
            if weight > 0.0 {
                sum / weight
            } else {
                otherwise
            }
        };
        let t_s: Vec<f64> = (0..self.number.len())
            .map(|i| {
                let begin = self.number[i] as f64 * self.length_s;
                quotient(self.weighted_t[i], self.weight_s[i], begin)
            })
            .collect();
        let trace = |column: Column| Trace {
            t_s: t_s.clone(),
            weight_s: self.weight_s.clone(),
            // The clamp takes back a rounding of the quotient: a constant stays what it is.
            mean: (0..t_s.len())
                .map(|i| {
                    quotient(column.weighted[i], self.weight_s[i], column.min[i])
                        .clamp(column.min[i], column.max[i])
                })
                .collect(),
            min: column.min,
            max: column.max,
            samples: self.samples,
            interval_s,
            gaps_s: self.weights.gaps_s.clone(),
        };
        self.columns.into_iter().map(trace).collect()
    }
}

/// Steps between samples, counted by size: 32 bins an octave, from 2^-40 s to 2^24 s.
struct Steps {
    bins: Vec<(u64, f64)>,
}

impl Steps {
    const LOWEST: u64 = (1023 - 40) << 5;
    const BINS: u64 = 64 << 5;

    fn new() -> Steps {
        Steps {
            bins: vec![(0, 0.0); Steps::BINS as usize],
        }
    }

    #[inline]
    fn add(&mut self, step: f64) {
        // Exponent and the first five bits of the mantissa.
        let place = (step.to_bits() >> 47).clamp(Steps::LOWEST, Steps::LOWEST + Steps::BINS - 1);
        let (count, sum) = &mut self.bins[(place - Steps::LOWEST) as usize];
        *count += 1;
        *sum += step;
    }

    /// Mean of the steps in the bin that holds the middle one: within 3 % of the median, and the
    /// interval itself where samples are even.
    fn median(&self) -> f64 {
        let middle = self.bins.iter().map(|(count, _)| count).sum::<u64>() / 2;
        let mut below = 0;
        for (count, sum) in &self.bins {
            below += count;
            if below > middle {
                return sum / *count as f64;
            }
        }
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

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

    /// What a gatherer with few cells makes of samples, and what they are without merging.
    fn both(t_s: &[f64], values: &[f64], most: usize) -> (Trace, Trace) {
        let mut gatherer = Gatherer::with_most_cells(2, most);
        for (t_s, value) in t_s.iter().zip(values) {
            gatherer.push(*t_s, &[*value, -value]);
        }
        let traces = gatherer.traces();
        let [first, second] = <[Trace; 2]>::try_from(traces).unwrap();
        assert_eq!(first.t_s, second.t_s);
        for (a, b) in first.max.iter().zip(&second.min) {
            assert_eq!(*a, -b);
        }
        (first, Trace::from_samples(t_s, values))
    }

    fn least(values: &[f64]) -> f64 {
        values.iter().copied().fold(f64::INFINITY, f64::min)
    }

    fn greatest(values: &[f64]) -> f64 {
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    fn close(a: f64, b: f64, scale: f64) -> bool {
        (a - b).abs() <= 1e-12 * scale
    }

    /// Merged or not, the trace tells the same of its samples.
    fn same(merged: &Trace, plain: &Trace) {
        let total = |trace: &Trace| trace.weight_s.iter().sum::<f64>();
        let span = total(plain) + plain.t_s.last().unwrap();
        assert!(close(total(merged), total(plain), span));
        let scale = greatest(&plain.max) - least(&plain.min);
        assert!(
            close(
                merged.mean().unwrap(),
                plain.mean().unwrap(),
                scale + plain.mean().unwrap().abs()
            ),
            "{:?} {:?}",
            merged.mean(),
            plain.mean()
        );
        assert_eq!(least(&merged.min), least(&plain.min));
        assert_eq!(greatest(&merged.max), greatest(&plain.max));
        assert_eq!(merged.samples, plain.samples);
        assert_eq!(merged.gaps_s, plain.gaps_s);
        assert!((merged.interval_s / plain.interval_s - 1.0).abs() < 0.04);
        assert!(merged.t_s.is_sorted_by(|a, b| a < b));
        for i in 0..merged.len() {
            assert!(merged.min[i] <= merged.mean[i] && merged.mean[i] <= merged.max[i]);
        }
    }

    proptest! {
        #[test]
        fn merging_changes_no_mean_and_no_extreme(
            steps in prop::collection::vec((0.5f64..1.5, -1e3f64..1e3), 2..3000),
            most in 4usize..200,
        ) {
            let mut t_s = 0.0;
            let times: Vec<f64> = steps.iter().map(|(step, _)| { t_s += step; t_s }).collect();
            let values: Vec<f64> = steps.iter().map(|(_, value)| *value).collect();
            let (merged, plain) = both(&times, &values, most);
            prop_assert!(merged.len() <= most.max(1));
            same(&merged, &plain);
        }

        #[test]
        fn gaps_stay_where_they_are_when_cells_merge(
            gaps in prop::collection::vec((20usize..200, 10u32..100_000), 0..8),
            most in 16usize..200,
        ) {
            // Binary fractions, so that every step but a gap is the very same.
            let mut t_s = 0.0;
            let mut times = Vec::new();
            for (count, gap) in gaps.iter().chain([&(100, 0)]) {
                for _ in 0..*count {
                    times.push(t_s);
                    t_s += 0.125;
                }
                t_s += f64::from(*gap) * 0.125;
            }
            let values: Vec<f64> = times.iter().map(|t| (t * 0.7).sin()).collect();
            let (merged, plain) = both(&times, &values, most);
            prop_assert!(merged.len() <= most);
            same(&merged, &plain);
        }
    }

    #[test]
    fn as_many_samples_as_cells_stay_as_they_are_and_one_more_merges() {
        let times: Vec<f64> = (0..=Trace::MOST_CELLS).map(|i| i as f64 * 0.25).collect();
        let values: Vec<f64> = times.iter().map(|t| (t * 0.01).cos()).collect();
        let gathered = |count: usize| {
            let mut gatherer = Gatherer::new(1);
            for i in 0..count {
                gatherer.push(times[i], &values[i..=i]);
            }
            gatherer.traces().remove(0)
        };
        let most = Trace::MOST_CELLS;
        assert_eq!(
            gathered(most),
            Trace::from_samples(&times[..most], &values[..most])
        );
        let merged = gathered(most + 1);
        assert!(merged.len() <= most / 2 + 1);
        same(&merged, &Trace::from_samples(&times, &values));
    }

    #[test]
    fn a_constant_stays_what_it_is_however_often_it_is_merged() {
        let times: Vec<f64> = (0..5000).map(|i| f64::from(i) * 0.1).collect();
        let (merged, _) = both(&times, &vec![0.1; 5000], 16);
        assert!(merged.mean.iter().all(|mean| *mean == 0.1));
    }

    #[test]
    fn samples_at_one_and_the_same_time_make_finite_cells() {
        let (merged, _) = both(&[7.0; 100], &[1.5; 100], 8);
        assert!(
            merged
                .t_s
                .iter()
                .chain(&merged.mean)
                .all(|number| number.is_finite())
        );
    }
}
