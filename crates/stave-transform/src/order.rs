//! The order in which things are burned, so that the machine travels little between them.
//!
//! Places are points of the machine's plane, mm: along the axis, and around it at a middle radius.
//! The nearest neighbour comes first, then stretches of the way are turned around as long as that
//! shortens it (2-opt). Both are bounded by counted steps, not by a clock: the same drawing gives
//! the same program every time.

use kurbo::Point;

/// How many ways are compared at most while stretches are turned around.
const MOST_COMPARED: usize = 20_000_000;
/// How many places of a closed line are thought of as its start before its neighbours are known.
const STARTS: usize = 12;

/// Something to burn.
#[derive(Clone, Debug)]
pub(crate) enum Stop {
    /// From one end to the other, either way.
    Open(Point, Point),
    /// From any of its corners back to it.
    Closed(Vec<Point>),
}

/// How a stop is burned.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Visit {
    pub(crate) stop: usize,
    /// From its second end to its first.
    pub(crate) reversed: bool,
    /// The corner a closed one starts from.
    pub(crate) start: usize,
}

impl Visit {
    pub(crate) fn ends(&self, stops: &[Stop]) -> (Point, Point) {
        match &stops[self.stop] {
            Stop::Open(a, b) if self.reversed => (*b, *a),
            Stop::Open(a, b) => (*a, *b),
            Stop::Closed(corners) => (corners[self.start], corners[self.start]),
        }
    }
}

/// The way between stops visited so, from `from` on if given, mm.
pub(crate) fn travel_mm(stops: &[Stop], visits: &[Visit], from: Option<Point>) -> f64 {
    let (mut at, mut sum) = (from, 0.0);
    for visit in visits {
        let (start, end) = visit.ends(stops);
        sum += at.map_or(0.0, |at| at.distance(start));
        at = Some(end);
    }
    sum
}

/// All stops as they come, each from its first point.
pub(crate) fn as_drawn(stops: &[Stop]) -> Vec<Visit> {
    (0..stops.len()).map(|stop| Visit { stop, reversed: false, start: 0 }).collect()
}

/// A short way through all stops, from `from` on if given; never longer than [`as_drawn`].
pub(crate) fn order(stops: &[Stop], from: Option<Point>) -> Vec<Visit> {
    if stops.is_empty() {
        return Vec::new();
    }
    let mut visits = nearest_first(stops, from);
    turn_around(stops, &mut visits, from);
    best_starts(stops, &mut visits, from);
    let drawn = as_drawn(stops);
    if travel_mm(stops, &drawn, from) < travel_mm(stops, &visits, from) { drawn } else { visits }
}

fn nearest_first(stops: &[Stop], from: Option<Point>) -> Vec<Visit> {
    let mut index = Index::new(stops);
    let first = match &stops[0] {
        Stop::Open(a, _) => *a,
        Stop::Closed(corners) => corners[0],
    };
    let mut at = from.unwrap_or(first);
    let mut visits = Vec::with_capacity(stops.len());
    while let Some(visit) = index.take_nearest(at) {
        at = visit.ends(stops).1;
        visits.push(visit);
    }
    visits
}

/// 2-opt: turns stretches of the way around where that shortens it.
fn turn_around(stops: &[Stop], visits: &mut [Visit], from: Option<Point>) {
    let count = visits.len();
    let mut left = MOST_COMPARED;
    // Where there are many, only stretches of up to so many stops are turned, so that all of the
    // way is gone over several times.
    let longest = (MOST_COMPARED / 8 / count.max(1)).max(50);
    let mut better = true;
    while better && left > 0 {
        better = false;
        for i in 0..count {
            let before = if i == 0 { from } else { Some(visits[i - 1].ends(stops).1) };
            let mut j = i;
            while j < count.min(i + longest) && left > 0 {
                left -= 1;
                let (entry, exit) = (visits[i].ends(stops).0, visits[j].ends(stops).1);
                let after = visits.get(j + 1).map(|next| next.ends(stops).0);
                let way = |a: Option<Point>, b: Point| a.map_or(0.0, |a| a.distance(b));
                let (now, then) =
                    (way(before, entry) + way(after, exit), way(before, exit) + way(after, entry));
                if then < now - 1e-9 {
                    visits[i..=j].reverse();
                    for visit in &mut visits[i..=j] {
                        visit.reversed = !visit.reversed;
                    }
                    better = true;
                }
                j += 1;
            }
        }
    }
}

/// Starts every closed line at the corner that is best between its neighbours.
fn best_starts(stops: &[Stop], visits: &mut [Visit], from: Option<Point>) {
    for k in 0..visits.len() {
        let Stop::Closed(corners) = &stops[visits[k].stop] else { continue };
        let before = if k == 0 { from } else { Some(visits[k - 1].ends(stops).1) };
        let after = visits.get(k + 1).map(|next| next.ends(stops).0);
        let way = |corner: &Point| {
            before.map_or(0.0, |p| p.distance(*corner)) + after.map_or(0.0, |p| p.distance(*corner))
        };
        let best = corners.iter().enumerate().min_by(|a, b| way(a.1).total_cmp(&way(b.1)));
        visits[k].start = best.map_or(0, |(start, _)| start);
    }
}

/// Places where stops can be begun, in square cells.
struct Index {
    entries: Vec<(Point, Visit)>,
    cells: Vec<Vec<u32>>,
    columns: i64,
    rows: i64,
    corner: Point,
    cell_mm: f64,
    taken: Vec<bool>,
    left: usize,
}

impl Index {
    fn new(stops: &[Stop]) -> Index {
        let mut entries = Vec::new();
        for (stop, what) in stops.iter().enumerate() {
            match what {
                Stop::Open(a, b) => {
                    entries.push((*a, Visit { stop, reversed: false, start: 0 }));
                    entries.push((*b, Visit { stop, reversed: true, start: 0 }));
                }
                Stop::Closed(corners) => {
                    let every = corners.len().div_ceil(STARTS).max(1);
                    for start in (0..corners.len()).step_by(every) {
                        entries.push((corners[start], Visit { stop, reversed: false, start }));
                    }
                }
            }
        }
        let mut bounds = kurbo::Rect::from_origin_size(entries[0].0, (0.0, 0.0));
        for (point, _) in &entries {
            bounds = bounds.union_pt(*point);
        }
        let size = bounds.width().max(bounds.height()).max(1e-6);
        #[allow(clippy::cast_precision_loss)]
        let cell_mm = size / (entries.len() as f64).sqrt().ceil().min(1000.0);
        let mut index = Index {
            columns: 0,
            rows: 0,
            cells: Vec::new(),
            corner: bounds.origin(),
            cell_mm,
            taken: vec![false; stops.len()],
            left: stops.len(),
            entries,
        };
        let (columns, rows) = index.cell(Point::new(bounds.x1, bounds.y1));
        (index.columns, index.rows) = (columns + 1, rows + 1);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        index.cells.resize((index.columns * index.rows) as usize, Vec::new());
        for (number, entry) in index.entries.iter().enumerate() {
            let (column, row) = index.cell(entry.0);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            index.cells[(row * index.columns + column) as usize].push(number as u32);
        }
        index
    }

    #[allow(clippy::cast_possible_truncation)]
    fn cell(&self, at: Point) -> (i64, i64) {
        let cell = |value: f64| (value / self.cell_mm).floor() as i64;
        (cell(at.x - self.corner.x), cell(at.y - self.corner.y))
    }

    fn take_nearest(&mut self, at: Point) -> Option<Visit> {
        if self.left == 0 {
            return None;
        }
        let (column, row) = self.cell(at);
        let reach = |low: i64, high: i64, c: i64| (c - low).abs().max((high - c).abs());
        let most = reach(0, self.columns, column).max(reach(0, self.rows, row)) + 1;
        let mut best: Option<(f64, u32)> = None;
        for ring in 0..=most {
            #[allow(clippy::cast_precision_loss)]
            if best.is_some_and(|(distance, _)| distance <= (ring - 1).max(0) as f64 * self.cell_mm)
            {
                break;
            }
            self.look_in_ring(at, (column, row), ring, &mut best);
        }
        let visit = self.entries[best?.1 as usize].1;
        self.taken[visit.stop] = true;
        self.left -= 1;
        Some(visit)
    }

    fn look_in_ring(
        &mut self,
        at: Point,
        middle: (i64, i64),
        ring: i64,
        best: &mut Option<(f64, u32)>,
    ) {
        let rows = (middle.1 - ring).max(0)..=(middle.1 + ring).min(self.rows - 1);
        for row in rows {
            let edge = (row - middle.1).abs() == ring;
            let step = if edge || ring == 0 { 1 } else { 2 * ring };
            let mut column = middle.0 - ring;
            while column <= middle.0 + ring {
                if (0..self.columns).contains(&column) {
                    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                    let cell = (row * self.columns + column) as usize;
                    // What is taken is forgotten, so that emptied cells cost nothing.
                    let (taken, entries) = (&self.taken, &self.entries);
                    self.cells[cell].retain(|number| !taken[entries[*number as usize].1.stop]);
                    for &number in &self.cells[cell] {
                        let distance = at.distance(self.entries[number as usize].0);
                        if best.is_none_or(|(least, least_number)| {
                            distance < least || (distance == least && number < least_number)
                        }) {
                            *best = Some((distance, number));
                        }
                    }
                }
                column += step;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn visits_all(stops: &[Stop], visits: &[Visit]) -> bool {
        let mut seen: Vec<_> = visits.iter().map(|v| v.stop).collect();
        seen.sort_unstable();
        seen == (0..stops.len()).collect::<Vec<_>>()
    }

    #[test]
    fn dashes_are_burned_as_they_lie() {
        // Ten dashes in a row, drawn in a muddle.
        let stops: Vec<Stop> = [3, 8, 1, 9, 0, 5, 2, 7, 4, 6]
            .map(|k| {
                Stop::Open(
                    Point::new(f64::from(k) * 10.0, 0.0),
                    Point::new(f64::from(k) * 10.0 + 6.0, 0.0),
                )
            })
            .into();
        let visits = order(&stops, Some(Point::new(-5.0, 0.0)));
        assert!(visits_all(&stops, &visits));
        assert!((travel_mm(&stops, &visits, Some(Point::new(-5.0, 0.0))) - 41.0).abs() < 1e-9);
    }

    #[test]
    fn a_closed_line_starts_where_it_is_near() {
        let square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)].map(Point::from).to_vec();
        let visits = order(&[Stop::Closed(square)], Some(Point::new(12.0, 11.0)));
        assert_eq!(visits, [Visit { stop: 0, reversed: false, start: 2 }]);
    }

    proptest! {
        #[test]
        fn every_stop_once_and_never_farther_than_drawn(
            raw in prop::collection::vec((0.0..100.0_f64, 0.0..100.0_f64, -9.0..9.0_f64, -9.0..9.0_f64, any::<bool>()), 1..60),
        ) {
            let stops: Vec<Stop> = raw.iter().map(|&(x, y, dx, dy, closed)| {
                let (a, b) = (Point::new(x, y), Point::new(x + dx, y + dy));
                if closed { Stop::Closed(vec![a, b, Point::new(x + dx, y)]) } else { Stop::Open(a, b) }
            }).collect();
            let visits = order(&stops, None);
            prop_assert!(visits_all(&stops, &visits));
            prop_assert!(travel_mm(&stops, &visits, None) <= travel_mm(&stops, &as_drawn(&stops), None) + 1e-9);
        }
    }
}
