//! Burned lines and areas as triangles, in (s, turn).

use std::f64::consts::PI;

use lyon_tessellation::geom::Point;
use lyon_tessellation::path::Winding;
use lyon_tessellation::path::builder::{Build, PathBuilder};
use lyon_tessellation::{
    BuffersBuilder, FillOptions, FillTessellator, FillVertex, FillVertexConstructor, LineCap,
    LineJoin, StrokeOptions, StrokeTessellator, StrokeVertex, StrokeVertexConstructor,
    VertexBuffers,
};
use stave_wall::Wall;

use super::bands::Patch;
use super::strokes::{BurnPoint, Stroke};

/// How far round joins, ends and dots may be from round, mm.
const ROUND_MM: f32 = 0.01;
/// Ends this near to each other close a line, mm.
const CLOSED_MM: f64 = 0.01;

/// A corner of a triangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Corner {
    /// Along the meridian, mm.
    pub(crate) s_mm: f64,
    /// About the axis, rad.
    pub(crate) turn_rad: f64,
    /// When it is burned, s.
    pub(crate) at_s: f64,
    /// Percent of full power times seconds, for a mm² of wall.
    pub(crate) density: f64,
}

/// Triangles: three numbers of corners each.
pub(crate) type Triangles = VertexBuffers<Corner, u32>;

/// Turns lines and areas into triangles.
pub(crate) struct Cutter<'a> {
    wall: &'a Wall,
    hint: usize,
    spot_mm: f64,
    fill: FillTessellator,
    stroke: StrokeTessellator,
}

impl<'a> Cutter<'a> {
    pub(crate) fn new(wall: &'a Wall, spot_mm: f64) -> Self {
        let (fill, stroke) = (FillTessellator::new(), StrokeTessellator::new());
        Self { wall, hint: 0, spot_mm, fill, stroke }
    }

    /// The inside of an outline: nothing where the tessellator cannot make any of it.
    pub(crate) fn patch(&mut self, patch: &Patch, out: &mut Triangles) {
        let Some(first) = patch.outline.first() else { return };
        let plane = Plane { turn_rad: first.turn_rad, radius_mm: self.radius_mm(first.s_mm) };
        let options = FillOptions::non_zero();
        let mut into = BuffersBuilder::new(out, plane);
        let mut path = self.fill.builder_with_attributes(2, &options, &mut into);
        for (k, point) in patch.outline.iter().enumerate() {
            let (at, about) = (plane.point(point), attributes(point));
            if k == 0 {
                path.begin(at, &about);
            } else {
                path.line_to(at, &about);
            }
        }
        path.end(true);
        // What cannot be cut into triangles is a patch of no area.
        path.build().unwrap_or_default();
    }

    /// A line as wide as the spot, or a dot.
    pub(crate) fn stroke(&mut self, stroke: &Stroke, out: &mut Triangles) {
        match stroke.points.as_slice() {
            [] => {}
            [dot] => self.dot(dot, out),
            points => self.line(points, out),
        }
    }

    fn dot(&mut self, dot: &BurnPoint, out: &mut Triangles) {
        let plane = Plane { turn_rad: dot.turn_rad, radius_mm: self.radius_mm(dot.s_mm) };
        let area = 0.25 * PI * self.spot_mm * self.spot_mm;
        let about = attributes(&BurnPoint { energy: dot.energy / area, ..*dot });
        let options = FillOptions::non_zero().with_tolerance(ROUND_MM);
        let mut into = BuffersBuilder::new(out, plane);
        let mut path = self.fill.builder_with_attributes(2, &options, &mut into);
        #[allow(clippy::cast_possible_truncation)]
        let radius = 0.5 * self.spot_mm as f32;
        path.add_circle(plane.point(dot), radius, Winding::Positive, &about);
        path.build().unwrap_or_default();
    }

    /// The line is rolled out step by step, so that its width and its corners are true on the wall;
    /// where on the wall it is goes along as attributes.
    fn line(&mut self, points: &[BurnPoint], out: &mut Triangles) {
        let (first, last) = (points[0], points[points.len() - 1]);
        let radius_mm = self.radius_mm(first.s_mm);
        let apart = (last.s_mm - first.s_mm).hypot((last.turn_rad - first.turn_rad) * radius_mm);
        let cap =
            if points.len() > 2 && apart < CLOSED_MM { LineCap::Round } else { LineCap::Butt };
        #[allow(clippy::cast_possible_truncation)]
        let options = StrokeOptions::default()
            .with_line_width(self.spot_mm as f32)
            .with_line_join(LineJoin::Round)
            .with_line_cap(cap)
            .with_tolerance(ROUND_MM);
        let mut rolled = Vec::with_capacity(points.len());
        let (mut x, mut y, mut before) = (0.0, 0.0, first);
        for point in points {
            let ds = point.s_mm - before.s_mm;
            x += ds;
            y += (point.turn_rad - before.turn_rad) * self.radius_mm(before.s_mm + 0.5 * ds);
            rolled.push((x, y));
            before = *point;
        }
        let made = Rolled { origin: first, spot_mm: self.spot_mm, wall: self.wall, hint: 0 };
        let mut into = BuffersBuilder::new(out, made);
        let mut path = self.stroke.builder_with_attributes(4, &options, &mut into);
        for (k, (point, (x, y))) in points.iter().zip(rolled).enumerate() {
            let [at_s, energy] = attributes(point);
            #[allow(clippy::cast_possible_truncation)]
            let (at, about) = (
                Point::new(x as f32, y as f32),
                [
                    (point.s_mm - first.s_mm) as f32,
                    (point.turn_rad - first.turn_rad) as f32,
                    at_s,
                    energy,
                ],
            );
            if k == 0 {
                path.begin(at, &about);
            } else {
                path.line_to(at, &about);
            }
        }
        path.end(false);
        path.build().unwrap_or_default();
    }

    fn radius_mm(&mut self, s_mm: f64) -> f64 {
        self.wall.section(s_mm, &mut self.hint).radius_mm
    }
}

#[allow(clippy::cast_possible_truncation)]
fn attributes(point: &BurnPoint) -> [f32; 2] {
    [point.at_s as f32, point.energy as f32]
}

/// The plane in which an area lies: turns as lengths from one of them.
#[derive(Clone, Copy)]
struct Plane {
    turn_rad: f64,
    radius_mm: f64,
}

impl Plane {
    #[allow(clippy::cast_possible_truncation)]
    fn point(&self, point: &BurnPoint) -> Point<f32> {
        let around = (point.turn_rad - self.turn_rad) * self.radius_mm;
        Point::new(point.s_mm as f32, around as f32)
    }
}

impl FillVertexConstructor<Corner> for Plane {
    fn new_vertex(&mut self, mut vertex: FillVertex<'_>) -> Corner {
        let at = vertex.position();
        let about = vertex.interpolated_attributes();
        Corner {
            s_mm: f64::from(at.x),
            turn_rad: self.turn_rad + f64::from(at.y) / self.radius_mm,
            at_s: f64::from(about[0]),
            density: f64::from(about[1]),
        }
    }
}

/// A line rolled out from its first point.
struct Rolled<'a> {
    origin: BurnPoint,
    spot_mm: f64,
    wall: &'a Wall,
    hint: usize,
}

impl StrokeVertexConstructor<Corner> for Rolled<'_> {
    fn new_vertex(&mut self, mut vertex: StrokeVertex<'_, '_>) -> Corner {
        let aside = vertex.position() - vertex.position_on_path();
        let about = vertex.interpolated_attributes();
        let [s, turn, at_s, energy] = [0, 1, 2, 3].map(|k| f64::from(about[k]));
        let s_mm = self.origin.s_mm + s;
        let radius_mm = self.wall.section(s_mm, &mut self.hint).radius_mm;
        Corner {
            s_mm: s_mm + f64::from(aside.x),
            turn_rad: self.origin.turn_rad + turn + f64::from(aside.y) / radius_mm,
            at_s,
            density: energy / self.spot_mm,
        }
    }
}
