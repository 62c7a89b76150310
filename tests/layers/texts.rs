//! Where readers' words stand: in the catalogues of `src/text`, in every language, and nowhere else.
//! Templates and sources are read as they are written.

use super::{is_punct, source_root, sources};
use brickbook::text::{Language, messages, variables_of};
use proc_macro2::{Delimiter, TokenStream, TokenTree};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Sources that say something to readers of public pages, from which all sentences are gone.
const SOURCES_DONE: &[&str] = &[
    "chart/class_overview.rs",
    "chart/harmonics.rs",
    "chart/heat.rs",
    "chart/load.rs",
    "chart/no_load.rs",
    "chart/overload.rs",
    "chart/power_trace.rs",
    "chart/scatter.rs",
    "chart/unit_bars.rs",
    "chart/waveform.rs",
    "web/chrome.rs",
    "web/error.rs",
    "web/format.rs",
    "web/pages/at_wattage.rs",
    "web/pages/columns.rs",
    "web/pages/cost_of_use.rs",
    "web/pages/compare.rs",
    "web/pages/evidence.rs",
    "web/pages/figure_rows.rs",
    "web/pages/heat.rs",
    "web/pages/measurements.rs",
    "web/pages/method.rs",
    "web/pages/narrowing.rs",
    "web/pages/overload.rs",
    "web/pages/photos.rs",
    "web/pages/ports.rs",
    "web/pages/power_quality.rs",
    "web/pages/ranking.rs",
    "web/pages/regimes.rs",
    "web/pages/sharing.rs",
    "web/pages/sheet.rs",
    "web/pages/site_data.rs",
    "web/pages/trade_offs.rs",
    "web/pages/suggest.rs",
    "web/pages/unit.rs",
    "web/pages/use_of_unit.rs",
    "web/pages/use_words.rs",
];

/// What stands in every language as it is: symbols, units, names of formats.
const NOT_WORDS: &[&str] = &[
    "CSV",
    "JSON",
    "SVG",
    "PDF",
    "HTML",
    "USB",
    "THD",
    "TS",
    "mW",
    "kWh",
    "mA",
    "mV",
    "EUR",
    "SHA",
    "Atom",
    "iCalendar",
    "pp",
    "https",
];

/// Literals of two words that no reader sees (the program's log, attributes, what is looked for in
/// data) or that are names.
const NOT_FOR_READERS: &[&str] = &[
    "request failed",
    "the error page failed",
    "a handler panicked",
    "a page's own body could not be read",
    "a stored record is refused: {}",
    "nofollow noopener noreferrer",
    "up to ",
    "EPR AVS {span}",
];

#[test]
fn templates_of_public_pages_hold_no_words() {
    let mut faults = Vec::new();
    for path in templates() {
        let name = name_of(&path, &template_root());
        let found = words_in_template(&text_of(&path));
        if !found.is_empty() {
            faults.push(format!("{name}: {}", found.join(", ")));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn words_of_a_template_are_found_wherever_a_reader_meets_them() {
    let found = |template: &str| words_in_template(template);
    assert_eq!(found("<p>Hello {{ name }}</p>"), ["Hello"]);
    assert_eq!(
        found("<a title=\"Go on\" href=\"/x\">{{ a }}</a>"),
        ["Go", "on"]
    );
    assert_eq!(
        found("<input aria-label='Maker' name=\"maker\">"),
        ["Maker"]
    );
    assert_eq!(
        found(
            "{# a word #}<p{% if a > b %} class=\"n\"{% endif %}>{{ \"key\"|t }} 5 %&nbsp;W, CSV</p>"
        ),
        [""; 0]
    );
}

#[test]
fn sources_of_public_pages_hold_no_sentences() {
    let mut faults = Vec::new();
    for name in SOURCES_DONE {
        let tokens: TokenStream = text_of(&source_root().join(name))
            .parse()
            .expect("the source is Rust");
        let mut found = Vec::new();
        literals(tokens, &mut |literal, called| {
            let is_for_us = called == Some("expect") || NOT_FOR_READERS.contains(&literal);
            if !is_for_us && is_sentence(literal) {
                found.push(literal.to_owned());
            }
        });
        faults.extend(found.iter().map(|literal| format!("{name}: {literal:?}")));
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_text_that_is_asked_for_is_there_and_every_text_is_asked_for() {
    let mut asked: BTreeMap<String, String> = BTreeMap::new();
    let mut named = BTreeSet::new();
    for path in sources() {
        let name = name_of(&path, &source_root());
        let tokens: TokenStream = text_of(&path).parse().expect("the source is Rust");
        literals(tokens, &mut |literal, called| {
            named.insert(literal.to_owned());
            if matches!(called, Some("t" | "word" | "rich")) {
                asked.insert(literal.to_owned(), name.clone());
            }
        });
    }
    for path in templates() {
        let name = name_of(&path, &template_root());
        for key in keys_in_template(&text_of(&path)) {
            named.insert(key.clone());
            asked.insert(key, name.clone());
        }
    }
    assert!(asked.len() > 150, "only {} keys found", asked.len());
    let known: BTreeSet<&str> = messages(Language::English)
        .into_iter()
        .map(|(key, _)| key)
        .collect();
    let missing: Vec<String> = asked
        .iter()
        .filter(|(key, _)| !known.contains(key.as_str()))
        .map(|(key, place)| format!("{key}, in {place}"))
        .collect();
    assert!(missing.is_empty(), "no text for {missing:#?}");
    let idle: Vec<&&str> = known.iter().filter(|key| !named.contains(**key)).collect();
    assert!(idle.is_empty(), "nothing says {idle:?}");
}

#[test]
fn every_language_has_every_text_with_the_same_variables_and_tags() {
    let english: BTreeMap<_, _> = messages(Language::English).into_iter().collect();
    let mut faults = Vec::new();
    for language in Language::ALL {
        let its: BTreeMap<_, _> = messages(language).into_iter().collect();
        for (key, text) in &english {
            let Some(translated) = its.get(key) else {
                faults.push(format!("{key}: not in {language:?}"));
                continue;
            };
            if variables_of(language, key) != variables_of(Language::English, key) {
                faults.push(format!("{key}: other variables in {language:?}"));
            }
            if tags(text) != tags(translated) {
                faults.push(format!("{key}: other tags in {language:?}"));
            }
            if translated.trim().is_empty() {
                faults.push(format!("{key}: empty in {language:?}"));
            }
        }
        for key in its.keys().filter(|key| !english.contains_key(**key)) {
            faults.push(format!("{key}: in {language:?} alone"));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn no_language_promises_what_a_measurement_on_a_bench_cannot() {
    for language in Language::ALL {
        for (key, text) in messages(language) {
            // "Measured by us is not certified" is no promise.
            let text = text.to_lowercase().replace("not certified", "");
            for promise in ["certified", "zertifiziert", "geprüfte sicherheit"] {
                assert!(!text.contains(promise), "{language:?} {key}: {text}");
            }
        }
    }
}

/// The tags of a message, in order.
fn tags(text: &str) -> Vec<&str> {
    text.split('<')
        .skip(1)
        .filter_map(|part| part.split_once('>'))
        .map(|(tag, _)| tag.split(' ').next().unwrap_or(tag))
        .collect()
}

/// Two words one after the other.
fn is_sentence(literal: &str) -> bool {
    let literal = without(literal, "{", "}", "\u{1}");
    let words: Vec<&str> = literal.split_whitespace().collect();
    let is_word = |word: &str| {
        let is_class = word.starts_with("c-");
        let word = word.trim_matches(|c: char| !c.is_alphanumeric());
        let letters = |c: char| c.is_alphabetic() || c == '-' || c == '’';
        !is_class && word.chars().count() > 1 && word.chars().all(letters)
    };
    words
        .windows(2)
        .any(|two| is_word(two[0]) && is_word(two[1]))
}

/// Calls `note` with each text literal outside of attributes and tests, and the name of what it is
/// handed to as the first argument.
fn literals(tokens: TokenStream, note: &mut impl FnMut(&str, Option<&str>)) {
    walk(tokens, None, note);
}

fn walk(tokens: TokenStream, called: Option<&str>, note: &mut impl FnMut(&str, Option<&str>)) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let mut only_in_tests = false;
    for (i, token) in tokens.iter().enumerate() {
        match token {
            TokenTree::Group(group) => {
                let is_inner =
                    i > 1 && is_punct(&tokens[i - 1], '!') && is_punct(&tokens[i - 2], '#');
                if is_inner || i > 0 && is_punct(&tokens[i - 1], '#') {
                    let attribute = group.stream().to_string().replace(' ', "");
                    only_in_tests |= attribute == "cfg(test)";
                    // What a failure says stands in its attribute.
                    if attribute.starts_with("error(") {
                        walk(group.stream(), None, note);
                    }
                    continue;
                }
                let name = match group.delimiter() {
                    Delimiter::Parenthesis => before(&tokens, i),
                    _ => None,
                };
                if !only_in_tests {
                    walk(group.stream(), name.as_deref(), note);
                }
                if group.delimiter() == Delimiter::Brace {
                    only_in_tests = false;
                }
            }
            TokenTree::Punct(p) if p.as_char() == ';' => only_in_tests = false,
            TokenTree::Literal(literal) => {
                let text = literal.to_string();
                if let Some(text) = text.strip_prefix('"').and_then(|t| t.strip_suffix('"')) {
                    note(&without_breaks(text), called.filter(|_| i == 0));
                }
            }
            _ => {}
        }
    }
}

/// The name of the function or macro whose arguments stand at `i`.
fn before(tokens: &[TokenTree], i: usize) -> Option<String> {
    let mut at = i.checked_sub(1)?;
    if is_punct(&tokens[at], '!') {
        at = at.checked_sub(1)?;
    }
    match &tokens[at] {
        TokenTree::Ident(name) => Some(name.to_string()),
        _ => None,
    }
}

/// A literal over several lines goes on at the next word.
fn without_breaks(literal: &str) -> String {
    let mut lines = literal.split("\\\n");
    let first = lines.next().unwrap_or("").to_owned();
    lines.fold(first, |text, line| text + line.trim_start())
}

fn templates() -> Vec<PathBuf> {
    let root = template_root();
    let mut found = vec![root.join("base.html"), root.join("error.html")];
    for folder in ["pages", "parts"] {
        let entries = std::fs::read_dir(root.join(folder)).expect("a folder of templates");
        found.extend(entries.map(|entry| entry.expect("an entry").path()));
    }
    found.sort();
    found
}

fn template_root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("templates")
}

fn name_of(path: &Path, root: &Path) -> String {
    let path = path.strip_prefix(root).expect("it lies below the folder");
    path.display().to_string()
}

fn text_of(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|cause| panic!("{}: {cause}", path.display()))
}

/// The keys that a template asks for: `"key"|t`, `"key"|rich`.
fn keys_in_template(template: &str) -> Vec<String> {
    let mut keys = Vec::new();
    for filter in ["\"|t", "\"|rich"] {
        for (at, _) in template.match_indices(filter) {
            let after = template[at + filter.len()..].chars().next();
            if after.is_some_and(|c| c.is_alphanumeric() || c == '_') {
                continue;
            }
            let before = &template[..at];
            let from = before.rfind('"').expect("a text begins with a quote") + 1;
            keys.push(before[from..].to_owned());
        }
    }
    keys
}

/// Words between tags, and in the attributes that are read out or shown.
fn words_in_template(template: &str) -> Vec<String> {
    let mut html = template.to_owned();
    for (open, close, instead) in [("{#", "#}", ""), ("{%", "%}", ""), ("{{", "}}", "\u{1}")] {
        html = without(&html, open, close, instead);
    }
    html = without(&html, "<!--", "-->", "");
    let mut words = Vec::new();
    let mut rest = html.as_str();
    while let Some(at) = rest.find('<') {
        words.extend(words_of(&rest[..at]));
        let end = rest[at..].find('>').map_or(rest.len(), |end| at + end + 1);
        words.extend(words_of_attributes(&rest[at..end]));
        rest = &rest[end..];
    }
    words.extend(words_of(rest));
    words
}

fn without(text: &str, open: &str, close: &str, instead: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(open) {
        out.push_str(before);
        out.push_str(instead);
        rest = after.split_once(close).map_or("", |(_, after)| after);
    }
    out + rest
}

fn words_of_attributes(tag: &str) -> Vec<String> {
    const READ: &[&str] = &[
        "title",
        "aria-label",
        "alt",
        "placeholder",
        "data-label",
        "label",
    ];
    let mut words = Vec::new();
    for name in READ {
        for quote in ['"', '\''] {
            let begin = format!(" {name}={quote}");
            for (at, _) in tag.match_indices(&begin) {
                let value = &tag[at + begin.len()..];
                words.extend(words_of(value.split(quote).next().unwrap_or(value)));
            }
        }
    }
    words
}

fn words_of(text: &str) -> Vec<String> {
    let text = without(text, "&", ";", " ");
    text.split(|c: char| !c.is_alphabetic())
        .filter(|word| word.chars().count() > 1 && !NOT_WORDS.contains(word))
        .map(str::to_owned)
        .collect()
}
