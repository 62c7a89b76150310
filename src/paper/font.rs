//! The two fonts that every document is set in, and text shaped with them: glyphs, widths, and
//! which characters the fonts lack.

use super::Style;
use icu_segmenter::LineSegmenter;
use krilla::text::{GlyphId, KrillaGlyph};
use rustybuzz::{Direction, Face, Script, ShapePlan, UnicodeBuffer, script, shape_with_plan};
use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::ops::Range;
use std::rc::Rc;

/// DejaVu Sans Condensed 2.37, whole: Latin, Greek, Cyrillic, Armenian, Georgian, Hebrew, Arabic
/// and signs, but no Chinese, Japanese or Korean.
pub(super) const REGULAR: &[u8] = include_bytes!("fonts/DejaVuSansCondensed.ttf");
pub(super) const BOLD: &[u8] = include_bytes!("fonts/DejaVuSansCondensed-Bold.ttf");

/// Bold, from right to left, and the script.
type Shaping = (bool, bool, Option<Script>);

pub(super) struct Fonts {
    regular: Face<'static>,
    bold: Face<'static>,
    segmenter: LineSegmenter,
    lacking: RefCell<BTreeSet<char>>,
    /// How text of a weight, direction and script is shaped: costlier to find out than to do.
    plans: RefCell<HashMap<Shaping, Rc<ShapePlan>>>,
    /// Widths by weight and size: a table's words are measured again and again while it is fitted.
    widths: RefCell<HashMap<(bool, u32), HashMap<String, f32>>>,
}

impl Fonts {
    pub fn new() -> Fonts {
        let face = |bytes| Face::from_slice(bytes, 0).expect("a font that the program carries");
        Fonts {
            regular: face(REGULAR),
            bold: face(BOLD),
            segmenter: LineSegmenter::new_dictionary(),
            lacking: RefCell::default(),
            plans: RefCell::default(),
            widths: RefCell::default(),
        }
    }

    /// Places where a line may end, as byte offsets; the end of the text is one.
    pub fn breaks(&self, text: &str) -> Vec<usize> {
        self.segmenter
            .segment_str(text)
            .filter(|at| *at > 0)
            .collect()
    }

    /// Width of text that runs from left to right.
    pub fn width(&self, text: &str, style: Style, size: f32) -> f32 {
        let key = (style.bold, size.to_bits());
        let known = self.widths.borrow();
        if let Some(width) = known.get(&key).and_then(|widths| widths.get(text)) {
            return *width;
        }
        drop(known);
        let width = self.shaped(text, style, size, false).1;
        let mut widths = self.widths.borrow_mut();
        widths
            .entry(key)
            .or_default()
            .insert(text.to_owned(), width);
        width
    }

    /// Glyphs in visual order, as parts of an em, and their width at `size`.
    pub fn shaped(
        &self,
        text: &str,
        style: Style,
        size: f32,
        rtl: bool,
    ) -> (Vec<KrillaGlyph>, f32) {
        let face = if style.bold {
            &self.bold
        } else {
            &self.regular
        };
        let em = face.units_per_em() as f32;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(if rtl {
            Direction::RightToLeft
        } else {
            Direction::LeftToRight
        });
        let script = Some(buffer.script()).filter(|script| *script != script::UNKNOWN);
        let plan = self
            .plans
            .borrow_mut()
            .entry((style.bold, rtl, script))
            .or_insert_with(|| {
                let language = buffer.language();
                let direction = buffer.direction();
                Rc::new(ShapePlan::new(
                    face,
                    direction,
                    script,
                    language.as_ref(),
                    &[],
                ))
            })
            .clone();
        let shaped = shape_with_plan(face, &plan, buffer);
        let infos = shaped.glyph_infos();
        // A cluster's text goes on to where the next one in logical order begins.
        let mut starts: Vec<usize> = infos.iter().map(|info| info.cluster as usize).collect();
        starts.push(text.len());
        starts.sort_unstable();
        starts.dedup();
        let cluster = |start: usize| -> Range<usize> {
            let next = starts.partition_point(|s| *s <= start);
            start..starts.get(next).copied().unwrap_or(text.len())
        };
        let mut width = 0.0;
        let glyphs = infos
            .iter()
            .zip(shaped.glyph_positions())
            .map(|(info, position)| {
                let range = cluster(info.cluster as usize);
                if info.glyph_id == 0 {
                    self.lacking
                        .borrow_mut()
                        .extend(text[range.clone()].chars());
                }
                let part = |units: i32| units as f32 / em;
                width += part(position.x_advance) * size;
                KrillaGlyph::new(
                    GlyphId::new(info.glyph_id),
                    part(position.x_advance),
                    part(position.x_offset),
                    part(position.y_offset),
                    part(position.y_advance),
                    range,
                    None,
                )
            })
            .collect();
        (glyphs, width)
    }

    /// Characters met so far that the fonts lack; they stand as boxes.
    pub fn lacking(&self) -> Vec<char> {
        self.lacking.borrow().iter().copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_character_that_the_font_lacks_is_named() {
        let fonts = Fonts::new();
        fonts.shaped(
            "Łark Größe Ωµ± Привет ≥ ✓ ✗ ≈ … ’ – \u{202f}",
            Style::default(),
            9.0,
            false,
        );
        assert_eq!(fonts.lacking(), Vec::<char>::new());
        fonts.shaped("充電器", Style::default(), 9.0, false);
        assert_eq!(fonts.lacking().len(), 3);
    }

    #[test]
    fn width_grows_with_size_and_a_bold_word_is_wider() {
        let fonts = Fonts::new();
        let width = |bold, size| {
            let style = Style {
                bold,
                ..Style::default()
            };
            fonts.shaped("Efficiency", style, size, false).1
        };
        assert_eq!(
            fonts.width("Efficiency", Style::default(), 9.0),
            width(false, 9.0)
        );
        assert!((width(false, 18.0) / width(false, 9.0) - 2.0).abs() < 1e-4);
        assert!(width(true, 9.0) > width(false, 9.0));
    }
}
