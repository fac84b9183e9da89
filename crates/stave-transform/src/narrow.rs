//! What is drawn narrower than the spot: shapes that come out wider, gaps that burn shut.
//!
//! Along every outline, a step at a time, the way straight across is looked for the outline that
//! comes next. Where it runs much the same way and nearer than the spot is wide, what lies between
//! is narrow: a shape if it burns, a gap if it does not. Every pointed corner is narrow near its
//! tip, so only what is so over some length to one side of a tip counts, or by half its outline.

/// A place `[turn, s]` of the wall, rad and mm.
pub(crate) type Corner = [f64; 2];

/// What is narrow over less than so many spots is the tip of a corner.
const LEAST_SPOTS: f64 = 4.0;
/// Or over this share of its outline, all in all: a dot.
const LEAST_SHARE: f64 = 0.5;
/// Looks along an outline, in spots.
const STEP_SPOTS: f64 = 0.5;
/// The most looks along all outlines, near enough: where there would be more, they lie farther
/// apart.
const MOST_STEPS: f64 = 200_000.0;
/// The size of a cell, in the farthest that is looked across: what is looked for lies in the same
/// or the next one.
const CELL_REACHES: f64 = 2.0;
/// The most parts of all sides that are looked up the cells of, near enough: where there would be
/// more, cells are larger.
const MOST_PARTS: f64 = 4.0e6;
/// Outlines this near lie on each other, mm: files are read in 32 bits.
const TOUCHING_MM: f64 = 0.005;
/// The other side runs much the same way: the cosine of the angle between them is more than this.
const ALONGSIDE: f64 = 0.7;
/// What burns is looked up no more often than this for an operation: by then enough is known.
const MOST_LOOKS: u32 = 200_000;
/// Putting a cell's sides in order takes about as long as looking across so many times.
const SORTED_AS: usize = 8;
/// So many sides are met at the most, all looks of an operation together: where art lies on art a
/// thousand times over, what is not known by then is not told.
const MOST_MET: usize = 50_000_000;

/// A shape or a gap narrower than the spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Narrow {
    /// Whether it is a gap.
    pub is_gap: bool,
    /// How wide it is where it is narrowest, mm on the wall.
    pub width_mm: f64,
    /// Where that is along the meridian, mm.
    pub s_mm: f64,
    /// Where that is around, rad.
    pub turn_rad: f64,
    /// The piece it belongs to.
    pub piece: usize,
}

/// An outline, or a line to be followed: places in order.
#[derive(Clone, Debug)]
pub(crate) struct Outline {
    pub(crate) corners: Vec<Corner>,
    /// The piece it is looked along for; `None` for what only bounds others.
    pub(crate) piece: Option<usize>,
}

/// What lies at a place.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Seen {
    /// It burns, for this piece.
    Burns(usize),
    /// Bare ware.
    Bare,
    /// Something else, whatever becomes of it.
    Other,
}

/// From one corner of an outline to the next: the outline's number and the corner's.
type Side = (u32, u32);

/// Outlines in cells of the wall.
struct Sides<'a> {
    outlines: &'a [Outline],
    /// Row, column and a side in that cell, in order.
    cells: Vec<(Cell, Side)>,
    cell_mm: f64,
    /// Turns are measured at this radius.
    radius_mm: f64,
}

/// A side has so many parts a cell's length.
const PARTS: f64 = 2.0;

fn apart_mm(from: Corner, to: Corner, radius_mm: f64) -> f64 {
    ((to[0] - from[0]) * radius_mm).hypot(to[1] - from[1])
}

/// Row and column.
type Cell = (i32, i32);

impl<'a> Sides<'a> {
    fn new(outlines: &'a [Outline], reach_mm: f64, radius_mm: f64) -> Self {
        let pairs = outlines.iter().flat_map(|outline| outline.corners.windows(2));
        let all_mm: f64 = pairs.map(|pair| apart_mm(pair[0], pair[1], radius_mm)).sum();
        let cell_mm = (CELL_REACHES * reach_mm).max(PARTS * all_mm / MOST_PARTS);
        let mut sides = Self { outlines, cells: Vec::new(), cell_mm, radius_mm };
        // Counted first: with many outlines this is most of what is held.
        let mut count = 0;
        sides.each_cell(|_, _| count += 1);
        let mut cells = Vec::with_capacity(count);
        sides.each_cell(|cell, side| cells.push((cell, side)));
        cells.sort_unstable();
        cells.dedup();
        sides.cells = cells;
        sides
    }

    #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
    fn cell(&self, place: Corner) -> Cell {
        let of = |mm: f64| (mm / self.cell_mm).floor() as i32;
        (of(place[0] * self.radius_mm), of(place[1]))
    }

    /// Hands over the cells that every side lies in.
    fn each_cell(&self, mut take: impl FnMut(Cell, Side)) {
        for (outline, corners) in (0..).zip(self.outlines.iter().map(|outline| &outline.corners)) {
            for (corner, pair) in (0..).zip(corners.windows(2)) {
                self.cells_of(pair[0], pair[1], |cell| take(cell, (outline, corner)));
            }
        }
    }

    fn cells_of(&self, from: Corner, to: Corner, mut take: impl FnMut(Cell)) {
        let length = apart_mm(from, to, self.radius_mm);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let parts = (PARTS * length / self.cell_mm).ceil().clamp(1.0, MOST_PARTS) as u32;
        let mut last = None;
        // A part is no longer than half a cell, so that it lies within a quarter of one of an end.
        for k in 0..=parts {
            let share = f64::from(k) / f64::from(parts);
            let cell = self
                .cell([from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share]);
            if last != Some(cell) {
                last = Some(cell);
                take(cell);
            }
        }
    }

    /// The sides in a cell and in those around it, once each.
    fn near(&self, (row, column): Cell, into: &mut Vec<Side>) {
        into.clear();
        for row in row.saturating_sub(1)..=row.saturating_add(1) {
            let first = (row, column.saturating_sub(1));
            let last = (row, column.saturating_add(1));
            let from = self.cells.partition_point(|(cell, _)| *cell < first);
            let these = self.cells[from..].iter().take_while(|(cell, _)| *cell <= last);
            into.extend(these.map(|(_, side)| side));
        }
        into.sort_unstable();
        into.dedup();
    }

    /// The ends of a side.
    fn ends(&self, (outline, corner): Side) -> Option<(Corner, Corner)> {
        match self.outlines.get(outline as usize)?.corners.get(corner as usize..)? {
            [from, to, ..] => Some((*from, *to)),
            _ => None,
        }
    }

    /// The first of some sides across from a place, along `way` on the wall where the radius is
    /// `radius_mm`: how far, and the cosine between its direction and `along`.
    fn across(
        &self,
        from: Corner,
        near: &[Side],
        (way, along): ([f64; 2], [f64; 2]),
        radius_mm: f64,
        reach_mm: f64,
    ) -> Option<(f64, f64)> {
        let mut nearest: Option<(f64, f64)> = None;
        for (first, second) in near.iter().filter_map(|side| self.ends(*side)) {
            let local = |p: Corner| [(p[0] - from[0]) * radius_mm, p[1] - from[1]];
            let (a, b) = (local(first), local(second));
            let d = [b[0] - a[0], b[1] - a[1]];
            let cross = way[0] * d[1] - way[1] * d[0];
            if cross == 0.0 {
                continue;
            }
            let far = (a[0] * d[1] - a[1] * d[0]) / cross;
            let share = (a[0] * way[1] - a[1] * way[0]) / cross;
            let nearer = nearest.is_none_or(|(known, _)| far < known);
            if far > TOUCHING_MM && far < reach_mm && (0.0..=1.0).contains(&share) && nearer {
                let length = d[0].hypot(d[1]);
                nearest = Some((far, (along[0] * d[0] + along[1] * d[1]).abs() / length));
            }
        }
        nearest
    }
}

/// A stretch of an outline along which it stays narrow.
#[derive(Clone, Copy)]
struct Stretch {
    narrow: Narrow,
    length_mm: f64,
}

/// What is narrower than the spot along the outlines: of each piece the narrowest shape and the
/// narrowest gap.
///
/// `seen` says what lies at a place; without it the outlines are lines to be followed, and all that
/// lies between two of them is a gap. `radius_mm` is the wall's at a place of the meridian.
pub(crate) fn narrow(
    outlines: &[Outline],
    mut seen: Option<&mut dyn FnMut(Corner) -> Seen>,
    mut radius_mm: impl FnMut(f64) -> f64,
    spot_mm: f64,
) -> Vec<Narrow> {
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    for corner in outlines.iter().flat_map(|outline| &outline.corners) {
        let radius = radius_mm(corner[1]);
        (least, most) = (least.min(radius), most.max(radius));
    }
    if !(spot_mm > TOUCHING_MM && least > 0.0 && most.is_finite()) {
        return Vec::new();
    }
    let way = |pair: &[Corner]| {
        let around = (pair[1][0] - pair[0][0]) * most;
        around.hypot(pair[1][1] - pair[0][1])
    };
    let looked_along = outlines.iter().filter(|outline| outline.piece.is_some());
    let all_mm: f64 = looked_along.flat_map(|outline| outline.corners.windows(2)).map(way).sum();
    let each_mm = (STEP_SPOTS * spot_mm).max(all_mm / MOST_STEPS);
    let sides = Sides::new(outlines, spot_mm * (most / least).min(8.0), most);
    let mut found: Vec<Narrow> = Vec::new();
    let (mut looks, mut near, mut near_to) = (0, Vec::new(), None);
    let mut met = 0_usize;
    for outline in outlines {
        let Some(piece) = outline.piece else { continue };
        let mut whole_mm = 0.0;
        let mut ended: Vec<Stretch> = Vec::new();
        let mut open: [Option<Stretch>; 2] = [None; 2];
        let (mut before, mut since_mm) = ([0.0; 2], 0.0);
        for pair in outline.corners.windows(2) {
            let radius = radius_mm(0.5 * (pair[0][1] + pair[1][1]));
            let d = [(pair[1][0] - pair[0][0]) * radius, pair[1][1] - pair[0][1]];
            let length_mm = d[0].hypot(d[1]);
            if !(length_mm > 0.0 && length_mm.is_finite()) {
                continue;
            }
            whole_mm += length_mm;
            let along = [d[0] / length_mm, d[1] / length_mm];
            // Past a tip the other side begins anew: both are narrow there, and that is a corner.
            if along[0] * before[0] + along[1] * before[1] < 0.0 {
                ended.extend(open.iter_mut().filter_map(Option::take));
            }
            before = along;
            // Chords of a curve are shorter than a step: one look for several of them.
            since_mm += length_mm;
            if since_mm < each_mm {
                continue;
            }
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let parts = (length_mm / each_mm).ceil().clamp(1.0, 1e6) as u32;
            let step_mm = since_mm / f64::from(parts);
            since_mm = 0.0;
            for k in 0..parts {
                let share = (f64::from(k) + 0.5) / f64::from(parts);
                let place = [
                    pair[0][0] + (pair[1][0] - pair[0][0]) * share,
                    pair[0][1] + (pair[1][1] - pair[0][1]) * share,
                ];
                let cell = sides.cell(place);
                if near_to != Some(cell) {
                    near_to = Some(cell);
                    sides.near(cell, &mut near);
                    met += SORTED_AS * near.len();
                }
                met += near.len();
                if met > MOST_MET {
                    return found;
                }
                for (hand, open) in open.iter_mut().enumerate() {
                    let sign = if hand == 0 { 1.0 } else { -1.0 };
                    let way = [-sign * along[1], sign * along[0]];
                    let across = sides.across(place, &near, (way, along), radius, spot_mm);
                    let narrow = across
                        .filter(|(_, cosine)| *cosine > ALONGSIDE && looks < MOST_LOOKS)
                        .map(|(far, cosine)| (far, far * cosine))
                        .filter(|(_, width_mm)| *width_mm < spot_mm)
                        .and_then(|(far, width_mm)| {
                            let at =
                                |mm: f64| [place[0] + way[0] * mm / radius, place[1] + way[1] * mm];
                            let is_gap = match &mut seen {
                                None => true,
                                Some(seen) => {
                                    looks += 1;
                                    let aside = 0.5 * TOUCHING_MM;
                                    let beside = [-aside, far + aside].map(|mm| seen(at(mm)));
                                    let burns = beside.map(|s| matches!(s, Seen::Burns(_)));
                                    match (seen(at(0.5 * far)), burns) {
                                        (Seen::Burns(_), [false, false]) => false,
                                        (Seen::Bare, [true, true]) => true,
                                        _ => return None,
                                    }
                                }
                            };
                            let [turn_rad, s_mm] = at(0.5 * far);
                            Some(Narrow { is_gap, width_mm, s_mm, turn_rad, piece })
                        });
                    match (open.as_mut(), narrow) {
                        (Some(known), Some(narrow)) if known.narrow.is_gap == narrow.is_gap => {
                            known.length_mm += step_mm;
                            if narrow.width_mm < known.narrow.width_mm {
                                known.narrow = narrow;
                            }
                        }
                        (_, narrow) => {
                            ended.extend(open.take());
                            *open = narrow.map(|narrow| Stretch { narrow, length_mm: step_mm });
                        }
                    }
                }
            }
        }
        ended.extend(open.into_iter().flatten());
        let all_mm: f64 = ended.iter().map(|stretch| stretch.length_mm).sum();
        let is_dot = all_mm >= LEAST_SHARE * whole_mm;
        let is_long = |stretch: &Stretch| stretch.length_mm >= LEAST_SPOTS * spot_mm;
        for stretch in ended.into_iter().filter(|stretch| is_dot || is_long(stretch)) {
            keep(&mut found, stretch.narrow);
        }
    }
    found
}

/// Of a piece's shapes, and of its gaps, the narrowest is kept.
pub(crate) fn keep(found: &mut Vec<Narrow>, narrow: Narrow) {
    let alike = |known: &&mut Narrow| known.piece == narrow.piece && known.is_gap == narrow.is_gap;
    match found.iter_mut().find(alike) {
        Some(known) if known.width_mm <= narrow.width_mm => {}
        Some(known) => *known = narrow,
        None => found.push(narrow),
    }
}

#[cfg(test)]
mod tests {
    use super::{Corner, Narrow, Outline, Seen, narrow};

    /// Places in mm on a can of 40 mm radius.
    const RADIUS_MM: f64 = 40.0;

    fn outline(points: &[(f64, f64)], closed: bool) -> Outline {
        let mut corners: Vec<Corner> = points.iter().map(|(x, y)| [x / RADIUS_MM, *y]).collect();
        corners.extend(corners.first().copied().filter(|_| closed));
        Outline { corners, piece: Some(0) }
    }

    fn rect(x: f64, y: f64, wide: f64, high: f64) -> Outline {
        outline(&[(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], true)
    }

    /// Rectangles that burn, by their corners alone.
    fn of_rects(rects: &[(f64, f64, f64, f64)], spot_mm: f64) -> Vec<Narrow> {
        let outlines: Vec<Outline> = rects.iter().map(|r| rect(r.0, r.1, r.2, r.3)).collect();
        let mut seen = |[turn, s]: Corner| {
            let inside = |r: &(f64, f64, f64, f64)| {
                let x = turn * RADIUS_MM;
                x > r.0 && x < r.0 + r.2 && s > r.1 && s < r.1 + r.3
            };
            if rects.iter().any(inside) { Seen::Burns(0) } else { Seen::Bare }
        };
        narrow(&outlines, Some(&mut seen), |_| RADIUS_MM, spot_mm)
    }

    /// However far art reaches, what is narrow is found beside it: looks for it stay few.
    #[test]
    fn what_is_narrow_is_found_beside_what_is_vast() {
        let mut outlines = vec![rect(0.0, 0.0, 5.0, 9.0), rect(5.06, 0.0, 5.0, 9.0)];
        let mut seen = |[turn, s]: Corner| {
            let x = turn * RADIUS_MM;
            let burns = s > 0.0 && s < 9.0 && ((0.0..5.0).contains(&x) || x > 5.06 && x < 10.06);
            if burns { Seen::Burns(0) } else { Seen::Bare }
        };
        let mut told = |outlines: &[Outline]| narrow(outlines, Some(&mut seen), |_| RADIUS_MM, 0.1);
        let alone = told(&outlines);
        assert!(alone.iter().any(|found| found.is_gap), "{alone:?}");
        outlines.push(Outline { piece: None, ..rect(20.0, 0.0, 1e9, 1e9) });
        assert_eq!(told(&outlines), alone);
    }

    #[test]
    fn a_stripe_and_a_slit_are_told_with_their_widths() {
        for upright in [false, true] {
            let turned = |(x, y, w, h): (f64, f64, f64, f64)| {
                if upright { (y, x, h, w) } else { (x, y, w, h) }
            };
            let found = of_rects(&[turned((0.0, 3.0, 5.0, 0.12))], 0.2);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!(!found[0].is_gap && (found[0].width_mm - 0.12).abs() < 1e-9, "{found:?}");
            let slit = [turned((0.0, 0.0, 5.0, 3.0)), turned((0.0, 3.15, 5.0, 3.0))];
            let found = of_rects(&slit, 0.2);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!(found[0].is_gap && (found[0].width_mm - 0.15).abs() < 1e-9, "{found:?}");
            let middle = if upright { found[0].turn_rad * RADIUS_MM } else { found[0].s_mm };
            assert!((middle - 3.075).abs() < 1e-9, "{found:?}");
        }
    }

    #[test]
    fn what_is_as_wide_as_the_spot_and_what_touches_is_not() {
        assert!(of_rects(&[(0.0, 3.0, 5.0, 0.21)], 0.2).is_empty());
        assert!(of_rects(&[(0.0, 0.0, 5.0, 3.0), (0.0, 3.21, 5.0, 3.0)], 0.2).is_empty());
        // Two halves of one square, and a stripe that lies on another shape.
        assert!(of_rects(&[(0.0, 0.0, 5.0, 3.0), (0.0, 3.0, 5.0, 3.0)], 0.2).is_empty());
        assert!(of_rects(&[(0.0, 0.0, 5.0, 3.0), (1.0, 1.0, 3.0, 0.1)], 0.2).is_empty());
    }

    #[test]
    fn a_dot_is_narrow_and_the_tip_of_a_corner_is_not() {
        let dot = of_rects(&[(1.0, 1.0, 0.15, 0.15)], 0.2);
        assert_eq!(dot.len(), 1, "{dot:?}");
        // So is none of a star, whose sides meet at 37 degrees, followed as a line.
        let star = outline(&[(2.0, 6.0), (0.0, 0.0), (-2.0, 6.0), (3.0, 2.0), (-3.0, 2.0)], true);
        assert_eq!(narrow(&[star], None, |_| RADIUS_MM, 0.15), []);
        // An isosceles tip of 53 degrees is narrower than the spot over less than its width.
        let tip = outline(&[(0.0, 0.0), (4.0, 0.0), (2.0, 4.0)], true);
        let mut seen = |[turn, s]: Corner| {
            let x = turn * RADIUS_MM;
            let inside = s > 0.0 && s < 4.0 - 2.0 * (x - 2.0).abs();
            if inside { Seen::Burns(0) } else { Seen::Bare }
        };
        assert!(narrow(&[tip], Some(&mut seen), |_| RADIUS_MM, 0.2).is_empty());
    }

    #[test]
    fn lines_side_by_side_are_gaps_and_crossing_ones_are_not() {
        let line = |from: (f64, f64), to: (f64, f64)| outline(&[from, to], false);
        let found = narrow(
            &[line((0.0, 0.0), (0.0, 9.0)), line((0.1, 0.0), (0.1, 9.0))],
            None,
            |_| RADIUS_MM,
            0.2,
        );
        assert!(found.len() == 1 && found[0].is_gap, "{found:?}");
        assert!((found[0].width_mm - 0.1).abs() < 1e-9, "{found:?}");
        let crossed = [line((0.0, 0.0), (9.0, 9.0)), line((0.0, 9.0), (9.0, 0.0))];
        assert!(narrow(&crossed, None, |_| RADIUS_MM, 0.2).is_empty());
    }

    #[test]
    fn widths_are_those_on_the_wall() {
        // A cone: at half the radius the same angle is half as wide.
        let stripe = |s: f64| Outline {
            corners: [(0.0, 0.0), (0.005, 0.0), (0.005, 3.0), (0.0, 3.0), (0.0, 0.0)]
                .map(|(turn, up)| [turn, s + up])
                .to_vec(),
            piece: Some(0),
        };
        let radius = |s: f64| if s < 10.0 { 40.0 } else { 20.0 };
        let mut seen = |[turn, _]: Corner| {
            if turn > 0.0 && turn < 0.005 { Seen::Burns(0) } else { Seen::Bare }
        };
        let found = narrow(&[stripe(0.0), stripe(20.0)], Some(&mut seen), radius, 0.15);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].width_mm - 0.1).abs() < 1e-9 && found[0].s_mm > 20.0, "{found:?}");
    }
}
