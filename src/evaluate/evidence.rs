//! What the logs of a record say, before limits and accuracy are known: handed to
//! [`super::evaluate_with`] beside the record, so that evaluating stays quick and pure while a log
//! may be gigabytes.

use super::evaluation::Warning;
use super::no_load::{self, Beside};
use super::point_log::PointFindings;
use super::waveform::{self, WaveformFindings};
use super::{ENGINE, Method};
use crate::bench::decode::decode_value;
use crate::bench::record::{Input, Log, LogQuantity, Output, Record, TimeForm};
use crate::log::{self, Section};
use crate::quantity::words::hex;
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use std::borrow::Cow;
use std::io::Read;

/// Where raw logs are kept. The bytes are asked for by the SHA-256 that the record names.
pub trait Logs {
    /// The bytes as the instrument wrote them; `Ok(None)` if this log is not kept here.
    ///
    /// # Errors
    /// A sentence that says why a log that is kept cannot be read.
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String>;

    /// What was remembered under a key.
    fn remembered(&self, key: &str) -> Option<String> {
        let _ = key;
        None
    }

    /// Keeps the findings of a section, so that a long log is not read again. A key names the
    /// log's bytes, its layout, the section and the version of the analysis.
    fn remember(&self, key: &str, findings: &str) {
        let _ = (key, findings);
    }
}

/// No log is at hand: the evaluation says so where a record refers to one.
pub struct NoLogs;

impl Logs for NoLogs {
    fn open(&self, _sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        Ok(None)
    }
}

/// Findings of one section of a log, or a sentence that says why there are none.
pub type Found<T> = Result<T, String>;

/// Findings of every section that a record refers to, or why there are none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence {
    /// One entry a run of the record.
    pub runs: Vec<RunEvidence>,
}

/// What the logs say of one run. `None` where the record refers to no log of its own.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunEvidence {
    pub no_load: Option<Found<no_load::Findings>>,
    /// One entry a point of the run.
    pub points: Vec<Option<Found<PointFindings>>>,
    /// One entry a waveform of the run.
    pub waveforms: Vec<Found<WaveformFindings>>,
}

impl Evidence {
    /// Reads every log that the record refers to.
    pub fn gather(record: &Record, logs: &dyn Logs, method: &Method) -> Evidence {
        let gatherer = Gatherer { record, logs };
        let rules = &method.standards.low_power;
        let runs = record
            .runs
            .iter()
            .map(|run| RunEvidence {
                no_load: run.no_load.as_ref().and_then(|n| {
                    let log = gatherer.log(n.log.as_deref()?)?;
                    let section = Section {
                        from_s: n.log_from_s,
                        to_s: n.log_to_s,
                    };
                    Some(remembered(logs, "no-load", log, section, &format!("{rules:?}"), || {
                        let reading = gatherer.read(log, section)?;
                        let trace = |quantity| reading.trace(quantity, None);
                        let power = trace(LogQuantity::InputPowerW).ok_or_else(|| {
                            format!("no column of the log \u{201c}{}\u{201d} is mapped to the input power", log.name)
                        })?;
                        let beside = Beside {
                            current_a: trace(LogQuantity::InputCurrentA),
                            current_peak_a: trace(LogQuantity::InputCurrentPeakA),
                            power_factor: trace(LogQuantity::PowerFactor),
                        };
                        let mut found = no_load::findings(power, beside, rules)?;
                        found.bad_rows = reading.bad.count - reading.bad.trailer;
                        Ok(found)
                    }))
                }),
                points: run
                    .points
                    .iter()
                    .map(|point| {
                        let log = gatherer.log(point.log.as_deref()?)?;
                        let section = Section {
                            from_s: point.log_from_s,
                            to_s: point.log_to_s,
                        };
                        Some(remembered(logs, "point", log, section, "", || {
                            PointFindings::of(&gatherer.read(log, section)?)
                        }))
                    })
                    .collect(),
                waveforms: waveform::gathered(record, run, logs, &method.standards.harmonics),
            })
            .collect();
        let mut evidence = Evidence { runs };
        evidence.leave_out_the_impossible(record);
        evidence
    }

    /// Averages that a typed reading could not be (a negative power, more out than in) give no
    /// figure: the same bounds hold for both, and the reason stands in their place.
    fn leave_out_the_impossible(&mut self, record: &Record) {
        let Cow::Owned(read) = self.read_into(record) else {
            return;
        };
        let Err(problems) = serde_json::to_value(&read)
            .map_err(|_| Vec::new())
            .and_then(decode_value)
        else {
            return;
        };
        for (i, (run, evidence)) in record.runs.iter().zip(&mut self.runs).enumerate() {
            let fault = |path: &str, log: Option<&String>| {
                let problem = problems.iter().find(|p| p.path.starts_with(path))?;
                let log = log.map_or("", String::as_str);
                Some(format!(
                    "log \u{201c}{log}\u{201d}: its average cannot be right: {problem}"
                ))
            };
            if let (Some(no_load), Some(found @ Ok(_))) = (&run.no_load, &mut evidence.no_load)
                && let Some(why) = fault(&format!("runs[{i}].no_load."), no_load.log.as_ref())
            {
                *found = Err(why);
            }
            for (j, (point, found)) in run.points.iter().zip(&mut evidence.points).enumerate() {
                if let Some(found @ Ok(_)) = found
                    && let Some(why) = fault(&format!("runs[{i}].points[{j}]."), point.log.as_ref())
                {
                    *found = Err(why);
                }
            }
        }
    }

    /// The findings of a run; of one without any, or beyond the record's runs, nothing.
    pub fn run(&self, i: usize) -> &RunEvidence {
        static NOTHING: RunEvidence = RunEvidence {
            no_load: None,
            points: Vec::new(),
            waveforms: Vec::new(),
        };
        self.runs.get(i).unwrap_or(&NOTHING)
    }

    /// The record as its logs make it read: where a section was found, its averages stand in place
    /// of the typed readings of the same quantities.
    pub fn read_into<'a>(&self, record: &'a Record) -> Cow<'a, Record> {
        let anything = self.runs.iter().any(|run| {
            matches!(run.no_load, Some(Ok(_))) || run.points.iter().flatten().any(Result::is_ok)
        });
        if !anything {
            return Cow::Borrowed(record);
        }
        let mut read = record.clone();
        for (i, run) in read.runs.iter_mut().enumerate() {
            let evidence = self.run(i);
            if let (Some(no_load), Some(Ok(found))) = (&mut run.no_load, &evidence.no_load) {
                no_load.power_w = Some(found.power_w);
                no_load.current_a = found.current_a.or(no_load.current_a);
                no_load.power_factor = found.power_factor.or(no_load.power_factor);
                no_load.current_peak_a = found.current_peak_a.or(no_load.current_peak_a);
            }
            let only_port = match run.rated_outputs.as_slice() {
                [only] => Some(only.port.clone()),
                _ => None,
            };
            for (j, point) in run.points.iter_mut().enumerate() {
                if let Some(Ok(found)) = evidence.point(j) {
                    let mut input = point.input.take().unwrap_or_default();
                    found.read_input(&mut input);
                    point.input = (input != Input::default()).then_some(input);
                    for port in found.ports(only_port.as_deref()) {
                        let at = point
                            .outputs
                            .iter()
                            .position(|o| o.port == port)
                            .unwrap_or_else(|| {
                                point.outputs.push(Output {
                                    port: port.clone(),
                                    voltage_v: None,
                                    current_a: None,
                                });
                                point.outputs.len() - 1
                            });
                        found.read_output(&mut point.outputs[at], only_port.as_deref());
                    }
                }
            }
        }
        Cow::Owned(read)
    }

    /// Sections that gave nothing, in the order of the record, and what then holds.
    pub fn absences(&self, record: &Record) -> Vec<Warning> {
        let mut warnings = Vec::new();
        fn absent(warnings: &mut Vec<Warning>, path: String, why: &str, typed: bool) {
            let then = if typed {
                "the typed reading is used"
            } else {
                "no typed reading stands in for it"
            };
            warnings.push(Warning {
                path,
                message: format!("{why}: {then}"),
            });
        }
        for (i, run) in record.runs.iter().enumerate() {
            let evidence = self.run(i);
            if let (Some(no_load), Some(Ok(found))) = (&run.no_load, &evidence.no_load) {
                let log = no_load
                    .log
                    .as_ref()
                    .and_then(|name| record.logs.iter().find(|log| log.name == *name));
                let mut caution = |message: String| {
                    warnings.push(Warning {
                        path: format!("runs[{i}].no_load.log"),
                        message,
                    });
                };
                if found.bad_rows > 0 {
                    caution(format!(
                        "{} of the section's rows could not be read and are not in the mean; if the meter was over its range there, the true mean is higher",
                        found.bad_rows
                    ));
                }
                if log.is_some_and(|log| log.layout.time.form == TimeForm::Index) {
                    caution(
                        "the log holds no times: its rows are counted and taken to be as far apart as its layout says"
                            .to_owned(),
                    );
                }
            }
            if let (Some(no_load), Some(Err(why))) = (&run.no_load, &evidence.no_load) {
                absent(
                    &mut warnings,
                    format!("runs[{i}].no_load.log"),
                    why,
                    no_load.power_w.is_some(),
                );
            }
            for (j, point) in run.points.iter().enumerate() {
                if let Some(Err(why)) = evidence.point(j) {
                    let typed = point.input.as_ref().is_some_and(|i| i.power_w.is_some());
                    absent(
                        &mut warnings,
                        format!("runs[{i}].points[{j}].log"),
                        why,
                        typed,
                    );
                }
            }
        }
        warnings
    }
}

impl RunEvidence {
    /// The findings of one of the run's points, where it refers to a log.
    pub fn point(&self, j: usize) -> Option<&Found<PointFindings>> {
        self.points.get(j)?.as_ref()
    }
}

struct Gatherer<'a> {
    record: &'a Record,
    logs: &'a dyn Logs,
}

impl Gatherer<'_> {
    /// One of the record's logs; a name alone only says that one was kept somewhere.
    fn log(&self, name: &str) -> Option<&Log> {
        self.record.logs.iter().find(|log| log.name == name)
    }

    fn read(&self, log: &Log, section: Section) -> Found<log::Reading> {
        let named = |why: String| format!("log \u{201c}{}\u{201d}: {why}", log.name);
        let bytes = self
            .logs
            .open(&log.sha256)
            .map_err(&named)?
            .ok_or_else(|| named("it is not kept here".to_owned()))?;
        log::read(bytes, &log.layout, section, &mut |_| {}).map_err(|e| named(e.to_string()))
    }
}

/// What was remembered of a section, or what looking at it gives, which is then remembered.
pub(super) fn remembered<T: Serialize + DeserializeOwned>(
    logs: &dyn Logs,
    what: &str,
    log: &Log,
    section: Section,
    rules: &str,
    look: impl FnOnce() -> Found<T>,
) -> Found<T> {
    let key = key(what, log, section, rules);
    if !matches!(logs.open(&log.sha256), Ok(Some(_))) {
        // A figure without its raw log at hand would be one that nobody can compute again.
        return look();
    }
    if let Some(found) = logs
        .remembered(&key)
        .and_then(|text| serde_json::from_str(&text).ok())
    {
        return Ok(found);
    }
    let found = look()?;
    if let Ok(text) = serde_json::to_string(&found) {
        logs.remember(&key, &text);
    }
    Ok(found)
}

/// SHA-256 over all that findings depend on: the log's bytes, how they are read, the section, what
/// is looked for and by which version and rules.
fn key(what: &str, log: &Log, section: Section, rules: &str) -> String {
    let layout = serde_json::to_string(&log.layout).expect("a layout is plain data");
    let all = format!(
        "{what}\n{}\n{layout}\n{:?}\n{:?}\n{ENGINE}\n{rules}",
        log.sha256, section.from_s, section.to_s
    );
    hex(Sha256::digest(all.as_bytes()))
}
