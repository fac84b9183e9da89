//! What an operation takes of the scene, fitted to the wall: runs and lines that burn, cut off at
//! zones, in the order in which they burn.

mod keep_out;

use std::f64::consts::TAU;

use kurbo::Point;
use stave_rig::{Misfit, Reach, Zones};
use stave_setup::{Setup, Tone};
use stave_toolpath::art::{self, Work};
use stave_wall::{Laid, Lay};

use super::fade::Fade;
use super::{HatchFigures, Hit, OperationFigures, Pass, Ready};
use crate::area::{self, AreaHow, Block, Hatch, Overlap, Run, Runner, Seam, Way};
use crate::burns::{Burns, LineRule, Operation, ScanWay};
use crate::drive::{Drive, How};
use crate::line::{self, LineHow, LinePath};
use crate::narrow::{self, Narrow, Outline};
use crate::order::{self, Stop};
use crate::quicker::Scanned;
use crate::redraw::Extent;
use crate::scene::Scene;
use crate::shade::Shader;

/// What the way back from the wall to a picture has of the tolerance.
const PICTURE_SHARE: f64 = 0.25;
/// What cutting on the wall has of the tolerance, beside flattening and rounding.
const CUT_SHARE: f64 = 0.55;

/// Fits what operations take of the scene to wall and machine.
pub(super) struct Planner<'a, 's> {
    setup: &'a Setup,
    lays: &'a [Lay],
    scene: &'s Scene<'s>,
    drive: Drive<'a>,
    reach: Reach,
    keepouts: Zones,
    pub(super) hits: Vec<Hit>,
    pub(super) extents: Vec<Option<Extent>>,
    /// Where the operations before have come to, in the plane of [`order`].
    at: Option<Point>,
}

impl<'a, 's> Planner<'a, 's> {
    pub(super) fn new(burns: &Burns<'a>, setup: &'a Setup, scene: &'s Scene<'s>) -> Self {
        Self {
            setup,
            lays: burns.lays,
            scene,
            drive: Drive::new(setup),
            reach: Reach::new(
                &setup.blank.wall,
                &stave_wall::Crest::new(setup.job.tilt_rad),
                setup.machine.controller.steepest_rad,
            ),
            keepouts: Zones::new(setup),
            hits: Vec::new(),
            extents: Vec::new(),
            at: None,
        }
    }
}

impl Planner<'_, '_> {
    /// One hit for each operation, piece and kind (zones: each zone); the first place met stands
    /// for it.
    fn hit(&mut self, operation: usize, piece: usize, misfit: Misfit) {
        let known = |hit: &Hit| {
            hit.operation == operation
                && hit.piece == piece
                && match (&hit.misfit, &misfit) {
                    (Misfit::Zone { name: a, .. }, Misfit::Zone { name: b, .. }) => a == b,
                    (a, b) => std::mem::discriminant(a) == std::mem::discriminant(b),
                }
        };
        if !self.hits.iter().any(known) {
            self.hits.push(Hit { operation, piece, misfit });
        }
    }

    fn extend(&mut self, piece: usize, laid: &Laid) {
        if self.extents.len() <= piece {
            self.extents.resize(piece + 1, None);
        }
        self.extents[piece].get_or_insert(Extent::NOTHING).add(laid);
    }

    /// What lies off an end of the wall by no more than the tolerance burns at the end.
    fn to_end(&self, s_mm: f64) -> f64 {
        let (length_mm, slack_mm) =
            (self.drive.emit.rig.wall.length_mm(), self.setup.job.tolerance_mm);
        let near = s_mm >= -slack_mm && s_mm <= length_mm + slack_mm;
        if near { s_mm.clamp(0.0, length_mm) } else { s_mm }
    }

    fn how(&self, operation: &Operation, speed_mm_per_s: f64) -> How {
        let asked = operation.power_percent / 100.0 * self.setup.machine.controller.full_power_s;
        let ratio =
            if operation.even_dose { speed_mm_per_s / operation.speed_mm_per_s } else { 1.0 };
        How { speed_mm_per_s, power_s: asked * ratio, even: operation.even_dose }
    }

    /// A place as a point of the plane in which travel is measured, mm.
    fn plane(&self, s_mm: f64, turn_rad: f64) -> Point {
        let section = self.drive.emit.rig.wall.section(s_mm, &mut 0);
        Point::new(
            self.drive.emit.rig.along_mm(&section),
            turn_rad * self.setup.job.reference_radius_mm,
        )
    }

    /// What an operation burns in a pass, and what it comes to. A pass across has the same speed
    /// and power; what is sooner done by one is not told where there are both, since it may not
    /// suit the other.
    pub(super) fn passes(
        &mut self,
        number: usize,
        operation: &Operation,
    ) -> (Vec<Pass>, OperationFigures) {
        let (ready, mut figures) = match operation.work {
            Work::Area | Work::Picture => self.area(number, operation),
            Work::Line => self.lines(number, operation),
        };
        let mut passes = Vec::new();
        let fade_rad = figures.hatch.as_ref().and_then(|hatch| hatch.fade_rad);
        if !matches!(ready, Ready::Nothing) {
            passes.push(Pass { ready, fade_rad });
        }
        if operation.cross && operation.work != Work::Line {
            // What is narrow was seen already.
            let across =
                Operation { scan: operation.scan.across(), spot_mm: None, ..operation.clone() };
            let (ready, crossed) = self.area(number, &across);
            let fade_rad = crossed.hatch.as_ref().and_then(|hatch| hatch.fade_rad);
            if !matches!(ready, Ready::Nothing) {
                passes.push(Pass { ready, fade_rad });
            }
            figures.speed_mm_per_s = figures.speed_mm_per_s.min(crossed.speed_mm_per_s);
            figures.paths += crossed.paths;
            figures.travel_drawn_mm += crossed.travel_drawn_mm;
            figures.travel_ordered_mm += crossed.travel_ordered_mm;
            figures.quicker = None;
            figures.cross = crossed.hatch;
        }
        (passes, figures)
    }

    fn area(&mut self, number: usize, operation: &Operation) -> (Ready, OperationFigures) {
        let mut figures = OperationFigures {
            speed_mm_per_s: operation.speed_mm_per_s,
            ..OperationFigures::default()
        };
        let Some(asked_mm) = operation.line_spacing_mm else { return (Ready::Nothing, figures) };
        let hatch = area::hatch(
            self.scene,
            self.lays,
            &operation.parts,
            (asked_mm, operation.lines, operation.scan),
            operation.spot_mm.filter(|_| operation.work == Work::Area),
            self.setup,
        );
        let mut hatch = match hatch {
            Ok(Some(hatch)) => hatch,
            Ok(None) => return (Ready::Nothing, figures),
            Err(no_image) => {
                let far = Misfit::TooFar { word: 'A', value: f64::NAN };
                self.hit(number, no_image.piece, far);
                return (Ready::Nothing, figures);
            }
        };
        let wall = self.drive.emit.rig.wall;
        let least_mm = area::LEAST_SHARE * self.setup.job.tolerance_mm;
        let mut shader = operation.shade.as_ref().map(|shade| {
            let edges_mm = PICTURE_SHARE * self.setup.job.tolerance_mm;
            Shader::new(shade, hatch.grid, least_mm, edges_mm)
        });
        let burned_mm2 =
            shader.as_mut().map(|shader| shader.trim(&mut hatch.lines, wall, self.lays));
        figures.masked_mm = self.fit_lines(number, &mut hatch);
        if hatch.lines.is_empty() {
            return (Ready::Nothing, figures);
        }
        // Power goes with the spacing; where the widest would need more than all there is, the
        // operation goes slower instead.
        let widest = hatch.grid.spacing_mm(hatch.radius_mm) / asked_mm;
        let tones = operation.shade.as_ref().map_or(1.0, |shade| shade.tones.most());
        let most = operation.power_percent / 100.0 * tones * widest;
        if operation.even_dose && most > 1.0 {
            figures.speed_mm_per_s = operation.speed_mm_per_s / most;
        }
        let runner = Runner::of(&self.drive.emit.rig, hatch.grid.way);
        let how = AreaHow {
            how: self.how(operation, figures.speed_mm_per_s),
            grid: hatch.grid,
            asked_mm,
            runner,
            least_mm,
            one_way: operation.one_way,
            overlap: overlap(&hatch, operation.fade_mm, asked_mm),
        };
        let gap_mm = Self::worth_crossing_mm(&hatch, &runner, figures.speed_mm_per_s);
        let fade = Fade::of(&hatch, operation.fade_mm);
        let blocks = match &fade {
            Some(fade) => {
                let mut blocks = area::blocks(&fade.lines(&hatch), gap_mm);
                for line in blocks.iter_mut().flat_map(|block| &mut block.lines) {
                    fade.set(line);
                }
                blocks
            }
            None => area::blocks(&hatch.lines, gap_mm),
        };
        let blocks = self.order_blocks(blocks, &hatch, &mut figures);
        figures.area_mm2 = match (&shader, burned_mm2) {
            (Some(shader), _) if figures.masked_mm > 0.0 => {
                shader.area_of_lines_mm2(&hatch.lines, wall, self.lays)
            }
            (Some(_), Some(burned_mm2)) => burned_mm2,
            _ => self.area_mm2(&hatch),
        };
        figures.narrow = std::mem::take(&mut hatch.narrow);
        if operation.lines == LineRule::Nearest {
            // For a graded picture the power at which marking begins must be left, if there is one.
            let least = self.setup.machine.controller.least_power_percent;
            let faint = operation.shade.as_ref().map_or(1.0, |shade| match shade.tones.tone() {
                Tone::Power => shade.tones.share(1),
                _ => 1.0,
            });
            let weakest = Some(faint * operation.power_percent)
                .filter(|weakest| *weakest > least)
                .unwrap_or(operation.power_percent);
            let asked = operation.speed_mm_per_s;
            let strongest =
                if operation.even_dose { most } else { operation.power_percent / 100.0 * tones };
            let bounds = (asked * least / weakest, asked / strongest);
            let lines: Vec<&Block> = blocks.iter().map(|(block, ..)| block).collect();
            let on = (&hatch.grid, runner);
            let scanned = Scanned::of(&self.drive, &lines, on, least_mm, operation.one_way);
            figures.quicker = scanned.quicker(
                figures.speed_mm_per_s,
                bounds,
                operation.power_percent / asked,
                operation.passes.max(1),
            );
        }
        let fade_rad = fade.map(|fade| fade.turns_rad(&hatch));
        let fade_rad = fade_rad.or(how.overlap.as_ref().map(|overlap| {
            let turn_rad = |at_mm: f64| hatch.grid.way.to_wall(0.0, at_mm).1;
            (turn_rad(overlap.from_mm), turn_rad(overlap.from_mm + overlap.fade_mm))
        }));
        figures.hatch =
            Some(HatchFigures { fade_rad, ..hatch_figures(&hatch, asked_mm, blocks.len()) });
        (Ready::Area { blocks, how, shader: shader.map(Box::new) }, figures)
    }

    /// How long a gap along a line is at the most that is crossed rather than come back to, mm
    /// along it: a turn-around costs about the time of going this far.
    fn worth_crossing_mm(hatch: &Hatch, runner: &Runner, speed_mm_per_s: f64) -> f64 {
        match hatch.grid.way {
            Way::Along => 4.0 * runner.run_up(speed_mm_per_s.min(runner.limit)),
            Way::Around { radius_mm } => {
                let units_per_s = runner.turned(speed_mm_per_s / radius_mm).min(runner.limit);
                4.0 * runner.turn_rad(runner.run_up(units_per_s)) * radius_mm
            }
        }
    }

    fn order_blocks(
        &mut self,
        blocks: Vec<Block>,
        hatch: &Hatch,
        figures: &mut OperationFigures,
    ) -> Vec<(Block, bool, bool)> {
        let ends = |block: &Block, upward: bool, forward: bool| {
            let places = area::ends(block, &hatch.grid, upward, forward);
            places.map(|places| places.map(|(s, turn)| self.plane(s, turn)))
        };
        let ways = [(true, true), (true, false), (false, true), (false, false)];
        let mut left: Vec<(usize, [[Point; 2]; 4])> = Vec::with_capacity(blocks.len());
        for (number, block) in blocks.iter().enumerate() {
            let mut each = [[Point::ORIGIN; 2]; 4];
            for (way, (upward, forward)) in each.iter_mut().zip(ways) {
                *way = ends(block, upward, forward).unwrap_or_default();
            }
            left.push((number, each));
        }
        let hop = |at: Option<Point>, to: Point| at.map_or(0.0, |at| at.distance(to));
        let mut at = self.at;
        for (_, each) in &left {
            figures.travel_drawn_mm += hop(at, each[0][0]);
            at = Some(each[0][1]);
        }
        let mut at = self.at;
        let mut order = Vec::with_capacity(blocks.len());
        while !left.is_empty() {
            let all = left
                .iter()
                .enumerate()
                .flat_map(|(k, (_, each))| (0..4).map(move |way| (k, way, each[way])));
            let nearest = all.min_by(|a, b| hop(at, a.2[0]).total_cmp(&hop(at, b.2[0])));
            let Some((k, way, places)) = nearest else { break };
            figures.travel_ordered_mm += hop(at, places[0]);
            at = Some(places[1]);
            order.push((left.remove(k).0, ways[way]));
        }
        self.at = at;
        let mut blocks: Vec<Option<Block>> = blocks.into_iter().map(Some).collect();
        order
            .into_iter()
            .filter_map(|(number, (upward, forward))| {
                Some((blocks[number].take()?, upward, forward))
            })
            .collect()
    }

    /// Length times spacing where it lies: the area of wall the lines cover.
    fn area_mm2(&self, hatch: &Hatch) -> f64 {
        let wall = self.drive.emit.rig.wall;
        let grid = &hatch.grid;
        let mut hint = 0;
        let mut strip = |line: i64, run: &Run| {
            let mut radius = |s: f64| wall.section(s, &mut hint).radius_mm;
            if grid.way != Way::Along {
                let long_mm =
                    (run.to_mm - run.from_mm) * grid.way.wall_mm(radius(grid.across(line)));
                return long_mm * grid.step;
            }
            // Simpson's rule between stations is exact on straight runs; on smooth walls runs are
            // short against the bends.
            let mut cuts = vec![run.from_mm];
            let stations = wall.span_ends_mm().iter().copied();
            cuts.extend(stations.filter(|s| *s > run.from_mm && *s < run.to_mm));
            cuts.push(run.to_mm);
            let piece = |pair: &[f64]| {
                let middle = 0.5 * (pair[0] + pair[1]);
                let r = [pair[0], middle, pair[1]].map(&mut radius);
                (pair[1] - pair[0]) * (r[0] + 4.0 * r[1] + r[2]) / 6.0
            };
            cuts.windows(2).map(piece).sum::<f64>() * grid.step
        };
        let runs =
            |line: &area::Line| line.runs.iter().map(|run| strip(line.line, run)).sum::<f64>();
        hatch.lines.iter().map(runs).sum()
    }

    fn lines(&mut self, number: usize, operation: &Operation) -> (Ready, OperationFigures) {
        let mut figures = OperationFigures {
            speed_mm_per_s: operation.speed_mm_per_s,
            ..OperationFigures::default()
        };
        let tolerance_mm = self.setup.job.tolerance_mm;
        let paths = line::paths(
            self.scene,
            self.drive.emit.rig.wall,
            self.lays,
            &operation.parts,
            tolerance_mm,
        );
        let mut kept = Vec::with_capacity(paths.len());
        for path in paths {
            figures.masked_mm += self.fit_path(number, path, &mut kept);
        }
        if kept.is_empty() {
            return (Ready::Nothing, figures);
        }
        figures.paths = kept.len() as u64;
        if let Some(spot_mm) = operation.spot_mm {
            figures.narrow = self.narrow_lines(operation, &kept, spot_mm);
        }
        let stops: Vec<Stop> = kept.iter().map(|path| self.stop(path)).collect();
        figures.travel_drawn_mm = order::travel_mm(&stops, &order::as_drawn(&stops), self.at);
        let visits = order::order(&stops, self.at);
        figures.travel_ordered_mm = order::travel_mm(&stops, &visits, self.at);
        self.at = visits.last().map(|visit| visit.ends(&stops).1);
        let rig = &self.drive.emit.rig;
        let rounding_mm =
            0.5 * rig.count.hypot(rig.rad_per_count * self.drive.emit.rig.wall.largest_radius_mm());
        let how = LineHow {
            how: self.how(operation, figures.speed_mm_per_s),
            tolerance_mm: (CUT_SHARE * tolerance_mm - rounding_mm).max(0.3 * tolerance_mm),
        };
        (Ready::Lines { paths: kept, visits, how }, figures)
    }

    /// Strokes drawn narrower than the spot, and lines that lie nearer to each other.
    fn narrow_lines(&self, operation: &Operation, kept: &[LinePath], spot_mm: f64) -> Vec<Narrow> {
        let wall = self.drive.emit.rig.wall;
        let mut hint = 0;
        let mut outlines = Vec::with_capacity(kept.len());
        for path in kept {
            let Some(lay) = self.lays.get(path.lay) else { continue };
            let mut place = |p: &Point| {
                let laid = lay.map(wall, p.x, p.y, &mut hint);
                [laid.turn_rad, laid.s_mm]
            };
            let mut corners: Vec<[f64; 2]> = path.chain.points.iter().map(&mut place).collect();
            corners.extend(corners.first().copied().filter(|_| path.chain.closed));
            outlines.push(Outline { corners, piece: Some(path.piece) });
        }
        let mut hint = 0;
        let radius_mm = |s_mm: f64| wall.section(s_mm, &mut hint).radius_mm;
        let mut found = narrow::narrow(&outlines, None, radius_mm, spot_mm);
        for part in operation.parts.iter().filter(|part| part.part == art::Part::StrokeMiddle) {
            let Some(shape) = self.scene.art.shapes.get(part.shape) else { continue };
            let lettering = self.scene.art.elements.get(shape.element);
            let (Some(stroke), false) =
                (shape.stroke.as_ref(), lettering.is_some_and(|element| element.is_lettering))
            else {
                continue;
            };
            let (Some(lay), Some(first)) = (
                self.lays.get(part.lay),
                shape.path.elements().first().and_then(kurbo::PathEl::end_point),
            ) else {
                continue;
            };
            let first = self.scene.to_flat * first;
            let at = lay.map(wall, first.x, first.y, &mut 0);
            let area =
                stave_wall::Distortion::of_jacobian(lay.jacobian(wall, first.x, first.y)).area;
            let width_mm = stroke.width_mm * area.abs().sqrt();
            if width_mm < spot_mm {
                let (s_mm, turn_rad, piece) = (at.s_mm, at.turn_rad, part.piece);
                let narrow = Narrow { is_gap: false, width_mm, s_mm, turn_rad, piece };
                narrow::keep(&mut found, narrow);
            }
        }
        found
    }

    fn stop(&self, path: &LinePath) -> Stop {
        let mut hint = 0;
        let lay = &self.lays[path.lay];
        let mut place = |p: &Point| {
            let laid = lay.map(self.drive.emit.rig.wall, p.x, p.y, &mut hint);
            Point::new(
                self.drive.emit.rig.along_mm(&laid.section),
                laid.turn_rad * self.setup.job.reference_radius_mm,
            )
        };
        let points = &path.chain.points;
        match (points.first(), points.last()) {
            (Some(first), Some(last)) if !path.chain.closed => {
                Stop::Open(place(first), place(last))
            }
            _ => Stop::Closed(points.iter().map(place).collect()),
        }
    }
}

/// How lines that go all the way around fade over their seam.
fn overlap(hatch: &Hatch, fade_mm: f64, part_mm: f64) -> Option<Overlap> {
    let Some(Seam::Within { from_mm, turn_mm }) = hatch.seam.filter(|_| fade_mm > 0.0) else {
        return None;
    };
    let fade_mm = fade_mm.min(0.5 * turn_mm);
    Some(Overlap { from_mm, turn_mm, fade_mm, part_mm })
}

fn hatch_figures(hatch: &Hatch, asked_mm: f64, blocks: usize) -> HatchFigures {
    let spacing_mm = hatch.grid.spacing_mm(hatch.radius_mm);
    let ends = hatch.lines.first().zip(hatch.lines.last());
    let seam = ends.filter(|_| hatch.full_wrap && !hatch.closes).map(|(first, last)| {
        let (first, last) = (hatch.grid.across(first.line), hatch.grid.across(last.line));
        (first, (first + TAU - last) * hatch.radius_mm)
    });
    HatchFigures {
        way: match hatch.grid.way {
            Way::Along => ScanWay::Along,
            Way::Around { .. } => ScanWay::Around,
        },
        asked_mm,
        spacing_mm,
        motor_steps: hatch.motor_steps,
        coarse: hatch.coarse,
        lines: hatch.lines.len() as u64,
        seam,
        full_wrap: hatch.full_wrap,
        blocks,
        fade_rad: None,
    }
}
