//! Every report is data: written as JSON, read back, and written again it is the same, and its
//! words are those of the files and options.

use std::fmt::Debug;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use stave::setup::{Blank, LengthUnit, Machine, read_blank, read_job, read_machine, read_readings};
use stave::{
    Code, MeasureFrom, MeasureOptions, Options, QuoteSteps, Setup, Source, SwatchKind,
    SwatchOptions, Terms, TimedOn, WalkOptions, check, estimate, lays, level, measure, redraw,
    swatch, walk, wrap,
};

const DRAWING: &[u8] = br##"<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="80mm"
 viewBox="0 0 60 80"><g id="disc"><circle cx="30" cy="40" r="12"/></g>
 <path id="rule" d="M10 70H50" fill="none" stroke="#000" stroke-width="0.2"/></svg>"##;
const PROGRAM: &[u8] =
    b"G21 G90\nM4 S1200\nG0 X10 Y0\nG1 X60 Y0 F3000\nG1 X60 Y30\nG4 P0.5\nM5\nM2\n";

fn drawing() -> Source<'static> {
    Source::drawing(DRAWING)
}

fn program() -> Source<'static> {
    Source::program(PROGRAM)
}

fn blank() -> Blank {
    let text = "name = \"flask\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 60\n\
                diameter = 75\n[[station]]\nat = 110\ndiameter = 70\n[[zone]]\nname = \"boss\"\nat = [90, \
                100]\nturn = [150, 170]\nrise = 4\n";
    read_blank(text, "flask.toml").expect("a blank")
}

fn machine() -> Machine {
    let axis = "speed = 400\nacceleration = 4000\n";
    let text = format!(
        "name = \"bench\"\n[controller]\nfull_power = 1000\n[x]\n{axis}[y]\n{axis}[rotary]\nword = \
         \"A\"\nunits_per_turn = 360\nspeed = 300\nacceleration = 2000\nsteps_per_turn = 6400\n\
         [[lens]]\nname = \"short\"\nfocal_length = 50\nspot = 0.1\ndepth_of_focus = 0.6\n\
         [[nozzle]]\nname = \"cone\"\nradius = 4\ngap = 6\n[area]\nspeed = 200\npower = 60\n\
         line_spacing = 0.1\n[line]\nspeed = 50\npower = 30\n"
    );
    read_machine(&text, "bench.toml").expect("a machine")
}

fn setup() -> Setup {
    let job = read_job("place = { at = 10 }\nzones = \"mask\"\n", "job.toml").expect("a job");
    Setup::new(blank(), machine(), job).expect("a setup")
}

/// What comes back, as JSON for a look at its words.
#[track_caller]
fn there_and_back<T: Serialize + DeserializeOwned + Debug>(report: &T) -> Value {
    let written = serde_json::to_string(report).expect("JSON");
    let read: T = serde_json::from_str(&written).expect("a report");
    assert_eq!(serde_json::to_string(&read).expect("JSON"), written);
    serde_json::from_str(&written).expect("a report")
}

#[test]
fn wrap_of_a_drawing_of_a_program_and_as_a_drawing() {
    // Full power passed and a spot far out of focus: accepted, to have them in the reports.
    let allow = vec![Code::DefocusFar, Code::Power];
    let setup = setup();
    let options = Options::allowing(allow);
    let drawn = wrap(drawing(), Vec::new(), &setup, &options).unwrap();
    let data = there_and_back(&drawn);
    let works: Vec<&Value> =
        data["operations"].as_array().unwrap().iter().map(|one| &one["work"]).collect();
    assert_eq!(works, [&json!("area"), &json!("line")]);
    assert_eq!(data["pieces"][0]["lay"], "true-width");
    assert_eq!(data["as_laid"][0]["lay"], "true-width");
    let wrapped = wrap(program(), Vec::new(), &setup, &options).unwrap();
    assert_eq!(there_and_back(&wrapped)["as_laid"][0]["id"], "program");
    // What a drawing laid says of pieces and operations are words too, not blanks.
    let laid = redraw(drawing(), Vec::new(), &setup, &options).unwrap();
    let data = there_and_back(&laid);
    assert_eq!(data["pieces"][0]["lay"], "true-width");
}

#[test]
fn estimate_and_quote() {
    let machine = machine();
    let timed = estimate(program(), TimedOn::Machine(&machine), &Options::default()).unwrap();
    assert!(!timed.operations.is_empty() && !timed.axes.is_empty());
    there_and_back(&timed);
    let terms =
        Terms { rate_per_hour: Some(33.3), start_min: Some(600), pieces: 7, ..Terms::default() };
    let steps = QuoteSteps::new(timed.duration_s, &terms);
    let back: QuoteSteps = serde_json::from_value(serde_json::to_value(&steps).unwrap()).unwrap();
    assert_eq!(back, steps);
    assert_eq!(there_and_back(&steps.quote)["finish"]["days_later"], 0);
}

#[test]
fn check_of_a_drawing_and_of_a_program() {
    let setup = setup();
    let report = check(drawing(), &setup, &Options::default()).unwrap();
    assert!(!there_and_back(&report)["nozzles"].as_array().unwrap().is_empty());
    let report = check(program(), &setup, &Options::default()).unwrap();
    let data = there_and_back(&report);
    let power = data["findings"].as_array().unwrap().iter().find(|one| one["code"] == "power");
    assert_eq!(power.unwrap()["severity"], "error", "S 1200 is over 1000");
}

#[test]
fn level_lays_and_measure() {
    let (blank, machine) = (blank(), machine());
    there_and_back(&level(&blank, &machine, None, Some(10.0), Some(110.0)).unwrap());
    let report = lays(drawing(), &setup(), &Options::default()).unwrap();
    let data = there_and_back(&report);
    assert_eq!(data["pieces"][0]["wants"], "angles");
    assert!(data["best"].is_string());
    there_and_back(&lays(program(), &setup(), &Options::default()).unwrap());
    let text = "0 diameter 66.02 65.98\n40 circumference 212\n80 diameter 68\n80 circumference 214";
    let readings = read_readings(text, "readings", LengthUnit::Mm).unwrap();
    let measured = measure(MeasureFrom::Readings(&readings), &MeasureOptions::default()).unwrap();
    let data = there_and_back(&measured.report);
    let by: Vec<&Value> =
        data["stations"].as_array().unwrap().iter().map(|one| &one["by"]).collect();
    assert_eq!(by, [&json!("caliper"), &json!("tape"), &json!("both")]);
}

#[test]
fn swatch_and_walk() {
    let setup = setup();
    let options = SwatchOptions {
        powers_percent: vec![20.0, 40.0],
        speeds_mm_per_s: vec![100.0, 200.0],
        size_mm: 5.0,
        ..SwatchOptions::default()
    };
    let report = swatch(Vec::new(), &setup, &options).unwrap();
    assert_eq!(there_and_back(&report)["columns"], "speed_mm_per_s");
    let arrow = SwatchOptions { kind: SwatchKind::Arrow, ..SwatchOptions::default() };
    let report = swatch(Vec::new(), &setup, &arrow).unwrap();
    assert_eq!(there_and_back(&report)["columns"], Value::Null);
    let (options, how) = (Options::default(), WalkOptions::default());
    let report = walk(program(), Vec::new(), &setup, &options, &how).unwrap();
    assert_eq!(there_and_back(&report)["loops"][0]["corners"], 4);
    there_and_back(&walk(drawing(), Vec::new(), &setup, &options, &how).unwrap());
}
