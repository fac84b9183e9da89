//! `level`: tilt, focus and lens for a stretch of wall.

use serde::{Deserialize, Serialize};
use stave_check::Tilted;
use stave_setup::{Blank, Lens, Machine};

use crate::error::Error;

/// How to set up for a stretch of wall. Keys carry their units: mm unless they say degrees.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct LevelReport {
    /// Where the stretch begins along the axis, mm.
    pub from: f64,
    /// Where it ends, mm.
    pub to: f64,
    /// The tilt at which it lies most nearly level; positive raises the end with the larger `at`.
    pub tilt_deg: f64,
    /// How far the crest strays from the focus at worst, over a whole turn.
    pub defocus_mm: f64,
    /// What of that comes of ware that is not round or does not run true.
    pub uneven_mm: f64,
    /// Where along the axis to focus, mm.
    pub focus_at: f64,
    /// At which turn, the one nearest to turn 0 whose radius there is the mean; null on ware that
    /// is round and runs true, where it does not matter.
    pub focus_turn_deg: Option<f64>,
    /// How far the focus lies below the highest crest.
    pub focus_offset_mm: f64,
    /// The best tilt a hand can set, to half a degree.
    pub set_tilt_deg: f64,
    /// The worst defocus at that tilt.
    pub set_defocus_mm: f64,
    /// Where to focus at that tilt, mm.
    pub set_focus_at: f64,
    /// At which turn, as `focus_turn_deg`.
    pub set_focus_turn_deg: Option<f64>,
    /// The worst defocus without tilt.
    pub untilted_defocus_mm: f64,
    /// What each lens of the machine makes of it.
    pub lenses: Vec<LensReport>,
    /// By how much to raise one end of the rotary for `set_tilt_deg`, the end with the larger `at`
    /// where that is positive; null where the machine does not say how far apart its feet stand.
    #[serde(default)]
    pub raise_mm: Option<f64>,
}

/// What one lens makes of the stretch.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct LensReport {
    /// Its name.
    pub name: String,
    /// Diameter of its spot in focus; null where neither lens nor beam file tells.
    pub spot_mm: Option<f64>,
    /// The half depth of focus, ±: the spot grows by a tenth.
    pub depth_of_focus_mm: Option<f64>,
    /// Whether all of the stretch stays sharp at the best tilt.
    pub in_focus: Option<bool>,
    /// The finest sensible spacing of scan lines: half the spot.
    pub finest_spacing_mm: Option<f64>,
    /// The longest part that stays sharp under a tilt of its own, where the whole does not.
    pub longest_sharp: Option<SharpReport>,
}

/// A part of the stretch that stays sharp.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct SharpReport {
    /// Where it begins, mm.
    pub from: f64,
    /// Where it ends, mm.
    pub to: f64,
    /// Its own best tilt.
    pub tilt_deg: f64,
    /// Where to focus for it, mm.
    pub focus_at: f64,
    /// At which turn, as the report's own `focus_turn_deg`.
    #[serde(default)]
    pub focus_turn_deg: Option<f64>,
}

/// Finds tilt, focus and lens for the wall from `from_mm` to `to_mm` along the axis; an end not
/// given is the wall's. `lens` names the one to tell of, where it is not to be all of them.
///
/// # Errors
/// A machine without that lens; a stretch that is not on the wall, or that no tilt brings within
/// reach (exit status 1).
pub fn level(
    blank: &Blank,
    machine: &Machine,
    lens: Option<&str>,
    from_mm: Option<f64>,
    to_mm: Option<f64>,
) -> Result<LevelReport, Error> {
    let alone = match lens {
        Some(_) => {
            let lenses = vec![lens_of(machine, lens)?.clone()];
            let mut alone = machine.clone();
            alone.lenses = lenses;
            Some(alone)
        }
        None => None,
    };
    let machine = alone.as_ref().unwrap_or(machine);
    let (first, last) = blank.wall.at_range_mm();
    let found = stave_check::level(
        (&blank.wall, &blank.running),
        machine,
        from_mm.unwrap_or(first),
        to_mm.unwrap_or(last),
    )?;
    // Adding nothing turns a minus zero into zero.
    let deg = |tilted: &Tilted| tilted.sharpness.tilt_rad.to_degrees() + 0.0;
    let best = &found.best.sharpness;
    let turn_deg = |at_mm: f64| mean_turn_deg(blank, at_mm);
    // The feet lie under one plane, which the span is measured along.
    let set_sin = found.set.sharpness.tilt_rad.abs().sin();
    Ok(LevelReport {
        from: found.best.stretch.from_at_mm,
        to: found.best.stretch.to_at_mm,
        tilt_deg: deg(&found.best),
        defocus_mm: best.defocus_mm + found.uneven_mm,
        uneven_mm: found.uneven_mm,
        focus_at: best.focus_at_mm,
        focus_turn_deg: turn_deg(best.focus_at_mm),
        focus_offset_mm: best.offset_mm,
        set_tilt_deg: deg(&found.set),
        set_defocus_mm: found.set.sharpness.defocus_mm + found.uneven_mm,
        set_focus_at: found.set.sharpness.focus_at_mm,
        set_focus_turn_deg: turn_deg(found.set.sharpness.focus_at_mm),
        untilted_defocus_mm: found.untilted.sharpness.defocus_mm + found.uneven_mm,
        lenses: found
            .lenses
            .iter()
            .map(|lens| LensReport {
                name: lens.name.clone(),
                spot_mm: lens.optics.spot_mm,
                depth_of_focus_mm: lens.optics.half_depth_mm,
                in_focus: lens.in_focus,
                finest_spacing_mm: lens.optics.finest_spacing_mm,
                longest_sharp: lens.longest.as_ref().map(|part| SharpReport {
                    from: part.stretch.from_at_mm,
                    to: part.stretch.to_at_mm,
                    tilt_deg: deg(part),
                    focus_at: part.sharpness.focus_at_mm,
                    focus_turn_deg: turn_deg(part.sharpness.focus_at_mm),
                }),
            })
            .collect(),
        raise_mm: machine.rotary.support_span_mm.map(|span_mm| span_mm * set_sin),
    })
}

/// The turn nearest to turn 0 at which the radius is the mean, degrees; `None` on ware that is
/// round and runs true.
fn mean_turn_deg(blank: &Blank, at_mm: f64) -> Option<f64> {
    let turn_rad = blank.running.mean_turn_rad(at_mm, 0.0);
    // Adding nothing turns a minus zero into zero.
    turn_rad.map(|turn_rad| turn_rad.to_degrees() + 0.0)
}

/// The machine's lens of that name, or its first.
fn lens_of<'a>(machine: &'a Machine, name: Option<&str>) -> Result<&'a Lens, Error> {
    let mut lenses = machine.lenses.iter();
    let lens = match name {
        Some(name) => lenses.find(|lens| lens.name == name),
        None => lenses.next(),
    };
    lens.ok_or_else(|| {
        let names: Vec<String> =
            machine.lenses.iter().map(|lens| format!("\"{}\"", lens.name)).collect();
        let allowed = match names.as_slice() {
            [] => "of the machine, which has no [[lens]]".to_owned(),
            names => format!("one of the machine's: {}", names.join(", ")),
        };
        Error::Value { option: "lens", allowed }
    })
}

/// A stretch of wall divided into set-ups. Lengths mm.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct LevelParts {
    /// The lens they are sharp with.
    pub lens: String,
    /// Its half depth of focus, ±.
    pub depth_of_focus_mm: f64,
    /// The set-ups, in order along the axis, without a gap.
    pub parts: Vec<PartReport>,
}

/// One set-up: tilt the rotary, focus there, burn what lies between.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct PartReport {
    /// Where its stretch begins along the axis, mm.
    pub from: f64,
    /// Where it ends, mm.
    pub to: f64,
    /// The tilt to set; positive raises the end with the larger `at`.
    pub tilt_deg: f64,
    /// How far the crest strays from the focus at worst, over a whole turn.
    pub defocus_mm: f64,
    /// Where along the axis to focus, mm.
    pub focus_at: f64,
    /// At which turn, the one nearest to turn 0 whose radius there is the mean; null on ware that
    /// is round and runs true.
    #[serde(default)]
    pub focus_turn_deg: Option<f64>,
}

/// Divides the wall from `from_mm` to `to_mm` along the axis (an end not given is the wall's) into
/// the fewest set-ups that a lens keeps sharp: the one named, else the machine's first.
///
/// # Errors
/// A machine without that lens, or one of which nothing tells the depth of focus; a stretch that is
/// not on the wall; a place that no tilt keeps sharp (exit status 1).
pub fn level_parts(
    blank: &Blank,
    machine: &Machine,
    lens: Option<&str>,
    from_mm: Option<f64>,
    to_mm: Option<f64>,
) -> Result<LevelParts, Error> {
    let lens = lens_of(machine, lens)?;
    let (first, last) = blank.wall.at_range_mm();
    let (from, to) = (from_mm.unwrap_or(first), to_mm.unwrap_or(last));
    let ware = (&blank.wall, &blank.running);
    let parts = stave_check::level_parts(ware, machine, lens, from, to)?;
    let parts = parts.iter().map(|part| {
        let (from, to) = (part.stretch.from_at_mm, part.stretch.to_at_mm);
        PartReport {
            from,
            to,
            tilt_deg: part.sharpness.tilt_rad.to_degrees() + 0.0,
            defocus_mm: part.sharpness.defocus_mm + blank.running.most_mm(from, to),
            focus_at: part.sharpness.focus_at_mm,
            focus_turn_deg: mean_turn_deg(blank, part.sharpness.focus_at_mm),
        }
    });
    let depth = stave_check::optics(lens, machine.beam.as_ref()).half_depth_mm;
    Ok(LevelParts {
        lens: lens.name.clone(),
        depth_of_focus_mm: depth.unwrap_or(0.0),
        parts: parts.collect(),
    })
}

impl LevelParts {
    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}

/// What [`level`] found as a picture from the side: the wall at the tilt a hand can set, the
/// stretch with the band in which the first lens is sharp, the first nozzle where the band is left
/// or, if it never is, at the focus; with a date, if one is given.
#[cfg(feature = "pictures")]
#[must_use]
pub fn level_svg(blank: &Blank, machine: &Machine, report: &LevelReport, date: &str) -> String {
    use stave_picture::LevelWords;
    use stave_picture::proof::Lies;
    use stave_toolpath::number::fixed;
    use stave_wall::Crest;

    let wall = &blank.wall;
    let crest = Crest::new(report.set_tilt_deg.to_radians());
    let (from_s, to_s) = (wall.s_of_at(report.from), wall.s_of_at(report.to));
    let focus_s = wall.s_of_at(report.set_focus_at);
    let focus_mm = crest.height_mm(&wall.section(focus_s, &mut 0));
    let lens = report.lenses.first();
    let half_depth_mm = lens.and_then(|lens| lens.depth_of_focus_mm);
    let lies = Lies {
        tilt_rad: report.set_tilt_deg.to_radians(),
        focus_height_mm: Some(focus_mm),
        half_depth_mm,
        nozzle_mm: machine.nozzles.first().map(|nozzle| (nozzle.radius_mm, nozzle.gap_mm)),
        head: crate::shapes::head(machine.nozzles.first(), machine, stave_setup::Toward::XPlus),
        beside: crate::shapes::beside(blank, machine, blank.wall.at_range_mm().0),
        nozzle_s_mm: focus_s,
        burned_s_mm: Some((from_s, to_s)),
        walked_s_mm: None,
        stretches_s_mm: Vec::new(),
        burned_turn_rad: None,
        burned_around_mm: None,
        mirrored: false,
        set_up: None,
    };
    let unit = blank.unit();
    let highest_mm = wall
        .sections_between(from_s, to_s)
        .iter()
        .map(|(_, section)| crest.height_mm(section))
        .fold(focus_mm, f64::max);
    let mut lines = vec![
        format!(
            "focus on the wall at {}{}, {} below the highest crest of the stretch",
            unit.told(report.set_focus_at, 2),
            report
                .set_focus_turn_deg
                .map_or(String::new(), |deg| format!(", turn {}°", fixed(deg, 1))),
            unit.told(highest_mm - focus_mm, 2)
        ),
        format!(
            "thick, {} to {}: with tilt {}° it is at most {} mm out of focus",
            unit.figure(report.from, 2),
            unit.told(report.to, 2),
            fixed(report.set_tilt_deg, 1),
            fixed(report.set_defocus_mm, 2)
        ),
    ];
    if let Some(nozzle) = machine.nozzles.first() {
        lines.push(over_the_wall(blank, report, nozzle, focus_mm));
    }
    let words = LevelWords {
        title: format!("{}: level", stave_toolpath::xml::isolated(&blank.name)),
        date: date.to_owned(),
        lines,
        support_span_mm: machine.rotary.support_span_mm,
        nozzle: machine.nozzles.first().map(|nozzle| nozzle.name.clone()),
        lens: lens.map(|lens| lens.name.clone()),
    };
    stave_picture::level(blank, &lies, &words)
}

/// How near a nozzle comes to the wall along the stretch with the focus at a height, mm, a
/// sentence. What sticks out of the wall, and the rotary, a job is checked against.
#[cfg(feature = "pictures")]
fn over_the_wall(
    blank: &Blank,
    report: &LevelReport,
    nozzle: &stave_setup::Nozzle,
    focus_mm: f64,
) -> String {
    use stave_toolpath::number::fixed;

    let (wall, tilt_rad) = (&blank.wall, report.set_tilt_deg.to_radians());
    let crest = stave_wall::Crest::new(tilt_rad);
    let along = [report.from, report.to]
        .map(|at_mm| crest.along_mm(&wall.section(wall.s_of_at(at_mm), &mut 0)));
    let (low, high) = (along[0].min(along[1]), along[0].max(along[1]));
    // Past its ends there is no wall.
    let ends = [0.0, wall.length_mm()].map(|s_mm| crest.along_mm(&wall.section(s_mm, &mut 0)));
    let heights = stave_rig::CrestLine::new(wall, tilt_rad).heights_mm(
        (low - nozzle.radius_mm).max(ends[0].min(ends[1])),
        (high + nozzle.radius_mm).min(ends[0].max(ends[1])),
    );
    let highest_mm = heights.map_or(focus_mm, |(_, most)| most);
    // What runs out comes nearer, somewhere in a turn.
    let (first_mm, last_mm) = wall.at_range_mm();
    let nearer_mm = blank.running.most_mm(first_mm, last_mm);
    let gap_mm = focus_mm + nozzle.gap_mm - highest_mm - nearer_mm;
    let name = &nozzle.name;
    if gap_mm < 0.0 {
        return format!(
            "nozzle {name} would strike the wall, {} mm deep: set the stretch up in parts (level \
             --parts), or fit a nozzle with a wider gap",
            fixed(-gap_mm, 1)
        );
    }
    format!("nozzle {name} comes as near as {} mm to the wall along the stretch", fixed(gap_mm, 1))
}

impl LevelReport {
    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}

#[cfg(feature = "pictures")]
#[cfg(test)]
mod tests {
    use stave_setup::{read_blank, read_machine};

    use super::*;

    const MACHINE: &str = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\n\
                           acceleration = 5000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\n\
                           speed = 360\nacceleration = 2000\n[[nozzle]]\nname = \"barrel\"\n\
                           radius = 9\ngap = 6\n";

    /// What the picture says of the nozzle over a wall of such stations.
    fn told(stations: &[(f64, f64)], from_mm: f64, to_mm: f64) -> String {
        let stations: String = stations
            .iter()
            .map(|(at, d)| format!("[[station]]\nat = {at:?}\ndiameter = {d:?}\n"))
            .collect();
        let blank = read_blank(&stations, "blank.toml").unwrap();
        let machine = read_machine(MACHINE, "machine.toml").unwrap();
        let report = level(&blank, &machine, None, Some(from_mm), Some(to_mm)).unwrap();
        level_svg(&blank, &machine, &report, "")
    }

    #[test]
    fn the_nozzle_s_gap_is_that_over_all_it_passes() {
        let can = [(0.0, 60.0), (100.0, 60.0)];
        assert!(told(&can, 10.0, 90.0).contains("comes as near as 6 mm to the wall"));
        // A shoulder of 4 mm, 5 mm past the stretch: the nozzle reaches over it.
        let near = [(0.0, 60.0), (60.0, 60.0), (60.5, 68.0), (100.0, 68.0)];
        assert!(told(&near, 10.0, 55.0).contains("comes as near as 2 mm to the wall"));
        // Farther than the nozzle reaches it does not count.
        assert!(told(&near, 10.0, 50.0).contains("comes as near as 6 mm to the wall"));
        let high = [(0.0, 60.0), (60.0, 60.0), (60.5, 80.0), (100.0, 80.0)];
        assert!(told(&high, 10.0, 55.0).contains("would strike the wall, 4 mm deep"));
    }
}
