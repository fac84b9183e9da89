//! What sections are called where no comment of a program has to hold it.

use std::collections::HashMap;

use stave_toolpath::{printable, printable_within};

use super::sections::{NAME, Sections};

/// The names of sections as they were drawn, by those that they have in the program.
#[derive(Clone, Debug, Default)]
pub(crate) struct OwnNames(HashMap<String, Option<String>>);

impl OwnNames {
    /// Takes note of what a comment says before it is spelled in ASCII and cut.
    #[cfg_attr(not(feature = "svg"), allow(dead_code))]
    pub(crate) fn comment(&mut self, text: &str) {
        // Read back, a comment has no blanks about it: some letters are spelled with one after.
        let short = printable_within(printable(text).trim(), NAME);
        if short == text {
            return;
        }
        self.0
            .entry(short)
            .and_modify(|own| {
                // Two that come out alike cannot be told apart any more.
                if own.as_deref() != Some(text) {
                    *own = None;
                }
            })
            .or_insert_with(|| Some(text.to_owned()));
    }

    /// The name as it was drawn, of one in the program.
    #[cfg_attr(not(feature = "pictures"), allow(dead_code))]
    pub(crate) fn of(&self, sections: &Sections, section: u32) -> String {
        let name = sections.name(section);
        self.0.get(name).and_then(Clone::clone).unwrap_or_else(|| name.to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_section_is_called_as_it_was_drawn() {
        let long = format!("piece {}: 標題", "a long name ".repeat(9));
        let texts = ["piece 標題: areas", "piece p: 標題", &long, "operation 啊", "operation 阿"];
        let (mut sections, mut own) = (Sections::default(), OwnNames::default());
        let mut told = Vec::new();
        for text in texts {
            own.comment(text);
            // As the program has it, and as it is read back.
            sections.comment(printable_within(text, 254).as_bytes());
            told.push(sections.now());
        }
        let told: Vec<String> = told.into_iter().map(|k| own.of(&sections, k)).collect();
        assert_eq!(told[..3], ["piece 標題: areas", "piece p: 標題", &long]);
        // Both are spelled alike: neither is claimed to be the other.
        assert_eq!(told[3], told[4]);
        assert!(told[3].is_ascii(), "{told:?}");
        assert!(sections.name(3).ends_with("...") && sections.name(3).len() == NAME);
    }
}
