//! Bounds on what is read, so that a small file cannot cost hours or gigabytes.
//!
//! XML itself is bounded by roxmltree, which stops entities within entities; what is left is SVG's
//! own ways of saying much with little: elements used again and again, markers on every corner,
//! clip paths within clip paths.

/// The most bytes of a document.
pub(super) const MOST_BYTES: u64 = 256 << 20;
/// The most bytes by which entities may make it longer.
pub(super) const MOST_SPELLED_OUT: u64 = 16 << 20;
/// The most nodes of a document: elements, texts, comments.
pub(super) const MOST_NODES: u32 = 1_000_000;
/// The deepest nesting, uses resolved.
pub(super) const DEEPEST: u64 = 200;
/// The most elements once uses, markers and clip paths are resolved.
pub(super) const MOST_RESOLVED: u64 = 1_000_000;
/// The most pairs of attributes of one element, summed over all elements: the XML parser compares
/// each with each.
pub(super) const MOST_ATTRIBUTE_PAIRS: u64 = 500_000_000;
/// The most bytes of a style sheet times its words: the parser of style sheets, here and in usvg,
/// counts the lines before each word. A sheet of 7,000 rules and 100 KB is within it.
pub(super) const MOST_SHEET_WORK: u64 = 4_000_000_000;
/// The most pairs of a style rule and an element: each is looked at twice, here and in usvg, within
/// a second or two.
pub(super) const MOST_STYLE_CHECKS: u64 = 20_000_000;
/// The most steps of matching rules to elements: a rule of many descendants tries every way up
/// through the groups around an element, which doubles with each. usvg takes the same steps again.
pub(super) const MOST_STYLE_STEPS: u64 = 20_000_000;
/// The most texts with fields, and elements under a condition: each is looked at for every row.
pub(super) const MOST_FIELDS: u64 = 10_000;
/// The most dashes of a drawing.
pub(super) const MOST_DASHES: f64 = 500_000.0;
/// The farthest from the page's corner that art may lie, mm: a kilometre is a mistake.
pub(super) const FARTHEST_MM: f64 = 1e6;

#[cfg(test)]
mod tests {
    use super::*;

    /// README tells what is refused: by the same figures.
    #[test]
    fn the_readme_says_the_same() {
        let readme = include_str!("../../../../README.md");
        let grouped = |n: u64| {
            let digits = n.to_string();
            let parts: Vec<&str> =
                digits.as_bytes().rchunks(3).rev().filter_map(|c| str::from_utf8(c).ok()).collect();
            parts.join(",")
        };
        for said in [
            format!("{} MiB of XML", MOST_BYTES >> 20),
            format!("{} MiB more once entities", MOST_SPELLED_OUT >> 20),
            format!("{} nodes, nested {DEEPEST} deep", grouped(u64::from(MOST_NODES))),
            format!("{} elements once uses", grouped(MOST_RESOLVED)),
            format!("{} pairs of a rule and an element", grouped(MOST_STYLE_CHECKS)),
            format!("{} in a drawing; a row", grouped(MOST_FIELDS)),
        ] {
            assert!(readme.contains(&said), "{said}");
        }
        assert!(readme.contains("500,000 dashes") && (MOST_DASHES - 5e5).abs() < 1.0);
        assert!(readme.contains("farther than 1 km") && (FARTHEST_MM - 1e6).abs() < 1.0);
    }
}
