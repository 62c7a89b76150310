//! Drawings for pages of others: rank badge and charts as SVG files with stable addresses. They
//! carry their own colours, say who measured and when, and any site may show them.

use super::{Site, document, unit::decoded};
use crate::{
    chart::{Badge, ClassOverview, LimitLine, LoadAxis, LoadChart, standalone},
    evaluate::evaluation::Requirement,
    ranking::{Filter, Row, SortKey},
    standards::Role,
    storage::{evaluations, units},
    text::t,
    web::{
        download::open_to_others,
        error::Error,
        extract::{Path, Visit},
        format::{self, PlusMinus},
        urls,
    },
};
use axum::{
    Router,
    http::{HeaderValue, header},
    response::Response,
    routing::get,
};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}/badge.svg", get(badge))
        .route("/unit/{slug}/chart.svg", get(unit_chart))
        .route("/class/{id}/chart.svg", get(class_chart))
}

/// What to paste into a page, for a unit.
pub struct Snippets {
    pub badge_url: String,
    pub badge: String,
    pub chart: String,
}

/// The picture linked to the unit's page, as HTML text to copy.
pub fn snippets(visit: &Visit, slug: &str, name: &str) -> Snippets {
    let page = visit.absolute(&urls::unit(slug));
    let picture = |path: String, alt: String| {
        let alt = alt
            .replace('&', "&amp;")
            .replace('"', "&quot;")
            .replace('<', "&lt;");
        format!(
            "<a href=\"{page}\"><img src=\"{}\" alt=\"{alt}\"></a>",
            visit.absolute(&path)
        )
    };
    Snippets {
        badge_url: urls::unit_badge(slug),
        badge: picture(
            urls::unit_badge(slug),
            t("embed-badge-text").with("unit", name).to_string(),
        ),
        chart: picture(
            urls::unit_chart(slug),
            t("embed-chart-text").with("unit", name).to_string(),
        ),
    }
}

async fn badge(visit: Visit, Path(slug): Path<String>) -> Result<Response, Error> {
    let data = visit.site.public();
    let row = data.standings.row(&slug).ok_or_else(Error::no_page)?;
    let badge = Badge {
        name: row.name(),
        rank: match data.standings.ranks(&slug) {
            Some(ranks) if ranks.provisional => {
                format!("Rank {} of {} provisional", ranks.class, ranks.class_of)
            }
            Some(ranks) => format!("Rank {} of {}", ranks.class, ranks.class_of),
            None => "Not ranked".to_owned(),
        },
        class_label: format!("{}{}", row.class.label, invented(&visit)),
        score: row
            .score
            .map(|score| PlusMinus::score(score, row.score_u).to_string()),
        source: source(&visit, row.tested_on.as_deref()),
    };
    Ok(drawing(badge.svg()))
}

/// "measured by us, 1 Sep 2026 · Brickbook"
fn source(visit: &Visit, tested_on: Option<&str>) -> String {
    let when = tested_on.map_or(String::new(), |date| format!(", {}", format::date(date)));
    format!("measured by us{when} · {}", visit.site.config.site_name)
}

/// " · invented data" in a demonstration.
fn invented(visit: &Visit) -> &'static str {
    if visit.site.is_demo() {
        " · invented data"
    } else {
        ""
    }
}

/// Who measured when and where it stands; the licence, if there is one.
fn footer(visit: &Visit, tested_on: Option<&str>, path: &str) -> Vec<String> {
    let source = source(visit, tested_on);
    let first = format!("{source} · {}{}", visit.absolute(path), invented(visit));
    std::iter::once(first)
        .chain(visit.site.config.licence.clone())
        .collect()
}

fn lines(footer: &[String]) -> Vec<&str> {
    footer.iter().map(String::as_str).collect()
}

async fn unit_chart(visit: Visit, Path(slug): Path<String>) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let row = data.standings.row(&slug).ok_or_else(Error::no_page)?;
    let mut moment = site.db.snapshot().await?;
    let unit = units::find_by_slug(&mut moment, &slug).await?;
    let stored = evaluations::current_of_unit(&mut moment, unit.id).await?;
    let text = units::newest_record_text(&mut moment, unit.id).await?;
    drop(moment);
    let evaluation = stored.evaluation()?;
    let name = decoded(&text.text)?.unit;
    let laws = LimitLine::from_verdicts(&evaluation, Requirement::AverageEfficiency, |id| {
        let regime = site.method.standards.regime(id);
        regime
            .filter(|regime| regime.role == Role::Law)
            .map_or(String::new(), |regime| regime.short.clone())
    });
    let laws = laws.into_iter().filter(|l| !l.label.is_empty()).collect();
    let name = format!("{} {}", name.maker, name.model);
    let chart = LoadChart::efficiency(&name, &evaluation, LoadAxis::WattsLog).with_limits(laws);
    let footer = footer(&visit, row.tested_on.as_deref(), &urls::unit(&slug));
    let heading = format!("Efficiency against load: {name}");
    Ok(drawing(standalone(&chart, &heading, &lines(&footer))))
}

async fn class_chart(visit: Visit, Path(id): Path<String>) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let class = site.method.classes.iter().find(|class| class.id == id);
    let class = class.ok_or_else(Error::no_page)?;
    let filter = Filter {
        class: Some(class.id.clone()),
        ..Filter::default()
    };
    let rows: Vec<&Row> = data.standings.all(&filter, SortKey::Score, true);
    let latest = rows.iter().filter_map(|row| row.tested_on.as_deref()).max();
    let footer = footer(&visit, latest, &urls::class(&class.id));
    let chart = ClassOverview::of_rows(
        &class.label,
        rows.iter().copied(),
        None,
        LoadAxis::PercentOfRated,
    )
    .with_limits(super::ranking::class_limits(&site.method, class));
    let heading = format!("Efficiency against load: adapters {}", class.label);
    Ok(drawing(standalone(&chart, &heading, &lines(&footer))))
}

/// An SVG file that other sites may show. Its style is inside; nothing else is allowed to it.
fn drawing(svg: String) -> Response {
    let mut response = document("image/svg+xml", svg);
    response.headers_mut().insert(
        header::CONTENT_SECURITY_POLICY,
        HeaderValue::from_static("default-src 'none'; style-src 'unsafe-inline'; sandbox"),
    );
    open_to_others(&mut response);
    response
}
