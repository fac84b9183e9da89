//! Where the steps of a run go, and the lines between them.

use std::io::Write;

use stave_check::Code;
use stave_plan::Follow;
use stave_toolpath::{LinePart, Step, StepSink};
use stave_write::gcode::{Forgotten, Writer};

use super::Onlookers;
use crate::error::Refusal;

/// Takes steps, and what stands between them.
pub(crate) trait RunOut: StepSink<Error = Refusal> {
    /// A comment of the program's own.
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal>;

    /// A line that moves nothing; a stop came before it if it has an M word.
    fn line(&mut self, text: &[u8]) -> Result<(), Refusal>;

    /// What came in between may have changed any mode, or where the machine stands.
    fn forget(&mut self, what: Forgotten);

    /// All that is gathered is handed on: the input waits.
    fn flush(&mut self) -> Result<(), Refusal>;

    /// What follows is not fit to be written: what is lit goes out.
    fn halt(&mut self) -> Result<(), Refusal> {
        Ok(())
    }

    /// The run has come to its end: what is held back for what may come is handed on.
    fn settle(&mut self) -> Result<(), Refusal> {
        Ok(())
    }

    /// Many steps, in their order; what they came in is given back, to be filled anew, unless it
    /// goes on with them.
    fn steps(&mut self, steps: Vec<Step>) -> Result<Option<Vec<Step>>, Refusal> {
        for step in &steps {
            self.step(step)?;
        }
        Ok(Some(steps))
    }
}

impl<O: RunOut + ?Sized> RunOut for &mut O {
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        (**self).comment(text)
    }

    fn line(&mut self, text: &[u8]) -> Result<(), Refusal> {
        (**self).line(text)
    }

    fn forget(&mut self, what: Forgotten) {
        (**self).forget(what);
    }

    fn flush(&mut self) -> Result<(), Refusal> {
        (**self).flush()
    }

    fn halt(&mut self) -> Result<(), Refusal> {
        (**self).halt()
    }

    fn settle(&mut self) -> Result<(), Refusal> {
        (**self).settle()
    }

    fn steps(&mut self, steps: Vec<Step>) -> Result<Option<Vec<Step>>, Refusal> {
        (**self).steps(steps)
    }
}

/// Nothing is written: the run is only looked at.
#[derive(Debug)]
pub(crate) struct Quiet<S>(pub(crate) S);

impl<S: StepSink<Error: Into<Refusal>>> StepSink for Quiet<S> {
    type Error = Refusal;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        self.0.step(step).map_err(Into::into)
    }

    #[inline]
    fn on_line(&mut self, part: LinePart) {
        self.0.on_line(part);
    }

    fn on_comment(&mut self, text: &[u8]) {
        self.0.on_comment(text);
    }
}

impl<S: StepSink<Error: Into<Refusal>>> RunOut for Quiet<S> {
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        self.0.on_comment(text);
        Ok(())
    }

    fn line(&mut self, _: &[u8]) -> Result<(), Refusal> {
        Ok(())
    }

    fn forget(&mut self, _: Forgotten) {}

    fn flush(&mut self) -> Result<(), Refusal> {
        Ok(())
    }
}

/// The run goes on to be written up to the first step that the judge refuses; what follows is
/// judged all the same, so that all is told that is wrong.
#[derive(Debug)]
pub(crate) struct Judged<'a, O, F> {
    pub(crate) out: O,
    pub(crate) onlookers: Onlookers<'a, F>,
    /// Findings that are accepted.
    pub(crate) allow: &'a [Code],
    /// Whether a step was refused.
    pub(crate) refused: bool,
}

impl<O, F: Follow> Judged<'_, O, F> {
    #[inline]
    fn look(&mut self, step: &Step) {
        match self.onlookers.step(step) {
            Ok(()) => {}
            Err(never) => match never {},
        }
    }
}

impl<O: RunOut, F: Follow> StepSink for Judged<'_, O, F> {
    type Error = Refusal;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        self.look(step);
        if !self.refused && self.onlookers.judge.refuses(self.allow).is_some() {
            self.refused = true;
            self.out.halt()?;
        }
        if self.refused { Ok(()) } else { self.out.step(step) }
    }
}

impl<O: RunOut, F: Follow> RunOut for Judged<'_, O, F> {
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        self.onlookers.on_comment(text);
        if self.refused { Ok(()) } else { self.out.comment(text) }
    }

    fn line(&mut self, text: &[u8]) -> Result<(), Refusal> {
        if self.refused { Ok(()) } else { self.out.line(text) }
    }

    fn forget(&mut self, what: Forgotten) {
        self.out.forget(what);
    }

    fn flush(&mut self) -> Result<(), Refusal> {
        self.out.flush()
    }

    /// Where all of them pass they go on as they came, without being copied.
    fn steps(&mut self, mut steps: Vec<Step>) -> Result<Option<Vec<Step>>, Refusal> {
        let halted = self.refused;
        let mut passed = if halted { 0 } else { steps.len() };
        for (at, step) in steps.iter().enumerate() {
            self.look(step);
            if !self.refused && self.onlookers.judge.refuses(self.allow).is_some() {
                self.refused = true;
                passed = at;
            }
        }
        steps.truncate(passed);
        if halted {
            return Ok(Some(steps));
        }
        let spare = self.out.steps(steps)?;
        if self.refused {
            self.out.halt()?;
        }
        Ok(spare)
    }
}

/// The run is written.
#[derive(Debug)]
pub(crate) struct Written<'w, W: Write>(pub(crate) &'w mut Writer<W>);

impl<W: Write> StepSink for Written<'_, W> {
    type Error = Refusal;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        Ok(self.0.step(step)?)
    }
}

impl<W: Write> RunOut for Written<'_, W> {
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        Ok(self.0.comment(text)?)
    }

    fn line(&mut self, text: &[u8]) -> Result<(), Refusal> {
        Ok(self.0.line(text)?)
    }

    fn forget(&mut self, what: Forgotten) {
        self.0.forget(what);
    }

    fn flush(&mut self) -> Result<(), Refusal> {
        Ok(self.0.flush()?)
    }

    fn halt(&mut self) -> Result<(), Refusal> {
        Ok(self.0.halt()?)
    }
}
