//! What is said of styles: of sheets and attributes that are not followed, and of what is drawn
//! otherwise than they ask.

use super::NoticeKind;
use super::css_gaps;
use super::document::Role;
use super::element_notices::{Ledger, shorten};
use super::style::sheets;
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
}
