//! The words of a line of readings or points, and lengths among them.

use std::ops::Range;

use crate::LengthUnit;
use crate::bounds::{Bounds, plain};
use crate::quantity::number;

/// A place read again comes out within this share of the first reading.
const AS_READ_AGAIN: f64 = 0.1;

pub(crate) type Wrong = (Range<usize>, String);

/// The words of a line with their offsets in the text.
pub(crate) fn words(content: &str, offset: usize) -> Vec<(Range<usize>, &str)> {
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

/// The same words, with `@` a word of its own.
pub(crate) fn parted_at_turns(words: Vec<(Range<usize>, &str)>) -> Vec<(Range<usize>, &str)> {
    let mut found = Vec::with_capacity(words.len());
    for (span, word) in words {
        let mut from = 0;
        for (at, mark) in word.match_indices('@') {
            if at > from {
                found.push((span.start + from..span.start + at, &word[from..at]));
            }
            found.push((span.start + at..span.start + at + 1, mark));
            from = at + 1;
        }
        if from < word.len() {
            found.push((span.start + from..span.end, &word[from..]));
        }
    }
    found
}

/// A number parted by a comma without a blank from one that is more likely its decimals.
pub(crate) fn decimal_comma(
    content: &str,
    offset: usize,
    words: &[(Range<usize>, &str)],
) -> Option<Wrong> {
    words.windows(2).find_map(|pair| {
        let ((one_span, one), (other_span, other)) = (&pair[0], &pair[1]);
        let between = content.get(one_span.end - offset..other_span.start - offset)?;
        let message = is_decimal_comma(between, one, other)?;
        Some((one_span.start..other_span.end, message))
    })
}

/// A number, a letter before it or not, parted by a comma without a blank from bare digits, in a
/// line that has a word too many.
pub(crate) fn point_for_comma(
    content: &str,
    offset: usize,
    words: &[(Range<usize>, &str)],
) -> Option<Wrong> {
    words.windows(2).find_map(|pair| {
        let [(one_span, one), (other_span, other)] = pair else { return None };
        let between = content.get(one_span.end - offset..other_span.start - offset)?;
        let digits = digits_of(other).0;
        let bare = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
        let value = one.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        if between != "," || !bare || value.contains('.') || number(value).is_none() {
            return None;
        }
        let [one, other] = [one, other].map(|word| word.chars().take(20).collect::<String>());
        let message =
            format!("\"{one},{other}\" has a decimal comma: write {one}.{other}, with a point");
        Some((one_span.start..other_span.end, message))
    })
}

/// What is wrong where two words with this between them are more likely one number with a decimal
/// comma: the second is bare digits, and a single one or far from the first.
pub(crate) fn is_decimal_comma(between: &str, one: &str, other: &str) -> Option<String> {
    // What stands behind it, a blank or a unit, is not looked at; a blank before it parts the two.
    let other = other.trim_end();
    let digits = digits_of(other).0.trim_end();
    let bare = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    if between != "," || !bare || !one.ends_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let (first, second) = (number(one)?, number(digits)?);
    let alike = (first - second).abs() <= AS_READ_AGAIN * first.abs().max(second.abs());
    if digits.len() > 1 && alike {
        return None;
    }
    let (one, other): (String, String) =
        (one.chars().take(20).collect(), other.chars().take(20).collect());
    let point =
        if one.contains('.') { String::new() } else { format!("{one}.{other}, with a point, or ") };
    Some(format!(
        "\"{one},{other}\" may be one number with a decimal comma or two readings: write \
         {point}{one}, {other}, with a blank"
    ))
}

/// The same words, a unit that stands by itself taken with the number before it.
pub(crate) fn with_units<'t>(
    content: &'t str,
    offset: usize,
    words: Vec<(Range<usize>, &'t str)>,
) -> Vec<(Range<usize>, &'t str)> {
    let mut found: Vec<(Range<usize>, &str)> = Vec::with_capacity(words.len());
    for (span, word) in words {
        if let ("mm" | "in", Some(last)) = (word, found.last_mut())
            && number(last.1).is_some()
            && let Some(both) = content.get(last.0.start - offset..span.end - offset)
            && digits_of(both).0.trim_end().len() == last.1.len()
        {
            *last = (last.0.start..span.end, both);
        } else {
            found.push((span, word));
        }
    }
    found
}

pub(crate) fn whole(words: &[(Range<usize>, &str)]) -> Range<usize> {
    match (words.first(), words.last()) {
        (Some(first), Some(last)) => first.0.start..last.0.end,
        _ => 0..0,
    }
}

/// A word without the unit that it names.
fn digits_of(word: &str) -> (&str, Option<LengthUnit>) {
    match (word.strip_suffix("mm"), word.strip_suffix("in")) {
        (Some(digits), _) => (digits, Some(LengthUnit::Mm)),
        (_, Some(digits)) => (digits, Some(LengthUnit::Inch)),
        _ => (word, None),
    }
}

/// A length in `unit` unless it names its own, mm.
pub(crate) fn length(word: &str, bounds: Bounds, unit: LengthUnit) -> Result<f64, String> {
    let word = word.trim();
    let (digits, own) = digits_of(word);
    let unit = own.unwrap_or(unit);
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
