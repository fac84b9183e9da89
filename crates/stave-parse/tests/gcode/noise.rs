//! Nothing makes the reader panic, and nothing it delivers is anything but finite.

use proptest::prelude::*;
use stave_parse::gcode::{ReadOptions, Sink, read};
use stave_tests::cases;
use stave_toolpath::{Event, Feed, Position};

struct Finite;

/// Bytes that a line which is passed on may hold.
fn written(b: &u8) -> bool {
    b.is_ascii_alphanumeric() || b" \t.+-=$".contains(b)
}

fn finite(p: &Position) -> bool {
    [p.x, p.y, p.z, p.a, p.b, p.c].iter().all(|v| v.is_finite())
}

impl Sink for Finite {
    type Error = String;

    fn event(&mut self, _line: u64, event: &Event<'_>) -> Result<(), String> {
        let feed_good = |feed: Option<Feed>| match feed {
            None => true,
            Some(Feed::PerMinute(f) | Feed::InverseTime(f)) => f.is_finite() && f > 0.0,
        };
        let good = match *event {
            Event::Travel { from, to } => finite(from) && finite(to),
            Event::Straight { from, to, feed } => finite(from) && finite(to) && feed_good(feed),
            Event::Arc { from, to, arc, feed } => {
                finite(from)
                    && finite(to)
                    && feed_good(feed)
                    && arc.centre.iter().all(|c| c.is_finite())
                    && arc.sweep_rad != 0.0
                    && arc.sweep_rad.abs() <= std::f64::consts::TAU
                    && arc.length_mm(from, to).is_finite()
            }
            Event::Dwell { seconds } => seconds.is_finite() && seconds >= 0.0,
            Event::Power { s } => s.is_finite() && s >= 0.0,
            Event::FeedRate { f, .. } => f.is_finite() && f >= 0.0,
            Event::Pass { text, .. } => text.len() <= 256 && text.iter().all(written),
            _ => true,
        };
        if good { Ok(()) } else { Err(format!("{event:?}")) }
    }
}

fn sound(bytes: &[u8], options: ReadOptions) -> Result<(), TestCaseError> {
    match read(bytes, &options, &mut Finite) {
        Err(stave_parse::gcode::ReadError::Sink { error, .. }) => Err(TestCaseError::fail(error)),
        Err(error) => {
            let text = error.shown("x");
            prop_assert!(
                !text.lines().skip(1).any(|l| l.chars().any(char::is_control)),
                "{:?}",
                text
            );
            Ok(())
        }
        Ok(_) => Ok(()),
    }
}

fn options() -> impl Strategy<Value = ReadOptions> {
    (any::<bool>(), any::<bool>())
        .prop_map(|(strict, block_delete)| ReadOptions { strict, block_delete })
}

/// Pieces of the language in any order.
fn soup() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        "[A-Z]-?[0-9]{1,3}(\\.[0-9]{1,3})?",
        concat!(
            "[GM](0|1|2|3|4|10|28|30|53|92|92.1|92.3|17|18|19|20|21|54|59.3|61.1|80|90|91|93|94",
            "|6|8|60|106)"
        ),
        "[XYZIJKRFSP]([0-9]{1,2}|\\[[0-9]{1,2}[-+*/][0-9]{1,2}\\]|#[0-9]|SQRT\\[[0-9]\\])",
        "#[0-9]{1,4}=-?[0-9]{1,20}",
        Just("#5161=1 #5162=2 #5163=3 ".to_owned()),
        "\\((MSG,)?[a-z]{0,5}\\)",
        "[ \\t%/;$]",
        Just("\n".to_owned()),
        Just("\n".to_owned()),
        Just("\r\n".to_owned()),
    ];
    proptest::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..300), options in options()) {
        sound(&bytes, options)?;
    }

    #[test]
    fn any_pieces(text in soup(), options in options()) {
        sound(text.as_bytes(), options)?;
    }

    #[test]
    fn any_text_of_the_language(text in "[GMXYZIJKRFSPTABCDHLNQ0-9.\\[\\]#=;()%/ \
                                         +*\n\r\t-]{0,200}", options in options()) {
        sound(text.as_bytes(), options)?;
    }
}
