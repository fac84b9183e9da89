//! Work on many things at once.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

use crate::progress;

/// What `work` makes of each, in their order; on a terminal the bar shows under `name` how many are
/// done.
pub(crate) fn on_all_cores<T: Sync, R: Send>(
    name: &str,
    all: &[T],
    work: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let mut results: Vec<Option<R>> = all.iter().map(|_| None).collect();
    progress::count(name, all.len());
    std::thread::scope(|scope| {
        let (done, come) = mpsc::channel();
        let worker = |done: mpsc::Sender<(usize, R)>| {
            let (next, work) = (&next, &work);
            move || {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(one) = all.get(index) else { return };
                    if done.send((index, work(one))).is_err() {
                        return;
                    }
                }
            }
        };
        // Where no thread is to be had, this one does the work of all.
        let mut working = 0;
        for _ in 0..cores.min(all.len()) {
            let spawned = std::thread::Builder::new().spawn_scoped(scope, worker(done.clone()));
            working += usize::from(spawned.is_ok());
        }
        if working == 0 {
            worker(done.clone())();
        }
        drop(done);
        for (index, result) in come {
            progress::one_more();
            if let Some(place) = results.get_mut(index) {
                *place = Some(result);
            }
        }
    });
    results.into_iter().flatten().collect()
}
