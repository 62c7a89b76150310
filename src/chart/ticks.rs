//! Where an axis has its marks: round numbers, as many as can be read.

/// A step of 1, 2 or 5 times a power of ten that divides `span` into at most `most` parts.
pub(super) fn nice_step(span: f64, most: usize) -> f64 {
    if !(span.is_finite() && span > 0.0) {
        return 1.0;
    }
    let raw = span / most.max(1) as f64;
    let decade = 10f64.powf(raw.log10().floor());
    // The tolerance keeps 0.1/0.1 from being taken as slightly more than one.
    let factor = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|f| f * decade >= raw * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * decade
}

/// Multiples of a nice step within the range.
pub(super) fn linear(from: f64, to: f64, most: usize) -> Vec<f64> {
    let step = nice_step(to - from, most);
    let first = (from / step - 1e-9).ceil() as i64;
    let last = (to / step + 1e-9).floor() as i64;
    (first..=last).take(200).map(|i| i as f64 * step).collect()
}

/// Round numbers on a logarithmic axis: the finest of "1", "1 2 5", "1 2 3 5 7" per decade that
/// gives no more than `most` marks and keeps their labels `least_px` apart.
pub(super) fn logarithmic(
    from: f64,
    to: f64,
    most: usize,
    length_px: f64,
    least_px: f64,
) -> Vec<f64> {
    if !(from > 0.0 && to > from && to.is_finite()) {
        return Vec::new();
    }
    let px_per_decade = length_px / (to / from).log10();
    let sets: [&[f64]; 3] = [&[1.0, 2.0, 3.0, 5.0, 7.0], &[1.0, 2.0, 5.0], &[1.0]];
    let marks = |set: &[f64]| {
        let decades = from.log10().floor() as i32..=to.log10().ceil() as i32;
        decades
            .flat_map(|d| set.iter().map(move |m| m * 10f64.powi(d)))
            .filter(|v| *v >= from * (1.0 - 1e-9) && *v <= to * (1.0 + 1e-9))
            .collect::<Vec<f64>>()
    };
    for set in sets {
        let found = marks(set);
        let apart = found
            .windows(2)
            .all(|w| (w[1] / w[0]).log10() * px_per_decade >= least_px);
        if apart && found.len() <= most {
            return found;
        }
    }
    // More decades than fit: every second, third, … of them.
    let decades = marks(&[1.0]);
    let every = decades.len().div_ceil(most.max(1));
    decades.into_iter().step_by(every.max(1)).collect()
}

/// Label of a tick: as many decimals as the step needs.
pub(super) fn decimals(step: f64) -> usize {
    if step > 0.0 {
        (-(step * (1.0 + 1e-9)).log10().floor()).clamp(0.0, 6.0) as usize
    } else {
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn linear_marks_are_round_and_inside() {
        assert_eq!(
            linear(0.0, 68.0, 7),
            vec![0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
        );
        let marks = linear(0.84, 0.93, 6);
        assert!(marks.len() >= 4 && marks.len() <= 6, "{marks:?}");
        assert!(marks.iter().all(|m| (0.84..=0.93).contains(m)));
    }

    #[test]
    fn a_logarithmic_axis_is_marked_finer_where_there_is_room() {
        assert_eq!(
            logarithmic(5.5, 75.0, 9, 560.0, 30.0),
            vec![7.0, 10.0, 20.0, 30.0, 50.0, 70.0]
        );
        assert_eq!(
            logarithmic(5.5, 75.0, 9, 160.0, 30.0),
            vec![10.0, 20.0, 50.0]
        );
        assert_eq!(
            logarithmic(0.02, 300.0, 9, 240.0, 30.0),
            vec![0.1, 1.0, 10.0, 100.0]
        );
    }

    #[test]
    fn impossible_ranges_give_no_marks_instead_of_a_loop() {
        assert!(logarithmic(0.0, 10.0, 9, 100.0, 30.0).is_empty());
        assert!(logarithmic(f64::NAN, 10.0, 9, 100.0, 30.0).is_empty());
        assert!(linear(0.0, f64::INFINITY, 5).len() <= 200);
    }

    #[test]
    fn a_step_says_how_many_decimals_its_labels_need() {
        assert_eq!(decimals(10.0), 0);
        assert_eq!(decimals(0.5), 1);
        assert_eq!(decimals(0.02), 2);
    }
}
