//! What of an outline lies within the box that its clips leave.

use kurbo::{BezPath, PathEl, Point, Rect};

/// What of a path lies in a box, as lines of points that follow it to a tolerance, mm: of an area
/// the border of what is left, which runs along the box where the box cuts it.
pub(crate) fn seen_lines(
    flat: &BezPath,
    is_area: bool,
    seen: Rect,
    tolerance_mm: f64,
) -> Vec<Vec<Point>> {
    let mut lines: Vec<Vec<Point>> = Vec::new();
    kurbo::flatten(flat, tolerance_mm, |el| match el {
        PathEl::MoveTo(p) => lines.push(vec![p]),
        PathEl::LineTo(p) | PathEl::QuadTo(_, p) | PathEl::CurveTo(_, _, p) => {
            if let Some(line) = lines.last_mut() {
                line.push(p);
            }
        }
        PathEl::ClosePath => {
            if let Some(line) = lines.last_mut() {
                line.extend(line.first().copied());
            }
        }
    });
    // What ends on a side of the box is in it, whatever its last digit.
    let sides = Sides(seen.inflate(1e-6, 1e-6));
    let of = |line: Vec<Point>| if is_area { vec![sides.area(line)] } else { sides.line(&line) };
    lines.into_iter().flat_map(of).filter(|line| !line.is_empty()).collect()
}

/// The sides of a box.
struct Sides(Rect);

impl Sides {
    /// How far within each side a point lies; negative beyond it.
    fn depths(&self, p: Point) -> [f64; 4] {
        let Rect { x0, y0, x1, y1 } = self.0;
        [p.x - x0, x1 - p.x, p.y - y0, y1 - p.y]
    }

    /// An area's border cut off at one side after the other (Sutherland and Hodgman, Communications
    /// of the ACM 17, 1974); closed.
    fn area(&self, border: Vec<Point>) -> Vec<Point> {
        let mut border = border;
        for side in 0..4 {
            let depth = |p: Point| self.depths(p).into_iter().nth(side).unwrap_or_default();
            let next = border.iter().skip(1).chain(border.first()).copied();
            let mut kept = Vec::with_capacity(border.len() + 4);
            for (from, to) in border.iter().copied().zip(next) {
                let (at, ahead) = (depth(from), depth(to));
                if at >= 0.0 {
                    kept.push(from);
                }
                if (at >= 0.0) != (ahead >= 0.0) {
                    kept.push(from.lerp(to, at / (at - ahead)));
                }
            }
            border = kept;
        }
        if border.first() != border.last() {
            border.extend(border.first().copied());
        }
        border
    }

    /// The parts of a line that lie within all sides.
    fn line(&self, line: &[Point]) -> Vec<Vec<Point>> {
        if let [dot] = line {
            let is_in = self.depths(*dot).into_iter().all(|depth| depth >= 0.0);
            return if is_in { vec![vec![*dot]] } else { Vec::new() };
        }
        let mut parts: Vec<Vec<Point>> = Vec::new();
        for (&from, &to) in line.iter().zip(line.iter().skip(1)) {
            let (mut first, mut last) = (0.0_f64, 1.0_f64);
            for (at, ahead) in self.depths(from).into_iter().zip(self.depths(to)) {
                match (at >= 0.0, ahead >= 0.0) {
                    (true, true) => {}
                    (false, false) => last = -1.0,
                    (true, false) => last = last.min(at / (at - ahead)),
                    (false, true) => first = first.max(at / (at - ahead)),
                }
            }
            if first > last {
                continue;
            }
            // What is not cut keeps its very ends: so the next part is known to go on from there.
            let between = |share: f64| match share {
                0.0 => from,
                1.0 => to,
                _ => from.lerp(to, share),
            };
            let (from, to) = (between(first), between(last));
            match parts.last_mut() {
                Some(part) if part.last() == Some(&from) => part.push(to),
                _ => parts.push(vec![from, to]),
            }
        }
        parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOX: Rect = Rect::new(0.0, 0.0, 10.0, 10.0);

    fn seen(path: &str, is_area: bool) -> Vec<Vec<(f64, f64)>> {
        let path = BezPath::from_svg(path).unwrap();
        let rounded = |p: &Point| ((p.x * 1e3).round() / 1e3, (p.y * 1e3).round() / 1e3);
        let lines = seen_lines(&path, is_area, BOX, 0.01);
        lines.iter().map(|line| line.iter().map(rounded).collect()).collect()
    }

    #[test]
    fn lines_are_cut_at_the_sides() {
        assert_eq!(seen("M2 3H8V7", false), [[(2.0, 3.0), (8.0, 3.0), (8.0, 7.0)]]);
        assert_eq!(
            seen("M-5 2H5V15H8V9", false),
            [vec![(0.0, 2.0), (5.0, 2.0), (5.0, 10.0)], vec![(8.0, 10.0), (8.0, 9.0)]]
        );
        // Across a corner, past one, and along a side.
        assert_eq!(seen("M-4 6L6 -4", false), [[(0.0, 2.0), (2.0, 0.0)]]);
        assert_eq!(seen("M-4 2L2 -4M20 20V30", false), [[(0.0, 0.0); 0]; 0]);
        assert_eq!(seen("M-4 10H4", false), [[(0.0, 10.0), (4.0, 10.0)]]);
        assert_eq!(seen("M3 4ZM11 4Z", false), [[(3.0, 4.0), (3.0, 4.0)]]);
    }

    #[test]
    fn an_area_is_bordered_by_the_box_that_cuts_it() {
        let border = seen("M-5 2H15V30H-5Z", true);
        let [line] = border.as_slice() else { panic!("{border:?}") };
        assert_eq!(line.first(), line.last());
        for corner in [(0.0, 2.0), (10.0, 2.0), (10.0, 10.0), (0.0, 10.0)] {
            assert!(line.contains(&corner), "{line:?}");
        }
        // No side of it within the box, and all of it beside.
        assert_eq!(seen("M-5 -5H15V15H-5Z", true).len(), 1);
        assert_eq!(seen("M12 0H20V9H12Z", true), [[(0.0, 0.0); 0]; 0]);
        assert_eq!(
            seen("M1 1H2V2H1", true),
            [[(1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0), (1.0, 1.0)]]
        );
    }
}
