//! How long a flat program of scan lines takes once it is laid: followed move by move, and with its
//! lines scanned again.

use std::io::{self, Read};

use serde::{Deserialize, Serialize};
use stave_parse::gcode;
use stave_plan::{Nobody, Timer};
use stave_setup::Setup;
use stave_transform::Wrapper;

use crate::run::{
    Flat, Misfits, Paced, Quiet, Rescan, RunOut as _, ScanLines, Times, open, program_anchor,
};
use crate::source::Options;

/// How long a flat program of scan lines takes on its blank.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub struct ScanTimes {
    /// Laid move by move, seconds.
    pub follow_s: f64,
    /// Its scan lines scanned again, on lines along which the work stands still, seconds.
    pub again_s: f64,
}

/// Times a flat program as it would be laid on the setup's blank, by both ways that
/// [`Options::scan`] has; `None` where it has no scan lines, where it is a program for the rotary
/// already, and where it does not fit the blank. `begin` begins the program anew.
///
/// # Errors
/// Those of `begin`.
///
/// ```
/// use stave::{Options, Setup, scan_times, setup};
/// # let blank = "station = [{ at = 0, diameter = 80 }, { at = 100, diameter = 60 }]";
/// # let machine = "x = { speed = 500, acceleration = 5000 }
/// # y = { speed = 500, acceleration = 3000 }
/// # rotary = { word = 'A', units_per_turn = 360, speed = 360, acceleration = 2000 }";
/// # let blank = setup::read_blank(blank, "cone.toml")?;
/// # let machine = setup::read_machine(machine, "bench.toml")?;
/// # let setup = Setup::new(blank, machine, setup::JobFile::default())?;
/// // Twenty rows of 30 mm along the axis, some way around.
/// let mut rows = String::from("M4 S0\nF6000\n");
/// for row in 0..20 {
///     let y = 30.0 + 0.1 * f64::from(row);
///     rows += &format!("G0 X10 Y{y}\nG1 X40 S300\nS0\n");
/// }
/// let options = Options::default();
/// let times = scan_times(|| Ok(rows.as_bytes()), "rows.nc", &setup, &options)?.unwrap();
/// // Followed on a cone the work turns with every row.
/// assert!(times.again_s < times.follow_s);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn scan_times<R: Read>(
    mut begin: impl FnMut() -> io::Result<R>,
    name: &str,
    setup: &Setup,
    options: &Options,
) -> io::Result<Option<ScanTimes>> {
    let Some((again_s, true)) = laid_s(begin()?, name, setup, options, ScanLines::Again) else {
        return Ok(None);
    };
    let followed = laid_s(begin()?, name, setup, options, ScanLines::Follow);
    Ok(followed.map(|(follow_s, _)| ScanTimes { follow_s, again_s }))
}

/// How long a flat program takes laid so, and whether it has scan lines that were scanned again;
/// `None` where it does not fit.
fn laid_s(
    input: impl Read,
    name: &str,
    setup: &Setup,
    options: &Options,
    scan: ScanLines,
) -> Option<(f64, bool)> {
    let (made_for, input) = open(input, name).ok()?;
    if made_for.is_some() {
        return None;
    }
    let wrapper = Wrapper::new(setup, program_anchor(setup).ok()?).ok()?;
    let timer = Timer::new(&setup.machine, true, Nobody).ok()?;
    let out = Paced::new(setup, Quiet(timer)).ok()?;
    let how = (options.read.strict, options.pass);
    let flat = Flat::new(setup, wrapper, out, Misfits::Refuse, how);
    let mut run = Rescan::new(flat, scan, options.read.strict);
    let summary = gcode::read(input, &options.read, &mut run).ok()?;
    run.flat.end_of_input(&summary).ok()?;
    run.flat.out.settle().ok()?;
    let (times, _) = Times::of(run.flat.out.out.0).ok()?;
    let takes_s =
        times.sections.iter().map(|section| section.totals.duration_s() + section.dwell_s).sum();
    Some((takes_s, run.scanned > 0))
}
