//! `/desk/draft/{id}/publish`: the last look before a record becomes public, and the step itself.
//!
//! Unit, revision, evaluation and ranking row are written, and the draft is taken away, in one
//! transaction. Sending the form again leads to the unit that the draft became.

use super::{
    draft::{self, fields_of, title_of},
    live::{self, Panel},
    on_to,
};
use crate::web::filters;
use crate::{
    intake::submit::{self, Change, Submission, SubmitError, Target},
    storage::{self, audit, candidates, drafts, units},
    web::{
        Site,
        auth::{Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Path, Visit},
        pages, urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::get,
};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new().route("/desk/draft/{id}/publish", get(ask).post(publish))
}

#[derive(Template)]
#[template(path = "entry/publish.html")]
struct PublishPage {
    chrome: Chrome,
    csrf: String,
    id: i64,
    version: i64,
    /// Number of the revision that this one would follow; 0 for a new unit.
    follows: i64,
    title: String,
    reason: String,
    revises: bool,
    /// Nothing stands against publishing.
    ready: bool,
    problem: Option<Refusal>,
    panel: Panel,
}

struct Refusal {
    text: String,
    url: Option<String>,
}

const FIRST_REASON: &str = "first publication";

async fn ask(visit: Visit, signed: Editor, Path(id): Path<i64>) -> Result<Response, Error> {
    let page = page(&visit, &signed, id, None, None).await?;
    match page {
        Some(page) => pages::private(&page),
        None => became(&visit.site, id, &signed).await,
    }
}

/// `None`: the draft is not there any more.
async fn page(
    visit: &Visit,
    signed: &Signed,
    id: i64,
    reason: Option<String>,
    problem: Option<Refusal>,
) -> Result<Option<PublishPage>, Error> {
    let site = &visit.site;
    let found = drafts::find(&mut *site.db.read().await?, id, signed.operator_id).await;
    let draft = match found {
        Err(storage::Error::NotFound) => return Ok(None),
        other => other?,
    };
    let follows = match draft.unit_id {
        Some(unit_id) => newest_revision(&mut *site.db.read().await?, unit_id).await?,
        None => 0,
    };
    let fields = fields_of(&draft)?;
    let judgement = live::judge(site, &fields).await?;
    let known = live::already_known(site, &fields, &draft).await?;
    let revises = draft.unit_id.is_some();
    Ok(Some(PublishPage {
        chrome: super::chrome(visit, signed, "Publish"),
        csrf: signed.csrf.clone(),
        id,
        version: draft.version,
        follows,
        title: title_of(&fields),
        reason: reason.unwrap_or(if revises {
            String::new()
        } else {
            FIRST_REASON.to_owned()
        }),
        revises,
        ready: judgement.is_clean(),
        problem,
        panel: live::panel(&judgement, known, &site.method),
    }))
}

/// Number of a published unit's newest revision.
async fn newest_revision(
    connection: &mut storage::Connection,
    unit_id: i64,
) -> Result<i64, storage::Error> {
    Ok(units::newest_record_text(connection, unit_id)
        .await?
        .revision
        .number)
}

/// To the unit that the draft became.
async fn became(site: &Site, id: i64, signed: &Signed) -> Result<Response, Error> {
    let slug = drafts::became(&mut *site.db.read().await?, id, signed.operator_id).await?;
    match slug {
        Some(slug) => on_to(&urls::unit(&slug)),
        None => Err(Error::NotFound(
            "There is no such draft: it was published or discarded, or it is another operator's."
                .into(),
        )),
    }
}

#[derive(Deserialize)]
struct Publish {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    version: i64,
    #[serde(default)]
    follows: i64,
    #[serde(default)]
    reason: String,
}

async fn publish(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(form): Form<Publish>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let reason = form.reason.trim().to_owned();
    let refuse = async |text: &str, url: Option<String>| {
        let problem = Refusal {
            text: text.to_owned(),
            url,
        };
        match page(&visit, &signed, id, Some(reason.clone()), Some(problem)).await? {
            Some(page) => {
                Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
            }
            None => became(site, id, &signed).await,
        }
    };
    let found = drafts::find(&mut *site.db.read().await?, id, signed.operator_id).await;
    let seen = match found {
        Err(storage::Error::NotFound) => return became(site, id, &signed).await,
        other => other?,
    };
    if !(1..=500).contains(&reason.chars().count()) {
        return refuse(
            "Say in 1 to 500 characters why: it stands in the public history.",
            None,
        )
        .await;
    }
    if seen.version != form.version {
        return refuse(
            "The draft was changed since this page was opened. Look at it once more.",
            None,
        )
        .await;
    }
    let judgement = live::judge(site, &fields_of(&seen)?).await?;
    let Some(judged) = judgement.judged.filter(|_| judgement.problems.is_empty()) else {
        return refuse(
            "The record has problems that must be mended first.",
            Some(urls::desk_draft(id)),
        )
        .await;
    };
    let text = serde_json::to_string_pretty(&judgement.document.value).map_err(Error::internal)?;

    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let present = match drafts::find(&mut tx, id, signed.operator_id).await {
        Err(storage::Error::NotFound) => {
            drop(tx);
            return became(site, id, &signed).await;
        }
        other => other?,
    };
    if present.version != seen.version {
        drop(tx);
        return refuse(
            "The draft was changed just now. Look at it once more.",
            None,
        )
        .await;
    }
    if let Some(unit_id) = present.unit_id
        && newest_revision(&mut tx, unit_id).await? != form.follows
    {
        drop(tx);
        return refuse(
            "Another revision of this unit was published since this page was opened. Look at what it says, then publish yours if it still holds.",
            None,
        )
        .await;
    }
    let target = match present.unit_id {
        Some(unit_id) => Target::Revise(units::find_by_id(&mut tx, unit_id).await?.slug),
        None => Target::New,
    };
    let submission = Submission {
        text: &text,
        target,
        author: &signed.name,
        reason: &reason,
        now,
    };
    let submitted = match submit::store(&mut tx, &signed.who(), &submission, judged, &site.method)
        .await
    {
        Ok(submitted) => submitted,
        Err(SubmitError::AlreadyTested { slug }) => {
            drop(tx);
            let text = "This maker, model and sample are published already. Revise that unit, or give this sample another name.";
            return refuse(text, Some(urls::desk_unit(&slug))).await;
        }
        Err(SubmitError::Storage(cause)) => return Err(cause.into()),
        Err(other) => return Err(Error::internal(other)),
    };
    if present.unit_id.is_some() && submitted.change == Change::Unchanged {
        drop(tx);
        let text = "Nothing differs from what is published, so there is no revision to add. Change the draft, or discard it.";
        return refuse(text, Some(urls::desk_draft(id))).await;
    }
    candidates::become_unit(&mut tx, id, submitted.unit_id, &signed.name, now).await?;
    drafts::become_unit(&mut tx, id, signed.operator_id, submitted.unit_id, now).await?;
    let change = audit::Change::new("draft.published", format!("draft {id}"))
        .before(&present.fields)
        .detail(format!("unit {}", submitted.slug));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    site.refresh().await?;
    tracing::info!(
        slug = submitted.slug,
        revision = submitted.revision,
        "published"
    );
    on_to(&urls::unit(&submitted.slug))
}

/// A draft of the newest record of a published unit.
pub async fn begin_revision(site: &Site, signed: &Signed, slug: &str) -> Result<Response, Error> {
    let mut connection = site.db.read().await?;
    let unit = units::find_by_slug(&mut connection, slug).await?;
    let newest = units::newest_record_text(&mut connection, unit.id).await?;
    drop(connection);
    let document = serde_json::from_str(&newest.text).map_err(Error::internal)?;
    let mut fields = crate::intake::form::fields(&document);
    if fields.rows("runs") == 0 {
        fields.set("runs[0].name", "");
        super::bench_form::offer_points(&mut fields, 0);
    }
    let id = draft::insert(site, signed, Some(unit.id), &fields).await?;
    on_to(&urls::desk_draft(id))
}
