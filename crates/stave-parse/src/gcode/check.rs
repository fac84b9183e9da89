//! What a block means as a whole, before any of it is carried out: which motion takes the axis
//! words, and that every word has its use (3.4, 3.5).

use stave_toolpath::FeedMode;

use super::block::Block;
use super::code::{Code, GGroup, MGroup, whole};
use super::fault::Fault;
use super::modes::{Distance, Modes, Motion};
use super::parameters::FARTHEST;
use super::problem::Problem;
use super::words::{AXES, AXIS_LETTERS, OFFSETS, letters};

/// What a block that passed the checks will do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    /// The motion of the line, `None` where nothing moves.
    pub(super) motion: Option<Motion>,
    /// The motion mode after the line, where it names one.
    pub(super) mode: Option<Motion>,
    /// The non-modal G word that takes the axis words (or needs none).
    pub(super) non_modal: Option<Code>,
    /// True under G53.
    pub(super) machine: bool,
    /// The tool of G43 (its H word), where the line has one.
    pub(super) tool: Option<u32>,
}

const G4: Code = Code::g(40);
const G10: Code = Code::g(100);
const G28: Code = Code::g(280);
const G30: Code = Code::g(300);
const G43: Code = Code::g(430);
const G53: Code = Code::g(530);
const G64: Code = Code::g(640);
const G92: Code = Code::g(920);

/// Checks a block against the modes it meets.
pub(super) fn check(block: &Block, modes: &Modes, strict: bool) -> Result<Plan, Fault> {
    known(block, strict)?;
    let non_modal = block.g(GGroup::NonModal);
    let takes_axes = matches!(non_modal, Some(G10 | G28 | G30 | G92));
    let named = block.g(GGroup::Motion);
    let mode = named.map(motion_of);
    let axes = block.words.any(AXES);
    let motion = match mode {
        Some(Motion::None) => {
            if axes && !takes_axes {
                return Err(Fault::at(first_axis(block), Problem::AxisUnderG80));
            }
            None
        }
        Some(motion) => {
            if let (true, Some(first), Some(second)) = (takes_axes, non_modal, named) {
                return Err(Fault::at(
                    block.g_at(GGroup::NonModal),
                    Problem::BothUseAxes(first, second),
                ));
            }
            moves(block, motion, axes, strict)?
        }
        None if takes_axes => None,
        None if axes => {
            if modes.motion == Motion::None {
                return Err(Fault::at(first_axis(block), Problem::AxisUnderG80));
            }
            Some(modes.motion)
        }
        // A full circle with no axis word, its G word carried over.
        None if is_arc(modes.motion) && block.words.any(OFFSETS) && !strict => Some(modes.motion),
        None => None,
    };
    if non_modal == Some(G92) && !axes {
        return Err(Fault::at(block.g_at(GGroup::NonModal), Problem::NoAxisWord(G92)));
    }
    let machine = non_modal == Some(G53);
    if machine {
        let at = block.g_at(GGroup::NonModal);
        if !matches!(motion, Some(Motion::Travel | Motion::Straight)) {
            return Err(Fault::at(at, Problem::MachineNeedsStraight));
        }
        let incremental = match block.g(GGroup::Distance) {
            Some(code) => code == Code::g(910),
            None => modes.distance == Distance::Incremental,
        };
        if incremental {
            return Err(Fault::at(at, Problem::MachineIncremental));
        }
    }
    let tool = values(block, motion, strict)?;
    inverse_time(block, modes, motion)?;
    Ok(Plan { motion, mode, non_modal, machine, tool })
}

fn motion_of(code: Code) -> Motion {
    match code.tenths {
        0 => Motion::Travel,
        10 => Motion::Straight,
        20 => Motion::Clockwise,
        30 => Motion::CounterClockwise,
        _ => Motion::None,
    }
}

fn is_arc(motion: Motion) -> bool {
    matches!(motion, Motion::Clockwise | Motion::CounterClockwise)
}

/// The motion of a line that names its motion word.
fn moves(block: &Block, motion: Motion, axes: bool, strict: bool) -> Result<Option<Motion>, Fault> {
    if axes {
        return Ok(Some(motion));
    }
    if strict {
        let code = block.g(GGroup::Motion).unwrap_or(Code::g(0));
        return Err(Fault::at(block.g_at(GGroup::Motion), Problem::NoAxisWord(code)));
    }
    // Lenient: an arc with a centre and no axis word is a full circle; any other motion word alone
    // sets the mode.
    let circle = is_arc(motion) && block.words.any(OFFSETS | letters(b"R"));
    Ok(circle.then_some(motion))
}

/// Refuses words that are known, but cannot be laid on a wall.
fn known(block: &Block, strict: bool) -> Result<(), Fault> {
    for group in [GGroup::Motion, GGroup::Compensation, GGroup::ArcDistance] {
        let Some(code) = block.g(group) else { continue };
        let problem = match code.tenths {
            382 => Problem::Probing(code),
            810..=890 => Problem::CannedCycle(code),
            410 | 420 => Problem::Compensation(code),
            901 => Problem::AbsoluteArcs(code),
            911 if strict => Problem::ArcDistance,
            _ => continue,
        };
        return Err(Fault::at(block.g_at(group), problem));
    }
    Ok(())
}

/// Checks the words other than axis words: that each has its use and a value that can be meant. The
/// tool of G43, if any.
fn values(block: &Block, motion: Option<Motion>, strict: bool) -> Result<Option<u32>, Fault> {
    let words = &block.words;
    let non_modal = block.g(GGroup::NonModal);
    let unused = |letter: u8| Fault::at(block.word_at(letter), Problem::Unused(char::from(letter)));
    let needs = |code: Code, letter: u8| {
        let group = if code == G43 { GGroup::ToolLength } else { GGroup::NonModal };
        Fault::at(block.g_at(group), Problem::Needs(code, char::from(letter)))
    };
    // Tolerances of the corners that G64 rounds: which, the controller knows.
    let blends = !strict && block.g(GGroup::Path) == Some(G64);
    let allowed = [
        (b'D', false),
        (b'H', block.g(GGroup::ToolLength) == Some(G43)),
        (b'I', motion.is_some_and(is_arc)),
        (b'J', motion.is_some_and(is_arc)),
        (b'K', motion.is_some_and(is_arc)),
        (b'L', non_modal == Some(G10)),
        (b'P', blends || matches!(non_modal, Some(G4 | G10))),
        (b'Q', blends && words.get(b'P').is_some()),
        (b'R', motion.is_some_and(is_arc)),
    ];
    for (letter, used) in allowed {
        if words.get(letter).is_some() && !used {
            return Err(unused(letter));
        }
    }
    for letter in *b"FST" {
        if words.get(letter).is_some_and(|v| v < 0.0) {
            return Err(Fault::at(block.word_at(letter), Problem::Negative(char::from(letter))));
        }
    }
    for letter in AXIS_LETTERS.into_iter().chain(*b"IJKRFPST") {
        if words.get(letter).is_some_and(|v| v.abs() > FARTHEST) {
            return Err(Fault::at(block.word_at(letter), Problem::OutOfRange(char::from(letter))));
        }
    }
    if let Some(tool) = words.get(b'T')
        && whole(tool).is_none()
    {
        return Err(Fault::at(block.word_at(b'T'), Problem::NotWhole('T', tool)));
    }
    match non_modal {
        Some(G4) => {
            let seconds = words.get(b'P').ok_or_else(|| needs(G4, b'P'))?;
            if seconds < 0.0 {
                return Err(Fault::at(block.word_at(b'P'), Problem::Negative('P')));
            }
        }
        Some(G10) => {
            let kind = words.get(b'L').ok_or_else(|| needs(G10, b'L'))?;
            if whole(kind) != Some(2) {
                return Err(Fault::at(block.word_at(b'L'), Problem::OnlyL2));
            }
            let system = words.get(b'P').ok_or_else(|| needs(G10, b'P'))?;
            if !whole(system).is_some_and(|n| (1..=9).contains(&n)) {
                return Err(Fault::at(block.word_at(b'P'), Problem::SystemRange));
            }
        }
        _ => {}
    }
    if block.g(GGroup::ToolLength) != Some(G43) {
        return Ok(None);
    }
    let tool = words.get(b'H').ok_or_else(|| needs(G43, b'H'))?;
    let index =
        whole(tool).ok_or_else(|| Fault::at(block.word_at(b'H'), Problem::NotWhole('H', tool)))?;
    Ok(Some(index))
}

/// Under G93 every G1, G2 and G3 line needs its own F, above zero (3.5.19).
fn inverse_time(block: &Block, modes: &Modes, motion: Option<Motion>) -> Result<(), Fault> {
    let inverse = match block.g(GGroup::FeedMode) {
        Some(code) => code == Code::g(930),
        None => modes.feed_mode == FeedMode::InverseTime,
    };
    let feeds =
        matches!(motion, Some(Motion::Straight | Motion::Clockwise | Motion::CounterClockwise));
    if !(inverse && feeds) {
        return Ok(());
    }
    match block.words.get(b'F') {
        None => {
            let at = if block.g(GGroup::Motion).is_some() {
                block.g_at(GGroup::Motion)
            } else {
                first_axis(block)
            };
            Err(Fault::at(at, Problem::InverseTimeFeed))
        }
        Some(f) if f <= 0.0 => Err(Fault::at(block.word_at(b'F'), Problem::InverseTimeZero)),
        Some(_) => Ok(()),
    }
}

/// The raw offset of the first axis word, or else of the first arc offset.
fn first_axis(block: &Block) -> u32 {
    let least = |list: &[u8]| {
        list.iter().filter(|&&l| block.words.get(l).is_some()).map(|&l| block.word_at(l)).min()
    };
    least(&AXIS_LETTERS).or_else(|| least(b"IJK")).unwrap_or(block.body)
}

/// True where a block holds nothing that an unknown M word's line could not carry.
pub(super) fn passable(block: &Block) -> Result<(), Fault> {
    let Some(unknown) = block.unknown_m else { return Ok(()) };
    if let Some(code) = block.codes().next() {
        return Err(Fault::at(
            unknown.at,
            Problem::UnknownMWithMotion(unknown.number, format!("{code} with it")),
        ));
    }
    if !block.settings.is_empty() {
        return Err(Fault::at(unknown.at, Problem::UnknownMWithSetting(unknown.number)));
    }
    debug_assert!(block.m(MGroup::Stop).is_none());
    Ok(())
}
