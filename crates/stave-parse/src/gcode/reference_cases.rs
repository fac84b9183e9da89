//! The cases of `fixtures/reference/C_gcode_cases.json`: what the report says of single lines and
//! short programs.
//!
//! Source: T. R. Kramer, F. M. Proctor, E. Messina, *The NIST RS274NGC Interpreter - Version 3*,
//! NISTIR 6556 (2000); every case names its section, and whether it is an example of the report's
//! or follows from a rule of it.

#![expect(clippy::cast_precision_loss, reason = "line numbers of short programs")]

use serde_json::Value;
use stave_toolpath::{BeamWord, FeedMode, PathControl, Plane, Position};

use super::canonical::{Call, Gather, Move, finish_call};
use super::execute::Flow;
use super::fault::Stop;
use super::offsets::axes;
use super::*;

const CASES: &str = include_str!("../../../../fixtures/reference/C_gcode_cases.json");

/// What running a case gave.
struct Outcome {
    calls: Vec<Call>,
    moves: Vec<Move>,
    error_on_line: Option<u64>,
    spindle_turning: Vec<bool>,
    interpreter: Interpreter,
}

fn set_up(interpreter: &mut Interpreter, setup: &Value) {
    let mut run = |line: &str| {
        interpreter.line(0, line.as_bytes(), &mut Gather::default()).map(|_| ()).unwrap();
    };
    run("F100");
    let Some(setup) = setup.as_object() else { return };
    for (key, value) in setup {
        match key.as_str() {
            "params" => {
                for (index, value) in value.as_object().unwrap() {
                    run(&format!("#{index}={value}"));
                }
            }
            "units" => run(if value == "inch" { "G20" } else { "G21" }),
            "spindle" => run(if value == "cw" { "M3" } else { "M4" }),
            "speed" => run(&format!("S{value}")),
            "cs1" => run(&format!("G10 L2 P1 X{}", value["x"])),
            "block_delete" | "position" | "tool_length" => {}
            other => panic!("unknown setup {other}"),
        }
    }
    if let Some(position) = setup.get("position") {
        interpreter.set_position(position_of(position, interpreter.position()));
    }
    if let Some(tools) = setup.get("tool_length").and_then(Value::as_object) {
        for (tool, length) in tools {
            interpreter.set_tool_length(tool.parse().unwrap(), length.as_f64().unwrap());
        }
    }
}

fn position_of(value: &Value, mut base: Position) -> Position {
    for (axis, number) in value.as_object().unwrap() {
        *axis_mut(&mut base, axis) = number.as_f64().unwrap();
    }
    base
}

fn axis_mut<'p>(p: &'p mut Position, axis: &str) -> &'p mut f64 {
    match axis {
        "x" => &mut p.x,
        "y" => &mut p.y,
        "z" => &mut p.z,
        "a" => &mut p.a,
        "b" => &mut p.b,
        "c" => &mut p.c,
        other => panic!("unknown axis {other}"),
    }
}

/// Runs a case line by line, to the letter of the report; whole files through the reader.
fn run(case: &Value) -> Outcome {
    let block_delete = case["setup"]["block_delete"].as_bool().unwrap_or(false);
    let options = ReadOptions { strict: true, block_delete };
    let mut interpreter = Interpreter::new(&options);
    set_up(&mut interpreter, &case["setup"]);
    let lines: Vec<&str> =
        case["input"].as_array().unwrap().iter().map(|l| l.as_str().unwrap()).collect();
    let mut outcome = Outcome {
        calls: Vec::new(),
        moves: Vec::new(),
        error_on_line: None,
        spindle_turning: Vec::new(),
        interpreter: interpreter.clone(),
    };
    if case["expect"]["file"].as_bool().unwrap_or(false) {
        let mut gather = Gather::default();
        match interpreter.read(lines.join("\n").as_bytes(), &mut gather) {
            Ok(summary) if summary.end == ProgramEnd::Percent => drop(gather.calls.pop()),
            Ok(_) => {}
            Err(error) => outcome.error_on_line = Some(error.place().unwrap().0),
        }
        outcome.calls =
            gather.calls.into_iter().map(|(c, m)| finish_call(&interpreter.state, c, m)).collect();
        return outcome;
    }
    for (number, line) in (1..).zip(&lines) {
        let before = interpreter.state.clone();
        let mut gather = Gather::default();
        let flow = interpreter.line(number, line.as_bytes(), &mut gather);
        let state = &interpreter.state;
        if state.tool_mm != before.tool_mm {
            gather.call("USE_TOOL_LENGTH_OFFSET", &[("length", state.tool_mm / state.scale)]);
        }
        if state.shift != before.shift {
            let offsets: Vec<f64> =
                state.shift.iter().zip(&state.origin).map(|(s, o)| s + o).collect();
            gather.call(
                "SET_ORIGIN_OFFSETS",
                &[("x", offsets[0]), ("y", offsets[1]), ("z", offsets[2])],
            );
        }
        outcome.moves.append(&mut gather.moves);
        outcome.calls.extend(gather.calls.into_iter().map(|(c, m)| finish_call(state, c, m)));
        outcome.spindle_turning.push(state.modes.spindle_turns());
        match flow {
            Ok(Flow::More) => {}
            Ok(Flow::Ended | Flow::Closed) => break,
            Err(Stop::Fault(_)) => {
                outcome.error_on_line = Some(number);
                break;
            }
            Err(Stop::Sink(_, never)) => match never {},
        }
    }
    outcome.interpreter = interpreter;
    outcome
}

fn near(what: &str, found: f64, wanted: &Value, tolerance: f64) -> Result<(), String> {
    let wanted = wanted.as_f64().unwrap();
    let close = (found - wanted).abs() <= tolerance * wanted.abs().max(1.0);
    if close { Ok(()) } else { Err(format!("{what} is {found}, not {wanted}")) }
}

fn compare_calls(found: &[Call], wanted: &Value) -> Result<(), String> {
    let wanted = wanted.as_array().unwrap();
    let names: Vec<&str> = found.iter().map(|c| c.name).collect();
    let wanted_names: Vec<&str> = wanted.iter().map(|c| c["call"].as_str().unwrap()).collect();
    if names != wanted_names {
        return Err(format!("calls {names:?}, not {wanted_names:?}"));
    }
    for (call, wanted) in found.iter().zip(wanted) {
        let wanted = wanted.as_object().unwrap();
        for (key, value) in wanted.iter().filter(|(k, _)| *k != "call") {
            match (value.as_str(), call.numbers.get(key.as_str())) {
                (Some(text), _) if call.text.as_deref() == Some(text) => {}
                (None, Some(&number)) => {
                    near(&format!("{} of {}", key, call.name), number, value, 1e-9)?;
                }
                _ => return Err(format!("{key} of {} is {:?}", call.name, call.text)),
            }
        }
        // "Unlisted axis arguments keep their current value."
        if let (Some(from), true) = (call.from, call.numbers.contains_key("x")) {
            for (axis, stood) in ["x", "y", "z", "a", "b", "c"].into_iter().zip(axes(&from)) {
                if !wanted.contains_key(axis) {
                    near(axis, call.numbers[axis], &Value::from(stood), 1e-12)?;
                }
            }
        }
    }
    Ok(())
}

fn compare_state(modes: &Modes, wanted: &Value) -> Result<(), String> {
    for (key, value) in wanted.as_object().unwrap() {
        let found = match key.as_str() {
            "plane" => Value::from(match modes.plane {
                Plane::Xy => "XY",
                Plane::Zx => "XZ",
                Plane::Yz => "YZ",
            }),
            "units" => Value::from(if modes.units == Units::Inch { "inch" } else { "mm" }),
            "distance" => Value::from(if modes.distance == Distance::Absolute {
                "absolute"
            } else {
                "incremental"
            }),
            "feed_mode" => Value::from(if modes.feed_mode == FeedMode::PerMinute {
                "per_minute"
            } else {
                "inverse_time"
            }),
            "cs" => Value::from(modes.coordinate_system),
            "path" => Value::from(match modes.path {
                PathControl::Continuous => "continuous",
                PathControl::ExactPath => "exact_path",
                PathControl::ExactStop => "exact_stop",
            }),
            "spindle" => Value::from(match modes.beam {
                None => "stopped",
                Some(BeamWord::M3) => "cw",
                Some(BeamWord::M4) => "ccw",
            }),
            "coolant" => {
                Value::from(if modes.coolant == Coolant::default() { "off" } else { "on" })
            }
            "motion" => Value::from(if modes.motion == Motion::Straight { "G1" } else { "other" }),
            "overrides" => Value::from(modes.overrides),
            "g92_offsets_applied" => Value::from(modes.origin_offsets),
            other => return Err(format!("unknown state {other}")),
        };
        if found != *value {
            return Err(format!("{key} is {found}, not {value}"));
        }
    }
    Ok(())
}

fn compare_position(what: &str, found: Position, wanted: &Value) -> Result<(), String> {
    let mut found = found;
    wanted.as_object().unwrap().iter().try_for_each(|(axis, value)| {
        near(&format!("{what} {axis}"), *axis_mut(&mut found, axis), value, 1e-9)
    })
}

fn compare(case: &Value, outcome: &Outcome) -> Result<(), String> {
    let expect = case["expect"].as_object().unwrap();
    let error_wanted = expect.contains_key("error") || expect.contains_key("error_on_line");
    if outcome.error_on_line.is_some() != error_wanted {
        return Err(format!("error on line {:?}", outcome.error_on_line));
    }
    let tolerance = expect.get("tol").map_or(1e-9, |t| t.as_f64().unwrap());
    let last = outcome.moves.last();
    let arc = || last.and_then(|m| Some((*m, m.arc?))).ok_or("no arc");
    let interpreter = &outcome.interpreter;
    for (key, wanted) in expect {
        match key.as_str() {
            "calls" => compare_calls(&outcome.calls, wanted)?,
            "error" | "file" | "tol" => {}
            // Said by the check above.
            "ok" => assert_eq!(wanted, true),
            "error_on_line" => {
                near("the line", outcome.error_on_line.map_or(0.0, |l| l as f64), wanted, 0.0)?;
            }
            "value_x" => near(key, interpreter.reading().x, wanted, tolerance)?,
            "line_number" => {
                near(key, interpreter.line_number().map_or(-1.0, |n| n as f64), wanted, 0.0)?;
            }
            "params" => {
                for (index, value) in wanted.as_object().unwrap() {
                    let found = interpreter.parameter(index.parse().unwrap()).unwrap();
                    near(&format!("#{index}"), found, value, 1e-9)?;
                }
            }
            "state" => compare_state(interpreter.modes(), wanted)?,
            "radius" => arc().map(|(m, a)| near(key, a.radius_mm(&m.from), wanted, 1e-9))??,
            "sweep_deg" => {
                arc().map(|(_, a)| near(key, a.sweep_rad.to_degrees().abs(), wanted, 1e-9))??;
            }
            "length" => near(key, last.ok_or("no move")?.length_mm(), wanted, 1e-9)?,
            "center" | "printed_center" => {
                let (_, arc) = arc()?;
                let tolerance = if key == "center" { 1e-9 } else { 5e-5 };
                near("centre", arc.centre[0], &wanted[0], tolerance)?;
                near("centre", arc.centre[1], &wanted[1], tolerance)?;
            }
            "time_s" => near(key, last.and_then(Move::time_s).ok_or("no time")?, wanted, 1e-9)?,
            "travel_mm" => {
                near(key, outcome.moves.iter().map(Move::length_mm).sum(), wanted, 1e-9)?;
            }
            "end" => compare_position(key, interpreter.reading(), wanted)?,
            "position_reads" => compare_position(key, interpreter.reading(), wanted)?,
            "machine_end" => compare_position(key, interpreter.position(), wanted)?,
            "spindle_turning_after" => {
                if Value::from(outcome.spindle_turning.clone()) != *wanted {
                    return Err(format!("spindle turning {:?}", outcome.spindle_turning));
                }
            }
            other => return Err(format!("unknown expectation {other}")),
        }
    }
    Ok(())
}

#[test]
fn every_case_of_the_report() {
    let table: Value = serde_json::from_str(CASES).unwrap();
    let cases = table["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 100);
    let failures: Vec<String> = cases
        .iter()
        .filter_map(|case| {
            let why = compare(case, &run(case)).err()?;
            Some(format!(
                "{} (section {}): {why}\n  {}",
                case["id"], case["section"], case["input"]
            ))
        })
        .collect();
    assert!(
        failures.is_empty(),
        "{} of 100 cases failed:\n{}",
        failures.len(),
        failures.join("\n")
    );
}

/// Table 8 of the report: lines with something of nearly every step are carried out in its order,
/// however they are written.
#[test]
fn the_order_of_execution() {
    let mut interpreter = Interpreter::new(&ReadOptions { strict: true, block_delete: false });
    let mut seen = Gather::default();
    interpreter.line(1, b"M1 G1 X1 G90 G64 G4 P2 M8 M3 M6 T3 S5 F100 G94 (c)", &mut seen).unwrap();
    interpreter
        .line(2, b"M0 G28 #5161=0 M49 M5 G18 G20 G55 G91 G98 G40 G49 X1", &mut seen)
        .unwrap();
    let names: Vec<&str> = seen.calls.iter().map(|(call, _)| call.name).collect();
    let expected = [
        "COMMENT",
        "SET_FEED_RATE",
        "SET_SPINDLE_SPEED",
        "SELECT_TOOL",
        "CHANGE_TOOL",
        "START_SPINDLE_CLOCKWISE",
        "FLOOD_ON",
        "DWELL",
        "SET_MOTION_CONTROL_MODE",
        "STRAIGHT_FEED",
        "OPTIONAL_PROGRAM_STOP",
        "STOP_SPINDLE_TURNING",
        "DISABLE_FEED_OVERRIDE",
        "STRAIGHT_TRAVERSE",
        "STRAIGHT_TRAVERSE",
        "PROGRAM_STOP",
    ];
    assert_eq!(names, expected);
    // Units and distance mode came before the way of G28: an inch on from 1 mm, then home.
    assert_eq!(seen.moves.iter().map(|m| m.to.x).collect::<Vec<_>>(), [1.0, 26.4, 0.0]);
}
