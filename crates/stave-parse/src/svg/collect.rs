//! The resolved tree to shapes, each with the element it comes from.

use std::collections::BTreeSet;

use kurbo::{Affine, BezPath, PathEl, Point, Rect, Shape as _};
use stave_toolpath::art::{Art, Clip, ClipArea, Fill, Page, Rgb, Rule, Shape, Stroke};

use super::clip::Clips;
use super::convert::{self, Ink};
use super::css_shape::{self, Boxes};
use super::document::{Entries, Entry, Role};
use super::error::SvgError;
use super::fit::{Fit, fitted};
use super::fonts::families;
use super::instance::Instances;
use super::limits::MOST_DASHES;
use super::line_font::{SHOWN_EM, is_line_family, unfold};
use super::linked::Pictures;
use super::notice::Notice;
use super::page::shows_overflow;
use super::rewrite::Rewritten;
use super::shades::{Shades, shade};
use super::style::{Said, property};
use super::{Drawing, NoticeKind, View};

/// What became of an element of the document.
#[derive(Clone, Debug, Default)]
pub(super) struct Fate {
    /// The tree has it, seen or not.
    pub(super) met: bool,
    /// A shape of it is in the art.
    pub(super) drawn: bool,
    /// Its path reaches too far.
    pub(super) too_far: bool,
    /// It is shades, or part of such: what is not burned of it is told by those who burn.
    pub(super) shades: bool,
    /// Painted, but with an opacity of 0.
    pub(super) transparent: bool,
    /// More dashes than can be told apart.
    pub(super) dense_dashes: bool,
    /// All of it lies off the page, or some.
    pub(super) off_page: bool,
    pub(super) crosses_edge: bool,
    /// Characters that no font has.
    pub(super) missing: BTreeSet<String>,
    /// The families that its spans ask for.
    pub(super) families: BTreeSet<Vec<String>>,
    /// A clip path by a shape of CSS that is followed.
    pub(super) css_clip: bool,
    /// It is a text that goes into its box only smaller than it may be: a sentence.
    pub(super) too_long: Option<String>,
}

/// The art, and what became of each element of the document.
#[derive(Debug)]
pub(super) struct Collected {
    pub(super) art: Art,
    pub(super) fates: Vec<Fate>,
    pub(super) notices: Vec<Notice>,
    /// What is to be said of each of the art's shaded shapes that is not burned.
    pub(super) shades: Vec<Shades>,
    /// For each element of the art its element of the document.
    pub(super) entry_of: Vec<usize>,
}

impl Collected {
    pub(super) fn into_drawing(mut self) -> Drawing {
        // Within a line they stay in the order of the document.
        self.notices.sort_by_key(|notice| (notice.line, notice.kind));
        self.notices.dedup();
        Drawing { art: self.art, notices: self.notices, shades: self.shades, view: None }
    }

    /// What renders the drawing, made of what is known of its shapes; `None` where it has no shades.
    pub(super) fn view(&self, make: impl FnOnce(&[Shades], Vec<usize>) -> View) -> Option<View> {
        let entry = |shape: &Shape| self.entry_of.get(shape.element).copied().unwrap_or_default();
        let entries = || self.art.shapes.iter().map(entry).collect();
        (!self.shades.is_empty()).then(|| make(&self.shades, entries()))
    }

    pub(super) fn notice(&mut self, kind: NoticeKind, name: &str, line: u32, message: String) {
        self.notices.push(Notice { kind, name: name.to_owned(), line, message });
    }
}

pub(super) fn collect(
    tree: &usvg::Tree,
    entries: &Entries<'_, '_>,
    rewritten: &Rewritten,
    said: &[Said<'_>],
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
        clips: Clips::default(),
        shapes: Vec::new(),
        tints: Vec::new(),
        fates: vec![Fate::default(); entries.list.len()],
        dashes_left: MOST_DASHES,
    };
    walk.group(
        tree.root(),
        &Around {
            instance: Instances::DOCUMENT,
            entry: None,
            opacity: 1.0,
            clips: Vec::new(),
            veil: None,
            line_em: None,
            fit: None,
        },
    );
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
        fates: walk.fates,
        notices: Vec::new(),
        shades: Vec::new(),
        entry_of: walk.instances.entry_of,
    };
    if !shows_overflow(entries) {
        cut_to_page(&mut collected, &mut walk.tints);
    }
    shade(&mut collected, &walk.tints, entries);
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
    /// Within a text with letters of single lines, the size of its letters, px of its space.
    line_em: Option<f64>,
    /// Within a text that was made to fit, what carries the page to itself so that it does.
    fit: Option<Affine>,
}

struct Walk<'e, 'a, 'i> {
    entries: &'e Entries<'a, 'i>,
    /// For each element the box it is to fit, if it has one.
    fits: Vec<Option<Fit>>,
    rewritten: &'e Rewritten,
    said: &'e [Said<'a>],
    instances: Instances<'e, 'a, 'i>,
    clips: Clips,
    pictures: &'e Pictures,
    shapes: Vec<Shape>,
    /// For each shape what makes it shades.
    tints: Vec<Option<Tint>>,
    fates: Vec<Fate>,
    dashes_left: f64,
}

/// What makes a shape shades.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tint {
    pub(super) kind: NoticeKind,
    /// The element of the document that says so.
    pub(super) entry: usize,
    pub(super) has_colour: bool,
    /// How wide a pixel of a picture is, mm.
    pub(super) pixel_mm: f64,
}

impl Walk<'_, '_, '_> {
    fn group(&mut self, group: &usvg::Group, around: &Around) {
        let mut inside = around.clone();
        // A group without a name stands for a shape's or text's own effects.
        let mut own = None;
        if let Some(entry) =
            self.rewritten.element(group.id(), self.entries).filter(|_| !group.id().is_empty())
        {
            own = Some(entry);
            self.enter(entry, &mut inside);
            self.css_clip(entry, &Boxes::of_group(group), group.abs_transform(), &mut inside);
        }
        let mut filtered = None;
        for filter in group.filters() {
            if let Some(entry) = self.rewritten.marked(filter.id(), self.entries) {
                own = Some(entry);
                self.enter(entry, &mut inside);
                self.css_clip(entry, &Boxes::of_group(group), group.abs_transform(), &mut inside);
            } else {
                let region = convert::rect(filter.rect());
                filtered = Some(filtered.map_or(region, |all: Rect| all.union(region)));
            }
        }
        let opacity = f64::from(group.opacity().get());
        inside.opacity *= opacity;
        if let Some(clip) = group.clip_path() {
            inside.clips.push(self.clips.add(clip, convert::affine(group.abs_transform())));
        }
        if let Some(mask) = group.mask() {
            match self.clips.add_mask(mask, convert::affine(group.abs_transform())) {
                Some(clip) => inside.clips.push(clip),
                None => inside.veil = Some((NoticeKind::Mask, own)),
            }
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
            let to_page = convert::to_mm(text.abs_transform());
            inside.fit = Some(to_page * fitted.map * to_page.inverse());
            self.fates[entry].too_long = fitted.too_long;
        }
        self.css_clip(entry, &Boxes::of_text(text), text.abs_transform(), &mut inside);
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
            self.css_clip(entry, &Boxes::of_path(path), path.abs_transform(), &mut own);
        }
        let around = &own;
        if let Some(em) = around.line_em
            && let Some(strokes) = unfold(path.data(), em)
        {
            self.lettering(entry, path, &strokes, em, around);
            return;
        }
        let to_page = convert::to_mm(path.abs_transform());
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
            self.push(whole, tint_of_fill.or(tint_of_stroke));
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
            self.push(shape, tint);
        }
    }

    fn push(&mut self, shape: Shape, tint: Option<Tint>) {
        self.shapes.push(shape);
        self.tints.push(tint);
    }

    /// A picture: a frame that it fills.
    fn image(&mut self, image: &usvg::Image, around: &Around) {
        let entry = self.entry("", around);
        self.meet(entry, around.instance);
        if !image.is_visible() {
            return;
        }
        if around.opacity <= 0.0 {
            self.fates[entry].transparent = true;
            return;
        }
        let to_page = convert::to_mm(image.abs_transform());
        let (width, height) = (image.size().width().into(), image.size().height().into());
        let path = to_page * Rect::new(0.0, 0.0, width, height).to_path(0.0);
        let picture = self.pictures.get(entry).and_then(|picture| picture.as_ref().ok());
        let is_opaque = picture.is_some_and(|p| p.is_opaque) && around.veil.is_none();
        let opacity = if is_opaque { around.opacity } else { 0.5 * around.opacity };
        let fill = Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity };
        let pixel_mm = picture.map(|picture| {
            let across = (to_page * Point::new(width, 0.0)).distance(to_page * Point::ORIGIN);
            across / f64::from(picture.pixels.0.max(1))
        });
        let (kind, cause) = around.veil.unwrap_or((NoticeKind::Image, None));
        let tint = Tint {
            kind,
            entry: cause.unwrap_or(entry),
            has_colour: false,
            pixel_mm: pixel_mm.unwrap_or(f64::INFINITY),
        };
        self.fates[entry].shades = true;
        let element = self.instances.element(entry, around.instance);
        let clips = around.clips.clone();
        let frame =
            Shape { element, path, fill: Some(fill), stroke: None, stroke_first: false, clips };
        self.push(frame, Some(tint));
    }

    /// What lies under a filter: all that it may touch is one frame, since nothing of it keeps its
    /// place.
    fn filtered(&mut self, group: &usvg::Group, region: Rect, around: &Around, own: Option<usize>) {
        let (first, met) = (self.shapes.len(), self.instances.elements.len());
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => self.group(group, around),
                usvg::Node::Path(path) => self.path(path, around),
                usvg::Node::Text(text) => self.text(text, around),
                usvg::Node::Image(image) => self.image(image, around),
            }
        }
        // Who picks a thing within means the whole.
        let mut ids: Vec<String> = Vec::new();
        let drawn = self.shapes.drain(first..).map(|shape| shape.element);
        let within: BTreeSet<usize> = drawn.chain(met..self.instances.elements.len()).collect();
        self.tints.truncate(first);
        let within_first = within.first().copied();
        for element in within {
            if let Some(&entry) = self.instances.entry_of.get(element) {
                self.fates[entry].shades = true;
            }
            if let Some(element) = self.instances.elements.get(element) {
                ids.extend(element.ids.iter().cloned());
            }
        }
        let first = within_first.and_then(|element| self.instances.entry_of.get(element).copied());
        let entry = own.or(first).unwrap_or_else(|| self.entry("", around));
        self.meet(entry, around.instance);
        self.fates[entry].shades = true;
        let element = self.instances.element(entry, around.instance);
        if let Some(element) = self.instances.elements.get_mut(element) {
            ids.retain(|id| !element.ids.contains(id));
            element.ids.extend(ids);
        }
        let to_page = convert::to_mm(group.abs_transform());
        let fill = Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity: 0.5 };
        let frame = Shape {
            element,
            path: to_page * region.to_path(0.0),
            fill: Some(fill),
            stroke: None,
            stroke_first: false,
            clips: around.clips.clone(),
        };
        let tint =
            Tint { kind: NoticeKind::Filter, entry, has_colour: false, pixel_mm: f64::INFINITY };
        self.push(frame, Some(tint));
    }

    /// What stands for a paint that is seen through so much, opacity included, and what makes it
    /// shades. `None` where nothing is to be seen.
    fn ink(
        &mut self,
        entry: usize,
        paint: &usvg::Paint,
        opacity: f64,
        around: &Around,
    ) -> Option<(Ink, Option<Tint>)> {
        let veil = around.veil.map(|(kind, cause)| (kind, cause.unwrap_or(entry)));
        let pattern =
            Ink { colour: Rgb::default(), opacity: 1.0, is_opaque: false, is_gradient: true };
        let ink = convert::ink(paint);
        let mut seen = ink.unwrap_or(pattern);
        seen.opacity *= opacity;
        if seen.opacity <= 0.0 {
            self.fates[entry].transparent = true;
            return None;
        }
        let kind = match ink {
            None => Some(NoticeKind::Pattern),
            Some(ink) if ink.is_gradient => Some(NoticeKind::Gradient),
            // So faint that it is bare ware: nothing is to be seen of it, in one shade or many.
            Some(ink) if ink.colour.is_bare(seen.opacity) => None,
            Some(_) if seen.opacity <= 0.999 => Some(NoticeKind::Translucent),
            Some(_) => None,
        };
        let (kind, cause) = match (veil, kind) {
            (Some(veil), _) => veil,
            (None, Some(kind)) => (kind, entry),
            (None, None) => return Some((seen, None)),
        };
        let has_colour = ink.is_some_and(|ink| !ink.is_gradient);
        if !has_colour {
            seen.colour = Rgb::default();
        }
        // What may shine through hides nothing.
        if veil.is_some() || !seen.is_opaque {
            seen.opacity *= 0.5;
        }
        self.fates[entry].shades = true;
        let tint = Tint { kind, entry: cause, has_colour, pixel_mm: f64::INFINITY };
        Some((seen, Some(tint)))
    }

    /// Letters of single lines: their strokes as the drawing strokes them, or as thin lines in the
    /// colour that it fills them with.
    fn lettering(
        &mut self,
        entry: usize,
        path: &usvg::Path,
        strokes: &BezPath,
        em: f64,
        around: &Around,
    ) {
        let to_page = convert::to_mm(path.abs_transform());
        let (paint, opacity) = match (path.stroke(), path.fill()) {
            (Some(stroke), _) => (stroke.paint(), stroke.opacity()),
            (None, Some(fill)) => (fill.paint(), fill.opacity()),
            (None, None) => return,
        };
        let opacity = around.opacity * f64::from(opacity.get());
        let Some((ink, tint)) = self.ink(entry, paint, opacity, around) else { return };
        let placed = around.fit.map_or(to_page, |fit| fit * to_page);
        let stroke = match path.stroke() {
            Some(stroke) => convert::stroke(stroke, ink, 1.0, to_page),
            None => convert::round_stroke(SHOWN_EM * em, ink, 1.0, placed),
        };
        let Some(stroke) = stroke else { return };
        let element = self.instances.element(entry, around.instance);
        if let Some(element) = self.instances.elements.get_mut(element) {
            element.is_lettering = true;
        }
        let letters = Shape {
            element,
            path: placed * strokes.clone(),
            fill: None,
            stroke: Some(stroke),
            stroke_first: false,
            clips: around.clips.clone(),
        };
        self.push(letters, tint);
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

    /// The dashes of a stroke on the page. `None` for a solid one, or where they would be too many.
    fn dashes(
        &mut self,
        entry: usize,
        stroke: &usvg::Stroke,
        data: &usvg::tiny_skia_path::Path,
        to_page: Affine,
    ) -> Option<BezPath> {
        let lengths: Vec<f64> = stroke.dasharray()?.iter().map(|&d| f64::from(d)).collect();
        let period: f64 = lengths.iter().sum();
        let offset = f64::from(stroke.dashoffset());
        if !(period > 0.0 && period.is_finite() && offset.is_finite()) {
            return None;
        }
        let path = convert::path(data, Affine::IDENTITY)?;
        #[allow(clippy::cast_precision_loss)]
        let count = control_length(&path) / period * lengths.len() as f64;
        if count > self.dashes_left {
            self.fates[entry].dense_dashes = true;
            return None;
        }
        self.dashes_left -= count;
        let mut dashes = BezPath::new();
        for el in kurbo::dash(path.iter(), offset.rem_euclid(period), &lengths) {
            // A subpath of no length comes without its beginning.
            if matches!(el, PathEl::MoveTo(_)) || !dashes.elements().is_empty() {
                dashes.push(el);
            }
        }
        Some(to_page * dashes)
    }
}

/// The length of a path's control polygon, at least that of the path.
fn control_length(path: &BezPath) -> f64 {
    let mut length = 0.0;
    let (mut at, mut start) = (kurbo::Point::ZERO, kurbo::Point::ZERO);
    for el in path.elements() {
        let mut go = |to: kurbo::Point| {
            length += at.distance(to);
            at = to;
        };
        match *el {
            PathEl::MoveTo(p) => (at, start) = (p, p),
            PathEl::LineTo(p) => go(p),
            PathEl::QuadTo(a, p) => [a, p].into_iter().for_each(&mut go),
            PathEl::CurveTo(a, b, p) => [a, b, p].into_iter().for_each(&mut go),
            PathEl::ClosePath => go(start),
        }
    }
    length
}

/// The farthest that a stroke reaches from its path, mm: by a mitre, or a square cap.
fn reach_mm(stroke: &Stroke) -> f64 {
    // The greater singular value of a map that keeps areas.
    let squares = stroke.pen.as_coeffs()[..4].iter().map(|c| c * c).sum::<f64>().max(2.0);
    let pen = ((squares + (squares * squares - 4.0).sqrt()) / 2.0).sqrt();
    let farthest = match stroke.join {
        kurbo::Join::Miter => stroke.miter_limit.max(std::f64::consts::SQRT_2),
        _ => std::f64::consts::SQRT_2,
    };
    0.5 * stroke.width_mm * farthest * pen
}

/// Leaves out what lies off the page, and confines to it what crosses its edge: that is what a
/// viewer shows.
fn cut_to_page(collected: &mut Collected, tints: &mut Vec<Option<Tint>>) {
    // The 32 bits of the resolved points, and the rounding of exporters.
    const SLACK_MM: f64 = 1e-3;
    // What reaches off by less is cut without a word: no tolerance is finer.
    const TOLD_MM: f64 = 0.01;
    let page = Rect::new(0.0, 0.0, collected.art.page.width_mm, collected.art.page.height_mm);
    let with_slack = page.inflate(SLACK_MM, SLACK_MM);
    let page_clip = collected.art.clips.len();
    let boxes = collected.art.bounds_of_shapes();
    let mut shapes = std::mem::take(&mut collected.art.shapes);
    let mut cut = false;
    let mut boxes = boxes.into_iter();
    let mut kept_tints = Vec::with_capacity(tints.len());
    let mut of_shapes = std::mem::take(tints).into_iter();
    shapes.retain_mut(|shape| {
        let tint = of_shapes.next().flatten();
        let entry = collected.entry_of.get(shape.element).copied().unwrap_or_default();
        // Clipped away whole: drawn, and nothing to see.
        let Some(bounds) = boxes.next().flatten() else {
            kept_tints.push(tint);
            return true;
        };
        let meets = bounds.x1 >= with_slack.x0
            && bounds.x0 <= with_slack.x1
            && bounds.y1 >= with_slack.y0
            && bounds.y0 <= with_slack.y1;
        if !meets {
            collected.fates[entry].off_page = true;
            return false;
        }
        kept_tints.push(tint);
        let is_filtered = tint.is_some_and(|tint| tint.kind == NoticeKind::Filter);
        // Its pen may reach off where its path does not.
        let pen_mm = shape.stroke.as_ref().map_or(0.0, reach_mm);
        let told = page.inflate(TOLD_MM, TOLD_MM);
        // Filters reach farther than what they show.
        collected.fates[entry].crosses_edge |= told.union(bounds) != told && !is_filtered;
        if with_slack.union(bounds.inflate(pen_mm, pen_mm)) != with_slack {
            shape.clips.push(page_clip);
            cut = true;
        }
        true
    });
    collected.art.shapes = shapes;
    *tints = kept_tints;
    if cut {
        let area =
            ClipArea { path: page.to_path(SLACK_MM), rule: Rule::NonZero, clips: Vec::new() };
        collected.art.clips.push(Clip { areas: vec![area], within: Vec::new() });
    }
}
