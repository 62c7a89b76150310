//! What templates say of texts and addresses: `{{ "nav-method"|t }}`, with variables
//! `{{ "units"|t|with("count", n) }}`, with HTML in it `{{ "footer"|rich|with("method", url) }}`, and
//! the address of a page in the language spoken now, `{{ crate::web::urls::METHOD|page }}`. A file
//! that derives a template imports this module.

use crate::{
    text::{self, Language, Rich, Text, Value},
    web::urls,
};
use askama::{Result, Values};
use std::fmt;

/// The text of this key.
#[askama::filter_fn]
pub fn t(key: &'static str, _: &dyn Values) -> Result<Text> {
    Ok(text::t(key))
}

/// The text of this key, which holds HTML.
#[askama::filter_fn]
pub fn rich(key: &'static str, _: &dyn Values) -> Result<Html> {
    Ok(Html(text::rich(key)))
}

/// Puts a value in the place of a variable.
#[askama::filter_fn]
pub fn with<T: Variables, V: Into<Value>>(
    text: T,
    _: &dyn Values,
    name: &'static str,
    value: V,
) -> Result<T> {
    Ok(text.put(name, value.into()))
}

/// The address of the page at this plain path.
#[askama::filter_fn]
pub fn page(path: &str, _: &dyn Values) -> Result<String> {
    Ok(urls::page(path))
}

/// English words from an evaluation document, marked as such on a page in another language.
#[askama::filter_fn]
pub fn english(words: impl fmt::Display, _: &dyn Values) -> Result<English> {
    Ok(English(words.to_string()))
}

/// Text that is English whatever the language of the page is.
#[derive(Debug, Clone)]
pub struct English(String);

impl fmt::Display for English {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = text::escaped(&self.0);
        match Language::current() {
            Language::English => to.write_str(&words),
            _ => write!(to, "<span lang=\"en\">{words}</span>"),
        }
    }
}

impl askama::filters::HtmlSafe for English {}

/// A text that has variables.
pub trait Variables {
    fn put(self, name: &'static str, value: Value) -> Self;
}

impl Variables for Text {
    fn put(self, name: &'static str, value: Value) -> Text {
        self.with(name, value)
    }
}

/// A text that holds HTML: it is written as it stands.
#[derive(Debug, Clone)]
pub struct Html(Rich);

impl Variables for Html {
    fn put(self, name: &'static str, value: Value) -> Html {
        Html(self.0.with(name, value))
    }
}

impl fmt::Display for Html {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(to)
    }
}

impl askama::filters::HtmlSafe for Html {}
