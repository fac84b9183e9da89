//! The label lay against geodesics and azimuthal projections computed elsewhere, and the
//! development of cones.

use crate::reference::{
    close, latitude_of_s, lay_from, s_of_latitude, spheroid, spheroid_between, table,
};
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use proptest::prelude::*;
use stave_tests::cases;
use stave_wall::{Distortion, Lay, LayKind, Station, Wall, WallShape};

const BODIES: [(&str, f64); 3] =
    [("mild50x49", 49.0), ("oblate50x40", 40.0), ("prolate50x80", 80.0)];

fn label(wall: &Wall, anchor_s_mm: f64) -> Lay {
    lay_from(wall, LayKind::Label, anchor_s_mm, 50.0)
}

fn wall(points: &[(f64, f64)], shape: WallShape) -> Wall {
    let stations: Vec<Station> =
        points.iter().map(|&(at_mm, radius_mm)| Station { at_mm, radius_mm }).collect();
    Wall::from_stations(&stations, shape).expect("sound stations")
}

/// Table A.8: 30-digit quadrature of the geodesic integrals (C. F. F. Karney, Algorithms for
/// geodesics, J. Geodesy 87 (2013), eqs 7 and 8).
#[test]
fn geodesics_given_distance_and_azimuth() {
    for (body, polar) in BODIES {
        let (wall, _) = spheroid(50.0, polar);
        for row in table(&format!("A_geodesic_direct_{body}.csv")) {
            let start = s_of_latitude(&wall, 50.0, polar, row.number("lat1"));
            let (sin, cos) = row.number("azi1").to_radians().sin_cos();
            let distance = row.number("s12");
            let laid = label(&wall, start).map(&wall, distance * cos, distance * sin, &mut 0);
            let end = s_of_latitude(&wall, 50.0, polar, row.number("lat2"));
            let turn = (row.number("lon2_unrolled") - row.number("lon1")).to_radians();
            close(laid.s_mm, end, 1e-7, body);
            close(
                laid.turn_rad * laid.section.radius_mm,
                turn * laid.section.radius_mm,
                1e-7,
                body,
            );
        }
    }
}

#[test]
fn geodesics_given_both_ends() {
    for (body, polar) in BODIES {
        let (wall, _) = spheroid(50.0, polar);
        for row in table(&format!("A_geodesic_inverse_{body}.csv")) {
            let start = s_of_latitude(&wall, 50.0, polar, row.number("lat1"));
            let end = s_of_latitude(&wall, 50.0, polar, row.number("lat2"));
            let turn = (row.number("lon2") - row.number("lon1")).to_radians();
            let (u, v) = label(&wall, start).flat(&wall, end, turn).expect("a geodesic");
            close(u.hypot(v), row.number("s12"), 1e-7, body);
            close(v.atan2(u).to_degrees(), row.number("azi1"), 1e-6, body);
        }
    }
}

/// The oblique azimuthal equidistant projection of the sphere about 30° N, and of the oblate body
/// about 20° N.
#[test]
fn label_is_azimuthal_equidistant() {
    let (ball, equator) = spheroid_between(1.0, 1.0, -89.0, 89.0);
    let lay = label(&ball, equator + 30_f64.to_radians());
    for row in table("A_sphere1_aeqd_lat30.csv") {
        let (x, y) = (row.number("x"), row.number("y"));
        let laid = lay.map(&ball, y, x, &mut 0);
        let what = format!("lat {}", row.text("lat_deg"));
        close(laid.s_mm - equator, row.number("lat_deg").to_radians(), 1e-8, &what);
        close(laid.turn_rad, row.number("lon_deg").to_radians(), 1e-7, &what);
        let j = lay.jacobian(&ball, y, x);
        let tissot = Distortion::of_jacobian(j);
        close(1.0 / tissot.b, row.number("tissot_a"), 1e-7, &what);
        close(1.0 / tissot.a, row.number("tissot_b"), 1e-7, &what);
        close(1.0 / tissot.area, row.number("areal"), 1e-7, &what);
        close(tissot.omega_rad.to_degrees(), row.number("omega_deg"), 1e-5, &what);
        // Scale along the meridian and the parallel, map over globe: columns of the inverse.
        let determinant = j[0][0] * j[1][1] - j[0][1] * j[1][0];
        close(j[1][1].hypot(j[1][0]) / determinant, row.number("h"), 1e-7, &what);
        close(j[0][0].hypot(j[0][1]) / determinant, row.number("k"), 1e-7, &what);
    }
    let (wall, _) = spheroid(50.0, 40.0);
    let lay = label(&wall, s_of_latitude(&wall, 50.0, 40.0, 20.0));
    for row in table("A_oblate50x40_aeqd_lat20.csv") {
        let s = s_of_latitude(&wall, 50.0, 40.0, row.number("lat_deg"));
        let (u, v) = lay.flat(&wall, s, row.number("lon_deg").to_radians()).expect("a flat point");
        close(u, row.number("y"), 1e-7, "oblate y");
        close(v, row.number("x"), 1e-7, "oblate x");
    }
}

/// J. P. Snyder, USGS Professional Paper 1395 (1987), Table 30: equatorial aspect, sphere, printed
/// to five decimals.
#[test]
fn snyder_table_30() {
    let (ball, equator) = spheroid(1.0, 1.0);
    let lay = label(&ball, equator);
    for row in table("A_pub_snyder_table30_aeqd_equatorial.csv") {
        let s = equator + row.number("lat_deg").to_radians();
        let (u, v) = lay.flat(&ball, s, row.number("lon_deg").to_radians()).expect("a flat point");
        close(v, row.number("x"), 6e-6, "x");
        close(u, row.number("y"), 6e-6, "y");
    }
}

/// Snyder, Table 31: polar aspect, International ellipsoid. About a pole the map radius is the
/// meridian's length from there and the scale around is that over the wall's radius; the wall stops
/// 0.1" short of the pole.
#[test]
fn snyder_table_31() {
    let (a, e2) = (6_378_388.0, 0.006_722_67_f64);
    let polar = a * (1.0 - e2).sqrt();
    let short = 0.1 / 3600.0;
    let (wall, _) = spheroid_between(a, polar, -1.0, 90.0 - short);
    let pole = wall.length_mm() + short.to_radians() * a;
    for row in table("A_pub_snyder_table31_aeqd_polar.csv")
        .iter()
        .filter(|row| row.number("lat_deg") < 90.0)
    {
        let s = s_of_latitude(&wall, a, polar, row.number("lat_deg"));
        close(pole - s, row.number("radius_m"), 0.1, "radius");
        close((pole - s) / wall.section(s, &mut 0).radius_mm, row.number("k"), 2e-6, "k");
    }
}

/// The development of a frustum, table B: on one cone the label is an isometry, so all distances
/// between its flat points are those of the sheet.
#[test]
fn on_a_cone_the_label_is_the_development() {
    // The same cone, longer, so that every straight line between the points stays on it.
    let cone = wall(&[(-80.0, 20.0), (140.0, 47.5)], WallShape::Straight);
    let small_end = cone.s_of_at(0.0);
    let rows = table("B_frustum1_point_map.csv");
    for anchor in [small_end, small_end + 40.0, small_end + 100.0] {
        let lay = label(&cone, anchor);
        let points: Vec<_> = rows
            .iter()
            .map(|row| {
                let flat = lay.flat(
                    &cone,
                    small_end + row.number("s_from_small_end"),
                    row.number("phi_deg").to_radians(),
                );
                (flat.expect("a flat point"), (row.number("flat_x"), row.number("flat_y")))
            })
            .collect();
        for (one, sheet_one) in &points {
            for (other, sheet_other) in &points {
                let found = (one.0 - other.0).hypot(one.1 - other.1);
                let expected = (sheet_one.0 - sheet_other.0).hypot(sheet_one.1 - sheet_other.1);
                close(found, expected, 1e-9, "distance");
            }
        }
    }
}

proptest! {
    #![proptest_config(cases(32))]

    /// The crate geographiclib-rs, on bodies flattened so little that its series are exact to
    /// rounding.
    #[test]
    fn agrees_with_geographiclib(
        f in -0.015..0.015f64,
        lat in -60.0..60.0f64,
        azimuth in -180.0..180.0f64,
        distance in 0.1..70.0f64,
    ) {
        let polar = 50.0 * (1.0 - f);
        // By Clairaut's relation a geodesic comes no nearer to a pole than this: as with its end,
        // two degrees are kept, where half a turn goes by within a hair.
        prop_assume!(lat.to_radians().cos() * azimuth.to_radians().sin().abs() > 0.035);
        let (wall, _) = spheroid(50.0, polar);
        let globe = Geodesic::new(50.0, f);
        let (lat2, lon2, _) =
            DirectGeodesic::<(f64, f64, f64)>::direct(&globe, lat, 0.0, azimuth, distance);
        prop_assume!(lat2.abs() < 88.0);
        let (sin, cos) = azimuth.to_radians().sin_cos();
        let lay = label(&wall, s_of_latitude(&wall, 50.0, polar, lat));
        let laid = lay.map(&wall, distance * cos, distance * sin, &mut 0);
        let along = (latitude_of_s(&wall, laid.s_mm) - lat2).to_radians() * 50.0;
        let turn = (laid.turn_rad.to_degrees() - lon2 + 540.0).rem_euclid(360.0) - 180.0;
        prop_assert!(along.abs() < 1e-7, "{along}");
        prop_assert!((turn.to_radians() * laid.section.radius_mm).abs() < 1e-7);

        // And back, where the shortest way is not in doubt.
        let back: f64 = InverseGeodesic::<f64>::inverse(&globe, lat, 0.0, lat2, lon2);
        prop_assume!((back - distance).abs() < 1e-9);
        let (u, v) = lay.flat(&wall, laid.s_mm, laid.turn_rad).expect("a geodesic");
        prop_assert!((u.hypot(v) - back).abs() < 1e-7);
    }
}
