//! What is refused, and what the refusal says.

use insta::assert_snapshot;

use crate::log::{LENIENT, STRICT, error, log};

/// The first line of every program's error, in both ways of reading, which must agree.
fn told(lines: &[&str]) -> String {
    let mut told = String::new();
    for line in lines {
        let text = format!("{line}\nM2\n");
        let message = error(&text, &LENIENT);
        assert_eq!(message, error(&text, &STRICT));
        told += message.lines().next().unwrap().trim_start_matches("art.nc:");
        told.push('\n');
    }
    told
}

#[test]
fn words() {
    assert_snapshot!(told(&[
        "G0 X.", "G0 X", "G0 X1e2", "G1 X1 U2", "G0 X1 X2", "G0 G1 X1", "G0 G0 X1", "M3 M5",
        "M7 M8", "G0 X1 N5", "N G0", "N-5 G0 X1",
        "N1.5 G0 X1", "G0.05 X1", "G1.25 X1", "M3.5", "M-3", "G7", "G-1", "T-1", "T1.5", "S-1",
        "F-1",
        "G0 X1)", "G0 X1 (a", "(a (b) c)",
        "?", "G0 X1 \u{e9}", "G0 X9999999999",
        "G0 X9999999999 Y1", "G0 X1 Y-9999999999", "G0 X1\rG0 X2", "#1=1 #2", "#0=1", "#5400=1",
        "#1.5=1", "#5220=10", "#5161=1e9",
        "M3 M6 M8 M48 M0",
    ]), @r"
    1:6: a number needs at least one digit
    1:5: expected a value, but the line ends here
    1:6: E is not a word letter of this language (A B C D F G H I J K L M P Q R S T X Y Z)
    1:7: U is not a word letter of this language (A B C D F G H I J K L M P Q R S T X Y Z)
    1:7: X is given twice on this line
    1:4: G0 and G1 belong to the same modal group; only one of them can stand on a line
    1:4: G0 is given twice on this line
    1:4: M3 and M5 belong to the same modal group; only one of them can stand on a line
    1:4: M7 and M8 belong to the same modal group; only one of them can stand on a line
    1:7: N must stand first on its line
    1:3: a line number is N and an unsigned whole number
    1:2: a line number is N and an unsigned whole number
    1:3: a line number is N and an unsigned whole number
    1:1: unknown G word G0.05
    1:1: unknown G word G1.25
    1:1: M must be a whole number, not 3.5
    1:1: M must be a whole number, not -3
    1:1: unknown G word G7
    1:1: unknown G word G-1
    1:1: T must not be negative
    1:1: T must be a whole number, not 1.5
    1:1: S must not be negative
    1:1: F must not be negative
    1:6: unexpected `)`
    1:7: the comment is not closed on its line; add `)`
    1:4: comments cannot be nested; replace this `(`
    1:1: unexpected `?`
    1:7: unexpected byte 0xc3
    1:4: X is out of range: it can be at most 1000000000
    1:4: X is out of range: it can be at most 1000000000
    1:7: Y is out of range: it can be at most 1000000000
    1:6: a carriage return without a line feed; end lines with a line feed
    1:8: expected `=`
    1:2: a parameter number must be a whole number from 1 to 5399, not 0
    1:2: a parameter number must be a whole number from 1 to 5399, not 5400
    1:2: a parameter number must be a whole number from 1 to 5399, not 1.5
    1:1: parameter #5220 is the number of a coordinate system, 1 to 9, not 10
    1:8: E is not a word letter of this language (A B C D F G H I J K L M P Q R S T X Y Z)
    1:14: more than four M words on a line
    ");
}

#[test]
fn what_cannot_be_laid_on_a_wall() {
    assert_snapshot!(told(&[
        "G41 D1", "G42", "G43 H1", "G38.2 X1", "G81 X1 R1", "G90.1", "D1", "H1", "G0 X1 P1", "G0 \
            X1 L2", "G0 X1 Q1", "G0 X1 I1", "G0 X1 R1",
        "G43", "G40 H1",
    ]), @"
    1:1: G41 is cutter radius compensation, which cannot be laid on a wall; let the exporter write \
        the compensated path
    1:1: G42 is cutter radius compensation, which cannot be laid on a wall; let the exporter write \
        the compensated path
    1:1: G43 needs the length of the tool, which is not known here; take it out and write G49
    1:1: G38.2 is probing, which a program for a wall cannot do
    1:1: G81 is a canned cycle, which cannot be laid on a wall; write its moves out
    1:1: G90.1 (absolute arc centres) is not understood; write arc centres relative to the start \
        (G91.1)
    1:1: the D word belongs to no G word on this line
    1:1: the H word belongs to no G word on this line
    1:7: the P word belongs to no G word on this line
    1:7: the L word belongs to no G word on this line
    1:7: the Q word belongs to no G word on this line
    1:7: the I word belongs to no G word on this line
    1:7: the R word belongs to no G word on this line
    1:1: G43 needs its H word
    1:5: the H word belongs to no G word on this line
    ");
}

#[test]
fn what_other_dialects_have() {
    assert_snapshot!(told(&[
        "o100 sub", "O<part> call [1]", "O1 if [#1 EQ 2]", "o2 endsub", "IF [#1 EQ 1] GOTO 5",
        "WHILE [#1 LT 5] DO1", "END1", "GOTO 5", "M98 P1000", "N5 M99", "#<depth>=3",
        "G1 X#<depth>", "G1 X[#<a> + 1]", "G1 X<width>", "<svg>", "G1 X1>", "G28 X Y", "G91 G30 z",
        "G28 (home) X (a)", "G28 X0 Y (b)", "G1 X1,5", "X2 Y -1 , 25 Z2", "X1,Y2", "N1 G1 X5*71",
        "M3 S5 *12", "X*5", "X5 *",
    ]), @"
    1:1: an O word belongs to a subroutine, a loop or a condition, and nothing here runs those; \
        have the exporter write every move out
    1:1: an O word with a name belongs to a subroutine, a loop or a condition, and nothing here \
        runs those; have the exporter write every move out
    1:1: an O word belongs to a subroutine, a loop or a condition, and nothing here runs those; \
        have the exporter write every move out
    1:1: an O word belongs to a subroutine, a loop or a condition, and nothing here runs those; \
        have the exporter write every move out
    1:2: IF belongs to a subroutine, a loop or a condition, and nothing here runs those; have the \
        exporter write every move out
    1:1: WHILE belongs to a subroutine, a loop or a condition, and nothing here runs those; have \
        the exporter write every move out
    1:1: END belongs to a subroutine, a loop or a condition, and nothing here runs those; have the \
        exporter write every move out
    1:2: GOTO belongs to a subroutine, a loop or a condition, and nothing here runs those; have \
        the exporter write every move out
    1:1: M98 calls or ends a subprogram, and nothing here runs those; have the exporter write \
        every move out, and end the program with M2 or M30
    1:4: M99 calls or ends a subprogram, and nothing here runs those; have the exporter write \
        every move out, and end the program with M2 or M30
    1:2: parameters with a name (#<name>) are not understood; use one with a number (#1 to #5399) \
        or write the value
    1:6: parameters with a name (#<name>) are not understood; use one with a number (#1 to #5399) \
        or write the value
    1:7: parameters with a name (#<name>) are not understood; use one with a number (#1 to #5399) \
        or write the value
    1:5: angle brackets enclose a name or a place to be filled in, which is not understood; write \
        the number that is meant
    1:1: angle brackets enclose a name or a place to be filled in, which is not understood; write \
        the number that is meant
    1:6: angle brackets enclose a name or a place to be filled in, which is not understood; write \
        the number that is meant
    1:7: X has no number; G28 goes through the point that its axis words give: write X0 under G91 \
        to go straight home, or leave X out
    1:10: Z has no number; G30 goes through the point that its axis words give: write Z0 under G91 \
        to go straight home, or leave Z out
    1:14: X has no number; G28 goes through the point that its axis words give: write X0 under G91 \
        to go straight home, or leave X out
    1:10: Y has no number; G28 goes through the point that its axis words give: write Y0 under G91 \
        to go straight home, or leave Y out
    1:6: a comma in a number; the decimal sign is a point: write 1.5
    1:9: a comma in a number; the decimal sign is a point: write -1.25
    1:3: unexpected `,`
    1:9: `*` and digits at the end of a line are a checksum of the sending; save the program \
        without checksums
    1:7: `*` and digits at the end of a line are a checksum of the sending; save the program \
        without checksums
    1:2: `*` and digits at the end of a line are a checksum of the sending; save the program \
        without checksums
    1:4: unexpected `*`
    ");
    assert_snapshot!(error("N7 G1 Y2 X1,5 (\u{fc})\n", &LENIENT), @r"
    art.nc:1:12: a comma in a number; the decimal sign is a point: write 1.5
      N7 G1 Y2 X1,5 (ü)
                 ^
    ");
}

#[test]
fn groups_and_axis_words() {
    assert_snapshot!(told(&[
        "G92", "G92 G1 X1", "G28 G0 X1", "G10 L2 P1 G1 X1", "G80 X1", "G10 X1", "G10 L3 P1 \
            X1", "G10 L2 X1", "G10 L2 P0 X1", "G4", "G4 P-1",
        "G93 G1 X1", "G93 G1 X1 F0", "G53 G92 X1",
    ]), @r"
    1:1: G92 needs at least one axis word
    1:1: G92 and G1 both use the axis words of the line; put them on two lines
    1:1: G28 and G0 both use the axis words of the line; put them on two lines
    1:1: G10 and G1 both use the axis words of the line; put them on two lines
    1:5: axis words under G80 have no meaning; give a motion word (G0, G1, G2, G3)
    1:1: G10 needs its L word
    1:5: G10 is understood with L2 only
    1:1: G10 needs its P word
    1:8: P of G10 L2 is the number of a coordinate system, 1 to 9
    1:1: G4 needs its P word
    1:4: P must not be negative
    1:5: under G93 every G1, G2 and G3 line needs its own F word
    1:11: under G93 F must be above zero
    1:5: G53 and G92 belong to the same modal group; only one of them can stand on a line
    ");
}

#[test]
fn arcs() {
    assert_snapshot!(told(&[
        "G2 X5 Y5", "G2 X0 Y0 R5", "G2 X10 R4", "G2 X10 R0", "G2 X10 I5 R5", "G2 X10 I5.01", "G2 \
            X1 I0", "G2 X10 K5", "G18 G2 X1 J1",
        "G19 G2 Y1 I1", "G20 G2 X1 I0.5002",
    ]), @"
    1:4: an arc needs its centre (I and J) or its radius (R)
    1:10: an arc by radius cannot end where it starts; give its centre
    1:8: no circle of radius 4.0000 mm reaches an end 10.0000 mm away
    1:8: no circle of radius 0.0000 mm reaches an end 10.0000 mm away
    1:11: an arc takes a centre or a radius (R), not both
    1:8: the arc's end is 4.9900 mm from its centre and its start 5.0100 mm; they may differ by \
        0.0020 mm
    1:7: the arc's radius is zero
    1:8: K has no meaning for an arc in this plane
    1:11: J has no meaning for an arc in this plane
    1:11: I has no meaning for an arc in this plane
    1:11: the arc's end is 12.6949 mm from its centre and its start 12.7051 mm; they may differ by \
        0.0051 mm
    ");
}

#[test]
fn expressions() {
    assert_snapshot!(told(&[
        "G0 X[1", "G0 X[1 2", "G0 X[1?2]", "G0 X[]", "G0 X-[5]", "G0 X-#1", "G0 X-SIN[1]", "G0 \
            X[2 * ]", "G0 XFOO[1]", "G0 XSIN 30", "G0 XATAN[1]",
        "G0 XATAN[1]/2", "G0 X[1/0]", "G0 X[1 MOD 0]", "G0 XSQRT[-1]", "G0 XLN[0]", "G0 \
            XACOS[2]", "G0 XASIN[-2]", "G0 X[-8 ** .5]", "G0 X[0**-1]",
        "G0 XEXP[1000]", "G0 X#", "G0 X##[0]",
    ]), @"
    1:7: expected `]`
    1:9: expected `]`
    1:7: expected an operator (+ - * / ** MOD AND OR XOR) or `]`
    1:6: expected a value: a number, a parameter (#1), an expression in brackets ([1+2]) or a \
        function (SIN[30])
    1:5: a sign can only begin a number; write [0 - ...]
    1:5: a sign can only begin a number; write [0 - ...]
    1:5: a sign can only begin a number; write [0 - ...]
    1:10: expected a value: a number, a parameter (#1), an expression in brackets ([1+2]) or a \
        function (SIN[30])
    1:5: unknown function; the functions are ABS ACOS ASIN ATAN COS EXP FIX FUP LN ROUND SIN SQRT \
        TAN
    1:9: expected `[`
    1:12: expected `/`
    1:13: expected `[`
    1:7: division by zero
    1:8: division by zero
    1:5: SQRT of -1 does not exist
    1:5: LN of 0 does not exist
    1:5: ACOS of 2 does not exist
    1:5: ASIN of -2 does not exist
    1:9: a negative number to a fractional power does not exist
    1:7: division by zero
    1:5: the result is not a finite number
    1:6: expected a value, but the line ends here
    1:7: a parameter number must be a whole number from 1 to 5399, not 0
    ");
}

#[test]
fn nesting_is_bounded() {
    let deep =
        |open: &str, close: &str, n: usize| format!("G0 X{}1{}", open.repeat(n), close.repeat(n));
    for (open, close) in [("[", "]"), ("SIN[", "]"), ("#", ""), ("#[", "]")] {
        let text = deep(open, close, 100_000);
        let message = error(&text, &LENIENT);
        assert!(message.contains("nested deeper than 64"), "{message}");
        assert!(message.len() < 700);
    }
    assert_eq!(log(deep("[", "]", 64).as_bytes(), &LENIENT).0[0], "1: travel 1 0");
    assert!(error(&deep("[", "]", 65), &LENIENT).contains("1:69:"));
}

#[test]
fn carets_and_windows() {
    assert_snapshot!(error("G21\nG1 X5 Y? F100\n", &LENIENT), @"
    art.nc:2:8: expected a value: a number, a parameter (#1), an expression in brackets ([1+2]) or \
        a function (SIN[30])
      G1 X5 Y? F100
             ^
    ");
    assert_snapshot!(error("(Bo\u{ef}te \u{1f600})\tG1 Xy\n", &LENIENT), @"
    art.nc:1:15: unknown function; the functions are ABS ACOS ASIN ATAN COS EXP FIX FUP LN ROUND \
        SIN SQRT TAN
      (Boïte 😀) G1 Xy
                    ^
    ");
    let far = format!("G1 {}X1 ?{}\n", "(aaaaaaa) ".repeat(100), " (bbbbbbb)".repeat(100));
    assert_snapshot!(error(&far, &LENIENT), @"
    art.nc:1:1007: unexpected `?`
      …aaaaa) (aaaaaaa) (aaaaaaa) (aaaaaaa) (aaaaaaa) (aaaaaaa) (aaaaaaa) (aaaaaaa) X1 ? (bbbbbbb) \
          (bbbbbbb) (bbbbbbb) (bbbbbb…
                                                                                       ^
    ");
    let (_, outcome) = log(b"G0 X1\n\xff\x1b[31m\n", &LENIENT);
    assert_snapshot!(outcome.unwrap_err().shown("art.nc"), @r"
    art.nc:2:1: unexpected byte 0xff
      ��[31m
      ^
    ");
    let (_, outcome) = log(b"G0 X1\n\xff\x1b[31m\n", &LENIENT);
    assert_snapshot!(outcome.unwrap_err(), @"line 2, column 1: unexpected byte 0xff");
}

#[test]
fn what_was_read_before_stands() {
    let (lines, outcome) = log(b"G0 X1\nG1 X2 F60 S5\nG2 X3\nG0 X4\n", &LENIENT);
    assert_eq!(
        lines,
        ["1: travel 1 0", "2: feed 60 PerMinute", "2: power 5", "2: straight 2 0 F60"]
    );
    assert_eq!(outcome.unwrap_err().place(), Some((3, 4)));
}
