//! How fast a flat move goes.

use stave_toolpath::Feed;

use crate::curve::Curve;
use stave_rig::Misfit;

/// A flat move's speed: over the flat plane, and, for moves that only change Z, its whole time.
#[derive(Clone, Copy, Debug)]
pub(super) struct FlatSpeed {
    /// Seconds the whole flat move takes.
    pub(super) whole_s: f64,
    /// mm/s in the flat plane, where the move keeps one; `None` where it moves in Z alone or speeds
    /// up and slows down under an arc in ZX or YZ.
    pub(super) even_mm_per_s: Option<f64>,
}

impl FlatSpeed {
    /// The time for a length on the wall that is `share` of the flat move.
    #[inline]
    pub(super) fn time_s(self, wall_mm: f64, share: f64) -> f64 {
        match self.even_mm_per_s {
            Some(speed) => wall_mm / speed,
            None => self.whole_s * share,
        }
    }
}

#[inline]
pub(super) fn flat_speed(curve: &Curve<'_>, feed: Feed) -> Result<FlatSpeed, Misfit> {
    let value = match feed {
        Feed::PerMinute(f) | Feed::InverseTime(f) => f,
    };
    if !(value > 0.0 && value.is_finite()) {
        return Err(Misfit::FeedNotPositive { feed: value });
    }
    if let (Curve::Line { from, to }, Feed::PerMinute(f)) = (curve, feed)
        && from.z == to.z
    {
        return Ok(FlatSpeed { whole_s: 0.0, even_mm_per_s: Some(f / 60.0) });
    }
    let length_mm = curve.length_mm();
    let whole_s = match feed {
        Feed::PerMinute(f) => length_mm * 60.0 / f,
        Feed::InverseTime(f) => 60.0 / f,
    };
    let even_mm = match curve {
        Curve::Line { from, to } => Some((to.u - from.u).hypot(to.v - from.v)),
        Curve::Arc { from, to, arc, .. } if arc.plane == stave_toolpath::Plane::Xy => {
            Some(arc.radius_mm(from) * arc.sweep_rad.abs())
                .filter(|_| from != to || arc.sweep_rad != 0.0)
        }
        Curve::Arc { .. } => None,
    };
    let even_mm_per_s = even_mm.filter(|mm| *mm > 0.0 && whole_s > 0.0).map(|mm| mm / whole_s);
    Ok(FlatSpeed { whole_s, even_mm_per_s })
}
