//! Arcs by centre and by radius (3.5.3).

use std::f64::consts::TAU;

use stave_toolpath::{Arc, Plane, Position};

use super::fault::Fault;
use super::modes::Units;
use super::parameters::FARTHEST;
use super::problem::Problem;
use super::words::{OFFSETS, Words, letters};

/// The letters and indices of a plane.
struct Frame {
    /// The indices of first axis, second axis and normal in x, y, z.
    axes: [usize; 3],
    /// The axis letters of first and second axis.
    ends: [u8; 2],
    /// The centre offsets of first and second axis, and of the normal, which has none.
    offsets: [u8; 3],
}

fn frame(plane: Plane) -> Frame {
    match plane {
        Plane::Xy => Frame { axes: [0, 1, 2], ends: *b"XY", offsets: *b"IJK" },
        Plane::Zx => Frame { axes: [2, 0, 1], ends: *b"ZX", offsets: *b"KIJ" },
        Plane::Yz => Frame { axes: [1, 2, 0], ends: *b"YZ", offsets: *b"JKI" },
    }
}

/// How the words of an arc are to be read.
#[derive(Clone, Copy)]
pub(super) struct Reading {
    pub(super) plane: Plane,
    pub(super) units: Units,
    pub(super) counter_clockwise: bool,
    pub(super) strict: bool,
}

impl Reading {
    /// How far the radii at start and end may differ, mm: 0.002 mm, or 0.0002 inch when inches are
    /// in use.
    fn tolerance_mm(self) -> f64 {
        match self.units {
            Units::Millimetre => 0.002,
            Units::Inch => 0.0002 * 25.4,
        }
    }
}

/// The arc from `from` to `to` with the centre or radius of `words`.
#[expect(clippy::indexing_slicing, reason = "a frame's indices are 0, 1 and 2")]
pub(super) fn arc(
    words: &Words,
    from: &Position,
    to: &Position,
    how: Reading,
) -> Result<Arc, Fault> {
    let frame = frame(how.plane);
    let [first_offset, second_offset, normal_offset] = frame.offsets;
    if words.any(letters(&[normal_offset])) {
        return Err(Fault::letter(normal_offset, Problem::WrongOffset(char::from(normal_offset))));
    }
    let [first_end, second_end] = frame.ends;
    let [first, second, normal] = frame.axes;
    let start = [from.x, from.y, from.z];
    let end = [to.x, to.y, to.z];
    let (s, e) = ([start[first], start[second]], [end[first], end[second]]);
    let has_end = words.any(letters(&frame.ends));
    if !has_end && (how.strict || words.get(b'R').is_some()) {
        return Err(misplaced(
            words,
            Problem::NoArcEnd(char::from(first_end), char::from(second_end)),
        ));
    }
    let scale = how.units.millimetres();
    let middle = match words.get(b'R') {
        Some(_) if words.any(OFFSETS) => return Err(Fault::letter(b'R', Problem::CentreAndRadius)),
        Some(radius) => by_radius(radius * scale, s, e, how).map_err(|p| Fault::letter(b'R', p))?,
        None if words.any(OFFSETS) => {
            let offset = |letter| words.get(letter).unwrap_or(0.0) * scale;
            [s[0] + offset(first_offset), s[1] + offset(second_offset)]
        }
        None => {
            let problem = Problem::NoCentre(char::from(first_offset), char::from(second_offset));
            return Err(misplaced(words, problem));
        }
    };
    let at_fault = |problem| Fault {
        place: super::fault::Place::Letters(OFFSETS | letters(b"R")),
        problem: Box::new(problem),
    };
    if !middle.iter().all(|m| m.abs() <= FARTHEST) {
        return Err(at_fault(Problem::OutOfRange(char::from(first_offset))));
    }
    let [start_mm, end_mm] = [s, e].map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1]));
    if start_mm <= 0.0 || end_mm <= 0.0 {
        return Err(at_fault(Problem::ZeroRadius));
    }
    let tolerance_mm = how.tolerance_mm();
    if (start_mm - end_mm).abs() > tolerance_mm + rounding(s, e) {
        return Err(at_fault(Problem::RadiiDiffer { start_mm, end_mm, tolerance_mm }));
    }
    let mut centre = [0.0; 3];
    centre[first] = middle[0];
    centre[second] = middle[1];
    centre[normal] = start[normal];
    Ok(Arc { plane: how.plane, centre, sweep_rad: sweep(s, e, middle, how.counter_clockwise) })
}

/// A fault of the arc as a whole, shown at its first axis word or offset.
#[cold]
fn misplaced(words: &Words, problem: Problem) -> Fault {
    Fault { place: super::fault::Place::Letters(words.present()), problem: Box::new(problem) }
}

/// What rounding may have made of coordinates that are equal on paper, mm.
fn rounding(s: [f64; 2], e: [f64; 2]) -> f64 {
    let largest = s.iter().chain(&e).fold(1.0_f64, |m, v| m.max(v.abs()));
    largest * 1e-14 * 64.0
}

fn same(s: [f64; 2], e: [f64; 2]) -> bool {
    let near = rounding(s, e);
    (s[0] - e[0]).abs() <= near && (s[1] - e[1]).abs() <= near
}

/// The signed angle from start to end, above zero and at most a whole turn either way. An end equal
/// to the start is a full circle (3.5.3.2).
fn sweep(s: [f64; 2], e: [f64; 2], middle: [f64; 2], counter_clockwise: bool) -> f64 {
    let sign = if counter_clockwise { 1.0 } else { -1.0 };
    if same(s, e) {
        return sign * TAU;
    }
    let a = [s[0] - middle[0], s[1] - middle[1]];
    let b = [e[0] - middle[0], e[1] - middle[1]];
    // From the cross and dot products, which keep the accuracy of short arcs that differences of
    // two angles lose.
    let turn = (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]);
    let along = turn * sign;
    let positive = if along > 0.0 { along } else { along + TAU };
    sign * positive
}

/// The centre of an arc of the given radius: a positive one turns at most half a turn, a negative
/// one more (3.5.3.1).
fn by_radius(radius_mm: f64, s: [f64; 2], e: [f64; 2], how: Reading) -> Result<[f64; 2], Problem> {
    if same(s, e) {
        return Err(Problem::RadiusFullCircle);
    }
    let chord = [e[0] - s[0], e[1] - s[1]];
    let chord_mm = chord[0].hypot(chord[1]);
    let half = chord_mm / 2.0;
    let size = radius_mm.abs();
    // Written radii are rounded: one shorter than half the chord by no more than the tolerance
    // means half a circle.
    if !(size > 0.0 && half - size <= how.tolerance_mm()) {
        return Err(Problem::RadiusTooShort { radius_mm: size, chord_mm });
    }
    let rise = ((size - half) * (size + half)).max(0.0).sqrt();
    // Short counter-clockwise arcs have their centre to the left of the chord.
    let left = how.counter_clockwise == (radius_mm > 0.0);
    let side = if left { rise } else { -rise };
    let unit = [chord[0] / chord_mm, chord[1] / chord_mm];
    Ok([(s[0] + e[0]) / 2.0 - unit[1] * side, (s[1] + e[1]) / 2.0 + unit[0] * side])
}
