//! A quantity against load: efficiency, power factor or current distortion; of the runs of one
//! unit, or of several units laid over each other.

use super::figures::{fixed, percent, percent_with_u, shortened, significant, watts};
use super::frame::{
    EndLabel, Ink, Plot, Scale, Sign, Spec, end_label_margin, nothing, plot, sheet_height,
    value_axis,
};
use super::{Chart, ChartTable, LimitLine, Size, limit_label, limit_words, merged, ticks};
use crate::evaluate::evaluation::{Evaluation, LossModel, PointResult, RunResult};
use crate::text::{localised, t, word};

/// What the horizontal axis shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LoadAxis {
    /// Output power in watts, logarithmic: light loads get their room.
    WattsLog,
    /// Output power in watts, linear.
    WattsLinear,
    /// Output power in percent of the run's rated power. Runs without a rated power are left out.
    PercentOfRated,
}

impl LoadAxis {
    /// In the order a page offers them.
    pub const ALL: [LoadAxis; 3] = [
        LoadAxis::WattsLog,
        LoadAxis::WattsLinear,
        LoadAxis::PercentOfRated,
    ];

    /// Word for addresses: `log`, `linear`, `percent`.
    pub fn id(self) -> &'static str {
        match self {
            LoadAxis::WattsLog => "log",
            LoadAxis::WattsLinear => "linear",
            LoadAxis::PercentOfRated => "percent",
        }
    }

    pub fn from_id(id: &str) -> Option<LoadAxis> {
        LoadAxis::ALL.into_iter().find(|a| a.id() == id)
    }

    /// What a link to this axis says.
    pub fn label(self) -> &'static str {
        match self {
            LoadAxis::WattsLog => word("axis-log"),
            LoadAxis::WattsLinear => word("axis-linear"),
            LoadAxis::PercentOfRated => word("axis-percent"),
        }
    }

    /// Title of the axis.
    pub(super) fn title(self, size: Size) -> &'static str {
        match (self, size) {
            (LoadAxis::WattsLog, Size::Wide) => word("axis-log.wide"),
            (LoadAxis::WattsLog, Size::Narrow) => word("axis-log.narrow"),
            (LoadAxis::WattsLinear, Size::Wide) => word("axis-linear.wide"),
            (LoadAxis::WattsLinear, Size::Narrow) => word("axis-linear.narrow"),
            (LoadAxis::PercentOfRated, Size::Wide) => word("axis-percent.wide"),
            (LoadAxis::PercentOfRated, Size::Narrow) => word("axis-percent.narrow"),
        }
    }

    /// Place of a load on the axis.
    pub(super) fn place(self, output_power_w: f64, rated_power_w: Option<f64>) -> Option<f64> {
        let x = match self {
            LoadAxis::WattsLog => Some(output_power_w).filter(|w| *w > 0.0),
            LoadAxis::WattsLinear => Some(output_power_w),
            LoadAxis::PercentOfRated => rated_power_w
                .filter(|r| *r > 0.0)
                .map(|r| 100.0 * output_power_w / r),
        };
        x.filter(|x| x.is_finite())
    }

    /// The axis for these places, with its ticks.
    pub(super) fn scale(
        self,
        places: impl Iterator<Item = f64>,
        length_px: f64,
    ) -> (Scale, Vec<f64>) {
        let (low, high) = places
            .filter(|p| p.is_finite())
            .fold((f64::INFINITY, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
        match self {
            LoadAxis::WattsLog => {
                let (low, high) = if low.is_finite() && high > 0.0 {
                    (low.max(high / 1e6), high)
                } else {
                    (1.0, 10.0)
                };
                let (from, to) = (low / 1.18, (high * 1.06).max(low * 2.0));
                let marks = ticks::logarithmic(from, to, 10, length_px, 26.0);
                (Scale::log(from, to), marks)
            }
            LoadAxis::WattsLinear => {
                let to = if high > 0.0 { high * 1.03 } else { 1.0 };
                (
                    Scale::linear(0.0, to),
                    ticks::linear(0.0, to, (length_px / 46.0) as usize),
                )
            }
            LoadAxis::PercentOfRated => {
                let to = (high * 1.02).max(103.0);
                (
                    Scale::linear(0.0, to),
                    ticks::linear(0.0, to, (length_px / 40.0) as usize),
                )
            }
        }
    }

    pub(super) fn tick_label(self, value: f64) -> String {
        let plain = |v: f64| {
            let text = format!("{v:.3}");
            localised(text.trim_end_matches('0').trim_end_matches('.').to_owned())
        };
        match self {
            LoadAxis::PercentOfRated => format!("{} %", plain(value)),
            _ => plain(value),
        }
    }
}

/// What the vertical axis shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LoadQuantity {
    /// Fraction 0..=1, shown in percent.
    Efficiency,
    /// Fraction 0..=1.
    PowerFactor,
    /// Total harmonic distortion of the line current, percent.
    CurrentThd,
}

impl LoadQuantity {
    fn name(self) -> &'static str {
        match self {
            LoadQuantity::Efficiency => word("chart-efficiency"),
            LoadQuantity::PowerFactor => word("chart-power-factor"),
            LoadQuantity::CurrentThd => word("chart-thd"),
        }
    }

    fn of(self, point: &PointResult) -> (Option<f64>, Option<f64>) {
        match self {
            LoadQuantity::Efficiency => (point.efficiency, point.efficiency_u),
            LoadQuantity::PowerFactor => (point.power_factor, point.power_factor_u),
            LoadQuantity::CurrentThd => (point.current_thd_percent, None),
        }
    }

    /// A value with its expanded uncertainty, for tables and hovering.
    fn words(self, value: f64, expanded: Option<f64>) -> String {
        match self {
            LoadQuantity::Efficiency => percent_with_u(value, expanded),
            LoadQuantity::PowerFactor => match expanded {
                Some(u) => format!("{} ± {}", fixed(value, 3), significant(u, 2)),
                None => fixed(value, 3),
            },
            LoadQuantity::CurrentThd => format!("{} %", significant(value, 3)),
        }
    }

    fn limit_words(self, value: f64) -> String {
        match self {
            LoadQuantity::Efficiency => percent(value, 1),
            LoadQuantity::PowerFactor => fixed(value, 2),
            LoadQuantity::CurrentThd => format!("{} %", significant(value, 3)),
        }
    }

    fn axis(self, values: impl Iterator<Item = f64>, most_ticks: usize) -> (Scale, Vec<f64>) {
        match self {
            LoadQuantity::Efficiency => value_axis(values, (0.0, 1.0), 0.02, most_ticks),
            LoadQuantity::PowerFactor => {
                value_axis(values.chain([1.0]), (0.0, 1.0), 0.2, most_ticks)
            }
            LoadQuantity::CurrentThd => {
                value_axis(values.chain([0.0]), (0.0, 1000.0), 10.0, most_ticks)
            }
        }
    }

    fn tick_label(self, value: f64, step: f64) -> String {
        match self {
            LoadQuantity::Efficiency => percent(value, ticks::decimals(step * 100.0).min(1)),
            LoadQuantity::PowerFactor => fixed(value, ticks::decimals(step).max(1)),
            LoadQuantity::CurrentThd => format!("{} %", fixed(value, ticks::decimals(step))),
        }
    }
}

/// One load of one series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadPoint {
    /// Target load in percent of rated, as the record says.
    pub load_percent: f64,
    /// Measured output power; unknown: the point has no place and breaks the line.
    pub output_power_w: Option<f64>,
    /// In the unit of the chart's quantity; unknown: a gap.
    pub value: Option<f64>,
    /// Standard uncertainty of the value; the chart draws and writes U = 2 u.
    pub u: Option<f64>,
}

/// One line: a run of a unit, or the run that stands for a unit in a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Stands at the line's end and in the table: "20 V on 115 V", "Larkfield LF-100Q".
    pub name: String,
    /// In the order of load.
    pub points: Vec<LoadPoint>,
    pub rated_power_w: Option<f64>,
    /// Fitted loss model, drawn as a thin curve in an efficiency chart.
    pub model: Option<LossModel>,
    /// Drawn stronger than the others.
    pub highlighted: bool,
}

impl Series {
    /// The points of a run for one quantity, in rising load. The loss model comes along for
    /// efficiency.
    pub fn of_run(name: impl Into<String>, run: &RunResult, quantity: LoadQuantity) -> Series {
        let mut points: Vec<LoadPoint> = run
            .points
            .iter()
            .map(|point| {
                let (value, u) = quantity.of(point);
                LoadPoint {
                    load_percent: point.load_percent,
                    output_power_w: point.output_power_w,
                    value,
                    u,
                }
            })
            .collect();
        points.sort_by(|a, b| a.load_percent.total_cmp(&b.load_percent));
        Series {
            name: name.into(),
            points,
            rated_power_w: run.rated_power_w,
            model: run
                .loss_model
                .clone()
                .filter(|_| quantity == LoadQuantity::Efficiency),
            highlighted: false,
        }
    }

    /// Known points as (place, value, U, point); `None` where a gap is.
    fn placed(&self, axis: LoadAxis) -> Vec<Option<Placed<'_>>> {
        self.points
            .iter()
            .map(|point| {
                let place = axis.place(point.output_power_w?, self.rated_power_w)?;
                let value = point.value.filter(|v| v.is_finite())?;
                let expanded = point
                    .u
                    .map(|u| 2.0 * u)
                    .filter(|u| u.is_finite() && *u > 0.0);
                Some((place, value, expanded, point))
            })
            .collect()
    }
}

/// A known point: place on the load axis, value, U where known, and the point itself.
type Placed<'s> = (f64, f64, Option<f64>, &'s LoadPoint);

/// A quantity against load.
///
/// Series differ by colour, marker, dash pattern and the name at their end; up to six stay
/// distinct by each of these alone.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadChart {
    pub quantity: LoadQuantity,
    /// What the chart is about, for its title: the unit's name, "3 units".
    pub subject: String,
    pub series: Vec<Series>,
    /// Drawn across with their names.
    pub limits: Vec<LimitLine>,
    pub axis: LoadAxis,
    /// Output power to mark with an upright line ("which is best at 10 W?"); only on the watt
    /// axes.
    pub marked_w: Option<f64>,
}

impl LoadChart {
    /// Efficiency of every run of a unit. Add the regimes' limits with [`LoadChart::with_limits`].
    pub fn efficiency(subject: &str, evaluation: &Evaluation, axis: LoadAxis) -> LoadChart {
        LoadChart::of_unit(LoadQuantity::Efficiency, subject, evaluation, axis)
    }

    /// Power factor of every run of a unit.
    pub fn power_factor(subject: &str, evaluation: &Evaluation, axis: LoadAxis) -> LoadChart {
        LoadChart::of_unit(LoadQuantity::PowerFactor, subject, evaluation, axis)
    }

    /// Current distortion of every run of a unit.
    pub fn current_thd(subject: &str, evaluation: &Evaluation, axis: LoadAxis) -> LoadChart {
        LoadChart::of_unit(LoadQuantity::CurrentThd, subject, evaluation, axis)
    }

    /// One quantity of every run of a unit.
    pub fn of_unit(
        quantity: LoadQuantity,
        subject: &str,
        evaluation: &Evaluation,
        axis: LoadAxis,
    ) -> LoadChart {
        let series = evaluation
            .runs
            .iter()
            .map(|run| Series::of_run(run.name.clone(), run, quantity))
            .collect();
        LoadChart {
            quantity,
            subject: subject.to_owned(),
            series,
            limits: Vec::new(),
            axis,
            marked_w: None,
        }
    }

    /// Two to six units over each other: a name and the run that stands for it each (for
    /// example the one that `Row::run` names). More than six are drawn too, but harder to tell
    /// apart.
    pub fn comparison<'r>(
        quantity: LoadQuantity,
        units: impl IntoIterator<Item = (String, &'r RunResult)>,
        axis: LoadAxis,
    ) -> LoadChart {
        let series: Vec<Series> = units
            .into_iter()
            .map(|(name, run)| Series::of_run(name, run, quantity))
            .collect();
        LoadChart {
            quantity,
            subject: t("units").with("count", series.len()).to_string(),
            series,
            limits: Vec::new(),
            axis,
            marked_w: None,
        }
    }

    /// Adds limit lines.
    pub fn with_limits(mut self, limits: Vec<LimitLine>) -> LoadChart {
        self.limits.extend(limits);
        self
    }

    /// Marks an output power with an upright line.
    pub fn with_marked_w(mut self, watts: f64) -> LoadChart {
        self.marked_w = Some(watts);
        self
    }

    /// Is there any point to draw? A page may leave the chart out otherwise.
    pub fn has_points(&self) -> bool {
        self.series
            .iter()
            .any(|s| s.placed(self.axis).iter().any(Option::is_some))
    }

    /// What a reader must know of the lines; empty where every line joins measured points.
    pub fn note(&self) -> &'static str {
        if self.series.iter().any(|s| s.model.is_some()) {
            word("load-chart-model")
        } else {
            ""
        }
    }

    fn title(&self) -> String {
        t("load-chart")
            .with("quantity", self.quantity.name())
            .with("subject", &self.subject)
            .to_string()
    }

    fn desc(&self) -> String {
        let axis = match self.axis {
            LoadAxis::WattsLog => word("axis-log.over"),
            LoadAxis::WattsLinear => word("axis-linear.over"),
            LoadAxis::PercentOfRated => word("axis-percent.over"),
        };
        let mut parts = vec![
            t("load-chart-desc")
                .with("axis", axis)
                .with("lines", t("chart-lines").with("count", self.series.len()))
                .to_string(),
        ];
        for series in &self.series {
            let values = series
                .points
                .iter()
                .filter_map(|p| p.value)
                .filter(|v| v.is_finite());
            let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
                (l.min(v), h.max(v))
            });
            if low <= high {
                parts.push(
                    t("load-chart-series")
                        .with("name", &series.name)
                        .with("low", self.quantity.words(low, None))
                        .with("high", self.quantity.words(high, None))
                        .to_string(),
                );
            } else {
                let unmeasured = t("load-chart-unmeasured").with("name", &series.name);
                parts.push(unmeasured.to_string());
            }
        }
        for limit in self.drawn_limits() {
            let value = limit_words(&limit, &self.quantity.limit_words(limit.value));
            parts.push(
                t("load-chart-limit")
                    .with("name", &limit.label)
                    .with("value", value)
                    .to_string(),
            );
        }
        let mut sentences = vec![
            format!("{}.", parts.join("; ")),
            word("load-chart-bars").to_owned(),
        ];
        if !self.note().is_empty() {
            sentences.push(self.note().to_owned());
        }
        sentences.push(word("load-chart-in-table").to_owned());
        sentences.join(" ")
    }

    fn drawn_limits(&self) -> Vec<LimitLine> {
        merged(&self.limits)
    }

    fn limit_label(&self, limit: &LimitLine) -> String {
        limit_label(limit, &self.quantity.limit_words(limit.value))
    }

    fn draw_series(&self, p: &mut Plot<'_>, n: usize, series: &Series) {
        let placed = series.placed(self.axis);
        if let Some(model) = &series.model {
            self.draw_model(p, n, series, model);
        }
        let ink = if series.highlighted {
            Ink::Strong(n)
        } else {
            Ink::Line(n)
        };
        for piece in placed.split(Option::is_none) {
            let line: Vec<(f64, f64)> = piece.iter().flatten().map(|s| (s.0, s.1)).collect();
            p.line(ink, &line);
        }
        let bars: Vec<(f64, f64, f64)> = placed
            .iter()
            .flatten()
            .filter_map(|&(x, y, expanded, _)| expanded.map(|u| (x, y - u, y + u)))
            .collect();
        p.error_bars(n, &bars);
        for &(x, y, expanded, point) in placed.iter().flatten() {
            p.marker(n, x, y, if series.highlighted { 4.5 } else { 4.0 });
            if let Some(at) = p.at(x, y) {
                let load = point.output_power_w.map(watts).unwrap_or_default();
                let words = format!(
                    "{}: {load}, {}",
                    series.name,
                    self.quantity.words(y, expanded)
                );
                p.hit(at, 11.0, &words);
            }
        }
    }

    /// Efficiency by the loss model, from half the lightest measured load to the end of what the
    /// fit covers: P / (P + a + b I + c I²), I = P / V.
    fn draw_model(&self, p: &mut Plot<'_>, n: usize, series: &Series, model: &LossModel) {
        let lightest = series
            .points
            .iter()
            .filter_map(|q| q.output_power_w)
            .fold(f64::MAX, f64::min);
        let (from, to) = (lightest / 2.0, model.valid_to_w);
        if !(from > 0.0 && to > from && to.is_finite() && model.effective_voltage_v > 0.0) {
            return;
        }
        // Close together at light load, where the curve bends most, on every axis.
        let loads = Scale::log(from, to).samples(from, to, 64);
        let curve: Vec<(f64, f64)> = loads
            .into_iter()
            .filter_map(|w| {
                let current_a = w / model.effective_voltage_v;
                let loss_w =
                    model.a_w + model.b_v * current_a + model.c_ohm * current_a * current_a;
                Some((self.axis.place(w, series.rated_power_w)?, w / (w + loss_w)))
            })
            .collect();
        p.line(Ink::Model(n), &curve);
    }
}

impl Chart for LoadChart {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        if !self.has_points() {
            let words = t("chart-unmeasured")
                .with("quantity", self.quantity.name())
                .to_string();
            return nothing(size, prefix, &title, &words);
        }
        let limits = self.drawn_limits();
        let names: Vec<(String, bool)> = self
            .series
            .iter()
            .map(|s| (shortened(&s.name, 60), s.highlighted))
            .chain(limits.iter().map(|l| (self.limit_label(l), false)))
            .collect();
        let label_texts = || names.iter().map(|(n, strong)| (n.as_str(), *strong));
        let right = end_label_margin(size, label_texts());
        let left = if size == Size::Wide { 54.0 } else { 48.0 };
        let known = || {
            self.series
                .iter()
                .flat_map(|s| s.placed(self.axis))
                .flatten()
        };
        let marked = self
            .marked_w
            .filter(|w| w.is_finite() && *w > 0.0 && self.axis != LoadAxis::PercentOfRated);
        let (x, x_marks) = self.axis.scale(
            known().map(|s| s.0).chain(marked),
            size.width() - left - right,
        );
        let values = known()
            .flat_map(|(_, v, u, _)| {
                // A huge uncertainty must not flatten the lines; its bar is cut at the edge.
                let u = u.unwrap_or(0.0).min(v.abs() * 0.1);
                [v - u, v + u]
            })
            .chain(limits.iter().map(|l| l.value));
        let (y, y_marks) = self
            .quantity
            .axis(values, if size == Size::Wide { 10 } else { 8 });
        let step = y_marks.windows(2).next().map_or(0.1, |w| w[1] - w[0]);
        let desc = self.desc();
        let spec = Spec {
            size,
            height: sheet_height(size, label_texts()),
            prefix,
            title: &title,
            desc: &desc,
            // A marked load has its label between the axis title and the paper.
            margins: (
                left,
                if marked.is_some() { 42.0 } else { 28.0 },
                right,
                44.0,
            ),
            x,
            y,
        };
        plot(&spec, |p| {
            p.y_axis(self.quantity.name(), &y_marks, |v| {
                self.quantity.tick_label(v, step)
            });
            p.x_axis(self.axis.title(size), &x_marks, |v| self.axis.tick_label(v));
            for limit in &limits {
                let (from, to) = limit.span(self.axis, &x);
                p.line(Ink::Limit, &[(from, limit.value), (to, limit.value)]);
            }
            if let Some((px, _)) = marked.and_then(|w| p.at(w, y.from)) {
                let (top, bottom) = (p.top, p.bottom);
                p.stroke("c-marked", &[(px, top), (px, bottom)]);
                let words = format!("{} W", self.axis.tick_label(marked.unwrap_or_default()));
                p.text(
                    "c-text",
                    px,
                    top - 5.0,
                    super::frame::Anchor::Middle,
                    &words,
                );
            }
            for (n, series) in self.series.iter().enumerate() {
                self.draw_series(p, n, series);
            }
            let lines =
                self.series
                    .iter()
                    .zip(&names)
                    .enumerate()
                    .filter_map(|(n, (s, (name, _)))| {
                        let &(x, y, _, _) = s.placed(self.axis).iter().flatten().next_back()?;
                        Some(EndLabel {
                            end: (x, y),
                            sign: Sign::Series(n),
                            text: name.clone(),
                            strong: s.highlighted,
                        })
                    });
            let limits = limits.iter().map(|limit| EndLabel {
                end: (limit.span(self.axis, &x).1, limit.value),
                sign: Sign::Limit,
                text: self.limit_label(limit),
                strong: false,
            });
            let labels: Vec<EndLabel> = lines.chain(limits).collect();
            p.end_labels(&labels);
        })
    }

    fn table(&self) -> ChartTable {
        let unknown = || word("not-measured").to_owned();
        let mut rows: Vec<Vec<String>> = Vec::new();
        for series in &self.series {
            for point in &series.points {
                rows.push(vec![
                    series.name.clone(),
                    format!("{} %", significant(point.load_percent, 3)),
                    point
                        .output_power_w
                        .filter(|w| w.is_finite())
                        .map_or_else(unknown, watts),
                    point
                        .value
                        .filter(|v| v.is_finite())
                        .map_or_else(unknown, |v| {
                            self.quantity
                                .words(v, point.u.map(|u| 2.0 * u).filter(|u| u.is_finite()))
                        }),
                ]);
            }
        }
        for limit in self.drawn_limits() {
            rows.push(vec![
                t("chart-limit").with("name", &limit.label).to_string(),
                "–".to_owned(),
                "–".to_owned(),
                limit_words(&limit, &self.quantity.words(limit.value, None)),
            ]);
        }
        ChartTable {
            caption: t("load-chart-table")
                .with("title", self.title())
                .to_string(),
            columns: [
                word("chart-line-column"),
                word("chart-load-column"),
                word("chart-output-power"),
                self.quantity.name(),
            ]
            .map(str::to_owned)
            .to_vec(),
            rows,
        }
    }
}
