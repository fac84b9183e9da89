//! The way of the beam over the unrolled wall, for a program that burns nothing.

use std::f64::consts::{PI, TAU};

use kurbo::Rect;

use super::TrackPoint;
use super::burn_map::WallPlace;
use super::unrolled::Unrolled;
use crate::draw::{Drawing, INK, share_within};
use crate::svg::path;

/// A way is drawn up to so many legs: a walk has a few, and of a long program nothing could be told
/// apart.
const MOST_WAY: usize = 5_000;

impl Unrolled<'_> {
    /// The way of the beam, for a program that burns nothing: dashed, cut at the picture's edges.
    pub(crate) fn way(&self, track: &[TrackPoint]) -> Drawing {
        let mut out = Drawing::default();
        let length = self.blank.wall.length_mm();
        let mut d = String::new();
        for pair in track.windows(2).take(MOST_WAY) {
            let [from, to] = pair else { continue };
            // Both ends by the same number of turns, and once more where the leg passes the seam.
            let low = from.place.turn_rad.min(to.place.turn_rad);
            let high = from.place.turn_rad.max(to.place.turn_rad);
            let first = -TAU * ((high + PI) / TAU).floor();
            let last = -TAU * ((low + PI) / TAU).floor();
            let turns = ((last - first) / TAU).round().clamp(0.0, 8.0);
            let mut by = 0.0;
            while by <= turns {
                let at = |place: &WallPlace| {
                    let turn = place.turn_rad + first + by * TAU;
                    self.paper(place.s_mm.clamp(0.0, length), turn)
                };
                if let Some((a, b)) = self.inside(at(&from.place), at(&to.place)) {
                    d.push_str(&path(&[a, b], false));
                }
                by += 1.0;
            }
        }
        if !d.is_empty() {
            let style = "stroke-width=\"0.25\" stroke-dasharray=\"1.2 0.6\"";
            out.path(&d, &format!("fill=\"none\" stroke=\"{INK}\" {style}"));
        }
        out
    }

    /// The part of a line that lies on the picture.
    fn inside(&self, a: (f64, f64), b: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let page = Rect::from_origin_size(self.corner, self.size());
        let (first, last) = share_within(a, b, page)?;
        let at = |share: f64| (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1));
        Some((at(first), at(last)))
    }
}

#[cfg(test)]
mod tests {
    use super::super::LegKind;
    use super::super::unrolled::extent;
    use super::*;
    use stave_setup::Stands;

    /// From 170° on to 190° and, three turns on, back: each leg in two parts, one at either edge.
    #[test]
    fn a_way_over_the_seam_is_drawn_at_both_edges() {
        let text = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
        let blank = stave_setup::read_blank(text, "can.toml").unwrap();
        let flat = Unrolled {
            blank: &blank,
            stands: Stands::Upright,
            margins_mm: &[],
            scale: 1.0,
            corner: (0.0, 0.0),
            dots_per_mm: 1.0,
            plain: false,
            plane: false,
        };
        let point = |s_mm: f64, turn_deg: f64| TrackPoint {
            place: WallPlace { s_mm, turn_rad: turn_deg.to_radians() },
            at_s: 0.0,
            kind: LegKind::Travel,
            section: 0,
        };
        let (width, _) = extent(&blank, Stands::Upright);
        let of = |deg: f64| width * (0.5 - deg / 360.0);
        let track = [point(10.0, 170.0), point(10.0, 190.0), point(30.0, 190.0)];
        let drawn = flat.way(&track).out;
        let places: Vec<f64> = drawn
            .split(['M', 'L'])
            .skip(1)
            .filter_map(|part| part.split(' ').next().and_then(|x| x.parse().ok()))
            .collect();
        let expected = [of(170.0), 0.0, width, of(-170.0), of(-170.0), of(-170.0)];
        assert_eq!(places.len(), 6, "{drawn}");
        let mut sorted = (places.clone(), expected);
        sorted.0.sort_by(f64::total_cmp);
        sorted.1.sort_by(f64::total_cmp);
        for (found, expected) in sorted.0.iter().zip(sorted.1) {
            assert!((found - expected).abs() < 0.01, "{places:?} {expected}");
        }
        assert!(flat.way(&track[..1]).out.is_empty());
    }
}
