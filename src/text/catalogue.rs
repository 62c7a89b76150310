//! The catalogues as read, once, and looking up in them. A message without variables costs one
//! look into a table.

use super::{Language, numbers};
use fluent_bundle::{FluentArgs, FluentResource, FluentValue, concurrent::FluentBundle};
use fluent_syntax::ast;
use std::{
    collections::{BTreeSet, HashMap},
    fmt,
    sync::LazyLock,
};

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        /// The catalogues, a file each for a part of the site, in every language.
        const FILES: &[(&str, [&str; 2])] = &[$((
            $name,
            [
                include_str!(concat!("en/", $name, ".ftl")),
                include_str!(concat!("de/", $name, ".ftl")),
            ],
        )),*];
    };
}

files![
    "frame", "words", "charts", "drawings", "ranking", "files", "unit", "bench", "ports",
    "evidence", "choices", "method", "compare", "rules", "coming"
];

type Pattern = ast::Pattern<&'static str>;

/// One message, or one attribute of a message.
enum Entry {
    Plain(&'static str),
    WithVariables(&'static Pattern),
}

/// Keys are our own: nobody can choose them so that they collide.
type Entries = HashMap<&'static str, Entry, foldhash::fast::FixedState>;

struct Catalogue {
    bundle: &'static FluentBundle<&'static FluentResource>,
    entries: Entries,
}

impl Catalogue {
    /// Read when something is first said in the language.
    fn of(language: Language) -> &'static Catalogue {
        static ENGLISH: LazyLock<Catalogue> = LazyLock::new(|| read(Language::English));
        static GERMAN: LazyLock<Catalogue> = LazyLock::new(|| read(Language::German));
        match language {
            Language::English => &ENGLISH,
            Language::German => &GERMAN,
        }
    }
}

/// What is read stays for as long as the program runs.
fn forever<T: ?Sized>(thing: Box<T>) -> &'static T {
    Box::leak(thing)
}

fn read(language: Language) -> Catalogue {
    let tag = language.id().parse().expect("the tag is well-formed");
    let mut bundle = FluentBundle::new_concurrent(vec![tag]);
    // Both languages and all names in them run from left to right.
    bundle.set_use_isolating(false);
    bundle.set_formatter(Some(|value, _| match value {
        FluentValue::Number(number) => Some(numbers::grouped(number.value as u64)),
        _ => None,
    }));
    let mut resources = Vec::new();
    for (name, texts) in FILES {
        let source = texts[language as usize].to_owned();
        let resource = FluentResource::try_new(source).unwrap_or_else(|(_, faults)| {
            panic!("{}/{name}.ftl: {faults:?}", language.id());
        });
        let resource = forever(Box::new(resource));
        bundle
            .add_resource(resource)
            .unwrap_or_else(|faults| panic!("{}/{name}.ftl: {faults:?}", language.id()));
        resources.push(resource);
    }
    let bundle = forever(Box::new(bundle));
    let mut entries = Entries::default();
    for entry in resources.into_iter().flat_map(FluentResource::entries) {
        let ast::Entry::Message(message) = entry else {
            continue;
        };
        if let Some(pattern) = &message.value {
            entries.insert(message.id.name, entry_of(pattern));
        }
        for attribute in &message.attributes {
            let key = format!("{}.{}", message.id.name, attribute.id.name);
            entries.insert(forever(key.into_boxed_str()), entry_of(&attribute.value));
        }
    }
    Catalogue { bundle, entries }
}

fn entry_of(pattern: &'static Pattern) -> Entry {
    let mut text = String::new();
    for element in &pattern.elements {
        match element {
            ast::PatternElement::TextElement { value } => text.push_str(value),
            ast::PatternElement::Placeable { .. } => return Entry::WithVariables(pattern),
        }
    }
    Entry::Plain(forever(text.into_boxed_str()))
}

/// The entry, in English where `language` lacks it.
fn entry(language: Language, key: &str) -> Option<(&'static Catalogue, &'static Entry)> {
    [language, Language::English].into_iter().find_map(|one| {
        let catalogue = Catalogue::of(one);
        Some((catalogue, catalogue.entries.get(key)?))
    })
}

/// The text of a message without variables; the key itself where there is none.
pub(super) fn plain(language: Language, key: &'static str) -> &'static str {
    match entry(language, key) {
        Some((_, Entry::Plain(text))) => text,
        _ => {
            debug_assert!(false, "no text without variables is called {key}");
            key
        }
    }
}

/// Writes a message; its key where there is none.
pub(super) fn write(
    to: &mut impl fmt::Write,
    language: Language,
    key: &str,
    values: Option<&FluentArgs>,
) -> fmt::Result {
    match entry(language, key) {
        Some((_, Entry::Plain(text))) => to.write_str(text),
        Some((catalogue, Entry::WithVariables(pattern))) => {
            let mut faults = Vec::new();
            catalogue
                .bundle
                .write_pattern(to, pattern, values, &mut faults)?;
            debug_assert!(faults.is_empty(), "{key}: {faults:?}");
            Ok(())
        }
        None => {
            debug_assert!(false, "no text is called {key}");
            to.write_str(key)
        }
    }
}

/// Every key of a catalogue with its text as it stands there, variables in their braces.
pub fn messages(language: Language) -> Vec<(&'static str, String)> {
    let catalogue = Catalogue::of(language);
    let mut all: Vec<(&'static str, String)> = catalogue
        .entries
        .iter()
        .map(|(key, entry)| {
            let text = match entry {
                Entry::Plain(text) => (*text).to_owned(),
                Entry::WithVariables(pattern) => fixed_parts(pattern).join("{}"),
            };
            (*key, text)
        })
        .collect();
    all.sort();
    all
}

/// The literal parts of a pattern and of all its variants.
fn fixed_parts(pattern: &Pattern) -> Vec<String> {
    let mut parts = vec![String::new()];
    for element in &pattern.elements {
        match element {
            ast::PatternElement::TextElement { value } => {
                parts.last_mut().expect("there is one").push_str(value);
            }
            ast::PatternElement::Placeable { expression } => {
                if let ast::Expression::Select { variants, .. } = expression {
                    for variant in variants {
                        parts.extend(fixed_parts(&variant.value));
                    }
                }
                parts.push(String::new());
            }
        }
    }
    parts
}

/// The variables of a message, or nothing if there is no such message.
pub fn variables_of(language: Language, key: &str) -> Option<BTreeSet<&'static str>> {
    let mut names = BTreeSet::new();
    match Catalogue::of(language).entries.get(key)? {
        Entry::Plain(_) => {}
        Entry::WithVariables(pattern) => variables_in(pattern, &mut names),
    }
    Some(names)
}

fn variables_in(pattern: &Pattern, names: &mut BTreeSet<&'static str>) {
    let mut note = |expression: &ast::InlineExpression<&'static str>| {
        if let ast::InlineExpression::VariableReference { id } = expression {
            names.insert(id.name);
        }
    };
    let mut variants_of = Vec::new();
    for element in &pattern.elements {
        match element {
            ast::PatternElement::Placeable {
                expression: ast::Expression::Inline(inline),
            } => note(inline),
            ast::PatternElement::Placeable {
                expression: ast::Expression::Select { selector, variants },
            } => {
                note(selector);
                variants_of.extend(variants.iter().map(|variant| &variant.value));
            }
            ast::PatternElement::TextElement { .. } => {}
        }
    }
    for pattern in variants_of {
        variables_in(pattern, names);
    }
}
