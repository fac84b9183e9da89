//! Readings: what a person measured on a blank, before it is a blank file.
//!
//! A text of one reading a line: the place along the axis, `diameter` or `circumference` (`dia` and
//! `circ` for short), and one value or several of the same place measured again. Blanks, tabs,
//! commas and semicolons part them; but `58,1`, which may be meant for 58.1, is refused, and
//! `58, 1` is not. `#` begins a comment, and a line `units in` before the first reading makes bare
//! lengths inches. `3.5in` and `88 mm` say it themselves.
//!
//! ```text
//! # the stepped bottle
//! 0    diameter       66.02 65.98 66.00
//! 40   diameter       67.5
//! 120  circumference  273.5
//! ```

use std::ops::Range;
use std::sync::Arc;

use crate::bounds::{Bounds, LONGEST_MM, THINNEST_MM};
use crate::line_words::{
    Wrong, decimal_comma, is_decimal_comma, length, parted_at_turns, whole, with_units, words,
};
use crate::quantity::number;
use crate::text::Text;
use crate::{Fault, Faults, LengthUnit, Origin};

/// More places than anyone measures; a wall of more is not from readings.
const MOST_PLACES: usize = 2000;
/// More values of one place than anyone takes.
const MOST_VALUES: usize = 1000;
/// The most faults told of one text.
const MOST_FAULTS: usize = 20;

const AT: Bounds = Bounds::closed(-LONGEST_MM, LONGEST_MM);
const TURN_DEG: Bounds = Bounds::closed(-3600.0, 3600.0);
const SIZE: Bounds = Bounds::closed(THINNEST_MM, LONGEST_MM);

/// What was measured with what.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Gauge {
    /// A diameter, by caliper.
    Caliper,
    /// A circumference, by tape.
    Tape,
    /// How far out the wall is at a turn, from any zero, by dial indicator.
    Dial,
}

impl Gauge {
    /// The word of the quantity it reads.
    #[must_use]
    pub fn quantity(self) -> &'static str {
        match self {
            Self::Caliper => "diameter",
            Self::Tape => "circumference",
            Self::Dial => "dial",
        }
    }

    /// A reading as a diameter, mm; `None` for a dial, which tells none.
    ///
    /// ```
    /// use stave_setup::Gauge;
    /// assert_eq!(Gauge::Caliper.diameter_mm(80.0), Some(80.0));
    /// assert_eq!(Gauge::Tape.diameter_mm(80.0 * std::f64::consts::PI), Some(80.0));
    /// assert_eq!(Gauge::Dial.diameter_mm(0.2), None);
    /// ```
    #[must_use]
    pub fn diameter_mm(self, reading_mm: f64) -> Option<f64> {
        match self {
            Self::Caliper => Some(reading_mm),
            Self::Tape => Some(reading_mm / std::f64::consts::PI),
            Self::Dial => None,
        }
    }

    /// What its readings may be, mm.
    fn bounds(self) -> Bounds {
        match self {
            Self::Caliper | Self::Tape => SIZE,
            Self::Dial => AT,
        }
    }
}

/// The readings of one place by one gauge.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Where along the axis, mm.
    pub at_mm: f64,
    /// The turn at which it was read, rad; `None` where nobody said, or a tape went around.
    pub turn_rad: Option<f64>,
    /// With what.
    pub gauge: Gauge,
    /// The values as read, mm, at least one: diameters, circumferences, or what a dial showed.
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
    // Whoever writes `units in` below readings means those above too.
    let mut begun = false;
    for line in text.split_inclusive('\n') {
        let content = line.split('#').next().unwrap_or("");
        let words = parted_at_turns(words(content, offset));
        let comma = decimal_comma(content, offset, &words);
        let words = with_units(content, offset, words);
        offset += line.len();
        let result = match words.as_slice() {
            [] => continue,
            _ if comma.is_some() => comma.map_or(Ok(()), Err),
            [(_, "units"), rest @ ..] if !begun => units(rest, &words).map(|found| unit = found),
            [(_, "units"), ..] => Err((whole(&words), LATE_UNITS.to_owned())),
            _ => {
                begun = true;
                reading(&words, unit).map(|reading| readings.push(reading))
            }
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
            |message: String| Fault::new(Some(Origin::Option { name: Arc::from(name) }), message);
        let Some((at, values)) = text.split_once('=') else {
            return Err(fault(format!(
                "\"{text}\" is given, but must be {}",
                if gauge == Gauge::Dial {
                    "AT@TURN=VALUE, such as 40@90=0.25"
                } else {
                    "AT=VALUE, such as 40=67.5 or 40=67.5,67.4"
                }
            )));
        };
        let parts: Vec<&str> = values.split(',').collect();
        let comma = |pair: &[&str]| is_decimal_comma(",", pair[0], pair[1]);
        if let Some(message) = parts.windows(2).find_map(comma) {
            return Err(fault(message));
        }
        let (at, turn) = at.split_once('@').map_or((at, None), |(at, turn)| (at, Some(turn)));
        let turn_rad = turn_of(gauge, turn.map(str::trim)).map_err(fault)?;
        let at_mm = length(at, AT, unit).map_err(fault)?;
        let values_mm: Result<Vec<f64>, String> =
            parts.iter().map(|word| length(word, gauge.bounds(), unit)).collect();
        Ok(Self { at_mm, turn_rad, gauge, values_mm: values_mm.map_err(fault)? })
    }
}

/// The turn of a reading, rad: a dial says nothing without one, a tape goes around all of them.
fn turn_of(gauge: Gauge, word: Option<&str>) -> Result<Option<f64>, String> {
    match (gauge, word) {
        (Gauge::Dial, None) => Err("a dial reading needs its turn in degrees: `40@90`".to_owned()),
        (Gauge::Tape, Some(_)) => {
            Err("a tape goes all the way around: its reading has no turn".to_owned())
        }
        (_, None) => Ok(None),
        (_, Some(word)) => match number(word.trim_end_matches('°')) {
            Some(degrees) if TURN_DEG.hold(degrees) => Ok(Some(degrees.to_radians())),
            _ => {
                let found: String = word.chars().take(40).collect();
                Err(format!(
                    "\"{found}\" stands for the turn, but must be degrees from -3600 to 3600"
                ))
            }
        },
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
        .map_err(|message| Fault::new(Some(Origin::Option { name: Arc::from(name) }), message))
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
    let form = || (whole(words), FORM.to_owned());
    let [(at_span, at), rest @ ..] = words else { return Err(form()) };
    let (turn, rest) = match rest {
        [(_, "@"), turn, rest @ ..] => (Some(turn), rest),
        _ => (None, rest),
    };
    let [(gauge_span, gauge), values @ ..] = rest else { return Err(form()) };
    let at_mm = length(at, AT, unit).map_err(|message| (at_span.clone(), message))?;
    let gauge = match gauge.to_lowercase().as_str() {
        "diameter" | "dia" | "dia." | "diam" | "diam." | "ø" | "⌀" => Gauge::Caliper,
        "circumference" | "circ" | "circ." => Gauge::Tape,
        "dial" => Gauge::Dial,
        _ => {
            let other: String = gauge.chars().take(40).collect();
            return Err((
                gauge_span.clone(),
                format!(
                    "\"{other}\" stands here, but must be diameter, circumference or dial: {FORM}"
                ),
            ));
        }
    };
    let turn_span = turn.map_or_else(|| gauge_span.clone(), |(span, _)| span.clone());
    let turn_rad =
        turn_of(gauge, turn.map(|(_, word)| *word)).map_err(|message| (turn_span, message))?;
    if values.is_empty() {
        return Err(form());
    }
    if values.len() > MOST_VALUES {
        return Err((whole(words), format!("at most {MOST_VALUES} values of one place are read")));
    }
    let values_mm: Result<Vec<f64>, Wrong> = values
        .iter()
        .map(|(span, value)| {
            length(value, gauge.bounds(), unit).map_err(|message| (span.clone(), message))
        })
        .collect();
    Ok(Reading { at_mm, turn_rad, gauge, values_mm: values_mm? })
}

const LATE_UNITS: &str = "`units` must stand before the first reading: it says what all of them \
                          are in; a length in another unit says so itself, `2.5in` or `63 mm`";
const FORM: &str = "a reading is a place, `diameter` or `circumference`, and at least one value, \
                    such as `40 diameter 67.5`; around the turn `40 @ 90 diameter 67.5` or \
                    `40 @ 90 dial 0.25`";
#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn faults(text: &str) -> String {
        read_readings(text, "readings.txt", LengthUnit::Mm).unwrap_err().to_string()
    }

    #[test]
    fn units_are_said_before_the_first_reading() {
        let found = read_readings(
            "# a cup\nunits in\n1mm diameter 2 mm\n1 diameter 2\n25.4mm,diameter;2in\r\n",
            "r",
            LengthUnit::Mm,
        );
        let found: Vec<(f64, f64)> =
            found.unwrap().iter().map(|r| (r.at_mm, r.values_mm[0])).collect();
        assert_eq!(found, [(1.0, 2.0), (25.4, 50.8), (25.4, 50.8)]);
        insta::assert_snapshot!(faults("0 diameter 2.6\nunits in\n1 diameter 2.7\n"), @r#"
        readings.txt:2:1: `units` must stand before the first reading: it says what all of them are in; a length in another unit says so itself, `2.5in` or `63 mm`
        2 | units in
          | ^^^^^^^^
        "#);
    }

    #[test]
    fn a_decimal_comma_is_not_two_readings() {
        let read = |text: &str| {
            read_readings(text, "r", LengthUnit::Mm).map(|found| found[0].values_mm.clone()).ok()
        };
        assert_eq!(read("0 diameter 58.1, 58.2"), Some(vec![58.1, 58.2]));
        assert_eq!(read("0 diameter 66.0,66.1"), Some(vec![66.0, 66.1]));
        assert_eq!(read("0 diameter 66,67"), Some(vec![66.0, 67.0]));
        assert_eq!(read("0,diameter,66, 6"), Some(vec![66.0, 6.0]));
        for text in
            ["58,1", "58,15", "58,125", "58,1mm", "58.2 58,1", "8,9", "66.0,66.1,5", "58,1 mm"]
        {
            assert_eq!(read(&format!("0 diameter {text}")), None, "{text}");
            let option = format!("0={}", text.replace(' ', ""));
            let option = Reading::of_option(Gauge::Caliper, &option, LengthUnit::Mm);
            assert!(option.is_err(), "{text}");
        }
        for text in ["58,1 mm", "58,1 , 58,2", "58,1 mm,58,2 mm", "58,1 "] {
            let option = Reading::of_option(Gauge::Tape, &format!("0={text}"), LengthUnit::Mm);
            assert!(option.is_err(), "{text}");
        }
        for text in ["58, 59", "58.1 mm,58.2 mm", "58 mm, 59 mm", "58.1 , 58.2"] {
            let option = Reading::of_option(Gauge::Tape, &format!("0={text}"), LengthUnit::Mm);
            assert_eq!(option.map(|found| found.values_mm.len()).ok(), Some(2), "{text}");
        }
        assert_eq!(read("12,5 diameter 58"), None);
        insta::assert_snapshot!(faults("0 diameter 58,1"), @r#"
        readings.txt:1:12: "58,1" may be one number with a decimal comma or two readings: write 58.1, with a point, or 58, 1, with a blank
        1 | 0 diameter 58,1
          |            ^^^^
        "#);
    }

    #[test]
    fn short_words_and_units_that_stand_apart_are_read() {
        let found = read_readings("40 mm DIA 63 mm 2.5 in\n5 circ 200\n6 ø 5", "r", LengthUnit::Mm);
        let found = found.unwrap();
        assert_eq!((found[0].at_mm, found[0].gauge), (40.0, Gauge::Caliper));
        assert_eq!(found[0].values_mm, [63.0, 63.5]);
        assert_eq!((found[1].gauge, found[2].gauge), (Gauge::Tape, Gauge::Caliper));
        assert!(read_readings("0 diameter mm", "r", LengthUnit::Mm).is_err());
        assert!(read_readings("0 diameter 5mm mm", "r", LengthUnit::Mm).is_err());
    }

    #[test]
    fn all_faults_are_told() {
        insta::assert_snapshot!(faults("# a comment\nunits cm\n0 diameter\nx diameter 5\n0 girth 5\n0 diameter -3 # no\n"), @r#"
        readings.txt:2:1: `units` must be followed by mm or in
        2 | units cm
          | ^^^^^^^^
        readings.txt:3:1: a reading is a place, `diameter` or `circumference`, and at least one value, such as `40 diameter 67.5`; around the turn `40 @ 90 diameter 67.5` or `40 @ 90 dial 0.25`
        3 | 0 diameter
          | ^^^^^^^^^^
        readings.txt:4:1: "x" is no length; write 67.5, 67.5mm or 2.66in, with a point for decimals
        4 | x diameter 5
          | ^
        readings.txt:5:3: "girth" stands here, but must be diameter, circumference or dial: a reading is a place, `diameter` or `circumference`, and at least one value, such as `40 diameter 67.5`; around the turn `40 @ 90 diameter 67.5` or `40 @ 90 dial 0.25`
        5 | 0 girth 5
          |   ^^^^^
        readings.txt:6:12: -3 mm is given, but must be at least 0.0254 mm
        6 | 0 diameter -3 # no
          |            ^^
        "#);
    }

    #[test]
    fn options_are_told_what_they_must_be() {
        let fault =
            |text| Reading::of_option(Gauge::Tape, text, LengthUnit::Mm).unwrap_err().to_string();
        insta::assert_snapshot!([fault("40"), fault("40="), fault("40=1e9")].join("\n"), @r#"
        --circumference: "40" is given, but must be AT=VALUE, such as 40=67.5 or 40=67.5,67.4
        --circumference: "" is no length; write 67.5, 67.5mm or 2.66in, with a point for decimals
        --circumference: 1e9 mm is given, but must be from 0.0254 mm to 100000 mm
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
