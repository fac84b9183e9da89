//! A program's events as moves of the planner.

use std::collections::VecDeque;

use stave_parse::gcode::Sink;
use stave_setup::{Blank, FeedCounts, Machine, RotaryWord};
use stave_toolpath::{Arc, BeamWord, Event, Feed, MoveKind, PassKind, PathControl, Position};
use stave_write::gcode::CAUTIONS;
use stave_write::plan::{Asked, Corners, Move, Planner, Totals};

use super::axes::{self, AXES};
use super::book::{Book, MOST_SECTIONS, Part, Waiting};
use super::{AxisTime, Estimate, Follow, Section};
use crate::error::{Error, Refusal};
use crate::header::WrappedFor;
use crate::retrace::Retrace;

/// The tolerance within arcs where the machine's is 0, mm: any would do that is far below what is
/// burned.
const ARC_TOLERANCE_MM: f64 = 1e-3;
/// Chords to a whole turn, at least and at most.
const CHORDS: (f64, f64) = (16.0, 20_000.0);
/// The longest name of a section, characters.
const NAME: usize = 80;

pub(super) struct Meter<'a, F> {
    machine: &'a Machine,
    blank: Option<&'a Blank>,
    strict: bool,
    planner: Planner<AXES>,
    book: Book<F>,
    /// The way back to the wall, once the program is known to turn the work.
    retrace: Option<Retrace<'a>>,
    hint: usize,
    corners: Corners,
    all_axes: bool,
    beam: Option<BeamWord>,
    power: Option<f64>,
    /// The section of the next move.
    tag: u32,
    /// A comment has come since the last move, and begins a section with the next.
    named: Option<String>,
    /// Whether any move or dwell has come.
    begun: bool,
    nominal_s: f64,
    pauses: u64,
    z_unknown: bool,
    warnings: Vec<String>,
}

impl<'a, F: Follow> Meter<'a, F> {
    pub(super) fn new(
        machine: &'a Machine,
        blank: Option<&'a Blank>,
        strict: bool,
        follow: F,
    ) -> Result<Self, Error> {
        let by_y = machine.rotary.word == RotaryWord::Y;
        let mut meter = Self {
            machine,
            blank,
            strict,
            planner: planner(machine, by_y && blank.is_some())?,
            book: Book {
                parts: vec![Part::default()],
                clock_s: 0.0,
                waiting: VecDeque::new(),
                lengths_known: true,
                letters: std::array::from_fn(|axis| axes::letter(machine, axis)),
                follow,
            },
            retrace: None,
            hint: 0,
            corners: Corners::Tolerance,
            all_axes: machine.controller.feed_counts == FeedCounts::AllAxes,
            beam: None,
            power: None,
            tag: 0,
            named: None,
            begun: false,
            nominal_s: 0.0,
            pauses: 0,
            z_unknown: false,
            warnings: Vec::new(),
        };
        if let Some(blank) = blank.filter(|_| by_y) {
            meter.retrace =
                Some(Retrace::new(blank, machine, &WrappedFor::assumed(blank, machine)));
        }
        meter.path(PathControl::Continuous);
        Ok(meter)
    }

    fn burns(&self) -> bool {
        self.beam.is_some() && self.power.map_or(!self.strict, |s| s > 0.0)
    }

    #[inline]
    fn feed_kind(&self) -> MoveKind {
        if self.burns() { MoveKind::Burn } else { MoveKind::Dark }
    }

    /// How far each axis goes.
    #[inline]
    fn delta(&mut self, from: &Position, to: &Position) -> Result<[f64; AXES], Refusal> {
        let z = to.z - from.z;
        let turns = [to.a - from.a, to.b - from.b, to.c - from.c];
        let mut turn = 0.0;
        if turns != [0.0; 3] {
            turn = self.turn(turns)?;
        }
        if z != 0.0 {
            self.z_unknown |= self.machine.z.is_none();
        }
        Ok([to.x - from.x, to.y - from.y, z, turn])
    }

    /// The rotary's share, which only one letter may have.
    #[inline]
    fn turn(&mut self, [a, b, c]: [f64; 3]) -> Result<f64, Refusal> {
        let (turn, others) = match self.machine.rotary.word {
            RotaryWord::A => (a, [b, c]),
            RotaryWord::B => (b, [a, c]),
            RotaryWord::C => (c, [a, b]),
            RotaryWord::Y => (0.0, [a.abs() + b.abs(), c]),
        };
        if others != [0.0; 2] {
            return Err(self.other_rotary([a, b, c]));
        }
        if self.retrace.is_none() {
            self.first_turn();
        }
        Ok(turn)
    }

    #[cold]
    fn other_rotary(&self, turns: [f64; 3]) -> Refusal {
        let own = self.machine.rotary.word.as_str();
        let moved = ["A", "B", "C"]
            .into_iter()
            .zip(turns)
            .find(|(word, turn)| *turn != 0.0 && *word != own);
        Refusal::Untimed(format!(
            "the move turns {}, and the rotary of \"{}\" has the word {own}: what is not in the \
             machine file cannot be timed",
            moved.map_or("another axis", |(word, _)| word),
            self.machine.name
        ))
    }

    /// A rotary program: from here on lengths are those on the wall, if that is known.
    #[cold]
    fn first_turn(&mut self) {
        match self.blank {
            Some(blank) => {
                let assumed = WrappedFor::assumed(blank, self.machine);
                self.retrace = Some(Retrace::new(blank, self.machine, &assumed));
            }
            None => self.book.lengths_known = false,
        }
    }

    /// Hands a move to the planner. `flat_mm` is its length where it lies in the flat and is no
    /// straight line.
    #[inline]
    fn push(
        &mut self,
        line: u64,
        kind: MoveKind,
        (from, to): (&Position, &Position),
        delta: [f64; AXES],
        asked: Asked,
        flat_mm: Option<f64>,
    ) -> Result<bool, Refusal> {
        if self.named.is_some() || !self.begun {
            self.begin(line);
        }
        let wall_mm = match &self.retrace {
            Some(retrace) => Some(retrace.wall_mm(from, to, &mut self.hint)),
            None => flat_mm,
        };
        if F::LISTENS {
            self.book.waiting.push_back(Waiting {
                line,
                from: *from,
                to: *to,
                nominal_s: 0.0,
                beam: self.beam,
                power: self.power,
            });
        }
        let one = Move { delta, asked, kind, wall_mm, tag: self.tag };
        let pushed = self
            .planner
            .push(&one, &mut self.book)
            .map_err(|error| Refusal::Untimed(error.to_string()))?;
        self.nominal_s += pushed.nominal_s;
        if F::LISTENS {
            if pushed.length == 0.0 {
                self.book.waiting.pop_back();
            } else if let Some(last) = self.book.waiting.back_mut() {
                last.nominal_s = pushed.nominal_s;
            }
        }
        Ok(pushed.length > 0.0)
    }

    #[inline]
    fn count(&mut self, moved: bool) {
        if let Some(part) = self.book.parts.get_mut(self.tag as usize) {
            part.moves += u64::from(moved);
        }
    }

    /// The first move or dwell of a section.
    #[cold]
    fn begin(&mut self, line: u64) {
        let name = self.named.take().unwrap_or_default();
        if self.begun {
            if self.book.parts.len() > MOST_SECTIONS {
                return;
            }
            self.book.parts.push(Part::default());
            self.tag += 1;
        }
        let rest = self.book.parts.len() > MOST_SECTIONS;
        self.begun = true;
        if let Some(part) = self.book.parts.last_mut() {
            part.name = if rest { "all that follows".to_owned() } else { name };
            part.line = line;
        }
    }

    fn stop(&mut self) {
        self.planner.stop(&mut self.book);
    }

    #[inline]
    fn asked(
        &self,
        feed: Option<Feed>,
        delta: &[f64; AXES],
        linear_mm: impl Fn() -> f64,
    ) -> Result<Asked, Refusal> {
        match feed {
            Some(Feed::PerMinute(f)) if self.all_axes || delta[3] == 0.0 => {
                Ok(Asked::Speed(f / 60.0))
            }
            Some(Feed::PerMinute(f)) => {
                let linear_mm = linear_mm();
                Ok(if linear_mm > 0.0 {
                    Asked::Duration(linear_mm * 60.0 / f)
                } else {
                    Asked::Speed(f / 60.0)
                })
            }
            Some(Feed::InverseTime(f)) => Ok(Asked::Duration(60.0 / f)),
            None => Err(Refusal::Untimed(
                "a move at a feed rate, and the program has given no F so far: it cannot be timed"
                    .into(),
            )),
        }
    }

    #[inline]
    fn straight(
        &mut self,
        line: u64,
        from: &Position,
        to: &Position,
        feed: Option<Feed>,
    ) -> Result<(), Refusal> {
        let delta = self.delta(from, to)?;
        let asked = self.asked(feed, &delta, || from.linear_distance_mm(to))?;
        let moved = self.push(line, self.feed_kind(), (from, to), delta, asked, None)?;
        self.count(moved);
        Ok(())
    }

    /// An arc as equal chords, each with its share of the time asked.
    fn arc(
        &mut self,
        line: u64,
        from: &Position,
        to: &Position,
        arc: &Arc,
        feed: Option<Feed>,
    ) -> Result<(), Refusal> {
        let whole = self.delta(from, to)?;
        let length_mm = arc.length_mm(from, to);
        let all = if self.all_axes { whole[3] } else { 0.0 };
        let seconds = match self.asked(feed, &[0.0, 0.0, 0.0, 0.0], || length_mm)? {
            Asked::Speed(speed) => length_mm.hypot(all) / speed,
            Asked::Duration(seconds) => seconds,
            Asked::Limits => 0.0,
        };
        let sagitta = (self.tolerance() / arc.radius_mm(from)).min(1.0);
        let per_turn = (std::f64::consts::PI / (1.0 - sagitta).acos()).clamp(CHORDS.0, CHORDS.1);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let chords =
            (arc.sweep_rad.abs() / std::f64::consts::TAU * per_turn).ceil().max(1.0) as u32;
        let (kind, asked) = (self.feed_kind(), Asked::Duration(seconds / f64::from(chords)));
        let chord_mm = length_mm / f64::from(chords);
        let mut before = *from;
        let mut moved = false;
        self.planner.set_corners(Corners::Tolerance);
        for chord in 1..=chords {
            if chord == chords {
                self.planner.set_corners(self.corners);
            }
            let next = arc.point(from, to, f64::from(chord) / f64::from(chords));
            let delta = self.delta(&before, &next)?;
            moved |= self.push(line, kind, (&before, &next), delta, asked, Some(chord_mm))?;
            before = next;
        }
        self.count(moved);
        Ok(())
    }

    fn tolerance(&self) -> f64 {
        tolerance(self.machine)
    }

    fn path(&mut self, control: PathControl) {
        self.corners = match control {
            PathControl::ExactStop => Corners::Stop,
            PathControl::ExactPath => Corners::Exact,
            PathControl::Continuous if self.machine.controller.corner_tolerance == 0.0 => {
                Corners::Exact
            }
            PathControl::Continuous => Corners::Tolerance,
        };
        self.planner.set_corners(self.corners);
    }

    fn dwell(&mut self, line: u64, seconds: f64) {
        self.stop();
        if self.named.is_some() || !self.begun {
            self.begin(line);
        }
        self.book.clock_s += seconds;
        if let Some(part) = self.book.parts.get_mut(self.tag as usize) {
            part.dwell_s += seconds;
        }
    }

    fn comment(&mut self, line: u64, text: &[u8]) -> Result<(), Refusal> {
        if line == 1
            && let Some(wrapped) = WrappedFor::parse(text)
        {
            return self.wrapped(&wrapped.map_err(Refusal::Untimed)?);
        }
        let text = String::from_utf8_lossy(text);
        let text = text.trim();
        if !text.is_empty() && !CAUTIONS.contains(&text) {
            self.named = Some(text.chars().filter(|c| !c.is_control()).take(NAME).collect());
        }
        Ok(())
    }

    /// A program of ours: what it says of itself holds.
    fn wrapped(&mut self, wrapped: &WrappedFor) -> Result<(), Refusal> {
        self.warnings.extend(wrapped.differences(self.blank, self.machine));
        self.planner =
            planner(self.machine, true).map_err(|error| Refusal::Untimed(error.to_string()))?;
        self.planner.set_corners(self.corners);
        self.book.lengths_known = self.blank.is_some();
        self.retrace = self.blank.map(|blank| Retrace::new(blank, self.machine, wrapped));
        Ok(())
    }

    /// All that was read, with `lines` left for the reader to tell.
    pub(super) fn estimate(mut self, name: &str) -> Estimate {
        self.stop();
        let known = self.book.lengths_known;
        let length = |mm: f64| Some(mm).filter(|_| known);
        let mut totals = Totals::<AXES>::default();
        for part in &self.book.parts {
            totals.add(&part.totals);
        }
        let dark = |totals: &Totals<AXES>| totals.travel.duration_s + totals.dark.duration_s;
        let dwell_s: f64 = self.book.parts.iter().map(|part| part.dwell_s).sum();
        let burned = totals.burn.wall_mm > 0.0;
        if self.z_unknown {
            self.warnings.push(format!(
                "Z moves, and \"{}\" has no [z]: no limits of Z are counted",
                self.machine.name
            ));
        }
        if self.planner.times_full() > 0 {
            self.warnings.push(format!(
                "the look-ahead was full {} times, and a stop was planned each time: the estimate \
                 is a little long",
                self.planner.times_full()
            ));
        }
        let sections = self.book.parts.iter().filter(|part| part.moves > 0 || part.dwell_s > 0.0);
        Estimate {
            name: name.to_owned(),
            duration_s: totals.duration_s() + dwell_s,
            burn_s: totals.burn.duration_s,
            travel_s: dark(&totals),
            dwell_s,
            burn_mm: length(totals.burn.wall_mm),
            travel_mm: length(totals.travel.wall_mm + totals.dark.wall_mm),
            moves: self.book.parts.iter().map(|part| part.moves).sum(),
            lines: 0,
            nominal_s: self.nominal_s,
            pauses: self.pauses,
            feed_s: totals.burn.duration_s + totals.dark.duration_s,
            axes: self
                .book
                .letters
                .iter()
                .zip(totals.bound_s)
                .filter(|(_, bound_s)| *bound_s > 0.0)
                .map(|(axis, bound_s)| AxisTime { axis: *axis, bound_s })
                .collect(),
            surface_speed_max_mm_per_s: length(totals.greatest_wall_mm_per_s()).filter(|_| burned),
            surface_speed_mean_mm_per_s: length(totals.burn.mean_wall_mm_per_s())
                .filter(|_| burned),
            below_asked_share: totals.below_asked(),
            operations: sections
                .map(|part| Section {
                    name: part.name.clone(),
                    line: part.line,
                    duration_s: part.totals.duration_s() + part.dwell_s,
                    burn_s: part.totals.burn.duration_s,
                    travel_s: dark(&part.totals),
                    dwell_s: part.dwell_s,
                    burn_mm: length(part.totals.burn.wall_mm),
                    moves: part.moves,
                })
                .collect(),
            warnings: self.warnings,
        }
    }
}

fn tolerance(machine: &Machine) -> f64 {
    let tolerance = machine.controller.corner_tolerance;
    if tolerance > 0.0 { tolerance } else { ARC_TOLERANCE_MM }
}

fn planner(machine: &Machine, turns: bool) -> Result<Planner<AXES>, Error> {
    Planner::new(axes::limits(machine, turns), tolerance(machine)).map_err(|error| {
        Error::Setting(format!("the machine \"{}\" cannot be planned for: {error}", machine.name))
    })
}

/// Whether a line that is passed on has an M word, or is a command to the controller itself.
fn stops(kind: PassKind, text: &[u8]) -> bool {
    kind != PassKind::Known || text.contains(&b'M')
}

impl<F: Follow> Sink for Meter<'_, F> {
    type Error = Refusal;

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Straight { from, to, feed } => return self.straight(line, from, to, feed),
            Event::Power { s } => self.power = Some(s),
            Event::Travel { from, to } => {
                let delta = self.delta(from, to)?;
                let moved =
                    self.push(line, MoveKind::Travel, (from, to), delta, Asked::Limits, None)?;
                self.count(moved);
            }
            Event::Arc { from, to, ref arc, feed } => return self.arc(line, from, to, arc, feed),
            Event::Dwell { seconds } => self.dwell(line, seconds),
            Event::Beam { word } => {
                self.stop();
                self.beam = word;
            }
            Event::Path { control } => self.path(control),
            Event::Pause { .. } => {
                self.stop();
                self.pauses += 1;
            }
            Event::Pass { kind, text, .. } if stops(kind, text) => self.stop(),
            Event::Comment { text } | Event::Message { text } => return self.comment(line, text),
            _ => {}
        }
        Ok(())
    }
}
