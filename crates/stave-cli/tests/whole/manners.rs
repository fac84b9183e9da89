//! How the command behaves: what goes where, what is left untouched, and with which status it ends.

use crate::case::Case;
use crate::command::{Outcome, fixture, root, run, run_in, stave, without_set_up};
use crate::lay::LayKind;
use crate::program::{self, Kind};
use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::fs::FileTypeExt;
use std::path::Path;
use std::process::{Command, Stdio};

const SETUP: [&str; 6] = [
    "-b",
    "fixtures/blanks/bottle.toml",
    "-m",
    "fixtures/machines/degrees.toml",
    "-j",
    "fixtures/jobs/step.toml",
];

const SMALL: &str =
    "; a short one\nG21\nG90\nM4 S300\nG0 X5 Y-4\nG1 X20 F1200\n(half way)\nY4\nM5\nM2\n";

/// `stave wrap` on the stepped bottle with more arguments.
fn wrap(more: &[&str], input: &str) -> Outcome {
    wrap_in(root(), more, input)
}

fn wrap_in(folder: &Path, more: &[&str], input: &str) -> Outcome {
    let setup: Vec<String> = SETUP
        .iter()
        .map(|a| {
            if a.starts_with('-') { (*a).to_owned() } else { root().join(a).display().to_string() }
        })
        .collect();
    let mut arguments = vec!["wrap"];
    arguments.extend(setup.iter().map(String::as_str));
    arguments.extend(more);
    run_in(folder, &arguments, input.as_bytes())
}

/// The lines that are not comments, blanks taken out.
fn code(program: &str) -> Vec<String> {
    program
        .lines()
        .map(|l| l.replace(' ', ""))
        .filter(|l| !l.starts_with('(') && !l.is_empty())
        .collect()
}

#[test]
fn a_wrapped_program_says_what_it_is_and_is_safe_at_both_ends() {
    let outcome = wrap(&[], SMALL).done();
    let text = outcome.out_text();
    let first = text.lines().next().unwrap();
    assert!(
        first.starts_with(
            "(stave wrapped 1 blank=\"stepped bottle\" machine=\"degrees on A\" lay=true-width \
             tilt=-5.5 "
        ),
        "{first}"
    );
    assert!(
        first.contains(" place=") && first.contains(" zero=") && first.ends_with(')'),
        "{first}"
    );
    let head: String =
        text.lines().take_while(|l| !l.starts_with('G')).map(str::to_lowercase).collect();
    for word in
        ["eyes", "blind", "unattended", "leave", "enclosure", "pvc", "hair", "beam off", "manual"]
    {
        let either = match word {
            "eyes" | "blind" => head.contains("eyes") || head.contains("blind"),
            "unattended" | "leave" => head.contains("unattended") || head.contains("leave"),
            _ => head.contains(word),
        };
        assert!(either, "no word of {word} in {head}");
    }
    let code = code(text);
    for word in ["G21", "G90", "G94"] {
        assert!(code[0].contains(word), "{code:?}");
    }
    let first_move = code.iter().position(|l| l.contains('X') || l.contains('A')).unwrap();
    assert!(code[..first_move].iter().any(|l| l.contains("M5")), "{code:?}");
    assert!(code[first_move].starts_with("G0"), "{code:?}");
    assert_eq!(code.iter().rev().take(2).collect::<Vec<_>>(), ["M2", "M5"]);
    // Comments stand where they stood.
    let at = |what: &str| {
        text.lines().position(|l| l.contains(what)).unwrap_or_else(|| panic!("no {what} in {text}"))
    };
    assert!(at("a short one") < at("half way"));
    assert!(
        at("half way") > text.lines().position(|l| l.starts_with("G1") || l.contains("F")).unwrap()
    );
    assert!(text.is_ascii() && !text.contains("-0 ") && !text.contains("NaN"));
}

#[test]
fn the_same_in_gives_the_same_out() {
    let text = std::fs::read_to_string(fixture("programs/medallion.nc")).unwrap();
    assert_eq!(wrap(&[], &text).done().out, wrap(&[], &text).done().out);
}

#[test]
fn line_ends_and_a_byte_order_mark_do_not_matter() {
    let plain = wrap(&[], SMALL).done();
    assert_eq!(wrap(&[], &SMALL.replace('\n', "\r\n")).done().out, plain.out);
    // The digest of the input, at the end, counts every other byte.
    let cut = wrap(&[], SMALL.trim_end()).done();
    let before = |text: &str| text.split("(stave end input=").next().map(str::to_owned);
    assert_eq!(before(cut.out_text()), before(plain.out_text()));
}

#[test]
fn results_go_to_the_file_and_nowhere_else() {
    let folder = tempfile::tempdir().unwrap();
    let to_file = wrap_in(folder.path(), &["-o", "out.nc"], SMALL).done();
    assert!(to_file.out.is_empty());
    let written = std::fs::read(folder.path().join("out.nc")).unwrap();
    // A file's line 1 says how long it takes; standard output was gone before that was known.
    assert_eq!(without_set_up(&written), without_set_up(&wrap(&[], SMALL).done().out));
    let text = String::from_utf8(written).unwrap();
    let first = text.lines().next().unwrap();
    let field = first.split(" time=").nth(1).unwrap().trim_end_matches(')');
    let parts: Vec<u64> = field.split(':').map(|part| part.parse().unwrap()).collect();
    let machine = fixture("machines/degrees.toml");
    let estimate = ["estimate", "out.nc", "-m", machine.to_str().unwrap(), "--json"];
    let json: serde_json::Value =
        serde_json::from_slice(&crate::command::run_in(folder.path(), &estimate, b"").done().out)
            .unwrap();
    let seconds = json["duration_s"].as_f64().unwrap();
    assert_eq!((parts[0] * 3600 + parts[1] * 60 + parts[2]) as f64, seconds.ceil(), "{field}");
    assert!(to_file.err.contains("burning"), "people are told too: {}", to_file.err);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing else is left behind");
}

#[test]
fn a_file_is_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("out.nc");
    std::fs::write(&path, "as it was\n").unwrap();
    let bad = "M4 S100\nG1 X5 F600\nG1 X6 Q\nM5\nM2\n";
    let off = "M4 S100\nG1 X5 F600\nG1 X600\nM5\nM2\n";
    for (input, status) in [(bad, 2), (off, 1)] {
        let outcome = wrap_in(folder.path(), &["-o", "out.nc"], input);
        assert_eq!(outcome.status, Some(status), "{}", outcome.err);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "as it was\n");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
    let outcome = wrap_in(folder.path(), &["-o", "new.nc"], bad);
    assert_eq!(outcome.status, Some(2));
    assert!(!folder.path().join("new.nc").exists());
    let outcome = wrap_in(folder.path(), &["-o", "no/such/folder/out.nc"], SMALL);
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("no/such/folder/out.nc"), "{}", outcome.err);
}

#[test]
fn symlinks_are_followed_and_fifos_written_through() {
    let folder = tempfile::tempdir().unwrap();
    let expected = wrap(&[], SMALL).done().out;
    std::fs::write(folder.path().join("real.nc"), "old").unwrap();
    std::os::unix::fs::symlink("real.nc", folder.path().join("link.nc")).unwrap();
    wrap_in(folder.path(), &["-o", "link.nc"], SMALL).done();
    assert!(std::fs::symlink_metadata(folder.path().join("link.nc")).unwrap().is_symlink());
    let real = std::fs::read(folder.path().join("real.nc")).unwrap();
    assert_eq!(without_set_up(&real), without_set_up(&expected));

    let fifo = folder.path().join("fifo");
    assert!(Command::new("mkfifo").arg(&fifo).status().unwrap().success());
    let reader = {
        let fifo = fifo.clone();
        std::thread::spawn(move || std::fs::read(fifo).unwrap())
    };
    wrap_in(folder.path(), &["-o", "fifo"], SMALL).done();
    assert_eq!(reader.join().unwrap(), expected);
    assert!(std::fs::metadata(&fifo).unwrap().file_type().is_fifo());
}

#[test]
fn on_a_pipe_a_run_that_fails_never_looks_whole() {
    for input in
        ["M4 S100\nG1 X5 F600\nG1 X6 Q\nG1 X7\nM5\nM2\n", "M4 S100\nG1 X5 F600\nG1 X600\nM5\nM2\n"]
    {
        let outcome = wrap(&[], input);
        assert_ne!(outcome.status, Some(0));
        let lines: Vec<_> = outcome.out_text().lines().collect();
        assert!(
            lines.iter().any(|l| l.starts_with("G1")),
            "what was done before stands: {lines:?}"
        );
        let off = lines.iter().rposition(|l| l.contains("M5")).unwrap();
        let last_move = lines.iter().rposition(|l| l.starts_with(['G', 'X', 'A'])).unwrap();
        assert!(off > last_move, "{lines:?}");
        assert!(
            lines[last_move + 1..].iter().any(|l| l.starts_with('(') && l.contains("line 3")),
            "says why: {lines:?}"
        );
        assert!(!lines.iter().any(|l| l.contains("M2") || l.contains("M30")), "{lines:?}");
    }
}

#[test]
fn a_closed_pipe_ends_quietly() {
    let program = std::fs::read(fixture("programs/crest.nc")).unwrap().repeat(1);
    let mut child = Command::new(stave())
        .current_dir(root())
        .arg("wrap")
        .args(SETUP)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    // Far more than a pipe holds, and without an end word before it.
    let body = String::from_utf8(program).unwrap().replace("\nM2", "");
    let feeder = std::thread::spawn(move || {
        for _ in 0..200 {
            if stdin.write_all(body.as_bytes()).is_err() {
                break;
            }
        }
    });
    let mut first = [0; 100];
    child.stdout.as_mut().unwrap().read_exact(&mut first).unwrap();
    drop(child.stdout.take());
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    let status = child.wait().unwrap();
    feeder.join().unwrap();
    assert_eq!((status.code(), err.as_str()), (Some(0), ""));
}

#[test]
fn what_is_known_comes_out_before_more_goes_in() {
    let mut child = Command::new(stave())
        .current_dir(root())
        .arg("wrap")
        .args(SETUP)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(b"M4 S100\nG0 X1 Y1\nG1 X5 F600\nX6\nX7\n").unwrap();
    stdin.flush().unwrap();
    // The pipe stays open: a line of a burn must arrive all the same.
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(lines.by_ref().map(Result::unwrap).any(|l| l.starts_with("G1")));
    stdin.write_all(b"M5\nM2\n").unwrap();
    drop(stdin);
    assert_eq!(lines.map(Result::unwrap).last().as_deref(), Some("M2"));
    assert!(child.wait().unwrap().success());
}

#[test]
fn an_error_in_a_program_shows_its_place() {
    let outcome = wrap(&[], "G21\nM4 S100\nG1 X5 F600\nG1 X10 Y1.2.3\nM2\n");
    assert_eq!(outcome.status, Some(2));
    let lines: Vec<_> = outcome.err.lines().collect();
    assert!(outcome.err.contains(":4:") || outcome.err.contains("line 4"), "{}", outcome.err);
    let shown = lines.iter().position(|l| l.contains("G1 X10 Y1.2.3")).expect("the line is shown");
    let (text, caret) = (lines[shown], lines[shown + 1]);
    let column = caret.find('^').expect("a caret stands below it");
    let pointed = &text[column..];
    assert!(
        pointed.starts_with(".3") || pointed.starts_with("1.2.3") || pointed.starts_with("Y1.2.3"),
        "{text}\n{caret}"
    );

    // A move that does not fit shows its line as well.
    let outcome = wrap(&[], "M4 S100\nG1 X5 F600\nG1 X600\nM2\n");
    assert_eq!(outcome.status, Some(1));
    assert!(outcome.err.contains("G1 X600") && outcome.err.contains('^'), "{}", outcome.err);
    assert!(outcome.err.contains(":3:") || outcome.err.contains("line 3"), "{}", outcome.err);

    // Named by its file.
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("odd.nc"), "G1 X1 Q\n").unwrap();
    let outcome = wrap_in(folder.path(), &["odd.nc"], "");
    assert!(outcome.err.contains("odd.nc"), "{}", outcome.err);
}

#[test]
fn usage_is_explained() {
    for arguments in [
        &[][..],
        &["wrap"],
        &["wrap", "--no-such-option"],
        &["no-such-command"],
        &["wrap", "-b", "x"],
    ] {
        let outcome = run(arguments, b"");
        assert_eq!(outcome.status, Some(2), "{arguments:?}: {}", outcome.err);
        assert!(outcome.out.is_empty() && !outcome.err.is_empty());
    }
    for arguments in [&["--help"][..], &["wrap", "--help"], &["read", "--help"], &["--version"]] {
        let outcome = run(arguments, b"").done();
        assert!(!outcome.out.is_empty() && outcome.err.is_empty(), "{arguments:?}");
    }
}

#[test]
fn files_that_are_not_there_are_named() {
    for replaced in [1, 3, 5] {
        let mut arguments: Vec<&str> = SETUP.to_vec();
        arguments[replaced] = "fixtures/no-such.toml";
        arguments.insert(0, "wrap");
        let outcome = run(&arguments, SMALL.as_bytes());
        assert_eq!(outcome.status, Some(2));
        assert!(outcome.err.contains("fixtures/no-such.toml"), "{}", outcome.err);
    }
    let outcome = wrap(&["no-such.nc"], "");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("no-such.nc"), "{}", outcome.err);
    assert_eq!(wrap(&["fixtures"], "").status, Some(2), "a folder is no program");
}

#[test]
fn an_option_beats_the_job_file() {
    let one = wrap(&["--place-at", "100mm", "--tilt", "-3", "--zero-turn", "-10"], SMALL).done();
    let first = one.out_text().lines().next().unwrap().to_owned();
    assert!(first.contains("tilt=-3") && first.contains("place=100"), "{first}");
    let inches = wrap(&["--place-at", "3.5in", "--place-turn", "-90"], SMALL).done();
    let first = inches.out_text().lines().next().unwrap().to_owned();
    assert!(first.contains("place=88.9"), "{first}");
}

#[test]
fn what_moves_nothing_passes_in_its_place() {
    let input = "(one)\nM8\nM4 S100\nG0 X1\n(two)\nG1 X5 F600\nG4 P0.5\nM0\n(MSG, turn the \
                 bottle)\nG1 X9\nM9\nM5\nM30\n";
    let outcome = wrap(&[], input).done();
    let text = outcome.out_text();
    let mut at = 0;
    for part in [
        "(one)",
        "M8",
        "M4",
        "G0",
        "(two)",
        "G1",
        "G4",
        "M0",
        "turn the bottle",
        "X",
        "M9",
        "M5",
        "M30",
    ] {
        at += text[at..].find(part).unwrap_or_else(|| panic!("{part} is out of place in\n{text}"));
    }
    assert!(!text.contains("M2\n"));
}

#[test]
fn a_program_is_wrapped_once() {
    let once = wrap(&[], SMALL).done();
    let twice = wrap(&[], once.out_text());
    assert_eq!(twice.status, Some(2));
    for word in ["A10", "B10", "C10"] {
        let outcome = wrap(&[], &format!("M4 S1\nG1 X5 F600\nG1 {word}\nM2\n"));
        assert_eq!(outcome.status, Some(2), "{word}");
    }
}

#[test]
fn travels_are_dark() {
    // The beam stays armed over a G0: S0 goes on its line, and S returns at the next burn.
    let outcome =
        wrap(&[], "M4 S250\nF1200\nG1 X5\nG0 X9 Y3\nG1 X12\nG1 X14 S0\nG1 X16 S250\nM2\n").done();
    let program = program::read(outcome.out_text());
    let mut kinds: Vec<_> = program.moves.iter().map(|m| m.kind).collect();
    kinds.dedup();
    if kinds[0] == Kind::Travel {
        kinds.remove(0);
    }
    assert_eq!(kinds, [Kind::Burn, Kind::Travel, Kind::Burn, Kind::Dark, Kind::Burn]);
    for m in &program.moves {
        let lit = m.beam.is_some() && m.power != Some(0.0);
        assert_eq!(lit, m.kind == Kind::Burn, "line {} of\n{}", m.line, outcome.out_text());
        assert_eq!(m.power.unwrap_or(0.0), if m.kind == Kind::Burn { 250.0 } else { 0.0 });
    }
    // Where no S is known, the beam goes off by word.
    let outcome = wrap(&[], "G0 X1\nM3\nG1 X5 F600\nG0 X9 Y3\nG1 X12\nM5\nM2\n").done();
    assert!(outcome.err.contains("S"), "a person is told: {}", outcome.err);
    let program = program::read(outcome.out_text());
    for m in &program.moves {
        assert_eq!(
            m.beam.is_some(),
            m.kind == Kind::Burn,
            "line {} of\n{}",
            m.line,
            outcome.out_text()
        );
    }
}

#[test]
fn nothing_to_burn_is_worth_a_word() {
    let outcome = wrap(&[], "G0 X5\nG1 X9 F600\nM2\n").done();
    assert!(outcome.err.contains("burn"), "{}", outcome.err);
}

#[test]
fn off_the_wall_is_no_job_but_travelling_there_is() {
    let outcome = wrap(&[], "M4 S100\nG1 X500 F600\nM2\n");
    assert_eq!(outcome.status, Some(1));
    let outcome = wrap(&[], "M4 S0\nG0 X500\nG1 X520 F600\nG0 X-100\nG0 X5\nG1 X6 S9\nM2\n");
    assert_eq!(outcome.status, Some(0), "{}", outcome.err);
}

#[test]
fn block_delete_is_off_unless_asked_for() {
    let input = "M4 S100\nF600\nG1 X5\n/ G1 X500\nG1 X6\nM2\n";
    assert_eq!(wrap(&[], input).status, Some(1));
    assert_eq!(wrap(&["--block-delete"], input).status, Some(0));
}

/// Lines across the maker's mark: 8 to 20 mm along the axis, 100 to 125 degrees.
fn across_the_mark() -> String {
    let mut text = String::from("M4 S100\nF1200\n");
    for k in 0..12 {
        let x = 2.0 + f64::from(k) * 2.0;
        text.push_str(&format!("G0 X{x} Y-20\nG1 Y20\n"));
    }
    text.push_str("M5\nM2\n");
    text
}

#[test]
fn zones_are_refused_masked_or_ignored() {
    let place = ["--place-at", "0", "--place-turn", "112.5", "--tilt", "0"];
    let with = |rule: &str| {
        let mut more = place.to_vec();
        more.extend(["--zones", rule]);
        wrap(&more, &across_the_mark())
    };
    let refused = with("refuse");
    assert_eq!(refused.status, Some(1));
    assert!(refused.err.contains("maker's mark"), "{}", refused.err);

    let mut case = Case::new("bottle", "degrees", LayKind::TrueWidth, 0.0, 0.0);
    case.place.1 = 112.5;
    let bench = case.bench();
    let burned = |outcome: &Outcome| {
        let program = program::read(outcome.out_text());
        let (mut inside, mut length) = (0, 0.0);
        for m in program.moves.iter().filter(|m| m.kind == Kind::Burn) {
            let ends =
                [m.from, m.to].map(|at| bench.rotary.place(&bench.wall, bench.rotary.of_axes(&at)));
            for k in 0..=20 {
                let f = f64::from(k) / 20.0;
                let s = program::lerp(ends[0][0], ends[1][0], f);
                let turn = program::lerp(ends[0][1], ends[1][1], f).to_degrees();
                let section = bench.wall.at_s(s);
                // The zone and its margin of 1 mm, less what rounding takes.
                let around = (0.995 / section.r).to_degrees();
                if (7.005..=20.995).contains(&section.z)
                    && (100.0 - around..=125.0 + around).contains(&turn)
                {
                    inside += 1;
                }
            }
            let r = bench.wall.at_s(f64::midpoint(ends[0][0], ends[1][0])).r;
            length += (ends[1][0] - ends[0][0]).hypot(r * (ends[1][1] - ends[0][1]));
        }
        (inside, length)
    };
    let (inside, masked) = burned(&with("mask").done());
    assert_eq!(inside, 0, "nothing burns in the zone or its margin");
    let (inside, ignored) = burned(&with("ignore").done());
    assert!(inside > 50);
    // Seven of the twelve lines cross (x = 8 to 20); each leaves out 25 degrees of about 33 mm and
    // twice the margin.
    let spared = ignored - masked;
    let expected = 7.0 * (25_f64.to_radians() * 33.3 + 2.0);
    assert!((spared - expected).abs() < 3.0, "spared {spared}, expected about {expected}");
}

#[test]
fn the_report_counts_what_was_written() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(fixture("programs/pennant.nc")).unwrap();
    let outcome = wrap_in(folder.path(), &["--report", "report.json"], &text).done();
    let report: serde_json::Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("report.json")).unwrap()).unwrap();
    let (flat, wrapped) = (program::read(&text), program::read(outcome.out_text()));
    let number =
        |key: &str| report[key].as_f64().unwrap_or_else(|| panic!("no number {key} in {report}"));
    assert!((number("moves_in") - flat.moves.len() as f64).abs() < 1e-9, "{report}");
    assert!(
        (number("moves_out") - wrapped.moves.len() as f64).abs() <= 1.0,
        "{report}, {}",
        wrapped.moves.len()
    );
    let bench = {
        let mut case = Case::new("bottle", "degrees", LayKind::TrueWidth, 3.0, 70.0);
        case.tolerance = 0.01;
        case.bench()
    };
    let mut extent = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    for m in flat.moves.iter().filter(|m| m.kind == Kind::Burn) {
        for t in [0.0, 1.0] {
            let [s, turn] = bench.image(m.point(t));
            let z = bench.wall.at_s(s).z;
            extent = [
                extent[0].min(z),
                extent[1].max(z),
                extent[2].min(turn.to_degrees()),
                extent[3].max(turn.to_degrees()),
            ];
        }
    }
    for (key, expected) in ["at_min", "at_max", "turn_min_deg", "turn_max_deg"].iter().zip(extent) {
        assert!((number(key) - expected).abs() < 0.02, "{key}: {} for {expected}", number(key));
    }
    assert!(number("chord_error_max_mm") <= 0.0101);
    assert_eq!(number("overlap_deg"), 0.0);
    let nominal: f64 = flat
        .moves
        .iter()
        .filter(|m| m.kind != Kind::Travel)
        .filter_map(|m| Some(m.length() / m.speed()?))
        .sum();
    assert!(number("nominal_s") > 0.5 * nominal && number("nominal_s") < 2.0 * nominal, "{report}");
    assert!(report["slowed"].is_object() && report["rotary_speed_max"].is_number(), "{report}");
}

#[test]
fn read_says_what_a_program_does() {
    let input = "(MSG, hello)\nG21\nM3 S20\nG0 X10\nG1 X20 F600\nG2 X30 I5\nG4 P1.5\nM8\nM5\nM2\n";
    let outcome = run(&["read", "-"], input.as_bytes()).done();
    let lines: Vec<serde_json::Value> = outcome
        .out_text()
        .lines()
        .map(|l| serde_json::from_str(l).unwrap_or_else(|e| panic!("{e}: {l}")))
        .collect();
    let ops: Vec<_> = lines.iter().map(|l| l["op"].as_str().unwrap()).collect();
    for op in
        ["message", "power", "beam", "travel", "feed_rate", "feed", "arc", "dwell", "pass", "end"]
    {
        assert!(ops.contains(&op), "no {op} in {ops:?}");
    }
    let of = |op: &str| lines.iter().find(|l| l["op"] == op).unwrap();
    assert_eq!(of("feed")["to"]["x"], 20.0);
    assert_eq!(of("feed")["line"], 5);
    assert!((of("feed")["time_s"].as_f64().unwrap() - 1.0).abs() < 1e-12);
    assert!(of("travel")["time_s"].is_null());
    assert!((of("arc")["sweep_deg"].as_f64().unwrap() + 180.0).abs() < 1e-9, "{}", of("arc"));
    assert!((of("arc")["length_mm"].as_f64().unwrap() - 5.0 * std::f64::consts::PI).abs() < 1e-9);
    assert_eq!(of("arc")["centre"], serde_json::json!([25.0, 0.0, 0.0]));
    assert_eq!(of("dwell")["seconds"], 1.5);
    assert_eq!(of("beam")["word"], "M3");
    // What was read before an error stands.
    let outcome = run(&["read"], b"G0 X1\nG1 X2 Q\n");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.out_text().contains("travel"));
    // Strict reading holds to the letter.
    assert_eq!(run(&["read", "--strict"], b"G0 X1 ; not in this language\nM2\n").status, Some(2));
}

/// A beam that is only on or off burns as long as it is on: a program with no S anywhere that waits
/// for a person, dwells dark or travels is dark then, and lit again where it burns on.
#[test]
fn a_beam_that_is_on_or_off_is_dark_wherever_nothing_burns() {
    let files = ["-b", "fixtures/blanks/can.toml", "-m", "fixtures/machines/degrees.toml"];
    let flat = "G21 G90\nG0 X10 Y0\nM4\nG1 X20 F600\nM0\nG1 X30\nM1\nG1 X40\nM60\nG1 X45\n\
                G0 X50\nG1 X60\nM5\nG4 P1\nM2\n";
    let out = run(&[&["wrap", "-", "--place-at", "10"], &files[..]].concat(), flat.as_bytes());
    let out = out.done();
    let (mut lit, mut burning, mut waits, mut burns) = (false, false, 0, 0);
    for line in out.out_text().lines().filter(|line| !line.starts_with('(')) {
        assert!(!line.contains('S'), "{line}");
        match line.split(' ').next().unwrap() {
            "M4" => lit = true,
            "M5" => lit = false,
            "G1" => burning = true,
            "G0" => burning = false,
            _ => {}
        }
        if ["M0", "M1", "M60", "G4"].iter().any(|word| line.starts_with(word)) {
            waits += 1;
            assert!(!lit, "{line} in\n{}", out.out_text());
        } else if line.contains('X') {
            assert_eq!(lit, burning, "{line} in\n{}", out.out_text());
            burns += i32::from(burning);
        }
    }
    assert_eq!((waits, burns), (4, 5), "{}", out.out_text());
}
