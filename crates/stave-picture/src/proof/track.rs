//! The way of the beam over the wall, thinned to what can be seen.

use super::burn_map::WallPlace;

/// The finest a way is kept, mm on the wall.
const FINEST_MM: f64 = 0.05;
/// The most points a way may have: beyond, it is thinned further.
const MOST_POINTS: usize = 120_000;
/// How many points may wait to be left out: the cost of thinning grows with it.
const MOST_PENDING: usize = 64;
/// A wait at least this long in one place is kept, seconds.
const WAIT_S: f64 = 0.5;
/// How far, as a share of its length, the beam may be from where an even speed would have it: ramps
/// hardly show.
const EVEN: f64 = 0.1;

/// What a stretch of the way does.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum LegKind {
    /// Marks.
    Burn,
    /// Goes from place to place as fast as it can, dark.
    Travel,
    /// Goes dark at a burn's own speed: a run-up, a gap in a scan line.
    RunUp,
}

/// The end of a stretch of the way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackPoint {
    /// Where.
    pub place: WallPlace,
    /// When it is reached, seconds.
    pub at_s: f64,
    /// What the stretch that ends here does.
    pub kind: LegKind,
    /// Which section of the program it belongs to.
    pub section: u16,
}

/// The way of the beam: points in order of time, each the end of a straight stretch in (s, turn).
/// The first is where the program begins.
#[derive(Clone, Debug)]
pub struct Track {
    points: Vec<TrackPoint>,
    thinner: Thinner,
}

impl Track {
    /// A way over a wall whose largest radius is `radius_mm`.
    #[must_use]
    pub fn new(radius_mm: f64) -> Self {
        Self {
            points: Vec::new(),
            thinner: Thinner { radius_mm, keep_mm: FINEST_MM, pending: Vec::new() },
        }
    }

    /// Takes the end of the next stretch. Points that lie within a twentieth of a millimetre (more
    /// for very long programs) of a straight and even way between their neighbours, and are of one
    /// kind and section, are left out.
    pub fn go(&mut self, point: TrackPoint) {
        self.thinner.push(point, &mut self.points);
        if self.points.len() >= MOST_POINTS {
            self.thin();
        }
    }

    /// The points, all settled.
    #[must_use]
    pub fn finish(mut self) -> Vec<TrackPoint> {
        self.thinner.settle(&mut self.points);
        self.points
    }

    /// Thins what is there with a wider measure, so that memory and pages stay bounded.
    fn thin(&mut self) {
        self.thinner.settle(&mut self.points);
        self.thinner.keep_mm *= 2.0;
        let mut thinner = self.thinner.clone();
        let mut kept: Vec<TrackPoint> = Vec::new();
        let mut before: Option<TrackPoint> = None;
        let last = self.points.last().copied();
        for point in self.points.drain(..) {
            // Where stretches alternate in kind, dwarfs among them are taken into their neighbours.
            let dwarf = before.is_some_and(|before| {
                self.thinner.length_mm(&before, &point) < self.thinner.keep_mm
                    && point.at_s - before.at_s < WAIT_S
            });
            if !dwarf {
                thinner.push(point, &mut kept);
                before = Some(point);
            }
        }
        thinner.settle(&mut kept);
        if kept.len() > MOST_POINTS * 3 / 4 {
            let mut odd = false;
            kept.retain(|_| {
                odd = !odd;
                odd
            });
        }
        if kept.last() != last.as_ref() {
            kept.extend(last);
        }
        self.points = kept;
    }
}

/// Leaves out points that do not show.
#[derive(Clone, Debug)]
struct Thinner {
    /// Turns become lengths with this, mm.
    radius_mm: f64,
    keep_mm: f64,
    /// Points since the last kept one, of which only the last may be needed.
    pending: Vec<TrackPoint>,
}

impl Thinner {
    fn push(&mut self, point: TrackPoint, kept: &mut Vec<TrackPoint>) {
        let Some(anchor) = kept.last().copied() else {
            kept.push(point);
            return;
        };
        let last = self.pending.last();
        let same = last.is_none_or(|last| last.kind == point.kind && last.section == point.section);
        if !same || self.pending.len() >= MOST_PENDING || !self.holds(&anchor, &point) {
            self.settle(kept);
        }
        self.pending.push(point);
    }

    fn settle(&mut self, kept: &mut Vec<TrackPoint>) {
        kept.extend(self.pending.pop());
        self.pending.clear();
    }

    fn between(&self, from: &TrackPoint, to: &TrackPoint) -> (f64, f64) {
        (
            to.place.s_mm - from.place.s_mm,
            (to.place.turn_rad - from.place.turn_rad) * self.radius_mm,
        )
    }

    fn length_mm(&self, from: &TrackPoint, to: &TrackPoint) -> f64 {
        let (ds, dt) = self.between(from, to);
        ds.hypot(dt)
    }

    /// Whether all that waits lies on the straight way from the anchor to a point, in place and,
    /// nearly, in time.
    fn holds(&self, anchor: &TrackPoint, point: &TrackPoint) -> bool {
        let (ds, dt) = self.between(anchor, point);
        let (length, span_s) = (ds.hypot(dt), point.at_s - anchor.at_s);
        if length < self.keep_mm {
            return span_s < WAIT_S
                && self.pending.iter().all(|w| self.length_mm(anchor, w) < self.keep_mm);
        }
        self.pending.iter().all(|waiting| {
            let (ws, wt) = self.between(anchor, waiting);
            let off = (ws * dt - wt * ds).abs() / length;
            let along = (ws * ds + wt * dt) / length;
            let even =
                if span_s > 0.0 { (waiting.at_s - anchor.at_s) / span_s * length } else { along };
            off <= self.keep_mm
                && (-self.keep_mm..=length + self.keep_mm).contains(&along)
                && (even - along).abs() <= EVEN * length + 10.0 * self.keep_mm
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(s_mm: f64, turn_rad: f64, at_s: f64, kind: LegKind) -> TrackPoint {
        TrackPoint { place: WallPlace { s_mm, turn_rad }, at_s, kind, section: 0 }
    }

    #[test]
    fn a_straight_burn_in_many_moves_is_two_points() {
        let mut track = Track::new(40.0);
        for k in 0..=50 {
            track.go(point(f64::from(k), 0.01 * f64::from(k), 0.1 * f64::from(k), LegKind::Burn));
        }
        let points = track.finish();
        assert_eq!(points.len(), 2, "{points:?}");
        assert_eq!(points[1].place.s_mm, 50.0);
    }

    #[test]
    fn bends_kinds_and_waits_are_kept() {
        let mut track = Track::new(40.0);
        track.go(point(0.0, 0.0, 0.0, LegKind::Travel));
        track.go(point(10.0, 0.0, 1.0, LegKind::Burn));
        track.go(point(10.0, 0.5, 2.0, LegKind::Burn));
        track.go(point(20.0, 0.5, 3.0, LegKind::Travel));
        track.go(point(30.0, 0.5, 4.0, LegKind::Burn));
        track.go(point(30.0, 0.5, 9.0, LegKind::Burn));
        assert_eq!(track.finish().len(), 6);
    }

    #[test]
    fn a_circle_stays_round() {
        let mut track = Track::new(40.0);
        let on = |k: i32| {
            let a = f64::from(k) * 0.01;
            (20.0 + 10.0 * a.cos(), 10.0 * a.sin() / 40.0)
        };
        for k in 0..=628 {
            let (s, turn) = on(k);
            track.go(point(s, turn, f64::from(k), LegKind::Burn));
        }
        let points = track.finish();
        assert!(points.len() > 15 && points.len() < 200, "{}", points.len());
        for pair in points.windows(2) {
            let s = 0.5 * (pair[0].place.s_mm + pair[1].place.s_mm) - 20.0;
            let t = 20.0 * (pair[0].place.turn_rad + pair[1].place.turn_rad);
            assert!((s.hypot(t) - 10.0).abs() < 2.0 * FINEST_MM);
        }
    }

    #[test]
    fn a_very_long_program_stays_bounded_and_ends_where_it_ends() {
        let mut track = Track::new(40.0);
        for k in 0..400_000_u32 {
            let kind = if k % 2 == 0 { LegKind::Burn } else { LegKind::Travel };
            let x = f64::from(k);
            track.go(point((x * 0.37).sin() * 50.0, x * 1e-5, x * 0.01, kind));
        }
        let points = track.finish();
        assert!(points.len() <= MOST_POINTS && points.len() > MOST_POINTS / 8, "{}", points.len());
        assert!((points[points.len() - 1].at_s - 3999.99).abs() < 1e-6);
    }
}
