//! Drawings that stand alone, to be embedded in pages of others: with their colours inside, on a
//! ground of their own, light or dark as the reader prefers, and with what they come from.

use super::figures::escape;
use super::frame::{FONT, LINE};
use super::labels::{fitted, text_width};
use super::{Chart, Size};
use std::fmt::Write as _;

/// Room for the heading.
const HEAD: f64 = 26.0;

/// The same style sheet that our pages link.
const STYLES: &str = include_str!("../../static/chart.css");

/// A chart as an SVG file of its own. `heading` says what it shows, the lines of `footer` who
/// measured when; each is cut at the drawing's width.
pub fn standalone(chart: &dyn Chart, heading: &str, footer: &[&str]) -> String {
    let svg = chart.svg(Size::Wide, "chart");
    let width = Size::Wide.width();
    let height = height_of(&svg);
    let (open, inner) = svg.split_once('>').unwrap_or((&svg, "</svg>"));
    debug_assert!(open.starts_with("<svg"));
    let inner = inner.strip_suffix("</svg>").unwrap_or(inner);
    let whole = HEAD + height + 14.0 + LINE * footer.len() as f64;
    let top = -HEAD - 8.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chart\" role=\"img\" \
         aria-labelledby=\"chart-title chart-desc\" width=\"{}\" height=\"{}\" viewBox=\"-10 {top} {} {}\">\
         <style>{}.ground{{fill:var(--chart-paper)}}</style>",
        width + 20.0,
        whole + 16.0,
        width + 20.0,
        whole + 16.0,
        styles(),
    );
    // Title and description first, as assistive technology expects them.
    let (words, marks) = inner.split_once("</desc>").unwrap_or(("", inner));
    let _ = write!(out, "{words}");
    if !words.is_empty() {
        out.push_str("</desc>");
    }
    let _ = write!(
        out,
        "<rect class=\"ground\" x=\"-10\" y=\"{top}\" width=\"{}\" height=\"{}\"/>{marks}",
        width + 20.0,
        whole + 16.0
    );
    let _ = write!(
        out,
        "<text class=\"c-text c-bold\" x=\"2\" y=\"-12\">{}</text>",
        escape(&fitted(heading, FONT * 1.12, width - 4.0))
    );
    for (i, line) in footer.iter().enumerate() {
        let _ = write!(
            out,
            "<text class=\"c-faint\" x=\"2\" y=\"{}\">{}</text>",
            height + 18.0 + LINE * i as f64,
            escape(&fitted(line, FONT, width - 4.0))
        );
    }
    out.push_str("</svg>");
    out
}

/// Everything of the style sheet but the part that hides a drawing on small screens: an embedded
/// drawing is its own screen.
fn styles() -> String {
    let begins = STYLES.find("/* The narrow drawing takes over").unwrap_or(0);
    let ends = STYLES[begins..]
        .find("}\n}\n")
        .map_or(begins, |end| begins + end + 4);
    let mut kept = format!("{}{}", &STYLES[..begins], &STYLES[ends..]);
    // Neither comments nor what XML would read as markup.
    while let Some(from) = kept.find("/*") {
        let to = kept[from..]
            .find("*/")
            .map_or(kept.len(), |to| from + to + 2);
        kept.replace_range(from..to, "");
    }
    kept.replace(['<', '&'], "")
}

fn height_of(svg: &str) -> f64 {
    svg.split_once("viewBox=\"0 0 ")
        .and_then(|(_, rest)| rest.split_once('"'))
        .and_then(|(size, _)| size.split_once(' '))
        .and_then(|(_, height)| height.parse().ok())
        .unwrap_or(420.0)
}

/// What a rank badge says.
#[derive(Debug, Clone, PartialEq)]
pub struct Badge {
    pub name: String,
    /// "Rank 2–4 of 11"
    pub rank: String,
    /// "over 45 to 70 W"
    pub class_label: String,
    /// "71.3 ± 1.1"
    pub score: Option<String>,
    /// "measured by us, 1 Sep 2026 · Brickbook"
    pub source: String,
}

impl Badge {
    /// The badge as an SVG file of its own.
    pub fn svg(&self) -> String {
        const WIDTH: f64 = 300.0;
        const HEIGHT: f64 = 84.0;
        let score = self
            .score
            .as_deref()
            .map_or("no score".to_owned(), |s| format!("score {s}"));
        let room = WIDTH - 24.0;
        let title = format!("{}: {} in its class, {score}", self.name, self.rank);
        let desc = format!("Class {}. {}.", self.class_label, self.source);
        let right = text_width(&score, 13.0);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"badge-title badge-desc\" \
             width=\"{WIDTH}\" height=\"{HEIGHT}\" viewBox=\"0 0 {WIDTH} {HEIGHT}\">\
             <style>{BADGE_STYLES}</style>\
             <title id=\"badge-title\">{}</title><desc id=\"badge-desc\">{}</desc>\
             <rect class=\"ground\" x=\".5\" y=\".5\" width=\"{}\" height=\"{}\" rx=\"5\"/>\
             <path class=\"edge\" d=\"M6 10V{}\"/>\
             <text class=\"name\" x=\"16\" y=\"22\">{}</text>\
             <text class=\"rank\" x=\"16\" y=\"44\">{}</text>\
             <text class=\"score\" x=\"{}\" y=\"44\" text-anchor=\"end\">{}</text>\
             <text class=\"soft\" x=\"16\" y=\"60\">{}</text>\
             <text class=\"soft\" x=\"16\" y=\"75\">{}</text></svg>",
            escape(&title),
            escape(&desc),
            WIDTH - 1.0,
            HEIGHT - 1.0,
            HEIGHT - 10.0,
            escape(&fitted(&self.name, 13.0, room)),
            escape(&fitted(&self.rank, 17.0, room - right - 8.0)),
            WIDTH - 12.0,
            escape(&score),
            escape(&fitted(&format!("class {}", self.class_label), 11.0, room)),
            escape(&fitted(&self.source, 11.0, room)),
        )
    }
}

const BADGE_STYLES: &str = "\
text{font-family:system-ui,\"DejaVu Sans\",sans-serif;fill:#1b1d22}\
.ground{fill:#fbfaf7;stroke:#6d727d}\
.edge{stroke:#0253b5;stroke-width:4;stroke-linecap:round}\
.name{font-size:13px;font-weight:600}.rank{font-size:17px;font-weight:700}\
.score{font-size:13px}.soft{font-size:11px;fill:#565b66}\
@media (prefers-color-scheme:dark){text{fill:#e9e8e4}.ground{fill:#16181d;stroke:#868c98}\
.edge{stroke:#63a1fd}.soft{fill:#a7adb8}}";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{UnitBar, UnitBars};

    #[test]
    fn an_embedded_chart_carries_its_colours_for_light_and_dark_and_is_never_hidden() {
        let bars = UnitBars {
            title: "Loss <at> 27 W".into(),
            axis: "Loss in watts".into(),
            unit: "W".into(),
            bars: vec![UnitBar {
                name: "Larkfield LF-30C".into(),
                value: 3.0,
                u: Some(0.1),
            }],
        };
        let svg = standalone(&bars, "Loss", &["measured by us & dated", "licence"]);
        assert!(svg.contains("prefers-color-scheme: dark"));
        assert!(svg.contains("--chart-paper"));
        assert!(!svg.contains("max-width: 640px"), "{svg}");
        assert!(svg.contains("measured by us &amp; dated"));
        assert_eq!(svg.matches("<svg").count(), 1);
        assert_eq!(
            svg.matches("<title").count(),
            svg.matches("</title>").count()
        );
        assert!(svg.starts_with("<svg") && svg.ends_with("</svg>"));
        assert!(svg.find("<title").unwrap() < svg.find("<rect").unwrap());
    }

    #[test]
    fn a_badge_takes_names_of_any_length_and_escapes_them() {
        let badge = Badge {
            name: "<Lark>field ".repeat(40),
            rank: "Rank 2–4 of 11".into(),
            class_label: "over 45 to 70 W".into(),
            score: None,
            source: "measured by us".into(),
        };
        let svg = badge.svg();
        assert!(svg.contains("no score") && svg.contains("…") && !svg.contains("<Lark>"));
    }
}
