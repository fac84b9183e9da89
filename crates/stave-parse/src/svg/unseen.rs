//! What of a document is not to be seen, so that some of its shapes are seen alone.

use std::collections::{HashMap, HashSet};

use super::document::{Entries, Role, href};
use super::rewrite::{APPLIED, Unseen};

/// Which paint of an element is to be seen.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) struct Paints {
    pub(super) fill: bool,
    pub(super) stroke: bool,
}

/// What is not to be seen where of some elements, and of all that they hold and refer to, these
/// paints are. What a mask, a pattern or a filter is made of stays as it is, whatever it refers to.
pub(super) fn unseen(
    entries: &Entries<'_, '_>,
    seen: impl Iterator<Item = (usize, Paints)>,
) -> Unseen {
    let count = entries.list.len();
    let each: HashSet<(usize, Paints)> = seen.collect();
    let mut shown = vec![Paints::default(); count];
    for paint in [Paints { fill: true, stroke: false }, Paints { fill: false, stroke: true }] {
        let has = |of: &Paints| (of.fill && paint.fill) || (of.stroke && paint.stroke);
        let from = each.iter().filter(|(_, of)| has(of)).map(|(entry, _)| *entry);
        for (of, _) in shown.iter_mut().zip(reached(entries, from)).filter(|(_, is)| *is) {
            of.fill |= paint.fill;
            of.stroke |= paint.stroke;
        }
    }
    // What stands in what is applied, and what that refers to.
    let applies = |index: &usize| APPLIED.contains(&entries.list[*index].tag());
    let mut within = vec![false; count];
    for index in (0..count).filter(applies) {
        within[index..entries.list[index].end].fill(true);
    }
    let applied = reached(entries, (0..count).filter(applies));
    let mut unseen = Unseen::default();
    for (index, entry) in entries.list.iter().enumerate() {
        let Paints { fill, stroke } = shown[index];
        let draws = matches!(entry.role, Role::Shape | Role::Text) || entry.tag() == "tspan";
        let leaf = matches!(entry.role, Role::Shape | Role::Text | Role::Image);
        match (fill, stroke) {
            (false, false) if leaf && !applied[index] => {
                unseen.hidden.insert(index);
            }
            // It is hidden where it stands, and seen where something refers to it.
            (false, false) if leaf && !within[index] && !entry.defined => {
                unseen.hidden_here.insert(index);
            }
            (true, false) if draws && !applied[index] => {
                unseen.paints.insert(index, "stroke");
            }
            (false, true) if draws && !applied[index] => {
                unseen.paints.insert(index, "fill");
            }
            _ => {}
        }
    }
    // What a mask draws too is hidden by hiding all else that refers to it.
    let is_shown = |of: &Paints| of.fill || of.stroke;
    let mut shows: HashMap<usize, bool> = HashMap::new();
    for (index, target) in
        entries.list.iter().enumerate().filter_map(|(index, entry)| Some((index, entry.target?)))
    {
        if within[index] || !applied[target] {
            continue;
        }
        let shows = *shows.entry(target).or_insert_with(|| {
            let of = reached(entries, std::iter::once(target));
            of.iter().zip(&shown).any(|(is, of)| *is && is_shown(of))
        });
        if !shows {
            unseen.hidden.insert(index);
        }
    }
    unseen
}

/// Which elements are drawn where some are: themselves, what they hold and what that refers to.
fn reached(entries: &Entries<'_, '_>, from: impl Iterator<Item = usize>) -> Vec<bool> {
    let mut reached = vec![false; entries.list.len()];
    let mut next: Vec<usize> = from.collect();
    while let Some(at) = next.pop() {
        let Some(entry) = entries.list.get(at) else { continue };
        let inside = entries.list.iter().zip(&mut reached).take(entry.end).skip(at);
        for (inside, reached) in inside {
            if std::mem::replace(reached, true) {
                continue;
            }
            let shown = match inside.tag() {
                "feImage" => href(inside.node)
                    .and_then(|href| href.strip_prefix('#'))
                    .and_then(|id| entries.by_id.get(id).copied()),
                _ => inside.target,
            };
            next.extend(shown);
        }
    }
    reached
}
