//! Passkeys. `/sign-in/passkey`: whoever has one signs in with it alone. `/desk/account/passkeys`:
//! those of one's own account, added and removed with the password. A script of ours sends JSON, as
//! only a script can ask the browser for a passkey.

use super::{account, on_to};
use crate::{
    storage::{
        self,
        audit::{self, Change},
        passkeys,
    },
    web::{
        Site,
        auth::{self, By, Client, PASSKEY_COOKIE, Signed},
        error::Error,
        extract::{Form, Json, Path, Visit},
        passkeys::{MOST_PASSKEYS, Party},
        passwords, urls,
    },
};
use axum::{
    Router,
    response::{IntoResponse, Response},
    routing::post,
};
use axum_extra::extract::CookieJar;
use serde::Deserialize;
use webauthn_rs::prelude::{
    DiscoverableAuthentication, Passkey, PublicKeyCredential, RegisterPublicKeyCredential,
};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/sign-in/passkey/begin", post(begin_sign_in))
        .route(urls::SIGN_IN_PASSKEY, post(sign_in))
        .route("/desk/account/passkeys/begin", post(begin_adding))
        .route(urls::DESK_PASSKEYS, post(add))
        .route("/desk/account/passkeys/{id}/remove", post(remove))
}

/// Where the page goes after what a script did.
fn on(path: &str) -> Response {
    axum::Json(serde_json::json!({ "to": path })).into_response()
}

fn over() -> Error {
    Error::Unprocessable(
        "This took longer than five minutes, was sent twice, or was begun by somebody else, so nothing was changed. Begin again."
            .into(),
    )
}

fn no_credential() -> Error {
    Error::Unprocessable(
        "credential: nothing; expected what the browser made of the passkey.".into(),
    )
}

// ---- signing in ----

#[derive(Deserialize)]
struct BeginSignIn {
    #[serde(default)]
    csrf: String,
}

async fn begin_sign_in(
    visit: Visit,
    client: Client,
    jar: CookieJar,
    Json(sent): Json<BeginSignIn>,
) -> Result<Response, Error> {
    let site = &visit.site;
    auth::check_form_token(site, &jar, &sent.csrf)?;
    // Each beginning is good for one end, which need not be counted again.
    site.auth.attempt_from(client.address)?;
    let (options, state) = Party::needed(&visit)?.begin_sign_in()?;
    let token = site.auth.passkeys.signing_in.begin(state, site.clock.now());
    let jar = jar.add(auth::underway_cookie(site, PASSKEY_COOKIE, token));
    Ok((jar, axum::Json(options)).into_response())
}

#[derive(Deserialize)]
struct SignIn {
    #[serde(default)]
    csrf: String,
    next: Option<String>,
    credential: Option<PublicKeyCredential>,
}

async fn sign_in(
    visit: Visit,
    client: Client,
    jar: CookieJar,
    Json(sent): Json<SignIn>,
) -> Result<Response, Error> {
    let site = &visit.site;
    auth::check_form_token(site, &jar, &sent.csrf)?;
    let party = Party::needed(&visit)?;
    let credential = sent.credential.ok_or_else(no_credential)?;
    let now = site.clock.now();
    let state = auth::underway_token(site, &jar, PASSKEY_COOKIE)
        .and_then(|token| site.auth.passkeys.signing_in.take(&token, now))
        .ok_or_else(over)?;
    let state = DiscoverableAuthentication::clone(&state);
    let mut tx = site.db.write().await?;
    let Some((opening, passkey)) = opens(&party, &mut tx, &credential, state).await? else {
        drop(tx);
        tracing::warn!(address = %client.address, "passkey refused");
        return Err(Error::Unprocessable(
            "This passkey opens no account here. Sign in with name and password.".into(),
        ));
    };
    let text = serde_json::to_string(&passkey).map_err(Error::internal)?;
    passkeys::used(&mut tx, opening.id, &text, now).await?;
    let (id, name) = (opening.operator_id, &opening.operator_name);
    let by = By::Passkey(&opening.name);
    let token = auth::begin_session(site, &mut tx, &client, id, name, by).await?;
    tx.commit().await?;
    auth::end_session(site, &jar).await?;
    let jar = jar
        .add(auth::no_underway_cookie(site, PASSKEY_COOKIE))
        .add(auth::session_cookie(site, token));
    Ok((jar, on(auth::next_page(sent.next.as_deref()))).into_response())
}

/// The account that this passkey opens, and the passkey after this use. Read and stored within one
/// transaction, so that no two uses count the same.
async fn opens(
    party: &Party,
    tx: &mut storage::Connection,
    credential: &PublicKeyCredential,
    state: DiscoverableAuthentication,
) -> Result<Option<(passkeys::Opening, Passkey)>, Error> {
    let Some((handle, id)) = party.who_signs(credential) else {
        return Ok(None);
    };
    let opening = passkeys::opening(tx, id).await?;
    let Some(opening) = opening.filter(|opening| opening.handle == handle) else {
        return Ok(None);
    };
    let stored: Passkey = serde_json::from_str(&opening.credential).map_err(Error::internal)?;
    match party.finish_sign_in(credential, state, stored) {
        Ok(passkey) => Ok(Some((opening, passkey))),
        Err(cause) => {
            tracing::warn!(operator_id = opening.operator_id, %cause, "what a passkey signed does not hold");
            Ok(None)
        }
    }
}

// ---- one's own account ----

#[derive(Deserialize)]
struct BeginAdding {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    password: String,
}

async fn begin_adding(
    visit: Visit,
    signed: Signed,
    client: Client,
    jar: CookieJar,
    Json(sent): Json<BeginAdding>,
) -> Result<Response, Error> {
    signed.check(&sent.csrf)?;
    let site = &visit.site;
    let party = Party::needed(&visit)?;
    let name = sent.name.trim();
    passwords::check_name(name).map_err(Error::Unprocessable)?;
    if !account::knows_password(site, &client, &signed, sent.password).await? {
        return Err(Error::Unprocessable(account::WRONG_PASSWORD.into()));
    }
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let known = passkeys::list(&mut tx, signed.operator_id).await?;
    if known.len() >= MOST_PASSKEYS {
        return Err(Error::Unprocessable(format!(
            "There are {MOST_PASSKEYS} passkeys already, which is the most. Remove one first."
        )));
    }
    let handle = passkeys::handle(&mut tx, signed.operator_id, auth::random()).await?;
    let change = Change::new("passkey.begun", auth::account(&signed.name)).detail(name);
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    let known = known.into_iter().map(|one| one.credential_id).collect();
    let (options, adding) =
        party.begin_adding(handle, &signed.name, known, signed.session_id, name)?;
    let token = site.auth.passkeys.adding.begin(adding, now);
    let jar = jar.add(auth::underway_cookie(site, PASSKEY_COOKIE, token));
    Ok((jar, axum::Json(options)).into_response())
}

#[derive(Deserialize)]
struct Add {
    #[serde(default)]
    csrf: String,
    credential: Option<RegisterPublicKeyCredential>,
}

/// The device has made it: from now on it opens the account. All other sessions end.
async fn add(
    visit: Visit,
    signed: Signed,
    jar: CookieJar,
    Json(sent): Json<Add>,
) -> Result<Response, Error> {
    signed.check(&sent.csrf)?;
    let site = &visit.site;
    let party = Party::needed(&visit)?;
    let credential = sent.credential.ok_or_else(no_credential)?;
    let now = site.clock.now();
    let adding = auth::underway_token(site, &jar, PASSKEY_COOKIE)
        .and_then(|token| site.auth.passkeys.adding.take(&token, now))
        .filter(|adding| adding.session_id == signed.session_id)
        .ok_or_else(over)?;
    let passkey = party.finish_adding(&credential, &adding)?;
    let text = serde_json::to_string(&passkey).map_err(Error::internal)?;
    let new = passkeys::New {
        operator_id: signed.operator_id,
        credential_id: passkey.cred_id(),
        credential: &text,
        name: &adding.name,
    };
    let mut tx = site.db.write().await?;
    passkeys::insert(&mut tx, &new, now).await?;
    let change = Change::new("passkey.added", auth::account(&signed.name)).detail(&adding.name);
    account::commit_change_of_factors(tx, &signed, change, now).await?;
    let jar = jar.add(auth::no_underway_cookie(site, PASSKEY_COOKIE));
    Ok((jar, on(urls::DESK_ACCOUNT)).into_response())
}

#[derive(Deserialize)]
struct Remove {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    password: String,
}

async fn remove(
    visit: Visit,
    signed: Signed,
    client: Client,
    Path(id): Path<i64>,
    Form(form): Form<Remove>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    if let Some(refused) =
        account::refused_without_password(&visit, &signed, &client, form.password).await?
    {
        return Ok(refused);
    }
    let mut tx = site.db.write().await?;
    let name = passkeys::remove(&mut tx, id, signed.operator_id).await?;
    let change = Change::new("passkey.removed", auth::account(&signed.name)).detail(&name);
    account::commit_change_of_factors(tx, &signed, change, site.clock.now()).await?;
    on_to(urls::DESK_ACCOUNT)
}
