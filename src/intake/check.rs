//! Is everything that is stored whole, and does everything that was computed follow from it? Reads
//! only.

use super::bundle::{Anew, Comparison};
use super::submit::{Judged, judge_stored};
use crate::evaluate::{ENGINE, Evaluation, Method};
use crate::photo;
use crate::ranking::Row;
use crate::storage::evaluations::{self, Whole};
use crate::storage::log_files::Verifying;
use crate::storage::rankings::{self, StoredRow};
use crate::storage::units::{RecordText, Unit};
use crate::storage::{self, Db, instant, logs, photos, soundness, units};
use std::collections::{BTreeMap, BTreeSet};
use std::io;

/// Units whose names are read at once.
const AT_ONCE: i64 = 100;

/// What a check found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Checked {
    pub units: u64,
    pub revisions: u64,
    /// Evaluations that were computed again and are equal.
    pub evaluations: u64,
    /// Evaluations of an earlier method or of other settings, which cannot be computed again.
    pub earlier_evaluations: u64,
    pub photos: u64,
    pub logs: u64,
    /// Everything that is wrong, each with its place; empty if all is whole.
    pub faults: Vec<String>,
    /// Worth knowing, no fault.
    pub notes: Vec<String>,
}

/// Checks the file, every photo and log against its SHA-256, every evaluation against one made
/// anew, and every row of the ranking against what it is derived from. `progress` is told (done, of
/// so many) things. Others may read and write meanwhile: what belongs together is read at once.
pub async fn check(
    db: &Db,
    method: &Method,
    mut progress: impl FnMut(u64, u64),
) -> Result<Checked, storage::Error> {
    let mut checked = Checked::default();
    let schema = storage::db::newest_schema();
    if db.schema().await? != schema {
        return Err(storage::Error::Unusable {
            path: db.path().to_path_buf(),
            why: format!(
                "it was written by an earlier version; any command that writes, such as `brickbook rescore`, brings it to schema {schema}, then check again (make a backup first)"
            ),
        });
    }
    let mut reader = db.read().await?;
    checked.faults = soundness::of_the_file(&mut reader).await?;
    let known_logs = logs::all(&mut reader).await?;
    let all_photos = photos::all(&mut reader).await?;
    let units_in_all = units::count(&mut reader).await?;
    drop(reader);
    let total = units_in_all.unsigned_abs() + (known_logs.len() + all_photos.len()) as u64;
    let mut done = 0;
    let mut step = |count: u64| {
        done += count;
        progress(done.min(total), total);
    };
    step(0);

    for sha256 in &all_photos {
        checked.photo(db, sha256).await?;
        step(1);
    }
    checked.logs(db, known_logs, &mut step).await?;

    let mut named = Named::default();
    let mut last_unit = 0;
    loop {
        let page = units::page(&mut *db.read().await?, last_unit, AT_ONCE).await?;
        let Some(last) = page.last() else {
            break;
        };
        last_unit = last.id;
        for unit in page {
            let stored = StoredUnit::read(db, unit.id).await?;
            // Deleted since the page was read.
            if let Some(stored) = stored {
                let (db, method) = (db.clone(), method.clone());
                let found = tokio::task::spawn_blocking(move || of_unit(&stored, &db, &method))
                    .await
                    .expect("checking a unit does not panic");
                checked.add(found, &mut named);
            }
            step(1);
        }
    }
    let photos: BTreeSet<String> = all_photos.into_iter().collect();
    for (sha256, unit) in &named.photos {
        if !photos.contains(sha256) {
            checked.notes.push(format!(
                "{unit} names the photo {sha256}, which is not at hand"
            ));
        }
    }
    for (sha256, unit) in &named.logs {
        if !db.logs().is_kept(sha256) {
            checked.notes.push(format!(
                "{unit} names the log {sha256}, which is not at hand"
            ));
        }
    }
    Ok(checked)
}

impl Checked {
    async fn photo(&mut self, db: &Db, sha256: &str) -> Result<(), storage::Error> {
        let picture = photos::picture(&mut *db.read().await?, sha256).await?;
        let Some(picture) = picture else {
            return Ok(());
        };
        self.photos += 1;
        let found = photo::sha256(&picture.jpeg);
        if found != sha256 {
            self.faults
                .push(format!("photo {sha256}: its bytes have SHA-256 {found}"));
            return Ok(());
        }
        let kept = photo::Kept {
            jpeg: picture.jpeg,
            thumbnail: picture.thumbnail,
            width_px: picture.width_px,
            height_px: picture.height_px,
        };
        let fault = tokio::task::spawn_blocking(move || photo::fault(&kept))
            .await
            .expect("reading a photo does not panic");
        self.faults
            .extend(fault.map(|fault| format!("photo {sha256}: {fault}")));
        Ok(())
    }

    /// Every log that was entered, then what lies in the folder and was not.
    async fn logs(
        &mut self,
        db: &Db,
        known: Vec<logs::LogFile>,
        step: &mut impl FnMut(u64),
    ) -> Result<(), storage::Error> {
        let files = db.logs();
        let present = match files.present() {
            Ok(present) => present,
            Err(cause) => {
                self.faults
                    .push(format!("{}: {cause}", files.folder().display()));
                return Ok(());
            }
        };
        let entered: BTreeMap<String, logs::LogFile> = known
            .into_iter()
            .map(|log| (log.sha256.clone(), log))
            .collect();
        for sha256 in entered.keys().chain(
            present
                .logs
                .iter()
                .filter(|sha256| !entered.contains_key(*sha256)),
        ) {
            let log = entered.get(sha256);
            let what = match log {
                Some(log) => format!("log {:?} ({sha256})", log.name),
                None => format!("log {sha256}"),
            };
            let bytes = {
                let (files, sha256) = (files.clone(), sha256.clone());
                tokio::task::spawn_blocking(move || match files.read(&sha256)? {
                    None => Ok(None),
                    Some(raw) => {
                        io::copy(&mut Verifying::new(raw, &sha256), &mut io::sink()).map(Some)
                    }
                })
                .await
                .expect("reading a log does not panic")
            };
            match (bytes, log) {
                (Ok(Some(bytes)), Some(log)) if bytes != log.size_bytes => self.faults.push(
                    format!("{what}: it has {bytes} bytes, expected {}", log.size_bytes),
                ),
                (Ok(Some(_)), Some(_)) => self.logs += 1,
                (Ok(Some(_)), None) => {
                    self.logs += 1;
                    self.notes
                        .push(format!("{what} lies in the folder and was never entered"));
                }
                // Deleted since the list was read?
                (Ok(None), Some(_)) => {
                    let mut reader = db.read().await?;
                    match logs::find(&mut reader, sha256).await {
                        Err(storage::Error::NotFound) => {}
                        other => {
                            other?;
                            self.faults.push(format!("{what}: its file is missing"));
                        }
                    }
                }
                (Ok(None), None) => {}
                (Err(cause), _) => self.faults.push(format!("{what}: {cause}")),
            }
            step(u64::from(log.is_some()));
        }
        for stranger in present.strangers {
            self.notes.push(format!(
                "{} lies among the logs and is none",
                files.folder().join(stranger).display()
            ));
        }
        Ok(())
    }

    fn add(&mut self, found: FoundInUnit, named: &mut Named) {
        self.units += 1;
        self.revisions += found.revisions;
        self.evaluations += found.evaluations;
        self.earlier_evaluations += found.earlier_evaluations;
        self.faults.extend(found.faults);
        self.notes.extend(found.notes);
        for sha256 in found.named.photos.into_keys() {
            named.photos.entry(sha256).or_insert(found.slug.clone());
        }
        for sha256 in found.named.logs.into_keys() {
            named.logs.entry(sha256).or_insert(found.slug.clone());
        }
    }
}

/// SHA-256 of what records name, with a unit that does.
#[derive(Debug, Default)]
struct Named {
    photos: BTreeMap<String, String>,
    logs: BTreeMap<String, String>,
}

/// Everything that is stored of a unit, as of one moment.
struct StoredUnit {
    unit: Unit,
    revisions: Vec<StoredRevision>,
    row: Option<StoredRow>,
}

struct StoredRevision {
    text: RecordText,
    evaluations: Vec<Whole>,
    logs: Vec<(String, String)>,
    photos: Vec<String>,
}

impl StoredUnit {
    async fn read(db: &Db, unit_id: i64) -> Result<Option<StoredUnit>, storage::Error> {
        let mut moment = db.snapshot().await?;
        let unit = match units::find_by_id(&mut moment, unit_id).await {
            Err(storage::Error::NotFound) => return Ok(None),
            unit => unit?,
        };
        let mut revisions = Vec::new();
        for revision in units::revisions(&mut moment, unit_id).await? {
            revisions.push(StoredRevision {
                text: units::record_text(&mut moment, unit_id, revision.number).await?,
                evaluations: evaluations::of_revision(&mut moment, revision.id).await?,
                logs: logs::named_in_revision(&mut moment, revision.id).await?,
                photos: photos::named_in_revision(&mut moment, revision.id).await?,
            });
        }
        revisions.reverse();
        let row = rankings::stored(&mut moment, unit_id).await?;
        Ok(Some(StoredUnit {
            unit,
            revisions,
            row,
        }))
    }
}

#[derive(Default)]
struct FoundInUnit {
    slug: String,
    revisions: u64,
    evaluations: u64,
    earlier_evaluations: u64,
    faults: Vec<String>,
    notes: Vec<String>,
    named: Named,
}

/// Whether what is stored of a unit agrees with itself.
fn of_unit(stored: &StoredUnit, db: &Db, method: &Method) -> FoundInUnit {
    let unit = &stored.unit;
    let slug = &unit.slug;
    let digest = method.digest();
    let mut found = FoundInUnit {
        slug: slug.clone(),
        ..FoundInUnit::default()
    };
    let mut newest = None;
    for (number, revision) in (1..).zip(&stored.revisions) {
        found.revisions += 1;
        let of = format!("{slug} revision {}", revision.text.revision.number);
        if revision.text.revision.number != number {
            found
                .faults
                .push(format!("{of}: revision {number} is missing"));
        }
        let judged =
            match judge_stored(&revision.text.text, method, &Anew(db.logs())) {
                Ok(judged) => judged,
                Err(problems) => {
                    // An earlier version took it in; its evaluation stands as it is.
                    found.earlier_evaluations += revision.evaluations.len() as u64;
                    found.notes.extend(problems.iter().map(|problem| {
                        format!("{of}: this version refuses the record: {problem}")
                    }));
                    newest = None;
                    continue;
                }
            };
        found.names(&of, revision, &judged);
        let basis = judged.basis(digest);
        for evaluation in &revision.evaluations {
            let is_present = evaluation.engine == ENGINE
                && evaluation.score_version == i64::from(method.formula.version)
                && evaluation.method_digest == basis;
            if !is_present {
                found.earlier_evaluations += 1;
                continue;
            }
            match differences(&of, evaluation, &judged.evaluation) {
                faults if faults.is_empty() => found.evaluations += 1,
                faults => found.faults.extend(faults),
            }
        }
        newest = Some((revision, judged));
    }
    if stored.revisions.is_empty() {
        found.faults.push(format!("{slug}: it has no revision"));
    }
    match (&stored.row, newest) {
        (None, _) => found
            .faults
            .push(format!("{slug}: it is not in the ranking")),
        (Some(row), Some((revision, judged))) => {
            if unit.identity_key != judged.record.unit.identity_key()
                || unit.model_key != judged.record.unit.model_key()
            {
                found.faults.push(format!(
                    "{slug}: maker, model and sample are not those of its newest record"
                ));
            }
            found.row(unit, row, revision, &judged, method);
        }
        (Some(_), None) => {}
    }
    found
}

impl FoundInUnit {
    /// Are the logs and photos noted that the record names?
    fn names(&mut self, of: &str, revision: &StoredRevision, judged: &Judged) {
        let mut logs: Vec<(String, String)> = judged
            .record
            .logs
            .iter()
            .map(|log| (log.name.clone(), log.sha256.clone()))
            .collect();
        logs.sort();
        if logs != revision.logs {
            self.faults.push(format!(
                "{of}: the logs noted are not those that the record names"
            ));
        }
        let photos: Vec<&String> = judged.record.photos.iter().map(|p| &p.sha256).collect();
        if !photos.iter().copied().eq(&revision.photos) {
            self.faults.push(format!(
                "{of}: the photos noted are not those that the record names"
            ));
        }
        for sha256 in photos {
            self.named.photos.insert(sha256.clone(), String::new());
        }
        for (_, sha256) in logs {
            self.named.logs.insert(sha256, String::new());
        }
    }

    /// Does the row of the ranking follow from record and evaluation?
    fn row(
        &mut self,
        unit: &Unit,
        row: &StoredRow,
        newest: &StoredRevision,
        judged: &Judged,
        method: &Method,
    ) {
        let slug = &unit.slug;
        if row.revision_id != newest.text.revision.id {
            self.faults
                .push(format!("{slug}: the ranking shows an earlier revision"));
            return;
        }
        let times = (
            instant::to_text(unit.created_at),
            instant::to_text(newest.text.revision.created_at),
        );
        if (&row.published_at, &row.revised_at) != (&times.0, &times.1) {
            self.faults.push(format!(
                "{slug}: the times in the ranking are not those of its revisions"
            ));
        }
        let shown = newest
            .evaluations
            .iter()
            .find(|evaluation| evaluation.id == row.evaluation_id);
        let Some(shown) = shown else {
            self.faults.push(format!(
                "{slug}: the ranking shows an evaluation of another revision"
            ));
            return;
        };
        // A row of an earlier method was derived by an earlier version.
        if shown.method_digest != judged.basis(method.digest()) || shown.engine != ENGINE {
            return;
        }
        let derived = Row::of(unit.id, slug, &judged.record, &judged.evaluation, method);
        let mut comparison = Comparison::of(format!("{slug}: row of the ranking"));
        match serde_json::from_str(&row.row) {
            Ok(stored) => comparison.compare(
                "",
                &stored,
                &serde_json::to_value(derived).expect("a row is JSON"),
            ),
            Err(cause) => comparison
                .faults
                .push(format!("{slug}: row of the ranking: {cause}")),
        }
        self.faults.extend(comparison.faults);
    }
}

/// In what a stored evaluation differs from one made anew.
fn differences(of: &str, stored: &Whole, anew: &Evaluation) -> Vec<String> {
    let mut comparison = Comparison::of(format!("{of}: evaluation"));
    match serde_json::from_str(&stored.document) {
        Ok(document) => comparison.compare(
            "",
            &document,
            &serde_json::to_value(anew).expect("an evaluation is JSON"),
        ),
        Err(cause) => comparison.faults.push(format!("{of}: evaluation: {cause}")),
    }
    if stored.score != anew.score.value {
        comparison.faults.push(format!(
            "{of}: the score noted is {:?}, computed anew {:?}",
            stored.score, anew.score.value
        ));
    }
    comparison.faults
}
