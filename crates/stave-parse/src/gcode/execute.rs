//! The state of the machine that a program moves, and the carrying out of a block in the order of table 8.

use std::collections::BTreeMap;

use stave_toolpath::{BeamWord, Event, Feed, FeedMode, PathControl, PauseWord, Plane, Position};

use super::arcs::{self, Reading};
use super::block::Block;
use super::check::{Plan, check};
use super::closed::Comment;
use super::code::{Code, GGroup, MGroup, whole};
use super::fault::{Fault, Place, Stop};
use super::modes::{Distance, Modes, Motion, Units};
use super::parameters::{FARTHEST, Parameters};
use super::problem::Problem;
use super::reader::{Sink, Warning};
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

/// A feed rate of G94.
#[derive(Clone, Copy, Debug)]
struct Rate {
    /// As written: degrees per minute where only rotary axes move.
    written: f64,
    mm_per_min: f64,
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
    rate: Option<Rate>,
    tool: u32,
    text: Vec<u8>,
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
            tool: 0,
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
        let to = self.target(words, machine)?;
        self.touched |= words.present() & AXES;
        let from = &self.position;
        let event = match motion {
            Motion::Travel => Event::Travel { from, to: &to },
            Motion::Straight => Event::Straight { from, to: &to, feed: self.feed(words, &to) },
            Motion::Clockwise | Motion::CounterClockwise => {
                let how = Reading {
                    plane: self.modes.plane,
                    units: self.modes.units,
                    counter_clockwise: motion == Motion::CounterClockwise,
                    strict: self.strict,
                };
                let arc = arcs::arc(words, from, &to, how)?;
                Event::Arc { from, to: &to, arc, feed: self.feed(words, &to) }
            }
            Motion::None => return Ok(()),
        };
        emit(sink, line, Place::Letters(AXES | OFFSETS | letters(b"R")), &event)?;
        self.position = to;
        Ok(())
    }

    /// Where the axis words lead, in machine coordinates.
    #[inline]
    fn target(&self, words: &Words, machine: bool) -> Result<Position, Fault> {
        let mut to = self.position;
        let absolute = machine || self.modes.distance == Distance::Absolute;
        let offset = if machine { &[0.0; 6] } else { &self.offset };
        let mut far = false;
        let mut lead = |letter: u8, axis: usize, scale: f64, at: &mut f64| {
            if let Some(value) = words.get(letter) {
                let base = if absolute { offset[axis] } else { *at };
                *at = value * scale + base;
                far |= at.abs() > FARTHEST;
            }
        };
        lead(b'X', 0, self.scale, &mut to.x);
        lead(b'Y', 1, self.scale, &mut to.y);
        lead(b'Z', 2, self.scale, &mut to.z);
        if words.any(letters(b"ABC")) {
            lead(b'A', 3, 1.0, &mut to.a);
            lead(b'B', 4, 1.0, &mut to.b);
            lead(b'C', 5, 1.0, &mut to.c);
        }
        if far {
            return Err(self.too_far(words, &to));
        }
        Ok(to)
    }

    #[cold]
    fn too_far(&self, words: &Words, to: &Position) -> Fault {
        let places = [(b'X', to.x), (b'Y', to.y), (b'Z', to.z), (b'A', to.a), (b'B', to.b), (b'C', to.c)];
        let beyond = places.iter().find(|(l, v)| words.get(*l).is_some() && v.abs() > FARTHEST);
        let letter = beyond.map_or(b'X', |(l, _)| *l);
        Fault::letter(letter, Problem::OutOfRange(char::from(letter)))
    }

    /// The feed rate of a move to `to`.
    #[inline]
    fn feed(&self, words: &Words, to: &Position) -> Option<Feed> {
        if self.modes.feed_mode == FeedMode::InverseTime {
            return words.get(b'F').map(Feed::InverseTime);
        }
        let rate = self.rate.filter(|r| r.written > 0.0)?;
        let from = &self.position;
        let linear = self.scale == 1.0 || from.x != to.x || from.y != to.y || from.z != to.z;
        Some(Feed::PerMinute(if linear { rate.mm_per_min } else { rate.written }))
    }

    /// F under G94, in units of `scale` mm.
    #[inline]
    pub(super) fn rate<S: Sink>(
        &mut self,
        line: u64,
        written: f64,
        scale: f64,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let mm_per_min = written * scale;
        self.rate = Some(Rate { written, mm_per_min });
        let event = Event::FeedRate { f: mm_per_min, mode: FeedMode::PerMinute };
        emit(sink, line, Place::Letters(letters(b"F")), &event)
    }

    /// S.
    #[inline]
    pub(super) fn power<S: Sink>(&mut self, line: u64, s: f64, sink: &mut S) -> Result<(), Stop<S::Error>> {
        self.modes.power_s = s;
        emit(sink, line, Place::Letters(letters(b"S")), &Event::Power { s })
    }

    /// Step 1: comments and messages. Strict reading uses only the last of a line (3.3.5).
    fn comments<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        comments: &[Comment],
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let used =
            if self.strict { comments.get(comments.len().saturating_sub(1)..) } else { Some(comments) };
        for comment in used.unwrap_or_default() {
            let text = raw.get(comment.start as usize..comment.end as usize).unwrap_or_default();
            let event = match message(text) {
                Some(text) if !comment.semicolon => Event::Message { text },
                _ => Event::Comment { text },
            };
            emit(sink, line, byte(comment.start.saturating_sub(1)), &event)?;
        }
        Ok(())
    }

    /// Steps 2 and 3: feed rate mode and feed rate.
    fn feed_words<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        plan: Plan,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        if let Some(code) = block.g(GGroup::FeedMode) {
            let mode = if code == Code::g(930) { FeedMode::InverseTime } else { FeedMode::PerMinute };
            if mode != self.modes.feed_mode {
                // A rate of the other mode means nothing in this one, and one from before it is too old to trust.
                self.rate = None;
            }
            self.modes.feed_mode = mode;
        }
        let units = block.g(GGroup::Units).map(units_of);
        let changed = units.is_some_and(|u| u != self.modes.units);
        let Some(f) = block.words.get(b'F') else {
            if changed && self.rate.is_some() {
                self.warn(line, Warning::FEED_KEPT);
            }
            return Ok(());
        };
        if self.modes.feed_mode == FeedMode::PerMinute {
            // By table 8 F comes before G20 and G21, by 4.3.3.3 the stored rate is then read in the new units: either way
            // the writer meant the new ones.
            if changed {
                self.warn(line, Warning::FEED_IN_NEW_UNITS);
            }
            let scale = units.unwrap_or(self.modes.units).millimetres();
            return self.rate(line, f, scale, sink);
        }
        // Under G93 F belongs to its line's move and is ignored elsewhere (3.5.19).
        if matches!(plan.motion, None | Some(Motion::Travel | Motion::None)) {
            return Ok(());
        }
        let event = Event::FeedRate { f, mode: FeedMode::InverseTime };
        emit(sink, line, byte(block.word_at(b'F')), &event)
    }

    /// Steps 5 to 9: tools, beam, coolant, overrides.
    fn m_words<S: Sink>(&mut self, line: u64, block: &Block, sink: &mut S) -> Result<(), Stop<S::Error>> {
        if let Some(tool) = block.words.get(b'T').and_then(whole) {
            self.tool = tool;
            self.text.clear();
            self.text.push(b'T');
            self.text.extend_from_slice(tool.to_string().as_bytes());
            emit(sink, line, byte(block.word_at(b'T')), &Event::Pass { text: &self.text })?;
        }
        if block.m(MGroup::Tool).is_some() {
            let at = byte(block.m_at(MGroup::Tool));
            // A tool change leaves the spindle stopped (3.6.3).
            if self.modes.beam.is_some() {
                self.beam(line, None, at, sink)?;
            }
            emit(sink, line, at, &Event::Pass { text: b"M6" })?;
        }
        if let Some(code) = block.m(MGroup::Spindle) {
            let word = match code.tenths {
                30 => Some(BeamWord::M3),
                40 => Some(BeamWord::M4),
                _ => None,
            };
            self.beam(line, word, byte(block.m_at(MGroup::Spindle)), sink)?;
        }
        if let Some(code) = block.m(MGroup::Coolant) {
            let coolant = &mut self.modes.coolant;
            let text: &[u8] = match code.tenths {
                70 => {
                    coolant.mist = true;
                    b"M7"
                }
                80 => {
                    coolant.flood = true;
                    b"M8"
                }
                _ => {
                    *coolant = super::modes::Coolant::default();
                    b"M9"
                }
            };
            emit(sink, line, byte(block.m_at(MGroup::Coolant)), &Event::Pass { text })?;
        }
        if let Some(code) = block.m(MGroup::Overrides) {
            self.modes.overrides = code == Code::m(48);
            let text: &[u8] = if self.modes.overrides { b"M48" } else { b"M49" };
            emit(sink, line, byte(block.m_at(MGroup::Overrides)), &Event::Pass { text })?;
        }
        Ok(())
    }

    fn beam<S: Sink>(
        &mut self,
        line: u64,
        word: Option<BeamWord>,
        at: Place,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        self.modes.beam = word;
        emit(sink, line, at, &Event::Beam { word })
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

    /// Step 21: stops, and the resets of the end (3.6.1).
    fn stop<S: Sink>(&mut self, line: u64, block: &Block, sink: &mut S) -> Result<Flow, Stop<S::Error>> {
        let Some(code) = block.m(MGroup::Stop) else { return Ok(Flow::More) };
        let at = byte(block.m_at(MGroup::Stop));
        let word = match code.tenths {
            0 => PauseWord::M0,
            10 => PauseWord::M1,
            600 => PauseWord::M60,
            _ => {
                self.end(line, at, code == Code::m(30), sink)?;
                return Ok(Flow::Ended);
            }
        };
        emit(sink, line, at, &Event::Pause { word })?;
        Ok(Flow::More)
    }

    fn end<S: Sink>(
        &mut self,
        line: u64,
        at: Place,
        rewind: bool,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        if self.modes.beam.is_some() {
            self.beam(line, None, at, sink)?;
        }
        let modes = &mut self.modes;
        modes.plane = Plane::Xy;
        modes.distance = Distance::Absolute;
        modes.feed_mode = FeedMode::PerMinute;
        modes.overrides = true;
        modes.motion = Motion::Straight;
        modes.coolant = super::modes::Coolant::default();
        self.suspend_shift();
        self.choose_system(1);
        emit(sink, line, at, &Event::End { rewind })
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

    fn warn(&mut self, line: u64, text: &'static str) {
        if self.warnings.iter().all(|w| w.text != text) {
            self.warnings.push(Warning { line, text });
        }
    }
}

/// Hands an event to the sink; `at` is where its words stand, should the sink refuse it.
#[inline]
pub(super) fn emit<S: Sink>(
    sink: &mut S,
    line: u64,
    at: Place,
    event: &Event<'_>,
) -> Result<(), Stop<S::Error>> {
    sink.event(line, event).map_err(|error| Stop::Sink(at, error))
}

fn byte(at: u32) -> Place {
    Place::Byte(at)
}

fn units_of(code: Code) -> Units {
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

/// What follows `MSG,` in a comment; the letters in any case, blanks between them (3.3.4).
fn message(text: &[u8]) -> Option<&[u8]> {
    let mut rest = text;
    for wanted in *b"MSG," {
        let skip = rest.iter().take_while(|b| matches!(b, b' ' | b'\t')).count();
        rest = &rest[skip..];
        match rest.split_first() {
            Some((b, after)) if b.to_ascii_uppercase() == wanted => rest = after,
            _ => return None,
        }
    }
    Some(rest)
}
