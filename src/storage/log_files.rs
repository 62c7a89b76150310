//! Raw logs as files beside the database: compressed with zstd, named by the SHA-256 of the bytes
//! as the instrument wrote them. A log is there whole or not at all: it is written under another
//! name, brought to the disk, and then renamed.

use crate::evaluate::Logs;
use crate::quantity::words::hex;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Folder beside the database file.
const FOLDER: &str = "logs";

/// Begin of the name of a log that is still coming in.
const INCOMING: &str = "incoming-";

/// Findings of logs, by key; may be deleted at any time and are worked out again.
const FINDINGS: &str = "findings";

/// zstd's quickest ordinary level: text of an instrument shrinks to a tenth to a fifth with it,
/// and higher levels cost several times the time for a few per cent.
const LEVEL: i32 = 1;

/// The place of raw logs; clones share it.
#[derive(Debug, Clone)]
pub struct LogFiles {
    folder: Arc<Path>,
}

/// A log that is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Lower-case hexadecimal.
    pub sha256: String,
    pub size_bytes: u64,
    /// Its size on the disk.
    pub stored_bytes: u64,
    /// Was it here before?
    pub was_here: bool,
}

/// What lies in the folder of logs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Present {
    /// SHA-256 of the logs.
    pub logs: BTreeSet<String>,
    /// Files that are no logs.
    pub strangers: BTreeSet<String>,
}

impl LogFiles {
    /// The logs that belong to a database file.
    pub fn beside(database: &Path) -> LogFiles {
        let folder = database.parent().unwrap_or(Path::new("")).join(FOLDER);
        LogFiles {
            folder: folder.into(),
        }
    }

    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Begins to take in a log. Dropped before [`Incoming::finish`], it leaves nothing.
    ///
    /// # Errors
    /// The folder or the file cannot be made.
    pub fn begin(&self) -> io::Result<Incoming> {
        fs::create_dir_all(&self.folder)?;
        loop {
            let name: [u8; 8] = rand::random();
            let path = self.folder.join(format!("{INCOMING}{}", hex(name)));
            let file = match File::create_new(&path) {
                Err(cause) if cause.kind() == io::ErrorKind::AlreadyExists => continue,
                file => file?,
            };
            // Held while it comes in, so that a sweep of another process leaves it alone.
            file.try_lock().map_err(io::Error::from)?;
            let mut encoder = zstd::Encoder::new(file, LEVEL)?;
            // A bit that rots on the disk is noticed by whoever reads the log.
            encoder.include_checksum(true)?;
            return Ok(Incoming {
                files: self.clone(),
                path: Some(path),
                encoder: Some(encoder),
                hash: Sha256::new(),
                size_bytes: 0,
            });
        }
    }

    /// Takes in a log as another database kept it, compressed, byte for byte.
    ///
    /// # Errors
    /// What it unfolds into has another SHA-256, or the disk refuses; then nothing is kept.
    pub fn adopt(&self, mut compressed: impl Read, sha256: &str) -> io::Result<()> {
        let path = self
            .path(sha256)
            .ok_or_else(|| io::Error::other("no SHA-256"))?;
        let folder = path.parent().expect("a log lies in a folder");
        fs::create_dir_all(folder)?;
        let name: [u8; 8] = rand::random();
        let incoming = self.folder.join(format!("{INCOMING}{}", hex(name)));
        let whole = (|| {
            let mut file = File::create_new(&incoming)?;
            file.try_lock().map_err(io::Error::from)?;
            io::copy(&mut compressed, &mut file)?;
            file.sync_all()?;
            let raw = zstd::Decoder::new(File::open(&incoming)?)?;
            io::copy(&mut Verifying::new(raw, sha256), &mut io::sink())?;
            fs::rename(&incoming, &path)?;
            File::open(folder)?.sync_all()?;
            File::open(self.folder())?.sync_all()
        })();
        whole.inspect_err(|_| {
            let _ = fs::remove_file(&incoming);
        })
    }

    /// Where the log of a SHA-256 lies, if it is one.
    fn path(&self, sha256: &str) -> Option<PathBuf> {
        let is_hash = sha256.len() == 64
            && sha256
                .bytes()
                .all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
        is_hash.then(|| self.folder.join(&sha256[..2]).join(format!("{sha256}.zst")))
    }

    /// The file on the disk: one zstd stream of the raw bytes; `None` if the log is not kept.
    ///
    /// # Errors
    /// It is there but cannot be opened.
    pub fn stored(&self, sha256: &str) -> io::Result<Option<File>> {
        let Some(path) = self.path(sha256) else {
            return Ok(None);
        };
        match File::open(path) {
            Ok(file) => Ok(Some(file)),
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(cause) => Err(cause),
        }
    }

    /// The raw bytes; `None` if the log is not kept. Damage shows as an error while reading.
    ///
    /// # Errors
    /// It is there but cannot be opened.
    pub fn read(&self, sha256: &str) -> io::Result<Option<impl Read + Send + use<>>> {
        match self.stored(sha256)? {
            Some(file) => Ok(Some(zstd::Decoder::new(file)?)),
            None => Ok(None),
        }
    }

    pub fn is_kept(&self, sha256: &str) -> bool {
        self.path(sha256).is_some_and(|path| path.is_file())
    }

    /// What lies in the folder: the SHA-256 of every log that is kept, and every file that is none,
    /// by its path below the folder. Findings and what is just coming in are left out.
    ///
    /// # Errors
    /// The folder cannot be listed.
    pub fn present(&self) -> io::Result<Present> {
        let mut present = Present::default();
        let mut folders = vec![self.folder.to_path_buf()];
        while let Some(folder) = folders.pop() {
            let entries = match fs::read_dir(&folder) {
                Err(cause) if cause.kind() == io::ErrorKind::NotFound => continue,
                entries => entries?,
            };
            for entry in entries {
                let path = entry?.path();
                let name = path
                    .file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned();
                if path.is_dir() {
                    if name != FINDINGS {
                        folders.push(path);
                    }
                    continue;
                }
                let sha256 = name.strip_suffix(".zst").unwrap_or("");
                if self.path(sha256).is_some_and(|ours| ours == path) {
                    present.logs.insert(sha256.to_owned());
                } else if !name.starts_with(INCOMING) {
                    let below = path.strip_prefix(&*self.folder).unwrap_or(&path);
                    present.strangers.insert(below.display().to_string());
                }
            }
        }
        Ok(present)
    }

    /// Takes a log away; `false` if it was not there.
    ///
    /// # Errors
    /// It is there but cannot be removed.
    pub fn remove(&self, sha256: &str) -> io::Result<bool> {
        let Some(path) = self.path(sha256) else {
            return Ok(false);
        };
        match fs::remove_file(path) {
            Ok(()) => Ok(true),
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(false),
            Err(cause) => Err(cause),
        }
    }

    /// Removes what killed processes left half written, and says how many files that were.
    ///
    /// # Errors
    /// The folder cannot be listed.
    pub fn sweep(&self) -> io::Result<usize> {
        let entries = match fs::read_dir(&self.folder) {
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(0),
            entries => entries?,
        };
        let mut swept = 0;
        for entry in entries {
            let entry = entry?;
            let is_left = entry.file_name().to_string_lossy().starts_with(INCOMING)
                // Whoever writes it holds its lock; the lock of a killed process is gone.
                && File::open(entry.path()).is_ok_and(|file| file.try_lock().is_ok());
            if is_left && fs::remove_file(entry.path()).is_ok() {
                swept += 1;
            }
        }
        Ok(swept)
    }

    /// Writes a file of this folder so that it is whole or not there.
    fn write_whole(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let folder = path.parent().expect("a file of ours lies in a folder");
        fs::create_dir_all(folder)?;
        let name: [u8; 8] = rand::random();
        let under_way = self.folder.join(format!("{INCOMING}{}", hex(name)));
        fs::write(&under_way, bytes)?;
        fs::rename(&under_way, path).inspect_err(|_| {
            let _ = fs::remove_file(&under_way);
        })
    }

    fn findings_path(&self, key: &str) -> Option<PathBuf> {
        let is_plain = !key.is_empty() && key.bytes().all(|b| b.is_ascii_alphanumeric());
        is_plain.then(|| self.folder.join(FINDINGS).join(format!("{key}.json")))
    }
}

impl Logs for LogFiles {
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        match self.read(sha256) {
            Ok(Some(bytes)) => Ok(Some(Box::new(bytes))),
            Ok(None) => Ok(None),
            Err(cause) => Err(cause.to_string()),
        }
    }

    fn remembered(&self, key: &str) -> Option<String> {
        fs::read_to_string(self.findings_path(key)?).ok()
    }

    fn remember(&self, key: &str, findings: &str) {
        let Some(path) = self.findings_path(key) else {
            return;
        };
        // Only a log that is kept here has findings worth keeping, and then the folder exists.
        if self.folder.is_dir()
            && let Err(cause) = self.write_whole(&path, findings.as_bytes())
        {
            tracing::warn!(%cause, "could not keep the findings of a log; they will be worked out again");
        }
    }
}

/// A log that is coming in. Dropped unfinished, it leaves nothing behind.
pub struct Incoming {
    files: LogFiles,
    /// Gone once renamed.
    path: Option<PathBuf>,
    encoder: Option<zstd::Encoder<'static, File>>,
    hash: Sha256,
    size_bytes: u64,
}

impl Write for Incoming {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let encoder = self
            .encoder
            .as_mut()
            .expect("only finish takes the encoder, and finish takes self");
        encoder.write_all(bytes)?;
        self.hash.update(bytes);
        self.size_bytes += bytes.len() as u64;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Incoming {
    /// Bytes taken in so far.
    pub fn size_bytes(&self) -> u64 {
        self.size_bytes
    }

    /// Brings the log to the disk. When this returns, it is there even after a power cut.
    ///
    /// # Errors
    /// The disk refuses; then nothing is kept.
    pub fn finish(mut self) -> io::Result<Kept> {
        let encoder = self
            .encoder
            .take()
            .expect("only finish takes the encoder, and finish takes self");
        let file = encoder.finish()?;
        file.sync_all()?;
        let stored_bytes = file.metadata()?.len();
        let sha256 = hex(std::mem::take(&mut self.hash).finalize());
        let path = self
            .files
            .path(&sha256)
            .expect("a SHA-256 in hexadecimal names a file");
        let kept = |was_here, stored_bytes| Kept {
            sha256: sha256.clone(),
            size_bytes: self.size_bytes,
            stored_bytes,
            was_here,
        };
        if let Ok(present) = fs::metadata(&path) {
            // The same bytes: the file that is there stays.
            return Ok(kept(true, present.len()));
        }
        let folder = path.parent().expect("a log lies in a folder");
        fs::create_dir_all(folder)?;
        let incoming = self.path.as_ref().expect("only renaming takes the path");
        fs::rename(incoming, &path)?;
        self.path = None;
        // The entry in the folder must be on the disk as well.
        File::open(folder)?.sync_all()?;
        File::open(self.files.folder())?.sync_all()?;
        Ok(kept(false, stored_bytes))
    }
}

impl Drop for Incoming {
    fn drop(&mut self) {
        if let Some(path) = &self.path {
            let _ = fs::remove_file(path);
        }
    }
}

/// Checks that bytes have a SHA-256 while they are read: at the end, others are an error.
pub struct Verifying<R> {
    bytes: R,
    hash: Sha256,
    expected: String,
}

impl<R: Read> Verifying<R> {
    pub fn new(bytes: R, sha256: &str) -> Verifying<R> {
        Verifying {
            bytes,
            hash: Sha256::new(),
            expected: sha256.to_owned(),
        }
    }
}

impl<R: Read> Read for Verifying<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.bytes.read(buffer)?;
        self.hash.update(&buffer[..count]);
        if count == 0 && !buffer.is_empty() {
            let found = hex(self.hash.clone().finalize());
            if found != self.expected {
                return Err(io::Error::new(
                    io::ErrorKind::InvalidData,
                    format!(
                        "these bytes have SHA-256 {found}, expected {}",
                        self.expected
                    ),
                ));
            }
        }
        Ok(count)
    }
}

/// Logs in a plain folder, found by the SHA-256 of what each file holds.
pub struct LogFolder {
    by_sha256: std::collections::BTreeMap<String, PathBuf>,
}

impl LogFolder {
    /// Reads every file of a folder once to know its SHA-256.
    ///
    /// # Errors
    /// The folder or a file in it cannot be read.
    pub fn open(folder: &Path) -> io::Result<LogFolder> {
        let mut by_sha256 = std::collections::BTreeMap::new();
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            if path.is_file() {
                let mut hash = Sha256::new();
                io::copy(&mut File::open(&path)?, &mut HashWriter(&mut hash))?;
                by_sha256.insert(hex(hash.finalize()), path);
            }
        }
        Ok(LogFolder { by_sha256 })
    }
}

struct HashWriter<'a>(&'a mut Sha256);

impl Write for HashWriter<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Logs for LogFolder {
    fn open(&self, sha256: &str) -> Result<Option<Box<dyn Read + Send + '_>>, String> {
        match self.by_sha256.get(sha256) {
            None => Ok(None),
            Some(path) => match File::open(path) {
                Ok(file) => Ok(Some(Box::new(BufReader::new(file)))),
                Err(cause) => Err(format!("{}: {cause}", path.display())),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place() -> (tempfile::TempDir, LogFiles) {
        let folder = tempfile::tempdir().unwrap();
        let files = LogFiles::beside(&folder.path().join("brickbook.db"));
        (folder, files)
    }

    fn keep(files: &LogFiles, bytes: &[u8]) -> Kept {
        let mut incoming = files.begin().unwrap();
        incoming.write_all(bytes).unwrap();
        incoming.finish().unwrap()
    }

    fn names(files: &LogFiles) -> Vec<String> {
        fs::read_dir(files.folder())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect()
    }

    #[test]
    fn a_log_comes_back_byte_for_byte_under_the_hash_of_its_bytes() {
        let (_folder, files) = place();
        let bytes = b"t,p\r\n0,0.05\r\n1,0.06\r\n".repeat(1000);
        let kept = keep(&files, &bytes);
        assert_eq!(kept.size_bytes, bytes.len() as u64);
        assert!(kept.stored_bytes < kept.size_bytes);
        assert_eq!(kept.sha256, hex(Sha256::digest(&bytes)));
        let mut back = Vec::new();
        let mut read = files.read(&kept.sha256).unwrap().expect("it is kept");
        read.read_to_end(&mut back).unwrap();
        assert_eq!(back, bytes);
        assert!(keep(&files, &bytes).was_here);
        assert_eq!(names(&files), [&kept.sha256[..2]]);
    }

    #[test]
    fn a_log_that_stops_half_way_leaves_nothing() {
        let (_folder, files) = place();
        let mut incoming = files.begin().unwrap();
        incoming.write_all(b"t,p\n0,").unwrap();
        assert_eq!(names(&files).len(), 1);
        drop(incoming);
        assert!(names(&files).is_empty());
    }

    #[test]
    fn a_sweep_takes_what_a_killed_process_left_and_spares_what_is_coming_in() {
        let (_folder, files) = place();
        let mut incoming = files.begin().unwrap();
        incoming.write_all(b"t,p\n").unwrap();
        fs::write(files.folder().join("incoming-0123"), b"half").unwrap();
        assert_eq!(files.sweep().unwrap(), 1);
        let kept = incoming.finish().unwrap();
        assert!(files.is_kept(&kept.sha256));
    }

    #[test]
    fn damage_on_the_disk_is_an_error_not_other_bytes() {
        let (_folder, files) = place();
        let kept = keep(&files, &b"0,0.05\n".repeat(5000));
        let path = files.path(&kept.sha256).unwrap();
        let mut stored = fs::read(&path).unwrap();
        let middle = stored.len() / 2;
        stored[middle] ^= 0x10;
        fs::write(&path, stored).unwrap();
        let mut back = Vec::new();
        let read = files.read(&kept.sha256).unwrap().unwrap();
        assert!(
            Verifying::new(read, &kept.sha256)
                .read_to_end(&mut back)
                .is_err()
        );
    }

    #[test]
    fn a_name_that_is_no_hash_never_reaches_the_disk() {
        let (_folder, files) = place();
        keep(&files, b"x");
        assert!(files.read("../../etc/passwd").unwrap().is_none());
        assert!(!files.is_kept(""));
        assert!(files.remembered("../x").is_none());
    }
}
