//! Strokes as areas: what a pen of some width covers.

use kurbo::{BezPath, Cap, Circle, PathEl, Point, Rect, Shape as _};

use super::{Shape, Stroke, pen};

impl Stroke {
    /// The pen as kurbo knows it; dashes are in the path already.
    fn style(&self) -> kurbo::Stroke {
        kurbo::Stroke::new(self.width_mm)
            .with_join(self.join)
            .with_miter_limit(self.miter_limit)
            .with_caps(self.cap)
    }
}

impl Stroke {
    /// Adds what the caps make of subpaths without length: a disc for round ones, a square that
    /// stands upright for square ones (SVG 2, 13.5.4, "Computing the shape of the stroke").
    fn add_dots(&self, middle: &BezPath, tolerance_mm: f64, area: &mut BezPath) {
        let half_mm = 0.5 * self.width_mm;
        for at in dots(middle) {
            match self.cap {
                Cap::Butt => {}
                Cap::Round => area.extend(Circle::new(at, half_mm).path_elements(tolerance_mm)),
                Cap::Square => {
                    let square = Rect::from_center_size(at, (self.width_mm, self.width_mm));
                    area.extend(square.path_elements(tolerance_mm));
                }
            }
        }
    }
}

/// The subpaths that go nowhere: a point with at least one segment, all of them without length.
fn dots(path: &BezPath) -> Vec<Point> {
    let mut dots = Vec::new();
    // The point that a subpath has kept to so far, and whether it has a segment.
    let mut open: Option<(Point, bool)> = None;
    for el in path.elements() {
        let stays = |at: Point| match *el {
            PathEl::LineTo(p) => p == at,
            PathEl::QuadTo(a, p) => a == at && p == at,
            PathEl::CurveTo(a, b, p) => a == at && b == at && p == at,
            PathEl::MoveTo(_) | PathEl::ClosePath => true,
        };
        match (*el, open) {
            (PathEl::MoveTo(p), before) => {
                dots.extend(before.filter(|(_, drawn)| *drawn).map(|(at, _)| at));
                open = Some((p, false));
            }
            (_, Some((at, _))) => open = stays(at).then_some((at, true)),
            (_, None) => {}
        }
    }
    dots.extend(open.filter(|(_, drawn)| *drawn).map(|(at, _)| at));
    dots
}

impl Shape {
    /// Whether the stroke has dots, subpaths without length whose caps are seen: no line can burn
    /// them, an area does.
    #[must_use]
    pub fn has_dots(&self) -> bool {
        self.stroke.as_ref().is_some_and(|stroke| stroke.cap != Cap::Butt)
            && self.stroke_middle().is_some_and(|middle| !dots(middle).is_empty())
    }

    /// The middle of the stroke: the dashes where there are some, else the whole outline. `None`
    /// without a stroke.
    #[must_use]
    pub fn stroke_middle(&self) -> Option<&BezPath> {
        let stroke = self.stroke.as_ref()?;
        Some(stroke.dashes.as_ref().unwrap_or(&self.path))
    }

    /// The area the stroke covers, to be filled by the nonzero rule, on the page in mm. `None`
    /// without a stroke.
    ///
    /// `tolerance_mm` bounds the distance to the exact area. Its curves are those of R. Levien's
    /// offsetting of curves, as kurbo has it.
    ///
    /// ```
    /// use kurbo::{Affine, BezPath, Cap, Join, Shape as _};
    /// use stave_toolpath::art::{Rgb, Shape, Stroke};
    /// let stroke = Stroke {
    ///     colour: Rgb::default(),
    ///     opacity: 1.0,
    ///     width_mm: 2.0,
    ///     join: Join::Miter,
    ///     cap: Cap::Butt,
    ///     miter_limit: 4.0,
    ///     pen: Affine::IDENTITY,
    ///     dashes: None,
    /// };
    /// let path = BezPath::from_svg("M0 0H10")?;
    /// let line = Shape {
    ///     element: 0,
    ///     path,
    ///     fill: None,
    ///     stroke: Some(stroke),
    ///     stroke_first: false,
    ///     clips: vec![],
    /// };
    /// let area = line.stroke_area(0.01).map(|a| a.area().abs());
    /// assert_eq!(area, Some(20.0));
    /// # Ok::<(), kurbo::SvgParseError>(())
    /// ```
    #[must_use]
    pub fn stroke_area(&self, tolerance_mm: f64) -> Option<BezPath> {
        let stroke = self.stroke.as_ref()?;
        let middle = self.stroke_middle()?;
        let style = stroke.style();
        if stroke.pen == kurbo::Affine::IDENTITY {
            let mut area = pen::covered(middle, &style, tolerance_mm);
            stroke.add_dots(middle, tolerance_mm, &mut area);
            return Some(area);
        }
        // The pen is round in its own space: carry the path there, draw, and carry the area back.
        let to_pen = stroke.pen.inverse();
        if !to_pen.is_finite() {
            return Some(BezPath::new());
        }
        let stretch = stroke.pen.as_coeffs()[..4].iter().fold(1.0_f64, |most, c| most.max(c.abs()));
        let (middle, tolerance_mm) = (to_pen * middle, tolerance_mm / stretch / 2.0);
        let mut area = pen::covered(&middle, &style, tolerance_mm);
        stroke.add_dots(&middle, tolerance_mm, &mut area);
        Some(stroke.pen * area)
    }
}
