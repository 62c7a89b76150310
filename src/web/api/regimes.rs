//! Rules, limits and wattage classes as data.

use super::problem::Problem;
use super::{json, kept};
use crate::standards::{LimitCurve, Regime, Role};
use crate::web::{Site, urls};
use axum::extract::{Path, State};
use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

/// One rule in one edition.
#[derive(Debug, Serialize, ToSchema)]
struct RegimeSummary {
    /// As verdicts name it.
    id: String,
    short: String,
    title: String,
    citation: String,
    /// `law`, `voluntary`, `pending`, `earlier` or `marking`.
    role: &'static str,
    status: String,
    /// ISO 8601 date.
    effective_from: String,
    effective_to: Option<String>,
    line_voltage_v: f64,
    line_frequency_hz: f64,
    /// False where the limits are not on file: verdicts are `not-assessed`.
    limits_known: bool,
    /// Address of the whole regime in this API.
    url: String,
    /// Address of its page.
    page: String,
}

/// All regimes, in display order.
#[derive(Debug, Serialize, ToSchema)]
struct RegimeList {
    regimes: Vec<RegimeSummary>,
}

/// One rule with its limits.
#[derive(Debug, Serialize, ToSchema)]
struct RegimeDetail {
    regime: RegimeSummary,
    /// Output power in watts, lowest and highest, that the regime covers.
    scope_w: Option<[f64; 2]>,
    /// Our category word to this regime's own; a word that is missing is out of scope.
    categories: std::collections::BTreeMap<String, String>,
    limits: Vec<LimitRow>,
    known_facts: Vec<String>,
    /// Where sources of this rule disagree.
    conflicts: Vec<String>,
}

/// Limits of one category in one band of output power.
#[derive(Debug, Serialize, ToSchema)]
struct LimitRow {
    /// The regime's own name.
    category: String,
    from_w: f64,
    from_inclusive: bool,
    /// Null: no upper end.
    to_w: Option<f64>,
    to_inclusive: bool,
    average_efficiency: Curve,
    no_load_w: Option<f64>,
    ten_percent_efficiency: Option<Curve>,
    /// How the figures are known.
    confidence: String,
    note: Option<String>,
}

/// Smallest efficiency, a fraction: a ln(P) + b P + c, with P in watts of output power.
#[derive(Debug, Serialize, ToSchema)]
struct Curve {
    a: f64,
    b: f64,
    c: f64,
}

/// Wattage classes, from small to large.
#[derive(Debug, Serialize, ToSchema)]
struct ClassList {
    classes: Vec<WattageClass>,
}

/// A wattage class, by nameplate output power.
#[derive(Debug, Serialize, ToSchema)]
struct WattageClass {
    id: String,
    label: String,
    /// Units of the class have more than this.
    over_w: f64,
    /// And at most this; null: no upper end.
    up_to_w: Option<f64>,
    /// How many units of the class are published.
    units: usize,
}

/// List the rules that units are held against
#[utoipa::path(
    get,
    path = "/regimes",
    tag = "method",
    responses((status = OK, description = "All regimes", body = RegimeList)),
)]
pub async fn regimes(State(site): State<Site>) -> Response {
    let regimes = site.method.standards.regimes.iter().map(summary).collect();
    kept(json(RegimeList { regimes }))
}

/// One rule with its limits
#[utoipa::path(
    get,
    path = "/regimes/{id}",
    tag = "method",
    params(("id" = String, Path, description = "As verdicts name it")),
    responses(
        (status = OK, description = "The regime", body = RegimeDetail),
        (status = 404, description = "No such regime", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn regime(State(site): State<Site>, Path(id): Path<String>) -> Result<Response, Problem> {
    let regime = site
        .method
        .standards
        .regime(&id)
        .ok_or_else(|| Problem::not_found(format!("there is no regime {id:?}")))?;
    let curve = |curve: &LimitCurve| Curve {
        a: curve.a,
        b: curve.b,
        c: curve.c,
    };
    Ok(json(RegimeDetail {
        regime: summary(regime),
        scope_w: regime.scope_w,
        categories: regime.ac_dc_category_map.clone(),
        limits: regime
            .rows
            .iter()
            .map(|row| LimitRow {
                category: row.category.clone(),
                from_w: row.p_min,
                from_inclusive: row.p_min_inclusive,
                to_w: row.p_max,
                to_inclusive: row.p_max_inclusive,
                average_efficiency: curve(&row.avg_efficiency),
                no_load_w: row.no_load_w,
                ten_percent_efficiency: row.ten_percent_efficiency.as_ref().map(curve),
                confidence: row.confidence.clone(),
                note: row.note.clone(),
            })
            .collect(),
        known_facts: regime.known_facts.clone(),
        conflicts: regime.conflicts.clone(),
    }))
}

/// List the wattage classes
#[utoipa::path(
    get,
    path = "/classes",
    tag = "method",
    responses((status = OK, description = "All classes", body = ClassList)),
)]
pub async fn classes(State(site): State<Site>) -> Response {
    let public = site.public();
    let counts = public.standings.class_counts();
    let classes = site
        .method
        .classes
        .iter()
        .map(|class| WattageClass {
            id: class.id.clone(),
            label: class.label.clone(),
            over_w: class.over_w,
            up_to_w: class.up_to_w,
            units: counts.get(class.id.as_str()).copied().unwrap_or(0),
        })
        .collect();
    kept(json(ClassList { classes }))
}

fn summary(regime: &Regime) -> RegimeSummary {
    RegimeSummary {
        id: regime.id.clone(),
        short: regime.short.clone(),
        title: regime.title.clone(),
        citation: regime.citation.clone(),
        role: match regime.role {
            Role::Law => "law",
            Role::Voluntary => "voluntary",
            Role::Pending => "pending",
            Role::Earlier => "earlier",
            Role::Marking => "marking",
        },
        status: regime.status.clone(),
        effective_from: regime.effective_from.clone(),
        effective_to: regime.effective_to.clone(),
        line_voltage_v: regime.line_voltage_v,
        line_frequency_hz: regime.line_frequency_hz,
        limits_known: regime.limits_known,
        url: format!("{}/regimes/{}", super::PREFIX, urls::segment(&regime.id)),
        page: urls::regime(&regime.id),
    }
}
