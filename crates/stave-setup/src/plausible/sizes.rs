//! Lengths, angles and spans that such a thing hardly has: a slip of unit, or a digit too many.
//!
//! What is common here is common practice, no source; it is drawn wide, for what lies in it is let
//! pass. No doubt is said of what any value may be meant for (`at`, `turn` of what is placed,
//! `oval_turn`, `runout_turn`, `place`, `zero`, `anchor`: what lies off the wall is an error), of
//! what is refused or told elsewhere when it is off (`steepest`, `steps_per_turn`, `steps_per_mm`,
//! `scale`, `contact_at`, `focus_at`, the lines and bytes a second), of what the bounds of its key
//! hold already (`wavelength_um`, `m2`), and of `units_per_turn` and the ends of the rotary, which
//! are the controller's own.

use super::{SLIP, Typed};
use crate::bounds::plain;
use crate::{
    AxisLimits, Beam, Blank, Carriage, Drive, Facet, Fault, LengthUnit, Lens, Machine, Nozzle,
    Obstacle, ObstacleShape, RotaryWord, Zone,
};

/// How far a controller rounds corners, mm.
const CORNER_MM: (f64, f64) = (0.0, 0.5);
/// How far a rotary is tilted, degrees.
const MOST_TILT_DEG: f64 = 45.0;
/// How long a straight axis is, mm.
const TRAVEL_MM: (f64, f64) = (10.0, 5000.0);
/// The rotary's axis above the bed, and between its feet, mm.
const AXIS_HEIGHT_MM: (f64, f64) = (15.0, 600.0);
const SUPPORT_SPAN_MM: (f64, f64) = (30.0, 1500.0);
/// More play than this, turns, is a broken drive: three times what a swatch tries.
const MOST_PLAY_TURNS: f64 = 1.0 / 120.0;
/// The same for a roller, mm of surface.
const MOST_PLAY_MM: f64 = 2.0;
/// The beam where it meets the lens, a focal length, a spot and half a depth of focus, mm.
const BEAM_MM: (f64, f64) = (0.8, 50.0);
const FOCAL_MM: (f64, f64) = (10.0, 600.0);
const SPOT_MM: (f64, f64) = (0.01, 1.0);
const HALF_DEPTH_MM: (f64, f64) = (0.05, 50.0);
/// A nozzle's tip and how far it stands off, mm.
const NOZZLE_MM: (f64, f64) = (1.0, 100.0);
const GAP_MM: (f64, f64) = (0.5, 60.0);
/// Where a nozzle has another radius, and where the carriage begins, mm above the tip.
const ABOVE_MM: (f64, f64) = (1.0, 400.0);
/// How wide a carriage is, mm.
const CARRIAGE_MM: (f64, f64) = (10.0, 600.0);
/// What turns beside the work, mm from its axis, and how far off it anything of a rotary is.
const OBSTACLE_MM: (f64, f64) = (2.0, 400.0);
/// Between scan lines, mm.
const SPACING_MM: (f64, f64) = (0.01, 1.5);
/// How far a handle stands out, mm.
const RISE_MM: (f64, f64) = (0.0, 100.0);
/// Wall kept clear around a zone, mm.
const MARGIN_MM: (f64, f64) = (0.0, 30.0);
/// Nothing on ware that must not be burned is narrower, mm.
const NARROWEST_ZONE_MM: f64 = 0.5;
/// Of the wall's largest radius: from the axis to a flat place.
const FACET_OF_RADIUS: (f64, f64) = (0.25, 1.3);
/// How far a seam fades, and how far out of focus is meant, mm.
pub(super) const FADE_MM: (f64, f64) = (0.0, 25.0);
pub(super) const DEFOCUS_MM: (f64, f64) = (-25.0, 25.0);

/// A length that is not within what is common; `what` names its key and whose it is.
pub(super) fn unusual(what: &str, mm: f64, common: (f64, f64), typed: Typed) -> Option<Fault> {
    let is_common = |mm: f64| (common.0..=common.1).contains(&mm);
    if is_common(mm) {
        return None;
    }
    // Limits that are drawn wide need no more than two figures.
    let rough = |mm: f64| {
        let number = typed.number(mm);
        let least = 10_f64.powf(number.abs().log10().floor() - 1.0);
        plain((number / least).round() * least)
    };
    let unit = if typed.is_inches() { "in" } else { "mm" };
    let range = match common {
        (low, high) if low < 0.0 => {
            format!("{} {unit} either way is the most that is common", rough(high))
        }
        (0.0, high) => format!("{} {unit} is the most that is common", rough(high)),
        (low, high) => format!("{} to {} {unit} is common", rough(low), rough(high)),
    };
    let message =
        format!("{what} is {}, and {range}: {}", typed.told(mm, ""), cause(mm, is_common, typed));
    Some(Fault::new(None, message))
}

/// What a length was likely meant for, of all slips that would make it common.
fn cause(mm: f64, is_common: impl Fn(f64) -> bool, typed: Typed) -> String {
    let inch_mm = LengthUnit::Inch.to_mm(1.0);
    let slips: &[(f64, &str)] = match typed.unit {
        LengthUnit::Mm => &[
            (inch_mm, "if it is in inches, write"),
            (10.0, "if it is in centimetres, write"),
            (0.1, "if its decimal point is missing, write"),
        ],
        LengthUnit::Inch => &[
            (1.0 / inch_mm, "if it is in mm, write"),
            (10.0, "if its decimal point is wrong, write"),
            (0.1, "if its decimal point is missing, write"),
        ],
    };
    let meant = slips.iter().filter(|(times, _)| is_common(mm * times));
    let said: Vec<String> =
        meant.map(|(times, says)| format!("{says} {}", typed.figure(mm * times))).collect();
    if said.is_empty() { SLIP.to_owned() } else { said.join("; ") }
}

/// What of a machine's lengths and angles can hardly be meant.
pub(super) fn of_machine(machine: &Machine, typed: Typed) -> Vec<Fault> {
    let controller = &machine.controller;
    let tolerance = controller.corner_tolerance;
    let mut doubts: Vec<Fault> =
        unusual("`corner_tolerance`", tolerance, CORNER_MM, typed).into_iter().collect();
    doubts.extend(tilts_far(controller.most_tilt_rad.to_degrees()));
    let z = machine.z.as_ref().map(|z| &z.limits);
    let y = (machine.rotary.word != RotaryWord::Y).then_some(&machine.y);
    let axes = [("x", Some(&machine.x)), ("y", y), ("z", z)];
    doubts.extend(axes.into_iter().filter_map(|(name, axis)| travel(name, axis?, typed)));
    let rotary = &machine.rotary;
    let lengths = [
        ("`axis_height` of [rotary]", rotary.axis_height_mm, AXIS_HEIGHT_MM),
        ("`support_span` of [rotary]", rotary.support_span_mm, SUPPORT_SPAN_MM),
    ];
    doubts.extend(
        lengths.into_iter().filter_map(|(what, mm, usual)| unusual(what, mm?, usual, typed)),
    );
    doubts.extend(plays_far(machine));
    doubts.extend(machine.obstacles.iter().flat_map(|obstacle| of_obstacle(obstacle, typed)));
    let beam = machine.beam.as_ref();
    doubts.extend(beam.and_then(|beam| {
        unusual("`diameter_at_lens` of [beam]", beam.diameter_at_lens_mm, BEAM_MM, typed)
    }));
    doubts.extend(machine.lenses.iter().flat_map(|lens| of_lens(lens, beam, typed)));
    doubts.extend(machine.nozzles.iter().flat_map(|nozzle| of_nozzle(nozzle, typed)));
    doubts.extend(machine.carriage.iter().flat_map(|carriage| of_carriage(carriage, typed)));
    let area = machine.area.map(|area| ("[area]".to_owned(), area.line_spacing_mm));
    let picture = machine.picture.as_ref();
    let picture = picture.map(|picture| ("[picture]".to_owned(), picture.line_spacing_mm));
    let coatings = machine.coatings.iter().filter_map(|coating| {
        Some((format!("coating \"{}\"", coating.name), coating.line_spacing_mm?))
    });
    let spacings = area.into_iter().chain(picture).chain(coatings);
    doubts.extend(spacings.filter_map(|(whose, mm)| spacing(&whose, mm, typed)));
    doubts
}

/// Scan lines that lie farther apart than a spot is wide, or closer than any motor steps.
pub(super) fn spacing(whose: &str, mm: f64, typed: Typed) -> Option<Fault> {
    unusual(&format!("`line_spacing` of {whose}"), mm, SPACING_MM, typed)
}

fn tilts_far(most_deg: f64) -> Option<Fault> {
    (most_deg > MOST_TILT_DEG).then(|| {
        let message = format!(
            "`most_tilt` is {} degrees, and no rotary is tilted past {}: {SLIP}; where it cannot \
             be tilted write 0",
            plain(most_deg),
            plain(MOST_TILT_DEG)
        );
        Fault::new(None, message)
    })
}

/// How far an axis goes, where its file tells both ends.
fn travel(axis: &str, limits: &AxisLimits, typed: Typed) -> Option<Fault> {
    let travel_mm = limits.max? - limits.min?;
    unusual(&format!("from `min` to `max` of [{axis}]"), travel_mm, TRAVEL_MM, typed)
}

/// More play than a drive has, in units of its word.
fn plays_far(machine: &Machine) -> Option<Fault> {
    let rotary = &machine.rotary;
    let (most, what) = match rotary.drive {
        Drive::Chuck => (MOST_PLAY_TURNS * rotary.units_per_turn, "1/120 of a turn"),
        Drive::Roller => (MOST_PLAY_MM * rotary.scale, "2 mm of surface"),
    };
    (rotary.backlash > most).then(|| {
        let message = format!(
            "`backlash` of [rotary] is {} units of its word, and {} ({what}) is more than a drive \
             has: {SLIP}; `swatch --turn` shows what it is",
            plain(rotary.backlash),
            plain((most * 1e4).round() / 1e4)
        );
        Fault::new(None, message)
    })
}

fn of_obstacle(obstacle: &Obstacle, typed: Typed) -> Vec<Fault> {
    let far = (-OBSTACLE_MM.1, OBSTACLE_MM.1);
    let farther = |(from, to): (f64, f64)| if from.abs() > to.abs() { from } else { to };
    let lengths = match obstacle.shape {
        ObstacleShape::Turning { radius_mm, .. } => vec![("radius", radius_mm, OBSTACLE_MM)],
        ObstacleShape::Still { across_mm, height_mm } => {
            vec![("across", farther(across_mm), far), ("height", height_mm, far)]
        }
    };
    let whose = |key: &str| format!("`{key}` of obstacle \"{}\"", obstacle.name);
    let all = lengths.into_iter();
    all.filter_map(|(key, mm, common)| unusual(&whose(key), mm, common, typed)).collect()
}

fn of_lens(lens: &Lens, beam: Option<&Beam>, typed: Typed) -> Vec<Fault> {
    // Where the beam is known the formula tells more closely what they are.
    let measured = |mm: Option<f64>| mm.filter(|_| beam.is_none());
    let lengths = [
        ("focal_length", Some(lens.focal_length_mm), FOCAL_MM),
        ("spot", measured(lens.spot_mm), SPOT_MM),
        ("depth_of_focus", measured(lens.depth_of_focus_mm), HALF_DEPTH_MM),
    ];
    let whose = |key: &str| format!("`{key}` of lens \"{}\"", lens.name);
    let all = lengths.into_iter();
    all.filter_map(|(key, mm, common)| unusual(&whose(key), mm?, common, typed)).collect()
}

fn of_nozzle(nozzle: &Nozzle, typed: Typed) -> Vec<Fault> {
    let radius = ("radius", nozzle.radius_mm, NOZZLE_MM);
    // None at all is said of a head whose gap is not known.
    let gap = Some(("gap", nozzle.gap_mm, GAP_MM)).filter(|(_, mm, _)| *mm > 0.0);
    let steps = nozzle.steps_mm.iter();
    let steps = steps
        .flat_map(|(above, radius)| [("step", *above, ABOVE_MM), ("step", *radius, NOZZLE_MM)]);
    let whose = |key: &str| format!("`{key}` of nozzle \"{}\"", nozzle.name);
    let all = [radius].into_iter().chain(gap).chain(steps);
    all.filter_map(|(key, mm, common)| unusual(&whose(key), mm, common, typed)).collect()
}

fn of_carriage(carriage: &Carriage, typed: Typed) -> Vec<Fault> {
    let wide = |(from, to): (f64, f64)| to - from;
    let lengths = [
        ("the width by `x` of [carriage]", wide(carriage.x_mm), CARRIAGE_MM),
        ("the width by `y` of [carriage]", wide(carriage.y_mm), CARRIAGE_MM),
        ("`above` of [carriage]", carriage.above_mm, (0.0, ABOVE_MM.1)),
    ];
    let all = lengths.into_iter();
    all.filter_map(|(what, mm, common)| unusual(what, mm, common, typed)).collect()
}

/// What of a blank's zones and flat places can hardly be meant.
pub(super) fn of_blank(blank: &Blank, typed: Typed) -> Vec<Fault> {
    let mut doubts: Vec<Fault> =
        blank.zones.iter().flat_map(|zone| of_zone(zone, blank, typed)).collect();
    let radius_mm = blank.wall.largest_radius_mm();
    doubts.extend(blank.facets.iter().filter_map(|facet| of_facet(facet, radius_mm, typed)));
    doubts
}

fn of_zone(zone: &Zone, blank: &Blank, typed: Typed) -> Vec<Fault> {
    let whose = |key: &str| format!("`{key}` of zone \"{}\"", zone.name);
    let rise = unusual(&whose("rise"), zone.rise_mm, RISE_MM, typed);
    let margin = zone.margin_mm.and_then(|mm| unusual(&whose("margin"), mm, MARGIN_MM, typed));
    let (along_mm, around_rad) = (zone.at_mm.1 - zone.at_mm.0, zone.turn_rad.1 - zone.turn_rad.0);
    let around_mm = around_rad * blank.wall.largest_radius_mm();
    let narrow = if along_mm < NARROWEST_ZONE_MM {
        Some(("at", along_mm, "if they are in another unit than the stations, write them in that"))
    } else if around_mm < NARROWEST_ZONE_MM {
        // Turns in radians lie within a turn, and make a zone 57 times too narrow.
        Some(("turn", around_mm, "if they are in radians, write degrees"))
    } else {
        None
    };
    let narrow = narrow.map(|(key, mm, cause)| {
        let message = format!(
            "the ends in {} lie {} apart on the wall, narrower than anything to keep clear of: \
             {cause}",
            whose(key),
            typed.told((mm * 100.0).round() / 100.0, "")
        );
        Fault::new(None, message)
    });
    rise.into_iter().chain(margin).chain(narrow).collect()
}

/// A plane that lies far within the ware or beyond it.
fn of_facet(facet: &Facet, radius_mm: f64, typed: Typed) -> Option<Fault> {
    let common = (FACET_OF_RADIUS.0 * radius_mm, FACET_OF_RADIUS.1 * radius_mm);
    let is_common = |mm: f64| (common.0..=common.1).contains(&mm);
    let height_mm = facet.height_mm;
    if is_common(height_mm) {
        return None;
    }
    let cause = if is_common(height_mm / 2.0) {
        format!("if it is across the ware, write half, {}", typed.figure(height_mm / 2.0))
    } else {
        cause(height_mm, is_common, typed)
    };
    let message = format!(
        "`height` of flat place \"{}\" is {} from the axis, and the wall lies {} from it at the \
         most: {cause}",
        facet.name,
        typed.told(height_mm, ""),
        typed.told((radius_mm * 100.0).round() / 100.0, "")
    );
    Some(Fault::new(None, message))
}
