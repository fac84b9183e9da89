//! Reading the reference tables, and the bodies they are about.

use std::path::Path;

use stave_wall::{Anchor, Lay, LayKind, LaySetting, ParametricPoint, Wall};

/// A row of a table, by column name.
pub struct Row {
    names: Vec<String>,
    values: Vec<String>,
}

impl Row {
    pub fn text(&self, name: &str) -> &str {
        let column = self.names.iter().position(|found| found == name);
        &self.values[column.unwrap_or_else(|| panic!("no column {name}"))]
    }

    pub fn number(&self, name: &str) -> f64 {
        self.text(name)
            .parse()
            .unwrap_or_else(|_| panic!("{name} is no number: {}", self.text(name)))
    }
}

/// The rows of a table in `fixtures/reference`; its README names the source of each.
pub fn table(file: &str) -> Vec<Row> {
    let text = text(file);
    let mut lines = text.lines();
    let names = cells(lines.next().expect("a header"));
    let rows: Vec<Row> = lines
        .filter(|line| !line.is_empty())
        .map(|line| Row { names: names.clone(), values: cells(line) })
        .collect();
    assert!(!rows.is_empty());
    rows
}

pub fn text(file: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/reference").join(file);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn cells(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            _ => cells.last_mut().expect("one cell").push(letter),
        }
    }
    cells
}

/// A spheroid between two reduced latitudes, and the `s` of its equator.
pub fn spheroid_between(
    equatorial_mm: f64,
    polar_mm: f64,
    from_deg: f64,
    to_deg: f64,
) -> (Wall, f64) {
    let curve = move |t: f64| ParametricPoint {
        at_mm: polar_mm * t.sin(),
        radius_mm: equatorial_mm * t.cos(),
        at_rate: polar_mm * t.cos(),
        radius_rate: -equatorial_mm * t.sin(),
    };
    let wall =
        Wall::parametric(&curve, from_deg.to_radians(), to_deg.to_radians()).expect("a spheroid");
    let equator = wall.s_of_at(0.0);
    (wall, equator)
}

/// A spheroid from close to one pole to close to the other.
pub fn spheroid(equatorial_mm: f64, polar_mm: f64) -> (Wall, f64) {
    spheroid_between(equatorial_mm, polar_mm, -89.5, 89.5)
}

/// `s` on a spheroid at a geodetic latitude, by way of the axis distance.
pub fn s_of_latitude(wall: &Wall, equatorial_mm: f64, polar_mm: f64, latitude_deg: f64) -> f64 {
    let (sin, cos) = latitude_deg.to_radians().sin_cos();
    let at_mm = polar_mm * polar_mm * sin / (equatorial_mm * cos).hypot(polar_mm * sin);
    wall.s_of_at(at_mm)
}

/// The geodetic latitude in degrees at a place of a spheroid: the slope of its normal.
pub fn latitude_of_s(wall: &Wall, s_mm: f64) -> f64 {
    let section = wall.section(s_mm, &mut 0);
    (-section.sin_slope).atan2(section.cos_slope).to_degrees()
}

/// A lay whose flat origin is at `s` and turn 0, true in size at the given radius.
pub fn lay_from(wall: &Wall, kind: LayKind, origin_s_mm: f64, reference_radius_mm: f64) -> Lay {
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
pub fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: found {found}, expected {expected} within {tolerance}"
    );
}
