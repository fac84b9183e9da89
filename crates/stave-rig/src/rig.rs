//! The rig: which word does what, where a place of the wall lies for the machine, and back.

use std::f64::consts::TAU;

use stave_setup::{
    Along, AxisLimits, Blank, Drive, FeedCounts, FocusUp, Machine, RotaryWord, Setup, Toward,
};
use stave_toolpath::{Place, Position, number};
use stave_wall::{Crest, Laid, Section, Wall};

use crate::knots::Knots;
use crate::made_for::MadeFor;
use crate::misfit::Misfit;

/// How many axes a rig has: X, Y, Z and the rotary, in this order wherever words stand in a list.
pub const AXES: usize = 4;
/// The index of X among them.
pub const X: usize = 0;
/// The index of Y.
pub const Y: usize = 1;
/// The index of Z.
pub const Z: usize = 2;
/// The index of the rotary, whatever its letter.
pub const ROTARY: usize = 3;

/// An axis the machine file says nothing of: its limits never bind.
const FREE: AxisLimits =
    AxisLimits { speed: 1e12, acceleration: 1e12, jerk: None, min: None, max: None };

/// The machine with the work in it.
///
/// The X word is `±(X(z) − X(z_zero))` with `X(z) = z cos τ − r sin τ`; the rotary word `±(θ −
/// θ_zero) · units/2π`. `toward = "x-"` negates both; `reverse` the rotary alone. Where the work
/// lies along Y its word takes the part of X. The way back finds, of all places of the wall that
/// lie at an X, the uppermost, which the beam meets first.
///
/// ```
/// use stave_rig::{MadeFor, Rig};
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 5.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n",
///     "can.toml")?;
/// let machine = stave_setup::read_machine(
///     "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n",
///      "bench.toml")?;
/// let rig = Rig::new(&blank, &machine, &MadeFor::assumed(&blank, &machine));
/// let place = rig.place(&[20.0, 0.0, 0.0, 90.0], &mut 0);
/// assert_eq!((place.at_mm, place.s_mm, place.radius_mm), (25.0, 20.0, 30.0));
/// assert!((place.turn_rad.to_degrees() - 90.0).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Rig<'a> {
    /// The wall.
    pub wall: &'a Wall,
    machine: &'a Machine,
    /// The crest under the tilt.
    pub crest: Crest,
    /// The wall where its along word is zero.
    zero: Section,
    along_zero_mm: f64,
    along_sign: f64,
    turn_zero_rad: f64,
    units_per_rad: f64,
    decimals: u32,
    /// What a count of a word is worth, mm or rotary units.
    pub count: f64,
    /// Radians a count of the rotary word, signed.
    pub rad_per_count: f64,
    /// The index of the axis along the work: [`X`] or [`Y`].
    pub along: usize,
    /// Height of the crest at the zero, mm: what driven focus is reckoned from.
    pub zero_height_mm: f64,
    /// +1 where a larger Z takes the head away from the work.
    pub z_sign: f64,
    tilt_cos: f64,
    knots: Knots,
}

impl<'a> Rig<'a> {
    /// The rig of a setup.
    #[must_use]
    pub fn of_setup(setup: &'a Setup) -> Self {
        Self::new(&setup.blank, &setup.machine, &MadeFor::of_setup(setup))
    }

    /// For a program that was made for `blank` and `machine` as `made_for` says.
    #[must_use]
    pub fn new(blank: &'a Blank, machine: &'a Machine, made_for: &MadeFor) -> Self {
        let wall = &blank.wall;
        let crest = Crest::new(made_for.tilt_rad);
        let section = |at_mm: f64| wall.section(wall.s_of_at(at_mm), &mut 0);
        let zero = section(made_for.zero.0);
        let toward = if made_for.toward == Toward::XMinus { -1.0 } else { 1.0 };
        let reverse = if machine.rotary.reverse { -1.0 } else { 1.0 };
        let units_per_turn = match machine.rotary.drive {
            Drive::Chuck => machine.rotary.units_per_turn,
            Drive::Roller => {
                let touched = made_for.contact_at_mm.map(|at_mm| section(at_mm).radius_mm);
                TAU * touched.unwrap_or_else(|| wall.largest_radius_mm()) * machine.rotary.scale
            }
        };
        let units_per_rad = toward * reverse * units_per_turn / TAU;
        let count = machine.controller.count();
        Self {
            wall,
            machine,
            zero,
            along_zero_mm: crest.along_mm(&zero),
            zero_height_mm: crest.height_mm(&zero),
            along_sign: toward,
            turn_zero_rad: made_for.zero.1,
            units_per_rad,
            decimals: machine.controller.decimals,
            count,
            rad_per_count: count / units_per_rad,
            along: if machine.rotary.along == Along::Y { Y } else { X },
            z_sign: match &machine.z {
                Some(z) if z.up == FocusUp::Toward => -1.0,
                _ => 1.0,
            },
            tilt_cos: made_for.tilt_rad.cos(),
            knots: Knots::new(wall, &crest),
            crest,
        }
    }

    /// The same under another tilt, zeroed at the same place of the wall.
    #[must_use]
    pub fn tilted(&self, tilt_rad: f64) -> Self {
        let crest = Crest::new(tilt_rad);
        Self {
            along_zero_mm: crest.along_mm(&self.zero),
            zero_height_mm: crest.height_mm(&self.zero),
            tilt_cos: tilt_rad.cos(),
            knots: Knots::new(self.wall, &crest),
            crest,
            ..self.clone()
        }
    }

    /// The machine.
    #[must_use]
    pub fn machine(&self) -> &'a Machine {
        self.machine
    }

    /// True where the work lies along Y.
    #[must_use]
    #[inline]
    pub fn along_y(&self) -> bool {
        self.along == Y
    }

    /// The limits of an axis; one the machine file says nothing of never binds.
    #[must_use]
    pub fn limits(&self, axis: usize) -> AxisLimits {
        axis_limits(self.machine, true)[axis.min(ROTARY)]
    }

    /// The letter of an axis' word.
    #[must_use]
    pub fn letter(&self, axis: usize) -> char {
        axis_letter(self.machine, axis)
    }

    /// The along and rotary words of a place on the wall, counts.
    ///
    /// # Errors
    /// Where a word cannot hold the place.
    pub fn words(&self, place: &Laid) -> Result<(i64, i64), Misfit> {
        self.counts(place).ok_or_else(|| {
            let (along, rotary) = self.values(place);
            match number::round_to_counts(along, self.decimals) {
                None => Misfit::TooFar { word: self.letter(self.along), value: along },
                Some(_) => Misfit::TooFar { word: self.letter(ROTARY), value: rotary },
            }
        })
    }

    /// As [`Rig::words`]; `None` where a word cannot hold the place.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    #[must_use]
    pub fn counts(&self, place: &Laid) -> Option<(i64, i64)> {
        let (along, rotary) = self.values(place);
        let along = number::round_to_counts(along, self.decimals)?;
        Some((along, number::round_to_counts(rotary, self.decimals)?))
    }

    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
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
    #[must_use]
    #[inline]
    pub fn along_and_turn(&self, place: &Laid) -> (f64, f64) {
        let along_mm = self.along_sign * (self.crest.along_mm(&place.section) - self.along_zero_mm);
        (along_mm, self.along_sign * (place.turn_rad - self.turn_zero_rad))
    }

    /// How that place moves where a point moves by `along` and `around` on the wall: X word, and
    /// turn × `radius_mm`.
    #[must_use]
    #[inline]
    pub fn page_rate(
        &self,
        section: &Section,
        along: f64,
        around: f64,
        radius_mm: f64,
    ) -> kurbo::Vec2 {
        let rate = self.crest.along_rate(section);
        self.along_sign * kurbo::Vec2::new(rate * along, radius_mm / section.radius_mm * around)
    }

    /// The Z word, counts.
    ///
    /// # Errors
    /// Where no word can hold it.
    pub fn z_word(&self, z_mm: f64) -> Result<i64, Misfit> {
        number::round_to_counts(z_mm, self.decimals)
            .ok_or(Misfit::TooFar { word: 'Z', value: z_mm })
    }

    /// The place along the crest, mm, of a section: the along word before rounding, without its
    /// sign and zero.
    #[must_use]
    #[inline]
    pub fn along_mm(&self, section: &Section) -> f64 {
        self.crest.along_mm(section)
    }

    /// The words, by axis, for counts along, of the rotary and of Z.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    #[must_use]
    pub fn of_counts(&self, along: i64, rotary: i64, z: i64) -> [f64; AXES] {
        let mut words = [0.0, 0.0, z as f64 * self.count, rotary as f64 * self.count];
        words[self.along & 1] = along as f64 * self.count;
        words
    }

    /// The length on the wall of a straight move by so many counts, over ground whose ends are
    /// `from` and `to`, mm.
    ///
    /// The words as written are what counts, so that a speed recovered from them is the speed
    /// asked. Within a move the slope and radius change by little (the cutter sees to that), so the
    /// middle of the two ends serves.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
    #[must_use]
    pub fn short_wall_mm(&self, d_along: i64, d_rotary: i64, from: &Section, to: &Section) -> f64 {
        // Nothing here waits for the words, so that the division is done by the time they are
        // known.
        let per_rate = self.count * 2.0 / (self.crest.along_rate(from) + self.crest.along_rate(to));
        let ds = d_along as f64 * per_rate;
        let around = d_rotary as f64 * self.rad_per_count * 0.5 * (from.radius_mm + to.radius_mm);
        (ds * ds + around * around).sqrt()
    }

    // The way back.

    /// The words of a program's position, by axis.
    #[must_use]
    #[inline]
    pub fn words_of(&self, position: &Position) -> [f64; AXES] {
        words_of(self.machine, position)
    }

    /// The letter by which a program turns or moves what this rig does not, between two positions:
    /// another rotary's, or the linear axis that a rotary program leaves alone.
    #[must_use]
    #[inline]
    pub fn other_letter(&self, from: &Position, to: &Position) -> Option<char> {
        let across = if self.along_y() { to.x - from.x } else { to.y - from.y };
        if across != 0.0 && self.machine.rotary.word != RotaryWord::Y {
            return Some(if self.along_y() { 'X' } else { 'Y' });
        }
        other_rotary(self.machine, from, to)
    }

    /// Place along the beam's rail, mm, as [`Crest::along_mm`] has it, for words.
    #[must_use]
    #[inline]
    pub fn rail_mm(&self, words: &[f64; AXES]) -> f64 {
        self.along_zero_mm + self.along_sign * words[self.along & 1]
    }

    /// The place along the beam's rail, mm, under which a place of the wall is burned.
    #[must_use]
    pub fn rail_of(&self, place: &Place) -> f64 {
        self.crest.along_mm(&self.wall.section(place.s_mm, &mut 0))
    }

    /// Motor steps for one turn of the work as the program holds it, rollers' contact and all,
    /// where the machine file tells.
    #[must_use]
    pub fn steps_per_turn(&self) -> Option<f64> {
        self.machine.rotary.steps_for(self.units_per_rad.abs() * TAU)
    }

    /// The turn that is uppermost, rad, for words.
    #[must_use]
    #[inline]
    pub fn turn_rad(&self, words: &[f64; AXES]) -> f64 {
        self.turn_zero_rad + words[ROTARY] / self.units_per_rad
    }

    /// The along word, mm, at a place along the rail, and the rotary word at a turn: the way there.
    #[must_use]
    pub fn to_words(&self, rail_mm: f64, turn_rad: f64) -> (f64, f64) {
        (
            self.along_sign * (rail_mm - self.along_zero_mm),
            (turn_rad - self.turn_zero_rad) * self.units_per_rad,
        )
    }

    /// The place of the wall under the beam. `hint` is kept by the caller between calls, 0 at
    /// first. Past the ends `s_mm` runs on, and the wall as a cylinder.
    #[must_use]
    #[inline]
    pub fn place(&self, words: &[f64; AXES], hint: &mut usize) -> Place {
        self.place_on(self.rail_mm(words), self.turn_rad(words), hint)
    }

    /// The same for a place along the rail, mm, and the turn that is uppermost, rad.
    #[must_use]
    #[inline]
    pub fn place_on(&self, rail_mm: f64, turn_rad: f64, hint: &mut usize) -> Place {
        let s_mm = self.s_of_rail(rail_mm, hint);
        let section = self.wall.section(s_mm, &mut 0);
        Place { s_mm, turn_rad, at_mm: section.at_mm, radius_mm: section.radius_mm }
    }

    /// The length along the meridian at a place along the rail, mm.
    #[must_use]
    #[inline]
    pub fn s_of_rail(&self, rail_mm: f64, hint: &mut usize) -> f64 {
        self.knots.s_of_x(self.wall, &self.crest, self.tilt_cos, rail_mm, hint)
    }

    /// The length on the wall of a straight move of the machine, mm: `∫ √(ds² + r² dθ²)` along its
    /// way, whatever it crosses.
    #[must_use]
    #[inline]
    pub fn wall_mm(&self, from: &[f64; AXES], to: &[f64; AXES], hint: &mut usize) -> f64 {
        let turn_rad = (to[ROTARY] - from[ROTARY]) / self.units_per_rad;
        let (x0, x1) = (self.rail_mm(from), self.rail_mm(to));
        self.knots.wall_mm(self.wall, &self.crest, self.tilt_cos, (x0, x1), turn_rad, hint)
    }

    /// Whether a place lies between the first and the last station, to the rounding of the words.
    #[must_use]
    #[inline]
    pub fn on_wall(&self, s_mm: f64) -> bool {
        let slack_mm = 2.0 * self.count + 1e-6;
        s_mm >= -slack_mm && s_mm <= self.wall.length_mm() + slack_mm
    }

    // Feeds.

    /// How long a move is to take by the F word in effect (`f` per minute), seconds: by the
    /// controller's rule. See [`written_s`].
    #[must_use]
    #[inline]
    pub fn written_s(&self, delta: &[f64; AXES], linear_mm: f64, f: f64) -> f64 {
        written_s(self.machine.controller.feed_counts, delta, linear_mm, f)
    }
}

/// How long a move by `delta` (mm and rotary units, by axis) is to take at `f` units per minute,
/// seconds. `linear_mm` is its length over X, Y and Z, along the arc for an arc.
///
/// Over all words where the controller counts all axes; else RS274/NGC 2.1.2.5: F goes along X, Y
/// and Z, and only where none of them moves by the rotary.
///
/// ```
/// use stave_setup::FeedCounts::{AllAxes, LinearAxes};
/// let delta = [30.0, 0.0, 0.0, 40.0];
/// assert_eq!(stave_rig::written_s(AllAxes, &delta, 30.0, 300.0), 10.0);
/// assert_eq!(stave_rig::written_s(LinearAxes, &delta, 30.0, 300.0), 6.0);
/// assert_eq!(stave_rig::written_s(LinearAxes, &[0.0, 0.0, 0.0, 40.0], 0.0, 300.0), 8.0);
/// ```
#[must_use]
#[inline]
pub fn written_s(counts: FeedCounts, delta: &[f64; AXES], linear_mm: f64, f: f64) -> f64 {
    let turned = delta[ROTARY].abs();
    let way = match counts {
        FeedCounts::AllAxes => {
            if turned == 0.0 {
                linear_mm
            } else {
                linear_mm.hypot(turned)
            }
        }
        FeedCounts::LinearAxes => {
            if linear_mm > 0.0 {
                linear_mm
            } else {
                turned
            }
        }
    };
    way * 60.0 / f
}

/// The words of a position by axis: X, Y, Z and the machine's rotary. What stands in the place of
/// the axis across the work has that axis' word.
#[must_use]
#[inline]
pub fn words_of(machine: &Machine, position: &Position) -> [f64; AXES] {
    match machine.rotary.word {
        RotaryWord::A => [position.x, position.y, position.z, position.a],
        RotaryWord::B => [position.x, position.y, position.z, position.b],
        RotaryWord::C => [position.x, position.y, position.z, position.c],
        RotaryWord::Y => match machine.rotary.along {
            Along::X => [position.x, 0.0, position.z, position.y],
            Along::Y => [0.0, position.y, position.z, position.x],
        },
    }
}

/// The letter of a rotary that a program turns and this machine does not have.
#[must_use]
#[inline]
pub fn other_rotary(machine: &Machine, from: &Position, to: &Position) -> Option<char> {
    if from.a == to.a && from.b == to.b && from.c == to.c {
        return None;
    }
    let own = machine.rotary.word.as_str();
    [("A", to.a - from.a), ("B", to.b - from.b), ("C", to.c - from.c)]
        .into_iter()
        .find(|(letter, turned)| *turned != 0.0 && *letter != own)
        .and_then(|(letter, _)| letter.chars().next())
}

/// The limits by axis. `turns`: the program is one for the rotary, so that one in the place of the
/// axis across the work is not that axis.
#[must_use]
pub fn axis_limits(machine: &Machine, turns: bool) -> [AxisLimits; AXES] {
    let mut linear = [machine.x, machine.y];
    if turns && machine.rotary.word == RotaryWord::Y {
        linear[if machine.rotary.along == Along::X { Y } else { X }] = FREE;
    }
    let [x, y] = linear;
    [x, y, machine.z.as_ref().map_or(FREE, |z| z.limits), machine.rotary.limits]
}

/// The letter of an axis' word.
#[must_use]
pub fn axis_letter(machine: &Machine, axis: usize) -> char {
    match axis {
        X => 'X',
        Y => 'Y',
        Z => 'Z',
        _ => match (machine.rotary.word, machine.rotary.along) {
            (RotaryWord::Y, Along::Y) => 'X',
            (word, _) => word.as_str().chars().next().unwrap_or('A'),
        },
    }
}
