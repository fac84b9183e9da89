//! Blank, machine and job while they are checked against each other, and the job's defaults.

use std::f64::consts::TAU;

use stave_wall::LayKind;

use crate::bounds::{Bounds, plain};
use crate::job::{ArtPlace, Job, JobFile, Zero};
use crate::job_option::{DIAMETER, MOST_TURN_DEG, TOLERANCE};
use crate::list::listed_names;
use crate::nearest::nearest;
use crate::setup::units_per_turn;
use crate::{
    AirLevel, Blank, Coating, Drive, Facet, Fault, FocusMode, Given, Machine, Operation,
    OperationRule, Origin, PlaceOf, RotaryWord, Stands, Toward, Work, ZoneRule,
};

/// The tolerance where the job names none, mm on the wall (DESIGN "Tolerance").
const DEFAULT_TOLERANCE_MM: f64 = 0.01;

const TURN_RAD: Bounds = Bounds::closed(-MOST_TURN_DEG * TAU / 360.0, MOST_TURN_DEG * TAU / 360.0);

/// The three files while they are checked against each other.
pub(crate) struct Meeting<'a> {
    pub(crate) blank: &'a Blank,
    pub(crate) machine: &'a Machine,
    /// The flat place that `blank` is the plane of.
    pub(crate) facet: Option<&'a Facet>,
    /// Where the ware is held unless the job says, mm along the axis.
    pub(crate) held_at_mm: f64,
    pub(crate) faults: Vec<Fault>,
    pub(crate) warnings: Vec<Fault>,
    pub(crate) doubts: Vec<Fault>,
}

impl Meeting<'_> {
    pub(crate) fn job(&mut self, job: JobFile) -> Job {
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
        if let Some(held_at) = job.held_at_mm.as_ref().filter(|_| self.facet.is_none()) {
            self.held(held_at);
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
        let place = ArtPlace {
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
            focus_turn_rad: None,
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
    pub(crate) fn facet(&mut self, job: &JobFile) -> Option<Facet> {
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
                "the rotary of \"{}\" takes the place of Y, so that nothing moves the head across \
                 a flat place: plug the head's axis in again, and take a machine file that says so",
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

    fn fault(&mut self, from: Option<Origin>, message: String) {
        self.faults.push(Fault::new(from, message));
    }

    fn warn(&mut self, from: Option<Origin>, message: String) {
        self.warnings.push(Fault::new(from, message));
    }

    pub(crate) fn doubt(&mut self, from: Option<Origin>, message: String) {
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
