//! What is wrong where a file is not TOML, in words for someone who has never heard of TOML.

use toml::de::Error;

/// The fault of one syntax error. `found` is the text at its place, cut to a few words, `around`
/// the word in which a comma stands there.
pub(crate) fn syntax_fault(error: &Error, found: &str, around: &str) -> String {
    let message = error.message();
    if let Some(number) = with_point(around) {
        return format!("the decimal sign is a point: write {number}");
    }
    if let Some(number) = number_before_unit(found) {
        return format!("`{found}` is no number: it stands alone, without a unit: write {number}");
    }
    let bare_word = found.starts_with(|first: char| first.is_alphabetic());
    if message.starts_with("invalid boolean") && bare_word {
        return format!("`{found}` has no quotes: text is written \"{found}\"");
    }
    if let "invalid basic string, expected `\"`" | "invalid literal string, expected `'`" = message
    {
        return "this text has no closing quote on its line".to_owned();
    }
    message
        .strip_suffix(", expected nothing")
        .unwrap_or(message)
        .replace("invalid float", "invalid number")
}

/// A number that is written with a decimal comma, with a point in its place.
pub(crate) fn with_point(word: &str) -> Option<String> {
    let (whole, fraction) = word.split_once(',')?;
    let digits = fraction.len() - fraction.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let whole_digits = whole.trim_start_matches(['-', '+']);
    let is_whole = !whole_digits.is_empty() && whole_digits.bytes().all(|b| b.is_ascii_digit());
    let number = format!("{whole}.{}", &fraction[..digits]);
    let ends = !fraction[digits..].starts_with([',', '.']);
    (is_whole && digits > 0 && ends && number.parse::<f64>().is_ok()).then_some(number)
}

/// The number that a word begins with, where what follows it is a unit.
fn number_before_unit(word: &str) -> Option<&str> {
    let number = word.trim_end_matches(|c: char| c.is_alphabetic() || matches!(c, '°' | '%' | '"'));
    let is_number = number.parse::<f64>().is_ok_and(f64::is_finite);
    (is_number && number.len() < word.len()).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_between_digits_is_a_decimal_sign() {
        for (word, number) in [("82,0", "82.0"), ("-5,5", "-5.5"), ("2,5in", "2.5"), ("0,125,", "")]
        {
            assert_eq!(with_point(word).unwrap_or_default(), number, "{word}");
        }
        for other in ["10,", ",5", "a,5", "1,2,3", "5.5", "1.5,2"] {
            assert_eq!(with_point(other), None, "{other}");
        }
    }

    #[test]
    fn a_unit_behind_a_number_is_seen() {
        for (word, number) in [("-2°", "-2"), ("88mm", "88"), ("3.5in", "3.5"), ("20%", "20")] {
            assert_eq!(number_before_unit(word), Some(number), "{word}");
        }
        for other in ["88", "mm", "inf", "nan", "1e5", "0x1f", "-"] {
            assert_eq!(number_before_unit(other), None, "{other}");
        }
    }
}
