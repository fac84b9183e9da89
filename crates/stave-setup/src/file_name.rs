//! Names of files made of what a customer typed: they stay within their folder, whatever they hold.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The most bytes of a name.
const MOST_BYTES: usize = 180;

/// Names that stand for devices on Windows, whatever ending follows them.
const DEVICES: [&str; 4] = ["con", "prn", "aux", "nul"];
const NUMBERED: [&str; 2] = ["com", "lpt"];

/// A text as the name of a file: in Unicode's form C, all but letters, digits, marks, blanks and
/// `-_.'` as `_`, so too a `.` or `-` at its beginning; without blanks and dots at its end; no
/// device; at most 180 bytes.
///
/// ```
/// use stave_setup::file_name;
/// assert_eq!(file_name("07-Bo O'Neill & Søn"), "07-Bo O'Neill _ Søn");
/// assert_eq!(file_name("../../x"), "_._.._x");
/// assert_eq!(file_name("con.nc"), "_con.nc");
/// assert_eq!(file_name(" . "), "_");
/// ```
#[must_use]
pub fn file_name(text: &str) -> String {
    let kept = |c: char| {
        c.is_alphabetic() || c.is_numeric() || is_combining_mark(c) || " -_.'".contains(c)
    };
    let mut name: String = text.nfc().map(|c| if kept(c) { c } else { '_' }).collect();
    if name.starts_with(['.', '-']) {
        name.replace_range(0..1, "_");
    }
    trim(&mut name);
    if is_device(&name) {
        name.insert(0, '_');
    }
    if name.len() > MOST_BYTES {
        let end = (0..=MOST_BYTES).rev().find(|end| name.is_char_boundary(*end)).unwrap_or(0);
        name.truncate(end);
        trim(&mut name);
    }
    if name.is_empty() { "_".to_owned() } else { name }
}

fn trim(name: &mut String) {
    let end = name.trim_end_matches([' ', '.']).len();
    name.truncate(end);
}

fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_lowercase();
    let numbered = |device: &str| {
        let number = stem.strip_prefix(device).unwrap_or_default();
        let mut digits = number.chars();
        let digit = digits.next().is_some_and(|c| c.is_ascii_digit() || "¹²³".contains(c));
        digit && digits.next().is_none()
    };
    DEVICES.contains(&stem.as_str()) || NUMBERED.into_iter().any(numbered)
}

/// A name as file systems compare it that tell no capitals from small letters.
#[must_use]
pub fn folded(name: &str) -> String {
    name.to_uppercase().to_lowercase().nfc().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_names() {
        for (text, expected) in [
            ("", "_"),
            ("..", "_"),
            ("-rf", "_rf"),
            (".hidden", "_hidden"),
            ("a/b\\c:d*e?f\"g<h>i|j", "a_b_c_d_e_f_g_h_i_j"),
            ("tab\tnul\0line\n", "tab_nul_line_"),
            ("Юлия עדה ნინო", "Юлия עדה ნინო"),
            ("e\u{301}", "é"),
            ("q\u{323}", "q\u{323}"),
            ("\u{202e}cn.exe", "_cn.exe"),
            ("NUL", "_NUL"),
            ("com1 .txt", "_com1 .txt"),
            ("COM²", "_COM²"),
            ("com", "com"),
            ("com10", "com10"),
            ("console", "console"),
            ("x. . .", "x"),
            ("~/x", "__x"),
        ] {
            assert_eq!(file_name(text), expected, "{text:?}");
        }
        assert_eq!(file_name(&"é".repeat(100)), "é".repeat(90));
        assert_eq!(file_name(&format!("{} b", "a".repeat(179))), "a".repeat(179));
        assert_eq!(folded("STRASSE"), folded("Straße"));
        assert_eq!(folded("Ο ΣΟΦΟΣ"), folded("ο σοφοσ"));
    }

    proptest::proptest! {
        #[test]
        fn no_name_leads_out_of_its_folder(text in "\\PC{0,40}|[./\\\\ \\-conul1:]{0,12}") {
            let name = file_name(&text);
            proptest::prop_assert!(!name.is_empty() && name.len() <= 181);
            proptest::prop_assert!(!name.contains(['/', '\\', ':', '\0']));
            proptest::prop_assert!(!name.starts_with(['.', '-']) && !name.ends_with(['.', ' ']));
            proptest::prop_assert!(name == file_name(&name) , "{name}");
        }
    }
}
