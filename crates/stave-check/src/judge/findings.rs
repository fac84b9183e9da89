//! From what was gathered to findings: what each says, and what to do about it.

use stave_rig::{AXES, HeadPart, LeastGap, Nearest, ROTARY, Rig, Swatch, Z, lowest};
use stave_setup::{PowerRule, ZoneRule};
use stave_toolpath::number::fixed;

use super::seen::{Seen, Tally};
use super::{Judge, OVER_POWER, RunFacts, Verdict};
use crate::finding::{Code, Finding};
use crate::{Scan, optics, step_spacing};

/// A gap less than this is told though nothing strikes, mm: about what ware differs by from piece
/// to piece (common practice, no source).
const NEAR_MM: f64 = 1.0;
/// By how much of itself burning may take longer before it is told.
const SLOWER: f64 = 1.05;
/// Lines this much farther apart than the spot leave gaps: what rounding leaves open.
const SPACING_SLACK: f64 = 0.01;

pub(super) fn mm(value: f64) -> String {
    fixed(value, 2)
}

/// "1 line burns", "3 lines burn".
fn lines(count: u64, verb: &str) -> String {
    if count == 1 { format!("1 line {verb}s") } else { format!("{count} lines {verb}") }
}

/// The least gap of one nozzle over a run.
#[derive(Clone, Debug)]
pub struct NozzleGap {
    /// The nozzle's name.
    pub name: String,
    /// Whether it is the one fitted.
    pub fitted: bool,
    /// Its least gap; `None` where nothing moved.
    pub least: Option<LeastGap<u64>>,
}

impl Judge<'_> {
    /// What the run comes to.
    #[must_use]
    pub fn verdict(&self, facts: &RunFacts) -> Verdict {
        let focus = self.focus();
        let nozzles = self.nozzle_gaps(focus.height_mm);
        let (mut findings, mut told) = (Vec::new(), Vec::new());
        findings.extend(self.setup.doubts.iter().map(Finding::of_doubt));
        self.places(facts, &mut findings, &mut told);
        // A ladder is out of focus on purpose.
        if self.made_for.swatch != Some(Swatch::FocusLadder) {
            self.defocus(&focus, &mut findings, &mut told);
            told.extend(self.own_z().map(|z| {
                format!(
                    "the program's own Z, {z} mm where it burns, counts from where the head is \
                     focused: focus it with Z at 0"
                )
            }));
        }
        self.planes(&mut findings);
        self.clearance(&nozzles, &mut findings, &mut told);
        self.axes(facts, &mut findings, &mut told);
        self.beam(facts, &mut findings, &mut told);
        self.plausible(&mut findings);
        // Ticks are no area, whose lines would have to lie close.
        if !facts.spacing_known && !self.made_for.swatch.is_some_and(Swatch::burns_ticks) {
            for scan in self.scan.found() {
                self.spacing(&scan, &mut findings, &mut told);
            }
        }
        Verdict { findings, told, burned: self.burned(), focus, nozzles }
    }

    /// A finding at the place and line where something was seen.
    pub(super) fn found(&self, code: Code, seen: &Seen, message: String) -> Finding {
        let finding = Finding { section: Some(seen.section), ..Finding::new(code, message) };
        let finding = finding.on_line(seen.line);
        match seen.stand.place {
            Some(place) => finding.at(place.at_mm, place.turn_rad),
            None => {
                let (rail, turn) =
                    (self.rig.rail_mm(&seen.stand.words), self.rig.turn_rad(&seen.stand.words));
                finding.at(self.crest.at_mm(rail), turn)
            }
        }
    }

    /// Burns off the wall, out of reach, in zones; what is burned on two turns; nothing burned.
    fn places(&self, facts: &RunFacts, out: &mut Vec<Finding>, told: &mut Vec<String>) {
        let setup = self.setup;
        let (first, last) = setup.blank.wall.at_range_mm();
        if let Some(worst) = self.off_wall.worst {
            let message = format!(
                "{} off the wall, which runs from {} to {} mm, at the most {} mm past its end; \
                 move the art, or measure a station further out",
                lines(self.off_wall.count, "burn"),
                mm(first),
                mm(last),
                mm(worst.value)
            );
            out.push(self.found(Code::OffWall, &worst, message).figures(worst.value, 0.0));
        }
        if let Some(worst) = self.steep.worst {
            let steepest = setup.machine.controller.steepest_rad.to_degrees();
            let message = format!(
                "the wall stands at {}° to the beam where this burns, steeper than the {}° the \
                 machine can burn; keep the art off it or change the tilt",
                fixed(worst.value, 1),
                fixed(steepest, 1)
            );
            out.push(self.found(Code::Reach, &worst, message).figures(worst.value, steepest));
        }
        if let (Some(worst), Some(on)) = (self.off_facet.worst, &setup.facet) {
            let message = format!(
                "{} past the edge of the flat place \"{}\", which is {} mm wide, at the most {} \
                 mm; make the art narrower, or move it",
                lines(self.off_facet.count, "burn"),
                on.facet.name,
                mm(on.facet.width_mm),
                mm(worst.value)
            );
            out.push(self.found(Code::OffWall, &worst, message).figures(worst.value, 0.0));
        }
        for (zone, hits) in setup.blank.zones.iter().zip(&self.zone_hits) {
            let Some(worst) = hits.worst else { continue };
            // A mask keeps words out of it; what follows a program has them where that has them.
            let is_late = setup.job.zones == ZoneRule::Mask && !setup.machine.lag.is_none();
            let remedy = if is_late {
                "its light comes late by the `lag` of [beam]: burn slower, make the margin wider \
                 by so much, or let --scan again make the lines anew"
            } else {
                "move the art, or say zones = \"mask\" to leave the zone out"
            };
            let message = format!(
                "{} into the zone \"{}\", up to {} mm past the edge of its margin of {} mm; \
                 {remedy}",
                lines(hits.count, "burn"),
                zone.name,
                mm(worst.value),
                mm(setup.zone_margin_mm(zone))
            );
            out.push(self.found(Code::Zone, &worst, message).figures(worst.value, 0.0));
        }
        if let Some((degrees, place)) = self.laps.twice() {
            let message = format!(
                "at {} mm the burns meet themselves: {}° around are burned on two turns; make the \
                 art narrower, or take lay \"even-angle\" with a `reference_diameter` at which it \
                 closes",
                mm(setup.blank.wall.at_of_s(place.s_mm)),
                // Never none.
                fixed(degrees.max(0.1), 1)
            );
            let at_mm = setup.blank.wall.at_of_s(place.s_mm);
            let finding = Finding::new(Code::Overlap, message).at(at_mm, place.turn_rad);
            out.push(finding.figures(degrees, 0.0));
        }
        if facts.masked_mm > 0.0 {
            told.push(format!(
                "{} mm of burns lie in zones and are left dark, as the job says",
                fixed(facts.masked_mm, 1)
            ));
        }
        if self.burns == 0 && !self.made_for.walk {
            let message = "nothing burns: no G1, G2 or G3 has the beam on with power; switch it \
                           on with M3 or M4 and an S word above 0";
            out.push(Finding::new(Code::NothingBurns, message.to_owned()));
        }
    }

    /// The least gap of every nozzle of the machine for a focus at a height, mm.
    fn nozzle_gaps(&self, focus_height_mm: f64) -> Vec<NozzleGap> {
        let fitted = self.setup.job.nozzle.as_ref().map(|nozzle| &nozzle.name);
        let nozzles = self.setup.machine.nozzles.iter().zip(&self.nozzles);
        // Somewhere around, ware that is not true comes so much nearer.
        let (first_mm, last_mm) = self.setup.blank.wall.at_range_mm();
        let nearer_mm = self.setup.blank.running.most_mm(first_mm, last_mm);
        nozzles
            .map(|(nozzle, clearance)| NozzleGap {
                name: nozzle.name.clone(),
                fitted: fitted == Some(&nozzle.name),
                least: clearance
                    .least(focus_height_mm, self.rig.zero_height_mm, nozzle.gap_mm)
                    .map(|gap| LeastGap { gap_mm: gap.gap_mm - nearer_mm, ..gap }),
            })
            .collect()
    }

    fn zone_name(&self, index: usize) -> String {
        match self.setup.whole().0.zones.get(index) {
            Some(zone) => format!("the zone \"{}\"", zone.name),
            None => "a zone".to_owned(),
        }
    }

    /// What of the head comes nearest.
    fn part_name(&self, nozzle: &str, least: &LeastGap<u64>) -> String {
        let nozzles = &self.setup.machine.nozzles;
        let step = |index: usize| {
            nozzles.iter().find(|one| one.name == nozzle)?.steps_mm.get(index).copied()
        };
        match least.part {
            HeadPart::Tip => format!("the nozzle \"{nozzle}\""),
            HeadPart::Step(index) => {
                let above = step(index).map_or(0.0, |(above_mm, _)| above_mm);
                format!("the nozzle \"{nozzle}\", with its step {} mm above the tip,", mm(above))
            }
            HeadPart::Carriage => format!("the carriage over the nozzle \"{nozzle}\""),
        }
    }

    /// What it comes nearest to.
    fn thing_name(&self, least: &LeastGap<u64>) -> String {
        match least.nearest {
            Nearest::Wall => "the wall".to_owned(),
            Nearest::Zone(index) => self.zone_name(index),
            Nearest::Obstacle(index) => match self.setup.whole().1.obstacles.get(index) {
                Some(obstacle) => format!("the rotary's \"{}\"", obstacle.name),
                None => "the rotary".to_owned(),
            },
        }
    }

    /// What strikes the work or the bed.
    fn clearance(&self, gaps: &[NozzleGap], out: &mut Vec<Finding>, told: &mut Vec<String>) {
        if gaps.is_empty() {
            told.push(
                "the machine names no nozzle, so that nothing says whether it clears the work; \
                 add a [[nozzle]]"
                    .to_owned(),
            );
        }
        for gap in gaps.iter().filter(|gap| gap.fitted) {
            let Some(least) = gap.least.filter(|least| least.gap_mm < NEAR_MM) else { continue };
            let (part, what) = (self.part_name(&gap.name, &least), self.thing_name(&least));
            if least.gap_mm >= 0.0 {
                told.push(format!("{part} clears {what} by only {} mm", mm(least.gap_mm)));
                continue;
            }
            let message = format!(
                "{part} strikes {what}, {} mm deep; {}",
                mm(-least.gap_mm),
                other_nozzles(gaps, least.gap_mm)
            );
            out.push(
                Finding::new(Code::Clearance, message)
                    .at(least.at_mm, least.turn_rad)
                    .on_line(least.mark)
                    .figures(least.gap_mm, 0.0),
            );
        }
        self.bed(out, told);
    }

    fn bed(&self, out: &mut Vec<Finding>, told: &mut Vec<String>) {
        let (blank, machine) = self.setup.whole();
        let (Some(axis_height_mm), Some((least, most))) =
            (machine.rotary.axis_height_mm, self.any_turn.ends())
        else {
            return;
        };
        // For a flat place the rotary turns from its zero to that, and all of the ware hangs there.
        let turns = match &self.setup.facet {
            Some(on) => {
                let rig = Rig::new(blank, machine, &self.made_for);
                let mut there = [0.0; AXES];
                there[ROTARY] = on.index;
                let swing_rad = rig.turn_rad(&there) - rig.turn_rad(&[0.0; AXES]);
                let (from, to) = (on.facet.turn_rad - swing_rad, on.facet.turn_rad);
                (from.min(to), from.max(to))
            }
            None => (least.value, most.value),
        };
        let lowest = lowest(&blank.wall, &blank.zones, turns);
        let room_mm = axis_height_mm - lowest.depth_mm;
        if room_mm >= NEAR_MM {
            return;
        }
        let what = lowest.zone.map_or_else(|| "the wall".to_owned(), |k| self.zone_name(k));
        if room_mm >= 0.0 {
            told.push(format!("{what} clears the bed by only {} mm", mm(room_mm)));
            return;
        }
        let message = format!(
            "{what} strikes the bed, {} mm deep: it reaches {} mm below the axis, which is {} mm \
             above the bed; raise the rotary, or lower the bed",
            mm(-room_mm),
            mm(lowest.depth_mm),
            mm(axis_height_mm)
        );
        let finding = Finding::new(Code::Clearance, message).along(lowest.at_mm);
        out.push(finding.figures(room_mm, 0.0));
    }

    /// Where words go past what the axes can go to, and where speeds and accelerations bind.
    fn axes(&self, facts: &RunFacts, out: &mut Vec<Finding>, told: &mut Vec<String>) {
        // As many as the words have, so that what is past an end reads so.
        let decimals = self.setup.machine.controller.decimals.max(3);
        let follows = self.setup.machine.controller.power == PowerRule::FollowsSpeed;
        for axis in [self.rig.along, ROTARY, Z] {
            let unit = if axis == ROTARY { "units" } else { "mm" };
            let letter = self.rig.letter(axis);
            let limits = &self.limits[axis];
            let Some((least, most)) = self.words[axis].ends() else { continue };
            let past = [
                (least, limits.min.filter(|_| least.value < self.ends[axis].0), "least"),
                (most, limits.max.filter(|_| most.value > self.ends[axis].1), "greatest"),
            ];
            for (seen, bound, which) in past {
                let Some(bound) = bound else { continue };
                let message = format!(
                    "the program goes to {letter}{}, and the {which} the axis can go to is {} \
                     {unit}; move the art or the zero",
                    fixed(seen.value, decimals),
                    fixed(bound, decimals)
                );
                let finding = self.found(Code::TravelLimit, &seen, message);
                out.push(finding.figures(seen.value, bound));
            }
            let over: &Tally = &self.over_speed[axis];
            if let Some(worst) = over.worst {
                let burn = if follows {
                    "their power with them as far as it marks"
                } else {
                    "and burn darker where the power does not follow the speed"
                };
                let message = format!(
                    "{} for up to {} {unit}/s of {letter}, which does {}: those moves are slowed \
                     to it, {burn}; ask for {} % of the speed or less",
                    lines(over.count, "ask"),
                    fixed(worst.value, 1),
                    fixed(limits.speed, 1),
                    percent_or_less(100.0 * limits.speed / worst.value)
                );
                let finding = self.found(Code::SpeedLimit, &worst, message);
                out.push(finding.figures(worst.value, limits.speed));
            }
        }
        let (asked_s, takes_s) = (self.asked_burn_s, facts.burns_take_s);
        // Where no decimal tells the two apart, or the one from nothing, nothing is told.
        let apart = |decimals: &u32| {
            let asked = fixed(asked_s, *decimals);
            asked != "0" && asked != fixed(takes_s, *decimals)
        };
        let decimals = (1..=3).find(apart).filter(|_| takes_s > SLOWER * asked_s);
        if let Some(decimals) = decimals.filter(|_| asked_s > 0.0) {
            let shows = if follows {
                "the power follows the speed, so that it does not show but where the power would \
                 fall below what marks"
            } else {
                "with M4, where the power follows the speed, that does not show, with M3 it burns \
                 darker there"
            };
            told.push(format!(
                "what the axes can accelerate makes the burns take {} s, and {} s were asked for: \
                 they speed up and slow down within the burns; {shows}",
                fixed(takes_s, decimals),
                fixed(asked_s, decimals)
            ));
        }
    }

    /// Power above what there is and below what marks; the beam on where nothing is to burn.
    fn beam(&self, facts: &RunFacts, out: &mut Vec<Finding>, told: &mut Vec<String>) {
        let controller = &self.setup.machine.controller;
        let full = controller.full_power_s;
        let percent = |s: f64| 100.0 * s / full;
        if let Some((least, most)) = self.power.ends() {
            if most.value > full * OVER_POWER {
                let message = format!(
                    "S{} is more than full power, which is S{}; give less, or correct \
                     `full_power`",
                    fixed(most.value, 3),
                    fixed(full, 3)
                );
                let finding = self.found(Code::Power, &most, message);
                out.push(finding.figures(percent(most.value), 100.0));
            }
            let floor = controller.least_power_percent;
            if percent(least.value) < floor {
                let count = facts.below_least_power;
                let how_many =
                    if count > 1 { format!("; so have {count} moves") } else { String::new() };
                // What is drawn has no lines.
                let which = match least.line {
                    0 => "the weakest burn".to_owned(),
                    line => format!("a burn on line {line}"),
                };
                told.push(format!(
                    "{which} has {} % of full power, and below {} % nothing marks\
                     {how_many}; give more power and more speed",
                    fixed(percent(least.value), 2),
                    fixed(floor, 2)
                ));
            }
        }
        if facts.slowed_power > 0 {
            let moves = if facts.slowed_power == 1 { "move" } else { "moves" };
            told.push(format!(
                "an even dose would need more than full power for {} {moves}: they are slowed \
                 instead; give less power, or less speed",
                facts.slowed_power
            ));
        }
        if let Some(worst) = self.beam_on_travel.worst {
            let count = self.beam_on_travel.count;
            let message = format!(
                "the beam is on during {count} travel{} (G0); write S0 or M5 before each",
                if count == 1 { "" } else { "s" }
            );
            out.push(self.found(Code::BeamOnTravel, &worst, message));
        }
    }

    /// Scan lines against the spot and the motor's steps.
    fn spacing(&self, scan: &Scan, out: &mut Vec<Finding>, told: &mut Vec<String>) {
        let wall = self.rig.wall;
        let radius_of = |at_mm: f64| wall.section(wall.s_of_at(at_mm), &mut 0).radius_mm;
        let gate_mm = radius_of(self.crest.at_mm(scan.at_mm));
        let widest_mm = self.burned_at_mm().map_or(gate_mm, |(least, most)| {
            let (from, to) = (wall.s_of_at(least), wall.s_of_at(most));
            let sections = wall.sections_between(from, to);
            sections.iter().map(|(_, section)| section.radius_mm).fold(0.0, f64::max)
        });
        // Around, what was looked at are turns on the largest radius of the wall.
        let per_turn = 1.0 / wall.largest_radius_mm();
        let radius_mm = if scan.level { widest_mm } else { gate_mm };
        let spacing_mm = scan.spacing_mm * if scan.along_axis { radius_mm * per_turn } else { 1.0 };
        self.against_spot(spacing_mm, out, told);
        let steps = self.rig.steps_per_turn().filter(|_| scan.along_axis);
        let Some(steps) = steps else { return };
        let found = step_spacing(spacing_mm, radius_mm, steps);
        if !found.uneven {
            return;
        }
        let four = |value: f64| fixed(value, 4);
        let even = match found.even_mm {
            (Some(closer), wider) => format!("{} or {} mm", four(closer), four(wider)),
            (None, wider) => format!("{} mm", four(wider)),
        };
        let message = format!(
            "the lines of the program are {} motor steps apart, so that gaps of {} and {} steps \
             take turns and show as bands; even are {even}",
            fixed(found.steps, 2),
            fixed(found.steps.floor(), 0),
            fixed(found.steps.floor() + 1.0, 0)
        );
        let whole = found.steps.round().max(1.0);
        out.push(Finding::new(Code::SpacingSteps, message).figures(found.steps, whole));
    }

    fn against_spot(&self, spacing_mm: f64, out: &mut Vec<Finding>, told: &mut Vec<String>) {
        let Some(lens) = &self.setup.job.lens else { return };
        let figures = optics(lens, self.setup.machine.beam.as_ref());
        let Some(spot_mm) = figures.spot_mm else { return };
        spacing_against_spot("the program", spacing_mm, &lens.name, spot_mm, out, told);
    }
}

/// Scan lines of `what` that lie `spacing_mm` apart, against the spot of a lens: too far apart is a
/// finding; closer than is of use is told.
pub fn spacing_against_spot(
    what: &str,
    spacing_mm: f64,
    lens: &str,
    spot_mm: f64,
    out: &mut Vec<Finding>,
    told: &mut Vec<String>,
) {
    let slack = SPACING_SLACK * spacing_mm;
    let message = |why: &str| {
        format!(
            "the lines of {what} are {} mm apart on the wall, and the spot of lens \"{lens}\" is \
             {} mm; {why}",
            fixed(spacing_mm, 4),
            fixed(spot_mm, 4)
        )
    };
    if spacing_mm > spot_mm + slack {
        let why = "they leave gaps: set them closer, or burn a little out of focus";
        let finding = Finding::new(Code::SpacingSpot, message(why));
        out.push(finding.figures(spacing_mm, spot_mm));
    } else if spacing_mm < 0.5 * spot_mm - slack {
        told.push(message(
            "every place is burned more than twice and nothing finer is drawn: set them wider, \
             and it takes less time",
        ));
    }
}

/// A share that is not to be passed, percent: whole, or with two figures below one.
fn percent_or_less(percent: f64) -> String {
    let scaled = |decimals: u32| percent * 10_f64.powi(decimals.cast_signed());
    let two_figures = |decimals: &u32| scaled(*decimals) >= 10.0;
    let decimals = if percent >= 1.0 { 0 } else { (2..9).find(two_figures).unwrap_or(9) };
    fixed(scaled(decimals).floor() / 10_f64.powi(decimals.cast_signed()), decimals)
}

/// Which other nozzle would clear.
fn other_nozzles(gaps: &[NozzleGap], gap_mm: f64) -> String {
    let others: Vec<String> = gaps
        .iter()
        .filter(|other| !other.fitted)
        .filter_map(|other| Some((&other.name, other.least?.gap_mm)))
        .filter(|(_, other_mm)| *other_mm >= 0.0 && *other_mm > gap_mm)
        .map(|(name, other_mm)| format!("\"{name}\" clears by {} mm", mm(other_mm)))
        .collect();
    if others.is_empty() {
        "no other nozzle of the machine clears: turn or move the art so that this part of the \
         work stays clear of the head, or raise the head over travels"
            .to_owned()
    } else {
        format!("fit another: {}", others.join(", "))
    }
}
