//! Printable reports: what a unit's page or a class's page says, put in the order of a test report
//! and set on paper. The figures are the page's own (`Sheet`), digit for digit.
//!
//! `unit` has the report of one unit, `class` that of a class. `pages::report` serves them,
//! `brickbook report` writes them into a file.

mod bench_work;
mod class;
mod content_list;
mod results;
mod unit;

pub use class::{BEST, ClassReport, ClassUnit, class_document};
pub use unit::{Photos, Publication, RevisionLine, UnitReport, unit_document};

use crate::{
    chart::{ChartTable, wide_of},
    config::Tester,
    paper::{Block, Column, Figure, Ink, Made, Paper, Row, Style, Table, Text},
};
use time::OffsetDateTime;

/// What a report says of where it comes from; the same for every report of a site.
#[derive(Debug, Clone, PartialEq)]
pub struct Issuer {
    pub site_name: String,
    /// `https://host`, where the site knows it.
    pub public_url: Option<String>,
    pub tester: Tester,
    /// The data is invented.
    pub demo: bool,
    pub paper: Paper,
}

impl Issuer {
    /// An address of the site as a reader on paper can use it.
    fn address(&self, path: &str) -> String {
        match &self.public_url {
            Some(origin) => format!("{origin}{path}"),
            None => format!("{path} of this site"),
        }
    }

    /// Tester, or else the site.
    fn author(&self) -> String {
        let name = self.tester.name.clone();
        name.unwrap_or_else(|| self.site_name.clone())
    }
}

/// Name and version of this program.
pub const PROGRAM: &str = concat!("Brickbook ", env!("CARGO_PKG_VERSION"));

/// In place of what was not measured or is not known.
const NOTHING: &str = "–";

/// Stands on every page.
const FOOT: &str =
    "Measured by us; not a certification. Results relate only to the samples tested.";

const DEMO_NOTICE: &str =
    "This is a demonstration: the data is invented and so are the makers. Nothing was measured.";

const CAUTION: &str = "Mains voltage is dangerous. These measurements were made with equipment for that purpose. Don’t open an adapter, and leave work on mains wiring to licensed people under the rules of your place.";

fn made(moment: OffsetDateTime) -> Made {
    let moment = moment.to_offset(time::UtcOffset::UTC);
    Made {
        year: u16::try_from(moment.year()).unwrap_or(1970),
        month: u8::from(moment.month()),
        day: moment.day(),
        hour: moment.hour(),
        minute: moment.minute(),
        second: moment.second(),
    }
}

fn heading(title: impl Into<String>) -> Block {
    Block::Heading(2, title.into())
}

fn subheading(title: impl Into<String>) -> Block {
    Block::Heading(3, title.into())
}

fn paragraph(text: impl Into<Text>) -> Block {
    Block::Paragraph(text.into())
}

fn fine(text: impl Into<Text>) -> Block {
    Block::Fine(text.into())
}

/// Text, or the sign for nothing. A figure keeps its uncertainty on its line.
fn cell(text: Option<impl Into<String>>) -> Text {
    match text {
        Some(text) => Text::from(text.into().replace(" ± ", "\u{a0}±\u{a0}")),
        None => Text::new().faint(NOTHING),
    }
}

/// Text, or words for its absence.
fn cell_or(text: Option<impl Into<String>>, absent: &str) -> Text {
    match text {
        Some(text) => Text::from(text.into()),
        None => Text::new().faint(absent),
    }
}

/// Sign and word of a result, in its colour as well.
fn mark(outcome: &str, sign: &str, word: &str) -> Text {
    let ink = match outcome {
        "pass" | "conditional-pass" | "agrees" | "ok" => Ink::Good,
        "fail" | "conditional-fail" | "contradicts" => Ink::Bad,
        _ => Ink::Plain,
    };
    let style = Style {
        bold: true,
        ink,
        ..Style::default()
    };
    let text = if sign.is_empty() {
        word.to_owned()
    } else {
        format!("{sign}\u{a0}{word}")
    };
    Text::new().with(text, style)
}

/// With a capital letter, as at the beginning of a sentence.
fn sentence(words: &str) -> String {
    let mut rest = words.chars();
    match rest.next() {
        Some(first) => first.to_uppercase().chain(rest).collect(),
        None => String::new(),
    }
}

fn facts<'a>(facts: impl IntoIterator<Item = (&'a str, String)>) -> Block {
    Block::Facts(
        facts
            .into_iter()
            .map(|(label, text)| (label.to_owned(), Text::from(text)))
            .collect(),
    )
}

fn figure(title: &str, both: &str, caption: &str, subject: &str) -> Block {
    Block::Figure(Figure {
        title: title.to_owned(),
        svg: wide_of(both).to_owned(),
        alt: format!("{title}: {subject}. The same numbers stand in a table."),
        caption: caption.to_owned(),
    })
}

/// The numbers of a chart.
fn chart_table(table: &ChartTable) -> Block {
    Block::Table(Table {
        caption: table.caption.clone(),
        columns: table
            .columns
            .iter()
            .enumerate()
            .map(|(n, title)| match n {
                0 => Column::words(title),
                _ => Column::numbers(title),
            })
            .collect(),
        rows: table
            .rows
            .iter()
            .map(|row| Row::new(row.iter().map(|text| cell(Some(text)))))
            .collect(),
    })
}

/// Charts over the same lines and loads as one table.
fn merged_tables(tables: &[&ChartTable]) -> Vec<ChartTable> {
    const KEY: usize = 3;
    let mut merged: Vec<ChartTable> = Vec::new();
    for table in tables {
        let like = merged.last_mut().filter(|last| {
            table.columns.len() > KEY
                && last.columns.len() > KEY
                && last.columns[..KEY] == table.columns[..KEY]
        });
        let Some(last) = like else {
            merged.push((*table).clone());
            continue;
        };
        let before = last.columns.len();
        last.columns.extend_from_slice(&table.columns[KEY..]);
        for row in &table.rows {
            match last
                .rows
                .iter_mut()
                .find(|known| known.len() == before && known[..KEY] == row[..KEY])
            {
                Some(known) => known.extend_from_slice(&row[KEY..]),
                None => {
                    let mut new = row[..KEY].to_vec();
                    new.resize(before, NOTHING.to_owned());
                    new.extend_from_slice(&row[KEY..]);
                    last.rows.push(new);
                }
            }
        }
        for row in &mut last.rows {
            row.resize(last.columns.len(), NOTHING.to_owned());
        }
    }
    merged
}

/// A table of words alone.
fn word_table(caption: &str, columns: &[&str], rows: Vec<Row>) -> Block {
    Block::Table(Table {
        caption: caption.to_owned(),
        columns: columns.iter().map(|title| Column::words(*title)).collect(),
        rows,
    })
}
