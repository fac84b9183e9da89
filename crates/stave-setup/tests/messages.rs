//! What a user sees when something is wrong.

// A panic in a helper of a test is a failed test too.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use insta::assert_snapshot;
use stave_setup::{Fault, JOB_OPTIONS, JobFile, Setup, read_blank, read_job, read_machine};

const BLANK: &str = "[[station]]\nat = 0\ndiameter = 70\n[[station]]\nat = 140\ndiameter = 88\n";
const MACHINE: &str = "name = \"bench\"\n[controller]\nfull_power = 1000\nfeed_counts = \
                       \"all-axes\"\ndecimals = 4\n\
    [x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 3000\n\
    [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n";

fn blank(text: &str) -> String {
    read_blank(text, "flask.toml").unwrap_err().to_string()
}

fn machine(text: &str) -> String {
    read_machine(text, "bench.toml").unwrap_err().to_string()
}

fn job(text: &str) -> String {
    read_job(text, "job.toml").unwrap_err().to_string()
}

fn meeting(machine: &str, job: &str, options: &[(&str, &str)]) -> Result<Vec<Fault>, String> {
    let mut given = JobFile::default();
    for (name, value) in options {
        given.set_option(name, value).map_err(|fault| fault.to_string())?;
    }
    let job = read_job(job, "job.toml").unwrap().overridden_by(given);
    Setup::new(
        read_blank(BLANK, "flask.toml").unwrap(),
        read_machine(machine, "bench.toml").unwrap(),
        job,
    )
    .map(|setup| [setup.doubts, setup.warnings].concat())
    .map_err(|faults| faults.to_string())
}

fn warnings(machine: &str, job: &str) -> String {
    let list = meeting(machine, job, &[]).unwrap();
    list.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

fn option(name: &str, value: &str) -> String {
    JobFile::default().set_option(name, value).unwrap_err().to_string()
}

#[test]
fn a_blank_with_many_faults() {
    let text = r#"name = "stepped flask"
wal = "straight"
[[station]]
at = 0.0
diameter = -70.0
[[station]]
at = -1
diameter = 72.5
circumference = 219.9
[[station]]
at = "12"
[[zone]]
name = "upper boss"
at = [132.0, 118.0]
turn = [170.0, 600.0]
rise = nan
margn = 0.5
"#;
    assert_snapshot!(blank(text));
}

#[test]
fn a_blank_with_too_little() {
    assert_snapshot!(blank("units = \"cm\"\n[[station]]\nat = 0\ndiameter = 70"), @r#"
    flask.toml:1:1: the wall needs at least two [[station]] entries, each with `at` and `diameter`
    flask.toml:1:9: `units` is "cm", but must be "mm" or "in"
    1 | units = "cm"
      |         ^^^^
    "#);
    assert_snapshot!(blank(""), @"flask.toml:1:1: the wall needs at least two [[station]] entries, \
        each with `at` and `diameter`");
    assert_snapshot!(blank("station = 3\nzone = { at = 1 }"), @r#"
    flask.toml:1:11: `station` is 3, but must be a list of tables, each headed [[station]]
    1 | station = 3
      |           ^
    flask.toml:2:8: `zone` is a table, but must be a list of tables, each headed [[zone]]
    2 | zone = { at = 1 }
      |        ^^^^^^^^^^
    "#);
}

#[test]
fn inches_stay_inches_in_messages() {
    let text =
        "units = \"in\"\n[[station]]\nat = 2\ndiameter = 3\n[[station]]\nat = 1.5\ndiameter = 5000";
    assert_snapshot!(blank(text), @"
    flask.toml:6:6: `at` is 1.5, but must be more than the 2 of the station before: stations go up \
        along the axis
    6 | at = 1.5
      |      ^^^
    flask.toml:7:12: `diameter` is 5000, but must be from 0.001 in to 3937.0079 in
    7 | diameter = 5000
      |            ^^^^
    ");
}

#[test]
fn a_machine_with_many_faults() {
    let text = r#"name = ""
[controller]
beam_on = "M5"
full_power = 0
decimals = 12
steepest = 95
air = { low = "M3", off = "M9 X3" }
[x]
speed = 1e999
acceleration = 0x10
min = 5
max = 2
[rotary]
word = "Y"
along = "y"
drive = "roller"
steps_per_turn = 12800
speed = true
acceleration = 2000.0
[[lens]]
name = "a"
focal_length = 63.5
[[lens]]
name = "a"
[area]
speed = 250.0
power = 140.0
lines_per_inch = 400
line_spacing = 0.1
"#;
    assert_snapshot!(machine(text));
}

#[test]
fn a_job_with_many_faults() {
    let text = r##"anchor = "pice"
tolerance = 0
tilt = -90
[place]
at = "middle"
lens = "medium"
[[piece]]
id = ["crest", "crest"]
[[piece]]
id = []
[[operation]]
name = "crest"
pick = { fill = "#12345", id = "x" }
work = "area"
speed = 0
power = 60
passes = 0.5
[[operation]]
work = "lines"
"##;
    assert_snapshot!(job(text));
    assert_snapshot!(job("anchor = [1, \"2\"]\npieces = 1"), @r#"
    job.toml:1:14: `anchor` is "2", but must be a number without quotes
    1 | anchor = [1, "2"]
      |              ^^^
    job.toml:2:1: `pieces` is not a known key; did you mean `piece`?
    2 | pieces = 1
      | ^^^^^^
    "#);
}

#[test]
fn what_is_not_toml() {
    let text = "lay = true-width\ntilt = 1.2.3\ntolerance = 0\n[place\nat = 95.0\n[zero]\nat = \
                3\nat = 4\nlens = \"x\n";
    assert_snapshot!(job(text), @r#"
    job.toml:1:7: `true-width` has no quotes: text is written "true-width"
    1 | lay = true-width
      |       ^^^^^^^^^^
    job.toml:2:11: invalid number
    2 | tilt = 1.2.3
      |           ^^
    job.toml:3:13: `tolerance` is 0, but must be from 1e-6 mm to 10 mm
    3 | tolerance = 0
      |             ^
    job.toml:4:7: unclosed table, expected `]`
    4 | [place
      |       ^
    job.toml:8:1: duplicate key
    8 | at = 4
      | ^^
    job.toml:9:10: this text has no closing quote on its line
    9 | lens = "x
      |          ^
    "#);
}

#[test]
fn long_lines_are_shown_through_a_window() {
    let text = format!(
        "lens = \"{}\"\nx = [{}, \"\u{7}é\", {}]",
        "m".repeat(500),
        "1, ".repeat(300),
        "2, ".repeat(300)
    );
    assert_snapshot!(job(&text));
}

#[test]
fn files_that_do_not_meet() {
    let text = "lens = \"medium\"\nfocus = \"follow\"\nfocus_at = -3\n[place]\nat = \
                200\n[[operation]]\nname = \"a\"\n\
        pick = { id = \"a\" }\nwork = \"line\"\nspeed = 1\npower = 1\nair = \"high\"";
    assert_snapshot!(meeting(MACHINE, text, &[("zero-at", "-1in")]).unwrap_err(), @r#"
    --zero-at: `zero.at` is -25.4 mm, off the wall of "flask", whose stations go from 0 to 140 mm
    job.toml:1:8: `lens` is "medium", but "bench" has no such lens: add a [[lens]] with that name
    1 | lens = "medium"
      |        ^^^^^^^^
    job.toml:2:9: `focus` is "follow", but "bench" has no [z] section: add one, or take "fixed"
    2 | focus = "follow"
      |         ^^^^^^^^
    job.toml:3:12: `focus_at` is -3 mm, off the wall of "flask", whose stations go from 0 to 140 mm
    3 | focus_at = -3
      |            ^^
    job.toml:5:6: `place.at` is 200 mm, off the wall of "flask", whose stations go from 0 to 140 mm
    5 | at = 200
      |      ^^^
    job.toml:12:7: `air` is "high", but the [controller] of "bench" has no `air` word for it
    12 | air = "high"
       |       ^^^^^^
    "#);
    let lenses = format!(
        "{MACHINE}[[lens]]\nname = \"middle\"\nfocal_length = 50\n[[lens]]\nname = \
         \"short\"\nfocal_length = 38"
    );
    assert_snapshot!(meeting(&lenses, "lens = \"medium\"", &[]).unwrap_err(), @r#"
    job.toml:1:8: `lens` is "medium", but "bench" has no such lens: it has "middle" and "short"
    1 | lens = "medium"
      |        ^^^^^^^^
    "#);
    assert_snapshot!(meeting(&lenses, "lens = \"wide\"", &[]).unwrap_err(), @r#"
    job.toml:1:8: `lens` is "wide", but "bench" has no such lens: it has "middle" and "short"
    1 | lens = "wide"
      |        ^^^^^^
    "#);
}

#[test]
fn decimals_too_coarse() {
    let coarse = MACHINE.replace("decimals = 4", "decimals = 2");
    assert_snapshot!(meeting(&coarse, "", &[]).unwrap_err(), @"
    bench.toml:5:12: `decimals` is 2, which rounds X by 0.005 mm, more than a tenth of the \
        tolerance of 0.01 mm: at least 3 are needed
    5 | decimals = 2
      |            ^
    ");
    assert!(meeting(&MACHINE.replace("decimals = 4", "decimals = 3"), "", &[]).is_ok());
    let turns = MACHINE.replace("units_per_turn = 360", "units_per_turn = 1");
    assert_snapshot!(meeting(&turns, "", &[]).unwrap_err(), @"
    bench.toml:5:12: `decimals` is 4, which rounds the rotary by 0.0138 mm at the largest \
        diameter, more than a tenth of the tolerance of 0.01 mm: at least 6 are needed
    5 | decimals = 4
      |            ^
    ");
    let silent = MACHINE.replace("decimals = 4\n", "");
    assert_snapshot!(meeting(&silent, "", &[("tolerance", "0.0001")]).unwrap_err(), @"--tolerance: \
        `decimals` is 4, which rounds X by 5e-5 mm, more than a tenth of the tolerance of 1e-4 mm: \
        at least 5 are needed");
}

#[test]
fn what_can_be_meant_but_is_worth_a_look() {
    let guesses = MACHINE.replace("full_power = 1000\nfeed_counts = \"all-axes\"\n", "");
    let text = "tilt = 20\nreference_diameter = 100\ncontact_at = 10\n[[operation]]\nname = \"a\"\n\
        pick = { id = \"a\" }\nwork = \"line\"\nspeed = 1\npower = 1\nlines_per_inch = 100";
    assert_snapshot!(warnings(&guesses, text));
}

#[test]
fn a_zone_past_the_wall_is_worth_a_look() {
    let text = format!("{BLANK}[[zone]]\nname = \"lid\"\nat = [150, 160]\nturn = [0, 360]");
    let blank = read_blank(&text, "flask.toml").unwrap();
    assert_snapshot!(blank.warnings()[0], @r#"
    flask.toml:7:1: the zone "lid" lies past the ends of the wall: its `at` is likely taken from another datum, or in another unit, than the stations'
    7 | [[zone]]
      | ^^^^^^^^
    "#);
    // A jaw rises beside the wall's end.
    let jaw = read_blank(&format!("{text}\nrise = 12\n"), "flask.toml").unwrap();
    assert!(jaw.warnings().is_empty());
    let far = format!("{text}\nrise = 12\n").replace("[150, 160]", "[1500, 1600]");
    assert_eq!(read_blank(&far, "flask.toml").unwrap().warnings().len(), 1);
}

#[test]
fn what_is_hardly_meant_is_told_with_its_likely_cause() {
    let machine = MACHINE.replacen("speed = 500", "speed = 24000", 1);
    assert_snapshot!(warnings(&machine, "tolerance = 5\n"), @"
    job.toml:1:13: `tolerance` is 5 mm, by which a burn may miss its place: it is wider than a spot; 0.01 is common
    1 | tolerance = 5
      |             ^
    `speed` of [x] is 24000 mm a second, faster than such an axis is: if it is per minute, write 400
    ");
    let machine = MACHINE.replace("speed = 360", "speed = 21600");
    assert_snapshot!(warnings(&machine, ""), @"`speed` of [rotary] is 21600 units a second, faster than such an axis is: if it is per minute, write 360");
    let machine = MACHINE.replacen("acceleration = 5000", "acceleration = 5", 1);
    assert_snapshot!(warnings(&machine, ""), @"`acceleration` of [x] is 5, by which it takes 100 s to come to its `speed` \
        of 500: if it is in metres, write 5000");
    let machine = MACHINE.replace("acceleration = 2000", "acceleration = 2\njerk = 0.01");
    assert_snapshot!(warnings(&machine, ""), @"`acceleration` of [rotary] is 2, by which it takes 180 s to come to its \
        `speed` of 360: if it is in turns, write 720");
    let machine = MACHINE.replace("acceleration = 2000", "acceleration = 2000\njerk = 20");
    assert_snapshot!(warnings(&machine, ""), @"`jerk` of [rotary] is 20 a second cubed, by which it takes 100 s to come to \
        its `acceleration` of 2000: leave it out where the controller has none");
    let machine = format!("{MACHINE}[line]\nspeed = 12000\npower = 20\n");
    let job = "[[operation]]\nname = \"rim\"\npick = { id = \"a\" }\nwork = \"line\"\n\
               speed = 6000\npower = 20\n";
    assert_snapshot!(warnings(&machine, job), @r#"
    `speed` of operation "rim" is 6000 mm a second, faster than an axis burns: if it is per minute, write 100
    `speed` of [line] is 12000 mm a second, faster than an axis burns: if it is per minute, write 200
    "#);
    let told = |blank: &str| {
        let blank = read_blank(blank, "flask.toml").unwrap();
        let setup =
            Setup::new(blank, read_machine(MACHINE, "bench.toml").unwrap(), JobFile::default());
        setup.unwrap().doubts.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    assert_snapshot!(told(&format!("units = \"in\"\n{BLANK}")), @r#"the wall of "flask" is 3556 mm long and up to 2235 mm across, larger than a rotary holds: if its file is in mm, its `units` must be "mm""#);
    let inches = BLANK.replace("140", "5.5").replace("70", "2.75").replace("88", "3.5");
    assert_snapshot!(told(&inches), @r#"the wall of "flask" is 6 mm long and up to 4 mm across, thinner than ware is: if its file is in inches, its `units` must be "in""#);
    assert_eq!(told(BLANK), "");
    let white = format!("{BLANK}[look]\nware = \"#ffffff\"\nburn = \"#ffffff\"\n");
    assert_snapshot!(told(&white), @"[look] has `ware` #ffffff and `burn` #ffffff, a contrast of 1 to 1: the art is hardly seen on the customer's picture; give two colours that differ more");
    // Black oxide on steel, and frost on glass.
    for (ware, burn) in [("#c9ccce", "#2b2b2b"), ("#e8eeee", "#b8c0c0")] {
        let look = format!("{BLANK}[look]\nware = \"{ware}\"\nburn = \"{burn}\"\n");
        assert_eq!(told(&look), "");
    }
    let roller = MACHINE.replace("units_per_turn = 360", "drive = \"roller\"");
    assert_snapshot!(warnings(&roller, ""), @r#"the rollers touch the wall of "flask" at 140 mm, where it tapers by 3.7°: there the work walks along its axis and slips; set it against a stop, and check what a turn really is by `stave swatch --turn`"#);
}

/// What is to be typed instead is a number of the file's own unit, and of an option with its unit.
#[test]
fn what_is_hardly_meant_is_told_in_the_unit_it_was_typed_in() {
    let inches = |text: &str| {
        let small = text
            .replace("speed = 500", "speed = 20")
            .replace("acceleration = 5000", "acceleration = 200")
            .replace("acceleration = 3000", "acceleration = 120");
        format!("units = \"in\"\n{small}")
    };
    let told = |machine: &str, job: &str| warnings(machine, job);
    let machine = inches(MACHINE);
    assert_eq!(told(&machine, ""), "");
    let per_minute = machine.replacen("speed = 20", "speed = 1200", 1);
    assert_snapshot!(told(&per_minute, ""), @r#"`speed` of [x] is 30480 mm a second (1200 in), faster than such an axis is: if it is per minute, write 20; if its file is in mm, its `units` must be "mm""#);
    // Typed in mm, and only the unit wrong.
    let mm = machine.replacen("speed = 20", "speed = 500", 1);
    assert_snapshot!(told(&mm, ""), @r#"`speed` of [x] is 12700 mm a second (500 in), faster than such an axis is: if it is per minute, write 8.3333; if its file is in mm, its `units` must be "mm""#);
    let metres = machine.replacen("acceleration = 200", "acceleration = 0.5", 1);
    assert_snapshot!(told(&metres, ""), @r#"`acceleration` of [x] is 0.5, by which it takes 40 s to come to its `speed` of 20: if it is in metres, write 19.685"#);
    let line = format!("{machine}[line]\nspeed = 600\npower = 20\n");
    assert_snapshot!(told(&line, ""), @r#"`speed` of [line] is 15240 mm a second (600 in), faster than an axis burns: if it is per minute, write 10; if its file is in mm, its `units` must be "mm""#);
    // A focus goes by a screw.
    let focus =
        |speed: u32| format!("{MACHINE}[z]\nspeed = {speed}\nacceleration = 100\nup = \"away\"\n");
    assert_eq!(told(&focus(20), ""), "");
    assert_snapshot!(told(&focus(1200), ""), @r#"`speed` of [z] is 1200 mm a second, faster than such an axis is: if it is per minute, write 20"#);
    // The job's file has a unit of its own.
    assert_snapshot!(told(MACHINE, "reference_diameter = 700\n"), @r#"
    job.toml:1:22: `reference_diameter` is 700 mm, larger than a rotary holds: a digit or a decimal point may be wrong
    1 | reference_diameter = 700
      |                      ^^^
    job.toml:1:22: `reference_diameter` is 700 mm, which the wall has nowhere: its diameters go from 70 to 88 mm
    1 | reference_diameter = 700
      |                      ^^^
    "#);
    assert_snapshot!(told(MACHINE, "units = \"in\"\nreference_diameter = 70\n"), @r#"
    job.toml:2:22: `reference_diameter` is 1778 mm (70 in), larger than a rotary holds: if it is in mm, write 2.7559
    2 | reference_diameter = 70
      |                      ^^
    job.toml:2:22: `reference_diameter` is 1778 mm, which the wall has nowhere: its diameters go from 70 to 88 mm
    2 | reference_diameter = 70
      |                      ^^
    "#);
    assert_snapshot!(told(MACHINE, "set_diameter = 3\n"), @r#"
    job.toml:1:16: `set_diameter` is 3 mm, thinner than ware is: if it is in inches, write 76.2
    1 | set_diameter = 3
      |                ^
    "#);
    assert_snapshot!(told(MACHINE, "units = \"in\"\nset_diameter = 0.1\n"), @r#"
    job.toml:2:16: `set_diameter` is 2.54 mm (0.1 in), thinner than ware is: a digit or a decimal point may be wrong
    2 | set_diameter = 0.1
      |                ^^^
    "#);
    assert_snapshot!(told(MACHINE, "units = \"in\"\ntolerance = 0.01\n"), @r#"
    job.toml:2:13: `tolerance` is 0.254 mm (0.01 in), by which a burn may miss its place: it is wider than a spot; 0.0004 is common
    2 | tolerance = 0.01
      |             ^^^^
    "#);
    let job = "units = \"in\"\n[[operation]]\nname = \"rim\"\npick = { id = \"a\" }\nwork = \"line\"\n\
               speed = 240\npower = 20\n";
    assert_snapshot!(told(MACHINE, job), @r#"`speed` of operation "rim" is 6096 mm a second (240 in), faster than an axis burns: if it is per minute, write 4; if its file is in mm, its `units` must be "mm""#);
}

#[test]
fn a_decimal_comma_and_a_unit_are_told_for_what_they_are() {
    let blank = |diameter: &str| {
        let text = BLANK.replacen("140", diameter, 1);
        read_blank(&text, "flask.toml").unwrap_err().to_string()
    };
    let comma = blank("14,05");
    assert!(comma.contains("the decimal sign is a point: write 14.05"), "{comma}");
    let unit = blank("140mm");
    assert!(
        unit.contains("`140mm` is no number: it stands alone, without a unit: write 140"),
        "{unit}"
    );
    let tilt = option("tilt", "-5,5").to_string();
    assert!(tilt.ends_with("; the decimal sign is a point: write -5.5"), "{tilt}");
    let place = option("place-at", "2,5in").to_string();
    assert!(place.ends_with("; the decimal sign is a point: write 2.5"), "{place}");
}

#[test]
fn options() {
    assert_snapshot!(option("lay", "flat"), @"--lay: \"flat\" is given, but must be \
        \"even-angle\", \"true-width\", \"true-shape\" or \"label\"");
    assert_snapshot!(option("tilt", "95"), @"--tilt: \"95\" is given, but must be an angle in \
        degrees, more than -90 and less than 90");
    assert_snapshot!(option("tilt", "three"), @"--tilt: \"three\" is given, but must be an angle \
        in degrees, more than -90 and less than 90");
    assert_snapshot!(option("tolerance", "-0.1mm"), @"--tolerance: \"-0.1mm\" is given, but must \
        be from 1e-6 mm to 10 mm");
    assert_snapshot!(option("reference-diameter", "3.5ft"), @"--reference-diameter: \"3.5ft\" is \
        given, but must be a length such as 88, 88mm or 3.5in, at least 0.0254 mm");
    assert_snapshot!(option("anchor", "-10"), @"--anchor: \"-10\" is given, but must be \
        \"drawing\", \"piece\" or a point \"u,v\" such as -10,5");
    assert_snapshot!(option("place-at", "inf"), @"--place-at: \"inf\" is given, but must be a \
        length such as 88, 88mm or 3.5in");
    assert_snapshot!(option("place-at", "1e300in"), @"--place-at: \"1e300in\" is given, but must \
        be from -100000 mm to 100000 mm");
    assert_snapshot!(option("zone", "mask"), @"--zone: is not an option for a job setting; did you \
        mean `zones`?");
    assert_snapshot!(option("q", "\u{1b}[2J"), @"--q: is not an option for a job setting; known \
        are `lay`, `anchor`, `reference-diameter`, `tolerance`, `tilt`, `dose`, `zones`, `focus`, \
        `focus-at`, `stands`, `toward`, `lens`, `nozzle`, `set-diameter`, `contact-at`, \
        `place-at`, `place-turn`, `place-of`, `place-facet`, `held-at`, `zero-at` and `zero-turn`");
}

#[test]
fn every_option_is_taken() {
    for option in JOB_OPTIONS {
        let (name, words) = (option.name, option.words());
        let value = match name {
            "anchor" => " -10 , 5in ",
            _ => words.last().copied().unwrap_or("5"),
        };
        let mut job = JobFile::default();
        job.set_option(name, value).unwrap();
        assert_ne!(job, JobFile::default(), "{name}");
        // A word that is listed is taken.
        for word in words {
            job.set_option(name, word).unwrap();
        }
    }
}

#[test]
fn every_setting_of_a_job_is_an_option_of_the_same_name() {
    // All job settings can be given as options. What is listed as
    // known in each table of a job file is what can be set there.
    let known = |text: &str| {
        let fault = read_job(text, "job.toml").unwrap_err().to_string();
        let (_, known) = fault.split_once("known are ").expect("a list");
        let names: Vec<String> = known.split('`').skip(1).step_by(2).map(str::to_owned).collect();
        names
    };
    // `allow` and `fonts` are lists, which the command has as options that can be repeated; files
    // are its -b, -m and INPUT.
    let lists = [
        "units",
        "place",
        "zero",
        "piece",
        "operation",
        "allow",
        "fonts",
        "blank",
        "machine",
        "input",
    ];
    for (table, text) in [
        ("", "qqqqqqqqq = 1"),
        ("place", "[place]\nqqqqqqqqq = 1"),
        ("zero", "[zero]\nqqqqqqqqq = 1"),
    ] {
        for key in
            known(text).iter().filter(|key| !(table.is_empty() && lists.contains(&key.as_str())))
        {
            let name = format!("{table}-{key}").replace('_', "-");
            let name = match key.as_str() {
                "contact_at" => "contact-at",
                "held_at" => "held-at",
                _ => name.trim_start_matches('-'),
            };
            assert!(JOB_OPTIONS.iter().any(|option| option.name == name), "{name}");
        }
    }
}

#[test]
fn a_head_and_a_rotary_with_faults() {
    let text = MACHINE.to_owned()
        + r#"[[rotary.obstacle]]
name = "jaw"
along = [12, -40]
radius = 30
[[rotary.obstacle]]
name = "jaw"
along = [-40, 12]
radius = 30
across = [0, 10]
height = 5
[[rotary.obstacle]]
name = "post"
along = [0, 10]
across = [-5, 5]
[[rotary.obstacle]]
name = "wheel"
along = [0, 10]
turn = [0, 400]
radius = 20
[[nozzle]]
name = "wide"
radius = 9
gap = 6
step = [[20, 12], [20, 15]]
[[nozzle]]
name = "flat"
radius = 9
gap = 6
step = [20, 12]
[carriage]
x = [-30, 40]
y = [25, -25]
"#;
    assert_snapshot!(machine(&text));
}

#[test]
fn keys_of_an_obstacle_that_say_nothing() {
    let text = MACHINE.to_owned()
        + "[[rotary.obstacle]]\nname = \"jaw\"\nalong = [-40, 12]\nradius = 30\nheight = 4\n\
           [[rotary.obstacle]]\nname = \"post\"\nalong = [0, 9]\nacross = [-5, 5]\n\
           height = 4\nturn = [0, 9]\n";
    assert_snapshot!(warnings(&text, ""));
    assert_snapshot!(warnings(MACHINE, "[place]\nheld_at = 5\n"));
}
