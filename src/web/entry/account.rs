//! `/desk/account`: one's own account: password and open sessions.

use super::on_to;
use crate::web::filters;
use crate::{
    storage::{
        audit::{self, Change},
        operators, sessions,
    },
    web::{
        Site,
        auth::{self, Client, Signed, account},
        chrome::Chrome,
        error::Error,
        extract::{Form, Path, Visit},
        format, pages,
        passwords::{self, SHORTEST_PASSWORD},
        urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::{get, post},
};
use axum_extra::extract::CookieJar;
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_ACCOUNT, get(show))
        .route("/desk/account/password", post(change_password))
        .route("/desk/account/sessions/end", post(end_others))
        .route("/desk/account/sessions/{id}/end", post(end_one))
}

#[derive(Template)]
#[template(path = "entry/account.html")]
struct AccountPage {
    chrome: Chrome,
    csrf: String,
    name: String,
    role: &'static str,
    problem: Option<String>,
    notice: Option<&'static str>,
    shortest_password: usize,
    sessions: Vec<SessionView>,
}

struct SessionView {
    own: bool,
    client: String,
    address: String,
    began: String,
    used: String,
    until: String,
    end_url: String,
}

async fn page(visit: &Visit, signed: &Signed) -> Result<AccountPage, Error> {
    let site = &visit.site;
    let now = site.clock.now();
    let open = sessions::list(&mut *site.db.read().await?, signed.operator_id, now).await?;
    Ok(AccountPage {
        chrome: super::chrome(visit, signed, "Your account"),
        csrf: signed.csrf.clone(),
        name: signed.name.clone(),
        role: signed.role.words(),
        problem: None,
        notice: None,
        shortest_password: SHORTEST_PASSWORD,
        sessions: open
            .into_iter()
            .map(|one| SessionView {
                own: one.id == signed.session_id,
                client: one.client,
                address: one.address.unwrap_or_default(),
                began: format::moment(one.created_at),
                used: format::moment(one.used_at),
                until: format::moment(one.expires_at),
                end_url: format!("/desk/account/sessions/{}/end", one.id),
            })
            .collect(),
    })
}

async fn show(visit: Visit, signed: Signed) -> Result<Response, Error> {
    pages::private(&page(&visit, &signed).await?)
}

#[derive(Deserialize)]
struct NewPassword {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    old: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    again: String,
}

/// Needs the old password. All other sessions end, and this one goes on under another token.
async fn change_password(
    visit: Visit,
    signed: Signed,
    client: Client,
    jar: CookieJar,
    Form(form): Form<NewPassword>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    site.auth.attempt(client.address, &signed.name)?;
    let refuse = async |why: String| {
        let mut page = page(&visit, &signed).await?;
        page.problem = Some(why);
        Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
    };
    if !auth::knows_password(site, &signed, form.old).await? {
        tracing::warn!(operator_id = signed.operator_id, "wrong old password");
        return refuse("The present password is wrong; nothing was changed.".into()).await;
    }
    site.auth.succeeded(client.address, &signed.name);
    if form.password != form.again {
        return refuse("The two new passwords differ; nothing was changed.".into()).await;
    }
    let context = [signed.name.as_str(), site.config.site_name.as_str()];
    if let Err(why) = passwords::check_password(&form.password, &context) {
        return refuse(why).await;
    }
    let hash = site.auth.hash(form.password).await?;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    operators::set_password(&mut tx, signed.operator_id, &hash).await?;
    let change = Change::new("account.password-set", account(&signed.name));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    let token =
        auth::begin_session(site, &mut tx, &client, signed.operator_id, &signed.name).await?;
    tx.commit().await?;
    Ok((
        jar.add(auth::session_cookie(site, token)),
        on_to(urls::DESK_ACCOUNT)?,
    )
        .into_response())
}

#[derive(Deserialize)]
struct Confirmed {
    #[serde(default)]
    csrf: String,
}

async fn end_one(
    visit: Visit,
    signed: Signed,
    Path(id): Path<i64>,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let mut tx = visit.site.db.write().await?;
    sessions::end_one(&mut tx, id, signed.operator_id).await?;
    let change = Change::new("session.ended", account(&signed.name));
    audit::write(&mut tx, &signed.who(), change, visit.site.clock.now()).await?;
    tx.commit().await?;
    on_to(urls::DESK_ACCOUNT)
}

/// Signs out everywhere else.
async fn end_others(
    visit: Visit,
    signed: Signed,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let mut tx = visit.site.db.write().await?;
    let ended = sessions::end_others(&mut tx, signed.operator_id, signed.session_id).await?;
    let change = Change::new("sessions.ended", account(&signed.name))
        .detail(format!("{ended} but the present one"));
    audit::write(&mut tx, &signed.who(), change, visit.site.clock.now()).await?;
    tx.commit().await?;
    on_to(urls::DESK_ACCOUNT)
}
