//! Walking a TOML table key by key: every read notes the key as known and every fault its place.
//!
//! The tables are walked by hand because spans do not survive serde's `flatten` and untagged enums, and because
//! serde stops at the first fault.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use crate::bounds::Bounds;
use crate::nearest::nearest;
use crate::text::Text;
use crate::word::Word;
use crate::{Fault, Faults, Given, LengthUnit};

/// The largest file read, bytes. A blank of 100,000 stations is a quarter of it.
pub const MOST_FILE_BYTES: usize = 16 << 20;

/// The most faults told of one file; a file with more is not one of ours.
const MOST_FAULTS: usize = 50;

/// A file on its way to being read.
pub(crate) struct Reader<'t> {
    text: Text<'t>,
    faults: Vec<(usize, Fault)>,
    /// Past [`MOST_FAULTS`], faults are only counted.
    untold: usize,
    warnings: Vec<Fault>,
    /// Lines with syntax errors: what was salvaged from them is not judged.
    broken_lines: Vec<usize>,
    pub(crate) unit: LengthUnit,
}

/// One table of the file.
pub(crate) struct Section<'r, 't, 'd> {
    pub(crate) reader: &'r mut Reader<'t>,
    table: &'d DeTable<'d>,
    span: Range<usize>,
    /// As messages name it: `[rotary]`, `[[zone]] 2`; empty for the file itself.
    name: String,
    known: Vec<&'static str>,
}

/// A value of a key that is there.
#[derive(Clone, Copy)]
pub(crate) struct Entry<'d> {
    key: &'static str,
    value: &'d DeValue<'d>,
    start: usize,
    end: usize,
}

impl Entry<'_> {
    pub(crate) fn span(&self) -> Range<usize> {
        self.start..self.end
    }
}

/// Parses `text` and hands its table to `read`; whatever went wrong comes back as one list.
pub(crate) fn read_file<T>(
    text: &str,
    file: &str,
    read: impl FnOnce(&mut Section<'_, '_, '_>) -> Option<T>,
) -> Result<(T, Vec<Fault>), Faults> {
    if text.len() > MOST_FILE_BYTES {
        let message = format!("{file}: has {} bytes, but at most {MOST_FILE_BYTES} are read", text.len());
        return Err(Fault::new(None, message).into());
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut reader = Reader {
        text: Text::new(text, file),
        faults: Vec::new(),
        untold: 0,
        warnings: Vec::new(),
        broken_lines: Vec::new(),
        unit: LengthUnit::Mm,
    };
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        reader.fault(&span, error.message().to_owned());
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
    if let Some(unit) = section.word::<LengthUnit>("units") {
        section.reader.unit = unit.value;
    }
    let value = read(&mut section);
    section.finish();
    let warnings = std::mem::take(&mut reader.warnings);
    let faults = reader.into_faults();
    match value {
        Some(value) if faults.as_slice().is_empty() => Ok((value, warnings)),
        // Every way to no value tells a fault first; an empty list would be a fault of ours.
        _ if faults.as_slice().is_empty() => Err(Fault::new(None, format!("{file}: cannot be read")).into()),
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
        Section { reader: self, table, span, name, known: Vec::new() }
    }

    pub(crate) fn fault(&mut self, span: &Range<usize>, message: String) {
        let line = self.text.line_of(span.start);
        if self.broken_lines.binary_search(&line).is_ok() {
            return;
        }
        if self.faults.len() >= MOST_FAULTS {
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

    /// True where a syntax error may have swallowed what now seems missing.
    fn broken(&self) -> bool {
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

impl<'d> Section<'_, '_, 'd> {
    /// The entry of a key, which is known from now on.
    pub(crate) fn entry(&mut self, key: &'static str) -> Option<Entry<'d>> {
        self.known.push(key);
        let (_, value) = self.table.iter().find(|(name, _)| name.get_ref() == key)?;
        let span = value.span();
        Some(Entry { key, value: value.get_ref(), start: span.start, end: span.end })
    }

    /// True if the key is there.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.iter().any(|(name, _)| name.get_ref() == key)
    }

    pub(crate) fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    pub(crate) fn source(&self, span: &Range<usize>) -> crate::Source {
        self.reader.text.source(span)
    }

    /// Tells that a key is missing.
    pub(crate) fn missing(&mut self, what: &str) {
        if self.reader.broken() {
            return;
        }
        let message = if self.name.is_empty() {
            format!("{what} is missing")
        } else {
            format!("{} has no {what}", self.name)
        };
        let span = self.span();
        self.reader.fault(&span, message);
    }

    /// The value, or a fault that it is missing.
    pub(crate) fn required<T>(&mut self, key: &'static str, value: Option<T>) -> Option<T> {
        if value.is_none() && !self.has(key) {
            self.missing(&format!("`{key}`"));
        }
        value
    }

    pub(crate) fn must_be(&mut self, entry: &Entry<'_>, allowed: &str) {
        let found = match entry.value {
            DeValue::Table(_) => "a table".to_owned(),
            DeValue::Array(_) => format!("the list {}", self.reader.text.shown(&entry.span(), 40)),
            _ => self.reader.text.shown(&entry.span(), 40),
        };
        let message = format!("`{}` is {found}, but must be {allowed}", entry.key);
        self.reader.fault(&entry.span(), message);
    }

    fn given<T>(&self, entry: &Entry<'_>, value: T) -> Option<Given<T>> {
        Some(Given { value, from: Some(self.source(&entry.span())) })
    }

    /// A plain number: a percentage, degrees, rotary units.
    pub(crate) fn number(&mut self, key: &'static str, bounds: Bounds) -> Option<Given<f64>> {
        let entry = self.entry(key)?;
        let value = self.number_in(&entry, bounds, None)?;
        self.given(&entry, value)
    }

    /// A length, speed or acceleration: in the file's unit there, in mm here.
    pub(crate) fn length(&mut self, key: &'static str, bounds: Bounds) -> Option<Given<f64>> {
        let entry = self.entry(key)?;
        let value = self.number_in(&entry, bounds, Some(self.reader.unit))?;
        self.given(&entry, value)
    }

    /// An angle: degrees there, radians here.
    pub(crate) fn angle(&mut self, key: &'static str, degrees: Bounds) -> Option<Given<f64>> {
        Some(self.number(key, degrees)?.map(f64::to_radians))
    }

    pub(crate) fn number_in(
        &mut self,
        entry: &Entry<'_>,
        bounds: Bounds,
        unit: Option<LengthUnit>,
    ) -> Option<f64> {
        let Some(found) = number_of(entry.value) else {
            let allowed = if unit.is_some() { "a length, " } else { "a number " };
            self.must_be(entry, &format!("{allowed}{}", bounds.text(unit)));
            return None;
        };
        let value = found * unit.map_or(1.0, LengthUnit::mm);
        if !bounds.hold(value) {
            self.must_be(entry, &bounds.text(unit));
            return None;
        }
        // Minus zero would come out again in messages and JSON.
        Some(value + 0.0)
    }

    /// A whole number.
    pub(crate) fn whole(&mut self, key: &'static str, low: u32, high: u32) -> Option<Given<u32>> {
        let entry = self.entry(key)?;
        let value = match entry.value {
            DeValue::Integer(number) => u32::from_str_radix(number.as_str(), number.radix()).ok(),
            _ => None,
        };
        match value {
            Some(value) if (low..=high).contains(&value) => self.given(&entry, value),
            _ => {
                self.must_be(&entry, &format!("a whole number from {low} to {high}"));
                None
            }
        }
    }

    pub(crate) fn boolean(&mut self, key: &'static str) -> Option<Given<bool>> {
        let entry = self.entry(key)?;
        match entry.value {
            DeValue::Boolean(value) => self.given(&entry, *value),
            _ => {
                self.must_be(&entry, "true or false");
                None
            }
        }
    }

    /// One of a few words.
    pub(crate) fn word<W: Word>(&mut self, key: &'static str) -> Option<Given<W>> {
        let entry = self.entry(key)?;
        let found = match entry.value {
            DeValue::String(text) => W::from_word(text),
            _ => None,
        };
        if let Some(word) = found {
            return self.given(&entry, word);
        }
        self.must_be(&entry, &allowed_words::<W>());
        None
    }

    /// A name: not empty, not long, without control characters, since it ends in comments and pictures.
    pub(crate) fn name(&mut self, key: &'static str) -> Option<Given<String>> {
        let entry = self.entry(key)?;
        self.name_in(&entry)
    }

    pub(crate) fn name_in(&mut self, entry: &Entry<'_>) -> Option<Given<String>> {
        match entry.value {
            DeValue::String(text) if is_name(text) => self.given(entry, text.to_string()),
            _ => {
                self.must_be(
                    entry,
                    "a text of 1 to 200 characters without line breaks or control characters",
                );
                None
            }
        }
    }

    /// The text, where it is one.
    pub(crate) fn text_in(&self, entry: &Entry<'d>) -> Option<&'d str> {
        match entry.value {
            DeValue::String(text) => Some(text.as_ref()),
            _ => None,
        }
    }

    /// Two lengths or numbers in a list.
    pub(crate) fn pair(
        &mut self,
        key: &'static str,
        bounds: Bounds,
        unit: Option<LengthUnit>,
    ) -> Option<Given<(f64, f64)>> {
        let entry = self.entry(key)?;
        let value = self.pair_in(&entry, bounds, unit, "a list of two numbers")?;
        self.given(&entry, value)
    }

    pub(crate) fn pair_in(
        &mut self,
        entry: &Entry<'d>,
        bounds: Bounds,
        unit: Option<LengthUnit>,
        allowed: &str,
    ) -> Option<(f64, f64)> {
        let entries = self.list_in(entry);
        let [first, second] = entries.as_deref().unwrap_or(&[]) else {
            self.must_be(entry, allowed);
            return None;
        };
        let first = self.number_in(first, bounds, unit);
        let second = self.number_in(second, bounds, unit);
        Some((first?, second?))
    }

    /// A table that must be there.
    pub(crate) fn required_table<T>(&mut self, key: &'static str, value: Option<T>) -> Option<T> {
        if value.is_none() && !self.has(key) {
            self.missing(&format!("the section [{key}]"));
        }
        value
    }

    /// Warns that a key was left out and what is taken for it.
    pub(crate) fn guessed(&mut self, key: &str, value: &str) {
        let span = self.span();
        let place = if self.name.is_empty() { "the file" } else { &self.name };
        let message = format!("{place} has no `{key}`: {value} is taken");
        self.reader.warn(&span, message);
    }

    /// The entries of a list, or `None` for what is no list.
    pub(crate) fn list_in(&self, entry: &Entry<'d>) -> Option<Vec<Entry<'d>>> {
        let DeValue::Array(list) = entry.value else { return None };
        let entries = list.iter().map(|item| {
            let span = item.span();
            Entry { key: entry.key, value: item.get_ref(), start: span.start, end: span.end }
        });
        Some(entries.collect())
    }

    /// Reads a section that was left out, as if it were there and empty.
    pub(crate) fn empty<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Section<'_, '_, '_>) -> Option<T>,
    ) -> Option<T> {
        self.known.push(key);
        let table = DeTable::new();
        let span = self.span();
        let mut section = self.reader.section(&table, span, format!("[{key}]"));
        read(&mut section)
    }

    /// A table under this one, read by `read`.
    pub(crate) fn table<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Section<'_, '_, 'd>) -> Option<T>,
    ) -> Option<T> {
        let entry = self.entry(key)?;
        let DeValue::Table(table) = entry.value else {
            self.must_be(&entry, "a table");
            return None;
        };
        let mut section = self.reader.section(table, entry.span(), format!("[{key}]"));
        let value = read(&mut section);
        section.finish();
        value
    }

    /// The tables of a list like `[[zone]]`, each read by `read`; those with faults are left out.
    pub(crate) fn tables<T>(
        &mut self,
        key: &'static str,
        mut read: impl FnMut(&mut Section<'_, '_, 'd>) -> Option<T>,
    ) -> Vec<T> {
        let Some(entry) = self.entry(key) else { return Vec::new() };
        let Some(entries) = self.list_in(&entry) else {
            self.must_be(&entry, &format!("a list of tables, each headed [[{key}]]"));
            return Vec::new();
        };
        let mut values = Vec::new();
        for (index, item) in entries.iter().enumerate() {
            let DeValue::Table(table) = item.value else {
                self.must_be(item, &format!("a list of tables, each headed [[{key}]]"));
                continue;
            };
            let name = format!("[[{key}]] {}", index + 1);
            let mut section = self.reader.section(table, item.span(), name);
            let value = read(&mut section);
            section.finish();
            values.extend(value);
        }
        values
    }

    /// Tells of keys that nobody read.
    pub(crate) fn finish(self) {
        for (key, _) in self.table {
            let found = key.get_ref();
            if self.known.iter().any(|known| *known == found.as_ref()) {
                continue;
            }
            let place = if self.name.is_empty() { String::new() } else { format!(" in {}", self.name) };
            let shown = self.reader.text.shown(&key.span(), 40);
            let advice = match nearest(found, self.known.iter().copied()) {
                Some(known) => format!("; did you mean `{known}`?"),
                None => format!("; known are {}", listed(self.known.iter().copied())),
            };
            self.reader.fault(&key.span(), format!("`{shown}` is not a known key{place}{advice}"));
        }
    }
}

/// `a`, `b` and `c` in back quotes.
pub(crate) fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = names.map(|name| format!("`{name}`")).collect();
    match quoted.split_last() {
        None => "none".to_owned(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// `"a"`, `"b"` or `"c"`.
pub(crate) fn allowed_words<W: Word>() -> String {
    let quoted: Vec<String> = W::WORDS.iter().map(|(word, _)| format!("\"{word}\"")).collect();
    match quoted.split_last() {
        None => "nothing".to_owned(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
    }
}

pub(crate) fn is_name(text: &str) -> bool {
    !text.trim().is_empty() && text.chars().nth(200).is_none() && !text.chars().any(char::is_control)
}

/// The value of an integer or a finite float.
fn number_of(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        // An integer past 128 bits is past every bound too.
        #[allow(clippy::cast_precision_loss)]
        DeValue::Integer(number) => i128::from_str_radix(number.as_str(), number.radix()).ok()? as f64,
        DeValue::Float(number) => number.as_str().parse().ok()?,
        _ => return None,
    };
    number.is_finite().then_some(number)
}
