//! From what was gathered to findings: how much each weighs, and what to do about it.

use stave_check::{
    Code, Finding, LeastGap, Nearest, Severity, focus_at_mid_strip, level, lowest, optics,
};
use stave_setup::{FocusMode, RotaryWord, Setup, ZoneRule};
use stave_toolpath::number::fixed;
use stave_wall::Crest;

use super::survey::{ALONG, ROTARY, Seen, Survey, Tally, Z, limits};

/// Turns past one whole turn by less than this are the closing of a seam, degrees.
const SEAM_DEG: f64 = 0.05;
/// A gap less than this is told though nothing strikes, mm: about what ware differs by from piece
/// to piece (common practice, no source).
const NEAR_MM: f64 = 1.0;
/// By how much of itself burning may take longer before it is told.
const SLOWER: f64 = 1.05;
/// The spot at which a burn is no longer a matter of taste, in spots.
const SPOILED: f64 = 2.0;

fn mm(value: f64) -> String {
    fixed(value, 2)
}

fn deg(rad: f64) -> String {
    fixed(rad.to_degrees(), 1)
}

fn found(code: Code, severity: Severity, seen: Seen, message: String) -> Finding {
    Finding::new(code, severity, message).at(seen.at_mm, seen.turn_rad).on_line(seen.line)
}

fn times(count: u64, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

/// Burns off the wall, out of reach, in zones; art that goes round more than once.
pub(super) fn places(survey: &Survey<'_>, out: &mut Vec<Finding>) {
    let setup = survey.setup;
    let (first, last) = setup.blank.wall.at_range_mm();
    if let Some(worst) = survey.off_wall.worst {
        let message = format!(
            "{} off the wall, which runs from {} to {} mm, at the most {} mm past its end; move \
             the art, or measure a station further out",
            times(survey.off_wall.count, "line burns").replace("line burnss", "lines burn"),
            mm(first),
            mm(last),
            mm(worst.value)
        );
        out.push(found(Code::OffWall, Severity::Error, worst, message).figures(worst.value, 0.0));
    }
    if let Some(worst) = survey.reach.worst {
        let steepest = setup.machine.controller.steepest_rad.to_degrees();
        let message = format!(
            "the wall stands at {}° to the beam where this burns, steeper than the {}° the \
             machine can burn; keep the art off it or change the tilt",
            fixed(worst.value, 1),
            fixed(steepest, 1)
        );
        out.push(
            found(Code::Reach, Severity::Error, worst, message).figures(worst.value, steepest),
        );
    }
    for (zone, hits) in setup.blank.zones.iter().zip(&survey.zone_hits) {
        let Some(worst) = hits.worst else { continue };
        let (severity, advice) = match setup.job.zones {
            ZoneRule::Ignore => (Severity::Warning, "the job says to ignore zones"),
            _ => (Severity::Error, "move the art, or say zones = \"mask\" to leave the zone out"),
        };
        let message = format!(
            "{} into the zone \"{}\", up to {} mm past the edge of its margin of {} mm; {advice}",
            times(hits.count, "line burns").replace("line burnss", "lines burn"),
            zone.name,
            mm(worst.value),
            mm(setup.zone_margin_mm(zone))
        );
        out.push(found(Code::Zone, severity, worst, message).figures(worst.value, 0.0));
    }
    if let Some((least, most)) = survey.turn.0 {
        let turned = (most.value - least.value).to_degrees();
        if turned > 360.0 + SEAM_DEG {
            let message = format!(
                "the burns go {}° around, {}° more than once: they meet themselves; make the art \
                 narrower, or take lay \"even-angle\" with a \
                 `reference_diameter` at which it closes",
                fixed(turned, 1),
                fixed(turned - 360.0, 1)
            );
            out.push(found(Code::Overlap, Severity::Warning, most, message).figures(turned, 360.0));
        }
    }
}

/// The height the job is focused at, and where on the wall that is done.
pub(super) struct FocusPlace {
    pub(super) height_mm: f64,
    pub(super) at_mm: f64,
}

/// Where the job is focused: mid-strip of what is burned, or where the job says; where the focus
/// follows, at the zero.
pub(super) fn focus(survey: &Survey<'_>) -> FocusPlace {
    let setup = survey.setup;
    let wall = &setup.blank.wall;
    let crest = Crest::new(survey.wrapped().tilt_rad);
    let on_crest = |at_mm: f64| FocusPlace {
        height_mm: crest.height_mm(&wall.section(wall.s_of_at(at_mm), &mut 0)),
        at_mm,
    };
    if survey.wrapped().focus == FocusMode::Follow {
        return on_crest(survey.wrapped().zero.0);
    }
    if let Some(at_mm) = setup.job.focus_at_mm {
        return on_crest(at_mm);
    }
    let Some((least, most)) = survey.at.0 else { return on_crest(survey.wrapped().zero.0) };
    let (from, to) = (wall.s_of_at(least.value), wall.s_of_at(most.value));
    let sharpness = focus_at_mid_strip(wall, from, to, survey.wrapped().tilt_rad);
    FocusPlace { height_mm: sharpness.height_mm, at_mm: sharpness.focus_at_mm }
}

/// How far burns lie from the focus, against what the lens allows.
pub(super) fn defocus(survey: &Survey<'_>, focus: &FocusPlace, out: &mut Vec<Finding>) {
    let setup = survey.setup;
    let Some((low, high)) = survey.focus_height.0 else { return };
    let off = |seen: Seen| (seen.value - focus.height_mm).abs();
    let worst = if off(high) > off(low) { high } else { low };
    let defocus_mm = off(worst);
    let Some(lens) = &setup.job.lens else {
        let message = format!(
            "the machine names no lens, so that nothing says whether the burns, up to {} mm out \
             of focus, are sharp; add a [[lens]]",
            mm(defocus_mm)
        );
        out.push(Finding::new(Code::Defocus, Severity::Note, message));
        return;
    };
    let figures = optics(lens, setup.machine.beam.as_ref());
    let Some(depth_mm) = figures.half_depth_mm else {
        let message = format!(
            "nothing tells the depth of focus of lens \"{}\", and the burns are up to {} mm out \
             of focus; give the lens `depth_of_focus`, or \
             the machine a [beam]",
            lens.name,
            mm(defocus_mm)
        );
        out.push(Finding::new(Code::Defocus, Severity::Note, message));
        return;
    };
    if defocus_mm <= depth_mm {
        return;
    }
    let growth = figures.rayleigh_mm.map(|rayleigh| (defocus_mm / rayleigh).hypot(1.0));
    let spoiled = growth.is_none_or(|growth| growth > SPOILED);
    let mut message = format!(
        "burns are up to {} mm out of focus where lens \"{}\" is sharp within ±{} mm",
        mm(defocus_mm),
        lens.name,
        mm(depth_mm)
    );
    if let Some(growth) = growth {
        message.push_str(&format!(": the spot is {} times as wide as in focus", fixed(growth, 1)));
    }
    message.push_str(&format!("; {}", better_focus(survey, defocus_mm)));
    let severity = if spoiled { Severity::Error } else { Severity::Warning };
    out.push(found(Code::Defocus, severity, worst, message).figures(defocus_mm, depth_mm));
}

/// What would bring the burns nearer to the focus.
fn better_focus(survey: &Survey<'_>, defocus_mm: f64) -> String {
    let setup = survey.setup;
    let mut advice = Vec::new();
    if let Some((least, most)) = survey.at.0
        && let Ok(level) = level(&setup.blank.wall, &setup.machine, least.value, most.value)
    {
        let set = &level.set.sharpness;
        let tilt = survey.wrapped().tilt_rad;
        if set.defocus_mm < 0.9 * defocus_mm {
            let how = if (set.tilt_rad - tilt).abs() > 1e-3 {
                format!(
                    "a tilt of {}° with the focus at {} mm",
                    deg(set.tilt_rad),
                    mm(set.focus_at_mm)
                )
            } else {
                format!("focusing at {} mm", mm(set.focus_at_mm))
            };
            advice.push(format!("{how} would leave ±{} mm", mm(set.defocus_mm)));
        }
        let sharp: Vec<&str> = level
            .lenses
            .iter()
            .filter(|lens| lens.optics.half_depth_mm.is_some_and(|depth| depth >= set.defocus_mm))
            .map(|lens| lens.name.as_str())
            .collect();
        if !sharp.is_empty() {
            advice.push(format!("sharp there with lens {}", sharp.join(", ")));
        }
    }
    if setup.machine.z.is_some() && survey.wrapped().focus == FocusMode::Fixed {
        advice.push("focus = \"follow\" keeps Z on the wall".to_owned());
    }
    if advice.is_empty() {
        advice.push(
            "burn a shorter stretch of the wall at a time, each with its own tilt and focus"
                .to_owned(),
        );
    }
    advice.join("; ")
}

/// The least gap of one nozzle.
pub(super) struct NozzleGap {
    pub(super) name: String,
    pub(super) fitted: bool,
    pub(super) least: Option<LeastGap<u64>>,
}

/// The least gap of every nozzle of the machine.
pub(super) fn nozzle_gaps(survey: &Survey<'_>, focus: &FocusPlace) -> Vec<NozzleGap> {
    let setup = survey.setup;
    let fitted = setup.job.nozzle.as_ref().map(|nozzle| &nozzle.name);
    let nozzles = setup.machine.nozzles.iter().zip(&survey.nozzles);
    nozzles
        .map(|(nozzle, clearance)| NozzleGap {
            name: nozzle.name.clone(),
            fitted: fitted == Some(&nozzle.name),
            least: clearance.least(focus.height_mm, nozzle.gap_mm),
        })
        .collect()
}

/// What strikes the work or the bed.
pub(super) fn clearance(survey: &Survey<'_>, gaps: &[NozzleGap], out: &mut Vec<Finding>) {
    let setup = survey.setup;
    if gaps.is_empty() {
        let message = "the machine names no nozzle, so that nothing says whether it clears the \
                       work; add a [[nozzle]]";
        out.push(Finding::new(Code::Clearance, Severity::Note, message.to_owned()));
    }
    for gap in gaps.iter().filter(|gap| gap.fitted) {
        let Some(least) = gap.least.filter(|least| least.gap_mm < NEAR_MM) else { continue };
        let what = match least.nearest {
            Nearest::Wall => "the wall".to_owned(),
            Nearest::Zone(index) => match setup.blank.zones.get(index) {
                Some(zone) => format!("the zone \"{}\"", zone.name),
                None => "a zone".to_owned(),
            },
        };
        let others: Vec<String> = gaps
            .iter()
            .filter(|other| !other.fitted)
            .filter_map(|other| Some((&other.name, other.least?.gap_mm)))
            .filter(|(_, gap_mm)| *gap_mm >= 0.0 && *gap_mm > least.gap_mm)
            .map(|(name, gap_mm)| format!("\"{name}\" clears by {} mm", mm(gap_mm)))
            .collect();
        let advice = if others.is_empty() {
            "no other nozzle of the machine clears: turn or move the art so that this part of the \
             work stays clear of the head, or raise the \
             head over travels"
                .to_owned()
        } else {
            format!("fit another: {}", others.join(", "))
        };
        let (severity, how) = if least.gap_mm < 0.0 {
            (
                Severity::Error,
                format!(
                    "the nozzle \"{}\" strikes {what}, {} mm deep",
                    gap.name,
                    mm(-least.gap_mm)
                ),
            )
        } else {
            (
                Severity::Warning,
                format!(
                    "the nozzle \"{}\" clears {what} by only {} mm",
                    gap.name,
                    mm(least.gap_mm)
                ),
            )
        };
        out.push(
            Finding::new(Code::Clearance, severity, format!("{how}; {advice}"))
                .at(least.at_mm, least.turn_rad)
                .on_line(least.mark)
                .figures(least.gap_mm, 0.0),
        );
    }
    bed(survey, out);
}

fn bed(survey: &Survey<'_>, out: &mut Vec<Finding>) {
    let setup = survey.setup;
    let (Some(axis_height_mm), Some((least, most))) =
        (setup.machine.rotary.axis_height_mm, survey.any_turn.0)
    else {
        return;
    };
    let lowest = lowest(&setup.blank.wall, &setup.blank.zones, (least.value, most.value));
    let room_mm = axis_height_mm - lowest.depth_mm;
    if room_mm >= NEAR_MM {
        return;
    }
    let what = match lowest.zone.and_then(|index| setup.blank.zones.get(index)) {
        Some(zone) => format!("the zone \"{}\"", zone.name),
        None => "the wall".to_owned(),
    };
    let (severity, how) = if room_mm < 0.0 {
        (Severity::Error, format!("{what} strikes the bed, {} mm deep", mm(-room_mm)))
    } else {
        (Severity::Warning, format!("{what} clears the bed by only {} mm", mm(room_mm)))
    };
    let message = format!(
        "{how}: it reaches {} mm below the axis, which is {} mm above the bed; raise the rotary, \
         or lower the bed",
        mm(lowest.depth_mm),
        mm(axis_height_mm)
    );
    let mut finding = Finding::new(Code::Clearance, severity, message).figures(room_mm, 0.0);
    finding.at_mm = Some(lowest.at_mm);
    out.push(finding);
}

/// The name of an axis and the unit of its words.
fn axis(setup: &Setup, index: usize) -> (&'static str, &'static str) {
    use stave_setup::Along;
    match index {
        ALONG if setup.machine.rotary.along == Along::Y => ("Y", "mm"),
        ALONG => ("X", "mm"),
        ROTARY => match setup.machine.rotary.word {
            RotaryWord::A => ("A", "units"),
            RotaryWord::B => ("B", "units"),
            RotaryWord::C => ("C", "units"),
            RotaryWord::Y => ("Y", "units"),
        },
        _ => ("Z", "mm"),
    }
}

/// Where words go past what the axes can go to, and where speeds and accelerations bind.
pub(super) fn axes(survey: &Survey<'_>, out: &mut Vec<Finding>) {
    let setup = survey.setup;
    let limits = limits(setup);
    for index in [ALONG, ROTARY, Z] {
        let (name, unit) = axis(setup, index);
        let limit = &limits[index];
        let Some((least, most)) = survey.words[index].0 else { continue };
        let past = [
            (least, limit.min.filter(|min| least.value < *min), "least"),
            (most, limit.max.filter(|max| most.value > *max), "greatest"),
        ];
        for (seen, bound, which) in past {
            let Some(bound) = bound else { continue };
            let message = format!(
                "the program goes to {name}{}, and the {which} the axis can go to is {} {unit}; \
                 move the art or the zero",
                fixed(seen.value, 3),
                fixed(bound, 3)
            );
            out.push(
                found(Code::TravelLimit, Severity::Error, seen, message).figures(seen.value, bound),
            );
        }
        let over = &survey.over_speed[index];
        if let Some(worst) = over.worst {
            let message = format!(
                "{} for up to {} {unit}/s of {name}, which does {}: those moves are slowed to it, \
                 and burn darker where the power does not follow the \
                 speed; ask for {} % of the speed or less",
                times(over.count, "line asks").replace("line askss", "lines ask"),
                fixed(worst.value, 1),
                fixed(limit.speed, 1),
                fixed((100.0 * limit.speed / worst.value).floor(), 0)
            );
            out.push(
                found(Code::SpeedLimit, Severity::Warning, worst, message)
                    .figures(worst.value, limit.speed),
            );
        }
    }
    let (asked_s, takes_s) = (survey.asked_burn_s, survey.totals.burn.duration_s);
    if asked_s > 0.0 && takes_s > SLOWER * asked_s {
        let slowest =
            survey.totals.slowest_axis().map_or("an axis", |(index, _)| axis(setup, index).0);
        let message = format!(
            "what the axes can accelerate makes the burns take {} s, and {} s were asked for \
             ({slowest} binds longest): they speed up and slow down \
             within the burns; with M4, where the power follows the speed, that does not show, with M3 it burns darker there",
            fixed(takes_s, 1),
            fixed(asked_s, 1)
        );
        out.push(Finding::new(Code::SpeedLimit, Severity::Note, message).figures(takes_s, asked_s));
    }
}

/// Power above what there is and below what marks; the beam on where nothing is to burn; nothing
/// burned at all.
pub(super) fn beam(
    survey: &Survey<'_>,
    wrapped: bool,
    slowed: u64,
    below: u64,
    out: &mut Vec<Finding>,
) {
    let controller = &survey.setup.machine.controller;
    let full = controller.full_power_s;
    let percent = |s: f64| 100.0 * s / full;
    if let Some((least, most)) = survey.power.0 {
        if most.value > full * (1.0 + 1e-9) {
            let message = format!(
                "S{} is more than full power, which is S{}; give less, or correct `full_power`",
                fixed(most.value, 3),
                fixed(full, 3)
            );
            let finding = found(Code::Power, Severity::Error, most, message);
            out.push(finding.figures(percent(most.value), 100.0));
        }
        let floor = controller.least_power_percent;
        if percent(least.value) < floor {
            let how_many = if below > 0 {
                format!(", and so do {} in all", times(below, "move"))
            } else {
                String::new()
            };
            let message = format!(
                "a burn has {} % of full power{how_many}, and below {} % nothing marks; give more \
                 power and more speed",
                fixed(percent(least.value), 2),
                fixed(floor, 2)
            );
            let finding = found(Code::Power, Severity::Warning, least, message);
            out.push(finding.figures(percent(least.value), floor));
        }
    }
    if slowed > 0 {
        let message = format!(
            "an even dose would need more than full power for {}: they are slowed instead; give \
             less power, or less speed",
            times(slowed, "move")
        );
        out.push(Finding::new(Code::Power, Severity::Warning, message));
    }
    if let Some(worst) = survey.beam_on_travel.worst {
        let count = times(survey.beam_on_travel.count, "travel");
        let (severity, message) = if wrapped {
            (
                Severity::Error,
                format!("the beam is on during {count} (G0); write S0 or M5 before each"),
            )
        } else {
            (
                Severity::Note,
                format!("the beam is on during {count} (G0); `stave wrap` writes S0 there"),
            )
        };
        out.push(found(Code::BeamOnTravel, severity, worst, message));
    }
    if let Some(line) = survey.beam_on_end {
        let (severity, advice) = if wrapped {
            (Severity::Error, "end it with M5 and M2")
        } else {
            (Severity::Note, "`stave wrap` ends it with M5 and M2")
        };
        let message = format!("the program ends with the beam on, and without M2 or M30; {advice}");
        out.push(Finding::new(Code::BeamOnEnd, severity, message).on_line(line));
    }
    if survey.burns == 0 {
        let message = "nothing burns: no G1, G2 or G3 has the beam on with power; switch it on \
                       with M3 or M4 and an S word above 0";
        out.push(Finding::new(Code::NothingBurns, Severity::Error, message.to_owned()));
    }
}

/// Art drawn out, pressed together or sheared: told past 5° of angle or 5 % of area.
pub(super) fn distortion(angle: &Tally, area: &Tally, piece: Option<&str>, out: &mut Vec<Finding>) {
    const MOST_DEG: f64 = 5.0;
    const MOST_AREA: f64 = 0.05;
    let (Some(angle), Some(area)) = (angle.worst, area.worst) else { return };
    if angle.value <= MOST_DEG && area.value <= MOST_AREA {
        return;
    }
    let (worst, value, limit) = if angle.value > MOST_DEG {
        (angle, angle.value, MOST_DEG)
    } else {
        (area, 100.0 * area.value, 100.0 * MOST_AREA)
    };
    let message = format!(
        "the lay changes angles by up to {}° and areas by up to {} %; `stave lays` compares the \
         lays for this art, and an anchor nearer to the \
         middle of it costs less",
        fixed(angle.value, 1),
        fixed(100.0 * area.value, 1)
    );
    let mut finding = Finding::new(Code::Distortion, Severity::Warning, message)
        .at(worst.at_mm, worst.turn_rad)
        .figures(value, limit);
    match piece {
        Some(piece) => finding.piece = Some(piece.to_owned()),
        None => finding.line = Some(worst.line),
    }
    out.push(finding);
}
