//! Scan lines against the spot and the motor's steps.

use stave_check::{Code, Finding, Severity, optics, step_spacing};
use stave_setup::Setup;
use stave_toolpath::number::fixed;

/// Lines this far apart on the wall.
pub(super) struct Lines {
    /// What they are called: an operation, or the program.
    pub(super) what: String,
    pub(super) spacing_mm: f64,
    /// Where they step around the work: the wall's radius there, mm.
    pub(super) radius_mm: Option<f64>,
}

fn mm(value: f64) -> String {
    fixed(value, 4)
}

pub(super) fn spacing(setup: &Setup, lines: &Lines, out: &mut Vec<Finding>) {
    against_spot(setup, lines, out);
    against_steps(setup, lines, out);
}

fn against_spot(setup: &Setup, lines: &Lines, out: &mut Vec<Finding>) {
    let Some(lens) = &setup.job.lens else { return };
    let figures = optics(lens, setup.machine.beam.as_ref());
    let (Some(spot_mm), Some(finest_mm)) = (figures.spot_mm, figures.finest_spacing_mm) else {
        return;
    };
    let spacing_mm = lines.spacing_mm;
    // What rounding and the way a program was written leave open.
    let slack = 0.01 * spacing_mm;
    let (severity, limit, why) = if spacing_mm > spot_mm + slack {
        (
            Severity::Warning,
            spot_mm,
            "they leave gaps: set them closer, or burn a little out of focus",
        )
    } else if spacing_mm < finest_mm - slack {
        let why = "every place is burned more than twice and nothing finer is drawn: set them \
                   wider, and it takes less time";
        (Severity::Note, finest_mm, why)
    } else {
        return;
    };
    let message = format!(
        "the lines of {} are {} mm apart on the wall, and the spot of lens \"{}\" is {} mm; {why}",
        lines.what,
        mm(spacing_mm),
        lens.name,
        mm(spot_mm)
    );
    out.push(Finding::new(Code::SpacingSpot, severity, message).figures(spacing_mm, limit));
}

fn against_steps(setup: &Setup, lines: &Lines, out: &mut Vec<Finding>) {
    let (Some(radius_mm), Some(steps)) = (lines.radius_mm, setup.rotary_steps_per_turn()) else {
        return;
    };
    let found = step_spacing(lines.spacing_mm, radius_mm, steps);
    if !found.uneven {
        return;
    }
    let even = match found.even_mm {
        (Some(closer), wider) => format!("{} or {} mm", mm(closer), mm(wider)),
        (None, wider) => format!("{} mm", mm(wider)),
    };
    let message = format!(
        "the lines of {} are {} motor steps apart, so that gaps of {} and {} steps take turns and \
         show as bands; even are {even}",
        lines.what,
        fixed(found.steps, 2),
        fixed(found.steps.floor(), 0),
        fixed(found.steps.floor() + 1.0, 0)
    );
    out.push(
        Finding::new(Code::SpacingSteps, Severity::Warning, message)
            .figures(found.steps, found.steps.round().max(1.0)),
    );
}
