//! The meridian as few points as a picture needs.

use stave_wall::Section;

/// Sections of a meridian, but for those within `tolerance_mm` of a straight line between ones that
/// are kept (Douglas and Peucker's method).
pub(crate) fn thinned(sections: &[(f64, Section)], tolerance_mm: f64) -> Vec<Section> {
    kept(sections, tolerance_mm).into_iter().map(|i| sections[i].1).collect()
}

/// The same with `s`, mm.
pub(crate) fn thinned_with_s(
    sections: &[(f64, Section)],
    tolerance_mm: f64,
) -> Vec<(f64, Section)> {
    kept(sections, tolerance_mm).into_iter().map(|i| sections[i]).collect()
}

fn kept(sections: &[(f64, Section)], tolerance_mm: f64) -> Vec<usize> {
    let Some(last) = sections.len().checked_sub(1) else { return Vec::new() };
    let mut keep = vec![false; sections.len()];
    keep[0] = true;
    keep[last] = true;
    let mut open = vec![(0, last)];
    while let Some((from, to)) = open.pop() {
        let (a, b) = (&sections[from].1, &sections[to].1);
        let (dz, dr) = (b.at_mm - a.at_mm, b.radius_mm - a.radius_mm);
        let length = dz.hypot(dr);
        let off = |i: usize| {
            let (z, r) = (sections[i].1.at_mm - a.at_mm, sections[i].1.radius_mm - a.radius_mm);
            if length > 0.0 { (z * dr - r * dz).abs() / length } else { z.hypot(r) }
        };
        let farthest = (from + 1..to).max_by(|i, j| off(*i).total_cmp(&off(*j)));
        if let Some(i) = farthest.filter(|i| off(*i) > tolerance_mm) {
            keep[i] = true;
            open.extend([(from, i), (i, to)]);
        }
    }
    (0..sections.len()).filter(|i| keep[*i]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_wall::{Station, Wall, WallShape};

    #[test]
    fn corners_stay_and_straights_go() {
        let stations = [(0.0, 20.0), (10.0, 21.0), (20.0, 22.0), (30.0, 30.0)]
            .map(|(at_mm, radius_mm)| Station { at_mm, radius_mm });
        let wall = Wall::from_stations(&stations, WallShape::Straight).unwrap();
        let found = thinned(&wall.sections_between(0.0, wall.length_mm()), 0.01);
        let ats: Vec<f64> = found.iter().map(|section| section.at_mm.round()).collect();
        assert_eq!(ats, [0.0, 20.0, 30.0]);
        assert!(thinned(&[], 1.0).is_empty());
    }
}
