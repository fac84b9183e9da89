//! Scan-line stretches of a flat program, known and burned anew: many parallel burns along one axis
//! at a steady step, there and back or one way, in steps of power or on and off, with gaps as S0 or
//! as travels. What is not so stays as it is, in its order.
//!
//! Rows are gathered six bytes a run; no more of the program is kept than the first rows of what
//! may be a stretch, and the rows of a few stretches that others may be joined with.

mod interlaced;
mod levels;
mod stretch;
mod untaken;

use stave_parse::gcode::Sink;
use stave_rig::Beam;
use stave_toolpath::number::fixed;
use stave_toolpath::{Event, Feed, Position};

use self::interlaced::{Burned, Held};
use self::levels::Levels;
pub(super) use self::stretch::Scanned;
use self::stretch::{AxisBurn, Kept, LEAST_ROWS, Stretch};
use self::untaken::Untaken;
use super::{Flat, RunOut};
use crate::error::Refusal;

/// So many stretches wait at the most: an engraving in parts comes in fewer. The first of more is
/// burned, and what lies between its rows later is followed.
const MOST_HELD: usize = 64;

/// What becomes of a flat program's scan lines.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum ScanLines {
    /// They are laid move by move, as all else.
    #[default]
    Follow,
    /// Their picture is scanned again, on lines along which the work stands still.
    Again,
    /// Again where that makes the rotary move less, else followed.
    Auto,
}

/// A flat program whose scan lines are looked for on the way.
#[derive(Debug)]
pub(crate) struct Rescan<'a, O> {
    pub(crate) flat: Flat<'a, O>,
    how: ScanLines,
    /// The beam as the program has it, what is kept included.
    beam: Beam,
    open: Option<Stretch>,
    /// Stretches that are at their end and not burned yet, nothing else between them: what comes
    /// may have rows between theirs.
    held: Vec<Held>,
    /// Powers and the places along rows of all that are held are numbered alike.
    levels: Levels,
    origin: f64,
    /// The beam at the end of the last: what comes after may change it, and be kept.
    beam_held: Beam,
    burned: Vec<Burned>,
    /// The machine does not stand where the program does.
    away: bool,
    /// Stretches that were followed: because the lay keeps their lines straight, and because their
    /// rows lie between those of others.
    pub(crate) followed: u64,
    between: u64,
    untaken: Untaken,
    /// Stretches that were scanned again.
    pub(crate) scanned: u64,
}

impl<'a, O: RunOut> Rescan<'a, O> {
    pub(crate) fn new(flat: Flat<'a, O>, how: ScanLines, strict: bool) -> Self {
        Self {
            flat,
            how,
            beam: Beam::new(strict),
            open: None,
            held: Vec::new(),
            levels: Levels::default(),
            origin: 0.0,
            beam_held: Beam::new(strict),
            burned: Vec::new(),
            away: false,
            followed: 0,
            between: 0,
            untaken: Untaken::default(),
            scanned: 0,
        }
    }

    /// A move as a burn along one axis, if it is one.
    fn axis_burn(
        &mut self,
        line: u64,
        (from, to): (&Position, &Position),
        feed: Option<Feed>,
    ) -> Option<AxisBurn> {
        let word = self.beam.word?;
        let still = [(from.z, to.z), (from.a, to.a), (from.b, to.b), (from.c, to.c)];
        if still.iter().any(|(a, b)| a != b) || from.z != 0.0 {
            return None;
        }
        let along_x = from.y == to.y && from.x != to.x;
        let along_y = from.x == to.x && from.y != to.y;
        if !(along_x || along_y) {
            return None;
        }
        let (a, b, at) = if along_x { (from.x, to.x, from.y) } else { (from.y, to.y, from.x) };
        let speed_mm_per_s = match feed? {
            Feed::PerMinute(f) => f / 60.0,
            Feed::InverseTime(f) => (b - a).abs() * f / 60.0,
        };
        let Some(power_s) = self.beam.power_s.filter(|s| *s > 0.0) else {
            self.untaken.no_power(line);
            return None;
        };
        (speed_mm_per_s > 0.0 && speed_mm_per_s.is_finite()).then_some(AxisBurn {
            along_x,
            from: a,
            to: b,
            at,
            speed_mm_per_s,
            power_s,
            word,
        })
    }

    /// Hands on what is not a stretch, burns what is.
    fn close(&mut self) -> Result<(), Refusal> {
        self.part()?;
        self.burn_held()
    }

    /// Ends the stretch in hand: it is handed on as it is, joined with one that is held, or held
    /// itself.
    fn part(&mut self) -> Result<(), Refusal> {
        let Some(mut stretch) = self.open.take() else { return Ok(()) };
        if let Some(kept) = stretch.kept.take() {
            self.burn_held()?;
            return self.replay(kept);
        }
        stretch.end_row();
        self.beam_held = self.beam;
        let joined = match stretch.joins.filter(|at| *at < self.held.len()) {
            Some(at) => self.held.remove(at).stretch.join(stretch),
            None => vec![stretch],
        };
        self.held.extend(joined.into_iter().map(Held::new));
        while self.held.len() > MOST_HELD {
            let first = self.held.remove(0);
            self.scan(first)?;
        }
        Ok(())
    }

    fn burn_held(&mut self) -> Result<(), Refusal> {
        std::mem::take(&mut self.held).into_iter().try_for_each(|held| self.scan(held))
    }

    fn scan(&mut self, Held { stretch, at }: Held) -> Result<(), Refusal> {
        self.burned.push(at);
        let lines = stretch.lines;
        let along = if stretch.along_x { "X" } else { "Y" };
        let scanned = stretch.scanned(self.flat.along_y(), &self.levels);
        let Some(scanned) = scanned else { return Ok(()) };
        self.flat.told.push(format!(
            "lines {} to {} are {} scan lines along {along}, {} mm apart: scanned again, on lines \
             along which the work stands still",
            lines.0,
            lines.1,
            scanned.picture.rows(),
            fixed(scanned.step_mm, 4)
        ));
        self.away = true;
        self.scanned += 1;
        self.flat.scan(scanned)?;
        // The program goes on with its own word and power.
        self.flat.event(lines.1, &Event::Beam { word: self.beam_held.word })?;
        if let Some(s) = self.beam_held.power_s {
            self.flat.event(lines.1, &Event::Power { s })?;
        }
        Ok(())
    }

    fn replay(&mut self, kept: Vec<(u64, Kept)>) -> Result<(), Refusal> {
        for (line, one) in kept {
            match one {
                Kept::Travel(from, to) => {
                    self.hand_on(line, &Event::Travel { from: &from, to: &to })?;
                }
                Kept::Straight(from, to, feed) => {
                    self.hand_on(line, &Event::Straight { from: &from, to: &to, feed })?;
                }
                Kept::Power(s) => self.hand_on(line, &Event::Power { s })?,
                Kept::Beam(word) => self.hand_on(line, &Event::Beam { word })?,
                Kept::Comment(text) => self.hand_on(line, &Event::Comment { text: &text })?,
                Kept::Message(text) => self.hand_on(line, &Event::Message { text: &text })?,
            }
        }
        Ok(())
    }

    /// On to the wall as it is; from where the program stands.
    fn hand_on(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match event {
            Event::Travel { .. } => self.away = false,
            Event::Straight { from, .. } | Event::Arc { from, .. } if self.away => {
                self.away = false;
                self.flat.event(line, &Event::Travel { from, to: from })?;
            }
            _ => {}
        }
        self.flat.event(line, event)
    }

    /// Whether a stretch that is known for one is to be scanned again.
    fn again(&self, stretch: &Stretch) -> bool {
        let along_u = stretch.along_x != self.flat.along_y();
        self.how == ScanLines::Again
            || (self.how == ScanLines::Auto && !(along_u && self.flat.keeps_lines()))
    }

    /// Where rows lie between those of a stretch that they cannot be joined with, which lines that
    /// stretch has. Where each row is burned at its own place nothing meets.
    fn lies_between(&self, stretch: &Stretch) -> Option<(u64, u64)> {
        let along_u = stretch.along_x != self.flat.along_y();
        if along_u && self.flat.keeps_lines() {
            return None;
        }
        let others = self.held.iter().enumerate().filter(|(at, _)| Some(*at) != stretch.joins);
        let mut all = self.burned.iter().chain(others.map(|(_, held)| &held.at));
        all.find(|one| one.is_parted_by(stretch)).map(|one| one.lines)
    }

    fn burn(&mut self, line: u64, burn: AxisBurn, kept: Kept) -> Result<(), Refusal> {
        if let Some(stretch) = &mut self.open
            && !stretch.takes(&burn, line, &mut self.levels)
        {
            if stretch.kept.is_some() && !stretch.is_as_fast(burn.speed_mm_per_s) {
                self.untaken.speed(line);
            }
            self.part()?;
        }
        if self.open.is_none() {
            let turns = self.held.last().is_some_and(|held| held.stretch.along_x != burn.along_x);
            if turns || !self.levels.has_room() {
                self.burn_held()?;
            }
            if self.held.is_empty() {
                (self.levels, self.origin) = (Levels::default(), burn.from);
            }
            let place = (line, self.flat.sections.now());
            self.open = Some(Stretch::new(&burn, place, (self.origin, &mut self.levels)));
        }
        let Some(stretch) = &mut self.open else { return Ok(()) };
        stretch.keep(line, kept);
        if stretch.kept.is_some() && stretch.places.len() >= LEAST_ROWS {
            return self.decide();
        }
        Ok(())
    }

    /// What becomes of a stretch whose first rows are known.
    fn decide(&mut self) -> Result<(), Refusal> {
        let Some(mut stretch) = self.open.take() else { return Ok(()) };
        let line = stretch.lines.0;
        let is_taken = if !stretch.is_steady() {
            self.untaken.uneven(line);
            false
        } else if !self.again(&stretch) {
            if self.followed == 0 {
                self.flat.told.push(format!(
                    "line {line} begins scan lines that this lay keeps straight: they are followed"
                ));
            }
            self.followed += 1;
            false
        } else {
            stretch.joins = self.held.iter().position(|held| held.may_join(&stretch));
            match self.lies_between(&stretch) {
                Some((from, to)) => {
                    if self.between == 0 {
                        self.flat.told.push(format!(
                            "line {line} begins scan lines between those of lines {from} to {to}: \
                             they are followed"
                        ));
                    }
                    self.between += 1;
                    false
                }
                None => true,
            }
        };
        let kept = if is_taken { stretch.kept.take() } else { None };
        self.open = Some(stretch);
        if !is_taken {
            return self.close();
        }
        // What the program says within a stretch stands before it.
        for (line, one) in kept.into_iter().flatten() {
            match one {
                Kept::Comment(text) => self.flat.event(line, &Event::Comment { text: &text })?,
                Kept::Message(text) => self.flat.event(line, &Event::Message { text: &text })?,
                _ => {}
            }
        }
        Ok(())
    }

    /// What the program says: within a stretch it is passed on before it, and parts nothing.
    fn say(&mut self, line: u64, event: &Event<'_>, kept: Kept) -> Result<(), Refusal> {
        match self.open.as_mut().and_then(|stretch| stretch.kept.as_mut()) {
            Some(before) => {
                before.push((line, kept));
                Ok(())
            }
            None => self.flat.event(line, event),
        }
    }
}

impl<O: RunOut> Sink for Rescan<'_, O> {
    type Error = Refusal;

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        if self.how == ScanLines::Follow {
            return self.flat.event(line, event);
        }
        self.look(line, event)
    }

    fn idle(&mut self) -> Result<(), Refusal> {
        self.flat.idle()
    }
}

impl<O: RunOut> Rescan<'_, O> {
    /// What becomes of an event where scan lines are looked for.
    fn look(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Power { s } => self.beam.power_s = Some(s),
            Event::Beam { word } => self.beam.word = word,
            _ => {}
        }
        let kept = match *event {
            Event::Straight { from, to, feed } => {
                let kept = Kept::Straight(*from, *to, feed);
                if self.beam.burns() {
                    match self.axis_burn(line, (from, to), feed) {
                        Some(burn) => return self.burn(line, burn, kept),
                        None => {
                            self.close()?;
                            return self.hand_on(line, event);
                        }
                    }
                }
                kept
            }
            Event::Travel { from, to } => Kept::Travel(*from, *to),
            Event::Power { s } => Kept::Power(s),
            Event::Beam { word } => Kept::Beam(word),
            Event::FeedRate { .. } => return Ok(()),
            Event::Comment { text } => return self.say(line, event, Kept::Comment(text.to_vec())),
            Event::Message { text } => return self.say(line, event, Kept::Message(text.to_vec())),
            _ => {
                self.close()?;
                if let Event::End { .. } = event
                    && self.scanned + self.followed + self.between == 0
                {
                    self.flat.told.extend(self.untaken.sentences());
                }
                return self.hand_on(line, event);
            }
        };
        match &mut self.open {
            Some(stretch) => {
                stretch.keep(line, kept);
                Ok(())
            }
            None => self.hand_on(line, event),
        }
    }
}
