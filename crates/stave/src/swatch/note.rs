//! `note`: what the chosen patch of a swatch was burned with, as a coating.

use stave_check::{Code, Finding};
use stave_rig::MadeFor;
use stave_setup::{Coating, Machine, NAME_ALLOWED, is_name};
use stave_toolpath::number::fixed;

use super::{setting, value};
use crate::error::Error;

/// Decimals of what a patch says of itself.
const DECIMALS: u32 = 5;

/// What a patch's comment says: its row and column, from 1 at the top left, and what it is burned
/// with.
pub(super) fn comment(
    row: usize,
    column: usize,
    (power, speed, spacing): (f64, f64, f64),
) -> String {
    format!(
        "patch {row},{column}: power {} speed {} spacing {}",
        fixed(power, DECIMALS),
        fixed(speed, DECIMALS),
        fixed(spacing, DECIMALS)
    )
}

/// Row, column, and power (percent), speed (mm/s), spacing (mm) of a patch's comment.
fn read(line: &str) -> Option<([usize; 2], [f64; 3])> {
    let inside = line.trim().strip_prefix("(patch ")?.strip_suffix(')')?;
    let (place, what) = inside.split_once(':')?;
    let (row, column) = place.split_once(',')?;
    let words: Vec<&str> = what.split_ascii_whitespace().collect();
    let ["power", power, "speed", speed, "spacing", spacing] = words.as_slice() else {
        return None;
    };
    let number = |text: &str| text.parse::<f64>().ok().filter(|one| one.is_finite() && *one > 0.0);
    Some((
        [row.parse().ok()?, column.parse().ok()?],
        [number(power)?, number(speed)?, number(spacing)?],
    ))
}

/// What the chosen patch of a swatch's program was burned with, as a coating of this name. Rows
/// and columns count from 1 at the top left; `name` is what messages call the program.
///
/// # Errors
/// A program without patches, or without this one; a name that is none.
///
/// ```
/// let swatch = "G21\n(patch 1,2: power 40 speed 200 spacing 0.0654)\nG0 X1\n";
/// let coating = stave::note(swatch, "swatch.nc", (1, 2), "blue")?;
/// assert_eq!(coating.power_percent, 40.0);
/// assert!(stave::note(swatch, "swatch.nc", (2, 2), "blue").is_err());
/// # Ok::<(), stave::Error>(())
/// ```
pub fn note(
    swatch: &str,
    name: &str,
    chosen: (usize, usize),
    coating: &str,
) -> Result<Coating, Error> {
    if !is_name(coating) {
        return Err(value("coating", &format!("must be {NAME_ALLOWED}")));
    }
    let patches: Vec<([usize; 2], [f64; 3])> = swatch.lines().filter_map(read).collect();
    let most = |axis: usize| patches.iter().filter_map(|(at, _)| at.get(axis).copied()).max();
    let (Some(rows), Some(columns)) = (most(0), most(1)) else {
        return Err(setting(&format!(
            "{name}: there is no comment `(patch ROW,COLUMN: …)` in it: give the program of a \
             table of patches, as `stave swatch --powers` writes it"
        )));
    };
    let found = patches.iter().find(|(at, _)| *at == [chosen.0, chosen.1]);
    let Some((_, [power, speed, spacing])) = found else {
        let allowed = format!(
            "{},{} is asked, but {name} has rows 1 to {rows} and columns 1 to {columns}",
            chosen.0, chosen.1
        );
        return Err(value("chosen", &allowed));
    };
    Ok(Coating {
        name: coating.to_owned(),
        speed_mm_per_s: *speed,
        power_percent: *power,
        line_spacing_mm: Some(*spacing),
    })
}

/// That a swatch was burned on another machine than the one a coating is noted for, or before its
/// file was changed otherwise than by coatings; `None` where neither is known of it.
#[must_use]
pub fn note_doubt(swatch: &str, machine: &Machine) -> Option<Finding> {
    let burned_on = MadeFor::of_head(swatch.as_bytes())?.ok()?;
    if let Some(other) = burned_on.differences(None, machine).first() {
        let message = format!("{other}: what burns well on one may not on the other");
        return Some(Finding::new(Code::Plausible, message));
    }
    // Coatings noted since make no other machine.
    let was = burned_on.files?.machine;
    let may_be = machine.values().digests_before("coating");
    if was == "-" || may_be.contains(&was) {
        return None;
    }
    let message = format!(
        "the file of \"{}\" was changed since the swatch was made (its digest was {was} and is {}): \
         the coating holds if power, beam and lens are what they were",
        machine.name,
        machine.values().digest()
    );
    Some(Finding::new(Code::Plausible, message))
}
