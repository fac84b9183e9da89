//! Art to machine moves: [`plan_art`] decides what burns where and in what order, [`ArtPlan::burn`]
//! makes the moves.

mod fade;
mod planner;

use std::collections::HashSet;

use stave_rig::{Meant, Misfit};
use stave_setup::{AirLevel, Setup};
use stave_toolpath::art;
use stave_toolpath::{BeamWord, PassKind, PauseWord, StepSink};
use stave_wall::Lay;

use crate::area::{self, AreaHow, Block, Shaded};
use crate::burns::{BurnOperation, Burns, ScanWay};
use crate::drive::Drive;
use crate::halt::Halt;
use crate::line::{self, LineHow, LinePath};
use crate::narrow::Narrow;
use crate::order::Visit;
use crate::quicker::Quicker;
use crate::redraw::Extent;
use crate::scene::Scene;
use crate::shade::Shader;
use crate::stats::Stats;
use planner::Planner;

/// The scene's chords may take this share of the tolerance.
const SCENE_SHARE: f64 = 0.1;

/// Takes the steps of art in order, and is told what they belong to.
pub trait ArtSink: StepSink {
    /// From here on an operation burns, for the `pass`th time (from 1), and means to do so.
    ///
    /// # Errors
    /// Where the sink cannot take it; the burn ends there.
    fn operation(&mut self, operation: usize, pass: u32, meant: &Meant) -> Result<(), Self::Error>;

    /// From here on these pieces burn, in rising order; the section that their steps are to bear.
    ///
    /// # Errors
    /// As above.
    fn pieces(&mut self, pieces: &[usize]) -> Result<u32, Self::Error>;

    /// A word of the machine's that moves nothing; a stop came before it.
    ///
    /// # Errors
    /// As above.
    fn word(&mut self, word: &str) -> Result<(), Self::Error>;
}

/// A place where something would burn that cannot.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// The operation.
    pub operation: usize,
    /// The piece.
    pub piece: usize,
    /// What is wrong, and where it was first met.
    pub misfit: Misfit,
}

/// The scan lines of an operation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HatchFigures {
    /// Which way they run.
    pub way: ScanWay,
    /// The spacing asked, mm on the wall.
    pub asked_mm: f64,
    /// The spacing at the largest diameter burned, mm on the wall.
    pub spacing_mm: f64,
    /// The spacing at the smallest diameter burned, mm on the wall.
    pub closest_mm: f64,
    /// Whole motor steps between lines, where the machine file tells them.
    pub motor_steps: Option<f64>,
    /// A single motor step is wider than a tenth over what was asked.
    pub coarse: bool,
    /// How many lines burn.
    pub lines: u64,
    /// For art that goes all the way around and does not close: the turn of the seam, rad, and how
    /// far apart the lines lie across it, mm.
    pub seam: Option<(f64, f64)>,
    /// Whether the art goes all the way around.
    pub full_wrap: bool,
    /// Blocks that are burned one after the other.
    pub blocks: usize,
    /// From which turn to which the seam fades, rad.
    pub fade_rad: Option<(f64, f64)>,
}

/// What an operation came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OperationFigures {
    /// Its scan lines; `None` for lines.
    pub hatch: Option<HatchFigures>,
    /// Those that run across them, where it has such.
    pub cross: Option<HatchFigures>,
    /// Runs of lines that are burned without a break.
    pub paths: u64,
    /// Travel between blocks or lines in the order of the drawing, mm, one pass.
    pub travel_drawn_mm: f64,
    /// The same in the order burned.
    pub travel_ordered_mm: f64,
    /// The speed it is burned at, mm/s: lower than asked where full power would not do.
    pub speed_mm_per_s: f64,
    /// Length burned on the wall, all passes, mm. There once it was burned.
    pub burn_mm: f64,
    /// Area that is covered by its scan lines, mm² of wall, one pass: length times spacing where it
    /// lies.
    pub area_mm2: f64,
    /// Length left dark inside zones, mm on the wall, all passes.
    pub masked_mm: f64,
    /// What is narrower than the spot: of each piece the narrowest shape and the narrowest gap.
    pub narrow: Vec<Narrow>,
    /// The speed at which it is sooner done at the same dose, if there is one.
    pub quicker: Option<Quicker>,
}

/// An operation, ready to burn.
#[derive(Clone, Debug)]
enum Ready {
    Area { blocks: Vec<(Block, bool, bool)>, how: AreaHow, shader: Option<Box<Shader>> },
    Lines { paths: Vec<LinePath>, visits: Vec<Visit>, how: LineHow },
    Nothing,
}

/// What an operation burns in a pass: once, or by lines along and then by lines across.
#[derive(Clone, Debug)]
struct Pass {
    ready: Ready,
    /// From which turn to which its seam fades, rad.
    fade_rad: Option<(f64, f64)>,
}

/// What burns where and in what order.
#[derive(Clone, Debug)]
pub struct ArtPlan<'a> {
    setup: &'a Setup,
    lays: &'a [Lay],
    /// Of each operation what its passes are, those that burn something.
    ready: Vec<Vec<Pass>>,
    /// How often each operation burns, under which air, and how far out of focus, mm.
    ways: Vec<(u32, AirLevel, f64)>,
    figures: Vec<OperationFigures>,
    extents: Vec<Option<Extent>>,
}

/// What a burn came to.
#[derive(Clone, Debug)]
pub struct Burned {
    /// Figures of all moves.
    pub stats: Stats,
    /// For each operation what it came to.
    pub operations: Vec<OperationFigures>,
    /// Run-ups that the end of an axis made too short to reach the speed.
    pub short_run_ups: u64,
}

/// Decides what burns where and in what order.
///
/// What is seen in the drawing is what burns: opaque shapes hide what they lie over, in the flat
/// plane, before any lay. A stroke that some operation burns along its middle is a line without
/// width and hides nothing.
///
/// # Errors
/// Every operation and piece that would burn off the wall, out of reach, or in a zone that is to be
/// refused, each with the place where it does.
pub fn plan_art<'a>(burns: &Burns<'a>, setup: &'a Setup) -> Result<ArtPlan<'a>, Vec<Hit>> {
    let along = |operation: &BurnOperation| {
        let middles = operation.parts.iter().filter(|part| part.part == art::Part::StrokeMiddle);
        middles.map(|part| part.shape).collect::<Vec<_>>()
    };
    let burned_along: HashSet<usize> = burns.operations.iter().flat_map(along).collect();
    let scene =
        Scene::new(burns.art, burns.to_flat, SCENE_SHARE * setup.job.tolerance_mm, &burned_along);
    let mut planner = Planner::new(burns, setup, &scene);
    let (mut ready, mut figures) = (Vec::new(), Vec::new());
    for (number, operation) in burns.operations.iter().enumerate() {
        let (passes, figure) = planner.passes(number, operation);
        ready.push(passes);
        figures.push(figure);
    }
    if !planner.hits.is_empty() {
        return Err(planner.hits);
    }
    let way =
        |operation: &BurnOperation| (operation.passes.max(1), operation.air, operation.defocus_mm);
    let ways = burns.operations.iter().map(way).collect();
    Ok(ArtPlan { setup, lays: burns.lays, ready, ways, figures, extents: planner.extents })
}

impl ArtPlan<'_> {
    /// For each operation what it comes to, but for what only burning tells.
    #[must_use]
    pub fn figures(&self) -> &[OperationFigures] {
        &self.figures
    }

    /// Where a piece burns; `None` where it does not.
    #[must_use]
    pub fn extent_of_piece(&self, piece: usize) -> Option<Extent> {
        self.extents.get(piece).copied().flatten()
    }

    /// Makes the steps.
    ///
    /// # Errors
    /// Where a word cannot hold a place, or the sink refuses.
    pub fn burn<S: ArtSink>(&self, sink: &mut S) -> Result<Burned, Halt<S::Error>> {
        let mut drive = Drive::new(self.setup);
        let mut figures = self.figures.clone();
        let (mut blowing, mut out_of_focus_mm) = (AirLevel::Off, 0.0);
        let drives_z = self.setup.machine.z.is_some();
        drive.emit.drives_z |= drives_z && self.ways.iter().any(|(.., mm)| *mm != 0.0);
        for (number, each) in self.ready.iter().enumerate() {
            if each.is_empty() {
                continue;
            }
            let before_mm = drive.emit.stats.burn_mm;
            let (passes, air, defocus_mm) = self.ways[number];
            drive.out_of_focus(if drives_z { defocus_mm } else { 0.0 });
            let all = (0..passes).flat_map(|_| each);
            for (pass, Pass { ready, fade_rad }) in (1..).zip(all) {
                let meant = Meant { defocus_mm, fade_rad: *fade_rad };
                sink.operation(number, pass, &meant).map_err(Halt::Sink)?;
                if std::mem::replace(&mut out_of_focus_mm, defocus_mm) != defocus_mm && !drives_z {
                    // A person moves the head.
                    drive.emit.pause(PauseWord::M0, sink)?;
                }
                self.blow(&mut drive, &mut blowing, air, sink)?;
                // The word stands before the first run-up: between a run-up and its burn it would
                // stop the machine.
                drive.emit.beam(Some(self.setup.machine.controller.beam_on), true, sink)?;
                self.once(&mut drive, ready, sink)?;
            }
            figures[number].burn_mm = drive.emit.stats.burn_mm - before_mm;
        }
        self.blow(&mut drive, &mut blowing, AirLevel::Off, sink)?;
        let mut stats = drive.emit.stats;
        stats.masked_mm = figures.iter().map(|f| f.masked_mm).sum();
        Ok(Burned { stats, operations: figures, short_run_ups: drive.short_run_ups })
    }

    /// Makes the steps of every operation once, as part of a run that has begun, under its beam
    /// word.
    pub(crate) fn burn_on<S: ArtSink>(
        &self,
        drive: &mut Drive<'_>,
        word: BeamWord,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        for pass in self.ready.iter().flatten() {
            drive.emit.beam(Some(word), true, sink)?;
            self.once(drive, &pass.ready, sink)?;
        }
        Ok(())
    }

    /// One pass of an operation.
    fn once<S: ArtSink>(
        &self,
        drive: &mut Drive<'_>,
        ready: &Ready,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        match ready {
            Ready::Nothing => {}
            Ready::Area { blocks, how, shader } => {
                let shaded = shader.as_ref().map(|shader| Shaded { shader, lays: self.lays });
                let error_mm = &mut drive.emit.stats.chord_error_max_mm;
                *error_mm = error_mm.max(how.strayed_mm);
                for (block, upward, forward) in blocks {
                    drive.emit.section = sink.pieces(&pieces_of(block)).map_err(Halt::Sink)?;
                    let way = (*upward, *forward);
                    area::burn_block(drive, block, how, shaded.as_ref(), way, sink)?;
                }
            }
            Ready::Lines { paths, visits, how } => {
                let mut piece = None;
                for visit in visits {
                    let path = &paths[visit.stop];
                    if piece != Some(path.piece) {
                        piece = Some(path.piece);
                        drive.emit.section = sink.pieces(&[path.piece]).map_err(Halt::Sink)?;
                    }
                    let Some(lay) = self.lays.get(path.lay) else { continue };
                    let way = (visit.reversed, visit.start);
                    line::burn_path(drive, lay, &path.chain, way, how, sink)?;
                }
            }
        }
        Ok(())
    }

    /// Switches the air assist, where there is one; the beam is dark meanwhile.
    fn blow<S: ArtSink>(
        &self,
        drive: &mut Drive<'_>,
        blowing: &mut AirLevel,
        level: AirLevel,
        sink: &mut S,
    ) -> Result<(), Halt<S::Error>> {
        let Some(air) = &self.setup.machine.controller.air else { return Ok(()) };
        if std::mem::replace(blowing, level) == level {
            return Ok(());
        }
        let word = match level {
            AirLevel::Low => air.low.as_ref(),
            AirLevel::High => air.high.as_ref(),
            AirLevel::Off => Some(&air.off),
        };
        let Some(word) = word else { return Ok(()) };
        let kind = PassKind::of_word(word);
        drive.emit.stop(kind, sink)?;
        sink.word(word).map_err(Halt::Sink)?;
        if kind == PassKind::Known { Ok(()) } else { drive.emit.anew(sink) }
    }
}

fn pieces_of(block: &Block) -> Vec<usize> {
    let all: std::collections::BTreeSet<usize> =
        block.lines.iter().flat_map(|line| &line.runs).map(|run| run.piece as usize).collect();
    all.into_iter().collect()
}
