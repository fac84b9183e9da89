//! M words: tools, beam, coolant, overrides, stops and the end (3.6).

use stave_toolpath::{BeamWord, EndWord, Event, FeedMode, PassKind, PauseWord, Plane};

use super::block::Block;
use super::code::{Code, MGroup, whole};
use super::execute::{Flow, State, byte, emit};
use super::fault::{Place, Stop};
use super::modes::{Coolant, Distance, Motion};
use super::reader::{Sink, WarningCode};

/// A word that is known to move nothing.
fn known(text: &[u8]) -> Event<'_> {
    Event::Pass { kind: PassKind::Known, text, raw: text }
}

impl State {
    /// Steps 5 to 9: tools, beam, coolant, overrides.
    pub(super) fn m_words<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        sink: &mut S,
    ) -> Result<(), Stop<S::Error>> {
        if let Some(tool) = block.words.get(b'T').and_then(whole) {
            self.text.clear();
            self.text.push(b'T');
            self.text.extend_from_slice(tool.to_string().as_bytes());
            emit(sink, line, byte(block.word_at(b'T')), &known(&self.text))?;
        }
        if block.m(MGroup::Tool).is_some() {
            let at = byte(block.m_at(MGroup::Tool));
            // A tool change leaves the spindle stopped (3.6.3).
            if self.modes.beam.is_some() {
                self.beam(line, None, at, sink)?;
                let lit_anew = |code: Code| code != Code::m(5);
                if !block.m(MGroup::Spindle).is_some_and(lit_anew) {
                    self.warn(line, WarningCode::BeamOffAtToolChange);
                }
            }
            emit(sink, line, at, &known(b"M6"))?;
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
                    *coolant = Coolant::default();
                    b"M9"
                }
            };
            emit(sink, line, byte(block.m_at(MGroup::Coolant)), &known(text))?;
        }
        if let Some(code) = block.m(MGroup::Overrides) {
            self.modes.overrides = code == Code::m(48);
            let text: &[u8] = if self.modes.overrides { b"M48" } else { b"M49" };
            emit(sink, line, byte(block.m_at(MGroup::Overrides)), &known(text))?;
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

    /// Step 21: stops, and the resets of the end (3.6.1).
    pub(super) fn stop<S: Sink>(
        &mut self,
        line: u64,
        block: &Block,
        sink: &mut S,
    ) -> Result<Flow, Stop<S::Error>> {
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
        modes.coolant = Coolant::default();
        self.suspend_shift();
        self.choose_system(1);
        let word = if rewind { EndWord::M30 } else { EndWord::M2 };
        emit(sink, line, at, &Event::End { word: Some(word) })
    }
}
