//! Blank, machine and job as data: what was written and read back is what it was.

use std::fmt::Debug;

use serde::Serialize;
use serde::de::DeserializeOwned;
use stave_setup::{Blank, JobFile, Machine, Setup, read_blank, read_job, read_machine};

const BLANK: &str = "name = \"flask\"\nwall = \"smooth\"\n[[station]]\nat = 0.1\ndiameter = 60\n\
    [[station]]\nat = 60\ndiameter = 75.3\n[[station]]\nat = 110\ncircumference = 219.9\n[[zone]]\n\
    name = \"boss\"\nat = [90, 130]\nturn = [150, 170]\nrise = 4\n[[zone]]\nname = \"mark\"\nat = \
    [200, 210]\nturn = [0, 10]\n";
const MACHINE: &str = "name = \"bench\"\n[controller]\nbeam_on = \"M3\"\nfull_power = 1000\n\
    feed = \"inverse-time\"\nfeed_counts = \"all-axes\"\nair = { low = \"M7\", off = \"M9\" }\n\
    [x]\nspeed = 400\nacceleration = 4000\nmax = 300\n[y]\nspeed = 400\nacceleration = 4000\n\
    jerk = 90000\n[z]\nspeed = 20\nacceleration = 200\nup = \"toward\"\n[rotary]\nword = \"B\"\n\
    drive = \"roller\"\nspeed = 300\nacceleration = 2000\nsteps_per_mm = 33.3\nreverse = true\n\
    [beam]\nwavelength_um = 10.6\ndiameter_at_lens = 5\nm2 = 1.2\n[[lens]]\nname = \"short\"\n\
    focal_length = 50.8\n[[nozzle]]\nname = \"cone\"\nradius = 4\ngap = 6\n[area]\nspeed = 200\n\
    power = 60\nlines_per_inch = 300\n[line]\nspeed = 50\npower = 30\n";
const JOB: &str = "lay = \"label\"\nanchor = [10, -5]\ntilt = 3\ndose = \"as-given\"\n\
    zones = \"mask\"\nfocus = \"follow\"\nfocus_at = 55\nstands = \"inverted\"\ntoward = \"x-\"\n\
    lens = \"short\"\nnozzle = \"cone\"\n[place]\nat = 20\nturn = 15\nof = \"art\"\n[[piece]]\n\
    id = [\"a\", \"b\"]\nanchor = \"piece\"\n[[operation]]\nname = \"crest\"\npick = { fill = \
    \"navy\" }\nwork = \"area\"\nspeed = 300\npower = 60\nline_spacing = 0.1\nair = \"low\"\n\
    [[operation]]\nname = \"rope\"\npick = { id = \"rope\" }\nwork = \"line\"\nspeed = 30\n\
    power = 20\npasses = 2\n";

fn json(value: &impl Serialize) -> String {
    serde_json::to_string(value).expect("JSON")
}

/// These types have no equality of their own; their `Debug` shows every field.
#[track_caller]
fn there_and_back<T: Serialize + DeserializeOwned + Debug>(value: &T) -> String {
    let written = json(value);
    let read: T = serde_json::from_str(&written).expect("what was written");
    assert_eq!(format!("{read:?}"), format!("{value:?}"));
    written
}

#[test]
fn blank_machine_job_and_all_three() {
    let blank = read_blank(BLANK, "flask.toml").unwrap();
    assert_eq!(blank.warnings().len(), 1, "a zone past the end");
    let written = there_and_back(&blank);
    assert!(written.contains(r#""wall":"smooth""#), "{written}");
    let machine = read_machine(MACHINE, "bench.toml").unwrap();
    let written = there_and_back(&machine);
    assert!(written.contains(r#""feed":"inverse-time""#), "{written}");
    let mut job = read_job(JOB, "job.toml").unwrap();
    job.set_option("tolerance", "0.02").unwrap();
    let written = there_and_back(&job);
    assert!(written.contains(r#""toward":{"value":"x-""#), "{written}");
    let setup = Setup::new(blank, machine, job).unwrap();
    there_and_back(&setup.job);
    there_and_back(&setup);
}

#[test]
fn faults_found_after_reading_back_still_name_the_place() {
    let blank: Blank =
        serde_json::from_str(&json(&read_blank(BLANK, "flask.toml").unwrap())).unwrap();
    let machine: Machine =
        serde_json::from_str(&json(&read_machine(MACHINE, "bench.toml").unwrap())).unwrap();
    let job = read_job("lens = \"long\"", "job.toml").unwrap();
    let job: JobFile = serde_json::from_str(&json(&job)).unwrap();
    let faults = Setup::new(blank, machine, job).unwrap_err().to_string();
    assert!(faults.starts_with("job.toml:1:8: "), "{faults}");
}

#[test]
fn a_wall_that_cannot_be_is_refused() {
    let written = json(&read_blank(BLANK, "flask.toml").unwrap());
    let turned_back = written.replace(r#""at_mm":60.0"#, r#""at_mm":600.0"#);
    assert_ne!(turned_back, written);
    assert!(serde_json::from_str::<Blank>(&turned_back).is_err());
}
