//! The figures beside the picture, and how the ware lies.

use std::f64::consts::TAU;

use stave_check::{FocusPlace, JoinedStretches, Verdict};
use stave_picture::proof::{BurnMap, EnergyUnit, Figure, Lies, SetUpShown};
use stave_rig::{FocusAt, Header, MadeFor, SetUp};
use stave_setup::{Drive, FocusMode, LengthUnit, Setup, Stands, Toward};
use stave_toolpath::clock;
use stave_toolpath::number::fixed;
use stave_toolpath::xml::isolated;
use stave_wall::Crest;

use super::JustWrapped;
use super::gather::Burned;
use crate::estimate::Estimate;
use crate::set_up::rollers_touch;
use crate::shapes;

/// Of more set-ups than so many the rest are counted: the sheet has so much room.
const MOST_SET_UPS: usize = 6;
/// The table has room for so many letters of a zone's name.
const MOST_LETTERS: usize = 21;

/// What the table tells of.
pub(super) struct Told<'a> {
    pub(super) estimate: &'a Estimate,
    pub(super) map: &'a BurnMap,
    pub(super) burned: &'a Burned,
    pub(super) lies: &'a Lies,
    /// Where rollers touch, as the program says.
    pub(super) contact_at_mm: Option<f64>,
    /// The set-ups that it says it is burned in.
    pub(super) set_ups: &'a [SetUp],
    /// The unit that energies are told in.
    pub(super) energy: EnergyUnit,
    /// Whether it is a walk, whose pointer may be seen out of focus too.
    pub(super) is_walk: bool,
}

/// How the ware lies under the beam, from what the program was made for and what it burns.
pub(super) fn lies(setup: &Setup, made_for: &MadeFor, verdict: &Verdict, found: &Burned) -> Lies {
    let wall = &setup.blank.wall;
    let lens = setup.job.lens.as_ref();
    let nozzle = setup.job.nozzle.as_ref();
    let fitted = verdict.nozzles.iter().find(|gap| gap.fitted).and_then(|gap| gap.least);
    let (from, to) = found.stretches.ends().unwrap_or((0.0, wall.length_mm()));
    Lies {
        tilt_rad: made_for.tilt_rad,
        focus_height_mm: (made_for.focus == FocusMode::Fixed).then_some(verdict.focus.height_mm),
        half_depth_mm: lens.and_then(|lens| {
            lens.half_depth_of_focus_mm(setup.machine.beam.as_ref(), stave_setup::SPOT_GROWTH)
        }),
        nozzle_mm: nozzle.map(|nozzle| (nozzle.radius_mm, nozzle.gap_mm)),
        head: shapes::head(nozzle, &setup.machine, made_for.toward),
        // Over a flat place the ware that is held is not drawn.
        beside: match &setup.facet {
            Some(_) => Vec::new(),
            None => {
                let held_at_mm = made_for.held_at_mm.unwrap_or(setup.job.held_at_mm);
                shapes::beside(&setup.blank, &setup.machine, held_at_mm)
            }
        },
        nozzle_s_mm: fitted.map_or(0.5 * (from + to), |least| wall.s_of_at(least.at_mm)),
        burned_s_mm: found.stretches.ends(),
        walked_s_mm: found.walked.filter(|_| found.stretches.ends().is_none()).map(|way| way.0),
        stretches_s_mm: found.stretches.all().to_vec(),
        burned_turn_rad: found.turn_rad,
        burned_around_mm: found.around_mm,
        mirrored: made_for.toward == Toward::XMinus,
        set_up: None,
    }
}

/// The same of a program in several set-ups: as it lies in each that burns, the nozzle where that
/// is focused; of one that has none, as it is.
pub(super) fn in_set_ups(
    lies: &Lies,
    setup: &Setup,
    set_ups: &[SetUp],
    burned: &[JoinedStretches],
) -> (Lies, Vec<Lies>) {
    let all = set_ups.iter().zip(burned).filter(|(_, burned)| burned.ends().is_some());
    let mut all = all.map(|(set_up, burned)| in_one(lies, setup, set_up, burned));
    match all.next() {
        Some(first) => (first, all.collect()),
        None => (lies.clone(), Vec::new()),
    }
}

fn in_one(lies: &Lies, setup: &Setup, set_up: &SetUp, burned: &JoinedStretches) -> Lies {
    let wall = &setup.blank.wall;
    let focus_s_mm = wall.s_of_at(set_up.focus_at.at_mm);
    let focus = wall.section(focus_s_mm, &mut 0);
    let shown = SetUpShown { number: set_up.number, of: set_up.of, burned_s_mm: burned.ends() };
    Lies {
        tilt_rad: set_up.tilt_rad,
        focus_height_mm: lies
            .focus_height_mm
            .map(|_| Crest::new(set_up.tilt_rad).height_mm(&focus)),
        nozzle_s_mm: focus_s_mm,
        stretches_s_mm: burned.all().to_vec(),
        set_up: Some(shown),
        ..lies.clone()
    }
}

/// What the program was made for, one sentence; tilts of several set-ups stand in the table.
pub(super) fn made_for(setup: &Setup, wrapped: &MadeFor, set_ups: &[SetUp]) -> String {
    let lay = wrapped.lay.map_or_else(String::new, |lay| format!(", lay {lay}"));
    let turn = |rad: f64| fixed(rad.to_degrees(), 2);
    let (whole, on) = setup.whole();
    let known = |said: &str, at_hand: &str| isolated(Header::known_as(said, at_hand)).into_owned();
    let blank = known(&wrapped.blank, &whole.name);
    let machine = known(&wrapped.machine, &on.name);
    if let Some((facet, index)) = &wrapped.facet {
        let letter = stave_rig::axis_letter;
        let own = setup.facet.as_ref().map_or(facet, |on| &on.facet.name);
        return format!(
            "wrapped for the flat place {} of {} on {}, the rotary standing at {}{}",
            known(facet, own),
            blank,
            machine,
            letter(on, stave_rig::ROTARY),
            fixed(*index, 3)
        );
    }
    let unit = setup.blank.unit();
    let tilt = match set_ups.first() {
        None => format!("tilt {}°", turn(wrapped.tilt_rad)),
        Some(first) => format!("{} set-ups", first.of),
    };
    let mut out = format!(
        "wrapped for {blank} on {machine}{lay}, {tilt}, place {} {}°, zero {} {}°",
        unit.told(wrapped.place.0, 2),
        turn(wrapped.place.1),
        unit.told(wrapped.zero.0, 2),
        turn(wrapped.zero.1),
    );
    if let Some(rollers) = rollers_touch(wrapped.contact_at_mm) {
        out.push_str(&format!(", {rollers}"));
    }
    if !wrapped.disagreements(Some(&setup.blank), &setup.machine, None).is_empty() {
        let [blank, machine] = [&setup.blank.name, &setup.machine.name].map(|name| isolated(name));
        out.push_str(&format!("; shown on {blank} and {machine}"));
    }
    out
}

/// The table.
pub(super) fn all(
    told: &Told<'_>,
    focus: &FocusPlace,
    least_gap_mm: Option<f64>,
    setup: &Setup,
    just: Option<&JustWrapped>,
) -> Vec<Figure> {
    let &Told { estimate, map, burned: found, lies, .. } = told;
    let mut figures = Vec::new();
    let mut add = |name: &str, value: String| figures.push(Figure { name: name.to_owned(), value });
    let mm = |value: f64| format!("{} mm", fixed(value, 1));
    add("time", clock(estimate.duration_s));
    let parts = format!("{} and {}", clock(estimate.burn_s), clock(estimate.travel_s));
    add("of it burning and travelling", parts);
    if let (Some(burn), Some(travel)) = (estimate.burn_mm, estimate.travel_mm) {
        let (unit, per_mm) = if burn.max(travel) < 10_000.0 { ("mm", 1.0) } else { ("m", 1e-3) };
        let way = |length_mm: f64| format!("{} {unit}", fixed(per_mm * length_mm, 1));
        // Beyond ten metres nobody counts the mm.
        add("burned and travelled", format!("{} and {}", way(burn), way(travel)));
    }
    add("wall burned", area(map.burned_mm2()));
    // A walk burns nothing, and shows where the work has to be clear.
    let burned = found.stretches.ends().zip(found.turn_rad);
    let reach = burned.map(|reach| ("burned", reach));
    if let Some((what, reach)) = reach.or(found.walked.map(|reach| ("goes", reach))) {
        for (where_to, value) in reaches(setup, reach) {
            add(&format!("{what} {where_to}"), value);
        }
        if setup.facet.is_none() {
            for (name, value) in handles(setup, reach) {
                add(&name, value);
            }
        }
    }
    for (name, value) in set_up(setup, told, focus) {
        add(&name, value);
    }
    if let Some((least, most)) = found.power_percent {
        let one = most - least < 0.05;
        let text =
            if one { fixed(most, 1) } else { format!("{} to {}", fixed(least, 1), fixed(most, 1)) };
        add("power", format!("{text} %"));
    }
    if let (Some(mean), Some(most)) =
        (estimate.surface_speed_mean_mm_per_s, estimate.surface_speed_max_mm_per_s)
    {
        add(
            "speed on the wall, mean and most",
            format!("{} and {} mm/s", fixed(mean, 1), fixed(most, 1)),
        );
    }
    if map.top_density() > 0.0 {
        add("energy on the wall, nearly the most", told.energy.told(map.top_density()));
    }
    let burns = found.stretches.ends().is_some() && !told.is_walk;
    if lies.focus_height_mm.is_some() && burns {
        let defocus = focus.defocus_mm;
        let depth =
            lies.half_depth_mm.map_or(String::new(), |d| format!(", sharp to ±{}", fixed(d, 2)));
        add("out of focus at worst", format!("±{} mm{depth}", fixed(defocus, 2)));
    }
    if let Some((least, most)) = just.and_then(|just| just.spacing_mm) {
        let one = most - least < 5e-5;
        let text =
            if one { fixed(most, 4) } else { format!("{} to {}", fixed(least, 4), fixed(most, 4)) };
        add("spacing of scan lines", format!("{text} mm"));
    }
    if let Some(gap) = least_gap_mm {
        let told = match gap < 0.0 {
            true => format!("none, {} mm too deep", fixed(-gap, 1)),
            false => mm(gap),
        };
        add("least gap between nozzle and work", told);
    }
    if let Some(omega) = just.and_then(|just| just.omega_rad) {
        add("worst error of an angle burned, ω", format!("{}°", fixed(omega.to_degrees(), 1)));
    }
    figures
}

/// How far what stands out of the wall is from what the beam does, around, and how much of the turn
/// it leaves free: a workshop has its handle to measure from, and not the seam.
fn handles(setup: &Setup, (s_mm, turn_rad): Reach) -> Vec<(String, String)> {
    let wall = &setup.blank.wall;
    let radius_mm = wall.section(0.5 * (s_mm.0 + s_mm.1), &mut 0).radius_mm;
    // Seen from outside as the sheets show the ware: with upright ware what stands at greater turns
    // is to the left, and the art to the right of it.
    let [before, after] = match setup.job.stands {
        Stands::Upright => ["right of", "left of"],
        Stands::Inverted => ["left of", "right of"],
        Stands::Lying => ["below", "above"],
    };
    let way = |rad: f64| {
        let unit = setup.blank.unit();
        let (far, deg) = (unit.told(rad * radius_mm + 0.0, 1), fixed(rad.to_degrees() + 0.0, 1));
        format!("{far} at ⌀{}, {deg}°", unit.figure(2.0 * radius_mm, 1))
    };
    let handles = setup.blank.handles();
    let told = handles.iter().flat_map(|handle| {
        let name = isolated(&shortened(&handle.name())).into_owned();
        let gaps = handle
            .gaps_rad(turn_rad)
            .into_iter()
            .flat_map(|(growing, falling)| [(before, growing), (after, falling)]);
        let gaps = gaps.map(|(side, rad)| (format!("art {side} {name}"), way(rad)));
        let free = (format!("free beside {name}"), way(handle.free_rad()));
        gaps.chain([free]).collect::<Vec<_>>()
    });
    told.collect()
}

/// A name as it fits beside its value.
fn shortened(name: &str) -> String {
    if name.chars().count() <= MOST_LETTERS {
        return name.to_owned();
    }
    name.chars().take(MOST_LETTERS - 1).chain(['…']).collect()
}

/// From where to where along the meridian, mm, and of which turns, rad.
type Reach = ((f64, f64), (f64, f64));

/// How far the beam goes, along and around or across.
fn reaches(setup: &Setup, (s_mm, turn_rad): Reach) -> [(&'static str, String); 2] {
    let unit = setup.blank.unit();
    let at = |s: f64| unit.figure(setup.blank.wall.at_of_s(s), 1);
    let along = format!("{} to {} {}", at(s_mm.0), at(s_mm.1), unit.word());
    match &setup.facet {
        Some(on) => {
            let across = |rad: f64| unit.figure(rad / TAU * on.facet.width_mm, 1);
            let (from, to) = (across(turn_rad.0), across(turn_rad.1));
            let across = format!("{from} to {to} {}", unit.word());
            [("along", along), ("across", across)]
        }
        None => {
            let deg = |rad: f64| fixed(rad.to_degrees(), 1);
            let around = format!("turn {}° to {}°", deg(turn_rad.0), deg(turn_rad.1));
            [("along the axis", along), ("around", around)]
        }
    }
}

/// What to fit and set before the run: the sheet hangs at the machine.
fn set_up(setup: &Setup, told: &Told<'_>, focus: &FocusPlace) -> Vec<(String, String)> {
    let mut out = Vec::new();
    let named = [
        setup.job.lens.as_ref().map(|lens| format!("lens {}", isolated(&lens.name))),
        setup.job.nozzle.as_ref().map(|nozzle| format!("nozzle {}", isolated(&nozzle.name))),
    ];
    let named: Vec<String> = named.into_iter().flatten().collect();
    if !named.is_empty() {
        out.push(("fitted".to_owned(), named.join(", ")));
    }
    let unit = setup.blank.unit();
    let how = if told.lies.focus_height_mm.is_some() { "" } else { ", Z follows" };
    if told.set_ups.is_empty() {
        out.push(("focus at".to_owned(), place_words(&focus.place, unit) + how));
    }
    let shown = if told.set_ups.len() > MOST_SET_UPS { MOST_SET_UPS - 1 } else { MOST_SET_UPS };
    for one in told.set_ups.iter().take(shown) {
        let tilt = fixed(one.tilt_rad.to_degrees() + 0.0, 2);
        let value = format!("tilt {tilt}°, focus at {}{how}", place_words(&one.focus_at, unit));
        out.push((format!("set-up {} of {}", one.number, one.of), value));
    }
    if let Some(rest) = told.set_ups.get(shown..).filter(|rest| !rest.is_empty()) {
        let name = format!("{} more set-ups", rest.len());
        out.push((name, "see the comments of the program".to_owned()));
    }
    out.push((
        "held in".to_owned(),
        match setup.whole().1.rotary.drive {
            Drive::Chuck => "a chuck".to_owned(),
            Drive::Roller => {
                rollers_touch(told.contact_at_mm).unwrap_or_else(|| "rollers".to_owned())
            }
        },
    ));
    out
}

/// Where the head is focused, in words.
fn place_words(place: &FocusAt, unit: LengthUnit) -> String {
    let turn = place.turn_deg().map(|deg| format!(", turn {}°", fixed(deg, 1)));
    unit.told(place.at_mm, 1) + &turn.unwrap_or_default()
}

/// An area in cm², or that it is less than can be told: a dot is burned too.
fn area(mm2: f64) -> String {
    if mm2 > 0.0 && mm2 < 0.5 {
        "< 0.01 cm²".to_owned()
    } else {
        format!("{} cm²", fixed(mm2 / 100.0, 2))
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_dot_is_burned_too() {
        let told = [0.0, 0.02, 0.49, 0.5, 1234.0].map(super::area);
        assert_eq!(told, ["0 cm²", "< 0.01 cm²", "< 0.01 cm²", "0.01 cm²", "12.34 cm²"]);
    }
}
