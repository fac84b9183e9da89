//! What follows a run on a thread of its own: painting what burns takes longer than reading it.

use std::panic::resume_unwind;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::{Builder, scope};

use stave_plan::{Follow, TimedStep};

use crate::error::Error;

/// So much goes on at once: about 70 kB.
const BATCH: usize = 256;
/// So many batches wait.
const WAITING: usize = 4;

/// What is followed.
#[expect(clippy::large_enum_variant, reason = "all but a few are moves")]
#[derive(Clone, Copy)]
enum Part {
    Timed(TimedStep),
    SetUp(f64),
}

/// Takes a run's moves, and hands them on in their order.
pub(super) struct Ahead {
    to: SyncSender<Vec<Part>>,
    parts: Vec<Part>,
    /// Emptied batches.
    spare: Receiver<Vec<Part>>,
}

impl Ahead {
    fn push(&mut self, part: Part) {
        self.parts.push(part);
        if self.parts.len() >= BATCH {
            self.hand_on();
        }
    }

    fn hand_on(&mut self) {
        let spare = self.spare.try_recv().unwrap_or_else(|_| Vec::with_capacity(BATCH));
        // Who follows ends before the run by a panic alone, which goes on at the end.
        let _ = self.to.send(std::mem::replace(&mut self.parts, spare));
    }
}

impl Drop for Ahead {
    fn drop(&mut self) {
        self.hand_on();
    }
}

impl Follow for Ahead {
    fn timed(&mut self, timed: &TimedStep) {
        self.push(Part::Timed(*timed));
    }

    fn set_up(&mut self, tilt_rad: f64) {
        self.push(Part::SetUp(tilt_rad));
    }
}

fn follow_all<F: Follow>(follow: &mut F, from: &Receiver<Vec<Part>>, spare: &Sender<Vec<Part>>) {
    for mut parts in from {
        for part in parts.drain(..) {
            match part {
                Part::Timed(timed) => follow.timed(&timed),
                Part::SetUp(tilt_rad) => follow.set_up(tilt_rad),
            }
        }
        // Whoever has ended needs no more of them.
        let _ = spare.send(parts);
    }
}

/// Has `run` go on while `follow` follows it. What `run` is handed it has to let go of before it
/// returns, and nothing else ends the following.
///
/// # Errors
/// Those of `run`; where the machine that this runs on has no room for a thread.
pub(super) fn beside<F: Follow + Send, T>(
    follow: &mut F,
    run: impl FnOnce(Ahead) -> Result<T, Error>,
) -> Result<T, Error> {
    let (to, from) = sync_channel(WAITING);
    let (back, spare) = channel();
    let ahead = Ahead { to, parts: Vec::with_capacity(BATCH), spare };
    scope(|scope| {
        let follows = Builder::new().spawn_scoped(scope, move || follow_all(follow, &from, &back));
        let follows = follows.map_err(Error::Thread)?;
        let done = run(ahead);
        follows.join().unwrap_or_else(|panic| resume_unwind(panic));
        done
    })
}
