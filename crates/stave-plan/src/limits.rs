//! What the axes can do, and what the planner refuses to be told.

use thiserror::Error;

/// The least and greatest limit the planner takes, in units per second, per second squared or
/// cubed. Beyond them squares leave the range in which sums of `f64` mean anything; no axis is that
/// slow or that fast.
pub const LIMIT_RANGE: (f64, f64) = (1e-9, 1e12);

/// What one axis can do, in its own units: mm for a linear axis, rotary units for a rotary.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisLimit {
    /// Greatest speed, units per second.
    pub speed_per_s: f64,
    /// Greatest acceleration, either way, units per second squared.
    pub acceleration_per_s2: f64,
    /// Greatest jerk, units per second cubed; `None` where the controller has no jerk limit.
    pub jerk_per_s3: Option<f64>,
}

/// Why a plan cannot be made.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum PlanError {
    /// A limit that is not a usable number.
    #[error("the {what} of axis {axis} is {value}; give a number from 1e-9 to 1e12")]
    Limit {
        /// Index of the axis in the caller's order.
        axis: usize,
        /// `speed`, `acceleration` or `jerk`.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// A corner tolerance that is negative or not a number.
    #[error("the corner tolerance is {value}; give zero or more, at most 1e12")]
    CornerTolerance {
        /// What was given.
        value: f64,
    },
    /// A move that is too long, not a number, or asked to last for ever.
    #[error(
        "a move of {length} axis units in {seconds} s is more than can be planned; keep both \
         below 1e100"
    )]
    Move {
        /// Its length in axis space.
        length: f64,
        /// How long it would last at the speed asked or allowed, seconds.
        seconds: f64,
    },
}

/// The limits turned into what the hot path wants: reciprocals, so that a least time is a product
/// and a maximum.
#[derive(Clone, Debug)]
pub(super) struct Reciprocals<const N: usize> {
    pub(super) speed: [f64; N],
    pub(super) acceleration: [f64; N],
    /// Zero where the axis has no jerk limit; `None` where none has one.
    pub(super) jerk: Option<[f64; N]>,
}

impl<const N: usize> Reciprocals<N> {
    pub(super) fn new(axes: &[AxisLimit; N]) -> Result<Self, PlanError> {
        let mut made = Self { speed: [0.0; N], acceleration: [0.0; N], jerk: None };
        let mut jerk = [0.0; N];
        for (axis, limit) in axes.iter().enumerate() {
            made.speed[axis] = reciprocal(axis, "speed", limit.speed_per_s)?;
            made.acceleration[axis] = reciprocal(axis, "acceleration", limit.acceleration_per_s2)?;
            if let Some(value) = limit.jerk_per_s3 {
                jerk[axis] = reciprocal(axis, "jerk", value)?;
                made.jerk = Some(jerk);
            }
        }
        if made.jerk.is_some() {
            made.jerk = Some(jerk);
        }
        Ok(made)
    }
}

fn reciprocal(axis: usize, what: &'static str, value: f64) -> Result<f64, PlanError> {
    if value >= LIMIT_RANGE.0 && value <= LIMIT_RANGE.1 {
        Ok(1.0 / value)
    } else {
        Err(PlanError::Limit { axis, what, value })
    }
}
