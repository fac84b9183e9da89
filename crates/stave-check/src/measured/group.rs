//! The readings of one place: what they tell around the turn, and which goes with no other.

use stave_setup::{FAR_FROM_ROUND, Gauge, Reading};

use super::Gauges;
use super::around::{Around, At};
use super::pool::count;
use super::trend::median;

/// Places nearer than this are one, mm.
const SAME_PLACE_MM: f64 = 1e-6;
/// Readings of one place that lie further apart than so many times the gauge's limit are not of the
/// same thing.
const TORN: f64 = 8.0;
/// However good the gauge is said to be, ware is not rounder than this, mm.
const LEAST_TORN_MM: f64 = 0.3;
/// With so many readings of one place the middle one says more than their mean if one was misread.
pub(super) const FEWEST_WITH_MIDDLE: usize = 3;
/// So many diameters around the turn and no fewer show which of them goes with no ellipse.
const FEWEST_TO_WEED: usize = 5;

/// All values of one place, as diameters in mm.
#[derive(Clone, Default)]
pub(super) struct Group {
    pub(super) at_mm: f64,
    /// What an oval that was read around the turn adds is taken off.
    pub(super) caliper: Vec<f64>,
    /// The same as they were read.
    as_read: Vec<f64>,
    pub(super) tape: Vec<f64>,
    /// Diameters and dial readings of which the turn is known, as read.
    across: Vec<At>,
    dial: Vec<At>,
    pub(super) around: Around,
    /// Whether a diameter was read at a turn that nobody named.
    anywhere: bool,
    /// How far apart all of them lie, and what was left out of them.
    pub(super) read_spread_mm: f64,
    pub(super) left_out: Vec<(Gauge, f64)>,
    pub(super) read_around: bool,
}

impl Group {
    pub(super) fn gauge(&self) -> Option<Gauge> {
        match (self.caliper.is_empty(), self.tape.is_empty()) {
            (false, true) => Some(Gauge::Caliper),
            (true, false) => Some(Gauge::Tape),
            _ => None,
        }
    }

    pub(super) fn spread_mm(&self) -> f64 {
        let all = || self.caliper.iter().chain(&self.tape).copied();
        all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min)
    }

    /// How far apart readings of this place may lie, mm of diameter.
    fn together_mm(&self, gauges: &Gauges) -> f64 {
        let limit_mm = gauges.diameter_limit_mm(self.gauge().unwrap_or(Gauge::Tape));
        let by_oval_mm = if self.anywhere { 0.5 * self.around.oval_mm() } else { 0.0 };
        by_oval_mm + (TORN * limit_mm).max(LEAST_TORN_MM)
    }

    pub(super) fn is_torn(&self, gauges: &Gauges) -> bool {
        self.spread_mm() > self.together_mm(gauges)
    }

    pub(super) fn has_size(&self) -> bool {
        !(self.caliper.is_empty() && self.tape.is_empty())
    }

    /// Finds what the readings around the turn tell, takes an oval off the diameters, and leaves
    /// out what does not go with most of them.
    fn settle(&mut self, gauges: &Gauges) {
        self.read_around = !self.across.is_empty();
        self.as_read.clone_from(&self.caliper);
        let plain = self.clone();
        *self = plain.fitted();
        self.read_spread_mm = self.spread_mm();
        if self.across.len() >= FEWEST_TO_WEED && (self.is_torn(gauges) || self.is_no_ware()) {
            let without = |k: usize| {
                let mut rest = plain.clone();
                let left = rest.across.remove(k);
                rest.left_out.push((Gauge::Caliper, left.value_mm));
                let fitted = rest.fitted();
                let sound = !fitted.is_torn(gauges) && !fitted.is_no_ware();
                sound.then_some(Self { read_spread_mm: self.read_spread_mm, ..fitted })
            };
            // Of two at one turn the ellipse fits to either: the rounder ware is the likelier.
            let odd_mm = |rest: &Self| rest.spread_mm() + rest.around.oval_mm();
            let best = (0..plain.across.len())
                .filter_map(without)
                .min_by(|a, b| odd_mm(a).total_cmp(&odd_mm(b)));
            if let Some(best) = best {
                *self = best;
            }
        }
        if self.across.len() >= FEWEST_WITH_MIDDLE && self.is_no_ware() {
            // No ware is of that shape, so what was read says nothing of the turn.
            let mut flat = plain;
            let across = std::mem::take(&mut flat.across);
            flat.caliper.extend(across.iter().map(|at| at.value_mm));
            flat.as_read.clone_from(&flat.caliper);
            *self = flat.fitted();
            self.read_spread_mm = self.spread_mm();
        }
        self.weed(gauges);
    }

    fn fitted(&self) -> Self {
        let mut fitted = self.clone();
        let around = Around::of(&self.across, &self.dial);
        let round = self.across.iter().map(|at| at.value_mm - around.wider_mm(at.turn_rad));
        fitted.caliper.extend(round);
        fitted.as_read.extend(self.across.iter().map(|at| at.value_mm));
        Self { around, ..fitted }
    }

    /// Whether the diameters across make an oval as no turned ware has.
    fn is_no_ware(&self) -> bool {
        let middle_mm = median(&mut self.across.iter().map(|at| at.value_mm).collect::<Vec<f64>>());
        self.around.oval_mm() / 4.0 > FAR_FROM_ROUND * 0.5 * middle_mm
    }

    /// Leaves out readings far from the middle one where most lie near it: one digit wrong would
    /// go into a mean.
    fn weed(&mut self, gauges: &Gauges) {
        let mut all: Vec<f64> = self.caliper.iter().chain(&self.tape).copied().collect();
        if all.len() < FEWEST_WITH_MIDDLE || !self.is_torn(gauges) {
            return;
        }
        let (middle_mm, together_mm) = (median(&mut all), self.together_mm(gauges));
        let near = |value: &f64| (value - middle_mm).abs() <= together_mm;
        if 2 * all.iter().filter(|value| near(value)).count() <= all.len() {
            return;
        }
        let read = self.caliper.iter().zip(&self.as_read).filter(|(value, _)| !near(value));
        self.left_out.extend(read.map(|(_, read)| (Gauge::Caliper, *read)));
        let taped = self.tape.iter().filter(|value| !near(value));
        self.left_out.extend(taped.map(|value| (Gauge::Tape, value * std::f64::consts::PI)));
        self.caliper.retain(near);
        self.tape.retain(near);
    }

    /// The values by caliper, and how many degrees of freedom of theirs went into the oval: an oval
    /// that the dial alone told took none, nor does the one diameter across that sets the size.
    pub(super) fn calipers(&self) -> (&[f64], f64) {
        let most = count(&self.across) - 1.0;
        (&self.caliper, f64::from(self.around.oval_known).min(most).max(0.0))
    }
}

/// Readings by place, each settled by itself.
pub(super) fn groups(readings: &[Reading], gauges: &Gauges) -> Vec<Group> {
    let mut sorted: Vec<&Reading> = readings.iter().collect();
    sorted.sort_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
    let mut groups: Vec<Group> = Vec::new();
    for reading in sorted {
        if groups.last().is_none_or(|last| reading.at_mm - last.at_mm > SAME_PLACE_MM) {
            groups.push(Group { at_mm: reading.at_mm, ..Group::default() });
        }
        let Some(group) = groups.last_mut() else { continue };
        let values = reading.values_mm.iter().copied();
        let sizes = values.clone().filter_map(|value| reading.gauge.diameter_mm(value));
        let at = |turn_rad| values.map(move |value_mm| At { turn_rad, value_mm });
        match (reading.gauge, reading.turn_rad) {
            (Gauge::Tape, _) => group.tape.extend(sizes),
            (Gauge::Caliper, None) => {
                group.anywhere = true;
                group.caliper.extend(sizes);
            }
            (Gauge::Caliper, Some(turn_rad)) => group.across.extend(at(turn_rad)),
            (Gauge::Dial, turn_rad) => group.dial.extend(at(turn_rad.unwrap_or(0.0))),
        }
    }
    groups.iter_mut().for_each(|group| group.settle(gauges));
    groups
}
