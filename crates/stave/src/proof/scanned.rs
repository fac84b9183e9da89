//! How far the lines of an area burn to either side: an area is as wide as it was drawn, not a line
//! less.

use stave_picture::proof::WallPlace;

/// A line's turn or place strays no farther than this share of its length.
const STRAIGHT: f64 = 1e-3;
/// Lines no farther apart than so many spots are those of an area.
const SPOTS: f64 = 2.0;
/// Of a line with more runs than this the last ones are taken for one.
const MOST_RUNS: usize = 256;

/// Which way a line goes.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    /// Along the meridian.
    Along,
    /// Around.
    Around,
}

/// A line that goes straight along the meridian or around, in the runs that burn.
#[derive(Clone, Debug)]
struct Line {
    way: Way,
    /// Its turn, rad, or its place along the meridian, mm.
    at: f64,
    /// From, to, in the other measure.
    runs: Vec<(f64, f64)>,
    /// Half the way to its neighbour, mm, where there is one.
    half_mm: Option<f64>,
}

impl Line {
    fn take(&mut self, run: (f64, f64)) {
        let is_full = self.runs.len() >= MOST_RUNS;
        match self.runs.last_mut().filter(|_| is_full) {
            Some(last) => *last = (last.0.min(run.0), last.1.max(run.1)),
            None => self.runs.push(run),
        }
    }

    fn meets(&self, (from, to): (f64, f64)) -> bool {
        self.runs.iter().any(|run| run.0 <= to && from <= run.1)
    }
}

/// A burn moved aside, from and to.
pub(super) type Edge = [WallPlace; 2];

/// Looks at burns as they come.
#[derive(Clone, Debug)]
pub(super) struct Scanned {
    apart_mm: f64,
    line: Option<Line>,
}

impl Scanned {
    /// Of burns so wide.
    pub(super) fn new(spot_mm: f64) -> Self {
        Self { apart_mm: SPOTS * spot_mm, line: None }
    }

    /// Takes a burn at a radius of the wall, mm; what of an area's edge it shows goes to `edge`.
    pub(super) fn burn(
        &mut self,
        (from, to): (WallPlace, WallPlace),
        radius_mm: f64,
        mut edge: impl FnMut(Edge),
    ) {
        let along_mm = (to.s_mm - from.s_mm).abs();
        let around_mm = (to.turn_rad - from.turn_rad).abs() * radius_mm;
        let (way, at, run, per_mm) = if along_mm > 0.0 && around_mm <= STRAIGHT * along_mm {
            (Way::Along, from.turn_rad, (from.s_mm, to.s_mm), radius_mm)
        } else if around_mm > 0.0 && along_mm <= STRAIGHT * around_mm {
            (Way::Around, from.s_mm, (from.turn_rad, to.turn_rad), 1.0)
        } else {
            return self.line = None;
        };
        let run = (run.0.min(run.1), run.0.max(run.1));
        let sides = |at: f64, run: (f64, f64), half_mm: f64, edge: &mut dyn FnMut(Edge)| {
            for side in [-half_mm, half_mm] {
                let at = at + side / per_mm;
                edge([run.0, run.1].map(|along| match way {
                    Way::Along => WallPlace { s_mm: along, turn_rad: at },
                    Way::Around => WallPlace { s_mm: at, turn_rad: along },
                }));
            }
        };
        let off_mm = |line: &Line| (line.at - at).abs() * per_mm;
        let before = self.line.as_mut().filter(|line| line.way == way);
        let Some(before) = before else {
            return self.line = Some(Line { way, at, runs: vec![run], half_mm: None });
        };
        if off_mm(before) <= STRAIGHT * self.apart_mm {
            // Another run of the line in hand.
            before.take(run);
            if let Some(half_mm) = before.half_mm {
                sides(at, run, half_mm, &mut edge);
            }
            return;
        }
        let near = off_mm(before) <= self.apart_mm && before.meets(run);
        let half_mm = near.then(|| 0.5 * off_mm(before));
        if let Some(half_mm) = half_mm {
            if before.half_mm.is_none() {
                // The first of the area: only now it is known to be one.
                before.runs.iter().for_each(|run| sides(before.at, *run, half_mm, &mut edge));
            }
            sides(at, run, half_mm, &mut edge);
        }
        self.line = Some(Line { way, at, runs: vec![run], half_mm });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RADIUS_MM: f64 = 25.0;

    fn place(s_mm: f64, around_mm: f64) -> WallPlace {
        WallPlace { s_mm, turn_rad: around_mm / RADIUS_MM }
    }

    /// How far edges go, along and around, mm.
    fn reach(burns: &[(WallPlace, WallPlace)]) -> [(f64, f64); 2] {
        let mut scanned = Scanned::new(0.1);
        let mut all: Vec<WallPlace> = Vec::new();
        burns.iter().for_each(|burn| scanned.burn(*burn, RADIUS_MM, |edge| all.extend(edge)));
        let ends = |of: fn(&WallPlace) -> f64| {
            let start = (f64::INFINITY, f64::NEG_INFINITY);
            let (low, high) = all.iter().map(of).fold(start, |a, b| (a.0.min(b), a.1.max(b)));
            ((low * 1e6).round() / 1e6, (high * 1e6).round() / 1e6)
        };
        [ends(|place| place.s_mm), ends(|place| RADIUS_MM * place.turn_rad)]
    }

    /// Fifteen lines a tenth apart are an area 1.5 mm wide, either way of scanning.
    #[test]
    fn an_area_is_as_wide_as_its_lines_and_a_spacing() {
        let at = |k: i32| 0.1 * f64::from(k) + 0.05;
        let along: Vec<_> = (0..15).map(|k| (place(10.0, at(k)), place(11.0, at(k)))).collect();
        assert_eq!(reach(&along), [(10.0, 11.0), (0.0, 1.5)]);
        let around: Vec<_> = (0..15).map(|k| (place(at(k), 2.0), place(at(k), 1.0))).collect();
        assert_eq!(reach(&around), [(0.0, 1.5), (1.0, 2.0)]);
    }

    /// Lines drawn as lines have no edges: they are as long as they are.
    #[test]
    fn lines_apart_are_no_area() {
        let nothing = [(f64::INFINITY, f64::NEG_INFINITY); 2];
        let apart: Vec<_> =
            (0..5).map(|k| (place(0.0, f64::from(k)), place(5.0, f64::from(k)))).collect();
        assert_eq!(reach(&apart), nothing);
        let circle: Vec<_> = (0..90)
            .map(|k| {
                let on = |k: i32| {
                    let (sin, cos) = f64::from(4 * k).to_radians().sin_cos();
                    place(20.0 + 10.0 * sin, 10.0 * cos)
                };
                (on(k), on(k + 1))
            })
            .collect();
        assert_eq!(reach(&circle), nothing);
        // One after the other, a hair aside, is no area either.
        let after = [(place(0.0, 0.0), place(5.0, 0.0)), (place(6.0, 0.1), place(9.0, 0.1))];
        assert_eq!(reach(&after), nothing);
    }
}
