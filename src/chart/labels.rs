//! Labels beside a chart: kept apart from each other, each as near its line as the others allow.

use std::ops::Range;

/// A label block: its height and where its middle would like to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wish {
    pub middle: f64,
    pub height: f64,
}

/// Middles for all blocks, in the order given, so that none overlaps another, all lie within
/// `top..bottom` as far as they fit, and the sum of squared moves is least (isotonic regression,
/// pool adjacent violators).
pub(super) fn spread(wishes: &[Wish], top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wishes.len()).collect();
    order.sort_by(|&a, &b| {
        wishes[a]
            .middle
            .total_cmp(&wishes[b].middle)
            .then(a.cmp(&b))
    });
    // A pool is a run of blocks that touch: the place of its first top edge and how many it holds.
    struct Pool {
        first_top: f64,
        height: f64,
        blocks: usize,
    }
    let mut pools: Vec<Pool> = Vec::new();
    for &i in &order {
        let Wish { middle, height } = wishes[i];
        pools.push(Pool {
            first_top: middle - height / 2.0,
            height,
            blocks: 1,
        });
        while let [.., above, below] = pools.as_mut_slice() {
            if above.first_top + above.height <= below.first_top {
                break;
            }
            let (a, b) = (above.blocks as f64, below.blocks as f64);
            above.first_top =
                (above.first_top * a + (below.first_top - above.height) * b) / (a + b);
            above.height += below.height;
            above.blocks += below.blocks;
            pools.pop();
        }
    }
    let mut tops: Vec<f64> = Vec::with_capacity(wishes.len());
    let mut ordered = order.iter();
    for pool in pools {
        let mut at = pool.first_top;
        for _ in 0..pool.blocks {
            tops.push(at);
            if let Some(&i) = ordered.next() {
                at += wishes[i].height;
            }
        }
    }
    // Into the frame: first up from the bottom, then down from the top, which wins.
    let mut floor = bottom;
    for (top_edge, &i) in tops.iter_mut().zip(&order).rev() {
        *top_edge = top_edge.min(floor - wishes[i].height);
        floor = *top_edge;
    }
    let mut ceiling = top;
    for (top_edge, &i) in tops.iter_mut().zip(&order) {
        *top_edge = top_edge.max(ceiling);
        ceiling = *top_edge + wishes[i].height;
    }
    let mut middles = vec![0.0; wishes.len()];
    for (top_edge, &i) in tops.iter().zip(&order) {
        middles[i] = top_edge + wishes[i].height / 2.0;
    }
    middles
}

/// Estimated width of text in a common sans-serif at so many pixels, on the generous side: the
/// reader's font is not known here.
pub(super) fn text_width(text: &str, font_px: f64) -> f64 {
    in_pixels(width_of(text), font_px)
}

/// The same in hundredths of the font's height: whole numbers add up alike in any order.
fn width_of(text: &str) -> u32 {
    text.chars().map(width_of_char).sum()
}

fn in_pixels(hundredths: u32, font_px: f64) -> f64 {
    f64::from(hundredths) / 100.0 * font_px
}

const SPACE: u32 = 34;

fn width_of_char(c: char) -> u32 {
    match c {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | ' ' | '\u{a0}' => SPACE,
        'f' | 't' | 'r' | '(' | ')' | '-' | '/' => 42,
        'm' | 'w' | 'M' | 'W' | '%' | '@' | '—' | '±' | '…' => 98,
        c if c.is_uppercase() => 76,
        c if (c as u32) >= 0x1100 => 105,
        _ => 64,
    }
}

/// The longest beginning of the text that fits, with an ellipsis if it had to be cut.
pub(super) fn fitted(text: &str, font_px: f64, width: f64) -> String {
    if text_width(text, font_px) <= width {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut taken = width_of_char('…');
    for c in text.chars() {
        taken += width_of_char(c);
        if in_pixels(taken, font_px) > width {
            break;
        }
        kept.push(c);
    }
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}

/// One line if it fits, else as few as it takes but at most three, broken at spaces so that they
/// are about equally long; what doesn't fit even so is cut. A line feed in the text sets what
/// follows it (a value) on a line of its own where the whole doesn't fit on one.
pub(super) fn wrapped(text: &str, font_px: f64, width: f64) -> Vec<String> {
    let one_line = text.replace('\n', " ");
    if text_width(&one_line, font_px) <= width {
        return vec![one_line];
    }
    if let Some((name, value)) = text.split_once('\n') {
        let mut lines = in_lines(name, font_px, width, 4);
        lines.extend(in_lines(value, font_px, width, 2));
        return lines;
    }
    in_lines(text, font_px, width, 3)
}

fn in_lines(text: &str, font_px: f64, width: f64, most: usize) -> Vec<String> {
    let words = words_of(text, font_px, width);
    // The narrowest column that still needs no more lines balances them.
    let fewest = filled(&words, font_px, width).len().min(most);
    let column = (1..=20)
        .map(|part| width * f64::from(part) / 20.0)
        .find(|column| {
            let lines = filled(&words, font_px, *column);
            lines.len() <= fewest && lines.iter().all(|l| in_pixels(l.width, font_px) <= width)
        })
        .unwrap_or(width);
    let mut lines: Vec<String> = filled(&words, font_px, column)
        .into_iter()
        .map(|line| {
            let words: Vec<&str> = words[line.words].iter().map(|(word, _)| *word).collect();
            words.join(" ")
        })
        .collect();
    if lines.len() > most {
        let rest = lines.split_off(most - 1).join(" ");
        lines.push(rest);
    }
    lines
        .iter()
        .map(|line| fitted(line, font_px, width))
        .collect()
}

/// What may stand on lines of their own, each with its width in hundredths. At no-break spaces a
/// text is parted only where what they hold together is too wide for any line.
fn words_of(text: &str, font_px: f64, widest: f64) -> Vec<(&str, u32)> {
    text.split(' ')
        .filter(|w| !w.is_empty())
        .flat_map(|word| {
            let too_wide = text_width(word, font_px) > widest;
            word.split(move |c| too_wide && c == '\u{a0}')
        })
        .map(|word| (word, width_of(word)))
        .collect()
}

/// A line: which words, and how wide they are in hundredths with the spaces between them.
struct Line {
    words: Range<usize>,
    width: u32,
}

/// Words set one after the other, a new line where the next word would pass the width. There is
/// always one line.
fn filled(words: &[(&str, u32)], font_px: f64, width: f64) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for (i, (_, own)) in words.iter().enumerate() {
        match lines.last_mut() {
            Some(line) if in_pixels(line.width + SPACE + own, font_px) <= width => {
                line.words.end = i + 1;
                line.width += SPACE + own;
            }
            _ => lines.push(Line {
                words: i..i + 1,
                width: *own,
            }),
        }
    }
    if lines.is_empty() {
        lines.push(Line {
            words: 0..0,
            width: 0,
        });
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wishes(middles: &[f64]) -> Vec<Wish> {
        middles
            .iter()
            .map(|&middle| Wish {
                middle,
                height: 14.0,
            })
            .collect()
    }

    #[test]
    fn labels_that_have_room_stay_where_their_lines_end() {
        assert_eq!(
            spread(&wishes(&[20.0, 60.0, 100.0]), 0.0, 200.0),
            vec![20.0, 60.0, 100.0]
        );
    }

    #[test]
    fn labels_of_coinciding_lines_share_the_move() {
        let placed = spread(&wishes(&[50.0, 50.0]), 0.0, 200.0);
        assert_eq!(placed, vec![43.0, 57.0]);
    }

    proptest::proptest! {
        #[test]
        fn labels_never_overlap_and_keep_the_order_of_their_lines(
            middles in proptest::collection::vec(-50.0f64..350.0, 0..16),
        ) {
            let placed = spread(&wishes(&middles), 0.0, 300.0);
            for (i, a) in placed.iter().enumerate() {
                proptest::prop_assert!(*a >= 7.0 - 1e-6 && *a <= 293.0 + 1e-6);
                for (j, b) in placed.iter().enumerate().skip(i + 1) {
                    proptest::prop_assert!((a - b).abs() >= 14.0 - 1e-6);
                    if middles[i] != middles[j] {
                        proptest::prop_assert_eq!(a < b, middles[i] < middles[j]);
                    }
                }
            }
        }
    }

    #[test]
    fn a_limit_keeps_its_value_on_a_line_of_its_own_when_its_name_is_long() {
        assert_eq!(
            wrapped("Level VI\n88.0 %", 12.0, 150.0),
            vec!["Level VI 88.0 %"]
        );
        let lines = wrapped("Level VI, EU 2019/1782\n88.0 %", 12.0, 92.0);
        assert_eq!(lines, vec!["Level VI, EU", "2019/1782", "88.0 %"]);
    }

    #[test]
    fn a_long_name_is_broken_in_two_and_cut_only_if_it_must() {
        let lines = wrapped("Larkfield LF-100Q", 12.0, 80.0);
        assert_eq!(lines, vec!["Larkfield", "LF-100Q"]);
        let lines = wrapped(&"W".repeat(300), 12.0, 80.0);
        assert_eq!(lines.len(), 1);
        assert!(text_width(&lines[0], 12.0) <= 80.0 && lines[0].ends_with('…'));
    }
}
