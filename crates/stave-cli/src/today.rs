//! The date that sheets and title blocks carry.

use std::ffi::OsStr;

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

use crate::failure::Failure;

/// What sets the date in place of the clock, so that a picture can be made again byte for byte:
/// seconds since 1970, the day by UTC wherever that is run (Reproducible Builds, "SOURCE_DATE_EPOCH
/// specification", 1.1, 2017).
const SET_BY: &str = "SOURCE_DATE_EPOCH";

/// Year, month and day (ISO 8601) by the local clock, or what the environment sets in its place.
pub(crate) fn today() -> Result<String, Failure> {
    match std::env::var_os(SET_BY) {
        Some(set) => day_of(&set),
        None => Ok(ZonedDateTime::now().date().to_string()),
    }
}

fn day_of(seconds: &OsStr) -> Result<String, Failure> {
    let shown = seconds.to_string_lossy();
    let moment = shown.parse().ok().and_then(|whole| Timestamp::from_second(whole).ok());
    let Some(moment) = moment else {
        return Err(Failure::bad(format!(
            "{SET_BY} in the environment is \"{shown}\", but must be whole seconds since 1970, \
             such as 1795996800; unset it to have today's date"
        )));
    };
    Ok(moment.to_zoned_datetime(TimeZone::UTC).date().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By `date -u -d @SECONDS +%F` (GNU coreutils 9.1).
    #[test]
    fn the_day_is_that_of_utc() {
        for (seconds, day) in [
            ("0", "1970-01-01"),
            ("951782400", "2000-02-29"),
            ("1700006399", "2023-11-14"),
            ("1700006400", "2023-11-15"),
            ("-1", "1969-12-31"),
        ] {
            assert_eq!(day_of(OsStr::new(seconds)).unwrap(), day);
        }
    }

    #[test]
    fn what_is_no_number_of_seconds_is_refused() {
        for wrong in ["", "today", "1.5", "2026-11-30", "99999999999999999999"] {
            let told = day_of(OsStr::new(wrong)).unwrap_err().text();
            assert!(told.contains(SET_BY) && told.contains(&format!("\"{wrong}\"")), "{told}");
        }
    }
}
