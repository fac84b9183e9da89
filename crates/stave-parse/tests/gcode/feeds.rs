//! What F is scaled by: along X, Y and Z it is a length, and only where nothing but rotary axes
//! moves is it an angle (2.1.2.5).

use stave_parse::gcode::{Sink, read};
use stave_toolpath::{Event, Feed};

use crate::log::{LENIENT, Never, STRICT, events};

/// The feeds of a program's moves.
fn feeds(text: &str) -> Vec<Option<Feed>> {
    struct Feeds(Vec<Option<Feed>>);
    impl Sink for Feeds {
        type Error = Never;
        fn event(&mut self, _: u64, event: &Event<'_>) -> Result<(), Never> {
            if let Event::Straight { feed, .. } | Event::Arc { feed, .. } = *event {
                self.0.push(feed);
            }
            Ok(())
        }
    }
    let mut feeds = Feeds(Vec::new());
    read(text.as_bytes(), &LENIENT, &mut feeds).unwrap_or_else(|e| panic!("{}", e.shown(text)));
    feeds.0
}

/// The feed of the last move under G20 with F60.
fn in_inches(lines: &str) -> f64 {
    match feeds(&format!("G20 G90\nG0 X1\nM4 S500\nF60\n{lines}\n")).last() {
        Some(Some(Feed::PerMinute(f))) => *f,
        other => panic!("{lines}: {other:?}"),
    }
}

#[test]
fn an_arc_goes_along_lengths_wherever_it_ends() {
    for circle in [
        "G2 X1 Y0 I-0.5 J0",
        "G3 X1 I-0.5",
        "G2 I-0.5",
        "G91 G2 X0 Y0 I-0.5",
        "G18 G2 X1 Z0 K0.5",
        "G18 G3 K0.5 I0.5",
        "G19 G3 Y0 Z0 J1",
        // Helices, with and without the rotary.
        "G2 X1 Z1 I-0.5",
        "G2 X1 Z0 I-0.5 A90",
        "G2 X2 I0.5",
    ] {
        assert_eq!(in_inches(circle), 1524.0, "{circle}");
    }
}

#[test]
fn straight_moves_go_by_what_moves() {
    for (line, expected) in [
        ("G1 X2", 1524.0),
        ("G1 Z1", 1524.0),
        ("G1 X2 A90", 1524.0),
        ("G91 G1 Z-0.001 A90", 1524.0),
        // Nothing moves, so no rotary axis moves alone.
        ("G1 X1", 1524.0),
        ("G1 X1 A0", 1524.0),
        ("G91 G1 Y0", 1524.0),
        ("G1 A90", 60.0),
        ("G1 X1 Y0 Z0 A90", 60.0),
        ("G91 G1 X0 C-1", 60.0),
        ("G53 G1 X1 B5", 60.0),
        ("G92 X7\nG1 X7 B5", 60.0),
    ] {
        assert_eq!(in_inches(line), expected, "{line}");
    }
}

/// Sums of decimals miss the decimal of their sum; no axis moves by that.
#[test]
fn rounding_is_no_move() {
    assert_eq!(in_inches("G0 X0\nG91 G0 X0.1\nX0.1\nX0.1\nG90 G1 X0.3 A90"), 60.0);
    assert_eq!(Feed::PerMinute(360.0).nominal_s(4.4e-16, 90.0), 15.0);
    assert_eq!(Feed::PerMinute(60.0).nominal_s(4.4e-16, 0.0), 4.4e-16);
}

#[test]
fn degrees_are_the_same_in_both_units() {
    // The rate keeps its speed when the units change, and degrees have none to change.
    assert_eq!(
        events("G20\nG1 X1 F10\nG21\nG1 X0\nG1 A90\nG20 G1 A0\n"),
        "2: feed 254 PerMinute\n2: straight 25.4 0 F254\n4: straight 0 0 F254\n5: straight 0 0 a90 \
         F10\n6: straight 0 0 F10\n6: end"
    );
}

#[test]
fn a_move_under_inverse_time_has_no_unit() {
    for circle in ["G2 X1 Y0 I-0.5", "G1 X1 A90", "G1 A90", "G2 I-0.5"] {
        assert_eq!(
            feeds(&format!("G20 G0 X1\nG93\n{circle} F2\n")),
            [Some(Feed::InverseTime(2.0))],
            "{circle}"
        );
    }
}

/// The circle of an inch program takes the seconds that its length asks for.
#[test]
fn a_circle_in_inches_takes_its_time() {
    struct Seconds(f64);
    impl Sink for Seconds {
        type Error = Never;
        fn event(&mut self, _: u64, event: &Event<'_>) -> Result<(), Never> {
            if let Event::Arc { from, to, arc, feed: Some(feed) } = *event {
                self.0 += feed.nominal_s(arc.length_mm(from, to), from.rotary_distance_deg(to));
            }
            Ok(())
        }
    }
    let mut seconds = Seconds(0.0);
    let text = "G20 G90\nG0 X1\nM4 S500\nG2 X1 Y0 I-0.5 J0 F60\nM2\n";
    read(text.as_bytes(), &STRICT, &mut seconds).unwrap();
    // An inch across at 60 inches a minute: pi seconds.
    assert!((seconds.0 - std::f64::consts::PI).abs() < 1e-9, "{}", seconds.0);
}
