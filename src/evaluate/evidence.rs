//! What the logs of a record say, before limits and accuracy are known: handed to
//! [`super::evaluate_with`] beside the record, so that evaluating stays quick and pure while a log
//! may be gigabytes.

use super::Method;
use crate::bench::record::Record;
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

/// Findings of every section that a record refers to, or why there are none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence {}

impl Evidence {
    /// Reads every log that the record refers to.
    pub fn gather(record: &Record, logs: &dyn Logs, method: &Method) -> Evidence {
        let _ = (record, logs, method);
        Evidence {}
    }
}
