//! Scan-line stretches of a flat program, known and burned anew: many parallel burns along one axis
//! at a steady step, there and back or one way, in steps of power or on and off, with gaps as S0 or
//! as travels. What is not so stays as it is, in its order.
//!
//! Rows are gathered six bytes a run; no more of the program is kept than the first rows of what
//! may be a stretch.

use std::collections::HashMap;

use kurbo::Affine;
use stave_parse::gcode::Sink;
use stave_rig::Beam;
use stave_toolpath::number::fixed;
use stave_toolpath::{BeamWord, Event, Feed, Picture, PictureRow, Position};

use super::{Flat, RunOut};
use crate::error::Refusal;

/// So many rows are a stretch; fewer may be anything.
const LEAST_ROWS: usize = 8;
/// What may be a stretch is kept up to so many events.
const MOST_KEPT: usize = 1 << 20;
/// Rows that lie this much nearer than their step are the same row, mm: exporters round.
const SAME_ROW_MM: f64 = 1e-3;
/// Rows may stray so much from an even step: a share of it, and what decimals round, mm.
const STRAY_SHARE: f64 = 0.05;
const STRAY_MM: f64 = 6e-4;
/// So many rows without a burn part two stretches.
const MOST_BLANK: f64 = 200.0;
/// Powers of a whole S below this have their levels at hand.
const MOST_WHOLE: usize = 1 << 14;
/// Speeds this near are one.
const SAME_SPEED: f64 = 0.01;

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

/// A thing of the program that is not decided yet.
#[derive(Clone, Copy, Debug)]
enum Kept {
    Travel(Position, Position),
    Straight(Position, Position, Option<Feed>),
    Power(f64),
    Beam(Option<BeamWord>),
}

/// What may be, or is, a stretch of scan lines.
#[derive(Debug)]
struct Stretch {
    /// Rows run along X, else along Y.
    along_x: bool,
    /// What is to be burned as it is if this comes to nothing; `None` once it is a stretch.
    kept: Option<Vec<(u64, Kept)>>,
    /// Rows that are done: how many steps from the first, and what burns.
    rows: Vec<(u64, PictureRow)>,
    /// For rows that are not decided yet, where they lie.
    places: Vec<f64>,
    /// The row in hand: where it lies, which way it goes, its runs in order along the axis.
    row_at: f64,
    row_way: f64,
    runs: Vec<(f64, f64, u16)>,
    /// The first row, the way of the rows, their step once it is known.
    first_at: f64,
    way: f64,
    step_mm: f64,
    steps: u64,
    origin: f64,
    speed_mm_per_s: f64,
    word: BeamWord,
    levels: HashMap<u64, u16>,
    /// For each power that is a whole number of S below a bound its level; 0 where it has none yet.
    whole: Vec<u16>,
    powers_s: Vec<f64>,
    lines: (u64, u64),
    /// Moves of the program that it stands for.
    moves: u64,
}

/// A burn along an axis.
#[derive(Clone, Copy, Debug)]
struct AxisBurn {
    along_x: bool,
    from: f64,
    to: f64,
    at: f64,
    speed_mm_per_s: f64,
    power_s: f64,
    word: BeamWord,
}

/// A picture that a stretch comes to.
pub(crate) struct Scanned {
    pub(crate) picture: Picture,
    /// Whether its rows run along the flat `u`.
    pub(crate) along_u: bool,
    pub(crate) step_mm: f64,
    pub(crate) speed_mm_per_s: f64,
    pub(crate) word: BeamWord,
    /// The greatest power, S, and for each level its share of it.
    pub(crate) most_s: f64,
    pub(crate) shares: Vec<f64>,
    pub(crate) moves: u64,
    pub(crate) line: u64,
}

/// A flat program whose scan lines are looked for on the way.
#[derive(Debug)]
pub(crate) struct Rescan<'a, O> {
    pub(crate) flat: Flat<'a, O>,
    how: ScanLines,
    /// The beam as the program has it, what is kept included.
    beam: Beam,
    open: Option<Stretch>,
    /// The machine does not stand where the program does.
    away: bool,
    followed: u64,
    /// Stretches that were scanned again.
    pub(crate) scanned: u64,
}

impl<'a, O: RunOut> Rescan<'a, O> {
    pub(crate) fn new(flat: Flat<'a, O>, how: ScanLines, strict: bool) -> Self {
        let beam = Beam::new(strict);
        Self { flat, how, beam, open: None, away: false, followed: 0, scanned: 0 }
    }

    /// A move as a burn along one axis, if it is one.
    fn axis_burn(&self, from: &Position, to: &Position, feed: Option<Feed>) -> Option<AxisBurn> {
        let (word, power_s) = (self.beam.word?, self.beam.power_s.filter(|s| *s > 0.0)?);
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
        let Some(mut stretch) = self.open.take() else { return Ok(()) };
        if let Some(kept) = stretch.kept.take() {
            return self.replay(kept);
        }
        stretch.end_row();
        let lines = stretch.lines;
        let along = if stretch.along_x { "X" } else { "Y" };
        let scanned = stretch.scanned(self.flat.along_y());
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
        self.flat.event(lines.1, &Event::Beam { word: self.beam.word })?;
        if let Some(s) = self.beam.power_s {
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

    fn burn(&mut self, line: u64, burn: AxisBurn, kept: Kept) -> Result<(), Refusal> {
        if let Some(stretch) = &mut self.open
            && !stretch.takes(&burn, line)
        {
            self.close()?;
        }
        match &mut self.open {
            None => {
                let mut stretch = Stretch::new(&burn, line);
                stretch.keep(line, kept);
                self.open = Some(stretch);
            }
            Some(stretch) => stretch.keep(line, kept),
        }
        let Some(stretch) = &mut self.open else { return Ok(()) };
        if stretch.kept.is_some() && stretch.places.len() >= LEAST_ROWS {
            if !stretch.is_steady() {
                return self.close();
            }
            let Some(stretch) = &self.open else { return Ok(()) };
            if !self.again(stretch) {
                let lines = stretch.lines;
                if self.followed == 0 {
                    self.flat.told.push(format!(
                        "line {} begins scan lines that this lay keeps straight: they are followed",
                        lines.0
                    ));
                }
                self.followed += 1;
                return self.close();
            }
            if let Some(stretch) = &mut self.open {
                stretch.kept = None;
            }
        }
        Ok(())
    }
}

impl Stretch {
    fn new(burn: &AxisBurn, line: u64) -> Self {
        let mut stretch = Self {
            along_x: burn.along_x,
            kept: Some(Vec::new()),
            rows: Vec::new(),
            places: vec![burn.at],
            row_at: burn.at,
            row_way: (burn.to - burn.from).signum(),
            runs: Vec::new(),
            first_at: burn.at,
            way: 0.0,
            step_mm: f64::INFINITY,
            steps: 0,
            origin: burn.from,
            speed_mm_per_s: burn.speed_mm_per_s,
            word: burn.word,
            levels: HashMap::new(),
            whole: Vec::new(),
            powers_s: vec![0.0],
            lines: (line, line),
            moves: 0,
        };
        let _ = stretch.add(burn);
        stretch
    }

    fn keep(&mut self, line: u64, one: Kept) {
        self.moves += 1;
        if let Some(kept) = &mut self.kept {
            kept.push((line, one));
        }
    }

    /// Takes a burn in if it goes on with the stretch.
    fn takes(&mut self, burn: &AxisBurn, line: u64) -> bool {
        let too_much = self.kept.as_ref().is_some_and(|kept| kept.len() >= MOST_KEPT);
        let alike = burn.along_x == self.along_x
            && burn.word == self.word
            && (burn.speed_mm_per_s / self.speed_mm_per_s - 1.0).abs() <= SAME_SPEED;
        if too_much || !alike {
            return false;
        }
        let gap = burn.at - self.row_at;
        if gap.abs() > SAME_ROW_MM {
            if self.way != 0.0 && gap.signum() != self.way {
                return false;
            }
            let decided = self.kept.is_none();
            let steps = gap.abs() / self.step_mm;
            let whole = steps.round().max(1.0);
            if decided {
                let stray = (gap.abs() - whole * self.step_mm).abs();
                if whole > MOST_BLANK || stray > STRAY_SHARE * self.step_mm + STRAY_MM {
                    return false;
                }
            }
            self.end_row();
            self.way = gap.signum();
            self.row_at = burn.at;
            self.row_way = (burn.to - burn.from).signum();
            if decided {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let whole = whole as u64;
                self.steps += whole;
            } else {
                self.places.push(burn.at);
                self.steps += 1;
            }
        }
        if !self.add(burn) {
            return false;
        }
        self.lines.1 = line;
        true
    }

    /// Adds a run to the row in hand; false where the row goes back over itself.
    fn add(&mut self, burn: &AxisBurn) -> bool {
        let way = (burn.to - burn.from).signum();
        let ahead = self.runs.last().is_none_or(|last| {
            let end = if way > 0.0 { last.1 } else { last.0 };
            (burn.from - end) * way >= -1e-9
        });
        if way != self.row_way || !ahead {
            return false;
        }
        let Some(level) = self.level(burn.power_s) else { return false };
        let (low, high) = (burn.from.min(burn.to), burn.from.max(burn.to));
        self.runs.push((low, high, level));
        true
    }

    /// The level that stands for a power; more powers than there are levels are none that a
    /// controller tells apart.
    fn level(&mut self, power_s: f64) -> Option<u16> {
        // Nearly every program has whole numbers.
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "it saturates")]
        let whole = power_s as usize;
        #[expect(clippy::cast_precision_loss, reason = "it was a number of S")]
        let is_whole = whole as f64 == power_s;
        let known = self.whole.get(whole).copied().filter(|level| is_whole && *level > 0);
        if known.is_some() {
            return known;
        }
        if let Some(level) = self.levels.get(&power_s.to_bits()) {
            return Some(*level);
        }
        let level = u16::try_from(self.powers_s.len()).ok()?;
        self.levels.insert(power_s.to_bits(), level);
        self.powers_s.push(power_s);
        if is_whole && whole < MOST_WHOLE {
            self.whole.resize(self.whole.len().max(whole + 1), 0);
            if let Some(known) = self.whole.get_mut(whole) {
                *known = level;
            }
        }
        Some(level)
    }

    fn end_row(&mut self) {
        if self.row_way < 0.0 {
            self.runs.reverse();
        }
        #[allow(clippy::cast_possible_truncation)]
        let own = |place: f64| (place - self.origin) as f32;
        let Some(first) = self.runs.first() else { return };
        let (start, mut end) = (own(first.0), first.0);
        let mut runs = Vec::with_capacity(2 * self.runs.len());
        for (from, to, level) in &self.runs {
            if from - end > 1e-9 {
                runs.push((own(*from), 0));
            }
            runs.push((own(*to), *level));
            end = *to;
        }
        self.rows.push((self.steps, PictureRow::new(start, runs)));
        self.runs.clear();
    }

    /// Whether the first rows lie at whole steps; the step and the rows' numbers are known then.
    fn is_steady(&mut self) -> bool {
        let pairs = self.places.iter().zip(self.places.iter().skip(1));
        let gaps: Vec<f64> = pairs.map(|(one, next)| (next - one).abs()).collect();
        let least = gaps.iter().copied().fold(f64::INFINITY, f64::min);
        let (mut steps, mut numbers) = (0_u64, vec![0_u64]);
        for gap in &gaps {
            let whole = (gap / least).round();
            if whole > MOST_BLANK || (gap - whole * least).abs() > STRAY_SHARE * least + STRAY_MM {
                return false;
            }
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let whole = whole as u64;
            steps += whole;
            numbers.push(steps);
        }
        let way: f64 = gaps.iter().sum();
        #[allow(clippy::cast_precision_loss)]
        let step_mm = way / steps as f64;
        self.step_mm = step_mm;
        for ((number, _), known) in self.rows.iter_mut().zip(&numbers) {
            *number = *known;
        }
        self.steps = steps;
        true
    }

    /// The picture it comes to.
    fn scanned(self, along_y: bool) -> Option<Scanned> {
        let last = self.rows.last()?.0;
        #[allow(clippy::cast_precision_loss)]
        let step_mm = (self.row_at - self.first_at).abs() / last as f64;
        if !(step_mm > 0.0 && step_mm.is_finite()) {
            return None;
        }
        let count = usize::try_from(last).ok()? + 1;
        let mut rows: Vec<PictureRow> = Vec::with_capacity(count);
        for (number, row) in self.rows {
            rows.resize(usize::try_from(number).ok()?, PictureRow::default());
            rows.push(row);
        }
        // The middle of row 0 lies where its burns did.
        let across = self.way * step_mm;
        let own = if self.along_x {
            Affine::new([1.0, 0.0, 0.0, across, self.origin, self.first_at - 0.5 * across])
        } else {
            Affine::new([0.0, 1.0, across, 0.0, self.first_at - 0.5 * across, self.origin])
        };
        let flat =
            if along_y { Affine::new([0.0, -1.0, 1.0, 0.0, 0.0, 0.0]) } else { Affine::IDENTITY };
        let most_s = self.powers_s.iter().copied().fold(0.0, f64::max);
        Some(Scanned {
            picture: Picture::of_rows(flat * own, rows),
            along_u: self.along_x != along_y,
            step_mm,
            speed_mm_per_s: self.speed_mm_per_s,
            word: self.word,
            most_s,
            shares: self.powers_s.iter().map(|s| s / most_s).collect(),
            moves: self.moves,
            line: self.lines.0,
        })
    }
}

impl<O: RunOut> Sink for Rescan<'_, O> {
    type Error = Refusal;

    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        if self.how == ScanLines::Follow {
            return self.flat.event(line, event);
        }
        match *event {
            Event::Power { s } => self.beam.power_s = Some(s),
            Event::Beam { word } => self.beam.word = word,
            _ => {}
        }
        let kept = match *event {
            Event::Straight { from, to, feed } => {
                let kept = Kept::Straight(*from, *to, feed);
                if self.beam.burns() {
                    match self.axis_burn(from, to, feed) {
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
            _ => {
                self.close()?;
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

    fn idle(&mut self) -> Result<(), Refusal> {
        self.flat.idle()
    }
}
