//! Runs: programs as steps, and who looks at them.
//!
//! A flat program is laid and cut ([`Flat`]), a finished one read ([`Finished`]); either way it is
//! the same steps that are written, timed, judged and drawn.

mod both;
mod finished;
mod flat;
mod flat_burns;
mod footprint;
mod hashed;
mod held;
mod onlookers;
mod out;
mod own_names;
mod paced;
mod passing;
mod rescan;
mod sections;
mod set_ups;
mod stages;
#[cfg(test)]
mod tests;
mod whole;

pub(crate) use both::{Both, Nothing};
pub(crate) use finished::{Finished, Known};
pub(crate) use flat::{Flat, Misfits, NotedMisfit};
pub(crate) use flat_burns::{FlatBurns, TakesBurns};
pub(crate) use footprint::Footprint;
pub(crate) use hashed::{Hashed, INPUT_WORDS};
pub(crate) use held::Held;
pub(crate) use onlookers::{Onlookers, Seen, Times, of_starved};
pub(crate) use out::{Judged, Quiet, RunOut, Written};
pub(crate) use own_names::OwnNames;
pub(crate) use paced::Paced;
pub use passing::Pass;
pub(crate) use passing::{Passing, may_move};
pub(crate) use rescan::Rescan;
pub use rescan::ScanLines;
pub(crate) use sections::{REST, Sections};
pub(crate) use set_ups::RESUMED_WORDS;
pub(crate) use stages::{Staged, in_stages};
pub(crate) use whole::{cut_short, is_ours, says_broken_off};

use std::io::{self, Cursor, Read};

use stave_rig::{AXES, MadeFor, Rig};
use stave_setup::{JobAnchor, PlaceOf, Setup};
use stave_toolpath::{Place, Stand};
use stave_wall::Anchor;

use crate::error::{Error, SourceFault};

/// The most of a program that is looked at for what it was made for.
const HEAD_BYTES: u64 = 64 * 1024;

/// The anchor of a flat program.
///
/// # Errors
/// A stream has no pieces to be laid from, and no middle to be placed by.
pub(crate) fn program_anchor(setup: &Setup) -> Result<Anchor, Error> {
    if setup.job.place.of == PlaceOf::Art {
        return Err(Error::Setting(
            "place.of \"art\" needs art: where the middle of a program that streams lies is known \
             only at its end; leave it out, and place the program's X 0, Y 0"
                .into(),
        ));
    }
    match setup.job.anchor {
        None | Some(JobAnchor::Drawing) => Ok(Anchor::Drawing),
        Some(JobAnchor::Point { u_mm, v_mm }) => Ok(Anchor::Point { u_mm, v_mm }),
        Some(JobAnchor::Piece) => Err(Error::Setting(
            "anchor \"piece\" needs art: a program that streams has no pieces; use \"drawing\" or \
             a point"
                .into(),
        )),
    }
}

/// A program and what its head says it was made for.
///
/// # Errors
/// An input that cannot be read; a first line of ours that cannot be meant.
pub(crate) fn open<R: Read>(
    mut input: R,
    name: &str,
) -> Result<(Option<MadeFor>, impl Read + use<R>), Error> {
    let mut head = Vec::new();
    input.by_ref().take(HEAD_BYTES).read_to_end(&mut head).map_err(Error::Input)?;
    let made_for = MadeFor::of_head(&head)
        .transpose()
        .map_err(|message| Error::of_source(name, SourceFault::LineOne(message)))?;
    Ok((made_for, io::Read::chain(Cursor::new(head), input)))
}

/// Words between two stands, even in the words.
pub(crate) fn words_between(from: &Stand, to: &Stand, share: f64) -> [f64; AXES] {
    let mut words = from.words;
    for (word, end) in words.iter_mut().zip(&to.words) {
        *word += share * (end - *word);
    }
    words
}

/// A place of a move: even in the words, but for the rotary's play, which the work is behind by,
/// and for light that comes late.
pub(crate) fn place_between(
    rig: &Rig<'_>,
    (from, to): (&Stand, &Stand),
    share: f64,
    hint: &mut usize,
) -> Place {
    let words = words_between(from, to, share);
    let (Some(a), Some(b)) = (from.place, to.place) else { return rig.place(&words, hint) };
    let late_mm = |stand: &Stand, place: &Place| {
        let late_mm = rig.rail_of(place) - rig.rail_mm(&stand.words);
        // Less is the rounding of the words.
        if late_mm.abs() > 2.0 * rig.count { late_mm } else { 0.0 }
    };
    let (late, later) = (late_mm(from, &a), late_mm(to, &b));
    let rail_mm = rig.rail_mm(&words) + late + share * (later - late);
    rig.place_on(rail_mm, a.turn_rad + share * (b.turn_rad - a.turn_rad), hint)
}
