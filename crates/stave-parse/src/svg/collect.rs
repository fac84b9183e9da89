//! The resolved tree to shapes, each with the element it comes from.

use std::collections::BTreeSet;

use kurbo::{Affine, BezPath, PathEl, Rect, Shape as _};
use stave_toolpath::art::{Art, Clip, ClipArea, Fill, Page, Rule, Shape, Stroke};

use super::clip::Clips;
use super::convert;
use super::css_shape::{self, Boxes};
use super::document::{Entries, Entry, Role};
use super::error::SvgError;
use super::fit::{Fit, fitted};
use super::fonts::families;
use super::instance::Instances;
use super::limits::MOST_DASHES;
use super::line_font::{SHOWN_EM, is_line_family, unfold};
use super::notice::Notice;
use super::page::shows_overflow;
use super::rewrite::Rewritten;
use super::style::{Said, property};
use super::{Drawing, NoticeKind};

/// What became of an element of the document.
#[derive(Clone, Debug, Default)]
pub(super) struct Fate {
    /// The tree has it, seen or not.
    pub(super) met: bool,
    /// A shape of it is in the art.
    pub(super) drawn: bool,
    /// A mask that is no clip lies over it.
    pub(super) masked: bool,
    /// Its path reaches too far.
    pub(super) too_far: bool,
    pub(super) gradient: bool,
    pub(super) translucent: bool,
    /// Painted, but with an opacity of 0.
    pub(super) transparent: bool,
    /// More dashes than can be told apart.
    pub(super) dense_dashes: bool,
    /// All of it lies off the page, or some.
    pub(super) off_page: bool,
    pub(super) crosses_edge: bool,
    /// Pictures for glyphs.
    pub(super) picture: bool,
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
}

impl Collected {
    pub(super) fn into_drawing(mut self) -> Drawing {
        // Within a line they stay in the order of the document.
        self.notices.sort_by_key(|notice| (notice.line, notice.kind));
        self.notices.dedup();
        Drawing { art: self.art, notices: self.notices }
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
        instances: Instances::new(entries),
        clips: Clips::default(),
        shapes: Vec::new(),
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
            is_masked: false,
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
    let mut collected = Collected { art, fates: walk.fates, notices: Vec::new() };
    if !shows_overflow(entries) {
        cut_to_page(&mut collected, &walk.instances.entry_of);
    }
    for shape in &collected.art.shapes {
        if let Some(&entry) = walk.instances.entry_of.get(shape.element) {
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
    /// A mask around it is no clip.
    is_masked: bool,
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
    shapes: Vec<Shape>,
    fates: Vec<Fate>,
    dashes_left: f64,
}

impl Walk<'_, '_, '_> {
    fn group(&mut self, group: &usvg::Group, around: &Around) {
        let mut inside = around.clone();
        if let Some(entry) =
            self.rewritten.element(group.id(), self.entries).filter(|_| !group.id().is_empty())
        {
            self.enter(entry, &mut inside);
            self.css_clip(entry, &Boxes::of_group(group), group.abs_transform(), &mut inside);
        }
        for filter in group.filters() {
            if let Some(entry) = self.rewritten.marked(filter.id(), self.entries) {
                self.enter(entry, &mut inside);
                self.css_clip(entry, &Boxes::of_group(group), group.abs_transform(), &mut inside);
            }
        }
        inside.opacity *= f64::from(group.opacity().get());
        if let Some(clip) = group.clip_path() {
            inside.clips.push(self.clips.add(clip, convert::affine(group.abs_transform())));
        }
        if let Some(mask) = group.mask() {
            match self.clips.add_mask(mask, convert::affine(group.abs_transform())) {
                Some(clip) => inside.clips.push(clip),
                None => inside.is_masked = true,
            }
        }
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => self.group(group, &inside),
                usvg::Node::Path(path) => self.path(path, &inside),
                usvg::Node::Text(text) => self.text(text, &inside),
                // Loading is refused, so that no picture gets here but a font's.
                usvg::Node::Image(_) => {
                    let entry = self.entry("", &inside);
                    self.fates[entry].picture = true;
                }
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
        self.fates[entry].masked |= around.is_masked;
        if !path.is_visible() {
            return;
        }
        let mut own = around.clone();
        if self.entries.list[entry].role == Role::Shape {
            self.css_clip(entry, &Boxes::of_path(path), path.abs_transform(), &mut own);
        }
        let around = &own;
        if let Some(em) = around.line_em
            && let Some(strokes) = unfold(path.data())
        {
            self.lettering(entry, path, &strokes, em, around);
            return;
        }
        let to_page = convert::to_mm(path.abs_transform());
        // A text that is made to fit is carried on; its pen stays as wide as it is drawn.
        let placed = around.fit.map_or(to_page, |fit| fit * to_page);
        let fill = path.fill().and_then(|fill| self.fill(entry, fill, around.opacity));
        let stroke = path.stroke().and_then(|stroke| {
            let ink = convert::ink(stroke.paint())?;
            let opacity = around.opacity * f64::from(stroke.opacity().get());
            self.note_ink(entry, ink, opacity);
            if ink.is_gradient {
                return None;
            }
            let mut on_page =
                convert::stroke(stroke, ink, opacity, to_page).filter(|s| s.opacity > 0.0)?;
            on_page.dashes = self.dashes(entry, stroke, path.data(), placed);
            Some(on_page)
        });
        if fill.is_none() && stroke.is_none() {
            return;
        }
        let Some(outline) = convert::path(path.data(), placed) else {
            self.fates[entry].too_far = true;
            return;
        };
        let element = self.instances.element(entry, around.instance);
        self.shapes.push(Shape {
            element,
            path: outline,
            fill,
            stroke,
            stroke_first: path.paint_order() == usvg::PaintOrder::StrokeAndFill,
            clips: around.clips.clone(),
        });
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
        let Some(ink) = convert::ink(paint) else { return };
        let opacity = around.opacity * f64::from(opacity.get());
        self.note_ink(entry, ink, opacity);
        if ink.is_gradient || opacity * ink.opacity <= 0.0 {
            return;
        }
        let placed = around.fit.map_or(to_page, |fit| fit * to_page);
        let stroke = match path.stroke() {
            Some(stroke) => convert::stroke(stroke, ink, opacity, to_page),
            None => convert::round_stroke(SHOWN_EM * em, ink, opacity, placed),
        };
        let Some(stroke) = stroke else { return };
        let element = self.instances.element(entry, around.instance);
        if let Some(element) = self.instances.elements.get_mut(element) {
            element.is_lettering = true;
        }
        self.shapes.push(Shape {
            element,
            path: placed * strokes.clone(),
            fill: None,
            stroke: Some(stroke),
            stroke_first: false,
            clips: around.clips.clone(),
        });
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

    fn fill(&mut self, entry: usize, fill: &usvg::Fill, around: f64) -> Option<Fill> {
        let ink = convert::ink(fill.paint())?;
        let opacity = around * f64::from(fill.opacity().get());
        self.note_ink(entry, ink, opacity);
        if ink.is_gradient {
            return None;
        }
        let fill = Fill {
            colour: ink.colour,
            rule: convert::rule(fill.rule()),
            opacity: opacity * ink.opacity,
        };
        Some(fill).filter(|f| f.opacity > 0.0)
    }

    fn note_ink(&mut self, entry: usize, ink: convert::Ink, opacity: f64) {
        let seen = opacity * ink.opacity;
        let fate = &mut self.fates[entry];
        fate.transparent |= seen <= 0.0;
        fate.gradient |= ink.is_gradient && seen > 0.0;
        fate.translucent |= !ink.is_gradient && seen > 0.0 && seen <= 0.999;
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
fn cut_to_page(collected: &mut Collected, entry_of: &[usize]) {
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
    shapes.retain_mut(|shape| {
        let entry = entry_of.get(shape.element).copied().unwrap_or_default();
        // Clipped away whole: drawn, and nothing to see.
        let Some(bounds) = boxes.next().flatten() else { return true };
        let meets = bounds.x1 >= with_slack.x0
            && bounds.x0 <= with_slack.x1
            && bounds.y1 >= with_slack.y0
            && bounds.y0 <= with_slack.y1;
        if !meets {
            collected.fates[entry].off_page = true;
            return false;
        }
        // Its pen may reach off where its path does not.
        let pen_mm = shape.stroke.as_ref().map_or(0.0, reach_mm);
        let told = page.inflate(TOLD_MM, TOLD_MM);
        collected.fates[entry].crosses_edge |= told.union(bounds) != told;
        if with_slack.union(bounds.inflate(pen_mm, pen_mm)) != with_slack {
            shape.clips.push(page_clip);
            cut = true;
        }
        true
    });
    collected.art.shapes = shapes;
    if cut {
        let area =
            ClipArea { path: page.to_path(SLACK_MM), rule: Rule::NonZero, clips: Vec::new() };
        collected.art.clips.push(Clip { areas: vec![area], within: Vec::new() });
    }
}
