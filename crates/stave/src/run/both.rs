//! One reading of a program for two who look at it.

use stave_parse::gcode::Sink;
use stave_toolpath::Event;

use crate::error::Refusal;

/// Hands on to both, to the first first.
pub(crate) struct Both<'a, A, B>(pub(crate) A, pub(crate) &'a mut B);

impl<A: Sink<Error = Refusal>, B: Sink<Error = Refusal>> Sink for Both<'_, A, B> {
    type Error = Refusal;

    const COUNTS_BYTES: bool = A::COUNTS_BYTES || B::COUNTS_BYTES;

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        self.0.event(line, event)?;
        self.1.event(line, event)
    }

    #[inline]
    fn begins_line(&mut self, line: u64, bytes: usize) {
        self.0.begins_line(line, bytes);
        self.1.begins_line(line, bytes);
    }

    fn idle(&mut self) -> Result<(), Refusal> {
        self.0.idle()?;
        self.1.idle()
    }
}

/// Looks at nothing.
pub(crate) struct Nothing;

impl Sink for Nothing {
    type Error = Refusal;

    #[inline]
    fn event(&mut self, _: u64, _: &Event<'_>) -> Result<(), Refusal> {
        Ok(())
    }
}
