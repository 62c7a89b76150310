//! `/data/units.json`: everything that filters, orders, search and comparison need where the site
//! is files and no program answers. Texts are those of the ranking, in the language of its pages;
//! `static/as_files.js` reads it.

use super::{
    Site, at_wattage, columns, document,
    ranking::{self, Mark},
    trade_offs,
};
use crate::{
    evaluate::evaluation::Outcome,
    ranking::{
        Figure, Filter, Row, SortKey, VerdictFilter, standings, together, view::USUAL_PER_PAGE,
    },
    text::{Language, t, word},
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

const FORMAT: &str = "brickbook-site-data/2";

async fn units(visit: Visit) -> Result<Response, Error> {
    let site = &visit.site;
    // A site that is served answers each question itself.
    if !site.config.as_files {
        return Err(Error::no_page());
    }
    let data = site.public();
    let standings = &data.standings;
    let main = ranking::main_regimes(site);
    let regimes = &site.method.standards.regimes;
    let regimes: Vec<&str> = regimes.iter().map(|regime| regime.id.as_str()).collect();
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
            unit(row, rank, own_marks, &regimes)
        })
        .collect();
    let verdicts: BTreeMap<&str, Vec<&str>> = ranking::VERDICT_FILTERS
        .iter()
        .map(|wanted| (wanted.id(), outcomes(*wanted)))
        .collect();
    let file = json!({
        "format": FORMAT,
        "per_page": USUAL_PER_PAGE,
        "rounding_w": together::ROUNDING_W,
        "heading": ranking::heading(None),
        "words": words(),
        "figures": Figure::ALL.map(|figure| json!({
            "id": figure.id(),
            "label": trade_offs::called(figure).0,
            "inside": trade_offs::called(figure).1,
            "unit": figure.unit(),
            "more_is_better": figure.more_is_better(),
        })),
        "currency": trade_offs::usual_currency(&data),
        "outcomes": Outcome::ALL.map(Outcome::id),
        "regimes": regimes,
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
            .map(|class| json!({
                "id": class.id,
                "label": format::class_label(&class.label),
                "heading": ranking::heading(Some(class)),
            }))
            .collect::<Vec<_>>(),
        "verdicts": verdicts,
        "marks": marks,
        "units": units,
        "texts": texts(),
        "decimal_mark": Language::current().decimal_mark().to_string(),
        "prefix": Language::current().prefix(),
        "prefixes": site.config.languages.iter()
            .map(|language| (language.id().to_owned(), language.prefix().into()))
            .collect::<Map<String, Value>>(),
    });
    Ok(document("application/json", file.to_string()))
}

/// The words that the script says. What it puts into them stands as `%name%`.
fn texts() -> Value {
    let range = || {
        t("board-count")
            .with("first", "%first%")
            .with("last", "%last%")
    };
    let texts = [
        ("no_units", t("units").with("count", 0_usize)),
        ("range_of_one", range().with("count", 1_usize)),
        ("range", range().with("count", "%count%")),
        ("none_fits", t("board-none-fits")),
        ("show_all", t("board-show-all")),
        ("pick", t("board-pick")),
        ("pick_unit", t("board-pick-unit").with("unit", "%unit%")),
        ("sample", t("sample").with("name", "%name%")),
        (
            "unit_of_sample",
            t("unit-of-sample")
                .with("unit", "%unit%")
                .with("sample", "%sample%"),
        ),
        (
            "ports_observed",
            t("cell-ports-observed").with("ports", "%ports%"),
        ),
        (
            "ports_label",
            t("cell-ports-by-label").with("ports", "%ports%"),
        ),
        ("yes", t("yes")),
        ("rank", t("board-rank")),
        ("rank_title", t("board-rank.title")),
        ("unit", t("board-unit")),
        ("unit_title", t("board-unit.title")),
        ("score", t("board-score")),
        ("score_title", t("board-score.title")),
        ("verdicts", t("board-verdicts")),
        ("verdicts_title", t("board-verdicts.title")),
        ("sort_by", t("board-sort-by").with("column", "%column%")),
        ("caption_class", t("board-caption-class")),
        ("caption_all", t("board-caption-all")),
        ("provisional_group", t("board-provisional-group")),
        ("provisional", t("board-provisional")),
        ("provisional_short", t("board-provisional.short")),
        ("uncertainty_unknown", t("uncertainty-unknown")),
        ("not_measured", t("not-measured")),
        ("pages", t("board-pages")),
        ("previous", t("board-previous")),
        ("next", t("board-next")),
        (
            "page_of",
            t("board-page-of")
                .with("page", "%page%")
                .with("pages", "%pages%"),
        ),
        ("curves_title", t("files-curves")),
        (
            "curves_description",
            t("files-curves.description").with("units", "%units%"),
        ),
        ("curves_axis", t("files-curves.axis")),
        ("curves_heading", t("files-curves.heading")),
        ("no_unit", t("files-no-unit").with("name", "%name%")),
        ("too_many", t("files-too-many").with("most", "%most%")),
        ("no_other", t("files-no-other").with("words", "%words%")),
        ("which_one", t("files-which")),
        ("leave_out", t("files-leave-out")),
        ("rank_in_class", t("files-rank-in-class")),
        ("figures", t("files-figures")),
        ("figures_caption", t("files-figures.caption")),
        ("quantity", t("files-figures.quantity")),
        ("points", t("files-points")),
        ("points_caption", t("files-points.caption")),
        ("output_power", t("chart-output-power")),
        ("not_certified", t("files-not-certified")),
    ];
    let texts = texts.into_iter();
    texts
        .map(|(key, text)| (key.to_owned(), text.to_string().into()))
        .collect::<Map<String, Value>>()
        .into()
}

/// Ids of the outcomes that a filter lets pass.
fn outcomes(wanted: VerdictFilter) -> Vec<&'static str> {
    Outcome::ALL
        .into_iter()
        .filter(|outcome| wanted.holds(*outcome))
        .map(|outcome| outcome.id())
        .collect()
}

/// Sentences of the pages that are worked out anew in the reader's browser; `{…}` is filled there.
fn words() -> Value {
    json!({
        "no_curve": word(at_wattage::NO_CURVE),
        "measured_to": at_wattage::measured_to("{watts}"),
        "against": trade_offs::heading("{x}", "{y}"),
        "provisional": word(trade_offs::PROVISIONAL),
        "priced_in": trade_offs::priced_in("{currency}"),
        "not_known": trade_offs::not_known("{figure}"),
        "more_is_better": trade_offs::way(true),
        "less_is_better": trade_offs::way(false),
    })
}

/// A unit. What has an entry for each column, order, figure or rule stands in their order, `null`
/// where it is not known: names would be half of the file.
fn unit(row: &Row, rank: Option<Value>, marks: Vec<usize>, regimes: &[&str]) -> Value {
    let cells = SortKey::COLUMNS.map(|key| columns::cell(row, key, None));
    let values = SortKey::ALL.map(|key| standings::number(row, key));
    let figures = Figure::ALL.map(|figure| {
        figure.value(row).map(|value| {
            let expanded = figure.u(row).map(|u| 2.0 * figure.shown(u));
            json!([figure.shown(value), expanded])
        })
    });
    let results: Vec<Option<usize>> = regimes
        .iter()
        .map(|id| {
            let (_, outcome) = row.verdicts.iter().find(|(regime, _)| regime == id)?;
            Outcome::ALL.iter().position(|one| one == outcome)
        })
        .collect();
    let losses = row.loss_curve.as_ref().map(|curve| {
        let model = &curve.model;
        json!({
            "a_w": model.a_w,
            "b_v": model.b_v,
            "c_ohm": model.c_ohm,
            "at_v": model.effective_voltage_v,
            "to_w": model.valid_to_w,
            "residual_w": model.rms_residual_w,
            "u": curve.known_u,
        })
    });
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
        "results": results,
        "figures": figures,
        "losses": losses,
        "rated_w": row.output_power_w,
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
