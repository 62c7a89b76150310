//! One load point: output power, efficiency, loss, power factor and their uncertainties.

use super::evaluation::PointResult;
use super::point_log::PointFindings;
use super::uncertainty::Accuracy;
use crate::bench::record::{LogQuantity, MeasuredQuantity as Q, Output, Point, RatedOutput};
use crate::quantity::{combined, divisor};

/// A smaller one is no reading of an adapter under load: nothing is divided by it.
pub const LEAST_POWER_FACTOR: f64 = 1e-6;

/// Sum of V·I over the ports, watts; `None` if nothing was loaded or a reading is missing.
pub fn output_power_w(outputs: &[Output]) -> Option<f64> {
    if outputs.is_empty() {
        return None;
    }
    outputs
        .iter()
        .map(|o| Some(o.voltage_v? * o.current_a?))
        .sum()
}

/// Sum of the output currents, amperes.
pub fn output_current_a(outputs: &[Output]) -> Option<f64> {
    if outputs.is_empty() {
        return None;
    }
    outputs.iter().map(|o| o.current_a).sum()
}

/// Standard uncertainties of a point's readings: the instrument's, and of an average the scatter's.
struct Readings<'a> {
    accuracy: Accuracy<'a>,
    found: Option<&'a PointFindings>,
    only_port: Option<&'a str>,
}

impl Readings<'_> {
    /// Of a reading of the input, or of an output by its port.
    fn u(&self, quantity: Q, reading: Option<f64>, port: Option<&str>) -> Option<f64> {
        let instrument = self.accuracy.of_reading(quantity, reading)?;
        let logged = match quantity {
            Q::InputPowerW => LogQuantity::InputPowerW,
            Q::InputVoltageV => LogQuantity::InputVoltageV,
            Q::InputCurrentA => LogQuantity::InputCurrentA,
            Q::OutputVoltageV => LogQuantity::OutputVoltageV,
            Q::OutputCurrentA => LogQuantity::OutputCurrentA,
            Q::NoLoadPowerW | Q::TemperatureC => return Some(instrument),
        };
        match self.scatter(logged, port) {
            Some(scatter) => combined([Some(instrument), Some(scatter)]),
            None => Some(instrument),
        }
    }

    fn scatter(&self, quantity: LogQuantity, port: Option<&str>) -> Option<f64> {
        self.found?.average(quantity, port, self.only_port)?.u
    }
}

/// All that follows from the readings of one point; `found`: what the section of a log says that
/// they are averages of.
pub fn result(
    point: &Point,
    rated: &[RatedOutput],
    accuracy: Accuracy,
    found: Option<&PointFindings>,
) -> PointResult {
    let readings = Readings {
        accuracy,
        found,
        only_port: match rated {
            [only] => Some(only.port.as_str()),
            _ => None,
        },
    };
    let input = point.input.clone().unwrap_or_default();
    let output_power = output_power_w(&point.outputs);
    // Per port u²(P) = (I u_V)² + (V u_I)²; ports are taken as independent channels.
    let output_power_u = output_power.and_then(|_| {
        combined(point.outputs.iter().flat_map(|o| {
            let u_v = readings.u(Q::OutputVoltageV, o.voltage_v, Some(&o.port));
            let u_i = readings.u(Q::OutputCurrentA, o.current_a, Some(&o.port));
            [
                u_v.zip(o.current_a).map(|(u, i)| u * i),
                u_i.zip(o.voltage_v).map(|(u, v)| u * v),
            ]
        }))
    });
    let input_power_u = readings.u(Q::InputPowerW, input.power_w, None);

    let powers = output_power.zip(input.power_w);
    let efficiency = powers.and_then(|(p_out, p_in)| Some(p_out / divisor(p_in)?));
    // u²(η) = (u_out/P_in)² + (η u_in/P_in)², GUM 5.1.2 with ∂η/∂P_out = 1/P_in, ∂η/∂P_in = -η/P_in.
    let efficiency_u = efficiency.zip(input.power_w).and_then(|(eta, p_in)| {
        combined([
            output_power_u.map(|u| u / p_in),
            input_power_u.map(|u| eta * u / p_in),
        ])
    });

    let apparent_power = match (
        input.voltage_v,
        input.current_a,
        input.power_w,
        input.power_factor,
    ) {
        (Some(v), Some(i), ..) => Some(v * i),
        (.., Some(p), Some(pf)) if pf >= LEAST_POWER_FACTOR => Some(p / pf),
        _ => None,
    };
    let power_factor = input.power_factor.or_else(|| {
        let s = apparent_power.and_then(divisor)?;
        Some((input.power_w? / s).min(1.0))
    });
    // PF = P/(V I): relative variances add.
    let power_factor_u = power_factor.and_then(|pf| {
        let relative = |quantity, reading: Option<f64>| {
            let x = reading.and_then(divisor)?;
            Some(readings.u(quantity, Some(x), None)? / x)
        };
        let relative_u = combined([
            relative(Q::InputPowerW, input.power_w),
            relative(Q::InputVoltageV, input.voltage_v),
            relative(Q::InputCurrentA, input.current_a),
        ])?;
        // A power factor that the log holds scatters by itself.
        let own = readings.scatter(LogQuantity::PowerFactor, None);
        match own {
            Some(own) => combined([Some(pf * relative_u), Some(own)]),
            None => Some(pf * relative_u),
        }
    });

    let deviation = point
        .outputs
        .iter()
        .filter_map(|o| {
            let rated = divisor(rated.iter().find(|r| r.port == o.port)?.voltage_v)?;
            let v = o.voltage_v?;
            let u = readings.u(Q::OutputVoltageV, Some(v), Some(&o.port));
            Some(((v - rated) / rated * 100.0, u.map(|u| u / rated * 100.0)))
        })
        .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));

    PointResult {
        log: None,
        load_percent: point.load_percent,
        output_power_w: output_power,
        output_power_u,
        input_power_w: input.power_w,
        input_power_u,
        efficiency,
        efficiency_u,
        loss_w: powers.map(|(p_out, p_in)| p_in - p_out),
        loss_u: powers.and_then(|_| combined([output_power_u, input_power_u])),
        apparent_power_va: apparent_power,
        power_factor,
        power_factor_u,
        // S a hair below P is rounding of the meter: no non-active power then.
        nonactive_power_va: apparent_power
            .zip(input.power_w)
            .map(|(s, p)| (s * s - p * p).max(0.0).sqrt()),
        crest_factor: input
            .current_peak_a
            .zip(input.current_a.and_then(divisor))
            .map(|(peak, rms)| peak / rms),
        current_thd_percent: input.current_thd_percent,
        voltage_deviation_percent: deviation.map(|d| d.0),
        voltage_deviation_u: deviation.and_then(|d| d.1),
    }
}

/// The result at a nominal load, within `tolerance` percentage points: the nearest, of equally
/// near ones the last.
pub fn at_percent(points: &[PointResult], nominal: f64, tolerance: f64) -> Option<&PointResult> {
    let distance = |p: &PointResult| (p.load_percent - nominal).abs();
    points
        .iter()
        .filter(|p| distance(p) <= tolerance)
        .reduce(|best, p| {
            if distance(p) <= distance(best) {
                p
            } else {
                best
            }
        })
}
