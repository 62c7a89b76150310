//! `/desk/draft/{id}`: the bench form of one draft, saved while it is typed.
//!
//! What is sent is stored exactly as typed before anything else is done with it. A page names
//! the version it began from; if another page has saved since, nothing is stored, what was typed is
//! shown again, and the tester chooses which one stays.

use super::{
    bench_form::{self, BenchForm, Pressed, Problems, id_of},
    bench_ports,
    live::{self, Panel},
    on_to,
    preview_links::LinkView,
};
use crate::web::filters;
use crate::{
    intake::form::{self, Fields},
    storage::{
        self,
        audit::{self, Change},
        candidates,
        drafts::{self, Draft, Save, Saved},
        photos::{self, Photo},
        preview_links, units,
    },
    web::{
        Site,
        auth::{self, Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format, pages, urls,
    },
};
use askama::Template;
use axum::{
    Json, Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::{get, post},
};
use serde::Deserialize;
use std::collections::BTreeMap;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_DRAFTS, post(begin))
        .route("/desk/draft/{id}", get(show).post(change))
        .route("/desk/draft/{id}/autosave", post(autosave))
        .route("/desk/draft/{id}/discard", get(ask_discard).post(discard))
}

#[derive(Template)]
#[template(path = "entry/draft.html")]
struct DraftPage {
    chrome: Chrome,
    csrf: String,
    id: i64,
    title: String,
    version: i64,
    editor: String,
    saved: String,
    /// Another page saved since.
    conflict: Option<Conflict>,
    /// Something to say about what was just done.
    notice: Option<String>,
    /// Slug of the unit that this revises.
    revises: Option<String>,
    form: BenchForm,
    panel: Panel,
    links: Vec<LinkView>,
}

pub(super) struct Conflict {
    pub saved: String,
}

#[derive(Deserialize)]
struct Begin {
    #[serde(default)]
    csrf: String,
}

/// `POST /desk/draft`: a new record.
async fn begin(visit: Visit, signed: Editor, Form(form): Form<Begin>) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let last = drafts::last_published_record(&mut *site.db.read().await?, &signed.name).await?;
    let last = last.and_then(|text| serde_json::from_str(&text).ok());
    let fields = bench_form::offered(last.as_ref());
    let id = insert(site, &signed, None, &fields).await?;
    on_to(&focused(id, "unit.maker"))
}

/// Begins a draft with these fields.
pub async fn insert(
    site: &Site,
    signed: &Signed,
    unit_id: Option<i64>,
    fields: &Fields,
) -> Result<i64, Error> {
    let text = serde_json::to_string(fields).map_err(Error::internal)?;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let id = drafts::insert(&mut tx, signed.operator_id, unit_id, &text, now).await?;
    let change = Change::new("draft.begun", format!("draft {id}")).after(&text);
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    Ok(id)
}

/// The texts of a stored draft.
pub fn fields_of(draft: &Draft) -> Result<Fields, Error> {
    serde_json::from_str(&draft.fields).map_err(Error::internal)
}

/// The page of a draft with the caret in a field.
pub fn focused(id: i64, path: &str) -> String {
    urls::Query::new()
        .with("focus", path)
        .on(&urls::desk_draft(id))
}

/// The operator's own draft.
pub async fn find(site: &Site, id: i64, signed: &Signed) -> Result<Draft, Error> {
    match drafts::find(&mut *site.db.read().await?, id, signed.operator_id).await {
        Err(storage::Error::NotFound) => Err(Error::NotFound(
            "There is no such draft: it was published or discarded, or it is another operator's."
                .into(),
        )),
        other => Ok(other?),
    }
}

async fn show(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    query: Pairs,
) -> Result<Response, Error> {
    let draft = find(&visit.site, id, &signed).await?;
    let fields = fields_of(&draft)?;
    let page = page(&visit, &signed, &draft, &fields, query.last("focus")).await?;
    pages::private(&page)
}

async fn page(
    visit: &Visit,
    signed: &Signed,
    draft: &Draft,
    fields: &Fields,
    focus: Option<&str>,
) -> Result<DraftPage, Error> {
    let site = &visit.site;
    let judgement = live::judge(site, fields).await?;
    let known = live::already_known(site, fields, draft).await?;
    let title = title_of(fields);
    let mut connection = site.db.read().await?;
    let revises = match draft.unit_id {
        Some(unit_id) => Some(units::find_by_id(&mut connection, unit_id).await?.slug),
        None => None,
    };
    let links = preview_links::list(&mut connection, draft.id).await?;
    let mut form = bench_form::view(fields, &problems_of(&judgement, fields), focus);
    for row in &mut form.photos {
        row.at_hand = match photos::find(&mut connection, &row.sha256).await {
            Ok(_) => true,
            Err(storage::Error::NotFound) => false,
            Err(other) => return Err(other.into()),
        };
    }
    Ok(DraftPage {
        chrome: super::chrome(visit, signed, title.clone())
            .script("entry.js")
            .script("photos.js"),
        csrf: signed.csrf.clone(),
        id: draft.id,
        title,
        version: draft.version,
        editor: auth::new_token(),
        saved: format::moment(draft.updated_at),
        conflict: None,
        notice: None,
        revises,
        form,
        panel: live::panel(&judgement, known, &site.method),
        links: links
            .into_iter()
            .map(|link| LinkView::of(link, draft.id, visit))
            .collect(),
    })
}

/// What is wrong, by field: with the record, and with lists that wait to be read.
fn problems_of(judgement: &live::Judgement, fields: &Fields) -> Problems {
    let mut problems = judgement.by_field();
    problems.extend(bench_ports::problems(fields));
    problems
}

/// "Larkfield LF-20", or what can be said so far.
pub fn title_of(fields: &Fields) -> String {
    let parts =
        ["unit.maker", "unit.model", "unit.sample"].map(|path| fields.text(path).trim().to_owned());
    let named: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    if named.is_empty() {
        "Untitled record".to_owned()
    } else {
        named.join(" ")
    }
}

/// A bench form as it was sent.
pub(super) struct Sent {
    pub csrf: String,
    pub version: i64,
    editor: String,
    editor_save: i64,
    pub action: String,
    pub fields: Fields,
}

impl Sent {
    /// # Errors
    /// The form is cut short: storing it would lose fields.
    pub fn read(pairs: Vec<(String, String)>) -> Result<Sent, Error> {
        let mut sent = Sent {
            csrf: String::new(),
            version: 0,
            editor: String::new(),
            editor_save: 0,
            action: String::new(),
            fields: Fields::new(),
        };
        let mut whole = false;
        for (name, value) in pairs {
            match name.as_str() {
                "csrf" => sent.csrf = value,
                "version" => sent.version = value.parse().unwrap_or(0),
                "editor" => sent.editor = value.chars().take(64).collect(),
                "editor_save" => sent.editor_save = value.parse().unwrap_or(0),
                "action" => sent.action = value,
                // The last field of the form.
                "whole" => whole = true,
                path if form::is_field(path) => sent.fields.set(path, value.replace("\r\n", "\n")),
                _ => {}
            }
        }
        if !whole {
            return Err(Error::Invalid(
                "The form arrived cut short, so nothing was changed. Please send it again.".into(),
            ));
        }
        Ok(sent)
    }

    fn save(&self) -> Save<'_> {
        Save {
            version: self.version,
            editor: &self.editor,
            editor_save: self.editor_save,
        }
    }
}

pub(super) async fn store(
    site: &Site,
    id: i64,
    signed: &Signed,
    sent: &Sent,
) -> Result<Saved, Error> {
    let text = serde_json::to_string(&sent.fields).map_err(Error::internal)?;
    let mut tx = site.db.write().await?;
    let now = site.clock.now();
    let saved = drafts::save(&mut tx, id, signed.operator_id, sent.save(), &text, now).await?;
    if matches!(saved, Saved::Version(_)) {
        audit::write_draft_save(&mut tx, &signed.who(), id, &sent.editor, &text, now).await?;
    }
    tx.commit().await?;
    Ok(saved)
}

/// A button of the form was pressed: save all that stands there, with the rows as the button wants
/// them.
async fn change(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    changed(visit, signed, id, pairs, bench_form::press).await
}

/// The form with photos that were sent along: `taken` are put into it, `refused` are told.
pub async fn with_photos(
    visit: Visit,
    signed: Editor,
    id: i64,
    pairs: Vec<(String, String)>,
    taken: &[Photo],
    refused: &[String],
) -> Result<Response, Error> {
    changed(visit, signed, id, pairs, |fields, _| {
        Some(bench_form::add_photos(fields, taken, refused))
    })
    .await
}

async fn changed(
    visit: Visit,
    signed: Editor,
    id: i64,
    pairs: Vec<(String, String)>,
    press: impl FnOnce(&mut Fields, &str) -> Option<Result<Pressed, String>>,
) -> Result<Response, Error> {
    let site = &visit.site;
    let mut sent = Sent::read(pairs)?;
    let draft = find(site, id, &signed).await?;
    if !signed.sent(&sent.csrf) {
        // Signed in anew meanwhile: what was typed is shown again, with the present token.
        let mut page = page(&visit, &signed, &draft, &sent.fields, None).await?;
        page.version = sent.version;
        page.notice = Some("You have signed in again since this page was opened, so it is not saved yet. Press “Save and evaluate” once more.".into());
        return Ok((StatusCode::FORBIDDEN, pages::private(&page)?).into_response());
    }
    if sent.action == "as-new" {
        let id = insert(site, &signed, draft.unit_id, &sent.fields).await?;
        return on_to(&urls::desk_draft(id));
    }
    let pressed = press(&mut sent.fields, &sent.action);
    match store(site, id, &signed, &sent).await? {
        Saved::Version(_) => match pressed {
            Some(Ok(Pressed { focus, said: None })) => on_to(&focused(id, &focus)),
            Some(Ok(Pressed { focus, said })) => {
                let draft = find(site, id, &signed).await?;
                let mut page = page(&visit, &signed, &draft, &sent.fields, Some(&focus)).await?;
                page.notice = said;
                pages::private(&page)
            }
            Some(Err(why)) => {
                let draft = find(site, id, &signed).await?;
                // The text that could not be read is where typing goes on.
                let waiting = sent
                    .action
                    .split_once(':')
                    .map(|(_, path)| format!("{path}.{}", form::PASTED));
                let focus = waiting.as_deref();
                let mut page = page(&visit, &signed, &draft, &sent.fields, focus).await?;
                page.notice = Some(why);
                Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
            }
            None if sent.action == "publish" => on_to(&urls::desk_publish(id)),
            None if sent.action == "sharing" => on_to(&urls::desk_sharing(id)),
            None => on_to(&urls::desk_draft(id)),
        },
        Saved::NewerExists {
            version,
            updated_at,
        } => {
            let mut page = page(&visit, &signed, &draft, &sent.fields, None).await?;
            page.version = version;
            page.conflict = Some(Conflict {
                saved: format::moment(updated_at),
            });
            Ok((StatusCode::CONFLICT, pages::private(&page)?).into_response())
        }
    }
}

/// What the script is told of a save.
#[derive(serde::Serialize)]
struct Acknowledged {
    version: i64,
    panel: String,
    problems: Problems,
    targets: BTreeMap<String, String>,
}

/// Saves while somebody types. Acknowledged only after the commit.
async fn autosave(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let site = &visit.site;
    let sent = Sent::read(pairs)?;
    if !signed.sent(&sent.csrf) {
        // Our own page may learn the present token; another site's cannot read this answer.
        let token = serde_json::json!({ "csrf": signed.csrf });
        return Ok((StatusCode::FORBIDDEN, Json(token)).into_response());
    }
    match store(site, id, &signed, &sent).await? {
        Saved::Version(version) => {
            let draft = find(site, id, &signed).await?;
            let judgement = live::judge(site, &sent.fields).await?;
            let known = live::already_known(site, &sent.fields, &draft).await?;
            let problems = problems_of(&judgement, &sent.fields)
                .into_iter()
                .map(|(path, text)| (id_of(&path), text))
                .collect();
            Ok(Json(Acknowledged {
                version,
                panel: live::panel(&judgement, known, &site.method).render()?,
                problems,
                targets: bench_form::targets(&sent.fields),
            })
            .into_response())
        }
        Saved::NewerExists {
            version,
            updated_at,
        } => {
            let newer =
                serde_json::json!({ "version": version, "saved": format::moment(updated_at) });
            Ok((StatusCode::CONFLICT, Json(newer)).into_response())
        }
    }
}

#[derive(Template)]
#[template(path = "entry/discard.html")]
struct DiscardPage {
    chrome: Chrome,
    csrf: String,
    id: i64,
    title: String,
}

async fn ask_discard(visit: Visit, signed: Editor, Path(id): Path<i64>) -> Result<Response, Error> {
    let draft = find(&visit.site, id, &signed).await?;
    pages::private(&DiscardPage {
        chrome: super::chrome(&visit, &signed, "Discard a draft"),
        csrf: signed.csrf.clone(),
        id,
        title: title_of(&fields_of(&draft)?),
    })
}

async fn discard(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(form): Form<Begin>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let mut tx = visit.site.db.write().await?;
    let now = visit.site.clock.now();
    candidates::leave_the_bench(&mut tx, id, &signed.name, now).await?;
    let draft = drafts::find(&mut tx, id, signed.operator_id).await?;
    drafts::delete(&mut tx, id, signed.operator_id).await?;
    let change = Change::new("draft.discarded", format!("draft {id}")).before(&draft.fields);
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    visit.site.refresh().await?;
    on_to(urls::DESK)
}
