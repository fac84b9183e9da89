//! Values: numbers, parameters, expressions and functions (3.3.2), parsed and reckoned in one go.
//!
//! The parsers work on closed text (upper case, no white space). The grammar is that of the
//! report's appendix E.

use nom::branch::alt;
use nom::bytes::complete::tag;
use nom::character::complete::char;
use nom::combinator::{recognize, value};
use nom::error::{ErrorKind, ParseError};
use nom::{Err, IResult, Parser};

use super::decimal::{self, NoNumber};
use super::parameters::{self, Parameters};
use super::problem::{Problem, Shown};

/// How deep brackets, functions and parameter signs may be nested.
pub(super) const DEEPEST: u32 = 64;

/// The outcome of a parser on closed text.
pub(super) type Parsed<'a, T> = IResult<&'a [u8], T, Trouble>;

/// A problem and how many bytes of the closed text were left where it was found.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Trouble {
    pub(super) left: usize,
    pub(super) problem: Problem,
}

impl ParseError<&[u8]> for Trouble {
    fn from_error_kind(input: &[u8], _: ErrorKind) -> Self {
        let problem =
            input.first().map_or(Problem::ValueMissing, |&b| Problem::Unexpected(Shown(b)));
        Self { left: input.len(), problem }
    }

    fn append(_: &[u8], _: ErrorKind, other: Self) -> Self {
        other
    }
}

/// A definite error at `input`: no other reading is tried.
pub(super) fn refuse<T>(input: &[u8], problem: Problem) -> Parsed<'_, T> {
    Err(Err::Failure(Trouble { left: input.len(), problem }))
}

/// What values are reckoned with.
#[derive(Clone, Copy)]
pub(super) struct Scope<'p> {
    pub(super) parameters: &'p Parameters,
    /// Millimetres to the unit in use.
    pub(super) scale: f64,
}

/// A number (3.3.2.1).
pub(super) fn number(input: &[u8]) -> Parsed<'_, f64> {
    let from = |at: usize| input.get(at..).unwrap_or_default();
    match decimal::number(input, 0) {
        Ok(number) => Ok((from(number.end), number.value)),
        Err(NoNumber::NoDigit(at)) => refuse(from(at), Problem::NoDigit),
        Err(NoNumber::TooLarge) => refuse(input, Problem::TooLarge),
    }
}

/// A value of any kind. `depth` counts the brackets and signs around it.
pub(super) fn real_value<'a>(scope: Scope<'_>, depth: u32, input: &'a [u8]) -> Parsed<'a, f64> {
    match input {
        [] => refuse(input, Problem::ValueMissing),
        [b'[', ..] => expression(scope, depth, input),
        [b'#', rest @ ..] => {
            let (rest, index) = parameter_index(scope, depth, rest)?;
            Ok((rest, scope.parameters.get(index, scope.scale)))
        }
        [b'+' | b'-', b'[' | b'#' | b'A'..=b'Z', ..] => {
            refuse(input, Problem::SignBeforeExpression)
        }
        [b'+' | b'-' | b'.' | b'0'..=b'9', ..] => number(input),
        [b'A'..=b'Z', ..] => function_value(scope, depth, input),
        _ => refuse(input, Problem::NoValue),
    }
}

/// The number of a parameter, after its `#`.
pub(super) fn parameter_index<'a>(
    scope: Scope<'_>,
    depth: u32,
    input: &'a [u8],
) -> Parsed<'a, u16> {
    let depth = deeper(depth, input)?;
    let (rest, value) = real_value(scope, depth, input)?;
    match parameters::index(value) {
        Ok(index) => Ok((rest, index)),
        Err(problem) => refuse(input, problem),
    }
}

fn deeper(depth: u32, input: &[u8]) -> Result<u32, Err<Trouble>> {
    if depth < DEEPEST {
        Ok(depth + 1)
    } else {
        Err(Err::Failure(Trouble { left: input.len(), problem: Problem::TooDeep(DEEPEST) }))
    }
}

/// One particular byte, or a definite error.
fn expect(wanted: char, input: &[u8]) -> Parsed<'_, ()> {
    match input.split_first() {
        Some((&byte, rest)) if char::from(byte) == wanted => Ok((rest, ())),
        _ => refuse(input, Problem::Expected(wanted)),
    }
}

/// `[` terms `]`.
fn expression<'a>(scope: Scope<'_>, depth: u32, input: &'a [u8]) -> Parsed<'a, f64> {
    let depth = deeper(depth, input)?;
    let (rest, ()) = expect('[', input)?;
    let (rest, result) = level(scope, depth, Level::Sum, rest)?;
    match rest.split_first() {
        Some((b']', rest)) => Ok((rest, result)),
        None => refuse(rest, Problem::Expected(']')),
        Some(_) => refuse(rest, Problem::NoOperator),
    }
}

/// The three precedence levels, loosest first.
#[derive(Clone, Copy)]
enum Level {
    Sum,
    Product,
    Power,
}

#[derive(Clone, Copy)]
enum Operation {
    Power,
    Times,
    Over,
    Modulo,
    Plus,
    Minus,
    Or,
    ExclusiveOr,
    And,
}

/// Operands of the next tighter level and operators of this one, left to right.
fn level<'a>(scope: Scope<'_>, depth: u32, which: Level, input: &'a [u8]) -> Parsed<'a, f64> {
    let operand = |text: &'a [u8]| match which {
        Level::Sum => level(scope, depth, Level::Product, text),
        Level::Product => level(scope, depth, Level::Power, text),
        Level::Power => real_value(scope, depth, text),
    };
    let (mut rest, mut left) = operand(input)?;
    while let Ok((after, operation)) = operator(which, rest) {
        let (next, right) = operand(after)?;
        left = match apply(operation, left, right) {
            Ok(result) => result,
            Err(problem) => return refuse(rest, problem),
        };
        rest = next;
    }
    Ok((rest, left))
}

fn operator(which: Level, input: &[u8]) -> Parsed<'_, Operation> {
    match which {
        Level::Power => value(Operation::Power, tag("**")).parse(input),
        // A `*` of `**` never gets here: the power level has taken it.
        Level::Product => alt((
            value(Operation::Times, char('*')),
            value(Operation::Over, char('/')),
            value(Operation::Modulo, tag("MOD")),
        ))
        .parse(input),
        Level::Sum => alt((
            value(Operation::Plus, char('+')),
            value(Operation::Minus, char('-')),
            value(Operation::Or, tag("OR")),
            value(Operation::ExclusiveOr, tag("XOR")),
            value(Operation::And, tag("AND")),
        ))
        .parse(input),
    }
}

fn apply(operation: Operation, a: f64, b: f64) -> Result<f64, Problem> {
    let truth = |t: bool| f64::from(u8::from(t));
    let result = match operation {
        Operation::Power if a < 0.0 && b.fract() != 0.0 => return Err(Problem::FractionalPower),
        Operation::Over | Operation::Modulo if b == 0.0 => return Err(Problem::DivisionByZero),
        Operation::Power if a == 0.0 && b < 0.0 => return Err(Problem::DivisionByZero),
        Operation::Power => a.powf(b),
        Operation::Times => a * b,
        Operation::Over => a / b,
        // Never negative, as in the report's own interpreter.
        Operation::Modulo => a.rem_euclid(b),
        Operation::Plus => a + b,
        Operation::Minus => a - b,
        Operation::Or => truth(a != 0.0 || b != 0.0),
        Operation::ExclusiveOr => truth((a != 0.0) != (b != 0.0)),
        Operation::And => truth(a != 0.0 && b != 0.0),
    };
    finite(result)
}

fn finite(result: f64) -> Result<f64, Problem> {
    if result.is_finite() { Ok(result) } else { Err(Problem::NotFinite) }
}

/// A function and its argument in brackets; `ATAN` has two, with a slash between.
fn function_value<'a>(scope: Scope<'_>, depth: u32, input: &'a [u8]) -> Parsed<'a, f64> {
    let Ok((rest, name)) = function_name(input) else {
        return refuse(input, Problem::UnknownFunction);
    };
    let (rest, first) = expression(scope, depth, rest)?;
    let (rest, result) = if name == b"ATAN" {
        let (rest, ()) = expect('/', rest)?;
        let (rest, second) = expression(scope, depth, rest)?;
        // Four quadrants: the report is silent, and this is how its two arguments make sense.
        (rest, Ok(first.atan2(second).to_degrees()))
    } else {
        (rest, call(name, first))
    };
    match result {
        Ok(result) => Ok((rest, result)),
        Err(problem) => refuse(input, problem),
    }
}

fn function_name(input: &[u8]) -> Parsed<'_, &[u8]> {
    recognize(alt((
        alt((
            tag("ABS"),
            tag("ACOS"),
            tag("ASIN"),
            tag("ATAN"),
            tag("COS"),
            tag("EXP"),
            tag("FIX"),
        )),
        alt((tag("FUP"), tag("LN"), tag("ROUND"), tag("SIN"), tag("SQRT"), tag("TAN"))),
    )))
    .parse(input)
}

fn call(name: &[u8], x: f64) -> Result<f64, Problem> {
    let result = match name {
        b"ABS" => x.abs(),
        b"ACOS" if x.abs() > 1.0 => return Err(Problem::OutOfDomain("ACOS", x)),
        b"ACOS" => x.acos().to_degrees(),
        b"ASIN" if x.abs() > 1.0 => return Err(Problem::OutOfDomain("ASIN", x)),
        b"ASIN" => x.asin().to_degrees(),
        b"COS" => x.to_radians().cos(),
        b"EXP" => x.exp(),
        b"FIX" => x.floor(),
        b"FUP" => x.ceil(),
        b"LN" if x <= 0.0 => return Err(Problem::OutOfDomain("LN", x)),
        b"LN" => x.ln(),
        b"ROUND" => x.round(),
        b"SIN" => x.to_radians().sin(),
        b"SQRT" if x < 0.0 => return Err(Problem::OutOfDomain("SQRT", x)),
        b"SQRT" => x.sqrt(),
        b"TAN" => x.to_radians().tan(),
        _ => return Err(Problem::UnknownFunction),
    };
    finite(result)
}
