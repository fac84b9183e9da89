//! What a file is, by how it begins: said where it is given for another.

use std::io::{self, Read};
use std::path::Path;

/// Blanks before the first letter that are looked past; beyond them it is taken for a program.
const MOST_BLANKS: usize = 64 * 1024;
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";
/// Magic numbers: PNG (ISO/IEC 15948, 5.2), JPEG (ITU-T T.81, B.1.1.3), GIF (GIF89a, 17), gzip (RFC
/// 1952, 2.3.1).
const MAGIC: [(&[u8], Begins); 5] = [
    (b"\x89PNG\r\n\x1a\n", Begins::Picture("PNG")),
    (b"\xff\xd8\xff", Begins::Picture("JPEG")),
    (b"GIF87a", Begins::Picture("GIF")),
    (b"GIF89a", Begins::Picture("GIF")),
    (b"\x1f\x8b", Begins::Packed),
];
/// A WebP picture (RFC 9649, 2.4): a RIFF file whose bytes 8 to 11 say so.
const RIFF: &[u8] = b"RIFF";
const WEBP: &[u8] = b"WEBP";
const WEBP_AT: usize = 8;

/// How a file begins.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Begins {
    /// With `<`: a drawing.
    Markup,
    /// With the magic number of this kind of picture.
    Picture(&'static str),
    /// With the magic number of gzip.
    Packed,
    /// Otherwise.
    Text,
}

/// Reads as far as it takes to see how the input begins, and no further: an input that comes bit by
/// bit is not waited for in vain. Gives back what was read.
pub(crate) fn begins(reader: &mut dyn Read) -> io::Result<(Begins, Vec<u8>)> {
    let mut first = Vec::new();
    let mut buffer = [0; 4096];
    loop {
        if let Some(begins) = decided(&first) {
            return Ok((begins, first));
        }
        match reader.read(&mut buffer) {
            Ok(0) => return Ok((Begins::Text, first)),
            Ok(count) => first.extend_from_slice(&buffer[..count]),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// How all that begins like this begins, if that is decided.
pub(crate) fn decided(first: &[u8]) -> Option<Begins> {
    if first.len() < BYTE_ORDER_MARK.len() && BYTE_ORDER_MARK.starts_with(first) {
        return None;
    }
    let text = first.strip_prefix(BYTE_ORDER_MARK).unwrap_or(first);
    let letter = text.iter().find(|byte| !byte.is_ascii_whitespace());
    match letter {
        Some(b'<') => return Some(Begins::Markup),
        None if text.len() <= MOST_BLANKS => return None,
        None => return Some(Begins::Text),
        Some(_) => {}
    }
    for (magic, begins) in MAGIC {
        if first.starts_with(magic) {
            return Some(begins);
        }
        if magic.starts_with(first) {
            return None;
        }
    }
    if RIFF.starts_with(first) {
        return None;
    }
    if first.starts_with(RIFF) {
        return match first.get(WEBP_AT..WEBP_AT + WEBP.len()) {
            Some(WEBP) => Some(Begins::Picture("WebP")),
            Some(_) => Some(Begins::Text),
            None => None,
        };
    }
    Some(Begins::Text)
}

/// What a settings file may be.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Settings {
    Blank,
    Machine,
    Job,
    Order,
}

impl Settings {
    fn option(self) -> &'static str {
        match self {
            Self::Blank => "-b",
            Self::Machine => "-m",
            Self::Job => "-j",
            Self::Order => "`stave order`",
        }
    }

    pub(crate) fn noun(self) -> &'static str {
        match self {
            Self::Blank => "a blank",
            Self::Machine => "a machine",
            Self::Job => "a job",
            Self::Order => "an order",
        }
    }

    /// The sections that only such a file has.
    fn own(self) -> &'static [&'static str] {
        match self {
            Self::Blank => &["[[station]]"],
            Self::Machine => &["[rotary]", "[controller]"],
            Self::Job => &["[[operation]]", "[[piece]]", "[place]"],
            Self::Order => &["[[make]]"],
        }
    }
}

/// What is wrong with a text given as a program, if it is seen to be something else altogether: a
/// settings file by its name, nothing at all, or what other programs save, by how it begins (PDF:
/// ISO 32000-1, 7.5.2; PostScript: Adobe's structuring conventions, 3.0; DXF: a group code and a
/// section; TIFF 6.0, section 2; ISO base media: ISO/IEC 14496-12, 4.3; ZIP: ISO/IEC 21320-1; the
/// byte order mark: ISO/IEC 10646).
pub(crate) fn not_a_program(path: &Path, first: &[u8]) -> Option<String> {
    const AS_PNG: &str = "save it as PNG";
    const TAKEN: &str =
        "what is taken is a drawing (SVG), a program (G-code), or a PNG or JPEG picture";
    let ends = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    match ends.as_deref() {
        Some("toml") => {
            let settings = kind(&String::from_utf8_lossy(first));
            let (noun, option) = (settings.noun(), settings.option());
            return Some(format!("this is {noun} file, which goes with {option}; {TAKEN}"));
        }
        Some("csv" | "tsv") => {
            let goes = "whose rows go with --row or in an order";
            return Some(format!("this is a table, {goes}; {TAKEN}"));
        }
        _ => {}
    }
    if first.is_empty() {
        return Some("there is nothing in it: what should have written it went wrong".to_owned());
    }
    let mut lines = first.split(|byte| *byte == b'\n').map(<[u8]>::trim_ascii);
    let dxf = lines.next() == Some(b"0") && lines.next() == Some(b"SECTION");
    let begins = |magic: &[u8]| first.starts_with(magic);
    let (what, instead) = match first {
        _ if begins(b"%PDF-") => ("a PDF", "export it as SVG"),
        _ if begins(b"%!PS") => ("PostScript", "export it as SVG"),
        _ if dxf => ("a DXF drawing", "export it as SVG"),
        // A file header of 14 bytes: its size, four zeros, and where the pixels are.
        _ if begins(b"BM") && first.get(6..10) == Some(&[0; 4]) => ("a BMP picture", AS_PNG),
        _ if begins(b"II*\0") || begins(b"MM\0*") => ("a TIFF picture", AS_PNG),
        _ if begins(b"8BPS") => ("a layered picture", AS_PNG),
        _ if first.get(4..8) == Some(b"ftyp") => ("a HEIF or AVIF picture, or a film", AS_PNG),
        _ if begins(b"PK\x03\x04") => ("a ZIP archive", "unpack it"),
        _ if begins(b"\xff\xfe") || begins(b"\xfe\xff") => {
            ("text in UTF-16", "save it as UTF-8 or plain ASCII")
        }
        _ => return None,
    };
    Some(format!("this is {what}; {TAKEN}: {instead}"))
}

/// What is wrong with a file given as `wanted`, if it is seen to be something else altogether.
pub(crate) fn mistaken(bytes: &[u8], wanted: Settings) -> Option<String> {
    let option = wanted.option();
    match decided(bytes) {
        Some(Begins::Markup) => {
            return Some(format!("this is a drawing, but {option} takes {} file", wanted.noun()));
        }
        Some(Begins::Picture(kind)) => {
            return Some(format!(
                "this is a {kind} picture, but {option} takes {} file",
                wanted.noun()
            ));
        }
        Some(Begins::Packed) => {
            return Some(format!(
                "this is packed by gzip, but {option} takes {} file",
                wanted.noun()
            ));
        }
        Some(Begins::Text) | None => {}
    }
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{feff}');
    if is_program(text) {
        return Some(format!(
            "this is a G-code program, but {option} takes {} file",
            wanted.noun()
        ));
    }
    let section = |all: &'static [&'static str]| {
        let mut lines = text.lines().map(head);
        lines.find_map(|line| all.iter().copied().find(|own| line == *own))
    };
    if section(wanted.own()).is_some() {
        return None;
    }
    let others = [Settings::Blank, Settings::Machine, Settings::Job, Settings::Order];
    let (other, own) = others
        .into_iter()
        .filter(|other| *other != wanted)
        .find_map(|other| Some((other, section(other.own())?)))?;
    Some(format!(
        "this is {} file (it has {own}), but {option} takes {} file: it goes with {}",
        other.noun(),
        wanted.noun(),
        other.option()
    ))
}

/// What a settings file is, by the sections that only such a file has; a job may have none.
pub(crate) fn kind(text: &str) -> Settings {
    let has = |settings: Settings| {
        text.lines().map(head).any(|line| settings.own().iter().any(|own| line == *own))
    };
    let settings = [Settings::Blank, Settings::Machine, Settings::Order];
    settings.into_iter().find(|one| has(*one)).unwrap_or(Settings::Job)
}

/// A line as a section's head is written, without blanks and comment.
fn head(line: &str) -> String {
    let line = line.split('#').next().unwrap_or_default();
    line.chars().filter(|letter| !letter.is_whitespace()).collect()
}

/// A first line that no settings file has: a comment in brackets or after `;`, a percent sign, or a
/// letter and a number.
fn is_program(text: &str) -> bool {
    let Some(line) = text.lines().map(str::trim).find(|line| !line.is_empty()) else {
        return false;
    };
    let mut letters = line.chars();
    match letters.next() {
        Some('(' | ';' | '%') => true,
        Some(first) if first.is_ascii_alphabetic() => {
            let number = letters.as_str().trim_start();
            !line.contains('=')
                && number.starts_with(|next: char| next.is_ascii_digit() || "+-.".contains(next))
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_more_is_read_than_decides() {
        let cases: [(&[u8], Option<Begins>); 16] = [
            (b"", None),
            (b" \n\t", None),
            (b"\xef", None),
            (b"\xef\xbb\xbf\n", None),
            (b"\xef\xbb\xbf\n<", Some(Begins::Markup)),
            (b"\n<svg", Some(Begins::Markup)),
            (b"(", Some(Begins::Text)),
            (b"\nG", Some(Begins::Text)),
            (b"G", None),
            (b"G1", Some(Begins::Text)),
            (b"GIF89a", Some(Begins::Picture("GIF"))),
            (b"\x89PNG\r\n\x1a\n", Some(Begins::Picture("PNG"))),
            (b"\xff\xd8\xff\xe0", Some(Begins::Picture("JPEG"))),
            (b"RIFF\0\0\0\0WEB", None),
            (b"RIFF\0\0\0\0WEBPVP8 ", Some(Begins::Picture("WebP"))),
            (b"\x1f\x8b", Some(Begins::Packed)),
        ];
        for (first, begins) in cases {
            assert_eq!(decided(first), begins, "{first:?}");
        }
        assert_eq!(decided(&[b' '; MOST_BLANKS + 1]), Some(Begins::Text));
    }

    #[test]
    fn a_file_given_for_another_is_told_by_what_it_has() {
        let blank = "name = \"cup\"\n[[station]] # the rim\nat = 0\n";
        let machine = "name = \"bench\"\n[x]\nspeed = 1\n[rotary]\nword = \"A\"\n";
        let job = "lay = \"label\"\n[place]\nat = 3\n";
        for (text, own) in
            [(blank, Settings::Blank), (machine, Settings::Machine), (job, Settings::Job)]
        {
            for wanted in [Settings::Blank, Settings::Machine, Settings::Job] {
                let told = mistaken(text.as_bytes(), wanted);
                assert_eq!(told.is_none(), own == wanted, "{told:?}");
            }
        }
        for program in ["G21\nG90\n", "(a cup)\nG1 X1\n", "%\nO1\n", "; cup\n", "n10 g1\n"] {
            let told = mistaken(program.as_bytes(), Settings::Job).unwrap();
            assert!(told.contains("G-code"), "{told}");
        }
        assert_eq!(mistaken(b"tilt = 3\n", Settings::Job), None);
        assert_eq!(mistaken(b"# nothing yet\n", Settings::Blank), None);
    }
}
