//! Ranks say what the data supports: an interval from the places a unit surely has lost to the
//! places it surely holds.

use serde::Serialize;
use std::ops::Range;

/// Rank from `best` to `worst`, both counted from 1; equal where the data tells one place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct RankInterval {
    pub best: usize,
    pub worst: usize,
}

impl std::fmt::Display for RankInterval {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.best == self.worst {
            write!(f, "{}", self.best)
        } else {
            write!(f, "{}\u{2013}{}", self.best, self.worst)
        }
    }
}

/// Rank intervals of scores with standard uncertainties (unknown counts as zero), in the order
/// given. Unit i is surely better than j if score_i - score_j > 2 sqrt(u_i² + u_j²); the interval
/// goes from 1 + (number surely better) to (number not surely worse, itself included).
pub fn rank_intervals(scores: &[(f64, Option<f64>)]) -> Vec<RankInterval> {
    let n = scores.len();
    let mut by_score: Vec<usize> = (0..n).collect();
    by_score.sort_by(|&a, &b| scores[b].0.total_cmp(&scores[a].0));
    // Falling; side by side, as every unit is compared with its neighbourhood.
    let falling: Vec<f64> = by_score.iter().map(|&i| scores[i].0).collect();
    let variances: Vec<f64> = by_score
        .iter()
        .map(|&i| scores[i].1.unwrap_or(0.0).powi(2))
        .collect();
    let largest = variances.iter().copied().fold(0.0, f64::max);
    let mut intervals = vec![RankInterval { best: 1, worst: n }; n];
    for (place, &i) in by_score.iter().enumerate() {
        let (own, variance) = (falling[place], variances[place]);
        // Beyond this difference no uncertainty in the list leaves a doubt, so only the
        // neighbourhood has to be compared one by one.
        let certain = 2.0 * (variance + largest).sqrt();
        let doubtful = |places: Range<usize>| {
            let others = falling[places.clone()].iter().zip(&variances[places]);
            others
                .map(|(score, other)| {
                    let difference = score - own;
                    usize::from(difference * difference <= 4.0 * (variance + other))
                })
                .sum::<usize>()
        };
        let above = falling[..place].partition_point(|score| score - own > certain);
        let below = place + falling[place..].partition_point(|score| own - score <= certain);
        intervals[i] = RankInterval {
            best: 1 + place - doubtful(above..place),
            worst: place + doubtful(place..below),
        };
    }
    intervals
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The definition, compared pair by pair.
    fn by_definition(scores: &[(f64, Option<f64>)]) -> Vec<RankInterval> {
        let surely = |a: (f64, Option<f64>), b: (f64, Option<f64>)| {
            let (ua, ub) = (a.1.unwrap_or(0.0), b.1.unwrap_or(0.0));
            a.0 - b.0 > 2.0 * (ua * ua + ub * ub).sqrt()
        };
        scores
            .iter()
            .map(|&me| RankInterval {
                best: 1 + scores.iter().filter(|&&other| surely(other, me)).count(),
                worst: scores.iter().filter(|&&other| !surely(me, other)).count(),
            })
            .collect()
    }

    proptest! {
        #[test]
        fn the_quick_way_agrees_with_the_definition(
            scores in prop::collection::vec((0.0..100.0f64, prop::option::of(0.0..4.0f64)), 0..80)
        ) {
            prop_assert_eq!(rank_intervals(&scores), by_definition(&scores));
        }
    }

    #[test]
    fn two_units_within_their_uncertainty_share_the_places() {
        let found = rank_intervals(&[(70.0, Some(1.0)), (69.0, Some(1.0)), (50.0, Some(1.0))]);
        assert_eq!(
            found.iter().map(ToString::to_string).collect::<Vec<_>>(),
            ["1\u{2013}2", "1\u{2013}2", "3"]
        );
    }

    #[test]
    fn equal_scores_without_uncertainty_share_one_interval() {
        let found = rank_intervals(&[(70.0, None), (70.0, None)]);
        assert_eq!(found, [RankInterval { best: 1, worst: 2 }; 2]);
    }
}
