//! What comes in, and how it is read.

use std::borrow::Cow;
use std::fmt;
use std::io::Read;

use stave_check::Code;
use stave_parse::gcode::ReadOptions;
#[cfg(feature = "svg")]
use stave_parse::svg::{Fonts, Linked};
use stave_rig::Stamp;
#[cfg(feature = "svg")]
use stave_setup::InputDigest;

#[cfg(feature = "svg")]
use crate::layout::PictureSize;
use crate::run::{Pass, ScanLines};

/// What a step of the job is done to.
///
/// ```
/// use stave::Source;
/// let program = Source::program(&b"G1 X10 F600\nM2\n"[..]).named("a.nc");
/// assert_eq!(program.name(), "a.nc");
/// assert_eq!(Source::program(&b""[..]).name(), "standard input");
/// ```
#[non_exhaustive]
pub enum Source<'a> {
    /// A program, flat or wrapped: it is read as it comes.
    Program {
        /// Its bytes.
        input: Box<dyn Read + 'a>,
        /// What messages call it.
        name: Cow<'a, str>,
    },
    /// A drawing.
    #[cfg(feature = "svg")]
    Drawing {
        /// An SVG document.
        svg: Cow<'a, [u8]>,
        /// What messages call it.
        name: Cow<'a, str>,
        /// Where the pictures come from that it shows from files beside it.
        linked: Linked,
    },
    /// Bare path data, one unit to the mm, y down.
    #[cfg(feature = "svg")]
    Path(Cow<'a, str>),
    /// A picture: burned grey by grey, upright on a page of its own.
    #[cfg(feature = "svg")]
    Picture {
        /// A PNG or JPEG file.
        bytes: Cow<'a, [u8]>,
        /// How large it is to be.
        size: PictureSize,
        /// What messages call it.
        name: Cow<'a, str>,
    },
}

/// What an input is called that has no name of its own.
const NAMELESS: &str = "standard input";

impl<'a> Source<'a> {
    /// A program, flat or wrapped.
    pub fn program(input: impl Read + 'a) -> Self {
        Self::Program { input: Box::new(input), name: NAMELESS.into() }
    }

    /// A drawing, an SVG document.
    #[cfg(feature = "svg")]
    pub fn drawing(svg: impl Into<Cow<'a, [u8]>>) -> Self {
        Self::Drawing { svg: svg.into(), name: NAMELESS.into(), linked: Linked::default() }
    }

    /// The same, with the pictures that a drawing shows from files beside it; nothing else has
    /// such.
    #[cfg(feature = "svg")]
    #[must_use]
    pub fn linked(mut self, pictures: Linked) -> Self {
        if let Self::Drawing { linked, .. } = &mut self {
            *linked = pictures;
        }
        self
    }

    /// Bare path data, one unit to the mm, y down.
    #[cfg(feature = "svg")]
    pub fn path(data: impl Into<Cow<'a, str>>) -> Self {
        Self::Path(data.into())
    }

    /// A picture, a PNG or JPEG file.
    #[cfg(feature = "svg")]
    pub fn picture(bytes: impl Into<Cow<'a, [u8]>>, size: PictureSize) -> Self {
        Self::Picture { bytes: bytes.into(), size, name: NAMELESS.into() }
    }

    /// The same under a name, for messages; path data has none.
    #[must_use]
    pub fn named(mut self, new: impl Into<Cow<'a, str>>) -> Self {
        match &mut self {
            Self::Program { name, .. } => *name = new.into(),
            #[cfg(feature = "svg")]
            Self::Drawing { name, .. } | Self::Picture { name, .. } => *name = new.into(),
            #[cfg(feature = "svg")]
            Self::Path(_) => {}
        }
        self
    }

    /// The digest of its bytes, those of the pictures that a drawing shows from files beside it
    /// among them; `-` for a program, which is read as it comes.
    ///
    /// ```
    /// use stave::{Linked, Source};
    /// let drawing = |light: &'static [u8]| {
    ///     let svg = &b"<svg xmlns='http://www.w3.org/2000/svg'><image href='a.png'/></svg>"[..];
    ///     Source::drawing(svg).linked(Linked::by(move |_| Ok(light.to_vec()))).digest()
    /// };
    /// assert_eq!(drawing(b"day"), drawing(b"day"));
    /// assert_ne!(drawing(b"day"), drawing(b"night"));
    /// ```
    #[cfg(feature = "svg")]
    #[must_use]
    pub fn digest(&self) -> String {
        let mut digest = InputDigest::default();
        match self {
            Self::Program { .. } => return "-".to_owned(),
            Self::Drawing { svg, linked, .. } => {
                digest.take(svg);
                for (path, bytes) in linked.shown_by(svg) {
                    digest.take(path.as_bytes());
                    digest.take(b"\0");
                    // What cannot be read is left out, for whatever reason.
                    digest.take(bytes.as_deref().map_or(&[], Vec::as_slice));
                }
            }
            Self::Picture { bytes, .. } => digest.take(bytes),
            Self::Path(data) => digest.take(data.as_bytes()),
        }
        digest.text()
    }

    /// What messages call it.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Program { name, .. } => name,
            #[cfg(feature = "svg")]
            Self::Drawing { name, .. } | Self::Picture { name, .. } => name,
            #[cfg(feature = "svg")]
            Self::Path(_) => "path",
        }
    }
}

impl fmt::Debug for Source<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Program { name, .. } => f.debug_tuple("Program").field(name).finish(),
            #[cfg(feature = "svg")]
            Self::Drawing { name, .. } => f.debug_tuple("Drawing").field(name).finish(),
            #[cfg(feature = "svg")]
            Self::Picture { name, .. } => f.debug_tuple("Picture").field(name).finish(),
            #[cfg(feature = "svg")]
            Self::Path(data) => f.debug_tuple("Path").field(data).finish(),
        }
    }
}

/// How sources are read and what is accepted, in every step alike.
#[derive(Clone, Debug)]
pub struct Options {
    /// How programs are read.
    pub read: ReadOptions,
    /// Which lines of a flat program go through that move nothing of the work.
    pub pass: Pass,
    /// What becomes of a flat program's scan lines.
    pub scan: ScanLines,
    /// Where the fonts of drawings come from.
    #[cfg(feature = "svg")]
    pub fonts: Fonts,
    /// Findings that are errors and are accepted.
    pub allow: Vec<Code>,
    /// What the program of an order says besides of what it was made with.
    pub stamp: Option<Stamp>,
    /// The date that pictures carry; none where it is empty.
    #[cfg(feature = "pictures")]
    pub date: String,
}

#[cfg_attr(
    not(feature = "svg"),
    expect(clippy::derivable_impls, reason = "it is the default of fonts that is our own")
)]
impl Default for Options {
    fn default() -> Self {
        Self {
            read: ReadOptions::default(),
            pass: Pass::default(),
            scan: ScanLines::default(),
            #[cfg(feature = "svg")]
            fonts: Fonts::Installed,
            allow: Vec::new(),
            stamp: None,
            #[cfg(feature = "pictures")]
            date: String::new(),
        }
    }
}

impl Options {
    /// With these findings accepted.
    #[must_use]
    pub fn allowing(codes: impl IntoIterator<Item = Code>) -> Self {
        Self { allow: codes.into_iter().collect(), ..Self::default() }
    }
}
