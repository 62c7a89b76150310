//! `/desk/audit`: every change of data or rights, for owners; `/desk/audit.csv`: the same as a file.

use crate::web::filters;
use crate::{
    storage::audit::{self, Line, Wanted},
    web::{
        Site,
        auth::Owner,
        chrome::Chrome,
        download::{Cell, Table},
        error::Error,
        extract::{Pairs, Visit},
        format, pages, urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::header,
    response::{IntoResponse, Response},
    routing::get,
};
use time::{
    Date, OffsetDateTime, format_description::well_known::Rfc3339, macros::format_description,
};

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_AUDIT, get(show))
        .route("/desk/audit.csv", get(csv))
}

/// Lines of one page.
const ON_A_PAGE: i64 = 100;
/// Lines of one file; the filter gets at those before.
const IN_A_FILE: i64 = 50_000;

#[derive(Template)]
#[template(path = "entry/audit.html")]
struct AuditPage {
    chrome: Chrome,
    typed: Typed,
    problems: Vec<String>,
    lines: Vec<LineView>,
    csv_url: String,
    older_url: Option<String>,
}

/// The filter as it was typed.
#[derive(Default)]
struct Typed {
    who: String,
    action: String,
    object: String,
    from: String,
    until: String,
}

struct LineView {
    when: String,
    who: String,
    via: String,
    address: String,
    action: String,
    object: String,
    detail: String,
    before: String,
    after: String,
}

impl LineView {
    fn of(line: Line) -> LineView {
        let short = |digest: Option<String>| digest.map_or(String::new(), |d| d[..12].to_owned());
        LineView {
            when: format::moment(line.at),
            who: line.who,
            via: line.via,
            address: line.address.unwrap_or_default(),
            action: line.action,
            object: line.object,
            detail: line.detail,
            before: short(line.before_sha256),
            after: short(line.after_sha256),
        }
    }
}

/// What the query asks for; what cannot be read is left out and said.
fn wanted(query: &Pairs) -> (Typed, Wanted, Vec<String>) {
    let text = |name| query.last(name).unwrap_or("").to_owned();
    let typed = Typed {
        who: text("who"),
        action: text("action"),
        object: text("object"),
        from: text("from"),
        until: text("until"),
    };
    let mut problems = Vec::new();
    let mut day = |name: &str, text: &str, plus: i64| -> Option<OffsetDateTime> {
        if text.is_empty() {
            return None;
        }
        let day = Date::parse(text, format_description!("[year]-[month]-[day]")).ok();
        let day = day.and_then(|day| day.checked_add(time::Duration::days(plus)));
        if day.is_none() {
            problems.push(format!(
                "{name}: “{}”; expected a date such as 2026-09-30, so it was left out.",
                text.chars().take(40).collect::<String>()
            ));
        }
        Some(day?.midnight().assume_utc())
    };
    let given = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    let wanted = Wanted {
        from: day("from", &typed.from, 0),
        // To the end of that day.
        until: day("until", &typed.until, 1),
        who: given(&typed.who),
        action: given(&typed.action),
        object: given(&typed.object),
        before_id: query.last("before").and_then(|text| text.parse().ok()),
    };
    (typed, wanted, problems)
}

fn address(path: &str, typed: &Typed, before: Option<i64>) -> String {
    let mut query = urls::Query::new();
    for (name, value) in [
        ("who", &typed.who),
        ("action", &typed.action),
        ("object", &typed.object),
        ("from", &typed.from),
        ("until", &typed.until),
    ] {
        if !value.is_empty() {
            query.push(name, value);
        }
    }
    if let Some(before) = before {
        query.push("before", &before.to_string());
    }
    query.on(path)
}

async fn show(visit: Visit, owner: Owner, query: Pairs) -> Result<Response, Error> {
    let (typed, wanted, problems) = wanted(&query);
    let mut lines = audit::list(&mut *visit.site.db.read().await?, &wanted, ON_A_PAGE + 1).await?;
    let more = lines.len() > ON_A_PAGE as usize;
    lines.truncate(ON_A_PAGE as usize);
    let last = lines.last().map(|line| line.id).filter(|_| more);
    pages::private(&AuditPage {
        chrome: super::chrome(&visit, &owner, "Audit log"),
        problems,
        csv_url: address("/desk/audit.csv", &typed, None),
        older_url: last.map(|id| address(urls::DESK_AUDIT, &typed, Some(id))),
        lines: lines.into_iter().map(LineView::of).collect(),
        typed,
    })
}

async fn csv(visit: Visit, _owner: Owner, query: Pairs) -> Result<Response, Error> {
    let (typed, wanted, _) = wanted(&query);
    let lines = audit::list(&mut *visit.site.db.read().await?, &wanted, IN_A_FILE).await?;
    let page = address(urls::DESK_AUDIT, &typed, None);
    let mut table = Table::new("Audit log", "audit", page).with(&[
        ("number", ""),
        ("at", ""),
        ("who", ""),
        ("account", ""),
        ("via", ""),
        ("address", ""),
        ("action", ""),
        ("object", ""),
        ("detail", ""),
        ("before_sha256", ""),
        ("after_sha256", ""),
    ]);
    for line in lines {
        let at = line.at.format(&Rfc3339).map_err(Error::internal)?;
        table.rows.push(vec![
            Cell::Number(line.id as f64),
            at.into(),
            inert(line.who).into(),
            line.operator_id.map(|id| id as f64).into(),
            line.via.into(),
            line.address.into(),
            line.action.into(),
            inert(line.object).into(),
            inert(line.detail).into(),
            line.before_sha256.into(),
            line.after_sha256.into(),
        ]);
    }
    let headers = [
        (
            header::CONTENT_TYPE,
            "text/csv; charset=utf-8; header=present",
        ),
        (
            header::CONTENT_DISPOSITION,
            "attachment; filename=\"audit.csv\"",
        ),
    ];
    Ok((headers, table.csv(&visit)).into_response())
}

/// What others typed must not begin a formula where the file is opened as a spreadsheet.
fn inert(text: String) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text
    }
}
