//! Clearance against brute force: points of the work in space, turned and tilted one by one, under
//! the nozzle's circle one by one.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use stave_tests::cases;
use std::f64::consts::TAU;

use proptest::prelude::*;
use stave_rig::{Clearance, Head, HeadOverWork, Nearest, Pose};
use stave_setup::{Blank, Zone, read_blank};
use stave_wall::{Crest, Station, Wall, WallShape};

fn blank(name: &str) -> Blank {
    let path =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/blanks").join(name);
    read_blank(&std::fs::read_to_string(path).unwrap(), name).unwrap()
}

/// A nozzle that is one cylinder.
fn over<M: Copy>(wall: &Wall, zones: &[Zone], tilt: f64, radius: f64) -> Clearance<M> {
    Clearance::new(HeadOverWork::new(wall, zones, tilt, Head::cylinder(radius)))
}

/// A face of the work: along the meridian, around, and outward from the wall, each from and to. One
/// of the three stays as it is.
struct Face {
    s: (f64, f64),
    turn: (f64, f64),
    rise: (f64, f64),
}

/// The wall about a move, run on past its ends, and the five faces of every zone.
fn faces(wall: &Wall, zones: &[Zone], radius: f64, from: &Pose, to: &Pose) -> Vec<Face> {
    let span = |a: f64, b: f64, more: f64| (a.min(b) - more, a.max(b) + more);
    // The crest is tilted away from its place along the axis by less than this.
    let (low, high) = span(from.along_mm, to.along_mm, radius + 20.0);
    let turn = span(from.turn_rad, to.turn_rad, 0.3);
    let mut faces =
        vec![Face { s: (wall.s_of_at(low), wall.s_of_at(high)), turn, rise: (0.0, 0.0) }];
    for zone in zones {
        let s = (wall.s_of_at(zone.at_mm.0), wall.s_of_at(zone.at_mm.1));
        let (turn, rise) = (zone.turn_rad, (0.0, zone.rise_mm));
        faces.push(Face { s, turn, rise: (zone.rise_mm, zone.rise_mm) });
        faces.extend([turn.0, turn.1].map(|turn| Face { s, turn: (turn, turn), rise }));
        faces.extend([s.0, s.1].map(|s| Face { s: (s, s), turn, rise }));
    }
    faces
}

/// The least of lift less height of a face under the circle over one move: looks on a grid of
/// motion and face, then around the best looks ever more closely.
///
/// Nothing is known here but how a point of the work turns, tilts and comes under the circle.
fn brute(wall: &Wall, tilt: f64, radius: f64, face: &Face, from: &Pose, to: &Pose) -> f64 {
    let (sin, cos) = tilt.sin_cos();
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    let flat = [face.s, face.turn, face.rise].map(|(from, to)| from == to);
    let look = |p: [f64; 3]| {
        let (first, second) = (p[1], p[2]);
        let shares = match flat {
            [true, _, _] => [0.0, first, second],
            [_, true, _] => [first, 0.0, second],
            _ => [first, second, 0.0],
        };
        let section = wall.section(mix(face.s.0, face.s.1, shares[0]), &mut 0);
        let away = mix(face.turn.0, face.turn.1, shares[1]) - mix(from.turn_rad, to.turn_rad, p[0]);
        let out = section.radius_mm + mix(face.rise.0, face.rise.1, shares[2]);
        let (up, aside) = (out * away.cos(), out * away.sin());
        let along = section.at_mm * cos - up * sin - mix(from.along_mm, to.along_mm, p[0]);
        let inside = along * along + aside * aside <= radius * radius;
        let height = section.at_mm * sin + up * cos;
        if inside { mix(from.lift_mm, to.lift_mm, p[0]) - height } else { f64::INFINITY }
    };
    let around = |middle: [f64; 3], half: f64, shares: &[f64], into: &mut Vec<(f64, [f64; 3])>| {
        let at = |i: usize, share: f64| (middle[i] + half * share).clamp(0.0, 1.0);
        for &i in shares {
            for &j in shares {
                for &k in shares {
                    let p = [at(0, i), at(1, j), at(2, k)];
                    into.push((look(p), p));
                }
            }
        }
    };
    let grid: Vec<f64> = (0..GRID).map(|k| f64::from(2 * k) / f64::from(GRID - 1) - 1.0).collect();
    // Along the circle's edge the way down may be a narrow one between two of the three: far in
    // one of them and a little in another.
    let closer = [-1.0, -0.4, -0.15, -0.05, 0.0, 0.05, 0.15, 0.4, 1.0];
    let mut looks = Vec::new();
    around([0.5; 3], 0.5, &grid, &mut looks);
    // Every hill of the work has a look that none beside it beats; the best few looks may all be on
    // one hill. A little way down from each tells which are worth going on with.
    let mut starts: Vec<(f64, [f64; 3])> = (0..looks.len())
        .filter(|&n| looks[n].0.is_finite() && beside(n).all(|other| looks[n].0 <= looks[other].0))
        .map(|n| looks[n])
        .collect();
    let down = |mut best: (f64, [f64; 3]), mut half: f64, until: f64| {
        // Along the circle's edge it may be a long way: closer only where there is no better.
        let mut left = 200;
        while half > until && left > 0 {
            let mut looks = Vec::new();
            around(best.1, half, &closer, &mut looks);
            let next = looks
                .into_iter()
                .fold(best, |best, look| if look.0 < best.0 { look } else { best });
            if next.0 > best.0 - 1e-4 {
                half *= 0.75;
            }
            (best, left) = (next, left - 1);
        }
        best
    };
    for start in &mut starts {
        *start = down(*start, 0.05, 0.02);
    }
    starts.sort_by(|a, b| a.0.total_cmp(&b.0));
    starts.dedup_by(|a, b| (0..3).all(|i| (a.1[i] - b.1[i]).abs() < 0.02));
    starts.truncate(8);
    starts.into_iter().map(|start| down(start, 0.02, 1e-6).0).fold(f64::INFINITY, f64::min)
}

/// Looks to a side of the grid.
const GRID: i32 = 41;

/// The looks beside one of the grid.
fn beside(n: usize) -> impl Iterator<Item = usize> {
    let n = i32::try_from(n).unwrap();
    let own = [n / (GRID * GRID), n / GRID % GRID, n % GRID];
    let each = (0..27).map(|k| [k / 9 - 1, k / 3 % 3 - 1, k % 3 - 1]);
    each.filter_map(move |step| {
        let [i, j, k] = [0, 1, 2].map(|axis| own[axis] + step[axis]);
        let is_in = [i, j, k].iter().all(|index| (0..GRID).contains(index));
        is_in.then(|| usize::try_from((i * GRID + j) * GRID + k).unwrap())
    })
}

/// The gap is that of brute force, on a wall of stations 35 mm apart.
fn agreed(
    radii: &[f64],
    smooth: bool,
    tilt: f64,
    radius: f64,
    zones: &[Zone],
    poses: &[Pose],
) -> Result<(), TestCaseError> {
    let stations: Vec<Station> = radii
        .iter()
        .zip(0..)
        .map(|(&radius_mm, k)| Station { at_mm: 35.0 * f64::from(k), radius_mm })
        .collect();
    let shape = if smooth { WallShape::Smooth } else { WallShape::Straight };
    let wall = Wall::from_stations(&stations, shape).unwrap();
    let mut clearance = over(&wall, zones, tilt, radius);
    let mut found_by_brute = [f64::INFINITY; 2];
    for (k, pair) in poses.windows(2).enumerate() {
        clearance.go(&pair[0], &pair[1], k);
        for face in faces(&wall, zones, radius, &pair[0], &pair[1]) {
            for (found, wider) in found_by_brute.iter_mut().zip([0.0, 0.03]) {
                *found = found.min(brute(&wall, tilt, radius + wider, &face, &pair[0], &pair[1]));
            }
        }
    }
    let gap = clearance.least(0.0, 0.0).unwrap().gap_mm;
    prop_assert!(gap <= found_by_brute[0] + 1e-3, "optimistic: {gap} {found_by_brute:?}");
    prop_assert!(gap >= found_by_brute[1] - 0.05, "too careful: {gap} {found_by_brute:?}");
    Ok(())
}

/// Two hills: the first is under the circle all the way, the second only at the end of the move,
/// under the circle's edge, and higher.
#[test]
fn a_hill_that_the_circle_only_just_reaches_is_met() {
    let radii = [25.0, 31.948668319300925, 25.95633465583234, 28.09176702691322];
    let pose = |along_mm, turn_rad, lift_mm| Pose { along_mm, turn_rad, lift_mm };
    let poses = [pose(22.742634, 1.002179, 3.620262), pose(64.931493, 0.948293, 3.670742)];
    agreed(&radii, false, 0.12438840247525997, 11.844350528496014, &[], &poses).unwrap();
}

fn zone() -> impl Strategy<Value = Zone> {
    (0.0..80.0_f64, 5.0..30.0_f64, 0.0..TAU, 0.1..1.2_f64, 0.5..14.0_f64).prop_map(
        |(at, long, turn, wide, rise_mm)| Zone {
            name: "boss".into(),
            at_mm: (at, at + long),
            turn_rad: (turn, turn + wide),
            rise_mm,
            margin_mm: None,
        },
    )
}

fn pose() -> impl Strategy<Value = Pose> {
    (-5.0..100.0_f64, -4.0..4.0_f64, 0.0..6.0_f64).prop_map(|(along_mm, turn_rad, lift_mm)| Pose {
        along_mm,
        turn_rad,
        lift_mm,
    })
}

proptest! {
    #![proptest_config(cases(6))]
    /// The gap is never more than brute force finds, to a thousandth of a mm, and less by no more
    /// than 0.05 mm, or by what a
    /// circle wider by 0.03 mm makes: where a corner only just comes under the circle, the gap
    /// leaps.
    #[test]
    fn agrees_with_brute_force(
        radii in proptest::collection::vec(25.0..42.0_f64, 4),
        smooth in any::<bool>(),
        tilt in -0.25..0.25_f64,
        radius in 2.0..14.0_f64,
        zones in proptest::collection::vec(zone(), 1..3),
        poses in proptest::collection::vec(pose(), 2..4),
    ) {
        agreed(&radii, smooth, tilt, radius, &zones, &poses)?;
    }

    /// Taking a move in two changes nothing but what the tolerance leaves open, or what a circle
    /// wider by 0.03 mm makes.
    #[test]
    fn a_move_in_two_is_the_same_move(
        from in pose(),
        to in pose(),
        zone in zone(),
        share in 0.1..0.9_f64,
    ) {
        let wall = blank("bottle.toml").wall;
        let middle = Pose {
            along_mm: from.along_mm + (to.along_mm - from.along_mm) * share,
            turn_rad: from.turn_rad + (to.turn_rad - from.turn_rad) * share,
            lift_mm: from.lift_mm + (to.lift_mm - from.lift_mm) * share,
        };
        let zones = [zone];
        let gap = |radius: f64, poses: &[Pose]| {
            let mut clearance = over(&wall, &zones, 0.05, radius);
            poses.windows(2).for_each(|pair| clearance.go(&pair[0], &pair[1], ()));
            clearance.least(0.0, 0.0).unwrap().gap_mm
        };
        let both = |radius: f64| (gap(radius, &[from, to]), gap(radius, &[from, middle, to]));
        let ((whole, parts), (whole_wider, parts_wider)) = (both(9.0), both(9.03));
        prop_assert!(whole >= parts_wider - 0.04, "{whole} {parts_wider}");
        prop_assert!(parts >= whole_wider - 0.04, "{parts} {whole_wider}");
    }
}

/// At the foot of a 53° step a wide nozzle meets the step long before its middle does.
#[test]
fn a_step_reaches_under_the_nozzle() {
    let bottle = blank("bottle.toml");
    let crest = Crest::new(0.0);
    let foot = bottle.wall.section(bottle.wall.s_of_at(95.0), &mut 0);
    let pose = |along_mm| Pose { along_mm, turn_rad: 0.0, lift_mm: 0.0 };
    let mut clearance = over(&bottle.wall, &bottle.zones, 0.0, 9.0);
    clearance.go(&pose(60.0), &pose(95.0), 'a');
    // The circle reaches 9 mm up: past the step, to 3 mm beyond its upper edge, where the wall has
    // a radius of 43 + 3/39.
    let beyond_mm = 43.0 + 3.0 / 39.0;
    let least = clearance.least(crest.height_mm(&foot), 6.0).unwrap();
    assert!((least.gap_mm - (35.0 + 6.0 - beyond_mm)).abs() <= 0.02, "{least:?}");
    assert_eq!((least.nearest, least.mark), (Nearest::Wall, 'a'));
    assert!((94.0..=95.0).contains(&least.at_mm));
}

/// The handle's boss is 9 mm high, the tip 6 mm above the wall: turned under the nozzle it strikes,
/// 3 mm deep or deeper.
#[test]
fn a_boss_that_turns_under_the_nozzle_is_struck() {
    let bottle = blank("bottle.toml");
    let pose =
        |turn_deg: f64| Pose { along_mm: 158.0, turn_rad: turn_deg.to_radians(), lift_mm: 0.0 };
    let mut clearance = over(&bottle.wall, &bottle.zones, 0.0, 9.0);
    clearance.go(&pose(-60.0), &pose(60.0), 1);
    let wall_mm = 44.0 + 0.25 * 18.0 / 35.0;
    let free = clearance.least(wall_mm, 6.0).unwrap();
    assert!(free.gap_mm > 5.8 && free.nearest == Nearest::Wall, "{free:?}");
    clearance.go(&pose(60.0), &pose(300.0), 2);
    let struck = clearance.least(wall_mm, 6.0).unwrap();
    // The upper boss is highest at its upper end, at 164, which is under the circle.
    let top_mm = 44.0 + 0.25 * 24.0 / 35.0 + 9.0;
    assert!((struck.gap_mm - (wall_mm + 6.0 - top_mm)).abs() <= 0.02, "{struck:?}");
    assert_eq!((struck.nearest, struck.mark), (Nearest::Zone(1), 2));
}

/// A hundred thousand scan lines past a boss, of which only the first costs, give what they give
/// taken by themselves in ten parts.
#[test]
fn many_lines_past_a_boss_are_each_looked_at() {
    let bottle = blank("bottle.toml");
    let new = || over(&bottle.wall, &bottle.zones, -0.09, 9.0);
    let pose = |k: u32, side: f64| Pose {
        along_mm: 90.0 + f64::from(k) * 0.001,
        turn_rad: std::f64::consts::PI + side * (0.2 + f64::from(k) * 1e-5),
        lift_mm: 0.0,
    };
    let gap = |clearance: &Clearance<u32>| clearance.least(0.0, 0.0).unwrap().gap_mm;
    let (mut all, mut least_part) = (new(), f64::INFINITY);
    for part in 0..10 {
        let mut one = new();
        for k in part * 10_000..(part + 1) * 10_000 {
            let side = if k % 2 == 0 { -1.0 } else { 1.0 };
            all.go(&pose(k, side), &pose(k, -side), k);
            one.go(&pose(k, side), &pose(k, -side), k);
        }
        least_part = gap(&one).min(least_part);
    }
    assert!((gap(&all) - least_part).abs() <= 0.04, "{} {least_part}", gap(&all));
}
