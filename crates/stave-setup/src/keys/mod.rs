//! Every key of the files that are written by hand: what it may be, its unit, its default, an
//! example and what it means.
//!
//! The reference page, the JSON Schemas and the files that `stave new` writes are made from these
//! tables. That they say what the readers do is a test: the readers are asked.

mod blank;
mod fresh;
mod job;
mod machine;
mod order;
mod schema;
mod try_value;

use crate::LengthUnit;
use crate::bounds::Bounds;
use crate::nearest::nearest;
use crate::word::{Word, words_of};

pub use fresh::{Asked, fresh_file};
pub use schema::schema;

/// A file that is written by hand.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum SettingsFile {
    /// The ware.
    Blank,
    /// The machine.
    Machine,
    /// What is to be done.
    Job,
    /// Which rows make which pieces.
    Order,
}

impl SettingsFile {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Blank, Self::Machine, Self::Job, Self::Order];

    /// Its word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Blank => "blank",
            Self::Machine => "machine",
            Self::Job => "job",
            Self::Order => "order",
        }
    }

    /// Its keys, sections before what stands in them.
    #[must_use]
    pub fn keys(self) -> Vec<&'static Key> {
        let groups = match self {
            Self::Blank => blank::GROUPS,
            Self::Machine => machine::GROUPS,
            Self::Job => job::GROUPS,
            Self::Order => order::GROUPS,
        };
        groups.iter().copied().flatten().collect()
    }
}

/// A key of a file.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// The file it stands in.
    pub file: SettingsFile,
    /// Its name, with its sections: `rotary.backlash`, `station.at`.
    pub key: &'static str,
    /// What it means, without a full stop.
    pub text: &'static str,
    kind: Kind,
    unit: Unit,
    default: Default,
    need: Need,
    example: &'static str,
    /// What a second section of a list says in a new file; empty where one is enough.
    second: &'static str,
}

/// What the value of a key may be.
#[derive(Clone, Copy, Debug)]
enum Kind {
    Number(Bounds),
    Whole(u32, u32),
    Flag,
    Word(fn() -> Vec<&'static str>),
    Text,
    /// One text or a list of them.
    Texts,
    /// A colour as CSS writes it.
    Colour,
    /// Two numbers.
    Pair(Bounds),
    /// A list of two or more pairs of numbers.
    Pairs,
    /// A list of one or more pairs of numbers.
    SomePairs(Bounds),
    /// A number, or a list of pairs of them.
    NumberOrPairs(Bounds),
    /// One of the words, or two numbers.
    WordOrPair(fn() -> Vec<&'static str>, Bounds),
    /// A whole number, or a text with fields.
    Count,
    /// A table of texts and numbers under any names.
    Record,
    /// A list of such tables.
    Records,
    /// A section.
    Table(Usual),
    /// A list of sections.
    Tables(Usual),
}

/// Whether a new file has a section, or shows it as a comment.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Usual {
    Yes,
    No,
}

/// What a value is counted in.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Unit {
    None,
    /// A unit whose name is all there is to say.
    Named(&'static str),
    /// The file's unit, with what comes after it.
    Length(&'static str),
}

#[derive(Clone, Copy, Debug)]
enum Default {
    None,
    /// A value, as it is written.
    Value(&'static str),
    /// What is taken, in words.
    Told(&'static str),
}

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Need {
    Optional,
    /// Its section is at fault without it.
    Needed,
    /// A new file gives it, though not every file needs it.
    Usual,
    /// It is needed where the other is not there.
    Unless(&'static str),
    /// Either it or the other is needed.
    Or(&'static str),
    /// It and the other cannot both be there.
    Not(&'static str),
    /// Its section has it and nothing else, or another such key and nothing else.
    Alone,
}

/// A key of which all but its type is still to be said.
const fn key(file: SettingsFile, key: &'static str, kind: Kind, text: &'static str) -> Key {
    Key {
        file,
        key,
        text,
        kind,
        unit: Unit::None,
        default: Default::None,
        need: Need::Optional,
        example: "",
        second: "",
    }
}

impl Key {
    const fn unit(mut self, name: &'static str) -> Self {
        self.unit = Unit::Named(name);
        self
    }

    /// A length, or a length per something.
    const fn length(mut self, per: &'static str) -> Self {
        self.unit = Unit::Length(per);
        self
    }

    /// The default; it is the example too.
    const fn default(mut self, value: &'static str) -> Self {
        self.default = Default::Value(value);
        self.example = value;
        self
    }

    const fn told(mut self, words: &'static str) -> Self {
        self.default = Default::Told(words);
        self
    }

    const fn like(mut self, example: &'static str) -> Self {
        self.example = example;
        self
    }

    const fn needed(mut self) -> Self {
        self.need = Need::Needed;
        self
    }

    const fn usual(mut self) -> Self {
        self.need = Need::Usual;
        self
    }

    const fn not(mut self, other: &'static str) -> Self {
        self.need = Need::Not(other);
        self
    }

    const fn unless(mut self, other: &'static str) -> Self {
        self.need = Need::Unless(other);
        self
    }

    const fn alone(mut self) -> Self {
        self.need = Need::Alone;
        self
    }

    const fn then(mut self, second: &'static str) -> Self {
        self.second = second;
        self
    }

    const fn or(mut self, other: &'static str) -> Self {
        self.need = Need::Or(other);
        self
    }

    /// Its own name, without its sections.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.key.rsplit('.').next().unwrap_or(self.key)
    }

    /// The sections it stands in, as its key names them; empty above the sections.
    #[must_use]
    pub fn section(&self) -> &'static str {
        self.key.rsplit_once('.').map_or("", |(section, _)| section)
    }

    /// True for a section or a list of sections.
    #[must_use]
    pub fn is_section(&self) -> bool {
        matches!(self.kind, Kind::Table(_) | Kind::Tables(_))
    }

    /// True for a list of sections.
    #[must_use]
    pub fn is_list(&self) -> bool {
        matches!(self.kind, Kind::Tables(_))
    }

    /// Whether the section it stands in is at fault without it.
    #[must_use]
    pub fn is_needed(&self) -> bool {
        self.need == Need::Needed
    }

    /// True for a length, and for what is a length per something.
    pub(crate) fn is_length(&self) -> bool {
        matches!(self.unit, Unit::Length(_))
    }

    /// The value that is taken where it is left out, as it would be written.
    pub(crate) fn default_value(&self) -> Option<&'static str> {
        match self.default {
            Default::Value(text) => Some(text),
            _ => None,
        }
    }

    /// What its value may be, in words.
    #[must_use]
    pub fn type_name(&self) -> String {
        let words = |words: Vec<&'static str>| {
            words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
        };
        match self.kind {
            Kind::Number(_) => "number".to_owned(),
            Kind::Whole(..) => "whole number".to_owned(),
            Kind::Flag => "true or false".to_owned(),
            Kind::Word(list) => format!("one of {}", words(list())),
            Kind::Text => "text".to_owned(),
            Kind::Texts => "text or list of texts".to_owned(),
            Kind::Colour => "CSS colour".to_owned(),
            Kind::Pair(_) => "list of two numbers".to_owned(),
            Kind::Pairs | Kind::SomePairs(_) => "list of pairs of numbers".to_owned(),
            Kind::NumberOrPairs(_) => "number, or list of pairs of numbers".to_owned(),
            Kind::WordOrPair(list, _) => {
                format!("one of {}, or list of two numbers", words(list()))
            }
            Kind::Count => "whole number, or text with fields".to_owned(),
            Kind::Record => "table of texts and numbers".to_owned(),
            Kind::Records => "list of tables of texts and numbers".to_owned(),
            Kind::Table(_) => "section".to_owned(),
            Kind::Tables(_) => "list of sections".to_owned(),
        }
    }

    /// What its value is counted in, if it is.
    #[must_use]
    pub fn unit_name(&self) -> Option<String> {
        match self.unit {
            Unit::None => None,
            Unit::Named(name) => Some(name.to_owned()),
            Unit::Length(per) => Some(format!("mm{per}, or in{per} where `units` is \"in\"")),
        }
    }

    /// The unit in a file of this unit.
    fn unit_in(&self, unit: LengthUnit) -> Option<String> {
        let length = if unit == LengthUnit::Mm { "mm" } else { "in" };
        match self.unit {
            Unit::None => None,
            Unit::Named(name) => Some(name.to_owned()),
            Unit::Length(per) => Some(format!("{length}{per}")),
        }
    }

    /// What a number may be, if anything is worth saying of that; mm where it is a length.
    #[must_use]
    pub fn range(&self) -> Option<String> {
        let text = match self.kind {
            Kind::Whole(low, high) => format!("from {low} to {high}"),
            Kind::Number(bounds)
            | Kind::NumberOrPairs(bounds)
            | Kind::Pair(bounds)
            | Kind::SomePairs(bounds)
            | Kind::WordOrPair(_, bounds) => {
                let mm = matches!(self.unit, Unit::Length(_)).then_some(LengthUnit::Mm);
                bounds.text(mm, None)
            }
            _ => String::new(),
        };
        (!text.is_empty()).then_some(text)
    }

    /// What is taken where it is left out: a value as it would be written, or words.
    #[must_use]
    pub fn default_text(&self) -> Option<&'static str> {
        match self.default {
            Default::None => None,
            Default::Value(text) | Default::Told(text) => Some(text),
        }
    }

    /// A value as it would be written in a file in mm; nothing for a section.
    #[must_use]
    pub fn example(&self) -> Option<&'static str> {
        (!self.example.is_empty()).then_some(self.example)
    }
}

/// The keys that a name means: in full as `rotary.backlash`, or its last part alone.
///
/// # Errors
/// The nearest name there is, where none is meant.
///
/// ```
/// let found = stave_setup::keys_named("circumference").unwrap();
/// assert_eq!(found[0].key, "station.circumference");
/// assert_eq!(stave_setup::keys_named("rotary.revers"), Err(Some("rotary.reverse")));
/// ```
pub fn keys_named(name: &str) -> Result<Vec<&'static Key>, Option<&'static str>> {
    let all: Vec<&'static Key> =
        SettingsFile::ALL.into_iter().flat_map(SettingsFile::keys).collect();
    let whole: Vec<&'static Key> = all.iter().filter(|key| key.key == name).copied().collect();
    if !whole.is_empty() {
        return Ok(whole);
    }
    let last: Vec<&'static Key> = all.iter().filter(|key| key.name() == name).copied().collect();
    if !last.is_empty() {
        return Ok(last);
    }
    let names = all.iter().map(|key| key.key);
    Err(nearest(name, names).or_else(|| nearest(name, all.iter().map(|key| key.name()))))
}

impl PartialEq for Key {
    fn eq(&self, other: &Self) -> bool {
        (self.file, self.key) == (other.file, other.key)
    }
}

/// The words of a setting, for a table.
const fn word<W: Word>() -> Kind {
    Kind::Word(words_of::<W>)
}

#[cfg(test)]
mod tests;
