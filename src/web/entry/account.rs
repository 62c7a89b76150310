//! `/desk/account`: one's own account: open sessions, second factor, passkeys and password.

use super::on_to;
use crate::web::filters;
use crate::{
    storage::{
        Transaction,
        audit::{self, Change},
        operators, passkeys, second_factors, sessions,
    },
    web::{
        Site,
        auth::{self, By, Client, Signed, account},
        chrome::Chrome,
        error::Error,
        extract::{Form, Path, Visit},
        format, pages,
        passkeys::Party,
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
use time::OffsetDateTime;

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
    /// Recovery codes that are left, where a second factor is asked for.
    second_factor: Option<i64>,
    passkeys: Vec<PasskeyView>,
    /// Where passkeys are possible: the address that they are bound to.
    passkey_origin: Option<String>,
    /// What a new passkey may be called.
    passkey_name: String,
    sessions: Vec<SessionView>,
}

struct PasskeyView {
    id: i64,
    name: String,
    added: String,
    used: Option<String>,
    remove_url: String,
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

async fn page(visit: &Visit, signed: &Signed, client: &Client) -> Result<AccountPage, Error> {
    let site = &visit.site;
    let now = site.clock.now();
    let mut connection = site.db.read().await?;
    let open = sessions::list(&mut connection, signed.operator_id, now).await?;
    let totp = second_factors::find(&mut connection, signed.operator_id).await?;
    let second_factor = match totp.and_then(|totp| totp.confirmed_at) {
        Some(_) => {
            Some(second_factors::recovery_codes_left(&mut connection, signed.operator_id).await?)
        }
        None => None,
    };
    let passkeys = passkeys::list(&mut connection, signed.operator_id).await?;
    drop(connection);
    Ok(AccountPage {
        chrome: super::chrome(visit, signed, "Your account").script("passkeys.js"),
        csrf: signed.csrf.clone(),
        name: signed.name.clone(),
        role: signed.role.words(),
        problem: None,
        notice: None,
        shortest_password: SHORTEST_PASSWORD,
        second_factor,
        passkeys: passkeys
            .into_iter()
            .map(|one| PasskeyView {
                id: one.id,
                name: one.name,
                added: format::moment(one.created_at),
                used: one.last_used_at.map(format::moment),
                remove_url: urls::desk_passkey_remove(one.id),
            })
            .collect(),
        passkey_origin: Party::of(visit).map(|party| party.origin),
        passkey_name: client.program.clone(),
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

async fn show(visit: Visit, signed: Signed, client: Client) -> Result<Response, Error> {
    pages::private(&page(&visit, &signed, &client).await?)
}

pub(super) const WRONG_PASSWORD: &str = "The present password is wrong; nothing was changed.";

/// Is this the password of whoever is signed in? Counts as an attempt to sign in.
///
/// # Errors
/// It was tried too often.
pub(super) async fn knows_password(
    site: &Site,
    client: &Client,
    signed: &Signed,
    password: String,
) -> Result<bool, Error> {
    site.auth.attempt(client.address, &signed.name)?;
    let right = auth::knows_password(site, signed, password).await?;
    if right {
        site.auth.succeeded(client.address, &signed.name);
    } else {
        tracing::warn!(operator_id = signed.operator_id, "wrong present password");
    }
    Ok(right)
}

/// The page of the account, which says why something was not done.
pub(super) async fn refused(
    visit: &Visit,
    signed: &Signed,
    client: &Client,
    why: impl Into<String>,
) -> Result<Response, Error> {
    let mut page = page(visit, signed, client).await?;
    page.problem = Some(why.into());
    Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
}

/// The answer to whoever does not know the password of the account they are signed in with; `None`
/// where they do.
pub(super) async fn refused_without_password(
    visit: &Visit,
    signed: &Signed,
    client: &Client,
    password: String,
) -> Result<Option<Response>, Error> {
    if knows_password(&visit.site, client, signed, password).await? {
        Ok(None)
    } else {
        refused(visit, signed, client, WRONG_PASSWORD)
            .await
            .map(Some)
    }
}

/// Ends a transaction that changed what opens an account: its other sessions end, and the audit log
/// tells of it.
pub(super) async fn commit_change_of_factors(
    mut tx: Transaction,
    signed: &Signed,
    change: Change,
    now: OffsetDateTime,
) -> Result<(), Error> {
    sessions::end_others(&mut tx, signed.operator_id, signed.session_id).await?;
    audit::write(&mut tx, &signed.who(), change, now).await?;
    Ok(tx.commit().await?)
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
    let refuse = async |why: &str| refused(&visit, &signed, &client, why).await;
    if !knows_password(site, &client, &signed, form.old).await? {
        return refuse(WRONG_PASSWORD).await;
    }
    if form.password != form.again {
        return refuse("The two new passwords differ; nothing was changed.").await;
    }
    let context = [signed.name.as_str(), site.config.site_name.as_str()];
    if let Err(why) = passwords::check_password(&form.password, &context) {
        return refuse(&why).await;
    }
    let hash = site.auth.hash(form.password).await?;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    operators::set_password(&mut tx, signed.operator_id, &hash).await?;
    let change = Change::new("account.password-set", account(&signed.name));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    let (id, name) = (signed.operator_id, &signed.name);
    let token = auth::begin_session(site, &mut tx, &client, id, name, By::Password).await?;
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
