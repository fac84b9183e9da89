//! A run in three stages, each on a thread of its own: what makes the steps, what judges and times
//! them, what writes them.
//!
//! Steps go from stage to stage in batches and in their order, a few batches waiting at most: what
//! comes of a run is the same on any number of cores, and memory does not grow. What ends a run is
//! what comes first in the order of its steps, so a later stage's word beats an earlier one's.

use std::io::{self, Read, Write};
use std::panic::resume_unwind;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::{Builder, ScopedJoinHandle, scope};

use stave_check::Code;
use stave_plan::Nobody;
use stave_setup::Setup;
use stave_toolpath::{Step, StepSink};
use stave_write::gcode::{Forgotten, Writer};

use super::{Hashed, Judged, Onlookers, Paced, RunOut, Written};
use crate::error::{Error, Refusal};

/// So many steps go on at once: about 100 kB.
const BATCH: usize = 512;
/// So many batches, or words between them, wait for the next stage.
const WAITING: usize = 4;

/// What goes from stage to stage.
enum Part {
    Steps(Vec<Step>),
    Comment(Vec<u8>),
    Line(Vec<u8>),
    Forget(Forgotten),
    /// All that came is to be handed on; then it is said so.
    Flush(SyncSender<()>),
    /// What follows is refused.
    Halt,
    /// The run has come to its end.
    Settle,
    /// So many bytes of the input are asked for, into this.
    Read(Vec<u8>, usize),
}

/// Where a stage hands its steps on.
pub(crate) struct Handed {
    to: SyncSender<Part>,
    steps: Vec<Step>,
    /// Emptied batches.
    spare: Receiver<Vec<Step>>,
}

/// Where the next stage takes them.
struct Taken {
    from: Receiver<Part>,
    spare: Sender<Vec<Step>>,
}

/// The stage that would take steps has ended: why, it says itself.
fn gone<T>(_: T) -> Refusal {
    Refusal::Io(io::ErrorKind::BrokenPipe.into())
}

fn between() -> (Handed, Taken) {
    let (to, from) = sync_channel(WAITING);
    let (back, spare) = channel();
    (Handed { to, steps: Vec::with_capacity(BATCH), spare }, Taken { from, spare: back })
}

impl Handed {
    fn hand_on(&mut self) -> Result<(), Refusal> {
        if self.steps.is_empty() {
            return Ok(());
        }
        let spare = self.spare.try_recv().unwrap_or_else(|_| Vec::with_capacity(BATCH));
        let steps = std::mem::replace(&mut self.steps, spare);
        self.to.send(Part::Steps(steps)).map_err(gone)
    }

    fn say(&mut self, part: Part) -> Result<(), Refusal> {
        self.hand_on()?;
        self.to.send(part).map_err(gone)
    }
}

impl StepSink for Handed {
    type Error = Refusal;

    // The step is then made where it is kept.
    #[expect(clippy::inline_always, reason = "every move of a long program goes through here")]
    #[inline(always)]
    fn step(&mut self, step: &Step) -> Result<(), Refusal> {
        self.steps.push(*step);
        if self.steps.len() >= BATCH { self.hand_on() } else { Ok(()) }
    }
}

impl RunOut for Handed {
    fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
        self.say(Part::Comment(text.to_vec()))
    }

    fn line(&mut self, text: &[u8]) -> Result<(), Refusal> {
        self.say(Part::Line(text.to_vec()))
    }

    fn forget(&mut self, what: Forgotten) {
        // A stage that is gone is told of by the next step.
        let _ = self.say(Part::Forget(what));
    }

    fn flush(&mut self) -> Result<(), Refusal> {
        let (done, is_done) = sync_channel(1);
        self.say(Part::Flush(done))?;
        is_done.recv().map_err(gone)
    }

    fn halt(&mut self) -> Result<(), Refusal> {
        self.say(Part::Halt)
    }

    fn settle(&mut self) -> Result<(), Refusal> {
        self.say(Part::Settle)
    }

    fn steps(&mut self, steps: Vec<Step>) -> Result<Option<Vec<Step>>, Refusal> {
        if steps.is_empty() {
            return Ok(Some(steps));
        }
        self.say(Part::Steps(steps))?;
        Ok(self.spare.try_recv().ok())
    }
}

impl Taken {
    /// Takes all that comes, up to what is refused; `input` is read from where that is asked for.
    fn all(
        self,
        out: &mut impl RunOut,
        mut input: impl FnMut(Vec<u8>, usize),
    ) -> Result<(), Refusal> {
        for part in self.from {
            match part {
                Part::Steps(steps) => {
                    if let Some(mut steps) = out.steps(steps)? {
                        steps.clear();
                        // Whoever has ended needs no more of them.
                        let _ = self.spare.send(steps);
                    }
                }
                Part::Comment(text) => out.comment(&text)?,
                Part::Line(text) => out.line(&text)?,
                Part::Forget(what) => out.forget(what),
                Part::Flush(done) => {
                    out.flush()?;
                    let _ = done.send(());
                }
                Part::Halt => out.halt()?,
                Part::Settle => out.settle()?,
                Part::Read(bytes, most) => input(bytes, most),
            }
        }
        Ok(())
    }
}

/// The input of a run, read by the thread that called for the run: an input need not be one that
/// may go to another.
pub(crate) struct Served {
    ask: SyncSender<Part>,
    answer: Receiver<io::Result<Vec<u8>>>,
    spare: Vec<u8>,
}

impl Read for Served {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let ended = || io::Error::from(io::ErrorKind::BrokenPipe);
        let spare = std::mem::take(&mut self.spare);
        self.ask.send(Part::Read(spare, buffer.len())).map_err(|_| ended())?;
        let bytes = self.answer.recv().map_err(|_| ended())??;
        let got = bytes.len();
        if let Some(filled) = buffer.get_mut(..got) {
            filled.copy_from_slice(&bytes);
        }
        self.spare = bytes;
        Ok(got)
    }
}

/// What came of a run in stages.
pub(crate) struct Staged<'a, T> {
    /// What the first stage made of it.
    pub(crate) made: T,
    pub(crate) onlookers: Onlookers<'a, Nobody>,
    /// Moves more than there were.
    pub(crate) parted: u64,
    /// What a later stage refused.
    pub(crate) refused: Option<Refusal>,
}

/// Has `make` make the steps of a run, judges them, and writes those that pass.
///
/// # Errors
/// Where the machine that this runs on has no room for threads; a plan that cannot be begun.
pub(crate) fn in_stages<'a, T: Send, R: Read, W: Write>(
    setup: &'a Setup,
    (onlookers, allow): (Onlookers<'a, Nobody>, &'a [Code]),
    input: &mut Hashed<R>,
    writer: &mut Writer<W>,
    make: impl FnOnce(&mut Handed, Served) -> T + Send,
) -> Result<Staged<'a, T>, Error> {
    let (mut to_judge, from_maker) = between();
    let (to_writer, from_judge) = between();
    let (reply, answer) = channel();
    let served = Served { ask: to_writer.to.clone(), answer, spare: Vec::new() };
    let mut paced = Paced::new(setup, Judged { out: to_writer, onlookers, allow, refused: false })?;
    scope(|scope| {
        let maker = Builder::new().spawn_scoped(scope, move || {
            let made = make(&mut to_judge, served);
            // What it made before something ended it counts.
            let _ = to_judge.hand_on();
            made
        });
        let judge = Builder::new().spawn_scoped(scope, move || {
            let judged = from_maker.all(&mut paced, |_, _| ());
            let Paced { out: Judged { mut out, onlookers, refused, .. }, parted, .. } = paced;
            let rest = out.hand_on();
            let fit = if refused { Err(Refusal::Unfit) } else { Ok(()) };
            (onlookers, parted, judged.and(rest).and(fit))
        });
        let (maker, judge) = (maker.map_err(Error::Thread)?, judge.map_err(Error::Thread)?);
        let written = from_judge.all(&mut Written(writer), |bytes, most| {
            // Whoever asks has the bytes before their digest is taken.
            input.read_for(bytes, most, |read| {
                let _ = reply.send(read);
            });
        });
        drop(reply);
        let (onlookers, parted, judged) = ended(judge);
        let made = ended(maker);
        Ok(Staged { made, onlookers, parted, refused: written.and(judged).err() })
    })
}

/// What a stage came to; what it panics with goes on here.
fn ended<T>(stage: ScopedJoinHandle<'_, T>) -> T {
    stage.join().unwrap_or_else(|panic| resume_unwind(panic))
}

#[cfg(test)]
mod tests {
    use super::*;
    use stave_toolpath::{Corner, Stand, StepKind};
    use std::thread;

    fn step(line: u64) -> Step {
        Step {
            kind: StepKind::Burn,
            from: Stand::default(),
            to: Stand::default(),
            drives_z: false,
            beam: None,
            power_s: None,
            time_s: 1.0,
            asked_s: 1.0,
            length_mm: 1.0,
            corner: Corner::Tolerance,
            joined: false,
            even_dose: false,
            line,
            section: 0,
        }
    }

    /// Writes down what comes, and refuses a line.
    #[derive(Default)]
    struct Diary {
        came: Vec<String>,
        refuses: Option<u64>,
    }

    impl StepSink for Diary {
        type Error = Refusal;

        fn step(&mut self, step: &Step) -> Result<(), Refusal> {
            if self.refuses == Some(step.line) {
                return Err(Refusal::Unfit);
            }
            self.came.push(step.line.to_string());
            Ok(())
        }
    }

    impl RunOut for Diary {
        fn comment(&mut self, text: &[u8]) -> Result<(), Refusal> {
            self.came.push(format!("({})", String::from_utf8_lossy(text)));
            Ok(())
        }

        fn line(&mut self, text: &[u8]) -> Result<(), Refusal> {
            self.came.push(String::from_utf8_lossy(text).into_owned());
            Ok(())
        }

        fn forget(&mut self, what: Forgotten) {
            self.came.push(format!("forget {what:?}"));
        }

        fn flush(&mut self) -> Result<(), Refusal> {
            self.came.push("flush".to_owned());
            Ok(())
        }

        fn settle(&mut self) -> Result<(), Refusal> {
            self.came.push("settle".to_owned());
            Ok(())
        }
    }

    /// A run of more steps than wait anywhere, with a word after every 300th.
    fn make(out: &mut impl RunOut) -> Result<(), Refusal> {
        for line in 1..=6000 {
            out.step(&step(line))?;
            match line % 1500 {
                300 => out.comment(b"piece")?,
                600 => out.line(b"M8")?,
                900 => out.forget(Forgotten::Place),
                1200 => out.flush()?,
                _ => {}
            }
        }
        out.settle()
    }

    #[test]
    fn what_comes_through_is_what_was_made_in_its_order() {
        let mut expected = Diary::default();
        make(&mut expected).unwrap();
        let (mut handed, taken) = between();
        let mut diary = Diary::default();
        thread::scope(|scope| {
            scope.spawn(move || make(&mut handed).unwrap());
            taken.all(&mut diary, |_, _| ()).unwrap();
        });
        assert_eq!(diary.came, expected.came);
        assert_eq!(diary.came.len(), 6017);
    }

    /// Through two stages, the second of which has the batches of the first.
    #[test]
    fn batches_go_on_as_they_came() {
        let mut expected = Diary::default();
        make(&mut expected).unwrap();
        let (mut handed, taken) = between();
        let (mut on, last) = between();
        let mut diary = Diary::default();
        thread::scope(|scope| {
            scope.spawn(move || make(&mut handed).unwrap());
            scope.spawn(move || taken.all(&mut on, |_, _| ()).unwrap());
            last.all(&mut diary, |_, _| ()).unwrap();
        });
        assert_eq!(diary.came, expected.came);
    }

    #[test]
    fn what_refuses_a_step_has_all_before_it_and_nothing_after() {
        for refused in [1, 512, 513, 4000] {
            let (mut handed, taken) = between();
            let mut diary = Diary { refuses: Some(refused), ..Diary::default() };
            let (made, took) = thread::scope(|scope| {
                let made = scope.spawn(move || make(&mut handed));
                let took = taken.all(&mut diary, |_, _| ());
                (made.join().unwrap(), took)
            });
            assert!(matches!(took, Err(Refusal::Unfit)), "{took:?}");
            // Whoever made it was told, and did not wait for ever.
            assert!(matches!(made, Err(Refusal::Io(_))), "{made:?}");
            let steps = diary.came.iter().filter(|word| word.parse::<u64>().is_ok()).count();
            assert_eq!(steps as u64, refused - 1);
        }
    }

    #[test]
    fn an_input_is_read_where_it_may_be_and_its_digest_is_that_of_all_of_it() {
        let text: Vec<u8> =
            (0..100_000_u32).flat_map(|k| format!("X{k}\r\n").into_bytes()).collect();
        let mut input = Hashed::new(&text[..]);
        let (handed, taken) = between();
        let (reply, answer) = channel();
        let mut served = Served { ask: handed.to.clone(), answer, spare: Vec::new() };
        drop(handed);
        let mut read = Vec::new();
        thread::scope(|scope| {
            let reads = scope.spawn(move || {
                let mut all = Vec::new();
                served.read_to_end(&mut all).unwrap();
                all
            });
            let answer = |bytes, most| input.read_for(bytes, most, |got| reply.send(got).unwrap());
            taken.all(&mut Diary::default(), answer).unwrap();
            read = reads.join().unwrap();
        });
        assert_eq!(read, text);
        assert_eq!(input.finish().unwrap(), Hashed::new(&text[..]).finish().unwrap());
    }
}
