//! Printable documents: headings, paragraphs, tables, figures and photos flow onto pages, and the
//! pages become a PDF. Knows nothing of adapters; it uses nothing of ours but the fonts beside it.
//!
//! A [`Document`] is a list of [`Block`]s. [`pdf`] lays it out and writes it:
//!
//! 1. every block becomes a column of *pieces* (`piece`): the lines of a paragraph, the rows of
//!    a table, a figure; a piece is never divided and may ask to stay with the next one;
//! 2. the pieces are put on pages (`pages`), so that the number of pages is known;
//! 3. the pages are drawn with krilla (`draw`), with headings, tables and figures as structure
//!    that a screen reader follows, bookmarks, and "page n of m".
//!
//! The same document gives the same bytes: there is no clock in here, and no chance.

mod draw;
mod font;
mod lines;
mod pages;
mod photo;
mod piece;
mod table;

pub use photo::{Photo, fitted_jpeg};
pub use table::{Align, Column, Row, Table};

/// Size of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    #[default]
    A4,
    Letter,
}

impl Paper {
    /// `a4` or `letter`.
    pub fn from_id(id: &str) -> Option<Paper> {
        match id {
            "a4" => Some(Paper::A4),
            "letter" => Some(Paper::Letter),
            _ => None,
        }
    }

    /// Width and height in points (1/72 inch), upright.
    pub fn size(self) -> (f32, f32) {
        match self {
            Paper::A4 => (595.28, 841.89),
            Paper::Letter => (612.0, 792.0),
        }
    }
}

/// Day and time in UTC that a document says it was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Made {
    pub year: u16,
    /// 1..=12
    pub month: u8,
    /// 1..=31
    pub day: u8,
    pub hour: u8,
    pub minute: u8,
    pub second: u8,
}

/// What is to be printed.
pub struct Document {
    pub paper: Paper,
    /// Shown by readers as the window's title.
    pub title: String,
    pub author: String,
    pub subject: String,
    /// Of the program that made it.
    pub creator: String,
    pub made: Option<Made>,
    /// Top of every page, left and right.
    pub head: (String, String),
    /// Bottom of every page, left of "page n of m".
    pub foot: String,
    /// A word across every page, such as DRAFT.
    pub mark: Option<String>,
    /// Style sheet (CSS) of the figures.
    pub figure_style: String,
    pub blocks: Vec<Block>,
}

/// A part of a document. Everything but photos is divided over pages where it must be.
pub enum Block {
    /// Level 1 (the title) to 3; never the last thing on a page.
    Heading(u8, String),
    Paragraph(Text),
    /// Small print.
    Fine(Text),
    /// In a tinted box.
    Notice(Text),
    List(Vec<Text>),
    /// A list whose items have labels of their own, such as numbers: label, text.
    Labelled(Vec<(String, Text)>),
    /// Named properties.
    Facts(Vec<(String, Text)>),
    /// Large figures side by side: label, value.
    Headline(Vec<(String, Text)>),
    Table(Table),
    Figure(Figure),
    /// Two beside each other.
    Photos(Vec<std::rc::Rc<Photo>>),
    /// What follows stands on a new page.
    NewPage,
}

/// A drawing.
pub struct Figure {
    pub title: String,
    pub svg: String,
    /// What it shows, for those who cannot see it.
    pub alt: String,
    pub caption: String,
}

/// How a stretch of text looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    pub bold: bool,
    /// Nine tenths of the size around it.
    pub small: bool,
    /// Six tenths.
    pub smaller: bool,
    pub ink: Ink,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ink {
    #[default]
    Plain,
    Faint,
    Good,
    Bad,
    Accent,
}

/// Text in several styles. A line feed begins a new line.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Text {
    spans: Vec<(String, Style)>,
}

impl Text {
    pub fn new() -> Text {
        Text::default()
    }

    /// Adds text in a style.
    pub fn with(mut self, text: impl Into<String>, style: Style) -> Text {
        let text: String = text.into();
        if !text.is_empty() {
            self.spans.push((text, style));
        }
        self
    }

    pub fn plain(self, text: impl Into<String>) -> Text {
        self.with(text, Style::default())
    }

    pub fn bold(self, text: impl Into<String>) -> Text {
        let style = Style {
            bold: true,
            ..Style::default()
        };
        self.with(text, style)
    }

    pub fn faint(self, text: impl Into<String>) -> Text {
        let style = Style {
            ink: Ink::Faint,
            ..Style::default()
        };
        self.with(text, style)
    }

    pub fn small(self, text: impl Into<String>) -> Text {
        let style = Style {
            small: true,
            ink: Ink::Faint,
            ..Style::default()
        };
        self.with(text, style)
    }

    /// Small and faint beside a large figure.
    pub fn smaller(self, text: impl Into<String>) -> Text {
        let style = Style {
            smaller: true,
            ink: Ink::Faint,
            ..Style::default()
        };
        self.with(text, style)
    }

    pub fn ink(self, ink: Ink, text: impl Into<String>) -> Text {
        let style = Style {
            ink,
            ..Style::default()
        };
        self.with(text, style)
    }

    /// This and then the other.
    pub fn and(mut self, other: Text) -> Text {
        self.spans.extend(other.spans);
        self
    }

    pub fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }

    /// The words alone.
    pub fn words(&self) -> String {
        self.spans.iter().map(|(text, _)| text.as_str()).collect()
    }

    /// The same in bold.
    fn all_bold(mut self) -> Text {
        for (_, style) in &mut self.spans {
            style.bold = true;
        }
        self
    }
}

impl From<&str> for Text {
    fn from(text: &str) -> Text {
        Text::new().plain(text)
    }
}

impl From<String> for Text {
    fn from(text: String) -> Text {
        Text::new().plain(text)
    }
}

/// Why no PDF could be made.
#[derive(Debug, thiserror::Error)]
#[error("the PDF could not be written: {0}")]
pub struct Failed(String);

/// The document as PDF.
///
/// # Errors
/// A part cannot be expressed as PDF. A photo that cannot be read leaves a grey box.
pub fn pdf(document: Document) -> Result<Vec<u8>, Failed> {
    let fonts = font::Fonts::new();
    let mut tree = piece::Tree::default();
    let mut pieces = piece::pieces(&document, &fonts, &mut tree);
    pieces.extend(piece::lacking(&document, &fonts, &mut tree));
    let pages = pages::pages(document.paper, pieces);
    draw::draw(&document, &fonts, tree, pages)
}
