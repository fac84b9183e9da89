//! The values that fill a drawing's fields.

use std::collections::BTreeSet;

use stave_parse::svg::{SvgError, Template};
use stave_toolpath::field::{FieldFault, FieldText, Fields};

use crate::error::{Error, SourceFault};
use crate::source::Source;

/// Values for the fields of a drawing.
///
/// ```
/// use stave::{FieldValues, Source};
/// let mut values = FieldValues::default();
/// values.set.insert("name".to_owned(), "Ada".to_owned());
/// let drawing = Source::drawing(&b"<svg><text>{name}</text></svg>"[..]);
/// assert!(drawing.filled(&values).is_ok());
/// assert!(Source::path("M0 0H9").filled(&values).is_err());
/// ```
#[derive(Clone, Debug, Default)]
pub struct FieldValues {
    /// Those of a row, of which a drawing may use some.
    pub row: Fields,
    /// Those that are set one by one: each must be used, and beats that of the row.
    pub set: Fields,
}

impl FieldValues {
    /// All of them.
    #[must_use]
    pub fn all(&self) -> Fields {
        let mut all = self.row.clone();
        all.extend(self.set.iter().map(|(name, value)| (name.clone(), value.clone())));
        all
    }

    /// A text with its values, such as a title.
    ///
    /// # Errors
    /// A field without its end or without a value.
    pub fn text(&self, text: &str) -> Result<String, FieldFault> {
        FieldText::read(text)?.filled(&self.all())
    }

    /// What is set and a text does not use, as a list of fields; `None` where it uses all.
    ///
    /// ```
    /// let mut values = stave::FieldValues::default();
    /// values.set.insert("year".to_owned(), "2027".to_owned());
    /// assert_eq!(values.unused_by("cup of {year}"), None);
    /// assert_eq!(values.unused_by("cup").as_deref(), Some("`{year}`"));
    /// ```
    #[must_use]
    pub fn unused_by(&self, text: &str) -> Option<String> {
        let text = FieldText::read(text).ok();
        let used = text.iter().flat_map(FieldText::names).collect();
        Some(self.unused(&used).join(", ")).filter(|unused| !unused.is_empty())
    }

    fn unused(&self, used: &BTreeSet<&str>) -> Vec<String> {
        let is_unused = |name: &&String| !used.contains(name.as_str());
        self.set.keys().filter(is_unused).map(|name| format!("`{{{name}}}`")).collect()
    }
}

impl Source<'_> {
    /// The same with its fields filled, where it is a drawing: those in texts, titles, paint and
    /// references; elements whose `data-if` does not hold are taken out. From here on braces are
    /// braces.
    ///
    /// # Errors
    /// A drawing that cannot be read, a field without a value, a value that is set and that nothing
    /// uses.
    pub fn filled(self, values: &FieldValues) -> Result<Self, Error> {
        let all = values.all();
        match self {
            Self::Drawing { svg, name, linked } => {
                let of_drawing = |error: SvgError| Error::of_source(&name, SourceFault::Svg(error));
                let template = Template::read(&svg).map_err(of_drawing)?;
                let unused = values.unused(&template.names());
                if !unused.is_empty() {
                    let unused = unused.join(", ");
                    let message = format!("{name}: nothing in the drawing uses {unused}");
                    return Err(Error::Setting(message));
                }
                let filled = template.filled(&all).map_err(of_drawing)?.into_owned();
                Ok(Self::Drawing { svg: filled.into(), name, linked })
            }
            other => match values.unused(&BTreeSet::new()) {
                unused if unused.is_empty() => Ok(other),
                unused => {
                    let (name, unused) = (other.name(), unused.join(", "));
                    Err(Error::Setting(format!(
                        "{name}: only a drawing has fields such as {unused}"
                    )))
                }
            },
        }
    }
}
