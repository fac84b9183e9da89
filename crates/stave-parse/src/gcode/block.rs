//! A line as a block: the words, settings and comments on it, sorted by kind.

use super::closed::{COMMENT, Closed, Comment};
use super::code::{self, Code, G_GROUPS, GGroup, M_GROUPS, MGroup};
use super::dialect;
use super::expression::{Parsed, Scope, Trouble, number, parameter_index, real_value, refuse};
use super::fault::Fault;
use super::line_number;
use super::problem::{Problem, Shown};
use super::words::{AXES, OFFSETS, Words, letters};

/// The word letters of table 3 but G, M and N, which are kept elsewhere.
const WORD_LETTERS: u32 = letters(b"ABCDFHIJKLPQRSTXYZ");

/// Words that would be lost if they stood before an unknown M word, whose line is passed on or
/// dropped as a whole.
const BEFORE_UNKNOWN_M: u32 = AXES | OFFSETS | letters(b"FRST");

const G80: Code = Code::g(800);

/// An M word without a meaning here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct UnknownM {
    pub(super) number: u32,
    pub(super) at: u32,
}

/// A parsed line. Kept from line to line, so that its buffers are allocated once.
#[derive(Clone, Debug)]
pub(super) struct Block {
    pub(super) closed: Closed,
    /// The N number, if any.
    pub(super) number: Option<u64>,
    pub(super) words: Words,
    /// Parameter settings in the order written.
    pub(super) settings: Vec<(u16, f64)>,
    /// The first unknown M word of lenient reading.
    pub(super) unknown_m: Option<UnknownM>,
    /// The raw offset where the block begins, after a slash and the N number.
    pub(super) body: u32,
    /// The bytes of closed text from there on.
    body_left: usize,
    /// True where the block's line was skipped for its slash.
    pub(super) skipped: bool,
    g: [Option<Code>; G_GROUPS],
    m: [Option<Code>; M_GROUPS],
    g_at: [u32; G_GROUPS],
    m_at: [u32; M_GROUPS],
    word_at: [u32; 26],
    m_count: u32,
    setting_at: u32,
    /// A motion word beside G80: harmless where nothing moves.
    beside_cancel: Option<(u32, Code, Code)>,
    /// What is wrong with the words taken together.
    late: Option<Fault>,
}

/// What a block is parsed by.
#[derive(Clone, Copy)]
pub(super) struct Rules<'p> {
    pub(super) strict: bool,
    pub(super) block_delete: bool,
    pub(super) scope: Scope<'p>,
}

impl Block {
    pub(super) fn new() -> Self {
        Self {
            closed: Closed::default(),
            number: None,
            words: Words::new(),
            settings: Vec::new(),
            unknown_m: None,
            body: 0,
            body_left: 0,
            skipped: false,
            g: [None; G_GROUPS],
            m: [None; M_GROUPS],
            g_at: [0; G_GROUPS],
            m_at: [0; M_GROUPS],
            word_at: [0; 26],
            m_count: 0,
            setting_at: 0,
            beside_cancel: None,
            late: None,
        }
    }

    /// The G word of a group.
    #[expect(clippy::indexing_slicing, reason = "a group is below the number of groups")]
    pub(super) fn g(&self, group: GGroup) -> Option<Code> {
        self.g[group as usize]
    }

    /// The M word of a group.
    #[expect(clippy::indexing_slicing, reason = "a group is below the number of groups")]
    pub(super) fn m(&self, group: MGroup) -> Option<Code> {
        self.m[group as usize]
    }

    /// The raw offset of the G word of a group.
    #[expect(clippy::indexing_slicing, reason = "a group is below the number of groups")]
    pub(super) fn g_at(&self, group: GGroup) -> u32 {
        self.g_at[group as usize]
    }

    /// The raw offset of the M word of a group.
    #[expect(clippy::indexing_slicing, reason = "a group is below the number of groups")]
    pub(super) fn m_at(&self, group: MGroup) -> u32 {
        self.m_at[group as usize]
    }

    /// The raw offset of the word with an upper-case letter.
    pub(super) fn word_at(&self, letter: u8) -> u32 {
        self.word_at.get(usize::from(letter.wrapping_sub(b'A'))).copied().unwrap_or(0)
    }

    /// The raw offset of the first parameter setting.
    pub(super) fn setting_at(&self) -> u32 {
        self.setting_at
    }

    /// The G and M words on the line.
    pub(super) fn codes(&self) -> impl Iterator<Item = Code> {
        self.g.iter().chain(&self.m).flatten().copied()
    }

    /// True where no word was read yet.
    fn is_empty(&self) -> bool {
        self.words.present() == 0 && self.settings.is_empty() && self.codes().next().is_none()
    }

    /// The comments on the line.
    pub(super) fn comments(&self) -> &[Comment] {
        &self.closed.comments
    }

    /// The closed text after a slash and the N number.
    pub(super) fn body_text(&self) -> &[u8] {
        let text = &self.closed.text;
        text.get(text.len().saturating_sub(self.body_left)..).unwrap_or_default()
    }

    /// Parses a raw line, without its line end.
    pub(super) fn parse(&mut self, line: &[u8], rules: Rules<'_>) -> Result<(), Fault> {
        self.clear();
        let mut closed = std::mem::take(&mut self.closed);
        closed.fill(line, rules.strict);
        let trouble = match self.block(&closed, rules) {
            Ok(_) => None,
            Err(nom::Err::Error(trouble) | nom::Err::Failure(trouble)) => Some(trouble),
            // The parsers are all of the complete kind.
            Err(nom::Err::Incomplete(_)) => {
                Some(Trouble { left: 0, problem: Problem::ValueMissing })
            }
        };
        self.closed = closed;
        let Some(trouble) = trouble else { return self.late.take().map_or(Ok(()), Err) };
        if self.unknown_m.is_some() {
            // What follows an unknown M word is free text: the line is passed through whole.
            return Ok(());
        }
        match self.closed.fault.take() {
            Some(fault) if trouble.left == 0 => Err(fault),
            _ => {
                let at = self.closed.offset(trouble.left);
                Err(Fault::at(at, dialect::explain(self, trouble.left, trouble.problem)))
            }
        }
    }

    fn clear(&mut self) {
        self.number = None;
        self.words.clear();
        self.settings.clear();
        self.unknown_m = None;
        self.skipped = false;
        self.g = [None; G_GROUPS];
        self.m = [None; M_GROUPS];
        self.m_count = 0;
        self.beside_cancel = None;
        self.late = None;
        self.body = 0;
        self.body_left = 0;
    }

    /// The whole line: slash, line number, segments.
    fn block<'a>(&mut self, closed: &'a Closed, rules: Rules<'_>) -> Parsed<'a, ()> {
        let mut text: &[u8] = &closed.text;
        if let [b'/', rest @ ..] = text {
            if rules.block_delete {
                self.skipped = true;
                return Ok((&[], ()));
            }
            text = rest;
        }
        if let [b'N', rest @ ..] = text {
            text = self.line_number(rules, rest)?.0;
        }
        self.body = closed.offset(text.len());
        self.body_left = text.len();
        while !text.is_empty() {
            text = self.segment(closed, rules, text)?.0;
        }
        if let Some((at, first, second)) = self.beside_cancel
            && self.words.any(AXES | OFFSETS | letters(b"R"))
        {
            self.late = Some(Fault::at(at, same_group(first, second)));
        }
        match &closed.fault {
            // Raised here, where the parser has come to it.
            Some(fault) => refuse(text, (*fault.problem).clone()),
            None => Ok((text, ())),
        }
    }

    fn line_number<'a>(&mut self, rules: Rules<'_>, input: &'a [u8]) -> Parsed<'a, ()> {
        match line_number::read(input, 0, rules.strict) {
            Ok((number, end)) => {
                self.number = Some(number);
                Ok((input.get(end..).unwrap_or_default(), ()))
            }
            Err((problem, at)) => refuse(input.get(at..).unwrap_or_default(), problem),
        }
    }

    /// One word, setting or comment.
    fn segment<'a>(
        &mut self,
        closed: &Closed,
        rules: Rules<'_>,
        input: &'a [u8],
    ) -> Parsed<'a, ()> {
        match input {
            [COMMENT, rest @ ..] => Ok((rest, ())),
            [b'#', rest @ ..] => {
                if self.settings.is_empty() {
                    self.setting_at = closed.offset(input.len());
                }
                self.setting(rules.scope, rest)
            }
            [b'G', rest @ ..] => {
                let (rest, value) = real_value(rules.scope, 0, rest)?;
                self.g_word(closed, rules.strict, input, value)?;
                Ok((rest, ()))
            }
            [b'M', rest @ ..] => {
                // Digits first: what follows an unknown M word need not be a value at all.
                let (rest, value) = match number(rest) {
                    Ok(plain) => plain,
                    Err(_) => real_value(rules.scope, 0, rest)?,
                };
                self.m_word(closed, rules.strict, input, value)?;
                Ok((rest, ()))
            }
            [b'O', rest @ ..] => match dialect::program_number(rest, rules.strict) {
                Ok(rest) if self.is_empty() => Ok((rest, ())),
                Ok(_) => refuse(input, Problem::BadProgramNumber),
                Err((left, problem)) => Err(nom::Err::Failure(Trouble { left, problem })),
            },
            [b'N', ..] => refuse(input, Problem::LateLineNumber),
            [b'%', ..] => refuse(input, Problem::PercentNotAlone),
            [letter @ b'A'..=b'Z', rest @ ..] if letters(&[*letter]) & WORD_LETTERS != 0 => {
                let (rest, value) = real_value(rules.scope, 0, rest)?;
                let index = usize::from(letter - b'A');
                if !self.words.set(index, value) {
                    return refuse(input, Problem::Twice(char::from(*letter)));
                }
                if let Some(at) = self.word_at.get_mut(index) {
                    *at = closed.offset(input.len());
                }
                Ok((rest, ()))
            }
            [letter @ b'A'..=b'Z', ..] => refuse(input, Problem::NotALetter(char::from(*letter))),
            [byte, ..] => refuse(input, Problem::Unexpected(Shown(*byte))),
            [] => Ok((input, ())),
        }
    }

    /// A parameter setting, after its `#` (3.3.3). It takes effect when the whole line is read.
    fn setting<'a>(&mut self, scope: Scope<'_>, input: &'a [u8]) -> Parsed<'a, ()> {
        let (rest, index) = parameter_index(scope, 0, input)?;
        let [b'=', rest @ ..] = rest else {
            return refuse(rest, Problem::Expected('='));
        };
        let (rest, value) = real_value(scope, 0, rest)?;
        self.settings.push((index, value));
        Ok((rest, ()))
    }

    #[expect(clippy::indexing_slicing, reason = "a group is below the number of groups")]
    fn g_word(
        &mut self,
        closed: &Closed,
        strict: bool,
        input: &[u8],
        value: f64,
    ) -> Result<(), nom::Err<Trouble>> {
        let refused = |problem| nom::Err::Failure(Trouble { left: input.len(), problem });
        let known = code::whole(value * 10.0)
            .and_then(|tenths| u16::try_from(tenths).ok())
            .and_then(|tenths| code::g_group(tenths).map(|group| (Code::g(tenths), group)));
        let (code, group) = known.ok_or_else(|| refused(Problem::UnknownG(value)))?;
        let slot = &mut self.g[group as usize];
        let at = closed.offset(input.len());
        if let Some(first) = *slot {
            // One motion word beside G80 is for the end of the line to judge.
            let cancels = (first == G80) != (code == G80) && self.beside_cancel.is_none();
            if strict || !cancels {
                return Err(refused(same_group(first, code)));
            }
            self.beside_cancel = Some((at, first, code));
            if code == G80 {
                return Ok(());
            }
        }
        *slot = Some(code);
        self.g_at[group as usize] = at;
        Ok(())
    }

    #[expect(clippy::indexing_slicing, reason = "a group is below the number of groups")]
    fn m_word(
        &mut self,
        closed: &Closed,
        strict: bool,
        input: &[u8],
        value: f64,
    ) -> Result<(), nom::Err<Trouble>> {
        let refused = |problem| nom::Err::Failure(Trouble { left: input.len(), problem });
        let number = code::whole(value).ok_or_else(|| refused(Problem::NotWhole('M', value)))?;
        let at = closed.offset(input.len());
        let Some(group) = code::m_group(number) else {
            if matches!(number, 98 | 99) {
                return Err(refused(Problem::Subprogram(number)));
            }
            if strict {
                return Err(refused(Problem::UnknownM(number)));
            }
            if self.unknown_m.is_none() {
                // What stands before it would be lost; what stands behind it is its own.
                if self.words.any(BEFORE_UNKNOWN_M) {
                    return Err(refused(Problem::UnknownMWithMotion(
                        number,
                        "what stands before it".into(),
                    )));
                }
                self.unknown_m = Some(UnknownM { number, at });
            }
            return Ok(());
        };
        #[expect(clippy::cast_possible_truncation, reason = "a known M word is below 100")]
        let code = Code::m(number as u16);
        let slot = &mut self.m[group as usize];
        if let Some(first) = *slot {
            return Err(refused(same_group(first, code)));
        }
        self.m_count += 1;
        if self.m_count > 4 {
            return Err(refused(Problem::ManyMWords));
        }
        *slot = Some(code);
        self.m_at[group as usize] = at;
        Ok(())
    }
}

fn same_group(first: Code, second: Code) -> Problem {
    if first == second {
        // Said as the code, not as "the same group as itself".
        return Problem::SameCode(first);
    }
    Problem::SameGroup(first, second)
}
