//! Why an element that the drawing means to show is not drawn.

use roxmltree::Node;
use simplecss::DeclarationTokenizer;
use svgtypes::{NumberListParser, PathParser, PathSegment};

use super::NoticeKind;
use super::collect::Fate;
use super::document::{Entry, Role};
use super::element_notices::Ledger;
use super::style::link;

/// What is said of what reaches farther than art may.
pub(super) const TOO_FAR: &str =
    "it reaches farther than a kilometre: left out; draw it within the page";
/// A number of a shape above this is out of all measure, whatever its unit: it may be past what is
/// read, so that nothing is drawn.
const VAST: f64 = 1e12;

impl Ledger<'_, '_, '_> {
    /// Why an element that should be drawn is not.
    pub(super) fn why_not(&self, index: usize, fate: &Fate) -> (NoticeKind, String) {
        let entry = &self.entries.list[index];
        let hidden = matches!(self.inherited(index, "visibility"), Some("hidden" | "collapse"));
        if hidden {
            return (NoticeKind::Hidden, "hidden (visibility): left out".to_owned());
        }
        if entry.role == Role::Text {
            let is_blank = entry
                .node
                .descendants()
                .filter(roxmltree::Node::is_text)
                .all(|n| n.text().is_none_or(|t| t.trim().is_empty()));
            return match (is_blank, fate.met) {
                (true, _) => {
                    (NoticeKind::Empty, "a text without characters: nothing to draw".to_owned())
                }
                (false, false) if has_no_font_size(entry.node) => {
                    (NoticeKind::Empty, "its font size is 0: nothing to draw".to_owned())
                }
                (false, false) if is_scaled_away(entry.node) => {
                    let message = "its transform leaves it no size: nothing to draw";
                    (NoticeKind::Empty, message.to_owned())
                }
                (false, false) => {
                    let message = "no font is installed for this text: left out; install one or \
                                   turn it into outlines";
                    (NoticeKind::Font, message.to_owned())
                }
                (false, true) => {
                    (NoticeKind::Unpainted, "neither filled nor stroked: left out".to_owned())
                }
            };
        }
        if fate.transparent {
            return (NoticeKind::Unpainted, "its opacity is 0: left out".to_owned());
        }
        if fate.met {
            return (NoticeKind::Unpainted, "neither filled nor stroked: left out".to_owned());
        }
        if is_vast(entry.node) {
            return (NoticeKind::TooFar, TOO_FAR.to_owned());
        }
        match why_empty(entry) {
            Some(message) => (NoticeKind::Empty, message),
            None => {
                let chain = || std::iter::once(index).chain(self.entries.around(index));
                let clip = chain().find_map(|i| self.of(i, "clip-path").and_then(link));
                let message = match clip {
                    Some(id) => format!("its clip path (\"{id}\") leaves nothing: left out"),
                    None => {
                        "it draws nothing: left out (its size, transform or condition forbids it)"
                            .to_owned()
                    }
                };
                (NoticeKind::NotDrawn, message)
            }
        }
    }
}

/// Whether all the words of a text have a font size of nothing, from attributes.
fn has_no_font_size(text: Node<'_, '_>) -> bool {
    let size_of = |node: Node<'_, '_>| {
        let style = node.attribute("style").unwrap_or_default();
        let styled = DeclarationTokenizer::from(style).filter(|one| one.name == "font-size");
        let size = styled.last().map(|one| one.value).or(node.attribute("font-size"));
        size.map(str::trim).filter(|size| *size != "inherit").map(str::to_owned)
    };
    let mut words = text
        .descendants()
        .filter(|node| node.is_text() && node.text().is_some_and(|words| !words.trim().is_empty()));
    words.all(|node| {
        let size = node.ancestors().find_map(size_of).unwrap_or_default();
        let number = size.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == '%');
        number.parse() == Ok(0.0)
    })
}

/// Whether the transforms on and around an element leave nothing of its size.
fn is_scaled_away(node: Node<'_, '_>) -> bool {
    let transforms = node.ancestors().filter_map(|around| around.attribute("transform"));
    transforms.filter_map(|text| text.parse::<svgtypes::Transform>().ok()).any(|transform| {
        let area = transform.a * transform.d - transform.b * transform.c;
        area.abs() <= f64::EPSILON
    })
}

/// Whether a shape has a number so large that no reader holds it.
fn is_vast(node: Node<'_, '_>) -> bool {
    const LENGTHS: [&str; 13] =
        ["x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "x1", "x2", "y1", "y2"];
    let vast = |number: f64| number.abs() > VAST;
    let length = |name: &&str| {
        let value = node.attribute(*name).unwrap_or_default().trim();
        let number = value.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == '%');
        number.parse().is_ok_and(vast)
    };
    let data = node.attribute("d").unwrap_or_default();
    let points = node.attribute("points").unwrap_or_default();
    LENGTHS.iter().any(length)
        || PathParser::from(data).flatten().any(|segment| numbers_of(&segment).any(vast))
        || NumberListParser::from(points).flatten().any(vast)
}

/// The numbers of a segment, those of its points alone.
fn numbers_of(segment: &PathSegment) -> impl Iterator<Item = f64> {
    let (x, y) = match *segment {
        PathSegment::MoveTo { x, y, .. }
        | PathSegment::LineTo { x, y, .. }
        | PathSegment::CurveTo { x, y, .. }
        | PathSegment::SmoothCurveTo { x, y, .. }
        | PathSegment::Quadratic { x, y, .. }
        | PathSegment::SmoothQuadratic { x, y, .. }
        | PathSegment::EllipticalArc { x, y, .. } => (x, y),
        PathSegment::HorizontalLineTo { x, .. } => (x, 0.0),
        PathSegment::VerticalLineTo { y, .. } => (0.0, y),
        PathSegment::ClosePath { .. } => (0.0, 0.0),
    };
    [x, y].into_iter()
}

/// Why a shape has nothing to draw, from its own attributes.
fn why_empty(entry: &Entry<'_, '_>) -> Option<String> {
    let missing_or_zero = |name: &str| {
        let value = entry.node.attribute(name);
        let number = value.map(|v| {
            v.trim().trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == '%').parse::<f64>()
        });
        match number {
            None => Some(format!("its {name} is missing: nothing to draw")),
            Some(Ok(n)) if n > 0.0 => None,
            Some(_) => Some(format!("its {name} is not a length above 0: nothing to draw")),
        }
    };
    match entry.tag() {
        "rect" => missing_or_zero("width").or_else(|| missing_or_zero("height")),
        "circle" => missing_or_zero("r"),
        "ellipse" => missing_or_zero("rx").or_else(|| missing_or_zero("ry")),
        "path" => match entry.node.attribute("d").map(str::trim) {
            None | Some("" | "none") => Some("a path without data: nothing to draw".to_owned()),
            Some(_) => Some("its path data draws nothing: left out".to_owned()),
        },
        "line" => Some("a line of no length: nothing to draw".to_owned()),
        "polyline" | "polygon" => Some("fewer than two points: nothing to draw".to_owned()),
        _ => None,
    }
}
