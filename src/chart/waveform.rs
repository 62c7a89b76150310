//! Line voltage, current and instantaneous power over two cycles, a lane each.

use super::figures::{amperes, fixed, significant, watts};
use super::frame::{Anchor, Ink, LINE, Plot, Scale, Spec, nothing, plot};
use super::labels::{fitted, text_width};
use super::{Chart, ChartTable, Size, ticks};
use crate::evaluate::evaluation::{PowerQuality, WaveformResult};
use crate::text::{t, word};

/// Every so manieth point stands in the table.
const TABLE_EVERY: usize = 10;

/// Columns that tell their values on hover.
const HOVERED: usize = 80;

/// Two cycles of what an adapter draws.
#[derive(Debug, Clone, PartialEq)]
pub struct WaveformChart {
    /// "Larkfield LF-100Q, 20 V on 230 V, 100 % load".
    pub subject: String,
    pub quality: PowerQuality,
}

/// One quantity in its lane.
struct Lane<'a> {
    values: &'a [f64],
    /// Long and short words above it.
    words: [String; 2],
    scale: Scale,
    marks: Vec<f64>,
    class: &'static str,
    /// A mean to draw across.
    mean: Option<f64>,
}

impl WaveformChart {
    /// `None` where the waveform gave no figures.
    pub fn of(subject: &str, waveform: &WaveformResult) -> Option<WaveformChart> {
        Some(WaveformChart {
            subject: subject.to_owned(),
            quality: waveform.quality.clone()?,
        })
    }

    fn title(&self) -> String {
        t("shape").with("subject", &self.subject).to_string()
    }

    fn desc(&self) -> String {
        let q = &self.quality;
        t("shape-desc")
            .with("time", significant(self.span_ms(), 3))
            .with("voltage", significant(q.voltage_rms_v, 4))
            .with("peak", significant(q.voltage_peak_v, 4))
            .with("current", amperes(q.current_rms_a))
            .with("current-peak", amperes(q.current_peak_a))
            .with("crest", crest(q))
            .with("power", watts(q.active_power_w))
            .to_string()
    }

    fn points(&self) -> usize {
        let shape = &self.quality.shape;
        shape
            .voltage_v
            .len()
            .min(shape.current_a.len())
            .min(shape.power_w.len())
    }

    fn time_ms(&self, k: usize) -> f64 {
        1000.0 * self.quality.shape.interval_s * k as f64
    }

    fn span_ms(&self) -> f64 {
        self.time_ms(self.points().saturating_sub(1))
    }

    fn lanes(&self, most_ticks: usize) -> [Lane<'_>; 3] {
        let (q, shape) = (&self.quality, &self.quality.shape);
        let lane = |values, words, class, mean| {
            let (scale, marks) = lane_axis(values, most_ticks);
            Lane {
                values,
                words,
                scale,
                marks,
                class,
                mean,
            }
        };
        let volts = significant(q.voltage_rms_v, 4);
        let (amps, power) = (amperes(q.current_rms_a), watts(q.active_power_w));
        [
            lane(
                &shape.voltage_v,
                [
                    t("lane-voltage")
                        .with("voltage", &volts)
                        .with("peak", significant(q.voltage_peak_v, 4))
                        .with("crest", significant(q.voltage_crest_factor, 3))
                        .to_string(),
                    t("lane-voltage.short").with("voltage", &volts).to_string(),
                ],
                "c-line c-s1",
                None,
            ),
            lane(
                &shape.current_a,
                [
                    t("lane-current")
                        .with("current", &amps)
                        .with("peak", amperes(q.current_peak_a))
                        .with("crest", crest(q))
                        .to_string(),
                    t("lane-current.short")
                        .with("current", &amps)
                        .with("crest", crest(q))
                        .to_string(),
                ],
                "c-line c-s2",
                None,
            ),
            lane(
                &shape.power_w,
                [
                    t("lane-power")
                        .with("power", &power)
                        .with(
                            "factor",
                            q.power_factor
                                .map_or_else(|| word("unknown").to_owned(), |pf| fixed(pf, 3)),
                        )
                        .to_string(),
                    t("lane-power.short").with("power", &power).to_string(),
                ],
                "c-line c-s4",
                Some(q.active_power_w),
            ),
        ]
    }
}

fn crest(q: &PowerQuality) -> String {
    q.current_crest_factor
        .map_or_else(|| word("unknown").to_owned(), |c| significant(c, 3))
}

/// An axis that holds all values and zero.
fn lane_axis(values: &[f64], most_ticks: usize) -> (Scale, Vec<f64>) {
    let (low, high) = values
        .iter()
        .filter(|v| v.is_finite())
        .fold((0.0f64, 0.0f64), |(l, h), v| (l.min(*v), h.max(*v)));
    let (low, high) = if high > low { (low, high) } else { (-1.0, 1.0) };
    let air = 0.06 * (high - low);
    (
        Scale::linear(low - air, high + air),
        ticks::linear(low - air, high + air, most_ticks),
    )
}

/// Height of a lane and of the words above it, in units.
fn lane_heights(size: Size) -> (f64, f64) {
    match size {
        Size::Wide => (112.0, LINE + 12.0),
        Size::Narrow => (88.0, LINE + 12.0),
    }
}

impl Lane<'_> {
    /// Height of a value in units, in the lane with this top and height.
    fn y(&self, value: f64, top: f64, height: f64) -> Option<f64> {
        Some(top + height * (1.0 - self.scale.position(value)?))
    }

    fn draw(&self, p: &mut Plot<'_>, times: &dyn Fn(usize) -> f64, top: f64, height: f64) {
        let (left, right) = (p.left, p.right);
        let words = self
            .words
            .iter()
            .find(|w| text_width(w, super::frame::FONT) <= right - 2.0)
            .cloned()
            .unwrap_or_else(|| fitted(&self.words[1], super::frame::FONT, right - 2.0));
        p.text("c-text", 2.0, top - 8.0, Anchor::Start, &words);
        let step = self.marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
        let decimals = ticks::decimals(step);
        for &mark in &self.marks {
            let Some(y) = self.y(mark, top, height) else {
                continue;
            };
            let is_zero = mark.abs() < step * 1e-6;
            let class = if is_zero { "c-axis" } else { "c-grid" };
            p.stroke(class, &[(left, y), (right, y)]);
            let label = if is_zero {
                "0".to_owned()
            } else {
                fixed(mark, decimals).replace('-', "\u{2212}")
            };
            p.text("c-faint", left - 6.0, y + 4.0, Anchor::End, &label);
        }
        if let Some(y) = self.mean.and_then(|m| self.y(m, top, height)) {
            p.stroke("c-limit", &[(left, y), (right, y)]);
        }
        let mut piece: Vec<(f64, f64)> = Vec::new();
        for (k, value) in self
            .values
            .iter()
            .map(|v| Some(*v))
            .chain([None])
            .enumerate()
        {
            let place = value.and_then(|value| {
                let (x, _) = p.at(times(k), p.y.from)?;
                Some((x, self.y(value, top, height)?))
            });
            match place {
                Some(place) => piece.push(place),
                None => {
                    if piece.len() > 1 {
                        p.stroke(self.class, &piece);
                    }
                    piece.clear();
                }
            }
        }
    }
}

impl Chart for WaveformChart {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let count = self.points();
        let span = self.span_ms();
        if count < 2 || !(span.is_finite() && span > 0.0) {
            return nothing(size, prefix, &title, word("shape-none"));
        }
        let (height, words_height) = lane_heights(size);
        let left = if size == Size::Wide { 54.0 } else { 48.0 };
        let lanes = self.lanes(if size == Size::Wide { 5 } else { 4 });
        let desc = self.desc();
        let spec = Spec {
            size,
            height: 3.0 * (height + words_height) + 46.0,
            prefix,
            title: &title,
            desc: &desc,
            margins: (left, words_height, 14.0, 44.0),
            x: Scale::linear(0.0, span),
            y: Scale::linear(0.0, 1.0),
        };
        plot(&spec, |p| {
            let marks = ticks::linear(0.0, span, if size == Size::Wide { 10 } else { 5 });
            let step = marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
            let decimals = ticks::decimals(step);
            p.x_axis(
                match size {
                    Size::Wide => word("shape-axis"),
                    Size::Narrow => word("shape-axis.narrow"),
                },
                &marks,
                |t| fixed(t, decimals),
            );
            for &mark in &marks {
                p.line(Ink::Grid, &[(mark, 0.0), (mark, 1.0)]);
            }
            let mut top = p.top;
            for lane in &lanes {
                lane.draw(p, &|k| self.time_ms(k), top, height);
                top += height + words_height;
            }
            let shape = &self.quality.shape;
            let columns = count.min(HOVERED);
            for column in 0..columns {
                let (from, to) = (column * count / columns, (column + 1) * count / columns);
                let middle = (from + to) / 2;
                let ends = p
                    .at(self.time_ms(from), 0.0)
                    .zip(p.at(self.time_ms(to).min(span), 0.0));
                if let Some(((x0, _), (x1, _))) = ends {
                    let words = format!(
                        "{} ms: {} V, {}, {}",
                        significant(self.time_ms(middle), 3),
                        significant(shape.voltage_v[middle], 3),
                        amperes(shape.current_a[middle]),
                        watts(shape.power_w[middle])
                    );
                    p.hit_box((x0, p.top), (x1, p.bottom), &words);
                }
            }
        })
    }

    fn table(&self) -> ChartTable {
        let shape = &self.quality.shape;
        let rows = (0..self.points())
            .step_by(TABLE_EVERY)
            .map(|k| {
                vec![
                    format!("{} ms", fixed(self.time_ms(k), 2)),
                    format!("{} V", fixed(shape.voltage_v[k], 1)),
                    amperes(shape.current_a[k]),
                    watts(shape.power_w[k]),
                ]
            })
            .collect();
        ChartTable {
            caption: t("shape-table").with("title", self.title()).to_string(),
            columns: [
                word("shape-time"),
                word("port-voltage"),
                word("agree-current"),
                word("overload-power"),
            ]
            .map(str::to_owned)
            .to_vec(),
            rows,
        }
    }
}
