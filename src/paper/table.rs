//! Tables: widths of columns from what stands in them, rows that are not divided, the names of
//! the columns again on every page.

use super::font::Fonts;
use super::lines::{Line, broken, extent};
use super::pages::room;
use super::piece::{Cutter, LEADING, Mark, Piece, Role, Shade, faint};
use super::{Paper, Text};
use std::rc::Rc;

#[derive(Debug, Clone, Default)]
pub struct Table {
    pub caption: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

#[derive(Debug, Clone)]
pub struct Column {
    pub title: String,
    pub align: Align,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    Left,
    /// Numbers.
    Right,
}

impl Column {
    pub fn words(title: impl Into<String>) -> Column {
        Column {
            title: title.into(),
            align: Align::Left,
        }
    }

    pub fn numbers(title: impl Into<String>) -> Column {
        Column {
            title: title.into(),
            align: Align::Right,
        }
    }
}

#[derive(Debug, Clone, Default)]
pub struct Row {
    /// As many as there are columns; the first names the row.
    pub cells: Vec<Text>,
    /// Small print below the cells, across the table.
    pub note: Option<Text>,
    /// Set in bold, as a sum is.
    pub strong: bool,
}

impl Row {
    pub fn new<T: Into<Text>>(cells: impl IntoIterator<Item = T>) -> Row {
        Row {
            cells: cells.into_iter().map(Into::into).collect(),
            ..Row::default()
        }
    }
}

/// Size of text in a table: as it is meant, hardly smaller, and the least that can be read.
const LARGEST: f32 = 8.2;
const NEARLY: f32 = 7.2;
const LEAST: f32 = 6.4;
/// Between the edge of a column and its text.
const PAD: f32 = 3.5;
const PAD_Y: f32 = 2.4;
/// A longer word is broken sooner than that a table is shrunk for it, in ems.
const LONG_WORD: f32 = 11.0;
/// A longer number may be broken, in ems.
const LONG_NUMBER: f32 = 8.0;

/// How a table is set.
struct Setting {
    size: f32,
    turned: bool,
    widths: Vec<f32>,
}

/// Least and greatest width of each column at `size`, padding included.
fn extents(fonts: &Fonts, table: &Table, size: f32) -> Vec<(f32, f32)> {
    table
        .columns
        .iter()
        .enumerate()
        .map(|(n, column)| {
            let title = Text::new().bold(column.title.as_str());
            let cells = table.rows.iter().filter_map(|row| row.cells.get(n));
            let (least, most) = cells
                .map(|text| {
                    let (least, most) = extent(fonts, text, size);
                    // Numbers are not broken.
                    match column.align {
                        Align::Right if most < size * LONG_NUMBER => (most, most),
                        _ => (least, most),
                    }
                })
                .chain([extent(fonts, &title, size)])
                .fold((8.0f32, 8.0f32), |(a, b), (c, d)| (a.max(c), b.max(d)));
            (least.min(size * LONG_WORD) + 2.0 * PAD, most + 2.0 * PAD)
        })
        .collect()
}

/// The largest size at which no cell needs a second line, if that is nearly the usual size; else
/// the largest at which every word fits, upright if it can be.
fn setting(fonts: &Fonts, table: &Table, paper: Paper) -> Setting {
    let sizes = || (0..).map(|n| LARGEST - 0.3 * n as f32);
    let (width, _) = room(paper, false);
    for size in sizes().take_while(|size| *size >= NEARLY) {
        let extents = extents(fonts, table, size);
        if extents.iter().map(|(_, most)| most).sum::<f32>() <= width {
            return Setting {
                size,
                turned: false,
                widths: widths(&extents, width),
            };
        }
    }
    for turned in [false, true] {
        let (width, _) = room(paper, turned);
        // A table that has to break lines anyway is set a little smaller.
        for size in sizes().skip(1).take_while(|size| *size >= LEAST) {
            let extents = extents(fonts, table, size);
            let least: f32 = extents.iter().map(|(least, _)| least).sum();
            if least <= width {
                return Setting {
                    size,
                    turned,
                    widths: widths(&extents, width),
                };
            }
        }
    }
    // Words are broken wherever they must be.
    let (width, _) = room(paper, true);
    let extents = extents(fonts, table, LEAST);
    let least: f32 = extents.iter().map(|(least, _)| least).sum();
    Setting {
        size: LEAST,
        turned: true,
        widths: extents.iter().map(|(l, _)| l * width / least).collect(),
    }
}

/// A column that takes no more than its share is not broken at all; the others get what their
/// longest word needs, and of the rest in proportion to what would spare them a break.
fn widths(extents: &[(f32, f32)], width: f32) -> Vec<f32> {
    let most: f32 = extents.iter().map(|(_, most)| most).sum();
    if most <= width {
        // A table that nearly fills the page fills it; a small one stays small.
        let fill = if most > 0.55 * width {
            width / most
        } else {
            1.0
        };
        return extents.iter().map(|(_, most)| most * fill).collect();
    }
    let mut whole = vec![false; extents.len()];
    let (mut rest, mut count) = (width, extents.len());
    loop {
        let needed = |whole: &[bool]| -> f32 {
            let open = extents.iter().zip(whole).filter(|(_, whole)| !**whole);
            open.map(|((least, _), _)| least).sum()
        };
        let share = rest / count.max(1) as f32;
        let next = extents
            .iter()
            .zip(&whole)
            .position(|((_, most), whole)| !whole && *most <= share);
        let Some(next) = next else { break };
        let (least, most) = extents[next];
        // The others must still have room for their longest words.
        if rest - most < needed(&whole) - least {
            break;
        }
        whole[next] = true;
        rest -= most;
        count -= 1;
    }
    let open = || extents.iter().zip(&whole).filter(|(_, whole)| !**whole);
    let least: f32 = open().map(|((least, _), _)| least).sum();
    let more: f32 = open().map(|((least, most), _)| most - least).sum();
    let part = if more > 0.0 {
        (rest - least) / more
    } else {
        0.0
    };
    extents
        .iter()
        .zip(&whole)
        .map(|((least, most), whole)| match whole {
            true => *most,
            false => least + (most - least) * part,
        })
        .collect()
}

pub(super) fn cut(cutter: &mut Cutter<'_>, table: &Table) {
    if table.columns.is_empty() {
        return;
    }
    let Setting {
        size,
        turned,
        widths,
    } = setting(cutter.fonts, table, cutter.paper);
    let total: f32 = widths.iter().sum();
    let node = cutter.tree.add(0, Role::Table);
    let first = cutter.pieces.len();

    if !table.caption.is_empty() {
        let text = Text::new().bold(table.caption.as_str());
        let lines = broken(cutter.fonts, &text, LARGEST, room(cutter.paper, turned).0);
        let caption = cutter.tree.add(node, Role::Caption);
        let mut piece = Piece::new(lines.len() as f32 * LARGEST * LEADING + 2.0, 9.0);
        piece.write(Some(caption), 0.0, 0.0, &lines, LARGEST);
        piece.keep = true;
        cutter.pieces.push(piece);
    }

    let before = if table.caption.is_empty() { 8.0 } else { 0.0 };
    let header = Rc::new(header(cutter, table, node, size, &widths, before));
    let mut drawn = copy(&header);
    drawn.keep = true;
    cutter.pieces.push(drawn);

    let rows = cutter.tree.add(node, Role::Rows);
    let most = super::piece::most_lines(cutter.paper, size, header.height + 30.0);
    let count = table.rows.len();
    for (n, row) in table.rows.iter().enumerate() {
        let start = cutter.pieces.len();
        row_pieces(cutter, table, row, rows, size, &widths, total, most);
        for piece in &mut cutter.pieces[start..] {
            piece.header = Some(header.clone());
        }
        // Neither the first row nor the last one stands alone on a page.
        if let Some(last) = cutter.pieces.last_mut()
            && count > 1
            && (n == 0 || n + 2 == count)
        {
            last.keep = true;
        }
    }
    cutter.pieces.push(Piece::new(0.0, 5.0));
    for piece in &mut cutter.pieces[first..] {
        piece.turned = turned;
    }
    // A turned table takes its heading along.
    if turned {
        for piece in cutter.pieces[..first].iter_mut().rev() {
            if !piece.keep {
                break;
            }
            piece.turned = true;
        }
    }
}

fn copy(piece: &Piece) -> Piece {
    Piece {
        drawn: piece.drawn.clone(),
        mark: None,
        header: None,
        ..Piece::new(piece.height, piece.before)
    }
}

fn header(
    cutter: &mut Cutter<'_>,
    table: &Table,
    node: usize,
    size: f32,
    widths: &[f32],
    before: f32,
) -> Piece {
    let head = cutter.tree.add(node, Role::Head);
    let row = cutter.tree.add(head, Role::Row);
    let cells: Vec<Vec<Line>> = table
        .columns
        .iter()
        .zip(widths)
        .map(|(column, width)| {
            let text = faint(&Text::new().bold(column.title.as_str()));
            broken(cutter.fonts, &text, size, width - 2.0 * PAD)
        })
        .collect();
    let tallest = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
    let height = tallest as f32 * size * LEADING + 2.0 * PAD_Y;
    let mut piece = Piece::new(height, before);
    let total: f32 = widths.iter().sum();
    let mut x = 0.0;
    for ((lines, column), width) in cells.iter().zip(&table.columns).zip(widths) {
        let cell = cutter.tree.add(row, Role::ColumnHead);
        // Names of columns stand on the line below them.
        let y = PAD_Y + (tallest - lines.len()) as f32 * size * LEADING;
        write(&mut piece, cell, x, y, *width, lines, size, column.align);
        x += width;
    }
    piece.draw(
        None,
        0.0,
        height - 0.7,
        Mark::Box {
            width: total,
            height: 0.7,
            shade: Shade::Strong,
        },
    );
    piece
}

#[allow(clippy::too_many_arguments)]
fn write(
    piece: &mut Piece,
    node: usize,
    x: f32,
    y: f32,
    width: f32,
    lines: &[Line],
    size: f32,
    align: Align,
) {
    for (n, line) in lines.iter().enumerate() {
        let x = match align {
            Align::Left => x + PAD,
            Align::Right => x + width - PAD - line.width,
        };
        let y = y + n as f32 * size * LEADING;
        piece.write(Some(node), x, y, std::slice::from_ref(line), size);
    }
}

/// One row, as several pieces only if it is taller than a page.
#[allow(clippy::too_many_arguments)]
fn row_pieces(
    cutter: &mut Cutter<'_>,
    table: &Table,
    row: &Row,
    rows: usize,
    size: f32,
    widths: &[f32],
    total: f32,
    most: usize,
) {
    let node = cutter.tree.add(rows, Role::Row);
    let cells: Vec<Vec<Line>> = row
        .cells
        .iter()
        .zip(widths)
        .map(|(cell, width)| {
            let cell = if row.strong {
                cell.clone().all_bold()
            } else {
                cell.clone()
            };
            broken(cutter.fonts, &cell, size, width - 2.0 * PAD)
        })
        .collect();
    let nodes: Vec<usize> = (0..cells.len())
        .map(|n| {
            let role = if n == 0 { Role::RowHead } else { Role::Cell(1) };
            cutter.tree.add(node, role)
        })
        .collect();
    let small = size * 0.92;
    let note = row.note.as_ref().map(|note| {
        let note = broken(cutter.fonts, &faint(note), small, total - 2.0 * PAD - 8.0);
        let row = cutter.tree.add(rows, Role::Row);
        let node = cutter.tree.add(row, Role::Cell(table.columns.len() as u32));
        (node, note)
    });

    let tallest = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
    let mut from = 0;
    while from < tallest {
        let to = (from + most).min(tallest);
        let top = if from == 0 { PAD_Y } else { 0.0 };
        let bottom = if to == tallest && note.is_none() {
            PAD_Y
        } else {
            0.0
        };
        let height = (to - from) as f32 * size * LEADING + top + bottom;
        let mut piece = Piece::new(height, 0.0);
        let mut x = 0.0;
        for ((lines, column), (width, cell)) in cells
            .iter()
            .zip(&table.columns)
            .zip(widths.iter().zip(&nodes))
        {
            let part = &lines[from.min(lines.len())..to.min(lines.len())];
            write(&mut piece, *cell, x, top, *width, part, size, column.align);
            x += width;
        }
        piece.keep = note.is_some() && to == tallest;
        cutter.pieces.push(piece);
        from = to;
    }
    if let Some((node, lines)) = note {
        let count = lines.len();
        for (n, line) in lines.iter().enumerate() {
            let bottom = if n + 1 == count { PAD_Y } else { 0.0 };
            let mut piece = Piece::new(small * LEADING + bottom, 0.0);
            let line = std::slice::from_ref(line);
            piece.write(Some(node), PAD + 8.0, 0.0, line, small);
            // A note of a few lines is not divided.
            piece.keep = n + 1 < count && (count <= 8 || n == 0 || n + 2 == count);
            cutter.pieces.push(piece);
        }
    }
    if let Some(piece) = cutter.pieces.last_mut() {
        let y = piece.height - 0.4;
        let (width, height) = (total, 0.4);
        let shade = Shade::Rule;
        piece.draw(
            None,
            0.0,
            y,
            Mark::Box {
                width,
                height,
                shade,
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_of_long_text_takes_the_room_and_short_ones_stay_whole() {
        let widths = widths(&[(40.0, 40.0), (60.0, 900.0), (30.0, 30.0)], 400.0);
        assert!((widths.iter().sum::<f32>() - 400.0).abs() < 0.01);
        assert_eq!((widths[0], widths[2]), (40.0, 30.0));
    }

    #[test]
    fn a_table_too_wide_for_an_upright_page_is_turned() {
        let fonts = Fonts::new();
        let table = |columns: usize| Table {
            columns: (0..columns).map(|_| Column::numbers("Condition")).collect(),
            rows: vec![Row::new((0..columns).map(|n| format!("{n}00.000")))],
            ..Table::default()
        };
        let few = setting(&fonts, &table(6), Paper::A4);
        assert!(!few.turned && few.size == LARGEST);
        assert!(setting(&fonts, &table(20), Paper::A4).turned);
        let many = setting(&fonts, &table(60), Paper::Letter);
        let (width, _) = room(Paper::Letter, true);
        assert!((many.widths.iter().sum::<f32>() - width).abs() < 0.1);
    }
}
