//! Archives that carry their own checksums: ZIP files with every entry stored as it is, and last a
//! list of all entries with their SHA-256. Any program opens them; a changed byte is found.

use crate::quantity::words::hex;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// The list of all other entries.
pub const MANIFEST: &str = "manifest.json";

/// No document of an archive is larger; what is attached is read as a stream and may be.
const LARGEST_DOCUMENT: u64 = 64 << 20;

/// Why an archive cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum ArchiveError {
    #[error("{0}")]
    Io(#[from] io::Error),
    /// It is no archive of ours, or something in it is not what it should be.
    #[error("{0}")]
    Unsound(String),
}

impl From<zip::result::ZipError> for ArchiveError {
    fn from(cause: zip::result::ZipError) -> Self {
        match cause {
            zip::result::ZipError::Io(cause) => ArchiveError::Io(cause),
            cause => ArchiveError::Unsound(format!("no ZIP archive that can be read: {cause}")),
        }
    }
}

/// It is not what it should be.
pub fn unsound(text: impl Into<String>) -> ArchiveError {
    ArchiveError::Unsound(text.into())
}

/// An entry of the list at an archive's end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    pub name: String,
    pub size_bytes: u64,
    /// Of its bytes as they lie in the archive, lower-case hexadecimal.
    pub sha256: String,
}

/// A document as it stands in an archive: indented JSON.
pub fn pretty(document: &impl Serialize) -> Vec<u8> {
    let mut text = serde_json::to_vec_pretty(document).expect("documents of ours are JSON");
    text.push(b'\n');
    text
}

/// Writes an archive: documents, then what is attached in the order given, then the manifest. The
/// same contents give the same bytes.
///
/// # Errors
/// Something attached cannot be read, or `out` refuses.
pub fn assemble<'a>(
    out: &mut impl Write,
    documents: &[(&str, Vec<u8>)],
    attached: impl IntoIterator<Item = String>,
    open: impl Fn(&str) -> io::Result<Box<dyn Read + 'a>>,
) -> Result<(), ArchiveError> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644)
        .large_file(true);
    let mut zip = ZipWriter::new_stream(out);
    let mut manifest = Vec::new();
    for (name, bytes) in documents {
        zip.start_file(*name, options)?;
        zip.write_all(bytes)?;
        manifest.push(Entry {
            name: (*name).to_owned(),
            size_bytes: bytes.len() as u64,
            sha256: hex(Sha256::digest(bytes)),
        });
    }
    for name in attached {
        zip.start_file(&name, options)?;
        let mut hash = Hashing {
            inner: &mut zip,
            hash: Sha256::new(),
        };
        let size_bytes = io::copy(&mut open(&name)?, &mut hash)?;
        let sha256 = hex(hash.hash.finalize());
        manifest.push(Entry {
            name,
            size_bytes,
            sha256,
        });
    }
    zip.start_file(MANIFEST, options)?;
    zip.write_all(&pretty(&manifest))?;
    zip.finish()?;
    Ok(())
}

struct Hashing<'a, W> {
    inner: &'a mut W,
    hash: Sha256,
}

impl<W: Write> Write for Hashing<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.inner.write(bytes)?;
        self.hash.update(&bytes[..count]);
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

/// An archive that is being read.
#[derive(Debug)]
pub struct Archive {
    path: PathBuf,
    entries: Vec<Found>,
    by_name: BTreeMap<String, usize>,
}

/// Where an entry's bytes lie in the file; they are stored as they are.
#[derive(Debug, Clone)]
pub struct Found {
    pub name: String,
    begins_at: u64,
    pub size_bytes: u64,
}

impl Archive {
    /// Reads the directory of an archive; the entries' bytes stay where they are.
    ///
    /// # Errors
    /// It is no ZIP archive, or one that others made: entries compressed or named twice.
    pub fn open(path: &Path) -> Result<Archive, ArchiveError> {
        let mut zip = ZipArchive::new(BufReader::new(File::open(path)?))?;
        let mut entries: Vec<Found> = Vec::new();
        let mut names = BTreeSet::new();
        for i in 0..zip.len() {
            let entry = zip.by_index(i)?;
            let name = entry.name().to_owned();
            if entry.compression() != CompressionMethod::Stored || entry.encrypted() {
                return Err(unsound(format!(
                    "{name} is compressed or encrypted; expected entries stored as they are"
                )));
            }
            if !names.insert(name.clone()) {
                return Err(unsound(format!("{name} is in the archive twice")));
            }
            entries.push(Found {
                name,
                begins_at: entry
                    .data_start()
                    .ok_or_else(|| unsound("an entry whose place in the archive is unknown"))?,
                size_bytes: entry.size(),
            });
        }
        Ok(Archive {
            path: path.to_owned(),
            by_name: entries
                .iter()
                .enumerate()
                .map(|(at, entry)| (entry.name.clone(), at))
                .collect(),
            entries,
        })
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What is in it, in its order.
    pub fn entries(&self) -> &[Found] {
        &self.entries
    }

    /// The bytes of an entry; `None` if there is none of this name.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn entry(&self, name: &str) -> Result<Option<io::Take<File>>, ArchiveError> {
        let Some(found) = self.by_name.get(name).map(|&at| &self.entries[at]) else {
            return Ok(None);
        };
        let mut file = File::open(&self.path)?;
        file.seek(SeekFrom::Start(found.begins_at))?;
        Ok(Some(file.take(found.size_bytes)))
    }

    /// A document of it.
    ///
    /// # Errors
    /// It is missing or too large for a document, or the file cannot be read.
    pub fn bytes(&self, name: &str) -> Result<Vec<u8>, ArchiveError> {
        let entry = self
            .entry(name)?
            .ok_or_else(|| unsound(format!("{name} is missing: no archive of ours")))?;
        if entry.limit() > LARGEST_DOCUMENT {
            return Err(unsound(format!(
                "{name} is {} bytes; expected at most {LARGEST_DOCUMENT}",
                entry.limit()
            )));
        }
        let mut bytes = Vec::new();
        BufReader::new(entry).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    /// As [`Archive::bytes`], as text.
    ///
    /// # Errors
    /// As there, or it is not UTF-8.
    pub fn text(&self, name: &str) -> Result<String, ArchiveError> {
        String::from_utf8(self.bytes(name)?).map_err(|_| unsound(format!("{name} is not UTF-8")))
    }

    /// As [`Archive::bytes`], as the value that it says.
    ///
    /// # Errors
    /// As there, or it says something else.
    pub fn json<T: for<'d> Deserialize<'d>>(&self, name: &str) -> Result<T, ArchiveError> {
        serde_json::from_slice(&self.bytes(name)?)
            .map_err(|cause| unsound(format!("{name}: {cause}")))
    }

    /// Every entry is listed with its SHA-256, and nothing else is: what differs is added to `faults`.
    ///
    /// # Errors
    /// There is no list, or the file cannot be read.
    pub fn check_manifest(&self, faults: &mut Vec<String>) -> Result<(), ArchiveError> {
        let manifest: Vec<Entry> = self.json(MANIFEST)?;
        for listed in &manifest {
            let Some(mut bytes) = self.entry(&listed.name)? else {
                faults.push(format!("{} is listed but missing", listed.name));
                continue;
            };
            let mut hash = Sha256::new();
            let mut sink = io::sink();
            let mut hashing = Hashing {
                inner: &mut sink,
                hash: std::mem::take(&mut hash),
            };
            io::copy(&mut bytes, &mut hashing)?;
            let found = hex(hashing.hash.finalize());
            if found != listed.sha256 {
                faults.push(format!(
                    "{} was changed: its SHA-256 is {found}, listed {}",
                    listed.name, listed.sha256
                ));
            }
        }
        let names: BTreeSet<&str> = manifest.iter().map(|listed| listed.name.as_str()).collect();
        for entry in &self.entries {
            let is_listed = names.contains(entry.name.as_str());
            if !is_listed && entry.name != MANIFEST {
                faults.push(format!("{} is not listed in {MANIFEST}", entry.name));
            }
        }
        Ok(())
    }
}
