//! The modal interpreter: lines to events.

use stave_toolpath::Position;

use super::block::{Block, Rules};
use super::execute::{Flow, State};
use super::expression::Scope;
use super::fault::{Fault, Stop};
use super::modes::Modes;
use super::parameters;
use super::pass;
use super::plain;
use super::problem::Problem;
use super::reader::{ReadOptions, Sink, Warning};
use super::words::Words;

/// The longest line of strict reading, bytes without the line end (3.3).
const STRICT_LENGTH: usize = 256;
/// The longest line of lenient reading.
const LENIENT_LENGTH: usize = 1 << 20;

/// What is known of percent lines so far.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Tape {
    /// Nothing but blank lines yet.
    Unseen,
    /// The first line that is not blank was a percent sign.
    Percent,
    /// It was not.
    Plain,
}

/// An interpreter that can be set up before it reads, and asked afterwards.
///
/// [`read`](super::read) is the short way; this is for programs that begin in a known state, and
/// for tests. Reading a second input goes on where the first left off.
///
/// ```
/// use stave_parse::gcode::{Interpreter, ReadOptions, Sink};
/// # struct Nothing;
/// # impl Sink for Nothing {
/// #     type Error = std::convert::Infallible;
/// #     fn event(
/// #         &mut self,
/// #         _: u64,
/// #         _: &stave_toolpath::Event<'_>,
/// #     ) -> Result<(), Self::Error> { Ok(()) }
/// # }
/// let mut interpreter = Interpreter::new(&ReadOptions::default());
/// interpreter.read(&b"G20 G92 X1\n"[..], &mut Nothing).expect("a good line");
/// assert_eq!(interpreter.reading().x, 1.0);
/// assert_eq!(interpreter.position().x, 0.0);
/// ```
#[derive(Clone, Debug)]
pub struct Interpreter {
    pub(super) state: State,
    block_delete: bool,
    tape: Tape,
    number: Option<u64>,
    block: Block,
    plain: Words,
    /// Every line goes the general way, to be compared with the quick one.
    #[cfg(test)]
    pub(super) general_only: bool,
}

impl Interpreter {
    /// An interpreter at machine zero, in the modes a program starts in.
    #[must_use]
    pub fn new(options: &ReadOptions) -> Self {
        Self {
            state: State::new(options.strict),
            block_delete: options.block_delete,
            tape: Tape::Unseen,
            number: None,
            block: Block::new(),
            plain: Words::new(),
            #[cfg(test)]
            general_only: false,
        }
    }

    /// Where the machine stands, in machine coordinates.
    #[must_use]
    pub fn position(&self) -> Position {
        self.state.position
    }

    /// Puts the machine somewhere. Values that are not finite or beyond 1e9 are taken as zero.
    pub fn set_position(&mut self, position: Position) {
        let sane = |v: f64| if v.abs() <= parameters::FARTHEST { v } else { 0.0 };
        let p = position;
        self.state.position = Position {
            x: sane(p.x),
            y: sane(p.y),
            z: sane(p.z),
            a: sane(p.a),
            b: sane(p.b),
            c: sane(p.c),
        };
    }

    /// The position as the program reads it: from its origin with all offsets, lengths in the units
    /// in use.
    #[must_use]
    pub fn reading(&self) -> Position {
        self.state.reading()
    }

    /// The modes in effect.
    #[must_use]
    pub fn modes(&self) -> &Modes {
        &self.state.modes
    }

    /// A parameter as the program reads it, lengths in the units in use; `None` outside 1 to 5399.
    #[must_use]
    pub fn parameter(&self, index: u16) -> Option<f64> {
        parameters::index(f64::from(index))
            .ok()
            .map(|index| self.state.parameters.get(index, self.state.scale))
    }

    /// Sets a parameter, lengths in the units in use, as if the program had found it so: an origin
    /// of the coordinate system in use takes effect. False where index or value cannot be meant.
    pub fn set_parameter(&mut self, index: u16, value: f64) -> bool {
        let known = parameters::index(f64::from(index)).is_ok() && value.is_finite();
        if !known || self.state.parameters.set(index, value, self.state.scale).is_err() {
            return false;
        }
        let system = self.state.modes.coordinate_system;
        if (parameters::system_origin(system)..parameters::system_origin(system) + 6)
            .contains(&index)
        {
            self.state.choose_system(system);
        }
        true
    }

    /// Gives the length of a tool, mm, for G43. Values that are not finite are ignored.
    pub fn set_tool_length(&mut self, tool: u32, length_mm: f64) {
        if length_mm.is_finite() && length_mm.abs() <= parameters::FARTHEST {
            self.state.tools.insert(tool, length_mm);
        }
    }

    /// The N number of the line read last, if it had one.
    #[must_use]
    pub fn line_number(&self) -> Option<u64> {
        self.number
    }

    pub(super) fn take_warnings(&mut self) -> Vec<Warning> {
        std::mem::take(&mut self.state.warnings)
    }

    /// The longest line allowed, bytes without the line end.
    pub(super) fn longest(&self) -> usize {
        if self.state.strict { STRICT_LENGTH } else { LENIENT_LENGTH }
    }

    pub(super) fn strict(&self) -> bool {
        self.state.strict
    }

    /// Forgets about percent lines: a new program begins.
    pub(super) fn begin(&mut self) {
        self.tape = Tape::Unseen;
    }

    /// True where an opening percent line waits for its closing one.
    pub(super) fn percent_open(&self) -> bool {
        self.tape == Tape::Percent
    }

    /// The problem with an input that ends here without M2 or M30, if it has one.
    pub(super) fn unfinished(&self) -> Option<Problem> {
        match self.tape {
            Tape::Percent => Some(Problem::PercentNotClosed),
            _ if self.state.strict => Some(Problem::NoEnd),
            _ => None,
        }
    }

    /// Carries out the line that `bytes` begins with if it is a plain one: the number of bytes it
    /// took, line feed and all. There must be a line feed in `bytes`.
    #[inline]
    pub(super) fn plain_line<S: Sink>(
        &mut self,
        line: u64,
        bytes: &[u8],
        sink: &mut S,
    ) -> Option<Result<usize, Stop<S::Error>>> {
        #[cfg(test)]
        if self.general_only {
            return None;
        }
        let plain = plain::scan(bytes, self.state.strict, self.longest(), &mut self.plain)?;
        let outcome = self.state.run_plain(line, &plain, &self.plain, sink)?;
        self.number = plain.number;
        if !plain.blank && self.tape == Tape::Unseen {
            self.tape = Tape::Plain;
        }
        Some(outcome.map(|()| plain.used))
    }

    /// Carries out a line, given without its line end.
    pub(super) fn line<S: Sink>(
        &mut self,
        line: u64,
        raw: &[u8],
        sink: &mut S,
    ) -> Result<Flow, Stop<S::Error>> {
        if raw.len() > self.longest() {
            let at = u32::try_from(self.longest()).unwrap_or(u32::MAX);
            return Err(Fault::at(at, Problem::LongLine(self.longest())).into());
        }
        self.number = None;
        let text = raw.trim_ascii();
        // Within the longest line, which is checked above.
        let blanks = raw.len() - raw.trim_ascii_start().len();
        let start = u32::try_from(blanks).unwrap_or(u32::MAX);
        match text.first() {
            None => return Ok(Flow::More),
            Some(b'%') if text.len() == 1 => return self.percent(start).map_err(Stop::Fault),
            _ => {}
        }
        if self.tape == Tape::Unseen {
            self.tape = Tape::Plain;
        }
        if text.first() == Some(&b'$') {
            if self.state.strict {
                return Err(Fault::at(start, Problem::DollarLine).into());
            }
            pass::dollar(line, start, text, sink)?;
            return Ok(Flow::More);
        }
        let scope = Scope { parameters: &self.state.parameters, scale: self.state.scale };
        let rules = Rules { strict: self.state.strict, block_delete: self.block_delete, scope };
        self.block.parse(raw, rules)?;
        self.number = self.block.number;
        if self.block.skipped {
            return Ok(Flow::More);
        }
        if self.block.unknown_m.is_some() {
            self.state.unknown_m(line, raw, &self.block, sink)?;
            return Ok(Flow::More);
        }
        self.state.execute(line, raw, &self.block, sink)
    }

    fn percent(&mut self, at: u32) -> Result<Flow, Fault> {
        match self.tape {
            Tape::Unseen => {
                self.tape = Tape::Percent;
                Ok(Flow::More)
            }
            Tape::Percent => Ok(Flow::Closed),
            Tape::Plain => Err(Fault::at(at, Problem::PercentNotOpened)),
        }
    }
}
