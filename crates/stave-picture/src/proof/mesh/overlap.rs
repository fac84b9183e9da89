//! Where an area is burned by more than its own lines: once more across, or by another operation.

use std::f64::consts::TAU;

use stave_wall::Wall;

use super::super::burn_map::BurnMap;
use super::triangles::Triangles;

/// More than this many times what its own lines burn is burned again.
const MORE: f64 = 1.25;
/// Less than this is the edge of the area, where cells are burned in part.
const EDGE: f64 = 0.5;
/// How far about a place is looked, mm: what is narrower, such as a line over an area, is drawn on
/// top of it with its own energy.
const ABOUT_MM: f64 = 0.3;
/// A look a mm², and the most of them for an area.
const LOOK_MM: f64 = 1.0;
const MOST_LOOKS: f64 = 4000.0;
/// Shares of an area that count as none and all of it.
const NONE: f64 = 0.03;
const ALL: f64 = 0.9;

/// How much of an area is burned again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Again {
    /// It is too small to tell.
    Small,
    /// None of it.
    Nowhere,
    /// All of it, so many times as strongly.
    All(f64),
    /// Parts of it: no energy is right for all.
    Parts,
}

/// How much of the triangles from a number on is burned again, by a look at the map: it holds the
/// energy of all that burns.
pub(crate) fn again(triangles: &Triangles, from: usize, wall: &Wall, map: &BurnMap) -> Again {
    let corner = |k: u32| {
        let at = usize::try_from(k).ok().and_then(|k| triangles.vertices.get(k));
        at.map(|corner| [corner.s_mm, corner.turn_rad, corner.density])
    };
    let mut hint = 0;
    let threes: Vec<([[f64; 3]; 3], f64, f64)> = triangles
        .indices
        .get(from..)
        .unwrap_or_default()
        .chunks_exact(3)
        .filter_map(|three| {
            let (a, b, c) = (corner(three[0])?, corner(three[1])?, corner(three[2])?);
            let radius_mm = wall.section((a[0] + b[0] + c[0]) / 3.0, &mut hint).radius_mm;
            let side = |to: [f64; 3]| (to[0] - a[0], (to[1] - a[1]) * radius_mm);
            let ((x1, y1), (x2, y2)) = (side(b), side(c));
            Some(([a, b, c], radius_mm, 0.5 * (x1 * y2 - x2 * y1).abs()))
        })
        .collect();
    let whole: f64 = threes.iter().map(|(_, _, area)| area).sum();
    let look_mm2 = (whole / MOST_LOOKS).max(LOOK_MM * LOOK_MM);
    let (mut inside, mut more, mut sum) = (0.0, 0.0, 0.0);
    for (three, radius_mm, area) in &threes {
        // As many along each side as give that many in the area; its middle at the least.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let count = (2.0 * area / look_mm2).sqrt().ceil().clamp(1.0, 100.0) as u32;
        let share = |k: u32| (f64::from(k) + 1.0 / 3.0) / f64::from(count);
        for i in 0..count {
            for j in 0..count - i {
                let (p, q) = (share(i), share(j));
                let mix = |k: usize| {
                    three[0][k] + p * (three[1][k] - three[0][k]) + q * (three[2][k] - three[0][k])
                };
                let (s_mm, turn_rad, own) = (mix(0), mix(1), mix(2));
                let by = |ds: f64, dt: f64| {
                    about(map, s_mm + ds * ABOUT_MM, turn_rad + dt * ABOUT_MM / radius_mm) / own
                };
                let looks =
                    [by(0.0, 0.0), by(1.0, 0.0), by(-1.0, 0.0), by(0.0, 1.0), by(0.0, -1.0)];
                let least = looks.into_iter().fold(f64::INFINITY, f64::min);
                if least >= EDGE {
                    inside += 1.0;
                    if least > MORE {
                        more += 1.0;
                        sum += looks[0];
                    }
                }
            }
        }
    }
    if inside == 0.0 {
        return Again::Small;
    }
    match more / inside {
        share if share <= NONE => Again::Nowhere,
        share if share >= ALL => Again::All(sum / more),
        _ => Again::Parts,
    }
}

/// Energy for a mm² about a place: the mean of nine cells, so that no stripe of a hatch counts.
fn about(map: &BurnMap, s_mm: f64, turn_rad: f64) -> f64 {
    let (_, columns) = map.size();
    let (row_mm, column_rad) = (map.row_mm(), TAU / columns as f64);
    let cells = (0..9).filter_map(|k| {
        let (i, j) = (f64::from(k % 3) - 1.0, f64::from(k / 3) - 1.0);
        map.cell(s_mm + i * row_mm, turn_rad + j * column_rad)
    });
    cells.map(|cell| map.density(cell)).sum::<f64>() / 9.0
}
