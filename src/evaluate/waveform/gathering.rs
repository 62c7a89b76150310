//! From the sections that a record names to findings: the log is read, analysed, remembered.

use super::{VERSION, WaveformFindings, analyse};
use crate::bench::record::{Log, LogQuantity, Record, Run, Waveform};
use crate::evaluate::evidence::{Found, Logs, remembered};
use crate::log::{self, Section};
use crate::standards::HarmonicLimits;

/// Samples of one waveform at most: two seconds at a million a second, 48 MB.
const MOST_SAMPLES: usize = 2_000_000;

/// The findings of every waveform of a run, or why there are none.
pub fn gathered(
    record: &Record,
    run: &Run,
    logs: &dyn Logs,
    limits: &HarmonicLimits,
) -> Vec<Found<WaveformFindings>> {
    run.waveforms
        .iter()
        .map(|waveform| found(record, run, waveform, logs, limits))
        .collect()
}

fn found(
    record: &Record,
    run: &Run,
    waveform: &Waveform,
    logs: &dyn Logs,
    limits: &HarmonicLimits,
) -> Found<WaveformFindings> {
    let named = |why: String| named(waveform, why);
    let log = record
        .logs
        .iter()
        .find(|log| log.name == waveform.log)
        .ok_or_else(|| named("it is none of the record's logs".to_owned()))?;
    let section = Section {
        from_s: waveform.log_from_s,
        to_s: waveform.log_to_s,
    };
    let nominal_hz = run.line.frequency_hz;
    let rules = format!(
        "{nominal_hz}\n{:?}\n{:?}\n{VERSION}",
        limits.window, limits.partial_odd_harmonic_current
    );
    remembered(logs, "waveform", log, section, &rules, || {
        looked_at(waveform, log, section, nominal_hz, logs, limits)
    })
}

fn named(waveform: &Waveform, why: String) -> String {
    format!("log \u{201c}{}\u{201d}: {why}", waveform.log)
}

fn looked_at(
    waveform: &Waveform,
    log: &Log,
    section: Section,
    nominal_hz: f64,
    logs: &dyn Logs,
    limits: &HarmonicLimits,
) -> Found<WaveformFindings> {
    let named = |why: String| named(waveform, why);
    let bytes = logs
        .open(&log.sha256)
        .map_err(named)?
        .ok_or_else(|| named("it is not kept here".to_owned()))?;
    let samples = log::samples(bytes, &log.layout, section, MOST_SAMPLES)
        .map_err(|why| named(why.to_string()))?;
    let column = |quantity, word: &str| {
        samples
            .values(quantity)
            .ok_or_else(|| named(format!("no column is mapped to the {word}")))
    };
    let voltage = column(LogQuantity::LineVoltageSampleV, "line voltage's samples")?;
    let current = column(LogQuantity::LineCurrentSampleA, "line current's samples")?;
    let mut findings =
        analyse(&samples.t_s, voltage, current, nominal_hz, limits).map_err(named)?;
    if samples.more {
        findings.quality.notes.push(format!(
            "the section holds more than {MOST_SAMPLES} samples: the first {MOST_SAMPLES} were analysed"
        ));
    }
    Ok(findings)
}
