//! Readings: what a person measured on a blank, before it is a blank file.
//!
//! A text of one reading a line: the place along the axis, `diameter` or `circumference`, and one
//! value or several of the same place measured again. Blanks, tabs, commas and semicolons part
//! them, `#` begins a comment, and a line `units in` makes bare lengths inches from there on.
//! `3.5in` and `88mm` say it themselves.
//!
//! ```text
//! # the stepped bottle
//! 0    diameter       66.02 65.98 66.00
//! 40   diameter       67.5
//! 120  circumference  273.5
//! ```

use std::ops::Range;
use std::sync::Arc;

use crate::bounds::{Bounds, LONGEST_MM, plain};
use crate::quantity::number;
use crate::text::Text;
use crate::{Fault, Faults, LengthUnit, Source};

/// More places than anyone measures; a wall of more is not from readings.
const MOST_PLACES: usize = 2000;
/// More values of one place than anyone takes.
const MOST_VALUES: usize = 1000;
/// The most faults told of one text.
const MOST_FAULTS: usize = 20;

const AT: Bounds = Bounds::closed(-LONGEST_MM, LONGEST_MM);
const SIZE: Bounds = Bounds::positive(LONGEST_MM);

/// What was measured with what.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Gauge {
    /// A diameter, by caliper.
    Caliper,
    /// A circumference, by tape.
    Tape,
}

impl Gauge {
    /// The word of the quantity it reads.
    #[must_use]
    pub fn quantity(self) -> &'static str {
        match self {
            Self::Caliper => "diameter",
            Self::Tape => "circumference",
        }
    }

    /// A reading as a diameter, mm.
    ///
    /// ```
    /// use stave_setup::Gauge;
    /// assert_eq!(Gauge::Caliper.diameter_mm(80.0), 80.0);
    /// assert_eq!(Gauge::Tape.diameter_mm(80.0 * std::f64::consts::PI), 80.0);
    /// ```
    #[must_use]
    pub fn diameter_mm(self, reading_mm: f64) -> f64 {
        match self {
            Self::Caliper => reading_mm,
            Self::Tape => reading_mm / std::f64::consts::PI,
        }
    }
}

/// The readings of one place by one gauge.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// With what.
    pub gauge: Gauge,
    /// The values as read, mm, at least one: diameters or circumferences.
    pub values_mm: Vec<f64>,
}

/// Reads a text of readings; bare lengths are in `unit` until the text says otherwise. `file` is
/// what messages call it.
///
/// # Errors
/// All faults at once, each with line, column, what was found and what is allowed.
///
/// # Examples
/// ```
/// use stave_setup::{Gauge, LengthUnit, read_readings};
/// let text = "0 diameter 66.02, 65.98\n1.5in circumference 212";
/// let found = read_readings(text, "bottle.txt", LengthUnit::Mm)?;
/// assert_eq!(found[0].values_mm, [66.02, 65.98]);
/// assert_eq!((found[1].at_mm, found[1].gauge), (38.1, Gauge::Tape));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
pub fn read_readings(text: &str, file: &str, unit: LengthUnit) -> Result<Vec<Reading>, Faults> {
    let places = Text::new(text, file);
    let (mut readings, mut faults, mut unit) = (Vec::new(), Vec::new(), unit);
    let mut offset = 0;
    for line in text.split_inclusive('\n') {
        let content = line.split('#').next().unwrap_or("");
        let words = words(content, offset);
        offset += line.len();
        let result = match words.as_slice() {
            [] => continue,
            [(_, "units"), rest @ ..] => units(rest, &words).map(|found| unit = found),
            _ => reading(&words, unit).map(|reading| readings.push(reading)),
        };
        if let Err((span, message)) = result {
            faults.push(Fault::new(Some(places.source(&span)), message));
        }
        if faults.len() == MOST_FAULTS || readings.len() > MOST_PLACES {
            break;
        }
    }
    if readings.len() > MOST_PLACES {
        faults.push(Fault::new(
            None,
            format!("{file}: has more than {MOST_PLACES} readings, the most that are read"),
        ));
    }
    if faults.is_empty() { Ok(readings) } else { Err(faults.into()) }
}

impl Reading {
    /// A reading as an option gives it: `AT=VALUE`, or `AT=VALUE,VALUE` where it was measured
    /// again.
    ///
    /// # Errors
    /// What was found and what is allowed.
    ///
    /// ```
    /// use stave_setup::{Gauge, LengthUnit, Reading};
    /// let reading = Reading::of_option(Gauge::Caliper, "40=67.5,67.4", LengthUnit::Mm)?;
    /// assert_eq!((reading.at_mm, reading.values_mm.len()), (40.0, 2));
    /// # Ok::<(), stave_setup::Fault>(())
    /// ```
    pub fn of_option(gauge: Gauge, text: &str, unit: LengthUnit) -> Result<Self, Fault> {
        let name = gauge.quantity();
        let fault =
            |message: String| Fault::new(Some(Source::Option { name: Arc::from(name) }), message);
        let Some((at, values)) = text.split_once('=') else {
            return Err(fault(format!(
                "\"{text}\" is given, but must be AT=VALUE, such as 40=67.5 or 40=67.5,67.4"
            )));
        };
        let words = std::iter::once(at).chain(values.split(','));
        let lengths: Result<Vec<f64>, String> = words
            .enumerate()
            .map(|(k, word)| length(word, if k == 0 { AT } else { SIZE }, unit))
            .collect();
        let mut lengths = lengths.map_err(fault)?.into_iter();
        Ok(Self { at_mm: lengths.next().unwrap_or(0.0), gauge, values_mm: lengths.collect() })
    }
}

/// A length as the option `name` gives it, mm: 0 or more, in `unit` unless it names its own.
///
/// # Errors
/// What was found and what is allowed.
///
/// ```
/// use stave_setup::{LengthUnit, option_length_mm};
/// assert_eq!(option_length_mm("within", "0.1", LengthUnit::Mm), Ok(0.1));
/// assert_eq!(option_length_mm("within", "1", LengthUnit::Inch), Ok(25.4));
/// assert!(option_length_mm("within", "-1", LengthUnit::Mm).is_err());
/// ```
pub fn option_length_mm(name: &str, text: &str, unit: LengthUnit) -> Result<f64, Fault> {
    length(text, Bounds::closed(0.0, LONGEST_MM), unit)
        .map_err(|message| Fault::new(Some(Source::Option { name: Arc::from(name) }), message))
}

type Wrong = (Range<usize>, String);

/// The words of a line with their offsets in the text.
fn words(content: &str, offset: usize) -> Vec<(Range<usize>, &str)> {
    let parted = |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '\u{feff}');
    let mut found = Vec::new();
    let mut start = None;
    for (at, c) in content.char_indices().chain([(content.len(), ' ')]) {
        match (parted(c), start) {
            (false, None) => start = Some(at),
            (true, Some(from)) => {
                found.push((offset + from..offset + at, &content[from..at]));
                start = None;
            }
            _ => {}
        }
    }
    found
}

fn units(
    rest: &[(Range<usize>, &str)],
    line: &[(Range<usize>, &str)],
) -> Result<LengthUnit, Wrong> {
    match rest {
        [(_, "mm")] => Ok(LengthUnit::Mm),
        [(_, "in")] => Ok(LengthUnit::Inch),
        _ => Err((whole(line), "`units` must be followed by mm or in".to_owned())),
    }
}

fn reading(words: &[(Range<usize>, &str)], unit: LengthUnit) -> Result<Reading, Wrong> {
    let [(at_span, at), (gauge_span, gauge), values @ ..] = words else {
        return Err((whole(words), FORM.to_owned()));
    };
    let at_mm = length(at, AT, unit).map_err(|message| (at_span.clone(), message))?;
    let gauge = match *gauge {
        "diameter" => Gauge::Caliper,
        "circumference" => Gauge::Tape,
        other => {
            let other: String = other.chars().take(40).collect();
            return Err((
                gauge_span.clone(),
                format!("\"{other}\" stands here, but must be diameter or circumference: {FORM}"),
            ));
        }
    };
    if values.is_empty() {
        return Err((whole(words), FORM.to_owned()));
    }
    if values.len() > MOST_VALUES {
        return Err((whole(words), format!("at most {MOST_VALUES} values of one place are read")));
    }
    let values_mm: Result<Vec<f64>, Wrong> = values
        .iter()
        .map(|(span, value)| length(value, SIZE, unit).map_err(|message| (span.clone(), message)))
        .collect();
    Ok(Reading { at_mm, gauge, values_mm: values_mm? })
}

const FORM: &str = "a reading is a place, `diameter` or `circumference`, and at least one value, \
                    such as `40 diameter 67.5`";

fn whole(words: &[(Range<usize>, &str)]) -> Range<usize> {
    match (words.first(), words.last()) {
        (Some(first), Some(last)) => first.0.start..last.0.end,
        _ => 0..0,
    }
}

/// A length in `unit` unless it names its own, mm.
fn length(word: &str, bounds: Bounds, unit: LengthUnit) -> Result<f64, String> {
    let word = word.trim();
    let (digits, unit) = match (word.strip_suffix("mm"), word.strip_suffix("in")) {
        (Some(digits), _) => (digits, LengthUnit::Mm),
        (_, Some(digits)) => (digits, LengthUnit::Inch),
        _ => (word, unit),
    };
    let found: String =
        word.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    let Some(value) = number(digits.trim_end()).map(|value| unit.to_mm(value)) else {
        return Err(format!(
            "\"{found}\" is no length; write 67.5, 67.5mm or 2.66in, with a point for decimals"
        ));
    };
    if bounds.hold(value) {
        return Ok(value);
    }
    Err(format!(
        "{} mm is given, but must be {}",
        plain(value),
        bounds.text(Some(LengthUnit::Mm), Some(value))
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn faults(text: &str) -> String {
        read_readings(text, "readings.txt", LengthUnit::Mm).unwrap_err().to_string()
    }

    #[test]
    fn units_hold_from_their_line_on() {
        let found = read_readings(
            "1 diameter 2\nunits in\n1 diameter 2\n25.4mm,diameter;2in\r\n",
            "r",
            LengthUnit::Mm,
        );
        let found: Vec<(f64, f64)> =
            found.unwrap().iter().map(|r| (r.at_mm, r.values_mm[0])).collect();
        assert_eq!(found, [(1.0, 2.0), (25.4, 50.8), (25.4, 50.8)]);
    }

    #[test]
    fn all_faults_are_told() {
        insta::assert_snapshot!(faults("# a comment\n0 diameter\nx diameter 5\n0 girth 5\n0 diameter -3 # no\nunits cm\n"), @r#"
        readings.txt:2:1: a reading is a place, `diameter` or `circumference`, and at least one value, such as `40 diameter 67.5`
        2 | 0 diameter
          | ^^^^^^^^^^
        readings.txt:3:1: "x" is no length; write 67.5, 67.5mm or 2.66in, with a point for decimals
        3 | x diameter 5
          | ^
        readings.txt:4:3: "girth" stands here, but must be diameter or circumference: a reading is a place, `diameter` or `circumference`, and at least one value, such as `40 diameter 67.5`
        4 | 0 girth 5
          |   ^^^^^
        readings.txt:5:12: -3 mm is given, but must be more than 0
        5 | 0 diameter -3 # no
          |            ^^
        readings.txt:6:1: `units` must be followed by mm or in
        6 | units cm
          | ^^^^^^^^
        "#);
    }

    #[test]
    fn options_are_told_what_they_must_be() {
        let fault =
            |text| Reading::of_option(Gauge::Tape, text, LengthUnit::Mm).unwrap_err().to_string();
        insta::assert_snapshot!([fault("40"), fault("40="), fault("40=1e9")].join("\n"), @r#"
        --circumference: "40" is given, but must be AT=VALUE, such as 40=67.5 or 40=67.5,67.4
        --circumference: "" is no length; write 67.5, 67.5mm or 2.66in, with a point for decimals
        --circumference: 1e9 mm is given, but must be more than 0 and at most 100000 mm
        "#);
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "\\PC{0,60}(\n\\PC{0,30}){0,4}") {
            if let Ok(found) = read_readings(&text, "r", LengthUnit::Inch) {
                prop_assert!(found.iter().all(|r| !r.values_mm.is_empty() && r.values_mm.iter().all(|v| *v > 0.0)));
            }
        }
    }
}
