//! Which moves burn: the beam's word and power as a program has them in effect.

use stave_toolpath::{BeamWord, Feed};

use crate::misfit::Misfit;

/// What a program has in effect of the beam.
///
/// ```
/// use stave_rig::Beam;
/// use stave_toolpath::BeamWord;
/// let mut beam = Beam::new(false);
/// beam.word = Some(BeamWord::M3);
/// // No S so far: a laser that is only on or off.
/// assert!(beam.burns() && beam.dwell_burns());
/// beam.power_s = Some(0.0);
/// assert!(!beam.burns());
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Beam {
    /// M3 or M4; `None` is off.
    pub word: Option<BeamWord>,
    /// The S word, counts; `None` while none was given.
    pub power_s: Option<f64>,
    /// Held to the letter: without an S nothing burns.
    pub strict: bool,
}

impl Beam {
    /// Off, no power given.
    #[must_use]
    pub fn new(strict: bool) -> Self {
        Self { word: None, power_s: None, strict }
    }

    /// Whether a move at a feed rate burns: M3 or M4 in effect and S above 0, or, when not strict,
    /// no S given so far (on/off lasers).
    #[must_use]
    #[inline]
    pub fn burns(&self) -> bool {
        self.word.is_some() && self.power_s.map_or(!self.strict, |s| s > 0.0)
    }

    /// Whether a move at this feed rate burns, as [`Self::burns`] has it.
    ///
    /// # Errors
    /// [`Misfit::NoFeed`] where it would, at an unknown speed: nobody knows how strongly.
    #[inline]
    pub fn burns_at(&self, feed: Option<Feed>) -> Result<bool, Misfit> {
        match (self.burns(), feed) {
            (true, None) => Err(Misfit::NoFeed),
            (burns, _) => Ok(burns),
        }
    }

    /// Whether a dwell burns a dot: under M3 the power is there while the work stands; under M4 it
    /// follows the speed, and there is none (common practice, no source).
    #[must_use]
    #[inline]
    pub fn dwell_burns(&self) -> bool {
        self.word == Some(BeamWord::M3) && self.burns()
    }

    /// Whether it burns as a laser that is only on or off.
    #[must_use]
    #[inline]
    pub fn on_off(&self) -> bool {
        self.power_s.is_none()
    }
}
