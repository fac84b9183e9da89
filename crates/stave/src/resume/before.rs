//! The state of the machine where a program goes on.

use std::convert::Infallible;

use stave_parse::gcode::{Distance, Interpreter, Motion, Sink, Units};
use stave_rig::{ROTARY, words_of};
use stave_setup::Machine;
use stave_toolpath::{BeamWord, Event, FeedMode, PathControl, Plane, Position};

use super::{AS_WRITTEN, ResumeFault, lines_of};
use crate::run::{Sections, may_move};

/// What was in effect.
#[derive(Clone, Debug)]
pub(super) struct Before {
    /// The beam word where the rest begins.
    pub(super) beam: Option<BeamWord>,
    /// Whether an S was given at all.
    pub(super) s_known: bool,
    /// The S in effect after the move that is gone on with.
    pub(super) power_s: Option<f64>,
    pub(super) inverse_time: bool,
    /// The feed per minute in effect with that move.
    pub(super) feed: Option<f64>,
    /// The word of a path control that is not the one a program starts in.
    pub(super) path: Option<&'static str>,
    /// Whether a bare word after that move is a move at feed.
    pub(super) at_feed: bool,
    /// The line that switched the air on.
    pub(super) air: Option<String>,
    /// The comment that the move stands under.
    pub(super) section: Option<String>,
    /// Whether that comment comes before the rest.
    pub(super) section_is_before: bool,
    /// +1 where the rotary's word grew when it last moved, or has never moved.
    pub(super) turned_by: f64,
    /// A line passed through that is not said again.
    pub(super) passed_by: Option<String>,
    /// The last line before the move, of those that are said again, that may move the machine.
    pub(super) moved_by: Option<u64>,
}

/// The state before line `first`, from which on the program stands as it is, and after the move of
/// line `moved`.
pub(super) fn before(
    program: &[u8],
    machine: &Machine,
    (first, moved): (u64, u64),
) -> Result<Before, ResumeFault> {
    let mut interpreter = Interpreter::new(&AS_WRITTEN);
    let mut state = State::new(machine);
    // All of this was read once without fault.
    let _ = interpreter.read(lines_of(program, 0, first.saturating_sub(1)), &mut state);
    let (beam, there) = (interpreter.modes().beam, state.clone());
    state.moved_by = None;
    let skipped = first.saturating_sub(1);
    let _ = interpreter.read(lines_of(program, skipped, moved), &mut state);
    let modes = interpreter.modes();
    let strange = [
        (modes.units == Units::Inch, "G20"),
        (modes.distance == Distance::Incremental, "G91"),
        (modes.plane != Plane::Xy, "G18 or G19"),
        (modes.coordinate_system != 1, "an origin other than that of G54"),
        (modes.origin_offsets, "G92"),
        (matches!(modes.motion, Motion::Clockwise | Motion::CounterClockwise), "G2 or G3"),
    ];
    if let Some((_, word)) = strange.iter().find(|(strange, _)| *strange) {
        return Err(ResumeFault::Mode { line: moved, word });
    }
    Ok(Before {
        beam,
        s_known: there.s_known,
        power_s: state.s_known.then_some(modes.power_s),
        inverse_time: modes.feed_mode == FeedMode::InverseTime,
        feed: state.feed,
        path: (modes.path != PathControl::Continuous).then(|| modes.path.as_str()),
        at_feed: modes.motion == Motion::Straight,
        air: there.air.clone().filter(|word| !state.is_off(word)),
        section: state.section(),
        section_is_before: there.section() == state.section(),
        turned_by: there.turned_by,
        passed_by: there.passed_by,
        moved_by: state.moved_by.map(|line| skipped + line),
    })
}

/// What the interpreter does not keep.
#[derive(Clone, Debug)]
struct State<'a> {
    machine: &'a Machine,
    s_known: bool,
    feed: Option<f64>,
    air: Option<String>,
    sections: Sections,
    turned_by: f64,
    passed_by: Option<String>,
    moved_by: Option<u64>,
}

impl<'a> State<'a> {
    fn new(machine: &'a Machine) -> Self {
        Self {
            machine,
            s_known: false,
            feed: None,
            air: None,
            sections: Sections::default(),
            turned_by: 1.0,
            passed_by: None,
            moved_by: None,
        }
    }

    fn turned(&mut self, from: &Position, to: &Position) {
        let turned = words_of(self.machine, to)[ROTARY] - words_of(self.machine, from)[ROTARY];
        if turned != 0.0 {
            self.turned_by = turned.signum();
        }
    }

    /// Whether a word is one of the air's: the machine's own, or what RS274/NGC calls coolant.
    fn is_air(&self, word: &str) -> bool {
        let own = self.machine.controller.air.as_ref().is_some_and(|air| {
            let words = [air.low.as_deref(), air.high.as_deref(), Some(&*air.off)];
            words.into_iter().flatten().any(|own| same_word(own, word))
        });
        own || matches!(word, "M7" | "M8" | "M9")
    }

    fn is_off(&self, word: &str) -> bool {
        let own = self.machine.controller.air.as_ref().map(|air| &*air.off);
        own.is_some_and(|own| same_word(own, word)) || word == "M9"
    }

    /// The section of what comes next.
    fn section(&self) -> Option<String> {
        let mut sections = self.sections.clone();
        let now = sections.now();
        Some(sections.name(now).to_owned()).filter(|name| !name.is_empty())
    }
}

/// Whether two lines mean the same to a controller: blanks do not count.
fn same_word(a: &str, b: &str) -> bool {
    let closed = |text: &str| text.split_whitespace().collect::<String>();
    closed(a) == closed(b)
}

impl Sink for State<'_> {
    type Error = Infallible;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Infallible> {
        match *event {
            Event::Travel { from, to } | Event::Straight { from, to, .. } => self.turned(from, to),
            Event::Power { .. } => self.s_known = true,
            Event::FeedRate { f, mode: FeedMode::PerMinute } => self.feed = Some(f),
            Event::Comment { text } => self.sections.comment(text),
            Event::Pass { kind, text, .. } => {
                let word = String::from_utf8_lossy(text).trim().to_owned();
                let is_air = self.is_air(&word);
                if may_move(kind, text, is_air) {
                    self.moved_by = Some(line);
                }
                if is_air {
                    self.air = Some(word);
                } else if !word.is_empty() {
                    self.passed_by.get_or_insert(word);
                }
            }
            _ => {}
        }
        Ok(())
    }
}
