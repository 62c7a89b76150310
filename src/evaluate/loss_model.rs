//! Losses as a + b I + c I²: what the adapter burns standing by, in junctions, in resistance.

use super::evaluation::{LossModel, RunResult};
use crate::quantity::{Measured, NEXT_TO_NOTHING, divisor};
use serde::{Deserialize, Serialize};

/// A loss in watts at a sum of output currents in amperes and an output power in watts.
#[derive(Debug, Clone, Copy)]
pub struct LossReading {
    pub current_a: f64,
    pub output_power_w: f64,
    pub loss_w: f64,
}

/// Non-negative least squares of loss = a + b I + c I² over the readings (no-load included as a
/// reading at 0 A). Three unknowns, so every choice of terms is solved and the best that has no
/// negative coefficient is taken: exact, and the same on every machine.
///
/// `None` with fewer than three different currents.
pub fn fit(readings: &[LossReading], rated_power_w: Option<f64>) -> Option<LossModel> {
    let mut currents: Vec<f64> = readings.iter().map(|r| r.current_a).collect();
    currents.sort_by(f64::total_cmp);
    currents.dedup();
    let scale = divisor(*currents.last()?)?;
    if currents.len() < 3 {
        return None;
    }
    // Current as a share of the largest keeps the normal equations well conditioned.
    let columns = |r: &LossReading| {
        let x = r.current_a / scale;
        [1.0, x, x * x]
    };
    let mut best: Option<([f64; 3], f64)> = None;
    for subset in 1u8..8 {
        let terms: Vec<usize> = (0..3).filter(|t| subset & (1 << t) != 0).collect();
        let Some(solution) = least_squares(readings, &columns, &terms) else {
            continue;
        };
        if solution.iter().any(|&c| c < 0.0) {
            continue;
        }
        let mut coefficients = [0.0; 3];
        for (&term, &value) in terms.iter().zip(&solution) {
            coefficients[term] = value;
        }
        let squares: f64 = readings
            .iter()
            .map(|r| {
                let modelled: f64 = columns(r)
                    .iter()
                    .zip(&coefficients)
                    .map(|(x, c)| x * c)
                    .sum();
                (r.loss_w - modelled).powi(2)
            })
            .sum();
        if best.as_ref().is_none_or(|(_, least)| squares < *least) {
            best = Some((coefficients, squares));
        }
    }
    let (coefficients, squares) = best?;
    let (a_w, b_v, c_ohm) = (
        coefficients[0],
        coefficients[1] / scale,
        coefficients[2] / scale / scale,
    );

    let highest = readings
        .iter()
        .max_by(|x, y| x.current_a.total_cmp(&y.current_a))?;
    let effective_voltage_v = highest.output_power_w / highest.current_a;
    if effective_voltage_v < NEXT_TO_NOTHING {
        return None;
    }
    let valid_to_w = highest.output_power_w.max(rated_power_w.unwrap_or(0.0));
    let mut model = LossModel {
        a_w,
        b_v,
        c_ohm,
        rms_residual_w: (squares / readings.len() as f64).sqrt(),
        peak_efficiency: 0.0,
        peak_at_w: 0.0,
        effective_voltage_v,
        valid_to_w,
    };
    // dη/dI = 0 where a = c I²; without a falling branch the peak is at the end of the range.
    let largest_current = valid_to_w / effective_voltage_v;
    let peak_current = if c_ohm > 0.0 {
        (a_w / c_ohm).sqrt().min(largest_current)
    } else {
        largest_current
    };
    model.peak_at_w = peak_current * effective_voltage_v;
    model.peak_efficiency = if model.peak_at_w > 0.0 {
        efficiency(&model, model.peak_at_w)
    } else {
        // a = 0: efficiency only falls with load; its limit towards no load.
        effective_voltage_v / (effective_voltage_v + b_v)
    };
    Some(model)
}

/// Solves the normal equations for the chosen columns by elimination with pivoting.
/// `None` if they are singular.
fn least_squares(
    readings: &[LossReading],
    columns: &impl Fn(&LossReading) -> [f64; 3],
    terms: &[usize],
) -> Option<Vec<f64>> {
    let n = terms.len();
    let mut rows = vec![vec![0.0; n + 1]; n];
    for reading in readings {
        let x = columns(reading);
        for (i, &ti) in terms.iter().enumerate() {
            for (j, &tj) in terms.iter().enumerate() {
                rows[i][j] += x[ti] * x[tj];
            }
            rows[i][n] += x[ti] * reading.loss_w;
        }
    }
    for pivot in 0..n {
        let best =
            (pivot..n).max_by(|&i, &j| rows[i][pivot].abs().total_cmp(&rows[j][pivot].abs()))?;
        rows.swap(pivot, best);
        if rows[pivot][pivot].abs() < 1e-12 {
            return None;
        }
        let (done, below) = rows.split_at_mut(pivot + 1);
        for row in below {
            let factor = row[pivot] / done[pivot][pivot];
            for (value, above) in row.iter_mut().zip(&done[pivot]).skip(pivot) {
                *value -= factor * above;
            }
        }
    }
    let mut solution = vec![0.0; n];
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| rows[i][j] * solution[j]).sum();
        solution[i] = (rows[i][n] - known) / rows[i][i];
    }
    Some(solution)
}

/// Modelled loss in watts at an output power in watts.
pub fn loss_w(model: &LossModel, output_power_w: f64) -> f64 {
    let current = output_power_w / model.effective_voltage_v;
    model.a_w + model.b_v * current + model.c_ohm * current * current
}

/// Modelled efficiency, a fraction, at an output power in watts above 0.
pub fn efficiency(model: &LossModel, output_power_w: f64) -> f64 {
    output_power_w / (output_power_w + loss_w(model, output_power_w))
}

/// A run's loss at any output power with its standard uncertainty: what is left of a run once its
/// model has been fitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LossCurve {
    pub model: LossModel,
    /// Output power and standard uncertainty of the loss at each measured point, in rising power;
    /// no load as 0 W.
    pub known_u: Vec<(f64, Option<f64>)>,
}

impl LossCurve {
    /// `None` for a run without a model.
    pub fn of(run: &RunResult) -> Option<LossCurve> {
        let mut known_u: Vec<(f64, Option<f64>)> = run
            .points
            .iter()
            .filter_map(|p| Some((p.output_power_w.filter(|_| p.loss_w.is_some())?, p.loss_u)))
            .chain(run.no_load.as_ref().map(|n| (0.0, n.power_u)))
            .collect();
        known_u.sort_by(|a, b| a.0.total_cmp(&b.0));
        Some(LossCurve {
            model: run.loss_model.clone()?,
            known_u,
        })
    }

    /// Does the fit cover this output power, in watts above 0?
    pub fn covers(&self, output_power_w: f64) -> bool {
        // Half a percent beyond the last point is still that point, not an extrapolation.
        output_power_w > 0.0 && output_power_w <= self.model.valid_to_w * 1.005
    }

    /// Loss in watts: the instruments' uncertainty, interpolated between the measured points, and
    /// the fit's residual. `None` outside of what the fit covers.
    pub fn loss_at(&self, output_power_w: f64) -> Option<Measured> {
        self.covers(output_power_w).then(|| {
            let u = self
                .instrument_u_at(output_power_w)
                .map(|u| (u * u + self.model.rms_residual_w.powi(2)).sqrt());
            Measured::new(loss_w(&self.model, output_power_w), u)
        })
    }

    /// Efficiency, a fraction. u(η) = η²/P · u(loss), from η = P/(P + loss) with P given.
    pub fn efficiency_at(&self, output_power_w: f64) -> Option<Measured> {
        let loss = self.loss_at(output_power_w)?;
        let eta = output_power_w / (output_power_w + loss.value);
        Some(Measured::new(
            eta,
            loss.u.map(|u| u * eta * eta / output_power_w),
        ))
    }

    /// Linear between measured points; beyond the outermost points theirs.
    fn instrument_u_at(&self, output_power_w: f64) -> Option<f64> {
        let known = &self.known_u;
        let after = known.partition_point(|(p, _)| *p < output_power_w);
        match (
            after.checked_sub(1).and_then(|i| known.get(i)),
            known.get(after),
        ) {
            (Some((p0, u0)), Some((p1, u1))) => {
                let (u0, u1) = ((*u0)?, (*u1)?);
                Some(u0 + (u1 - u0) * (output_power_w - p0) / (p1 - p0))
            }
            (Some((_, u)), None) | (None, Some((_, u))) => *u,
            (None, None) => None,
        }
    }
}

/// Efficiency of a run at any output power by its loss model, with standard uncertainty (see
/// [`LossCurve::efficiency_at`]).
///
/// `None` without a model, at or below 0 W, or above the range that the fit covers.
pub fn efficiency_at(run: &RunResult, output_power_w: f64) -> Option<Measured> {
    LossCurve::of(run)?.efficiency_at(output_power_w)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(a: f64, b: f64, c: f64) -> Vec<LossReading> {
        [0.0, 0.5, 1.25, 2.5, 3.75, 5.0]
            .map(|i| LossReading {
                current_a: i,
                output_power_w: 20.0 * i,
                loss_w: a + b * i + c * i * i,
            })
            .to_vec()
    }

    #[test]
    fn a_loss_that_follows_the_model_is_found_again() {
        let model = fit(&readings(0.4, 0.7, 0.11), Some(100.0)).unwrap();
        assert!((model.a_w - 0.4).abs() < 1e-9);
        assert!((model.b_v - 0.7).abs() < 1e-9);
        assert!((model.c_ohm - 0.11).abs() < 1e-9);
        assert!(model.rms_residual_w < 1e-9);
        // the peak lies where the constant loss equals the resistive: I = sqrt(a/c)
        assert!((model.peak_at_w - 20.0 * (0.4f64 / 0.11).sqrt()).abs() < 1e-6);
    }

    #[test]
    fn no_coefficient_is_ever_negative() {
        let model = fit(&readings(0.4, -0.05, 0.2), Some(100.0)).unwrap();
        assert!(model.a_w >= 0.0 && model.b_v == 0.0 && model.c_ohm > 0.0);
    }

    #[test]
    fn two_currents_are_too_few() {
        assert!(fit(&readings(0.4, 0.7, 0.11)[..2], None).is_none());
    }
}
