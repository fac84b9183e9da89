//! Zones against their definition, looked at place by place.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use stave_rig::{Keeps, WallZone, Zones};
use stave_setup::{Setup, read_blank, read_job, read_machine};
use stave_tests::cases;
use stave_tests::ware::MACHINES;
use stave_toolpath::Place;
use stave_wall::Laid;

/// A cone with a band all the way around, a patch over the turn 0, and two patches side by side,
/// farther apart than looks are taken for them.
const BLANK: &str = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 80\n\
    [[zone]]\nname = \"band\"\nat = [10, 20]\nturn = [0, 360]\nmargin = 0.3\n\
    [[zone]]\nname = \"patch\"\nat = [40, 50]\nturn = [350, 380]\nmargin = 0.7\n\
    [[zone]]\nname = \"one\"\nat = [70, 75]\nturn = [100, 110]\nmargin = 0.5\n\
    [[zone]]\nname = \"other\"\nat = [77.5, 80]\nturn = [100, 110]\nmargin = 0.5\n";

fn setup(job: &str) -> Setup {
    let machine = read_machine(MACHINES[0], "m").unwrap();
    Setup::new(read_blank(BLANK, "b").unwrap(), machine, read_job(job, "j").unwrap()).unwrap()
}

fn masked() -> (Setup, Zones) {
    let setup = setup("zones = \"mask\"");
    let zones = Zones::new(&setup);
    (setup, zones)
}

fn laid(setup: &Setup, s_mm: f64, turn_rad: f64) -> Laid {
    Laid { s_mm, turn_rad, span: 0, section: setup.blank.wall.section(s_mm, &mut 0) }
}

/// A zone with its margin along the meridian, mm.
fn ends_mm(setup: &Setup, zone: usize) -> (f64, f64) {
    let zone = &setup.blank.zones[zone];
    let margin_mm = zone.margin_mm.unwrap();
    let s_mm = |at_mm: f64| setup.blank.wall.s_of_at(at_mm);
    (s_mm(zone.at_mm.0) - margin_mm, s_mm(zone.at_mm.1) + margin_mm)
}

/// How far a turn lies within a zone without its margin, rad, the shorter way around; without end
/// where the zone goes all the way around.
fn within_rad(setup: &Setup, zone: usize, turn_rad: f64) -> f64 {
    let (first, last) = setup.blank.zones[zone].turn_rad;
    let away = (turn_rad - (first + last) / 2.0 + PI).rem_euclid(TAU) - PI;
    if last - first >= TAU { f64::INFINITY } else { (last - first) / 2.0 - away.abs() }
}

/// How deep a place lies in a zone with its margin, kept along the meridian and around, mm.
fn depth_mm(setup: &Setup, zone: usize, s_mm: f64, turn_rad: f64) -> f64 {
    let ends_mm = ends_mm(setup, zone);
    let radius_mm = setup.blank.wall.section(s_mm, &mut 0).radius_mm;
    let margin_mm = setup.blank.zones[zone].margin_mm.unwrap();
    let around_mm = within_rad(setup, zone, turn_rad) * radius_mm + margin_mm;
    (s_mm - ends_mm.0).min(ends_mm.1 - s_mm).min(around_mm)
}

fn deepest_mm(setup: &Setup, s_mm: f64, turn_rad: f64) -> f64 {
    let depths = (0..setup.blank.zones.len()).map(|zone| depth_mm(setup, zone, s_mm, turn_rad));
    depths.fold(f64::NEG_INFINITY, f64::max)
}

/// A place beside a corner of a zone with its margin, within some mm or a hair, any number of turns
/// around.
fn beside_a_corner() -> impl Strategy<Value = (f64, f64)> {
    // Along the axis and around, and the margin each way.
    let corners = vec![
        ((10.0, 50.0), (-0.3, 0.0)),
        ((20.0, 0.0), (0.3, 0.0)),
        ((40.0, 350.0), (-0.7, -0.7)),
        ((50.0, 20.0), (0.7, 0.7)),
        ((75.0, 100.0), (0.5, -0.5)),
        ((77.5, 110.0), (-0.5, 0.5)),
    ];
    let near = prop::sample::select(vec![0.1, 3.0]);
    let off = (near, -1.0..1.0_f64, -1.0..1.0_f64);
    (prop::sample::select(corners), off, -2..=2_i32).prop_map(
        |(((at, turn), margin), (near, along, around), turns)| {
            // The meridian of the cone is longer than its axis by this.
            let slant = 0.1_f64.hypot(1.0);
            let radius_mm = 30.0 + 0.1 * at;
            let around_rad = (margin.1 + near * around) / radius_mm;
            let turn_rad = f64::to_radians(turn) + around_rad + f64::from(turns) * TAU;
            (at * slant + margin.0 + near * along, turn_rad)
        },
    )
}

/// A straight path that begins or ends there.
fn path() -> impl Strategy<Value = [(f64, f64); 2]> {
    let long = prop::sample::select(vec![0.3, 2.0, 9.0, 30.0]);
    (beside_a_corner(), long, 0.0..TAU, any::<bool>()).prop_map(|(from, long, way, back)| {
        let to = (from.0 + long * way.cos(), from.1 + long * way.sin() / 35.0);
        if back { [to, from] } else { [from, to] }
    })
}

fn between([from, to]: [(f64, f64); 2], t: f64) -> (f64, f64) {
    (from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t)
}

proptest! {
    #![proptest_config(cases(512))]

    /// A path is parted where it goes in and where it comes out, and nowhere else.
    #[test]
    fn a_path_is_parted_where_it_goes_in_and_out(path in path()) {
        let (setup, zones) = masked();
        // Along some other measure than the share of the way gone.
        let (first, last) = (3.0, 5.0);
        let mut place = |t: f64| {
            let (s_mm, turn_rad) = between(path, (t - first) / (last - first));
            laid(&setup, s_mm, turn_rad)
        };
        let long_mm = (path[1].0 - path[0].0).hypot(35.0 * (path[1].1 - path[0].1));
        let mut parts = vec![first];
        zones.crossings(&mut place, first, last, (long_mm / 0.25) as usize, &mut parts);
        parts.push(last);
        let mut before = None;
        for part in parts.windows(2) {
            prop_assert!(part[0] < part[1], "{parts:?}");
            let inside = zones.holds(&place((part[0] + part[1]) / 2.0)).is_some();
            prop_assert_ne!(before, Some(inside), "{:?}", parts);
            before = Some(inside);
            for k in 1..40 {
                let t = part[0] + (part[1] - part[0]) * f64::from(k) / 40.0;
                let there = place(t);
                let depth_mm = deepest_mm(&setup, there.s_mm, there.turn_rad);
                prop_assert!(if inside { depth_mm > -1e-5 } else { depth_mm < 1e-5 }, "{depth_mm}");
            }
        }
    }

    /// The deepest place of a move in a zone is the deepest of many that are looked at.
    #[test]
    fn the_deepest_place_of_a_move_is_found(path in path()) {
        let (setup, zones) = masked();
        let place = |(s_mm, turn_rad): (f64, f64)| {
            let section = setup.blank.wall.section(s_mm, &mut 0);
            Place { s_mm, turn_rad, at_mm: section.at_mm, radius_mm: section.radius_mm }
        };
        // What the radius changes by while the work turns is not of one piece with both.
        let bent_mm = 0.1 * (path[1].0 - path[0].0).abs() * (path[1].1 - path[0].1).abs();
        for (number, zone) in zones.iter().enumerate() {
            let depth = |t: f64| {
                let (s_mm, turn_rad) = between(path, t);
                depth_mm(&setup, number, s_mm, turn_rad)
            };
            let looks = (0..=2000).map(|k| depth(f64::from(k) / 2000.0));
            let looked = looks.fold(f64::NEG_INFINITY, f64::max);
            let found = zone.deepest(&place(path[0]), &place(path[1]));
            let slack_mm = bent_mm + 0.02;
            match found {
                None => prop_assert!(looked < slack_mm, "{}: {looked}", zone.name),
                Some(found) => {
                    let off_mm = (found.depth_mm - looked).abs();
                    prop_assert!(off_mm < slack_mm, "{}: {found:?}, {looked}", zone.name);
                    let there = depth_mm(&setup, number, found.s_mm, found.turn_rad);
                    prop_assert!((found.depth_mm - there).abs() < slack_mm, "{found:?}, {there}");
                }
            }
        }
    }

    /// A box of the wall is near a zone where they meet, and not where they lie apart.
    #[test]
    fn near_is_what_meets(from in beside_a_corner(), wide in 0.0..4.0_f64, high in 0.0..0.2_f64) {
        let (setup, zones) = masked();
        let (s, turn) = ((from.0 + wide, from.0), (from.1, from.1 + high));
        // How far apart along and around, rad; less than 0 where they meet.
        let apart = |number: usize| {
            let ends_mm = ends_mm(&setup, number);
            let along = (ends_mm.0 - s.0).max(s.1 - ends_mm.1);
            let radius_mm = setup.blank.wall.section(ends_mm.0, &mut 0).radius_mm;
            let margin_rad = setup.blank.zones[number].margin_mm.unwrap() / radius_mm;
            let middle = within_rad(&setup, number, turn.0 + high / 2.0);
            let around = -(middle + margin_rad + high / 2.0);
            along.max(around)
        };
        let apart = (0..setup.blank.zones.len()).map(apart).fold(f64::INFINITY, f64::min);
        if apart < -1e-9 {
            prop_assert!(zones.near_box(s, turn) && zones.near(s.0, s.1));
        }
        // The margin is a little wider here than it is on the wall.
        if apart > 0.002 {
            prop_assert!(!zones.near_box(s, turn), "{s:?} {turn:?}");
        }
    }
}

#[test]
fn what_becomes_of_burns_is_as_the_job_says() {
    let keeps = |job: &str| -> Vec<Keeps> {
        Zones::new(&setup(job)).iter().map(|zone: &WallZone| zone.keeps).collect()
    };
    assert_eq!(keeps("zones = \"refuse\""), [Keeps::Refused; 4]);
    assert_eq!(keeps("zones = \"mask\""), [Keeps::Masked; 4]);
    assert!(Zones::new(&setup("zones = \"ignore\"")).is_empty());
    assert_eq!(Zones::all(&setup("zones = \"ignore\"")).iter().count(), 4);
    // Past all of them, and before.
    let (_, zones) = masked();
    assert!(!zones.near(0.0, 9.0) && !zones.near(99.0, 85.0) && zones.near(9.0, 11.0));
}
