//! One quantity of many units as bars with their uncertainty.

use super::figures::{fixed, shortened, significant};
use super::frame::{nothing, value_axis};
use super::rows::{BarRow, RowChart};
use super::{Chart, ChartTable, Size, ticks};
use crate::text::{t, word};

/// More bars than this make no picture; the rest stands in the table alone.
const MOST_BARS: usize = 30;

/// One unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitBar {
    pub name: String,
    /// In [`UnitBars::unit`], at least 0.
    pub value: f64,
    /// Standard uncertainty; whiskers show U = 2 u.
    pub u: Option<f64>,
}

/// Units in the order given, best first.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitBars {
    /// "Energy lost in a year: Phone overnight"
    pub title: String,
    /// "Energy lost in a year, kWh"
    pub axis: String,
    /// "kWh"
    pub unit: String,
    pub bars: Vec<UnitBar>,
}

impl UnitBars {
    fn words(&self, bar: &UnitBar) -> String {
        let value = significant(bar.value, 3);
        match bar.u.map(|u| 2.0 * u).filter(|u| *u > 0.0) {
            Some(u) => format!("{value} ± {} {}", significant(u, 2), self.unit),
            None => format!("{value} {}", self.unit),
        }
    }
}

impl Chart for UnitBars {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let known: Vec<&UnitBar> = self.bars.iter().filter(|b| b.value.is_finite()).collect();
        if known.is_empty() {
            return nothing(size, prefix, &self.title, word("chart-no-figure"));
        }
        let drawn = &known[..known.len().min(MOST_BARS)];
        let rows: Vec<BarRow> = drawn
            .iter()
            .map(|bar| BarRow {
                name: shortened(&bar.name, 60),
                value: Some(bar.value),
                expanded: bar.u.map(|u| 2.0 * u).filter(|u| *u > 0.0),
                words: self.words(bar),
                hover: format!("{}: {}", bar.name, self.words(bar)),
                strong: false,
            })
            .collect();
        let ends = drawn
            .iter()
            .map(|b| b.value + b.u.map_or(0.0, |u| 2.0 * u).min(b.value))
            .chain([0.0]);
        let most = if size == Size::Wide { 8 } else { 5 };
        let (x, marks) = value_axis(ends, (0.0, 1e9), 1e-3, most);
        let decimals = marks.get(1).map_or(0, |step| ticks::decimals(*step));
        let text = if drawn.len() < self.bars.len() {
            t("chart-bars-units-of").with("all", self.bars.len())
        } else {
            t("chart-bars-units")
        };
        let units = t("units").with("count", drawn.len());
        let mut desc = text.with("units", units).to_string();
        for bar in drawn.iter().take(12) {
            desc.push_str(&format!("; {} {}", bar.name, self.words(bar)));
        }
        desc.push_str(&format!(". {}", word("chart-whiskers.k2")));
        RowChart {
            title: &self.title,
            desc: &desc,
            axis_title: &self.axis,
            rows: &rows,
            lines: &[],
            to: x.to,
            ticks: &marks,
            tick_label: &|v: f64| fixed(v, decimals),
        }
        .svg(size, prefix)
    }

    fn table(&self) -> ChartTable {
        ChartTable {
            caption: t("load-chart-table").with("title", &self.title).to_string(),
            columns: vec![word("board-unit").to_owned(), self.axis.clone()],
            rows: self
                .bars
                .iter()
                .map(|bar| vec![bar.name.clone(), self.words(bar)])
                .collect(),
        }
    }
}
