//! A measured value beside a figure of a standard, ready to show: within or outside it. Never more
//! than that: one figure is no verdict on a unit.

use crate::{
    chart::ChartTable,
    evaluate::figure::{AgainstFigure, FigureResult},
    text::word,
    web::format::{self, PlusMinus, Scale},
};

/// One comparison.
pub struct FigureRow {
    pub figure: String,
    pub measured: String,
    pub limit: String,
    pub margin: String,
    /// Probability of being within; none where the uncertainty is not known.
    pub probability: Option<String>,
    pub mark: FigureMark,
    pub source: String,
}

/// Within or outside by sign and word.
#[derive(Clone, Copy)]
pub struct FigureMark {
    /// Class of the mark; never that of a firm verdict.
    pub class: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
}

/// A chart of a test with its numbers.
pub struct Drawing {
    pub id: String,
    pub title: String,
    pub svg: String,
    pub table: ChartTable,
}

impl FigureMark {
    pub fn of(result: AgainstFigure) -> FigureMark {
        let (class, sign, word) = match result {
            AgainstFigure::Within => ("agrees", "✓", word("figure-within")),
            AgainstFigure::WithinByLessThanUncertainty => {
                ("conditional-pass", "≈✓", word("figure-within-unsure"))
            }
            AgainstFigure::OutsideByLessThanUncertainty => {
                ("conditional-fail", "≈✗", word("figure-outside-unsure"))
            }
            AgainstFigure::Outside => ("contradicts", "✗", word("figure-outside")),
            AgainstFigure::NotShown => ("not-assessed", "?", word("figure-not-shown")),
        };
        FigureMark { class, sign, word }
    }
}

impl FigureRow {
    pub fn of(result: &FigureResult) -> FigureRow {
        let in_unit = |text: String| format::with_unit(text, &result.unit);
        FigureRow {
            figure: result.figure.clone(),
            measured: plus_minus(result.measured, result.expanded_uncertainty, &result.unit),
            limit: in_unit(format::significant(result.limit, 3)),
            margin: in_unit(format::significant(result.margin, 3)),
            probability: result.risk.map(super::sheet::probability),
            mark: FigureMark::of(result.result),
            source: result.source.clone(),
        }
    }
}

/// `(66.9 ± 1.6) °C`; without the second part where U is unknown.
pub fn plus_minus(value: f64, expanded: Option<f64>, unit: &str) -> String {
    let numbers = Scale {
        unit: "",
        factor: 1.0,
    };
    let shown = PlusMinus::new(value, expanded, numbers, 3);
    match shown.expanded {
        Some(_) => format::with_unit(format!("({shown})"), unit),
        None => format::with_unit(shown.value, unit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_of_a_comparison_says_that_something_is_safe_or_certified() {
        for result in [
            AgainstFigure::Within,
            AgainstFigure::WithinByLessThanUncertainty,
            AgainstFigure::OutsideByLessThanUncertainty,
            AgainstFigure::Outside,
            AgainstFigure::NotShown,
        ] {
            let mark = FigureMark::of(result);
            assert!(mark.word.contains("the figure"), "{}", mark.word);
            assert_eq!(mark.word.starts_with("within"), result.is_within());
            for promise in ["safe", "certif", "complies", "pass"] {
                assert!(!mark.word.contains(promise), "{}", mark.word);
            }
        }
    }

    #[test]
    fn a_value_without_known_uncertainty_stands_alone() {
        let shown = |u| plus_minus(66.94, u, "°C").replace('\u{202f}', " ");
        assert_eq!(shown(Some(1.63)), "(66.9 ± 1.6) °C");
        assert_eq!(shown(None), "66.9 °C");
    }
}
