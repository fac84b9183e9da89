//! A file on its way to being read, and the faults found on the way.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeTable;

use crate::section::Section;
use crate::syntax::syntax_fault;
use crate::text::Text;
use crate::{Fault, Faults, LengthUnit, SettingsFile, Values};

/// What stands between blanks and signs of TOML around a comma at a place.
fn word_of_comma(text: &str, at: usize) -> &str {
    let apart = |c: char| c.is_whitespace() || matches!(c, '=' | '[' | ']' | '{' | '}' | '#');
    let (Some(before), Some(after)) = (text.get(..at), text.get(at..)) else { return "" };
    if !after.starts_with(',') {
        return "";
    }
    let from = before.rfind(apart).map_or(0, |last| last + 1);
    let to = at + after.find(apart).unwrap_or(after.len());
    text.get(from..to).unwrap_or_default()
}

/// The largest file read, bytes. A blank of 100,000 stations is half of it; parsing takes some 50
/// times as much memory.
pub const MOST_FILE_BYTES: usize = 8 << 20;

/// Files up to this size, bytes, are told all their syntax errors at once. Of larger ones the first
/// is told: every second byte may be an error, and each costs hundreds of bytes.
const MOST_BYTES_FOR_ALL_ERRORS: usize = 256 << 10;

/// The most faults told of one file; a file with more is not one of ours.
const MOST_FAULTS: usize = 50;

/// A file on its way to being read.
pub(crate) struct Reader<'t> {
    pub(crate) text: Text<'t>,
    faults: Vec<(usize, Fault)>,
    /// Past [`MOST_FAULTS`], faults are only counted.
    pub(crate) untold: usize,
    warnings: Vec<Fault>,
    /// Lines with syntax errors: what was salvaged from them is not judged.
    broken_lines: Vec<usize>,
    /// The keys known above the first section.
    pub(crate) top_keys: Vec<&'static str>,
    pub(crate) unit: LengthUnit,
}

/// Parses `text` and hands its table to `read`; whatever went wrong comes back as one list.
pub(crate) fn read_file<T>(
    text: &str,
    file: &str,
    kind: SettingsFile,
    read: impl FnOnce(&mut Section<'_, '_, '_>) -> Option<T>,
) -> Result<(T, Vec<Fault>, Values), Faults> {
    if text.len() > MOST_FILE_BYTES {
        let message =
            format!("{file}: has {} bytes, but at most {MOST_FILE_BYTES} are read", text.len());
        return Err(Fault::new(None, message).into());
    }
    let (table, errors) = if text.len() <= MOST_BYTES_FOR_ALL_ERRORS {
        DeTable::parse_recoverable(text)
    } else {
        match DeTable::parse(text) {
            Ok(table) => (table, Vec::new()),
            Err(error) => (Spanned::new(0..0, DeTable::new()), vec![error]),
        }
    };
    let mut reader = Reader {
        text: Text::new(text, file),
        faults: Vec::new(),
        untold: 0,
        warnings: Vec::new(),
        broken_lines: Vec::new(),
        top_keys: Vec::new(),
        unit: LengthUnit::Mm,
    };
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        let found = reader.text.shown(&span, 40);
        reader.fault(&span, syntax_fault(error, &found, word_of_comma(text, span.start)));
    }
    reader.broken_lines = errors
        .iter()
        .flat_map(|error| {
            let span = error.span().unwrap_or(0..0);
            reader.text.line_of(span.start)..=reader.text.line_of(span.end)
        })
        .collect();
    reader.broken_lines.sort_unstable();
    let mut section = reader.section(table.get_ref(), 0..0, String::new());
    // An order has no lengths.
    if kind != SettingsFile::Order
        && let Some(unit) = section.word::<LengthUnit>("units")
    {
        section.reader.unit = unit.value;
    }
    let value = read(&mut section);
    section.finish();
    let warnings = std::mem::take(&mut reader.warnings);
    let unit = reader.unit;
    let faults = reader.into_faults();
    match value {
        Some(value) if faults.as_slice().is_empty() => {
            Ok((value, warnings, Values::of_table(kind, table.get_ref(), unit)))
        }
        // Every way to no value tells a fault first; an empty list would be a fault of ours.
        _ if faults.as_slice().is_empty() => {
            Err(Fault::new(None, format!("{file}: cannot be read")).into())
        }
        _ => Err(faults),
    }
}

impl<'t> Reader<'t> {
    pub(crate) fn section<'r, 'd>(
        &'r mut self,
        table: &'d DeTable<'d>,
        span: Range<usize>,
        name: String,
    ) -> Section<'r, 't, 'd> {
        Section::new(self, table, span, name)
    }

    pub(crate) fn fault(&mut self, span: &Range<usize>, message: String) {
        let line = self.text.line_of(span.start);
        if self.broken_lines.binary_search(&line).is_ok() {
            return;
        }
        if self.full() {
            self.untold += 1;
            return;
        }
        let fault = Fault::new(Some(self.text.source(span)), message);
        self.faults.push((span.start, fault));
    }

    pub(crate) fn warn(&mut self, span: &Range<usize>, message: String) {
        if self.warnings.len() < MOST_FAULTS {
            self.warnings.push(Fault::new(Some(self.text.source(span)), message));
        }
    }

    pub(crate) fn full(&self) -> bool {
        self.faults.len() >= MOST_FAULTS
    }

    /// True where a syntax error may have swallowed what now seems missing.
    pub(crate) fn broken(&self) -> bool {
        !self.broken_lines.is_empty()
    }

    fn into_faults(mut self) -> Faults {
        self.faults.sort_by_key(|(start, _)| *start);
        let mut list: Vec<Fault> = self.faults.into_iter().map(|(_, fault)| fault).collect();
        if self.untold > 0 {
            let last = list.last().and_then(|fault| fault.from.clone());
            list.push(Fault::new(last, format!("and {} more faults like these", self.untold)));
        }
        list.into()
    }
}
