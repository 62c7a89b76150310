//! `/desk/logs/layouts`: how the logs of each instrument are read, saved under a name for the next
//! one with the same headings.

use super::super::on_to;
use crate::web::filters;
use crate::{
    bench::record::Layout,
    storage::{
        audit::{self, Change},
        logs as stored,
    },
    web::{
        Site,
        auth::Editor,
        chrome::Chrome,
        error::Error,
        extract::{Form, Visit},
        format, pages, urls,
    },
};
use askama::Template;
use axum::{
    Router,
    response::Response,
    routing::{get, post},
};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_LOG_LAYOUTS, get(list))
        .route(&format!("{}/forget", urls::DESK_LOG_LAYOUTS), post(forget))
}

#[derive(Template)]
#[template(path = "entry/logs_layouts.html")]
struct LayoutsPage {
    chrome: Chrome,
    csrf: String,
    layouts: Vec<LayoutLine>,
}

struct LayoutLine {
    name: String,
    headings: String,
    columns: String,
}

async fn list(visit: Visit, signed: Editor) -> Result<Response, Error> {
    let saved = stored::saved_layouts(&mut *visit.site.db.read().await?).await?;
    pages::private(&LayoutsPage {
        chrome: super::super::chrome(&visit, &signed, "Saved layouts"),
        csrf: signed.csrf.clone(),
        layouts: saved
            .into_iter()
            .map(|saved| LayoutLine {
                headings: serde_json::from_str::<Vec<String>>(&saved.headings)
                    .unwrap_or_default()
                    .join(" | "),
                columns: serde_json::from_str::<Layout>(&saved.layout)
                    .map(|layout| columns_in_words(&layout))
                    .unwrap_or_default(),
                name: saved.name,
            })
            .collect(),
    })
}

/// "2: input power, 3: input current".
fn columns_in_words(layout: &Layout) -> String {
    layout
        .columns
        .iter()
        .map(|column| {
            let (name, _) = format::log_quantity(column.quantity);
            format!("{}: {name}", column.column)
        })
        .collect::<Vec<_>>()
        .join(", ")
}

#[derive(Deserialize)]
struct Forget {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    name: String,
}

async fn forget(visit: Visit, signed: Editor, Form(form): Form<Forget>) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let mut tx = visit.site.db.write().await?;
    stored::forget_layout(&mut tx, &form.name).await?;
    let change = Change::new("layout.forgotten", format!("layout {}", form.name));
    audit::write(&mut tx, &signed.who(), change, visit.site.clock.now()).await?;
    tx.commit().await?;
    on_to(urls::DESK_LOG_LAYOUTS)
}
