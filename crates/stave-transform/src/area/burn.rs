//! Burning scan lines: run-up, burns in steps of power, gaps, run-out.

use stave_wall::{Laid, Lay, WallShape};

use super::block::Block;
use super::lap::Overlap;
use super::late::{Lit, burn_part, lit, onward};
use super::runner::{Runner, Step};
use super::scan::{Grid, Line, Run, Way};
use crate::drive::{Drive, How};
use crate::emit::Spot;
use crate::halt::Halt;
use crate::shade::{Shader, Stretch};
use stave_rig::Misfit;
use stave_toolpath::StepSink;

/// The power of a burn changes by at most this share of itself within one move.
const POWER_STEP: f64 = 0.01;
/// The speed on the wall strays by at most this share within one move.
const STRAY: f64 = 0.01;
/// A stretch no longer than this is no longer than a few pixels, over which the wall is straight
/// but for its stations, mm.
const SHORT_MM: f64 = 0.2;
/// A stretch of a smooth wall is halved no more often than this.
const MOST_HALVINGS: u32 = 12;
/// A gap is crossed faster than burns go where that saves more than this, s: about what a
/// controller takes for a line of program, which the F word makes longer (common practice, no
/// source).
const LEAST_SAVED_S: f64 = 1e-3;

/// How the lines of an operation are burned.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AreaHow {
    pub(crate) how: How,
    pub(crate) grid: Grid,
    /// How far apart lines were asked to lie, mm.
    pub(crate) asked_mm: f64,
    /// The axis that runs under them.
    pub(crate) runner: Runner,
    /// Runs nearer than this are one.
    pub(crate) least_mm: f64,
    /// Whether every line goes the same way.
    pub(crate) one_way: bool,
    /// How lines that go all the way around run on.
    pub(crate) overlap: Option<Overlap>,
    /// How far the edges stray from those of the drawing at the most, mm on the wall.
    pub(crate) strayed_mm: f64,
}

impl AreaHow {
    /// What lines lie apart where the wall has a radius, over the spacing asked.
    pub(super) fn spacing_ratio(&self, radius_mm: f64) -> f64 {
        self.grid.spacing_mm(radius_mm) / self.asked_mm
    }
}

/// How strongly the places of lines burn, and the lays by which that is known.
pub(crate) struct Shaded<'a> {
    pub(crate) shader: &'a Shader,
    pub(crate) lays: &'a [Lay],
}

/// A line as it is burned: its stretches in the order of burning.
#[derive(Default)]
pub(super) struct Burning {
    line: i64,
    pub(super) across: f64,
    /// +1 where places along it grow.
    pub(super) sign: f64,
    burns: Vec<Stretch>,
}

/// Burns a block: line by line, there and back. `upward` begins at its first line, `forward` along
/// it as places along it grow.
pub(crate) fn block<S: StepSink>(
    drive: &mut Drive<'_>,
    block: &Block,
    how: &AreaHow,
    shaded: Option<&Shaded<'_>>,
    (upward, forward): (bool, bool),
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let count = block.lines.len();
    let nth = |k: usize| {
        let k = if upward { Some(k) } else { count.checked_sub(1 + k) };
        k.and_then(|k| block.lines.get(k))
    };
    let (mut this, mut next) = (Burning::default(), Burning::default());
    let mut turned = false;
    for k in 0..count {
        if k == 0
            && let Some(line) = nth(k)
        {
            prepare(drive, line, how, shaded, forward, &mut this);
        }
        if let Some(line) = nth(k + 1) {
            let forward = if how.one_way { forward } else { forward == (k % 2 == 1) };
            prepare(drive, line, how, shaded, forward, &mut next);
        } else {
            next.burns.clear();
        }
        turned = burn_line(drive, &this, &next, how, turned, sink)?;
        std::mem::swap(&mut this, &mut next);
    }
    Ok(())
}

/// What burns of a line, in the order of burning.
fn prepare(
    drive: &Drive<'_>,
    line: &Line,
    how: &AreaHow,
    shaded: Option<&Shaded<'_>>,
    forward: bool,
    into: &mut Burning,
) {
    let burns = &mut into.burns;
    burns.clear();
    match shaded {
        None => joined(&line.runs, how.least_mm, burns),
        Some(Shaded { shader, lays }) => {
            for run in &line.runs {
                let first = line.line - line.after;
                shader.stretches(first, run, drive.emit.rig.wall, lays, burns);
            }
        }
    }
    burns.iter_mut().for_each(|burn| burn.share *= line.share);
    if let Some(overlap) = &how.overlap {
        overlap.run_on(burns, how.least_mm);
    }
    (into.line, into.across) = (line.line, how.grid.burned(line.line));
    into.sign = if forward { 1.0 } else { -1.0 };
    if !forward {
        into.burns.reverse();
        for burn in &mut into.burns {
            std::mem::swap(&mut burn.from_mm, &mut burn.to_mm);
        }
    }
}

/// Burns a line, and runs out, or turns where the next one begins; whether it turned. `turned` says
/// that the machine stands where this line's run-up begins.
fn burn_line<S: StepSink>(
    drive: &mut Drive<'_>,
    this: &Burning,
    next: &Burning,
    how: &AreaHow,
    turned: bool,
    sink: &mut S,
) -> Result<bool, Halt<S::Error>> {
    let sign = this.sign;
    // Where the machine has come to, and which place along the line that is.
    let mut before: Option<(Lit, f64)> = None;
    for stretch in &this.burns {
        let (from, to) = (stretch.from_mm, stretch.to_mm);
        let span = span_ahead(drive, how, from, to);
        let lit = match before {
            // Where one stretch goes on from another on the same span the place is known.
            Some((end, at_mm))
                if (at_mm - from).abs() < 1e-9 && span.is_none_or(|span| span == end.laid.span) =>
            {
                end
            }
            _ => {
                let beside = first_part(drive, how, from, to);
                let place = lit(drive, how, this, ((from, beside), stretch.share), span)?;
                before.map_or(place, |(end, _)| onward(drive, how, this, place, &end.stands))
            }
        };
        let start = &lit.stands;
        match before {
            None if turned => drive.dark(start, speed(drive, start, how), &how.runner, sink)?,
            None => run_up(drive, start, sign, how, sink)?,
            Some((_, at_mm)) if (at_mm - from).abs() < how.least_mm => {}
            Some((end, _)) => gap(drive, &end.stands, start, sign, how, sink)?,
        }
        before = Some((burn(drive, &lit, stretch, this, how, sink)?, to));
    }
    let before = before.map(|(end, _)| end.stands);
    let mut turns = false;
    if let Some(end) = before {
        turns = turn(drive, &end, this, next, how, sink)?;
        if !turns {
            run_out(drive, &end, sign, how, sink)?;
        }
    }
    drive.emit.end_line();
    Ok(turns)
}

/// From the end of a line to where the next one's run-up begins in one dark move, the step across
/// made on the way; false where that is not to be had, or not sooner: then nothing was done.
///
/// Both lines turn at the farther of the two places. Play, and a focus that follows along the axis,
/// want moves of their own, and the burn must keep its speed to its end.
fn turn<S: StepSink>(
    drive: &mut Drive<'_>,
    end: &Spot,
    this: &Burning,
    next: &Burning,
    how: &AreaHow,
    sink: &mut S,
) -> Result<bool, Halt<S::Error>> {
    let runner = &how.runner;
    let on_the_way = drive.turns_on_the_way(runner.way);
    let Some(first) = next.burns.first().filter(|_| on_the_way) else { return Ok(false) };
    if how.one_way || next.line.abs_diff(this.line) != 1 {
        return Ok(false);
    }
    let span = span_ahead(drive, how, first.from_mm, first.to_mm);
    let beside = first_part(drive, how, first.from_mm, first.to_mm);
    let start = lit(drive, how, next, ((first.from_mm, beside), first.share), span)?.stands;
    let (out_speed, in_speed) = (speed(drive, end, how), speed(drive, &start, how));
    let (out_way, in_way) = (runner.run_up(out_speed), runner.run_up(in_speed));
    let rig = &drive.emit.rig;
    let ahead = this.sign * (runner.stands(rig, &start) - runner.stands(rig, end));
    // How much farther the one run-up begins than the other ends.
    let more = ahead + in_way - out_way;
    let steps = [runner.step(rig, how.grid.step), drive.z_step(end, &start)];
    let step_s = steps.iter().map(Step::takes_s).fold(0.0, f64::max);
    let separate_s = runner.jump_s(more.abs()).max(step_s);
    let corner_mm = drive.emit.setup.machine.controller.corner_tolerance;
    let too_slow = steps.iter().any(|step| out_speed < runner.least_speed(step, corner_mm));
    if too_slow
        || step_s > 2.0 * out_way / out_speed
        || more.abs() / in_speed.min(out_speed) >= separate_s
    {
        return Ok(false);
    }
    let short = drive.short_run_ups;
    let out = drive.runway(end, this.sign, out_way + more.max(0.0), runner)?;
    let (Some(out), None) = (out.first(), out.get(1)) else { return Ok(false) };
    if drive.short_run_ups != short {
        // Where the axis ends, each has what room there is.
        drive.short_run_ups = short;
        return Ok(false);
    }
    let there = spot_across(out, &start, runner.way);
    drive.dark(&there, out_speed, runner, sink)?;
    Ok(true)
}

/// Where a line's way out ends, on the line of another place.
fn spot_across(out: &Spot, on: &Spot, way: Way) -> Spot {
    let (mut laid, mut words) = (out.laid, on.words);
    match way {
        Way::Along => {
            laid.turn_rad = on.laid.turn_rad;
            words.along = out.words.along;
        }
        Way::Around { .. } => {
            laid = stave_wall::Laid { turn_rad: out.laid.turn_rad, ..on.laid };
            words.rotary = out.words.rotary;
        }
    }
    Spot { laid, words, program_z_mm: on.program_z_mm }
}

/// Where a place of a line is for the machine.
#[inline]
pub(super) fn spot(
    drive: &Drive<'_>,
    how: &AreaHow,
    across: f64,
    at_mm: f64,
    span: Option<usize>,
) -> Result<Spot, Misfit> {
    let (s_mm, turn_rad) = how.runner.way.to_wall(across, at_mm);
    drive.spot(s_mm, turn_rad, span)
}

/// Burns from end to end: what touches is one, whatever piece it is of.
fn joined(runs: &[Run], least_mm: f64, burns: &mut Vec<Stretch>) {
    for run in runs {
        match burns.last_mut() {
            Some(last) if run.from_mm - last.to_mm < least_mm => last.to_mm = run.to_mm,
            _ => burns.push(Stretch { from_mm: run.from_mm, to_mm: run.to_mm, share: 1.0 }),
        }
    }
}

/// The span in which a burn along the axis that begins at `from` goes on toward `to`.
fn span_ahead(drive: &Drive<'_>, how: &AreaHow, from: f64, to: f64) -> Option<usize> {
    let wall = drive.emit.rig.wall;
    (wall.shape() == WallShape::Straight && how.runner.way == Way::Along)
        .then(|| wall.span_of(from + 1e-6 * (to - from), 0))
}

/// Where the first part of a burn ends: with a focus that follows, its speed is another than that
/// of the next.
fn first_part(drive: &Drive<'_>, how: &AreaHow, from: f64, to: f64) -> f64 {
    let follows = how.runner.way == Way::Along && drive.emit.focus.follows();
    if !follows || drive.emit.setup.machine.lag.is_none() {
        return to;
    }
    stretches(drive, from, to).first().map_or(to, |part| part.1)
}

/// How fast the axis goes under a burn at a place, its own units per second.
fn speed(drive: &Drive<'_>, at: &Spot, how: &AreaHow) -> f64 {
    how.runner.speed(&drive.emit.rig, &at.laid.section, how.how.speed_mm_per_s)
}

fn run_up<S: StepSink>(
    drive: &mut Drive<'_>,
    start: &Spot,
    sign: f64,
    how: &AreaHow,
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let (runner, speed) = (&how.runner, speed(drive, start, how));
    let way = drive.runway(start, -sign, runner.run_up(speed), runner)?;
    for (k, spot) in way.iter().rev().enumerate() {
        if k == 0 { drive.travel(spot, sink)? } else { drive.dark(spot, speed, runner, sink)? }
    }
    if runner.way != Way::Along {
        drive.emit.begin_line(sign, sink)?;
    }
    drive.dark(start, speed, runner, sink)
}

fn run_out<S: StepSink>(
    drive: &mut Drive<'_>,
    end: &Spot,
    sign: f64,
    how: &AreaHow,
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let (runner, speed) = (&how.runner, speed(drive, end, how));
    for spot in drive.runway(end, sign, runner.run_up(speed), runner)? {
        drive.dark(&spot, speed, runner, sink)?;
    }
    Ok(())
}

/// From one burn to the next on the same line: dark, as fast as the axis gets between the burns'
/// speeds where that saves time worth a word; else at the burns' speed, or a travel with a run-out
/// and run-up where that is quicker.
fn gap<S: StepSink>(
    drive: &mut Drive<'_>,
    end: &Spot,
    start: &Spot,
    sign: f64,
    how: &AreaHow,
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let runner = &how.runner;
    let (out_speed, in_speed) = (speed(drive, end, how), speed(drive, start, how));
    let (out_way, in_way) = (runner.run_up(out_speed), runner.run_up(in_speed));
    let rig = &drive.emit.rig;
    let way = (runner.stands(rig, start) - runner.stands(rig, end)).abs();
    let between = way - out_way - in_way;
    let speed = out_speed.min(in_speed);
    if runner.way != Way::Along || !drive.emit.focus.follows() {
        let saves_s = way / speed - runner.cross_s(way, (out_speed, in_speed));
        if saves_s > LEAST_SAVED_S {
            let peak = runner.crossing_speed(way, (out_speed, in_speed));
            return drive.dark(start, peak, runner, sink);
        }
    }
    let by_jump = 2.0 * (out_way / out_speed + in_way / in_speed) + runner.jump_s(between.max(0.0));
    if between > 0.0 && by_jump < way / speed {
        run_out(drive, end, sign, how, sink)?;
        return run_up(drive, start, sign, how, sink);
    }
    cross(drive, end, start, speed, how, sink)
}

/// Dark from burn to burn; with driven focus along the crest.
fn cross<S: StepSink>(
    drive: &mut Drive<'_>,
    end: &Spot,
    start: &Spot,
    speed: f64,
    how: &AreaHow,
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let runner = &how.runner;
    if runner.way == Way::Along && drive.emit.focus.follows() {
        for (_, to, span, _) in stretches(drive, end.laid.s_mm, start.laid.s_mm) {
            let spot = drive.spot(to, end.laid.turn_rad, span)?;
            drive.dark(&spot, speed, runner, sink)?;
        }
        return Ok(());
    }
    drive.dark(start, speed, runner, sink)
}

/// Burns a stretch from `start`, where the machine stands; the place where it ends.
fn burn<S: StepSink>(
    drive: &mut Drive<'_>,
    start: &Lit,
    stretch: &Stretch,
    line: &Burning,
    how: &AreaHow,
    sink: &mut S,
) -> Result<Lit, Halt<S::Error>> {
    let with = How { power_s: how.how.power_s * stretch.share, ..how.how };
    let (from, to, share) = (stretch.from_mm, stretch.to_mm, stretch.share);
    if how.runner.way != Way::Along {
        // At one place of the wall nothing changes on the way.
        let end = lit(drive, how, line, ((to, from), share), None)?;
        let end = onward(drive, how, line, end, &start.stands);
        burn_part(drive, (start, &start.laid, &end), how, &with, 0.0, sink)?;
        return Ok(end);
    }
    if (to - start.laid.s_mm).abs() <= SHORT_MM && is_on_one_span(drive, &start.laid, to) {
        let straight = drive.emit.rig.wall.shape() == WallShape::Straight;
        let span = straight.then_some(start.laid.span);
        let end = lit(drive, how, line, ((to, from), share), span)?;
        let end = onward(drive, how, line, end, &start.stands);
        if let Some(stray) = short_stray(drive, &start.laid, &end.laid) {
            burn_part(drive, (start, &start.laid, &end), how, &with, stray, sink)?;
            return Ok(end);
        }
    }
    let mut last = *start;
    for (a, b, span, stray) in stretches(drive, from, to) {
        let from = drive.spot(a, line.across, span)?.laid;
        let there = lit(drive, how, line, ((b, a), share), span)?;
        let end = onward(drive, how, line, there, &last.stands);
        burn_part(drive, (&last, &from, &end), how, &with, stray, sink)?;
        last = end;
    }
    Ok(last)
}

/// Whether a stretch lies between two neighbouring stations.
fn is_on_one_span(drive: &Drive<'_>, start: &Laid, to: f64) -> bool {
    let (low, high) = (start.s_mm.min(to), start.s_mm.max(to));
    let ends = drive.emit.rig.wall.span_ends_mm();
    let (first, last) = (ends.get(start.span), ends.get(start.span + 1));
    first.is_none_or(|end| *end <= low + 1e-7) && last.is_none_or(|end| *end >= high - 1e-7)
}

/// By what share the speed on the wall strays within a stretch too short to be cut, a picture's
/// pixel; `None` where it is to be cut.
fn short_stray(drive: &Drive<'_>, start: &Laid, end: &Laid) -> Option<f64> {
    let radii = [start.section.radius_mm, end.section.radius_mm];
    let crest = &drive.emit.rig.crest;
    let rates = [crest.along_rate(&start.section), crest.along_rate(&end.section)];
    let unlike = |pair: [f64; 2]| (pair[0] - pair[1]).abs() / pair[0].min(pair[1]);
    let stray = unlike(rates);
    (unlike(radii) <= POWER_STEP && stray <= STRAY).then_some(stray)
}

/// A part of a line: from, to, on which span of a straight wall, and by what share the speed on the
/// wall strays within it.
type Part = (f64, f64, Option<usize>, f64);

/// A line along the axis from place to place, cut so that power, speed and (where it is driven)
/// focus change by no more than allowed within a part.
fn stretches(drive: &Drive<'_>, from: f64, to: f64) -> Vec<Part> {
    let wall = drive.emit.rig.wall;
    let mut cuts = vec![from];
    let (low, high) = (from.min(to), from.max(to));
    cuts.extend(
        wall.span_ends_mm().iter().copied().filter(|s| *s > low + 1e-7 && *s < high - 1e-7),
    );
    cuts.push(to);
    let straight = wall.shape() == WallShape::Straight;
    cuts.sort_by(f64::total_cmp);
    if from > to {
        cuts.reverse();
    }
    let mut out = Vec::with_capacity(cuts.len());
    for pair in cuts.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if straight {
            let span = wall.span_of(0.5 * (a + b), 0);
            let radii = [a, b].map(|s| wall.section_in(span, s).radius_mm);
            let change = (radii[1] - radii[0]).abs() / radii[0].min(radii[1]);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let parts = (change / POWER_STEP).ceil().clamp(1.0, 1e4) as u32;
            let at =
                |k: u32| if k == parts { b } else { a + (b - a) * f64::from(k) / f64::from(parts) };
            out.extend((0..parts).map(|k| (at(k), at(k + 1), Some(span), 0.0)));
        } else {
            halve(drive, a, b, MOST_HALVINGS, &mut out);
        }
    }
    out
}

fn halve(drive: &Drive<'_>, a: f64, b: f64, halvings: u32, out: &mut Vec<Part>) {
    let mut hint = 0;
    let (mut radii, mut rates) = ((f64::INFINITY, 0.0_f64), (f64::INFINITY, 0.0_f64));
    let mut heights = [0.0; 5];
    for (k, height) in heights.iter_mut().enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let section = drive.emit.rig.wall.section(a + (b - a) * k as f64 / 4.0, &mut hint);
        let rate = drive.emit.rig.crest.along_rate(&section);
        radii = (radii.0.min(section.radius_mm), radii.1.max(section.radius_mm));
        rates = (rates.0.min(rate), rates.1.max(rate));
        *height = drive.emit.rig.crest.height_mm(&section);
    }
    let bent =
        (heights[2] - 0.5 * (heights[0] + heights[4])).abs() > stave_rig::FOLLOW_TOLERANCE_MM;
    let uneven = radii.1 > radii.0 * (1.0 + POWER_STEP) || rates.1 > rates.0 * (1.0 + STRAY);
    if halvings > 0 && (b - a).abs() > 1e-3 && (uneven || (drive.emit.focus.follows() && bent)) {
        let middle = 0.5 * (a + b);
        halve(drive, a, middle, halvings - 1, out);
        halve(drive, middle, b, halvings - 1, out);
    } else {
        out.push((a, b, None, rates.1 / rates.0 - 1.0));
    }
}

/// Where a block begins and ends, burned so: length along the meridian, mm, and turn, rad.
pub(crate) fn ends(
    block: &Block,
    grid: &Grid,
    upward: bool,
    forward: bool,
) -> Option<[(f64, f64); 2]> {
    let (first, last) = (block.lines.first()?, block.lines.last()?);
    let (first, last) = if upward { (first, last) } else { (last, first) };
    let end_of = |line: &Line, high: bool| {
        let run = if high { line.runs.last() } else { line.runs.first() }?;
        let at_mm = if high { run.to_mm } else { run.from_mm };
        Some(grid.way.to_wall(grid.burned(line.line), at_mm))
    };
    // The last line goes the way of the first where their count is odd.
    let last_forward = forward == (block.lines.len() % 2 == 1);
    Some([end_of(first, !forward)?, end_of(last, last_forward)?])
}
