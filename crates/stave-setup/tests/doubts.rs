//! Settings that can be meant but hardly are: each at its limit and past it, with its likely cause.

// A panic in a helper of a test is a failed test too.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use stave_setup::{Fault, Setup, read_blank, read_job, read_machine};

fn said(doubts: &[Fault]) -> Vec<String> {
    doubts.iter().map(ToString::to_string).collect()
}

/// What is doubted of a machine with more in it.
fn of_machine(more: &str) -> Vec<String> {
    let machine = format!(
        "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
         [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n{more}"
    );
    said(&read_machine(&machine, "m.toml").unwrap().doubts())
}

const BEAM: &str = "[beam]\nwavelength_um = 10.6\ndiameter_at_lens = 7.0\nm2 = 1.2\n";

#[test]
fn a_lag_that_no_laser_has() {
    for (lag, told) in [
        ("0.0005", None),
        ("0.005", None),
        ("-0.005", None),
        ("0.05", Some("`lag` of [beam] is 0.05 s")),
        ("[[100, 0.0004], [300, 0.09]]", Some("`lag` of [beam] is 0.09 s")),
        ("-0.06", Some("if it is in milliseconds, write -0.00006")),
    ] {
        let doubts = of_machine(&format!("{BEAM}lag = {lag}\n"));
        assert_eq!(doubts.len(), usize::from(told.is_some()), "{lag}: {doubts:?}");
        assert!(told.is_none_or(|told| doubts[0].contains(told)), "{lag}: {doubts:?}");
    }
}

/// By the formula the spot is 0.147 mm, and the lens is sharp within ±0.61 mm.
#[test]
fn a_lens_far_off_its_formula() {
    for (measured, told) in [
        ("spot = 0.2", None),
        ("spot = 0.7", None),
        ("spot = 0.03", None),
        ("spot = 0.02", Some("`spot` of lens \"medium\" is 0.02 mm")),
        ("spot = 1.5", Some("the [beam] give 0.1469: ")),
        ("depth_of_focus = 1.2", None),
        ("depth_of_focus = 3.0", None),
        ("depth_of_focus = 6", Some("`depth_of_focus` of lens \"medium\" is 6 mm")),
        ("depth_of_focus = 0.06", Some("it is half of the depth, to either side, in mm")),
        // A wide spot is sharp farther, by the formula alone; both are as measured.
        ("spot = 0.5\ndepth_of_focus = 0.7", None),
        ("spot = 0.5\ndepth_of_focus = 7", None),
        ("spot = 1.4\ndepth_of_focus = 0.6", Some("`spot` of lens")),
    ] {
        let lens = format!("[[lens]]\nname = \"medium\"\nfocal_length = 63.5\n{measured}\n");
        let doubts = of_machine(&format!("{BEAM}{lens}"));
        assert_eq!(doubts.len(), usize::from(told.is_some()), "{measured}: {doubts:?}");
        assert!(told.is_none_or(|told| doubts[0].contains(told)), "{measured}: {doubts:?}");
        // Without a beam there is no formula, but what no spot is.
        let alone = of_machine(&lens);
        let wide = measured.starts_with("spot = 1.");
        assert_eq!(alone.len(), usize::from(wide), "{measured}: {alone:?}");
        assert!(
            !wide
                || alone[0].ends_with("if its decimal point is missing, write 0.15")
                || alone[0].ends_with("write 0.14"),
            "{alone:?}"
        );
    }
}

#[test]
fn fractions_for_percent() {
    let shading = |keys: &str| {
        let picture = format!("[picture]\nspeed = 100\npower = 40\nline_spacing = 0.1\n{keys}\n");
        let job = format!(
            "[[operation]]\nname = \"photo\"\npick = {{ id = \"a\" }}\nwork = \"picture\"\n\
             speed = 100\npower = 40\nline_spacing = 0.1\n{keys}\n"
        );
        (of_machine(&picture), said(&read_job(&job, "j.toml").unwrap().doubts()))
    };
    for (keys, told) in [
        ("tone_curve = [[0, 0], [30, 0.5], [60, 1]]", None),
        ("tone_curve = [[0, 0], [0.6, 0.5], [1.2, 1]]", None),
        (
            "tone_curve = [[0, 0], [0.3, 0.5], [0.6, 1]]",
            Some(("the powers in `tone_curve` of ", "write percent, such as 60")),
        ),
        ("tone = \"threshold\"\nthreshold = 1.5", None),
        ("tone = \"threshold\"\nthreshold = 0.5", Some(("`threshold` of ", "write 50"))),
    ] {
        let (machine, job) = shading(keys);
        for (doubts, whose) in [(machine, "[picture]"), (job, "operation \"photo\"")] {
            assert_eq!(doubts.len(), usize::from(told.is_some()), "{keys}: {doubts:?}");
            if let Some((what, cause)) = told {
                let begins = format!("{what}{whose} ");
                assert!(doubts[0].contains(&begins) && doubts[0].ends_with(cause), "{doubts:?}");
            }
        }
    }
}

#[test]
fn ware_in_centimetres() {
    for (across, long, told) in [
        (7.4, 10.5, Some("if its file is in centimetres, write ten times as much")),
        (14.9, 24.9, Some("centimetres")),
        (15.0, 24.9, None),
        (14.9, 25.0, None),
        (4.0, 10.5, Some("inches")),
    ] {
        let blank = format!(
            "[[station]]\nat = 0\ndiameter = {across}\n[[station]]\nat = {long}\n\
             diameter = {across}\n"
        );
        let doubts = said(&read_blank(&blank, "b.toml").unwrap().doubts());
        assert_eq!(doubts.len(), usize::from(told.is_some()), "{across} {long}: {doubts:?}");
        assert!(told.is_none_or(|told| doubts[0].contains(told)), "{across} {long}: {doubts:?}");
    }
}

/// Inches in a file in mm and the other way round, ten times too much, and what is common.
#[test]
fn lengths_of_a_machine_that_no_machine_has() {
    let inches = |more: &str| {
        let machine = format!(
            "units = \"in\"\n[x]\nspeed = 20\nacceleration = 200\n\
             [y]\nspeed = 20\nacceleration = 200\n[rotary]\nword = \"A\"\n\
             units_per_turn = 360\nspeed = 360\nacceleration = 2000\n{more}"
        );
        said(&read_machine(&machine, "m.toml").unwrap().doubts())
    };
    let nozzle = |keys: &str| format!("[[nozzle]]\nname = \"n\"\n{keys}\n");
    let lens = |keys: &str| format!("[[lens]]\nname = \"l\"\n{keys}\n");
    let rotary = |keys: &str| format!("{keys}\n");
    for (keys, told) in [
        (nozzle("radius = 9\ngap = 6"), ""),
        (nozzle("radius = 9\ngap = 0"), ""),
        (nozzle("radius = 9\ngap = 600"), "`gap` of nozzle \"n\" is 600 mm, and 0.5 to 60 mm"),
        (nozzle("radius = 9\ngap = 0.24"), "is in inches, write 6.096; if it is in centimetres"),
        (nozzle("radius = 0.35\ngap = 6"), "`radius` of nozzle \"n\" is 0.35 mm"),
        (nozzle("radius = 9\ngap = 6\nstep = [[250, 140]]"), "`step` of nozzle \"n\" is 140 mm"),
        (lens("focal_length = 63.5"), ""),
        (lens("focal_length = 2.5"), "is 2.5 mm, and 10 to 600 mm is common: if it is in inches"),
        (lens("focal_length = 63.5\nspot = 0.006"), "inches, write 0.1524"),
        (lens("focal_length = 63.5\ndepth_of_focus = 0.03"), "inches, write 0.762"),
        (BEAM.replace("7.0", "0.28"), "`diameter_at_lens` of [beam] is 0.28 mm"),
        ("[controller]\ncorner_tolerance = 0\nmost_tilt = 45".to_owned(), ""),
        ("[controller]\ncorner_tolerance = 20".to_owned(), "`corner_tolerance` is 20 mm"),
        ("[controller]\nmost_tilt = 80".to_owned(), "`most_tilt` is 80 degrees"),
        (rotary("support_span = 7"), "`support_span` of [rotary] is 7 mm"),
        (rotary("axis_height = 2.4"), "`axis_height` of [rotary] is 2.4 mm"),
        (rotary("backlash = 3"), ""),
        (rotary("backlash = 5"), "`backlash` of [rotary] is 5 units of its word, and 3 (1/120"),
        (
            "[[rotary.obstacle]]\nname = \"jaw\"\nalong = [-40, -5]\nradius = 550".to_owned(),
            "`radius` of obstacle \"jaw\" is 550 mm",
        ),
        (
            "[carriage]\nx = [-1, 1.5]\ny = [-25, 25]\nabove = 45".to_owned(),
            "the width by `x` of [carriage] is 2.5 mm",
        ),
        ("[area]\nspeed = 250\npower = 40\nlines_per_inch = 400".to_owned(), ""),
        (
            "[area]\nspeed = 250\npower = 40\nline_spacing = 2.5".to_owned(),
            "`line_spacing` of [area] is 2.5 mm, and 0.01 to 1.5 mm is common: if its decimal",
        ),
        (
            "[[coating]]\nname = \"c\"\nspeed = 0.2\npower = 40".to_owned(),
            "`speed` of coating \"c\" is 0.2 mm a second, slower than anything is engraved: if it \
             is in metres, write 200",
        ),
        (
            "[[coating]]\nname = \"c\"\nspeed = 12000\npower = 40".to_owned(),
            "if it is per minute, write 200",
        ),
    ] {
        let doubts = of_machine(&keys);
        assert_eq!(doubts.len(), usize::from(!told.is_empty()), "{keys}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains(told)), "{keys}: {doubts:?}");
    }
    for (keys, told) in [
        (nozzle("radius = 0.35\ngap = 0.24"), ""),
        (nozzle("radius = 0.35\ngap = 6"), "is 152.4 mm (6 in), and 0.02 to 2.4 in is common"),
        (nozzle("radius = 0.35\ngap = 6"), "if it is in mm, write 0.2362"),
        (lens("focal_length = 63.5"), "if it is in mm, write 2.5"),
        ("[controller]\ncorner_tolerance = 0.02".to_owned(), "is 0.508 mm (0.02 in)"),
    ] {
        let doubts = inches(&keys);
        assert_eq!(doubts.len(), usize::from(!told.is_empty()), "{keys}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains(told)), "{keys}: {doubts:?}");
    }
}

#[test]
fn axes_that_go_farther_or_sooner_than_any() {
    let machine = |x: &str, rotary: &str| {
        let machine = format!(
            "[x]\nspeed = 500\n{x}\n[y]\nspeed = 500\nacceleration = 5000\n[rotary]\n\
             word = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = {rotary}\n"
        );
        said(&read_machine(&machine, "m.toml").unwrap().doubts())
    };
    for (x, rotary, told) in [
        ("acceleration = 50000\nmin = -30\nmax = 600", "20000", ""),
        ("acceleration = 500000", "2000", "`acceleration` of [x] is 500000 a second squared"),
        ("acceleration = 5000", "4e6", "`acceleration` of [rotary] is 4000000 a second squared"),
        ("acceleration = 5000\nmin = 0\nmax = 6000", "2000", "from `min` to `max` of [x] is 6000"),
    ] {
        let doubts = machine(x, rotary);
        assert_eq!(doubts.len(), usize::from(!told.is_empty()), "{x} {rotary}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains(told)), "{x} {rotary}: {doubts:?}");
    }
}

#[test]
fn zones_flat_places_and_stations_that_no_ware_has() {
    let blank = |stations: &[(f64, f64)], more: &str| {
        let stations: String = stations
            .iter()
            .map(|(at, across)| format!("[[station]]\nat = {at}\ndiameter = {across}\n"))
            .collect();
        said(&read_blank(&format!("{stations}{more}"), "b.toml").unwrap().doubts())
    };
    let plain = [(0.0, 70.0), (120.0, 72.5)];
    let zone = |keys: &str| format!("[[zone]]\nname = \"z\"\n{keys}\n");
    let facet = |height: f64| {
        format!("[[facet]]\nname = \"f\"\nturn = 0\nat = [20, 60]\nwidth = 18\nheight = {height}\n")
    };
    for (more, told) in [
        (zone("at = [20, 32]\nturn = [170, 190]\nrise = 9\nmargin = 0.5"), ""),
        (zone("at = [20, 32]\nturn = [-1, 1]"), ""),
        (zone("at = [20, 32]\nturn = [170, 190]\nrise = 200"), "`rise` of zone \"z\" is 200 mm"),
        (zone("at = [20, 32]\nturn = [170, 190]\nmargin = 50"), "is missing, write 5"),
        (zone("at = [20, 32]\nturn = [2.97, 3.32]"), "if they are in radians, write degrees"),
        (zone("at = [20.0, 20.3]\nturn = [170, 190]"), "in another unit than the stations"),
        (facet(35.0), ""),
        (facet(70.0), "if it is across the ware, write half, 35"),
        (facet(1.4), "if it is in inches, write 35.56"),
    ] {
        let doubts = blank(&plain, &more);
        assert_eq!(doubts.len(), usize::from(!told.is_empty()), "{more}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains(told)), "{more}: {doubts:?}");
    }
    let straight = |at: f64, across: f64| {
        let mut all: Vec<(f64, f64)> = (0..5).map(|k| (f64::from(k) * 30.0, 70.0)).collect();
        all.iter_mut().filter(|one| one.0 == at).for_each(|one| one.1 = across);
        blank(&all, "")
    };
    for (at, across, told) in [
        (60.0, 50.0, ""),
        (60.0, 35.0, "likely a radius stands for a diameter; if so, write 70"),
        (60.0, 219.9, "likely a circumference stands for a diameter; if so, write 70"),
        (60.0, 7.0, "likely a decimal point is wrong"),
        (0.0, 35.0, ""),
        (0.0, 2.76, "the wall is 2.76 mm across at 0 mm, and about 70 mm beside it"),
    ] {
        let doubts = straight(at, across);
        assert_eq!(doubts.len(), usize::from(!told.is_empty()), "{at} {across}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains(told)), "{at} {across}: {doubts:?}");
    }
}

#[test]
fn lengths_of_an_operation_that_are_hardly_meant() {
    let job = |keys: &str| {
        let job = format!(
            "[[operation]]\nname = \"o\"\npick = {{ id = \"a\" }}\nwork = \"area\"\n\
             power = 40\n{keys}\n"
        );
        said(&read_job(&job, "j.toml").unwrap().doubts())
    };
    for (keys, told) in [
        ("speed = 100\nline_spacing = 0.1\nfade = 2\ndefocus = -6", ""),
        ("speed = 0.1\nline_spacing = 0.1", "`speed` of operation \"o\" is 0.1 mm a second"),
        ("speed = 100\nline_spacing = 2", "`line_spacing` of operation \"o\" is 2 mm"),
        ("speed = 100\nline_spacing = 0.1\nfade = 40", "`fade` of operation \"o\" is 40 mm"),
        ("speed = 100\nline_spacing = 0.1\ndefocus = 60", "25 mm either way is the most"),
    ] {
        let doubts = job(keys);
        assert_eq!(doubts.len(), usize::from(!told.is_empty()), "{keys}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains(told)), "{keys}: {doubts:?}");
    }
}

/// What stands up on a chuck is looked for where the chuck is said to be.
#[test]
fn a_chuck_far_from_its_ware() {
    let blank = "[[station]]\nat = 0\ndiameter = 70\n[[station]]\nat = 120\ndiameter = 72\n";
    let machine = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
                   [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\n\
                   acceleration = 2000\n[[rotary.obstacle]]\nname = \"jaw\"\n\
                   along = [-40, -5]\nradius = 55\n";
    for (held_at, doubted) in [("-20", false), ("270", false), ("3048", true), ("-151", true)] {
        let job = read_job(&format!("[place]\nheld_at = {held_at}\n"), "j.toml").unwrap();
        let blank = read_blank(blank, "b.toml").unwrap();
        let setup = Setup::new(blank, read_machine(machine, "m.toml").unwrap(), job).unwrap();
        let doubts = said(&setup.doubts);
        assert_eq!(doubts.len(), usize::from(doubted), "{held_at}: {doubts:?}");
        assert!(doubts.iter().all(|doubt| doubt.contains("no chuck holds ware")), "{doubts:?}");
    }
}
