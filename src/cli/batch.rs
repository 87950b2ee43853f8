//! Work on many photos at once, with results in the order of the photos.

use crate::measurement::share;
use std::collections::BTreeMap;
use std::num::NonZero;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError, mpsc};
use std::thread;

/// How many items beyond one for each worker may be begun before the oldest is handed over: enough to even out photos that
/// take unequal time, few enough that what waits stays small.
const AHEAD: usize = 6;

/// Workers to use when nothing else was said: one for each processor.
pub(crate) fn processors() -> usize {
    thread::available_parallelism().map_or(1, NonZero::get)
}

/// Does `job` for each item on `workers` threads and hands each result to `take`, in the order of the items, until `take`
/// breaks off. `bench` makes what a worker keeps from one item to the next.
///
/// A worker does all of an item on its own thread; a single item may use every processor by itself, unless one worker was asked for.
pub(crate) fn in_order<T, B, R>(
    items: &[T],
    workers: usize,
    bench: impl Fn() -> B + Sync,
    job: impl Fn(&mut B, &T) -> R + Sync,
    mut take: impl FnMut(R) -> ControlFlow<()>,
) where
    T: Sync,
    R: Send,
{
    let at_once = workers.min(items.len());
    if at_once > 1 {
        return shared(items, at_once, &bench, &job, &mut take);
    }
    let mut kept = bench();
    for item in items {
        let result = if workers > 1 { job(&mut kept, item) } else { share::alone(|| job(&mut kept, item)) };
        if take(result).is_break() {
            return;
        }
    }
}

/// Which item is next, and how far ahead of the taking the work may run.
struct Gate {
    place: Mutex<Place>,
    moved: Condvar,
}

struct Place {
    /// First item that nobody has begun.
    next: usize,
    /// First item that may not be begun yet.
    end: usize,
    is_closed: bool,
}

impl Gate {
    fn place(&self) -> MutexGuard<'_, Place> {
        // A panic elsewhere leaves these numbers whole.
        self.place.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next item to begin; waits while the work is too far ahead. `None` when there is no more to do.
    fn enter(&self, count: usize) -> Option<usize> {
        let mut place = self.place();
        while !place.is_closed && place.next < count && place.next >= place.end {
            place = self.moved.wait(place).unwrap_or_else(PoisonError::into_inner);
        }
        if place.is_closed || place.next >= count {
            return None;
        }
        place.next += 1;
        Some(place.next - 1)
    }

    fn move_on(&self) {
        self.place().end += 1;
        self.moved.notify_one();
    }

    fn close(&self) {
        self.place().is_closed = true;
        self.moved.notify_all();
    }
}

/// Closes the gate also when taking fails, or the workers would wait for ever.
struct Closing<'a>(&'a Gate);

impl Drop for Closing<'_> {
    fn drop(&mut self) {
        self.0.close();
    }
}

fn shared<T, B, R>(
    items: &[T],
    workers: usize,
    bench: &(impl Fn() -> B + Sync),
    job: &(impl Fn(&mut B, &T) -> R + Sync),
    take: &mut impl FnMut(R) -> ControlFlow<()>,
) where
    T: Sync,
    R: Send,
{
    let gate = &Gate { place: Mutex::new(Place { next: 0, end: workers + AHEAD, is_closed: false }), moved: Condvar::new() };
    thread::scope(|scope| {
        let (sender, results) = mpsc::channel();
        for _ in 0..workers {
            let sender = sender.clone();
            scope.spawn(move || {
                let mut kept = bench();
                while let Some(at) = gate.enter(items.len()) {
                    // A panic goes to the thread that takes, which passes it on in its turn.
                    let result = catch_unwind(AssertUnwindSafe(|| share::alone(|| job(&mut kept, &items[at]))));
                    let has_failed = result.is_err();
                    if sender.send((at, result)).is_err() || has_failed {
                        break;
                    }
                }
            });
        }
        drop(sender);
        let _closing = Closing(gate);
        let mut early = BTreeMap::new();
        let mut next = 0;
        for (at, result) in results {
            early.insert(at, result);
            while let Some(result) = early.remove(&next) {
                next += 1;
                gate.move_on();
                let result = result.unwrap_or_else(|panic| resume_unwind(panic));
                if take(result).is_break() {
                    return;
                }
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    /// Uneven work, so that results would come out of order.
    fn uneven(n: usize) -> usize {
        thread::sleep(Duration::from_micros(((n * 7919) % 300) as u64));
        n
    }

    #[test]
    fn results_come_in_the_order_of_the_items() {
        let items: Vec<usize> = (0..200).collect();
        for workers in [1, 2, 3, 500] {
            let mut taken = Vec::new();
            in_order(
                &items,
                workers,
                || (),
                |(), &n| uneven(n),
                |n| {
                    taken.push(n);
                    ControlFlow::Continue(())
                },
            );
            assert_eq!(taken, items);
        }
        in_order(&items[..0], 2, || (), |(), &n| n, |_| panic!("there is nothing to take"));
    }

    #[test]
    fn work_does_not_run_far_ahead() {
        let items: Vec<usize> = (0..100).collect();
        let begun = AtomicUsize::new(0);
        let mut taken = 0;
        in_order(
            &items,
            2,
            || (),
            |(), _| begun.fetch_add(1, Ordering::SeqCst),
            |_| {
                thread::sleep(Duration::from_millis(1));
                taken += 1;
                assert!(begun.load(Ordering::SeqCst) <= taken + 2 + AHEAD);
                ControlFlow::Continue(())
            },
        );
        assert_eq!(taken, 100);
    }

    #[test]
    fn breaking_off_ends_the_work() {
        let items: Vec<usize> = (0..10_000).collect();
        let begun = AtomicUsize::new(0);
        in_order(&items, 3, || (), |(), _| begun.fetch_add(1, Ordering::SeqCst), |_| ControlFlow::Break(()));
        assert!(begun.load(Ordering::SeqCst) <= 2 * (3 + AHEAD));
    }

    #[test]
    fn a_panic_is_passed_on_and_does_not_hang() {
        let items: Vec<usize> = (0..100).collect();
        let run = || in_order(&items, 2, || (), |(), &n| assert!(n != 50, "item {n} fails"), |()| ControlFlow::Continue(()));
        assert!(catch_unwind(run).is_err());
    }

    #[test]
    fn a_worker_keeps_its_bench() {
        let items: Vec<usize> = (0..50).collect();
        let benches = AtomicUsize::new(0);
        in_order(&items, 2, || benches.fetch_add(1, Ordering::SeqCst), |_, &n| n, |_| ControlFlow::Continue(()));
        assert_eq!(benches.load(Ordering::SeqCst), 2);
    }
}
