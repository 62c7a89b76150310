//! The rules that units are judged by: all of them, and each with its limits, formulas, sources
//! and what is uncertain about them.

use super::{Site, public, sheet::category_words};
use crate::web::filters;
use crate::{
    evaluate::evaluation::Outcome,
    standards::{LimitCurve, Regime, Role, Row},
    web::{
        chrome::{Chrome, Here},
        error::Error,
        extract::{Path, Visit},
        format,
        state::Public,
        urls::{self, Query},
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/regimes", get(all))
        .route("/regime/{id}", get(one))
}

#[derive(Template)]
#[template(path = "pages/regimes.html")]
struct RegimesPage {
    chrome: Chrome,
    groups: Vec<Group>,
}

struct Group {
    heading: &'static str,
    regimes: Vec<Entry>,
}

struct Entry {
    short: String,
    url: String,
    title: String,
    from: String,
    to: Option<String>,
    line: String,
    counts: Vec<Count>,
    limits_known: bool,
}

/// How many units have this result, with the link to them.
struct Count {
    outcome: &'static str,
    sign: &'static str,
    word: &'static str,
    units: usize,
    url: String,
}

async fn all(visit: Visit) -> Result<Response, Error> {
    let data = visit.site.public();
    let regimes = &visit.site.method.standards.regimes;
    let group = |heading, roles: &[Role]| Group {
        heading,
        regimes: regimes
            .iter()
            .filter(|r| roles.contains(&r.role))
            .map(|r| Entry {
                short: r.short.clone(),
                url: urls::regime(&r.id),
                title: r.title.clone(),
                from: format::date(&r.effective_from),
                to: r.effective_to.as_deref().map(format::date),
                line: lines(r),
                counts: counts(&data, r),
                limits_known: r.limits_known,
            })
            .collect(),
    };
    let groups = vec![
        group("In force", &[Role::Law]),
        group("Voluntary", &[Role::Voluntary]),
        group("Adopted, not yet in force", &[Role::Pending]),
        group("Earlier rules", &[Role::Earlier]),
        group("Marking levels", &[Role::Marking]),
    ];
    let groups = groups
        .into_iter()
        .filter(|g| !g.regimes.is_empty())
        .collect();
    let chrome = visit
        .chrome("Rules")
        .describe(
            "The energy rules that units are judged by, with their limits, dates and sources.",
        )
        .canonical(urls::REGIMES)
        .image(urls::preview(&Query::new().with("about", "rules")))
        .here(Here::Regimes);
    public(&RegimesPage { chrome, groups })
}

fn lines(regime: &Regime) -> String {
    let first = format::line(regime.line_voltage_v, regime.line_frequency_hz);
    match regime.alt_line {
        Some([volts, hertz]) => format!("{first}, and {}", format::line(volts, hertz)),
        None => first,
    }
}

fn counts(data: &Public, regime: &Regime) -> Vec<Count> {
    Outcome::ALL
        .into_iter()
        .filter_map(|outcome| {
            let units = data
                .standings
                .rows()
                .iter()
                .filter(|row| {
                    row.verdicts
                        .iter()
                        .any(|(id, result)| *id == regime.id && *result == outcome)
                })
                .count();
            (units > 0).then(|| Count {
                outcome: outcome.id(),
                sign: format::outcome_sign(outcome),
                word: format::outcome(outcome),
                units,
                url: Query::new()
                    .with("regime", &regime.id)
                    .with("verdict", outcome.id())
                    .on(&urls::page(urls::HOME)),
            })
        })
        .collect()
}

#[derive(Template)]
#[template(path = "pages/regime.html")]
struct RegimePage {
    chrome: Chrome,
    short: String,
    title: String,
    citation: String,
    facts: Vec<(&'static str, String)>,
    /// Our category word and the rule's own.
    categories: Vec<(&'static str, Option<String>)>,
    tables: Vec<Table>,
    conflicts: Vec<String>,
    known_facts: Vec<String>,
    counts: Vec<Count>,
    limits_known: bool,
    ten_percent: bool,
}

/// The limits of one of the rule's own categories.
struct Table {
    category: String,
    rows: Vec<LimitRow>,
}

struct LimitRow {
    band: String,
    average: String,
    ten_percent: Option<String>,
    no_load: Option<String>,
    confidence: String,
    note: Option<String>,
    alternates: Vec<String>,
}

async fn one(visit: Visit, Path(id): Path<String>) -> Result<Response, Error> {
    let data = visit.site.public();
    let regime = visit.site.method.standards.regime(&id).ok_or_else(|| {
        let id: String = id.chars().take(60).collect();
        Error::NotFound(format!("There is no rule called “{id}” here."))
    })?;
    let mut tables: Vec<Table> = Vec::new();
    for row in &regime.rows {
        let category = category_words(&row.category);
        let view = limit_row(row);
        match tables.iter_mut().find(|t| t.category == category) {
            Some(table) => table.rows.push(view),
            None => tables.push(Table {
                category,
                rows: vec![view],
            }),
        }
    }
    let chrome = visit
        .chrome(regime.short.clone())
        .describe(format!(
            "{}: limits, formulas, dates and sources, as used here.",
            regime.title
        ))
        .canonical(urls::regime(&regime.id))
        .image(urls::preview(&Query::new().with("regime", &regime.id)))
        .here(Here::Regimes);
    public(&RegimePage {
        chrome,
        short: regime.short.clone(),
        title: regime.title.clone(),
        citation: regime.citation.clone(),
        facts: facts(regime),
        categories: crate::bench::record::Category::ALL
            .into_iter()
            .map(|ours| {
                (
                    format::category(ours),
                    regime.category(ours).map(category_words),
                )
            })
            .collect(),
        tables,
        conflicts: regime.conflicts.clone(),
        known_facts: regime.known_facts.clone(),
        counts: counts(&data, regime),
        limits_known: regime.limits_known,
        ten_percent: regime
            .rows
            .iter()
            .any(|row| row.ten_percent_efficiency.is_some()),
    })
}

fn facts(regime: &Regime) -> Vec<(&'static str, String)> {
    let from = match &regime.effective_from_confidence {
        Some(how) => format!("{} ({how})", format::date(&regime.effective_from)),
        None => format::date(&regime.effective_from),
    };
    let mut facts = vec![("Status", regime.status.clone()), ("Effective from", from)];
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push((label, text));
        }
    };
    add(
        "Effective to",
        regime.effective_to.as_deref().map(format::date),
    );
    add("Judged on", Some(lines(regime)));
    add(
        "Mark it allows",
        regime.marking.as_ref().map(|m| format!("level {m}")),
    );
    add(
        "Covers",
        regime.scope_w.map(|[low, high]| {
            format!(
                "{} to {} of output power",
                format::rated_watts(low),
                format::rated_watts(high)
            )
        }),
    );
    add(
        "At 10 % load",
        Some(
            match (
                regime.ten_percent_is_requirement,
                &regime.ten_percent_reporting,
            ) {
                (true, _) => "a minimum is required".to_owned(),
                (false, Some(reporting)) => reporting.clone(),
                (false, None) => "nothing is required".to_owned(),
            },
        ),
    );
    add("About 10 % load", regime.ten_percent_note.clone());
    add(
        "No-load of adaptive units",
        regime.adaptive_no_load_override_w.map(|watts| {
            let source = regime
                .adaptive_no_load_override_source
                .as_deref()
                .unwrap_or("");
            format!("{} ({source})", format::watts(watts))
        }),
    );
    add(
        "Small mobile products",
        regime.mobile_handheld_no_load.as_ref().map(|rule| {
            format!(
                "no-load at most {}: {}",
                format::watts(rule.no_load_w),
                rule.applies
            )
        }),
    );
    add(
        "Power factor",
        regime.power_factor.as_ref().map(|rule| {
            format!(
                "at least {} at {} load on {}, where the input power is at least {} ({})",
                format::fixed(rule.min_true_power_factor, 2),
                format::with_unit(format::plain(rule.at_load_percent), "%"),
                format::line(rule.line_voltage_v, rule.line_frequency_hz),
                format::rated_watts(rule.applies_if_input_power_w_at_least),
                rule.confidence
            )
        }),
    );
    add("At the edge", regime.edge_note.clone());
    facts
}

fn limit_row(row: &Row) -> LimitRow {
    LimitRow {
        band: band(row),
        average: curve(&row.avg_efficiency),
        ten_percent: row.ten_percent_efficiency.as_ref().map(curve),
        no_load: row.no_load_w.map(format::watts),
        confidence: row.confidence.clone(),
        note: row.note.clone(),
        alternates: row
            .alternates
            .iter()
            .map(|other| {
                let mut parts = Vec::new();
                if let Some(c) = &other.avg_efficiency {
                    parts.push(format!("average {}", curve(c)));
                }
                if let Some(c) = &other.ten_percent_efficiency {
                    parts.push(format!("10 % load {}", curve(c)));
                }
                format!(
                    "Also printed: {} ({}). Not used: {}.",
                    parts.join(", "),
                    other.source,
                    other.why_not_default.trim_end_matches('.')
                )
            })
            .collect(),
    }
}

/// `over 1 W up to 49 W`, with the edges as the rule draws them.
fn band(row: &Row) -> String {
    let low = match (row.p_min, row.p_min_inclusive) {
        (0.0, false) => None,
        (watts, true) => Some(format!("from {}", format::rated_watts(watts))),
        (watts, false) => Some(format!("over {}", format::rated_watts(watts))),
    };
    let high = row.p_max.map(|watts| match row.p_max_inclusive {
        true => format!("up to {}", format::rated_watts(watts)),
        false => format!("below {}", format::rated_watts(watts)),
    });
    match (low, high) {
        (Some(low), Some(high)) => format!("{low} {high}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => "any power".to_owned(),
    }
}

/// `0.071 ln(P) − 0.0014 P + 0.67` as a fraction, or a percentage where it doesn't depend on P.
fn curve(curve: &LimitCurve) -> String {
    if curve.a == 0.0 && curve.b == 0.0 {
        return format::percent(curve.c);
    }
    let mut text = String::new();
    for (factor, name) in [(curve.a, " ln(P)"), (curve.b, " P"), (curve.c, "")] {
        if factor == 0.0 {
            continue;
        }
        let size = format::plain(factor.abs());
        let sign = match (text.is_empty(), factor < 0.0) {
            (true, false) => "",
            (true, true) => "\u{2212}",
            (false, false) => " + ",
            (false, true) => " \u{2212} ",
        };
        text.push_str(&format!("{sign}{size}{name}"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_reads_as_its_formula() {
        let text = |a, b, c| curve(&LimitCurve { a, b, c }).replace('\u{202f}', " ");
        assert_eq!(text(0.071, -0.0014, 0.67), "0.071 ln(P) − 0.0014 P + 0.67");
        assert_eq!(text(0.0, 0.5, 0.16), "0.5 P + 0.16");
        assert_eq!(text(0.0, 0.0, 0.88), "88.00 %");
    }
}
