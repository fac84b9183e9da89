//! Text as TOML writes it.

/// A text as a basic string of TOML, whatever it holds.
///
/// ```
/// assert_eq!(stave_setup::toml_string("a \"b\"\u{7}"), r#""a \"b\"\u0007""#);
/// ```
#[must_use]
pub fn toml_string(text: &str) -> String {
    let mut out = String::from('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => out.extend(['\\', letter]),
            control if control.is_control() => {
                out.push_str(&format!("\\u{:04X}", u32::from(control)));
            }
            other => out.push(other),
        }
    }
    out.push('"');
    out
}
