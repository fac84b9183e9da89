//! The program of a walk.

use std::f64::consts::TAU;
use std::io::Write;

use stave_setup::{Setup, ZoneRule};
use stave_toolpath::number::{fixed, round_to_counts};
use stave_toolpath::{Feed, MachineMove, MoveKind};
use stave_transform::{Curve, FlatPoint, Halt, MoveSink, Wrapper, is_corner};
use stave_wall::{Lay, LaySetting};
use stave_write::gcode::{Dialect, Header, WriteError, Writer};

use super::{LoopReport, WalkOptions, Way};
use crate::error::Error;
use crate::header::header;
use crate::wrap::write_error;

/// How long the steps are in which an outline is laid, mm: on a radius of 10 mm they keep to 0.004
/// mm of its image.
const STEP_MM: f64 = 0.5;

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
    ) -> Result<Self, Error> {
        let full = setup.machine.controller.full_power_s;
        Ok(Self {
            writer: Writer::new(output, Dialect::of(&setup.machine)),
            setup,
            options,
            pointer: options.pointer_percent.map(|percent| percent / 100.0 * full),
        })
    }

    pub(super) fn head(&mut self) -> Result<(), Error> {
        self.head_with(header(self.setup))
    }

    /// A head with the words of a wrapped program's first line.
    pub(super) fn head_of(&mut self, line: &str) -> Result<(), Error> {
        let inside = line.trim().strip_prefix('(').and_then(|line| line.strip_suffix(')'));
        let found = inside.and_then(Header::parse).unwrap_or_else(|| header(self.setup));
        self.head_with(found)
    }

    fn head_with(&mut self, mut head: Header) -> Result<(), Error> {
        head.fields.retain(|(key, _)| key != "walk");
        head.fields
            .push(("walk".into(), if self.pointer.is_some() { "pointer" } else { "dark" }.into()));
        self.writer.head(&head).map_err(write_error)
    }

    pub(super) fn end(&mut self) -> Result<(), Error> {
        self.writer.end(false).map_err(write_error)
    }

    /// Round an outline of the flat plane, laid.
    pub(super) fn round(&mut self, way: &Way) -> Result<LoopReport, Error> {
        let mut setup = self.setup.clone();
        setup.job.lay = way.kind;
        setup.job.zones = ZoneRule::Ignore;
        let wall = &self.setup.blank.wall;
        let lay = Lay::new(
            wall,
            LaySetting {
                kind: way.kind,
                origin_s_mm: wall.s_of_at(setup.job.place.at_mm),
                origin_turn_rad: setup.job.place.turn_rad,
                reference_radius_mm: setup.job.reference_radius_mm,
                anchor: way.anchor,
            },
        )?;
        let mut wrapper = Wrapper::new(&setup, way.anchor)?;
        let flat = |p: (f64, f64)| FlatPoint { u: p.0, v: p.1, z: 0.0 };
        let outline = &way.outline;
        let Some(first) = outline.first().copied() else {
            return Err(Error::Setting("nothing to go round".into()));
        };
        self.comment(&way.piece)?;
        wrapper.travel(flat(first), &mut self.sink()).map_err(unfit)?;
        self.arm()?;
        self.stand()?;
        let mut report = Reach::new(&way.piece);
        let feed = Some(Feed::PerMinute(60.0 * self.options.speed_mm_per_s));
        for k in 0..outline.len() {
            let (from, to) = (outline[k], outline[(k + 1) % outline.len()]);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps =
                ((to.0 - from.0).hypot(to.1 - from.1) / STEP_MM).ceil().clamp(1.0, 1e6) as u32;
            let at = |j: u32| {
                let t = f64::from(j) / f64::from(steps);
                (from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t)
            };
            for j in 0..steps {
                let line = Curve::Line { from: flat(at(j)), to: flat(at(j + 1)) };
                wrapper.dark(&line, feed, &mut self.sink()).map_err(unfit)?;
                let laid = lay.map(wall, at(j).0, at(j).1, &mut 0);
                report.add(laid.section.at_mm, laid.turn_rad.to_degrees());
            }
            if is_corner(outline, (k + 1) % outline.len()) {
                self.stand()?;
                report.corners += 1;
            }
        }
        self.writer.beam(None, true).map_err(write_error)?;
        Ok(report.done())
    }

    /// Round an outline of the machine's own words.
    pub(super) fn round_words(
        &mut self,
        piece: &str,
        outline: &[(f64, f64)],
    ) -> Result<LoopReport, Error> {
        let decimals = self.setup.machine.controller.decimals;
        let mm_per_unit =
            TAU * self.setup.blank.wall.largest_radius_mm() / self.setup.rotary_units_per_turn();
        let retrace_deg = 360.0 / self.setup.rotary_units_per_turn();
        self.comment(piece)?;
        let mut report = Reach::new(piece);
        let mut last: Option<(f64, f64)> = None;
        for k in 0..=outline.len() {
            let to = outline[k % outline.len()];
            let word = |value: f64| {
                round_to_counts(value, decimals).ok_or_else(|| {
                    Error::Setting("the program goes farther than words can hold".into())
                })
            };
            let wall_mm =
                last.map_or(0.0, |from| (to.0 - from.0).hypot((to.1 - from.1) * mm_per_unit));
            let going = MachineMove {
                kind: if last.is_some() { MoveKind::Dark } else { MoveKind::Travel },
                along: word(to.0)?,
                rotary: word(to.1)?,
                z: None,
                time_s: wall_mm / self.options.speed_mm_per_s,
                wall_mm,
                power: Some(0.0),
            };
            if last.is_none() || wall_mm > 0.0 {
                self.sink().machine_move(&going).map_err(write_error)?;
            }
            if last.is_none() {
                self.arm()?;
            }
            if is_corner(outline, k % outline.len()) {
                self.stand()?;
                report.corners += usize::from(last.is_some());
            }
            report.add(to.0, to.1 * retrace_deg);
            last = Some(to);
        }
        self.writer.beam(None, true).map_err(write_error)?;
        Ok(report.done())
    }

    fn comment(&mut self, piece: &str) -> Result<(), Error> {
        self.writer.comment(format!("walk round {piece}").as_bytes()).map_err(write_error)
    }

    /// Makes the pointer ready, dark until it moves.
    fn arm(&mut self) -> Result<(), Error> {
        if self.pointer.is_none() {
            return Ok(());
        }
        self.writer.beam(Some(self.setup.machine.controller.beam_on), true).map_err(write_error)
    }

    /// Stands at a corner, dark: a beam that stands burns.
    fn stand(&mut self) -> Result<(), Error> {
        if self.options.dwell_s > 0.0 {
            self.writer.darken().map_err(write_error)?;
            let dwell = format!("G4 P{}", fixed(self.options.dwell_s, 3));
            self.writer.line(dwell.as_bytes()).map_err(write_error)?;
        }
        Ok(())
    }

    fn sink(&mut self) -> Out<'_, W> {
        Out { writer: &mut self.writer, pointer: self.pointer }
    }
}

/// Where a way round goes.
struct Reach(LoopReport);

impl Reach {
    fn new(piece: &str) -> Self {
        let none = (f64::INFINITY, f64::NEG_INFINITY);
        Self(LoopReport { piece: piece.to_owned(), corners: 0, at: none, turn_deg: none })
    }

    fn add(&mut self, at: f64, turn_deg: f64) {
        self.0.at = (self.0.at.0.min(at), self.0.at.1.max(at));
        self.0.turn_deg = (self.0.turn_deg.0.min(turn_deg), self.0.turn_deg.1.max(turn_deg));
    }

    fn done(self) -> LoopReport {
        self.0
    }
}

impl std::ops::Deref for Reach {
    type Target = LoopReport;

    fn deref(&self) -> &LoopReport {
        &self.0
    }
}

impl std::ops::DerefMut for Reach {
    fn deref_mut(&mut self) -> &mut LoopReport {
        &mut self.0
    }
}

/// Hands moves to the writer; with a pointer, what moves at a feed is seen.
struct Out<'w, W: Write> {
    writer: &'w mut Writer<W>,
    pointer: Option<f64>,
}

impl<W: Write> MoveSink for Out<'_, W> {
    type Error = WriteError;

    fn machine_move(&mut self, machine_move: &MachineMove) -> Result<(), WriteError> {
        let seen = self.pointer.filter(|_| machine_move.kind == MoveKind::Dark);
        match seen {
            Some(power) => self.writer.machine_move(&MachineMove {
                kind: MoveKind::Burn,
                power: Some(power),
                ..*machine_move
            }),
            None => self.writer.machine_move(machine_move),
        }
    }
}

fn unfit(halt: Halt<WriteError>) -> Error {
    match halt {
        Halt::Misfit(misfit) => Error::Unfit(misfit.to_string(), misfit.is_bad_input()),
        Halt::Sink(error) => write_error(error),
    }
}
