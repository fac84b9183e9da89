//! The file beside an output that takes its place when all is written.
//!
//! Where the system can, it has no name until then: whatever ends the process, out of memory or out
//! of power, it leaves nothing behind. Elsewhere it has one, and a signal removes it.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use tempfile::{NamedTempFile, TempPath};

use crate::broken;

/// How names of such files begin and end.
const PREFIX: &str = ".stave-";
const SUFFIX: &str = ".part";

pub(crate) struct Part {
    file: File,
    folder: PathBuf,
    /// Its name once it has one; removed with it unless it was renamed.
    name: Option<TempPath>,
}

impl Part {
    /// A new file in `folder`.
    pub(crate) fn in_folder(folder: &Path) -> io::Result<Self> {
        if let Some(file) = unnamed(folder)? {
            return Ok(Self { file, folder: folder.to_path_buf(), name: None });
        }
        broken::with_parts(|parts| {
            let (file, name) = named(folder)?.into_parts();
            parts.push(name.to_path_buf());
            Ok(Self { file, folder: folder.to_path_buf(), name: Some(name) })
        })
    }

    pub(crate) fn file(&self) -> &File {
        &self.file
    }

    /// Its name; empty before [`Part::name_it`].
    pub(crate) fn path(&self) -> &Path {
        self.name.as_deref().unwrap_or(Path::new(""))
    }

    pub(crate) fn is(&self, path: &Path) -> bool {
        self.path() == path
    }

    /// Gives it the output's own name, where nothing stands there and it has none: so it has no
    /// other name at any time, and a run that is killed leaves none behind. False where that cannot
    /// be.
    pub(crate) fn appear_as(&self, target: &Path) -> bool {
        self.name.is_none() && link(&self.file, target).is_ok()
    }

    /// Gives it a name beside the output's, if it has none.
    pub(crate) fn name_it(&mut self) -> io::Result<()> {
        if self.name.is_some() {
            return Ok(());
        }
        let Self { file, folder, name } = self;
        broken::with_parts(|parts| {
            // A free name is found by trying, as with any temporary file.
            let linked = tempfile::Builder::new()
                .prefix(PREFIX)
                .suffix(SUFFIX)
                .make_in(&*folder, |path| link(file, path))?;
            let linked = linked.into_temp_path();
            parts.push(linked.to_path_buf());
            *name = Some(linked);
            Ok(())
        })
    }

    /// Moves it over `target`.
    pub(crate) fn rename(&mut self, target: &Path) -> io::Result<()> {
        let Some(name) = &mut self.name else { return Err(io::Error::other("it has no name")) };
        fs::rename(&*name, target)?;
        // There is nothing of that name left to remove.
        name.disable_cleanup(true);
        Ok(())
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        if let Some(name) = self.name.take() {
            let path = name.to_path_buf();
            drop(name);
            broken::forget_part(&path);
        }
    }
}

fn named(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The process's umask takes its share, as with any new file.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    // Its error would name a file that nobody has heard of.
    builder.tempfile_in(folder).map_err(|error| error.kind().into())
}

#[cfg(target_os = "linux")]
fn unnamed(folder: &Path) -> io::Result<Option<File>> {
    use rustix::fs::{Mode, OFlags, open};
    use rustix::io::Errno;
    let mode = Mode::from_raw_mode(0o666);
    let file = match open(folder, OFlags::TMPFILE | OFlags::RDWR | OFlags::CLOEXEC, mode) {
        Ok(file) => File::from(file),
        // Not every disk has such files, and not every system knows of them.
        Err(Errno::OPNOTSUPP | Errno::ISDIR | Errno::INVAL | Errno::NOSYS) => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    // Without /proc it could not be given a name later.
    Ok(fs::metadata(in_proc(&file)).is_ok().then_some(file))
}

#[cfg(not(target_os = "linux"))]
fn unnamed(_: &Path) -> io::Result<Option<File>> {
    Ok(None)
}

#[cfg(target_os = "linux")]
fn in_proc(file: &File) -> PathBuf {
    use std::os::fd::AsRawFd;
    PathBuf::from(format!("/proc/self/fd/{}", file.as_raw_fd()))
}

#[cfg(target_os = "linux")]
fn link(file: &File, path: &Path) -> io::Result<()> {
    use rustix::fs::{AtFlags, CWD, linkat};
    linkat(CWD, in_proc(file), CWD, path, AtFlags::SYMLINK_FOLLOW)?;
    Ok(())
}

#[cfg(not(target_os = "linux"))]
fn link(_: &File, _: &Path) -> io::Result<()> {
    Err(io::Error::from(io::ErrorKind::Unsupported))
}
