//! Which element and which groups of the drawing a resolved shape belongs to.
//!
//! A `use` draws its target again: the same element of the document then stands for several of the
//! drawing. An instance is a `use` within an instance; the document itself is the first.

use std::collections::HashMap;

use roxmltree::Node;
use stave_toolpath::art::{Element, Group};

use super::document::{Entries, Role};

/// Instances, groups and elements of the drawing as far as they are met.
#[derive(Debug)]
pub(super) struct Instances<'e, 'a, 'i> {
    entries: &'e Entries<'a, 'i>,
    /// For each instance but the first, the `use` and the instance that it stands in.
    uses: Vec<Option<(usize, usize)>>,
    pub(super) groups: Vec<Group>,
    pub(super) elements: Vec<Element>,
    /// For each element its entry.
    pub(super) entry_of: Vec<usize>,
    group_at: HashMap<(usize, usize), usize>,
    element_at: HashMap<(usize, usize), usize>,
}

impl<'e, 'a, 'i> Instances<'e, 'a, 'i> {
    pub(super) fn new(entries: &'e Entries<'a, 'i>) -> Instances<'e, 'a, 'i> {
        Instances {
            entries,
            uses: vec![None],
            groups: Vec::new(),
            elements: Vec::with_capacity(entries.list.len()),
            entry_of: Vec::with_capacity(entries.list.len()),
            group_at: HashMap::new(),
            element_at: HashMap::new(),
        }
    }

    /// The document itself.
    pub(super) const DOCUMENT: usize = 0;

    /// A new instance for a `use` met within another.
    pub(super) fn enter(&mut self, used: usize, within: usize) -> usize {
        self.uses.push(Some((used, within)));
        self.uses.len() - 1
    }

    /// The `use` that an instance is of, and the instance that it stands in.
    pub(super) fn use_of(&self, instance: usize) -> Option<(usize, usize)> {
        self.uses.get(instance).copied().flatten()
    }

    /// The element of the drawing for an entry within an instance.
    pub(super) fn element(&mut self, entry: usize, instance: usize) -> usize {
        if let Some(&known) = self.element_at.get(&(entry, instance)) {
            return known;
        }
        let chain = self.chain(entry, instance);
        let (outer, outer_instance) = chain.last().copied().unwrap_or((entry, instance));
        let group = self.group_around(outer, outer_instance);
        self.elements.push(Element {
            ids: self.ids(&chain),
            name: self.entries.list[outer].name.clone(),
            group,
            data_piece: self.data_piece(&chain),
            is_lettering: false,
        });
        self.entry_of.push(entry);
        let index = self.elements.len() - 1;
        self.element_at.insert((entry, instance), index);
        index
    }

    /// The element of the drawing for an entry within an instance, where something of it is drawn.
    pub(super) fn known(&self, of: (usize, usize)) -> Option<usize> {
        self.element_at.get(&of).copied()
    }

    /// An entry and the uses that stand for it, the innermost first.
    fn chain(&self, entry: usize, instance: usize) -> Vec<(usize, usize)> {
        let mut chain = vec![(entry, instance)];
        let (mut at, mut within) = (entry, instance);
        while let Some((used, outer)) = self.use_of(within) {
            if self.entries.list[used].target != Some(at) {
                break;
            }
            chain.push((used, outer));
            (at, within) = (used, outer);
        }
        chain
    }

    /// The ids along a chain, the outermost first: what stands in the drawing before what it is
    /// made from.
    fn ids(&self, chain: &[(usize, usize)]) -> Vec<String> {
        let of = |&(i, _): &(usize, usize)| {
            let entry = &self.entries.list[i];
            let inner = if entry.role == Role::Text { sole_spans(entry.node) } else { Vec::new() };
            entry.id().into_iter().chain(inner).map(str::to_owned).collect::<Vec<_>>()
        };
        chain.iter().rev().flat_map(of).collect()
    }

    fn data_piece(&self, chain: &[(usize, usize)]) -> Option<String> {
        let of = |&(i, _): &(usize, usize)| self.entries.list[i].node.attribute("data-piece");
        chain.iter().rev().find_map(of).map(str::to_owned).filter(|value| !value.is_empty())
    }

    /// The innermost group of the drawing around an entry within an instance.
    fn group_around(&mut self, entry: usize, instance: usize) -> Option<usize> {
        // From the entry out to the page, then groups from the outermost in.
        let mut containers = Vec::new();
        let (mut at, mut within) = (entry, instance);
        loop {
            let next = match self.use_of(within) {
                // Its group, if it is one, was met as its target's.
                Some((used, outer)) if self.entries.list[used].target == Some(at) => (used, outer),
                _ => {
                    let Some(parent) = self.entries.list[at].parent else { break };
                    let is_group = matches!(self.entries.list[parent].role, Role::Container)
                        || self.entries.list[parent].tag() == "symbol";
                    if is_group && self.entries.list[parent].parent.is_some() {
                        containers.push((parent, within));
                    }
                    (parent, within)
                }
            };
            (at, within) = next;
        }
        let mut parent = None;
        for (container, within) in containers.into_iter().rev() {
            parent = Some(self.group(container, within, parent));
        }
        parent
    }

    fn group(&mut self, container: usize, instance: usize, parent: Option<usize>) -> usize {
        if let Some(&known) = self.group_at.get(&(container, instance)) {
            return known;
        }
        let chain = self.chain(container, instance);
        let outer = chain.last().map_or(container, |&(outer, _)| outer);
        self.groups.push(Group {
            ids: self.ids(&chain),
            name: self.entries.list[outer].name.clone(),
            parent,
            data_piece: self.data_piece(&chain),
        });
        let index = self.groups.len() - 1;
        self.group_at.insert((container, instance), index);
        index
    }
}

/// The ids of spans that hold all of a text, the outermost first: editors write `<text><tspan
/// id="…">`, and whoever picks that id means the text. Where a text has several spans they are not
/// told apart.
fn sole_spans<'a>(text: Node<'a, '_>) -> Vec<&'a str> {
    let mut ids = Vec::new();
    let mut at = text;
    loop {
        let mut spans = at.children().filter(Node::is_element);
        let (Some(span), None) = (spans.next(), spans.next()) else { return ids };
        let beside = at.children().filter(Node::is_text).filter_map(|n| n.text());
        if span.tag_name().name() != "tspan"
            || !beside.into_iter().all(|text| text.trim().is_empty())
        {
            return ids;
        }
        ids.extend(span.attribute("id").filter(|id| !id.trim().is_empty()));
        at = span;
    }
}
