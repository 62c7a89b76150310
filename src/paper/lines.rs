//! Text broken into lines that are ready to draw.

use super::font::Fonts;
use super::{Style, Text};
use krilla::text::KrillaGlyph;
use std::ops::Range;
use unicode_bidi::{BidiInfo, Level};

/// One line.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub runs: Vec<Run>,
    /// Without the space at its end.
    pub width: f32,
}

/// Text in one style and one direction.
#[derive(Debug, Clone)]
pub(super) struct Run {
    /// From the line's beginning.
    pub x: f32,
    pub style: Style,
    pub size: f32,
    pub text: String,
    pub glyphs: Vec<KrillaGlyph>,
}

/// Text with its styles as byte ranges.
struct Flat {
    text: String,
    styles: Vec<(Range<usize>, Style)>,
}

impl Flat {
    fn of(text: &Text) -> Flat {
        let mut flat = Flat {
            text: String::new(),
            styles: Vec::new(),
        };
        for (span, style) in &text.spans {
            let from = flat.text.len();
            flat.text.extend(span.chars().filter_map(|c| match c {
                '\n' => Some('\n'),
                '\t' => Some(' '),
                // Other control characters have no shape.
                c if c.is_control() => None,
                c => Some(c),
            }));
            flat.styles.push((from..flat.text.len(), *style));
        }
        flat
    }

    /// The parts of a range that have one style each.
    fn parts(&self, range: Range<usize>) -> impl Iterator<Item = (&str, Style)> {
        self.styles.iter().filter_map(move |(span, style)| {
            let from = span.start.max(range.start);
            let to = span.end.min(range.end);
            (from < to).then(|| (&self.text[from..to], *style))
        })
    }

    fn width(&self, fonts: &Fonts, range: Range<usize>, size: f32) -> f32 {
        self.parts(range)
            .map(|(text, style)| (text.trim_end_matches('\n'), style))
            .map(|(text, style)| fonts.width(text, style, size_of(style, size)))
            .sum()
    }
}

fn size_of(style: Style, size: f32) -> f32 {
    match (style.smaller, style.small) {
        (true, _) => size * 0.6,
        (false, true) => size * 0.9,
        (false, false) => size,
    }
}

/// Space that may hang over the end of a line. Spaces that keep words together may not.
fn without_end_space(text: &str) -> &str {
    text.trim_end_matches([' ', '\n'])
}

/// The text in lines of at most `width` points. A word that is too long is broken anywhere.
pub(super) fn broken(fonts: &Fonts, text: &Text, size: f32, width: f32) -> Vec<Line> {
    let flat = Flat::of(text);
    let mut lines = Vec::new();
    let (mut from, mut x) = (0, 0.0);
    let mut last = 0;
    // Widths are sums of parts shaped alone; what that is off is less than this.
    let width = width + 0.01;
    for end in fonts.breaks(&flat.text) {
        let segment = last..end;
        let seen = last + without_end_space(&flat.text[segment.clone()]).len();
        let seen_width = flat.width(fonts, last..seen, size);
        if x + seen_width > width && from < last {
            lines.push(line(fonts, &flat, from..last, size));
            (from, x) = (last, 0.0);
        }
        if seen_width > width {
            let mut reached = 0.0;
            for (at, c) in flat.text[last..seen].char_indices() {
                let at = last + at;
                let one = flat.width(fonts, at..at + c.len_utf8(), size);
                if reached + one > width && from < at {
                    lines.push(line(fonts, &flat, from..at, size));
                    (from, reached) = (at, 0.0);
                }
                reached += one;
            }
            x = reached + flat.width(fonts, seen..end, size);
        } else {
            x += flat.width(fonts, segment, size);
        }
        if flat.text[..end].ends_with('\n') {
            lines.push(line(fonts, &flat, from..end, size));
            (from, x) = (end, 0.0);
        }
        last = end;
    }
    if from < flat.text.len() {
        lines.push(line(fonts, &flat, from..flat.text.len(), size));
    }
    lines
}

/// Width of the longest part that is not broken if it can be helped, and of the longest line
/// without any break.
pub(super) fn extent(fonts: &Fonts, text: &Text, size: f32) -> (f32, f32) {
    let flat = Flat::of(text);
    let (mut least, mut most, mut x) = (0.0f32, 0.0f32, 0.0f32);
    let mut last = 0;
    for end in fonts.breaks(&flat.text) {
        let seen = last + without_end_space(&flat.text[last..end]).len();
        let part = flat.width(fonts, last..seen, size);
        least = least.max(part);
        most = most.max(x + part);
        x += flat.width(fonts, last..end, size);
        if flat.text[..end].ends_with('\n') {
            x = 0.0;
        }
        last = end;
    }
    (least, most)
}

fn line(fonts: &Fonts, flat: &Flat, range: Range<usize>, size: f32) -> Line {
    let whole = &flat.text[range.clone()];
    let seen = without_end_space(whole).len();
    let words = range.start..range.start + seen;
    let mut runs = Vec::new();
    let mut x = 0.0;
    let mut add = |part: Range<usize>, rtl: bool| {
        let mut parts: Vec<_> = flat.parts(part).collect();
        if rtl {
            parts.reverse();
        }
        for (text, style) in parts {
            let size = size_of(style, size);
            let (glyphs, width) = fonts.shaped(text, style, size, rtl);
            runs.push(Run {
                x,
                style,
                size,
                text: text.to_owned(),
                glyphs,
            });
            x += width;
        }
        x
    };
    let shown = &flat.text[words.clone()];
    // Hebrew is the first script from right to left in the code.
    if shown.chars().any(|c| c >= '\u{590}') {
        let bidi = BidiInfo::new(shown, Some(Level::ltr()));
        let mut width = 0.0;
        for paragraph in &bidi.paragraphs {
            let (levels, visual) = bidi.visual_runs(paragraph, paragraph.range.clone());
            for run in visual {
                let rtl = levels[run.start].is_rtl();
                width = add(words.start + run.start..words.start + run.end, rtl);
            }
        }
        return Line { width, runs };
    }
    let width = add(words.clone(), false);
    // The space at the end is drawn, so that words taken out of the PDF stay apart.
    if whole[seen..].starts_with(' ') {
        add(words.end..words.end + 1, false);
    }
    Line { width, runs }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(lines: &[Line]) -> Vec<String> {
        lines
            .iter()
            .map(|line| {
                let text: String = line.runs.iter().map(|run| run.text.as_str()).collect();
                text.trim_end().to_owned()
            })
            .collect()
    }

    #[test]
    fn lines_break_between_words_and_none_is_wider_than_asked_for() {
        let fonts = Fonts::new();
        let text = Text::from("Measured by us on one sample; not a certification.");
        let lines = broken(&fonts, &text, 9.0, 80.0);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|line| line.width <= 80.01));
        assert_eq!(words(&lines).join(" "), text.words());
    }

    #[test]
    fn a_word_without_any_break_is_cut_and_loses_nothing() {
        let fonts = Fonts::new();
        let hash = "0123456789abcdef".repeat(4);
        let lines = broken(&fonts, &Text::from(hash.as_str()), 9.0, 70.0);
        assert!(lines.iter().all(|line| line.width <= 70.01));
        assert_eq!(words(&lines).concat(), hash);
    }

    #[test]
    fn a_number_stays_with_its_unit_and_a_line_feed_is_kept() {
        let fonts = Fonts::new();
        let text = Text::from("loss of 12.5\u{202f}W\nand more");
        // From where the figure with its unit fits on a line.
        for width in 32..80 {
            let lines = words(&broken(&fonts, &text, 9.0, width as f32));
            assert!(lines.iter().all(|line| line != "W"), "{width}: {lines:?}");
        }
        assert_eq!(words(&broken(&fonts, &text, 9.0, 400.0)).len(), 2);
        assert!(fonts.lacking().is_empty(), "a line feed needs no glyph");
    }

    #[test]
    fn words_from_right_to_left_stand_in_their_order() {
        let fonts = Fonts::new();
        let lines = broken(&fonts, &Text::from("by שלום עולם Ltd"), 9.0, 400.0);
        let texts: Vec<&str> = lines[0].runs.iter().map(|run| run.text.as_str()).collect();
        assert_eq!(texts, ["by ", "שלום עולם", " Ltd"]);
        let hebrew = &lines[0].runs[1];
        // The glyph that stands leftmost is the last letter.
        assert!(hebrew.glyphs[0].text_range.end == hebrew.text.len());
    }
}
