//! The crest as a line of points along the rail.

use stave_wall::{Crest, Section, Wall, WallShape};

/// A curved meridian is followed by chords that stray from it by no more than this, mm; heights are
/// given that much too high.
pub(crate) const BULGE_MM: f64 = 0.002;
/// Past its ends the wall runs on as a cylinder; so far, mm.
pub(crate) const BEYOND_MM: f64 = 1e5;

/// The wall's meridian between two places of it (`s`, mm) as few points; exact for a straight wall.
pub(crate) fn few_sections(wall: &Wall, from_s: f64, to_s: f64) -> Vec<Section> {
    let all = wall.sections_between(from_s, to_s);
    if wall.shape() == WallShape::Straight {
        return all.into_iter().map(|(_, section)| section).collect();
    }
    let mut few: Vec<Section> = Vec::new();
    let mut start = 0;
    for i in 0..all.len() {
        let strays = |from: usize, to: usize| {
            let (a, b) = (&all[from].1, &all[to].1);
            let (dz, dr) = (b.at_mm - a.at_mm, b.radius_mm - a.radius_mm);
            let length = dz.hypot(dr).max(f64::MIN_POSITIVE);
            all[from..to].iter().any(|(_, p)| {
                ((p.at_mm - a.at_mm) * dr - (p.radius_mm - a.radius_mm) * dz).abs()
                    > 0.9 * BULGE_MM * length
            })
        };
        let last = i + 1 == all.len();
        if i == 0 || last || strays(start, i + 1) {
            few.push(all[i].1);
            start = i;
        }
    }
    few
}

/// All of the meridian as few points, run on past both ends as a cylinder.
pub(crate) fn whole_outline(wall: &Wall) -> Vec<Section> {
    let mut hint = 0;
    let mut sections = vec![wall.section(-BEYOND_MM, &mut hint)];
    sections.extend(few_sections(wall, 0.0, wall.length_mm()));
    sections.push(wall.section(wall.length_mm() + BEYOND_MM, &mut hint));
    sections
}

/// The crest under a tilt as a line of points along the rail, run on past both ends of the wall.
///
/// ```
/// use stave_rig::CrestLine;
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 80\n", "cup.toml")?;
/// let crest = CrestLine::new(&blank.wall, 0.0);
/// assert_eq!(crest.heights_mm(20.0, 50.0), Some((32.0, 35.0)));
/// assert_eq!(crest.at_mm(20.0), 20.0);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[derive(Clone, Debug)]
pub struct CrestLine {
    /// Place along the rail, height, place along the axis; all mm.
    points: Vec<(f64, f64, f64)>,
    /// Whether the place along the rail only grows: not so over a step that hangs over under this
    /// tilt.
    grows: bool,
    bulge_mm: f64,
}

impl CrestLine {
    /// The crest of a wall under a tilt.
    #[must_use]
    pub fn new(wall: &Wall, tilt_rad: f64) -> Self {
        let crest = Crest::new(tilt_rad);
        let points: Vec<(f64, f64, f64)> = whole_outline(wall)
            .iter()
            .map(|section| (crest.along_mm(section), crest.height_mm(section), section.at_mm))
            .collect();
        Self {
            grows: points.windows(2).all(|pair| pair[0].0 <= pair[1].0),
            points,
            bulge_mm: if wall.shape() == WallShape::Smooth { BULGE_MM } else { 0.0 },
        }
    }

    /// Whether every place along the rail is one of the wall: not so over a step that hangs over.
    #[must_use]
    pub fn grows(&self) -> bool {
        self.grows
    }

    fn spans_between(&self, low: f64, high: f64) -> &[(f64, f64, f64)] {
        if !self.grows {
            return &self.points;
        }
        let first = self.points.partition_point(|point| point.0 < low).saturating_sub(1);
        let last = self.points.partition_point(|point| point.0 <= high).saturating_add(1);
        &self.points[first..last.min(self.points.len())]
    }

    /// The least and the greatest height between two places along the rail, mm; on a curved wall
    /// 0.002 mm wider than they are. `None` for an empty range.
    #[must_use]
    pub fn heights_mm(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let mut range: Option<(f64, f64)> = None;
        let mut consider = |height: f64| {
            let (least, most) = range.unwrap_or((height, height));
            range = Some((least.min(height), most.max(height)));
        };
        for pair in self.spans_between(low, high).windows(2) {
            let ((x0, h0, _), (x1, h1, _)) = (pair[0], pair[1]);
            if x0.max(x1) < low || x0.min(x1) > high {
                continue;
            }
            for (x, h) in [(x0, h0), (x1, h1)] {
                if x >= low && x <= high {
                    consider(h);
                }
            }
            for x in [low, high] {
                if (x0 - x) * (x1 - x) < 0.0 {
                    consider(h0 + (h1 - h0) * (x - x0) / (x1 - x0));
                }
            }
        }
        range.map(|(least, most)| (least - self.bulge_mm, most + self.bulge_mm))
    }

    /// The place along the rail, between two, where the crest comes nearest to a height; all mm.
    #[must_use]
    pub fn along_at_height(&self, low: f64, high: f64, height_mm: f64) -> f64 {
        let mut best = (low, f64::INFINITY);
        for pair in self.spans_between(low, high).windows(2) {
            let ((x0, h0, _), (x1, h1, _)) = (pair[0], pair[1]);
            let at = |x: f64| if x1 == x0 { h1 } else { h0 + (h1 - h0) * (x - x0) / (x1 - x0) };
            for x in [x0, x1, low, high] {
                let inside = x >= low && x <= high && x >= x0.min(x1) && x <= x0.max(x1);
                let off = (at(x) - height_mm).abs();
                if inside && off < best.1 {
                    best = (x, off);
                }
            }
        }
        best.0
    }

    /// The places along the rail, between two, where the crest passes a height, in their order; all
    /// mm.
    #[must_use]
    pub fn crossings_of_height(&self, low: f64, high: f64, height_mm: f64) -> Vec<f64> {
        let crossing = |pair: &[(f64, f64, f64)]| {
            let ((x0, h0, _), (x1, h1, _)) = (pair[0], pair[1]);
            let (off0, off1) = (h0 - height_mm, h1 - height_mm);
            let x = x0 + (x1 - x0) * off0 / (off0 - off1);
            (off0 * off1 < 0.0 && x >= low && x <= high).then_some(x)
        };
        self.spans_between(low, high).windows(2).filter_map(crossing).collect()
    }

    /// The place along the axis whose crest lies at a place along the rail, mm; the uppermost where
    /// there are several.
    #[must_use]
    pub fn at_mm(&self, along_mm: f64) -> f64 {
        let mut best: Option<(f64, f64)> = None;
        for pair in self.spans_between(along_mm, along_mm).windows(2) {
            let ((x0, h0, at0), (x1, h1, at1)) = (pair[0], pair[1]);
            if x0.max(x1) < along_mm || x0.min(x1) > along_mm {
                continue;
            }
            let share = if x0 == x1 { 1.0 } else { (along_mm - x0) / (x1 - x0) };
            let (height, at) = (h0 + (h1 - h0) * share, at0 + (at1 - at0) * share);
            if best.is_none_or(|(highest, _)| height > highest) {
                best = Some((height, at));
            }
        }
        best.map_or(along_mm, |(_, at)| at)
    }
}
