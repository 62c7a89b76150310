//! The course of one quantity over time: means over any stretch, straight lines through it.
//!
//! A trace's cells are laid end to end, each lasting what its samples stand for, so that an
//! average over a stretch that begins or ends inside a cell takes its share of that cell.

use crate::log::Trace;

/// Running sums over a trace, so that any stretch's mean and slope cost a look-up.
#[derive(Debug, Clone)]
pub struct Course {
    /// Where cell i begins; one more entry than cells would overlap at gaps, so ends stand apart.
    begin_s: Vec<f64>,
    end_s: Vec<f64>,
    /// Time covered by samples before cell i, and quantity times time; one entry more than cells.
    covered_s: Vec<f64>,
    sum: Vec<f64>,
    mean: Vec<f64>,
    /// Middle of all times, to keep the sums of squares small.
    middle_s: f64,
    /// Sums of w t, w t², w y t with t from the middle, before cell i.
    moments: Vec<[f64; 3]>,
}

impl Course {
    /// The course of a trace's means; `None` of a trace without cells.
    pub fn of(trace: &Trace) -> Option<Course> {
        let n = trace.len();
        let middle_s = (trace.t_s.first()? + trace.t_s.last()?) / 2.0;
        let mut course = Course {
            begin_s: Vec::with_capacity(n),
            end_s: Vec::with_capacity(n),
            covered_s: Vec::with_capacity(n + 1),
            sum: Vec::with_capacity(n + 1),
            mean: trace.mean.clone(),
            middle_s,
            moments: Vec::with_capacity(n + 1),
        };
        let (mut covered, mut sum, mut moments) = (0.0, 0.0, [0.0; 3]);
        let mut reached = f64::NEG_INFINITY;
        for i in 0..n {
            let (weight, y) = (trace.weight_s[i], trace.mean[i]);
            course.covered_s.push(covered);
            course.sum.push(sum);
            course.moments.push(moments);
            // Unevenly spaced samples are not in the middle of what they stand for.
            let begin = (trace.t_s[i] - weight / 2.0).max(reached);
            reached = (begin + weight).max(begin);
            course.begin_s.push(begin);
            course.end_s.push(reached);
            let t = trace.t_s[i] - middle_s;
            covered += weight;
            sum += weight * y;
            moments[0] += weight * t;
            moments[1] += weight * t * t;
            moments[2] += weight * y * t;
        }
        course.covered_s.push(covered);
        course.sum.push(sum);
        course.moments.push(moments);
        Some(course)
    }

    pub fn from_s(&self) -> f64 {
        self.begin_s[0]
    }

    pub fn to_s(&self) -> f64 {
        self.end_s[self.end_s.len() - 1]
    }

    pub fn len_s(&self) -> f64 {
        self.to_s() - self.from_s()
    }

    /// Covered time and quantity times time from the beginning to `t_s`.
    fn until(&self, t_s: f64) -> (f64, f64) {
        // Cells that begin at or before the time.
        let i = self.begin_s.partition_point(|&begin| begin <= t_s);
        if i == 0 {
            return (0.0, 0.0);
        }
        let i = i - 1;
        let inside = (t_s - self.begin_s[i]).min(self.end_s[i] - self.begin_s[i]);
        (
            self.covered_s[i] + inside,
            self.sum[i] + inside * self.mean[i],
        )
    }

    /// Time between two moments that samples stand for, in seconds: gaps do not count.
    pub fn covered_s(&self, from_s: f64, to_s: f64) -> f64 {
        self.until(to_s).0 - self.until(from_s).0
    }

    /// Time-weighted mean between two moments; `None` where no sample stands for the time between.
    pub fn mean(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let (from, to) = (self.until(from_s), self.until(to_s));
        let covered = to.0 - from.0;
        (covered > 0.0).then(|| (to.1 - from.1) / covered)
    }

    /// Means of `blocks` stretches between two moments, each covered for the same time: a gap
    /// lengthens its block.
    pub fn block_means(&self, from_s: f64, to_s: f64, blocks: usize) -> Vec<f64> {
        let (from, to) = (self.until(from_s), self.until(to_s));
        let length = (to.0 - from.0) / blocks as f64;
        if length <= 0.0 || length.is_nan() {
            return Vec::new();
        }
        let sum_at = |covered: f64| {
            let i = self.covered_s.partition_point(|&c| c <= covered) - 1;
            match self.mean.get(i) {
                Some(mean) => self.sum[i] + (covered - self.covered_s[i]) * mean,
                None => self.sum[i],
            }
        };
        let mut before = from.1;
        (1..=blocks)
            .map(|block| {
                let until = if block == blocks {
                    to.1
                } else {
                    sum_at(from.0 + block as f64 * length)
                };
                let mean = (until - before) / length;
                before = until;
                mean
            })
            .collect()
    }

    /// How many cells have their middle between two moments.
    pub fn cells(&self, from_s: f64, to_s: f64) -> usize {
        let (first, end) = self.cell_range(from_s, to_s);
        end - first
    }

    fn cell_range(&self, from_s: f64, to_s: f64) -> (usize, usize) {
        let middle_before = |t: f64| {
            let (mut low, mut high) = (0, self.mean.len());
            while low < high {
                let i = (low + high) / 2;
                if (self.begin_s[i] + self.end_s[i]) / 2.0 < t {
                    low = i + 1;
                } else {
                    high = i;
                }
            }
            low
        };
        let first = middle_before(from_s);
        (first, middle_before(to_s).max(first))
    }

    /// Slope of the least-squares line through the cells between two moments, each weighted by
    /// the time it stands for, in the quantity's unit per second; `None` with fewer than two.
    pub fn slope_per_s(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let (first, end) = self.cell_range(from_s, to_s);
        if end < first + 2 {
            return None;
        }
        let over = |sums: &[f64]| sums[end] - sums[first];
        let moment = |k: usize| self.moments[end][k] - self.moments[first][k];
        let (w, y) = (over(&self.covered_s), over(&self.sum));
        let (t, tt, yt) = (moment(0), moment(1), moment(2));
        let spread = tt - t * t / w;
        (spread > 0.0).then(|| (yt - y * t / w) / spread)
    }

    /// The moment in the middle of all.
    pub fn middle_s(&self) -> f64 {
        self.middle_s
    }
}
