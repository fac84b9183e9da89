//! Swatches that measure: marks, one a value of a key of the machine file. The parts of the mark
//! whose value is true meet, or its line is the thinnest.

mod lay_out;
mod plan;

use std::io::Write;

use serde::{Deserialize, Serialize};
use stave_check::{Finding, NoRoom};
use stave_rig::Swatch;
use stave_setup::{Dose, Lag, Setup};
use stave_toolpath::number::fixed;

use super::{SwatchOptions, setting};
use crate::error::Error;

/// What is measured.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum SwatchTest {
    /// Units of a turn (the scale of a roller), and the rotary's play.
    Turn,
    /// The time between a word and its light.
    Lag,
    /// The height of the focus.
    FocusLadder,
    /// How dark so many powers come out.
    Wedge(u32),
}

impl SwatchTest {
    /// Its name.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        self.what().as_str()
    }

    fn what(self) -> Swatch {
        match self {
            Self::Turn => Swatch::Turn,
            Self::Lag => Swatch::Lag,
            Self::FocusLadder => Swatch::FocusLadder,
            Self::Wedge(_) => Swatch::Wedge,
        }
    }
}

/// A swatch that measures. Keys carry their units.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct MarksReport {
    /// What it measures.
    pub test: String,
    /// The marks of each key; under a speed of their own where it counts.
    pub groups: Vec<MarkGroup>,
    /// The blank it is for.
    pub blank: String,
    /// Its middle along the axis, mm.
    pub at: f64,
    /// Its middle about the axis.
    pub turn_deg: f64,
    /// Seconds at the asked speeds alone.
    pub nominal_s: f64,
    /// What is to be set before the run, as the program's head has it.
    pub set_up: String,
    /// What the judge found.
    pub findings: Vec<Finding>,
    /// How to read it, a sentence each.
    pub notes: Vec<String>,
}

/// The marks of one key.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub struct MarkGroup {
    /// The key of the machine file that takes the value; `focus` is the height of the head above
    /// focus.
    pub key: String,
    /// What its values are counted in.
    pub unit: String,
    /// The speed on the wall at which its ticks are burned.
    pub speed_mm_per_s: f64,
    /// The marks, values growing.
    pub marks: Vec<MarkReport>,
}

/// One mark.
#[derive(Clone, Copy, Debug, Deserialize, Serialize)]
pub struct MarkReport {
    /// What it says, as its label has it.
    pub value: f64,
    /// The first and the last line of its ticks, labels apart.
    pub lines: [u64; 2],
    /// Its middle along the axis, mm.
    pub at: f64,
    /// Its middle about the axis.
    pub turn_deg: f64,
    /// The power at which it is burned. Of a patch of a wedge it is the value times the spacing of
    /// its lines over the one asked, as pictures under an even dose have it.
    pub power_percent: f64,
    /// The speed on the wall: less than its group's where more than full power were needed.
    pub speed_mm_per_s: f64,
    /// How far the lines of a patch lie apart; null for ticks.
    pub line_spacing_mm: Option<f64>,
    /// How far they were asked to: what its value stands for.
    pub line_spacing_asked_mm: Option<f64>,
}

impl MarksReport {
    /// As JSON.
    ///
    /// # Errors
    /// None in practice: every figure can be written.
    pub fn to_json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self)
    }
}

/// Writes a program that burns the marks of a test. Neither lag nor play of the machine file is
/// applied: it is they that show.
///
/// # Errors
/// Values that cannot be meant or that the machine cannot do; no room on the wall; errors of
/// writing.
pub fn swatch_test<W: Write>(
    mut output: W,
    setup: &Setup,
    test: SwatchTest,
    options: &SwatchOptions,
) -> Result<MarksReport, Error> {
    if test == SwatchTest::Turn && setup.facet.is_some() {
        return Err(setting(
            "--turn: on a flat place the rotary stands still; take the facet out of the job",
        ));
    }
    let mut bare = setup.clone();
    bare.machine.rotary.backlash = 0.0;
    bare.machine.lag = Lag::default();
    let mut turns = plan::FAR_TURNS;
    let (program, mut report) = loop {
        let groups = plan::groups(&bare, test, turns, options)?;
        match lay_out::write(&bare, test.what(), &groups, options) {
            // A rotary that cannot go so far may go fewer turns.
            Err(Error::NoRoom(NoRoom::Rotary { .. })) if test == SwatchTest::Turn && turns > 1 => {
                turns -= 1;
            }
            done => break done?,
        }
    };
    report.notes.extend(plan::notes(&bare, test, turns));
    if matches!(test, SwatchTest::Wedge(_)) {
        let marks = report.groups.iter().flat_map(|group| &group.marks);
        let marks: Vec<MarkReport> = marks.copied().collect();
        report.notes.extend(spacing_note(&marks, setup.job.dose));
    }
    output.write_all(&program).and_then(|()| output.flush()).map_err(Error::Output)?;
    Ok(report)
}

/// What the labels of a wedge stand for, where its lines do not lie as far apart as asked.
fn spacing_note(marks: &[MarkReport], dose: Option<Dose>) -> Option<String> {
    let asked_mm = marks.first()?.line_spacing_asked_mm?;
    let spacings = || marks.iter().filter_map(|mark| mark.line_spacing_mm);
    let least = spacings().fold(f64::INFINITY, f64::min);
    let most = spacings().fold(0.0, f64::max);
    if fixed(least, 4) == fixed(asked_mm, 4) && fixed(most, 4) == fixed(asked_mm, 4) {
        return None;
    }
    let lie = if most - least < 5e-5 {
        fixed(most, 4)
    } else {
        format!("{} to {}", fixed(least, 4), fixed(most, 4))
    };
    let means = match dose {
        Some(Dose::AsGiven) => {
            "under dose = \"as-given\" its labels are the power itself: they hold for pictures that \
             are burned so and get the same spacing"
        }
        _ => {
            "each patch gets its label's power times one over the other, as pictures under an even \
             dose do: a label is the power at the spacing asked"
        }
    };
    Some(format!("lines lie {lie} mm apart where {} mm are asked; {means}", fixed(asked_mm, 4)))
}
