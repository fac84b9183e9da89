//! Where a flat program burns, row by row: enough to say what a lay makes of it.

use std::collections::HashMap;

use kurbo::{Point, Rect};
use stave_check::{LayFigures, Sampled, lay_figures};
use stave_transform::Curve;
use stave_wall::{Lay, Wall};

/// The height of a row, mm along the flat plane.
const ROW_MM: f64 = 0.5;
/// Looks along an arc.
const ARC_LOOKS: u32 = 48;
/// More rows than this are not kept: half a kilometre of wall.
const MOST_ROWS: usize = 1 << 20;

/// Points of the flat plane, mm.
type Points = Vec<(f64, f64)>;

/// For each row of the flat plane from where to where it burns.
#[derive(Clone, Debug, Default)]
pub(crate) struct Footprint {
    rows: HashMap<i64, (f64, f64)>,
    /// The row that was met last, and what is known of it.
    last: Option<(i64, (f64, f64))>,
    bounds: Option<Rect>,
}

#[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
fn row_of(u_mm: f64) -> i64 {
    (u_mm / ROW_MM).floor() as i64
}

impl Footprint {
    /// Takes in a burn.
    #[inline]
    pub(crate) fn burn(&mut self, curve: &Curve<'_>) {
        if let Curve::Line { from, to } = curve {
            return self.line((from.u, from.v), (to.u, to.v));
        }
        let at = |k: u32| {
            let point = curve.point(f64::from(k) / f64::from(ARC_LOOKS));
            (point.u, point.v)
        };
        for k in 0..ARC_LOOKS {
            self.line(at(k), at(k + 1));
        }
    }

    /// Takes in a dot.
    pub(crate) fn dot(&mut self, u_mm: f64, v_mm: f64) {
        self.line((u_mm, v_mm), (u_mm, v_mm));
    }

    #[inline]
    fn line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let held = |row: i64, known: (f64, f64), p: (f64, f64)| {
            row_of(p.0) == row && p.1 >= known.0 && p.1 <= known.1
        };
        if let Some((row, known)) = self.last
            && held(row, known, from)
            && held(row, known, to)
        {
            return;
        }
        self.rows_of(from, to);
    }

    #[allow(clippy::cast_precision_loss, reason = "rows are few")]
    fn rows_of(&mut self, from: (f64, f64), to: (f64, f64)) {
        if !(from.0.is_finite() && from.1.is_finite() && to.0.is_finite() && to.1.is_finite()) {
            return;
        }
        let ends = Rect::from_points(Point::new(from.0, from.1), Point::new(to.0, to.1));
        self.bounds = Some(self.bounds.map_or(ends, |bounds| bounds.union(ends)));
        let (first, last) = (row_of(from.0.min(to.0)), row_of(from.0.max(to.0)));
        let v_at = |u: f64| {
            let share = if to.0 == from.0 { 0.0 } else { (u - from.0) / (to.0 - from.0) };
            from.1 + (to.1 - from.1) * share.clamp(0.0, 1.0)
        };
        for row in first..=last.min(first.saturating_add(MOST_ROWS as i64)) {
            let (low, high) = if first == last {
                (from.1.min(to.1), from.1.max(to.1))
            } else {
                let (a, b) = (v_at(row as f64 * ROW_MM), v_at((row + 1) as f64 * ROW_MM));
                (a.min(b), a.max(b))
            };
            if self.rows.len() >= MOST_ROWS && !self.rows.contains_key(&row) {
                return;
            }
            let known = self.rows.entry(row).or_insert((low, high));
            *known = (known.0.min(low), known.1.max(high));
            self.last = Some((row, *known));
        }
    }

    /// Points of its outline, and inside.
    #[allow(clippy::cast_precision_loss, reason = "rows are few")]
    pub(crate) fn points(&self) -> (Points, Points) {
        let Some(bounds) = self.bounds else { return (Vec::new(), Vec::new()) };
        let (mut outline, mut inside) = (Vec::new(), Vec::new());
        let mut rows: Vec<(&i64, &(f64, f64))> = self.rows.iter().collect();
        rows.sort_by_key(|(row, _)| **row);
        for (&row, &(low, high)) in rows {
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
