//! Times as people say them.

use crate::number::padded;

/// A time as people say it: `8.4 s`, `12 min 05 s`, `1 h 02 min 05 s`.
///
/// ```
/// use stave_toolpath::clock;
/// assert_eq!(clock(8.44), "8.4 s");
/// assert_eq!(clock(59.97), "1 min 00 s");
/// assert_eq!(clock(3725.0), "1 h 02 min 05 s");
/// ```
#[must_use]
pub fn clock(seconds: f64) -> String {
    hours_minutes_seconds(seconds).map_or_else(
        || format!("{} s", padded(seconds, 1)),
        |(h, min, s)| {
            if h > 0 {
                format!("{h} h {min:02} min {s:02} s")
            } else {
                format!("{min} min {s:02} s")
            }
        },
    )
}

/// Hours, minutes and seconds, to the second; `None` below a minute, and where it is no number of
/// seconds that a program takes.
///
/// ```
/// use stave_toolpath::hours_minutes_seconds;
/// assert_eq!(hours_minutes_seconds(3724.6), Some((1, 2, 5)));
/// assert_eq!(hours_minutes_seconds(59.9), None);
/// ```
#[must_use]
pub fn hours_minutes_seconds(seconds: f64) -> Option<(u64, u64, u64)> {
    if !(59.95..1e15).contains(&seconds) {
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "within bounds as of above"
    )]
    let whole = seconds.round() as u64;
    Some((whole / 3600, whole / 60 % 60, whole % 60))
}

/// The time of day `minutes` after midnight, whatever the day: `HH:MM`.
///
/// ```
/// assert_eq!(stave_toolpath::time_of_day(25 * 60 + 7), "01:07");
/// ```
#[must_use]
pub fn time_of_day(minutes: u64) -> String {
    format!("{:02}:{:02}", minutes / 60 % 24, minutes % 60)
}
