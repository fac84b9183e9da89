//! Outside tables through the command: map projections on balls and spheroids, cones against their
//! development.
//!
//! A lay is a projection run backwards (J. P. Snyder, USGS Professional Paper 1395): even-angle the
//! equidistant cylindrical, true-width the sinusoidal, true-shape the Mercator. So a program that
//! goes to a table's `x`, `y` must turn the blank to its longitude and reach its place on the
//! outline.

use crate::command::{LAID, fixture, run};
use crate::lay::LayKind;
use crate::program;
use std::fmt::Write;

struct Row {
    names: std::sync::Arc<[String]>,
    values: Vec<f64>,
}

impl Row {
    fn get(&self, name: &str) -> f64 {
        self.values[self
            .names
            .iter()
            .position(|n| n == name)
            .unwrap_or_else(|| panic!("no column {name}"))]
    }
}

/// The numeric columns of a table; a column of words reads as NaN.
fn table(file: &str) -> Vec<Row> {
    let text = std::fs::read_to_string(fixture(&format!("reference/{file}.csv"))).unwrap();
    let mut lines = text.lines();
    let names: std::sync::Arc<[String]> =
        lines.next().unwrap().split(',').map(str::to_owned).collect();
    let rows: Vec<_> = lines
        .map(|line| Row {
            names: names.clone(),
            values: line.split(',').map(|v| v.parse().unwrap_or(f64::NAN)).collect(),
        })
        .collect();
    assert!(!rows.is_empty());
    rows
}

/// A blank of many stations.
fn blank(stations: impl Iterator<Item = (f64, f64)>, wall: &str) -> String {
    let mut text = format!("name = \"reference body\"\nwall = \"{wall}\"\n");
    for (z, r) in stations {
        write!(text, "[[station]]\nat = {z:.12}\ndiameter = {:.12}\n", 2.0 * r).unwrap();
    }
    text
}

/// The `degrees` machine with seven decimals, and reach to the poles of the tables.
fn machine() -> String {
    std::fs::read_to_string(fixture("machines/degrees.toml"))
        .unwrap()
        .replace("decimals = 4", "decimals = 7")
        .replace("steepest = 75.0", "steepest = 89.0")
}

/// Wraps travels to `flat` points and gives back the X and A words they end at.
fn wrapped(blank: &str, lay: LayKind, place_at: f64, flat: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let (blank, machine) = (path("blank.toml", blank), path("machine.toml", &machine()));
    let mut program = String::from("G21 G90\nM4 S0\n");
    for (u, v) in flat {
        // To somewhere else first, so that each point is a move of its own.
        writeln!(program, "G0 X{:.9} Y{:.9}\nG0 X{u:.12} Y{v:.12}", u + 1.0, v - 1.0).unwrap();
    }
    program.push_str("M2\n");
    let at = place_at.to_string();
    let wrap = ["wrap", "-b", &blank, "-m", &machine, "--lay", lay.name(), "--place-at", &at];
    let outcome = run(&[&wrap[..], &LAID].concat(), program.as_bytes()).done();
    let moves = program::read(outcome.out_text()).moves;
    assert_eq!(moves.len(), 2 * flat.len());
    moves.iter().skip(1).step_by(2).map(|m| (m.to[0], m.to[3])).collect()
}

const PROJECTIONS: [(LayKind, &str); 3] =
    [(LayKind::EvenAngle, "eqc"), (LayKind::TrueWidth, "sinu"), (LayKind::TrueShape, "merc")];

/// One body of revolution, equatorial radius `a`, polar `b`, against its tables; `scale` turns
/// table lengths into mm.
fn against_projections(
    body: &str,
    a: f64,
    b: f64,
    scale: f64,
    wall: &str,
    stations: u32,
    tolerance: f64,
) {
    // Stations by even steps of the parametric angle, to within 2 degrees of the poles.
    let angle = |k: u32| (f64::from(k) / f64::from(stations) * 2.0 - 1.0) * 88_f64.to_radians();
    let blank = blank((0..=stations).map(|k| (b * angle(k).sin(), a * angle(k).cos())), wall);
    for (lay, projection) in PROJECTIONS {
        let rows = table(&format!("A_{body}_{projection}"));
        let flat: Vec<_> = rows.iter().map(|r| (r.get("y") * scale, r.get("x") * scale)).collect();
        let mut worst = 0.0_f64;
        for (row, (x, a_word)) in rows.iter().zip(wrapped(&blank, lay, 0.0, &flat)) {
            let r = row.get("profile_r") * scale;
            let along = x - row.get("profile_z") * scale;
            let around = r * (a_word - row.get("lon_deg")).to_radians();
            worst = worst.max(along.abs()).max(around.abs());
        }
        assert!(worst < tolerance, "{body}, {wall}, {projection}: off by {worst} mm");
        assert!(rows.len() >= 8);
    }
}

#[test]
fn a_ball_of_many_stations_is_mapped_as_the_sphere_is() {
    // 2000 chords of a 40 mm ball: sagitta 40·(π/2000)²/8 = 1.2e-5 mm, and their sum is short by
    // 2.6e-6 mm; Mercator magnifies what the poles' r is off.
    against_projections("sphere1", 40.0, 40.0, 40.0, "straight", 2000, 1e-4);
    // Cubics by three-point slopes are third-order: 500 of them do better still away from the
    // poles.
    against_projections("sphere1", 40.0, 40.0, 40.0, "smooth", 500, 1e-4);
}

#[test]
fn flattened_and_tall_bodies_are_mapped_as_spheroids_are() {
    against_projections("oblate50x40", 50.0, 40.0, 1.0, "straight", 2000, 1e-4);
    against_projections("prolate50x80", 50.0, 80.0, 1.0, "straight", 2000, 2e-4);
    against_projections("oblate50x40", 50.0, 40.0, 1.0, "smooth", 500, 1e-4);
    against_projections("prolate50x80", 50.0, 80.0, 1.0, "smooth", 500, 2e-4);
}

#[test]
fn meridian_arcs_are_as_long_as_the_elliptic_integral() {
    for (body, a, b) in [("oblate50x40", 50.0, 40.0), ("prolate50x80", 50.0, 80.0_f64)] {
        let angle = |k: u32| (f64::from(k) / 1000.0 - 1.0) * 88_f64.to_radians();
        let blank = blank((0..=2000).map(|k| (b * angle(k).sin(), a * angle(k).cos())), "straight");
        let rows: Vec<_> = table(&format!("A_meridian_{body}"))
            .into_iter()
            .filter(|r| r.get("lat_deg").abs() < 80.0)
            .collect();
        let flat: Vec<_> = rows.iter().map(|r| (r.get("meridian_arc"), 0.0)).collect();
        for (row, (x, _)) in rows.iter().zip(wrapped(&blank, LayKind::EvenAngle, 0.0, &flat)) {
            assert!(
                (x - row.get("profile_z")).abs() < 5e-5,
                "{body} at {}: {x}",
                row.get("lat_deg")
            );
        }
        // ∫ds/r is the isometric latitude.
        let flat: Vec<_> = rows.iter().map(|r| (r.get("isometric_psi") * a, 0.0)).collect();
        for (row, (x, _)) in rows.iter().zip(wrapped(&blank, LayKind::TrueShape, 0.0, &flat)) {
            assert!(
                (x - row.get("profile_z")).abs() < 5e-5,
                "{body} at {}: {x}",
                row.get("lat_deg")
            );
        }
    }
}

#[test]
fn cones_agree_with_their_development() {
    for row in table("B_frusta") {
        let (small, large, height) = (row.get("r_small"), row.get("r_large"), row.get("height"));
        let (inner, outer) = (row.get("R_inner"), row.get("R_outer"));
        let sector = row.get("sector_deg").to_radians();
        let blank = blank([(0.0, small), (height, large)].into_iter(), "straight");
        // Along the wall the development's own radius counts; around, an arc of the outer edge is
        // as long flat as laid.
        let fractions = [0.1, 0.35, 0.5, 0.8, 1.0];
        let slant: Vec<_> = fractions.iter().map(|f| f * row.get("slant")).collect();
        let arc = |f: f64| (inner + f * (outer - inner)) * sector;
        let flat: Vec<_> = slant.iter().zip(fractions).map(|(s, f)| (*s, arc(f) / 4.0)).collect();
        for ((x, a), f) in wrapped(&blank, LayKind::TrueWidth, 0.0, &flat).iter().zip(fractions) {
            assert!((x - f * height).abs() < 2e-7 * height, "{x} for {}", f * height);
            assert!((a - 90.0).abs() < 1e-6, "a quarter of the sector is a quarter turn: {a}");
        }
        // True shape: in the development equal steps of the drawing are equal factors of the
        // distance from the apex.
        let sine = (large - small) / row.get("slant");
        let flat: Vec<_> = fractions
            .iter()
            .map(|f| ((1.0 + f * (outer - inner) / inner).ln() / sine * large, 0.0))
            .collect();
        for ((x, _), f) in wrapped(&blank, LayKind::TrueShape, 0.0, &flat).iter().zip(fractions) {
            assert!((x - f * height).abs() < 2e-7 * height, "{x} for {}", f * height);
        }
    }
    let points = table("B_frustum1_point_map");
    let blank = blank([(0.0, 30.0), (100.0, 42.5)].into_iter(), "straight");
    let flat: Vec<_> = points
        .iter()
        .map(|p| (p.get("s_from_small_end"), p.get("surface_r") * p.get("phi_deg").to_radians()))
        .collect();
    for (point, (x, a)) in points.iter().zip(wrapped(&blank, LayKind::TrueWidth, 0.0, &flat)) {
        assert!(
            (x - point.get("z")).abs() < 2e-6 && (a - point.get("phi_deg")).abs() < 2e-6,
            "{x} {a}"
        );
    }
}
