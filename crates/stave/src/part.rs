//! Ware that takes several set-ups: which part of what burns each is for.

use std::f64::consts::FRAC_PI_2;
use std::io;

use stave_check::Code;
use stave_setup::{FocusMode, Setup};

use crate::error::Error;
use crate::level::{LevelParts, level_parts};
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
    if setup.job.focus == FocusMode::Follow {
        let allowed = "the focus follows the wall, so that one set-up burns all of it".to_owned();
        return Err(Error::Value { option: "part", allowed });
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
    let parts = level_parts(&setup.blank, &setup.machine, lens, Some(from), Some(to))?;
    let count = parts.parts.len();
    let part = number.checked_sub(1).and_then(|index| parts.parts.get(index));
    let Some(part) = part else {
        let allowed = format!(
            "{number} is given, but what burns, from {} to {} mm, takes {count} {}",
            crate::number::fixed(from, 2),
            crate::number::fixed(to, 2),
            if count == 1 { "set-up: the number must be 1" } else { "set-ups, counted from 1" }
        );
        return Err(Error::Value { option: "part", allowed });
    };
    let mut own = setup.clone();
    own.job.tilt_rad = part.tilt_deg.to_radians();
    own.job.focus_at_mm = Some(part.focus_at);
    own.job.part_at_mm =
        [Some(part.from).filter(|_| number > 1), Some(part.to).filter(|_| number < count)];
    Ok((own, parts))
}
