//! Reading a request. A wrong address or query gets a proper page, not a bare sentence.

use super::{
    cache::carries_session,
    chrome::{Chrome, Here},
    error::Error,
    language::Target,
    state::Site,
};
use crate::text::{Language, t};
use axum::{
    body::{Body, Bytes},
    extract::{FromRequest, FromRequestParts, Request},
    http::{StatusCode, header, request::Parts},
    response::IntoResponse,
};
use serde::de::DeserializeOwned;
use std::convert::Infallible;
use std::sync::{Arc, OnceLock};

/// Who asks for which address: what a page's frame needs to know.
#[derive(Clone)]
pub struct Visit {
    pub site: Site,
    /// `https://host` without a path.
    pub origin: String,
    /// Path and query as asked for.
    pub target: String,
    /// Carries a session cookie; whether it is valid is [`super::entry`]'s business.
    pub carries_session: bool,
}

impl Visit {
    /// The frame of a page with this title.
    pub fn chrome(&self, title: impl Into<String>) -> Chrome {
        Chrome {
            site_name: self.site.config.site_name.clone(),
            title: title.into(),
            description: None,
            canonical: None,
            image: None,
            indexed: true,
            here: Here::Elsewhere,
            signed_in: self.carries_session,
            operator: None,
            csrf: None,
            demo: self.site.is_demo(),
            as_files: self.site.config.as_files,
            scripts: Vec::new(),
            styles: Vec::new(),
            origin: self.origin.clone(),
            language: Language::current(),
            languages: self.site.config.languages.clone(),
            target: self.target.clone(),
            structured_data: None,
        }
    }

    /// An address of this site with scheme and host.
    pub fn absolute(&self, path: &str) -> String {
        format!("{}{path}", self.origin)
    }
}

/// Builds a [`Visit`] from a request's head.
pub fn visit_of(parts: &Parts, site: &Site) -> Visit {
    let origin = match &site.config.public_url {
        Some(url) => url.clone(),
        None => {
            let host = parts
                .headers
                .get(header::HOST)
                .and_then(|h| h.to_str().ok());
            // Only what can stand as a host in an address: it is printed in the page.
            let host = host.filter(|h| h.parse::<axum::http::uri::Authority>().is_ok());
            format!("http://{}", host.unwrap_or("localhost"))
        }
    };
    Visit {
        site: site.clone(),
        origin,
        target: match parts.extensions.get::<Target>() {
            Some(Target(target)) => target.clone(),
            None => {
                let plain = parts.uri.path_and_query();
                plain.map_or("/", |plain| plain.as_str()).to_owned()
            }
        },
        carries_session: carries_session(&parts.headers),
    }
}

impl FromRequestParts<Site> for Visit {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Visit, Infallible> {
        Ok(visit_of(parts, site))
    }
}

/// Path parameters; what does not parse is a page that does not exist.
pub struct Path<T>(pub T);

impl<T: DeserializeOwned + Send> FromRequestParts<Site> for Path<T> {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Path<T>, Error> {
        match axum::extract::Path::<T>::from_request_parts(parts, site).await {
            Ok(axum::extract::Path(value)) => Ok(Path(value)),
            Err(_) => Err(Error::no_page()),
        }
    }
}

/// The query as decoded pairs in their order. Pages read it leniently: what they do not know or
/// cannot read is left out and said so, so that an old link still shows something.
pub struct Pairs(pub Vec<(String, String)>);

impl Pairs {
    /// The last value of `name`, trimmed, if it is not empty.
    pub fn last<'a>(&'a self, name: &'a str) -> Option<&'a str> {
        self.all(name).last()
    }

    /// Every non-empty value of `name`, trimmed.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0
            .iter()
            .filter(move |(key, _)| key == name)
            .map(|(_, value)| value.trim())
            .filter(|value| !value.is_empty())
    }
}

impl FromRequestParts<Site> for Pairs {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Pairs, Error> {
        match axum::extract::Query::<Vec<(String, String)>>::from_request_parts(parts, site).await {
            Ok(axum::extract::Query(pairs)) => Ok(Pairs(pairs)),
            Err(cause) => Err(Error::Invalid(
                t("unreadable-query")
                    .with("cause", cause.to_string())
                    .to_string(),
            )),
        }
    }
}

/// A form sent by `POST`; repeated names may be read into a `Vec`.
pub struct Form<T>(pub T);

impl<T: DeserializeOwned> FromRequest<Site> for Form<T> {
    type Rejection = Error;

    async fn from_request(request: Request, site: &Site) -> Result<Form<T>, Error> {
        let request = remembered(request, site).await?;
        match axum_extra::extract::Form::<T>::from_request(request, site).await {
            Ok(axum_extra::extract::Form(value)) => Ok(Form(value)),
            Err(cause) => {
                let words = cause.to_string();
                match cause.into_response().status() {
                    StatusCode::PAYLOAD_TOO_LARGE => Err(Error::TooLarge),
                    _ => Err(Error::Invalid(
                        t("unreadable-form").with("cause", words).to_string(),
                    )),
                }
            }
        }
    }
}

/// A JSON document that a script of our own pages sends by `POST`.
pub struct Json<T>(pub T);

impl<T: DeserializeOwned> FromRequest<Site> for Json<T> {
    type Rejection = Error;

    async fn from_request(request: Request, site: &Site) -> Result<Json<T>, Error> {
        match axum::Json::<T>::from_request(request, site).await {
            Ok(axum::Json(value)) => Ok(Json(value)),
            Err(cause) if cause.status() == StatusCode::PAYLOAD_TOO_LARGE => Err(Error::TooLarge),
            Err(cause) => Err(Error::Invalid(
                t("unreadable-form")
                    .with("cause", cause.body_text())
                    .to_string(),
            )),
        }
    }
}

/// What a form sent, for the page that says that it could not be stored just now.
#[derive(Clone, Default)]
pub struct Sent(Arc<OnceLock<Bytes>>);

impl Sent {
    /// Names and values as they were sent; none where no form was read.
    pub fn pairs(&self) -> Vec<(String, String)> {
        let bytes = self.0.get().map_or(&[][..], |bytes| bytes);
        form_urlencoded::parse(bytes).into_owned().collect()
    }
}

/// The request as it was, its body noted where somebody asked for it.
async fn remembered(request: Request, site: &Site) -> Result<Request, Error> {
    let Some(sent) = request.extensions().get::<Sent>().cloned() else {
        return Ok(request);
    };
    let (parts, body) = request.into_parts();
    let whole = Request::from_parts(parts.clone(), body);
    let bytes = match Bytes::from_request(whole, site).await {
        Ok(bytes) => bytes,
        Err(cause) => {
            let words = cause.to_string();
            return match cause.into_response().status() {
                StatusCode::PAYLOAD_TOO_LARGE => Err(Error::TooLarge),
                _ => Err(Error::Invalid(format!("The form cannot be read: {words}."))),
            };
        }
    };
    let _ = sent.0.set(bytes.clone());
    Ok(Request::from_parts(parts, Body::from(bytes)))
}
