//! Who writes: the owner of the token in `Authorization: Bearer …`. A session cookie does not
//! count here, so that no page elsewhere can write in a signed-in tester's name.

use super::problem::Problem;
use crate::storage::api_tokens;
use crate::web::{Site, auth};
use axum::extract::FromRequestParts;
use axum::http::{header, request::Parts};

/// The operator whose token came with the request.
pub struct Bearer {
    pub operator_id: i64,
    pub operator_name: String,
}

impl FromRequestParts<Site> for Bearer {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Bearer, Problem> {
        let Some(given) = parts.headers.get(header::AUTHORIZATION) else {
            return Err(Problem::unauthorized(
                "writing needs a token: Authorization: Bearer <token>; the desk makes one under Tokens",
            ));
        };
        let token = given
            .to_str()
            .ok()
            .and_then(|text| text.split_once(' '))
            .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"))
            .map(|(_, token)| token.trim())
            .filter(|token| !token.is_empty());
        let Some(token) = token else {
            return Err(Problem::unauthorized(
                "the Authorization header is not of the form: Bearer <token>",
            ));
        };
        // The hash is looked up, not the token, so the time this takes tells nothing about it.
        let hash = auth::hash_of(token);
        let mut connection = site.db.read().await?;
        match api_tokens::bearer(&mut connection, &hash).await? {
            Some(owner) => Ok(Bearer {
                operator_id: owner.operator_id,
                operator_name: owner.operator_name,
            }),
            None => Err(Problem::unauthorized(
                "this token is not known or has been revoked",
            )),
        }
    }
}
