//! Bare path data, in 64 bits.

use kurbo::{BezPath, Point, Shape as _, Vec2};
use stave_toolpath::art::{Art, Element, Fill, Page, Rgb, Rule, Shape};
use svgtypes::{PathParser, PathSegment};
use thiserror::Error;

use super::arc::EndpointArc;
use super::limits::FARTHEST_MM;
use crate::gcode::Excerpt;

/// How path data is taken.
#[derive(Clone, Copy, Debug)]
struct Manner {
    /// Whether commas are held to the grammar.
    strict: bool,
    /// The farthest from the origin that a point may lie.
    farthest: f64,
    /// How far cubics may lie from the arcs they stand for, as a part of their larger radius.
    arc_tolerance: f64,
}

/// One unit is a mm: an arc of 1 m within 1e-6 mm, a smaller one within less.
const BARE: Manner = Manner { strict: true, farthest: FARTHEST_MM, arc_tolerance: 1e-9 };
/// Units are what the viewBox makes them, and viewers do not mind commas.
const IN_DOCUMENT: Manner = Manner { strict: false, farthest: 1e12, arc_tolerance: 1e-7 };

/// What is wrong with path data.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("column {column}: {message}\n  {}\n  \
         {:>caret$}", excerpt.text, "^", caret = excerpt.caret + 1)]
pub struct PathError {
    /// The character at fault, counted from 1.
    pub column: u64,
    /// What was found and what is allowed.
    pub message: String,
    /// The data around it.
    pub excerpt: Excerpt,
}

/// Reads bare path data as a drawing: one unit is 1 mm, y down, the page is the path's box.
///
/// The one shape has the id `path` and, as SVG has it where nothing is said, a fill of black;
/// [`Art::choose_outlines`] burns it as a line.
///
/// # Errors
/// [`PathError`] where the data breaks SVG 2's grammar, or reaches farther than a kilometre.
///
/// ```
/// use stave_parse::svg::read_path;
/// let art = read_path("M10 10 h30 v20")?;
/// assert_eq!((art.page.width_mm, art.page.height_mm), (30.0, 20.0));
/// let error = read_path("M10 10 h30 w20").unwrap_err();
/// assert_eq!(error.column, 12);
/// # Ok::<(), stave_parse::svg::PathError>(())
/// ```
pub fn read_path(data: &str) -> Result<Art, PathError> {
    let (path, error) = path_data(data);
    if let Some(error) = error {
        return Err(error);
    }
    if path.elements().is_empty() {
        return Ok(Art::default());
    }
    let bounds = path.bounding_box();
    let path = kurbo::Affine::translate(-bounds.origin().to_vec2()) * path;
    let fill = Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity: 1.0 };
    Ok(Art {
        page: Page { width_mm: bounds.width(), height_mm: bounds.height() },
        elements: vec![Element {
            ids: vec!["path".into()],
            name: "path".into(),
            ..Element::default()
        }],
        shapes: vec![Shape {
            element: 0,
            path,
            fill: Some(fill),
            stroke: None,
            stroke_first: false,
            clips: vec![],
        }],
        ..Art::default()
    })
}

/// Reads path data as far as it goes: the path up to the first error, and the error. That is what
/// SVG 2 asks of viewers.
///
/// Arcs are cubics within 1e-9 of their radius.
///
/// ```
/// use stave_parse::svg::path_data;
/// let (path, error) = path_data("M10,10 L20,20,30");
/// assert_eq!(path.to_svg(), "M10,10 L20,20");
/// assert!(error.is_some());
/// ```
#[must_use]
pub fn path_data(data: &str) -> (BezPath, Option<PathError>) {
    parse(data, BARE)
}

/// Reads the path data of a document as far as it goes, as [`path_data`] does.
pub(super) fn document_path_data(data: &str) -> (BezPath, Option<PathError>) {
    parse(data, IN_DOCUMENT)
}

fn parse(data: &str, manner: Manner) -> (BezPath, Option<PathError>) {
    let mut pen = Pen::new(manner);
    // A form feed is white space to SVG, but not to the parser below.
    let blanks = data.contains('\x0c').then(|| data.replace('\x0c', " "));
    let data = blanks.as_deref().unwrap_or(data);
    // The parser below takes more commas than the grammar does.
    let comma = if manner.strict { stray_comma(data) } else { None };
    for segment in PathParser::from(&data[..comma.unwrap_or(data.len())]) {
        let fault = match segment {
            Ok(segment) => match pen.draw(segment) {
                Ok(()) => continue,
                Err(message) => (None, message),
            },
            Err(error) => (position(&error, data), describe(&error, data).to_owned()),
        };
        let (column, message) = fault;
        let at = column.and_then(|c| data.char_indices().nth(c - 1)).map(|(at, _)| at);
        let at = at.or(comma).unwrap_or(data.len());
        return (pen.path, Some(error_at(data, at, message)));
    }
    let error =
        comma.map(|at| error_at(data, at, "a comma may stand between two numbers only".to_owned()));
    (pen.path, error)
}

fn error_at(data: &str, at: usize, message: String) -> PathError {
    let column = data[..at].chars().count() as u64 + 1;
    PathError { column, message, excerpt: Excerpt::of(data.as_bytes(), at) }
}

/// The first comma that does not stand between two numbers.
fn stray_comma(data: &str) -> Option<usize> {
    let bytes = data.as_bytes();
    let filled = |byte: &&u8| !byte.is_ascii_whitespace();
    memchr::memchr_iter(b',', bytes).find(|&at| {
        let before = bytes[..at].iter().rev().find(filled);
        let after = bytes[at + 1..].iter().find(filled);
        let ends = before.is_some_and(|b| b.is_ascii_digit() || *b == b'.');
        let begins = after.is_some_and(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+'));
        !(ends && begins)
    })
}

/// Where an error lies, in characters from 1; `None` at the end of the data.
fn position(error: &svgtypes::Error, data: &str) -> Option<usize> {
    use svgtypes::Error as E;
    let at = match error {
        E::UnexpectedData(at)
        | E::InvalidNumber(at)
        | E::InvalidChar(_, at)
        | E::InvalidString(_, at) => *at,
        _ => return None,
    };
    // The place of a number that is not one is where it begins; blanks before it are not at fault.
    let blank = |c: &char| c.is_ascii_whitespace();
    let blanks = data.chars().skip(at.saturating_sub(1)).take_while(blank).count();
    Some((at + blanks).max(1))
}

fn describe(error: &svgtypes::Error, data: &str) -> &'static str {
    use svgtypes::Error as E;
    let at = position(error, data).and_then(|column| data.chars().nth(column - 1));
    match error {
        E::UnexpectedEndOfStream => "the data ends within a command",
        E::InvalidNumber(_) => "a number is expected here",
        // A digit can stand wherever a number can: where it cannot, a flag was meant.
        E::UnexpectedData(_)
            if at.is_some_and(|c| c.is_ascii_digit()) && data.contains(['A', 'a']) =>
        {
            FLAG
        }
        E::InvalidChar(..) => FLAG,
        _ => "a command (one of MLHVCSQTAZ, the first M) or a number is expected here",
    }
}

const FLAG: &str = "a flag of 0 or 1 is expected here";

/// Path data being drawn.
#[derive(Debug)]
struct Pen {
    manner: Manner,
    path: BezPath,
    at: Point,
    start: Point,
    /// The second control point of the cubic just drawn, for S.
    cubic: Option<Point>,
    /// The control point of the quadratic just drawn, for T.
    quadratic: Option<Point>,
    /// A subpath was closed, and the next segment begins another.
    closed: bool,
}

impl Pen {
    fn new(manner: Manner) -> Pen {
        Pen {
            manner,
            path: BezPath::new(),
            at: Point::ZERO,
            start: Point::ZERO,
            cubic: None,
            quadratic: None,
            closed: false,
        }
    }

    fn draw(&mut self, segment: PathSegment) -> Result<(), String> {
        let from = self.at;
        let base = |abs: bool| if abs { Vec2::ZERO } else { from.to_vec2() };
        let farthest = self.manner.farthest;
        let near = |p: Point| within(p, farthest);
        let point = |abs: bool, x: f64, y: f64| near(Point::new(x, y) + base(abs));
        let (cubic, quadratic) = (self.cubic.take(), self.quadratic.take());
        let mirrored = |control: Option<Point>| control.map_or(from, |c| from + (from - c));
        match segment {
            PathSegment::MoveTo { abs, x, y } => {
                self.at = point(abs, x, y)?;
                self.start = self.at;
                self.closed = false;
                self.path.move_to(self.at);
            }
            PathSegment::LineTo { abs, x, y } => self.line(point(abs, x, y)?),
            PathSegment::HorizontalLineTo { abs, x } => {
                self.line(near(Point::new(x + base(abs).x, from.y))?);
            }
            PathSegment::VerticalLineTo { abs, y } => {
                self.line(near(Point::new(from.x, y + base(abs).y))?);
            }
            PathSegment::CurveTo { abs, x1, y1, x2, y2, x, y } => {
                self.curve(point(abs, x1, y1)?, point(abs, x2, y2)?, point(abs, x, y)?);
            }
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                self.curve(mirrored(cubic), point(abs, x2, y2)?, point(abs, x, y)?);
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => {
                self.quad(point(abs, x1, y1)?, point(abs, x, y)?);
            }
            PathSegment::SmoothQuadratic { abs, x, y } => {
                self.quad(mirrored(quadratic), point(abs, x, y)?);
            }
            PathSegment::EllipticalArc { abs, rx, ry, x_axis_rotation, large_arc, sweep, x, y } => {
                let to = point(abs, x, y)?;
                let radii = near(Point::new(rx, ry))?.to_vec2();
                let rotation_rad = (x_axis_rotation % 360.0).to_radians();
                self.arc(&EndpointArc { from, to, radii, rotation_rad, large: large_arc, sweep });
            }
            // Closing what is closed draws nothing.
            PathSegment::ClosePath { .. } if self.closed => {}
            PathSegment::ClosePath { .. } => {
                self.path.close_path();
                self.at = self.start;
                self.closed = true;
            }
        }
        Ok(())
    }

    /// Begins the subpath that a segment right after a closing implies.
    fn open(&mut self) {
        if std::mem::take(&mut self.closed) {
            self.path.move_to(self.start);
        }
    }

    fn line(&mut self, to: Point) {
        self.open();
        self.path.line_to(to);
        self.at = to;
    }

    fn curve(&mut self, a: Point, b: Point, to: Point) {
        self.open();
        self.path.curve_to(a, b, to);
        self.cubic = Some(b);
        self.at = to;
    }

    fn quad(&mut self, control: Point, to: Point) {
        self.open();
        self.path.quad_to(control, to);
        self.quadratic = Some(control);
        self.at = to;
    }

    fn arc(&mut self, arc: &EndpointArc) {
        self.open();
        match arc.about_centre() {
            Some(about) => {
                let first_new = self.path.elements().len();
                let tolerance = self.manner.arc_tolerance * about.radii.x.max(about.radii.y);
                about.to_cubic_beziers(tolerance, |a, b, p| self.path.curve_to(a, b, p));
                // The end is where the data says, not where sine and cosine put it.
                match self.path.elements_mut().get_mut(first_new..).and_then(<[_]>::last_mut) {
                    Some(kurbo::PathEl::CurveTo(_, _, end)) => *end = arc.to,
                    _ => self.path.line_to(arc.to),
                }
            }
            None if arc.from != arc.to => self.path.line_to(arc.to),
            None => {}
        }
        self.at = arc.to;
    }
}

fn within(p: Point, farthest: f64) -> Result<Point, String> {
    if p.x.abs() <= farthest && p.y.abs() <= farthest {
        Ok(p)
    } else {
        Err("it reaches farther than a kilometre before here".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_is_pointed_at() {
        insta::assert_snapshot!(read_path("M10 10 h30 w20").unwrap_err(), @r"
        column 12: a command (one of MLHVCSQTAZ, the first M) or a number is expected here
          M10 10 h30 w20
                     ^
        ");
        insta::assert_snapshot!(read_path("M10 10 A5 5 0 2 0 9 9").unwrap_err(), @r"
        column 15: a flag of 0 or 1 is expected here
          M10 10 A5 5 0 2 0 9 9
                        ^
        ");
        insta::assert_snapshot!(read_path("M10 10 L20").unwrap_err(), @r"
        column 11: the data ends within a command
          M10 10 L20
                    ^
        ");
        insta::assert_snapshot!(read_path("M10 10 L20 x").unwrap_err(), @r"
        column 12: a number is expected here
          M10 10 L20 x
                     ^
        ");
        insta::assert_snapshot!(read_path("M1e9 1").unwrap_err(), @r"
        column 7: it reaches farther than a kilometre before here
          M1e9 1
                ^
        ");
    }

    #[test]
    fn the_page_is_the_box() {
        let art = read_path("M-5 7 H5 V27 Z").unwrap();
        assert_eq!((art.page.width_mm, art.page.height_mm), (10.0, 20.0));
        assert_eq!(art.shapes[0].path.to_svg(), "M0,0 L10,0 L10,20 Z");
        assert_eq!(read_path("  ").unwrap(), Art::default());
    }
}
