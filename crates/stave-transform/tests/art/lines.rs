//! Lines: how long, where, and what of them is seen.

use kurbo::{ParamCurve, PathSeg};
use stave_toolpath::StepKind;
use stave_toolpath::art::{Part, Rgb, Rule};
use stave_wall::{Anchor, LayKind};

use crate::bench::{
    Back, NAVY, ROUND, Record, STEPPED, art, burned, filled, lay, line, on_drum, one, setup,
    stroked, window,
};

/// Lengths of paths computed to 30 digits; see fixtures/reference/README.md for the source.
#[test]
fn lengths_agree_with_the_table() {
    let table = std::fs::read_to_string("../../fixtures/reference/D_path_metrics.csv").unwrap();
    let mut checked = 0;
    for row in table.lines().skip(1) {
        let cells: Vec<_> = row.split(',').collect();
        let (d, length): (_, f64) = (cells[1], cells[3].parse().unwrap());
        let drawn = art(vec![stroked(d, NAVY, 0.1)]);
        let (record, figures) = on_drum(&drawn, line(&[one(0, Part::StrokeMiddle)]));
        // Chords are shorter than what they span, by some ten-thousandths at this tolerance.
        assert!(
            (figures.burn_mm / length - 1.0).abs() < 5e-4,
            "{d}: {} for {length}",
            figures.burn_mm
        );
        assert_eq!(record.steps[0].made.kind, StepKind::Travel);
        assert!(record.steps[1..].iter().all(|step| step.made.kind == StepKind::Burn), "{d}");
        checked += 1;
    }
    assert_eq!(checked, 14);
}

#[test]
fn closed_lines_close() {
    let drawn = art(vec![filled("M0 0C0 30 30 30 30 0", NAVY, Rule::NonZero)]);
    let (record, figures) = on_drum(&drawn, line(&[one(0, Part::Outline)]));
    let (first, last) = (record.steps[0].to, record.steps.last().unwrap().to);
    assert_eq!(first, last);
    assert!(figures.burn_mm > 60.0 + 30.0 - 0.1, "the fill's open side is part of its outline");
}

/// Every burned point against the exact image of the outline, and the other way around, in the
/// metric of the wall.
#[test]
fn what_burns_is_the_exact_image() {
    let d = "M0 -15C10 -25 25 -20 30 -5S10 15 25 25L-5 20Z";
    for (blank, place) in [(STEPPED, "86"), (ROUND, "90")] {
        for kind in LayKind::ALL {
            let setup = setup(blank, &[("place-at", place), ("tilt", "2")]);
            let drawn = art(vec![filled(d, NAVY, Rule::NonZero)]);
            let lay = lay(&setup, kind, Anchor::Point { u_mm: 12.0, v_mm: 0.0 });
            let (record, burned) =
                burned(&setup, &drawn, lay.clone(), vec![line(&[one(0, Part::Outline)])]).unwrap();
            let wall = &setup.blank.wall;
            let image: Vec<(f64, f64)> = kurbo::BezPath::from_svg(d)
                .unwrap()
                .segments()
                .flat_map(|segment: PathSeg| {
                    (0..4000).map(move |k| segment.eval(f64::from(k) / 4000.0))
                })
                .map(|p| {
                    let laid = lay.map(wall, p.x, p.y, &mut 0);
                    (laid.s_mm, laid.turn_rad)
                })
                .collect();
            let back = Back::new(&setup);
            let mut points: Vec<(f64, f64)> = Vec::new();
            for burn in record.burns() {
                for k in 0..4 {
                    let t = f64::from(k) / 4.0;
                    let at = |a: f64, b: f64| a + (b - a) * t;
                    points.push((
                        back.s_mm(at(burn.from.0, burn.to.0)),
                        at(burn.from.1, burn.to.1).to_radians(),
                    ));
                }
            }
            for (from, to, every, what) in
                [(&points, &image, 3, "burned"), (&image, &points, 31, "drawn")]
            {
                for p in from.iter().step_by(every) {
                    let radius = wall.section(p.0, &mut 0).radius_mm;
                    let near = (0..to.len()).map(|k| {
                        let (a, b) = (to[k], to[(k + 1) % to.len()]);
                        let ab = (b.0 - a.0, (b.1 - a.1) * radius);
                        let ap = (p.0 - a.0, (p.1 - a.1) * radius);
                        let t =
                            (ab.0 * ap.0 + ab.1 * ap.1) / (ab.0 * ab.0 + ab.1 * ab.1).max(1e-30);
                        let t = t.clamp(0.0, 1.0);
                        (ap.0 - t * ab.0).hypot(ap.1 - t * ab.1)
                    });
                    let near = near.fold(f64::INFINITY, f64::min);
                    assert!(near < 0.0105, "{blank} {kind}: {what} {p:?} lies {near} mm off");
                }
            }
            assert!(burned.stats.chord_error_max_mm <= 0.01);
        }
    }
}

fn lit_length(record: &Record) -> f64 {
    record.burns().map(|b| b.made.length_mm).sum()
}

#[test]
fn only_what_is_seen_burns_and_is_cut_exactly() {
    let mut drawn = art(vec![
        stroked("M0 0H100", NAVY, 0.1),
        filled("M20 -5H35V5H20Z", Rgb::WHITE, Rule::NonZero),
        filled("M80 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z", NAVY, Rule::NonZero),
    ]);
    let (record, figures) = on_drum(&drawn, line(&[one(0, Part::StrokeMiddle)]));
    assert_eq!(figures.paths, 3);
    assert!((lit_length(&record) - 75.0).abs() < 0.01);
    for end in [20.0, 35.0, 80.0, 90.0] {
        let met =
            record.burns().any(|b| (b.from.0 - end).abs() < 0.002 || (b.to.0 - end).abs() < 0.002);
        assert!(met, "an end at {end}");
    }
    drawn.clips = vec![window("M10 -50H50V50H10Z")];
    drawn.shapes[0].clips = vec![0];
    let (record, _) = on_drum(&drawn, line(&[one(0, Part::StrokeMiddle)]));
    assert!((lit_length(&record) - 25.0).abs() < 0.01);
}

#[test]
fn under_many_squares_as_much_is_seen_as_under_few() {
    // A line of three corners, and squares over it in places that no box of it tells apart.
    for squares in [3, 40] {
        let mut shapes = vec![stroked("M0 0H50V10H100", NAVY, 0.1)];
        for k in 0..squares {
            let (left, level) = (2.4 * f64::from(k), if k % 3 == 0 { 10.0 } else { 0.0 });
            let d = format!("M{left} {}h1v1h-1z", level - 0.5);
            shapes.push(filled(&d, Rgb::WHITE, Rule::NonZero));
        }
        let (record, _) = on_drum(&art(shapes), line(&[one(0, Part::StrokeMiddle)]));
        let hides = |k: &i32| (k % 3 == 0) == (2.4 * f64::from(*k) >= 50.0);
        let hidden = f64::from((0..squares).filter(hides).count() as u32);
        assert!((lit_length(&record) - (110.0 - hidden)).abs() < 0.01, "{squares}: {hidden}");
    }
}

#[test]
fn a_line_along_the_edge_of_what_lies_over_it_is_seen() {
    // Neighbours on a map: each covers half of the stroke along their border.
    let drawn = art(vec![
        stroked("M0 0C10 5 20 -5 30 0", NAVY, 0.4),
        filled("M30 0C20 -5 10 5 0 0V20H30Z", Rgb::WHITE, Rule::NonZero),
    ]);
    let (record, figures) = on_drum(&drawn, line(&[one(0, Part::StrokeMiddle)]));
    assert_eq!(figures.paths, 1);
    assert!(lit_length(&record) > 30.0);
    // A shape's own stroke does not hide its outline.
    let mut drawn = art(vec![filled("M0 0H10V10H0Z", NAVY, Rule::NonZero)]);
    drawn.shapes[0].stroke = stroked("M0 0H10V10H0Z", Rgb::default(), 1.0).stroke;
    let (record, _) = on_drum(&drawn, line(&[one(0, Part::Outline)]));
    assert!((lit_length(&record) - 40.0).abs() < 0.01);
}

#[test]
fn order_and_starts_keep_travel_short() {
    // A grid of small squares, drawn in a scattered order.
    let squares: String = (0..64)
        .map(|k| {
            let k = (k * 37) % 64;
            format!("M{} {}h3v3h-3z", 6 * (k % 8), 6 * (k / 8))
        })
        .collect();
    let drawn = art(vec![stroked(&squares, NAVY, 0.1)]);
    let (record, figures) = on_drum(&drawn, line(&[one(0, Part::StrokeMiddle)]));
    assert_eq!(figures.paths, 64);
    assert!(figures.travel_ordered_mm < 0.2 * figures.travel_drawn_mm, "{figures:?}");
    // Four squares meet at a crossing of lanes, 3 mm apart; from one such crossing to the next it
    // is 9 mm: 4.5 mm on average.
    assert!(figures.travel_ordered_mm < 1.15 * 63.0 * 4.5, "{figures:?}");
    assert!((lit_length(&record) - 64.0 * 12.0).abs() < 0.1);
}

#[test]
fn speed_on_the_wall_is_kept() {
    let setup = setup(STEPPED, &[("place-at", "85"), ("tilt", "3")]);
    let drawn = art(vec![stroked("M0 -20L30 20M0 20H30", NAVY, 0.1)]);
    let lay = lay(&setup, LayKind::TrueShape, Anchor::Drawing);
    let (record, _) =
        burned(&setup, &drawn, lay, vec![line(&[one(0, Part::StrokeMiddle)])]).unwrap();
    let back = Back::new(&setup);
    for burn in record.burns() {
        let (s0, s1) = (back.s_mm(burn.from.0), back.s_mm(burn.to.0));
        let radius = setup.blank.wall.section(0.5 * (s0 + s1), &mut 0).radius_mm;
        let length = (s1 - s0).hypot((burn.to.1 - burn.from.1).to_radians() * radius);
        if length > 0.02 {
            assert!((length / burn.made.time_s / 40.0 - 1.0).abs() < 0.012);
        }
    }
}
