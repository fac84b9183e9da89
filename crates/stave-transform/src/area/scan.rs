//! Scan lines: along each of them, where what is burned is seen.
//!
//! Every outline is a bag of edges over the wall, each with a winding of ±1: across the lines, and
//! along them. On a line the edges that meet it are put in order, and from one to the next each
//! path's winding number is kept, so that nonzero and even-odd insides, clips and what hides what
//! are all plain questions about the stretch between two neighbours.

use std::f64::consts::TAU;

use stave_toolpath::art::Rule;

use crate::narrow::Seen;

/// One edge of an outline over the wall.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Edge {
    /// Across the lines, from and to.
    low: f64,
    high: f64,
    /// The place along them at 0 would lose digits far away: reckoned from the lower end.
    low_mm: f64,
    mm_per_across: f64,
    path: u32,
    winding: i8,
}

impl Edge {
    /// The edge between two places `[across, along]` of a path; `None` where it runs along a scan
    /// line, which it then never crosses.
    pub(crate) fn between(from: [f64; 2], to: [f64; 2], path: u32) -> Option<Edge> {
        let (low, high, winding) = if from[0] < to[0] { (from, to, 1) } else { (to, from, -1) };
        let mm_per_across = (high[1] - low[1]) / (high[0] - low[0]);
        (high[0] > low[0]).then_some(Edge {
            low: low[0],
            high: high[0],
            low_mm: low[1],
            mm_per_across,
            path,
            winding,
        })
    }

    /// Least and greatest place across the lines, and the same along them.
    pub(crate) fn ranges(&self) -> ((f64, f64), (f64, f64)) {
        let ends = (self.low_mm, self.along_mm(self.high));
        ((self.low, self.high), (ends.0.min(ends.1), ends.0.max(ends.1)))
    }

    fn along_mm(&self, across: f64) -> f64 {
        self.low_mm + (across - self.low) * self.mm_per_across
    }
}

/// What a path is to the stack.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Role {
    /// The outline of a layer.
    Layer(u32),
    /// The outline of an area of a clip.
    Clip,
}

/// A path: how it is filled and what it is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PathOf {
    pub(crate) rule: Rule,
    pub(crate) role: Role,
}

/// A layer as the scan sees it; their order is that of painting.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sheet {
    /// The piece it is burned for; `None` where it only hides.
    pub(crate) burned: Option<u32>,
    pub(crate) hides: bool,
    /// Whether it is bare ware.
    pub(crate) is_bare: bool,
    /// Indices into [`Stack::clips`].
    pub(crate) clips: Vec<u32>,
}

/// A clip: within one of the areas (a path, and clips of its own) and within all of `within`.
#[derive(Clone, Debug, Default)]
pub(crate) struct ClipOf {
    pub(crate) areas: Vec<(u32, Vec<u32>)>,
    pub(crate) within: Vec<u32>,
}

/// All that decides what is seen at a point.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stack {
    pub(crate) paths: Vec<PathOf>,
    pub(crate) sheets: Vec<Sheet>,
    pub(crate) clips: Vec<ClipOf>,
}

/// Which way lines run, and what is measured across and along them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Way {
    /// Along the axis at constant turn: across them turns are measured, rad, and along them lengths
    /// along the meridian, mm.
    Along,
    /// Around at constant place: across them lengths along the meridian are measured, mm, and along
    /// them turns times this radius, mm, so that places mean the same on all lines.
    Around { radius_mm: f64 },
}

impl Way {
    /// A place `[turn, s]` of the wall, across lines and along them.
    pub(crate) fn of_wall(self, [turn_rad, s_mm]: [f64; 2]) -> [f64; 2] {
        match self {
            Way::Along => [turn_rad, s_mm],
            Way::Around { radius_mm } => [s_mm, turn_rad * radius_mm],
        }
    }

    /// Where on the wall that is: length along the meridian, mm, and turn, rad.
    pub(crate) fn to_wall(self, across: f64, along_mm: f64) -> (f64, f64) {
        match self {
            Way::Along => (along_mm, across),
            Way::Around { radius_mm } => (across, along_mm / radius_mm),
        }
    }

    /// How long all the way around is along a line; `None` where lines do not go around.
    pub(crate) fn turn_mm(self) -> Option<f64> {
        match self {
            Way::Along => None,
            Way::Around { radius_mm } => Some(TAU * radius_mm),
        }
    }

    /// What a mm along a line of the wall is there, where its radius is known, mm of wall.
    pub(crate) fn wall_mm(self, at_radius_mm: f64) -> f64 {
        match self {
            Way::Along => 1.0,
            Way::Around { radius_mm } => at_radius_mm / radius_mm,
        }
    }
}

/// Lines, evenly apart: by turn, rad, where they run along the axis, by length along the meridian,
/// mm, where they run around.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Grid {
    pub(crate) way: Way,
    /// Where line 0 lies.
    pub(crate) origin: f64,
    pub(crate) step: f64,
    /// Where lines do not lie on motor steps by themselves: a place that does, and one step.
    pub(crate) snap: Option<(f64, f64)>,
}

impl Grid {
    /// Where a line belongs.
    #[allow(clippy::cast_precision_loss)]
    pub(crate) fn across(&self, line: i64) -> f64 {
        self.origin + line as f64 * self.step
    }

    /// Where it is burned: on the motor step nearest to it.
    pub(crate) fn burned(&self, line: i64) -> f64 {
        let across = self.across(line);
        match self.snap {
            Some((zero, one)) => zero + ((across - zero) / one).round() * one,
            None => across,
        }
    }

    /// The first line at or past a place.
    #[allow(clippy::cast_possible_truncation)]
    pub(crate) fn line_from(&self, across: f64) -> i64 {
        ((across - self.origin) / self.step).ceil() as i64
    }

    /// How far apart lines lie on the wall where it has a radius, mm.
    pub(crate) fn spacing_mm(&self, radius_mm: f64) -> f64 {
        match self.way {
            Way::Along => self.step * radius_mm,
            Way::Around { .. } => self.step,
        }
    }
}

/// A stretch of a line to be burned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Run {
    pub(crate) from_mm: f64,
    pub(crate) to_mm: f64,
    pub(crate) piece: u32,
}

/// The runs of one line, in their order along it, apart from each other or touching.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Line {
    pub(crate) line: i64,
    pub(crate) runs: Vec<Run>,
    /// The share of its power that it burns with.
    pub(crate) share: f64,
    /// It burns again what the line so many before it does, a turn later.
    pub(crate) after: i64,
}

impl Default for Line {
    fn default() -> Self {
        Self { line: 0, runs: Vec::new(), share: 1.0, after: 0 }
    }
}

/// Windings along one line.
struct Sweep<'a> {
    stack: &'a Stack,
    windings: Vec<i32>,
    /// Layers whose outline holds the place, in order.
    inside: Vec<u32>,
}

impl Sweep<'_> {
    fn cross(&mut self, path: u32, winding: i8) {
        let Some(of) = self.stack.paths.get(path as usize) else { return };
        let before = of.rule.holds(self.windings[path as usize]);
        self.windings[path as usize] += i32::from(winding);
        let after = of.rule.holds(self.windings[path as usize]);
        let Role::Layer(layer) = of.role else { return };
        if before != after {
            match self.inside.binary_search(&layer) {
                Ok(at) if before => drop(self.inside.remove(at)),
                Err(at) if after => self.inside.insert(at, layer),
                _ => {}
            }
        }
    }

    /// The piece that is seen burning at the place come to.
    fn seen(&self) -> Option<u32> {
        self.top().and_then(|sheet| sheet.burned)
    }

    /// The layer that is seen at the place come to.
    fn top(&self) -> Option<&Sheet> {
        let sheets = self.inside.iter().rev().filter_map(|k| self.stack.sheets.get(*k as usize));
        sheets
            .filter(|sheet| sheet.burned.is_some() || sheet.hides)
            .find(|sheet| sheet.clips.iter().all(|clip| self.in_clip(*clip)))
    }

    fn in_clip(&self, clip: u32) -> bool {
        let Some(clip) = self.stack.clips.get(clip as usize) else { return false };
        let in_area = |(path, clips): &(u32, Vec<u32>)| {
            let rule = self.stack.paths.get(*path as usize).map_or(Rule::NonZero, |of| of.rule);
            rule.holds(self.windings.get(*path as usize).copied().unwrap_or(0))
                && clips.iter().all(|clip| self.in_clip(*clip))
        };
        clip.areas.iter().any(in_area) && clip.within.iter().all(|clip| self.in_clip(*clip))
    }
}

/// Looks at single places: what is seen there.
pub(super) struct Looks<'a> {
    edges: &'a [Edge],
    sweep: Sweep<'a>,
    /// For each band across the lines the edges that reach into it.
    bands: Vec<Vec<u32>>,
    first: f64,
    band_width: f64,
    left: usize,
}

impl<'a> Looks<'a> {
    /// The most bands.
    const MOST_BANDS: f64 = 8192.0;
    /// How often an edge is named in bands, on the average, at the most: where many go far across,
    /// bands are fewer.
    const MOST_NAMED: f64 = 8.0;
    /// How many edges are looked at in all: what is not known by then is not told.
    const MOST_MET: usize = 50_000_000;

    pub(super) fn new(edges: &'a [Edge], stack: &'a Stack, range: (f64, f64)) -> Self {
        #[allow(clippy::cast_precision_loss, reason = "edges are far fewer than 2^53")]
        let mean =
            edges.iter().map(|edge| edge.high - edge.low).sum::<f64>() / edges.len().max(1) as f64;
        let band_width =
            ((range.1 - range.0) / Self::MOST_BANDS).max(mean / Self::MOST_NAMED).max(1e-9);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let band = |across: f64| ((across - range.0) / band_width).clamp(0.0, 1e5) as usize;
        let mut bands = vec![Vec::new(); band(range.1) + 1];
        for (number, edge) in edges.iter().enumerate() {
            let number = u32::try_from(number).unwrap_or(u32::MAX);
            let last = bands.len() - 1;
            for of in &mut bands[band(edge.low).min(last)..=band(edge.high).min(last)] {
                of.push(number);
            }
        }
        let sweep = Sweep { stack, windings: vec![0; stack.paths.len()], inside: Vec::new() };
        let (first, left) = (range.0, Self::MOST_MET);
        Self { edges, sweep, bands, first, band_width, left }
    }

    pub(super) fn at(&mut self, [across, along_mm]: [f64; 2]) -> Seen {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let band = ((across - self.first) / self.band_width).clamp(0.0, 1e5) as usize;
        let Some(numbers) = self.bands.get(band) else { return Seen::Bare };
        let Some(left) = self.left.checked_sub(numbers.len()) else { return Seen::Other };
        self.left = left;
        let below = |edge: &&Edge| {
            edge.low <= across && across < edge.high && edge.along_mm(across) < along_mm
        };
        for edge in numbers.iter().map(|number| &self.edges[*number as usize]).filter(below) {
            self.sweep.cross(edge.path, edge.winding);
        }
        let seen = match self.sweep.top() {
            Some(Sheet { burned: Some(piece), .. }) => Seen::Burns(*piece as usize),
            Some(sheet) if !sheet.is_bare => Seen::Other,
            _ => Seen::Bare,
        };
        self.sweep.inside.clear();
        for number in numbers {
            self.sweep.windings[self.edges[*number as usize].path as usize] = 0;
        }
        seen
    }
}

/// The lines of a grid on which something burns, in order. `edges` are put in order of their lower
/// ends.
///
/// An edge meets the lines from its lower end on and before its upper one: where two edges meet on
/// a line, the line is crossed once. Only lines within `range` are looked at. Between runs of
/// the same piece nearer than `least_mm` the beam stays on; shorter runs are left out.
pub(crate) fn scan(
    edges: &mut [Edge],
    stack: &Stack,
    grid: &Grid,
    range: (f64, f64),
    least_mm: f64,
) -> Vec<Line> {
    edges.sort_unstable_by(|a, b| a.low.total_cmp(&b.low));
    let mut sweep = Sweep { stack, windings: vec![0; stack.paths.len()], inside: Vec::new() };
    let mut lines = Vec::new();
    let mut active: Vec<Edge> = Vec::new();
    let mut met: Vec<(f64, u32, i8)> = Vec::new();
    let mut next = 0;
    let mut line = grid.line_from(range.0);
    let end = grid.line_from(range.1).saturating_add(1);
    while line < end {
        if active.is_empty() {
            let Some(edge) = edges.get(next) else { break };
            line = line.max(grid.line_from(edge.low));
        }
        let across = grid.across(line);
        // What ends before this line is never met.
        while let Some(edge) = edges.get(next).filter(|edge| edge.low <= across) {
            if edge.high > across {
                active.push(*edge);
            }
            next += 1;
        }
        active.retain(|edge| edge.high > across);
        met.clear();
        met.extend(active.iter().map(|edge| (edge.along_mm(across), edge.path, edge.winding)));
        met.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let runs = along(&met, &mut sweep, least_mm);
        if !runs.is_empty() {
            lines.push(Line { line, runs, ..Line::default() });
        }
        line = line.saturating_add(1);
    }
    lines
}

fn along(met: &[(f64, u32, i8)], sweep: &mut Sweep<'_>, least_mm: f64) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (k, &(at_mm, path, winding)) in met.iter().enumerate() {
        sweep.cross(path, winding);
        let Some(next) = met.get(k + 1) else { break };
        if next.0 <= at_mm {
            continue;
        }
        let Some(piece) = sweep.seen() else { continue };
        match runs.last_mut() {
            Some(last) if last.piece == piece && at_mm - last.to_mm < least_mm => {
                last.to_mm = next.0;
            }
            _ => runs.push(Run { from_mm: at_mm, to_mm: next.0, piece }),
        }
    }
    // Closed outlines come out even; whatever did not is not carried to the next line.
    sweep.inside.clear();
    for (_, path, _) in met {
        sweep.windings[*path as usize] = 0;
    }
    runs.retain(|run| run.to_mm - run.from_mm >= least_mm);
    runs
}
