//! Lists of names, keys and words for messages.

use crate::word::{Word, words_of};

/// Keys and options: `a`, `b` and `c`.
pub(crate) fn listed_keys<'a>(keys: impl Iterator<Item = &'a str>) -> String {
    joined(keys.map(|key| format!("`{key}`")), "and")
}

/// Names: "a", "b" and "c".
pub(crate) fn listed_names<'a>(names: impl Iterator<Item = &'a str>) -> String {
    joined(names.map(|name| format!("\"{name}\"")), "and")
}

/// What a setting may be: "a", "b" or "c".
pub(crate) fn allowed_words<W: Word>() -> String {
    joined(words_of::<W>().into_iter().map(|word| format!("\"{word}\"")), "or")
}

fn joined(items: impl Iterator<Item = String>, last: &str) -> String {
    let items: Vec<String> = items.collect();
    match items.split_last() {
        None => "none".to_owned(),
        Some((only, [])) => only.clone(),
        Some((end, rest)) => format!("{} {last} {end}", rest.join(", ")),
    }
}
