//! `/data/units.json`: everything that filters, orders, search and comparison need where the site
//! is files and no program answers. Texts are those of the ranking; `static/as_files.js` reads it.

use super::{
    Site, columns, document,
    ranking::{self, Mark},
};
use crate::{
    bench::record::folded,
    ranking::{Filter, Row, SortKey, VerdictFilter, standings, together, view::USUAL_PER_PAGE},
    web::{
        error::Error,
        extract::Visit,
        format::{self, PlusMinus},
        urls,
    },
};
use axum::{Router, response::Response, routing::get};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

pub fn routes() -> Router<Site> {
    Router::new().route(urls::SITE_DATA, get(units))
}

const FORMAT: &str = "brickbook-site-data/1";

async fn units(visit: Visit) -> Result<Response, Error> {
    let site = &visit.site;
    // A site that is served answers each question itself.
    if !site.config.as_files {
        return Err(Error::no_page());
    }
    let data = site.public();
    let standings = &data.standings;
    let main = ranking::main_regimes(site);
    let mut marks: Vec<Value> = Vec::new();
    // In the order of their names, which decides between equals.
    let units: Vec<Value> = standings
        .all(&Filter::default(), SortKey::Name, false)
        .into_iter()
        .map(|row| {
            let mut own_marks = Vec::new();
            for (regime, outcome) in &row.verdicts {
                if main.contains(&regime.as_str()) {
                    let mark = Mark::new(ranking::short_name(site, regime), *outcome);
                    let mark = json!({
                        "outcome": mark.outcome,
                        "sign": mark.sign,
                        "word": mark.word,
                        "label": mark.label,
                        "regime": mark.regime,
                    });
                    let place = marks.iter().position(|known| *known == mark);
                    own_marks.push(place.unwrap_or_else(|| {
                        marks.push(mark);
                        marks.len() - 1
                    }));
                }
            }
            let rank = standings.ranks(&row.slug).map(|ranks| {
                json!({"class": ranks.class.to_string(), "overall": ranks.overall.to_string()})
            });
            unit(row, rank, own_marks)
        })
        .collect();
    let verdicts: BTreeMap<&str, Vec<&str>> = ranking::VERDICT_FILTERS
        .iter()
        .map(|(wanted, _)| (wanted.id(), outcomes(*wanted)))
        .collect();
    let file = json!({
        "format": FORMAT,
        "per_page": USUAL_PER_PAGE,
        "rounding_w": together::ROUNDING_W,
        "sorts": SortKey::ALL.map(|key| json!({"id": key.id(), "descending_first": key.descending_first()})),
        "columns": SortKey::COLUMNS.map(|key| {
            let heading = columns::heading(key);
            json!({
                "id": key.id(),
                "heading": heading.label,
                "title": heading.title,
                "label": columns::card_label(key),
                "numeric": heading.numeric,
            })
        }),
        "usual": SortKey::USUAL_COLUMNS.map(SortKey::id),
        "classes": site.method.classes.iter()
            .map(|class| json!({"id": class.id, "label": class.label}))
            .collect::<Vec<_>>(),
        "verdicts": verdicts,
        "marks": marks,
        "units": units,
    });
    Ok(document("application/json", file.to_string()))
}

/// Ids of the outcomes that a filter lets pass.
fn outcomes(wanted: VerdictFilter) -> Vec<&'static str> {
    crate::evaluate::evaluation::Outcome::ALL
        .into_iter()
        .filter(|outcome| wanted.holds(*outcome))
        .map(|outcome| outcome.id())
        .collect()
}

fn unit(row: &Row, rank: Option<Value>, marks: Vec<usize>) -> Value {
    let mut cells = Map::new();
    for key in SortKey::COLUMNS {
        if let Some(text) = columns::cell(row, key, None) {
            cells.insert(key.id().to_owned(), text.into());
        }
    }
    let mut values = Map::new();
    for key in SortKey::ALL {
        if let Some(value) = standings::number(row, key) {
            values.insert(key.id().to_owned(), value.into());
        }
    }
    let score = row.score.map(|score| {
        let shown = PlusMinus::score(score, row.score_u);
        json!([shown.value, shown.expanded])
    });
    let ports = |ports: &[together::PortPower]| -> Vec<Value> {
        ports
            .iter()
            .map(|port| json!([port.connector, port.power_w]))
            .collect()
    };
    json!({
        "slug": row.slug,
        "maker": row.maker,
        "model": row.model,
        "sample": row.sample,
        "class": row.class.id,
        "watts": format::rated_watts(row.output_power_w),
        "provisional": row.provisional,
        "rank": rank,
        "score": score,
        "marks": marks,
        "cells": cells,
        "values": values,
        "outcomes": row.verdicts.iter()
            .map(|(regime, outcome)| (regime.clone(), outcome.id().into()))
            .collect::<Map<String, Value>>(),
        "find": folded(&format!("{} {} {}", row.maker, row.model, row.sample.as_deref().unwrap_or(""))),
        "ports": row.ports,
        "usb_c": row.usb_c_ports,
        "currency": row.currency,
        "tested_on": row.tested_on,
        "curve": row.curve,
        "together": {
            "observed": row.together.observed.iter().map(|one| ports(one)).collect::<Vec<_>>(),
            "labelled": ports(&row.together.labelled),
            "total_w": row.together.labelled_total_w,
        },
    })
}
