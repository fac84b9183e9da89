//! Every length and speed of the three files in inches, held against the same in millimetres.
//!
//! An inch is 25.4 mm exactly (International Yard and Pound Agreement, 1959). Which keys bear a
//! unit is asked of `stave keys`, so that a new key is missed here until a scene has it.

use crate::command::{Outcome, fixture, run, run_in};
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const ART: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" width="7.5398in" height="3in"
viewBox="0 0 753.98 300"><rect id="patch" x="365" y="120" width="30" height="20" fill="#1f3a5f"/>
<path id="bow" d="M335 200 q40 -30 90 0" fill="none" stroke="#a02020"/>
<rect id="band" x="0" y="250" width="753.98" height="8" fill="#2f4f2f"/></svg>"##;
const FLAT: &str = "G20 G90\nG0 X0.6 Y-0.4\nM4 S300\nG1 X1.1 Y0.3 F40\nG1 X1.4\nG0 X1.6 Y0.5 Z0.1\n\
                    G1 X2 Y0.2 Z-0.1\nG1 X2.6 Y0.3\nM5\nM2\n";

pub const CUP: &str = r#"units = "in"
[[station]]
at = 0.0
diameter = 2.5
oval = 0.004
runout = 0.002
[[station]]
at = 1.9
diameter = 2.55
[[station]]
at = 4.0
circumference = 8.2
[[zone]]
name = "boss"
at = [2.6, 3.1]
turn = [170.0, 190.0]
rise = 0.3
margin = 0.03
"#;
const FLASK: &str = r#"units = "in"
[[station]]
at = 0.0
diameter = 2.5
[[station]]
at = 4.0
diameter = 2.5
[[facet]]
name = "front"
turn = 90.0
at = [0.5, 3.4]
width = 1.2
height = 1.1
"#;
const CHUCK: &str = r#"word = "A"
units_per_turn = 360.0
steps_per_turn = 12800"#;
pub const MACHINE: &str = r#"units = "in"
[controller]
full_power = 1000
corner_tolerance = 0.001
[x]
speed = 10.0
acceleration = 100.0
jerk = 2500.0
min = -8.0
max = 9.0
[y]
speed = 9.0
acceleration = 90.0
jerk = 2400.0
min = -0.2
max = 0.9
[z]
speed = 0.8
acceleration = 4.0
jerk = 90.0
min = -2.0
max = 3.0
[rotary]
word = "A"
units_per_turn = 360.0
steps_per_turn = 12800
speed = 360.0
acceleration = 2000.0
axis_height = 1.6
support_span = 7.0
[[rotary.obstacle]]
name = "jaw"
along = [-1.5, 0.2]
radius = 1.4
[[rotary.obstacle]]
name = "post"
along = [4.2, 5.0]
across = [-1.0, 1.1]
height = 1.3
[beam]
wavelength_um = 10.6
diameter_at_lens = 0.28
m2 = 1.2
[[lens]]
name = "medium"
focal_length = 2.5
[[lens]]
name = "measured"
focal_length = 1.5
spot = 0.004
depth_of_focus = 0.02
[[nozzle]]
name = "barrel"
radius = 0.3
gap = 0.25
step = [[1.0, 0.6]]
[carriage]
x = [-1.2, 1.6]
y = [-1.0, 1.1]
above = 1.7
[area]
speed = 10.0
power = 40.0
line_spacing = 0.012
[picture]
speed = 9.0
power = 60.0
line_spacing = 0.02
[[coating]]
name = "black"
speed = 8.0
power = 45.0
line_spacing = 0.01
[line]
speed = 2.5
power = 20.0
"#;

pub const ALLOW: &str = "units = \"in\"\nallow = [\"defocus-far\", \"clearance\", \"overlap\", \
                     \"travel-limit\", \"zone\", \"off-wall\"]\n";
const BY_OPERATIONS: &str = r##"lay = "true-width"
reference_diameter = 2.4
tolerance = 0.0004
focus_at = 1.5
set_diameter = 2.45
[place]
at = 0.3
held_at = 0.1
[zero]
at = 0.5
[[piece]]
id = ["bow"]
lay = "label"
anchor = [1.0, 0.1]
[[operation]]
name = "patch"
pick = { fill = "#1f3a5f" }
work = "area"
speed = 7.0
power = 40.0
line_spacing = 0.012
defocus = 0.02
anchor = [0.2, 0.2]
[[operation]]
name = "band"
pick = { id = "band" }
work = "area"
coating = "black"
lay = "even-angle"
anchor = "drawing"
fade = 0.1
[[operation]]
name = "bow"
pick = { stroke = "#a02020" }
work = "line"
speed = 2.0
power = 30.0
"##;

/// Files of one set-up, lengths in inches, and what is asked of them: what is quick first.
#[derive(Clone)]
pub struct Scene {
    pub blank: String,
    pub machine: String,
    pub job: String,
    pub asked: Vec<&'static str>,
}

pub fn scenes() -> Vec<Scene> {
    let scene = |blank: &str, job: &str, asked: &[&'static str]| Scene {
        blank: blank.to_owned(),
        machine: MACHINE.to_owned(),
        job: format!("{ALLOW}{job}"),
        asked: asked.to_vec(),
    };
    let roller = |job| {
        let drive = "word = \"A\"\ndrive = \"roller\"\nsteps_per_mm = 80";
        let machine = MACHINE.replace(CHUCK, drive);
        Scene { machine, ..scene(CUP, job, &["wrap flat.nc BMJ"]) }
    };
    let follow = "lay = \"even-angle\"\nanchor = [0.5, 0.1]\nfocus = \"follow\"\n[place]\n\
                  at = 0.4\n[zero]\nat = 0.5\n";
    let in_middle = "[place]\nat = 1.7\nof = \"art\"\n";
    let drawing = [
        "wrap art.svg BMJ",
        "check art.svg BMJ --json",
        "estimate art.svg BMJ --json",
        "wrap art.svg BMJ --to svg",
        "level -b b.toml -m m.toml --json",
        "template -b b.toml -j j.toml",
        "level -b b.toml -m m.toml -o -",
        "walk art.svg BMJ",
        "lays art.svg BMJ --json",
        "proof art.svg BMJ -o sheet.html",
    ];
    let program = ["wrap flat.nc BMJ", "check flat.nc BMJ --json", "estimate flat.nc BMJ --json"];
    let plain = ["wrap art.svg BMJ", "swatch BMJ --powers 20,40 --speeds 100,200"];
    vec![
        scene(CUP, follow, &program),
        roller("contact_at = 0.5\n[place]\nat = 0.4\n"),
        roller("[place]\nat = 0.4\ncontact_at = 0.7\n"),
        scene(FLASK, "[place]\nfacet = \"front\"\n", &program),
        scene(CUP, in_middle, &["wrap ramp.jpg --width 20mm BMJ"]),
        scene(CUP, in_middle, &plain),
        scene(CUP, BY_OPERATIONS, &drawing),
    ]
}

/// What `stave keys` tells of the keys of blank, machine and job: file and key, unit, type.
pub fn keys() -> Vec<((String, String), String, String)> {
    let keys = run(&["keys", "--json"], b"").done();
    let keys: Vec<Value> = serde_json::from_slice(&keys.out).unwrap();
    let word = |key: &Value, name: &str| key[name].as_str().unwrap_or_default().to_owned();
    let of =
        |key: &Value| ((word(key, "file"), word(key, "key")), word(key, "unit"), word(key, "type"));
    keys.iter().filter(|key| key["file"] != "order").map(of).collect()
}

/// A file of a scene with what `of` makes of each length, and the keys of those.
fn each_length(
    text: &str,
    mut of: impl FnMut(&str, f64) -> f64,
    is: impl Fn(&str) -> bool,
) -> String {
    let (mut section, mut out) = (String::new(), String::new());
    for line in text.lines() {
        if let Some(head) = line.strip_prefix('[') {
            section = format!("{}.", head.trim_matches(['[', ']']));
        }
        match line.split_once(" = ") {
            Some((name, value)) if is(&format!("{section}{name}")) && !value.contains('"') => {
                let key = format!("{section}{name}");
                out += &format!("{name} = ");
                let number = |c: char| c.is_ascii_digit() || c == '.' || c == '-';
                let mut rest = value;
                while let Some(start) = rest.find(number) {
                    out += &rest[..start];
                    rest = &rest[start..];
                    let end = rest.find(|c| !number(c)).unwrap_or(rest.len());
                    out += &format!("{:?}", of(&key, rest[..end].parse().unwrap()));
                    rest = &rest[end..];
                }
                out += rest;
            }
            _ => out += line,
        }
        out.push('\n');
    }
    out
}

type Keys = BTreeSet<(String, String)>;

impl Scene {
    pub fn files(&self) -> [(&'static str, &str); 3] {
        [("blank", &self.blank), ("machine", &self.machine), ("job", &self.job)]
    }

    /// The length keys that its files give.
    fn keys(&self, all: &Keys) -> Keys {
        let mut found = Keys::new();
        for (file, text) in self.files() {
            let is = |key: &str| all.contains(&(file.to_owned(), key.to_owned()));
            let note = |key: &str, value| {
                found.insert((file.to_owned(), key.to_owned()));
                value
            };
            each_length(text, note, is);
        }
        found
    }

    /// The files in mm; where a key is named its inches are taken for mm.
    fn in_mm(&self, all: &Keys, mistaken: Option<&(String, String)>) -> [String; 3] {
        self.files().map(|(file, text)| {
            let pair = |key: &str| (file.to_owned(), key.to_owned());
            let is = |key: &str| all.contains(&pair(key));
            // What a person would write: no digits of rounding.
            let of = |key: &str, value: f64| match mistaken {
                Some(mistaken) if *mistaken == pair(key) => value,
                _ => (value * 25.4e9).round() / 1e9,
            };
            each_length(text, of, is).replace("units = \"in\"", "units = \"mm\"")
        })
    }

    /// What is told of such files, one thing asked after the other.
    pub fn told<'a>(
        &'a self,
        folder: &'a Path,
        files: &[String; 3],
    ) -> impl Iterator<Item = Told> + 'a {
        for (name, text) in ["b.toml", "m.toml", "j.toml"].iter().zip(files) {
            fs::write(folder.join(name), text).unwrap();
        }
        fs::write(folder.join("art.svg"), ART).unwrap();
        fs::write(folder.join("flat.nc"), FLAT).unwrap();
        fs::copy(fixture("photos/ramp.jpg"), folder.join("ramp.jpg")).unwrap();
        self.asked.iter().map(|asked| {
            let words = asked.replace("BMJ", "-b b.toml -m m.toml -j j.toml");
            let words: Vec<&str> = words.split(' ').collect();
            let mut outcome = run_in(folder, &words, b"");
            if words.contains(&"sheet.html") {
                outcome.out = fs::read(folder.join("sheet.html")).unwrap_or_default();
            }
            Told::new(asked, &outcome)
        })
    }
}

/// What a command said, its numbers apart: lines of the files that messages quote, and digests of
/// the files, left out.
#[derive(Clone, Debug)]
pub struct Told {
    pub asked: &'static str,
    pub status: Option<i32>,
    pub text: String,
    numbers: Vec<f64>,
}

impl Told {
    pub fn new(asked: &'static str, outcome: &Outcome) -> Self {
        let quoted = |line: &&str| {
            !line
                .trim_start_matches([' ', '0', '1', '2', '3', '4', '5', '6', '7', '8', '9'])
                .starts_with("| ")
        };
        let (mut text, mut numbers) = (String::new(), Vec::new());
        for line in outcome.out_text().lines().chain(outcome.err.lines()).filter(quoted) {
            let words = line.split(' ').filter(|word| !word.starts_with("files="));
            for word in words {
                let mut rest = word;
                while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
                    text += &rest[..start];
                    rest = &rest[start..];
                    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.');
                    let (number, after) = rest.split_at(end.unwrap_or(rest.len()));
                    match number.parse() {
                        Ok(number) => numbers.push(number),
                        Err(_) => text += number,
                    }
                    rest = after;
                }
                text += rest;
                text.push(' ');
            }
            text.push('\n');
        }
        Self { asked, status: outcome.status, text, numbers }
    }

    /// The same to the rounding of floats.
    pub fn is(&self, other: &Self) -> bool {
        let near = |(a, b): (&f64, &f64)| (a - b).abs() <= 1e-9 * (1.0 + a.abs());
        (self.status, &self.text) == (other.status, &other.text)
            && self.numbers.len() == other.numbers.len()
            && self.numbers.iter().zip(&other.numbers).all(near)
    }
}

/// In two steps: all keys at once in inches tell what they tell in mm, but for pictures; and
/// whichever key's inches are taken for mm, something else is told. So none can be taken so in the
/// first.
#[test]
fn every_length_and_speed_counts_and_may_be_given_in_inches() {
    let in_inches = |unit: &str| unit.contains("where `units` is \"in\"");
    let keys = keys().into_iter().filter(|(_, unit, _)| in_inches(unit));
    let all: Keys = keys.map(|(key, ..)| key).collect();
    assert!(all.len() > 60, "{all:?}");
    let folder = tempfile::tempdir().unwrap();
    let mut left = all.clone();
    for scene in scenes() {
        let inches = scene.files().map(|(_, text)| text.to_owned());
        let expected: Vec<Told> = scene.told(folder.path(), &scene.in_mm(&all, None)).collect();
        for (told, expected) in scene.told(folder.path(), &inches).zip(&expected) {
            assert_eq!(told.status, Some(0), "{}: {}", told.asked, told.text);
            // Pictures are read in the unit of the ware (`inches`): they are not alike.
            let is_drawn = told.asked.starts_with("template") || told.asked.contains(" -o ");
            assert!(is_drawn || told.is(expected), "{}:\n{}", told.asked, told.text);
        }
        let own: Vec<_> = scene.keys(&all).intersection(&left).cloned().collect();
        for key in own {
            let mistaken = scene.in_mm(&all, Some(&key));
            let mut told = scene.told(folder.path(), &mistaken).zip(&expected);
            if told.any(|(told, expected)| !told.is(expected)) {
                left.remove(&key);
            }
        }
    }
    assert!(left.is_empty(), "nothing is told that hangs on {left:?}");
}
