//! The layout of a log from its first bytes.
//!
//! Every delimiter and decimal mark is tried; the pair under which most lines look like rows of
//! numbers wins. What was decided, and what could be meant otherwise, is said in words, for a person
//! to confirm.

use super::clock;
use super::heading::{self, Heading, Kind, Meaning, Topic};
use super::number;
use super::text;
use crate::bench::record::{
    DateOrder, DecimalMark, Delimiter, Encoding, Layout, LogColumn, LogQuantity, TimeColumn,
    TimeForm,
};
use flate2::read::MultiGzDecoder;
use std::borrow::Cow;
use std::io::Read;

/// Bytes that [`detect()`] wants to see; fewer only if the log is no longer.
pub const HEAD: usize = 256 * 1024;

/// Rows that are looked at.
const ROWS: usize = 2000;

/// Lines before the rows that are shown.
const PREAMBLE: usize = 100;

/// Rows that are shown.
const SAMPLE_ROWS: usize = 20;

/// Waveforms are sampled at shorter intervals: ten samples a line period.
const WAVEFORM_INTERVAL_S: f64 = 0.002;

/// What the beginning of a log shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Detected {
    /// With the guesses of all columns. May hold no column where none could be guessed.
    pub layout: Layout,
    pub gzip: bool,
    pub columns: Vec<SeenColumn>,
    /// Lines before the headings, shortened.
    pub preamble: Vec<String>,
    /// The first rows, cell by cell.
    pub sample_rows: Vec<Vec<String>>,
    /// What was decided and what was ambiguous, in words.
    pub notes: Vec<String>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct SeenColumn {
    /// Counted from 1.
    pub number: u32,
    /// Without its unit where that could be told apart.
    pub heading: Option<String>,
    pub unit: Option<String>,
    /// The port only if the heading tells it.
    pub guess: Option<LogColumn>,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DetectError {
    #[error("the log is empty, expected lines of text")]
    Empty,
    #[error("byte {offset} is 0x{byte:02x}, expected text (a table of numbers, as CSV or TSV)")]
    Binary { offset: usize, byte: u8 },
    #[error("the log begins like a gzip file, and cannot be unpacked: {0}")]
    Gzip(String),
    #[error(
        "no rows of numbers in the first {lines} lines, expected at least one line with the same number of cells as its neighbours and a number in one of them; line 1 is {first:?}"
    )]
    NoRows { lines: usize, first: String },
}

/// Guesses the layout of a log from its beginning, which may be compressed by gzip.
pub fn detect(head: &[u8]) -> Result<Detected, DetectError> {
    let seen = Seen::of(head)?;
    let mut best: Option<Grid> = None;
    for (delimiter, decimal) in CANDIDATES {
        if let Some(grid) = Grid::of(&seen.lines, delimiter, decimal)
            && best.as_ref().is_none_or(|b| grid.score > b.score)
        {
            best = Some(grid);
        }
    }
    let Some(grid) = best else {
        return Err(DetectError::NoRows {
            lines: seen.lines.len(),
            first: seen
                .lines
                .first()
                .map(|l| text::shortened(&l.text))
                .unwrap_or_default(),
        });
    };
    let mut notes = seen.notes.clone();
    notes.push(format!(
        "{} between cells, decimal {}; rows from line {} on.",
        delimiter_words(grid.delimiter),
        match grid.decimal {
            DecimalMark::Point => "point",
            DecimalMark::Comma => "comma",
        },
        grid.first_line
    ));
    let table = Table::of(&seen, grid);
    let time = table.time(&mut notes);
    let interval_s = table.interval_s(&time);
    let mut columns = table.columns(&time, interval_s, &mut notes);
    let mut kept: Vec<LogColumn> = Vec::new();
    for column in &mut columns {
        let Some(guess) = &column.guess else { continue };
        if let Some(earlier) = kept
            .iter()
            .find(|k| k.quantity == guess.quantity && k.port == guess.port)
        {
            notes.push(format!(
                "Columns {} and {} both look like {}; the first is taken.",
                earlier.column,
                guess.column,
                heading::words(guess.quantity)
            ));
            column.guess = None;
        } else {
            kept.push(guess.clone());
        }
    }
    if kept.is_empty() {
        notes.push("No heading tells what a column holds: choose it by hand.".to_owned());
    }
    Ok(Detected {
        layout: Layout {
            encoding: seen.encoding,
            delimiter: table.grid.delimiter,
            decimal: table.grid.decimal,
            first_line: table.grid.first_line,
            time,
            columns: kept,
        },
        gzip: seen.gzip,
        columns,
        preamble: table.preamble(),
        sample_rows: table.sample_rows(),
        notes,
    })
}

/// What the beginning of a log shows under a layout that somebody chose.
pub fn look(head: &[u8], layout: &Layout) -> Result<Detected, DetectError> {
    let seen = Seen::under(head, Some(layout.encoding))?;
    let first = layout.first_line;
    let at = seen.lines.iter().position(|l| l.number >= first);
    let Some(at) = at else {
        return Err(DetectError::NoRows {
            lines: seen.lines.len(),
            first: seen
                .lines
                .first()
                .map(|l| text::shortened(&l.text))
                .unwrap_or_default(),
        });
    };
    let grid = Grid::under(&seen.lines, at, layout.delimiter, layout.decimal);
    let mut notes = seen.notes.clone();
    let table = Table::of(&seen, grid);
    let interval_s = table.interval_s(&layout.time);
    let columns = table.columns(&layout.time, interval_s, &mut notes);
    Ok(Detected {
        layout: layout.clone(),
        gzip: seen.gzip,
        columns,
        preamble: table.preamble(),
        sample_rows: table.sample_rows(),
        notes,
    })
}

/// In this order of preference where several fit equally.
const CANDIDATES: [(Delimiter, DecimalMark); 10] = [
    (Delimiter::Tab, DecimalMark::Point),
    (Delimiter::Semicolon, DecimalMark::Point),
    (Delimiter::Comma, DecimalMark::Point),
    (Delimiter::Pipe, DecimalMark::Point),
    (Delimiter::Spaces, DecimalMark::Point),
    (Delimiter::Tab, DecimalMark::Comma),
    (Delimiter::Semicolon, DecimalMark::Comma),
    (Delimiter::Pipe, DecimalMark::Comma),
    (Delimiter::Spaces, DecimalMark::Comma),
    // Numbers in quotes.
    (Delimiter::Comma, DecimalMark::Comma),
];

fn delimiter_words(delimiter: Delimiter) -> &'static str {
    match delimiter {
        Delimiter::Comma => "Commas",
        Delimiter::Semicolon => "Semicolons",
        Delimiter::Tab => "Tabs",
        Delimiter::Pipe => "Vertical bars",
        Delimiter::Spaces => "Spaces",
    }
}

/// The beginning of a log as lines of text that are not blank.
struct Seen {
    gzip: bool,
    encoding: Encoding,
    lines: Vec<SeenLine>,
    notes: Vec<String>,
}

struct SeenLine {
    /// Counted from 1, blank lines included.
    number: u32,
    text: String,
}

impl Seen {
    fn of(head: &[u8]) -> Result<Seen, DetectError> {
        Seen::under(head, None)
    }

    fn under(head: &[u8], encoding: Option<Encoding>) -> Result<Seen, DetectError> {
        if head.is_empty() {
            return Err(DetectError::Empty);
        }
        let head = &head[..head.len().min(HEAD)];
        let mut notes = Vec::new();
        let gzip = head.starts_with(&text::GZIP);
        let (plain, is_cut) = if gzip {
            unpacked(head)?
        } else {
            (Cow::Borrowed(head), head.len() >= HEAD)
        };
        if plain.is_empty() {
            return Err(DetectError::Empty);
        }
        let encoding = match encoding {
            Some(encoding) => encoding,
            None => encoding_of(&plain, is_cut, &mut notes)?,
        };
        let whole = match encoding {
            Encoding::Utf8 => {
                String::from_utf8_lossy(plain.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&plain))
            }
            Encoding::Latin1 => {
                encoding_rs::WINDOWS_1252
                    .decode_without_bom_handling(&plain)
                    .0
            }
            Encoding::Utf16Le => encoding_rs::UTF_16LE.decode_with_bom_removal(&plain).0,
            Encoding::Utf16Be => encoding_rs::UTF_16BE.decode_with_bom_removal(&plain).0,
        };
        let ended = whole.replace("\r\n", "\n").replace('\r', "\n");
        let mut lines: Vec<SeenLine> = ended
            .split('\n')
            .zip(1..)
            .map(|(text, number)| SeenLine {
                number,
                text: text.to_owned(),
            })
            .collect();
        // The last line is empty, or perhaps only half there.
        if lines.last().is_some_and(|l| l.text.is_empty() || is_cut) && lines.len() > 1 {
            lines.pop();
        }
        lines.retain(|l| !l.text.trim().is_empty());
        if lines.is_empty() {
            return Err(DetectError::Empty);
        }
        Ok(Seen {
            gzip,
            encoding,
            lines,
            notes,
        })
    }
}

/// Up to [`HEAD`] bytes of what is packed, and whether there is more. The packed bytes may break off.
fn unpacked(head: &[u8]) -> Result<(Cow<'_, [u8]>, bool), DetectError> {
    let mut plain = Vec::new();
    let outcome = MultiGzDecoder::new(head)
        .take(HEAD as u64)
        .read_to_end(&mut plain);
    match outcome {
        Err(cause) if plain.is_empty() => Err(DetectError::Gzip(cause.to_string())),
        Err(_) => Ok((Cow::Owned(plain), true)),
        Ok(_) => {
            let is_cut = plain.len() == HEAD;
            Ok((Cow::Owned(plain), is_cut))
        }
    }
}

fn encoding_of(
    plain: &[u8],
    is_cut: bool,
    notes: &mut Vec<String>,
) -> Result<Encoding, DetectError> {
    match plain {
        [0xef, 0xbb, 0xbf, ..] => return Ok(Encoding::Utf8),
        [0xff, 0xfe, ..] => return Ok(Encoding::Utf16Le),
        [0xfe, 0xff, ..] => return Ok(Encoding::Utf16Be),
        _ => {}
    }
    if let Some(offset) = memchr::memchr(0, plain) {
        // Text of numbers in UTF-16 has a zero in every other byte.
        let zeros = |first: usize| {
            plain
                .iter()
                .skip(first)
                .step_by(2)
                .filter(|b| **b == 0)
                .count()
        };
        let (even, odd, pairs) = (zeros(0), zeros(1), plain.len() / 2);
        let (encoding, word) = if odd * 10 >= pairs * 9 && even * 100 <= pairs {
            (Encoding::Utf16Le, "little")
        } else if even * 10 >= pairs * 9 && odd * 100 <= pairs {
            (Encoding::Utf16Be, "big")
        } else {
            return Err(DetectError::Binary { offset, byte: 0 });
        };
        notes.push(format!(
            "UTF-16 ({word} end first) without a byte order mark, told by its zeros."
        ));
        return Ok(encoding);
    }
    let control = |b: &u8| *b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0c | 0x1a | 0x1b);
    let controls = plain.iter().filter(|b| control(b)).count();
    if controls * 100 > plain.len() {
        let offset = plain.iter().position(control).unwrap_or(0);
        return Err(DetectError::Binary {
            offset,
            byte: plain[offset],
        });
    }
    let is_utf_8 = match std::str::from_utf8(plain) {
        Ok(_) => true,
        // A character may be cut in two.
        Err(cause) => is_cut && cause.error_len().is_none(),
    };
    if is_utf_8 {
        return Ok(Encoding::Utf8);
    }
    notes.push("Not valid UTF-8, so it is read as Latin-1.".to_owned());
    Ok(Encoding::Latin1)
}

/// What a cell looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Looks {
    Empty,
    Number,
    /// A number with its unit.
    Quantity,
    Clock,
    Date,
    DateTime,
    Text,
}

const KINDS: [Looks; 5] = [
    Looks::Number,
    Looks::Quantity,
    Looks::Clock,
    Looks::Date,
    Looks::DateTime,
];

impl Looks {
    fn of(cell: &str, decimal: DecimalMark) -> Looks {
        let bytes = cell.as_bytes();
        let Some(first) = bytes.first() else {
            return Looks::Empty;
        };
        // Whatever begins a number, a time or a date in figures.
        if !matches!(first, b'0'..=b'9' | b'+' | b'-' | b'.' | b',') {
            return Looks::Text;
        }
        let mark = number::mark(decimal);
        match number::leading(bytes, mark) {
            Some((_, length)) if length == bytes.len() => return Looks::Number,
            Some((_, length))
                if heading::unit(&cell[length..]).is_some_and(|(k, _)| k != Kind::One) =>
            {
                return Looks::Quantity;
            }
            _ => {}
        }
        if clock::clock(bytes).is_some() {
            return Looks::Clock;
        }
        if is_date(bytes) {
            return Looks::Date;
        }
        let orders = [
            DateOrder::DayFirst,
            DateOrder::MonthFirst,
            DateOrder::YearFirst,
        ];
        if orders
            .iter()
            .any(|order| clock::date_time(bytes, Some(*order)).is_some())
        {
            return Looks::DateTime;
        }
        Looks::Text
    }

    fn is_told(self) -> bool {
        !matches!(self, Looks::Empty | Looks::Text)
    }
}

fn is_date(cell: &[u8]) -> bool {
    [
        DateOrder::DayFirst,
        DateOrder::MonthFirst,
        DateOrder::YearFirst,
    ]
    .iter()
    .any(|order| clock::date(cell, Some(*order)).is_some())
}

/// Lines cut into cells by one delimiter and decimal mark.
struct Grid {
    delimiter: Delimiter,
    decimal: DecimalMark,
    first_line: u32,
    /// Place of the first row among the lines that are not blank.
    first: usize,
    /// What most cells of a column are.
    looks: Vec<Looks>,
    /// Rows from the first one on that look like it.
    rows: Vec<Vec<String>>,
    score: f64,
}

impl Grid {
    fn of(lines: &[SeenLine], delimiter: Delimiter, decimal: DecimalMark) -> Option<Grid> {
        let cut: Vec<Vec<String>> = lines
            .iter()
            .take(ROWS)
            .map(|l| text::cells(&l.text, delimiter))
            .collect();
        let looks: Vec<Vec<Looks>> = cut
            .iter()
            .map(|cells| cells.iter().map(|c| Looks::of(c, decimal)).collect())
            .collect();
        let width = usual_width(&looks)?;
        let usual = usual_looks(&looks, width);
        let told = usual.iter().filter(|l| l.is_told()).count();
        if told == 0 {
            return None;
        }
        let fits: Vec<bool> = looks.iter().map(|row| fits(row, &usual)).collect();
        // Rows begin where most of the next ten lines fit: a preamble may hold a number, too.
        let first = (0..fits.len()).find(|i| {
            let next = &fits[*i..fits.len().min(i + 10)];
            fits[*i] && next.iter().filter(|f| **f).count() * 10 >= next.len() * 7
        })?;
        let rows: Vec<Vec<String>> = cut
            .into_iter()
            .zip(&fits)
            .skip(first)
            .filter(|(_, fits)| **fits)
            .map(|(cells, _)| cells)
            .collect();
        let share = told as f64 / width as f64;
        let headed = first > 0 && {
            let above = text::cells(&lines[first - 1].text, delimiter);
            above.len() == width && above.iter().all(|c| !Looks::of(c, decimal).is_told())
        };
        let held = rows.len() as f64 / (lines.len().min(ROWS) - first) as f64;
        let score = held * share * share
            + if headed { 0.3 } else { 0.0 }
            + 0.02 * told.min(10) as f64
            + 0.05 * (rows.len() as f64 / lines.len().min(ROWS) as f64);
        Some(Grid {
            delimiter,
            decimal,
            first_line: lines[first].number,
            first,
            looks: usual,
            rows,
            score,
        })
    }

    /// Lines from `first` on, whatever they look like.
    fn under(lines: &[SeenLine], first: usize, delimiter: Delimiter, decimal: DecimalMark) -> Grid {
        let rows: Vec<Vec<String>> = lines[first..]
            .iter()
            .take(ROWS)
            .map(|l| text::cells(&l.text, delimiter))
            .collect();
        let looks: Vec<Vec<Looks>> = rows
            .iter()
            .map(|cells| cells.iter().map(|c| Looks::of(c, decimal)).collect())
            .collect();
        let width =
            usual_width(&looks).unwrap_or_else(|| rows.iter().map(Vec::len).max().unwrap_or(0));
        Grid {
            delimiter,
            decimal,
            first_line: lines[first].number,
            first,
            looks: usual_looks(&looks, width),
            rows,
            score: 0.0,
        }
    }
}

/// The number of cells that most lines with a number have.
fn usual_width(looks: &[Vec<Looks>]) -> Option<usize> {
    let mut counts = std::collections::BTreeMap::new();
    for row in looks.iter().filter(|row| row.iter().any(|l| l.is_told())) {
        *counts.entry(row.len()).or_insert(0) += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(width, count)| (*count, *width))
        .map(|(width, _)| width)
}

/// What most cells of each column are; empty ones do not vote.
fn usual_looks(looks: &[Vec<Looks>], width: usize) -> Vec<Looks> {
    let rows: Vec<&Vec<Looks>> = looks
        .iter()
        .filter(|row| row.len() == width && row.iter().any(|l| l.is_told()))
        .collect();
    (0..width)
        .map(|column| {
            let count = |looks: Looks| rows.iter().filter(|row| row[column] == looks).count();
            let filled = rows.len() - count(Looks::Empty);
            let (most, number) = KINDS
                .iter()
                .map(|kind| (*kind, count(*kind)))
                .max_by_key(|(_, number)| *number)
                .unwrap_or((Looks::Text, 0));
            match filled {
                0 => Looks::Empty,
                filled if number * 2 > filled => most,
                _ => Looks::Text,
            }
        })
        .collect()
}

/// Does a row have what its columns usually have? A few may be empty or overrun.
fn fits(row: &[Looks], usual: &[Looks]) -> bool {
    let told = usual.iter().filter(|l| l.is_told()).count();
    let alike = row
        .iter()
        .zip(usual)
        .filter(|(looks, usual)| usual.is_told() && looks == usual)
        .count();
    let whole = row.len() == usual.len()
        || row.len() < usual.len() && usual[row.len()..].iter().all(|l| *l == Looks::Empty)
        || row.len() > usual.len() && row[usual.len()..].iter().all(|l| *l == Looks::Empty);
    whole && alike * 2 > told
}

/// A grid with its headings.
struct Table<'a> {
    seen: &'a Seen,
    grid: Grid,
    headings: Vec<Heading>,
    /// Lines before the headings.
    preamble_lines: usize,
}

impl<'a> Table<'a> {
    fn of(seen: &'a Seen, grid: Grid) -> Table<'a> {
        let width = grid.looks.len();
        let mut at = grid.first;
        let mut units: Option<Vec<String>> = None;
        let mut names: Option<Vec<String>> = None;
        // The nearest lines above that have as many cells: units perhaps, then headings.
        for i in (grid.first.saturating_sub(4)..grid.first).rev() {
            let line = &seen.lines[i];
            let plain = line.text.trim_start_matches(['#', '%']);
            let mut cells = text::cells(plain, grid.delimiter);
            if cells.len() != width && plain.len() < line.text.len() {
                // Headings in a comment are often cut by spaces, whatever cuts the rows.
                let words = text::cells(plain, Delimiter::Spaces);
                if words.len() == width {
                    cells = words;
                }
            }
            while cells.len() > width && cells.last().is_some_and(String::is_empty) {
                cells.pop();
            }
            while cells.len() < width && grid.looks[cells.len()] == Looks::Empty {
                cells.push(String::new());
            }
            if cells.len() != width {
                if width > 1 && names.is_none() && units.is_none() && cells.len() == 1 {
                    // A rule or a title between headings and rows.
                    continue;
                }
                break;
            }
            if cells.iter().any(|c| Looks::of(c, grid.decimal).is_told()) {
                break;
            }
            let are_units = cells.iter().all(|c| c.is_empty() || is_unit_cell(c))
                && cells.iter().any(|c| heading::unit(c).is_some());
            if are_units && units.is_none() && names.is_none() {
                units = Some(cells);
                at = i;
            } else if names.is_none() && is_rule(&cells) {
                continue;
            } else if names.is_none() {
                names = Some(cells);
                at = i;
                break;
            }
        }
        let headings = match (names, units) {
            // A single line of units is the headings: "s;V;A".
            (None, Some(units)) => units.iter().map(|u| Heading::of(u)).collect(),
            (Some(names), units) => names
                .iter()
                .enumerate()
                .map(|(i, name)| {
                    let mut heading = Heading::of(name);
                    let unit = units.as_ref().map(|u| bare_unit(&u[i])).unwrap_or_default();
                    if !unit.is_empty() {
                        if heading.unit.is_some() && heading.name.is_empty() {
                            heading.name = name.trim().to_owned();
                        }
                        heading.unit = Some(unit);
                    }
                    heading
                })
                .collect(),
            (None, None) => vec![Heading::default(); width],
        };
        Table {
            seen,
            grid,
            headings,
            preamble_lines: at,
        }
    }

    fn preamble(&self) -> Vec<String> {
        self.seen.lines[..self.preamble_lines]
            .iter()
            .take(PREAMBLE)
            .map(|l| text::shortened(l.text.trim_end()))
            .collect()
    }

    fn sample_rows(&self) -> Vec<Vec<String>> {
        let rows = self.grid.rows.iter().take(SAMPLE_ROWS);
        rows.map(|cells| cells.iter().map(|c| text::shortened(c)).collect())
            .collect()
    }

    fn cells(&self, column: usize) -> impl Iterator<Item = &str> {
        self.grid
            .rows
            .iter()
            .filter_map(move |row| row.get(column))
            .map(String::as_str)
    }

    fn numbers(&self, column: usize) -> Vec<f64> {
        let mark = number::mark(self.grid.decimal);
        self.cells(column)
            .filter_map(|c| number::whole(c.as_bytes(), mark))
            .collect()
    }

    fn meaning(&self, column: usize) -> Meaning {
        Meaning::of(&self.headings[column].name)
    }

    fn unit_kind(&self, column: usize) -> Option<(Kind, f64)> {
        self.headings[column]
            .unit
            .as_deref()
            .and_then(heading::unit)
    }

    fn find(&self, looks: Looks) -> Option<usize> {
        self.grid.looks.iter().position(|l| *l == looks)
    }

    /// Where rows say when they were taken.
    fn time(&self, notes: &mut Vec<String>) -> TimeColumn {
        let column = |at: usize| Some(at as u32 + 1);
        let mut time = TimeColumn {
            form: TimeForm::Index,
            column: None,
            date_column: None,
            date_order: None,
            interval_s: None,
        };
        if let Some(at) = self.find(Looks::DateTime) {
            time.form = TimeForm::DateTime;
            time.column = column(at);
            time.date_order = self.date_order(at, notes);
            notes.push(format!("Column {} holds date and time.", at + 1));
            return time;
        }
        if let Some(at) = self.find(Looks::Clock) {
            time.form = TimeForm::Clock;
            time.column = column(at);
            match self.find(Looks::Date) {
                Some(date) => {
                    time.date_column = column(date);
                    time.date_order = self.date_order(date, notes);
                    notes.push(format!(
                        "Column {} holds the date, column {} the time.",
                        date + 1,
                        at + 1
                    ));
                }
                None => notes.push(format!(
                    "Column {} holds a clock time without a date.",
                    at + 1
                )),
            }
            return time;
        }
        if let Some((at, form, words)) = self.time_in_numbers() {
            time.form = form;
            time.column = column(at);
            notes.push(format!("Column {} holds the time in {words}.", at + 1));
            return time;
        }
        let (interval_s, words) = match self.interval_in_preamble() {
            Some((interval_s, line)) => (interval_s, format!("{interval_s} s as line {line} says")),
            None => (1.0, "1 s, which is only assumed".to_owned()),
        };
        time.interval_s = Some(interval_s);
        notes.push(format!(
            "No column tells the time: rows are taken to be {words} apart."
        ));
        time
    }

    /// The column of rising numbers that seems to be the time, its form, and words for that.
    fn time_in_numbers(&self) -> Option<(usize, TimeForm, String)> {
        let candidates: Vec<(usize, Vec<f64>)> = (0..self.headings.len())
            .filter(|i| self.grid.looks[*i] == Looks::Number)
            .map(|i| (i, self.numbers(i)))
            .filter(|(_, n)| n.windows(2).filter(|p| p[1] < p[0]).count() * 20 <= n.len())
            .filter(|(_, n)| n.len() < 2 || n[n.len() - 1] > n[0])
            .collect();
        let by_unit =
            |(i, _): &&(usize, Vec<f64>)| matches!(self.unit_kind(*i), Some((Kind::Second, _)));
        let by_word = |(i, _): &&(usize, Vec<f64>)| {
            self.meaning(*i).topic == Some(Topic::Time)
                && matches!(self.unit_kind(*i), None | Some((Kind::Second, _)))
        };
        let (at, numbers) = candidates
            .iter()
            .find(by_word)
            .or_else(|| candidates.iter().find(by_unit))
            .or_else(|| {
                // Without a word: the first column, if it rises evenly.
                candidates.iter().find(|(i, n)| {
                    *i == 0
                        && self.meaning(0).topic.is_none()
                        && self.unit_kind(0).is_none()
                        && is_even(n)
                })
            })?;
        let first = numbers.first().copied().unwrap_or(0.0);
        let told = match self.unit_kind(*at) {
            Some((Kind::Second, factor)) => [
                (1.0, TimeForm::Seconds, "seconds"),
                (1e-3, TimeForm::Milliseconds, "milliseconds"),
                (1e-6, TimeForm::Microseconds, "microseconds"),
                (60.0, TimeForm::Minutes, "minutes"),
                (3600.0, TimeForm::Hours, "hours"),
            ]
            .into_iter()
            .find(|(f, ..)| *f == factor)
            .map(|(_, form, words)| (form, words.to_owned())),
            _ => None,
        };
        let (form, words) = told.unwrap_or_else(|| match first {
            1e9..4.1e9 => (TimeForm::Seconds, "seconds since 1970".to_owned()),
            1e12..4.1e12 => (TimeForm::Milliseconds, "milliseconds since 1970".to_owned()),
            1e15..4.1e15 => (TimeForm::Microseconds, "microseconds since 1970".to_owned()),
            _ => (TimeForm::Seconds, "seconds, as no unit is told".to_owned()),
        });
        Some((*at, form, words))
    }

    /// Order of day, month and year, needed unless the year stands first with four figures.
    fn date_order(&self, column: usize, notes: &mut Vec<String>) -> Option<DateOrder> {
        let dates: Vec<&str> = self
            .cells(column)
            .filter_map(|c| {
                c.split([' ', 'T', ',', '_'])
                    .find(|part| clock::three(part.as_bytes()).is_some())
            })
            .collect();
        let parts: Vec<[&[u8]; 3]> = dates
            .iter()
            .filter_map(|d| clock::three(d.as_bytes()))
            .collect();
        let first = parts.first()?;
        if first[0].len() == 4 || first[1].iter().any(u8::is_ascii_alphabetic) {
            return None;
        }
        let valid = |order: DateOrder| {
            dates
                .iter()
                .all(|d| clock::date(d.as_bytes(), Some(order)).is_some())
        };
        let (day, month, year) = (
            valid(DateOrder::DayFirst),
            valid(DateOrder::MonthFirst),
            valid(DateOrder::YearFirst),
        );
        let is_dotted = dates.first().is_some_and(|d| d.contains('.'));
        Some(match (day, month, year) {
            (true, false, _) => DateOrder::DayFirst,
            (false, true, _) => DateOrder::MonthFirst,
            (false, false, _) => DateOrder::YearFirst,
            (true, true, _) if is_dotted => DateOrder::DayFirst,
            (true, true, _) => {
                let order = if self.grid.decimal == DecimalMark::Comma {
                    DateOrder::DayFirst
                } else {
                    DateOrder::MonthFirst
                };
                notes.push(format!(
                    "Dates such as {} could have the day or the month first; the {} is taken. Check it.",
                    dates[0],
                    if order == DateOrder::DayFirst { "day" } else { "month" }
                ));
                order
            }
        })
    }

    /// An interval or rate that the preamble tells, in seconds, and its line.
    fn interval_in_preamble(&self) -> Option<(f64, u32)> {
        self.seen.lines[..self.grid.first]
            .iter()
            .find_map(|line| Some((interval_told(&line.text)?, line.number)))
    }

    /// Median seconds between the rows seen, where it can be told.
    fn interval_s(&self, time: &TimeColumn) -> Option<f64> {
        let at = time.column.and_then(|c| (c as usize).checked_sub(1));
        let times: Vec<f64> = match (time.form, at) {
            (TimeForm::Index, _) | (_, None) => return time.interval_s,
            (TimeForm::Clock, Some(at)) => {
                let clocks = self.cells(at).filter_map(|c| clock::clock(c.as_bytes()));
                clocks.map(|ns| ns as f64 / 1e9).collect()
            }
            (TimeForm::DateTime, Some(at)) => {
                let times = self
                    .cells(at)
                    .filter_map(|c| clock::date_time(c.as_bytes(), time.date_order));
                times.map(|(ns, _)| ns as f64 / 1e9).collect()
            }
            (form, Some(at)) => {
                let factor = match form {
                    TimeForm::Milliseconds => 1e-3,
                    TimeForm::Microseconds => 1e-6,
                    TimeForm::Minutes => 60.0,
                    TimeForm::Hours => 3600.0,
                    _ => 1.0,
                };
                self.numbers(at).iter().map(|n| n * factor).collect()
            }
        };
        let first = times.first()?;
        let last = times.last()?;
        (times.len() > 1).then(|| (last - first) / (times.len() - 1) as f64)
    }

    fn columns(
        &self,
        time: &TimeColumn,
        interval_s: Option<f64>,
        notes: &mut Vec<String>,
    ) -> Vec<SeenColumn> {
        let is_waveform = interval_s.is_some_and(|s| s > 0.0 && s < WAVEFORM_INTERVAL_S);
        let width = self.headings.len();
        let mut columns: Vec<SeenColumn> = (0..width)
            .map(|i| {
                let number = i as u32 + 1;
                let heading = &self.headings[i];
                let is_time = time.column == Some(number) || time.date_column == Some(number);
                let is_number = matches!(self.grid.looks[i], Looks::Number | Looks::Quantity);
                let guess = if is_time || !is_number {
                    None
                } else {
                    self.guess(i)
                };
                SeenColumn {
                    number,
                    heading: (!heading.name.is_empty()).then(|| heading.name.clone()),
                    unit: heading.unit.clone(),
                    guess,
                }
            })
            .collect();
        if is_waveform {
            self.guess_waveform(time, &mut columns, notes);
        }
        columns
    }

    fn guess(&self, i: usize) -> Option<LogColumn> {
        let heading = &self.headings[i];
        let meaning = Meaning::of(&heading.name);
        // Cells that carry their unit need no factor, and tell what the column is.
        let in_cells = (self.grid.looks[i] == Looks::Quantity)
            .then(|| {
                let cell = self.cells(i).next()?;
                let (_, length) =
                    number::leading(cell.as_bytes(), number::mark(self.grid.decimal))?;
                Some(cell[length..].trim().to_owned())
            })
            .flatten();
        let unit = in_cells.as_deref().or(heading.unit.as_deref());
        let (quantity, factor) = heading::quantity(&meaning, unit)?;
        let is_output = matches!(
            quantity,
            LogQuantity::OutputVoltageV | LogQuantity::OutputCurrentA | LogQuantity::OutputPowerW
        );
        Some(LogColumn {
            column: i as u32 + 1,
            quantity,
            port: meaning.port.filter(|_| is_output),
            factor: (factor != 1.0 && in_cells.is_none()).then_some(factor),
        })
    }

    /// Columns that swing through zero at a high rate are samples of the line.
    fn guess_waveform(
        &self,
        time: &TimeColumn,
        columns: &mut [SeenColumn],
        notes: &mut Vec<String>,
    ) {
        let mut unknown: Vec<(usize, f64)> = Vec::new();
        let mut found = false;
        for column in columns.iter_mut() {
            let i = column.number as usize - 1;
            if time.column == Some(column.number) || self.grid.looks[i] != Looks::Number {
                continue;
            }
            let numbers = self.numbers(i);
            let min = numbers.iter().copied().fold(f64::INFINITY, f64::min);
            let max = numbers.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            if !(min < 0.0 && max > 0.0) {
                continue;
            }
            let told = column.guess.as_ref().map(|g| heading::kind_of(g.quantity));
            let quantity = match told {
                // Power from moment to moment is not the active power.
                Some(Kind::Watt) => {
                    column.guess = None;
                    continue;
                }
                Some(Kind::Volt) => LogQuantity::LineVoltageSampleV,
                Some(Kind::Ampere) => LogQuantity::LineCurrentSampleA,
                _ => {
                    if column.guess.is_none() && self.unit_kind(i).is_none() {
                        unknown.push((i, max - min));
                    }
                    continue;
                }
            };
            found = true;
            column.guess = Some(LogColumn {
                column: column.number,
                quantity,
                port: None,
                factor: column.guess.as_ref().and_then(|g| g.factor),
            });
        }
        let holds = |columns: &[SeenColumn], quantity: LogQuantity| {
            columns
                .iter()
                .any(|c| c.guess.as_ref().is_some_and(|g| g.quantity == quantity))
        };
        unknown.sort_by(|a, b| b.1.total_cmp(&a.1));
        for (i, _) in unknown {
            let quantity = [
                LogQuantity::LineVoltageSampleV,
                LogQuantity::LineCurrentSampleA,
            ]
            .into_iter()
            .find(|q| !holds(columns, *q));
            let Some(quantity) = quantity else { break };
            found = true;
            notes.push(format!(
                "Column {} is taken for the {} by the size of its swing. Check it, and the factor of its probe.",
                i + 1,
                heading::words(quantity)
            ));
            columns[i].guess = Some(LogColumn {
                column: i as u32 + 1,
                quantity,
                port: None,
                factor: None,
            });
        }
        if found {
            notes.push(
                "Rows are less than 2 ms apart and swing through zero: a waveform.".to_owned(),
            );
        }
    }
}

fn is_unit_cell(cell: &str) -> bool {
    heading::unit(cell).is_some()
        || matches!(bare_unit(cell).as_str(), "" | "-" | "hh:mm:ss" | "HH:MM:SS")
}

/// A unit without its brackets.
fn bare_unit(cell: &str) -> String {
    let bare = cell
        .trim()
        .trim_matches(['[', ']', '(', ')', '{', '}', '<', '>'])
        .trim();
    if bare == "-" {
        String::new()
    } else {
        bare.to_owned()
    }
}

/// A line of dashes between headings and rows.
fn is_rule(cells: &[String]) -> bool {
    cells.iter().all(|c| c.chars().all(|c| "-=_+*".contains(c)))
}

/// Do numbers rise by nearly the same step each time?
fn is_even(numbers: &[f64]) -> bool {
    let steps: Vec<f64> = numbers.windows(2).map(|p| p[1] - p[0]).collect();
    let mut sorted = steps.clone();
    sorted.sort_by(f64::total_cmp);
    let Some(median) = sorted.get(sorted.len() / 2).copied() else {
        return false;
    };
    let near = steps
        .iter()
        .filter(|s| (**s - median).abs() <= 0.2 * median)
        .count();
    median > 0.0 && near * 10 >= steps.len() * 8
}

/// The seconds between rows that a line of the preamble tells.
fn interval_told(line: &str) -> Option<f64> {
    let lower = line.to_lowercase();
    const INTERVALS: [&str; 9] = [
        "interval",
        "intervall",
        "abtastzeit",
        "sample time",
        "sampling time",
        "sampling period",
        "sample period",
        "time step",
        "delta t",
    ];
    const RATES: [&str; 7] = [
        "sampling rate",
        "sample rate",
        "samplerate",
        "abtastrate",
        "messrate",
        "sampling frequency",
        "abtastfrequenz",
    ];
    let is_rate = RATES.iter().any(|word| lower.contains(word));
    if !is_rate && !INTERVALS.iter().any(|word| lower.contains(word)) {
        return None;
    }
    let bytes = line.as_bytes();
    let at = bytes.iter().position(u8::is_ascii_digit)?;
    let rest = &line[at..];
    let mark = if rest.contains('.') { b'.' } else { b',' };
    let (value, length) = number::leading(rest.as_bytes(), mark)?;
    let after = rest[length..].trim_start_matches([' ', '\t', ',', ';', '"', '|', '[', '(']);
    let unit = after
        .split([' ', '\t', ',', ';', '"', '|', ']', ')'])
        .next()
        .unwrap_or("");
    let interval_s = if is_rate {
        let factor = match unit.to_lowercase().as_str() {
            "" | "hz" | "s/s" | "sa/s" | "1/s" | "sps" => 1.0,
            "khz" | "ks/s" | "ksa/s" | "ksps" => 1e3,
            "mhz" | "ms/s" | "msa/s" | "msps" => 1e6,
            _ => return None,
        };
        1.0 / (value * factor)
    } else {
        let factor = match heading::unit(unit) {
            Some((Kind::Second, factor)) => factor,
            Some(_) => return None,
            // A unit before the number: "Interval (ms): 500".
            None => match Heading::of(
                line[..at]
                    .trim()
                    .trim_end_matches([':', '=', ',', ';', '\t', ' ']),
            )
            .unit
            {
                Some(unit) => match heading::unit(&unit) {
                    Some((Kind::Second, factor)) => factor,
                    _ => 1.0,
                },
                None => 1.0,
            },
        };
        value * factor
    };
    (interval_s.is_finite() && interval_s > 0.0 && interval_s <= 86_400.0).then_some(interval_s)
}
