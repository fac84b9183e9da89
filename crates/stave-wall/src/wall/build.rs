//! Making a wall of stations or of a parametric curve.

use super::{Body, End, Station, Wall, WallShape};
use crate::curve::ParametricPoint;
use crate::fit::{Fitter, Tabulated, check_point};
use crate::frustum::Frustum;
use crate::{WallError, monotone};

/// Lengths outside these bounds, mm, would overflow or vanish when squared.
const SIZE_RANGE: std::ops::RangeInclusive<f64> = 1e-100..=1e100;

pub(super) fn from_stations(stations: &[Station], shape: WallShape) -> Result<Wall, WallError> {
    check_stations(stations)?;
    let points: Vec<(f64, f64)> =
        stations.iter().map(|station| (station.at_mm, station.radius_mm)).collect();
    match shape {
        WallShape::Straight => straight(&points),
        WallShape::Smooth => smooth(&points),
    }
}

pub(super) fn parametric(
    curve: &dyn Fn(f64) -> ParametricPoint,
    from: f64,
    to: f64,
) -> Result<Wall, WallError> {
    if !(from.is_finite() && to.is_finite() && from < to) {
        let what = "its range of parameters does not run upwards between finite numbers";
        return Err(WallError::NotAnOutline { parameter: from, what });
    }
    let mut size_mm = 0.0_f64;
    let mut before = f64::NEG_INFINITY;
    for i in 0..=64 {
        let parameter = from + (to - from) * f64::from(i) / 64.0;
        let point = curve(parameter);
        check_point(&point, parameter)?;
        if point.at_mm <= before {
            return Err(WallError::NotAnOutline {
                parameter,
                what: "it does not go on along the axis",
            });
        }
        before = point.at_mm;
        size_mm = size_mm.max(point.at_mm.abs()).max(point.radius_mm);
    }
    if !SIZE_RANGE.contains(&size_mm) {
        return Err(WallError::OutOfRange);
    }
    let mut table = empty_table(curve(from).at_mm);
    Fitter::new(size_mm).add_span(&curve, (from, to), 0, &mut table)?;
    let ends = (curve(from).radius_mm, curve(to).radius_mm);
    Ok(curved(table, vec![0], ends))
}

fn check_stations(stations: &[Station]) -> Result<(), WallError> {
    if stations.len() < 2 {
        return Err(WallError::TooFewStations { count: stations.len() });
    }
    for (i, station) in stations.iter().enumerate() {
        let (number, at_mm, radius_mm) = (i + 1, station.at_mm, station.radius_mm);
        if !at_mm.is_finite() {
            return Err(WallError::NotFinite { number, what: "the place along the axis" });
        } else if !radius_mm.is_finite() {
            return Err(WallError::NotFinite { number, what: "the radius" });
        } else if radius_mm <= 0.0 {
            return Err(WallError::RadiusNotPositive { number, radius_mm });
        } else if !SIZE_RANGE.contains(&radius_mm) || at_mm.abs() > *SIZE_RANGE.end() {
            return Err(WallError::OutOfRange);
        }
        if let Some(before) = i.checked_sub(1).and_then(|before| stations.get(before)) {
            if at_mm <= before.at_mm {
                return Err(WallError::NotIncreasing { number, at_mm, before_mm: before.at_mm });
            } else if at_mm - before.at_mm < *SIZE_RANGE.start() {
                return Err(WallError::OutOfRange);
            }
        }
    }
    Ok(())
}

fn straight(points: &[(f64, f64)]) -> Result<Wall, WallError> {
    let mut frusta = Vec::with_capacity(points.len());
    let (mut s_knots_mm, mut q_knots) = (vec![0.0], vec![0.0]);
    let (mut s_mm, mut q) = (0.0, 0.0);
    for pair in points.windows(2) {
        let (frustum, length, conformal) = Frustum::new(pair[0], pair[1], s_mm, q);
        let before = (s_mm, q);
        s_mm += length;
        q += conformal;
        if !(s_mm > before.0 && q > before.1 && q.is_finite()) {
            return Err(WallError::OutOfRange);
        }
        frusta.push(frustum);
        s_knots_mm.push(s_mm);
        q_knots.push(q);
    }
    let (first, last) = (points[0], points[points.len() - 1]);
    Ok(Wall {
        shape: WallShape::Straight,
        span_ends_mm: s_knots_mm.clone(),
        largest_radius_mm: largest(points),
        at_knots_mm: points.iter().map(|point| point.0).collect(),
        foot: End { s_mm: 0.0, at_mm: first.0, radius_mm: first.1, q: 0.0 },
        head: End { s_mm, at_mm: last.0, radius_mm: last.1, q },
        s_knots_mm,
        q_knots,
        body: Body::Straight(frusta),
    })
}

fn smooth(points: &[(f64, f64)]) -> Result<Wall, WallError> {
    let size_mm = points.iter().fold(largest(points), |size, point| size.max(point.0.abs()));
    let slopes = monotone::slopes(points);
    let fitter = Fitter::new(size_mm);
    let mut table = empty_table(points[0].0);
    let mut first_of_span = Vec::with_capacity(points.len());
    for (span, pair) in points.windows(2).enumerate() {
        first_of_span.push(table.pieces.len());
        let from = (pair[0].0, pair[0].1, slopes[span]);
        let to = (pair[1].0, pair[1].1, slopes[span + 1]);
        let (lower, upper) = monotone::hermite_halves(from, to);
        fitter.add_span(&lower, (0.0, 0.5), span, &mut table)?;
        fitter.add_span(&upper, (-0.5, 0.0), span, &mut table)?;
    }
    let mut wall = curved(table, first_of_span, (points[0].1, points[points.len() - 1].1));
    // A monotone cubic is nowhere wider than its stations.
    wall.largest_radius_mm = largest(points);
    Ok(wall)
}

fn largest(points: &[(f64, f64)]) -> f64 {
    points.iter().fold(0.0, |size, point| size.max(point.1))
}

fn empty_table(at_mm: f64) -> Tabulated {
    Tabulated {
        pieces: Vec::new(),
        s_knots_mm: vec![0.0],
        q_knots: vec![0.0],
        at_knots_mm: vec![at_mm],
    }
}

fn curved(table: Tabulated, first_of_span: Vec<usize>, radii_mm: (f64, f64)) -> Wall {
    let Tabulated { pieces, s_knots_mm, q_knots, at_knots_mm } = table;
    let last = pieces.len();
    let mut span_ends_mm: Vec<f64> = first_of_span.iter().map(|&piece| s_knots_mm[piece]).collect();
    span_ends_mm.push(s_knots_mm[last]);
    let mut largest_radius_mm = radii_mm.0.max(radii_mm.1);
    for (piece, ends) in pieces.iter().zip(s_knots_mm.windows(2)) {
        largest_radius_mm = largest_radius_mm.max(piece.largest_radius_mm(ends[0], ends[1]));
    }
    Wall {
        shape: WallShape::Smooth,
        span_ends_mm,
        largest_radius_mm,
        foot: End { s_mm: 0.0, at_mm: at_knots_mm[0], radius_mm: radii_mm.0, q: 0.0 },
        head: End {
            s_mm: s_knots_mm[last],
            at_mm: at_knots_mm[last],
            radius_mm: radii_mm.1,
            q: q_knots[last],
        },
        s_knots_mm,
        q_knots,
        at_knots_mm,
        body: Body::Curved { pieces, first_of_span },
    }
}
