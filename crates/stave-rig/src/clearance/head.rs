//! The head: what of it may come near the work, part by part.

use stave_setup::{Along, Carriage, Machine, Nozzle, Toward};

/// A part of the head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeadPart {
    /// The nozzle at its tip.
    Tip,
    /// A step of the nozzle, by its place in the list.
    Step(usize),
    /// The carriage.
    Carriage,
}

/// What a part covers, seen from above, mm from the beam along the rail and across it. Across grows
/// to the side on which larger turns lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Footprint {
    Round { radius_mm: f64 },
    Box { along_mm: (f64, f64), across_mm: (f64, f64) },
}

impl Footprint {
    /// How far along it reaches from the beam over what lies between two places across; `None`
    /// where it is not over them.
    pub(crate) fn reach_mm(&self, across_mm: (f64, f64)) -> Option<(f64, f64)> {
        match *self {
            Self::Round { radius_mm } => {
                let nearest = across_mm.0.max(-across_mm.1).max(0.0);
                let left = radius_mm * radius_mm - nearest * nearest;
                (left >= 0.0).then(|| (-left.sqrt(), left.sqrt()))
            }
            Self::Box { along_mm, across_mm: own } => {
                (own.0 <= across_mm.1 && own.1 >= across_mm.0).then_some(along_mm)
            }
        }
    }
}

/// A part: everything over its footprint from a height on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Part {
    pub(crate) what: HeadPart,
    /// Its underside above the nozzle's tip, mm.
    pub(crate) above_mm: f64,
    pub(crate) footprint: Footprint,
}

/// The head with a nozzle fitted: a stack of upright cylinders, and the carriage over them.
///
/// ```
/// use stave_rig::Head;
/// // A nozzle of radius 9, and 14 from 25 mm above its tip on; a carriage 80 by 50 mm over it.
/// let head = Head::cylinder(9.0).with_step(25.0, 14.0);
/// let head = head.with_carriage((-30.0, 50.0), (-25.0, 25.0), 45.0);
/// # let _ = head;
/// ```
#[derive(Clone, Debug)]
pub struct Head {
    pub(crate) parts: Vec<Part>,
    steps: usize,
}

impl Head {
    /// A nozzle that is one cylinder of a radius, mm.
    #[must_use]
    pub fn cylinder(radius_mm: f64) -> Self {
        let footprint = Footprint::Round { radius_mm };
        Self { parts: vec![Part { what: HeadPart::Tip, above_mm: 0.0, footprint }], steps: 0 }
    }

    /// The nozzle has another radius from a height above its tip on; both mm.
    #[must_use]
    pub fn with_step(mut self, above_mm: f64, radius_mm: f64) -> Self {
        let what = HeadPart::Step(self.steps);
        self.steps += 1;
        // What is no wider than what is below it meets nothing first.
        let hidden = self.parts.iter().any(|part| {
            let Footprint::Round { radius_mm: below } = part.footprint else { return false };
            below >= radius_mm && part.above_mm <= above_mm
        });
        if !hidden {
            let footprint = Footprint::Round { radius_mm };
            self.parts.push(Part { what, above_mm, footprint });
        }
        self
    }

    /// With a box over the work, so far from the beam along the rail and across it, its underside
    /// so far above the tip; all mm. Across grows to the side on which larger turns lie.
    #[must_use]
    pub fn with_carriage(
        mut self,
        along_mm: (f64, f64),
        across_mm: (f64, f64),
        above_mm: f64,
    ) -> Self {
        let footprint = Footprint::Box { along_mm, across_mm };
        self.parts.push(Part { what: HeadPart::Carriage, above_mm, footprint });
        self
    }

    /// A nozzle under the carriage of its machine, over work whose end with the larger `at` points
    /// `toward`.
    #[must_use]
    pub fn of(nozzle: &Nozzle, machine: &Machine, toward: Toward) -> Self {
        let steps = nozzle.steps_mm.iter();
        let head = steps.fold(Self::cylinder(nozzle.radius_mm), |head, (above_mm, radius_mm)| {
            head.with_step(*above_mm, *radius_mm)
        });
        let Some(carriage) = &machine.carriage else { return head };
        let (along_mm, across_mm) = on_rail(carriage, machine.rotary.along, toward);
        head.with_carriage(along_mm, across_mm, carriage.above_mm)
    }
}

/// A part of the head seen across the rail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartBeside {
    /// Which it is.
    pub part: HeadPart,
    /// From, to along the rail, mm from the beam.
    pub along_mm: (f64, f64),
    /// From, to across it, growing to the side on which larger turns lie.
    pub across_mm: (f64, f64),
    /// Its underside above the nozzle's tip, mm.
    pub above_mm: f64,
}

impl Head {
    /// Its parts seen across the rail, the tip first, the carriage last. What is no wider than what
    /// is below it is left out.
    #[must_use]
    pub fn side_view(&self) -> Vec<PartBeside> {
        let beside = |part: &Part| {
            let (along_mm, across_mm) = match part.footprint {
                Footprint::Round { radius_mm } => {
                    ((-radius_mm, radius_mm), (-radius_mm, radius_mm))
                }
                Footprint::Box { along_mm, across_mm } => (along_mm, across_mm),
            };
            PartBeside { part: part.what, along_mm, across_mm, above_mm: part.above_mm }
        };
        self.parts.iter().map(beside).collect()
    }
}

/// The carriage along the rail and across it.
///
/// The rail runs to X+, and turns grow to Y+ over the top, where the larger `at` points to X+. Work
/// along Y is that turned by a quarter: the rail runs to Y+, and turns grow to X−.
fn on_rail(carriage: &Carriage, along: Along, toward: Toward) -> ((f64, f64), (f64, f64)) {
    let turned = |(from, to): (f64, f64)| (-to, -from);
    let (rail, across) = match along {
        Along::X => (carriage.x_mm, carriage.y_mm),
        Along::Y => (carriage.y_mm, turned(carriage.x_mm)),
    };
    match toward {
        Toward::XPlus => (rail, across),
        Toward::XMinus => (turned(rail), turned(across)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seen_from_the_side_it_is_a_stack() {
        let head = Head::cylinder(9.0).with_step(10.0, 8.0).with_step(25.0, 14.0);
        let head = head.with_carriage((-30.0, 50.0), (-25.0, 25.0), 45.0);
        let seen: Vec<_> =
            head.side_view().iter().map(|one| (one.along_mm, one.above_mm)).collect();
        assert_eq!(seen, [((-9.0, 9.0), 0.0), ((-14.0, 14.0), 25.0), ((-30.0, 50.0), 45.0)]);
    }

    #[test]
    fn the_carriage_turns_with_the_rail() {
        let carriage = Carriage { x_mm: (-30.0, 40.0), y_mm: (5.0, 25.0), above_mm: 45.0 };
        let on = |along, toward| on_rail(&carriage, along, toward);
        assert_eq!(on(Along::X, Toward::XPlus), ((-30.0, 40.0), (5.0, 25.0)));
        assert_eq!(on(Along::X, Toward::XMinus), ((-40.0, 30.0), (-25.0, -5.0)));
        assert_eq!(on(Along::Y, Toward::XPlus), ((5.0, 25.0), (-40.0, 30.0)));
        assert_eq!(on(Along::Y, Toward::XMinus), ((-25.0, -5.0), (-30.0, 40.0)));
    }

    #[test]
    fn only_what_is_wider_than_all_below_counts() {
        let head = Head::cylinder(9.0).with_step(5.0, 6.0).with_step(25.0, 14.0);
        let parts: Vec<HeadPart> = head.parts.iter().map(|part| part.what).collect();
        assert_eq!(parts, [HeadPart::Tip, HeadPart::Step(1)]);
    }
}
