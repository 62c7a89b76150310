//! How units are measured, judged, scored and ranked: everything that a reader needs to do it
//! again, with its sources.

use super::{Site, public, sheet::term_title};
use crate::web::filters;
use crate::{
    standards::{
        HarmonicLimits, LowPower, ScoreFormula, Standards, touch_temperature::TouchMaterial,
    },
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
    score_line_tolerance: String,
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
    /// Name, rule and source of each way from a no-load log to a figure, in order of preference.
    no_load_methods: Vec<(&'static str, String, String)>,
    low_power_citation: String,
    coverage: String,
    coverage_source: String,
    five_minute: String,
    five_minute_source: String,
    harmonics: Vec<(&'static str, String, String)>,
    harmonics_citation: String,
    harmonics_note: String,
    bench: BenchRules,
}

/// What overload, temperatures and other measurements are read and compared by.
struct BenchRules {
    /// How overload steps are read, with its source.
    protection: String,
    protection_source: String,
    /// Name, figure and source of what a limited source is compared with.
    power: Vec<(String, String, String)>,
    /// Contact, and TS1 and TS2 of metal, glass, plastic and wood.
    touch: Vec<(String, [String; 4])>,
    touch_citation: String,
    steady: String,
    ambient: String,
    touch_source: String,
    /// Name, figure and source of further figures.
    others: Vec<(String, String, String)>,
}

impl BenchRules {
    fn of(standards: &Standards) -> BenchRules {
        let with = |v: f64, unit: &str| format::with_unit(format::plain(v), unit);
        let rule = &standards.power_source.protection;
        let touch = &standards.touch_temperature;
        let mut power = Vec::new();
        for table in &standards.power_source.limited_power {
            for row in &table.rows {
                let current = match (row.current_a, row.current_volts) {
                    (Some(a), _) => with(a, "A"),
                    (None, Some(v)) => format!("{} / open-circuit voltage", with(v, "V")),
                    (None, None) => continue,
                };
                power.push((
                    format!(
                        "{}, over {} to {}",
                        table.title,
                        format::plain(row.over_v),
                        with(row.up_to_v, "V")
                    ),
                    format!(
                        "{current}, {} after {}",
                        with(row.power_va, "VA"),
                        with(table.after_s, "s")
                    ),
                    format!("{}; {}", table.citation, table.source),
                ));
            }
        }
        power.extend(standards.power_source.power_classes.iter().map(|class| {
            (
                class.id.clone(),
                format!(
                    "{} after {}",
                    with(class.power_w, "W"),
                    with(class.after_s, "s")
                ),
                format!("{}; {}", class.citation, class.source),
            )
        }));
        BenchRules {
            protection: format!(
                "A step is delivered if the current is within {} of what was asked for and the \
                 voltage in the port’s window (without one: at {} of nominal or more). A limited \
                 current that stays above {} of the largest is called constant current, else \
                 foldback.",
                with(100.0 * (1.0 - rule.current_share), "%"),
                with(100.0 * rule.good_voltage_share, "%"),
                with(100.0 * rule.held_share, "%"),
            ),
            protection_source: rule.source.clone(),
            power,
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
            steady: format!(
                "less than {} in {}",
                with(touch.steady_k, "K"),
                with(touch.steady_min, "min")
            ),
            ambient: format!(
                "{} to {}",
                format::plain(touch.ambient_from_c),
                with(touch.ambient_to_c, "°C")
            ),
            touch_source: touch.reference_source.clone(),
            others: standards
                .other_figures
                .figures
                .iter()
                .map(|figure| {
                    (
                        figure.name.clone(),
                        with(figure.limit, &figure.unit),
                        figure.source.clone(),
                    )
                })
                .collect(),
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
        .chrome("Method")
        .describe(
            "How adapters are measured, judged with guard bands, scored and ranked here: formulas, \
             references, uncertainty, sources and limits of the method.",
        )
        .canonical(urls::METHOD)
        .image(urls::preview(&urls::Query::new().with("about", "method")))
        .here(Here::Method);
    public(&MethodPage {
        chrome,
        version: formula.version,
        engine: crate::evaluate::ENGINE,
        digest: method.digest(),
        score_line: format::line(formula.line.voltage_v, formula.line.frequency_hz),
        score_line_tolerance: format!(
            "{} and {}",
            percent(formula.line.voltage_tolerance_percent),
            format::with_unit(format::plain(formula.line.frequency_tolerance_hz), "Hz")
        ),
        provisional_below: percent(formula.provisional_below * 100.0),
        total_weight: format::plain(weights(formula).iter().sum()),
        terms,
        classes: method
            .classes
            .iter()
            .map(|class| (class.label.clone(), urls::class(&class.id)))
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
        five_minute: format!(
            "over the last {} the input power may drift by {} of its largest value ({} for a unit \
             that delivers several voltages at once); if it keeps to that, the value at the end \
             counts, else the average",
            minutes(standards.low_power.five_minute.minutes),
            percent(standards.low_power.five_minute.drift_percent),
            percent(standards.low_power.five_minute.drift_percent_multiple),
        ),
        five_minute_source: standards.low_power.five_minute.clause.clone(),
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
fn no_load_methods(rules: &LowPower) -> Vec<(&'static str, String, String)> {
    let slope = format!(
        "below {}/h up to {}, {} of the power an hour above",
        format::watts(rules.slope.below_w_per_h),
        format::rated_watts(rules.slope.up_to_power_w),
        percent(rules.slope.above_percent_per_h),
    );
    let source = |clause: &str, known: &str| format!("{clause}; {known}");
    vec![
        (
            "Whole cycles",
            format!(
                "where the power repeats itself: after {}, two comparison periods of at least {} \
                 whole cycles and {} each; their means may drift by the slope allowed between \
                 their middles, and the figure is the mean of both",
                minutes(rules.cyclic.unused_minutes),
                rules.cyclic.least_cycles_each,
                minutes(rules.cyclic.least_minutes_each),
            ),
            source(&rules.cyclic.clause, &rules.cyclic.known),
        ),
        (
            "Sampling",
            format!(
                "at least {} recorded, the first {}/{} of it discarded; the least-squares slope \
                 over the rest must be {slope}; the figure is the mean of the rest",
                minutes(rules.sampling.least_minutes),
                rules.sampling.discarded_share_numerator,
                rules.sampling.discarded_share_denominator,
            ),
            source(&rules.sampling.clause, &rules.sampling.known),
        ),
        (
            "Running mean",
            format!(
                "a power that varies without a pattern: at least {} recorded, and over the last \
                 two thirds the running mean stays within ±{}",
                minutes(rules.running_mean.least_minutes),
                percent(rules.running_mean.band_percent),
            ),
            source(&rules.running_mean.clause, &rules.running_mean.known),
        ),
        (
            "Average",
            format!(
                "after {}, two comparison periods of {} to {} each, with the slope allowed between \
                 their middles; the figure is the mean of both",
                minutes(rules.average.stabilise_minutes),
                minutes(rules.average.least_minutes_each),
                minutes(rules.average.most_minutes_each),
            ),
            source(&rules.average.clause, &rules.average.known),
        ),
    ]
}

/// What waveforms are computed and screened by, as the table of harmonics holds it.
fn harmonics(limits: &HarmonicLimits) -> Vec<(&'static str, String, String)> {
    let window = &limits.window;
    let relief = &limits.partial_odd_harmonic_current;
    vec![
        (
            "Windows",
            format!(
                "rectangular, of {} cycles at 50 Hz and {} at 60 Hz, brought to whole cycles by \
                 resampling where needed; orders up to {}",
                window.cycles_at_50_hz, window.cycles_at_60_hz, window.highest_order
            ),
            format!("{}; {}", window.citation, window.confidence),
        ),
        (
            "Who has limits",
            format!(
                "equipment above {} of rated input power, on supplies of {} and more, up to {}",
                format::rated_watts(limits.exemption.rated_power_w),
                format::with_unit(format::plain(limits.scope.least_nominal_voltage_v), "V"),
                format::with_unit(format::plain(limits.scope.largest_current_a), "A")
            ),
            limits.exemption.confidence.clone(),
        ),
        (
            "Class",
            format!(
                "Class A unless the tester chooses Class D with a reason: {}; {}",
                limits.class_assignment.reason, limits.class_assignment.reason_d
            ),
            limits.class_assignment.confidence.clone(),
        ),
        (
            "Comparison",
            format!(
                "the mean of each order at most its limit, every smoothed value at most {} of it; \
                 what is below {} of the input current or below {} is not looked at",
                percent(limits.comparison.smoothed_up_to_percent),
                percent(limits.comparison.floor_percent_of_input_current),
                format::with_unit(format::plain(1e3 * limits.comparison.floor_a), "mA")
            ),
            limits.comparison.confidence.clone(),
        ),
        (
            "High odd orders",
            format!(
                "orders {} to {} may reach {} of their limits if together they stay below what \
                 their limits make together",
                relief.orders[0],
                relief.orders[1],
                percent(relief.mean_up_to_percent)
            ),
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
    let term = |id, weight: f64, k: f64, measured: String, reference: String| Term {
        title: term_title(id),
        id,
        weight: format::plain(weight),
        k: format::plain(k),
        measured,
        reference,
    };
    vec![
        term(
            "active-loss",
            formula.active_loss.weight,
            formula.active_loss.k,
            "1 − average active efficiency of the run".into(),
            format!(
                "1 − minimum average efficiency of {}, for the run’s category and rated power",
                regime(&formula.active_loss.regime)
            ),
        ),
        term(
            "light-load-loss",
            formula.light_load_loss.weight,
            formula.light_load_loss.k,
            "1 − efficiency at 10 % load".into(),
            format!(
                "1 − minimum efficiency at 10 % load of {}, for the run’s category and rated power{}",
                regime(&formula.light_load_loss.regime),
                match &formula.light_load_loss.multiple_uses {
                    Some(row) => format!(
                        " (multiple-voltage runs use its row “{}”)",
                        super::sheet::category_words(row)
                    ),
                    None => String::new(),
                }
            ),
        ),
        term(
            "no-load",
            formula.no_load.weight,
            formula.no_load.k,
            "no-load power of the run".into(),
            format!(
                "no-load limit of {} for the unit, as its verdict uses it",
                regime(&formula.no_load.regime)
            ),
        ),
        term(
            "line-current",
            current.weight,
            current.k,
            format!(
                "mean over the points at {} % of N/P = √(1/PF² − 1), non-active over active power",
                loads.join(", ")
            ),
            format!(
                "N/P at a power factor of {}: {}",
                format::plain(current.reference_power_factor),
                format::fixed((current.reference_power_factor.powi(-2) - 1.0).sqrt(), 5)
            ),
        ),
        term(
            "delivery",
            formula.delivery.weight,
            formula.delivery.k,
            format!(
                "largest deviation of an output voltage from rated; no points if full load was \
                 not held ({} of rated power)",
                format::with_unit(format::plain(formula.delivery.held_above * 100.0), "%")
            ),
            format::with_unit(format::plain(formula.delivery.reference_percent), "%"),
        ),
        term(
            "surface",
            formula.surface.weight,
            formula.surface.k,
            "rise of the hot spot over ambient at the highest load recorded".into(),
            format!(
                "{}: 77 °C, the touch limit for plastic at a short contact (IEC 62368-1 Table 38, \
                 as quoted by secondary sources), less 25 °C",
                format::with_unit(format::plain(formula.surface.reference_rise_k), "K")
            ),
        ),
    ]
}
