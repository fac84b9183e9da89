//! Where on a wall a patch of flat work lies best.

use std::f64::consts::{PI, TAU};

use stave_rig::{ROTARY, Rig};
use stave_setup::Setup;
use stave_toolpath::number::fixed;
use stave_wall::{Crest, Wall, WallShape};

use crate::optics::optics;

/// How many places along the wall are looked at.
const PLACES: u32 = 400;
/// How many sections of a smooth wall are looked at within one stretch.
const LOOKS: u32 = 24;
/// How far apart turns are tried, rad.
const TURN_STEP_RAD: f64 = PI / 72.0;
/// The most whole turns that a patch is moved by to lie between the ends of the rotary.
const MOST_TURNS: u32 = 8;
/// Stretches whose bends differ by no more than makes them rise by this in their middle, mm, are
/// equally straight.
const SAME_RISE_MM: f64 = 0.005;
/// What is known to stay sharp either way where no lens is, mm: common practice, no source.
const SHARP_MM: f64 = 0.5;

/// The room that flat work needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Along the meridian, mm.
    pub along_mm: f64,
    /// Around the wall, mm.
    pub around_mm: f64,
    /// What else must be free of zones before and after it along the meridian, mm: run-ups, in the
    /// dark.
    pub run_up_mm: f64,
    /// How far the rotary's word goes below and above what lies there, in its units.
    pub turned: (f64, f64),
}

/// Where it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Its middle along the meridian, mm.
    pub s_mm: f64,
    /// The same along the axis, mm.
    pub at_mm: f64,
    /// Its middle about the axis, rad.
    pub turn_rad: f64,
    /// By how much the wall's slope changes within it, rad.
    pub bend_rad: f64,
}

/// Why there is no room.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoRoom {
    /// The wall is too short or too thin.
    #[error("it needs {} by {} mm, which this wall has nowhere within \
             reach; try fewer or smaller patches", fixed(*along_mm, 1), fixed(*around_mm, 1))]
    Small {
        /// Needed along the meridian, mm.
        along_mm: f64,
        /// Needed around, mm.
        around_mm: f64,
    },
    /// Zones are in the way everywhere.
    #[error("it needs {} by {} mm, and everywhere within reach a zone is in the \
             way; try fewer or smaller patches", fixed(*along_mm, 1), fixed(*around_mm, 1))]
    Zones {
        /// Needed along the meridian, mm.
        along_mm: f64,
        /// Needed around, mm.
        around_mm: f64,
    },
    /// The axis along the work cannot go so far.
    #[error("the word along the work would go over {} mm, and `min` and `max` in the machine file \
             leave no such stretch of this wall; widen them as far as the axis goes, or move the \
             zero", fixed(*along_mm, 1))]
    Along {
        /// From the least word to the greatest, mm.
        along_mm: f64,
    },
    /// The rotary cannot go so far.
    #[error("the rotary's word would go over {} units, and `min` and `max` in the machine file \
             leave no such stretch; widen them as far as the axis goes", fixed(*units, 3))]
    Rotary {
        /// From the least word to the greatest.
        units: f64,
    },
}

/// Finds the straightest stretch of wall with that much room: of those that lie level enough to
/// stay sharp under the job's tilt (or where none does, that stay nearest to it) the least change
/// of slope, then the middle of all that are as straight, then the turn nearest to 0 that the
/// rotary's own limits allow; of all that the axis along the work can go to. `at_mm` and `turn_rad`
/// fix its middle where they are given, the turn but for whole ones.
///
/// # Errors
/// Where there is no room on the wall, within reach, clear of zones and their margins, and between
/// the ends of the axis along the work (a place that is given is taken, and judged as any program
/// is) and of the rotary.
pub fn straightest(
    setup: &Setup,
    room: Room,
    at_mm: Option<f64>,
    turn_rad: Option<f64>,
) -> Result<Spot, NoRoom> {
    let wall = &setup.blank.wall;
    let half = 0.5 * room.along_mm;
    let (from, to) = match at_mm {
        Some(at) => (wall.s_of_at(at), wall.s_of_at(at)),
        None => (half, wall.length_mm() - half),
    };
    let (along_mm, around_mm) = (room.along_mm, room.around_mm);
    let lens = setup.job.lens.as_ref();
    let sharp_mm = lens.and_then(|lens| optics(lens, setup.machine.beam.as_ref()).half_depth_mm);
    let sharp_mm = sharp_mm.unwrap_or(SHARP_MM);
    let mut free: Vec<(u32, Spot, f64)> = Vec::new();
    let (mut fits, mut along, mut clear) = (false, false, false);
    let ends = AxisRoom::of(setup, room);
    let mut units = f64::INFINITY;
    let places = if at_mm.is_some() { 0 } else { PLACES };
    for k in 0..=places {
        let s_mm = from + (to - from) * f64::from(k) / f64::from(places.max(1));
        let Some((bend_rad, rise_mm)) = bend(setup, s_mm - half, s_mm + half) else { continue };
        let section = wall.section(s_mm, &mut 0);
        if room.around_mm > 0.95 * TAU * least_radius_mm(wall, s_mm - half, s_mm + half) {
            continue;
        }
        fits = true;
        if at_mm.is_none() && !ends.holds_along(s_mm - half, s_mm + half) {
            continue;
        }
        along = true;
        let half_rad = 0.5 * around_mm / least_radius_mm(wall, s_mm - half, s_mm + half);
        let turns = free_turns(setup, room, s_mm, half_rad, turn_rad);
        clear |= !turns.is_empty();
        units = units.min(ends.units(half_rad));
        if let Some(turn_rad) = ends.first(&turns, half_rad) {
            let blurred_mm = (0.5 * rise_mm - sharp_mm).max(0.0);
            free.push((k, Spot { s_mm, at_mm: section.at_mm, turn_rad, bend_rad }, blurred_mm));
        }
    }
    let sharpest = free.iter().map(|(.., blurred_mm)| *blurred_mm).fold(f64::INFINITY, f64::min);
    let sharp: Vec<(u32, Spot)> = free
        .into_iter()
        .filter(|(.., blurred_mm)| *blurred_mm <= sharpest + SAME_RISE_MM)
        .map(|(k, spot, _)| (k, spot))
        .collect();
    let least = sharp.iter().map(|(_, spot)| spot.bend_rad).fold(f64::INFINITY, f64::min);
    // A bend of so many radians along a stretch rises by an eighth of both in its middle.
    let same_rad = 8.0 * SAME_RISE_MM / room.along_mm.max(1.0);
    let straight: Vec<(u32, Spot)> =
        sharp.into_iter().filter(|(_, spot)| spot.bend_rad <= least + same_rad).collect();
    // The longest run of neighbours that are as straight and lie at the same turn; its middle is
    // farthest from any bend.
    let runs =
        straight.chunk_by(|a, b| b.0 == a.0 + 1 && (a.1.turn_rad - b.1.turn_rad).abs() < 1e-9);
    let longest = runs.reduce(|a, b| if b.len() > a.len() { b } else { a });
    match longest.and_then(|run| run.get(run.len() / 2)) {
        Some((_, spot)) => Ok(*spot),
        None if clear => Err(NoRoom::Rotary { units }),
        None if fits && !along => Err(NoRoom::Along { along_mm: along_mm + 2.0 * room.run_up_mm }),
        None if fits => Err(NoRoom::Zones { along_mm, around_mm }),
        None => Err(NoRoom::Small { along_mm, around_mm }),
    }
}

/// The change of slope between two places, and that of the crest's height, mm; `None` where a part
/// is off the wall or out of reach.
fn bend(setup: &Setup, from: f64, to: f64) -> Option<(f64, f64)> {
    let wall = &setup.blank.wall;
    if from < -1e-9 || to > wall.length_mm() + 1e-9 {
        return None;
    }
    let crest = Crest::new(setup.job.tilt_rad);
    let least_rate = setup.machine.controller.steepest_rad.cos();
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    let last = wall.section(to, &mut 0);
    let (mut low, mut high) = (crest.height_mm(&last), crest.height_mm(&last));
    for section in looks(wall, from, to) {
        (low, high) = (low.min(crest.height_mm(&section)), high.max(crest.height_mm(&section)));
        if crest.along_rate(&section) < least_rate {
            return None;
        }
        least = least.min(section.slope_rad());
        most = most.max(section.slope_rad());
    }
    (most >= least).then_some((most - least, high - low))
}

/// Sections that show every slope between two places.
fn looks(wall: &Wall, from: f64, to: f64) -> Vec<stave_wall::Section> {
    let ends = wall.span_ends_mm();
    match wall.shape() {
        WallShape::Straight => (0..wall.span_count())
            .filter(|span| ends[*span] < to - 1e-9 && ends[*span + 1] > from + 1e-9)
            .map(|span| wall.section_in(span, from.max(ends[span])))
            .collect(),
        WallShape::Smooth => {
            let mut hint = 0;
            (0..=LOOKS)
                .map(|k| {
                    wall.section(from + (to - from) * f64::from(k) / f64::from(LOOKS), &mut hint)
                })
                .collect()
        }
    }
}

fn least_radius_mm(wall: &Wall, from: f64, to: f64) -> f64 {
    let ends = [from, to].map(|s| wall.section(s, &mut 0).radius_mm);
    looks(wall, from, to)
        .iter()
        .map(|section| section.radius_mm)
        .chain(ends)
        .fold(f64::INFINITY, f64::min)
}

/// The turns at which no zone is in the way of what reaches so far either way, the nearest to 0
/// first.
fn free_turns(setup: &Setup, room: Room, s_mm: f64, half_rad: f64, fixed: Option<f64>) -> Vec<f64> {
    let wall = &setup.blank.wall;
    let (from, to) = (s_mm - 0.5 * room.along_mm, s_mm + 0.5 * room.along_mm);
    // Middle and half width of what each zone takes, with its margin.
    let taken: Vec<(f64, f64)> = setup
        .blank
        .zones
        .iter()
        .filter_map(|zone| {
            let margin = setup.zone_margin_mm(zone);
            let (low, high) =
                (wall.s_of_at(zone.at_mm.0) - margin, wall.s_of_at(zone.at_mm.1) + margin);
            if high <= from - room.run_up_mm || low >= to + room.run_up_mm {
                return None;
            }
            let least = least_radius_mm(wall, low.max(0.0), high.min(wall.length_mm()));
            let half = 0.5 * (zone.turn_rad.1 - zone.turn_rad.0) + margin / least;
            Some((0.5 * (zone.turn_rad.0 + zone.turn_rad.1), half))
        })
        .collect();
    let free = |turn: f64| {
        taken.iter().all(|(middle, half)| {
            let away = (turn - middle + PI).rem_euclid(TAU) - PI;
            away.abs() > half + half_rad
        })
    };
    if let Some(turn) = fixed {
        return if free(turn) { vec![turn] } else { Vec::new() };
    }
    let steps =
        (0..=72).flat_map(|k| [f64::from(k) * TURN_STEP_RAD, -f64::from(k) * TURN_STEP_RAD]);
    steps.filter(|turn| free(*turn)).map(|turn| turn + 0.0).collect()
}

/// What the ends of the axes leave.
struct AxisRoom<'a> {
    rig: Rig<'a>,
    run_up_mm: f64,
    turned: (f64, f64),
    /// The least and the greatest word of the rotary.
    ends: (f64, f64),
    /// The same along the work, mm.
    along_mm: (f64, f64),
}

impl<'a> AxisRoom<'a> {
    fn of(setup: &'a Setup, room: Room) -> Self {
        let rig = Rig::of_setup(setup);
        let ends = |axis: usize| {
            let limits = rig.limits(axis);
            (limits.min.unwrap_or(f64::NEG_INFINITY), limits.max.unwrap_or(f64::INFINITY))
        };
        let (along_mm, ends) = (ends(rig.along), ends(ROTARY));
        Self { rig, run_up_mm: room.run_up_mm, turned: room.turned, ends, along_mm }
    }

    /// Whether the axis along the work goes to all between two places, and to what is run up by
    /// before and after.
    fn holds_along(&self, from: f64, to: f64) -> bool {
        let word = |s_mm: f64| {
            let section = self.rig.wall.section(s_mm, &mut 0);
            self.rig.to_words(self.rig.crest.along_mm(&section), 0.0).0
        };
        let (a, b) = (word(from), word(to));
        a.min(b) - self.run_up_mm >= self.along_mm.0 && a.max(b) + self.run_up_mm <= self.along_mm.1
    }

    /// Least and greatest word of what reaches so far either way of a turn.
    fn words(&self, turn_rad: f64, half_rad: f64) -> (f64, f64) {
        let (a, b) = (
            self.rig.to_words(0.0, turn_rad - half_rad).1,
            self.rig.to_words(0.0, turn_rad + half_rad).1,
        );
        (a.min(b) - self.turned.0, a.max(b) + self.turned.1)
    }

    fn units(&self, half_rad: f64) -> f64 {
        let (least, most) = self.words(0.0, half_rad);
        most - least
    }

    /// The first of the turns that goes between the ends, or that does so whole turns away, the
    /// fewest first.
    fn first(&self, turns: &[f64], half_rad: f64) -> Option<f64> {
        if self.ends == (f64::NEG_INFINITY, f64::INFINITY) {
            return turns.first().copied();
        }
        let fits = |turn: &f64| {
            let (least, most) = self.words(*turn, half_rad);
            least >= self.ends.0 && most <= self.ends.1
        };
        let whole = (0..=MOST_TURNS).flat_map(|k| [f64::from(k), -f64::from(k)]);
        whole.map(|k| k * TAU).find_map(|by| turns.iter().map(|turn| turn + by).find(fits))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_setup::{JobFile, read_blank, read_machine};

    const MACHINE: &str = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration \
                           = 5000\n\
        [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000";

    fn setup(zones: &str) -> Setup {
        let stations =
            [(0.0, 66.0), (40.0, 67.5), (95.0, 70.0), (101.0, 86.0), (140.0, 88.0), (175.0, 88.5)];
        let stations: String = stations
            .iter()
            .map(|(at, d)| format!("[[station]]\nat = {at:?}\ndiameter = {d:?}\n"))
            .collect();
        let blank = read_blank(&format!("{stations}{zones}"), "bottle.toml").unwrap();
        Setup::new(blank, read_machine(MACHINE, "bench.toml").unwrap(), JobFile::default()).unwrap()
    }

    fn room(along_mm: f64, around_mm: f64) -> Room {
        Room { along_mm, around_mm, run_up_mm: 3.0, turned: (0.0, 0.0) }
    }

    #[test]
    fn the_middle_of_the_longest_straight_stretch() {
        let spot = straightest(&setup(""), room(30.0, 40.0), None, None).unwrap();
        assert!((spot.at_mm - 67.5).abs() < 0.5, "{spot:?}");
        assert_eq!((spot.turn_rad, spot.bend_rad < 1e-9), (0.0, true));
    }

    /// On a ball every stretch bends alike; about the equator it lies level.
    #[test]
    fn on_a_ball_the_equator() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../fixtures/globe/ball.toml");
        let ball = read_blank(&std::fs::read_to_string(folder).unwrap(), "ball.toml").unwrap();
        let machine = read_machine(MACHINE, "bench.toml").unwrap();
        let setup = Setup::new(ball, machine, JobFile::default()).unwrap();
        for along_mm in [8.0, 20.0, 40.0] {
            let spot = straightest(&setup, room(along_mm, 30.0), None, None).unwrap();
            assert!(spot.at_mm.abs() < 0.7, "{spot:?}");
        }
    }

    /// The axis along the work ends short of the longest straight stretch, from 40 to 95 mm.
    #[test]
    fn where_the_axis_along_the_work_can_go() {
        let bottle = setup("").blank;
        for (limits, toward, at_mm) in [
            ("min = -100\nmax = 100", "x+", Some(67.5)),
            ("min = -30", "x+", Some(119.75)),
            ("max = 30", "x-", Some(119.75)),
            ("min = -12\nmax = 12", "x+", None),
        ] {
            let machine = MACHINE.replacen("[x]", &format!("[x]\n{limits}"), 1);
            let mut job = JobFile::default();
            for (option, value) in [("zero-at", "100"), ("toward", toward)] {
                job.set_option(option, value).unwrap();
            }
            let machine = read_machine(&machine, "bench.toml").unwrap();
            let setup = Setup::new(bottle.clone(), machine, job).unwrap();
            let found = straightest(&setup, room(30.0, 40.0), None, None);
            match (at_mm, found) {
                (Some(at_mm), Ok(spot)) => {
                    assert!((spot.at_mm - at_mm).abs() < 3.0, "{limits}: {spot:?}");
                }
                (None, Err(NoRoom::Along { along_mm })) => assert_eq!(along_mm, 36.0),
                (_, found) => panic!("{limits}: {found:?}"),
            }
            // A place that is given is taken; whether the axis goes there the judge says.
            assert!(straightest(&setup, room(30.0, 40.0), Some(67.5), None).is_ok());
        }
    }

    #[test]
    fn zones_turn_it_aside() {
        let front = "[[zone]]\nname = \"mark\"\nat = [30, 90]\nturn = [-20, 20]\n";
        let spot = straightest(&setup(front), room(30.0, 40.0), Some(67.5), None).unwrap();
        // 20 degrees of the zone, and half of 40 mm on a radius of 34 mm.
        let least = 20_f64.to_radians() + 20.0 / 34.1;
        assert!(spot.turn_rad.abs() >= least && spot.turn_rad.abs() < least + 0.1, "{spot:?}");
        assert!(straightest(&setup(front), room(30.0, 40.0), Some(67.5), Some(0.0)).is_err());
    }

    #[test]
    fn no_room() {
        let all_round = "[[zone]]\nname = \"band\"\nat = [0, 175]\nturn = [0, 360]\n";
        assert!(matches!(
            straightest(&setup(""), room(180.0, 40.0), None, None),
            Err(NoRoom::Small { .. })
        ));
        assert!(matches!(
            straightest(&setup(""), room(30.0, 400.0), None, None),
            Err(NoRoom::Small { .. })
        ));
        assert!(matches!(
            straightest(&setup(all_round), room(30.0, 40.0), None, None),
            Err(NoRoom::Zones { .. })
        ));
    }
}
