//! The known name a misspelt one was most likely meant to be.

/// How alike two names must be, from 0 to 1 by normalized Damerau-Levenshtein, for one to be offered for the other.
const ALIKE: f64 = 0.5;

/// The name among `known` most like `found`, if one is like it at all.
pub(crate) fn nearest<'k>(found: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    // The distance costs the product of the lengths; no known name is anywhere near this long.
    if found.len() > 100 {
        return None;
    }
    let found = found.to_lowercase().replace('-', "_");
    let mut best: Option<(f64, &str)> = None;
    for name in known {
        let alike = strsim::normalized_damerau_levenshtein(&found, &name.to_lowercase().replace('-', "_"));
        if alike >= ALIKE && best.is_none_or(|(most, _)| alike > most) {
            best = Some((alike, name));
        }
    }
    best.map(|(_, name)| name)
}
