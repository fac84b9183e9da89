//! Settings that can be meant but hardly are, each with its likely cause.

mod sizes;
mod speeds;
mod stations;

use std::sync::Arc;

use stave_toolpath::number::fixed;

use crate::bounds::plain;
use crate::job::JobFile;
use crate::meeting::Meeting;
use crate::{
    Beam, Blank, Drive, Fault, Given, Lag, LengthUnit, Lens, Look, Machine, Origin, SPOT_GROWTH,
    Shading,
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
/// A chuck's face lies no farther from the ends of the wall than this, mm.
const FARTHEST_CHUCK_MM: f64 = 150.0;
/// Of what has no likelier cause.
const SLIP: &str = "a digit or a decimal point may be wrong";
/// Ware and burn of less contrast are hard to tell apart.
const LEAST_CONTRAST: f64 = 1.5;

/// In what a figure was typed: what is to be typed instead is in the same.
#[derive(Clone, Copy, Debug)]
struct Typed {
    unit: LengthUnit,
    /// Whether it may bear its unit: an option may, a file's number not.
    bears_unit: bool,
}

impl Typed {
    fn in_file(are_inches: bool) -> Self {
        let unit = if are_inches { LengthUnit::Inch } else { LengthUnit::Mm };
        Self { unit, bears_unit: false }
    }

    fn is_inches(self) -> bool {
        self.unit == LengthUnit::Inch
    }

    /// A length, speed or acceleration in mm as a number of its unit.
    fn number(self, mm: f64) -> f64 {
        let value = mm / self.unit.to_mm(1.0);
        (value * 1e6).round() / 1e6
    }

    /// The figure to be typed for a length, speed or acceleration.
    fn figure(self, mm: f64) -> String {
        let suffix = match (self.bears_unit, self.unit) {
            (false, _) => "",
            (true, LengthUnit::Mm) => "mm",
            (true, LengthUnit::Inch) => "in",
        };
        let number = self.number(mm);
        // Nobody types powers of ten.
        let text = if number.abs() < 1e-3 { fixed(number, 6) } else { plain(number) };
        format!("{text}{suffix}")
    }

    /// What it is in mm, and as it was typed where that is another number; `per` is what follows
    /// the unit.
    fn told(self, mm: f64, per: &str) -> String {
        match self.unit {
            LengthUnit::Mm => format!("{} mm{per}", plain(mm)),
            LengthUnit::Inch => {
                format!(
                    "{} mm{per} ({} in)",
                    plain((mm * 1e4).round() / 1e4),
                    plain(self.number(mm))
                )
            }
        }
    }
}

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
            let cause = match self.values.are_inches {
                true => "if its file is in mm, its `units` must be \"mm\"",
                false => SLIP,
            };
            let message = format!("{size}, larger than a rotary holds: {cause}");
            doubts.push(Fault::new(None, message));
        } else if widest_mm < THINNEST_WARE_MM {
            let cause = match self.values.are_inches {
                true => SLIP,
                false => "if its file is in inches, its `units` must be \"in\"",
            };
            doubts.push(Fault::new(None, format!("{size}, thinner than ware is: {cause}")));
        } else if widest_mm < SMALLEST_WARE_MM.0 && last - first < SMALLEST_WARE_MM.1 {
            let cause = match self.values.are_inches {
                true => SLIP,
                false => "if its file is in centimetres, write ten times as much",
            };
            doubts.push(Fault::new(None, format!("{size}, smaller than ware is: {cause}")));
        }
        let typed = Typed::in_file(self.values.are_inches);
        doubts.extend(stations::standing_out(&self.stations, typed));
        doubts.extend(sizes::of_blank(self, typed));
        doubts.extend(self.look.and_then(unseen));
        doubts
    }
}

impl Machine {
    /// What of it can be meant but hardly is, with the likely cause.
    #[must_use]
    pub fn doubts(&self) -> Vec<Fault> {
        let typed = Typed::in_file(self.values.are_inches);
        let mut doubts = speeds::of_axes(self, typed);
        let defaults = [
            ("area", self.area.map(|area| area.speed_mm_per_s)),
            ("line", self.line.map(|line| line.speed_mm_per_s)),
            ("picture", self.picture.as_ref().map(|picture| picture.speed_mm_per_s)),
        ];
        let coatings = self.coatings.iter();
        let coatings = coatings
            .map(|coating| (format!("coating \"{}\"", coating.name), Some(coating.speed_mm_per_s)));
        let defaults = defaults.into_iter().map(|(name, speed)| (format!("[{name}]"), speed));
        for (whose, speed) in defaults.chain(coatings) {
            doubts.extend(speeds::no_such_speed(&format!("`speed` of {whose}"), speed, typed));
        }
        doubts.extend(sizes::of_machine(self, typed));
        doubts.extend(late(&self.lag));
        if let Some(beam) = &self.beam {
            doubts.extend(self.lenses.iter().flat_map(|lens| off_formula(lens, beam, typed)));
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
            let typed = self.typed("tolerance", tolerance);
            let common_mm = if typed.is_inches() { 0.0004 * 25.4 } else { 0.01 };
            let message = format!(
                "`tolerance` is {}, by which a burn may miss its place: it is wider than a spot; \
                 {} is common",
                typed.told(tolerance.value, ""),
                typed.figure(common_mm)
            );
            Fault::new(tolerance.from.clone(), message)
        };
        let mut doubts: Vec<Fault> =
            self.tolerance_mm.as_ref().filter(coarse).map(doubt).into_iter().collect();
        let told = [
            ("set_diameter", &self.set_diameter_mm),
            ("reference_diameter", &self.reference_diameter_mm),
        ];
        doubts.extend(told.into_iter().filter_map(|(name, given)| {
            let given = given.as_ref()?;
            odd_size(name, given, self.typed(name, given))
        }));
        let typed = Typed::in_file(self.in_inches);
        for operation in &self.operations {
            let whose = format!("operation \"{}\"", operation.name);
            let speed = operation.speed_mm_per_s;
            doubts.extend(speeds::no_such_speed(&format!("`speed` of {whose}"), speed, typed));
            let spacing = operation.line_spacing_mm;
            doubts.extend(spacing.and_then(|mm| sizes::spacing(&whose, mm, typed)));
            let lengths = [
                ("fade", operation.fade_mm, sizes::FADE_MM),
                ("defocus", operation.defocus_mm, sizes::DEFOCUS_MM),
            ];
            for (key, mm, common) in lengths {
                let what = format!("`{key}` of {whose}");
                doubts.extend(sizes::unusual(&what, mm, common, typed));
            }
            doubts.extend(fractions(&operation.shading, &whose));
        }
        doubts
    }

    /// In what a length was typed.
    fn typed(&self, key: &str, given: &Given<f64>) -> Typed {
        let Some(Origin::Option { .. }) = given.from else {
            return Typed::in_file(self.in_inches);
        };
        let same = |option: &String| option.replace('-', "_") == key;
        let are_inches = self.inch_options.iter().any(same);
        Typed { bears_unit: true, ..Typed::in_file(are_inches) }
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
fn off_formula(lens: &Lens, beam: &Beam, typed: Typed) -> Vec<Fault> {
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
    let unit = if typed.is_inches() { "in" } else { "mm" };
    let told = |key: &str, (measured, given): (f64, f64), cause: &str| {
        let message = format!(
            "`{key}` of lens \"{}\" is {} {unit}, and its focal length and the [beam] give {}: \
             {cause}",
            lens.name,
            plain(typed.number(measured)),
            plain((typed.number(given) * 1e4).round() / 1e4)
        );
        Fault::new(None, message)
    };
    let other = "a unit or a decimal point may be wrong, or the [beam] is another's";
    let half = format!(
        "it is half of the depth, to either side, in {unit}; a decimal point may be wrong, or the \
         [beam] is another's"
    );
    let spot = spot.map(|pair| told("spot", pair, other));
    spot.into_iter().chain(depth.map(|pair| told("depth_of_focus", pair, &half))).collect()
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
fn odd_size(name: &str, given: &Given<f64>, typed: Typed) -> Option<Fault> {
    let across_mm = given.value;
    let is_ware = |mm: f64| (THINNEST_WARE_MM..=WIDEST_WARE_MM).contains(&mm);
    let how = if across_mm > WIDEST_WARE_MM {
        "larger than a rotary holds"
    } else if across_mm < THINNEST_WARE_MM {
        "thinner than ware is"
    } else {
        return None;
    };
    // The same number in the other unit.
    let number = typed.number(across_mm);
    let (other, unit) = match typed.unit {
        LengthUnit::Mm => (LengthUnit::Inch, "inches"),
        LengthUnit::Inch => (LengthUnit::Mm, "mm"),
    };
    let meant_mm = other.to_mm(number);
    let cause = if is_ware(meant_mm) {
        // An option may be given in any unit, a number of a file in the file's alone.
        let write = if typed.bears_unit { Typed { unit: other, ..typed } } else { typed };
        format!("if it is in {unit}, write {}", write.figure(meant_mm))
    } else {
        SLIP.to_owned()
    };
    let message = format!("`{name}` is {}, {how}: {cause}", typed.told(across_mm, ""));
    Some(Fault::new(given.from.clone(), message))
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

    /// A chuck that is far from the ware it holds: what stands up on it is looked for elsewhere.
    pub(crate) fn held(&mut self, held_at: &Given<f64>) {
        let (first, last) = self.blank.wall.at_range_mm();
        let off_mm = (first - held_at.value).max(held_at.value - last);
        if off_mm <= FARTHEST_CHUCK_MM {
            return;
        }
        let message = format!(
            "`held_at` is {} mm, and the wall of \"{}\" goes from {} to {} mm: no chuck holds ware \
             from so far; likely it is in another unit, or from another datum than the stations",
            plain(held_at.value),
            self.blank.name,
            plain(first),
            plain(last)
        );
        self.doubt(held_at.from.clone(), message);
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
