//! The state of the machine that a program moves, and the carrying out of a block in the order of
//! table 8.

use std::collections::BTreeMap;

use stave_toolpath::{Event, PathControl, Plane, Position};

use super::arcs::{self, Reading};
use super::block::Block;
use super::check::{Plan, check};
use super::code::{Code, GGroup};
use super::fault::{Fault, Place, Stop};
use super::feed::Rate;
use super::modes::{Distance, Modes, Motion, Units};
use super::parameters::{FARTHEST, Parameters};
use super::problem::Problem;
use super::reader::{Sink, Warning, WarningCode};
use super::words::{AXES, OFFSETS, Words, letters};

/// Whether the program goes on after a line.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Flow {
    More,
    /// M2 or M30 was carried out.
    Ended,
    /// A closing percent line was read.
    Closed,
}

/// Everything a program can change.
#[derive(Clone, Debug)]
pub(super) struct State {
    pub(super) strict: bool,
    pub(super) modes: Modes,
    pub(super) position: Position,
    pub(super) parameters: Parameters,
    /// Tool lengths by number, mm.
    pub(super) tools: BTreeMap<u32, f64>,
    pub(super) warnings: Vec<Warning>,
    /// The origin of the coordinate system in use, mm and degrees.
    pub(super) origin: [f64; 6],
    /// The offsets of G92 in effect.
    pub(super) shift: [f64; 6],
    /// The tool length offset in effect, mm.
    pub(super) tool_mm: f64,
    /// Axes that the program has named so far, as letter bits.
    pub(super) touched: u32,
    /// The sum of origin, shift and tool length.
    pub(super) offset: [f64; 6],
    /// Millimetres to the unit in use.
    pub(super) scale: f64,
    pub(super) rate: Option<Rate>,
    pub(super) text: Vec<u8>,
}

impl State {
    pub(super) fn new(strict: bool) -> Self {
        Self {
            strict,
            modes: Modes::default(),
            position: Position::default(),
            parameters: Parameters::new(),
            tools: BTreeMap::new(),
            warnings: Vec::new(),
            origin: [0.0; 6],
            shift: [0.0; 6],
            tool_mm: 0.0,
            touched: 0,
            offset: [0.0; 6],
            scale: 1.0,
            rate: None,
            text: Vec::new(),
        }
    }

    /// Carries out a block in the order of table 8.
    pub(super) fn execute<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        block: &Block,
        sink: &mut S,
    ) -> Result<Flow, Stop<S::Error>> {
        let plan = check(block, &self.modes, self.strict)?;
        self.tool_known(block, plan)?;
        for &(index, value) in &block.settings {
            let set = self.parameters.set(index, value, self.scale);
            set.map_err(|problem| Fault::at(block.setting_at(), problem))?;
        }
        self.comments(line, raw, block.comments(), sink)?;
        self.feed_words(line, block, plan, sink)?;
        if let Some(s) = block.words.get(b'S') {
            self.power(line, s, sink)?;
        }
        self.m_words(line, block, sink)?;
        if plan.non_modal == Some(Code::g(40)) {
            let seconds = block.words.get(b'P').unwrap_or(0.0);
            emit(sink, line, byte(block.g_at(GGroup::NonModal)), &Event::Dwell { seconds })?;
        }
        self.g_modes(line, block, plan, sink)?;
        self.non_modal(line, block, plan, sink)?;
        if let Some(mode) = plan.mode {
            self.modes.motion = mode;
        }
        if let Some(motion) = plan.motion {
            self.run_motion(line, motion, &block.words, plan.machine, sink)?;
        }
        self.stop(line, block, sink)
    }

    /// A move. Shared by the plain and the general way.
    #[inline]
    pub(super) fn run_motion<S: Sink>(
        &mut self,
        line: u64,
        motion: Motion,
        words: &Words,
        machine: bool,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let to = self.target(words, machine);
        // All axes without a jump between them.
        let all = [to.x, to.y, to.z, to.a, to.b, to.c];
        if all.iter().fold(false, |beyond, at| beyond | (at.abs() > FARTHEST)) {
            return Err(self.too_far(words, &to).into());
        }
        let fresh = words.present() & AXES & !self.touched;
        if fresh != 0 {
            self.first_words(line, fresh, sink)?;
        }
        let from = &self.position;
        let event = match motion {
            Motion::Travel => Event::Travel { from, to: &to },
            Motion::Straight => {
                Event::Straight { from, to: &to, feed: self.feed(words, &to, false) }
            }
            Motion::Clockwise | Motion::CounterClockwise => {
                let how = Reading {
                    plane: self.modes.plane,
                    units: self.modes.units,
                    counter_clockwise: motion == Motion::CounterClockwise,
                    strict: self.strict,
                };
                let arc = arcs::arc(words, from, &to, how)?;
                Event::Arc { from, to: &to, arc, feed: self.feed(words, &to, true) }
            }
            Motion::None => return Ok(()),
        };
        emit(sink, line, Place::Letters(const { AXES | OFFSETS | letters(b"R") }), &event)?;
        self.position = to;
        Ok(())
    }

    /// Tells of the axis words that are given for the first time.
    #[cold]
    pub(super) fn first_words<S: Sink>(
        &mut self,
        line: u64,
        fresh: u32,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        self.touched |= fresh;
        for letter in *b"ZABC" {
            if fresh & letters(&[letter]) != 0 {
                emit(sink, line, Place::Letters(letters(&[letter])), &Event::FirstWord { letter })?;
            }
        }
        Ok(())
    }

    /// Where the axis words lead, in machine coordinates.
    ///
    /// Every axis is a value of its own until the position is whole: a position that is patched in
    /// memory word by word and then copied costs more than everything else on a short line.
    #[inline]
    #[expect(clippy::indexing_slicing, reason = "an axis is below six")]
    fn target(&self, words: &Words, machine: bool) -> Position {
        let absolute = machine || self.modes.distance == Distance::Absolute;
        let offset = if machine { &[0.0; 6] } else { &self.offset };
        let from = &self.position;
        let lead = |letter: u8, axis: usize, scale: f64, at: f64| match words.get(letter) {
            Some(value) => value * scale + if absolute { offset[axis] } else { at },
            None => at,
        };
        let (x, y) = (lead(b'X', 0, self.scale, from.x), lead(b'Y', 1, self.scale, from.y));
        if !words.any(const { letters(b"ZABC") }) {
            return Position { x, y, ..*from };
        }
        Position {
            x,
            y,
            z: lead(b'Z', 2, self.scale, from.z),
            a: lead(b'A', 3, 1.0, from.a),
            b: lead(b'B', 4, 1.0, from.b),
            c: lead(b'C', 5, 1.0, from.c),
        }
    }

    #[cold]
    fn too_far(&self, words: &Words, to: &Position) -> Fault {
        let places =
            [(b'X', to.x), (b'Y', to.y), (b'Z', to.z), (b'A', to.a), (b'B', to.b), (b'C', to.c)];
        let beyond = places.iter().find(|(l, v)| words.get(*l).is_some() && v.abs() > FARTHEST);
        let letter = beyond.map_or(b'X', |(l, _)| *l);
        Fault::letter(letter, Problem::OutOfRange(char::from(letter)))
    }

    /// S.
    #[inline]
    pub(super) fn power<S: Sink>(
        &mut self,
        line: u64,
        s: f64,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        self.modes.power_s = s;
        emit(sink, line, Place::Letters(const { letters(b"S") }), &Event::Power { s })
    }

    /// Steps 11 to 18: the modes of G words.
    fn g_modes<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        plan: Plan,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        if let Some(code) = block.g(GGroup::Plane) {
            self.modes.plane = match code.tenths {
                180 => Plane::Zx,
                190 => Plane::Yz,
                _ => Plane::Xy,
            };
        }
        if let Some(units) = block.g(GGroup::Units).map(units_of) {
            self.modes.units = units;
            self.scale = units.millimetres();
        }
        if block.g(GGroup::ToolLength).is_some() {
            self.tool_mm = plan.tool.and_then(|tool| self.tools.get(&tool).copied()).unwrap_or(0.0);
            self.sum_offsets();
        }
        if let Some(code) = block.g(GGroup::System) {
            self.choose_system(system_of(code));
        }
        if let Some(code) = block.g(GGroup::Path) {
            let control = match code.tenths {
                610 => PathControl::ExactPath,
                611 => PathControl::ExactStop,
                _ => PathControl::Continuous,
            };
            self.modes.path = control;
            emit(sink, line, byte(block.g_at(GGroup::Path)), &Event::Path { control })?;
        }
        if let Some(code) = block.g(GGroup::Distance) {
            self.modes.distance =
                if code == Code::g(910) { Distance::Incremental } else { Distance::Absolute };
        }
        Ok(())
    }

    /// G43 is for interpreters that were given tool lengths.
    fn tool_known(&self, block: &Block, plan: Plan) -> Result<(), Fault> {
        let Some(tool) = plan.tool else { return Ok(()) };
        if self.tools.is_empty() {
            return Err(Fault::at(block.g_at(GGroup::ToolLength), Problem::NoToolTable));
        }
        if self.tools.contains_key(&tool) {
            return Ok(());
        }
        Err(Fault::at(block.word_at(b'H'), Problem::NoToolLength(tool)))
    }

    pub(super) fn warn(&mut self, line: u64, code: WarningCode) {
        if self.warnings.iter().all(|w| w.code != code) {
            self.warnings.push(Warning { line, code, text: code.text() });
        }
    }
}

/// Hands an event to the sink; `at` is where its words stand, should the sink refuse it.
#[expect(clippy::inline_always, reason = "a sink that is told which event it is need not look")]
#[inline(always)]
pub(super) fn emit<S: Sink>(
    sink: &mut S,
    line: u64,
    at: Place,
    event: &Event<'_>,
) -> Result<(), Stop<S::Error>> {
    sink.event(line, event).map_err(|error| Stop::Sink(at, error))
}

pub(super) fn byte(at: u32) -> Place {
    Place::Byte(at)
}

pub(super) fn units_of(code: Code) -> Units {
    if code == Code::g(200) { Units::Inch } else { Units::Millimetre }
}

/// The number of the coordinate system, 1 to 9.
fn system_of(code: Code) -> u8 {
    match code.tenths {
        550 => 2,
        560 => 3,
        570 => 4,
        580 => 5,
        590 => 6,
        591 => 7,
        592 => 8,
        593 => 9,
        _ => 1,
    }
}
