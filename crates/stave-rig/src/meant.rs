//! What an operation means to do that would else be a fault: the end of the comment that begins it.

use std::f64::consts::TAU;

use stave_toolpath::number::fixed;

/// The first word of a comment that begins an operation.
const BEGINS: &str = "operation ";
const ANGLE_DECIMALS: u32 = 3;
const LENGTH_DECIMALS: u32 = 4;

/// What an operation does on purpose.
///
/// ```
/// use stave_rig::Meant;
/// let meant = Meant { defocus_mm: 3.0, fade_rad: None };
/// let comment = format!("operation crest{}", meant.suffix());
/// assert_eq!(comment, "operation crest, defocus 3 mm");
/// assert_eq!(Meant::of_comment(comment.as_bytes()), Some(meant));
/// assert_eq!(Meant::of_comment(b"piece bar: crest"), None);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Meant {
    /// How much farther the head is from the work than in focus, mm.
    pub defocus_mm: f64,
    /// From which turn to which it burns on two turns, fading in on the first and out on the
    /// second, rad.
    pub fade_rad: Option<(f64, f64)>,
}

impl Meant {
    /// What follows an operation's name and passes; empty where it is nothing.
    #[must_use]
    pub fn suffix(&self) -> String {
        let mut text = String::new();
        if self.defocus_mm != 0.0 {
            let mm = fixed(self.defocus_mm, LENGTH_DECIMALS);
            text.push_str(&format!(", defocus {mm} mm"));
        }
        if let Some((from, to)) = self.fade_rad {
            let degrees = |rad: f64| fixed(rad.to_degrees(), ANGLE_DECIMALS);
            text.push_str(&format!(", fade {} to {} deg", degrees(from), degrees(to)));
        }
        text
    }

    /// What a comment says of the operation that it begins; `None` for other comments.
    #[must_use]
    pub fn of_comment(text: &[u8]) -> Option<Self> {
        let text = std::str::from_utf8(text).ok()?.trim();
        let mut meant = Self::default();
        for part in text.strip_prefix(BEGINS)?.rsplit(", ") {
            let number = |text: &str| text.parse().ok().filter(|n: &f64| n.is_finite());
            let defocus = part.strip_prefix("defocus ").and_then(|rest| rest.strip_suffix(" mm"));
            let fade = part.strip_prefix("fade ").and_then(|rest| rest.strip_suffix(" deg"));
            if let Some(mm) = defocus.and_then(number) {
                meant.defocus_mm = mm;
            } else if let Some((from, to)) = fade.and_then(|fade| fade.split_once(" to ")) {
                let ends = (number(from)?.to_radians(), number(to)?.to_radians());
                meant.fade_rad = Some(ends).filter(|(from, to)| from <= to);
            } else {
                // The name.
                break;
            }
        }
        Some(meant)
    }

    /// Whether a turn is one that burns twice on purpose, on whichever lap; `slack_rad` more at
    /// either end.
    #[must_use]
    pub fn fades(&self, turn_rad: f64, slack_rad: f64) -> bool {
        self.fade_rad.is_some_and(|(from, to)| {
            let past = (turn_rad - (from - slack_rad)).rem_euclid(TAU);
            past <= to - from + 2.0 * slack_rad
        })
    }
}

#[cfg(test)]
mod tests {
    use super::Meant;

    #[test]
    fn what_is_said_is_read() {
        for meant in [
            Meant::default(),
            Meant { defocus_mm: -2.5, fade_rad: None },
            Meant { defocus_mm: 0.125, fade_rad: Some((0.1, 0.25)) },
        ] {
            let text = format!("operation a, b, pass 1 of 2{}", meant.suffix());
            let read = Meant::of_comment(text.as_bytes()).unwrap();
            assert_eq!(read.defocus_mm, meant.defocus_mm, "{text}");
            assert_eq!(read.suffix(), meant.suffix(), "{text}");
        }
        // A name that looks like it is one.
        let named = Meant::of_comment(b"operation x, defocus 3 mm, pass 1 of 2").unwrap();
        assert_eq!(named, Meant::default());
    }

    #[test]
    fn a_turn_fades_on_every_lap() {
        let meant = Meant { defocus_mm: 0.0, fade_rad: Some((6.2, 6.4)) };
        for (turn, fades) in [(6.3, true), (0.01, true), (0.2, false), (6.1, false), (12.6, true)] {
            assert_eq!(meant.fades(turn, 0.0), fades, "{turn}");
        }
        assert!(meant.fades(6.15, 0.06) && !Meant::default().fades(0.0, 1.0));
    }
}
