//! `swatch`: patches of test burns, power against speed or spacing.

mod burn;
mod marks;
mod note;
mod report;
mod table;

use std::io::Write;

use stave_check::{Room, straightest};
use stave_setup::{Along, AxisLimits, Setup, Stands};
use stave_toolpath::number::fixed;
use stave_transform::run_up_mm;

use crate::error::Error;

pub use marks::{MarkGroup, MarkReport, MarksReport, SwatchTest, swatch_test};
pub use note::{note, note_doubt};
pub use report::{PatchReport, SwatchColumns, SwatchReport};

/// The most patches, and the most values of one side.
const MOST_PATCHES: usize = 400;
/// The greatest patch, mm.
const LARGEST_MM: f64 = 100.0;
/// The least spacing of lines, mm: no spot is finer.
const FINEST_MM: f64 = 0.005;

/// What a swatch is.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum SwatchKind {
    /// A table of patches: powers down, speeds or spacings across, each row and column labelled.
    #[default]
    Table,
    /// An arrow along +u and the letter R: whether `toward` and `reverse` are right.
    Arrow,
}

/// What a swatch tries.
#[derive(Clone, Debug, Default)]
pub struct SwatchOptions {
    /// What it is.
    pub kind: SwatchKind,
    /// The powers of the rows, percent.
    pub powers_percent: Vec<f64>,
    /// The speeds of the columns, mm/s; a single one, or none (the machine's for areas), where
    /// spacings are tried.
    pub speeds_mm_per_s: Vec<f64>,
    /// The spacings of the columns, mm; a single one, or none (the machine's for areas), where
    /// speeds are tried.
    pub spacings_mm: Vec<f64>,
    /// How large a patch is both ways, mm.
    pub size_mm: f64,
    /// Power, percent, and speed, mm/s, of labels and arrow; the machine's for lines where not
    /// given.
    pub label: Option<(f64, f64)>,
    /// The beam's full power, W, where it is known: energy is then told in J/cm².
    pub watts: Option<f64>,
    /// The middle along the axis, mm; the straightest part of the wall where not given.
    pub at_mm: Option<f64>,
    /// The middle about the axis, rad; clear of zones where not given.
    pub turn_rad: Option<f64>,
    /// Findings that are errors and are accepted.
    pub allow: Vec<stave_check::Code>,
}

/// Writes a program that burns a table of patches, or an arrow.
///
/// Scan lines run along the axis at constant turn, both ways, on whole motor steps, and come up to
/// speed in the dark. Each patch is true in size at its middle, with its power as given: what is
/// read off it holds for areas of that power, speed and spacing.
///
/// # Errors
/// Values that cannot be meant or that the machine cannot do; no room on the wall; errors of
/// writing.
pub fn swatch<W: Write>(
    output: W,
    setup: &Setup,
    options: &SwatchOptions,
) -> Result<SwatchReport, Error> {
    match options.kind {
        SwatchKind::Table => table_of_patches(output, setup, options),
        SwatchKind::Arrow => arrow(output, setup, options),
    }
}

fn table_of_patches<W: Write>(
    output: W,
    setup: &Setup,
    options: &SwatchOptions,
) -> Result<SwatchReport, Error> {
    let trial = Trial::new(setup, options)?;
    let table = table::table(&trial.powers, (trial.across, trial.columns()), options.size_mm);
    let fastest = trial.speeds.iter().copied().fold(0.0, f64::max);
    let room = room(&table, setup.job.stands, run_up_mm(fastest, along_axis(setup)));
    let job = burn::place(setup, room, options)?;
    burn::write(output, &job, &table, Some(&trial), trial.label, options)
}

fn arrow<W: Write>(
    output: W,
    setup: &Setup,
    options: &SwatchOptions,
) -> Result<SwatchReport, Error> {
    let label = label(setup, options, None)?;
    let table = table::arrow();
    let job = burn::place(setup, room(&table, setup.job.stands, 0.0), options)?;
    let mut report = burn::write(output, &job, &table, None, label, options)?;
    let (_, last) = setup.blank.wall.at_range_mm();
    report.notes.extend([
        format!(
            "burn it on tape. Seen from outside, the arrow points to the end whose `at` is larger \
             ({} mm), and beside it the R reads as an \
             R when the arrow points up",
            fixed(last, 2)
        ),
        "if the arrow points to the other end, the work is held the other way round: change \
         `toward` in the job"
            .into(),
    ]);
    report.notes.extend(match &setup.facet {
        Some(_) => [
            "if the R is mirrored, the axis across the work runs the other way in the controller; \
             `reverse` is the rotary's, which stands still here"
                .to_owned(),
            "if the R lies across the arrow or both are stretched, look at `along` and the \
             controller's steps"
                .to_owned(),
        ],
        None => [
            "if the R is mirrored, the rotary turns the other way: change `reverse` in the \
             machine file"
                .to_owned(),
            "if the R lies across the arrow or both are stretched, look at `along` and \
             `units_per_turn`"
                .to_owned(),
        ],
    });
    Ok(report)
}

/// The letter of the axis that scan lines run along.
fn along_letter(setup: &Setup) -> char {
    match setup.machine.rotary.along {
        Along::X => 'X',
        Along::Y => 'Y',
    }
}

/// The axis that scan lines run along.
fn along_axis(setup: &Setup) -> &AxisLimits {
    match setup.machine.rotary.along {
        Along::X => &setup.machine.x,
        Along::Y => &setup.machine.y,
    }
}

/// What is tried, checked.
struct Trial {
    powers: Vec<f64>,
    speeds: Vec<f64>,
    spacings: Vec<f64>,
    across: SwatchColumns,
    label: (f64, f64),
}

impl Trial {
    fn new(setup: &Setup, options: &SwatchOptions) -> Result<Self, Error> {
        let area = setup.machine.area.as_ref();
        let or = |given: &[f64], default: Option<f64>| {
            if given.is_empty() { default.into_iter().collect() } else { given.to_vec() }
        };
        let speeds = or(&options.speeds_mm_per_s, area.map(|area| area.speed_mm_per_s));
        let spacings = or(&options.spacings_mm, area.map(|area| area.line_spacing_mm));
        let powers = options.powers_percent.clone();
        if speeds.len() > 1 && spacings.len() > 1 {
            return Err(setting(
                "--speeds and --spacings: a table has one of them across; give a single value of the other",
            ));
        }
        if spacings.is_empty() {
            return Err(value(
                "spacings",
                "not given, and the machine file has no [area] to take the spacing of \
                 lines from",
            ));
        }
        if speeds.is_empty() {
            return Err(value(
                "speeds",
                "not given, and the machine file has no [area] to take the speed from",
            ));
        }
        each("powers", "percent, more than 0 and at most 100", &powers, |power| {
            power > 0.0 && power <= 100.0
        })?;
        each("speeds", "mm/s, more than 0", &speeds, |speed| speed > 0.0 && speed <= 1e5)?;
        let fits = |spacing: f64| (FINEST_MM..=options.size_mm).contains(&spacing);
        let allowed = format!("mm, from {} to the size of a patch", fixed(FINEST_MM, 3));
        each("spacings", &allowed, &spacings, fits)?;
        if !(options.size_mm > 0.0 && options.size_mm <= LARGEST_MM) {
            return Err(value(
                "size",
                &format!("must be more than 0 and at most {} mm", fixed(LARGEST_MM, 0)),
            ));
        }
        let across =
            if spacings.len() > 1 { SwatchColumns::Spacings } else { SwatchColumns::Speeds };
        let patches = powers.len() * speeds.len() * spacings.len();
        if patches > MOST_PATCHES {
            return Err(setting(&format!(
                "{patches} patches, but at most {MOST_PATCHES} are taken: try fewer powers or \
                 speeds"
            )));
        }
        let (most, letter) = (along_axis(setup).speed, along_letter(setup));
        if let Some(speed) = speeds.iter().find(|speed| **speed > most) {
            return Err(Error::TooFast {
                speed_mm_per_s: *speed,
                axis: letter,
                machine: setup.machine.name.clone(),
                most_mm_per_s: most,
            });
        }
        let middle = |list: &[f64]| list.get(list.len() / 2).copied();
        let label = label(setup, options, middle(&powers).zip(middle(&speeds)))?;
        Ok(Self { powers, speeds, spacings, across, label })
    }

    fn columns(&self) -> &[f64] {
        match self.across {
            SwatchColumns::Speeds => &self.speeds,
            SwatchColumns::Spacings => &self.spacings,
        }
    }

    /// Power, speed and spacing of a patch.
    fn of(&self, row: usize, column: usize) -> Option<(f64, f64, f64)> {
        let pick = |list: &[f64], across: SwatchColumns| {
            list.get(if self.across == across { column } else { 0 }).copied()
        };
        Some((
            *self.powers.get(row)?,
            pick(&self.speeds, SwatchColumns::Speeds)?,
            pick(&self.spacings, SwatchColumns::Spacings)?,
        ))
    }
}

/// Power and speed of labels: as given, else the machine's for lines, else `or`.
fn label(
    setup: &Setup,
    options: &SwatchOptions,
    or: Option<(f64, f64)>,
) -> Result<(f64, f64), Error> {
    let line = setup.machine.line.as_ref().map(|line| (line.power_percent, line.speed_mm_per_s));
    let (power, speed) = options.label.or(line).or(or).ok_or_else(|| {
        value(
            "label",
            "not given, and the machine file has no [line] to take power and speed of \
             lines from",
        )
    })?;
    if power > 0.0 && power <= 100.0 && speed > 0.0 && speed <= 1e5 {
        return Ok((power, speed));
    }
    Err(value("label", "must be POWER,SPEED: percent from 0 to 100, and mm/s, both more than 0"))
}

fn each(
    option: &'static str,
    allowed: &str,
    values: &[f64],
    holds: impl Fn(f64) -> bool,
) -> Result<(), Error> {
    if values.is_empty() {
        return Err(value(option, &format!("not given: {allowed}, such as 20,40,60")));
    }
    match values.iter().find(|value| !holds(**value)) {
        Some(given) => {
            Err(value(option, &format!("{} is given, but must be {allowed}", fixed(*given, 4))))
        }
        None => Ok(()),
    }
}

fn value(option: &'static str, allowed: &str) -> Error {
    Error::Value { option, allowed: allowed.to_owned() }
}

fn setting(message: &str) -> Error {
    Error::Setting(message.to_owned())
}

/// The room of a table on the wall.
fn room(table: &table::Table, stands: Stands, run_up_mm: f64) -> Room {
    let (along_mm, around_mm) = match stands {
        Stands::Lying => (table.width_mm, table.height_mm),
        Stands::Upright | Stands::Inverted => (table.height_mm, table.width_mm),
    };
    Room { along_mm, around_mm, run_up_mm, turned: (0.0, 0.0) }
}

/// Where the middle of a table lies.
fn find(setup: &Setup, room: Room, options: &SwatchOptions) -> Result<stave_check::Spot, Error> {
    // On a flat place: in its middle, for there is nothing beside it.
    let middle_rad = setup.facet.as_ref().map(|on| on.facet.turn_rad);
    let turn_rad = options.turn_rad.or(middle_rad);
    straightest(setup, room, options.at_mm, turn_rad).map_err(Error::NoRoom)
}
