//! Which lines of a flat program go through that move nothing of the work.

use stave_check::{Code, Finding};
use stave_parse::gcode::Sink;
use stave_setup::Setup;
use stave_toolpath::{Event, PassKind};

use crate::error::Refusal;

/// More distinct lines than this are not told one by one.
const MOST_TOLD: usize = 20;
/// A controller may go to a place of its own for it, and its person touches the head.
const TOOL_CHANGE: &[u8] = b"M6";
/// The longest line that is shown, characters.
const SHOWN: usize = 60;

/// Which lines go through.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Pass {
    /// None, comments and messages neither.
    None,
    /// Comments, messages, T, M6, coolant and the machine file's air words.
    #[default]
    Known,
    /// All that reads as words.
    All,
}

/// What became of the lines of one program.
#[derive(Clone, Debug)]
pub(crate) struct Passing {
    pub(crate) rule: Pass,
    air: Vec<String>,
    told: Vec<Told>,
    more: u64,
    /// Whether the beam word of a finished program is in effect.
    lit: bool,
    /// Its S word in effect.
    power_s: Option<f64>,
    /// Of what is told, the line after which it has not travelled yet.
    moved_by: Option<usize>,
}

/// Whether the machine may stand elsewhere after a line; `is_air` where it is one of the machine's
/// own words for the air.
pub(crate) fn may_move(kind: PassKind, text: &[u8], is_air: bool) -> bool {
    (kind != PassKind::Known && !is_air) || text == TOOL_CHANGE
}

/// What becomes of one line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Passed {
    pub(crate) through: bool,
    /// The machine may stand elsewhere after it.
    pub(crate) may_move: bool,
}

/// A line that may move something.
#[derive(Clone, Debug)]
struct Told {
    shown: String,
    line: u64,
    through: bool,
    lit: bool,
    /// The first line that burns from wherever it leaves the machine.
    burns_on: Option<u64>,
}

/// The lines of a finished program that may move something: there is no rule any more, they are in
/// it.
impl Sink for Passing {
    type Error = Refusal;

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Pass { kind, text, raw } => {
                self.line(line, kind, text, raw);
            }
            Event::Beam { word } => self.lit = word.is_some(),
            Event::Power { s } => self.power_s = Some(s),
            Event::Travel { .. } => self.moved_by = None,
            Event::Straight { .. } | Event::Arc { .. }
                if self.lit && self.power_s.is_none_or(|s| s > 0.0) =>
            {
                let moved_by = self.moved_by.take();
                if let Some(told) = moved_by.and_then(|index| self.told.get_mut(index)) {
                    told.burns_on.get_or_insert(line);
                }
            }
            _ => {}
        }
        Ok(())
    }
}

impl Passing {
    pub(crate) fn new(rule: Pass, setup: &Setup) -> Self {
        let air = setup.machine.controller.air.iter();
        let words = air.flat_map(|air| air.low.iter().chain(&air.high).chain([&air.off]));
        let air = words.map(|word| word.to_ascii_uppercase()).collect();
        Self { rule, air, told: Vec::new(), more: 0, lit: false, power_s: None, moved_by: None }
    }

    /// Whether comments go through.
    pub(crate) fn comments(&self) -> bool {
        self.rule != Pass::None
    }

    /// What becomes of a line; one that may move something is kept to be told of.
    pub(crate) fn line(&mut self, line: u64, kind: PassKind, text: &[u8], raw: &[u8]) -> Passed {
        let known = kind == PassKind::Known
            || self.air.iter().any(|word| word.as_bytes().eq_ignore_ascii_case(text));
        let through = match self.rule {
            Pass::None => false,
            Pass::Known => known,
            Pass::All => true,
        };
        if !known {
            self.moved_by = self.tell(line, raw, through);
        }
        Passed { through, may_move: may_move(kind, text, known) }
    }

    /// Which of what is told it is.
    fn tell(&mut self, line: u64, raw: &[u8], through: bool) -> Option<usize> {
        let text = String::from_utf8_lossy(raw);
        let clean = |c: char| if c.is_control() { ' ' } else { c };
        let shown: String = text.trim().chars().map(clean).take(SHOWN).collect();
        let lit = self.lit;
        let known = self.told.iter().position(|told| told.shown == shown && told.lit == lit);
        if known.is_some() {
            return known;
        }
        if self.told.len() >= MOST_TOLD {
            self.more += 1;
            return None;
        }
        self.told.push(Told { shown, line, through, lit, burns_on: None });
        Some(self.told.len() - 1)
    }

    /// A finding for each distinct line that may move something.
    pub(crate) fn findings(&self) -> Vec<Finding> {
        let mut all: Vec<Finding> = self
            .told
            .iter()
            .map(|Told { shown: text, line, through, lit, burns_on }| {
                let message = if *lit {
                    format!(
                        "\"{text}\" stands where the beam is on: a controller that does not know \
                         it may burn there while the work stands; put M5 before it"
                    )
                } else if let Some(on) = burns_on {
                    format!(
                        "\"{text}\" may move the machine, and line {on} burns from wherever that \
                         leaves it: put a G0 to its start before it, with every axis"
                    )
                } else if *through {
                    format!(
                        "\"{text}\" goes through: what it does only the controller knows; before \
                         anything burns, the machine comes back in the dark"
                    )
                } else {
                    format!(
                        "\"{text}\" is left out: it may move something; --pass all lets it through"
                    )
                };
                Finding::new(Code::Passed, message).on_line(*line)
            })
            .collect();
        if self.more > 0 {
            let message = format!("and {} more lines like these", self.more);
            all.push(Finding::new(Code::Passed, message));
        }
        all
    }
}
