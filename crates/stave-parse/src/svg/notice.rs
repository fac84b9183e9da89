//! What the reader has to say about a drawing that it could read.

use std::fmt;

/// Something of a drawing that is not burned as it is drawn.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Notice {
    /// What it is about.
    pub kind: NoticeKind,
    /// The element, by its id or its kind and place; empty where it is about the document.
    pub name: String,
    /// The element's line, counted from 1.
    pub line: u32,
    /// What was found and what happens to it.
    pub message: String,
}

impl Notice {
    /// Whether the result may differ from what the drawing shows. Where not, the drawing says
    /// itself that nothing is to be seen there.
    ///
    /// ```
    /// use stave_parse::svg::{Notice, NoticeKind};
    /// let notice = |kind| Notice { kind, name: "bow".into(), line: 3, message: String::new() };
    /// assert!(notice(NoticeKind::Image).is_warning());
    /// assert!(!notice(NoticeKind::Hidden).is_warning());
    /// ```
    #[must_use]
    pub fn is_warning(&self) -> bool {
        !matches!(
            self.kind,
            NoticeKind::Hidden | NoticeKind::Unpainted | NoticeKind::Unit | NoticeKind::Size
        )
    }
}

impl fmt::Display for Notice {
    /// `line 3, bow: …`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, ", self.line)?;
        // A name that tells the place itself is not told twice.
        match self.name.split_once(" on line ") {
            _ if self.name.is_empty() => write!(f, "{}", self.message),
            Some((kind, _)) => write!(f, "{kind}: {}", self.message),
            None => write!(f, "{}: {}", self.name, self.message),
        }
    }
}

/// What a [`Notice`] is about.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
#[non_exhaustive]
pub enum NoticeKind {
    /// A raster picture, or one in another file.
    Image,
    /// A filter effect.
    Filter,
    /// A mask.
    Mask,
    /// A gradient, which would be shades.
    Gradient,
    /// A pattern as a fill or stroke.
    Pattern,
    /// A translucent fill or stroke, which would be a shade.
    Translucent,
    /// A blend mode.
    Blend,
    /// Not displayed, by the drawing's own word.
    Hidden,
    /// Neither filled nor stroked.
    Unpainted,
    /// A shape of no size, or with path data that draws nothing.
    Empty,
    /// Path data that breaks off.
    PathData,
    /// An element that refers to nothing, or to another file.
    Reference,
    /// Text for which no font is installed, or in another font than the drawing asks for.
    Font,
    /// Characters that no installed font has.
    Glyph,
    /// A text that goes into its box only smaller than it may be.
    TooLong,
    /// A unit that is taken by its definition, or cannot be taken.
    Unit,
    /// A style sheet that is not read whole.
    StyleSheet,
    /// A clip path by a shape of CSS that is not followed.
    Clip,
    /// Foreign content that is seen: a page within the drawing, a video.
    ForeignObject,
    /// An element that is not art: a script, an animation.
    Foreign,
    /// An id that several elements have.
    DuplicateId,
    /// A drawing that does not say how large it is.
    Size,
    /// What lies off the page.
    OffPage,
    /// What reaches farther than art may.
    TooFar,
    /// Dashes too many to tell apart, a corner, mark or text drawn otherwise.
    Stroke,
    /// Not drawn for another reason.
    NotDrawn,
    /// Nothing of the drawing is shown, since nothing uses what it defines.
    Unused,
}
