//! How large a label may be.

use std::f64::consts::PI;
use std::fmt;

use crate::geodesic::{Arrival, Start, Walk};
use crate::{LayError, Wall};

/// Headings looked along, from one meridian over the parallel to the other; the other half is its
/// mirror image. They lie half a step off the meridian and the parallel.
const HEADINGS: usize = 360;
/// Strides along a geodesic before the limit is closed in on.
const STRIDES: usize = 128;

/// What stops a label.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LabelLimit {
    /// Nothing within reach: as far as the wall is long and half its girth.
    Nothing,
    /// Neighbouring geodesics meet: the wall is too curved, and the label would fold.
    Fold,
    /// The label goes half way round and meets itself.
    Itself,
    /// The wall ends.
    End,
}

impl fmt::Display for LabelLimit {
    /// The start of a sentence that goes on with a length.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            LabelLimit::Nothing => "there is room for",
            LabelLimit::Fold => "the wall is so curved that it folds beyond",
            LabelLimit::Itself => "it meets itself behind the blank beyond",
            LabelLimit::End => "the wall ends after",
        })
    }
}

/// How far a label reaches from its anchor, by direction.
///
/// A fold narrower than a quarter of a degree of heading is let pass: right at an edge of a
/// straight wall that bulges there, the geodesics nearly along the edge always meet, and a label
/// centred on a bulge of 2 degrees shifts by a hundredth of a millimetre there.
#[derive(Debug, Clone)]
pub struct LabelRoom {
    /// Room and what ends it, by heading from the way of growing `s`, half a step off.
    by_heading: Vec<(f64, LabelLimit)>,
}

impl LabelRoom {
    /// Looks along the geodesics from a place of the meridian.
    pub(crate) fn look(wall: &Wall, anchor_s_mm: f64) -> LabelRoom {
        let far_mm = wall.length_mm() + PI * wall.largest_radius_mm();
        let by_heading = (0..HEADINGS)
            .map(|i| {
                let (sin, cos) = (PI * (i as f64 + 0.5) / HEADINGS as f64).sin_cos();
                room_along(wall, Start { s_mm: anchor_s_mm, heading: (cos, sin) }, far_mm)
            })
            .collect();
        LabelRoom { by_heading }
    }

    /// The radius of the largest disc about the anchor that lies on the wall, mm, and what stops a
    /// larger one.
    pub fn radius_mm(&self) -> (f64, LabelLimit) {
        least(&self.by_heading)
    }

    /// How far a label may reach towards a flat point, given from the anchor, mm, and what stops
    /// it.
    pub fn towards(&self, along_mm: f64, around_mm: f64) -> (f64, LabelLimit) {
        let place = around_mm.abs().atan2(along_mm) / PI * HEADINGS as f64 - 0.5;
        // The heading lies between two that were looked along: the lesser holds.
        let below = place.floor().max(0.0) as usize;
        let last = HEADINGS - 1;
        least(&self.by_heading[below.min(last)..=(below + 1).min(last)])
    }

    /// Whether flat points, given from the anchor, mm, all lie on the wall.
    pub(crate) fn check(&self, points: impl Iterator<Item = (f64, f64)>) -> Result<(), LayError> {
        let mut worst: Option<(f64, f64, f64, LabelLimit)> = None;
        for (along_mm, around_mm) in points {
            let reach_mm = along_mm.hypot(around_mm);
            let (room_mm, limit) = self.towards(along_mm, around_mm);
            let scale = room_mm / reach_mm;
            if reach_mm > room_mm && worst.is_none_or(|(least, ..)| scale < least) {
                worst = Some((scale, reach_mm, room_mm, limit));
            }
        }
        match worst {
            None => Ok(()),
            Some((scale, reach_mm, room_mm, limit)) => Err(LayError::LabelTooLarge {
                reach_mm,
                room_mm,
                scale_percent: 100.0 * scale,
                limit,
            }),
        }
    }
}

fn least(rooms: &[(f64, LabelLimit)]) -> (f64, LabelLimit) {
    rooms
        .iter()
        .copied()
        .min_by(|one, other| one.0.total_cmp(&other.0))
        .unwrap_or((0.0, LabelLimit::Nothing))
}

/// How far a geodesic goes before something stops a label, up to `far_mm`.
fn room_along(wall: &Wall, start: Start, far_mm: f64) -> (f64, LabelLimit) {
    let limit_at = |arrival: &Arrival| {
        let on_wall = (0.0..=wall.length_mm()).contains(&arrival.s_mm);
        if !on_wall {
            Some(LabelLimit::End)
        } else if arrival.folded {
            Some(LabelLimit::Fold)
        } else if arrival.turn_rad.abs() >= PI {
            Some(LabelLimit::Itself)
        } else {
            None
        }
    };
    let mut walk = Walk::new(wall, start);
    let mut stride = far_mm / STRIDES as f64;
    let mut gone = 0.0;
    let mut limit = LabelLimit::Nothing;
    // Out until something stops it, then in ever smaller strides up to it.
    while gone < far_mm && stride > 1e-9 * far_mm {
        let before = walk.clone();
        match limit_at(&walk.advance(wall, stride)) {
            None => gone += stride,
            Some(found) => {
                limit = found;
                walk = before;
                stride *= 0.5;
            }
        }
    }
    (gone.min(far_mm), limit)
}
