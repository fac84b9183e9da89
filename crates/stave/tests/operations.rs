//! Operations as a craftsman sets them, from the drawing to the words of the program.
#![allow(clippy::unwrap_used, missing_docs)]

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::f64::consts::TAU;

use stave::setup::{read_blank, read_job, read_machine};
use stave::{Code, Options, Setup, Source, Step, StepKind, WrapReport, check, steps, wrap};

const CAN: &str = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n";
/// A spot of 0.2 mm whose Rayleigh length is 2/√0.21 mm.
const BENCH: &str = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = \
                     5000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nsteps_per_turn = \
                     3600\nspeed = 360\nacceleration = 2000\n[[lens]]\nname = \"one\"\n\
                     focal_length = 50\nspot = 0.2\ndepth_of_focus = 2\n";

fn setup(machine: &str, job: &str) -> Setup {
    let machine = read_machine(&format!("{BENCH}{machine}"), "bench.toml").unwrap();
    let blank = read_blank(CAN, "can.toml").unwrap();
    Setup::new(blank, machine, read_job(job, "job.toml").unwrap()).unwrap()
}

fn drawing(body: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='188.496mm' height='100mm' viewBox='0 0 \
         188.496 100'>{body}</svg>"
    )
}

fn wrapped(svg: &str, setup: &Setup) -> (String, WrapReport) {
    let mut text = Vec::new();
    let report =
        wrap(Source::drawing(svg.as_bytes()), &mut text, setup, &Options::default()).unwrap();
    (String::from_utf8(text).unwrap(), report)
}

fn burns(source: Source<'_>, setup: &Setup) -> Vec<Step> {
    let mut found = Vec::new();
    steps(source, setup, &Options::default(), |step| {
        if step.kind == StepKind::Burn {
            found.push(*step);
        }
        Ok::<(), Infallible>(())
    })
    .unwrap();
    found
}

fn codes(text: &str, setup: &Setup) -> Vec<Code> {
    let source = Source::program(text.as_bytes());
    let report = check(source, setup, &Options::default()).unwrap();
    report.findings.iter().map(|finding| finding.code).collect()
}

const TWO: &str = "<rect x='80' y='20' width='20' height='4' fill='#f00'/>\
                   <rect x='80' y='60' width='20' height='4' fill='#00f'/>";

fn two(defocus: &str) -> String {
    let one = |name: &str, fill: &str, keys: &str| {
        format!(
            "[[operation]]\nname = \"{name}\"\npick = {{ fill = \"{fill}\" }}\nwork = \
             \"area\"\nspeed = 100\npower = 40\nline_spacing = 0.1\n{keys}\n"
        )
    };
    one("sharp", "#f00", "") + &one("soft", "#00f", defocus)
}

#[test]
fn an_operation_burns_out_of_focus_by_its_z_words() {
    let svg = drawing(TWO);
    for (up, sign) in [("away", 1.0), ("toward", -1.0)] {
        let z = format!("[z]\nspeed = 20\nacceleration = 100\nup = \"{up}\"\n");
        let setup = setup(&z, &two("defocus = 6"));
        let (text, report) = wrapped(&svg, &setup);
        let all = burns(Source::program(text.as_bytes()), &setup);
        let place = |step: &Step| step.to.place.unwrap().at_mm;
        for step in &all {
            let out = if place(step) > 60.0 { 0.0 } else { 6.0 };
            assert!((step.to.words[2] - sign * out).abs() < 1e-9, "{step:?}");
        }
        assert!(all.iter().any(|step| place(step) > 60.0) && all.iter().any(|s| place(s) < 60.0));
        // ISO 11146-1: d √(1 + (z/z_R)²).
        let spots: Vec<f64> = report.operations.iter().map(|o| o.spot_mm.unwrap()).collect();
        let out = 0.2 * (1.0 + 36.0 * 0.21 / 4.0_f64).sqrt();
        assert!(spots[0] == 0.2 && (spots[1] - out).abs() < 1e-12, "{spots:?}");
        // It is meant, and says so in the program itself; the same Z that is not meant is a fault.
        let defocus = |code: &Code| matches!(code, Code::Defocus | Code::DefocusFar);
        assert!(!report.findings.iter().any(|finding| defocus(&finding.code)));
        assert!(!codes(&text, &setup).iter().any(defocus));
        let unsaid = text.replace(", defocus 6 mm", "");
        assert!(unsaid != text && codes(&unsaid, &setup).iter().any(defocus));
    }
}

#[test]
fn without_z_a_person_moves_the_head() {
    let svg = drawing(TWO);
    let setup = setup("", &two("defocus = -2.5"));
    let (text, report) = wrapped(&svg, &setup);
    let lines: Vec<&str> = text.lines().collect();
    let waits: Vec<usize> = (0..lines.len()).filter(|k| lines[*k] == "M0").collect();
    assert_eq!(waits.len(), 1, "{text}");
    assert_eq!(lines[waits[0] - 1], "(operation soft, defocus -2.5 mm)");
    assert!(!lines.iter().any(|line| !line.starts_with('(') && line.contains('Z')));
    let told = report.warnings.iter().filter(|told| told.contains("lower the head")).count();
    assert_eq!(told, 1, "{:?}", report.warnings);
}

/// All the way around, a little over.
const BAND: &str = "<rect x='-1' y='40' width='191' height='6'/>";

fn band(keys: &str) -> String {
    format!(
        "[[operation]]\nname = \"band\"\npick = {{ fill = \"black\" }}\nwork = \"area\"\nspeed = \
         100\npower = 40\nline_spacing = 0.1\n{keys}\n"
    )
}

/// Energy by turn, folded into one, in motor steps.
fn energy(all: &[Step]) -> BTreeMap<i64, f64> {
    let mut sums = BTreeMap::new();
    for step in all {
        let turn = step.to.place.unwrap().turn_rad.rem_euclid(TAU) / TAU * 3600.0;
        #[allow(clippy::cast_possible_truncation)]
        let line = (turn.round() as i64).rem_euclid(3600);
        *sums.entry(line).or_insert(0.0) += step.power_s.unwrap() * step.time_s;
    }
    sums
}

#[test]
fn a_faded_seam_burns_every_line_with_the_same_energy_in_all() {
    let svg = drawing(BAND);
    let plain = setup("", &band(""));
    let faded = setup("", &band("fade = 5"));
    let (text, report) = wrapped(&svg, &faded);
    let all = burns(Source::program(text.as_bytes()), &faded);
    let (once, both) = (energy(&burns(Source::drawing(svg.as_bytes()), &plain)), energy(&all));
    assert_eq!(once.len(), both.len());
    let mean = once.values().sum::<f64>() / once.values().count() as f64;
    for (line, energy) in &both {
        assert!((energy / mean - 1.0).abs() < 1e-3, "line {line}: {energy} of {mean}");
    }
    // So many lines come twice, and their power goes up and down evenly.
    let mut lines: BTreeMap<i64, f64> = BTreeMap::new();
    for step in &all {
        #[allow(clippy::cast_possible_truncation)]
        let line = (step.to.place.unwrap().turn_rad / TAU * 3600.0).round() as i64;
        lines.insert(line, step.power_s.unwrap());
    }
    let power: Vec<f64> = lines.values().copied().collect();
    let over = power.len() - both.len();
    let step_mm = report.operations[0].spacing_mm.unwrap();
    assert_eq!(over as f64, (5.0 / step_mm).round());
    assert!(power[..over].windows(2).all(|pair| pair[1] > pair[0]));
    let end = power.len() - over;
    assert!(power[end..].windows(2).all(|pair| pair[1] < pair[0]));
    assert!(power[over..end].iter().all(|s| (s - power[over]).abs() < 1e-3));
    // Twice over is meant there, and nowhere else.
    assert!(report.findings.iter().all(|found| found.code != Code::Overlap));
    assert!(!codes(&text, &faded).contains(&Code::Overlap));
    let from = text.find(", fade ").unwrap();
    let to = from + text[from..].find(')').unwrap();
    let unsaid = format!("{}{}", &text[..from], &text[to..]);
    assert!(codes(&unsaid, &faded).contains(&Code::Overlap));
}

#[test]
fn what_has_no_seam_is_told_to_have_none_to_fade() {
    let job = setup("", &band("fade = 5"));
    let small = drawing("<rect x='80' y='20' width='20' height='4'/>");
    let (text, report) = wrapped(&small, &job);
    assert!(!text.contains(", fade "), "{text}");
    assert!(report.warnings.iter().any(|told| told.contains("no seam to fade")));
}
