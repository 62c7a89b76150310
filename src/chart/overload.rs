//! The output of a port that is loaded beyond its rating: voltage against current, step by step.

use super::figures::{fixed, plain, two_digits};
use super::frame::{
    Anchor, EndLabel, FONT, Ink, LINE, Plot, Scale, Sign, Spec, end_label_margin, nothing, plot,
    value_axis,
};
use super::labels::{fitted, text_width};
use super::{Chart, ChartTable, Size, ticks};
use crate::bench::record::{OverloadStep, PortState};
use crate::evaluate::evaluation::OverloadResult;
use crate::evaluate::overload::StepReading;
use crate::text::{t, word};

/// One overload test of one port.
#[derive(Debug, Clone, PartialEq)]
pub struct OverloadChart {
    /// "Larkfield LF-100Q, C1 at 20 V".
    pub subject: String,
    pub steps: Vec<Step>,
    pub rated_a: Option<f64>,
    pub trip: Option<Trip>,
    /// Watts of the last step that was delivered.
    pub last_good_power_w: Option<f64>,
}

/// Where the output lets go.
#[derive(Debug, Clone, PartialEq)]
pub struct Trip {
    pub current_a: f64,
    /// U, k = 2, in amperes; unknown is drawn without a band.
    pub expanded_a: Option<f64>,
}

/// One step of the load.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    pub set_current_a: f64,
    pub current_a: Option<f64>,
    pub voltage_v: Option<f64>,
    pub held_s: Option<f64>,
    pub state: Option<PortState>,
    /// Delivered, with its voltage in the port's window.
    pub good: bool,
}

/// How a step is drawn; the number is that of its series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Delivered = 0,
    Limited = 1,
    Off = 2,
}

impl Kind {
    const ALL: [Kind; 3] = [Kind::Delivered, Kind::Limited, Kind::Off];

    fn words(self) -> &'static str {
        match self {
            Kind::Delivered => word("step-delivered"),
            Kind::Limited => word("step-limited"),
            Kind::Off => word("step-off"),
        }
    }
}

/// A state as people say it.
fn state_words(state: PortState) -> &'static str {
    match state {
        PortState::On => word("state-on"),
        PortState::Limited => word("state-limited"),
        PortState::Cycling => word("state-cycling"),
        PortState::Off => word("state-off"),
    }
}

impl Step {
    fn kind(&self) -> Option<Kind> {
        match self.state? {
            PortState::On if self.good => Some(Kind::Delivered),
            PortState::On | PortState::Limited => Some(Kind::Limited),
            PortState::Cycling | PortState::Off => Some(Kind::Off),
        }
    }

    /// Current and voltage; of a port that is off, the current that was asked for.
    fn place(&self) -> Option<(Kind, f64, f64)> {
        let kind = self.kind()?;
        let current = match kind {
            Kind::Off => self.set_current_a,
            _ => self.current_a?,
        };
        let finite = |v: f64| Some(v).filter(|v| v.is_finite());
        Some((kind, finite(current)?, finite(self.voltage_v?)?))
    }

    fn said(&self) -> String {
        match self.state {
            Some(PortState::On) if !self.good => word("state-below").to_owned(),
            Some(state) => state_words(state).to_owned(),
            None => word("not-known").to_owned(),
        }
    }
}

impl OverloadChart {
    /// `None` where no step was recorded. `readings` are those of [`crate::evaluate::overload`]
    /// for these steps.
    pub fn of(
        subject: &str,
        steps: &[OverloadStep],
        readings: &[StepReading],
        result: &OverloadResult,
    ) -> Option<OverloadChart> {
        (!steps.is_empty()).then(|| OverloadChart {
            subject: subject.to_owned(),
            steps: steps
                .iter()
                .zip(readings)
                .map(|(step, reading)| Step {
                    set_current_a: step.set_current_a,
                    current_a: step.current_a,
                    voltage_v: step.voltage_v,
                    held_s: step.held_s,
                    state: reading.state,
                    good: reading.good,
                })
                .collect(),
            rated_a: result.rated_current_a,
            trip: result.trip_current_a.map(|current_a| Trip {
                current_a,
                expanded_a: result.trip_u.map(|u| 2.0 * u),
            }),
            last_good_power_w: result.last_good.as_ref().and_then(|s| s.power_w),
        })
    }

    fn title(&self) -> String {
        t("overload-drawn")
            .with("subject", &self.subject)
            .to_string()
    }

    /// With its uncertainty to two digits, the current to the same place.
    fn trip_words(&self) -> Option<String> {
        let trip = self.trip.as_ref()?;
        let lets_go = |current: String| t("overload-lets-go").with("current", current);
        Some(match trip.expanded_a.filter(|u| *u > 0.0) {
            Some(u) => {
                let (u, decimals) = two_digits(u);
                format!("{} ± {u} A", lets_go(fixed(trip.current_a, decimals)))
            }
            None => lets_go(plain(trip.current_a)).to_string(),
        })
    }

    /// The last good step, which is drawn larger.
    fn last_good(&self) -> Option<usize> {
        let bad = self.steps.iter().position(|s| s.state.is_some() && !s.good);
        self.steps[..bad.unwrap_or(self.steps.len())]
            .iter()
            .rposition(|s| s.good)
    }

    fn last_good_words(&self) -> Option<String> {
        let step = &self.steps[self.last_good()?];
        let current = step.current_a.unwrap_or(step.set_current_a);
        let text = match self.last_good_power_w {
            Some(w) => t("overload-good-power").with("power", plain(w)),
            None => t("overload-good"),
        };
        Some(text.with("current", plain(current)).to_string())
    }

    fn desc(&self) -> String {
        let mut parts = vec![
            t("overload-desc")
                .with("count", self.steps.len())
                .to_string(),
        ];
        let rated = |a: f64| {
            t("overload-rated-line")
                .with("current", plain(a))
                .to_string()
        };
        let sentences = [
            self.rated_a.map(rated),
            self.last_good_words(),
            self.trip_words(),
        ];
        for sentence in sentences.into_iter().flatten() {
            let mut letters = sentence.chars();
            let first: String = letters
                .next()
                .into_iter()
                .flat_map(char::to_uppercase)
                .collect();
            parts.push(format!("{first}{}.", letters.as_str()));
        }
        parts.push(word("overload-off-stands").to_owned());
        parts.join(" ")
    }

    /// Upright lines with their words: rating and trip.
    fn uprights(&self, size: Size) -> Vec<(f64, String, &'static str)> {
        let mut lines: Vec<(f64, String, &'static str)> = Vec::new();
        if let Some(a) = self.rated_a.filter(|a| a.is_finite()) {
            let words = t("overload-rated-line").with("current", plain(a));
            lines.push((a, words.to_string(), "c-limit"));
        }
        if let (Some(trip), Some(words)) = (&self.trip, self.trip_words())
            && trip.current_a.is_finite()
        {
            // On a phone the band stands for the uncertainty, and the table tells it.
            let words = match words.split_once(" ±") {
                Some((short, _)) if size == Size::Narrow => short.to_owned(),
                _ => words,
            };
            lines.push((trip.current_a, words, "c-window"));
        }
        // The largest has the topmost words, left of its own line: no line crosses words.
        lines.sort_by(|a, b| b.0.total_cmp(&a.0));
        lines
    }

    fn draw_uprights(&self, p: &mut Plot<'_>) {
        let lines = self.uprights(p.size);
        if let Some((current, u)) = self
            .trip
            .as_ref()
            .and_then(|t| Some((t.current_a, t.expanded_a.filter(|u| *u > 0.0)?)))
        {
            let low = p.at((current - u).max(p.x.from), p.y.from);
            let high = p.at((current + u).min(p.x.to), p.y.to);
            if let (Some((x0, y0)), Some((x1, y1))) = (low, high) {
                p.shade("c-unused", &[(x0, y0), (x1, y0), (x1, y1), (x0, y1)]);
            }
        }
        for (i, (current, words, class)) in lines.iter().enumerate() {
            let Some((x, _)) = p.at(*current, p.y.from) else {
                continue;
            };
            let baseline = p.top - 4.0 - (lines.len() - 1 - i) as f64 * LINE;
            p.stroke(class, &[(x, baseline - 9.0), (x, p.bottom)]);
            if text_width(words, FONT) <= x - 8.0 {
                p.text("c-text c-halo", x - 5.0, baseline, Anchor::End, words);
            } else {
                let words = fitted(words, FONT, p.size.width() - x - 8.0);
                p.text("c-text c-halo", x + 5.0, baseline, Anchor::Start, &words);
            }
        }
    }

    fn draw_steps(&self, p: &mut Plot<'_>) {
        // The line follows what flows; a step without a reading breaks it.
        let course: Vec<(f64, f64)> = self
            .steps
            .iter()
            .filter(|s| s.kind() != Some(Kind::Off))
            .map(|s| s.place().map_or((f64::NAN, f64::NAN), |(_, i, v)| (i, v)))
            .collect();
        p.line(Ink::Line(0), &course);
        let last_good = self.last_good();
        for (at, step) in self.steps.iter().enumerate() {
            let Some((kind, current, volts)) = step.place() else {
                continue;
            };
            let radius = if last_good == Some(at) { 6.5 } else { 4.0 };
            p.marker(kind as usize, current, volts, radius);
            if let Some(place) = p.at(current, volts) {
                let current = step
                    .current_a
                    .map_or_else(|| word("unknown").to_owned(), plain);
                let words = t("overload-hover")
                    .with("set", plain(step.set_current_a))
                    .with("current", current)
                    .with("voltage", plain(volts))
                    .with("state", step.said())
                    .to_string();
                p.hit(place, 10.0, &words);
            }
        }
    }

    /// The name of each kind of step that is drawn, at its last one.
    fn labels(&self) -> Vec<EndLabel> {
        Kind::ALL
            .into_iter()
            .filter_map(|kind| {
                let (_, x, y) = self
                    .steps
                    .iter()
                    .filter_map(Step::place)
                    .rfind(|(k, ..)| *k == kind)?;
                Some(EndLabel {
                    end: (x, y),
                    sign: Sign::Series(kind as usize),
                    text: match (kind, self.last_good_words()) {
                        (Kind::Delivered, Some(words)) => format!("{}\n{words}", kind.words()),
                        _ => kind.words().to_owned(),
                    },
                    strong: kind == Kind::Delivered,
                })
            })
            .collect()
    }
}

impl Chart for OverloadChart {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        let places: Vec<(Kind, f64, f64)> = self.steps.iter().filter_map(Step::place).collect();
        if places.is_empty() {
            return nothing(size, prefix, &title, word("overload-chart-none"));
        }
        let wide = size == Size::Wide;
        let labels = self.labels();
        let most = places
            .iter()
            .map(|p| p.1)
            .chain(self.rated_a)
            .chain(self.trip.as_ref().map(|t| t.current_a))
            .filter(|a| a.is_finite())
            .fold(0.0, f64::max);
        let most = if most > 0.0 { most * 1.08 } else { 1.0 };
        let (y, y_marks) = value_axis(
            places.iter().map(|p| p.2).chain([0.0]),
            (0.0, f64::MAX),
            1.0,
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
                2.0 * LINE + self.uprights(size).len() as f64 * LINE,
                end_label_margin(size, texts()),
                44.0,
            ),
            x: Scale::linear(0.0, most),
            y,
        };
        plot(&spec, |p| {
            let step = y_marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
            let decimals = ticks::decimals(step);
            p.y_axis(word("overload-axis-voltage"), &y_marks, |v| {
                fixed(v, decimals)
            });
            let x_marks = ticks::linear(0.0, most, if wide { 9 } else { 5 });
            let step = x_marks.windows(2).next().map_or(1.0, |w| w[1] - w[0]);
            let decimals = ticks::decimals(step);
            p.x_axis(word("overload-axis-current"), &x_marks, |a| {
                fixed(a, decimals)
            });
            self.draw_uprights(p);
            self.draw_steps(p);
            p.end_labels(&labels);
        })
    }

    fn table(&self) -> ChartTable {
        let last_good = self.last_good();
        let caption = match self.trip_words() {
            Some(words) => format!("{} ({words})", self.title()),
            None => self.title(),
        };
        let or_not = |value: Option<f64>, unit: &str| {
            value.map_or_else(
                || word("chart-not-read").to_owned(),
                |v| format!("{} {unit}", plain(v)),
            )
        };
        ChartTable {
            caption,
            columns: [
                word("overload-asked"),
                word("overload-flowed"),
                word("port-voltage"),
                word("overload-power"),
                word("overload-port"),
                word("overload-held-for"),
            ]
            .map(str::to_owned)
            .to_vec(),
            rows: self
                .steps
                .iter()
                .enumerate()
                .map(|(at, step)| {
                    vec![
                        format!("{} A", plain(step.set_current_a)),
                        or_not(step.current_a, "A"),
                        or_not(step.voltage_v, "V"),
                        or_not(step.voltage_v.zip(step.current_a).map(|(v, i)| v * i), "W"),
                        if last_good == Some(at) {
                            t("overload-last-good-step")
                                .with("state", step.said())
                                .to_string()
                        } else {
                            step.said()
                        },
                        or_not(step.held_s, "s"),
                    ]
                })
                .collect(),
        }
    }
}
