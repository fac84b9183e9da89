//! Straightest paths on the wall.
//!
//! A geodesic keeps Clairaut's constant `c = r sin α`, `α` its heading against the meridian (A. C.
//! Clairaut, *Détermination géométrique de la perpendiculaire à la méridienne*, 1733; M. P. do
//! Carmo, *Differential Geometry of Curves and Surfaces*, 4-4). On a cone or a cylinder it is a
//! straight line of the unrolled wall, in closed form; over an edge between two of them it keeps
//! its angle with the parallel. On a curved wall it is integrated.
//!
//! Beside the place, the Jacobi field `J` is carried: how far two geodesics that leave the anchor
//! with headings `dα` apart lie from each other, over `dα`. It starts as the distance itself and
//! obeys `J″ = −K J`, `K` the Gaussian curvature. Where it comes down to 0 the geodesics meet (a
//! conjugate point) and a label would fold.

mod cone;
mod curved;

use crate::Wall;
use crate::wall::Body;

pub(crate) use cone::ConeWalk;
pub(crate) use curved::CurvedWalk;

/// Where a geodesic starts.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Start {
    pub(crate) s_mm: f64,
    /// Cosine and sine of the heading, from the way of growing `s` towards growing turn.
    pub(crate) heading: (f64, f64),
}

/// Where a geodesic has got to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Arrival {
    pub(crate) s_mm: f64,
    /// Turn since the start, rad.
    pub(crate) turn_rad: f64,
    /// Cosine and sine of the heading there.
    pub(crate) heading: (f64, f64),
    /// The Jacobi field, mm per rad of heading.
    pub(crate) jacobi_mm: f64,
    /// Whether the Jacobi field has been down to 0 on the way.
    pub(crate) folded: bool,
}

impl Arrival {
    /// No place at all: the geodesic was asked to go on without end.
    const NOWHERE: Arrival = Arrival {
        s_mm: f64::NAN,
        turn_rad: f64::NAN,
        heading: (f64::NAN, f64::NAN),
        jacobi_mm: f64::NAN,
        folded: true,
    };
}

/// A geodesic on its way.
#[derive(Debug, Clone)]
pub(crate) enum Walk {
    Cone(ConeWalk),
    /// With the Jacobi field.
    Curved(CurvedWalk<5>),
}

impl Walk {
    pub(crate) fn new(wall: &Wall, start: Start) -> Walk {
        match &wall.body {
            Body::Straight(_) => Walk::Cone(ConeWalk::new(wall, start)),
            Body::Curved { .. } => Walk::Curved(CurvedWalk::new(wall, start)),
        }
    }

    pub(crate) fn advance(&mut self, wall: &Wall, distance_mm: f64) -> Arrival {
        match (self, &wall.body) {
            (Walk::Cone(walk), Body::Straight(frusta)) => walk.advance(wall, frusta, distance_mm),
            (Walk::Curved(walk), _) => walk.advance(wall, distance_mm),
            // A walk begun on another wall has no place on this one.
            (Walk::Cone(_), Body::Curved { .. }) => Arrival::NOWHERE,
        }
    }
}

/// Where a geodesic ends after a distance, with the Jacobi field.
pub(crate) fn arrive(wall: &Wall, start: Start, distance_mm: f64) -> Arrival {
    Walk::new(wall, start).advance(wall, distance_mm)
}

/// As [`arrive`], where only place and turn are wanted: on a curved wall about a third faster.
pub(crate) fn arrive_bare(wall: &Wall, start: Start, distance_mm: f64) -> Arrival {
    match &wall.body {
        Body::Straight(_) => arrive(wall, start, distance_mm),
        Body::Curved { .. } => CurvedWalk::<3>::new(wall, start).advance(wall, distance_mm),
    }
}
