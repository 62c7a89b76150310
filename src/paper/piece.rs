//! Blocks cut into pieces that are never divided: lines, rows, figures, with the space before them
//! and whether they stay with the next one.

use super::font::Fonts;
use super::lines::{Line, broken};
use super::pages::room;
use super::photo::Photo;
use super::table;
use super::{Block, Document, Figure, Ink, Paper, Style, Text};
use resvg::usvg::{Options, Tree as Svg, fontdb::Database};
use std::rc::Rc;
use std::sync::Arc;

/// Size of text in paragraphs, points.
pub(super) const BODY: f32 = 9.0;
/// Height of a line as a multiple of its size.
pub(super) const LEADING: f32 = 1.36;
/// From a line's top to its base, as a multiple of its size.
pub(super) const RISE: f32 = 1.02;
/// Largest part of a page's height that a figure takes.
const FIGURE_PART: f32 = 0.37;
/// Largest height of a photo, points.
const PHOTO_HEIGHT: f32 = 200.0;
const GAP: f32 = 14.0;

/// What never stands on two pages.
pub(super) struct Piece {
    pub height: f32,
    /// Space above, but not at the top of a page.
    pub before: f32,
    /// Stays with the next piece.
    pub keep: bool,
    /// On a page that is turned a quarter.
    pub turned: bool,
    /// Not a piece, but the wish for a new page.
    pub new_page: bool,
    /// Drawn first where this piece comes first on a page.
    pub header: Option<Rc<Piece>>,
    /// Bookmark.
    pub mark: Option<(u8, String)>,
    /// From the piece's upper left corner.
    pub drawn: Vec<Placed>,
}

impl Piece {
    pub fn new(height: f32, before: f32) -> Piece {
        Piece {
            height,
            before,
            keep: false,
            turned: false,
            new_page: false,
            header: None,
            mark: None,
            drawn: Vec::new(),
        }
    }

    pub fn draw(&mut self, node: Option<usize>, x: f32, y: f32, mark: Mark) {
        self.drawn.push(Placed { node, x, y, mark });
    }

    /// Lines of text one below the other, from `y` on.
    pub fn write(&mut self, node: Option<usize>, x: f32, y: f32, lines: &[Line], size: f32) {
        for (n, line) in lines.iter().enumerate() {
            let base = y + n as f32 * size * LEADING + size * RISE;
            self.draw(node, x, base, Mark::Line(Rc::new(line.clone())));
        }
    }
}

/// Something drawn, as a part of a structure element or, without one, as decoration.
#[derive(Clone)]
pub(super) struct Placed {
    pub node: Option<usize>,
    pub x: f32,
    pub y: f32,
    pub mark: Mark,
}

impl Placed {
    pub fn moved(&self, x: f32, y: f32) -> Placed {
        Placed {
            x: self.x + x,
            y: self.y + y,
            ..self.clone()
        }
    }
}

#[derive(Clone)]
pub(super) enum Mark {
    /// Stands on the base line.
    Line(Rc<Line>),
    /// Filled, from its upper left corner.
    Box {
        width: f32,
        height: f32,
        shade: Shade,
    },
    Svg {
        svg: Arc<Svg>,
        width: f32,
        height: f32,
    },
    Photo {
        photo: Rc<Photo>,
        width: f32,
        height: f32,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shade {
    /// Hairlines.
    Rule,
    /// Lines that divide more.
    Strong,
    /// Behind a notice.
    Tint,
    Accent,
}

/// The document's logical structure, in reading order. Node 0 is the document.
pub(super) struct Tree {
    pub nodes: Vec<Node>,
}

pub(super) struct Node {
    pub role: Role,
    pub children: Vec<usize>,
}

#[derive(Debug, Clone)]
pub(super) enum Role {
    Document,
    Heading(u8, String),
    Paragraph,
    List,
    Item,
    Label,
    Body,
    Table,
    Head,
    Rows,
    Row,
    /// Head of a column, head of a row, plain cell; with the number of columns that it spans.
    ColumnHead,
    RowHead,
    Cell(u32),
    Caption,
    Figure(String),
}

impl Default for Tree {
    fn default() -> Tree {
        Tree {
            nodes: vec![Node {
                role: Role::Document,
                children: Vec::new(),
            }],
        }
    }
}

impl Tree {
    pub fn add(&mut self, parent: usize, role: Role) -> usize {
        let node = self.nodes.len();
        self.nodes.push(Node {
            role,
            children: Vec::new(),
        });
        self.nodes[parent].children.push(node);
        node
    }
}

/// What all blocks are cut with.
pub(super) struct Cutter<'a> {
    pub fonts: &'a Fonts,
    pub tree: &'a mut Tree,
    pub paper: Paper,
    figures: Options<'static>,
    pub pieces: Vec<Piece>,
}

pub(super) fn pieces(document: &Document, fonts: &Fonts, tree: &mut Tree) -> Vec<Piece> {
    let mut cutter = Cutter {
        fonts,
        tree,
        paper: document.paper,
        figures: figure_options(&document.figure_style),
        pieces: Vec::new(),
    };
    for (n, block) in document.blocks.iter().enumerate() {
        let first = cutter.pieces.len();
        cutter.block(block);
        // A short paragraph that leads to a table stays with its beginning.
        let leads = matches!(
            (block, document.blocks.get(n + 1)),
            (
                Block::Paragraph(_) | Block::Fine(_),
                Some(Block::Table(_) | Block::List(_) | Block::Facts(_) | Block::Fine(_))
            )
        );
        // Small print below a table stays on its page, upright or turned.
        let follows_turned = matches!(block, Block::Fine(_))
            && first
                .checked_sub(1)
                .is_some_and(|n| cutter.pieces[n].turned);
        let own = &mut cutter.pieces[first..];
        if follows_turned {
            own.iter_mut().for_each(|piece| piece.turned = true);
        }
        if leads && own.len() <= 5 {
            own.iter_mut().for_each(|piece| piece.keep = true);
        }
    }
    cutter.pieces
}

/// Says which characters stand as boxes, because a reader must not take a box for what was written.
pub(super) fn lacking(document: &Document, fonts: &Fonts, tree: &mut Tree) -> Vec<Piece> {
    let lacking = fonts.lacking();
    if lacking.is_empty() {
        return Vec::new();
    }
    let codes: Vec<String> = lacking
        .iter()
        .take(60)
        .map(|c| format!("U+{:04X}", u32::from(*c)))
        .collect();
    let more = if lacking.len() > 60 {
        " and others"
    } else {
        ""
    };
    let mut cutter = Cutter {
        fonts,
        tree,
        paper: document.paper,
        figures: Options::default(),
        pieces: Vec::new(),
    };
    cutter.block(&Block::Fine(
        format!(
            "The font of this document lacks these characters, which stand as boxes: {}{more}. Text that is copied or searched has them.",
            codes.join(", ")
        )
        .into(),
    ));
    cutter.pieces
}

/// Only the fonts that the program carries: the same drawing on every machine.
fn figure_options(style: &str) -> Options<'static> {
    let mut fonts = Database::new();
    fonts.load_font_data(super::font::REGULAR.to_vec());
    fonts.load_font_data(super::font::BOLD.to_vec());
    let family = fonts
        .faces()
        .next()
        .and_then(|face| face.families.first())
        .map_or(String::new(), |(name, _)| name.clone());
    fonts.set_sans_serif_family(family.as_str());
    Options {
        font_family: family,
        fontdb: Arc::new(fonts),
        style_sheet: Some(style.to_owned()),
        ..Options::default()
    }
}

impl Cutter<'_> {
    /// Width of upright text.
    pub fn width(&self) -> f32 {
        room(self.paper, false).0
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading(level, words) => self.heading(*level, words),
            Block::Paragraph(text) => self.paragraph(text, BODY, 5.0),
            Block::Fine(text) => self.paragraph(&faint(text), BODY * 0.87, 4.0),
            Block::Notice(text) => self.notice(text),
            Block::List(items) => self.list(items.iter().map(|item| ("•", item))),
            Block::Labelled(items) => {
                self.list(items.iter().map(|(label, item)| (label.as_str(), item)));
            }
            Block::Facts(facts) => self.facts(facts),
            Block::Headline(figures) => self.headline(figures),
            Block::Table(table) => table::cut(self, table),
            Block::Figure(figure) => self.figure(figure),
            Block::Photos(photos) => self.photos(photos),
            Block::NewPage => {
                let mut piece = Piece::new(0.0, 0.0);
                piece.new_page = true;
                self.pieces.push(piece);
            }
        }
    }

    fn heading(&mut self, level: u8, words: &str) {
        let (size, before) = match level {
            1 => (19.0, 0.0),
            2 => (13.5, 20.0),
            _ => (10.5, 13.0),
        };
        let node = self.tree.add(0, Role::Heading(level, words.to_owned()));
        let style = Style {
            bold: true,
            ink: if level == 2 { Ink::Accent } else { Ink::Plain },
            ..Style::default()
        };
        let text = Text::new().with(words, style);
        let lines = broken(self.fonts, &text, size, self.width());
        let mut piece = Piece::new(lines.len() as f32 * size * LEADING, before);
        piece.write(Some(node), 0.0, 0.0, &lines, size);
        if level == 2 {
            let width = self.width();
            piece.draw(
                None,
                0.0,
                piece.height + 1.0,
                Mark::Box {
                    width,
                    height: 0.8,
                    shade: Shade::Strong,
                },
            );
            piece.height += 4.0;
        }
        piece.mark = Some((level, words.to_owned()));
        piece.keep = true;
        self.pieces.push(piece);
    }

    /// Lines, the first two and the last two of them together.
    fn paragraph(&mut self, text: &Text, size: f32, before: f32) {
        let node = self.tree.add(0, Role::Paragraph);
        let lines = broken(self.fonts, text, size, self.width());
        self.lines(node, &lines, size, before, 0.0);
    }

    pub fn lines(&mut self, node: usize, lines: &[Line], size: f32, before: f32, x: f32) {
        let count = lines.len();
        for (n, line) in lines.iter().enumerate() {
            let mut piece = Piece::new(size * LEADING, if n == 0 { before } else { 0.0 });
            piece.keep = n + 1 < count && (n == 0 || n + 2 == count);
            piece.write(Some(node), x, 0.0, std::slice::from_ref(line), size);
            self.pieces.push(piece);
        }
    }

    fn notice(&mut self, text: &Text) {
        const PAD: f32 = 7.0;
        let width = self.width();
        let size = BODY;
        let node = self.tree.add(0, Role::Paragraph);
        let lines = broken(self.fonts, text, size, width - 2.0 * PAD - 4.0);
        let most = most_lines(self.paper, size, 4.0 * PAD);
        for (n, part) in lines.chunks(most).enumerate() {
            let height = part.len() as f32 * size * LEADING + 2.0 * PAD;
            let mut piece = Piece::new(height, if n == 0 { 8.0 } else { 0.0 });
            let shade = Shade::Tint;
            piece.draw(
                None,
                0.0,
                0.0,
                Mark::Box {
                    width,
                    height,
                    shade,
                },
            );
            piece.draw(
                None,
                0.0,
                0.0,
                Mark::Box {
                    width: 2.5,
                    height,
                    shade: Shade::Accent,
                },
            );
            piece.write(Some(node), PAD + 4.0, PAD, part, size);
            self.pieces.push(piece);
        }
        self.space(3.0);
    }

    /// Nothing for a while, and nothing at all at the top of a page.
    fn space(&mut self, height: f32) {
        self.pieces.push(Piece::new(0.0, height));
    }

    /// Items with what stands before each.
    fn list<'t>(&mut self, items: impl Iterator<Item = (&'t str, &'t Text)>) {
        const LEAST_INDENT: f32 = 12.0;
        const MOST_INDENT: f32 = 60.0;
        let items: Vec<(Text, &Text)> = items.map(|(label, item)| (label.into(), item)).collect();
        let indent = items
            .iter()
            .map(|(label, _)| super::lines::extent(self.fonts, label, BODY).1 + 6.0)
            .fold(LEAST_INDENT, f32::max)
            .min(MOST_INDENT);
        let list = self.tree.add(0, Role::List);
        for (label_text, item) in &items {
            let node = self.tree.add(list, Role::Item);
            let label = self.tree.add(node, Role::Label);
            let body = self.tree.add(node, Role::Body);
            let lines = broken(self.fonts, item, BODY, self.width() - indent);
            let first = self.pieces.len();
            self.lines(body, &lines, BODY, 3.0, indent);
            let bullet = broken(self.fonts, label_text, BODY, indent);
            if let Some(piece) = self.pieces.get_mut(first) {
                piece.write(Some(label), 2.0, 0.0, &bullet, BODY);
            }
        }
    }

    fn facts(&mut self, facts: &[(String, Text)]) {
        let size = BODY * 0.97;
        let list = self.tree.add(0, Role::List);
        let labels: Vec<Text> = facts
            .iter()
            .map(|(label, _)| Text::new().faint(label.as_str()))
            .collect();
        let widest = labels
            .iter()
            .map(|label| super::lines::extent(self.fonts, label, size).1)
            .fold(60.0, f32::max);
        let column = (widest + 14.0).min(self.width() * 0.34);
        for (n, ((_, text), label)) in facts.iter().zip(&labels).enumerate() {
            let item = self.tree.add(list, Role::Item);
            let (name, body) = (
                self.tree.add(item, Role::Label),
                self.tree.add(item, Role::Body),
            );
            let label = broken(self.fonts, label, size, column - 10.0);
            let lines = broken(self.fonts, text, size, self.width() - column);
            let most = most_lines(self.paper, size, 10.0);
            let parts: Vec<&[Line]> = lines.chunks(most).collect();
            for (part_n, part) in parts.iter().enumerate() {
                let count = part.len().max(if part_n == 0 { label.len() } else { 1 });
                let before = match (n, part_n) {
                    (0, 0) => 5.0,
                    (_, 0) => 2.2,
                    _ => 0.0,
                };
                let mut piece = Piece::new(count as f32 * size * LEADING, before);
                if part_n == 0 {
                    piece.write(Some(name), 0.0, 0.0, &label, size);
                }
                piece.write(Some(body), column, 0.0, part, size);
                piece.keep = n == 0 && facts.len() > 1;
                self.pieces.push(piece);
            }
        }
    }

    fn headline(&mut self, figures: &[(String, Text)]) {
        const PAD: f32 = 9.0;
        let (small, large) = (7.6, 14.5);
        let width = self.width();
        let column = (width - 2.0 * PAD) / figures.len().max(1) as f32;
        let list = self.tree.add(0, Role::List);
        let mut cells = Vec::new();
        let mut height = 0.0f32;
        for (label, value) in figures {
            let label = broken(
                self.fonts,
                &Text::new().faint(label.as_str()),
                small,
                column - 8.0,
            );
            let value = broken(self.fonts, &value.clone().all_bold(), large, column - 8.0);
            let cell = label.len() as f32 * small * LEADING + value.len() as f32 * large * LEADING;
            height = height.max(cell);
            cells.push((label, value));
        }
        let mut piece = Piece::new(height + 2.0 * PAD, 9.0);
        piece.draw(
            None,
            0.0,
            0.0,
            Mark::Box {
                width,
                height: piece.height,
                shade: Shade::Tint,
            },
        );
        for (n, (label, value)) in cells.iter().enumerate() {
            let item = self.tree.add(list, Role::Item);
            let (name, body) = (
                self.tree.add(item, Role::Label),
                self.tree.add(item, Role::Body),
            );
            let x = PAD + n as f32 * column;
            piece.write(Some(name), x, PAD, label, small);
            let y = PAD + label.len() as f32 * small * LEADING;
            piece.write(Some(body), x, y, value, large);
        }
        self.pieces.push(piece);
        self.space(4.0);
    }

    fn figure(&mut self, figure: &Figure) {
        // Our own drawing; should it not parse, its table still has the numbers.
        let Ok(svg) = Svg::from_str(&figure.svg, &self.figures) else {
            return;
        };
        let (room_width, room_height) = room(self.paper, false);
        let (own_width, own_height) = (svg.size().width(), svg.size().height());
        let scale = (room_width / own_width).min(room_height * FIGURE_PART / own_height);
        let (width, height) = (own_width * scale, own_height * scale);
        let title = Text::new().bold(figure.title.as_str());
        let title = broken(self.fonts, &title, BODY, room_width);
        let caption = Text::from(figure.caption.as_str());
        let small = BODY * 0.87;
        let caption = broken(self.fonts, &faint(&caption), small, room_width);
        let title_height = title.len() as f32 * BODY * LEADING + 3.0;

        if !title.is_empty() {
            let node = self.tree.add(0, Role::Paragraph);
            let mut head = Piece::new(title_height, 10.0);
            head.write(Some(node), 0.0, 0.0, &title, BODY);
            head.keep = true;
            self.pieces.push(head);
        }
        let node = self.tree.add(0, Role::Figure(figure.alt.clone()));
        let mut piece = Piece::new(height, if title.is_empty() { 8.0 } else { 0.0 });
        let svg = Arc::new(svg);
        let x = (room_width - width) / 2.0;
        piece.draw(Some(node), x, 0.0, Mark::Svg { svg, width, height });
        piece.keep = !caption.is_empty();
        self.pieces.push(piece);
        if !caption.is_empty() {
            let node = self.tree.add(0, Role::Paragraph);
            let count = caption.len() as f32;
            let mut piece = Piece::new(count * small * LEADING, 2.0);
            piece.write(Some(node), 0.0, 0.0, &caption, small);
            self.pieces.push(piece);
        }
        self.space(5.0);
    }

    fn photos(&mut self, photos: &[Rc<Photo>]) {
        let width = self.width();
        let column = (width - GAP) / 2.0;
        let small = BODY * 0.87;
        for pair in photos.chunks(2) {
            let mut piece = Piece::new(0.0, 9.0);
            for (n, photo) in pair.iter().enumerate() {
                let x = n as f32 * (column + GAP);
                let (w, h) = (photo.width_px.max(1) as f32, photo.height_px.max(1) as f32);
                let scale = (column / w).min(PHOTO_HEIGHT / h);
                let (w, h) = (w * scale, h * scale);
                let node = self.tree.add(0, Role::Figure(photo.alt.clone()));
                let mark = Mark::Photo {
                    photo: photo.clone(),
                    width: w,
                    height: h,
                };
                piece.draw(Some(node), x, 0.0, mark);
                let caption = Text::from(photo.caption.as_str());
                let lines = broken(self.fonts, &faint(&caption), small, column);
                if !lines.is_empty() {
                    let node = self.tree.add(0, Role::Paragraph);
                    piece.write(Some(node), x, h + 3.0, &lines, small);
                }
                let below = lines.len() as f32 * small * LEADING + 3.0;
                piece.height = piece.height.max(h + below);
            }
            self.pieces.push(piece);
        }
    }
}

pub(super) fn faint(text: &Text) -> Text {
    let mut text = text.clone();
    for (_, style) in &mut text.spans {
        if style.ink == Ink::Plain {
            style.ink = Ink::Faint;
        }
    }
    text
}

/// How many lines fit on a page that holds `others` points of something else.
pub(super) fn most_lines(paper: Paper, size: f32, others: f32) -> usize {
    let (_, height) = room(paper, true);
    let upright = room(paper, false).1.min(height);
    (((upright - others) / (size * LEADING)) as usize).max(1)
}
