//! What lenient reading takes and strict reading refuses.

use insta::assert_snapshot;
use stave_parse::gcode::{Interpreter, ProgramEnd, ReadOptions};

use crate::log::{LENIENT, STRICT, error, events, log};

#[test]
fn semicolon_comments() {
    assert_snapshot!(events("; flag (of the club)\nG1 X1 F60 ; line\n(a);b\nM2\n"), @r"
    1: comment  flag (of the club)
    2: comment  line
    2: feed 60 PerMinute
    2: straight 1 0 F60
    3: comment a
    3: comment b
    4: end M2
    ");
    assert_snapshot!(error("G1 X1 ;c\nM2\n", &STRICT), @r"
    art.nc:1:7: `;` comments are not RS274/NGC; write (...) or read without --strict
      G1 X1 ;c
            ^
    ");
}

#[test]
fn several_comments_on_a_line() {
    assert_snapshot!(events("(one) G0 (two) X1 (MSG, three)\n"), @r"
    1: comment one
    1: comment two
    1: message  three
    1: travel 1 0
    1: end
    ");
    let (strict, _) = log(b"(one) G0 (two) X1 (MSG, three)\nM2\n", &STRICT);
    assert_eq!(strict, ["1: message  three", "1: travel 1 0", "2: end M2"]);
}

#[test]
fn a_program_without_an_end() {
    assert_eq!(events("G0 X1"), "1: travel 1 0\n1: end");
    // Nothing on the program's lines has switched the beam off, so nothing says so.
    assert_eq!(events("M3 S5\n"), "1: power 5\n1: beam M3\n1: end");
    let summary = log(b"G0 X1\n\nG0 X2", &LENIENT).1.unwrap();
    assert_eq!((summary.lines, summary.bytes, summary.end), (3, 12, ProgramEnd::Input));
    assert_eq!(error("G0 X1\n", &STRICT), "art.nc:1:1: the program ends without M2 or M30");
}

#[test]
fn arcs_with_one_offset() {
    assert_eq!(
        events("F60\nG2 X10 I5\nG3 X0 Y0 I-5\n"),
        "1: feed 60 PerMinute\n2: arc 10 0 about 5 0 0 by -180.000 F60\n3: arc 0 0 about 5 0 0 by \
         180.000 F60\n3: end"
    );
}

#[test]
fn full_circles_with_no_axis_word() {
    assert_snapshot!(events("G2 I5\nI2 J0\nG3 J1 Z2\nG18 G2 K1\n"), @r"
    1: arc 0 0 about 5 0 0 by -360.000 no feed
    2: arc 0 0 about 2 0 0 by -360.000 no feed
    3: arc 0 0 z2 about 0 1 0 by 360.000 no feed
    4: arc 0 0 z2 about 0 0 3 by -360.000 no feed
    4: end
    ");
    assert_snapshot!(error("G2 I5\nM2\n", &STRICT), @r"
    art.nc:1:1: G2 needs at least one axis word
      G2 I5
      ^
    ");
    assert_snapshot!(error("G2 X0 Y0 I5\nI5\nM2\n", &STRICT), @r"
    art.nc:2:1: the I word belongs to no G word on this line
      I5
      ^
    ");
    assert_snapshot!(error("G2 Z1 I5\nM2\n", &STRICT), @r"
    art.nc:1:4: an arc needs an end: at least one of X and Y
      G2 Z1 I5
         ^
    ");
    // By radius there is no circle without an end.
    assert_snapshot!(error("G2 R5\n", &LENIENT), @r"
    art.nc:1:4: an arc needs an end: at least one of X and Y
      G2 R5
         ^
    ");
}

#[test]
fn long_line_numbers_and_lines() {
    assert_eq!(
        events("N1234567 G0 X1\nN2G0X2\nN99999999999999999999999 X3"),
        "1: travel 1 0\n2: travel 2 0\n3: travel 3 0\n3: end"
    );
    assert_snapshot!(error("N123456 G0 X1\nM2\n", &STRICT), @r"
    art.nc:1:7: a line number has at most five digits; read without --strict to allow more
      N123456 G0 X1
            ^
    ");
    let long = format!("G0 X1{}\nM2\n", " ".repeat(300));
    assert_eq!(log(long.as_bytes(), &LENIENT).0, ["1: travel 1 0", "2: end M2"]);
    let message = error(&long, &STRICT);
    assert!(message.starts_with("art.nc:1:257: the line is longer than 256 bytes"), "{message}");
    let just = format!("G0 X1{}\r\nM2\n", " ".repeat(251));
    assert_eq!(log(just.as_bytes(), &STRICT).0.len(), 2);
}

#[test]
fn a_motion_word_with_a_feed_alone() {
    assert_eq!(
        events("G0\nG1 F600\nX1\nG2 F60\n"),
        "2: feed 600 PerMinute\n3: straight 1 0 F600\n4: feed 60 PerMinute\n4: end"
    );
    assert_snapshot!(error("G1 F600\nM2\n", &STRICT), @r"
    art.nc:1:1: G1 needs at least one axis word
      G1 F600
      ^
    ");
}

#[test]
fn arc_distance_mode() {
    assert_eq!(events("G91.1 G2 X10 I5\n").lines().count(), 2);
    assert_snapshot!(error("G91.1\nM2\n", &STRICT), @r"
    art.nc:1:1: G91.1 is not RS274/NGC; read without --strict to allow it
      G91.1
      ^
    ");
    assert_snapshot!(error("G90.1\nM2\n", &LENIENT), @"
    art.nc:1:1: G90.1 (absolute arc centres) is not understood; write arc centres relative to the \
        start (G91.1)
      G90.1
      ^
    ");
}

#[test]
fn lines_that_pass_through_whole() {
    assert_snapshot!(events(
        "$H\n  $J=G91 X1\nM106 S255\nN10 M42 P4 S1 (fan)\nM117 G. Don't (\nS7 M67 E0 \
         Q.5\n/M106\nM204 X500 ; slow\nM3 S2\n"
    ), @r"
    1: pass $H
    2: pass $J=G91 X1
    3: pass M106 S255
    4: pass M42 P4 S1 (fan)
    5: pass M117 G. Don't (
    6: pass S7 M67 E0 Q.5
    7: pass M106
    8: pass M204 X500 ; slow
    9: power 2
    9: beam M3
    9: end
    ");
    assert_snapshot!(error("$H\nM2\n", &STRICT), @"
    art.nc:1:1: lines that begin with `$` are not RS274/NGC; read without --strict to pass them \
        through
      $H
      ^
    ");
    assert_snapshot!(error("M106\nM2\n", &STRICT), @r"
    art.nc:1:1: unknown M word M106
      M106
      ^
    ");
}

#[test]
fn nothing_is_lost_on_a_line_that_passes_through() {
    assert_snapshot!(error("G1 X5 M106\n", &LENIENT), @"
    art.nc:1:7: M106 is not known, so its line is passed through whole, and what stands before it \
        would be lost; put M106 on a line of its own
      G1 X5 M106
            ^
    ");
    assert_snapshot!(error("X5 M106\n", &LENIENT), @"
    art.nc:1:4: M106 is not known, so its line is passed through whole, and what stands before it \
        would be lost; put M106 on a line of its own
      X5 M106
         ^
    ");
    assert_snapshot!(error("M3 M106 S5\n", &LENIENT), @"
    art.nc:1:4: M106 is not known, so its line is passed through whole, and M3 with it would be \
        lost; put M106 on a line of its own
      M3 M106 S5
         ^
    ");
    assert_snapshot!(error("M106 M5\n", &LENIENT), @"
    art.nc:1:1: M106 is not known, so its line is passed through whole, and M5 with it would be \
        lost; put M106 on a line of its own
      M106 M5
      ^
    ");
    assert_snapshot!(error("#1=2 M106\n", &LENIENT), @"
    art.nc:1:6: M106 is not known, so its line is passed through whole, and the parameter setting \
        would be lost; put M106 on a line of its own
      #1=2 M106
           ^
    ");
    assert_snapshot!(error("F100 M106\n", &LENIENT), @"
    art.nc:1:6: M106 is not known, so its line is passed through whole, and what stands before it \
        would be lost; put M106 on a line of its own
      F100 M106
           ^
    ");
}

#[test]
fn percent_lines() {
    assert_eq!(events("\n % \nG0 X1\n%\nrubbish"), "3: travel 1 0\n4: end");
    let summary = log(b"%\nG0 X1\n%\n", &STRICT).1.unwrap();
    assert_eq!((summary.lines, summary.end), (3, ProgramEnd::Percent));
    for options in [LENIENT, STRICT] {
        assert!(error("%\nG0 X1\n", &options).contains("without a closing one"));
        assert!(error("G0 X1\n%\n", &options).contains("without an opening one"));
        assert!(error("% x\n", &options).contains("must stand alone"));
    }
    // After M2 strict reading makes sure that the second percent line is there; lenient reading
    // stops.
    assert_eq!(log(b"%\nM2\nrubbish\n%\nmore", &STRICT).1.unwrap().end, ProgramEnd::Word);
    assert!(error("%\nM2\nrubbish\n", &STRICT).contains("without a closing one"));
    assert_eq!(log(b"%\nM2\nrubbish\n", &LENIENT).1.unwrap().lines, 2);
}

#[test]
fn a_byte_order_mark() {
    assert_eq!(events("\u{feff}%\nG0 X1\n%\n"), "2: travel 1 0\n3: end");
    assert!(error("\u{feff}G0 X1\nM2\n", &STRICT).contains("1:1: unexpected byte 0xef"));
}

#[test]
fn block_delete() {
    let skip = ReadOptions { block_delete: true, ..LENIENT };
    assert_eq!(log(b"/G0 X1\n / rubbish (\nG0 X2\n", &skip).0, ["3: travel 2 0", "3: end"]);
    assert_eq!(events("/G0 X1\n/ N5 X2\n"), "1: travel 1 0\n2: travel 2 0\n2: end");
}

#[test]
fn what_the_end_switches_off() {
    assert_eq!(events("M4 S5\nM30\nG0 X1\n"), "1: power 5\n1: beam M4\n2: beam off\n2: end M30");
    assert_eq!(
        events("M3\nT2 M6\nM8 M49\nM9\n"),
        "1: beam M3\n2: pass T2\n2: beam off\n2: pass M6\n3: pass M8\n3: pass M49\n4: pass M9\n4: \
         end"
    );
}

#[test]
fn feeds_and_units() {
    // F with a change of units on its line is in the new ones; a rate in effect keeps its speed.
    let (lines, outcome) = log(b"G20 G1 X1 F10\nG21 X0\nG1 A90\n", &LENIENT);
    assert_eq!(
        lines,
        [
            "1: feed 254 PerMinute",
            "1: straight 25.4 0 F254",
            "2: straight 0 0 F254",
            "3: straight 0 0 a90 F254",
            "3: end"
        ]
    );
    let warnings = outcome.unwrap().warnings;
    let warnings: Vec<_> = warnings.iter().map(|w| format!("{}: {}", w.line, w.text)).collect();
    assert_snapshot!(warnings.join("\n"), @r"
    1: F shares a line with a change of units; it is taken in the new units
    2: the units change while a feed rate is in effect; it keeps its speed, not its number
    ");
    // In inches a rotary move alone still goes by degrees per minute.
    assert!(
        events("G20\nF10\nG1 A90\nG1 X1 A0\n")
            .contains("3: straight 0 0 a90 F10\n4: straight 25.4 0 F254")
    );
    // No rate above zero is no rate.
    assert!(events("F0\nG1 X1\n").contains("straight 1 0 no feed"));
    // A rate from before G93 is not trusted after it.
    assert!(
        events("F100\nG93 G1 X1 F2\nG94 X2\n")
            .contains("2: feed 2 InverseTime\n2: straight 1 0 1/F2\n3: straight 2 0 no feed")
    );
}

#[test]
fn an_interpreter_goes_on_where_it_left_off() {
    let mut interpreter = Interpreter::new(&LENIENT);
    let mut seen = crate::log::Log::default();
    interpreter.read(&b"G91 G0 X1\nN7 X1\n"[..], &mut seen).unwrap();
    assert_eq!(interpreter.line_number(), Some(7));
    interpreter.read(&b"X1 Y2\n"[..], &mut seen).unwrap();
    assert_eq!((interpreter.position().x, interpreter.position().y), (3.0, 2.0));
    assert!(interpreter.set_parameter(5221, 1.0) && !interpreter.set_parameter(5400, 1.0));
    assert_eq!(interpreter.reading().x, 2.0);
}

#[test]
fn the_first_word_of_an_axis_is_told_whether_it_moves_or_not() {
    struct First(Vec<(u64, char)>);
    impl stave_parse::gcode::Sink for First {
        type Error = std::convert::Infallible;
        fn event(
            &mut self,
            line: u64,
            event: &stave_toolpath::Event<'_>,
        ) -> Result<(), Self::Error> {
            if let stave_toolpath::Event::FirstWord { letter } = *event {
                self.0.push((line, char::from(letter)));
            }
            Ok(())
        }
    }
    let mut first = First(Vec::new());
    stave_parse::gcode::read(
        &b"G0 X1 Z0\nG0 Z3\nG1 A0 X2 F60\nG1 z1 c2 a1\nM2\n"[..],
        &LENIENT,
        &mut first,
    )
    .unwrap();
    assert_eq!(first.0, [(1, 'Z'), (3, 'A'), (4, 'C')]);
}
