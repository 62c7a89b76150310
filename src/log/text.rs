//! From raw bytes to lines, as a stream: gzip is unpacked, UTF-16 becomes UTF-8, and lines end with
//! LF, CRLF or CR, in any mixture.
//!
//! Numbers, delimiters and line ends are ASCII in UTF-8 and Latin-1 alike, so text in these two
//! stays as it is; [`decoded`] makes words of it where a person shall read them.

use crate::bench::record::{Delimiter, Encoding};
use flate2::read::MultiGzDecoder;
use std::borrow::Cow;
use std::io::{self, Cursor, Read};

/// A longer line is no row: it is skipped without being held in memory.
pub const LONGEST_LINE: usize = 64 * 1024;

/// As much of a line as messages show, in characters.
const SHOWN: usize = 120;

const BUFFER: usize = 256 * 1024;

/// Beginning of every gzip file (RFC 1952, section 2.3.1).
pub const GZIP: [u8; 2] = [0x1f, 0x8b];

const UTF_8_MARK: [u8; 3] = [0xef, 0xbb, 0xbf];

pub enum Line<'a> {
    /// Without its line end. The last line of a file may lack one.
    Whole { text: &'a [u8], ended: bool },
    /// Longer than [`LONGEST_LINE`]; here is its beginning.
    TooLong(&'a [u8]),
}

/// Lines of a log. What it yields does not depend on how the bytes arrive.
pub struct Lines<'a> {
    source: Box<dyn Read + 'a>,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    at_end: bool,
    /// The last line ended with CR: an LF that follows belongs to it.
    after_cr: bool,
    /// Beginning of a line that is too long.
    head_of_long: Vec<u8>,
    /// Number of the line that was given last, counted from 1.
    number: u64,
}

impl<'a> Lines<'a> {
    /// `progress` is told the raw bytes taken so far.
    pub fn new(
        bytes: impl Read + 'a,
        encoding: Encoding,
        progress: &'a mut dyn FnMut(u64),
    ) -> io::Result<Lines<'a>> {
        let mut raw = Counted {
            inner: bytes,
            taken: 0,
            progress,
        };
        let (head, raw_head_len) = beginning(&mut raw)?;
        let whole = Cursor::new(head).take(raw_head_len).chain(raw);
        let plain: Box<dyn Read + 'a> = if head[..raw_head_len as usize].starts_with(&GZIP) {
            Box::new(MultiGzDecoder::new(whole))
        } else {
            Box::new(whole)
        };
        let source = match encoding {
            Encoding::Utf8 | Encoding::Latin1 => plain,
            Encoding::Utf16Le => Box::new(Transcoded::new(plain, encoding_rs::UTF_16LE)),
            Encoding::Utf16Be => Box::new(Transcoded::new(plain, encoding_rs::UTF_16BE)),
        };
        let mut lines = Lines {
            source,
            buffer: vec![0; BUFFER],
            start: 0,
            end: 0,
            at_end: false,
            after_cr: false,
            head_of_long: Vec::new(),
            number: 0,
        };
        while lines.end < UTF_8_MARK.len() && !lines.at_end {
            lines.fill()?;
        }
        if encoding == Encoding::Utf8 && lines.buffer[..lines.end].starts_with(&UTF_8_MARK) {
            lines.start = UTF_8_MARK.len();
        }
        Ok(lines)
    }

    pub fn number(&self) -> u64 {
        self.number
    }

    #[inline]
    pub fn next(&mut self) -> io::Result<Option<Line<'_>>> {
        if self.after_cr {
            if self.start == self.end && !self.at_end {
                self.fill_some()?;
            }
            if self.start < self.end && self.buffer[self.start] == b'\n' {
                self.start += 1;
            }
            self.after_cr = false;
        }
        let mut searched = 0;
        loop {
            let rest = &self.buffer[self.start + searched..self.end];
            if let Some(found) = memchr::memchr2(b'\n', b'\r', rest) {
                let begin = self.start;
                let end = begin + searched + found;
                self.after_cr = self.buffer[end] == b'\r';
                self.start = end + 1;
                self.number += 1;
                let text = &self.buffer[begin..end];
                return Ok(Some(if text.len() > LONGEST_LINE {
                    Line::TooLong(text)
                } else {
                    Line::Whole { text, ended: true }
                }));
            }
            searched = self.end - self.start;
            if searched > LONGEST_LINE {
                return self.skip_long().map(Some);
            }
            if self.at_end {
                if searched == 0 {
                    return Ok(None);
                }
                let text = &self.buffer[self.start..self.end];
                self.start = self.end;
                self.number += 1;
                return Ok(Some(Line::Whole { text, ended: false }));
            }
            self.fill()?;
        }
    }

    /// Leaves a line behind that is too long to hold.
    fn skip_long(&mut self) -> io::Result<Line<'_>> {
        self.head_of_long.clear();
        self.head_of_long
            .extend_from_slice(&self.buffer[self.start..self.start + 4 * SHOWN]);
        self.number += 1;
        loop {
            let rest = &self.buffer[self.start..self.end];
            if let Some(found) = memchr::memchr2(b'\n', b'\r', rest) {
                self.after_cr = rest[found] == b'\r';
                self.start += found + 1;
                break;
            }
            self.start = self.end;
            if self.at_end {
                break;
            }
            self.fill()?;
        }
        Ok(Line::TooLong(&self.head_of_long))
    }

    fn fill_some(&mut self) -> io::Result<()> {
        let before = self.end - self.start;
        while self.end - self.start == before && !self.at_end {
            self.fill()?;
        }
        Ok(())
    }

    /// Reads once more. There is room, as no line longer than a quarter of the buffer is kept.
    fn fill(&mut self) -> io::Result<()> {
        if self.start > 0 {
            self.buffer.copy_within(self.start..self.end, 0);
            self.end -= self.start;
            self.start = 0;
        }
        let read = loop {
            match self.source.read(&mut self.buffer[self.end..]) {
                Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
                other => break other?,
            }
        };
        self.end += read;
        self.at_end = read == 0;
        Ok(())
    }
}

/// The first two bytes of a stream, and how many of them there are.
fn beginning(bytes: &mut impl Read) -> io::Result<([u8; 2], u64)> {
    let mut head = [0; 2];
    let mut filled = 0;
    while filled < head.len() {
        match bytes.read(&mut head[filled..]) {
            Ok(0) => break,
            Ok(read) => filled += read,
            Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
            Err(cause) => return Err(cause),
        }
    }
    Ok((head, filled as u64))
}

/// Tells how much has been taken of the raw stream.
struct Counted<'a, R> {
    inner: R,
    taken: u64,
    progress: &'a mut dyn FnMut(u64),
}

impl<R: Read> Read for Counted<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        self.taken += read as u64;
        (self.progress)(self.taken);
        Ok(read)
    }
}

/// UTF-16 as UTF-8; what is not valid becomes U+FFFD.
struct Transcoded<R> {
    inner: R,
    decoder: encoding_rs::Decoder,
    raw: Vec<u8>,
    raw_start: usize,
    raw_end: usize,
    at_end: bool,
    finished: bool,
}

impl<R: Read> Transcoded<R> {
    fn new(inner: R, encoding: &'static encoding_rs::Encoding) -> Transcoded<R> {
        Transcoded {
            inner,
            decoder: encoding.new_decoder_with_bom_removal(),
            raw: vec![0; BUFFER / 4],
            raw_start: 0,
            raw_end: 0,
            at_end: false,
            finished: false,
        }
    }
}

impl<R: Read> Read for Transcoded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while !self.finished {
            if self.raw_start == self.raw_end && !self.at_end {
                self.raw_start = 0;
                self.raw_end = self.inner.read(&mut self.raw)?;
                self.at_end = self.raw_end == 0;
            }
            let (result, taken, written, _) = self.decoder.decode_to_utf8(
                &self.raw[self.raw_start..self.raw_end],
                buffer,
                self.at_end,
            );
            self.raw_start += taken;
            self.finished = self.at_end && result == encoding_rs::CoderResult::InputEmpty;
            if written > 0 {
                return Ok(written);
            }
            if result == encoding_rs::CoderResult::OutputFull {
                // Less room than one character needs: the reader above always offers more.
                return Err(io::Error::other("no room for a character"));
            }
        }
        Ok(0)
    }
}

/// Bytes of a line as text. UTF-16 has become UTF-8 before.
pub fn decoded(bytes: &[u8], encoding: Encoding) -> Cow<'_, str> {
    match encoding {
        Encoding::Latin1 => {
            encoding_rs::WINDOWS_1252
                .decode_without_bom_handling(bytes)
                .0
        }
        _ => String::from_utf8_lossy(bytes),
    }
}

/// A line as messages show it: one line of at most 120 characters.
pub fn shown(bytes: &[u8], encoding: Encoding) -> String {
    let head = &bytes[..bytes.len().min(4 * SHOWN)];
    shortened(&decoded(head, encoding))
}

pub fn shortened(text: &str) -> String {
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .map(|c| {
            if c.is_control() && c != '\t' {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

/// The cell of a line that begins at `at`: where it ends (at the delimiter, or the line's end), and
/// what is in it without quotes and surrounding space. A quote that is not closed, or
/// not at the end of the cell, is a character like others.
pub fn cell(line: &[u8], at: usize, delimiter: u8) -> (usize, Cow<'_, [u8]>) {
    let rest = &line[at..];
    let to_delimiter =
        |from: usize| memchr::memchr(delimiter, &rest[from..]).map_or(rest.len(), |n| from + n);
    let blanks = rest.iter().take_while(|b| is_blank(**b, delimiter)).count();
    if rest.get(blanks) == Some(&b'"')
        && let Some((length, inside)) = quoted(&rest[blanks + 1..])
    {
        let closed = blanks + 1 + length;
        let end = to_delimiter(closed);
        if rest[closed..end].trim_ascii().is_empty() {
            return (at + end, inside);
        }
    }
    let end = to_delimiter(blanks);
    (at + end, Cow::Borrowed(rest[..end].trim_ascii()))
}

pub fn is_blank(byte: u8, delimiter: u8) -> bool {
    matches!(byte, b' ' | b'\t') && byte != delimiter
}

/// What stands before the closing quote, and the length up to behind it.
fn quoted(text: &[u8]) -> Option<(usize, Cow<'_, [u8]>)> {
    let mut at = 0;
    let mut doubled = false;
    loop {
        at += memchr::memchr(b'"', &text[at..])?;
        if text.get(at + 1) != Some(&b'"') {
            break;
        }
        doubled = true;
        at += 2;
    }
    let inside = if doubled {
        let mut kept = Vec::with_capacity(at);
        let mut i = 0;
        while i < at {
            kept.push(text[i]);
            i += if text[i] == b'"' { 2 } else { 1 };
        }
        Cow::Owned(kept.trim_ascii().to_vec())
    } else {
        Cow::Borrowed(text[..at].trim_ascii())
    };
    Some((at + 1, inside))
}

/// All cells of a line as text.
pub fn cells(line: &str, delimiter: Delimiter) -> Vec<String> {
    let byte = delimiter_byte(delimiter);
    let bytes = match delimiter {
        Delimiter::Spaces => line.as_bytes().trim_ascii(),
        _ => line.as_bytes(),
    };
    let mut cells = Vec::new();
    let mut at = 0;
    loop {
        let (end, inside) = cell(bytes, at, byte);
        cells.push(String::from_utf8_lossy(&inside).into_owned());
        match after_delimiter(bytes, end, byte) {
            Some(next) => at = next,
            None => return cells,
        }
    }
}

pub fn delimiter_byte(delimiter: Delimiter) -> u8 {
    match delimiter {
        Delimiter::Comma => b',',
        Delimiter::Semicolon => b';',
        Delimiter::Tab => b'\t',
        Delimiter::Pipe => b'|',
        Delimiter::Spaces => b' ',
    }
}

/// Where the next cell begins after one that ended at `end`; `None` after the last one.
#[inline]
pub fn after_delimiter(line: &[u8], end: usize, delimiter: u8) -> Option<usize> {
    if end >= line.len() {
        return None;
    }
    let mut at = end + 1;
    if delimiter == b' ' {
        while line.get(at) == Some(&b' ') {
            at += 1;
        }
    }
    Some(at)
}
