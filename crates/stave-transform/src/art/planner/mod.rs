//! What an operation takes of the scene, fitted to the wall: runs and lines that burn, cut off at
//! zones, in the order in which they burn.

mod keep_out;

use std::f64::consts::TAU;

use kurbo::Point;
use stave_rig::{Misfit, ROTARY, Reach, Zones};
use stave_setup::{Setup, Tone};
use stave_toolpath::art::{self, Work};
use stave_wall::{Laid, Lay, Wall};

use super::fade::Fade;
use super::{HatchFigures, Hit, OperationFigures, Pass, Ready};
use crate::area::{self, AreaHow, Block, Hatch, Overlap, Run, Runner, Seam, Way};
use crate::burns::{BurnOperation, Burns, LineRule, ScanWay};
use crate::drive::{Drive, How};
use crate::line::{self, LineHow, LinePath};
use crate::narrow::{self, Narrow, Outline};
use crate::order::{self, Axes, Pace, Stop};
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
    /// Where the operations before have come to, in the plane of [`order`]: the machine's zero
    /// first.
    at: Option<Point>,
}

impl<'a, 's> Planner<'a, 's> {
    pub(super) fn new(burns: &Burns<'a>, setup: &'a Setup, scene: &'s Scene<'s>) -> Self {
        let mut planner = Self {
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
        };
        let zero = &setup.job.zero;
        let s_mm = setup.blank.wall.s_of_at(zero.at_mm);
        planner.at = Some(planner.plane(s_mm, zero.turn_rad));
        planner
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

    fn how(&self, operation: &BurnOperation, speed_mm_per_s: f64) -> How {
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
        operation: &BurnOperation,
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
                BurnOperation { scan: operation.scan.across(), spot_mm: None, ..operation.clone() };
            let (ready, crossed) = self.area(number, &across);
            let fade_rad = crossed.hatch.as_ref().and_then(|hatch| hatch.fade_rad);
            if !matches!(ready, Ready::Nothing) {
                passes.push(Pass { ready, fade_rad });
            }
            figures.speed_mm_per_s = figures.speed_mm_per_s.min(crossed.speed_mm_per_s);
            figures.masked_mm += crossed.masked_mm;
            figures.paths += crossed.paths;
            figures.travel_drawn_mm += crossed.travel_drawn_mm;
            figures.travel_ordered_mm += crossed.travel_ordered_mm;
            figures.quicker = None;
            figures.cross = crossed.hatch;
        }
        // As what burns: every pass leaves it dark.
        figures.masked_mm *= f64::from(operation.passes.max(1));
        (passes, figures)
    }

    fn area(&mut self, number: usize, operation: &BurnOperation) -> (Ready, OperationFigures) {
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
            operation.shade.is_some(),
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
            // A picture has the edges of its tones.
            strayed_mm: if shader.is_some() { 0.0 } else { hatch.strayed_mm },
        };
        let speed_mm_per_s = figures.speed_mm_per_s;
        let parted = |lines: &[area::Line]| self.blocks(lines, &hatch, &runner, speed_mm_per_s);
        let fade = Fade::of(&hatch, operation.fade_mm);
        let blocks = match &fade {
            Some(fade) => {
                let mut blocks = parted(&fade.lines(&hatch));
                for line in blocks.iter_mut().flat_map(|block| &mut block.lines) {
                    fade.set(line);
                }
                blocks
            }
            None => parted(&hatch.lines),
        };
        let blocks = self.order_blocks(blocks, &hatch, &runner, &mut figures);
        figures.area_mm2 = match (&shader, burned_mm2) {
            (Some(shader), _) if figures.masked_mm > 0.0 => {
                shader.area_of_lines_mm2(&hatch.lines, wall, self.lays)
            }
            (Some(_), Some(burned_mm2)) => burned_mm2,
            _ => self.area_mm2(&hatch),
        };
        figures.narrow = std::mem::take(&mut hatch.narrow);
        // Where greys have powers of their own, another power of the operation is another picture.
        let scales = operation.shade.as_ref().is_none_or(|shade| shade.tones.scales());
        if operation.lines == LineRule::Nearest && scales {
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
            Some(HatchFigures { fade_rad, ..hatch_figures(&hatch, asked_mm, blocks.len(), wall) });
        (Ready::Area { blocks, how, shader: shader.map(Box::new) }, figures)
    }

    /// Scan lines parted into what is burned together.
    fn blocks(
        &self,
        lines: &[area::Line],
        hatch: &Hatch,
        runner: &Runner,
        speed_mm_per_s: f64,
    ) -> Vec<Block> {
        let grid = &hatch.grid;
        // Along lines around, mm are those of the widest place.
        let (units_per_mm, travels) = match grid.way {
            Way::Along => (1.0, [1.0, 0.0]),
            Way::Around { radius_mm } => (
                runner.turned(1.0 / radius_mm),
                [0.0, self.setup.job.reference_radius_mm / radius_mm],
            ),
        };
        let speed = (speed_mm_per_s * units_per_mm).min(runner.limit);
        // Where the focus follows the crest a gap is crossed no faster than burns go.
        let follows = grid.way == Way::Along && self.drive.emit.focus.follows();
        let gap_mm =
            if follows { 4.0 * runner.run_up(speed) } else { runner.worth_crossing(speed) };
        let step = runner.step(&self.drive.emit.rig, grid.step);
        let corner_mm = self.setup.machine.controller.corner_tolerance;
        let on_the_way = self.drive.turns_on_the_way(grid.way)
            && speed >= runner.least_speed(&step, corner_mm)
            && step.takes_s() <= runner.turn_s(speed);
        let turn_s = runner.turn_s(speed) + if on_the_way { 0.0 } else { step.takes_s() };
        let crossing_s = |gap_mm: f64| {
            let gap = gap_mm * units_per_mm;
            let cross_s = if follows { gap / speed } else { runner.cross_s(gap, (speed, speed)) };
            cross_s - turn_s
        };
        let axes = self.axes();
        let travel_s = |gap_mm: f64| {
            let [x, y] = travels.map(|share| share * gap_mm);
            axes.takes_s(Point::ORIGIN, Point::new(x, y))
        };
        let costs = area::Costs {
            gap_mm: gap_mm / units_per_mm,
            crossing_s: &crossing_s,
            travel_s: &travel_s,
        };
        area::blocks(lines, &costs)
    }

    /// What the axes can do in the plane in which travel is measured.
    fn axes(&self) -> Axes {
        let rig = &self.drive.emit.rig;
        let units_per_mm =
            (rig.count / rig.rad_per_count).abs() / self.setup.job.reference_radius_mm;
        let pace = |axis: usize, units_per_mm: f64| {
            let limits = rig.limits(axis);
            Pace {
                speed: limits.speed / units_per_mm,
                acceleration: limits.acceleration / units_per_mm,
            }
        };
        Axes { along: pace(rig.along, 1.0), around: pace(ROTARY, units_per_mm) }
    }

    fn order_blocks(
        &mut self,
        blocks: Vec<Block>,
        hatch: &Hatch,
        runner: &Runner,
        figures: &mut OperationFigures,
    ) -> Vec<(Block, bool, bool)> {
        let ways = [(true, true), (true, false), (false, true), (false, false)];
        let stops: Vec<Stop> = blocks
            .iter()
            .map(|block| {
                // Backwards it goes the other way along its lines, and where their count is even
                // the first goes as it did.
                let back = if block.lines.len() % 2 == 1 { [3, 2, 1, 0] } else { [2, 3, 0, 1] };
                Stop::Ways(ways.map(|way| self.ends(block, hatch, runner, figures, way)), back)
            })
            .collect();
        let drawn = order::as_drawn(&stops);
        figures.travel_drawn_mm = order::travel_mm(&stops, &drawn, self.at);
        let visits = order::order(&stops, self.at, &self.axes());
        figures.travel_ordered_mm = order::travel_mm(&stops, &visits, self.at);
        self.at = visits.last().map(|visit| visit.ends(&stops).1).or(self.at);
        let mut blocks: Vec<Option<Block>> = blocks.into_iter().map(Some).collect();
        let burned = visits.iter().filter_map(|visit| {
            let (upward, forward) = ways[visit.start];
            Some((blocks[visit.stop].take()?, upward, forward))
        });
        burned.collect()
    }

    /// Where the machine stands before and after a block that is burned so, run-up and run-out and
    /// all, as points of the plane in which travel is measured.
    fn ends(
        &self,
        block: &Block,
        hatch: &Hatch,
        runner: &Runner,
        figures: &OperationFigures,
        (upward, forward): (bool, bool),
    ) -> [Point; 2] {
        let rig = &self.drive.emit.rig;
        let Some(ends) = area::ends(block, &hatch.grid, upward, forward) else {
            return [Point::ORIGIN; 2];
        };
        // The last line goes the way of the first where their count is odd.
        let last_forward = forward == (block.lines.len() % 2 == 1);
        let beside = |(s_mm, turn_rad): (f64, f64), grows: bool| {
            let section = rig.wall.section(s_mm, &mut 0);
            let way = runner.run_up(runner.speed(rig, &section, figures.speed_mm_per_s));
            let way = if grows { way } else { -way };
            let at = self.plane(s_mm, turn_rad);
            match hatch.grid.way {
                Way::Along => Point::new(at.x + way, at.y),
                Way::Around { .. } => {
                    let radius_mm = self.setup.job.reference_radius_mm;
                    Point::new(at.x, at.y + runner.turn_rad(way) * radius_mm)
                }
            }
        };
        [beside(ends[0], !forward), beside(ends[1], last_forward)]
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

    fn lines(&mut self, number: usize, operation: &BurnOperation) -> (Ready, OperationFigures) {
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
        let visits = order::order(&stops, self.at, &self.axes());
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
    fn narrow_lines(
        &self,
        operation: &BurnOperation,
        kept: &[LinePath],
        spot_mm: f64,
    ) -> Vec<Narrow> {
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

fn hatch_figures(hatch: &Hatch, asked_mm: f64, blocks: usize, wall: &Wall) -> HatchFigures {
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
        closest_mm: hatch.grid.spacing_mm(hatch.least_radius_mm(wall)),
        motor_steps: hatch.motor_steps,
        coarse: hatch.coarse,
        lines: hatch.lines.len() as u64,
        seam,
        full_wrap: hatch.full_wrap,
        blocks,
        fade_rad: None,
    }
}
