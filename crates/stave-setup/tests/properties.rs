//! For any text: no panic, and places that are places. For any values: what was written is what is
//! read.

// A panic in a helper of a test is a failed test too.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use proptest::prelude::*;
use stave_setup::{Fault, JOB_OPTIONS, JobFile, Setup, read_blank, read_job, read_machine};
use stave_tests::cases;

const BLANK: &str = "name = \"a\"\nwall = \"smooth\"\n[[station]]\nat = 0\ndiameter = 70\n\
    [[station]]\nat = 140\ndiameter = 88\n[[zone]]\nname = \"z\"\nat = [1, 2]\nturn = [0, 90]\n\
    rise = 1\nmargin = 0";
const MACHINE: &str = "[controller]\nfull_power = 1000\nair = { low = \"M7\", off = \"M9\" }\n\
    decimals = 4\n[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 3000\n\
    [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n\
    [[lens]]\nname = \"m\"\nfocal_length = 50\n[area]\nspeed = 1\npower = 2\nline_spacing = 0.1";
const JOB: &str = "lay = \"label\"\nanchor = [1, 2]\ntilt = 3\n[place]\nat = 5\nof = \
                   \"art\"\n[[piece]]\nid = [\"a\"]\n\
    [[operation]]\nname = \"o\"\npick = { fill = \"red\" }\nwork = \"area\"\nspeed = 1\npower = \
                            2\nlines_per_inch = 300";

fn faults(text: &str) -> Vec<Fault> {
    let mut list = Vec::new();
    list.extend(read_blank(text, "file").err().into_iter().flatten());
    list.extend(read_machine(text, "file").err().into_iter().flatten());
    list.extend(read_job(text, "file").err().into_iter().flatten());
    list
}

fn check(text: &str) -> Result<(), TestCaseError> {
    for fault in faults(text) {
        let (line, column) = (fault.line().unwrap(), fault.column().unwrap());
        let count = text.split('\n').count() as u64;
        prop_assert!(line >= 1 && line <= count, "line {line} of {count}");
        let length = text.split('\n').nth(line as usize - 1).unwrap().chars().count() as u64;
        prop_assert!(column >= 1 && column <= length + 1, "column {column} of {length}: {fault}");
        let shown = fault.to_string();
        prop_assert!(shown.lines().count() <= 3 && shown.chars().count() < 2000, "{shown}");
        prop_assert!(!shown.contains(|c: char| c.is_control() && c != '\n'), "{shown:?}");
        prop_assert!(!fault.message.is_empty() && !fault.message.ends_with('.'));
    }
    Ok(())
}

/// One of the good files with a stretch replaced.
fn damaged() -> impl Strategy<Value = String> {
    const PIECES: [&str; 15] = [
        "nan", "\"", "[", "]", "= -1", "{}", "\n[x]\n", "1e999", "é\u{7}", "\n", "'", "=", "0",
        "[[zone]]", "",
    ];
    (
        prop::sample::select(vec![BLANK, MACHINE, JOB]),
        any::<prop::sample::Index>(),
        0_usize..12,
        prop::sample::select(&PIECES[..]),
    )
        .prop_map(|(text, at, length, piece)| {
            let from = at.index(text.len());
            let to = (from + length).min(text.len());
            format!("{}{piece}{}", &text[..from], &text[to..])
        })
}

fn word(name: &str, value: &str) -> bool {
    matches!(JobFile::default().set_option(name, value), Ok(()) | Err(_))
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn any_text(text in "\\PC*") {
        check(&text)?;
    }

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        check(&String::from_utf8_lossy(&bytes))?;
    }

    #[test]
    fn text_like_toml(
        text in "([a-z_]{1,8}|\\[{1,2}(x|zone|lens|place)\\]{1,2}|[-=,.\"\\n \
                               {}\\[\\]0-9]){0,60}",
    ) {
        check(&text)?;
    }

    #[test]
    fn a_good_file_with_damage(text in damaged()) {
        check(&text)?;
    }

    #[test]
    fn any_option(option in prop::sample::select(JOB_OPTIONS), value in "\\PC*|[-+0-9.e,inm \
        ]{0,12}") {
        prop_assert!(word(option.name, &value));
    }

    #[test]
    fn stations_come_back(
        gaps in prop::collection::vec((0.1_f64..50.0, 1.0_f64..200.0), 2..30),
        start in -100.0_f64..100.0,
        smooth: bool,
    ) {
        let mut at = start;
        let mut text = format!("wall = \"{}\"\n", if smooth { "smooth" } else { "straight" });
        let mut expected = Vec::new();
        for (gap, diameter) in gaps {
            at += gap;
            text += &format!("[[station]]\nat = {at:?}\ndiameter = {diameter:?}\n");
            expected.push((at, diameter / 2.0));
        }
        let blank = read_blank(&text, "blank").unwrap();
        let found: Vec<(f64, f64)> =
            blank.stations.iter().map(|s| (s.at_mm, s.radius_mm)).collect();
        prop_assert_eq!(found, expected);
    }

    #[test]
    fn option_and_file_agree(at in -1000.0_f64..1000.0, tilt in -89.0_f64..89.0, inch: bool) {
        let unit = if inch { "in" } else { "mm" };
        let file = read_job(
            &format!(
                "units = \"{unit}\"\ntilt = {tilt:?}\n[place]\nat = \
                                      {at:?}"
            ),
            "job",
        )
        .unwrap();
        let mut options = JobFile::default();
        options.set_option("place-at", &format!("{at:?}{unit}")).unwrap();
        options.set_option("tilt", &format!("{tilt:?}")).unwrap();
        prop_assert_eq!(
            file.place_at_mm.map(|at| at.value),
            options.place_at_mm.map(|at| at.value)
        );
        prop_assert_eq!(
            file.tilt_rad.map(|tilt| tilt.value),
            options.tilt_rad.map(|tilt| tilt.value)
        );
    }

    #[test]
    fn decimals_taken_round_by_no_more_than_a_tenth(
        decimals in 0_u32..=9,
        units in 1e-2_f64..1e5,
        tolerance in 1e-5_f64..1.0,
    ) {
        let machine = MACHINE
            .replace("decimals = 4", &format!("decimals = {decimals}"))
            .replace("units_per_turn = 360", &format!("units_per_turn = {units:?}"));
        let job = read_job(&format!("tolerance = {tolerance:?}"), "job").unwrap();
        let setup =
            Setup::new(read_blank(BLANK, "b").unwrap(), read_machine(&machine, "m").unwrap(), job);
        let half = 0.5 / 10_f64.powi(decimals as i32);
        let worst = half.max(half * std::f64::consts::TAU * 44.0 / units);
        prop_assert_eq!(setup.is_ok(), worst <= tolerance / 10.0);
    }
}

/// Hostile sizes end in bounded time: the limit on bytes comes first, then that on faults told.
#[test]
fn large_files() {
    let text = "x".repeat(stave_setup::MOST_FILE_BYTES + 1);
    let told = read_job(&text, "job.toml").unwrap_err();
    assert_eq!(
        told.to_string(),
        format!(
            "job.toml: has {} bytes, but at most {} are read",
            text.len(),
            stave_setup::MOST_FILE_BYTES
        )
    );
    let many: String = (0..20_000).map(|n| format!("key{n} = 1\n")).collect();
    let told = read_job(&many, "job.toml").unwrap_err();
    assert_eq!(told.as_slice().len(), 51);
    assert_eq!(told.as_slice()[50].message, "and 19950 more faults like these");
    let errors = "=\n".repeat(200_000);
    let told = read_job(&errors, "job.toml").unwrap_err();
    assert_eq!(told.as_slice().len(), 1, "of a file as large as this one error is told");
    let stations: String =
        (0..10_001).map(|n| format!("[[station]]\nat = {n}\ndiameter = 50\n")).collect();
    assert!(read_blank(&stations, "straight.toml").is_ok());
    let told = read_blank(&format!("wall = \"smooth\"\n{stations}"), "smooth.toml").unwrap_err();
    assert!(told.to_string().contains("at most 10000 stations, found 10001"), "{told}");
    let nested = format!("lay = {}", "[".repeat(100_000));
    assert!(!read_job(&nested, "job.toml").unwrap_err().is_empty());
}
