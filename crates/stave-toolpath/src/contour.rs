//! Where a raster is dark enough: its outline, told between pixels.
//!
//! Squares of four neighbouring pixels are looked at one by one, and where the line between dark
//! and light crosses their sides follows from the straight line between the two pixels (W. E.
//! Lorensen and H. E. Cline, Marching cubes, Computer Graphics 21, 1987, in the plane).

use std::collections::BTreeMap;

use kurbo::{BezPath, Point, Rect};

use crate::Shades;

/// Around the window so many pixels are looked at too.
const AROUND: f64 = 2.0;

/// A side between two pixels: the upper or left one of the two, and whether the other is below.
type Side = (i64, i64, bool);

impl Shades {
    /// The outline of what is at least so dark (0 to 1), for the even-odd rule, in the raster's own
    /// plane, where a pixel is 1 x 1: closed lines, the dark to the right where y grows downwards.
    /// What lies farther than two pixels outside the window, or off the raster, counts as bare.
    ///
    /// ```
    /// use kurbo::{Rect, Shape as _};
    /// use stave_toolpath::Shades;
    /// // Three black pixels beside each other in a white raster of five columns and three rows.
    /// let row = [u16::MAX; 5];
    /// let middle = [u16::MAX, 0, 0, 0, u16::MAX];
    /// let shades = Shades::new(5, 3, [row, middle, row].concat(), None);
    /// let outline = shades.contour(0.5, false, Rect::new(0.0, 0.0, 5.0, 3.0));
    /// assert_eq!(outline.bounding_box(), Rect::new(1.0, 1.0, 4.0, 2.0));
    /// ```
    #[must_use]
    pub fn contour(&self, threshold: f64, invert: bool, window: Rect) -> BezPath {
        let (columns, rows) = self.size();
        let all = Rect::new(0.0, 0.0, columns.into(), rows.into());
        let seen = window.inflate(AROUND, AROUND).intersect(all);
        if !(seen.width() > 0.0 && seen.height() > 0.0) {
            return BezPath::new();
        }
        #[expect(clippy::cast_possible_truncation, reason = "within the raster")]
        let [x0, y0, x1, y1] = [seen.x0.floor(), seen.y0.floor(), seen.x1.ceil(), seen.y1.ceil()]
            .map(|edge| edge as i64);
        let dark = |x: i64, y: i64| {
            let inside = x >= x0 && x < x1 && y >= y0 && y < y1;
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside")]
            let pixel = || y as usize * columns as usize + x as usize;
            if inside { self.darkness(pixel(), invert) } else { 0.0 }
        };
        // A threshold of nothing at all would have no outline.
        let threshold = threshold.max(f64::MIN_POSITIVE);
        let mut next: BTreeMap<Side, Side> = BTreeMap::new();
        for y in y0 - 1..y1 {
            let mut left = [dark(x0 - 1, y), dark(x0 - 1, y + 1)];
            for x in x0 - 1..x1 {
                let right = [dark(x + 1, y), dark(x + 1, y + 1)];
                add_square((x, y), [left[0], right[0], right[1], left[1]], threshold, &mut next);
                left = right;
            }
        }
        let at = |(x, y, down): Side| {
            let (from, to) = (dark(x, y), if down { dark(x, y + 1) } else { dark(x + 1, y) });
            let share = ((threshold - from) / (to - from)).clamp(0.0, 1.0);
            #[expect(clippy::cast_precision_loss, reason = "within the raster")]
            let (x, y) = (x as f64 + 0.5, y as f64 + 0.5);
            if down { Point::new(x, y + share) } else { Point::new(x + share, y) }
        };
        let mut path = BezPath::new();
        while let Some((first, mut side)) = next.pop_first() {
            path.move_to(at(first));
            while side != first {
                path.line_to(at(side));
                match next.remove(&side) {
                    Some(after) => side = after,
                    None => break,
                }
            }
            path.close_path();
        }
        path
    }
}

/// Adds where the line runs through a square of four pixels (from the upper left one round by the
/// right): from side to side, the dark to the right of the way as it is drawn with y downwards.
fn add_square(
    (x, y): (i64, i64),
    darkness: [f64; 4],
    threshold: f64,
    next: &mut BTreeMap<Side, Side>,
) {
    let [a, b, c, d] = darkness.map(|darkness| darkness >= threshold);
    let (top, right) = ((x, y, false), (x + 1, y, true));
    let (bottom, left) = ((x, y + 1, false), (x, y, true));
    let mut go = |from: Side, to: Side| {
        next.insert(from, to);
    };
    match (a, b, c, d) {
        (false, false, false, false) | (true, true, true, true) => {}
        (true, false, false, false) => go(top, left),
        (false, true, false, false) => go(right, top),
        (false, false, true, false) => go(bottom, right),
        (false, false, false, true) => go(left, bottom),
        (true, true, false, false) => go(right, left),
        (false, true, true, false) => go(bottom, top),
        (false, false, true, true) => go(left, right),
        (true, false, false, true) => go(top, bottom),
        (false, true, true, true) => go(left, top),
        (true, false, true, true) => go(top, right),
        (true, true, false, true) => go(right, bottom),
        (true, true, true, false) => go(bottom, left),
        // Two dark corners across: joined where their mean says so.
        (true, false, true, false) | (false, true, false, true) => {
            let joined = darkness.iter().sum::<f64>() / 4.0 >= threshold;
            let ways = match (a, joined) {
                (true, true) => [(top, right), (bottom, left)],
                (true, false) => [(top, left), (bottom, right)],
                (false, true) => [(left, top), (right, bottom)],
                (false, false) => [(right, top), (left, bottom)],
            };
            ways.into_iter().for_each(|(from, to)| go(from, to));
        }
    }
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "small rasters"
)]
mod tests {
    use super::*;
    use kurbo::Shape as _;
    use proptest::prelude::*;

    fn raster(columns: u32, rows: u32, dark: impl Fn(f64, f64) -> f64) -> Shades {
        let mut luminance = Vec::new();
        for y in 0..rows {
            for x in 0..columns {
                let light = 1.0 - dark(f64::from(x) + 0.5, f64::from(y) + 0.5);
                luminance.push((light.clamp(0.0, 1.0) * f64::from(u16::MAX)).round() as u16);
            }
        }
        Shades::new(columns, rows, luminance, None)
    }

    #[test]
    fn a_ramp_is_cut_where_it_is_so_dark() {
        // Dark by x / 40: at 0.3 the edge lies at 12, wherever the pixels are.
        let ramp = raster(40, 10, |x, _| x / 40.0);
        let all = Rect::new(0.0, 0.0, 40.0, 10.0);
        let cut = ramp.contour(0.3, false, all).bounding_box();
        assert!((cut.x0 - 12.0).abs() < 0.01, "{cut:?}");
        let light = ramp.contour(0.3, true, all).bounding_box();
        assert!((light.x1 - 28.0).abs() < 0.01, "{light:?}");
    }

    #[test]
    fn a_disc_keeps_its_edge_and_a_hole_its_own() {
        // The share of each pixel inside is that of its distance from the edge, to a part of it.
        let ring = raster(60, 60, |x, y| {
            let r = (x - 30.3).hypot(y - 29.6);
            (20.5 - r).clamp(0.0, 1.0) * (r - 9.5).clamp(0.0, 1.0)
        });
        let outline = ring.contour(0.5, false, Rect::new(0.0, 0.0, 60.0, 60.0));
        let starts = outline.elements().iter().filter(|e| matches!(e, kurbo::PathEl::MoveTo(_)));
        assert_eq!(starts.count(), 2);
        for segment in outline.segments() {
            let end = kurbo::ParamCurve::end(&segment);
            let r = (end.x - 30.3).hypot(end.y - 29.6);
            assert!((r - 20.0).abs() < 0.1 || (r - 10.0).abs() < 0.1, "{r}");
        }
        // The dark lies to the right, y down: outside and hole wind in opposite ways.
        let area = outline.area().abs();
        assert!((area - std::f64::consts::PI * 300.0).abs() < 8.0, "{area}");
    }

    proptest! {
        #[test]
        fn what_is_within_is_what_is_dark(
            pixels in prop::collection::vec(0_u16..=4, 42), threshold in 0.05..0.95_f64,
        ) {
            let luminance: Vec<u16> = pixels.iter().map(|p| 16_383 * p).collect();
            let shades = Shades::new(7, 6, luminance.clone(), None);
            let outline = shades.contour(threshold, false, Rect::new(0.0, 0.0, 7.0, 6.0));
            for (k, light) in luminance.iter().enumerate() {
                let darkness = 1.0 - f64::from(*light) / f64::from(u16::MAX);
                prop_assume!((darkness - threshold).abs() > 1e-3);
                let middle = Point::new((k % 7) as f64 + 0.5, (k / 7) as f64 + 0.5);
                let inside = outline.winding(middle) % 2 != 0;
                prop_assert_eq!(inside, darkness >= threshold, "pixel {}", k);
            }
        }
    }
}
