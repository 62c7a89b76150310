//! `add`: records from files into the database.

use super::{Failure, open_or_make, read_text};
use crate::bench::problem::Problem;
use crate::config::Config;
use crate::evaluate::Method;
use crate::intake::file::{Content, Document, ExportedRevision, documents, on_one_line};
use crate::intake::{Change, Judged, Submission, SubmitError, Submitted, Target, judge, store};
use crate::photo::{self, Kept};
use crate::storage::{
    self, Db,
    audit::{self, Who},
    photos, settings, units,
};
use std::collections::{BTreeSet, HashMap, HashSet};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use time::OffsetDateTime;

/// Records that share one transaction. Each is stored whole or not at all, and is reported only
/// after the transaction is on the disk.
const AT_ONCE: usize = 100;

/// Publish records from files
///
/// A file holds one record (format brickbook-record/1), a JSON array of records, or JSON lines as
/// `brickbook export` writes them. Each record is evaluated and stored whole or not at all, and one
/// line says what became of it. A record that is refused does not hold up the others; the exit code
/// is then 2. Adding a record that is already there changes nothing, so an interrupted call can
/// simply be repeated.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook add my-adapter.json\n  \
    brickbook add --author \"Ada\" bench/*.json\n  \
    brickbook add --photos pictures/ my-adapter.json\n  \
    brickbook add --revise larkfield-lf-100q --reason \"no-load read again after 5 minutes\" my-adapter.json\n  \
    brickbook export --data-dir old -o - | brickbook add --data-dir new -")]
pub struct Add {
    /// Files with records, or - for standard input
    #[arg(required = true)]
    files: Vec<PathBuf>,

    /// Who measured; shown in the revision history
    #[arg(long, value_name = "NAME", default_value = "command line")]
    author: String,

    /// Why; shown in the revision history
    #[arg(long, value_name = "TEXT", default_value = "")]
    reason: String,

    /// Add the record as a new revision of this published unit (the last part of its address)
    #[arg(long, value_name = "SLUG")]
    revise: Option<String>,

    /// Where the photos are that the records name, under any file name: each is found by its
    /// SHA-256 [default: the folder photos beside each file, if there is one]
    #[arg(long, value_name = "DIR")]
    photos: Option<PathBuf>,
}

impl Add {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let mut sources = Vec::new();
        let mut unreadable = 0;
        for file in &self.files {
            match read_text(file) {
                Ok(text) => sources.push((file.as_path(), documents(&text))),
                Err(Failure::Input(message)) => {
                    eprintln!("{message}");
                    unreadable += 1;
                }
                Err(failure) => return Err(failure),
            }
        }
        let count: usize = sources.iter().map(|(_, documents)| documents.len()).sum();
        if self.revise.is_some() && count + unreadable != 1 {
            return Err(Failure::Input(format!(
                "--revise takes exactly one record, these files hold {count}"
            )));
        }
        if count == 0 {
            return Err(Failure::Input("no record to add".to_string()));
        }

        let db = open_or_make(config).await?;
        if settings::is_demo(&mut *db.read().await?).await? {
            eprintln!(
                "warning: the database {} holds invented demonstration data; use another --data-dir for real measurements",
                db.path().display()
            );
        }
        let mut addition = Addition {
            db: &db,
            method: &config.method(),
            author: &self.author,
            reason: &self.reason,
            revise: self.revise.as_deref(),
            known_slugs: HashMap::new(),
            refused: unreadable,
            folders: PhotoFolders::default(),
        };
        for (file, documents) in &sources {
            let photos = match &self.photos {
                Some(folder) => Some(folder.clone()),
                None if *file == Path::new("-") => None,
                None => Some(file.with_file_name("photos")).filter(|folder| folder.is_dir()),
            };
            if let Some(folder) = photos {
                addition.folders.open(&folder)?;
            }
            for batch in documents.chunks(AT_ONCE) {
                addition.add(file, batch).await?;
            }
        }
        let refused = addition.refused;
        db.close().await;
        match refused {
            0 => Ok(()),
            _ => Err(Failure::Input(format!(
                "{refused} of {} refused, the others are stored",
                count + unreadable
            ))),
        }
    }
}

/// One call of `add` under way.
struct Addition<'a> {
    db: &'a Db,
    method: &'a Method,
    author: &'a str,
    reason: &'a str,
    revise: Option<&'a str>,
    /// Slug in the database that an exported revision comes from -> slug here.
    known_slugs: HashMap<String, String>,
    refused: usize,
    folders: PhotoFolders,
}

/// Files of folders that may be photos, by the SHA-256 of their bytes.
#[derive(Default)]
struct PhotoFolders {
    opened: HashSet<PathBuf>,
    files: HashMap<String, PathBuf>,
}

impl PhotoFolders {
    fn open(&mut self, folder: &Path) -> Result<(), Failure> {
        if !self.opened.insert(folder.to_path_buf()) {
            return Ok(());
        }
        let told = |cause: io::Error| Failure::Input(format!("{}: {cause}", folder.display()));
        for entry in fs::read_dir(folder).map_err(told)? {
            let path = entry.map_err(told)?.path();
            let size_bytes = fs::metadata(&path).map_err(told)?.len();
            if path.is_file() && size_bytes <= photo::LARGEST_FILE_BYTES {
                let bytes = fs::read(&path).map_err(told)?;
                self.files.insert(photo::sha256(&bytes), path);
            }
        }
        Ok(())
    }

    /// The photo of this SHA-256, if it is in one of the folders, with its file's name.
    fn read(&self, sha256: &str) -> Result<Option<(Kept, String)>, Failure> {
        let Some(path) = self.files.get(sha256) else {
            return Ok(None);
        };
        let told = |cause: String| Failure::Input(format!("{}: {cause}", path.display()));
        let bytes = fs::read(path).map_err(|cause| told(cause.to_string()))?;
        let kept = photo::take_in(&bytes).map_err(|why| told(why.to_string()))?;
        if kept.sha256() != sha256 {
            return Err(told(
                "not a photo as this program keeps it (it is larger or holds metadata); \
                 upload it at the desk or through the API, and name what that answers"
                    .to_owned(),
            ));
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        Ok(Some((kept, name.into_owned())))
    }
}

impl Addition<'_> {
    /// Adds a few documents of a file in one transaction and reports each.
    async fn add(&mut self, file: &Path, documents: &[Document]) -> Result<(), Failure> {
        let judged: Vec<_> = documents
            .iter()
            .map(|document| match &document.content {
                Content::Record(text) => judge(text, self.method, self.db.logs()),
                Content::Revision(revision) => judge(&revision.record, self.method, self.db.logs()),
                Content::Broken(problem) => Err(vec![problem.clone()]),
            })
            .collect();

        let named: BTreeSet<&str> = judged
            .iter()
            .flatten()
            .flat_map(|judged| &judged.record.photos)
            .map(|photo| photo.sha256.as_str())
            .collect();
        let mut at_hand = Vec::new();
        for sha256 in named {
            at_hand.extend(self.folders.read(sha256)?);
        }

        let mut results = Vec::new();
        let mut tx = self.db.write().await?;
        for (kept, name) in at_hand {
            let now = OffsetDateTime::now_utc();
            if photos::enter(&mut tx, &kept, &name, None, now).await? {
                let change = audit::Change::new("photo.kept", format!("photo {}", kept.sha256()));
                audit::write(&mut tx, &Who::command(), change.detail(&name), now).await?;
            }
        }
        for (document, judged) in documents.iter().zip(judged) {
            let result = match judged {
                Err(problems) => Err(SubmitError::Refused(problems)),
                Ok(judged) => self.store(&mut tx, document, judged).await,
            };
            match result {
                Err(SubmitError::Storage(error)) => return Err(error.into()),
                result => results.push(result),
            }
        }
        tx.commit().await?;

        for (document, result) in documents.iter().zip(results) {
            self.report(file, document, result)?;
        }
        Ok(())
    }

    async fn store(
        &mut self,
        connection: &mut storage::Connection,
        document: &Document,
        judged: Judged,
    ) -> Result<Submitted, SubmitError> {
        match &document.content {
            Content::Record(text) => {
                let submission = Submission {
                    text,
                    target: self
                        .revise
                        .map_or(Target::New, |slug| Target::Revise(slug.to_string())),
                    author: self.author,
                    reason: self.reason,
                    now: OffsetDateTime::now_utc(),
                };
                store(
                    connection,
                    &Who::command(),
                    &submission,
                    judged,
                    self.method,
                )
                .await
            }
            Content::Revision(revision) => self.restore(connection, revision, judged).await,
            Content::Broken(problem) => Err(SubmitError::Refused(vec![problem.clone()])),
        }
    }

    /// Stores a revision that was exported with its history, under its own author, reason and time.
    async fn restore(
        &mut self,
        connection: &mut storage::Connection,
        revision: &ExportedRevision,
        judged: Judged,
    ) -> Result<Submitted, SubmitError> {
        let here = self
            .known_slugs
            .get(&revision.slug)
            .unwrap_or(&revision.slug)
            .clone();
        let submitted = match self
            .same_revision(connection, &here, revision, &judged)
            .await?
        {
            Some(already) => already,
            None => {
                let target = match self.known_slugs.get(&revision.slug) {
                    Some(slug) => Target::Revise(slug.clone()),
                    None if revision.number == 1 => Target::New,
                    None => {
                        return Err(SubmitError::Refused(vec![Problem::new(
                            "revision",
                            revision.number.to_string(),
                            format!("revision 1 of {} before it in the same call", revision.slug),
                        )]));
                    }
                };
                let submission = Submission {
                    text: &revision.record,
                    target,
                    author: &revision.author,
                    reason: &revision.reason,
                    now: revision.created_at,
                };
                store(
                    connection,
                    &Who::command(),
                    &submission,
                    judged,
                    self.method,
                )
                .await?
            }
        };
        self.known_slugs
            .insert(revision.slug.clone(), submitted.slug.clone());
        Ok(submitted)
    }

    /// Is this very revision here already?
    async fn same_revision(
        &self,
        connection: &mut storage::Connection,
        slug: &str,
        revision: &ExportedRevision,
        judged: &Judged,
    ) -> Result<Option<Submitted>, storage::Error> {
        let unit = match units::find_by_slug(connection, slug).await {
            Ok(unit) => unit,
            Err(storage::Error::NotFound) => return Ok(None),
            Err(error) => return Err(error),
        };
        let stored = match units::record_text(connection, unit.id, revision.number).await {
            Ok(stored) => stored,
            Err(storage::Error::NotFound) => return Ok(None),
            Err(error) => return Err(error),
        };
        let same = on_one_line(&stored.text) == on_one_line(&revision.record)
            && stored.revision.created_at == revision.created_at;
        if !same {
            return Ok(None);
        }
        Ok(Some(Submitted {
            unit_id: unit.id,
            slug: unit.slug,
            revision: revision.number,
            change: Change::Unchanged,
            evaluation: judged.evaluation.clone(),
            missing_photos: photos::missing(connection, &judged.record.photos).await?,
        }))
    }

    fn report(
        &mut self,
        file: &Path,
        document: &Document,
        result: Result<Submitted, SubmitError>,
    ) -> Result<(), Failure> {
        let source = match &document.place {
            Some(place) => format!("{}: {place}", file.display()),
            None => file.display().to_string(),
        };
        match result {
            Ok(submitted) => {
                let what = match submitted.change {
                    Change::Published => "published",
                    Change::Revised => "revised",
                    Change::Unchanged => "unchanged, already stored:",
                };
                let score = match submitted.evaluation.score.value {
                    Some(score) => format!("score {score:.1}"),
                    None => "no score".to_string(),
                };
                writeln!(
                    std::io::stdout(),
                    "{source}: {what} {} revision {}, {score}",
                    submitted.slug,
                    submitted.revision
                )?;
                for sha256 in &submitted.missing_photos {
                    eprintln!("{source}: warning: the photo {sha256} is not at hand");
                }
            }
            Err(error) => {
                self.refused += 1;
                match error {
                    SubmitError::Refused(problems) => {
                        for problem in problems {
                            eprintln!("{source}: {problem}");
                        }
                    }
                    error => eprintln!("{source}: {error}"),
                }
            }
        }
        Ok(())
    }
}
