//! Lengths, conformal lengths and areas of outlines with closed forms (table A.9), and of cone frusta (table B).

mod reference;

use reference::{close, table};
use stave_wall::{ParametricPoint, Station, Wall, WallShape};

/// The numbers that follow each name in a line such as `r1=30.0 r2=42.5 H=100.0`.
fn named(text: &str, name: &str) -> f64 {
    let from = text.find(&format!("{name}=")).expect("the name") + name.len() + 1;
    let rest = &text[from..];
    let end =
        rest.find(|letter: char| !(letter.is_ascii_digit() || ".-".contains(letter))).unwrap_or(rest.len());
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
                let stations = [Station { at_mm: 0.0, radius_mm: r1 }, Station { at_mm: h, radius_mm: r2 }];
                for shape in [WallShape::Straight, WallShape::Smooth] {
                    let wall = Wall::from_stations(&stations, shape).expect("a frustum");
                    close(wall.conformal(wall.length_mm()), row.number("conformal_v"), 1e-12, params);
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
                // A band past the equator of its tube runs back along the axis, so it is taken the other way up.
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

/// Table B: slant height, half angle and lateral area of frusta. E. M. Longfield, Sheet Metal Drafting
/// (McGraw-Hill 1921), p. 128, for the slant of the last: right triangle of 1.5 and 3.
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
        close(area(&wall), row.number("lateral_area"), 1e-9 * row.number("lateral_area"), row.text("case"));
    }
    close(frustum(1.5, 3.0, 3.0).length_mm(), 3.354_101_966_249_684_7, 1e-12, "Longfield");
}
