//! A symbol's own transform, which usvg passes over: it lies within the place of the use, and so is
//! written as a part of the use's.

use roxmltree::Node;
use svgtypes::{Length, LengthUnit, Transform};

use super::css_gaps;
use super::document::{Entries, Role};
use super::style::{SaidOf, property};

/// The transform of a use of a symbol that has one itself, the use's place within it; `Err` where
/// that cannot be told. `None` for what is no such use.
pub(super) fn of_symbol(
    entries: &Entries<'_, '_>,
    said: &SaidOf<'_>,
    index: usize,
) -> Option<Result<String, ()>> {
    let entry = entries.list.get(index).filter(|entry| entry.role == Role::Use)?;
    let target = entry.target?;
    let symbol = entries.list.get(target).filter(|entry| entry.tag() == "symbol")?;
    let styled = |node: Node<'_, '_>| {
        css_gaps::said(node.attribute("style").unwrap_or_default(), "transform").is_some()
    };
    if symbol.node.attribute("transform").is_none() && !styled(symbol.node) {
        return None;
    }
    // What confines the use does so in the use's own space.
    let confined = ["clip-path", "mask", "filter"].iter().any(|name| {
        property(name).and_then(|p| said[index][p]).is_some_and(|value| value != "none")
    });
    let nodes = [entry.node, symbol.node];
    let plain =
        !nodes.into_iter().any(|node| styled(node) || node.has_attribute("transform-origin"));
    let transform = |node: Node<'_, '_>| match node.attribute("transform").map(str::parse) {
        None => Some(Transform::default()),
        Some(transform) => transform.ok(),
    };
    let place = |name: &str| match entry.node.attribute(name).map(str::parse::<Length>) {
        None => Some(0.0),
        Some(Ok(at)) if matches!(at.unit, LengthUnit::None | LengthUnit::Px) => Some(at.number),
        Some(_) => None,
    };
    let parts = (transform(entry.node), place("x"), place("y"), transform(symbol.node));
    let (Some(outer), Some(x), Some(y), Some(own)) = parts else { return Some(Err(())) };
    if !plain || confined {
        return Some(Err(()));
    }
    let matrix = |t: Transform| {
        let Transform { a, b, c, d, e, f } = t;
        format!("matrix({a} {b} {c} {d} {e} {f})")
    };
    Some(Ok(format!("{} translate({x} {y}) {}", matrix(outer), matrix(own))))
}
