//! The corpus: small drawings of one feature of SVG each, made by `make.py`, against resvg.
//!
//! `table.tsv` says of each what is demanded: the share of points away from edges that must agree,
//! or the element that is named as left out, or both: shades are left out by an operation for areas
//! alone, and agree where one cuts them or burns them as a picture. What is not followed stands
//! nowhere else, and the table is held true both ways.
#![expect(clippy::unwrap_used, unreachable_pub, reason = "a panic in a test is a failed test")]

mod burned;

use std::path::{Path, PathBuf};

use burned::{BARE, How, compare};
use stave::Code;

/// Points of this size, mm: 96 across the page; finer in a long run.
fn point_mm() -> f64 {
    if stave_tests::long() { 0.0625 } else { 0.25 }
}

/// On this share of points what is burned of shades is what resvg shows of them.
const SHADES: f64 = 0.995;

struct Row {
    name: String,
    demand: String,
    meant: bool,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus")
}

fn rows() -> Vec<Row> {
    let table = std::fs::read_to_string(folder().join("table.tsv")).unwrap();
    let row = |line: &str| {
        let fields: Vec<&str> = line.split('\t').collect();
        Row { name: fields[0].into(), demand: fields[1].into(), meant: fields[2] == "meant" }
    };
    table.lines().skip(1).map(row).collect()
}

fn read(kind: &str, name: &str) -> Vec<u8> {
    std::fs::read(folder().join(kind).join(format!("{name}.svg"))).unwrap()
}

/// What `row` comes to, if it is not as demanded.
fn fault(row: &Row) -> Option<String> {
    let svg = read("drawings", &row.name);
    let meant = read(if row.meant { "meant" } else { "drawings" }, &row.name);
    let by = |how: How| {
        compare(&svg, &meant, point_mm(), how).map_err(|error| format!("{}: {error}", row.name))
    };
    let compared = match by(How::Areas) {
        Ok(compared) => compared,
        Err(error) => return Some(error),
    };
    let agrees = |compared: &burned::Compared, demand: f64, how: &str| {
        let fault =
            || format!("{}{how}: {} of {} points agree", row.name, compared.agree, compared.points);
        (compared.points < 1000 || compared.share() < demand).then(fault)
    };
    let mut left_out = compared.findings.iter().filter(|f| f.code == Code::LeftOut);
    let (kind, element) = row.demand.split_once(':').unwrap_or_default();
    if !kind.is_empty() {
        if !left_out.any(|finding| finding.element.as_deref() == Some(element)) {
            return Some(format!("{}: nothing says that \"{element}\" is left out", row.name));
        }
        if kind == "left-out" {
            return None;
        }
        for how in [How::Cut(100.0 * BARE), How::Cut(50.0), How::Picture] {
            let compared = match by(how) {
                Ok(compared) => compared,
                Err(error) => return Some(error),
            };
            if let Some(finding) = compared.findings.iter().find(|f| f.code == Code::LeftOut) {
                return Some(format!("{} {how:?}: {}", row.name, finding.message));
            }
            if let Some(fault) = agrees(&compared, SHADES, &format!(" {how:?}")) {
                return Some(fault);
            }
        }
        return None;
    }
    let demand: f64 = row.demand.parse().unwrap();
    if let Some(finding) = left_out.next() {
        return Some(format!("{}: {}", row.name, finding.message));
    }
    agrees(&compared, demand, "")
}

#[test]
fn every_feature_burns_as_it_is_shown_or_is_named() {
    let rows = rows();
    assert!(rows.len() >= 300, "{} drawings", rows.len());
    let half = rows.len().div_ceil(2);
    let faults: Vec<String> = std::thread::scope(|scope| {
        let check = |rows: &'_ [Row]| rows.iter().filter_map(fault).collect::<Vec<_>>();
        let threads: Vec<_> =
            rows.chunks(half).map(|rows| scope.spawn(move || check(rows))).collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

/// The comparison itself sees a difference: a square against one that is moved by its own width.
#[test]
fn a_wrong_drawing_is_seen() {
    let page = |x: u32| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' id='all' width='24mm' height='24mm' \
             viewBox='0 0 24 24'><rect x='{x}' width='6' height='12'/></svg>"
        )
    };
    let share = |one: u32, other: u32| {
        let (one, other) = (page(one), page(other));
        compare(one.as_bytes(), other.as_bytes(), 0.25, How::Areas).unwrap().share()
    };
    assert!(share(2, 2) > 0.999, "{}", share(2, 2));
    // Two areas of 72 mm² of 576.
    assert!((share(2, 12) - 0.75).abs() < 0.03, "{}", share(2, 12));
}

/// The drawings are those that the script makes: as many files as rows, and no other.
#[test]
fn the_table_has_every_drawing() {
    for (kind, wanted) in [("drawings", None), ("meant", Some(true))] {
        let mut files: Vec<String> = std::fs::read_dir(folder().join(kind))
            .unwrap()
            .map(|file| file.unwrap().path().file_stem().unwrap().to_str().unwrap().to_owned())
            .collect();
        files.sort();
        let mut names: Vec<String> = rows()
            .into_iter()
            .filter(|row| wanted.is_none_or(|meant| row.meant == meant))
            .map(|row| row.name)
            .collect();
        names.sort();
        assert_eq!(files, names);
    }
}
