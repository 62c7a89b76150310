//! Pictures of some invented adapters: plain drawings of a box with ports, made from the record and
//! said to be drawings, in the picture and in its caption. Nobody photographed what does not exist.

use crate::bench::record::{Connector, Mode, Photo, Port, Record};
use crate::photo::{self, Kept};
use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Arc, LazyLock, Mutex};

const WIDTH: u32 = 960;
const HEIGHT: u32 = 720;
/// Drawn smaller than it is laid out, so that the files stay small.
const SCALE: f32 = 2.0 / 3.0;

const REGULAR: &[u8] = include_bytes!("../../static/fonts/DejaVuSans-subset.ttf");
const BOLD: &[u8] = include_bytes!("../../static/fonts/DejaVuSans-Bold-subset.ttf");
const FAMILY: &str = "DejaVu Sans";

/// A picture that a record of the collection names.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoPhoto {
    /// Name of its file in `seed-data/photos/`.
    pub name: String,
    pub kept: Kept,
}

#[derive(Debug, Clone, Copy)]
enum View {
    Front,
    Label,
    Ports,
}

/// Which units have pictures, of what, and the colour of their housing (front, top, side).
const DRAWN: [(&str, &[View], [&str; 3]); 10] = [
    ("QM-12A", &[View::Front], ["#e9e7e1", "#f6f5f1", "#cfccc3"]),
    (
        "CT-15 Nano",
        &[View::Front],
        ["#33363d", "#4a4e57", "#22242a"],
    ),
    (
        "LF-20C",
        &[View::Front, View::Label],
        ["#eceff1", "#f8fafb", "#cdd4d8"],
    ),
    ("LF-30C", &[View::Front], ["#eceff1", "#f8fafb", "#cdd4d8"]),
    ("PF-45C", &[View::Front], ["#d7e3dc", "#e8f0eb", "#b5c7bd"]),
    (
        "TW-65CCA",
        &[View::Front, View::Label],
        ["#2f3b46", "#45535f", "#1f2830"],
    ),
    (
        "CT-100 Nano",
        &[View::Front],
        ["#33363d", "#4a4e57", "#22242a"],
    ),
    (
        "LF-100Q",
        &[View::Front, View::Ports, View::Label],
        ["#eceff1", "#f8fafb", "#cdd4d8"],
    ),
    (
        "IB-240C",
        &[View::Front, View::Label],
        ["#3b3440", "#544b5a", "#29242d"],
    ),
    (
        "UF-400 Bank",
        &[View::Front, View::Ports],
        ["#e6e0d4", "#f2eee6", "#c9c1b1"],
    ),
];

/// Draws the pictures of a record and names them in it. Most units have none.
pub fn attach(record: &mut Record) -> Vec<DemoPhoto> {
    let unit = &record.unit;
    let second_sample = unit.sample.as_deref().is_some_and(|sample| sample != "A");
    let Some((model, views, colours)) = DRAWN.iter().find(|(model, ..)| *model == unit.model)
    else {
        return Vec::new();
    };
    if second_sample {
        return Vec::new();
    }
    let mut drawn = Vec::new();
    for view in *views {
        let (what, caption) = match view {
            View::Front => ("front", "The adapter from the front"),
            View::Label => ("label", "Its label"),
            View::Ports => ("ports", "Its ports"),
        };
        let svg = match view {
            View::Front => front(record, colours),
            View::Label => label(record),
            View::Ports => ports(record, colours),
        };
        let kept = drawing(&svg);
        record.photos.push(Photo {
            sha256: kept.sha256(),
            width_px: kept.width_px,
            height_px: kept.height_px,
            caption: Some(format!("{caption} (invented drawing, no photograph)")),
        });
        let model = model.to_lowercase().replace(' ', "-");
        drawn.push(DemoPhoto {
            name: format!("{model}-{what}.jpg"),
            kept,
        });
    }
    drawn
}

/// The SVG as pixels, then as a photo is kept. The same text gives the same picture, so each is
/// drawn once in a process.
fn drawing(svg: &str) -> Kept {
    static MADE: Mutex<BTreeMap<String, Kept>> = Mutex::new(BTreeMap::new());
    let mut made = MADE
        .lock()
        .expect("whoever drew before did not stop half-way");
    if let Some(kept) = made.get(svg) {
        return kept.clone();
    }
    let (width, height) = (WIDTH * 2 / 3, HEIGHT * 2 / 3);
    let mut pixmap = Pixmap::new(width, height).expect("a fixed size above zero");
    pixmap.fill(Color::WHITE);
    let tree = Tree::from_str(svg, &options()).expect("our own drawing parses");
    resvg::render(
        &tree,
        Transform::from_scale(SCALE, SCALE),
        &mut pixmap.as_mut(),
    );
    let pixels = pixmap.pixels().iter();
    let rgb = pixels.flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()]);
    let kept = photo::drawn(width, height, rgb.collect());
    made.insert(svg.to_owned(), kept.clone());
    kept
}

/// Only the font that the program carries: the same picture on every machine.
fn options() -> Options<'static> {
    static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
        let mut fonts = Database::new();
        fonts.load_font_data(REGULAR.to_vec());
        fonts.load_font_data(BOLD.to_vec());
        fonts.set_sans_serif_family(FAMILY);
        Arc::new(fonts)
    });
    Options {
        font_family: FAMILY.to_owned(),
        fontdb: FONTS.clone(),
        ..Options::default()
    }
}

fn sheet(inner: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{HEIGHT}\">\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#dfe3e4\"/>\
         <rect y=\"500\" width=\"{WIDTH}\" height=\"220\" fill=\"#cfd5d6\"/>{inner}\
         <text x=\"480\" y=\"690\" font-size=\"26\" fill=\"#30363a\" text-anchor=\"middle\">\
         Invented drawing of an invented adapter</text></svg>"
    )
}

fn text(x: f64, y: f64, size: f64, bold: bool, fill: &str, anchor: &str, words: &str) -> String {
    let weight = if bold { "bold" } else { "normal" };
    let words = words.replace('&', "&amp;").replace('<', "&lt;");
    format!(
        "<text x=\"{x:.0}\" y=\"{y:.0}\" font-size=\"{size:.0}\" font-weight=\"{weight}\" \
         fill=\"{fill}\" text-anchor=\"{anchor}\">{words}</text>"
    )
}

/// Ink that can be read on a housing of this colour.
fn ink_on(colour: &str) -> &'static str {
    let red = colour
        .get(1..3)
        .and_then(|hex| u8::from_str_radix(hex, 16).ok());
    if red.is_some_and(|red| red > 0x80) {
        "#23282c"
    } else {
        "#f2f4f5"
    }
}

/// A box in parallel projection with the ports on its front.
fn front(record: &Record, [face, top, side]: &[&str; 3]) -> String {
    let unit = &record.unit;
    let power_w = unit.nameplate.output_power_w;
    let scale = (0.72 + 0.3 * (power_w / 150.0).sqrt()).min(1.12);
    let (width, height, depth) = (400.0 * scale, 330.0 * scale, 120.0 * scale);
    let (left, bottom) = (480.0 - (width + depth * 0.8) / 2.0, 610.0);
    let upper = bottom - height;
    let right = left + width;
    let (dx, dy) = (depth * 0.8, depth * 0.5);
    let mut svg = format!(
        "<ellipse cx=\"{:.0}\" cy=\"{:.0}\" rx=\"{:.0}\" ry=\"22\" fill=\"#b4bcbe\"/>\
         <path d=\"M{left:.0} {upper:.0}l{dx:.0} -{dy:.0}h{width:.0}l-{dx:.0} {dy:.0}z\" fill=\"{top}\"/>\
         <path d=\"M{right:.0} {upper:.0}l{dx:.0} -{dy:.0}v{height:.0}l-{dx:.0} {dy:.0}z\" fill=\"{side}\"/>\
         <rect x=\"{left:.0}\" y=\"{upper:.0}\" width=\"{width:.0}\" height=\"{height:.0}\" rx=\"14\" fill=\"{face}\"/>",
        left + (width + dx) / 2.0,
        bottom + 4.0,
        (width + dx) / 2.0 + 20.0,
    );
    let ink = ink_on(face);
    let middle = left + width / 2.0;
    svg += &text(middle, upper + 58.0, 34.0, true, ink, "middle", &unit.maker);
    let model = format!("{}  {power_w:.0} W", unit.model);
    svg += &text(middle, upper + 96.0, 24.0, false, ink, "middle", &model);
    let place = (left + 20.0, upper + 110.0, width - 40.0, height - 125.0);
    svg += &openings(&unit.ports, place, 1.0, ink);
    sheet(&svg)
}

/// The ports alone, large.
fn ports(record: &Record, [face, ..]: &[&str; 3]) -> String {
    let mut svg =
        format!("<rect x=\"60\" y=\"90\" width=\"840\" height=\"540\" rx=\"20\" fill=\"{face}\"/>");
    svg += &openings(
        &record.unit.ports,
        (90.0, 110.0, 780.0, 500.0),
        1.9,
        ink_on(face),
    );
    sheet(&svg)
}

/// Ports in rows of up to three in a box (left, top, width, height), with their labels.
fn openings(
    ports: &[Port],
    (left, top, width, height): (f64, f64, f64, f64),
    scale: f64,
    ink: &str,
) -> String {
    let columns = ports.len().clamp(1, 3);
    let rows = ports.len().div_ceil(columns).max(1);
    let mut svg = String::new();
    for (index, port) in ports.iter().enumerate() {
        let x = left + width * ((index % columns) as f64 + 0.5) / columns as f64;
        let y = top + height * ((index / columns) as f64 + 0.45) / rows as f64;
        let (wide, high) = match port.connector {
            Some(Connector::UsbA) => (86.0 * scale, 36.0 * scale),
            Some(Connector::Barrel) => (44.0 * scale, 44.0 * scale),
            _ => (74.0 * scale, 26.0 * scale),
        };
        let (x0, y0) = (x - wide / 2.0, y - high / 2.0);
        let corner = match port.connector {
            Some(Connector::UsbA) => 4.0,
            _ => high / 2.0,
        };
        let _ = write!(
            svg,
            "<rect x=\"{x0:.0}\" y=\"{y0:.0}\" width=\"{wide:.0}\" height=\"{high:.0}\" rx=\"{corner:.0}\" \
             fill=\"#101214\" stroke=\"#9aa3a7\" stroke-width=\"3\"/>"
        );
        let tongue = match port.connector {
            Some(Connector::Barrel) => 0.16,
            Some(Connector::UsbA) => 0.4,
            _ => 0.28,
        };
        let _ = write!(
            svg,
            "<rect x=\"{:.0}\" y=\"{:.0}\" width=\"{:.0}\" height=\"{:.0}\" fill=\"#8a9499\"/>",
            x0 + wide * 0.14,
            y - high * tongue / 2.0,
            wide * 0.72,
            high * tongue,
        );
        let words = y0 + high + 22.0 * scale;
        svg += &text(x, words, 18.0 * scale, true, ink, "middle", &port.label);
    }
    svg
}

/// The printed label: what the record says that it says.
fn label(record: &Record) -> String {
    let unit = &record.unit;
    let plate = &unit.nameplate;
    // Where a line begins, and what it says.
    let mut lines = vec![(130.0, format!("Model {}", unit.model))];
    if let (Some(low), Some(high)) = (plate.input_voltage_min_v, plate.input_voltage_max_v) {
        let current = plate.input_current_a;
        let current = current.map_or(String::new(), |amps| format!("  {amps} A"));
        lines.push((130.0, format!("Input {low}-{high} V~  50/60 Hz{current}")));
    }
    for port in &unit.ports {
        let modes: Vec<String> = port
            .modes
            .iter()
            .filter_map(|mode| match mode {
                Mode::Fixed {
                    voltage_v,
                    current_a,
                } => Some(format!("{voltage_v} V {current_a} A")),
                _ => None,
            })
            .collect();
        for (row, part) in modes.chunks(4).enumerate() {
            let part = part.join(", ");
            lines.push(match row {
                0 => (130.0, format!("{}: {part}", port.label)),
                _ => (180.0, part),
            });
        }
    }
    lines.push((130.0, format!("Total output {} W", plate.output_power_w)));
    let mut svg = String::from(
        "<rect x=\"90\" y=\"60\" width=\"780\" height=\"580\" rx=\"12\" fill=\"#fdfdfb\" \
         stroke=\"#aab2b5\" stroke-width=\"3\"/>",
    );
    let ink = "#23282c";
    svg += &text(130.0, 126.0, 44.0, true, ink, "start", &unit.maker);
    let step = (420.0 / lines.len() as f64).min(46.0);
    for (row, (x, line)) in lines.iter().enumerate() {
        let y = 186.0 + step * row as f64;
        svg += &text(*x, y, step * 0.6, false, ink, "start", line);
    }
    sheet(&svg)
}
