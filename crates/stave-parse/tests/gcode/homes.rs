//! G28 and G30: the machine's homes, known only where the program sets them; and what else counts
//! from the machine.

use insta::assert_snapshot;

use crate::log::{LENIENT, error, events};

#[test]
fn an_unknown_home_is_an_error() {
    assert_snapshot!(error("G0 X1\nG28 X2\n", &LENIENT), @"
    art.nc:2:1: G28 needs the home position, which only the machine knows; set parameter #5161 in \
        the program or take G28 out
      G28 X2
      ^
    ");
    assert_snapshot!(error("#5181=0\nG0 Y1\nG30\n", &LENIENT), @"
    art.nc:3:1: G30 needs the home position, which only the machine knows; set parameter #5182 in \
        the program or take G30 out
      G30
      ^
    ");
}

/// An axis that is named for the first time on the very line has to have a home too.
#[test]
fn an_axis_named_with_the_home_needs_one() {
    assert!(error("#5161=0\nG0 X1\nG28 B1\n", &LENIENT).contains("set parameter #5165"));
    assert!(events("#5161=0 #5165=30\nG0 X1\nG28 B1\n").contains("travel 0 0 b30"));
}

#[test]
fn a_home_that_the_program_sets() {
    assert_snapshot!(events("#5161=1 #5162=2\nG0 X5 Y6\nG28 X7\nG91 G28 Y1\nG28\n"), @r"
    2: travel 5 6
    3: travel 7 6
    3: travel 1 2
    4: travel 1 3
    4: travel 1 2
    5: travel 1 2
    5: end
    ");
    // Lengths are in the units in use when they are set.
    assert!(events("G20\n#5181=1 #5182=0\nG30\n").contains("travel 25.4 0"));
}

#[test]
fn machine_coordinates() {
    let text = "G10 L2 P1 X10 Y20\nG0 X1 Y1\nG53 X3\nG92 X0\nX1\nG53 G1 Y0\nG55 X0 Y0\nG92.2 X0\n\
                G92.3 X0\n";
    assert_snapshot!(events(text), @r"
    2: travel 11 21
    3: travel 3 21
    5: travel 4 21
    6: straight 4 0 no feed
    7: straight -7 0 no feed
    8: straight 0 0 no feed
    9: straight -7 0 no feed
    9: end
    ");
    assert_snapshot!(error("G91 G53 G0 X1\n", &LENIENT), @r"
    art.nc:1:5: G53 cannot be used in incremental distance mode (G91)
      G91 G53 G0 X1
          ^
    ");
    assert_snapshot!(error("G53 G2 X1 I1\n", &LENIENT), @r"
    art.nc:1:1: G53 needs G0 or G1 and an axis word
      G53 G2 X1 I1
      ^
    ");
    assert_snapshot!(error("G53\n", &LENIENT), @r"
    art.nc:1:1: G53 needs G0 or G1 and an axis word
      G53
      ^
    ");
}

#[test]
fn a_coordinate_system_keeps_its_place_when_the_units_change() {
    assert!(events("G20\nG10 L2 P2 X1\nG21\nG55 G0 X1\n").contains("travel 26.4 0"));
    assert!(events("G20\nG10 L2 P2 X1\nG21\nG0 X#5241\n").contains("travel 25.4 0"));
}
