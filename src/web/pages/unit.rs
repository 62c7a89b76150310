//! One unit: its newest revision, its earlier ones, and its documents for download.

use super::{
    Site, document,
    embedded::{self, Snippets},
    photos::{Pictures, place},
    public,
    sheet::Sheet,
    use_of_unit::{self, UseOfUnit},
};
use crate::{
    bench::{
        decode::decode_stored,
        record::{Record, Unit},
    },
    chart::{Chart, ClassOverview, LimitLine, LoadAxis},
    evaluate::{
        Method,
        evaluation::{ClassRef, Evaluation, Requirement},
    },
    intake::logs::Summary,
    ranking::{Row, Standings},
    standards::Role,
    storage::{Connection, evaluations, logs, units},
    text::{t, word},
    web::{
        chrome::{Chrome, Here},
        error::Error,
        extract::{Pairs, Path, Visit},
        filters,
        format::{self, PlusMinus},
        language,
        state::Public,
        structured_data, urls,
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}", get(newest))
        .route("/unit/{slug}/revision/{number}", get(revision))
        .route("/unit/{slug}/record.json", get(record_document))
        .route("/unit/{slug}/evaluation.json", get(evaluation_document))
}

#[derive(Template)]
#[template(path = "pages/unit.html")]
struct UnitPage {
    chrome: Chrome,
    sheet: Sheet,
    /// Of a revision that is not simply the newest page.
    past: Option<Past>,
    url: String,
    link: String,
    ranks: Option<RanksView>,
    axes: Vec<AxisLink>,
    class_chart: Option<String>,
    neighbours: Vec<Neighbour>,
    compare_url: Option<String>,
    revisions: Vec<RevisionView>,
    evaluated_at: String,
    record_url: String,
    evaluation_url: String,
    /// Of the newest revision alone.
    uses: Vec<UseOfUnit>,
    embed: Snippets,
    report_url: String,
}

struct Past {
    number: i64,
    newest: i64,
    superseded: bool,
}

/// A unit's place, in words: "3–5 of 41".
#[derive(Debug)]
pub struct RanksView {
    pub in_class: String,
    pub overall: String,
    pub u_unknown: bool,
}

/// A choice of the charts' load axis.
pub struct AxisLink {
    pub label: &'static str,
    pub url: String,
    pub current: bool,
}

struct Neighbour {
    slug: String,
    name: String,
    url: String,
    rank: Option<String>,
    score: Option<PlusMinus>,
    average: Option<String>,
    no_load: Option<String>,
    provisional: bool,
    this: bool,
}

struct RevisionView {
    number: i64,
    url: String,
    when: String,
    author: String,
    reason: String,
    /// Every score that this revision was given, newest first, with the formula's version.
    scores: String,
    shown: bool,
}

/// Neighbours shown on either side.
const NEIGHBOURS: usize = 4;

async fn newest(visit: Visit, Path(slug): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    let axis = axis_of(&pairs)?;
    page(&visit, &slug, None, axis).await
}

async fn revision(
    visit: Visit,
    Path((slug, number)): Path<(String, i64)>,
    pairs: Pairs,
) -> Result<Response, Error> {
    let axis = axis_of(&pairs)?;
    page(&visit, &slug, Some(number), axis).await
}

/// `?axis=`, by default logarithmic.
pub fn axis_of(pairs: &Pairs) -> Result<LoadAxis, Error> {
    match pairs.last("axis") {
        None => Ok(LoadAxis::WattsLog),
        Some(id) => LoadAxis::from_id(id).ok_or_else(|| {
            let id: String = id.chars().take(40).collect();
            Error::Invalid(t("unit-no-axis").with("name", id).to_string())
        }),
    }
}

/// Links that draw the charts of `url` over each axis.
pub fn axis_links(url: &str, present: LoadAxis) -> Vec<AxisLink> {
    LoadAxis::ALL
        .into_iter()
        .map(|axis| AxisLink {
            label: axis.label(),
            url: match axis {
                LoadAxis::WattsLog => url.to_owned(),
                other => urls::Query::new().with("axis", other.id()).on(url),
            },
            current: axis == present,
        })
        .collect()
}

fn no_such_unit(slug: &str) -> Error {
    let slug: String = slug.chars().take(60).collect();
    Error::NotFound(t("unit-none").with("name", slug).to_string())
}

fn revision_not_found(error: crate::storage::Error, number: i64) -> Error {
    match error {
        crate::storage::Error::NotFound => {
            let number = number.to_string();
            Error::NotFound(t("unit-no-revision").with("number", number).to_string())
        }
        other => other.into(),
    }
}

/// A stored record as a value. It was valid when it was stored; should a later program be
/// stricter, that is ours to mend, not the visitor's.
pub fn decoded(text: &str) -> Result<Record, Error> {
    decode_stored(text).map_err(|problems| {
        let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
        Error::internal(format!(
            "a stored record is refused: {}",
            problems.join("; ")
        ))
    })
}

/// A sheet, the unit as recorded and its evaluation, read and drawn on a thread for such work: charts of a unit take some milliseconds.
async fn sheet_of(
    site: &Site,
    text: String,
    stored: evaluations::Stored,
    axis: LoadAxis,
) -> Result<(Sheet, Unit, Evaluation), Error> {
    let method = site.method.clone();
    language::spawn_blocking(move || {
        let record = decoded(&text)?;
        let evaluation = stored.evaluation()?;
        let sheet = Sheet::of(&record, &evaluation, &method, axis);
        Ok((sheet, record.unit, evaluation))
    })
    .await
    .map_err(Error::internal)?
}

/// A unit with one of its revisions.
pub struct Found {
    pub unit: units::Unit,
    pub text: units::RecordText,
    pub stored: evaluations::Stored,
}

/// A unit's newest revision, or the one of that number, with its evaluation.
///
/// # Errors
/// There is no such unit or revision; the database cannot be read.
pub async fn find_revision(
    connection: &mut Connection,
    slug: &str,
    number: Option<i64>,
) -> Result<Found, Error> {
    let unit = find(connection, slug).await?;
    let (text, stored) = match number {
        None => (
            units::newest_record_text(connection, unit.id).await?,
            evaluations::current_of_unit(connection, unit.id).await?,
        ),
        Some(number) => {
            let text = units::record_text(connection, unit.id, number)
                .await
                .map_err(|error| revision_not_found(error, number))?;
            let stored = evaluations::newest_of_revision(connection, text.revision.id).await?;
            (text, stored)
        }
    };
    Ok(Found { unit, text, stored })
}

/// Every score that a revision was given, newest first, with the formula's version.
pub fn scores_of(scores: &[evaluations::PastScore], revision: i64) -> String {
    scores
        .iter()
        .filter(|score| score.revision_number == revision)
        .map(|score| {
            let value = score.score.map_or_else(
                || word("history-no-score").to_owned(),
                |s| format::fixed(s, 1),
            );
            format!("{value} (v{})", score.score_version)
        })
        .collect::<Vec<_>>()
        .join(", ")
}

/// Why a revision was made.
pub fn reason_words(reason: String) -> String {
    if reason.is_empty() {
        word("history-first").to_owned()
    } else {
        reason
    }
}

async fn page(
    visit: &Visit,
    slug: &str,
    number: Option<i64>,
    axis: LoadAxis,
) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let mut moment = site.db.snapshot().await?;
    let Found { unit, text, stored } = find_revision(&mut moment, slug, number).await?;
    let revisions = units::revisions(&mut moment, unit.id).await?;
    let scores = evaluations::history(&mut moment, unit.id).await?;
    drop(moment);

    let shown = text.revision.number;
    let newest = revisions.first().map_or(shown, |r| r.number);
    let evaluated_at = stored.created_at;
    let (mut sheet, recorded, evaluation) = sheet_of(site, text.text, stored, axis).await?;
    let mut connection = site.db.read().await?;
    for log in &mut sheet.evidence.logs {
        log.url = site.db.logs().is_kept(&log.sha256).then(|| match number {
            None => urls::unit_log(slug, &log.name),
            Some(_) => urls::unit_log_exactly(slug, &log.name, &log.sha256),
        });
        match logs::find(&mut connection, &log.sha256).await {
            Ok(file) => log.rows = file.summary.as_deref().and_then(rows_words),
            Err(crate::storage::Error::NotFound) => {}
            Err(other) => return Err(other.into()),
        }
    }
    place(&mut connection, &mut sheet.photos, |sha256| Pictures {
        full: urls::unit_photo(slug, sha256),
        thumbnail: urls::unit_thumbnail(slug, sha256),
    })
    .await?;
    drop(connection);
    let url = urls::unit(slug);
    let own_url = number.map_or_else(|| url.clone(), |n| urls::revision(slug, n));
    let class = data.standings.row(slug).map(|row| row.class.clone());
    let (class_chart, neighbours) = match (&class, number) {
        (Some(class), None) => (
            class_chart(
                &data,
                class,
                slug,
                axis,
                own_limits(&site.method, &evaluation),
            ),
            neighbours(&data, &class.id, slug),
        ),
        _ => (None, Vec::new()),
    };
    let compare: Vec<&str> = std::iter::once(slug)
        .chain(
            neighbours
                .iter()
                .filter(|n| !n.this)
                .map(|n| n.slug.as_str()),
        )
        .take(4)
        .collect();
    let title = match &sheet.sample {
        Some(sample) => t("unit-sample")
            .with("unit", &sheet.name)
            .with("sample", sample)
            .to_string(),
        None => sheet.name.clone(),
    };
    let chrome = visit
        .chrome(match number {
            Some(number) => t("unit-title-revision")
                .with("unit", title)
                .with("number", number.to_string())
                .to_string(),
            None => t("unit-title").with("unit", title).to_string(),
        })
        .describe(sheet.description())
        .canonical(url.clone())
        .image(urls::unit_preview(slug))
        .here(Here::Ranking)
        .style("chart.css");
    let row = data.standings.row(slug).filter(|_| number.is_none());
    let chrome = match row {
        None => chrome.not_indexed(),
        Some(row) => {
            let summary = sheet.description();
            let thing = structured_data::product(visit, row, &recorded, &evaluation, &summary);
            chrome.about(&thing)
        }
    };
    public(&UnitPage {
        chrome,
        past: number.map(|number| Past {
            number,
            newest,
            superseded: number != newest,
        }),
        link: visit.absolute(&own_url),
        ranks: number.is_none().then(|| ranks_view(&data, slug)).flatten(),
        // Another axis is another drawing, which nobody makes where no program answers.
        axes: if site.config.as_files {
            Vec::new()
        } else {
            axis_links(&own_url, axis)
        },
        class_chart,
        compare_url: (compare.len() > 1).then(|| urls::compare(compare.iter().copied(), None)),
        neighbours,
        revisions: revisions
            .into_iter()
            .map(|r| RevisionView {
                number: r.number,
                url: urls::revision(slug, r.number),
                when: format::moment(r.created_at),
                author: r.author,
                scores: scores_of(&scores, r.number),
                reason: reason_words(r.reason),
                shown: r.number == shown,
            })
            .collect(),
        evaluated_at: format::moment(evaluated_at),
        record_url: urls::unit_record(slug),
        evaluation_url: urls::unit_evaluation(slug),
        uses: row.map_or(Vec::new(), |row| {
            use_of_unit::of_row(row, site.config.tariff.as_ref())
        }),
        embed: embedded::snippets(visit, slug, &sheet.name),
        // As files, the newest revision's report is written once, as the unit's.
        report_url: urls::unit_report(
            slug,
            number.filter(|number| !site.config.as_files || *number != newest),
        ),
        url,
        sheet,
    })
}

/// How many rows a log has, from what was noted when it was read.
fn rows_words(summary: &str) -> Option<String> {
    let summary: Summary = serde_json::from_str(summary).ok()?;
    let rows = format::count(summary.rows);
    Some(match summary.bad_rows {
        0 => rows,
        bad => t("log-rows-bad")
            .with("rows", rows)
            .with("bad", bad)
            .to_string(),
    })
}

pub fn ranks_view(data: &Public, slug: &str) -> Option<RanksView> {
    ranks_of(&data.standings, slug)
}

pub fn ranks_of(standings: &Standings, slug: &str) -> Option<RanksView> {
    let ranks = standings.ranks(slug)?;
    let place = |rank: String, units: usize| {
        let text = if ranks.provisional {
            t("rank-of-provisional")
        } else {
            t("rank-of")
        };
        text.with("rank", rank)
            .with("units", units.to_string())
            .to_string()
    };
    Some(RanksView {
        in_class: place(ranks.class.to_string(), ranks.class_of),
        overall: place(ranks.overall.to_string(), ranks.overall_of),
        u_unknown: ranks.u_unknown,
    })
}

fn class_chart(
    data: &Public,
    class: &ClassRef,
    slug: &str,
    axis: LoadAxis,
    limits: Vec<LimitLine>,
) -> Option<String> {
    let own = data.standings.row(slug)?;
    let units = *data.class_counts.get(&class.id)?;
    let label = format::class_label(&class.label);
    (units > 1).then(|| {
        ClassOverview::behind_a_unit(&label, &data.drawn_behind(&class.id), units, own, axis)
            .with_limits(limits)
            .both("class-chart")
    })
}

/// The minimum average efficiencies that decided the unit's verdicts by the rules in force, one a
/// rule.
fn own_limits(method: &Method, evaluation: &Evaluation) -> Vec<LimitLine> {
    method
        .standards
        .regimes
        .iter()
        .filter(|regime| regime.role == Role::Law)
        .filter_map(|regime| {
            let verdict = evaluation.verdicts.iter().find(|v| {
                v.regime == regime.id
                    && v.requirement == Requirement::AverageEfficiency
                    && v.decides
            })?;
            Some(LimitLine {
                label: regime.short.clone(),
                value: verdict.limit?,
                at_w: verdict.limit_power_w,
            })
        })
        .collect()
}

/// Of the units of a class in order of score, those that the page of the one at `place` lists: it
/// and some on either side.
pub fn neighbours_of<'a, 'r>(rows: &'a [&'r Row], place: usize) -> &'a [&'r Row] {
    let from = place.saturating_sub(NEIGHBOURS);
    let to = (place + NEIGHBOURS + 1).min(rows.len());
    &rows[from..to]
}

fn neighbours(data: &Public, class: &str, slug: &str) -> Vec<Neighbour> {
    let rows = data.standings.best_of_class(class);
    let own = data.standings.row(slug);
    let same = |row: &&Row| own.is_some_and(|own| std::ptr::eq(*row, own));
    let Some(place) = rows.iter().position(same) else {
        return Vec::new();
    };
    if rows.len() < 2 {
        return Vec::new();
    }
    neighbours_of(&rows, place)
        .iter()
        .map(|row| Neighbour {
            slug: row.slug.clone(),
            name: match &row.sample {
                Some(sample) => t("unit-of-sample")
                    .with("unit", row.name())
                    .with("sample", sample)
                    .to_string(),
                None => row.name(),
            },
            url: urls::unit(&row.slug),
            rank: data
                .standings
                .ranks(&row.slug)
                .map(|ranks| ranks.class.to_string()),
            score: row.score.map(|score| PlusMinus::score(score, row.score_u)),
            average: row.average_efficiency.map(format::percent),
            no_load: row.no_load_w.map(format::watts),
            provisional: row.provisional,
            this: row.slug == slug,
        })
        .collect()
}

async fn record_document(visit: Visit, Path(slug): Path<String>) -> Result<Response, Error> {
    let mut moment = visit.site.db.snapshot().await?;
    let unit = find(&mut moment, &slug).await?;
    let text = units::newest_record_text(&mut moment, unit.id).await?;
    Ok(document("application/json", text.text))
}

async fn evaluation_document(visit: Visit, Path(slug): Path<String>) -> Result<Response, Error> {
    let mut moment = visit.site.db.snapshot().await?;
    let unit = find(&mut moment, &slug).await?;
    let stored = evaluations::current_of_unit(&mut moment, unit.id).await?;
    Ok(document("application/json", stored.document))
}

async fn find(
    connection: &mut crate::storage::Connection,
    slug: &str,
) -> Result<units::Unit, Error> {
    units::find_by_slug(connection, slug)
        .await
        .map_err(|error| match error {
            crate::storage::Error::NotFound => no_such_unit(slug),
            other => other.into(),
        })
}
