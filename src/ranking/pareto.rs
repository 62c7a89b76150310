//! The Pareto front: what no other beats in both of two figures.

/// For each point, is it on the front? A point is beaten by one that is at least as good in both
/// figures and better in one; points that are equal in both stand or fall together. Both figures
/// are better the larger they are: negate one that is better the smaller.
pub fn front(points: &[(f64, f64)]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|&a, &b| {
        let ((ax, ay), (bx, by)) = (points[a], points[b]);
        bx.total_cmp(&ax).then(by.total_cmp(&ay))
    });
    let mut on_front = vec![false; points.len()];
    // Best y among points of a greater x; and of the point that led its own x.
    let mut best_y = f64::NEG_INFINITY;
    let mut leader: Option<(f64, f64)> = None;
    for &i in &order {
        let (x, y) = points[i];
        if leader == Some((x, y)) {
            on_front[i] = true;
            continue;
        }
        if y > best_y {
            on_front[i] = true;
            best_y = y;
            leader = Some((x, y));
        }
    }
    on_front
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The definition, compared pair by pair.
    fn by_definition(points: &[(f64, f64)]) -> Vec<bool> {
        let beats =
            |a: (f64, f64), b: (f64, f64)| a.0 >= b.0 && a.1 >= b.1 && (a.0 > b.0 || a.1 > b.1);
        points
            .iter()
            .map(|&me| !points.iter().any(|&other| beats(other, me)))
            .collect()
    }

    proptest! {
        #[test]
        fn the_quick_way_agrees_with_the_definition(
            // Few values, so that ties in one and in both figures occur.
            points in prop::collection::vec((0u8..12, 0u8..12), 0..60)
        ) {
            let points: Vec<(f64, f64)> =
                points.iter().map(|&(x, y)| (f64::from(x) - 4.0, f64::from(y) * 0.5)).collect();
            prop_assert_eq!(front(&points), by_definition(&points));
        }

        #[test]
        fn it_agrees_on_points_without_ties_too(
            points in prop::collection::vec((-1e3..1e3f64, -1e3..1e3f64), 0..200)
        ) {
            prop_assert_eq!(front(&points), by_definition(&points));
        }
    }

    #[test]
    fn equal_points_stand_or_fall_together() {
        assert_eq!(
            front(&[(1.0, 2.0), (1.0, 2.0), (0.5, 2.0)]),
            [true, true, false]
        );
    }
}
