//! The two ways through the interpreter against each other: the quick scan of plain lines and the
//! general way.

use std::io::{self, Read};

use proptest::prelude::*;
use stave_toolpath::Event;

use super::*;

/// Gathers events as text, bit for bit (the shortest text of an `f64` that reads back tells it from
/// every other), and refuses the one that comes when it has as many as it wants.
struct Log {
    events: Vec<String>,
    wanted: usize,
}

impl Log {
    fn new(wanted: usize) -> Self {
        Self { events: Vec::new(), wanted }
    }
}

impl Sink for Log {
    type Error = &'static str;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Self::Error> {
        if self.events.len() == self.wanted {
            return Err("enough");
        }
        self.events.push(format!("{line} {event:?}"));
        Ok(())
    }
}

/// Hands out its bytes in reads of the given lengths, over and over.
struct Dribble<'a> {
    bytes: &'a [u8],
    lengths: &'a [usize],
    turn: usize,
}

impl Read for Dribble<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let length = self.lengths[self.turn % self.lengths.len()].min(self.bytes.len());
        self.turn += 1;
        buffer[..length].copy_from_slice(&self.bytes[..length]);
        self.bytes = &self.bytes[length..];
        Ok(length)
    }
}

/// What was seen, what ended it, and the state it left.
#[derive(Debug, PartialEq)]
struct Run {
    events: Vec<String>,
    /// The summary, or the error as shown: line, column, message, excerpt and caret.
    outcome: Result<ReadSummary, String>,
    state: String,
    number: Option<u64>,
}

/// How a program is run.
#[derive(Clone, Debug)]
struct How {
    options: ReadOptions,
    wanted: usize,
    lengths: Vec<usize>,
}

fn how() -> impl Strategy<Value = How> {
    let lengths = prop_oneof![
        2 => Just(vec![usize::MAX]),
        1 => proptest::collection::vec(1_usize..9, 1..4),
    ];
    let wanted = prop_oneof![4 => Just(usize::MAX), 1 => 0_usize..12];
    (any::<bool>(), any::<bool>(), wanted, lengths).prop_map(
        |(strict, block_delete, wanted, lengths)| How {
            options: ReadOptions { strict, block_delete },
            wanted,
            lengths,
        },
    )
}

/// The general way only, or the quick way where it takes a line.
fn run(text: &[u8], how: &How, quick: bool) -> Run {
    let mut interpreter = Interpreter::new(&how.options);
    interpreter.general_only = !quick;
    let mut log = Log::new(how.wanted);
    // Whole for the general way: the cuts must make no difference either.
    let lengths: &[usize] = if quick { &how.lengths } else { &[usize::MAX] };
    let input = Dribble { bytes: text, lengths, turn: 0 };
    let outcome = interpreter.read(input, &mut log).map_err(|error| error.shown("x"));
    let number = interpreter.line_number();
    Run { events: log.events, outcome, state: format!("{:?}", interpreter.state), number }
}

fn both_ways(text: &[u8], how: &How) -> Result<(), TestCaseError> {
    let (quick, general) = (run(text, how, true), run(text, how, false));
    prop_assert_eq!(quick, general, "{}", String::from_utf8_lossy(text));
    Ok(())
}

/// Lines as exporters write them, with now and then something that is not plain or not right.
fn line() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        8 => "-?[0-9]{1,3}\\.[0-9]{1,4}",
        2 => "[+-]?[0-9]{1,4}\\.?",
        1 => "-?\\.[0-9]{1,3}",
        1 => "[0-9]{14,18}(\\.[0-9]{0,20})?",
        1 => Just("0".to_owned()),
        1 => "[+-]?[0-9 .]{0,4}",
    ];
    let word = (
        prop_oneof![12 => "[XY]", 2 => "[xyzZ]", 2 => "[IJ]", 3 => "[FS]", 1 => "[ABKPRfs]"],
        number,
    )
        .prop_map(|(letter, number)| format!("{letter}{number}"));
    let code = prop_oneof![
        10 => Just(String::new()),
        6 => "[Gg]0?[0123]",
        1 => prop_oneof![
            Just("G17"), Just("G18"), Just("G20"), Just("G21"), Just("G90"), Just("G91"), Just("G93"), Just("G94"),
            Just("G80"), Just("G92"), Just("M3"), Just("M5"), Just("G1.0"), Just("G54"), Just("G \
                1"), Just("N7"),
            Just("(c)"), Just("G[1]"), Just("M2"), Just("%"), Just("/"),
        ].prop_map(str::to_owned),
    ];
    let start = prop_oneof![6 => Just(String::new()), 1 => "N[0-9]{1,6} ?", 1 => "[ \
        \\t]{1,2}", 1 => "N1 2"];
    let parts = proptest::collection::vec(
        (word, prop_oneof![4 => Just(" "), 2 => Just(""), 1 => Just("\t")]),
        0..4,
    );
    (start, code, parts, prop_oneof![8 => Just("\n"), 2 => Just("\r\n"), 1 => Just(" \n")])
        .prop_map(|(start, code, parts, end)| {
            let mut line = start + &code + if code.len() % 2 == 0 { " " } else { "" };
            for (word, gap) in parts {
                line += &word;
                line += gap;
            }
            line + end
        })
}

/// Bytes put in, taken out or changed.
fn spoilt() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        3 => any::<u8>(),
        3 => proptest::sample::select(&b"GXYIFSN0123.+-\n\r \t%/;($MO#"[..]),
    ];
    let change = (any::<prop::sample::Index>(), 0_u8..3, byte);
    (proptest::collection::vec(line(), 1..8), proptest::collection::vec(change, 1..4)).prop_map(
        |(lines, changes)| {
            let mut text = lines.concat().into_bytes();
            for (at, what, byte) in changes {
                let at = at.index(text.len() + 1);
                match what {
                    0 => text.insert(at, byte),
                    1 => drop(text.splice(at..(at + 1).min(text.len()), [byte])),
                    _ => drop(text.drain(at..(at + 1).min(text.len()))),
                }
            }
            text
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn both_ways_give_the_same(
        lines in proptest::collection::vec(line(), 1..12), how in how()
    ) {
        both_ways(lines.concat().as_bytes(), &how)?;
    }

    #[test]
    fn both_ways_give_the_same_of_spoilt_lines(text in spoilt(), how in how()) {
        both_ways(&text, &how)?;
    }

    #[test]
    fn both_ways_give_the_same_of_noise(text in "[GXYIJFSN0-9.+ \\n-]{0,60}", how in how()) {
        both_ways(text.as_bytes(), &how)?;
    }

    #[test]
    fn both_ways_give_the_same_of_any_bytes(
        text in proptest::collection::vec(any::<u8>(), 0..80), how in how()
    ) {
        both_ways(&text, &how)?;
    }
}

#[test]
fn the_quick_way_takes_what_exporters_write() {
    let mut interpreter = Interpreter::new(&ReadOptions::default());
    for line in [
        "G1 X12.345 Y-6.789 F1200\n",
        "X12.35 S123\r\n",
        "N120 G01X1.Y.5\n",
        "g0 x0 y0\n",
        "G2 X0 Y0 I1.5 J-2 S0\n",
        "G1 X1 A-90.5 Z2 B1 C1\n",
        "\n",
    ] {
        let taken = interpreter.plain_line(1, line.as_bytes(), &mut Log::new(usize::MAX));
        assert!(matches!(taken, Some(Ok(used)) if used == line.len()), "{line:?}: {taken:?}");
    }
}

#[test]
fn the_quick_way_leaves_the_rest() {
    let mut interpreter = Interpreter::new(&ReadOptions::default());
    let before = format!("{:?}", interpreter.state);
    for line in [
        "G4 P1\n",
        "X1X2\n",
        "X1 2\n",
        "M3\n",
        "X#1\n",
        "G1\n",
        "I1\n",
        "S-1\n",
        "X\n",
        "G1 X1 ;c\n",
        "N1.5\n",
    ] {
        let taken = interpreter.plain_line(1, line.as_bytes(), &mut Log::new(usize::MAX));
        assert!(taken.is_none(), "{line:?}: {taken:?}");
    }
    assert_eq!(format!("{:?}", interpreter.state), before);
}
