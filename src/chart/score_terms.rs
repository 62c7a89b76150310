//! The terms of a score as bars, with the line where a term meets its reference.

use super::frame::nothing;
use super::rows::{BarRow, RowChart};
use super::{Chart, ChartTable, LimitLine, Size};
use crate::evaluate::evaluation::{Score, ScoreTerm};

/// The terms of one unit's score, each from 0 to 100 points; 50 points are its reference.
#[derive(Debug, Clone, PartialEq)]
pub struct ScoreTerms {
    pub subject: String,
    pub score: Score,
}

impl ScoreTerms {
    pub fn new(subject: &str, score: &Score) -> ScoreTerms {
        ScoreTerms {
            subject: subject.to_owned(),
            score: score.clone(),
        }
    }

    fn title(&self) -> String {
        format!("Score by terms: {}", self.subject)
    }
}

/// "active-loss" -> "Active loss"
fn term_words(id: &str) -> String {
    let spaced = id.replace(['-', '_'], " ");
    let mut chars = spaced.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn known(term: &ScoreTerm) -> Option<f64> {
    term.points.filter(|p| p.is_finite())
}

fn expanded(term: &ScoreTerm) -> Option<f64> {
    term.points_u
        .map(|u| 2.0 * u)
        .filter(|u| u.is_finite() && *u > 0.0)
}

fn points_words(term: &ScoreTerm) -> String {
    match (known(term), expanded(term)) {
        (Some(p), Some(u)) => format!("{p:.1} ± {u:.1}"),
        (Some(p), None) => format!("{p:.1}"),
        (None, _) => "not measured".to_owned(),
    }
}

impl Chart for ScoreTerms {
    fn svg(&self, size: Size, prefix: &str) -> String {
        let title = self.title();
        if self.score.terms.iter().all(|t| known(t).is_none()) {
            return nothing(
                size,
                prefix,
                &title,
                "No term of the score has been measured",
            );
        }
        let rows: Vec<BarRow> = self
            .score
            .terms
            .iter()
            .map(|term| BarRow {
                name: format!("{}, weight {}", term_words(&term.term), term.weight),
                value: known(term),
                expanded: expanded(term),
                words: points_words(term),
                hover: format!(
                    "{}: {} of 100 points, weight {}",
                    term_words(&term.term),
                    points_words(term),
                    term.weight
                ),
                strong: false,
            })
            .collect();
        let mut desc =
            "Bars from 0 to 100 points; 50 points are the published reference.".to_owned();
        for row in &rows {
            desc.push_str(&format!(" {}.", row.hover));
        }
        RowChart {
            title: &title,
            desc: &desc,
            axis_title: "Points",
            rows: &rows,
            lines: &[LimitLine::new("50 points: reference", 50.0)],
            to: 100.0,
            ticks: &[0.0, 25.0, 50.0, 75.0, 100.0],
            tick_label: &|v| format!("{v:.0}"),
        }
        .svg(size, prefix)
    }

    fn table(&self) -> ChartTable {
        let rows = self
            .score
            .terms
            .iter()
            .map(|t| vec![term_words(&t.term), t.weight.to_string(), points_words(t)])
            .collect();
        ChartTable {
            caption: format!("{} (± U, k = 2, where known)", self.title()),
            columns: ["Term", "Weight", "Points"].map(str::to_owned).to_vec(),
            rows,
        }
    }
}
