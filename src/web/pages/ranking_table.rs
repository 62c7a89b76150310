//! The leaderboard as a file, with the filters and the order of its page, all pages in one.

use super::{Site, ranking};
use crate::{
    ranking::Row,
    standards::Role,
    web::{
        download::{Cell, Table},
        error::Error,
        extract::{Pairs, Path, Visit},
        urls::{self, Query},
    },
};
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/table.csv", get(csv))
        .route("/table.json", get(json))
        .route("/class/{id}/table.csv", get(class_csv))
        .route("/class/{id}/table.json", get(class_json))
}

/// Addresses of the files with the table of the leaderboard's page at `path`.
pub fn addresses(path: &str, query: &Query) -> (String, String) {
    (
        query.on(&urls::table(path, "csv")),
        query.on(&urls::table(path, "json")),
    )
}

async fn csv(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    file(&visit, &pairs, None, "csv")
}

async fn json(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    file(&visit, &pairs, None, "json")
}

async fn class_csv(visit: Visit, Path(id): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    file(&visit, &pairs, Some(id), "csv")
}

async fn class_json(visit: Visit, Path(id): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    file(&visit, &pairs, Some(id), "json")
}

fn file(
    visit: &Visit,
    pairs: &Pairs,
    class: Option<String>,
    extension: &str,
) -> Result<Response, Error> {
    let site = &visit.site;
    let known = |id: &String| site.method.classes.iter().any(|class| class.id == *id);
    if class.as_ref().is_some_and(|id| !known(id)) {
        return Err(Error::no_page());
    }
    let data = site.public();
    let mut view = ranking::Asked::of(pairs, class, site, &data).view;
    view.page = 1;
    let regimes: Vec<_> = site
        .method
        .standards
        .regimes
        .iter()
        .filter(|r| matches!(r.role, Role::Law | Role::Voluntary) && r.limits_known)
        .collect();
    let mut table = Table::new("Ranking", "ranking", ranking::address(&view)).with(&[
        ("rank_in_class_best", ""),
        ("rank_in_class_worst", ""),
        ("rank_overall_best", ""),
        ("rank_overall_worst", ""),
        ("maker", ""),
        ("model", ""),
        ("sample", ""),
        ("slug", ""),
        ("class", ""),
        ("rated_output_power", "W"),
        ("score", ""),
        ("score_expanded_uncertainty_k2", ""),
        ("score_version", ""),
        ("score_coverage", "%"),
        ("provisional", ""),
        ("run", ""),
        ("average_efficiency", "%"),
        ("average_efficiency_expanded_uncertainty_k2", "%"),
        ("efficiency_at_10_percent_load", "%"),
        ("peak_efficiency", "%"),
        ("no_load_power", "W"),
        ("no_load_power_expanded_uncertainty_k2", "W"),
        ("power_factor_at_full_load", ""),
        ("line_current_thd_at_full_load", "%"),
        ("price", ""),
        ("price_currency", ""),
        ("mass", "g"),
        ("volume", "cm3"),
        ("power_density", "W/cm3"),
        ("hot_spot_rise", "K"),
        ("ports", ""),
        ("usb_c_ports", ""),
        ("usb_a_ports", ""),
        ("ports_at_the_same_time_known_by", ""),
        ("tested_on", ""),
        ("verdicts", ""),
    ]);
    for row in data.standings.all(&view.filter, view.sort, view.descending) {
        let ranks = data.standings.ranks(&row.slug);
        let percent = |fraction: Option<f64>| -> Cell { fraction.map(|f| 100.0 * f).into() };
        let place = |of: fn(&crate::ranking::Ranks) -> usize| -> Cell {
            ranks.as_ref().map(|ranks| of(ranks) as f64).into()
        };
        let verdicts: Vec<String> = regimes
            .iter()
            .filter_map(|regime| Some((regime, outcome(row, &regime.id)?)))
            .map(|(regime, outcome)| format!("{}: {outcome}", regime.id))
            .collect();
        table.rows.push(vec![
            place(|r| r.class.best),
            place(|r| r.class.worst),
            place(|r| r.overall.best),
            place(|r| r.overall.worst),
            row.maker.clone().into(),
            row.model.clone().into(),
            row.sample.clone().into(),
            row.slug.clone().into(),
            row.class.id.clone().into(),
            row.output_power_w.into(),
            row.score.into(),
            row.score_u.map(|u| 2.0 * u).into(),
            f64::from(row.score_version).into(),
            percent(Some(row.coverage)),
            row.provisional.into(),
            row.run.clone().into(),
            percent(row.average_efficiency),
            percent(row.average_efficiency_u.map(|u| 2.0 * u)),
            percent(row.ten_percent_efficiency),
            percent(row.peak_efficiency),
            row.no_load_w.into(),
            row.no_load_u.map(|u| 2.0 * u).into(),
            row.power_factor.into(),
            row.current_thd_percent.into(),
            row.price.into(),
            row.currency.clone().into(),
            row.mass_g.into(),
            row.volume_cm3.into(),
            row.power_density_w_per_cm3.into(),
            row.hot_spot_rise_k.into(),
            f64::from(row.ports).into(),
            f64::from(row.usb_c_ports).into(),
            f64::from(row.usb_a_ports).into(),
            view.filter
                .together(row)
                .map_or(Cell::Unknown, |basis| basis.id().into()),
            row.tested_on.clone().into(),
            verdicts.join("; ").into(),
        ]);
    }
    Ok(table.response(visit, extension))
}

fn outcome(row: &Row, regime: &str) -> Option<&'static str> {
    let (_, outcome) = row.verdicts.iter().find(|(id, _)| id == regime)?;
    Some(outcome.id())
}
