//! Why a drawing cannot be read at all.

use stave_toolpath::field::FieldFault;
use thiserror::Error;

/// Why a drawing cannot be read.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum SvgError {
    /// Compressed by gzip.
    #[error("the drawing is compressed (svgz): unpack it with gunzip first")]
    Compressed,
    /// Not UTF-8.
    #[error("byte {at} is not UTF-8: save the drawing in that encoding")]
    Encoding {
        /// The first byte that is not, counted from 0.
        at: usize,
    },
    /// Not well-formed XML.
    #[error("line {line}, column {column}: {message}")]
    Xml {
        /// The line, counted from 1.
        line: u32,
        /// The column in characters, counted from 1.
        column: u32,
        /// What is wrong.
        message: String,
    },
    /// XML, but not SVG.
    #[error("the document is <{root}>, not <svg>")]
    NotSvg {
        /// Its root element.
        root: String,
    },
    /// No page.
    #[error("the drawing's width and height make no page: give both, more than 0, or a viewBox")]
    Size,
    /// A page where a mm is nothing.
    #[error(
        "the drawing's page is {:.0} m wide and {:.0} m high, and at most 1000 m are read: give \
         it a width and a height in mm, and a viewBox that holds the art alone",
        width_mm / 1e3, height_mm / 1e3
    )]
    LargePage {
        /// How wide it is.
        width_mm: f64,
        /// How high it is.
        height_mm: f64,
    },
    /// More than the reader takes, to bound memory and time.
    #[error(
        "the drawing is too large: {what}, {found} where at most {most} are read; simplify it or \
         part it in two"
    )]
    TooLarge {
        /// What there is too much of.
        what: &'static str,
        /// How much.
        found: u64,
        /// How much is read.
        most: u64,
    },
    /// A clip path, mask, pattern or filter that is made from itself.
    #[error(
        "the clip path, mask, pattern or filter {name} refers to itself: remove that reference"
    )]
    Circular {
        /// What it is called.
        name: String,
    },
    /// A text with fields that cannot be filled.
    #[error(
        "line {line}: {fault}{}",
        known.as_ref().map_or(String::new(), |known| format!("; did you mean `{{{known}}}`?"))
    )]
    Field {
        /// The line, counted from 1.
        line: u32,
        /// What is wrong.
        fault: FieldFault,
        /// The nearest field that has a value.
        known: Option<String>,
    },
    /// A value that cannot stand where its field does, or a setting of a field: a sentence.
    #[error("line {line}: {message}")]
    Value {
        /// The line, counted from 1.
        line: u32,
        /// What is wrong.
        message: String,
    },
    /// No thread to read it on.
    #[error(
        "short of memory or threads: drawings are read on a thread of their own with 256 MiB to \
         nest in, and the system gives none; close other programs, or raise the limits (ulimit -v, \
         -u)"
    )]
    NoRoom,
    /// A fault of the reader.
    #[error(
        "the drawing made the reader stumble: please report it, and save it in another way \
         meanwhile"
    )]
    Stumbled,
}

impl From<&roxmltree::Error> for SvgError {
    fn from(error: &roxmltree::Error) -> SvgError {
        let at = error.pos();
        // The library's own messages end with the place.
        let mut message = error.to_string();
        if let Some(cut) = message.rfind(" at ") {
            message.truncate(cut);
        }
        SvgError::Xml { line: at.row, column: at.col, message }
    }
}
