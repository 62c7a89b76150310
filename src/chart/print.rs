//! How charts look on paper: the light colours of `static/chart.css` for a renderer that knows
//! neither custom properties nor media queries.

use std::collections::BTreeMap;

/// A style sheet for drawings of [`super::Size::Wide`], on white.
pub fn print_style() -> String {
    let css = without_comments(include_str!("../../static/chart.css"));
    let rules = rules(&css);
    let mut colours: BTreeMap<&str, &str> = rules
        .iter()
        .find(|(selector, _)| *selector == ":root")
        .map(|(_, body)| declarations(body).collect())
        .unwrap_or_default();
    colours.insert("--chart-paper", "#ffffff");
    let resolved = |body: &str| {
        let mut body = body.to_owned();
        for (name, colour) in &colours {
            body = body.replace(&format!("var({name})"), colour);
        }
        body
    };
    let mut sheet = String::from("svg { font-size: 12px; }\n.chart .c-hits { display: none; }\n");
    for (selector, body) in &rules {
        let drawn = selector.starts_with(".chart ") || selector.starts_with(".chart\n");
        let screen_only = selector.contains(":hover") || selector.contains(".c-hits");
        if !drawn || screen_only || body.trim_start().starts_with("--c:") {
            continue;
        }
        let body = resolved(body);
        if !body.contains("var(--c)") {
            sheet.push_str(&format!("{selector} {{{body}}}\n"));
            continue;
        }
        for series in 1..=6 {
            let selector: Vec<String> = selector
                .split(',')
                .map(|one| format!("{}.c-s{series}", one.trim()))
                .collect();
            let colour = colours
                .get(format!("--chart-{series}").as_str())
                .unwrap_or(&"#000000");
            let body = body.replace("var(--c)", colour);
            sheet.push_str(&format!("{} {{{body}}}\n", selector.join(", ")));
        }
    }
    sheet
}

/// The wide drawing of the pair that [`super::Chart::both`] gives.
pub fn wide_of(both: &str) -> &str {
    both.find("</svg>")
        .map_or(both, |end| &both[..end + "</svg>".len()])
}

fn without_comments(css: &str) -> String {
    let mut out = String::new();
    let mut rest = css;
    while let Some(from) = rest.find("/*") {
        out.push_str(&rest[..from]);
        rest = rest[from..]
            .find("*/")
            .map_or("", |to| &rest[from + to + 2..]);
    }
    out.push_str(rest);
    out
}

/// Selectors with their declarations; what stands in an `@` block is left out.
fn rules(css: &str) -> Vec<(&str, &str)> {
    let mut rules = Vec::new();
    let (mut depth, mut start, mut open) = (0, 0, 0);
    for (at, c) in css.char_indices() {
        match c {
            '{' => {
                if depth == 0 {
                    open = at;
                }
                depth += 1;
            }
            '}' => {
                depth -= 1;
                if depth == 0 {
                    let selector = css[start..open].trim();
                    if !selector.starts_with('@') {
                        rules.push((selector, &css[open + 1..at]));
                    }
                    start = at + 1;
                }
            }
            _ => {}
        }
    }
    rules
}

fn declarations(body: &str) -> impl Iterator<Item = (&str, &str)> {
    body.split(';').filter_map(|declaration| {
        let (name, value) = declaration.split_once(':')?;
        Some((name.trim(), value.trim()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_colour_is_resolved_and_every_series_has_its_own() {
        let style = print_style();
        assert!(!style.contains("var("), "{style}");
        assert!(!style.contains("@media"));
        for series in 1..=6 {
            assert!(
                style.contains(&format!(".chart .c-line.c-s{series} {{")),
                "{style}"
            );
        }
        assert!(style.contains("#0253b5") && style.contains(".c-grid"));
    }

    #[test]
    fn of_a_pair_the_first_drawing_is_taken() {
        assert_eq!(wide_of("<svg>a</svg><svg>b</svg>"), "<svg>a</svg>");
    }
}
