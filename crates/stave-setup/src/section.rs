//! Walking a TOML table key by key: every read notes the key as known and every fault its place.
//!
//! The tables are walked by hand because spans do not survive serde's `flatten` and untagged enums,
//! and because serde stops at the first fault.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use crate::Given;
use crate::list::listed_keys;
use crate::nearest::nearest;
use crate::reader::Reader;

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
    pub(crate) key: &'static str,
    pub(crate) value: &'d DeValue<'d>,
    start: usize,
    end: usize,
}

impl Entry<'_> {
    pub(crate) fn span(&self) -> Range<usize> {
        self.start..self.end
    }
}

impl<'r, 't, 'd> Section<'r, 't, 'd> {
    pub(crate) fn new(
        reader: &'r mut Reader<'t>,
        table: &'d DeTable<'d>,
        span: Range<usize>,
        name: String,
    ) -> Self {
        Self { reader, table, span, name, known: Vec::new() }
    }
}

impl<'d> Section<'_, '_, 'd> {
    /// The entry of a key, which is known from now on.
    pub(crate) fn entry(&mut self, key: &'static str) -> Option<Entry<'d>> {
        self.known.push(key);
        if self.name.is_empty() {
            self.reader.top_keys.push(key);
        }
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

    pub(crate) fn source(&self, span: &Range<usize>) -> crate::Origin {
        self.reader.text.source(span)
    }

    /// True if the key is there, but is no list.
    pub(crate) fn has_other(&self, key: &str) -> bool {
        self.table.iter().any(|(name, value)| name.get_ref() == key && !value.get_ref().is_array())
    }

    /// Tells that a key is missing.
    pub(crate) fn missing(&mut self, what: &str) {
        let message = if self.name.is_empty() {
            format!("{what} is missing")
        } else {
            format!("{} has no {what}", self.name)
        };
        self.incomplete(&message);
    }

    /// Tells that the table as a whole has too little, unless a syntax error may have swallowed it.
    pub(crate) fn incomplete(&mut self, message: &str) {
        if !self.reader.broken() {
            self.fault_here(message.to_owned());
        }
    }

    /// A fault of the table as a whole.
    pub(crate) fn fault_here(&mut self, message: String) {
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

    pub(crate) fn given<T>(&self, entry: &Entry<'_>, value: T) -> Option<Given<T>> {
        Some(Given { value, from: Some(self.source(&entry.span())) })
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
        let path = match self.name.strip_prefix('[').and_then(|name| name.strip_suffix(']')) {
            Some(outer) => format!("{outer}.{key}"),
            None => key.to_owned(),
        };
        let Some(entries) = self.list_in(&entry) else {
            self.must_be(&entry, &format!("a list of tables, each headed [[{path}]]"));
            return Vec::new();
        };
        let mut values = Vec::new();
        for (index, item) in entries.iter().enumerate() {
            let DeValue::Table(table) = item.value else {
                self.must_be(item, &format!("a list of tables, each headed [[{path}]]"));
                continue;
            };
            let name = format!("[[{path}]] {}", index + 1);
            let mut section = self.reader.section(table, item.span(), name);
            let value = read(&mut section);
            section.finish();
            values.extend(value);
        }
        values
    }

    /// The keys known here, each once.
    fn known(&self) -> impl Iterator<Item = &'static str> {
        let known = &self.known;
        known
            .iter()
            .enumerate()
            .filter(|(index, key)| !known[..*index].contains(key))
            .map(|(_, key)| *key)
    }

    /// Tells of keys that nobody read.
    pub(crate) fn finish(self) {
        for (key, _) in self.table {
            let found = key.get_ref();
            if self.known.iter().any(|known| *known == found.as_ref()) {
                continue;
            }
            let place =
                if self.name.is_empty() { String::new() } else { format!(" in {}", self.name) };
            let shown = self.reader.text.shown(&key.span(), 40);
            if self.reader.full() {
                self.reader.untold += 1;
                continue;
            }
            let advice = match nearest(found, self.known()) {
                Some(known) => format!("; did you mean `{known}`?"),
                None if self.reader.top_keys.contains(&found.as_ref()) => {
                    "; it belongs above the first [section]".to_owned()
                }
                None => format!("; known are {}", listed_keys(self.known())),
            };
            self.reader.fault(&key.span(), format!("`{shown}` is not a known key{place}{advice}"));
        }
    }
}
