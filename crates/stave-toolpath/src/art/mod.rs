//! Art: what a drawing holds, before any lay.
//!
//! An [`Art`] is a page of shapes in the order in which they are painted, every length in mm and
//! every path in the page's own plane: x to the right, y **down**, the origin at the top left
//! corner. Curves stay curves. Three functions of [`Page`] carry that plane to the flat plane `(u,
//! v)`, one for each way in which a drawing can stand.
//!
//! What is burned is decided in two steps: [`Art::choose`] says which fills and strokes an
//! operation takes, [`Art::pieces`] which of them belong together. What is hidden by what follows
//! from the order of the shapes: a shape lies over those before it (see [`Fill::hides`]).

mod boxes;
mod choose;
mod colour;
mod outline;
mod page;
mod pen;
mod piece;

pub use boxes::Boxes;
pub use choose::{Asked, Choice, Chosen, LeftOut, Part, Pick, Why, Work};
pub use colour::Rgb;
pub use page::Page;
pub use pen::subpaths;
pub use piece::{Division, Piece};

use kurbo::{Affine, BezPath, Cap, Join, Rect, Shape as _};

/// The id of the group that holds what a template draws for people to draw on. It also bears
/// `data-stave="guides"`. A reader of drawings leaves it out: it is no art.
pub const GUIDES_ID: &str = "stave-guides";

/// A drawing: its page and what is painted on it, the lowest first.
///
/// All indices (`Element::group`, `Shape::element`, …) point into the lists here; an index out of
/// range is taken for "none" by every function of this crate.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Art {
    /// The page.
    pub page: Page,
    /// The ids of the drawing itself, by which all of it can be picked.
    pub ids: Vec<String>,
    /// Groups, each after its parent.
    pub groups: Vec<Group>,
    /// Elements in document order; one element (a text) may give several shapes.
    pub elements: Vec<Element>,
    /// Shapes in the order in which they are painted: a later one lies over an earlier one.
    pub shapes: Vec<Shape>,
    /// Clip paths, each after those that it refers to.
    pub clips: Vec<Clip>,
    /// Shapes that are no plain fill or stroke, by rising index.
    pub shaded: Vec<Shaded>,
}

/// A shape that is shades: a picture, a gradient, what lies under a filter, what shines through.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Shaded {
    /// The shape, an index into [`Art::shapes`].
    pub shape: usize,
    /// Whether its paint has a colour of its own, by which it can be picked. Where not, what stands
    /// as its colour says nothing.
    pub has_colour: bool,
    /// Whether more than bare ware may be seen of it though its own colour is bare: a blend mode
    /// makes black of white.
    pub may_be_dark: bool,
}

impl Shaded {
    /// A shape in more than one colour.
    #[must_use]
    pub const fn of(shape: usize) -> Shaded {
        Shaded { shape, has_colour: false, may_be_dark: true }
    }
}

/// A container of elements, as the drawing has it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// The ids by which it can be picked: its own first, then that of the symbol or group it is an
    /// instance of.
    pub ids: Vec<String>,
    /// What to call it: its id, or its place in the file.
    pub name: String,
    /// The group around it.
    pub parent: Option<usize>,
    /// Its `data-piece`.
    pub data_piece: Option<String>,
}

/// A drawn thing, as the drawing has it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Element {
    /// The ids by which it can be picked: its own first, then that of the element it is an instance
    /// of.
    pub ids: Vec<String>,
    /// What to call it: its id, or its kind and place in the file.
    pub name: String,
    /// The innermost group around it.
    pub group: Option<usize>,
    /// Its `data-piece`.
    pub data_piece: Option<String>,
    /// Whether it is a text in letters of single lines, whose shapes are strokes, whatever of them
    /// an operation picks.
    pub is_lettering: bool,
}

/// A path that is filled, stroked or both.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// The element it comes from.
    pub element: usize,
    /// Its outline on the page, mm, y down.
    pub path: BezPath,
    /// Its fill.
    pub fill: Option<Fill>,
    /// Its stroke.
    pub stroke: Option<Stroke>,
    /// Whether the stroke is painted before the fill, and so lies under it.
    pub stroke_first: bool,
    /// Clip paths that apply: only what lies within every one of them is there.
    pub clips: Vec<usize>,
}

/// Which points are inside a path (SVG 2, `fill-rule`).
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Rule {
    /// Those that the path winds around.
    #[default]
    NonZero,
    /// Those that it winds around an odd number of times.
    EvenOdd,
}

impl Rule {
    /// Whether a point around which a path winds so often is inside.
    ///
    /// ```
    /// use stave_toolpath::art::Rule;
    /// assert!(Rule::NonZero.holds(-2) && !Rule::EvenOdd.holds(-2) && Rule::EvenOdd.holds(-1));
    /// ```
    #[must_use]
    #[inline]
    pub const fn holds(self, winding: i32) -> bool {
        match self {
            Self::NonZero => winding != 0,
            Self::EvenOdd => winding & 1 != 0,
        }
    }
}

/// How a shape's inside is painted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fill {
    /// Its colour.
    pub colour: Rgb,
    /// Where the inside is.
    pub rule: Rule,
    /// How opaque it is, more than 0, at most 1, the groups around it included. A laser has no
    /// fainter colour: it decides only what is hidden.
    pub opacity: f64,
}

impl Fill {
    /// Whether what lies beneath is hidden: an opaque fill hides, whether or not it is burned
    /// itself.
    ///
    /// ```
    /// use stave_toolpath::art::{Fill, Rgb, Rule};
    /// let glass = Fill { colour: Rgb::WHITE, rule: Rule::NonZero, opacity: 0.4 };
    /// assert!(!glass.hides());
    /// ```
    #[must_use]
    pub fn hides(&self) -> bool {
        opaque(self.opacity)
    }

    /// Whether it is bare ware, see [`Rgb::is_bare`].
    #[must_use]
    pub fn is_bare(&self) -> bool {
        self.colour.is_bare(self.opacity)
    }
}

/// How a shape's outline is painted.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// Its colour.
    pub colour: Rgb,
    /// How opaque it is, as [`Fill::opacity`].
    pub opacity: f64,
    /// The pen's width, mm on the page (before [`Self::pen`]), more than 0.
    pub width_mm: f64,
    /// How corners are filled in.
    pub join: Join,
    /// How ends are closed off.
    pub cap: Cap,
    /// How far a mitred corner may reach, in halves of the width.
    pub miter_limit: f64,
    /// What makes the round pen the pen on the page: the identity unless the drawing was skewed or
    /// stretched. Its determinant is 1 or -1, its shift zero.
    pub pen: Affine,
    /// The dashes along the outline, for a stroke that is not solid.
    pub dashes: Option<BezPath>,
}

impl Stroke {
    /// Whether what lies beneath is hidden where the pen has been.
    #[must_use]
    pub fn hides(&self) -> bool {
        opaque(self.opacity)
    }

    /// Whether it is bare ware, see [`Rgb::is_bare`].
    #[must_use]
    pub fn is_bare(&self) -> bool {
        self.colour.is_bare(self.opacity)
    }
}

impl Shape {
    /// Whether any of it is more than bare ware.
    #[must_use]
    pub fn is_dark(&self) -> bool {
        self.fill.is_some_and(|fill| !fill.is_bare())
            || self.stroke.as_ref().is_some_and(|stroke| !stroke.is_bare())
    }
}

/// Opacities are read as 32-bit products of several factors: what is one but for their rounding is
/// opaque.
fn opaque(opacity: f64) -> bool {
    opacity > 0.999
}

/// A region to which shapes are confined: the points inside any of its areas, and inside every clip
/// in `within`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Clip {
    /// The areas; a point need be in one of them.
    pub areas: Vec<ClipArea>,
    /// Clips that apply as well, earlier in [`Art::clips`].
    pub within: Vec<usize>,
}

/// One area of a clip path.
#[derive(Clone, Debug, PartialEq)]
pub struct ClipArea {
    /// Its outline on the page, mm, y down.
    pub path: BezPath,
    /// Where its inside is.
    pub rule: Rule,
    /// Clips that confine this area alone, earlier in [`Art::clips`].
    pub clips: Vec<usize>,
}

impl Art {
    /// The ids by which a shape can be picked: its own, then those of the groups around it, the
    /// innermost first.
    ///
    /// ```
    /// use stave_toolpath::art::{Art, Element, Group};
    /// let mut art = Art::default();
    /// art.groups.push(Group { ids: vec!["crest".into()], ..Group::default() });
    /// let oar = Element { ids: vec!["oar".into()], group: Some(0), ..Element::default() };
    /// art.elements.push(oar);
    /// assert_eq!(art.ids_of_element(0).collect::<Vec<_>>(), ["oar", "crest"]);
    /// ```
    pub fn ids_of_element(&self, element: usize) -> impl Iterator<Item = &str> {
        let own = self.elements.get(element);
        let around =
            self.groups_around(own.and_then(|e| e.group)).flat_map(|(_, group)| &group.ids);
        own.into_iter().flat_map(|e| &e.ids).chain(around).chain(&self.ids).map(String::as_str)
    }

    /// What is said of a shape that is shades; `None` for a plain one.
    #[must_use]
    pub fn shades_of(&self, shape: usize) -> Option<&Shaded> {
        let at = self.shaded.binary_search_by_key(&shape, |shaded| shaded.shape).ok()?;
        self.shaded.get(at)
    }

    /// Whether a shape is no plain fill or stroke.
    #[must_use]
    pub fn is_shaded(&self, shape: usize) -> bool {
        self.shades_of(shape).is_some()
    }

    /// A group and those around it, the innermost first.
    pub fn groups_around(&self, innermost: Option<usize>) -> impl Iterator<Item = (usize, &Group)> {
        let at =
            |index: Option<usize>| index.and_then(|i| self.groups.get(i).map(|group| (i, group)));
        // A parent stands before its children, so that a malformed list ends instead of turning in
        // a circle.
        std::iter::successors(at(innermost), move |&(i, group)| at(group.parent.filter(|&p| p < i)))
    }

    /// For each shape the box around what is there of it, mm on the page: its path without the
    /// width of its stroke, cut to the boxes of its clips. `None` where nothing is left.
    ///
    /// ```
    /// use kurbo::{BezPath, Rect};
    /// use stave_toolpath::art::{Art, Clip, ClipArea, Rule, Shape};
    /// let path = BezPath::from_svg("M0 0H10V4Z")?;
    /// let path_of_window = BezPath::from_svg("M0 0H3V9H0Z")?;
    /// let window = ClipArea { path: path_of_window, rule: Rule::NonZero, clips: vec![] };
    /// let shape = Shape {
    ///     element: 0,
    ///     path,
    ///     fill: None,
    ///     stroke: None,
    ///     stroke_first: false,
    ///     clips: vec![0],
    /// };
    /// let clips = vec![Clip { areas: vec![window], within: vec![] }];
    /// let art = Art { shapes: vec![shape], clips, ..Art::default() };
    /// assert_eq!(art.bounds_of_shapes(), [Some(Rect::new(0.0, 0.0, 3.0, 4.0))]);
    /// # Ok::<(), kurbo::SvgParseError>(())
    /// ```
    #[must_use]
    pub fn bounds_of_shapes(&self) -> Vec<Option<Rect>> {
        let clips = self.bounds_of_clips();
        let bounds = |shape: &Shape| {
            let path = path_bounds(&shape.path)?;
            shape.clips.iter().try_fold(path, |b, &clip| meet(b, (*clips.get(clip)?)?))
        };
        self.shapes.iter().map(bounds).collect()
    }

    /// The box around all that is there, mm on the page; `None` where nothing is.
    #[must_use]
    pub fn bounds(&self) -> Option<Rect> {
        self.bounds_of_shapes().into_iter().fold(None, join)
    }

    /// For each clip path the box around its inside, mm on the page; `None` where it lets nothing
    /// be seen.
    #[must_use]
    pub fn bounds_of_clips(&self) -> Vec<Option<Rect>> {
        // Each refers to earlier ones alone, so that one pass will do.
        let mut boxes: Vec<Option<Rect>> = Vec::with_capacity(self.clips.len());
        for clip in &self.clips {
            let cut = |bounds: Option<Rect>, by: &[usize]| {
                by.iter().try_fold(bounds?, |b, &other| meet(b, (*boxes.get(other)?)?))
            };
            let areas = clip.areas.iter().map(|area| cut(path_bounds(&area.path), &area.clips));
            let inside = areas.fold(None, join);
            boxes.push(cut(inside, &clip.within));
        }
        boxes
    }
}

/// The exact box of a path, `None` for one without elements.
fn path_bounds(path: &BezPath) -> Option<Rect> {
    (!path.elements().is_empty()).then(|| path.bounding_box())
}

/// What two boxes share; a box without width or height (a straight line's) still counts.
#[must_use]
pub fn meet(a: Rect, b: Rect) -> Option<Rect> {
    let both = Rect::new(a.x0.max(b.x0), a.y0.max(b.y0), a.x1.min(b.x1), a.y1.min(b.y1));
    (both.x0 <= both.x1 && both.y0 <= both.y1).then_some(both)
}

fn join(a: Option<Rect>, b: Option<Rect>) -> Option<Rect> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.union(b)),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests;
