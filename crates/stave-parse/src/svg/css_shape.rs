//! Clip paths by a shape of CSS: `circle()` and its kin (CSS Shapes Module Level 1, section 3;
//! CSS Masking Module Level 1, section 5).
//!
//! They are reckoned from a box around the element: with its stroke, unless the drawing names
//! another. What is not understood gives `None`, and is told of elsewhere.

use kurbo::{Affine, BezPath, Ellipse, Point, Rect, RoundedRectRadii, Shape as _, Vec2};
use stave_toolpath::art::Rule;

use super::path_data::document_path_data;
use super::unit::{MM_PER_PX, length_mm};

/// The boxes around an element, in px of its own space.
#[derive(Clone, Copy, Debug)]
pub(super) struct Boxes {
    /// Around its insides.
    fill: Rect,
    /// Around all that is painted.
    stroke: Rect,
}

impl Boxes {
    fn of(fill: usvg::Rect, stroke: usvg::Rect) -> Boxes {
        let rect = |r: usvg::Rect| {
            Rect::new(r.left().into(), r.top().into(), r.right().into(), r.bottom().into())
        };
        Boxes { fill: rect(fill), stroke: rect(stroke) }
    }

    pub(super) fn of_group(group: &usvg::Group) -> Boxes {
        Boxes::of(group.bounding_box(), group.stroke_bounding_box())
    }

    pub(super) fn of_path(path: &usvg::Path) -> Boxes {
        Boxes::of(path.bounding_box(), path.stroke_bounding_box())
    }

    pub(super) fn of_text(text: &usvg::Text) -> Boxes {
        Boxes::of(text.bounding_box(), text.stroke_bounding_box())
    }

    fn named(&self, name: &str) -> Option<Rect> {
        match name {
            "fill-box" | "content-box" | "padding-box" => Some(self.fill),
            "stroke-box" | "border-box" | "margin-box" => Some(self.stroke),
            _ => None,
        }
    }
}

/// How far the cubics of a circle may stray from it, px.
const ROUND_PX: f64 = 1e-4;

/// The farthest that is followed, px: over ten metres, past any page. What goes round such a shape
/// in parts of a millimetre would take hours.
const FARTHEST_PX: f64 = 4e4;

/// The area that a `clip-path` leaves, in px of the element's own space; `None` where it is no
/// shape, or one that is not understood.
pub(super) fn shape(text: &str, boxes: &Boxes) -> Option<(BezPath, Rule)> {
    let text = text.trim();
    let Some(open) = text.find('(') else {
        return Some((boxes.named(text)?.to_path(ROUND_PX), Rule::NonZero));
    };
    let (before, inside) = (text.get(..open)?, text.get(open + 1..)?);
    let close = closing(inside)?;
    let (inside, after) = (inside.get(..close)?, inside.get(close + 1..)?.trim());
    let (other, function) = match before.trim().rsplit_once(char::is_whitespace) {
        Some((other, function)) => (other.trim(), function),
        None => ("", before.trim()),
    };
    let frame = match (other, after) {
        ("", "") => boxes.stroke,
        (name, "") | ("", name) => boxes.named(name)?,
        _ => return None,
    };
    let lower = inside.to_ascii_lowercase();
    let path = match function.to_ascii_lowercase().as_str() {
        "circle" => circle(&lower, &frame)?,
        "ellipse" => ellipse(&lower, &frame)?,
        "inset" => inset(&lower, &frame)?,
        "xywh" => xywh(&lower, &frame)?,
        "rect" => rect(&lower, &frame)?,
        "polygon" => return polygon(&lower, &frame),
        "path" => return path_of(inside, &frame),
        _ => return None,
    };
    Some((path, Rule::NonZero))
}

/// Where the parenthesis that is open closes; quotes hide others.
fn closing(text: &str) -> Option<usize> {
    let (mut depth, mut quote) = (0_u32, None);
    for (at, c) in text.char_indices() {
        match (c, quote) {
            (_, Some(open)) if c == open => quote = None,
            (_, Some(_)) => {}
            ('"' | '\'', None) => quote = Some(c),
            ('(', None) => depth += 1,
            (')', None) if depth == 0 => return Some(at),
            (')', None) => depth -= 1,
            _ => {}
        }
    }
    None
}

/// A length, px, or the share of `whole` that a percentage is.
fn length(word: &str, whole: f64) -> Option<f64> {
    let px = match word.strip_suffix('%') {
        Some(share) => number(share)? * whole / 100.0,
        // Browsers take numbers without a unit for px where an attribute says them.
        None => length_mm(word)? / MM_PER_PX,
    };
    (px.abs() <= FARTHEST_PX).then_some(px)
}

fn number(text: &str) -> Option<f64> {
    let is_number = text.chars().all(|c| "+-.0123456789".contains(c));
    text.parse::<f64>().ok().filter(|value| is_number && value.is_finite())
}

/// A position within the box, 1 or 2 words.
fn position(words: &[&str], frame: &Rect) -> Option<Point> {
    let (x, y) = match words {
        [] => ("center", "center"),
        [one @ ("top" | "bottom")] => ("center", *one),
        [one] => (*one, "center"),
        [y @ ("top" | "bottom"), x] | [x, y @ ("top" | "bottom")] => (*x, *y),
        [y, x @ ("left" | "right")] | [x, y] => (*x, *y),
        _ => return None,
    };
    let along = |word: &str, low: &str, high: &str, whole: f64| match word {
        "center" => Some(whole / 2.0),
        _ if word == low => Some(0.0),
        _ if word == high => Some(whole),
        _ => length(word, whole),
    };
    Some(Point::new(
        frame.x0 + along(x, "left", "right", frame.width())?,
        frame.y0 + along(y, "top", "bottom", frame.height())?,
    ))
}

/// The radii, the words before `at`, and the centre.
fn radii_and_centre<'t>(text: &'t str, frame: &Rect) -> Option<(Vec<&'t str>, Point)> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let at = words.iter().position(|word| *word == "at");
    let (radii, place) = words.split_at(at.unwrap_or(words.len()));
    let centre = position(place.get(1..).unwrap_or_default(), frame)?;
    Some((radii.to_vec(), centre))
}

/// A radius by a word for a side, `near` and `far` being the distances of the sides.
fn radius(word: &str, near: f64, far: f64, whole: f64) -> Option<f64> {
    match word {
        "closest-side" => Some(near),
        "farthest-side" => Some(far),
        _ => length(word, whole).filter(|r| *r >= 0.0),
    }
}

/// The distances of the nearer and the farther side, across and down.
fn sides(centre: Point, frame: &Rect) -> [(f64, f64); 2] {
    let of = |a: f64, b: f64| (a.abs().min(b.abs()), a.abs().max(b.abs()));
    [of(centre.x - frame.x0, frame.x1 - centre.x), of(centre.y - frame.y0, frame.y1 - centre.y)]
}

fn circle(text: &str, frame: &Rect) -> Option<BezPath> {
    let (words, centre) = radii_and_centre(text, frame)?;
    let [across, down] = sides(centre, frame);
    let whole = frame.width().hypot(frame.height()) / std::f64::consts::SQRT_2;
    let r = match words.as_slice() {
        [] => across.0.min(down.0),
        [word] => radius(word, across.0.min(down.0), across.1.max(down.1), whole)?,
        _ => return None,
    };
    Some(kurbo::Circle::new(centre, r).to_path(ROUND_PX))
}

fn ellipse(text: &str, frame: &Rect) -> Option<BezPath> {
    let (words, centre) = radii_and_centre(text, frame)?;
    let [across, down] = sides(centre, frame);
    let (rx, ry) = match words.as_slice() {
        [] => (across.0, down.0),
        [x, y] => (
            radius(x, across.0, across.1, frame.width())?,
            radius(y, down.0, down.1, frame.height())?,
        ),
        _ => return None,
    };
    Some(Ellipse::new(centre, (rx, ry), 0.0).to_path(ROUND_PX))
}

/// One to four values as CSS deals them out: top, right, bottom, left.
fn dealt<'t>(words: &[&'t str]) -> Option<[&'t str; 4]> {
    match *words {
        [all] => Some([all; 4]),
        [a, b] => Some([a, b, a, b]),
        [a, b, c] => Some([a, b, c, b]),
        [a, b, c, d] => Some([a, b, c, d]),
        _ => None,
    }
}

/// What stands before and after `round`.
fn split_round(text: &str) -> (Vec<&str>, Option<&str>) {
    match text.split_once("round") {
        Some((before, after)) => (before.split_whitespace().collect(), Some(after)),
        None => (text.split_whitespace().collect(), None),
    }
}

fn inset(text: &str, frame: &Rect) -> Option<BezPath> {
    let (words, round) = split_round(text);
    let [top, right, bottom, left] = dealt(&words)?;
    let (w, h) = (frame.width(), frame.height());
    let inner = Rect::new(
        frame.x0 + length(left, w)?,
        frame.y0 + length(top, h)?,
        frame.x1 - length(right, w)?,
        frame.y1 - length(bottom, h)?,
    );
    rounded(inner, round, frame)
}

fn xywh(text: &str, frame: &Rect) -> Option<BezPath> {
    let (words, round) = split_round(text);
    let [x, y, w, h] = words.as_slice() else { return None };
    let (x, y) = (length(x, frame.width())?, length(y, frame.height())?);
    let (w, h) = (length(w, frame.width())?, length(h, frame.height())?);
    let from = Point::new(frame.x0 + x, frame.y0 + y);
    rounded(Rect::from_origin_size(from, (w, h)), round, frame)
}

fn rect(text: &str, frame: &Rect) -> Option<BezPath> {
    let (words, round) = split_round(text);
    let [top, right, bottom, left] = words.as_slice() else { return None };
    let edge = |word: &str, whole: f64, auto: f64| match word {
        "auto" => Some(auto),
        _ => length(word, whole),
    };
    let (w, h) = (frame.width(), frame.height());
    let inner = Rect::new(
        frame.x0 + edge(left, w, 0.0)?,
        frame.y0 + edge(top, h, 0.0)?,
        frame.x0 + edge(right, w, w)?,
        frame.y0 + edge(bottom, h, h)?,
    );
    rounded(inner, round, frame)
}

/// A rectangle with its corners rounded; one turned inside out is empty.
fn rounded(inner: Rect, round: Option<&str>, frame: &Rect) -> Option<BezPath> {
    if inner.width() <= 0.0 || inner.height() <= 0.0 {
        return Some(BezPath::new());
    }
    let Some(round) = round else { return Some(inner.to_path(ROUND_PX)) };
    let (across, down) = round.split_once('/').unwrap_or((round, round));
    let radii = |text: &str, whole: f64| -> Option<Vec<f64>> {
        let words: Vec<&str> = text.split_whitespace().collect();
        dealt(&words)?.iter().map(|word| length(word, whole).filter(|r| *r >= 0.0)).collect()
    };
    let (mut rx, mut ry) = (radii(across, frame.width())?, radii(down, frame.height())?);
    // Radii that meet are all made smaller alike (CSS Backgrounds Level 3, section 4.5).
    let (w, h) = (inner.width(), inner.height());
    let sums = [(w, rx[0] + rx[1]), (h, ry[1] + ry[2]), (w, rx[2] + rx[3]), (h, ry[3] + ry[0])];
    let fits = sums.iter().map(|(room, sum)| room / sum.max(*room)).fold(1.0, f64::min);
    rx.iter_mut().chain(&mut ry).for_each(|r| *r *= fits);
    if rx.iter().zip(&ry).all(|(x, y)| (x - y).abs() < 1e-9) {
        let radii = RoundedRectRadii::new(rx[0], rx[1], rx[2], rx[3]);
        return Some(inner.to_rounded_rect(radii).to_path(ROUND_PX));
    }
    let corners = [
        (Point::new(inner.x1, inner.y0), -1.0, 1.0, 1),
        (Point::new(inner.x1, inner.y1), -1.0, -1.0, 2),
        (Point::new(inner.x0, inner.y1), 1.0, -1.0, 3),
        (Point::new(inner.x0, inner.y0), 1.0, 1.0, 0),
    ];
    let mut path = BezPath::new();
    path.move_to((inner.x0 + rx[0], inner.y0));
    for (corner, x, y, k) in corners {
        let centre = corner + Vec2::new(x * rx[k], y * ry[k]);
        let from = std::f64::consts::FRAC_PI_2 * [2.0, 3.0, 0.0, 1.0][k];
        let arc = kurbo::Arc::new(centre, (rx[k], ry[k]), from, std::f64::consts::FRAC_PI_2, 0.0);
        let mut elements = arc.path_elements(ROUND_PX);
        if let Some(start) = elements.next().and_then(|el| el.end_point()) {
            path.line_to(start);
        }
        path.extend(elements);
    }
    path.close_path();
    Some(path)
}

/// The rule that stands first, and the rest.
fn with_rule(text: &str) -> (Rule, &str) {
    let rule = match text.split_once(',') {
        Some((word, rest)) => match word.trim() {
            "nonzero" => Some((Rule::NonZero, rest)),
            "evenodd" => Some((Rule::EvenOdd, rest)),
            _ => None,
        },
        None => None,
    };
    rule.unwrap_or((Rule::NonZero, text))
}

fn polygon(text: &str, frame: &Rect) -> Option<(BezPath, Rule)> {
    let (rule, text) = with_rule(text);
    let mut path = BezPath::new();
    for corner in text.split(',') {
        let words: Vec<&str> = corner.split_whitespace().collect();
        let [x, y] = words.as_slice() else { return None };
        let (x, y) = (length(x, frame.width())?, length(y, frame.height())?);
        let to = Point::new(frame.x0 + x, frame.y0 + y);
        match path.elements().is_empty() {
            true => path.move_to(to),
            false => path.line_to(to),
        }
    }
    path.close_path();
    Some((path, rule))
}

fn path_of(text: &str, frame: &Rect) -> Option<(BezPath, Rule)> {
    let (rule, text) = with_rule(text);
    let text = text.trim();
    let quote = text.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    let data = text.strip_prefix(quote)?.strip_suffix(quote)?;
    let (path, broken) = document_path_data(data);
    if broken.is_some() {
        return None;
    }
    Some((Affine::translate(frame.origin().to_vec2()) * path, rule))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxes() -> Boxes {
        Boxes { fill: Rect::new(10.0, 20.0, 50.0, 40.0), stroke: Rect::new(8.0, 18.0, 52.0, 42.0) }
    }

    fn area_and_box(text: &str) -> (f64, Rect) {
        let (path, _) = shape(text, &boxes()).unwrap_or_else(|| panic!("{text}"));
        (path.area().abs(), path.bounding_box())
    }

    /// Radii and places as CSS Shapes Level 1, sections 3.1 to 3.4, has them.
    #[test]
    fn shapes_lie_in_their_box() {
        let near = |text: &str, area: f64, at: Rect| {
            let (found, bounds) = area_and_box(text);
            assert!((found - area).abs() < 1e-2 * area.max(1.0), "{text}: {found}, not {area}");
            let off = [bounds.x0 - at.x0, bounds.y0 - at.y0, bounds.x1 - at.x1, bounds.y1 - at.y1];
            assert!(off.iter().all(|d| d.abs() < 0.01), "{text}: {bounds:?}");
        };
        let pi = std::f64::consts::PI;
        near("circle() fill-box", 100.0 * pi, Rect::new(20.0, 20.0, 40.0, 40.0));
        near("circle(5px at 10px 25%) fill-box", 25.0 * pi, Rect::new(15.0, 20.0, 25.0, 30.0));
        near(
            "fill-box circle(farthest-side at left top)",
            1600.0 * pi,
            Rect::new(-30.0, -20.0, 50.0, 60.0),
        );
        near("ellipse(50% 25%)", 22.0 * 6.0 * pi, Rect::new(8.0, 24.0, 52.0, 36.0));
        near("inset(2px 4px) fill-box", 32.0 * 16.0, Rect::new(14.0, 22.0, 46.0, 38.0));
        let corner = 4.0 - pi;
        near(
            "inset(0 round 5px) fill-box",
            800.0 - 25.0 * corner,
            Rect::new(10.0, 20.0, 50.0, 40.0),
        );
        near(
            "inset(0 round 10px / 5px) fill-box",
            800.0 - 50.0 * corner,
            Rect::new(10.0, 20.0, 50.0, 40.0),
        );
        near("polygon(0 0, 100% 0, 0 100%)", 44.0 * 24.0 / 2.0, Rect::new(8.0, 18.0, 52.0, 42.0));
        near("path('M0 0h4v4z') fill-box", 8.0, Rect::new(10.0, 20.0, 14.0, 24.0));
        near("xywh(1px 2px 50% 50%) fill-box", 200.0, Rect::new(11.0, 22.0, 31.0, 32.0));
        near("rect(auto 10px auto auto) fill-box", 200.0, Rect::new(10.0, 20.0, 20.0, 40.0));
        near("fill-box", 800.0, Rect::new(10.0, 20.0, 50.0, 40.0));
    }

    #[test]
    fn what_lies_past_any_page_is_not_followed() {
        for text in ["circle(1e300mm)", "inset(-1e6mm)", "polygon(0 0, 1e12mm 5mm, 9mm 9mm)"] {
            assert!(shape(text, &boxes()).is_none(), "{text}");
        }
    }

    #[test]
    fn what_is_no_such_shape_is_not_followed() {
        for text in [
            "none",
            "url(#c)",
            "circle(2em)",
            "circle(calc(50% - 1px))",
            "circle(40%) view-box",
            "circle(-2px)",
            "inset()",
            "polygon(1px)",
            "path(M0 0h1)",
            "path('M0 0hx')",
            "circle(",
            "star(5)",
        ] {
            assert!(shape(text, &boxes()).is_none(), "{text}");
        }
        assert!(matches!(
            shape("polygon(evenodd, 0 0, 1px 0, 0 1px)", &boxes()),
            Some((_, Rule::EvenOdd))
        ));
    }
}
