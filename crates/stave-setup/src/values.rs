//! Reading the value of a key: numbers, lengths, angles, words, names and pairs.

use toml::de::DeValue;

use crate::bounds::Bounds;
use crate::list::allowed_words;
use crate::section::{Entry, Section};
use crate::word::Word;
use crate::{Given, LengthUnit};

impl<'d> Section<'_, '_, 'd> {
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
            let number = match entry.value {
                DeValue::String(_) => "a number without quotes",
                DeValue::Float(_) => "a finite number",
                _ => "a number",
            };
            let range = bounds.text(unit, None);
            let allowed =
                if range.is_empty() { number.to_owned() } else { format!("{number}, {range}") };
            self.must_be(entry, &allowed);
            return None;
        };
        let value = unit.map_or(found, |unit| unit.to_mm(found));
        if !bounds.hold(value) {
            self.must_be(entry, &bounds.text(unit, Some(value)));
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

    /// A name: not empty, not long, without control characters, since it ends in comments and
    /// pictures.
    pub(crate) fn name(&mut self, key: &'static str) -> Option<Given<String>> {
        let entry = self.entry(key)?;
        self.name_in(&entry)
    }

    pub(crate) fn name_in(&mut self, entry: &Entry<'_>) -> Option<Given<String>> {
        match entry.value {
            DeValue::String(text) if is_name(text) => self.given(entry, text.to_string()),
            _ => {
                self.must_be(entry, NAME_ALLOWED);
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
}

/// The most characters of a name.
pub(crate) const MOST_NAME_CHARS: usize = 200;

/// What a name may be, for messages.
pub const NAME_ALLOWED: &str =
    "a text of 1 to 200 characters without line breaks or control characters";

/// Whether a text may be a name, see [`NAME_ALLOWED`].
///
/// ```
/// assert!(stave_setup::is_name("tea tin") && !stave_setup::is_name("tea\ntin"));
/// ```
#[must_use]
pub fn is_name(text: &str) -> bool {
    !text.trim().is_empty()
        && text.chars().nth(MOST_NAME_CHARS).is_none()
        && !text.chars().any(char::is_control)
}

/// The value of an integer or a finite float.
pub(crate) fn number_of(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        // An integer past 128 bits is past every bound too.
        #[expect(clippy::cast_precision_loss, reason = "as near as can be")]
        DeValue::Integer(number) => {
            i128::from_str_radix(number.as_str(), number.radix()).ok()? as f64
        }
        DeValue::Float(number) => number.as_str().parse().ok()?,
        _ => return None,
    };
    number.is_finite().then_some(number)
}
