//! The tilt that makes a stretch of wall most nearly level, and what each lens makes of it.

use stave_setup::{Lens, Machine};
use stave_toolpath::number::fixed;
use stave_wall::{Section, Strip, TrueRunning, Wall};

use crate::focus::{Sharpness, focus_at_mid_strip};
use crate::optics::{Optics, optics};
use crate::sharp;

/// The tilts a hand can set: whole multiples of half a degree.
pub const TILT_STEP_RAD: f64 = std::f64::consts::PI / 360.0;

/// A stretch of wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Where it begins along the axis, mm.
    pub from_at_mm: f64,
    /// Where it ends along the axis, mm.
    pub to_at_mm: f64,
}

impl Stretch {
    pub(crate) fn between(wall: &Wall, from_s_mm: f64, to_s_mm: f64) -> Self {
        Self { from_at_mm: wall.at_of_s(from_s_mm), to_at_mm: wall.at_of_s(to_s_mm) }
    }
}

/// A stretch of wall under one tilt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tilted {
    /// The stretch.
    pub stretch: Stretch,
    /// The tilt, where to focus and the worst defocus.
    pub sharpness: Sharpness,
}

/// What one lens makes of the stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct LensFit {
    /// The lens's name.
    pub name: String,
    /// Its figures.
    pub optics: Optics,
    /// Whether the whole stretch stays sharp at the best tilt; `None` where the depth of focus is
    /// not known.
    pub in_focus: Option<bool>,
    /// The longest part that stays sharp under a tilt of its own, where the whole does not but some
    /// part does.
    pub longest: Option<Tilted>,
}

/// How to set up for a stretch of wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// The best tilt there is.
    pub best: Tilted,
    /// The best tilt a hand can set, to half a degree.
    pub set: Tilted,
    /// The wall as it lies without tilt.
    pub untilted: Tilted,
    /// What ware that is not round or does not run true adds to every defocus, mm: see
    /// [`stave_wall::TrueRunning::most_mm`].
    pub uneven_mm: f64,
    /// The lenses of the machine, in its order.
    pub lenses: Vec<LensFit>,
}

/// Why no tilt can be named.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LevelError {
    /// A stretch that is not on the wall.
    #[error(
        "the stretch from {} to {} mm {} the wall, which runs from {} to {} mm; name two places on \
         it, the smaller first",
        fixed(*from_mm, 3),
        fixed(*to_mm, 3),
        if from_mm < to_mm { "does not lie on" } else { "has no length on" },
        fixed(wall_mm.0, 3),
        fixed(wall_mm.1, 3)
    )]
    OffWall {
        /// Where it was to begin, mm.
        from_mm: f64,
        /// Where it was to end, mm.
        to_mm: f64,
        /// The wall's first and last station, mm.
        wall_mm: (f64, f64),
    },
    /// A lens of which nothing tells the depth of focus.
    #[error(
        "nothing tells the depth of focus of lens \"{lens}\": give the lens `depth_of_focus`, or \
         the machine a [beam]"
    )]
    NoDepth {
        /// Its name.
        lens: String,
    },
    /// A place where no tilt keeps even a short stretch sharp.
    #[error(
        "at {} mm no tilt that the machine allows keeps even a short stretch of the wall sharp and \
         within reach: lens \"{lens}\" is sharp within ±{} mm; take a stretch that leaves it out, \
         or a lens of more depth",
        fixed(*at_mm, 2), fixed(*depth_mm, 2)
    )]
    NowhereSharp {
        /// The lens's name.
        lens: String,
        /// Its half depth of focus, mm.
        depth_mm: f64,
        /// Where along the axis, mm.
        at_mm: f64,
    },
    /// No tilt brings the whole stretch within reach of the beam.
    #[error(
        "no tilt within {}° keeps all of it within reach: its slope goes from {}° to {}°, and the \
         beam burns up to {}°; take a \
         shorter stretch, or raise `most_tilt` or `steepest` if the machine can do more",
        fixed(*most_tilt_deg, 1), fixed(slopes_deg.0, 1), fixed(slopes_deg.1, 1), fixed(*steepest_deg, 1)
    )]
    OutOfReach {
        /// The least and the greatest slope of the stretch, degrees.
        slopes_deg: (f64, f64),
        /// The machine's `steepest`, degrees.
        steepest_deg: f64,
        /// The machine's `most_tilt`, degrees.
        most_tilt_deg: f64,
    },
}

/// Divides a stretch of wall into the fewest set-ups, each sharp with a lens under a tilt of its
/// own: one after the other without a gap, in order along the axis.
///
/// A tilt that a hand can set is taken where it serves, else the best there is.
///
/// # Errors
/// A stretch off the wall; a lens of which nothing tells the depth of focus; a place where no tilt
/// keeps even a short stretch sharp and within reach.
///
/// ```
/// use stave_check::level_parts;
/// # let blank = "station = [{ at = 0, diameter = 60 }, { at = 40, diameter = 60 },
/// #     { at = 80, diameter = 70 }]";
/// # let machine = "x = { speed = 500, acceleration = 5000 }
/// # y = { speed = 500, acceleration = 3000 }
/// # rotary = { word = 'A', units_per_turn = 360, speed = 360, acceleration = 2000 }
/// # lens = [{ name = 'short', focal_length = 40, depth_of_focus = 0.5 }]";
/// let (blank, machine) =
///     (stave_setup::read_blank(blank, "b")?, stave_setup::read_machine(machine, "m")?);
/// let ware = (&blank.wall, &blank.running);
/// let parts = level_parts(ware, &machine, &machine.lenses[0], 0.0, 80.0)?;
/// // A cylinder and a cone are two set-ups.
/// assert_eq!(parts.len(), 2);
/// assert!(parts.iter().all(|part| part.sharpness.defocus_mm <= 0.5));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn level_parts(
    (wall, running): (&Wall, &TrueRunning),
    machine: &Machine,
    lens: &Lens,
    from_at_mm: f64,
    to_at_mm: f64,
) -> Result<Vec<Tilted>, LevelError> {
    let within = on_wall(wall, (from_at_mm, to_at_mm))?;
    let Some(depth_mm) = optics(lens, machine.beam.as_ref()).half_depth_mm else {
        return Err(LevelError::NoDepth { lens: lens.name.clone() });
    };
    let left_mm = depth_mm - running.most_mm(from_at_mm, to_at_mm);
    let reach = (machine.controller.steepest_rad, machine.controller.most_tilt_rad);
    let nowhere = |s_mm: f64| LevelError::NowhereSharp {
        lens: lens.name.clone(),
        depth_mm,
        at_mm: wall.at_of_s(s_mm),
    };
    if left_mm <= 0.0 {
        return Err(nowhere(within.0));
    }
    let parts = sharp::fewest(wall, within, 2.0 * left_mm, reach).map_err(nowhere)?;
    let tilted = parts.into_iter().map(|sharp::SharpPart { from, to, tilt_rad: best_rad }| {
        let sections = wall.sections_between(from, to);
        let points: Vec<(f64, f64)> =
            sections.iter().map(|(_, s)| (s.at_mm, s.radius_mm)).collect();
        let by_hand = tilts_in_reach(&sections, reach)
            .map(|tilts| hand_tilt_rad(&points, best_rad, tilts))
            .map(|tilt_rad| focus_at_mid_strip(wall, from, to, tilt_rad))
            .filter(|sharpness| sharpness.defocus_mm <= left_mm);
        let sharpness = by_hand.unwrap_or_else(|| focus_at_mid_strip(wall, from, to, best_rad));
        Tilted { stretch: Stretch::between(wall, from, to), sharpness }
    });
    Ok(tilted.collect())
}

/// Finds tilt, focus and lens for the wall between two places along the axis, mm.
///
/// The best tilt is that of the narrowest strip that holds the stretch's meridian, among the tilts
/// up to `most_tilt` that keep all of it within `steepest`; the focus is at mid-strip, and the
/// worst defocus is half the strip's width, to which what the ware goes in and out over a turn
/// adds. See [`Strip::narrowest`].
///
/// # Errors
/// A stretch off the wall or of no length, or one that no tilt brings within reach.
pub fn level(
    (wall, running): (&Wall, &TrueRunning),
    machine: &Machine,
    from_at_mm: f64,
    to_at_mm: f64,
) -> Result<Level, LevelError> {
    level_of((wall, running), machine, (from_at_mm, to_at_mm), true)
}

/// As [`level`]; the parts that stay sharp, which take long to find, only where they are asked for.
pub(crate) fn level_of(
    (wall, running): (&Wall, &TrueRunning),
    machine: &Machine,
    (from_at_mm, to_at_mm): (f64, f64),
    parts: bool,
) -> Result<Level, LevelError> {
    let within = on_wall(wall, (from_at_mm, to_at_mm))?;
    let sections = wall.sections_between(within.0, within.1);
    let reach = (machine.controller.steepest_rad, machine.controller.most_tilt_rad);
    let points: Vec<(f64, f64)> = sections.iter().map(|(_, s)| (s.at_mm, s.radius_mm)).collect();
    let out_of_reach = || {
        let (low, high) = slopes(&sections);
        LevelError::OutOfReach {
            slopes_deg: (low.to_degrees(), high.to_degrees()),
            steepest_deg: reach.0.to_degrees(),
            most_tilt_deg: reach.1.to_degrees(),
        }
    };
    let tilts = tilts_in_reach(&sections, reach).ok_or_else(out_of_reach)?;
    let strip = Strip::narrowest(&points, tilts).ok_or_else(out_of_reach)?;
    let stretch = Stretch { from_at_mm, to_at_mm };
    let tilted = |tilt: f64| Tilted {
        stretch,
        sharpness: focus_at_mid_strip(wall, within.0, within.1, tilt),
    };
    let uneven_mm = running.most_mm(from_at_mm, to_at_mm);
    let lenses = machine.lenses.iter().map(|lens| {
        let optics = optics(lens, machine.beam.as_ref());
        let left_mm = optics.half_depth_mm.map(|depth| depth - uneven_mm);
        let in_focus = left_mm.map(|left| 0.5 * strip.width_mm() <= left);
        let longest = match (in_focus, left_mm) {
            (Some(false), Some(left)) if parts && left > 0.0 => {
                sharp::longest(wall, within, 2.0 * left, reach)
            }
            _ => None,
        };
        let longest = longest.map(|(stretch, tilt_rad)| {
            let (from, to) = (wall.s_of_at(stretch.from_at_mm), wall.s_of_at(stretch.to_at_mm));
            Tilted { stretch, sharpness: focus_at_mid_strip(wall, from, to, tilt_rad) }
        });
        LensFit { name: lens.name.clone(), optics, in_focus, longest }
    });
    Ok(Level {
        lenses: lenses.collect(),
        best: tilted(strip.tilt_rad),
        set: tilted(hand_tilt_rad(&points, strip.tilt_rad, tilts)),
        untilted: tilted(0.0),
        uneven_mm,
    })
}

/// The longest part of the wall that stays sharp under a tilt within the half depth of focus that
/// is left, mm, with the focus at its mid-strip; `None` where the beam reaches none.
#[must_use]
pub fn longest_sharp(
    wall: &Wall,
    machine: &Machine,
    left_mm: f64,
    tilt_rad: f64,
) -> Option<Tilted> {
    let reach = (machine.controller.steepest_rad, machine.controller.most_tilt_rad);
    let all = (0.0, wall.length_mm());
    let stretch = sharp::longest_under(wall, all, 2.0 * left_mm, reach, tilt_rad)?;
    let (from, to) = (wall.s_of_at(stretch.from_at_mm), wall.s_of_at(stretch.to_at_mm));
    Some(Tilted { stretch, sharpness: focus_at_mid_strip(wall, from, to, tilt_rad) })
}

/// A stretch along the axis, mm, as one along the meridian (`s`, mm).
fn on_wall(wall: &Wall, (from_mm, to_mm): (f64, f64)) -> Result<(f64, f64), LevelError> {
    let wall_mm = wall.at_range_mm();
    if from_mm >= wall_mm.0 && to_mm <= wall_mm.1 && from_mm < to_mm {
        return Ok((wall.s_of_at(from_mm), wall.s_of_at(to_mm)));
    }
    Err(LevelError::OffWall { from_mm, to_mm, wall_mm })
}

/// The multiple of [`TILT_STEP_RAD`] beside the best tilt that costs least; the best itself where
/// none beside it is allowed.
fn hand_tilt_rad(points: &[(f64, f64)], best_rad: f64, tilts: (f64, f64)) -> f64 {
    let steps = best_rad / TILT_STEP_RAD;
    let beside =
        [steps.round(), steps.floor(), steps.ceil()].map(|steps| steps * TILT_STEP_RAD + 0.0);
    let allowed =
        beside.into_iter().filter(|tilt| *tilt >= tilts.0 - 1e-12 && *tilt <= tilts.1 + 1e-12);
    let width =
        |tilt: f64| Strip::under_tilt(points, tilt).map_or(f64::INFINITY, |strip| strip.width_mm());
    allowed.min_by(|a, b| width(*a).total_cmp(&width(*b))).unwrap_or(best_rad)
}

/// The tilts from and to which keep every section within `steepest`, among those up to `most_tilt`;
/// `None` where there are none.
pub(crate) fn tilts_in_reach(
    sections: &[(f64, Section)],
    (steepest_rad, most_tilt_rad): (f64, f64),
) -> Option<(f64, f64)> {
    let (low, high) = slopes(sections);
    let from = (-most_tilt_rad).max(-steepest_rad - low);
    let to = most_tilt_rad.min(steepest_rad - high);
    (from <= to).then_some((from, to))
}

fn slopes(sections: &[(f64, Section)]) -> (f64, f64) {
    sections
        .iter()
        .map(|(_, section)| section.slope_rad())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), slope| {
            (low.min(slope), high.max(slope))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cone that a tilt of so many steps of the hand would lay level: the nearer the better.
    fn cone(steps: f64) -> Vec<(f64, f64)> {
        let rise = (-steps * TILT_STEP_RAD).tan();
        (0..11).map(|k| f64::from(k) * 10.0).map(|at| (at, 60.0 + rise * at)).collect()
    }

    #[test]
    fn a_hand_s_tilt_is_the_best_step_within_what_is_allowed() {
        let hand = |best: f64, level: f64, from: f64, to: f64| {
            let tilts = (from * TILT_STEP_RAD, to * TILT_STEP_RAD);
            hand_tilt_rad(&cone(level), best * TILT_STEP_RAD, tilts) / TILT_STEP_RAD
        };
        let near = |found: f64, wanted: f64| {
            assert!((found - wanted).abs() < 1e-9, "{found} for {wanted}");
        };
        for sign in [1.0, -1.0] {
            let limits = |least: f64, most: f64| {
                if sign > 0.0 { (least, most) } else { (-most, -least) }
            };
            let (from, to) = limits(-30.0, 30.0);
            near(hand(sign * 6.3, sign * 6.3, from, to), sign * 6.0);
            near(hand(sign * 6.3, sign * 6.7, from, to), sign * 7.0);
            // A limit that is a step is allowed, one between steps is not passed, though the wall
            // would lie flatter beyond it.
            let (from, to) = limits(-30.0, 12.0);
            near(hand(sign * 11.8, sign * 15.0, from, to), sign * 12.0);
            let (from, to) = limits(-30.0, 12.4);
            near(hand(sign * 12.4, sign * 15.0, from, to), sign * 12.0);
            // Away from level as well, where the steepest slope asks for so much at least.
            let (from, to) = limits(11.6, 30.0);
            near(hand(sign * 11.6, sign * 9.0, from, to), sign * 12.0);
            // With no step allowed the best stays.
            let (from, to) = limits(12.2, 12.4);
            near(hand(sign * 12.3, sign * 15.0, from, to), sign * 12.3);
        }
        // Level is told without a sign.
        assert!(hand(-0.2, -0.2, -30.0, 30.0).is_sign_positive());
    }
}
