//! One quantity of a log over time, before it is known what it is for: the band from the least to
//! the greatest sample with the mean in it, and the section that is chosen.

use super::figures::{duration, significant};
use super::frame::{Anchor, FONT, Plot, Scale, Spec, nothing, plot, value_axis};
use super::labels::text_width;
use super::{Chart, ChartTable, Size, ticks};

/// Rows of the table.
const TABLE_ROWS: usize = 24;

/// A quantity of a log in cells of equal length: cell i lasts from `from_s + i * cell_s` for
/// `cell_s`. A cell without rows holds `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct LogOverview {
    /// "noload.csv".
    pub subject: String,
    /// "input power".
    pub quantity: String,
    /// Unit symbol of the values; may be empty.
    pub unit: String,
    pub from_s: f64,
    pub cell_s: f64,
    pub min: Vec<Option<f64>>,
    pub max: Vec<Option<f64>>,
    pub mean: Vec<Option<f64>>,
    /// Begin and end of the chosen section, seconds; what lies outside is hatched.
    pub chosen: Option<(f64, f64)>,
}

impl LogOverview {
    /// Left and right edge of the plotting area as fractions of the drawing's width.
    pub fn edges(size: Size) -> (f64, f64) {
        let (left, right) = margins(size);
        let width = size.width();
        (left / width, (width - right) / width)
    }

    /// Times at these edges, in seconds.
    pub fn ends(&self) -> (f64, f64) {
        let cells = self.mean.len().max(1) as f64;
        (self.from_s, self.from_s + cells * self.cell_s.max(1e-9))
    }

    fn title(&self) -> String {
        format!("{} over time: {}", capital(&self.quantity), self.subject)
    }

    fn value(&self, value: f64) -> String {
        let text = significant(value, 4);
        if self.unit.is_empty() {
            text
        } else {
            format!("{text} {}", self.unit)
        }
    }

    fn desc(&self) -> String {
        let (from_s, to_s) = self.ends();
        let known = |list: &[Option<f64>]| -> Vec<f64> {
            list.iter()
                .flatten()
                .copied()
                .filter(|v| v.is_finite())
                .collect()
        };
        let least = known(&self.min).into_iter().reduce(f64::min);
        let most = known(&self.max).into_iter().reduce(f64::max);
        let mut words = format!(
            "Line chart of {} from {} to {} of the log: a band from the least to the greatest sample with the mean in it",
            self.quantity,
            duration(from_s),
            duration(to_s)
        );
        if let (Some(least), Some(most)) = (least, most) {
            words.push_str(&format!(
                ", between {} and {}",
                self.value(least),
                self.value(most)
            ));
        }
        if let Some((from_s, to_s)) = self.chosen {
            words.push_str(&format!(
                "; the chosen section is {} to {}",
                duration(from_s),
                duration(to_s)
            ));
        }
        words.push_str(". The same in steps stands in the table.");
        words
    }

    fn draw_trace(&self, p: &mut Plot<'_>) {
        let cells: Vec<Option<(f64, f64, f64, f64)>> = (0..self.mean.len())
            .map(|i| {
                let at_s = self.from_s + (i as f64 + 0.5) * self.cell_s;
                let value =
                    |list: &[Option<f64>]| list.get(i).copied().flatten().filter(|v| v.is_finite());
                Some((
                    at_s,
                    value(&self.min)?,
                    value(&self.max)?,
                    value(&self.mean)?,
                ))
            })
            .collect();
        for piece in cells.split(Option::is_none) {
            let upper = piece.iter().flatten().map(|c| (c.0, c.2));
            let lower = piece.iter().flatten().rev().map(|c| (c.0, c.1));
            let outline: Vec<(f64, f64)> =
                upper.chain(lower).filter_map(|(t, v)| p.at(t, v)).collect();
            if outline.len() > 2 {
                p.area("c-band c-s1", &outline);
            }
            let line: Vec<(f64, f64)> = piece
                .iter()
                .flatten()
                .filter_map(|c| p.at(c.0, c.3))
                .collect();
            match line[..] {
                [] => {}
                [only] => p.stroke("c-line c-fine c-s1", &[only, (only.0 + 1.0, only.1)]),
                _ => p.stroke("c-line c-fine c-s1", &line),
            }
        }
    }

    fn draw_chosen(&self, p: &mut Plot<'_>) {
        let Some((from_s, to_s)) = self.chosen else {
            return;
        };
        let (top, bottom) = (p.top, p.bottom);
        let x = |p: &Plot<'_>, s: f64| p.at(s.clamp(p.x.from, p.x.to), p.y.from).map(|at| at.0);
        let (first, last) = (p.x.from, p.x.to);
        for (a, b) in [(first, from_s), (to_s, last)] {
            let Some((left, right)) = x(p, a).zip(x(p, b)).filter(|(l, r)| r - l >= 1.0) else {
                continue;
            };
            p.area(
                "c-unused",
                &[(left, top), (right, top), (right, bottom), (left, bottom)],
            );
            let height = bottom - top;
            let mut at = left - height;
            while at < right {
                let (a, b) = (at.max(left), (at + height).min(right));
                p.stroke("c-hatch", &[(a, bottom - (a - at)), (b, bottom - (b - at))]);
                at += 12.0;
            }
        }
        for edge in [from_s, to_s] {
            if let Some(at) = x(p, edge) {
                p.stroke("c-marked", &[(at, top - 6.0), (at, bottom)]);
            }
        }
        if let Some((left, right)) = x(p, from_s).zip(x(p, to_s))
            && text_width("chosen", FONT) <= right - left
        {
            p.text(
                "c-faint",
                (left + right) / 2.0,
                top - 5.0,
                Anchor::Middle,
                "chosen",
            );
        }
    }
}

fn margins(size: Size) -> (f64, f64) {
    match size {
        Size::Wide => (64.0, 14.0),
        Size::Narrow => (54.0, 12.0),
    }
}

/// Unit of the axis of time and how many seconds it has.
fn time_unit(span_s: f64) -> (&'static str, f64) {
    if span_s < 0.002 {
        ("µs", 1e-6)
    } else if span_s < 2.0 {
        ("ms", 1e-3)
    } else if span_s < 300.0 {
        ("s", 1.0)
    } else if span_s < 4.0 * 3600.0 {
        ("min", 60.0)
    } else {
        ("h", 3600.0)
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

impl Chart for LogOverview {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let values = || {
            self.min
                .iter()
                .chain(&self.max)
                .flatten()
                .copied()
                .filter(|v| v.is_finite())
        };
        let Some(largest) = values().map(f64::abs).reduce(f64::max) else {
            return nothing(size, prefix, &title, "No values in this part of the log.");
        };
        let most = if size == Size::Wide { 6 } else { 5 };
        let least_span = (1e-3 * largest).max(1e-9);
        let (y, y_ticks) = value_axis(values(), (f64::MIN / 4.0, f64::MAX / 4.0), least_span, most);
        let (from_s, to_s) = self.ends();
        let (unit, factor) = time_unit(to_s - from_s);
        let x = Scale::linear(from_s, to_s);
        let most_x = if size == Size::Wide { 9 } else { 5 };
        let x_ticks: Vec<f64> = ticks::linear(from_s / factor, to_s / factor, most_x)
            .into_iter()
            .map(|t| t * factor)
            .collect();
        let step_of = |marks: &[f64]| marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
        let x_decimals = ticks::decimals(step_of(&x_ticks) / factor);
        let y_step = step_of(&y_ticks);
        let (left, right) = margins(size);
        let spec = Spec {
            size,
            height: if size == Size::Wide { 320.0 } else { 260.0 },
            prefix,
            title: &title,
            desc: &self.desc(),
            margins: (left, 34.0, right, 44.0),
            x,
            y,
        };
        plot(&spec, |p| {
            let axis = if self.unit.is_empty() {
                capital(&self.quantity)
            } else {
                format!("{}, {}", capital(&self.quantity), self.unit)
            };
            p.y_axis(&axis, &y_ticks, |v| {
                format!("{v:.*}", ticks::decimals(y_step))
            });
            p.x_axis(&format!("Time in the log, {unit}"), &x_ticks, |t| {
                format!("{:.x_decimals$}", t / factor)
            });
            self.draw_trace(p);
            self.draw_chosen(p);
        })
    }

    fn table(&self) -> ChartTable {
        let cells = self.mean.len();
        let together = cells.div_ceil(TABLE_ROWS).max(1);
        let part = |list: &[Option<f64>], from: usize| -> Vec<f64> {
            list.iter()
                .skip(from)
                .take(together)
                .flatten()
                .copied()
                .filter(|v| v.is_finite())
                .collect()
        };
        let told = |value: Option<f64>| value.map_or("no rows".to_owned(), |v| significant(v, 4));
        let unit = |name: &str| {
            if self.unit.is_empty() {
                name.to_owned()
            } else {
                format!("{name}, {}", self.unit)
            }
        };
        ChartTable {
            caption: self.title(),
            columns: vec![
                "From".to_owned(),
                "To".to_owned(),
                unit("Least"),
                unit("Mean"),
                unit("Greatest"),
            ],
            rows: (0..cells)
                .step_by(together)
                .map(|first| {
                    let from_s = self.from_s + first as f64 * self.cell_s;
                    let to_s = self.from_s + (first + together).min(cells) as f64 * self.cell_s;
                    let means = part(&self.mean, first);
                    let mean =
                        (!means.is_empty()).then(|| means.iter().sum::<f64>() / means.len() as f64);
                    vec![
                        duration(from_s),
                        duration(to_s),
                        told(part(&self.min, first).into_iter().reduce(f64::min)),
                        told(mean),
                        told(part(&self.max, first).into_iter().reduce(f64::max)),
                    ]
                })
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn overview(chosen: Option<(f64, f64)>) -> LogOverview {
        let means: Vec<Option<f64>> = (0..500)
            .map(|i| (i != 250).then(|| 0.05 + 0.01 * f64::from(i).sin()))
            .collect();
        LogOverview {
            subject: "a<b>.csv".to_owned(),
            quantity: "input power".to_owned(),
            unit: "W".to_owned(),
            from_s: 0.0,
            cell_s: 7.2,
            min: means.iter().map(|m| m.map(|m| m - 0.001)).collect(),
            max: means.iter().map(|m| m.map(|m| m + 0.4)).collect(),
            mean: means,
            chosen,
        }
    }

    #[test]
    fn a_gap_parts_the_trace_and_a_chosen_section_is_marked() {
        let plain = overview(None).svg(Size::Wide, "p");
        assert_eq!(plain.matches("c-line c-fine").count(), 2, "{plain}");
        assert!(!plain.contains("c-hatch"));
        assert!(plain.contains("a&lt;b&gt;.csv"));
        assert!(plain.contains("Time in the log, min"));
        let chosen = overview(Some((600.0, 1200.0))).svg(Size::Narrow, "p");
        assert!(chosen.contains("c-hatch") && chosen.contains("c-marked"));
    }

    #[test]
    fn the_table_holds_the_extremes_in_two_dozen_rows() {
        let table = overview(None).table();
        assert!(table.rows.len() <= TABLE_ROWS);
        assert!(
            table
                .rows
                .iter()
                .all(|row| row.len() == table.columns.len())
        );
        assert_eq!(table.columns[2], "Least, W");
    }

    #[test]
    fn a_log_without_values_says_so() {
        let mut empty = overview(None);
        for list in [&mut empty.min, &mut empty.max, &mut empty.mean] {
            list.iter_mut().for_each(|v| *v = None);
        }
        assert!(empty.svg(Size::Wide, "p").contains("No values"));
        assert!(empty.table().rows.iter().all(|row| row[3] == "no rows"));
    }

    #[test]
    fn the_plotting_area_is_where_its_edges_say() {
        for size in [Size::Wide, Size::Narrow] {
            let (left, right) = LogOverview::edges(size);
            assert!(0.0 < left && left < 0.2 && right > 0.9 && right < 1.0);
        }
    }

    #[test]
    fn a_value_that_never_changes_still_has_an_axis() {
        let mut still = overview(None);
        for list in [&mut still.min, &mut still.max, &mut still.mean] {
            list.iter_mut().for_each(|v| *v = Some(0.0));
        }
        assert!(still.svg(Size::Wide, "p").contains("c-line"));
    }
}
