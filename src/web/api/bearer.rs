//! Who acts: the owner of the token in `Authorization: Bearer …`, as far as the token's scopes go. A
//! session cookie does not count here, so that no page elsewhere can write in a signed-in tester's
//! name.
//!
//! A handler asks for `Bearer<Records>` and the like among its arguments; there is no other place
//! where scopes are decided.

use super::problem::Problem;
use crate::storage::api_tokens::{self, Scope, USE_IS_KNOWN_TO};
use crate::storage::audit::{Via, Who};
use crate::web::{
    Site,
    auth::{self, ClientAddress},
};
use axum::extract::FromRequestParts;
use axum::http::{header, request::Parts};
use std::marker::PhantomData;

/// What a handler needs a token for.
pub trait Needs {
    const SCOPE: Scope;
}

/// Publishing and revising.
pub struct Records;
/// Photos and raw logs.
pub struct Evidence;
/// Reading drafts.
pub struct Drafts;
/// Reading the whole queue.
pub struct Queue;

impl Needs for Records {
    const SCOPE: Scope = Scope::Records;
}

impl Needs for Evidence {
    const SCOPE: Scope = Scope::Evidence;
}

impl Needs for Drafts {
    const SCOPE: Scope = Scope::Drafts;
}

impl Needs for Queue {
    const SCOPE: Scope = Scope::Queue;
}

/// The operator whose token came with the request, and may do what `N` says.
pub struct Bearer<N> {
    pub operator_id: i64,
    pub operator_name: String,
    address: std::net::IpAddr,
    needs: PhantomData<fn() -> N>,
}

impl<N> Bearer<N> {
    /// As the audit log names them.
    pub fn who(&self) -> Who {
        Who {
            operator_id: Some(self.operator_id),
            name: self.operator_name.clone(),
            via: Via::Api,
            address: Some(auth::network_of(self.address)),
        }
    }
}

impl<N: Needs> FromRequestParts<Site> for Bearer<N> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Bearer<N>, Problem> {
        let Some(given) = parts.headers.get(header::AUTHORIZATION) else {
            return Err(Problem::unauthorized(
                "this needs a token: Authorization: Bearer <token>; the desk makes one under Tokens",
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
        let now = site.clock.now();
        let found = api_tokens::bearer(&mut *site.db.read().await?, &hash, now).await?;
        let Some(owner) = found else {
            return Err(Problem::unauthorized(
                "this token is not known, has been revoked or has expired",
            ));
        };
        if !owner.scopes.has(N::SCOPE) || owner.role < N::SCOPE.needs() {
            tracing::warn!(
                token = owner.token_id,
                scope = N::SCOPE.id(),
                "refused: the token does not have the scope"
            );
            return Err(Problem::missing_scope(N::SCOPE));
        }
        if owner
            .used_at
            .is_none_or(|used| now - used >= USE_IS_KNOWN_TO)
        {
            let mut tx = site.db.write().await?;
            api_tokens::note_use(&mut tx, owner.token_id, now).await?;
            tx.commit().await?;
        }
        let Ok(ClientAddress(address)) = ClientAddress::from_request_parts(parts, site).await;
        Ok(Bearer {
            operator_id: owner.operator_id,
            operator_name: owner.operator_name,
            address,
            needs: PhantomData,
        })
    }
}
