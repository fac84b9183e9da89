//! Drawings: SVG documents and bare path data to `Art`.
//!
//! A document is resolved by usvg: transforms, `use` and symbols, viewBox, style sheets, units,
//! texts to outlines, clip paths. The XML is walked beside it, because usvg drops much without a
//! word and keeps nothing of an element but its id: so pieces and groups are known, and whatever is
//! not burned as drawn is named in a [`Notice`]. No other file is ever opened, fonts apart
//! ([`Fonts`]) and what the caller hands over ([`Linked`]).
//!
//! What is no plain fill or stroke is shades ([`Shades`]): the art has its frame or outline, and
//! [`View`] renders it, for those who burn it as a picture or cut it at a threshold. Nobody burns
//! it in one piece of its own accord.
//!
//! # What is not burned as drawn
//!
//! | in the drawing | what happens |
//! | --- | --- |
//! | `image` | shades; one that cannot be read, or lies elsewhere, is left out, named |
//! | `foreignObject`, animations, scripts | left out, named |
//! | gradients, patterns | shades, unless the stops of a gradient are alike |
//! | masks of opaque white shapes, black ones cut from them | confine as clip paths do |
//! | other masks | all under them is shades |
//! | clip paths by a shape of CSS (`circle()`) | followed; what is no such shape is named |
//! | filters | all under one is one frame of shades |
//! | blend modes, translucency | shades |
//! | what is not displayed, or neither filled nor stroked | left out, named in a note |
//! | references that lead nowhere or to other files | left out, named |
//! | texts in fonts that are not there | another font, named; left out where there is none |
//! | texts in `stave-line`, `Hershey Simplex` or `Hershey Script` | strokes of single lines |
//! | unit Q | a quarter of a millimetre in attributes; named, and not read, in a style sheet |
//! | texts with `data-fit` too long for their box | made smaller than they may be, named |
//! | what lies off the page | cut at its edge, named; unless the root says `overflow="visible"` |
//!
//! # Exactness
//!
//! usvg reckons in 32 bits: points lie within 1e-7 of the page's size of where they are drawn
//! (0.00003 mm on 300 mm). It turns circles, ellipses and rounded corners into cubics that stray by
//! at most 2.7e-4 of the radius (0.011 mm at 40 mm); arcs of paths are kept to 1e-7 of theirs.
//! [`read_path`] reckons in 64 bits and keeps to 1e-9 of the radius.

mod arc;
mod chunk;
mod clip;
mod collect;
mod convert;
mod css_gaps;
mod css_shape;
mod document;
mod element_notices;
mod error;
mod fit;
mod fonts;
mod greys;
mod instance;
mod limits;
mod line_font;
mod linked;
mod no_room;
mod notice;
mod of_symbol;
mod page;
mod path_data;
mod resolved_size;
mod rewrite;
mod rings;
mod shades;
mod style;
mod style_notices;
mod template;
mod truetype;
mod unit;
mod unseen;
mod view;
mod view_cost;
mod why_not;
mod words;

pub use error::SvgError;
pub use fonts::{FontSet, Fonts, LoadedFonts};
pub use linked::Linked;
pub use notice::{Notice, NoticeKind};
pub use path_data::{PathError, path_data, read_path};
pub use shades::Shades;
pub use template::Template;
pub use view::{Seen, Sight, View};
pub use words::{Painted, Words, WordsOf};

use std::sync::{Arc, Mutex};

use stave_toolpath::art::Art;

use fonts::Wanting;
use linked::Pictures;

/// What a document was read into.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// What is drawn.
    pub art: Art,
    /// What is not burned as it is drawn, in the order of the document.
    pub notices: Vec<Notice>,
    /// What is said of each of the art's shaded shapes, in their order: that it is left out, unless
    /// it is burned as a picture or cut at a threshold.
    pub shades: Vec<Shades>,
    /// What renders shapes, shades or not.
    pub view: View,
    /// What can be read of it, burned or not.
    pub words: Vec<Words>,
}

/// Reads an SVG document.
///
/// The result is in the page's plane, mm, y down, in the document's physical size: 96 px are an
/// inch. A drawing without width and height has one px to a unit of its viewBox.
///
/// # Errors
/// [`SvgError`] where the document cannot be read at all: it is compressed, not UTF-8, not
/// well-formed, not SVG, without a size, or larger than is read. Everything else is read as far as
/// it goes, with a [`Notice`].
///
/// ```
/// use stave_parse::svg::{Fonts, read_svg};
/// let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm"
///     viewBox="0 0 60 40">
///   <rect id="flag" x="10" y="5" width="25.4" height="12" fill="#1f3a5f"/>
/// </svg>"##;
/// let drawing = read_svg(svg.as_bytes(), &Fonts::None)?;
/// let bounds = drawing.art.bounds().ok_or("empty")?;
/// assert!((bounds.width() - 25.4).abs() < 1e-4);
/// assert_eq!(drawing.art.elements[0].name, "flag");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_svg(data: &[u8], fonts: &Fonts) -> Result<Drawing, SvgError> {
    read_svg_linked(data, fonts, &Linked::default())
}

/// Reads an SVG document that may show pictures in files beside it.
///
/// # Errors
/// As [`read_svg`]. A picture that is not to be had is left out, and named.
pub fn read_svg_linked(data: &[u8], fonts: &Fonts, linked: &Linked) -> Result<Drawing, SvgError> {
    if data.starts_with(&[0x1f, 0x8b]) {
        return Err(SvgError::Compressed);
    }
    let text = std::str::from_utf8(data)
        .map_err(|error| SvgError::Encoding { at: error.valid_up_to() })?;
    on_deep_stack(|| read_text(text, fonts, linked)).and_then(|read| read)
}

/// The name of the thread on which drawings are read: a panic of one of the libraries below ends it
/// and no other, and is told as [`SvgError::Stumbled`].
pub const READER_THREAD: &str = "reader of drawings";

/// usvg recurses as deep as the document is nested: give it room, whatever the caller's stack has
/// left.
fn on_deep_stack<T: Send>(work: impl FnOnce() -> T + Send) -> Result<T, SvgError> {
    const STACK_BYTES: usize = 256 << 20;
    std::thread::scope(|scope| {
        let builder = std::thread::Builder::new().name(READER_THREAD.to_owned());
        let thread = builder.stack_size(STACK_BYTES).spawn_scoped(scope, work);
        thread.map_err(|_| SvgError::NoRoom)?.join().map_err(|_| SvgError::Stumbled)
    })
}

/// How usvg reads a document: with these fonts and pictures, and nothing else.
fn options(
    fonts: &Fonts,
    database: &Arc<usvg::fontdb::Database>,
    wanting: &Arc<Mutex<Wanting>>,
    pictures: &Pictures,
) -> usvg::Options<'static> {
    usvg::Options {
        image_href_resolver: pictures.resolver(),
        font_family: fonts::UNNAMED.to_owned(),
        // As browsers have it.
        font_size: 16.0,
        font_resolver: fonts::resolver(wanting, fonts.first_family()),
        fontdb: Arc::clone(database),
        ..usvg::Options::default()
    }
}

fn read_text(text: &str, fonts: &Fonts, linked: &Linked) -> Result<Drawing, SvgError> {
    let xml = document::parse_xml(text)?;
    let entries = document::Entries::new(&xml);
    let has_text = entries.list.iter().any(|entry| entry.role == document::Role::Text);
    let database = if has_text { fonts.database() } else { Arc::default() };
    let runs = fit::runs(&entries)?;
    if runs.is_empty() {
        return read_entries(&entries, fonts, &database, linked);
    }
    let apart = fit::taken_apart(text, &runs);
    let xml = document::parse_xml(&apart)?;
    let entries = document::Entries::new(&xml);
    let resolved = resolve(&entries, fonts, &database, &Pictures::default())?;
    let measured = |element: usize| {
        let is_it =
            |text: &usvg::Text| resolved.rewritten.element(text.id(), &entries) == Some(element);
        text_of(resolved.tree.root(), &is_it).and_then(fit::Measured::of)
    };
    let lines = fit::in_lines(text, &runs, &entries, measured);
    let xml = document::parse_xml(&lines)?;
    read_entries(&document::Entries::new(&xml), fonts, &database, linked)
}

/// The first text of the tree that is meant.
fn text_of<'t>(
    group: &'t usvg::Group,
    is_it: &impl Fn(&usvg::Text) -> bool,
) -> Option<&'t usvg::Text> {
    group.children().iter().find_map(|node| match node {
        usvg::Node::Text(text) if is_it(text) => Some(&**text),
        usvg::Node::Group(group) => text_of(group, is_it),
        _ => None,
    })
}

/// A document as usvg resolves it, and the way back to its elements.
struct Resolved<'a> {
    tree: usvg::Tree,
    rewritten: rewrite::Rewritten,
    said: style::SaidOf<'a>,
    circles: resolved_size::Circles,
    otherwise: rewrite::Otherwise,
    wanting: Arc<Mutex<Wanting>>,
}

fn resolve<'a>(
    entries: &document::Entries<'a, '_>,
    fonts: &Fonts,
    database: &Arc<usvg::fontdb::Database>,
    pictures: &Pictures,
) -> Result<Resolved<'a>, SvgError> {
    let said = style::said(entries)?;
    let circles = resolved_size::bound_resolved_size(entries, &said)?;
    let otherwise = rewrite::Otherwise::new(entries, &said, &circles.cut);
    let (rewritten, text) = rewrite::rewrite(entries, &said, &otherwise);
    let wanting = Arc::new(Mutex::new(Wanting::default()));
    let options = options(fonts, database, &wanting, pictures);
    let tree = usvg::Tree::from_str(&text, &options).map_err(|error| match error {
        usvg::Error::InvalidSize => SvgError::Size,
        usvg::Error::ElementsLimitReached => SvgError::TooLarge {
            what: "elements once resolved",
            found: limits::MOST_RESOLVED + 1,
            most: limits::MOST_RESOLVED,
        },
        usvg::Error::ParsingFailed(error) => SvgError::from(&error),
        _ => SvgError::Stumbled,
    })?;
    Ok(Resolved { tree, rewritten, said, circles, otherwise, wanting })
}

fn read_entries(
    entries: &document::Entries<'_, '_>,
    fonts: &Fonts,
    database: &Arc<usvg::fontdb::Database>,
    linked: &Linked,
) -> Result<Drawing, SvgError> {
    let pictures = Pictures::of(entries, linked);
    let Resolved { tree, rewritten, said, circles, otherwise, wanting } =
        resolve(entries, fonts, database, &pictures)?;
    let page = page::page(entries, &tree)?;
    let mut collected = collect::collect(&tree, entries, &rewritten, &said, &pictures, page)?;
    element_notices::notice_elements(entries, &said, &circles, &mut collected, &wanting, &pictures);
    let text = entries.list.first().map_or("", |root| root.node.document().input_text());
    let view = collected.view(|shades, entry_of_shape| {
        View::new(text, otherwise, fonts, &pictures, shades, entry_of_shape)
    });
    Ok(collected.into_drawing(view))
}

#[cfg(test)]
mod tests;
