//! The two ways through the interpreter against each other: the quick scan of plain lines and the
//! general way.

use proptest::prelude::*;
use stave_toolpath::Event;

use super::execute::Flow;
use super::fault::Stop;
use super::*;

/// Gathers events as text, bit for bit: the shortest text of an `f64` that reads back tells it from
/// every other.
#[derive(Default)]
struct Log(Vec<String>);

impl Sink for Log {
    type Error = std::convert::Infallible;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Self::Error> {
        self.0.push(format!("{line} {event:?}"));
        Ok(())
    }
}

/// What was seen, what ended it, and the state it left.
#[derive(Debug, PartialEq)]
struct Run {
    events: Vec<String>,
    error: Option<(u64, String, usize)>,
    state: String,
    number: Option<u64>,
}

/// Line by line the general way only, or the quick way where it takes the line.
fn run(text: &[u8], options: ReadOptions, quick: bool) -> Run {
    let mut interpreter = Interpreter::new(&options);
    let mut log = Log::default();
    let mut error = None;
    for (number, line) in (1..).zip(text.split_inclusive(|&b| b == b'\n')) {
        let raw = line.strip_suffix(b"\n").unwrap_or(line);
        let raw = raw.strip_suffix(b"\r").unwrap_or(raw);
        let taken = if quick { interpreter.plain_line(number, line, &mut log) } else { None };
        let outcome = match taken {
            Some(Ok(used)) => {
                assert_eq!(used, line.len());
                Ok(Flow::More)
            }
            Some(Err(stop)) => Err(stop),
            None => interpreter.line(number, raw, &mut log),
        };
        match outcome {
            Ok(Flow::More) => {}
            Ok(Flow::Ended | Flow::Closed) => break,
            Err(Stop::Fault(fault)) => {
                error = Some((number, fault.problem.to_string(), fault.place.offset(raw)));
                break;
            }
            Err(Stop::Sink(_, never)) => match never {},
        }
    }
    let number = interpreter.line_number();
    Run { events: log.0, error, state: format!("{:?}", interpreter.state), number }
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

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn both_ways_give_the_same(lines in proptest::collection::vec(line(), 1..12), strict: bool) {
        let options = ReadOptions { strict, block_delete: false };
        let text = lines.concat();
        prop_assert_eq!(run(text.as_bytes(), options, true), run(text.as_bytes(), options, false), "{}", text);
    }

    #[test]
    fn both_ways_give_the_same_on_noise(text in "[GXYIJFSN0-9.+ \\n-]{0,60}", strict: bool) {
        let options = ReadOptions { strict, block_delete: false };
        let text = text + "\n";
        prop_assert_eq!(run(text.as_bytes(), options, true), run(text.as_bytes(), options, false));
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
        let taken = interpreter.plain_line(1, line.as_bytes(), &mut Log::default());
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
        let taken = interpreter.plain_line(1, line.as_bytes(), &mut Log::default());
        assert!(taken.is_none(), "{line:?}: {taken:?}");
    }
    assert_eq!(format!("{:?}", interpreter.state), before);
}
