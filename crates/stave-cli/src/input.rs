//! Opening what is to be read.

use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::{Component, Path, PathBuf};

use flate2::read::MultiGzDecoder;

use stave::{Linked, Source};

use crate::args::{FieldOptions, InputType, PictureOptions};
use crate::failure::Failure;
use crate::files::reads_picture;
use crate::progress::Watched;
use crate::recognised::{Begins, Settings, begins, mistaken, not_a_program};
use crate::shown;

/// The most a setup file may hold; beyond it, it is not one.
const MOST_SETTINGS_BYTES: u64 = 16 * 1024 * 1024;
/// The most a drawing may hold, unpacked. The reader has its own bounds, and says which; but they
/// are looked at when all of it is in memory.
const MOST_DRAWING_BYTES: u64 = 256 << 20;
/// The most a picture may hold, packed as it is.
const MOST_PICTURE_BYTES: u64 = 1 << 30;
/// The most a font may hold: a collection with every character of East Asia has 100 MB.
const MOST_FONT_BYTES: u64 = 256 << 20;
/// How much room is asked for at a time.
const PIECE: usize = 64 * 1024;

/// What an input is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Kind {
    Program,
    Drawing,
    Picture,
}

/// An input and its name in messages.
pub(crate) struct Input {
    pub(crate) name: String,
    pub(crate) reader: Box<dyn Read>,
    pub(crate) kind: Kind,
    /// The folder that it lies in; none for standard input.
    pub(crate) folder: Option<PathBuf>,
}

/// What a command works on: path data where that is given, a drawing or picture whole, a program as
/// it comes.
pub(crate) fn source<'a>(
    path: &Path,
    data: Option<&'a str>,
    from_type: Option<InputType>,
    (size, fields): (&PictureOptions, &FieldOptions),
) -> Result<Source<'a>, Failure> {
    match data {
        Some(data) => of_path(data, size, fields),
        None => open(path, from_type)?.source(size, fields),
    }
}

/// Path data, its fields filled.
pub(crate) fn of_path<'a>(
    data: &'a str,
    size: &PictureOptions,
    fields: &FieldOptions,
) -> Result<Source<'a>, Failure> {
    size.refuse_for("path data")?;
    Ok(Source::path(data).filled(&fields.read()?)?)
}

impl Input {
    /// The same input with bytes that were read from it.
    pub(crate) fn of_bytes(&self, bytes: Vec<u8>) -> Self {
        Self {
            name: self.name.clone(),
            reader: Box::new(Cursor::new(bytes)),
            kind: self.kind,
            folder: self.folder.clone(),
        }
    }

    /// As the pipeline takes it: a drawing whole, its fields filled, a picture whole, a program as
    /// it comes.
    pub(crate) fn source<'a>(
        mut self,
        size: &PictureOptions,
        fields: &FieldOptions,
    ) -> Result<Source<'a>, Failure> {
        let values = fields.read()?;
        if self.kind != Kind::Picture {
            size.refuse_for(if self.kind == Kind::Drawing { "a drawing" } else { "a program" })?;
        }
        let source = match self.kind {
            Kind::Drawing => Source::drawing(self.whole()?),
            Kind::Picture => Source::picture(self.whole()?, size.read()?),
            Kind::Program => Source::program(self.reader),
        };
        let source = match self.folder {
            Some(folder) => source.linked(pictures_in(vec![folder])),
            None => source,
        };
        Ok(source.named(self.name).filled(&values)?)
    }

    /// All of it.
    pub(crate) fn whole(&mut self) -> Result<Vec<u8>, Failure> {
        let (most, what) = match self.kind {
            Kind::Program => (u64::MAX, "program"),
            Kind::Drawing => (MOST_DRAWING_BYTES, "drawing"),
            Kind::Picture => (MOST_PICTURE_BYTES, "picture"),
        };
        let fail = |error: io::Error| cannot_read(&self.name, &error);
        let bytes = all_of(&mut self.reader, most).map_err(fail)?;
        bytes.ok_or_else(|| {
            let mib = most >> 20;
            Failure::bad(format!("{}: a {what} may hold at most {mib} MiB", self.name))
        })
    }
}

/// The pictures that a drawing shows, from the first of these folders that has them, or below it.
pub(crate) fn pictures_in(folders: Vec<PathBuf>) -> Linked {
    Linked::by(move |path| {
        let has = |folder: &&PathBuf| folder.join(path).exists();
        let folder = folders.iter().find(has).or(folders.first());
        folder.map_or_else(|| Err(String::new()), |folder| picture_in(folder, path))
    })
}

/// The bytes of a picture that a drawing shows, from its own folder or below. What leads out of it,
/// by name or by link, is never read.
fn picture_in(folder: &Path, path: &str) -> Result<Vec<u8>, String> {
    let outside = || {
        format!(
            "{} leads out of the drawing's folder, where nothing is read: left out; put it beside \
             the drawing or below",
            shown::name(path)
        )
    };
    let missing = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound => {
            format!("{} is not there: left out; put it beside the drawing", shown::name(path))
        }
        _ => format!("{} cannot be read ({error}): left out", shown::name(path)),
    };
    let relative = Path::new(path);
    let inside = |part: Component<'_>| matches!(part, Component::Normal(_) | Component::CurDir);
    if !relative.components().all(inside) {
        return Err(outside());
    }
    let folder = folder.canonicalize().map_err(missing)?;
    let file = folder.join(relative).canonicalize().map_err(missing)?;
    if !file.starts_with(&folder) {
        return Err(outside());
    }
    // Looked at before it is opened: a pipe would wait for somebody to write.
    if !file.metadata().map_err(missing)?.is_file() {
        return Err(format!("{} is no file: left out", shown::name(path)));
    }
    reads_picture(&file);
    let mut reader = File::open(&file).map_err(missing)?;
    let bytes = all_of(&mut reader, MOST_PICTURE_BYTES).map_err(missing)?;
    bytes.ok_or_else(|| {
        let mib = MOST_PICTURE_BYTES >> 20;
        format!("{} holds more than {mib} MiB: left out; make it smaller", shown::name(path))
    })
}

/// The bytes of a file of fonts.
pub(crate) fn font(path: &Path) -> io::Result<Vec<u8>> {
    all_of(&mut File::open(path)?, MOST_FONT_BYTES)?.ok_or_else(|| {
        io::Error::other(format!("a font may hold at most {} MiB", MOST_FONT_BYTES >> 20))
    })
}

/// All that `reader` gives; `None` where that is more than `most`. Memory that cannot be had is an
/// error as any other.
fn all_of(reader: &mut dyn Read, most: u64) -> io::Result<Option<Vec<u8>>> {
    let mut bytes = Vec::new();
    loop {
        bytes.try_reserve(PIECE).map_err(|_| {
            let message = format!("there is not enough memory for more than {} bytes", bytes.len());
            io::Error::new(io::ErrorKind::OutOfMemory, message)
        })?;
        // Reads into the room there is, and so never asks for more itself.
        let room = (bytes.capacity() - bytes.len()).min(PIECE) as u64;
        if Read::take(&mut *reader, room).read_to_end(&mut bytes)? == 0 {
            return Ok(Some(bytes));
        }
        if bytes.len() as u64 > most {
            return Ok(None);
        }
    }
}

/// The pictures that are taken.
const TAKEN: [&str; 2] = ["PNG", "JPEG"];

/// Opens a file, or standard input for `-`, and looks what it is: SVG by its name or by a first
/// `<`, a picture by its first bytes. What is packed by gzip is unpacked if it is.
pub(crate) fn open(path: &Path, from_type: Option<InputType>) -> Result<Input, Failure> {
    let name = name(path);
    let fail = |error: io::Error| cannot_read(&name, &error);
    let mut folder = None;
    let mut reader: Box<dyn Read> = if path == Path::new("-") {
        Box::new(Watched::stdin(io::stdin()))
    } else {
        let around = path.parent().filter(|parent| !parent.as_os_str().is_empty());
        folder = Some(around.unwrap_or(Path::new(".")).to_path_buf());
        let file = File::open(path).map_err(fail)?;
        if file.metadata().is_ok_and(|data| data.is_dir()) {
            return Err(Failure::bad(format!("{name} is a directory, not a program")));
        }
        Box::new(Watched::file(file, path))
    };
    if from_type == Some(InputType::Gcode) {
        return Ok(Input { name, reader, kind: Kind::Program, folder });
    }
    let (mut begin, mut first) = begins(&mut reader).map_err(fail)?;
    let packed = begin == Begins::Packed;
    if packed {
        reader = Box::new(MultiGzDecoder::new(Cursor::new(first).chain(reader)));
        (begin, first) = begins(&mut reader).map_err(fail)?;
    }
    let another = not_a_program(path, &first);
    let is_empty = first.is_empty();
    let reader: Box<dyn Read> = Box::new(Cursor::new(first).chain(reader));
    let named_so = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg"));
    let is_svg = from_type == Some(InputType::Svg) || named_so || begin == Begins::Markup;
    match begin {
        Begins::Picture(kind) if is_svg || packed || !TAKEN.contains(&kind) => {
            Err(Failure::bad(format!(
                "{name}: this is a {kind} picture; what is taken is a drawing (SVG), a program \
                 (G-code), or a PNG or JPEG picture"
            )))
        }
        Begins::Picture(_) => Ok(Input { name, reader, kind: Kind::Picture, folder }),
        Begins::Packed => {
            Err(Failure::bad(format!("{name}: this is packed by gzip more than once")))
        }
        _ if packed && !is_svg => Err(Failure::bad(format!(
            "{name}: this is packed by gzip and holds no drawing; unpack it first"
        ))),
        _ if is_svg && !is_empty => Ok(Input { name, reader, kind: Kind::Drawing, folder }),
        _ => match another {
            Some(told) => Err(Failure::bad(format!("{name}: {told}"))),
            None => Ok(Input { name, reader, kind: Kind::Program, folder }),
        },
    }
}

/// What messages call a file.
pub(crate) fn name(path: &Path) -> String {
    if path == Path::new("-") {
        "standard input".into()
    } else {
        shown::name(&path.display().to_string())
    }
}

/// The text of a settings file.
pub(crate) fn settings(path: &Path, wanted: Settings) -> Result<String, Failure> {
    let name = name(path);
    let bytes = whole(open_plain(path, &name)?, &name)?;
    if let Some(told) = mistaken(&bytes, wanted) {
        return Err(Failure::bad(format!("{name}: {told}")));
    }
    utf8(bytes, &name)
}

/// The text of a file, or of standard input for `-`.
pub(crate) fn text_or_stdin(path: &Path) -> Result<String, Failure> {
    let name = name(path);
    let bytes = if path == Path::new("-") {
        whole(Box::new(io::stdin()), &name)?
    } else {
        whole(open_plain(path, &name)?, &name)?
    };
    utf8(bytes, &name)
}

fn open_plain(path: &Path, name: &str) -> Result<Box<dyn Read>, Failure> {
    match File::open(path) {
        Ok(file) => Ok(Box::new(file)),
        Err(error) => Err(cannot_read(name, &error)),
    }
}

fn whole(mut file: Box<dyn Read>, name: &str) -> Result<Vec<u8>, Failure> {
    let bytes =
        all_of(&mut file, MOST_SETTINGS_BYTES).map_err(|error| cannot_read(name, &error))?;
    bytes.ok_or_else(|| {
        Failure::bad(format!("{name} is larger than 16 MiB: that is no settings file"))
    })
}

fn utf8(bytes: Vec<u8>, name: &str) -> Result<String, Failure> {
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..at].iter().filter(|byte| **byte == b'\n').count() + 1;
        Failure::bad(format!("{name}:{line}: this is not UTF-8 text; save the file as UTF-8"))
    })
}

pub(crate) fn cannot_read(name: &str, error: &io::Error) -> Failure {
    Failure::bad(format!("cannot read {name}: {error}"))
}
