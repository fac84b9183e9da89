//! Areas: what is seen of an operation, burned line by line, along the axis or around the work.

mod block;
mod burn;
mod image;
mod lap;
mod late;
mod runner;
mod scan;
mod seam;
mod spacing;

use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::f64::consts::TAU;

use kurbo::Rect;
use stave_setup::Setup;
use stave_wall::{Lay, Wall, WallShape};

pub(crate) use block::{Block, Costs, blocks};
pub(crate) use burn::{AreaHow, Shaded, block as burn_block, ends};
pub(crate) use lap::Overlap;
pub(crate) use runner::{Runner, Step};
pub(crate) use scan::{Grid, Line, Run, Way};
use spacing::Spacing;

use crate::burns::{BurnPart, LineRule, ScanWay};
use crate::narrow::{self, Narrow, Outline};
use crate::scene::{Chain, Scene};
use image::Imager;
use scan::{ClipOf, Edge, Looks, PathOf, Role, Sheet, Stack};
use seam::Fold;

/// Runs shorter than this are no burns, gaps shorter than this no gaps, as a share of the
/// tolerance.
pub(crate) const LEAST_SHARE: f64 = 0.1;

/// So many edges are kept on the wall at once, about 100 MB.
const MOST_KEPT: usize = 2_000_000;

/// What of an operation is seen, on scan lines.
#[derive(Clone, Debug)]
pub(crate) struct Hatch {
    pub(crate) grid: Grid,
    /// Whole motor steps between lines, where they are known.
    pub(crate) motor_steps: Option<f64>,
    /// Whether a single motor step is wider than allowed.
    pub(crate) coarse: bool,
    pub(crate) lines: Vec<Line>,
    /// The largest radius burned, mm.
    pub(crate) radius_mm: f64,
    /// Whether it goes all the way around.
    pub(crate) full_wrap: bool,
    /// Whether it then closes without a seam.
    pub(crate) closes: bool,
    pub(crate) seam: Option<Seam>,
    /// What is narrower than the spot.
    pub(crate) narrow: Vec<Narrow>,
    /// How far its edges stray from those of the drawing at the most, mm on the wall.
    pub(crate) strayed_mm: f64,
}

impl Hatch {
    /// The smallest radius that its lines burn, mm.
    pub(crate) fn least_radius_mm(&self, wall: &Wall) -> f64 {
        match (self.grid.way, seen(&self.lines, &self.grid)) {
            (Way::Along, Some((_, places))) => radii_mm(wall, places).0,
            _ => self.radius_mm,
        }
    }
}

/// Where a full wrap that closes begins and ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Seam {
    /// Lines along the axis: the first after it, and how many there are to a turn.
    Between { first: i64, count: i64 },
    /// Lines around: from which place along them on they go all the way around, and how long that
    /// is, mm.
    Within { from_mm: f64, turn_mm: f64 },
}

/// A lay, and what of the operation goes to the wall by it.
struct Laying {
    stack: Stack,
    edges: Vec<Edge>,
    /// Least and greatest place across and along the lines of what is burned, before anything is
    /// hidden.
    across: (f64, f64),
    along: (f64, f64),
    /// What is narrower than the spot.
    narrow: Vec<Narrow>,
}

/// An image that is not a number: the piece whose shape has none.
pub(crate) struct NoImage {
    pub(crate) piece: usize,
}

/// Lays out an operation that burns areas.
///
/// # Errors
/// Where a shape has no image.
pub(crate) fn hatch(
    scene: &Scene<'_>,
    lays: &[Lay],
    parts: &[BurnPart],
    (asked_mm, rule, scan): (f64, LineRule, ScanWay),
    spot_mm: Option<f64>,
    shaded: bool,
    setup: &Setup,
) -> Result<Option<Hatch>, NoImage> {
    let strayed_mm = Cell::new(0.0);
    let how = (asked_mm, rule, scan);
    let hatch = lay_out(scene, lays, parts, how, spot_mm, (shaded, &strayed_mm), setup)?;
    Ok(hatch.map(|hatch| Hatch { strayed_mm: strayed_mm.get(), ..hatch }))
}

fn lay_out(
    scene: &Scene<'_>,
    lays: &[Lay],
    parts: &[BurnPart],
    (asked_mm, rule, scan): (f64, LineRule, ScanWay),
    spot_mm: Option<f64>,
    (shaded, strayed_mm): (bool, &Cell<f64>),
    setup: &Setup,
) -> Result<Option<Hatch>, NoImage> {
    let wall = &setup.blank.wall;
    let way = match scan {
        ScanWay::Along => Way::Along,
        ScanWay::Around => Way::Around { radius_mm: wall.largest_radius_mm() },
    };
    let tolerance_mm = setup.job.tolerance_mm / 8.0;
    let used: BTreeSet<usize> = parts.iter().map(|part| part.lay).collect();
    let make_for = |index: usize, spot_mm: Option<f64>| {
        let Some(lay) = lays.get(index) else { return Ok(None) };
        laying(scene, &Imager { wall, lay, way, tolerance_mm, strayed_mm }, parts, index, spot_mm)
    };
    let make = |index: usize| make_for(index, None);
    let mut narrow = Vec::new();
    // Where every piece has a lay of its own, not all outlines are kept on the wall at once: the
    // rest are carried there anew.
    let (mut layings, mut kept, mut extent) = (Vec::new(), 0, None);
    for index in used {
        let Some(mut laying) = make_for(index, spot_mm)? else { continue };
        narrow.append(&mut laying.narrow);
        extent = Some(extent.map_or((laying.across, laying.along), |all| joined(all, &laying)));
        kept += laying.edges.len();
        layings.push((index, Some(laying).filter(|_| kept < MOST_KEPT)));
    }
    let Some(mut extent) = extent else { return Ok(None) };
    if way != Way::Along {
        let fold = Fold { least_mm: LEAST_SHARE * setup.job.tolerance_mm, shaded };
        return lap::hatch(&mut layings, &make, (asked_mm, way, fold), extent, narrow, setup);
    }
    if let LineRule::At { origin_rad, step_rad } = rule {
        return at_lines(&mut layings, &make, (origin_rad, step_rad), extent, setup);
    }
    let never_wider = rule == LineRule::NeverWider;
    let least_mm = LEAST_SHARE * setup.job.tolerance_mm;
    let steps = setup.rotary_steps_per_turn();
    let mut before = None;
    let wraps =
        |turns: (f64, f64), radius_mm: f64| turns.1 - turns.0 > TAU - 1.5 * asked_mm / radius_mm;
    let radius_mm = largest_radius_mm(wall, extent.1);
    if wraps(extent.0, radius_mm) {
        // Outlines go all the way around; what burns of them may not, once it is clipped.
        let spacing = spacing::choose(asked_mm, radius_mm, steps, false, never_wider);
        let grid = spacing::grid(&spacing, setup.job.zero.turn_rad, setup.job.zero.turn_rad);
        let mut each = Vec::with_capacity(layings.len());
        for (index, laying) in &mut layings {
            let mut anew = if laying.is_none() { make(*index)? } else { None };
            let Some(laying) = laying.as_mut().or(anew.as_mut()) else { continue };
            each.push(scan::scan(&mut laying.edges, &laying.stack, &grid, laying.across, least_mm));
        }
        let Some((turns, places)) = seen(&merged(each.into_iter(), None), &grid) else {
            return Ok(None);
        };
        let half_rad = 0.5 * spacing.step_rad;
        // A line stands for half the spacing to either side.
        let burns = (turns.0 - half_rad, turns.1 + half_rad);
        if !wraps(burns, largest_radius_mm(wall, places)) {
            extent = (burns, places);
        }
    }
    // What is hidden or clipped away may make the art smaller than its outlines, and the lines then
    // a little other than was thought.
    loop {
        let radius_mm = largest_radius_mm(wall, extent.1);
        let full_wrap = wraps(extent.0, radius_mm);
        let spacing = spacing::choose(asked_mm, radius_mm, steps, full_wrap, never_wider);
        let seam = if full_wrap { extent.0.0 } else { setup.job.zero.turn_rad };
        let grid = spacing::grid(&spacing, setup.job.zero.turn_rad, seam);
        // What reaches past a seam that closes lies on the lines of the other side.
        let around = (full_wrap && spacing.closes).then(|| {
            #[allow(clippy::cast_possible_truncation)]
            let count = (TAU / spacing.step_rad).round() as i64;
            (grid.line_from(seam), count.max(1))
        });
        let mut each = Vec::with_capacity(layings.len());
        for (index, laying) in &mut layings {
            let mut anew = if laying.is_none() { make(*index)? } else { None };
            let Some(laying) = laying.as_mut().or(anew.as_mut()) else { continue };
            each.push(scan::scan(&mut laying.edges, &laying.stack, &grid, laying.across, least_mm));
        }
        let lines = merged(each.into_iter(), None);
        let Some(seen) = seen(&lines, &grid) else { return Ok(None) };
        let again = before.is_none_or(|tries| tries < 3)
            && spacing::choose(
                asked_mm,
                largest_radius_mm(wall, seen.1),
                steps,
                full_wrap,
                never_wider,
            ) != spacing;
        if !again {
            let Spacing { motor_steps, coarse, closes, .. } = spacing;
            let fold = Fold { least_mm, shaded };
            let folded = around.and_then(|at| Some((fold.along(&lines, at)?, at)));
            let (lines, seam) = match folded {
                Some((lines, (first, count))) => (lines, Some(Seam::Between { first, count })),
                None => (lines, None),
            };
            return Ok(Some(Hatch {
                grid,
                motor_steps,
                coarse,
                lines,
                radius_mm,
                full_wrap,
                closes,
                seam,
                narrow,
                strayed_mm: 0.0,
            }));
        }
        before = Some(before.unwrap_or(0) + 1);
        extent.1 = seen.1;
    }
}

/// Lines that are given, each on the motor step nearest to it.
fn at_lines(
    layings: &mut [(usize, Option<Laying>)],
    make: &dyn Fn(usize) -> Result<Option<Laying>, NoImage>,
    (origin_rad, step_rad): (f64, f64),
    extent: Extent,
    setup: &Setup,
) -> Result<Option<Hatch>, NoImage> {
    let one_rad = setup.rotary_steps_per_turn().map(|steps| TAU / steps);
    let snap_rad = one_rad.map(|one| (setup.job.zero.turn_rad, one));
    let grid = Grid { way: Way::Along, origin: origin_rad, step: step_rad, snap: snap_rad };
    let least_mm = LEAST_SHARE * setup.job.tolerance_mm;
    let lines = scanned(layings, make, &grid, least_mm)?;
    let Some(seen) = seen(&lines, &grid) else { return Ok(None) };
    let radius_mm = largest_radius_mm(&setup.blank.wall, seen.1);
    let full_wrap = extent.0.1 - extent.0.0 > TAU - 1.5 * step_rad;
    Ok(Some(Hatch {
        grid,
        motor_steps: None,
        coarse: false,
        lines,
        radius_mm,
        full_wrap,
        closes: true,
        seam: None,
        narrow: Vec::new(),
        strayed_mm: 0.0,
    }))
}

/// The lines of all pieces; a piece that is not laid yet is laid by `make`, and not kept.
fn scanned(
    layings: &mut [(usize, Option<Laying>)],
    make: &dyn Fn(usize) -> Result<Option<Laying>, NoImage>,
    grid: &Grid,
    least_mm: f64,
) -> Result<Vec<Line>, NoImage> {
    let mut each = Vec::with_capacity(layings.len());
    for (index, laying) in layings {
        let mut anew = if laying.is_none() { make(*index)? } else { None };
        let Some(laying) = laying.as_mut().or(anew.as_mut()) else { continue };
        each.push(scan::scan(&mut laying.edges, &laying.stack, grid, laying.across, least_mm));
    }
    Ok(merged(each.into_iter(), None))
}

fn joined(all: Extent, laying: &Laying) -> Extent {
    let wider = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
    (wider(all.0, laying.across), wider(all.1, laying.along))
}

fn laying(
    scene: &Scene<'_>,
    imager: &Imager<'_>,
    parts: &[BurnPart],
    lay: usize,
    spot_mm: Option<f64>,
) -> Result<Option<Laying>, NoImage> {
    let mut burned: BTreeMap<usize, usize> = BTreeMap::new();
    let mut bounds: Option<Rect> = None;
    for part in parts.iter().filter(|part| part.lay == lay) {
        let Some(layer) = scene.layer_of(part.shape, part.part) else { continue };
        burned.insert(layer, part.piece);
        let own = scene.layers[layer].bounds;
        bounds = Some(bounds.map_or(own, |all| all.union(own)));
    }
    let (Some(bounds), Some(&lowest)) = (bounds, burned.keys().next()) else { return Ok(None) };
    let mut build = Build {
        scene,
        imager,
        stack: Stack::default(),
        edges: Vec::new(),
        clips: HashMap::new(),
        outlines: spot_mm.map(|_| Vec::new()),
    };
    let nothing = (f64::INFINITY, f64::NEG_INFINITY);
    let (mut across, mut along) = (nothing, nothing);
    for (index, layer) in scene.layers.iter().enumerate().skip(lowest) {
        let piece = burned.get(&index).copied();
        if piece.is_none() && !(layer.hides && meets(layer.bounds, bounds)) {
            continue;
        }
        let first_edge = build.edges.len();
        let sheet = u32::try_from(build.stack.sheets.len()).unwrap_or(u32::MAX);
        let path = build.path(PathOf { rule: scene.rule(index), role: Role::Layer(sheet) });
        let whole = build.edges(scene.rings(index), path, piece);
        if let Some(piece) = piece {
            if !whole {
                return Err(NoImage { piece });
            }
            for edge in &build.edges[first_edge..] {
                let ranges = edge.ranges();
                across = (across.0.min(ranges.0.0), across.1.max(ranges.0.1));
                along = (along.0.min(ranges.1.0), along.1.max(ranges.1.1));
            }
        }
        let clips = scene.clips_of(layer.shape).iter().map(|clip| build.clip(*clip)).collect();
        let burned = piece.and_then(|piece| u32::try_from(piece).ok());
        let is_bare = scene.is_bare(index);
        build.stack.sheets.push(Sheet { burned, hides: layer.hides, is_bare, clips });
    }
    let Build { stack, mut edges, outlines, .. } = build;
    edges.retain(|edge| edge.ranges().0.1 >= across.0 && edge.ranges().0.0 <= across.1);
    if across.0 > across.1 {
        return Ok(None);
    }
    let mut narrow = Vec::new();
    if let (Some(spot_mm), Some(outlines)) = (spot_mm, outlines) {
        let mut looks = Looks::new(&edges, &stack, across);
        let mut hint = 0;
        narrow = narrow::narrow(
            &outlines,
            Some(&mut |place| looks.at(imager.way.of_wall(place))),
            |s_mm| imager.wall.section(s_mm, &mut hint).radius_mm,
            spot_mm,
        );
    }
    Ok(Some(Laying { stack, edges, across, along, narrow }))
}

fn meets(a: Rect, b: Rect) -> bool {
    a.x0 <= b.x1 && b.x0 <= a.x1 && a.y0 <= b.y1 && b.y0 <= a.y1
}

/// A stack in the making.
struct Build<'a> {
    scene: &'a Scene<'a>,
    imager: &'a Imager<'a>,
    stack: Stack,
    edges: Vec<Edge>,
    /// Clips of the art that the stack has already.
    clips: HashMap<usize, u32>,
    /// What bounds anything, where it is to be looked at.
    outlines: Option<Vec<Outline>>,
}

impl Build<'_> {
    /// Carries outlines to the wall; false where a place has no image.
    fn edges(&mut self, rings: &[Chain], path: u32, piece: Option<usize>) -> bool {
        let outlines = &mut self.outlines;
        self.imager.edges(rings, path, &mut self.edges, &mut |corners| {
            if let Some(outlines) = outlines {
                outlines.push(Outline { corners: corners.to_vec(), piece });
            }
        })
    }

    fn path(&mut self, of: PathOf) -> u32 {
        self.stack.paths.push(of);
        u32::try_from(self.stack.paths.len() - 1).unwrap_or(u32::MAX)
    }

    /// The stack's index of a clip of the art. A clip refers to earlier ones alone; where a
    /// malformed one does not, that reference is dropped.
    fn clip(&mut self, index: usize) -> u32 {
        if let Some(&known) = self.clips.get(&index) {
            return known;
        }
        let mut made = ClipOf::default();
        if let Some(clip) = self.scene.art.clips.get(index) {
            let earlier =
                |clips: &[usize]| clips.iter().copied().filter(|c| *c < index).collect::<Vec<_>>();
            made.within = earlier(&clip.within).into_iter().map(|clip| self.clip(clip)).collect();
            for (number, area) in clip.areas.iter().enumerate() {
                let path = self.path(PathOf { rule: area.rule, role: Role::Clip });
                let scene = self.scene;
                let _ = self.edges(scene.clip_rings(index, number), path, None);
                let clips = earlier(&area.clips).into_iter().map(|clip| self.clip(clip)).collect();
                made.areas.push((path, clips));
            }
        }
        self.stack.clips.push(made);
        let here = u32::try_from(self.stack.clips.len() - 1).unwrap_or(u32::MAX);
        self.clips.insert(index, here);
        here
    }
}

/// The lines of several lays as one, so that what overlaps on the wall burns once; `around` folds
/// them into so many lines from a first one on.
fn merged(each: impl Iterator<Item = Vec<Line>>, around: Option<(i64, i64)>) -> Vec<Line> {
    let mut all: BTreeMap<i64, Vec<Run>> = BTreeMap::new();
    for line in each.flatten() {
        let number = around
            .map_or(line.line, |(first, count)| first + (line.line - first).rem_euclid(count));
        all.entry(number).or_default().extend(line.runs);
    }
    all.into_iter()
        .map(|(line, runs)| Line { line, runs: apart(runs), ..Line::default() })
        .collect()
}

/// Runs in order, what overlaps once.
fn apart(mut runs: Vec<Run>) -> Vec<Run> {
    runs.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    let mut apart: Vec<Run> = Vec::with_capacity(runs.len());
    for mut run in runs {
        if let Some(last) = apart.last() {
            run.from_mm = run.from_mm.max(last.to_mm);
        }
        if run.from_mm < run.to_mm {
            apart.push(run);
        }
    }
    apart
}

/// Least and greatest place of what burns, across lines and along them.
type Extent = ((f64, f64), (f64, f64));

fn seen(lines: &[Line], grid: &Grid) -> Option<Extent> {
    let across = (grid.across(lines.first()?.line), grid.across(lines.last()?.line));
    let runs = || lines.iter().flat_map(|line| &line.runs);
    let low = runs().map(|run| run.from_mm).fold(f64::INFINITY, f64::min);
    let high = runs().map(|run| run.to_mm).fold(f64::NEG_INFINITY, f64::max);
    Some((across, (low, high)))
}

/// The wall's largest radius between two places, mm.
fn largest_radius_mm(wall: &Wall, places: (f64, f64)) -> f64 {
    radii_mm(wall, places).1
}

/// The wall's least and largest radius between two places, mm.
fn radii_mm(wall: &Wall, places: (f64, f64)) -> (f64, f64) {
    let mut hint = 0;
    let mut at = |s: f64| wall.section(s, &mut hint).radius_mm;
    let looks = if wall.shape() == WallShape::Straight { 1 } else { 512 };
    let between =
        (0..=looks).map(|k| places.0 + (places.1 - places.0) * f64::from(k) / f64::from(looks));
    let stations = wall.span_ends_mm().iter().copied().filter(|s| *s > places.0 && *s < places.1);
    let radii = between.chain(stations).map(&mut at);
    radii.fold((f64::INFINITY, 0.0), |(least, most), radius| (least.min(radius), most.max(radius)))
}
