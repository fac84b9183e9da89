//! The page, and the three ways in which it can stand on the ware.

use kurbo::Affine;

/// The page of a drawing, mm. Points on it have x to the right and y down, from its top left
/// corner.
///
/// `(u, v)` is right-handed seen from outside the ware: `u` along the axis, `v` around it. None of
/// the three maps mirrors what is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Page {
    /// Its width, mm.
    pub width_mm: f64,
    /// Its height, mm.
    pub height_mm: f64,
}

impl Page {
    /// The map from page to flat plane of a drawing that stands upright: page up is `+u`, page
    /// right is `-v`, the bottom edge lies at `u = 0`, the page's middle at `v = 0`.
    ///
    /// ```
    /// use kurbo::Point;
    /// use stave_toolpath::art::Page;
    /// let page = Page { width_mm: 200.0, height_mm: 120.0 };
    /// assert_eq!(page.upright_to_flat() * Point::new(100.0, 120.0), Point::new(0.0, 0.0));
    /// assert_eq!(page.upright_to_flat() * Point::new(130.0, 100.0), Point::new(20.0, -30.0));
    /// ```
    #[must_use]
    pub fn upright_to_flat(&self) -> Affine {
        Affine::new([0.0, -1.0, -1.0, 0.0, self.height_mm, self.width_mm / 2.0])
    }

    /// The map of a drawing that hangs upside down, for ware whose datum is at the rim: page up is
    /// `-u`, page right is `+v`, the top edge lies at `u = 0`, the page's middle at `v = 0`.
    ///
    /// ```
    /// use kurbo::Point;
    /// use stave_toolpath::art::Page;
    /// let page = Page { width_mm: 200.0, height_mm: 120.0 };
    /// assert_eq!(page.inverted_to_flat() * Point::new(130.0, 20.0), Point::new(20.0, 30.0));
    /// ```
    #[must_use]
    pub fn inverted_to_flat(&self) -> Affine {
        Affine::new([0.0, 1.0, 1.0, 0.0, 0.0, -self.width_mm / 2.0])
    }

    /// The map of a drawing that lies along the ware: page right is `+u`, page up `+v`, the left
    /// edge lies at `u = 0`, half the page's height at `v = 0`.
    ///
    /// ```
    /// use kurbo::Point;
    /// use stave_toolpath::art::Page;
    /// let page = Page { width_mm: 200.0, height_mm: 120.0 };
    /// assert_eq!(page.lying_to_flat() * Point::new(130.0, 20.0), Point::new(130.0, 40.0));
    /// ```
    #[must_use]
    pub fn lying_to_flat(&self) -> Affine {
        Affine::new([1.0, 0.0, 0.0, -1.0, 0.0, self.height_mm / 2.0])
    }
}
