//! The document as it is handed to usvg: the same, but every element can be told in the result.
//!
//! usvg keeps an element's id and nothing else of what it was, and not even that for what a `use`
//! draws. So elements without an id get one; elements that a `use` may draw, and those with
//! markers, get a filter that does nothing and whose id says which element it stands on. Pictures
//! get a name by which they are asked for, in place of what they refer to.
//!
//! What is rendered is written without such filters, and without what is not to be seen of it.

use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::fmt::Write as _;

use super::css_gaps::{begun, named_size_px, with_sizes_in_px};
use super::document::{Entries, Role, SVG_NS, XLINK_NS, is_guides, is_svg};
use super::linked;
use super::no_room::no_room;
use super::of_symbol::of_symbol;
use super::path_data::document_path_data;
use super::style::{SaidOf, link, property};
use super::unit::in_millimetres;
use stave_toolpath::xml::{Breaks, escape};

/// The way back from the ids of a document that was written anew.
#[derive(Debug)]
pub(super) struct Rewritten {
    /// What ids made up here begin with.
    prefix: String,
}

impl Rewritten {
    /// The element that an id of the result stands for.
    pub(super) fn element(&self, id: &str, entries: &Entries<'_, '_>) -> Option<usize> {
        match id.strip_prefix(&self.prefix) {
            Some(number) => {
                number.trim_start_matches('m').parse().ok().filter(|&i| i < entries.list.len())
            }
            None => entries.by_id.get(id).copied(),
        }
    }

    /// The element that a filter of the result marks.
    pub(super) fn marked(&self, id: &str, entries: &Entries<'_, '_>) -> Option<usize> {
        self.number(id).filter(|&i| i < entries.list.len())
    }

    /// Whether a filter of the result is one that only marks an element.
    pub(super) fn is_mark(&self, id: &str) -> bool {
        self.number(id).is_some()
    }

    fn number(&self, id: &str) -> Option<usize> {
        id.strip_prefix(&self.prefix)?.strip_prefix('m')?.parse().ok()
    }
}

/// What a browser takes otherwise than usvg does, and is written so that usvg takes it alike.
#[derive(Debug, Default)]
pub(super) struct Otherwise {
    /// Elements whose reference is left out, lest it lead back to them.
    cut: HashSet<usize>,
    /// What has no room where it stands.
    no_room: HashSet<usize>,
    /// Parts of texts that are not displayed. Where a text begins usvg takes from its first letter,
    /// shown or not.
    gone: HashSet<usize>,
    /// For uses of symbols with a transform what stands in place of their own and of their place.
    of_symbols: HashMap<usize, String>,
}

impl Otherwise {
    pub(super) fn new(entries: &Entries<'_, '_>, said: &SaidOf<'_>, cut: &[usize]) -> Otherwise {
        let all = || 0..entries.list.len();
        let display = property("display");
        let is_gone = |&index: &usize| {
            entries.list[index].tag() == "tspan"
                && display.and_then(|p| said[index][p]) == Some("none")
        };
        Otherwise {
            cut: cut.iter().copied().collect(),
            no_room: all().filter(|&index| no_room(entries, said, index).is_some()).collect(),
            gone: all().filter(is_gone).collect(),
            of_symbols: all()
                .filter_map(|index| Some((index, of_symbol(entries, said, index)?.ok()?)))
                .collect(),
        }
    }
}

/// Writes the document anew, ready for usvg.
pub(super) fn rewrite(
    entries: &Entries<'_, '_>,
    said: &SaidOf<'_>,
    otherwise: &Otherwise,
) -> (Rewritten, String) {
    written(entries, marks(entries, said), otherwise, &Unseen::default())
}

/// Writes the document as it is to be seen, elements without their own mark: what is `unseen` is
/// not to be seen.
pub(super) fn for_view(
    entries: &Entries<'_, '_>,
    otherwise: &Otherwise,
    unseen: &Unseen,
) -> String {
    written(entries, vec![false; entries.list.len()], otherwise, unseen).1
}

/// What is not to be seen.
#[derive(Debug, Default)]
pub(super) struct Unseen {
    /// Elements, wherever they are drawn.
    pub(super) hidden: HashSet<usize>,
    /// Elements where they stand, but not where something refers to them.
    pub(super) hidden_here: HashSet<usize>,
    /// Of elements the paint, `fill` or `stroke`.
    pub(super) paints: HashMap<usize, &'static str>,
}

fn written(
    entries: &Entries<'_, '_>,
    marks: Vec<bool>,
    otherwise: &Otherwise,
    unseen: &Unseen,
) -> (Rewritten, String) {
    let mut prefix = "stave".to_owned();
    while entries.by_id.keys().any(|id| id.starts_with(&prefix)) {
        prefix.push('-');
    }
    let mut writer = Writer {
        entries,
        out: String::new(),
        prefix: &prefix,
        marks,
        otherwise,
        twins: entries.twins.iter().copied().collect(),
        unseen,
        markers: entries.list.iter().any(|entry| entry.tag() == "marker"),
        paths: Vec::new(),
    };
    writer.element(0);
    let out = writer.out;
    (Rewritten { prefix }, out)
}

/// Which elements need a mark: those that a use may draw, and shapes with markers.
fn marks(entries: &Entries<'_, '_>, said: &SaidOf<'_>) -> Vec<bool> {
    let count = entries.list.len();
    let mut used = vec![false; count];
    for target in entries.list.iter().filter_map(|e| e.target) {
        // Targets within targets were filled before, or will be.
        if !used[target] {
            used[target..entries.list[target].end].fill(true);
        }
    }
    let markers: Vec<usize> =
        ["marker-start", "marker-mid", "marker-end"].iter().filter_map(|p| property(p)).collect();
    let own =
        |index: usize| markers.iter().any(|&p| said[index][p].is_some_and(|value| value != "none"));
    let mut marked = vec![false; count];
    let mut inherits = vec![false; count];
    // Markers reach a used element from where it is used: then every shape may have them.
    let anywhere = (0..count).any(|i| entries.list[i].role != Role::Shape && own(i));
    for index in 0..count {
        let entry = &entries.list[index];
        inherits[index] = own(index) || entry.parent.is_some_and(|p| inherits[p]);
        let draws = matches!(entry.role, Role::Shape | Role::Text | Role::Use | Role::Container);
        let with_markers =
            entry.role == Role::Shape && (inherits[index] || (anywhere && used[index]));
        marked[index] = draws && (used[index] || with_markers);
    }
    // What stands in a clip path or a marker is not an element of the drawing.
    for index in 0..count {
        if APPLIED.contains(&entries.list[index].tag()) {
            marked[index..entries.list[index].end].fill(false);
        }
    }
    marked
}

/// What is drawn where something refers to it, as part of that.
pub(super) const APPLIED: [&str; 5] = ["clipPath", "marker", "mask", "pattern", "filter"];

struct Writer<'e, 'a, 'i> {
    entries: &'e Entries<'a, 'i>,
    out: String,
    prefix: &'e str,
    marks: Vec<bool>,
    otherwise: &'e Otherwise,
    twins: HashSet<usize>,
    unseen: &'e Unseen,
    /// Whether the drawing has any.
    markers: bool,
    /// Paths that texts have of their own, with the elements that follow them.
    paths: Vec<(usize, &'a str)>,
}

impl Writer<'_, '_, '_> {
    /// Recursion is as deep as the document, which was bounded before.
    fn element(&mut self, index: usize) {
        let entry = &self.entries.list[index];
        let tag = entry.tag();
        if !is_svg(entry.node) {
            return;
        }
        // Whatever refers to it takes it without what stands around it.
        let hidden_here = self.hidden_here(index);
        if let Some(how) = hidden_here {
            let _ = write!(self.out, "<g style=\"{how} !important\">");
        }
        self.out.push('<');
        self.out.push_str(tag);
        if index == 0 {
            let _ = write!(self.out, " xmlns=\"{SVG_NS}\" xmlns:xlink=\"{XLINK_NS}\"");
        }
        self.identity(index);
        self.attributes(index);
        self.out.push('>');
        if entry.role != Role::Foreign && !is_guides(entry.node) {
            self.children(index);
        }
        if index == 0 {
            // At the end, where no rule for a first child or a next sibling can tell.
            self.mark_filters();
            self.paths_of_texts();
        }
        self.out.push_str("</");
        self.out.push_str(tag);
        self.out.push('>');
        if hidden_here.is_some() {
            self.out.push_str("</g>");
        }
    }

    /// How an element is hidden where it stands, but not where something refers to it.
    fn hidden_here(&self, index: usize) -> Option<&'static str> {
        if self.otherwise.no_room.contains(&index) {
            return Some("display:none");
        }
        self.unseen.hidden_here.contains(&index).then_some("visibility:hidden")
    }

    fn children(&mut self, index: usize) {
        let mut child_index = index + 1;
        let is_sheet = self.entries.list[index].tag() == "style";
        for child in self.entries.list[index].node.children() {
            if child.is_element() {
                if !self.otherwise.gone.contains(&child_index) {
                    self.element(child_index);
                }
                child_index = self.entries.list[child_index].end;
            } else if let Some(text) = child.text().filter(|_| child.is_text()) {
                let in_px = if is_sheet { with_sizes_in_px(text) } else { None };
                let text = in_px.as_deref().unwrap_or(text);
                escape(text, Breaks::AsReferences, &mut self.out);
            }
        }
    }

    fn identity(&mut self, index: usize) {
        let entry = &self.entries.list[index];
        match entry.id() {
            Some(id) if !self.twins.contains(&index) => {
                self.out.push_str(" id=\"");
                escape(id, Breaks::AsReferences, &mut self.out);
                self.out.push('"');
            }
            _ => {
                let _ = write!(self.out, " id=\"{}{index}\"", self.prefix);
            }
        }
    }

    fn attributes(&mut self, index: usize) {
        let node = self.entries.list[index].node;
        let (mut filter, mut named) = (None, false);
        let mut forced = Vec::new();
        if self.unseen.hidden.contains(&index) {
            forced.push("visibility:hidden !important".to_owned());
        } else if let Some(paint) = self.unseen.paints.get(&index) {
            forced.push(format!("{paint}:none !important"));
        }
        // Only what is drawn as a line has markers.
        if self.markers && matches!(node.tag_name().name(), "rect" | "circle" | "ellipse") {
            forced.push("marker:none !important".to_owned());
        }
        if !forced.is_empty() {
            let style = begun(node.attribute("style").unwrap_or_default());
            let style = with_sizes_in_px(style).map_or(style.into(), Cow::Owned);
            self.out.push_str(" style=\"");
            escape(&style, Breaks::AsReferences, &mut self.out);
            let parted = if style.trim().is_empty() { "" } else { ";" };
            let _ = write!(self.out, "{parted}{}\"", forced.join(";"));
        }
        self.size_of_symbol(index);
        let placed = self.otherwise.of_symbols.get(&index);
        if let Some(transform) = placed {
            let _ = write!(self.out, " transform=\"{transform}\"");
        }
        let path = own_path(node);
        if let Some(path) = path {
            let _ = write!(self.out, " href=\"#{}p{index}\"", self.prefix);
            self.paths.push((index, path));
        }
        for attribute in node.attributes() {
            let name = match (attribute.namespace(), attribute.name()) {
                (None, "id") => continue,
                (None, "style") if !forced.is_empty() => continue,
                (None, "transform" | "x" | "y") if placed.is_some() => continue,
                (None | Some(XLINK_NS), "href") if path.is_some() => continue,
                (None, "filter") => {
                    filter = Some(attribute.value());
                    continue;
                }
                (None | Some(XLINK_NS), "href") if self.otherwise.cut.contains(&index) => continue,
                (None | Some(XLINK_NS), "href") if linked::shows(node, attribute.value()) => {
                    if !named {
                        let _ = write!(self.out, " href=\"{}\"", linked::name_of(index));
                        named = true;
                    }
                    continue;
                }
                (None, name) => name.to_owned(),
                (Some(XLINK_NS), name) => format!("xlink:{name}"),
                (Some(roxmltree::NS_XML_URI), name) => format!("xml:{name}"),
                _ => continue,
            };
            let _ = write!(self.out, " {name}=\"");
            // The reader of styles takes a semicolon before the first word for the end of all.
            let value = attribute.value();
            let value = if name == "style" { begun(value) } else { value };
            match rewritten_value(&name, value) {
                Some(value) => escape(&value, Breaks::AsReferences, &mut self.out),
                None => escape(value, Breaks::AsReferences, &mut self.out),
            }
            self.out.push('"');
        }
        let mark = self.marks[index].then(|| format!("url(#{}m{index})", self.prefix));
        // usvg takes any element for a filter; one that is none leaves the element out, as one that
        // is missing does.
        let is_filter = |value: &str| match link(value).and_then(|id| self.entries.by_id.get(id)) {
            Some(&target) => self.entries.list[target].tag() == "filter",
            None => true,
        };
        let missing = format!("url(#{}none)", self.prefix);
        let filter = filter.map(|value| if is_filter(value) { value } else { missing.as_str() });
        let both: Vec<&str> = filter
            .into_iter()
            .filter(|f| mark.is_none() || *f != "none")
            .chain(mark.as_deref())
            .collect();
        if !both.is_empty() {
            self.out.push_str(" filter=\"");
            escape(&both.join(" "), Breaks::AsReferences, &mut self.out);
            self.out.push('"');
        }
    }

    /// A symbol's own size, where a `use` of it gives none.
    fn size_of_symbol(&mut self, index: usize) {
        let entry = &self.entries.list[index];
        let target = entry.target.filter(|_| entry.role == Role::Use);
        let Some(symbol) = target.map(|target| self.entries.list[target].node) else { return };
        if symbol.tag_name().name() != "symbol" {
            return;
        }
        for name in ["width", "height"] {
            if let (None, Some(size)) = (entry.node.attribute(name), symbol.attribute(name)) {
                let _ = write!(self.out, " {name}=\"");
                escape(size, Breaks::AsReferences, &mut self.out);
                self.out.push('"');
            }
        }
    }

    /// usvg knows only paths that are referred to.
    fn paths_of_texts(&mut self) {
        for (index, path) in std::mem::take(&mut self.paths) {
            let _ = write!(self.out, "<defs><path id=\"{}p{index}\" d=\"", self.prefix);
            let path = rewritten_value("d", path).map_or(path.into(), Cow::Owned);
            escape(&path, Breaks::AsReferences, &mut self.out);
            self.out.push_str("\"/></defs>");
        }
    }

    fn mark_filters(&mut self) {
        for index in (0..self.marks.len()).filter(|&i| self.marks[i]) {
            let _ = write!(self.out, "<filter id=\"{}m{index}\"{MARK_INSIDE}", self.prefix);
        }
    }
}

/// The path that a part of a text has of its own, which goes before one that it refers to.
fn own_path<'a>(node: roxmltree::Node<'a, '_>) -> Option<&'a str> {
    let path = node.attribute("path").filter(|path| !path.trim().is_empty());
    path.filter(|_| node.tag_name().name() == "textPath")
}

/// A value that usvg would not read, or not well: the unit Q, and arcs, which it turns into cubics
/// within a tenth of a unit only, or into millions of them.
fn rewritten_value(name: &str, value: &str) -> Option<String> {
    if name == "d" && value.contains(['A', 'a']) {
        return Some(document_path_data(value).0.to_svg());
    }
    let in_mm = in_millimetres(name, value);
    let sized = match name {
        "style" => with_sizes_in_px(in_mm.as_deref().unwrap_or(value)),
        "font-size" => named_size_px(value.trim()).map(|px| px.to_string()),
        _ => None,
    };
    sized.or(in_mm)
}

const MARK_INSIDE: &str =
    " filterUnits=\"userSpaceOnUse\" x=\"0\" y=\"0\" width=\"1\" height=\"1\"><feOffset/></filter>";
