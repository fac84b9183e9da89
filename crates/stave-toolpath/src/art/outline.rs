//! Strokes as areas: what a pen of some width covers.

use kurbo::{BezPath, StrokeOpts};

use super::{Shape, Stroke};

impl Stroke {
    /// The pen as kurbo knows it; dashes are in the path already.
    fn style(&self) -> kurbo::Stroke {
        kurbo::Stroke::new(self.width_mm)
            .with_join(self.join)
            .with_miter_limit(self.miter_limit)
            .with_caps(self.cap)
    }
}

impl Shape {
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
        let options = StrokeOpts::default();
        if stroke.pen == kurbo::Affine::IDENTITY {
            return Some(kurbo::stroke(middle.iter(), &style, &options, tolerance_mm));
        }
        // The pen is round in its own space: carry the path there, draw, and carry the area back.
        let to_pen = stroke.pen.inverse();
        if !to_pen.is_finite() {
            return Some(BezPath::new());
        }
        let stretch = stroke.pen.as_coeffs()[..4].iter().fold(1.0_f64, |most, c| most.max(c.abs()));
        let area =
            kurbo::stroke((to_pen * middle).iter(), &style, &options, tolerance_mm / stretch / 2.0);
        Some(stroke.pen * area)
    }
}
