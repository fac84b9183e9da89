//! `proof`: what a program burns, seen before a blank is spent.
//!
//! The moves of the program itself are brought back to the wall by what its line 1 says, or by what
//! was given in its stead, so that a mistake anywhere shows: in the art, in the wrapping, in the
//! files it is held against.

use std::io::{Cursor, Read};

use stave_parse::gcode::ReadOptions;
use stave_picture::proof::{BurnMap, Finding, Lies, Proof, Severity, TrackPoint};
use stave_setup::{Blank, Setup};
use stave_write::gcode::CAUTIONS;

use crate::error::Error;
use crate::estimate::{EstimateOptions, time_moves};
use crate::header::WrappedFor;

mod figures;
mod findings;
mod gather;

use gather::Gathered;

/// The most of a program that is looked at for its first line.
const FIRST_LINE: u64 = 64 * 1024;
/// The width of a burn where no lens tells, mm (common practice, no source).
const ASSUMED_SPOT_MM: f64 = 0.15;

/// How a program is read and named.
#[derive(Clone, Debug, Default)]
pub struct ProofOptions {
    /// How the program is read.
    pub read: ReadOptions,
    /// The input's name in messages; "standard input" where empty.
    pub name: String,
    /// The name of the piece on the pictures; the blank's where empty.
    pub title: String,
    /// What is known of its lay.
    pub laid: Laid,
    /// The least and the greatest spacing of scan lines on the wall, mm, where it is known from
    /// wrapping.
    pub spacing_mm: Option<(f64, f64)>,
}

/// How a program was laid: its first line does not tell what it was reckoned from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Laid {
    /// Not known.
    #[default]
    Unknown,
    /// As a program, by the setup's own job.
    Drawing,
    /// As art, with this greatest error of an angle, rad.
    Art {
        /// ω, rad.
        omega_rad: f64,
    },
}

/// A program brought back to the wall, ready to be drawn.
#[derive(Clone, Debug)]
pub struct ProvenProgram {
    blank: Blank,
    stands: stave_setup::Stands,
    name: String,
    wrapped_for: String,
    map: BurnMap,
    meant: Option<BurnMap>,
    track: Vec<TrackPoint>,
    sections: Vec<String>,
    margins_mm: Vec<f64>,
    lies: Lies,
    figures: Vec<stave_picture::proof::Figure>,
    findings: Vec<Finding>,
    cautions: String,
    /// What a person should know, a sentence each.
    pub warnings: Vec<String>,
}

/// True where a program's first line says that it was wrapped.
///
/// ```
/// assert!(stave::is_wrapped(b"(stave wrapped 1 blank=mug tilt=0 place=0,0 zero=0,0)\nG21\n"));
/// assert!(!stave::is_wrapped(b"G21\n(stave wrapped 1)\n"));
/// ```
#[must_use]
pub fn is_wrapped(program: &[u8]) -> bool {
    wrapped_for(program).is_some()
}

/// What a program's first line says that it was wrapped for.
fn wrapped_for(program: &[u8]) -> Option<Result<WrappedFor, String>> {
    let line = program.split(|byte| *byte == b'\n').next()?.trim_ascii();
    WrappedFor::parse(line.strip_prefix(b"(")?.strip_suffix(b")")?)
}

/// Brings a program back to the wall of the setup's blank: one that `stave` wrapped, by its first
/// line; any other that turns the work, with its zero at the first station and no tilt.
///
/// The energy of a burn is its power times the time it takes: at the speed asked under M4, where
/// power follows the speed, and as the machine speeds up and slows down under M3 (common practice,
/// no source). On the wall it is as wide as the spot.
///
/// # Errors
/// Where the program is wrong or cannot be timed; errors of reading.
///
/// ```
/// use stave::{ProofOptions, Setup, WrapOptions, prove_program, setup, wrap_gcode};
/// # let blank = "[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n";
/// # let machine = "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n[rotary]\nword = \"A\"\n\
/// #     units_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n";
/// # let setup = Setup::new(setup::read_blank(blank, "can.toml")?, setup::read_machine(machine, "bench.toml")?, setup::read_job("", "job.toml")?)?;
/// let flat: &[u8] = b"M4 S300\nG0 X20 Y0\nG1 X60 F600\nM5\nM2\n";
/// let mut wrapped = Vec::new();
/// wrap_gcode(flat, &mut wrapped, &setup, &WrapOptions::default())?;
/// let proven = prove_program(&wrapped[..], &setup, &ProofOptions::default())?;
/// assert!(proven.is_fit());
/// assert!(proven.sheet_svg(false).starts_with("<svg"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn prove_program<R: Read>(
    program: R,
    setup: &Setup,
    options: &ProofOptions,
) -> Result<ProvenProgram, Error> {
    let mut program = program;
    let mut first = Vec::new();
    program.by_ref().take(FIRST_LINE).read_to_end(&mut first).map_err(Error::Input)?;
    let wrapped = match wrapped_for(&first) {
        Some(wrapped) => wrapped.map_err(Error::Setting)?,
        None => WrappedFor::assumed(&setup.blank, &setup.machine),
    };
    let program = Cursor::new(first).chain(program);
    let spot_mm = setup.spot_mm().unwrap_or(ASSUMED_SPOT_MM);
    let mut gathered = Gathered::new(setup, &wrapped, spot_mm);
    let reading = EstimateOptions { read: options.read, name: options.name.clone() };
    let estimate = time_moves(program, &setup.machine, Some(&setup.blank), &reading, |timed| {
        gathered.take(timed);
    })?;
    let (map, track, found) = gathered.finish(&estimate);
    let lies = figures::lies(setup, &wrapped, &found);
    let gap_mm = figures::least_gap(setup, &wrapped, &found, &lies).map(|gap| gap.gap_mm);
    let sections = found.section_names(&estimate);
    let mut proven = ProvenProgram {
        blank: setup.blank.clone(),
        stands: setup.job.stands,
        name: if options.title.is_empty() {
            setup.blank.name.clone()
        } else {
            options.title.clone()
        },
        wrapped_for: figures::made_for(setup, &wrapped),
        findings: findings::all(setup, &wrapped, &map, &found, &lies),
        figures: figures::all(setup, &estimate, &map, &found, &lies, gap_mm, options),
        margins_mm: setup.blank.zones.iter().map(|zone| setup.zone_margin_mm(zone)).collect(),
        map,
        meant: None,
        track,
        sections,
        lies,
        cautions: CAUTIONS
            .iter()
            .map(|line| format!("{line}."))
            .collect::<Vec<_>>()
            .join(" ")
            .replacen("CAUTION: l", "L", 1),
        warnings: estimate.warnings,
    };
    proven.sort_findings();
    Ok(proven)
}

impl ProvenProgram {
    /// Holds it against another that burns what was meant: where they differ the pictures say so,
    /// and findings tell how much.
    pub fn compare(&mut self, meant: &Self) {
        self.findings.extend(findings::differences(&self.map, &meant.map));
        self.meant = Some(meant.map.clone());
        self.sort_findings();
    }

    /// True where nothing found is an error.
    #[must_use]
    pub fn is_fit(&self) -> bool {
        self.findings.iter().all(|finding| finding.severity != Severity::Error)
    }

    /// What was found, a sentence each, errors first.
    pub fn found(&self) -> impl Iterator<Item = String> {
        self.findings
            .iter()
            .map(|finding| format!("{}: {}", finding.severity.word(), finding.message))
    }

    fn sort_findings(&mut self) {
        self.findings.sort_by_key(|finding| finding.severity);
    }

    fn proof(&self) -> Proof<'_> {
        Proof {
            blank: &self.blank,
            stands: self.stands,
            name: self.name.clone(),
            wrapped_for: self.wrapped_for.clone(),
            map: &self.map,
            meant: self.meant.as_ref(),
            track: &self.track,
            sections: self.sections.clone(),
            margins_mm: self.margins_mm.clone(),
            lies: self.lies.clone(),
            figures: self.figures.clone(),
            findings: self.findings.clone(),
            cautions: &self.cautions,
        }
    }

    /// The sheet as SVG; for the customer without figures of the machine.
    #[must_use]
    pub fn sheet_svg(&self, for_customer: bool) -> String {
        self.proof().sheet_svg(for_customer)
    }

    /// The sheet as PNG, at so many pixels to the inch; the second value is false where this
    /// machine has no font to set its words with.
    ///
    /// # Errors
    /// Where memory does not suffice.
    pub fn sheet_png(
        &self,
        for_customer: bool,
        dots_per_inch: f64,
    ) -> Result<(Vec<u8>, bool), Error> {
        self.proof()
            .sheet_png(for_customer, dots_per_inch)
            .map_err(|error| Error::Setting(error.to_string()))
    }

    /// The page as one HTML file.
    #[must_use]
    pub fn page_html(&self, for_customer: bool) -> String {
        self.proof().page_html(for_customer)
    }
}
