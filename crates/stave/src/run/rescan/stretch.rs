//! A stretch of scan lines, from its first burn to the picture it comes to.

use kurbo::Affine;
use stave_toolpath::{BeamWord, Feed, Picture, PictureRow, Position};

use super::levels::Levels;

/// So many rows are a stretch; fewer may be anything.
pub(super) const LEAST_ROWS: usize = 8;
/// What may be a stretch is kept up to so many events.
const MOST_KEPT: usize = 1 << 20;
/// Rows that lie this much nearer than their step are the same row, mm: exporters round.
pub(super) const SAME_ROW_MM: f64 = 1e-3;
/// Rows may stray so much from an even step: a share of it, and what decimals round, mm.
pub(super) const STRAY_SHARE: f64 = 0.05;
pub(super) const STRAY_MM: f64 = 6e-4;
/// So many rows without a burn part two stretches.
const MOST_BLANK: f64 = 200.0;
/// Speeds this near are one.
pub(super) const SAME_SPEED: f64 = 0.01;

/// A thing of the program that is not decided yet.
#[derive(Clone, Debug)]
pub(super) enum Kept {
    Travel(Position, Position),
    Straight(Position, Position, Option<Feed>),
    Power(f64),
    Beam(Option<BeamWord>),
    Comment(Vec<u8>),
    Message(Vec<u8>),
}

/// What may be, or is, a stretch of scan lines.
#[derive(Debug)]
pub(super) struct Stretch {
    /// Rows run along X, else along Y.
    pub(super) along_x: bool,
    /// What is to be burned as it is if this comes to nothing; `None` once it is a stretch.
    pub(super) kept: Option<Vec<(u64, Kept)>>,
    /// Rows that are done: how many steps from the first, and what burns.
    pub(super) rows: Vec<(u64, PictureRow)>,
    /// For rows that are not decided yet, where they lie.
    pub(super) places: Vec<f64>,
    /// The row in hand: where it lies, which way it goes, its runs in order along the axis.
    pub(super) row_at: f64,
    pub(super) row_way: f64,
    pub(super) runs: Vec<(f64, f64, u16)>,
    /// The first row, the way of the rows, their step once it is known.
    pub(super) first_at: f64,
    pub(super) way: f64,
    pub(super) step_mm: f64,
    pub(super) steps: u64,
    pub(super) origin: f64,
    pub(super) speed_mm_per_s: f64,
    pub(super) word: BeamWord,
    pub(super) lines: (u64, u64),
    /// Moves of the program that it stands for.
    pub(super) moves: u64,
    /// From where to where along the axis it burns.
    pub(super) along: (f64, f64),
    /// The greatest power it burns with, S.
    pub(super) most_s: f64,
    /// The section of the program that its first burn stands in.
    pub(super) section: u32,
    /// Its rows lie between those of the stretch at this place among those that are held, and are
    /// joined with them once all are known.
    pub(super) joins: Option<usize>,
}

/// A burn along an axis.
#[derive(Clone, Copy, Debug)]
pub(super) struct AxisBurn {
    pub(super) along_x: bool,
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) at: f64,
    pub(super) speed_mm_per_s: f64,
    pub(super) power_s: f64,
    pub(super) word: BeamWord,
}

/// A picture that a stretch comes to.
pub(in crate::run) struct Scanned {
    pub(in crate::run) picture: Picture,
    /// Whether its rows run along the flat `u`.
    pub(in crate::run) along_u: bool,
    pub(in crate::run) step_mm: f64,
    pub(in crate::run) speed_mm_per_s: f64,
    pub(in crate::run) word: BeamWord,
    /// The greatest power, S, and for each level its share of it.
    pub(in crate::run) most_s: f64,
    pub(in crate::run) shares: Vec<f64>,
    pub(in crate::run) moves: u64,
    pub(in crate::run) line: u64,
    pub(in crate::run) section: u32,
}

impl Stretch {
    /// Begins with a burn. Places along the rows are kept from `origin` on: stretches that are to
    /// be joined have one origin and one numbering of powers.
    pub(super) fn new(
        burn: &AxisBurn,
        (line, section): (u64, u32),
        (origin, levels): (f64, &mut Levels),
    ) -> Self {
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
            origin,
            speed_mm_per_s: burn.speed_mm_per_s,
            word: burn.word,
            lines: (line, line),
            moves: 0,
            along: (f64::INFINITY, f64::NEG_INFINITY),
            most_s: 0.0,
            section,
            joins: None,
        };
        // There is nothing yet that it could go back over, and whoever begins sees to the room.
        let _ = stretch.add(burn, levels);
        stretch
    }

    pub(super) fn keep(&mut self, line: u64, one: Kept) {
        self.moves += 1;
        if let Some(kept) = &mut self.kept {
            kept.push((line, one));
        }
    }

    pub(super) fn is_as_fast(&self, speed_mm_per_s: f64) -> bool {
        (speed_mm_per_s / self.speed_mm_per_s - 1.0).abs() <= SAME_SPEED
    }

    /// Takes a burn in if it goes on with the stretch.
    pub(super) fn takes(&mut self, burn: &AxisBurn, line: u64, levels: &mut Levels) -> bool {
        let too_much = self.kept.as_ref().is_some_and(|kept| kept.len() >= MOST_KEPT);
        let alike = burn.along_x == self.along_x && burn.word == self.word;
        if too_much || !alike || !self.is_as_fast(burn.speed_mm_per_s) {
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
        if !self.add(burn, levels) {
            return false;
        }
        self.lines.1 = line;
        true
    }

    /// Adds a run to the row in hand; false where the row goes back over itself.
    fn add(&mut self, burn: &AxisBurn, levels: &mut Levels) -> bool {
        let way = (burn.to - burn.from).signum();
        let ahead = self.runs.last().is_none_or(|last| {
            let end = if way > 0.0 { last.1 } else { last.0 };
            (burn.from - end) * way >= -1e-9
        });
        if way != self.row_way || !ahead {
            return false;
        }
        let Some(level) = levels.of(burn.power_s) else { return false };
        let (low, high) = (burn.from.min(burn.to), burn.from.max(burn.to));
        self.runs.push((low, high, level));
        self.along = (self.along.0.min(low), self.along.1.max(high));
        self.most_s = self.most_s.max(burn.power_s);
        true
    }

    pub(super) fn end_row(&mut self) {
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
    pub(super) fn is_steady(&mut self) -> bool {
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
    pub(super) fn scanned(self, along_y: bool, levels: &Levels) -> Option<Scanned> {
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
        let most_s = self.most_s;
        Some(Scanned {
            picture: Picture::of_rows(flat * own, rows),
            along_u: self.along_x != along_y,
            step_mm,
            speed_mm_per_s: self.speed_mm_per_s,
            word: self.word,
            most_s,
            shares: levels.shares(most_s),
            moves: self.moves,
            line: self.lines.0,
            section: self.section,
        })
    }
}
