//! Points of the work and the machine words where the pointer met them, one a line.

use std::ops::Range;

use crate::bounds::Bounds;
use crate::job_option::{COORDINATE, MOST_TURN_DEG};
use crate::line_words::{Wrong, length, point_for_comma, whole, words};
use crate::quantity::{degrees, number};
use crate::text::Text;
use crate::{Fault, Faults, LengthUnit};

/// The most points that are read; more than a hand can meet.
const MOST_POINTS: usize = 1000;
const TURN: Bounds = Bounds::closed(-MOST_TURN_DEG, MOST_TURN_DEG);
const WORD: Bounds = Bounds::closed(-1e9, 1e9);

const FORM: &str = "a point is `drawn U V` or `wall AT TURN`, then `met` and two words, such as \
                    `drawn 10 -5 met X12.3 A45`";

/// The words of a point.
const WORDS: usize = 6;

/// What a point of the work is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Met {
    /// A point of the flat plane, mm: along the axis and around.
    Drawn {
        /// Along the axis.
        u_mm: f64,
        /// Around.
        v_mm: f64,
    },
    /// A place on the wall.
    Wall {
        /// Along the axis, mm.
        at_mm: f64,
        /// About the axis, rad.
        turn_rad: f64,
    },
}

/// A point of the work, and the words where the pointer met it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MetPoint {
    /// What was met.
    pub met: Met,
    /// The word along the axis, mm.
    pub along_mm: f64,
    /// The rotary word, in its own units.
    pub rotary: f64,
}

/// Reads points, one a line: `drawn U V met X12.3 A45` or `wall AT TURN met X12.3 A45`. `along` and
/// `rotary` are the letters of the machine's words; lengths of points are mm unless they say `in`,
/// turns degrees; what follows `#` is a comment.
///
/// # Errors
/// All faults at once, each with line, column, what was found and what is allowed; fewer than two
/// points.
///
/// ```
/// use stave_setup::{Met, read_points};
/// let text = "drawn 10 -5 met X12.3 A45\nwall 60mm 180 met x40 a-2  # the handle's middle\n";
/// let points = read_points(text, "points.txt", ('X', 'A'))?;
/// assert_eq!(points[0].met, Met::Drawn { u_mm: 10.0, v_mm: -5.0 });
/// assert_eq!((points[1].along_mm, points[1].rotary), (40.0, -2.0));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
pub fn read_points(
    text: &str,
    file: &str,
    (along, rotary): (char, char),
) -> Result<Vec<MetPoint>, Faults> {
    let places = Text::new(text, file);
    let (mut points, mut faults) = (Vec::new(), Vec::new());
    let mut offset = 0;
    for line in text.split_inclusive('\n') {
        let content = line.split('#').next().unwrap_or("");
        let (start, found) = (offset, words(content, offset));
        offset += line.len();
        if found.is_empty() {
            continue;
        }
        // Commas may part words; with a word too many one of them may stand for a point.
        let comma =
            if found.len() > WORDS { point_for_comma(content, start, &found) } else { None };
        match comma.map_or_else(|| point(&found, (along, rotary)), Err) {
            Ok(one) => points.push(one),
            Err((span, message)) => {
                faults.push(Fault::new(Some(places.source(&span)), message));
            }
        }
        if faults.len() + points.len() > MOST_POINTS {
            let message = format!("{file}: has more than {MOST_POINTS} points");
            return Err(Fault::new(None, message).into());
        }
    }
    if faults.is_empty() && points.len() < 2 {
        let message = format!("{file}: two or more points are needed, and it has {}", points.len());
        faults.push(Fault::new(None, message));
    }
    if faults.is_empty() { Ok(points) } else { Err(faults.into()) }
}

fn point(words: &[(Range<usize>, &str)], (along, rotary): (char, char)) -> Result<MetPoint, Wrong> {
    let [kind, first, second, met, one, other] = words else {
        return Err((whole(words), FORM.to_owned()));
    };
    if !met.1.eq_ignore_ascii_case("met") {
        return Err((met.0.clone(), FORM.to_owned()));
    }
    let mm = |(span, word): &(Range<usize>, &str)| {
        length(word, COORDINATE, LengthUnit::Mm).map_err(|message| (span.clone(), message))
    };
    let met = match kind.1.to_ascii_lowercase().as_str() {
        "drawn" => Met::Drawn { u_mm: mm(first)?, v_mm: mm(second)? },
        "wall" => {
            let turn = degrees(second.1).filter(|turn| TURN.hold(*turn)).ok_or_else(|| {
                (second.0.clone(), "a turn is a number of degrees, such as 180".to_owned())
            })?;
            Met::Wall { at_mm: mm(first)?, turn_rad: turn.to_radians() }
        }
        _ => return Err((kind.0.clone(), FORM.to_owned())),
    };
    let value = |letter: char| {
        let mut named = [one, other].into_iter().filter(|(_, word)| {
            word.starts_with(letter) || word.starts_with(letter.to_ascii_lowercase())
        });
        let missing = || {
            let (span, message) = (
                one.0.start..other.0.end,
                format!(
                    "the words of this machine are {along} and {rotary}, each with a number, such \
                     as {along}12.3 {rotary}45"
                ),
            );
            (span, message)
        };
        let (_, word) = named.next().ok_or_else(missing)?;
        let digits = word.get(1..).and_then(number);
        digits.filter(|value| WORD.hold(*value)).ok_or_else(missing)
    };
    Ok(MetPoint { met, along_mm: value(along)?, rotary: value(rotary)? })
}
