//! Pictures for links that are pasted elsewhere: PNG, 1200 by 630. Drawn once for each state of
//! public data, then kept like a page.

use super::{Site, document};
use crate::{
    chart::{ComparisonCard, ListCard, ListLine, PreviewCard, UnitCard, VerdictMark, preview_png},
    ranking::{Filter, Row, SortKey},
    standards::Role,
    web::{
        error::Error,
        extract::{Pairs, Path, Visit},
        format,
        state::Public,
    },
};
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}/preview.png", get(of_unit))
        .route("/preview.png", get(of_list))
}

async fn of_unit(visit: Visit, Path(slug): Path<String>) -> Result<Response, Error> {
    let data = visit.site.public();
    let row = data.standings.row(&slug).ok_or_else(Error::no_page)?;
    picture(PreviewCard::Unit(unit_card(&visit.site, &data, row))).await
}

/// `?unit=…&unit=…` draws a comparison, `?class=…` a class, nothing the leaderboard.
async fn of_list(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let units: Vec<UnitCard> = pairs
        .all("unit")
        .take(6)
        .filter_map(|slug| data.standings.row(slug))
        .map(|row| unit_card(site, &data, row))
        .collect();
    if !units.is_empty() {
        return picture(PreviewCard::Comparison(ComparisonCard { units })).await;
    }
    let class = match pairs.last("class") {
        None => None,
        Some(id) => Some(
            site.method
                .classes
                .iter()
                .find(|class| class.id == id)
                .ok_or_else(Error::no_page)?,
        ),
    };
    let filter = Filter {
        class: class.map(|class| class.id.clone()),
        ..Filter::default()
    };
    let rows = data.standings.all(&filter, SortKey::Score, true);
    picture(PreviewCard::List(ListCard {
        title: class.map_or("All adapters".to_owned(), |class| {
            format!("Adapters {}", class.label)
        }),
        subtitle: format!(
            "{} measured by us",
            format::counted(rows.len(), "unit", "units")
        ),
        lines: rows
            .iter()
            .take(5)
            .map(|row| ListLine {
                rank: data
                    .standings
                    .ranks(&row.slug)
                    .map_or(String::new(), |ranks| {
                        if class.is_some() {
                            ranks.class
                        } else {
                            ranks.overall
                        }
                        .to_string()
                    }),
                name: row.name(),
                score: row.score,
                score_u: row.score_u,
            })
            .collect(),
    }))
    .await
}

fn unit_card(site: &Site, data: &Public, row: &Row) -> UnitCard {
    UnitCard {
        name: row.name(),
        class_label: row.class.label.clone(),
        score: row.score,
        score_u: row.score_u,
        rank: data
            .standings
            .ranks(&row.slug)
            .map_or(String::new(), |ranks| {
                format!("rank {} of {} in its class", ranks.class, ranks.class_of)
            }),
        verdicts: row
            .verdicts
            .iter()
            .filter_map(|(id, outcome)| {
                let regime = site.method.standards.regime(id)?;
                matches!(regime.role, Role::Law | Role::Voluntary).then(|| VerdictMark {
                    regime: regime.short.clone(),
                    outcome: *outcome,
                })
            })
            .collect(),
        curve: row.curve.clone(),
    }
}

async fn picture(card: PreviewCard) -> Result<Response, Error> {
    let png = tokio::task::spawn_blocking(move || preview_png(&card))
        .await
        .map_err(Error::internal)?;
    Ok(document("image/png", png))
}
