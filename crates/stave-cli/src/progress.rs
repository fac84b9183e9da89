//! A bar that shows how much of an input has been read.

use std::io::{self, IsTerminal, Read, Write};
use std::path::Path;
use std::time::{Duration, Instant};

use crate::shown::{name, plain};

/// An input that takes less than this shows no bar.
const QUIET: Duration = Duration::from_secs(1);
/// How often the bar is drawn anew.
const BEAT: Duration = Duration::from_millis(100);
const WIDTH: u64 = 40;

/// A reader that tells on standard error how far it is, if that is a terminal.
pub(crate) struct Watched<R> {
    reader: R,
    bar: Option<Bar>,
}

struct Bar {
    name: String,
    begun: Instant,
    drawn: Option<Instant>,
    read: u64,
    /// `None` where it cannot be known: standard input, a device.
    whole: Option<u64>,
}

impl<R: Read> Watched<R> {
    /// Watches `reader`, which reads `path`.
    pub(crate) fn new(reader: R, path: &Path) -> Self {
        let bar = io::stderr().is_terminal().then(|| Bar {
            name: path
                .file_name()
                .map_or_else(|| "input".into(), |file| name(&file.to_string_lossy())),
            begun: Instant::now(),
            drawn: None,
            read: 0,
            whole: std::fs::metadata(path)
                .ok()
                .filter(std::fs::Metadata::is_file)
                .map(|data| data.len()),
        });
        Self { reader, bar }
    }
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.reader.read(buffer)?;
        if let Some(bar) = &mut self.bar {
            bar.go_on(got as u64);
        }
        Ok(got)
    }
}

impl Bar {
    fn go_on(&mut self, got: u64) {
        self.read += got;
        if self.begun.elapsed() < QUIET || self.drawn.is_some_and(|drawn| drawn.elapsed() < BEAT) {
            return;
        }
        self.drawn = Some(Instant::now());
        // Whether anyone sees it does not matter.
        let _ = write!(io::stderr().lock(), "\r{}\x1b[K", plain(&self.text()));
    }

    fn text(&self) -> String {
        let megabytes = self.read / 1_000_000;
        match self.whole.filter(|whole| *whole > 0) {
            Some(whole) => {
                let read = self.read.min(whole);
                let filled = usize::try_from(read * WIDTH / whole).unwrap_or(0);
                let rest = usize::try_from(WIDTH).unwrap_or(0) - filled;
                let percent = read * 100 / whole;
                format!("{} {}{} {percent:>3} %", self.name, "█".repeat(filled), "░".repeat(rest))
            }
            None => format!("{} {megabytes} MB", self.name),
        }
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        if self.drawn.is_some() {
            let _ = write!(io::stderr().lock(), "\r\x1b[K");
        }
    }
}

/// A bar that shows how many of many things are done.
pub(crate) struct Tally {
    bar: Option<Bar>,
}

impl Tally {
    /// Counts to `whole` under a name.
    pub(crate) fn new(name: &str, whole: usize) -> Self {
        let bar = io::stderr().is_terminal().then(|| Bar {
            name: name.to_owned(),
            begun: Instant::now(),
            drawn: None,
            read: 0,
            whole: Some(whole as u64),
        });
        Self { bar }
    }

    pub(crate) fn one_more(&mut self) {
        if let Some(bar) = &mut self.bar {
            bar.go_on(1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_fills_with_what_was_read() {
        let mut bar = Bar {
            name: "a.nc".into(),
            begun: Instant::now(),
            drawn: None,
            read: 30,
            whole: Some(120),
        };
        assert_eq!(bar.text(), format!("a.nc {}{}  25 %", "█".repeat(10), "░".repeat(30)));
        // A file that grew while it was read is full, not more.
        bar.read = 500;
        assert_eq!(bar.text(), format!("a.nc {} 100 %", "█".repeat(40)));
        bar.whole = None;
        bar.read = 5_300_000;
        assert_eq!(bar.text(), "a.nc 5 MB");
    }
}
