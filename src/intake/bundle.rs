//! One archive with everything that a unit's figures rest on, so that a stranger can compute them
//! again on another machine: record, raw logs, evaluation, method, citations.
//!
//! The archive is a ZIP file whose every byte follows from its contents: entries in a fixed order,
//! stored as they are, without times. [`verify`] builds it again from what it holds and compares,
//! so that any changed byte is found, and then works out every figure anew.

use crate::bench::decode::{decode, decode_stored};
use crate::bench::record::Record;
use crate::evaluate::{ENGINE, Evaluation, Evidence, Logs, Method, evaluate_with};
use crate::photo;
use crate::quantity::words::hex;
use crate::standards::WattageClass;
use crate::storage::LogFiles;
use crate::storage::archive::{Archive, assemble, pretty, unsound};
use crate::storage::log_files::Verifying;
use crate::storage::photos::Picture;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::Path;

pub use crate::storage::archive::ArchiveError as BundleError;

/// The value of `format` in `bundle.json`.
pub const FORMAT: &str = "brickbook-bundle/1";

const BUNDLE: &str = "bundle.json";
const RECORD: &str = "record.json";
const EVALUATION: &str = "evaluation.json";
const CITATIONS: &str = "citations.json";
const EXPLANATION: &str = "README.txt";

/// Figures may differ this much, relatively or in their SI unit, between machines whose
/// mathematical libraries round the last digit of a logarithm or a sine differently.
const LAST_DIGITS: f64 = 1e-12;

const EXPLAINED: &str = "\
This archive holds the bench record of one USB power adapter as its tester entered it, the raw
logs of the instruments that the record names, and what was computed from them.

  record.json      the readings, byte for byte as entered (format brickbook-record/1)
  photos/*.jpg     photos that the record names, each by the SHA-256 of its bytes
  logs/*.zst       raw logs; each is named by the SHA-256 of its bytes and compressed with
                   Zstandard (`zstd -d`)
  evaluation.json  every computed figure (format brickbook-evaluation/1)
  citations.json   the rules that the verdicts follow, and where their limits stand
  bundle.json      which unit and revision, which engine and settings
  manifest.json    SHA-256 of every file above

`brickbook verify ARCHIVE` checks that nothing was changed since the archive was made and computes
every figure again. It cannot tell who made the archive: for that compare the archive's own
SHA-256 with one that you have from its maker.

All verdicts are measured by the tester, none is a certification.
";

/// Where a bundle comes from, and what its evaluation depends on besides record and logs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct About {
    pub format: String,
    pub slug: String,
    pub revision: i64,
    pub author: String,
    /// RFC 3339.
    pub published_at: String,
    pub engine: String,
    pub method_digest: String,
    pub score_line: (f64, f64),
    pub classes: Vec<WattageClass>,
    /// Logs that the record names but that were not at hand.
    pub missing_logs: Vec<String>,
    /// Photos that the record names but that were not at hand.
    #[serde(default)]
    pub missing_photos: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Citation {
    id: String,
    title: String,
    citation: String,
    effective_from: String,
    confidence: BTreeSet<String>,
}

/// What goes into an archive.
#[derive(Debug)]
pub struct Contents<'a> {
    pub record_text: &'a str,
    pub slug: &'a str,
    pub revision: i64,
    pub author: &'a str,
    pub published_at: String,
    /// The photos at hand that the record names.
    pub photos: &'a [Picture],
}

/// Writes the archive of one revision: evaluates it anew, so that record, logs and figures belong
/// together.
///
/// # Errors
/// A log is damaged, or the file cannot be written; an unfinished file is removed.
pub fn write(
    path: &Path,
    contents: &Contents,
    files: &LogFiles,
    method: &Method,
) -> Result<About, BundleError> {
    let record = decode_stored(contents.record_text)
        .map_err(|_| unsound("this version refuses the stored record; export it instead"))?;
    let photos: BTreeMap<String, &[u8]> = contents
        .photos
        .iter()
        .map(|picture| (picture.sha256.clone(), picture.jpeg.as_slice()))
        .collect();
    let evidence = Evidence::gather(&record, &Anew(files), method);
    let evaluation = evaluate_with(&record, &evidence, method);
    let mut logs = Vec::new();
    let mut missing_logs = Vec::new();
    for sha256 in log_hashes(&record) {
        if files.is_kept(&sha256) {
            logs.push(sha256);
        } else {
            missing_logs.push(sha256);
        }
    }
    let about = About {
        format: FORMAT.to_owned(),
        slug: contents.slug.to_owned(),
        revision: contents.revision,
        author: contents.author.to_owned(),
        published_at: contents.published_at.clone(),
        engine: ENGINE.to_owned(),
        method_digest: method.digest().to_owned(),
        score_line: (
            method.formula.line.voltage_v,
            method.formula.line.frequency_hz,
        ),
        classes: method.classes.clone(),
        missing_logs,
        missing_photos: photo_hashes(&record)
            .into_iter()
            .filter(|sha256| !photos.contains_key(sha256))
            .collect(),
    };
    let documents = [
        (EXPLANATION, EXPLAINED.as_bytes().to_vec()),
        (BUNDLE, pretty(&about)),
        (RECORD, contents.record_text.as_bytes().to_vec()),
        (EVALUATION, pretty(&evaluation)),
        (CITATIONS, pretty(&citations(&evaluation, method))),
    ];
    let written = File::create_new(path)
        .map_err(BundleError::from)
        .and_then(|file| {
            for (sha256, jpeg) in &photos {
                if photo::sha256(jpeg) != *sha256 {
                    return Err(unsound(format!("the kept photo {sha256} is damaged")));
                }
            }
            // Every log is read to its end once, so that no damaged one is handed on.
            for sha256 in &logs {
                let raw = files
                    .read(sha256)?
                    .ok_or_else(|| unsound("a log vanished"))?;
                io::copy(&mut Verifying::new(raw, sha256), &mut io::sink()).map_err(|cause| {
                    unsound(format!("the kept log {sha256} is damaged: {cause}"))
                })?;
            }
            let mut out = BufWriter::new(file);
            let attached = photos.keys().map(|sha256| photo_entry(sha256));
            let attached = attached.chain(logs.iter().map(|sha256| log_entry(sha256)));
            assemble(&mut out, &documents, attached, |name| {
                if let Some(jpeg) = photo_of(name).and_then(|sha256| photos.get(sha256)) {
                    return Ok(Box::new(*jpeg));
                }
                let file = log_of(name)
                    .map(|sha256| files.stored(sha256))
                    .transpose()?;
                file.flatten()
                    .map(|file| Box::new(file) as Box<dyn Read>)
                    .ok_or_else(|| io::Error::other("a log vanished"))
            })?;
            let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
            Ok(file.sync_all()?)
        });
    if let Err(cause) = written {
        // Somebody else's file of that name stays.
        let is_theirs = matches!(&cause, BundleError::Io(cause) if cause.kind() == io::ErrorKind::AlreadyExists);
        if !is_theirs {
            let _ = std::fs::remove_file(path);
        }
        return Err(cause);
    }
    Ok(about)
}

/// Logs whose findings are worked out anew, whatever is remembered of them.
pub(super) struct Anew<'a>(pub &'a LogFiles);

impl Logs for Anew<'_> {
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        self.0.open(sha256)
    }
}

/// SHA-256 of every log that a record names, each once, in the order of the alphabet.
fn log_hashes(record: &Record) -> BTreeSet<String> {
    record.logs.iter().map(|log| log.sha256.clone()).collect()
}

/// SHA-256 of every photo that a record names, each once, in the order of the alphabet.
fn photo_hashes(record: &Record) -> BTreeSet<String> {
    record.photos.iter().map(|p| p.sha256.clone()).collect()
}

fn citations(evaluation: &Evaluation, method: &Method) -> Vec<Citation> {
    method
        .standards
        .regimes
        .iter()
        .filter(|regime| evaluation.verdicts.iter().any(|v| v.regime == regime.id))
        .map(|regime| Citation {
            id: regime.id.clone(),
            title: regime.title.clone(),
            citation: regime.citation.clone(),
            effective_from: regime.effective_from.clone(),
            confidence: evaluation
                .verdicts
                .iter()
                .filter(|v| v.regime == regime.id)
                .filter_map(|v| v.confidence.clone())
                .collect(),
        })
        .collect()
}

fn log_entry(sha256: &str) -> String {
    format!("logs/{sha256}.zst")
}

fn log_of(name: &str) -> Option<&str> {
    name.strip_prefix("logs/")?.strip_suffix(".zst")
}

fn photo_entry(sha256: &str) -> String {
    format!("photos/{sha256}.jpg")
}

fn photo_of(name: &str) -> Option<&str> {
    name.strip_prefix("photos/")?.strip_suffix(".jpg")
}

/// What came of checking an archive.
#[derive(Debug, Clone, PartialEq)]
pub struct Verified {
    pub about: About,
    /// SHA-256 of the archive itself.
    pub archive_sha256: String,
    pub logs: usize,
    /// Raw logs that the record names and that were not at hand when the archive was made.
    pub missing_logs: usize,
    pub photos: usize,
    /// Photos that the record names and that were not at hand when the archive was made.
    pub missing_photos: usize,
    /// Figures of the evaluation that were compared.
    pub figures: usize,
    /// Of these, figures that agree but for their last digits.
    pub last_digits: usize,
    /// Everything that is wrong; empty if all is sound.
    pub faults: Vec<String>,
    /// Worth knowing, no fault.
    pub notes: Vec<String>,
}

/// Checks an archive: its bytes, the logs against their SHA-256, and every figure of the
/// evaluation against one made anew.
///
/// # Errors
/// It cannot be read at all, or is no archive of ours.
pub fn verify(path: &Path) -> Result<Verified, BundleError> {
    let archive = Archive::open(path)?;
    let about: About = archive.json(BUNDLE)?;
    if about.format != FORMAT {
        return Err(unsound(format!(
            "{BUNDLE}: format {:?}; expected {FORMAT:?}",
            about.format
        )));
    }
    let mut faults = Vec::new();
    let mut notes = Vec::new();
    archive.check_manifest(&mut faults)?;
    let archive_sha256 = check_bytes(&archive, &mut faults)?;

    let record_text = archive.text(RECORD)?;
    let record = decode(&record_text).map_err(|problems| {
        let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
        unsound(format!("{RECORD} is refused: {}", problems.join("; ")))
    })?;
    let mut logs = 0;
    let mut missing_logs = 0;
    for sha256 in log_hashes(&record) {
        match archive.open(&sha256) {
            Ok(Some(bytes)) => {
                logs += 1;
                match io::copy(&mut Verifying::new(bytes, &sha256), &mut io::sink()) {
                    Err(cause) => faults.push(format!("{}: {cause}", log_entry(&sha256))),
                    Ok(size_bytes) => faults.extend(
                        record
                            .logs
                            .iter()
                            .filter(|log| log.sha256 == sha256 && log.size_bytes != size_bytes)
                            .map(|log| {
                                format!(
                                    "{RECORD}: the log {:?} is said to have {} bytes, it has {size_bytes}",
                                    log.name, log.size_bytes
                                )
                            }),
                    ),
                }
            }
            Ok(None) if about.missing_logs.contains(&sha256) => {
                missing_logs += 1;
                notes.push(format!(
                    "the log {sha256} was not at hand when the archive was made"
                ));
            }
            Ok(None) => faults.push(format!("{} is missing", log_entry(&sha256))),
            Err(cause) => faults.push(format!("{}: {cause}", log_entry(&sha256))),
        }
    }

    let mut photos = 0;
    let mut missing_photos = 0;
    for sha256 in photo_hashes(&record) {
        let entry = photo_entry(&sha256);
        if archive.entry(&entry)?.is_some() {
            photos += 1;
            faults.extend(check_photo(&record, &sha256, &archive.bytes(&entry)?));
        } else if about.missing_photos.contains(&sha256) {
            missing_photos += 1;
            notes.push(format!(
                "the photo {sha256} was not at hand when the archive was made"
            ));
        } else {
            faults.push(format!("{entry} is missing"));
        }
    }

    let mut method = Method::standard();
    (
        method.formula.line.voltage_v,
        method.formula.line.frequency_hz,
    ) = about.score_line;
    method.classes = about.classes.clone();
    if about.engine != ENGINE {
        notes.push(format!(
            "the archive was made by engine {}, this is {ENGINE}: figures may differ for that reason",
            about.engine
        ));
    } else if about.method_digest != method.digest() {
        notes.push(
            "limits or formula differ from those that the archive was made with: figures may differ for that reason"
                .to_owned(),
        );
    }
    let evidence = Evidence::gather(&record, &archive, &method);
    let anew = serde_json::to_value(evaluate_with(&record, &evidence, &method))
        .expect("an evaluation is JSON");
    let stored: Value = archive.json(EVALUATION)?;
    let mut comparison = Comparison::of(EVALUATION);
    comparison.compare("", &stored, &anew);
    faults.extend(comparison.faults);
    Ok(Verified {
        about,
        archive_sha256,
        logs,
        missing_logs,
        photos,
        missing_photos,
        figures: comparison.figures,
        last_digits: comparison.last_digits,
        faults,
        notes,
    })
}

/// Is it the photo that the record names, and of the size that it says?
fn check_photo(record: &Record, sha256: &str, jpeg: &[u8]) -> Vec<String> {
    let entry = photo_entry(sha256);
    let found = photo::sha256(jpeg);
    if found != sha256 {
        return vec![format!("{entry}: its SHA-256 is {found}")];
    }
    let kept = match photo::take_in(jpeg) {
        Ok(kept) => kept,
        Err(why) => return vec![format!("{entry}: {why}")],
    };
    let size = (kept.width_px, kept.height_px);
    record
        .photos
        .iter()
        .filter(|photo| photo.sha256 == sha256 && (photo.width_px, photo.height_px) != size)
        .map(|photo| {
            format!(
                "{RECORD}: the photo {sha256} is said to have {} by {} pixels, it has {} by {}",
                photo.width_px, photo.height_px, size.0, size.1
            )
        })
        .collect()
}

/// A stored document of figures and a new one, figure by figure.
pub(super) struct Comparison {
    /// Where the stored document stands.
    what: String,
    pub figures: usize,
    last_digits: usize,
    pub faults: Vec<String>,
}

impl Comparison {
    /// A comparison of nothing yet.
    pub fn of(what: impl Into<String>) -> Comparison {
        Comparison {
            what: what.into(),
            figures: 0,
            last_digits: 0,
            faults: Vec::new(),
        }
    }

    /// Compares what stands at `path` of both; begin with an empty one.
    pub fn compare(&mut self, path: &str, stored: &Value, anew: &Value) {
        match (stored, anew) {
            (Value::Object(a), Value::Object(b)) => {
                let keys: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
                for key in keys {
                    let path = if path.is_empty() {
                        key.clone()
                    } else {
                        format!("{path}.{key}")
                    };
                    match (a.get(key), b.get(key)) {
                        (Some(a), Some(b)) => self.compare(&path, a, b),
                        (a, b) => self.differ(&path, a, b),
                    }
                }
            }
            (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
                for (i, (a, b)) in a.iter().zip(b).enumerate() {
                    self.compare(&format!("{path}[{i}]"), a, b);
                }
            }
            (Value::Number(a), Value::Number(b)) => {
                self.figures += 1;
                if a == b {
                    return;
                }
                let (x, y) = (a.as_f64(), b.as_f64());
                let near = x
                    .zip(y)
                    .is_some_and(|(x, y)| (x - y).abs() <= LAST_DIGITS * x.abs().max(y.abs()));
                if near {
                    self.last_digits += 1;
                } else {
                    self.differ(path, Some(stored), Some(anew));
                }
            }
            (a, b) if a == b => {}
            _ => self.differ(path, Some(stored), Some(anew)),
        }
    }

    fn differ(&mut self, path: &str, stored: Option<&Value>, anew: Option<&Value>) {
        let shown = |value: Option<&Value>| match value {
            None => "nothing".to_owned(),
            Some(Value::Array(items)) => format!("a list of {}", items.len()),
            Some(Value::Object(_)) => "an object".to_owned(),
            Some(value) => value.to_string(),
        };
        self.faults.push(format!(
            "{}: {path} is {}, computed anew {}",
            self.what,
            shown(stored),
            shown(anew)
        ));
    }
}

/// The archive built again from its contents must be the same bytes. Gives its SHA-256.
fn check_bytes(archive: &Archive, faults: &mut Vec<String>) -> Result<String, BundleError> {
    let mut documents = Vec::new();
    for name in [EXPLANATION, BUNDLE, RECORD, EVALUATION, CITATIONS] {
        documents.push((name, archive.bytes(name)?));
    }
    let attached: Vec<String> = archive
        .entries()
        .iter()
        .map(|entry| entry.name.clone())
        .filter(|name| photo_of(name).or_else(|| log_of(name)).is_some())
        .collect();
    let mut comparing = Comparing {
        file: BufReader::new(File::open(archive.path())?),
        hash: Sha256::new(),
        at: 0,
        differs_at: None,
    };
    assemble(&mut comparing, &documents, attached, |name| {
        match archive.entry(name) {
            Ok(Some(bytes)) => Ok(Box::new(bytes)),
            Ok(None) => Err(io::Error::other("a listed entry vanished")),
            Err(cause) => Err(io::Error::other(cause.to_string())),
        }
    })?;
    comparing.end()?;
    if let Some(at) = comparing.differs_at {
        faults.push(format!(
            "the archive was changed: byte {at} is not as it was written"
        ));
    }
    Ok(hex(comparing.hash.finalize()))
}

impl Logs for Archive {
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        let entry = self
            .entry(&log_entry(sha256))
            .map_err(|cause| cause.to_string())?;
        match entry {
            None => Ok(None),
            Some(bytes) => match zstd::Decoder::new(bytes) {
                Ok(decoder) => Ok(Some(Box::new(decoder))),
                Err(cause) => Err(cause.to_string()),
            },
        }
    }
}

/// Takes what should be in a file and compares it with what is.
struct Comparing<R> {
    file: R,
    hash: Sha256,
    at: u64,
    differs_at: Option<u64>,
}

impl<R: Read> Write for Comparing<R> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut present = vec![0; bytes.len()];
        let mut filled = 0;
        while filled < present.len() {
            match self.file.read(&mut present[filled..])? {
                0 => break,
                count => filled += count,
            }
        }
        self.hash.update(&present[..filled]);
        if self.differs_at.is_none() && present[..filled] != *bytes {
            let same = present[..filled]
                .iter()
                .zip(bytes)
                .take_while(|(a, b)| a == b)
                .count();
            self.differs_at = Some(self.at + same as u64);
        }
        self.at += bytes.len() as u64;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl<R: Read> Comparing<R> {
    /// Nothing may follow.
    fn end(&mut self) -> io::Result<()> {
        let mut rest = Vec::new();
        self.file.read_to_end(&mut rest)?;
        self.hash.update(&rest);
        if !rest.is_empty() {
            self.differs_at.get_or_insert(self.at);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    const RECORD_TEXT: &str = r#"{"format":"brickbook-record/1","unit":{"maker":"Larkfield","model":"LF-20","nameplate":{"output_power_w":20},
        "ports":[{"label":"C1","modes":[{"kind":"fixed","voltage_v":20,"current_a":1}]}]},
        "runs":[{"name":"a","line":{"voltage_v":115,"frequency_hz":60},"rated_outputs":[{"port":"C1","voltage_v":20,"current_a":1}],
        "points":[{"load_percent":100,"input":{"power_w":22.5},"outputs":[{"port":"C1","voltage_v":20,"current_a":1}]}]}]}"#;

    fn archive(folder: &Path) -> PathBuf {
        let path = folder.join("unit.zip");
        let contents = Contents {
            record_text: RECORD_TEXT,
            slug: "larkfield-lf-20",
            revision: 1,
            author: "Ada",
            published_at: "2026-09-01T12:00:00.000Z".to_owned(),
            photos: &[],
        };
        let files = LogFiles::beside(&folder.join("brickbook.db"));
        write(&path, &contents, &files, &Method::standard()).unwrap();
        path
    }

    /// Builds an archive anew whose every checksum is right, with one document changed.
    fn forged(path: &Path, name: &str, change: impl Fn(String) -> String) {
        let archive = Archive::open(path).unwrap();
        let documents = [EXPLANATION, BUNDLE, RECORD, EVALUATION, CITATIONS].map(|document| {
            let text = archive.text(document).unwrap();
            let text = if document == name { change(text) } else { text };
            (document, text.into_bytes())
        });
        let mut bytes = Vec::new();
        assemble(&mut bytes, &documents, [], |_| {
            unreachable!("nothing is attached")
        })
        .unwrap();
        std::fs::write(path, bytes).unwrap();
    }

    #[test]
    fn a_figure_that_does_not_follow_from_the_record_is_found_although_every_checksum_is_right() {
        let folder = tempfile::tempdir().unwrap();
        let path = archive(folder.path());
        assert_eq!(verify(&path).unwrap().faults, Vec::<String>::new());
        forged(&path, EVALUATION, |text| {
            assert!(text.contains("22.5"));
            text.replace("22.5", "22.4")
        });
        let faults = verify(&path).unwrap().faults;
        assert!(
            faults
                .iter()
                .any(|fault| fault.contains("input_power_w is 22.4, computed anew 22.5")),
            "{faults:?}"
        );
    }

    #[test]
    fn a_reading_that_was_changed_shows_in_the_figures() {
        let folder = tempfile::tempdir().unwrap();
        let path = archive(folder.path());
        forged(&path, RECORD, |text| text.replace("22.5", "22.0"));
        assert!(!verify(&path).unwrap().faults.is_empty());
    }

    #[test]
    fn a_file_that_is_no_archive_says_so() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.zip");
        std::fs::write(&path, b"PK but not really").unwrap();
        assert!(matches!(verify(&path), Err(BundleError::Unsound(_))));
    }
}
