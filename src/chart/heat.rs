//! A temperature and the ambient against time, with where the warming leads.

use super::figures::{fixed, plain, significant};
use super::frame::{
    Anchor, EndLabel, FONT, Ink, LINE, Plot, Scale, Sign, Spec, end_label_margin, nothing, plot,
    value_axis,
};
use super::labels::{fitted, text_width};
use super::{Chart, ChartTable, Size, ticks};
use crate::evaluate::evaluation::HeatResult;
use crate::evaluate::heat::{HeatFit, HeatState};
use crate::text::{t, word};

/// Points of the curve of the fit.
const CURVE: usize = 80;

/// One place over time.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatChart {
    /// "Larkfield LF-100Q, top face at 100 W".
    pub subject: String,
    pub result: HeatResult,
    /// Minutes over which a steady state is looked for.
    pub steady_min: f64,
}

impl HeatChart {
    /// `None` where fewer than two readings have a time: there is no course to draw.
    pub fn of(subject: &str, result: &HeatResult, steady_min: f64) -> Option<HeatChart> {
        let timed = result.readings.iter().filter(|r| r.minutes.is_some());
        (timed.count() >= 2).then(|| HeatChart {
            subject: subject.to_owned(),
            result: result.clone(),
            steady_min,
        })
    }

    fn title(&self) -> String {
        t("heat-drawn").with("subject", &self.subject).to_string()
    }

    fn temperatures(&self) -> Vec<(f64, f64)> {
        self.result
            .readings
            .iter()
            .filter_map(|r| Some((r.minutes?, r.temperature_c)))
            .collect()
    }

    /// A reading without ambient breaks the line.
    fn ambients(&self) -> Vec<(f64, f64)> {
        self.result
            .readings
            .iter()
            .filter_map(|r| Some((r.minutes?, r.ambient_c.unwrap_or(f64::NAN))))
            .collect()
    }

    fn ends_at(&self) -> f64 {
        self.temperatures().last().map_or(0.0, |t| t.0)
    }

    /// The fit where the final value comes from it.
    fn leads_on(&self) -> Option<&HeatFit> {
        self.result
            .fit
            .as_ref()
            .filter(|_| self.result.state == HeatState::Extrapolated)
    }

    /// U of the final value: of thermometer and fit together, or of the fit alone where the
    /// thermometer's accuracy is not known; and which of the two it is.
    fn final_u(&self) -> Option<(f64, bool)> {
        let fit = self.leads_on()?;
        Some(match self.result.at_reference_u {
            Some(u) => (2.0 * u, true),
            None => (fit.coverage_factor * fit.final_rise_u, false),
        })
    }

    fn final_words(&self) -> Option<String> {
        let value = self.final_value()?;
        Some(format!("{}\n{value}", word("heat-final-value")))
    }

    /// The final value with its uncertainty.
    fn final_value(&self) -> Option<String> {
        let (u, whole) = self.final_u()?;
        let value = format!(
            "{} °C ± {} K",
            fixed(self.result.temperature_c, 1),
            significant(u, 2)
        );
        Some(if whole {
            value
        } else {
            t("heat-final-value.alone").with("value", value).to_string()
        })
    }

    /// Time of the reading from which on it is judged as steady.
    fn steady_from(&self) -> Option<f64> {
        if self.result.state != HeatState::Steady {
            return None;
        }
        let end = self.ends_at();
        self.temperatures()
            .iter()
            .rev()
            .map(|t| t.0)
            .find(|t| end - t >= self.steady_min - 1e-9)
    }

    /// Last minute drawn: beyond the readings where the fit leads on.
    fn drawn_to(&self) -> f64 {
        let (end, start) = (
            self.ends_at(),
            self.temperatures().first().map_or(0.0, |t| t.0),
        );
        match self.leads_on() {
            Some(fit) => end + (3.0 * fit.time_constant_min).min(end - start),
            None => end,
        }
    }

    /// The fit as temperatures: the ambient between its readings plus the fitted rise.
    fn curve(&self) -> Vec<(f64, f64)> {
        let Some(fit) = &self.result.fit else {
            return Vec::new();
        };
        let ambients = self.ambients();
        let Some(start) = ambients.first().map(|a| a.0) else {
            return Vec::new();
        };
        let to = self.drawn_to();
        (0..CURVE)
            .map(|i| {
                let t = start + (to - start) * i as f64 / (CURVE - 1) as f64;
                let rise = fit.final_rise_k
                    + fit.amplitude_k * (-(t - start) / fit.time_constant_min).exp();
                (t, interpolated(&ambients, t) + rise)
            })
            .collect()
    }

    fn state_words(&self) -> &'static str {
        match self.result.state {
            HeatState::Steady => word("heat-state-steady"),
            HeatState::Extrapolated => word("heat-state-extrapolated"),
            HeatState::Changing => word("heat-state-changing"),
            HeatState::Unknown => word("heat-state-unknown"),
        }
    }

    fn desc(&self) -> String {
        let result = &self.result;
        let text = match result.ambient_c {
            Some(ambient) => t("heat-desc-ambient").with("ambient", celsius(Some(ambient))),
            None => t("heat-desc"),
        };
        let last = result.readings.last().map_or(f64::NAN, |r| r.temperature_c);
        let mut text = text
            .with("count", self.temperatures().len())
            .with("minutes", plain(self.ends_at()))
            .with("temperature", celsius(Some(last)))
            .with("state", self.state_words())
            .to_string();
        if let Some(value) = self.final_value() {
            text.push_str(&format!(" {}", t("heat-desc-final").with("value", value)));
        }
        text
    }

    fn labels(&self) -> Vec<EndLabel> {
        let mut labels = Vec::new();
        if let Some(&end) = self.temperatures().last() {
            labels.push(EndLabel {
                end,
                sign: Sign::Series(0),
                text: {
                    let quantity = match self.result.quantity.as_str() {
                        "surface" => word("heat-label-surface"),
                        _ => word("heat-label-hot-spot"),
                    };
                    let reading = format!("{quantity}\n{}", celsius(Some(end.1)));
                    match self.result.state {
                        HeatState::Steady => format!("{reading}, {}", word("heat-state-steady")),
                        HeatState::Extrapolated | HeatState::Changing => {
                            format!("{reading}, {}", word("heat-state-changing"))
                        }
                        HeatState::Unknown => reading,
                    }
                },
                strong: true,
            });
        }
        if let Some(&end) = self.ambients().iter().rfind(|a| a.1.is_finite()) {
            labels.push(EndLabel {
                end,
                sign: Sign::Series(1),
                text: format!("{}\n{}", word("heat-label-ambient"), celsius(Some(end.1))),
                strong: false,
            });
        }
        if let (Some(words), Some(&(x, _))) = (self.final_words(), self.curve().last()) {
            labels.push(EndLabel {
                end: (x, self.result.temperature_c),
                sign: Sign::Line(2),
                text: words,
                strong: false,
            });
        } else if let Some(&end) = self.curve().last() {
            labels.push(EndLabel {
                end,
                sign: Sign::Line(2),
                text: word("heat-label-fit").to_owned(),
                strong: false,
            });
        }
        labels
    }

    fn draw_end(&self, p: &mut Plot<'_>) {
        if let (Some((u, _)), Some(from)) = (self.final_u(), Some(self.ends_at())) {
            let value = self.result.temperature_c;
            let (low, high) = (
                (value - u).clamp(p.y.from, p.y.to),
                (value + u).clamp(p.y.from, p.y.to),
            );
            let corners = [
                p.at(from, low),
                p.at(p.x.to, low),
                p.at(p.x.to, high),
                p.at(from, high),
            ];
            let corners: Vec<(f64, f64)> = corners.into_iter().flatten().collect();
            if corners.len() == 4 {
                p.shade("c-band c-s3", &corners);
            }
            if let (Some(a), Some(b)) = (p.at(from, value), p.at(p.x.to, value)) {
                p.stroke("c-line c-fine c-s3", &[a, b]);
            }
        }
        if let Some(from) = self.steady_from() {
            let ends = p.at(from, p.y.to).zip(p.at(self.ends_at(), p.y.from));
            if let Some(((x0, top), (x1, bottom))) = ends {
                p.shade(
                    "c-unused",
                    &[(x0, top), (x1, top), (x1, bottom), (x0, bottom)],
                );
                p.stroke("c-marked", &[(x0, top), (x0, bottom)]);
                let minutes = plain(self.ends_at() - from);
                let words = t("heat-label-steady").with("minutes", minutes).to_string();
                if x0 - p.left > text_width(&words, FONT) + 8.0 {
                    p.text("c-text c-halo", x0 - 5.0, bottom - 6.0, Anchor::End, &words);
                } else {
                    let words = fitted(&words, FONT, p.right - p.left - 8.0);
                    let x = p.left + 4.0;
                    p.text("c-text c-halo", x, bottom - 6.0, Anchor::Start, &words);
                }
            }
        }
    }
}

/// The value at `t` on the straight lines between points; beyond them the nearest one.
fn interpolated(points: &[(f64, f64)], t: f64) -> f64 {
    let after = points.partition_point(|p| p.0 <= t);
    match (after.checked_sub(1).map(|i| points[i]), points.get(after)) {
        (Some((t0, y0)), Some(&(t1, y1))) => y0 + (y1 - y0) * (t - t0) / (t1 - t0),
        (Some((_, y)), None) => y,
        (None, Some(&(_, y))) => y,
        (None, None) => f64::NAN,
    }
}

impl Chart for HeatChart {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let temperatures = self.temperatures();
        let (from, to) = (temperatures.first().map_or(0.0, |t| t.0), self.drawn_to());
        if temperatures.len() < 2 || to <= from || !(from.is_finite() && to.is_finite()) {
            return nothing(size, prefix, &title, word("heat-none"));
        }
        let wide = size == Size::Wide;
        let (ambients, curve) = (self.ambients(), self.curve());
        let labels = self.labels();
        let band = self
            .final_u()
            .map(|(u, _)| [self.result.temperature_c - u, self.result.temperature_c + u]);
        let (y, y_marks) = value_axis(
            temperatures
                .iter()
                .chain(&ambients)
                .chain(&curve)
                .map(|p| p.1)
                .chain(band.into_iter().flatten()),
            (-100.0, 400.0),
            5.0,
            if wide { 8 } else { 6 },
        );
        let desc = self.desc();
        let texts = || labels.iter().map(|l| (l.text.as_str(), l.strong));
        let spec = Spec {
            size,
            height: size.height(),
            prefix,
            title: &title,
            desc: &desc,
            margins: (
                if wide { 54.0 } else { 42.0 },
                14.0 + LINE,
                end_label_margin(size, texts()),
                44.0,
            ),
            x: Scale::linear(from, to),
            y,
        };
        plot(&spec, |p| {
            let step = y_marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
            let decimals = ticks::decimals(step);
            p.y_axis(word("heat-axis-temperature"), &y_marks, |v| {
                fixed(v, decimals).replace('-', "\u{2212}")
            });
            let x_marks = ticks::linear(from, to, if wide { 10 } else { 5 });
            let step = x_marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
            let decimals = ticks::decimals(step);
            p.x_axis(word("heat-axis-time"), &x_marks, |t| fixed(t, decimals));
            self.draw_end(p);
            p.line(Ink::Model(2), &curve);
            p.line(Ink::Line(1), &ambients);
            p.line(Ink::Line(0), &temperatures);
            for (series, points) in [(1, &ambients), (0, &temperatures)] {
                for &(t, c) in points.iter() {
                    p.marker(series, t, c, 3.5);
                }
            }
            for reading in &self.result.readings {
                let Some(place) = reading.minutes.and_then(|t| p.at(t, reading.temperature_c))
                else {
                    continue;
                };
                let words = t("heat-hover")
                    .with("minutes", plain(reading.minutes.unwrap_or(0.0)))
                    .with("temperature", celsius(Some(reading.temperature_c)))
                    .with("ambient", celsius(reading.ambient_c))
                    .to_string();
                p.hit(place, 9.0, &words);
            }
            p.end_labels(&labels);
        })
    }

    fn table(&self) -> ChartTable {
        let result = &self.result;
        let mut rows: Vec<Vec<String>> = result
            .readings
            .iter()
            .map(|r| {
                vec![
                    r.minutes.map_or_else(
                        || word("not-noted").to_owned(),
                        |m| format!("{} min", plain(m)),
                    ),
                    celsius(Some(r.temperature_c)),
                    celsius(r.ambient_c),
                    r.ambient_c.map_or_else(
                        || word("not-known").to_owned(),
                        |a| format!("{} K", fixed(r.temperature_c - a, 1)),
                    ),
                ]
            })
            .collect();
        if let (Some(fit), Some((u, _))) = (self.leads_on(), self.final_u()) {
            rows.push(vec![
                word("heat-row-final").to_owned(),
                format!(
                    "{} °C ± {} K",
                    fixed(result.temperature_c, 1),
                    significant(u, 2)
                ),
                celsius(result.ambient_c),
                format!("{} K", fixed(fit.final_rise_k, 1)),
            ]);
        }
        ChartTable {
            caption: format!("{} ({})", self.title(), self.state_words()),
            columns: [
                word("heat-after"),
                word("heat-temperature"),
                word("run-ambient"),
                word("heat-rise-column"),
            ]
            .map(str::to_owned)
            .to_vec(),
            rows,
        }
    }
}

fn celsius(value: Option<f64>) -> String {
    value.map_or_else(
        || word("chart-not-read").to_owned(),
        |c| format!("{} °C", fixed(c, 1)),
    )
}
