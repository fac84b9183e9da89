//! The program of a walk.

use std::io::Write;

use stave_rig::MadeFor;
use stave_setup::{Setup, ZoneRule};
use stave_toolpath::Feed;
use stave_transform::{Burn, Curve, FlatPoint, Halt, Wrapper, is_corner, lay_of};
use stave_wall::{Laid, Lay, Wall};
use stave_write::gcode::{Dialect, WriteError, Writer};

use super::{LoopReport, WalkOptions, Way};
use crate::error::{Error, PlacedMisfit};
use crate::set_up::write_head;

/// How long the steps are in which an outline is reported, mm.
const STEP_MM: f64 = 0.5;

/// Where a straight side of an outline lies on the wall, in short steps; its end is the next side's
/// begin.
pub(super) fn laid(
    wall: &Wall,
    lay: &Lay,
    (from, to): ((f64, f64), (f64, f64)),
) -> impl Iterator<Item = Laid> {
    let steps = ((to.0 - from.0).hypot(to.1 - from.1) / STEP_MM).ceil().clamp(1.0, 1e6);
    let shares = (0..1_000_000_u32).map(f64::from).take_while(move |k| *k < steps);
    shares.map(move |k| {
        let share = k / steps;
        let (u, v) = (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
        lay.map(wall, u, v, &mut 0)
    })
}

impl LoopReport {
    /// A way round that has come nowhere.
    pub(super) fn of_none(piece: &str) -> Self {
        Self {
            piece: piece.to_owned(),
            corners: 0,
            at: (f64::INFINITY, f64::NEG_INFINITY),
            turn_deg: (f64::INFINITY, f64::NEG_INFINITY),
            across: None,
        }
    }

    /// It comes here.
    pub(super) fn reaches(&mut self, laid: &Laid) {
        let (at, turn) = (laid.section.at_mm, laid.turn_rad.to_degrees());
        self.at = (self.at.0.min(at), self.at.1.max(at));
        self.turn_deg = (self.turn_deg.0.min(turn), self.turn_deg.1.max(turn));
    }
}

pub(super) struct Walker<'a, W: Write> {
    writer: Writer<W>,
    setup: &'a Setup,
    options: &'a WalkOptions,
    /// The pointer's power in S counts.
    pointer: Option<f64>,
}

impl<'a, W: Write> Walker<'a, W> {
    pub(super) fn new(
        output: W,
        setup: &'a Setup,
        options: &'a WalkOptions,
        made_for: &MadeFor,
    ) -> Result<Self, Error> {
        let full = setup.machine.controller.full_power_s;
        let pointer = options.pointer_percent.map(|percent| percent / 100.0 * full);
        let mut writer = Writer::new(output, Dialect::of(&setup.machine));
        let mut head = made_for.header();
        head.add("walk", if pointer.is_some() { "pointer" } else { "dark" }.into());
        write_head(&mut writer, setup, &head)?;
        Ok(Self { writer, setup, options, pointer })
    }

    pub(super) fn end(&mut self) -> Result<(), Error> {
        Ok(self.writer.end(false)?)
    }

    /// Round an outline of the flat plane, laid.
    pub(super) fn round(&mut self, way: &Way) -> Result<LoopReport, Error> {
        let mut setup = self.setup.clone();
        setup.job.lay = way.kind;
        setup.job.zones = ZoneRule::Ignore;
        let wall = &self.setup.blank.wall;
        let lay = lay_of(&setup, way.anchor)?;
        let mut wrapper = Wrapper::new(&setup, way.anchor)?;
        let flat = |p: (f64, f64)| FlatPoint { u: p.0, v: p.1, z: 0.0 };
        let outline = &way.outline;
        self.writer.comment(format!("walk round {}", way.piece).as_bytes())?;
        if let Some(first) = outline.first() {
            wrapper.travel(flat(*first), &mut self.writer).map_err(unfit)?;
        }
        if self.pointer.is_some() {
            let word = self.setup.machine.controller.beam_on;
            wrapper.beam(Some(word), true, &mut self.writer).map_err(unfit)?;
        }
        self.stand(&mut wrapper)?;
        let mut report = LoopReport::of_none(&way.piece);
        let feed = Feed::PerMinute(60.0 * self.options.speed_mm_per_s);
        let ends = outline.iter().cycle().skip(1);
        for (k, (&from, &to)) in outline.iter().zip(ends).enumerate() {
            let line = Curve::Line { from: flat(from), to: flat(to) };
            if from != to {
                let burn = Burn { feed, power: self.pointer };
                wrapper.trace(&line, burn, &mut self.writer).map_err(unfit)?;
            }
            for laid in laid(wall, &lay, (from, to)) {
                report.reaches(&laid);
            }
            if is_corner(outline, (k + 1) % outline.len()) {
                self.stand(&mut wrapper)?;
                report.corners += 1;
            }
        }
        report.across = self.setup.facet.as_ref().map(|on| {
            let across = |turn_deg: f64| on.facet.across_mm(turn_deg.to_radians());
            (across(report.turn_deg.0), across(report.turn_deg.1))
        });
        wrapper.beam(None, true, &mut self.writer).map_err(unfit)?;
        Ok(report)
    }

    /// Stands at a corner, dark: a beam that stands burns.
    fn stand(&mut self, wrapper: &mut Wrapper<'_>) -> Result<(), Error> {
        if self.options.dwell_s > 0.0 {
            let dark = stave_rig::Beam::default();
            wrapper.dwell(self.options.dwell_s, &dark, &mut self.writer).map_err(unfit)?;
        }
        Ok(())
    }
}

fn unfit(halt: Halt<WriteError>) -> Error {
    match halt {
        Halt::Misfit(misfit) => PlacedMisfit::of_run(misfit),
        Halt::Sink(error) => error.into(),
    }
}
