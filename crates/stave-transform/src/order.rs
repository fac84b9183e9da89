//! The order in which things are burned, so that the machine travels little between them.
//!
//! Places are points of the machine's plane, mm: along the axis, and around it at a middle radius.
//! What counts is how long the axes take from one to the other, not how far it is. What is reached
//! soonest comes first, then stretches of the way are turned around as long as that makes it sooner
//! (2-opt). Both are bounded by counted steps, not by a clock: the same drawing gives the same
//! program every time.

use kurbo::Point;

/// How many ways are compared at most while stretches are turned around.
const MOST_COMPARED: usize = 20_000_000;
/// Of no more stops than this two ways are tried.
const MOST_TRIED: usize = 5000;
/// How many places of a closed line are thought of as its start before its neighbours are known.
const STARTS: usize = 12;

/// What an axis can do, mm of the plane a second, and a second squared.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pace {
    pub(crate) speed: f64,
    pub(crate) acceleration: f64,
}

/// How the machine travels in the plane: along the axis and around it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Axes {
    pub(crate) along: Pace,
    pub(crate) around: Pace,
}

impl Axes {
    /// How long a straight travel takes, at rest at both ends, s.
    ///
    /// Along the way speed and acceleration are the greatest that no axis exceeds; so with `c` the
    /// time at full speed and `q` the way over the acceleration it takes `2 √q` where full speed
    /// is not reached (`c² < q`), else `c + q/c`.
    #[inline]
    pub(crate) fn takes_s(&self, from: Point, to: Point) -> f64 {
        let (x, y) = ((to.x - from.x).abs(), (to.y - from.y).abs());
        let cruise_s = (x / self.along.speed).max(y / self.around.speed);
        let squared = (x / self.along.acceleration).max(y / self.around.acceleration);
        if cruise_s * cruise_s < squared {
            2.0 * squared.sqrt()
        } else if cruise_s > 0.0 {
            cruise_s + squared / cruise_s
        } else {
            0.0
        }
    }

    /// The least time between places that lie so far apart along at least one axis, s.
    fn least_s(&self, apart_mm: f64) -> f64 {
        let to = |x, y| self.takes_s(Point::ORIGIN, Point::new(x, y));
        to(apart_mm, 0.0).min(to(0.0, apart_mm))
    }
}

/// Something to burn.
#[derive(Clone, Debug)]
pub(crate) enum Stop {
    /// From one end to the other, either way.
    Open(Point, Point),
    /// From any of its corners back to it.
    Closed(Vec<Point>),
    /// In one of four ways, each with its own ends; and for each the one that is it backwards.
    Ways([[Point; 2]; 4], [usize; 4]),
}

/// How a stop is burned.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Visit {
    pub(crate) stop: usize,
    /// From its second end to its first.
    pub(crate) reversed: bool,
    /// The corner a closed one starts from, or the way it is burned in.
    pub(crate) start: usize,
}

impl Visit {
    pub(crate) fn ends(&self, stops: &[Stop]) -> (Point, Point) {
        match &stops[self.stop] {
            Stop::Open(a, b) if self.reversed => (*b, *a),
            Stop::Open(a, b) => (*a, *b),
            Stop::Closed(corners) => (corners[self.start], corners[self.start]),
            Stop::Ways(ways, _) => (ways[self.start][0], ways[self.start][1]),
        }
    }

    /// Turns it around.
    fn flip(&mut self, stops: &[Stop]) {
        match &stops[self.stop] {
            Stop::Ways(_, back) => self.start = back[self.start],
            _ => self.reversed = !self.reversed,
        }
    }
}

/// How long the travels between stops visited so take, from `from` on if given, s.
pub(crate) fn travel_s(stops: &[Stop], visits: &[Visit], from: Option<Point>, axes: &Axes) -> f64 {
    hops(stops, visits, from).map(|(from, to)| axes.takes_s(from, to)).sum()
}

/// From where to where it goes between stops.
fn hops(
    stops: &[Stop],
    visits: &[Visit],
    from: Option<Point>,
) -> impl Iterator<Item = (Point, Point)> {
    let mut at = from;
    visits.iter().filter_map(move |visit| {
        let (start, end) = visit.ends(stops);
        let hop = at.map(|at| (at, start));
        at = Some(end);
        hop
    })
}

/// The way between stops visited so, from `from` on if given, mm.
pub(crate) fn travel_mm(stops: &[Stop], visits: &[Visit], from: Option<Point>) -> f64 {
    hops(stops, visits, from).map(|(from, to)| from.distance(to)).sum()
}

/// All stops as they come, each from its first point.
pub(crate) fn as_drawn(stops: &[Stop]) -> Vec<Visit> {
    (0..stops.len()).map(|stop| Visit { stop, reversed: false, start: 0 }).collect()
}

/// A quick way through all stops, from `from` on if given; never slower than [`as_drawn`].
pub(crate) fn order(stops: &[Stop], from: Option<Point>, axes: &Axes) -> Vec<Visit> {
    if stops.is_empty() {
        return Vec::new();
    }
    // What is reached soonest, or what is nearest, may lead to the sooner way in the end.
    let both = [*axes, EVEN];
    let firsts = if stops.len() <= MOST_TRIED { &both[..] } else { &both[..1] };
    let tried = firsts.iter().map(|first| {
        let mut visits = nearest_first(stops, from, first);
        turn_around(stops, &mut visits, from, axes);
        best_starts(stops, &mut visits, from, axes);
        visits
    });
    let takes_s = |visits: &Vec<Visit>| travel_s(stops, visits, from, axes);
    let soonest = tried.min_by(|a, b| takes_s(a).total_cmp(&takes_s(b)));
    let drawn = as_drawn(stops);
    soonest.filter(|visits| takes_s(visits) <= takes_s(&drawn)).unwrap_or(drawn)
}

/// Axes by which what is nearest comes first.
const EVEN: Axes = {
    let pace = Pace { speed: f64::INFINITY, acceleration: 1.0 };
    Axes { along: pace, around: pace }
};

fn nearest_first(stops: &[Stop], from: Option<Point>, axes: &Axes) -> Vec<Visit> {
    let mut index = Index::new(stops, *axes);
    let first = match &stops[0] {
        Stop::Open(a, _) => *a,
        Stop::Closed(corners) => corners[0],
        Stop::Ways(ways, _) => ways[0][0],
    };
    let mut at = from.unwrap_or(first);
    let mut visits = Vec::with_capacity(stops.len());
    while let Some(visit) = index.take_nearest(at, stops) {
        at = visit.ends(stops).1;
        visits.push(visit);
    }
    visits
}

/// 2-opt: turns stretches of the way around where that makes it sooner.
fn turn_around(stops: &[Stop], visits: &mut [Visit], from: Option<Point>, axes: &Axes) {
    let count = visits.len();
    let mut left = MOST_COMPARED;
    // Where there are many, only stretches of up to so many stops are turned, so that all of the
    // way is gone over several times.
    let longest = (MOST_COMPARED / 8 / count.max(1)).max(50);
    let way = |a: Option<Point>, b: Point| a.map_or(0.0, |a| axes.takes_s(a, b));
    let mut ends: Vec<(Point, Point)> = visits.iter().map(|visit| visit.ends(stops)).collect();
    // How long it takes from each to the next.
    let mut hops: Vec<f64> =
        ends.windows(2).map(|pair| axes.takes_s(pair[0].1, pair[1].0)).collect();
    hops.push(0.0);
    let mut better = true;
    while better && left > 0 {
        better = false;
        for i in 0..count {
            let before = if i == 0 { from } else { Some(ends[i - 1].1) };
            let mut into = way(before, ends[i].0);
            for j in i..count.min(i + longest) {
                if left == 0 {
                    break;
                }
                left -= 1;
                let now = into + hops[j];
                // Times are not below 0: one that is as long by itself spares the other.
                let then = way(before, ends[j].1);
                if then >= now - 1e-9 {
                    continue;
                }
                let after = ends.get(j + 1).map(|next| next.0);
                let out = way(after, ends[i].0);
                if then + out >= now - 1e-9 {
                    continue;
                }
                visits[i..=j].reverse();
                visits[i..=j].iter_mut().for_each(|visit| visit.flip(stops));
                for (ends, visit) in ends[i..=j].iter_mut().zip(&visits[i..=j]) {
                    *ends = visit.ends(stops);
                }
                hops[i..j].reverse();
                if i > 0 {
                    hops[i - 1] = then;
                }
                (into, hops[j]) = (then, out);
                better = true;
            }
        }
    }
}

/// Starts every closed line at the corner, and what may be burned in ways in that way, that is best
/// between its neighbours.
fn best_starts(stops: &[Stop], visits: &mut [Visit], from: Option<Point>, axes: &Axes) {
    for k in 0..visits.len() {
        let starts = match &stops[visits[k].stop] {
            Stop::Open(..) => continue,
            Stop::Closed(corners) => corners.len(),
            Stop::Ways(ways, _) => ways.len(),
        };
        let before = if k == 0 { from } else { Some(visits[k - 1].ends(stops).1) };
        let after = visits.get(k + 1).map(|next| next.ends(stops).0);
        let way = |start: &usize| {
            let (begin, end) = Visit { start: *start, ..visits[k] }.ends(stops);
            before.map_or(0.0, |p| axes.takes_s(p, begin))
                + after.map_or(0.0, |p| axes.takes_s(end, p))
        };
        let best = (0..starts).min_by(|a, b| way(a).total_cmp(&way(b)));
        visits[k].start = best.unwrap_or(0);
    }
}

/// Of a closed line's corners every so-manyth is thought of as its start.
fn every_of(corners: &[Point]) -> usize {
    corners.len().div_ceil(STARTS).max(1)
}

/// Where a stop can be begun: of many stops these are most of what is held.
struct Entry {
    at: Point,
    stop: u32,
    /// The corner or the way that a visit begins with; of an open stop 1 where it is reversed.
    start: u32,
}

impl Entry {
    fn new(at: Point, visit: Visit) -> Self {
        let short = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        Self { at, stop: short(visit.stop), start: short(visit.start.max(visit.reversed.into())) }
    }

    fn stop(&self) -> usize {
        self.stop as usize
    }

    fn visit(&self, stops: &[Stop]) -> Visit {
        let (stop, start) = (self.stop(), self.start as usize);
        match stops.get(stop) {
            Some(Stop::Open(..)) => Visit { stop, reversed: start > 0, start: 0 },
            _ => Visit { stop, reversed: false, start },
        }
    }
}

/// Places where stops can be begun, in square cells.
struct Index {
    axes: Axes,
    entries: Vec<Entry>,
    cells: Vec<Vec<u32>>,
    columns: i64,
    rows: i64,
    corner: Point,
    cell_mm: f64,
    taken: Vec<bool>,
    left: usize,
}

impl Index {
    fn new(stops: &[Stop], axes: Axes) -> Index {
        let starts = |stop: &Stop| match stop {
            Stop::Open(..) => 2,
            Stop::Ways(ways, _) => ways.len(),
            Stop::Closed(corners) => corners.len().div_ceil(every_of(corners)),
        };
        let mut entries = Vec::with_capacity(stops.iter().map(starts).sum());
        for (stop, what) in stops.iter().enumerate() {
            match what {
                Stop::Open(a, b) => {
                    entries.push(Entry::new(*a, Visit { stop, reversed: false, start: 0 }));
                    entries.push(Entry::new(*b, Visit { stop, reversed: true, start: 0 }));
                }
                Stop::Ways(ways, _) => {
                    for (start, [begin, _]) in ways.iter().enumerate() {
                        entries.push(Entry::new(*begin, Visit { stop, reversed: false, start }));
                    }
                }
                Stop::Closed(corners) => {
                    for start in (0..corners.len()).step_by(every_of(corners)) {
                        let visit = Visit { stop, reversed: false, start };
                        entries.push(Entry::new(corners[start], visit));
                    }
                }
            }
        }
        let mut bounds = kurbo::Rect::from_origin_size(entries[0].at, (0.0, 0.0));
        for entry in &entries {
            bounds = bounds.union_pt(entry.at);
        }
        let size = bounds.width().max(bounds.height()).max(1e-6);
        #[allow(clippy::cast_precision_loss)]
        let cell_mm = size / (entries.len() as f64).sqrt().ceil().min(1000.0);
        let mut index = Index {
            axes,
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
            let (column, row) = index.cell(entry.at);
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

    fn take_nearest(&mut self, at: Point, stops: &[Stop]) -> Option<Visit> {
        if self.left == 0 {
            return None;
        }
        let (column, row) = self.cell(at);
        let reach = |low: i64, high: i64, c: i64| (c - low).abs().max((high - c).abs());
        let most = reach(0, self.columns, column).max(reach(0, self.rows, row)) + 1;
        let mut best: Option<(f64, u32)> = None;
        for ring in 0..=most {
            #[allow(clippy::cast_precision_loss)]
            let apart_mm = (ring - 1).max(0) as f64 * self.cell_mm;
            if best.is_some_and(|(takes_s, _)| takes_s <= self.axes.least_s(apart_mm)) {
                break;
            }
            self.look_in_ring(at, (column, row), ring, &mut best);
        }
        let visit = self.entries[best?.1 as usize].visit(stops);
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
                    self.cells[cell].retain(|number| !taken[entries[*number as usize].stop()]);
                    for &number in &self.cells[cell] {
                        let takes_s = self.axes.takes_s(at, self.entries[number as usize].at);
                        if best.is_none_or(|(least_s, least_number)| {
                            takes_s < least_s || (takes_s == least_s && number < least_number)
                        }) {
                            *best = Some((takes_s, number));
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

    const ALIKE: Axes = {
        let pace = Pace { speed: 500.0, acceleration: 5000.0 };
        Axes { along: pace, around: pace }
    };

    #[test]
    fn a_travel_takes_what_its_slowest_axis_takes() {
        let axes = Axes {
            along: Pace { speed: 500.0, acceleration: 5000.0 },
            around: Pace { speed: 100.0, acceleration: 1000.0 },
        };
        let takes = |x: f64, y: f64| axes.takes_s(Point::ORIGIN, Point::new(x, y));
        // 200 mm: 0.1 s up, 0.3 s at 500 mm/s, 0.1 s down; 5 mm: 2 √(5/5000); and around.
        assert!((takes(200.0, 0.0) - 0.5).abs() < 1e-12);
        assert!((takes(-5.0, 0.0) - 2.0 * 0.001_f64.sqrt()).abs() < 1e-12);
        assert!((takes(0.0, 40.0) - 0.5).abs() < 1e-12);
        assert!((takes(100.0, 40.0) - 0.5).abs() < 1e-12);
        assert_eq!(takes(0.0, 0.0), 0.0);
    }

    /// Far along the quick axis is sooner reached than near around the slow one.
    #[test]
    fn what_is_sooner_reached_comes_first() {
        let axes = Axes { around: Pace { speed: 5.0, acceleration: 50.0 }, ..ALIKE };
        let dot = |x: f64, y: f64| Stop::Open(Point::new(x, y), Point::new(x, y));
        let stops = [dot(0.0, 8.0), dot(60.0, 0.0), dot(30.0, 0.0)];
        let order = order(&stops, Some(Point::ORIGIN), &axes);
        assert_eq!(order.iter().map(|visit| visit.stop).collect::<Vec<_>>(), [2, 1, 0]);
    }

    #[test]
    fn a_block_is_burned_the_way_that_suits_its_neighbours() {
        let at = |x: f64| Point::new(x, 0.0);
        // Burned backwards it begins where the dash before it ends.
        let ways =
            [[at(30.0), at(10.0)], [at(40.0), at(0.0)], [at(0.0), at(40.0)], [at(10.0), at(30.0)]];
        let stops = [Stop::Open(at(-20.0), at(-1.0)), Stop::Ways(ways, [3, 2, 1, 0])];
        let order = order(&stops, Some(at(-21.0)), &ALIKE);
        assert_eq!(order[1], Visit { stop: 1, reversed: false, start: 2 });
    }

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
        let visits = order(&stops, Some(Point::new(-5.0, 0.0)), &ALIKE);
        assert!(visits_all(&stops, &visits));
        assert!((travel_mm(&stops, &visits, Some(Point::new(-5.0, 0.0))) - 41.0).abs() < 1e-9);
    }

    #[test]
    fn a_closed_line_starts_where_it_is_near() {
        let square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)].map(Point::from).to_vec();
        let visits = order(&[Stop::Closed(square)], Some(Point::new(12.0, 11.0)), &ALIKE);
        assert_eq!(visits, [Visit { stop: 0, reversed: false, start: 2 }]);
    }

    proptest! {
        #[test]
        fn every_stop_once_and_never_slower_than_drawn(
            slow in 1.0..50.0_f64,
            raw in prop::collection::vec((0.0..100.0_f64, 0.0..100.0_f64, -9.0..9.0_f64, -9.0..9.0_f64, any::<bool>()), 1..60),
        ) {
            let stops: Vec<Stop> = raw.iter().map(|&(x, y, dx, dy, closed)| {
                let (a, b) = (Point::new(x, y), Point::new(x + dx, y + dy));
                if closed { Stop::Closed(vec![a, b, Point::new(x + dx, y)]) } else { Stop::Open(a, b) }
            }).collect();
            let around = Pace { speed: 500.0 / slow, acceleration: 5000.0 / slow };
            let axes = Axes { around, ..ALIKE };
            let visits = order(&stops, None, &axes);
            prop_assert!(visits_all(&stops, &visits));
            let takes_s = |visits: &[Visit]| travel_s(&stops, visits, None, &axes);
            prop_assert!(takes_s(&visits) <= takes_s(&as_drawn(&stops)) + 1e-9);
        }
    }
}
