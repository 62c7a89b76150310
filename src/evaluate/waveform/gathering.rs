//! From the sections that a record names to findings: the log is read, analysed, remembered.

use super::{VERSION, WaveformFindings, analyse};
use crate::bench::record::{Log, LogQuantity, Record, Run, Waveform};
use crate::evaluate::ENGINE;
use crate::evaluate::evidence::Logs;
use crate::log::{self, Section};
use crate::standards::HarmonicLimits;
use sha2::{Digest, Sha256};

/// Samples of one waveform at most: two seconds at a million a second, 48 MB.
const MOST_SAMPLES: usize = 2_000_000;

/// The findings of every waveform of a run, or why there are none.
pub fn gathered(
    record: &Record,
    run: &Run,
    logs: &dyn Logs,
    limits: &HarmonicLimits,
) -> Vec<Result<WaveformFindings, String>> {
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
) -> Result<WaveformFindings, String> {
    let named = |why: String| format!("log \u{201c}{}\u{201d}: {why}", waveform.log);
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
    let key = key(log, section, nominal_hz, limits);
    if let Some(found) = logs
        .remembered(&key)
        .and_then(|text| serde_json::from_str(&text).ok())
    {
        return Ok(found);
    }
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
    if let Ok(text) = serde_json::to_string(&findings) {
        logs.remember(&key, &text);
    }
    Ok(findings)
}

/// SHA-256 over all that findings depend on: the log's bytes, how they are read, the section, the
/// window's frequency and rules, and the version of the analysis.
fn key(log: &Log, section: Section, nominal_hz: f64, limits: &HarmonicLimits) -> String {
    let layout = serde_json::to_string(&log.layout).expect("a layout is plain data");
    let all = format!(
        "waveform\n{}\n{layout}\n{:?}\n{:?}\n{nominal_hz}\n{:?}\n{:?}\n{ENGINE}\n{VERSION}",
        log.sha256,
        section.from_s,
        section.to_s,
        limits.window,
        limits.partial_odd_harmonic_current
    );
    Sha256::digest(all.as_bytes())
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}
