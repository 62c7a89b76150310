//! The rules that units are judged by: all of them, and each with its limits, formulas, sources
//! and what is uncertain about them.

use super::{Site, public, sheet::category_words};
use crate::web::filters;
use crate::{
    evaluate::evaluation::Outcome,
    standards::{LimitCurve, Regime, Role, Row},
    text::{t, word},
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
    /// From when, and to when where that is known.
    effective: String,
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
                effective: effective(r),
                line: lines(r),
                counts: counts(&data, r),
                limits_known: r.limits_known,
            })
            .collect(),
    };
    let groups = vec![
        group(word("rules-in-force"), &[Role::Law]),
        group(word("rules-voluntary"), &[Role::Voluntary]),
        group(word("rules-pending"), &[Role::Pending]),
        group(word("rules-earlier"), &[Role::Earlier]),
        group(word("rules-marking"), &[Role::Marking]),
    ];
    let groups = groups
        .into_iter()
        .filter(|g| !g.regimes.is_empty())
        .collect();
    let chrome = visit
        .chrome(word("rules"))
        .describe(word("rules.description"))
        .canonical(urls::page(urls::REGIMES))
        .image(urls::preview(&Query::new().with("about", "rules")))
        .here(Here::Regimes);
    public(&RegimesPage { chrome, groups })
}

fn effective(regime: &Regime) -> String {
    let from = format::date(&regime.effective_from);
    match &regime.effective_to {
        Some(to) => t("rules-effective.until")
            .with("from", from)
            .with("to", format::date(to))
            .to_string(),
        None => from,
    }
}

fn lines(regime: &Regime) -> String {
    let first = format::line(regime.line_voltage_v, regime.line_frequency_hz);
    match regime.alt_line {
        Some([volts, hertz]) => t("rules-judged-on.both")
            .with("first", first)
            .with("second", format::line(volts, hertz))
            .to_string(),
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
    facts: Vec<Fact>,
    /// Our category word and the rule's own.
    categories: Vec<(&'static str, Option<String>)>,
    tables: Vec<Table>,
    conflicts: Vec<String>,
    known_facts: Vec<String>,
    counts: Vec<Count>,
    limits_known: bool,
    ten_percent: bool,
}

struct Fact {
    label: &'static str,
    said: Said,
}

/// What is said of a rule: in our words, which have a language, and in those of the table of
/// rules, which are English.
enum Said {
    Ours(String),
    Theirs(String),
    /// Theirs after ours.
    Both {
        ours: String,
        theirs: String,
    },
    /// Ours with where it is from, in brackets.
    Sourced {
        ours: String,
        source: String,
    },
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
    alternates: Vec<Alternate>,
}

/// What other sources print for the same row.
struct Alternate {
    printed: String,
    source: String,
    /// Why it is not used.
    why: String,
}

async fn one(visit: Visit, Path(id): Path<String>) -> Result<Response, Error> {
    let data = visit.site.public();
    let regime = visit.site.method.standards.regime(&id).ok_or_else(|| {
        let id: String = id.chars().take(60).collect();
        Error::NotFound(t("rule-none").with("name", id).to_string())
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
        .describe(
            t("rule-description")
                .with("title", &regime.title)
                .to_string(),
        )
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

fn facts(regime: &Regime) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut add = |label, said: Option<Said>| {
        if let Some(said) = said {
            facts.push(Fact { label, said });
        }
    };
    let theirs = |text: &Option<String>| text.clone().map(Said::Theirs);
    add(
        word("rule-status"),
        Some(Said::Theirs(regime.status.clone())),
    );
    let ours = format::date(&regime.effective_from);
    add(
        word("rule-from"),
        Some(match regime.effective_from_confidence.clone() {
            Some(source) => Said::Sourced { ours, source },
            None => Said::Ours(ours),
        }),
    );
    let to = regime.effective_to.as_deref();
    add(word("rule-to"), to.map(|to| Said::Ours(format::date(to))));
    add(word("rules-judged-on"), Some(Said::Ours(lines(regime))));
    add(
        word("rule-mark"),
        regime
            .marking
            .as_ref()
            .map(|mark| Said::Ours(t("rule-mark.text").with("mark", mark).to_string())),
    );
    add(
        word("rule-covers"),
        regime.scope_w.map(|[low, high]| {
            let text = t("rule-covers.text")
                .with("low", format::rated_watts(low))
                .with("high", format::rated_watts(high));
            Said::Ours(text.to_string())
        }),
    );
    let reporting = theirs(&regime.ten_percent_reporting);
    add(
        word("rule-ten-percent"),
        match regime.ten_percent_is_requirement {
            true => Some(Said::Ours(word("rule-ten-percent.required").to_owned())),
            false => reporting.or_else(|| {
                let nothing = word("rule-ten-percent.nothing");
                Some(Said::Ours(nothing.to_owned()))
            }),
        },
    );
    add(
        word("rule-ten-percent.note"),
        theirs(&regime.ten_percent_note),
    );
    add(
        word("rule-adaptive"),
        regime.adaptive_no_load_override_w.map(|watts| {
            let source = regime.adaptive_no_load_override_source.clone();
            Said::Sourced {
                ours: format::watts(watts),
                source: source.unwrap_or_default(),
            }
        }),
    );
    add(
        word("rule-mobile"),
        regime
            .mobile_handheld_no_load
            .as_ref()
            .map(|rule| Said::Both {
                ours: t("rule-mobile.text")
                    .with("power", format::watts(rule.no_load_w))
                    .to_string(),
                theirs: rule.applies.clone(),
            }),
    );
    add(
        word("rule-power-factor"),
        regime.power_factor.as_ref().map(|rule| Said::Sourced {
            ours: t("rule-power-factor.text")
                .with("factor", format::fixed(rule.min_true_power_factor, 2))
                .with(
                    "load",
                    format::with_unit(format::plain(rule.at_load_percent), "%"),
                )
                .with(
                    "line",
                    format::line(rule.line_voltage_v, rule.line_frequency_hz),
                )
                .with(
                    "power",
                    format::rated_watts(rule.applies_if_input_power_w_at_least),
                )
                .to_string(),
            source: rule.confidence.clone(),
        }),
    );
    add(word("rule-edge"), theirs(&regime.edge_note));
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
            .filter_map(|other| {
                let average = other.avg_efficiency.as_ref().map(curve);
                let ten = other.ten_percent_efficiency.as_ref().map(curve);
                let printed = match (average, ten) {
                    (Some(average), Some(ten)) => t("rule-printed-both")
                        .with("average", average)
                        .with("ten", ten),
                    (Some(average), None) => t("rule-printed-average").with("average", average),
                    (None, Some(ten)) => t("rule-printed-ten-percent").with("ten", ten),
                    (None, None) => return None,
                };
                Some(Alternate {
                    printed: printed.to_string(),
                    source: other.source.clone(),
                    why: other.why_not_default.trim_end_matches('.').to_owned(),
                })
            })
            .collect(),
    }
}

/// `over 1 W up to 49 W`, with the edges as the rule draws them.
fn band(row: &Row) -> String {
    let low = match (row.p_min, row.p_min_inclusive) {
        (0.0, false) => None,
        (watts, inclusive) => Some((format::rated_watts(watts), inclusive)),
    };
    let high = row
        .p_max
        .map(|watts| (format::rated_watts(watts), row.p_max_inclusive));
    let text = match (low, high) {
        (Some((low, from)), Some((high, to))) => {
            let text = match (from, to) {
                (true, true) => t("rule-from-to"),
                (true, false) => t("rule-from-to.below"),
                (false, true) => t("rule-over-to"),
                (false, false) => t("rule-over-to.below"),
            };
            text.with("low", low).with("high", high)
        }
        (Some((low, true)), None) => t("rule-at-least").with("low", low),
        (Some((low, false)), None) => t("rule-over").with("low", low),
        (None, Some((high, true))) => t("rule-up-to").with("high", high),
        (None, Some((high, false))) => t("rule-below").with("high", high),
        (None, None) => t("rule-any"),
    };
    text.to_string()
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
