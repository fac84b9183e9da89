//! The short way for scan lines: one axis going on as it went.

use super::line::Line;
use super::planner::{Asked, Corners, Move};
use super::trapezoid::Label;

/// Speeds that differ by no more than this share are the same: an F word has six figures.
const SAME_SPEED: f64 = 1e-8;

/// The last move, if it was of one axis only and at a speed; all per unit of length.
#[derive(Clone, Copy, Debug)]
pub(super) struct Again {
    axis: usize,
    forward: bool,
    asked: Asked,
    pub(super) limit_s: f64,
    pub(super) nominal_s: f64,
    pub(super) gain: f64,
    pub(super) top: f64,
    pub(super) label: Label,
}

impl Again {
    #[inline]
    pub(super) fn of<const N: usize>(
        one: &Move<N>,
        line: &Line<N>,
        corners: Corners,
        (limit_s, nominal_s, gain, top): (f64, f64, f64, f64),
        label: Label,
    ) -> Option<Self> {
        let axis = usize::from(line.acceleration_axis);
        let length = one.delta.get(axis)?.abs();
        if length != line.length || corners == Corners::Stop {
            return None;
        }
        let per = 1.0 / length;
        Some(Self {
            axis,
            forward: one.delta[axis] > 0.0,
            asked: one.asked,
            limit_s: limit_s * per,
            nominal_s: nominal_s * per,
            gain: gain * per,
            top,
            label,
        })
    }

    /// The length of `one` if it goes on in the same way.
    #[inline]
    pub(super) fn length<const N: usize>(&self, one: &Move<N>) -> Option<f64> {
        let along = *one.delta.get(self.axis)?;
        // Above the least length that moves at all, and far from overflow.
        let length = if self.forward { along } else { -along };
        if !(1e-50..1e50).contains(&length) || !self.asks_the_same(one.asked, length) {
            return None;
        }
        let others = one.delta.iter().fold(0.0, |sum, part| sum + part.abs());
        (others == length).then_some(length)
    }

    /// Durations ask the same where they ask for the same speed, to what words can hold of it.
    #[inline]
    fn asks_the_same(&self, asked: Asked, length: f64) -> bool {
        match (asked, self.asked) {
            (Asked::Duration(seconds), Asked::Duration(_)) => {
                (seconds - length * self.nominal_s).abs() <= SAME_SPEED * seconds
            }
            (asked, before) => asked == before,
        }
    }
}
