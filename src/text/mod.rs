//! Every text that a reader of public pages sees, in every language that there is: catalogues in
//! Project Fluent's form (`en/*.ftl`, `de/*.ftl`), and how numbers and dates are written.
//!
//! A text is named by its key, `"ranking-search"`, or `"column-price.title"` for an attribute of a
//! message. It is written in the language that is spoken at that moment on this thread
//! ([`Language::speak`]); where nothing was said, in English.
//!
//! ```
//! use brickbook::text::{Language, t, word};
//! assert_eq!(word("outcome-pass"), "pass");
//! let count = || t("units").with("count", 1234_usize).to_string();
//! assert_eq!(count(), "1\u{202f}234 units");
//! assert_eq!(Language::German.speak(count), "1\u{202f}234 Netzteile");
//! ```

mod catalogue;
mod numbers;

pub use catalogue::{messages, variables_of};
pub use numbers::{date, grouped, localised, moment};

use fluent_bundle::{FluentArgs, FluentValue};
use std::{cell::Cell, fmt};

/// A language that pages can be had in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Language {
    /// What is spoken where nothing else is asked for; at addresses without a prefix.
    English,
    German,
}

thread_local! {
    static SPOKEN: Cell<Language> = const { Cell::new(Language::English) };
}

impl Language {
    pub const ALL: [Language; 2] = [Language::English, Language::German];

    /// The language that is spoken on this thread now.
    pub fn current() -> Language {
        SPOKEN.get()
    }

    /// Does `work` with this language spoken, and goes back to the former one.
    pub fn speak<T>(self, work: impl FnOnce() -> T) -> T {
        struct Former(Language);
        impl Drop for Former {
            fn drop(&mut self) {
                SPOKEN.set(self.0);
            }
        }
        let _former = Former(SPOKEN.replace(self));
        work()
    }

    /// Its tag (BCP 47), as settings, addresses and `lang` attributes write it.
    pub fn id(self) -> &'static str {
        match self {
            Language::English => "en",
            Language::German => "de",
        }
    }

    pub fn from_id(id: &str) -> Option<Language> {
        Language::ALL.into_iter().find(|known| known.id() == id)
    }

    /// What speakers call it.
    pub fn name(self) -> &'static str {
        match self {
            Language::English => "English",
            Language::German => "Deutsch",
        }
    }

    /// Language and territory as the Open Graph protocol writes them.
    pub fn territory(self) -> &'static str {
        match self {
            Language::English => "en_GB",
            Language::German => "de_DE",
        }
    }

    /// What an address in this language begins with.
    pub fn prefix(self) -> &'static str {
        match self {
            Language::English => "",
            Language::German => "/de",
        }
    }

    /// Behind the day of a date.
    fn day_mark(self) -> &'static str {
        match self {
            Language::English => "",
            Language::German => ".",
        }
    }

    /// Between whole and broken parts of a number (CLDR, `decimal`).
    pub fn decimal_mark(self) -> char {
        match self {
            Language::English => '.',
            Language::German => ',',
        }
    }
}

/// The text of a message without variables, in the language spoken now.
pub fn word(key: &'static str) -> &'static str {
    catalogue::plain(Language::current(), key)
}

/// The text of a message, in the language spoken now.
pub fn t(key: &'static str) -> Text {
    Text {
        key,
        language: Language::current(),
        values: Vec::new(),
    }
}

/// As [`t`], of a message that holds HTML. What is put into it is escaped.
pub fn rich(key: &'static str) -> Rich {
    Rich(t(key))
}

/// A message with its variables, in the language that was spoken when it was made.
#[derive(Debug, Clone)]
pub struct Text {
    key: &'static str,
    language: Language,
    values: Vec<(&'static str, Value)>,
}

/// A message that holds HTML, with its variables.
#[derive(Debug, Clone)]
pub struct Rich(Text);

/// What stands for a variable.
#[derive(Debug, Clone)]
pub enum Value {
    Words(String),
    /// Chooses the plural; written with its thousands set apart.
    Count(u64),
}

impl Text {
    /// Puts `value` in the place of `$name`.
    pub fn with(mut self, name: &'static str, value: impl Into<Value>) -> Text {
        self.values.push((name, value.into()));
        self
    }

    /// What stands before the variable `name` and what behind it, for a text that is said of many
    /// things.
    pub fn around(self, name: &'static str) -> (String, String) {
        const HERE: &str = "\u{1}";
        let text = self.with(name, HERE).to_string();
        match text.split_once(HERE) {
            Some((before, behind)) => (before.to_owned(), behind.to_owned()),
            None => (text, String::new()),
        }
    }

    fn write(&self, to: &mut impl fmt::Write, escape: bool) -> fmt::Result {
        if self.values.is_empty() {
            return catalogue::write(to, self.language, self.key, None);
        }
        let mut values = FluentArgs::with_capacity(self.values.len());
        for (name, value) in &self.values {
            let value = match value {
                Value::Words(words) if escape => FluentValue::from(escaped(words)),
                Value::Words(words) => FluentValue::from(words.as_str()),
                Value::Count(count) => FluentValue::from(*count),
            };
            values.set(*name, value);
        }
        catalogue::write(to, self.language, self.key, Some(&values))
    }
}

impl Rich {
    /// Puts `value`, escaped, in the place of `$name`.
    pub fn with(self, name: &'static str, value: impl Into<Value>) -> Rich {
        Rich(self.0.with(name, value))
    }
}

impl fmt::Display for Text {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.write(to, false)
    }
}

impl fmt::Display for Rich {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.write(to, true)
    }
}

/// Text that can stand in HTML, between tags and in quoted attributes.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut from = 0;
    for (at, byte) in text.bytes().enumerate() {
        let instead = match byte {
            b'<' => "&lt;",
            b'>' => "&gt;",
            b'&' => "&amp;",
            b'"' => "&quot;",
            b'\'' => "&#39;",
            _ => continue,
        };
        out.push_str(&text[from..at]);
        out.push_str(instead);
        from = at + 1;
    }
    out.push_str(&text[from..]);
    out
}

impl From<&str> for Value {
    fn from(words: &str) -> Value {
        Value::Words(words.to_owned())
    }
}

impl From<String> for Value {
    fn from(words: String) -> Value {
        Value::Words(words)
    }
}

/// Templates hand over what they have by reference.
impl<T: Into<Value> + Clone> From<&T> for Value {
    fn from(value: &T) -> Value {
        value.clone().into()
    }
}

impl From<Text> for Value {
    fn from(text: Text) -> Value {
        Value::Words(text.to_string())
    }
}

impl From<usize> for Value {
    fn from(count: usize) -> Value {
        Value::Count(count as u64)
    }
}

impl From<u32> for Value {
    fn from(count: u32) -> Value {
        Value::Count(u64::from(count))
    }
}

impl From<u64> for Value {
    fn from(count: u64) -> Value {
        Value::Count(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_language_ends_where_its_work_ends_also_in_a_panic() {
        Language::German.speak(|| {
            assert_eq!(Language::current(), Language::German);
            Language::English.speak(|| assert_eq!(Language::current(), Language::English));
            assert_eq!(Language::current(), Language::German);
        });
        let _ = std::panic::catch_unwind(|| Language::German.speak(|| panic!("on purpose")));
        assert_eq!(Language::current(), Language::English);
    }

    #[test]
    fn a_text_keeps_the_language_that_it_was_made_in() {
        let text = Language::German.speak(|| t("units").with("count", 1_usize));
        assert_eq!(text.to_string(), "1 Netzteil");
    }

    #[test]
    fn a_text_is_cut_where_its_variable_stands() {
        let around = || t("board-pick-unit").around("unit");
        assert_eq!(around(), ("Compare ".to_owned(), String::new()));
        let german = Language::German.speak(around);
        assert_eq!(german, (String::new(), " vergleichen".to_owned()));
    }

    #[test]
    fn what_is_put_into_html_cannot_end_it() {
        let evil = rich("status").with("code", "<b>\"&'");
        assert_eq!(evil.to_string(), "Status &lt;b&gt;&quot;&amp;&#39;");
        assert_eq!(t("status").with("code", "<b>").to_string(), "Status <b>");
    }
}
