//! A reader of plain G-code, enough for the fixtures and for what Stave writes.
//!
//! It knows nothing of walls and shares no code with the crates. Lengths become mm, rotary words
//! stay as written.

use std::collections::HashMap;

/// The six axes, in the order X Y Z A B C.
pub type Axes = [f64; 6];

const LETTERS: [char; 6] = ['X', 'Y', 'Z', 'A', 'B', 'C'];

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Kind {
    Travel,
    Dark,
    Burn,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rate {
    /// mm (or degrees) per minute.
    PerMinute(f64),
    /// One over minutes.
    Inverse(f64),
}

/// A circle in X and Y: where its centre is, and the angle, counter-clockwise positive.
#[derive(Clone, Copy, Debug)]
pub struct Circle {
    pub centre: [f64; 2],
    pub sweep: f64,
}

#[derive(Clone, Copy, Debug)]
pub struct Move {
    pub kind: Kind,
    pub from: Axes,
    pub to: Axes,
    pub circle: Option<Circle>,
    pub rate: Option<Rate>,
    pub power: Option<f64>,
    /// 3 or 4 where the beam is armed.
    pub beam: Option<u8>,
    pub line: usize,
}

impl Move {
    /// The point of X and Y at fraction `t`.
    pub fn point(&self, t: f64) -> [f64; 2] {
        let Some(circle) = self.circle else {
            return [lerp(self.from[0], self.to[0], t), lerp(self.from[1], self.to[1], t)];
        };
        let (x0, y0) = (self.from[0] - circle.centre[0], self.from[1] - circle.centre[1]);
        let (x1, y1) = (self.to[0] - circle.centre[0], self.to[1] - circle.centre[1]);
        let radius = lerp(x0.hypot(y0), x1.hypot(y1), t);
        let angle = y0.atan2(x0) + circle.sweep * t;
        [circle.centre[0] + radius * angle.cos(), circle.centre[1] + radius * angle.sin()]
    }

    /// The length in X and Y, mm.
    pub fn length(&self) -> f64 {
        match self.circle {
            None => (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1]),
            Some(circle) => {
                let radius =
                    (self.from[0] - circle.centre[0]).hypot(self.from[1] - circle.centre[1]);
                radius * circle.sweep.abs()
            }
        }
    }

    /// The speed in X and Y that the program asks for, mm/s.
    pub fn speed(&self) -> Option<f64> {
        Some(match self.rate? {
            Rate::PerMinute(f) => f / 60.0,
            Rate::Inverse(f) => self.length() * f / 60.0,
        })
    }
}

pub fn lerp(a: f64, b: f64, t: f64) -> f64 {
    a + (b - a) * t
}

/// What a program does, line by line.
#[derive(Debug, Default)]
pub struct Program {
    /// Moves that go somewhere; those that end where they start are left out.
    pub moves: Vec<Move>,
    /// Everything between brackets or after a semicolon.
    pub comments: Vec<String>,
    /// True once M2 or M30 was met.
    pub ended: bool,
    /// The beam at the end.
    pub beam: Option<u8>,
}

struct State {
    motion: u8,
    inches: bool,
    relative: bool,
    inverse: bool,
    feed: Option<f64>,
    power: Option<f64>,
    beam: Option<u8>,
    system: usize,
    systems: [Axes; 10],
    shift: Axes,
    /// Machine coordinates.
    at: Axes,
}

/// Reads `text`; panics at what it does not know, so that nothing is skipped without being noticed.
pub fn read(text: &str) -> Program {
    let mut program = Program::default();
    let mut state = State {
        motion: 1,
        inches: false,
        relative: false,
        inverse: false,
        feed: None,
        power: None,
        beam: None,
        system: 1,
        systems: [[0.0; 6]; 10],
        shift: [0.0; 6],
        at: [0.0; 6],
    };
    for (index, line) in text.lines().enumerate() {
        if line.starts_with('%') || line.starts_with('$') {
            continue;
        }
        let words = words(line, &mut program.comments);
        state.line(&words, index + 1, &mut program);
        if program.ended {
            break;
        }
    }
    program.beam = state.beam;
    program
}

fn words(line: &str, comments: &mut Vec<String>) -> Vec<(char, f64)> {
    let mut code = String::new();
    let mut rest = line;
    while let Some(at) = rest.find(['(', ';']) {
        code.push_str(&rest[..at]);
        if rest[at..].starts_with(';') {
            comments.push(rest[at + 1..].to_owned());
            rest = "";
        } else {
            let end = at + rest[at..].find(')').unwrap_or_else(|| panic!("no ) in {line}"));
            comments.push(rest[at + 1..end].to_owned());
            rest = &rest[end + 1..];
        }
    }
    code.push_str(rest);
    let code: String =
        code.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_uppercase()).collect();
    let mut found = Vec::new();
    let mut tail = code.as_str();
    while let Some(letter) = tail.chars().next() {
        assert!(letter.is_ascii_uppercase(), "what is {tail:?} in {line:?}");
        let end = tail[1..].find(|c: char| c.is_ascii_uppercase()).map_or(tail.len(), |at| at + 1);
        let value =
            tail[1..end].parse().unwrap_or_else(|_| panic!("no number after {letter} in {line:?}"));
        found.push((letter, value));
        tail = &tail[end..];
    }
    found
}

impl State {
    fn line(&mut self, words: &[(char, f64)], line: usize, program: &mut Program) {
        let value = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
        let codes = |letter: char| {
            words.iter().filter(move |w| w.0 == letter).map(|w| (w.1 * 10.0).round() as i64)
        };
        for (letter, _) in words {
            assert!("GMXYZABCIJRFSNPLT".contains(*letter), "word {letter} in line {line}");
        }
        // The order of RS274/NGC, table 8.
        for g in codes('G') {
            match g {
                930 => self.inverse = true,
                940 => self.inverse = false,
                _ => {}
            }
        }
        let unit = |inches: bool| if inches { 25.4 } else { 1.0 };
        let line_rate = value('F').map(|f| if self.inverse { f } else { f * unit(self.inches) });
        if !self.inverse && line_rate.is_some() {
            self.feed = line_rate;
        }
        self.power = value('S').or(self.power);
        let mut end = false;
        for m in codes('M') {
            match m {
                30 | 40 => self.beam = Some((m / 10) as u8),
                50 => self.beam = None,
                20 | 300 => end = true,
                60 | 70 | 80 | 90 => {}
                _ => panic!("M{} in line {line}", m / 10),
            }
        }
        let mut without_motion = false;
        let mut level_two = false;
        let mut shift = false;
        for g in codes('G') {
            match g {
                200 => self.inches = true,
                210 => self.inches = false,
                540..=590 if g % 10 == 0 => self.system = (g / 10 - 53) as usize,
                900 => self.relative = false,
                910 => self.relative = true,
                0 | 10 | 20 | 30 => self.motion = (g / 10) as u8,
                40 => without_motion = true,
                100 => level_two = true,
                920 => shift = true,
                921 => self.shift = [0.0; 6],
                170 | 400 | 490 | 610 | 640 | 800 | 930 | 940 => {}
                _ => panic!("G{} in line {line}", g as f64 / 10.0),
            }
        }
        let unit = unit(self.inches);
        let given: HashMap<usize, f64> = LETTERS
            .iter()
            .enumerate()
            .filter_map(|(axis, letter)| {
                value(*letter).map(|v| (axis, if axis < 3 { v * unit } else { v }))
            })
            .collect();
        if level_two {
            assert_eq!(value('L'), Some(2.0), "line {line}");
            let system = value('P').unwrap() as usize;
            for (axis, v) in given {
                self.systems[system][axis] = v;
            }
        } else if shift {
            for (axis, v) in given {
                self.shift[axis] = self.at[axis] - self.systems[self.system][axis] - v;
            }
        } else if !given.is_empty() && !without_motion {
            self.move_to(
                &given,
                [value('I'), value('J')],
                value('R'),
                line_rate,
                line,
                program,
                unit,
            );
        }
        if end {
            self.beam = None;
            program.ended = true;
        }
    }

    #[expect(clippy::too_many_arguments, reason = "a line's words, each by itself")]
    fn move_to(
        &mut self,
        given: &HashMap<usize, f64>,
        offsets: [Option<f64>; 2],
        radius: Option<f64>,
        line_rate: Option<f64>,
        line: usize,
        program: &mut Program,
        unit: f64,
    ) {
        let from = self.at;
        let mut to = from;
        for (axis, v) in given {
            to[*axis] = if self.relative {
                from[*axis] + v
            } else {
                v + self.systems[self.system][*axis] + self.shift[*axis]
            };
        }
        let burning = self.beam.is_some() && self.power.is_none_or(|s| s > 0.0);
        let kind = match self.motion {
            0 => Kind::Travel,
            _ if burning => Kind::Burn,
            _ => Kind::Dark,
        };
        let circle = (self.motion >= 2).then(|| match radius {
            Some(r) => by_radius(from, to, r * unit, self.motion == 2),
            None => by_centre(from, to, offsets.map(|o| o.unwrap_or(0.0) * unit), self.motion == 2),
        });
        let rate = if self.motion == 0 {
            None
        } else if self.inverse {
            Some(Rate::Inverse(line_rate.unwrap_or_else(|| panic!("no F in line {line}"))))
        } else {
            self.feed.map(Rate::PerMinute)
        };
        self.at = to;
        if from != to || circle.is_some() {
            program.moves.push(Move {
                kind,
                from,
                to,
                circle,
                rate,
                power: self.power,
                beam: self.beam,
                line,
            });
        }
    }
}

fn by_centre(from: Axes, to: Axes, offset: [f64; 2], clockwise: bool) -> Circle {
    let centre = [from[0] + offset[0], from[1] + offset[1]];
    let start = (from[1] - centre[1]).atan2(from[0] - centre[0]);
    let end = (to[1] - centre[1]).atan2(to[0] - centre[0]);
    Circle { centre, sweep: sweep(start, end, clockwise) }
}

fn by_radius(from: Axes, to: Axes, radius: f64, clockwise: bool) -> Circle {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let half = dx.hypot(dy) / 2.0;
    let away = (radius * radius - half * half).max(0.0).sqrt();
    // The centre of the short way round lies left of the chord for a counter-clockwise arc, right
    // for a clockwise one.
    let side = if clockwise == (radius < 0.0) { 1.0 } else { -1.0 };
    let centre = [
        (from[0] + to[0]) / 2.0 - side * away * dy / (2.0 * half),
        (from[1] + to[1]) / 2.0 + side * away * dx / (2.0 * half),
    ];
    let start = (from[1] - centre[1]).atan2(from[0] - centre[0]);
    let end = (to[1] - centre[1]).atan2(to[0] - centre[0]);
    Circle { centre, sweep: sweep(start, end, clockwise) }
}

fn sweep(start: f64, end: f64, clockwise: bool) -> f64 {
    let turn = std::f64::consts::TAU;
    let mut sweep = (end - start).rem_euclid(turn);
    if sweep < 1e-9 {
        sweep = turn;
    }
    if !clockwise {
        return sweep;
    }
    if turn - sweep < 1e-9 { -turn } else { sweep - turn }
}

#[test]
fn arcs_are_read_as_in_the_report() {
    // NISTIR 6556, 3.5.3.2 and table 10.
    let program = read("G1 X7 Y7 F1\nG17 G2 X10 Y16 I3 J4\n");
    let arc = program.moves[1];
    assert!((arc.circle.unwrap().sweep.to_degrees() + 143.130_102).abs() < 1e-6);
    assert!((arc.length() - 12.490_458).abs() < 1e-6);
    let program = read("G1 X3 Y1 F1\nG2 X0 Y1 R7.01\n");
    let centre = program.moves[1].circle.unwrap().centre;
    assert!((centre[0] - 1.5).abs() < 1e-9 && (centre[1] - 7.847_635).abs() < 1e-6, "{centre:?}");
    let long = read("G2 X10 Y0 R-10 F1\n").moves[0];
    assert!((long.length() - 52.359_878).abs() < 1e-6, "{}", long.length());
    assert!(long.point(0.5)[1] > 8.0);
}

#[test]
fn shifts_add_up() {
    // NISTIR 6556, 3.5.18: at X4, G92 X7 gives -3.
    let program = read("G10 L2 P2 X1\nG0 X4\nG92 X7\nG0 X8\nG55 X8\nG92.1\nG91 X1 Y-.5\n");
    let ends: Vec<_> = program.moves.iter().map(|m| m.to[0]).collect();
    assert_eq!(ends, [4.0, 5.0, 6.0, 7.0]);
}
