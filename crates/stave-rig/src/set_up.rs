//! Several set-ups in one program: the comment that begins each says what is to be set for it.

use stave_toolpath::number::fixed;

use crate::FocusAt;

/// The first word of such a comment.
const BEGINS: &str = "set-up ";
const TURN: &str = " turn ";
const TILT_DECIMALS: u32 = 6;
const PLACE_DECIMALS: u32 = 4;

/// One of the set-ups of a program.
///
/// ```
/// use stave_rig::{FocusAt, SetUp};
/// let focus_at = FocusAt { at_mm: 45.6, turn_rad: None };
/// let second = SetUp { number: 2, of: 3, tilt_rad: (-1.25_f64).to_radians(), focus_at };
/// assert_eq!(second.comment(), "set-up 2 of 3: tilt -1.25 deg, focus at 45.6 mm");
/// let read = SetUp::of_comment(format!("{}, zero again", second.comment()).as_bytes()).unwrap();
/// assert_eq!((read.number, read.of, read.focus_at), (2, 3, focus_at));
/// assert!(SetUp::of_comment(b"set-up of the shop").is_none());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetUp {
    /// Which, from 1.
    pub number: u32,
    /// Of how many.
    pub of: u32,
    /// The rotary's tilt, rad.
    pub tilt_rad: f64,
    /// Where the focus is set.
    pub focus_at: FocusAt,
}

impl SetUp {
    /// The comment that begins it.
    #[must_use]
    pub fn comment(&self) -> String {
        let turn = self.focus_at.turn_deg();
        format!(
            "{BEGINS}{} of {}: tilt {} deg, focus at {} mm{}",
            self.number,
            self.of,
            fixed(self.tilt_rad.to_degrees() + 0.0, TILT_DECIMALS),
            fixed(self.focus_at.at_mm + 0.0, PLACE_DECIMALS),
            turn.map_or(String::new(), |deg| format!("{TURN}{} deg", fixed(deg, PLACE_DECIMALS)))
        )
    }

    /// Reads such a comment; what else it says after that is for people. `None` for others.
    #[must_use]
    pub fn of_comment(text: &[u8]) -> Option<Self> {
        let text = std::str::from_utf8(text).ok()?.trim().strip_prefix(BEGINS)?;
        let (number, rest) = text.split_once(" of ")?;
        let (of, rest) = rest.split_once(": tilt ")?;
        let (tilt, rest) = rest.split_once(" deg, focus at ")?;
        let (focus_at, rest) = rest.split_once(" mm")?;
        let turn = rest.strip_prefix(TURN).and_then(|turn| turn.split_once(" deg"));
        let finite = |text: &str| text.parse().ok().filter(|value: &f64| value.is_finite());
        Some(Self {
            number: number.parse().ok()?,
            of: of.parse().ok()?,
            tilt_rad: finite(tilt).filter(|tilt| tilt.abs() < 90.0)?.to_radians(),
            focus_at: FocusAt {
                at_mm: finite(focus_at)?,
                turn_rad: turn.and_then(|(turn, _)| finite(turn)).map(f64::to_radians),
            },
        })
    }
}
