//! Everything but accounts in an open format: a folder of JSON and of the files as they came, which
//! explains itself (`format.md`), and the way from such a folder into a database.
//!
//! What is written follows from what is stored alone, so that a database made from an export gives
//! the same export, byte for byte.

use super::bundle::{Anew, Comparison};
use super::file::{Content, documents};
use super::submit::judge_stored;
use crate::bench::decode::decode_stored;
use crate::bench::record::Record;
use crate::evaluate::{ENGINE, Evaluation, Logs, Method};
use crate::photo;
use crate::quantity::words::counted;
use crate::ranking::Row;
use crate::storage::archive::pretty;
use crate::storage::evaluations::{self, Whole};
use crate::storage::exchange::{
    self as stored, Candidate, Draft, Layout, Log, Photo, Suggestion, Unit,
};
use crate::storage::{
    self, Connection, Db, audit, instant, logs, operators, photos, rankings, settings, units,
};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

/// The value of `format` in `export.json`.
pub const FORMAT: &str = "brickbook-export/1";

const ABOUT: &str = "export.json";
const EXPLANATION: &str = "format.md";
const UNITS: &str = "units.jsonl";
const HISTORY: &str = "history.jsonl";
const PHOTOS: &str = "photos.jsonl";
const LOGS: &str = "logs.jsonl";
const LAYOUTS: &str = "layouts.jsonl";
const QUEUE: &str = "queue.jsonl";
const SUGGESTIONS: &str = "suggestions.jsonl";
const DRAFTS: &str = "drafts.jsonl";
const SETTINGS: &str = "settings.json";

/// Settings that belong to the data and not to an installation.
const MOVING: [&str; 3] = [settings::DEMO, settings::FEED_ID, settings::FEED_BEGAN];

const EXPLAINED: &str = include_str!("exchange_format.md");

/// What cannot be exported or imported, in words.
#[derive(Debug, thiserror::Error)]
pub enum ExchangeError {
    #[error("{}: {cause}", path.display())]
    Io { path: PathBuf, cause: io::Error },
    /// What was given is not what it should be, or does not fit what is here: all of it, a line each.
    #[error("{}", .0.join("\n"))]
    Refused(Vec<String>),
    #[error(transparent)]
    Storage(#[from] storage::Error),
}

fn at(path: &Path) -> impl Fn(io::Error) -> ExchangeError + '_ {
    move |cause| ExchangeError::Io {
        path: path.to_path_buf(),
        cause,
    }
}

fn refused<T>(what: impl Into<String>) -> Result<T, ExchangeError> {
    Err(ExchangeError::Refused(vec![what.into()]))
}

/// How many of everything.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    pub units: usize,
    pub revisions: usize,
    pub evaluations: usize,
    pub photos: usize,
    pub logs: usize,
    pub layouts: usize,
    pub candidates: usize,
    pub suggestions: usize,
    pub drafts: usize,
}

/// What a folder says of itself; written last, so that an unfinished one is known.
#[derive(Debug, Serialize, Deserialize)]
struct About {
    format: String,
    program: String,
    counts: Counts,
    /// Logs that were entered and are not at hand.
    missing_logs: Vec<String>,
}

/// Author, reason and time of a revision, and the file that holds its record as it was entered.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Revision {
    file: String,
    slug: String,
    revision: i64,
    author: String,
    reason: String,
    created_at: String,
}

/// What an engine said of a revision.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EvaluationLine {
    revision: i64,
    engine: String,
    score_version: i64,
    method_digest: String,
    score: Option<f64>,
    created_at: String,
    /// Is it the one that pages show?
    shown: bool,
    document: Box<serde_json::value::RawValue>,
}

fn record_file(slug: &str, number: i64) -> String {
    format!("{slug}.r{number}.json")
}

fn evaluations_file(slug: &str) -> String {
    format!("{slug}.evaluations.jsonl")
}

/// Writes everything but accounts into an empty folder. Gives the counts and the logs that are not
/// at hand.
///
/// # Errors
/// The folder holds something already, or cannot be written.
pub async fn export(
    db: &Db,
    folder: &Path,
    mut progress: impl FnMut(u64, u64),
) -> Result<(Counts, Vec<String>), ExchangeError> {
    fs::create_dir_all(folder).map_err(at(folder))?;
    if fs::read_dir(folder).map_err(at(folder))?.next().is_some() {
        return refused(format!(
            "{} is not empty; name a new folder",
            folder.display()
        ));
    }
    let put = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        fs::write(&path, bytes).map_err(at(&path))
    };
    let mut moment = db.snapshot().await?;
    let mut counts = Counts::default();
    put(EXPLANATION, EXPLAINED.as_bytes())?;

    let all = stored::units(&mut moment).await?;
    counts.units = all.len();
    put(UNITS, &lines(&all))?;
    let mut history = Vec::new();
    for (done, unit) in (0..).zip(&all) {
        progress(done, all.len() as u64);
        let row = rankings::stored(&mut moment, unit.number).await?;
        let shown = row.map(|row| row.evaluation_id);
        let mut said = Vec::new();
        let mut revisions = units::revisions(&mut moment, unit.number).await?;
        revisions.reverse();
        for revision in revisions {
            let text = units::record_text(&mut moment, unit.number, revision.number).await?;
            let file = record_file(&unit.slug, revision.number);
            put(&file, text.text.as_bytes())?;
            for evaluation in evaluations::of_revision(&mut moment, revision.id).await? {
                said.push(EvaluationLine {
                    revision: revision.number,
                    shown: Some(evaluation.id) == shown,
                    engine: evaluation.engine,
                    score_version: evaluation.score_version,
                    method_digest: evaluation.method_digest,
                    score: evaluation.score,
                    created_at: evaluation.created_at,
                    document: serde_json::from_str(&evaluation.document)
                        .expect("the database holds valid JSON only"),
                });
            }
            history.push(Revision {
                file,
                slug: unit.slug.clone(),
                revision: revision.number,
                author: revision.author,
                reason: revision.reason,
                created_at: instant::to_text(revision.created_at),
            });
        }
        counts.evaluations += said.len();
        put(&evaluations_file(&unit.slug), &lines(&said))?;
    }
    counts.revisions = history.len();
    put(HISTORY, &lines(&history))?;

    let all = stored::photos(&mut moment).await?;
    counts.photos = all.len();
    put(PHOTOS, &lines(&all))?;
    let place = folder.join("photos");
    for photo in &all {
        fs::create_dir_all(&place).map_err(at(&place))?;
        let bytes = photos::jpeg(&mut moment, &photo.sha256).await?;
        put(&format!("photos/{}.jpg", photo.sha256), &bytes)?;
    }

    let all = stored::logs(&mut moment).await?;
    counts.logs = all.len();
    put(LOGS, &lines(&all))?;
    let place = folder.join("logs");
    let mut missing_logs = Vec::new();
    for log in &all {
        let Some(mut file) = db
            .logs()
            .stored(&log.sha256)
            .map_err(at(db.logs().folder()))?
        else {
            missing_logs.push(log.sha256.clone());
            continue;
        };
        fs::create_dir_all(&place).map_err(at(&place))?;
        let path = place.join(format!("{}.zst", log.sha256));
        File::create(&path)
            .and_then(|mut out| io::copy(&mut file, &mut out))
            .map_err(at(&path))?;
    }

    let all = stored::layouts(&mut moment).await?;
    counts.layouts = all.len();
    put(LAYOUTS, &lines(&all))?;
    let all = stored::candidates(&mut moment).await?;
    counts.candidates = all.len();
    put(QUEUE, &lines(&all))?;
    let all = stored::suggestions(&mut moment).await?;
    counts.suggestions = all.len();
    put(SUGGESTIONS, &lines(&all))?;
    let all = stored::drafts(&mut moment).await?;
    counts.drafts = all.len();
    put(DRAFTS, &lines(&all))?;
    put(SETTINGS, &pretty(&moving_settings(&mut moment).await?))?;
    let about = About {
        format: FORMAT.to_owned(),
        program: env!("CARGO_PKG_VERSION").to_owned(),
        counts: counts.clone(),
        missing_logs: missing_logs.clone(),
    };
    put(ABOUT, &pretty(&about))?;
    progress(counts.units as u64, counts.units as u64);
    Ok((counts, missing_logs))
}

fn lines<T: Serialize>(all: &[T]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for one in all {
        let line = serde_json::to_string(one).expect("rows of ours are JSON");
        // A document that was stored on several lines stands on one here.
        bytes.extend_from_slice(super::file::on_one_line(&line).as_bytes());
        bytes.push(b'\n');
    }
    bytes
}

async fn moving_settings(
    connection: &mut Connection,
) -> Result<BTreeMap<String, String>, storage::Error> {
    let mut all = BTreeMap::new();
    for key in MOVING {
        if let Some(value) = settings::get(connection, key).await? {
            all.insert(key.to_owned(), value);
        }
    }
    Ok(all)
}

/// Something to be imported, read as far as fits into memory; records, evaluations and files are
/// read when they are needed.
#[derive(Debug, Default)]
pub struct Incoming {
    /// Where it lies; nothing for a file of revisions.
    folder: Option<PathBuf>,
    units: Vec<Unit>,
    history: Vec<Revision>,
    /// Texts of records that came in one file, by slug and number.
    texts: BTreeMap<(String, i64), String>,
    photos: Vec<Photo>,
    logs: Vec<Log>,
    missing_logs: BTreeSet<String>,
    layouts: Vec<Layout>,
    candidates: Vec<Candidate>,
    suggestions: Vec<Suggestion>,
    drafts: Vec<Draft>,
    settings: BTreeMap<String, String>,
}

impl Incoming {
    /// A folder that `export` wrote.
    ///
    /// # Errors
    /// It is none, is not whole, or a line of it says something else than it should.
    pub fn folder(folder: &Path) -> Result<Incoming, ExchangeError> {
        let path = folder.join(ABOUT);
        let about = fs::read_to_string(&path).map_err(|cause| match cause.kind() {
            io::ErrorKind::NotFound => ExchangeError::Refused(vec![format!(
                "{}: there is no {ABOUT}; expected a folder that `brickbook export --everything` wrote to its end",
                folder.display()
            )]),
            _ => at(&path)(cause),
        })?;
        let about: About = match serde_json::from_str(&about) {
            Ok(about) => about,
            Err(cause) => return refused(format!("{}: {cause}", path.display())),
        };
        if about.format != FORMAT {
            return refused(format!(
                "{}: format {:?}; expected {FORMAT:?}",
                path.display(),
                about.format
            ));
        }
        let path = folder.join(SETTINGS);
        let settings = fs::read_to_string(&path).map_err(at(&path))?;
        let settings = match serde_json::from_str(&settings) {
            Ok(settings) => settings,
            Err(cause) => return refused(format!("{}: {cause}", path.display())),
        };
        let incoming = Incoming {
            folder: Some(folder.to_path_buf()),
            units: read_lines(&folder.join(UNITS))?,
            history: read_lines(&folder.join(HISTORY))?,
            texts: BTreeMap::new(),
            photos: read_lines(&folder.join(PHOTOS))?,
            logs: read_lines(&folder.join(LOGS))?,
            missing_logs: about.missing_logs.into_iter().collect(),
            layouts: read_lines(&folder.join(LAYOUTS))?,
            candidates: read_lines(&folder.join(QUEUE))?,
            suggestions: read_lines(&folder.join(SUGGESTIONS))?,
            drafts: read_lines(&folder.join(DRAFTS))?,
            settings,
        };
        let mut faults = incoming.faults();
        let counts = &about.counts;
        for (file, said, found) in [
            (UNITS, counts.units, incoming.units.len()),
            (HISTORY, counts.revisions, incoming.history.len()),
            (PHOTOS, counts.photos, incoming.photos.len()),
            (LOGS, counts.logs, incoming.logs.len()),
            (LAYOUTS, counts.layouts, incoming.layouts.len()),
            (QUEUE, counts.candidates, incoming.candidates.len()),
            (SUGGESTIONS, counts.suggestions, incoming.suggestions.len()),
            (DRAFTS, counts.drafts, incoming.drafts.len()),
        ] {
            if said != found {
                faults.push(format!("{file} has {found} lines; {ABOUT} says {said}"));
            }
        }
        incoming.unless(faults)
    }

    /// The text of a file that `export --all-revisions` wrote.
    ///
    /// # Errors
    /// A line is no revision.
    pub fn file(text: &str) -> Result<Incoming, ExchangeError> {
        let mut incoming = Incoming::default();
        let mut faults = Vec::new();
        for document in documents(text) {
            let place = document.place.unwrap_or_else(|| "line 1".to_owned());
            match document.content {
                Content::Revision(revision) => {
                    let created_at = instant::to_text(revision.created_at);
                    if revision.number == 1 {
                        incoming.units.push(Unit {
                            number: 0,
                            slug: revision.slug.clone(),
                            created_at: created_at.clone(),
                        });
                    }
                    let key = (revision.slug.clone(), revision.number);
                    incoming.texts.insert(key, revision.record);
                    incoming.history.push(Revision {
                        file: place,
                        slug: revision.slug,
                        revision: revision.number,
                        author: revision.author,
                        reason: revision.reason,
                        created_at,
                    });
                }
                Content::Record(_) => faults.push(format!(
                    "{place}: a record without its history; `brickbook add` publishes it"
                )),
                Content::Broken(problem) => faults.push(format!("{place}: {problem}")),
            }
        }
        faults.extend(incoming.faults());
        incoming.unless(faults)
    }

    fn unless(self, faults: Vec<String>) -> Result<Incoming, ExchangeError> {
        match faults.is_empty() {
            true => Ok(self),
            false => Err(ExchangeError::Refused(faults)),
        }
    }

    /// What cannot be so, whatever the database holds.
    fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        let mut slugs = BTreeSet::new();
        for unit in &self.units {
            let is_plain = (1..=200).contains(&unit.slug.len())
                && unit
                    .slug
                    .bytes()
                    .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
            if !is_plain {
                faults.push(format!(
                    "{UNITS}: slug {:?}; expected small letters, digits and hyphens",
                    unit.slug
                ));
            }
            if !slugs.insert(&unit.slug) {
                faults.push(format!("{UNITS}: {} stands there twice", unit.slug));
            }
        }
        let mut next: BTreeMap<&str, i64> = BTreeMap::new();
        for revision in &self.history {
            if !slugs.contains(&revision.slug) {
                faults.push(format!(
                    "{}: revision {} of {}, which is no unit here; expected revision 1 of it before it",
                    revision.file, revision.revision, revision.slug
                ));
                continue;
            }
            let expected = next.entry(&revision.slug).or_insert(1);
            if revision.revision != *expected {
                faults.push(format!(
                    "{}: revision {} of {}; expected revision {expected}",
                    revision.file, revision.revision, revision.slug
                ));
            }
            *expected = revision.revision + 1;
        }
        for slug in slugs {
            if !next.contains_key(slug.as_str()) {
                faults.push(format!("{HISTORY}: {slug} has no revision"));
            }
        }
        let hashes = self.photos.iter().map(|photo| &photo.sha256);
        for sha256 in hashes.chain(self.logs.iter().map(|log| &log.sha256)) {
            if sha256.len() != 64 || !sha256.bytes().all(|b| b.is_ascii_hexdigit()) {
                faults.push(format!("{sha256:?}; expected a SHA-256 of 64 digits"));
            }
        }
        let units = self.units.iter().map(|one| (&one.slug, &one.created_at));
        let times = units
            .chain(self.history.iter().map(|one| (&one.file, &one.created_at)))
            .chain(self.photos.iter().map(|one| (&one.sha256, &one.created_at)))
            .chain(self.logs.iter().map(|one| (&one.sha256, &one.created_at)))
            .chain(
                self.candidates
                    .iter()
                    .map(|one| (&one.uid, &one.created_at)),
            );
        for (what, time) in times {
            let stored = instant::from_text(time).map(instant::to_text);
            if !stored.is_ok_and(|stored| stored == *time) {
                faults.push(format!(
                    "{what}: created_at {time:?}; expected a time as 2026-09-01T12:34:56.789Z"
                ));
            }
        }
        faults
    }

    fn text(&self, revision: &Revision) -> Result<String, ExchangeError> {
        let Some(folder) = &self.folder else {
            let key = (revision.slug.clone(), revision.revision);
            return Ok(self.texts[&key].clone());
        };
        let path = folder.join(record_file(&revision.slug, revision.revision));
        let bytes = fs::read(&path).map_err(at(&path))?;
        String::from_utf8(bytes)
            .or_else(|_| refused(format!("{}: not UTF-8; expected a record", path.display())))
    }

    fn evaluations(&self, slug: &str) -> Result<Vec<EvaluationLine>, ExchangeError> {
        match &self.folder {
            Some(folder) => read_lines(&folder.join(evaluations_file(slug))),
            None => Ok(Vec::new()),
        }
    }
}

fn read_lines<T: DeserializeOwned>(path: &Path) -> Result<Vec<T>, ExchangeError> {
    let text = fs::read_to_string(path).map_err(at(path))?;
    let mut all = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        match serde_json::from_str(line) {
            Ok(one) => all.push(one),
            Err(cause) => {
                return refused(format!("{}: line {number}: {cause}", path.display()));
            }
        }
    }
    Ok(all)
}

/// Raw logs of a folder that is being imported, then those that are here.
struct LogsAtHand<'a> {
    folder: Option<PathBuf>,
    kept: Anew<'a>,
}

impl Logs for LogsAtHand<'_> {
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        if let Some(folder) = &self.folder
            && let Ok(file) = File::open(folder.join(format!("logs/{sha256}.zst")))
        {
            let raw = zstd::Decoder::new(file).map_err(|cause| cause.to_string())?;
            return Ok(Some(Box::new(raw)));
        }
        self.kept.open(sha256)
    }
}

/// What an import did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Imported {
    /// How many of everything are new here.
    pub new: Counts,
    /// Worth knowing.
    pub notes: Vec<String>,
}

/// Adds what is missing here, all or nothing. Figures of the present method are computed again and
/// must be equal; those of earlier methods are taken as they are.
///
/// # Errors
/// Everything that contradicts what is here, by name, or what is not as it should be; then nothing
/// was written.
pub async fn import(
    db: &Db,
    incoming: &Incoming,
    method: &Method,
    without_accounts: bool,
    now: time::OffsetDateTime,
    mut progress: impl FnMut(u64, u64),
) -> Result<Imported, ExchangeError> {
    let accounts = accounts(&mut *db.read().await?, incoming, without_accounts).await?;
    // Most of what would be refused is found before anything is computed or copied.
    Plan::new(&mut *db.read().await?, incoming, without_accounts).await?;
    let anew = verified(db, incoming, method, &mut progress)?;
    let mut adopted = Adopted::new(db);
    let stored_bytes = adopted.take(incoming)?;

    let mut tx = db.write().await?;
    let plan = Plan::new(&mut tx, incoming, without_accounts).await?;
    let mut imported = Imported::default();
    let account =
        |name: &Option<String>| name.as_ref().and_then(|name| accounts.get(name)).copied();
    for photo in plan.photos {
        let by = account(&photo.by);
        let created_at = instant::from_text(&photo.created_at)?;
        let folder = incoming.folder.as_deref().unwrap_or(Path::new(""));
        let kept = picture(folder, &photo.sha256)?;
        photos::enter(&mut tx, &kept, &photo.name, by, created_at).await?;
        imported.new.photos += 1;
    }
    for log in plan.logs {
        let entry = logs::LogFile {
            sha256: log.sha256.clone(),
            name: log.name.clone(),
            size_bytes: log.size_bytes.unsigned_abs(),
            stored_bytes: stored_bytes.get(&log.sha256).copied().unwrap_or(0),
            layout: log.layout.clone(),
            summary: log.summary.clone(),
            fault: log.fault.clone(),
            created_at: instant::from_text(&log.created_at)?,
        };
        logs::enter(&mut tx, &entry, account(&log.by)).await?;
        imported.new.logs += 1;
    }
    for layout in plan.layouts {
        stored::enter_layout(&mut tx, layout).await?;
        imported.new.layouts += 1;
    }
    enter_units(
        &mut tx,
        incoming,
        &plan.revisions,
        &anew,
        method,
        now,
        &mut imported,
    )
    .await?;
    let mut slugs = BTreeMap::new();
    for unit in stored::units(&mut tx).await? {
        slugs.insert(unit.slug, unit.number);
    }
    let unit_of = |slug: &Option<String>| slug.as_ref().and_then(|slug| slugs.get(slug)).copied();
    let mut draft_ids = BTreeMap::new();
    for draft in plan.drafts {
        let operator_id = accounts[&draft.operator];
        let id = stored::enter_draft(&mut tx, draft, operator_id, unit_of(&draft.unit)).await?;
        draft_ids.insert(draft.number, id);
        imported.new.drafts += 1;
    }
    let behind = stored::last_place(&mut tx).await?;
    for candidate in plan.candidates {
        let draft = candidate.draft.and_then(|number| draft_ids.get(&number));
        let unit_id = unit_of(&candidate.unit);
        let place = behind + candidate.place;
        stored::enter_candidate(&mut tx, candidate, place, draft.copied(), unit_id).await?;
        imported.new.candidates += 1;
    }
    let candidates: BTreeMap<String, i64> = stored::candidates(&mut tx)
        .await?
        .into_iter()
        .map(|one| (one.uid, one.number))
        .collect();
    for suggestion in plan.suggestions {
        let candidate = suggestion.candidate.as_ref();
        let candidate = candidate.and_then(|uid| candidates.get(uid)).copied();
        stored::enter_suggestion(&mut tx, suggestion, candidate).await?;
        imported.new.suggestions += 1;
    }
    if plan.was_empty {
        for key in MOVING {
            if let Some(value) = incoming.settings.get(key) {
                settings::set(&mut tx, key, value).await?;
            }
        }
    }
    let new = &imported.new;
    let change = audit::Change::new(
        "data.imported",
        "records, photos, logs and the desk's lists",
    )
    .detail(format!(
        "new: {} units, {} revisions, {} photos, {} logs, {} drafts, {} candidates, {} suggestions",
        new.units, new.revisions, new.photos, new.logs, new.drafts, new.candidates, new.suggestions
    ));
    audit::write(&mut tx, &audit::Who::command(), change, now).await?;
    tx.commit().await?;
    adopted.keep();
    if without_accounts && !incoming.drafts.is_empty() {
        imported.notes.push(format!(
            "{} left out, and so was who brought in photos and logs",
            counted(incoming.drafts.len(), "draft was", "drafts were")
        ));
    }
    for sha256 in &incoming.missing_logs {
        imported.notes.push(format!(
            "the log {sha256} was not at hand when the export was made"
        ));
    }
    Ok(imported)
}

/// Numbers of the accounts that the import names.
async fn accounts(
    connection: &mut Connection,
    incoming: &Incoming,
    without: bool,
) -> Result<BTreeMap<String, i64>, ExchangeError> {
    if without {
        return Ok(BTreeMap::new());
    }
    let here = operators::list(connection).await?;
    let drafts = incoming.drafts.iter().map(|draft| &draft.operator);
    let photos = incoming.photos.iter().filter_map(|photo| photo.by.as_ref());
    let logs = incoming.logs.iter().filter_map(|log| log.by.as_ref());
    let named: BTreeSet<&String> = drafts.chain(photos).chain(logs).collect();
    let mut found = BTreeMap::new();
    let mut missing = Vec::new();
    for name in named {
        match here.iter().find(|operator| operator.name == *name) {
            Some(operator) => {
                found.insert(name.clone(), operator.id);
            }
            None => missing.push(name.as_str()),
        }
    }
    if missing.is_empty() {
        return Ok(found);
    }
    refused(format!(
        "accounts are not part of an export, and there is none here for {}: make them first with `brickbook user add`, \
         or add --without-accounts, which leaves their drafts out",
        missing.join(", ")
    ))
}

/// What of an import is new here.
struct Plan<'a> {
    was_empty: bool,
    photos: Vec<&'a Photo>,
    logs: Vec<&'a Log>,
    layouts: Vec<&'a Layout>,
    revisions: Vec<&'a Revision>,
    drafts: Vec<&'a Draft>,
    candidates: Vec<&'a Candidate>,
    suggestions: Vec<&'a Suggestion>,
}

impl<'a> Plan<'a> {
    /// # Errors
    /// Everything in which the import contradicts what is here.
    async fn new(
        connection: &mut Connection,
        incoming: &'a Incoming,
        without_accounts: bool,
    ) -> Result<Plan<'a>, ExchangeError> {
        let mut conflicts = Vec::new();
        let units_here = stored::units(connection).await?;
        let candidates_here = stored::candidates(connection).await?;
        let suggestions_here = stored::suggestions(connection).await?;
        let drafts_here = stored::drafts(connection).await?;
        let was_empty = units_here.is_empty()
            && candidates_here.is_empty()
            && suggestions_here.is_empty()
            && drafts_here.is_empty();
        let demo = |settings: &BTreeMap<String, String>| {
            settings
                .get(settings::DEMO)
                .is_some_and(|value| value == "1")
        };
        if !was_empty && demo(&incoming.settings) != demo(&moving_settings(connection).await?) {
            conflicts.push(
                "one of both holds invented demonstration data, which must not be mixed with real measurements"
                    .to_owned(),
            );
        }

        let revisions = new_revisions(connection, incoming, &units_here, &mut conflicts).await?;
        let photos_here: BTreeSet<String> = photos::all(connection).await?.into_iter().collect();
        let photos = incoming.photos.iter();
        let photos = photos.filter(|photo| !photos_here.contains(&photo.sha256));
        let logs_here = stored::logs(connection).await?;
        let logs_here: BTreeSet<&String> = logs_here.iter().map(|log| &log.sha256).collect();
        let logs = incoming.logs.iter();
        let logs = logs.filter(|log| !logs_here.contains(&log.sha256));
        let layouts = new_ones(
            &incoming.layouts,
            &stored::layouts(connection).await?,
            |one| one.name.to_lowercase(),
            |one| one.clone(),
            |one| format!("the layout {:?}", one.name),
            &mut conflicts,
        );
        let candidates = new_ones(
            &incoming.candidates,
            &candidates_here,
            |one| one.uid.clone(),
            |one| Candidate {
                number: 0,
                place: 0,
                draft: None,
                ..one.clone()
            },
            |one| format!("the candidate {} {}", one.maker, one.model),
            &mut conflicts,
        );
        let suggestions = new_ones(
            &incoming.suggestions,
            &suggestions_here,
            |one| format!("{}\n{}\n{}", one.maker, one.model, one.created_at),
            |one| Suggestion {
                number: 0,
                ..one.clone()
            },
            |one| format!("the suggestion of {} {}", one.maker, one.model),
            &mut conflicts,
        );
        let drafts = match without_accounts {
            true => Vec::new(),
            false => new_ones(
                &incoming.drafts,
                &drafts_here,
                |one| format!("{}\n{}", one.operator, one.created_at),
                |one| Draft {
                    number: 0,
                    ..one.clone()
                },
                |one| format!("the draft of {} begun at {}", one.operator, one.created_at),
                &mut conflicts,
            ),
        };
        if !conflicts.is_empty() {
            return Err(ExchangeError::Refused(conflicts));
        }
        Ok(Plan {
            was_empty,
            photos: photos.collect(),
            logs: logs.collect(),
            layouts,
            revisions,
            drafts,
            candidates,
            suggestions,
        })
    }
}

/// Those of the incoming that are not here by their key. One that is here must say the same.
fn new_ones<'a, T: PartialEq>(
    incoming: &'a [T],
    here: &[T],
    key: impl Fn(&T) -> String,
    content: impl Fn(&T) -> T,
    name: impl Fn(&T) -> String,
    conflicts: &mut Vec<String>,
) -> Vec<&'a T> {
    let here: BTreeMap<String, &T> = here.iter().map(|one| (key(one), one)).collect();
    let mut new = Vec::new();
    for one in incoming {
        match here.get(&key(one)) {
            None => new.push(one),
            Some(same) if content(same) == content(one) => {}
            Some(_) => conflicts.push(format!("{} is here and says something else", name(one))),
        }
    }
    new
}

/// Revisions that are not here, in the order in which they were published.
async fn new_revisions<'a>(
    connection: &mut Connection,
    incoming: &'a Incoming,
    units_here: &[Unit],
    conflicts: &mut Vec<String>,
) -> Result<Vec<&'a Revision>, ExchangeError> {
    let mut new = Vec::new();
    for revision in &incoming.history {
        let slug = &revision.slug;
        let Some(here) = units_here.iter().find(|unit| unit.slug == *slug) else {
            new.push(revision);
            continue;
        };
        match units::record_text(connection, here.number, revision.revision).await {
            Err(storage::Error::NotFound) => new.push(revision),
            Err(cause) => return Err(cause.into()),
            Ok(present) => {
                let is_same = present.text == incoming.text(revision)?
                    && present.revision.author == revision.author
                    && present.revision.reason == revision.reason
                    && instant::to_text(present.revision.created_at) == revision.created_at;
                if !is_same {
                    conflicts.push(format!(
                        "revision {} of {slug} is here and says something else",
                        revision.revision
                    ));
                }
            }
        }
    }
    // By time, but never a later revision of a unit before an earlier one, whatever the clock said.
    let mut at = BTreeMap::new();
    let mut ordered: Vec<(String, &Revision)> = Vec::new();
    for revision in new {
        let latest = at.entry(&revision.slug).or_insert(&revision.created_at);
        *latest = (*latest).max(&revision.created_at);
        ordered.push((latest.clone(), revision));
    }
    ordered.sort_by(|(a_at, a), (b_at, b)| {
        (a_at, &a.slug, a.revision).cmp(&(b_at, &b.slug, b.revision))
    });
    let new: Vec<&Revision> = ordered.into_iter().map(|(_, one)| one).collect();

    // Nobody else may have the identity that a unit comes to.
    let newest: BTreeMap<&str, &Revision> =
        new.iter().map(|one| (one.slug.as_str(), *one)).collect();
    for (slug, revision) in newest {
        let record = record(incoming, revision)?;
        let same = units::find_by_identity(connection, &record.unit.identity_key()).await?;
        if let Some(other) = same.filter(|other| other.slug != slug) {
            conflicts.push(format!(
                "{slug}: maker, model and sample are those of {}, which is here",
                other.slug
            ));
        }
    }
    Ok(new)
}

fn record(incoming: &Incoming, revision: &Revision) -> Result<Record, ExchangeError> {
    decode_stored(&incoming.text(revision)?).map_err(|problems| {
        let of = format!("{} revision {}", revision.slug, revision.revision);
        ExchangeError::Refused(
            problems
                .iter()
                .map(|problem| format!("{of}: {problem}"))
                .collect(),
        )
    })
}

/// Evaluations of revisions that came without one, by slug and number.
type Anewed = BTreeMap<(String, i64), (String, Evaluation)>;

/// Computes every revision again: what the import says by the present method must be that, and
/// where it says nothing this takes its place.
fn verified(
    db: &Db,
    incoming: &Incoming,
    method: &Method,
    progress: &mut impl FnMut(u64, u64),
) -> Result<Anewed, ExchangeError> {
    let digest = method.digest();
    let logs = LogsAtHand {
        folder: incoming.folder.clone(),
        kept: Anew(db.logs()),
    };
    let mut by_unit: BTreeMap<&str, Vec<&Revision>> = BTreeMap::new();
    for revision in &incoming.history {
        by_unit.entry(&revision.slug).or_default().push(revision);
    }
    let mut faults = Vec::new();
    let mut anew = BTreeMap::new();
    let total = by_unit.len() as u64;
    for (done, (slug, revisions)) in (0..).zip(by_unit) {
        progress(done, total);
        let said = incoming.evaluations(slug)?;
        for line in &said {
            if !revisions.iter().any(|one| one.revision == line.revision) {
                faults.push(format!(
                    "{}: an evaluation of revision {}, which is not there",
                    evaluations_file(slug),
                    line.revision
                ));
            }
        }
        for revision in revisions {
            let of = format!("{slug} revision {}", revision.revision);
            let judged = match judge_stored(&incoming.text(revision)?, method, &logs) {
                Ok(judged) => judged,
                Err(problems) => {
                    faults.extend(problems.iter().map(|problem| format!("{of}: {problem}")));
                    continue;
                }
            };
            let basis = judged.basis(digest);
            let mut any = false;
            for line in said.iter().filter(|one| one.revision == revision.revision) {
                any = true;
                let is_present = line.engine == ENGINE
                    && line.score_version == i64::from(method.formula.version)
                    && line.method_digest == basis;
                if !is_present {
                    continue;
                }
                let mut comparison = Comparison::of(format!("{of}: evaluation"));
                match serde_json::from_str(line.document.get()) {
                    Ok(document) => comparison.compare(
                        "",
                        &document,
                        &serde_json::to_value(&judged.evaluation).expect("an evaluation is JSON"),
                    ),
                    Err(cause) => faults.push(format!("{of}: evaluation: {cause}")),
                }
                faults.extend(comparison.faults);
            }
            if !any {
                let key = (slug.to_owned(), revision.revision);
                anew.insert(key, (basis, judged.evaluation));
            }
        }
    }
    progress(total, total);
    match faults.is_empty() {
        true => Ok(anew),
        false => Err(ExchangeError::Refused(faults)),
    }
}

/// Units, revisions and evaluations that are new, and the row of the ranking of each unit that got
/// one.
async fn enter_units(
    tx: &mut Connection,
    incoming: &Incoming,
    new: &[&Revision],
    anew: &Anewed,
    method: &Method,
    now: time::OffsetDateTime,
    imported: &mut Imported,
) -> Result<(), ExchangeError> {
    let newest: BTreeMap<&str, i64> = new
        .iter()
        .map(|one| (one.slug.as_str(), one.revision))
        .collect();
    // In the order of their numbers, so that those without one get them in the order of the file.
    for unit in &incoming.units {
        let Some(number) = newest.get(unit.slug.as_str()) else {
            continue;
        };
        let revision = new
            .iter()
            .find(|one| one.slug == unit.slug && one.revision == *number)
            .expect("its number was taken from there");
        let identity = record(incoming, revision)?.unit;
        match units::find_by_slug(tx, &unit.slug).await {
            Ok(here) => units::set_identity(tx, here.id, &identity).await?,
            Err(storage::Error::NotFound) => {
                stored::enter_unit(tx, unit, &identity.identity_key(), &identity.model_key())
                    .await?;
                imported.new.units += 1;
            }
            Err(cause) => return Err(cause.into()),
        }
    }
    for revision in new {
        let text = incoming.text(revision)?;
        let record = record(incoming, revision)?;
        let unit = units::find_by_slug(tx, &revision.slug).await?;
        let created_at = instant::from_text(&revision.created_at)?;
        let entered = units::add_revision(
            tx,
            unit.id,
            &text,
            &revision.author,
            &revision.reason,
            created_at,
        )
        .await?;
        imported.new.revisions += 1;
        logs::name_in_revision(tx, entered.id, &record.logs).await?;
        photos::name_in_revision(tx, entered.id, &record.photos).await?;
        let mut shown = None;
        let said = incoming.evaluations(&revision.slug)?;
        for line in said.iter().filter(|one| one.revision == revision.revision) {
            let whole = Whole {
                id: 0,
                engine: line.engine.clone(),
                score_version: line.score_version,
                method_digest: line.method_digest.clone(),
                score: line.score,
                document: line.document.get().to_owned(),
                created_at: line.created_at.clone(),
            };
            let id = stored::enter_evaluation(tx, entered.id, &whole).await?;
            imported.new.evaluations += 1;
            if line.shown || shown.is_none() {
                shown = Some((id, whole.document));
            }
        }
        let key = (revision.slug.clone(), revision.revision);
        let (evaluation_id, evaluation) = match (shown, anew.get(&key)) {
            (Some((id, document)), _) => {
                let evaluation = serde_json::from_str(&document).map_err(|cause| {
                    ExchangeError::Refused(vec![format!(
                        "{} revision {}: evaluation: {cause}",
                        revision.slug, revision.revision
                    )])
                })?;
                (id, evaluation)
            }
            (None, Some((basis, evaluation))) => {
                let id =
                    evaluations::insert(tx, entered.id, evaluation, basis, now.max(created_at))
                        .await?;
                imported.new.evaluations += 1;
                (id, evaluation.clone())
            }
            (None, None) => unreachable!("every revision is evaluated before"),
        };
        if newest.get(revision.slug.as_str()) == Some(&revision.revision) {
            let row = Row::of(unit.id, &unit.slug, &record, &evaluation, method);
            rankings::write(tx, &row, entered.id, evaluation_id).await?;
        }
    }
    Ok(())
}

fn picture(folder: &Path, sha256: &str) -> Result<photo::Kept, ExchangeError> {
    let path = folder.join(format!("photos/{sha256}.jpg"));
    let bytes = fs::read(&path).map_err(at(&path))?;
    match photo::take_in(&bytes) {
        Ok(kept) if kept.sha256() == sha256 => Ok(kept),
        Ok(_) => refused(format!(
            "{}: its bytes are not those that its name says",
            path.display()
        )),
        Err(why) => refused(format!("{}: {why}", path.display())),
    }
}

/// Logs that an import brought into the folder; gone again if it is given up.
struct Adopted<'a> {
    db: &'a Db,
    new: Vec<String>,
}

impl<'a> Adopted<'a> {
    fn new(db: &'a Db) -> Adopted<'a> {
        Adopted {
            db,
            new: Vec::new(),
        }
    }

    /// Takes in every log of the import that is not here. Gives the size on the disk of each.
    fn take(&mut self, incoming: &Incoming) -> Result<BTreeMap<String, u64>, ExchangeError> {
        let mut sizes = BTreeMap::new();
        let Some(folder) = &incoming.folder else {
            return Ok(sizes);
        };
        let files = self.db.logs();
        for log in &incoming.logs {
            let path = folder.join(format!("logs/{}.zst", log.sha256));
            let was_here = files.is_kept(&log.sha256);
            if !was_here {
                let file = match File::open(&path) {
                    Ok(file) => BufReader::new(file),
                    Err(cause) if cause.kind() == io::ErrorKind::NotFound => {
                        if incoming.missing_logs.contains(&log.sha256) {
                            continue;
                        }
                        return refused(format!("{}: missing", path.display()));
                    }
                    Err(cause) => return Err(at(&path)(cause)),
                };
                files.adopt(file, &log.sha256).map_err(at(&path))?;
                self.new.push(log.sha256.clone());
            }
            if let Some(file) = files.stored(&log.sha256).map_err(at(&path))? {
                let size = file.metadata().map_err(at(&path))?.len();
                sizes.insert(log.sha256.clone(), size);
            }
        }
        Ok(sizes)
    }

    fn keep(mut self) {
        self.new.clear();
    }
}

impl Drop for Adopted<'_> {
    fn drop(&mut self) {
        for sha256 in &self.new {
            let _ = self.db.logs().remove(sha256);
        }
    }
}
