//! All that a record and its evaluation say of one unit, ready to show. The public page, its
//! revisions and the preview of a draft show the same sheet; where a unit stands among others is
//! none of its business.

use super::{
    evidence::{EvidenceView, PointLogView, no_load_figure, no_load_method, point_log_view},
    heat::HeatSection,
    measurements::MeasurementSection,
    overload::OverloadSection,
    photos::PhotoView,
    ports::{self, PortView},
    sharing::SharingView,
};
use crate::{
    bench::record::{Instrument, Record},
    chart::{Chart, ChartTable, LimitLine, LoadAxis, LoadChart, LoadQuantity, NoLoadBars},
    evaluate::{
        Method,
        evaluation::{
            Evaluation, LabelCheck, LossModel, Outcome, PointResult, Requirement, RunResult,
            ScoreTerm, Verdict, Warning,
        },
    },
    standards::{Regime, Role},
    text::{localised, t, word},
    web::{
        format::{self, PlusMinus, Scale},
        urls,
    },
};

pub struct Sheet {
    pub name: String,
    pub sample: Option<String>,
    pub class_label: String,
    pub class_url: String,
    pub facts: Vec<Fact>,
    pub links: Vec<Link>,
    pub score: ScoreView,
    pub claims: Vec<Claim>,
    pub checks: Vec<Check>,
    pub warnings: Vec<WarningView>,
    pub main_regimes: Vec<RegimeView>,
    pub other_regimes: Vec<RegimeView>,
    pub figures: Vec<Figure>,
    pub runs: Vec<RunView>,
    pub ports: Vec<PortView>,
    pub overloads: OverloadSection,
    pub sharing: Option<SharingView>,
    pub heat: HeatSection,
    pub measurements: MeasurementSection,
    pub instruments: Vec<InstrumentView>,
    /// Sanitized HTML.
    pub notes: Option<String>,
    pub no_load: Option<PlusMinus>,
    pub average_efficiency: Option<PlusMinus>,
    pub marks: Vec<OwnMark>,
    pub engine: String,
    /// What the raw logs bear out.
    pub evidence: EvidenceView,
    pub photos: Vec<PhotoView>,
}

/// A named property with its text.
pub struct Fact {
    pub label: &'static str,
    pub text: String,
    /// What the evaluation document says of it, in English, behind the text.
    pub english: Option<String>,
}

impl Fact {
    pub fn new(label: &'static str, text: impl Into<String>) -> Fact {
        Fact {
            label,
            text: text.into(),
            english: None,
        }
    }

    /// Followed by words of the evaluation document.
    pub fn explained(mut self, english: impl Into<String>) -> Fact {
        self.english = Some(english.into());
        self
    }

    /// Both parts, one after the other.
    pub fn words(&self) -> String {
        match &self.english {
            Some(english) if self.text.is_empty() => english.clone(),
            Some(english) => format!("{} {english}", self.text),
            None => self.text.clone(),
        }
    }
}

pub struct Link {
    pub label: &'static str,
    pub url: String,
}

/// A mark that owns its words.
pub struct OwnMark {
    pub outcome: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
    pub regime: String,
}

pub struct ScoreView {
    pub version: u32,
    pub value: Option<PlusMinus>,
    /// Unrounded, so that a reader can compare what they recomputed.
    pub exact: Option<String>,
    pub coverage: String,
    pub provisional: bool,
    pub u_lacks: String,
    pub terms: Vec<TermView>,
    /// Sum of the weights that are present.
    pub weight_present: String,
    /// Sum of weight times points, for the last line of the table.
    pub weighted_sum: String,
    pub absent: Vec<AbsentTerm>,
}

pub struct TermView {
    pub title: &'static str,
    pub id: String,
    pub weight: String,
    pub k: String,
    pub points: String,
    pub contribution: String,
    pub reason: Option<String>,
    pub runs: Vec<TermRunView>,
}

pub struct AbsentTerm {
    pub title: &'static str,
    pub weight: String,
    pub reason: String,
}

pub struct TermRunView {
    pub run: String,
    pub measured: String,
    pub reference: String,
    pub points: String,
    /// `50 − 50 × ln(0.0912 / 0.1200) / ln(2.5) = 65.0`
    pub working: String,
}

/// What the label claims beside what was measured.
pub struct Claim {
    pub label: &'static str,
    pub claimed: Option<String>,
    pub measured: Option<String>,
}

pub struct Check {
    pub title: String,
    pub claim: Option<String>,
    pub found: Option<String>,
    /// The result's word.
    pub outcome: &'static str,
    pub class: &'static str,
    pub sign: &'static str,
    pub message: String,
    pub source: String,
}

pub struct WarningView {
    pub path: String,
    pub message: String,
}

pub struct RegimeView {
    pub id: String,
    pub short: String,
    pub title: String,
    pub url: String,
    pub role: &'static str,
    pub outcome: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
    pub meaning: &'static str,
    pub reason: Option<String>,
    pub verdicts: Vec<VerdictView>,
    /// No requirement has a figure: the table says only why not, so it stands folded.
    pub nothing_judged: bool,
}

pub struct VerdictView {
    pub requirement: &'static str,
    pub run: Option<String>,
    pub category: Option<String>,
    pub category_reason: Option<String>,
    pub limit: Option<String>,
    pub measured: Option<String>,
    pub margin: Option<String>,
    pub expanded: Option<String>,
    pub probability: Option<String>,
    pub outcome: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
    pub simple: Option<&'static str>,
    pub guarded: Option<&'static str>,
    pub decides: bool,
    pub reason: Option<String>,
    pub citation: Option<String>,
    pub alternatives: Vec<Alternative>,
}

/// What another reading of the rule would give.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alternative {
    pub words: String,
    /// In the words of the evaluation document.
    pub why: String,
}

impl std::fmt::Display for Alternative {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(to, "{} ({})", self.words, self.why)
    }
}

/// A chart with its numbers.
pub struct Figure {
    pub id: &'static str,
    pub title: &'static str,
    pub svg: String,
    pub table: ChartTable,
    /// What a reader must know of its lines; may be empty.
    pub note: &'static str,
    /// May be drawn over another axis.
    pub has_axis: bool,
}

pub struct RunView {
    pub name: String,
    pub facts: Vec<Fact>,
    pub informative: Option<String>,
    pub points: Vec<PointView>,
    pub average: Option<PlusMinus>,
    pub average_missing: String,
    pub ten_percent: Option<PlusMinus>,
    pub no_load: Option<PlusMinus>,
    pub no_load_method: String,
    pub model: Option<ModelView>,
}

impl RunView {
    /// Does any load point come from a log?
    pub fn has_logged_points(&self) -> bool {
        self.points.iter().any(|point| point.log.is_some())
    }
}

/// The cells of one load point after its load percentage.
pub struct PointView {
    pub load: String,
    pub cells: Vec<Option<String>>,
    /// Where the readings are averages of a log.
    pub log: Option<PointLogView>,
}

pub struct ModelView {
    pub formula: String,
    /// From a load's power to its current: what a reader needs for a figure in watts.
    pub current: String,
    pub residual: String,
    pub peak: String,
    pub range: String,
}

pub struct InstrumentView {
    pub quantity: &'static str,
    pub name: Option<String>,
    pub accuracy: String,
    pub range: Option<String>,
}

/// Headings of a run's table after the load percentage; [`PointView`] has the cells in this order.
pub fn point_columns() -> [&'static str; 10] {
    [
        word("point-output"),
        word("point-input"),
        word("point-efficiency"),
        word("point-loss"),
        word("point-apparent"),
        word("point-power-factor"),
        word("point-nonactive"),
        word("point-thd"),
        word("point-crest"),
        word("point-voltage"),
    ]
}

impl Sheet {
    /// `axis` is the one that charts against load are drawn over.
    pub fn of(record: &Record, evaluation: &Evaluation, method: &Method, axis: LoadAxis) -> Sheet {
        let unit = &record.unit;
        let name = format!("{} {}", unit.maker, unit.model);
        let (main, other): (Vec<_>, Vec<_>) = method
            .standards
            .regimes
            .iter()
            .filter_map(|regime| regime_view(regime, evaluation))
            .partition(|(is_main, _)| *is_main);
        let best_run = evaluation
            .runs
            .iter()
            .filter(|run| {
                run.informative.is_none()
                    && method
                        .formula
                        .line
                        .holds(run.line_voltage_v, run.line_frequency_hz)
            })
            .reduce(|best, run| {
                if run.rated_voltage_v > best.rated_voltage_v {
                    run
                } else {
                    best
                }
            });
        let worst_no_load = evaluation
            .runs
            .iter()
            .filter(|run| {
                method
                    .formula
                    .line
                    .holds(run.line_voltage_v, run.line_frequency_hz)
            })
            .filter_map(|run| run.no_load.as_ref())
            .reduce(|worst, one| {
                if one.power_w > worst.power_w {
                    one
                } else {
                    worst
                }
            });
        let main: Vec<RegimeView> = main.into_iter().map(|(_, view)| view).collect();
        Sheet {
            photos: PhotoView::of(record),
            facts: facts(record),
            links: links(record),
            score: score_view(evaluation),
            claims: claims(record, evaluation),
            checks: checks(evaluation),
            warnings: evaluation
                .warnings
                .iter()
                .filter(|w| !told_by_ports(evaluation, w))
                .map(|w| WarningView {
                    path: w.path.clone(),
                    message: w.message.clone(),
                })
                .collect(),
            marks: main
                .iter()
                .map(|regime| OwnMark {
                    outcome: regime.outcome,
                    sign: regime.sign,
                    word: regime.word,
                    regime: regime.short.clone(),
                })
                .collect(),
            main_regimes: main,
            other_regimes: other.into_iter().map(|(_, view)| view).collect(),
            figures: figures(&name, evaluation, method, axis),
            runs: evaluation
                .runs
                .iter()
                .map(|run| run_view(run, record))
                .collect(),
            ports: ports::views(record, evaluation),
            overloads: OverloadSection::of(&name, record, evaluation, method),
            sharing: evaluation.sharing.as_ref().map(|sharing| {
                let labels: Vec<String> = unit.ports.iter().map(|p| p.label.clone()).collect();
                SharingView::of(sharing, &labels, unit.nameplate.output_power_w)
            }),
            heat: HeatSection::of(&name, record, evaluation, method),
            measurements: MeasurementSection::of(record, evaluation),
            instruments: record.instruments.iter().map(instrument_view).collect(),
            notes: record.notes.as_deref().and_then(notes_html),
            no_load: worst_no_load.map(no_load_figure),
            average_efficiency: best_run.and_then(|run| {
                run.average_efficiency
                    .map(|eta| PlusMinus::efficiency(eta, run.average_efficiency_u))
            }),
            class_label: format::class_label(&evaluation.class.label),
            class_url: urls::class(&evaluation.class.id),
            sample: unit.sample.clone(),
            engine: evaluation.engine.clone(),
            evidence: EvidenceView::of(&name, record, evaluation, method),
            name,
        }
    }

    /// One sentence for search results and pasted links.
    pub fn description(&self) -> String {
        let verdicts: Vec<String> = self
            .marks
            .iter()
            .map(|mark| format!("{} {}", mark.regime, mark.word))
            .collect();
        let text = match (&self.score.value, &self.average_efficiency) {
            (Some(score), Some(eta)) => t("unit-summary")
                .with("score", score.to_string())
                .with("efficiency", eta.to_string()),
            (Some(score), None) => t("unit-summary-score").with("score", score.to_string()),
            (None, Some(eta)) => t("unit-summary-efficiency").with("efficiency", eta.to_string()),
            (None, None) => t("unit-summary-bare"),
        };
        text.with("verdicts", verdicts.join(", ")).to_string()
    }
}

fn facts(record: &Record) -> Vec<Fact> {
    let unit = &record.unit;
    let plate = &unit.nameplate;
    let mut facts = vec![Fact::new(
        word("fact-rated-output"),
        format::rated_watts(plate.output_power_w),
    )];
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    add(word("fact-rated-input"), input_rating(record));
    add(word("fact-efficiency-mark"), plate.efficiency_mark.clone());
    add(
        word("fact-rated-ambient"),
        plate.max_ambient_c.map(|c| {
            t("fact-rated-ambient.text")
                .with("temperature", format::with_unit(format::plain(c), "°C"))
                .to_string()
        }),
    );
    add(
        word("fact-safety-marks"),
        (!unit.safety_marks.is_empty()).then(|| unit.safety_marks.join(", ")),
    );
    if let Some(mass) = &unit.mass_g {
        let grams = |g: f64| format::with_unit(format::plain(g), "g");
        add(word("fact-mass"), mass.adapter.map(grams));
        add(word("fact-mass-cord"), mass.cord.map(grams));
        add(word("fact-mass-packaging"), mass.packaging.map(grams));
    }
    add(
        word("fact-size"),
        unit.size_mm.map(|size| {
            let sides: Vec<String> = size.iter().map(|side| format::plain(*side)).collect();
            let volume = size.iter().product::<f64>() / 1000.0;
            format!(
                "{} ({})",
                format::with_unit(sides.join(" × "), "mm"),
                format::with_unit(format::significant(volume, 3), "cm³")
            )
        }),
    );
    add(
        word("fact-density"),
        unit.size_mm
            .map(|size| size.iter().product::<f64>() / 1000.0)
            .filter(|v| *v > 0.0)
            .map(|volume| {
                format::with_unit(
                    format::significant(plate.output_power_w / volume, 3),
                    "W/cm³",
                )
            }),
    );
    add(
        word("fact-price"),
        unit.price
            .as_ref()
            .map(|p| format::price(&localised(p.amount.clone()), &p.currency)),
    );
    add(
        word("fact-acquired"),
        unit.acquired_on.as_deref().map(format::date),
    );
    add(word("fact-tested"), record.tested_on().map(format::date));
    facts
}

fn input_rating(record: &Record) -> Option<String> {
    let plate = &record.unit.nameplate;
    let volts = match (plate.input_voltage_min_v, plate.input_voltage_max_v) {
        (Some(min), Some(max)) if min != max => Some(format::with_unit(
            format!("{}–{}", format::plain(min), format::plain(max)),
            "V",
        )),
        (Some(volts), _) | (None, Some(volts)) => {
            Some(format::with_unit(format::plain(volts), "V"))
        }
        (None, None) => None,
    };
    let amps = plate
        .input_current_a
        .map(|a| format::with_unit(format::plain(a), "A"));
    let parts: Vec<String> = volts.into_iter().chain(amps).collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// Only addresses of the web are linked; anything else a record holds stays out of the page.
fn links(record: &Record) -> Vec<Link> {
    [
        (word("fact-buy"), &record.unit.buy_url),
        (word("fact-write-up"), &record.unit.write_up_url),
    ]
    .into_iter()
    .filter_map(|(label, url)| {
        let url = url.as_deref()?;
        let web = url.starts_with("https://") || url.starts_with("http://");
        web.then(|| Link {
            label,
            url: url.to_owned(),
        })
    })
    .collect()
}

/// A term's name for people.
pub fn term_title(id: &str) -> &'static str {
    match id {
        "active-loss" => word("term-active-loss"),
        "light-load-loss" => word("term-light-load-loss"),
        "no-load" => word("term-no-load"),
        "line-current" => word("term-line-current"),
        "delivery" => word("term-delivery"),
        "surface" => word("term-surface"),
        _ => word("term-other"),
    }
}

fn score_view(evaluation: &Evaluation) -> ScoreView {
    let score = &evaluation.score;
    let present: f64 = score
        .terms
        .iter()
        .filter(|t| t.points.is_some())
        .map(|t| t.weight)
        .sum();
    let sum: f64 = score
        .terms
        .iter()
        .filter_map(|t| Some(t.weight * t.points?))
        .sum();
    ScoreView {
        version: score.version,
        value: score.value.map(|value| PlusMinus::score(value, score.u)),
        exact: score.value.map(|value| format::fixed(value, 4)),
        coverage: format::with_unit(format::plain((score.coverage * 1000.0).round() / 10.0), "%"),
        provisional: score.provisional,
        u_lacks: score
            .u_lacks
            .iter()
            .map(|id| term_title(id))
            .collect::<Vec<_>>()
            .join(", "),
        terms: score
            .terms
            .iter()
            .filter_map(|term| term_view(term, present))
            .collect(),
        weight_present: format::plain(present),
        weighted_sum: format::fixed(sum, 2),
        absent: score
            .terms
            .iter()
            .filter(|t| t.points.is_none())
            .map(|t| AbsentTerm {
                title: term_title(&t.term),
                weight: format::plain(t.weight),
                reason: t
                    .reason
                    .clone()
                    .unwrap_or_else(|| word("not-measured").to_owned()),
            })
            .collect(),
    }
}

fn term_view(term: &ScoreTerm, present: f64) -> Option<TermView> {
    let points = term.points?;
    Some(TermView {
        title: term_title(&term.term),
        id: term.term.clone(),
        weight: format::plain(term.weight),
        k: format::plain(term.k),
        points: format::fixed(points, 2),
        contribution: format::fixed(term.weight * points / present, 2),
        reason: term.reason.clone(),
        runs: term
            .runs
            .iter()
            .map(|run| {
                let measured = term_number(&term.term, run.measured);
                let reference = term_number(&term.term, run.reference);
                let raw = |value: f64| format::significant(value, 5);
                TermRunView {
                    run: run
                        .run
                        .clone()
                        .unwrap_or_else(|| word("score-whole-unit").to_owned()),
                    working: format!(
                        "50 − 50 × ln({} / {}) / ln({}) → {}",
                        raw(run.measured),
                        raw(run.reference),
                        format::plain(term.k),
                        format::fixed(run.points, 2)
                    ),
                    measured,
                    reference,
                    points: format::fixed(run.points, 2),
                }
            })
            .collect(),
    })
}

/// A term's figure in the unit that people know it by.
fn term_number(term: &str, value: f64) -> String {
    match term {
        "active-loss" | "light-load-loss" => {
            format::with_unit(format::fixed(value * 100.0, 3), "%")
        }
        "no-load" => {
            let scale = format::watt_scale(value);
            format::with_unit(format::significant(value * scale.factor, 4), scale.unit)
        }
        "delivery" => format::with_unit(format::fixed(value, 3), "%"),
        "surface" => format::with_unit(format::fixed(value, 2), "K"),
        _ => format::fixed(value, 5),
    }
}

fn claims(record: &Record, evaluation: &Evaluation) -> Vec<Claim> {
    let plate = &record.unit.nameplate;
    let most = |values: &mut dyn Iterator<Item = f64>| values.reduce(f64::max);
    let delivered = most(
        &mut evaluation
            .runs
            .iter()
            .flat_map(|r| &r.points)
            .filter_map(|p| p.output_power_w),
    );
    let drawn = most(
        &mut record
            .runs
            .iter()
            .flat_map(|r| &r.points)
            .filter_map(|p| p.input.as_ref()?.current_a),
    );
    let mut lines: Vec<String> = Vec::new();
    for run in &evaluation.runs {
        let line = format::line(run.line_voltage_v, run.line_frequency_hz);
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    vec![
        Claim {
            label: word("claim-output"),
            claimed: Some(format::rated_watts(plate.output_power_w)),
            measured: delivered.map(|w| {
                t("claim-output.measured")
                    .with("power", format::watts(w))
                    .to_string()
            }),
        },
        Claim {
            label: word("claim-line"),
            claimed: match (plate.input_voltage_min_v, plate.input_voltage_max_v) {
                (Some(min), Some(max)) => Some(format::with_unit(
                    format!("{}–{}", format::plain(min), format::plain(max)),
                    "V",
                )),
                _ => None,
            },
            measured: (!lines.is_empty()).then(|| {
                t("claim-line.measured")
                    .with("lines", lines.join(", "))
                    .to_string()
            }),
        },
        Claim {
            label: word("claim-input-current"),
            claimed: plate
                .input_current_a
                .map(|a| format::with_unit(format::plain(a), "A")),
            measured: drawn.map(|a| {
                t("claim-input-current.measured")
                    .with("current", format::with_unit(format::significant(a, 3), "A"))
                    .to_string()
            }),
        },
    ]
}

fn checks(evaluation: &Evaluation) -> Vec<Check> {
    evaluation
        .label_checks
        .iter()
        .filter(|check| !is_told_by_its_port(evaluation, check))
        .map(|check| {
            let title = match check.check.as_str() {
                "implied-power-factor" => word("check-implied-power-factor"),
                "efficiency-mark" => word("check-efficiency-mark"),
                "port-power" => word("check-port-power"),
                "pd-power-rules" => word("check-pd-power-rules"),
                other => other,
            };
            Check {
                title: match &check.port {
                    Some(port) => t("check-port")
                        .with("check", title)
                        .with("port", port)
                        .to_string(),
                    None => title.to_owned(),
                },
                claim: check.claim.clone(),
                found: check.found.clone(),
                outcome: format::label_outcome(check.result),
                class: format::label_outcome_class(check.result),
                sign: format::label_outcome_sign(check.result),
                message: check.message.clone(),
                source: check.source.clone(),
            }
        })
        .collect()
}

/// The rules for USB outputs are told port by port, from its list where there is one: the check of
/// the label alone would say the same again, or blame a label for what the list offers.
fn is_told_by_its_port(evaluation: &Evaluation, check: &LabelCheck) -> bool {
    check.check == "pd-power-rules" && ports::tells_power_rules(evaluation, check.port.as_deref())
}

/// Is the warning one of such a check?
pub fn told_by_ports(evaluation: &Evaluation, warning: &Warning) -> bool {
    let checks = &evaluation.label_checks;
    checks
        .iter()
        .any(|check| check.message == warning.message && is_told_by_its_port(evaluation, check))
}

fn role(role: Role) -> &'static str {
    match role {
        Role::Law => word("role-law"),
        Role::Voluntary => word("role-voluntary"),
        Role::Pending => word("role-pending"),
        Role::Earlier => word("role-earlier"),
        Role::Marking => word("role-marking"),
    }
}

/// Does a verdict that the result rests on lack its uncertainty? Then no margin beyond it can be
/// claimed: a pass rests on every deciding verdict, a fail on those that fail.
fn by_simple_acceptance(regime: &Regime, result: Outcome, evaluation: &Evaluation) -> bool {
    evaluation
        .verdicts
        .iter()
        .filter(|v| v.regime == regime.id && v.decides && v.measured.is_some())
        .filter(|v| result != Outcome::Fail || v.result == Outcome::Fail)
        .any(|v| v.expanded_uncertainty.is_none_or(|u| u == 0.0))
}

/// The regime's part of the sheet, and whether it is one of the main ones.
fn regime_view(regime: &Regime, evaluation: &Evaluation) -> Option<(bool, RegimeView)> {
    let result = evaluation.regimes.iter().find(|r| r.regime == regime.id)?;
    let main = matches!(regime.role, Role::Law | Role::Voluntary | Role::Pending);
    let view = RegimeView {
        id: regime.id.clone(),
        short: regime.short.clone(),
        title: regime.title.clone(),
        url: urls::regime(&regime.id),
        role: role(regime.role),
        outcome: result.result.id(),
        sign: format::outcome_sign(result.result),
        word: format::outcome(result.result),
        meaning: if by_simple_acceptance(regime, result.result, evaluation) {
            format::simple_acceptance_meaning(result.result)
        } else {
            format::outcome_meaning(result.result)
        },
        reason: result.reason.clone(),
        nothing_judged: evaluation
            .verdicts
            .iter()
            .filter(|v| v.regime == regime.id)
            .all(|v| v.measured.is_none()),
        verdicts: evaluation
            .verdicts
            .iter()
            .filter(|v| v.regime == regime.id)
            .map(verdict_view)
            .collect(),
    };
    Some((main, view))
}

fn verdict_view(verdict: &Verdict) -> VerdictView {
    let requirement = verdict.requirement;
    let scale = requirement_scale(requirement, verdict.limit);
    let number = |value: f64, signed: bool| {
        let decimals = match requirement {
            Requirement::NoLoad if scale.unit == "mW" => 1,
            Requirement::NoLoad => 3,
            Requirement::PowerFactor => 3,
            _ => 2,
        };
        let text = format::fixed(value * scale.factor, decimals);
        if !signed {
            return format::with_unit(text, scale.unit);
        }
        let plus = if value > 0.0 { "+" } else { "" };
        format::with_unit(format!("{plus}{text}"), difference_unit(scale))
    };
    VerdictView {
        requirement: format::requirement(requirement),
        run: verdict.run.clone(),
        category: verdict.category.as_deref().map(category_words),
        category_reason: verdict.category_reason.clone(),
        limit: verdict.limit.map(|limit| {
            let side = if requirement.is_minimum() {
                "≥"
            } else {
                "≤"
            };
            let limit = format!("{side} {}", number(limit, false));
            match verdict.limit_power_w {
                Some(watts) => t("verdict-for")
                    .with("limit", limit)
                    .with("power", format::rated_watts(watts))
                    .to_string(),
                None => limit,
            }
        }),
        measured: verdict.measured.map(|value| number(value, false)),
        margin: verdict.margin.map(|margin| number(margin, true)),
        expanded: verdict.expanded_uncertainty.map(|u| {
            format::with_unit(
                format::significant(u * scale.factor, 2),
                difference_unit(scale),
            )
        }),
        probability: verdict.risk.map(probability),
        outcome: verdict.result.id(),
        sign: format::outcome_sign(verdict.result),
        word: format::outcome(verdict.result),
        simple: verdict.simple_acceptance.map(format::outcome),
        guarded: verdict.guarded_acceptance.map(format::outcome),
        decides: verdict.decides,
        reason: verdict.reason.clone(),
        citation: verdict.citation.clone(),
        alternatives: verdict
            .alternatives
            .iter()
            .map(|other| {
                let limit = other.limit.map(|limit| number(limit, false));
                let category = other.category.as_deref().map(category_words);
                let text = match (category, limit) {
                    (Some(category), Some(limit)) => t("alternative-limit")
                        .with("category", category)
                        .with("limit", limit),
                    (Some(category), None) => t("alternative-no-limit").with("category", category),
                    (None, Some(limit)) => t("alternative-reading").with("limit", limit),
                    (None, None) => t("alternative-reading-no-limit"),
                };
                Alternative {
                    words: text
                        .with("outcome", format::outcome(other.result))
                        .to_string(),
                    why: other.why.clone(),
                }
            })
            .collect(),
    }
}

/// A regime's row name as words: `ac_dc_basic` -> "AC-DC basic".
pub fn category_words(name: &str) -> String {
    match name {
        "ac_dc_basic" => word("category-ac-dc-basic"),
        "ac_dc_low" => word("category-ac-dc-low"),
        "ac_ac_basic" => word("category-ac-ac-basic"),
        "ac_ac_low" => word("category-ac-ac-low"),
        "low_voltage" => word("category-low"),
        "standard_voltage" => word("category-standard"),
        "multiple_voltage" => word("category-multiple"),
        "class_a_any" => word("category-class-a"),
        "any" => word("category-any"),
        other => return other.replace('_', " "),
    }
    .to_owned()
}

/// Percentages differ by percentage points.
fn difference_unit(scale: Scale) -> &'static str {
    if scale == format::PERCENT {
        "pp"
    } else {
        scale.unit
    }
}

fn requirement_scale(requirement: Requirement, limit: Option<f64>) -> Scale {
    match requirement {
        Requirement::NoLoad => format::watt_scale(limit.unwrap_or(0.0)),
        Requirement::PowerFactor => format::POINTS,
        _ => format::PERCENT,
    }
}

/// Probability of conformity in percent, never rounded to certainty.
pub fn probability(p: f64) -> String {
    let percent = p * 100.0;
    let text = if percent > 99.9 {
        format!("> {}", format::fixed(99.9, 1))
    } else if percent < 0.1 {
        format!("< {}", format::fixed(0.1, 1))
    } else {
        format::fixed(percent, 1)
    };
    format::with_unit(text, "%")
}

fn figures(name: &str, evaluation: &Evaluation, method: &Method, axis: LoadAxis) -> Vec<Figure> {
    // A limit that no regime in force or followed today sets would only crowd the picture.
    let present = |id: &str| {
        method
            .standards
            .regime(id)
            .is_some_and(|r| matches!(r.role, Role::Law | Role::Voluntary))
    };
    let shown = Evaluation {
        verdicts: evaluation
            .verdicts
            .iter()
            .filter(|v| present(&v.regime))
            .cloned()
            .collect(),
        ..evaluation.clone()
    };
    let short = |id: &str| {
        method
            .standards
            .regime(id)
            .map_or_else(|| id.to_owned(), |r| r.short.clone())
    };
    let limits = |requirement| LimitLine::from_verdicts(&shown, requirement, short);
    let against_load = |id, title, quantity| {
        let chart = LoadChart::of_unit(quantity, name, evaluation, axis);
        let chart = match quantity {
            LoadQuantity::Efficiency => chart.with_limits(limits(Requirement::AverageEfficiency)),
            _ => chart,
        };
        chart.has_points().then(|| Figure {
            id,
            title,
            svg: chart.both(id),
            table: chart.table(),
            note: chart.note(),
            has_axis: true,
        })
    };
    let no_load = NoLoadBars::of_unit(name, evaluation).with_limits(limits(Requirement::NoLoad));
    let idle = no_load
        .bars
        .iter()
        .any(|bar| bar.power_w.is_some())
        .then(|| Figure {
            id: "no-load-chart",
            title: word("term-no-load"),
            svg: no_load.both("no-load-chart"),
            table: no_load.table(),
            note: "",
            has_axis: false,
        });
    [
        against_load(
            "efficiency",
            word("chart-title-efficiency"),
            LoadQuantity::Efficiency,
        ),
        against_load(
            "power-factor",
            word("chart-title-power-factor"),
            LoadQuantity::PowerFactor,
        ),
        against_load(
            "current-thd",
            word("chart-title-thd"),
            LoadQuantity::CurrentThd,
        ),
        idle,
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn run_view(run: &RunResult, record: &Record) -> RunView {
    let entered = record.runs.iter().find(|r| r.name == run.name);
    let mut facts = vec![Fact::new(
        word("claim-line"),
        format::line(run.line_voltage_v, run.line_frequency_hz),
    )];
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    add(
        word("run-rated-power"),
        run.rated_power_w.map(format::rated_watts),
    );
    add(
        word("run-rated-outputs"),
        entered.filter(|r| !r.rated_outputs.is_empty()).map(|r| {
            r.rated_outputs
                .iter()
                .map(|o| {
                    format!(
                        "{}: {} {}",
                        o.port,
                        format::with_unit(format::plain(o.voltage_v), "V"),
                        format::with_unit(format::plain(o.current_a), "A")
                    )
                })
                .collect::<Vec<_>>()
                .join("; ")
        }),
    );
    add(
        word("run-share"),
        (run.allocation < 1.0).then(|| {
            let share = format::with_unit(format::fixed(run.allocation * 100.0, 1), "%");
            t("run-share.text").with("share", share).to_string()
        }),
    );
    let category = format!("{}:", format::category(run.category));
    facts.push(Fact::new(word("run-category"), category).explained(&run.category_reason));
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    add(
        word("run-ambient"),
        entered
            .and_then(|r| r.ambient_c)
            .map(|c| format::with_unit(format::plain(c), "°C")),
    );
    add(
        word("fact-tested"),
        entered
            .and_then(|r| r.tested_on.as_deref())
            .map(format::date),
    );
    RunView {
        name: run.name.clone(),
        facts,
        informative: run.informative.clone(),
        points: run.points.iter().map(point_view).collect(),
        average: run
            .average_efficiency
            .map(|eta| PlusMinus::efficiency(eta, run.average_efficiency_u)),
        average_missing: run
            .average_missing
            .iter()
            .map(|p| format::with_unit(format::plain(*p), "%"))
            .collect::<Vec<_>>()
            .join(", "),
        ten_percent: run
            .ten_percent_efficiency
            .map(|eta| PlusMinus::efficiency(eta, run.ten_percent_efficiency_u)),
        no_load: run.no_load.as_ref().map(no_load_figure),
        no_load_method: run
            .no_load
            .as_ref()
            .map_or(String::new(), |n| no_load_method(&n.method).to_owned()),
        model: run.loss_model.as_ref().map(model_view),
    }
}

fn point_view(point: &PointResult) -> PointView {
    let watts = |value: f64| format::significant(value, 4);
    PointView {
        load: format::with_unit(format::plain(point.load_percent), "%"),
        cells: vec![
            point.output_power_w.map(watts),
            point.input_power_w.map(watts),
            point.efficiency.map(|eta| {
                let shown = PlusMinus::efficiency(eta, point.efficiency_u);
                match shown.expanded {
                    Some(u) => format!("{} ± {u}", shown.value),
                    None => shown.value,
                }
            }),
            point.loss_w.map(|w| format::significant(w, 3)),
            point.apparent_power_va.map(watts),
            point.power_factor.map(|pf| format::fixed(pf, 3)),
            point.nonactive_power_va.map(|n| format::significant(n, 3)),
            point
                .current_thd_percent
                .map(|thd| format::significant(thd, 3)),
            point.crest_factor.map(|c| format::significant(c, 3)),
            point.voltage_deviation_percent.map(|v| format::fixed(v, 2)),
        ],
        log: point.log.as_ref().map(point_log_view),
    }
}

fn model_view(model: &LossModel) -> ModelView {
    let g = |value: f64| format::significant(value, 3);
    ModelView {
        formula: t("run-model-formula")
            .with("a", g(model.a_w))
            .with("b", g(model.b_v))
            .with("c", g(model.c_ohm))
            .to_string(),
        current: t("run-model-current")
            .with(
                "voltage",
                format::with_unit(format::significant(model.effective_voltage_v, 4), "V"),
            )
            .to_string(),
        residual: format::watts(model.rms_residual_w),
        peak: t("chart-value-at")
            .with("value", format::percent(model.peak_efficiency))
            .with("load", format::watts(model.peak_at_w))
            .to_string(),
        range: format::watts(model.valid_to_w),
    }
}

fn instrument_view(instrument: &Instrument) -> InstrumentView {
    let (quantity, unit) = format::quantity(instrument.quantity);
    let mut parts = Vec::new();
    if instrument.reading_percent > 0.0 {
        let percent = format::with_unit(format::plain(instrument.reading_percent), "%");
        parts.push(
            t("instrument-of-reading")
                .with("percent", percent)
                .to_string(),
        );
    }
    if instrument.range_percent > 0.0 {
        let percent = format::with_unit(format::plain(instrument.range_percent), "%");
        parts.push(
            t("instrument-of-range")
                .with("percent", percent)
                .to_string(),
        );
    }
    if instrument.fixed > 0.0 {
        parts.push(format::with_unit(format::plain(instrument.fixed), unit));
    }
    InstrumentView {
        quantity,
        name: instrument.name.clone(),
        accuracy: if parts.is_empty() {
            word("not-stated").to_owned()
        } else {
            format!("±({})", parts.join(" + "))
        },
        range: instrument
            .range
            .map(|r| format::with_unit(format::plain(r), unit)),
    }
}

/// Markdown to HTML that can do no harm: no scripts, styles, pictures or frames; links open
/// nothing in the page's name and are not followed by search engines.
pub fn notes_html(markdown: &str) -> Option<String> {
    if markdown.trim().is_empty() {
        return None;
    }
    let mut html = String::new();
    let events = flattened(pulldown_cmark::Parser::new(markdown)).map(below_the_page_s_headings);
    pulldown_cmark::html::push_html(&mut html, events);
    let clean = ammonia::Builder::default()
        .rm_tags(["img", "map", "area", "h1", "h2"])
        .url_schemes(["http", "https", "mailto"].into())
        .link_rel(Some("nofollow noopener noreferrer"))
        .clean(&html)
        .to_string();
    Some(clean)
}

/// Headings of notes stand two levels lower: the page has its title and its sections already.
fn below_the_page_s_headings(event: pulldown_cmark::Event<'_>) -> pulldown_cmark::Event<'_> {
    use pulldown_cmark::{Event, HeadingLevel, Tag, TagEnd};
    let lower = |level| match level {
        HeadingLevel::H1 => HeadingLevel::H3,
        HeadingLevel::H2 => HeadingLevel::H4,
        HeadingLevel::H3 => HeadingLevel::H5,
        _ => HeadingLevel::H6,
    };
    match event {
        Event::Start(Tag::Heading {
            level,
            id,
            classes,
            attrs,
        }) => Event::Start(Tag::Heading {
            level: lower(level),
            id,
            classes,
            attrs,
        }),
        Event::End(TagEnd::Heading(level)) => Event::End(TagEnd::Heading(lower(level))),
        other => other,
    }
}

/// Deepest nesting that notes are shown with.
const DEEPEST_NESTING: usize = 20;

/// Leaves out elements nested deeper than anybody writes, and keeps their words: cleaning takes
/// time with the square of the depth, and a browser may give up on such a page.
fn flattened<'a>(
    events: impl Iterator<Item = pulldown_cmark::Event<'a>>,
) -> impl Iterator<Item = pulldown_cmark::Event<'a>> {
    let mut depth = 0;
    events.filter(move |event| match event {
        pulldown_cmark::Event::Start(_) => {
            depth += 1;
            depth <= DEEPEST_NESTING
        }
        pulldown_cmark::Event::End(_) => {
            depth -= 1;
            depth < DEEPEST_NESTING
        }
        _ => true,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_nested_beyond_reason_are_flattened_and_keep_their_words() {
        let html = notes_html(&format!("{} whine at 3 W", ">".repeat(3_000))).unwrap();
        assert_eq!(html.matches("<blockquote>").count(), DEEPEST_NESTING);
        assert_eq!(html.matches("</blockquote>").count(), DEEPEST_NESTING);
        assert!(html.contains("whine at 3 W"));
        let usual = notes_html("> - *one*").unwrap();
        assert!(usual.contains("<em>one</em>") && usual.contains("<li>"));
    }

    #[test]
    fn notes_lose_scripts_styles_and_pictures_and_keep_their_words() {
        let html = notes_html(
            "# Odd\n*whine* at 3 W <script>alert(1)</script> <b style=\"color:red\">x</b> \
             ![p](https://x.example/p.png) [l](javascript:alert(1)) [w](https://w.example)",
        )
        .unwrap();
        assert!(html.contains("<em>whine</em>"));
        for bad in ["<script", "style=", "<img", "javascript:"] {
            assert!(!html.contains(bad), "{html}");
        }
        assert!(html.contains("nofollow"));
        assert_eq!(notes_html("  \n"), None);
    }

    #[test]
    fn headings_of_notes_stand_below_those_of_the_page() {
        let html = notes_html("# Whine\n\nAt 3 W\n\n## Where\n\n<h1>Loud</h1>").unwrap();
        assert!(html.contains("<h3>Whine</h3>"), "{html}");
        assert!(html.contains("<h4>Where</h4>"), "{html}");
        assert!(html.contains("Loud") && !html.contains("<h1>"), "{html}");
    }

    #[test]
    fn a_voltage_that_the_rules_miss_is_told_by_its_port_and_nowhere_else() {
        let record = serde_json::json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 45},
                "ports": [{"label": "C1", "connector": "usb-c", "power_w": 45, "modes": [
                    {"kind": "fixed", "voltage_v": 5, "current_a": 3},
                    {"kind": "fixed", "voltage_v": 15, "current_a": 3}]}]},
        });
        let record = crate::bench::decode::decode(&record.to_string()).unwrap();
        let method = Method::standard();
        let evaluation = crate::evaluate::evaluate(&record, &method);
        let of_the_label = |c: &LabelCheck| c.check == "pd-power-rules";
        assert!(evaluation.label_checks.iter().any(of_the_label));
        assert!(evaluation.warnings.iter().any(|w| w.path == "unit.ports"));
        let sheet = Sheet::of(&record, &evaluation, &method, LoadAxis::WattsLog);
        let missing = |text: &str| text.contains("9 V is missing");
        assert!(!sheet.checks.iter().any(|c| missing(&c.message)));
        assert!(!sheet.warnings.iter().any(|w| missing(&w.message)));
        let findings = &sheet.ports[0].findings;
        assert_eq!(findings.iter().filter(|f| missing(&f.message)).count(), 1);
        assert_eq!(
            findings[0].mark.word, "against the rule",
            "what is wrong first"
        );
    }

    #[test]
    fn a_probability_is_never_rounded_to_certainty() {
        let shown = |p| probability(p).replace('\u{202f}', " ");
        assert_eq!(shown(1.0), "> 99.9 %");
        assert_eq!(shown(0.0), "< 0.1 %");
        assert_eq!(shown(0.5), "50.0 %");
    }
}
