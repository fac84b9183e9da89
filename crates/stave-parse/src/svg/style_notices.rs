//! What is said of styles: of sheets and attributes that are not followed, and of what is drawn
//! otherwise than they ask.

use super::NoticeKind;
use super::css_gaps;
use super::document::Role;
use super::element_notices::{Ledger, shorten};
use super::style::{past_uses, sheets};
use super::unit::in_millimetres;

/// What helps where a style is not followed.
const PLAIN: &str = "write plain values, and classes or ids, as an editor's plain SVG has them";

impl Ledger<'_, '_, '_> {
    /// Style sheets that are not read whole.
    pub(super) fn sheets(&mut self) {
        for (index, text) in sheets(self.entries) {
            if text.contains('@') {
                let message = "rules that begin with @ (imports, fonts, media) are not read";
                self.say(index, NoticeKind::StyleSheet, message);
            }
            let gaps = css_gaps::of_sheet(text);
            if !gaps.is_empty() {
                let gaps = css_gaps::listed(&gaps);
                self.say(index, NoticeKind::StyleSheet, format!("not followed: {gaps}; {PLAIN}"));
            }
            let media = self.entries.list[index].node.attribute("media").unwrap_or_default();
            if !matches!(media.trim(), "" | "all" | "screen") {
                let message = format!("it is for {media}, and is applied as any other");
                self.say(index, NoticeKind::StyleSheet, message);
            }
            if text.split([':', ' ', ';', '}', ',']).any(|word| in_millimetres("", word).is_some())
            {
                self.say(
                    index,
                    NoticeKind::Unit,
                    "the unit Q is read in attributes only: write mm in the style sheet",
                );
            }
        }
    }

    /// Rules that reach past what a `use` shows.
    pub(super) fn past_uses(&mut self) {
        for (index, selector) in past_uses(self.entries) {
            if !self.any_fate(index, |fate| fate.met) {
                continue;
            }
            let message = format!(
                "browsers do not agree on the rule `{}` where a <use> shows it, since it looks \
                 past what that shows: give it a class of its own",
                shorten(&selector)
            );
            self.say(index, NoticeKind::StyleSheet, message);
        }
    }

    /// What an element says of its own style that is not followed.
    pub(super) fn own_style(&mut self, index: usize) {
        let own = self.entries.list[index].node.attributes().filter(|a| a.namespace().is_none());
        let gaps: Vec<String> = own
            .flat_map(|attribute| match attribute.name() {
                "style" => css_gaps::of_declarations(attribute.value()),
                // Their own readers tell.
                "d" | "points" => Vec::new(),
                name if css_gaps::is_followed(name, attribute.value()) => Vec::new(),
                name => vec![format!("{name}: {}", shorten(attribute.value()))],
            })
            .collect();
        if !gaps.is_empty() {
            let gaps = css_gaps::listed(&gaps);
            let message = format!("its style is not followed in {gaps}; {PLAIN}");
            self.say(index, NoticeKind::StyleSheet, message);
        }
        let entry = &self.entries.list[index];
        if matches!(entry.tag(), "tspan" | "textPath") {
            let style = entry.node.attribute("style").unwrap_or_default();
            let asks =
                |name: &str| entry.node.attribute(name).or_else(|| css_gaps::said(style, name));
            let nothing = |value: &&str| !matches!(*value, "none" | "inherit" | "1");
            let parts = ["clip-path", "mask", "filter", "opacity"];
            let asked = parts.into_iter().filter(|name| asks(name).filter(nothing).is_some());
            let asked: Vec<String> = asked.map(str::to_owned).collect();
            if !asked.is_empty() {
                let message = format!(
                    "within a text {} is not followed: put that part into a <text> of its own",
                    css_gaps::listed(&asked)
                );
                self.say(index, NoticeKind::StyleSheet, message);
            }
        }
        if index == 0 {
            self.ground();
        }
    }

    /// A ground that the drawing gives its whole page by its style.
    fn ground(&mut self) {
        let root = self.entries.list[0].node;
        let names = ["background", "background-color"];
        // Styles alone say so, attributes do not.
        let own = names.iter().find_map(|name| {
            self.of(0, name).filter(|value| root.attribute(*name).map(str::trim) != Some(value))
        });
        let of_root = || {
            let mut sheets = sheets(self.entries).into_iter().rev();
            sheets.find_map(|(_, text)| css_gaps::said_of_root(text, &names))
        };
        let ground = own.map(str::to_owned).or_else(of_root);
        let light = ["none", "transparent", "white", "#fff", "#ffffff"];
        if let Some(ground) = ground.filter(|ground| !light.contains(&ground.as_str())) {
            let message = format!(
                "the ground of its page, {}, is not part of the art: draw a rectangle for it",
                shorten(&ground)
            );
            self.say(0, NoticeKind::StyleSheet, message);
        }
    }

    /// Whether a text, or a part of it, has one of some values of a property.
    fn any_of_text(&self, index: usize, name: &str, values: &[&str]) -> bool {
        let is = |value: Option<&str>| value.is_some_and(|value| values.contains(&value));
        is(self.inherited(index, name))
            || (index..self.entries.list[index].end).any(|inside| is(self.of(inside, name)))
    }

    fn shifts_baseline(&self, index: usize) -> bool {
        let shifts = |inside| matches!(self.of(inside, "baseline-shift"), Some("sub" | "super"));
        (index..self.entries.list[index].end).any(shifts)
    }

    /// Movement, of which a drawing that stands has none.
    fn moves(&self, index: usize) -> bool {
        let moves =
            |tag: &str| matches!(tag, "animate" | "set" | "animateTransform" | "animateMotion");
        self.entries.list[index].node.children().any(|child| moves(child.tag_name().name()))
    }

    /// What a drawn element asks for that is drawn otherwise.
    pub(super) fn drawn_otherwise(&mut self, index: usize) {
        let is = |name: &str, values: &[&str]| {
            self.inherited(index, name).is_some_and(|value| values.contains(&value))
        };
        let has = |name: &str| self.inherited(index, name).is_some_and(|value| value != "none");
        let node = self.entries.list[index].node;
        let arcs = || node.attribute("d").is_some_and(|d| d.contains(['A', 'a']));
        let is_text = self.entries.list[index].role == Role::Text;
        let told = [
            (
                is("stroke-linejoin", &["miter-clip"]),
                "miter-clip corners are drawn as miter corners",
            ),
            (
                self.of(index, "vector-effect") == Some("non-scaling-stroke") && has("stroke"),
                "its stroke is as wide as its transform makes it: vector-effect is not followed",
            ),
            (
                node.attribute("pathLength").is_some() && has("stroke-dasharray"),
                "its dashes are in lengths of the drawing: pathLength is not followed",
            ),
            (
                has("marker-mid") && arcs(),
                "an arc of it may be drawn in parts, with a mark at each: put the marks there as \
                 shapes",
            ),
            (
                is_text && self.keeps_blanks(index),
                "its blanks are taken one by one: white-space is not followed; say \
                 xml:space=\"preserve\"",
            ),
            (
                is_text
                    && is("text-anchor", &["middle", "end"])
                    && has("letter-spacing")
                    && !is("letter-spacing", &["normal", "0"]),
                "it is set from its letters without the spacing after the last, which a browser \
                 counts",
            ),
            (
                is_text && node.descendants().any(|inside| is_stretched_along(inside)),
                "its letters keep their own widths along a path: textLength is not followed there; \
                 say letter-spacing",
            ),
            (
                is_text && self.shifts_baseline(index),
                "it has letters above or below the line, which each browser puts elsewhere: say \
                 how far, as baseline-shift=\"30%\"",
            ),
            (
                is_text && self.any_of_text(index, "font-variant", &["small-caps"]),
                "its small capitals are burned only where the font has them: none are made up",
            ),
            (self.moves(index), "it moves, and burns as it stands: animation is not followed"),
            (
                is_text && has("text-transform"),
                "its letters are burned as they are written: text-transform is not followed",
            ),
            (
                is_text && node.attribute("data-width").is_none() && is("direction", &["rtl"]),
                "it is set from the left: direction is not followed",
            ),
        ];
        for (_, message) in told.into_iter().filter(|(holds, _)| *holds) {
            self.say(index, NoticeKind::Stroke, message);
        }
    }

    /// Whether a text asks by its style alone for blanks that would be one blank otherwise.
    fn keeps_blanks(&self, index: usize) -> bool {
        let asks = self.inherited(index, "white-space");
        let node = self.entries.list[index].node;
        let space = |node: &roxmltree::Node<'_, '_>| {
            node.attribute((roxmltree::NS_XML_URI, "space")) == Some("preserve")
        };
        let boxed = ["data-width", "data-fit"].iter().any(|name| node.has_attribute(*name));
        let runs = || {
            let texts = node.descendants().filter_map(|inside| inside.text());
            texts.into_iter().any(|text| text.trim().contains("  "))
        };
        asks.is_some_and(|asks| asks.starts_with("pre") || asks == "break-spaces")
            && !boxed
            && !node.ancestors().any(|around| space(&around))
            && runs()
    }
}

/// Whether a part of a text that follows a path asks for a length.
fn is_stretched_along(part: roxmltree::Node<'_, '_>) -> bool {
    let follows = |node: &roxmltree::Node<'_, '_>| node.tag_name().name() == "textPath";
    part.has_attribute("textLength")
        && (part.ancestors().any(|around| follows(&around))
            || part.descendants().any(|inside| follows(&inside)))
}
