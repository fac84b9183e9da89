//! What became of every element of the document: nothing is left out without a word.

use std::collections::BTreeSet;
use std::sync::Mutex;

use super::NoticeKind;
use super::collect::{Collected, Fate};
use super::document::{Entries, Role, href};
use super::fonts::Wanting;
use super::linked::Pictures;
use super::no_room::no_room;
use super::of_symbol::of_symbol;
use super::page::has_no_size;
use super::path_data::document_path_data;
use super::resolved_size::Circles;
use super::style::{SaidOf, link, property};
use super::unit::in_millimetres;
use super::why_not::TOO_FAR;

pub(super) fn notice_elements(
    entries: &Entries<'_, '_>,
    said: &SaidOf<'_>,
    circles: &Circles,
    collected: &mut Collected,
    wanting: &Mutex<Wanting>,
    pictures: &Pictures,
) {
    let mut ledger = Ledger { entries, said, circles, collected, wanting, pictures };
    ledger.document();
    let mut index = 0;
    while index < entries.list.len() {
        // What is hidden is told once, for all that it holds.
        index = if ledger.hides(index) { entries.list[index].end } else { index + 1 };
    }
}

pub(super) struct Ledger<'e, 'a, 'i> {
    pub(super) entries: &'e Entries<'a, 'i>,
    said: &'e SaidOf<'a>,
    circles: &'e Circles,
    collected: &'e mut Collected,
    wanting: &'e Mutex<Wanting>,
    pictures: &'e Pictures,
}

impl Ledger<'_, '_, '_> {
    pub(super) fn say(&mut self, index: usize, kind: NoticeKind, message: impl Into<String>) {
        let entry = &self.entries.list[index];
        self.collected.notice(kind, &entry.name, entry.line, message.into());
    }

    pub(super) fn of(&self, index: usize, name: &str) -> Option<&str> {
        property(name).and_then(|p| self.said[index][p])
    }

    /// A property that is inherited.
    pub(super) fn inherited(&self, index: usize, name: &str) -> Option<&str> {
        let chain = std::iter::once(index).chain(self.entries.around(index));
        chain.filter_map(|i| self.of(i, name)).find(|value| *value != "inherit")
    }

    /// What concerns the document as a whole.
    fn document(&mut self) {
        if has_no_size(self.entries) {
            let page = self.collected.art.page;
            let message = format!(
                "no width and height in a unit: taken at 96 px to the inch, the page is {} x {} mm",
                stave_toolpath::number::fixed(page.width_mm, 2),
                stave_toolpath::number::fixed(page.height_mm, 2)
            );
            self.collected.notice(NoticeKind::Size, "", 1, message);
        }
        for &twin in &self.entries.twins {
            let message = "its id is another's before it: references and style rules by that id \
                           mean the other";
            self.say(twin, NoticeKind::DuplicateId, message);
        }
        self.sheets();
        self.past_uses();
        let root = self.entries.list.first().map(|e| e.node);
        self.unused();
        for index in
            (0..self.entries.list.len()).filter(|&i| self.entries.list[i].tag() == "feImage")
        {
            if let Some(Err(why)) = self.pictures.get(index) {
                self.say(index, NoticeKind::Image, why.clone());
            }
        }
        let instructions = root
            .into_iter()
            .flat_map(|r| r.document().root().children())
            .filter(roxmltree::Node::is_pi);
        if instructions.filter_map(|n| n.pi()).any(|pi| pi.target == "xml-stylesheet") {
            let message =
                "style sheets in other files are not read: put the rules into the drawing"
                    .to_owned();
            self.collected.notice(NoticeKind::StyleSheet, "", 1, message);
        }
    }

    /// A drawing that shows nothing because all that it holds waits to be used.
    fn unused(&mut self) {
        let list = &self.entries.list;
        let art = [Role::Shape, Role::Text, Role::Image];
        let holds = |&index: &usize| art.contains(&list[index].role);
        let waits = |index: usize| list[index].defined && !self.collected.fates[index].met;
        let Some(first) = (0..list.len()).find(holds) else { return };
        let roomless = |index: usize| no_room(self.entries, self.said, index).is_some();
        if !(0..list.len()).filter(holds).all(waits) || (0..list.len()).any(roomless) {
            return;
        }
        // What a <use> would name: what stands in <defs> itself, or a symbol.
        let chain = || std::iter::once(first).chain(self.entries.around(first));
        let symbol = chain().find(|&i| list[i].tag() == "symbol");
        let usable = symbol.or_else(|| chain().filter(|&i| list[i].defined).last());
        let entry = &list[usable.unwrap_or(first)];
        let remedy = match entry.id() {
            Some(id) => format!("add <use href=\"#{id}\"/>"),
            None => "give it an id, and add a <use> of it".to_owned(),
        };
        let what = if symbol.is_some() { "symbols" } else { "definitions" };
        let message = format!("the drawing holds {what} alone, which nothing uses: {remedy}");
        let (name, line) = (entry.name.clone(), entry.line);
        self.collected.notice(NoticeKind::Unused, &name, line, message);
    }

    /// Fonts of a text that are not there.
    fn fonts(&mut self, index: usize) {
        let Ok(wanting) = self.wanting.lock() else { return };
        let families = &self.collected.fates[index].families;
        let told: Vec<String> = families
            .iter()
            .filter_map(|asked| Some((asked.first()?, wanting.replaced.get(asked)?)))
            .map(|(asked, (taken, near))| {
                let near: Vec<String> = near.iter().map(|name| format!("\"{name}\"")).collect();
                format!(
                    "the font \"{asked}\" is not there, and \"{taken}\" would stand for it; the \
                     nearest that are: {}; name one of them, or turn the text into outlines",
                    near.join(", ")
                )
            })
            .collect();
        drop(wanting);
        for message in told {
            self.say(index, NoticeKind::Font, message);
        }
    }

    /// Says what is to be said of an element; whether it hides all that it holds.
    fn hides(&mut self, index: usize) -> bool {
        let entry = &self.entries.list[index];
        if entry.role == Role::Silent {
            return false;
        }
        if let Some(told) = self.not_displayed(index) {
            return told;
        }
        if entry
            .node
            .attributes()
            .any(|a| a.namespace().is_none() && in_millimetres(a.name(), a.value()).is_some())
        {
            self.say(index, NoticeKind::Unit, "the unit Q is read as a quarter of a millimetre");
        }
        self.own_style(index);
        let entry = &self.entries.list[index];
        if entry.defined || entry.role == Role::Definition {
            return self.defined(index);
        }
        self.effects(index);
        match entry.role {
            Role::Shape | Role::Text => self.drawn(index),
            Role::Image => self.picture(index),
            Role::Use => self.used(index),
            Role::Foreign => {
                let seen = ["foreignObject", "video", "canvas", "iframe"].contains(&entry.tag());
                let kind = if seen { NoticeKind::ForeignObject } else { NoticeKind::Foreign };
                self.say(index, kind, format!("<{}> is left out: it is not a shape", entry.tag()));
                return true;
            }
            Role::Container | Role::Inner | Role::Definition | Role::Silent => {}
        }
        false
    }

    /// Display and the conditions of a switch.
    fn not_displayed(&mut self, index: usize) -> Option<bool> {
        let entry = &self.entries.list[index];
        let draws = matches!(
            entry.role,
            Role::Container | Role::Shape | Role::Text | Role::Use | Role::Image | Role::Foreign
        );
        if !draws {
            return None;
        }
        if self.of(index, "display") == Some("none") {
            if !entry.defined {
                self.say(index, NoticeKind::Hidden, "not displayed (display: none): left out");
            }
            return Some(true);
        }
        if let Some(why) = no_room(self.entries, self.said, index) {
            // A sprite holds what is drawn elsewhere: then nothing of it is missed.
            let misses = |&inside: &usize| {
                let inside = &self.entries.list[inside];
                let art = matches!(inside.role, Role::Shape | Role::Text | Role::Image);
                art && !inside.defined
            };
            let is_use = entry.role == Role::Use;
            if !entry.defined && (is_use || (index..entry.end).any(|inside| misses(&inside))) {
                self.say(index, NoticeKind::Empty, why);
            }
            return Some(is_use || !self.any_fate(index, |fate| fate.met));
        }
        let in_switch = entry.parent.is_some_and(|p| self.entries.list[p].tag() == "switch");
        if in_switch && !self.any_fate(index, |fate| fate.met) {
            // One child of a switch is drawn; that the others are not is its meaning.
            return Some(true);
        }
        None
    }

    pub(super) fn any_fate(&self, index: usize, is: impl Fn(&Fate) -> bool) -> bool {
        self.collected.fates[index..self.entries.list[index].end].iter().any(is)
    }

    /// What stands in a definition: drawn elsewhere, or nowhere.
    fn defined(&mut self, index: usize) -> bool {
        let entry = &self.entries.list[index];
        // The insides of filters, masks and patterns are told where they are applied.
        if matches!(entry.tag(), "filter" | "mask" | "pattern" | "clipPath" | "marker") {
            return true;
        }
        if self.collected.fates[index].met {
            self.effects(index);
            match self.entries.list[index].role {
                Role::Shape | Role::Text => self.drawn(index),
                Role::Image => self.picture(index),
                _ => {}
            }
        }
        false
    }

    /// Filters that are not there, clip paths that are not followed.
    fn effects(&mut self, index: usize) {
        let is_set = |value: Option<&str>| {
            value.is_some_and(|v| v != "none" && v != "normal" && v != "inherit")
        };
        if is_set(self.of(index, "filter")) {
            let missing = self
                .of(index, "filter")
                .and_then(link)
                .is_some_and(|id| !self.entries.by_id.contains_key(id));
            if missing && !self.any_fate(index, |fate| fate.met) {
                let message = "its filter is not in the drawing, and so it is not drawn: left out";
                self.say(index, NoticeKind::Filter, message);
            }
        }
        for name in ["fill", "stroke", "mask"] {
            let of = self.of(index, name).and_then(link);
            let Some(&shown) = of.and_then(|id| self.entries.by_id.get(id)) else { continue };
            let tag = self.entries.list[shown].tag();
            let blends = matches!(tag, "linearGradient" | "radialGradient" | "mask");
            let linear = self.inherited(shown, "color-interpolation") == Some("linearRGB");
            if blends && linear && self.any_fate(index, |fate| fate.met) {
                let message = "its colours are mixed as sRGB: color-interpolation \"linearRGB\" is \
                               not followed";
                self.say(shown, NoticeKind::StyleSheet, message);
            }
        }
        let shape = self.of(index, "clip-path").filter(|value| is_css_shape(value));
        let followed = self.collected.fates[index].css_clip;
        if let Some(shape) = shape.filter(|_| !followed && self.any_fate(index, |fate| fate.met)) {
            let message = format!(
                "its clip path {} is no shape of CSS that is followed here: burned whole; use a \
                 <clipPath>",
                shorten(shape)
            );
            self.say(index, NoticeKind::Clip, message);
        }
    }

    /// A picture that cannot be shown.
    fn picture(&mut self, index: usize) {
        match self.pictures.get(index) {
            Some(Err(why)) => self.say(index, NoticeKind::Image, why.clone()),
            None => self.say(index, NoticeKind::Image, "it refers to no picture: left out"),
            Some(Ok(_)) => {
                let fate = self.collected.fates[index].clone();
                if fate.off_page {
                    let message = "it lies off the page, where nothing is to be seen: left out";
                    self.say(index, NoticeKind::OffPage, message);
                } else if fate.crosses_edge {
                    let message = "it reaches off the page: cut at the edge";
                    self.say(index, NoticeKind::OffPage, message);
                } else if !fate.drawn && !fate.shades {
                    let hidden = self.inherited(index, "visibility");
                    let hidden = matches!(hidden, Some("hidden" | "collapse"));
                    let (kind, message) = match hidden {
                        true => (NoticeKind::Hidden, "hidden (visibility): left out"),
                        false if fate.transparent => {
                            (NoticeKind::Unpainted, "its opacity is 0: left out")
                        }
                        false => (NoticeKind::Empty, "a picture of no size: left out"),
                    };
                    self.say(index, kind, message);
                }
            }
        }
    }

    fn used(&mut self, index: usize) {
        let entry = &self.entries.list[index];
        let href = href(entry.node).unwrap_or_default();
        if self.circles.cut.contains(&index) {
            self.say(
                index,
                NoticeKind::Reference,
                format!("it refers to what holds it ({href}): left out"),
            );
        } else if entry.target.is_none() {
            let message = match href.strip_prefix('#') {
                Some("") => "it refers to nothing: left out".to_owned(),
                Some(id) => format!("it refers to \"{id}\", which is not in the drawing: left out"),
                None if href.is_empty() => "it refers to nothing: left out".to_owned(),
                None => {
                    format!(
                        "it refers to another file ({}), which is not opened: left out",
                        shorten(href)
                    )
                }
            };
            self.say(index, NoticeKind::Reference, message);
        } else if let Some(target) = entry.target.filter(|_| !self.collected.fates[index].met) {
            let message =
                format!("nothing of \"{}\" is drawn by it", self.entries.list[target].name);
            self.say(index, NoticeKind::NotDrawn, message);
        } else if let Some(Err(())) = of_symbol(self.entries, self.said, index) {
            let message = "the transform of the symbol that it shows is not followed: put it on \
                           this <use>, and give that a plain x, y and transform";
            self.say(index, NoticeKind::Stroke, message);
        }
    }

    /// A shape or text that the drawing means to show.
    fn drawn(&mut self, index: usize) {
        let fate = self.collected.fates[index].clone();
        let told = self.painted(index, &fate) || fate.shades;
        self.fonts(index);
        if let Some(message) = &fate.too_long {
            self.say(index, NoticeKind::TooLong, message.clone());
        }
        if fate.off_path > 0 {
            let message = format!(
                "{} of its letters have no place on the path that they follow: left out; draw the \
                 path longer, or the letters smaller",
                fate.off_path
            );
            self.say(index, NoticeKind::OffPage, message);
        }
        if fate.dense_dashes {
            self.say(
                index,
                NoticeKind::Stroke,
                "too many dashes to tell apart: taken as a solid stroke",
            );
        }
        if fate.drawn {
            self.drawn_otherwise(index);
        }
        if !fate.missing.is_empty() {
            let message = format!(
                "no font that is there has these characters: {}; name a font that has them, or \
                 turn the text into outlines",
                characters(&fate.missing)
            );
            self.say(index, NoticeKind::Glyph, message);
        }
        if fate.off_page {
            self.say(
                index,
                NoticeKind::OffPage,
                "it lies off the page, where nothing is to be seen: left out",
            );
        }
        if fate.crosses_edge {
            self.say(index, NoticeKind::OffPage, "it reaches off the page: cut at the edge");
        }
        if fate.too_far {
            self.say(index, NoticeKind::TooFar, TOO_FAR);
        } else if !fate.drawn && !fate.off_page && !told && !self.lost_by_filter(index) {
            let (kind, message) = self.why_not(index, &fate);
            self.say(index, kind, message);
        }
        if fate.met && self.breaks_off(index) {
            self.say(
                index,
                NoticeKind::PathData,
                "its path data breaks off at an error: drawn up to there",
            );
        }
    }

    /// Fills and strokes by a reference; whether something was told.
    fn painted(&mut self, index: usize, fate: &Fate) -> bool {
        let before = self.collected.notices.len();
        for (name, what) in [("fill", "fill"), ("stroke", "stroke")] {
            let Some(id) = self.inherited(index, name).and_then(link).map(str::to_owned) else {
                continue;
            };
            match self.entries.by_id.get(id.as_str()).map(|&i| self.entries.list[i].tag()) {
                Some("pattern") => {
                    if fate.met && !fate.shades && !fate.drawn {
                        let message =
                            format!("its {what} is the pattern \"{id}\", which draws nothing");
                        self.say(index, NoticeKind::Pattern, message);
                    }
                }
                Some(tag) if tag.ends_with("Gradient") => {
                    if fate.met && !fate.shades && !fate.drawn {
                        let message = format!(
                            "its {what} is the gradient \"{id}\", which has no colour: left out"
                        );
                        self.say(index, NoticeKind::Gradient, message);
                    }
                }
                _ => {
                    let message =
                        format!("its {what} refers to \"{id}\", which is no colour of the drawing");
                    self.say(index, NoticeKind::Reference, message);
                }
            }
        }
        self.collected.notices.len() > before
    }

    /// Whether an element, or a group around it, asks for a filter that is not there, and is not
    /// drawn for that.
    fn lost_by_filter(&self, index: usize) -> bool {
        let mut chain = std::iter::once(index).chain(self.entries.around(index));
        let asks = |i: usize| {
            self.of(i, "filter")
                .and_then(link)
                .is_some_and(|id| !self.entries.by_id.contains_key(id))
        };
        !self.collected.fates[index].met && chain.any(asks)
    }

    fn breaks_off(&self, index: usize) -> bool {
        let entry = &self.entries.list[index];
        let data = entry.node.attribute("d").filter(|_| entry.tag() == "path");
        data.is_some_and(|data| document_path_data(data).1.is_some())
    }
}

/// Whether a `clip-path` is neither a reference nor a word for none.
fn is_css_shape(value: &str) -> bool {
    !value.is_empty()
        && link(value).is_none()
        && !matches!(value, "none" | "inherit" | "initial" | "unset" | "revert")
}

/// Characters with their numbers, the many cut short.
fn characters(missing: &BTreeSet<String>) -> String {
    const MOST: usize = 12;
    let all: BTreeSet<char> = missing.iter().flat_map(|text| text.chars()).collect();
    let shown = |c: &char| match c.is_control() {
        true => format!("U+{:04X}", u32::from(*c)),
        false => format!("{c} (U+{:04X})", u32::from(*c)),
    };
    let mut text = all.iter().take(MOST).map(shown).collect::<Vec<_>>().join(", ");
    if all.len() > MOST {
        text.push_str(&format!(" and {} more", all.len() - MOST));
    }
    text
}

/// A reference short enough for a message: a picture's may be megabytes.
pub(super) fn shorten(href: &str) -> String {
    const LONGEST: usize = 60;
    match href.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("{}…", &href[..at]),
        None => href.to_owned(),
    }
}
