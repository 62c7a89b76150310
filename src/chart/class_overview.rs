//! Every unit of a class as a thin line, one of them in front.

use super::figures::{percent, watts};
use super::frame::{
    EndLabel, Ink, Sign, Spec, end_label_margin, nothing, plot, sheet_height, value_axis,
};
use super::{
    Chart, ChartTable, LimitLine, LoadAxis, Size, limit_label, limit_words, merged, ticks,
};
use crate::ranking::Row;
use crate::text::{t, word};

/// More lines than this in the background can't be seen apart; an even sample stands for them.
const MOST_LINES: usize = 400;
/// Up to here each background line is an element of its own that tells its name on hover.
pub(super) const MOST_NAMED: usize = 60;
/// Up to here they also have their names at the line's end.
const MOST_LABELLED: usize = 6;
/// Lines per element beyond that: few elements, and yet overlaps grow darker.
const LINES_PER_ELEMENT: usize = 8;

/// One unit in a class chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassUnit {
    pub name: String,
    /// Measured (output watts, efficiency as fraction) in rising watts.
    pub curve: Vec<(f64, f64)>,
    /// Output power that is 100 % on the percent axis.
    pub rated_power_w: Option<f64>,
    /// The unit in front. With several, the first one.
    pub highlighted: bool,
}

/// All units of a class by efficiency against load, from none to thousands.
///
/// Above 400 background lines an evenly spaced sample in the given order is drawn (give the
/// units in order of score); the description says how many of how many.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassOverview {
    /// "over 70 to 100 W"
    pub class_label: String,
    pub units: Vec<ClassUnit>,
    pub limits: Vec<LimitLine>,
    pub axis: LoadAxis,
    /// How many units the class has, where `units` is a sample of them.
    pub sampled_from: Option<usize>,
}

impl ClassOverview {
    /// From leaderboard rows in order of score, with the unit of that slug in front.
    pub fn of_rows<'r>(
        class_label: &str,
        rows: impl IntoIterator<Item = &'r Row>,
        highlighted_slug: Option<&str>,
        axis: LoadAxis,
    ) -> ClassOverview {
        let units = rows
            .into_iter()
            .map(|row| ClassUnit {
                name: row.name(),
                curve: row.curve.clone(),
                rated_power_w: Some(row.output_power_w),
                highlighted: highlighted_slug == Some(row.slug.as_str()),
            })
            .collect();
        ClassOverview {
            class_label: class_label.to_owned(),
            units,
            limits: Vec::new(),
            axis,
            sampled_from: None,
        }
    }

    /// As [`ClassOverview::of_rows`], for the page of the unit `own`: behind it stand those that
    /// [`ClassOverview::shown_behind_a_unit`] chose among the `class_size` units of its class.
    pub fn behind_a_unit(
        class_label: &str,
        shown: &[&Row],
        class_size: usize,
        own: &Row,
        axis: LoadAxis,
    ) -> ClassOverview {
        let in_front = (!shown.iter().any(|row| row.slug == own.slug)).then_some(own);
        let all = shown.iter().copied().chain(in_front);
        ClassOverview {
            sampled_from: (shown.len() < class_size).then_some(class_size),
            ..ClassOverview::of_rows(class_label, all, Some(&own.slug), axis)
        }
    }

    /// The units that [`ClassOverview::behind_a_unit`] draws whatever unit is in front: all of a
    /// small class, else the same few whoever asks and wherever they rank, so that a correction of
    /// one unit leaves the pages of the others as they are.
    pub fn shown_behind_a_unit<'r>(rows: &[&'r Row]) -> Vec<&'r Row> {
        if rows.len() <= MOST_NAMED {
            return rows.to_vec();
        }
        let mut drawn: Vec<(u64, &Row)> = rows
            .iter()
            .filter(|row| !row.curve.is_empty())
            .map(|row| (scattered(&row.slug), *row))
            .collect();
        drawn.sort_by(|a, b| (a.0, &a.1.slug).cmp(&(b.0, &b.1.slug)));
        drawn.into_iter().take(MOST_NAMED).map(|d| d.1).collect()
    }

    /// Adds limit lines: efficiency as fraction.
    pub fn with_limits(mut self, limits: Vec<LimitLine>) -> ClassOverview {
        self.limits.extend(limits);
        self
    }

    fn title(&self) -> String {
        t("class-chart")
            .with("class", &self.class_label)
            .to_string()
    }

    /// Place and value of what can be drawn of a unit.
    fn line(&self, unit: &ClassUnit) -> Vec<(f64, f64)> {
        unit.curve
            .iter()
            .filter(|(_, e)| e.is_finite())
            .filter_map(|&(w, e)| Some((self.axis.place(w, unit.rated_power_w)?, e)))
            .collect()
    }

    fn front(&self) -> Option<&ClassUnit> {
        self.units
            .iter()
            .find(|u| u.highlighted && !self.line(u).is_empty())
    }

    /// Units with anything to draw, without the one in front.
    fn background(&self) -> Vec<&ClassUnit> {
        let front = self.front();
        self.units
            .iter()
            .filter(|u| !front.is_some_and(|f| std::ptr::eq(f, *u)))
            .filter(|u| !self.line(u).is_empty())
            .collect()
    }

    fn drawn_limits(&self) -> Vec<LimitLine> {
        merged(&self.limits)
    }

    fn desc(&self, drawn: usize, with_data: usize) -> String {
        let units = |count: usize| t("units").with("count", count);
        let mut sentences = vec![if let Some(all) = self.sampled_from {
            t("class-chart-few").with("drawn", drawn).with("all", all)
        } else if drawn < with_data {
            t("class-chart-sample")
                .with("drawn", drawn)
                .with("all", with_data)
        } else {
            t("class-chart-lines").with("units", units(drawn))
        }];
        let silent = self
            .units
            .iter()
            .filter(|u| self.line(u).is_empty())
            .count();
        if silent > 0 {
            sentences.push(t("class-chart-silent").with("units", units(silent)));
        }
        match self.front() {
            Some(unit) => {
                let line = self.line(unit);
                let (low, high) = line
                    .iter()
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
                        (l.min(p.1), h.max(p.1))
                    });
                sentences.push(
                    t("class-chart-front")
                        .with("name", &unit.name)
                        .with("low", percent(low, 2))
                        .with("high", percent(high, 2)),
                );
            }
            None => sentences.push(t("class-chart-no-front")),
        }
        for limit in self.drawn_limits() {
            let value = limit_words(&limit, &percent(limit.value, 1));
            sentences.push(
                t("class-chart-limit")
                    .with("name", &limit.label)
                    .with("value", value),
            );
        }
        let sentences: Vec<String> = sentences.iter().map(ToString::to_string).collect();
        sentences.join(" ")
    }
}

/// A number that has nothing to do with the text but is always the same for it (FNV-1a).
fn scattered(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// At most `most` of the items, evenly spaced, first and last among them.
fn sample<T: Copy>(items: &[T], most: usize) -> Vec<T> {
    if items.len() <= most || most < 2 {
        return items.to_vec();
    }
    (0..most)
        .map(|i| items[i * (items.len() - 1) / (most - 1)])
        .collect()
}

impl Chart for ClassOverview {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let all = self.background();
        let front = self.front();
        if all.is_empty() && front.is_none() {
            return nothing(size, prefix, &title, word("class-chart-none"));
        }
        let background = sample(&all, MOST_LINES);
        let lines: Vec<Vec<(f64, f64)>> = background.iter().map(|u| self.line(u)).collect();
        let front_line = front.map(|u| self.line(u)).unwrap_or_default();
        let limits = self.drawn_limits();
        let mut labels = Vec::new();
        if let (Some(unit), Some(&end)) = (front, front_line.last()) {
            labels.push(EndLabel {
                end,
                sign: Sign::Series(0),
                text: super::figures::shortened(&unit.name, 60),
                strong: true,
            });
        }
        if background.len() <= MOST_LABELLED {
            labels.extend(background.iter().zip(&lines).filter_map(|(unit, line)| {
                Some(EndLabel {
                    end: *line.last()?,
                    sign: Sign::Muted,
                    text: super::figures::shortened(&unit.name, 60),
                    strong: false,
                })
            }));
        }
        let texts: Vec<(String, bool)> = labels
            .iter()
            .map(|l| (l.text.clone(), l.strong))
            .chain(
                limits
                    .iter()
                    .map(|l| (limit_label(l, &percent(l.value, 1)), false)),
            )
            .collect();
        let texts = || texts.iter().map(|(t, strong)| (t.as_str(), *strong));
        let right = end_label_margin(size, texts());
        let left = if size == Size::Wide { 54.0 } else { 48.0 };
        let points = || lines.iter().flatten().chain(&front_line);
        let (x, x_marks) = self
            .axis
            .scale(points().map(|p| p.0), size.width() - left - right);
        let values = points().map(|p| p.1).chain(limits.iter().map(|l| l.value));
        let (y, y_marks) = value_axis(
            values,
            (0.0, 1.0),
            0.02,
            if size == Size::Wide { 10 } else { 8 },
        );
        let step = y_marks.windows(2).next().map_or(0.1, |w| w[1] - w[0]);
        let desc = self.desc(background.len(), all.len());
        let spec = Spec {
            size,
            height: sheet_height(size, texts()),
            prefix,
            title: &title,
            desc: &desc,
            margins: (left, 28.0, right, 44.0),
            x,
            y,
        };
        plot(&spec, |p| {
            p.y_axis(word("chart-efficiency"), &y_marks, |v| {
                percent(v, ticks::decimals(step * 100.0).min(1))
            });
            p.x_axis(self.axis.title(size), &x_marks, |v| self.axis.tick_label(v));
            if background.len() <= MOST_NAMED {
                for (unit, line) in background.iter().zip(&lines) {
                    p.backdrop(&[line], Some(&unit.name));
                }
            } else {
                for some in lines.chunks(LINES_PER_ELEMENT) {
                    let some: Vec<&[(f64, f64)]> = some.iter().map(Vec::as_slice).collect();
                    p.backdrop(&some, None);
                }
            }
            for limit in &limits {
                let (from, to) = limit.span(self.axis, &x);
                p.line(Ink::Limit, &[(from, limit.value), (to, limit.value)]);
            }
            if let Some(unit) = front {
                p.line(Ink::Strong(0), &front_line);
                for (&(px, py), (w, _)) in front_line
                    .iter()
                    .zip(unit.curve.iter().filter(|c| c.1.is_finite()))
                {
                    p.marker(0, px, py, 4.0);
                    if let Some(at) = p.at(px, py) {
                        let words = format!("{}: {}, {}", unit.name, watts(*w), percent(py, 2));
                        p.hit(at, 11.0, &words);
                    }
                }
            }
            labels.extend(limits.iter().map(|limit| EndLabel {
                end: (limit.span(self.axis, &x).1, limit.value),
                sign: Sign::Limit,
                text: limit_label(limit, &percent(limit.value, 1)),
                strong: false,
            }));
            p.end_labels(&labels);
        })
    }

    /// One row per unit that is drawn, the one in front first; then the limits.
    fn table(&self) -> ChartTable {
        let all = self.background();
        let drawn = sample(&all, MOST_LINES);
        let mut rows: Vec<Vec<String>> = self
            .front()
            .into_iter()
            .chain(drawn.iter().copied())
            .map(|unit| {
                let points: Vec<String> = unit
                    .curve
                    .iter()
                    .filter(|(w, e)| w.is_finite() && e.is_finite())
                    .map(|(w, e)| {
                        t("chart-value-at")
                            .with("value", percent(*e, 2))
                            .with("load", watts(*w))
                            .to_string()
                    })
                    .collect();
                vec![unit.name.clone(), points.join(", ")]
            })
            .collect();
        rows.extend(self.drawn_limits().iter().map(|l| {
            vec![
                t("chart-limit").with("name", &l.label).to_string(),
                limit_words(l, &percent(l.value, 2)),
            ]
        }));
        let caption = if let Some(all) = self.sampled_from {
            t("class-chart-table-few")
                .with("title", self.title())
                .with("drawn", drawn.len())
                .with("all", all)
                .to_string()
        } else if drawn.len() < all.len() {
            t("class-chart-table-sample")
                .with("title", self.title())
                .with("drawn", drawn.len())
                .with("all", all.len())
                .to_string()
        } else {
            self.title()
        };
        ChartTable {
            caption,
            columns: vec![
                word("board-unit").to_owned(),
                word("class-chart-measured").to_owned(),
            ],
            rows,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_keeps_the_best_and_the_last() {
        let all: Vec<usize> = (0..1700).collect();
        let some = sample(&all, 400);
        assert_eq!((some.len(), some[0], some[399]), (400, 0, 1699));
        assert!(some.windows(2).all(|w| w[0] < w[1]));
        assert_eq!(sample(&all[..3], 400), vec![0, 1, 2]);
    }
}
