//! `/set-up`: the first operator, once. Whoever can read this program's terminal or journal has the
//! one-time secret; nobody else can make themselves operator. Afterwards the page does not exist.

use super::on_to;
use crate::web::filters;
use crate::web::{
    Site,
    auth::{self, Client},
    chrome::{Chrome, Here},
    error::Error,
    extract::{Form, Visit},
    pages, passwords, urls,
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::get,
};
use axum_extra::extract::CookieJar;
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new().route(urls::SET_UP, get(ask).post(set_up))
}

#[derive(Template)]
#[template(path = "entry/set_up.html")]
struct SetUpPage {
    chrome: Chrome,
    token: String,
    name: String,
    problem: Option<String>,
    shortest_password: usize,
}

fn page(visit: &Visit, token: String, name: &str, problem: Option<String>) -> SetUpPage {
    SetUpPage {
        chrome: visit
            .chrome("Set up")
            .not_indexed()
            .here(Here::Desk)
            .style("entry.css"),
        token,
        name: name.to_owned(),
        problem,
        shortest_password: passwords::SHORTEST_PASSWORD,
    }
}

async fn ask(visit: Visit, jar: CookieJar) -> Result<Response, Error> {
    if !auth::awaits_set_up(&visit.site).await? {
        return Err(Error::no_page());
    }
    let (token, jar) = auth::form_token(&visit.site, jar);
    Ok((jar, pages::private(&page(&visit, token, "", None))?).into_response())
}

#[derive(Deserialize)]
struct SetUp {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    secret: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    password: String,
    #[serde(default)]
    again: String,
}

async fn set_up(
    visit: Visit,
    client: Client,
    jar: CookieJar,
    Form(form): Form<SetUp>,
) -> Result<Response, Error> {
    let site = &visit.site;
    if !auth::awaits_set_up(site).await? {
        return Err(Error::no_page());
    }
    auth::check_form_token(&visit.site, &jar, &form.csrf)?;
    site.auth.attempt_from(client.address)?;
    let problem = if !site.auth.opens_set_up(&form.secret) {
        tracing::warn!(address = %client.address, "set-up refused: wrong one-time secret");
        Some("This is not the one-time secret that the program printed when it started.".to_owned())
    } else if form.password != form.again {
        Some("The two passwords differ.".to_owned())
    } else {
        passwords::check_new_operator(&form.name, &form.password).err()
    };
    if problem.is_some() {
        let page = page(&visit, form.csrf, &form.name, problem);
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response());
    }
    match auth::set_up(site, &client, &form.name, form.password).await? {
        Some(token) => Ok((
            jar.add(auth::session_cookie(site, token)),
            on_to(urls::DESK)?,
        )
            .into_response()),
        None => Err(Error::no_page()),
    }
}
