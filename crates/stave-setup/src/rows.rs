//! Rows of a table: CSV by RFC 4180, or the same with tabs.
//!
//! The first line names the fields. What comes after it is text, as it stands: blanks are kept,
//! line ends within quotes too. Lines may end with LF alone, a byte order mark and empty lines are
//! skipped. Whatever else is not by RFC 4180 is refused with its line, since a quote that is not
//! closed would take in the rows after it.

use std::collections::HashSet;
use std::fmt;
use std::io::{self, Read};

use csv_core::{ReadFieldResult, Reader, ReaderBuilder};
use stave_toolpath::field::Fields;

use crate::fault::printable;

/// The most bytes of a field.
const MOST_FIELD_BYTES: usize = 1_000_000;
/// The most bytes of a table.
const MOST_BYTES: u64 = 256 << 20;
/// As much as is read at a time.
const PIECE: usize = 64 << 10;
/// How much of a field is shown.
const SHOWN_CHARS: usize = 40;

/// What stands between the fields of a row.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Separator {
    /// A comma.
    #[default]
    Comma,
    /// A tab.
    Tab,
}

impl Separator {
    /// That of a file, by the ending of its name: `.tsv` and `.tab` have tabs.
    ///
    /// ```
    /// use stave_setup::Separator;
    /// assert_eq!(Separator::of_name("crew.TSV"), Separator::Tab);
    /// assert_eq!(Separator::of_name("crew.csv"), Separator::Comma);
    /// ```
    #[must_use]
    pub fn of_name(name: &str) -> Self {
        let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
        match ending.as_deref() {
            Some("tsv" | "tab") => Self::Tab,
            _ => Self::Comma,
        }
    }

    fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Tab => b'\t',
        }
    }
}

/// A table.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Rows {
    /// The names of the fields.
    pub header: Vec<String>,
    /// The rows, in their order.
    pub rows: Vec<Row>,
}

/// A row of a table.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Row {
    /// The line that it begins on, counted from 1.
    pub line: u64,
    /// A value for each field of the header.
    pub values: Vec<String>,
}

impl Rows {
    /// The values of a row by the names of their fields.
    #[must_use]
    pub fn fields(&self, row: &Row) -> Fields {
        self.header.iter().cloned().zip(row.values.iter().cloned()).collect()
    }
}

/// Why a table cannot be read.
#[derive(Debug)]
#[non_exhaustive]
pub enum RowsError {
    /// The input could not be read.
    Io(io::Error),
    /// What is wrong with it: a sentence that begins with the file and the line.
    Fault(String),
}

impl fmt::Display for RowsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io(error) => error.fmt(f),
            Self::Fault(message) => f.write_str(message),
        }
    }
}

impl std::error::Error for RowsError {}

impl From<io::Error> for RowsError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

/// Reads a table; `file` is what messages call it. With `last`, no more than so many rows are read.
///
/// # Errors
/// A table that is not by RFC 4180 or not UTF-8, that holds a NUL or a field of more than 1 MB, or
/// a row with more or fewer fields than the header has; each with its line. Errors of reading.
///
/// ```
/// use stave_setup::{Separator, read_rows};
/// let table = "name,boat\r\n\"Quill, Ada\",Kestrel\r\n";
/// let rows = read_rows(table.as_bytes(), "crew.csv", Separator::Comma, None)?;
/// assert_eq!(rows.fields(&rows.rows[0])["name"], "Quill, Ada");
/// # Ok::<(), stave_setup::RowsError>(())
/// ```
pub fn read_rows(
    mut input: impl Read,
    file: &str,
    separator: Separator,
    last: Option<usize>,
) -> Result<Rows, RowsError> {
    let mut table = Table {
        file,
        separator: separator.byte(),
        reader: ReaderBuilder::new().delimiter(separator.byte()).build(),
        room: vec![0; MOST_FIELD_BYTES + 1],
        filled: 0,
        lines: 0,
        quoting: Quoting::Start,
        opened: 0,
        record: Vec::new(),
        line: 1,
        rows: Rows::default(),
        seen_header: false,
        most: last.unwrap_or(usize::MAX),
    };
    let mut buffer = vec![0; PIECE];
    let mut taken = 0_u64;
    let mut begin = Vec::new();
    loop {
        let got = match input.read(&mut buffer) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            other => other?,
        };
        taken += got as u64;
        if taken > MOST_BYTES {
            let most = MOST_BYTES >> 20;
            return Err(fault(&format!("{file}: a table may hold at most {most} MiB")));
        }
        let piece = buffer.get(..got).unwrap_or_default();
        // Whether it begins with a mark is known from its third byte on.
        if begin.len() < BYTE_ORDER_MARK.len() && got > 0 {
            begin.extend_from_slice(piece);
            if begin.len() < BYTE_ORDER_MARK.len() {
                continue;
            }
            let text = begin.strip_prefix(BYTE_ORDER_MARK).unwrap_or(&begin).to_vec();
            table.take(&text)?;
        } else {
            if got == 0 && begin.len() < BYTE_ORDER_MARK.len() {
                table.take(&std::mem::take(&mut begin))?;
            }
            table.take(piece)?;
        }
        if got == 0 || (table.seen_header && table.rows.rows.len() >= table.most) {
            break;
        }
    }
    if !table.seen_header {
        return Err(fault(&format!("{file}: it is empty; its first line must name the fields")));
    }
    Ok(table.rows)
}

const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

fn fault(message: &str) -> RowsError {
    RowsError::Fault(printable(message).into_owned())
}

/// Where within a field a byte stands, as far as quotes are concerned.
#[derive(Clone, Copy, Eq, PartialEq)]
enum Quoting {
    Start,
    Bare,
    Quoted,
    /// After a quote within quotes: it ends them, or is the first of two.
    Closed,
}

/// A table on its way to being read.
struct Table<'f> {
    file: &'f str,
    separator: u8,
    reader: Reader,
    /// The field at hand; one byte more than it may have.
    room: Vec<u8>,
    filled: usize,
    /// Line ends taken in so far.
    lines: u64,
    quoting: Quoting,
    /// The line on which the quotes at hand were opened.
    opened: u64,
    record: Vec<String>,
    /// The line on which the record at hand begins.
    line: u64,
    rows: Rows,
    seen_header: bool,
    most: usize,
}

impl Table<'_> {
    fn at(&self, line: u64, message: &str) -> RowsError {
        fault(&format!("{}:{line}: {message}", self.file))
    }

    /// Takes in the next bytes; none is the end.
    fn take(&mut self, mut bytes: &[u8]) -> Result<(), RowsError> {
        let is_end = bytes.is_empty();
        loop {
            let is_enough = self.seen_header && self.rows.rows.len() >= self.most;
            // Nothing more to give would mean the end of the table.
            if is_enough || (bytes.is_empty() && !is_end) {
                return Ok(());
            }
            let room = self.room.get_mut(self.filled..).unwrap_or_default();
            let (result, taken, written) = self.reader.read_field(bytes, room);
            let (consumed, rest) = bytes.split_at(taken);
            self.filled += written;
            self.look(consumed)?;
            bytes = rest;
            if is_end && self.quoting == Quoting::Quoted {
                let message = "a quote is opened here and never closed";
                return Err(self.at(self.opened, message));
            }
            match result {
                ReadFieldResult::InputEmpty => {
                    if !is_end {
                        return Ok(());
                    }
                }
                ReadFieldResult::OutputFull => {
                    let message = format!("a field has more than {MOST_FIELD_BYTES} bytes");
                    return Err(self.at(self.lines + 1, &message));
                }
                ReadFieldResult::Field { record_end } => {
                    let ended = record_end && consumed.last() == Some(&b'\n');
                    self.field(ended)?;
                    if record_end {
                        self.end_record()?;
                    }
                }
                ReadFieldResult::End => return Ok(()),
            }
        }
    }

    /// Follows the quotes: what reads the fields takes more than RFC 4180 does.
    fn look(&mut self, bytes: &[u8]) -> Result<(), RowsError> {
        for &byte in bytes {
            let is_separator = byte == self.separator || matches!(byte, b'\r' | b'\n');
            self.quoting = match (self.quoting, byte) {
                // What is left of the line before, or an empty one.
                (Quoting::Start, b'\r' | b'\n') => Quoting::Start,
                (Quoting::Start | Quoting::Bare | Quoting::Closed, _) if is_separator => {
                    Quoting::Start
                }
                (Quoting::Start, b'"') => {
                    self.opened = self.lines + 1;
                    Quoting::Quoted
                }
                (Quoting::Bare, b'"') => {
                    let message = "a quote within a field that has none around it: put the field \
                                   in quotes, and write two for each within";
                    return Err(self.at(self.lines + 1, message));
                }
                (Quoting::Quoted, b'"') => Quoting::Closed,
                (Quoting::Quoted, _) | (Quoting::Closed, b'"') => Quoting::Quoted,
                (Quoting::Closed, _) => {
                    let message = "text after the closing quote of a field: write two quotes for \
                                   each within it";
                    return Err(self.at(self.lines + 1, message));
                }
                (Quoting::Start | Quoting::Bare, _) => Quoting::Bare,
            };
            self.lines += u64::from(byte == b'\n');
        }
        Ok(())
    }

    /// A field is whole; `ended` tells that a line end came with it.
    fn field(&mut self, ended: bool) -> Result<(), RowsError> {
        let bytes = self.room.get(..self.filled).unwrap_or_default();
        let within = bytes.iter().filter(|byte| **byte == b'\n').count() as u64;
        let line = (1 + self.lines).saturating_sub(within + u64::from(ended));
        if self.record.is_empty() {
            self.line = line;
        }
        if bytes.contains(&0) {
            return Err(self.at(line, "a field holds a NUL: save the table as text, UTF-8"));
        }
        let Ok(text) = std::str::from_utf8(bytes) else {
            return Err(self.at(line, "this is not UTF-8: save the table in that encoding"));
        };
        self.record.push(text.to_owned());
        self.filled = 0;
        if self.seen_header && self.record.len() > self.rows.header.len() {
            let message = format!(
                "a row of more fields than the header has, which are {}: a field with the \
                 separator in it stands in quotes",
                self.rows.header.len()
            );
            return Err(self.at(self.line, &message));
        }
        Ok(())
    }

    fn end_record(&mut self) -> Result<(), RowsError> {
        let values = std::mem::take(&mut self.record);
        if !self.seen_header {
            self.seen_header = true;
            // As spreadsheets save a table where the decimal sign is a comma.
            if let [only] = values.as_slice()
                && self.separator == b','
                && only.contains(';')
            {
                let message = "fields are parted by commas, and these by semicolons: save the \
                               table with commas, or with tabs as .tsv";
                return Err(self.at(self.line, message));
            }
            let mut names = HashSet::new();
            for name in &values {
                if name.trim().is_empty() {
                    return Err(self.at(self.line, "the header has a field without a name"));
                }
                if !names.insert(name) {
                    let shown: String = name.chars().take(SHOWN_CHARS).collect();
                    let message = format!("the header names `{shown}` twice");
                    return Err(self.at(self.line, &message));
                }
            }
            self.rows.header = values;
            return Ok(());
        }
        let (found, needed) = (values.len(), self.rows.header.len());
        if found < needed {
            let message = format!("a row of {found} fields, but the header has {needed}");
            return Err(self.at(self.line, &message));
        }
        self.rows.rows.push(Row { line: self.line, values });
        Ok(())
    }
}
