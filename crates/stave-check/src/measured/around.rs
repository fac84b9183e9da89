//! A place read around the turn: its ellipse and its centre, by least squares.

use std::f64::consts::{PI, TAU};

use stave_wall::OutOfRound;

/// What is told along some direction counts where readings spread evenly would tell it at most so
/// many times as well, in squares of the error: at 0.1 an error of a reading is worth little more
/// than three times what it is when they are spread evenly. This is the condition of the fit, so
/// that more readings of the same few turns do not mend it.
const LEAST_SHARE: f64 = 0.1;
/// Less than this share is rounding.
const NOTHING: f64 = 1e-9;

/// A reading at a turn, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct At {
    pub(super) turn_rad: f64,
    pub(super) value_mm: f64,
}

/// How well dial readings tell where the centre lies.
#[derive(Clone, Copy, Debug, Default, Eq, Ord, PartialEq, PartialOrd)]
pub enum CentreKnown {
    /// No dial was read.
    #[default]
    Unread,
    /// The dial was read at too few turns, or too near to each other.
    Untold,
    /// Along one turn and against it only, so that the runout may be greater.
    AlongOne,
    /// Wholly, were the place round: what is taken for runout may be oval in part or all of it.
    UnlessOval,
    /// Whatever the oval.
    Wholly,
}

/// What readings around one place tell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Around {
    /// The oval by its cosine and sine about twice the turn, as parts of a diameter, mm.
    oval: [f64; 2],
    /// How much of the oval the readings tell: 0, 1 (along one turn only) or 2.
    pub(super) oval_known: u8,
    /// Where the centre lies, mm; 0 where no dial told.
    centre: [f64; 2],
    pub(super) centre_known: CentreKnown,
}

impl Around {
    /// Of diameters across and of dial readings that share a zero, with all readings of one weight.
    /// A diameter at `θ` is `D` and `p cos 2θ + q sin 2θ`, a dial reading `z + x cos θ + y sin θ`
    /// and half of that.
    ///
    /// First the oval, whatever size and centre are; then the centre, whatever is not known of the
    /// oval, or else as if that were nothing. Of each as much as the readings tell, direction by
    /// direction of the reduced normal equations.
    pub(super) fn of(diameters: &[At], dial: &[At]) -> Self {
        let mut normal = Normal::default();
        for at in diameters {
            let (sin, cos) = (2.0 * at.turn_rad).sin_cos();
            normal.add([1.0, 0.0, cos, sin, 0.0, 0.0], at.value_mm);
        }
        for at in dial {
            let (sin2, cos2) = (2.0 * at.turn_rad).sin_cos();
            let (sin, cos) = at.turn_rad.sin_cos();
            normal.add([0.0, 1.0, 0.5 * cos2, 0.5 * sin2, cos, sin], at.value_mm);
        }
        // What as many readings spread evenly would tell of the oval, and of the centre.
        let even_oval = count(diameters) / 2.0 + count(dial) / 8.0;
        let even_centre = count(dial) / 2.0;
        let sizes = normal.without(0).without(1);
        let oval = sizes.without_pair(CENTRE, NOTHING * even_centre).told(OVAL, even_oval);
        let (mut found, mut centre_known) = ([0.0; 2], CentreKnown::Untold);
        if dial.is_empty() {
            centre_known = CentreKnown::Unread;
        } else {
            // The oval's own equations are still in, so that what they tell counts.
            let whatever = sizes.without_pair(OVAL, NOTHING * even_oval).told(CENTRE, even_centre);
            let round = sizes.given(OVAL, oval.value).told(CENTRE, even_centre);
            if whatever.known == 2 {
                (found, centre_known) = (whatever.value, CentreKnown::Wholly);
            } else if round.known == 2 && oval.known < 2 {
                (found, centre_known) = (round.value, CentreKnown::UnlessOval);
            } else if whatever.known == 1 {
                (found, centre_known) = (whatever.value, CentreKnown::AlongOne);
            }
        }
        Self { oval: oval.value, oval_known: oval.known, centre: found, centre_known }
    }

    /// The greatest less the least diameter, as far as it is known, mm.
    pub(super) fn oval_mm(&self) -> f64 {
        2.0 * self.oval[0].hypot(self.oval[1])
    }

    /// What the oval adds to the diameter at a turn, mm.
    pub(super) fn wider_mm(&self, turn_rad: f64) -> f64 {
        let (sin, cos) = (2.0 * turn_rad).sin_cos();
        self.oval[0] * cos + self.oval[1] * sin
    }

    /// What the readings tell of the place; `None` where nothing.
    pub(super) fn out_of_round(&self, at_mm: f64) -> Option<OutOfRound> {
        if self.oval_known == 0 && self.centre_known < CentreKnown::AlongOne {
            return None;
        }
        let [x, y] = self.centre;
        // What lies a last bit before a full turn comes out as the turn itself.
        let turn = |rad: f64, turn: f64| Some(rad.rem_euclid(turn)).filter(|rad| *rad < turn);
        Some(OutOfRound {
            at_mm,
            oval_mm: self.oval_mm(),
            oval_turn_rad: turn(0.5 * self.oval[1].atan2(self.oval[0]), PI).unwrap_or(0.0),
            runout_mm: x.hypot(y),
            runout_turn_rad: turn(y.atan2(x), TAU).unwrap_or(0.0),
        })
    }
}

fn count(values: &[At]) -> f64 {
    values.iter().fold(0.0, |count, _| count + 1.0)
}

/// Where the oval's and the centre's two parameters stand.
const OVAL: usize = 2;
const CENTRE: usize = 4;

/// Normal equations of diameter, dial's zero, oval and centre, their right side last.
#[derive(Clone, Copy, Default)]
struct Normal([[f64; 7]; 6]);

/// Two parameters as far as they are told, and along how many directions.
struct Told {
    value: [f64; 2],
    known: u8,
}

impl Normal {
    fn add(&mut self, row: [f64; 6], value: f64) {
        for (line, a) in self.0.iter_mut().zip(row) {
            for (cell, b) in line.iter_mut().zip(row.into_iter().chain([value])) {
                *cell += a * b;
            }
        }
    }

    /// With one parameter free: its equation taken off the others.
    fn without(&self, k: usize) -> Self {
        let (mut rest, line) = (*self, self.0[k]);
        if line[k] > 0.0 {
            for other in &mut rest.0 {
                let share = other[k] / line[k];
                other.iter_mut().zip(line).for_each(|(cell, own)| *cell -= share * own);
            }
        }
        rest
    }

    /// With two parameters free, along each direction in which they bear on anything.
    fn without_pair(&self, k: usize, nothing: f64) -> Self {
        let mut rest = *self;
        for (strength, [a, b]) in self.directions(k) {
            if strength > nothing {
                let line: [f64; 7] =
                    std::array::from_fn(|j| a * self.0[k][j] + b * self.0[k + 1][j]);
                for (other, own) in rest.0.iter_mut().zip(&self.0) {
                    let share = (a * own[k] + b * own[k + 1]) / strength;
                    other.iter_mut().zip(line).for_each(|(cell, of)| *cell -= share * of);
                }
            }
        }
        rest
    }

    /// With two parameters of known value.
    fn given(&self, k: usize, value: [f64; 2]) -> Self {
        let mut rest = *self;
        for line in &mut rest.0 {
            line[6] -= line[k] * value[0] + line[k + 1] * value[1];
        }
        rest
    }

    /// Two parameters along the directions in which they are told well enough, against `even`.
    fn told(&self, k: usize, even: f64) -> Told {
        let mut told = Told { value: [0.0; 2], known: 0 };
        for (strength, [a, b]) in self.directions(k) {
            if strength >= LEAST_SHARE * even && strength > 0.0 {
                let along = (a * self.0[k][6] + b * self.0[k + 1][6]) / strength;
                told.value[0] += a * along;
                told.value[1] += b * along;
                told.known += 1;
            }
        }
        told
    }

    /// The eigenvalues and eigenvectors of two parameters' own part.
    fn directions(&self, k: usize) -> [(f64, [f64; 2]); 2] {
        let (a, b, c) = (self.0[k][k], self.0[k][k + 1], self.0[k + 1][k + 1]);
        let (middle, half) = (0.5 * (a + c), (0.5 * (a - c)).hypot(b));
        let (sin, cos) = (0.5 * b.atan2(0.5 * (a - c))).sin_cos();
        [(middle + half, [cos, sin]), (middle - half, [-sin, cos])]
    }
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
        assert_eq!((found.oval_known, found.centre_known), (1, CentreKnown::Unread));
        for at in &two {
            assert!((80.0 + found.wider_mm(at.turn_rad) - at.value_mm).abs() < 1e-9);
        }
        // The same turn twice, or turns a hair apart, tell no oval.
        assert_eq!(Around::of(&planted(&[5.0, 185.0, 6.0], |_| 80.0), &[]).oval_known, 0);
        assert!(Around::of(&[], &[]).out_of_round(0.0).is_none());
    }

    fn ware(oval_mm: f64, runout_mm: f64, runout_deg: f64) -> OutOfRound {
        OutOfRound {
            at_mm: 0.0,
            oval_mm,
            oval_turn_rad: 0.3,
            runout_mm,
            runout_turn_rad: f64::to_radians(runout_deg),
        }
    }

    /// How a ware is read: diameters at some turns, the dial at others.
    fn read(ware: OutOfRound, across: &[f64], dial: &[f64]) -> Around {
        let wide = |t: f64| 80.0 + 0.5 * ware.oval_mm * (2.0 * (t - ware.oval_turn_rad)).cos();
        Around::of(&planted(across, wide), &planted(dial, |t| 1.7 + ware.off_mm(t)))
    }

    /// Three diameters tell the oval, two dial turns how far the centre lies along the line that
    /// they differ by.
    #[test]
    fn dials_at_few_turns_tell_what_lies_along_one() {
        let three = [0.0, 60.0, 120.0];
        let found = read(ware(0.6, 0.5, 0.0), &three, &[0.0, 180.0]);
        assert_eq!((found.oval_known, found.centre_known), (2, CentreKnown::AlongOne));
        let round = found.out_of_round(0.0).unwrap();
        assert!((round.runout_mm - 0.5).abs() < 1e-9 && round.runout_turn_rad.abs() < 1e-9);
        assert!((round.oval_mm - 0.6).abs() < 1e-9, "{round:?}");
        // 30 degrees off that line 0.5 mm show as 0.433 mm: it may be greater, never less.
        let round = read(ware(0.6, 0.5, 30.0), &three, &[0.0, 180.0]).out_of_round(0.0).unwrap();
        assert!((round.runout_mm - 0.5 * 0.75_f64.sqrt()).abs() < 1e-9, "{round:?}");
        // Three within 60 degrees tell it along their chord, which runs at 120.
        let found = read(ware(0.6, 0.5, 120.0), &three, &[0.0, 30.0, 60.0]);
        let round = found.out_of_round(0.0).unwrap();
        assert_eq!(found.centre_known, CentreKnown::AlongOne);
        assert!((round.runout_mm - 0.5).abs() < 1e-9, "{round:?}");
        // Opposite turns are alike in an oval, so that it hides in nothing.
        let found = read(ware(0.6, 0.5, 0.0), &[], &[0.0, 180.0]);
        assert_eq!((found.oval_known, found.centre_known), (0, CentreKnown::AlongOne));
        assert!((found.out_of_round(0.0).unwrap().runout_mm - 0.5).abs() < 1e-9);
        for few in [&[40.0][..], &[0.0, 5.0], &[0.0, 10.0, 20.0]] {
            let found = read(ware(0.6, 0.5, 0.0), &three, few);
            assert_eq!((found.oval_known, found.centre_known), (2, CentreKnown::Untold));
        }
    }

    /// Three dial turns fit a runout to what is nothing but oval: that is told, not believed.
    #[test]
    fn what_may_be_oval_is_told_apart_from_runout_only_by_enough_turns() {
        use CentreKnown::{UnlessOval, Untold, Wholly};
        let dial = |count: i32| -> Vec<f64> {
            (0..count).map(|k| 360.0 / f64::from(count) * f64::from(k)).collect()
        };
        let known = |across: &[f64], dial: &[f64]| {
            let found = read(ware(0.6, 0.5, 20.0), across, dial);
            (found.oval_known, found.centre_known)
        };
        assert_eq!(known(&[], &dial(3)), (0, UnlessOval));
        assert_eq!(known(&[0.0, 90.0], &dial(3)), (1, UnlessOval));
        assert_eq!(known(&[0.0, 60.0, 120.0], &dial(3)), (2, Wholly));
        assert_eq!(known(&[], &dial(5)), (2, Wholly));
        // Four even ones see no oval halfway between them, and it does not show as runout.
        assert_eq!(known(&[], &dial(4)), (1, Wholly));
        let round = read(ware(0.6, 0.5, 20.0), &[], &dial(4)).out_of_round(0.0).unwrap();
        assert!((round.runout_mm - 0.5).abs() < 1e-9, "{round:?}");
        // Many within a quarter are as few.
        let within = [0.0, 20.0, 40.0, 60.0, 80.0, 100.0];
        assert_eq!(known(&[], &within), (0, Untold));
        assert_eq!(known(&[], &[45.0, 195.0, 240.0, 270.0, 285.0]), (1, UnlessOval));
        let pure = read(ware(0.6, 0.0, 0.0), &[], &dial(3)).out_of_round(0.0).unwrap();
        assert!((pure.runout_mm - 0.15).abs() < 1e-9, "a quarter of the oval: {pure:?}");
    }

    #[test]
    fn a_turn_is_less_than_a_whole_one() {
        for off in [0.0, -1e-17, 1e-17, -1e-12] {
            let dial = planted(&[0.0, 72.0, 144.0, 216.0, 288.0], |t| (t - off).cos());
            let round = Around::of(&[], &dial).out_of_round(0.0).unwrap();
            assert!(round.runout_turn_rad < TAU && round.oval_turn_rad < PI, "{round:?}");
        }
    }
}
