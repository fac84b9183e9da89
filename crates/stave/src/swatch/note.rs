//! `note`: what the chosen patch of a swatch was burned with, as a coating.

use stave_setup::{Coating, NAME_ALLOWED, is_name};
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
