//! One straight move in axis space: its length, its direction and what the axes allow along it.

use super::limits::Reciprocals;

/// Lengths below this move nothing: their squares leave the range of `f64`.
const NOTHING: f64 = 1e-100;

/// A move measured against the axes' limits.
///
/// Along the unit direction `t` axis `i` moves at `|t_i|` times the path's speed, so the path may
/// go at `v = min_i v_i/|t_i|` and be accelerated by `a = min_i a_i/|t_i|`. With the move `d = L t`
/// that is `v = L / max_i(|d_i|/v_i)`: the maximum is the least time the move can take, and
/// likewise `a = L / max_i(|d_i|/a_i)`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<const N: usize> {
    pub(super) length: f64,
    pub(super) unit: [f64; N],
    /// `max |d_i|/v_i`, seconds.
    pub(super) least_s: f64,
    /// `max |d_i|/a_i`, seconds squared.
    pub(super) least_s2: f64,
    pub(super) acceleration_axis: u8,
}

impl<const N: usize> Line<N> {
    /// `None` where nothing moves. What is not finite comes out as a length that is not.
    #[inline]
    pub(super) fn measure(delta: &[f64; N], limits: &Reciprocals<N>) -> Option<Self> {
        let mut square = 0.0;
        let mut least_s = 0.0;
        let mut least_s2 = 0.0;
        let mut acceleration_axis = 0_u8;
        for (axis, part) in delta.iter().enumerate() {
            let size = part.abs();
            square += size * size;
            let seconds = size * limits.speed[axis];
            let seconds2 = size * limits.acceleration[axis];
            least_s = if seconds > least_s { seconds } else { least_s };
            #[allow(clippy::cast_possible_truncation)]
            if seconds2 > least_s2 {
                least_s2 = seconds2;
                acceleration_axis = axis as u8;
            }
        }
        if square <= NOTHING * NOTHING {
            return None;
        }
        let length = square.sqrt();
        let inverse = 1.0 / length;
        let mut unit = *delta;
        for part in &mut unit {
            *part *= inverse;
        }
        Some(Self { length, unit, least_s, least_s2, acceleration_axis })
    }
}

/// The axis whose speed limits the move: it alone needs the least time.
pub(super) fn speed_axis<const N: usize>(
    delta: &[f64; N],
    limits: &Reciprocals<N>,
    least_s: f64,
) -> u8 {
    let axis = delta.iter().zip(&limits.speed).position(|(d, per)| d.abs() * per >= least_s);
    axis.and_then(|axis| u8::try_from(axis).ok()).unwrap_or(0)
}

/// `max |d_i|/j_i`, seconds cubed; zero where no axis that moves has a jerk limit.
pub(super) fn least_s3<const N: usize>(delta: &[f64; N], inverse_jerk: &[f64; N]) -> f64 {
    delta.iter().zip(inverse_jerk).fold(0.0_f64, |most, (d, j)| most.max(d.abs() * j))
}
