//! What can be wrong with a line.

use super::code::Code;

/// The reason a line is refused, with the remedy where there is one.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub(super) enum Problem {
    // Characters and their order.
    #[error("unexpected {0}")]
    Unexpected(Shown),
    #[error("{0} is not a word letter of this language (A B C D F G H I J K L M P Q R S T X Y Z)")]
    NotALetter(char),
    #[error(
        "expected a value: a number, a parameter (#1), an expression in brackets ([1+2]) or a \
         function (SIN[30])"
    )]
    NoValue,
    #[error("expected a value, but the line ends here")]
    ValueMissing,
    #[error("a number needs at least one digit")]
    NoDigit,
    #[error("a sign can only begin a number; write [0 - ...]")]
    SignBeforeExpression,
    #[error("the number is too large")]
    TooLarge,
    #[error("expected `{0}`")]
    Expected(char),
    #[error(
        "unknown function; the functions are ABS ACOS ASIN ATAN COS EXP FIX FUP LN ROUND SIN SQRT \
         TAN"
    )]
    UnknownFunction,
    #[error("expected an operator (+ - * / ** MOD AND OR XOR) or `]`")]
    NoOperator,
    #[error("brackets, functions and parameter signs are nested deeper than {0}")]
    TooDeep(u32),
    #[error("the comment is not closed on its line; add `)`")]
    UnclosedComment,
    #[error("comments cannot be nested; replace this `(`")]
    NestedComment,
    #[error("`;` comments are not RS274/NGC; write (...) or read without --strict")]
    SemicolonComment,
    #[error("a carriage return without a line feed; end lines with a line feed")]
    LoneReturn,
    #[error("N must stand first on its line")]
    LateLineNumber,
    #[error("a line number is N and an unsigned whole number")]
    BadLineNumber,
    #[error("a line number has at most five digits; read without --strict to allow more")]
    LongLineNumber,
    #[error("the line is longer than {0} bytes")]
    LongLine(usize),
    #[error(
        "lines that begin with `$` are not RS274/NGC; read without --strict to pass them through"
    )]
    DollarLine,
    #[error("a percent sign must stand alone on its line")]
    PercentNotAlone,
    #[error(
        "a closing percent line without an opening one: the first line of the program must be `%` \
         too"
    )]
    PercentNotOpened,
    // What other dialects have.
    #[error("program numbers (O1000) are not RS274/NGC; read without --strict to allow them")]
    ProgramNumber,
    #[error(
        "a program number is O and digits, alone on its line; put what follows on a line of its own"
    )]
    BadProgramNumber,
    #[error(
        "{0} belongs to a subroutine, a loop or a condition, and nothing here runs those; have the \
         exporter write every move out"
    )]
    FlowControl(&'static str),
    #[error(
        "M{0} calls or ends a subprogram, and nothing here runs those; have the exporter write every \
         move out, and end the program with M2 or M30"
    )]
    Subprogram(u32),
    #[error(
        "parameters with a name (#<name>) are not understood; use one with a number (#1 to #5399) \
         or write the value"
    )]
    NamedParameter,
    #[error(
        "angle brackets enclose a name or a place to be filled in, which is not understood; write \
         the number that is meant"
    )]
    AngleBracket,
    #[error(
        "{letter} has no number; {code} goes through the point that its axis words give: write \
             {letter}0 under G91 to go straight home, or leave {letter} out"
    )]
    BareHomeAxis { letter: char, code: Code },
    #[error("a comma in a number; the decimal sign is a point: write {0}")]
    DecimalComma(String),
    #[error(
        "`*` and digits at the end of a line are a checksum of the sending; save the program without \
         checksums"
    )]
    Checksum,
    // Expressions and parameters.
    #[error("division by zero")]
    DivisionByZero,
    #[error("{0} of {1} does not exist")]
    OutOfDomain(&'static str, f64),
    #[error("a negative number to a fractional power does not exist")]
    FractionalPower,
    #[error("the result is not a finite number")]
    NotFinite,
    #[error("a parameter number must be a whole number from 1 to 5399, not {0}")]
    BadParameter(f64),
    #[error("the length in parameter #{0} is out of range")]
    ParameterLength(u16),
    #[error("parameter #5220 is the number of a coordinate system, 1 to 9, not {0}")]
    BadSystemParameter(f64),
    // Words.
    #[error("{0} is given twice on this line")]
    Twice(char),
    #[error("{0} and {1} belong to the same modal group; only one of them can stand on a line")]
    SameGroup(Code, Code),
    #[error("{0} is given twice on this line")]
    SameCode(Code),
    #[error("more than four M words on a line")]
    ManyMWords,
    #[error("{0} must be a whole number, not {1}")]
    NotWhole(char, f64),
    #[error("{0} must not be negative")]
    Negative(char),
    #[error("{0} is out of range: it can be at most 1000000000")]
    OutOfRange(char),
    #[error("unknown G word G{0}")]
    UnknownG(f64),
    #[error(
        "{0} is cutter radius compensation, which cannot be laid on a wall; let the exporter \
         write the compensated path"
    )]
    Compensation(Code),
    #[error("{0} is a canned cycle, which cannot be laid on a wall; write its moves out")]
    CannedCycle(Code),
    #[error("{0} is probing, which a program for a wall cannot do")]
    Probing(Code),
    #[error("G43 needs the length of the tool, which is not known here; take it out and write G49")]
    NoToolTable,
    #[error("no length is known for tool H{0}")]
    NoToolLength(u32),
    #[error(
        "{0} (absolute arc centres) is not understood; write arc centres relative to the start \
         (G91.1)"
    )]
    AbsoluteArcs(Code),
    #[error("G91.1 is not RS274/NGC; read without --strict to allow it")]
    ArcDistance,
    #[error("unknown M word M{0}")]
    UnknownM(u32),
    #[error(
        "M{0} is not known, so its line is passed on or dropped whole, and {1} would be lost; put M{0} \
         on a line of its own"
    )]
    UnknownMWithMotion(u32, String),
    #[error(
        "M{0} is not known, so its line is passed on or dropped whole, and the parameter setting would \
         be lost; put M{0} on a line of its own"
    )]
    UnknownMWithSetting(u32),
    #[error("the {0} word belongs to no G word on this line")]
    Unused(char),
    #[error("{0} and {1} both use the axis words of the line; put them on two lines")]
    BothUseAxes(Code, Code),
    #[error("{0} needs at least one axis word")]
    NoAxisWord(Code),
    #[error("axis words under G80 have no meaning; give a motion word (G0, G1, G2, G3)")]
    AxisUnderG80,
    #[error("{0} needs its {1} word")]
    Needs(Code, char),
    #[error("G10 is understood with L2 only")]
    OnlyL2,
    #[error("P of G10 L2 is the number of a coordinate system, 1 to 9")]
    SystemRange,
    #[error("G53 needs G0 or G1 and an axis word")]
    MachineNeedsStraight,
    #[error("G53 cannot be used in incremental distance mode (G91)")]
    MachineIncremental,
    #[error(
        "{code} needs the home position, which only the machine knows; set parameter #{parameter} \
         in the program or take {code} out"
    )]
    NoHome { code: Code, parameter: u16 },
    #[error("under G93 every G1, G2 and G3 line needs its own F word")]
    InverseTimeFeed,
    #[error("under G93 F must be above zero")]
    InverseTimeZero,
    // Arcs.
    #[error("an arc needs its centre ({0} and {1}) or its radius (R)")]
    NoCentre(char, char),
    #[error("an arc takes a centre or a radius (R), not both")]
    CentreAndRadius,
    #[error("{0} has no meaning for an arc in this plane")]
    WrongOffset(char),
    #[error("an arc needs an end: at least one of {0} and {1}")]
    NoArcEnd(char, char),
    #[error("the arc's radius is zero")]
    ZeroRadius,
    #[error("an arc by radius cannot end where it starts; give its centre")]
    RadiusFullCircle,
    #[error("no circle of radius {radius_mm:.4} mm reaches an end {chord_mm:.4} mm away")]
    RadiusTooShort { radius_mm: f64, chord_mm: f64 },
    #[error(
        "the arc's end is {end_mm:.4} mm from its centre and its start {start_mm:.4} mm; they may \
         differ by {tolerance_mm:.4} mm"
    )]
    RadiiDiffer { start_mm: f64, end_mm: f64, tolerance_mm: f64 },
    // Whole programs.
    #[error("the program ends without M2 or M30")]
    NoEnd,
    #[error("the program opened with a percent line, but ends without a closing one")]
    PercentNotClosed,
}

/// A byte as a message can show it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Shown(pub(super) u8);

impl std::fmt::Display for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            byte @ b'!'..=b'~' => write!(f, "`{}`", char::from(byte)),
            byte => write!(f, "byte 0x{byte:02x}"),
        }
    }
}
