//! Every key of the three files, and what it comes out as.

use std::f64::consts::{PI, TAU};

use stave_setup::{
    AirLevel, Along, Colour, Dose, Drive, FeedCounts, Finish, FocusMode, FocusUp, JobAnchor,
    JobFile, ObstacleShape, Pick, PlaceOf, RotaryWord, Setup, Stands, Toward, Work, ZoneRule,
    read_blank, read_job, read_machine,
};
use stave_toolpath::{BeamWord, FeedMode};
use stave_wall::{LayKind, WallShape};

const BLANK: &str = r#"
name = "stepped flask"
units = "mm"
wall = "straight"
[[station]]
at = 0.0
diameter = 70.0
[[station]]
at = 60.0
circumference = 219.9
[[station]]
at = 140
diameter = 88
[[zone]]
name = "upper boss"
at = [118.0, 132.0]
turn = [350.0, 380.0]
rise = 9.0
margin = 0.5
[[zone]]
name = "mark"
at = [10.0, 12.0]
turn = [-10.0, 10.0]
"#;

const MACHINE: &str = r##"
name = "bench"
units = "mm"
[controller]
beam_on = "M3"
full_power = 255
least_power = 3.5
feed = "inverse-time"
feed_counts = "linear-axes"
corner_tolerance = 0
decimals = 5
steepest = 60.0
most_tilt = 12.0
air = { low = "M7", high = "M106 P1 S200", off = "M9" }
[x]
speed = 500.0
acceleration = 5000.0
jerk = 1e6
min = -10
max = 300
[y]
speed = 400.0
acceleration = 3000.0
[z]
speed = 20.0
acceleration = 100.0
up = "toward"
[rotary]
word = "B"
units_per_turn = 180.0
steps_per_turn = 12800
speed = 360.0
acceleration = 2000.0
jerk = 1e5
reverse = true
along = "y"
drive = "chuck"
axis_height = 60.0
[beam]
wavelength_um = 10.6
diameter_at_lens = 7.0
m2 = 1.2
[[lens]]
name = "medium"
focal_length = 63.5
[[lens]]
name = "short"
focal_length = 38.1
spot = 0.08
depth_of_focus = 0.6
[[nozzle]]
name = "long barrel"
radius = 9.0
gap = 6.0
[area]
speed = 250.0
power = 40.0
lines_per_inch = 400
[line]
speed = 60.0
power = 20.0
"##;

const JOB: &str = r##"
units = "mm"
lay = "true-shape"
anchor = [-10, 5.5]
reference_diameter = 80.0
tolerance = 0.02
tilt = -3.0
dose = "even"
zones = "mask"
focus = "fixed"
focus_at = 90.0
stands = "lying"
toward = "x-"
lens = "short"
nozzle = "long barrel"
set_diameter = 87.0
[place]
at = 95.0
turn = 90.0
of = "art"
[zero]
at = 10.0
turn = -90.0
[[piece]]
id = ["crest", "motto"]
lay = "label"
anchor = "piece"
[[piece]]
id = "oar"
[[operation]]
name = "crest"
pick = { fill = "#1f3a5f" }
work = "area"
speed = 300.0
power = 60.0
lines_per_inch = 500
passes = 2
air = "low"
lay = "even-angle"
anchor = "drawing"
dose = "as-given"
[[operation]]
name = "rope"
pick = { stroke = "navy" }
work = "line"
speed = 80
power = 20
[[operation]]
name = "motto"
pick = { id = "motto" }
work = "area"
speed = 300
power = 60
line_spacing = 0.05
"##;

#[test]
fn a_look_is_two_colours_and_a_finish_and_no_value() {
    let with = |look: &str| read_blank(&format!("{BLANK}{look}"), "flask.toml").unwrap();
    let plain = with("");
    assert!(plain.look.is_none());
    let told = with("[look]\nware = \"navy\"\nfinish = \"metal\"\n");
    let look = told.look.unwrap();
    assert_eq!((look.ware.to_string().as_str(), look.finish), ("#000080", Finish::Metal));
    assert_eq!(look.burn.to_string(), "#3a3733");
    assert_eq!(with("[look]\n").look.map(|look| look.finish), Some(Finish::Matt));
    // A program made before the ware was given its colours is still for this ware.
    assert_eq!(plain.values().digest(), told.values().digest());
    let faults = read_blank(&format!("{BLANK}[look]\nware = \"blueish\"\n"), "flask.toml");
    let faults = faults.unwrap_err().to_string();
    assert!(faults.contains("CSS colour"), "{faults}");
}

#[test]
fn blank() {
    let blank = read_blank(BLANK, "flask.toml").unwrap();
    assert_eq!(blank.name, "stepped flask");
    assert_eq!(blank.wall.shape(), WallShape::Straight);
    assert_eq!(blank.wall.at_range_mm(), (0.0, 140.0));
    assert_eq!(blank.stations[0].radius_mm, 35.0);
    assert!((blank.stations[1].radius_mm - 219.9 / TAU).abs() < 1e-12);
    assert_eq!(blank.zones[0].at_mm, (118.0, 132.0));
    assert!((blank.zones[0].turn_rad.1 - 380.0 / 180.0 * PI).abs() < 1e-12);
    assert_eq!((blank.zones[0].rise_mm, blank.zones[0].margin_mm), (9.0, Some(0.5)));
    assert_eq!((blank.zones[1].rise_mm, blank.zones[1].margin_mm), (0.0, None));
    assert!(blank.warnings().is_empty());
}

#[test]
fn machine() {
    let machine = read_machine(MACHINE, "bench.toml").unwrap();
    let controller = &machine.controller;
    assert_eq!(machine.name, "bench");
    assert_eq!((controller.beam_on, controller.feed), (BeamWord::M3, FeedMode::InverseTime));
    assert_eq!((controller.full_power_s, controller.least_power_percent), (255.0, 3.5));
    assert_eq!(
        (controller.feed_counts, controller.corner_tolerance),
        (FeedCounts::LinearAxes, 0.0)
    );
    assert_eq!(controller.decimals, 5);
    assert!((controller.steepest_rad - PI / 3.0).abs() < 1e-12);
    assert!((controller.most_tilt_rad - PI / 15.0).abs() < 1e-12);
    let air = controller.air.as_ref().unwrap();
    assert_eq!(
        (air.low.as_deref(), air.high.as_deref(), &*air.off),
        (Some("M7"), Some("M106 P1 S200"), "M9")
    );
    assert_eq!(
        (machine.x.speed, machine.x.acceleration, machine.x.jerk),
        (500.0, 5000.0, Some(1e6))
    );
    assert_eq!((machine.x.min, machine.x.max), (Some(-10.0), Some(300.0)));
    assert_eq!((machine.y.speed, machine.y.min), (400.0, None));
    let z = machine.z.unwrap();
    assert_eq!((z.limits.speed, z.up), (20.0, FocusUp::Toward));
    let rotary = machine.rotary;
    assert_eq!((rotary.word, rotary.along, rotary.drive), (RotaryWord::B, Along::Y, Drive::Chuck));
    assert_eq!((rotary.units_per_turn, rotary.steps_per_turn), (180.0, Some(12800.0)));
    assert_eq!((rotary.limits.speed, rotary.limits.jerk), (360.0, Some(1e5)));
    assert_eq!((rotary.reverse, rotary.axis_height_mm), (true, Some(60.0)));
    let beam = machine.beam.unwrap();
    assert_eq!((beam.wavelength_um, beam.diameter_at_lens_mm, beam.m2), (10.6, 7.0, 1.2));
    assert_eq!(
        (machine.lenses[1].spot_mm, machine.lenses[1].depth_of_focus_mm),
        (Some(0.08), Some(0.6))
    );
    assert_eq!((machine.nozzles[0].radius_mm, machine.nozzles[0].gap_mm), (9.0, 6.0));
    let area = machine.area.unwrap();
    assert_eq!((area.speed_mm_per_s, area.power_percent), (250.0, 40.0));
    assert!((area.line_spacing_mm - 0.0635).abs() < 1e-12);
    assert_eq!(
        machine.line.map(|line| (line.speed_mm_per_s, line.power_percent)),
        Some((60.0, 20.0))
    );
    assert!(machine.warnings().is_empty());
}

#[test]
fn job() {
    let blank = read_blank(BLANK, "flask.toml").unwrap();
    let machine = read_machine(MACHINE, "bench.toml").unwrap();
    let setup = Setup::new(blank, machine, read_job(JOB, "job.toml").unwrap()).unwrap();
    let job = &setup.job;
    assert_eq!(job.lay, LayKind::TrueShape);
    assert_eq!(job.anchor, Some(JobAnchor::Point { u_mm: -10.0, v_mm: 5.5 }));
    assert_eq!((job.reference_radius_mm, job.set_radius_mm), (40.0, 43.5));
    assert_eq!(job.tolerance_mm, 0.02);
    assert!((job.tilt_rad + PI / 60.0).abs() < 1e-12);
    assert_eq!((job.dose, job.zones), (Some(Dose::Even), ZoneRule::Mask));
    assert_eq!((job.focus, job.focus_at_mm), (FocusMode::Fixed, Some(90.0)));
    assert_eq!((job.stands, job.toward), (Stands::Lying, Toward::XMinus));
    assert_eq!(job.lens.as_ref().unwrap().name, "short");
    assert_eq!(job.nozzle.as_ref().unwrap().name, "long barrel");
    assert_eq!((job.place.at_mm, job.place.turn_rad, job.place.of), (95.0, PI / 2.0, PlaceOf::Art));
    assert!(job.place_given);
    assert_eq!((job.zero.at_mm, job.zero.turn_rad), (10.0, -PI / 2.0));
    let ids: Vec<&str> = job.pieces[0].ids.iter().map(|id| id.value.as_str()).collect();
    assert_eq!(ids, ["crest", "motto"]);
    assert_eq!(
        (job.pieces[0].lay, job.pieces[0].anchor),
        (Some(LayKind::Label), Some(JobAnchor::Piece))
    );
    assert_eq!(job.pieces[1].ids[0].value, "oar");
    let [crest, rope, motto] = job.operations.as_slice() else { panic!("three operations") };
    assert_eq!((crest.speed_mm_per_s, crest.power_percent), (300.0, 60.0));
    assert!((crest.line_spacing_mm.unwrap() - 0.0508).abs() < 1e-12);
    let [crest, rope, motto] = [crest, rope, motto].map(|operation| &operation.rule);
    assert_eq!(crest.work, Work::Area);
    assert_eq!(crest.pick.value, Pick::Fill(Colour { red: 0x1f, green: 0x3a, blue: 0x5f }));
    assert_eq!((crest.passes, crest.air.as_ref().map(|air| air.value)), (2, Some(AirLevel::Low)));
    assert_eq!((crest.lay, crest.anchor), (Some(LayKind::EvenAngle), Some(JobAnchor::Drawing)));
    assert_eq!(crest.dose, Some(Dose::AsGiven));
    assert_eq!(rope.pick.value, Pick::Stroke(Colour { red: 0, green: 0, blue: 128 }));
    assert_eq!((rope.work, rope.line_spacing_mm, rope.passes), (Work::Line, None, 1));
    assert_eq!((&motto.pick.value, motto.line_spacing_mm), (&Pick::Id("motto".into()), Some(0.05)));
    assert!(setup.warnings.is_empty(), "{:?}", setup.warnings);
    assert_eq!(setup.spot_mm(), Some(0.08));
    assert_eq!(setup.zone_margin_mm(&setup.blank.zones[0]), 0.5);
    assert_eq!(setup.zone_margin_mm(&setup.blank.zones[1]), 0.04);
    assert_eq!(setup.rotary_units_per_turn(), 180.0);
    assert_eq!(setup.rotary_steps_per_turn(), Some(12800.0));
}

#[test]
fn defaults() {
    let blank = read_blank(BLANK, "flask.toml").unwrap();
    let machine = read_machine(MACHINE, "bench.toml").unwrap();
    let setup = Setup::new(blank, machine, JobFile::default()).unwrap();
    let job = &setup.job;
    assert_eq!((job.lay, job.anchor, job.dose), (LayKind::TrueWidth, None, None));
    assert_eq!((job.reference_radius_mm, job.set_radius_mm), (44.0, 44.0));
    assert_eq!((job.tolerance_mm, job.tilt_rad), (0.01, 0.0));
    assert_eq!((job.zones, job.focus, job.focus_at_mm), (ZoneRule::Refuse, FocusMode::Fixed, None));
    assert_eq!((job.stands, job.toward), (Stands::Upright, Toward::XPlus));
    assert_eq!(job.lens.as_ref().unwrap().name, "medium");
    assert_eq!((job.place.at_mm, job.place.turn_rad, job.place.of), (0.0, 0.0, PlaceOf::Page));
    assert_eq!((job.zero.at_mm, job.zero.turn_rad, job.place_given), (0.0, 0.0, false));
    assert_eq!(job.contact_at_mm, 140.0);
}

#[test]
fn zero_follows_place_one_by_one() {
    let blank = read_blank(BLANK, "flask.toml").unwrap();
    let machine = read_machine(MACHINE, "bench.toml").unwrap();
    let job = read_job("[place]\nat = 50\nturn = 30\n[zero]\nturn = 0", "job.toml").unwrap();
    let job = Setup::new(blank, machine, job).unwrap().job;
    assert_eq!((job.zero.at_mm, job.zero.turn_rad), (50.0, 0.0));
}

#[test]
fn inches_are_converted_and_rotary_units_are_not() {
    let blank = BLANK.replace("units = \"mm\"", "units = \"in\"");
    let blank = read_blank(&blank, "flask.toml").unwrap();
    assert_eq!(blank.stations[0].radius_mm, 889.0);
    assert_eq!(blank.stations[2].at_mm, 3556.0);
    assert_eq!((blank.zones[0].rise_mm, blank.zones[0].margin_mm), (228.6, Some(12.7)));

    let machine = MACHINE.replace("units = \"mm\"", "units = \"in\"");
    let machine = read_machine(&machine, "bench.toml").unwrap();
    assert_eq!((machine.x.speed, machine.x.acceleration), (12_700.0, 127_000.0));
    assert_eq!((machine.x.min, machine.x.max), (Some(-254.0), Some(7620.0)));
    let rotary = machine.rotary;
    assert_eq!(
        (rotary.units_per_turn, rotary.limits.speed, rotary.limits.jerk),
        (180.0, 360.0, Some(1e5))
    );
    assert_eq!(rotary.axis_height_mm, Some(1524.0));
    let area = machine.area.unwrap();
    assert_eq!(area.speed_mm_per_s, 6350.0);
    assert!(
        (area.line_spacing_mm - 0.0635).abs() < 1e-12,
        "lines per inch are per inch in either unit"
    );
    assert_eq!(machine.lenses[0].focal_length_mm, 1612.9);

    let job =
        read_job("units = \"in\"\nanchor = [1, -2]\ntolerance = 0.001\n[place]\nat = 3.5", "j")
            .unwrap();
    assert_eq!(job.anchor.unwrap().value, JobAnchor::Point { u_mm: 25.4, v_mm: -50.8 });
    assert_eq!((job.tolerance_mm.unwrap().value, job.place_at_mm.unwrap().value), (0.0254, 88.9));
}

#[test]
fn a_roller_turns_by_its_surface() {
    let roller = "[rotary]\nword = \"Y\"\ndrive = \"roller\"\nsteps_per_mm = 80\nspeed = \
                  200\nacceleration = 900";
    let machine =
        read_machine(&format!("[x]\nspeed = 1\nacceleration = 1\n{roller}"), "roller.toml")
            .unwrap();
    assert_eq!(machine.y, machine.rotary.limits, "the rotary is the Y axis");
    let blank = read_blank(BLANK, "flask.toml").unwrap();
    let job = read_job("[place]\ncontact_at = 100", "job.toml").unwrap();
    let setup = Setup::new(blank, machine, job).unwrap();
    // Halfway between the last two stations: (219.9/2π + 44)/2.
    let radius_mm = f64::midpoint(219.9 / TAU, 44.0);
    assert!((setup.rotary_units_per_turn() - TAU * radius_mm).abs() < 1e-9);
    assert!((setup.rotary_steps_per_turn().unwrap() - 80.0 * TAU * radius_mm).abs() < 1e-6);
}

#[test]
fn contact_at_may_stand_above_the_sections() {
    let job = read_job("contact_at = 20", "job.toml").unwrap();
    assert_eq!(job.contact_at_mm.unwrap().value, 20.0);
}

#[test]
fn a_file_without_a_name_lends_its_own() {
    let text = BLANK.replace("name = \"stepped flask\"\n", "");
    assert_eq!(read_blank(&text, "ware/flask 2.toml").unwrap().name, "flask 2");
    assert_eq!(read_blank(&text, "").unwrap().name, "unnamed");
}

#[test]
fn windows_line_ends_and_a_byte_order_mark() {
    let text = format!("\u{feff}{}", BLANK.replace('\n', "\r\n"));
    assert_eq!(read_blank(&text, "flask.toml").unwrap().stations.len(), 3);
}

/// The head and the rotary: lengths in inches here, mm there; turns in degrees here, radians there.
#[test]
fn the_head_and_what_stands_beside_the_work() {
    let text = MACHINE.replace("units = \"mm\"", "units = \"in\"")
        + "[[nozzle]]\nname = \"wide\"\nradius = 0.5\ngap = 0.25\nstep = [[1, 0.6], [2, 1.5]]\n\
           [carriage]\nx = [-1, 2]\ny = [-1.5, 0.5]\nabove = 1.75\n[[rotary.obstacle]]\n\
           name = \"jaws\"\nalong = [-2, 0.5]\nradius = 2\n[[rotary.obstacle]]\nname = \"jaw 1\"\n\
           along = [-2, 0.5]\nradius = 2.5\nturn = [-30, 30]\n[[rotary.obstacle]]\n\
           name = \"post\"\nalong = [6, 7]\nacross = [-1, 1]\nheight = -0.5\n";
    let machine = read_machine(&text, "bench.toml").unwrap();
    let wide = machine.nozzles.last().unwrap();
    assert_eq!(wide.steps_mm, [(25.4, 15.24), (50.8, 38.1)]);
    let carriage = machine.carriage.unwrap();
    let near = |a: (f64, f64), b: (f64, f64)| {
        assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9, "{a:?} {b:?}");
    };
    near(carriage.x_mm, (-25.4, 50.8));
    near(carriage.y_mm, (-38.1, 12.7));
    near((carriage.above_mm, 0.0), (44.45, 0.0));
    let shapes: Vec<ObstacleShape> = machine.obstacles.iter().map(|one| one.shape).collect();
    let turning = |radius_mm, turn_rad| ObstacleShape::Turning { radius_mm, turn_rad };
    let still = ObstacleShape::Still { across_mm: (-25.4, 25.4), height_mm: -12.7 };
    let sector = Some((-PI / 6.0, PI / 6.0));
    assert_eq!(shapes, [turning(50.8, None), turning(63.5, sector), still]);
    near(machine.obstacles[2].along_mm, (152.4, 177.8));
    let values = machine.values();
    assert!(values.has("rotary.obstacle.2.turn") && values.has("nozzle.2.step"), "{values:?}");
    let job = "[place]\nheld_at = 3.5\n";
    let blank = || read_blank(BLANK, "flask.toml").unwrap();
    let held = |job: &str| {
        let job = read_job(job, "job.toml").unwrap();
        Setup::new(blank(), read_machine(&text, "bench.toml").unwrap(), job).unwrap()
    };
    assert_eq!(held(job).job.held_at_mm, 3.5);
    assert_eq!(held("").job.held_at_mm, 0.0);
}

/// A job without `units` is in mm: beside a blank and a machine in inches that is hardly meant.
#[test]
fn a_job_in_mm_beside_inch_files_is_doubted() {
    let files = |unit: &str| {
        let blank = format!(
            "units = \"{unit}\"\n[[station]]\nat = 0\ndiameter = 3.1\n[[station]]\nat = \
             4\ndiameter = 3.1\n"
        );
        let blank = if unit == "mm" { BLANK.to_owned() } else { blank };
        let machine = format!(
            "units = \"{unit}\"\n[x]\nspeed = 20\nacceleration = 80\n[y]\nspeed = \
             20\nacceleration = 80\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = \
             360\nacceleration = 2000\n[controller]\ndecimals = 5\n"
        );
        (read_blank(&blank, "b.toml").unwrap(), read_machine(&machine, "m.toml").unwrap())
    };
    let doubted = |unit: &str, job: &str| {
        let (blank, machine) = files(unit);
        let setup = Setup::new(blank, machine, read_job(job, "j.toml").unwrap()).unwrap();
        setup.doubts.iter().any(|doubt| doubt.to_string().contains("j.toml has no `units`"))
    };
    assert!(doubted("in", "[place]\nat = 2.5\n"));
    let operation = "[[operation]]\nname = \"a\"\npick = { fill = \"#000\" }\nwork = \
                     \"line\"\nspeed = 2\npower = 20\n";
    assert!(doubted("in", operation));
    // Who says it means it, and a job without lengths has no unit to leave out.
    assert!(!doubted("in", "units = \"mm\"\n[place]\nat = 2.5\n"));
    assert!(!doubted("in", "units = \"in\"\n[place]\nat = 2.5\n"));
    assert!(!doubted("in", "tilt = 3\n[place]\nturn = 90\n"));
    assert!(!doubted("mm", "[place]\nat = 2.5\n")); // Options likewise, but for what is nothing in any unit.
    let typed = |unit: &str, option: &str, value: &str| {
        let (blank, machine) = files(unit);
        let mut job = JobFile::default();
        job.set_option(option, value).unwrap();
        let setup = Setup::new(blank, machine, job).unwrap();
        setup.doubts.iter().any(|doubt| doubt.to_string().contains("without a unit"))
    };
    assert!(typed("in", "place-at", "2.5") && typed("in", "anchor", "0,2"));
    assert!(!typed("mm", "place-at", "2.5") && !typed("in", "place-at", "2.5in"));
    assert!(!typed("in", "place-at", "0") && !typed("in", "tilt", "2.5"));
}

/// Steps are counted on the surface, whatever a mm of it is in the word.
#[test]
fn a_rollers_steps_are_to_the_mm_of_surface() {
    let blank = "[[station]]\nat = 0\ndiameter = 50\n[[station]]\nat = 90\ndiameter = 50\n";
    for scale in ["", "scale = 4\n", "scale = 0.5\n"] {
        let machine = format!(
            "[x]\nspeed = 500\nacceleration = 5000\n[rotary]\nword = \"Y\"\ndrive = \
             \"roller\"\nspeed = 200\nacceleration = 2000\nsteps_per_mm = 40\n{scale}"
        );
        let setup = Setup::new(
            read_blank(blank, "b.toml").unwrap(),
            read_machine(&machine, "m.toml").unwrap(),
            read_job("", "j.toml").unwrap(),
        )
        .unwrap();
        let steps = setup.rotary_steps_per_turn().unwrap();
        assert!((steps - 40.0 * PI * 50.0).abs() < 1e-6, "{scale} {steps}");
    }
}
