//! Drawings with fields: `{name}` in texts, titles, paint and references, and elements that are
//! there under a condition (`data-if`).
//!
//! The XML is read first, so that what is a text and what an attribute is known; then the values go
//! into the document's source, escaped, and nothing reads them a second time. All else stays as it
//! is, byte for byte and line for line. In `style`, whose braces are its own, there are no fields.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::ops::Range;

use roxmltree::{Attribute, Node};
use stave_toolpath::field::{Condition, FieldFault, FieldText, Fields, TextPart};

use super::chunk::{line_ends, line_of, of_inside, of_text};
use super::document::{XLINK_NS, is_guides, is_svg, parse_xml};
use super::error::SvgError;
use super::limits::MOST_FIELDS;
use stave_toolpath::likeness::most_alike;
use stave_toolpath::xml::{Breaks, escape};

/// A drawing with fields, ready to be filled as often as there are values.
///
/// ```
/// use stave_parse::svg::Template;
/// use stave_toolpath::field::Fields;
/// let template = Template::read(b"<svg><text>For {name}</text></svg>")?;
/// let fields = Fields::from([("name".to_owned(), "<Bo & Co>".to_owned())]);
/// let filled = template.filled(&fields)?;
/// assert_eq!(&filled[..], b"<svg><text>For &lt;Bo &amp; Co&gt;</text></svg>");
/// # Ok::<(), stave_parse::svg::SvgError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Template {
    source: String,
    /// In the order of the source, what holds others before them.
    places: Vec<Place>,
}

/// Something of the source that the fields decide.
#[derive(Clone, Debug)]
struct Place {
    range: Range<usize>,
    what: What,
}

#[derive(Clone, Debug)]
enum What {
    /// An element, or all that the document holds: taken out where the condition does not hold.
    If(Condition),
    /// A text, or the value of an attribute.
    Text(FieldText),
    /// The value of `fill` or `stroke`: it must be paint.
    Paint(FieldText),
}

impl Template {
    /// Reads a drawing for its fields.
    ///
    /// # Errors
    /// As [`read_svg`](super::read_svg) where the XML cannot be read; a `{` without its end, a
    /// condition that names no field.
    pub fn read(svg: &[u8]) -> Result<Self, SvgError> {
        if svg.starts_with(&[0x1f, 0x8b]) {
            return Err(SvgError::Compressed);
        }
        let text = std::str::from_utf8(svg)
            .map_err(|error| SvgError::Encoding { at: error.valid_up_to() })?;
        let mut places = Vec::new();
        // Nearly every drawing has none, and then it need not be read a second time.
        if text.contains(['{', '}']) || text.contains("data-if") {
            let document = parse_xml(text)?;
            let mut guides_end = 0;
            for node in document.root_element().descendants() {
                // What a template draws for people is no art, and names what it likes.
                if is_guides(node) {
                    guides_end = guides_end.max(node.range().end);
                }
                if node.range().start >= guides_end {
                    look(node, text, &mut places)?;
                }
                if places.len() as u64 > MOST_FIELDS {
                    let (what, found) = ("texts with fields", places.len() as u64);
                    return Err(SvgError::TooLarge { what, found, most: MOST_FIELDS });
                }
            }
            // What an entity brings in several times is one place of the source.
            places.sort_by(|a: &Place, b: &Place| {
                a.range.start.cmp(&b.range.start).then(b.range.end.cmp(&a.range.end))
            });
            places.dedup_by(|a, b| a.range == b.range);
        }
        Ok(Self { source: text.to_owned(), places })
    }

    /// The fields that it names.
    #[must_use]
    pub fn names(&self) -> BTreeSet<&str> {
        let mut names = BTreeSet::new();
        for place in &self.places {
            match &place.what {
                What::If(condition) => drop(names.insert(condition.name.as_str())),
                What::Text(text) | What::Paint(text) => names.extend(text.names()),
            }
        }
        names
    }

    /// The drawing with its values.
    ///
    /// # Errors
    /// A field without a value, a value that XML cannot hold, paint that is none.
    pub fn filled(&self, fields: &Fields) -> Result<Cow<'_, [u8]>, SvgError> {
        if self.places.is_empty() {
            return Ok(Cow::Borrowed(self.source.as_bytes()));
        }
        let mut out = String::with_capacity(self.source.len() + 256);
        let mut done = 0;
        for place in &self.places {
            // What is taken out takes with it what it holds.
            if place.range.start < done {
                continue;
            }
            let before = self.source.get(done..place.range.start).unwrap_or_default();
            match &place.what {
                What::If(condition) => {
                    if condition.holds(fields).map_err(|fault| self.fault(place, fault, fields))? {
                        continue;
                    }
                    out.push_str(before);
                    out.push_str(&line_ends(&self.source, &place.range));
                }
                What::Text(text) => {
                    out.push_str(before);
                    self.put(place, text, fields, &mut out)?;
                }
                What::Paint(text) => {
                    out.push_str(before);
                    self.paint(place, text, fields)?;
                    self.put(place, text, fields, &mut out)?;
                }
            }
            done = place.range.end;
        }
        out.push_str(self.source.get(done..).unwrap_or_default());
        Ok(Cow::Owned(out.into_bytes()))
    }

    fn put(
        &self,
        place: &Place,
        text: &FieldText,
        fields: &Fields,
        out: &mut String,
    ) -> Result<(), SvgError> {
        for piece in text.pieces(fields) {
            match piece.map_err(|fault| self.fault(place, fault, fields))? {
                TextPart::Plain(plain) => escape(plain, Breaks::AsTheyAre, out),
                TextPart::Value { name, text } => {
                    if let Some(odd) = text.chars().find(|c| !is_xml(*c)) {
                        let code = u32::from(odd);
                        return Err(self.told(
                            place,
                            format!(
                                "the value of `{{{name}}}` holds the character U+{code:04X}, which \
                                 no drawing can hold: take it out"
                            ),
                        ));
                    }
                    escape(text, Breaks::AsReferences, out);
                }
            }
        }
        Ok(())
    }

    fn paint(&self, place: &Place, text: &FieldText, fields: &Fields) -> Result<(), SvgError> {
        let value = text.filled(fields).map_err(|fault| self.fault(place, fault, fields))?;
        let is_paint = svgtypes::Paint::from_str(value.trim()).is_ok();
        if is_paint || text.names().next().is_none() {
            return Ok(());
        }
        let shown: String = value.chars().take(40).collect();
        Err(self.told(
            place,
            format!(
                "a field makes the paint `{shown}`, which is none: write a colour of CSS such as \
                 #1f3a5f or navy, or none"
            ),
        ))
    }

    fn told(&self, place: &Place, message: String) -> SvgError {
        SvgError::Value { line: line_of(&self.source, place.range.start), message }
    }

    fn fault(&self, place: &Place, fault: FieldFault, fields: &Fields) -> SvgError {
        let known = match &fault {
            FieldFault::NoValue { name } => nearest(name, fields),
            _ => None,
        };
        SvgError::Field { line: line_of(&self.source, place.range.start), fault, known }
    }
}

/// Notes what the fields decide of a node.
fn look(node: Node<'_, '_>, source: &str, places: &mut Vec<Place>) -> Result<(), SvgError> {
    if node.is_text() {
        return text(node, source, places);
    }
    if !is_svg(node) {
        return Ok(());
    }
    if let Some(attribute) =
        node.attributes().find(|a| a.namespace().is_none() && a.name() == "data-if")
    {
        let condition = Condition::read(attribute.value()).ok_or_else(|| SvgError::Value {
            line: line_of(source, attribute.range().start),
            message: "`data-if` names no field: write data-if=\"name\", \"!name\" or \
                      \"name=value\""
                .to_owned(),
        })?;
        // Without its root there is no document.
        let range = match node.parent_element() {
            Some(_) => Some(node.range()),
            None => of_inside(node),
        };
        if let Some(range) = range {
            places.push(Place { range, what: What::If(condition) });
        }
    }
    for attribute in node.attributes() {
        let is_paint =
            matches!((attribute.namespace(), attribute.name()), (None, "fill" | "stroke"));
        let is_link =
            matches!((attribute.namespace(), attribute.name()), (None | Some(XLINK_NS), "href"));
        if !(is_paint || is_link) || !attribute.value().contains(['{', '}']) {
            continue;
        }
        let range = value_range(&attribute, source);
        let read = read(attribute.value(), source, attribute.range().start)?;
        let what = if is_paint { What::Paint(read) } else { What::Text(read) };
        places.push(Place { range, what });
    }
    Ok(())
}

fn text(node: Node<'_, '_>, source: &str, places: &mut Vec<Place>) -> Result<(), SvgError> {
    let Some(found) = node.text().filter(|text| text.contains(['{', '}'])) else { return Ok(()) };
    let parent = node.parent_element();
    let tag = |node: Node<'_, '_>, name: &str| is_svg(node) && node.tag_name().name() == name;
    let is_title = parent.is_some_and(|parent| tag(parent, "title"));
    let is_style = parent.is_some_and(|parent| tag(parent, "style"));
    let is_burned = !is_style && node.ancestors().any(|around| tag(around, "text"));
    if !(is_title || is_burned) {
        return Ok(());
    }
    let at = parent.map_or(0, |parent| parent.range().start);
    let read = read(found, source, at)?;
    match of_text(node) {
        Some(range) => places.push(Place { range, what: What::Text(read) }),
        None if read.names().next().is_none() => {}
        None => {
            let message = "part of this text comes from an entity, and so its fields cannot be \
                           filled: write it where it stands";
            let line = line_of(source, at);
            return Err(SvgError::Value { line, message: message.to_owned() });
        }
    }
    Ok(())
}

fn read(text: &str, source: &str, at: usize) -> Result<FieldText, SvgError> {
    let told = |fault| SvgError::Field { line: line_of(source, at), fault, known: None };
    FieldText::read(text).map_err(told)
}

/// The source of an attribute's value, within its quotes.
fn value_range(attribute: &Attribute<'_, '_>, source: &str) -> Range<usize> {
    let whole = attribute.range();
    let inside = source.get(whole.clone()).unwrap_or_default();
    let open = inside.find(['"', '\'']).map_or(inside.len(), |at| at + 1);
    whole.start + open..(whole.end.saturating_sub(1)).max(whole.start + open)
}

/// What XML 1.0 can hold (its production 2, `Char`).
fn is_xml(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
}

/// The field that has a value and is named most like one that has none.
fn nearest(asked: &str, fields: &Fields) -> Option<String> {
    /// Names less alike than this are other names.
    const ALIKE: f64 = 0.6;
    most_alike(asked, fields.keys().map(String::as_str), ALIKE)
        .first()
        .map(|name| (*name).to_owned())
}
