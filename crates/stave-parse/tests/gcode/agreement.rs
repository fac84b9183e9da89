//! The reader against an independent parser, the `gcode` crate, on the plain programs among the
//! fixtures.
//!
//! That crate reads syntax only, numbers as `f32`; a small tracker of absolute and relative ends in
//! mm or inches makes moves of it.

use std::path::PathBuf;

use gcode::{Code, Value};
use stave_parse::gcode::{Sink, read};
use stave_toolpath::Event;

use crate::log::{LENIENT, Never};

/// Motion, end in mm, and what of it can be told apart: 0 travel, 1 straight, 2 clockwise, 3
/// counter-clockwise.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Move(u32, f64, f64);

#[derive(Default)]
struct Ends {
    moves: Vec<Move>,
    powers: Vec<f64>,
}

impl Sink for Ends {
    type Error = Never;

    fn event(&mut self, _: u64, event: &Event<'_>) -> Result<(), Never> {
        match *event {
            Event::Travel { to, .. } => self.moves.push(Move(0, to.x, to.y)),
            Event::Straight { to, .. } => self.moves.push(Move(1, to.x, to.y)),
            Event::Arc { to, arc, .. } => {
                self.moves.push(Move(if arc.sweep_rad < 0.0 { 2 } else { 3 }, to.x, to.y));
            }
            Event::Power { s } => self.powers.push(s),
            _ => {}
        }
        Ok(())
    }
}

/// Moves and S words by the other parser.
fn by_the_other(text: &str) -> Ends {
    let text: String = text.lines().filter(|l| l.trim() != "%").map(|l| format!("{l}\n")).collect();
    let program = gcode::parse(&text).unwrap_or_else(|d| panic!("{d:?}"));
    let mut ends = Ends::default();
    let (mut motion, mut x, mut y, mut scale, mut relative) = (1, 0.0, 0.0, 1.0, false);
    for block in &program.blocks {
        let mut words: Vec<(char, f64)> = Vec::new();
        let mut word = |letter: char, value: &Value| match value {
            Value::Literal(v) => words.push((letter.to_ascii_uppercase(), f64::from(*v))),
            other => panic!("{other:?} in a plain program"),
        };
        for code in &block.codes {
            let args = match code {
                Code::General(g) => {
                    match g.number.major() {
                        m @ 0..=3 => motion = m,
                        20 => scale = 25.4,
                        21 => scale = 1.0,
                        90 => relative = false,
                        91 => relative = true,
                        _ => {}
                    }
                    &g.args
                }
                Code::Miscellaneous(m) => &m.args,
                Code::ToolChange(t) => &t.args,
                other => panic!("{other:?}"),
            };
            args.iter().for_each(|a| word(a.letter, &a.value));
        }
        block.word_addresses.iter().for_each(|w| word(w.letter, &w.value));
        let of = |letter| words.iter().find(|(l, _)| *l == letter).map(|(_, v)| *v);
        ends.powers.extend(of('S'));
        if of('X').is_some() || of('Y').is_some() {
            let lead = |value: Option<f64>, at: f64| match value {
                Some(v) if relative => at + v * scale,
                Some(v) => v * scale,
                None => at,
            };
            (x, y) = (lead(of('X'), x), lead(of('Y'), y));
            ends.moves.push(Move(motion, x, y));
        }
    }
    ends
}

#[test]
fn on_the_fixtures() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/programs");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "nc") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        if text.contains("G10 ") || text.contains("G92") {
            // Shifted origins are more than syntax.
            continue;
        }
        let mut ours = Ends::default();
        read(text.as_bytes(), &LENIENT, &mut ours)
            .unwrap_or_else(|e| panic!("{}", e.shown(&path.display().to_string())));
        let theirs = by_the_other(&text);
        assert_eq!(ours.powers, theirs.powers, "{}", path.display());
        assert_eq!(ours.moves.len(), theirs.moves.len(), "{}", path.display());
        for (i, (a, b)) in ours.moves.iter().zip(&theirs.moves).enumerate() {
            // Relative programs add up what f32 lost.
            let near = 1e-6 * (i as f64 + 100.0);
            let close = a.0 == b.0 && (a.1 - b.1).abs() < near && (a.2 - b.2).abs() < near;
            assert!(close, "{} move {i}: {a:?} but {b:?}", path.display());
        }
        assert!(ours.moves.len() > 50, "{}", path.display());
        seen += 1;
    }
    assert!(seen >= 5, "{seen} programs");
}
