//! How a no-load power is measured that does not stand still, as the table holds it.

use serde::Deserialize;

/// The methods for low power and their figures.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LowPower {
    pub citation: String,
    pub slope: SlopeLimit,
    pub sampling: Sampling,
    pub running_mean: RunningMean,
    pub cyclic: Cyclic,
    pub average: Average,
    pub five_minute: FiveMinuteRule,
    pub uncertainty: AllowedUncertainty,
    pub coverage: Coverage,
}

/// The slope below which a power counts as stable.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SlopeLimit {
    pub up_to_power_w: f64,
    pub below_w_per_h: f64,
    pub above_percent_per_h: f64,
    pub clause: String,
    pub known: String,
}

impl SlopeLimit {
    /// The slope that a stable power stays below, in watts an hour.
    pub fn w_per_h(&self, power_w: f64) -> f64 {
        if power_w <= self.up_to_power_w {
            self.below_w_per_h
        } else {
            self.above_percent_per_h / 100.0 * power_w
        }
    }
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Sampling {
    pub least_minutes: f64,
    pub discarded_share_numerator: u32,
    pub discarded_share_denominator: u32,
    pub clause: String,
    pub known: String,
}

impl Sampling {
    /// Share of a recording, from its beginning, that is not used.
    pub fn discarded_share(&self) -> f64 {
        f64::from(self.discarded_share_numerator) / f64::from(self.discarded_share_denominator)
    }
}

/// A power that varies without a pattern: its running mean must keep within a band.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct RunningMean {
    pub least_minutes: f64,
    pub band_percent: f64,
    pub clause: String,
    pub known: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Cyclic {
    pub unused_minutes: f64,
    pub least_cycles_each: u32,
    pub least_minutes_each: f64,
    pub clause: String,
    pub known: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Average {
    pub stabilise_minutes: f64,
    pub least_minutes_each: f64,
    pub most_minutes_each: f64,
    pub clause: String,
    pub known: String,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct FiveMinuteRule {
    pub minutes: f64,
    /// Of the largest value seen.
    pub drift_percent: f64,
    /// For a unit that delivers several voltages at the same time.
    pub drift_percent_multiple: f64,
    pub clause: String,
    pub known: String,
}

/// What the method allows an instrument's expanded uncertainty (95 %) to be.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct AllowedUncertainty {
    pub at_least_power_w: f64,
    pub relative: f64,
    pub below_w: f64,
    pub mcr_above: f64,
    pub widened_by_per_mcr: f64,
    pub clause: String,
    pub known: String,
}

impl AllowedUncertainty {
    /// The largest expanded uncertainty in watts, for a power and its MCR: the current's crest
    /// factor over the power factor. Up to an MCR of 10: 2 % from 1 W on, 0.02 W below. Above:
    /// U_pc = 2 % · \[1 + 0.08 (MCR - 10)\], from 1 W on relative; below, the greater of 0.02 W and
    /// U_pc · P.
    pub fn w(&self, power_w: f64, mcr: f64) -> f64 {
        let relative =
            self.relative * (1.0 + self.widened_by_per_mcr * (mcr - self.mcr_above).max(0.0));
        if power_w >= self.at_least_power_w {
            relative * power_w
        } else if mcr > self.mcr_above {
            self.below_w.max(relative * power_w)
        } else {
            self.below_w
        }
    }
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Coverage {
    pub probability: f64,
    pub clause: String,
    pub known: String,
}

impl LowPower {
    /// The table this program ships.
    pub fn embedded() -> LowPower {
        toml::from_str(include_str!("low_power.toml"))
            .expect("the shipped low-power table is well-formed")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Standards notes, section 6: crest factor 6 and power factor 0.15 give MCR 40 and 6.8 %;
    /// at 0.15 W that is 0.0102 W, so 0.02 W is allowed. Uncertainty notes, section 3: 2.0 W with
    /// crest factor 8 and power factor 0.3 gives MCR 26.67, 4.67 %, 0.0933 W.
    #[test]
    fn a_peaky_current_at_a_low_power_factor_is_allowed_more_uncertainty() {
        let allowed = LowPower::embedded().uncertainty;
        assert!((allowed.w(1.0, 40.0) - 0.068).abs() < 1e-12);
        assert_eq!(allowed.w(0.15, 40.0), 0.02);
        assert!((allowed.w(2.0, 8.0 / 0.3) - 0.0933).abs() < 5e-5);
        assert_eq!(allowed.w(2.0, 10.0), 0.04);
        assert_eq!(allowed.w(0.1, 3.0), 0.02);
    }

    #[test]
    fn a_stable_slope_is_absolute_up_to_one_watt_and_relative_above() {
        let slope = LowPower::embedded().slope;
        assert_eq!(slope.w_per_h(0.1), 0.010);
        assert_eq!(slope.w_per_h(1.0), 0.010);
        assert!((slope.w_per_h(2.0) - 0.020).abs() < 1e-15);
    }
}
