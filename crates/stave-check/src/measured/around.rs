//! A place read around the turn: its ellipse and its centre, by least squares.

use stave_wall::OutOfRound;

/// A pivot of the normal matrix less than this, of as many readings as there are: they do not tell
/// that parameter.
const LEAST_PIVOT: f64 = 0.02;

/// A reading at a turn, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct At {
    pub(super) turn_rad: f64,
    pub(super) value_mm: f64,
}

/// What readings around one place tell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Around {
    /// The oval by its cosine and sine about twice the turn, as parts of a diameter, mm.
    oval: [f64; 2],
    /// How much of the oval the readings tell: 0, 1 (along one turn only) or 2.
    pub(super) oval_known: u8,
    /// Where the centre lies, mm; `None` where no dial told.
    centre: Option<[f64; 2]>,
}

/// Which parameters are looked for: how much of the oval, and whether the centre.
const SETS: [(u8, bool); 6] = [(2, true), (1, true), (0, true), (2, false), (1, false), (0, false)];

impl Around {
    /// Of diameters across and of dial readings that share a zero, with all readings of one weight;
    /// the most is looked for that they tell. A diameter at `θ` is `D` and `p cos 2θ + q sin 2θ`, a
    /// dial reading `z + x cos θ + y sin θ` and half of that.
    pub(super) fn of(diameters: &[At], dial: &[At]) -> Self {
        // What tells an oval along one turn only tells it along that of the first reading.
        let first_rad = diameters.first().or(dial.first()).map_or(0.0, |at| at.turn_rad);
        for (oval_known, with_centre) in SETS {
            if with_centre && dial.is_empty() {
                continue;
            }
            let dial = if with_centre { dial } else { &[] };
            let dof = |at: &At| at.turn_rad - first_rad;
            let oval = |at: &At, share: f64| {
                let (sin, cos) = (2.0 * dof(at)).sin_cos();
                [
                    if oval_known > 0 { share * cos } else { 0.0 },
                    if oval_known > 1 { share * sin } else { 0.0 },
                ]
            };
            let across = diameters.iter().map(|at| {
                let [c, s] = oval(at, 1.0);
                ([1.0, c, s, 0.0, 0.0, 0.0], at.value_mm)
            });
            let out = dial.iter().map(|at| {
                let [c, s] = oval(at, 0.5);
                let (sin, cos) = at.turn_rad.sin_cos();
                ([0.0, c, s, 1.0, cos, sin], at.value_mm)
            });
            let wanted = [
                !diameters.is_empty(),
                oval_known > 0,
                oval_known > 1,
                with_centre,
                with_centre,
                with_centre,
            ];
            let Some(found) = least_squares(across.chain(out), wanted) else { continue };
            // Back from the first reading's turn.
            let (sin, cos) = (2.0 * first_rad).sin_cos();
            let [_, c, s, _, x, y] = found;
            return Self {
                oval: [c * cos - s * sin, c * sin + s * cos],
                oval_known,
                centre: with_centre.then_some([x, y]),
            };
        }
        Self::default()
    }

    /// What the oval adds to the diameter at a turn, mm.
    pub(super) fn wider_mm(&self, turn_rad: f64) -> f64 {
        let (sin, cos) = (2.0 * turn_rad).sin_cos();
        self.oval[0] * cos + self.oval[1] * sin
    }

    /// What the readings tell of the place; `None` where nothing.
    pub(super) fn out_of_round(&self, at_mm: f64) -> Option<OutOfRound> {
        if self.oval_known == 0 && self.centre.is_none() {
            return None;
        }
        let [x, y] = self.centre.unwrap_or_default();
        let turn = 0.5 * self.oval[1].atan2(self.oval[0]);
        Some(OutOfRound {
            at_mm,
            oval_mm: 2.0 * self.oval[0].hypot(self.oval[1]),
            oval_turn_rad: turn.rem_euclid(std::f64::consts::PI),
            runout_mm: x.hypot(y),
            runout_turn_rad: y.atan2(x).rem_euclid(std::f64::consts::TAU),
        })
    }

    pub(super) fn knows_centre(&self) -> bool {
        self.centre.is_some()
    }
}

/// The parameters that are wanted, the others 0, by the normal equations; `None` where the rows do
/// not tell them.
fn least_squares(
    rows: impl Iterator<Item = ([f64; 6], f64)>,
    wanted: [bool; 6],
) -> Option<[f64; 6]> {
    let mut normal = [[0.0; 7]; 6];
    let mut count = 0.0_f64;
    for (row, value) in rows {
        count += 1.0;
        for (line, a) in normal.iter_mut().zip(row) {
            for (cell, b) in line.iter_mut().zip(row.into_iter().chain([value])) {
                *cell += a * b;
            }
        }
    }
    let order: Vec<usize> = (0..6).filter(|&k| wanted[k]).collect();
    for (done, &k) in order.iter().enumerate() {
        let pivot = normal[k][k];
        if pivot <= LEAST_PIVOT * count.max(1.0) / 2.0 || !pivot.is_finite() {
            return None;
        }
        let line = normal[k];
        for (other, &j) in order.iter().enumerate() {
            if other != done {
                let share = normal[j][k] / pivot;
                normal[j].iter_mut().zip(line).for_each(|(cell, above)| *cell -= share * above);
            }
        }
    }
    Some(std::array::from_fn(|k| if wanted[k] { normal[k][6] / normal[k][k] } else { 0.0 }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn planted(turns: &[f64], value: impl Fn(f64) -> f64) -> Vec<At> {
        turns
            .iter()
            .map(|deg| At { turn_rad: deg.to_radians(), value_mm: value(deg.to_radians()) })
            .collect()
    }

    #[test]
    fn what_was_planted_is_got_back() {
        let ware = OutOfRound {
            at_mm: 0.0,
            oval_mm: 0.8,
            oval_turn_rad: 0.5,
            runout_mm: 0.3,
            runout_turn_rad: 4.0,
        };
        let across = planted(&[0.0, 50.0, 110.0], |t| 80.0 + 0.4 * (2.0 * (t - 0.5)).cos());
        let dial = |turns: &[f64]| planted(turns, |t| 1.7 + ware.off_mm(t));
        let near = |found: Option<OutOfRound>| {
            let found = found.unwrap_or_default();
            let off = [
                found.oval_mm - ware.oval_mm,
                found.oval_turn_rad - ware.oval_turn_rad,
                found.runout_mm - ware.runout_mm,
                found.runout_turn_rad - ware.runout_turn_rad,
            ];
            assert!(off.iter().all(|off| off.abs() < 1e-9), "{found:?}");
        };
        near(Around::of(&across, &dial(&[10.0, 130.0, 250.0])).out_of_round(0.0));
        near(Around::of(&[], &dial(&[0.0, 72.0, 144.0, 216.0, 288.0])).out_of_round(0.0));
        near(Around::of(&across, &dial(&[0.0, 90.0, 180.0, 270.0])).out_of_round(0.0));
    }

    #[test]
    fn too_few_turns_tell_less() {
        let two = planted(&[20.0, 110.0], |t| 80.0 + 0.4 * (2.0 * t - 0.7).cos());
        let found = Around::of(&two, &[]);
        assert_eq!((found.oval_known, found.knows_centre()), (1, false));
        for at in &two {
            assert!((80.0 + found.wider_mm(at.turn_rad) - at.value_mm).abs() < 1e-9);
        }
        // The same turn twice, or turns a hair apart, tell no oval.
        assert_eq!(Around::of(&planted(&[5.0, 185.0, 6.0], |_| 80.0), &[]).oval_known, 0);
        assert!(!Around::of(&[], &planted(&[0.0, 180.0], |_| 0.1)).knows_centre());
        assert!(Around::of(&[], &[]).out_of_round(0.0).is_none());
    }
}
