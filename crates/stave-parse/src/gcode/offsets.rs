//! Where the program's numbers are counted from: coordinate systems, G92 and its kin, G10, homes.

use stave_toolpath::{Event, Position};

use super::block::Block;
use super::check::Plan;
use super::code::{Code, GGroup, whole};
use super::execute::{State, emit};
use super::fault::{Fault, Place, Stop};
use super::parameters::{HOME_G28, HOME_G30, ORIGIN_OFFSETS, SYSTEM, system_origin};
use super::problem::Problem;
use super::reader::Sink;
use super::words::{AXES, AXIS_LETTERS, letters};

/// A position's axes as a row.
pub(super) fn axes(p: &Position) -> [f64; 6] {
    [p.x, p.y, p.z, p.a, p.b, p.c]
}

fn position([x, y, z, a, b, c]: [f64; 6]) -> Position {
    Position { x, y, z, a, b, c }
}

impl State {
    pub(super) fn sum_offsets(&mut self) {
        for (sum, (origin, shift)) in
            self.offset.iter_mut().zip(self.origin.iter().zip(&self.shift))
        {
            *sum = origin + shift;
        }
        let [_, _, z, ..] = &mut self.offset;
        *z += self.tool_mm;
    }

    /// G54 to G59.3.
    pub(super) fn choose_system(&mut self, number: u8) {
        self.modes.coordinate_system = number;
        self.parameters.store(SYSTEM, f64::from(number));
        self.origin = self.parameters.six(system_origin(number));
        self.sum_offsets();
    }

    /// The position as the program reads it: in its units, from its origin.
    pub(super) fn reading(&self) -> Position {
        let mut row = axes(&self.position);
        for (axis, (value, offset)) in row.iter_mut().zip(&self.offset).enumerate() {
            *value = (*value - offset) / self.unit(axis);
        }
        position(row)
    }

    /// mm (degrees for rotary axes) to the unit of an axis.
    fn unit(&self, axis: usize) -> f64 {
        if axis < 3 { self.scale } else { 1.0 }
    }

    /// Step 19: G10, G28, G30, G92 to G92.3.
    pub(super) fn non_modal<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        plan: Plan,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let Some(code) = plan.non_modal else { return Ok(()) };
        match code.tenths {
            100 => self.set_system(block),
            280 => self.go_home(line, block, code, HOME_G28, sink)?,
            300 => self.go_home(line, block, code, HOME_G30, sink)?,
            920 => self.set_shift(block)?,
            921 => {
                self.suspend_shift();
                self.parameters.store_six(ORIGIN_OFFSETS, &[0.0; 6]);
            }
            922 => self.suspend_shift(),
            923 => {
                self.shift = self.parameters.six(ORIGIN_OFFSETS);
                self.modes.origin_offsets = true;
                self.sum_offsets();
            }
            _ => {}
        }
        Ok(())
    }

    /// G10 L2: the origin of a coordinate system, for the axes given (3.5.5).
    fn set_system(&mut self, block: &Block) {
        let number =
            block.words.get(b'P').and_then(whole).and_then(|n| u8::try_from(n).ok()).unwrap_or(1);
        let first = system_origin(number);
        let mut row = self.parameters.six(first);
        for (axis, (letter, origin)) in AXIS_LETTERS.into_iter().zip(&mut row).enumerate() {
            if let Some(value) = block.words.get(letter) {
                *origin = value * self.unit(axis);
            }
        }
        self.parameters.store_six(first, &row);
        if number == self.modes.coordinate_system {
            self.choose_system(number);
        }
    }

    /// G92: makes the current point read as given (3.5.18).
    #[expect(clippy::indexing_slicing, reason = "an axis is below six")]
    fn set_shift(&mut self, block: &Block) -> Result<(), Fault> {
        let here = axes(&self.position);
        for (axis, letter) in AXIS_LETTERS.into_iter().enumerate() {
            if let Some(value) = block.words.get(letter) {
                let reading = here[axis] - self.offset[axis];
                let shift = reading - value * self.unit(axis) + self.shift[axis];
                if shift.abs() > super::parameters::FARTHEST {
                    return Err(Fault::letter(letter, Problem::OutOfRange(char::from(letter))));
                }
                self.shift[axis] = shift;
            }
        }
        self.parameters.store_six(ORIGIN_OFFSETS, &self.shift);
        self.modes.origin_offsets = true;
        self.sum_offsets();
        Ok(())
    }

    /// G92.2: the offsets rest, their parameters stay.
    pub(super) fn suspend_shift(&mut self) {
        self.shift = [0.0; 6];
        self.modes.origin_offsets = false;
        self.sum_offsets();
    }

    /// G28 and G30: through the point given, then home, both as travels (3.5.8).
    ///
    /// The home is the machine's, so it is known only where the program itself has set the
    /// parameters. An axis the program has never named stays where it is, whatever its home.
    fn go_home<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        code: Code,
        first: u16,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        let at = block.g_at(GGroup::NonModal);
        let fresh = block.words.present() & AXES & !self.touched;
        if fresh != 0 {
            self.first_words(line, fresh, sink)?;
        }
        let known = |axis: u16| self.parameters.home_known(first + axis);
        // With no home known at all there is nothing to go to, touched or not.
        let unknown = if (0..6).any(known) {
            (first..).zip(AXIS_LETTERS).find(|&(parameter, letter)| {
                !self.parameters.home_known(parameter) && self.touched & letters(&[letter]) != 0
            })
        } else {
            Some((first, b'X'))
        };
        if let Some((parameter, _)) = unknown {
            return Err(Fault::at(at, Problem::NoHome { code, parameter }).into());
        }
        if block.words.any(AXES) {
            self.run_motion(line, super::modes::Motion::Travel, &block.words, false, sink)?;
        }
        let mut row = axes(&self.position);
        for (parameter, value) in (first..).zip(&mut row) {
            if self.parameters.home_known(parameter) {
                *value = self.parameters.stored(parameter);
            }
        }
        let to = position(row);
        emit(sink, line, Place::Byte(at), &Event::Travel { from: &self.position, to: &to })?;
        self.position = to;
        Ok(())
    }
}
