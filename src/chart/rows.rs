//! Horizontal bars in rows, with uncertainty whiskers and upright reference lines: the common
//! drawing of the no-load and score charts.

use super::frame::{Anchor, FONT, Ink, LINE, Plot, Scale, Spec, plot};
use super::labels::{fitted, text_width};
use super::{LimitLine, Size};

/// One row: a name, a bar if the value is known, and words for the value.
pub(super) struct BarRow {
    pub name: String,
    pub value: Option<f64>,
    pub expanded: Option<f64>,
    pub words: String,
    pub hover: String,
    pub strong: bool,
}

/// All that such a drawing needs.
pub(super) struct RowChart<'a> {
    pub title: &'a str,
    pub desc: &'a str,
    pub axis_title: &'a str,
    pub rows: &'a [BarRow],
    /// Reference lines; their labels stand above the bars.
    pub lines: &'a [LimitLine],
    pub to: f64,
    pub ticks: &'a [f64],
    pub tick_label: &'a dyn Fn(f64) -> String,
}

impl RowChart<'_> {
    pub fn svg(&self, size: Size, prefix: &str) -> String {
        let row_height = if size == Size::Wide { 26.0 } else { 40.0 };
        let name_room = match size {
            Size::Wide => {
                let widest = self
                    .rows
                    .iter()
                    .map(|r| text_width(&r.name, FONT))
                    .fold(0.0, f64::max);
                widest.min(220.0)
            }
            Size::Narrow => 0.0,
        };
        let words_room = match size {
            Size::Wide => self
                .rows
                .iter()
                .map(|r| text_width(&r.words, FONT))
                .fold(0.0, f64::max)
                .min(180.0),
            Size::Narrow => 0.0,
        };
        let top = self.lines.len() as f64 * LINE + 10.0;
        let bottom = 42.0;
        let margins = match size {
            Size::Wide => (name_room + 14.0, top, words_room + 20.0, bottom),
            Size::Narrow => (12.0, top, 18.0, bottom),
        };
        let count = self.rows.len() as f64;
        let spec = Spec {
            size,
            height: top + bottom + count * row_height,
            prefix,
            title: self.title,
            desc: self.desc,
            margins,
            x: Scale::linear(0.0, self.to),
            y: Scale::linear(count, 0.0),
        };
        plot(&spec, |p| {
            for &tick in self.ticks {
                p.line(Ink::Grid, &[(tick, 0.0), (tick, count)]);
            }
            p.x_axis(self.axis_title, self.ticks, self.tick_label);
            self.draw_lines(p, top);
            for (i, row) in self.rows.iter().enumerate() {
                draw_row(p, i as f64, row_height, row);
            }
        })
    }

    /// Reference lines. The largest value has the topmost label and every label stands left of its
    /// own line, so that no line crosses a label.
    fn draw_lines(&self, p: &mut Plot<'_>, top: f64) {
        let mut lines: Vec<&LimitLine> = self.lines.iter().collect();
        lines.sort_by(|a, b| b.value.total_cmp(&a.value).then(a.label.cmp(&b.label)));
        for (i, line) in lines.into_iter().enumerate() {
            let Some((x, _)) = p.at(line.value, 0.0) else {
                continue;
            };
            let baseline = top - 10.0 - (self.lines.len() as f64 - 1.0 - i as f64) * LINE + 2.0;
            p.stroke("c-limit", &[(x, baseline - 9.0), (x, p.bottom)]);
            let room = x - 8.0;
            if text_width(&line.label, FONT) <= room {
                p.text("c-text c-halo", x - 5.0, baseline, Anchor::End, &line.label);
            } else {
                let label = fitted(&line.label, FONT, p.size.width() - x - 8.0);
                p.text("c-text c-halo", x + 5.0, baseline, Anchor::Start, &label);
            }
        }
    }
}

fn draw_row(p: &mut Plot<'_>, i: f64, row_height: f64, row: &BarRow) {
    let narrow = p.size == Size::Narrow;
    // In the narrow drawing the name stands above its bar.
    let (from, to) = if narrow { (0.50, 0.86) } else { (0.2, 0.8) };
    let middle = i + (from + to) / 2.0;
    let ink = if row.strong { Ink::HotBar } else { Ink::Bar };
    if let Some(value) = row.value {
        let end = value.clamp(p.x.from, p.x.to);
        p.bar(ink, (p.x.from, i + from), (end, i + to));
        if let Some(u) = row.expanded {
            let low = (value - u).clamp(p.x.from, p.x.to);
            let high = (value + u).clamp(p.x.from, p.x.to);
            p.line(Ink::Whisker, &[(low, middle), (high, middle)]);
            let foot = (to - from) * 0.28;
            for x in [low, high] {
                p.line(Ink::Whisker, &[(x, middle - foot), (x, middle + foot)]);
            }
        }
    }
    let row_top = p.top + i * row_height;
    let class = if row.strong {
        "c-text c-bold"
    } else {
        "c-text"
    };
    let value_class = if row.value.is_some() {
        class
    } else {
        "c-faint"
    };
    if narrow {
        let words_width = text_width(&row.words, FONT);
        let name = fitted(&row.name, FONT, p.right - p.left - words_width - 12.0);
        p.text(
            &format!("{class} c-halo"),
            p.left,
            row_top + 15.0,
            Anchor::Start,
            &name,
        );
        p.text(
            &format!("{value_class} c-halo"),
            p.right,
            row_top + 15.0,
            Anchor::End,
            &row.words,
        );
    } else {
        let baseline = row_top + row_height / 2.0 + 4.0;
        let name = fitted(&row.name, FONT, p.left - 12.0);
        p.text(class, p.left - 8.0, baseline, Anchor::End, &name);
        p.text(
            value_class,
            p.right + 10.0,
            baseline,
            Anchor::Start,
            &row.words,
        );
    }
    p.hit_row(row_top, row_height, &row.hover);
}
