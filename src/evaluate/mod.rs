//! Pure: record and standards in, evaluation document out. No SQL, no HTTP, no clock, no chance:
//! the same record, engine and method give a byte-identical document.

pub mod compliance;
pub mod course;
pub mod cycle;
pub mod decision;
pub mod evaluation;
pub mod evidence;
pub mod figure;
pub mod heat;
pub mod label;
pub mod loading;
pub mod loss_model;
pub mod no_load;
pub mod other_measurements;
pub mod overload;
pub mod plan;
pub mod point_log;
pub mod points;
pub mod ports;
pub mod runs;
pub mod scatter;
pub mod score;
pub mod sharing;
pub mod steps;
pub mod uncertainty;
pub mod warnings;
pub mod waveform;
pub mod yearly_energy;

pub use evaluation::Evaluation;
pub use evidence::{Evidence, Logs, NoLogs};
pub use loss_model::efficiency_at;

use crate::bench::record::Record;
use crate::quantity::words::hex;
use crate::standards::procedure::embedded_classes;
use crate::standards::{ScoreFormula, Standards, WattageClass};
use evaluation::ClassRef;
use sha2::{Digest, Sha256};
use std::ops::{Deref, DerefMut};
use std::sync::OnceLock;

/// Version of the engine, written into every evaluation.
pub const ENGINE: &str = env!("CARGO_PKG_VERSION");

/// Everything besides the record that an evaluation depends on: its [`Tables`], which it stands for.
#[derive(Debug, Clone)]
pub struct Method {
    tables: Tables,
    /// Of the tables as they are; made when first asked for.
    digest: OnceLock<String>,
}

/// Limits, the formula of the score and the wattage classes.
#[derive(Debug, Clone)]
pub struct Tables {
    pub standards: Standards,
    pub formula: ScoreFormula,
    pub classes: Vec<WattageClass>,
}

impl Deref for Method {
    type Target = Tables;

    fn deref(&self) -> &Tables {
        &self.tables
    }
}

impl DerefMut for Method {
    fn deref_mut(&mut self) -> &mut Tables {
        self.digest.take();
        &mut self.tables
    }
}

impl Method {
    /// The method this program ships.
    pub fn standard() -> Method {
        Method {
            tables: Tables {
                standards: Standards::embedded(),
                formula: ScoreFormula::embedded(),
                classes: embedded_classes(),
            },
            digest: OnceLock::new(),
        }
    }

    /// SHA-256 in hexadecimal of the engine version and every table: two evaluations with one
    /// digest were made by the same rules.
    pub fn digest(&self) -> &str {
        self.digest.get_or_init(|| {
            let Tables {
                standards,
                formula,
                classes,
            } = &self.tables;
            // Stored evaluations name the digest of exactly this text.
            let all = format!(
                "{ENGINE}\nMethod {{ standards: {standards:?}, formula: {formula:?}, classes: {classes:?} }}"
            );
            hex(Sha256::digest(all.as_bytes()))
        })
    }

    /// The wattage class of a nameplate output power in watts.
    pub fn class_of(&self, output_power_w: f64) -> ClassRef {
        let class = self
            .classes
            .iter()
            .find(|c| c.holds(output_power_w))
            .or(self.classes.last())
            .expect("a class table without classes is refused when it is read");
        ClassRef {
            id: class.id.clone(),
            label: class.label.clone(),
        }
    }
}

/// Says all there is to say of a record of which no log is at hand.
pub fn evaluate(record: &Record, method: &Method) -> Evaluation {
    evaluate_with(record, &Evidence::gather(record, &NoLogs, method), method)
}

/// Says all there is to say of a record and its logs. Never fails: what can't be judged is part
/// of the result.
pub fn evaluate_with(record: &Record, evidence: &Evidence, method: &Method) -> Evaluation {
    let standards = &method.standards;
    // From here on the record reads as its logs make it read.
    let typed = record;
    let record = &*evidence.read_into(typed);
    let mut runs = runs::results(record, evidence, standards);
    let waveforms = waveform::results(record, &runs, evidence, standards);
    for (run, waveforms) in runs.iter_mut().zip(waveforms) {
        run.waveforms = waveforms;
    }
    let (verdicts, regimes) = compliance::verdicts(record, &runs, evidence, standards);
    compliance::no_load_against_limits(&mut runs, &verdicts, standards);
    let label_checks = label::checks(record, &runs, &regimes, standards);
    let ports = ports::results(record, standards);
    let mut warnings = warnings::warnings(record, &runs, &label_checks, standards);
    warnings.extend(warnings::of_logs(typed, record, &runs, evidence));
    warnings.extend(waveform::warnings(&runs));
    let score = score::score(record, &runs, &verdicts, standards, &method.formula);
    Evaluation {
        format: evaluation::FORMAT.to_owned(),
        engine: ENGINE.to_owned(),
        class: method.class_of(record.unit.nameplate.output_power_w),
        runs,
        verdicts,
        regimes,
        label_checks,
        ports,
        sharing: sharing::result(record, standards),
        overloads: overload::results(record, standards),
        heat: heat::results(record, standards),
        measurements: other_measurements::results(record, standards),
        build: other_measurements::build(&record.unit),
        warnings,
        score,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digest_that_was_asked_for_follows_a_table_that_is_changed() {
        let mut method = Method::standard();
        let shipped = method.digest().to_owned();
        assert_eq!(Method::standard().digest(), shipped);
        method.classes[0].label.push_str(" (small)");
        assert_ne!(method.digest(), shipped);
        let mut back = method.clone();
        back.classes = Method::standard().classes.clone();
        assert_eq!(back.digest(), shipped);
    }
}
