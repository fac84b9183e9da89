//! Flat patterns of the wall, to cut out of paper and hold against the blank.

use std::f64::consts::PI;

use stave_setup::Blank;
use stave_toolpath::number::fixed;
use stave_wall::{Development, Wall};

use crate::svg::{escaped, mm, path};

/// Room around and between patterns, mm.
const EDGE_MM: f64 = 10.0;
/// Room above a pattern for its name.
const NAME_MM: f64 = 7.0;
/// A chord of a pattern's edge strays from it by less than this, mm.
const CHORD_MM: f64 = 0.005;
const BAR_MM: f64 = 50.0;

/// One span's pattern, its corners in mm of the sheet with y down.
struct Pattern {
    name: String,
    outline: Vec<(f64, f64)>,
    front: [(f64, f64); 2],
    low: (f64, f64),
    high: (f64, f64),
}

/// The developments of a straight wall's frusta, one below the other, in mm that print true, with a
/// bar to check the print.
///
/// Each is cut along turn 180°; the dashed line is turn 0. A pattern whose edges meet around the
/// blank shows that its two diameters and its slant were measured right. `None` for a smooth wall:
/// what is curved both ways has no flat pattern.
///
/// # References
/// E. M. Longfield, *Sheet Metal Drafting* (McGraw-Hill 1921): frustum of a right cone.
///
/// ```
/// let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 70\n";
/// let blank = stave_setup::read_blank(text, "cup.toml")?;
/// let svg = stave_picture::paper(&blank).unwrap();
/// assert!(svg.contains("at 0 to 90 mm"));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn paper(blank: &Blank) -> Option<String> {
    let patterns: Vec<Pattern> = (0..blank.wall.span_count())
        .map(|span| pattern(&blank.wall, span))
        .collect::<Option<_>>()?;
    let width = patterns.iter().map(|p| p.high.0 - p.low.0).fold(BAR_MM, f64::max) + 2.0 * EDGE_MM;
    let height = patterns.iter().map(|p| p.high.1 - p.low.1 + NAME_MM + EDGE_MM).sum::<f64>()
        + 3.0 * EDGE_MM;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 \
         {0} {1}\" fill=\"none\" \
         stroke=\"#000000\" stroke-width=\"0.2\" font-family=\"sans-serif\" \
                  font-size=\"3.5\">\n<title>{2}: flat patterns</title>\n",
        mm(width),
        mm(height),
        escaped(&blank.name)
    );
    let words = |x: f64, y: f64, text: &str| {
        format!(
            "<text x=\"{}\" y=\"{}\" fill=\"#000000\" stroke=\"none\">{}</text>\n",
            mm(x),
            mm(y),
            escaped(text)
        )
    };
    let mut y = EDGE_MM;
    for pattern in &patterns {
        out.push_str(&words(EDGE_MM, y + 4.0, &pattern.name));
        y += NAME_MM;
        let place = |(px, py): (f64, f64)| {
            (0.5 * width + px - 0.5 * (pattern.low.0 + pattern.high.0), y + py - pattern.low.1)
        };
        let outline: Vec<_> = pattern.outline.iter().map(|point| place(*point)).collect();
        out.push_str(&format!("<path class=\"pattern\" d=\"{}\"/>\n", path(&outline, true)));
        out.push_str(&format!(
            "<path stroke-dasharray=\"3 2\" d=\"{}\"/>\n",
            path(&pattern.front.map(place), false)
        ));
        y += pattern.high.1 - pattern.low.1 + EDGE_MM;
    }
    out.push_str(&format!(
        "<path id=\"bar\" stroke-width=\"0.4\" d=\"M{0} {1} v-3 m0 1.5 h{2} m0 -1.5 v3\"/>\n",
        mm(EDGE_MM),
        mm(y + 6.0),
        mm(BAR_MM)
    ));
    out.push_str(&words(
        EDGE_MM + BAR_MM + 4.0,
        y + 6.0,
        "50 mm: if a ruler says otherwise, print at 100 %",
    ));
    out.push_str("</svg>\n");
    Some(out)
}

fn pattern(wall: &Wall, span: usize) -> Option<Pattern> {
    let sheet = Development::of_span(wall, span)?;
    let (from_s, to_s) = (*wall.span_ends_mm().get(span)?, *wall.span_ends_mm().get(span + 1)?);
    let ends = [wall.section_in(span, from_s), wall.section_in(span, to_s)];
    // Seen from outside with the larger `at` up: the sheet's x grows with the turn, which is to the
    // left.
    let point = |s: f64, turn: f64| {
        let (x, y) = sheet.point_mm(s, turn);
        (-x, -y)
    };
    // An edge is an arc of r/|sin φ| and |sin φ| a turn: chords of sagitta k span √(8 k r sin φ)/r
    // of turn.
    let sagging =
        ends.iter().map(|end| end.radius_mm).fold(0.0, f64::max) * ends[0].sin_slope.abs();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let steps = (2.0 * PI * (sagging * ends[0].sin_slope.abs().max(1e-9) / (8.0 * CHORD_MM)).sqrt()
        + 8.0)
        .clamp(8.0, 4000.0) as u32;
    let turn = |k: u32| -PI + 2.0 * PI * f64::from(k) / f64::from(steps);
    let mut outline: Vec<_> = (0..=steps).map(|k| point(from_s, turn(k))).collect();
    outline.extend((0..=steps).rev().map(|k| point(to_s, turn(k))));
    let low =
        outline.iter().fold((f64::INFINITY, f64::INFINITY), |m, p| (m.0.min(p.0), m.1.min(p.1)));
    let high = outline
        .iter()
        .fold((f64::NEG_INFINITY, f64::NEG_INFINITY), |m, p| (m.0.max(p.0), m.1.max(p.1)));
    let name = format!(
        "{}. at {} to {} mm, diameters {} and {} mm, slant {} mm",
        span + 1,
        fixed(ends[0].at_mm, 2),
        fixed(ends[1].at_mm, 2),
        fixed(2.0 * ends[0].radius_mm, 2),
        fixed(2.0 * ends[1].radius_mm, 2),
        fixed(sheet.slant_mm(), 2)
    );
    Some(Pattern { name, outline, front: [point(from_s, 0.0), point(to_s, 0.0)], low, high })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blank(stations: &[(f64, f64)]) -> Blank {
        let text: String = stations
            .iter()
            .map(|(at, d)| format!("[[station]]\nat = {at}\ndiameter = {d}\n"))
            .collect();
        stave_setup::read_blank(&text, "cup.toml").unwrap()
    }

    fn length(points: &[(f64, f64)]) -> f64 {
        points.windows(2).map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1)).sum()
    }

    #[test]
    fn the_edges_are_as_long_as_the_circles_they_go_around() {
        for stations in
            [[(0.0, 66.0), (95.0, 70.0)], [(0.0, 70.0), (6.0, 86.0)], [(0.0, 60.0), (50.0, 60.0)]]
        {
            let pattern = pattern(&blank(&stations).wall, 0).unwrap();
            let half = pattern.outline.len() / 2;
            for (edge, diameter) in [&pattern.outline[..half], &pattern.outline[half..]]
                .iter()
                .zip([stations[0].1, stations[1].1])
            {
                assert!((length(edge) - PI * diameter).abs() < 0.05, "{stations:?}");
            }
            let slant =
                (stations[1].0 - stations[0].0).hypot((stations[1].1 - stations[0].1) / 2.0);
            assert!((length(&pattern.front) - slant).abs() < 1e-9);
        }
    }

    #[test]
    fn every_frustum_has_its_pattern_and_a_curved_wall_none() {
        let svg = paper(&blank(&[(0.0, 66.0), (95.0, 70.0), (101.0, 86.0)])).unwrap();
        assert_eq!(svg.matches("class=\"pattern\"").count(), 2);
        let round = "wall = \"smooth\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = \
                     20\ndiameter = 70\n";
        assert!(paper(&stave_setup::read_blank(round, "ball.toml").unwrap()).is_none());
    }
}
