//! `/sign-in` and `/sign-out`.

use super::on_to;
use crate::storage::{
    audit::{self, Change},
    sessions,
};
use crate::web::filters;
use crate::web::{
    Site,
    auth::{self, Client, Opened, SECOND_COOKIE, Signed, account},
    chrome::{Chrome, Here},
    error::Error,
    extract::{Form, Pairs, Visit},
    pages,
    passkeys::Party,
    urls,
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
        .route(urls::SIGN_IN, get(ask).post(sign_in))
        .route(urls::SIGN_OUT, post(sign_out))
}

#[derive(Template)]
#[template(path = "entry/sign_in.html")]
struct SignInPage {
    chrome: Chrome,
    token: String,
    name: String,
    next: String,
    problem: Option<String>,
    /// Where passkeys are possible: the address that they are bound to.
    passkey_origin: Option<String>,
}

fn page(
    visit: &Visit,
    token: String,
    name: &str,
    next: &str,
    problem: Option<String>,
) -> SignInPage {
    SignInPage {
        chrome: visit
            .chrome("Sign in")
            .not_indexed()
            .here(Here::Desk)
            .style("entry.css")
            .script("passkeys.js"),
        passkey_origin: Party::of(visit).map(|party| party.origin),
        token,
        name: name.to_owned(),
        next: next.to_owned(),
        problem,
    }
}

/// Where nobody could sign in yet, the way leads to the set-up.
async fn ask(visit: Visit, jar: CookieJar, query: Pairs) -> Result<Response, Error> {
    if auth::awaits_set_up(&visit.site).await? {
        return on_to(urls::SET_UP);
    }
    let (token, jar) = auth::form_token(&visit.site, jar);
    let next = auth::next_page(query.last("next"));
    Ok((jar, pages::private(&page(&visit, token, "", next, None))?).into_response())
}

/// Bytes of a password that is looked at; earlier versions took up to a thousand.
const LONGEST_SENT: usize = 1000;

#[derive(Deserialize)]
struct SignIn {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    password: String,
    next: Option<String>,
}

async fn sign_in(
    visit: Visit,
    client: Client,
    jar: CookieJar,
    Form(form): Form<SignIn>,
) -> Result<Response, Error> {
    auth::check_form_token(&visit.site, &jar, &form.csrf)?;
    let (site, address) = (&visit.site, client.address);
    let next = auth::next_page(form.next.as_deref());
    if let Err(put_off) = site.auth.attempt(address, &form.name) {
        let status = put_off.status();
        let page = page(
            &visit,
            form.csrf,
            &form.name,
            next,
            Some(put_off.to_string()),
        );
        let mut response = (status, pages::private(&page)?).into_response();
        if let Error::TooMany(seconds) = put_off {
            response.headers_mut().insert("retry-after", seconds.into());
        }
        return Ok(response);
    }
    let right_length = form.password.len() <= LONGEST_SENT;
    let password = if right_length {
        form.password
    } else {
        String::new()
    };
    match auth::sign_in(site, &client, &form.name, password).await? {
        Some(Opened::SecondFactor(token)) => {
            let query = urls::Query::new().with("next", next);
            let jar = jar.add(auth::underway_cookie(site, SECOND_COOKIE, token));
            Ok((jar, on_to(&query.on(urls::SIGN_IN_SECOND))?).into_response())
        }
        Some(Opened::Session(token)) => {
            auth::end_session(site, &jar).await?;
            Ok((jar.add(auth::session_cookie(site, token)), on_to(next)?).into_response())
        }
        None => {
            tracing::info!(%address, "sign-in refused");
            let problem = "Name or password is wrong.".to_owned();
            let page = page(&visit, form.csrf, &form.name, next, Some(problem));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
        }
    }
}

#[derive(Deserialize)]
struct SignOut {
    #[serde(default)]
    csrf: String,
}

async fn sign_out(
    visit: Visit,
    signed: Signed,
    jar: CookieJar,
    Form(form): Form<SignOut>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let mut tx = site.db.write().await?;
    sessions::end_one(&mut tx, signed.session_id, signed.operator_id).await?;
    let change = Change::new("session.ended", account(&signed.name)).detail("signed out");
    audit::write(&mut tx, &signed.who(), change, site.clock.now()).await?;
    tx.commit().await?;
    Ok((
        // What the desk's scripts keep in the browser goes as well.
        [("clear-site-data", "\"storage\"")],
        jar.add(auth::no_session_cookie(site)),
        on_to(urls::HOME)?,
    )
        .into_response())
}
