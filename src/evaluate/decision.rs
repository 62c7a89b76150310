//! Decision rules of ILAC-G8:09/2019 (4.2): simple acceptance, binary and non-binary with a
//! guard band as wide as the expanded uncertainty.

use super::evaluation::Outcome;

/// What a measured value is worth against a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// Positive on the right side of the limit, in the quantity's unit.
    pub margin: f64,
    /// U = 2 u; `None` where u is unknown.
    pub expanded_uncertainty: Option<f64>,
    /// Probability of conformity, 0..=1, for normally distributed errors; `None` where u is
    /// unknown or zero.
    pub risk: Option<f64>,
    /// Non-binary rule with guard band w = U; simple acceptance where U is unknown or zero.
    pub result: Outcome,
    /// Binary rule without guard band.
    pub simple_acceptance: Outcome,
    /// Binary rule with guard band w = U; `None` where U is unknown or zero.
    pub guarded_acceptance: Option<Outcome>,
}

/// Rounding in sums such as 0.8900 + 0.0024 must not turn "equal" into "below": equality passes.
/// Far below anything an instrument resolves.
const ROUNDING: f64 = 1e-12;

/// Judges `measured` with standard uncertainty `u` against `limit`: a minimum or a maximum.
pub fn judge(measured: f64, u: Option<f64>, limit: f64, is_minimum: bool) -> Judgement {
    let margin = if is_minimum {
        measured - limit
    } else {
        limit - measured
    };
    let clears = |width: f64| margin >= width - ROUNDING * limit.abs().max(1.0);
    let binary = |width: f64| {
        if clears(width) {
            Outcome::Pass
        } else {
            Outcome::Fail
        }
    };
    let simple_acceptance = binary(0.0);
    let expanded_uncertainty = u.map(|u| 2.0 * u);
    let Some(guard) = expanded_uncertainty.filter(|&w| w > 0.0) else {
        return Judgement {
            margin,
            expanded_uncertainty,
            risk: None,
            result: simple_acceptance,
            simple_acceptance,
            guarded_acceptance: None,
        };
    };
    let result = if clears(guard) {
        Outcome::Pass
    } else if clears(0.0) {
        Outcome::ConditionalPass
    } else if clears(-guard) {
        Outcome::ConditionalFail
    } else {
        Outcome::Fail
    };
    Judgement {
        margin,
        expanded_uncertainty,
        risk: Some(normal_cdf(margin / (guard / 2.0))),
        result,
        simple_acceptance,
        guarded_acceptance: Some(binary(guard)),
    }
}

/// Standard normal distribution function Φ.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_at_the_acceptance_limit_passes_although_the_sum_is_rounded() {
        let judged = judge(0.8924, Some(0.0012), 0.89, true);
        assert_eq!(judged.result, Outcome::Pass);
        assert_eq!(judge(0.095, Some(0.0025), 0.1, false).result, Outcome::Pass);
    }

    #[test]
    fn a_risk_is_a_probability_however_small_the_uncertainty() {
        for u in [5e-324, f64::MIN_POSITIVE, 1e-300, 1e-12, 1e12, 1e300] {
            for measured in [0.0, 0.89, 1.0] {
                let judged = judge(measured, Some(u), 0.89, true);
                let risk = judged.risk.unwrap_or(0.0);
                assert!((0.0..=1.0).contains(&risk), "{measured} ± {u}: {risk}");
            }
        }
    }

    #[test]
    fn an_unknown_uncertainty_leaves_simple_acceptance() {
        let judged = judge(0.11, None, 0.1, false);
        assert_eq!(judged.result, Outcome::Fail);
        assert_eq!(judged.risk, None);
        assert_eq!(judged.guarded_acceptance, None);
    }

    /// ILAC-G8:09/2019 guard band table as calculated in the standards notes (normal
    /// distribution): false-accept probability at the acceptance limit for w = r U.
    #[test]
    fn the_false_accept_probability_at_the_acceptance_limit_follows_the_guard_band() {
        for (r, expected, tolerance) in [
            (0.0, 0.5, 1e-6),
            (0.83, 0.04846, 1e-4),
            (1.0, 0.02275, 1e-4),
            (1.5, 0.00135, 1e-5),
        ] {
            assert!(
                (1.0 - normal_cdf(2.0 * r) - expected).abs() <= tolerance,
                "r = {r}"
            );
        }
    }

    /// Standards notes, section 4: 0.8912 against 0.8900 with u 0.0012 gives 84.1 %.
    #[test]
    fn the_probability_of_conformity_is_that_of_the_worked_example() {
        let judged = judge(0.8912, Some(0.0012), 0.89, true);
        assert!((judged.risk.unwrap() - 0.841).abs() < 5e-4);
    }
}
