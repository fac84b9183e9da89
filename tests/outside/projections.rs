//! The lays are the cartographers' projections read backwards: checked on globes, flat and tall.
//!
//! even-angle is the equidistant cylindrical projection, true-width the sinusoidal, true-shape
//! Mercator's. Tables `A_*`: closed forms and quadrature at 30 digits (see
//! `fixtures/reference/README.md`).

use crate::reference::{Row, close, lay_from, s_of_latitude, spheroid, table};
use stave_wall::{Distortion, LayKind, Wall};

fn check_table(file: &str, kind: LayKind, (equatorial, polar): (f64, f64)) {
    let (wall, equator) = spheroid(equatorial, polar);
    let lay = lay_from(&wall, kind, equator, equatorial);
    let size = equatorial.max(polar);
    for row in table(file) {
        let (x, y) = (row.number("x"), row.number("y"));
        let (s, turn) = (equator + row.number("profile_s"), row.number("lon_deg").to_radians());
        let what = format!("{file} lat {}", row.text("lat_deg"));

        let laid = lay.map(&wall, y, x, &mut 0);
        close(laid.s_mm, s, 1e-9 * size, &what);
        close(laid.turn_rad, turn, 1e-9 * turn.abs(), &what);
        close(laid.section.at_mm, row.number("profile_z"), 1e-9 * size, &what);
        close(laid.section.radius_mm, row.number("profile_r"), 1e-9 * size, &what);
        let (u, v) = lay.flat(&wall, s, turn).expect("a flat point");
        close(u, y, 1e-9 * size, &what);
        close(v, x, 1e-9 * size, &what);
        check_factors(&row, lay.jacobian(&wall, y, x), &what);
    }
}

/// Scales along the meridian and the parallel, and Tissot's indicatrix. The tables tell map over
/// globe, the Jacobian wall over flat, so one is the other's inverse.
fn check_factors(row: &Row, j: [[f64; 2]; 2], what: &str) {
    let determinant = j[0][0] * j[1][1] - j[0][1] * j[1][0];
    let h = j[1][1].hypot(j[1][0]) / determinant;
    let k = j[0][1].hypot(j[0][0]) / determinant;
    close(h, row.number("h"), 1e-9 * row.number("h"), what);
    close(k, row.number("k"), 1e-9 * row.number("k"), what);
    let tissot = Distortion::of_jacobian(j);
    close(tissot.a, 1.0 / row.number("tissot_b"), 1e-8, what);
    close(tissot.b, 1.0 / row.number("tissot_a"), 1e-8, what);
    close(tissot.area, 1.0 / row.number("areal"), 1e-9, what);
    close(tissot.omega_rad.to_degrees(), row.number("omega_deg"), 1e-7, what);
}

#[test]
fn even_angle_is_equidistant_cylindrical() {
    check_table("A_sphere1_eqc.csv", LayKind::EvenAngle, (1.0, 1.0));
    check_table("A_oblate50x40_eqc.csv", LayKind::EvenAngle, (50.0, 40.0));
    check_table("A_prolate50x80_eqc.csv", LayKind::EvenAngle, (50.0, 80.0));
}

#[test]
fn true_width_is_sinusoidal() {
    check_table("A_sphere1_sinu.csv", LayKind::TrueWidth, (1.0, 1.0));
    check_table("A_oblate50x40_sinu.csv", LayKind::TrueWidth, (50.0, 40.0));
    check_table("A_prolate50x80_sinu.csv", LayKind::TrueWidth, (50.0, 80.0));
}

#[test]
fn true_shape_is_mercator() {
    check_table("A_sphere1_merc.csv", LayKind::TrueShape, (1.0, 1.0));
    check_table("A_oblate50x40_merc.csv", LayKind::TrueShape, (50.0, 40.0));
    check_table("A_prolate50x80_merc.csv", LayKind::TrueShape, (50.0, 80.0));
}

/// Table A.7: meridian arcs by elliptic integral, isometric latitudes in closed form.
#[test]
fn meridian_arcs_and_isometric_latitudes() {
    for (file, equatorial, polar) in
        [("A_meridian_oblate50x40.csv", 50.0, 40.0), ("A_meridian_prolate50x80.csv", 50.0, 80.0)]
    {
        let (wall, equator) = spheroid(equatorial, polar);
        for row in table(file).iter().filter(|row| row.number("lat_deg") < 89.0) {
            let s = s_of_latitude(&wall, equatorial, polar, row.number("lat_deg"));
            close(s - equator, row.number("meridian_arc"), 1e-9, file);
            close(wall.section(s, &mut 0).radius_mm, row.number("profile_r"), 1e-9, file);
            let psi = wall.conformal(s) - wall.conformal(equator);
            close(psi, row.number("isometric_psi"), 1e-9, file);
            close(wall.s_of_conformal(wall.conformal(s)), s, 1e-9, file);
        }
    }
}

fn polar_mm(equatorial_mm: f64, e2: f64) -> f64 {
    equatorial_mm * (1.0 - e2).sqrt()
}

/// J. P. Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395 (1987), Table 7,
/// printed to five decimals.
#[test]
fn snyder_table_7_mercator() {
    let bodies = [("sphere", 1.0), ("clarke1866", polar_mm(1.0, 0.006_768_66))];
    for (name, polar) in bodies {
        let (wall, equator) = spheroid(1.0, polar);
        let lay = lay_from(&wall, LayKind::TrueShape, equator, 1.0);
        for row in table("A_pub_snyder_table7_mercator.csv") {
            let s = s_of_latitude(&wall, 1.0, polar, row.number("lat_deg"));
            close(
                lay.u_of_s(&wall, s).expect("level"),
                row.number(&format!("y_{name}")),
                6e-6,
                name,
            );
            let k = 1.0 / wall.section(s, &mut 0).radius_mm;
            close(k, row.number(&format!("k_{name}")), 6e-6, name);
        }
    }
}

/// Snyder, Table 4: metres per degree of latitude and longitude, printed to 0.1 m. A degree of
/// latitude is the length for the curvature at that latitude; here it is the slope's turn over a
/// short arc.
#[test]
fn snyder_table_4_degree_lengths() {
    for (name, equatorial, e2) in
        [("clarke1866", 6_378_206.4, 0.006_768_66), ("international", 6_378_388.0, 0.006_722_67)]
    {
        let polar = polar_mm(equatorial, e2);
        let (wall, _) = spheroid(equatorial, polar);
        for row in table("A_pub_snyder_table4_degree_lengths.csv") {
            let latitude = row.number("lat_deg");
            if latitude > 86.0 {
                continue; // the arc below would run past the wall, which stops short of the pole
            }
            let s = s_of_latitude(&wall, equatorial, polar, latitude);
            let longitude_m = wall.section(s, &mut 0).radius_mm.to_radians();
            close(longitude_m, row.number(&format!("{name}_deg_lon_m")), 0.06, name);
            let half = 0.05;
            let arc = s_of_latitude(&wall, equatorial, polar, latitude + half)
                - s_of_latitude(&wall, equatorial, polar, latitude - half);
            close(arc / (2.0 * half), row.number(&format!("{name}_deg_lat_m")), 0.07, name);
        }
    }
}

/// Snyder, Appendix A, numerical examples of eqs 7-1 to 7-3, 30-1 to 30-5, 30-8 and 30-9, and the
/// auxiliary latitudes of ch. 3, as printed.
#[test]
fn snyder_appendix_a() {
    let (ball, equator) = spheroid(1.0, 1.0);
    let degree = |deg: f64| deg.to_radians();

    let mercator = lay_from(&ball, LayKind::TrueShape, equator, 1.0);
    let (u, v) =
        mercator.flat(&ball, equator + degree(35.0), degree(-75.0 + 180.0)).expect("on the ball");
    close(v, 1.832_595_7, 1e-7, "mercator x");
    close(u, 0.652_836_6, 1e-7, "mercator y");
    close(1.0 / mercator.jacobian(&ball, u, v)[0][0], 1.220_774_6, 1e-7, "mercator h");

    let sinusoidal = lay_from(&ball, LayKind::TrueWidth, equator, 1.0);
    let (u, v) =
        sinusoidal.flat(&ball, equator + degree(-50.0), degree(-75.0 + 90.0)).expect("on the ball");
    close(v, 0.168_281_4, 1e-7, "sinusoidal x");
    close(u, -0.872_664_6, 1e-7, "sinusoidal y");
    let j = sinusoidal.jacobian(&ball, u, v);
    close(j[1][0].hypot(1.0), 1.019_911_9, 1e-7, "sinusoidal h");
    close(
        Distortion::of_jacobian(j).omega_rad.to_degrees(),
        11.452_384_2,
        1e-6,
        "sinusoidal omega",
    );

    let (a, e2) = (6_378_206.4, 0.006_768_66);
    let (clarke, equator) = spheroid(a, polar_mm(a, e2));
    let sinusoidal = lay_from(&clarke, LayKind::TrueWidth, equator, a);
    let s = s_of_latitude(&clarke, a, polar_mm(a, e2), -50.0);
    let (u, v) = sinusoidal.flat(&clarke, s, degree(15.0)).expect("on the globe");
    close(v, 1_075_471.5, 0.1, "sinusoidal ellipsoid x");
    close(u, -5_540_628.0, 0.1, "sinusoidal ellipsoid y");

    let s = s_of_latitude(&clarke, a, polar_mm(a, e2), 40.0);
    close(clarke.conformal(s) - clarke.conformal(equator), 0.758_554_8, 1e-7, "isometric latitude");
    close((s - equator) / a, 0.694_445_8, 1e-7, "meridian distance");
}

/// EPSG registry, methods 9804 and 9805 (IOGP Guidance Note 7-2), worked examples.
#[test]
fn epsg_mercator_examples() {
    let check = |a: f64, rf: f64, scale: f64, lat: f64, lon: f64, east: f64, north: f64| {
        let polar = a * (1.0 - 1.0 / rf);
        let (wall, equator) = spheroid(a, polar);
        let lay = lay_from(&wall, LayKind::TrueShape, equator, a * scale);
        let s = s_of_latitude(&wall, a, polar, lat);
        let (u, v) = lay.flat(&wall, s, lon.to_radians()).expect("on the globe");
        close(v, east, 0.01, "easting");
        close(u, north, 0.01, "northing");
    };
    check(
        6_377_397.155,
        299.152_81,
        0.997,
        -3.0,
        10.0,
        5_009_726.58 - 3_900_000.0,
        569_150.82 - 900_000.0,
    );
    check(6_378_245.0, 298.3, 0.744_260_894, 53.0, 2.0, 165_704.29, 5_171_848.07);
}

/// A ball measured at two thousand stations is the ball, to the sagitta of its runs.
#[test]
fn a_densely_stationed_ball_is_the_ball() {
    use stave_wall::{Station, WallShape};
    let count = 2000;
    let stations: Vec<Station> = (0..=count)
        .map(|i| {
            let t = (-80.0 + 160.0 * f64::from(i) / f64::from(count)).to_radians();
            Station { at_mm: 50.0 * t.sin(), radius_mm: 50.0 * t.cos() }
        })
        .collect();
    let wall = Wall::from_stations(&stations, WallShape::Straight).expect("sound stations");
    let equator = wall.s_of_at(0.0);
    let lay = lay_from(&wall, LayKind::TrueShape, equator, 50.0);
    for row in table("A_sphere1_merc.csv").iter().filter(|row| row.number("lat_deg").abs() < 79.0) {
        let laid = lay.map(&wall, 50.0 * row.number("y"), 50.0 * row.number("x"), &mut 0);
        // The chords of 0.08 degrees lie up to 50 (1 − cos 0.04°) = 1.2e-5 mm inside the ball.
        close(laid.section.at_mm, 50.0 * row.number("profile_z"), 5e-5, "z");
        close(laid.section.radius_mm, 50.0 * row.number("profile_r"), 5e-5, "r");
    }
}
