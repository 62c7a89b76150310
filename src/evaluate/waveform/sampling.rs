//! Are the samples even, and real numbers of a mains voltage?

/// A sample may lie this far from its even place, in intervals. A lost sample moves some by half
/// an interval or more.
const MOST_JITTER: f64 = 0.25;

/// No mains bench has more: beyond it a scale factor is wrong.
const MOST_VOLTS_OR_AMPERES: f64 = 10_000.0;

/// Fewer samples in a cycle tell no shape.
const LEAST_SAMPLES_A_CYCLE: f64 = 40.0;

/// Whole cycles that a record must hold, for the frequency to be known.
pub(super) const LEAST_CYCLES: f64 = 3.0;

/// Even samples of voltage and current.
pub(super) struct Samples<'a> {
    /// Time of the first sample.
    pub start_s: f64,
    pub interval_s: f64,
    pub voltage_v: &'a [f64],
    pub current_a: &'a [f64],
}

impl<'a> Samples<'a> {
    /// # Errors
    /// A sentence that says why these are no even samples of a mains voltage and current.
    pub fn checked(
        t_s: &'a [f64],
        voltage_v: &'a [f64],
        current_a: &'a [f64],
        nominal_frequency_hz: f64,
    ) -> Result<Samples<'a>, String> {
        let n = t_s.len();
        if voltage_v.len() != n || current_a.len() != n {
            return Err(format!(
                "{n} times, {} voltages and {} currents: expected as many of each",
                voltage_v.len(),
                current_a.len()
            ));
        }
        if !(45.0..=66.0).contains(&nominal_frequency_hz) {
            return Err(format!(
                "nominal frequency {nominal_frequency_hz} Hz: expected 45 to 66 Hz"
            ));
        }
        if n < 2 {
            return Err(format!("too short: {n} samples"));
        }
        for (word, unit, values) in [
            ("time", "s", t_s),
            ("voltage", "V", voltage_v),
            ("current", "A", current_a),
        ] {
            let most = if unit == "s" {
                1e12
            } else {
                MOST_VOLTS_OR_AMPERES
            };
            if let Some(at) = values.iter().position(|x| x.is_nan() || x.abs() > most) {
                return Err(format!(
                    "sample {}: {word} is {} {unit}, expected a number of at most {most:.0} in size; is the column's factor right?",
                    at + 1,
                    values[at]
                ));
            }
        }
        let start_s = t_s[0];
        let interval_s = (t_s[n - 1] - start_s) / (n - 1) as f64;
        // Below a nanosecond times of a log have no digits left.
        // Times are real numbers by now.
        if interval_s <= 1e-9 {
            return Err(format!(
                "the time does not rise: from {start_s} s to {} s over {n} samples",
                t_s[n - 1]
            ));
        }
        let (worst, off) = t_s
            .iter()
            .enumerate()
            .map(|(k, t)| (k, ((t - start_s) / interval_s - k as f64).abs()))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or((0, 0.0));
        if off > MOST_JITTER {
            return Err(format!(
                "sampled unevenly: sample {} at {} s is {off:.2} intervals of {interval_s:.3e} s from its even place, expected at most {MOST_JITTER}; are samples missing, or times rounded too coarsely (then give the interval instead of a time column)?",
                worst + 1,
                t_s[worst]
            ));
        }
        let a_cycle = 1.0 / (nominal_frequency_hz * interval_s);
        if a_cycle < LEAST_SAMPLES_A_CYCLE {
            return Err(format!(
                "sampled too slowly: {a_cycle:.1} samples in a cycle of {nominal_frequency_hz} Hz, expected at least {LEAST_SAMPLES_A_CYCLE}"
            ));
        }
        let cycles = n as f64 / a_cycle;
        if cycles < LEAST_CYCLES {
            return Err(format!(
                "too short: {cycles:.2} cycles of {nominal_frequency_hz} Hz, expected at least {LEAST_CYCLES}"
            ));
        }
        Ok(Samples {
            start_s,
            interval_s,
            voltage_v,
            current_a,
        })
    }

    pub fn len(&self) -> usize {
        self.voltage_v.len()
    }

    pub fn time_s(&self, sample: f64) -> f64 {
        self.start_s + sample * self.interval_s
    }
}

/// Share of the samples that stand at the largest or at the smallest value, whichever is more: a
/// clipped signal lies flat on its ends.
pub(super) fn share_at_an_end(values: &[f64]) -> f64 {
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(*v), h.max(*v))
        });
    if low >= high {
        return 0.0;
    }
    let at = |end: f64| values.iter().filter(|v| **v == end).count() as f64;
    at(low).max(at(high)) / values.len() as f64
}
