//! Where a flat program burns, row by row: enough to say what a lay makes of it.

use kurbo::{Point, Rect};
use stave_check::{LayFigures, Sampled, lay_figures};
use stave_transform::Curve;
use stave_wall::{Lay, Wall};

/// The height of a row, mm along the flat plane.
const ROW_MM: f64 = 0.5;
/// Looks along an arc at the most.
const ARC_LOOKS: f64 = 48.0;
/// More rows than this are not kept: half a kilometre of wall.
const MOST_ROWS: usize = 1 << 20;

/// Points of the flat plane, mm.
type Points = Vec<(f64, f64)>;

/// For each row of the flat plane from where to where it burns.
#[derive(Clone, Debug, Default)]
pub(crate) struct Footprint {
    /// The first row that is kept, and from there on all up to the last.
    first: i64,
    rows: Vec<(f64, f64)>,
    bounds: Option<Rect>,
    /// Known to burn as far as its corners go, within one row: what comes mostly lies in it.
    near: Option<Rect>,
}

/// A row in which nothing burns.
const BARE: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);
/// The longest chord that stands for a part of an arc, mm.
const ARC_LOOK_MM: f64 = 0.4;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "the cast saturates, and rows are few"
)]
#[inline]
fn row_of(u_mm: f64) -> i64 {
    // The greatest whole number that is not above, without a call for it.
    let rows = u_mm * (1.0 / ROW_MM);
    let whole = rows as i64;
    whole - i64::from(whole as f64 > rows)
}

impl Footprint {
    /// Takes in a burn.
    #[inline]
    pub(crate) fn burn(&mut self, curve: &Curve<'_>) {
        if let Curve::Line { from, to } = curve {
            return self.line((from.u, from.v), (to.u, to.v));
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let looks = (curve.length_mm() / ARC_LOOK_MM).ceil().clamp(4.0, ARC_LOOKS) as u32;
        let mut before: Option<(f64, f64)> = None;
        curve.along(looks, |point| {
            let here = (point.u, point.v);
            if let Some(before) = before {
                self.line(before, here);
            }
            before = Some(here);
        });
    }

    /// Takes in a dot.
    pub(crate) fn dot(&mut self, u_mm: f64, v_mm: f64) {
        self.line((u_mm, v_mm), (u_mm, v_mm));
    }

    #[inline]
    fn line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let holds = |rect: &Rect, (u, v): (f64, f64)| {
            u >= rect.x0 && u <= rect.x1 && v >= rect.y0 && v <= rect.y1
        };
        if let Some(near) = &self.near
            && holds(near, from)
            && holds(near, to)
        {
            return;
        }
        self.line_anywhere(from, to);
    }

    /// As [`Footprint::line`], wherever the last one lay.
    fn line_anywhere(&mut self, from: (f64, f64), to: (f64, f64)) {
        self.rows_of(from, to);
        let row = row_of(to.0);
        let known = self.kept(row).copied().zip(self.bounds);
        // Rows are wider than what burns of them, and hold no more than their lower edge.
        #[expect(clippy::cast_precision_loss, reason = "rows that are kept are few")]
        let (edge, next) = (row as f64 * ROW_MM, (row as f64 + 1.0) * ROW_MM);
        self.near = known.map(|((least, most), bounds)| {
            Rect::new(edge.max(bounds.x0), least, next.next_down().min(bounds.x1), most)
        });
    }

    #[inline]
    fn kept(&self, row: i64) -> Option<&(f64, f64)> {
        usize::try_from(row.wrapping_sub(self.first)).ok().and_then(|index| self.rows.get(index))
    }

    /// The row, made where it is new; `None` where it lies too far from those that are kept.
    fn row(&mut self, row: i64) -> Option<&mut (f64, f64)> {
        if self.rows.is_empty() {
            self.first = row;
        }
        if row < self.first {
            let more = usize::try_from(self.first.checked_sub(row)?).ok()?;
            if self.rows.len().checked_add(more)? > MOST_ROWS {
                return None;
            }
            // Twice as many as there are, so that one by one they cost no more.
            let room = MOST_ROWS - self.rows.len();
            let more = more.max(self.rows.len().min(room));
            self.rows.splice(0..0, std::iter::repeat_n(BARE, more));
            self.first = self.first.checked_sub(i64::try_from(more).ok()?)?;
        }
        let index = usize::try_from(row.checked_sub(self.first)?).ok()?;
        if index >= self.rows.len() {
            if index >= MOST_ROWS {
                return None;
            }
            self.rows.resize(index + 1, BARE);
        }
        self.rows.get_mut(index)
    }

    #[expect(clippy::cast_possible_wrap, clippy::cast_precision_loss, reason = "rows are few")]
    fn rows_of(&mut self, from: (f64, f64), to: (f64, f64)) {
        if !(from.0.is_finite() && from.1.is_finite() && to.0.is_finite() && to.1.is_finite()) {
            return;
        }
        let ends = Rect::from_points(Point::new(from.0, from.1), Point::new(to.0, to.1));
        self.bounds = Some(self.bounds.map_or(ends, |bounds| bounds.union(ends)));
        let (low, high) = if from.0 < to.0 { (from, to) } else { (to, from) };
        let (first, last) = (row_of(low.0), row_of(high.0));
        let slope = if first == last { 0.0 } else { (high.1 - low.1) / (high.0 - low.0) };
        let mut at = low.1;
        for row in first..=last.min(first.saturating_add(MOST_ROWS as i64)) {
            let next = if row == last {
                high.1
            } else {
                low.1 + ((row + 1) as f64 * ROW_MM - low.0) * slope
            };
            let Some(known) = self.row(row) else { return };
            let (least, most) = if at < next { (at, next) } else { (next, at) };
            known.0 = if least < known.0 { least } else { known.0 };
            known.1 = if most > known.1 { most } else { known.1 };
            at = next;
        }
    }

    /// Points of its outline, and inside.
    #[expect(clippy::cast_precision_loss, reason = "rows are few")]
    pub(crate) fn points(&self) -> (Points, Points) {
        let Some(bounds) = self.bounds else { return (Vec::new(), Vec::new()) };
        let (mut outline, mut inside) = (Vec::new(), Vec::new());
        let rows = (self.first..).zip(&self.rows);
        for (row, &(low, high)) in rows.filter(|(_, known)| known.0 <= known.1) {
            let (from, to) = (row as f64 * ROW_MM, (row + 1) as f64 * ROW_MM);
            for u in [from.max(bounds.x0), to.min(bounds.x1)] {
                outline.extend([(u, low), (u, high)]);
            }
            inside.push((from.max(bounds.x0), 0.5 * (low + high)));
        }
        (outline, inside)
    }

    /// What a lay makes of it; `None` where it has no place, or nothing burns.
    pub(crate) fn figures(&self, wall: &Wall, lay: &Lay) -> Option<LayFigures> {
        let bounds = self.bounds?;
        let (outline, inside) = self.points();
        let (from, to) = ((bounds.x0, bounds.y0), (bounds.x1, bounds.y1));
        lay_figures(wall, lay, &Sampled { outline: &outline, inside: &inside, from, to })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        // Where the next burn lies in what is known, and where it is looked for.
        #[test]
        fn near_as_anywhere(
            moves in prop::collection::vec(
                (prop_oneof![Just(0.0), Just(0.1), Just(-0.1), -2.0..2.0_f64], -0.3..0.3_f64),
                1..300),
        ) {
            let (mut near, mut anywhere) = (Footprint::default(), Footprint::default());
            let mut from = (0.0, 0.0);
            for (along, around) in moves {
                let to = (from.0 + along, from.1 + around);
                near.line(from, to);
                near.line(to, from);
                anywhere.rows_of(from, to);
                anywhere.rows_of(to, from);
                from = to;
            }
            prop_assert_eq!((near.first, near.rows), (anywhere.first, anywhere.rows));
            prop_assert_eq!(near.bounds, anywhere.bounds);
        }
    }
}
