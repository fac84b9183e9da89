//! What is kept of what the command writes: the keys of its JSON, an account of every wrapped
//! fixture, the words of a proof's sheet. A change here is no fault by itself; it is a change that
//! someone reads before it is accepted (`INSTA_UPDATE=always cargo test -p stave-cli kept`, then
//! the difference).

use crate::command::{LAID, fixture, run_in};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::Path;

/// A fixture's blank, job and options: what its proof in `fixtures/pictures` is drawn with.
fn setting(name: &str) -> &'static [&'static str] {
    match name {
        "crest.nc" | "pennant.nc" => &["-b", "blanks/bottle.toml", "-j", "jobs/step.toml"],
        "rope.nc" | "gauge.nc" => &["-b", "blanks/cup.toml", "-j", "jobs/cup.toml"],
        "waves.nc" => &["-b", "blanks/can.toml", "--place-at", "20"],
        "medallion.nc" => {
            &["-b", "blanks/ornament.toml", "--lay", "true-shape", "--place-at", "-28"]
        }
        "bands.nc" => &["-b", "blanks/can.toml", "--place-at", "25"],
        "menu.nc" => &["-b", "blanks/tumbler.toml", "--tilt", "-3", "--place-at", "100"],
        "crest.svg" => &["-b", "blanks/can.toml", "-j", "art/crest.toml"],
        "wave-wrap.svg" => &["-b", "blanks/can.toml", "-j", "art/wave-wrap.toml"],
        "menu.svg" => &["-b", "blanks/cup.toml"],
        "course.svg" => &["-b", "blanks/bottle.toml"],
        "step.svg" => &["-b", "blanks/bottle.toml", "-j", "art/step.toml"],
        "pennants.svg" => {
            &["-b", "blanks/bottle.toml", "-j", "art/pennants.toml", "--zones", "mask"]
        }
        "lifebelt.svg" => &["-b", "blanks/ornament.toml", "-j", "art/lifebelt.toml"],
        "misfits.svg" => &["-b", "blanks/can.toml"],
        other => panic!("{other}: say here which ware it is for"),
    }
}

/// What `stave` prints in the folder of the fixtures, on the machine in degrees.
fn stave(command: &str, input: &str, more: &[&str]) -> crate::command::Outcome {
    run_in(&fixture(""), &[&[command, input, "-m", "machines/degrees.toml"], more].concat(), b"")
}

/// `text`, each number in it rounded to `places`: the last places are rounding's, and may differ
/// between machines.
fn rounded(text: &str, places: usize) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
        let end = rest[start..]
            .find(|c: char| !c.is_ascii_digit() && c != '.')
            .map_or(rest.len(), |length| start + length);
        let number = rest[start..end].trim_end_matches('.');
        out.push_str(&rest[..start]);
        match number.parse::<f64>() {
            Ok(value) if number.contains('.') => {
                let short = format!("{value:.places$}");
                out.push_str(short.trim_end_matches('0').trim_end_matches('.'));
            }
            _ => out.push_str(number),
        }
        rest = &rest[start + number.len()..];
    }
    out + rest
}

/// Line 1, the first and last moves, and for each word how often it is said, its least, greatest
/// and mean.
fn account(program: &str) -> String {
    const SHOWN: usize = 8;
    let lines: Vec<&str> = program.lines().collect();
    let head = lines.iter().take_while(|line| !line.starts_with(['G', 'M'])).count();
    let mut out = rounded(lines[0], 1);
    write!(out, "\n… {} lines of caution …\n", head - 1).unwrap();
    let moves = &lines[head..];
    for line in moves.iter().take(SHOWN) {
        writeln!(out, "{}", rounded(line, 2)).unwrap();
    }
    writeln!(out, "… {} lines in all …", lines.len()).unwrap();
    for line in &moves[moves.len().saturating_sub(SHOWN / 2).max(SHOWN)..] {
        writeln!(out, "{}", rounded(line, 2)).unwrap();
    }
    let spoken: Vec<(char, f64)> = moves.iter().flat_map(|line| words(line)).collect();
    let letters: BTreeSet<char> = spoken.iter().map(|word| word.0).collect();
    for letter in letters {
        let values: Vec<f64> = spoken.iter().filter(|w| w.0 == letter).map(|w| w.1).collect();
        if matches!(letter, 'G' | 'M') {
            let mut codes: Vec<f64> = values.clone();
            codes.sort_by(f64::total_cmp);
            for same in codes.chunk_by(|a, b| a == b) {
                writeln!(out, "{letter}{}: {}", same[0], same.len()).unwrap();
            }
        } else {
            let least = values.iter().fold(f64::INFINITY, |a, b| a.min(*b));
            let greatest = values.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b));
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let count = values.len();
            writeln!(out, "{letter}: {count}, {least:.2} to {greatest:.2}, mean {mean:.2}")
                .unwrap();
        }
    }
    out
}

/// The words of a line without its comments.
fn words(line: &str) -> Vec<(char, f64)> {
    let code = line.split(['(', ';']).next().unwrap_or_default();
    let starts: Vec<usize> =
        code.char_indices().filter(|(_, c)| c.is_ascii_uppercase()).map(|(k, _)| k).collect();
    let ends = starts.iter().skip(1).copied().chain([code.len()]);
    starts
        .iter()
        .zip(ends)
        .filter_map(|(start, end)| {
            let value = code[start + 1..end].trim().parse().ok()?;
            Some((code[*start..].chars().next()?, value))
        })
        .collect()
}

/// Every fixture wrapped: its program's account, or why there is none, and what was said of it.
fn wrapped(path: &Path) {
    let name = path.file_name().unwrap().to_str().unwrap();
    let folder = path.parent().unwrap().file_name().unwrap().to_str().unwrap();
    let outcome = stave("wrap", &format!("{folder}/{name}"), setting(name));
    let said = rounded(&outcome.err, 2);
    let status = outcome.status.unwrap();
    let program = if outcome.out.is_empty() { String::new() } else { account(outcome.out_text()) };
    let kept = format!("status {status}\n{said}\n{program}");
    insta::assert_snapshot!(kept);
}

#[test]
fn every_program_wrapped() {
    insta::glob!("../../../../fixtures/programs", "*.nc", wrapped);
}

#[test]
fn every_drawing_wrapped() {
    insta::glob!("../../../../fixtures/art", "*.svg", wrapped);
}

/// The paths of all keys under `value`, with what stands there; a list's members are one.
fn keys(value: &serde_json::Value, path: &str, found: &mut BTreeSet<String>) {
    use serde_json::Value;
    let kind = match value {
        Value::Object(members) => {
            for (key, member) in members {
                keys(member, &format!("{path}.{key}"), found);
            }
            return;
        }
        Value::Array(members) => {
            for member in members {
                keys(member, &format!("{path}[]"), found);
            }
            if !members.is_empty() {
                return;
            }
            "empty list"
        }
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "number",
        Value::String(_) => "text",
    };
    found.insert(format!("{path}: {kind}"));
}

/// Every command that prints JSON, of a program, a drawing and what was wrapped of them, and of
/// what does not fit: which keys, and of what kind.
#[test]
fn the_keys_of_every_json() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (wrapped, report) = (file("wrapped.nc"), file("report.json"));
    let of = |input: &str| setting(input.rsplit('/').next().unwrap());
    let (program, drawing) = ("programs/crest.nc", "art/step.svg");

    let mut of_command: Vec<(&str, String)> = Vec::new();
    for input in [program, drawing] {
        let files = ["-q", "-o", &wrapped, "--report", &report, LAID[0], LAID[1]];
        stave("wrap", input, &[of(input), &files].concat()).done();
        of_command.push(("wrap", std::fs::read_to_string(&report).unwrap()));
        let bottle = ["-b", "blanks/bottle.toml", "--json"];
        for (command, input, more) in [
            ("check", input, &[of(input), &["--json"]].concat()[..]),
            ("lays", input, &[of(input), &["--json"]].concat()),
            ("check", &wrapped, &bottle),
            ("estimate", &wrapped, &bottle),
            ("estimate", &wrapped, &["--json"]),
            ("estimate", &wrapped, &[program, "--json"]),
        ] {
            of_command.push((command, stave(command, input, more).out_text().to_owned()));
        }
    }
    let beyond = [of(program), &["--place-at", "150", "--json"]].concat();
    of_command.push(("check", stave("check", program, &beyond).out_text().to_owned()));
    let machine = ["-m", "machines/degrees.toml"];
    let level = ["level", "-b", "blanks/bottle.toml", "--from", "110", "--to", "160", "--json"];
    let outcome = run_in(&fixture(""), &[&level[..], &machine].concat(), b"").done();
    of_command.push(("level", outcome.out_text().to_owned()));
    let swatch = ["swatch", "-b", "blanks/can.toml", "-o", "/dev/null", "--report", &report];
    let patches = ["--powers", "20,40", "--speeds", "100,200"];
    run_in(&fixture(""), &[&swatch[..], &machine, &patches].concat(), b"").done();
    of_command.push(("swatch", std::fs::read_to_string(&report).unwrap()));

    of_command.sort_by_key(|(command, _)| *command);
    for same in of_command.chunk_by(|a, b| a.0 == b.0) {
        let mut found = BTreeSet::new();
        for (_, text) in same {
            let value = serde_json::from_str(text).unwrap_or_else(|e| panic!("{}: {e}", same[0].0));
            keys(&value, "", &mut found);
        }
        let found = found.into_iter().collect::<Vec<_>>().join("\n");
        insta::with_settings!({ snapshot_suffix => same[0].0 }, {
            insta::assert_snapshot!(found);
        });
    }
}

/// The words on a proof's sheet, in the order of the file.
#[test]
fn the_words_of_a_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("sheet.svg");
    for (name, input) in [("program", "programs/crest.nc"), ("drawing", "art/wave-wrap.svg")] {
        let options = setting(input.rsplit('/').next().unwrap());
        let out = ["-q", "-o", sheet.to_str().unwrap()];
        stave("proof", input, &[options, &out].concat()).done();
        let text = std::fs::read_to_string(&sheet).unwrap();
        let document = roxmltree::Document::parse(&text).unwrap();
        let words: Vec<String> = document
            .descendants()
            .filter(|node| node.tag_name().name() == "text")
            .map(|node| node.descendants().filter_map(|n| n.text().filter(|_| n.is_text())))
            .map(|texts| texts.collect::<String>().trim().to_owned())
            .filter(|words| !words.is_empty())
            .collect();
        let words = rounded(&words.join("\n"), 1);
        insta::with_settings!({ snapshot_suffix => name }, {
            insta::assert_snapshot!(words);
        });
    }
}
