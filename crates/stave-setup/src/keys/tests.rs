//! The tables say what the readers do: the readers are asked.

use std::collections::BTreeSet;

use super::*;
use crate::{JOB_OPTIONS, read_blank, read_job, read_machine, read_order};

const MM: LengthUnit = LengthUnit::Mm;
/// No key is anything like it.
const UNKNOWN: &str = "zzzqqqvvv";

fn all() -> Vec<&'static Key> {
    SettingsFile::ALL.into_iter().flat_map(SettingsFile::keys).collect()
}

fn faults(file: SettingsFile, text: &str) -> Vec<String> {
    let faults = match file {
        SettingsFile::Blank => read_blank(text, "f").err(),
        SettingsFile::Machine => read_machine(text, "f").err(),
        SettingsFile::Job => read_job(text, "f").err(),
        SettingsFile::Order => read_order(text, "f").err(),
    };
    faults.map(|all| all.iter().map(|one| one.message.clone()).collect()).unwrap_or_default()
}

/// What stands between the backquotes or quotes of a message.
fn between(text: &str, mark: char) -> BTreeSet<String> {
    text.split(mark).skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn the_readers_know_these_keys_and_no_others() {
    for file in SettingsFile::ALL {
        let keys = file.keys();
        let sections = keys.iter().filter(|key| key.is_section()).map(|key| key.key);
        for section in std::iter::once("").chain(sections) {
            let own = keys.iter().filter(|key| key.section() == section);
            let own: BTreeSet<String> = own.map(|key| key.name().to_owned()).collect();
            let list = |path| keys.iter().any(|key| key.key == path && key.is_list());
            let head = match section.split_once('.') {
                Some((outer, _)) if list(outer) => format!("[[{outer}]]\n[{section}]\n"),
                _ if section.is_empty() => String::new(),
                _ if list(section) => format!("[[{section}]]\n"),
                _ => format!("[{section}]\n"),
            };
            let told = faults(file, &format!("{head}{UNKNOWN} = 1\n"));
            let told = told.iter().find(|one| one.contains(UNKNOWN)).expect(section);
            let (_, known) = told.split_once("known are ").expect(told);
            assert_eq!(between(known, '`'), own, "{} [{section}]", file.as_str());
        }
    }
}

#[test]
fn every_example_and_default_is_taken() {
    for key in all().into_iter().filter(|key| !key.is_section()) {
        let example = key.example().unwrap_or_else(|| panic!("{} has no example", key.key));
        assert_eq!(key.refusal(example, MM), None, "{}", key.key);
        assert!(key.refusal("nonsense nonsense", MM).is_some(), "{}", key.key);
        if let Default::Value(default) = key.default {
            assert_eq!(key.refusal(default, MM), None, "{}", key.key);
        }
        assert!(!key.text.ends_with('.') && !key.text.is_empty(), "{}", key.key);
    }
}

#[test]
fn words_are_those_of_the_readers() {
    for key in all() {
        let (Kind::Word(words) | Kind::WordOrPair(words, _)) = key.kind else { continue };
        let told = key.refusal("\"zzz\"", MM).expect(key.key);
        let (_, allowed) = told.split_once("must be ").expect(&told);
        let words: BTreeSet<String> = words().into_iter().map(str::to_owned).collect();
        assert_eq!(between(allowed, '"'), words, "{}", key.key);
    }
}

#[test]
fn ranges_are_those_of_the_readers() {
    for key in all() {
        let write = |value: f64| match key.kind {
            Kind::Pair(_) | Kind::WordOrPair(..) => format!("[{value:?}, {value:?}]"),
            _ => format!("{value:?}"),
        };
        let (low, high) = match key.kind {
            Kind::Number(bounds)
            | Kind::NumberOrPairs(bounds)
            | Kind::Pair(bounds)
            | Kind::WordOrPair(_, bounds) => (bounds.low(), bounds.high()),
            Kind::Whole(low, high) => {
                for (value, fits) in [
                    (Some(low), true),
                    (low.checked_sub(1), false),
                    (Some(high), true),
                    (Some(high + 1), false),
                ] {
                    let Some(value) = value else { continue };
                    assert_eq!(key.refusal(&value.to_string(), MM).is_none(), fits, "{}", key.key);
                }
                continue;
            }
            _ => continue,
        };
        let step = |value: f64| (value.abs() * 1e-6).max(1e-9);
        let is_pair = matches!(key.kind, Kind::Pair(_));
        for ((edge, open), outward) in [(low, -1.0), (high, 1.0)] {
            let outside = edge + outward * step(edge);
            assert!(key.refusal(&write(outside), MM).is_some(), "{} {outside}", key.key);
            // A pair at one edge is no stretch: a reader may refuse it for that.
            if !is_pair {
                let taken = key.refusal(&write(edge), MM).is_none();
                assert_eq!(taken, !open, "{} {edge}", key.key);
                let inside = edge - outward * step(edge);
                assert_eq!(key.refusal(&write(inside), MM), None, "{} {inside}", key.key);
            }
        }
    }
}

#[test]
fn what_is_needed_is_missed() {
    for key in all().into_iter().filter(|key| key.is_needed()) {
        let section = key.section();
        let keys = key.file.keys();
        let list = |path| keys.iter().any(|key| key.key == path && key.is_list());
        let head = match section.split_once('.') {
            Some((outer, _)) if list(outer) => format!("[[{outer}]]\n[{section}]\n"),
            _ if section.is_empty() => String::new(),
            _ if list(section) => format!("[[{section}]]\n"),
            _ => format!("[{section}]\n"),
        };
        let told = faults(key.file, &head).join("\n");
        let named = [format!("`{}`", key.name()), format!("[{}]", key.name())];
        assert!(named.iter().any(|name| told.contains(name)), "{}: {told}", key.key);
    }
}

#[test]
fn every_option_of_a_job_is_a_key() {
    let keys: Vec<&str> = SettingsFile::Job.keys().iter().map(|key| key.key).collect();
    for option in JOB_OPTIONS {
        let path = option.path();
        assert!(keys.contains(&&*path), "{}", option.name);
        // An option bears its key's name, with its section's where the name alone says too little.
        let own = path.rsplit('.').next().unwrap();
        let names = [path.replace('.', "-"), own.to_owned()].map(|name| name.replace('_', "-"));
        assert!(names.contains(&option.name.to_owned()), "{}", option.name);
    }
}

#[test]
fn new_files_are_read_without_a_fault_and_name_every_key() {
    for file in SettingsFile::ALL {
        for unit in [LengthUnit::Mm, LengthUnit::Inch] {
            let text = fresh_file(file, unit, |_| None);
            assert_eq!(faults(file, &text), Vec::<String>::new(), "{text}");
            for key in file.keys() {
                let line = if key.is_list() {
                    format!("[[{}]]", key.key)
                } else if key.is_section() {
                    format!("[{}]", key.key)
                } else {
                    format!("{} = ", key.name())
                };
                let found = text.lines().any(|one| one.trim_start_matches('#').starts_with(&line));
                assert!(found, "{}:\n{text}", key.key);
            }
            assert!(text.lines().all(|line| line.chars().count() <= 140), "{text}");
        }
    }
    let inches = fresh_file(SettingsFile::Blank, LengthUnit::Inch, |_| None);
    let blank = read_blank(&inches, "f").unwrap();
    assert!((blank.stations[1].radius_mm - 36.25).abs() < 0.005, "{inches}");
}

#[test]
fn answers_are_written_as_what_they_are() {
    let name = keys_named("lens.name").unwrap()[0];
    assert_eq!(name.written(" 2\" lens "), "\"2\\\" lens\"");
    assert_eq!(name.refusal(&name.written("2\" lens"), MM), None);
    let at = keys_named("station.at").unwrap()[0];
    assert_eq!(at.written(" 3.5 "), "3.5");
    assert!(at.refusal(&at.written("3,5"), MM).is_some());
    let zone = keys_named("zone.turn").unwrap()[0];
    assert_eq!(zone.refusal(&zone.written("[10, 20]"), MM), None);
}

#[test]
fn names_that_are_none_get_the_nearest() {
    assert_eq!(keys_named("speed").unwrap().len(), 9);
    assert_eq!(keys_named("rotary.units_per_turm"), Err(Some("rotary.units_per_turn")));
    assert_eq!(keys_named("xyzzyxyzzy"), Err(None));
}
