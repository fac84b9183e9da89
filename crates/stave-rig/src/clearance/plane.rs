//! The head over a flat place: the work stands still, and the head goes over it both ways.
//!
//! Nothing turns, so that what matters is where the head was: the cells of a grid that it passed,
//! each with the least lift. For each of them the highest work under each part of the head follows
//! in closed form, thing by thing: whatever is turned, bored or held about the axis is, for a
//! stretch along it, a sector of a cylinder.

use std::collections::HashMap;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

use stave_setup::{Facet, Machine, Nozzle, ObstacleShape, OnFacet, Toward};

use super::head::{Footprint, Head, Part};
use super::over::{obstacle_across_mm, obstacle_along_mm};
use super::{LeastGap, Nearest, Pose};

/// The cells of the grid, mm.
const CELL_MM: f64 = 0.5;
/// More cells than this are not kept: half a metre each way.
const MOST_CELLS: usize = 1 << 20;
/// The wall is taken in slices along the axis no longer than this, mm.
const SLICE_MM: f64 = 0.5;
const MOST_SLICES: f64 = 4000.0;

/// Something that stands about the axis or beside it, from, to along the axis.
#[derive(Clone, Debug)]
struct Thing {
    what: Nearest,
    at_mm: (f64, f64),
    form: Form,
}

#[derive(Clone, Copy, Debug)]
enum Form {
    /// All within a radius, between two angles from the plane's middle, rad, and across (from, to).
    Sector { radius_mm: f64, from_rad: f64, to_rad: f64, across_mm: (f64, f64) },
    /// All below a height, mm from the axis, across (from, to).
    Slab { height_mm: f64, across_mm: (f64, f64) },
}

impl Form {
    /// The greatest height over the axis between two places across, mm; `None` where it is not
    /// there.
    fn highest_mm(&self, (low, high): (f64, f64)) -> Option<f64> {
        match *self {
            Self::Slab { height_mm, across_mm } => {
                (across_mm.0 <= high && across_mm.1 >= low).then_some(height_mm)
            }
            Self::Sector { radius_mm, from_rad, to_rad, across_mm } => {
                let (low, high) = (low.max(across_mm.0), high.min(across_mm.1));
                (low <= high).then(|| sector_mm(radius_mm, (from_rad, to_rad), (low, high)))?
            }
        }
    }
}

/// The greatest height of a sector between two places across, mm. Its angles go from −π to 3π.
fn sector_mm(radius_mm: f64, (from, to): (f64, f64), (low, high): (f64, f64)) -> Option<f64> {
    let holds = |rad: f64| [0.0, TAU].iter().any(|lap| (from..=to).contains(&(rad + lap)));
    // The arc: nearest to the middle.
    let nearest = low.max(0.0) + high.min(0.0);
    let mut best: Option<f64> = None;
    let mut take = |height: f64| best = Some(best.map_or(height, |known| known.max(height)));
    for across in [nearest, low, high] {
        if across.abs() <= radius_mm && holds((across / radius_mm).asin()) {
            take((radius_mm * radius_mm - across * across).sqrt());
        }
    }
    // The two faces: as far out as they go between the places.
    for edge in [from, to] {
        let (sin, cos) = edge.sin_cos();
        if cos <= 0.0 {
            continue;
        }
        let (near, far) = if sin >= 0.0 { (low, high) } else { (-high, -low) };
        let sin = sin.abs();
        // From the axis out to the radius the face goes across from 0 to `radius × sin`.
        if far >= 0.0 && near <= radius_mm * sin {
            let out_mm = if sin * radius_mm <= far { radius_mm } else { far / sin };
            take(out_mm * cos);
        }
    }
    best
}

/// Follows one head over a flat place.
///
/// ```
/// use stave_rig::{Nearest, OverFacet, Pose};
/// use stave_setup::{JobFile, Setup, Toward, read_blank, read_job, read_machine};
/// // A cup of radius 40 with a flat place 34 from its axis, and a rim at 42 beside it.
/// let blank = read_blank(
///     "station = [{ at = 0, diameter = 80 }, { at = 70, diameter = 80 },
///      { at = 71, diameter = 84 }, { at = 80, diameter = 84 }]
///      facet = [{ name = 'front', turn = 0, at = [10, 65], width = 42, height = 34 }]",
///     "cup.toml",
/// )?;
/// let machine = read_machine(
///     "x = { speed = 500, acceleration = 5000 }\ny = { speed = 500, acceleration = 3000 }
///      rotary = { word = 'A', units_per_turn = 360, speed = 360, acceleration = 2000 }
///      nozzle = [{ name = 'barrel', radius = 9, gap = 5 }]",
///     "bench.toml",
/// )?;
/// let setup = Setup::new(blank, machine, read_job("place.facet = 'front'", "job.toml")?)?;
/// let on = setup.facet.as_ref().unwrap();
/// let mut over = OverFacet::new(on, &setup.machine.nozzles[0], Toward::XPlus, 0.0);
/// let pose = |along_mm| Pose { along_mm, turn_rad: 0.0, lift_mm: 0.0 };
/// over.go(&pose(30.0), &pose(50.0), 1_u64);
/// let clear = over.least(0.0, 5.0).unwrap();
/// assert_eq!((clear.nearest, clear.gap_mm.round()), (Nearest::Wall, 5.0));
/// // At 64 mm the nozzle reaches over the rim, which stands 8 mm above the plane.
/// over.go(&pose(50.0), &pose(64.0), 2_u64);
/// assert!(over.least(0.0, 5.0).unwrap().gap_mm < -2.9);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[derive(Clone, Debug)]
pub struct OverFacet<M> {
    facet: Facet,
    parts: Vec<Part>,
    things: Vec<Thing>,
    /// The least lift in each cell the head passed, and the move in which it did.
    cells: HashMap<(i32, i32), (f64, M)>,
}

impl<M: Copy> OverFacet<M> {
    /// A head that has not moved yet. The chuck's face is at a place along the axis, mm.
    #[must_use]
    pub fn new(on: &OnFacet, nozzle: &Nozzle, toward: Toward, held_at_mm: f64) -> Self {
        let machine = &on.whole.1;
        Self {
            facet: on.facet.clone(),
            parts: Head::of(nozzle, machine, toward).parts,
            things: things(on, machine, held_at_mm),
            cells: HashMap::new(),
        }
    }

    /// Takes a straight move of the head. Its `turn_rad` is that of the plane unrolled; a pose that
    /// is not finite is left out.
    #[expect(clippy::cast_possible_truncation, reason = "the cast saturates")]
    pub fn go(&mut self, from: &Pose, to: &Pose, mark: M) {
        let at = |pose: &Pose| (pose.along_mm, self.facet.across_mm(pose.turn_rad));
        let ((x0, y0), (x1, y1)) = (at(from), at(to));
        let lift_mm = from.lift_mm.min(to.lift_mm);
        if !(x0 + y0 + x1 + y1 + lift_mm).is_finite() {
            return;
        }
        let parts = ((x1 - x0).abs().max((y1 - y0).abs()) / CELL_MM).ceil().clamp(1.0, 1e5);
        let mut part = 0.0;
        let mut last = None;
        while part <= parts {
            let share = part / parts;
            let cell = (
                ((x0 + share * (x1 - x0)) / CELL_MM).round() as i32,
                ((y0 + share * (y1 - y0)) / CELL_MM).round() as i32,
            );
            part += 1.0;
            if last == Some(cell) {
                continue;
            }
            last = Some(cell);
            if let Some(known) = self.cells.get_mut(&cell) {
                if lift_mm < known.0 {
                    *known = (lift_mm, mark);
                }
            } else if self.cells.len() < MOST_CELLS {
                self.cells.insert(cell, (lift_mm, mark));
            }
        }
    }

    /// The least gap of all moves so far, for a focus so far above the plane and a tip `gap_mm`
    /// above that; mm, never more than it is, and at most what the cells leave open less. `None`
    /// where nothing moved.
    #[must_use]
    pub fn least(&self, focus_above_mm: f64, gap_mm: f64) -> Option<LeastGap<M>> {
        let tip_mm = self.facet.height_mm + focus_above_mm + gap_mm;
        let mut least: Option<LeastGap<M>> = None;
        for (&(along, across), &(lift_mm, mark)) in &self.cells {
            let at_mm = f64::from(along) * CELL_MM;
            let across_mm = f64::from(across) * CELL_MM;
            for part in &self.parts {
                let Some((height_mm, nearest)) = self.highest_mm(part, at_mm, across_mm) else {
                    continue;
                };
                let own = tip_mm + part.above_mm + lift_mm - height_mm;
                let turn_rad = self.facet.turn_rad + across_mm / self.facet.unrolled_radius_mm();
                // The cells come in any order, the answer does not: of places alike the first
                // along, and of these the one nearest to the middle.
                let is_less = least.as_ref().is_none_or(|known| {
                    let off_rad = |rad: f64| (rad - self.facet.turn_rad).abs();
                    own.total_cmp(&known.gap_mm)
                        .then(at_mm.total_cmp(&known.at_mm))
                        .then(off_rad(turn_rad).total_cmp(&off_rad(known.turn_rad)))
                        .then(turn_rad.total_cmp(&known.turn_rad))
                        .is_lt()
                });
                if is_less {
                    let part = part.what;
                    least = Some(LeastGap { gap_mm: own, at_mm, turn_rad, nearest, part, mark });
                }
            }
        }
        least
    }

    /// The highest work under a part anywhere in a cell.
    fn highest_mm(&self, part: &Part, at_mm: f64, across_mm: f64) -> Option<(f64, Nearest)> {
        let half = 0.5 * CELL_MM;
        let mut best: Option<(f64, Nearest)> = None;
        for thing in &self.things {
            // How far along the thing lies from the head, at the least in the cell.
            let (low, high) = (thing.at_mm.0 - at_mm, thing.at_mm.1 - at_mm);
            let reach = match part.footprint {
                Footprint::Round { radius_mm } => {
                    let away = (low.max(-high).max(0.0) - half).max(0.0);
                    let left = radius_mm * radius_mm - away * away;
                    if left < 0.0 {
                        continue;
                    }
                    (-left.sqrt(), left.sqrt())
                }
                Footprint::Box { along_mm, across_mm } => {
                    if along_mm.1 + half < low || along_mm.0 - half > high {
                        continue;
                    }
                    across_mm
                }
            };
            let across = (across_mm - half + reach.0, across_mm + half + reach.1);
            let Some(height) = thing.form.highest_mm(across) else { continue };
            if best.is_none_or(|(known, _)| height > known) {
                best = Some((height, thing.what));
            }
        }
        best
    }
}

/// All that the head may meet.
fn things(on: &OnFacet, machine: &Machine, held_at_mm: f64) -> Vec<Thing> {
    let (facet, blank) = (&on.facet, &on.whole.0);
    let half_mm = 0.5 * facet.width_mm;
    let everywhere = (f64::NEG_INFINITY, f64::INFINITY);
    let plane = Form::Slab { height_mm: facet.height_mm, across_mm: (-half_mm, half_mm) };
    let mut things = vec![Thing { what: Nearest::Wall, at_mm: facet.at_mm, form: plane }];
    let wall = &blank.wall;
    let slices = (wall.length_mm() / SLICE_MM).ceil().clamp(1.0, MOST_SLICES);
    let mut slice = 0.0;
    while slice < slices {
        let section = |share: f64| wall.section(share * wall.length_mm(), &mut 0);
        let ends = [section(slice / slices), section((slice + 1.0) / slices)];
        slice += 1.0;
        let radius_mm = ends[0].radius_mm.max(ends[1].radius_mm);
        let at_mm = (ends[0].at_mm.min(ends[1].at_mm), ends[0].at_mm.max(ends[1].at_mm));
        let round = |across_mm| Form::Sector { radius_mm, from_rad: -PI, to_rad: PI, across_mm };
        let cut = at_mm.1 > facet.at_mm.0 && at_mm.0 < facet.at_mm.1;
        let beside = [(f64::NEG_INFINITY, -half_mm), (half_mm, f64::INFINITY)];
        let ways: &[(f64, f64)] = if cut { &beside } else { &[everywhere] };
        for across_mm in ways {
            things.push(Thing { what: Nearest::Wall, at_mm, form: round(*across_mm) });
        }
    }
    let sector = |radius_mm, (from, to): (f64, f64)| {
        let lap = TAU * ((from - facet.turn_rad + PI) / TAU).floor();
        let (from_rad, to_rad) = (from - facet.turn_rad - lap, to - facet.turn_rad - lap);
        Form::Sector { radius_mm, from_rad, to_rad, across_mm: everywhere }
    };
    for (index, zone) in blank.zones.iter().enumerate().filter(|(_, zone)| zone.rise_mm > 0.0) {
        let (from, to) = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        let sections = wall.sections_between(from.min(to), from.max(to));
        let ends = [from, to].map(|s_mm| wall.section(s_mm, &mut 0).radius_mm);
        let largest = sections.iter().map(|(_, section)| section.radius_mm).chain(ends);
        let radius_mm = largest.fold(0.0, f64::max) + zone.rise_mm;
        let form = sector(radius_mm, zone.turn_rad);
        things.push(Thing { what: Nearest::Zone(index), at_mm: zone.at_mm, form });
    }
    for (index, obstacle) in machine.obstacles.iter().enumerate() {
        let at_mm = obstacle_along_mm(wall, obstacle.along_mm, held_at_mm);
        let form = match obstacle.shape {
            ObstacleShape::Turning { radius_mm, turn_rad } => {
                let all = (facet.turn_rad - PI, facet.turn_rad + PI);
                sector(radius_mm, turn_rad.unwrap_or(all))
            }
            ObstacleShape::Still { across_mm, height_mm } => {
                let across_mm = obstacle_across_mm(wall, across_mm, held_at_mm);
                Form::Slab { height_mm, across_mm }
            }
        };
        things.push(Thing { what: Nearest::Obstacle(index), at_mm, form });
    }
    // What lies below the axis under every turn is never the highest.
    things.retain(|thing| match thing.form {
        Form::Sector { from_rad, to_rad, .. } => from_rad < FRAC_PI_2 || to_rad > TAU - FRAC_PI_2,
        Form::Slab { .. } => true,
    });
    things
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// All along an edge the gap is the same: the place that is told is always the same one too.
    #[test]
    fn of_places_alike_the_same_is_told_every_time() {
        let blank = "[[station]]\nat = 0\ndiameter = 110\n[[station]]\nat = 48\n\
                     diameter = 110\n[[facet]]\nname = \"shield\"\nturn = 20\nat = [14, 40]\n\
                     width = 60\nheight = 48\n";
        let machine = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 400\n\
                       acceleration = 3000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\n\
                       speed = 360\nacceleration = 2000\n\
                       [[nozzle]]\nname = \"long\"\nradius = 9\ngap = 6\n";
        let blank = stave_setup::read_blank(blank, "b").unwrap();
        let machine = stave_setup::read_machine(machine, "m").unwrap();
        let job = stave_setup::read_job("place.facet = \"shield\"\n", "j").unwrap();
        let setup = stave_setup::Setup::new(blank, machine, job).unwrap();
        let (on, nozzle) = (setup.facet.as_ref().unwrap(), setup.job.nozzle.as_ref().unwrap());
        let told = || {
            let mut over = OverFacet::new(on, nozzle, setup.job.toward, 0.0);
            let pose = |across_mm: f64| Pose {
                along_mm: 40.0,
                turn_rad: on.facet.turn_rad + across_mm / on.facet.unrolled_radius_mm(),
                lift_mm: 0.0,
            };
            over.go(&pose(-20.0), &pose(20.0), 1_u64);
            over.least(0.0, 6.0).unwrap().turn_rad
        };
        let first = told();
        assert!((0..20).all(|_| told() == first), "{first}");
    }

    proptest! {
        /// Against points of the sector, taken one by one.
        #[test]
        fn a_sector_is_as_high_as_its_highest_point(
            radius in 5.0..60.0_f64, from in -3.1..3.1_f64, width in 0.1..6.0_f64,
            low in -70.0..70.0_f64, span in 0.1..40.0_f64,
        ) {
            let (to, high) = (from + width, low + span);
            let mut seen = f64::NEG_INFINITY;
            for turn in 0..=600 {
                let rad = from + width * f64::from(turn) / 600.0;
                for ring in 0..=60 {
                    let out = radius * f64::from(ring) / 60.0;
                    if (low..=high).contains(&(out * rad.sin())) {
                        seen = seen.max(out * rad.cos());
                    }
                }
            }
            let found = sector_mm(radius, (from, to), (low, high)).unwrap_or(f64::NEG_INFINITY);
            // What is below the axis is not asked for.
            if seen > 0.0 {
                prop_assert!(found >= seen - 1e-9, "{found} {seen}");
            }
            let coarse = 1.5 * radius * (width / 600.0 + 1.0 / 60.0) + 0.05 * radius;
            if found > coarse && span > 4.0 {
                prop_assert!(found <= seen.max(0.0) + coarse, "{found} {seen}");
            }
        }
    }
}
