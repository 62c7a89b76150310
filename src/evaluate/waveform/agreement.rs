//! Do the waveform's figures and the analyser's readings of the same load agree?

use crate::bench::record::{Input, MeasuredQuantity as Q, NoLoad};
use crate::evaluate::evaluation::{PowerQuality, ReadingAgreement};
use crate::evaluate::uncertainty::Accuracy;
use crate::quantity::{combined, divisor};
use crate::standards::HarmonicLimits;

/// What the analyser showed at a load.
pub type AnalyserReadings = Input;

/// A no-load reading as readings of the analyser.
impl From<&NoLoad> for AnalyserReadings {
    fn from(reading: &NoLoad) -> AnalyserReadings {
        Input {
            power_w: reading.power_w,
            current_a: reading.current_a,
            power_factor: reading.power_factor,
            current_peak_a: reading.current_peak_a,
            ..Input::default()
        }
    }
}

/// Compares each quantity that both know. The tolerance is that of the table (sampling and probe),
/// with the analyser's expanded uncertainty (k = 2) where its accuracy is known, as root of the
/// sum of squares.
pub fn agreement(
    quality: &PowerQuality,
    readings: &AnalyserReadings,
    load_percent: f64,
    accuracy: Accuracy,
    limits: &HarmonicLimits,
) -> Vec<ReadingAgreement> {
    let power = if load_percent == 0.0 {
        Q::NoLoadPowerW
    } else {
        Q::InputPowerW
    };
    let u = |quantity, reading: Option<f64>| accuracy.of_reading(quantity, reading);
    let u_power_factor = readings.power_factor.and_then(|pf| {
        let relative = |quantity, reading: Option<f64>| {
            let x = reading.and_then(divisor)?;
            Some(u(quantity, reading)? / x)
        };
        let relative = combined([
            relative(power, readings.power_w),
            relative(Q::InputVoltageV, readings.voltage_v),
            relative(Q::InputCurrentA, readings.current_a),
        ])?;
        Some(pf * relative)
    });
    // Analysers differ in what they call THD: the nearer of both readings is compared.
    let distortion = &quality.distortion;
    let thd = [
        (
            distortion.current_thd_harmonics_percent,
            format!("; THD of orders 2 to {}", distortion.harmonics_to),
        ),
        (
            distortion.current_thd_all_percent,
            "; THD of everything but the fundamental".to_owned(),
        ),
    ]
    .into_iter()
    .filter_map(|(value, words)| Some((value?, words)))
    .reduce(|best, other| {
        let off = |x: f64| (x - readings.current_thd_percent.unwrap_or(0.0)).abs();
        if off(other.0) < off(best.0) {
            other
        } else {
            best
        }
    });
    let (thd, thd_words) = match thd {
        Some((value, words)) => (Some(value), words),
        None => (None, String::new()),
    };

    type Pair = (&'static str, Option<f64>, Option<f64>, Option<f64>, String);
    let none = String::new;
    let pairs: [Pair; 6] = [
        (
            "input_voltage_v",
            Some(quality.voltage_rms_v),
            readings.voltage_v,
            u(Q::InputVoltageV, readings.voltage_v),
            none(),
        ),
        (
            "input_current_a",
            Some(quality.current_rms_a),
            readings.current_a,
            u(Q::InputCurrentA, readings.current_a),
            none(),
        ),
        (
            "input_power_w",
            Some(quality.active_power_w),
            readings.power_w,
            u(power, readings.power_w),
            none(),
        ),
        (
            "power_factor",
            quality.power_factor,
            readings.power_factor,
            u_power_factor,
            none(),
        ),
        (
            "current_thd_percent",
            thd,
            readings.current_thd_percent,
            None,
            thd_words,
        ),
        (
            "input_current_peak_a",
            Some(quality.current_peak_a),
            readings.current_peak_a,
            None,
            none(),
        ),
    ];
    let mut found = Vec::new();
    for (quantity, waveform, analyser, u, words) in pairs {
        let (Some(waveform), Some(analyser)) = (waveform, analyser) else {
            continue;
        };
        let Some(row) = limits
            .agreement
            .quantities
            .iter()
            .find(|row| row.quantity == quantity)
        else {
            continue;
        };
        let own = (row.percent / 100.0 * analyser.abs()).max(row.absolute);
        let expanded = u.map_or(0.0, |u| 2.0 * u);
        let tolerance = (own * own + expanded * expanded).sqrt();
        let difference = waveform - analyser;
        found.push(ReadingAgreement {
            quantity: quantity.to_owned(),
            waveform,
            analyser,
            difference,
            tolerance,
            tolerance_reason: format!(
                "{} % of the reading, at least {}, for sampling and probes{}{words}",
                row.percent,
                row.absolute,
                if u.is_some() {
                    "; with the analyser's U (k = 2)"
                } else {
                    ""
                }
            ),
            agrees: difference.abs() <= tolerance,
        });
    }
    found
}
