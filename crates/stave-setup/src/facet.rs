//! Flat places of the ware, which are burned as planes while the rotary stands still.

use std::collections::HashSet;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

use stave_wall::{Station, TrueRunning, Wall, WallShape};

use crate::blank::{rising, unique_name};
use crate::bounds::{Bounds, LONGEST_MM, THINNEST_MM};
use crate::list::listed_names;
use crate::nearest::nearest;
use crate::section::Section;
use crate::{Along, Blank, Drive, Fault, JobFile, Machine, Rotary, RotaryWord, Zone};

/// What turns farther away than this from the middle of a flat place never comes over its plane:
/// one degree less than a quarter turn, where the plane's height would go to infinity.
const BESIDE_RAD: f64 = FRAC_PI_2 - PI / 180.0;

/// A flat place of the ware: a plane along the axis, level under the beam at one turn.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Facet {
    /// Its name.
    pub name: String,
    /// The turn of its middle, rad.
    pub turn_rad: f64,
    /// From, to along the axis, mm; from < to.
    pub at_mm: (f64, f64),
    /// How wide it is across the axis, mm; its middle is uppermost at its turn.
    pub width_mm: f64,
    /// From the axis to the plane, mm.
    pub height_mm: f64,
}

impl Facet {
    /// The radius, mm, of the cylinder whose surface stands for the plane, unrolled: the plane's
    /// height, so that turns near its middle are those of the ware, or half its width where that is
    /// more, so that it takes less than a third of the way around and nothing on it comes round to
    /// meet itself.
    #[must_use]
    pub fn unrolled_radius_mm(&self) -> f64 {
        self.height_mm.max(0.5 * self.width_mm)
    }

    /// The turns between which its plane lies, rad, from < to: those of its two edges.
    #[must_use]
    pub fn turns_rad(&self) -> (f64, f64) {
        let half_rad = (0.5 * self.width_mm).atan2(self.height_mm);
        (self.turn_rad - half_rad, self.turn_rad + half_rad)
    }

    /// How far a place on that cylinder lies across from the plane's middle, mm; grows with the
    /// turn.
    #[must_use]
    pub fn across_mm(&self, turn_rad: f64) -> f64 {
        (turn_rad - self.turn_rad) * self.unrolled_radius_mm()
    }

    /// The place as a wall and a machine: the plane unrolled from a cylinder, and turned by the
    /// axis across the work. The zones that lie over it are carried onto it from the ware's axis.
    ///
    /// `None` where the numbers make no wall.
    #[must_use]
    pub fn unrolled(&self, blank: &Blank, machine: &Machine) -> Option<(Blank, Machine)> {
        let radius_mm = self.unrolled_radius_mm();
        let plane = self.as_cylinder(blank, radius_mm, self.turn_rad)?;
        Some((plane, machine.across_the_work(TAU * radius_mm)))
    }

    /// The place as a wall that is just as wide around, its middle at turn 0: the page to draw on.
    ///
    /// `None` where the numbers make no wall.
    #[must_use]
    pub fn page(&self, blank: &Blank) -> Option<Blank> {
        self.as_cylinder(blank, self.width_mm / TAU, 0.0)
    }

    fn as_cylinder(&self, blank: &Blank, radius_mm: f64, middle_rad: f64) -> Option<Blank> {
        let station = |at_mm: f64| Station { at_mm, radius_mm };
        let stations = vec![station(self.at_mm.0), station(self.at_mm.1)];
        let wall = Wall::from_stations(&stations, WallShape::Straight).ok()?;
        let over = |zone| over(zone, blank, self, |across_mm| middle_rad + across_mm / radius_mm);
        Some(Blank {
            wall,
            stations,
            running: TrueRunning::default(),
            zones: blank.zones.iter().filter_map(over).collect(),
            ..blank.clone()
        })
    }
}

/// A flat place that is set up, and the ware and machine it is on.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OnFacet {
    /// The place.
    pub facet: Facet,
    /// The word at which the rotary stands, rotary units.
    pub index: f64,
    /// The whole of the ware, and the machine with its rotary, as their files say.
    pub whole: Box<(Blank, Machine)>,
}

impl JobFile {
    /// The flat place of a blank that the job burns; `None` where it burns the wall.
    ///
    /// # Errors
    /// A place that the blank does not have.
    pub fn facet_of<'b>(&self, blank: &'b Blank) -> Result<Option<&'b Facet>, Fault> {
        let Some(asked) = &self.place_facet else { return Ok(None) };
        let facets = &blank.facets;
        if let Some(known) = facets.iter().find(|facet| facet.name == asked.value) {
            return Ok(Some(known));
        }
        let names = || facets.iter().map(|facet| facet.name.as_str());
        let advice = match nearest(&asked.value, names()) {
            Some(known) => format!("did you mean \"{known}\"?"),
            None if facets.is_empty() => "add a [[facet]] with that name".to_owned(),
            None => format!("it has {}", listed_names(names())),
        };
        let message = format!(
            "`place.facet` is \"{}\", but \"{}\" has no such flat place: {advice}",
            asked.value, blank.name
        );
        Err(Fault::new(asked.from.clone(), message))
    }
}

pub(crate) fn read_facet(
    facet: &mut Section<'_, '_, '_>,
    names: &mut HashSet<String>,
) -> Option<Facet> {
    let name = unique_name(facet, names);
    let turn = facet.angle("turn", Bounds::closed(-360.0, 360.0));
    let turn = facet.required("turn", turn);
    let at = facet.pair("at", Bounds::closed(-LONGEST_MM, LONGEST_MM), Some(facet.reader.unit));
    let at = facet.required("at", at);
    let size = Bounds::closed(THINNEST_MM, LONGEST_MM);
    let width = facet.length("width", size);
    let width = facet.required("width", width);
    let height = facet.length("height", size);
    let height = facet.required("height", height);
    let at = at.filter(|at| rising(facet, "at", at.value));
    Some(Facet {
        name: name?,
        turn_rad: turn?.value,
        at_mm: at?.value,
        width_mm: width?.value,
        height_mm: height?.value,
    })
}

/// A zone as it lies over a plane: seen from the axis, its edges go out along the radius.
fn over(
    zone: &Zone,
    blank: &Blank,
    facet: &Facet,
    turn_of_across: impl Fn(f64) -> f64,
) -> Option<Zone> {
    let margin_mm = zone.margin_mm.unwrap_or(0.0);
    let beside =
        zone.at_mm.1 + margin_mm < facet.at_mm.0 || zone.at_mm.0 - margin_mm > facet.at_mm.1;
    if beside {
        return None;
    }
    let (from, to) = zone.turn_rad;
    let half_rad = 0.5 * (to - from);
    let middle_rad = 0.5 * (from + to) - facet.turn_rad;
    let middle_rad = middle_rad - TAU * (middle_rad / TAU).round();
    let edge = |rad: f64| {
        let across_mm = facet.height_mm * rad.clamp(-BESIDE_RAD, BESIDE_RAD).tan();
        // What lies past both edges of the plane is not asked for: no farther out than once more
        // its width.
        turn_of_across(across_mm.clamp(-1.5 * facet.width_mm, 1.5 * facet.width_mm))
    };
    let (low, high) = (middle_rad - half_rad, middle_rad + half_rad);
    if high <= -BESIDE_RAD || low >= BESIDE_RAD {
        return None;
    }
    let turn_rad = (edge(low), edge(high));
    let wall = &blank.wall;
    let largest_mm = wall.largest_radius_mm();
    // What rises does so from the wall, which may lie above the plane or below it.
    let rise_mm = match zone.rise_mm > 0.0 {
        true => (largest_mm + zone.rise_mm - facet.height_mm).max(0.0),
        false => 0.0,
    };
    (turn_rad.0 < turn_rad.1).then(|| Zone { turn_rad, rise_mm, ..zone.clone() })
}

impl Machine {
    /// The machine with the axis across the work in the rotary's place, `units_per_turn` mm of it
    /// for what was one turn: it carries the head over work that stands still.
    #[must_use]
    pub fn across_the_work(&self, units_per_turn: f64) -> Machine {
        let along = self.rotary.along;
        let rotary = Rotary {
            word: RotaryWord::Y,
            units_per_turn,
            steps_per_turn: None,
            steps_per_mm: None,
            scale: 1.0,
            backlash: 0.0,
            limits: if along == Along::X { self.y } else { self.x },
            // Across grows to Y+ where the work lies along X, and to X- where it lies along Y.
            reverse: along == Along::Y,
            along,
            drive: Drive::Chuck,
            ..self.rotary
        };
        Machine { rotary, obstacles: Vec::new(), ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use crate::{Setup, read_blank, read_job, read_machine};

    const BLANK: &str = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\n\
        diameter = 80\n[[zone]]\nname = \"mark\"\nat = [30, 40]\nturn = [80, 100]\n\
        [[zone]]\nname = \"behind\"\nat = [30, 40]\nturn = [260, 280]\n\
        [[facet]]\nname = \"front\"\nturn = 90\nat = [20, 70]\nwidth = 20\nheight = 38\n";
    const MACHINE: &str = "[x]\nspeed = 500\nacceleration = 5000\n\
        [y]\nspeed = 400\nacceleration = 3000\n";
    const ROTARY: &str =
        "[rotary]\nword = \"A\"\nunits_per_turn = 720\nspeed = 360\nacceleration = 2000\n";

    fn set_up(job: &str, rotary: &str) -> Result<Setup, crate::Faults> {
        let machine = read_machine(&format!("{MACHINE}{rotary}"), "bench.toml")?;
        Setup::new(read_blank(BLANK, "cup.toml")?, machine, read_job(job, "job.toml")?)
    }

    #[test]
    fn the_plane_is_a_wall_that_the_axis_across_turns() {
        let setup = set_up("place = { facet = \"front\" }\nzero = { turn = 30 }", ROTARY).unwrap();
        let on = setup.facet.as_ref().unwrap();
        assert!((on.index - 120.0).abs() < 1e-9);
        assert_eq!(setup.blank.wall.at_range_mm(), (20.0, 70.0));
        assert_eq!(
            (setup.machine.rotary.limits.speed, on.whole.1.rotary.limits.speed),
            (400.0, 360.0)
        );
        assert_eq!((setup.job.place.at_mm, setup.job.zero.at_mm), (20.0, 20.0));
        // A zone of ten degrees either way, seen from the axis; what lies behind does not.
        let [mark] = &setup.blank.zones[..] else { panic!("{:?}", setup.blank.zones) };
        let across = on.facet.across_mm(mark.turn_rad.1);
        assert!((across - 38.0 * 10_f64.to_radians().tan()).abs() < 1e-12);
    }

    #[test]
    fn what_has_no_meaning_on_a_plane_is_told() {
        let refused = |job: &str, rotary: &str, word: &str| {
            let faults = set_up(job, rotary).unwrap_err().to_string();
            assert!(faults.contains(word), "{faults}");
        };
        refused("place = { facet = \"frond\" }", ROTARY, "did you mean \"front\"?");
        refused("place = { facet = \"front\", turn = 10 }", ROTARY, "`place.turn`");
        refused("tilt = 2\nplace = { facet = \"front\" }", ROTARY, "`tilt`");
        refused("place = { facet = \"front\", at = 10 }", ROTARY, "`place.at`");
        let by_y = ROTARY.replace("\"A\"", "\"Y\"");
        refused("place = { facet = \"front\" }", &by_y, "nothing moves the head across");
        let setup = set_up("place = { facet = \"front\" }\nzero = { at = 5 }", ROTARY).unwrap();
        assert!(setup.warnings.iter().any(|one| one.to_string().contains("`zero.at`")));
    }

    #[test]
    fn a_setup_can_be_that_of_another_place() {
        let on = set_up("place = { facet = \"front\" }", ROTARY).unwrap();
        let off = on.standing_on(None).unwrap();
        assert_eq!(off.blank.wall.at_range_mm(), (0.0, 100.0));
        let again = off.standing_on(Some(("front", 180.0))).unwrap();
        assert_eq!(again.blank.wall.at_range_mm(), (20.0, 70.0));
        assert!(off.standing_on(Some(("back", 180.0))).is_none());
        assert_eq!(
            on.digests(),
            set_up("place = { facet = \"front\" }", ROTARY).unwrap().digests()
        );
        assert_eq!(on.digests().blank, off.digests().blank);
    }
}
