//! Opening the database: pragmas, migrations, one writer and a pool of readers.

use super::hold::Hold;
use super::{Error, LogFiles};
use sqlx::migrate::{MigrateError, Migrator};
use sqlx::pool::PoolConnection;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePool, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{ConnectOptions, Sqlite, SqliteConnection};
use std::ops::{Deref, DerefMut};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tracing::log::LevelFilter;

/// A handle to the store; clones share the same connections.
#[derive(Clone, Debug)]
pub struct Db {
    path: PathBuf,
    logs: LogFiles,
    writer: SqlitePool,
    readers: SqlitePool,
    /// Nobody exchanges the files while this handle lives.
    _hold: Arc<Hold>,
}

static MIGRATIONS: Migrator = sqlx::migrate!();

/// How long a statement waits for another process that holds the write lock.
const BUSY_TIMEOUT: Duration = Duration::from_secs(10);

/// How long a caller waits for a connection of the pool.
const ACQUIRE_TIMEOUT: Duration = Duration::from_secs(30);

const READERS: u32 = 4;

impl Db {
    /// Opens the database file, making it and bringing it to this program's schema if needed.
    ///
    /// Settings: WAL with `synchronous = FULL` (an acknowledged write survives a killed process and
    /// a power cut), foreign keys enforced, one writing connection, a read-only pool with small
    /// caches. Opening may wait for another process that is opening the same file.
    ///
    /// # Errors
    /// [`Error::Unusable`] if the file was written by a newer version, belongs to another program,
    /// or cannot be made.
    pub async fn open(path: &Path) -> Result<Db, Error> {
        let unusable = |why: String| Error::Unusable {
            path: path.to_path_buf(),
            why,
        };

        let hold = Hold::shared(path)?;
        let options = options(path);

        let writer = SqlitePoolOptions::new()
            .max_connections(1)
            .min_connections(1)
            .max_lifetime(None)
            .idle_timeout(None)
            .acquire_timeout(ACQUIRE_TIMEOUT)
            .test_before_acquire(false)
            .connect_lazy_with(
                options
                    .clone()
                    .create_if_missing(true)
                    .pragma("cache_size", "-4096")
                    .pragma("journal_size_limit", "16777216"),
            );
        prepare(&writer).await.map_err(|problem| match problem {
            Preparation::Foreign => unusable(
                "it is a database of another program; choose another data directory".to_string(),
            ),
            Preparation::Newer(version) => unusable(newer(version)),
            Preparation::Changed(version) => unusable(format!(
                "its schema {version} is not the one this program was built with; \
                 it was probably made by a development version: export from it with that version, then add the export to a new database"
            )),
            Preparation::Sqlite(sqlx::Error::Database(cause))
                if cause.message().contains("not a database") =>
            {
                unusable("the file is not a SQLite database".to_string())
            }
            Preparation::Sqlite(sqlx::Error::Database(cause))
                if cause.message().contains("unable to open") =>
            {
                unusable(CANNOT_OPEN.to_string())
            }
            Preparation::Sqlite(cause) => match Error::from(cause) {
                Error::Failed(cause) => unusable(cause.to_string()),
                other => other,
            },
        })?;

        Ok(Db {
            path: path.to_path_buf(),
            logs: LogFiles::beside(path),
            writer,
            readers: readers(options),
            _hold: Arc::new(hold),
        })
    }

    /// Opens an existing file of this program's schema without writing anything, not even its
    /// migrations. What writes fails.
    ///
    /// # Errors
    /// The file cannot be read.
    pub async fn open_read_only(path: &Path) -> Result<Db, Error> {
        let hold = Hold::shared(path)?;
        let options = options(path).read_only(true);
        let pool = || {
            SqlitePoolOptions::new()
                .max_connections(1)
                .min_connections(0)
                .acquire_timeout(ACQUIRE_TIMEOUT)
                .connect_lazy_with(options.clone())
        };
        let db = Db {
            path: path.to_path_buf(),
            logs: LogFiles::beside(path),
            writer: pool(),
            readers: pool(),
            _hold: Arc::new(hold),
        };
        db.schema().await?;
        Ok(db)
    }

    /// As [`Db::open_read_only`], of whatever schema up to the present one, and with what hinders
    /// in words.
    ///
    /// # Errors
    /// [`Error::Unusable`] if it is no database of this program or was written by a newer version.
    pub async fn open_to_read(path: &Path) -> Result<Db, Error> {
        let unusable = |why: &str| Error::Unusable {
            path: path.to_path_buf(),
            why: why.to_owned(),
        };
        let db = match Db::open_read_only(path).await {
            Err(Error::Failed(cause)) => {
                let cause = cause.to_string();
                return Err(unusable(match cause.as_str() {
                    cause if cause.contains("unable to open") => CANNOT_OPEN,
                    cause if cause.contains("no such table") => {
                        "it is a database of another program"
                    }
                    cause => cause,
                }));
            }
            db => db?,
        };
        match db.schema().await? {
            schema if schema > newest_schema() => Err(unusable(&newer(schema))),
            _ => Ok(db),
        }
    }

    /// A transaction on the single writer, begun at once as a writing one (`BEGIN IMMEDIATE`): a
    /// deferred transaction that reads and then writes fails without waiting. Dropping it without
    /// `commit` undoes it.
    pub async fn write(&self) -> Result<Transaction, Error> {
        Ok(Transaction(
            self.writer.begin_with("BEGIN IMMEDIATE").await?,
        ))
    }

    /// A read-only connection. It never waits for the writer. Each statement sees the newest
    /// committed state; for several statements that must agree use [`Db::snapshot`].
    pub async fn read(&self) -> Result<PoolConnection<Sqlite>, Error> {
        Ok(self.readers.acquire().await?)
    }

    /// A read-only transaction: all its statements see one state.
    pub async fn snapshot(&self) -> Result<Transaction, Error> {
        Ok(Transaction(self.readers.begin().await?))
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The folder of the database file.
    pub fn folder(&self) -> &Path {
        match self.path.parent() {
            Some(folder) if folder != Path::new("") => folder,
            _ => Path::new("."),
        }
    }

    /// The newest schema that the file has had put into it, by whichever program.
    pub async fn schema(&self) -> Result<i64, Error> {
        schema(&mut *self.read().await?).await
    }

    /// Open connections of each pool, by its name.
    pub fn connections(&self) -> [(&'static str, Connections); 2] {
        [("writer", &self.writer), ("readers", &self.readers)].map(|(name, pool)| {
            let idle = u32::try_from(pool.num_idle()).unwrap_or(u32::MAX);
            let used = pool.size().saturating_sub(idle);
            (name, Connections { idle, used })
        })
    }

    /// Size in bytes of the database file and of its write-ahead log, by name; 0 if it is not there.
    pub fn file_sizes(&self) -> [(&'static str, u64); 2] {
        let mut log = self.path.clone().into_os_string();
        log.push("-wal");
        let size = |path: &Path| std::fs::metadata(path).map_or(0, |file| file.len());
        [
            ("database", size(&self.path)),
            ("wal", size(Path::new(&log))),
        ]
    }

    /// The raw logs that lie beside the database.
    pub fn logs(&self) -> &LogFiles {
        &self.logs
    }

    /// Closes readers, then the writer, which thereby folds the write-ahead log into the file.
    pub async fn close(&self) {
        self.readers.close().await;
        self.writer.close().await;
    }
}

/// Open connections of a pool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Connections {
    pub idle: u32,
    /// At work.
    pub used: u32,
}

/// A transaction; gives its connection to storage functions as `&mut transaction`. Dropped without
/// [`Transaction::commit`] it is undone.
#[derive(Debug)]
pub struct Transaction(sqlx::Transaction<'static, Sqlite>);

impl Transaction {
    /// Makes everything that was written in it last: once this returns, it is on the disk.
    pub async fn commit(self) -> Result<(), Error> {
        Ok(self.0.commit().await?)
    }
}

impl Deref for Transaction {
    type Target = SqliteConnection;

    fn deref(&self) -> &SqliteConnection {
        &self.0
    }
}

impl DerefMut for Transaction {
    fn deref_mut(&mut self) -> &mut SqliteConnection {
        &mut self.0
    }
}

const CANNOT_OPEN: &str = "it cannot be opened or made; see to the owner and the permissions of its folder, \
     and to whether its disk is mounted read-only";

/// How every connection is opened.
///
/// A replicating tool may work beside us: nothing here locks the file for good, and all but the
/// usual checkpoints (SQLite's own, which wait for nobody) is left to whoever else opens it.
fn options(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .foreign_keys(true)
        .synchronous(SqliteSynchronous::Full)
        .busy_timeout(BUSY_TIMEOUT)
        .log_statements(LevelFilter::Off)
}

fn readers(options: SqliteConnectOptions) -> SqlitePool {
    SqlitePoolOptions::new()
        .max_connections(READERS)
        .min_connections(0)
        .acquire_timeout(ACQUIRE_TIMEOUT)
        .test_before_acquire(false)
        .connect_lazy_with(options.read_only(true).pragma("cache_size", "-512"))
}

/// The newest schema that a file has had put into it.
pub(super) async fn schema(connection: &mut SqliteConnection) -> Result<i64, Error> {
    // Unchecked at compile time because the bookkeeping is not part of our migrations.
    let newest: Option<i64> = sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations")
        .fetch_one(connection)
        .await?;
    Ok(newest.unwrap_or(0))
}

fn newer(schema: i64) -> String {
    format!(
        "it was written by a newer version of brickbook (schema {schema}, this program knows up to {}); \
         start the newer version, or restore a backup from before the upgrade",
        newest_schema()
    )
}

/// The newest schema that this program knows.
pub fn newest_schema() -> i64 {
    MIGRATIONS
        .iter()
        .map(|migration| migration.version)
        .max()
        .unwrap_or(0)
}

/// Why a file could not be made ready.
enum Preparation {
    Foreign,
    Newer(i64),
    Changed(i64),
    Sqlite(sqlx::Error),
}

impl From<sqlx::Error> for Preparation {
    fn from(cause: sqlx::Error) -> Self {
        Preparation::Sqlite(cause)
    }
}

impl From<MigrateError> for Preparation {
    fn from(error: MigrateError) -> Self {
        match error {
            MigrateError::VersionMissing(version) if version > newest_schema() => {
                Preparation::Newer(version)
            }
            MigrateError::VersionMissing(version) | MigrateError::VersionMismatch(version) => {
                Preparation::Changed(version)
            }
            MigrateError::Execute(cause) | MigrateError::ExecuteMigration(cause, _) => {
                Preparation::Sqlite(cause)
            }
            other => Preparation::Sqlite(sqlx::Error::Migrate(Box::new(other))),
        }
    }
}

/// Migrates inside one immediate transaction, so that two processes that open an empty file at
/// once do it one after the other and a killed one leaves nothing half done.
async fn prepare(writer: &SqlitePool) -> Result<(), Preparation> {
    let mut tx = writer.begin_with("BEGIN IMMEDIATE").await?;
    if is_foreign(&mut tx).await? {
        return Err(Preparation::Foreign);
    }
    MIGRATIONS.run(&mut *tx).await?;
    tx.commit().await?;
    enter_wal(writer).await?;
    Ok(())
}

/// Holds tables, but none of ours?
async fn is_foreign(connection: &mut SqliteConnection) -> Result<bool, sqlx::Error> {
    // Unchecked at compile time because the migration bookkeeping is not part of our migrations.
    let (tables, ours): (i64, i64) = sqlx::query_as(
        "SELECT count(*), count(*) FILTER (WHERE name = '_sqlx_migrations')
         FROM sqlite_schema
         WHERE type = 'table'",
    )
    .fetch_one(connection)
    .await?;
    Ok(tables > 0 && ours == 0)
}

/// The change to WAL needs the file for itself and does not wait as other statements do; once made
/// it stays in the file.
async fn enter_wal(writer: &SqlitePool) -> Result<(), sqlx::Error> {
    const ATTEMPTS: u32 = 100;
    let mut connection = writer.acquire().await?;
    for attempt in 1.. {
        let mode: Result<String, sqlx::Error> = sqlx::query_scalar("PRAGMA journal_mode = WAL")
            .fetch_one(&mut *connection)
            .await;
        match mode {
            Ok(mode) if mode.eq_ignore_ascii_case("wal") => break,
            Err(cause) if attempt >= ATTEMPTS || !is_busy(&cause) => return Err(cause),
            Ok(mode) if attempt >= ATTEMPTS => {
                return Err(sqlx::Error::Protocol(format!(
                    "the file system does not support a write-ahead log (journal mode stays {mode})"
                )));
            }
            _ => tokio::time::sleep(Duration::from_millis(50)).await,
        }
    }
    Ok(())
}

fn is_busy(cause: &sqlx::Error) -> bool {
    matches!(cause, sqlx::Error::Database(cause)
        if cause.code().and_then(|code| code.parse::<i32>().ok()).is_some_and(|code| code & 0xff == 5))
}
