//! No choice or flag of the three files is taken for nothing, and those that reverse reverse. Which
//! there are is asked of `stave keys`, so that a new one is missed here until a scene has it.

use crate::command::{fixture, run_in};
use crate::program;
use crate::units::{ALLOW, CUP, MACHINE, Scene, Told, keys, scenes};
use std::fs;

/// The first section of that name, or the top, with a key given anew; `None` where there is none.
fn with_key(text: &str, key: &str, value: &str) -> Option<String> {
    let (section, name) = key.rsplit_once('.').unwrap_or(("", key));
    let head = |line: &str| line.starts_with('[').then(|| line.trim_matches(['[', ']']).to_owned());
    let lines: Vec<&str> = text.lines().collect();
    let start = if section.is_empty() {
        1
    } else {
        1 + lines.iter().position(|line| head(line).as_deref() == Some(section))?
    };
    let end = lines[start..].iter().position(|line| line.starts_with('['));
    let end = end.map_or(lines.len(), |more| start + more);
    let kept = lines[start..end].iter().filter(|line| line.split(' ').next() != Some(name));
    let given = format!("{name} = {value}");
    let before = lines[..start].iter().copied().chain([given.as_str()]);
    let all = before.chain(kept.copied()).chain(lines[end..].iter().copied());
    Some(all.map(|line| format!("{line}\n")).collect())
}

/// Set-ups in which every choice makes a difference.
fn choices() -> Vec<Scene> {
    let [program, .., drawing] = &scenes()[..] else { panic!("some scenes") };
    let of = |blank: &str, machine: String, job: &str, asked: &[&'static str]| Scene {
        blank: blank.to_owned(),
        machine,
        job: format!("{ALLOW}{job}"),
        asked: asked.to_vec(),
    };
    let masked = Scene {
        blank: CUP.replace("turn = [170.0, 190.0]", "turn = [10.0, 20.0]"),
        job: program.job.replace("focus = ", "zones = \"mask\"\nfocus = "),
        asked: vec!["wrap flat.nc BMJ"],
        ..program.clone()
    };
    let air = "[controller]\nbeam_on = \"M3\"\nair = { low = \"M7\", off = \"M9\" }";
    // So fast that a bow of an inch slows it.
    let fast = MACHINE.replace("[controller]", air).replace("speed = 2.5", "speed = 20.0");
    let in_middle = "[place]\nat = 1.7\nof = \"art\"\n";
    let quick = ["wrap art.svg BMJ", "estimate art.svg BMJ --json"];
    let picture = "[[operation]]\nname = \"all\"\nwork = \"picture\"\nspeed = 6.0\npower = 50.0\n\
                   line_spacing = 0.02\n";
    let nothing = "[[operation]]\nname = \"none\"\npick = { id = \"none\" }\nwork = \"line\"\n\
                   optional = true\nspeed = 6.0\npower = 50.0\n";
    let of_ramp = ["wrap ramp.jpg --width 20mm BMJ"];
    let drawn = Scene {
        blank: format!("{CUP}[look]\nfinish = \"matt\"\n"),
        machine: MACHINE.replace("[controller]", air),
        asked: vec!["wrap art.svg BMJ", "proof art.svg BMJ --for-customer -o sheet.html"],
        ..drawing.clone()
    };
    vec![
        masked,
        of(CUP, fast.clone(), in_middle, &quick),
        of(CUP, fast.clone(), in_middle, &of_ramp),
        of(CUP, fast, &format!("{in_middle}{picture}"), &of_ramp),
        Scene { job: drawn.job.replacen("[[op", &format!("{nothing}[[op"), 1), ..drawn.clone() },
        drawn,
    ]
}

/// A choice that is not heeded tells the same whatever is chosen.
#[test]
fn every_choice_and_flag_counts() {
    let words = |kind: &str| -> Vec<String> {
        if kind == "true or false" {
            return vec!["true".into(), "false".into()];
        }
        let quoted = kind.split('"').skip(1).step_by(2).map(|word| format!("{word:?}"));
        if kind.starts_with("one of") || kind.starts_with('"') { quoted.collect() } else { vec![] }
    };
    let folder = tempfile::tempdir().unwrap();
    let mut left = keys();
    left.retain(|((_, key), _, kind)| key != "units" && !words(kind).is_empty());
    assert!(left.len() > 35, "{left:?}");
    for scene in choices() {
        let files = scene.files().map(|(_, text)| text.to_owned());
        let expected: Vec<Told> = scene.told(folder.path(), &files).collect();
        assert!(expected.iter().all(|told| told.status == Some(0)), "{expected:?}");
        left.retain(|((file, key), _, kind)| {
            !words(kind).iter().any(|word| {
                let mut given = files.clone();
                let at = ["blank", "machine", "job"].iter().position(|one| one == file).unwrap();
                let Some(text) = with_key(&given[at], key, word) else { return false };
                given[at] = text;
                // Neither a refusal nor a warning shows that something else was made, but where the
                // one choice is refused here and the other is not.
                let may_refuse = ["rotary.drive", "operation.optional"].contains(&&**key);
                let mut told = scene.told(folder.path(), &given).zip(&expected);
                told.any(|(told, expected)| match told.status {
                    Some(0) => !told.is(expected),
                    _ => may_refuse,
                })
            })
        });
    }
    assert!(left.is_empty(), "nothing is told that hangs on {left:?}");
}

/// `reverse` negates the rotary's word, `toward` that and the word along, `up` the word of the
/// focus, each alone and with the others, in `wrap` and in the walk round what it wrote; and what
/// is judged and timed of that is the same.
#[test]
fn each_reversing_key_reverses_its_words_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let machine = fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let flat = "G21 G90\nG0 X5 Y-8\nM4 S300\nG1 X40 Y9 F900\nG0 X50 Y12\nG1 Y-7\nM5\nM2\n";
    let blank = fixture("blanks/cup.toml").display().to_string();
    let made = |reverse: bool, toward: &str, up: &str| {
        let machine = machine
            .replace("[rotary]", &format!("[rotary]\nreverse = {reverse}"))
            .replace("up = \"away\"", &format!("up = {up:?}"));
        fs::write(folder.path().join("m.toml"), machine).unwrap();
        let stave = |command: &[&str], input: &[u8]| {
            let words = [command, &["-b", &blank, "-m", "m.toml"]].concat();
            run_in(folder.path(), &words, input)
        };
        let job = ["wrap", "--toward", toward, "--focus", "follow", "--place-at", "20"];
        let wrapped = stave(&job, flat.as_bytes()).done().out;
        let walked = stave(&["walk"], &wrapped).done().out;
        let words = |text: &[u8]| -> Vec<program::Axes> {
            let read = program::read(std::str::from_utf8(text).unwrap());
            read.moves.iter().map(|one| one.to).collect()
        };
        let told = [["check", "--json"], ["estimate", "--json"]]
            .map(|command| Told::new(command[0], &stave(&command, &wrapped).done()));
        ([words(&wrapped), words(&walked)], told)
    };
    let (words, told) = made(false, "x+", "away");
    let zs = words[0].iter().map(|to| to[2]);
    assert!(zs.fold(0.0, f64::max) > 1.0 && words[1].len() > 3, "{words:?}");
    for reverse in [false, true] {
        for (toward, along) in [("x+", 1.0), ("x-", -1.0)] {
            for (up, lift) in [("away", 1.0), ("toward", -1.0)] {
                let (other, other_told) = made(reverse, toward, up);
                let turn = if reverse { -along } else { along };
                let signs = [along, 1.0, lift, turn, 1.0, 1.0];
                for (words, other) in words.iter().zip(&other) {
                    assert_eq!(words.len(), other.len());
                    for (to, other) in words.iter().zip(other) {
                        let near = |k: usize| (signs[k] * to[k] - other[k]).abs() < 1.01e-4;
                        let what = format!("{reverse} {toward} {up}");
                        assert!((0..6).all(near), "{what}: {to:?} {other:?}");
                    }
                }
                for (told, other) in told.iter().zip(&other_told) {
                    assert!(told.is(other), "{reverse} {toward} {up}:\n{}", other.text);
                }
            }
        }
    }
}
