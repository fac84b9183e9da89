//! Areas, counts, and what is left to the map.

use std::f64::consts::{PI, TAU};

use stave_wall::{Station, Wall, WallShape};

use super::super::burn_map::WallPlace;
use super::*;

const RADIUS_MM: f64 = 40.0;
const SPOT_MM: f64 = 0.15;

/// What is burned, to both; times go up by one a burn.
struct Bench {
    map: BurnMap,
    burns: Burns,
    wall: Wall,
    at_s: f64,
}

impl Bench {
    fn new(stations: &[(f64, f64)]) -> Self {
        let stations: Vec<Station> =
            stations.iter().map(|&(at_mm, radius_mm)| Station { at_mm, radius_mm }).collect();
        let wall = Wall::from_stations(&stations, WallShape::Straight).unwrap();
        let (map, burns) = (BurnMap::new(&wall, SPOT_MM), Burns::new(&wall, SPOT_MM));
        Self { map, burns, wall, at_s: 0.0 }
    }

    fn can() -> Self {
        Self::new(&[(0.0, RADIUS_MM), (100.0, RADIUS_MM)])
    }

    /// A burn at 1 % second a mm of line; places in mm along and mm around on the can.
    fn burn(&mut self, from: (f64, f64), to: (f64, f64), energy: f64, section: u16) {
        let place = |(s_mm, y): (f64, f64)| WallPlace { s_mm, turn_rad: y / RADIUS_MM };
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let (from, to) = (place(from), place(to));
        self.map.burn(from, to, energy * length, self.at_s, section);
        self.burns.burn((from, to), energy * length, (self.at_s, self.at_s + 1.0), section);
        self.at_s += 1.0;
    }

    fn mesh(&self) -> Mesh {
        Mesh::of(&self.burns, &self.map)
    }
}

/// The sum of the triangles' areas on the wall, mm².
fn area(mesh: &Mesh, wall: &Wall) -> f64 {
    let corner = |k: u32| mesh.corners[usize::try_from(k).unwrap()].0;
    let each = mesh.triangles.chunks_exact(3).map(|three| {
        let [a, b, c] = [corner(three[0]), corner(three[1]), corner(three[2])];
        let middle = (a.s_mm + b.s_mm + c.s_mm) / 3.0;
        let radius = wall.section(middle, &mut 0).radius_mm;
        let side = |to: Corner| (to.s_mm - a.s_mm, (to.turn_rad - a.turn_rad) * radius);
        let ((x1, y1), (x2, y2)) = (side(b), side(c));
        0.5 * (x1 * y2 - x2 * y1).abs()
    });
    each.sum()
}

fn close(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected, "{found} for {expected}");
}

#[test]
fn a_line_is_as_wide_as_the_spot_and_two_triangles() {
    let mut bench = Bench::can();
    bench.burn((10.0, 0.0), (40.0, 20.0), 1.0, 0);
    let mesh = bench.mesh();
    assert_eq!((mesh.corners.len(), mesh.triangles.len()), (4, 6));
    close(area(&mesh, &bench.wall), 1300.0_f64.sqrt() * SPOT_MM, 1e-3);
    for (corner, _) in &mesh.corners {
        close(corner.density, 1.0 / SPOT_MM, 1e-4);
    }
}

#[test]
fn a_line_keeps_its_width_where_the_ware_is_narrower() {
    // Around at a quarter of the widest radius: turns reach four times as far there.
    let mut bench = Bench::new(&[(0.0, 10.0), (50.0, 10.0), (60.0, 40.0), (90.0, 40.0)]);
    bench.burn((5.0, -10.0), (45.0, -10.0), 1.0, 0);
    let mesh = bench.mesh();
    close(area(&mesh, &bench.wall), 40.0 * SPOT_MM, 1e-3);
}

#[test]
fn a_circle_has_the_area_of_its_ring() {
    let mut bench = Bench::can();
    let on = |k: u32| {
        let angle = TAU * f64::from(k) / 720.0;
        (50.0 + 10.0 * angle.cos(), 10.0 * angle.sin())
    };
    for k in 0..720 {
        bench.burn(on(k), on(k + 1), 1.0, 0);
    }
    let mesh = bench.mesh();
    // The chord of a thinned circle strays by a hundredth of a mm.
    close(area(&mesh, &bench.wall), TAU * 10.0 * SPOT_MM, 0.01);
    assert!(mesh.corners.len() < 400, "{}", mesh.corners.len());
}

#[test]
fn scan_lines_side_by_side_are_one_area() {
    let mut bench = Bench::can();
    for k in 0..200 {
        let y = 0.1 * f64::from(k);
        let (from, to) = if k % 2 == 0 { (20.0, 60.0) } else { (60.0, 20.0) };
        bench.burn((from, y), (to, y), 2.0, 0);
    }
    let mesh = bench.mesh();
    close(area(&mesh, &bench.wall), 40.0 * (19.9 + SPOT_MM), 1e-3);
    assert!(mesh.corners.len() <= 16, "{}", mesh.corners.len());
    for (corner, _) in &mesh.corners {
        close(corner.density, 20.0, 1e-3);
    }
    // Burned from one side to the other, as the playing shows it.
    let first = mesh.corners.iter().map(|(c, _)| c).min_by(|a, b| a.at_s.total_cmp(&b.at_s));
    let last = mesh.corners.iter().map(|(c, _)| c).max_by(|a, b| a.at_s.total_cmp(&b.at_s));
    assert!(first.unwrap().turn_rad < 0.0 && last.unwrap().turn_rad > 19.9 / RADIUS_MM);
}

#[test]
fn scan_lines_around_are_one_area_on_a_cone_too() {
    let mut bench = Bench::new(&[(0.0, 20.0), (100.0, 40.0)]);
    let (low, high) = (-0.5, 0.5);
    let steps = 200;
    let mut expected = 0.0;
    for k in 0..steps {
        let s = 40.0 + 0.1 * f64::from(k);
        bench.burn((s, low * RADIUS_MM), (s, high * RADIUS_MM), 2.0, 0);
        expected += 0.1 * (high - low) * bench.wall.section(s, &mut 0).radius_mm;
    }
    let mesh = bench.mesh();
    close(area(&mesh, &bench.wall), expected, 4e-3);
    assert!(mesh.corners.len() <= 24, "{}", mesh.corners.len());
}

#[test]
fn a_disc_of_scan_lines_has_the_area_that_its_lines_cover() {
    let mut bench = Bench::can();
    let (radius, step) = (10.0_f64, 0.1);
    let half = |k: i32| (radius * radius - (step * (f64::from(k) + 0.5)).powi(2)).sqrt();
    for k in -100..100 {
        let (y, x) = (step * (f64::from(k) + 0.5), half(k));
        bench.burn((50.0 - x, y), (50.0 + x, y), 2.0, 0);
    }
    let mesh = bench.mesh();
    // The union of the lines, by counting: a fine grid of points.
    let mut covered = 0.0;
    let fine = 0.01;
    for k in -1010..1010 {
        let y = fine * (f64::from(k) + 0.5);
        let near =
            (-100..100).filter(|line| (y - step * (f64::from(*line) + 0.5)).abs() <= 0.5 * SPOT_MM);
        covered += fine * 2.0 * near.map(half).fold(0.0, f64::max);
    }
    close(area(&mesh, &bench.wall), covered, 3e-3);
    assert!(mesh.corners.len() < 300, "{}", mesh.corners.len());
}

#[test]
fn lines_apart_stay_lines() {
    let mut bench = Bench::can();
    for k in 0..20 {
        bench.burn((20.0, 0.5 * f64::from(k)), (60.0, 0.5 * f64::from(k)), 2.0, 0);
    }
    let mesh = bench.mesh();
    close(area(&mesh, &bench.wall), 20.0 * 40.0 * SPOT_MM, 1e-3);
    assert_eq!(mesh.corners.len(), 80);
}

#[test]
fn a_second_pass_adds_energy_and_no_corners() {
    let mut bench = Bench::can();
    bench.burn((10.0, 0.0), (40.0, 20.0), 1.0, 0);
    bench.burn((40.0, 20.0), (10.0, 0.0), 1.0, 0);
    let mesh = bench.mesh();
    assert_eq!(mesh.corners.len(), 4);
    close(mesh.corners[0].0.density, 2.0 / SPOT_MM, 1e-4);
}

#[test]
fn an_area_burned_across_too_shows_all_its_energy() {
    let mut bench = Bench::can();
    for k in 0..=100 {
        bench.burn((20.0, 0.1 * f64::from(k)), (30.0, 0.1 * f64::from(k)), 2.0, 0);
    }
    for k in 0..=100 {
        bench.burn((20.0 + 0.1 * f64::from(k), 0.0), (20.0 + 0.1 * f64::from(k), 10.0), 2.0, 0);
    }
    for (corner, _) in &bench.mesh().corners {
        close(corner.density, 40.0, 0.1);
    }
}

/// A square hatched along, its lower corner at a place in mm.
fn square(bench: &mut Bench, (s, y): (f64, f64), side: f64, energy: f64, section: u16) {
    let lines = (side / 0.1).round();
    let mut k = 0.0;
    while k <= lines {
        bench.burn((s, y + 0.1 * k), (s + side, y + 0.1 * k), energy, section);
        k += 1.0;
    }
}

/// By the sum of what two operations burn there: 2 and 1 %·s/mm over 0.1 mm are 20 and 10 a mm².
#[test]
fn where_two_operations_overlap_the_energy_is_that_of_both() {
    let mut bench = Bench::can();
    square(&mut bench, (20.0, 0.0), 10.0, 2.0, 0);
    square(&mut bench, (23.0, 3.0), 4.0, 1.0, 1);
    square(&mut bench, (50.0, 0.0), 10.0, 2.0, 2);
    let mesh = bench.mesh();
    // The large square is burned again in a part, and the small one burns nothing that is not
    // burned: both are drawn from the map, which has the sum.
    assert_eq!(mesh.sections, [false, false, true]);
    let cell = bench.map.cell(25.0, 5.0 / RADIUS_MM).unwrap();
    close(bench.map.density(cell), 30.0, 0.2);
    assert!(mesh.corners.iter().all(|(_, section)| *section == 2));
    mesh.corners.iter().for_each(|(corner, _)| close(corner.density, 20.0, 0.05));
}

#[test]
fn areas_side_by_side_and_lines_around_them_stay_sharp() {
    let mut bench = Bench::can();
    square(&mut bench, (20.0, 0.0), 10.0, 2.0, 0);
    square(&mut bench, (30.05, 0.0), 10.0, 1.0, 1);
    let corners = [(19.8, -0.2), (40.25, -0.2), (40.25, 10.2), (19.8, 10.2), (19.8, -0.2)];
    for pair in corners.windows(2) {
        bench.burn(pair[0], pair[1], 3.0, 2);
    }
    let mesh = bench.mesh();
    assert_eq!(mesh.sections, [true, true, true]);
    for (corner, section) in mesh.corners.iter().filter(|(_, section)| *section < 2) {
        close(corner.density, if *section == 0 { 20.0 } else { 10.0 }, 0.05);
    }
}

#[test]
fn a_dot_is_round_and_over_the_seam_nothing_is_torn() {
    let mut bench = Bench::can();
    bench.burn((20.0, 0.0), (20.0, 0.0), 1.0, 0);
    assert!(bench.mesh().corners.is_empty(), "a dot of no energy is none");
    let place = WallPlace { s_mm: 20.0, turn_rad: 0.0 };
    bench.map.burn(place, place, 3.0, 0.0, 0);
    bench.burns.burn((place, place), 3.0, (0.0, 1.0), 0);
    bench.burns.burn(
        (
            WallPlace { s_mm: 30.0, turn_rad: PI - 0.1 },
            WallPlace { s_mm: 30.0, turn_rad: PI + 0.1 },
        ),
        3.0,
        (1.0, 2.0),
        0,
    );
    bench.map.burn(
        WallPlace { s_mm: 30.0, turn_rad: PI - 0.1 },
        WallPlace { s_mm: 30.0, turn_rad: PI + 0.1 },
        3.0,
        1.0,
        0,
    );
    let mesh = bench.mesh();
    let dot = 0.25 * PI * SPOT_MM * SPOT_MM;
    close(area(&mesh, &bench.wall), dot + 0.2 * RADIUS_MM * SPOT_MM, 0.01);
    let turns: Vec<f64> = mesh.corners.iter().map(|(corner, _)| corner.turn_rad).collect();
    assert!(turns.iter().all(|turn| turn.abs() < PI + 0.11), "{turns:?}");
}

#[test]
fn a_photograph_is_left_to_the_map_and_the_frame_around_it_is_not() {
    let mut bench = Bench::can();
    for row in 0..100 {
        for column in 0..100 {
            let (x, y) = (20.0 + 0.1 * f64::from(column), 0.1 * f64::from(row));
            let energy = 1.0 + f64::from((column * 7 + row * 13) % 50);
            bench.burn((x, y), (x + 0.1, y), energy, 1);
        }
    }
    let corners = [(19.0, -1.0), (31.0, -1.0), (31.0, 11.0), (19.0, 11.0), (19.0, -1.0)];
    for pair in corners.windows(2) {
        bench.burn(pair[0], pair[1], 1.0, 2);
    }
    let mesh = bench.mesh();
    assert_eq!(mesh.sections, [false, false, true]);
    assert!(mesh.corners.iter().all(|(_, section)| *section == 2));
    close(area(&mesh, &bench.wall), 48.0 * SPOT_MM, 0.01);
}

/// The corners of a mesh's outline: where its triangles' sides that are no other triangle's end.
fn outline_corners(mesh: &Mesh) -> usize {
    let sides = mesh
        .triangles
        .chunks_exact(3)
        .flat_map(|three| [(three[0], three[1]), (three[1], three[2]), (three[2], three[0])]);
    let mut counts: HashMap<(u32, u32), usize> = HashMap::new();
    sides.for_each(|(a, b)| *counts.entry((a.min(b), a.max(b))).or_default() += 1);
    counts.values().filter(|count| **count == 1).count()
}

/// A dot of 2 mm, filled by scan lines or drawn around, is round when looked at closely; a straight
/// edge has no more corners for that.
#[test]
fn small_round_things_are_round() {
    let mut filled = Bench::can();
    for k in -19..20 {
        let y = 0.05 * f64::from(k);
        let half = (1.0 - y * y).sqrt();
        filled.burn((50.0 - half, y), (50.0 + half, y), 1.0, 0);
    }
    assert!(outline_corners(&filled.mesh()) >= 30, "{}", outline_corners(&filled.mesh()));
    let mut around = Bench::can();
    let at = |k: i32| {
        let (sin, cos) = (TAU * f64::from(k) / 120.0).sin_cos();
        (50.0 + cos, sin)
    };
    (0..120).for_each(|k| around.burn(at(k), at(k + 1), 1.0, 0));
    let points = around.burns.strokes()[0].points.len();
    assert!((30..=60).contains(&points), "{points}");
    let mut square = Bench::can();
    for k in 0..40 {
        let y = 0.05 * f64::from(k);
        square.burn((50.0 + 0.3 * y, y), (52.0 + 0.3 * y, y), 1.0, 0);
    }
    assert!(outline_corners(&square.mesh()) <= 8, "{}", outline_corners(&square.mesh()));
}
