//! Texts with fields: `Crew of {boat}`, where the value of `boat` goes in.
//!
//! `{{` is `{` and `}}` is `}`; a `}` by itself is one too. Whatever stands between `{` and `}` is
//! the name of a field, blanks and all. Values are taken as they are: what looks like a field in
//! one is not read again.

use std::collections::BTreeMap;
use std::fmt;

/// The values of fields, by name.
pub type Fields = BTreeMap<String, String>;

/// A text that was read for its fields.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct FieldText {
    parts: Vec<Part>,
}

#[derive(Clone, Debug, Eq, PartialEq)]
enum Part {
    Text(String),
    Field(String),
}

/// What is wrong with a text with fields.
#[derive(Clone, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub enum FieldFault {
    /// A `{` that no `}` closes.
    Open {
        /// What follows it, shortened.
        rest: String,
    },
    /// `{}`.
    Nameless,
    /// A field for which there is no value.
    NoValue {
        /// Its name.
        name: String,
    },
}

impl fmt::Display for FieldFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Open { rest } => write!(
                f,
                "`{{{rest}` is a field without its end: close it with `}}`, or write `{{{{` for a \
                 brace"
            ),
            Self::Nameless => {
                f.write_str("`{}` names no field: write its name between, or `{{}}` for braces")
            }
            Self::NoValue { name } => write!(f, "the field `{{{name}}}` has no value"),
        }
    }
}

impl std::error::Error for FieldFault {}

/// How much of what follows an open brace is shown.
const SHOWN_CHARS: usize = 20;

impl FieldText {
    /// Reads a text.
    ///
    /// # Errors
    /// A `{` that is not closed, or with nothing in it.
    ///
    /// ```
    /// use stave_toolpath::field::{FieldText, Fields};
    /// let text = FieldText::read("{{Crew}} of {boat}")?;
    /// let fields = Fields::from([("boat".to_owned(), "{Kestrel}".to_owned())]);
    /// assert_eq!(text.filled(&fields)?, "{Crew} of {Kestrel}");
    /// # Ok::<(), stave_toolpath::field::FieldFault>(())
    /// ```
    pub fn read(text: &str) -> Result<Self, FieldFault> {
        let mut parts = Vec::new();
        let mut plain = String::new();
        let mut rest = text;
        while let Some(at) = rest.find(['{', '}']) {
            let (before, from) = rest.split_at(at);
            plain.push_str(before);
            rest = if let Some(after) = from.strip_prefix("{{") {
                plain.push('{');
                after
            } else if let Some(after) = from.strip_prefix("}}") {
                plain.push('}');
                after
            } else if let Some(after) = from.strip_prefix('}') {
                plain.push('}');
                after
            } else {
                let inside = from.get(1..).unwrap_or_default();
                let open = || FieldFault::Open { rest: inside.chars().take(SHOWN_CHARS).collect() };
                let (name, after) = inside.split_once('}').ok_or_else(open)?;
                if name.contains('{') {
                    return Err(open());
                }
                if name.is_empty() {
                    return Err(FieldFault::Nameless);
                }
                if !plain.is_empty() {
                    parts.push(Part::Text(std::mem::take(&mut plain)));
                }
                parts.push(Part::Field(name.to_owned()));
                after
            };
        }
        plain.push_str(rest);
        if !plain.is_empty() {
            parts.push(Part::Text(plain));
        }
        Ok(Self { parts })
    }

    /// The fields that it names, in its order, each as often as it is named.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().filter_map(|part| match part {
            Part::Field(name) => Some(name.as_str()),
            Part::Text(_) => None,
        })
    }

    /// The text with its values.
    ///
    /// # Errors
    /// A field without a value.
    pub fn filled(&self, fields: &Fields) -> Result<String, FieldFault> {
        let text = |piece| match piece {
            TextPart::Plain(text) | TextPart::Value { text, .. } => text,
        };
        self.pieces(fields).map(|piece| piece.map(text)).collect()
    }

    /// The text in pieces, its own words and the values each by themselves; a field without a value
    /// is an error in its place.
    pub fn pieces<'a>(
        &'a self,
        fields: &'a Fields,
    ) -> impl Iterator<Item = Result<TextPart<'a>, FieldFault>> {
        self.parts.iter().map(|part| match part {
            Part::Text(plain) => Ok(TextPart::Plain(plain)),
            Part::Field(name) => match fields.get(name) {
                Some(value) => Ok(TextPart::Value { name, text: value }),
                None => Err(FieldFault::NoValue { name: name.clone() }),
            },
        })
    }
}

/// A piece of a text with its values.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum TextPart<'a> {
    /// The text's own words.
    Plain(&'a str),
    /// The value of a field.
    Value {
        /// The field.
        name: &'a str,
        /// Its value.
        text: &'a str,
    },
}

/// Whether something is there, by the fields: `boss` where that field is not empty, `ware=cup`
/// where it has that value; with a `!` before it, where not.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Condition {
    /// The field.
    pub name: String,
    value: Option<String>,
    not: bool,
}

impl Condition {
    /// Reads a condition; `None` where it names no field.
    ///
    /// ```
    /// use stave_toolpath::field::{Condition, Fields};
    /// let fields = Fields::from([("ware".to_owned(), "cup".to_owned())]);
    /// let holds = |text: &str| Condition::read(text)?.holds(&fields).ok();
    /// assert_eq!(holds("ware"), Some(true));
    /// assert_eq!(holds("ware=jug"), Some(false));
    /// assert_eq!(holds("!ware=jug"), Some(true));
    /// assert_eq!(holds("boss"), None);
    /// assert_eq!(Condition::read("!"), None);
    /// ```
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let (not, rest) = match text.trim().strip_prefix('!') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, text.trim()),
        };
        let (name, value) = match rest.split_once('=') {
            Some((name, value)) => (name.trim_end(), Some(value.trim_start().to_owned())),
            None => (rest, None),
        };
        (!name.is_empty()).then(|| Self { name: name.to_owned(), value, not })
    }

    /// Whether it holds.
    ///
    /// # Errors
    /// Its field has no value, not even an empty one.
    pub fn holds(&self, fields: &Fields) -> Result<bool, FieldFault> {
        let found = fields
            .get(&self.name)
            .ok_or_else(|| FieldFault::NoValue { name: self.name.clone() })?;
        let holds = match &self.value {
            Some(value) => found == value,
            None => !found.is_empty(),
        };
        Ok(holds != self.not)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(text: &str) -> Result<String, FieldFault> {
        let pairs = [("name", "O'Neill & Søn"), ("a b", "{name}"), ("none", "")];
        let fields = pairs.map(|(name, value)| (name.to_owned(), value.to_owned())).into();
        FieldText::read(text)?.filled(&fields)
    }

    #[test]
    fn braces_and_fields() {
        for (text, expected) in [
            ("", ""),
            ("plain", "plain"),
            ("{name}", "O'Neill & Søn"),
            ("<{name}>{none}.", "<O'Neill & Søn>."),
            ("{a b}", "{name}"),
            ("{{name}}", "{name}"),
            ("{{{name}}}", "{O'Neill & Søn}"),
            ("}", "}"),
            ("}} {{", "} {"),
            ("a}b}}c", "a}b}c"),
        ] {
            assert_eq!(filled(text).as_deref(), Ok(expected), "{text}");
        }
    }

    #[test]
    fn what_cannot_be_meant() {
        let open = |rest: &str| Err(FieldFault::Open { rest: rest.to_owned() });
        assert_eq!(filled("{name"), open("name"));
        assert_eq!(filled("{"), open(""));
        assert_eq!(filled("{{{"), open(""));
        assert_eq!(filled("{a{name}"), open("a{name}"));
        assert_eq!(filled("{}"), Err(FieldFault::Nameless));
        let none = FieldFault::NoValue { name: "nmae".to_owned() };
        assert_eq!(filled("{nmae}"), Err(none));
        assert_eq!(
            FieldText::read("{a}{b}{a}").unwrap().names().collect::<Vec<_>>(),
            ["a", "b", "a"]
        );
    }
}
