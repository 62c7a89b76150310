//! Standard uncertainty of a reading from the accuracy statements of the record's instruments.

use crate::bench::record::{Instrument, MeasuredQuantity};
use crate::quantity::rectangular;

/// The accuracy statements of one record.
#[derive(Clone, Copy)]
pub struct Accuracy<'a> {
    rows: &'a [Instrument],
}

/// Why a reading has no uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// No instrument of the record measures this quantity.
    NoInstrument,
    /// The reading is above every range of the quantity's instruments.
    AboveEveryRange,
}

impl<'a> Accuracy<'a> {
    pub fn of(rows: &'a [Instrument]) -> Accuracy<'a> {
        Accuracy { rows }
    }

    /// Standard uncertainty of `reading`, in its own unit: u = a/√3 with
    /// a = reading % of reading + range % of range + fixed, taken as the half-width of a
    /// rectangular distribution (EA-4/02, common practice).
    ///
    /// Of several rows for one quantity the smallest range that holds the reading applies, of
    /// equal ranges the last; a row without range holds any reading.
    ///
    /// # Errors
    /// [`Unknown`] says why there is none.
    pub fn standard(&self, quantity: MeasuredQuantity, reading: f64) -> Result<f64, Unknown> {
        let range = |row: &Instrument| row.range.unwrap_or(f64::INFINITY);
        let mut of_quantity = self
            .rows
            .iter()
            .filter(|r| r.quantity == quantity)
            .peekable();
        if of_quantity.peek().is_none() {
            return Err(Unknown::NoInstrument);
        }
        of_quantity
            .filter(|row| range(row) >= reading.abs())
            // of equal ranges `reduce` keeps the later row
            .reduce(|best, row| if range(row) <= range(best) { row } else { best })
            .map(|row| {
                rectangular(
                    row.reading_percent / 100.0 * reading.abs()
                        + row.range_percent / 100.0 * row.range.unwrap_or(0.0)
                        + row.fixed,
                )
            })
            .ok_or(Unknown::AboveEveryRange)
    }

    /// As [`Accuracy::standard`], `None` where unknown or not read.
    pub fn of_reading(&self, quantity: MeasuredQuantity, reading: Option<f64>) -> Option<f64> {
        self.standard(quantity, reading?).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(range: f64, fixed: f64) -> Instrument {
        Instrument {
            name: None,
            quantity: MeasuredQuantity::InputPowerW,
            reading_percent: 0.0,
            range_percent: 0.0,
            range: Some(range),
            fixed,
        }
    }

    #[test]
    fn the_smallest_range_that_holds_the_reading_applies_in_any_order() {
        let u =
            |rows: &[Instrument], x| Accuracy::of(rows).standard(MeasuredQuantity::InputPowerW, x);
        let falling = [row(150.0, 3.0), row(15.0, 1.0)];
        let rising = [row(15.0, 1.0), row(150.0, 3.0)];
        for rows in [&falling, &rising] {
            assert_eq!(u(rows, 15.0), Ok(rectangular(1.0)));
            assert_eq!(u(rows, 15.1), Ok(rectangular(3.0)));
            assert_eq!(u(rows, 151.0), Err(Unknown::AboveEveryRange));
        }
        assert_eq!(
            u(&[row(15.0, 1.0), row(15.0, 2.0)], 3.0),
            Ok(rectangular(2.0))
        );
    }

    #[test]
    fn a_quantity_without_an_instrument_is_unknown_not_exact() {
        let none = Accuracy::of(&[]).standard(MeasuredQuantity::TemperatureC, 20.0);
        assert_eq!(none, Err(Unknown::NoInstrument));
    }
}
