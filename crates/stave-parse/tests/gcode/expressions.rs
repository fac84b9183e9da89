//! Expressions against a second reckoning: a tree is made, written as G-code, and its value
//! compared.

use proptest::prelude::*;
use stave_parse::gcode::{Interpreter, ReadOptions};

use crate::log::Log;
use stave_tests::cases;

/// An expression tree.
#[derive(Clone, Debug)]
enum Tree {
    Number(f64),
    Parameter(u16),
    Call(&'static str, Box<Tree>),
    Atan(Box<Tree>, Box<Tree>),
    /// Operands and operators of one bracket, as written: value, then operator and value.
    Chain(Box<Tree>, Vec<(&'static str, Tree)>),
}

const OPERATORS: [&str; 9] = ["**", "*", "/", "MOD", "+", "-", "OR", "XOR", "AND"];
const FUNCTIONS: [&str; 12] =
    ["ABS", "ACOS", "ASIN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"];

fn trees() -> impl Strategy<Value = Tree> {
    let leaf = prop_oneof![
        (-9999_i32..9999, 0_u32..4)
            .prop_map(|(n, d)| Tree::Number(f64::from(n) / 10_f64.powi(d.cast_signed()))),
        (0_i32..4).prop_map(|n| Tree::Number(f64::from(n))),
        (1_u16..4).prop_map(Tree::Parameter),
    ];
    leaf.prop_recursive(5, 40, 5, |inner| {
        prop_oneof![
            (proptest::sample::select(&FUNCTIONS[..]), inner.clone())
                .prop_map(|(f, t)| Tree::Call(f, Box::new(t))),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| Tree::Atan(Box::new(a), Box::new(b))),
            (
                inner.clone(),
                proptest::collection::vec((proptest::sample::select(&OPERATORS[..]), inner), 1..5)
            )
                .prop_map(|(first, rest)| Tree::Chain(Box::new(first), rest)),
        ]
    })
}

/// The text of a value; with `gaps`, white space where it means nothing.
fn text(tree: &Tree, gaps: &str) -> String {
    match tree {
        Tree::Number(n) => format!("{n}"),
        Tree::Parameter(p) => format!("#{gaps}{p}"),
        Tree::Call(f, t) => format!("{}{gaps}{}", f.to_lowercase(), bracketed(t, gaps)),
        Tree::Atan(a, b) => {
            format!("A{gaps}TAN{}{gaps}/{gaps}{}", bracketed(a, gaps), bracketed(b, gaps))
        }
        Tree::Chain(..) => bracketed(tree, gaps),
    }
}

fn bracketed(tree: &Tree, gaps: &str) -> String {
    match tree {
        Tree::Chain(first, rest) => {
            let rest: String =
                rest.iter().map(|(o, t)| format!("{gaps}{o}{gaps}{}", text(t, gaps))).collect();
            format!("[{gaps}{}{rest}]", text(first, gaps))
        }
        _ => format!("[{gaps}{}]", text(tree, gaps)),
    }
}

/// The value, reckoned by folding the chain level by level; `None` where it does not exist.
fn value(tree: &Tree) -> Option<f64> {
    let result = match tree {
        Tree::Number(n) => *n,
        Tree::Parameter(p) => f64::from(*p) * 1.5 - 2.0,
        Tree::Atan(a, b) => value(a)?.atan2(value(b)?).to_degrees(),
        Tree::Call(f, t) => {
            let x = value(t)?;
            match *f {
                "ABS" => x.abs(),
                "ACOS" => x.acos().to_degrees(),
                "ASIN" => x.asin().to_degrees(),
                "COS" => x.to_radians().cos(),
                "EXP" => x.exp(),
                "FIX" => x.floor(),
                "FUP" => x.ceil(),
                "LN" => x.ln(),
                "ROUND" => x.round(),
                "SIN" => x.to_radians().sin(),
                "SQRT" => x.sqrt(),
                _ => x.to_radians().tan(),
            }
        }
        Tree::Chain(first, rest) => {
            let mut values = vec![value(first)?];
            let mut operators = Vec::new();
            for (operator, tree) in rest {
                operators.push(*operator);
                values.push(value(tree)?);
            }
            for level in [&OPERATORS[..1], &OPERATORS[1..4], &OPERATORS[4..]] {
                let mut at = 0;
                while at < operators.len() {
                    if level.contains(&operators[at]) {
                        let right = values.remove(at + 1);
                        values[at] = operate(operators.remove(at), values[at], right)?;
                    } else {
                        at += 1;
                    }
                }
            }
            values[0]
        }
    };
    result.is_finite().then_some(result)
}

fn operate(operator: &str, a: f64, b: f64) -> Option<f64> {
    let truth = |t: bool| if t { 1.0 } else { 0.0 };
    let result = match operator {
        "**" => a.powf(b),
        "*" => a * b,
        "/" => a / b,
        "MOD" => {
            let rest = a % b;
            if rest < 0.0 { rest + b.abs() } else { rest }
        }
        "+" => a + b,
        "-" => a - b,
        "OR" => truth(a != 0.0 || b != 0.0),
        "XOR" => truth((a == 0.0) != (b == 0.0)),
        _ => truth(a != 0.0 && b != 0.0),
    };
    result.is_finite().then_some(result)
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn values_as_reckoned_from_the_tree(tree in trees(), gaps in "[ \\t]{0,2}") {
        let mut interpreter = Interpreter::new(&ReadOptions::default());
        for p in 1..4 {
            prop_assert!(interpreter.set_parameter(p, f64::from(p) * 1.5 - 2.0));
        }
        let line = format!("#10={}", text(&tree, &gaps));
        let outcome = interpreter.read(line.as_bytes(), &mut Log::default());
        match value(&tree) {
            Some(expected) => {
                prop_assert!(outcome.is_ok(), "{}: {}", line, outcome.unwrap_err());
                let found = interpreter.parameter(10).unwrap();
                prop_assert!((found - expected).abs() <= expected.abs() * 1e-12, "{} = {}, not \
                    {}", line, found, expected);
            }
            None => prop_assert!(outcome.is_err(), "{} = {:?}", line, interpreter.parameter(10)),
        }
    }
}
