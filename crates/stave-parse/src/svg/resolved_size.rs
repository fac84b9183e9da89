//! How large a drawing is once its uses, markers, clip paths, masks, patterns and filters are
//! resolved, reckoned before anything is.

use std::collections::BTreeSet;

use super::document::{Entries, Role, href};
use super::error::SvgError;
use super::limits::{DEEPEST, MOST_RESOLVED};
use super::style::{SaidOf, link, property};

/// What must be cut so that nothing refers to itself.
#[derive(Debug, Default)]
pub(super) struct Circles {
    /// Uses that lead back to themselves, and gradients that refer to one another in a circle.
    pub(super) cut: Vec<usize>,
}

#[derive(Clone, Copy)]
enum State {
    New,
    Open,
    Done { weight: u64, depth: u64 },
}

/// Refuses a drawing that is too large or too deep once resolved, and finds what refers to itself.
pub(super) fn bound_resolved_size(
    entries: &Entries<'_, '_>,
    said: &SaidOf<'_>,
) -> Result<Circles, SvgError> {
    check_nesting(entries)?;
    let mut circles = Circles { cut: circular_gradients(entries) };
    let references: Vec<Vec<Reference>> = references(entries, said);
    let mut states = vec![State::New; entries.list.len()];
    // Each element is entered, and left once all that it holds and refers to is done.
    let mut open: Vec<(usize, usize)> = vec![(0, 0)];
    if let Some(root) = states.first_mut() {
        *root = State::Open;
    }
    while let Some((at, next)) = open.pop() {
        let Some(reference) = references[at].get(next) else {
            states[at] = weigh(&references[at], &states)?;
            continue;
        };
        open.push((at, next + 1));
        match (states[reference.to], reference.kind) {
            (State::New, _) => {
                states[reference.to] = State::Open;
                open.push((reference.to, 0));
            }
            (State::Open, Kind::Use) => circles.cut.push(at),
            (State::Open, Kind::Clip) => {
                return Err(SvgError::Circular { name: entries.list[reference.to].name.clone() });
            }
            // The reader leaves out a marker on itself and what a pattern paints with itself; a
            // child cannot be open before its parent enters it.
            _ => {}
        }
    }
    Ok(circles)
}

#[derive(Clone, Copy, Eq, PartialEq)]
enum Kind {
    Child,
    Use,
    Clip,
    Marker,
    Pattern,
}

#[derive(Clone, Copy)]
struct Reference {
    to: usize,
    kind: Kind,
    times: u64,
}

fn weigh(references: &[Reference], states: &[State]) -> Result<State, SvgError> {
    let (mut weight, mut depth) = (1_u64, 0_u64);
    for reference in references {
        if let State::Done { weight: w, depth: d } = states[reference.to] {
            weight = weight.saturating_add(w.saturating_mul(reference.times));
            // A use is two levels of its own when resolved.
            depth = depth.max(d + if reference.kind == Kind::Use { 2 } else { 0 });
        }
    }
    depth += 1;
    if depth > DEEPEST {
        return Err(SvgError::TooLarge { what: "levels of nesting", found: depth, most: DEEPEST });
    }
    if weight > MOST_RESOLVED {
        let what = "elements once uses, markers, clip paths and patterns are resolved";
        return Err(SvgError::TooLarge { what, found: weight, most: MOST_RESOLVED });
    }
    Ok(State::Done { weight, depth })
}

fn check_nesting(entries: &Entries<'_, '_>) -> Result<(), SvgError> {
    let mut depths: Vec<u64> = Vec::with_capacity(entries.list.len());
    for entry in &entries.list {
        let depth = entry.parent.and_then(|p| depths.get(p)).map_or(1, |d| d + 1);
        if depth > DEEPEST {
            return Err(SvgError::TooLarge {
                what: "levels of nesting",
                found: depth,
                most: DEEPEST,
            });
        }
        depths.push(depth);
    }
    Ok(())
}

fn references(entries: &Entries<'_, '_>, said: &SaidOf<'_>) -> Vec<Vec<Reference>> {
    let target =
        |value: Option<&str>| value.and_then(link).and_then(|id| entries.by_id.get(id).copied());
    let markers = ["marker-start", "marker-mid", "marker-end"].map(property);
    let of = |index: usize, property: Option<usize>| property.and_then(|p| said[index][p]);
    // Markers are inherited, through uses too: those of groups are reckoned on every shape.
    let inherited: Vec<usize> = (0..entries.list.len())
        .filter(|&i| entries.list[i].role != Role::Shape)
        .flat_map(|i| markers.map(|p| target(of(i, p))))
        .flatten()
        .collect();
    // So are fills and strokes.
    let paints = ["fill", "stroke"].map(property);
    let inherited_patterns: BTreeSet<usize> = (0..entries.list.len())
        .filter(|&i| !matches!(entries.list[i].role, Role::Shape | Role::Text))
        .flat_map(|i| paints.map(|p| target(of(i, p))))
        .flatten()
        .filter(|&to| entries.list[to].tag() == "pattern")
        .collect();
    let mut all: Vec<Vec<Reference>> = vec![Vec::new(); entries.list.len()];
    for (index, entry) in entries.list.iter().enumerate() {
        if let Some(parent) = entry.parent {
            all[parent].push(Reference { to: index, kind: Kind::Child, times: 1 });
        }
        if let Some(to) = entry.target {
            all[index].push(Reference { to, kind: Kind::Use, times: 1 });
        }
        for name in ["clip-path", "mask", "filter"] {
            if let Some(to) = target(of(index, property(name))) {
                all[index].push(Reference { to, kind: Kind::Clip, times: 1 });
            }
        }
        if entry.tag() == "feImage"
            && let Some(id) = href(entry.node).and_then(|href| href.strip_prefix('#'))
            && let Some(&to) = entries.by_id.get(id)
        {
            all[index].push(Reference { to, kind: Kind::Clip, times: 1 });
        }
        // A pattern takes what it lacks from another.
        if entry.tag() == "pattern"
            && let Some(id) = href(entry.node).and_then(|href| href.strip_prefix('#'))
            && let Some(&to) = entries.by_id.get(id)
        {
            all[index].push(Reference { to, kind: Kind::Clip, times: 1 });
        }
        if matches!(entry.role, Role::Shape | Role::Text) {
            let own = paints.iter().filter_map(|&p| target(of(index, p)));
            let patterns = own.filter(|&to| entries.list[to].tag() == "pattern");
            let patterns: BTreeSet<usize> =
                patterns.chain(inherited_patterns.iter().copied()).collect();
            let reference = |to| Reference { to, kind: Kind::Pattern, times: 2 };
            all[index].extend(patterns.into_iter().map(reference));
        }
        if entry.role == Role::Shape {
            let times = corners(entry.node);
            let own = markers.into_iter().filter_map(|p| target(of(index, p)));
            let markers: BTreeSet<usize> = own.chain(inherited.iter().copied()).collect();
            all[index].extend(markers.into_iter().map(|to| Reference {
                to,
                kind: Kind::Marker,
                times,
            }));
        }
    }
    all
}

/// At least the number of corners of a shape, where markers may stand.
fn corners(node: roxmltree::Node<'_, '_>) -> u64 {
    let numbers = |text: &str| {
        let starts = |pair: &[u8]| pair[1].is_ascii_digit() && !pair[0].is_ascii_digit();
        text.as_bytes().windows(2).filter(|pair| starts(pair)).count() as u64
    };
    let data = [node.attribute("d"), node.attribute("points")];
    10 + data.into_iter().flatten().map(numbers).sum::<u64>()
}

/// Gradients whose references never end.
fn circular_gradients(entries: &Entries<'_, '_>) -> Vec<usize> {
    let next = |index: usize| {
        let id = href(entries.list[index].node)?.strip_prefix('#')?;
        entries.by_id.get(id).copied()
    };
    let gradients =
        (0..entries.list.len()).filter(|&i| entries.list[i].tag().ends_with("Gradient"));
    // Longer chains than this are no drawing's; cutting one leaves its gradient without stops.
    const LONGEST: usize = 32;
    let endless =
        |&first: &usize| std::iter::successors(next(first), |&i| next(i)).nth(LONGEST).is_some();
    gradients.filter(endless).collect()
}
