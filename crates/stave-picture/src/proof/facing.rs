//! From where a single view of a piece is taken.

use std::f64::consts::{PI, TAU};

use super::ProofParts;

/// Art is seen from the front where its middle lies within this of it, and all of it within the
/// next, degrees.
const FRONT_DEG: f64 = 60.0;
const SEEN_DEG: f64 = 85.0;
/// The views that are weighed against each other where no single one shows all, degrees apart.
const STEP_DEG: i32 = 15;
/// Another view than the front must show so much more.
const WORTH: f64 = 1.1;

/// A turn between −180° and 180°.
fn folded(deg: f64) -> f64 {
    (deg + 180.0).rem_euclid(360.0) - 180.0
}

impl ProofParts<'_> {
    /// The turn that a single view of the piece faces, whole degrees: the front where what burns is
    /// seen from there, else the middle of what burns; where it goes round farther than is seen
    /// from anywhere, whence most of it is seen.
    pub(super) fn facing_deg(&self) -> f64 {
        let Some((low, high)) = self.lies.burned_turn_rad else { return 0.0 };
        let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
        let (middle, half) = (folded(middle.to_degrees()), half.to_degrees());
        if !(middle.is_finite() && half.is_finite()) {
            return 0.0;
        }
        if half > SEEN_DEG {
            return self.most_seen_deg();
        }
        let is_at_front = middle.abs() <= FRONT_DEG && middle.abs() + half <= SEEN_DEG;
        if is_at_front { 0.0 } else { middle.round() + 0.0 }
    }

    fn most_seen_deg(&self) -> f64 {
        let columns = self.map.burned_columns();
        let seen = |deg: f64| -> f64 {
            let facing = deg.to_radians();
            let count = columns.len() as f64;
            let shares = columns.iter().enumerate().map(|(column, burned)| {
                let turn = TAU * (column as f64 + 0.5) / count - PI;
                burned * (turn - facing).cos().max(0.0)
            });
            shares.sum()
        };
        let mut best = (0.0, WORTH * seen(0.0));
        for step in -180 / STEP_DEG..180 / STEP_DEG {
            let deg = f64::from(STEP_DEG * step);
            let shown = seen(deg);
            if shown > best.1 {
                best = (deg, shown);
            }
        }
        best.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{CAN, parts};
    use super::super::{BurnMap, Burns, WallPlace};

    /// The turn from which a can is shown that burns between such turns.
    fn facing(burned_deg: &[(i32, i32)], unfolded_deg: (f64, f64)) -> f64 {
        let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
        let (mut map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        for (from, to) in burned_deg {
            let place = |deg: i32| WallPlace { s_mm: 50.0, turn_rad: f64::from(deg).to_radians() };
            map.burn(place(*from), place(*to), 1.0, 0.0, 0);
        }
        let mut parts = parts(&blank, (&map, &burns));
        let (low, high) = unfolded_deg;
        parts.lies.burned_turn_rad = Some((low.to_radians(), high.to_radians()));
        parts.lies.burned_s_mm = Some((49.0, 51.0));
        let facing = parts.facing_deg();
        let told = parts.card_words().into_iter().find(|words| words.starts_with("seen from"));
        let words = (facing != 0.0).then(|| format!("seen from turn {facing}°"));
        assert_eq!(told, words);
        facing
    }

    /// What a card shows is what burns: −128° is the place behind a handle at 52°.
    #[test]
    fn a_card_faces_what_burns() {
        assert_eq!(facing(&[(-20, 30)], (-20.0, 30.0)), 0.0);
        assert_eq!(facing(&[(-150, -106)], (-150.0, -106.0)), -128.0);
        assert_eq!(facing(&[(210, 254)], (210.0, 254.0)), -128.0);
        assert_eq!(facing(&[(30, 100)], (30.0, 100.0)), 65.0);
        assert_eq!(facing(&[(-5, 95)], (-5.0, 95.0)), 45.0, "its edge is not seen from the front");
        // Two pieces across from each other: the larger one, not bare ware between them.
        assert_eq!(facing(&[(-20, 20), (160, 200)], (-20.0, 200.0)), 0.0);
        assert_eq!(facing(&[(-5, 5), (150, 210)], (-5.0, 210.0)), -180.0);
        assert_eq!(facing(&[(-180, 180)], (-180.0, 180.0)), 0.0, "all around");
        assert_eq!(facing(&[], (f64::NAN, 1.0)), 0.0);
    }
}
