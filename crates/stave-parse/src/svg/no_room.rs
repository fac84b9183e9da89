//! What is given no room: a drawing within the drawing, or an instance of a symbol, whose width or
//! height is 0, or whose `viewBox` is empty. A browser shows nothing of it; usvg would draw it as
//! if it had no size of its own.

use svgtypes::Length;

use super::document::{Entries, Role};
use super::style::{SaidOf, property};

/// Why nothing of an element is to be seen where it stands; `None` where it has room.
pub(super) fn no_room(
    entries: &Entries<'_, '_>,
    said: &SaidOf<'_>,
    index: usize,
) -> Option<&'static str> {
    let entry = entries.list.get(index)?;
    let shown = match entry.role {
        // How large the page is, is told elsewhere.
        Role::Container if entry.tag() == "svg" && index > 0 => index,
        Role::Use => entry.target?,
        _ => return None,
    };
    let frame = entries.list.get(shown)?;
    if !matches!(frame.tag(), "svg" | "symbol") {
        return None;
    }
    if frame.node.attribute("viewBox").is_some_and(is_empty) {
        return Some("its viewBox is empty: nothing of it is shown");
    }
    let overflow = property("overflow").and_then(|p| said[shown][p]);
    if matches!(overflow, Some("visible" | "auto")) {
        return None;
    }
    // A use's own size goes before that of what it shows.
    let is_none = |name: &str| {
        let size = entry.node.attribute(name).or_else(|| frame.node.attribute(name));
        size.and_then(|size| size.trim().parse::<Length>().ok()).is_some_and(|l| l.number <= 0.0)
    };
    match (is_none("width"), is_none("height")) {
        (true, _) => Some("its width is 0: nothing of it is shown"),
        (false, true) => Some("its height is 0: nothing of it is shown"),
        (false, false) => None,
    }
}

/// Whether a `viewBox` has a side of 0. One below 0 is an error, and counts as none.
fn is_empty(view_box: &str) -> bool {
    let sides = view_box.split(|c: char| c == ',' || c.is_whitespace());
    let sides = sides.filter(|one| !one.is_empty()).skip(2).map(str::parse::<f64>);
    let sides: Vec<f64> = sides.map_while(Result::ok).collect();
    matches!(sides.as_slice(), [wide, high] if wide.min(*high) == 0.0)
}
