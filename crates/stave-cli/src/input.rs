//! Opening what is to be read.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use crate::args::InputType;
use crate::failure::Failure;

/// The most a setup file may hold; beyond it, it is not one.
const MOST_SETTINGS_BYTES: u64 = 16 * 1024 * 1024;

/// An input and its name in messages.
pub(crate) struct Input {
    pub(crate) name: String,
    pub(crate) reader: Box<dyn Read>,
    pub(crate) is_svg: bool,
}

impl Input {
    /// All of it: a drawing is read whole.
    pub(crate) fn whole(&mut self) -> Result<Vec<u8>, Failure> {
        let mut bytes = Vec::new();
        self.reader.read_to_end(&mut bytes).map_err(|error| cannot_read(&self.name, &error))?;
        Ok(bytes)
    }
}

/// Opens a file, or standard input for `-`, and looks whether it is SVG: by its name, or by a first
/// `<`.
pub(crate) fn open(path: &Path, from_type: Option<InputType>) -> Result<Input, Failure> {
    let (name, mut reader): (String, Box<dyn Read>) = if path == Path::new("-") {
        ("standard input".into(), Box::new(io::stdin()))
    } else {
        let name = path.display().to_string();
        let file = File::open(path).map_err(|error| cannot_read(&name, &error))?;
        if file.metadata().is_ok_and(|data| data.is_dir()) {
            return Err(Failure::bad(format!("{name} is a directory, not a program")));
        }
        (name, Box::new(file))
    };
    let is_svg = match from_type {
        Some(from_type) => from_type == InputType::Svg,
        None if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg")) => true,
        None => {
            let first = first_bytes(&mut reader).map_err(|error| cannot_read(&name, &error))?;
            let text = first.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&first);
            let is_svg = text.trim_ascii_start().first() == Some(&b'<');
            reader = Box::new(io::Cursor::new(first).chain(reader));
            is_svg
        }
    };
    Ok(Input { name, reader, is_svg })
}

/// What one read gives: enough to see how the input begins, and no longer a wait than its first
/// bytes need.
fn first_bytes(reader: &mut dyn Read) -> io::Result<Vec<u8>> {
    let mut first = vec![0; 4096];
    loop {
        match reader.read(&mut first) {
            Ok(read) => {
                first.truncate(read);
                return Ok(first);
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// What messages call a file.
pub(crate) fn name(path: &Path) -> String {
    if path == Path::new("-") { "standard input".into() } else { path.display().to_string() }
}

/// The text of a setup file.
pub(crate) fn text(path: &Path) -> Result<String, Failure> {
    let name = path.display().to_string();
    let file = File::open(path).map_err(|error| cannot_read(&name, &error))?;
    whole(file, &name)
}

/// The text of a file, or of standard input for `-`.
pub(crate) fn text_or_stdin(path: &Path) -> Result<String, Failure> {
    if path == Path::new("-") { whole(io::stdin(), &name(path)) } else { text(path) }
}

fn whole(file: impl Read, name: &str) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    file.take(MOST_SETTINGS_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| cannot_read(name, &error))?;
    if bytes.len() as u64 > MOST_SETTINGS_BYTES {
        return Err(Failure::bad(format!(
            "{name} is larger than 16 MiB: that is no settings file"
        )));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..at].iter().filter(|byte| **byte == b'\n').count() + 1;
        Failure::bad(format!("{name}:{line}: this is not UTF-8 text; save the file as UTF-8"))
    })
}

fn cannot_read(name: &str, error: &io::Error) -> Failure {
    Failure::bad(format!("cannot read {name}: {error}"))
}
