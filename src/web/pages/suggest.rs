//! `/suggest`: a reader names a unit that should be tested. No account, nothing kept about the
//! reader; an operator decides at the desk.
//!
//! What is tested already, or publicly in the queue, is said at once. What the tester keeps to
//! themselves is not given away: such a suggestion is taken like any other.

use super::{Site, private};
use crate::web::filters;
use crate::{
    bench::{
        decode::text_fits,
        likeness::{self, Known},
        schema::Kind,
    },
    storage::{
        self,
        audit::{self, Change, Who},
        candidates, suggestions,
    },
    text::{Text, t, word},
    web::{
        alike::{self, Alike},
        auth::{self, ClientAddress},
        chrome::{Chrome, Here},
        error::Error,
        extract::{Form, Visit},
        urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::{HeaderMap, StatusCode},
    response::{IntoResponse, Response},
    routing::get,
};
use axum_extra::extract::CookieJar;
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new().route(urls::SUGGEST, get(ask).post(suggest))
}

#[derive(Template)]
#[template(path = "pages/suggest.html")]
struct SuggestPage {
    chrome: Chrome,
    token: String,
    typed: Typed,
    problems: Vec<(&'static str, String)>,
    /// What is tested or queued already; nothing was stored yet.
    alike: Vec<Alike>,
    /// Taken in.
    thanks: bool,
}

#[derive(Debug, Clone, Default, Deserialize)]
struct Typed {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    maker: String,
    #[serde(default)]
    model: String,
    #[serde(default)]
    link: String,
    #[serde(default)]
    why: String,
    #[serde(default)]
    action: String,
}

fn page(visit: &Visit, token: String, typed: Typed) -> SuggestPage {
    SuggestPage {
        chrome: visit
            .chrome(word("suggest"))
            .describe(word("suggest.description"))
            .canonical(urls::page(urls::SUGGEST))
            .image(urls::preview(&urls::Query::new().with("about", "suggest")))
            .here(Here::Coming),
        token,
        typed,
        problems: Vec::new(),
        alike: Vec::new(),
        thanks: false,
    }
}

async fn ask(visit: Visit, jar: CookieJar) -> Result<Response, Error> {
    let (token, jar) = auth::form_token(&visit.site, jar);
    Ok((jar, private(&page(&visit, token, Typed::default()))?).into_response())
}

async fn suggest(
    visit: Visit,
    headers: HeaderMap,
    ClientAddress(address): ClientAddress,
    jar: CookieJar,
    Form(sent): Form<Typed>,
) -> Result<Response, Error> {
    auth::from_own_page(&visit, &headers)?;
    auth::check_form_token(&visit.site, &jar, &sent.csrf)?;
    let site = &visit.site;
    let typed = Typed {
        maker: sent.maker.trim().to_owned(),
        model: sent.model.trim().to_owned(),
        link: sent.link.trim().to_owned(),
        why: sent.why.trim().replace("\r\n", "\n"),
        ..sent
    };
    let mut page = page(&visit, typed.csrf.clone(), typed.clone());
    page.problems = problems(&typed);
    if !page.problems.is_empty() {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, private(&page)?).into_response());
    }
    site.suggestions
        .check(&auth::network_of(address))
        .map_err(|wait| Error::TooMany(wait.as_secs() + 1))?;
    if typed.action != "anyway" {
        page.alike = known(site, &typed).await?;
        if !page.alike.is_empty() {
            return private(&page);
        }
    }
    store(site, &typed).await?;
    page.typed = Typed::default();
    page.thanks = true;
    private(&page)
}

/// Characters of a maker or a model.
const LONGEST_NAME: usize = 80;
/// Characters of why it should be tested.
const LONGEST_REASON: usize = 500;

fn problems(typed: &Typed) -> Vec<(&'static str, String)> {
    let mut problems = Vec::new();
    let mut check = |field: &'static str, text: &str, kind: Kind, expected: Text| {
        if text_fits(text, &kind).is_err() {
            problems.push((field, expected.to_string()));
        }
    };
    let line = || t("suggest-expected-line").with("most", LONGEST_NAME);
    let name = Kind::Text(LONGEST_NAME);
    check(word("suggest-maker"), &typed.maker, name, line());
    let name = Kind::Text(LONGEST_NAME);
    check(word("suggest-model.short"), &typed.model, name, line());
    if !typed.link.is_empty() {
        let expected = t("suggest-expected-link");
        check(word("suggest-link.short"), &typed.link, Kind::Url, expected);
    }
    let text = t("suggest-expected-text").with("most", LONGEST_REASON);
    let kind = Kind::LongText(LONGEST_REASON);
    check(word("suggest-why.short"), &typed.why, kind, text);
    problems
}

/// What is tested, or publicly in the queue, that the typed name may mean.
async fn known(site: &Site, typed: &Typed) -> Result<Vec<Alike>, Error> {
    let mut queue = candidates::list(&mut *site.db.read().await?).await?;
    queue.retain(|one| one.entry.public && one.state.is_open());
    let mut alike = alike::tested(&site.public(), &typed.maker, &typed.model);
    for mut one in alike::queued(&queue, None, &typed.maker, &typed.model) {
        // The desk's own page is not for readers.
        one.url = Some(urls::page(urls::COMING));
        alike.push(one);
    }
    Ok(alike)
}

/// Takes a suggestion in; one that waits already is counted once more.
async fn store(site: &Site, typed: &Typed) -> Result<(), Error> {
    let mut tx = site.db.write().await?;
    let waiting = suggestions::undecided(&mut tx).await?;
    let names: Vec<Known> = waiting
        .iter()
        .map(|one| Known::new(one.maker.clone(), one.model.clone()))
        .collect();
    let same = likeness::find(&typed.maker, &typed.model, &names)
        .into_iter()
        .find(|one| one.same);
    match same {
        Some(same) => {
            let id = waiting[same.index].id;
            suggestions::count_again(&mut tx, id).await?;
            let change = Change::new("suggestion.repeated", format!("suggestion {id}"));
            audit::write(&mut tx, &Who::reader(), change, site.clock.now()).await?;
        }
        None => {
            let link = (!typed.link.is_empty()).then_some(typed.link.as_str());
            let now = site.clock.now();
            let taken =
                suggestions::insert(&mut tx, &typed.maker, &typed.model, link, &typed.why, now);
            let id = match taken.await {
                Err(storage::Error::Conflict(_)) => {
                    return Err(Error::Conflict(word("suggest-too-many").into()));
                }
                other => other?,
            };
            let change = Change::new("suggestion.made", format!("suggestion {id}"))
                .after(&format!("{typed:?}"));
            audit::write(&mut tx, &Who::reader(), change, now).await?;
        }
    }
    tx.commit().await?;
    Ok(())
}
