//! `/desk/tokens`: tokens with which programs write in the operator's name. A token is shown once,
//! when it is made.

use super::on_to;
use crate::web::filters;
use crate::{
    storage::api_tokens,
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
    tokens: Vec<TokenView>,
}

struct TokenView {
    label: String,
    created: String,
    revoked: Option<String>,
    revoke_url: String,
}

async fn page(
    visit: &Visit,
    signed: &Signed,
    made: Option<String>,
    problem: Option<String>,
) -> Result<Response, Error> {
    let tokens = api_tokens::list(&mut *visit.site.db.read().await?, signed.operator_id).await?;
    pages::private(&TokensPage {
        chrome: super::chrome(visit, signed, "Tokens for programs"),
        csrf: signed.csrf.clone(),
        made,
        problem,
        tokens: tokens
            .into_iter()
            .map(|token| TokenView {
                revoke_url: format!("{}/{}/revoke", urls::DESK_TOKENS, token.id),
                label: token.label,
                created: format::moment(token.created_at),
                revoked: token.revoked_at.map(format::moment),
            })
            .collect(),
    })
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
}

async fn make(visit: Visit, signed: Signed, Form(form): Form<Make>) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let label = form.label.trim();
    if !(1..=80).contains(&label.chars().count()) {
        let problem = "Say in 1 to 80 characters what the token is for.".to_owned();
        let page = page(&visit, &signed, None, Some(problem)).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let token = format!("bb_{}", auth::new_token());
    let mut tx = visit.site.db.write().await?;
    let hash = auth::hash_of(&token);
    api_tokens::insert(
        &mut tx,
        &hash,
        signed.operator_id,
        label,
        visit.site.clock.now(),
    )
    .await?;
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
    api_tokens::revoke(&mut tx, id, signed.operator_id, visit.site.clock.now()).await?;
    tx.commit().await?;
    on_to(urls::DESK_TOKENS)
}
