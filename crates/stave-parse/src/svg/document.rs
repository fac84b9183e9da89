//! The XML document beside which the resolved drawing is read: every element with its name, its
//! place and its part.

use std::collections::HashMap;

use roxmltree::{Document, Node, ParsingOptions};
use stave_toolpath::art::GUIDES_ID;

use super::error::SvgError;
use super::limits::{MOST_ATTRIBUTE_PAIRS, MOST_BYTES, MOST_NODES, MOST_SPELLED_OUT};

pub(super) const SVG_NS: &str = "http://www.w3.org/2000/svg";
pub(super) const XLINK_NS: &str = "http://www.w3.org/1999/xlink";

/// What part an element plays in a drawing.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Role {
    /// A path or basic shape.
    Shape,
    /// A text.
    Text,
    /// A raster picture.
    Image,
    /// A group of any kind.
    Container,
    /// An instance of another element.
    Use,
    /// A definition, which is drawn only where something refers to it.
    Definition,
    /// Part of a text, a gradient, a filter …
    Inner,
    /// Something that draws, but not here: foreign content, animation, script.
    Foreign,
    /// Words about the drawing.
    Silent,
}

/// An element of the document.
#[derive(Debug)]
pub(super) struct Entry<'a, 'i> {
    pub(super) node: Node<'a, 'i>,
    pub(super) role: Role,
    pub(super) parent: Option<usize>,
    /// What to call it.
    pub(super) name: String,
    pub(super) line: u32,
    /// The element it is an instance of, for a `use`.
    pub(super) target: Option<usize>,
    /// Whether it stands within a definition, and is not drawn where it stands.
    pub(super) defined: bool,
    /// The end of its descendants in the list.
    pub(super) end: usize,
}

impl Entry<'_, '_> {
    pub(super) fn tag(&self) -> &str {
        self.node.tag_name().name()
    }

    pub(super) fn id(&self) -> Option<&str> {
        self.node.attribute("id").filter(|id| !id.trim().is_empty())
    }
}

/// The elements of a document, in its order.
#[derive(Debug)]
pub(super) struct Entries<'a, 'i> {
    pub(super) list: Vec<Entry<'a, 'i>>,
    /// The first element with each id.
    pub(super) by_id: HashMap<&'a str, usize>,
    /// Elements whose id another has before them.
    pub(super) twins: Vec<usize>,
}

/// The deepest that the XML parser follows entities within entities.
const DEEPEST_ENTITY: usize = 10;

/// At the most so many bytes does a document grow by when its entities are spelled out: every
/// reference by what its entity comes to, entities within entities by what those do, wherever they
/// are declared.
fn spelled_out(text: &str) -> u64 {
    let Some(begin) = text.find("<!ENTITY") else { return 0 };
    let declared: Vec<(&str, &str)> = text[begin..]
        .split("<!ENTITY")
        .skip(1)
        .filter_map(|declaration| {
            let at = declaration.find(['"', '\''])?;
            let (before, quoted) = declaration.split_at(at);
            let mut inside = quoted.split(quoted.chars().next()?);
            Some((before.split_whitespace().next()?, inside.nth(1)?))
        })
        .collect();
    let mut sizes: HashMap<&str, u64> = HashMap::new();
    let grows = |part: &str, sizes: &HashMap<&str, u64>| {
        let names = part.split('&').skip(1).filter_map(|rest| rest.split_once(';'));
        let more = names.filter_map(|(name, _)| sizes.get(name).copied());
        more.fold(0, u64::saturating_add)
    };
    for _ in 0..=DEEPEST_ENTITY {
        let known = sizes.clone();
        for (name, value) in &declared {
            let size = grows(value, &known).saturating_add(value.len() as u64);
            let most = sizes.entry(name).or_insert(0);
            *most = size.max(*most);
        }
        if known == sizes {
            break;
        }
    }
    grows(text, &sizes)
}

/// Parses the XML, entities bounded.
pub(super) fn parse_xml(text: &str) -> Result<Document<'_>, SvgError> {
    if text.len() as u64 > MOST_BYTES {
        return Err(SvgError::TooLarge {
            what: "bytes",
            found: text.len() as u64,
            most: MOST_BYTES,
        });
    }
    let pairs = attribute_pairs(text.as_bytes());
    if pairs > MOST_ATTRIBUTE_PAIRS {
        let what = "pairs of attributes of one element";
        return Err(SvgError::TooLarge { what, found: pairs, most: MOST_ATTRIBUTE_PAIRS });
    }
    let found = spelled_out(text);
    if found > MOST_SPELLED_OUT {
        let what = "bytes more once entities are spelled out";
        return Err(SvgError::TooLarge { what, found, most: MOST_SPELLED_OUT });
    }
    let options =
        ParsingOptions { allow_dtd: true, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    let document = Document::parse_with_options(text, options).map_err(|error| match error {
        roxmltree::Error::NodesLimitReached => {
            let most = u64::from(MOST_NODES);
            SvgError::TooLarge { what: "nodes of the document", found: most + 1, most }
        }
        error => SvgError::from(&error),
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" || !is_svg(root) {
        return Err(SvgError::NotSvg { root: root.tag_name().name().to_owned() });
    }
    Ok(document)
}

/// The pairs of attributes of one element, summed over all of them, reckoned before the XML is
/// parsed. What looks like a tag is taken for one; no value may hold a `<`, so that none is missed.
fn attribute_pairs(text: &[u8]) -> u64 {
    let mut pairs = 0_u64;
    let (mut count, mut quote, mut in_tag) = (0_u64, None, false);
    for &byte in text {
        match (byte, quote) {
            (b'<', _) | (b'>', None) => {
                pairs = pairs.saturating_add(count * count);
                (count, quote, in_tag) = (0, None, byte == b'<');
            }
            _ if !in_tag => {}
            (_, Some(open)) if byte == open => quote = None,
            (b'=', None) => count += 1,
            (b'"' | b'\'', None) => quote = Some(byte),
            _ => {}
        }
    }
    pairs.saturating_add(count * count)
}

/// Whether an element is SVG's; a drawing that forgot to say so is one all the same.
pub(super) fn is_svg(node: Node<'_, '_>) -> bool {
    node.is_element() && matches!(node.tag_name().namespace(), None | Some(SVG_NS))
}

/// Whether an element holds what Stave's own template draws to draw on, which is no art.
pub(super) fn is_guides(node: Node<'_, '_>) -> bool {
    is_svg(node)
        && (node.attribute("id") == Some(GUIDES_ID)
            || node.attribute("data-stave") == Some("guides"))
}

/// Where an element refers to: `href`, else `xlink:href`.
pub(super) fn href<'a>(node: Node<'a, '_>) -> Option<&'a str> {
    let of = |namespace: Option<&str>| {
        node.attributes().find(|a| a.name() == "href" && a.namespace() == namespace)
    };
    of(None).or_else(|| of(Some(XLINK_NS))).map(|a| a.value().trim())
}

impl<'a, 'i> Entries<'a, 'i> {
    pub(super) fn new(document: &'a Document<'i>) -> Entries<'a, 'i> {
        let lines = Lines::new(document.input_text());
        let elements = || document.root().descendants().filter(Node::is_element);
        // Counted first: growing by doubling holds three times as much for a moment.
        let mut list: Vec<Entry<'a, 'i>> = Vec::with_capacity(elements().count());
        let mut by_id = HashMap::new();
        let mut twins = Vec::new();
        // The chain of elements around the one at hand: their indices in the list.
        let mut around: Vec<usize> = Vec::new();
        for node in elements() {
            let parent_node = node.parent_element();
            while let Some(&top) = around.last() {
                if Some(list[top].node) == parent_node {
                    break;
                }
                list[top].end = list.len();
                around.pop();
            }
            let parent = around.last().copied();
            let index = list.len();
            let (line, column) = lines.place(node.range().start);
            let role = role_of(node, parent.map(|p| list[p].role));
            let entry = Entry {
                node,
                role,
                parent,
                name: format!("{} on line {line}, column {column}", node.tag_name().name()),
                line,
                target: None,
                defined: parent
                    .is_some_and(|p| list[p].defined || list[p].role == Role::Definition),
                end: index + 1,
            };
            if let Some(id) = entry.id() {
                if by_id.contains_key(id) {
                    twins.push(index);
                } else {
                    by_id.insert(node.attribute("id").unwrap_or_default(), index);
                }
            }
            list.push(entry);
            around.push(index);
        }
        let end = list.len();
        for open in around {
            list[open].end = end;
        }
        let mut entries = Entries { list, by_id, twins };
        entries.link_and_name();
        entries
    }

    fn link_and_name(&mut self) {
        for index in 0..self.list.len() {
            if self.list[index].role == Role::Use {
                let id = href(self.list[index].node).and_then(|href| href.strip_prefix('#'));
                self.list[index].target = id.and_then(|id| self.by_id.get(id).copied());
            }
            if let Some(id) = self.list[index].id() {
                self.list[index].name = id.to_owned();
            }
        }
        // The column is told only where a line has several of a kind.
        let mut counts: HashMap<(u32, &str), usize> = HashMap::new();
        for entry in &self.list {
            *counts.entry((entry.line, entry.node.tag_name().name())).or_default() += 1;
        }
        let alone: Vec<usize> = (0..self.list.len())
            .filter(|&i| {
                let entry = &self.list[i];
                entry.id().is_none() && counts.get(&(entry.line, entry.tag())) == Some(&1)
            })
            .collect();
        for index in alone {
            let entry = &mut self.list[index];
            entry.name = format!("{} on line {}", entry.node.tag_name().name(), entry.line);
        }
    }

    /// Whether an element is a group, or an instance of one.
    pub(super) fn is_container(&self, index: usize) -> bool {
        // A chain of uses may turn in a circle, which is refused elsewhere: walk no longer than
        // there are elements.
        let mut at = index;
        for _ in 0..self.list.len() {
            match (self.list[at].role, self.list[at].target) {
                (Role::Use, Some(target)) => at = target,
                (Role::Container, _) => return true,
                _ => return self.list[at].tag() == "symbol",
            }
        }
        false
    }

    /// An element's ancestors, the nearest first.
    pub(super) fn around(&self, index: usize) -> impl Iterator<Item = usize> {
        std::iter::successors(self.list[index].parent, |&i| self.list[i].parent)
    }
}

fn role_of(node: Node<'_, '_>, parent: Option<Role>) -> Role {
    if !is_svg(node) || is_guides(node) {
        return Role::Silent;
    }
    // What stands within a text or within what draws nothing is no element of the drawing.
    match parent {
        Some(Role::Text | Role::Inner | Role::Shape | Role::Image | Role::Use) => {
            return Role::Inner;
        }
        Some(Role::Foreign | Role::Silent) => return Role::Silent,
        _ if node
            .parent_element()
            .is_some_and(|p| is_svg(p) && p.tag_name().name() == "filter") =>
        {
            return Role::Inner;
        }
        _ => {}
    }
    match node.tag_name().name() {
        "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon" => Role::Shape,
        "text" => Role::Text,
        "image" => Role::Image,
        "g" | "a" | "svg" | "switch" => Role::Container,
        "use" => Role::Use,
        "defs" | "symbol" | "clipPath" | "mask" | "pattern" | "marker" | "filter" => {
            Role::Definition
        }
        "linearGradient" | "radialGradient" => Role::Inner,
        "style" | "title" | "desc" | "metadata" | "view" | "cursor" | "color-profile" => {
            Role::Silent
        }
        _ => Role::Foreign,
    }
}

/// The lines of a text, to tell the place of a byte quickly.
struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    fn new(text: &'a str) -> Lines<'a> {
        let starts = std::iter::once(0)
            .chain(memchr::memchr_iter(b'\n', text.as_bytes()).map(|at| at + 1))
            .collect();
        Lines { text, starts }
    }

    /// Line and column of a byte, counted from 1, the column in characters up to the width of a
    /// page and in bytes from there: counting the characters of one line for every element on it
    /// would take the square of its length.
    fn place(&self, at: usize) -> (u32, u32) {
        const COUNTED: usize = 4096;
        let line = self.starts.partition_point(|&start| start <= at).max(1);
        let start = self.starts[line - 1];
        let bytes = at.saturating_sub(start);
        let column = match self.text.get(start..at) {
            Some(before) if bytes <= COUNTED => before.chars().count(),
            _ => bytes,
        };
        let small = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        (small(line), small(column + 1))
    }
}
