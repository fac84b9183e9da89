//! The settings that are one of a few words.

use std::fmt;

use stave_toolpath::art::Work;
use stave_toolpath::{BeamWord, FeedMode};
use stave_wall::{LayKind, WallShape};

/// A setting that is one of a few words.
pub(crate) trait Word: Copy + PartialEq + 'static {
    /// Every word with its meaning, in the order in which messages list them.
    const WORDS: &'static [(&'static str, Self)];

    /// The meaning of a word.
    fn from_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, meaning)| *meaning)
    }
}

/// Every word of a setting, in the order in which messages list them.
pub(crate) fn words_of<W: Word>() -> Vec<&'static str> {
    W::WORDS.iter().map(|(word, _)| *word).collect()
}

macro_rules! words {
    ($(
        $(#[$about:meta])*
        $name:ident { $($(#[$doc:meta])* $variant:ident = $word:literal,)+ }
    )+) => {$(
        $(#[$about])*
        #[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub enum $name {
            $(
                $(#[$doc])*
                #[doc = concat!("`\"", $word, "\"`")]
                #[cfg_attr(feature = "serde", serde(rename = $word))]
                $variant,
            )+
        }

        impl $name {
            /// The word for it in the files and options.
            #[must_use]
            pub fn as_str(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)+
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl Word for $name {
            const WORDS: &'static [(&'static str, Self)] = &[$(($word, Self::$variant),)+];
        }
    )+};
}

words! {
    /// How `F` is reckoned from the words of a line under G94.
    FeedCounts {
        /// The Euclidean speed over all words, mm and rotary units alike.
        AllAxes = "all-axes",
        /// The speed of X, Y and Z together, as in RS274/NGC; the rotary counts when it moves
        /// alone.
        LinearAxes = "linear-axes",
    }
    /// How fast the controller goes round curves that are written as chords.
    Curves {
        /// No faster than the axes' accelerations allow on the curve.
        Arcs = "arcs",
        /// As each corner by itself allows.
        Corners = "corners",
    }
    /// Whether S follows the speed under M3.
    PowerRule {
        /// S stays as asked, however slowly a corner is taken.
        Constant = "constant",
        /// S is stepped along ramps as the plan has them.
        FollowsSpeed = "follows-speed",
    }
    /// Which way the head goes as the Z word grows.
    FocusUp {
        /// Away from the work.
        Away = "away",
        /// Toward the work.
        Toward = "toward",
    }
    /// The letter of the rotary's word.
    RotaryWord {
        /// The axis parallel to X in RS274/NGC.
        A = "A",
        /// The axis parallel to Y in RS274/NGC.
        B = "B",
        /// The axis parallel to Z in RS274/NGC.
        C = "C",
        /// The rotary is plugged in where the Y axis was.
        Y = "Y",
    }
    /// Along which linear axis of the machine the work lies.
    Along {
        /// Along X.
        X = "x",
        /// Along Y: flat `u` is then Y and `v` is −X.
        Y = "y",
    }
    /// How the ware's surface takes the light.
    Finish {
        /// Evenly: paint, powder coat, wood.
        Matt = "matt",
        /// With a bright band: steel, brass, glaze.
        Metal = "metal",
    }
    /// How the rotary takes hold of the work.
    Drive {
        /// By its end: a turn of the word is a turn of the work.
        Chuck = "chuck",
        /// By the surface where the work lies on it: rotary units are mm of surface there.
        Roller = "roller",
    }
    /// What power does where the lay changes lengths and speeds.
    Dose {
        /// Hold the energy per area (for lines, per length) of wall.
        Even = "even",
        /// Leave power alone.
        AsGiven = "as-given",
    }
    /// Which way scan lines run.
    Scan {
        /// Along the axis at constant turn: the work stands still under the moving head.
        Along = "along",
        /// Around at a constant place: the work turns under the still head.
        Around = "around",
        /// Whichever is sooner done, of those that keep the axes within their ends.
        Auto = "auto",
    }
    /// What to do with burns in a zone.
    ZoneRule {
        /// Refuse the job.
        Refuse = "refuse",
        /// Do not burn inside.
        Mask = "mask",
        /// Burn all the same.
        Ignore = "ignore",
    }
    /// Who keeps the focus.
    FocusMode {
        /// The user sets it once.
        Fixed = "fixed",
        /// The Z word follows the crest.
        Follow = "follow",
    }
    /// How the drawing stands on the page.
    Stands {
        /// Page up is `+u`, page right is `−v`.
        Upright = "upright",
        /// Page right is `+u`, page up is `+v`.
        Lying = "lying",
        /// Page up is `−u`, page right is `+v`.
        Inverted = "inverted",
    }
    /// Where the end of the work with the larger `at` points.
    Toward {
        /// To X+.
        XPlus = "x+",
        /// To X−: the X word and the rotary word are both negated, so nothing is mirrored.
        XMinus = "x-",
    }
    /// What lands at `place`.
    PlaceOf {
        /// The page's bottom middle.
        Page = "page",
        /// The centre of the art.
        Art = "art",
    }
    /// How a picture's greys become burns.
    Tone {
        /// Graded power.
        Power = "power",
        /// Dots by a matrix of thresholds.
        Ordered = "ordered",
        /// Dots by error diffusion.
        Diffused = "diffused",
        /// All or nothing.
        Threshold = "threshold",
    }
    /// The air assist of an operation.
    AirLevel {
        /// None.
        Off = "off",
        /// A little.
        Low = "low",
        /// Much.
        High = "high",
    }
}

impl Word for crate::LengthUnit {
    const WORDS: &'static [(&'static str, Self)] = &[("mm", Self::Mm), ("in", Self::Inch)];
}

impl Word for WallShape {
    const WORDS: &'static [(&'static str, Self)] =
        &[("straight", Self::Straight), ("smooth", Self::Smooth)];
}

impl Word for LayKind {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("even-angle", Self::EvenAngle),
        ("true-width", Self::TrueWidth),
        ("true-shape", Self::TrueShape),
        ("label", Self::Label),
    ];
}

impl Word for Work {
    const WORDS: &'static [(&'static str, Self)] =
        &[("area", Self::Area), ("line", Self::Line), ("picture", Self::Picture)];
}

impl Word for BeamWord {
    const WORDS: &'static [(&'static str, Self)] = &[("M3", Self::M3), ("M4", Self::M4)];
}

impl Word for FeedMode {
    const WORDS: &'static [(&'static str, Self)] =
        &[("per-minute", Self::PerMinute), ("inverse-time", Self::InverseTime)];
}
