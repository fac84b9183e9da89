//! Where a run is focused, and how far its burns lie from there.

use stave_rig::{FocusAt, MadeFor};
use stave_setup::{FocusMode, Setup};
use stave_toolpath::number::fixed;
use stave_wall::{Crest, WallShape};

use super::Judge;
use super::findings::mm;
use super::seen::Seen;
use crate::finding::{Code, Finding};
use crate::focus::{FAR_FOR_LEVEL_MM, level_place};
use crate::level::level_of;
use crate::optics;

/// As near as this a place is where the burns end, mm.
const NEAR_MM: f64 = 0.5;
/// What the rounding of words and of what is set by hand may add to a defocus, mm.
pub(super) const ROUNDING_MM: f64 = 2e-3;
/// Farther than any place on a wall, mm.
const FAR_MM: f64 = 1e6;
/// The spot at which a burn is no longer a matter of taste, in spots.
const SPOILED: f64 = 2.0;

/// The height a run is focused at, and where on the wall that is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FocusPlace {
    /// As [`Crest::height_mm`] has it, mm.
    pub height_mm: f64,
    /// Where that is done.
    pub place: FocusAt,
    /// How far the burns lie from it at the most, mm, and where along the axis.
    pub defocus_mm: f64,
    /// Where along the axis that is, mm.
    pub worst_at_mm: f64,
}

/// Where a run is focused by hand whatever it burns: where the focus follows, at the zero; where
/// the job says; where line 1 of a walk says.
fn told(setup: &Setup, made_for: &MadeFor) -> Option<(f64, Option<FocusAt>)> {
    let (blank, zero) = (&setup.blank, made_for.zero);
    let height = |place: FocusAt| place.height_mm(blank, made_for.tilt_rad, zero.1);
    if let Some(place) = FocusAt::asked(setup, made_for.focus, zero) {
        return Some((height(place), Some(place)));
    }
    let said = made_for.focus_at;
    let said = said.map(|said| FocusAt::of(blank, said.at_mm, said.turn_rad.unwrap_or(zero.1)));
    // A walk says the height, and on ware that is not true the place beside it.
    let told = made_for.focus_height_mm.map(|height_mm| (height_mm, said));
    told.or_else(|| said.map(|place| (height(place), Some(place))))
}

/// What so much out of focus is told as, and how many times as wide the spot is there: it grows
/// with the hyperbola of a Gaussian beam (ISO 11146-1), by √2 within the Rayleigh length.
pub(super) fn weighed(defocus_mm: f64, rayleigh_mm: f64) -> (Code, f64) {
    let growth = (defocus_mm / rayleigh_mm).hypot(1.0);
    (if growth > SPOILED { Code::DefocusFar } else { Code::Defocus }, growth)
}

impl Judge<'_> {
    /// Where the run is focused: by what it burns, the middle of the narrowest strip that holds it,
    /// unless somebody says where. The head is focused by hand with Z at 0, so where the program's
    /// own Z takes it elsewhere the focus still lies on the wall.
    #[must_use]
    pub fn focus(&self) -> FocusPlace {
        let zero = self.made_for.zero;
        let told = told(self.setup, &self.made_for);
        let Some((low, high)) = self.burned_heights() else {
            let at_zero = FocusAt::of(&self.setup.blank, zero.0, zero.1);
            let (height_mm, place) = match told {
                Some((height_mm, Some(place))) => (height_mm, place),
                Some((height_mm, None)) => {
                    let found = self.place_beside(height_mm, (zero.0, zero.0));
                    (height_mm, found.unwrap_or(at_zero))
                }
                None => (self.height_at(at_zero), at_zero),
            };
            let worst_at_mm = place.at_mm;
            return FocusPlace { height_mm, place, defocus_mm: 0.0, worst_at_mm };
        };
        let middle_mm = 0.5 * (low.0 + high.0);
        let height_mm = told.map_or_else(|| self.on_wall_mm(middle_mm), |(height_mm, _)| height_mm);
        let found = told.and_then(|(_, place)| place);
        let found = found.or_else(|| self.place_between(height_mm));
        let found = found
            .or_else(|| Some(FocusAt { at_mm: self.nearest_at_mm(height_mm)?, turn_rad: None }));
        let place = found.unwrap_or(FocusAt { at_mm: low.1, turn_rad: None });
        let (down, up) = (height_mm - low.0, high.0 - height_mm);
        let worst = if up > down { (up, high.1) } else { (down, low.1) };
        FocusPlace { height_mm, place, defocus_mm: worst.0.abs(), worst_at_mm: worst.1 }
    }

    pub(super) fn height_at(&self, place: FocusAt) -> f64 {
        place.height_mm(&self.setup.blank, self.made_for.tilt_rad, self.made_for.zero.1)
    }

    /// Where the program's own Z stands while it burns, mm, where that is not at the focus.
    pub(super) fn own_z(&self) -> Option<String> {
        let (least, most) = self.lifts.ends()?;
        let z = |seen: Seen| mm(self.rig.z_sign * seen.value + 0.0);
        let (least, most) = (z(least), z(most));
        Some(if least == most { least } else { format!("{least} to {most}") })
    }

    /// The stretches of the rail that burn, under a lift or not.
    fn burned_rail(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.swept.all().iter().chain(self.passed.all()).copied()
    }

    /// A height that is to be in focus, mm, brought to where the wall that burns is: there the head
    /// can be focused.
    fn on_wall_mm(&self, height_mm: f64) -> f64 {
        let lifted = self.lifts.ends().and_then(|_| self.burned_at_mm());
        let Some((from, to)) = lifted else { return height_mm };
        let uneven_mm = self.setup.blank.running.most_mm(from, to);
        let heights = self.burned_rail().filter_map(|(from, to)| self.heights_over(from, to));
        let ends = heights.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
        match ends {
            Some((least, most)) => height_mm.max(least - uneven_mm).min(most + uneven_mm),
            None => height_mm,
        }
    }

    /// The least and the greatest height of what burns, less the head's lift, each with its place
    /// along the axis; mm.
    fn burned_heights(&self) -> Option<((f64, f64), (f64, f64))> {
        let mut heights: Option<((f64, f64), (f64, f64))> = None;
        let mut take = |height: f64, at_mm: f64| {
            let (low, high) = heights.get_or_insert(((height, at_mm), (height, at_mm)));
            if height < low.0 {
                *low = (height, at_mm);
            }
            if height > high.0 {
                *high = (height, at_mm);
            }
        };
        // What was looked at turn by turn is in `lifted`.
        let is_true = self.setup.blank.running.is_true();
        for &(from, to) in self.swept.all().iter().filter(|_| is_true) {
            let Some((least, most)) = self.heights_over(from, to) else { continue };
            for height in [least, most] {
                let along_mm = self.crest.along_at_height(from, to, height);
                take(height, self.crest.at_mm(along_mm));
            }
        }
        if let Some((least, most)) = self.lifted.ends() {
            for seen in [least, most] {
                let at_mm = seen.stand.place.map_or_else(
                    || self.crest.at_mm(self.rig.rail_mm(&seen.stand.words)),
                    |place| place.at_mm,
                );
                take(seen.value, at_mm);
            }
        }
        heights
    }

    /// The least and the greatest height of the crest over a stretch of the rail, mm. Of a curved
    /// wall by the sections that the level goes by: the line of points gives them a little too
    /// wide, and a set-up that just fits would be told of.
    fn heights_over(&self, from: f64, to: f64) -> Option<(f64, f64)> {
        let wall = self.rig.wall;
        let on_wall = |along_mm: f64| {
            let s_mm = wall.s_of_at(self.crest.at_mm(along_mm));
            self.rig.on_wall(s_mm).then_some(s_mm)
        };
        let is_curved = wall.shape() == WallShape::Smooth && self.crest.grows();
        let ends = on_wall(from).zip(on_wall(to)).filter(|_| is_curved);
        let Some((a, b)) = ends else { return self.crest.heights_mm(from, to) };
        let between = wall.sections_between(a.min(b), a.max(b));
        let ends = [a, b].map(|s_mm| wall.section(s_mm, &mut 0));
        let all = between.iter().map(|(_, section)| section).chain(&ends);
        let heights = all.map(|section| self.rig.crest.height_mm(section));
        Some(heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), height| {
            (least.min(height), most.max(height))
        }))
    }

    /// Where a person finds the focus: a place whose crest has that height, one that burns unless
    /// the wall is steep there and less so beside it. Of places that are as good the one nearest to
    /// the middle of what burns: on a rim nothing can be focused.
    fn nearest_at_mm(&self, height_mm: f64) -> Option<f64> {
        let wall = self.rig.wall;
        let crest = &self.rig.crest;
        let mut best: Option<(f64, f64)> = None;
        let ends = self.burned_rail().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
        let middle_mm = 0.5 * (ends.0 + ends.1);
        let mut stretches: Vec<(f64, f64)> = self.burned_rail().collect();
        let off_middle = |one: &(f64, f64)| (0.5 * (one.0 + one.1) - middle_mm).abs();
        stretches.sort_by(|a, b| off_middle(a).total_cmp(&off_middle(b)));
        for (from, to) in stretches {
            let mut places = vec![0.5 * (from + to)];
            places.extend(self.crest.crossings_of_height(from, to, height_mm));
            places.push(self.crest.along_at_height(from, to, height_mm));
            for along_mm in places {
                let at_mm = self.crest.at_mm(along_mm);
                let section = wall.section(wall.s_of_at(at_mm), &mut 0);
                let off_mm = (crest.height_mm(&section) - height_mm).abs();
                let steep = crest.height_rate(&section) / crest.along_rate(&section);
                let cost = (off_mm * 1e3).round() * FAR_MM + FAR_FOR_LEVEL_MM * steep.abs();
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, at_mm));
                }
            }
        }
        let (cost, at_mm) = best?;
        match level_place(wall, crest, height_mm, (at_mm, at_mm)) {
            Some((other, beside_mm)) if other < cost => Some(beside_mm),
            _ => Some(at_mm),
        }
    }

    /// How far burns lie from the focus, against what the lens allows.
    pub(super) fn defocus(
        &self,
        focus: &FocusPlace,
        findings: &mut Vec<Finding>,
        told: &mut Vec<String>,
    ) {
        if self.burns == 0 {
            return;
        }
        let setup = self.setup;
        let defocus_mm = focus.defocus_mm;
        let Some(lens) = &setup.job.lens else {
            told.push(format!(
                "the machine names no lens, so that nothing says whether the burns, up to {} mm \
                 out of focus, are sharp; add a [[lens]]",
                mm(defocus_mm)
            ));
            return;
        };
        let figures = optics(lens, setup.machine.beam.as_ref());
        let Some(depth_mm) = figures.half_depth_mm else {
            told.push(format!(
                "nothing tells the depth of focus of lens \"{}\", and the burns are up to {} mm \
                 out of focus; give the lens `depth_of_focus`, or the machine a [beam]",
                lens.name,
                mm(defocus_mm)
            ));
            return;
        };
        if defocus_mm <= depth_mm + ROUNDING_MM {
            return;
        }
        findings.extend(self.other_sign(depth_mm));
        let uneven_mm = self
            .burned_at_mm()
            .map_or(0.0, |(least, most)| setup.blank.running.most_mm(least, most));
        let of_that = match uneven_mm > 0.0 {
            true => {
                let most = mm(uneven_mm);
                format!(" (the ware, not round or not true, goes in and out by up to ±{most} mm)")
            }
            false => String::new(),
        };
        let (code, growth) = weighed(defocus_mm, figures.rayleigh_mm.unwrap_or(depth_mm));
        let message = format!(
            "burns are up to {} mm out of focus{of_that} where lens \"{}\" is sharp within ±{} mm: \
             the spot is {} times as wide as in focus; {}",
            mm(defocus_mm),
            lens.name,
            mm(depth_mm),
            fixed(growth, 1),
            match self.own_z() {
                Some(z) => format!(
                    "the program's own Z, {z} mm where it burns, counts from where the head is \
                     focused, Z 0: leave it out, or shift it"
                ),
                None => self.better_focus(defocus_mm),
            }
        );
        let finding = Finding::new(code, message);
        let finding = match self.burned_turn_rad(focus.worst_at_mm) {
            Some(turn_rad) => finding.at(focus.worst_at_mm, turn_rad),
            None => finding.along(focus.worst_at_mm),
        };
        findings.push(finding.figures(defocus_mm, depth_mm));
    }

    /// A turn at which something burns at a place.
    fn burned_turn_rad(&self, at_mm: f64) -> Option<f64> {
        let (least, most) = self.at.ends()?;
        let near = |end: &Seen| (end.value - at_mm).abs() < NEAR_MM;
        let end = [least, most].into_iter().find(near);
        let turn = |end: Seen| match end.stand.place {
            Some(place) => place.turn_rad,
            None => self.rig.turn_rad(&end.stand.words),
        };
        end.map(turn).or_else(|| self.turns.near(at_mm))
    }

    /// How far what burns lies from the middle of its heights at a tilt, mm.
    fn best_defocus_mm(&self, tilt_rad: f64) -> Option<f64> {
        let (wall, crest) = (self.rig.wall, Crest::new(tilt_rad));
        let mut ends: Option<(f64, f64)> = None;
        for &(from, to) in self.swept.all() {
            let [a, b] = [from, to].map(|along_mm| wall.s_of_at(self.crest.at_mm(along_mm)));
            let within = wall.sections_between(a.min(b), a.max(b));
            let outer = [a, b].map(|s_mm| wall.section(s_mm, &mut 0));
            for section in within.iter().map(|(_, section)| section).chain(&outer) {
                let height = crest.height_mm(section);
                let (low, high) = ends.unwrap_or((height, height));
                ends = Some((low.min(height), high.max(height)));
            }
        }
        ends.map(|(low, high)| 0.5 * (high - low))
    }

    /// A tilt that is right but for its sign: the burns would lie within half as much with the
    /// other.
    fn other_sign(&self, depth_mm: f64) -> Option<Finding> {
        let tilt_rad = self.made_for.tilt_rad;
        if tilt_rad == 0.0 || self.made_for.focus == FocusMode::Follow {
            return None;
        }
        let (now_mm, other_mm) =
            (self.best_defocus_mm(tilt_rad)?, self.best_defocus_mm(-tilt_rad)?);
        if now_mm <= depth_mm || other_mm > 0.5 * now_mm {
            return None;
        }
        let message = format!(
            "the tilt is {}°, and {}° would leave ±{} mm of defocus instead of ±{} mm: positive \
             raises the end with the larger `at`; likely the sign is the wrong way round",
            fixed(tilt_rad.to_degrees(), 2),
            fixed(-tilt_rad.to_degrees(), 2),
            mm(other_mm),
            mm(now_mm)
        );
        Some(Finding::new(Code::Plausible, message).figures(now_mm, other_mm))
    }

    /// What would bring the burns nearer to the focus.
    fn better_focus(&self, defocus_mm: f64) -> String {
        let setup = self.setup;
        let mut advice = Vec::new();
        if let Some((least, most)) = self.burned_at_mm()
            && let Ok(level) = level_of(
                (&setup.blank.wall, &setup.blank.running),
                &setup.machine,
                (least, most),
                false,
            )
        {
            let set = &level.set.sharpness;
            let left_mm = set.defocus_mm + level.uneven_mm;
            if left_mm < 0.9 * defocus_mm {
                let deg = fixed(set.tilt_rad.to_degrees(), 1);
                let how = if (set.tilt_rad - self.made_for.tilt_rad).abs() > 1e-3 {
                    format!("a tilt of {deg}° with the focus at {} mm", mm(set.focus_at_mm))
                } else {
                    format!("focusing at {} mm", mm(set.focus_at_mm))
                };
                advice.push(format!("{how} would leave ±{} mm", mm(left_mm)));
            }
            let sharp: Vec<&str> = level
                .lenses
                .iter()
                .filter(|lens| lens.optics.half_depth_mm.is_some_and(|depth| depth >= left_mm))
                .map(|lens| lens.name.as_str())
                .collect();
            if !sharp.is_empty() {
                advice.push(format!("sharp there with lens {}", sharp.join(", ")));
            }
        }
        if setup.machine.z.is_some() && self.made_for.focus == FocusMode::Fixed {
            advice.push("focus = \"follow\" keeps Z on the wall".to_owned());
        }
        if advice.is_empty() {
            advice.push(
                "burn a shorter stretch of the wall at a time, each with its own tilt and focus"
                    .to_owned(),
            );
        }
        advice.join("; ")
    }
}
