//! Which marks a test has, and what each is made of.

use stave_setup::{Drive, SPOT_GROWTH, Setup};
use stave_toolpath::number::fixed;

use super::SwatchTest;
use crate::error::Error;
use crate::swatch::{SwatchOptions, along_axis, along_letter, each, label, setting, value};

/// Ticks are so long, mm, and so far apart where they are to meet: what burns twice shows.
const TICK_MM: f64 = 3.0;
const APART_MM: f64 = 0.2;
/// Lines of a block, and how far apart they lie, mm.
const BLOCK_LINES: u32 = 3;
const BLOCK_SPACING_MM: f64 = 0.15;
/// The marks to either side of the present value, and the greatest share that they try.
const EITHER_SIDE: i32 = 6;
const NEAR_SHARE: f64 = 0.012;
/// The same for ticks so many turns apart, times the turns.
const FAR_SHARE: f64 = 0.015;
pub(super) const FAR_TURNS: u32 = 5;
/// The greatest play tried, as a share of a turn, and how many steps lead there.
pub(super) const MOST_PLAY: f64 = 1.0 / 360.0;
const PLAY_STEPS: u32 = 10;
/// The greatest lag tried, s, and how many steps lead there.
const MOST_LAG_S: f64 = 0.0015;
const LAG_STEPS: u32 = 15;
/// Steps of the ladder to either side, and how far apart they are where no depth of focus is
/// known, mm.
const LADDER_STEPS: i32 = 3;
const LADDER_MM: f64 = 1.0;
/// The most steps of a wedge.
const MOST_WEDGE: u32 = 64;

/// From which side the rotary comes to a tick.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Side {
    Below,
    Above,
}

/// A line along the meridian at constant turn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tick {
    /// Its ends along the meridian from the mark's middle, in the order they burn, mm.
    pub(super) ends_mm: (f64, f64),
    /// Around the wall from there, mm.
    pub(super) around_mm: f64,
    /// By how much more the rotary's word stands, units of it.
    pub(super) turned: f64,
    pub(super) side: Side,
}

/// A mark.
#[derive(Clone, Debug)]
pub(super) struct Mark {
    pub(super) value: f64,
    pub(super) label: String,
    pub(super) burns: Burns,
    /// Height of the head above focus, mm.
    pub(super) height_mm: f64,
    /// Percent and mm/s.
    pub(super) how: (f64, f64),
}

/// What a mark burns.
#[derive(Clone, Debug)]
pub(super) enum Burns {
    Ticks(Vec<Tick>),
    /// A patch so large, its lines so far apart, mm.
    Patch(f64, f64),
}

/// The marks of a key.
#[derive(Clone, Debug)]
pub(super) struct Group {
    /// What it measures and in which unit, in the lines in which that is burned beside it.
    pub(super) title: Vec<String>,
    pub(super) key: &'static str,
    pub(super) unit: &'static str,
    pub(super) speed_mm_per_s: f64,
    pub(super) marks: Vec<Mark>,
    /// The room of a mark, mm: around, and along without its label.
    pub(super) around_mm: f64,
    pub(super) along_mm: f64,
}

/// The groups of a test; ticks of a turn's units lie at most so many turns apart.
pub(super) fn groups(
    setup: &Setup,
    test: SwatchTest,
    turns: u32,
    options: &SwatchOptions,
) -> Result<Vec<Group>, Error> {
    let area = setup.machine.area.map(|area| (area.power_percent, area.speed_mm_per_s));
    let how = label(setup, options, area)?;
    match test {
        SwatchTest::Turn => Ok(turn(setup, turns, how)),
        SwatchTest::Lag => lag(setup, options, area.map_or(how.0, |area| area.0)),
        SwatchTest::FocusLadder => Ok(vec![ladder(setup, how)]),
        SwatchTest::Wedge(steps) => wedge(setup, options, steps).map(|group| vec![group]),
    }
}

/// A value with so many figures as its label has, which is what it is.
fn labelled(value: f64, decimals: u32) -> (f64, String) {
    let text = fixed(value, decimals);
    (text.parse().unwrap_or(value), text)
}

/// Decimals with which five figures of a value are written.
fn decimals_of(value: f64) -> u32 {
    (0_u32..6).find(|decimals| value * 10_f64.powi(decimals.cast_signed()) >= 1e4).unwrap_or(6)
}

fn turn(setup: &Setup, turns: u32, how: (f64, f64)) -> Vec<Group> {
    let rotary = &setup.machine.rotary;
    let per_turn = setup.rotary_units_per_turn();
    let (key, unit, title, now) = match rotary.drive {
        Drive::Chuck => {
            ("rotary.units_per_turn", "rotary units", "units per turn", rotary.units_per_turn)
        }
        Drive::Roller => ("rotary.scale", "words per mm", "scale, words per mm", rotary.scale),
    };
    let decimals = decimals_of(now);
    let two = |first: Tick, turned: f64, side: Side| {
        let far = (TICK_MM + APART_MM, APART_MM);
        let second = Tick { ends_mm: (-far.0, -far.1), around_mm: 0.0, turned, side };
        Burns::Ticks(vec![first, second])
    };
    let first = Tick {
        ends_mm: (APART_MM, TICK_MM + APART_MM),
        around_mm: 0.0,
        turned: 0.0,
        side: Side::Below,
    };
    let along_mm = 2.0 * (TICK_MM + APART_MM);
    let mm_per_unit = std::f64::consts::TAU * setup.blank.wall.largest_radius_mm() / per_turn;
    let of_turns = |share: f64, turns: u32| {
        let apart = format!("{turns} turn{} apart", if turns == 1 { "" } else { "s" });
        let title = vec![format!("{title},"), apart];
        let turns = f64::from(turns);
        let mark = |step: i32| {
            let part = f64::from(step) / f64::from(EITHER_SIDE);
            let (value, label) = labelled(now * (1.0 + share * part), decimals);
            let burns = two(first, turns * per_turn * value / now, Side::Below);
            Mark { value, label, burns, height_mm: 0.0, how }
        };
        Group {
            title,
            key,
            unit,
            speed_mm_per_s: how.1,
            marks: (-EITHER_SIDE..=EITHER_SIDE).map(mark).collect(),
            around_mm: 1.0 + 2.0 * share * turns * per_turn * mm_per_unit,
            along_mm,
        }
    };
    let most = MOST_PLAY * per_turn;
    let decimals = decimals_of(most).saturating_sub(1);
    let play = |step: u32| {
        let part = f64::from(step) / f64::from(PLAY_STEPS);
        let (value, label) = labelled(most * part, decimals);
        // A falling word stands lower by the play where the work stands the same.
        let burns = two(first, -value, Side::Above);
        Mark { value, label, burns, height_mm: 0.0, how }
    };
    let backlash = Group {
        title: vec!["backlash, units".into()],
        key: "rotary.backlash",
        unit: "rotary units",
        speed_mm_per_s: how.1,
        marks: (0..=PLAY_STEPS).map(play).collect(),
        around_mm: 1.0 + 2.0 * most * mm_per_unit,
        along_mm,
    };
    let near = of_turns(NEAR_SHARE, 1);
    if turns < 2 {
        return vec![near, backlash];
    }
    vec![near, of_turns(FAR_SHARE / f64::from(turns), turns), backlash]
}

fn lag(setup: &Setup, options: &SwatchOptions, power: f64) -> Result<Vec<Group>, Error> {
    let area = setup.machine.area.map(|area| area.speed_mm_per_s);
    let axis = along_axis(setup).speed;
    let fastest = area.unwrap_or(200.0).min(axis);
    let speeds = match options.speeds_mm_per_s.as_slice() {
        [] => vec![0.5 * fastest, fastest],
        given => given.to_vec(),
    };
    each("speeds", "mm/s, more than 0 and at most 100000", &speeds, |speed| {
        speed > 0.0 && speed <= 1e5
    })?;
    if let Some(speed) = speeds.iter().find(|speed| **speed > axis) {
        return Err(Error::TooFast {
            speed_mm_per_s: *speed,
            axis: along_letter(setup),
            machine: setup.machine.name.clone(),
            most_mm_per_s: axis,
        });
    }
    let grow = speeds.windows(2).all(|two| two.first() < two.last());
    if speeds.len() < 2 || !grow {
        return Err(value("speeds", "must be two or more, growing, such as 100,250"));
    }
    let group = |speed: &f64| {
        let mark = |step: u32| {
            let (value, label) = labelled(MOST_LAG_S * f64::from(step) / f64::from(LAG_STEPS), 4);
            let mut ticks = Vec::new();
            for line in 0..2 * BLOCK_LINES {
                let back = line >= BLOCK_LINES;
                let middle = f64::from(BLOCK_LINES) - 0.5;
                let around_mm = BLOCK_SPACING_MM * (f64::from(line) - middle);
                // What burns late is asked for early.
                let early = speed * value;
                let ends_mm = if back {
                    (TICK_MM + early, -TICK_MM + early)
                } else {
                    (-TICK_MM - early, TICK_MM - early)
                };
                ticks.push(Tick { ends_mm, around_mm, turned: 0.0, side: Side::Below });
            }
            Mark { value, label, burns: Burns::Ticks(ticks), height_mm: 0.0, how: (power, *speed) }
        };
        Group {
            title: vec!["lag, s,".into(), format!("at {} mm/s", fixed(*speed, 2))],
            key: "beam.lag",
            unit: "s",
            speed_mm_per_s: *speed,
            marks: (0..=LAG_STEPS).map(mark).collect(),
            around_mm: 2.0 + BLOCK_SPACING_MM * 2.0 * f64::from(BLOCK_LINES),
            along_mm: 2.0 * (TICK_MM + speed * MOST_LAG_S),
        }
    };
    Ok(speeds.iter().map(group).collect())
}

fn ladder(setup: &Setup, how: (f64, f64)) -> Group {
    let lens = setup.job.lens.as_ref();
    let half =
        lens.and_then(|lens| lens.half_depth_of_focus_mm(setup.machine.beam.as_ref(), SPOT_GROWTH));
    let step_mm = half.map_or(LADDER_MM, |half| (half * 10.0).round().max(2.0) / 10.0);
    let mark = |step: i32| {
        let (value, label) = labelled(step_mm * f64::from(step), 2);
        let ends_mm = (-TICK_MM, TICK_MM);
        let tick = Tick { ends_mm, around_mm: 0.0, turned: 0.0, side: Side::Below };
        Mark { value, label, burns: Burns::Ticks(vec![tick]), height_mm: value, how }
    };
    Group {
        title: vec!["head above".into(), "focus, mm".into()],
        key: "focus",
        unit: "mm",
        speed_mm_per_s: how.1,
        marks: (-LADDER_STEPS..=LADDER_STEPS).map(mark).collect(),
        around_mm: 3.0,
        along_mm: 2.0 * TICK_MM,
    }
}

fn wedge(setup: &Setup, options: &SwatchOptions, steps: u32) -> Result<Group, Error> {
    if !(2..=MOST_WEDGE).contains(&steps) {
        return Err(value("wedge", &format!("must be from 2 to {MOST_WEDGE} steps, such as 12")));
    }
    let machine = &setup.machine;
    let picture = machine.picture.as_ref();
    let area = machine.area;
    let Some((power, speed, spacing)) = picture
        .map(|one| (one.power_percent, one.speed_mm_per_s, one.line_spacing_mm))
        .or(area.map(|one| (one.power_percent, one.speed_mm_per_s, one.line_spacing_mm)))
    else {
        return Err(setting(
            "--wedge: the machine file has no [picture] and no [area] to take power, speed and \
             spacing of lines from",
        ));
    };
    let one = |name: &'static str, given: &[f64], or: f64| match *given {
        [] => Ok(or),
        [one] if one > 0.0 && one <= 1e5 => Ok(one),
        _ => Err(value(name, "a wedge takes a single one, more than 0")),
    };
    let speed = one("speeds", &options.speeds_mm_per_s, speed)?;
    let spacing = one("spacings", &options.spacings_mm, spacing)?;
    let most = one("powers", &options.powers_percent, power)?;
    let least = machine.controller.least_power_percent;
    if most > 100.0 || least >= most {
        return Err(value("powers", "must be at most 100 percent, and more than `least_power`"));
    }
    let axis = along_axis(setup).speed;
    if speed > axis {
        return Err(Error::TooFast {
            speed_mm_per_s: speed,
            axis: along_letter(setup),
            machine: machine.name.clone(),
            most_mm_per_s: axis,
        });
    }
    let size = options.size_mm;
    if !(size > 0.0 && size <= 100.0 && spacing <= size) {
        return Err(value(
            "size",
            "must be a length, at least the spacing of lines, at most 100 mm",
        ));
    }
    let mark = |step: u32| {
        // Nothing marks at `least_power` itself.
        let part = f64::from(step + 1) / f64::from(steps);
        let (value, label) = labelled(least + (most - least) * part, 2);
        Mark {
            value,
            label,
            burns: Burns::Patch(size, spacing),
            height_mm: 0.0,
            how: (value, speed),
        }
    };
    Ok(Group {
        title: vec!["power, %".into()],
        key: "picture.tone_curve",
        unit: "percent",
        speed_mm_per_s: speed,
        marks: (0..steps).map(mark).collect(),
        around_mm: size,
        along_mm: size,
    })
}

/// How a test is read whose ticks lie at most so many turns apart.
pub(super) fn notes(setup: &Setup, test: SwatchTest, turns: u32) -> Vec<String> {
    let notes: &[&str] = match test {
        SwatchTest::Turn => return notes_on_turn(setup.machine.rotary.drive, turns),
        SwatchTest::Lag => &[
            "in each row find the mark whose two blocks end at one line: its label is the lag in \
             seconds at the row's speed",
            "lag = [[speed, seconds], …], one pair a row, goes into [beam]",
        ],
        SwatchTest::FocusLadder => &[
            "find the thinnest line: its label says by how many mm the head must stand higher than \
             where you had focused",
            "its width is the lens's `spot`; half the stretch over which lines are at most a tenth \
             wider is its `depth_of_focus`",
        ],
        SwatchTest::Wedge(_) => {
            &["say of each patch how dark it is, 0 for bare and 1 for the darkest: tone_curve = \
             [[power, darkness], …], both growing, goes into [picture] or an operation"]
        }
    };
    notes.iter().map(|note| (*note).to_owned()).collect()
}

fn notes_on_turn(drive: Drive, turns: u32) -> Vec<String> {
    let key = match drive {
        Drive::Chuck => "units_per_turn",
        Drive::Roller => "scale",
    };
    let first = format!("first row: `{key}`, true to 0.1 %");
    let rows = match turns {
        0 | 1 => [
            format!("{first}; the rotary's `min` and `max` leave no room for turns further apart"),
            "second row: `backlash`".into(),
        ],
        _ => [
            format!(
                "{first}; with that in the file burn it again and read the second row, whose \
                 ticks are {turns} turns apart"
            ),
            "third row: `backlash`".into(),
        ],
    };
    let read = "in each row find the mark whose two ticks meet: its label is the value";
    [read.to_owned()].into_iter().chain(rows).collect()
}
