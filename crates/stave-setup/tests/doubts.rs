//! Settings that can be meant but hardly are: each at its limit and past it, with its likely cause.

// A panic in a helper of a test is a failed test too.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use stave_setup::{Fault, read_blank, read_job, read_machine};

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
        // Without a beam there is no formula.
        assert!(of_machine(&lens).is_empty());
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
