//! What is wrong with a document, said so that a person can mend it.

use serde::Serialize;
use std::fmt;

/// One fault: where it stands, what was found there, what was expected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// JSON path such as `runs[0].points[1].input.power_w`; empty: the document as a whole.
    pub path: String,
    /// What was found, as JSON text, shortened.
    pub value: String,
    pub expected: String,
}

impl Problem {
    pub fn new(
        path: impl Into<String>,
        value: impl Into<String>,
        expected: impl Into<String>,
    ) -> Problem {
        Problem {
            path: path.into(),
            value: shortened(&value.into()),
            expected: expected.into(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let path = if self.path.is_empty() {
            "document"
        } else {
            &self.path
        };
        write!(f, "{path}: {}; expected {}", self.value, self.expected)
    }
}

/// At most 80 characters, so that a whole object quoted in a message stays readable.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 80;
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(LONGEST - 1).collect();
    short.push('…');
    short
}
