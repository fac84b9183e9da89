//! Where the light of a burn falls, which comes so much later than its word.

use stave_setup::Lag;
use stave_toolpath::{Corner, Place, Stand, Step, StepKind};

use crate::rig::{ROTARY, Rig};

/// So nearly in one line, by the cosine, do burns go on from each other, and from their run-up.
const STRAIGHT: f64 = 0.9999;

/// Follows a run and says where its burns fall on the wall.
///
/// A burn that is come to at speed, by a move in its own direction, falls farther on: by the
/// way that the machine goes while its light is due, at both ends. So do those that go on from it
/// in a line. What begins where the machine stands or turns falls where its words are: from rest
/// next to nothing is gone by then.
///
/// ```
/// use stave_rig::{LateLight, Rig};
/// use stave_toolpath::{Stand, Step, StepKind};
///
/// # let blank = stave_setup::read_blank(
/// #     "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n",
/// #     "can.toml")?;
/// # let mut machine = stave_setup::read_machine(
/// #     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
/// #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n\
/// #      [beam]\nlag = 0.001\n", "bench.toml")?;
/// # let job = stave_setup::read_job("", "job.toml")?;
/// # let setup = stave_setup::Setup::new(blank, machine, job)?;
/// // The light comes a thousandth of a second late, at 300 mm/s.
/// let rig = Rig::of_setup(&setup);
/// let mut light = LateLight::new(&setup.machine.lag).ok_or("this machine has a lag")?;
/// let stand = |x| {
///     let words = [x, 0.0, 0.0, 0.0];
///     Stand { words, place: Some(rig.place(&words, &mut 0)) }
/// };
/// # let still = Step { kind: StepKind::Dark, from: stand(0.0), to: stand(0.0),
/// #     drives_z: false, beam: None, power_s: None,
/// #     time_s: 0.0, asked_s: 0.0, even_dose: false, length_mm: 0.0,
/// #     corner: Default::default(), joined: false, line: 0, section: 0 };
/// let run_up = Step { from: stand(40.0), to: stand(49.7), ..still };
/// let burn = Step {
///     kind: StepKind::Burn, from: stand(49.7), to: stand(59.7), length_mm: 10.0,
///     time_s: 10.0 / 300.0, ..still
/// };
/// assert_eq!(light.of(&rig, &run_up), None);
/// let [from, to] = light.of(&rig, &burn).ok_or("it is late")?;
/// assert!((from.at_mm - 50.0).abs() < 1e-9 && (to.at_mm - 60.0).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct LateLight<'a> {
    lag: &'a Lag,
    /// Which way the machine goes at speed, in mm along and around, of length 1.
    goes: Option<[f64; 2]>,
    hint: usize,
}

impl<'a> LateLight<'a> {
    /// For a machine's lag; `None` where it has none.
    #[must_use]
    pub fn new(lag: &'a Lag) -> Option<Self> {
        (!lag.is_none()).then_some(Self { lag, goes: None, hint: 0 })
    }

    /// The places where the light of the step that comes next falls, at its beginning and its end;
    /// `None` where they are those of its words.
    #[must_use]
    pub fn of(&mut self, rig: &Rig<'_>, step: &Step) -> Option<[Place; 2]> {
        let goes = match step.kind {
            StepKind::Travel | StepKind::Dark | StepKind::Burn => direction(rig, step),
            StepKind::Beam => return None,
            StepKind::Dwell | StepKind::Dot | StepKind::Pause(_) | StepKind::Stop => None,
        };
        // Where the machine stops at its end nothing is come to at speed.
        let on = goes.filter(|_| step.corner != Corner::Stop);
        if step.kind != StepKind::Burn {
            self.goes = on;
            return None;
        }
        let was = self.goes.take();
        // What changes no word goes nowhere.
        let (was, goes) = (was?, goes?);
        if was[0] * goes[0] + was[1] * goes[1] < STRAIGHT {
            return None;
        }
        self.goes = on;
        let share = self.lag.at_s(step.length_mm / step.time_s) / step.time_s;
        let late = [&step.from, &step.to].map(|stand| self.place(rig, step, stand, share));
        match late {
            [Some(from), Some(to)] if share.is_finite() => Some([from, to]),
            _ => None,
        }
    }

    /// Where the light falls that is due at `stand`: on by a share of the way of its step.
    fn place(&mut self, rig: &Rig<'_>, step: &Step, stand: &Stand, share: f64) -> Option<Place> {
        let mut words = stand.words;
        for (word, goes) in words.iter_mut().zip(step.delta()) {
            *word += share * goes;
        }
        let place = rig.place(&words, &mut self.hint);
        // Where the rotary has play the work is not where its word is.
        let behind_rad = stand.place?.turn_rad - rig.turn_rad(&stand.words);
        Some(Place { turn_rad: place.turn_rad + behind_rad, ..place })
    }
}

fn direction(rig: &Rig<'_>, step: &Step) -> Option<[f64; 2]> {
    let (delta, place) = (step.delta(), step.from.place?);
    let around = delta[ROTARY] / rig.count * rig.rad_per_count * place.radius_mm;
    let along = delta[rig.along];
    let length = along.hypot(around);
    (length > 0.0).then(|| [along / length, around / length])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A can of 60 mm, a machine whose light comes a thousandth of a second late, and the steps of
    /// a line along it at 300 mm/s: kinds, and where they end, mm.
    fn shifts(steps: &[(StepKind, f64, Corner)]) -> Vec<f64> {
        let blank = stave_setup::read_blank(
            "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n",
            "can.toml",
        );
        let machine = stave_setup::read_machine(
            "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
             [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n\
             [beam]\nlag = 0.001\n",
            "bench.toml",
        );
        let job = stave_setup::read_job("", "job.toml");
        let setup =
            stave_setup::Setup::new(blank.unwrap(), machine.unwrap(), job.unwrap()).unwrap();
        let rig = Rig::of_setup(&setup);
        let mut light = LateLight::new(&setup.machine.lag).unwrap();
        let stand = |x: f64| {
            let words = [x, 0.0, 0.0, 0.0];
            Stand { words, place: Some(rig.place(&words, &mut 0)) }
        };
        let mut here = 20.0;
        let mut out = Vec::new();
        for (kind, to, corner) in steps {
            let length_mm = (to - here).abs();
            let step = Step {
                kind: *kind,
                from: stand(here),
                to: stand(*to),
                drives_z: false,
                beam: None,
                power_s: None,
                time_s: length_mm / 300.0,
                asked_s: length_mm / 300.0,
                even_dose: false,
                length_mm,
                corner: *corner,
                joined: false,
                line: 0,
                section: 0,
            };
            let late = light.of(&rig, &step);
            if *kind == StepKind::Burn {
                let [from, to_place] =
                    late.unwrap_or([stand(here), stand(*to)].map(|at| at.place.unwrap()));
                let (a, b) = (from.at_mm - here, to_place.at_mm - to);
                assert!((a - b).abs() < 1e-9, "both ends alike");
                out.push(a);
            }
            here = *to;
        }
        out
    }

    #[test]
    fn what_is_come_to_at_speed_falls_farther_on_and_nothing_else() {
        use StepKind::{Beam, Burn, Dark, Dwell, Travel};
        let round = Corner::Tolerance;
        let of = |steps: &[(StepKind, f64, Corner)], due: &[f64]| {
            let found = shifts(steps);
            assert_eq!(found.len(), due.len());
            for (found, due) in found.iter().zip(due) {
                assert!((found - due).abs() < 1e-9, "{steps:?}: {found} for {due}");
            }
        };
        // A run-up, two burns, a gap, a burn, in either direction; a beam word stops nothing.
        of(
            &[
                (Dark, 30.0, round),
                (Beam, 30.0, round),
                (Burn, 40.0, round),
                (Burn, 45.0, round),
                (Dark, 50.0, round),
                (Burn, 60.0, round),
            ],
            &[0.3, 0.3, 0.3],
        );
        of(&[(Dark, 15.0, round), (Burn, 5.0, round)], &[-0.3]);
        // A travel takes it along as well.
        of(&[(Burn, 30.0, round), (Travel, 35.0, round), (Burn, 40.0, round)], &[0.0, 0.3]);
        // From rest, back, after a stop of any kind.
        of(&[(Burn, 30.0, round), (Burn, 40.0, round)], &[0.0, 0.0]);
        of(&[(Dark, 30.0, round), (Burn, 25.0, round)], &[0.0]);
        of(&[(Dark, 30.0, round), (Dwell, 30.0, round), (Burn, 40.0, round)], &[0.0]);
        of(&[(Dark, 30.0, Corner::Stop), (Burn, 40.0, round)], &[0.0]);
        of(&[(Dark, 30.0, Corner::Exact), (Burn, 40.0, round)], &[0.3]);
    }
}
