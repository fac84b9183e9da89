//! Pieces that come to lie over each other once they are laid.

use std::f64::consts::TAU;

/// The outlines of a piece on the wall: each a line of places `(s, turn)`, mm and rad.
#[derive(Clone, Debug, Default)]
pub struct LaidPiece {
    /// Its outlines. An area's outline is closed.
    pub outlines: Vec<Vec<(f64, f64)>>,
    /// Where it was drawn, mm in the flat plane: from and to. Pieces that were drawn over each
    /// other may stay so.
    pub drawn: ((f64, f64), (f64, f64)),
}

/// Two pieces that lie over each other though they were drawn apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overlap {
    /// Which, indices into what was given.
    pub pieces: (usize, usize),
    /// Where they cross: length along the meridian, mm.
    pub s_mm: f64,
    /// Where: turn, rad.
    pub turn_rad: f64,
}

/// The pairs of pieces that cross on the wall though their boxes were drawn apart; one place for
/// each.
///
/// A piece that comes to lie wholly within another crosses nothing: pieces so different in size are
/// drawn within each other on purpose.
#[must_use]
pub fn overlaps(pieces: &[LaidPiece]) -> Vec<Overlap> {
    let boxes: Vec<Option<Box2>> =
        pieces.iter().map(|piece| Box2::around(piece.outlines.iter().flatten())).collect();
    let mut found = Vec::new();
    for (i, one) in pieces.iter().enumerate() {
        for (j, other) in pieces.iter().enumerate().skip(i + 1) {
            let (Some(a), Some(b)) = (boxes[i], boxes[j]) else { continue };
            if meet(one.drawn, other.drawn) {
                continue;
            }
            // A turn further on it is the same wall.
            let first = ((a.from.1 - b.to.1) / TAU).ceil();
            let last = ((a.to.1 - b.from.1) / TAU).floor();
            let mut turns = first;
            while turns <= last {
                if let Some((s_mm, turn_rad)) = crossing(one, other, turns * TAU, a, b) {
                    found.push(Overlap { pieces: (i, j), s_mm, turn_rad });
                    break;
                }
                turns += 1.0;
            }
        }
    }
    found
}

#[derive(Clone, Copy, Debug)]
struct Box2 {
    from: (f64, f64),
    to: (f64, f64),
}

impl Box2 {
    fn around<'p>(points: impl Iterator<Item = &'p (f64, f64)>) -> Option<Box2> {
        points.fold(None, |so_far, &(s, turn)| {
            let b = so_far.unwrap_or(Box2 { from: (s, turn), to: (s, turn) });
            Some(Box2 {
                from: (b.from.0.min(s), b.from.1.min(turn)),
                to: (b.to.0.max(s), b.to.1.max(turn)),
            })
        })
    }
}

fn meet(a: ((f64, f64), (f64, f64)), b: ((f64, f64), (f64, f64))) -> bool {
    a.0.0 <= b.1.0 && b.0.0 <= a.1.0 && a.0.1 <= b.1.1 && b.0.1 <= a.1.1
}

/// Where the outlines of two pieces cross, the second shifted around.
fn crossing(
    one: &LaidPiece,
    other: &LaidPiece,
    shift: f64,
    a: Box2,
    b: Box2,
) -> Option<(f64, f64)> {
    let shared = (
        (a.from.0.max(b.from.0), a.from.1.max(b.from.1 + shift)),
        (a.to.0.min(b.to.0), a.to.1.min(b.to.1 + shift)),
    );
    let near = |p: (f64, f64), q: (f64, f64)| {
        let span = ((p.0.min(q.0), p.1.min(q.1)), (p.0.max(q.0), p.1.max(q.1)));
        meet(span, shared)
    };
    let mut mine: Vec<((f64, f64), (f64, f64))> = Vec::new();
    for line in &one.outlines {
        mine.extend(line.windows(2).map(|w| (w[0], w[1])).filter(|(p, q)| near(*p, *q)));
    }
    // By where they begin along the meridian, so that few pairs are looked at.
    mine.sort_by(|(p, q), (r, t)| p.0.min(q.0).total_cmp(&r.0.min(t.0)));
    let longest = mine.iter().map(|(p, q)| (p.0 - q.0).abs()).fold(0.0, f64::max);
    for line in &other.outlines {
        for w in line.windows(2) {
            let (r, t) = ((w[0].0, w[0].1 + shift), (w[1].0, w[1].1 + shift));
            if !near(r, t) {
                continue;
            }
            let (low, high) = (r.0.min(t.0), r.0.max(t.0));
            let from = mine.partition_point(|(p, q)| p.0.min(q.0) < low - longest);
            for &(p, q) in mine[from..].iter().take_while(|(p, q)| p.0.min(q.0) <= high) {
                if let Some(place) = cross(p, q, r, t) {
                    return Some(place);
                }
            }
        }
    }
    None
}

/// Where two straight lines cross, if they do between their ends.
fn cross(p: (f64, f64), q: (f64, f64), r: (f64, f64), t: (f64, f64)) -> Option<(f64, f64)> {
    let (d, e) = ((q.0 - p.0, q.1 - p.1), (t.0 - r.0, t.1 - r.1));
    let determinant = d.0 * e.1 - d.1 * e.0;
    if determinant == 0.0 {
        return None;
    }
    let (x, y) = (r.0 - p.0, r.1 - p.1);
    let along = (x * e.1 - y * e.0) / determinant;
    let other = (x * d.1 - y * d.0) / determinant;
    ((0.0..=1.0).contains(&along) && (0.0..=1.0).contains(&other))
        .then_some((p.0 + along * d.0, p.1 + along * d.1))
}
