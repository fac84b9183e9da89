//! What a label's burn does not leave, known without looking along it.

use stave_rig::SAME_PLACE_MM;

use super::Ground;
use crate::track::Track;

impl Ground<'_> {
    /// How far the points of a track lie at the most from the label's anchor, mm along the wall,
    /// and the stretch of meridian that this leaves: nothing lies farther along it from the anchor
    /// than its distance from there.
    fn about_anchor(&self, track: &Track<'_>) -> (f64, (f64, f64)) {
        let (u_mm, v_mm) = self.lay.anchor_mm();
        let [a, b] = [0.0, 1.0].map(|t| {
            let end = track.point(t);
            (end.u - u_mm).hypot(end.v - v_mm)
        });
        let more_mm = if track.is_straight() { 0.0 } else { 0.5 * track.curve.length_mm() };
        let (anchor_mm, far_mm) = (self.lay.anchor_s_mm(), a.max(b) + more_mm);
        (far_mm, (anchor_mm - far_mm, anchor_mm + far_mm))
    }

    /// The stretch of meridian that a label's track does not leave, mm.
    ///
    /// Besides what [`Ground::about_anchor`] tells, no point lies farther from the image of the
    /// track's nearer end than half its length, so stretched as the label is at the most.
    pub(super) fn label_stretch(&self, track: &Track<'_>) -> Option<(f64, f64)> {
        let (far_mm, mut stretch) = self.about_anchor(track);
        if let Some(most) = self.most_stretch(stretch, far_mm) {
            let [a, b] = [0.0, 1.0].map(|t| self.place(track, t).s_mm);
            let reach_mm = 0.5 * track.curve.length_mm() * most;
            stretch = (stretch.0.max(a.min(b) - reach_mm), stretch.1.min(a.max(b) + reach_mm));
        }
        (stretch.0.is_finite() && stretch.1.is_finite()).then_some(stretch)
    }

    /// By how much a label may stretch what lies no farther from its anchor than `far_mm`, within a
    /// stretch of the meridian; `None` where that is not known.
    ///
    /// On a smooth wall by no more than `sinh(kρ)/kρ`, at a distance `ρ` from the anchor where the
    /// Gaussian curvature is `−k²` or more: its Jacobi field grows no faster (the comparison
    /// theorem of Rauch; M. P. do Carmo, *Riemannian Geometry*, 10-2). On a straight one not at
    /// all, where no station of the stretch is hollow: only there is the curvature below 0.
    fn most_stretch(&self, (low, high): (f64, f64), far_mm: f64) -> Option<f64> {
        let Some(bends) = self.bends else {
            let stations = self.wall.span_ends_mm();
            let first = stations.partition_point(|s| *s <= low);
            let mut inside = stations[first..].iter().take_while(|s| **s < high);
            let hollow = |s: f64| {
                let slope = |s: f64| self.wall.section(s, &mut 0).sin_slope;
                slope(s + SAME_PLACE_MM) > slope(s - SAME_PLACE_MM)
            };
            return (!inside.any(|s| hollow(*s))).then_some(1.0);
        };
        let whole = bends.over(0.0, self.wall.length_mm());
        let (radius_mm, bend_per_mm) = (whole.radius_mm.0, whole.bend_per_mm.1.max(0.0));
        let x = (bend_per_mm / radius_mm).sqrt() * far_mm;
        Some(if x > 1e-6 { x.sinh() / x } else { 1.0 })
    }

    /// The turns that a label's track comes to within the stretch that it does not leave, rad:
    /// where it lies as near to the image of its nearer end as [`Ground::label_stretch`] has it.
    pub(super) fn label_turns(&self, track: &Track<'_>, stretch: (f64, f64)) -> Option<(f64, f64)> {
        let (far_mm, about) = self.about_anchor(track);
        let most = self.most_stretch(about, far_mm)?;
        let least_mm = self.radii(stretch).low;
        let [a, b] = [0.0, 1.0].map(|t| self.place(track, t).turn_rad);
        let reach_rad = 0.5 * track.curve.length_mm() * most / least_mm;
        let turns = (a.min(b) - reach_rad, a.max(b) + reach_rad);
        (least_mm > 0.0 && turns.0.is_finite() && turns.1.is_finite()).then_some(turns)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use stave_setup::{Setup, read_blank, read_job, read_machine};
    use stave_wall::{Anchor, LayKind};

    use crate::curve::{Curve, FlatPoint};
    use crate::track::Track;
    use crate::wrapper::Wrapper;

    const MACHINE: &str = include_str!("../../../../fixtures/machines/degrees.toml");

    fn blank() -> impl Strategy<Value = String> {
        (any::<bool>(), prop::collection::vec((4.0..30.0_f64, 40.0..80.0_f64), 2..7)).prop_map(
            |(straight, stations)| {
                let shape = if straight { "straight" } else { "smooth" };
                let mut text = format!("name = \"any\"\nwall = \"{shape}\"\n");
                let mut at = 0.0;
                for (step, diameter) in stations {
                    text += &format!("[[station]]\nat = {at:.2}\ndiameter = {diameter:.2}\n");
                    at += step;
                }
                text
            },
        )
    }

    fn point() -> impl Strategy<Value = FlatPoint> {
        (-30.0..60.0_f64, -60.0..60.0_f64).prop_map(|(u, v)| FlatPoint { u, v, z: 0.0 })
    }

    proptest! {
        #![proptest_config(stave_tests::cases(24))]

        #[test]
        fn no_place_of_a_label_lies_outside(
            blank in blank(),
            from in point(),
            (length, heading) in (0.1..40.0_f64, 0.0..6.3_f64),
        ) {
            let setup = Setup::new(
                read_blank(&blank, "blank").unwrap(),
                read_machine(MACHINE, "machine").unwrap(),
                read_job("lay = \"label\"\nplace.at = 2.0\n", "job").unwrap(),
            )
            .unwrap();
            let wrapper = Wrapper::new(&setup, Anchor::Drawing).unwrap();
            let ground = wrapper.ground();
            prop_assert_eq!(ground.lay.setting().kind, LayKind::Label);
            let to = FlatPoint {
                u: from.u + length * heading.cos(),
                v: from.v + length * heading.sin(),
                z: 0.0,
            };
            let curve = Curve::Line { from, to };
            let track = Track::of(&curve);
            // Past a fold geodesics may go round without end.
            let places: Vec<_> = (0..=64_u8)
                .map(|k| ground.place(&track, f64::from(k) / 64.0))
                .filter(|place| place.s_mm.is_finite() && place.turn_rad.is_finite())
                .collect();
            let Some((low, high)) = ground.stretch(&track) else { return Ok(()) };
            for place in &places {
                let s_mm = place.s_mm;
                prop_assert!(low - 1e-4 <= s_mm && s_mm <= high + 1e-4, "{low} {s_mm} {high}");
            }
            let Some((left, right)) = ground.turns(&track, (low, high)) else { return Ok(()) };
            for place in &places {
                let turn_rad = place.turn_rad;
                prop_assert!(
                    left - 1e-5 <= turn_rad && turn_rad <= right + 1e-5,
                    "{left} {turn_rad} {right}"
                );
            }
        }
    }
}
