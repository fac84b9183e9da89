//! `wrap`: art in, a program for the rotary out.

use std::io::Write;

use stave_check::{Finding, Made, RunFacts};
use stave_plan::Nobody;
use stave_rig::{MadeFor, Meant};
use stave_setup::{Dose, Scan, Setup};
use stave_toolpath::art;
use stave_toolpath::number::fixed;
use stave_toolpath::{PassKind, Step, StepSink};
use stave_transform::{
    ArtPlan, ArtSink, BurnOperation, BurnPart, Burned, Burns, Halt, Hit, LineRule,
    OperationFigures, ScanWay, Shade, Surface, Tones, plan_art,
};
use stave_wall::{Distortion, Wall};
use stave_write::gcode::{Dialect, Forgotten, Writer};

use crate::element_hit::element_of;
use crate::error::{Error, PlacedMisfit, Refusal};
use crate::estimate::Estimate;
use crate::judged_operation::judge_operation;
use crate::layout::{Layout, PlacedOperation, Purpose};
use crate::lays::as_laid;
use crate::nothing;
use crate::order::END_UNKNOWN;
use crate::report::{OperationReport, PieceReport, WrapReport};
use crate::run::{Hashed, Onlookers, OwnNames, RunOut, Sections, Staged, in_stages};
use crate::scan_way::{self, Settled};
use crate::set_up::write_head;
use crate::source::{Options, Source};
use crate::wrap::{facts, refused};

/// How close outlines are followed where only their size on the wall is asked, mm.
const LOOK_MM: f64 = 0.1;
const MM_PER_INCH: f64 = 25.4;

/// A drawing laid out, none of whose labels folds.
pub(crate) fn unfolded(
    source: &Source<'_>,
    setup: &Setup,
    options: &Options,
    purpose: Purpose,
) -> Result<Layout, Error> {
    let layout = Layout::read(source, setup, options, purpose)?;
    let folds = layout.folds(&setup.blank.wall);
    if folds.is_empty() { Ok(layout) } else { Err(Error::NotFit(folds)) }
}

/// What burns where; what cannot is an error that names its operation and piece.
pub(crate) fn planned<'a>(
    burns: &Burns<'a>,
    layout: &Layout,
    setup: &'a Setup,
) -> Result<ArtPlan<'a>, Error> {
    let hits =
        |hits: Vec<Hit>| hits.iter().map(|hit| of_hit(hit, layout, &setup.blank.wall)).collect();
    plan_art(burns, setup).map_err(|found| Error::NotFit(hits(found)))
}

/// Lays a drawing on the setup's blank, and writes the program that burns it to `output`; the words
/// that come to be read are listed for who asks.
pub(crate) fn wrap_drawn<W: Write>(
    source: &Source<'_>,
    output: W,
    setup: &Setup,
    options: &Options,
    lists_words: bool,
) -> Result<WrapReport, Error> {
    let layout = unfolded(source, setup, options, Purpose::Burn)?;
    let (burns, ways) = settled(&layout, source, setup);
    let plan = planned(&burns, &layout, setup)?;
    let mut laid = as_laid(&layout, setup);
    laid.findings.splice(0..0, layout.findings.iter().cloned());
    let unfit = refused(laid.findings.clone(), &options.allow);
    if !unfit.is_empty() {
        return Err(Error::NotFit(unfit));
    }
    let mut made_for = MadeFor::of_setup(setup);
    if let Some(files) = &mut made_for.files {
        files.input = source.digest();
    }
    if let Some(stamp) = &options.stamp {
        made_for.stamped(stamp);
    }
    let mut writer = Writer::new(output, Dialect::of(&setup.machine));
    write_head(&mut writer, setup, &made_for.header_with_time())?;
    let onlookers = Onlookers::new(setup, &made_for, Made::Here, Nobody)?;
    let (judged, mut input) = ((onlookers, &options.allow[..]), Hashed::new(std::io::empty()));
    let staged = in_stages(setup, judged, &mut input, &mut writer, |out, _| {
        let mut run = ArtRun::new(&layout, out);
        let burned = plan.burn(&mut run).and_then(|burned| {
            run.out.settle().map_err(Halt::Sink)?;
            Ok(burned)
        });
        (burned, (run.sections, run.own_names), run.pieces)
    })?;
    let Staged {
        made: (burned, (sections, own_names), pieces_of),
        onlookers,
        parted,
        refused: later,
    } = staged;
    let burned = match later {
        // What was refused on the way is told with all that is found at the end.
        Some(Refusal::Unfit) if burned.is_ok() => burned,
        Some(later) => Err(Halt::Sink(later)),
        None => burned,
    };
    let burned = match burned {
        Ok(burned) => burned,
        Err(halt) => {
            let error = broken(halt, &onlookers, &pieces_of, &layout, options);
            if !error.is_closed_pipe() {
                writer.break_off(&error.short())?;
            }
            return Err(error);
        }
    };
    let mut seen = onlookers.end(RunFacts { spacing_known: true, ..facts(&burned.stats) })?;
    of_pieces(&mut seen.verdict.findings, &pieces_of, &layout);
    seen.verdict.findings.extend(laid.findings.iter().cloned());
    for (operation, figures) in layout.operations.iter().zip(&burned.operations) {
        judge_operation(operation, figures, &layout, setup, &mut seen.verdict);
    }
    nothing::tell(&mut seen.verdict.findings, &layout, &burned.operations, source, setup);
    let unfit = refused(seen.verdict.findings.clone(), &options.allow);
    if !unfit.is_empty() {
        let error = Error::NotFit(unfit);
        writer.break_off(&error.short())?;
        return Err(error);
    }
    if options.stamp.is_some() {
        writer.comment(END_UNKNOWN.as_bytes())?;
    }
    writer.end(false)?;
    let mut warnings = layout.warnings.clone();
    for (operation, way) in layout.operations.iter().zip(&ways) {
        warnings.extend(way.as_ref().map(|way| way.sentence(&operation.name)));
    }
    for (number, (operation, figures)) in
        layout.operations.iter().zip(&burned.operations).enumerate()
    {
        warnings.extend(of_operation(operation, figures, setup));
        let is_idle = figures.hatch.is_none() && figures.paths == 0;
        if is_idle && burned.stats.burns_in > 0 && !operation.parts.is_empty() {
            let in_zone = figures.masked_mm > 0.0;
            let why = nothing::of_operation(number, in_zone, &layout, source, setup);
            warnings.push(format!("operation \"{}\" burns nothing: {why}", operation.name));
        }
    }
    warnings.extend(of_all(&burned));
    let count = setup.machine.controller.count();
    let mut report = WrapReport::of(&burned.stats, count, warnings);
    report.moves_out += parted;
    let mut estimate = Estimate::of(source.name(), &seen.times, &sections, &setup.machine, true);
    estimate.nominal_s = Some(burned.stats.nominal_s);
    report.estimate = Some(estimate);
    report.judged(&seen);
    report.as_laid = laid.pieces;
    report.own_names = own_names;
    if lists_words {
        report.words = layout.read_over(&layout.words, setup);
    }
    report.pieces = pieces(&layout, setup, &plan);
    let each = layout.operations.iter().zip(&burned.operations);
    report.operations =
        each.map(|(operation, figures)| operation_report(operation, figures)).collect();
    Ok(report)
}

/// A drawing on its way to the output: what it belongs to is told beside its steps.
pub(crate) struct ArtRun<'l, O> {
    pub(crate) out: O,
    pub(crate) layout: &'l Layout,
    /// The name of the operation that burns.
    pub(crate) burning: &'l str,
    pub(crate) sections: Sections,
    /// What they are called in the drawing.
    pub(crate) own_names: OwnNames,
    /// For each section its pieces.
    pub(crate) pieces: Vec<Vec<usize>>,
}

impl<'l, O: RunOut> ArtRun<'l, O> {
    pub(crate) fn new(layout: &'l Layout, out: O) -> Self {
        let sections = Sections::default();
        let own_names = OwnNames::default();
        Self { out, layout, burning: "", sections, own_names, pieces: vec![Vec::new()] }
    }

    fn comment(&mut self, text: &str) -> Result<(), Refusal> {
        self.sections.comment(text.as_bytes());
        self.own_names.comment(text);
        self.out.comment(text.as_bytes())
    }
}

impl<O: RunOut> StepSink for ArtRun<'_, O> {
    type Error = Refusal;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        self.out.step(step)
    }
}

impl<'l, O: RunOut> ArtSink for ArtRun<'l, O> {
    fn operation(&mut self, operation: usize, pass: u32, meant: &Meant) -> Result<(), Refusal> {
        let layout: &'l Layout = self.layout;
        let Some(placed) = layout.operations.get(operation) else { return Ok(()) };
        let crossed = if placed.cross && placed.work != art::Work::Line { 2 } else { 1 };
        let pass = match placed.passes * crossed {
            0 | 1 => String::new(),
            passes => format!(", pass {pass} of {passes}"),
        };
        self.burning = &placed.name;
        self.comment(&format!("operation {}{pass}{}", placed.name, meant.suffix()))
    }

    fn pieces(&mut self, pieces: &[usize]) -> Result<u32, Refusal> {
        let ids: Vec<&str> = pieces
            .iter()
            .filter_map(|piece| self.layout.pieces.get(*piece))
            .map(|p| p.id.as_str())
            .collect();
        // The operation's name again: what reads the program in sections begins one at every
        // comment.
        let text = format!("piece {}: {}", crate::layout::listed(&ids), self.burning);
        self.comment(&text)?;
        let section = self.sections.now();
        self.pieces.resize(section as usize + 1, Vec::new());
        if let Some(of_section) = self.pieces.last_mut() {
            *of_section = pieces.to_vec();
        }
        Ok(section)
    }

    fn word(&mut self, word: &str) -> Result<(), Refusal> {
        self.out.line(word.as_bytes())?;
        if PassKind::of_word(word) != PassKind::Known {
            self.out.forget(Forgotten::Modes);
        }
        Ok(())
    }
}

/// Why a program cannot be finished.
fn broken(
    halt: Halt<Refusal>,
    onlookers: &Onlookers<'_, Nobody>,
    pieces: &[Vec<usize>],
    layout: &Layout,
    options: &Options,
) -> Error {
    match halt {
        Halt::Misfit(misfit) => PlacedMisfit::of_run(misfit),
        Halt::Sink(Refusal::Unfit) => {
            let verdict = onlookers.judge.verdict(&RunFacts::default());
            let mut findings = refused(verdict.findings, &options.allow);
            of_pieces(&mut findings, pieces, layout);
            Error::NotFit(findings)
        }
        Halt::Sink(other) => other.into(),
    }
}

/// Says of findings which piece they concern: that says more than a line of a program that nobody
/// has.
pub(crate) fn of_pieces(findings: &mut [Finding], pieces: &[Vec<usize>], layout: &Layout) {
    for finding in findings {
        let of_section = finding.section.and_then(|section| pieces.get(section as usize));
        let piece = of_section.and_then(|pieces| pieces.first()).copied();
        if finding.piece.is_none() {
            finding.piece = piece.and_then(|k| layout.pieces.get(k)).map(|piece| piece.id.clone());
        }
        finding.line = None;
    }
}

/// What of a layout burns.
pub(crate) fn burns_of<'a>(layout: &'a Layout, source: &Source<'_>, setup: &Setup) -> Burns<'a> {
    settled(layout, source, setup).0
}

/// What of a layout burns, and what was found of each operation that left it open which way its
/// scan lines run.
pub(crate) fn settled<'a>(
    layout: &'a Layout,
    source: &Source<'_>,
    setup: &Setup,
) -> (Burns<'a>, Vec<Option<Settled>>) {
    let bare = matches!(source, Source::Path(_)) && setup.job.operations.is_empty();
    let mut burns = burns(layout, bare);
    let ways = scan_way::settle(&mut burns, &layout.operations, setup);
    (burns, ways)
}

/// What of a layout burns, as the room that makes moves of it has it. A bare path's outline is a
/// line to be followed, not a fill to be closed.
fn burns(layout: &Layout, bare: bool) -> Burns<'_> {
    let part = |placed: &crate::layout::PlacedPart| BurnPart {
        shape: placed.shape,
        part: if bare { art::Part::StrokeMiddle } else { placed.part },
        piece: placed.piece,
        lay: placed.lay,
    };
    let operation = |placed: &PlacedOperation| BurnOperation {
        work: placed.work,
        speed_mm_per_s: placed.speed_mm_per_s,
        power_percent: placed.power_percent,
        line_spacing_mm: placed.line_spacing_mm,
        lines: LineRule::Nearest,
        passes: placed.passes,
        cross: placed.cross,
        air: placed.air,
        even_dose: placed.dose == Dose::Even,
        scan: match placed.scan {
            Scan::Around => ScanWay::Around,
            Scan::Along | Scan::Auto => ScanWay::Along,
        },
        one_way: placed.one_way,
        fade_mm: placed.fade_mm,
        defocus_mm: placed.defocus_mm,
        spot_mm: placed.spot_mm,
        shade: (placed.work == art::Work::Picture).then(|| shade(layout, placed)),
        parts: placed.parts.iter().map(part).collect(),
    };
    Burns {
        art: &layout.art,
        to_flat: layout.to_flat,
        lays: &layout.lays,
        operations: layout.operations.iter().map(operation).collect(),
    }
}

/// What an operation for pictures shows: for each of its pieces its greys, and what becomes of
/// them.
pub(crate) fn shade(layout: &Layout, placed: &PlacedOperation) -> Shade {
    let lay_of = |piece: usize| {
        placed.parts.iter().find(|part| part.piece == piece).map_or(0, |part| part.lay)
    };
    let seen = placed.pictures.iter().map(|(piece, picture)| Surface {
        piece: *piece,
        lay: lay_of(*piece),
        picture: picture.clone(),
    });
    let mut surfaces: Vec<Surface> = seen.collect();
    for part in &placed.parts {
        if surfaces.iter().any(|known| known.piece == part.piece) {
            continue;
        }
        let finest_mm = placed.line_spacing_mm.unwrap_or_default();
        if let Some(picture) = layout.picture(placed.shading.invert, finest_mm) {
            surfaces.push(Surface { piece: part.piece, lay: part.lay, picture: picture.into() });
        }
    }
    Shade { surfaces, tones: Tones::of_shading(&placed.shading, placed.power_percent) }
}

/// What keeps a piece from being laid.
pub(crate) fn of_hit(hit: &Hit, layout: &Layout, wall: &Wall) -> Finding {
    let operation =
        layout.operations.get(hit.operation).map_or("art", |operation| operation.name.as_str());
    let finding = crate::check::of_misfit(&hit.misfit, &format!("operation \"{operation}\": "));
    let Some(piece) = layout.pieces.get(hit.piece) else { return finding };
    // A piece that is called as its element needs no second name.
    match element_of(hit, layout, wall).filter(|element| *element != piece.id) {
        Some(element) => finding.of_piece(&piece.id).of_element(element),
        None => finding.of_piece(&piece.id),
    }
}

/// What a person should know of an operation.
fn of_operation(
    operation: &PlacedOperation,
    figures: &OperationFigures,
    setup: &Setup,
) -> Vec<String> {
    let name = &operation.name;
    let mut told = Vec::new();
    if operation.defocus_mm != 0.0 && setup.machine.z.is_none() {
        let (mm, way) = (operation.defocus_mm.abs(), operation.defocus_mm > 0.0);
        told.push(format!(
            "operation \"{name}\" burns {} mm out of focus, and the machine has no [z]: the \
             program waits before it (M0); {} the head by that much, and set it back for what \
             comes after",
            fixed(mm, 2),
            if way { "raise" } else { "lower" }
        ));
    }
    if operation.fade_mm > 0.0
        && let Some(hatch) = &figures.hatch
        && hatch.fade_rad.is_none()
    {
        let why = if hatch.full_wrap { "its lines do not close" } else { "it is no full wrap" };
        told.push(format!("operation \"{name}\" has no seam to fade: {why}"));
    }
    for hatch in [&figures.hatch, &figures.cross].into_iter().flatten() {
        let Some((turn_rad, gap_mm)) = hatch.seam else { continue };
        told.push(format!(
            "operation \"{name}\" goes all the way around, but no number of motor steps near \
             the spacing asked divides the turn: at \
             the seam, turn {}°, its lines lie {} mm apart instead of {} mm",
            fixed(turn_rad.to_degrees(), 2),
            fixed(gap_mm, 4),
            fixed(hatch.spacing_mm, 4)
        ));
    }
    if figures.speed_mm_per_s < operation.speed_mm_per_s {
        told.push(format!(
            "operation \"{name}\" is slowed from {} to {} mm/s: an even dose would need more than full power",
            fixed(operation.speed_mm_per_s, 1),
            fixed(figures.speed_mm_per_s, 1)
        ));
    }
    if figures.masked_mm > 0.0 {
        told.push(format!(
            "operation \"{name}\": {} mm lie in zones and stay dark",
            fixed(figures.masked_mm, 1)
        ));
    }
    told
}

fn of_all(burned: &Burned) -> Vec<String> {
    let stats = &burned.stats;
    let mut told = Vec::new();
    for (count, what) in [
        (stats.slowed_along, "the axis along the work"),
        (stats.slowed_rotary, "the rotary"),
        (stats.slowed_z, "the focus axis"),
    ] {
        if count > 0 {
            told.push(format!("{count} moves are slowed to what {what} can do"));
        }
    }
    if burned.short_run_ups > 0 {
        told.push(format!(
            "{} run-ups end at the limit of the axis, too short to reach the speed: ends of lines \
             may burn deeper",
            burned.short_run_ups
        ));
    }
    told
}

fn operation_report(placed: &PlacedOperation, figures: &OperationFigures) -> OperationReport {
    let hatch = figures.hatch.as_ref();
    OperationReport {
        name: placed.name.clone(),
        work: placed.work,
        speed_mm_per_s: figures.speed_mm_per_s,
        power_percent: placed.power_percent,
        passes: placed.passes,
        scan: hatch.map(|h| match h.way {
            ScanWay::Along => Scan::Along,
            ScanWay::Around => Scan::Around,
        }),
        spot_mm: placed.spot_mm,
        spacing_asked_mm: hatch.map(|h| h.asked_mm),
        spacing_mm: hatch.map(|h| h.spacing_mm),
        lines_per_inch: hatch.map(|h| MM_PER_INCH / h.spacing_mm),
        motor_steps: hatch.and_then(|h| h.motor_steps),
        lines: hatch.map(|h| h.lines),
        seam_turn_deg: hatch.and_then(|h| h.seam).map(|(turn, _)| turn.to_degrees()),
        seam_mm: hatch.and_then(|h| h.seam).map(|(_, gap)| gap),
        area_mm2: hatch.map(|_| figures.area_mm2),
        paths: figures.paths,
        burn_mm: figures.burn_mm,
        masked_mm: figures.masked_mm,
        travel_drawn_mm: figures.travel_drawn_mm,
        travel_ordered_mm: figures.travel_ordered_mm,
    }
}

fn pieces(layout: &Layout, setup: &Setup, plan: &stave_transform::ArtPlan<'_>) -> Vec<PieceReport> {
    let mut reports: Vec<PieceReport> = Vec::with_capacity(layout.pieces.len());
    for (number, piece) in layout.pieces.iter().enumerate() {
        let extent = plan.extent_of_piece(number);
        reports.push(PieceReport {
            at_min: extent.map(|e| e.at_mm.0),
            at_max: extent.map(|e| e.at_mm.1),
            turn_min_deg: extent.map(|e| e.turn_rad.0.to_degrees()),
            turn_max_deg: extent.map(|e| e.turn_rad.1.to_degrees()),
            ..PieceReport::new(&piece.id, layout.kind_of(piece, setup))
        });
    }
    for part in layout.operations.iter().flat_map(|operation| &operation.parts) {
        let (Some(lay), Some(report)) = (layout.lays.get(part.lay), reports.get_mut(part.piece))
        else {
            continue;
        };
        kurbo::flatten(layout.outline_flat(part, LOOK_MM), LOOK_MM, |element| {
            let Some(point) = element.end_point() else { return };
            report.stretch(&Distortion::of_jacobian(lay.jacobian(
                &setup.blank.wall,
                point.x,
                point.y,
            )));
        });
    }
    reports
}
