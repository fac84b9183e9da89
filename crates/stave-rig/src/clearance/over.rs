//! A head over work: how high what lies under each part of it can be.

use std::f64::consts::{PI, TAU};

use stave_setup::{Blank, Machine, Nozzle, Obstacle, ObstacleShape, Toward, Zone};
use stave_wall::Wall;

use super::boss::Boss;
use super::crest_line::CrestLine;
use super::head::{Footprint, Head, HeadPart, Part};
use super::sector::{Sector, still_box_highest_mm};

/// What lies under the head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nearest {
    /// The wall itself.
    Wall,
    /// A zone that rises above the wall, by its place in the list.
    Zone(usize),
    /// Something of the rotary, by its place in the list.
    Obstacle(usize),
}

/// A head over the work, its zones that rise and what of the rotary stands beside them, under a
/// tilt.
///
/// ```
/// use stave_rig::{Head, HeadOverWork};
/// let blank = stave_setup::read_blank(
///     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n",
///     "can.toml",
/// )?;
/// let jaw = stave_setup::Obstacle {
///     name: "jaw".into(),
///     along_mm: (-30.0, 5.0),
///     shape: stave_setup::ObstacleShape::Turning { radius_mm: 55.0, turn_rad: None },
/// };
/// let over = HeadOverWork::new(&blank.wall, &blank.zones, 0.0, Head::cylinder(9.0))
///     .beside(&blank.wall, &[jaw], 0.0);
/// // The jaw ends at 5 mm: 10 mm farther on the nozzle stands over the wall alone.
/// assert!((over.highest_mm((15.0, 50.0)) - 40.0).abs() < 0.01);
/// assert!((over.highest_mm((13.0, 50.0)) - 55.0).abs() < 0.01);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[derive(Clone, Debug)]
pub struct HeadOverWork {
    tilt_rad: f64,
    pub(crate) crest: CrestLine,
    parts: Vec<Part>,
    /// The parts that meet the wall on its crest, and how far along they reach.
    pub(crate) on_crest: Vec<OnCrest>,
    /// What else meets what.
    pub(crate) meetings: Vec<Meeting>,
    farthest_mm: f64,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct OnCrest {
    pub(crate) part: HeadPart,
    above_mm: f64,
    reach_mm: (f64, f64),
}

/// One part of the head, and one thing that it may meet.
#[derive(Clone, Debug)]
pub(crate) struct Meeting {
    pub(crate) part: HeadPart,
    pub(crate) thing: Nearest,
    above_mm: f64,
    form: Form,
    /// The greatest height that the thing can have, mm.
    top_mm: f64,
}

#[derive(Clone, Debug)]
enum Form {
    Round { boss: Boss, radius_mm: f64 },
    Box(Sector),
    Still { along_mm: (f64, f64), height_mm: f64, reach_mm: (f64, f64), tilt: (f64, f64) },
}

impl Meeting {
    /// The greatest height of the thing under the part, mm, less that of the part's underside above
    /// the tip, while the head goes between two places along the rail and the work between two
    /// turns, each for itself; `None` where none of it comes under the part.
    pub(crate) fn highest_mm(&self, rail: (f64, f64), turns: (f64, f64)) -> Option<f64> {
        let highest = match &self.form {
            Form::Round { boss, radius_mm } => boss.highest_mm(rail, turns, *radius_mm),
            Form::Box(sector) => sector.highest_mm(rail, turns),
            Form::Still { along_mm, height_mm, reach_mm, tilt } => {
                let rail = (rail.0 + reach_mm.0, rail.1 + reach_mm.1);
                still_box_highest_mm(*along_mm, *height_mm, rail, *tilt)
            }
        };
        Some(highest? - self.above_mm)
    }

    /// The greatest that can ever be, mm.
    pub(crate) fn ceiling_mm(&self) -> f64 {
        self.top_mm - self.above_mm
    }
}

impl OnCrest {
    /// As [`Meeting::highest_mm`], of the wall.
    pub(crate) fn highest_mm(&self, crest: &CrestLine, rail: (f64, f64)) -> Option<f64> {
        let heights = crest.heights_mm(rail.0 + self.reach_mm.0, rail.1 + self.reach_mm.1)?;
        Some(heights.1 - self.above_mm)
    }
}

impl HeadOverWork {
    /// A head over a wall and its zones under a tilt. Only zones that rise count.
    #[must_use]
    pub fn new(wall: &Wall, zones: &[Zone], tilt_rad: f64, head: Head) -> Self {
        let mut over = Self {
            tilt_rad,
            crest: CrestLine::new(wall, tilt_rad),
            on_crest: Vec::new(),
            meetings: Vec::new(),
            farthest_mm: wall.largest_radius_mm(),
            parts: head.parts,
        };
        for part in &over.parts {
            if let Some(reach_mm) = part.footprint.reach_mm((0.0, 0.0)) {
                let on = OnCrest { part: part.what, above_mm: part.above_mm, reach_mm };
                over.on_crest.push(on);
            }
        }
        if over.on_crest.len() < over.parts.len() {
            // Beside the crest the wall is a solid like any other.
            let solid = Boss::whole(wall, tilt_rad);
            let beside = |part: &Part| part.footprint.reach_mm((0.0, 0.0)).is_none();
            over.turning(&solid, Nearest::Wall, beside);
        }
        for (index, zone) in zones.iter().enumerate().filter(|(_, zone)| zone.rise_mm > 0.0) {
            let boss = Boss::new(wall, zone, tilt_rad);
            over.turning(&boss, Nearest::Zone(index), |_| true);
        }
        over
    }

    /// With what of the rotary stands up there, the chuck's face at a place along the axis, mm.
    #[must_use]
    pub fn beside(mut self, wall: &Wall, obstacles: &[Obstacle], held_at_mm: f64) -> Self {
        for (index, obstacle) in obstacles.iter().enumerate() {
            let along_mm = obstacle_along_mm(wall, obstacle.along_mm, held_at_mm);
            match obstacle.shape {
                ObstacleShape::Turning { radius_mm, turn_rad } => {
                    let outline = vec![(along_mm.0, radius_mm), (along_mm.1, radius_mm)];
                    let solid = Boss::of(outline, turn_rad.unwrap_or((-PI, PI)), self.tilt_rad);
                    self.turning(&solid, Nearest::Obstacle(index), |_| true);
                }
                ObstacleShape::Still { across_mm, height_mm } => {
                    let across_mm = obstacle_across_mm(wall, across_mm, held_at_mm);
                    self.still(index, along_mm, across_mm, height_mm);
                }
            }
        }
        self
    }

    /// The head of a machine with a nozzle fitted, over a blank with its zones and its rotary.
    #[must_use]
    pub fn of(
        (blank, machine): (&Blank, &Machine),
        nozzle: Option<&Nozzle>,
        tilt_rad: f64,
        toward: Toward,
        held_at_mm: f64,
    ) -> Self {
        let head =
            nozzle.map_or_else(|| Head::cylinder(0.0), |nozzle| Head::of(nozzle, machine, toward));
        Self::new(&blank.wall, &blank.zones, tilt_rad, head).beside(
            &blank.wall,
            &machine.obstacles,
            held_at_mm,
        )
    }

    fn turning(&mut self, solid: &Boss, thing: Nearest, meets: impl Fn(&Part) -> bool) {
        self.farthest_mm = self.farthest_mm.max(solid.radius_mm());
        for part in self.parts.iter().filter(|part| meets(part)) {
            let form = match part.footprint {
                Footprint::Round { radius_mm } => Form::Round { boss: solid.clone(), radius_mm },
                Footprint::Box { along_mm, across_mm } => {
                    Form::Box(solid.under_box(along_mm, across_mm))
                }
            };
            self.meetings.push(Meeting {
                part: part.what,
                thing,
                above_mm: part.above_mm,
                form,
                top_mm: solid.top_mm(),
            });
        }
    }

    fn still(&mut self, index: usize, along_mm: (f64, f64), across_mm: (f64, f64), height_mm: f64) {
        let tilt = self.tilt_rad.sin_cos();
        for part in &self.parts {
            let Some(reach_mm) = part.footprint.reach_mm(across_mm) else { continue };
            let ends = [along_mm.0, along_mm.1].map(|z| z * tilt.0 + height_mm * tilt.1);
            self.meetings.push(Meeting {
                part: part.what,
                thing: Nearest::Obstacle(index),
                above_mm: part.above_mm,
                form: Form::Still { along_mm, height_mm, reach_mm, tilt },
                top_mm: ends[0].max(ends[1]),
            });
        }
    }

    /// From the axis to the outermost of all that turns, mm.
    pub(crate) fn farthest_mm(&self) -> f64 {
        self.farthest_mm
    }

    /// How high the tip must be, mm, as [`stave_wall::Crest::height_mm`] has it, for the head to
    /// meet nothing between two places along the rail, whatever the turn.
    #[must_use]
    pub fn highest_mm(&self, rail: (f64, f64)) -> f64 {
        let rail = (rail.0.min(rail.1), rail.0.max(rail.1));
        let wall = self.on_crest.iter().filter_map(|on| on.highest_mm(&self.crest, rail));
        let rest = self.meetings.iter().filter_map(|one| one.highest_mm(rail, (0.0, TAU)));
        wall.chain(rest).fold(f64::NEG_INFINITY, f64::max)
    }

    /// How high the tip must be, mm, to meet nothing of the work between two places along the rail,
    /// and nothing of the rotary anywhere.
    #[must_use]
    pub fn highest_of_all_mm(&self, rail: (f64, f64)) -> f64 {
        let rail = (rail.0.min(rail.1), rail.0.max(rail.1));
        let wall = self.on_crest.iter().filter_map(|on| on.highest_mm(&self.crest, rail));
        let rest = self.meetings.iter().map(Meeting::ceiling_mm);
        wall.chain(rest).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Where something of the rotary is along the axis, mm, from and to: `along_mm` counts from the
/// chuck's face towards the ware, the face at a place along the axis.
#[must_use]
pub fn obstacle_along_mm(wall: &Wall, along_mm: (f64, f64), held_at_mm: f64) -> (f64, f64) {
    let (from, to) = as_held(wall, along_mm, held_at_mm);
    (held_at_mm + from, held_at_mm + to)
}

/// Where something of the rotary that stands still is across the axis, mm: growing to the side on
/// which larger turns lie.
#[must_use]
pub fn obstacle_across_mm(wall: &Wall, across_mm: (f64, f64), held_at_mm: f64) -> (f64, f64) {
    as_held(wall, across_mm, held_at_mm)
}

/// Held at its end with the larger `at`, the ware reaches from the chuck the other way.
fn as_held(wall: &Wall, (from, to): (f64, f64), held_at_mm: f64) -> (f64, f64) {
    let (first, last) = wall.at_range_mm();
    if held_at_mm - first <= last - held_at_mm { (from, to) } else { (-to, -from) }
}
