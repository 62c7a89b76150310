//! Harmonic currents by order, with the limits of both classes.

use super::figures::{amperes, fixed, plain, significant};
use super::frame::{
    EndLabel, Ink, Scale, Sign, Spec, end_label_margin, nothing, plot, sheet_height,
};
use super::{Chart, ChartTable, Size, ticks};
use crate::bench::record::HarmonicClass;
use crate::evaluate::evaluation::{
    HarmonicComparison, HarmonicScreening, OrderAgainstLimit, OrderResult, PowerQuality,
    ScreeningResult, WaveformResult,
};
use crate::text::{t, word};

/// Half the width of a bar, as a share of its slot.
const HALF_BAR: f64 = 0.36;

/// The harmonic currents of one waveform.
#[derive(Debug, Clone, PartialEq)]
pub struct HarmonicsChart {
    /// "Larkfield LF-100Q, 20 V on 230 V, 100 % load".
    pub subject: String,
    pub quality: PowerQuality,
    pub screening: HarmonicScreening,
}

impl HarmonicsChart {
    /// `None` where the waveform gave no figures.
    pub fn of(subject: &str, waveform: &WaveformResult) -> Option<HarmonicsChart> {
        Some(HarmonicsChart {
            subject: subject.to_owned(),
            quality: waveform.quality.clone()?,
            screening: waveform.screening.clone()?,
        })
    }

    fn title(&self) -> String {
        t("harmonics").with("subject", &self.subject).to_string()
    }

    fn desc(&self) -> String {
        let thd = |percent: Option<f64>| {
            percent.map_or_else(
                || word("unknown").to_owned(),
                |x| format!("{} %", significant(x, 3)),
            )
        };
        let distortion = &self.quality.distortion;
        let fundamental = self.quality.harmonics.first();
        let fundamental = fundamental.map_or(0.0, |h| h.current_group_a);
        let mut sentences = vec![
            t("harmonics-desc")
                .with("fundamental", amperes(fundamental))
                .with("order", distortion.harmonics_to.to_string())
                .with("thd", thd(distortion.current_thd_harmonics_percent))
                .with("all", thd(distortion.current_thd_all_percent))
                .with("result", screening_words(self.screening.result))
                .with("floor", amperes(self.screening.floor_a))
                .to_string(),
        ];
        for comparison in &self.screening.classes {
            let outside: Vec<String> = comparison
                .orders
                .iter()
                .filter(|o| o.result == OrderResult::Outside)
                .map(|o| o.order.to_string())
                .collect();
            let text = if outside.is_empty() {
                t("harmonics-none-above")
            } else {
                t("harmonics-above").with("orders", outside.join(", "))
            };
            sentences.push(text.with("class", letter(comparison.class)).to_string());
        }
        sentences.push(word("load-chart-in-table").to_owned());
        sentences.join(" ")
    }

    /// The lowest and the highest current that is drawn.
    fn scale(&self) -> Scale {
        let bars = self.quality.harmonics.iter().map(|h| h.current_group_a);
        let limits = self
            .screening
            .classes
            .iter()
            .flat_map(|c| &c.orders)
            .filter_map(|o| o.limit_a);
        let high = bars
            .chain(limits)
            .filter(|a| a.is_finite())
            .fold(self.screening.floor_a * 10.0, f64::max);
        Scale::log(self.screening.floor_a / 4.0, high * 1.35)
    }

    fn against(&self, comparison: &HarmonicComparison, order: u32) -> Option<OrderAgainstLimit> {
        comparison.orders.iter().find(|o| o.order == order).cloned()
    }

    /// What hovering over an order tells.
    fn order_words(&self, order: u32, current_a: f64) -> String {
        let mut words = t("harmonics-order")
            .with("order", order.to_string())
            .with("current", amperes(current_a))
            .to_string();
        for comparison in &self.screening.classes {
            let Some(found) = self.against(comparison, order) else {
                continue;
            };
            if let (Some(limit), Some(share)) = (found.limit_a, found.share) {
                let class = t("harmonics-order-class")
                    .with("class", letter(comparison.class))
                    .with("share", share_words(share))
                    .with("limit", amperes(limit))
                    .with("result", order_result_words(found.result));
                words.push_str(&format!("; {class}"));
            }
        }
        words
    }
}

fn letter(class: HarmonicClass) -> &'static str {
    match class {
        HarmonicClass::A => "A",
        HarmonicClass::D => "D",
    }
}

/// A share of a limit in percent: one decimal where it tells something.
fn share_words(share: f64) -> String {
    let percent = 100.0 * share;
    if percent < 0.05 {
        "0 %".to_owned()
    } else if percent < 9.95 || (percent - 100.0).abs() < 5.0 {
        format!("{} %", fixed(percent, 1))
    } else {
        format!("{percent:.0} %")
    }
}

/// A screening's result in words, for people.
pub(crate) fn screening_words(result: ScreeningResult) -> &'static str {
    match result {
        ScreeningResult::Within => word("screening-within"),
        ScreeningResult::Outside => word("harmonics-outside"),
        ScreeningResult::NoLimitsApply => word("screening-no-limits"),
        ScreeningResult::Informative => word("screening-informative"),
    }
}

/// How one order stands, in words.
pub(crate) fn order_result_words(result: OrderResult) -> &'static str {
    match result {
        OrderResult::Within => word("window-within"),
        OrderResult::Relieved => word("order-accepted"),
        OrderResult::Outside => word("window-outside"),
        OrderResult::TooSmall => word("order-too-small"),
        OrderResult::NoLimit => word("order-no-limit"),
    }
}

impl Chart for HarmonicsChart {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let harmonics = &self.quality.harmonics;
        let y = self.scale();
        if harmonics.is_empty() || !(y.from > 0.0 && y.to.is_finite()) {
            return nothing(size, prefix, &title, word("harmonics-none"));
        }
        let wide = size == Size::Wide;
        let last = harmonics.len() as f64;
        // The class that decides stands first.
        let names: Vec<String> = self
            .screening
            .classes
            .iter()
            .enumerate()
            .map(|(k, c)| {
                let text = if k == 0 {
                    t("harmonics-limits")
                } else {
                    t("harmonics-compared")
                };
                text.with("class", letter(c.class)).to_string()
            })
            .collect();
        let floor_words = format!(
            "{}\n{}",
            word("harmonics-floor"),
            amperes(self.screening.floor_a)
        );
        let texts = || {
            names
                .iter()
                .map(|n| (n.as_str(), false))
                .chain([(floor_words.as_str(), false)])
        };
        let desc = self.desc();
        let margins = (
            if wide { 60.0 } else { 52.0 },
            30.0,
            end_label_margin(size, texts()),
            44.0,
        );
        let height = sheet_height(size, texts());
        let spec = Spec {
            size,
            height,
            prefix,
            title: &title,
            desc: &desc,
            margins,
            x: Scale::linear(0.4, last + 0.6),
            y,
        };
        let marks = ticks::logarithmic(y.from, y.to, 12, height - margins.1 - margins.3, 24.0);
        let orders: Vec<f64> = (1..=harmonics.len() as u32)
            .step_by(if wide { 2 } else { 6 })
            .map(f64::from)
            .collect();
        plot(&spec, |p| {
            p.y_axis(
                if wide {
                    word("harmonics-axis")
                } else {
                    word("harmonics-axis.narrow")
                },
                &marks,
                |a| {
                    if a < 0.9995 {
                        format!("{} mA", plain(a * 1000.0))
                    } else {
                        format!("{} A", plain(a))
                    }
                },
            );
            p.x_axis(word("harmonics-axis.order"), &orders, |n| format!("{n:.0}"));
            for harmonic in harmonics {
                let n = f64::from(harmonic.order);
                let current = harmonic.current_group_a;
                let outside = self.screening.classes.first().is_some_and(|c| {
                    self.against(c, harmonic.order)
                        .is_some_and(|o| o.result == OrderResult::Outside)
                });
                if current > y.from {
                    let ink = if outside { Ink::HotBar } else { Ink::Bar };
                    p.bar(ink, (n - HALF_BAR, y.from), (n + HALF_BAR, current));
                }
                if outside && let Some((x, top)) = p.at(n, current) {
                    let half = if wide { 4.0 } else { 3.0 };
                    p.area(
                        "c-flag",
                        &[
                            (x - half, top - 3.0),
                            (x + half, top - 3.0),
                            (x, top - 10.0),
                        ],
                    );
                }
                let ends = p.at(n - 0.5, y.to).zip(p.at(n + 0.5, y.from));
                if let Some((from, to)) = ends {
                    p.hit_box(from, to, &self.order_words(harmonic.order, current));
                }
            }
            let mut labels = Vec::new();
            for (k, (comparison, name)) in self.screening.classes.iter().zip(&names).enumerate() {
                let limited: Vec<(f64, f64)> = comparison
                    .orders
                    .iter()
                    .filter_map(|o| Some((f64::from(o.order), o.limit_a?)))
                    .filter(|(_, limit)| y.holds(*limit))
                    .collect();
                let pieces: Vec<[(f64, f64); 2]> = limited
                    .iter()
                    .filter_map(|&(n, limit)| {
                        Some([p.at(n - 0.46, limit)?, p.at(n + 0.46, limit)?])
                    })
                    .collect();
                // A rim of paper keeps them readable over bars.
                p.segments("c-rim", &pieces);
                p.segments(
                    if k == 0 {
                        "c-whisker"
                    } else {
                        "c-whisker c-beside"
                    },
                    &pieces,
                );
                if let Some(&end) = limited.last() {
                    labels.push(EndLabel {
                        end: (end.0 + 0.46, end.1),
                        sign: Sign::Muted,
                        text: name.clone(),
                        strong: k == 0,
                    });
                }
            }
            let floor = self.screening.floor_a;
            if let Some((from, to)) = p.at(spec.x.from, floor).zip(p.at(spec.x.to, floor)) {
                p.stroke("c-limit", &[from, to]);
            }
            labels.push(EndLabel {
                end: (spec.x.to, floor),
                sign: Sign::Limit,
                text: floor_words.clone(),
                strong: false,
            });
            p.end_labels(&labels);
        })
    }

    fn table(&self) -> ChartTable {
        let mut columns = [
            word("harmonics-column-order"),
            word("harmonics-column-group"),
            word("chart-line-column"),
            word("harmonics-column-share"),
        ]
        .map(str::to_owned)
        .to_vec();
        for comparison in &self.screening.classes {
            let class = letter(comparison.class);
            columns.push(t("harmonics-column-limit").with("class", class).to_string());
            columns.push(
                t("harmonics-column-against")
                    .with("class", class)
                    .to_string(),
            );
        }
        let none = || "\u{2013}".to_owned();
        let rows = self
            .quality
            .harmonics
            .iter()
            .map(|h| {
                let mut row = vec![
                    h.order.to_string(),
                    amperes(h.current_group_a),
                    amperes(h.current_a),
                    h.current_percent
                        .map_or_else(none, |x| share_words(x / 100.0)),
                ];
                for comparison in &self.screening.classes {
                    match self.against(comparison, h.order) {
                        Some(o) => {
                            row.push(o.limit_a.map_or_else(none, amperes));
                            let words = order_result_words(o.result);
                            row.push(match o.share {
                                Some(share) => format!("{}, {words}", share_words(share)),
                                None => words.to_owned(),
                            });
                        }
                        None => row.extend([none(), none()]),
                    }
                }
                row
            })
            .collect();
        ChartTable {
            caption: t("harmonics-table")
                .with("title", self.title())
                .with("result", screening_words(self.screening.result))
                .to_string(),
            columns,
            rows,
        }
    }
}
