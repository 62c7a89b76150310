//! No-load power as bars with the limits across.

use super::figures::{fixed, shortened, watts, watts_with_u};
use super::frame::{nothing, value_axis};
use super::rows::{BarRow, RowChart};
use super::{Chart, ChartTable, LimitLine, Size, merged, ticks};
use crate::evaluate::evaluation::Evaluation;
use crate::evaluate::no_load::judged_u;
use crate::ranking::Row;
use crate::text::{t, word};

/// More bars than this make no picture; the rest stands in the table alone.
const MOST_BARS: usize = 40;

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Name of the run or unit.
    pub name: String,
    /// No-load power in watts; unknown is written as such, never drawn as zero.
    pub power_w: Option<f64>,
    /// Expanded uncertainty U in watts, by the coverage factor of the figure itself.
    pub expanded_w: Option<f64>,
    pub highlighted: bool,
}

/// No-load power of the runs of one unit, or of several units.
#[derive(Debug, Clone, PartialEq)]
pub struct NoLoadBars {
    /// The unit's name, the class, "3 units".
    pub subject: String,
    pub bars: Vec<Bar>,
    /// In watts.
    pub limits: Vec<LimitLine>,
}

impl NoLoadBars {
    /// One bar a run.
    pub fn of_unit(subject: &str, evaluation: &Evaluation) -> NoLoadBars {
        let bars = evaluation
            .runs
            .iter()
            .map(|run| Bar {
                name: run.name.clone(),
                power_w: run.no_load.as_ref().map(|n| n.power_w),
                expanded_w: run.no_load.as_ref().and_then(judged_u).map(|u| 2.0 * u),
                highlighted: false,
            })
            .collect();
        NoLoadBars {
            subject: subject.to_owned(),
            bars,
            limits: Vec::new(),
        }
    }

    /// One bar a unit, in the order given.
    pub fn of_rows<'r>(
        subject: &str,
        rows: impl IntoIterator<Item = &'r Row>,
        highlighted_slug: Option<&str>,
    ) -> NoLoadBars {
        let bars = rows
            .into_iter()
            .map(|row| Bar {
                name: row.name(),
                power_w: row.no_load_w,
                expanded_w: row.no_load_u.map(|u| 2.0 * u),
                highlighted: highlighted_slug == Some(row.slug.as_str()),
            })
            .collect();
        NoLoadBars {
            subject: subject.to_owned(),
            bars,
            limits: Vec::new(),
        }
    }

    /// Adds limit lines, in watts.
    pub fn with_limits(mut self, limits: Vec<LimitLine>) -> NoLoadBars {
        self.limits.extend(limits);
        self
    }

    fn title(&self) -> String {
        t("no-load-chart")
            .with("subject", &self.subject)
            .to_string()
    }

    fn drawn_limits(&self) -> Vec<LimitLine> {
        merged(&self.limits)
            .into_iter()
            .filter(|l| l.value >= 0.0)
            .map(|l| LimitLine::new(format!("{}: {}", watts(l.value), l.label), l.value))
            .collect()
    }
}

impl Bar {
    fn known(&self) -> Option<f64> {
        self.power_w.filter(|w| w.is_finite())
    }

    fn expanded(&self) -> Option<f64> {
        self.expanded_w.filter(|u| u.is_finite() && *u > 0.0)
    }

    fn words(&self) -> String {
        self.known().map_or_else(
            || word("not-measured").to_owned(),
            |w| watts_with_u(w, self.expanded()),
        )
    }
}

impl Chart for NoLoadBars {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        if self.bars.iter().all(|b| b.known().is_none()) {
            return nothing(size, prefix, &title, word("no-load-chart-none"));
        }
        let limits = self.drawn_limits();
        let bars = &self.bars[..self.bars.len().min(MOST_BARS)];
        let rows: Vec<BarRow> = bars
            .iter()
            .map(|bar| BarRow {
                name: shortened(&bar.name, 60),
                value: bar.known(),
                expanded: bar.expanded(),
                words: bar.words(),
                hover: format!("{}: {}", bar.name, bar.words()),
                strong: bar.highlighted,
            })
            .collect();
        let values = bars
            .iter()
            .filter_map(|b| b.known().map(|w| w + b.expanded().unwrap_or(0.0).min(w)))
            .chain(limits.iter().map(|l| l.value))
            .chain([0.0]);
        let most = if size == Size::Wide { 8 } else { 5 };
        let (x, marks) = value_axis(values, (0.0, 1000.0), 1e-3, most);
        let in_mw = x.to < 1.0;
        let factor = if in_mw { 1000.0 } else { 1.0 };
        let decimals = marks
            .get(1)
            .map_or(0, |step| ticks::decimals(step * factor));
        let mut desc = if bars.len() < self.bars.len() {
            t("chart-bars-of")
                .with("drawn", bars.len())
                .with("all", self.bars.len())
        } else {
            t("chart-bars").with("count", bars.len())
        }
        .to_string();
        for bar in bars.iter().take(12) {
            desc.push_str(&format!("; {} {}", bar.name, bar.words()));
        }
        for limit in &limits {
            let limit = t("chart-limit-named").with("name", &limit.label);
            desc.push_str(&format!("; {limit}"));
        }
        desc.push_str(&format!(". {}", word("chart-whiskers")));
        let tick_label = |v: f64| fixed(v * factor, decimals);
        RowChart {
            title: &title,
            desc: &desc,
            axis_title: if in_mw {
                word("no-load-axis-mw")
            } else {
                word("no-load-axis-w")
            },
            rows: &rows,
            lines: &limits,
            to: x.to,
            ticks: &marks,
            tick_label: &tick_label,
        }
        .svg(size, prefix)
    }

    fn table(&self) -> ChartTable {
        let mut rows: Vec<Vec<String>> = self
            .bars
            .iter()
            .map(|b| vec![b.name.clone(), b.words()])
            .collect();
        rows.extend(self.limits.iter().filter(|l| l.value.is_finite()).map(|l| {
            let limit = t("chart-limit").with("name", &l.label).to_string();
            vec![limit, watts(l.value)]
        }));
        ChartTable {
            caption: t("chart-table-95").with("title", self.title()).to_string(),
            columns: vec![
                word("chart-line-column").to_owned(),
                word("requirement-no-load").to_owned(),
            ],
            rows,
        }
    }
}
