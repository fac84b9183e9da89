//! The program of a swatch.

use std::io::Write;

use stave_check::{Room, Spot};
use stave_rig::{MadeFor, Swatch};
use stave_setup::{Dose, Setup, ZoneRule};
use stave_toolpath::number::fixed;
use stave_toolpath::{Feed, j_per_cm2};
use stave_transform::{Burn, Curve, FlatPoint, Halt, Patch, Wrapper, patch_lines, run_up_mm};
use stave_wall::{Anchor, LayKind};
use stave_write::gcode::{Dialect, WriteError, Writer};

use super::note::comment;
use super::table::{Table, to_flat};
use super::{PatchReport, SwatchOptions, SwatchReport, Trial, along_axis, find};
use crate::asked_spacing::GotSpacing;
use crate::check::judged;
use crate::error::{Error, PlacedMisfit};
use crate::set_up::{focus_known, write_head};

/// A setup of its own, and where the swatch lies in it.
pub(super) struct Job {
    pub(super) setup: Setup,
    pub(super) spot: Spot,
    radius_mm: f64,
}

/// Finds the place, and makes the setup under which lines of constant turn stay so.
pub(super) fn place(setup: &Setup, room: Room, options: &SwatchOptions) -> Result<Job, Error> {
    let spot = find(setup, room, options)?;
    let mut setup = setup.clone();
    setup.job.lay = LayKind::EvenAngle;
    setup.job.dose = Some(Dose::AsGiven);
    setup.job.zones = ZoneRule::Refuse;
    setup.job.place.at_mm = spot.at_mm;
    setup.job.place.turn_rad = spot.turn_rad;
    let radius_mm = setup.blank.wall.section(spot.s_mm, &mut 0).radius_mm;
    Ok(Job { setup, spot, radius_mm })
}

/// Writes the program: labels first, so that what is broken off can be read, then the patches row
/// by row.
pub(super) fn write<W: Write>(
    mut output: W,
    job: &Job,
    table: &Table,
    trial: Option<&Trial>,
    label: (f64, f64),
    options: &SwatchOptions,
) -> Result<SwatchReport, Error> {
    let setup = &job.setup;
    let mut program = Vec::new();
    let what = if trial.is_some() { Swatch::Table } else { Swatch::Arrow };
    let mut burner = Burner::begin(&mut program, job, what)?;
    burner.comment(&format!("labels: {} % at {} mm/s", fixed(label.0, 3), fixed(label.1, 3)))?;
    for stroke in &table.strokes {
        burner.stroke(stroke, label)?;
    }
    let mut patches = Vec::new();
    let mut worst: Option<(GotSpacing, String)> = None;
    for place in trial.iter().flat_map(|_| &table.patches) {
        let Some((power, speed, spacing)) =
            trial.and_then(|trial| trial.of(place.row, place.column))
        else {
            continue;
        };
        let patch = job.patch(place.middle, options.size_mm, spacing);
        let found = patch_lines(&patch, setup.rotary_steps_per_turn(), setup.job.zero.turn_rad);
        let relative = power / (speed * found.spacing_mm);
        let got = GotSpacing::of_patch(&patch, &found);
        if worst.as_ref().is_none_or(|(worst, _)| got.is_worse_than(worst)) {
            worst = Some((got, format!("patch {},{}", place.row + 1, place.column + 1)));
        }
        let report = PatchReport {
            row: place.row + 1,
            column: place.column + 1,
            at: setup.blank.wall.at_of_s(patch.s_mm),
            turn_deg: patch.turn_rad.to_degrees(),
            power_percent: power,
            speed_mm_per_s: speed,
            line_spacing_mm: found.spacing_mm,
            lines: found.lines.len(),
            percent_s_per_mm2: relative,
            j_per_cm2: options.watts.map(|watts| j_per_cm2(relative, watts)),
        };
        let how = (power, speed, found.spacing_mm);
        burner.comment(&comment(report.row, report.column, how))?;
        burner.comment(&report.energy())?;
        let run_up = run_up_mm(speed, along_axis(setup));
        for (turn_rad, from, to) in found.lines {
            burner.scan_line(turn_rad, from, to, run_up, (power, speed))?;
        }
        patches.push(report);
    }
    let nominal_s = burner.end()?;
    let (mut findings, focus_at) = judged(&program, setup, &options.allow)?;
    let says = ", as the energies told of the patches have it";
    findings.extend(worst.and_then(|(worst, patch)| worst.finding(&patch, Some(says))));
    let set_up = focus_known(&mut program, setup, focus_at);
    output.write_all(&program).and_then(|()| output.flush()).map_err(Error::Output)?;
    Ok(SwatchReport {
        blank: setup.blank.name.clone(),
        at: job.spot.at_mm,
        turn_deg: job.spot.turn_rad.to_degrees(),
        width_mm: table.width_mm,
        height_mm: table.height_mm,
        bend_deg: job.spot.bend_rad.to_degrees(),
        columns: trial.map(|trial| trial.across),
        asked: trial.map_or(Vec::new(), |trial| trial.columns().to_vec()),
        patches,
        nominal_s,
        set_up,
        findings,
        notes: notes(job, trial),
    })
}

fn notes(job: &Job, trial: Option<&Trial>) -> Vec<String> {
    let mut notes = Vec::new();
    let bend_deg = job.spot.bend_rad.to_degrees();
    if bend_deg > 1.0 {
        notes.push(format!(
            "the wall bends by {}° under the swatch: patches differ in focus, not in power alone; fewer or smaller ones lie straighter",
            fixed(bend_deg, 1)
        ));
    }
    let least = job.setup.machine.controller.least_power_percent;
    let faint = trial.is_some_and(|trial| trial.powers.iter().any(|power| *power < least));
    if faint {
        notes.push(format!(
            "below {} % this machine marks nothing (`least_power`)",
            fixed(least, 3)
        ));
    }
    notes
}

impl Job {
    /// A place of the reader's frame: along the meridian, mm, and about the axis, rad, true from
    /// the middle out.
    pub(super) fn on_wall(&self, place: (f64, f64)) -> (f64, f64) {
        let (u, v) = to_flat(self.setup.job.stands, place);
        let s_mm = self.spot.s_mm + u;
        let radius_mm = self.setup.blank.wall.section(s_mm, &mut 0).radius_mm;
        (s_mm, self.spot.turn_rad + v / radius_mm)
    }

    fn patch(&self, middle: (f64, f64), size_mm: f64, spacing_mm: f64) -> Patch {
        let (s_mm, turn_rad) = self.on_wall(middle);
        let radius_mm = self.setup.blank.wall.section(s_mm, &mut 0).radius_mm;
        Patch { s_mm, turn_rad, radius_mm, size_mm, spacing_mm }
    }

    /// The flat point that the even-angle lay carries there.
    fn flat(&self, s_mm: f64, turn_rad: f64) -> FlatPoint {
        FlatPoint {
            u: s_mm - self.spot.s_mm,
            v: self.radius_mm * (turn_rad - self.spot.turn_rad),
            z: 0.0,
        }
    }
}

/// Burns what lies on the wall where a job has it.
pub(super) struct Burner<'a, W: Write> {
    pub(super) wrapper: Wrapper<'a>,
    pub(super) writer: Writer<W>,
    pub(super) job: &'a Job,
    /// The program's own Z, mm.
    pub(super) z_mm: f64,
    armed: bool,
}

impl<'a, W: Write> Burner<'a, W> {
    pub(super) fn begin(output: W, job: &'a Job, what: Swatch) -> Result<Self, Error> {
        let setup = &job.setup;
        let made_for = MadeFor { swatch: Some(what), ..MadeFor::of_setup(setup) };
        let mut writer = Writer::new(output, Dialect::of(&setup.machine));
        write_head(&mut writer, setup, &made_for.header())?;
        let wrapper = Wrapper::new(setup, Anchor::Point { u_mm: 0.0, v_mm: 0.0 })?;
        Ok(Self { wrapper, writer, job, z_mm: 0.0, armed: false })
    }

    /// Ends the program; the seconds it takes at the asked speeds alone.
    pub(super) fn end(mut self) -> Result<f64, Error> {
        self.writer.end(false)?;
        Ok(self.wrapper.stats().nominal_s)
    }

    /// The flat point of a place of the wall.
    pub(super) fn flat(&self, s_mm: f64, turn_rad: f64) -> FlatPoint {
        FlatPoint { z: self.z_mm, ..self.job.flat(s_mm, turn_rad) }
    }

    pub(super) fn comment(&mut self, text: &str) -> Result<(), Error> {
        Ok(self.writer.comment(text.as_bytes())?)
    }

    /// A run of straight strokes, from the reader's frame.
    pub(super) fn stroke(&mut self, points: &[(f64, f64)], how: (f64, f64)) -> Result<(), Error> {
        let flat: Vec<FlatPoint> = points
            .iter()
            .map(|point| {
                let (s_mm, turn_rad) = self.job.on_wall(*point);
                self.job.flat(s_mm, turn_rad)
            })
            .collect();
        if let Some(first) = flat.first() {
            self.travel(*first)?;
        }
        flat.iter().zip(flat.iter().skip(1)).try_for_each(|(from, to)| self.burn(*from, *to, how))
    }

    pub(super) fn scan_line(
        &mut self,
        turn_rad: f64,
        from: f64,
        to: f64,
        run_up_mm: f64,
        how: (f64, f64),
    ) -> Result<(), Error> {
        let beyond = if to > from { run_up_mm } else { -run_up_mm };
        let [start, first, last, end] =
            [from - beyond, from, to, to + beyond].map(|s_mm| self.flat(s_mm, turn_rad));
        self.travel(start)?;
        self.dark(start, first, how.1)?;
        self.burn(first, last, how)?;
        self.dark(last, end, how.1)
    }

    pub(super) fn travel(&mut self, to: FlatPoint) -> Result<(), Error> {
        self.wrapper.travel(to, &mut self.writer).map_err(unfit)?;
        if !self.armed {
            self.armed = true;
            let word = self.job.setup.machine.controller.beam_on;
            self.wrapper.beam(Some(word), true, &mut self.writer).map_err(unfit)?;
        }
        Ok(())
    }

    fn dark(&mut self, from: FlatPoint, to: FlatPoint, speed_mm_per_s: f64) -> Result<(), Error> {
        let feed = Some(Feed::PerMinute(speed_mm_per_s * 60.0));
        self.wrapper.dark(&Curve::Line { from, to }, feed, &mut self.writer).map_err(unfit)
    }

    fn burn(
        &mut self,
        from: FlatPoint,
        to: FlatPoint,
        (power, speed): (f64, f64),
    ) -> Result<(), Error> {
        let s = power / 100.0 * self.job.setup.machine.controller.full_power_s;
        let burn = Burn { feed: Feed::PerMinute(speed * 60.0), power: Some(s) };
        self.wrapper.burn(&Curve::Line { from, to }, burn, &mut self.writer).map_err(unfit)
    }
}

pub(super) fn unfit(halt: Halt<WriteError>) -> Error {
    match halt {
        Halt::Misfit(misfit) => PlacedMisfit::of_run(misfit),
        Halt::Sink(error) => error.into(),
    }
}
