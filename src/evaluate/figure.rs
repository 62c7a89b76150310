//! A measured value against a figure of a standard: within or outside it, by more or by less than
//! the uncertainty. Not a verdict of conformity: the figure is one of many that the standard asks
//! for.

use super::decision;
use super::evaluation::Outcome;
use serde::{Deserialize, Serialize};

#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Serialize,
    Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum AgainstFigure {
    Within,
    /// Within, though by less than its uncertainty.
    WithinByLessThanUncertainty,
    /// Outside, though by less than its uncertainty.
    OutsideByLessThanUncertainty,
    Outside,
    /// Nothing seen lies outside, though more may come than was seen.
    NotShown,
}

impl AgainstFigure {
    /// The same as a decision against a limit says.
    pub fn of(outcome: Outcome) -> AgainstFigure {
        match outcome {
            Outcome::Pass => AgainstFigure::Within,
            Outcome::ConditionalPass => AgainstFigure::WithinByLessThanUncertainty,
            Outcome::ConditionalFail => AgainstFigure::OutsideByLessThanUncertainty,
            Outcome::Fail | Outcome::Incomplete | Outcome::NotAssessed => AgainstFigure::Outside,
        }
    }

    pub fn is_within(self) -> bool {
        matches!(
            self,
            AgainstFigure::Within | AgainstFigure::WithinByLessThanUncertainty
        )
    }

    /// "within the", "outside the … by less than the uncertainty" and so on.
    pub fn words(self, figure: &str) -> String {
        match self {
            AgainstFigure::Within => format!("within the {figure}"),
            AgainstFigure::WithinByLessThanUncertainty => {
                format!("within the {figure}, though by less than its uncertainty")
            }
            AgainstFigure::OutsideByLessThanUncertainty => {
                format!("outside the {figure}, though by less than its uncertainty")
            }
            AgainstFigure::Outside => format!("outside the {figure}"),
            AgainstFigure::NotShown => format!("not shown to be within the {figure}"),
        }
    }
}

/// One value against one figure, both in the unit that `unit` names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FigureResult {
    /// What the figure is called.
    pub figure: String,
    pub unit: String,
    pub limit: f64,
    pub measured: f64,
    /// Positive within.
    pub margin: f64,
    /// U, k = 2; null where unknown.
    pub expanded_uncertainty: Option<f64>,
    /// Probability of being within.
    pub risk: Option<f64>,
    pub result: AgainstFigure,
    pub message: String,
    pub source: String,
}

/// Judges a value against a largest allowed one by the non-binary rule with guard band (see
/// [`decision`]); simple acceptance where `u` is unknown.
pub fn at_most(
    figure: &str,
    unit: &str,
    (measured, u): (f64, Option<f64>),
    limit: f64,
    source: &str,
) -> FigureResult {
    let judged = decision::judge(measured, u, limit, false);
    let result = AgainstFigure::of(judged.result);
    let limit_text = format!("{} of {} {unit}", figure, super::ports::short(limit));
    FigureResult {
        figure: figure.to_owned(),
        unit: unit.to_owned(),
        limit,
        measured,
        margin: judged.margin,
        expanded_uncertainty: judged.expanded_uncertainty,
        risk: judged.risk,
        result,
        message: format!(
            "{} {unit} is {}",
            super::ports::short(measured),
            result.words(&limit_text)
        ),
        source: source.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_never_promise_more_than_the_comparison() {
        let said = |measured, u| at_most("PS2 figure", "W", (measured, u), 100.0, "").message;
        assert_eq!(
            said(78.0, Some(1.0)),
            "78 W is within the PS2 figure of 100 W"
        );
        assert_eq!(
            said(99.0, Some(1.0)),
            "99 W is within the PS2 figure of 100 W, though by less than its uncertainty"
        );
        assert_eq!(
            said(101.0, Some(1.0)),
            "101 W is outside the PS2 figure of 100 W, though by less than its uncertainty"
        );
        assert_eq!(
            said(112.0, None),
            "112 W is outside the PS2 figure of 100 W"
        );
    }
}
