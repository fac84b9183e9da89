//! Lengths, conformal lengths and areas of outlines with closed forms (table A.9), and of cone
//! frusta (table B).

use crate::reference::{self, close, table};
use stave_wall::{Development, LeastLine, ParametricPoint, Station, Strip, Wall, WallShape};

/// The numbers that follow each name in a line such as `r1=30.0 r2=42.5 H=100.0`.
fn named(text: &str, name: &str) -> f64 {
    let from = text.find(&format!("{name}=")).expect("the name") + name.len() + 1;
    let rest = &text[from..];
    let end = rest
        .find(|letter: char| !(letter.is_ascii_digit() || ".-".contains(letter)))
        .unwrap_or(rest.len());
    rest[..end].parse().expect("a number")
}

/// The area of the wall, ∫ 2π r ds, by Simpson's rule on each span.
fn area(wall: &Wall) -> f64 {
    let (count, ends) = (20_000, (0.0, wall.length_mm()));
    let step = (ends.1 - ends.0) / f64::from(count);
    let sum: f64 = (0..=count)
        .map(|i| {
            let weight = if i == 0 || i == count {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            };
            weight * wall.section(ends.0 + step * f64::from(i), &mut 0).radius_mm
        })
        .sum();
    std::f64::consts::TAU * sum * step / 3.0
}

/// Table A.9: each value a closed form, equal to 34-digit quadrature to 1e-14.
#[test]
fn outlines_with_closed_forms() {
    for row in table("A_surfaces_of_revolution.csv") {
        let (surface, params) = (row.text("surface"), row.text("params"));
        let (from, to) = (row.number("t_start"), row.number("t_end"));
        let point = |at_mm, radius_mm, at_rate, radius_rate| ParametricPoint {
            at_mm,
            radius_mm,
            at_rate,
            radius_rate,
        };
        let wall = match surface {
            "frustum" => {
                let (r1, r2, h) = (named(params, "r1"), named(params, "r2"), named(params, "H"));
                let stations =
                    [Station { at_mm: 0.0, radius_mm: r1 }, Station { at_mm: h, radius_mm: r2 }];
                for shape in [WallShape::Straight, WallShape::Smooth] {
                    let wall = Wall::from_stations(&stations, shape).expect("a frustum");
                    close(
                        wall.conformal(wall.length_mm()),
                        row.number("conformal_v"),
                        1e-12,
                        params,
                    );
                }
                Wall::from_stations(&stations, WallShape::Straight)
            }
            "catenoid" => {
                let c = named(params, " c");
                Wall::parametric(&|z| point(z, c * (z / c).cosh(), 1.0, (z / c).sinh()), from, to)
            }
            "torus_band" | "sphere_zone" => {
                let (centre, q) = match surface {
                    "torus_band" => (named(params, "R0"), named(params, " q")),
                    _ => (0.0, named(params, " R")),
                };
                // A band past the equator of its tube runs back along the axis, so it is taken the
                // other way up.
                let flip = if to > 90.0 { -1.0 } else { 1.0 };
                let band = |t: f64| {
                    let (sin, cos) = t.sin_cos();
                    point(flip * q * sin, centre + q * cos, flip * q * cos, -q * sin)
                };
                Wall::parametric(&band, from.to_radians(), to.to_radians())
            }
            _ => {
                let k = named(params, "k");
                Wall::parametric(&|r| point(k * r * r, r, 2.0 * k * r, 1.0), from, to)
            }
        }
        .unwrap_or_else(|error| panic!("{surface} {params}: {error}"));
        for (found, name) in [
            (wall.length_mm(), "arc_length"),
            (wall.conformal(wall.length_mm()), "conformal_v"),
            (area(&wall), "area"),
            (wall.section(0.0, &mut 0).radius_mm, "r_start"),
            (wall.section(wall.length_mm(), &mut 0).radius_mm, "r_end"),
        ] {
            let expected = row.number(name);
            close(found, expected, 1e-9 * expected, &format!("{surface} {params} {name}"));
        }
    }
}

/// Table B: slant height, half angle and lateral area of frusta. E. M. Longfield, Sheet Metal
/// Drafting (McGraw-Hill 1921), p. 128, for the slant of the last: right triangle of 1.5 and 3.
#[test]
fn frusta_have_the_slant_of_the_handbooks() {
    let frustum = |r1: f64, r2: f64, h: f64| {
        let stations = [Station { at_mm: 0.0, radius_mm: r1 }, Station { at_mm: h, radius_mm: r2 }];
        Wall::from_stations(&stations, WallShape::Straight).expect("a frustum")
    };
    for row in table("B_frusta.csv") {
        let wall = frustum(row.number("r_small"), row.number("r_large"), row.number("height"));
        close(wall.length_mm(), row.number("slant"), 1e-9, row.text("case"));
        let slope = wall.section(1.0, &mut 0).slope_rad().to_degrees();
        close(slope, row.number("half_angle_deg"), 1e-9, row.text("case"));
        close(
            area(&wall),
            row.number("lateral_area"),
            1e-9 * row.number("lateral_area"),
            row.text("case"),
        );
        let sheet = Development::of_span(&wall, 0).expect("a cone");
        let (inner, outer) = sheet.radii_mm().expect("a cone");
        close(inner, row.number("R_inner"), 1e-9 * inner, row.text("case"));
        close(outer, row.number("R_outer"), 1e-9 * outer, row.text("case"));
        close(sheet.sector_rad().to_degrees(), row.number("sector_deg"), 1e-9, row.text("case"));
        // The sheet is closed by one straight line from corner to corner of each end.
        for (s, chord) in [(0.0, "chord_inner"), (sheet.slant_mm(), "chord_outer")] {
            let (one, other) = (sheet.point_mm(s, 0.0), sheet.point_mm(s, std::f64::consts::TAU));
            let found = (one.0 - other.0).hypot(one.1 - other.1);
            close(found, row.number(chord), 1e-9 * found, row.text("case"));
        }
    }
    close(frustum(1.5, 3.0, 3.0).length_mm(), 3.354_101_966_249_684_7, 1e-12, "Longfield");
}

/// Table B, the points of the first frustum's sheet: there the apex is the origin and turn 0 lies
/// along −y.
#[test]
fn the_sheet_of_a_frustum_is_the_development() {
    let stations =
        [Station { at_mm: 0.0, radius_mm: 30.0 }, Station { at_mm: 100.0, radius_mm: 42.5 }];
    let wall = Wall::from_stations(&stations, WallShape::Straight).expect("a frustum");
    let sheet = Development::of_span(&wall, 0).expect("a cone");
    for row in table("B_frustum1_point_map.csv") {
        let (x, y) =
            sheet.point_mm(row.number("s_from_small_end"), row.number("phi_deg").to_radians());
        close(x, row.number("flat_x"), 1e-9, "x");
        close(-y - sheet.radii_mm().expect("a cone").0, row.number("flat_y"), 1e-9, "y");
    }
    let smooth = Wall::from_stations(&stations, WallShape::Smooth).expect("a frustum");
    assert_eq!(Development::of_span(&smooth, 0), None);
    assert_eq!(Development::of_span(&wall, 1), None);
    assert_eq!(Development::of_span(&wall, usize::MAX), None);
}

/// A cylinder's sheet is a rectangle, and a near cylinder's is as good as one. A right cone of 90°
/// at the apex has a sector of 254.6° (common practice in cone layout, √½ of a turn).
#[test]
fn sheets_of_a_can_and_of_a_steep_cone() {
    for widen in [0.0, 1e-13, 1e-9] {
        let stations = [
            Station { at_mm: 0.0, radius_mm: 30.0 },
            Station { at_mm: 50.0, radius_mm: 30.0 + widen },
        ];
        let can = Wall::from_stations(&stations, WallShape::Straight).expect("a can");
        let sheet = Development::of_span(&can, 0).expect("a can");
        assert_eq!(sheet.radii_mm().is_none(), widen == 0.0);
        let (x, y) = sheet.point_mm(20.0, 2.0);
        close(x, 60.0, 1e-8, "x");
        close(y, 20.0, 1e-8, "y");
    }
    let stations =
        [Station { at_mm: 0.0, radius_mm: 10.0 }, Station { at_mm: 10.0, radius_mm: 20.0 }];
    let cone = Wall::from_stations(&stations, WallShape::Straight).expect("a cone");
    let sector = Development::of_span(&cone, 0).expect("a cone").sector_rad().to_degrees();
    close(sector, 254.6, 0.05, "sector");
}

/// Table H: lines of least vertical error (linear programming agrees) and strips of least width (a
/// dense scan of angles agrees; M. E. Houle, G. T. Toussaint, Computing the width of a set, 1988).
#[test]
fn least_lines_and_narrowest_strips() {
    let data: serde_json::Value =
        serde_json::from_str(&reference::text("H_minimax_and_width.json")).expect("JSON");
    let sets = data["point_sets"].as_array().expect("point sets");
    assert_eq!(sets.len(), 7);
    for set in sets {
        let name = set["name"].as_str().expect("a name");
        let points: Vec<(f64, f64)> = set["points"]
            .as_array()
            .expect("points")
            .iter()
            .map(|point| (point[0].as_f64().expect("x"), point[1].as_f64().expect("y")))
            .collect();
        if let Some(expected) = set["minimax"].as_object() {
            let line = LeastLine::through(&points).expect("a line");
            for (found, key) in
                [(line.slope, "slope"), (line.intercept, "intercept"), (line.error, "max_error")]
            {
                close(found, expected[key].as_f64().expect("a number"), 1e-11, name);
            }
        }
        let quarter = std::f64::consts::FRAC_PI_2;
        let strip = Strip::narrowest(&points, (-quarter, quarter)).expect("a strip");
        close(strip.width_mm(), set["min_width"]["width"].as_f64().expect("a number"), 1e-10, name);
    }
    // The continuous examples, as a thousand points of each curve.
    type Curve = (fn(f64) -> f64, f64, f64);
    let curves: [Curve; 4] = [
        (f64::sqrt, 0.0, 1.0),
        (f64::exp, -1.0, 1.0),
        (f64::exp, 0.0, 1.0),
        (|x| (1600.0 - x * x).sqrt(), -20.0, 20.0),
    ];
    for ((curve, from, to), expected) in
        curves.iter().zip(data["continuous"].as_array().expect("examples"))
    {
        let points: Vec<_> = (0..=4000)
            .map(|i| {
                let x = from + (to - from) * f64::from(i) / 4000.0;
                (x, curve(x))
            })
            .collect();
        let line = LeastLine::through(&points).expect("a line");
        for (found, key) in
            [(line.slope, "slope"), (line.intercept, "intercept"), (line.error, "max_error")]
        {
            close(
                found,
                expected[key].as_f64().expect("a number"),
                2e-6,
                expected["name"].as_str().expect("a name"),
            );
        }
    }
    assert_eq!(LeastLine::through(&[]), None);
    assert_eq!(LeastLine::through(&[(1.0, 2.0), (1.0, 3.0)]), None);
    assert_eq!(LeastLine::through(&[(1.0, f64::NAN), (2.0, 3.0)]), None);
}
