//! Paths, transforms and paint of usvg in 64 bits and mm.

use kurbo::{Affine, BezPath, Cap, Join, Point, Rect};
use stave_toolpath::art::{Rgb, Rule, Stroke};
use usvg::tiny_skia_path::PathSegment;

use super::limits::FARTHEST_MM;
use super::unit::MM_PER_PX;

/// A transform to px as one to mm.
pub(super) fn to_mm(transform: usvg::Transform) -> Affine {
    Affine::scale(MM_PER_PX) * affine(transform)
}

/// What takes a group to px, where `around` takes what it stands in. What usvg says of that itself
/// leaves out how a `use` of a symbol is turned, for the group that cuts its viewport.
pub(super) fn group_to_px(group: &usvg::Group, around: usvg::Transform) -> usvg::Transform {
    around.pre_concat(group.transform())
}

pub(super) fn affine(t: usvg::Transform) -> Affine {
    Affine::new([t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from))
}

pub(super) fn rect(rect: usvg::NonZeroRect) -> Rect {
    let [x0, y0, x1, y1] = [rect.left(), rect.top(), rect.right(), rect.bottom()].map(f64::from);
    Rect::new(x0, y0, x1, y1)
}

/// A path carried to the page; `None` where it reaches farther than art can.
pub(super) fn path(path: &usvg::tiny_skia_path::Path, to_page: Affine) -> Option<BezPath> {
    let mut out = BezPath::with_capacity(path.len());
    let at = |p: usvg::tiny_skia_path::Point| to_page * Point::new(p.x.into(), p.y.into());
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(p) => out.move_to(at(p)),
            PathSegment::LineTo(p) => out.line_to(at(p)),
            PathSegment::QuadTo(a, p) => out.quad_to(at(a), at(p)),
            PathSegment::CubicTo(a, b, p) => out.curve_to(at(a), at(b), at(p)),
            PathSegment::Close => out.close_path(),
        }
    }
    let near = |p: Point| p.x.abs() <= FARTHEST_MM && p.y.abs() <= FARTHEST_MM;
    let points = out.elements().iter().all(|el| match *el {
        kurbo::PathEl::MoveTo(p) | kurbo::PathEl::LineTo(p) => near(p),
        kurbo::PathEl::QuadTo(a, p) => near(a) && near(p),
        kurbo::PathEl::CurveTo(a, b, p) => near(a) && near(b) && near(p),
        kurbo::PathEl::ClosePath => true,
    });
    (points && !out.elements().is_empty()).then_some(out)
}

pub(super) fn rule(rule: usvg::FillRule) -> Rule {
    match rule {
        usvg::FillRule::NonZero => Rule::NonZero,
        usvg::FillRule::EvenOdd => Rule::EvenOdd,
    }
}

/// What stands for a paint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ink {
    pub(super) colour: Rgb,
    /// The least translucent of its stops, 1 for a plain colour.
    pub(super) opacity: f64,
    /// Whether all of its stops are opaque.
    pub(super) is_opaque: bool,
    pub(super) is_gradient: bool,
}

/// The colour of a paint. A gradient whose stops are alike is a plain colour; one whose stops
/// differ is shades, which are told and never burned as one of them. `None` for a pattern.
pub(super) fn ink(paint: &usvg::Paint) -> Option<Ink> {
    let rgb = |c: usvg::Color| Rgb::new(c.red, c.green, c.blue);
    let of_stops = |stops: &[usvg::Stop]| {
        let first = stops.first()?;
        let alike = |s: &usvg::Stop| s.color() == first.color() && s.opacity() == first.opacity();
        let opacity = stops.iter().map(|s| f64::from(s.opacity().get())).fold(0.0, f64::max);
        let is_gradient = !stops.iter().all(alike);
        let is_opaque = stops.iter().all(|s| s.opacity().get() > 0.999);
        Some(Ink { colour: rgb(first.color()), opacity, is_opaque, is_gradient })
    };
    match paint {
        usvg::Paint::Color(colour) => {
            Some(Ink { colour: rgb(*colour), opacity: 1.0, is_opaque: true, is_gradient: false })
        }
        usvg::Paint::LinearGradient(gradient) => of_stops(gradient.stops()),
        usvg::Paint::RadialGradient(gradient) => of_stops(gradient.stops()),
        usvg::Paint::Pattern(_) => None,
    }
}

/// A wider stroke covers the same of any page, mm.
const WIDEST_MM: f64 = 1e6;
/// A longer miter, in widths, ends as far off any page.
const LONGEST_MITER: f64 = 1e6;

/// A stroke without its dashes, its width carried to the page; `None` where nothing of it is left
/// there.
pub(super) fn stroke(
    stroke: &usvg::Stroke,
    ink: Ink,
    opacity: f64,
    to_page: Affine,
) -> Option<Stroke> {
    let round = round_stroke(stroke.width().get().into(), ink, opacity, to_page)?;
    Some(Stroke {
        join: match stroke.linejoin() {
            usvg::LineJoin::Miter | usvg::LineJoin::MiterClip => Join::Miter,
            usvg::LineJoin::Round => Join::Round,
            usvg::LineJoin::Bevel => Join::Bevel,
        },
        cap: match stroke.linecap() {
            usvg::LineCap::Butt => Cap::Butt,
            usvg::LineCap::Round => Cap::Round,
            usvg::LineCap::Square => Cap::Square,
        },
        miter_limit: f64::from(stroke.miterlimit().get()).min(LONGEST_MITER),
        ..round
    })
}

/// A stroke with round joins and ends, whose width is one in the space that `to_page` carries.
pub(super) fn round_stroke(width: f64, ink: Ink, opacity: f64, to_page: Affine) -> Option<Stroke> {
    let [a, b, c, d, _, _] = to_page.as_coeffs();
    let scale = to_page.determinant().abs().sqrt();
    let width_mm = (width * scale).min(WIDEST_MM);
    if !(width_mm > 0.0 && width_mm.is_finite()) {
        return None;
    }
    // Turned and mirrored circles are circles; f32 transforms are similarities up to their
    // rounding.
    let is_similarity =
        ((a * a + b * b) - (c * c + d * d)).abs() + (a * c + b * d).abs() <= 1e-5 * scale * scale;
    let pen = if is_similarity {
        Affine::IDENTITY
    } else {
        Affine::new([a, b, c, d, 0.0, 0.0].map(|x| x / scale))
    };
    Some(Stroke {
        colour: ink.colour,
        opacity: opacity * ink.opacity,
        width_mm,
        join: Join::Round,
        cap: Cap::Round,
        miter_limit: 4.0,
        pen,
        dashes: None,
    })
}
