//! The resolved tree to shapes, each with the element it comes from.

use std::collections::BTreeSet;

use kurbo::{Affine, Rect};
use stave_toolpath::art::{Art, Fill, Page, Shape};

use crate::svg::clip::Clips;
use crate::svg::convert::{self};
use crate::svg::css_shape::{self, Boxes};
use crate::svg::document::{Entries, Entry, Role};
use crate::svg::error::SvgError;
use crate::svg::fit::{Fit, fitted};
use crate::svg::fonts::families;
use crate::svg::instance::Instances;
use crate::svg::limits::MOST_DASHES;
use crate::svg::line_font::{is_line_family, unfold};
use crate::svg::linked::Pictures;
use crate::svg::notice::Notice;
use crate::svg::page::shows_overflow;
use crate::svg::rewrite::Rewritten;
use crate::svg::shades::{Shades, shade};
use crate::svg::style::{SaidOf, property};
use crate::svg::words::{Painted, Words, WordsOf, off_path, shown, shown_by};
use crate::svg::{Drawing, NoticeKind, View};

mod idle_clips;
mod page_edge;
mod shaded;
mod stroked;

/// What became of an element of the document.
#[derive(Clone, Debug, Default)]
pub(in crate::svg) struct Fate {
    /// The tree has it, seen or not.
    pub(in crate::svg) met: bool,
    /// A shape of it is in the art.
    pub(in crate::svg) drawn: bool,
    /// Its path reaches too far.
    pub(in crate::svg) too_far: bool,
    /// It is shades, or part of such: what is not burned of it is told by those who burn.
    pub(in crate::svg) shades: bool,
    /// Painted, but with an opacity of 0.
    pub(in crate::svg) transparent: bool,
    /// More dashes than can be told apart.
    pub(in crate::svg) dense_dashes: bool,
    /// All of it lies off the page, or some.
    pub(in crate::svg) off_page: bool,
    pub(in crate::svg) crosses_edge: bool,
    /// Characters that no font has.
    pub(in crate::svg) missing: BTreeSet<String>,
    /// The families that its spans ask for.
    pub(in crate::svg) families: BTreeSet<Vec<String>>,
    /// A clip path by a shape of CSS that is followed.
    pub(in crate::svg) css_clip: bool,
    /// Letters that have no place on the path that they follow.
    pub(in crate::svg) off_path: usize,
    /// It is a text that goes into its box only smaller than it may be: a sentence.
    pub(in crate::svg) too_long: Option<String>,
}

/// The art, and what became of each element of the document.
#[derive(Debug)]
pub(in crate::svg) struct Collected {
    pub(in crate::svg) art: Art,
    pub(in crate::svg) fates: Vec<Fate>,
    pub(in crate::svg) notices: Vec<Notice>,
    /// What is to be said of each of the art's shaded shapes that is not burned.
    pub(in crate::svg) shades: Vec<Shades>,
    /// For each element of the art its element of the document.
    pub(in crate::svg) entry_of: Vec<usize>,
    /// What can be read of it.
    pub(in crate::svg) words: Vec<Words>,
}

impl Collected {
    pub(in crate::svg) fn into_drawing(mut self, view: View) -> Drawing {
        // Within a line they stay in the order of the document.
        self.notices.sort_by_key(|notice| (notice.line, notice.kind));
        self.notices.dedup();
        let Self { art, notices, shades, words, .. } = self;
        Drawing { art, notices, shades, view, words }
    }

    /// What renders the drawing, made of what is known of its shapes.
    pub(in crate::svg) fn view(&self, make: impl FnOnce(&[Shades], Vec<usize>) -> View) -> View {
        let entry = |shape: &Shape| self.entry_of.get(shape.element).copied().unwrap_or_default();
        make(&self.shades, self.art.shapes.iter().map(entry).collect())
    }

    pub(in crate::svg) fn notice(
        &mut self,
        kind: NoticeKind,
        name: &str,
        line: u32,
        message: String,
    ) {
        self.notices.push(Notice { kind, name: name.to_owned(), line, message });
    }
}

pub(in crate::svg) fn collect(
    tree: &usvg::Tree,
    entries: &Entries<'_, '_>,
    rewritten: &Rewritten,
    said: &SaidOf<'_>,
    pictures: &Pictures,
    page: Page,
) -> Result<Collected, SvgError> {
    let mut fits = Vec::with_capacity(entries.list.len());
    for index in 0..entries.list.len() {
        fits.push(Fit::of(entries, index)?);
    }
    let mut walk = Walk {
        entries,
        fits,
        rewritten,
        said,
        pictures,
        instances: Instances::new(entries),
        clips: Clips::new(rewritten),
        shapes: Vec::with_capacity(entries.list.len()),
        tints: Vec::new(),
        as_ones: 0,
        fates: vec![Fate::default(); entries.list.len()],
        dashes_left: MOST_DASHES,
        words: Vec::new(),
    };
    walk.group(
        tree.root(),
        &Around {
            instance: Instances::DOCUMENT,
            entry: None,
            opacity: 1.0,
            clips: Vec::new(),
            veil: None,
            as_one: None,
            line_em: None,
            fit: None,
            to_px: usvg::Transform::identity(),
        },
    );
    let of_element = |(at, runs): (_, Vec<Painted>)| {
        let of = WordsOf::Element(walk.instances.known(at)?);
        Some(Words { runs, of })
    };
    let mut words: Vec<Words> = walk.words.into_iter().filter_map(of_element).collect();
    words.append(&mut walk.clips.words);
    let root = entries.list.first().and_then(Entry::id);
    let art = Art {
        page,
        ids: root.map(str::to_owned).into_iter().collect(),
        groups: walk.instances.groups,
        elements: walk.instances.elements,
        shapes: walk.shapes,
        clips: walk.clips.list,
        shaded: Vec::new(),
    };
    let mut collected = Collected {
        art,
        words,
        fates: walk.fates,
        notices: Vec::new(),
        shades: Vec::new(),
        entry_of: walk.instances.entry_of,
    };
    if !shows_overflow(entries) {
        page_edge::cut_to_page(&mut collected, &mut walk.tints);
    }
    shade(&mut collected, &mut walk.tints, entries);
    idle_clips::drop_idle(&mut collected.art);
    for shape in &collected.art.shapes {
        if let Some(&entry) = collected.entry_of.get(shape.element) {
            collected.fates[entry].drawn = true;
        }
    }
    Ok(collected)
}

/// What surrounds a node of the tree.
#[derive(Clone, Debug)]
struct Around {
    instance: usize,
    /// The element that nodes without an id belong to.
    entry: Option<usize>,
    opacity: f64,
    clips: Vec<usize>,
    /// What makes shades of all that it holds, and the element that says so.
    veil: Option<(NoticeKind, Option<usize>)>,
    /// The outermost group that is seen through as one, by a number of its own.
    as_one: Option<usize>,
    /// Within a text with letters of single lines, the size of its letters, px of its space.
    line_em: Option<f64>,
    /// Within a text that was made to fit, what carries the page to itself so that it does.
    fit: Option<Affine>,
    /// What takes it to the page in px.
    to_px: usvg::Transform,
}

struct Walk<'e, 'a, 'i> {
    entries: &'e Entries<'a, 'i>,
    /// For each element the box it is to fit, if it has one.
    fits: Vec<Option<Fit>>,
    rewritten: &'e Rewritten,
    said: &'e SaidOf<'a>,
    instances: Instances<'e, 'a, 'i>,
    clips: Clips<'e>,
    pictures: &'e Pictures,
    shapes: Vec<Shape>,
    /// For each shape what lies over it.
    tints: Vec<Over>,
    /// How many groups are seen through as one.
    as_ones: usize,
    fates: Vec<Fate>,
    dashes_left: f64,
    /// What can be read, by the element of the document and the instance that show it.
    words: Vec<((usize, usize), Vec<Painted>)>,
}

/// What lies over a shape.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(in crate::svg) struct Over {
    /// What makes it shades.
    pub(in crate::svg) tint: Option<Tint>,
    /// What is seen through as one with others: a number that they share.
    pub(in crate::svg) as_one: Option<usize>,
}

/// What makes a shape shades.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::svg) struct Tint {
    pub(in crate::svg) kind: NoticeKind,
    /// The element of the document that says so.
    pub(in crate::svg) entry: usize,
    pub(in crate::svg) has_colour: bool,
    /// How wide a pixel of a picture is, mm.
    pub(in crate::svg) pixel_mm: f64,
}

impl Walk<'_, '_, '_> {
    fn group(&mut self, group: &usvg::Group, around: &Around) {
        let mut inside = around.clone();
        let to_px = convert::group_to_px(group, around.to_px);
        inside.to_px = to_px;
        // A group without a name stands for a shape's or text's own effects.
        let mut own = None;
        if let Some(entry) =
            self.rewritten.element(group.id(), self.entries).filter(|_| !group.id().is_empty())
        {
            own = Some(entry);
            self.enter(entry, &mut inside);
            self.css_clip(entry, &Boxes::of_group(group), to_px, &mut inside);
        }
        let mut filtered = None;
        for filter in group.filters() {
            if let Some(entry) = self.rewritten.marked(filter.id(), self.entries) {
                own = Some(entry);
                self.enter(entry, &mut inside);
                self.css_clip(entry, &Boxes::of_group(group), to_px, &mut inside);
            } else {
                let region = convert::rect(filter.rect());
                filtered = Some(filtered.map_or(region, |all: Rect| all.union(region)));
            }
        }
        let opacity = f64::from(group.opacity().get());
        inside.opacity *= opacity;
        if let Some(clip) = group.clip_path() {
            inside.clips.push(self.clips.add(clip, convert::affine(to_px)));
        }
        if let Some(mask) = group.mask() {
            match self.clips.add_mask(mask, convert::affine(to_px)) {
                Some(clip) => inside.clips.push(clip),
                None => inside.veil = Some((NoticeKind::Mask, own)),
            }
        }
        if inside.as_one.is_none() && (opacity <= 0.999 || inside.veil != around.veil) {
            inside.as_one = Some(self.as_ones);
            self.as_ones += 1;
        }
        if group.blend_mode() != usvg::BlendMode::Normal {
            inside.veil = Some((NoticeKind::Blend, own));
        }
        if let Some(region) = filtered.filter(|_| opacity > 0.0) {
            self.filtered(group, region, &inside, own);
            return;
        }
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => self.group(group, &inside),
                usvg::Node::Path(path) => self.path(path, &inside),
                usvg::Node::Text(text) => self.text(text, &inside),
                usvg::Node::Image(image) => self.image(image, &inside),
            }
        }
    }

    fn enter(&mut self, entry: usize, inside: &mut Around) {
        if self.entries.list[entry].role == Role::Use {
            // A use gives one group or two within each other.
            if self.instances.use_of(inside.instance).map(|(used, _)| used) != Some(entry) {
                inside.instance = self.instances.enter(entry, inside.instance);
            }
            inside.entry = None;
        } else {
            inside.entry = Some(entry);
        }
    }

    /// The element of the document that a node belongs to.
    fn entry(&self, id: &str, around: &Around) -> usize {
        let own = if id.is_empty() { None } else { self.rewritten.element(id, self.entries) };
        own.or(around.entry).unwrap_or_else(|| {
            // A style sheet's own filter took the place of the mark: the use is all that is known.
            let used = self.instances.use_of(around.instance).map_or(0, |(used, _)| used);
            self.entries.list[used]
                .target
                .filter(|_| !self.entries.is_container(used))
                .unwrap_or(used)
        })
    }

    /// Notes that the tree has an element, and what the uses around it draw.
    fn meet(&mut self, entry: usize, instance: usize) {
        self.fates[entry].met = true;
        let mut at = instance;
        while let Some((used, outer)) = self.instances.use_of(at) {
            self.fates[used].met = true;
            at = outer;
        }
    }

    fn text(&mut self, text: &usvg::Text, around: &Around) {
        let entry = self.entry(text.id(), around);
        self.meet(entry, around.instance);
        let spans = text.layouted().iter();
        let missing = spans
            .flat_map(|span| &span.positioned_glyphs)
            .filter(|glyph| glyph.id.0 == 0)
            .map(|glyph| glyph.text.clone());
        let asked = || text.chunks().iter().flat_map(usvg::TextChunk::spans);
        let fate = &mut self.fates[entry];
        fate.missing.extend(missing);
        fate.families.extend(asked().map(|span| families(span.font().families())));
        let sizes = asked().map(|span| f64::from(span.font_size().get()));
        let line_em = fate
            .families
            .iter()
            .any(|asked| asked.iter().any(|name| is_line_family(name)))
            .then(|| sizes.fold(0.0, f64::max));
        let mut inside = Around { entry: Some(entry), line_em, ..around.clone() };
        let fit = self.fits.get(entry).copied().flatten();
        if let Some(fitted) = fit.and_then(|fit| fitted(&fit, text)) {
            let to_page = convert::to_mm(around.to_px);
            inside.fit = Some(to_page * fitted.map * to_page.inverse());
            self.fates[entry].too_long = fitted.too_long;
        }
        let runs = shown(text);
        if !runs.is_empty() {
            self.words.push(((entry, around.instance), runs));
        }
        self.fates[entry].off_path += off_path(text);
        self.css_clip(entry, &Boxes::of_text(text), around.to_px, &mut inside);
        self.group(text.flattened(), &inside);
    }

    fn path(&mut self, path: &usvg::Path, around: &Around) {
        let entry = self.entry(path.id(), around);
        self.meet(entry, around.instance);
        if !path.is_visible() {
            return;
        }
        let mut own = around.clone();
        if self.entries.list[entry].role == Role::Shape {
            self.css_clip(entry, &Boxes::of_path(path), around.to_px, &mut own);
        }
        let around = &own;
        if let Some(em) = around.line_em
            && let Some(strokes) = unfold(path.data(), em)
        {
            self.lettering(entry, path, &strokes, em, around);
            return;
        }
        let to_page = convert::to_mm(around.to_px);
        // A text that is made to fit is carried on; its pen stays as wide as it is drawn.
        let placed = around.fit.map_or(to_page, |fit| fit * to_page);
        let fill = path.fill().and_then(|fill| {
            let opacity = around.opacity * f64::from(fill.opacity().get());
            let (ink, tint) = self.ink(entry, fill.paint(), opacity, around)?;
            let rule = convert::rule(fill.rule());
            Some((Fill { colour: ink.colour, rule, opacity: ink.opacity }, tint))
        });
        let stroke = path.stroke().and_then(|stroke| {
            let opacity = around.opacity * f64::from(stroke.opacity().get());
            let (ink, tint) = self.ink(entry, stroke.paint(), opacity, around)?;
            let mut on_page = convert::stroke(stroke, ink, 1.0, to_page)?;
            on_page.dashes = self.dashes(entry, stroke, path.data(), placed);
            Some((on_page, tint))
        });
        if fill.is_none() && stroke.is_none() {
            return;
        }
        let Some(outline) = convert::path(path.data(), placed) else {
            self.fates[entry].too_far = true;
            return;
        };
        let element = self.instances.element(entry, around.instance);
        let paints = [path.fill().map(usvg::Fill::paint), path.stroke().map(usvg::Stroke::paint)];
        for runs in paints.into_iter().flatten().flat_map(shown_by) {
            let words = ((entry, around.instance), runs);
            // The letters of a text come one after another.
            if self.words.last() != Some(&words) {
                self.words.push(words);
            }
        }
        let stroke_first = path.paint_order() == usvg::PaintOrder::StrokeAndFill;
        let tint_of_fill = fill.and_then(|(_, tint)| tint);
        let tint_of_stroke = stroke.as_ref().and_then(|(_, tint)| *tint);
        let whole = Shape {
            element,
            path: outline,
            fill: fill.map(|(fill, _)| fill),
            stroke: stroke.map(|(stroke, _)| stroke),
            stroke_first,
            clips: around.clips.clone(),
        };
        if tint_of_fill == tint_of_stroke || whole.fill.is_none() || whole.stroke.is_none() {
            self.push(whole, tint_of_fill.or(tint_of_stroke), around);
            return;
        }
        // One of the two is a plain colour, and burns as it would without the other.
        let stroke = Shape { fill: None, ..whole.clone() };
        let fill = Shape { stroke: None, ..whole };
        let mut both = [(fill, tint_of_fill), (stroke, tint_of_stroke)];
        if stroke_first {
            both.reverse();
        }
        for (shape, tint) in both {
            self.push(shape, tint, around);
        }
    }

    fn push(&mut self, shape: Shape, tint: Option<Tint>, around: &Around) {
        self.shapes.push(shape);
        self.tints.push(Over { tint, as_one: around.as_one });
    }

    /// Follows a clip path that is a shape of CSS; `to_px` carries the element's own space.
    fn css_clip(
        &mut self,
        entry: usize,
        boxes: &Boxes,
        to_px: usvg::Transform,
        inside: &mut Around,
    ) {
        let Some(text) = property("clip-path").and_then(|p| self.said[entry][p]) else { return };
        let own_space = matches!(self.entries.list[entry].tag(), "g" | "a")
            || matches!(self.entries.list[entry].role, Role::Shape | Role::Text);
        if !own_space {
            return;
        }
        if let Some((path, rule)) = css_shape::shape(text, boxes) {
            let to_page = convert::to_mm(to_px);
            inside.clips.push(self.clips.add_area(to_page * path, rule));
            self.fates[entry].css_clip = true;
        }
    }
}
