//! `proof`: what a program burns, seen before a blank is spent.
//!
//! The moves of the program itself are brought back to the wall by what its line 1 says, or by what
//! was given in its stead, so that a mistake anywhere shows: in the art, in the wrapping, in the
//! files it is held against.

use std::borrow::Cow;
use std::io::Read;

use stave_check::{Code, Finding, RunFacts, Severity};
use stave_parse::gcode;
use stave_picture::SheetSize;
use stave_picture::proof::{
    BurnMap, Burns, EnergyUnit, FileShown, FlatPlace, Lies, ProofParts, Remark, TrackPoint,
    WallPlace, Weight,
};
use stave_rig::{CAUTIONS, MadeFor, Rig};
use stave_setup::{Blank, Facet, Setup};
use stave_toolpath::xml::isolated_quotes;

use crate::error::Error;
use crate::estimate::{Estimate, full_look_ahead};
use crate::flat_place::for_program;
use crate::run::{Finished, Known, Onlookers, Seen, open};
use crate::source::{Options, Source};
use crate::wrap::told;

mod beside;
mod differences;
mod figures;
mod files;
mod gather;
mod just;
mod scanned;
mod width;

use beside::beside;
pub use files::FileNames;
use files::INPUT;
use gather::Gathered;
use just::{JustWrapped, Shown};

/// The width of a burn where no lens tells, mm (common practice, no source).
const ASSUMED_SPOT_MM: f64 = 0.15;

/// What is to be shown.
#[derive(Clone, Debug, Default)]
pub struct ProofOptions {
    /// The name of the piece on the pictures; the blank's where empty.
    pub title: String,
    /// A program is taken for a finished one, whatever its first line says.
    pub finished: bool,
    /// The names of the files, as the sheet is to show them.
    pub files: FileNames,
    /// The paper that the sheet is for.
    pub sheet: SheetSize,
    /// The beam's full power, W, where energies are to be told in J/cm².
    pub watts: Option<f64>,
}

/// A program brought back to the wall, ready to be drawn.
#[derive(Clone, Debug)]
pub struct Proof {
    blank: Blank,
    /// The flat place that is burned, and the ware that it is on.
    plane: Option<(Facet, Blank)>,
    stands: stave_setup::Stands,
    name: String,
    date: String,
    sheet: SheetSize,
    wrapped_for: String,
    files: Vec<FileShown>,
    map: BurnMap,
    burns: Burns,
    meant: Option<BurnMap>,
    track: Vec<TrackPoint>,
    sections: Vec<String>,
    margins_mm: Vec<f64>,
    lies: Lies,
    /// How it lies in the set-ups after the first that burns.
    set_ups: Vec<Lies>,
    energy: EnergyUnit,
    figures: Vec<stave_picture::proof::Figure>,
    findings: Vec<Remark>,
    /// Its texts; `None` for a program, whose words cannot be listed.
    texts: Option<Vec<String>>,
    cautions: String,
    /// What a person should know, a sentence each.
    pub warnings: Vec<String>,
    /// The digest of the input it was made from, where it says.
    input: Option<String>,
}

/// Brings a program back to the wall of the setup's blank: a wrapped one by its first line; a flat
/// one or a drawing is wrapped first, fit or not, for a picture shows what is wrong; one that is
/// said to be finished and has no such line, with its zero at the first station and no tilt.
///
/// The energy of a burn is its power times the time it takes: at the speed asked under M4, where
/// power follows the speed, and as the machine speeds up and slows down under M3 (common practice,
/// no source). On the wall it is as wide as the spot.
///
/// # Errors
/// Where the program or drawing is wrong or cannot be timed; where art lies off the wall or past
/// reach, and so nowhere that could be shown; errors of reading.
///
/// ```
/// use stave::{Options, ProofOptions, Setup, Source, proof, setup};
/// # let blank = "[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n";
/// # let machine = "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n[rotary]\nword = \"A\"\n\
/// #     units_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n";
/// # let setup = Setup::new(setup::read_blank(blank, "can.toml")?, setup::read_machine(machine, "bench.toml")?, setup::read_job("", "job.toml")?)?;
/// let flat = Source::program(&b"M4 S300\nG0 X20 Y0\nG1 X60 F600\nM5\nM2\n"[..]);
/// let proof = proof(flat, &setup, &Options::default(), &ProofOptions::default())?;
/// assert!(proof.is_fit());
/// assert!(proof.sheet_svg(false).starts_with("<svg"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn proof(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
    shown: &ProofOptions,
) -> Result<Proof, Error> {
    let name = source.name().to_owned();
    let on = Shown { setup, options, how: shown };
    let source = match source {
        Source::Program { input, .. } => {
            let (line_one, input) = open(input, &name)?;
            if line_one.is_some() || shown.finished {
                return of_program(input, on, Made { name: &name, line_one, just: || None });
            }
            Source::program(input).named(name)
        }
        #[cfg(feature = "svg")]
        drawn => drawn,
    };
    just::shown(source, on)
}

/// What is known of a program that is to be shown.
struct Made<'a, J> {
    name: &'a str,
    line_one: Option<MadeFor>,
    /// Once it has been read: what wrapping it told, where that was just now.
    just: J,
}

fn of_program(
    program: impl Read,
    Shown { setup, options, how }: Shown<'_>,
    Made { name, line_one, just }: Made<'_, impl FnOnce() -> Option<JustWrapped>>,
) -> Result<Proof, Error> {
    let ours = line_one.is_some();
    let own = setup.digests();
    let setup = match &line_one {
        Some(made_for) => for_program(setup, made_for, name)?,
        None => Cow::Borrowed(setup),
    };
    let setup = &*setup;
    let made_for = line_one.unwrap_or_else(|| MadeFor::assumed(&setup.blank, &setup.machine));
    let spot_mm = setup.spot_mm().unwrap_or(ASSUMED_SPOT_MM);
    let rig = Rig::new(&setup.blank, &setup.machine, &made_for);
    let facet = setup.facet.as_ref();
    let plane = facet.and_then(|on| on.facet.page(&on.whole.0));
    let shown_on = plane.as_ref().unwrap_or(&setup.blank);
    let mut gathered = Gathered::new(setup, &shown_on.wall, rig.clone(), spot_mm);
    let (summary, run_sections, at_end, seen) = beside(&mut gathered, |ahead| {
        let onlookers = Onlookers::new(setup, &made_for, stave_check::Made::Before, ahead)?;
        let known = Known::Wrapped(rig);
        let mut run = Finished::new(&setup.machine, known, true, options.read.strict, onlookers)
            .made_for(setup.whole().1, &made_for);
        let summary = gcode::read(program, &options.read, &mut run)
            .map_err(|error| Error::of_reading(error, name))?;
        run.refuse_unfinished(ours, &summary, name)?;
        let at_end = run.input.take();
        let Seen { verdict, times, set_ups, follow } = run.sink.end(RunFacts::default())?;
        drop(follow);
        Ok((summary, run.sections, at_end, Seen { verdict, times, set_ups, follow: () }))
    })?;
    let just = just();
    let just = just.as_ref();
    let at_head = made_for.files.as_ref().map(|files| files.input.clone());
    let input = at_head.filter(|input| input != "-").or(at_end);
    let mut estimate = Estimate::of(name, &seen.times, &run_sections, &setup.machine, true);
    estimate.lines = summary.lines;
    let own_names = just.map(|just| just.own_names.clone()).unwrap_or_default();
    let sections = gathered.section_names(&run_sections, &own_names);
    let verdict = seen.verdict;
    let burned = gathered.burned();
    let lies = figures::lies(setup, &made_for, &verdict, &burned);
    let (lies, set_ups) = figures::in_set_ups(&lies, setup, &seen.set_ups, gathered.set_ups());
    let found = just.map_or(&verdict.findings, |just| &just.findings);
    let (map, burns, track) = gathered.finish();
    let least_gap_mm =
        verdict.nozzles.iter().find(|gap| gap.fitted).and_then(|gap| gap.least).map(|l| l.gap_mm);
    let told = figures::Told {
        estimate: &estimate,
        map: &map,
        burned: &burned,
        lies: &lies,
        contact_at_mm: made_for.contact_at_mm,
        set_ups: &seen.set_ups,
        is_walk: made_for.walk,
        energy: EnergyUnit { watts: how.watts },
    };
    let mut warnings = just.map_or_else(Vec::new, |just| just.warnings.clone());
    warnings.extend(made_for.disagreements(
        Some(&setup.blank),
        &setup.machine,
        Some(setup.job_values()),
    ));
    warnings.extend(told_of(&summary, &verdict.told, just.is_some()));
    warnings.extend(full_look_ahead(seen.times.times_full));
    let mut proof = Proof {
        blank: shown_on.clone(),
        plane: facet.map(|on| (on.facet.clone(), on.whole.0.clone())),
        stands: setup.job.stands,
        name: if how.title.is_empty() { setup.blank.name.clone() } else { how.title.clone() },
        date: options.date.clone(),
        sheet: how.sheet,
        wrapped_for: figures::made_for(setup, &made_for, &seen.set_ups),
        files: files::shown(&how.files, &own, &made_for, (just.is_none(), name, input.as_deref())),
        findings: found.iter().map(|finding| shown(finding, setup, &options.allow)).collect(),
        energy: told.energy,
        figures: figures::all(&told, &verdict.focus, least_gap_mm, setup, just),
        margins_mm: setup.blank.zones.iter().map(|zone| setup.zone_margin_mm(zone)).collect(),
        map,
        burns,
        meant: None,
        track,
        sections,
        lies,
        set_ups,
        texts: just.and_then(|just| just.texts.clone()),
        cautions: CAUTIONS
            .iter()
            .map(|line| format!("{line}."))
            .collect::<Vec<_>>()
            .join(" ")
            .replacen("CAUTION: l", "L", 1),
        warnings,
        input,
    };
    proof.sort_findings();
    Ok(proof)
}

/// What a person should know besides what was found; of a program that was wrapped just now that
/// was said already.
fn told_of(summary: &gcode::ReadSummary, judged: &[String], just_wrapped: bool) -> Vec<String> {
    let mut all = told(summary);
    if !just_wrapped {
        all.extend(judged.iter().cloned());
    }
    all
}

/// A finding as the pictures have it.
fn shown(finding: &Finding, setup: &Setup, accepted: &[Code]) -> Remark {
    let wall = &setup.blank.wall;
    let place = finding.at.zip(finding.turn).map(|(at_mm, turn_deg)| WallPlace {
        s_mm: wall.s_of_at(at_mm),
        turn_rad: gather::turn_shown(setup, turn_deg.to_radians()),
    });
    let severity = match finding.severity {
        Severity::Error if !finding.refuses(accepted) => Weight::Accepted,
        Severity::Error => Weight::Error,
        Severity::Warning => Weight::Warning,
        Severity::Note => Weight::Note,
    };
    let message = format!("{}: {}", finding.code, isolated_quotes(&finding.message));
    Remark { severity, message, place }
}

impl Proof {
    /// Holds it against another that burns what was meant: where they differ the pictures say so,
    /// and findings tell how much.
    pub fn compare(&mut self, meant: &Self) {
        self.findings.extend(differences::differences(&self.map, &meant.map));
        self.meant = Some(meant.map.clone());
        self.texts.clone_from(&meant.texts);
        self.warnings.splice(0..0, meant.warnings.iter().cloned());
        if let (Some(was), Some(is)) = (&self.input, &meant.input)
            && was != is
        {
            self.warnings.push(format!(
                "the program was wrapped from another input: its digest was {was} and is {is}"
            ));
        }
        // The input that was given is the one that the program was made from.
        if self.input.is_some() && self.input == meant.input {
            let known = meant.files.iter().find(|file| file.what == INPUT);
            for file in self.files.iter_mut().filter(|file| file.what == INPUT) {
                file.name = known.map_or_else(String::new, |known| known.name.clone());
            }
        }
        self.sort_findings();
    }

    /// True where nothing found is an error that nobody accepts.
    #[must_use]
    pub fn is_fit(&self) -> bool {
        Remark::refusing(&self.findings).is_none()
    }

    /// The first error that is not accepted, if there is one.
    #[must_use]
    pub fn refused(&self) -> Option<String> {
        Remark::refusing(&self.findings).map(|finding| finding.message.clone())
    }

    /// The words of its drawing that are read on the ware, a text each.
    #[must_use]
    pub fn texts(&self) -> &[String] {
        self.texts.as_deref().unwrap_or_default()
    }

    /// Whether those are all of them: the words of a program cannot be listed.
    #[must_use]
    pub fn texts_are_listed(&self) -> bool {
        self.texts.is_some()
    }

    /// The piece as it faces what burns, for a card of its order.
    #[must_use]
    pub fn card_picture(&self) -> String {
        self.picture().card_picture()
    }

    /// Blank, size and place, a line each, for a card of its order.
    #[must_use]
    pub fn card_words(&self) -> Vec<String> {
        self.picture().card_words()
    }

    /// What was found, a sentence each, errors first.
    pub fn found(&self) -> impl Iterator<Item = String> {
        self.findings
            .iter()
            .map(|finding| format!("{} {}", finding.severity.word(), finding.message))
    }

    fn sort_findings(&mut self) {
        self.findings.sort_by_key(|finding| finding.severity);
    }

    fn picture(&self) -> ProofParts<'_> {
        ProofParts {
            blank: &self.blank,
            plane: self.plane.as_ref().map(|(facet, ware)| FlatPlace { facet, ware }),
            stands: self.stands,
            name: self.name.clone(),
            date: self.date.clone(),
            sheet: self.sheet,
            wrapped_for: self.wrapped_for.clone(),
            files: self.files.clone(),
            map: &self.map,
            burns: &self.burns,
            meant: self.meant.as_ref(),
            track: &self.track,
            sections: self.sections.clone(),
            margins_mm: self.margins_mm.clone(),
            lies: self.lies.clone(),
            more_set_ups: &self.set_ups,
            energy: self.energy,
            figures: self.figures.clone(),
            findings: self.findings.clone(),
            texts: self.texts().to_vec(),
            texts_are_listed: self.texts_are_listed(),
            cautions: &self.cautions,
        }
    }

    /// The sheet as SVG; for the customer without figures of the machine.
    #[must_use]
    pub fn sheet_svg(&self, for_customer: bool) -> String {
        self.picture().sheet_svg(for_customer)
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
        Ok(self.picture().sheet_png(for_customer, dots_per_inch)?)
    }

    /// The page as one HTML file.
    #[must_use]
    pub fn page_html(&self, for_customer: bool) -> String {
        self.picture().page_html(for_customer)
    }
}
