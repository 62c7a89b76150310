//! Pieces put on pages.

use super::Paper;
use super::piece::{Piece, Placed};

/// Left and right margin, points.
pub(super) const SIDE: f32 = 51.0;
/// From the edge to where text begins and ends.
pub(super) const TOP: f32 = 64.0;
pub(super) const BOTTOM: f32 = 58.0;

/// A page with what is drawn on it.
pub(super) struct Page {
    pub width: f32,
    pub height: f32,
    pub drawn: Vec<Placed>,
    /// Bookmarks: level, words, height on the page.
    pub marks: Vec<(u8, String, f32)>,
}

/// Width and height of the room for text.
pub(super) fn room(paper: Paper, turned: bool) -> (f32, f32) {
    let (width, height) = sheet(paper, turned);
    (width - 2.0 * SIDE, height - TOP - BOTTOM)
}

fn sheet(paper: Paper, turned: bool) -> (f32, f32) {
    let (width, height) = paper.size();
    if turned {
        (height, width)
    } else {
        (width, height)
    }
}

/// Every piece on a page, pieces that belong together on one page where they fit on one at all.
pub(super) fn pages(paper: Paper, pieces: Vec<Piece>) -> Vec<Page> {
    let mut press = Press {
        paper,
        pages: Vec::new(),
        y: 0.0,
        turned: false,
        empty: true,
    };
    let mut rest = pieces.into_iter().peekable();
    while let Some(first) = rest.next() {
        if first.new_page {
            press.new_page(first.turned);
            continue;
        }
        let mut group = vec![first];
        while group.last().is_some_and(|piece| piece.keep)
            && let Some(next) = rest.next_if(|piece| !piece.new_page)
        {
            group.push(next);
        }
        press.put(group);
    }
    if press.pages.is_empty() {
        press.new_page(false);
    }
    press.pages
}

struct Press {
    paper: Paper,
    pages: Vec<Page>,
    /// Where the next piece begins, below the top margin.
    y: f32,
    turned: bool,
    /// Nothing stands on the page yet.
    empty: bool,
}

impl Press {
    fn new_page(&mut self, turned: bool) {
        if !self.pages.is_empty() && self.empty {
            self.pages.pop();
        }
        let (width, height) = sheet(self.paper, turned);
        self.pages.push(Page {
            width,
            height,
            drawn: Vec::new(),
            marks: Vec::new(),
        });
        self.turned = turned;
        self.y = 0.0;
        self.empty = true;
    }

    fn put(&mut self, group: Vec<Piece>) {
        let (_, room) = room(self.paper, self.turned);
        let turned = group[0].turned;
        if self.pages.is_empty() || turned != self.turned {
            self.new_page(turned);
        }
        let height: f32 = group
            .iter()
            .enumerate()
            .map(|(n, piece)| {
                let before = if n == 0 && self.empty {
                    0.0
                } else {
                    piece.before
                };
                before + piece.height
            })
            .sum();
        if !self.empty && self.y + height > room {
            self.new_page(turned);
        }
        for piece in group {
            let before = if self.empty { 0.0 } else { piece.before };
            if !self.empty && self.y + before + piece.height > room {
                self.new_page(turned);
            }
            // A table that goes on here shows its columns' names again.
            if self.empty
                && let Some(header) = piece.header.clone()
            {
                self.place(&header, true);
            }
            if !self.empty {
                self.y += piece.before;
            }
            self.place(&piece, false);
        }
    }

    /// `again`: it has been drawn before and is no part of the document's structure here.
    fn place(&mut self, piece: &Piece, again: bool) {
        let page = self.pages.last_mut().expect("a page has been begun");
        let top = TOP + self.y;
        for placed in &piece.drawn {
            let mut placed = placed.moved(SIDE, top);
            if again {
                placed.node = None;
            }
            page.drawn.push(placed);
        }
        if let Some((level, words)) = &piece.mark {
            page.marks.push((*level, words.clone(), top));
        }
        self.y += piece.height;
        self.empty = false;
    }
}
