//! How a moment is written in the database: RFC 3339, UTC, always three decimals, so that moments
//! sort as text.

use super::Error;
use time::format_description::BorrowedFormatItem;
use time::format_description::well_known::Rfc3339;
use time::macros::format_description;
use time::{OffsetDateTime, UtcOffset};

const FORMAT: &[BorrowedFormatItem] =
    format_description!("[year]-[month]-[day]T[hour]:[minute]:[second].[subsecond digits:3]Z");

/// `2026-09-01T12:34:56.789Z`; digits beyond the millisecond are cut.
pub fn to_text(moment: OffsetDateTime) -> String {
    moment
        .to_offset(UtcOffset::UTC)
        .format(FORMAT)
        .expect("every component of the format exists in an OffsetDateTime")
}

/// Any RFC 3339 text.
pub fn from_text(text: &str) -> Result<OffsetDateTime, Error> {
    OffsetDateTime::parse(text, &Rfc3339).map_err(|cause| Error::Corrupt {
        what: "time",
        cause: format!("{text:?}: {cause}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::datetime;

    #[test]
    fn a_moment_of_another_zone_is_written_in_utc_and_read_back() {
        let text = to_text(datetime!(2026-09-01 01:30:00.1239 +2));
        assert_eq!(text, "2026-08-31T23:30:00.123Z");
        assert_eq!(
            from_text(&text).unwrap(),
            datetime!(2026-08-31 23:30:00.123 UTC)
        );
    }

    #[test]
    fn later_moments_sort_after_earlier_ones_as_text() {
        let first = to_text(datetime!(2026-09-01 00:00:00 UTC));
        let second = to_text(datetime!(2026-09-01 00:00:00.5 UTC));
        assert!(first < second);
    }

    #[test]
    fn text_that_is_no_time_is_named_in_the_error() {
        assert!(
            from_text("yesterday")
                .unwrap_err()
                .to_string()
                .contains("yesterday")
        );
    }
}
