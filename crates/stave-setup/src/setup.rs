//! Blank, machine and job together: defaults filled in, and what only shows when the files meet.

use std::borrow::Cow;
use std::f64::consts::TAU;

use crate::job::{Job, JobFile};
use crate::meeting::Meeting;
use crate::plausible::bare_length;
use crate::{Blank, Digests, Drive, Facet, Fault, Faults, Machine, OnFacet, Toward, Values};

/// Everything that is known before a program is read.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Setup {
    /// The ware.
    pub blank: Blank,
    /// The machine.
    pub machine: Machine,
    /// The job, defaults filled in.
    pub job: Job,
    /// Where the job burns a flat place: which, and the ware it is on. `blank` is its plane then,
    /// unrolled from a cylinder, and `machine` has the axis across the work in the rotary's place.
    #[cfg_attr(feature = "serde", serde(default))]
    pub facet: Option<OnFacet>,
    /// What is worth knowing, from all three files and from how they meet: defaults taken, settings
    /// without an effect.
    pub warnings: Vec<Fault>,
    /// What can be meant but hardly is, each with its likely cause.
    pub doubts: Vec<Fault>,
    pub(crate) job_values: Values,
}

impl Setup {
    /// What was given of the job, key by key.
    #[must_use]
    pub fn job_values(&self) -> &Values {
        &self.job_values
    }

    /// The digests of what a program is made from, but for its input.
    #[must_use]
    pub fn digests(&self) -> Digests {
        Digests {
            blank: self.blank.values.digest(),
            machine: self.machine.values.digest(),
            job: self.job_values.digest(),
            input: "-".to_owned(),
        }
    }

    /// Fills in the job's defaults and checks it against blank and machine.
    ///
    /// # Errors
    /// Settings that cannot be meant, all at once, each with the file or option it came from: a
    /// place off the wall, focus that follows without a Z axis, a lens that is not listed, decimals
    /// too coarse for the tolerance.
    ///
    /// # Examples
    /// ```
    /// # let blank = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 82";
    /// # let machine = "[x]\nspeed = 500\nacceleration = 5000\n\
    /// #   [y]\nspeed = 500\nacceleration = 5000\n\
    /// #   [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000";
    /// use stave_setup::{JobFile, Setup, read_blank, read_machine};
    /// let blank = read_blank(blank, "mug.toml")?;
    /// let machine = read_machine(machine, "bench.toml")?;
    /// let setup = Setup::new(blank, machine, JobFile::default())?;
    /// assert_eq!(setup.job.reference_radius_mm, 41.0);
    /// assert_eq!(setup.rotary_units_per_turn(), 360.0);
    /// # Ok::<(), stave_setup::Faults>(())
    /// ```
    pub fn new(blank: Blank, machine: Machine, job: JobFile) -> Result<Setup, Faults> {
        let mut meeting = Meeting {
            blank: &blank,
            machine: &machine,
            facet: None,
            held_at_mm: blank.wall.at_range_mm().0,
            faults: Vec::new(),
            warnings: Vec::new(),
            doubts: [blank.doubts(), job.doubts(), machine.doubts()].concat(),
        };
        meeting.units(job.bare_lengths_of.as_deref());
        for (option, typed) in &job.bare_options {
            meeting.doubts.extend(bare_length(option, typed, &blank, &machine));
        }
        meeting.warnings.extend(machine.warnings.iter().cloned());
        meeting.warnings.extend(job.warnings.iter().cloned());
        let facet = meeting.facet(&job);
        let Meeting { held_at_mm, faults, warnings, doubts, .. } = meeting;
        let (blank, machine, facet) = match facet {
            Some(facet) => stand_on(blank, machine, facet, &job),
            None => (blank, machine, None),
        };
        let job_values = job.values();
        let facet_of = facet.as_ref().map(|on| &on.facet);
        let mut meeting = Meeting {
            blank: &blank,
            machine: &machine,
            facet: facet_of,
            held_at_mm,
            faults,
            warnings,
            doubts,
        };
        let job = meeting.job(job);
        let Meeting { mut faults, warnings, doubts, .. } = meeting;
        faults.sort_by_key(|fault| (fault.file().map(str::to_owned), fault.line(), fault.column()));
        if faults.is_empty() {
            Ok(Setup { blank, machine, job, facet, warnings, doubts, job_values })
        } else {
            Err(faults.into())
        }
    }

    /// The ware and the machine as their files say, whatever place of the ware is burned.
    #[must_use]
    pub fn whole(&self) -> (&Blank, &Machine) {
        self.facet.as_ref().map_or((&self.blank, &self.machine), |on| (&on.whole.0, &on.whole.1))
    }

    /// The setup for a program that burns a flat place of the ware, by its name and the word at
    /// which the rotary stands, or (`None`) its wall: what that hangs on of blank and machine, the
    /// job as it is. `None` where the ware has no such place.
    #[must_use]
    pub fn standing_on(&self, facet: Option<(&str, f64)>) -> Option<Cow<'_, Setup>> {
        if self.facet.as_ref().map(|on| (on.facet.name.as_str(), on.index)) == facet {
            return Some(Cow::Borrowed(self));
        }
        let (blank, machine) = self.whole();
        let mut own = self.clone();
        (own.blank, own.machine, own.facet) = match facet {
            None => (blank.clone(), machine.clone(), None),
            Some((name, index)) => {
                let facet = blank.facets.iter().find(|facet| facet.name == name)?;
                let (plane, across) = facet.unrolled(blank, machine)?;
                let whole = Box::new((blank.clone(), machine.clone()));
                (plane, across, Some(OnFacet { facet: facet.clone(), index, whole }))
            }
        };
        Some(Cow::Owned(own))
    }

    /// Where rollers touch the work, mm along the axis; `None` for a chuck.
    #[must_use]
    pub fn contact_at_mm(&self) -> Option<f64> {
        (self.machine.rotary.drive == Drive::Roller).then_some(self.job.contact_at_mm)
    }

    /// Units of the rotary's word for one turn of the work: for a roller the circumference where it
    /// touches, mm, times its scale.
    #[must_use]
    pub fn rotary_units_per_turn(&self) -> f64 {
        units_per_turn(&self.blank, &self.machine, self.job.contact_at_mm)
    }

    /// Motor steps for one turn of the work, where the machine file tells.
    #[must_use]
    pub fn rotary_steps_per_turn(&self) -> Option<f64> {
        self.machine.rotary.steps_for(self.rotary_units_per_turn())
    }

    /// The diameter of the spot in focus, mm, through the lens fitted: as measured, else by the
    /// formula, else `None`.
    #[must_use]
    pub fn spot_mm(&self) -> Option<f64> {
        self.job.lens.as_ref()?.spot_in_focus_mm(self.machine.beam.as_ref())
    }

    /// The diameter of the spot so far from focus, mm, where the lens fitted tells.
    #[must_use]
    pub fn spot_at_mm(&self, defocus_mm: f64) -> Option<f64> {
        self.job.lens.as_ref()?.spot_at_mm(self.machine.beam.as_ref(), defocus_mm)
    }

    /// How much wall around a zone is kept clear, mm: its margin, else half the spot, else (no spot
    /// known) nothing.
    #[must_use]
    pub fn zone_margin_mm(&self, zone: &crate::Zone) -> f64 {
        zone.margin_mm.or_else(|| self.spot_mm().map(|spot| spot / 2.0)).unwrap_or(0.0)
    }
}

/// The plane of a flat place in place of the ware, and the axis across it in place of the rotary.
fn stand_on(
    blank: Blank,
    machine: Machine,
    facet: Facet,
    job: &JobFile,
) -> (Blank, Machine, Option<OnFacet>) {
    let Some((plane, across)) = facet.unrolled(&blank, &machine) else {
        return (blank, machine, None);
    };
    let stations = blank.stations.iter();
    let widest = stations.max_by(|a, b| a.radius_mm.total_cmp(&b.radius_mm));
    let contact_at_mm = job.contact_at_mm.as_ref().map(|at| at.value);
    let contact_at_mm = contact_at_mm.or(widest.map(|station| station.at_mm)).unwrap_or(0.0);
    let zero_rad = job.zero_turn_rad.as_ref().map_or(0.0, |turn| turn.value);
    let x_minus = job.toward.as_ref().is_some_and(|toward| toward.value == Toward::XMinus);
    let sign = if x_minus == machine.rotary.reverse { 1.0 } else { -1.0 };
    let units = units_per_turn(&blank, &machine, contact_at_mm);
    // Minus zero would come out again in messages and words.
    let index = sign * (facet.turn_rad - zero_rad) / TAU * units + 0.0;
    (plane, across, Some(OnFacet { facet, index, whole: Box::new((blank, machine)) }))
}

pub(crate) fn units_per_turn(blank: &Blank, machine: &Machine, contact_at_mm: f64) -> f64 {
    match machine.rotary.drive {
        Drive::Chuck => machine.rotary.units_per_turn,
        Drive::Roller => {
            let s_mm = blank.wall.s_of_at(contact_at_mm);
            TAU * blank.wall.section(s_mm, &mut 0).radius_mm * machine.rotary.scale
        }
    }
}
