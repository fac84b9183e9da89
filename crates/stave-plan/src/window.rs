//! The look-ahead window for limits of speed and acceleration.
//!
//! `u` is the squared speed at the start of a move. The forward pass, done as moves come in, gives
//! `reach[j] = min(cap[j], reach[j−1] + g[j−1])`; the backward pass `u[j] = min(reach[j], u[j+1] +
//! g[j])`.
//!
//! Whatever comes later, the speed at the open end is between zero and what can be reached there.
//! If a move's start can be taken at `reach` and the machine still stop at the open end, then no
//! later move can lower it: it is settled, and with it everything before. Walking back from the
//! open end, that is the first `k` with `reach[k] ≤ g[k] + g[k+1] + … + g[end]`. The walk is done
//! each time the queue has doubled since what was left of it last time, so that it costs each move
//! a constant, however long it takes the machine to stop.

use super::settled::{Settle, Settled};
use super::trapezoid::{Slot, pace};

/// The queue is tried whenever it holds this many moves, or twice what the last try left.
const BATCH: usize = 128;

#[derive(Clone, Debug)]
pub(super) struct Window {
    queue: Vec<Slot>,
    /// Squared speed that can be had at the open end.
    open: f64,
    try_at: usize,
    most: usize,
    pub(super) full: u64,
}

impl Window {
    pub(super) fn new(most: usize) -> Self {
        Self { queue: Vec::new(), open: 0.0, try_at: BATCH.min(most), most, full: 0 }
    }

    #[inline]
    pub(super) fn push<S: Settle>(&mut self, mut slot: Slot, sink: &mut S) {
        if self.queue.len() >= self.try_at {
            self.try_to_settle(sink);
        }
        slot.reach = if slot.cap < self.open { slot.cap } else { self.open };
        let end = slot.reach + slot.gain;
        self.open = if end < slot.top { end } else { slot.top };
        self.queue.push(slot);
    }

    #[inline(never)]
    fn try_to_settle<S: Settle>(&mut self, sink: &mut S) {
        let mut stoppable = 0.0;
        let mut settled = 0;
        for (index, slot) in self.queue.iter().enumerate().rev() {
            stoppable += slot.gain;
            if slot.reach <= stoppable {
                settled = index;
                break;
            }
        }
        if settled > 0 {
            let speed = self.queue[settled].reach;
            self.settle(settled, speed, sink);
        }
        if self.queue.len() >= self.most {
            self.give_way(sink);
        }
        self.try_at = (2 * self.queue.len()).clamp(BATCH, self.most.max(BATCH)).min(self.most);
    }

    /// The window is full and the machine could not stop within it: plan a stop at its end and
    /// settle the first half.
    fn give_way<S: Settle>(&mut self, sink: &mut S) {
        self.full += 1;
        let half = self.queue.len().div_ceil(2);
        let mut speed = 0.0;
        for slot in self.queue[half..].iter_mut().rev() {
            let limit = speed + slot.gain;
            speed = if slot.reach < limit { slot.reach } else { limit };
        }
        self.settle(half, speed, sink);
        let mut open = speed;
        for slot in &mut self.queue {
            slot.reach = slot.cap.min(open);
            open = (slot.reach + slot.gain).min(slot.top);
        }
        self.open = if self.queue.is_empty() { 0.0 } else { open };
    }

    /// Settles the first `count` moves, the last of which ends at the squared speed `exit`.
    fn settle<S: Settle>(&mut self, count: usize, exit: f64, sink: &mut S) {
        let mut speed = exit;
        for slot in self.queue[..count].iter_mut().rev() {
            let limit = speed + slot.gain;
            speed = if slot.reach < limit { slot.reach } else { limit };
            slot.reach = speed;
        }
        let mut entry = speed;
        for index in 0..count {
            let end = if index + 1 < count { self.queue[index + 1].reach } else { exit };
            let slot = &self.queue[index];
            let pace = pace(slot, entry, end);
            sink.settled(&Settled {
                tag: slot.label.tag,
                kind: slot.label.kind,
                speed_axis: slot.label.speed_axis,
                acceleration_axis: slot.label.acceleration_axis,
                length: slot.length,
                wall_mm: slot.wall_mm,
                duration_s: pace.duration_s,
                ramp_s: pace.ramp_s,
                entry_squared: entry,
                exit_squared: end,
                peak_squared: pace.peak,
            });
            entry = end;
        }
        self.queue.drain(..count);
    }

    /// The machine stands still at the end of what was pushed.
    pub(super) fn stop<S: Settle>(&mut self, sink: &mut S) {
        let count = self.queue.len();
        if count > 0 {
            self.settle(count, 0.0, sink);
        }
        self.open = 0.0;
        self.try_at = BATCH.min(self.most);
    }

    pub(super) fn len(&self) -> usize {
        self.queue.len()
    }
}
