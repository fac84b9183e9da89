//! Ware that takes several set-ups: the fewest that keep it sharp, and the program of each.

use serde_json::Value;

use crate::command::{fixture, run};
use crate::settings;

const MACHINE: &str = "machines/degrees.toml";

fn level(blank: &str, more: &[&str]) -> Value {
    let (blank, machine) = (fixture(blank), fixture(MACHINE));
    let mut arguments = vec!["level", "--parts", "--json", "-b", blank.to_str().unwrap()];
    arguments.extend(["-m", machine.to_str().unwrap()]);
    arguments.extend(more);
    serde_json::from_str(run(&arguments, b"").done().out_text()).unwrap()
}

/// Wraps a program on a blank; the report, the program and what was said.
fn wrapped(blank: &str, program: &str, more: &[&str]) -> (Value, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let report = folder.path().join("report.json");
    let (blank, machine) = (fixture(blank), fixture(MACHINE));
    let mut arguments = vec!["wrap", "-b", blank.to_str().unwrap()];
    arguments.extend(["-m", machine.to_str().unwrap(), "--report", report.to_str().unwrap()]);
    arguments.extend(more);
    let outcome = run(&arguments, program.as_bytes()).done();
    let report = serde_json::from_slice(&std::fs::read(report).unwrap()).unwrap();
    (report, outcome.out_text().to_owned(), outcome.err)
}

fn figure(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} in {value:#}"))
}

/// Lines along the wall, a slanting one, a ring at a place, and a dot.
fn lines(from: f64, to: f64, ring: f64) -> String {
    format!(
        "G21 G90\nM3 S500\nG0 X{from} Y0\nG1 X{to} F1200\nG0 X{to} Y10\nG1 X{from} Y30\n\
         G0 X{ring} Y-20\nG1 Y-40\nM5\nM2\n"
    )
}

#[test]
fn the_parts_together_burn_the_whole_once() {
    for (blank, from, to) in
        [("blanks/bottle.toml", 20.0, 130.0), ("blanks/tumbler.toml", 40.0, 180.0)]
    {
        let wall = settings::wall(&fixture(blank));
        let at = |u: f64| wall.at_s(u).z.to_string();
        let parts = level(blank, &["--from", &at(from), "--to", &at(to)]);
        let parts = parts["parts"].as_array().unwrap().clone();
        assert!(parts.len() > 1, "{blank}: {parts:?}");
        // The ring lies on the level line between the first two.
        let seam = figure(&parts[0], "to");
        let program = lines(from, to, wall.s_of_z(seam));
        let place = ["--lay", "even-angle", "--place-at", "0", "--zero-at", "40"];
        let allowed = ["--allow", "defocus-far,clearance,travel-limit"];
        let all = [&place[..], &allowed].concat();
        let (whole, ..) = wrapped(blank, &program, &all);
        let mut burned = 0.0;
        for (k, part) in parts.iter().enumerate() {
            let number = (k + 1).to_string();
            let (report, text, said) =
                wrapped(blank, &program, &[&all[..], &["--part", &number]].concat());
            burned += figure(&report, "burn_mm");
            assert!(figure(&report, "at_min") > figure(part, "from") - 1e-3, "{blank} {k}");
            assert!(figure(&report, "at_max") < figure(part, "to") + 1e-3, "{blank} {k}");
            let codes: Vec<&str> = report["findings"]
                .as_array()
                .unwrap()
                .iter()
                .map(|found| found["code"].as_str().unwrap())
                .collect();
            assert!(
                !codes.iter().any(|code| code.starts_with("defocus")),
                "{blank} {k}: {codes:?}"
            );
            let focus = figure(&report, "focus_at") - figure(part, "focus_at");
            assert!(focus.abs() < 0.01, "{blank} {k}: {focus}");
            let said_part = format!("part {number} of {}: what burns from", parts.len());
            assert!(said.contains(&said_part), "{said}");
            let tilt = figure(part, "tilt_deg");
            let line_one = text.lines().next().unwrap();
            assert!(line_one.contains("tilt="), "{line_one}");
            let written: f64 = line_one
                .split_once("tilt=")
                .and_then(|(_, rest)| rest.split(' ').next())
                .unwrap()
                .parse()
                .unwrap();
            assert!((written - tilt).abs() < 0.01, "{line_one}: {tilt}");
        }
        let off = burned - figure(&whole, "burn_mm");
        assert!(off.abs() < 0.02, "{blank}: {off} of {whole:#}");
    }
}

/// The lines of a program that are no comments.
fn moves(text: &str) -> Vec<&str> {
    text.lines().filter(|line| !line.starts_with('(')).collect()
}

#[test]
fn all_parts_in_one_program_are_those_of_each() {
    let blank = "blanks/tumbler.toml";
    let wall = settings::wall(&fixture(blank));
    // A comment that looks like ours, from outside.
    let program = lines(40.0, 180.0, wall.s_of_z(100.0))
        .replace("M3 S500", "(set-up 2 of 3: tilt 80 deg, focus at 0 mm)\nM3 S500");
    let all = ["--lay", "even-angle", "--place-at", "0", "--zero-at", "40"];
    let all = [&all[..], &["--allow", "defocus-far,clearance,travel-limit"]].concat();
    let (report, text, said) = wrapped(blank, &program, &[&all[..], &["--part", "all"]].concat());
    // What was asked is that of all set-ups, as what it takes is.
    assert!(!said.contains("were asked for"), "{said}");
    let set_ups: Vec<&str> = text.lines().filter(|line| line.starts_with("(set-up ")).collect();
    let count = set_ups.len();
    assert!(count > 1, "{text}");
    assert!(text.lines().next().unwrap().contains(&format!(" parts={count} ")), "{text}");
    let mut bodies = text.split("\nM0\n");
    let mut burned = 0.0;
    for number in 1..=count {
        let body = bodies.next().unwrap();
        let wanted = number.to_string();
        let (one, alone, alone_said) =
            wrapped(blank, &program, &[&all[..], &["--part", &wanted]].concat());
        burned += figure(&one, "burn_mm");
        let mut alone = moves(&alone);
        let mut body = moves(body);
        if number > 1 {
            // The modes stand already.
            alone.drain(..2);
        }
        if number < count {
            assert_eq!(alone.pop(), Some("M2"));
        }
        assert_eq!(body, alone, "part {number}");
        body.clear();
        let told = alone_said.lines().find(|line| line.contains("what burns from")).unwrap();
        assert!(said.contains(told), "{said}");
        let tilt = set_ups[number - 1].split("tilt ").nth(1).unwrap();
        let tilt: f64 = tilt.split(' ').next().unwrap().parse().unwrap();
        let at_zero = text.lines().next().unwrap().split("tilt=").nth(1).unwrap();
        if number == 1 {
            assert_eq!(at_zero.split(' ').next().unwrap().parse::<f64>().unwrap(), tilt);
        }
    }
    assert!(bodies.next().is_none());
    assert!((figure(&report, "burn_mm") - burned).abs() < 1e-6, "{report:#}");

    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("all.nc");
    let path = path.to_str().unwrap();
    let (blank, machine) = (fixture(blank), fixture(MACHINE));
    let (blank, machine) = (blank.to_str().unwrap(), machine.to_str().unwrap());
    let with = |command: &[&str], text: &str| {
        std::fs::write(path, text).unwrap();
        run(&[command, &[path, "-b", blank, "-m", machine]].concat(), b"")
    };
    let codes = |text: &str| -> Vec<(String, f64)> {
        let checked = with(&["check", "--json", "--allow", "clearance,travel-limit"], text);
        let report: Value = serde_json::from_str(checked.out_text()).unwrap();
        let found = report["findings"].as_array().unwrap().iter();
        found
            .map(|one| {
                (one["code"].as_str().unwrap().to_owned(), one["value"].as_f64().unwrap_or(0.0))
            })
            .collect()
    };
    let is_blurred = |codes: &[(String, f64)]| codes.iter().any(|one| one.0.starts_with("defocus"));
    let found = codes(&text);
    assert!(!is_blurred(&found), "{found:?}");
    // What the comments say is what the reader goes by, not line 1 alone.
    let last = set_ups[count - 1];
    let level = last.replace(last.split("tilt ").nth(1).unwrap().split(' ').next().unwrap(), "9");
    let moved = codes(&text.replace(last, &level));
    assert!(is_blurred(&moved), "{moved:?}");
    let estimate = with(&["estimate", "--json"], &text).done();
    let estimate: Value = serde_json::from_str(estimate.out_text()).unwrap();
    assert!((figure(&estimate, "burn_mm") - burned).abs() < 0.05, "{estimate:#} {burned}");
    assert_eq!(estimate["pauses"], count - 1);
    let sheet = folder.path().join("sheet.svg");
    with(&["proof", "-o", sheet.to_str().unwrap(), "--allow", "clearance,travel-limit"], &text)
        .done();
    proof_tells_set_ups(&std::fs::read_to_string(sheet).unwrap(), &set_ups);
    let walked = with(&["walk"], &text);
    assert_eq!(walked.status, Some(2));
    assert!(walked.err.contains("--part 1, 2"), "{}", walked.err);
    // Resumed in the last set-up, it says which that is.
    let burns = text.lines().enumerate().filter(|(_, line)| line.starts_with("G1"));
    let line = burns.last().unwrap().0 + 1;
    std::fs::write(path, &text).unwrap();
    let rest = run(&["resume", path, "-m", machine, "--line", &line.to_string()], b"").done();
    assert!(rest.out_text().contains(last), "{}", rest.out_text());
    // What to set is that of what is left, said to the person too; not that of the first set-up.
    assert!(!rest.out_text().contains("(set:"), "{}", rest.out_text());
    assert!(rest.err.contains(last.trim_matches(['(', ')'])), "{}", rest.err);
    let found = codes(rest.out_text());
    assert!(!is_blurred(&found) && found.iter().all(|one| one.0 != "unfinished"), "{found:?}");
    // A comment that begins no set-up any more: what it begins lies otherwise than it seems to.
    let changed = text.replace(last, &last.replacen("tilt ", "tilt x", 1));
    assert!(codes(&changed).iter().any(|one| one.0 == "unfinished"), "{:?}", codes(&changed));
    let sheet = folder.path().join("changed.svg");
    for command in [&["estimate"][..], &["proof", "-o", sheet.to_str().unwrap()]] {
        let refused = with(command, &changed);
        assert_eq!(refused.status, Some(2), "{command:?} {}", refused.err);
        let promised = format!("line 1 promises {count} set-ups, and {} begin", count - 1);
        assert!(refused.err.contains(&promised), "{}", refused.err);
    }
}

/// The sheet of a program in several set-ups lists them as their comments do, and draws each as it
/// lies, up to four: all that burns in it is sharp.
fn proof_tells_set_ups(sheet: &str, set_ups: &[&str]) {
    let count = set_ups.len();
    assert!(sheet.contains(">As it lies under the beam</text>"));
    for number in 1..=count.min(4) {
        assert!(sheet.contains(&format!(">set-up {number}: tilt ")), "{number}");
    }
    assert!(sheet.contains(&format!(", {count} set-ups, place ")), "the head of the sheet");
    for (k, comment) in set_ups.iter().enumerate() {
        let after = |words: &str| -> f64 {
            let rest = comment.split(words).nth(1).unwrap();
            rest.split(' ').next().unwrap().parse().unwrap()
        };
        let value = |text: &str, words: &str| -> f64 {
            text.split(words).nth(1).unwrap().split(['°', ' ']).next().unwrap().parse().unwrap()
        };
        let name = format!(">set-up {} of {count}</text>", k + 1);
        let told = sheet.split(&name).nth(1).unwrap().split("</text>").next().unwrap();
        assert!((value(told, "tilt ") - after("tilt ")).abs() < 0.0051, "{told}");
        assert!((value(told, "focus at ") - after("focus at ")).abs() < 0.051, "{told}");
    }
    let lines =
        |class: &str| -> Vec<&str> { sheet.lines().filter(|line| line.contains(class)).collect() };
    let ends = |line: &str| -> [f64; 2] {
        let way = line.split(" d=\"M").nth(1).unwrap().split('"').next().unwrap();
        let x = |point: &str| point.trim().split(' ').next().unwrap().parse().unwrap();
        let points: Vec<&str> = way.split('L').collect();
        [x(points[0]), x(points[points.len() - 1])]
    };
    let (burned, sharp) = (lines("class=\"burned\""), lines("class=\"sharp\""));
    assert!(burned.len() == sharp.len() && burned.len() >= count.min(4), "{burned:?} {sharp:?}");
    for (burned, sharp) in burned.into_iter().zip(sharp).map(|(a, b)| (ends(a), ends(b))) {
        let apart = burned.iter().zip(sharp).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(apart < 0.1, "{burned:?} {sharp:?}");
    }
}

#[test]
fn one_set_up_for_all_is_a_program_as_any() {
    let program = lines(20.0, 60.0, 30.0);
    let place = ["--place-at", "0", "--allow", "clearance,travel-limit"];
    let one = |part: &str| {
        let (_, text, said) =
            wrapped("blanks/can.toml", &program, &[&place[..], &["--part", part]].concat());
        assert!(said.contains("part 1 of 1"), "{said}");
        text
    };
    assert_eq!(one("all"), one("1"));
}

#[test]
fn drawings_are_parted_too() {
    let (blank, machine) = (fixture("blanks/tumbler.toml"), fixture(MACHINE));
    let (blank, machine) = (blank.to_str().unwrap(), machine.to_str().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let report = |part: Option<&str>| -> Value {
        let file = folder.path().join("report.json");
        let mut arguments = vec!["wrap", "--path", "M0 0H20V-140H0Z", "-b", blank, "-m", machine];
        arguments.extend(["--place-at", "40", "--lay", "even-angle", "-o"]);
        let out = folder.path().join("out.nc");
        arguments.extend([out.to_str().unwrap(), "--report", file.to_str().unwrap()]);
        arguments.extend(["--allow", "defocus-far,clearance"]);
        arguments.extend(part.iter().flat_map(|number| ["--part", number]));
        run(&arguments, b"").done();
        serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap()
    };
    let whole = report(None);
    let ends = [figure(&whole, "at_min").to_string(), figure(&whole, "at_max").to_string()];
    let parts = level("blanks/tumbler.toml", &["--from", &ends[0], "--to", &ends[1]]);
    let count = parts["parts"].as_array().unwrap().len();
    let numbers: Vec<String> = (1..=count).map(|number| number.to_string()).collect();
    let burned: f64 = numbers.iter().map(|n| figure(&report(Some(n)), "burn_mm")).sum();
    assert!((burned - figure(&whole, "burn_mm")).abs() < 0.05, "{burned} of {whole:#}");
}

/// On a curved wall too a set-up is as sharp for the run that is written as it was for the level: a
/// medallion on a wooden ball once came out 3 µm past what the lens holds.
#[test]
fn what_the_level_calls_sharp_is_sharp_for_the_run() {
    let program = std::fs::read_to_string(fixture("programs/medallion.nc")).unwrap();
    let lay = ["--lay", "true-shape", "--place-at", "-28", "--allow", "clearance"];
    for number in ["1", "2", "3", "4", "5"] {
        let (report, ..) =
            wrapped("blanks/ornament.toml", &program, &[&lay[..], &["--part", number]].concat());
        let findings = report["findings"].to_string();
        assert!(!findings.contains("\"defocus"), "{number}: {findings}");
    }
}

#[test]
fn what_is_no_part_is_told() {
    let (blank, machine) = (fixture("blanks/cup.toml"), fixture(MACHINE));
    let program = lines(5.0, 60.0, 30.0);
    let wrap = |more: &[&str]| {
        let mut arguments = vec!["wrap", "-b", blank.to_str().unwrap()];
        arguments.extend(["-m", machine.to_str().unwrap(), "--place-at", "0"]);
        arguments.extend(more);
        run(&arguments, program.as_bytes())
    };
    for (more, words) in [
        (&["--part", "0"][..], "--part: 0 is given, but what burns, from 4.97 to 59.63 mm, takes"),
        (&["--part", "99"], "--part: 99 is given"),
        (&["--part", "two"], "invalid value 'two'"),
        (&["--part", "all", "--focus", "follow"], "the focus follows the wall"),
        (&["--part", "1", "--focus", "follow"], "the focus follows the wall"),
        (&["--part", "1", "--to", "svg"], "cannot be used with"),
    ] {
        let outcome = wrap(more);
        assert_eq!(outcome.status, Some(2), "{more:?}: {}", outcome.err);
        assert!(outcome.err.contains(words), "{more:?}: {}", outcome.err);
        assert!(outcome.out_text().is_empty());
    }
    let tables =
        ["level", "--parts", "-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    insta::assert_snapshot!(run(&tables, b"").done().out_text());
    let unknown = run(&[&tables[..], &["--lens", "huge"]].concat(), b"");
    assert_eq!(unknown.status, Some(2), "{}", unknown.err);
    assert!(unknown.err.contains("one of the machine's: \""), "{}", unknown.err);
}

/// Ware that runs out is focused where its radius is the mean: focused at the zero's turn, either
/// part would be out of focus by all of the runout, and the parts are as long as half of it allows.
#[test]
fn parts_of_ware_that_runs_out_are_focused_at_a_turn() {
    const BENT: &str = "station = [
        { at = 0, diameter = 70, runout = 0.3, runout_turn = 20 },
        { at = 60, diameter = 76, runout = 0.3, runout_turn = 20 },
        { at = 110, diameter = 70, runout = 0.4, runout_turn = 100 },
    ]";
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (blank, program) = (file("bent.toml"), file("laid.nc"));
    std::fs::write(&blank, BENT).unwrap();
    let machine = fixture(MACHINE);
    let machine = ["-m", machine.to_str().unwrap()];
    let table = run(&[&["level", "--parts", "-b", &blank], &machine[..]].concat(), b"").done();
    assert!(table.out_text().contains("focus at  at turn"), "{}", table.out_text());
    // All around, so that every side of the ware is seen.
    let flat = "G21 G90\nM4 S0\nG0 X10 Y0\nG1 X100 Y110 S300 F1200\nX10 Y220\nM5\nM2\n";
    let part = ["wrap", "-b", &blank, "--part", "all", "-o", &program];
    run(&[&part, &machine[..]].concat(), flat.as_bytes()).done();
    let text = std::fs::read_to_string(&program).unwrap();
    let said: Vec<&str> = text.lines().filter(|line| line.starts_with("(set-up ")).collect();
    assert!(said.len() == 2 && said.iter().all(|line| line.contains(" mm turn ")), "{said:?}");
    let checked = run(&[&["check", "-b", &blank, &program], &machine[..]].concat(), b"").done();
    assert!(checked.out_text().contains("Fit: 0 errors, 0 warnings"), "{}", checked.out_text());
}

/// Each set-up begins at the zero, which is set again for it: what its way from there strikes is
/// found in the program of all of them as in that of the one.
#[test]
fn the_way_from_the_zero_to_each_part_is_judged() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, machine) = (fixture("blanks/tumbler.toml"), fixture(MACHINE));
    let ware = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let art = ["--path", "M0 0H20V-140H0Z", "--place-at", "40", "--allow", "clearance"];
    let gap = |part: &str| {
        let program = folder.path().join(format!("{part}.nc"));
        let program = program.to_str().unwrap();
        run(&[&["wrap", "--part", part, "-o", program], &ware[..], &art].concat(), b"").done();
        let checked = run(&[&["check", "--json", program], &ware[..]].concat(), b"");
        let report: Value = serde_json::from_str(checked.out_text()).unwrap();
        let nozzles = report["nozzles"].as_array().unwrap().clone();
        figure(nozzles.iter().find(|nozzle| nozzle["fitted"] == true).unwrap(), "gap_mm")
    };
    let parts = ["1", "2", "3", "4"].map(gap);
    let least = parts.into_iter().fold(f64::INFINITY, f64::min);
    assert!(least < -4.0, "{parts:?}");
    // Line 1 and the comments round the tilt.
    assert!((gap("all") - least).abs() < 1e-3, "{} {parts:?}", gap("all"));
}
