//! Rows of a log by its layout, as a stream: traces of what each column holds, or raw samples.
//!
//! No row is dropped in silence. A row that cannot be read is counted and shown; with more than 1 %
//! of them the log is refused.

use super::clock;
use super::heading;
use super::number;
use super::text::{self, Line, Lines};
use super::trace::{Gatherer, Trace};
use crate::bench::record::{Delimiter, Encoding, Layout, LogColumn, LogQuantity, TimeForm};
use std::fmt;
use std::io::{self, Read};

/// A part of a log in seconds from its first row, both ends included; by default the whole log.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Section {
    pub from_s: Option<f64>,
    pub to_s: Option<f64>,
}

impl Section {
    fn begins_after(&self, t_s: f64) -> bool {
        self.from_s.is_some_and(|from_s| t_s < from_s)
    }

    fn ends_before(&self, t_s: f64) -> bool {
        self.to_s.is_some_and(|to_s| t_s > to_s)
    }
}

/// A section of a log as traces.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Rows of the section that were read.
    pub rows: u64,
    pub bad: BadRows,
    /// Date and time of the log's first row in ISO 8601, where the log tells; ends with `Z` if it
    /// is known to be UTC.
    pub starts_at: Option<String>,
    /// From the section's first row to its last, in seconds.
    pub duration_s: f64,
    /// In the order of the layout; with the port label of output quantities.
    pub columns: Vec<(LogQuantity, Option<String>, Trace)>,
}

impl Reading {
    pub fn trace(&self, quantity: LogQuantity, port: Option<&str>) -> Option<&Trace> {
        self.columns
            .iter()
            .find(|(q, p, _)| *q == quantity && p.as_deref() == port)
            .map(|(_, _, trace)| trace)
    }
}

/// A section of a log sample by sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Samples {
    /// Seconds from the log's first row.
    pub t_s: Vec<f64>,
    pub columns: Vec<(LogQuantity, Option<String>, Vec<f64>)>,
    /// The section holds more samples than were asked for.
    pub more: bool,
}

impl Samples {
    pub fn values(&self, quantity: LogQuantity) -> Option<&[f64]> {
        self.columns
            .iter()
            .find(|(q, _, _)| *q == quantity)
            .map(|(_, _, values)| values.as_slice())
    }
}

/// Rows that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BadRows {
    /// All of them, those of the trailer included.
    pub count: u64,
    /// Lines without any number after the last row, at most [`BadRows::TRAILER`], or a last line
    /// that was cut short: the end of a recording, not held against the log.
    pub trailer: u64,
    /// The first [`BadRows::SHOWN`].
    pub first: Vec<BadRow>,
}

impl BadRows {
    pub const SHOWN: usize = 20;
    pub const TRAILER: u64 = 20;
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRow {
    /// Counted from 1.
    pub line: u64,
    pub why: String,
    /// The line, shortened.
    pub text: String,
}

impl fmt::Display for BadRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}: {:?}", self.line, self.why, self.text)
    }
}

#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    #[error("the log cannot be read: {0}")]
    Io(#[from] io::Error),
    #[error("the log has no rows from line {first_line} on; it ends after line {lines}")]
    Empty { first_line: u32, lines: u64 },
    #[error("line {line} has {}, expected {what} in column {column}: {text:?}", counted(*.cells))]
    NoColumn {
        line: u64,
        column: u32,
        /// What the layout says of the column.
        what: String,
        cells: u32,
        text: String,
    },
    #[error("{}", too_many(.rows, .bad))]
    TooManyBad { rows: u64, bad: BadRows },
    #[error("no row lies {}; the log's rows end at {last_s} s", within(.section))]
    EmptySection { section: Section, last_s: f64 },
    /// The layout cannot be followed, whatever the log.
    #[error("layout.{path}: {found}, expected {expected}")]
    Layout {
        path: String,
        found: String,
        expected: String,
    },
}

fn too_many(rows: &u64, bad: &BadRows) -> String {
    let held = bad.count - bad.trailer;
    let all = rows + held;
    let mut words = format!(
        "{held} of {all} rows cannot be read ({:.1} %, at most 1 % is accepted)",
        held as f64 / all as f64 * 100.0
    );
    for row in bad.first.iter().take(3) {
        words += &format!("; {row}");
    }
    words
}

fn within(section: &Section) -> String {
    match (section.from_s, section.to_s) {
        (Some(from_s), Some(to_s)) => format!("from {from_s} s to {to_s} s"),
        (Some(from_s), None) => format!("from {from_s} s on"),
        (None, Some(to_s)) => format!("up to {to_s} s"),
        (None, None) => "in the log".to_owned(),
    }
}

/// Reads a section of a log as traces, in bounded memory. `bytes` may be compressed by gzip;
/// `progress` is told how many of them have been taken. Reading stops at the end of the section.
pub fn read(
    bytes: impl Read,
    layout: &Layout,
    section: Section,
    progress: &mut dyn FnMut(u64),
) -> Result<Reading, ReadError> {
    let mut gatherer = Gatherer::new(layout.columns.len());
    let mut ends: Option<(f64, f64)> = None;
    let told = rows(bytes, layout, section, progress, |t_s, values| {
        gatherer.push(t_s, values);
        ends = Some((ends.map_or(t_s, |(first, _)| first), t_s));
        true
    })?;
    Ok(Reading {
        rows: told.rows,
        bad: told.bad,
        starts_at: told.starts_at,
        duration_s: ends.map_or(0.0, |(first, last)| last - first),
        columns: named(layout, gatherer.traces()),
    })
}

/// Reads the first `most` samples of a section.
pub fn samples(
    bytes: impl Read,
    layout: &Layout,
    section: Section,
    most: usize,
) -> Result<Samples, ReadError> {
    let mut t_s = Vec::new();
    let mut columns = vec![Vec::new(); layout.columns.len()];
    let mut more = false;
    rows(bytes, layout, section, &mut |_| {}, |time, values| {
        if t_s.len() == most {
            more = true;
            return false;
        }
        t_s.push(time);
        for (column, value) in columns.iter_mut().zip(values) {
            column.push(*value);
        }
        true
    })?;
    Ok(Samples {
        t_s,
        columns: named(layout, columns),
        more,
    })
}

fn named<T>(layout: &Layout, columns: Vec<T>) -> Vec<(LogQuantity, Option<String>, T)> {
    layout
        .columns
        .iter()
        .zip(columns)
        .map(|(column, held)| (column.quantity, column.port.clone(), held))
        .collect()
}

/// What is known of a section besides its samples.
struct Told {
    rows: u64,
    bad: BadRows,
    starts_at: Option<String>,
}

/// Rows without a good one before the layout is given up.
const GIVEN_UP_AFTER: u64 = 1000;

/// Calls `take` with time and values of every row of the section, until it says that it has enough.
fn rows(
    bytes: impl Read,
    layout: &Layout,
    section: Section,
    progress: &mut dyn FnMut(u64),
    mut take: impl FnMut(f64, &[f64]) -> bool,
) -> Result<Told, ReadError> {
    let plan = Plan::of(layout)?;
    let mut lines = Lines::new(bytes, layout.encoding, progress)?;
    let mut timer = Timer::new(layout);
    let mut row = Row::new(layout.columns.len());
    let mut order = Order::new(layout.columns.len());
    let mut bad = Bad::new(layout.encoding);
    let mut usual_cells: Option<Cells> = None;
    let mut good: u64 = 0;
    let mut rows: u64 = 0;
    let mut enough = false;
    let mut refused = false;
    let first_line = u64::from(layout.first_line);

    let mut emit = |t_s: f64, values: &[f64]| {
        if section.ends_before(t_s) {
            enough = true;
        } else if !section.begins_after(t_s) && !enough {
            refused = !take(t_s, values);
            enough = refused;
            rows += u64::from(!refused);
        }
        !enough
    };

    loop {
        let number = lines.number() + 1;
        let (line, ended) = match lines.next()? {
            None => break,
            Some(_) if number < first_line => continue,
            Some(Line::Whole { text, .. }) if text.trim_ascii().is_empty() => continue,
            Some(Line::Whole { text, ended }) => (text, ended),
            Some(Line::TooLong(beginning)) => {
                bad.add_row(number, beginning, Why::TooLong, false);
                timer.skip();
                continue;
            }
        };
        let judged = plan
            .cells(line, &mut row)
            .and_then(|found| match usual_cells {
                Some(usual) if !usual.agrees(found) => Err(Why::Count {
                    found: found.all,
                    usual: usual.all,
                }),
                _ => Ok(found),
            })
            .and_then(|found| {
                let t_s = timer.since_first(&row);
                let going_on = order.take(t_s, number, line, &row.values, &mut bad, &mut emit)?;
                Ok((found, going_on))
            });
        match judged {
            Ok((found, going_on)) => {
                usual_cells.get_or_insert(found);
                good += 1;
                bad.rows_go_on(order.latest().is_some_and(|t_s| section.begins_after(t_s)));
                if !going_on {
                    break;
                }
            }
            Err(why) => {
                let cut_short = !ended && matches!(why, Why::Missing { .. } | Why::Count { .. });
                let in_trailer = cut_short || !row.timed;
                if good == 0
                    && bad.kept.count == 0
                    && let Why::Missing { cells, column, .. } = why
                {
                    bad.missing = Some((number, column, cells, text::shown(line, layout.encoding)));
                }
                bad.add_row(number, line, why, in_trailer);
                timer.skip();
                if good == 0 && bad.kept.count >= GIVEN_UP_AFTER {
                    break;
                }
            }
        }
    }
    order.end(&mut bad, &mut emit);
    let last_s = order.latest().unwrap_or(0.0);
    if good == 0 {
        if let Some((line, column, cells, text)) = bad.missing {
            return Err(ReadError::NoColumn {
                line,
                column,
                what: plan.words_of(column),
                cells,
                text,
            });
        }
        let held = bad.kept.count;
        if held == 0 {
            return Err(ReadError::Empty {
                first_line: layout.first_line,
                lines: lines.number(),
            });
        }
        return Err(ReadError::TooManyBad {
            rows: 0,
            bad: bad.kept,
        });
    }
    if !enough {
        bad.kept.trailer = bad.tail.filter(|n| *n <= BadRows::TRAILER).unwrap_or(0);
    }
    let kept = bad.kept;
    let held = kept.count - kept.trailer;
    if held * 100 > rows + held {
        return Err(ReadError::TooManyBad { rows, bad: kept });
    }
    if rows == 0 && !refused {
        return Err(ReadError::EmptySection { section, last_s });
    }
    Ok(Told {
        rows,
        bad: kept,
        starts_at: timer.starts_at(),
    })
}

/// Why a row is bad, put into words only if it is shown.
enum Why {
    TooLong,
    Missing {
        column: u32,
        cells: u32,
        what: String,
    },
    Unreadable {
        column: u32,
        what: String,
        cell: String,
    },
    Count {
        found: u32,
        usual: u32,
    },
    Backwards {
        t_s: f64,
        after_s: f64,
    },
    StandsStill {
        t_s: f64,
    },
    LeapsAhead {
        t_s: f64,
        next_s: f64,
    },
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Why::TooLong => write!(f, "longer than {} bytes", text::LONGEST_LINE),
            Why::Missing {
                column,
                cells,
                what,
            } => {
                write!(f, "{}, expected {what} in column {column}", counted(*cells))
            }
            Why::Unreadable { column, what, cell } => {
                write!(f, "column {column}: {cell:?}, expected {what}")
            }
            Why::Count { found, usual } => {
                write!(
                    f,
                    "{}, expected {usual} as in the first row",
                    counted(*found)
                )
            }
            Why::Backwards { t_s, after_s } => {
                write!(f, "time goes back to {t_s:.3} s after {after_s:.3} s")
            }
            Why::StandsStill { t_s } => {
                write!(f, "time stands still at {t_s:.3} s")
            }
            Why::LeapsAhead { t_s, next_s } => {
                write!(
                    f,
                    "time leaps to {t_s:.3} s, the next row is at {next_s:.3} s"
                )
            }
        }
    }
}

fn counted(cells: u32) -> String {
    match cells {
        1 => "1 cell".to_owned(),
        more => format!("{more} cells"),
    }
}

struct Bad {
    kept: BadRows,
    encoding: Encoding,
    /// Bad rows since the last good one, while all of them could be a trailer.
    tail: Option<u64>,
    /// The very first row lacked a column: line, column, cells, text.
    missing: Option<(u64, u32, u32, String)>,
}

impl Bad {
    fn new(encoding: Encoding) -> Bad {
        Bad {
            kept: BadRows::default(),
            encoding,
            tail: Some(0),
            missing: None,
        }
    }

    /// After a good row: is it before the section?
    #[inline]
    fn rows_go_on(&mut self, outside: bool) {
        self.tail = Some(0);
        if outside && self.kept.count > 0 {
            self.kept = BadRows::default();
        }
    }

    fn add_row(&mut self, line: u64, text: &[u8], why: Why, in_trailer: bool) {
        self.tail = self.tail.filter(|_| in_trailer).map(|count| count + 1);
        self.add(line, text, why);
    }

    fn add(&mut self, line: u64, text: &[u8], why: Why) {
        self.kept.count += 1;
        if self.kept.first.len() < BadRows::SHOWN {
            self.kept.first.push(BadRow {
                line,
                why: why.to_string(),
                text: text::shown(text, self.encoding),
            });
        }
    }
}

/// How many cells a row has.
#[derive(Clone, Copy)]
struct Cells {
    all: u32,
    /// Without the empty ones at its end.
    filled: u32,
}

impl Cells {
    /// May a row have `found` cells where the first one has these? Empty cells at the end do not
    /// count.
    fn agrees(self, found: Cells) -> bool {
        found.filled <= self.all && found.all >= self.filled
    }
}

/// What a column of the layout gives to a row.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Use {
    Time,
    Date,
    Value(usize),
}

/// The mapped columns from left to right.
struct Plan<'a> {
    layout: &'a Layout,
    delimiter: u8,
    mark: u8,
    wanted: Vec<Wanted>,
    scales: Vec<Scale>,
}

/// No quantity is greater in its unit. Instruments write 9.9E+37 for what is beyond their range.
const GREATEST: f64 = 1e12;

/// No time is greater in the unit of its column: microseconds since 1970 are below.
const GREATEST_TIME: f64 = 1e16;

struct Wanted {
    /// Counted from 0.
    column: u32,
    what: Use,
    /// A plain number is what it should be.
    is_number: bool,
}

/// One row as it is read.
struct Row {
    time: RawTime,
    date: Option<i64>,
    values: Vec<f64>,
    /// Did it tell its time, or without a time column anything at all?
    timed: bool,
}

#[derive(Clone, Copy)]
enum RawTime {
    /// In the unit of the column.
    Number(f64),
    /// In nanoseconds, since midnight or 1970.
    Clock {
        nanoseconds: i64,
        utc: bool,
    },
    Index,
}

impl Row {
    fn new(values: usize) -> Row {
        Row {
            time: RawTime::Index,
            date: None,
            values: vec![0.0; values],
            timed: false,
        }
    }
}

/// From the number in a cell to the quantity.
#[derive(Clone, Copy)]
enum Scale {
    By(f64),
    /// A division keeps 143 mW what people write as 0.143 W.
    Through(f64),
}

impl Scale {
    fn of(factor: f64) -> Scale {
        let through = (1.0 / factor).round();
        if factor.abs() < 1.0 && through.is_finite() && 1.0 / through == factor {
            Scale::Through(through)
        } else {
            Scale::By(factor)
        }
    }

    #[inline]
    fn of_number(self, number: f64) -> f64 {
        match self {
            Scale::By(factor) => number * factor,
            Scale::Through(through) => number / through,
        }
    }
}

impl<'a> Plan<'a> {
    fn of(layout: &'a Layout) -> Result<Plan<'a>, ReadError> {
        let refuse = |path: String, found: String, expected: &str| ReadError::Layout {
            path,
            found,
            expected: expected.to_owned(),
        };
        let mark = number::mark(layout.decimal);
        let delimiter = text::delimiter_byte(layout.delimiter);
        let is_number = |what: Use| match (what, layout.time.form) {
            // Decimal commas between commas stand in quotes.
            _ if mark == delimiter => false,
            (Use::Value(_), _) => true,
            (Use::Date, _) | (Use::Time, TimeForm::Clock | TimeForm::DateTime) => false,
            (Use::Time, _) => true,
        };
        let mut wanted = Vec::new();
        let mut want = |path: String, column: u32, what: Use| match column.checked_sub(1) {
            Some(column) => {
                wanted.push(Wanted {
                    column,
                    what,
                    is_number: is_number(what),
                });
                Ok(())
            }
            None => Err(refuse(path, "0".into(), "a column counted from 1")),
        };
        let time = &layout.time;
        match (time.form, time.column) {
            (TimeForm::Index, _) => {
                if !time.interval_s.is_some_and(|s| s > 0.0 && s.is_finite()) {
                    let found = time.interval_s.map_or("missing".into(), |s| s.to_string());
                    let expected = "the seconds between rows, above 0";
                    return Err(refuse("time.interval_s".into(), found, expected));
                }
            }
            (_, Some(column)) => want("time.column".into(), column, Use::Time)?,
            (_, None) => {
                let expected = "the column of the time";
                return Err(refuse("time.column".into(), "missing".into(), expected));
            }
        }
        if let (TimeForm::Clock, Some(column)) = (time.form, time.date_column) {
            want("time.date_column".into(), column, Use::Date)?;
        }
        for (i, column) in layout.columns.iter().enumerate() {
            want(format!("columns[{i}].column"), column.column, Use::Value(i))?;
        }
        wanted.sort_by_key(|w| w.column);
        let scales = layout
            .columns
            .iter()
            .map(|c| Scale::of(c.factor.unwrap_or(1.0)))
            .collect();
        Ok(Plan {
            layout,
            delimiter,
            mark,
            wanted,
            scales,
        })
    }

    /// What the layout expects in a column counted from 1.
    fn words_of(&self, column: u32) -> String {
        let wanted = self.wanted.iter().find(|w| w.column + 1 == column);
        wanted.map_or_else(|| "a cell".to_owned(), |w| self.words(w.what))
    }

    fn words(&self, what: Use) -> String {
        match what {
            Use::Time => match self.layout.time.form {
                TimeForm::Clock => "a clock time such as 12:30:05".to_owned(),
                TimeForm::DateTime => "a date and time such as 2026-09-01 12:30:05".to_owned(),
                _ => format!("a time as {}", self.number_words()),
            },
            Use::Date => "a date".to_owned(),
            Use::Value(i) => {
                let LogColumn { quantity, port, .. } = &self.layout.columns[i];
                let of_port = port
                    .as_ref()
                    .map(|p| format!(" of port {p}"))
                    .unwrap_or_default();
                format!(
                    "{}{of_port} as {}",
                    heading::words(*quantity),
                    self.number_words()
                )
            }
        }
    }

    fn number_words(&self) -> &'static str {
        if self.mark == b',' {
            "a number with a decimal comma"
        } else {
            "a decimal number"
        }
    }

    /// Reads the mapped cells of a line into `row`.
    #[inline]
    fn cells(&self, line: &[u8], row: &mut Row) -> Result<Cells, Why> {
        row.timed = false;
        let line = match self.layout.delimiter {
            Delimiter::Spaces => line.trim_ascii(),
            _ => line,
        };
        let mut fault = None;
        // Begin and number, from 0, of the cell that comes next; no begin: the line is over.
        let mut next = Some(0);
        let mut column = 0;
        let mut last = 0;
        for wanted in &self.wanted {
            if wanted.column < column {
                // Two uses of one column.
                next = Some(last);
                column = wanted.column;
            }
            while column < wanted.column
                && let Some(at) = next
            {
                next = self.after_cell(line, at);
                column += 1;
            }
            let Some(begin) = next else {
                return Err(fault.unwrap_or_else(|| Why::Missing {
                    column: wanted.column + 1,
                    cells: column,
                    what: self.words(wanted.what),
                }));
            };
            last = begin;
            column += 1;
            let mut at = begin;
            while line.get(at) == Some(&b' ') {
                at += 1;
            }
            if wanted.is_number
                && let Some((number, length)) = number::leading_at(line, at, self.mark)
                && line.get(at + length).is_none_or(|b| *b == self.delimiter)
                && self.note(wanted.what, number, row)
            {
                next = text::after_delimiter(line, at + length, self.delimiter);
                continue;
            }
            let (end, cell) = text::cell(line, begin, self.delimiter);
            if self.understand(wanted.what, &cell, row).is_none() && fault.is_none() {
                fault = Some(Why::Unreadable {
                    column: wanted.column + 1,
                    what: self.words(wanted.what),
                    cell: text::shown(&cell, self.layout.encoding),
                });
            }
            next = text::after_delimiter(line, end, self.delimiter);
        }
        if let Some(fault) = fault {
            return Err(fault);
        }
        // The mapped cells are filled, whatever follows.
        let mut cells = Cells {
            all: column,
            filled: column,
        };
        while let Some(at) = next {
            next = self.after_cell(line, at);
            cells.all += 1;
            let end = next.map_or(line.len(), |n| n - 1);
            if !line[at..end].trim_ascii().is_empty() {
                cells.filled = cells.all;
            }
        }
        Ok(cells)
    }

    /// Where the cell after the one at `at` begins.
    #[inline]
    fn after_cell(&self, line: &[u8], at: usize) -> Option<usize> {
        let rest = &line[at..];
        let quoted = match rest.first() {
            Some(b'"') => true,
            Some(b) if text::is_blank(*b, self.delimiter) => {
                rest.trim_ascii_start().first() == Some(&b'"')
            }
            _ => false,
        };
        let end = if quoted {
            text::cell(line, at, self.delimiter).0
        } else {
            let end = rest.iter().position(|b| *b == self.delimiter);
            at + end.unwrap_or(rest.len())
        };
        text::after_delimiter(line, end, self.delimiter)
    }

    /// Takes a plain number to where it is used; false if it is too large for anything.
    #[inline]
    fn note(&self, what: Use, number: f64, row: &mut Row) -> bool {
        match what {
            Use::Value(i) => {
                let value = self.scales[i].of_number(number);
                row.values[i] = value;
                row.timed |= self.layout.time.form == TimeForm::Index;
                value.abs() <= GREATEST
            }
            _ => {
                row.time = RawTime::Number(number);
                row.timed = number.abs() <= GREATEST_TIME;
                row.timed
            }
        }
    }

    /// Takes whatever a cell holds to where it is used.
    fn understand(&self, what: Use, cell: &[u8], row: &mut Row) -> Option<()> {
        let time = &self.layout.time;
        match what {
            Use::Value(i) => {
                let (number, length) = number::leading(cell, self.mark)?;
                if length == cell.len() {
                    return self.note(what, number, row).then_some(());
                }
                // A cell that tells its unit is taken at its word: ranges change.
                let unit = text::decoded(&cell[length..], self.layout.encoding);
                let factor = heading::factor_to(self.layout.columns[i].quantity, &unit)?;
                row.values[i] = Scale::of(factor).of_number(number);
                (row.values[i].abs() <= GREATEST).then_some(())
            }
            Use::Date => {
                row.date = Some(clock::date(cell, time.date_order)?);
                Some(())
            }
            Use::Time => {
                row.time = match time.form {
                    TimeForm::Clock => RawTime::Clock {
                        nanoseconds: clock::clock(cell)?,
                        utc: false,
                    },
                    TimeForm::DateTime => {
                        let (nanoseconds, utc) = clock::date_time(cell, time.date_order)?;
                        RawTime::Clock { nanoseconds, utc }
                    }
                    _ => {
                        let number = number::whole(cell, self.mark)?;
                        return self.note(what, number, row).then_some(());
                    }
                };
                row.timed = true;
                Some(())
            }
        }
    }
}

/// From the time in a row to seconds since the first row.
struct Timer {
    form: TimeForm,
    interval_s: f64,
    with_date: bool,
    first: Option<RawTime>,
    /// Nanoseconds of the midnights passed, with a clock without date.
    midnights: i64,
    last_clock: i64,
    index: u64,
}

/// Seconds since 1970 that a number may mean: 2001 to 2100.
const EPOCH_SECONDS: std::ops::Range<f64> = 1e9..4.1e9;

impl Timer {
    fn new(layout: &Layout) -> Timer {
        Timer {
            form: layout.time.form,
            interval_s: layout.time.interval_s.unwrap_or(1.0),
            with_date: layout.time.date_column.is_some() || layout.time.form == TimeForm::DateTime,
            first: None,
            midnights: 0,
            last_clock: 0,
            index: 0,
        }
    }

    /// A row that cannot be read takes its time all the same.
    fn skip(&mut self) {
        self.index += u64::from(self.first.is_some());
    }

    #[inline]
    fn since_first(&mut self, row: &Row) -> f64 {
        if self.form == TimeForm::Index {
            self.first = Some(RawTime::Index);
            self.index += 1;
            return (self.index - 1) as f64 * self.interval_s;
        }
        let mut time = row.time;
        if let RawTime::Clock { nanoseconds, .. } = &mut time {
            if let Some(days) = row.date {
                *nanoseconds += days * clock::DAY;
            } else if !self.with_date {
                *nanoseconds += self.midnights_before(*nanoseconds);
            }
        }
        let first = *self.first.get_or_insert(time);
        match (first, time) {
            (RawTime::Number(first), RawTime::Number(now)) => {
                let passed = now - first;
                match self.form {
                    TimeForm::Milliseconds => passed / 1e3,
                    TimeForm::Microseconds => passed / 1e6,
                    TimeForm::Minutes => passed * 60.0,
                    TimeForm::Hours => passed * 3600.0,
                    _ => passed,
                }
            }
            (
                RawTime::Clock {
                    nanoseconds: first, ..
                },
                RawTime::Clock {
                    nanoseconds: now, ..
                },
            ) => (now - first) as f64 / 1e9,
            _ => 0.0,
        }
    }

    /// Nanoseconds of the midnights that were passed up to a time of day. Half a day back is a
    /// midnight, less is a fault; around midnight a time may go back over it.
    fn midnights_before(&mut self, of_day: i64) -> i64 {
        let minute = 60 * clock::SECOND;
        if self.midnights > 0 && self.last_clock < minute && of_day > clock::DAY - minute {
            return self.midnights - clock::DAY;
        }
        if self.first.is_some() && of_day < self.last_clock - clock::DAY / 2 {
            self.midnights += clock::DAY;
        }
        self.last_clock = of_day;
        self.midnights
    }

    fn starts_at(&self) -> Option<String> {
        match self.first? {
            RawTime::Clock { nanoseconds, utc } if self.with_date => clock::iso(nanoseconds, utc),
            RawTime::Number(number) => {
                let seconds = match self.form {
                    TimeForm::Seconds => number,
                    TimeForm::Milliseconds => number / 1e3,
                    TimeForm::Microseconds => number / 1e6,
                    _ => return None,
                };
                if !EPOCH_SECONDS.contains(&seconds) {
                    return None;
                }
                let milliseconds = (seconds * 1e3).round() as i64;
                clock::iso(milliseconds * 1_000_000, true)
            }
            _ => None,
        }
    }
}

/// Rows that may share one time before time is said to stand still.
const MOST_AT_ONCE: usize = 4096;

/// Brings rows into an order of rising time.
///
/// A logger whose clock is coarser than its rate writes several rows with one time: they are spread
/// evenly over the time up to the next one. A time that goes back by no more than the last step
/// forward is jitter and counts as the same time. A row whose time leaps ahead of the rows around it
/// is bad, and so is one whose time goes back further.
struct Order {
    width: usize,
    /// The rows of the latest time, one after the other.
    values: Vec<f64>,
    t_s: f64,
    count: usize,
    /// Time before that, if any.
    before_s: Option<f64>,
    /// Last step forward between rows, in seconds.
    step_s: Option<f64>,
    was_long: bool,
    /// Line number of the first row of the latest time.
    number: u64,
    /// Line number and text of the latest row, if its time leaps.
    leap: Option<(u64, Vec<u8>)>,
}

impl Order {
    fn new(width: usize) -> Order {
        Order {
            width,
            values: Vec::new(),
            t_s: 0.0,
            count: 0,
            before_s: None,
            step_s: None,
            was_long: false,
            number: 0,
            leap: None,
        }
    }

    fn latest(&self) -> Option<f64> {
        (self.count > 0).then_some(self.t_s)
    }

    /// Takes a row; gives back whether more are wanted.
    #[inline]
    fn take(
        &mut self,
        t_s: f64,
        number: u64,
        line: &[u8],
        values: &[f64],
        bad: &mut Bad,
        emit: &mut impl FnMut(f64, &[f64]) -> bool,
    ) -> Result<bool, Why> {
        if self.count == 0 {
            self.hold(t_s, number, values);
            return Ok(true);
        }
        if t_s > self.t_s {
            let going_on = self.release(t_s, emit);
            let step = t_s - self.t_s;
            self.leap = match self.step_s {
                Some(usual) if step > Trace::GAP * usual => Some((number, line.to_vec())),
                _ => None,
            };
            self.before_s = Some(self.t_s);
            self.hold(t_s, number, values);
            return Ok(going_on);
        }
        if self.t_s - t_s <= self.step_s.unwrap_or(0.0) {
            if self.count == MOST_AT_ONCE {
                return Err(Why::StandsStill { t_s });
            }
            self.values.extend_from_slice(values);
            self.count += 1;
            return Ok(true);
        }
        if let (Some((leaping, text)), Some(before_s)) = (&self.leap, self.before_s)
            && self.count == 1
            && t_s > before_s
        {
            let why = Why::LeapsAhead {
                t_s: self.t_s,
                next_s: t_s,
            };
            bad.add(*leaping, text, why);
            self.leap = None;
            self.hold(t_s, number, values);
            return Ok(true);
        }
        Err(Why::Backwards {
            t_s,
            after_s: self.t_s,
        })
    }

    #[inline]
    fn hold(&mut self, t_s: f64, number: u64, values: &[f64]) {
        self.values.clear();
        self.values.extend_from_slice(values);
        self.t_s = t_s;
        self.number = number;
        self.count = 1;
    }

    /// Gives away the rows of the latest time, as the next one is known.
    #[inline]
    fn release(&mut self, next_s: f64, emit: &mut impl FnMut(f64, &[f64]) -> bool) -> bool {
        let mut step = (next_s - self.t_s) / self.count as f64;
        if self.count == 1 {
            let going_on = emit(self.t_s, &self.values);
            self.learn(step);
            return going_on;
        }
        // Over a gap they do not spread.
        if let Some(usual) = self.step_s
            && step > Trace::GAP * usual
        {
            self.learn(step);
            step = usual;
        } else {
            self.learn(step);
        }
        self.spread(step, emit)
    }

    /// A step that is far longer than usual is a gap, unless the next one is as well.
    #[inline]
    fn learn(&mut self, step: f64) {
        let is_long = self.step_s.is_some_and(|usual| step > Trace::GAP * usual);
        if !is_long || self.was_long {
            self.step_s = Some(step);
        }
        self.was_long = is_long;
    }

    fn spread(&mut self, step: f64, emit: &mut impl FnMut(f64, &[f64]) -> bool) -> bool {
        for i in 0..self.count {
            let values = &self.values[i * self.width..(i + 1) * self.width];
            if !emit(self.t_s + i as f64 * step, values) {
                return false;
            }
        }
        true
    }

    /// Gives away the last rows. Without any step their times cannot be told apart: the first of
    /// them counts, the others are bad.
    fn end(&mut self, bad: &mut Bad, emit: &mut impl FnMut(f64, &[f64]) -> bool) {
        match self.step_s {
            _ if self.count == 0 => {}
            Some(step) => {
                self.spread(step, emit);
            }
            None => {
                emit(self.t_s, &self.values[..self.width]);
                for i in 1..self.count {
                    bad.add(
                        self.number + i as u64,
                        b"",
                        Why::StandsStill { t_s: self.t_s },
                    );
                }
            }
        }
    }
}
