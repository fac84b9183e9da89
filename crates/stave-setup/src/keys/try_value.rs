//! Whether a value may stand for a key: the reader of its file is asked.

use toml::de::DeTable;

use super::{Key, Kind, SettingsFile};
use crate::syntax::syntax_fault;
use crate::{Faults, LengthUnit, read_blank, read_job, read_machine, read_order};

impl Key {
    /// What is wrong with `value`, as it would be written in a file in `unit`; `None` if nothing is
    /// wrong with it as far as it alone can tell.
    ///
    /// ```
    /// use stave_setup::{LengthUnit, keys_named};
    /// let keys = keys_named("station.diameter").unwrap();
    /// assert_eq!(keys[0].refusal("70", LengthUnit::Mm), None);
    /// assert!(keys[0].refusal("-3", LengthUnit::Mm).unwrap().contains("at least 0.0254 mm"));
    /// ```
    #[must_use]
    pub fn refusal(&self, value: &str, unit: LengthUnit) -> Option<String> {
        let units = if unit == LengthUnit::Mm { "mm" } else { "in" };
        let line = format!("{} = {value}", self.name().replace(['\n', '\r'], " "));
        // Whatever is missing is told of the first line or of a section's head.
        let head = self.head();
        let text = match self.name() {
            "units" => format!("#\n{line}\n"),
            _ => format!("units = \"{units}\"\n{head}\n{line}\n"),
        };
        let last = text.lines().count() as u64;
        if let Err(error) = DeTable::parse(&text) {
            let found: String = value.chars().take(40).collect();
            return Some(syntax_fault(&error, &found, value));
        }
        let faults = self.faults(&text)?;
        let own = faults
            .iter()
            .find(|fault| fault.line() == Some(last) && fault.message.contains("must be"))?;
        Some(own.message.clone())
    }

    /// The heads of its sections.
    fn head(&self) -> String {
        let section = self.section();
        let list = |path: &str| self.file.keys().iter().any(|key| key.key == path && key.is_list());
        match section.split_once('.') {
            None if section.is_empty() => String::new(),
            None if list(section) => format!("[[{section}]]"),
            None => format!("[{section}]"),
            // A table in a list is reached by its dotted name: the last of the list is meant.
            Some((outer, _)) if list(outer) => format!("[[{outer}]]\n[{section}]"),
            Some(_) if list(section) => format!("[[{section}]]"),
            Some(_) => format!("[{section}]"),
        }
    }

    fn faults(&self, text: &str) -> Option<Faults> {
        match self.file {
            SettingsFile::Blank => read_blank(text, "new").err(),
            SettingsFile::Machine => read_machine(text, "new").err(),
            SettingsFile::Job => read_job(text, "new").err(),
            SettingsFile::Order => read_order(text, "new").err(),
        }
    }

    /// What was typed for it, as a file would have it: quotes around what is text.
    #[must_use]
    pub fn written(&self, typed: &str) -> String {
        let typed = typed.trim();
        let is_text = matches!(
            self.kind,
            Kind::Text | Kind::Texts | Kind::Word(_) | Kind::Colour | Kind::WordOrPair(..)
        );
        if !is_text || typed.starts_with(['"', '\'', '[']) {
            return typed.to_owned();
        }
        let escaped: String = typed
            .chars()
            .map(|letter| match letter {
                '"' => "\\\"".to_owned(),
                '\\' => "\\\\".to_owned(),
                other => other.to_string(),
            })
            .collect();
        format!("\"{escaped}\"")
    }
}
