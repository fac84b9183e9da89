//! Tilt, focus and lens for a stretch of wall.

use stave::number::fixed;
use stave::{LevelParts, LevelReport};

use super::table::{COLUMNS, beginning, left, width};

/// As a table for people.
pub(crate) fn level(report: &LevelReport) -> String {
    let n = |value: f64| fixed(value, 2);
    let maybe = |value: Option<f64>, decimals: u32| {
        value.map_or("?".to_owned(), |value| fixed(value, decimals))
    };
    let mut out = format!(
        "stretch            {} to {} mm\n\
         best tilt          {}° (positive raises the end with the larger `at`)\n\
         focus at           {} mm, {} mm below the highest crest\n\
         worst defocus      ±{} mm (without tilt ±{} mm)\n\
         to half a degree   {}°, focus at {} mm, ±{} mm\n\n\
         lens                  spot   depth of focus   finest lines   sharp\n",
        n(report.from),
        n(report.to),
        n(report.tilt_deg),
        n(report.focus_at),
        n(report.focus_offset_mm),
        n(report.defocus_mm),
        n(report.untilted_defocus_mm),
        fixed(report.set_tilt_deg, 1),
        n(report.set_focus_at),
        n(report.set_defocus_mm),
    );
    if let Some((turn, set)) = report.focus_turn_deg.zip(report.set_focus_turn_deg) {
        let turns = match fixed(turn, 1) == fixed(set, 1) {
            true => format!("{}°", fixed(turn, 1)),
            false => format!("{}° ({}° to half a degree)", fixed(turn, 1), fixed(set, 1)),
        };
        out = out.replacen(
            "\n\nlens",
            &format!("\n{:<18} {turns}, where the radius is the mean\n\nlens", "focus at turn"),
            1,
        );
    }
    if report.uneven_mm > 0.0 {
        out = out.replacen(
            "\n\nlens",
            &format!(
                "\n{:<18} ±{} mm of each defocus: the ware is not round or does not run \
                 true\n\nlens",
                "of that",
                n(report.uneven_mm)
            ),
            1,
        );
    }
    if let Some(raise_mm) = report.raise_mm.filter(|raise_mm| *raise_mm > 0.0) {
        let end = if report.set_tilt_deg > 0.0 { "larger" } else { "smaller" };
        let row = format!(
            "\n{:<18} raise the end with the {end} `at` by {} mm between the rotary's feet\n\nlens",
            format!("to set {}°", fixed(report.set_tilt_deg, 1)),
            fixed(raise_mm, 1)
        );
        out = out.replacen("\n\nlens", &row, 1);
    }
    for lens in &report.lenses {
        let sharp = match (lens.in_focus, &lens.longest_sharp) {
            (None, _) => {
                "not known: give the lens `depth_of_focus`, or the machine [beam]".to_owned()
            }
            (Some(true), _) => "all of it".to_owned(),
            (Some(false), Some(part)) => format!(
                "only {} to {} mm, at {}°, focus at {} mm{}",
                n(part.from),
                n(part.to),
                n(part.tilt_deg),
                n(part.focus_at),
                part.focus_turn_deg
                    .map_or(String::new(), |deg| format!(" turn {}°", fixed(deg, 1)))
            ),
            (Some(false), None) => "none of it".to_owned(),
        };
        // What is longer than its column stands below it.
        let sharp = match 61 + width(&sharp) > COLUMNS {
            true => format!("\n    {sharp}"),
            false => format!("   {sharp}"),
        };
        out.push_str(&format!(
            "{} {:>7} {:>16} {:>14}{sharp}\n",
            left(&beginning(&lens.name, 18), 18),
            maybe(lens.spot_mm, 3),
            lens.depth_of_focus_mm.map_or("?".to_owned(), |depth| format!("±{}", fixed(depth, 2))),
            maybe(lens.finest_spacing_mm, 3),
        ));
    }
    out.push_str("Lengths are mm; in focus the spot is at most a tenth larger.\n");
    out
}

/// Set-ups as a table for people.
pub(crate) fn level_parts(report: &LevelParts) -> String {
    let n = |value: f64| fixed(value, 2);
    // On ware that is not true the place to focus at has a turn.
    let has_turns = report.parts.iter().any(|part| part.focus_turn_deg.is_some());
    let turn = if has_turns { "  at turn" } else { "" };
    let mut out =
        format!("part       from         to     tilt    focus at{turn}   worst defocus\n");
    for (k, part) in report.parts.iter().enumerate() {
        let turn = part.focus_turn_deg.map_or(String::new(), |deg| format!("{}°", fixed(deg, 1)));
        out.push_str(&format!(
            "{:>4} {:>10} {:>10} {:>8} {:>11}{} {:>15}\n",
            k + 1,
            n(part.from),
            n(part.to),
            format!("{}°", fixed(part.tilt_deg, 1)),
            n(part.focus_at),
            if has_turns { format!("{turn:>9}") } else { turn },
            format!("±{}", n(part.defocus_mm)),
        ));
    }
    out.push_str(&format!(
        "Lengths are mm; lens {} is sharp within ±{} mm.\n\
         Burn each with `stave wrap --part N`.\n",
        report.lens,
        n(report.depth_of_focus_mm)
    ));
    out
}
