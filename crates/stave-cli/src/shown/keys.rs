//! The keys of the files, as people read them.

use std::fmt::Write;

use stave::setup::Key;

use super::table::{COLUMNS, folded};

/// A page: every key with what it means, what it may be, its default and an example.
pub(crate) fn keys(keys: &[&Key]) -> String {
    let mut page = String::new();
    let mut file = None;
    for key in keys {
        if file != Some(key.file) {
            let gap = if file.is_some() { "\n" } else { "" };
            // Writing into a string does not fail.
            let _ = writeln!(page, "{gap}{} file", key.file.as_str());
            file = Some(key.file);
        }
        let _ = writeln!(page, "\n  {}", head(key));
        inside(&mut page, key.text);
        let mut about = vec![key.type_name()];
        about.extend(key.unit_name());
        about.extend(key.range());
        if key.is_needed() {
            about.push("needed".to_owned());
        }
        if let Some(default) = key.default_text() {
            about.push(format!("default: {default}"));
        }
        inside(&mut page, &about.join("; "));
        if let Some(example) = key.example() {
            let _ = writeln!(page, "      {} = {example}", key.name());
        }
    }
    page
}

/// A text below its key.
fn inside(page: &mut String, text: &str) {
    for line in folded(text, COLUMNS - 6) {
        let _ = writeln!(page, "      {line}");
    }
}

/// A section as its head is written, a key with its sections.
fn head(key: &Key) -> String {
    if key.is_list() {
        format!("[[{}]]", key.key)
    } else if key.is_section() {
        format!("[{}]", key.key)
    } else {
        key.key.to_owned()
    }
}
