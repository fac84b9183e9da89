//! Stretches of scan lines over the same place, with rows between each other's rows: an engraving
//! may come as every second row and then the others, or in more parts than two.
//!
//! On lines of its own each part would be a picture of coarse rows, and its lines would fall where
//! those of the others do. Parts that follow each other are joined to one picture; what cannot be
//! joined is followed.

use super::stretch::{SAME_ROW_MM, STRAY_MM, STRAY_SHARE, Stretch};

/// The rows of one stretch may be parted by so many of others, and one more.
const MOST_PARTS: u32 = 8;

/// Where a stretch was burned.
#[derive(Clone, Debug)]
pub(super) struct Burned {
    along_x: bool,
    first_at: f64,
    way: f64,
    step_mm: f64,
    /// Rows that burn, counted from the first.
    rows: Vec<u64>,
    across: (f64, f64),
    along: (f64, f64),
    pub(super) lines: (u64, u64),
}

fn range(one: f64, other: f64) -> (f64, f64) {
    (one.min(other), one.max(other))
}

fn meet(one: (f64, f64), other: (f64, f64)) -> bool {
    one.0 < other.1 && other.0 < one.1
}

impl Burned {
    fn of(stretch: &Stretch) -> Self {
        let Stretch { along_x, first_at, way, along, lines, .. } = *stretch;
        let rows = stretch.rows.iter().map(|row| row.0).collect();
        let across = range(first_at, stretch.row_at);
        let step_mm = stretch.even_step_mm();
        Self { along_x, first_at, way, step_mm, rows, across, along, lines }
    }

    /// Whether rows of a stretch whose first rows are known lie over the same place, between its
    /// rows or where it has none.
    pub(super) fn is_parted_by(&self, stretch: &Stretch) -> bool {
        if self.along_x != stretch.along_x
            || !meet(self.across, range(stretch.first_at, stretch.row_at))
            || !meet(self.along, stretch.along)
        {
            return false;
        }
        let mut shared = false;
        for at in &stretch.places {
            let steps = (at - self.first_at) * self.way / self.step_mm;
            let whole = steps.round();
            if (steps - whole).abs() * self.step_mm > STRAY_SHARE * self.step_mm + STRAY_MM {
                return true;
            }
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked")]
            let row = whole as u64;
            shared |= whole >= 0.0 && self.rows.binary_search(&row).is_ok();
        }
        !shared
    }
}

/// A stretch that is at its end and waits for what may lie between its rows.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) stretch: Stretch,
    pub(super) at: Burned,
}

impl Held {
    pub(super) fn new(stretch: Stretch) -> Self {
        Self { at: Burned::of(&stretch), stretch }
    }

    /// Whether a stretch whose first rows are known may be joined with it.
    pub(super) fn may_join(&self, next: &Stretch) -> bool {
        self.at.is_parted_by(next) && self.stretch.may_join(next)
    }
}

impl Stretch {
    /// Its step as all of its rows have it, not the first alone.
    fn even_step_mm(&self) -> f64 {
        match self.rows.last().map_or(self.steps, |last| last.0) {
            0 => self.step_mm,
            #[expect(clippy::cast_precision_loss, reason = "rows are far fewer than 2^53")]
            last => (self.row_at - self.first_at).abs() / last as f64,
        }
    }

    /// Into how many parts its step must go for rows at these places to lie at whole parts of it,
    /// and their numbers then; `None` where there is no such number, or where one of them is a row
    /// that it has.
    fn numbers_between(
        &self,
        places: &(impl Iterator<Item = f64> + Clone),
    ) -> Option<(u32, Vec<i64>)> {
        let step_mm = self.even_step_mm();
        (1..=MOST_PARTS).find_map(|parts| {
            let part_mm = step_mm / f64::from(parts);
            let stray_mm = (2.0 * STRAY_SHARE * part_mm + STRAY_MM).max(SAME_ROW_MM);
            let number = |at: f64| {
                let steps = (at - self.first_at) * self.way / part_mm;
                let whole = steps.round();
                #[expect(clippy::cast_possible_truncation, reason = "it saturates")]
                let number = whole as i64;
                ((steps - whole).abs() * part_mm <= stray_mm).then_some(number)
            };
            let numbers: Vec<i64> = places.clone().map(number).collect::<Option<_>>()?;
            let has = |number: &i64| {
                let Ok(number) = u64::try_from(*number) else { return false };
                let (row, rest) = (number / u64::from(parts), number % u64::from(parts));
                rest == 0 && self.rows.binary_search_by_key(&row, |row| row.0).is_ok()
            };
            (!numbers.iter().any(has)).then_some((parts, numbers))
        })
    }

    /// Whether the first rows of another lie at whole parts of its step, burned alike.
    fn may_join(&self, next: &Stretch) -> bool {
        self.word == next.word
            && self.is_as_fast(next.speed_mm_per_s)
            && self.numbers_between(&next.places.iter().copied()).is_some()
    }

    /// The two as one, where the other [may join](Self::may_join); both as they are where later
    /// rows of it do not fit.
    pub(super) fn join(mut self, next: Stretch) -> Vec<Stretch> {
        let step_mm = next.even_step_mm();
        #[expect(clippy::cast_precision_loss, reason = "rows are far fewer than 2^53")]
        let place = |row: u64| next.first_at + next.way * step_mm * row as f64;
        let places = next.rows.iter().map(|row| place(row.0));
        let Some((parts, numbers)) = self.numbers_between(&places) else {
            return vec![self, next];
        };
        let before = numbers.iter().copied().min().unwrap_or(0).min(0);
        let last = self.steps.saturating_mul(u64::from(parts));
        let after = numbers.iter().copied().max().and_then(|most| u64::try_from(most).ok());
        // Its ends are the first and last row of either.
        let ends = range(next.first_at, next.row_at);
        let (first, end) = if self.way > 0.0 { ends } else { (ends.1, ends.0) };
        if before < 0 {
            self.first_at = first;
        }
        self.steps = last.max(after.unwrap_or(0)).saturating_add(before.unsigned_abs());
        if after.is_some_and(|after| after > last) {
            self.row_at = end;
        }
        for (number, _) in &mut self.rows {
            *number = number.saturating_mul(parts.into()).saturating_add(before.unsigned_abs());
        }
        let rows = numbers
            .iter()
            .zip(next.rows)
            .map(|(number, (_, row))| (number.saturating_sub(before).unsigned_abs(), row));
        self.rows.extend(rows);
        self.rows.sort_by_key(|row| row.0);
        self.step_mm = self.even_step_mm();
        self.along = (self.along.0.min(next.along.0), self.along.1.max(next.along.1));
        self.most_s = self.most_s.max(next.most_s);
        self.lines.1 = next.lines.1;
        self.moves += next.moves;
        vec![self]
    }
}
