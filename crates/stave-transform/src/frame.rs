//! From the wall to the machine's words, and back to lengths on the wall.

use stave_setup::{Along, Setup, Toward};
use stave_toolpath::number;
use stave_wall::{Crest, Laid, Section};

use crate::error::Misfit;

/// How the work lies in the machine: where its zeros are, which way its axes grow.
///
/// The X word is `±(X(z) − X(z_zero))` with `X(z) = z cos τ − r sin τ`; the rotary word `±(θ −
/// θ_zero) · units/2π`. `toward = "x-"` negates both; `reverse` the rotary alone.
#[derive(Clone, Debug)]
pub(crate) struct Frame {
    pub(crate) crest: Crest,
    along_zero_mm: f64,
    along_sign: f64,
    turn_zero_rad: f64,
    units_per_rad: f64,
    decimals: u32,
    /// mm a count of the along word.
    pub(crate) count: f64,
    /// Radians a count of the rotary word, signed.
    pub(crate) rad_per_count: f64,
    pub(crate) along_y: bool,
    /// H at the zero: the height driven focus is reckoned from.
    pub(crate) zero_height_mm: f64,
}

impl Frame {
    pub(crate) fn new(setup: &Setup) -> Self {
        let wall = &setup.blank.wall;
        let crest = Crest::new(setup.job.tilt_rad);
        let mut hint = 0;
        let zero = wall.section(wall.s_of_at(setup.job.zero.at_mm), &mut hint);
        let toward = if setup.job.toward == Toward::XMinus { -1.0 } else { 1.0 };
        let reverse = if setup.machine.rotary.reverse { -1.0 } else { 1.0 };
        let units_per_rad =
            toward * reverse * setup.rotary_units_per_turn() / std::f64::consts::TAU;
        let decimals = setup.machine.controller.decimals;
        let count = 10_f64.powi(-i32::try_from(decimals).unwrap_or(0));
        Self {
            along_zero_mm: crest.along_mm(&zero),
            zero_height_mm: crest.height_mm(&zero),
            crest,
            along_sign: toward,
            turn_zero_rad: setup.job.zero.turn_rad,
            units_per_rad,
            decimals,
            count,
            rad_per_count: count / units_per_rad,
            along_y: setup.machine.rotary.along == Along::Y,
        }
    }

    /// The along and rotary words of a place on the wall, counts.
    pub(crate) fn words(&self, place: &Laid) -> Result<(i64, i64), Misfit> {
        self.counts(place).ok_or_else(|| {
            let (along, rotary) = self.values(place);
            match number::round_to_counts(along, self.decimals) {
                None => Misfit::TooFar { word: if self.along_y { "Y" } else { "X" }, value: along },
                Some(_) => Misfit::TooFar { word: "rotary", value: rotary },
            }
        })
    }

    /// As [`Frame::words`]; `None` where a word cannot hold the place.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub(crate) fn counts(&self, place: &Laid) -> Option<(i64, i64)> {
        let (along, rotary) = self.values(place);
        let along = number::round_to_counts(along, self.decimals)?;
        Some((along, number::round_to_counts(rotary, self.decimals)?))
    }

    #[allow(clippy::inline_always)]
    #[inline(always)]
    fn values(&self, place: &Laid) -> (f64, f64) {
        (
            self.along_sign * (self.crest.along_mm(&place.section) - self.along_zero_mm),
            (place.turn_rad - self.turn_zero_rad) * self.units_per_rad,
        )
    }

    /// The along word, mm, and the turn from the zero, rad, both negated by `toward = "x-"`: where
    /// a place lies for a controller that works in lengths and angles. How the rotary is wired
    /// (`reverse`, its units) is not in it.
    #[inline]
    pub(crate) fn along_and_turn(&self, place: &Laid) -> (f64, f64) {
        let along_mm = self.along_sign * (self.crest.along_mm(&place.section) - self.along_zero_mm);
        (along_mm, self.along_sign * (place.turn_rad - self.turn_zero_rad))
    }

    /// How that place moves where a point moves by `along` and `around` on the wall: X word, and
    /// turn × `radius_mm`.
    #[inline]
    pub(crate) fn page_rate(
        &self,
        section: &Section,
        along: f64,
        around: f64,
        radius_mm: f64,
    ) -> kurbo::Vec2 {
        let rate = self.crest.along_rate(section);
        self.along_sign * kurbo::Vec2::new(rate * along, radius_mm / section.radius_mm * around)
    }

    pub(crate) fn z_word(&self, z_mm: f64) -> Result<i64, Misfit> {
        number::round_to_counts(z_mm, self.decimals)
            .ok_or(Misfit::TooFar { word: "Z", value: z_mm })
    }

    /// The place along the crest, mm from the zero, of a section: the along word before rounding,
    /// without its sign.
    #[inline]
    pub(crate) fn along_mm(&self, section: &Section) -> f64 {
        self.crest.along_mm(section)
    }

    /// The length on the wall of a straight move by so many counts, over ground whose ends are
    /// `from` and `to`, mm.
    ///
    /// The words as written are what counts, so that a speed recovered from them is the speed
    /// asked. Within a move the slope and radius change by little (the cutter sees to that), so the
    /// middle of the two ends serves.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    #[allow(clippy::cast_precision_loss)]
    pub(crate) fn wall_mm(&self, d_along: i64, d_rotary: i64, from: &Section, to: &Section) -> f64 {
        // Nothing here waits for the words, so that the division is done by the time they are
        // known.
        let per_rate = self.count * 2.0 / (self.crest.along_rate(from) + self.crest.along_rate(to));
        let ds = d_along as f64 * per_rate;
        let around = d_rotary as f64 * self.rad_per_count * 0.5 * (from.radius_mm + to.radius_mm);
        (ds * ds + around * around).sqrt()
    }
}
