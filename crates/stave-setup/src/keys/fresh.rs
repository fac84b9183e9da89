//! A new file: every key with what it means, those that most need set to an example.

use std::fmt::Write;

use stave_toolpath::number::fixed;

use super::{Default, Key, Kind, Need, SettingsFile, Unit, Usual};
use crate::{LengthUnit, quantity};

/// A question of a new file.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    /// The key that is asked for.
    pub key: &'a Key,
    /// What is written if nothing else is answered.
    pub example: String,
    /// The unit of the answer, if it has one.
    pub unit: Option<String>,
}

/// A new file whose lengths are in `unit`, with a comment at every key. What every file of its kind
/// gives is set: to what `answer` says, as it is to be written, else to an example. What may be
/// left out stands there with its default, or as a comment, to be taken in by taking away its `#`.
///
/// ```
/// use stave_setup::{LengthUnit, SettingsFile, fresh_file, read_blank};
/// let text = fresh_file(SettingsFile::Blank, LengthUnit::Mm, |asked| {
///     (asked.key.key == "name").then(|| "\"jar\"".to_owned())
/// });
/// assert_eq!(read_blank(&text, "jar.toml")?.name, "jar");
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn fresh_file(
    file: SettingsFile,
    unit: LengthUnit,
    answer: impl FnMut(&Asked<'_>) -> Option<String>,
) -> String {
    let mut fresh = Fresh { keys: file.keys(), unit, answer, text: String::new() };
    fresh.text.push_str(match file {
        SettingsFile::Blank => "# A blank: the ware, its wall as measured.\n",
        SettingsFile::Machine => "# A machine: its controller, axes, rotary and optics.\n",
        SettingsFile::Job => "# A job: how and where art is laid on the ware, and burned.\n",
        SettingsFile::Order => "# An order: which rows make which pieces, and what they cost.\n",
    });
    fresh
        .text
        .push_str("# What stands behind a # without a blank may be added: take the # away.\n\n");
    fresh.section("", false, false);
    fresh.text
}

struct Fresh<A> {
    keys: Vec<&'static Key>,
    unit: LengthUnit,
    answer: A,
    text: String,
}

impl<A: FnMut(&Asked<'_>) -> Option<String>> Fresh<A> {
    /// What stands in a section, and the sections in it; all of it commented out if it is `off`.
    fn section(&mut self, path: &str, off: bool, second: bool) {
        let own: Vec<&'static Key> =
            self.keys.iter().filter(|key| key.section() == path).copied().collect();
        for (index, key) in own.iter().enumerate().filter(|(_, key)| !key.is_section()) {
            self.key(key, off, second, &own[..index]);
        }
        for key in own {
            let (Kind::Table(usual) | Kind::Tables(usual)) = key.kind else { continue };
            let off = off || usual == Usual::No;
            let mark = if off { "#" } else { "" };
            let head = if key.is_list() {
                format!("{mark}[[{}]]", key.key)
            } else {
                format!("{mark}[{}]", key.key)
            };
            self.write(&format!("\n# {}\n{head}\n", key.text));
            self.section(key.key, off, false);
            let again = self
                .keys
                .iter()
                .any(|in_it| in_it.section() == key.key && !in_it.second.is_empty());
            if again {
                self.write(&format!("\n{head}\n"));
                self.section(key.key, off, true);
            }
        }
    }

    fn key(&mut self, key: &'static Key, off: bool, second: bool, before: &[&Key]) {
        let asks = match key.need {
            Need::Needed | Need::Usual | Need::Unless(_) => true,
            Need::Or(other) | Need::Not(other) => !before.iter().any(|one| one.name() == other),
            Need::Alone => before.is_empty(),
            Need::Optional => false,
        };
        let set = asks || matches!(key.default, Default::Value(_));
        let example = if second && !key.second.is_empty() { key.second } else { key.example };
        let mut value = match key.default {
            Default::Value(default) => default.to_owned(),
            _ => example.to_owned(),
        };
        if let Unit::Length(_) = key.unit {
            value = in_unit(&value, self.unit);
        }
        if key.name() == "units" && self.unit == LengthUnit::Inch {
            value = "\"in\"".to_owned();
        } else if asks && !off {
            let unit = key.unit_in(self.unit);
            let asked = Asked { key, example: value.clone(), unit };
            value = (self.answer)(&asked).unwrap_or(value);
        }
        let mark = if off || !set { "#" } else { "" };
        if !second {
            let comment = comment(key, self.unit);
            self.write(&format!("# {comment}\n"));
        }
        self.write(&format!("{mark}{} = {value}\n", key.name()));
    }

    fn write(&mut self, text: &str) {
        // Writing into a string does not fail.
        let _ = self.text.write_str(text);
    }
}

/// What a key means, in a line.
fn comment(key: &Key, unit: LengthUnit) -> String {
    let mut text = key.text.to_owned();
    if let Some(unit) = key.unit_in(unit) {
        text += &format!(", {unit}");
    }
    if let Kind::Word(words) | Kind::WordOrPair(words, _) = key.kind {
        let words: Vec<String> = words().iter().map(|word| format!("\"{word}\"")).collect();
        text += &format!(": {}", words.join(", "));
    }
    if let Default::Told(words) = key.default {
        text += &format!(" (left out: {words})");
    }
    text
}

/// A number or a list of numbers, or of such lists, in mm, in another unit; anything else as it is.
fn in_unit(value: &str, unit: LengthUnit) -> String {
    let one = |text: &str| {
        let mm = quantity::number(text)?;
        let length = unit.of_mm(mm);
        let text = fixed(length, if length.abs() < 0.1 { 6 } else { 4 });
        Some(if text.contains('.') { text } else { text + ".0" })
    };
    let between = |letter: char| matches!(letter, '[' | ']' | ',' | ' ');
    let mut converted = String::new();
    for part in value.split_inclusive(between) {
        let number = part.trim_end_matches(between);
        match one(number) {
            Some(length) => converted.push_str(&length),
            None if number.is_empty() => {}
            None => return value.to_owned(),
        }
        converted.push_str(part.trim_start_matches(number));
    }
    converted
}
