//! Events as the report's canonical functions (chapter 4), so that its examples can be compared
//! word by word.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use stave_toolpath::{Arc, BeamWord, Event, Feed, FeedMode, PauseWord, Position};

use super::offsets::axes;
use super::reader::Sink;

/// A call of the report's canonical functions: name and arguments.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Call {
    pub(super) name: &'static str,
    pub(super) numbers: BTreeMap<&'static str, f64>,
    pub(super) text: Option<String>,
    /// For moves: the start, in program coordinates and units.
    pub(super) from: Option<Position>,
}

/// What a move did, for the cases that ask for times and lengths.
#[derive(Clone, Copy)]
pub(super) struct Move {
    pub(super) from: Position,
    pub(super) to: Position,
    pub(super) arc: Option<Arc>,
    pub(super) feed: Option<Feed>,
}

impl Move {
    pub(super) fn length_mm(&self) -> f64 {
        self.arc
            .map_or(self.from.linear_distance_mm(&self.to), |a| a.length_mm(&self.from, &self.to))
    }

    pub(super) fn time_s(&self) -> Option<f64> {
        Some(self.feed?.nominal_s(self.length_mm(), self.from.rotary_distance_deg(&self.to)))
    }
}

/// Gathers the events of one line; coordinates are turned into the program's own after the line.
#[derive(Default)]
pub(super) struct Gather {
    pub(super) moves: Vec<Move>,
    pub(super) calls: Vec<(Call, Option<Move>)>,
    pub(super) tool: f64,
}

impl Gather {
    pub(super) fn call(&mut self, name: &'static str, numbers: &[(&'static str, f64)]) {
        let call = Call { name, numbers: numbers.iter().copied().collect(), ..Call::default() };
        self.calls.push((call, None));
    }

    fn moved(&mut self, name: &'static str, m: Move) {
        self.moves.push(m);
        self.calls.push((Call { name, ..Call::default() }, Some(m)));
    }
}

impl Sink for Gather {
    type Error = std::convert::Infallible;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Self::Error> {
        let text = |name, text: &[u8]| {
            let text = Some(String::from_utf8_lossy(text).into_owned());
            (Call { name, text, ..Call::default() }, None)
        };
        match *event {
            Event::Travel { from, to } => {
                self.moved(
                    "STRAIGHT_TRAVERSE",
                    Move { from: *from, to: *to, arc: None, feed: None },
                );
            }
            Event::Straight { from, to, feed } => {
                self.moved("STRAIGHT_FEED", Move { from: *from, to: *to, arc: None, feed });
            }
            Event::Arc { from, to, arc, feed } => {
                self.moved("ARC_FEED", Move { from: *from, to: *to, arc: Some(arc), feed });
            }
            Event::Dwell { seconds } => self.call("DWELL", &[("seconds", seconds)]),
            Event::Beam { word: Some(BeamWord::M3) } => self.call("START_SPINDLE_CLOCKWISE", &[]),
            Event::Beam { word: Some(BeamWord::M4) } => {
                self.call("START_SPINDLE_COUNTERCLOCKWISE", &[]);
            }
            Event::Beam { word: None } => self.call("STOP_SPINDLE_TURNING", &[]),
            Event::Power { s } => self.call("SET_SPINDLE_SPEED", &[("speed", s)]),
            Event::FeedRate { f, .. } => self.call("SET_FEED_RATE", &[("rate", f)]),
            Event::Message { text: t } => self.calls.push(text("MESSAGE", t)),
            Event::Comment { text: t } => self.calls.push(text("COMMENT", t)),
            Event::Pass { text: b"M6", .. } => {
                // The report's CHANGE_TOOL stops the spindle; here the stop is an event of its own
                // before it.
                self.calls.retain(|(c, _)| c.name != "STOP_SPINDLE_TURNING");
                let tool = self.tool;
                self.call("CHANGE_TOOL", &[("tool", tool)]);
            }
            Event::Pass { text: [b'T', digits @ ..], .. } => {
                self.tool = String::from_utf8_lossy(digits).parse().unwrap();
                let tool = self.tool;
                self.call("SELECT_TOOL", &[("tool", tool)]);
            }
            Event::End { .. } => self.call("PROGRAM_END", &[]),
            Event::Pass { text: b"M7", .. } => self.call("MIST_ON", &[]),
            Event::Pass { text: b"M8", .. } => self.call("FLOOD_ON", &[]),
            Event::Pass { text: b"M48", .. } => self.call("ENABLE_FEED_OVERRIDE", &[]),
            Event::Pass { text: b"M49", .. } => self.call("DISABLE_FEED_OVERRIDE", &[]),
            Event::Path { .. } => self.call("SET_MOTION_CONTROL_MODE", &[]),
            Event::Pause { word: PauseWord::M1 } => self.call("OPTIONAL_PROGRAM_STOP", &[]),
            Event::Pause { .. } => self.call("PROGRAM_STOP", &[]),
            _ => {}
        }
        Ok(())
    }
}

/// Machine coordinates as the program has them after the line they came from.
fn in_program(state: &super::execute::State, machine: &Position) -> Position {
    let mut there = state.clone();
    there.position = *machine;
    there.reading()
}

pub(super) fn finish_call(state: &super::execute::State, call: Call, moved: Option<Move>) -> Call {
    let mut call = call;
    if call.name == "SET_FEED_RATE" && state.modes.feed_mode == FeedMode::PerMinute {
        call.numbers.entry("rate").and_modify(|r| *r /= state.scale);
    }
    let Some(m) = moved else { return call };
    let to = in_program(state, &m.to);
    call.from = Some(in_program(state, &m.from));
    call.numbers = ["x", "y", "z", "a", "b", "c"].into_iter().zip(axes(&to)).collect();
    if let Some(arc) = m.arc {
        let (first, second, normal) = arc.axes();
        let [x, y, z] = arc.centre;
        let centre = axes(&in_program(state, &Position { x, y, z, ..m.to }));
        let end = axes(&to);
        call.numbers = [
            ("first_end", end[first]),
            ("second_end", end[second]),
            ("axis_end", end[normal]),
            ("first_axis", centre[first]),
            ("second_axis", centre[second]),
            // The report counts turns, signed counter-clockwise; a circle in one go is one turn.
            ("rotation", (arc.sweep_rad / TAU).abs().ceil().copysign(arc.sweep_rad)),
        ]
        .into();
    }
    call
}
