//! `[[coating]]` as text: printed, and put into a machine file whose every other byte stays.

use std::ops::Range;

use stave_toolpath::number::fixed;
use toml::de::{DeTable, DeValue};

use crate::machine::Coating;
use crate::{Faults, LengthUnit, read_machine, toml_string};

/// Decimals of what is written: more than any machine or person can tell apart.
const DECIMALS: u32 = 6;

impl Coating {
    /// Its section for a machine file whose lengths are in `unit`.
    ///
    /// ```
    /// use stave_setup::{Coating, LengthUnit};
    /// let coating = Coating {
    ///     name: "blue".into(),
    ///     speed_mm_per_s: 254.0,
    ///     power_percent: 45.0,
    ///     line_spacing_mm: None,
    /// };
    /// let text = "[[coating]]\nname = \"blue\"\nspeed = 10.0\npower = 45.0\n";
    /// assert_eq!(coating.to_toml(LengthUnit::Inch), text);
    /// ```
    #[must_use]
    pub fn to_toml(&self, unit: LengthUnit) -> String {
        let mut text = format!("[[coating]]\nname = {}\n", toml_string(&self.name));
        for (key, value) in self.figures(unit) {
            text += &format!("{key} = {value}\n");
        }
        text
    }

    /// Its keys but the name, as they are written.
    fn figures(&self, unit: LengthUnit) -> Vec<(&'static str, String)> {
        let length = |mm: f64| number(unit.of_mm(mm));
        let mut figures =
            vec![("speed", length(self.speed_mm_per_s)), ("power", number(self.power_percent))];
        figures.extend(self.line_spacing_mm.map(|spacing| ("line_spacing", length(spacing))));
        figures
    }

    /// The text of a machine file with this coating in it: in place of the one of its name, else at
    /// the end. Every other byte stays as it is, the comments within that section too. `file` is
    /// what messages call it.
    ///
    /// # Errors
    /// All faults of the file as it is, or as it would become.
    ///
    /// ```
    /// # let machine = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\n\
    /// #   acceleration = 5000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\n\
    /// #   acceleration = 2000\n";
    /// use stave_setup::{Coating, read_machine};
    /// let mut coating = Coating {
    ///     name: "blue".into(),
    ///     speed_mm_per_s: 200.0,
    ///     power_percent: 45.0,
    ///     line_spacing_mm: Some(0.06),
    /// };
    /// let once = coating.put_into(machine, "bench.toml")?;
    /// assert!(once.starts_with(machine) && once.ends_with("line_spacing = 0.06\n"));
    /// coating.power_percent = 50.0;
    /// let twice = coating.put_into(&once, "bench.toml")?;
    /// assert_eq!(twice, once.replace("power = 45.0", "power = 50.0"));
    /// # Ok::<(), stave_setup::Faults>(())
    /// ```
    pub fn put_into(&self, machine: &str, file: &str) -> Result<String, Faults> {
        read_machine(machine, file)?;
        let text = match DeTable::parse(machine) {
            Ok(table) => edited(machine, &self.edits(machine, table.get_ref())),
            // It was read a moment ago.
            Err(_) => machine.to_owned(),
        };
        read_machine(&text, file)?;
        Ok(text)
    }

    fn edits(&self, text: &str, table: &DeTable<'_>) -> Vec<(Range<usize>, String)> {
        let value_of = |table: &'_ DeTable<'_>, key: &str| {
            let found = table.iter().find(|(name, _)| name.get_ref() == key);
            found.map(|(name, value)| (name.span(), value.span()))
        };
        let text_of = |table: &DeTable<'_>, key: &str| {
            let found = table.iter().find(|(name, _)| name.get_ref() == key);
            found.and_then(|(_, value)| value.get_ref().as_str().map(str::to_owned))
        };
        let inches = text_of(table, "units").is_some_and(|unit| unit == "in");
        let unit = if inches { LengthUnit::Inch } else { LengthUnit::Mm };
        let list = table.iter().find(|(name, _)| name.get_ref() == "coating").map(|(_, list)| list);
        let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
        let Some((list, DeValue::Array(items))) = list.map(|list| (list, list.get_ref())) else {
            return vec![self.at_end(text, unit, newline)];
        };
        let mut tables = items.iter().filter_map(|item| match item.get_ref() {
            DeValue::Table(table) => Some((item.span(), table)),
            _ => None,
        });
        let in_line = |span: &Range<usize>| text.get(span.clone()).is_some_and(starts_table);
        let Some((span, own)) =
            tables.find(|(_, own)| text_of(own, "name").as_ref() == Some(&self.name))
        else {
            let sections = items.iter().any(|item| !in_line(&item.span()));
            if sections {
                return vec![self.at_end(text, unit, newline)];
            }
            // A list in one value takes it in behind its bracket.
            let after = list.span().start + 1;
            let figures = self.figures(unit).into_iter();
            let figures: String =
                figures.map(|(key, value)| format!(", {key} = {value}")).collect();
            let name = toml_string(&self.name);
            return vec![(after..after, format!("{{ name = {name}{figures} }}, "))];
        };
        let mut edits = Vec::new();
        for (key, value) in self.figures(unit) {
            let other = if key == "line_spacing" { value_of(own, "lines_per_inch") } else { None };
            if let Some((name, found)) = other {
                edits.push((name.start..found.end, format!("{key} = {value}")));
            } else if let Some((_, found)) = value_of(own, key) {
                edits.push((found, value));
            } else if let Some((_, name)) = value_of(own, "power") {
                let between = if in_line(&span) { ", ".to_owned() } else { newline.to_owned() };
                edits.push((name.end..name.end, format!("{between}{key} = {value}")));
            }
        }
        edits
    }

    fn at_end(&self, text: &str, unit: LengthUnit, newline: &str) -> (Range<usize>, String) {
        let mut added = String::new();
        if !text.is_empty() && !text.ends_with('\n') {
            added += newline;
        }
        added += newline;
        added += &self.to_toml(unit).replace('\n', newline);
        (text.len()..text.len(), added)
    }
}

fn starts_table(text: &str) -> bool {
    text.starts_with('{')
}

/// The text with parts of it, which do not overlap, replaced.
fn edited(text: &str, edits: &[(Range<usize>, String)]) -> String {
    let mut edits: Vec<&(Range<usize>, String)> = edits.iter().collect();
    edits.sort_by_key(|(span, _)| (span.start, span.end));
    let (mut out, mut at) = (String::with_capacity(text.len() + 128), 0);
    for (span, new) in edits {
        out.push_str(text.get(at..span.start).unwrap_or_default());
        out.push_str(new);
        at = span.end;
    }
    out.push_str(text.get(at..).unwrap_or_default());
    out
}

fn number(value: f64) -> String {
    let text = fixed(value, DECIMALS);
    if text.contains('.') { text } else { text + ".0" }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "# my bench\r\n[x]\r\nspeed = 500\r\nacceleration=5000\r\n[y]\r\n\
                        speed = 500\r\nacceleration = 5000\r\n[rotary]\r\nword = 'A' # in\r\n\
                        units_per_turn = 360\r\nspeed = 360\r\nacceleration = 2000";

    fn coating(name: &str) -> Coating {
        Coating {
            name: name.into(),
            speed_mm_per_s: 250.0,
            power_percent: 37.5,
            line_spacing_mm: Some(0.0641),
        }
    }

    #[test]
    fn it_is_added_with_the_files_own_line_ends() {
        let text = coating("my \"blue\"").put_into(HEAD, "m.toml").unwrap();
        let added = "\r\n\r\n[[coating]]\r\nname = \"my \\\"blue\\\"\"\r\nspeed = 250.0\r\n\
                     power = 37.5\r\nline_spacing = 0.0641\r\n";
        assert_eq!(text, format!("{HEAD}{added}"));
        let read = read_machine(&text, "m.toml").unwrap();
        assert_eq!(read.coatings, [coating("my \"blue\"")]);
        // Again, it is the same file.
        assert_eq!(coating("my \"blue\"").put_into(&text, "m.toml").unwrap(), text);
    }

    #[test]
    fn only_its_own_figures_change() {
        let head = HEAD.replace('\r', "");
        let before = format!(
            "{head}\n[[coating]]\nname = 'red'\nspeed = 1 # slow\npower = 2\n\n# the next\n\
             [[coating]]\npower=  60 # much\nname = \"blue\"\nlines_per_inch = 400 # fine\n\
             speed = 20\n[line]\nspeed = 60\npower = 20\n"
        );
        let after = before
            .replace("power=  60", "power=  37.5")
            .replace("lines_per_inch = 400", "line_spacing = 0.0641")
            .replace("speed = 20\n[line]", "speed = 250.0\n[line]");
        assert_eq!(coating("blue").put_into(&before, "m.toml").unwrap(), after);
        // One that had no spacing gets one.
        let after = before
            .replace("speed = 1 #", "speed = 250.0 #")
            .replace("power = 2\n\n", "power = 37.5\nline_spacing = 0.0641\n\n");
        assert_eq!(coating("red").put_into(&before, "m.toml").unwrap(), after);
    }

    #[test]
    fn lists_in_one_value_and_inches_are_kept_as_they_are() {
        let before =
            format!("units = \"in\"\ncoating = [{{ name = \"a\", speed = 2, power = 9 }}]\n{HEAD}");
        let inches = coating("a").put_into(&before, "m.toml").unwrap();
        let expected = before
            .replace("speed = 2,", "speed = 9.84252,")
            .replace("power = 9 ", "power = 37.5, line_spacing = 0.002524 ");
        assert_eq!(inches, expected);
        let two = coating("b").put_into(&before, "m.toml").unwrap();
        let read = read_machine(&two, "m.toml").unwrap();
        let names: Vec<&str> = read.coatings.iter().map(|coating| &*coating.name).collect();
        assert_eq!(names, ["b", "a"]);
        assert!((read.coatings[0].speed_mm_per_s - 250.0).abs() < 1e-4);
    }

    #[test]
    fn a_file_with_faults_is_not_touched() {
        assert!(coating("a").put_into("[x]\nspeed = 'fast'\n", "m.toml").is_err());
        assert!(coating("").put_into(HEAD, "m.toml").is_err());
    }
}
