//! Sums over settled moves.

use super::settled::{MoveKind, Settle, Settled};

/// A sum over moves of one kind, or of one section of a program.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sum {
    /// How many moves.
    pub moves: u64,
    /// Time, seconds.
    pub duration_s: f64,
    /// Of that, the time at the speed asked, seconds.
    pub at_asked_s: f64,
    /// Length on the wall, mm.
    pub wall_mm: f64,
}

impl Sum {
    /// Adds a move.
    #[inline]
    pub fn add(&mut self, settled: &Settled) {
        self.moves += 1;
        self.duration_s += settled.duration_s;
        self.at_asked_s += settled.at_asked_s();
        self.wall_mm += settled.wall_mm;
    }

    fn join(&mut self, other: &Self) {
        self.moves += other.moves;
        self.duration_s += other.duration_s;
        self.at_asked_s += other.at_asked_s;
        self.wall_mm += other.wall_mm;
    }

    /// Share of the time spent below the speed asked, 0 to 1; zero where there is no time at all.
    #[must_use]
    pub fn below_asked(&self) -> f64 {
        if self.duration_s > 0.0 {
            (1.0 - self.at_asked_s / self.duration_s).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }

    /// Mean speed on the wall, mm/s; zero where there is no time at all.
    #[must_use]
    pub fn mean_wall_mm_per_s(&self) -> f64 {
        if self.duration_s > 0.0 { self.wall_mm / self.duration_s } else { 0.0 }
    }
}

/// Sums over a whole program: by kind of move, by the axis that binds, and the greatest speed on
/// the wall.
///
/// An axis binds a move while it ramps, if it is the one that limits the acceleration along it, and
/// while it goes at its limit, if it is that axis's speed and not the asked one. With a jerk limit
/// the ramps count for the axis that limits the acceleration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Totals<const N: usize> {
    /// G0.
    pub travel: Sum,
    /// Feeds with the beam dark.
    pub dark: Sum,
    /// Feeds with the beam on.
    pub burn: Sum,
    /// Per axis: how long it binds, seconds.
    pub bound_s: [f64; N],
    /// (peak² · wall², length²) of the burn that is fastest on the wall.
    fastest: (f64, f64),
}

impl<const N: usize> Default for Totals<N> {
    fn default() -> Self {
        let none = Sum::default();
        Self { travel: none, dark: none, burn: none, bound_s: [0.0; N], fastest: (0.0, 1.0) }
    }
}

impl<const N: usize> Totals<N> {
    /// Takes in what another stretch of the program came to.
    pub fn add(&mut self, other: &Self) {
        self.travel.join(&other.travel);
        self.dark.join(&other.dark);
        self.burn.join(&other.burn);
        for (seconds, more) in self.bound_s.iter_mut().zip(&other.bound_s) {
            *seconds += more;
        }
        if other.fastest.0 * self.fastest.1 > self.fastest.0 * other.fastest.1 {
            self.fastest = other.fastest;
        }
    }

    /// Everything, seconds; dwells and pauses are not moves and not in it.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.travel.duration_s + self.dark.duration_s + self.burn.duration_s
    }

    /// The greatest speed on the wall of any burn, mm/s.
    #[must_use]
    pub fn greatest_wall_mm_per_s(&self) -> f64 {
        (self.fastest.0 / self.fastest.1).sqrt()
    }

    /// The axis that binds longest, and for how long, seconds; `None` where none ever binds.
    #[must_use]
    pub fn slowest_axis(&self) -> Option<(usize, f64)> {
        let mut slowest = None;
        for (axis, &seconds) in self.bound_s.iter().enumerate() {
            if seconds > slowest.map_or(0.0, |(_, most)| most) {
                slowest = Some((axis, seconds));
            }
        }
        slowest
    }

    /// Share of the time of feeds, dark and burning, below the speed asked, 0 to 1.
    #[must_use]
    pub fn below_asked(&self) -> f64 {
        Sum {
            moves: 0,
            duration_s: self.dark.duration_s + self.burn.duration_s,
            at_asked_s: self.dark.at_asked_s + self.burn.at_asked_s,
            wall_mm: 0.0,
        }
        .below_asked()
    }
}

impl<const N: usize> Settle for Totals<N> {
    #[inline]
    fn settled(&mut self, settled: &Settled) {
        match settled.kind {
            MoveKind::Travel => self.travel.add(settled),
            MoveKind::Dark => self.dark.add(settled),
            MoveKind::Burn => {
                self.burn.add(settled);
                let speed = settled.peak_squared * settled.wall_mm * settled.wall_mm;
                let length = settled.length * settled.length;
                if speed * self.fastest.1 > self.fastest.0 * length {
                    self.fastest = (speed, length);
                }
            }
        }
        if let Some(bound) = self.bound_s.get_mut(settled.acceleration_axis as usize) {
            *bound += settled.ramp_s;
        }
        if let Some(bound) = self.bound_s.get_mut(settled.speed_axis as usize) {
            *bound += settled.duration_s - settled.ramp_s;
        }
    }
}
