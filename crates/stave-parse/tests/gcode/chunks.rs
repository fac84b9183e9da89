//! How the input is cut into reads makes no difference, but for idle calls; and memory stays
//! bounded.

use stave_tests::cases;
use std::io::{self, Read};

use proptest::prelude::*;
use stave_parse::gcode::{ReadError, read};

use crate::log::{LENIENT, Log, log};

/// Hands out its bytes in reads of the given lengths, over and over; zero stands for an interrupted
/// read.
struct Dribble<'a> {
    bytes: &'a [u8],
    lengths: Vec<usize>,
    turn: usize,
}

impl Read for Dribble<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let length = self.lengths[self.turn % self.lengths.len()];
        self.turn += 1;
        if length == 0 {
            return Err(io::ErrorKind::Interrupted.into());
        }
        let length = length.min(buffer.len()).min(self.bytes.len());
        buffer[..length].copy_from_slice(&self.bytes[..length]);
        self.bytes = &self.bytes[length..];
        Ok(length)
    }
}

const PROGRAM: &str = "%\r\nG21 (start)\nG1 X1.25 Y-.5 F600\n\nX2 S10\r\nG2 X4 I1\n; done\nN5 \
                       #3=[1+2] X#3\nM117 hi\nX?\n";

#[test]
fn bytes_one_by_one() {
    let whole = log(PROGRAM.as_bytes(), &LENIENT);
    let mut dribbled = Log::default();
    let input = Dribble { bytes: PROGRAM.as_bytes(), lengths: vec![1, 0], turn: 0 };
    let outcome = read(input, &LENIENT, &mut dribbled);
    assert_eq!(dribbled.lines, whole.0);
    assert_eq!(outcome.unwrap_err().shown(""), whole.1.unwrap_err().shown(""));
    // Every read came short, so every next one, interrupted or not, might wait.
    assert!(dribbled.idle >= PROGRAM.len() - "X?\n".len());
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn cuts_make_no_difference(
        lines in proptest::collection::vec("[GXYIFSM0-9.\\[\\]#=;()%/ \r]{0,20}", 0..20),
        lengths in proptest::collection::vec(0_usize..9, 1..6),
        ended: bool,
    ) {
        prop_assume!(lengths.iter().any(|&l| l > 0));
        let text = lines.join("\n") + if ended { "\n" } else { "" };
        let whole = log(text.as_bytes(), &LENIENT);
        let mut dribbled = Log::default();
        let outcome =
            read(Dribble { bytes: text.as_bytes(), lengths, turn: 0 }, &LENIENT, &mut dribbled);
        prop_assert_eq!(dribbled.lines, whole.0);
        match (outcome, whole.1) {
            (Ok(a), Ok(b)) => prop_assert_eq!(a, b),
            (Err(a), Err(b)) => prop_assert_eq!(a.shown(""), b.shown("")),
            (a, b) => prop_assert!(false, "{:?} but {:?}", a, b),
        }
    }
}

#[test]
fn lines_across_buffers() {
    // Some lines lie across the ends of the read buffer wherever those are.
    let text: String =
        (0..60_000).map(|i| format!("G1 X{} Y{}.5 (line {i})\n", i % 977, i % 89)).collect();
    assert!(text.len() > 1_000_000);
    let (lines, outcome) = log(text.as_bytes(), &LENIENT);
    let summary = outcome.unwrap();
    assert_eq!((summary.lines, summary.bytes), (60_000, text.len() as u64));
    assert_eq!(lines.len(), 120_001);
    for (i, pair) in lines.chunks_exact(2).enumerate() {
        assert_eq!(pair[0], format!("{}: comment line {i}", i + 1));
        assert_eq!(pair[1], format!("{}: straight {} {}.5 no feed", i + 1, i % 977, i % 89));
    }
}

/// An input that never ends, of one byte. Counts what is asked of it.
struct Endless(u8, u64);

impl Read for Endless {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        buffer.fill(self.0);
        self.1 += buffer.len() as u64;
        Ok(buffer.len())
    }
}

#[test]
fn a_line_without_end_ends() {
    for byte in *b"(X [1;\0$" {
        let mut input = Endless(byte, 0);
        let error = read(&mut input, &LENIENT, &mut Log::default()).unwrap_err();
        assert_eq!(error.place(), Some((1, (1 << 20) + 1)));
        assert!(error.to_string().contains("longer than 1048576 bytes"), "{error}");
        let ReadError::Syntax { excerpt, .. } = error else { panic!("{error}") };
        assert!(excerpt.text.chars().count() <= 122);
        assert!(input.1 <= 4 << 20, "{} bytes read", input.1);
    }
}

#[test]
fn an_input_that_fails() {
    struct Broken;
    impl Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            Err(io::Error::other("unplugged"))
        }
    }
    let error = read(Broken, &LENIENT, &mut Log::default()).unwrap_err();
    assert_eq!(error.shown("art.nc"), "art.nc: unplugged");
    assert_eq!(error.place(), None);
}

#[test]
fn a_sink_that_refuses() {
    use stave_parse::gcode::Sink;
    use stave_toolpath::Event;
    struct NoRotary;
    impl Sink for NoRotary {
        type Error = &'static str;
        fn event(&mut self, _: u64, event: &Event<'_>) -> Result<(), Self::Error> {
            match event {
                Event::Straight { to, .. } if to.a != 0.0 => Err("a rotary word"),
                Event::Power { s } if *s > 9.0 => Err("too strong"),
                _ => Ok(()),
            }
        }
    }
    let refused =
        |text: &str| read(text.as_bytes(), &LENIENT, &mut NoRotary).unwrap_err().shown("a.nc");
    assert_eq!(
        refused("G0 X1\nG1 F60 (A1) A5\n"),
        "a.nc:2:13: a rotary word\n  G1 F60 (A1) A5\n              ^"
    );
    assert_eq!(refused("X1 S5\nX2 S10\n"), "a.nc:2:4: too strong\n  X2 S10\n     ^");
}
