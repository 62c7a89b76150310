//! No-load power over time: the log that a figure comes from, with what was discarded, what was
//! used, and the limits across.

use super::figures::{duration, fixed, two_digits, watts};
use super::frame::{
    Anchor, EndLabel, FONT, LINE, Plot, Scale, Sign, Spec, end_label_margin, nothing, plot,
    sheet_height, value_axis,
};
use super::labels::text_width;
use super::{Chart, ChartTable, LimitLine, Size, limit_label, merged, ticks};
use crate::evaluate::evaluation::{NoLoadLog, RunResult};
use crate::quantity::words;
use crate::text::{localised, t, word};

/// A limit further from everything else than this many times the height of that would flatten the
/// trace: its name then stands at the edge with an arrow.
const FAR: f64 = 1.5;
/// A burst this many times above means and limits is cut at the upper edge, and said so.
const CUT: f64 = 4.0;
/// Of more windows than this only those above a limit show their values on hover.
const MOST_HOVERED: usize = 72;
/// Windows in the table; a log of more has the rest in the evaluation document.
const MOST_WINDOWS: usize = 400;

/// The log behind one run's no-load figure.
#[derive(Debug, Clone, PartialEq)]
pub struct NoLoadTrace {
    /// "Larkfield LF-100Q, 20 V on 115 V".
    pub subject: String,
    /// The figure, W.
    pub power_w: f64,
    /// Its expanded uncertainty, W; unknown draws no bar.
    pub expanded_w: Option<f64>,
    pub log: NoLoadLog,
    /// In watts.
    pub limits: Vec<LimitLine>,
}

/// What is drawn of a stretch of time on one column of the paper.
#[derive(Debug, Clone, Copy)]
struct Cell {
    /// Middle of the stretch, s.
    at_s: f64,
    min: f64,
    max: f64,
    mean: f64,
}

impl NoLoadTrace {
    /// The trace of a run whose figure comes from a log; `None` for a reading. `short` names the
    /// regimes that are shown by their id; a limit of none of these is left out.
    pub fn of_run(
        subject: &str,
        run: &RunResult,
        short: impl Fn(&str) -> Option<String>,
    ) -> Option<NoLoadTrace> {
        let no_load = run.no_load.as_ref()?;
        let log = no_load.log.as_ref()?;
        let limits = log
            .limits
            .iter()
            .flat_map(|limit| limit.regimes.iter().map(move |id| (id, limit.limit_w)))
            .filter_map(|(id, limit_w)| Some(LimitLine::new(short(id)?, limit_w)))
            .collect();
        Some(NoLoadTrace {
            subject: subject.to_owned(),
            power_w: no_load.power_w,
            expanded_w: no_load.expanded_uncertainty_w,
            log: log.clone(),
            limits,
        })
    }

    fn title(&self) -> String {
        t("trace").with("subject", &self.subject).to_string()
    }

    fn expanded(&self) -> Option<f64> {
        self.expanded_w.filter(|u| u.is_finite() && *u > 0.0)
    }

    fn drawn_limits(&self) -> Vec<LimitLine> {
        merged(&self.limits)
            .into_iter()
            .filter(|l| l.value >= 0.0)
            .collect()
    }

    /// The limit nearest to the figure: the one that windows are marked against.
    fn nearest<'l>(&self, limits: &'l [LimitLine]) -> Option<&'l LimitLine> {
        let off = |l: &LimitLine| (l.value - self.power_w).abs();
        limits.iter().min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    fn used(&self, at_s: f64) -> bool {
        (self.log.used_from_s..=self.log.used_to_s).contains(&at_s)
    }

    /// The trace in at most `most` cells of equal length, extremes kept; `None` is a gap.
    fn cells(&self, most: usize) -> Vec<Option<Cell>> {
        let trace = &self.log.trace;
        let count = trace
            .mean_w
            .len()
            .min(trace.min_w.len())
            .min(trace.max_w.len());
        let together = count.div_ceil(most.max(1)).max(1);
        let finite = |v: &Option<f64>| v.filter(|v| v.is_finite());
        (0..count)
            .step_by(together)
            .map(|first| {
                let last = (first + together).min(count);
                let known: Vec<(f64, f64, f64)> = (first..last)
                    .filter_map(|i| {
                        Some((
                            finite(&trace.min_w[i])?,
                            finite(&trace.max_w[i])?,
                            finite(&trace.mean_w[i])?,
                        ))
                    })
                    .collect();
                let means = known.iter().map(|k| k.2).sum::<f64>();
                (!known.is_empty()).then(|| Cell {
                    at_s: trace.from_s + (first + last) as f64 / 2.0 * trace.cell_s,
                    min: known.iter().map(|k| k.0).fold(f64::INFINITY, f64::min),
                    max: known.iter().map(|k| k.1).fold(f64::NEG_INFINITY, f64::max),
                    mean: means / known.len() as f64,
                })
            })
            .collect()
    }

    /// Mean from the begin of the used part up to each time, in at most `most` points.
    fn running_mean(&self, most: usize) -> Vec<(f64, f64)> {
        let (mut sum, mut seen) = (0.0, 0usize);
        let all: Vec<(f64, f64)> = self
            .cells(usize::MAX)
            .into_iter()
            .flatten()
            .filter(|cell| self.used(cell.at_s))
            .map(|cell| {
                sum += cell.mean;
                seen += 1;
                (cell.at_s, sum / seen as f64)
            })
            .collect();
        let every = all.len().div_ceil(most.max(2)).max(1);
        let last = all.last().copied();
        let mut some: Vec<(f64, f64)> = all.into_iter().step_by(every).collect();
        if let Some(last) = last.filter(|last| some.last() != Some(last)) {
            some.push(last);
        }
        some
    }

    /// The axis of power: the used part, the windows and the limits near them; of what was
    /// discarded as much again, so that switching on doesn't flatten the rest.
    fn y_axis(
        &self,
        cells: &[Option<Cell>],
        limits: &[LimitLine],
        most: usize,
    ) -> (Scale, Vec<f64>) {
        let used = || cells.iter().flatten().filter(|c| self.used(c.at_s));
        let windows = || {
            self.log
                .windows
                .iter()
                .filter(|w| self.used((w.from_s + w.to_s) / 2.0))
                .map(|w| w.mean_w)
        };
        let nearest = self.nearest(limits).map(|l| l.value);
        let u = self.expanded().unwrap_or(0.0).min(self.power_w.abs());
        let core = [self.power_w - u, self.power_w + u]
            .into_iter()
            .chain(windows())
            .chain(nearest);
        let (mut low, mut high) = ends(core);
        let cut = CUT * high;
        let (least, largest) = ends(used().flat_map(|c| [c.min, c.max]));
        low = low.min(least);
        high = high.max(largest.min(cut));
        let span = high - low;
        let (first_low, first_high) = ends(cells.iter().flatten().flat_map(|c| [c.min, c.max]));
        let near = limits
            .iter()
            .map(|l| l.value)
            .filter(|v| *v >= low - FAR * span && *v <= high + FAR * span);
        let (near_low, near_high) = ends(near);
        low = low.min(near_low).min(first_low.max(low - span));
        high = high.max(near_high).max(first_high.min(high + span));
        let least_span = (0.02 * self.power_w.abs()).max(1e-4);
        value_axis([low, high].into_iter(), (0.0, 1000.0), least_span, most)
    }

    fn desc(&self, limits: &[LimitLine]) -> String {
        let log = &self.log;
        let mut parts = vec![
            t("trace-desc")
                .with("time", duration(log.to_s - log.from_s))
                .with("count", log.samples)
                .with("log", &log.name)
                .with("from", duration(log.used_from_s))
                .with("to", duration(log.used_to_s))
                .with("mean", figure_words(self.power_w, self.expanded()))
                .to_string(),
        ];
        if log.used_from_s > log.from_s {
            let discarded = duration(log.used_from_s - log.from_s);
            parts.push(t("trace-discarded").with("time", discarded).to_string());
        }
        parts.push(match log.settled_at_s {
            Some(at) => t("trace-settled").with("time", duration(at)).to_string(),
            None => word("trace-never").to_owned(),
        });
        for limit in limits {
            let above = log
                .windows
                .iter()
                .filter(|w| w.mean_w > limit.value)
                .count();
            let text = if log.windows.is_empty() {
                t("trace-limit")
            } else {
                t("trace-limit-windows")
                    .with("above", above.to_string())
                    .with("count", log.windows.len())
            };
            parts.push(
                text.with("name", &limit.label)
                    .with("limit", watts(limit.value))
                    .to_string(),
            );
        }
        format!("{}. {}", parts.join("; "), word("trace-windows"))
    }

    /// The part that doesn't count, hatched.
    fn draw_unused(&self, p: &mut Plot<'_>) {
        for (from_s, to_s) in [
            (self.log.from_s, self.log.used_from_s),
            (self.log.used_to_s, self.log.to_s),
        ] {
            let edges = p
                .at(from_s.max(p.x.from), p.y.from)
                .zip(p.at(to_s.min(p.x.to), p.y.from));
            let Some(((left, bottom), (right, _))) = edges.filter(|(a, b)| b.0 - a.0 >= 1.0) else {
                continue;
            };
            let top = p.top;
            p.area(
                "c-unused",
                &[(left, top), (right, top), (right, bottom), (left, bottom)],
            );
            let (height, mut x) = (bottom - top, left - (bottom - top));
            while x < right {
                // From (x, bottom) up to the right, cut at both sides.
                let (a, b) = (x.max(left), (x + height).min(right));
                p.stroke("c-hatch", &[(a, bottom - (a - x)), (b, bottom - (b - x))]);
                x += 12.0;
            }
        }
    }

    /// Names of the parts over the paper and the mark where the power had settled.
    fn draw_parts(&self, p: &mut Plot<'_>) {
        let log = &self.log;
        let (top, bottom, y) = (p.top, p.bottom, p.top - 5.0);
        let x = |p: &Plot<'_>, s: f64| p.at(s.clamp(p.x.from, p.x.to), p.y.from).map(|at| at.0);
        for (from_s, to_s, words) in [
            (log.from_s, log.used_from_s, [word("trace-not-used"), "–"]),
            (
                log.used_from_s,
                log.used_to_s,
                [word("trace-used"), word("trace-used.short")],
            ),
            (log.used_to_s, log.to_s, [word("trace-not-used"), "–"]),
        ] {
            let Some((left, right)) = x(p, from_s).zip(x(p, to_s)) else {
                continue;
            };
            let room = right - left - 6.0;
            if let Some(fits) = words.iter().find(|w| text_width(w, FONT) <= room) {
                p.text("c-faint", (left + right) / 2.0, y, Anchor::Middle, fits);
            }
        }
        for edge in [log.used_from_s, log.used_to_s] {
            if let Some(at) = x(p, edge).filter(|at| *at > p.left + 1.0 && *at < p.right - 1.0) {
                p.stroke("c-marked", &[(at, top - 14.0), (at, bottom)]);
            }
        }
        let settled = log.settled_at_s.filter(|s| p.x.holds(*s));
        if let Some(at) = settled.and_then(|s| x(p, s)) {
            p.area(
                "c-flag",
                &[(at - 5.0, bottom), (at + 5.0, bottom), (at, bottom - 9.0)],
            );
            let at_s = duration(settled.unwrap_or_default());
            let words = t("trace-settled").with("time", at_s).to_string();
            let fits_right = at + 8.0 + text_width(&words, FONT) < p.right;
            let (x, anchor) = if fits_right {
                (at + 8.0, Anchor::Start)
            } else {
                (at - 8.0, Anchor::End)
            };
            p.text("c-text c-halo", x, bottom - 4.0, anchor, &words);
        }
    }

    fn draw_trace(&self, p: &mut Plot<'_>, cells: &[Option<Cell>]) {
        let (low, high) = (p.y.from, p.y.to);
        for piece in cells.split(Option::is_none) {
            let upper = piece.iter().flatten().map(|c| (c.at_s, c.max));
            let lower = piece.iter().flatten().rev().map(|c| (c.at_s, c.min));
            let outline: Vec<(f64, f64)> = upper
                .chain(lower)
                .filter_map(|(t, w)| p.at(t, w.clamp(low, high)))
                .collect();
            if outline.len() > 2 {
                p.area("c-band c-s1", &outline);
            }
            let line: Vec<(f64, f64)> = piece
                .iter()
                .flatten()
                .filter_map(|c| p.at(c.at_s, c.mean.clamp(low, high)))
                .collect();
            if let [only] = line[..] {
                p.stroke("c-line c-fine c-s1", &[only, (only.0 + 1.0, only.1)]);
            } else if !line.is_empty() {
                p.stroke("c-line c-fine c-s1", &line);
            }
        }
        let tallest = cells
            .iter()
            .flatten()
            .filter(|c| c.max > high)
            .max_by(|a, b| a.max.total_cmp(&b.max));
        if let Some((cell, (x, y))) = tallest.and_then(|c| Some((c, p.at(c.at_s, high)?))) {
            p.area(
                "c-flag",
                &[(x - 4.0, y + 8.0), (x + 4.0, y + 8.0), (x, y + 1.0)],
            );
            let words = t("trace-up-to").with("power", watts(cell.max)).to_string();
            let fits_right = x + 8.0 + text_width(&words, FONT) < p.right;
            let (x, anchor) = if fits_right {
                (x + 8.0, Anchor::Start)
            } else {
                (x - 8.0, Anchor::End)
            };
            p.text("c-text c-halo", x, y + 11.0, anchor, &words);
        }
    }

    /// Five-minute means: thin steps; those above the limit nearest to the figure thick, with a
    /// triangle where there is room.
    fn draw_windows(&self, p: &mut Plot<'_>, limits: &[LimitLine]) {
        let (low, high) = (p.y.from, p.y.to);
        let many = self.log.windows.len() > MOST_HOVERED;
        let nearest = self.nearest(limits);
        let (mut below, mut above, mut flags) = (Vec::new(), Vec::new(), Vec::new());
        for window in self.log.windows.iter().filter(|w| w.mean_w.is_finite()) {
            let y = window.mean_w.clamp(low, high);
            let ends = p.at(window.from_s, y).zip(p.at(window.to_s, y));
            let Some((from, to)) = ends else { continue };
            let exceeded = exceeded(window.mean_w, limits);
            if nearest.is_none_or(|limit| window.mean_w <= limit.value) {
                below.push([from, to]);
            } else {
                above.push([from, to]);
                if to.0 - from.0 >= 9.0 && window.mean_w < high {
                    let (x, tip) = ((from.0 + to.0) / 2.0, (from.1 - 11.0).max(p.top));
                    flags.push([(x - 4.0, tip + 7.0), (x + 4.0, tip + 7.0), (x, tip)]);
                }
            }
            if !many || !exceeded.is_empty() {
                let text = if limits.is_empty() {
                    t("trace-window")
                } else if exceeded.is_empty() {
                    t("trace-window.none")
                } else {
                    t("trace-window.above").with("limits", exceeded.join(", "))
                };
                let words = text
                    .with("from", duration(window.from_s))
                    .with("to", duration(window.to_s))
                    .with("mean", watts(window.mean_w))
                    .to_string();
                let (top, bottom) = (p.top, p.bottom);
                p.hit_box((from.0, top), (to.0, bottom), &words);
            }
        }
        p.segments("c-window", &below);
        p.segments("c-window c-above", &above);
        for flag in flags {
            p.area("c-flag", &flag);
        }
    }
}

/// A figure rounded to the place of two digits of its uncertainty: "73.9 mW ± 1.6 mW".
fn figure_words(power_w: f64, expanded_w: Option<f64>) -> String {
    let (unit, factor) = if power_w.abs() < 0.9995 {
        ("mW", 1000.0)
    } else {
        ("W", 1.0)
    };
    match expanded_w {
        Some(u) => {
            let (u, decimals) = two_digits(u * factor);
            format!("{} {unit} ± {u} {unit}", fixed(power_w * factor, decimals))
        }
        None => watts(power_w),
    }
}

/// The least and the greatest finite value.
fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        })
}

/// The unit of a time axis: its words and how many seconds it has.
fn time_unit(span_s: f64) -> (&'static str, f64) {
    match span_s {
        s if s <= 300.0 => (word("trace-seconds"), 1.0),
        s if s <= 4.0 * 3600.0 => (word("trace-minutes"), 60.0),
        _ => (word("trace-hours"), 3600.0),
    }
}

/// Marks of a time axis: steps that clocks know.
fn time_marks(from_s: f64, to_s: f64, most: usize) -> Vec<f64> {
    const STEPS_S: [f64; 22] = [
        0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0,
        3600.0, 7200.0, 10800.0, 21600.0, 43200.0, 86400.0, 172800.0, 604800.0,
    ];
    let span = to_s - from_s;
    let step = STEPS_S
        .into_iter()
        .find(|step| span / step <= most as f64)
        .unwrap_or_else(|| ticks::nice_step(span, most));
    let first = (from_s / step - 1e-9).ceil() as i64;
    let last = (to_s / step + 1e-9).floor() as i64;
    (first..=last).take(200).map(|i| i as f64 * step).collect()
}

impl Chart for NoLoadTrace {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let log = &self.log;
        let cells = self.cells(if size == Size::Wide { 480 } else { 220 });
        let span = log.to_s - log.from_s;
        if cells.iter().all(Option::is_none) || !(span.is_finite() && span > 0.0) {
            return nothing(size, prefix, &title, word("trace-none"));
        }
        let limits = self.drawn_limits();
        let (y, y_marks) = self.y_axis(&cells, &limits, if size == Size::Wide { 8 } else { 6 });
        let running = self.running_mean(160);
        let mean_words = format!(
            "{}\n{}",
            word("trace-mean"),
            figure_words(self.power_w, self.expanded())
        );
        let limit_texts: Vec<String> = limits
            .iter()
            .map(|limit| {
                let arrow = match limit.value {
                    w if w > y.to => "↑ ",
                    w if w < y.from => "↓ ",
                    _ => "",
                };
                format!("{arrow}{}", limit_label(limit, &watts(limit.value)))
            })
            .collect();
        let texts = || {
            [(mean_words.as_str(), true), (word("trace-samples"), false)]
                .into_iter()
                .chain(limit_texts.iter().map(|t| (t.as_str(), false)))
        };
        let desc = self.desc(&limits);
        let in_mw = y.to < 1.0;
        let factor = if in_mw { 1000.0 } else { 1.0 };
        let step = y_marks.windows(2).next().map_or(0.1, |w| w[1] - w[0]);
        let decimals = ticks::decimals(step * factor);
        let (unit, unit_s) = time_unit(span);
        let spec = Spec {
            size,
            height: sheet_height(size, texts()),
            prefix,
            title: &title,
            desc: &desc,
            margins: (
                if size == Size::Wide { 54.0 } else { 46.0 },
                28.0 + LINE,
                end_label_margin(size, texts()),
                44.0,
            ),
            x: Scale::linear(log.from_s, log.to_s),
            y,
        };
        plot(&spec, |p| {
            p.y_axis(
                if in_mw {
                    word("no-load-axis-mw")
                } else {
                    word("no-load-axis-w")
                },
                &y_marks,
                |v| fixed(v * factor, decimals),
            );
            let x_marks = time_marks(
                log.from_s,
                log.to_s,
                if size == Size::Wide { 10 } else { 5 },
            );
            p.x_axis(unit, &x_marks, |s| {
                let text = words::significant(s / unit_s, 4);
                localised(match text.split_once('.') {
                    Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
                    None => text,
                })
            });
            self.draw_unused(p);
            self.draw_trace(p, &cells);
            for limit in limits.iter().filter(|l| y.holds(l.value)) {
                let ends = p.at(p.x.from, limit.value).zip(p.at(p.x.to, limit.value));
                if let Some((from, to)) = ends {
                    p.stroke("c-limit", &[from, to]);
                }
            }
            self.draw_windows(p, &limits);
            let path: Vec<(f64, f64)> = running
                .iter()
                .filter_map(|(t, w)| p.at(*t, w.clamp(y.from, y.to)))
                .collect();
            if path.len() > 1 {
                p.stroke("c-line c-s2", &path);
            }
            if let Some(u) = self.expanded() {
                let (low, high) = (self.power_w - u, self.power_w + u);
                p.error_bars_over(1, &[(log.used_to_s, low, high)]);
            }
            self.draw_parts(p);
            let mut labels = vec![EndLabel {
                end: (log.used_to_s, self.power_w.clamp(y.from, y.to)),
                sign: Sign::Line(1),
                text: mean_words.clone(),
                strong: true,
            }];
            if let Some(last) = cells.iter().flatten().last() {
                labels.push(EndLabel {
                    end: (last.at_s, last.mean.clamp(y.from, y.to)),
                    sign: Sign::Line(0),
                    text: word("trace-samples").to_owned(),
                    strong: false,
                });
            }
            labels.extend(
                limits
                    .iter()
                    .zip(&limit_texts)
                    .map(|(limit, text)| EndLabel {
                        end: (p.x.to, limit.value.clamp(y.from, y.to)),
                        sign: Sign::Limit,
                        text: text.clone(),
                        strong: false,
                    }),
            );
            p.end_labels(&labels);
        })
    }

    fn table(&self) -> ChartTable {
        let log = &self.log;
        let limits = self.drawn_limits();
        let mean_between = |from_s: f64, to_s: f64| {
            let within: Vec<f64> = self
                .cells(usize::MAX)
                .into_iter()
                .flatten()
                .filter(|c| c.at_s >= from_s && c.at_s < to_s)
                .map(|c| c.mean)
                .collect();
            let sum: f64 = within.iter().sum();
            (!within.is_empty()).then(|| sum / within.len() as f64)
        };
        let mut rows = vec![vec![
            word("trace-row-used").to_owned(),
            duration(log.used_from_s),
            duration(log.used_to_s),
            figure_words(self.power_w, self.expanded()),
            against(self.power_w, &limits),
        ]];
        for (from_s, to_s) in [(log.from_s, log.used_from_s), (log.used_to_s, log.to_s)] {
            if to_s > from_s
                && let Some(mean) = mean_between(from_s, to_s)
            {
                rows.push(vec![
                    word("trace-row-not-used").to_owned(),
                    duration(from_s),
                    duration(to_s),
                    watts(mean),
                    "–".to_owned(),
                ]);
            }
        }
        for limit in &limits {
            rows.push(vec![
                t("chart-limit").with("name", &limit.label).to_string(),
                "–".to_owned(),
                "–".to_owned(),
                watts(limit.value),
                "–".to_owned(),
            ]);
        }
        for (n, window) in log.windows.iter().take(MOST_WINDOWS).enumerate() {
            rows.push(vec![
                t("trace-row-window").with("number", n + 1).to_string(),
                duration(window.from_s),
                duration(window.to_s),
                watts(window.mean_w),
                against(window.mean_w, &limits),
            ]);
        }
        if log.windows.len() > MOST_WINDOWS {
            rows.push(vec![
                t("trace-row-more")
                    .with("count", log.windows.len() - MOST_WINDOWS)
                    .to_string(),
                "–".to_owned(),
                "–".to_owned(),
                word("trace-row-elsewhere").to_owned(),
                "–".to_owned(),
            ]);
        }
        // Each cell on one line: the table scrolls where it is too wide.
        for row in &mut rows {
            for cell in &mut row[1..4] {
                *cell = cell.replace(' ', "\u{a0}");
            }
        }
        ChartTable {
            caption: t("trace-table").with("title", self.title()).to_string(),
            columns: [
                word("trace-part"),
                word("trace-from"),
                word("trace-to"),
                word("trace-mean-power"),
                word("trace-above"),
            ]
            .map(str::to_owned)
            .to_vec(),
            rows,
        }
    }
}

/// Names of the limits that a mean is above.
fn exceeded(mean_w: f64, limits: &[LimitLine]) -> Vec<&str> {
    limits
        .iter()
        .filter(|l| mean_w > l.value)
        .map(|l| l.label.as_str())
        .collect()
}

/// The same as a cell of the table.
fn against(mean_w: f64, limits: &[LimitLine]) -> String {
    let above = exceeded(mean_w, limits);
    match (limits.is_empty(), above.is_empty()) {
        (true, _) => "–".to_owned(),
        (false, true) => word("trace-above-none").to_owned(),
        (false, false) => above.join(", "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_axis_is_marked_in_steps_that_clocks_know() {
        assert_eq!(
            time_marks(0.0, 1800.0, 6),
            [0.0, 300.0, 600.0, 900.0, 1200.0, 1500.0, 1800.0]
        );
        assert_eq!(
            time_marks(0.0, 86_400.0, 5),
            [0.0, 21_600.0, 43_200.0, 64_800.0, 86_400.0]
        );
        assert_eq!(time_unit(240.0).0, "Time in seconds");
        assert_eq!(time_unit(1_800.0).0, "Time in minutes");
        assert_eq!(time_unit(86_400.0).0, "Time in hours");
    }

    #[test]
    fn a_figure_is_rounded_to_the_place_of_its_uncertainty() {
        assert_eq!(figure_words(0.07391, Some(0.0016)), "73.9 mW ± 1.6 mW");
        assert_eq!(figure_words(1.3694, Some(0.0161)), "1.369 W ± 0.016 W");
        assert_eq!(figure_words(0.07391, None), "73.9 mW");
    }
}
