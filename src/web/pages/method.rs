//! How units are measured, judged, scored and ranked: everything that a reader needs to do it
//! again, with its sources.

use super::{
    Site, public,
    sheet::{category_words, term_title},
};
use crate::web::filters;
use crate::{
    standards::{
        HarmonicLimits, LowPower, ScoreFormula, Standards, touch_temperature::TouchMaterial,
    },
    text::{Text, t, word},
    web::{
        chrome::{Chrome, Here},
        error::Error,
        extract::Visit,
        format, urls,
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new().route("/method", get(method))
}

#[derive(Template)]
#[template(path = "pages/method.html")]
struct MethodPage {
    chrome: Chrome,
    version: u32,
    engine: &'static str,
    digest: String,
    score_line: String,
    score_line_voltage: String,
    score_line_frequency: String,
    provisional_below: String,
    terms: Vec<Term>,
    total_weight: String,
    classes: Vec<(String, String)>,
    line_tolerance: String,
    line_warning: String,
    line_source: String,
    loads: String,
    load_tolerance: String,
    load_source: String,
    ambient: Vec<(String, String, String)>,
    pd_source: String,
    implied_source: String,
    /// The ways from a no-load log to a figure, in order of preference.
    no_load_methods: Vec<Rule>,
    low_power_citation: String,
    coverage: String,
    coverage_source: String,
    five_minute: FiveMinute,
    harmonics: Vec<Rule>,
    harmonics_citation: String,
    harmonics_note: String,
    bench: BenchRules,
}

/// A rule of the method. Reason and source are the tables' own words, which are English.
struct Rule {
    name: &'static str,
    text: String,
    reason: Option<String>,
    source: String,
}

/// The five-minute method of the US procedure.
struct FiveMinute {
    minutes: String,
    drift: String,
    drift_multiple: String,
    source: String,
}

/// What overload, temperatures and other measurements are read and compared by.
struct BenchRules {
    /// How overload steps are read, with its source.
    current: String,
    voltage: String,
    held: String,
    protection_source: String,
    /// What a limited source and other measurements are compared with.
    others: Vec<OtherFigure>,
    /// Contact, and TS1 and TS2 of metal, glass, plastic and wood.
    touch: Vec<(String, [String; 4])>,
    touch_citation: String,
    steady_change: String,
    steady_time: String,
    ambient_from: String,
    ambient_to: String,
    touch_source: String,
}

/// A figure to compare with. Name and source are the tables' own words, which are English.
struct OtherFigure {
    name: String,
    /// The voltages that it holds for.
    voltages: Option<String>,
    figure: String,
    source: String,
}

impl BenchRules {
    fn of(standards: &Standards) -> BenchRules {
        let with = |v: f64, unit: &str| format::with_unit(format::plain(v), unit);
        let rule = &standards.power_source.protection;
        let touch = &standards.touch_temperature;
        let mut others = Vec::new();
        for table in &standards.power_source.limited_power {
            for row in &table.rows {
                let current = match (row.current_a, row.current_volts) {
                    (Some(a), _) => with(a, "A"),
                    (None, Some(v)) => t("method-open-circuit")
                        .with("voltage", with(v, "V"))
                        .to_string(),
                    (None, None) => continue,
                };
                let voltages = t("method-voltages")
                    .with("from", format::plain(row.over_v))
                    .with("to", with(row.up_to_v, "V"));
                others.push(OtherFigure {
                    name: table.title.clone(),
                    voltages: Some(voltages.to_string()),
                    figure: t("method-limited")
                        .with("current", current)
                        .with("power", with(row.power_va, "VA"))
                        .with("time", with(table.after_s, "s"))
                        .to_string(),
                    source: format!("{}; {}", table.citation, table.source),
                });
            }
        }
        others.extend(standards.power_source.power_classes.iter().map(|class| {
            OtherFigure {
                name: class.id.clone(),
                voltages: None,
                figure: t("method-power-class")
                    .with("power", with(class.power_w, "W"))
                    .with("time", with(class.after_s, "s"))
                    .to_string(),
                source: format!("{}; {}", class.citation, class.source),
            }
        }));
        others.extend(
            standards
                .other_figures
                .figures
                .iter()
                .map(|figure| OtherFigure {
                    name: figure.name.clone(),
                    voltages: None,
                    figure: with(figure.limit, &figure.unit),
                    source: figure.source.clone(),
                }),
        );
        BenchRules {
            current: with(100.0 * (1.0 - rule.current_share), "%"),
            voltage: with(100.0 * rule.good_voltage_share, "%"),
            held: with(100.0 * rule.held_share, "%"),
            protection_source: rule.source.clone(),
            others,
            touch: touch
                .rows
                .iter()
                .map(|row| {
                    let of = |material| {
                        let limits = row.limits(material);
                        format!(
                            "{} / {}",
                            format::plain(limits.ts1_c),
                            with(limits.ts2_c, "°C")
                        )
                    };
                    (
                        row.duration.clone(),
                        [
                            of(TouchMaterial::Metal),
                            of(TouchMaterial::GlassPorcelain),
                            of(TouchMaterial::PlasticRubber),
                            of(TouchMaterial::Wood),
                        ],
                    )
                })
                .collect(),
            touch_citation: touch.citation.clone(),
            steady_change: with(touch.steady_k, "K"),
            steady_time: with(touch.steady_min, "min"),
            ambient_from: format::plain(touch.ambient_from_c),
            ambient_to: with(touch.ambient_to_c, "°C"),
            touch_source: touch.reference_source.clone(),
        }
    }
}

struct Term {
    title: &'static str,
    id: &'static str,
    weight: String,
    k: String,
    measured: String,
    reference: String,
}

async fn method(visit: Visit) -> Result<Response, Error> {
    let method = &visit.site.method;
    let standards = &method.standards;
    let formula = &method.formula;
    let procedure = &standards.procedure;
    let terms = terms(formula, standards);
    let chrome = visit
        .chrome(word("method"))
        .describe(word("method.description"))
        .canonical(urls::page(urls::METHOD))
        .image(urls::preview(&urls::Query::new().with("about", "method")))
        .here(Here::Method);
    public(&MethodPage {
        chrome,
        version: formula.version,
        engine: crate::evaluate::ENGINE,
        digest: method.digest().to_owned(),
        score_line: format::line(formula.line.voltage_v, formula.line.frequency_hz),
        score_line_voltage: percent(formula.line.voltage_tolerance_percent),
        score_line_frequency: format::with_unit(
            format::plain(formula.line.frequency_tolerance_hz),
            "Hz",
        ),
        provisional_below: percent(formula.provisional_below * 100.0),
        total_weight: format::plain(weights(formula).iter().sum()),
        terms,
        classes: method
            .classes
            .iter()
            .map(|class| (format::class_label(&class.label), urls::class(&class.id)))
            .collect(),
        line_tolerance: percent(procedure.line.tolerance_percent),
        line_warning: percent(procedure.line.warning_tolerance_percent),
        line_source: procedure.line.source.clone(),
        loads: procedure
            .load_points
            .average_percents
            .iter()
            .map(|load| percent(*load))
            .collect::<Vec<_>>()
            .join(", "),
        load_tolerance: percent(procedure.load_points.tolerance_percent),
        load_source: procedure.load_points.source.clone(),
        ambient: procedure
            .ambient
            .iter()
            .map(|window| {
                (
                    format::with_unit(format::plain(window.line_voltage_v), "V"),
                    format!(
                        "{} ± {}",
                        format::plain(window.c),
                        format::with_unit(format::plain(window.tolerance_c), "°C")
                    ),
                    window.source.clone(),
                )
            })
            .collect(),
        pd_source: standards.pd_rules.citation.clone(),
        implied_source: procedure.implied_power_factor.source.clone(),
        no_load_methods: no_load_methods(&standards.low_power),
        low_power_citation: standards.low_power.citation.clone(),
        coverage: percent(100.0 * standards.low_power.coverage.probability),
        coverage_source: standards.low_power.coverage.clause.clone(),
        five_minute: FiveMinute {
            minutes: minutes(standards.low_power.five_minute.minutes),
            drift: percent(standards.low_power.five_minute.drift_percent),
            drift_multiple: percent(standards.low_power.five_minute.drift_percent_multiple),
            source: standards.low_power.five_minute.clause.clone(),
        },
        harmonics: harmonics(&standards.harmonics),
        harmonics_citation: standards.harmonics.citation.clone(),
        harmonics_note: standards.harmonics.note.clone(),
        bench: BenchRules::of(standards),
    })
}

fn minutes(minutes: f64) -> String {
    format::duration(60.0 * minutes)
}

fn percent(value: f64) -> String {
    format::with_unit(format::plain(value), "%")
}

/// The ways from a log to a no-load figure, as the table of low power holds them.
fn no_load_methods(rules: &LowPower) -> Vec<Rule> {
    let rule = |name, text: Text, clause: &str, known: &str| Rule {
        name,
        text: text.to_string(),
        reason: None,
        source: format!("{clause}; {known}"),
    };
    let cyclic = &rules.cyclic;
    let sampling = &rules.sampling;
    let mean = &rules.running_mean;
    let average = &rules.average;
    let discarded = format!(
        "{}/{}",
        sampling.discarded_share_numerator, sampling.discarded_share_denominator
    );
    vec![
        rule(
            word("method-cycles"),
            t("method-cycles.text")
                .with("unused", minutes(cyclic.unused_minutes))
                .with("cycles", cyclic.least_cycles_each.to_string())
                .with("least", minutes(cyclic.least_minutes_each)),
            &cyclic.clause,
            &cyclic.known,
        ),
        rule(
            word("method-sample"),
            t("method-sample.text")
                .with("least", minutes(sampling.least_minutes))
                .with("discarded", discarded)
                .with("slope", format::watts(rules.slope.below_w_per_h))
                .with("power", format::rated_watts(rules.slope.up_to_power_w))
                .with("above", percent(rules.slope.above_percent_per_h)),
            &sampling.clause,
            &sampling.known,
        ),
        rule(
            word("method-mean"),
            t("method-mean.text")
                .with("least", minutes(mean.least_minutes))
                .with("band", percent(mean.band_percent)),
            &mean.clause,
            &mean.known,
        ),
        rule(
            word("method-longer-average"),
            t("method-longer-average.text")
                .with("unused", minutes(average.stabilise_minutes))
                .with("least", minutes(average.least_minutes_each))
                .with("most", minutes(average.most_minutes_each)),
            &average.clause,
            &average.known,
        ),
    ]
}

/// What waveforms are computed and screened by, as the table of harmonics holds it.
fn harmonics(limits: &HarmonicLimits) -> Vec<Rule> {
    let window = &limits.window;
    let relief = &limits.partial_odd_harmonic_current;
    let with = |v: f64, unit: &str| format::with_unit(format::plain(v), unit);
    let rule = |name, text: Text, source: String| Rule {
        name,
        text: text.to_string(),
        reason: None,
        source,
    };
    vec![
        rule(
            word("method-windows"),
            t("method-windows.text")
                .with("at50", window.cycles_at_50_hz.to_string())
                .with("at60", window.cycles_at_60_hz.to_string())
                .with("order", window.highest_order.to_string()),
            format!("{}; {}", window.citation, window.confidence),
        ),
        rule(
            word("method-who"),
            t("method-who.text")
                .with("power", format::rated_watts(limits.exemption.rated_power_w))
                .with("voltage", with(limits.scope.least_nominal_voltage_v, "V"))
                .with("current", with(limits.scope.largest_current_a, "A")),
            limits.exemption.confidence.clone(),
        ),
        Rule {
            reason: Some(format!(
                "{}; {}",
                limits.class_assignment.reason, limits.class_assignment.reason_d
            )),
            ..rule(
                word("method-harmonic-class"),
                t("method-harmonic-class.text"),
                limits.class_assignment.confidence.clone(),
            )
        },
        rule(
            word("method-comparison"),
            t("method-comparison.text")
                .with(
                    "smoothed",
                    percent(limits.comparison.smoothed_up_to_percent),
                )
                .with(
                    "share",
                    percent(limits.comparison.floor_percent_of_input_current),
                )
                .with("floor", with(1e3 * limits.comparison.floor_a, "mA")),
            limits.comparison.confidence.clone(),
        ),
        rule(
            word("method-high-orders"),
            t("method-high-orders.text")
                .with("from", relief.orders[0].to_string())
                .with("to", relief.orders[1].to_string())
                .with("share", percent(relief.mean_up_to_percent)),
            relief.confidence.clone(),
        ),
    ]
}

fn weights(formula: &ScoreFormula) -> [f64; 6] {
    [
        formula.active_loss.weight,
        formula.light_load_loss.weight,
        formula.no_load.weight,
        formula.line_current.weight,
        formula.delivery.weight,
        formula.surface.weight,
    ]
}

fn terms(formula: &ScoreFormula, standards: &Standards) -> Vec<Term> {
    let regime = |id: &str| {
        standards
            .regime(id)
            .map_or_else(|| id.to_owned(), |regime| regime.short.clone())
    };
    let current = &formula.line_current;
    let loads: Vec<String> = current
        .load_percents
        .iter()
        .map(|l| format::plain(*l))
        .collect();
    let term = |id, weight: f64, k: f64, measured: Text, reference: String| Term {
        title: term_title(id),
        id,
        weight: format::plain(weight),
        k: format::plain(k),
        measured: measured.to_string(),
        reference,
    };
    let of_rule = |reference: Text, id: &str| reference.with("rule", regime(id)).to_string();
    let light = &formula.light_load_loss;
    vec![
        term(
            "active-loss",
            formula.active_loss.weight,
            formula.active_loss.k,
            t("method-active-loss"),
            of_rule(
                t("method-active-loss.reference"),
                &formula.active_loss.regime,
            ),
        ),
        term(
            "light-load-loss",
            light.weight,
            light.k,
            t("method-light-load-loss"),
            match &light.multiple_uses {
                Some(row) => of_rule(
                    t("method-light-load-loss.multiple").with("row", category_words(row)),
                    &light.regime,
                ),
                None => of_rule(t("method-light-load-loss.reference"), &light.regime),
            },
        ),
        term(
            "no-load",
            formula.no_load.weight,
            formula.no_load.k,
            t("method-no-load-term"),
            of_rule(t("method-no-load-term.reference"), &formula.no_load.regime),
        ),
        term(
            "line-current",
            current.weight,
            current.k,
            t("method-line-current").with("loads", loads.join(", ")),
            t("method-line-current.reference")
                .with("factor", format::plain(current.reference_power_factor))
                .with(
                    "ratio",
                    format::fixed((current.reference_power_factor.powi(-2) - 1.0).sqrt(), 5),
                )
                .to_string(),
        ),
        term(
            "delivery",
            formula.delivery.weight,
            formula.delivery.k,
            t("method-delivery").with("share", percent(formula.delivery.held_above * 100.0)),
            percent(formula.delivery.reference_percent),
        ),
        term(
            "surface",
            formula.surface.weight,
            formula.surface.k,
            t("method-surface"),
            t("method-surface.reference")
                .with(
                    "rise",
                    format::with_unit(format::plain(formula.surface.reference_rise_k), "K"),
                )
                .to_string(),
        ),
    ]
}
