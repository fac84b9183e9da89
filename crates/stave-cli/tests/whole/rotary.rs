//! The tilted rotary: machine words to places on the wall and back.

use crate::meridian::Meridian;
use crate::program::Axes;
use crate::settings::Machine;
use std::f64::consts::TAU;

#[derive(Clone, Debug)]
pub struct Rotary {
    tilt: f64,
    /// The crest's place along the machine at the zero, mm.
    zero_along: f64,
    zero_height: f64,
    zero_turn: f64,
    /// Signs of the word along the work and of the rotary word.
    along_sign: f64,
    turn_sign: f64,
    pub units_per_turn: f64,
    along: usize,
    rotary: usize,
    decimals: i32,
}

impl Rotary {
    pub fn new(
        wall: &Meridian,
        machine: &Machine,
        tilt: f64,
        zero: (f64, f64),
        toward_minus: bool,
    ) -> Self {
        let along_sign = if toward_minus { -1.0 } else { 1.0 };
        let mut rotary = Self {
            tilt: tilt.to_radians(),
            zero_along: 0.0,
            zero_height: 0.0,
            zero_turn: zero.1.to_radians(),
            along_sign,
            turn_sign: along_sign * if machine.reverse { -1.0 } else { 1.0 },
            units_per_turn: if machine.roller {
                TAU * wall.largest_radius()
            } else {
                machine.units_per_turn
            },
            along: machine.along,
            rotary: machine.rotary,
            decimals: machine.decimals,
        };
        rotary.zero_along = rotary.crest(wall, zero.0);
        rotary.zero_height = rotary.height(wall, zero.0);
        rotary
    }

    /// z cos τ − r sin τ.
    fn crest(&self, wall: &Meridian, z: f64) -> f64 {
        z * self.tilt.cos() - wall.at_z(z).r * self.tilt.sin()
    }

    /// z sin τ + r cos τ.
    fn height(&self, wall: &Meridian, z: f64) -> f64 {
        z * self.tilt.sin() + wall.at_z(z).r * self.tilt.cos()
    }

    /// The crest's height above that at the zero, mm.
    pub fn rise(&self, wall: &Meridian, s: f64) -> f64 {
        self.height(wall, wall.at_s(s).z) - self.zero_height
    }

    /// The exact words for a place on the wall: along the work, and the rotary.
    pub fn words(&self, wall: &Meridian, place: [f64; 2]) -> [f64; 2] {
        let along = self.crest(wall, wall.at_s(place[0]).z) - self.zero_along;
        [
            self.along_sign * along,
            self.turn_sign * (place[1] - self.zero_turn) / TAU * self.units_per_turn,
        ]
    }

    /// The place on the wall, `s` and turn, that the words put under the beam.
    pub fn place(&self, wall: &Meridian, words: [f64; 2]) -> [f64; 2] {
        let target = self.along_sign * words[0] + self.zero_along;
        // The crest grows with z wherever the beam can reach; past the ends with cos τ.
        let (mut a, mut b) = (wall.at_s(0.0).z, wall.at_s(wall.length()).z);
        while self.crest(wall, a) > target {
            a -= 50.0;
        }
        while self.crest(wall, b) < target {
            b += 50.0;
        }
        let (sin, cos) = self.tilt.sin_cos();
        let mut z = a
            + (b - a) * (target - self.crest(wall, a))
                / (self.crest(wall, b) - self.crest(wall, a));
        for _ in 0..80 {
            let section = wall.at_z(z);
            let miss = z * cos - section.r * sin - target;
            if miss > 0.0 {
                b = z;
            } else {
                a = z;
            }
            let next = z - miss / (cos - section.slope * sin);
            let step = if next >= a && next <= b { next } else { f64::midpoint(a, b) } - z;
            z += step;
            if step.abs() < 1e-12 * (1.0 + z.abs()) {
                break;
            }
        }
        let turn = self.zero_turn + self.turn_sign * words[1] / self.units_per_turn * TAU;
        [wall.s_of_z(z), turn]
    }

    /// The two words of a position.
    pub fn of_axes(&self, at: &Axes) -> [f64; 2] {
        [at[self.along], at[self.rotary]]
    }

    /// How far on the wall the words' rounding may shift a place, mm.
    pub fn rounding(&self, wall: &Meridian, s: f64) -> f64 {
        let half = 0.5 * 10f64.powi(-self.decimals);
        let section = wall.at_s(s);
        let along = half / (section.slope.atan() + self.tilt).cos();
        let around = half / self.units_per_turn * TAU * section.r;
        along.hypot(around)
    }
}
