//! The map of rooms in DEVELOPERS.md, held as a test: a module uses what stands above it, never
//! below; SQL lives only in `storage`, HTTP only in `web`; the computing rooms know no files, no
//! clock and no chance.
//!
//! The sources are read as Rust tokens, so comments and texts do not count. Code under
//! `#[cfg(test)]` may reach further than what it tests.

#[path = "layers/texts.rs"]
mod texts;

use proc_macro2::{Delimiter, TokenStream, TokenTree};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Room, and the rooms that it may use.
const MAP: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    // Knows the computer, and nothing of adapters.
    ("host", &[]),
    ("text", &[]),
    ("bench", &["quantity"]),
    ("standards", &["quantity", "bench"]),
    ("log", &["quantity", "bench"]),
    ("photo", &["quantity"]),
    ("evaluate", &["quantity", "bench", "standards", "log"]),
    (
        "ranking",
        &["quantity", "bench", "standards", "log", "evaluate"],
    ),
    // The chart room draws ranking rows, and knows nothing of filters and orders.
    (
        "chart",
        &[
            "quantity",
            "text",
            "bench",
            "standards",
            "log",
            "evaluate",
            "ranking::row",
            "ranking::Row",
        ],
    ),
    (
        "demo",
        &["quantity", "bench", "standards", "log", "evaluate", "photo"],
    ),
    // Lays out words, tables and pictures of whatever kind.
    ("paper", &[]),
    (
        "storage",
        &[
            "quantity",
            "bench",
            "standards",
            "log",
            "evaluate",
            "photo",
            "ranking",
        ],
    ),
    (
        "intake",
        &[
            "quantity",
            "bench",
            "standards",
            "log",
            "evaluate",
            "photo",
            "ranking",
            "storage",
        ],
    ),
    (
        "config",
        &["quantity", "text", "bench", "standards", "log", "evaluate"],
    ),
    (
        "web",
        &[
            "quantity",
            "text",
            "bench",
            "standards",
            "log",
            "evaluate",
            "photo",
            "ranking",
            "chart",
            "paper",
            "demo",
            "storage",
            "intake",
            "config",
            "host",
        ],
    ),
    (
        "command",
        &[
            "quantity",
            "text",
            "bench",
            "standards",
            "log",
            "evaluate",
            "photo",
            "ranking",
            "chart",
            "paper",
            "demo",
            "storage",
            "intake",
            "config",
            "host",
            "web",
        ],
    ),
];

/// Rooms of plain computation: time and chance are handed in.
const PURE: &[&str] = &[
    "quantity",
    "text",
    "bench",
    "standards",
    "log",
    "photo",
    "evaluate",
    "ranking",
    "chart",
    "paper",
    "demo",
];

#[test]
fn every_room_uses_only_what_stands_above_it() {
    let mut faults = Vec::new();
    let mut files = 0;
    for path in sources() {
        let text = std::fs::read_to_string(&path).expect("a source file can be read");
        let place = Place::of(path.strip_prefix(source_root()).expect("it lies in src/"));
        faults.extend(faults_in(&place, &text));
        files += 1;
    }
    assert!(files > 10, "only {files} source files found");
    assert!(
        faults.is_empty(),
        "against the map in DEVELOPERS.md:\n{}",
        faults.join("\n")
    );
}

#[test]
fn the_map_names_every_room_and_no_other() {
    let mut rooms: BTreeSet<String> = std::fs::read_dir(source_root())
        .expect("src/ can be listed")
        .map(|entry| entry.expect("an entry of src/").path())
        .filter_map(|path| Some(path.file_stem()?.to_str()?.to_owned()))
        .collect();
    rooms.remove("main");
    rooms.remove("lib");
    let mapped: BTreeSet<String> = MAP.iter().map(|(room, _)| (*room).to_owned()).collect();
    assert_eq!(rooms, mapped);

    let developers = std::fs::read_to_string(source_root().join("../DEVELOPERS.md"))
        .expect("DEVELOPERS.md can be read");
    for (room, _) in MAP {
        assert!(
            developers
                .lines()
                .any(|line| line.starts_with(&format!("| `{room}` |"))),
            "DEVELOPERS.md has no row for `{room}`"
        );
    }
}

#[test]
fn a_room_that_reaches_below_itself_is_found() {
    let place = Place::of(Path::new("evaluate/score.rs"));
    let reach = |text: &str| faults_in(&place, text).len();

    assert_eq!(reach("use crate::bench::record::Record;"), 0);
    assert_eq!(reach("use crate::{bench::record::Record, standards};"), 0);
    assert_eq!(
        reach("use super::evaluation::Score; fn f() { super::super::bench::f() }"),
        0
    );
    assert_eq!(
        reach("// use crate::web;\n/// See [`crate::web`].\nconst A: &str = \"crate::web\";"),
        0
    );
    assert_eq!(
        reach("#[cfg(test)] mod tests { use super::*; use crate::demo::invent; }"),
        0
    );

    assert_eq!(reach("use crate::storage::Db;"), 1);
    assert_eq!(
        reach("use crate::{\n    bench::record::Record,\n    web::{urls, state},\n};"),
        1
    );
    assert_eq!(reach("fn f() { let _ = crate::intake::submit(); }"), 1);
    assert_eq!(reach("use super::super::storage::Db;"), 1);
    assert_eq!(
        reach("mod inner { use super::super::super::storage::Db; }"),
        1
    );
    assert_eq!(reach("pub(in crate::web) fn f() {}"), 1);
    assert_eq!(reach("fn f() { println!(\"{}\", crate::web::NAME); }"), 1);
    assert_eq!(
        reach("#[cfg(test)] use crate::demo::a; use crate::demo::b;"),
        1
    );
}

#[test]
fn charts_may_draw_rows_but_not_ask_the_standings() {
    let place = Place::of(Path::new("chart/class.rs"));
    assert_eq!(
        faults_in(&place, "use crate::ranking::Row; use crate::ranking::row;").len(),
        0
    );
    assert_eq!(
        faults_in(&place, "use crate::ranking::{Row, Standings};").len(),
        1
    );
}

#[test]
fn sql_outside_storage_and_http_outside_web_are_found() {
    let intake = Place::of(Path::new("intake/submit.rs"));
    let storage = Place::of(Path::new("storage/units.rs"));
    let web = Place::of(Path::new("web/mod.rs"));
    let query = "fn f() { sqlx::query!(\"SELECT slug FROM unit\"); }";
    assert_eq!(faults_in(&storage, query).len(), 0);
    assert_eq!(
        faults_in(&intake, query).len(),
        2,
        "the crate and the statement"
    );
    assert_eq!(
        faults_in(&web, "const Q: &str = \"delete from unit where id = ?\";").len(),
        1
    );
    assert_eq!(
        faults_in(&web, "const T: &str = \"Select from the list\";").len(),
        0
    );
    assert_eq!(faults_in(&web, "use axum::Router;").len(), 0);
    assert_eq!(faults_in(&intake, "use axum::Router;").len(), 1);
}

#[test]
fn a_computing_room_that_looks_at_the_clock_or_a_file_is_found() {
    let place = Place::of(Path::new("evaluate/mod.rs"));
    let count = |text: &str| faults_in(&place, text).len();
    assert_eq!(count("fn f() { std::time::SystemTime::now(); }"), 1);
    assert_eq!(count("use std::fs;"), 1);
    assert_eq!(count("fn f() { time::OffsetDateTime::now_utc(); }"), 1);
    assert_eq!(count("use std::f64::consts::PI;"), 0);
}

/// Where code stands: its room, and the module path from the crate root.
struct Place {
    file: String,
    modules: Vec<String>,
}

impl Place {
    /// From a path below `src/`.
    fn of(path: &Path) -> Place {
        let mut modules: Vec<String> = path
            .with_extension("")
            .components()
            .map(|c| c.as_os_str().to_string_lossy().into_owned())
            .collect();
        if modules.last().is_some_and(|last| last == "mod") {
            modules.pop();
        }
        Place {
            file: path.display().to_string(),
            modules,
        }
    }

    fn room(&self) -> &str {
        &self.modules[0]
    }
}

/// Every use in `text` that the map does not allow to `place`, as sentences.
fn faults_in(place: &Place, text: &str) -> Vec<String> {
    // `main` and `lib` put the program together; a file of tests may reach further.
    if place
        .modules
        .iter()
        .any(|m| matches!(m.as_str(), "main" | "lib" | "tests"))
    {
        return Vec::new();
    }
    let tokens: TokenStream = text.parse().expect("the source is Rust");
    let mut faults = Vec::new();
    look(place, &place.modules, tokens, &mut faults);
    faults
}

/// Walks through tokens that stand in the module `modules`.
fn look(place: &Place, modules: &[String], tokens: TokenStream, faults: &mut Vec<String>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let mut only_in_tests = false;
    let mut i = 0;
    while i < tokens.len() {
        if starts_test_attribute(&tokens[i..]) {
            only_in_tests = true;
            i += 2;
            continue;
        }
        match &tokens[i] {
            TokenTree::Punct(p) if p.as_char() == ';' => only_in_tests = false,
            TokenTree::Group(group) => {
                let braces = group.delimiter() == Delimiter::Brace;
                if !only_in_tests {
                    let name = (braces && i >= 2 && is_word(&tokens[i - 2], "mod"))
                        .then(|| tokens[i - 1].to_string());
                    let inner: Vec<String> = modules.iter().cloned().chain(name).collect();
                    look(place, &inner, group.stream(), faults);
                }
                if braces {
                    only_in_tests = false;
                }
            }
            TokenTree::Ident(word) if !only_in_tests => {
                let after_path = i >= 2 && is_punct(&tokens[i - 1], ':');
                let word = word.to_string();
                match word.as_str() {
                    "crate" => check_use(place, &tokens[i + 1..], faults),
                    "super" if !after_path => {
                        let mut ups = 1;
                        let mut rest = &tokens[i + 1..];
                        while let Some(next) = after_colons(rest) {
                            if !next.first().is_some_and(|t| is_word(t, "super")) {
                                break;
                            }
                            ups += 1;
                            rest = &next[1..];
                        }
                        if ups == modules.len() {
                            check_use(place, rest, faults);
                        }
                    }
                    _ => check_foreign(place, &word, after_path, &tokens[i + 1..], faults),
                }
            }
            TokenTree::Literal(literal)
                if !only_in_tests
                    && place.room() != "storage"
                    && reads_as_sql(&literal.to_string()) =>
            {
                faults.push(format!("{}: a statement in SQL: {literal}", place.file));
            }
            _ => {}
        }
        i += 1;
    }
}

/// `rest` follows a path to the crate root: names the room, or a group of paths with rooms.
fn check_use(place: &Place, rest: &[TokenTree], faults: &mut Vec<String>) {
    let Some(rest) = after_colons(rest) else {
        return;
    };
    match rest.first() {
        Some(TokenTree::Ident(room)) => {
            let room = room.to_string();
            let inner = after_colons(&rest[1..]);
            for name in inner.map(first_names).unwrap_or_default() {
                check_room(place, &room, Some(&name), faults);
            }
            if inner.is_none() {
                check_room(place, &room, None, faults);
            }
        }
        Some(TokenTree::Group(group)) if group.delimiter() == Delimiter::Brace => {
            let tokens: Vec<TokenTree> = group.stream().into_iter().collect();
            for entry in tokens.split(|t| is_punct(t, ',')) {
                if let Some(TokenTree::Ident(room)) = entry.first() {
                    let inner = after_colons(&entry[1..]);
                    for name in inner.map(first_names).unwrap_or_default() {
                        check_room(place, &room.to_string(), Some(&name), faults);
                    }
                    if inner.is_none() {
                        check_room(place, &room.to_string(), None, faults);
                    }
                }
            }
        }
        _ => {}
    }
}

/// The names that a path or group begins with: `a` of `a::b`, `a` and `c` of `{a::b, c}`.
fn first_names(tokens: &[TokenTree]) -> Vec<String> {
    match tokens.first() {
        Some(TokenTree::Group(group)) => {
            let inner: Vec<TokenTree> = group.stream().into_iter().collect();
            inner
                .split(|t| is_punct(t, ','))
                .filter_map(|entry| entry.first().map(ToString::to_string))
                .collect()
        }
        Some(token) => vec![token.to_string()],
        None => Vec::new(),
    }
}

fn check_room(place: &Place, room: &str, inside: Option<&str>, faults: &mut Vec<String>) {
    // Anything else at the root (a macro, a re-export) belongs to no room.
    if room == place.room() || !MAP.iter().any(|(name, _)| *name == room) {
        return;
    }
    let (_, may_use) = MAP
        .iter()
        .find(|(name, _)| *name == place.room())
        .unwrap_or_else(|| panic!("{}: a room that the map does not name", place.file));
    let whole = may_use.contains(&room);
    let part = inside.is_some_and(|name| may_use.contains(&format!("{room}::{name}").as_str()));
    if !whole && !part {
        let fault = format!("{}: `{}` may not use `{room}`", place.file, place.room());
        let partly = may_use
            .iter()
            .any(|name| name.starts_with(&format!("{room}::")));
        match inside {
            Some(name) if partly => faults.push(format!("{fault} beyond its rows: `{name}`")),
            // One import of several names is one fault.
            _ if faults.last() != Some(&fault) => faults.push(fault),
            _ => {}
        }
    }
}

/// Crates and parts of the standard library that only some rooms may use.
fn check_foreign(
    place: &Place,
    word: &str,
    after_path: bool,
    rest: &[TokenTree],
    faults: &mut Vec<String>,
) {
    let starts_path = !after_path && after_colons(rest).is_some();
    let room = place.room();
    let allowed = match word {
        "sqlx" if starts_path => room == "storage",
        "axum" | "axum_extra" | "tower_http" if starts_path => room == "web",
        "tokio" if starts_path => !PURE.contains(&room),
        "SystemTime" | "Instant" | "now_utc" | "now_local" => !PURE.contains(&room),
        "fs" | "net" | "env" | "process" if after_path || starts_path => !PURE.contains(&room),
        _ => true,
    };
    if !allowed {
        faults.push(format!("{}: `{room}` may not use `{word}`", place.file));
    }
}

/// Does a text literal hold a statement? Only what begins as one and goes on as one.
fn reads_as_sql(literal: &str) -> bool {
    let text = literal
        .trim_start_matches(['r', 'b', '#', '"'])
        .trim_start()
        .to_lowercase();
    let words: Vec<&str> = text.split_whitespace().collect();
    match words.as_slice() {
        ["select", rest @ ..] => {
            // "select from the list" is English; a statement names its columns first.
            rest.iter().skip(1).any(|w| *w == "from")
        }
        ["insert", "into" | "or", ..] | ["delete", "from", ..] => true,
        ["update", _, "set", ..] => true,
        [
            "create" | "alter" | "drop",
            "table" | "index" | "trigger",
            ..,
        ] => true,
        _ => false,
    }
}

fn starts_test_attribute(tokens: &[TokenTree]) -> bool {
    let [hash, TokenTree::Group(group), ..] = tokens else {
        return false;
    };
    is_punct(hash, '#') && group.stream().to_string().replace(' ', "") == "cfg(test)"
}

/// What follows `::`, if that is what comes first.
fn after_colons(tokens: &[TokenTree]) -> Option<&[TokenTree]> {
    match tokens {
        [a, b, rest @ ..] if is_punct(a, ':') && is_punct(b, ':') => Some(rest),
        _ => None,
    }
}

fn is_punct(token: &TokenTree, wanted: char) -> bool {
    matches!(token, TokenTree::Punct(p) if p.as_char() == wanted)
}

fn is_word(token: &TokenTree, wanted: &str) -> bool {
    matches!(token, TokenTree::Ident(word) if word == wanted)
}

fn source_root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn sources() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![source_root()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("a folder of src/ can be listed") {
            let path = entry.expect("an entry of a folder").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}
