//! Charts: domain values in, SVG text out; and the PNG image that a shared link shows.
//!
//! Every chart is a plain struct that implements [`Chart`]. A page calls [`Chart::both`] for the
//! pair of drawings (a wide one and one for a phone, of which `static/chart.css` shows the right
//! one) and [`Chart::table`] for the same numbers as text:
//!
//! ```ignore
//! let chart = LoadChart::efficiency("Larkfield LF-100Q", &evaluation, LoadAxis::WattsLog)
//!     .with_limits(LimitLine::from_verdicts(&evaluation, Requirement::AverageEfficiency, |id| short(id)));
//! view.efficiency_svg = chart.both("efficiency"); // {{ efficiency_svg|safe }}
//! view.efficiency_table = chart.table();
//! ```
//!
//! What holds for all of them:
//! - The SVG carries no colour, no style and no font: only classes, which `static/chart.css`
//!   paints for light and dark. A page that shows a chart links that style sheet.
//! - `role="img"` with a title and a description; their ids begin with the prefix that the caller
//!   gives, which must be unique within the page.
//! - All text is escaped here. The SVG is safe for `|safe`.
//! - What was not measured is a gap, never a zero. Values that are not finite are left out.
//! - The same input gives the same bytes.

mod class_overview;
mod figures;
mod frame;
mod harmonics;
mod heat;
mod labels;
mod load;
mod log_overview;
mod no_load;
mod overload;
mod power_trace;
mod preview;
mod print;
mod rows;
mod scatter;
mod standalone;
mod ticks;
mod unit_bars;
mod waveform;

pub use class_overview::{ClassOverview, ClassUnit};
pub use harmonics::HarmonicsChart;
pub use heat::HeatChart;
pub use load::{LoadAxis, LoadChart, LoadPoint, LoadQuantity, Series};
pub use log_overview::LogOverview;
pub use no_load::{Bar, NoLoadBars};
pub use overload::OverloadChart;
pub use power_trace::NoLoadTrace;
pub use preview::{
    ComparisonCard, ListCard, ListLine, PreviewCard, UnitCard, VerdictMark, preview_png,
};
pub use print::{print_style, wide_of};
pub use scatter::{Scatter, ScatterAxis, ScatterPoint};
pub use standalone::{Badge, standalone};
pub use unit_bars::{UnitBar, UnitBars};
pub use waveform::WaveformChart;

use crate::evaluate::evaluation::{Evaluation, Outcome, Requirement};
use crate::text::t;

/// How large a chart is drawn, in its own units, which are about CSS pixels on screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// 760 units wide, for a page of 600 px and more.
    Wide,
    /// 360 units wide, for a phone.
    Narrow,
}

/// The same numbers as a chart, ready for a template to loop over. Cells are plain text (not
/// escaped: the template does that).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartTable {
    pub caption: String,
    pub columns: Vec<String>,
    /// Each row has as many cells as there are columns; the first names the row.
    pub rows: Vec<Vec<String>>,
}

/// A drawing with its table.
pub trait Chart {
    /// One drawing. `prefix` begins the ids of title and description: unique within a page,
    /// letters, digits and hyphens (anything else becomes a hyphen).
    fn svg(&self, size: Size, prefix: &str) -> String;

    /// The numbers of the drawing as text.
    fn table(&self) -> ChartTable;

    /// Both sizes, one after the other. `static/chart.css` hides the one that doesn't fit the
    /// page, from the eye and from screen readers.
    fn both(&self, prefix: &str) -> String {
        let mut svg = self.svg(Size::Wide, &format!("{prefix}-wide"));
        svg.push_str(&self.svg(Size::Narrow, &format!("{prefix}-narrow")));
        svg
    }
}

/// A limit drawn in a chart, with its name at the line's end.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitLine {
    /// Short: "US DOE Level VI".
    pub label: String,
    /// In the unit of the chart's quantity: fraction for efficiency and power factor, watts for
    /// no-load.
    pub value: f64,
    /// Rated output power that the limit belongs to. Where it is known, the label says it and the
    /// line of an efficiency chart runs from 25 to 100 % of it, the loads that the average is
    /// taken over; else the line crosses the whole chart.
    pub at_w: Option<f64>,
}

impl LimitLine {
    /// A limit that doesn't depend on power.
    pub fn new(label: impl Into<String>, value: f64) -> LimitLine {
        LimitLine {
            label: label.into(),
            value,
            at_w: None,
        }
    }

    /// A limit for adapters (or runs) of this rated output power.
    pub fn at(label: impl Into<String>, value: f64, rated_power_w: f64) -> LimitLine {
        LimitLine {
            label: label.into(),
            value,
            at_w: Some(rated_power_w),
        }
    }

    /// The limits that an evaluation's verdicts used for one requirement: for each regime and
    /// distinct value one line, in the order of the verdicts. `short` names a regime by its id
    /// ("us_doe_level_vi" -> "US DOE Level VI"). Where a regime judged several runs and some
    /// verdicts decide, only their limits are drawn; all if none decides.
    pub fn from_verdicts(
        evaluation: &Evaluation,
        requirement: Requirement,
        short: impl Fn(&str) -> String,
    ) -> Vec<LimitLine> {
        let of_requirement = || {
            evaluation
                .verdicts
                .iter()
                .filter(|v| v.requirement == requirement && v.limit.is_some_and(f64::is_finite))
        };
        let mut lines: Vec<LimitLine> = Vec::new();
        for verdict in of_requirement() {
            let decided = of_requirement().any(|v| v.regime == verdict.regime && v.decides);
            let Some(value) = verdict.limit else { continue };
            let line = LimitLine {
                label: short(&verdict.regime),
                value,
                at_w: verdict
                    .limit_power_w
                    .filter(|_| requirement == Requirement::AverageEfficiency),
            };
            if (verdict.decides || !decided) && !lines.contains(&line) {
                lines.push(line);
            }
        }
        lines
    }

    /// Where the line begins and ends on the axis of loads.
    fn span(&self, axis: LoadAxis, x: &frame::Scale) -> (f64, f64) {
        let part = |fraction: f64| {
            let at_w = self.at_w?;
            Some(axis.place(at_w * fraction, Some(at_w))?.clamp(x.from, x.to))
        };
        match (part(0.25), part(1.0)) {
            (Some(from), Some(to)) => (from, to),
            _ => (x.from, x.to),
        }
    }
}

/// The limits that can be drawn; those at one value for one power become one line with all their
/// names.
fn merged(limits: &[LimitLine]) -> Vec<LimitLine> {
    let mut kept: Vec<LimitLine> = Vec::new();
    for limit in limits.iter().filter(|l| l.value.is_finite()) {
        match kept
            .iter_mut()
            .find(|k| (k.value - limit.value).abs() < 1e-9 && k.at_w == limit.at_w)
        {
            Some(same) if same.label.split(", ").any(|l| l == limit.label) => {}
            Some(same) => same.label = format!("{}, {}", same.label, limit.label),
            None => kept.push(limit.clone()),
        }
    }
    kept
}

/// "88.0 % at 65.0 W", or the value alone for a limit that doesn't depend on power.
fn limit_words(limit: &LimitLine, value: &str) -> String {
    match limit.at_w.filter(|w| w.is_finite()) {
        Some(watts) => t("chart-limit-at")
            .with("value", value)
            .with("watts", figures::plain(watts))
            .to_string(),
        None => value.to_owned(),
    }
}

/// Name and value of a limit for its line's end; breaks between names rather than within one.
fn limit_label(limit: &LimitLine, value: &str) -> String {
    let names: Vec<String> = match limit.label.split(", ").collect::<Vec<_>>().as_slice() {
        [one] => vec![(*one).to_owned()],
        several => several
            .iter()
            .map(|name| name.replace(' ', "\u{a0}"))
            .collect(),
    };
    format!("{}\n{}", names.join(", "), limit_words(limit, value))
}

/// A length of time in words, for people: "45 s", "12.5 min", "1 h 30 min".
pub(crate) fn duration_words(seconds: f64) -> String {
    figures::duration(seconds)
}

/// A verdict in words, for people.
pub(crate) fn outcome_words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Pass => "pass",
        Outcome::ConditionalPass => "conditional pass",
        Outcome::ConditionalFail => "conditional fail",
        Outcome::Fail => "fail",
        Outcome::Incomplete => "incomplete",
        Outcome::NotAssessed => "not assessed",
    }
}

#[cfg(test)]
mod tests;
