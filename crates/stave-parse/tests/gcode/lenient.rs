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
fn lines_without_a_meaning() {
    assert_snapshot!(events(
        "$H\n  $J=G91 X-1.5\t\nM106 S255\nN10 m 4 2p4 s1 (fan)\n/M106\nM204 X500 ; slow\n#1=2\n\
         M888P[#1 / 8]Q+0 0.50\nM 10 6 E0\nP1 M888.00001 (a) (MSG,b)\nM3 2\nM3 S2\n"
    ), @r"
    1: pass Dollar $H
    2: pass Dollar $J=G91 X-1.5
    3: pass UnknownM M106 S255
    4: comment fan
    4: pass UnknownM M42 P4 S1
    5: pass UnknownM M106
    6: comment  slow
    6: pass UnknownM M204 X500
    8: pass UnknownM M888 P0.25 Q+00.50
    9: pass UnknownM M106 E0
    10: comment a
    10: message b
    10: pass UnknownM P1 M888
    11: pass UnknownM M32
    12: power 2
    12: beam M3
    12: end
    ");
    // Free text is shown as it stands, and never passed on.
    assert_snapshot!(events(
        "M117 G. Don't (\nM117 Hello\nM117 X1 Y (c)\nM117 N5\n$H ; home\n$H!\n$\u{e9}\n M106 %\n\
         M106 P[1e9]\nM106 P[9 ** 99]\n"
    ), @r"
    1: pass nothing of M117 G. Don't (
    2: pass nothing of M117 Hello
    3: pass nothing of M117 X1 Y (c)
    4: pass nothing of M117 N5
    5: pass nothing of $H ; home
    6: pass nothing of $H!
    7: pass nothing of $é
    8: pass nothing of M106 %
    9: pass nothing of M106 P[1e9]
    10: pass nothing of M106 P[9 ** 99]
    10: end
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
    art.nc:1:7: M106 is not known, so its line is passed on or dropped whole, and what stands \
        before it would be lost; put M106 on a line of its own
      G1 X5 M106
            ^
    ");
    assert_snapshot!(error("X5 M106\n", &LENIENT), @"
    art.nc:1:4: M106 is not known, so its line is passed on or dropped whole, and what stands \
        before it would be lost; put M106 on a line of its own
      X5 M106
         ^
    ");
    assert_snapshot!(error("M3 M106 S5\n", &LENIENT), @"
    art.nc:1:4: M106 is not known, so its line is passed on or dropped whole, and M3 with it would \
        be lost; put M106 on a line of its own
      M3 M106 S5
         ^
    ");
    assert_snapshot!(error("M106 M5\n", &LENIENT), @"
    art.nc:1:1: M106 is not known, so its line is passed on or dropped whole, and M5 with it would \
        be lost; put M106 on a line of its own
      M106 M5
      ^
    ");
    // A word that this language does not have hides nothing.
    assert_snapshot!(error("M106 E0 G1 X5\n", &LENIENT), @"
    art.nc:1:1: M106 is not known, so its line is passed on or dropped whole, and G1 with it would \
        be lost; put M106 on a line of its own
      M106 E0 G1 X5
      ^
    ");
    assert_snapshot!(error("M106 E0 M3\n", &LENIENT), @"
    art.nc:1:1: M106 is not known, so its line is passed on or dropped whole, and M3 with it would \
        be lost; put M106 on a line of its own
      M106 E0 M3
      ^
    ");
    assert_snapshot!(error("S5 M106\n", &LENIENT), @"
    art.nc:1:4: M106 is not known, so its line is passed on or dropped whole, and what stands \
        before it would be lost; put M106 on a line of its own
      S5 M106
         ^
    ");
    assert_snapshot!(error("#1=2 M106\n", &LENIENT), @"
    art.nc:1:6: M106 is not known, so its line is passed on or dropped whole, and the parameter \
        setting would be lost; put M106 on a line of its own
      #1=2 M106
           ^
    ");
    assert_snapshot!(error("F100 M106\n", &LENIENT), @"
    art.nc:1:6: M106 is not known, so its line is passed on or dropped whole, and what stands \
        before it would be lost; put M106 on a line of its own
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
fn a_tool_change_that_takes_the_beam_away_is_warned_of() {
    let warned = |text: &str| -> Vec<u64> {
        let (_, outcome) = log(text.as_bytes(), &LENIENT);
        outcome.unwrap().warnings.iter().map(|w| w.line).collect()
    };
    assert_eq!(warned("M3 S5\nM6\nM3\nM6\n"), [2]);
    assert_eq!(warned("M3 S5\nM6 M5\n"), [2]);
    // Dark before, or lit again by the same line.
    assert_eq!(warned("M6\nM3 S5\nM5\nM6\n"), []);
    assert_eq!(warned("M3 S5\nM6 M4\n"), []);
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
            "3: straight 0 0 a90 F10",
            "3: end"
        ]
    );
    let warnings = outcome.unwrap().warnings;
    let warnings: Vec<_> =
        warnings.iter().map(|w| format!("{}: {:?}: {}", w.line, w.code, w.text)).collect();
    assert_snapshot!(warnings.join("\n"), @r"
    1: FeedInNewUnits: F shares a line with a change of units; it is taken in the new units
    2: FeedKept: the units change while a feed rate is in effect; it keeps its speed, not its number
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

/// RS274/NGC 3.3: a line has at most 256 characters.
#[test]
fn what_goes_through_is_no_longer_than_a_line() {
    let word = |length: usize| format!("M106 S{}1", "0".repeat(length - "M106 S1".len()));
    let dollar = |length: usize| format!("$J={}1", "0".repeat(length - "$J=1".len()));
    for line in [word(256), dollar(256)] {
        assert_eq!(line.len(), 256);
        let told = events(&line);
        assert!(told.contains(&line) && !told.contains("nothing"), "{told}");
    }
    for line in [word(257), dollar(257)] {
        assert!(events(&line).contains("pass nothing of"));
    }
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
        &b"G0 X1 Z0\nG0 Z3\nG1 A0 X2 F60\nG1 z1 c2 a1\n#5161=0 #5163=0 #5164=0 #5165=0 #5166=0\n\
           G28 B1\nG28 C1\nM2\n"[..],
        &LENIENT,
        &mut first,
    )
    .unwrap();
    assert_eq!(first.0, [(1, 'Z'), (3, 'A'), (4, 'C'), (6, 'B')]);
}

#[test]
fn a_sink_that_refuses_a_line_is_told_what_stands_in_the_way() {
    struct Writer(Vec<String>);
    impl stave_parse::gcode::Sink for Writer {
        type Error = &'static str;
        fn event(&mut self, _: u64, event: &stave_toolpath::Event<'_>) -> Result<(), Self::Error> {
            match *event {
                stave_toolpath::Event::Pass { text: b"", .. } => Err("cannot be passed on"),
                stave_toolpath::Event::Pass { text, .. } => {
                    self.0.push(String::from_utf8_lossy(text).into_owned());
                    Ok(())
                }
                _ => Ok(()),
            }
        }
    }
    let mut told = String::new();
    for line in ["M117 X5 OK", "N5 M117 it's", "M106 (open", " $J=X1 ! ", "$C\u{85}", "M67 E#"] {
        let mut writer = Writer(Vec::new());
        let refused = stave_parse::gcode::read(line.as_bytes(), &LENIENT, &mut writer).unwrap_err();
        assert!(writer.0.is_empty());
        told += &(refused.shown("art.nc") + "\n");
    }
    assert_snapshot!(told, @r"
    art.nc:1:9: cannot be passed on
      M117 X5 OK
              ^
    art.nc:1:10: cannot be passed on
      N5 M117 it's
               ^
    art.nc:1:6: cannot be passed on
      M106 (open
           ^
    art.nc:1:8: cannot be passed on
       $J=X1 ! 
             ^
    art.nc:1:3: cannot be passed on
      $C�
        ^
    art.nc:1:6: cannot be passed on
      M67 E#
           ^
    ");
    let long = format!("M106 {}", "P1 ".repeat(200));
    let mut writer = Writer(Vec::new());
    stave_parse::gcode::read(long.as_bytes(), &LENIENT, &mut writer).unwrap_err();
}

#[test]
fn what_exporters_write_at_the_beginning() {
    assert_snapshot!(events(
        "O1000\n(a) O 0 1 (part)\nN5 O7\nG64 P0.01\nG64 P.1 Q.02\nG00G21G17G90G40G49G80\nX1\n\
         G80 G1 F60\nX2\nG1 G80 G4 P1 G64\n"
    ), @r"
    2: comment a
    2: comment part
    4: path G64
    5: path G64
    7: travel 1 0
    8: feed 60 PerMinute
    9: straight 2 0 F60
    10: dwell 1
    10: path G64
    10: end
    ");
    for (line, lenient) in [
        // Without axis words alone, and one motion word beside G80 alone.
        ("G0 G80 X1", false),
        ("G80 G2 I5", false),
        ("G28 G0 G80", false),
        ("G0 G1 G80", false),
        ("G0 G80 G80", false),
        ("P0.01", false),
        ("G61 P0.01", false),
        ("Q1", false),
        ("O1000 G0 X1", false),
        ("G0 X1 O1000", false),
        ("O", false),
        ("O1.5", false),
        ("O1000", true),
        ("G64 P0.01", true),
        ("G64 Q0.01", false),
        ("G0 G80", true),
        ("G1 F60", true),
        ("G3", true),
    ] {
        let text = format!("{line}\nM2\n");
        assert_eq!(log(text.as_bytes(), &LENIENT).1.is_ok(), lenient, "{line}");
        assert!(log(text.as_bytes(), &STRICT).1.is_err(), "{line}");
    }
    assert_snapshot!(error("O1000\nM2\n", &STRICT), @r"
    art.nc:1:1: program numbers (O1000) are not RS274/NGC; read without --strict to allow them
      O1000
      ^
    ");
    assert_snapshot!(error("G0 G21 G80\nM2\n", &STRICT), @r"
    art.nc:1:8: G0 and G80 belong to the same modal group; only one of them can stand on a line
      G0 G21 G80
             ^
    ");
    assert_snapshot!(error("G0 G80 X1\nM2\n", &LENIENT), @r"
    art.nc:1:4: G0 and G80 belong to the same modal group; only one of them can stand on a line
      G0 G80 X1
         ^
    ");
}

#[test]
fn whether_the_last_line_was_whole() {
    for (text, whole) in [
        ("G0 X1\n", true),
        ("G0 X1", false),
        ("G0 X1\r\n", true),
        ("G0 X1\r", false),
        ("", true),
        ("\n", true),
        ("G0 X1\nG0 X1.2", false),
        ("G0 X1\nM2", false),
        ("M2\nrest", true),
        ("%\nG0 X1\n%", false),
    ] {
        let summary = log(text.as_bytes(), &LENIENT).1.unwrap();
        assert_eq!(summary.last_line_ended, whole, "{text:?}");
    }
}
