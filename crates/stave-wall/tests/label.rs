//! The label lay against itself: shortest ways, room, inverse, Jacobian.

use proptest::prelude::*;
use stave_tests::cases;
use stave_wall::{
    Anchor, Distortion, LabelLimit, Lay, LayError, LayKind, LaySetting, Station, Wall, WallShape,
};

/// A lay whose flat origin is at `s` and turn 0, true in size at the given radius.
fn lay_from(wall: &Wall, kind: LayKind, origin_s_mm: f64, reference_radius_mm: f64) -> Lay {
    let setting = LaySetting {
        kind,
        origin_s_mm,
        origin_turn_rad: 0.0,
        reference_radius_mm,
        anchor: Anchor::Drawing,
    };
    Lay::new(wall, setting).expect("a sound lay")
}

/// Fails unless two numbers agree within a tolerance.
#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: found {found}, expected {expected} within {tolerance}"
    );
}

fn label(wall: &Wall, anchor_s_mm: f64) -> Lay {
    lay_from(wall, LayKind::Label, anchor_s_mm, 50.0)
}

fn wall(points: &[(f64, f64)], shape: WallShape) -> Wall {
    let stations: Vec<Station> =
        points.iter().map(|&(at_mm, radius_mm)| Station { at_mm, radius_mm }).collect();
    Wall::from_stations(&stations, shape).expect("sound stations")
}

/// Over an edge between two cones the geodesic is the shortest way: no other crossing of the edge
/// makes the sum of both unrolled chords shorter. The chords are the law of cosines on the sheet
/// (sheet-metal development).
#[test]
fn over_an_edge_the_way_is_shortest() {
    let points = [(0.0, 40.0), (30.0, 36.0), (45.0, 22.0)];
    let stack = wall(&points, WallShape::Straight);
    let lay = label(&stack, 12.0);
    let edge = stack.span_ends_mm()[1];
    let chord = |span: usize, s1: f64, s2: f64, turn: f64| {
        let one = stack.section_in(span, s1);
        let (r1, r2) = (one.radius_mm, stack.section_in(span, s2).radius_mm);
        let k = one.sin_slope;
        let angle = (k * turn / 2.0).sin();
        ((s1 - s2).powi(2) + 4.0 * r1 * r2 * angle * angle / (k * k)).sqrt()
    };
    for (s, turn) in [(edge + 4.0, 0.1), (edge + 12.0, 0.4), (edge + 1.0, 0.7), (edge + 20.0, -0.5)]
    {
        let (u, v) = lay.flat(&stack, s, turn).expect("a flat point");
        let length = |at: f64| chord(0, 12.0, edge, at) + chord(1, edge, s, turn - at);
        // Golden section over the turn at which the edge is crossed.
        let ratio = 0.5 * (5_f64.sqrt() - 1.0);
        let (mut low, mut high) = (turn.min(0.0), turn.max(0.0));
        for _ in 0..80 {
            let (one, other) = (high - ratio * (high - low), low + ratio * (high - low));
            if length(one) < length(other) { high = other } else { low = one }
        }
        close(u.hypot(v), length(0.5 * (low + high)), 1e-9, "length");
    }
}

/// Five 20 mm circles up a stepped bottle measure round, as high along the meridian as they are
/// wide through the centre, within 1 %: exactly so under label, whose two headings along the
/// parallel are one geodesic.
#[test]
fn circles_stay_round_on_a_bottle() {
    let points = [(0.0, 35.0), (60.0, 36.25), (95.0, 36.0), (120.0, 22.0), (150.0, 20.0)];
    for shape in [WallShape::Straight, WallShape::Smooth] {
        let bottle = wall(&points, shape);
        for anchor in [15.0, 40.0, 75.0, 111.0, 140.0] {
            let radius = bottle.section(anchor, &mut 0).radius_mm;
            let label_lay = label(&bottle, anchor);
            let at = |u, v| label_lay.map(&bottle, u, v, &mut 0);
            let (left, right) = (at(0.0, -10.0), at(0.0, 10.0));
            close(at(10.0, 0.0).s_mm - at(-10.0, 0.0).s_mm, 20.0, 1e-7, "label height");
            let across =
                label(&bottle, left.s_mm).flat(&bottle, right.s_mm, right.turn_rad - left.turn_rad);
            let (u, v) = across.expect("a flat point");
            close(u.hypot(v), 20.0, 1e-6, &format!("label width, {shape:?} {anchor}"));

            let lay = lay_from(&bottle, LayKind::TrueShape, anchor, radius);
            let at = |u, v| lay.map(&bottle, u, v, &mut 0);
            let width = (at(0.0, 10.0).turn_rad - at(0.0, -10.0).turn_rad) * radius;
            let height = at(10.0, 0.0).s_mm - at(-10.0, 0.0).s_mm;
            close(height / width, 1.0, 0.01, &format!("true-shape, {shape:?} {anchor}"));

            let even = lay_from(&bottle, LayKind::EvenAngle, anchor, radius);
            let turn = even.map(&bottle, 0.0, 10.0, &mut 0).turn_rad
                - even.map(&bottle, 0.0, -10.0, &mut 0).turn_rad;
            close(turn * radius, 20.0, 1e-9, "even-angle width at the centre");
        }
    }
}

#[test]
fn the_room_of_a_label_is_told_with_its_reason() {
    // On a can a label meets itself behind, half the girth away, or comes to the ends.
    let can = wall(&[(0.0, 10.0), (200.0, 10.0)], WallShape::Straight);
    let lay = label(&can, 80.0);
    let room = lay.label_room(&can).expect("a label");
    let (up, limit) = room.towards(1.0, 0.0);
    close(up, 120.0, 0.02, "up the can");
    assert_eq!(limit, LabelLimit::End);
    let (around, limit) = room.towards(0.0, -1.0);
    close(around, std::f64::consts::PI * 10.0, 0.01, "around the can");
    assert_eq!(limit, LabelLimit::Itself);
    assert_eq!(room.radius_mm().1, LabelLimit::Itself);

    // On a torus-like bulge about its outermost parallel, K = 1/(q (R + q)): conjugate at π √(q (R
    // + q)).
    let (r, q) = (30.0, 4.0);
    let barrel = Wall::parametric(
        &|t: f64| stave_wall::ParametricPoint {
            at_mm: q * t.sin(),
            radius_mm: r + q * t.cos(),
            at_rate: q * t.cos(),
            radius_rate: -q * t.sin(),
        },
        -1.4,
        1.4,
    )
    .expect("a barrel");
    let lay = label(&barrel, barrel.length_mm() / 2.0);
    let (around, limit) = lay.label_room(&barrel).expect("a label").towards(0.0, 1.0);
    assert_eq!(limit, LabelLimit::Fold);
    close(around, std::f64::consts::PI * (q * (r + q)).sqrt(), 0.05, "conjugate point");

    let error = lay.check_label(&barrel, [(0.0, 1.0), (0.0, 60.0)]).expect_err("too large");
    let LayError::LabelTooLarge { reach_mm, limit, scale_percent, .. } = &error else {
        panic!("{error}")
    };
    assert_eq!((*reach_mm, *limit), (60.0, LabelLimit::Fold));
    close(*scale_percent, 100.0 * around / 60.0, 1e-9, "scale");
    assert_eq!(
        error.to_string(),
        "the label reaches 60.00 mm from its anchor, and the wall is so curved that it folds \
         beyond 36.64 mm that way: \
         no more than 61 % of its size fits; else move its anchor or take true-shape"
    );
    assert_eq!(lay.check_label(&barrel, [(2.0, 2.0)]), Ok(()));
}

/// Behind every shoulder there is a wedge that two geodesics reach. No line that passes the check
/// comes to a place where the map turns over, or to one that another place of the same label comes
/// to as well, by more than the tolerance.
#[test]
fn a_label_that_reaches_behind_a_shoulder_is_refused() {
    let bottle = wall(
        &[(0.0, 33.0), (70.0, 33.0), (90.0, 20.0), (110.0, 14.0), (150.0, 13.0)],
        WallShape::Straight,
    );
    let slimmer = wall(
        &[(0.0, 36.0), (60.0, 33.0), (64.0, 31.0), (120.0, 24.0), (150.0, 23.9)],
        WallShape::Straight,
    );
    let mut refused = 0;
    for (wall, anchor) in [(&bottle, 30.0), (&bottle, 60.0), (&slimmer, 20.0), (&slimmer, 50.0)] {
        let lay = label(wall, anchor);
        let room = lay.label_room(wall).expect("a label");
        // Level lines across the label, ever higher; the middle of each is inside.
        for k in 0..120_u32 {
            let u = -20.0 + 0.5 * f64::from(k);
            if lay.check_label_lines_in(&room, [[(u, -75.0), (u, 75.0)]]).is_err() {
                refused += 1;
                continue;
            }
            for i in 0..4000_u32 {
                let v = -75.0 + 150.0 * f64::from(i) / 4000.0;
                let j = lay.jacobian(wall, u, v);
                let turned_over = j[0][0] * j[1][1] - j[0][1] * j[1][0];
                let laid = lay.map(wall, u, v, &mut 0);
                assert!(turned_over > 0.0, "{anchor}: {u}, {v} at {} turns over", laid.s_mm);
                let back = lay.flat(wall, laid.s_mm, laid.turn_rad);
                let off = back.map_or(0.0, |back| (back.0 - u).hypot(back.1 - v));
                assert!(off < 0.5, "{anchor}: {u}, {v} and {back:?} are one place");
            }
        }
    }
    assert!((20..400).contains(&refused), "{refused}");
}

/// All that runs into one wedge is told the same distance: that of its tip, which is the way to
/// where a geodesic comes to lie along the shoulder.
#[test]
fn a_wedge_is_named_by_its_tip() {
    let (radius, shoulder) = (40.0_f64, 30.0_f64);
    let points = [(0.0, radius), (20.0, shoulder), (38.0, 12.0), (160.0, 11.0)];
    let bottle = wall(&points, WallShape::Straight);
    let lay = label(&bottle, 0.0);
    let room = lay.label_room(&bottle).expect("a label");
    // On the unrolled cone: r² = w² + c², w falls by k = sin φ a millimetre, and at the tip w = 0.
    let slope = (radius - shoulder) / 20.0_f64.hypot(radius - shoulder);
    let tip = (radius * radius - shoulder * shoulder).sqrt() / slope;
    let named = |line: [(f64, f64); 2]| match lay.check_label_lines_in(&room, [line]) {
        Err(LayError::LabelTooLarge { room_mm, limit, .. }) => (room_mm, limit),
        Ok(()) => panic!("{line:?} is let pass"),
        Err(error) => panic!("{error}"),
    };
    let found = [[(49.0, 43.5), (37.0, 54.0)], [(55.6, 51.0), (43.6, 61.5)]].map(named);
    assert_eq!(found[0], found[1]);
    assert_eq!(found[0].1, LabelLimit::Fold);
    close(found[0].0, tip, 0.3, "the tip");
}

/// A long straight line may leave the room in its middle only.
#[test]
fn a_line_is_looked_at_between_its_ends() {
    let cone = wall(&[(0.0, 20.0), (100.0, 60.0)], WallShape::Straight);
    let lay = label(&cone, 50.0);
    let room = lay.label_room(&cone).expect("a label");
    let (from, to) = ((-45.0, -60.0), (-45.0, 60.0));
    assert_eq!(lay.check_label_in(&room, [from, to]), Ok(()));
    assert!(lay.check_label_lines_in(&room, [[from, to]]).is_ok());
    let lower = [(-53.0, -40.0), (-53.0, 40.0)];
    let ends = lay.check_label_in(&room, lower);
    assert_eq!((ends, lay.check_label_lines_in(&room, [lower]).is_err()), (Ok(()), true));
}

/// What ends a label on a can are straight lines of the flat plane: a label may lie with its edge
/// on them, and one that goes past is told by how much, whatever headings are looked along.
#[test]
fn a_label_may_lie_with_its_edge_on_what_ends_it() {
    let can = wall(&[(0.0, 36.0), (100.0, 36.0)], WallShape::Straight);
    let lay = label(&can, 40.0);
    let room = lay.label_room(&can).expect("a label");
    for wide in [20.0, 60.0, 85.0, 100.0, 110.0] {
        let at = |down: f64| [(-down, -wide), (-down, wide)];
        assert_eq!(lay.check_label_lines_in(&room, [at(40.0)]), Ok(()), "{wide}");
        let past = lay.check_label_lines_in(&room, [at(40.01)]);
        let Err(LayError::LabelTooLarge { reach_mm, room_mm, limit, .. }) = past else {
            panic!("{wide}: {past:?}");
        };
        assert_eq!(limit, LabelLimit::End);
        close(room_mm, reach_mm * 40.0 / 40.01, 0.001, "the wall's end");
    }
    // All but all the way around.
    let half = std::f64::consts::PI * 36.0;
    let band = |half: f64| [[(-35.0, half), (55.0, half)], [(-35.0, -half), (55.0, -half)]];
    assert_eq!(lay.check_label_lines_in(&room, band(half - 0.001)), Ok(()));
    assert!(lay.check_label_lines_in(&room, band(half + 0.01)).is_err());
}

/// Exactly along an edge: up or down are both straight, along a ridge it runs on the ridge; never
/// without end.
#[test]
fn along_an_edge_nothing_breaks() {
    let walls = [
        [(0.0, 30.0), (10.0, 34.0), (20.0, 30.0)],
        [(0.0, 30.0), (10.0, 26.0), (20.0, 30.0)],
        [(0.0, 30.0), (10.0, 30.0), (20.0, 34.0)],
        [(0.0, 34.0), (10.0, 30.0), (20.0, 30.0)],
    ];
    for points in walls {
        let wall = wall(&points, WallShape::Straight);
        for end in wall.span_ends_mm() {
            for (u, v) in
                [(0.0, 5.0), (0.0, -5.0), (1e-12, 5.0), (-1e-9, 5.0), (0.0, 1e6), (1e-3, 1e5)]
            {
                let laid = label(&wall, *end).map(&wall, u, v, &mut 0);
                if v.abs() < 1e3 {
                    assert!(
                        laid.s_mm.is_finite() && (laid.turn_rad * 30.0 - v).abs() < 1.0,
                        "{points:?} {end} {laid:?}"
                    );
                }
            }
        }
    }
    let ridge = wall(&[(0.0, 30.0), (10.0, 34.0), (20.0, 30.0)], WallShape::Straight);
    let laid = label(&ridge, ridge.span_ends_mm()[1]).map(&ridge, 0.0, 17.0, &mut 0);
    close(laid.turn_rad, 0.5, 1e-12, "along the ridge");
}

#[test]
fn no_flat_point_makes_a_label_panic() {
    for shape in [WallShape::Straight, WallShape::Smooth] {
        let wall = wall(&[(0.0, 30.0), (10.0, 36.0), (20.0, 30.0)], shape);
        let lay = label(&wall, 7.0);
        for value in [f64::NAN, f64::INFINITY, -f64::INFINITY, f64::MAX, 1e9, -1e9, 1e-300, 0.0] {
            for other in [0.0, value, 1.0] {
                let _ = lay.map(&wall, value, other, &mut 0);
                let _ = lay.jacobian(&wall, value, other);
                let _ = lay.flat(&wall, value, other);
            }
        }
    }
}

fn any_wall() -> impl Strategy<Value = Wall> {
    let steps = proptest::collection::vec((8.0..30.0f64, 25.0..45.0f64), 3..6);
    (steps, prop_oneof![Just(WallShape::Straight), Just(WallShape::Smooth)]).prop_map(
        |(steps, shape)| {
            let mut at = 0.0;
            let points: Vec<_> = steps
                .into_iter()
                .map(|(rise, radius)| {
                    at += rise;
                    (at, radius)
                })
                .collect();
            wall(&points, shape)
        },
    )
}

proptest! {
    #![proptest_config(cases(32))]

    #[test]
    fn the_label_undoes_itself(
        wall in any_wall(),
        share in 0.2..0.8f64,
        u in -9.0..9.0f64,
        v in -9.0..9.0f64,
    ) {
        let anchor = share * wall.length_mm();
        let lay = label(&wall, anchor);
        let room = lay.label_room(&wall).expect("a label");
        prop_assume!(u.hypot(v) < 0.9 * room.radius_mm().0);
        let laid = lay.map(&wall, u, v, &mut 0);
        let (u_back, v_back) = lay.flat(&wall, laid.s_mm, laid.turn_rad).expect("a flat point");
        prop_assert!((u_back - u).hypot(v_back - v) < 1e-6, "{u_back} {v_back}");
    }

    #[test]
    fn clairaut_holds_and_the_jacobian_is_the_derivative(
        wall in any_wall(),
        share in 0.2..0.8f64,
        u in -9.0..9.0f64,
        v in -9.0..9.0f64,
    ) {
        let lay = label(&wall, share * wall.length_mm());
        let at = |u: f64, v: f64| lay.map(&wall, u, v, &mut 0);
        let here = at(u, v);
        // Past an end the wall goes on as a cylinder, with an edge between: no art lies there.
        prop_assume!((0.0..=wall.length_mm()).contains(&here.s_mm));
        let r = here.section.radius_mm;
        let by_differences = |h: f64| {
            let (high, low) = (at(u + h, v), at(u - h, v));
            let (right, left) = (at(u, v + h), at(u, v - h));
            let whole = [high, low, right, left].iter().all(|laid| laid.span == here.span);
            let numeric = [
                [(high.s_mm - low.s_mm) / (2.0 * h), (right.s_mm - left.s_mm) / (2.0 * h)],
                [
                    r * (high.turn_rad - low.turn_rad) / (2.0 * h),
                    r * (right.turn_rad - left.turn_rad) / (2.0 * h),
                ],
            ];
            (whole, numeric)
        };
        let (whole, numeric) = by_differences(1e-4);
        // One span only: across an edge the map bends.
        prop_assume!(whole);
        let j = lay.jacobian(&wall, u, v);
        // Next to a geodesic that grazes an edge the map is as good as torn, and a step spans the
        // tear.
        let size = j.iter().flatten().fold(0.0_f64, |size, entry| size.max(entry.abs()));
        prop_assume!(size < 3.0);
        for (row, expected) in numeric.iter().zip(j) {
            for (found, expected) in row.iter().zip(expected) {
                prop_assert!((found - expected).abs() < 2e-3, "{numeric:?} {j:?}");
            }
        }
        // Along the geodesic distances are kept.
        let d = u.hypot(v);
        prop_assume!(d > 1e-3);
        let along = (j[0][0] * u + j[0][1] * v, j[1][0] * u + j[1][1] * v);
        prop_assert!((along.0.hypot(along.1) / d - 1.0).abs() < 1e-8);
        // r sin α at the end is what it was at the anchor.
        let anchor_radius = at(0.0, 0.0).section.radius_mm;
        prop_assert!((r * along.1 / d - anchor_radius * v / d).abs() < 1e-6);
    }

    #[test]
    fn on_one_cone_or_can_the_label_is_an_isometry(
        r1 in 5.0..50.0f64,
        widen in prop_oneof![-4.0..40.0f64, Just(0.0), -1e-9..1e-9f64],
        points in proptest::collection::vec((-9.0..9.0f64, -9.0..9.0f64), 2..5),
    ) {
        let cone = wall(&[(0.0, r1), (40.0, r1 + widen)], WallShape::Straight);
        let lay = label(&cone, cone.length_mm() / 2.0);
        for &(u, v) in &points {
            let laid = lay.map(&cone, u, v, &mut 0);
            prop_assume!(laid.s_mm > 0.0 && laid.s_mm < cone.length_mm());
            let tissot = Distortion::of_jacobian(lay.jacobian(&cone, u, v));
            prop_assert!((tissot.a - 1.0).abs() < 1e-12 && (tissot.b - 1.0).abs() < 1e-12);
            // The other way round: laid from the second point, the first is as far away.
            let back = label(&cone, laid.s_mm)
                .flat(&cone, cone.length_mm() / 2.0, -laid.turn_rad)
                .expect("flat");
            prop_assert!((back.0.hypot(back.1) - u.hypot(v)).abs() < 1e-9);
        }
    }
}

/// Straight around a can the geodesic neither climbs nor falls, however many spans the can has.
#[test]
fn straight_around_a_can_it_stays_level() {
    let can = wall(&[(0.0, 30.0), (20.0, 30.0), (45.0, 30.0), (60.0, 30.0)], WallShape::Straight);
    let lay = label(&can, 25.0);
    for v in [-70.0, -1.0, 0.5, 40.0, 90.0] {
        let laid = lay.map(&can, lay.anchor_mm().0, v, &mut 0);
        close(laid.s_mm, 25.0, 1e-12, "its place along the meridian");
        close(laid.turn_rad, v / 30.0, 1e-12, "its turn");
    }
}

/// Where lays are true, a way around is as long on the wall as in the flat plane.
#[test]
fn around_at_the_true_radius_widths_are_kept() {
    let cone = wall(&[(0.0, 50.0), (80.0, 30.0)], WallShape::Straight);
    for (kind, reference_mm) in [(LayKind::EvenAngle, 44.0), (LayKind::TrueShape, 37.5)] {
        let lay = lay_from(&cone, kind, 10.0, reference_mm);
        close(lay.true_radius_mm(), reference_mm, 1e-12, "the radius at which it is true");
        let turn = |v: f64| lay.map(&cone, 3.0, v, &mut 0).turn_rad;
        close((turn(8.0) - turn(-4.0)) * lay.true_radius_mm(), 12.0, 1e-12, "a way around");
    }
}

/// The anchor of a drawing or a point lands where the flat origin and the way to it say.
#[test]
fn the_anchor_s_turn_is_that_of_its_image() {
    let cone = wall(&[(0.0, 50.0), (80.0, 30.0)], WallShape::Straight);
    for kind in [LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape, LayKind::Label] {
        for anchor in [Anchor::Drawing, Anchor::Point { u_mm: 12.0, v_mm: -20.0 }] {
            let (origin_s_mm, origin_turn_rad, reference_radius_mm) = (10.0, 0.7, 40.0);
            let setting =
                LaySetting { kind, origin_s_mm, origin_turn_rad, reference_radius_mm, anchor };
            let lay = Lay::new(&cone, setting).expect("a sound lay");
            let (u, v) = lay.anchor_mm();
            let turn = lay.map(&cone, u, v, &mut 0).turn_rad;
            close(lay.anchor_turn_rad(), turn, 1e-12, "the anchor's turn");
            close(turn, 0.7 + v / 40.0, 1e-12, "where it lies");
        }
    }
}
