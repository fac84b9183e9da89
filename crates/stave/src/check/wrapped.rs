//! A wrapped program, taken as it is.

use std::io::Read;

use stave_parse::gcode::{self, ReadOptions, ReadSummary, Sink};
use stave_setup::{FeedCounts, Setup};
use stave_toolpath::{BeamWord, Event, Feed, MoveKind, Position};

use super::survey::{Step, Survey};
use crate::error::{Error, Refusal};

pub(super) fn survey<R: Read>(
    input: R,
    survey: &mut Survey<'_>,
    options: &ReadOptions,
    name: &str,
) -> Result<ReadSummary, Error> {
    let mut wrapped =
        Wrapped { survey, beam: None, power: None, strict: options.strict, broken: None };
    let summary = gcode::read(input, options, &mut wrapped)
        .map_err(|error| Error::of_reading(error, name))?;
    match wrapped.broken {
        Some(broken) => Err(Error::Setting(broken)),
        None => Ok(summary),
    }
}

struct Wrapped<'s, 'a> {
    survey: &'s mut Survey<'a>,
    beam: Option<BeamWord>,
    power: Option<f64>,
    strict: bool,
    broken: Option<String>,
}

/// How long a move takes as its F says, by the controller's rule, seconds.
fn asked_s(setup: &Setup, from: &Position, to: &Position, feed: Feed) -> f64 {
    let turned = from.rotary_distance_deg(to);
    let linear = from.linear_distance_mm(to);
    match (feed, setup.machine.controller.feed_counts) {
        (Feed::PerMinute(f), FeedCounts::AllAxes) => linear.hypot(turned) * 60.0 / f,
        (feed, _) => feed.nominal_s(linear, turned),
    }
}

impl Wrapped<'_, '_> {
    fn burns(&self) -> bool {
        self.beam.is_some() && self.power.map_or(!self.strict, |s| s > 0.0)
    }

    fn go(&mut self, from: &Position, to: &Position, feed: Option<Feed>, line: u64) {
        let asked_s =
            feed.map(|feed| asked_s(self.survey.setup, from, to, feed)).filter(|s| s.is_finite());
        let kind = if self.burns() { MoveKind::Burn } else { MoveKind::Dark };
        let step = Step {
            to: *to,
            kind,
            line,
            power: self.power.filter(|_| kind == MoveKind::Burn),
            time_s: asked_s.unwrap_or(0.0),
            asked_s,
        };
        self.step(&step);
        if kind == MoveKind::Burn {
            self.scan(from, to);
        }
    }

    fn step(&mut self, step: &Step) {
        if let Err(error) = self.survey.step(step) {
            self.broken.get_or_insert(error.to_string());
        }
    }

    /// Scan lines, as mm along and mm around where the work is widest.
    fn scan(&mut self, from: &Position, to: &Position) {
        let radius_mm = self.survey.setup.blank.wall.largest_radius_mm();
        let flat = |position: &Position| {
            let pose = self.survey.pose(position);
            (pose.along_mm, pose.turn_rad * radius_mm)
        };
        let (from, to) = (flat(from), flat(to));
        self.survey.scan.burn(from, to);
    }
}

impl Sink for Wrapped<'_, '_> {
    type Error = Refusal;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, feed } => self.go(from, to, feed, line),
            Event::Arc { from, to, arc, feed } => {
                // Chords of 5 degrees: an arc in machine words is nothing that a wrap writes.
                let steps = (arc.sweep_rad.abs() / 0.09).ceil().clamp(1.0, 1e5);
                // Under inverse time F is for all of the arc.
                let feed = feed.map(|feed| match feed {
                    Feed::InverseTime(f) => Feed::InverseTime(f * steps),
                    feed @ Feed::PerMinute(_) => feed,
                });
                let mut at = *from;
                let mut k = 1.0;
                while k <= steps {
                    let next = arc.point(from, to, k / steps);
                    self.go(&at, &next, feed, line);
                    (at, k) = (next, k + 1.0);
                }
            }
            Event::Travel { to, .. } => {
                let step = Step {
                    to: *to,
                    kind: MoveKind::Travel,
                    line,
                    power: None,
                    time_s: 0.0,
                    asked_s: None,
                };
                self.step(&step);
                if self.burns() {
                    let seen = self.survey.seen(0.0, to, line);
                    self.survey.beam_on_travel.note(seen);
                }
            }
            Event::Power { s } => self.power = Some(s),
            Event::Beam { word } => self.beam = word,
            Event::End { .. } => self.survey.beam_on_end = self.burns().then_some(line),
            _ => {}
        }
        Ok(())
    }
}
