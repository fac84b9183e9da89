//! One row of an order: what makes it, and what becomes of it.

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use stave::setup::{Given, Make, OrderPiece};
use stave::{
    Error, FileNames, Options, OrderRow, RowState, Setup, Source, Stamp, Template, check,
    digest_of, kept_piece, make_piece, sentence,
};

use crate::args::{FontFiles, JobOptions, PictureOptions, SetupFiles};
use crate::failure::Failure;
use crate::files::Files;
use crate::input::{self, Kind};
use crate::output::{Carries, Output, keep};
use crate::settings::{self, Paths};

/// What is asked of an order.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Doing {
    Make,
    Check,
    DryRun,
    Verify,
}

/// What makes the pieces of a [[make]]: read once for all of its rows.
pub(crate) struct Maker {
    pub(crate) setup: Setup,
    pub(crate) options: Options,
    paths: Paths,
    input: PathBuf,
    input_name: String,
    art: Art,
    /// What line 1 says of all its programs.
    stamp: Stamp,
}

/// What is burned.
enum Art {
    /// A drawing, and the folders that its pictures may lie in: its own, then the order's.
    Drawing(Template, Vec<PathBuf>),
    Picture(Vec<u8>),
    Program(Vec<u8>),
}

impl Maker {
    /// Opens the files of a make, which are seen from the order's folder.
    pub(crate) fn open(
        make: &Make,
        machine: Option<&Given<String>>,
        folder: &Path,
    ) -> Result<Self, Failure> {
        let beside = |named: Option<&Given<String>>| named.map(|named| folder.join(&named.value));
        let files = SetupFiles {
            blank: beside(make.blank.as_ref()),
            machine: beside(machine),
            job: beside(make.job.as_ref()),
            allow: Vec::new(),
        };
        let (setup, mut paths) = settings::read(&files, &JobOptions::default(), false)?;
        paths.fonts =
            settings::font_paths(&FontFiles::default(), paths.job.as_deref(), &setup.job.fonts);
        let fonts = settings::fonts(&paths.fonts, &setup)?.loaded();
        let allow = settings::allowed(&files, &setup)?;
        let input = paths.input(beside(make.input.as_ref()).as_deref());
        if input == Path::new("-") {
            let message = "a [[make]] has no `input`, and its job names none";
            return Err(Failure::bad(message));
        }
        let mut opened = input::open(&input, None)?;
        let bytes = opened.whole()?;
        let art = match opened.kind {
            Kind::Drawing => {
                let template = Template::read(&bytes)
                    .map_err(|error| Failure::bad(format!("{}: {error}", opened.name)))?;
                Art::Drawing(template, opened.folder.into_iter().chain([folder.into()]).collect())
            }
            Kind::Picture => Art::Picture(bytes),
            Kind::Program => Art::Program(bytes),
        };
        let mut parts: Vec<Vec<u8>> = Vec::new();
        for font in &paths.fonts {
            // They were read a moment ago.
            parts.push(input::font(font).unwrap_or_default());
        }
        let mut codes: Vec<&str> = allow.iter().map(|code| code.as_str()).collect();
        codes.sort_unstable();
        parts.extend(codes.into_iter().map(|code| format!("{code}\n").into_bytes()));
        let with = match parts.is_empty() {
            true => "-".to_owned(),
            false => digest_of(parts.iter().map(Vec::as_slice)),
        };
        let stamp =
            Stamp { version: env!("CARGO_PKG_VERSION").to_owned(), with, input: String::new() };
        let options = Options { fonts, allow, ..Options::default() };
        Ok(Self { setup, options, paths, input, input_name: opened.name, art, stamp })
    }

    /// Their names, as a proof shows them.
    pub(crate) fn file_names(&self) -> FileNames {
        FileNames { input: self.input_name.clone(), ..self.paths.file_names() }
    }

    /// The files that it reads.
    pub(crate) fn reads(&self, files: Files) -> Files {
        files
            .reads("a blank", &self.paths.blank)
            .reads("a machine", &self.paths.machine)
            .may_read("a job", self.paths.job.as_deref())
            .reads_all("a font", &self.paths.fonts)
            .reads("an input", &self.input)
    }

    /// What is burned for a row, and the digest of it.
    pub(crate) fn source(&self, piece: &OrderPiece) -> Result<(Source<'_>, String), Failure> {
        let (source, digest) = match &self.art {
            Art::Drawing(template, folders) => {
                let filled = template
                    .filled(&piece.fields)
                    .map_err(|error| Failure::bad(format!("{}: {error}", self.input_name)))?
                    .into_owned();
                let source = Source::drawing(filled).linked(input::pictures_in(folders.clone()));
                let digest = source.digest();
                (source, digest)
            }
            Art::Picture(bytes) => {
                let source = Source::picture(bytes.as_slice(), PictureOptions::default().read()?);
                let digest = source.digest();
                (source, digest)
            }
            Art::Program(bytes) => {
                (Source::program(Cursor::new(bytes)), digest_of([bytes.as_slice()]))
            }
        };
        Ok((source.named(self.input_name.clone()), digest))
    }
}

/// What an order is made in.
pub(crate) struct Shop<'a> {
    pub(crate) makers: &'a [Option<Maker>],
    /// The folder of results, and what the order calls it.
    pub(crate) out: &'a Path,
    pub(crate) out_name: &'a str,
    pub(crate) files: &'a Files,
    pub(crate) doing: Doing,
}

/// The file of a piece's program, in the folder of results.
pub(crate) fn program_of(out: &Path, piece: &OrderPiece) -> PathBuf {
    out.join(format!("{}.nc", piece.name))
}

impl Shop<'_> {
    /// Does with a row what is asked.
    pub(crate) fn row(&self, piece: &OrderPiece, is_asked: bool) -> OrderRow {
        let maker = piece.make.as_ref().ok().and_then(|make| self.makers.get(*make)?.as_ref());
        let mut row = OrderRow {
            row: piece.row,
            line: piece.line,
            fields: piece.fields.clone(),
            name: piece.name.clone(),
            blank: maker.map_or_else(String::new, |maker| maker.setup.blank.name.clone()),
            count: piece.count.as_ref().map_or(0, |count| *count),
            file: None,
            state: RowState::Left,
            fit: None,
            duration_s: None,
            findings: Vec::new(),
            message: None,
        };
        let path = program_of(self.out, piece);
        if is_asked {
            let asked = match (&piece.make, &piece.count, maker) {
                (Err(why), ..) | (_, Err(why), _) => Err(Failure::bad(why.clone())),
                (.., Some(maker)) => self.asked(piece, maker, &path, &mut row),
                (.., None) => Err(Failure::bad("nothing makes it")),
            };
            if let Err(failure) = asked {
                row.state = RowState::Failed;
                row.message = Some(failure.text());
                if self.doing == Doing::Make {
                    take_away(&path);
                }
            }
        }
        if path.is_file() && row.state != RowState::Failed {
            row.file = Some(format!("{}/{}.nc", self.out_name, piece.name));
        }
        row
    }

    fn asked(
        &self,
        piece: &OrderPiece,
        maker: &Maker,
        path: &Path,
        row: &mut OrderRow,
    ) -> Result<(), Failure> {
        let (source, input) = maker.source(piece)?;
        let stamp = Stamp { input, ..maker.stamp.clone() };
        let why = match fs::read(path) {
            Ok(lies) => match kept_piece(&lies, &maker.setup, &stamp) {
                Ok(duration_s) => {
                    row.state = RowState::Kept;
                    row.duration_s = Some(duration_s);
                    // What was not fit was not written.
                    row.fit = Some(true);
                    None
                }
                Err(why) => Some(why),
            },
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                Some("not made yet".to_owned())
            }
            Err(error) => return Err(input::cannot_read(&input::name(path), &error)),
        };
        if let Some(why) = why {
            row.state = RowState::WouldMake;
            row.message = Some(why);
        }
        match (self.doing, row.state) {
            (Doing::Check, _) => {
                let report = check(source, &maker.setup, &maker.options)?;
                row.fit = Some(report.fit);
                row.findings = report.findings;
                if !report.fit {
                    row.state = RowState::Failed;
                    row.message = Some(first_error(row, maker));
                }
                Ok(())
            }
            (_, RowState::Kept) => Ok(()),
            _ => self.make(source, maker, path, (stamp, row)),
        }
    }

    /// Makes a piece, and writes it where that is what is asked: whether a row can be made is so
    /// decided in one place.
    fn make(
        &self,
        source: Source<'_>,
        maker: &Maker,
        path: &Path,
        (stamp, row): (Stamp, &mut OrderRow),
    ) -> Result<(), Failure> {
        let options = Options { stamp: Some(stamp), ..maker.options.clone() };
        let made = match make_piece(source, &maker.setup, &options) {
            Ok(made) => made,
            Err(Error::NotFit(findings)) => {
                row.fit = Some(false);
                row.findings = findings;
                return Err(Failure::bad(first_error(row, maker)));
            }
            Err(error) => {
                row.fit = (error.exit_status() == 1).then_some(false);
                return Err(error.into());
            }
        };
        row.fit = Some(true);
        // Verified is what lies there: a time, and so a price, is none of its findings.
        if self.doing != Doing::Verify {
            row.duration_s = Some(made.duration_s);
        }
        let mark = |finding: stave::Finding| finding.accepting(&options.allow);
        row.findings = made.report.findings.into_iter().map(mark).collect();
        if self.doing == Doing::Make {
            if self.files.reads_it(path) {
                let name = input::name(path);
                return Err(Failure::bad(format!(
                    "{name} is a file that the order reads: let `out` or `name` say another"
                )));
            }
            let mut output = Output::open(Some(path), Carries::Program)?;
            output.all(&made.program)?;
            keep([output])?;
            row.state = RowState::Made;
            row.message = None;
        }
        Ok(())
    }
}

/// The first error that nobody accepts, as a sentence, and how many more there are.
fn first_error(row: &OrderRow, maker: &Maker) -> String {
    let is_error = |finding: &&stave::Finding| finding.refuses(&maker.options.allow);
    let mut errors = row.findings.iter().filter(is_error);
    let first = errors.next().map_or_else(|| "it does not fit".to_owned(), sentence);
    match errors.count() {
        0 => first,
        1 => format!("{first}; and 1 more"),
        more => format!("{first}; and {more} more"),
    }
}

/// Takes away what an earlier run made for a row that fails now: nobody is to burn it by mistake.
/// What is no whole program of an order is not ours to take.
fn take_away(path: &Path) {
    if fs::read(path).is_ok_and(|lies| stave::is_whole_piece(&lies)) {
        // It is told that the row failed; that the file cannot be removed changes nothing of that.
        let _ = fs::remove_file(path);
    }
}
