//! Where a text of the document stands in its source, to put another in its place.

use std::ops::Range;

use roxmltree::Node;

/// The source of a text between elements, references and CDATA sections included; `None` where an
/// entity of the document brought part of it in.
pub(super) fn of_text(node: Node<'_, '_>) -> Option<Range<usize>> {
    let source = node.document().input_text();
    let parent = node.parent_element()?;
    let whole = parent.range();
    let start = match node.prev_sibling() {
        Some(before) => before.range().end,
        None => whole.start + open_tag_bytes(source.get(whole.clone())?)?,
    };
    let end = match node.next_sibling() {
        Some(after) => after.range().start,
        None => whole.start + source.get(whole.clone())?.rfind("</")?,
    };
    let is_within = whole.start < start && start <= end && end < whole.end;
    is_within.then_some(start..end)
}

/// The source within an element; `None` for one that closes itself.
pub(super) fn of_inside(node: Node<'_, '_>) -> Option<Range<usize>> {
    let whole = node.range();
    let source = node.document().input_text().get(whole.clone())?;
    let start = open_tag_bytes(source)?;
    let end = source.rfind("</").filter(|end| *end >= start)?;
    Some(whole.start + start..whole.start + end)
}

/// How long the tag is that an element begins with.
fn open_tag_bytes(element: &str) -> Option<usize> {
    let mut quote = None;
    for (at, byte) in element.bytes().enumerate() {
        match (byte, quote) {
            (b'>', None) => return Some(at + 1),
            (b'"' | b'\'', None) => quote = Some(byte),
            (byte, Some(open)) if byte == open => quote = None,
            _ => {}
        }
    }
    None
}

/// The line of a byte of the source, counted from 1.
pub(super) fn line_of(source: &str, at: usize) -> u32 {
    let before = source.as_bytes().get(..at).unwrap_or_default();
    u32::try_from(memchr::memchr_iter(b'\n', before).count() + 1).unwrap_or(u32::MAX)
}

/// The line ends of a stretch of source, to stand in its place: so what follows keeps its line.
pub(super) fn line_ends(source: &str, range: &Range<usize>) -> String {
    let bytes = source.as_bytes().get(range.clone()).unwrap_or_default();
    "\n".repeat(memchr::memchr_iter(b'\n', bytes).count())
}
