//! What a flat program does, in order of execution.

use crate::{Arc, Position};

/// The M word that switches the beam on. Lasers read M3 as constant power and M4 as power that
/// follows the speed (common practice, no source); both are spindle words in RS274/NGC.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum BeamWord {
    /// M3.
    M3,
    /// M4.
    M4,
}

impl BeamWord {
    /// The word as written.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::M3 => "M3",
            Self::M4 => "M4",
        }
    }
}

/// How a feed rate is meant.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum FeedMode {
    /// G94: length units per minute.
    #[default]
    PerMinute,
    /// G93: `F` moves a minute.
    InverseTime,
}

/// The feed rate of one move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Feed {
    /// G94: mm per minute along X, Y, Z; degrees per minute when only rotary axes move.
    PerMinute(f64),
    /// G93: the move takes `1/F` minutes.
    InverseTime(f64),
}

/// The length that rounding may make of no move at all, mm: sums of decimals miss the decimal of
/// their sum, and a thousandth of a nanometre is nothing that a machine could go.
const NO_MOVE_MM: f64 = 1e-9;

impl Feed {
    /// True where a move of these extents goes by degrees per minute: nothing but rotary axes moves
    /// (RS274/NGC 2.1.2.5). `linear_mm` is measured along the path, so an arc never does, wherever
    /// it ends.
    ///
    /// ```
    /// use stave_toolpath::Feed;
    /// assert!(Feed::goes_by_degrees(0.0, 90.0));
    /// assert!(!Feed::goes_by_degrees(0.001, 90.0) && !Feed::goes_by_degrees(0.0, 0.0));
    /// ```
    #[must_use]
    pub fn goes_by_degrees(linear_mm: f64, rotary_deg: f64) -> bool {
        linear_mm <= NO_MOVE_MM && rotary_deg > 0.0
    }

    /// What a move takes at this feed alone, with no regard to acceleration, seconds.
    ///
    /// RS274/NGC 2.1.2.5: per minute, F goes along X, Y and Z (`linear_mm`, along the arc or helix
    /// for an arc); only where none of them moves does it go by the rotary axes' degrees. A feed of
    /// nothing takes for ever: the result is infinite.
    ///
    /// ```
    /// use stave_toolpath::Feed;
    /// assert_eq!(Feed::PerMinute(100.0).nominal_s(50.0, 3600.0), 30.0);
    /// assert_eq!(Feed::PerMinute(360.0).nominal_s(0.0, 90.0), 15.0);
    /// assert_eq!(Feed::InverseTime(2.0).nominal_s(10.0, 0.0), 30.0);
    /// ```
    #[must_use]
    pub fn nominal_s(self, linear_mm: f64, rotary_deg: f64) -> f64 {
        match self {
            Self::PerMinute(f) => {
                let degrees = Self::goes_by_degrees(linear_mm, rotary_deg);
                (if degrees { rotary_deg } else { linear_mm }) * 60.0 / f
            }
            Self::InverseTime(f) => 60.0 / f,
        }
    }
}

/// A word at which the controller waits for a person.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum PauseWord {
    /// M0: stop until told to go on.
    M0,
    /// M1: stop if the optional stop is set.
    M1,
    /// M60: pallet change.
    M60,
}

impl PauseWord {
    /// The word as written.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::M0 => "M0",
            Self::M1 => "M1",
            Self::M60 => "M60",
        }
    }
}

/// The word that ends a program.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum EndWord {
    /// The end.
    M2,
    /// The end, and back to the beginning.
    M30,
}

impl EndWord {
    /// As it is written.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::M2 => "M2",
            Self::M30 => "M30",
        }
    }
}

/// How closely the path is kept at corners.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum PathControl {
    /// G61: the path is kept exactly; the machine need not stop.
    ExactPath,
    /// G61.1: the machine stops at the end of every move.
    ExactStop,
    /// G64: corners may be rounded to keep the speed.
    #[default]
    Continuous,
}

impl PathControl {
    /// The word as written.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::ExactPath => "G61",
            Self::ExactStop => "G61.1",
            Self::Continuous => "G64",
        }
    }
}

/// What is known of a line that has no meaning here.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum PassKind {
    /// `T`, `M6`, coolant (`M7`, `M8`, `M9`) and overrides (`M48`, `M49`): words of RS274/NGC that
    /// move nothing of the work.
    Known,
    /// A line with an M word that is not known: what it does only the controller knows.
    UnknownM,
    /// A line that begins with `$`: a command to the controller itself.
    Dollar,
}

impl PassKind {
    /// Of an M word as a machine's file has it: coolant is known, with parameters or another number
    /// it is not.
    ///
    /// ```
    /// use stave_toolpath::PassKind;
    /// assert_eq!(PassKind::of_word("m8"), PassKind::Known);
    /// assert_eq!(PassKind::of_word("M106 S255"), PassKind::UnknownM);
    /// ```
    #[must_use]
    pub fn of_word(word: &str) -> Self {
        let word = word.trim();
        let coolant = ["M7", "M8", "M9"].iter().any(|known| known.eq_ignore_ascii_case(word));
        if coolant { Self::Known } else { Self::UnknownM }
    }
}

/// One thing a program does. Lengths are mm and angles degrees, whatever the program's units.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Event<'a> {
    /// G0, and the ways of G28 and G30: a move at the axes' own limits, never a burn.
    Travel {
        /// Where it starts.
        from: &'a Position,
        /// Where it ends.
        to: &'a Position,
    },
    /// G1: a straight move at a feed rate. `feed` is `None` where no F was ever given.
    Straight {
        /// Where it starts.
        from: &'a Position,
        /// Where it ends.
        to: &'a Position,
        /// The feed rate in effect.
        feed: Option<Feed>,
    },
    /// G2 or G3.
    Arc {
        /// Where it starts.
        from: &'a Position,
        /// Where it ends.
        to: &'a Position,
        /// Centre, plane and sweep.
        arc: Arc,
        /// The feed rate in effect.
        feed: Option<Feed>,
    },
    /// G4.
    Dwell {
        /// How long, seconds.
        seconds: f64,
    },
    /// M3, M4, or M5 (`None`); also the stop that M6, M2 and M30 imply.
    Beam {
        /// The word in effect from here on; `None` is off.
        word: Option<BeamWord>,
    },
    /// S: the power word as the program has it, in the controller's own counts.
    Power {
        /// The value, zero or more.
        s: f64,
    },
    /// F, as a setting (G94), or the value for the line's own move (G93).
    FeedRate {
        /// mm/min (G94) or 1/min (G93).
        f: f64,
        /// Which of the two.
        mode: FeedMode,
    },
    /// G61, G61.1 or G64: a planner stops at every corner under G61.1.
    Path {
        /// Which.
        control: PathControl,
    },
    /// A comment that is a message to the operator: what follows `MSG,`.
    Message {
        /// The text as written.
        text: &'a [u8],
    },
    /// M0, M1 or M60.
    Pause {
        /// Which.
        word: PauseWord,
    },
    /// M2 or M30, or the end of the input where the reader takes that for the end.
    End {
        /// Which word said so; `None` for the end of the input or a percent line.
        word: Option<EndWord>,
    },
    /// A Z, A, B or C word is given for the first time, whether it moves anything or not; the move
    /// it stands in follows.
    FirstWord {
        /// The letter, upper case.
        letter: u8,
    },
    /// What the reader gives no meaning to here: words that move nothing, and in lenient reading
    /// `$` lines and unknown M words.
    Pass {
        /// What it is known to be.
        kind: PassKind,
        /// The line to be written in its place, without the line end: closed up word by word
        /// (`M888 P1`), so that it means to a controller what was read here. Empty where the line
        /// cannot be written so; it must not be passed on then, and the place that the reader gives
        /// to a refusal is what stands in the way.
        text: &'a [u8],
        /// The line as it stands, to be shown and never to be passed on: to a controller `M3 2` is
        /// M32.
        raw: &'a [u8],
    },
    /// A comment. `text` is what stands inside the brackets or after the semicolon.
    Comment {
        /// The text as written.
        text: &'a [u8],
    },
}
