//! What a sampled line voltage and current say: powers by IEEE 1459, harmonics by IEC 61000-4-7,
//! a screening against IEC 61000-3-2, and whether the analyser agrees.
//!
//! [`analyse`] knows samples only. [`result`] joins its findings with the limits, the class of the
//! equipment and the analyser's readings.

mod agreement;
mod frequency;
mod gathering;
mod resampling;
mod sampling;
mod screening;
mod spectrum;

pub use agreement::{AnalyserReadings, agreement};
pub use gathering::gathered;
pub use screening::{Equipment, RatedInput, screening};
pub use spectrum::smoothed;

use super::evaluation::{
    FundamentalPower, Harmonic, PowerDistortion, PowerQuality, RunResult, SpectrumWindows, Warning,
    WaveShape, WaveformResult,
};
use super::evidence::Evidence;
use super::uncertainty::Accuracy;
use crate::bench::record::{Point, Record, Run, Waveform};
use crate::standards::{HarmonicLimits, Standards};
use realfft::num_complex::Complex;
use sampling::Samples;
use serde::{Deserialize, Serialize};
use spectrum::{Window, Windows};
use std::f64::consts::TAU;

/// Version of the analysis: findings that were remembered under another one are not used.
pub const VERSION: u32 = 1;

/// Points a cycle of what a chart shows.
const SHAPE_POINTS: f64 = 200.0;

/// Cycles of what a chart shows.
const SHAPE_CYCLES: f64 = 2.0;

/// A record's ends hold more of its samples than this only if it lies flat there.
const FLAT_SHARE: f64 = 0.08;

/// Less is the output of a probe whose factor was forgotten.
const LEAST_VOLTS: f64 = 1.0;

/// What the samples alone say; may be remembered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaveformFindings {
    pub quality: PowerQuality,
    /// One entry a window, for limits that hold for every one.
    pub windows: Vec<WindowFindings>,
}

/// One window of about 200 ms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WindowFindings {
    pub length_s: f64,
    pub active_power_w: f64,
    /// Harmonic groups of the current in amperes, from order 1.
    pub current_group_a: Vec<f64>,
}

/// Analyses even samples of line voltage (volts) and current (amperes) at times in seconds.
/// `nominal_frequency_hz` is the supply's, 50 or 60: it chooses the window.
///
/// # Errors
/// A sentence that says why nothing can be computed: too short, sampled unevenly or too slowly, no
/// fundamental, numbers that no mains has.
pub fn analyse(
    t_s: &[f64],
    voltage_v: &[f64],
    current_a: &[f64],
    nominal_frequency_hz: f64,
    limits: &HarmonicLimits,
) -> Result<WaveformFindings, String> {
    let samples = Samples::checked(t_s, voltage_v, current_a, nominal_frequency_hz)?;
    let frequency_hz =
        frequency::of_fundamental(voltage_v, samples.interval_s, nominal_frequency_hz)?;
    let windows = spectrum::of(&samples, frequency_hz, nominal_frequency_hz, limits)?;
    let quality = quality(
        &samples,
        frequency_hz,
        nominal_frequency_hz,
        &windows,
        limits,
    )?;
    Ok(WaveformFindings {
        quality,
        windows: windows
            .windows
            .into_iter()
            .map(|w| WindowFindings {
                length_s: w.length * samples.interval_s,
                active_power_w: w.active_power_w,
                current_group_a: w.current_group_a,
            })
            .collect(),
    })
}

/// Mean over the windows.
fn mean(windows: &[Window], of: impl Fn(&Window) -> f64) -> f64 {
    windows.iter().map(of).sum::<f64>() / windows.len() as f64
}

/// `a / b` where b is something.
fn ratio(a: f64, b: f64) -> Option<f64> {
    let ratio = a / b;
    (b > 0.0 && ratio.is_finite()).then_some(ratio)
}

fn largest_size(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |most, v| v.abs().max(most))
}

/// Figures of the whole record: squares and powers are means over the windows.
fn quality(
    samples: &Samples,
    frequency_hz: f64,
    nominal_frequency_hz: f64,
    spectra: &Windows,
    limits: &HarmonicLimits,
) -> Result<PowerQuality, String> {
    let windows = &spectra.windows;
    let v = mean(windows, |w| w.voltage_square).sqrt();
    let i = mean(windows, |w| w.current_square).sqrt();
    let p = mean(windows, |w| w.active_power_w);
    let s = v * i;
    let v1 = mean(windows, |w| w.voltage[0].norm_sqr()).sqrt();
    let i1 = mean(windows, |w| w.current[0].norm_sqr()).sqrt();
    let dc_v = mean(windows, |w| w.voltage_dc_v);
    if v < LEAST_VOLTS {
        return Err(format!(
            "{v:.4} V r.m.s. is no mains voltage: is the column's factor right?"
        ));
    }
    if v1 * v1 <= 0.5 * (v * v - dc_v * dc_v) {
        return Err(format!(
            "no fundamental: {v1:.3} V at {frequency_hz:.3} Hz in {v:.3} V r.m.s. is less than half of the power; is this column the line voltage?"
        ));
    }
    // V1 times the conjugate of I1: real part P1, imaginary part Q1, positive when current lags.
    let complex_power: Complex<f64> = windows
        .iter()
        .map(|w| w.voltage[0] * w.current[0].conj())
        .sum::<Complex<f64>>()
        / windows.len() as f64;
    let (p1, q1, s1) = (complex_power.re, complex_power.im, v1 * i1);
    // A hair below zero is rounding.
    let v_h = (v * v - v1 * v1).max(0.0).sqrt();
    let i_h = (i * i - i1 * i1).max(0.0).sqrt();
    let (d_i, d_v, s_h, p_h) = (v1 * i_h, v_h * i1, v_h * i_h, p - p1);

    let harmonics = harmonics(spectra, limits);
    let over_harmonics = |of: &dyn Fn(&Harmonic) -> f64| {
        harmonics[1..]
            .iter()
            .map(|h| of(h).powi(2))
            .sum::<f64>()
            .sqrt()
    };
    let (first, thc) = (&harmonics[0], over_harmonics(&|h| h.current_a));
    let percent = |share: Option<f64>| share.map(|x| 100.0 * x);
    let partial_odd = limits
        .partial_odd_orders()
        .filter_map(|n| harmonics.get(n as usize - 1))
        .map(|h| h.current_group_a.powi(2))
        .sum::<f64>()
        .sqrt();

    let voltage_peak_v = largest_size(samples.voltage_v);
    let current_peak_a = largest_size(samples.current_a);
    Ok(PowerQuality {
        samples: samples.len() as u64,
        from_s: samples.start_s,
        interval_s: samples.interval_s,
        nominal_frequency_hz,
        frequency_hz,
        windows: described(samples, spectra),
        voltage_rms_v: v,
        current_rms_a: i,
        active_power_w: p,
        apparent_power_va: s,
        nonactive_power_va: (s * s - p * p).max(0.0).sqrt(),
        power_factor: ratio(p, s),
        fundamental: FundamentalPower {
            voltage_v: v1,
            current_a: i1,
            active_power_w: p1,
            reactive_power_var: q1,
            apparent_power_va: s1,
            phase_deg: (s1 > 0.0).then(|| libm::atan2(q1, p1) * 360.0 / TAU),
            displacement_power_factor: ratio(p1, s1),
        },
        distortion: PowerDistortion {
            voltage_thd_all_percent: 100.0 * v_h / v1,
            current_thd_all_percent: percent(ratio(i_h, i1)),
            voltage_thd_harmonics_percent: 100.0 * over_harmonics(&|h| h.voltage_v)
                / first.voltage_v,
            current_thd_harmonics_percent: percent(ratio(thc, first.current_a)),
            harmonics_to: spectra.highest_order,
            current_distortion_power_var: d_i,
            voltage_distortion_power_var: d_v,
            harmonic_apparent_power_va: s_h,
            nonfundamental_apparent_power_va: (d_i * d_i + d_v * d_v + s_h * s_h).sqrt(),
            harmonic_active_power_w: p_h,
            harmonic_distortion_power_var: (s_h * s_h - p_h * p_h).max(0.0).sqrt(),
            total_harmonic_current_a: thc,
            partial_odd_harmonic_current_a: partial_odd,
        },
        voltage_peak_v,
        current_peak_a,
        voltage_crest_factor: voltage_peak_v / v,
        current_crest_factor: ratio(current_peak_a, i),
        voltage_dc_v: dc_v,
        current_dc_a: mean(windows, |w| w.current_dc_a),
        notes: notes(samples, frequency_hz, nominal_frequency_hz, p, spectra),
        shape: shape(samples, frequency_hz, spectra),
        harmonics,
    })
}

fn harmonics(spectra: &Windows, limits: &HarmonicLimits) -> Vec<Harmonic> {
    let windows = &spectra.windows;
    let mut harmonics: Vec<Harmonic> = (0..spectra.highest_order as usize)
        .map(|k| Harmonic {
            order: k as u32 + 1,
            voltage_v: mean(windows, |w| w.voltage[k].norm()),
            current_a: mean(windows, |w| w.current[k].norm()),
            current_percent: None,
            current_group_a: mean(windows, |w| w.current_group_a[k]),
            current_subgroup_a: spectra
                .full_length
                .then(|| mean(windows, |w| w.current_subgroup_a[k])),
            current_smoothed_max_a: spectrum::largest_smoothed(
                windows.iter().map(|w| w.current_group_a[k]),
                limits.window.smoothing_weight,
            ),
        })
        .collect();
    let fundamental_a = harmonics[0].current_a;
    for harmonic in &mut harmonics {
        harmonic.current_percent = ratio(100.0 * harmonic.current_a, fundamental_a);
    }
    harmonics
}

fn described(samples: &Samples, spectra: &Windows) -> SpectrumWindows {
    let (first, last) = (
        &spectra.windows[0],
        &spectra.windows[spectra.windows.len() - 1],
    );
    let end = last.start + last.length;
    let count = spectra.windows.len();
    let mut words = format!(
        "{count} rectangular window{} of {} cycles, {} of {} points{}",
        if count == 1 { "" } else { "s" },
        spectra.cycles,
        if count == 1 { "one" } else { "each" },
        spectra.points,
        if spectra.resampled {
            ", resampled so that each holds whole cycles"
        } else {
            "; whole cycles are whole samples"
        }
    );
    if !spectra.full_length {
        words.push_str(
            "; the record is shorter than a window of 200 ms, so the largest number of whole cycles was taken",
        );
    }
    SpectrumWindows {
        count: count as u64,
        cycles: spectra.cycles,
        full_length: spectra.full_length,
        resampled: spectra.resampled,
        points: spectra.points as u64,
        from_s: samples.time_s(first.start),
        to_s: samples.time_s(end.min(samples.len() as f64)),
        description: words,
    }
}

fn notes(
    samples: &Samples,
    frequency_hz: f64,
    nominal_hz: f64,
    active_power_w: f64,
    spectra: &Windows,
) -> Vec<String> {
    let mut notes = Vec::new();
    if (frequency_hz / nominal_hz - 1.0).abs() > 0.05 {
        notes.push(format!(
            "the voltage has {frequency_hz:.2} Hz, the run's line {nominal_hz} Hz"
        ));
    }
    if active_power_w < 0.0 {
        notes.push(
            "the active power is negative: the current sensor stands the wrong way round (a factor of -1 on its column turns it)"
                .to_owned(),
        );
    }
    for (word, values) in [
        ("voltage", samples.voltage_v),
        ("current", samples.current_a),
    ] {
        let share = sampling::share_at_an_end(values);
        if share > FLAT_SHARE {
            notes.push(format!(
                "{:.0} % of the samples of the {word} stand at its very end: clipped by the instrument, or really flat",
                100.0 * share
            ));
        }
    }
    let highest = spectra.highest_order;
    if highest < 40 {
        notes.push(format!(
            "sampled {:.0} times a cycle: orders above {highest} are not known",
            1.0 / (frequency_hz * samples.interval_s)
        ));
    }
    if !spectra.full_length {
        notes.push(format!(
            "shorter than a window of 200 ms: figures are of {} cycles, groups from their lines",
            spectra.cycles
        ));
    }
    notes
}

/// Two cycles from a rising zero of the voltage's fundamental in the first window.
fn shape(samples: &Samples, frequency_hz: f64, spectra: &Windows) -> WaveShape {
    let cycle = 1.0 / (frequency_hz * samples.interval_s);
    let first = &spectra.windows[0];
    // The line is A cos(wt + angle): its rising zero is where the phase is three quarters round.
    let angle = libm::atan2(first.voltage[0].im, first.voltage[0].re) / TAU;
    let begin = (first.start + (0.75 - angle).rem_euclid(1.0) * cycle).round();
    let cell = (cycle / SHAPE_POINTS).max(1.0);
    let points = (SHAPE_CYCLES * cycle / cell).round() as usize;
    let mut shape = WaveShape {
        from_s: samples.time_s(begin),
        interval_s: cell * samples.interval_s,
        voltage_v: Vec::with_capacity(points + 1),
        current_a: Vec::with_capacity(points + 1),
        power_w: Vec::with_capacity(points + 1),
    };
    for k in 0..=points {
        // Samples of the cell around this point.
        let middle = begin + k as f64 * cell;
        let from = (middle - cell / 2.0).ceil().max(0.0) as usize;
        let to = ((middle + cell / 2.0).ceil() as usize).min(samples.len());
        if from >= to {
            break;
        }
        let of = |values: &dyn Fn(usize) -> f64| {
            (from..to).map(values).sum::<f64>() / (to - from) as f64
        };
        shape.voltage_v.push(of(&|k| samples.voltage_v[k]));
        shape.current_a.push(of(&|k| samples.current_a[k]));
        shape
            .power_w
            .push(of(&|k| samples.voltage_v[k] * samples.current_a[k]));
    }
    shape
}

/// The section that a waveform comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct WaveformSection {
    /// The log's name in the record.
    pub name: String,
    pub sha256: String,
    /// Percent of rated; 0: no load.
    pub load_percent: f64,
    pub from_s: f64,
    /// Unknown where the section runs to the end of a log that is not at hand.
    pub to_s: Option<f64>,
}

/// Joins findings with limits and readings; a refusal stays with its reason.
pub fn result(
    section: WaveformSection,
    findings: Result<&WaveformFindings, &str>,
    equipment: &Equipment,
    readings: &AnalyserReadings,
    accuracy: Accuracy,
    limits: &HarmonicLimits,
) -> WaveformResult {
    let known = findings.ok();
    WaveformResult {
        name: section.name,
        sha256: section.sha256,
        load_percent: section.load_percent,
        from_s: section.from_s,
        to_s: section.to_s,
        refused: findings.err().map(str::to_owned),
        screening: known.map(|f| screening(f, section.load_percent, equipment, limits)),
        agreement: known.map_or_else(Vec::new, |f| {
            agreement(&f.quality, readings, section.load_percent, accuracy, limits)
        }),
        supply: known.map_or_else(Vec::new, |f| screening::supply(&f.quality, limits)),
        quality: known.map(|f| f.quality.clone()),
    }
}

/// Results of all waveforms of a record, one entry a run; the analyser's readings are those of
/// `record`.
pub fn results(
    record: &Record,
    runs: &[RunResult],
    evidence: &Evidence,
    standards: &Standards,
) -> Vec<Vec<WaveformResult>> {
    let accuracy = Accuracy::of(&record.instruments);
    let unread = "its log was not read";
    record
        .runs
        .iter()
        .zip(runs)
        .enumerate()
        .map(|(i, (run, run_result))| {
            let equipment = Equipment::of(&record.unit, run_result, runs, standards);
            run.waveforms
                .iter()
                .enumerate()
                .map(|(j, waveform)| {
                    let findings = match evidence.run(i).waveforms.get(j) {
                        Some(Ok(findings)) => Ok(findings),
                        Some(Err(why)) => Err(why.as_str()),
                        None => Err(unread),
                    };
                    result(
                        section(record, waveform, findings.ok()),
                        findings,
                        &equipment,
                        &readings_at(run, waveform.load_percent, standards),
                        accuracy,
                        &standards.harmonics,
                    )
                })
                .collect()
        })
        .collect()
}

/// Waveforms that gave no figures, and quantities in which waveform and analyser differ.
pub fn warnings(runs: &[RunResult]) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (i, run) in runs.iter().enumerate() {
        for (j, waveform) in run.waveforms.iter().enumerate() {
            let mut warn = |message| {
                warnings.push(Warning {
                    path: format!("runs[{i}].waveforms[{j}].log"),
                    message,
                });
            };
            if let Some(why) = &waveform.refused {
                warn(format!("{why}: the waveform gives no figures"));
            }
            for differing in waveform.agreement.iter().filter(|a| !a.agrees) {
                warn(format!(
                    "{}: the waveform has {:.4}, the analyser reads {:.4}; they differ by {:.4}, expected at most {:.4}",
                    differing.quantity,
                    differing.waveform,
                    differing.analyser,
                    differing.difference,
                    differing.tolerance
                ));
            }
        }
    }
    warnings
}

fn section(
    record: &Record,
    waveform: &Waveform,
    findings: Option<&WaveformFindings>,
) -> WaveformSection {
    let log = record.logs.iter().find(|log| log.name == waveform.log);
    let samples = findings.map(|f| {
        let q = &f.quality;
        (q.from_s, q.from_s + q.interval_s * (q.samples as f64 - 1.0))
    });
    WaveformSection {
        name: waveform.log.clone(),
        sha256: log.map_or_else(String::new, |log| log.sha256.clone()),
        load_percent: waveform.load_percent,
        from_s: samples.map_or(waveform.log_from_s.unwrap_or(0.0), |s| s.0),
        to_s: samples.map(|s| s.1).or(waveform.log_to_s),
    }
}

/// What the analyser showed at a load of the run: the nearest point within the tolerance of the
/// procedure, of equally near ones the last; at 0 % the no-load reading.
fn readings_at(run: &Run, load_percent: f64, standards: &Standards) -> AnalyserReadings {
    if load_percent == 0.0 {
        return run
            .no_load
            .as_ref()
            .map(AnalyserReadings::from)
            .unwrap_or_default();
    }
    let off = |point: &Point| (point.load_percent - load_percent).abs();
    run.points
        .iter()
        .filter(|point| off(point) <= standards.procedure.load_points.tolerance_percent)
        .reduce(|best, point| if off(point) <= off(best) { point } else { best })
        .and_then(|point| point.input.clone())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::record::{Input, Instrument, MeasuredQuantity};
    use crate::evaluate::evaluation::ScreeningResult;
    use proptest::prelude::*;
    use std::sync::LazyLock;

    static LIMITS: LazyLock<HarmonicLimits> = LazyLock::new(HarmonicLimits::embedded);

    /// Times of so many samples at a rate.
    fn times(count: usize, rate: f64) -> Vec<f64> {
        (0..count).map(|k| k as f64 / rate).collect()
    }

    /// 230 V with a current of orders 1, 3 and 5 (r.m.s. 0.5, 0.3, 0.1 A), the fundamental lagging
    /// by 20 degrees.
    fn mains(t_s: &[f64], hz: f64) -> (Vec<f64>, Vec<f64>) {
        let root = 2f64.sqrt();
        t_s.iter()
            .map(|t| {
                let x = TAU * hz * t + 0.7;
                let current = 0.5 * (x - 20f64.to_radians()).sin()
                    + 0.3 * (3.0 * x + 1.0).sin()
                    + 0.1 * (5.0 * x).sin();
                (230.0 * root * x.sin(), root * current)
            })
            .unzip()
    }

    fn found(hz: f64, nominal: f64, rate: f64, seconds: f64) -> PowerQuality {
        let t = times((rate * seconds).round() as usize, rate);
        let (v, i) = mains(&t, hz);
        analyse(&t, &v, &i, nominal, &LIMITS).unwrap().quality
    }

    fn refused(t: &[f64], v: &[f64], i: &[f64]) -> String {
        analyse(t, v, i, 50.0, &LIMITS).unwrap_err()
    }

    #[test]
    fn a_mains_off_its_nominal_frequency_is_resampled_to_whole_cycles() {
        for (hz, nominal, rate, seconds) in [
            (49.3, 50.0, 10e3, 0.25),
            (50.7, 50.0, 10e3, 1.1),
            (59.3, 60.0, 44.1e3, 0.3),
            (60.7, 60.0, 10e3, 0.2),
        ] {
            let quality = found(hz, nominal, rate, seconds);
            assert!(quality.windows.resampled, "{hz}");
            assert_eq!(quality.windows.cycles, if nominal < 55.0 { 10 } else { 12 });
            assert!((quality.frequency_hz - hz).abs() < 1e-6);
            let amps = |order: usize| quality.harmonics[order - 1].current_a;
            for (order, expected) in [(1, 0.5), (2, 0.0), (3, 0.3), (5, 0.1), (39, 0.0)] {
                assert!(
                    (amps(order) - expected).abs() < 5e-6,
                    "{hz} order {order}: {}",
                    amps(order)
                );
            }
            assert!((quality.fundamental.phase_deg.unwrap() - 20.0).abs() < 1e-4);
            // Without interharmonics group and line are the same.
            assert!((quality.harmonics[2].current_group_a - 0.3).abs() < 5e-6);
            assert!((quality.active_power_w - 115.0 * 20f64.to_radians().cos()).abs() < 1e-3);
        }
    }

    #[test]
    fn a_drifting_mains_is_followed_window_by_window() {
        let rate = 20e3;
        let t = times(60_000, rate);
        // 49.9 Hz rising by 0.1 Hz a second.
        let angle = |t: f64| TAU * (49.9 * t + 0.05 * t * t);
        let v: Vec<f64> = t.iter().map(|t| 325.0 * angle(*t).sin()).collect();
        let i: Vec<f64> = t.iter().map(|t| (39.0 * angle(*t)).sin()).collect();
        let quality = analyse(&t, &v, &i, 50.0, &LIMITS).unwrap().quality;
        assert_eq!(quality.windows.count, 15);
        // Of one frequency for the whole record 4 % would leak out of this line.
        let line = quality.harmonics[38].current_a * 2f64.sqrt();
        assert!((line - 1.0).abs() < 0.01, "{line}");
    }

    #[test]
    fn a_record_of_whole_cycles_is_taken_as_it_is() {
        let quality = found(50.0, 50.0, 10e3, 1.0);
        assert!(!quality.windows.resampled);
        assert_eq!((quality.windows.count, quality.windows.points), (5, 2000));
        assert!((quality.harmonics[2].current_a - 0.3).abs() < 1e-9);
    }

    #[test]
    fn a_record_shorter_than_a_window_uses_its_whole_cycles_and_says_so() {
        let quality = found(50.0, 50.0, 10e3, 0.15);
        assert!(!quality.windows.full_length);
        assert_eq!((quality.windows.count, quality.windows.cycles), (1, 7));
        assert!(
            quality
                .windows
                .description
                .contains("shorter than a window")
        );
        assert!((quality.harmonics[2].current_a - 0.3).abs() < 1e-5);
        assert_eq!(quality.harmonics[2].current_subgroup_a, None);
    }

    #[test]
    fn a_record_sampled_slowly_ends_its_table_of_orders_early_and_says_so() {
        let quality = found(50.3, 50.0, 2.5e3, 0.5);
        assert_eq!(quality.harmonics.last().unwrap().order, 20);
        assert_eq!(quality.distortion.harmonics_to, 20);
        assert!(quality.notes[0].contains("orders above 20"));
    }

    #[test]
    fn the_shape_is_two_cycles_from_a_rising_zero_of_the_voltage_with_few_points() {
        for rate in [10e3, 1e6] {
            let shape = found(50.0, 50.0, rate, 0.2).shape;
            assert!(shape.voltage_v.len() <= 402 && shape.voltage_v.len() >= 400);
            assert!(shape.voltage_v[0].abs() < 6.0, "{}", shape.voltage_v[0]);
            assert!((shape.voltage_v[50] - 325.27).abs() < 1.0);
            let span = shape.interval_s * (shape.voltage_v.len() - 1) as f64;
            assert!((span - 0.04).abs() < 1e-6, "{span}");
            let k = 37;
            let product = shape.voltage_v[k] * shape.current_a[k];
            assert!((shape.power_w[k] - product).abs() < 0.1);
        }
    }

    #[test]
    fn a_sensor_the_wrong_way_round_and_a_clipped_voltage_are_noted() {
        let t = times(2000, 10e3);
        let (v, i) = mains(&t, 50.0);
        let turned: Vec<f64> = i.iter().map(|i| -i).collect();
        let notes = analyse(&t, &v, &turned, 50.0, &LIMITS)
            .unwrap()
            .quality
            .notes;
        assert!(notes.iter().any(|n| n.contains("wrong way round")));
        let clipped: Vec<f64> = v.iter().map(|v| v.clamp(-300.0, 300.0)).collect();
        let notes = analyse(&t, &clipped, &i, 50.0, &LIMITS)
            .unwrap()
            .quality
            .notes;
        assert!(
            notes
                .iter()
                .any(|n| n.contains("voltage stand at its very end"))
        );
        let plain = analyse(&t, &v, &i, 50.0, &LIMITS).unwrap().quality.notes;
        assert!(plain.is_empty(), "{plain:?}");
    }

    #[test]
    fn what_is_no_record_of_a_mains_is_refused_in_words() {
        let t = times(2000, 10e3);
        let (v, i) = mains(&t, 50.0);
        assert!(refused(&t[..500], &v[..500], &i[..500]).contains("too short"));
        assert!(refused(&t, &v[..10], &i).contains("as many of each"));
        assert!(refused(&t, &vec![3.0; 2000], &i).contains("no fundamental"));
        let mut wild = v.clone();
        wild[17] = f64::NAN;
        assert!(refused(&t, &wild, &i).contains("sample 18: voltage"));
        wild[17] = 3e9;
        assert!(refused(&t, &wild, &i).contains("sample 18: voltage"));
        let slow = times(300, 1e3);
        assert!(refused(&slow, &v[..300], &i[..300]).contains("too slowly"));
        // Two hundred samples are missing in the middle.
        let holed: Vec<f64> = t
            .iter()
            .enumerate()
            .map(|(k, t)| if k < 900 { *t } else { t + 0.02 })
            .collect();
        assert!(refused(&holed, &v, &i).contains("unevenly"));
        let lost: Vec<f64> = t
            .iter()
            .enumerate()
            .map(|(k, t)| if k < 900 { *t } else { t + 1e-4 })
            .collect();
        assert!(refused(&lost, &v, &i).contains("unevenly"));
        let falling: Vec<f64> = t.iter().rev().copied().collect();
        assert!(refused(&falling, &v, &i).contains("does not rise"));
        let probe: Vec<f64> = v.iter().map(|v| v / 1000.0).collect();
        assert!(refused(&t, &probe, &i).contains("factor"));
        // A voltage of which little is the fundamental.
        let (_, noise) = mains(&t, 50.0);
        let third: Vec<f64> = t
            .iter()
            .zip(&noise)
            .map(|(t, n)| 300.0 * (TAU * 150.0 * t).sin() + n)
            .collect();
        assert!(refused(&t, &third, &i).contains("no fundamental"));
    }

    fn equipment() -> Equipment {
        Equipment {
            line_voltage_v: 230.0,
            rated_input: RatedInput {
                power_w: 108.0,
                reason: "measured".into(),
                measured: true,
            },
            full_load_is_nameplate: true,
            class: None,
        }
    }

    fn section(load_percent: f64) -> WaveformSection {
        WaveformSection {
            name: "full-load.csv".into(),
            sha256: "0".repeat(64),
            load_percent,
            from_s: 0.0,
            to_s: Some(0.2),
        }
    }

    #[test]
    fn readings_beyond_the_tolerance_are_told_with_their_difference() {
        let t = times(2000, 10e3);
        let (v, i) = mains(&t, 50.0);
        let findings = analyse(&t, &v, &i, 50.0, &LIMITS).unwrap();
        let quality = &findings.quality;
        let readings = Input {
            voltage_v: Some(230.1),
            current_a: Some(quality.current_rms_a * 1.05),
            power_w: Some(quality.active_power_w * 1.022),
            power_factor: None,
            current_thd_percent: Some(63.0),
            current_peak_a: None,
        };
        let of = |rows: &[Instrument]| {
            result(
                section(100.0),
                Ok(&findings),
                &equipment(),
                &readings,
                Accuracy::of(rows),
                &LIMITS,
            )
            .agreement
        };
        let told = of(&[]);
        let agrees: Vec<(&str, bool)> = told
            .iter()
            .map(|a| (a.quantity.as_str(), a.agrees))
            .collect();
        assert_eq!(
            agrees,
            [
                ("input_voltage_v", true),
                ("input_current_a", false),
                ("input_power_w", false),
                ("current_thd_percent", true)
            ]
        );
        assert!((told[1].difference + 0.05 * quality.current_rms_a).abs() < 1e-9);
        // An analyser of 2 % reads a power that the waveform's agrees with.
        let rows = [Instrument {
            name: None,
            quantity: MeasuredQuantity::InputPowerW,
            reading_percent: 2.0,
            range_percent: 0.0,
            range: None,
            fixed: 0.0,
        }];
        assert!(of(&rows)[2].agrees);
        assert!(of(&rows)[2].tolerance_reason.contains("k = 2"));
    }

    #[test]
    fn a_refused_record_keeps_its_reason_and_has_no_figures() {
        let result = result(
            section(100.0),
            Err("too short"),
            &equipment(),
            &Input::default(),
            Accuracy::of(&[]),
            &LIMITS,
        );
        assert_eq!(result.refused.as_deref(), Some("too short"));
        assert!(result.quality.is_none() && result.screening.is_none());
        assert!(result.agreement.is_empty() && result.supply.is_empty());
    }

    #[test]
    fn no_current_has_no_power_factor_and_no_distortion_rather_than_zero() {
        let t = times(2000, 10e3);
        let (v, _) = mains(&t, 50.0);
        let quality = analyse(&t, &v, &vec![0.0; 2000], 50.0, &LIMITS)
            .unwrap()
            .quality;
        assert_eq!(quality.power_factor, None);
        assert_eq!(quality.fundamental.displacement_power_factor, None);
        assert_eq!(quality.fundamental.phase_deg, None);
        assert_eq!(quality.distortion.current_thd_all_percent, None);
        assert_eq!(quality.current_crest_factor, None);
        assert_eq!(quality.harmonics[4].current_percent, None);
    }

    #[test]
    fn an_exact_supply_departs_from_nothing_and_a_poor_one_is_told() {
        let t = times(2000, 10e3);
        let supply_of = |v: Vec<f64>| {
            let i = vec![0.1; 2000];
            screening::supply(
                &analyse(&t, &v, &i, 50.0, &LIMITS).unwrap().quality,
                &LIMITS,
            )
        };
        let sine = |order: f64, rms: f64| {
            move |t: &f64| rms * 2f64.sqrt() * (TAU * 50.0 * order * t).sin()
        };
        let exact: Vec<f64> = t.iter().map(sine(1.0, 230.0)).collect();
        assert_eq!(supply_of(exact), Vec::<String>::new());
        let poor: Vec<f64> = t
            .iter()
            .map(|t| sine(1.0, 224.0)(t) + sine(3.0, 2.5)(t))
            .collect();
        let told = supply_of(poor);
        assert!(told[0].contains("voltage 224.01"), "{told:?}");
        assert!(told[1].contains("order 3"), "{told:?}");
    }

    /// Values between -1 and 1 with runs of zeros, times a scale, and rarely one of any size.
    fn any_values(count: usize, scale: BoxedStrategy<f64>) -> impl Strategy<Value = Vec<f64>> {
        let one = prop_oneof![3 => -1.0f64..1.0, 1 => Just(0.0), 1 => Just(1.0)];
        let wild = any::<f64>().prop_filter("finite", |x| x.is_finite());
        (
            proptest::collection::vec(one, count),
            scale,
            proptest::option::weighted(0.1, (0..count, wild)),
        )
            .prop_map(|(values, scale, wild)| {
                let mut values: Vec<f64> = values.iter().map(|x| x * scale).collect();
                if let Some((k, x)) = wild {
                    values[k] = x;
                }
                values
            })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]

        #[test]
        fn any_finite_samples_give_finite_figures_or_a_reason(
            noise in any_values(400, prop_oneof![Just(0.0), 0.0f64..80.0, 0.0f64..1e4].boxed()),
            current in any_values(400, prop_oneof![Just(0.0), Just(1e-160), 0.0f64..1.0, 0.0f64..1e4].boxed()),
            mains_v in prop_oneof![1 => Just(0.0), 1 => 0.0f64..1e-160, 6 => -400.0f64..400.0],
            hz in 44.0f64..67.0,
            nominal in prop_oneof![Just(50.0), Just(60.0), 45.0f64..66.0],
            a_cycle in 38.0f64..130.0,
            start in -1e6f64..1e6,
            load in prop_oneof![Just(0.0), Just(100.0)],
        ) {
            let dt = 1.0 / (nominal * a_cycle);
            let t: Vec<f64> = (0..400).map(|k| start + f64::from(k) * dt).collect();
            let v: Vec<f64> = noise
                .iter()
                .enumerate()
                .map(|(k, n)| mains_v * (TAU * hz * k as f64 * dt).sin() + n)
                .collect();
            let findings = analyse(&t, &v, &current, nominal, &LIMITS);
            let joined = result(
                section(load),
                findings.as_ref().map_err(String::as_str),
                &equipment(),
                &Input { voltage_v: Some(230.0), power_w: Some(0.0), current_thd_percent: Some(3.0), ..Input::default() },
                Accuracy::of(&[]),
                &LIMITS,
            );
            let told = format!("{findings:?} {joined:?}");
            prop_assert!(!told.contains("NaN") && !told.contains(": inf"), "{told}");
            if let Some(screening) = &joined.screening {
                prop_assert!(screening.result == ScreeningResult::Within
                    || !screening.reason.is_empty());
            }
        }
    }
}
