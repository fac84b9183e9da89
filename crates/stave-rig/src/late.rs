//! Where the light of a burn falls, which comes so much later than its word.

use stave_setup::Lag;
use stave_toolpath::{Place, Stand, Step, StepKind};

use crate::rig::{ROTARY, Rig};

/// So nearly in one line, by the cosine, do burns go on from each other, and from their run-up.
const STRAIGHT: f64 = 0.9999;

/// Follows a run and says where its burns fall on the wall.
///
/// A burn that is come to at speed, by a dark move in its own direction, falls farther on: by the
/// way that the machine goes while its light is due, at both ends. So do those that go on from it
/// in a line. What begins where the machine stands or turns falls where its words are: from rest
/// next to nothing is gone by then.
///
/// ```
/// use stave_rig::{LateLight, Rig};
/// use stave_toolpath::{Stand, Step, StepKind};
///
/// # let blank = stave_setup::read_blank(
/// #     "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n", "can.toml")?;
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
/// # let still = Step { kind: StepKind::Dark, from: stand(0.0), to: stand(0.0), drives_z: false, beam: None,
/// #     power_s: None, time_s: 0.0, asked_s: 0.0, even_dose: false, length_mm: 0.0,
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
        lag.pairs.iter().any(|pair| pair.1 != 0.0).then_some(Self { lag, goes: None, hint: 0 })
    }

    /// The places where the light of the step that comes next falls, at its beginning and its end;
    /// `None` where they are those of its words.
    #[must_use]
    pub fn of(&mut self, rig: &Rig<'_>, step: &Step) -> Option<[Place; 2]> {
        let goes = match step.kind {
            StepKind::Dark | StepKind::Burn => direction(rig, step),
            StepKind::Beam => return None,
            StepKind::Travel
            | StepKind::Dwell
            | StepKind::Dot
            | StepKind::Pause(_)
            | StepKind::Stop => {
                self.goes = None;
                return None;
            }
        };
        if step.kind == StepKind::Dark {
            self.goes = goes;
            return None;
        }
        // What changes no word goes nowhere.
        let goes = goes?;
        let was = self.goes.take()?;
        if was[0] * goes[0] + was[1] * goes[1] < STRAIGHT {
            return None;
        }
        self.goes = Some(goes);
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
