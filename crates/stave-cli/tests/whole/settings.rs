//! What the tests know of the three files: read with a TOML crate, units applied, nothing checked.

use crate::meridian::Meridian;
use std::path::Path;
use toml::Table;

/// mm in the file's unit.
fn unit(table: &Table) -> f64 {
    if table.get("units").and_then(|u| u.as_str()) == Some("in") { 25.4 } else { 1.0 }
}

fn number(table: &Table, key: &str) -> Option<f64> {
    let value = table.get(key)?;
    value.as_float().or_else(|| value.as_integer().map(|i| i as f64))
}

fn read(path: &Path) -> Table {
    std::fs::read_to_string(path).unwrap().parse().unwrap()
}

/// A blank's wall.
pub fn wall(path: &Path) -> Meridian {
    let table = read(path);
    let mm = unit(&table);
    let stations: Vec<_> = table["station"]
        .as_array()
        .unwrap()
        .iter()
        .map(|station| {
            let station = station.as_table().unwrap();
            let around = number(station, "circumference").map(|c| c / std::f64::consts::PI);
            let diameter = number(station, "diameter").or(around).unwrap();
            (number(station, "at").unwrap() * mm, diameter / 2.0 * mm)
        })
        .collect();
    Meridian::new(&stations, table["wall"].as_str() == Some("straight"))
}

/// What matters of a machine.
#[derive(Clone, Debug)]
pub struct Machine {
    pub inverse_time: bool,
    pub counts_all_axes: bool,
    pub decimals: i32,
    /// Index of the axis that carries the crest, and of the rotary, in X Y Z A B C.
    pub along: usize,
    pub rotary: usize,
    pub roller: bool,
    pub units_per_turn: f64,
    pub reverse: bool,
    pub focus_away: bool,
    /// Greatest speed per axis, units per second.
    pub speed: [f64; 6],
}

pub fn machine(path: &Path) -> Machine {
    let table = read(path);
    let mm = unit(&table);
    let controller = table["controller"].as_table().unwrap();
    let rotary = table["rotary"].as_table().unwrap();
    let text = |table: &Table, key: &str, default: &str| -> String {
        table.get(key).and_then(|v| v.as_str()).unwrap_or(default).to_owned()
    };
    let word = text(rotary, "word", "A");
    let rotary_axis = ["X", "Y", "Z", "A", "B", "C"].iter().position(|w| *w == word).unwrap();
    let mut speed = [f64::INFINITY; 6];
    for (axis, key) in ["x", "y", "z"].iter().enumerate() {
        if let Some(limits) = table.get(*key).and_then(|v| v.as_table()) {
            speed[axis] = number(limits, "speed").unwrap() * mm;
        }
    }
    speed[rotary_axis] = number(rotary, "speed").unwrap();
    let focus = table.get("z").and_then(|v| v.as_table());
    Machine {
        inverse_time: text(controller, "feed", "per-minute") == "inverse-time",
        counts_all_axes: text(controller, "feed_counts", "all-axes") == "all-axes",
        decimals: number(controller, "decimals").map_or(4, |d| d as i32),
        along: usize::from(text(rotary, "along", "x") == "y"),
        rotary: rotary_axis,
        roller: text(rotary, "drive", "chuck") == "roller",
        units_per_turn: number(rotary, "units_per_turn").unwrap_or(f64::NAN),
        reverse: rotary.get("reverse").and_then(toml::Value::as_bool).unwrap_or(false),
        focus_away: focus.is_some_and(|z| text(z, "up", "away") == "away"),
        speed,
    }
}
