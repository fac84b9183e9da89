//! Settings that can be meant but hardly are, each with its likely cause.

use std::sync::Arc;

use stave_toolpath::number::fixed;

use crate::bounds::plain;
use crate::job::JobFile;
use crate::meeting::Meeting;
use crate::{
    AxisLimits, Beam, Blank, Drive, Fault, Given, Lag, Lens, Look, Machine, Origin, RotaryWord,
    SPOT_GROWTH, Shading,
};

/// Ware wider than this, mm, is more likely in another unit. This and what follows are common
/// practice, no source.
const WIDEST_WARE_MM: f64 = 600.0;
/// And ware longer than this, mm.
const LONGEST_WARE_MM: f64 = 1500.0;
/// Ware thinner than this, mm, is more likely in another unit.
const THINNEST_WARE_MM: f64 = 5.0;
/// Ware both thinner and shorter than this, mm, is more likely in centimetres.
const SMALLEST_WARE_MM: (f64, f64) = (15.0, 25.0);
/// Light that comes later than this, s, or earlier, is more likely a slip: a swatch tries up to a
/// third of it.
const LATEST_S: f64 = 0.005;
/// A lens that is measured so many times off what its formula gives is more likely misread.
const OFF_FORMULA: f64 = 5.0;
/// Percents that are all no more than this are more likely fractions.
const LARGEST_FRACTION: f64 = 1.0;
/// A tolerance above this, mm, is wider than a spot.
const COARSEST_MM: f64 = 0.2;
/// On a steeper taper than this the work walks off a roller: common practice, no source.
const STEEPEST_ON_ROLLERS_DEG: f64 = 0.5;
/// A straight axis faster than this, mm/s, is more likely given per minute.
const FASTEST_MM_PER_S: f64 = 3000.0;
/// A rotary faster than this, turns/s, is more likely given per minute.
const FASTEST_TURNS_PER_S: f64 = 30.0;
/// Ware and burn of less contrast are hard to tell apart.
const LEAST_CONTRAST: f64 = 1.5;
/// An axis takes no longer, s, to come to its speed, nor to its acceleration.
const LONGEST_START_S: f64 = 20.0;

impl Blank {
    /// What of it can be meant but hardly is, with the likely cause.
    #[must_use]
    pub fn doubts(&self) -> Vec<Fault> {
        // A zone that lies off the wall.
        let mut doubts = self.warnings().to_vec();
        let (first, last) = self.wall.at_range_mm();
        let widest_mm = 2.0 * self.wall.largest_radius_mm();
        let size = format!(
            "the wall of \"{}\" is {} mm long and up to {} mm across",
            self.name,
            plain((last - first).round()),
            plain(widest_mm.round())
        );
        if widest_mm > WIDEST_WARE_MM || last - first > LONGEST_WARE_MM {
            let cause = "if its file is in mm, its `units` must be \"mm\"";
            let message = format!("{size}, larger than a rotary holds: {cause}");
            doubts.push(Fault::new(None, message));
        } else if widest_mm < THINNEST_WARE_MM {
            let cause = "if its file is in inches, its `units` must be \"in\"";
            doubts.push(Fault::new(None, format!("{size}, thinner than ware is: {cause}")));
        } else if widest_mm < SMALLEST_WARE_MM.0 && last - first < SMALLEST_WARE_MM.1 {
            let cause = "if its file is in centimetres, write ten times as much";
            doubts.push(Fault::new(None, format!("{size}, smaller than ware is: {cause}")));
        }
        doubts.extend(self.look.and_then(unseen));
        doubts
    }
}

impl Machine {
    /// What of it can be meant but hardly is, with the likely cause.
    #[must_use]
    pub fn doubts(&self) -> Vec<Fault> {
        // Where the rotary is driven as Y, the machine's Y is the rotary.
        let y = (self.rotary.word != RotaryWord::Y).then_some(&self.y);
        let z = self.z.as_ref().map(|z| &z.limits);
        let straight = [("x", Some(&self.x)), ("y", y), ("z", z)]
            .into_iter()
            .filter_map(|(name, limits)| Some((name, limits?)));
        let mut doubts = Vec::new();
        for (name, limits) in straight.clone() {
            if limits.speed > FASTEST_MM_PER_S {
                doubts.push(per_minute(name, limits.speed, "mm"));
            }
        }
        let fastest = FASTEST_TURNS_PER_S * self.rotary.units_per_turn;
        if self.rotary.drive == Drive::Chuck && self.rotary.limits.speed > fastest {
            doubts.push(per_minute("rotary", self.rotary.limits.speed, "units"));
        }
        let metres = ("metres", 1000.0);
        doubts.extend(straight.filter_map(|(name, limits)| slow(name, limits, metres)));
        let turns = ("turns", self.rotary.units_per_turn);
        doubts.extend(slow("rotary", &self.rotary.limits, turns));
        let defaults = [
            ("area", self.area.map(|area| area.speed_mm_per_s)),
            ("line", self.line.map(|line| line.speed_mm_per_s)),
            ("picture", self.picture.as_ref().map(|picture| picture.speed_mm_per_s)),
        ];
        for (name, speed) in defaults {
            doubts.extend(too_fast(&format!("`speed` of [{name}]"), speed));
        }
        doubts.extend(late(&self.lag));
        if let Some(beam) = &self.beam {
            doubts.extend(self.lenses.iter().flat_map(|lens| off_formula(lens, beam)));
        }
        let shading = self.picture.as_ref().map(|picture| &picture.shading);
        doubts.extend(shading.into_iter().flat_map(|shading| fractions(shading, "[picture]")));
        doubts
    }
}

impl JobFile {
    /// What of it can be meant but hardly is, with the likely cause.
    #[must_use]
    pub fn doubts(&self) -> Vec<Fault> {
        let coarse = |tolerance: &&Given<f64>| tolerance.value > COARSEST_MM;
        let doubt = |tolerance: &Given<f64>| {
            let message = format!(
                "`tolerance` is {} mm, by which a burn may miss its place: it is wider than a \
                 spot; 0.01 is common",
                plain(tolerance.value)
            );
            Fault::new(tolerance.from.clone(), message)
        };
        let mut doubts: Vec<Fault> =
            self.tolerance_mm.as_ref().filter(coarse).map(doubt).into_iter().collect();
        let told = [
            ("set_diameter", &self.set_diameter_mm),
            ("reference_diameter", &self.reference_diameter_mm),
        ];
        doubts.extend(told.into_iter().filter_map(|(name, given)| odd_size(name, given.as_ref()?)));
        for operation in &self.operations {
            let what = format!("`speed` of operation \"{}\"", operation.name);
            doubts.extend(too_fast(&what, operation.speed_mm_per_s));
            let whose = format!("operation \"{}\"", operation.name);
            doubts.extend(fractions(&operation.shading, &whose));
        }
        doubts
    }
}

/// A lag that no laser has.
fn late(lag: &Lag) -> Option<Fault> {
    let most_s =
        lag.pairs.iter().map(|pair| pair.1).reduce(|a, b| if b.abs() > a.abs() { b } else { a });
    let most_s = most_s.filter(|lag_s| lag_s.abs() > LATEST_S)?;
    let message = format!(
        "`lag` of [beam] is {} s, and what `swatch --lag` tries goes to 0.0015: if it is in \
         milliseconds, write {}; else look at its zeros",
        plain(most_s),
        fixed(most_s / 1000.0, 8)
    );
    Some(Fault::new(None, message))
}

/// What was measured of a lens and lies far off what the formula gives.
fn off_formula(lens: &Lens, beam: &Beam) -> Vec<Fault> {
    let ideal = Lens { spot_mm: None, depth_of_focus_mm: None, ..lens.clone() };
    let of_spot = Lens { depth_of_focus_mm: None, ..lens.clone() };
    // The depth of focus goes with the square of the spot, that of the formula or as measured: what
    // is near to either is no slip.
    let off = |measured: Option<f64>, given: [Option<f64>; 2]| {
        let (measured, given) = (measured?, given.into_iter().flatten());
        let times = |given: f64| f64::max(measured / given, given / measured);
        let near = given.reduce(|a, b| if times(b) < times(a) { b } else { a })?;
        (times(near) > OFF_FORMULA).then_some((measured, near))
    };
    let spot = off(lens.spot_mm, [ideal.spot_in_focus_mm(Some(beam)), None]);
    let depths = [ideal, of_spot].map(|one| one.half_depth_of_focus_mm(Some(beam), SPOT_GROWTH));
    let depth = off(lens.depth_of_focus_mm, depths);
    let told = |key: &str, (measured, given): (f64, f64), cause: &str| {
        let message = format!(
            "`{key}` of lens \"{}\" is {} mm, and its focal length and the [beam] give {}: {cause}",
            lens.name,
            plain(measured),
            plain((given * 1e4).round() / 1e4)
        );
        Fault::new(None, message)
    };
    let unit = "a unit or a decimal point may be wrong, or the [beam] is another's";
    let half = "it is half of the depth, to either side, in mm; a decimal point may be wrong, or \
                the [beam] is another's";
    let spot = spot.map(|pair| told("spot", pair, unit));
    spot.into_iter().chain(depth.map(|pair| told("depth_of_focus", pair, half))).collect()
}

/// Percents of greys that are typed as fractions.
fn fractions(shading: &Shading, whose: &str) -> Vec<Fault> {
    let mut doubts = Vec::new();
    let most = shading.tone_curve.last().map(|pair| pair.0);
    if let Some(most) = most.filter(|power| *power <= LARGEST_FRACTION) {
        let message = format!(
            "the powers in `tone_curve` of {whose} go to {} % alone: if they are fractions, write \
             percent, such as {}",
            plain(most),
            fixed(100.0 * most, 4)
        );
        doubts.push(Fault::new(None, message));
    }
    let threshold = shading.threshold_percent;
    if shading.has_threshold && threshold <= LARGEST_FRACTION {
        let message = format!(
            "`threshold` of {whose} is {} %, and nearly all that is not white burns: if it is a \
             fraction, write {}",
            plain(threshold),
            fixed(100.0 * threshold, 4)
        );
        doubts.push(Fault::new(None, message));
    }
    doubts
}

/// Colours of ware and burn that are hard to tell apart: the customer's picture shows no art.
fn unseen(look: Look) -> Option<Fault> {
    let Look { ware, burn, .. } = look;
    let contrast = ware.contrast(burn);
    (contrast < LEAST_CONTRAST).then(|| {
        let message = format!(
            "[look] has `ware` {ware} and `burn` {burn}, a contrast of {} to 1: the art is hardly \
             seen on the customer's picture; give two colours that differ more",
            plain((contrast * 10.0).floor() / 10.0)
        );
        Fault::new(None, message)
    })
}

/// A diameter that is told and that no ware has.
fn odd_size(name: &str, given: &Given<f64>) -> Option<Fault> {
    let across_mm = given.value;
    let (how, cause) = if across_mm > WIDEST_WARE_MM {
        ("larger than a rotary holds", ("mm", across_mm / 25.4))
    } else if across_mm < THINNEST_WARE_MM {
        ("thinner than ware is", ("in", across_mm))
    } else {
        return None;
    };
    let (unit, value) = cause;
    let message = format!(
        "`{name}` is {} mm, {how}: if it is in {}, write {}{unit}",
        plain(across_mm),
        if unit == "in" { "inches" } else { "mm" },
        plain((value * 1e4).round() / 1e4)
    );
    Some(Fault::new(given.from.clone(), message))
}

/// A speed on the wall that no straight axis has.
fn too_fast(what: &str, speed_mm_per_s: Option<f64>) -> Option<Fault> {
    let speed = speed_mm_per_s.filter(|speed| *speed > FASTEST_MM_PER_S)?;
    let message = format!(
        "{what} is {} mm a second, faster than an axis burns: if it is per minute, write {}",
        plain(speed),
        plain(speed / 60.0)
    );
    Some(Fault::new(None, message))
}

/// An axis that takes far too long to come to its speed, or to its acceleration; `other` is what it
/// may be given in instead, and how much of its own that is.
fn slow(axis: &str, limits: &AxisLimits, other: (&str, f64)) -> Option<Fault> {
    let AxisLimits { speed, acceleration, jerk, .. } = *limits;
    let message = if speed > LONGEST_START_S * acceleration {
        format!(
            "`acceleration` of [{axis}] is {}, by which it takes {} s to come to its `speed` of \
             {}: if it is in {}, write {}",
            plain(acceleration),
            plain((speed / acceleration).round()),
            plain(speed),
            other.0,
            plain(other.1 * acceleration)
        )
    } else {
        let jerk = jerk.filter(|jerk| acceleration > LONGEST_START_S * jerk)?;
        format!(
            "`jerk` of [{axis}] is {} a second cubed, by which it takes {} s to come to its \
             `acceleration` of {}: leave it out where the controller has none",
            plain(jerk),
            plain((acceleration / jerk).round()),
            plain(acceleration)
        )
    };
    Some(Fault::new(None, message))
}

fn per_minute(axis: &str, speed: f64, unit: &str) -> Fault {
    let message = format!(
        "`speed` of [{axis}] is {} {unit} a second, faster than such an axis is: if it is per \
         minute, write {}",
        plain(speed),
        plain(speed / 60.0)
    );
    Fault::new(None, message)
}

/// Whether a length, or a point, is typed without a unit and not nothing, so that it matters which.
pub(crate) fn is_bare_length(text: &str) -> bool {
    let number = |part: &str| part.trim().parse::<f64>().ok();
    text.split(',').any(|part| number(part).is_some_and(|length| length != 0.0))
}

/// That an option gives a length in no unit, which is mm then, beside files that are in inches;
/// `None` where it names its unit, is nothing, or not both files are in inches.
///
/// ```
/// let blank = "units = \"in\"\n[[station]]\nat = 0\ndiameter = 3\n[[station]]\nat = 4\ndiameter = 3";
/// let machine = "units = \"in\"\n[x]\nspeed = 20\nacceleration = 200\n[y]\nspeed = 20\nacceleration = 200\n\
///     [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000";
/// let blank = stave_setup::read_blank(blank, "cup.toml")?;
/// let machine = stave_setup::read_machine(machine, "bench.toml")?;
/// let doubt = |typed| stave_setup::bare_length("place-at", typed, &blank, &machine);
/// assert!(doubt("4").is_some() && doubt("4in").is_none() && doubt("0").is_none());
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn bare_length(option: &str, typed: &str, blank: &Blank, machine: &Machine) -> Option<Fault> {
    let beside_inches = blank.values.are_inches && machine.values.are_inches;
    let typed = typed.trim();
    (beside_inches && is_bare_length(typed)).then(|| {
        let message = format!(
            "{typed} is given without a unit, so that it is {typed} mm, and the blank and the \
             machine are in inches: write it with its unit, such as 1.5in or 38mm"
        );
        Fault::new(Some(Origin::Option { name: Arc::from(option) }), message)
    })
}

impl Meeting<'_> {
    /// A job that leaves out its unit, which is mm then, beside files that are in inches.
    pub(crate) fn units(&mut self, bare_lengths_of: Option<&str>) {
        let Some(job) = bare_lengths_of else { return };
        if self.blank.values.are_inches && self.machine.values.are_inches {
            self.doubt(
                None,
                format!(
                    "{job} has no `units`, so that its lengths and speeds are in mm, and the \
                     blank and the machine are in inches: write `units = \"in\"` or `units = \
                     \"mm\"` in it"
                ),
            );
        }
    }

    /// A roller under a taper: the work walks off along its axis, and the surface slips.
    pub(crate) fn roller(&mut self, contact_at_mm: f64) {
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
}
