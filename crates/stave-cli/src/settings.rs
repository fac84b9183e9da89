//! The setup: three files and the options that beat the third.

use std::path::{Path, PathBuf};

use stave::setup::{
    Blank, Fault, Faults, Given, JobFile, Machine, Origin, bare_length, nearest, read_blank,
    read_job, read_machine,
};

use stave::{
    Code, FileNames, Finding, FontSet, Fonts, Options, Setup, sentence, sentence_accepting,
};

use crate::args::{FontFiles, JobOptions, PictureOptions, Reading, SetupFiles};
use crate::failure::{Failure, say};
use crate::files::folder_of;
use crate::input;
use crate::recognised::Settings;

/// Reads a blank file.
pub(crate) fn blank(path: &Path) -> Result<Result<Blank, Faults>, Failure> {
    Ok(read_blank(&input::settings(path, Settings::Blank)?, &input::name(path)))
}

/// Reads a machine file.
pub(crate) fn machine(path: &Path) -> Result<Result<Machine, Faults>, Failure> {
    Ok(read_machine(&input::settings(path, Settings::Machine)?, &input::name(path)))
}

/// Reads a job file, if there is one.
pub(crate) fn job(path: Option<&Path>) -> Result<Result<JobFile, Faults>, Failure> {
    match path {
        Some(path) => Ok(read_job(&input::settings(path, Settings::Job)?, &input::name(path))),
        None => Ok(Ok(JobFile::default())),
    }
}

/// The files of a run, those that the job names among them.
#[derive(Clone, Debug)]
pub(crate) struct Paths {
    pub(crate) blank: PathBuf,
    pub(crate) machine: PathBuf,
    pub(crate) job: Option<PathBuf>,
    /// Fonts for the texts of drawings, those that the job names among them.
    pub(crate) fonts: Vec<PathBuf>,
    /// The input that the job names.
    input: Option<PathBuf>,
}

impl Paths {
    /// What is to be read: what was typed, else what the job names, else standard input.
    pub(crate) fn input(&self, typed: Option<&Path>) -> PathBuf {
        let named = || self.input.as_deref();
        typed.or_else(named).unwrap_or(Path::new("-")).to_path_buf()
    }

    /// The names of the files, as a proof shows them.
    pub(crate) fn file_names(&self) -> FileNames {
        FileNames {
            blank: input::name(&self.blank),
            machine: input::name(&self.machine),
            job: self.job.as_deref().map_or_else(String::new, input::name),
            input: String::new(),
        }
    }
}

/// A file that was typed, else the one that the job names, which is seen from the job's file.
pub(crate) fn typed_or_named(
    typed: Option<&Path>,
    job: Option<&Path>,
    named: Option<&Given<String>>,
) -> Option<PathBuf> {
    typed.map(Path::to_path_buf).or_else(|| named.map(|named| beside(job, named)))
}

/// A file that a job names, seen from the job's file.
fn beside(job: Option<&Path>, named: &Given<String>) -> PathBuf {
    match job {
        Some(job) => folder_of(job).join(&named.value),
        None => PathBuf::from(&named.value),
    }
}

/// The fonts that are typed, and those that a job names.
pub(crate) fn font_paths(
    typed: &FontFiles,
    job: Option<&Path>,
    named: &[Given<String>],
) -> Vec<PathBuf> {
    let named = named.iter().map(|font| beside(job, font));
    typed.fonts.iter().cloned().chain(named).collect()
}

/// What is said where a file is neither given nor named.
pub(crate) fn not_given(what: &str, option: &str) -> String {
    format!("no {what} is given: say {option} FILE, or name it in the job: {what} = \"FILE\"")
}

/// The job settings that were typed, and what is wrong with them.
pub(crate) fn typed(options: &JobOptions) -> (JobFile, Vec<String>) {
    let mut given = JobFile::default();
    let mut messages = Vec::new();
    for (option, value) in options.given() {
        if let Err(fault) = given.set_option(option, value) {
            messages.push(fault.to_string());
        }
    }
    (given, messages)
}

/// Reads and checks everything, and tells every fault of every file at once.
pub(crate) fn read(
    files: &SetupFiles,
    options: &JobOptions,
    quiet: bool,
) -> Result<(Setup, Paths), Failure> {
    let job_path = files.job.as_deref();
    let job = job(job_path)?;
    let named = job.as_ref().ok();
    let blank_path =
        typed_or_named(files.blank.as_deref(), job_path, named.and_then(|job| job.blank.as_ref()));
    let machine_path = typed_or_named(
        files.machine.as_deref(),
        job_path,
        named.and_then(|job| job.machine.as_ref()),
    );
    // Where the job cannot be read, it cannot be told what it names either.
    let job = match job {
        Err(faults) if blank_path.is_none() || machine_path.is_none() => {
            return Err(Failure::from(faults));
        }
        job => job,
    };
    let blank_path = blank_path.ok_or_else(|| Failure::bad(not_given("blank", "-b")))?;
    let machine_path = machine_path.ok_or_else(|| Failure::bad(not_given("machine", "-m")))?;
    let (blank, machine) = (blank(&blank_path)?, machine(&machine_path)?);
    let (given, mut messages) = typed(options);
    let mut note = |faults: Faults| messages.extend(faults.iter().map(ToString::to_string));
    let (blank, machine, job) = match (blank, machine, job) {
        (Ok(blank), Ok(machine), Ok(job)) => (blank, machine, job),
        (blank, machine, job) => {
            blank.err().map(&mut note);
            machine.err().map(&mut note);
            job.err().map(&mut note);
            return Err(Failure::all_bad(messages));
        }
    };
    if !messages.is_empty() {
        return Err(Failure::all_bad(messages));
    }
    let paths = Paths {
        blank: blank_path,
        machine: machine_path,
        job: files.job.clone(),
        fonts: Vec::new(),
        input: typed_or_named(None, job_path, job.input.as_ref()),
    };
    let setup = Setup::new(blank, machine, job.overridden_by(given))?;
    if !quiet {
        // Before all else: what follows, an error too, may come of it.
        say_doubts_of(&setup);
    }
    Ok((setup, paths))
}

/// Says what in a whole setup can hardly be meant.
pub(crate) fn say_doubts_of(setup: &Setup) {
    setup.doubts.iter().map(doubtful).for_each(|doubt| say(&doubt));
    for warning in &setup.warnings {
        say(&format!("note: {warning}"));
    }
}

/// What every command that lays art or programs goes by: the setup, the files it is read from, and
/// the options. Errors as [`read`], and for fonts and codes that are none.
pub(crate) fn of_art(
    (files, job): (&SetupFiles, &JobOptions),
    (typed, reading, size): (&FontFiles, &Reading, &PictureOptions),
    quiet: bool,
) -> Result<(Setup, Paths, Options), Failure> {
    let (setup, mut paths) = read(files, job, quiet)?;
    paths.fonts = font_paths(typed, paths.job.as_deref(), &setup.job.fonts);
    let fonts = fonts(&paths.fonts, &setup)?;
    let options = Options { fonts, ..reading.options(allowed(files, &setup)?) };
    Ok((setup, paths, size.scanning(options)))
}

/// A setting that can hardly be meant, as its finding is said.
fn doubtful(doubt: &Fault) -> String {
    sentence(&Finding::of_doubt(doubt))
}

/// Says what in a blank, a machine and a job can hardly be meant, for commands that meet them
/// without a whole setup, as [`read`] does.
pub(crate) fn say_doubts(blank: Option<&Blank>, machine: Option<&Machine>, job: Option<&JobFile>) {
    let doubts = [blank.map(Blank::doubts), job.map(JobFile::doubts), machine.map(Machine::doubts)];
    doubts.iter().flatten().flatten().map(doubtful).for_each(|doubt| say(&doubt));
    let of_machine = machine.iter().flat_map(|machine| machine.warnings());
    for warning in of_machine.chain(job.iter().flat_map(|job| job.warnings())) {
        say(&format!("note: {warning}"));
    }
}

/// The beam's full power as it was typed, W.
pub(crate) fn watts(typed: Option<f64>) -> Result<Option<f64>, Failure> {
    match typed {
        Some(watts) if !(watts > 0.0 && watts <= 1e5) => {
            Err(Failure::bad("--watts: must be more than 0 and at most 100000"))
        }
        typed => Ok(typed),
    }
}

/// Says of lengths typed for a command's own options that they have no unit, beside files in
/// inches.
pub(crate) fn say_bare<'a>(
    typed: impl IntoIterator<Item = (&'a str, Option<&'a str>)>,
    blank: &Blank,
    machine: &Machine,
) {
    let given = typed.into_iter().filter_map(|(name, text)| Some((name, text?)));
    let doubts = given.filter_map(|(name, text)| bare_length(name, text, blank, machine));
    doubts.map(|doubt| doubtful(&doubt)).for_each(|doubt| say(&doubt));
}

/// Says what was found, but for what [`read`] has said already.
pub(crate) fn say_found(found: impl Iterator<Item = String>, setup: &Setup) {
    let said: Vec<String> = setup.doubts.iter().map(doubtful).collect();
    found.filter(|sentence| !said.contains(sentence)).for_each(|sentence| say(&sentence));
}

/// Says these findings, those among them that are accepted as such.
pub(crate) fn say_findings(findings: &[Finding], accepted: &[Code], setup: &Setup) {
    say_found(findings.iter().map(|one| sentence_accepting(one, accepted)), setup);
}

/// The fonts for texts of drawings: these, the last of which the job names, and those installed.
pub(crate) fn fonts(paths: &[PathBuf], setup: &Setup) -> Result<Fonts, Failure> {
    if paths.is_empty() {
        return Ok(Fonts::Installed);
    }
    let written = &setup.job.fonts;
    let typed = paths.len().saturating_sub(written.len());
    let sources = std::iter::repeat_n(None, typed).chain(written.iter().map(Some));
    let mut set = FontSet::default();
    for (path, from) in paths.iter().zip(sources) {
        let tell = |message: String| {
            let source = from.and_then(|given| given.from.clone());
            Failure::bad(Fault::new(source, message).to_string())
        };
        let name = input::name(path);
        let bytes = input::font(path)
            .map_err(|error| tell(format!("cannot read the font {name}: {error}")))?;
        if set.add(bytes) == 0 {
            return Err(tell(format!(
                "{name} holds no font: what is taken is TrueType, OpenType or a collection of them \
                 (.ttf, .otf, .ttc)"
            )));
        }
    }
    Ok(Fonts::BeforeInstalled(set))
}

/// The findings that are accepted, from the job file and the options.
pub(crate) fn allowed(files: &SetupFiles, setup: &Setup) -> Result<Vec<Code>, Failure> {
    let mut all = allowed_words(&files.allow)?;
    all.extend(allowed_by_job(setup)?);
    Ok(all)
}

/// The findings that the job accepts.
pub(crate) fn allowed_by_job(setup: &Setup) -> Result<Vec<Code>, Failure> {
    let written = setup.job.allow.iter();
    written.map(|given| code(given.value.as_str(), given.from.clone())).collect()
}

/// The findings that are accepted by options alone.
pub(crate) fn allowed_words(words: &[String]) -> Result<Vec<Code>, Failure> {
    words.iter().map(|word| code(word.trim(), None)).collect()
}

/// The finding of a code, which may stand in a job file.
fn code(word: &str, from: Option<Origin>) -> Result<Code, Failure> {
    word.parse::<Code>().map_err(|_| {
        let known = nearest(word, Code::ALL.iter().map(|code| code.as_str()));
        let advice = known.map_or_else(
            || "`stave check` names the code of each".to_owned(),
            |known| format!("did you mean `{known}`?"),
        );
        let place = if from.is_some() { "`allow`" } else { "--allow" };
        let message = format!("{place}: there is no finding `{word}`: {advice}");
        Failure::from(Fault::new(from, message))
    })
}
