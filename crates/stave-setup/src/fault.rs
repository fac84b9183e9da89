//! What is wrong with a file or an option, and where: [`Fault`] and [`Faults`].

use std::borrow::Cow;
use std::error::Error;
use std::fmt;
use std::sync::Arc;

/// Where a setting comes from.
#[derive(Clone, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum Origin {
    /// A place in one of the three files.
    File {
        /// The file's name, as the caller gave it.
        file: Arc<str>,
        /// Line, counted from 1.
        line: u64,
        /// Column, counted from 1 in characters.
        column: u64,
        /// The line, or a window of it.
        excerpt: Arc<FileExcerpt>,
    },
    /// A command-line option.
    Option {
        /// Its name without the dashes.
        name: Arc<str>,
    },
}

/// A line of a file, cut to a window where it is long, with the stretch a caret points to.
///
/// Control characters are shown as blanks, so that one character is one column.
#[derive(Clone, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FileExcerpt {
    /// The text shown; empty where the fault is of the file as a whole.
    pub text: String,
    /// How many characters of `text` stand before the caret.
    pub caret: usize,
    /// How many characters the caret underlines, at least 1.
    pub length: usize,
}

/// One thing that is wrong, or worth a warning.
///
/// Its [`Display`](fmt::Display) starts with the place, `file:line:column: message`, and shows the
/// line with a caret below it where the place is in a file. With the alternate flag, `{fault:#}`,
/// it is the first line alone.
#[derive(Clone, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Fault {
    /// Where it comes from, if that is known.
    pub from: Option<Origin>,
    /// What was found and what is allowed: lower case, no full stop.
    pub message: String,
}

impl Fault {
    /// A fault at a place.
    pub fn new(from: Option<Origin>, message: impl Into<String>) -> Self {
        Self { from, message: message.into() }
    }

    /// The file it is in.
    #[must_use]
    pub fn file(&self) -> Option<&str> {
        match &self.from {
            Some(Origin::File { file, .. }) => Some(file),
            _ => None,
        }
    }

    /// The line it is on, counted from 1.
    #[must_use]
    pub fn line(&self) -> Option<u64> {
        match &self.from {
            Some(Origin::File { line, .. }) => Some(*line),
            _ => None,
        }
    }

    /// The column it starts at, counted from 1 in characters.
    #[must_use]
    pub fn column(&self) -> Option<u64> {
        match &self.from {
            Some(Origin::File { column, .. }) => Some(*column),
            _ => None,
        }
    }
}

/// What a file says, fit to be shown: whatever would steer a terminal stands as a replacement
/// character, one for one, so that a caret under it stays right.
pub(crate) fn printable(text: &str) -> Cow<'_, str> {
    let steers = |c: char| c.is_control() && c != '\n';
    match text.contains(steers) {
        true => text.replace(steers, "\u{fffd}").into(),
        false => text.into(),
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.from {
            None => f.write_str(&printable(&self.message)),
            Some(Origin::Option { name }) => write!(f, "--{name}: {}", printable(&self.message)),
            Some(Origin::File { file, line, column, excerpt }) => {
                let file = printable(file);
                write!(f, "{file}:{line}:{column}: {}", printable(&self.message))?;
                if f.alternate() || excerpt.text.is_empty() {
                    return Ok(());
                }
                let number = line.to_string();
                write!(f, "\n{number} | {}", printable(&excerpt.text))?;
                write!(
                    f,
                    "\n{:width$} | {:caret$}{}",
                    "",
                    "",
                    "^".repeat(excerpt.length.max(1)),
                    width = number.len(),
                    caret = excerpt.caret,
                )
            }
        }
    }
}

impl Error for Fault {}

/// All the faults that were found, in the order of their places.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Faults {
    list: Vec<Fault>,
}

impl Faults {
    /// The faults, at least one in a `Faults` that a function of this crate returned.
    #[must_use]
    pub fn as_slice(&self) -> &[Fault] {
        &self.list
    }

    /// Goes through the faults.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.list.iter()
    }

    /// True if there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Adds those of another file.
    pub fn extend(&mut self, other: Faults) {
        self.list.extend(other.list);
    }
}

impl From<Vec<Fault>> for Faults {
    fn from(list: Vec<Fault>) -> Self {
        Self { list }
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self { list: vec![fault] }
    }
}

impl IntoIterator for Faults {
    type Item = Fault;
    type IntoIter = std::vec::IntoIter<Fault>;
    fn into_iter(self) -> Self::IntoIter {
        self.list.into_iter()
    }
}

impl<'a> IntoIterator for &'a Faults {
    type Item = &'a Fault;
    type IntoIter = std::slice::Iter<'a, Fault>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.list.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            fmt::Display::fmt(fault, f)?;
        }
        Ok(())
    }
}

impl Error for Faults {}

#[cfg(test)]
mod tests {
    #[test]
    fn what_a_file_says_steers_no_terminal() {
        let text = "machine = \"m.toml\"\nname = \"{a\u{1b}[2J}\"\nodd\u{1b} = 1\n";
        let said = crate::read_order(text, "or\u{9b}der.toml").unwrap_err().to_string();
        assert!(said.lines().count() > 1, "{said}");
        assert!(said.chars().all(|c| c == '\n' || !c.is_control()), "{said:?}");
    }
}
