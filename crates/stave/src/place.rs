//! `place`: where the piece really lies, from points of it that the pointer met.

use std::f64::consts::{PI, TAU};

use serde::{Deserialize, Serialize};
use stave_check::{Similarity, similarity};
use stave_rig::{AXES, MadeFor, ROTARY, Rig};
use stave_setup::{JobAnchor, Met, MetPoint, Setup};
use stave_toolpath::Place;
use stave_toolpath::number::fixed;
use stave_transform::lay_of;
use stave_wall::Anchor;

use crate::error::Error;

/// Steps by which slopes are taken: mm, rad.
const STEP: (f64, f64) = (1e-4, 1e-6);
/// Closer than this, mm and rad, nothing is gained any more.
const SETTLED: f64 = 1e-10;
const MOST_ROUNDS: usize = 100;
/// More than this left over, mm rms, is told: a pointer is met to half a mm, common practice, no
/// source.
const MOST_LEFT_MM: f64 = 1.0;
/// The point that is off so many times as much as any other stands out.
const STANDS_OUT: f64 = 1.5;
/// Decimals of what is written, and of what is told.
const WRITTEN: u32 = 4;
const TOLD: u32 = 3;

/// Where the piece lies. Keys carry their units: mm unless they say degrees.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct PlaceReport {
    /// `place.at`.
    pub at: f64,
    /// `place.turn`, from −180 to 180.
    pub turn_deg: f64,
    /// `zero.at`.
    pub zero_at: f64,
    /// `zero.turn`, from −180 to 180.
    pub zero_turn_deg: f64,
    /// How far the points still lie from where they were met, rms on the wall.
    pub error_mm: f64,
    /// How far what was met leans against what was meant; null where the points do not tell. It is
    /// told, not applied.
    pub lean_deg: Option<f64>,
    /// Its size against what was meant; likewise.
    pub scale: Option<f64>,
    /// `place.turn` of a second side, half a turn on.
    pub second_turn_deg: f64,
    /// How many points there were.
    pub points: usize,
    /// What looks wrong and what to do; null where nothing does.
    pub doubt: Option<String>,
}

impl PlaceReport {
    /// The sections of a job file that say so.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let number = |value: f64| {
            let text = fixed(value, WRITTEN);
            if text.contains('.') { text } else { text + ".0" }
        };
        format!(
            "[place]\nat = {}\nturn = {}\n\n[zero]\nat = {}\nturn = {}\n",
            number(self.at),
            number(self.turn_deg),
            number(self.zero_at),
            number(self.zero_turn_deg)
        )
    }

    /// What a person should know of it, in a line.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut text = format!(
            "{} points, {} mm left between them and where they were met (rms)",
            self.points,
            fixed(self.error_mm, TOLD)
        );
        if let (Some(lean), Some(scale)) = (self.lean_deg, self.scale) {
            text += &format!(
                "; leans {} degrees, {} times the size: told, not applied",
                fixed(lean, TOLD),
                fixed(scale, WRITTEN)
            );
        }
        text + &format!("; a second side: turn = {}", fixed(self.second_turn_deg, TOLD))
    }

    /// As JSON.
    ///
    /// # Errors
    /// None that is known: numbers can always be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}

/// Finds the place of the drawing, and the zero, that bring points of the work nearest to where the
/// pointer met them: least squares, mm on the wall.
///
/// Points of the wall (an old mark, the middle of a handle) say where the zero is; points of the
/// drawing (a print, the first side's mark) say where its place is. Words are read against the
/// job's `[zero]`; without one against the first station and turn 0. The words' own `tilt`,
/// `toward` and so on are the job's.
///
/// # Errors
/// Where the place found is off the wall; a lay that does not suit the wall.
///
/// ```
/// use stave::{Setup, place, setup};
/// let blank = setup::read_blank("[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n",
/// "can.toml")?;
/// let machine = setup::read_machine(
///     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
///      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
///      "bench.toml")?;
/// let points = setup::read_points("drawn 0 0 met X30 A90\ndrawn 20 0 met X50 A90\n", "points.txt", ('X', 'A'))?;
/// let setup = Setup::new(blank, machine, setup::read_job("", "job.toml")?)?;
/// let found = place(&points, &setup)?;
/// assert!((found.at - 30.0).abs() < 1e-6 && (found.turn_deg - 90.0).abs() < 1e-6);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn place(points: &[MetPoint], setup: &Setup) -> Result<PlaceReport, Error> {
    if let Some(on) = &setup.facet {
        return Err(Error::Setting(format!(
            "`stave place` finds turns, and the flat place \"{}\" lies at one of its own: bring \
             the pointer to its first end and its middle, and make that the zero of the words",
            on.facet.name
        )));
    }
    let first_at = setup.blank.wall.at_range_mm().0;
    let mut setup = setup.clone();
    if !setup.job_values().has("zero.at") {
        setup.job.zero.at_mm = first_at;
    }
    if !setup.job_values().has("zero.turn") {
        setup.job.zero.turn_rad = 0.0;
    }
    let walls: Vec<&MetPoint> =
        points.iter().filter(|point| matches!(point.met, Met::Wall { .. })).collect();
    let drawn: Vec<&MetPoint> =
        points.iter().filter(|point| matches!(point.met, Met::Drawn { .. })).collect();
    let mut left = Vec::new();
    let mut lies = None;
    if !walls.is_empty() {
        let zero = (setup.job.zero.at_mm, setup.job.zero.turn_rad);
        let residuals = |(at_mm, turn_rad): (f64, f64)| {
            let mut there = setup.clone();
            (there.job.zero.at_mm, there.job.zero.turn_rad) = (at_mm, turn_rad);
            Some(walls.iter().flat_map(|point| of_wall(point, &there)).collect())
        };
        let found = least_squares(zero, &residuals);
        (setup.job.zero.at_mm, setup.job.zero.turn_rad) = found;
        let lie = lies_of(&walls, &setup)?;
        lies = similarity(pairs(&lie).into_iter());
        left.extend(lie);
    }
    if !drawn.is_empty() {
        let place = (setup.job.place.at_mm, setup.job.place.turn_rad);
        // A lay that does not suit the wall is told before anything is sought.
        lay_of(&setup, anchor(&setup))?;
        let residuals = |(at_mm, turn_rad): (f64, f64)| {
            let mut there = setup.clone();
            (there.job.place.at_mm, there.job.place.turn_rad) = (at_mm, turn_rad);
            of_drawn(&drawn, &there)
        };
        let found = least_squares(place, &residuals);
        (setup.job.place.at_mm, setup.job.place.turn_rad) = found;
        let lie = lies_of(&drawn, &setup)?;
        lies = similarity(pairs(&lie).into_iter()).or(lies);
        left.extend(lie);
    }
    let (at_mm, range) = (setup.job.place.at_mm, setup.blank.wall.at_range_mm());
    if !(range.0..=range.1).contains(&at_mm) {
        return Err(Error::Setting(format!(
            "the place found is {} mm along the axis, off the wall, whose stations go from {} to \
             {} mm: see that the points are read against the zero they were met with",
            fixed(at_mm, TOLD),
            fixed(range.0, TOLD),
            fixed(range.1, TOLD)
        )));
    }
    #[allow(clippy::cast_precision_loss, reason = "a thousand points at most")]
    let count = points.len() as f64;
    let squares: f64 = left.iter().map(|one| one.off_mm().powi(2)).sum();
    let error_mm = (squares / count).sqrt();
    let turn = |rad: f64| folded(rad).to_degrees() + 0.0;
    Ok(PlaceReport {
        at: at_mm + 0.0,
        turn_deg: turn(setup.job.place.turn_rad),
        zero_at: setup.job.zero.at_mm + 0.0,
        zero_turn_deg: turn(setup.job.zero.turn_rad),
        error_mm,
        lean_deg: lies.map(|lies| lies.lean_rad.to_degrees() + 0.0),
        scale: lies.map(|lies| lies.scale),
        second_turn_deg: turn(setup.job.place.turn_rad + PI),
        points: points.len(),
        doubt: (error_mm > MOST_LEFT_MM).then(|| doubt(&left, lies, error_mm)),
    })
}

/// A point as it is meant to lie on the wall, and where it was met.
struct Lie<'a> {
    point: &'a MetPoint,
    meant: Place,
    /// Within half a turn of what is meant.
    met: Place,
}

impl Lie<'_> {
    fn off_mm(&self) -> f64 {
        let around_mm = self.met.radius_mm * (self.met.turn_rad - self.meant.turn_rad);
        (self.met.s_mm - self.meant.s_mm).hypot(around_mm)
    }

    /// The point as its file has it.
    fn name(&self) -> String {
        match self.point.met {
            Met::Drawn { u_mm, v_mm } => {
                format!("`drawn {} {}`", fixed(u_mm, TOLD), fixed(v_mm, TOLD))
            }
            Met::Wall { at_mm, turn_rad } => {
                let degrees = turn_rad.to_degrees();
                format!("`wall {} {}`", fixed(at_mm, TOLD), fixed(degrees, TOLD))
            }
        }
    }
}

/// Points as the lay, or the wall, has them at the place and the zero found.
fn lies_of<'a>(points: &[&'a MetPoint], setup: &Setup) -> Result<Vec<Lie<'a>>, Error> {
    let is_drawn = |point: &&MetPoint| matches!(point.met, Met::Drawn { .. });
    let lay = points.iter().any(is_drawn).then(|| lay_of(setup, anchor(setup))).transpose()?;
    let wall = &setup.blank.wall;
    let lie = |point: &&'a MetPoint| {
        let met = met_at(point, setup);
        let (s_mm, turn_rad) = match (point.met, &lay) {
            (Met::Drawn { u_mm, v_mm }, Some(lay)) => {
                let laid = lay.map(wall, u_mm, v_mm, &mut 0);
                (laid.s_mm, laid.turn_rad)
            }
            (Met::Wall { at_mm, turn_rad }, _) => (wall.s_of_at(at_mm), turn_rad),
            _ => (met.s_mm, met.turn_rad),
        };
        let section = wall.section(s_mm, &mut 0);
        let (at_mm, radius_mm) = (section.at_mm, section.radius_mm);
        let meant = Place { s_mm, turn_rad, at_mm, radius_mm };
        let turn_rad = meant.turn_rad + folded(met.turn_rad - meant.turn_rad);
        Lie { point, meant, met: Place { turn_rad, ..met } }
    };
    Ok(points.iter().map(lie).collect())
}

/// What is likely wrong where far more is left than a pointer is off by.
fn doubt(left: &[Lie<'_>], lies: Option<Similarity>, error_mm: f64) -> String {
    let mut worst: Vec<&Lie<'_>> = left.iter().collect();
    worst.sort_by(|a, b| b.off_mm().total_cmp(&a.off_mm()));
    let (lean_rad, size) = lies.map_or((0.0, 1.0), |lies| (lies.lean_rad, lies.scale));
    let likely = match worst.as_slice() {
        [first, second, _, ..] if first.off_mm() > STANDS_OUT * second.off_mm() => format!(
            "{} is off most, by {} mm here: see whether its words are as they were met, a digit or \
             a sign, and leave it out if not",
            first.name(),
            fixed(first.off_mm(), TOLD)
        ),
        [_, _, _, ..] => "no point stands out, so that the piece leans or has another size, which \
                          is not applied, or lies by another lay or in another job than this one"
            .to_owned(),
        _ => format!(
            "what was met lies turned by {} degrees against what was meant, and {} times as far \
             apart: one of the words is not as it was met, or it is another drawing; a third point \
             shows which",
            fixed(lean_rad.to_degrees(), TOLD),
            fixed(size, TOLD)
        ),
    };
    format!(
        "{} mm are left (rms), where a pointer is met to half a mm: {likely}",
        fixed(error_mm, TOLD)
    )
}

/// The point a drawing's coordinates are reckoned from: a stream's, since the pieces of a drawing
/// are not known here.
fn anchor(setup: &Setup) -> Anchor {
    match setup.job.anchor {
        Some(JobAnchor::Point { u_mm, v_mm }) => Anchor::Point { u_mm, v_mm },
        _ => Anchor::Drawing,
    }
}

/// An angle within half a turn.
fn folded(rad: f64) -> f64 {
    rad - TAU * (rad / TAU).round()
}

/// Where the words of a point are on the wall.
fn met_at(point: &MetPoint, setup: &Setup) -> Place {
    let rig = Rig::new(&setup.blank, &setup.machine, &MadeFor::of_setup(setup));
    let mut words = [0.0; AXES];
    for (axis, word) in words.iter_mut().enumerate() {
        *word = match axis {
            ROTARY => point.rotary,
            _ if axis == rig.along => point.along_mm,
            _ => 0.0,
        };
    }
    rig.place(&words, &mut 0)
}

/// How far a point of the wall was met from where it is, mm along and around.
fn of_wall(point: &MetPoint, setup: &Setup) -> [f64; 2] {
    let Met::Wall { at_mm, turn_rad } = point.met else { return [0.0; 2] };
    let met = met_at(point, setup);
    let wall = &setup.blank.wall;
    let s_mm = wall.s_of_at(at_mm);
    let radius_mm = wall.section(s_mm, &mut 0).radius_mm;
    [met.s_mm - s_mm, radius_mm * folded(met.turn_rad - turn_rad)]
}

/// How far points of the drawing come to lie from where they were met.
fn of_drawn(points: &[&MetPoint], setup: &Setup) -> Option<Vec<f64>> {
    let lay = lay_of(setup, anchor(setup)).ok()?;
    let wall = &setup.blank.wall;
    let each = points.iter().flat_map(|point| {
        let Met::Drawn { u_mm, v_mm } = point.met else { return [0.0; 2] };
        let laid = lay.map(wall, u_mm, v_mm, &mut 0);
        let met = met_at(point, setup);
        [laid.s_mm - met.s_mm, met.radius_mm * folded(laid.turn_rad - met.turn_rad)]
    });
    Some(each.collect())
}

/// What was meant and what was met, each in the plane, mm: along the meridian, and around, at the
/// radius of its own place, from the middle turn of what was meant.
fn pairs(lies: &[Lie<'_>]) -> Vec<((f64, f64), (f64, f64))> {
    let count = lies.iter().fold(0.0, |count, _| count + 1.0);
    let middle_rad = lies.iter().map(|lie| lie.meant.turn_rad).sum::<f64>() / count;
    let plane = |place: &Place| (place.s_mm, place.radius_mm * (place.turn_rad - middle_rad));
    lies.iter().map(|lie| (plane(&lie.meant), plane(&lie.met))).collect()
}

/// The place at which the sum of the squares is least, from a guess: Gauss and Newton's way, with
/// slopes by differences. Two unknowns: mm along, rad around.
fn least_squares(
    start: (f64, f64),
    residuals: &impl Fn((f64, f64)) -> Option<Vec<f64>>,
) -> (f64, f64) {
    let mut now = start;
    for _ in 0..MOST_ROUNDS {
        let sides = [
            residuals((now.0 + STEP.0, now.1)),
            residuals((now.0 - STEP.0, now.1)),
            residuals((now.0, now.1 + STEP.1)),
            residuals((now.0, now.1 - STEP.1)),
            residuals(now),
        ];
        let [Some(ahead), Some(behind), Some(left), Some(right), Some(here)] = sides else {
            return now;
        };
        let mut square = [0.0; 3];
        let mut pull = [0.0; 2];
        let along = ahead.iter().zip(&behind).map(|(a, b)| (a - b) / (2.0 * STEP.0));
        let around = left.iter().zip(&right).map(|(a, b)| (a - b) / (2.0 * STEP.1));
        for ((along, around), here) in along.zip(around).zip(&here) {
            square[0] += along * along;
            square[1] += along * around;
            square[2] += around * around;
            pull[0] += along * here;
            pull[1] += around * here;
        }
        let whole = square[0] * square[2] - square[1] * square[1];
        if whole.abs() < f64::MIN_POSITIVE {
            return now;
        }
        let step = (
            (pull[0] * square[2] - pull[1] * square[1]) / whole,
            (pull[1] * square[0] - pull[0] * square[1]) / whole,
        );
        now = (now.0 - step.0, now.1 - step.1);
        if step.0.abs() < SETTLED && step.1.abs() < SETTLED {
            break;
        }
    }
    now
}
