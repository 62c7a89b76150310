//! Who uses a data folder: any number of programs at once, or one alone that exchanges what is in
//! it. The system keeps these locks and gives them up with the process, however it ends, so that a
//! killed server leaves none behind.

use super::Error;
use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

/// Stands in a data folder while its contents are being exchanged.
pub const UNDER_WAY: &str = "restore-under-way";

/// A use of a data folder, given up when it is dropped.
#[derive(Debug)]
pub struct Hold {
    /// The folder itself carries the lock, so that no file of its own is needed. Where folders
    /// cannot be opened as files there is none.
    _folder: Option<File>,
}

impl Hold {
    /// Uses the folder beside others that do the same.
    ///
    /// # Errors
    /// [`Error::Unusable`] while somebody has it alone, and after an exchange of its contents was
    /// interrupted.
    pub fn shared(database: &Path) -> Result<Hold, Error> {
        let unusable = |why: &str| Error::Unusable {
            path: database.to_path_buf(),
            why: why.to_owned(),
        };
        let folder = folder_of(database);
        let file = open(folder);
        if let Some(file) = &file
            && let Err(TryLockError::WouldBlock) = file.try_lock_shared()
        {
            return Err(unusable(
                "a backup is just being restored into its folder; wait until that has ended",
            ));
        }
        if fs::exists(folder.join(UNDER_WAY)).unwrap_or(false) {
            return Err(unusable(
                "restoring a backup into its folder was interrupted half-way; \
                 run `brickbook restore --replace` again: what was there before lies in a folder replaced-… beside it",
            ));
        }
        Ok(Hold { _folder: file })
    }

    /// Has the folder alone; `None` while anybody else uses it.
    pub fn alone(folder: &Path) -> Option<Hold> {
        let file = open(folder);
        if let Some(file) = &file
            && let Err(TryLockError::WouldBlock) = file.try_lock()
        {
            return None;
        }
        Some(Hold { _folder: file })
    }
}

/// The folder in which a file lies.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

fn open(folder: &Path) -> Option<File> {
    File::open(folder).ok()
}

/// A file that only one process works on at a time: its path, and the lock on it.
#[derive(Debug)]
pub struct Turn {
    _file: File,
}

impl Turn {
    /// Takes the turn that a file stands for; the file is made if needed and stays. `None` while
    /// another has it.
    ///
    /// # Errors
    /// The file cannot be made.
    pub fn take(path: PathBuf) -> std::io::Result<Option<Turn>> {
        let file = File::options()
            .create(true)
            .truncate(false)
            .write(true)
            .open(path)?;
        match file.try_lock() {
            Ok(()) => Ok(Some(Turn { _file: file })),
            Err(TryLockError::WouldBlock) => Ok(None),
            Err(TryLockError::Error(cause)) => Err(cause),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_share_a_folder_and_one_has_it_alone() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("a.db");
        let first = Hold::shared(&database).unwrap();
        let second = Hold::shared(&database).unwrap();
        assert!(Hold::alone(folder.path()).is_none());
        drop((first, second));
        let alone = Hold::alone(folder.path()).unwrap();
        let refused = Hold::shared(&database).unwrap_err().to_string();
        assert!(refused.contains("being restored"), "{refused}");
        drop(alone);
        Hold::shared(&database).unwrap();
    }

    #[test]
    fn a_folder_in_the_midst_of_an_exchange_is_not_used() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(UNDER_WAY), "").unwrap();
        let refused = Hold::shared(&folder.path().join("a.db")).unwrap_err();
        assert!(refused.to_string().contains("interrupted half-way"));
    }

    #[test]
    fn a_turn_is_taken_by_one_at_a_time() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("turn");
        let first = Turn::take(path.clone())
            .unwrap()
            .expect("nobody else has it");
        assert!(Turn::take(path.clone()).unwrap().is_none());
        drop(first);
        assert!(Turn::take(path).unwrap().is_some());
    }
}
