//! The known name a misspelt one was most likely meant to be.

/// More than this alike, from 0 to 1 by normalized Damerau-Levenshtein, must be a name to be
/// offered for another: past one half, most of it is right.
const ALIKE: f64 = 0.5;

/// The name among `known` most like `found`, if one is like it at all.
#[must_use]
pub fn nearest<'k>(found: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    // The distance costs the product of the lengths; no known name is anywhere near this long.
    if found.len() > 100 {
        return None;
    }
    let found = found.to_lowercase().replace('-', "_");
    let mut best: Option<(f64, &str)> = None;
    for name in known {
        let alike =
            strsim::normalized_damerau_levenshtein(&found, &name.to_lowercase().replace('-', "_"));
        if alike > ALIKE && best.is_none_or(|(most, _)| alike > most) {
            best = Some((alike, name));
        }
    }
    best.map(|(_, name)| name)
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
