//! Pictures for links that are pasted elsewhere: PNG, 1200 by 630. Drawn once for each state of
//! public data, then kept like a page.

use super::{Site, calendar, cost_of_use, document, ranking, trade_offs};
use crate::{
    chart::{ComparisonCard, ListCard, ListLine, PreviewCard, UnitCard, VerdictMark, preview_png},
    evaluate::evaluation::Outcome,
    ranking::{CostOfUse, Figure, Filter, Row, SortKey},
    standards::{Role, UseProfile, usage},
    storage::photos,
    web::{
        error::Error,
        extract::{Pairs, Path, Visit},
        format::{self, PlusMinus},
        state::Public,
    },
};
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}/preview.png", get(of_unit))
        .route("/class/{id}/preview.png", get(of_class))
        .route("/preview.png", get(of_list))
}

async fn of_unit(visit: Visit, Path(slug): Path<String>) -> Result<Response, Error> {
    let data = visit.site.public();
    let row = data.standings.row(&slug).ok_or_else(Error::no_page)?;
    let mut card = unit_card(&visit.site, &data, row);
    let mut connection = visit.site.db.read().await?;
    if let Some(photo) = photos::first_of_unit(&mut connection, &slug).await? {
        card.photo = Some(photos::thumbnail(&mut connection, &photo.sha256).await?);
    }
    drop(connection);
    picture(&visit.site, PreviewCard::Unit(card)).await
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
        return picture(site, PreviewCard::Comparison(ComparisonCard { units })).await;
    }
    if pairs.last("about") == Some("coming") {
        return picture(site, PreviewCard::List(coming(site).await?)).await;
    }
    if let Some(card) = told(&pairs, site, &data) {
        return picture(site, PreviewCard::List(card?)).await;
    }
    list(site, &data, &pairs, pairs.last("class")).await
}

async fn of_class(visit: Visit, Path(id): Path<String>) -> Result<Response, Error> {
    let nothing_else = Pairs(Vec::new());
    list(&visit.site, &visit.site.public(), &nothing_else, Some(&id)).await
}

/// The best of a class, or of all.
async fn list(
    site: &Site,
    data: &Public,
    pairs: &Pairs,
    class: Option<&str>,
) -> Result<Response, Error> {
    let class = match class {
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
    let class_label = class.map_or("all classes", |class| class.label.as_str());
    if let Some(card) = chosen(pairs, data, &filter, class_label) {
        return picture(site, PreviewCard::List(card?)).await;
    }
    let rows = data.standings.all(&filter, SortKey::Score, true);
    picture(
        site,
        PreviewCard::List(ListCard {
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
                    figure: None,
                })
                .collect(),
        }),
    )
    .await
}

/// What is tested next: those with a planned date first.
async fn coming(site: &Site) -> Result<ListCard, Error> {
    let mut shown = calendar::shown(site).await?;
    shown.retain(|one| one.state.is_open());
    // No date sorts behind every date.
    shown.sort_by_key(|one| (one.entry.planned_on.is_none(), one.entry.planned_on.clone()));
    Ok(ListCard {
        title: "Coming".to_owned(),
        subtitle: "What is going to be tested".to_owned(),
        lines: shown
            .iter()
            .take(5)
            .map(|one| ListLine {
                name: calendar::name_of(one),
                figure: Some(
                    one.entry
                        .planned_on
                        .as_deref()
                        .map_or(String::new(), format::date)
                        .replace('\u{a0}', " "),
                ),
                ..ListLine::default()
            })
            .collect(),
    })
}

/// `?regime=` draws how units fare under a rule, `?about=` what a page without units tells.
fn told(pairs: &Pairs, site: &Site, data: &Public) -> Option<Result<ListCard, Error>> {
    let line = |name: &str, figure: String| ListLine {
        name: name.to_owned(),
        figure: Some(figure.replace('\u{202f}', " ")),
        ..ListLine::default()
    };
    if let Some(id) = pairs.last("regime") {
        let Some(regime) = site.method.standards.regime(id) else {
            return Some(Err(Error::no_page()));
        };
        let counted = |outcome: Outcome| {
            let rows = data.standings.rows().iter();
            let found = rows
                .flat_map(|row| &row.verdicts)
                .filter(|(id, result)| *id == regime.id && *result == outcome)
                .count();
            format::counted(found, "unit", "units")
        };
        return Some(Ok(ListCard {
            title: regime.short.clone(),
            subtitle: regime.title.clone(),
            lines: [
                Outcome::Pass,
                Outcome::ConditionalPass,
                Outcome::ConditionalFail,
                Outcome::Fail,
                Outcome::Incomplete,
            ]
            .into_iter()
            .map(|outcome| line(format::outcome(outcome), counted(outcome)))
            .collect(),
        }));
    }
    let (title, subtitle, lines) = match pairs.last("about")? {
        "rules" => (
            "Energy rules",
            "Limits that units are held against",
            site.method
                .standards
                .regimes
                .iter()
                .filter(|regime| matches!(regime.role, Role::Law | Role::Voluntary))
                .map(|regime| line(&regime.short, String::new()))
                .collect::<Vec<_>>(),
        ),
        "method" => {
            let formula = &site.method.formula;
            (
                "How it is measured and judged",
                "A composite score that anybody can work out by hand",
                [
                    ("Loss at 25 to 100 % load", formula.active_loss.weight),
                    ("Loss at 10 % load", formula.light_load_loss.weight),
                    ("No-load power", formula.no_load.weight),
                    ("Line current", formula.line_current.weight),
                    ("Delivered voltage", formula.delivery.weight),
                ]
                .into_iter()
                .map(|(name, weight)| line(name, format!("{} %", format::plain(weight))))
                .collect(),
            )
        }
        "use" => (
            "What adapters cost to use",
            "Energy lost in a year, measured by us",
            usage::profiles()
                .iter()
                .map(|profile| line(&profile.title, String::new()))
                .collect(),
        ),
        "suggest" => (
            "Suggest a unit",
            "Which USB power adapter should be tested here?",
            ["No account is needed", "Nothing about you is kept"]
                .map(|words| line(words, String::new()))
                .into(),
        ),
        _ => return Some(Err(Error::no_page())),
    };
    Some(Ok(ListCard {
        title: title.to_owned(),
        subtitle: subtitle.to_owned(),
        lines,
    }))
}

/// `?use=` draws the cost of a use profile, `?at=` a wattage, `?x=&y=` a pair of figures.
fn chosen(
    pairs: &Pairs,
    data: &Public,
    filter: &Filter,
    class_label: &str,
) -> Option<Result<ListCard, Error>> {
    let line = |rank: String, row: &Row, figure: String| ListLine {
        rank,
        name: row.name(),
        score: None,
        score_u: None,
        figure: Some(figure.replace('\u{202f}', " ")),
    };
    let rows = data.standings.all(filter, SortKey::Name, false);
    if let Some(id) = pairs.last("use") {
        let profile = if id == cost_of_use::OWN {
            UseProfile::of_reader(pairs.all("load").take(40)).ok()
        } else {
            usage::profiles()
                .into_iter()
                .find(|profile| profile.id == id)
        };
        let Some(profile) = profile else {
            return Some(Err(Error::no_page()));
        };
        let cost = CostOfUse::of(rows, &profile);
        return Some(Ok(ListCard {
            title: "Energy lost in a year".to_owned(),
            subtitle: format!("{} · {class_label}", profile.title),
            lines: cost
                .used
                .iter()
                .take(5)
                .map(|used| {
                    let energy = PlusMinus::of(used.year.total, cost_of_use::KWH, 3);
                    line(used.rank.to_string(), used.row, energy.to_string())
                })
                .collect(),
        }));
    }
    if let Some(text) = pairs.last("at") {
        let Some(watts) = ranking::watts(text).filter(|w| (0.1..=1000.0).contains(w)) else {
            return Some(Err(Error::no_page()));
        };
        let mut at: Vec<_> = rows
            .into_iter()
            .filter_map(|row| Some((row, row.loss_curve.as_ref()?.efficiency_at(watts)?)))
            .collect();
        at.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
        return Some(Ok(ListCard {
            title: format!("Efficiency at {} W", format::plain(watts)),
            subtitle: class_label.to_owned(),
            lines: at
                .iter()
                .take(5)
                .map(|(row, eta)| {
                    let eta = PlusMinus::efficiency(eta.value, eta.u);
                    line(String::new(), row, eta.to_string())
                })
                .collect(),
        }));
    }
    let (x, y) = (pairs.last("x")?, pairs.last("y")?);
    let (Some(x), Some(y)) = (Figure::from_id(x), Figure::from_id(y)) else {
        return Some(Err(Error::no_page()));
    };
    let currency = trade_offs::usual_currency(data);
    let (mut units, _) = trade_offs::plotted(rows, x, y, currency.as_deref());
    units.retain(|unit| unit.front);
    units.sort_by(|a, b| a.x.total_cmp(&b.x));
    let words = |figure: Figure, value: f64| {
        let axis = trade_offs::axis(figure, currency.as_deref());
        format::with_unit(format::significant(value, 3), &axis.unit)
    };
    Some(Ok(ListCard {
        title: trade_offs::heading(trade_offs::called(x).0, trade_offs::called(y).1),
        subtitle: format!("Beaten by no other in both · {class_label}"),
        lines: units
            .iter()
            .take(5)
            .map(|unit| {
                let both = format!("{}, {}", words(x, unit.x), words(y, unit.y));
                line(String::new(), unit.row, both)
            })
            .collect(),
    }))
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
        photo: None,
    }
}

async fn picture(site: &Site, card: PreviewCard) -> Result<Response, Error> {
    let invented = site.is_demo();
    let png = tokio::task::spawn_blocking(move || preview_png(&card, invented))
        .await
        .map_err(Error::internal)?;
    Ok(document("image/png", png))
}
