//! A flat program, laid on the wall move by move.

use stave_check::{Code, Finding};
use stave_parse::gcode::{ProgramEnd, ReadSummary, Sink};
use stave_rig::{Beam, Misfit};
use stave_setup::{AirLevel, Dose, Setup, Stands};
use stave_toolpath::art::{Art, Element, Fill, Part, Rgb, Rule, Shaded, Shape, Work};
use stave_toolpath::number::fixed;
use stave_toolpath::{Arc, EndWord, Event, Feed, PassKind, Position};
use stave_transform::{
    Burn, BurnOperation, Burns, Curve, FlatPoint, Halt, LineRule, ScanWay, Shade, Surface, Tones,
    Wrapper,
};
use stave_wall::{LayError, LayKind};
use stave_write::gcode::Forgotten;

use super::rescan::Scanned;
use super::{Footprint, Pass, Passing, RunOut, Sections, cut_short, is_ours, says_broken_off};
use crate::asked_spacing::{CHANGED, GotSpacing};
use crate::error::{ProgramFault, Refusal, SourceFault};
use crate::flat_place::Index;

/// What becomes of a move that does not fit.
#[derive(Debug)]
pub(crate) enum Misfits {
    /// The run ends there.
    Refuse,
    /// It is noted, and the program goes on where the move would have ended.
    Note(Vec<NotedMisfit>),
}

/// A kind of misfit, at its worst, with how many lines have it.
#[derive(Debug)]
pub(crate) struct NotedMisfit {
    pub(crate) misfit: Misfit,
    pub(crate) line: u64,
    pub(crate) lines: u64,
    pub(crate) place: Option<(f64, f64)>,
    /// How far it is past what is allowed: mm past the wall's end, degrees of slope, percent of a
    /// label that do not fit.
    pub(crate) value: f64,
}

/// A flat program on its way to the wall.
#[derive(Debug)]
pub(crate) struct Flat<'a, O> {
    pub(crate) wrapper: Wrapper<'a>,
    pub(crate) out: O,
    pub(crate) footprint: Footprint,
    pub(crate) sections: Sections,
    pub(crate) misfits: Misfits,
    /// True where the program ends with M30.
    pub(crate) rewind: bool,
    pub(crate) beam: Beam,
    /// What a person should know, a sentence each.
    pub(crate) told: Vec<String>,
    pub(crate) passing: Passing,
    along_y: bool,
    /// Where the rotary stands, for a program that burns a flat place.
    index: Option<Index>,
    setup: &'a Setup,
    on_off_told: bool,
    /// The rows that lie farthest from where they were drawn, and where in `told` that is said.
    spacing_told: Option<(GotSpacing, usize)>,
    broken_off: bool,
}

fn halted(halt: Halt<Refusal>) -> Refusal {
    match halt {
        Halt::Misfit(misfit) => misfit.into(),
        Halt::Sink(refusal) => refusal,
    }
}

/// What of a job has no meaning for a program.
fn no_effect(setup: &Setup) -> Vec<String> {
    let stands = setup.job.stands != Stands::Upright;
    let message = "`stands` has no effect on a program: its X runs along the work";
    stands.then(|| message.to_owned()).into_iter().collect()
}

/// Whether a move turns the work.
#[inline]
pub(super) fn turns(from: &Position, to: &Position) -> bool {
    from.a != to.a || from.b != to.b || from.c != to.c
}

/// Whether a line that is passed on has an M word, or is a command to the controller itself.
pub(super) fn stops(text: &[u8]) -> bool {
    text.iter().any(|byte| matches!(byte, b'M' | b'm' | b'$'))
}

impl<'a, O: RunOut> Flat<'a, O> {
    pub(crate) fn new(
        setup: &'a Setup,
        wrapper: Wrapper<'a>,
        out: O,
        misfits: Misfits,
        (strict, pass): (bool, Pass),
    ) -> Self {
        Self {
            along_y: wrapper.rig().along_y(),
            wrapper,
            out,
            footprint: Footprint::default(),
            sections: Sections::default(),
            misfits,
            rewind: false,
            beam: Beam::new(strict),
            told: no_effect(setup),
            passing: Passing::new(pass, setup),
            index: Index::of_setup(setup),
            setup,
            on_off_told: false,
            spacing_told: None,
            broken_off: false,
        }
    }

    /// Whether the work lies along Y.
    pub(super) fn along_y(&self) -> bool {
        self.along_y
    }

    /// Whether lines along the axis stay lines of constant turn, evenly apart.
    pub(super) fn keeps_lines(&self) -> bool {
        let kind = self.wrapper.lay().setting().kind;
        let mut radii = self.setup.blank.stations.iter().map(|station| station.radius_mm);
        let first = radii.next().unwrap_or_default();
        matches!(kind, LayKind::EvenAngle | LayKind::TrueShape)
            || radii.all(|radius_mm| (radius_mm - first).abs() < 1e-9)
    }

    /// A stretch of scan lines, burned anew on lines along which the work stands still.
    pub(super) fn scan(&mut self, scanned: Scanned) -> Result<(), Refusal> {
        self.wrapper.belongs_to(scanned.line, scanned.section);
        let bounds = scanned.picture.bounds_flat();
        let point = |u: f64, v: f64| FlatPoint { u, v, z: 0.0 };
        for u in [bounds.x0, bounds.x1] {
            let (from, to) = (point(u, bounds.y0), point(u, bounds.y1));
            self.footprint.burn(&Curve::Line { from, to });
        }
        let lay = self.wrapper.lay().clone();
        let lines = if scanned.along_u && self.keeps_lines() {
            // The middle of the first row, and of the next.
            let turn_rad = |row: f64| {
                let flat = scanned.picture.to_flat() * kurbo::Point::new(0.0, row + 0.5);
                lay.map(&self.setup.blank.wall, flat.x, flat.y, &mut 0).turn_rad
            };
            let step_rad = (turn_rad(1.0) - turn_rad(0.0)).abs();
            LineRule::At { origin_rad: turn_rad(0.0), step_rad }
        } else {
            LineRule::NeverWider
        };
        let fill = Fill { colour: Rgb::new(0, 0, 0), rule: Rule::NonZero, opacity: 1.0 };
        let frame = Shape {
            element: 0,
            path: kurbo::Shape::to_path(&bounds, 0.1),
            fill: Some(fill),
            stroke: None,
            stroke_first: false,
            clips: Vec::new(),
        };
        let art = Art {
            elements: vec![Element::default()],
            shapes: vec![frame],
            shaded: vec![Shaded::of(0)],
            ..Art::default()
        };
        let full_s = self.setup.machine.controller.full_power_s;
        let tones = Tones::of_powers(&scanned.shares);
        let surface = Surface { piece: 0, lay: 0, picture: scanned.picture.into() };
        let operation = BurnOperation {
            work: Work::Picture,
            speed_mm_per_s: scanned.speed_mm_per_s,
            power_percent: 100.0 * scanned.most_s / full_s,
            line_spacing_mm: Some(scanned.step_mm),
            lines,
            passes: 1,
            cross: false,
            air: AirLevel::Off,
            even_dose: self.setup.job.dose == Some(Dose::Even),
            scan: ScanWay::Along,
            one_way: false,
            fade_mm: 0.0,
            defocus_mm: 0.0,
            spot_mm: None,
            shade: Some(Shade { surfaces: vec![surface], tones }),
            parts: vec![stave_transform::BurnPart { shape: 0, part: Part::Fill, piece: 0, lay: 0 }],
        };
        let burns = Burns {
            art: &art,
            to_flat: kurbo::Affine::IDENTITY,
            lays: &[lay],
            operations: vec![operation],
        };
        let even = burns.operations.iter().all(|operation| operation.even_dose);
        match self.wrapper.scan(&burns, scanned.word, scanned.moves, &mut self.out) {
            Ok(hatch) => {
                if let Some(hatch) = hatch.filter(|_| !even) {
                    self.tell_spacing(&GotSpacing::of_hatch(&hatch));
                }
                Ok(())
            }
            Err(Halt::Sink(refusal)) => Err(refusal),
            Err(Halt::Misfit(misfit)) => self.misfit(misfit, None),
        }
    }

    /// Rows that lie otherwise than they were drawn, at the power they were drawn for: of several
    /// stretches that is said of the one that is farthest off.
    fn tell_spacing(&mut self, got: &GotSpacing) {
        let least = self.spacing_told.map_or(CHANGED, |(worst, _)| worst.most_off());
        if got.most_off() <= least {
            return;
        }
        let says = format!(
            "the scan lines lie {} where {} mm were drawn, at the power they were drawn for, {}: \
             dose = \"even\" holds it",
            got.lie(),
            fixed(got.asked_mm, 4),
            got.changes()
        );
        let at = self.spacing_told.map_or(self.told.len(), |(_, at)| at);
        match self.told.get_mut(at) {
            Some(known) => *known = says,
            None => self.told.push(says),
        }
        self.spacing_told = Some((*got, at));
    }

    /// What came of a move.
    #[inline]
    fn settle(
        &mut self,
        result: Result<(), Halt<Refusal>>,
        to: impl FnOnce() -> FlatPoint,
    ) -> Result<(), Refusal> {
        match result {
            Ok(()) => Ok(()),
            Err(Halt::Sink(refusal)) => Err(refusal),
            Err(Halt::Misfit(misfit)) => self.misfit(misfit, Some(to())),
        }
    }

    #[cold]
    fn misfit(&mut self, misfit: Misfit, to: Option<FlatPoint>) -> Result<(), Refusal> {
        let Misfits::Note(noted) = &mut self.misfits else { return Err(misfit.into()) };
        if misfit.is_bad_input() {
            return Err(misfit.into());
        }
        let wall = &self.setup.blank.wall;
        let laid = to.map(|to| self.wrapper.lay().map(wall, to.u, to.v, &mut 0));
        let (value, at_mm) = match &misfit {
            Misfit::OffWall { at_mm, wall_mm } => {
                ((wall_mm.0 - at_mm).max(at_mm - wall_mm.1).max(0.0), Some(*at_mm))
            }
            Misfit::Reach { slope_deg, at_mm, .. } => (slope_deg.abs(), Some(*at_mm)),
            // The smaller the part of a label that would fit, the worse.
            Misfit::Label(LayError::LabelTooLarge { scale_percent, .. }) => {
                (100.0 - scale_percent, laid.map(|laid| laid.section.at_mm))
            }
            Misfit::Zone { at_mm, .. } => (0.0, Some(*at_mm)),
            _ => (0.0, laid.map(|laid| laid.section.at_mm)),
        };
        let turn = match &misfit {
            Misfit::Zone { turn_deg, .. } => Some(turn_deg.to_radians()),
            _ => laid.map(|laid| laid.turn_rad),
        };
        let line = self.wrapper.line();
        let kind = std::mem::discriminant(&misfit);
        match noted.iter_mut().find(|one| std::mem::discriminant(&one.misfit) == kind) {
            Some(known) => {
                known.lines += u64::from(known.line != line);
                if value > known.value {
                    (known.value, known.place) = (value, at_mm.zip(turn));
                    (known.misfit, known.line) = (misfit, line);
                }
            }
            None => {
                noted.push(NotedMisfit { misfit, line, lines: 1, place: at_mm.zip(turn), value });
            }
        }
        // Past a place that no word can hold there is nothing to go on from; the next move finds
        // its own.
        if let Some(to) = to {
            let _ = self.wrapper.travel(to, &mut self.out);
        }
        Ok(())
    }

    /// What the end of the input says of a program: an error where it was cut in the middle of a
    /// line with something burning, a finding where nothing says that it is whole.
    pub(crate) fn end_of_input(
        &self,
        summary: &ReadSummary,
    ) -> Result<Option<Finding>, SourceFault> {
        if self.broken_off {
            return Err(SourceFault::BrokenOff);
        }
        if summary.end != ProgramEnd::Input {
            return Ok(None);
        }
        if let Some(cut) = cut_short(summary, &self.beam) {
            return Err(cut);
        }
        let message = "the program ends without M2, M30 or a closing percent sign: see that all of \
                       it is there";
        let finding = Finding::new(Code::NoEnd, message.to_owned());
        Ok((summary.lines > 0).then(|| finding.on_line(summary.lines)))
    }

    /// The machine comes to where the program ended.
    pub(crate) fn arrive(&mut self) -> Result<(), Refusal> {
        let at = self.wrapper.flat();
        let result = self.wrapper.arrive(&mut self.out);
        self.settle(result, || at)
    }

    #[inline]
    fn feed(&mut self, curve: &Curve<'_>, feed: Option<Feed>) -> Result<(), Refusal> {
        if !self.beam.burns() {
            let result = self.wrapper.dark(curve, feed, &mut self.out);
            return self.settle(result, || curve.point(1.0));
        }
        if self.beam.on_off() {
            self.tell_on_off();
        }
        let feed = feed.ok_or(Misfit::NoFeed)?;
        self.footprint.burn(curve);
        let burn = Burn { feed, power: self.beam.power_s };
        let result = self.wrapper.burn(curve, burn, &mut self.out);
        self.settle(result, || curve.point(1.0))
    }

    #[cold]
    fn tell_on_off(&mut self) {
        if !self.on_off_told {
            self.on_off_told = true;
            self.told.push(
                "the program switches the beam on without an S word: taken for a laser that is \
                 only on or off"
                    .into(),
            );
        }
    }

    fn straight(
        &mut self,
        from: &Position,
        to: &Position,
        feed: Option<Feed>,
    ) -> Result<(), Refusal> {
        if turns(from, to) {
            return Err(ProgramFault::Turns.into());
        }
        let (from, to) = (FlatPoint::of(from, self.along_y), FlatPoint::of(to, self.along_y));
        self.feed(&Curve::Line { from, to }, feed)
    }

    fn arc(
        &mut self,
        (from, to): (&Position, &Position),
        arc: Arc,
        feed: Option<Feed>,
    ) -> Result<(), Refusal> {
        if turns(from, to) {
            return Err(ProgramFault::Turns.into());
        }
        self.feed(&Curve::Arc { from, to, arc, along_y: self.along_y }, feed)
    }

    fn travel(&mut self, from: &Position, to: &Position) -> Result<(), Refusal> {
        if turns(from, to) {
            return Err(ProgramFault::Turns.into());
        }
        let to = FlatPoint::of(to, self.along_y);
        let result = self.wrapper.travel(to, &mut self.out);
        self.settle(result, || to)
    }

    fn dwell(&mut self, seconds: f64) -> Result<(), Refusal> {
        if self.beam.dwell_burns() {
            if self.beam.on_off() {
                self.tell_on_off();
            }
            let here = self.wrapper.flat();
            self.footprint.dot(here.u, here.v);
        }
        match self.wrapper.dwell(seconds, &self.beam, &mut self.out) {
            Ok(()) => Ok(()),
            Err(Halt::Sink(refusal)) => Err(refusal),
            Err(Halt::Misfit(misfit)) => self.misfit(misfit, None),
        }
    }

    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        self.sections.comment(text);
        if self.passing.comments() { self.out.comment(text) } else { Ok(()) }
    }

    /// A line that moves nothing of the work, as far as anybody knows.
    fn pass(&mut self, kind: PassKind, text: &[u8], raw: &[u8]) -> Result<(), Refusal> {
        let passed = self.passing.line(self.wrapper.line(), kind, text, raw);
        if !passed.through {
            return Ok(());
        }
        if text.is_empty() {
            return Err(ProgramFault::Unpassable.into());
        }
        if stops(text) {
            self.wrapper.stop(kind, &mut self.out).map_err(halted)?;
        }
        self.out.line(text)?;
        if kind != PassKind::Known {
            self.out.forget(Forgotten::Modes);
            self.wrapper.anew(&mut self.out).map_err(halted)?;
        }
        if passed.may_move {
            self.out.forget(Forgotten::Place);
            self.wrapper.lost();
            // The rotary that a flat place stands on is no axis of the run.
            for line in self.index.iter().flat_map(Index::lines) {
                self.out.line(line.as_bytes())?;
            }
        }
        Ok(())
    }

    fn other(&mut self, event: &Event<'_>) -> Result<(), Refusal> {
        match *event {
            Event::Dwell { seconds } => self.dwell(seconds),
            Event::Beam { word } => {
                self.beam.word = word;
                let s_known = self.beam.power_s.is_some();
                self.wrapper.beam(word, s_known, &mut self.out).map_err(halted)
            }
            Event::Pause { word } => self.wrapper.pause(word, &mut self.out).map_err(halted),
            Event::Message { text } => self.comment(&[b"MSG,", text].concat()),
            Event::Comment { text } => {
                if is_ours(text) {
                    return Err(ProgramFault::Wrapped.into());
                }
                self.broken_off |= says_broken_off(text);
                self.comment(text.trim_ascii())
            }
            Event::Pass { kind, text, raw } => self.pass(kind, text, raw),
            Event::End { word } => {
                self.rewind = word == Some(EndWord::M30);
                Ok(())
            }
            // A Z of the program's own goes through, even where it only says where Z stands.
            Event::FirstWord { letter: b'Z' } => {
                self.wrapper.drive_z();
                Ok(())
            }
            Event::FirstWord { .. } => Err(ProgramFault::Turns.into()),
            _ => Ok(()),
        }
    }
}

impl<O: RunOut> Sink for Flat<'_, O> {
    type Error = Refusal;

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        let section = self.sections.now();
        match *event {
            Event::Straight { from, to, feed } => {
                self.wrapper.belongs_to(line, section);
                self.straight(from, to, feed)
            }
            Event::Power { s } => {
                self.beam.power_s = Some(s);
                Ok(())
            }
            Event::FeedRate { .. } => Ok(()),
            Event::Travel { from, to } => {
                self.wrapper.belongs_to(line, section);
                self.travel(from, to)
            }
            Event::Arc { from, to, arc, feed } => {
                self.wrapper.belongs_to(line, section);
                self.arc((from, to), arc, feed)
            }
            ref other => {
                self.wrapper.belongs_to(line, section);
                self.other(other)
            }
        }
    }

    fn idle(&mut self) -> Result<(), Refusal> {
        self.out.flush()
    }
}
