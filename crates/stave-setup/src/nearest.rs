//! The known name a misspelt one was most likely meant to be.

use stave_toolpath::likeness::most_alike;

/// More than this alike, from 0 to 1 by normalized Damerau-Levenshtein, must be a name to be
/// offered for another: past one half, most of it is right.
const ALIKE: f64 = 0.5;

/// The name among `known` most like `found`, if one is like it at all.
#[must_use]
pub fn nearest<'k>(found: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    most_alike(found, known, ALIKE).into_iter().next()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn likely_and_unlikely() {
        let known = ["tilt", "tolerance", "reference_diameter"];
        let find = |found| nearest(found, known.into_iter());
        assert_eq!(find("tlit"), Some("tilt"));
        assert_eq!(find("Tolerance"), Some("tolerance"));
        assert_eq!(find("reference-diameter"), Some("reference_diameter"));
        assert_eq!(find("speed"), None);
        assert_eq!(find(""), None);
        assert_eq!(find(&"tilt".repeat(1000)), None);
    }
}
