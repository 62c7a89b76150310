//! The whole of a data folder as one archive, made while others read and write, and the way back.
//!
//! A backup is a ZIP file with a copy of the database and every raw log, each entry with its
//! SHA-256. It stands under its name only once it was read back and found whole. Restoring checks
//! the archive first and exchanges the files of a folder that nobody uses; what was there is moved
//! aside.

use super::archive::{Archive, ArchiveError, assemble, pretty, unsound};
use super::db::{newest_schema, schema};
use super::hold::{Hold, Turn, UNDER_WAY};
use super::log_files::Verifying;
use super::{Db, Error, LogFiles, instant, soundness};
use crate::quantity::words::hex;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use sqlx::ConnectOptions;
use sqlx::sqlite::SqliteConnectOptions;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use time::OffsetDateTime;

/// The value of `format` in `backup.json`.
pub const FORMAT: &str = "brickbook-backup/1";

const ABOUT: &str = "backup.json";
const EXPLANATION: &str = "README.txt";
const DATABASE: &str = "brickbook.db.zst";

/// The name that the database gets in a data folder.
pub const DATABASE_FILE: &str = "brickbook.db";

/// Marks who is making a backup of a data folder; the file stays and is empty.
const TURN: &str = "backup-turn";

/// Begin of the names of files that a backup under way works with, beside where it will stand.
const UNFINISHED: &str = ".brickbook-backup-";

/// zstd's usual level: the database is text for the most part and shrinks to a fifth.
const LEVEL: i32 = 3;

const EXPLAINED: &str = "\
This archive is a backup of a Brickbook data folder, accounts and all: keep it as you would keep
the folder itself.

  brickbook.db.zst  the database (SQLite), compressed with Zstandard (`zstd -d`)
  logs/*.zst        raw logs of instruments; each is named by the SHA-256 of its bytes
  backup.json       when and by which version it was made
  manifest.json     SHA-256 of every file above

`brickbook restore ARCHIVE` checks all of it and puts it in place. By hand: decompress the database
into an empty folder under the name brickbook.db, and put each log into logs/ab/ there, ab being
the first two digits of its name.
";

/// What a backup says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct About {
    pub format: String,
    /// RFC 3339.
    pub made_at: String,
    /// Version of the program that made it.
    pub program: String,
    /// Version of the database's schema.
    pub schema: i64,
    /// Of the database itself, not compressed.
    pub database_sha256: String,
    pub database_bytes: u64,
    pub units: i64,
    pub logs: usize,
    /// Logs that the database knows and that were not at hand.
    pub missing_logs: Vec<String>,
}

/// Why a backup was not made or not restored.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// Another one of the same data folder is being made.
    #[error("another backup of this data folder is being made")]
    UnderWay,
    #[error("{} is there already; choose another name", .0.display())]
    Exists(PathBuf),
    /// The archive, or the database that it should hold, is not sound; the text says what.
    #[error("{0}")]
    Unsound(String),
    /// Another process uses the data folder.
    #[error(
        "{} is in use: stop the server, and whatever else works with its database, then restore again; nothing was changed",
        .0.display()
    )]
    InUse(PathBuf),
    /// There is data already.
    #[error(
        "{} holds data already; restore into an empty folder, or add --replace to move what is there aside; nothing was changed",
        .0.display()
    )]
    Occupied(PathBuf),
    #[error("{}: {cause}", path.display())]
    Io { path: PathBuf, cause: io::Error },
    #[error(transparent)]
    Storage(#[from] Error),
}

impl From<ArchiveError> for BackupError {
    fn from(error: ArchiveError) -> Self {
        match error {
            ArchiveError::Unsound(what) => BackupError::Unsound(what),
            ArchiveError::Io(cause) => BackupError::Unsound(cause.to_string()),
        }
    }
}

fn at(path: &Path) -> impl Fn(io::Error) -> BackupError + '_ {
    move |cause| BackupError::Io {
        path: path.to_path_buf(),
        cause,
    }
}

/// Makes a backup under a name that must be free. Others may read and write meanwhile; what it
/// holds is the state of one moment.
///
/// # Errors
/// See [`BackupError`]; then nothing stands under the name.
pub async fn write(db: &Db, path: &Path, now: OffsetDateTime) -> Result<About, BackupError> {
    if fs::exists(path).map_err(at(path))? {
        return Err(BackupError::Exists(path.to_path_buf()));
    }
    let data_dir = db.path().parent().unwrap_or(Path::new(""));
    let turn_file = data_dir.join(TURN);
    let Some(_turn) = Turn::take(turn_file.clone()).map_err(at(&turn_file))? else {
        return Err(BackupError::UnderWay);
    };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    sweep(folder);
    let copy = Unfinished::new(folder, "db").map_err(at(folder))?;
    let archive = Unfinished::new(folder, "zip").map_err(at(folder))?;

    let mut reader = db.read().await?;
    soundness::copy_into(&mut reader, &copy.path).await?;
    drop(reader);
    let (schema, units, mut logs) = look_into(&copy.path).await?;
    let present = db.logs().present().map_err(at(db.logs().folder()))?;
    logs.extend(present.logs);

    let about = About {
        format: FORMAT.to_owned(),
        made_at: instant::to_text(now),
        program: env!("CARGO_PKG_VERSION").to_owned(),
        schema,
        database_sha256: String::new(),
        database_bytes: 0,
        units,
        logs: 0,
        missing_logs: Vec::new(),
    };
    let files = db.logs().clone();
    let name = path.to_path_buf();
    let folder = folder.to_path_buf();
    on_a_thread(move || {
        let about = pack(&archive.path, &copy.path, about, logs, &files)?;
        let read_back = verify(&archive.path)?;
        if let Some(fault) = read_back.faults.first() {
            return Err(BackupError::Unsound(format!(
                "what was written does not read back as it should, so no backup was kept: {fault}"
            )));
        }
        fs::rename(&archive.path, &name).map_err(at(&name))?;
        sync(&folder)?;
        Ok(about)
    })
    .await
}

/// Checks the copy of a database, and gives its schema, its number of units and the SHA-256 of the
/// logs that it knows.
async fn look_into(copy: &Path) -> Result<(i64, i64, BTreeSet<String>), BackupError> {
    let mut connection = SqliteConnectOptions::new()
        .filename(copy)
        .read_only(true)
        // Nobody else knows this file.
        .immutable(true)
        .connect()
        .await
        .map_err(Error::from)?;
    let faults = soundness::of_the_file(&mut connection).await?;
    if let Some(fault) = faults.first() {
        return Err(BackupError::Unsound(format!("the database: {fault}")));
    }
    let schema = schema(&mut connection).await?;
    let units = soundness::count(&mut connection, "unit").await?;
    let logs = soundness::known_logs(&mut connection).await?;
    sqlx::Connection::close(connection)
        .await
        .map_err(Error::from)?;
    Ok((schema, units, logs))
}

/// Writes the archive and brings it to the disk.
fn pack(
    path: &Path,
    copy: &Path,
    mut about: About,
    logs: BTreeSet<String>,
    files: &LogFiles,
) -> Result<About, BackupError> {
    let (at_hand, missing): (Vec<String>, Vec<String>) =
        logs.into_iter().partition(|sha256| files.is_kept(sha256));
    about.missing_logs = missing;
    about.logs = at_hand.len();
    let mut hash = Sha256::new();
    about.database_bytes = File::open(copy)
        .and_then(|mut file| io::copy(&mut file, &mut HashOnly(&mut hash)))
        .map_err(at(copy))?;
    about.database_sha256 = hex(hash.finalize());

    let file = File::create(path).map_err(at(path))?;
    private(&file).map_err(at(path))?;
    let mut out = BufWriter::new(file);
    let documents = [
        (EXPLANATION, EXPLAINED.as_bytes().to_vec()),
        (ABOUT, pretty(&about)),
    ];
    let attached = std::iter::once(DATABASE.to_owned())
        .chain(at_hand.iter().map(|sha256| format!("logs/{sha256}.zst")));
    let written = assemble(&mut out, &documents, attached, |name| {
        if name == DATABASE {
            let encoder = zstd::stream::read::Encoder::new(File::open(copy)?, LEVEL)?;
            return Ok(Box::new(encoder) as Box<dyn Read>);
        }
        let log = log_of(name)
            .map(|sha256| files.stored(sha256))
            .transpose()?;
        log.flatten()
            .map(|file| Box::new(file) as Box<dyn Read>)
            .ok_or_else(|| {
                io::Error::other(format!("{name} was deleted while it was copied; try again"))
            })
    });
    match written {
        Err(ArchiveError::Io(cause)) => return Err(at(path)(cause)),
        written => written?,
    }
    let file = out
        .into_inner()
        .map_err(|error| at(path)(error.into_error()))?;
    file.sync_all().map_err(at(path))?;
    Ok(about)
}

fn log_of(name: &str) -> Option<&str> {
    name.strip_prefix("logs/")?.strip_suffix(".zst")
}

/// For nobody else's eyes: it holds password hashes.
fn private(file: &File) -> io::Result<()> {
    #[cfg(unix)]
    file.set_permissions(std::os::unix::fs::PermissionsExt::from_mode(0o600))?;
    #[cfg(not(unix))]
    let _ = file;
    Ok(())
}

/// What came of checking a backup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verified {
    pub about: About,
    /// Everything that is wrong; empty if all is sound.
    pub faults: Vec<String>,
}

/// Reads a whole archive: every entry against the list, every log against its name, the database
/// against its SHA-256.
///
/// # Errors
/// It is no backup at all.
pub fn verify(path: &Path) -> Result<Verified, BackupError> {
    let archive = match Archive::open(path) {
        Err(ArchiveError::Io(cause)) => return Err(at(path)(cause)),
        archive => archive?,
    };
    let about: About = archive.json(ABOUT)?;
    if about.format != FORMAT {
        return Err(BackupError::Unsound(format!(
            "{ABOUT}: format {:?}; expected {FORMAT:?}",
            about.format
        )));
    }
    let mut faults = Vec::new();
    archive.check_manifest(&mut faults)?;
    let mut logs = 0;
    for entry in archive.entries() {
        if let Some(sha256) = log_of(&entry.name) {
            logs += 1;
            let whole = decoded(&archive, &entry.name)
                .and_then(|raw| io::copy(&mut Verifying::new(raw, sha256), &mut io::sink()));
            if let Err(cause) = whole {
                faults.push(format!("{}: {cause}", entry.name));
            }
        }
    }
    if logs != about.logs {
        faults.push(format!("it holds {logs} logs; {ABOUT} says {}", about.logs));
    }
    let database = decoded(&archive, DATABASE).and_then(|raw| {
        io::copy(
            &mut Verifying::new(raw, &about.database_sha256),
            &mut io::sink(),
        )
    });
    if let Err(cause) = database {
        faults.push(format!("{DATABASE}: {cause}"));
    }
    Ok(Verified { about, faults })
}

fn decoded(archive: &Archive, name: &str) -> io::Result<impl Read + use<>> {
    let entry = archive.entry(name).map_err(io::Error::other)?;
    let entry = entry.ok_or_else(|| io::Error::other("missing"))?;
    zstd::Decoder::new(entry)
}

/// What was restored, and where what had been there lies now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    pub about: About,
    pub moved_aside: Option<PathBuf>,
}

/// Puts a backup in place. The archive is checked first, and so is the database in it; nothing is
/// touched before that. What lies in the folder is moved aside with `replace`, else refused.
///
/// # Errors
/// See [`BackupError`]. If the exchange itself is interrupted, the folder says so to whoever opens
/// it, and a second call brings it to its end.
pub async fn restore(
    archive: &Path,
    data_dir: &Path,
    replace: bool,
    now: OffsetDateTime,
) -> Result<Restored, BackupError> {
    let about = {
        let archive = archive.to_path_buf();
        let verified = on_a_thread(move || verify(&archive)).await?;
        if !verified.faults.is_empty() {
            return Err(BackupError::Unsound(format!(
                "it is damaged, so nothing was restored: {}",
                verified.faults.join("; ")
            )));
        }
        verified.about
    };
    if about.schema > newest_schema() {
        return Err(BackupError::Unsound(format!(
            "it was made by a newer version, {} (schema {}); this program knows up to schema {}",
            about.program,
            about.schema,
            newest_schema()
        )));
    }
    super::make_data_dir(data_dir).map_err(at(data_dir))?;
    let Some(_hold) = Hold::alone(data_dir) else {
        return Err(BackupError::InUse(data_dir.to_path_buf()));
    };
    let occupied = OCCUPANTS
        .iter()
        .any(|name| fs::symlink_metadata(data_dir.join(name)).is_ok());
    if occupied && !replace {
        return Err(BackupError::Occupied(data_dir.to_path_buf()));
    }
    for left in beginning_with(data_dir, RESTORING) {
        let _ = fs::remove_dir_all(left);
    }

    let incoming = data_dir.join(format!("{RESTORING}{}", hex(rand::random::<[u8; 8]>())));
    let unpacked = {
        let (archive, incoming) = (archive.to_path_buf(), incoming.clone());
        on_a_thread(move || unpack(&archive, &incoming)).await
    };
    let sound = match unpacked {
        Ok(()) => look_into(&incoming.join(DATABASE_FILE)).await.map(drop),
        Err(cause) => Err(cause),
    };
    let sound = match sound {
        Ok(()) => nobody_else_has(&data_dir.join(DATABASE_FILE), data_dir).await,
        failed => failed,
    };
    if let Err(cause) = sound {
        let _ = fs::remove_dir_all(&incoming);
        return Err(cause);
    }
    let moved_aside = exchange(data_dir, &incoming, now)?;
    Ok(Restored { about, moved_aside })
}

/// What a data folder holds that a backup takes the place of.
const OCCUPANTS: [&str; 5] = [
    DATABASE_FILE,
    "brickbook.db-wal",
    "brickbook.db-shm",
    "logs",
    UNDER_WAY,
];

/// Begin of the name of a folder in which a backup is unpacked.
const RESTORING: &str = "restoring-";

fn unpack(archive: &Path, into: &Path) -> Result<(), BackupError> {
    let archive = Archive::open(archive)?;
    fs::create_dir(into).map_err(at(into))?;
    let put = |path: &Path, bytes: &mut dyn Read| -> io::Result<()> {
        let mut file = File::create(path)?;
        io::copy(bytes, &mut file)?;
        file.sync_all()
    };
    let database = into.join(DATABASE_FILE);
    decoded(&archive, DATABASE)
        .and_then(|mut bytes| put(&database, &mut bytes))
        .map_err(at(&database))?;
    let logs = into.join("logs");
    fs::create_dir(&logs).map_err(at(&logs))?;
    let mut folders = BTreeSet::new();
    for entry in archive.entries() {
        let Some(sha256) = log_of(&entry.name) else {
            continue;
        };
        let is_hash = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_hexdigit());
        if !is_hash {
            return Err(unsound(format!("{}: no SHA-256", entry.name)).into());
        }
        let folder = logs.join(&sha256[..2]);
        fs::create_dir_all(&folder).map_err(at(&folder))?;
        let path = folder.join(format!("{sha256}.zst"));
        let bytes = archive
            .entry(&entry.name)?
            .ok_or_else(|| unsound("an entry vanished"))?;
        put(&path, &mut BufReader::new(bytes)).map_err(at(&path))?;
        folders.insert(folder);
    }
    for folder in folders {
        sync(&folder)?;
    }
    sync(&logs)?;
    sync(into)
}

/// Refuses while any process has the database open, one of an earlier version included. A damaged
/// database, which may be why it is replaced, does not hinder.
async fn nobody_else_has(database: &Path, data_dir: &Path) -> Result<(), BackupError> {
    if !database.exists() {
        return Ok(());
    }
    let connection = SqliteConnectOptions::new()
        .filename(database)
        .busy_timeout(std::time::Duration::ZERO)
        .connect()
        .await;
    let mut connection = match connection.map_err(Error::from) {
        Ok(connection) => connection,
        Err(Error::Busy) => return Err(BackupError::InUse(data_dir.to_path_buf())),
        Err(_) => return Ok(()),
    };
    // Leaving the write-ahead log needs the file for oneself, and folds the log into it.
    let left: Result<String, sqlx::Error> = sqlx::query_scalar("PRAGMA journal_mode = DELETE")
        .fetch_one(&mut connection)
        .await;
    let _ = sqlx::Connection::close(connection).await;
    match left.map_err(Error::from) {
        Err(Error::Busy) => Err(BackupError::InUse(data_dir.to_path_buf())),
        _ => Ok(()),
    }
}

/// Moves what is there aside and what came in into its place. A mark stands in the folder from the
/// first step to the last, so that an interrupted exchange is never taken for an empty folder.
fn exchange(
    data_dir: &Path,
    incoming: &Path,
    now: OffsetDateTime,
) -> Result<Option<PathBuf>, BackupError> {
    let mark = data_dir.join(UNDER_WAY);
    File::create(&mark)
        .and_then(|file| file.sync_all())
        .map_err(at(&mark))?;
    sync(data_dir)?;
    let stamp: String = instant::to_text(now)
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .collect();
    let mut aside = data_dir.join(format!("replaced-{stamp}"));
    let mut number = 1;
    while aside.exists() {
        number += 1;
        aside = data_dir.join(format!("replaced-{stamp}-{number}"));
    }
    let mut moved = false;
    for name in OCCUPANTS.iter().filter(|name| **name != UNDER_WAY) {
        let from = data_dir.join(name);
        if fs::symlink_metadata(&from).is_ok() {
            fs::create_dir_all(&aside).map_err(at(&aside))?;
            let to = aside.join(name);
            fs::rename(&from, &to).map_err(at(&to))?;
            moved = true;
        }
    }
    if moved {
        sync(&aside)?;
    }
    for name in ["logs", DATABASE_FILE] {
        let to = data_dir.join(name);
        fs::rename(incoming.join(name), &to).map_err(at(&to))?;
    }
    sync(data_dir)?;
    fs::remove_file(&mark).map_err(at(&mark))?;
    let _ = fs::remove_dir(incoming);
    sync(data_dir)?;
    Ok(moved.then_some(aside))
}

/// Brings the entries of a folder to the disk.
fn sync(folder: &Path) -> Result<(), BackupError> {
    #[cfg(unix)]
    File::open(folder)
        .and_then(|file| file.sync_all())
        .map_err(at(folder))?;
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
}

/// Removes what killed processes left half written in a folder of backups.
fn sweep(folder: &Path) {
    for path in beginning_with(folder, UNFINISHED) {
        // Whoever writes it holds the lock of the file that stands for both of its files.
        if File::open(&path).is_ok_and(|file| file.try_lock().is_ok()) {
            let _ = fs::remove_file(path);
        }
    }
}

fn beginning_with(folder: &Path, begin: &str) -> Vec<PathBuf> {
    fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            path.file_name()
                .is_some_and(|name| name.to_string_lossy().starts_with(begin))
        })
        .collect()
}

/// A file that is gone with this value, unless it was renamed.
struct Unfinished {
    path: PathBuf,
    _lock: File,
}

impl Unfinished {
    /// An empty file of a name that is free.
    fn new(folder: &Path, kind: &str) -> io::Result<Unfinished> {
        let name: [u8; 8] = rand::random();
        let path = folder.join(format!("{UNFINISHED}{}.{kind}", hex(name)));
        let file = File::create_new(&path)?;
        private(&file)?;
        // Other handles may still write to it; only sweeping asks for the lock.
        file.try_lock().map_err(io::Error::from)?;
        Ok(Unfinished { path, _lock: file })
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}

struct HashOnly<'a>(&'a mut Sha256);

impl Write for HashOnly<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Reads and writes without holding up requests.
async fn on_a_thread<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, BackupError> + Send + 'static,
) -> Result<T, BackupError> {
    tokio::task::spawn_blocking(work)
        .await
        .expect("copying files does not panic")
}
