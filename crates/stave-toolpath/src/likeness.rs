//! How alike two names are, for whoever misspelt one.

/// The distance costs the product of the lengths; no known name is longer.
const LONGEST: usize = 100;

/// The known names that are more than `least` (0 to 1) like the one asked for, the most alike
/// first; of equals the first in order. Likeness is the normalized distance of Damerau and
/// Levenshtein; case does not count, nor whether words are joined by `-` or `_`.
///
/// ```
/// use stave_toolpath::likeness::most_alike;
/// assert_eq!(most_alike("tlit", ["tilt", "tolerance"], 0.5), ["tilt"]);
/// ```
#[must_use]
pub fn most_alike<'k>(
    asked: &str,
    known: impl IntoIterator<Item = &'k str>,
    least: f64,
) -> Vec<&'k str> {
    if asked.len() > LONGEST {
        return Vec::new();
    }
    let plain = |name: &str| name.to_lowercase().replace('-', "_");
    let asked = plain(asked);
    let known = known.into_iter().filter(|name| name.len() <= LONGEST);
    let alike = |name| (strsim::normalized_damerau_levenshtein(&asked, &plain(name)), name);
    let mut ranked: Vec<(f64, &str)> = known.map(alike).filter(|(a, _)| *a > least).collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    ranked.into_iter().map(|(_, name)| name).collect()
}
