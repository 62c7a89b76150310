//! `/desk/tokens`: tokens with which programs act in the operator's name, as far as their scopes go. A
//! token is shown once, when it is made.

use super::on_to;
use crate::web::filters;
use crate::{
    storage::{
        api_tokens::{self, Scope, Scopes},
        audit::{self, Change},
    },
    web::{
        Site,
        auth::{self, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Path, Visit},
        format, pages, urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::{get, post},
};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_TOKENS, get(list).post(make))
        .route(
            &format!("{}/{{id}}/revoke", urls::DESK_TOKENS),
            post(revoke),
        )
}

#[derive(Template)]
#[template(path = "entry/tokens.html")]
struct TokensPage {
    chrome: Chrome,
    csrf: String,
    /// The token just made; never shown again.
    made: Option<String>,
    problem: Option<String>,
    /// Those that the operator's role allows.
    scopes: Vec<ScopeView>,
    /// Days that a token may be good for.
    lives: &'static [i64],
    tokens: Vec<TokenView>,
}

struct ScopeView {
    id: &'static str,
    words: &'static str,
}

/// Days that are offered.
const LIVES: &[i64] = &[7, 30, 90, 365];

struct TokenView {
    label: String,
    scopes: String,
    created: String,
    used: String,
    expires: String,
    expired: bool,
    revoked: Option<String>,
    revoke_url: String,
}

async fn page(
    visit: &Visit,
    signed: &Signed,
    made: Option<String>,
    problem: Option<String>,
) -> Result<Response, Error> {
    let now = visit.site.clock.now();
    let tokens = api_tokens::list(&mut *visit.site.db.read().await?, signed.operator_id).await?;
    pages::private(&TokensPage {
        chrome: super::chrome(visit, signed, "Tokens for programs"),
        csrf: signed.csrf.clone(),
        made,
        problem,
        scopes: allowed(signed)
            .map(|scope| ScopeView {
                id: scope.id(),
                words: scope.words(),
            })
            .collect(),
        lives: LIVES,
        tokens: tokens
            .into_iter()
            .map(|token| TokenView {
                revoke_url: format!("{}/{}/revoke", urls::DESK_TOKENS, token.id),
                label: token.label,
                scopes: token
                    .scopes
                    .iter()
                    .map(Scope::words)
                    .collect::<Vec<_>>()
                    .join(", "),
                created: format::moment(token.created_at),
                used: token.used_at.map_or("never".to_owned(), format::moment),
                expires: token.expires_at.map_or("never".to_owned(), format::moment),
                expired: token.expires_at.is_some_and(|at| at <= now),
                revoked: token.revoked_at.map(format::moment),
            })
            .collect(),
    })
}

/// What tokens of this operator may be allowed.
fn allowed(signed: &Signed) -> impl Iterator<Item = Scope> {
    let role = signed.role;
    Scope::ALL
        .into_iter()
        .filter(move |scope| scope.needs() <= role)
}

async fn list(visit: Visit, signed: Signed) -> Result<Response, Error> {
    page(&visit, &signed, None, None).await
}

#[derive(Deserialize)]
struct Make {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    label: String,
    #[serde(default)]
    scope: Vec<String>,
    #[serde(default)]
    days: String,
}

async fn make(visit: Visit, signed: Signed, Form(form): Form<Make>) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let refuse = async |problem: String| {
        let page = page(&visit, &signed, None, Some(problem)).await?;
        Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
    };
    let label = form.label.trim();
    if !(1..=80).contains(&label.chars().count()) {
        return refuse("Say in 1 to 80 characters what the token is for.".to_owned()).await;
    }
    let mut scopes = Vec::new();
    for id in &form.scope {
        match allowed(&signed).find(|scope| scope.id() == id) {
            Some(scope) => scopes.push(scope),
            None => {
                let id: String = id.chars().take(40).collect();
                return refuse(format!(
                    "scope: “{id}”; expected one that your role allows, as listed below."
                ))
                .await;
            }
        }
    }
    let scopes = Scopes::new(scopes);
    if scopes.is_empty() {
        return refuse("Choose at least one thing that the token may do.".to_owned()).await;
    }
    let now = visit.site.clock.now();
    let expires_at = match form.days.as_str() {
        "never" => None,
        days => match LIVES.iter().find(|known| known.to_string() == days) {
            Some(days) => Some(now + time::Duration::days(*days)),
            None => return refuse("Choose how long the token is good for.".to_owned()).await,
        },
    };
    let token = format!("bb_{}", auth::new_token());
    let mut tx = visit.site.db.write().await?;
    let new = api_tokens::New {
        token_hash: &auth::hash_of(&token),
        operator_id: signed.operator_id,
        label,
        scopes,
        expires_at,
    };
    let id = api_tokens::insert(&mut tx, &new, now).await?;
    let change =
        Change::new("token.made", format!("token {id}")).detail(format!("{label}: {}", new.scopes));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    page(&visit, &signed, Some(token), None).await
}

#[derive(Deserialize)]
struct Revoke {
    #[serde(default)]
    csrf: String,
}

async fn revoke(
    visit: Visit,
    signed: Signed,
    Path(id): Path<i64>,
    Form(form): Form<Revoke>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let mut tx = visit.site.db.write().await?;
    let now = visit.site.clock.now();
    api_tokens::revoke(&mut tx, id, signed.operator_id, now).await?;
    let change = Change::new("token.revoked", format!("token {id}"));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    on_to(urls::DESK_TOKENS)
}
