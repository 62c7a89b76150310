//! Unlisted links to a draft's preview: made, listed and revoked at the draft; `/preview/{token}`
//! shows the draft to whoever has the link, and leads on to the unit once the draft is published.

use super::{bench_form::place_words, draft, live, on_to};
use crate::web::filters;
use crate::{
    chart::LoadAxis,
    storage::{
        audit::{self, Change},
        drafts::{self, Draft},
        photos, preview_links,
    },
    web::{
        Site,
        auth::{self, Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format,
        pages::{
            self,
            photos::{Pictures, Size, hash_of, picture, place},
            report,
            sheet::Sheet,
            unit::{AxisLink, RanksView, axis_links, axis_of},
        },
        report::{UnitReport, unit_document},
        security::CachePolicy,
        urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::{HeaderMap, header},
    response::Response,
    routing::{get, post},
};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/desk/draft/{id}/links", post(make))
        .route("/desk/draft/{id}/links/{link}/revoke", post(revoke))
        .route("/desk/draft/{id}/read", get(read))
        .route("/preview/{token}", get(preview))
        .route("/preview/{token}/photo/{file}", get(full_photo))
        .route("/preview/{token}/thumb/{file}", get(small_photo))
        .route("/preview/{token}/report.pdf", get(preview_report))
}

/// A link as its draft's page shows it.
pub struct LinkView {
    pub url: String,
    pub made: String,
    pub revoked: Option<String>,
    pub revoke_url: String,
}

impl LinkView {
    pub fn of(link: preview_links::PreviewLink, draft_id: i64, visit: &Visit) -> LinkView {
        LinkView {
            url: visit.absolute(&urls::draft_preview(&link.token)),
            made: format::moment(link.created_at),
            revoked: link.revoked_at.map(format::moment),
            revoke_url: format!("{}/links/{}/revoke", urls::desk_draft(draft_id), link.id),
        }
    }
}

#[derive(Deserialize)]
struct Confirmed {
    #[serde(default)]
    csrf: String,
}

async fn make(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let mut tx = site.db.write().await?;
    drafts::find(&mut tx, id, signed.operator_id).await?;
    let now = site.clock.now();
    let link = preview_links::insert(&mut tx, id, &auth::new_token(), now).await?;
    let change = Change::new("link.made", format!("draft {id}")).detail(format!("link {link}"));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    on_to(&format!("{}#links", urls::desk_draft(id)))
}

async fn revoke(
    visit: Visit,
    signed: Editor,
    Path((id, link)): Path<(i64, i64)>,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let mut tx = site.db.write().await?;
    drafts::find(&mut tx, id, signed.operator_id).await?;
    let now = site.clock.now();
    preview_links::revoke(&mut tx, link, id, now).await?;
    let change = Change::new("link.revoked", format!("draft {id}")).detail(format!("link {link}"));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    on_to(&format!("{}#links", urls::desk_draft(id)))
}

#[derive(Template)]
#[template(path = "entry/preview.html")]
struct PreviewPage {
    chrome: Chrome,
    title: String,
    changed: String,
    /// `None`: too little is filled in to judge anything.
    sheet: Option<Sheet>,
    /// A draft has no place among published units.
    ranks: Option<RanksView>,
    axes: Vec<AxisLink>,
    /// Problems whose values the sheet does without.
    left_aside: Vec<String>,
    /// Of a link only.
    report_url: Option<String>,
}

/// The draft as the page of a published unit would show it.
async fn preview(visit: Visit, Path(token): Path<String>, query: Pairs) -> Result<Response, Error> {
    let axis = axis_of(&query)?;
    let site = &visit.site;
    let mut connection = site.db.read().await?;
    let Some(draft) = drafts::find_by_link(&mut connection, &token).await? else {
        return match drafts::became_by_link(&mut connection, &token).await? {
            Some(slug) => on_to(&urls::unit(&slug)),
            None => Err(no_such_preview()),
        };
    };
    drop(connection);
    let pictures = |sha256: &str| Pictures {
        full: urls::draft_photo(&token, sha256),
        thumbnail: urls::draft_thumbnail(&token, sha256),
    };
    let chrome = visit.chrome("").not_indexed();
    let axes = axis_links(&urls::draft_preview(&token), axis);
    let mut page = sheet_page(site, chrome, &draft, axis, pictures, axes).await?;
    page.report_url = Some(urls::draft_report(&token));
    pages::private(&page)
}

/// Anybody's draft, for whoever may read drafts: as a link's preview, without the link.
async fn read(
    visit: Visit,
    signed: Signed,
    Path(id): Path<i64>,
    query: Pairs,
) -> Result<Response, Error> {
    let axis = axis_of(&query)?;
    let site = &visit.site;
    let draft = drafts::find_of_anybody(&mut *site.db.read().await?, id).await?;
    let pictures = |sha256: &str| Pictures {
        full: urls::desk_photo(sha256),
        thumbnail: urls::desk_thumbnail(sha256),
    };
    let chrome = super::chrome(&visit, &signed, "");
    let axes = axis_links(&urls::desk_read(id), axis);
    pages::private(&sheet_page(site, chrome, &draft, axis, pictures, axes).await?)
}

/// A draft as the page of a published unit would show it.
async fn sheet_page(
    site: &Site,
    chrome: Chrome,
    draft: &Draft,
    axis: LoadAxis,
    pictures: impl Fn(&str) -> Pictures,
    axes: Vec<AxisLink>,
) -> Result<PreviewPage, Error> {
    let fields = draft::fields_of(draft)?;
    let judgement = live::judge(site, &fields).await?;
    let title = draft::title_of(&fields);
    let mut sheet = judgement
        .judged
        .as_ref()
        .map(|judged| Sheet::of(&judged.record, &judged.evaluation, &site.method, axis));
    if let Some(sheet) = &mut sheet {
        sheet.evidence.for_tester = true;
        let mut connection = site.db.read().await?;
        place(&mut connection, &mut sheet.photos, pictures).await?;
    }
    let mut chrome = chrome.style("chart.css");
    if !chrome.styles.contains(&"entry.css") {
        chrome = chrome.style("entry.css");
    }
    chrome.title = format!("Preview: {title}");
    Ok(PreviewPage {
        chrome,
        title,
        report_url: None,
        changed: format::moment(draft.updated_at),
        sheet,
        ranks: None,
        axes,
        left_aside: judgement
            .problems
            .iter()
            .map(|problem| {
                format!(
                    "{}: {}; expected {}.",
                    place_words(&problem.path),
                    problem.value,
                    problem.expected
                )
            })
            .collect(),
    })
}

async fn full_photo(
    visit: Visit,
    Path((token, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    photo(&visit.site, &token, &file, Size::Full, &headers).await
}

async fn small_photo(
    visit: Visit,
    Path((token, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    photo(&visit.site, &token, &file, Size::Thumbnail, &headers).await
}

/// A photo of the draft behind a link, for whoever has the link; any other is not there.
async fn photo(
    site: &Site,
    token: &str,
    file: &str,
    size: Size,
    headers: &HeaderMap,
) -> Result<Response, Error> {
    let sha256 = hash_of(file)?;
    let mut connection = site.db.read().await?;
    let draft = drafts::find_by_link(&mut connection, token)
        .await?
        .ok_or_else(Error::no_page)?;
    let fields = draft::fields_of(&draft)?;
    let is_named = (0..fields.rows("photos"))
        .any(|row| fields.text(&format!("photos[{row}].sha256")).trim() == sha256);
    if !is_named {
        return Err(Error::no_page());
    }
    picture(&mut connection, sha256, size, CachePolicy::NoStore, headers).await
}

/// The draft's report, marked as one on every page.
async fn preview_report(
    visit: Visit,
    Path(token): Path<String>,
    query: Pairs,
) -> Result<Response, Error> {
    let site = &visit.site;
    let issuer = report::issuer(site, &query)?;
    let mut connection = site.db.read().await?;
    let Some(draft) = drafts::find_by_link(&mut connection, &token).await? else {
        return match drafts::became_by_link(&mut connection, &token).await? {
            Some(slug) => on_to(&urls::unit_report(&slug, None)),
            None => Err(no_such_preview()),
        };
    };
    drop(connection);
    let judgement = live::judge(site, &draft::fields_of(&draft)?).await?;
    let Some(judged) = judgement.judged else {
        return Err(Error::NotFound(
            "Too little is filled in yet for a report.".into(),
        ));
    };
    let mut connection = site.db.read().await?;
    let missing = photos::missing(&mut connection, &judged.record.photos).await?;
    drop(connection);
    let missing_photos = missing.into_iter().collect();
    let draft_report = UnitReport {
        record_text: judgement.document.value.to_string(),
        record: judged.record,
        evaluation: judged.evaluation,
        method: site.method.clone(),
        issuer,
        publication: None,
        draft_saved_at: Some(draft.updated_at),
        photos: report::photos_of(&site.db),
        missing_photos,
    };
    let bytes = report::built(site, move || Ok(unit_document(&draft_report))).await?;
    let mut response = report::file(bytes, "draft.pdf")?;
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, CachePolicy::NoStore.header());
    Ok(response)
}

fn no_such_preview() -> Error {
    Error::NotFound(
        "This preview is not there: its link was revoked, or the draft was discarded.".into(),
    )
}
