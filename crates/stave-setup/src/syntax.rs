//! What is wrong where a file is not TOML, in words for someone who has never heard of TOML.

use toml::de::Error;

/// The fault of one syntax error. `found` is the text at its place, cut to a few words.
pub(crate) fn syntax_fault(error: &Error, found: &str) -> String {
    let message = error.message();
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
