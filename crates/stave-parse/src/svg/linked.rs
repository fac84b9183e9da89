//! Pictures that a drawing shows: within it as data URLs, or in files beside it.
//!
//! No file is opened here and nothing is ever fetched: who calls may hand over a look-up for the
//! drawing's own folder. What a decoder of ours cannot read whole is told and not shown, so that
//! nothing is drawn of a broken file.

use std::collections::{BTreeMap, HashMap};
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use roxmltree::Node;
use usvg::ImageKind;

use super::document::{Entries, href, parse_xml};

type LookUp = dyn Fn(&str) -> Found + Send + Sync;

/// The bytes of a file, or a sentence that says why it is not to be had.
type Found = Result<Arc<Vec<u8>>, String>;

/// Where the pictures in files beside a drawing come from.
#[derive(Clone, Default)]
pub struct Linked(Option<Arc<LookUp>>);

impl Linked {
    /// Pictures by a look-up: from what a drawing refers to (a relative path, percent codes
    /// resolved) to the bytes of a file, or a sentence that says why it is not to be had and what
    /// to do. Each is asked for once, so that all who look at a drawing see the same.
    ///
    /// ```
    /// use stave_parse::svg::Linked;
    /// let linked = Linked::by(|path| Err(format!("{path} is not here: put it beside this")));
    /// assert_eq!(format!("{linked:?}"), "Linked(…)");
    /// assert_eq!(format!("{:?}", Linked::default()), "Linked(None)");
    /// ```
    pub fn by(look_up: impl Fn(&str) -> Result<Vec<u8>, String> + Send + Sync + 'static) -> Linked {
        let known: Mutex<HashMap<String, Found>> = Mutex::default();
        Linked(Some(Arc::new(move |path: &str| {
            // Who panicked while it was locked left it whole.
            let mut known = known.lock().unwrap_or_else(PoisonError::into_inner);
            let found = known.entry(path.to_owned()).or_insert_with(|| look_up(path).map(Arc::new));
            found.clone()
        })))
    }

    /// The bytes of every file that a drawing shows, by what it calls them, in the order of their
    /// names; a sentence for those that are not to be had. None of a drawing that cannot be read.
    ///
    /// ```
    /// use stave_parse::svg::Linked;
    /// let linked = Linked::by(|path| Ok(path.as_bytes().to_vec()));
    /// let files = linked.shown_by(b"<svg xmlns='http://www.w3.org/2000/svg'>
    ///     <image href='my%20oar.png'/><image href='data:,'/></svg>");
    /// assert_eq!(files["my oar.png"].as_ref().unwrap().as_slice(), b"my oar.png");
    /// assert_eq!(files.len(), 1);
    /// ```
    #[must_use]
    pub fn shown_by(&self, svg: &[u8]) -> BTreeMap<String, Result<Arc<Vec<u8>>, String>> {
        let xml = std::str::from_utf8(svg).ok().and_then(|text| parse_xml(text).ok());
        let (Some(look_up), Some(xml)) = (&self.0, xml) else { return BTreeMap::new() };
        let references = xml.descendants().filter_map(|node| href(node).filter(|r| shows(node, r)));
        let paths = references.filter(|r| is_beside(r)).map(without_percent_codes);
        paths.map(|path| (path.clone(), look_up(&path))).collect()
    }
}

impl fmt::Debug for Linked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Linked(…)" } else { "Linked(None)" })
    }
}

/// Whether an element shows what it refers to as a picture.
pub(super) fn shows(node: Node<'_, '_>, reference: &str) -> bool {
    match node.tag_name().name() {
        "image" => true,
        "feImage" => !reference.trim_start().starts_with('#'),
        _ => false,
    }
}

/// What the names begin with by which the renderer asks for pictures.
const NAME: &str = "stave-picture-";

/// The name by which the renderer asks for the picture of an element.
pub(super) fn name_of(entry: usize) -> String {
    format!("{NAME}{entry}")
}

/// The pictures of a document by the elements that show them.
#[derive(Clone, Debug, Default)]
pub(super) struct Pictures(Arc<HashMap<usize, Result<Picture, String>>>);

/// A picture as the renderer takes it.
#[derive(Clone, Debug)]
pub(super) struct Picture {
    kind: ImageKind,
    /// Columns and rows.
    pub(super) pixels: (u32, u32),
    /// Whether nothing shines through.
    pub(super) is_opaque: bool,
}

impl Pictures {
    /// Looks up every picture of a document, each once.
    pub(super) fn of(entries: &Entries<'_, '_>, linked: &Linked) -> Pictures {
        let mut known: HashMap<&str, Result<Picture, String>> = HashMap::new();
        let mut all = HashMap::new();
        for (index, entry) in entries.list.iter().enumerate() {
            let Some(reference) = href(entry.node).filter(|r| shows(entry.node, r)) else {
                continue;
            };
            let picture =
                known.entry(reference).or_insert_with(|| look_up(reference, linked)).clone();
            all.insert(index, picture);
        }
        Pictures(Arc::new(all))
    }

    /// The picture of an element, or why it is none; `None` where it refers to nothing.
    pub(super) fn get(&self, entry: usize) -> Option<&Result<Picture, String>> {
        self.0.get(&entry)
    }

    /// What hands usvg the pictures; data URLs never get as far as there.
    pub(super) fn resolver(&self) -> usvg::ImageHrefResolver<'static> {
        let pictures = self.clone();
        usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(move |name, _| {
                let entry = name.strip_prefix(NAME)?;
                let picture = pictures.get(entry.parse().ok()?)?.as_ref().ok()?;
                Some(picture.kind.clone())
            }),
        }
    }
}

fn look_up(reference: &str, linked: &Linked) -> Result<Picture, String> {
    if reference.is_empty() || reference.starts_with('#') {
        return Err("it refers to no picture: left out".to_owned());
    }
    let bytes = if is_scheme(reference, "data") {
        let url = data_url::DataUrl::process(reference)
            .map_err(|_| "its data URL cannot be read: embed the picture again".to_owned())?;
        let decoded = url.decode_to_vec();
        let decoded = decoded.map_err(|_| "its data is no base64: embed the picture again")?;
        Arc::new(decoded.0)
    } else if !is_beside(reference) {
        return Err("it lies elsewhere, and nothing is ever fetched: left out; embed the picture \
                    or put it beside the drawing"
            .to_owned());
    } else {
        let Some(look_up) = &linked.0 else {
            return Err("it lies in a file beside the drawing, whose folder is not known: left \
                        out; embed the picture"
                .to_owned());
        };
        look_up(&without_percent_codes(reference))?
    };
    read(bytes)
}

/// Whether a reference is that of a file beside the drawing.
fn is_beside(reference: &str) -> bool {
    !(reference.is_empty()
        || reference.starts_with('#')
        || reference.starts_with("//")
        || has_scheme(reference))
}

/// Whether a reference begins with a scheme (RFC 3986, 3.1).
fn has_scheme(reference: &str) -> bool {
    let Some((scheme, _)) = reference.split_once(':') else { return false };
    let letters = |c: char| c.is_ascii_alphanumeric() || matches!(c, '+' | '-' | '.');
    scheme.starts_with(|c: char| c.is_ascii_alphabetic()) && scheme.chars().all(letters)
}

fn is_scheme(reference: &str, scheme: &str) -> bool {
    reference.split_once(':').is_some_and(|(own, _)| own.eq_ignore_ascii_case(scheme))
}

/// A path with its percent codes resolved (RFC 3986, 2.1), without query and fragment.
fn without_percent_codes(reference: &str) -> String {
    let path = reference.split(['?', '#']).next().unwrap_or_default();
    let hex = |byte: u8| char::from(byte).to_digit(16).and_then(|d| u8::try_from(d).ok());
    let bytes = path.as_bytes();
    let (mut out, mut at) = (Vec::with_capacity(bytes.len()), 0);
    while let Some(&byte) = bytes.get(at) {
        let code = match (byte, bytes.get(at + 1), bytes.get(at + 2)) {
            (b'%', Some(&high), Some(&low)) => hex(high).zip(hex(low)),
            _ => None,
        };
        match code {
            Some((high, low)) => {
                out.push(high << 4 | low);
                at += 3;
            }
            None => {
                out.push(byte);
                at += 1;
            }
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

/// Reads a picture whole. The renderer decodes it again; where a decoder would show it otherwise
/// than it is meant (turned by its camera, inks for paper), it gets its greys instead.
#[cfg(feature = "image")]
fn read(bytes: Arc<Vec<u8>>) -> Result<Picture, String> {
    use crate::image;

    let left_out = |error: image::ImageError| format!("{error}: left out");
    let read = image::read_image(&bytes).map_err(left_out)?;
    let (pixels, is_opaque) = (read.shades.size(), read.shades.is_opaque());
    let kind = if !read.is_plain {
        ImageKind::PNG(Arc::new(image::to_png(&read.shades).map_err(left_out)?))
    } else if bytes.starts_with(b"\xff\xd8") {
        ImageKind::JPEG(bytes)
    } else {
        ImageKind::PNG(bytes)
    };
    Ok(Picture { kind, pixels, is_opaque })
}

/// Says that no picture can be read.
#[cfg(not(feature = "image"))]
fn read(_: Arc<Vec<u8>>) -> Result<Picture, String> {
    Err("pictures were left out when this was built: left out".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn references_are_told_apart() {
        assert!(has_scheme("https://example.org/a.png") && has_scheme("file:///a.png"));
        assert!(!has_scheme("a.png") && !has_scheme("a b:c.png") && !has_scheme("1:2"));
        assert_eq!(without_percent_codes("my%20oar%2f1.png?x#y"), "my oar/1.png");
        assert_eq!(without_percent_codes("5%.png%4"), "5%.png%4");
    }
}
