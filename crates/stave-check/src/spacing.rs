//! Scan lines against the spot and against the motor's steps.

/// Lines are uneven where neighbouring gaps differ by more than this share of their width (common
/// practice, no source).
const UNEVEN: f64 = 0.05;
/// How far from a whole number of steps still counts as whole.
const WHOLE: f64 = 0.005;

/// How scan lines, one below the other around the work, fall on the motor's steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepSpacing {
    /// Steps from line to line.
    pub steps: f64,
    /// The next closer and wider spacing of a whole number of steps, mm on the wall; the closer one
    /// is missing below one step.
    pub even_mm: (Option<f64>, f64),
    /// Whether neighbouring gaps differ so much that it shows as bands.
    pub uneven: bool,
}

/// How lines `spacing_mm` apart fall on the steps of a rotary that makes `steps_per_turn`, where
/// the wall has `radius_mm`.
///
/// Every line is rounded to a step, so gaps are the whole numbers of steps below and above the
/// spacing asked; over `k` steps that is a difference of `1/k`.
///
/// ```
/// // 12800 steps a turn are 0.0216 mm each on a wall of 88 mm: a tenth of a millimetre is 4.63
/// // of them.
/// let found = stave_check::step_spacing(0.1, 44.0, 12_800.0);
/// assert!(found.uneven && (found.steps - 4.63).abs() < 0.005);
/// let (closer, wider) = found.even_mm;
/// assert!((closer.unwrap() - 0.0864).abs() < 5e-5 && (wider - 0.1080).abs() < 5e-5);
/// // A whole number of them makes no bands.
/// assert!(!stave_check::step_spacing(wider, 44.0, 12_800.0).uneven);
/// ```
#[must_use]
pub fn step_spacing(spacing_mm: f64, radius_mm: f64, steps_per_turn: f64) -> StepSpacing {
    let step_mm = std::f64::consts::TAU * radius_mm / steps_per_turn;
    let steps = spacing_mm / step_mm;
    let whole = (steps - steps.round()).abs() <= WHOLE;
    let closer = if whole { steps.round() } else { steps.floor() };
    let wider = if whole { steps.round() } else { steps.ceil() }.max(1.0);
    StepSpacing {
        steps,
        even_mm: ((closer >= 1.0).then_some(closer * step_mm), wider * step_mm),
        uneven: !(whole && steps > 0.5) && steps * UNEVEN < 1.0,
    }
}

/// Finds scan lines among burns: lines in one direction that step aside by the same little way
/// again and again, straight or fanned out by a lay.
///
/// Coordinates are mm, the first along the axis, the second around. Lines are told by where they
/// cross a place that a first line went over; they may come in any number of parts.
#[derive(Clone, Debug, Default)]
pub struct ScanFinder {
    /// Lines along the axis, and around it.
    ways: [Way; 2],
}

/// The lines of one direction.
#[derive(Clone, Debug, Default)]
struct Way {
    /// The line that goes on, in one move or many.
    run: Run,
    /// Where crossings are looked for.
    gate_mm: Option<f64>,
    /// The line that goes on has set the gate, in its middle.
    setting: bool,
    /// How many lines went by beside the gate.
    beside: u32,
    /// Where the last line crossed it.
    crossing_mm: Option<f64>,
    steps: Vec<(f64, u64)>,
    /// The most by which a line leans, mm over a mm.
    lean: f64,
}

/// Moves that follow each other the same way: a line as far as it has come.
#[derive(Clone, Copy, Debug, Default)]
struct Run {
    from: (f64, f64),
    to: (f64, f64),
    /// It was counted among the lines that go by beside the gate, or has crossed it.
    counted: bool,
}

impl Run {
    fn length_mm(&self) -> f64 {
        (self.to.0 - self.from.0).abs()
    }

    /// Takes in the next part; false where it is the first of another line.
    fn goes_on(&mut self, from: (f64, f64), to: (f64, f64)) -> bool {
        let meets = (from.0 - self.to.0).abs() <= SAME_MM && (from.1 - self.to.1).abs() <= SAME_MM;
        let same_way = (to.0 > from.0) == (self.to.0 > self.from.0);
        let goes_on = meets && same_way && self.from != self.to;
        if goes_on {
            self.to = to;
        } else {
            *self = Self { from, to, counted: false };
        }
        goes_on
    }
}

/// Scan lines that were found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scan {
    /// Whether the lines run along the axis, so that they step around the work.
    pub along_axis: bool,
    /// From line to line where they were looked at, mm: for lines around, mm of meridian.
    pub spacing_mm: f64,
    /// The place across which they were looked at: along the axis for lines along it, mm.
    pub at_mm: f64,
    /// Whether the lines keep one turn (or place), so that they fan out as the wall widens.
    pub level: bool,
    /// How many steps from line to line were of this width.
    pub lines: u64,
}

/// A line shorter than this is no scan line, mm.
const LEAST_LENGTH_MM: f64 = 0.5;
/// Lines further apart than this are no area, mm.
const MOST_SPACING_MM: f64 = 1.0;
/// A line that leans more than this, mm over a mm, is not of this direction.
const MOST_LEAN: f64 = 0.25;
/// Lines that lean less than this keep their turn.
const LEVEL: f64 = 1e-4;
/// So many lines beside the gate, and it is set anew.
const MOST_BESIDE: u32 = 64;
/// So many equal steps make an area.
const LEAST_LINES: u64 = 8;
/// Two steps are the same within this share, or this many mm (what rounded words may differ by).
const SAME_SHARE: f64 = 0.01;
const SAME_MM: f64 = 5e-4;
/// More different steps than this are no scan.
const MOST_KINDS: usize = 64;

impl ScanFinder {
    /// Takes a straight burn; `s_mm` is how far along the meridian its ends lie: lines around are
    /// told by that, since on a wall that widens they lie evenly apart there and nowhere else.
    #[inline]
    pub fn burn(&mut self, from: (f64, f64), to: (f64, f64), s_mm: (f64, f64)) {
        let (along, around) = ((to.0 - from.0).abs(), (to.1 - from.1).abs());
        if around <= MOST_LEAN * along {
            self.ways[0].line(from, to, along, around);
        } else if along <= MOST_LEAN * around {
            self.ways[1].line((from.1, s_mm.0), (to.1, s_mm.1), around, along);
        }
    }

    /// Takes a straight dark move at a feed, which may be a part of a line that does not burn
    /// there.
    pub fn dark(&mut self, from: (f64, f64), to: (f64, f64), s_mm: (f64, f64)) {
        let (along, around) = ((to.0 - from.0).abs(), (to.1 - from.1).abs());
        if around <= MOST_LEAN * along {
            self.ways[0].dark(from, to);
        } else if along <= MOST_LEAN * around {
            self.ways[1].dark((from.1, s_mm.0), (to.1, s_mm.1));
        }
    }

    /// The scans that there are, at most one in each direction: the commonest step, if it is common
    /// enough.
    #[must_use]
    pub fn found(&self) -> Vec<Scan> {
        let scan = |(index, way): (usize, &Way)| {
            let all: u64 = way.steps.iter().map(|(_, count)| count).sum();
            let (spacing_mm, lines) = *way.steps.iter().max_by_key(|(_, count)| *count)?;
            (lines >= LEAST_LINES && 2 * lines >= all).then_some(Scan {
                along_axis: index == 0,
                spacing_mm,
                at_mm: way.gate_mm.unwrap_or_default(),
                level: way.lean < LEVEL,
                lines,
            })
        };
        self.ways.iter().enumerate().filter_map(scan).collect()
    }
}

impl Way {
    /// A part of a line: from, to, the first coordinate along it.
    #[inline]
    fn line(&mut self, from: (f64, f64), to: (f64, f64), long_mm: f64, aside_mm: f64) {
        let goes_on = self.run.goes_on(from, to);
        self.setting &= goes_on;
        if self.setting {
            return self.set_gate();
        }
        match self.gate_mm {
            Some(gate) if (from.0 < gate) != (to.0 < gate) => {
                self.run.counted = true;
                self.cross(from, to, gate, aside_mm / long_mm);
            }
            _ if !self.run.counted && self.run.length_mm() >= LEAST_LENGTH_MM => self.beside(),
            _ => {}
        }
    }

    /// A dark part: a line goes through the gate where it does not burn, too. What leans is the way
    /// to the next line.
    fn dark(&mut self, from: (f64, f64), to: (f64, f64)) {
        // The gate stands where the line burns: it begins with its first burn.
        let is_lit = self.run.from != self.run.to;
        if !(is_lit && self.run.goes_on(from, to)) {
            self.run = Run { from: to, to, counted: false };
            self.setting = false;
        }
        let level = (to.1 - from.1).abs() <= LEVEL * (to.0 - from.0).abs();
        if let Some(gate) = self.gate_mm.filter(|_| level && !self.setting)
            && (from.0 < gate) != (to.0 < gate)
        {
            self.run.counted = true;
            self.cross(from, to, gate, 0.0);
        }
    }

    /// A line that is long enough to be one, and does not cross the gate so far.
    fn beside(&mut self) {
        self.run.counted = true;
        self.beside += 1;
        if self.gate_mm.is_none() || self.beside > MOST_BESIDE {
            self.beside = 0;
            self.setting = true;
            self.set_gate();
        }
    }

    /// The gate stands in the middle of the line that sets it.
    fn set_gate(&mut self) {
        let Run { from, to, .. } = self.run;
        self.gate_mm = Some(0.5 * (from.0 + to.0));
        self.crossing_mm = Some(0.5 * (from.1 + to.1));
    }

    fn cross(&mut self, from: (f64, f64), to: (f64, f64), gate: f64, lean: f64) {
        self.beside = 0;
        self.lean = self.lean.max(lean);
        let here = from.1 + (to.1 - from.1) * (gate - from.0) / (to.0 - from.0);
        if let Some(before) = self.crossing_mm {
            let step = (here - before).abs();
            if step <= SAME_MM {
                return;
            }
            // A step of just that much is one whatever its words are rounded to.
            if step <= MOST_SPACING_MM + SAME_MM {
                self.note(step);
            }
        }
        self.crossing_mm = Some(here);
    }

    fn note(&mut self, step: f64) {
        let same = |known: f64| (step - known).abs() <= SAME_MM.max(SAME_SHARE * known);
        if let Some((_, count)) = self.steps.iter_mut().find(|(known, _)| same(*known)) {
            *count += 1;
        } else if self.steps.len() < MOST_KINDS {
            self.steps.push((step, 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a straight can, where a place along the axis is as far along the meridian.
    fn burn(lines: &mut ScanFinder, from: (f64, f64), to: (f64, f64)) {
        lines.burn(from, to, (from.0, to.0));
    }

    #[test]
    fn steps_between_lines_by_hand() {
        // Of 1/100 mm each: 100 steps a turn of 1 mm.
        let of = |spacing_mm| step_spacing(spacing_mm, 0.5 / std::f64::consts::PI, 100.0);
        let (closer, wider) = of(0.03).even_mm;
        assert!(!of(0.03).uneven && (of(0.03).steps - 3.0).abs() < 1e-9);
        assert!((closer.unwrap() - 0.03).abs() < 1e-12 && (wider - 0.03).abs() < 1e-12);
        let (closer, wider) = of(0.035).even_mm;
        assert!(of(0.035).uneven);
        assert!((closer.unwrap() - 0.03).abs() < 1e-12 && (wider - 0.04).abs() < 1e-12);
        // Closer than one step there is nothing.
        let (closer, wider) = of(0.004).even_mm;
        assert!(of(0.004).uneven && closer.is_none() && (wider - 0.01).abs() < 1e-12);
    }

    #[test]
    fn scan_lines_are_told_from_drawing() {
        // Wherever along the axis they lie.
        for at in [-30.0, 0.0, 400.0] {
            let mut lines = ScanFinder::default();
            for k in 0..30 {
                let v = 0.1 * f64::from(k);
                // Each line in two parts, to and fro.
                burn(&mut lines, (at, v), (at + 10.0, v));
                burn(&mut lines, (at + 12.0, v), (at + 20.0, v));
            }
            let found = lines.found();
            assert_eq!(found.len(), 1);
            let scan = found[0];
            assert!(scan.along_axis && (scan.spacing_mm - 0.1).abs() < 1e-9 && scan.lines == 29);
            assert!(scan.level);
        }
        let mut drawing = ScanFinder::default();
        for k in 0..30 {
            let v = f64::from(k * k) * 0.001;
            burn(&mut drawing, (0.0, v), (10.0, v));
            burn(&mut drawing, (10.0, v), (10.0, v + 3.0));
        }
        assert!(drawing.found().is_empty());
    }

    /// Lines fanned out as `true-width` has it on a cone of 30 to 40 mm over 60 mm, to and fro,
    /// each in moves of `part_mm`; as the judge has them: along the axis, and turns on 40 mm.
    fn fanned(part_mm: f64, spacing_mm: f64, lines: u32) -> ScanFinder {
        let mut scan = ScanFinder::default();
        let radius = |at: f64| 30.0 + 10.0 * at / 60.0;
        let parts = (60.0 / part_mm).round();
        for k in 0..lines {
            let v = 4.0 + spacing_mm * f64::from(k);
            let at = |part: f64| {
                let at = if k % 2 == 0 { part } else { parts - part } * 60.0 / parts;
                (at, v / radius(at) * 40.0)
            };
            let mut part = 0.0;
            while part < parts {
                burn(&mut scan, at(part), at(part + 1.0));
                part += 1.0;
            }
        }
        scan
    }

    #[test]
    fn lines_fanned_out_and_graded_are_told_with_their_spacing() {
        for part_mm in [0.1, 0.3, 1.0, 5.0] {
            let found = fanned(part_mm, 0.1, 80).found();
            assert_eq!(found.len(), 1, "in parts of {part_mm} mm: {found:?}");
            let scan = found[0];
            assert!(scan.along_axis && !scan.level, "{scan:?}");
            assert!(scan.lines >= 77, "in parts of {part_mm} mm: {scan:?}");
            // At the gate, turns on 40 mm are wider by 40 over the radius there.
            let radius = 30.0 + 10.0 * scan.at_mm / 60.0;
            let spacing_mm = scan.spacing_mm * radius / 40.0;
            assert!((spacing_mm - 0.1).abs() < 1e-3, "{spacing_mm}");
        }
    }

    /// A picture: each line burns here and there, most of them not where the first one has its
    /// middle, and is dark between, with its ways in and out.
    #[test]
    fn lines_are_counted_where_they_are_dark_too() {
        let mut scan = ScanFinder::default();
        for k in 0..60_u32 {
            let v = 0.3 * f64::from(k);
            let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
            let at = |x: f64| (sign * x, v);
            let from = -8.0 + f64::from(k * 37 % 11);
            let mut ends = [-12.0, from, from + 1.5, from + 2.5, from + 4.0, 12.0].map(at).to_vec();
            // The way to the next line leans.
            ends.push((sign * 16.0, v + 0.3));
            for (part, pair) in ends.windows(2).enumerate() {
                let (a, b) = (pair[0], pair[1]);
                if part == 1 || part == 3 {
                    burn(&mut scan, a, b);
                } else {
                    scan.dark(a, b, (a.0, b.0));
                }
            }
        }
        let found = scan.found();
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].spacing_mm - 0.3).abs() < 1e-9 && found[0].lines >= 57, "{found:?}");
    }

    #[test]
    fn lines_around_are_told_as_well_as_lines_along() {
        for (part_mm, spacing_mm) in [(0.1, 0.08), (0.1, 0.25), (2.0, 0.08)] {
            let mut scan = ScanFinder::default();
            let parts = (30.0_f64 / part_mm).round();
            for k in 0..60 {
                let u = 5.0 + spacing_mm * f64::from(k);
                let at = |part: f64| (u, if k % 2 == 0 { part } else { parts - part } * part_mm);
                let mut part = 0.0;
                while part < parts {
                    burn(&mut scan, at(part), at(part + 1.0));
                    part += 1.0;
                }
            }
            let found = scan.found();
            assert_eq!(found.len(), 1, "{part_mm} {spacing_mm}");
            assert!(!found[0].along_axis && found[0].level && found[0].lines == 59, "{found:?}");
            assert!((found[0].spacing_mm - spacing_mm).abs() < 1e-9);
        }
    }

    /// On a ball lines around lie evenly apart along the meridian, and not along the axis.
    #[test]
    fn lines_around_a_ball_are_told_with_their_spacing() {
        let mut scan = ScanFinder::default();
        for k in 0..100 {
            let s = 0.2 * f64::from(k);
            let along = 40.0 * (s / 40.0 - 0.3).sin();
            scan.burn((along, -10.0), (along, 10.0), (s, s));
        }
        let found = scan.found();
        assert_eq!(found.len(), 1);
        assert!(!found[0].along_axis && (found[0].spacing_mm - 0.2).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn short_moves_of_a_drawing_are_no_scan() {
        // A wave in chords of a tenth of a millimetre, and hatching by hand: no equal steps.
        let mut scan = ScanFinder::default();
        for k in 0..4000 {
            let at = |k: i32| (0.1 * f64::from(k), 3.0 * (0.02 * f64::from(k)).sin());
            burn(&mut scan, at(k), at(k + 1));
        }
        for k in 0..40 {
            let v = 0.07 * f64::from(k) + 0.04 * f64::from(k % 7) + 0.03 * f64::from(k % 5);
            burn(&mut scan, (0.0, v), (0.3, v));
        }
        assert!(scan.found().is_empty(), "{:?}", scan.found());
    }

    #[test]
    fn less_than_a_step_is_uneven_and_many_steps_never_are() {
        let fine = step_spacing(0.01, 44.0, 12_800.0);
        assert!(fine.uneven && fine.even_mm.0.is_none());
        assert!(!step_spacing(1.0, 44.0, 12_800.0).uneven);
    }
}
