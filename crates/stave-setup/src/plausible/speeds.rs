//! Speeds and accelerations that no axis has, or at which nothing is engraved. What is common is
//! common practice, no source.

use super::{SLIP, Typed};
use crate::bounds::plain;
use crate::{AxisLimits, Drive, Fault, Machine, RotaryWord};

/// A straight axis faster than this, mm/s, is more likely given per minute.
const FASTEST_MM_PER_S: f64 = 3000.0;
/// The focus, which goes by a screw, faster than this, mm/s, likewise.
const FASTEST_FOCUS_MM_PER_S: f64 = 250.0;
/// A rotary faster than this, turns/s, is more likely given per minute.
const FASTEST_TURNS_PER_S: f64 = 30.0;
/// A burn slower than this, mm/s, is more likely given in metres.
const SLOWEST_MM_PER_S: f64 = 0.5;
/// A straight axis, mm/s², and a rotary, turns/s², that come to their speed faster than anything
/// with a motor.
const SUDDEN_MM_PER_S2: f64 = 100_000.0;
const SUDDEN_TURNS_PER_S2: f64 = 1000.0;
/// An axis takes no longer, s, to come to its speed, nor to its acceleration.
const LONGEST_START_S: f64 = 20.0;

/// What of a machine's axes can hardly be meant.
pub(super) fn of_axes(machine: &Machine, typed: Typed) -> Vec<Fault> {
    // Where the rotary is driven as Y, the machine's Y is the rotary.
    let y = (machine.rotary.word != RotaryWord::Y).then_some(&machine.y);
    let z = machine.z.as_ref().map(|z| &z.limits);
    let straight = [("x", Some(&machine.x)), ("y", y), ("z", z)]
        .into_iter()
        .filter_map(|(name, limits)| Some((name, limits?)));
    let mut doubts = Vec::new();
    for (name, limits) in straight.clone() {
        let fastest = if name == "z" { FASTEST_FOCUS_MM_PER_S } else { FASTEST_MM_PER_S };
        doubts.extend(axis_too_fast(name, limits.speed, fastest, typed));
        doubts.extend(sudden(name, limits.acceleration, SUDDEN_MM_PER_S2, typed));
    }
    let (turning, per_turn) = (&machine.rotary.limits, machine.rotary.units_per_turn);
    // Rollers turn the work by lengths of its surface, in mm whatever the file's unit.
    let mm = Typed::in_file(false);
    let metres = ("metres", 1000.0);
    if machine.rotary.drive == Drive::Roller {
        doubts.extend(axis_too_fast("rotary", turning.speed, FASTEST_MM_PER_S, mm));
        doubts.extend(slow("rotary", turning, metres, mm));
    } else if turning.speed > FASTEST_TURNS_PER_S * per_turn {
        let told = format!("{} units a second", plain(turning.speed));
        let cause = format!("if it is per minute, write {}", plain(turning.speed / 60.0));
        doubts.push(fast_axis("rotary", &told, &cause));
    }
    doubts.extend(straight.filter_map(|(name, limits)| slow(name, limits, metres, typed)));
    if machine.rotary.drive == Drive::Chuck {
        let most = SUDDEN_TURNS_PER_S2 * per_turn;
        doubts.extend(sudden("rotary", turning.acceleration, most, mm));
        doubts.extend(slow("rotary", turning, ("turns", per_turn), mm));
    }
    doubts
}

/// What a speed is more likely: per minute, or one in mm that is taken for inches.
fn per_minute(speed: f64, fastest: f64, typed: Typed) -> String {
    let minute = format!("if it is per minute, write {}", typed.figure(speed / 60.0));
    match typed.is_inches() && typed.number(speed) <= fastest {
        true => format!("{minute}; if its file is in mm, its `units` must be \"mm\""),
        false => minute,
    }
}

/// A speed on the wall that no straight axis has, or at which nothing is engraved.
pub(super) fn no_such_speed(
    what: &str,
    speed_mm_per_s: Option<f64>,
    typed: Typed,
) -> Option<Fault> {
    let speed = speed_mm_per_s?;
    if speed < SLOWEST_MM_PER_S {
        let message = format!(
            "{what} is {}, slower than anything is engraved: if it is in metres, write {}",
            typed.told(speed, " a second"),
            typed.figure(1000.0 * speed)
        );
        return Some(Fault::new(None, message));
    }
    if speed <= FASTEST_MM_PER_S {
        return None;
    }
    let message = format!(
        "{what} is {}, faster than an axis burns: {}",
        typed.told(speed, " a second"),
        per_minute(speed, FASTEST_MM_PER_S, typed)
    );
    Some(Fault::new(None, message))
}

/// An axis that takes far too long to come to its speed, or to its acceleration; `other` is what it
/// may be given in instead, and how much of its own that is.
fn slow(axis: &str, limits: &AxisLimits, other: (&str, f64), typed: Typed) -> Option<Fault> {
    let [speed, acceleration] = [limits.speed, limits.acceleration].map(|mm| typed.number(mm));
    let jerk = limits.jerk.map(|mm| typed.number(mm));
    let message = if speed > LONGEST_START_S * acceleration {
        format!(
            "`acceleration` of [{axis}] is {}, by which it takes {} s to come to its `speed` of \
             {}: if it is in {}, write {}",
            plain(acceleration),
            plain((speed / acceleration).round()),
            plain(speed),
            other.0,
            typed.figure(other.1 * acceleration)
        )
    } else {
        let jerk = jerk.filter(|jerk| acceleration > LONGEST_START_S * jerk)?;
        format!(
            "`jerk` of [{axis}] is {} a second cubed, by which it takes {} s to come to its \
             `acceleration` of {}: leave it out where the controller has none",
            plain(jerk),
            plain((acceleration / jerk).round()),
            plain(acceleration)
        )
    };
    Some(Fault::new(None, message))
}

/// An axis that comes to its speed as no motor takes it there: what its burns run up by is too
/// short, and what is timed too soon.
fn sudden(axis: &str, acceleration: f64, most: f64, typed: Typed) -> Option<Fault> {
    (acceleration > most).then(|| {
        let number = typed.number(acceleration);
        let cause = match typed.is_inches() && number <= most {
            true => "if its file is in mm, its `units` must be \"mm\"".to_owned(),
            false => SLIP.to_owned(),
        };
        let message = format!(
            "`acceleration` of [{axis}] is {} a second squared, more than any such axis has: \
             {cause}",
            plain(number)
        );
        Fault::new(None, message)
    })
}

/// A straight axis that is faster than such an axis is.
fn axis_too_fast(axis: &str, speed: f64, fastest: f64, typed: Typed) -> Option<Fault> {
    (speed > fastest).then(|| {
        let cause = per_minute(speed, fastest, typed);
        fast_axis(axis, &typed.told(speed, " a second"), &cause)
    })
}

fn fast_axis(axis: &str, told: &str, cause: &str) -> Fault {
    let message = format!("`speed` of [{axis}] is {told}, faster than such an axis is: {cause}");
    Fault::new(None, message)
}
