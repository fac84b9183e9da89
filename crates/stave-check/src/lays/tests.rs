#![allow(clippy::unwrap_used)]

use std::f64::consts::{PI, TAU};

use stave_wall::{Anchor, Lay, LayKind, LaySetting, Station, Wall, WallShape};

use super::{LaidPiece, LayFigures, Sampled, Wants, advise, lay_figures, overlaps};

fn wall(stations: &[(f64, f64)]) -> Wall {
    let stations: Vec<Station> =
        stations.iter().map(|&(at_mm, d)| Station { at_mm, radius_mm: d / 2.0 }).collect();
    Wall::from_stations(&stations, WallShape::Straight).unwrap()
}

fn lay(wall: &Wall, kind: LayKind, anchor: Anchor) -> Lay {
    let setting = LaySetting {
        kind,
        origin_s_mm: 0.0,
        origin_turn_rad: 0.0,
        reference_radius_mm: wall.largest_radius_mm(),
        anchor,
    };
    Lay::new(wall, setting).unwrap()
}

type Points = Vec<(f64, f64)>;

/// A box as points.
fn sampled(from: (f64, f64), to: (f64, f64)) -> (Points, Points) {
    let at = |k: u32, n: u32, a: f64, b: f64| a + (b - a) * f64::from(k) / f64::from(n);
    let mut outline = Vec::new();
    for k in 0..=80 {
        let (u, v) = (at(k, 80, from.0, to.0), at(k, 80, from.1, to.1));
        outline.extend([(u, from.1), (u, to.1), (from.0, v), (to.0, v)]);
    }
    let inside =
        (0..400).map(|k| (at(k / 20, 20, from.0, to.0), at(k % 20, 20, from.1, to.1))).collect();
    (outline, inside)
}

fn figures(wall: &Wall, kind: LayKind, from: (f64, f64), to: (f64, f64)) -> LayFigures {
    let (outline, inside) = sampled(from, to);
    let centre = Anchor::Point { u_mm: 0.5 * (from.0 + to.0), v_mm: 0.5 * (from.1 + to.1) };
    let piece = Sampled { outline: &outline, inside: &inside, from, to };
    lay_figures(wall, &lay(wall, kind, centre), &piece).unwrap()
}

/// A cone of 2 mm in diameter a 10 mm of length: every figure can be had by hand.
#[test]
fn on_a_cone_the_figures_are_those_by_hand() {
    let cone = wall(&[(0.0, 60.0), (100.0, 80.0)]);
    // The slant is a little longer than the axis, and the radius grows by this a mm of it.
    let grows = 10.0 / 100.0_f64.hypot(10.0);
    let (from, to) = ((40.0, -10.0), (60.0, 10.0));
    let middle = 30.0 + 50.0 * grows;
    let (foot, head) = (30.0 + 40.0 * grows, 30.0 + 60.0 * grows);
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} for {b}");

    let even = figures(&cone, LayKind::EvenAngle, from, to);
    close(even.height_max, 1.0);
    close(
        even.width_max,
        if head / middle - 1.0 > 1.0 - foot / middle { head / middle } else { foot / middle },
    );
    close(even.width_mm, 20.0);
    close(even.widest_mm, 20.0 * head / middle);
    close(even.area_max, even.width_max);
    close(even.lopsided, (head / foot).sqrt());
    close(even.omega_max_rad, 2.0 * ((middle / foot - 1.0) / (middle / foot + 1.0)).abs().asin());

    let width = figures(&cone, LayKind::TrueWidth, from, to);
    close(width.width_max, 1.0);
    close(width.area_max, 1.0);
    close(width.widest_mm, 20.0);
    // At the corner by the foot a level line is sheared by v sin(slope)/r.
    let shear = 10.0 * grows / foot;
    close(width.omega_max_rad, 2.0 * (shear / shear.hypot(2.0)).asin());
    close(width.height_max, 1.0_f64.hypot(shear));

    let shape = figures(&cone, LayKind::TrueShape, from, to);
    assert!(shape.omega_max_rad < 1e-7 && shape.omega_mean_rad < 1e-7, "{shape:?}");
    close(shape.width_max, shape.height_max);

    // A cone unrolls: a label loses nothing.
    let label = figures(&cone, LayKind::Label, from, to);
    assert!(label.omega_max_rad < 1e-6 && label.size_change() < 1e-9, "{label:?}");
    assert!(even.omega_mean_rad > 0.0 && even.omega_mean_rad < even.omega_max_rad);
    assert_eq!(even.closes(), None);
}

#[test]
fn a_full_wrap_closes_by_equal_angles_and_gapes_by_true_widths() {
    let can = wall(&[(0.0, 80.0), (100.0, 80.0)]);
    let half = PI * 40.0;
    let around = |wall: &Wall, kind| {
        let (outline, inside) = sampled((10.0, -half), (90.0, half));
        let piece =
            Sampled { outline: &outline, inside: &inside, from: (10.0, -half), to: (90.0, half) };
        lay_figures(wall, &lay(wall, kind, Anchor::Drawing), &piece).unwrap()
    };
    for kind in [LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape] {
        assert_eq!(around(&can, kind).closes(), Some(true), "{kind}");
    }
    let cone = wall(&[(0.0, 60.0), (100.0, 80.0)]);
    for (kind, closes) in
        [(LayKind::EvenAngle, true), (LayKind::TrueShape, true), (LayKind::TrueWidth, false)]
    {
        assert_eq!(around(&cone, kind).closes(), Some(closes), "{kind}");
    }
    // Where the cone is narrow the drawing's width overlaps itself.
    let radius = 30.0 + 10.0 * 10.0 / 100.0_f64.hypot(10.0);
    let overlap = around(&cone, LayKind::TrueWidth).seam_mm.unwrap();
    assert!((overlap + 2.0 * half - TAU * radius).abs() < 1e-9, "{overlap}");
}

#[test]
fn advice_goes_by_what_a_piece_wants() {
    let all = |wall: &Wall, from, to| -> Vec<(LayKind, LayFigures)> {
        LayKind::ALL.into_iter().map(|kind| (kind, figures(wall, kind, from, to))).collect()
    };
    let can = wall(&[(0.0, 80.0), (100.0, 80.0)]);
    let mark = ((40.0, -10.0), (60.0, 10.0));
    let advice = advise(Wants::of(20.0, 20.0, false), &all(&can, mark.0, mark.1)).unwrap();
    assert_eq!(advice.best, LayKind::TrueWidth);
    insta::assert_snapshot!(advice.why, @"the wall hardly changes under it: every lay does");

    let step = wall(&[(0.0, 66.0), (40.0, 70.0), (50.0, 86.0), (100.0, 88.0)]);
    let lays = all(&step, (30.0, -10.0), (50.0, 10.0));
    let advice = advise(Wants::of(20.0, 20.0, false), &lays).unwrap();
    assert_eq!(advice.best, LayKind::TrueShape);
    insta::assert_snapshot!(advice.why, @"it is about as wide as high, and a round mark wants its \
                                          angles. Nothing is free here: true-shape costs least, \
                                          but it comes out up to 19.4 % larger in places");
    // Long text on a gentle slope: true widths would shear it at its ends, by 3 degrees.
    let lays = all(&step, (15.0, -40.0), (25.0, 40.0));
    let advice = advise(Wants::of(10.0, 80.0, false), &lays).unwrap();
    assert_eq!(advice.best, LayKind::EvenAngle);
    insta::assert_snapshot!(advice.why, @"it is longer than it is broad, as text is, and wants \
                                          level lines and true widths; even-angle loses next to \
                                          nothing");
    assert_eq!(advise(Wants::Angles, &[]), None);
    // On a cone a label strays by nothing, which the figures show: why it is not taken is said.
    let cone = wall(&[(0.0, 60.0), (100.0, 80.0)]);
    let lays = all(&cone, (40.0, -20.0), (60.0, 20.0));
    let advice = advise(Wants::of(20.0, 40.0, false), &lays).unwrap();
    assert_eq!(advice.best, LayKind::TrueWidth);
    insta::assert_snapshot!(advice.why, @"it is longer than it is broad, as text is, and wants \
                                          level lines and true widths: true-width costs least, \
                                          but angles are off by up to 3.4°; a label strays less, \
                                          but its lines would not be level");
}

#[test]
fn pieces_that_come_to_lie_over_each_other_are_found() {
    let square = |s: f64, turn: f64, v: f64| LaidPiece {
        outlines: vec![vec![
            (s, turn),
            (s + 10.0, turn),
            (s + 10.0, turn + 0.3),
            (s, turn + 0.3),
            (s, turn),
        ]],
        drawn: ((s, v), (s + 10.0, v + 9.0)),
    };
    let apart = [square(0.0, 0.0, 0.0), square(0.0, 0.4, 10.0)];
    assert_eq!(overlaps(&apart), []);
    let over = [square(0.0, 0.0, 0.0), square(5.0, 0.2, 10.0)];
    let found = overlaps(&over);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].pieces, (0, 1));
    let (s, turn) = (found[0].s_mm, found[0].turn_rad);
    assert!((4.999..10.001).contains(&s) && (0.199..0.301).contains(&turn), "{s} {turn}");
    // The same a turn further on.
    assert_eq!(overlaps(&[square(0.0, 0.0, 0.0), square(5.0, 0.2 - 2.0 * TAU, 10.0)]).len(), 1);
    // What was drawn over another may lie over it.
    assert_eq!(overlaps(&[square(0.0, 0.0, 0.0), square(5.0, 0.2, 5.0)]), []);
}

/// What closes comes first; where nothing does, the seam that is off by least.
#[test]
fn a_piece_all_round_is_advised_by_its_seam() {
    let cone = wall(&[(0.0, 70.0), (100.0, 80.0)]);
    let half = 1.02 * PI * 40.0;
    let (from, to) = ((60.0, -half), (95.0, half));
    let (outline, inside) = sampled(from, to);
    let piece = Sampled { outline: &outline, inside: &inside, from, to };
    let lays: Vec<(LayKind, LayFigures)> =
        [LayKind::TrueWidth, LayKind::EvenAngle, LayKind::TrueShape]
            .into_iter()
            .map(|kind| (kind, lay_figures(&cone, &lay(&cone, kind, Anchor::Drawing), &piece)))
            .filter_map(|(kind, figures)| Some((kind, figures?)))
            .collect();
    assert!(lays.iter().all(|(_, figures)| figures.closes() == Some(false)));
    let best = advise(Wants::Closure, &lays).unwrap().best;
    let seam = |kind: LayKind| {
        let (_, figures) = lays.iter().find(|(one, _)| *one == kind).unwrap();
        figures.seam_mm.unwrap().abs()
    };
    assert!(seam(LayKind::TrueWidth) > 1.5 * seam(LayKind::EvenAngle));
    assert!(lays.iter().all(|(kind, _)| seam(best) <= 1.03 * seam(*kind)), "{best}");
}

/// Of seams that are as wide, the one of the lay that strays least: a thin band all round a cone
/// closes by no lay, and true widths would shear it besides.
#[test]
fn where_seams_are_as_wide_the_least_distortion_is_advised() {
    let cone = wall(&[(0.0, 70.0), (100.0, 90.0)]);
    let half = 1.05 * PI * 40.0;
    for high in [0.2, 1.0, 1.5, 2.5] {
        let (from, to) = ((50.0, -half), (50.0 + high, half));
        let lays = [LayKind::TrueWidth, LayKind::EvenAngle, LayKind::TrueShape]
            .map(|kind| (kind, figures(&cone, kind, from, to)));
        assert!(lays.iter().all(|(_, figures)| figures.closes() == Some(false)));
        let best = advise(Wants::Closure, &lays).unwrap().best;
        assert_eq!(best, LayKind::EvenAngle, "{high}");
    }
}

/// A height that grows along its way: as long as the meridian between the places of its ends.
#[test]
fn a_height_is_as_long_as_its_meridian() {
    let cone = wall(&[(0.0, 50.0), (100.0, 90.0)]);
    for kind in [LayKind::EvenAngle, LayKind::TrueShape] {
        let lay = lay(&cone, kind, Anchor::Drawing);
        let (outline, inside) = sampled((5.0, -4.0), (60.0, 4.0));
        let piece =
            Sampled { outline: &outline, inside: &inside, from: (5.0, -4.0), to: (60.0, 4.0) };
        let found = lay_figures(&cone, &lay, &piece).unwrap().height_mm;
        let s = |u: f64| lay.map(&cone, u, 0.0, &mut 0).s_mm;
        let expected = s(60.0) - s(5.0);
        assert!((found - expected).abs() < 1e-4 * expected, "{kind}: {found} for {expected}");
    }
}
