//! The paper that every chart is drawn on: size, axes, inks, labels at line ends, hover values.
//!
//! plotters maps coordinates and writes the marks. It can only write literal colours, so each
//! [`Ink`] has a colour of its own that means nothing but "this ink"; afterwards those attributes
//! become classes and `static/chart.css` decides how an ink looks. Text and hover values are
//! written here, over the marks, because they need anchors, line breaks and classes.

use super::Size;
use super::figures::escape;
use super::labels::{Wish, spread, text_width, wrapped};
use super::ticks;
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use std::fmt::Write as _;

/// Text height in units of the drawing (about CSS pixels on screen).
pub(super) const FONT: f64 = 12.0;
/// Bold text is as wide as plain text of this height.
const BOLD_FONT: f64 = FONT * 1.12;
/// Height of one line of text.
pub(super) const LINE: f64 = 14.0;
/// plotters rounds to whole numbers. It draws at this multiple, so that marks stand on half
/// units and shallow curves don't show steps.
const FINE: f64 = 2.0;
/// Series that can be told apart by colour, shape and dash alone; further ones mix them anew.
pub(super) const STYLES: usize = 6;

impl Size {
    /// Width in units of the drawing.
    pub fn width(self) -> f64 {
        match self {
            Size::Wide => 760.0,
            Size::Narrow => 360.0,
        }
    }

    /// Height of a chart with two axes.
    pub(super) fn height(self) -> f64 {
        match self {
            Size::Wide => 420.0,
            Size::Narrow => 320.0,
        }
    }

    fn class(self) -> &'static str {
        match self {
            Size::Wide => "chart chart-wide",
            Size::Narrow => "chart chart-narrow",
        }
    }
}

/// What a mark is, which is all that decides how it looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    Axis,
    Grid,
    /// Stands for the background lines, which are not drawn by plotters.
    Backdrop,
    Limit,
    /// Line through measured points of the series with this number.
    Line(usize),
    /// The same, emphasised.
    Strong(usize),
    /// Curve of a fitted model.
    Model(usize),
    /// Measured point.
    Mark(usize),
    /// Bar, and an emphasised one.
    Bar,
    HotBar,
    Whisker,
}

/// Not a look: where the background lines belong.
const BACKDROP: u8 = 4;

impl Ink {
    /// A colour that only says which ink it is; [`ink_of`] reads it again.
    fn code(self) -> RGBColor {
        let (role, n) = match self {
            Ink::Axis => (1, 0),
            Ink::Grid => (2, 0),
            Ink::Limit => (3, 0),
            Ink::Backdrop => (BACKDROP, 0),
            Ink::Line(n) => (5, n),
            Ink::Strong(n) => (6, n),
            Ink::Model(n) => (7, n),
            Ink::Mark(n) => (9, n),
            Ink::Bar => (10, 0),
            Ink::HotBar => (11, 0),
            Ink::Whisker => (12, 0),
        };
        RGBColor(role, (n % 256) as u8, 0)
    }

    fn style(self) -> ShapeStyle {
        self.code().stroke_width(1)
    }

    fn fill(self) -> ShapeStyle {
        self.code().filled()
    }
}

/// Writes the classes of an ink, by its role and number.
fn write_classes(to: &mut String, role: u8, n: usize) {
    let (colour, dash) = (colour_number(n), dash_number(n));
    // Memory has no error to report.
    let _ = match role {
        1 => write!(to, "c-axis"),
        2 => write!(to, "c-grid"),
        3 => write!(to, "c-limit"),
        5 => write!(to, "c-line c-s{colour} c-d{dash}"),
        6 => write!(to, "c-line c-strong c-s{colour} c-d{dash}"),
        7 => write!(to, "c-model c-s{colour}"),
        9 => write!(to, "c-mark c-s{colour}"),
        10 => write!(to, "c-bar"),
        11 => write!(to, "c-bar c-hot"),
        _ => write!(to, "c-whisker"),
    };
}

/// The role and number of an ink, from the first colour code among an element's attributes.
fn ink_of(element: &str) -> (u8, usize) {
    let code = element.split_once("=\"#").map_or("", |(_, code)| code);
    let byte = |at: usize| {
        code.get(at..at + 2)
            .and_then(|b| u8::from_str_radix(b, 16).ok())
            .unwrap_or(0)
    };
    (byte(0), usize::from(byte(2)))
}

/// 1..=6
fn colour_number(series: usize) -> usize {
    series % STYLES + 1
}

/// 1..=6; shifted on each round, so that the seventh series differs from the first.
fn dash_number(series: usize) -> usize {
    (series + series / STYLES) % STYLES + 1
}

/// Outline of the series' marker around the origin; empty for the round one.
pub(super) fn marker_outline(series: usize, radius: f64) -> Vec<(f64, f64)> {
    let r = radius;
    // Sizes differ so that the areas look alike.
    let unit: &[(f64, f64)] = match (series + series / STYLES) % STYLES {
        0 => return Vec::new(),
        1 => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
        2 => &[(0.0, -1.3), (1.2, 0.9), (-1.2, 0.9)],
        3 => &[(0.0, -1.35), (1.35, 0.0), (0.0, 1.35), (-1.35, 0.0)],
        4 => &[(0.0, 1.3), (1.2, -0.9), (-1.2, -0.9)],
        _ => &[
            (-0.45, -1.3),
            (0.45, -1.3),
            (0.45, -0.45),
            (1.3, -0.45),
            (1.3, 0.45),
            (0.45, 0.45),
            (0.45, 1.3),
            (-0.45, 1.3),
            (-0.45, 0.45),
            (-1.3, 0.45),
            (-1.3, -0.45),
            (-0.45, -0.45),
        ],
    };
    unit.iter().map(|(x, y)| (x * r, y * r)).collect()
}

/// An axis: the values at its two ends, and whether equal distances are equal ratios.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    pub from: f64,
    pub to: f64,
    pub log: bool,
}

impl Scale {
    pub fn linear(from: f64, to: f64) -> Scale {
        Scale {
            from,
            to,
            log: false,
        }
    }

    pub fn log(from: f64, to: f64) -> Scale {
        Scale {
            from,
            to,
            log: true,
        }
    }

    /// Position along the axis, 0 at `from` and 1 at `to`; `None` for what has no place on it.
    pub fn position(&self, value: f64) -> Option<f64> {
        let at = if self.log {
            (value / self.from).ln() / (self.to / self.from).ln()
        } else {
            (value - self.from) / (self.to - self.from)
        };
        at.is_finite().then_some(at)
    }

    pub fn holds(&self, value: f64) -> bool {
        self.position(value)
            .is_some_and(|p| (-1e-9..=1.0 + 1e-9).contains(&p))
    }

    /// `count` values from one end to the other, at equal distances on paper.
    pub fn samples(&self, from: f64, to: f64, count: usize) -> Vec<f64> {
        let part = |i: usize| i as f64 / (count.max(2) - 1) as f64;
        (0..count.max(2))
            .map(|i| {
                if self.log {
                    from * (to / from).powf(part(i))
                } else {
                    from + (to - from) * part(i)
                }
            })
            .collect()
    }
}

/// Everything about a drawing but its marks.
pub(super) struct Spec<'a> {
    pub size: Size,
    pub height: f64,
    pub prefix: &'a str,
    pub title: &'a str,
    pub desc: &'a str,
    /// Space outside the axes: left, top, right, bottom.
    pub margins: (f64, f64, f64, f64),
    pub x: Scale,
    pub y: Scale,
}

/// A drawing under way. Coordinates of methods are values on the axes unless they say "units".
pub(super) struct Plot<'a> {
    chart: ChartContext<'a, SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
    pub x: Scale,
    pub y: Scale,
    pub size: Size,
    /// Edges of the plotting area in units.
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
    under: String,
    over: String,
    hits: String,
}

/// What stands before a label at a line's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    Series(usize),
    /// A series that is a line without markers.
    Line(usize),
    Limit,
    /// One of the background lines.
    Muted,
}

/// The name of a line, placed beside the chart at the height where the line ends.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct EndLabel {
    /// Where the line ends, on the axes.
    pub end: (f64, f64),
    pub sign: Sign,
    pub text: String,
    pub strong: bool,
}

impl EndLabel {
    /// Font height that stands for the width of the text.
    fn font(&self) -> f64 {
        if self.strong { BOLD_FONT } else { FONT }
    }
}

/// Space between plotting area and the text of end labels: leader line and sign.
const LABEL_INDENT: f64 = 26.0;

/// Right margin that end labels need, in units.
pub(super) fn end_label_margin(
    size: Size,
    texts: impl Iterator<Item = (impl AsRef<str>, bool)>,
) -> f64 {
    let most = end_label_room(size);
    let widest = texts
        .map(|(t, strong)| (t, if strong { BOLD_FONT } else { FONT }))
        .flat_map(|(t, font)| {
            wrapped(t.as_ref(), font, most)
                .into_iter()
                .map(move |l| text_width(&l, font))
        })
        .fold(0.0, f64::max);
    if widest == 0.0 {
        14.0
    } else {
        LABEL_INDENT + widest.min(most) + 4.0
    }
}

/// Height of a chart with two axes and these end labels: taller than usual where their lines
/// would not fit, up to twice the usual.
pub(super) fn sheet_height(
    size: Size,
    texts: impl Iterator<Item = (impl AsRef<str>, bool)>,
) -> f64 {
    let usual = size.height();
    let lines: usize = texts
        .map(|(t, strong)| {
            wrapped(
                t.as_ref(),
                if strong { BOLD_FONT } else { FONT },
                end_label_room(size),
            )
            .len()
        })
        .sum();
    // Above and below the labels: axis titles and ticks.
    (lines as f64 * LINE + 80.0).clamp(usual, usual * 2.0)
}

fn end_label_room(size: Size) -> f64 {
    match size {
        Size::Wide => 176.0,
        Size::Narrow => 103.0,
    }
}

/// Draws on a fresh sheet and returns the finished SVG.
pub(super) fn plot(spec: &Spec<'_>, draw: impl FnOnce(&mut Plot<'_>)) -> String {
    let (width, height) = (spec.size.width(), spec.height);
    let (left, top, right, bottom) = spec.margins;
    let mut marks = String::new();
    let mut layers = None;
    {
        let sheet = ((width * FINE) as u32, (height * FINE) as u32);
        let root = SVGBackend::with_string(&mut marks, sheet).into_drawing_area();
        let chart = ChartBuilder::on(&root)
            .margin_left((left * FINE) as i32)
            .margin_top((top * FINE) as i32)
            .margin_right((right * FINE) as i32)
            .margin_bottom((bottom * FINE) as i32)
            .build_cartesian_2d(0.0..1.0, 0.0..1.0);
        if let Ok(chart) = chart {
            let (x0, y0) = chart.backend_coord(&(0.0, 0.0));
            let (x1, y1) = chart.backend_coord(&(1.0, 1.0));
            let mut plot = Plot {
                chart,
                x: spec.x,
                y: spec.y,
                size: spec.size,
                left: f64::from(x0) / FINE,
                top: f64::from(y1) / FINE,
                right: f64::from(x1) / FINE,
                bottom: f64::from(y0) / FINE,
                under: String::new(),
                over: String::new(),
                hits: String::new(),
            };
            draw(&mut plot);
            layers = Some((plot.under, plot.over, plot.hits));
        }
        // Memory has no I/O error to report.
        root.present().ok();
    }
    let (under, over, hits) = layers.unwrap_or_default();
    let open = open_fine();
    let marks = classed(&marks, &format!("</g>{under}{open}"));
    let inner = format!("{open}{marks}</g>{over}<g class=\"c-hits\">{hits}</g>");
    document(
        spec.size,
        height,
        spec.prefix,
        spec.title,
        spec.desc,
        &inner,
    )
}

/// The beginning of a group whose coordinates are plotters'.
fn open_fine() -> String {
    format!("<g transform=\"scale({})\">", 1.0 / FINE)
}

/// The small drawing that stands where there is nothing to draw.
pub(super) fn nothing(size: Size, prefix: &str, title: &str, words: &str) -> String {
    let (w, h) = (size.width(), 72.0);
    let inner = format!(
        "<path class=\"c-axis\" d=\"M1 1H{}V{}H1Z\"/>\
         <text class=\"c-faint\" x=\"{}\" y=\"40\" text-anchor=\"middle\">{}</text>",
        w - 1.0,
        h - 1.0,
        w / 2.0,
        escape(words),
    );
    document(size, h, prefix, title, words, &inner)
}

fn document(size: Size, height: f64, prefix: &str, title: &str, desc: &str, inner: &str) -> String {
    let id: String = prefix
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"{class}\" role=\"img\" \
         aria-labelledby=\"{id}-title {id}-desc\" viewBox=\"0 0 {width} {height}\">\
         <title id=\"{id}-title\">{title}</title><desc id=\"{id}-desc\">{desc}</desc>{inner}</svg>",
        class = size.class(),
        width = size.width(),
        title = escape(title),
        desc = escape(desc),
    )
}

/// plotters' elements with classes for colours and without what the style sheet decides;
/// `backdrop` in place of the element that stands for it.
fn classed(marks: &str, backdrop: &str) -> String {
    let mut out = String::with_capacity(marks.len());
    for line in marks.lines() {
        // plotters writes one element a line; the outer <svg> is ours.
        if line.starts_with("<svg") || line.starts_with("</svg") || !line.starts_with('<') {
            continue;
        }
        let (role, n) = ink_of(line);
        if role == BACKDROP {
            out.push_str(backdrop);
            continue;
        }
        let body = line.trim_end_matches("/>").trim_start_matches('<');
        let (name, mut rest) = body.split_once(' ').unwrap_or((body, ""));
        out.push('<');
        out.push_str(name);
        out.push_str(" class=\"");
        write_classes(&mut out, role, n);
        out.push('"');
        while let Some((key, after)) = rest.split_once("=\"") {
            let Some((value, after)) = after.split_once('"') else {
                break;
            };
            rest = after;
            let key = key.trim();
            if !matches!(key, "fill" | "stroke" | "opacity" | "stroke-width") {
                for part in [" ", key, "=\"", value.trim_end(), "\""] {
                    out.push_str(part);
                }
            }
        }
        out.push_str("/>");
    }
    out
}

/// A coordinate with at most one decimal. By whole numbers, as a page has thousands of them.
fn short(v: f64) -> String {
    let tenths = (v * 10.0).round_ties_even() as i64;
    if tenths % 10 == 0 {
        return (tenths / 10).to_string();
    }
    let sign = if tenths < 0 { "-" } else { "" };
    format!("{sign}{}.{}", tenths.abs() / 10, tenths.abs() % 10)
}

/// How text stands at its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Plot<'_> {
    /// Where a point stands, in units; `None` if it has no place on an axis.
    pub fn at(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let at = (self.x.position(x)?, self.y.position(y)?);
        // Far outside would overflow plotters' integers.
        if at.0.abs() > 100.0 || at.1.abs() > 100.0 {
            return None;
        }
        let (px, py) = self.chart.backend_coord(&at);
        Some((f64::from(px) / FINE, f64::from(py) / FINE))
    }

    fn unit(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        Some((self.x.position(x)?, self.y.position(y)?))
    }

    /// A line through points; those off the paper break it.
    pub fn line(&mut self, ink: Ink, points: &[(f64, f64)]) {
        let mut piece: Vec<(f64, f64)> = Vec::new();
        for p in points.iter().map(Some).chain([None]) {
            let inside = p.filter(|(x, y)| self.x.holds(*x) && self.y.holds(*y));
            match inside.and_then(|p| self.unit(*p)) {
                Some(at) => piece.push(at),
                None => {
                    if piece.len() > 1 {
                        let path = PathElement::new(std::mem::take(&mut piece), ink.style());
                        self.chart.draw_series([path]).ok();
                    }
                    piece.clear();
                }
            }
        }
    }

    /// A filled box between two corners.
    pub fn bar(&mut self, ink: Ink, from: (f64, f64), to: (f64, f64)) {
        if let (Some(a), Some(b)) = (self.unit(from), self.unit(to)) {
            self.chart
                .draw_series([Rectangle::new([a, b], ink.fill())])
                .ok();
        }
    }

    /// The marker of a series.
    pub fn marker(&mut self, series: usize, x: f64, y: f64, radius: f64) {
        let Some(at) = self
            .unit((x, y))
            .filter(|_| self.x.holds(x) && self.y.holds(y))
        else {
            return;
        };
        let style = Ink::Mark(series).fill();
        let outline = marker_outline(series, radius * FINE);
        if outline.is_empty() {
            self.chart
                .draw_series([Circle::new(at, (radius * FINE) as i32, style)])
                .ok();
        } else {
            let outline: Vec<(i32, i32)> = outline
                .iter()
                .map(|(x, y)| (x.round() as i32, y.round() as i32))
                .collect();
            self.chart
                .draw_series([EmptyElement::at(at) + Polygon::new(outline, style)])
                .ok();
        }
    }

    /// Upright uncertainty bars of a series, each a place with its lower and upper end, in one
    /// element under the marks. Call after the axes; what was drawn since lies under them, too.
    pub fn error_bars(&mut self, series: usize, bars: &[(f64, f64, f64)]) {
        let element = self.error_bars_element(series, bars);
        if !element.is_empty() {
            self.open_under();
            self.under.push_str(&element);
        }
    }

    /// As [`Plot::error_bars`], over the marks.
    pub fn error_bars_over(&mut self, series: usize, bars: &[(f64, f64, f64)]) {
        let element = self.error_bars_element(series, bars);
        self.over.push_str(&element);
    }

    /// Bars with feet, cut at the edges of the paper; nothing where none is on it. In the group of
    /// plotters' own marks: a renderer that scales strokes scales them alike.
    fn error_bars_element(&self, series: usize, bars: &[(f64, f64, f64)]) -> String {
        const FOOT: i32 = (3.0 * FINE) as i32;
        let mut path = String::new();
        for &(x, low, high) in bars {
            let (low, high) = (low.max(self.y.from), high.min(self.y.to));
            if low >= high || !self.x.holds(x) {
                continue;
            }
            let Some((below, above)) = self.unit((x, low)).zip(self.unit((x, high))) else {
                continue;
            };
            let (x, below) = self.chart.backend_coord(&below);
            let (_, above) = self.chart.backend_coord(&above);
            let (foot, width) = (x - FOOT, 2 * FOOT);
            let _ = write!(
                path,
                "M{x} {below}V{above}M{foot} {below}h{width}M{foot} {above}h{width}"
            );
        }
        if path.is_empty() {
            return path;
        }
        let (open, colour) = (open_fine(), colour_number(series));
        format!("{open}<path class=\"c-error c-s{colour}\" d=\"{path}\"/></g>")
    }

    /// From here on there is something under the marks and over what was drawn before.
    fn open_under(&mut self) {
        if self.under.is_empty() {
            let line = [(self.x.from, self.y.from), (self.x.to, self.y.from)];
            self.line(Ink::Backdrop, &line);
        }
    }

    /// Many lines in one element, over what was drawn before and under what follows. `title` is what hovering shows.
    pub fn backdrop(&mut self, lines: &[&[(f64, f64)]], title: Option<&str>) {
        let mut path = String::new();
        for line in lines {
            let mut pen_down = false;
            for &(x, y) in *line {
                let place = self.at(x, y).filter(|_| self.x.holds(x) && self.y.holds(y));
                match place {
                    Some((px, py)) => {
                        let command = if pen_down { 'L' } else { 'M' };
                        let _ = write!(path, "{command}{} {}", short(px), short(py));
                        pen_down = true;
                    }
                    None => pen_down = false,
                }
            }
        }
        if path.is_empty() {
            return;
        }
        self.open_under();
        match title {
            Some(t) => {
                let _ = write!(
                    self.under,
                    "<path class=\"c-muted c-few\" d=\"{path}\"><title>{}</title></path>",
                    escape(t)
                );
            }
            None => {
                let _ = write!(self.under, "<path class=\"c-muted\" d=\"{path}\"/>");
            }
        }
    }

    /// Text at a place in units, `y` being the baseline.
    pub fn text(&mut self, class: &str, x: f64, y: f64, anchor: Anchor, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let _ = write!(
            self.over,
            "<text class=\"{class}\" x=\"{}\" y=\"{}\"{anchor}>{}</text>",
            short(x),
            short(y),
            escape(text)
        );
    }

    /// A straight line between places in units, over the marks.
    pub fn stroke(&mut self, class: &str, points: &[(f64, f64)]) {
        let mut path = String::new();
        for (i, (x, y)) in points.iter().enumerate() {
            let _ = write!(
                path,
                "{}{} {}",
                if i == 0 { 'M' } else { 'L' },
                short(*x),
                short(*y)
            );
        }
        let _ = write!(self.over, "<path class=\"{class}\" d=\"{path}\"/>");
    }

    /// Straight pieces between pairs of places in units, in one element over the marks.
    pub fn segments(&mut self, class: &str, pieces: &[[(f64, f64); 2]]) {
        if pieces.is_empty() {
            return;
        }
        let mut path = String::new();
        for [(x1, y1), (x2, y2)] in pieces {
            let _ = write!(
                path,
                "M{} {}L{} {}",
                short(*x1),
                short(*y1),
                short(*x2),
                short(*y2)
            );
        }
        let _ = write!(self.over, "<path class=\"{class}\" d=\"{path}\"/>");
    }

    /// A filled outline between places in units, over the marks.
    pub fn area(&mut self, class: &str, outline: &[(f64, f64)]) {
        let mut path = String::new();
        for (i, (x, y)) in outline.iter().enumerate() {
            let command = if i == 0 { 'M' } else { 'L' };
            let _ = write!(path, "{command}{} {}", short(*x), short(*y));
        }
        let _ = write!(self.over, "<path class=\"{class}\" d=\"{path}Z\"/>");
    }

    /// A filled outline between places in units, over the grid and under the marks. Call after the
    /// axes and before the marks.
    pub fn shade(&mut self, class: &str, outline: &[(f64, f64)]) {
        self.open_under();
        let mut path = String::new();
        for (i, (x, y)) in outline.iter().enumerate() {
            let command = if i == 0 { 'M' } else { 'L' };
            let _ = write!(path, "{command}{} {}", short(*x), short(*y));
        }
        let _ = write!(self.under, "<path class=\"{class}\" d=\"{path}Z\"/>");
    }

    /// Values shown on hover over a box between two corners in units.
    pub fn hit_box(&mut self, (left, top): (f64, f64), (right, bottom): (f64, f64), words: &str) {
        let _ = write!(
            self.hits,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"><title>{}</title></rect>",
            short(left),
            short(top),
            short((right - left).max(0.0)),
            short((bottom - top).max(0.0)),
            escape(words)
        );
    }

    /// Values shown on hover around a place in units.
    pub fn hit(&mut self, (x, y): (f64, f64), radius: f64, words: &str) {
        let _ = write!(
            self.hits,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"><title>{}</title></circle>",
            short(x),
            short(y),
            short(radius),
            escape(words)
        );
    }

    /// Values shown on hover over a whole row of the drawing, in units.
    pub fn hit_row(&mut self, y: f64, height: f64, words: &str) {
        let _ = write!(
            self.hits,
            "<rect x=\"0\" y=\"{}\" width=\"{}\" height=\"{}\"><title>{}</title></rect>",
            short(y),
            short(self.size.width()),
            short(height),
            escape(words)
        );
    }

    /// Grid lines and labels across; `label` writes a tick's value. Call before the marks.
    pub fn y_axis(&mut self, title: &str, marks: &[f64], label: impl Fn(f64) -> String) {
        for &mark in marks {
            self.line(Ink::Grid, &[(self.x.from, mark), (self.x.to, mark)]);
            if let Some((_, py)) = self.at(self.x.from, mark) {
                self.text(
                    "c-faint",
                    self.left - 6.0,
                    py + 4.0,
                    Anchor::End,
                    &label(mark),
                );
            }
        }
        self.text("c-text", 2.0, LINE, Anchor::Start, title);
    }

    /// Ticks and labels along the bottom. Call before the marks.
    pub fn x_axis(&mut self, title: &str, marks: &[f64], label: impl Fn(f64) -> String) {
        self.line(
            Ink::Axis,
            &[(self.x.from, self.y.from), (self.x.to, self.y.from)],
        );
        let mut ticks = Vec::new();
        for &mark in marks {
            if let Some((px, py)) = self.at(mark, self.y.from) {
                ticks.push([(px, py), (px, py + 4.0)]);
                self.text("c-faint", px, py + 17.0, Anchor::Middle, &label(mark));
            }
        }
        self.segments("c-axis", &ticks);
        let (y, middle) = (self.bottom + 35.0, (self.left + self.right) / 2.0);
        self.text("c-text", middle, y, Anchor::Middle, title);
    }

    /// Names of lines beside the chart. They never overlap; what finds no room is counted in a
    /// last line, and is in the table anyway.
    pub fn end_labels(&mut self, labels: &[EndLabel]) {
        for placed in self.placed_end_labels(labels) {
            let (x, middle) = (self.right + LABEL_INDENT, placed.middle);
            if let Some((ex, ey)) = placed.end {
                let class = match placed.sign {
                    Some(Sign::Series(n) | Sign::Line(n)) => {
                        format!("c-leader c-s{}", colour_number(n))
                    }
                    _ => "c-leader".to_owned(),
                };
                let from = (ex + 5.0).min(self.right);
                let knee = (self.right + 2.0, ey);
                // Without a sign the leader goes up to the text.
                let gap = if matches!(placed.sign, Some(Sign::Muted)) {
                    4.0
                } else {
                    14.0
                };
                let to = (self.right + LABEL_INDENT - gap, middle);
                if (to.0 - from) > 3.0 {
                    self.stroke(&class, &[(from, ey), knee, to]);
                }
            }
            let sign_x = self.right + LABEL_INDENT - 8.0;
            match placed.sign {
                Some(Sign::Series(n)) => self.sign(n, sign_x, middle),
                Some(Sign::Line(n)) => {
                    let class = format!("c-line c-s{}", colour_number(n));
                    self.stroke(&class, &[(sign_x - 5.0, middle), (sign_x + 4.0, middle)]);
                }
                Some(Sign::Limit) => {
                    self.stroke("c-limit", &[(sign_x - 5.0, middle), (sign_x + 5.0, middle)]);
                }
                Some(Sign::Muted) | None => {}
            }
            let class = if placed.strong {
                "c-text c-bold"
            } else {
                "c-text"
            };
            let first = middle - (placed.lines.len() as f64 - 1.0) * LINE / 2.0 + 4.0;
            for (i, line) in placed.lines.iter().enumerate() {
                self.text(class, x, first + i as f64 * LINE, Anchor::Start, line);
            }
        }
    }

    /// The marker of a series beside its label, in units.
    fn sign(&mut self, series: usize, x: f64, y: f64) {
        let class = format!("c-mark c-s{}", colour_number(series));
        let outline = marker_outline(series, 4.0);
        if outline.is_empty() {
            let _ = write!(
                self.over,
                "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"4\"/>",
                short(x),
                short(y)
            );
        } else {
            let mut path = String::new();
            for (i, (dx, dy)) in outline.iter().enumerate() {
                let command = if i == 0 { 'M' } else { 'L' };
                let _ = write!(path, "{command}{} {}", short(x + dx), short(y + dy));
            }
            let _ = write!(self.over, "<path class=\"{class}\" d=\"{path}Z\"/>");
        }
    }

    fn placed_end_labels(&self, labels: &[EndLabel]) -> Vec<PlacedLabel> {
        let room = self.size.width() - self.right - LABEL_INDENT - 2.0;
        let (top, bottom) = (self.top - LINE / 2.0, self.bottom + LINE / 2.0);
        let mut lines: Vec<Vec<String>> = labels
            .iter()
            .map(|l| wrapped(&l.text, l.font(), room))
            .collect();
        let count = |lines: &[Vec<String>]| lines.iter().map(Vec::len).sum::<usize>() as f64;
        if count(&lines) * LINE > bottom - top {
            lines = labels
                .iter()
                .map(|l| vec![super::labels::fitted(&l.text, FONT, room)])
                .collect();
        }
        let fit = ((bottom - top) / LINE).floor() as usize;
        let kept = if lines.len() > fit {
            fit.saturating_sub(1)
        } else {
            lines.len()
        };
        let mut placed: Vec<PlacedLabel> = labels
            .iter()
            .zip(lines)
            .take(kept)
            .map(|(label, lines)| PlacedLabel {
                end: self.at(label.end.0, label.end.1),
                sign: Some(label.sign),
                strong: label.strong,
                lines,
                middle: 0.0,
            })
            .collect();
        if kept < labels.len() {
            placed.push(PlacedLabel {
                end: None,
                sign: None,
                strong: false,
                lines: vec![format!("+{} in table", labels.len() - kept)],
                middle: 0.0,
            });
        }
        let wishes: Vec<Wish> = placed
            .iter()
            .map(|p| Wish {
                middle: p.end.map_or(bottom, |(_, y)| y),
                height: p.lines.len() as f64 * LINE,
            })
            .collect();
        for (label, middle) in placed.iter_mut().zip(spread(&wishes, top, bottom)) {
            label.middle = middle;
        }
        placed
    }
}

struct PlacedLabel {
    end: Option<(f64, f64)>,
    sign: Option<Sign>,
    strong: bool,
    lines: Vec<String>,
    middle: f64,
}

/// Ends of a value axis that hold all values with some air, within `bounds`; and its ticks.
pub(super) fn value_axis(
    values: impl Iterator<Item = f64>,
    bounds: (f64, f64),
    least_span: f64,
    most_ticks: usize,
) -> (Scale, Vec<f64>) {
    let (mut low, mut high) = values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
    if low > high {
        (low, high) = bounds;
    }
    if high - low < least_span {
        let middle = (low + high) / 2.0;
        (low, high) = (middle - least_span / 2.0, middle + least_span / 2.0);
    }
    let air = (high - low) * 0.07;
    let low = if low > bounds.0 {
        (low - air).max(bounds.0)
    } else {
        bounds.0
    };
    let high = (high + air).min(bounds.1);
    (
        Scale::linear(low, high),
        ticks::linear(low, high, most_ticks),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_code_of_each_ink_becomes_its_class_and_nothing_stays_literal() {
        let spec = Spec {
            size: Size::Wide,
            height: 420.0,
            prefix: "a b\"",
            title: "T",
            desc: "D",
            margins: (50.0, 20.0, 20.0, 40.0),
            x: Scale::linear(0.0, 10.0),
            y: Scale::linear(0.0, 1.0),
        };
        let svg = plot(&spec, |p| {
            p.line(Ink::Strong(7), &[(0.0, 0.0), (10.0, 1.0)]);
            p.marker(0, 5.0, 0.5, 4.0);
            p.marker(3, 5.0, 0.5, 4.0);
            p.bar(Ink::HotBar, (0.0, 0.0), (1.0, 1.0));
        });
        assert!(svg.contains("class=\"c-line c-strong c-s2 c-d3\""), "{svg}");
        assert!(svg.contains("<circle class=\"c-mark c-s1\""), "{svg}");
        assert!(svg.contains("<polygon class=\"c-mark c-s4\""), "{svg}");
        assert!(svg.contains("<rect class=\"c-bar c-hot\""), "{svg}");
        assert!(svg.contains("id=\"a-b--title\""), "{svg}");
        assert!(!svg.contains('#') && !svg.contains("style="), "{svg}");
    }

    #[test]
    fn a_line_is_broken_where_a_point_has_no_place() {
        let spec = Spec {
            size: Size::Wide,
            height: 420.0,
            prefix: "p",
            title: "T",
            desc: "D",
            margins: (50.0, 20.0, 20.0, 40.0),
            x: Scale::log(1.0, 100.0),
            y: Scale::linear(0.0, 1.0),
        };
        let points = [(1.0, 0.1), (5.0, 0.2), (0.0, 0.3), (10.0, 0.4), (50.0, 0.5)];
        let svg = plot(&spec, |p| p.line(Ink::Line(0), &points));
        assert_eq!(svg.matches("<polyline").count(), 2, "{svg}");
    }

    #[test]
    fn every_series_of_a_dozen_has_its_own_pair_of_colour_and_shape() {
        let looks: std::collections::HashSet<_> = (0..12)
            .map(|n| {
                (
                    colour_number(n),
                    dash_number(n),
                    format!("{:?}", marker_outline(n, 4.0)),
                )
            })
            .collect();
        assert_eq!(looks.len(), 12);
    }
}
