//! `steps`: what the machine does, one move after the other, without text.

use stave_parse::gcode;
use stave_rig::Rig;
use stave_setup::Setup;
use stave_toolpath::{Step, StepSink};
use stave_transform::Wrapper;

use crate::error::{Error, Refusal};
use crate::flat_place::for_program;
use crate::run::{
    Finished, Flat, Known, Misfits, Paced, Quiet, Rescan, RunOut as _, open, program_anchor,
};
use crate::source::{Options, Source};

/// Hands every step of the machine to `take`, in order: of a flat program or a drawing as it is
/// laid on the setup's blank, of a wrapped program as it stands, by its first line.
///
/// Each [`Step`] has the axis words and the place on the wall at both its ends, what it burns, how
/// long it is on the wall and how long it takes at the speed asked. It is what
/// [`wrap`](crate::wrap) writes; nothing is judged but that every burn can be laid: ask
/// [`check`](crate::check) first.
///
/// # Errors
/// Where the program or the drawing is wrong, or does not fit the wall; [`Error::Refused`] with
/// what `take` said when it wanted no more.
///
/// ```
/// use stave::{Options, Setup, Source, StepKind, setup, steps};
/// # let blank = "[[station]]\nat = 0.0\ndiameter = 60.0\n[[station]]\nat = 100.0\ndiameter = 60.0\n";
/// # let machine = "[x]\nspeed = 500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\nacceleration = 3000.0\n[rotary]\nword = \"A\"\n\
/// #     units_per_turn = 360.0\nspeed = 360.0\nacceleration = 2000.0\n";
/// # let setup = Setup::new(setup::read_blank(blank, "can.toml")?, setup::read_machine(machine, "bench.toml")?, setup::read_job("", "job.toml")?)?;
/// let flat = Source::program(&b"M4 S300\nG0 X20 Y0\nG1 X60 Y10 F600\nM5\nM2\n"[..]);
/// let mut burned_mm = 0.0;
/// steps(flat, &setup, &Options::default(), |step| {
///     if step.kind == StepKind::Burn {
///         burned_mm += step.length_mm;
///     }
///     Ok::<(), std::convert::Infallible>(())
/// })?;
/// assert!((burned_mm - 40_f64.hypot(10.0)).abs() < 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn steps<E: Into<Box<dyn std::error::Error + Send + Sync>>>(
    source: Source<'_>,
    setup: &Setup,
    options: &Options,
    take: impl FnMut(&Step) -> Result<(), E>,
) -> Result<(), Error> {
    let sink = Taker(take);
    let (input, name) = match source {
        Source::Program { input, name } => (input, name),
        #[cfg(feature = "svg")]
        drawn => return of_drawn(&drawn, setup, options, sink),
    };
    let (made_for, input) = open(input, &name)?;
    let of_reading = |error| Error::of_reading(error, &name);
    if let Some(made_for) = made_for {
        let setup = for_program(setup, &made_for, &name)?;
        let known = Known::Wrapped(Rig::new(&setup.blank, &setup.machine, &made_for));
        let mut run = Finished::new(&setup.machine, known, true, options.read.strict, sink)
            .made_for(setup.whole().1, &made_for);
        let summary = gcode::read(input, &options.read, &mut run).map_err(of_reading)?;
        return run.refuse_unfinished(true, &summary, &name);
    }
    let wrapper = Wrapper::new(setup, program_anchor(setup)?)?;
    let how = (options.read.strict, options.pass);
    let out = Paced::new(setup, Quiet(sink))?;
    let flat = Flat::new(setup, wrapper, out, Misfits::Refuse, how);
    let mut run = Rescan::new(flat, options.scan, options.read.strict);
    let summary = gcode::read(input, &options.read, &mut run).map_err(of_reading)?;
    run.flat.end_of_input(&summary).map_err(|cut| Error::of_source(&name, cut))?;
    run.flat.out.settle()?;
    Ok(())
}

#[cfg(feature = "svg")]
fn of_drawn(
    source: &Source<'_>,
    setup: &Setup,
    options: &Options,
    sink: impl StepSink<Error = Refusal>,
) -> Result<(), Error> {
    use stave_transform::Halt;

    use crate::error::PlacedMisfit;
    use crate::layout::Purpose;
    use crate::wrap_art::{ArtRun, burns_of, planned, unfolded};

    let layout = unfolded(source, setup, options, Purpose::Burn)?;
    let burns = burns_of(&layout, source, setup);
    let plan = planned(&burns, &layout, setup)?;
    let mut run = ArtRun::new(&layout, Paced::new(setup, Quiet(sink))?);
    match plan.burn(&mut run) {
        Ok(_) => Ok(run.out.settle()?),
        Err(Halt::Misfit(misfit)) => Err(PlacedMisfit::of_run(misfit)),
        Err(Halt::Sink(refusal)) => Err(refusal.into()),
    }
}

/// A closure that takes steps.
#[derive(Debug)]
struct Taker<F>(F);

impl<E, F> StepSink for Taker<F>
where
    E: Into<Box<dyn std::error::Error + Send + Sync>>,
    F: FnMut(&Step) -> Result<(), E>,
{
    type Error = Refusal;

    #[inline]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        (self.0)(step).map_err(|error| Refusal::Steps(error.into()))
    }
}
