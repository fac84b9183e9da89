//! A drawing: what keeps it from being laid, piece by piece, and then the program it makes.

use stave_check::{ANGLE_WARNING_RAD, Code, Finding, SIZE_WARNING, Severity};
use stave_setup::{Setup, ZoneRule};
use stave_toolpath::number::fixed;
use stave_transform::{Hit, Misfit, plan_art};

use super::report::CheckReport;
use super::survey::Survey;
use super::{as_wrapped, judge, plan_error, survey_wrapped, wrapped_spacing};
use crate::error::Error;
use crate::layout::{ArtOptions, ArtSource, Layout, Purpose};
use crate::lays::as_laid;
use crate::report::PieceAsLaid;
use crate::wrap_art::{burns_of, write_art};

/// The comment that says which pieces burn from here on.
const PIECES: &str = "(piece ";

/// Checks a drawing against blank, machine and job: what keeps a piece from being laid is told for
/// each; where all can be laid, the program it makes is checked as
/// [`check_program`](crate::check_program) would.
///
/// # Errors
/// A drawing that cannot be read, art without speed and power, a setting that cannot be meant.
///
/// ```
/// use stave::{ArtOptions, ArtSource, Setup, check_art, setup};
/// let blank = setup::read_blank("[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n", "can.toml")?;
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n[line]\nspeed = 60\npower = 20\n", "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::read_job("place = { at = 90.0 }", "job.toml")?)?;
/// let report = check_art(ArtSource::Path("M0 0H20V20H0Z"), &setup, &ArtOptions::default())?;
/// assert!(!report.fit && report.findings[0].code == "off-wall" && report.findings[0].piece.is_some());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn check_art(
    source: ArtSource<'_>,
    setup: &Setup,
    options: &ArtOptions,
) -> Result<CheckReport, Error> {
    let layout = Layout::read(source, setup, options, Purpose::Burn)?;
    layout.check_labels(&setup.blank.wall)?;
    let burns = burns_of(&layout, source, setup);
    let hits = plan_art(&burns, setup).err().unwrap_or_default();
    let mut findings: Vec<Finding> = hits.iter().map(|hit| of_hit(hit, &layout)).collect();
    let laid = as_laid(&layout, setup);
    findings.extend(laid.pieces.iter().filter_map(distortion));
    let overlap = |text| Finding::new(Code::Overlap, Severity::Warning, text);
    findings.extend(laid.overlaps.into_iter().map(overlap));
    let warnings = layout.warnings.clone();
    // A burn in a zone need not keep back what else is to be found.
    let mut passing = setup.clone();
    if passing.job.zones == ZoneRule::Refuse {
        passing.job.zones = ZoneRule::Ignore;
    }
    let Ok(plan) = plan_art(&burns, &passing) else {
        let survey = Survey::new(setup, as_wrapped(setup), false).map_err(plan_error)?;
        let focus = judge::focus(&survey);
        return Ok(CheckReport::new(setup, findings, &[], &focus, warnings));
    };
    let mut program = Vec::new();
    write_art(&layout, &plan, &mut program, &passing)?;
    let pieces = pieces_by_line(&program);
    let survey = survey_wrapped(&program, setup)?;
    wrapped_spacing(&survey, &mut findings);
    let zones_told = findings.iter().any(|finding| finding.code == Code::Zone);
    let mut report = super::report(&survey, false, 0, 0, findings, warnings, |mut found| {
        // Which piece it is says more than a line of a program that nobody has.
        found.piece = found.piece.or_else(|| piece_on(&pieces, found.line));
        found.line = None;
        Some(found).filter(|found| {
            found.code != Code::Zone || !zones_told || found.severity == Severity::Note
        })
    });
    report.nozzles.iter_mut().for_each(|nozzle| nozzle.line = None);
    Ok(report)
}

fn of_hit(hit: &Hit, layout: &Layout) -> Finding {
    let operation =
        layout.operations.get(hit.operation).map_or("art", |operation| operation.name.as_str());
    let message = format!("operation \"{operation}\": {}", hit.misfit);
    let mut finding = match &hit.misfit {
        Misfit::OffWall { at_mm, wall_mm } => {
            let past = (wall_mm.0 - at_mm).max(at_mm - wall_mm.1);
            let mut finding =
                Finding::new(Code::OffWall, Severity::Error, message).figures(past, 0.0);
            finding.at_mm = Some(*at_mm);
            finding
        }
        Misfit::Reach { at_mm, slope_deg, steepest_deg } => {
            let mut finding = Finding::new(Code::Reach, Severity::Error, message)
                .figures(slope_deg.abs(), *steepest_deg);
            finding.at_mm = Some(*at_mm);
            finding
        }
        Misfit::Zone { at_mm, turn_deg, .. } => {
            Finding::new(Code::Zone, Severity::Error, message).at(*at_mm, turn_deg.to_radians())
        }
        _ => Finding::new(Code::TravelLimit, Severity::Error, message),
    };
    finding.piece = layout.pieces.get(hit.piece).map(|piece| piece.id.clone());
    finding
}

/// What a lay makes of a piece, where it is more than a person should let pass.
fn distortion(piece: &PieceAsLaid) -> Option<Finding> {
    let figures = &piece.figures;
    let most_deg = ANGLE_WARNING_RAD.to_degrees();
    let sizes = [figures.width_max, figures.height_max];
    let size = sizes.into_iter().flatten().map(|scale| (scale - 1.0).abs()).fold(0.0, f64::max);
    let omega_deg = figures.omega_max_deg.unwrap_or(0.0);
    let (value, limit) = if omega_deg >= most_deg {
        (omega_deg, most_deg)
    } else if size >= SIZE_WARNING {
        (100.0 * size, 100.0 * SIZE_WARNING)
    } else {
        return None;
    };
    let message = format!(
        "lay {} changes angles by up to {}° and sizes by up to {} %; `stave lays` says which lay \
         suits this piece",
        piece.lay,
        fixed(omega_deg, 1),
        fixed(100.0 * size, 1)
    );
    let mut finding =
        Finding::new(Code::Distortion, Severity::Warning, message).figures(value, limit);
    finding.piece = Some(piece.id.clone());
    Some(finding)
}

/// The lines from which on pieces burn, and which.
fn pieces_by_line(program: &[u8]) -> Vec<(u64, String)> {
    let text = String::from_utf8_lossy(program);
    let named = |line: &str| {
        let inside = line.strip_prefix(PIECES)?.strip_suffix(')')?;
        Some(inside.rsplit_once(": ").map_or(inside, |(pieces, _)| pieces).to_owned())
    };
    (1..).zip(text.lines()).filter_map(|(number, line)| Some((number, named(line)?))).collect()
}

fn piece_on(pieces: &[(u64, String)], line: Option<u64>) -> Option<String> {
    let line = line?;
    pieces.iter().rev().find(|(from, _)| *from <= line).map(|(_, piece)| piece.clone())
}
