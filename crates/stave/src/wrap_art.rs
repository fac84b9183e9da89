//! `wrap`: art in, a program for the rotary out.

use std::io::Write;

use stave_setup::{Air, AirLevel, Dose, Setup};
use stave_toolpath::MachineMove;
use stave_toolpath::art;
use stave_toolpath::number::fixed;
use stave_transform::{
    ArtPlan, ArtSink, Burned, Burns, Halt, Hit, MoveSink, Operation, OperationFigures, Part,
    plan_art,
};
use stave_wall::Distortion;
use stave_write::gcode::{Dialect, WriteError, Writer};

use crate::error::Error;
use crate::header::header_with_time;
use crate::layout::{ArtOptions, ArtSource, Layout, PlacedOperation, Purpose};
use crate::lays::as_laid;
use crate::report::{OperationReport, PieceReport, WrapReport};
use crate::wrap::write_error;

/// How close outlines are followed where only their size on the wall is asked, mm.
const LOOK_MM: f64 = 0.1;
const MM_PER_INCH: f64 = 25.4;

/// Reads art, lays it on the setup's blank, and writes the program that burns it to `output`.
///
/// Areas are burned by scan lines along the axis, lines along them, what is seen and no more.
/// Nothing is written before all of it is known to fit.
///
/// # Errors
/// A drawing that cannot be read; art without speed and power; everything that would burn off the
/// wall, out of reach or in a zone, each with its operation, piece and place; errors of writing.
///
/// ```
/// use stave::{ArtOptions, ArtSource, Setup, setup, wrap_art};
/// # let blank = "[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n";
/// # let machine = "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n[rotary]\nword = \"A\"\n\
/// #     units_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n[line]\nspeed = 60.0\npower = 20.0\n";
/// let blank = setup::read_blank(blank, "can.toml")?;
/// let machine = setup::read_machine(machine, "bench.toml")?;
/// let setup = Setup::new(blank, machine, setup::read_job("place = { at = 40.0 }", "job.toml")?)?;
/// let mut program = Vec::new();
/// let square = ArtSource::Path("M0 0H20V20H0Z");
/// let report = wrap_art(square, &mut program, &setup, &ArtOptions::default())?;
/// assert!((report.burn_mm - 80.0).abs() < 0.01);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn wrap_art<W: Write>(
    source: ArtSource<'_>,
    output: W,
    setup: &Setup,
    options: &ArtOptions,
) -> Result<WrapReport, Error> {
    let layout = Layout::read(source, setup, options, Purpose::Burn)?;
    layout.check_labels(&setup.blank.wall)?;
    let burns = burns_of(&layout, source, setup);
    let plan = plan_art(&burns, setup).map_err(|hits| unfit(&hits, &layout))?;
    let burned = write_art(&layout, &plan, output, setup)?;
    let mut warnings = layout.warnings.clone();
    for (operation, figures) in layout.operations.iter().zip(&burned.operations) {
        warnings.extend(told(operation, figures));
    }
    warnings.extend(told_of_all(&burned));
    let laid = as_laid(&layout, setup);
    warnings.extend(laid.told());
    let count = 10_f64.powi(-i32::try_from(setup.machine.controller.decimals).unwrap_or(0));
    let mut report = WrapReport::of(&burned.stats, count, warnings);
    report.as_laid = laid.pieces;
    report.pieces = pieces(&layout, setup, &plan);
    let each = layout.operations.iter().zip(&burned.operations);
    report.operations =
        each.map(|(operation, figures)| operation_report(operation, figures)).collect();
    Ok(report)
}

/// Writes the program of art that is known to fit.
pub(crate) fn write_art<W: Write>(
    layout: &Layout,
    plan: &ArtPlan<'_>,
    output: W,
    setup: &Setup,
) -> Result<Burned, Error> {
    let mut writer = Writer::new(output, Dialect::of(&setup.machine));
    writer.head(&header_with_time(setup)).map_err(write_error)?;
    let mut out = Out {
        writer,
        layout,
        air: setup.machine.controller.air.as_ref(),
        blowing: AirLevel::Off,
        armed: false,
        burning: "",
        setup,
    };
    let burned = match plan.burn(&mut out) {
        Ok(burned) => burned,
        Err(halt) => return Err(out.broken(halt)),
    };
    out.blow(AirLevel::Off).and_then(|()| out.writer.end(false)).map_err(write_error)?;
    Ok(burned)
}

/// What of a layout burns.
pub(crate) fn burns_of<'a>(layout: &'a Layout, source: ArtSource<'_>, setup: &Setup) -> Burns<'a> {
    burns(layout, matches!(source, ArtSource::Path(_)) && setup.job.operations.is_empty())
}

/// What of a layout burns, as the room that makes moves of it has it. A bare path's outline is a
/// line to be followed, not a fill to be closed.
fn burns(layout: &Layout, bare: bool) -> Burns<'_> {
    let part = |placed: &crate::layout::PlacedPart| Part {
        shape: placed.shape,
        part: if bare { art::Part::StrokeMiddle } else { placed.part },
        piece: placed.piece,
        lay: placed.lay,
    };
    let operation = |placed: &PlacedOperation| Operation {
        work: placed.work,
        speed_mm_per_s: placed.speed_mm_per_s,
        power_percent: placed.power_percent,
        line_spacing_mm: placed.line_spacing_mm,
        passes: placed.passes,
        even_dose: placed.dose == Dose::Even,
        parts: placed.parts.iter().map(part).collect(),
    };
    Burns {
        art: &layout.art,
        to_flat: layout.to_flat,
        lays: &layout.lays,
        operations: layout.operations.iter().map(operation).collect(),
    }
}

/// Everything that does not fit, a line each.
fn unfit(hits: &[Hit], layout: &Layout) -> Error {
    let line = |hit: &Hit| {
        let piece = layout.pieces.get(hit.piece).map_or("art", |piece| piece.id.as_str());
        let operation = layout.operations.get(hit.operation).map_or("art", |op| op.name.as_str());
        format!("operation \"{operation}\", piece \"{piece}\": {}", hit.misfit)
    };
    Error::Unfit(hits.iter().map(line).collect::<Vec<_>>().join("\n"), false)
}

/// Hands moves and what they belong to on to the writer.
struct Out<'a, W: Write> {
    writer: Writer<W>,
    layout: &'a Layout,
    air: Option<&'a Air>,
    blowing: AirLevel,
    armed: bool,
    /// The name of the operation that burns.
    burning: &'a str,
    setup: &'a Setup,
}

impl<W: Write> Out<'_, W> {
    /// Switches the air assist, where there is one; the beam is dark meanwhile.
    fn blow(&mut self, level: AirLevel) -> Result<(), WriteError> {
        let Some(air) = self.air.filter(|_| level != self.blowing) else { return Ok(()) };
        let word = match level {
            AirLevel::Low => air.low.as_ref(),
            AirLevel::High => air.high.as_ref(),
            AirLevel::Off => Some(&air.off),
        };
        self.blowing = level;
        let Some(word) = word else { return Ok(()) };
        self.writer.darken()?;
        self.writer.line(word.as_bytes())
    }

    /// Ends a program that cannot be finished so that it does not look whole.
    fn broken(&mut self, halt: Halt<WriteError>) -> Error {
        let error = match halt {
            Halt::Misfit(misfit) => Error::Unfit(misfit.to_string(), false),
            Halt::Sink(error) => write_error(error),
        };
        if !error.is_closed_pipe()
            && let Err(error) = self.writer.break_off(&error.short())
        {
            return write_error(error);
        }
        error
    }
}

impl<W: Write> MoveSink for Out<'_, W> {
    type Error = WriteError;

    fn machine_move(&mut self, machine_move: &MachineMove) -> Result<(), WriteError> {
        self.writer.machine_move(machine_move)
    }
}

impl<W: Write> ArtSink for Out<'_, W> {
    fn operation(&mut self, operation: usize, pass: u32) -> Result<(), WriteError> {
        let Some(placed) = self.layout.operations.get(operation) else { return Ok(()) };
        let pass = match placed.passes {
            0 | 1 => String::new(),
            passes => format!(", pass {pass} of {passes}"),
        };
        self.writer.comment(format!("operation {}{pass}", placed.name).as_bytes())?;
        self.burning = &placed.name;
        self.blow(placed.air)?;
        // The word stands before the first run-up: between a run-up and its burn it would stop the
        // machine.
        if !self.armed {
            self.armed = true;
            self.writer.beam(Some(self.setup.machine.controller.beam_on), true)?;
        }
        Ok(())
    }

    fn pieces(&mut self, pieces: &[usize]) -> Result<(), WriteError> {
        let ids: Vec<&str> = pieces
            .iter()
            .filter_map(|piece| self.layout.pieces.get(*piece))
            .map(|p| p.id.as_str())
            .collect();
        // The operation's name again: what reads the program in sections begins one at every
        // comment.
        self.writer
            .comment(format!("piece {}: {}", crate::layout::listed(&ids), self.burning).as_bytes())
    }
}

/// What a person should know of an operation.
fn told(operation: &PlacedOperation, figures: &OperationFigures) -> Vec<String> {
    let name = &operation.name;
    let mut told = Vec::new();
    if let Some(hatch) = &figures.hatch {
        if hatch.coarse {
            told.push(format!(
                "operation \"{name}\": a motor step is {} mm at the largest diameter, wider than \
                 the {} mm asked",
                fixed(hatch.spacing_mm, 4),
                fixed(hatch.asked_mm, 4)
            ));
        }
        if let Some((turn_rad, gap_mm)) = hatch.seam {
            told.push(format!(
                "operation \"{name}\" goes all the way around, but no number of motor steps near \
                 the spacing asked divides the turn: at \
                 the seam, turn {}°, its lines lie {} mm apart instead of {} mm",
                fixed(turn_rad.to_degrees(), 2),
                fixed(gap_mm, 4),
                fixed(hatch.spacing_mm, 4)
            ));
        }
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
    if !operation.parts.is_empty() && figures.hatch.is_none() && figures.paths == 0 {
        told.push(format!(
            "operation \"{name}\" burns nothing: all that it picks is hidden, clipped or in a zone"
        ));
    }
    told
}

fn told_of_all(burned: &Burned) -> Vec<String> {
    let stats = &burned.stats;
    let mut told = Vec::new();
    if stats.burns_in == 0 {
        told.push("nothing burns".to_owned());
    }
    for (count, what) in [
        (stats.slowed_along, "the axis along the work"),
        (stats.slowed_rotary, "the rotary"),
        (stats.slowed_z, "the focus axis"),
    ] {
        if count > 0 {
            told.push(format!("{count} moves are slowed to what {what} can do"));
        }
    }
    if stats.below_least_power > 0 {
        told.push(format!(
            "{} moves need less than the machine's `least_power` and may not mark",
            stats.below_least_power
        ));
    }
    if burned.short_run_ups > 0 {
        told.push(format!(
            "{} run-ups end at the limit of the axis, too short to reach the speed: ends of lines may burn deeper",
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
