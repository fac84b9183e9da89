//! Walls and lays against closed forms and their own inverses.

use proptest::prelude::*;
use stave_tests::cases;
use stave_wall::{
    Anchor, Distortion, Lay, LayKind, LaySetting, ParametricPoint, Station, Wall, WallError,
    WallShape,
};

const FLAT_LAYS: [LayKind; 3] = [LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape];

fn stations(points: &[(f64, f64)]) -> Vec<Station> {
    points.iter().map(|&(at_mm, radius_mm)| Station { at_mm, radius_mm }).collect()
}

fn wall(points: &[(f64, f64)], shape: WallShape) -> Wall {
    Wall::from_stations(&stations(points), shape).expect("sound stations")
}

fn setting(kind: LayKind, anchor: Anchor) -> LaySetting {
    LaySetting { kind, origin_s_mm: 20.0, origin_turn_rad: 0.3, reference_radius_mm: 36.0, anchor }
}

/// Walls of every character: cans, cups, bottles with steep and gentle steps.
fn any_points() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let step = (
        prop_oneof![0.5..40.0f64, 1e-4..0.5f64],
        prop_oneof![10.0..60.0f64, Just(30.0f64), (-1e-9..1e-9f64).prop_map(|tiny| 30.0 + tiny)],
    );
    (-50.0..50.0f64, proptest::collection::vec(step, 2..8)).prop_map(|(start, steps)| {
        let mut at = start;
        steps
            .into_iter()
            .map(|(rise, radius)| {
                at += rise;
                (at, radius)
            })
            .collect()
    })
}

fn any_wall() -> impl Strategy<Value = Wall> {
    (any_points(), prop_oneof![Just(WallShape::Straight), Just(WallShape::Smooth)])
        .prop_map(|(points, shape)| wall(&points, shape))
}

#[test]
fn a_faulty_station_is_named_with_its_remedy() {
    let fault = |points: &[(f64, f64)]| {
        Wall::from_stations(&stations(points), WallShape::Smooth).unwrap_err()
    };
    assert_eq!(fault(&[(0.0, 3.0)]), WallError::TooFewStations { count: 1 });
    assert!(matches!(
        fault(&[(0.0, 3.0), (f64::NAN, 3.0)]),
        WallError::NotFinite { number: 2, .. }
    ));
    assert!(matches!(
        fault(&[(0.0, 0.0), (1.0, 3.0)]),
        WallError::RadiusNotPositive { number: 1, .. }
    ));
    assert!(matches!(fault(&[(0.0, 1.0), (1e300, 3.0)]), WallError::OutOfRange));
    let text = fault(&[(0.0, 1.0), (5.0, 1.0), (5.0, 2.0)]).to_string();
    assert_eq!(
        text,
        "station 3 is at 5 mm, not beyond the one before it at 5 mm: list the stations by \
         strictly increasing \
         distance along the axis"
    );
}

#[test]
fn no_input_makes_a_point_panic() {
    let wall = wall(&[(0.0, 30.0), (10.0, 30.0), (20.0, 40.0)], WallShape::Smooth);
    for kind in FLAT_LAYS {
        let lay = Lay::new(&wall, setting(kind, Anchor::Drawing)).unwrap();
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, -f64::MAX, 0.0] {
            for hint in [0, 1, usize::MAX] {
                let laid = lay.map(&wall, value, value, &mut { hint });
                assert_eq!(laid.s_mm.is_nan(), value.is_nan());
                let _ = lay.jacobian(&wall, value, value);
            }
        }
    }
}

#[test]
fn past_the_ends_the_wall_is_a_cylinder() {
    let wall = wall(&[(5.0, 30.0), (45.0, 60.0)], WallShape::Straight);
    let below = wall.section(-7.0, &mut 0);
    assert_eq!(
        (below.at_mm, below.radius_mm, below.cos_slope, below.sin_slope),
        (-2.0, 30.0, 1.0, 0.0)
    );
    let above = wall.section(60.0, &mut 0);
    assert_eq!(
        (above.at_mm, above.radius_mm, above.cos_slope, above.sin_slope),
        (55.0, 60.0, 1.0, 0.0)
    );
    assert_eq!((wall.s_of_at(-2.0), wall.s_of_at(55.0)), (-7.0, 60.0));
    assert!((wall.conformal(60.0) - wall.conformal(50.0) - 10.0 / 60.0).abs() < 1e-15);
}

#[test]
fn both_sides_of_a_station_can_be_asked_for() {
    for shape in [WallShape::Straight, WallShape::Smooth] {
        let wall = wall(&[(0.0, 30.0), (10.0, 30.0), (13.0, 34.0)], shape);
        let s_mm = wall.span_ends_mm()[1];
        let (below, above) = (wall.section_in(0, s_mm), wall.section_in(1, s_mm));
        assert!((below.radius_mm - above.radius_mm).abs() < 1e-11);
        assert!(below.sin_slope.abs() < 1e-10);
        if shape == WallShape::Straight {
            assert!((above.sin_slope - 0.8).abs() < 1e-15);
        }
    }
}

#[test]
fn a_near_cylinder_keeps_its_digits() {
    // ∫ds/r over a nearly straight run, from the series L/r (1 − x/2 + x²/3 − x³/4), x = Δr/r.
    for widen in [0.0, 1e-14, 1e-10, 1e-7, 1e-5] {
        let wall = wall(&[(0.0, 30.0), (100.0, 30.0 + widen)], WallShape::Straight);
        let x = (30.0 + widen - 30.0) / 30.0;
        let expected = wall.length_mm() / 30.0 * (1.0 - x / 2.0 + x * x / 3.0 - x * x * x / 4.0);
        assert!((wall.conformal(wall.length_mm()) / expected - 1.0).abs() < 4e-16, "{widen}");
    }
}

#[test]
fn a_parametric_curve_must_be_an_outline() {
    let point = |at_mm: f64, radius_mm: f64| ParametricPoint {
        at_mm,
        radius_mm,
        at_rate: 1.0,
        radius_rate: 0.0,
    };
    assert!(matches!(
        Wall::parametric(&|p| point(p, 1.0 - p), 0.0, 2.0),
        Err(WallError::NotAnOutline { what: "the radius is not above 0", .. })
    ));
    assert!(Wall::parametric(&|p| point(-p, 1.0), 0.0, 2.0).is_err());
    assert!(Wall::parametric(&|p| point(p, 1.0), 2.0, 0.0).is_err());
    // Nor may the parameter run backwards where the outline would run on.
    assert!(Wall::parametric(&|p| point(-p, 1.0), 2.0, 0.0).is_err());
    assert!(Wall::parametric(&|p| point(p, 1.0), f64::NEG_INFINITY, 0.0).is_err());
    assert!(Wall::parametric(&|p| point(p, 1.0), 0.0, f64::NAN).is_err());
    let rough = |p: f64| ParametricPoint { radius_rate: (p * 1e9).sin(), ..point(p, 2.0) };
    assert!(matches!(Wall::parametric(&rough, 0.0, 100.0), Err(WallError::Unresolved { .. })));
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn s_and_at_undo_each_other(wall in any_wall(), share in 0.0..1.0f64) {
        let (low, high) = wall.at_range_mm();
        let at_mm = low + share * (high - low);
        prop_assert!((wall.at_of_s(wall.s_of_at(at_mm)) - at_mm).abs() < 1e-9);
        // On a steep run many s share one `at` to the last digit, so the error of s is weighed by
        // the slope.
        let s_mm = share * wall.length_mm();
        let section = wall.section(s_mm, &mut 0);
        let back = wall.s_of_at(section.at_mm);
        prop_assert!((back - s_mm).abs() * section.cos_slope.max(1e-6) < 1e-9, "{back} {s_mm}");
    }

    #[test]
    fn the_section_is_one_and_the_same_from_every_hint(
        wall in any_wall(),
        share in -0.2..1.2f64,
        hint in 0usize..99,
    ) {
        let s_mm = share * wall.length_mm();
        prop_assert_eq!(wall.section(s_mm, &mut 0), wall.section(s_mm, &mut { hint }));
        prop_assert_eq!(wall.span_of(s_mm, 0), wall.span_of(s_mm, hint));
    }

    #[test]
    fn sine_and_cosine_belong_together(wall in any_wall(), share in 0.0..1.0f64) {
        let section = wall.section(share * wall.length_mm(), &mut 0);
        prop_assert!((section.sin_slope.hypot(section.cos_slope) - 1.0).abs() < 1e-7);
    }

    #[test]
    fn conformal_length_undoes_itself(wall in any_wall(), share in -0.3..1.3f64) {
        let s_mm = share * wall.length_mm();
        prop_assert!((wall.s_of_conformal(wall.conformal(s_mm)) - s_mm).abs() < 1e-9);
    }

    #[test]
    fn a_smooth_wall_goes_through_its_stations_and_makes_no_bump(points in any_points()) {
        let wall = wall(&points, WallShape::Smooth);
        for (span, pair) in points.windows(2).enumerate() {
            let (low, high) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
            let (from, to) = (wall.span_ends_mm()[span], wall.span_ends_mm()[span + 1]);
            prop_assert!((wall.section(from, &mut 0).radius_mm - pair[0].1).abs() < 1e-9);
            let mut before = pair[0].1;
            for i in 0..=40 {
                let radius =
                    wall.section_in(span, from + (to - from) * f64::from(i) / 40.0).radius_mm;
                prop_assert!(radius > low - 1e-9 && radius < high + 1e-9);
                prop_assert!((radius - before) * (pair[1].1 - pair[0].1).signum() > -1e-9);
                before = radius;
            }
        }
    }

    #[test]
    fn every_lay_undoes_itself(
        wall in any_wall(),
        u_mm in -20.0..60.0f64,
        v_mm in -200.0..200.0f64,
        hint in 0usize..20,
        anchor in prop_oneof![
            Just(Anchor::Drawing),
            (-10.0..40.0f64, -50.0..50.0f64).prop_map(|(u_mm, v_mm)| Anchor::Point { u_mm, v_mm }),
        ],
    ) {
        for kind in FLAT_LAYS {
            let lay = Lay::new(&wall, setting(kind, anchor)).unwrap();
            let laid = lay.map(&wall, u_mm, v_mm, &mut { hint });
            prop_assert_eq!(laid, lay.map(&wall, u_mm, v_mm, &mut 0));
            let (u_back, v_back) = lay.flat(&wall, laid.s_mm, laid.turn_rad).unwrap();
            prop_assert!(
                (u_back - u_mm).abs() < 1e-8 && (v_back - v_mm).abs() < 1e-8,
                "{kind} \
                {u_back} {v_back}"
            );
        }
    }

    #[test]
    fn the_jacobian_is_the_derivative_of_the_map(
        wall in any_wall(),
        u_mm in -20.0..60.0f64,
        v_mm in -200.0..200.0f64,
    ) {
        for kind in FLAT_LAYS {
            let lay =
                Lay::new(&wall, setting(kind, Anchor::Point { u_mm: 8.0, v_mm: -5.0 })).unwrap();
            let here = lay.map(&wall, u_mm, v_mm, &mut 0);
            let step = 1e-5;
            // Only where the wall is smooth over the step: not across a station or a sharp turn of
            // a cubic.
            let low = lay.map(&wall, u_mm - step, v_mm, &mut 0);
            let high = lay.map(&wall, u_mm + step, v_mm, &mut 0);
            prop_assume!((low.section.sin_slope - high.section.sin_slope).abs() < 1e-4);
            let left = lay.map(&wall, u_mm, v_mm - step, &mut 0);
            let right = lay.map(&wall, u_mm, v_mm + step, &mut 0);
            let radius = here.section.radius_mm;
            let numeric = [
                [(high.s_mm - low.s_mm) / (2.0 * step), (right.s_mm - left.s_mm) / (2.0 * step)],
                [
                    radius * (high.turn_rad - low.turn_rad) / (2.0 * step),
                    radius * (right.turn_rad - left.turn_rad) / (2.0 * step),
                ],
            ];
            let analytic = lay.jacobian(&wall, u_mm, v_mm);
            for (row, expected) in numeric.iter().zip(analytic) {
                for (value, expected) in row.iter().zip(expected) {
                    prop_assert!(
                        (value - expected).abs() < 2e-4 * (1.0 + expected.abs()),
                        "{kind} {numeric:?} {analytic:?}"
                    );
                }
            }
            let distortion = Distortion::of_jacobian(analytic);
            prop_assert!(distortion.is_finite());
            match kind {
                LayKind::TrueWidth => prop_assert!((distortion.area - 1.0).abs() < 1e-12),
                LayKind::TrueShape => prop_assert!(distortion.omega_rad.abs() < 1e-7),
                _ => prop_assert!(
                    (distortion.area
                        - radius / lay.map(&wall, 8.0, -5.0, &mut 0).section.radius_mm)
                        .abs()
                        < 1e-12
                ),
            }
        }
    }
}
