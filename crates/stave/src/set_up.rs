//! What a person sets at the machine before a run, as its program and its messages say it.

use std::io::Write;

use stave_rig::{FocusAt, Header};
use stave_setup::{FocusMode, Setup};
use stave_toolpath::number::{fixed, padded};
use stave_write::gcode::Writer;

use crate::error::Error;
use crate::flat_place::Index;

/// What stands for a place to focus at, and for its turn, until they are known; they take its
/// place, as many bytes.
const UNKNOWN: &str = "----.-";

/// What a person at the machine is to set, one line: tilt, where to focus, the zero, where rollers
/// touch, and what is fitted. Where it is not known yet where to focus, [`focus_words`] keep room.
///
/// ```
/// # let blank = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
/// # let machine = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
/// #     [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n";
/// use stave::{FocusAt, Setup, set_up_line, setup};
/// let blank = setup::read_blank(blank, "can.toml")?;
/// let job = setup::read_job("tilt = -5\n[place]\nat = 70", "job.toml")?;
/// let setup = Setup::new(blank, setup::read_machine(machine, "bench.toml")?, job)?;
/// assert_eq!(
///     set_up_line(&setup, Some(FocusAt { at_mm: 44.61, turn_rad: None })),
///     "set: tilt -5 deg, focus at   44.6 mm, zero at 70 mm turn 0 deg"
/// );
/// # Ok::<(), stave::setup::Faults>(())
/// ```
#[must_use]
pub fn set_up_line(setup: &Setup, focus_at: Option<FocusAt>) -> String {
    let job = &setup.job;
    let number = |value: f64, decimals: u32| fixed(value + 0.0, decimals);
    let focus = focus_words(setup, focus_at);
    let follows = if job.focus == FocusMode::Follow { " (Z follows from there)" } else { "" };
    let zero_at = number(job.zero.at_mm, 3);
    let mut line = match setup.facet.as_ref().zip(Index::of_setup(setup)) {
        Some((on, index)) => format!(
            "set: flat place {}, which {} turns up and a clamp holds there, \
             {focus}{follows}, zero at {zero_at} mm in its middle",
            on.facet.name,
            index.word_text()
        ),
        None => format!(
            "set: tilt {} deg, {focus}{follows}, zero at {zero_at} mm turn {} deg",
            number(job.tilt_rad.to_degrees(), 3),
            number(job.zero.turn_rad.to_degrees(), 3),
        ),
    };
    if let Some(rollers) = rollers_touch(setup.contact_at_mm()) {
        line.push_str(&format!(", {rollers}"));
    }
    if let Some(lens) = &job.lens {
        line.push_str(&format!(", lens {}", lens.name));
    }
    if let Some(nozzle) = &job.nozzle {
        line.push_str(&format!(", nozzle {}", nozzle.name));
    }
    line
}

/// The same as a sentence to be told: the comment keeps room for any figure.
#[must_use]
pub fn set_up_sentence(setup: &Setup, focus_at: FocusAt) -> String {
    let line = set_up_line(setup, Some(focus_at));
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Where rollers touch the work, mm along the axis, in words; `None` for a chuck.
pub(crate) fn rollers_touch(at_mm: Option<f64>) -> Option<String> {
    at_mm.map(|at_mm| format!("rollers touching at {} mm", fixed(at_mm + 0.0, 3)))
}

/// Puts the place to focus at into the head of a finished program, if it has room for it, and says
/// what is to be set.
pub(crate) fn focus_known(program: &mut [u8], setup: &Setup, focus_at: FocusAt) -> String {
    put(program, &focus_words(setup, None), &focus_words(setup, Some(focus_at)));
    set_up_sentence(setup, focus_at)
}

/// Puts `new` in the place of the first `old` of the head, as many bytes.
pub(crate) fn put(program: &mut [u8], old: &str, new: &str) {
    const HEAD_BYTES: usize = 4096;
    let head = program.get(..HEAD_BYTES.min(program.len())).unwrap_or_default();
    let found = head.windows(old.len()).position(|part| part == old.as_bytes());
    if let Some(place) = found.and_then(|at| program.get_mut(at..at + new.len())) {
        place.copy_from_slice(new.as_bytes());
    }
}

/// Where to focus, as the set-up line has it: mm and degrees to a tenth, and as many bytes where it
/// is not known yet. On ware that is not round or does not run true it matters at which turn.
#[must_use]
pub fn focus_words(setup: &Setup, focus_at: Option<FocusAt>) -> String {
    let field = |value: f64| format!("{:>6}", padded(value + 0.0, 1));
    let field = |value: Option<f64>| value.map_or_else(|| UNKNOWN.to_owned(), field);
    let mut words = format!("focus at {} mm", field(focus_at.map(|place| place.at_mm)));
    if !setup.blank.running.is_true() {
        let turn_deg = focus_at.map(|place| place.turn_deg().unwrap_or_default());
        words.push_str(&format!(" turn {} deg", field(turn_deg)));
    }
    words
}

/// Line 1, the cautions, what to set, the modes; of a flat place the turn to it.
pub(crate) fn write_head<W: Write>(
    writer: &mut Writer<W>,
    setup: &Setup,
    header: &Header,
) -> Result<(), Error> {
    let zero = (setup.job.zero.at_mm, setup.job.zero.turn_rad);
    let line = set_up_line(setup, FocusAt::asked(setup, setup.job.focus, zero));
    writer.head(header, Some(&line))?;
    if let Some(index) = Index::of_setup(setup) {
        for line in index.lines() {
            writer.line(line.as_bytes())?;
        }
    }
    Ok(())
}
