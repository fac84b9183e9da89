//! What style sheets and attributes say of an element, for the few properties that the reader asks
//! about.
//!
//! usvg resolves styles for good; here the same rules are applied once more, because it does not
//! tell why it left an element out.

use std::cell::Cell;
use std::collections::{BTreeSet, HashMap};
use std::ops::Index;

use roxmltree::Node;
use simplecss::{AttributeOperator, DeclarationTokenizer, Element, PseudoClass, Rule, StyleSheet};

use super::css_gaps;
use super::document::{Entries, is_svg};
use super::error::SvgError;
use super::limits::{MOST_SHEET_WORK, MOST_STYLE_CHECKS, MOST_STYLE_STEPS};

/// The properties asked about.
pub(super) const PROPERTIES: [&str; 25] = [
    "display",
    "visibility",
    "fill",
    "stroke",
    "clip-path",
    "mask",
    "filter",
    "marker-start",
    "marker-mid",
    "marker-end",
    "stroke-linejoin",
    "mix-blend-mode",
    "stroke-dasharray",
    "vector-effect",
    "text-transform",
    "direction",
    "white-space",
    "letter-spacing",
    "text-anchor",
    "overflow",
    "background",
    "background-color",
    "color-interpolation",
    "baseline-shift",
    "font-variant",
];

/// What is said of an element: a value for each of [`PROPERTIES`].
pub(super) type Said<'a> = [Option<&'a str>; PROPERTIES.len()];

/// What is said of each element, by its number. Most elements of a drawing are told alike: each
/// telling is kept once.
#[derive(Debug, Default)]
pub(super) struct SaidOf<'a> {
    tellings: Vec<Said<'a>>,
    of: Vec<u32>,
}

impl<'a> Index<usize> for SaidOf<'a> {
    type Output = Said<'a>;

    fn index(&self, element: usize) -> &Said<'a> {
        let telling = self.of.get(element).and_then(|number| self.tellings.get(*number as usize));
        telling.unwrap_or(&NOTHING)
    }
}

const NOTHING: Said<'static> = [None; PROPERTIES.len()];

/// The index of a property.
pub(super) fn property(name: &str) -> Option<usize> {
    PROPERTIES.iter().position(|p| *p == name)
}

/// The text of every style sheet within the document.
pub(super) fn sheets<'a>(entries: &Entries<'a, '_>) -> Vec<(usize, &'a str)> {
    let of_css = |node: Node<'_, '_>| matches!(node.attribute("type"), None | Some("text/css"));
    entries
        .list
        .iter()
        .enumerate()
        .filter(|(_, e)| e.tag() == "style" && is_svg(e.node) && of_css(e.node))
        .filter_map(|(i, e)| e.node.text().map(|text| (i, text)))
        .collect()
}

/// What is said of each element.
pub(super) fn said<'a>(entries: &Entries<'a, '_>) -> Result<SaidOf<'a>, SvgError> {
    let mut sheet = StyleSheet::new();
    for (_, text) in sheets(entries) {
        let words = text.bytes().filter(|b| b":;{}.#,> ".contains(b)).count() as u64;
        let found = words.saturating_mul(text.len() as u64);
        if found > MOST_SHEET_WORK {
            let what = "bytes of a style sheet times its words";
            return Err(SvgError::TooLarge { what, found, most: MOST_SHEET_WORK });
        }
        sheet.parse_more(text);
    }
    let checks = sheet.rules.len() as u64 * entries.list.len() as u64;
    if checks > MOST_STYLE_CHECKS {
        let what = "style rules times elements";
        return Err(SvgError::TooLarge { what, found: checks, most: MOST_STYLE_CHECKS });
    }
    let steps = Cell::new(0);
    let mut known = HashMap::new();
    let mut said_of = SaidOf::default();
    said_of.of.reserve(entries.list.len());
    for entry in &entries.list {
        let said = of_element(entry.node, &sheet, &steps);
        let found = steps.get();
        if found > MOST_STYLE_STEPS {
            let what = "steps of matching style rules to elements";
            return Err(SvgError::TooLarge { what, found, most: MOST_STYLE_STEPS });
        }
        let number = *known.entry(said).or_insert_with(|| {
            said_of.tellings.push(said);
            u32::try_from(said_of.tellings.len() - 1).unwrap_or(u32::MAX)
        });
        said_of.of.push(number);
    }
    Ok(said_of)
}

/// Elements that a `use` shows, and whose looks hang on a rule that looks past what it shows, with
/// that rule's selector. By SVG 2 such a rule holds as where the element stands; some browsers look
/// at what the `use` shows alone.
pub(super) fn past_uses(entries: &Entries<'_, '_>) -> Vec<(usize, String)> {
    let mut sheet = StyleSheet::new();
    for (_, text) in sheets(entries) {
        sheet.parse_more(text);
    }
    let seen = |rule: &&Rule<'_>| rule.declarations.iter().any(|one| css_gaps::is_seen(one.name));
    let rules: Vec<&Rule<'_>> = sheet.rules.iter().filter(seen).collect();
    if rules.is_empty() {
        return Vec::new();
    }
    let targets: BTreeSet<usize> = entries.list.iter().filter_map(|entry| entry.target).collect();
    let steps = Cell::new(0);
    let mut told = Vec::new();
    for target in targets {
        let top = entries.list[target].node;
        for index in target..entries.list[target].end {
            if steps.get() > MOST_STYLE_STEPS {
                return told;
            }
            let node = entries.list[index].node;
            let whole = Styled { node, steps: &steps, top: None };
            let alone = Styled { node, steps: &steps, top: Some(top) };
            let differs =
                |rule: &&&Rule<'_>| rule.selector.matches(&whole) != rule.selector.matches(&alone);
            if let Some(rule) = rules.iter().find(differs) {
                told.push((index, rule.selector.to_string()));
            }
        }
    }
    told
}

fn of_element<'a>(node: Node<'a, '_>, sheet: &StyleSheet<'a>, steps: &Cell<u64>) -> Said<'a> {
    let mut said: Said<'a> = [None; PROPERTIES.len()];
    let mut important = [false; PROPERTIES.len()];
    let mut say = |name: &str, value: &'a str, urgent: bool| {
        let mut one = |name: &str| {
            if let Some(index) = property(name)
                && (!important[index] || urgent)
            {
                said[index] = Some(value.trim());
                important[index] |= urgent;
            }
        };
        if name == "marker" {
            ["marker-start", "marker-mid", "marker-end"].into_iter().for_each(&mut one);
        } else {
            one(name);
        }
    };
    for attribute in node.attributes().filter(|a| a.namespace().is_none()) {
        say(attribute.name(), attribute.value(), false);
    }
    for rule in &sheet.rules {
        if rule.selector.matches(&Styled { node, steps, top: None }) {
            for declaration in &rule.declarations {
                say(declaration.name, declaration.value, declaration.important);
            }
        }
    }
    let style = css_gaps::begun(node.attribute("style").unwrap_or_default());
    for declaration in DeclarationTokenizer::from(style) {
        say(declaration.name, declaration.value, declaration.important);
    }
    said
}

/// An id within `url(#id)`.
pub(super) fn link(value: &str) -> Option<&str> {
    let inside = value.trim().strip_prefix("url(")?.split(')').next()?;
    inside.trim().trim_matches(['"', '\'']).trim().strip_prefix('#')
}

/// An element as selectors see it. Each look at it is counted, and past the most there may be it
/// has neither parent nor likeness, so that matching ends.
struct Styled<'s, 'a, 'i> {
    node: Node<'a, 'i>,
    steps: &'s Cell<u64>,
    /// What is looked at with all that it holds, and with nothing around it.
    top: Option<Node<'a, 'i>>,
}

impl Styled<'_, '_, '_> {
    /// Counts steps; whether there are any left.
    fn step(&self, count: usize) -> bool {
        self.steps.set(self.steps.get().saturating_add(count as u64));
        self.steps.get() <= MOST_STYLE_STEPS
    }

    fn other(&self, node: Option<Node<'_, '_>>) -> bool {
        node.is_some() && self.step(1)
    }
}

impl<'s, 'a, 'i> Element for Styled<'s, 'a, 'i> {
    fn parent_element(&self) -> Option<Self> {
        let node = self.node.parent_element().filter(|_| self.top != Some(self.node));
        self.other(node).then_some(Styled { node: node?, ..*self })
    }

    fn prev_sibling_element(&self) -> Option<Self> {
        let node = self.node.prev_sibling_element().filter(|_| self.top != Some(self.node));
        self.other(node).then_some(Styled { node: node?, ..*self })
    }

    fn has_local_name(&self, name: &str) -> bool {
        self.step(1) && self.node.tag_name().name() == name
    }

    fn attribute_matches(&self, name: &str, operator: AttributeOperator<'_>) -> bool {
        // Attributes are looked for one by one.
        self.step(1 + self.node.attributes().len())
            && self.node.attribute(name).is_some_and(|value| operator.matches(value))
    }

    fn pseudo_class_matches(&self, class: PseudoClass<'_>) -> bool {
        matches!(class, PseudoClass::FirstChild) && self.prev_sibling_element().is_none()
    }
}
