//! Which file is which: no run writes over what it reads, or two results into one file.

use std::fs::{self, Metadata};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use crate::failure::Failure;
use crate::input;
use crate::output::{Carries, Output};
use crate::settings::Paths;

/// How many symlinks in a row are followed before they are taken for a ring.
const MOST_LINKS: usize = 40;

/// What this process writes, and the pictures that its drawings show: which those are is known only
/// when a drawing has been read, after the outputs were opened.
static WRITTEN: Mutex<Vec<Known>> = Mutex::new(Vec::new());
static PICTURES: Mutex<Vec<Known>> = Mutex::new(Vec::new());

/// A picture of a drawing is read.
pub(crate) fn reads_picture(path: &Path) {
    if let Ok(Some(identity)) = of_path(path) {
        let known = Known { what: "a picture of the drawing", name: input::name(path), identity };
        PICTURES.lock().unwrap_or_else(PoisonError::into_inner).push(known);
    }
}

/// Nothing is kept where a picture that was read would be written over.
pub(crate) fn no_picture_is_written() -> Result<(), Failure> {
    let written = WRITTEN.lock().unwrap_or_else(PoisonError::into_inner);
    for picture in PICTURES.lock().unwrap_or_else(PoisonError::into_inner).iter() {
        let clash = written.iter().find(|known| known.identity == picture.identity);
        if let Some(known) = clash {
            return Err(clashing(known.what, &known.name, picture));
        }
    }
    Ok(())
}

/// The files of one run: what it reads, and what it writes.
#[derive(Default)]
pub(crate) struct Files {
    known: Vec<Known>,
}

#[derive(Clone)]
struct Known {
    /// What the run has it for: "the blank", "-o".
    what: &'static str,
    name: String,
    identity: Identity,
}

#[derive(Clone, PartialEq)]
enum Identity {
    /// Device and inode.
    #[cfg(unix)]
    Inode(u64, u64),
    /// Of a file that is not there yet, or where there are no inodes.
    Path(PathBuf),
}

impl Files {
    /// Those of a setup.
    pub(crate) fn of_setup(paths: &Paths) -> Self {
        Self::default()
            .reads("the blank", &paths.blank)
            .reads("the machine", &paths.machine)
            .may_read("the job", paths.job.as_deref())
            .reads_all("a font", &paths.fonts)
    }

    /// With a file that is read; `-` is standard input.
    pub(crate) fn reads(mut self, what: &'static str, path: &Path) -> Self {
        let identity = if path == Path::new("-") { of_stdin() } else { of_path(path) };
        // One that cannot be found is told of by whoever opens it.
        if let Ok(Some(identity)) = identity {
            self.known.push(Known { what, name: input::name(path), identity });
        }
        self
    }

    /// With files that are read, if there are any.
    pub(crate) fn reads_all(self, what: &'static str, paths: &[PathBuf]) -> Self {
        paths.iter().fold(self, |files, path| files.reads(what, path))
    }

    /// With a file that is read if it is given.
    pub(crate) fn may_read(self, what: &'static str, path: Option<&Path>) -> Self {
        match path {
            Some(path) => self.reads(what, path),
            None => self,
        }
    }

    /// Opens a file to write, or standard output for nothing or `-`.
    pub(crate) fn writes(
        &mut self,
        what: &'static str,
        path: Option<&Path>,
        carries: Carries,
    ) -> Result<Output, Failure> {
        self.writes_over(what, path, carries, None)
    }

    /// The same, where the file may be the one that is read as `over`.
    pub(crate) fn writes_over(
        &mut self,
        what: &'static str,
        path: Option<&Path>,
        carries: Carries,
        over: Option<&'static str>,
    ) -> Result<Output, Failure> {
        let path = path.filter(|path| *path != Path::new("-"));
        let (identity, name) = match path {
            Some(path) => (of_path(path), input::name(path)),
            None => (of_stdout(), "standard output".to_owned()),
        };
        let identity =
            identity.map_err(|error| Failure::bad(format!("cannot write {name}: {error}")))?;
        if let Some(identity) = identity {
            // What is told there would stand within the program.
            if carries == Carries::Program && of_stderr().ok().flatten() == Some(identity.clone()) {
                let known = Known { what: "what is told", name: "standard error".into(), identity };
                return Err(clashing(what, &name, &known));
            }
            let clash = self
                .known
                .iter()
                .find(|known| known.identity == identity && Some(known.what) != over);
            if let Some(known) = clash {
                return Err(clashing(what, &name, known));
            }
            let known = Known { what, name, identity };
            WRITTEN.lock().unwrap_or_else(PoisonError::into_inner).push(known.clone());
            self.known.push(known);
        }
        Output::open(path, carries)
    }

    /// Whether `path` is a file that is read, or written already.
    pub(crate) fn reads_it(&self, path: &Path) -> bool {
        let identity = of_path(path).ok().flatten();
        identity.is_some_and(|one| self.known.iter().any(|known| known.identity == one))
    }

    /// Whether `path` is the file that is read as `what`.
    pub(crate) fn is(&self, path: &Path, what: &str) -> bool {
        let identity = of_path(path).ok().flatten();
        let is = |known: &Known| known.what == what && Some(&known.identity) == identity.as_ref();
        self.known.iter().any(is)
    }
}

fn clashing(what: &str, name: &str, known: &Known) -> Failure {
    let Known { what: known_what, name: known_name, .. } = known;
    let same = if name == known_name {
        format!("{name} is {known_what} and {what} at once")
    } else {
        format!("{name} ({what}) and {known_name} ({known_what}) are one file")
    };
    Failure::bad(format!("{same}; nothing was written: name another file to write to"))
}

/// Whether two paths are one file, there or not.
pub(crate) fn same_file(one: &Path, other: &Path) -> bool {
    let known = |path| of_path(path).ok().flatten();
    known(one).is_some_and(|one| Some(one) == known(other))
}

/// What a file is known by; nothing where it is no regular file: devices and pipes may well be read
/// and written at once.
fn of_path(path: &Path) -> io::Result<Option<Identity>> {
    match fs::metadata(path) {
        Ok(data) => Ok(of_data(&data, path)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            Ok(Some(Identity::Path(absolute(&resolve(path)?))))
        }
        Err(error) => Err(error),
    }
}

#[cfg(unix)]
fn of_data(data: &Metadata, _: &Path) -> Option<Identity> {
    use std::os::unix::fs::MetadataExt;
    data.is_file().then(|| Identity::Inode(data.dev(), data.ino()))
}

#[cfg(not(unix))]
fn of_data(data: &Metadata, path: &Path) -> Option<Identity> {
    data.is_file().then(|| Identity::Path(absolute(path)))
}

/// A path without links, `.` and `..`, whether or not there is a file at its end.
fn absolute(path: &Path) -> PathBuf {
    if let Ok(path) = fs::canonicalize(path) {
        return path;
    }
    match (fs::canonicalize(folder_of(path)), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf()),
    }
}

/// The folder a file lies in.
pub(crate) fn folder_of(path: &Path) -> &Path {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}

#[cfg(unix)]
fn of_stdin() -> io::Result<Option<Identity>> {
    of_handle(&io::stdin())
}

#[cfg(unix)]
fn of_stdout() -> io::Result<Option<Identity>> {
    of_handle(&io::stdout())
}

#[cfg(unix)]
fn of_stderr() -> io::Result<Option<Identity>> {
    of_handle(&io::stderr())
}

#[cfg(unix)]
fn of_handle(handle: &impl std::os::fd::AsFd) -> io::Result<Option<Identity>> {
    let file = fs::File::from(handle.as_fd().try_clone_to_owned()?);
    Ok(of_data(&file.metadata()?, Path::new("")))
}

#[cfg(not(unix))]
fn of_stdin() -> io::Result<Option<Identity>> {
    Ok(None)
}

#[cfg(not(unix))]
fn of_stdout() -> io::Result<Option<Identity>> {
    Ok(None)
}

#[cfg(not(unix))]
fn of_stderr() -> io::Result<Option<Identity>> {
    Ok(None)
}

/// The file a path means, symlinks followed even where the last one points at nothing yet.
pub(crate) fn resolve(path: &Path) -> io::Result<PathBuf> {
    let mut target = path.to_path_buf();
    for _ in 0..MOST_LINKS {
        match fs::read_link(&target) {
            Ok(next) => {
                target = match target.parent() {
                    Some(folder) if next.is_relative() => folder.join(next),
                    _ => next,
                };
            }
            Err(_) => return Ok(target),
        }
    }
    Err(io::Error::other("its symlinks run in a ring"))
}
