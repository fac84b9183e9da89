//! Why a move cannot be laid on this wall.

use stave_toolpath::number::fixed;
use stave_wall::LayError;

/// A move that does not fit the blank or the machine. Every case says where on the work and what to
/// do.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Misfit {
    /// A burn past either end station.
    OffWall {
        /// Where along the axis, mm.
        at_mm: f64,
        /// The wall's first and last station, mm.
        wall_mm: (f64, f64),
    },
    /// The wall there is steeper to the beam than `steepest`.
    Reach {
        /// Where along the axis, mm.
        at_mm: f64,
        /// The slope of the crest there, degrees.
        slope_deg: f64,
        /// The machine's `steepest`, degrees.
        steepest_deg: f64,
    },
    /// A label that folds, meets itself or leaves the wall.
    Label(LayError),
    /// A burn inside a zone or its margin.
    Zone {
        /// The zone's name.
        name: String,
        /// Where along the axis, mm.
        at_mm: f64,
        /// Where around, degrees.
        turn_deg: f64,
    },
    /// A burn without a feed rate.
    NoFeed,
    /// A feed rate of nothing, or less.
    FeedNotPositive {
        /// mm/min or 1/min.
        feed: f64,
    },
    /// A move slower or faster than an F word can say.
    FeedWord {
        /// What it would have to say.
        feed: f64,
    },
    /// A coordinate no word can hold.
    TooFar {
        /// Which word.
        word: char,
        /// Its value.
        value: f64,
    },
}

impl std::fmt::Display for Misfit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::OffWall { at_mm, wall_mm } => write!(
                f,
                "this burns at {} mm, off the wall, which runs from {} to {} mm; move the art by \
                 `place`, or measure a \
                 station further out",
                fixed(*at_mm, 3),
                fixed(wall_mm.0, 3),
                fixed(wall_mm.1, 3)
            ),
            Self::Reach { at_mm, slope_deg, steepest_deg } => write!(
                f,
                "the wall at {} mm stands at {}° to the beam, steeper than the {}° the machine \
                 can burn; keep the art \
                 off it or change the tilt",
                fixed(*at_mm, 3),
                fixed(*slope_deg, 1),
                fixed(*steepest_deg, 1)
            ),
            Self::Label(error) => error.fmt(f),
            Self::Zone { name, at_mm, turn_deg } => write!(
                f,
                "this burns in the zone \"{name}\" at {} mm, turn {}°; move the art, or say \
                 --zones mask to leave the zone out",
                fixed(*at_mm, 3),
                fixed(*turn_deg, 2)
            ),
            Self::NoFeed => {
                write!(f, "this burns, but no feed rate has been given; write an F word before it")
            }
            Self::FeedNotPositive { feed } => {
                write!(f, "this burns at a feed rate of {}; it must be above 0", fixed(*feed, 6))
            }
            Self::FeedWord { feed } => {
                write!(f, "a move would need a feed rate of {feed:e}, which no F word can hold")
            }
            Self::TooFar { word, value } => {
                write!(
                    f,
                    "the {word} word would be {value:e}, more than can be written; check \
                     `decimals` and units"
                )
            }
        }
    }
}

impl std::error::Error for Misfit {}

impl Misfit {
    /// The code `stave check` has for it.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::OffWall { .. } | Self::Label(_) => "off-wall",
            Self::Reach { .. } => "reach",
            Self::Zone { .. } => "zone",
            Self::NoFeed | Self::FeedNotPositive { .. } | Self::FeedWord { .. } => "feed",
            Self::TooFar { .. } => "travel-limit",
        }
    }

    /// True where the fault is in the program itself (exit status 2), not in how it suits blank and
    /// machine (1).
    #[must_use]
    pub fn is_bad_input(&self) -> bool {
        matches!(self, Self::NoFeed | Self::FeedNotPositive { .. })
    }
}
