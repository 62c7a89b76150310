//! Which units the pages for buyers look at: class, name, and ports that give so much at once.
//! Written in addresses as the leaderboard writes it.

use super::ranking::{left_out_words, together_words, watts};
use crate::{
    ranking::Filter,
    text::{t, word},
    web::{extract::Pairs, format, state::Site, urls::Query},
};

/// More than this is no search.
const LONGEST_TEXT: usize = 120;

/// What was asked for, and what of it could not be read.
#[derive(Debug, Default)]
pub struct Narrowing {
    pub filter: Filter,
    pub notices: Vec<String>,
}

/// The fields of the form, ready to show.
pub struct NarrowingForm {
    pub classes: Vec<Choice>,
    pub search: String,
    pub usb_c: String,
    pub each_w: String,
    /// What the ports filter means, where it is set.
    pub together: Option<String>,
}

pub struct Choice {
    pub value: String,
    pub label: String,
    pub selected: bool,
}

impl Narrowing {
    /// Reads leniently: what makes no sense is left out and said so.
    pub fn of(pairs: &Pairs, site: &Site) -> Narrowing {
        let mut narrowing = Narrowing::default();
        if let Some(id) = pairs.last("class") {
            match site.method.classes.iter().find(|class| class.id == id) {
                Some(class) => narrowing.filter.class = Some(class.id.clone()),
                None => narrowing.left_out(word("asked-class"), id, word("expected-class")),
            }
        }
        if let Some(text) = pairs.last("q") {
            let text: String = text.chars().take(LONGEST_TEXT).collect();
            narrowing.filter.search = text.split_whitespace().collect::<Vec<_>>().join(" ");
        }
        if let Some(text) = pairs.last("usb_c") {
            match text.parse::<u32>() {
                Ok(0) => {}
                Ok(n) if n <= 99 => narrowing.filter.usb_c_at_least = Some(n),
                _ => narrowing.left_out(word("asked-usb-c"), text, word("expected-count")),
            }
        }
        if let Some(text) = pairs.last("each_w") {
            match watts(text).filter(|w| (0.1..=1000.0).contains(w)) {
                Some(each_w) => narrowing.filter.each_w = Some(each_w),
                None => narrowing.left_out(word("asked-watts"), text, word("expected-watts")),
            }
        }
        narrowing
    }

    /// Notes that a value was not understood.
    pub fn left_out(&mut self, name: &str, value: &str, expected: &str) {
        self.notices.push(left_out_words(name, value, expected));
    }

    /// Adds what is asked for to an address, in one order.
    pub fn push(&self, query: &mut Query) {
        let filter = &self.filter;
        if let Some(class) = &filter.class {
            query.push("class", class);
        }
        if !filter.search.is_empty() {
            query.push("q", &filter.search);
        }
        if let Some(ports) = filter.usb_c_at_least {
            query.push("usb_c", &ports.to_string());
        }
        if let Some(each_w) = filter.each_w {
            query.push("each_w", &format::field(each_w));
        }
    }

    pub fn form(&self, site: &Site) -> NarrowingForm {
        let filter = &self.filter;
        NarrowingForm {
            classes: site
                .method
                .classes
                .iter()
                .map(|class| Choice {
                    value: class.id.clone(),
                    label: format::class_label(&class.label),
                    selected: filter.class.as_ref() == Some(&class.id),
                })
                .collect(),
            search: filter.search.clone(),
            usb_c: filter
                .usb_c_at_least
                .map_or(String::new(), |n| n.to_string()),
            each_w: filter.each_w.map_or(String::new(), format::field),
            together: together_words(filter),
        }
    }

    /// "class over 45 to 70 W" or "all classes".
    pub fn class_words(&self, site: &Site) -> String {
        let class = site
            .method
            .classes
            .iter()
            .find(|class| Some(&class.id) == self.filter.class.as_ref());
        class.map_or(word("all-classes").to_owned(), |class| {
            t("class-called")
                .with("class", format::class_label(&class.label))
                .to_string()
        })
    }

    /// Something besides the class is asked for.
    pub fn is_narrow(&self) -> bool {
        self.filter
            != Filter {
                class: self.filter.class.clone(),
                ..Filter::default()
            }
    }
}
