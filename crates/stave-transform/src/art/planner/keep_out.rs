//! What of an operation may burn: cut off at zones and at other set-ups' parts, within reach.

use kurbo::Point;
use stave_rig::{Keeps, Misfit};
use stave_wall::{Laid, Lay};

use super::Planner;
use crate::area::{Grid, Hatch, Run, Way};
use crate::line::LinePath;

/// How far apart zones are looked for along a burn, mm.
const ZONE_LOOK_MM: f64 = 0.25;

impl Planner<'_, '_> {
    /// Looks whether the lines can be burned, cuts zones out of them, and notes which stretch of
    /// wall each piece burns on; the length that went dark.
    pub(super) fn fit_lines(&mut self, number: usize, hatch: &mut Hatch) -> f64 {
        let grid = hatch.grid;
        let mut masked_mm = 0.0;
        for line in &mut hatch.lines {
            let across = grid.burned(line.line);
            let mut kept = Vec::with_capacity(line.runs.len());
            for run in &mut line.runs {
                let piece = run.piece as usize;
                if grid.way == Way::Along {
                    let ends = [run.from_mm, run.to_mm].map(|s_mm| self.to_end(s_mm));
                    [run.from_mm, run.to_mm] = ends;
                    if ends[0] == ends[1] {
                        continue;
                    }
                }
                let ends = |run: &Run| {
                    [run.from_mm, run.to_mm].map(|at_mm| grid.way.to_wall(across, at_mm).0)
                };
                let [from_s_mm, to_s_mm] = ends(run);
                let first = kept.len();
                if self.keepouts.near(from_s_mm, to_s_mm) {
                    masked_mm += self.keep_out(number, run, (&grid, across), &mut kept);
                } else {
                    kept.push(*run);
                }
                // What stays dark need not be within reach.
                let fits = |run: &Run| {
                    let [from_s_mm, to_s_mm] = ends(run);
                    let rig = &self.drive.emit.rig;
                    self.reach.allows(rig.wall, &rig.crest, from_s_mm, to_s_mm)
                };
                let misfit = kept.iter().skip(first).find_map(|run| fits(run).err());
                if let Some(misfit) = misfit {
                    kept.truncate(first);
                    self.hit(number, piece, misfit);
                }
            }
            line.runs = kept;
        }
        hatch.lines.retain(|line| !line.runs.is_empty());
        for line in &hatch.lines {
            let across = grid.burned(line.line);
            for run in &line.runs {
                for at_mm in [run.from_mm, run.to_mm] {
                    let (s_mm, turn_rad) = grid.way.to_wall(across, at_mm);
                    let section = self.drive.emit.rig.wall.section(s_mm, &mut 0);
                    let span = 0;
                    self.extend(run.piece as usize, &Laid { s_mm, turn_rad, span, section });
                }
            }
        }
        masked_mm
    }

    /// The parts of a run outside all zones; the length inside, mm on the wall.
    fn keep_out(
        &mut self,
        number: usize,
        run: &Run,
        (grid, across): (&Grid, f64),
        kept: &mut Vec<Run>,
    ) -> f64 {
        let wall = self.drive.emit.rig.wall;
        let mut hint = 0;
        let mut place = |at_mm: f64| {
            let (s_mm, turn_rad) = grid.way.to_wall(across, at_mm);
            let section = wall.section(s_mm, &mut hint);
            Laid { s_mm, turn_rad, span: 0, section }
        };
        let mut cuts = vec![run.from_mm];
        let steps = steps(run.to_mm - run.from_mm);
        self.keepouts.crossings(&mut place, run.from_mm, run.to_mm, steps, &mut cuts);
        cuts.push(run.to_mm);
        let mut masked_mm = 0.0;
        for pair in cuts.windows(2).filter(|pair| pair[1] > pair[0]) {
            let middle = place(0.5 * (pair[0] + pair[1]));
            let long_mm = (pair[1] - pair[0]) * grid.way.wall_mm(middle.section.radius_mm);
            match self.keepouts.holds(&middle).map(|zone| (zone.keeps, zone.name.clone())) {
                None => kept.push(Run { from_mm: pair[0], to_mm: pair[1], piece: run.piece }),
                Some((Keeps::ForAnotherPart, _)) => {}
                Some((Keeps::Masked, _)) => masked_mm += long_mm,
                Some((Keeps::Refused, name)) => {
                    self.hit(number, run.piece as usize, in_zone(name, &middle));
                }
            }
        }
        masked_mm
    }

    /// Looks whether a line can be burned and cuts zones out of it; the length that went dark.
    pub(super) fn fit_path(
        &mut self,
        number: usize,
        path: LinePath,
        kept: &mut Vec<LinePath>,
    ) -> f64 {
        let Some(lay) = self.lays.get(path.lay) else { return 0.0 };
        let wall = self.drive.emit.rig.wall;
        let mut hint = 0;
        let laid: Vec<Laid> =
            path.chain.points.iter().map(|p| lay.map(wall, p.x, p.y, &mut hint)).collect();
        let lows = laid.iter().map(|l| l.s_mm).fold(f64::INFINITY, f64::min);
        let highs = laid.iter().map(|l| l.s_mm).fold(f64::NEG_INFINITY, f64::max);
        if laid.iter().any(|l| !(l.s_mm.is_finite() && l.turn_rad.is_finite())) {
            self.hit(number, path.piece, Misfit::TooFar { word: 'A', value: f64::NAN });
            return 0.0;
        }
        let (lows, highs) = (self.to_end(lows), self.to_end(highs));
        let is_cut = self.keepouts.near(lows, highs);
        let (parts, masked_mm) =
            if is_cut { self.outside_zones(number, &path, lay) } else { (vec![path], 0.0) };
        for path in parts {
            // What stays dark need not be within reach.
            let (lows, highs) = if is_cut {
                let at = |p: &Point| self.to_end(lay.map(wall, p.x, p.y, &mut 0).s_mm);
                let ends = |(low, high): (f64, f64), s: f64| (low.min(s), high.max(s));
                let none = (f64::INFINITY, f64::NEG_INFINITY);
                path.chain.points.iter().map(at).fold(none, ends)
            } else {
                (lows, highs)
            };
            if let Err(misfit) = self.reach.allows(wall, &self.drive.emit.rig.crest, lows, highs) {
                self.hit(number, path.piece, misfit);
                continue;
            }
            for p in &path.chain.points {
                let laid = lay.map(wall, p.x, p.y, &mut hint);
                self.extend(path.piece, &Laid { s_mm: self.to_end(laid.s_mm), ..laid });
            }
            kept.push(path);
        }
        masked_mm
    }

    fn outside_zones(&mut self, number: usize, path: &LinePath, lay: &Lay) -> (Vec<LinePath>, f64) {
        let wall = self.drive.emit.rig.wall;
        let mut inside = Vec::new();
        let mut masked_mm = 0.0;
        let parts = crate::line::split(
            &path.chain,
            |a, b, cuts| {
                let mut hint = 0;
                let mut place = |t: f64| {
                    let p = a.lerp(b, t);
                    lay.map(wall, p.x, p.y, &mut hint)
                };
                self.keepouts.crossings(&mut place, 0.0, 1.0, steps(a.distance(b)), cuts);
            },
            |a, b| {
                let middle = a.midpoint(b);
                let laid = lay.map(wall, middle.x, middle.y, &mut 0);
                let Some(zone) = self.keepouts.holds(&laid) else { return true };
                if zone.keeps == Keeps::ForAnotherPart {
                    return false;
                }
                let [p, q] = [a, b].map(|p| lay.map(wall, p.x, p.y, &mut 0));
                masked_mm +=
                    (q.s_mm - p.s_mm).hypot((q.turn_rad - p.turn_rad) * laid.section.radius_mm);
                if zone.keeps == Keeps::Refused {
                    inside.push(in_zone(zone.name.clone(), &laid));
                }
                false
            },
        );
        for misfit in inside {
            self.hit(number, path.piece, misfit);
        }
        let parts = parts.into_iter().map(|chain| LinePath { chain, ..*path }).collect();
        (parts, masked_mm)
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn steps(length_mm: f64) -> usize {
    (length_mm / ZONE_LOOK_MM).clamp(8.0, 1e6) as usize
}

fn in_zone(name: String, laid: &Laid) -> Misfit {
    Misfit::Zone { name, at_mm: laid.section.at_mm, turn_deg: laid.turn_rad.to_degrees() }
}
