//! What stands out of the wall and can be measured from: a handle, a boss.

use std::f64::consts::TAU;

use crate::Blank;

/// Turns that differ by less are alike, rad.
const ALIKE_RAD: f64 = 1e-6;

/// What stands out of the wall between two turns: one zone, or several one above the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Handle {
    /// The zones' names, in order.
    pub names: Vec<String>,
    /// From, to about the axis, rad; from < to.
    pub turn_rad: (f64, f64),
}

impl Blank {
    /// The zones that rise above the wall, those of the same turns as one. What goes all around is
    /// none: it has no sides.
    ///
    /// ```
    /// let text = "[[station]]\nat = 0\ndiameter = 90\n[[station]]\nat = 80\ndiameter = 90\n\
    ///             [[zone]]\nname = \"handle\"\nat = [5, 70]\nturn = [165, 195]\nrise = 30\n";
    /// let mug = stave_setup::read_blank(text, "mug.toml")?;
    /// let [handle] = &mug.handles()[..] else { panic!("one handle") };
    /// assert!((handle.free_rad().to_degrees() - 330.0).abs() < 1e-9);
    /// let art = (-0.5_f64, 0.5_f64);
    /// let (growing, falling) = handle.gaps_rad(art).unwrap();
    /// assert!((growing - (165_f64.to_radians() - 0.5)).abs() < 1e-9);
    /// assert!((falling - growing).abs() < 1e-9);
    /// # Ok::<(), stave_setup::Faults>(())
    /// ```
    #[must_use]
    pub fn handles(&self) -> Vec<Handle> {
        let mut found: Vec<Handle> = Vec::new();
        let risen = self.zones.iter().filter(|zone| zone.rise_mm > 0.0);
        for zone in risen.filter(|zone| zone.turn_rad.1 - zone.turn_rad.0 < TAU - ALIKE_RAD) {
            let alike = |other: &&mut Handle| {
                let off = [other.turn_rad.0 - zone.turn_rad.0, other.turn_rad.1 - zone.turn_rad.1];
                off.iter().all(|rad| (rad - TAU * (rad / TAU).round()).abs() < ALIKE_RAD)
            };
            match found.iter_mut().find(alike) {
                Some(handle) => handle.names.push(zone.name.clone()),
                None => {
                    found.push(Handle { names: vec![zone.name.clone()], turn_rad: zone.turn_rad });
                }
            }
        }
        found
    }
}

impl Handle {
    /// The turn from one of its sides around to the other, rad.
    #[must_use]
    pub fn free_rad(&self) -> f64 {
        TAU - (self.turn_rad.1 - self.turn_rad.0)
    }

    /// How far it stands from what lies between two turns: the turn from the greater of them on to
    /// its edge, and from the lesser back to its other edge, rad. `None` where that lies at turns
    /// of its own.
    #[must_use]
    pub fn gaps_rad(&self, (low, high): (f64, f64)) -> Option<(f64, f64)> {
        let growing = (self.turn_rad.0 - high).rem_euclid(TAU);
        // What touches its edge is no turn away from it.
        let growing = if TAU - growing < ALIKE_RAD { 0.0 } else { growing };
        let falling = self.free_rad() - (high - low) - growing;
        (falling > -ALIKE_RAD).then_some((growing, falling.max(0.0)))
    }

    /// Its name, or names.
    #[must_use]
    pub fn name(&self) -> String {
        match self.names.as_slice() {
            [] => String::new(),
            [one] => one.clone(),
            [first, rest @ ..] => format!("{first} and {} more", rest.len()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ware(zones: &[(&str, [i32; 2], f64)]) -> Blank {
        let mut text = String::from(
            "[[station]]\nat = 0\ndiameter = 90\n[[station]]\nat = 80\ndiameter = 90\n",
        );
        for (name, [from, to], rise) in zones {
            text += &format!(
                "[[zone]]\nname = \"{name}\"\nat = [5, 70]\nturn = [{from}, {to}]\nrise = {rise}\n"
            );
        }
        crate::read_blank(&text, "ware.toml").unwrap()
    }

    #[test]
    fn bosses_one_above_the_other_are_one_handle_and_marks_none() {
        let blank = ware(&[
            ("upper", [170, 190], 9.0),
            ("mark", [0, 10], 0.0),
            ("lower", [-190, -170], 9.0),
            ("spout", [60, 80], 5.0),
            ("ring", [0, 360], 2.0),
        ]);
        let names: Vec<String> = blank.handles().iter().map(Handle::name).collect();
        assert_eq!(names, ["upper and 1 more", "spout"]);
    }

    #[test]
    fn gaps_are_the_same_wherever_turns_are_counted_from() {
        let deg = |(low, high): (f64, f64)| (low.to_radians(), high.to_radians());
        for turns in [[170, 190], [-190, -170]] {
            let blank = ware(&[("handle", turns, 20.0)]);
            let handle = &blank.handles()[0];
            for by in [0.0, 360.0, -720.0] {
                let gaps = |low: f64, high: f64| {
                    let (a, b) = handle.gaps_rad(deg((low + by, high + by)))?;
                    Some((a.to_degrees().round(), b.to_degrees().round()))
                };
                assert_eq!(gaps(-40.0, 60.0), Some((110.0, 130.0)));
                assert_eq!(gaps(190.0, 200.0), Some((330.0, 0.0)));
                assert_eq!(gaps(160.0, 170.0), Some((0.0, 330.0)));
                // Over the handle, whichever side it begins at, or all around.
                assert_eq!(gaps(165.0, 175.0), None);
                assert_eq!(gaps(185.0, 195.0), None);
                assert_eq!(gaps(165.0, 195.0), None);
                assert_eq!(gaps(0.0, 360.0), None);
            }
        }
    }
}
