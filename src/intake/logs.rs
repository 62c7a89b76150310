//! A raw log through the door: its bytes are kept as they are while they are read by the layout
//! that was chosen, saved for its headings, or found.

use crate::bench::record::{Layout, LogQuantity};
use crate::log::Trace;
use crate::log::detect::{self, Detected};
use crate::log::read::{self, Reading, Section};
use crate::storage::LogFiles;
use crate::storage::log_files::Kept;
use crate::storage::logs::SavedLayout;
use serde::{Deserialize, Serialize};
use std::io::{self, Cursor, Read, Write};
use std::sync::mpsc::{SyncSender, sync_channel};

/// Chunks on their way to the disk: enough that reading and keeping seldom wait for each other.
const UNDER_WAY: usize = 16;

/// Cells of a column's overview: more than a screen has pixels to show.
pub const OVERVIEW_CELLS: usize = 1000;

/// What reading a log gave, small whatever its size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Rows with good values.
    pub rows: u64,
    pub bad_rows: u64,
    /// The first of them.
    pub bad_first: Vec<BadLine>,
    /// ISO 8601, where the log tells.
    pub starts_at: Option<String>,
    pub duration_s: f64,
    /// Median time between rows.
    pub interval_s: f64,
    /// Stretches without rows, the first hundred.
    pub gaps_s: Vec<(f64, f64)>,
    pub columns: Vec<ColumnSummary>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BadLine {
    /// Counted from 1.
    pub line: u64,
    pub why: String,
    /// Beginning of the line.
    pub text: String,
}

/// One quantity of a log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ColumnSummary {
    pub quantity: LogQuantity,
    pub port: Option<String>,
    /// Time-weighted.
    pub mean: f64,
    pub min: f64,
    pub max: f64,
    pub overview: Overview,
}

/// Cells of equal length: cell i lasts from `from_s + i * cell_s` for `cell_s`. A cell without
/// rows holds null.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Overview {
    pub from_s: f64,
    pub cell_s: f64,
    pub min: Vec<Option<f64>>,
    pub max: Vec<Option<f64>>,
    pub mean: Vec<Option<f64>>,
}

/// A log that was taken in.
#[derive(Debug)]
pub struct Imported {
    pub kept: Kept,
    /// What its beginning looks like, or why that cannot be told.
    pub detected: Result<Detected, String>,
    /// The layout it was read by.
    pub layout: Option<Layout>,
    /// Name of the saved layout that was used.
    pub used_saved: Option<String>,
    /// What reading gave, or why it could not be read. Its bytes are kept all the same.
    pub summary: Result<Summary, String>,
    /// The traces themselves, where it could be read.
    pub reading: Option<Reading>,
}

/// Keeps the bytes of `source` and reads them on the way. `progress` is told how many bytes have
/// been read.
///
/// The layout is the `chosen` one, else the `saved` one for a log with the same headings, else the
/// one that was found.
///
/// # Errors
/// The source cannot be read or the disk cannot be written; then nothing is kept. A gzip that ends
/// early or is damaged is no such error: it is kept like any other log that cannot be read.
pub fn import(
    files: &LogFiles,
    source: impl Read,
    chosen: Option<&Layout>,
    saved: &[SavedLayout],
    progress: &mut dyn FnMut(u64),
) -> io::Result<Imported> {
    let mut incoming = files.begin()?;
    std::thread::scope(|scope| {
        let (sender, chunks) = sync_channel::<Vec<u8>>(UNDER_WAY);
        // Hashing and compressing take as long as reading: they have the other core.
        let keeper = scope.spawn(move || -> io::Result<Kept> {
            for chunk in chunks {
                if chunk.is_empty() {
                    return incoming.finish();
                }
                incoming.write_all(&chunk)?;
            }
            // The sender went away before the end: dropping what came in so far removes it.
            Err(io::Error::other("the log stopped half-way"))
        });
        let mut tee = Tee {
            source,
            sender,
            is_broken: false,
        };
        let result = read_on_the_way(&mut tee, chosen, saved, progress);
        let ended = result.and_then(|found| {
            // Whatever the reader did not want is kept as well.
            io::copy(&mut tee, &mut io::sink())?;
            tee.end()?;
            Ok(found)
        });
        drop(tee);
        let kept = keeper.join().expect("keeping a log does not panic");
        match (ended, kept) {
            (Ok(found), Ok(kept)) => Ok(Imported {
                kept,
                detected: found.detected,
                layout: found.layout,
                used_saved: found.used_saved,
                summary: found.summary,
                reading: found.reading,
            }),
            // A full disk shows at both ends; the keeper knows the cause.
            (Err(cause), Err(_)) if cause.kind() != io::ErrorKind::BrokenPipe => Err(cause),
            (_, Err(cause)) | (Err(cause), Ok(_)) => Err(cause),
        }
    })
}

struct Found {
    detected: Result<Detected, String>,
    layout: Option<Layout>,
    used_saved: Option<String>,
    summary: Result<Summary, String>,
    reading: Option<Reading>,
}

fn read_on_the_way<R: Read>(
    source: &mut Tee<R>,
    chosen: Option<&Layout>,
    saved: &[SavedLayout],
    progress: &mut dyn FnMut(u64),
) -> io::Result<Found> {
    let mut head = Vec::with_capacity(detect::HEAD);
    source
        .by_ref()
        .take(detect::HEAD as u64)
        .read_to_end(&mut head)?;
    let detected = detect::detect(&head).map_err(|cause| cause.to_string());
    let (layout, used_saved) = match (chosen, &detected) {
        (Some(chosen), _) => (Some(chosen.clone()), None),
        (None, Err(_)) => (None, None),
        (None, Ok(detected)) => match saved_for(detected, saved) {
            Some((name, layout)) => (Some(layout), Some(name)),
            None => (Some(detected.layout.clone()), None),
        },
    };
    let reading = match (&layout, &detected) {
        (None, detected) => Err(detected.as_ref().err().cloned().unwrap_or_default()),
        (Some(layout), _) if layout.columns.is_empty() => {
            Err("no column was recognised: say which column holds which quantity".to_owned())
        }
        (Some(layout), _) => {
            let bytes = Cursor::new(&head).chain(&mut *source);
            match read::read(bytes, layout, Section::default(), progress) {
                Ok(reading) => Ok(reading),
                Err(read::ReadError::Io(cause)) if !source.is_broken && is_damage(&cause) => {
                    Err(format!("the gzip is incomplete or damaged: {cause}"))
                }
                Err(read::ReadError::Io(cause)) => return Err(cause),
                Err(cause) => Err(cause.to_string()),
            }
        }
    };
    let (summary, reading) = match reading {
        Ok(reading) => (Ok(Summary::of(&reading)), Some(reading)),
        Err(why) => (Err(why), None),
    };
    Ok(Found {
        detected,
        layout,
        used_saved,
        summary,
        reading,
    })
}

/// Is it what unpacking says of bytes that are not what was packed?
fn is_damage(cause: &io::Error) -> bool {
    matches!(
        cause.kind(),
        io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput | io::ErrorKind::UnexpectedEof
    )
}

/// Reads a kept log again by a layout.
///
/// # Errors
/// Why it cannot be read, in words.
pub fn scan(
    files: &LogFiles,
    sha256: &str,
    layout: &Layout,
    section: Section,
    progress: &mut dyn FnMut(u64),
) -> Result<Reading, String> {
    let bytes = files
        .read(sha256)
        .map_err(|cause| cause.to_string())?
        .ok_or("this log is not kept here")?;
    read::read(bytes, layout, section, progress).map_err(|cause| cause.to_string())
}

/// The beginning of a kept log, as far as detection wants to see it.
///
/// # Errors
/// Why it cannot be read, in words.
pub fn head(files: &LogFiles, sha256: &str) -> Result<Vec<u8>, String> {
    let bytes = files
        .read(sha256)
        .map_err(|cause| cause.to_string())?
        .ok_or("this log is not kept here")?;
    let mut head = Vec::with_capacity(detect::HEAD);
    bytes
        .take(detect::HEAD as u64)
        .read_to_end(&mut head)
        .map_err(|cause| cause.to_string())?;
    Ok(head)
}

/// Headings of a log's columns as a saved layout keeps them: a JSON array.
pub fn headings(detected: &Detected) -> String {
    let headings: Vec<&str> = detected
        .columns
        .iter()
        .map(|column| column.heading.as_deref().unwrap_or(""))
        .collect();
    serde_json::to_string(&headings).expect("texts are JSON")
}

/// The saved layout for a log with these headings, fitted to where this log's data begins.
fn saved_for(detected: &Detected, saved: &[SavedLayout]) -> Option<(String, Layout)> {
    if detected.columns.iter().all(|c| c.heading.is_none()) {
        // Without headings every log of as many columns would look alike.
        return None;
    }
    let headings = headings(detected);
    let saved = saved.iter().find(|saved| saved.headings == headings)?;
    let mut layout: Layout = serde_json::from_str(&saved.layout).ok()?;
    // The preamble of an instrument is not always equally long, and the encoding is the file's.
    layout.first_line = detected.layout.first_line;
    layout.encoding = detected.layout.encoding;
    Some((saved.name.clone(), layout))
}

impl Summary {
    pub fn of(reading: &Reading) -> Summary {
        let any = reading.columns.first().map(|(_, _, trace)| trace);
        Summary {
            rows: reading.rows,
            bad_rows: reading.bad.count,
            bad_first: reading
                .bad
                .first
                .iter()
                .map(|bad| BadLine {
                    line: bad.line,
                    why: bad.why.clone(),
                    text: bad.text.clone(),
                })
                .collect(),
            starts_at: reading.starts_at.clone(),
            duration_s: reading.duration_s,
            interval_s: any.map_or(0.0, |trace| trace.interval_s),
            gaps_s: any.map_or(Vec::new(), |trace| {
                trace.gaps_s.iter().copied().take(100).collect()
            }),
            columns: reading
                .columns
                .iter()
                .filter_map(|(quantity, port, trace)| {
                    Some(ColumnSummary {
                        quantity: *quantity,
                        port: port.clone(),
                        mean: trace.mean()?,
                        min: trace.min.iter().copied().reduce(f64::min)?,
                        max: trace.max.iter().copied().reduce(f64::max)?,
                        overview: Overview::of(trace, OVERVIEW_CELLS),
                    })
                })
                .collect(),
        }
    }
}

impl Overview {
    /// A trace in at most so many cells, its extremes kept.
    pub fn of(trace: &Trace, cells: usize) -> Overview {
        let from_s = trace.t_s.first().copied().unwrap_or(0.0);
        let to_s = trace.t_s.last().copied().unwrap_or(from_s);
        let cells = cells.clamp(1, trace.len().max(1));
        let cell_s = if to_s > from_s {
            // A hair more, so that the last sample lies inside the last cell.
            (to_s - from_s) / cells as f64 * (1.0 + 1e-9)
        } else {
            1.0
        };
        let mut overview = Overview {
            from_s,
            cell_s,
            min: vec![None; cells],
            max: vec![None; cells],
            mean: vec![None; cells],
        };
        let mut weights = vec![0.0; cells];
        for i in 0..trace.len() {
            let cell = (((trace.t_s[i] - from_s) / cell_s) as usize).min(cells - 1);
            let least = &mut overview.min[cell];
            *least = Some(least.map_or(trace.min[i], |m| m.min(trace.min[i])));
            let most = &mut overview.max[cell];
            *most = Some(most.map_or(trace.max[i], |m| m.max(trace.max[i])));
            let mean = &mut overview.mean[cell];
            let weight = trace.weight_s[i];
            *mean = Some(mean.unwrap_or(0.0) + weight * trace.mean[i]);
            weights[cell] += weight;
        }
        for (mean, weight) in overview.mean.iter_mut().zip(weights) {
            *mean = mean.filter(|_| weight > 0.0).map(|sum| sum / weight);
        }
        overview
    }
}

/// Hands every byte that is read to whoever keeps it.
struct Tee<R> {
    source: R,
    sender: SyncSender<Vec<u8>>,
    /// The source or the keeper failed: not for what the bytes say.
    is_broken: bool,
}

impl<R: Read> Read for Tee<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let outcome = self.hand_on(buffer);
        self.is_broken |=
            matches!(&outcome, Err(cause) if cause.kind() != io::ErrorKind::Interrupted);
        outcome
    }
}

impl<R: Read> Tee<R> {
    fn hand_on(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.source.read(buffer)?;
        if count > 0 {
            self.send(buffer[..count].to_vec())?;
        }
        Ok(count)
    }
}

impl<R> Tee<R> {
    /// Says that the log is whole.
    fn end(&self) -> io::Result<()> {
        self.send(Vec::new())
    }

    fn send(&self, chunk: Vec<u8>) -> io::Result<()> {
        self.sender
            .send(chunk)
            .map_err(|_| io::Error::new(io::ErrorKind::BrokenPipe, "the log cannot be kept"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOG: &str = "Time (s),Power (mW),Current (mA)\n0,50,3\n1,52,3\n2,51,3\n3,55,4\n4,50,3\n";

    fn place() -> (tempfile::TempDir, LogFiles) {
        let folder = tempfile::tempdir().unwrap();
        let files = LogFiles::beside(&folder.path().join("brickbook.db"));
        (folder, files)
    }

    fn files_in(folder: &std::path::Path) -> usize {
        let mut count = 0;
        for entry in std::fs::read_dir(folder).into_iter().flatten() {
            let path = entry.unwrap().path();
            count += if path.is_dir() { files_in(&path) } else { 1 };
        }
        count
    }

    #[test]
    fn a_log_is_kept_and_read_in_one_go() {
        let (_folder, files) = place();
        let imported = import(&files, LOG.as_bytes(), None, &[], &mut |_| {}).unwrap();
        let summary = imported.summary.unwrap();
        assert_eq!((summary.rows, summary.bad_rows), (5, 0));
        let power = &summary.columns[0];
        assert_eq!(power.quantity, LogQuantity::InputPowerW);
        assert!((power.max - 0.055).abs() < 1e-12);
        assert!((power.mean - 0.0516).abs() < 1e-12);
        assert!(files.is_kept(&imported.kept.sha256));
    }

    #[test]
    fn a_log_that_cannot_be_read_is_kept_with_the_reason() {
        let (_folder, files) = place();
        let text = "to be or not to be\n".repeat(50);
        let imported = import(&files, text.as_bytes(), None, &[], &mut |_| {}).unwrap();
        assert!(imported.summary.is_err());
        assert_eq!(imported.kept.size_bytes, text.len() as u64);
    }

    fn packed() -> Vec<u8> {
        let mut text = String::from("Time (s),Power (mW)\n");
        for second in 0..50_000u32 {
            let power = second.wrapping_mul(2_654_435_761) >> 16;
            text.push_str(&format!("{second},{power}\n"));
        }
        let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
        packer.write_all(text.as_bytes()).unwrap();
        packer.finish().unwrap()
    }

    #[test]
    fn a_gzip_that_ends_early_or_is_damaged_is_kept_with_the_reason() {
        let whole = packed();
        let cut = whole[..whole.len() / 2].to_vec();
        let mut flipped = whole.clone();
        let at = flipped.len() - 6;
        flipped[at] ^= 0x55;
        let mut followed = whole.clone();
        followed.extend_from_slice(b"and something else behind it");
        for bytes in [cut, flipped, followed] {
            let (_folder, files) = place();
            let imported = import(&files, &bytes[..], None, &[], &mut |_| {}).unwrap();
            let why = imported.summary.unwrap_err();
            assert!(
                why.starts_with("the gzip is incomplete or damaged: "),
                "{why}"
            );
            assert_eq!(imported.kept.size_bytes, bytes.len() as u64);
            assert!(files.is_kept(&imported.kept.sha256));
        }
    }

    #[test]
    fn a_source_that_breaks_within_a_gzip_leaves_nothing() {
        struct Lost;
        impl Read for Lost {
            fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
                Err(io::ErrorKind::UnexpectedEof.into())
            }
        }
        let whole = packed();
        let (_folder, files) = place();
        let source = whole[..whole.len() / 2].chain(Lost);
        let cause = import(&files, source, None, &[], &mut |_| {}).unwrap_err();
        assert_eq!(cause.kind(), io::ErrorKind::UnexpectedEof);
        assert_eq!(files_in(files.folder()), 0);
    }

    #[test]
    fn a_source_that_breaks_leaves_nothing() {
        struct Broken(usize);
        impl Read for Broken {
            fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
                self.0 += 1;
                if self.0 > 3 {
                    return Err(io::Error::other("unplugged"));
                }
                let text = LOG.as_bytes();
                buffer[..text.len()].copy_from_slice(text);
                Ok(text.len())
            }
        }
        let (_folder, files) = place();
        let cause = import(&files, Broken(0), None, &[], &mut |_| {}).unwrap_err();
        assert_eq!(cause.to_string(), "unplugged");
        assert_eq!(files_in(files.folder()), 0);
    }

    #[test]
    fn a_saved_layout_is_used_for_a_log_with_the_same_headings() {
        let (_folder, files) = place();
        let first = import(&files, LOG.as_bytes(), None, &[], &mut |_| {}).unwrap();
        let detected = first.detected.unwrap();
        let mut layout = detected.layout.clone();
        layout.columns.truncate(1);
        let saved = SavedLayout {
            name: "bench meter".to_owned(),
            layout: serde_json::to_string(&layout).unwrap(),
            headings: headings(&detected),
        };
        let again = format!("meter 7, serial 12\n{LOG}5,51,3\n");
        let second = import(&files, again.as_bytes(), None, &[saved], &mut |_| {}).unwrap();
        assert_eq!(second.used_saved.as_deref(), Some("bench meter"));
        let summary = second.summary.unwrap();
        assert_eq!((summary.columns.len(), summary.rows), (1, 6));
    }

    #[test]
    fn an_overview_keeps_the_extremes() {
        let times: Vec<f64> = (0..10_000).map(f64::from).collect();
        let mut values = vec![1.0; 10_000];
        values[5_432] = 9.0;
        values[77] = -3.0;
        let overview = Overview::of(&Trace::from_samples(&times, &values), 100);
        let most = overview.max.iter().flatten().copied().fold(0.0, f64::max);
        let least = overview.min.iter().flatten().copied().fold(0.0, f64::min);
        assert_eq!((least, most, overview.max.len()), (-3.0, 9.0, 100));
    }
}
