//! Pages drawn as PDF: what is seen, and the structure that goes with it.

use super::font::{BOLD, Fonts, REGULAR};
use super::lines::{Line, broken};
use super::pages::{Page, SIDE};
use super::piece::{Mark, Node, Placed, Role, Shade, Tree};
use super::{Document, Failed, Ink, Text};
use krilla::{
    Data, SerializeSettings,
    color::rgb,
    configure::{Accessibility, ConfigurationBuilder},
    destination::XyzDestination,
    geom::{PathBuilder, Point, Rect, Size, Transform},
    image::Image,
    metadata::{DateTime, Metadata},
    num::NormalizedF32,
    outline::{Outline, OutlineNode},
    page::PageSettings,
    paint::Fill,
    surface::Surface,
    tagging::{
        Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, SpanTag, TableHeaderScope,
        Tag, TagGroup, TagTree,
    },
    text::{Font, GlyphId, KrillaGlyph},
};
use krilla_svg::{SurfaceExt, SvgSettings};
use std::num::{NonZeroU16, NonZeroU32};

const LANGUAGE: &str = "en";
const SMALL: f32 = 7.4;

struct Press {
    regular: Font,
    bold: Font,
    /// Leaves of each node of the tree, in the order drawn.
    leaves: Vec<Vec<Identifier>>,
}

pub(super) fn draw(
    document: &Document,
    fonts: &Fonts,
    tree: Tree,
    pages: Vec<Page>,
) -> Result<Vec<u8>, Failed> {
    let font = |bytes: &'static [u8]| Font::new(Data::from(bytes), 0);
    let (Some(regular), Some(bold)) = (font(REGULAR), font(BOLD)) else {
        return Err(Failed("its own fonts are not understood".to_owned()));
    };
    // PDF/UA does not allow a character that stands as a box. Without that claim the document is
    // the same.
    let mut settings = SerializeSettings::default();
    if fonts.lacking().is_empty() {
        settings.configuration = ConfigurationBuilder::new()
            .with_accessibility_validator(Accessibility::UA1)
            .finish()
            .map_err(|cause| Failed(format!("{cause:?}")))?;
    }
    let mut press = Press {
        regular,
        bold,
        leaves: vec![Vec::new(); tree.nodes.len()],
    };
    let mut pdf = krilla::Document::new_with(settings);
    let count = pages.len();
    for (n, page) in pages.iter().enumerate() {
        let settings = PageSettings::from_wh(page.width, page.height)
            .ok_or_else(|| Failed("a page without size".to_owned()))?;
        let mut sheet = pdf.start_page_with(settings);
        let mut surface = sheet.surface();
        press.frame(&mut surface, document, fonts, page, n + 1, count);
        press.page(&mut surface, page);
        press.across(&mut surface, document, fonts, page);
        surface.finish();
        sheet.finish();
    }
    pdf.set_outline(outline(&pages));
    pdf.set_metadata(metadata(document));
    let mut root = TagTree::new().with_lang(Some(LANGUAGE.to_owned()));
    for child in &tree.nodes[0].children {
        if let Some(group) = group(&tree.nodes, *child, &mut press.leaves) {
            root.push(group);
        }
    }
    pdf.set_tag_tree(root);
    pdf.finish().map_err(|cause| Failed(format!("{cause:?}")))
}

impl Press {
    fn page(&mut self, surface: &mut Surface<'_>, page: &Page) {
        let mut drawn = page.drawn.as_slice();
        while let Some(first) = drawn.first() {
            // What belongs together is marked once.
            let like = |placed: &Placed| placed.node == first.node;
            let end = drawn.iter().position(|p| !like(p)).unwrap_or(drawn.len());
            let tag = match (first.node, &first.mark) {
                (None, _) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
                (Some(_), Mark::Line(_)) => ContentTag::Span(SpanTag::empty()),
                (Some(_), _) => ContentTag::Other,
            };
            let leaf = surface.start_tagged(tag);
            if let Some(node) = first.node {
                self.leaves[node].push(leaf);
            }
            for placed in &drawn[..end] {
                self.mark(surface, placed);
            }
            surface.end_tagged();
            drawn = &drawn[end..];
        }
    }

    fn mark(&self, surface: &mut Surface<'_>, placed: &Placed) {
        let (x, y) = (placed.x, placed.y);
        match &placed.mark {
            Mark::Line(line) => self.line(surface, x, y, line),
            Mark::Box {
                width,
                height,
                shade,
            } => {
                if let Some(rect) = Rect::from_xywh(x, y, *width, *height) {
                    let mut path = PathBuilder::new();
                    path.push_rect(rect);
                    if let Some(path) = path.finish() {
                        surface.set_fill(Some(fill(shade_colour(*shade))));
                        surface.draw_path(&path);
                    }
                }
            }
            Mark::Svg { svg, width, height } => {
                if let Some(size) = Size::from_wh(*width, *height) {
                    surface.push_transform(&Transform::from_translate(x, y));
                    surface.draw_svg(svg, size, SvgSettings::default());
                    surface.pop();
                }
            }
            Mark::Photo {
                photo,
                width,
                height,
            } => {
                let image =
                    (photo.read)().and_then(|jpeg| Image::from_jpeg(Data::from(jpeg), true));
                let size = Size::from_wh(*width, *height);
                match (image, size) {
                    (Ok(image), Some(size)) => {
                        surface.push_transform(&Transform::from_translate(x, y));
                        surface.draw_image(image, size);
                        surface.pop();
                    }
                    // A report without one photo is better than none; the gap is seen.
                    _ => self.mark(
                        surface,
                        &Placed {
                            mark: Mark::Box {
                                width: *width,
                                height: *height,
                                shade: Shade::Tint,
                            },
                            ..placed.clone()
                        },
                    ),
                }
            }
        }
    }

    fn line(&self, surface: &mut Surface<'_>, x: f32, y: f32, line: &Line) {
        for run in &line.runs {
            let font = if run.style.bold {
                &self.bold
            } else {
                &self.regular
            };
            surface.set_fill(Some(fill(ink_colour(run.style.ink))));
            surface.draw_glyphs(
                Point::from_xy(x + run.x, y),
                &run.glyphs,
                font.clone(),
                &run.text,
                run.size,
                false,
            );
        }
    }

    /// What every page has: head, foot and number.
    fn frame(
        &self,
        surface: &mut Surface<'_>,
        document: &Document,
        fonts: &Fonts,
        page: &Page,
        number: usize,
        count: usize,
    ) {
        let artifact = |kind| ContentTag::Artifact(Artifact::with_kind(kind));
        let (left, right) = (SIDE, page.width - SIDE);
        let half = (right - left) / 2.0;
        let first = |text: Text, size, width| broken(fonts, &text, size, width).into_iter().next();

        surface.start_tagged(artifact(ArtifactType::Header));
        if number == 1 && !fonts.lacking().is_empty() {
            self.claim_box(surface);
        }
        let (head_left, head_right) = &document.head;
        let head = Text::new().faint(head_left.as_str());
        if let Some(line) = first(head, SMALL, half * 1.3) {
            self.line(surface, left, 36.0, &line);
        }
        let mut head = Text::new();
        if let Some(mark) = &document.mark {
            head = head.ink(Ink::Bad, format!("{mark}  "));
        }
        if let Some(line) = first(head.faint(head_right.as_str()), SMALL, half) {
            self.line(surface, right - line.width, 36.0, &line);
        }
        self.rule(surface, left, 42.0, right - left);
        surface.end_tagged();

        surface.start_tagged(artifact(ArtifactType::Footer));
        let base = page.height - 30.0;
        self.rule(surface, left, base - 11.0, right - left);
        let foot = Text::new().faint(document.foot.as_str());
        if let Some(line) = first(foot, SMALL, half * 1.6) {
            self.line(surface, left, base, &line);
        }
        let number = Text::new().faint(format!("page {number} of {count}"));
        if let Some(line) = first(number, SMALL, half) {
            self.line(surface, right - line.width, base, &line);
        }
        surface.end_tagged();
    }

    /// The mark across a page, drawn last: nothing on the page hides it, and it hides nothing.
    fn across(&self, surface: &mut Surface<'_>, document: &Document, fonts: &Fonts, page: &Page) {
        let Some(mark) = &document.mark else {
            return;
        };
        let watermark = Artifact::with_kind(ArtifactType::Watermark);
        surface.start_tagged(ContentTag::Artifact(watermark));
        let text = Text::new().bold(mark.as_str());
        if let Some(mut line) = broken(fonts, &text, 110.0, 2_000.0).into_iter().next() {
            let (x, y) = (page.width / 2.0, page.height / 2.0);
            for run in &mut line.runs {
                run.style.ink = Ink::Bad;
            }
            surface.push_transform(&Transform::from_rotate_at(-52.0, x, y));
            surface.push_opacity(NormalizedF32::new(0.16).expect("between 0 and 1"));
            self.line(surface, x - line.width / 2.0, y + 40.0, &line);
            surface.pop();
            surface.pop();
        }
        surface.end_tagged();
    }

    /// The box that stands for lacking characters gets a meaning of its own, too small to be seen:
    /// else it would be given that of the first such character, and poppler passes over what the
    /// box itself means. So each of them carries its text along.
    fn claim_box(&self, surface: &mut Surface<'_>) {
        let glyph = KrillaGlyph::new(GlyphId::new(0), 0.0, 0.0, 0.0, 0.0, 0..3, None);
        for font in [&self.regular, &self.bold] {
            surface.set_fill(Some(fill(rgb::Color::white())));
            let at = Point::from_xy(1.0, 1.0);
            let glyphs = std::slice::from_ref(&glyph);
            surface.draw_glyphs(at, glyphs, font.clone(), "\u{fffd}", 0.1, false);
        }
    }

    fn rule(&self, surface: &mut Surface<'_>, x: f32, y: f32, width: f32) {
        let placed = Placed {
            node: None,
            x,
            y,
            mark: Mark::Box {
                width,
                height: 0.5,
                shade: Shade::Rule,
            },
        };
        self.mark(surface, &placed);
    }
}

/// A node with what is below it; none where nothing was drawn.
fn group(nodes: &[Node], node: usize, leaves: &mut [Vec<Identifier>]) -> Option<TagGroup> {
    let mut group = match &nodes[node].role {
        Role::Document => TagGroup::new(Tag::Part),
        Role::Heading(level, words) => {
            let level = NonZeroU16::new(u16::from(*level)).unwrap_or(NonZeroU16::MIN);
            TagGroup::new(Tag::Hn(level, Some(words.clone())))
        }
        Role::Paragraph => TagGroup::new(Tag::P),
        Role::List => TagGroup::new(Tag::L(ListNumbering::None)),
        Role::Item => TagGroup::new(Tag::LI),
        Role::Label => TagGroup::new(Tag::Lbl),
        Role::Body => TagGroup::new(Tag::LBody),
        Role::Table => TagGroup::new(Tag::Table),
        Role::Head => TagGroup::new(Tag::THead),
        Role::Rows => TagGroup::new(Tag::TBody),
        Role::Row => TagGroup::new(Tag::TR),
        Role::ColumnHead => TagGroup::new(Tag::TH(TableHeaderScope::Column)),
        Role::RowHead => TagGroup::new(Tag::TH(TableHeaderScope::Row)),
        Role::Cell(columns) => {
            TagGroup::new(Tag::TD.with_col_span(NonZeroU32::new(*columns).filter(|n| n.get() > 1)))
        }
        Role::Caption => TagGroup::new(Tag::Caption),
        Role::Figure(alt) => TagGroup::new(Tag::Figure(Some(alt.clone()))),
    };
    for leaf in leaves[node].drain(..) {
        group.push(leaf);
    }
    let mut empty = group.children.is_empty();
    for child in &nodes[node].children {
        if let Some(child) = self::group(nodes, *child, leaves) {
            group.push(child);
            empty = false;
        }
    }
    // An empty cell still is a cell: without it the others would stand in wrong columns.
    let is_cell = matches!(
        nodes[node].role,
        Role::Cell(_) | Role::RowHead | Role::ColumnHead
    );
    (!empty || is_cell).then_some(group)
}

fn outline(pages: &[Page]) -> Outline {
    /// Headings with those below them.
    struct Entry(u8, OutlineNode, Vec<Entry>);
    let mut top: Vec<Entry> = Vec::new();
    for (n, page) in pages.iter().enumerate() {
        for (level, words, y) in &page.marks {
            let to = XyzDestination::new(n, Point::from_xy(SIDE, *y));
            let entry = Entry(*level, OutlineNode::new(words.clone(), to), Vec::new());
            let mut list = &mut top;
            while list.last().is_some_and(|last| last.0 < *level) {
                list = &mut list.last_mut().expect("just seen").2;
            }
            list.push(entry);
        }
    }
    fn node(entry: Entry) -> OutlineNode {
        let Entry(level, mut own, below) = entry;
        for entry in below {
            own.push_child(node(entry));
        }
        own.with_open(level == 1)
    }
    let mut outline = Outline::new();
    for entry in top {
        outline.push_child(node(entry));
    }
    outline
}

fn metadata(document: &Document) -> Metadata {
    let mut metadata = Metadata::new()
        .title(document.title.clone())
        .authors(vec![document.author.clone()])
        .description(document.subject.clone())
        .creator(document.creator.clone())
        .producer(document.creator.clone())
        .language(LANGUAGE.to_owned());
    if let Some(made) = document.made {
        metadata = metadata.creation_date(
            DateTime::new(made.year)
                .month(made.month)
                .day(made.day)
                .hour(made.hour)
                .minute(made.minute)
                .second(made.second)
                .utc_offset_hour(0)
                .utc_offset_minute(0),
        );
    }
    metadata
}

fn fill(colour: rgb::Color) -> Fill {
    Fill {
        paint: colour.into(),
        opacity: NormalizedF32::ONE,
        rule: Default::default(),
    }
}

fn ink_colour(ink: Ink) -> rgb::Color {
    match ink {
        Ink::Plain => rgb::Color::new(0x1b, 0x1d, 0x22),
        Ink::Faint => rgb::Color::new(0x56, 0x5b, 0x66),
        Ink::Good => rgb::Color::new(0x0e, 0x6b, 0x4f),
        Ink::Bad => rgb::Color::new(0xa3, 0x26, 0x1b),
        Ink::Accent => rgb::Color::new(0x02, 0x53, 0xb5),
    }
}

fn shade_colour(shade: Shade) -> rgb::Color {
    match shade {
        Shade::Rule => rgb::Color::new(0xd9, 0xd6, 0xcd),
        Shade::Strong => rgb::Color::new(0x8a, 0x8f, 0x99),
        Shade::Tint => rgb::Color::new(0xf4, 0xf2, 0xec),
        Shade::Accent => rgb::Color::new(0x02, 0x53, 0xb5),
    }
}
