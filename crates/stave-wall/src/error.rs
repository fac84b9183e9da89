//! What can be wrong with a wall or a lay, where, and what to do about it.

use thiserror::Error;

use crate::LabelLimit;

/// Why no wall can be made of what was given.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum WallError {
    /// Fewer than two stations.
    #[error("a wall needs at least two stations, found {count}: measure one more diameter")]
    TooFewStations {
        /// How many there were.
        count: usize,
    },
    /// A coordinate is not a finite number.
    #[error("station {number}: {what} is not a finite number: give its value in mm")]
    NotFinite {
        /// Which station, counted from 1.
        number: usize,
        /// Which of its values.
        what: &'static str,
    },
    /// The stations are out of order, or two are at the same place.
    #[error(
        "station {number} is at {at_mm} mm, not beyond the one before it at {before_mm} mm: list \
         the stations \
         by strictly increasing distance along the axis"
    )]
    NotIncreasing {
        /// Which station, counted from 1.
        number: usize,
        /// Where it is.
        at_mm: f64,
        /// Where the one before it is.
        before_mm: f64,
    },
    /// A radius of nothing or less.
    #[error(
        "station {number}: the radius is {radius_mm} mm, and a wall needs more than 0 everywhere"
    )]
    RadiusNotPositive {
        /// Which station, counted from 1.
        number: usize,
        /// The radius found.
        radius_mm: f64,
    },
    /// The numbers are so far apart in size that lengths cannot be computed.
    #[error(
        "the wall is too large or too thin to compute with: radii and distances must lie within \
         1e-100 to 1e100 mm"
    )]
    OutOfRange,
    /// A parametric curve that is no outline of a wall.
    #[error(
        "the curve at parameter {parameter}: {what}: a wall's outline has a finite place, a \
         radius above 0 and \
         goes on along the axis"
    )]
    NotAnOutline {
        /// Where on the curve.
        parameter: f64,
        /// What is wrong there.
        what: &'static str,
    },
    /// A parametric curve too rough to follow.
    #[error(
        "the curve near parameter {parameter} is too rough to follow: check that its derivatives \
         belong to it"
    )]
    Unresolved {
        /// Where on the curve.
        parameter: f64,
    },
}

/// Why a lay cannot be made or used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum LayError {
    /// A setting is not a finite number.
    #[error("{what} of the lay is not a finite number")]
    NotFinite {
        /// Which setting.
        what: &'static str,
    },
    /// A reference radius of nothing or less.
    #[error(
        "the reference radius of the lay is {radius_mm} mm and must be above 0: leave it out to \
         use the wall's largest"
    )]
    ReferenceRadius {
        /// The radius found.
        radius_mm: f64,
    },
    /// A name that is none of the lays.
    #[error("\"{found}\" is not a lay: one of even-angle, true-width, true-shape, label")]
    UnknownName {
        /// What was found.
        found: String,
    },
    /// A label that does not lie on this wall about this anchor.
    #[error(
        "the label reaches {reach_mm:.2} mm from its anchor, and {limit} {room_mm:.2} mm that \
         way: no more than \
         {} % of its size fits; else move its anchor or take true-shape",
        scale_percent.floor()
    )]
    LabelTooLarge {
        /// How far the label reaches where it fails first, mm.
        reach_mm: f64,
        /// How far it may reach that way, mm.
        room_mm: f64,
        /// The greatest size that would fit, over the size it has, percent.
        scale_percent: f64,
        /// What stops it.
        limit: LabelLimit,
    },
}
