//! Burning with light that comes late: power is asked for where the machine stands so much before
//! its place, and the speed stays that of the wall under the machine.

use stave_rig::{Misfit, Z};
use stave_toolpath::StepSink;
use stave_wall::{Laid, Section, WallShape};

use super::burn::{AreaHow, Burning, spot};
use super::scan::Way;
use crate::drive::{Drive, How};
use crate::emit::Spot;
use crate::halt::Halt;

/// So near to a station is at it, mm.
const AT_MM: f64 = 1e-7;

/// A place that burns, and where the machine stands when the word for it comes: as much earlier as
/// the light is late.
#[derive(Clone, Copy)]
pub(super) struct Lit {
    pub(super) laid: Laid,
    pub(super) stands: Spot,
}

/// An end of a part of a line that burns with so much of the power, and where the machine stands
/// for it; at a station the wall is that of `span`, if given. `beside` is the part's other end.
///
/// The machine goes over what lies between place and word at the speed of that part. Past the
/// wall's ends it goes on, up to that of its axis.
#[inline]
pub(super) fn lit(
    drive: &Drive<'_>,
    how: &AreaHow,
    line: &Burning,
    ((at_mm, beside), share): ((f64, f64), f64),
    span: Option<usize>,
) -> Result<Lit, Misfit> {
    let there = spot(drive, how, line.across, at_mm, span)?;
    let laid = there.laid;
    let lag = &drive.emit.setup.machine.lag;
    if lag.is_none() {
        return Ok(Lit { laid, stands: there });
    }
    let beside = spot(drive, how, line.across, beside, span)?.laid;
    let mut speed = axis_speed(drive, how, &laid, &beside);
    if how.how.even {
        // More than full power is never asked for: the burn goes slower instead.
        let radius_mm = 0.5 * (laid.section.radius_mm + beside.section.radius_mm);
        let power_s = how.how.power_s * share * how.spacing_ratio(radius_mm);
        let full_power_s = drive.emit.setup.machine.controller.full_power_s;
        speed = speed.min(how.how.speed_mm_per_s * full_power_s / power_s);
    }
    let (rig, late_mm) = (&drive.emit.rig, line.sign * lag.at_s(speed) * speed);
    let earlier = match how.runner.way {
        // As far as the axis goes meanwhile, whatever wall lies there.
        Way::Along => {
            let rate = rate(drive, how, &laid, &beside);
            rig.s_of_rail(rig.along_mm(&laid.section) - rate * late_mm, &mut 0)
        }
        way @ Way::Around { .. } => at_mm - late_mm / way.wall_mm(laid.section.radius_mm),
    };
    let mut stands = spot(drive, how, line.across, earlier, None)?;
    drive.keep_within(&there, &how.runner, &mut stands);
    Ok(Lit { laid, stands })
}

/// A place as it is come to from `from` on the same line: where what lies ahead goes faster, its
/// word is due sooner, and within a little way before one that came already. No line is gone back
/// on.
#[inline]
pub(super) fn onward(
    drive: &Drive<'_>,
    how: &AreaHow,
    line: &Burning,
    to: Lit,
    from: &Spot,
) -> Lit {
    if drive.emit.setup.machine.lag.is_none() {
        return to;
    }
    let (rig, runner) = (&drive.emit.rig, &how.runner);
    let ahead = line.sign * (runner.stands(rig, &to.stands) - runner.stands(rig, from));
    if ahead < 0.0 { Lit { stands: *from, ..to } } else { to }
}

/// Way of the axis for a mm of a part of a line.
fn rate(drive: &Drive<'_>, how: &AreaHow, a: &Laid, b: &Laid) -> f64 {
    let (rig, wall_mm) = (&drive.emit.rig, (a.s_mm - b.s_mm).abs());
    if how.runner.way != Way::Along || wall_mm < AT_MM {
        return how.runner.rate(rig, &a.section);
    }
    (rig.along_mm(&a.section) - rig.along_mm(&b.section)).abs() / wall_mm
}

/// How fast a part of a line goes on the wall, mm/s: as asked, or as its axis and a focus that
/// follows can.
fn axis_speed(drive: &Drive<'_>, how: &AreaHow, a: &Laid, b: &Laid) -> f64 {
    let (rig, asked) = (&drive.emit.rig, how.how.speed_mm_per_s);
    let speed = asked.min(how.runner.limit / rate(drive, how, a, b));
    if how.runner.way != Way::Along || !drive.emit.focus.follows() {
        return speed;
    }
    let (wall_mm, limit) = ((a.s_mm - b.s_mm).abs(), rig.limits(Z).speed);
    if wall_mm < AT_MM {
        return speed.min(limit / rig.crest.height_rate(&a.section).abs());
    }
    let rise_mm = (rig.crest.height_mm(&a.section) - rig.crest.height_mm(&b.section)).abs();
    speed.min(limit * wall_mm / rise_mm)
}

/// Burns a part of a line, over which the wall changes by little, from where the machine stands for
/// `start`; its light falls from `from` to `to`. Where a station lies between the words and the
/// light, power is that of the wall under the light, and speed that of the wall under the machine.
#[inline]
pub(super) fn burn_part<S: StepSink>(
    drive: &mut Drive<'_>,
    (start, from, to): (&Lit, &Laid, &Lit),
    how: &AreaHow,
    with: &How,
    stray: f64,
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let mean = |a: &Section, b: &Section| 0.5 * (a.radius_mm + b.radius_mm);
    let ratio = how.spacing_ratio(mean(&from.section, &to.laid.section));
    let is_late = !drive.emit.setup.machine.lag.is_none();
    let wall = drive.emit.rig.wall;
    if !is_late || how.runner.way != Way::Along || wall.shape() != WallShape::Straight {
        return drive.burn((from, &to.laid), &to.stands, with, ratio, (1.0, stray), sink);
    }
    let (begin, end) = (start.stands.laid.s_mm, to.stands.laid.s_mm);
    let (low, high) = (begin.min(end), begin.max(end));
    let stations = wall.span_ends_mm().iter().copied();
    let mut cuts: Vec<f64> =
        stations.filter(|s_mm| *s_mm > low + AT_MM && *s_mm < high - AT_MM).collect();
    if begin > end {
        cuts.reverse();
    }
    cuts.push(end);
    let lit_speed = axis_speed(drive, how, from, &to.laid);
    let turn_rad = to.stands.laid.turn_rad;
    let mut here = begin;
    for (nth, next) in cuts.iter().enumerate() {
        let middle = 0.5 * (here + next);
        let on_wall = (0.0..wall.length_mm()).contains(&middle);
        let span = on_wall.then(|| wall.span_of(middle, 0));
        let a = drive.spot(here, turn_rad, span)?.laid;
        let mut there = drive.spot(*next, turn_rad, span)?;
        if nth + 1 == cuts.len() {
            there.words = to.stands.words;
        }
        // Dose goes by the speed at which the light falls.
        let slowed = lit_speed / axis_speed(drive, how, &a, &there.laid);
        let ratio = if with.even { ratio * slowed } else { ratio };
        let b = there.laid;
        drive.burn((&a, &b), &there, with, ratio, (1.0, stray), sink)?;
        here = *next;
    }
    Ok(())
}
