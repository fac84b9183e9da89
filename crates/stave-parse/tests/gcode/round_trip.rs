//! Events written as G-code and read again are the same events.

use proptest::prelude::*;
use stave_parse::gcode::{Sink, read};
use stave_tests::cases;
use stave_toolpath::{BeamWord, Event, Feed, FeedMode, PauseWord, Position};

use crate::log::{LENIENT, Never, STRICT, log};

/// Writes every event as a line of G-code, numbers to the last digit.
#[derive(Default)]
struct Print(String);

fn to(p: &Position) -> String {
    format!("X{} Y{} Z{} A{} B{} C{}", p.x, p.y, p.z, p.a, p.b, p.c)
}

fn rate(feed: Option<Feed>) -> String {
    match feed {
        Some(Feed::InverseTime(f)) => format!(" F{f}"),
        // The rate in effect was said by an event of its own.
        _ => String::new(),
    }
}

impl Sink for Print {
    type Error = Never;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), Never> {
        let lossy = |text| String::from_utf8_lossy(text).into_owned();
        let line = match *event {
            Event::Travel { to: p, .. } => format!("G0 {}", to(p)),
            Event::Straight { to: p, feed, .. } => format!("G1 {}{}", to(p), rate(feed)),
            Event::Arc { from, to: p, arc, feed } => {
                let word = if arc.sweep_rad > 0.0 { "G3" } else { "G2" };
                let [i, j, _] = arc.centre;
                format!(
                    "{word} {} I[{i} - [{}]] J[{j} - [{}]]{}",
                    to(p),
                    from.x,
                    from.y,
                    rate(feed)
                )
            }
            Event::Dwell { seconds } => format!("G4 P{seconds}"),
            Event::Beam { word } => word.map_or("M5", BeamWord::as_str).to_owned(),
            Event::Power { s } => format!("S{s}"),
            Event::FeedRate { f, mode: FeedMode::PerMinute } => format!("F{f}"),
            Event::FeedRate { .. } => return Ok(()),
            Event::Message { text } => format!("(MSG,{})", lossy(text)),
            Event::Comment { text } => format!("({})", lossy(text)),
            Event::Pause { word } => word.as_str().to_owned(),
            Event::Path { control } => control.as_str().to_owned(),
            Event::Pass { text, .. } => lossy(text),
            Event::End { word } => word.map_or("M2", |word| word.as_str()).to_owned(),
            Event::FirstWord { .. } => return Ok(()),
            _ => panic!("{event:?}"),
        };
        self.0 += &line;
        self.0.push('\n');
        Ok(())
    }
}

fn lines() -> impl Strategy<Value = String> {
    let number = || {
        (-99_999_i32..99_999, 0_i32..4)
            .prop_map(|(n, d)| format!("{}", f64::from(n) / 10_f64.powi(d)))
    };
    let line = prop_oneof![
        (prop_oneof![Just("G0"), Just("G1")], number(), number())
            .prop_map(|(g, x, y)| format!("{g}X{x}Y{y}")),
        (number(), number()).prop_map(|(z, a)| format!("G1 Z{z} A{a}")),
        // A half circle from wherever the program is, to the far end.
        (1_u32..2000, prop_oneof![Just("G2"), Just("G3")]).prop_map(|(d, g)| format!(
            "G91 {g} X{} I{}\nG90",
            f64::from(d) / 50.0,
            f64::from(d) / 100.0
        )),
        (1_u32..5000).prop_map(|f| format!("F{f}")),
        (0_u32..1000).prop_map(|s| format!("S{s} M3")),
        (0_u32..1000).prop_map(|s| format!("G1 X1 S{s}")),
        (1_u32..99, number()).prop_map(|(f, x)| format!("G93 G1 X{x} F{f}\nG94 F100")),
        Just(PauseWord::M0.as_str().to_owned()),
        proptest::sample::select(
            &[
                "M5",
                "M8",
                "T3 M6",
                "G4 P1.5",
                "(hi)",
                "(MSG,ho)",
                "G61.1",
                "M1",
                "M48",
                "G20\nG0 X1\nG21"
            ][..]
        )
        .prop_map(str::to_owned),
    ];
    proptest::collection::vec(line, 0..20).prop_map(|lines| lines.join("\n") + "\nM2\n")
}

/// Events without their line numbers.
fn bare(lines: Vec<String>) -> Vec<String> {
    lines
        .into_iter()
        .map(|l| l.split_once(": ").unwrap().1.to_owned())
        .filter(|l| !l.ends_with("InverseTime"))
        .collect()
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn written_and_read_again(text in lines()) {
        let mut print = Print::default();
        read(text.as_bytes(), &STRICT, &mut print).unwrap();
        // Printing writes every F before its move, and G93 around it.
        let printed = with_modes(&print.0);
        let (again, outcome) = log(printed.as_bytes(), &LENIENT);
        prop_assert!(outcome.is_ok(), "{}\n{}", printed, outcome.unwrap_err());
        let (first, _) = log(text.as_bytes(), &STRICT);
        prop_assert_eq!(bare(again), bare(first));
    }
}

/// Puts G93 and G94 on lines with an F of their own, and restores the rate after them.
fn with_modes(printed: &str) -> String {
    printed
        .lines()
        .map(|line| match line.contains(" F") && line.starts_with('G') {
            true => format!("G93 {line}\nG94\n"),
            false => format!("{line}\n"),
        })
        .collect()
}
