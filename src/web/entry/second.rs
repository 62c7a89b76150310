//! `/sign-in/second`: the code after the password. `/desk/account/codes`: an authenticator app for
//! one's own account, begun, confirmed and taken away; each needs the password again.

use super::{account, on_to};
use crate::web::filters;
use crate::{
    storage::{
        self,
        audit::{self, Change},
        operators, second_factors,
    },
    web::{
        Site,
        auth::{self, By, Client, SECOND_COOKIE, Signed},
        chrome::{Chrome, Here},
        error::Error,
        extract::{Form, Pairs, Visit},
        pages,
        second_factor::{self, RECOVERY_CODES, Shown},
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
        .route(urls::SIGN_IN_SECOND, get(ask).post(enter))
        .route("/desk/account/codes", post(begin))
        .route("/desk/account/codes/confirm", post(confirm))
        .route("/desk/account/codes/remove", post(remove))
}

// ---- after the password ----

#[derive(Template)]
#[template(path = "entry/second.html")]
struct SecondPage {
    chrome: Chrome,
    token: String,
    next: String,
    problem: Option<String>,
}

fn second_page(visit: &Visit, token: String, next: &str, problem: Option<String>) -> SecondPage {
    SecondPage {
        chrome: visit
            .chrome("Sign in")
            .not_indexed()
            .here(Here::Desk)
            .style("entry.css"),
        token,
        next: next.to_owned(),
        problem,
    }
}

async fn ask(visit: Visit, jar: CookieJar, query: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    if auth::waiting(site, &jar).is_none() {
        return on_to(urls::SIGN_IN);
    }
    let (token, jar) = auth::form_token(site, jar);
    let next = auth::next_page(query.last("next"));
    Ok((
        jar,
        pages::private(&second_page(&visit, token, next, None))?,
    )
        .into_response())
}

#[derive(Deserialize)]
struct Enter {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    code: String,
    next: Option<String>,
}

async fn enter(
    visit: Visit,
    client: Client,
    jar: CookieJar,
    Form(form): Form<Enter>,
) -> Result<Response, Error> {
    let site = &visit.site;
    auth::check_form_token(site, &jar, &form.csrf)?;
    let next = auth::next_page(form.next.as_deref());
    let Some((waits_under, waiting)) = auth::waiting(site, &jar) else {
        return on_to(urls::SIGN_IN);
    };
    site.auth.attempt_from(client.address)?;
    site.auth.second.attempt(&waiting)?;
    let (operator_id, name) = (waiting.operator_id, &waiting.name);
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    // Deactivated since, or with another password: it begins with the password again.
    let known = operators::credentials(&mut tx, name).await?;
    if known.is_none_or(|known| known.password_hash != waiting.password_hash) {
        drop(tx);
        site.auth.second.done(&waits_under, now);
        return on_to(urls::SIGN_IN);
    }
    let Some(by) = opens(site, &mut tx, operator_id, &form.code).await? else {
        drop(tx);
        tracing::warn!(operator_id, address = %client.address, "second factor refused");
        let problem = "This code is wrong, was used already or is too old.".to_owned();
        let page = second_page(&visit, form.csrf, next, Some(problem));
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response());
    };
    let change = Change::new("second-factor.used", auth::account(name)).detail(by);
    audit::write(&mut tx, &client.who(operator_id, name), change, now).await?;
    let token = auth::begin_session(site, &mut tx, &client, operator_id, name, By::Code).await?;
    tx.commit().await?;
    site.auth.second.done(&waits_under, now);
    auth::end_session(site, &jar).await?;
    let jar = jar
        .add(auth::no_underway_cookie(site, SECOND_COOKIE))
        .add(auth::session_cookie(site, token));
    Ok((jar, on_to(next)?).into_response())
}

/// Does this code open the account? It is used up by it. Says which kind it was.
async fn opens(
    site: &Site,
    tx: &mut storage::Connection,
    operator_id: i64,
    code: &str,
) -> Result<Option<&'static str>, Error> {
    let now = site.clock.now();
    let Some(totp) = second_factors::find(tx, operator_id).await? else {
        return Ok(None);
    };
    if let Some(step) = second_factor::step_of(&totp.secret, code, now)?
        && second_factors::take_step(tx, operator_id, step).await?
    {
        return Ok(Some("code of the app"));
    }
    let hash = second_factor::hash_of_recovery_code(code);
    let used = second_factors::use_recovery_code(tx, operator_id, &hash, now).await?;
    Ok(used.then_some("recovery code"))
}

// ---- one's own account ----

#[derive(Template)]
#[template(path = "entry/codes.html")]
struct CodesPage {
    chrome: Chrome,
    csrf: String,
    shown: Shown,
    problem: Option<String>,
}

#[derive(Template)]
#[template(path = "entry/recovery.html")]
struct RecoveryPage {
    chrome: Chrome,
    codes: Vec<String>,
}

#[derive(Deserialize)]
struct WithPassword {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    password: String,
}

async fn begin(
    visit: Visit,
    signed: Signed,
    client: Client,
    Form(form): Form<WithPassword>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    if let Some(refused) =
        account::refused_without_password(&visit, &signed, &client, form.password).await?
    {
        return Ok(refused);
    }
    let secret = second_factor::new_secret();
    let mut tx = site.db.write().await?;
    second_factors::begin(&mut tx, signed.operator_id, &secret).await?;
    let change = Change::new("second-factor.begun", auth::account(&signed.name));
    audit::write(&mut tx, &signed.who(), change, site.clock.now()).await?;
    tx.commit().await?;
    codes_page(&visit, &signed, &secret, None)
}

fn codes_page(
    visit: &Visit,
    signed: &Signed,
    secret: &[u8],
    problem: Option<String>,
) -> Result<Response, Error> {
    pages::private(&CodesPage {
        chrome: super::chrome(visit, signed, "Second factor"),
        csrf: signed.csrf.clone(),
        shown: second_factor::shown(&visit.site, secret, &signed.name)?,
        problem,
    })
}

#[derive(Deserialize)]
struct Confirm {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    code: String,
}

/// The first code: from now on it is asked for. All other sessions end.
async fn confirm(
    visit: Visit,
    signed: Signed,
    Form(form): Form<Confirm>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    site.auth.second.attempt_for(signed.operator_id)?;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let begun = second_factors::find(&mut tx, signed.operator_id).await?;
    let Some(totp) = begun.filter(|totp| totp.confirmed_at.is_none()) else {
        return Err(Error::Conflict(
            "There is nothing to confirm. Begin again on the page of your account.".into(),
        ));
    };
    let step = second_factor::step_of(&totp.secret, &form.code, now)?;
    let taken = match step {
        Some(step) => second_factors::take_step(&mut tx, signed.operator_id, step).await?,
        None => false,
    };
    if !taken {
        drop(tx);
        let why = "This code is not the one that the app shows now. Is its clock right?";
        let page = codes_page(&visit, &signed, &totp.secret, Some(why.to_owned()))?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let codes: Vec<String> = (0..RECOVERY_CODES)
        .map(|_| second_factor::new_recovery_code())
        .collect();
    let hashes: Vec<_> = codes
        .iter()
        .map(|code| second_factor::hash_of_recovery_code(code))
        .collect();
    second_factors::confirm(&mut tx, signed.operator_id, &hashes, now).await?;
    let change = Change::new("second-factor.added", auth::account(&signed.name));
    account::commit_change_of_factors(tx, &signed, change, now).await?;
    pages::private(&RecoveryPage {
        chrome: super::chrome(&visit, &signed, "Recovery codes"),
        codes,
    })
}

async fn remove(
    visit: Visit,
    signed: Signed,
    client: Client,
    Form(form): Form<WithPassword>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    if let Some(refused) =
        account::refused_without_password(&visit, &signed, &client, form.password).await?
    {
        return Ok(refused);
    }
    let mut tx = site.db.write().await?;
    if second_factors::remove_codes(&mut tx, signed.operator_id).await? {
        let change = Change::new("second-factor.removed", auth::account(&signed.name));
        account::commit_change_of_factors(tx, &signed, change, site.clock.now()).await?;
    }
    on_to(urls::DESK_ACCOUNT)
}
