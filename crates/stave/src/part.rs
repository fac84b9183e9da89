//! Ware that takes several set-ups: which part of what burns each is for.

use std::f64::consts::FRAC_PI_2;
use std::io::{self, Write};

use stave_check::Code;
use stave_rig::{FocusAt, SetUp};
use stave_setup::{FocusMode, Setup};
use stave_toolpath::number::fixed;

use crate::error::Error;
use crate::estimate::estimate;
use crate::level::{LevelParts, level_parts};
use crate::report::WrapReport;
use crate::run::INPUT_WORDS;
use crate::source::{Options, Source};
use crate::wrap::wrap;

/// Ends closer together than this are one place, mm.
const SAME_PLACE_MM: f64 = 1e-3;

/// The setup for one of the fewest parts that what burns is divided into, counted from 1 along the
/// axis: its tilt, its focus, and its stretch of the wall, outside which nothing burns. What lies
/// on the level line between two parts is burned by the second.
///
/// The art is laid once to see where it burns; the parts are those of [`level_parts`] for that
/// stretch and the lens fitted.
///
/// # Errors
/// As [`wrap`] and [`level_parts`]; a number that is none of theirs; a focus that follows the wall,
/// under which one set-up burns all.
///
/// ```
/// use stave::{Options, Setup, Source, setup, set_up_part};
/// # let blank = "station = [{ at = 0, diameter = 60 }, { at = 40, diameter = 60 },
/// #     { at = 80, diameter = 70 }]";
/// # let machine = "x = { speed = 500, acceleration = 5000 }
/// # y = { speed = 500, acceleration = 3000 }
/// # rotary = { word = 'A', units_per_turn = 360, speed = 360, acceleration = 2000 }
/// # lens = [{ name = 'short', focal_length = 40, depth_of_focus = 0.5 }]";
/// let blank = setup::read_blank(blank, "can.toml")?;
/// let machine = setup::read_machine(machine, "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::JobFile::default())?;
/// let program = || Source::program(&b"G21 G90\nG0 X5 Y0\nM3 S500\nG1 X75 F600\nM5\nM2\n"[..]);
/// let (upper, parts) = set_up_part(program(), &setup, &Options::default(), 2)?;
/// assert_eq!(parts.parts.len(), 2);
/// assert!(upper.job.tilt_rad < 0.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn set_up_part(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
    number: usize,
) -> Result<(Setup, LevelParts), Error> {
    let parts = parts_of(source, setup, options)?;
    match part_of(setup, &parts, number) {
        Some(own) => Ok((own, parts)),
        None => {
            let count = parts.parts.len();
            let allowed = format!(
                "{number} is given, but what burns, from {} to {} mm, takes {count} {}",
                fixed(parts.parts.first().map_or(0.0, |part| part.from), 2),
                fixed(parts.parts.last().map_or(0.0, |part| part.to), 2),
                if count == 1 { "set-up: the number must be 1" } else { "set-ups, counted from 1" }
            );
            Err(Error::Value { option: "part", allowed })
        }
    }
}

/// The fewest set-ups for what burns.
fn parts_of(source: Source<'_>, setup: &Setup, options: &Options) -> Result<LevelParts, Error> {
    let refused = |allowed: &str| Error::Value { option: "part", allowed: allowed.to_owned() };
    if setup.job.focus == FocusMode::Follow {
        return Err(refused("the focus follows the wall, so that one set-up burns all of it"));
    }
    if setup.facet.is_some() {
        return Err(refused("a flat place is burned in one set-up"));
    }
    // What burns hangs neither on the tilt nor on what the judge would say of one set-up for all.
    let mut anyhow = setup.clone();
    anyhow.machine.controller.steepest_rad = FRAC_PI_2;
    let allowing = Options { allow: Code::ALL.into_iter().collect(), ..options.clone() };
    let report = wrap(source, io::sink(), &anyhow, &allowing)?;
    let wall_mm = setup.blank.wall.at_range_mm();
    let ends = report.at_min.zip(report.at_max);
    let (from, to) = ends.unwrap_or(wall_mm);
    // A single level line is a stretch too.
    let short = to - from < SAME_PLACE_MM;
    let (from, to) = if short {
        ((from - SAME_PLACE_MM).max(wall_mm.0), (to + SAME_PLACE_MM).min(wall_mm.1))
    } else {
        (from.max(wall_mm.0), to.min(wall_mm.1))
    };
    let lens = setup.job.lens.as_ref().map(|lens| lens.name.as_str());
    level_parts(&setup.blank, &setup.machine, lens, Some(from), Some(to))
}

/// The setup for one of the parts, counted from 1; `None` for none of theirs.
fn part_of(setup: &Setup, parts: &LevelParts, number: usize) -> Option<Setup> {
    let count = parts.parts.len();
    let part = parts.parts.get(number.checked_sub(1)?)?;
    let mut own = setup.clone();
    own.job.tilt_rad = part.tilt_deg.to_radians();
    own.job.focus_at_mm = Some(part.focus_at);
    own.job.focus_turn_rad = part.focus_turn_deg.map(f64::to_radians);
    own.job.part_at_mm =
        [Some(part.from).filter(|_| number > 1), Some(part.to).filter(|_| number < count)];
    Some(own)
}

/// Lays and writes what takes several set-ups as one program: part by part, M0 between them, and
/// before each a comment that says what to set. `open` opens the source anew for every part.
///
/// Every part is judged by itself. The program is held in memory and written when all of it is
/// known to fit.
///
/// # Errors
/// As [`wrap`] and [`set_up_part`].
///
/// ```
/// use stave::{Options, Setup, Source, setup, wrap_in_parts};
/// # let blank = "station = [{ at = 0, diameter = 60 }, { at = 40, diameter = 60 },
/// #     { at = 80, diameter = 70 }]";
/// # let machine = "x = { speed = 500, acceleration = 5000 }
/// # y = { speed = 500, acceleration = 3000 }
/// # rotary = { word = 'A', units_per_turn = 360, speed = 360, acceleration = 2000 }
/// # lens = [{ name = 'short', focal_length = 40, depth_of_focus = 0.5 }]";
/// let blank = setup::read_blank(blank, "can.toml")?;
/// let machine = setup::read_machine(machine, "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::JobFile::default())?;
/// let open = || Ok::<_, stave::Error>(Source::program(
///     &b"G21 G90\nG0 X5 Y0\nM3 S500\nG1 X75 F600\nM5\nM2\n"[..],
/// ));
/// let mut program = Vec::new();
/// let (_, _, parts) = wrap_in_parts(open, &mut program, &setup, &Options::default())?;
/// assert_eq!(parts.parts.len(), 2);
/// let program = String::from_utf8(program)?;
/// assert!(program.contains("\nM5\nM0\n(set-up 2 of 2: tilt -"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn wrap_in_parts<'s, W: Write, E: From<Error>>(
    mut open: impl FnMut() -> Result<Source<'s>, E>,
    mut output: W,
    setup: &Setup,
    options: &Options,
) -> Result<(WrapReport, Setup, LevelParts), E> {
    let parts = parts_of(open()?, setup, options)?;
    let count = parts.parts.len();
    let mut program = Vec::new();
    let mut reports = Vec::with_capacity(count);
    let mut first: Option<Setup> = None;
    for number in 1..=count {
        let Some(mut own) = part_of(setup, &parts, number) else { continue };
        let set_up = set_up_of(&own, number, count);
        if number == 1 && count > 1 {
            own.job.set_ups = Some(set_up.of);
        }
        let mut text = Vec::new();
        reports.push(wrap(open()?, &mut text, &own, options)?);
        if count == 1 {
            program = text;
        } else {
            join(&mut program, &text, &own, &set_up);
        }
        first.get_or_insert(own);
    }
    let first = first.unwrap_or_else(|| setup.clone());
    let mut report = all_of(reports);
    let timed = estimate(Source::program(&program[..]), &first, &Options::default())?;
    report.estimate = Some(timed);
    output.write_all(&program).and_then(|()| output.flush()).map_err(Error::Output)?;
    Ok((report, first, parts))
}

fn set_up_of(own: &Setup, number: usize, count: usize) -> SetUp {
    let whole = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    SetUp {
        number: whole(number),
        of: whole(count),
        tilt_rad: own.job.tilt_rad,
        focus_at: FocusAt {
            at_mm: own.job.focus_at_mm.unwrap_or_default(),
            turn_rad: own.job.focus_turn_rad,
        },
    }
}

/// Puts a part's program behind those before it: the head of the first, the ends of the last.
fn join(program: &mut Vec<u8>, part: &[u8], own: &Setup, set_up: &SetUp) {
    let lines: Vec<&[u8]> = part.split_inclusive(|byte| *byte == b'\n').collect();
    // The head ends with the beam off, the first line that is neither a comment nor the modes.
    let head = lines.iter().position(|line| line.trim_ascii() == b"M5").map_or(0, |at| at + 1);
    let (head, body) = lines.split_at(head.min(lines.len()));
    if set_up.number == 1 {
        program.extend(head.concat());
    } else {
        program.extend(b"M0\n");
    }
    let zero = own.job.zero;
    let words = format!(
        "{}, zero again at {} mm turn {} deg",
        set_up.comment(),
        fixed(zero.at_mm + 0.0, 3),
        fixed(zero.turn_rad.to_degrees() + 0.0, 3)
    );
    let words = if set_up.number == 1 { set_up.comment() } else { words };
    program.extend(format!("({words})\n").into_bytes());
    let is_end = |line: &&&[u8]| {
        let line = line.trim_ascii();
        line == b"M2" || line == b"M30" || line.starts_with(format!("({INPUT_WORDS}").as_bytes())
    };
    let is_last = set_up.number == set_up.of;
    let kept = body.iter().filter(|line| is_last || !is_end(line)).filter(|line| {
        // What came with the input and looks like a set-up of ours is none.
        let inside = line.trim_ascii().strip_prefix(b"(");
        let inside = inside.and_then(|line| line.strip_suffix(b")"));
        inside.is_none_or(|inside| SetUp::of_comment(inside).is_none())
    });
    kept.for_each(|line| program.extend(*line));
}

/// What several parts come to as one.
fn all_of(reports: Vec<WrapReport>) -> WrapReport {
    let least = |a: Option<f64>, b: Option<f64>| a.into_iter().chain(b).reduce(f64::min);
    let most = |a: Option<f64>, b: Option<f64>| a.into_iter().chain(b).reduce(f64::max);
    let both = |mut all: WrapReport, next: WrapReport| {
        all.moves_out += next.moves_out;
        all.at_min = least(all.at_min, next.at_min);
        all.at_max = most(all.at_max, next.at_max);
        all.turn_min_deg = least(all.turn_min_deg, next.turn_min_deg);
        all.turn_max_deg = most(all.turn_max_deg, next.turn_max_deg);
        all.overlap_deg = all.overlap_deg.max(next.overlap_deg);
        all.slowed.along += next.slowed.along;
        all.slowed.rotary += next.slowed.rotary;
        all.slowed.z += next.slowed.z;
        all.slowed.power += next.slowed.power;
        all.rotary_speed_max = all.rotary_speed_max.max(next.rotary_speed_max);
        all.chord_error_max_mm = all.chord_error_max_mm.max(next.chord_error_max_mm);
        all.nominal_s += next.nominal_s;
        all.at_feeds_s += next.at_feeds_s;
        all.burn_mm += next.burn_mm;
        // What one leaves to the others is not masked.
        all.masked_mm = all.masked_mm.min(next.masked_mm);
        for (own, next) in all.pieces.iter_mut().zip(next.pieces) {
            own.at_min = least(own.at_min, next.at_min);
            own.at_max = most(own.at_max, next.at_max);
            own.turn_min_deg = least(own.turn_min_deg, next.turn_min_deg);
            own.turn_max_deg = most(own.turn_max_deg, next.turn_max_deg);
            own.scale_min = least(own.scale_min, next.scale_min);
            own.scale_max = most(own.scale_max, next.scale_max);
            own.lopsided = most(own.lopsided, next.lopsided);
            own.omega_max_deg = most(own.omega_max_deg, next.omega_max_deg);
        }
        for (own, next) in all.operations.iter_mut().zip(next.operations) {
            own.lines = own.lines.max(next.lines);
            own.area_mm2 = own.area_mm2.map(|area| area + next.area_mm2.unwrap_or(0.0));
            own.paths += next.paths;
            own.burn_mm += next.burn_mm;
            own.travel_drawn_mm += next.travel_drawn_mm;
            own.travel_ordered_mm += next.travel_ordered_mm;
        }
        for finding in next.findings {
            if !all.findings.contains(&finding) {
                all.findings.push(finding);
            }
        }
        for warning in next.warnings {
            if !all.warnings.contains(&warning) {
                all.warnings.push(warning);
            }
        }
        all
    };
    reports.into_iter().reduce(both).unwrap_or_default()
}
