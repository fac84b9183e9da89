//! Writing results: whole, or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::failure::Failure;

/// More than the head of a wrapped program holds.
const HEAD_BYTES: u64 = 4 * 1024;
/// How many symlinks in a row are followed before they are taken for a ring.
const MOST_LINKS: usize = 40;

/// Where results go.
pub(crate) enum Output {
    /// Standard output, a device or a FIFO: written straight through.
    Through(Box<dyn Write>),
    /// A file beside the one that is meant, which takes its place when all is written.
    Beside { file: NamedTempFile, target: PathBuf },
}

impl Output {
    /// Opens `path`, or standard output for nothing or `-`. Nothing that is there is touched before
    /// [`Output::keep`].
    pub(crate) fn open(path: Option<&Path>) -> Result<Self, Failure> {
        let Some(path) = path.filter(|path| *path != Path::new("-")) else {
            return Ok(Self::Through(Box::new(io::stdout())));
        };
        let fail =
            |error: &io::Error| Failure::bad(format!("cannot write {}: {error}", path.display()));
        let target = resolve(path).map_err(|error| fail(&error))?;
        match fs::metadata(&target) {
            Ok(data) if data.is_dir() => {
                return Err(Failure::bad(format!(
                    "cannot write {}: it is a directory",
                    path.display()
                )));
            }
            Ok(data) if !data.is_file() => {
                let device =
                    OpenOptions::new().write(true).open(&target).map_err(|error| fail(&error))?;
                return Ok(Self::Through(Box::new(device)));
            }
            Ok(_) => {
                // A file that may not be written must not be replaced either.
                OpenOptions::new().append(true).open(&target).map_err(|error| fail(&error))?;
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => return Err(fail(&error)),
        }
        let folder = target
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty())
            .unwrap_or(Path::new("."));
        let mut builder = tempfile::Builder::new();
        builder.prefix(".stave-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The process's umask takes its share, as with any new file.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        let file = builder.tempfile_in(folder).map_err(|error| fail(&error))?;
        if let Ok(data) = fs::metadata(&target) {
            file.as_file().set_permissions(data.permissions()).map_err(|error| fail(&error))?;
        }
        Ok(Self::Beside { file, target })
    }

    /// Writes `new` over the last `old` of the head, as many bytes, where what was written can still
    /// be changed.
    pub(crate) fn correct(&mut self, old: &str, new: &str) -> io::Result<()> {
        let Self::Beside { file, .. } = self else { return Ok(()) };
        debug_assert_eq!(old.len(), new.len());
        let mut head = Vec::new();
        let whole = file.as_file_mut();
        whole.seek(SeekFrom::Start(0))?;
        whole.take(HEAD_BYTES).read_to_end(&mut head)?;
        if let Some(at) = head.windows(old.len()).position(|part| part == old.as_bytes()) {
            whole.seek(SeekFrom::Start(at as u64))?;
            whole.write_all(new.as_bytes())?;
        }
        whole.seek(SeekFrom::End(0)).map(drop)
    }

    /// Puts what was written in its place.
    pub(crate) fn keep(self) -> Result<(), Failure> {
        match self {
            Self::Through(_) => Ok(()),
            Self::Beside { file, target } => file.persist(&target).map(drop).map_err(|error| {
                Failure::bad(format!("cannot write {}: {}", target.display(), error.error))
            }),
        }
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Through(out) => out.write(bytes),
            Self::Beside { file, .. } => file.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Through(out) => out.flush(),
            Self::Beside { file, .. } => file.flush(),
        }
    }
}

/// Writes a whole text; a reader that has gone is no fault.
pub(crate) fn write(path: Option<&Path>, text: &str) -> Result<(), Failure> {
    let mut output = Output::open(path)?;
    match output.write_all(text.as_bytes()).and_then(|()| output.flush()) {
        Ok(()) => output.keep(),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Err(Failure::closed_pipe()),
        Err(error) => Err(Failure::bad(format!("the output could not be written: {error}"))),
    }
}

/// The file a path means, symlinks followed even where the last one points at nothing yet.
fn resolve(path: &Path) -> io::Result<PathBuf> {
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
