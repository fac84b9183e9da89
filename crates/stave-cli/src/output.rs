//! Writing results: whole, or not at all, and all of a run together.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::broken::{self, ProgramOut};
use crate::failure::Failure;
use crate::files::{folder_of, no_picture_is_written, resolve};
use crate::input;
use crate::part::Part;
use crate::progress::Cleared;
use crate::streams::stdout_is_open;

/// More than the head of a wrapped program holds.
const HEAD_BYTES: u64 = 4 * 1024;

/// What an output carries.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Carries {
    /// A program for a machine: where it cannot be taken back, a signal ends it safely.
    Program,
    /// Anything that burns nothing.
    Text,
}

/// Where results go.
pub(crate) struct Output {
    /// What the user calls it.
    name: String,
    to: To,
}

enum To {
    /// Standard output, a device or a FIFO: written straight through.
    Through(Box<dyn Write>),
    /// A file beside the one that is meant, which takes its place when all is written.
    Beside { part: Part, target: PathBuf },
}

impl Output {
    /// Opens `path`, or standard output for nothing. Nothing that is there is touched before
    /// [`keep`].
    pub(crate) fn open(path: Option<&Path>, carries: Carries) -> Result<Self, Failure> {
        let name = path.map_or_else(|| "standard output".to_owned(), input::name);
        Self::to(path, carries)
            .map(|to| Self { name: name.clone(), to })
            .map_err(|error| Failure::bad(format!("cannot write {name}: {error}")))
    }

    fn to(path: Option<&Path>, carries: Carries) -> io::Result<To> {
        let Some(path) = path else {
            stdout_is_open()?;
            if carries == Carries::Text {
                return Ok(To::Through(Box::new(Cleared(io::stdout()))));
            }
            broken::watch()?;
            let program = ProgramOut::new(unbuffered_stdout()?);
            return Ok(To::Through(Box::new(Cleared(program))));
        };
        broken::watch()?;
        match fs::metadata(path) {
            Ok(data) if data.is_dir() => return Err(io::Error::other("it is a directory")),
            Ok(data) if !data.is_file() => {
                let device = OpenOptions::new().write(true).open(path)?;
                return Ok(To::Through(match carries {
                    Carries::Program => Box::new(ProgramOut::new(Box::new(device))),
                    Carries::Text => Box::new(device),
                }));
            }
            // A file that may not be written must not be replaced either.
            Ok(_) => drop(OpenOptions::new().append(true).open(path)?),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(error),
        }
        let target = resolve(path)?;
        let part = Part::in_folder(folder_of(&target))?;
        if let Ok(data) = fs::metadata(&target) {
            part.file().set_permissions(data.permissions())?;
        }
        Ok(To::Beside { part, target })
    }

    /// Writes `new` over the first `old` of the head, as many bytes, where what was written can
    /// still be changed.
    pub(crate) fn correct(&mut self, old: &str, new: &str) -> Result<(), Failure> {
        self.try_to_correct(old, new).map_err(|error| self.cannot(&error))
    }

    fn try_to_correct(&self, old: &str, new: &str) -> io::Result<()> {
        let To::Beside { part, .. } = &self.to else { return Ok(()) };
        debug_assert_eq!(old.len(), new.len());
        let mut head = Vec::new();
        let mut whole = part.file();
        whole.seek(SeekFrom::Start(0))?;
        whole.take(HEAD_BYTES).read_to_end(&mut head)?;
        if let Some(at) = head.windows(old.len()).position(|part| part == old.as_bytes()) {
            whole.seek(SeekFrom::Start(at as u64))?;
            whole.write_all(new.as_bytes())?;
        }
        whole.seek(SeekFrom::End(0)).map(drop)
    }

    /// Writes all there is to write.
    pub(crate) fn all(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        self.write_all(bytes).and_then(|()| self.flush()).map_err(|error| self.cannot(&error))
    }

    /// What became of writing here: errors of writing name the user's file.
    pub(crate) fn told<T>(&self, result: Result<T, stave::Error>) -> Result<T, Failure> {
        result.map_err(|error| match error {
            stave::Error::Output(error) => self.cannot(&error),
            other => other.into(),
        })
    }

    fn cannot(&self, error: &io::Error) -> Failure {
        // A reader that has gone is no fault.
        if error.kind() == io::ErrorKind::BrokenPipe && matches!(self.to, To::Through(_)) {
            return Failure::closed_pipe();
        }
        Failure::bad(format!("cannot write {}: {error}", self.name))
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.to {
            To::Through(out) => out.write(bytes),
            To::Beside { part, .. } => part.file().write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.to {
            To::Through(out) => out.flush(),
            // Files of the system have no buffer here; `keep` sees to the disk.
            To::Beside { .. } => Ok(()),
        }
    }
}

/// Standard output without the buffer that the standard library puts before it.
#[cfg(unix)]
fn unbuffered_stdout() -> io::Result<Box<dyn Write + Send>> {
    use std::os::fd::AsFd;
    Ok(Box::new(File::from(io::stdout().as_fd().try_clone_to_owned()?)))
}

#[cfg(not(unix))]
fn unbuffered_stdout() -> io::Result<Box<dyn Write + Send>> {
    Ok(Box::new(io::stdout()))
}

/// The file of a page of several: `proof.svg`, `proof-2.svg`, `proof-3.svg`.
pub(crate) fn numbered(path: &Path, number: usize) -> PathBuf {
    if number == 1 {
        return path.to_owned();
    }
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{number}"));
    if let Some(extension) = path.extension() {
        name.push(".");
        name.push(extension);
    }
    path.with_file_name(name)
}

/// Puts what was written in its place: all of it, or nothing.
pub(crate) fn keep(outputs: impl IntoIterator<Item = Output>) -> Result<(), Failure> {
    no_picture_is_written()?;
    let mut beside = Vec::new();
    for output in outputs {
        let Output { name, to } = output;
        if let To::Beside { part, target } = to {
            let ready = part.file().sync_all();
            ready.map_err(|error| Failure::bad(format!("cannot write {name}: {error}")))?;
            beside.push((name, part, target));
        }
    }
    if let [(_, part, target)] = beside.as_slice()
        && part.appear_as(target)
    {
        return Ok(());
    }
    for (name, part, _) in &mut beside {
        part.name_it().map_err(|error| Failure::bad(format!("cannot write {name}: {error}")))?;
    }
    broken::with_parts(|parts| {
        let mut placed: Vec<Placed> = Vec::new();
        let several = beside.len() > 1;
        for (name, part, target) in &mut beside {
            match Placed::put(part, target, several) {
                Ok(one) => placed.push(one),
                Err(error) => {
                    placed.into_iter().rev().for_each(Placed::take_back);
                    return Err(Failure::bad(format!("cannot write {name}: {error}")));
                }
            }
            parts.retain(|known| !part.is(known));
        }
        placed.into_iter().for_each(Placed::settle);
        Ok(())
    })
}

/// A file that has taken its place, and what was there before.
struct Placed {
    target: PathBuf,
    before: Before,
}

enum Before {
    Nothing,
    /// It is kept under this name until all are in place.
    Kept(PathBuf),
    /// It could not be kept, or need not be.
    Gone,
}

impl Placed {
    fn put(part: &mut Part, target: &Path, several: bool) -> io::Result<Self> {
        let before = if !target.exists() {
            Before::Nothing
        } else if several {
            let mut kept = part.path().as_os_str().to_owned();
            kept.push(".before");
            let kept = PathBuf::from(kept);
            // Not every disk has links.
            fs::hard_link(target, &kept).map_or(Before::Gone, |()| Before::Kept(kept))
        } else {
            Before::Gone
        };
        let placed = Self { target: target.to_path_buf(), before };
        match part.rename(target) {
            Ok(()) => Ok(placed),
            Err(error) => {
                placed.settle();
                Err(error)
            }
        }
    }

    // What fails in these two cannot be helped, and the first error is the one to tell.

    fn take_back(self) {
        let _ = match self.before {
            Before::Nothing => fs::remove_file(self.target),
            Before::Kept(kept) => fs::rename(kept, self.target),
            Before::Gone => Ok(()),
        };
    }

    fn settle(self) {
        if let Before::Kept(kept) = self.before {
            let _ = fs::remove_file(kept);
        }
    }
}
