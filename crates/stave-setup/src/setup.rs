//! Blank, machine and job together: defaults filled in, and what only shows when the files meet.

use std::borrow::Cow;
use std::f64::consts::TAU;

use stave_wall::LayKind;

use crate::bounds::{Bounds, plain};
use crate::job::{Job, JobFile, Place, Zero};
use crate::job_option::{DIAMETER, MOST_TURN_DEG, TOLERANCE};
use crate::list::listed_names;
use crate::nearest::nearest;
use crate::{
    AirLevel, Blank, Coating, Digests, Drive, Facet, Fault, Faults, FocusMode, Given, Machine,
    OnFacet, Operation, OperationRule, PlaceOf, RotaryWord, Source, Stands, Toward, Values, Work,
    ZoneRule,
};

/// The tolerance where the job names none, mm on the wall (DESIGN "Tolerance").
const DEFAULT_TOLERANCE_MM: f64 = 0.01;

/// Ware wider than this, mm, is more likely in another unit. This and what follows are common
/// practice, no source.
const WIDEST_WARE_MM: f64 = 600.0;
/// And ware longer than this, mm.
const LONGEST_WARE_MM: f64 = 1500.0;
/// Ware thinner than this, mm, is more likely in another unit.
const THINNEST_WARE_MM: f64 = 5.0;
/// A tolerance above this, mm, is wider than a spot.
const COARSEST_MM: f64 = 0.5;
/// On a steeper taper than this the work walks off a roller: common practice, no source.
const STEEPEST_ON_ROLLERS_DEG: f64 = 0.5;
/// A straight axis faster than this, mm/s, is more likely given per minute.
const FASTEST_MM_PER_S: f64 = 3000.0;
/// A rotary faster than this, turns/s, is more likely given per minute.
const FASTEST_TURNS_PER_S: f64 = 30.0;

const TURN_RAD: Bounds = Bounds::closed(-MOST_TURN_DEG * TAU / 360.0, MOST_TURN_DEG * TAU / 360.0);

/// Everything that is known before a program is read.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Setup {
    /// The ware.
    pub blank: Blank,
    /// The machine.
    pub machine: Machine,
    /// The job, defaults filled in.
    pub job: Job,
    /// Where the job burns a flat place: which, and the ware it is on. `blank` is its plane then,
    /// unrolled from a cylinder, and `machine` has the axis across the work in the rotary's place.
    #[cfg_attr(feature = "serde", serde(default))]
    pub facet: Option<OnFacet>,
    /// What is worth knowing, from all three files and from how they meet: defaults taken, settings
    /// without an effect.
    pub warnings: Vec<Fault>,
    /// What can be meant but hardly is, each with its likely cause.
    pub doubts: Vec<Fault>,
    pub(crate) job_values: Values,
}

impl Setup {
    /// What was given of the job, key by key.
    #[must_use]
    pub fn job_values(&self) -> &Values {
        &self.job_values
    }

    /// The digests of what a program is made from, but for its input.
    #[must_use]
    pub fn digests(&self) -> Digests {
        Digests {
            blank: self.blank.values.digest(),
            machine: self.machine.values.digest(),
            job: self.job_values.digest(),
            input: "-".to_owned(),
        }
    }

    /// Fills in the job's defaults and checks it against blank and machine.
    ///
    /// # Errors
    /// Settings that cannot be meant, all at once, each with the file or option it came from: a
    /// place off the wall, focus that follows without a Z axis, a lens that is not listed, decimals
    /// too coarse for the tolerance.
    ///
    /// # Examples
    /// ```
    /// # let blank = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 82";
    /// # let machine = "[x]\nspeed = 500\nacceleration = 5000\n\
    /// #   [y]\nspeed = 500\nacceleration = 5000\n\
    /// #   [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000";
    /// use stave_setup::{JobFile, Setup, read_blank, read_machine};
    /// let blank = read_blank(blank, "mug.toml")?;
    /// let machine = read_machine(machine, "bench.toml")?;
    /// let setup = Setup::new(blank, machine, JobFile::default())?;
    /// assert_eq!(setup.job.reference_radius_mm, 41.0);
    /// assert_eq!(setup.rotary_units_per_turn(), 360.0);
    /// # Ok::<(), stave_setup::Faults>(())
    /// ```
    pub fn new(blank: Blank, machine: Machine, job: JobFile) -> Result<Setup, Faults> {
        let mut meeting = Meeting {
            blank: &blank,
            machine: &machine,
            facet: None,
            held_at_mm: blank.wall.at_range_mm().0,
            faults: Vec::new(),
            warnings: Vec::new(),
            // A zone that lies off the wall.
            doubts: blank.warnings.clone(),
        };
        meeting.warnings.extend(machine.warnings.iter().cloned());
        meeting.warnings.extend(job.warnings.iter().cloned());
        meeting.plausible(&job);
        let facet = meeting.facet(&job);
        let Meeting { held_at_mm, faults, warnings, doubts, .. } = meeting;
        let (blank, machine, facet) = match facet {
            Some(facet) => stand_on(blank, machine, facet, &job),
            None => (blank, machine, None),
        };
        let job_values = job.values();
        let facet_of = facet.as_ref().map(|on| &on.facet);
        let mut meeting = Meeting {
            blank: &blank,
            machine: &machine,
            facet: facet_of,
            held_at_mm,
            faults,
            warnings,
            doubts,
        };
        let job = meeting.job(job);
        let Meeting { mut faults, warnings, doubts, .. } = meeting;
        faults.sort_by_key(|fault| (fault.file().map(str::to_owned), fault.line(), fault.column()));
        if faults.is_empty() {
            Ok(Setup { blank, machine, job, facet, warnings, doubts, job_values })
        } else {
            Err(faults.into())
        }
    }

    /// The ware and the machine as their files say, whatever place of the ware is burned.
    #[must_use]
    pub fn whole(&self) -> (&Blank, &Machine) {
        self.facet.as_ref().map_or((&self.blank, &self.machine), |on| (&on.whole.0, &on.whole.1))
    }

    /// The setup for a program that burns a flat place of the ware, by its name and the word at
    /// which the rotary stands, or (`None`) its wall: what that hangs on of blank and machine, the
    /// job as it is. `None` where the ware has no such place.
    #[must_use]
    pub fn standing_on(&self, facet: Option<(&str, f64)>) -> Option<Cow<'_, Setup>> {
        if self.facet.as_ref().map(|on| (on.facet.name.as_str(), on.index)) == facet {
            return Some(Cow::Borrowed(self));
        }
        let (blank, machine) = self.whole();
        let mut own = self.clone();
        (own.blank, own.machine, own.facet) = match facet {
            None => (blank.clone(), machine.clone(), None),
            Some((name, index)) => {
                let facet = blank.facets.iter().find(|facet| facet.name == name)?;
                let (plane, across) = facet.unrolled(blank, machine)?;
                let whole = Box::new((blank.clone(), machine.clone()));
                (plane, across, Some(OnFacet { facet: facet.clone(), index, whole }))
            }
        };
        Some(Cow::Owned(own))
    }

    /// Units of the rotary's word for one turn of the work: for a roller the circumference where it
    /// touches, mm, times its scale.
    #[must_use]
    pub fn rotary_units_per_turn(&self) -> f64 {
        units_per_turn(&self.blank, &self.machine, self.job.contact_at_mm)
    }

    /// Motor steps for one turn of the work, where the machine file tells.
    #[must_use]
    pub fn rotary_steps_per_turn(&self) -> Option<f64> {
        match self.machine.rotary.drive {
            Drive::Chuck => self.machine.rotary.steps_per_turn,
            Drive::Roller => {
                self.machine.rotary.steps_per_mm.map(|steps| steps * self.rotary_units_per_turn())
            }
        }
    }

    /// The diameter of the spot in focus, mm, through the lens fitted: as measured, else by the
    /// formula, else `None`.
    #[must_use]
    pub fn spot_mm(&self) -> Option<f64> {
        self.job.lens.as_ref()?.spot_in_focus_mm(self.machine.beam.as_ref())
    }

    /// The diameter of the spot so far from focus, mm, where the lens fitted tells.
    #[must_use]
    pub fn spot_at_mm(&self, defocus_mm: f64) -> Option<f64> {
        self.job.lens.as_ref()?.spot_at_mm(self.machine.beam.as_ref(), defocus_mm)
    }

    /// How much wall around a zone is kept clear, mm: its margin, else half the spot, else (no spot
    /// known) nothing.
    #[must_use]
    pub fn zone_margin_mm(&self, zone: &crate::Zone) -> f64 {
        zone.margin_mm.or_else(|| self.spot_mm().map(|spot| spot / 2.0)).unwrap_or(0.0)
    }
}

/// The plane of a flat place in place of the ware, and the axis across it in place of the rotary.
fn stand_on(
    blank: Blank,
    machine: Machine,
    facet: Facet,
    job: &JobFile,
) -> (Blank, Machine, Option<OnFacet>) {
    let Some((plane, across)) = facet.unrolled(&blank, &machine) else {
        return (blank, machine, None);
    };
    let stations = blank.stations.iter();
    let widest = stations.max_by(|a, b| a.radius_mm.total_cmp(&b.radius_mm));
    let contact_at_mm = job.contact_at_mm.as_ref().map(|at| at.value);
    let contact_at_mm = contact_at_mm.or(widest.map(|station| station.at_mm)).unwrap_or(0.0);
    let zero_rad = job.zero_turn_rad.as_ref().map_or(0.0, |turn| turn.value);
    let x_minus = job.toward.as_ref().is_some_and(|toward| toward.value == Toward::XMinus);
    let sign = if x_minus == machine.rotary.reverse { 1.0 } else { -1.0 };
    let units = units_per_turn(&blank, &machine, contact_at_mm);
    // Minus zero would come out again in messages and words.
    let index = sign * (facet.turn_rad - zero_rad) / TAU * units + 0.0;
    (plane, across, Some(OnFacet { facet, index, whole: Box::new((blank, machine)) }))
}

fn units_per_turn(blank: &Blank, machine: &Machine, contact_at_mm: f64) -> f64 {
    match machine.rotary.drive {
        Drive::Chuck => machine.rotary.units_per_turn,
        Drive::Roller => {
            let s_mm = blank.wall.s_of_at(contact_at_mm);
            TAU * blank.wall.section(s_mm, &mut 0).radius_mm * machine.rotary.scale
        }
    }
}

/// The three files while they are checked against each other.
struct Meeting<'a> {
    blank: &'a Blank,
    machine: &'a Machine,
    /// The flat place that `blank` is the plane of.
    facet: Option<&'a Facet>,
    /// Where the ware is held unless the job says, mm along the axis.
    held_at_mm: f64,
    faults: Vec<Fault>,
    warnings: Vec<Fault>,
    doubts: Vec<Fault>,
}

impl Meeting<'_> {
    fn job(&mut self, job: JobFile) -> Job {
        let wall = &self.blank.wall;
        let largest_mm = wall.largest_radius_mm();
        let (first_at, _) = wall.at_range_mm();
        let held_at_mm = self.held_at_mm;
        self.sound("reference_diameter", job.reference_diameter_mm.as_ref(), DIAMETER);
        self.sound("set_diameter", job.set_diameter_mm.as_ref(), DIAMETER);
        self.sound("tolerance", job.tolerance_mm.as_ref(), TOLERANCE);
        self.sound("place.turn", job.place_turn_rad.as_ref(), TURN_RAD);
        self.sound("zero.turn", job.zero_turn_rad.as_ref(), TURN_RAD);
        self.on_wall("place.at", job.place_at_mm.as_ref());
        if self.facet.is_none() {
            self.on_wall("zero.at", job.zero_at_mm.as_ref());
        }
        self.on_wall("focus_at", job.focus_at_mm.as_ref());
        self.focus(&job);
        self.tilt(job.tilt_rad.as_ref());
        if self.facet.is_none() {
            self.reference(job.reference_diameter_mm.as_ref());
        }
        self.air(&job);
        let operations = self.operations(job.operations);
        let lens = self.fitted("lens", &self.machine.lenses, |lens| &lens.name, job.lens.as_ref());
        let nozzle = self.fitted(
            "nozzle",
            &self.machine.nozzles,
            |nozzle| &nozzle.name,
            job.nozzle.as_ref(),
        );
        if self.facet.is_none() {
            self.on_wall("contact_at", job.contact_at_mm.as_ref());
        }
        if job.contact_at_mm.is_some()
            && self.machine.rotary.drive == Drive::Chuck
            && self.facet.is_none()
        {
            let from = job.contact_at_mm.as_ref().and_then(|at| at.from.clone());
            self.warn(from, "`contact_at` has no effect: the rotary is a chuck".to_owned());
        }
        if let Some(held_at) = &job.held_at_mm
            && self.machine.obstacles.is_empty()
            && self.facet.is_none()
        {
            let message = format!(
                "`held_at` has no effect: \"{}\" has no [[rotary.obstacle]]",
                self.machine.name
            );
            self.warn(held_at.from.clone(), message);
        }
        let place_given = job.place_at_mm.is_some() || job.place_turn_rad.is_some();
        let place = Place {
            at_mm: value_or(job.place_at_mm, first_at),
            turn_rad: value_or(job.place_turn_rad, self.facet.map_or(0.0, |facet| facet.turn_rad)),
            of: value_or(job.place_of, PlaceOf::Page),
        };
        let widest = self.blank.stations.iter().reduce(|widest, station| {
            if station.radius_mm > widest.radius_mm { station } else { widest }
        });
        let plain_radius_mm = self.facet.map(|_| largest_mm);
        let reference_radius_mm = plain_radius_mm
            .or(job.reference_diameter_mm.map(|diameter| diameter.value / 2.0))
            .unwrap_or(largest_mm);
        let tolerance = job.tolerance_mm.unwrap_or_else(|| DEFAULT_TOLERANCE_MM.into());
        let contact_at_mm =
            value_or(job.contact_at_mm, widest.map_or(first_at, |station| station.at_mm));
        self.decimals(&tolerance, contact_at_mm);
        self.roller(contact_at_mm);
        Job {
            lay: value_or(job.lay, LayKind::TrueWidth),
            anchor: job.anchor.map(|anchor| anchor.value),
            reference_radius_mm,
            tolerance_mm: tolerance.value,
            tilt_rad: value_or(job.tilt_rad, 0.0),
            dose: job.dose.map(|dose| dose.value),
            zones: value_or(job.zones, ZoneRule::Refuse),
            focus: value_or(job.focus, FocusMode::Fixed),
            focus_at_mm: job.focus_at_mm.map(|at| at.value),
            stands: value_or(job.stands, Stands::Upright),
            toward: value_or(job.toward, Toward::XPlus),
            lens,
            nozzle,
            set_radius_mm: plain_radius_mm
                .or(job.set_diameter_mm.map(|diameter| diameter.value / 2.0))
                .unwrap_or(reference_radius_mm),
            zero: match self.facet {
                Some(facet) => Zero { at_mm: facet.at_mm.0, turn_rad: facet.turn_rad },
                None => Zero {
                    at_mm: value_or(job.zero_at_mm, place.at_mm),
                    turn_rad: value_or(job.zero_turn_rad, place.turn_rad),
                },
            },
            place,
            place_given,
            contact_at_mm,
            held_at_mm: value_or(job.held_at_mm, held_at_mm),
            allow: job.allow,
            fonts: job.fonts,
            pieces: job.pieces,
            operations,
            part_at_mm: [None; 2],
            set_ups: None,
        }
    }

    /// The flat place that the job burns, and what of the job has no meaning there.
    fn facet(&mut self, job: &JobFile) -> Option<Facet> {
        let asked = job.place_facet.as_ref()?;
        let known = match job.facet_of(self.blank) {
            Ok(known) => known.cloned(),
            Err(fault) => {
                self.faults.push(fault);
                None
            }
        };
        if self.machine.rotary.word == RotaryWord::Y {
            let message = format!(
                "the rotary of \"{}\" takes the place of Y, so that nothing moves the head across a \
                 flat place: plug the head's axis in again, and take a machine file that says so",
                self.machine.name
            );
            self.fault(asked.from.clone(), message);
        }
        if let Some(turn) = &job.place_turn_rad {
            let message = "`place.turn` has no meaning on a flat place, which lies at a turn of \
                           its own";
            self.fault(turn.from.clone(), message.to_owned());
        }
        if let Some(tilt) = job.tilt_rad.as_ref().filter(|tilt| tilt.value != 0.0) {
            let message = "`tilt` must be 0 on a flat place: its plane lies along the axis";
            self.fault(tilt.from.clone(), message.to_owned());
        }
        self.on_wall("contact_at", job.contact_at_mm.as_ref());
        let lengths = [
            ("zero.at", &job.zero_at_mm, ": X is zero at its `at[0]`"),
            ("reference_diameter", &job.reference_diameter_mm, ""),
            ("set_diameter", &job.set_diameter_mm, ""),
        ];
        for (key, given, why) in lengths {
            let Some(given) = given else { continue };
            let message = format!("`{key}` has no effect on a flat place{why}");
            self.warn(given.from.clone(), message);
        }
        known
    }

    /// A roller under a taper: the work walks off along its axis, and the surface slips.
    fn roller(&mut self, contact_at_mm: f64) {
        if self.machine.rotary.drive != Drive::Roller {
            return;
        }
        let wall = &self.blank.wall;
        let section = wall.section(wall.s_of_at(contact_at_mm), &mut 0);
        let slope_deg = section.slope_rad().to_degrees();
        if slope_deg.abs() <= STEEPEST_ON_ROLLERS_DEG {
            return;
        }
        let message = format!(
            "the rollers touch the wall of \"{}\" at {} mm, where it tapers by {}°: there the work \
             walks along its axis and slips; set it against a stop, and check what a turn really \
             is by `stave swatch --turn`",
            self.blank.name,
            plain(contact_at_mm),
            plain((slope_deg.abs() * 10.0).round() / 10.0)
        );
        self.doubt(None, message);
    }

    /// What can be meant but hardly is, with the likely cause.
    fn plausible(&mut self, job: &JobFile) {
        let wall = &self.blank.wall;
        let (first, last) = wall.at_range_mm();
        let widest_mm = 2.0 * wall.largest_radius_mm();
        let size = format!(
            "the wall of \"{}\" is {} mm long and up to {} mm across",
            self.blank.name,
            plain((last - first).round()),
            plain(widest_mm.round())
        );
        if widest_mm > WIDEST_WARE_MM || last - first > LONGEST_WARE_MM {
            let cause = "if its file is in mm, its `units` must be \"mm\"";
            self.doubt(None, format!("{size}, larger than a rotary holds: {cause}"));
        } else if widest_mm < THINNEST_WARE_MM {
            let cause = "if its file is in inches, its `units` must be \"in\"";
            self.doubt(None, format!("{size}, thinner than ware is: {cause}"));
        }
        if let Some(tolerance) = &job.tolerance_mm
            && tolerance.value > COARSEST_MM
        {
            let message = format!(
                "`tolerance` is {} mm, by which a burn may miss its place: it is wider than a \
                 spot; 0.01 is common",
                plain(tolerance.value)
            );
            self.doubt(tolerance.from.clone(), message);
        }
        let machine = self.machine;
        let axes = [("x", Some(&machine.x)), ("y", Some(&machine.y))];
        let z = machine.z.as_ref().map(|z| &z.limits);
        // Where the rotary is driven as Y, the machine's Y is the rotary.
        let is_rotary = |name: &str| name == "y" && machine.rotary.word == crate::RotaryWord::Y;
        for (name, limits) in axes.into_iter().chain([("z", z)]) {
            let Some(limits) = limits.filter(|_| !is_rotary(name)) else { continue };
            if limits.speed > FASTEST_MM_PER_S {
                self.per_minute(name, limits.speed, "mm");
            }
        }
        let fastest = FASTEST_TURNS_PER_S * machine.rotary.units_per_turn;
        if machine.rotary.drive == Drive::Chuck && machine.rotary.limits.speed > fastest {
            self.per_minute("rotary", machine.rotary.limits.speed, "units");
        }
    }

    fn per_minute(&mut self, axis: &str, speed: f64, unit: &str) {
        let message = format!(
            "`speed` of [{axis}] is {} {unit} a second, faster than such an axis is: if it is per \
             minute, write {}",
            plain(speed),
            plain(speed / 60.0)
        );
        self.doubt(None, message);
    }

    fn fault(&mut self, from: Option<Source>, message: String) {
        self.faults.push(Fault::new(from, message));
    }

    fn warn(&mut self, from: Option<Source>, message: String) {
        self.warnings.push(Fault::new(from, message));
    }

    fn doubt(&mut self, from: Option<Source>, message: String) {
        self.doubts.push(Fault::new(from, message));
    }

    /// What the readers have checked already, for settings that a program made.
    fn sound(&mut self, key: &str, given: Option<&Given<f64>>, bounds: Bounds) {
        let Some(given) = given else { return };
        if !bounds.hold(given.value) {
            let allowed = bounds.text(None, Some(given.value));
            self.fault(
                given.from.clone(),
                format!("`{key}` is {}, but must be {allowed}", given.value),
            );
        }
    }

    fn on_wall(&mut self, key: &str, at: Option<&Given<f64>>) {
        let Some(at) = at else { return };
        let (first, last) = self.blank.wall.at_range_mm();
        if at.value.is_nan() || at.value < first || at.value > last {
            let message = format!(
                "`{key}` is {} mm, off the wall of \"{}\", whose stations go from {} to {} mm",
                plain(at.value),
                self.blank.name,
                plain(first),
                plain(last)
            );
            self.fault(at.from.clone(), message);
        }
    }

    fn focus(&mut self, job: &JobFile) {
        let Some(focus) = &job.focus else { return };
        if focus.value != FocusMode::Follow {
            return;
        }
        if self.machine.z.is_none() {
            let message = format!(
                "`focus` is \"follow\", but \"{}\" has no [z] section: add one, or take \"fixed\"",
                self.machine.name
            );
            self.fault(focus.from.clone(), message);
        }
        if let Some(at) = &job.focus_at_mm {
            let message = "`focus_at` has no effect where the focus follows: focus at `zero.at`";
            self.warn(at.from.clone(), message.to_owned());
        }
    }

    fn tilt(&mut self, tilt: Option<&Given<f64>>) {
        let Some(tilt) = tilt else { return };
        let degrees = plain(tilt.value.to_degrees());
        if tilt.value.is_nan() || tilt.value.abs() >= TAU / 4.0 {
            self.fault(
                tilt.from.clone(),
                format!("`tilt` is {degrees}, but must be less than 90 degrees either way"),
            );
        } else if tilt.value.abs() > self.machine.controller.most_tilt_rad + 1e-9 {
            let most = plain(self.machine.controller.most_tilt_rad.to_degrees());
            self.doubt(
                tilt.from.clone(),
                format!(
                    "`tilt` is {degrees} degrees, past `most_tilt` of {most}: raise `most_tilt` \
                     if the rotary can be tilted so far"
                ),
            );
        }
    }

    fn reference(&mut self, diameter: Option<&Given<f64>>) {
        let Some(diameter) = diameter else { return };
        let radii = self.blank.stations.iter().map(|station| station.radius_mm);
        let least = 2.0 * radii.fold(f64::INFINITY, f64::min);
        let most = 2.0 * self.blank.wall.largest_radius_mm();
        let slack = 1e-6 * most;
        if diameter.value < least - slack || diameter.value > most + slack {
            let message = format!(
                "`reference_diameter` is {} mm, which the wall has nowhere: its diameters go from \
                 {} to {} mm",
                plain(diameter.value),
                plain(least),
                plain(most)
            );
            self.warn(diameter.from.clone(), message);
        }
    }

    fn air(&mut self, job: &JobFile) {
        let air = self.machine.controller.air.as_ref();
        for operation in &job.operations {
            let Some(asked) = &operation.air else { continue };
            let there = match asked.value {
                AirLevel::Off => true,
                AirLevel::Low => air.is_some_and(|air| air.low.is_some()),
                AirLevel::High => air.is_some_and(|air| air.high.is_some()),
            };
            if !there {
                let message = format!(
                    "`air` is \"{}\", but the [controller] of \"{}\" has no `air` word for it",
                    asked.value, self.machine.name
                );
                self.faults.push(Fault::new(asked.from.clone(), message));
            }
        }
    }

    /// The operations with what their coatings give.
    fn operations(&mut self, rules: Vec<OperationRule>) -> Vec<Operation> {
        let machine = self.machine;
        let mut operations = Vec::with_capacity(rules.len());
        for rule in rules {
            let coatings = &machine.coatings;
            let coating = rule
                .coating
                .clone()
                .and_then(|asked| self.named("coating", coatings, |coating| &coating.name, &asked));
            if rule.coating.is_some() && coating.is_none() {
                continue;
            }
            let of = |own: Option<f64>, coated: fn(&Coating) -> Option<f64>| {
                own.or_else(|| coating.as_ref().and_then(coated))
            };
            let speed = of(rule.speed_mm_per_s, |coating| Some(coating.speed_mm_per_s));
            let power = of(rule.power_percent, |coating| Some(coating.power_percent));
            let line_spacing_mm = match rule.work {
                Work::Line => rule.line_spacing_mm,
                Work::Area | Work::Picture => {
                    of(rule.line_spacing_mm, |coating| coating.line_spacing_mm)
                }
            };
            let lacks = match (speed, power, rule.work) {
                (None, ..) => Some("`speed`"),
                (_, None, _) => Some("`power`"),
                (.., Work::Line) => None,
                _ if line_spacing_mm.is_none() => Some("`lines_per_inch` (or `line_spacing`)"),
                _ => None,
            };
            let from = || rule.coating.as_ref().and_then(|coating| coating.from.clone());
            if let Some(lacks) = lacks {
                let message = format!(
                    "operation \"{}\" has no {lacks}, and its coating gives none: add it to one of \
                     them",
                    rule.name
                );
                self.fault(from(), message);
                continue;
            }
            let (Some(speed_mm_per_s), Some(power_percent)) = (speed, power) else { continue };
            let floor = rule.shading.power_floor_percent;
            if rule.power_percent.is_none() && floor >= power_percent {
                let message = format!(
                    "`power_floor` of operation \"{}\" is {}, but must be less than its coating's \
                     `power` of {}, which full darkness burns with",
                    rule.name,
                    plain(floor),
                    plain(power_percent)
                );
                self.fault(from(), message);
            }
            operations.push(Operation { rule, speed_mm_per_s, power_percent, line_spacing_mm });
        }
        operations
    }

    /// The one named, else the first.
    fn fitted<T: Clone>(
        &mut self,
        what: &str,
        list: &[T],
        name: impl Fn(&T) -> &String,
        asked: Option<&Given<String>>,
    ) -> Option<T> {
        match asked {
            Some(asked) => self.named(what, list, name, asked),
            None => list.first().cloned(),
        }
    }

    /// The one named.
    fn named<T: Clone>(
        &mut self,
        what: &str,
        list: &[T],
        name: impl Fn(&T) -> &String,
        asked: &Given<String>,
    ) -> Option<T> {
        let found = list.iter().find(|one| *name(one) == asked.value).cloned();
        if found.is_none() {
            let names = || list.iter().map(|one| name(one).as_str());
            let advice = match nearest(&asked.value, names()) {
                Some(known) => format!("did you mean \"{known}\"?"),
                None if list.is_empty() => format!("add a [[{what}]] with that name"),
                None => format!("it has {}", listed_names(names())),
            };
            let message = format!(
                "`{what}` is \"{}\", but \"{}\" has no such {what}: {advice}",
                asked.value, self.machine.name
            );
            self.fault(asked.from.clone(), message);
        }
        found
    }

    /// Rounding the words may take no more than a tenth of the tolerance, at the largest diameter.
    fn decimals(&mut self, tolerance: &Given<f64>, contact_at_mm: f64) {
        let decimals = self.machine.controller.decimals;
        let sources = &self.machine.sources;
        let from = sources.of("controller.decimals").or_else(|| tolerance.from.clone());
        let from = from.or_else(|| sources.of("rotary.units_per_turn"));
        let room_mm = tolerance.value / 10.0;
        let per_turn = units_per_turn(self.blank, self.machine, contact_at_mm);
        let mm_per_unit = TAU * self.blank.wall.largest_radius_mm() / per_turn;
        // The larger of what half a count is worth along the axis and around.
        let worth = mm_per_unit.max(1.0);
        let rounded_mm = |decimals: u32| 0.5 * worth * 10_f64.powi(-decimals.cast_signed());
        // A billionth more, so that 3 decimals are not refused for 0.005 mm by a last bit.
        if rounded_mm(decimals) <= room_mm * (1.0 + 1e-9) {
            return;
        }
        let (axis, where_) =
            if worth > 1.0 { ("the rotary", " at the largest diameter") } else { ("X", "") };
        let enough = (0..=stave_toolpath::number::MOST_DECIMALS)
            .find(|d| rounded_mm(*d) <= room_mm * (1.0 + 1e-9));
        let advice = match enough {
            Some(enough) => format!("at least {enough} are needed"),
            None => "no number of decimals is enough: allow a larger tolerance".to_owned(),
        };
        let message = format!(
            "`decimals` is {decimals}, which rounds {axis} by {} mm{where_}, more than a tenth of \
             the tolerance of {} mm: {advice}",
            plain(rounded_mm(decimals)),
            plain(tolerance.value)
        );
        self.fault(from, message);
    }
}

fn value_or<T>(given: Option<Given<T>>, default: T) -> T {
    given.map_or(default, |given| given.value)
}
