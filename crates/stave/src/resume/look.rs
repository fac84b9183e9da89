//! One look at the whole program: where it goes on.

use stave_parse::gcode::{self, Sink};
use stave_plan::{Follow, TimedStep, Timer};
use stave_rig::{MadeFor, Z};
use stave_setup::Machine;
use stave_toolpath::{Event, Step, StepKind};

use super::{AS_WRITTEN, ResumeFault, higher};
use crate::error::{Error, Refusal};
use crate::run::{Finished, Known, Times};

/// So nearly the same way, by the cosine in the machine's words, is the same.
const STRAIGHT: f64 = 0.9999;

/// What is looked for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Wanted {
    /// The move of a line.
    Line(u64),
    /// The first move after a line.
    From(u64),
    /// What is under way after so many seconds.
    TimeS(f64),
}

/// The move that is gone on with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) step: Step,
    /// The share of it that is done, 0 to 1.
    pub(super) share: f64,
    /// Whether the machine comes to it at speed: out of a move the same way, or out of its middle.
    pub(super) at_speed: bool,
    /// When it is gone on with, seconds after the start of the whole.
    pub(super) done_s: f64,
}

/// What was seen of the whole program.
#[derive(Debug)]
pub(super) struct Seen {
    search: Search,
    /// Lines it has.
    lines: u64,
    pub(super) duration_s: f64,
    /// Where the head is highest; `None` where the program says nothing of Z.
    pub(super) highest_z: Option<f64>,
}

/// Looks for one move among all.
#[derive(Debug)]
struct Search {
    wanted: Wanted,
    machine_up: Machine,
    found: Option<Found>,
    /// The first line past the wanted one that moves something.
    next: Option<u64>,
    last_burn: u64,
    highest_z: f64,
    /// The last thing done.
    last: Option<Step>,
}

impl Follow for Search {
    fn timed(&mut self, timed: &TimedStep) {
        let step = &timed.step;
        let last = match step.kind {
            // A word for the beam keeps nothing up.
            StepKind::Beam => self.last,
            _ => self.last.replace(*step),
        };
        for stand in [&step.from, &step.to] {
            self.highest_z = higher(&self.machine_up, self.highest_z, stand.words[2]);
        }
        if step.kind.marks() {
            self.last_burn = step.line;
        }
        let is_it = match self.wanted {
            Wanted::Line(line) => {
                if step.line > line {
                    self.next.get_or_insert(step.line);
                }
                step.line == line
            }
            Wanted::From(line) => step.line > line,
            Wanted::TimeS(time_s) => timed.start_s + timed.duration_s > time_s,
        };
        if self.found.is_some() || !is_it {
            return;
        }
        let (share, done_s) = match self.wanted {
            Wanted::TimeS(time_s) if time_s > timed.start_s => {
                (timed.share_done(time_s - timed.start_s), time_s)
            }
            _ => (0.0, timed.start_s),
        };
        let at_speed = step.kind == StepKind::Burn
            && (share > 0.0 || last.is_some_and(|last| goes_on(&last, step)));
        self.found = Some(Found { step: *step, share, at_speed, done_s });
    }
}

/// Whether a move goes on the way of the one before, at a feed both; the head may rise and sink.
fn goes_on(last: &Step, next: &Step) -> bool {
    let level = |step: &Step| {
        let mut way = step.delta();
        way[Z] = 0.0;
        way
    };
    let (a, b) = (level(last), level(next));
    let of = |a: &[f64; 4], b: &[f64; 4]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    matches!(last.kind, StepKind::Dark | StepKind::Burn)
        && of(&a, &b) > STRAIGHT * (of(&a, &a) * of(&b, &b)).sqrt()
}

/// Reads a program as the machine runs it.
pub(super) fn look(
    program: &[u8],
    machine: &Machine,
    (whole, made_for): (&Machine, &MadeFor),
    wanted: Wanted,
    name: &str,
) -> Result<Seen, Error> {
    let search = Search {
        wanted,
        machine_up: machine.clone(),
        found: None,
        next: None,
        last_burn: 0,
        highest_z: 0.0,
        last: None,
    };
    let timer = Timer::new(machine, true, search)?;
    let known = Known::WrappedSomewhere;
    let run =
        Finished::new(machine, known, false, AS_WRITTEN.strict, timer).made_for(whole, made_for);
    let mut reader = Reader { run, says_z: false };
    let summary = gcode::read(program, &AS_WRITTEN, &mut reader)
        .map_err(|error| Error::of_reading(error, name))?;
    let Reader { run, says_z } = reader;
    run.refuse_unfinished(true, &summary, name)?;
    let (times, search) = Times::of(run.sink)?;
    let duration_s =
        times.sections.iter().map(|section| section.totals.duration_s() + section.dwell_s).sum();
    let highest_z = says_z.then_some(search.highest_z);
    Ok(Seen { search, lines: summary.lines, duration_s, highest_z })
}

impl Seen {
    /// The move that is gone on with.
    pub(super) fn found(&self, wanted: Wanted) -> Result<Found, ResumeFault> {
        if let Wanted::Line(line) = wanted
            && !(1..=self.lines).contains(&line)
        {
            return Err(ResumeFault::NoLine { line, lines: self.lines });
        }
        if let Wanted::TimeS(asked_s) = wanted
            && !(0.0..self.duration_s).contains(&asked_s)
        {
            return Err(ResumeFault::Time { asked_s, duration_s: self.duration_s });
        }
        let line = match (wanted, &self.search.found) {
            (_, Some(found)) => found.step.line,
            (Wanted::Line(line), None) => {
                return Err(ResumeFault::Still { line, next: self.search.next });
            }
            (Wanted::From(line), None) => line,
            (Wanted::TimeS(_), None) => self.search.last_burn + 1,
        };
        match self.search.found {
            Some(found) if line <= self.search.last_burn => Ok(found),
            _ => Err(ResumeFault::Done { line }),
        }
    }
}

/// The program as steps, and whether it says anything of Z.
struct Reader<'a> {
    run: Finished<'a, Timer<Search>>,
    says_z: bool,
}

impl Sink for Reader<'_> {
    type Error = Refusal;

    const COUNTS_BYTES: bool = true;

    #[inline]
    fn begins_line(&mut self, line: u64, bytes: usize) {
        self.run.begins_line(line, bytes);
    }

    #[inline]
    fn event(&mut self, line: u64, event: &Event<'_>) -> Result<(), Refusal> {
        if let Event::FirstWord { letter: b'Z' } = event {
            self.says_z = true;
        }
        self.run.event(line, event)
    }
}

/// How the comment begins that names pieces.
const PIECE: &[u8] = b"piece ";

/// The line of the first comment that names a piece: alone, or among those that burn together.
pub(super) fn line_of_piece(program: &[u8], name: &str) -> Result<u64, ResumeFault> {
    let asked = stave_toolpath::printable(name.trim());
    let mut known: Vec<String> = Vec::new();
    let mut number = 0;
    for line in program.split(|byte| *byte == b'\n') {
        number += 1;
        let Some(inside) = line.trim_ascii().strip_prefix(b"(") else { continue };
        let Some(text) = inside.strip_prefix(PIECE) else { continue };
        let text = String::from_utf8_lossy(text.strip_suffix(b")").unwrap_or(text));
        // `NAME, NAME: OPERATION`; a name may hold any of these signs.
        let names = text.rsplit_once(": ").map_or(&*text, |(names, _)| names);
        if names == asked || text == asked || names.split(", ").any(|one| one == asked) {
            return Ok(number);
        }
        for one in names.split(", ") {
            if !known.iter().any(|known| known == one) {
                known.push(one.to_owned());
            }
        }
    }
    Err(ResumeFault::NoPiece { name: name.to_owned(), known })
}
