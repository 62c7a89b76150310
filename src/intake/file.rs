//! What a file may hold: one record, a JSON array of records, or JSON lines as export writes them,
//! with or without the history of each unit.

use crate::bench::problem::Problem;
use crate::storage::instant;
use crate::storage::units::RecordText;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use time::OffsetDateTime;

/// The value of `format` in a line that carries a revision with its history.
pub const REVISION_FORMAT: &str = "brickbook-revision/1";

/// One document of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// Where it stands in the file: `line 3`, `record 3`; nothing where the file is the document.
    pub place: Option<String>,
    pub content: Content,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// The text of a record, valid or not, byte for byte.
    Record(String),
    /// A revision of some unit, as `export --all-revisions` writes it.
    Revision(Box<ExportedRevision>),
    /// Looks like an exported revision but is not one.
    Broken(Problem),
}

/// A revision that left a database and may enter another.
#[derive(Debug, Clone, PartialEq)]
pub struct ExportedRevision {
    /// Slug in the database that it comes from.
    pub slug: String,
    pub number: i64,
    pub author: String,
    pub reason: String,
    pub created_at: OffsetDateTime,
    pub record: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RevisionLine<'a> {
    format: String,
    slug: String,
    revision: i64,
    author: String,
    reason: String,
    created_at: String,
    #[serde(borrow)]
    record: &'a RawValue,
}

/// Takes a file apart. Never fails: what is no document of ours becomes a [`Content::Record`] that
/// decoding will refuse with the reason.
pub fn documents(text: &str) -> Vec<Document> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if let Ok(records) = serde_json::from_str::<Vec<&RawValue>>(text) {
        return records
            .into_iter()
            .enumerate()
            .map(|(index, record)| Document {
                place: Some(format!("record {}", index + 1)),
                content: content(record.get()),
            })
            .collect();
    }
    let is_one_value = serde_json::from_str::<&RawValue>(text).is_ok();
    let first_line = text
        .lines()
        .find(|line| !line.trim().is_empty())
        .unwrap_or("");
    let is_lines = !is_one_value && serde_json::from_str::<&RawValue>(first_line).is_ok();
    if !is_lines {
        return vec![Document {
            place: None,
            content: content(text),
        }];
    }
    text.lines()
        .enumerate()
        .filter(|(_, line)| !line.trim().is_empty())
        .map(|(index, line)| Document {
            place: Some(format!("line {}", index + 1)),
            content: content(line),
        })
        .collect()
}

fn content(text: &str) -> Content {
    #[derive(Deserialize)]
    struct Format {
        format: Option<String>,
    }
    let format = serde_json::from_str::<Format>(text)
        .ok()
        .and_then(|probe| probe.format);
    if format.as_deref() != Some(REVISION_FORMAT) {
        return Content::Record(text.to_string());
    }
    let expected = |cause: String| {
        Content::Broken(Problem::new(
            "",
            text,
            format!("a revision as export writes it ({cause})"),
        ))
    };
    let line = match serde_json::from_str::<RevisionLine>(text) {
        Ok(line) => line,
        Err(cause) => return expected(cause.to_string()),
    };
    match instant::from_text(&line.created_at) {
        Ok(created_at) => Content::Revision(Box::new(ExportedRevision {
            slug: line.slug,
            number: line.revision,
            author: line.author,
            reason: line.reason,
            created_at,
            record: line.record.get().to_string(),
        })),
        Err(cause) => expected(cause.to_string()),
    }
}

/// A record on one line, without its content changed: a record that was entered on one line stays
/// as it is, otherwise the white space between tokens is taken out.
pub fn on_one_line(record: &str) -> String {
    let record = record.trim();
    if !record.contains(['\n', '\r']) {
        return record.to_string();
    }
    let mut line = String::with_capacity(record.len());
    let mut in_string = false;
    let mut escaped = false;
    for character in record.chars() {
        if in_string {
            in_string = escaped || character != '"';
            escaped = !escaped && character == '\\';
        } else if character.is_ascii_whitespace() {
            continue;
        } else {
            in_string = character == '"';
        }
        line.push(character);
    }
    line
}

/// A revision with its history, on one line.
pub fn revision_line(slug: &str, record: &RecordText) -> String {
    let text = on_one_line(&record.text);
    let line = RevisionLine {
        format: REVISION_FORMAT.to_string(),
        slug: slug.to_string(),
        revision: record.revision.number,
        author: record.revision.author.clone(),
        reason: record.revision.reason.clone(),
        created_at: instant::to_text(record.revision.created_at),
        record: serde_json::from_str(&text).expect("the database holds valid JSON only"),
    };
    serde_json::to_string(&line).expect("text and numbers serialise")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn records(text: &str) -> Vec<(Option<String>, String)> {
        documents(text)
            .into_iter()
            .map(|document| match document.content {
                Content::Record(text) => (document.place, text),
                other => panic!("{other:?}"),
            })
            .collect()
    }

    #[test]
    fn a_file_with_one_record_is_taken_byte_for_byte() {
        let text = "{\n  \"a\": 5.00,\n  \"b\": [1e0]\n}\n";
        assert_eq!(records(text), [(None, text.to_string())]);
    }

    #[test]
    fn records_of_an_array_keep_the_way_their_numbers_are_written() {
        assert_eq!(
            records("[{\"a\": 5.00}, {\"b\":1e0}]"),
            [
                (Some("record 1".into()), "{\"a\": 5.00}".into()),
                (Some("record 2".into()), "{\"b\":1e0}".into())
            ]
        );
    }

    #[test]
    fn a_broken_line_among_lines_is_one_document_and_the_others_stay() {
        assert_eq!(
            records("{\"a\":1}\n\n{broken\n{\"b\":2}\n"),
            [
                (Some("line 1".into()), "{\"a\":1}".into()),
                (Some("line 3".into()), "{broken".into()),
                (Some("line 4".into()), "{\"b\":2}".into())
            ]
        );
    }

    #[test]
    fn what_is_no_json_is_left_for_decoding_to_refuse() {
        assert_eq!(
            records("hello\nthere"),
            [(None, "hello\nthere".to_string())]
        );
        assert_eq!(records(""), [(None, String::new())]);
    }

    #[test]
    fn one_line_keeps_strings_and_numbers_as_they_were_written() {
        let text = "{\n \"a b\": \"two  words \\\" {\\\\\",\r\n\t\"c\": [ 5.00, 1e0 ]\n}\n";
        assert_eq!(
            on_one_line(text),
            r#"{"a b":"two  words \" {\\","c":[5.00,1e0]}"#
        );
        assert_eq!(on_one_line(" {\"a\": 5.00} \n"), "{\"a\": 5.00}");
    }

    #[test]
    fn an_exported_revision_is_read_back_whole() {
        use crate::storage::units::Revision;
        use time::macros::datetime;
        let stored = RecordText {
            revision: Revision {
                id: 7,
                unit_id: 3,
                number: 2,
                author: "Ada \"A\"".into(),
                reason: "typing error\nin run 2".into(),
                created_at: datetime!(2026-09-01 10:00 UTC),
            },
            text: "{\n\"a\": 5.00}".into(),
        };
        let line = revision_line("larkfield-lf-100q", &stored);
        assert!(!line.contains('\n'));
        let [document] = &documents(&line)[..] else {
            panic!()
        };
        assert_eq!(
            document.content,
            Content::Revision(Box::new(ExportedRevision {
                slug: "larkfield-lf-100q".into(),
                number: 2,
                author: "Ada \"A\"".into(),
                reason: "typing error\nin run 2".into(),
                created_at: datetime!(2026-09-01 10:00 UTC),
                record: "{\"a\":5.00}".into(),
            }))
        );
    }

    #[test]
    fn a_revision_line_that_lacks_its_record_says_so() {
        let line = format!("{{\"format\":\"{REVISION_FORMAT}\",\"slug\":\"x\"}}");
        let [document] = &documents(&line)[..] else {
            panic!()
        };
        let Content::Broken(problem) = &document.content else {
            panic!()
        };
        assert!(problem.expected.contains("missing field"), "{problem}");
    }
}
