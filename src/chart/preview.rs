//! The picture that a shared link shows elsewhere: a PNG of 1200 by 630 pixels.
//!
//! Composed as SVG with the one font that the program carries, then rasterised. Here colours are
//! literal, because nobody's style sheet reaches a PNG.

use super::figures::{escape, shortened};
use super::frame::marker_outline;
use super::outcome_words;
use crate::evaluate::evaluation::Outcome;
use base64::Engine as _;
use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};
use std::fmt::Write as _;
use std::sync::{Arc, OnceLock};

pub const WIDTH: u32 = 1200;
pub const HEIGHT: u32 = 630;

/// Longest text that is looked at; what a link preview can show is far shorter.
const MOST_CHARS: usize = 160;
const MOST_POINTS: usize = 200;

const REGULAR: &[u8] = include_bytes!("../../static/fonts/DejaVuSans-subset.ttf");
const BOLD: &[u8] = include_bytes!("../../static/fonts/DejaVuSans-Bold-subset.ttf");
const FAMILY: &str = "DejaVu Sans";

const PAPER: &str = "#fbfaf7";
const INK: &str = "#1b1d22";
const FAINT: &str = "#565b66";
const RULE: &str = "#d5d2c8";
/// The light palette of `static/chart.css`.
const SERIES: [&str; 6] = [
    "#0253b5", "#d76103", "#5d0e93", "#048471", "#bd2664", "#323200",
];

/// What the picture is about.
#[derive(Debug, Clone, PartialEq)]
pub enum PreviewCard {
    Unit(UnitCard),
    /// Leaderboard or class.
    List(ListCard),
    Comparison(ComparisonCard),
}

/// One unit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UnitCard {
    pub name: String,
    /// "over 70 to 100 W"
    pub class_label: String,
    /// 0..=100; unknown: "no score".
    pub score: Option<f64>,
    /// Standard uncertainty; the picture writes U = 2 u.
    pub score_u: Option<f64>,
    /// "rank 3 to 5 of 41 in its class", or empty.
    pub rank: String,
    /// The first five are shown.
    pub verdicts: Vec<VerdictMark>,
    /// (output watts, efficiency as fraction) in rising watts; `Row::curve`.
    pub curve: Vec<(f64, f64)>,
    /// A JPEG of the unit.
    pub photo: Option<Vec<u8>>,
}

/// A regime's short name with the unit's result in it.
#[derive(Debug, Clone, PartialEq)]
pub struct VerdictMark {
    pub regime: String,
    pub outcome: Outcome,
}

/// The first rows of a list; at most five are shown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ListCard {
    /// "Leaderboard", "Class over 70 to 100 W"
    pub title: String,
    /// "41 units measured by us", or empty.
    pub subtitle: String,
    pub lines: Vec<ListLine>,
}

#[derive(Debug, Clone, PartialEq, Default)]
pub struct ListLine {
    /// "1", "2–4"
    pub rank: String,
    pub name: String,
    pub score: Option<f64>,
    /// Standard uncertainty; the picture writes U = 2 u.
    pub score_u: Option<f64>,
    /// What stands in the score's place in a list by another figure: "1.23 kWh".
    pub figure: Option<String>,
}

/// Units side by side; at most six are shown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ComparisonCard {
    /// Name, score, standard uncertainty and curve of each.
    pub units: Vec<UnitCard>,
}

/// What stands in the head of a picture whose data is invented.
const INVENTED: &str = "demonstration, invented data";

/// The PNG; `invented` data is marked as such. Never fails: text of any length and kind is cut and
/// escaped.
pub fn preview_png(card: &PreviewCard, invented: bool) -> Vec<u8> {
    rasterised(&drawn(card, invented))
}

fn drawn(card: &PreviewCard, invented: bool) -> String {
    let sheet = Sheet::new(if invented { INVENTED } else { "measured by us" });
    match card {
        PreviewCard::Unit(card) => unit_svg(sheet, card),
        PreviewCard::List(card) => list_svg(sheet, card),
        PreviewCard::Comparison(card) => comparison_svg(sheet, card),
    }
}

fn rasterised(svg: &str) -> Vec<u8> {
    let mut pixmap =
        Pixmap::new(WIDTH, HEIGHT).expect("a fixed size above zero makes a valid picture");
    pixmap.fill(Color::from_rgba8(0xfb, 0xfa, 0xf7, 0xff));
    // Only our own escaped markup comes here; should it not parse, the plain paper is the answer.
    if let Ok(tree) = Tree::from_str(svg, &options()) {
        resvg::render(&tree, Transform::identity(), &mut pixmap.as_mut());
    }
    pixmap.encode_png().unwrap_or_default()
}

/// Only the font that the program carries: the same picture on every machine.
fn fonts() -> Arc<Database> {
    static FONTS: OnceLock<Arc<Database>> = OnceLock::new();
    FONTS
        .get_or_init(|| {
            let mut fonts = Database::new();
            fonts.load_font_data(REGULAR.to_vec());
            fonts.load_font_data(BOLD.to_vec());
            fonts.set_sans_serif_family(FAMILY);
            Arc::new(fonts)
        })
        .clone()
}

fn options() -> Options<'static> {
    Options {
        font_family: FAMILY.to_owned(),
        fontdb: fonts(),
        ..Options::default()
    }
}

/// Width of text as it will be set, in pixels.
fn measured_width(text: &str, size: f64, bold: bool) -> f64 {
    let weight = if bold { "bold" } else { "normal" };
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"10\" height=\"10\">\
         <text y=\"5\" font-size=\"{size}\" font-weight=\"{weight}\">{}</text></svg>",
        escape(text)
    );
    Tree::from_str(&svg, &options()).map_or(f64::INFINITY, |tree| {
        f64::from(tree.root().abs_bounding_box().right())
    })
}

/// The longest beginning of the text that fits, with an ellipsis where something was cut.
fn fitted(text: &str, size: f64, bold: bool, width: f64) -> String {
    let text = shortened(text.trim(), MOST_CHARS);
    if measured_width(&text, size, bold) <= width {
        return text;
    }
    let (mut fits, mut fails) = (0, text.chars().count());
    while fails - fits > 1 {
        let half = (fits + fails) / 2;
        if measured_width(&shortened(&text, half), size, bold) <= width {
            fits = half;
        } else {
            fails = half;
        }
    }
    shortened(&text, fits.max(1))
}

struct Sheet(String);

impl Sheet {
    fn new(origin: &str) -> Sheet {
        let mut sheet = Sheet(format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{HEIGHT}\" \
             viewBox=\"0 0 {WIDTH} {HEIGHT}\"><rect width=\"{WIDTH}\" height=\"{HEIGHT}\" \
             fill=\"{PAPER}\"/><rect width=\"{WIDTH}\" height=\"12\" fill=\"{}\"/>",
            SERIES[0]
        ));
        sheet.text(60.0, 82.0, 30.0, true, SERIES[0], "start", "Brickbook");
        sheet.text(1140.0, 82.0, 26.0, false, FAINT, "end", origin);
        sheet
    }

    #[allow(clippy::too_many_arguments)]
    fn text(
        &mut self,
        x: f64,
        y: f64,
        size: f64,
        bold: bool,
        fill: &str,
        anchor: &str,
        text: &str,
    ) {
        let weight = if bold { "bold" } else { "normal" };
        let _ = write!(
            self.0,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size}\" font-weight=\"{weight}\" \
             fill=\"{fill}\" text-anchor=\"{anchor}\">{}</text>",
            escape(text)
        );
    }

    /// A JPEG in a box (left, top, right, bottom), whole and in the middle.
    fn photo(&mut self, jpeg: &[u8], (x0, y0, x1, y1): (f64, f64, f64, f64)) {
        let bytes = base64::engine::general_purpose::STANDARD.encode(jpeg);
        let (width, height) = (x1 - x0, y1 - y0);
        self.raw(format_args!(
            "<image x=\"{x0}\" y=\"{y0}\" width=\"{width}\" height=\"{height}\" \
             preserveAspectRatio=\"xMaxYMid\" href=\"data:image/jpeg;base64,{bytes}\"/>"
        ));
    }

    fn raw(&mut self, markup: std::fmt::Arguments<'_>) {
        let _ = self.0.write_fmt(markup);
    }

    fn finish(mut self) -> String {
        self.0.push_str("</svg>");
        self.0
    }
}

fn score_words(score: Option<f64>, u: Option<f64>) -> (String, String) {
    match score.filter(|s| s.is_finite()) {
        None => ("–".to_owned(), "no score".to_owned()),
        Some(s) => {
            let u = u.filter(|u| u.is_finite());
            (
                format!("{s:.1}"),
                u.map_or_else(String::new, |u| format!("± {:.1}", 2.0 * u)),
            )
        }
    }
}

/// Name in one line if it fits in large letters, else in two smaller ones.
fn name_lines(name: &str, width: f64) -> (f64, Vec<String>) {
    let name = shortened(name.trim(), MOST_CHARS);
    if measured_width(&name, 60.0, true) <= width {
        return (60.0, vec![name]);
    }
    let size = 46.0;
    let mut first = String::new();
    let mut words = name.split_whitespace().peekable();
    while let Some(word) = words.peek() {
        let longer = if first.is_empty() {
            (*word).to_owned()
        } else {
            format!("{first} {word}")
        };
        if measured_width(&longer, size, true) > width {
            break;
        }
        first = longer;
        words.next();
    }
    let rest = words.collect::<Vec<_>>().join(" ");
    if first.is_empty() {
        return (size, vec![fitted(&rest, size, true, width)]);
    }
    if rest.is_empty() {
        return (size, vec![first]);
    }
    (size, vec![first, fitted(&rest, size, true, width)])
}

fn unit_svg(mut sheet: Sheet, card: &UnitCard) -> String {
    // A photo stands at the right, above the curve; name and class keep clear of it.
    let width = match &card.photo {
        Some(jpeg) => {
            sheet.photo(jpeg, (790.0, 104.0, 1140.0, 300.0));
            690.0
        }
        None => 1080.0,
    };
    let (size, lines) = name_lines(&card.name, width);
    let mut y = if lines.len() > 1 { 146.0 } else { 178.0 };
    for line in &lines {
        sheet.text(60.0, y, size, true, INK, "start", line);
        y += size * 1.15;
    }
    let class = fitted(
        &format!("USB power adapter, {}", card.class_label),
        28.0,
        false,
        width,
    );
    sheet.text(60.0, 246.0, 28.0, false, FAINT, "start", &class);

    let (score, u) = score_words(card.score, card.score_u);
    sheet.text(60.0, 372.0, 104.0, true, INK, "start", &score);
    let after = 60.0 + measured_width(&score, 104.0, true) + 22.0;
    sheet.text(after, 338.0, 34.0, false, INK, "start", &u);
    if card.score.is_some() {
        sheet.text(after, 372.0, 24.0, false, FAINT, "start", "score of 100");
    }
    sheet.text(
        60.0,
        424.0,
        28.0,
        false,
        INK,
        "start",
        &fitted(&card.rank, 28.0, false, 560.0),
    );

    let top = if card.photo.is_some() { 342.0 } else { 292.0 };
    sparkline(&mut sheet, &[&card.curve], (700.0, top, 1140.0, 420.0));
    verdict_marks(&mut sheet, &card.verdicts);
    sheet.finish()
}

/// Mark, name and result in words, in up to three rows along the lower edge.
fn verdict_marks(sheet: &mut Sheet, verdicts: &[VerdictMark]) {
    let (mut x, mut y) = (60.0, 500.0);
    for verdict in verdicts.iter().take(5) {
        let words = format!(
            "{}: {}",
            verdict.regime.trim(),
            outcome_words(verdict.outcome)
        );
        let words = fitted(&words, 24.0, false, 560.0);
        let width = 38.0 + measured_width(&words, 24.0, false) + 36.0;
        if x > 60.0 && x + width - 36.0 > 1140.0 {
            if y > 585.0 {
                return;
            }
            (x, y) = (60.0, y + 46.0);
        }
        outcome_mark(sheet, x + 13.0, y - 9.0, verdict.outcome);
        sheet.text(x + 36.0, y, 24.0, false, INK, "start", &words);
        x += width;
    }
}

/// Shapes that differ without colour: a filled disc with a tick or cross where it is sure, a ring
/// where it is conditional, a dashed ring where it is open.
fn outcome_mark(sheet: &mut Sheet, x: f64, y: f64, outcome: Outcome) {
    const GOOD: &str = "#0e6b4f";
    const BAD: &str = "#a3261b";
    let (ring, filled, sign) = match outcome {
        Outcome::Pass => (GOOD, true, "tick"),
        Outcome::ConditionalPass => (GOOD, false, "tick"),
        Outcome::ConditionalFail => (BAD, false, "cross"),
        Outcome::Fail => (BAD, true, "cross"),
        Outcome::Incomplete | Outcome::NotAssessed => (FAINT, false, "dash"),
    };
    let fill = if filled { ring } else { PAPER };
    let dash = if sign == "dash" {
        " stroke-dasharray=\"4 3\""
    } else {
        ""
    };
    sheet.raw(format_args!(
        "<circle cx=\"{x}\" cy=\"{y}\" r=\"13\" fill=\"{fill}\" stroke=\"{ring}\" \
         stroke-width=\"3\"{dash}/>"
    ));
    let path = match sign {
        "tick" => "M-6 0L-2 5L6 -5",
        "cross" => "M-5 -5L5 5M5 -5L-5 5",
        _ => "M-5 0H5",
    };
    let pen = if filled { PAPER } else { ring };
    sheet.raw(format_args!(
        "<path d=\"{path}\" transform=\"translate({x} {y})\" fill=\"none\" stroke=\"{pen}\" \
         stroke-width=\"3\"/>"
    ));
}

/// Efficiency curves over logarithmic watts in a box, with the ends of the axes written.
fn sparkline(
    sheet: &mut Sheet,
    curves: &[&Vec<(f64, f64)>],
    (x0, y0, x1, y1): (f64, f64, f64, f64),
) {
    let kept: Vec<Vec<(f64, f64)>> = curves
        .iter()
        .map(|c| {
            c.iter()
                .copied()
                .filter(|(w, e)| w.is_finite() && *w > 0.0 && e.is_finite())
                .take(MOST_POINTS)
                .collect()
        })
        .collect();
    let points = || kept.iter().flatten();
    let span = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        })
    };
    let (w0, w1) = span(&mut points().map(|p| p.0));
    let (e0, e1) = span(&mut points().map(|p| p.1));
    if w0 > w1 {
        return;
    }
    let (w1, e0, e1) = (w1.max(w0 * 1.01), e0 - 0.005, e1 + 0.005);
    let x = |w: f64| x0 + (x1 - x0) * (w / w0).ln() / (w1 / w0).ln();
    let y = |e: f64| y1 - (y1 - y0) * (e - e0) / (e1 - e0);
    sheet.raw(format_args!(
        "<path d=\"M{x0} {y0}V{y1}H{x1}\" fill=\"none\" stroke=\"{RULE}\" stroke-width=\"2\"/>"
    ));
    for (n, curve) in kept.iter().enumerate() {
        let colour = SERIES[n % SERIES.len()];
        let mut path = String::new();
        for (i, (w, e)) in curve.iter().enumerate() {
            let _ = write!(
                path,
                "{}{:.1} {:.1}",
                if i == 0 { 'M' } else { 'L' },
                x(*w),
                y(*e)
            );
        }
        sheet.raw(format_args!(
            "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"4\" \
             stroke-linejoin=\"round\"/>"
        ));
        for (w, e) in curve {
            marker(sheet, n, x(*w), y(*e), 7.0);
        }
    }
    let (low, high) = span(&mut points().map(|p| p.1));
    let label = |e: f64| super::figures::percent(e, 1);
    sheet.text(
        x0 + 8.0,
        y0 - 14.0,
        20.0,
        false,
        FAINT,
        "start",
        &format!("efficiency {} to {}", label(low), label(high)),
    );
    sheet.text(
        x0,
        y1 + 28.0,
        20.0,
        false,
        FAINT,
        "start",
        &super::figures::watts(w0),
    );
    sheet.text(
        x1,
        y1 + 28.0,
        20.0,
        false,
        FAINT,
        "end",
        &super::figures::watts(w1),
    );
}

/// The mark of a series: its own shape as well as its own colour.
fn marker(sheet: &mut Sheet, series: usize, x: f64, y: f64, radius: f64) {
    let colour = SERIES[series % SERIES.len()];
    let outline = marker_outline(series, radius);
    if outline.is_empty() {
        sheet.raw(format_args!(
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius}\" fill=\"{colour}\"/>"
        ));
        return;
    }
    let points: Vec<String> = outline
        .iter()
        .map(|(dx, dy)| format!("{:.1},{:.1}", x + dx, y + dy))
        .collect();
    sheet.raw(format_args!(
        "<polygon points=\"{}\" fill=\"{colour}\"/>",
        points.join(" ")
    ));
}

fn list_svg(mut sheet: Sheet, card: &ListCard) -> String {
    sheet.text(
        60.0,
        172.0,
        56.0,
        true,
        INK,
        "start",
        &fitted(&card.title, 56.0, true, 1080.0),
    );
    let subtitle = fitted(&card.subtitle, 28.0, false, 1080.0);
    sheet.text(60.0, 222.0, 28.0, false, FAINT, "start", &subtitle);
    if card.lines.is_empty() {
        sheet.text(60.0, 330.0, 32.0, false, FAINT, "start", "no unit yet");
    }
    for (i, line) in card.lines.iter().take(5).enumerate() {
        let y = 300.0 + 66.0 * i as f64;
        sheet.raw(format_args!(
            "<path d=\"M60 {top}H1140\" stroke=\"{RULE}\" stroke-width=\"2\"/>",
            top = y - 46.0
        ));
        let rank = fitted(&line.rank, 30.0, false, 100.0);
        sheet.text(60.0, y, 30.0, false, FAINT, "start", &rank);
        let room = if line.figure.is_some() { 520.0 } else { 680.0 };
        let name = fitted(&line.name, 34.0, true, room);
        sheet.text(180.0, y, 34.0, true, INK, "start", &name);
        if let Some(figure) = &line.figure {
            let figure = fitted(figure, 30.0, true, 430.0);
            sheet.text(1140.0, y, 30.0, true, INK, "end", &figure);
            continue;
        }
        let (score, u) = score_words(line.score, line.score_u);
        sheet.text(990.0, y, 36.0, true, INK, "end", &score);
        sheet.text(1004.0, y, 26.0, false, FAINT, "start", &u);
    }
    sheet.finish()
}

fn comparison_svg(mut sheet: Sheet, card: &ComparisonCard) -> String {
    let title = match card.units.len() {
        0 => "Comparison".to_owned(),
        n => super::figures::counted(n, "adapter", "adapters") + " compared",
    };
    sheet.text(60.0, 166.0, 52.0, true, INK, "start", &title);
    let step = if card.units.len() > 4 { 62.0 } else { 84.0 };
    for (i, unit) in card.units.iter().take(6).enumerate() {
        let y = 246.0 + step * i as f64;
        marker(&mut sheet, i, 72.0, y - 11.0, 12.0);
        let name = fitted(&unit.name, 28.0, true, 380.0);
        sheet.text(98.0, y, 28.0, true, INK, "start", &name);
        let (score, u) = score_words(unit.score, unit.score_u);
        sheet.text(560.0, y, 32.0, true, INK, "end", &score);
        sheet.text(572.0, y, 22.0, false, FAINT, "start", &u);
    }
    let curves: Vec<&Vec<(f64, f64)>> = card.units.iter().take(6).map(|u| &u.curve).collect();
    sparkline(&mut sheet, &curves, (720.0, 240.0, 1140.0, 540.0));
    sheet.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn card() -> UnitCard {
        UnitCard {
            name: "Larkfield LF-100Q".into(),
            class_label: "over 70 to 100 W".into(),
            score: Some(71.3),
            score_u: Some(1.1),
            rank: "rank 3 to 5 of 41 in its class".into(),
            verdicts: vec![
                VerdictMark {
                    regime: "Level VI".into(),
                    outcome: Outcome::Pass,
                },
                VerdictMark {
                    regime: "CoC Tier 2".into(),
                    outcome: Outcome::ConditionalFail,
                },
            ],
            curve: vec![(10.0, 0.86), (25.0, 0.9), (50.0, 0.92), (100.0, 0.915)],
            photo: None,
        }
    }

    fn decoded(png: &[u8]) -> Pixmap {
        Pixmap::decode_png(png).expect("a PNG")
    }

    #[test]
    fn invented_data_is_marked_in_every_kind_of_picture() {
        for card in [
            PreviewCard::Unit(card()),
            PreviewCard::List(ListCard::default()),
            PreviewCard::Comparison(ComparisonCard::default()),
        ] {
            let marked = drawn(&card, true);
            assert!(marked.contains(">demonstration, invented data<"));
            assert!(!marked.contains("measured by us"));
            assert!(!drawn(&card, false).contains("invented"));
            assert_ne!(preview_png(&card, true), preview_png(&card, false));
        }
    }

    #[test]
    fn a_photo_stands_at_the_right_and_the_name_keeps_clear_of_it() {
        let red = [200, 20, 20].repeat(60 * 40);
        let with_photo = UnitCard {
            name: "Larkfield LF-100Q with a name that goes on and on".into(),
            photo: Some(crate::photo::drawn(60, 40, red).jpeg),
            ..card()
        };
        let picture = decoded(&preview_png(&PreviewCard::Unit(with_photo), false));
        let is_red = |x: u32, y: u32| {
            let pixel = picture.pixel(x, y).expect("inside the picture");
            pixel.red() > 180 && pixel.green() < 60
        };
        assert!(is_red(1100, 185) && is_red(1135, 110));
        // Between the name's column and the photo there is paper.
        for y in 100..266 {
            assert_eq!(picture.pixel(770, y), picture.pixel(1190, 400), "{y}");
        }
        assert!(!is_red(700, 185));
        let plain = decoded(&preview_png(&PreviewCard::Unit(card()), false));
        assert!(plain.pixel(1100, 200).expect("inside").green() > 200);
    }

    #[test]
    fn the_picture_has_the_size_that_link_previews_expect() {
        let list = ListCard {
            title: "Leaderboard".into(),
            subtitle: "41 units".into(),
            lines: vec![
                ListLine {
                    name: "A".into(),
                    ..ListLine::default()
                };
                9
            ],
        };
        let comparison = ComparisonCard {
            units: vec![card(), card()],
        };
        for card in [
            PreviewCard::Unit(card()),
            PreviewCard::Unit(UnitCard::default()),
            PreviewCard::List(list),
            PreviewCard::List(ListCard::default()),
            PreviewCard::Comparison(comparison),
            PreviewCard::Comparison(ComparisonCard::default()),
        ] {
            let picture = decoded(&preview_png(&card, false));
            assert_eq!((picture.width(), picture.height()), (1200, 630));
            assert!(
                picture.pixels().iter().any(|p| p.red() < 0x80),
                "something is written"
            );
        }
    }

    #[test]
    fn another_score_makes_another_picture_and_the_same_card_the_same_one() {
        let first = preview_png(&PreviewCard::Unit(card()), false);
        assert_eq!(first, preview_png(&PreviewCard::Unit(card()), false));
        let other = UnitCard {
            score: Some(17.9),
            ..card()
        };
        assert_ne!(first, preview_png(&PreviewCard::Unit(other), false));
    }

    #[test]
    fn odd_text_is_cut_and_escaped_and_never_stops_the_picture() {
        for name in [
            "W".repeat(5000),
            "<svg onload=\"x\">&amp;]]></svg>".to_owned(),
            "\u{0}\u{1b}\u{202e}\u{feff}\u{fffe}".to_owned(),
            "充电器 😀 мощность".to_owned(),
            String::new(),
        ] {
            let odd = UnitCard {
                name: name.clone(),
                rank: name.clone(),
                class_label: name.clone(),
                verdicts: vec![
                    VerdictMark {
                        regime: name,
                        outcome: Outcome::Fail
                    };
                    7
                ],
                curve: vec![
                    (f64::NAN, 0.9),
                    (0.0, 0.9),
                    (5.0, f64::INFINITY),
                    (5.0, 0.9),
                ],
                score: Some(f64::NAN),
                score_u: None,
                photo: Some(b"no JPEG".to_vec()),
            };
            let svg = unit_svg(Sheet::new(""), &odd);
            assert!(Tree::from_str(&svg, &options()).is_ok(), "{svg}");
            assert_eq!(
                decoded(&preview_png(&PreviewCard::Unit(odd), false)).width(),
                1200
            );
        }
    }

    #[test]
    fn a_name_too_long_for_its_line_ends_in_an_ellipsis_within_the_picture() {
        let cut = fitted(&"Wonderful ".repeat(30), 30.0, true, 380.0);
        assert!(cut.ends_with('…'));
        assert!(measured_width(&cut, 30.0, true) <= 380.0);
        assert!(measured_width(&cut, 30.0, true) > 300.0);
    }
}
