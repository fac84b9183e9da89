//! Pictures on scan lines: how strongly each place of a line burns.
//!
//! The hatch says where along a line a picture is seen, as it does for areas; here that stretch is
//! carried back through the lay to the picture, and parted into runs of equal power. Halftones are
//! made on the grid of the wall, line by line, so that their dots come out even whatever the lay
//! does.

mod dots;
mod tone;
mod trace;

use std::sync::Arc;

use stave_setup::Tone;
use stave_toolpath::Picture;
use stave_wall::{Lay, Wall};

pub use tone::Tones;

use crate::area::{Grid, Line, Run, Way};
use dots::Dots;
use trace::Tracer;

/// Dark gaps shorter than this stay within one run of a line when it is asked what burns where, mm.
const COARSE_GAP_MM: f64 = 0.5;

/// A picture as it lies under an operation.
#[derive(Clone, Debug, PartialEq)]
pub struct Surface {
    /// Its piece.
    pub piece: usize,
    /// Its lay, an index into [`crate::Burns::lays`].
    pub lay: usize,
    /// What it shows.
    pub picture: Arc<Picture>,
}

/// What an operation for pictures burns, and how its levels become burns.
#[derive(Clone, Debug, PartialEq)]
pub struct Shade {
    /// One for each piece.
    pub surfaces: Vec<Surface>,
    /// Levels to burns.
    pub tones: Tones,
}

/// A stretch of a line that burns at one power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) from_mm: f64,
    pub(crate) to_mm: f64,
    /// Its power over that of the operation.
    pub(crate) share: f64,
}

/// Parts the runs of scan lines by how strongly they burn.
#[derive(Clone, Debug)]
pub(crate) struct Shader {
    shade: Shade,
    grid: Grid,
    least_mm: f64,
    tolerance_mm: f64,
    dots: Option<Dots>,
}

impl Shader {
    /// A shader for the lines of a grid. Runs shorter than `least_mm` are none; edges lie within
    /// `tolerance_mm` of where they belong.
    pub(crate) fn new(shade: &Shade, grid: Grid, least_mm: f64, tolerance_mm: f64) -> Self {
        Self { shade: shade.clone(), grid, least_mm, tolerance_mm, dots: None }
    }

    /// Leaves of the lines what burns, dark gaps within but for long ones; makes the halftone on
    /// the way. The area of wall that burns, mm².
    pub(crate) fn trim(&mut self, lines: &mut Vec<Line>, wall: &Wall, lays: &[Lay]) -> f64 {
        if matches!(self.shade.tones.tone(), Tone::Ordered | Tone::Diffused) {
            self.dots = Some(self.dither(lines, wall, lays));
        }
        let (mut area_mm2, mut stretches) = (0.0, Vec::new());
        for line in lines.iter_mut() {
            let mut kept: Vec<Run> = Vec::with_capacity(line.runs.len());
            for run in &line.runs {
                stretches.clear();
                self.stretches(line.line, run, wall, lays, &mut stretches);
                area_mm2 += self.area_mm2(line.line, &stretches, wall);
                for stretch in &stretches {
                    let (from_mm, to_mm) = (stretch.from_mm, stretch.to_mm);
                    match kept.last_mut() {
                        Some(last)
                            if last.piece == run.piece && from_mm - last.to_mm < COARSE_GAP_MM =>
                        {
                            last.to_mm = to_mm;
                        }
                        _ => kept.push(Run { from_mm, to_mm, piece: run.piece }),
                    }
                }
            }
            line.runs = kept;
        }
        lines.retain(|line| !line.runs.is_empty());
        area_mm2
    }

    /// The area of wall that so many lines cover, mm².
    pub(crate) fn area_of_lines_mm2(&self, lines: &[Line], wall: &Wall, lays: &[Lay]) -> f64 {
        let mut stretches = Vec::new();
        let mut area_mm2 = 0.0;
        for line in lines {
            for run in &line.runs {
                stretches.clear();
                self.stretches(line.line, run, wall, lays, &mut stretches);
                area_mm2 += self.area_mm2(line.line, &stretches, wall);
            }
        }
        area_mm2
    }

    fn area_mm2(&self, line: i64, stretches: &[Stretch], wall: &Wall) -> f64 {
        let mut hint = 0;
        if self.grid.way != Way::Along {
            let radius_mm = wall.section(self.grid.across(line), &mut hint).radius_mm;
            let long_mm: f64 =
                stretches.iter().map(|stretch| stretch.to_mm - stretch.from_mm).sum();
            return long_mm * self.grid.way.wall_mm(radius_mm) * self.grid.step;
        }
        let mut strip = |stretch: &Stretch| {
            let (from, to) = (stretch.from_mm, stretch.to_mm);
            let mut radius = |s_mm: f64| wall.section(s_mm, &mut hint).radius_mm;
            (to - from) * (radius(from) + 4.0 * radius(0.5 * (from + to)) + radius(to)) / 6.0
        };
        stretches.iter().map(&mut strip).sum::<f64>() * self.grid.step
    }

    /// Adds what burns of a run of a line, in its order, stretches of equal power as one.
    pub(crate) fn stretches(
        &self,
        line: i64,
        run: &Run,
        wall: &Wall,
        lays: &[Lay],
        into: &mut Vec<Stretch>,
    ) {
        let first = into.len();
        let mut add = |from_mm: f64, to_mm: f64, share: f64| match into[first..].last_mut() {
            Some(last) if last.share == share && from_mm <= last.to_mm + 1e-9 => {
                last.to_mm = to_mm;
            }
            // A sliver goes to what comes before it, or is bare.
            Some(last) if to_mm - from_mm < self.least_mm => {
                if from_mm <= last.to_mm + 1e-9 {
                    last.to_mm = to_mm;
                }
            }
            None if to_mm - from_mm < self.least_mm => {}
            _ => into.push(Stretch { from_mm, to_mm, share }),
        };
        if let Some(dots) = &self.dots {
            dots.runs(line, run.from_mm, run.to_mm, |from, to| add(from, to, 1.0));
        } else {
            self.levels(line, run, wall, lays, |from, to, level| {
                add(from, to, self.shade.tones.share(level));
            });
        }
        // What is bare took part so that slivers of it are none.
        let mut kept = first;
        for k in first..into.len() {
            if into[k].share > 0.0 {
                into[kept] = into[k];
                kept += 1;
            }
        }
        into.truncate(kept);
    }

    /// The levels along a run of a line.
    fn levels(
        &self,
        line: i64,
        run: &Run,
        wall: &Wall,
        lays: &[Lay],
        mut each: impl FnMut(f64, f64, u16),
    ) {
        let of_piece = |surface: &&Surface| surface.piece == run.piece as usize;
        let Some(surface) = self.shade.surfaces.iter().find(of_piece) else { return };
        let Some(lay) = lays.get(surface.lay) else { return };
        let (picture, way) = (&surface.picture, self.grid.way);
        let tracer = Tracer { wall, lay, picture, way, tolerance_mm: self.tolerance_mm };
        tracer.run(self.grid.across(line), run.from_mm, run.to_mm, &mut each);
    }

    fn dither(&self, lines: &[Line], wall: &Wall, lays: &[Lay]) -> Dots {
        let ends = lines.iter().flat_map(|line| &line.runs);
        let low = ends.clone().map(|run| run.from_mm).fold(f64::INFINITY, f64::min);
        let high = ends.map(|run| run.to_mm).fold(f64::NEG_INFINITY, f64::max);
        let mut dots = Dots::new(wall, &self.grid, low, high);
        let tones = &self.shade.tones;
        for line in lines {
            dots.begin_line(line.line, wall);
            for run in &line.runs {
                self.levels(line.line, run, wall, lays, |from, to, level| {
                    dots.darken(from, to, tones.darkness(level));
                });
            }
            dots.end_line(tones.tone());
        }
        dots
    }
}
