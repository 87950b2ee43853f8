//! Shares independent work among processors. Results come in the order of the work and do not depend on who did it.
//!
//! The helpers are the threads of rayon's pool, which `locus-core` starts anyway: a thread of its own for each piece of work has to be started and brings its own memory,
//! which has to be filled and given back. No piece waits for another but where a tree is grown, and there only for one that is being worked on.

use std::cell::Cell;
use std::num::NonZero;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::thread;

/// More threads than this cost more to start than the tenths of a millisecond that they save.
const MOST_THREADS: usize = 4;

thread_local! {
    /// True while this thread works alone.
    static ALONE: Cell<bool> = const { Cell::new(false) };
}

/// Runs `job` with all of its work on this thread: whoever reads several photos at once gains more by a photo for each
/// processor than by sharing out the work on one.
pub fn alone<R>(job: impl FnOnce() -> R) -> R {
    struct Before(bool);
    impl Drop for Before {
        fn drop(&mut self) {
            ALONE.set(self.0);
        }
    }
    let _before = Before(ALONE.replace(true));
    job()
}

/// Threads to use, at least one.
pub(crate) fn threads() -> usize {
    static COUNT: OnceLock<usize> = OnceLock::new();
    if ALONE.get() {
        return 1;
    }
    *COUNT.get_or_init(|| {
        let count = thread::available_parallelism().map_or(1, NonZero::get).min(MOST_THREADS);
        if count > 1 && thread::current().name() == Some(MAIN) {
            // Where the pool is there already, it does without.
            let _ = rayon::ThreadPoolBuilder::new().use_current_thread().build_global();
        }
        count
    })
}

/// The thread that a program begins with, by the name that the standard library gives it. While it waits for its helpers it helps them: as one of the pool it makes as many
/// threads as there are processors; one more than that cost 3 to 10 in 100 of the time of a photo on two.
const MAIN: &str = "main";

/// The numbers below `count` in a run for each thread, in order.
pub(crate) fn runs(count: usize) -> Vec<Range<usize>> {
    let threads = threads();
    (0..threads).map(|t| t * count / threads..(t + 1) * count / threads).collect()
}

/// What `job` makes of each item, in the order of the items.
pub(crate) fn map<T: Sync, R: Send>(items: &[T], job: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let helpers = threads().min(items.len()).saturating_sub(1);
    if helpers == 0 {
        return items.iter().map(job).collect();
    }
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        // Whoever is free takes the next item, for items take unequal time.
        while let Some((at, item)) = Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|at| Some((at, items.get(at)?))) {
            done.push((at, job(item)));
        }
        done
    };
    let others = Mutex::new(Vec::new());
    let mut all = rayon::in_place_scope(|scope| {
        for _ in 0..helpers {
            scope.spawn(|_| {
                let done = work();
                locked(&others).extend(done);
            });
        }
        work()
    });
    all.append(&mut locked(&others));
    all.sort_unstable_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, result)| result).collect()
}

/// What `job` makes of each node of a tree from what it made of the node above, `first` at the `root`, in the order of the nodes; nothing of those
/// that are not below the root. `below` holds the nodes right below each.
pub(crate) fn grow<R: Send + Sync>(below: &[Vec<usize>], root: usize, first: R, job: impl Fn(usize, &R) -> R + Sync) -> Vec<(usize, R)> {
    struct Open {
        todo: Vec<(usize, usize)>,
        busy: usize,
    }
    /// Whoever waits for more to do has to hear also of a job that failed.
    struct Busy<'a>(&'a Mutex<Open>, &'a Condvar);
    impl Drop for Busy<'_> {
        fn drop(&mut self) {
            locked(self.0).busy -= 1;
            self.1.notify_all();
        }
    }
    let made: Vec<OnceLock<R>> = below.iter().map(|_| OnceLock::new()).collect();
    let next_to = |node: usize| below[node].iter().map(move |&next| (next, node));
    let open = Mutex::new(Open { todo: next_to(root).collect(), busy: 0 });
    let more = Condvar::new();
    let _ = made[root].set(first);
    let work = || {
        loop {
            let mut state = locked(&open);
            let (node, above) = loop {
                if let Some(next) = state.todo.pop() {
                    break next;
                }
                if state.busy == 0 {
                    return;
                }
                state = more.wait(state).unwrap_or_else(PoisonError::into_inner);
            };
            state.busy += 1;
            drop(state);
            let _busy = Busy(&open, &more);
            if let Some(above) = made[above].get() {
                let _ = made[node].set(job(node, above));
                locked(&open).todo.extend(next_to(node));
            }
        }
    };
    rayon::in_place_scope(|scope| {
        for _ in 1..threads() {
            scope.spawn(|_| work());
        }
        work();
    });
    made.into_iter().enumerate().filter_map(|(node, made)| Some((node, made.into_inner()?))).collect()
}

/// What a lock holds is whole also after a job has failed.
fn locked<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What two jobs make, side by side where there is a second thread to use; the first one runs on this thread.
pub fn beside<A, B: Send>(here: impl FnOnce() -> A, there: impl FnOnce() -> B + Send) -> (A, B) {
    if threads() == 1 {
        let other = there();
        return (here(), other);
    }
    let mut other = None;
    let made = rayon::in_place_scope(|scope| {
        scope.spawn(|_| other = Some(there()));
        here()
    });
    (made, other.unwrap_or_else(|| unreachable!("a scope ends with what was begun in it")))
}

/// What the first job makes, and where there is a second thread to use also what the other makes, which may turn out not to be wanted.
pub(crate) fn ahead<A, B: Send>(here: impl FnOnce() -> A, there: impl FnOnce() -> B + Send) -> (A, Option<B>) {
    if threads() == 1 {
        return (here(), None);
    }
    let (made, other) = beside(here, there);
    (made, Some(other))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alone_lasts_as_long_as_its_job() {
        let before = threads();
        assert_eq!(alone(|| (alone(threads), threads())), (1, 1));
        let _ = std::panic::catch_unwind(|| alone(|| panic!("a job that fails")));
        assert_eq!(threads(), before);
    }

    #[test]
    fn two_jobs_both_run() {
        assert_eq!(beside(|| 1, || "two"), (1, "two"));
        assert_eq!(alone(|| beside(|| 1, || "two")), (1, "two"));
    }

    #[test]
    fn nothing_is_made_ahead_on_a_single_thread() {
        assert_eq!(ahead(|| 1, || "two"), (1, (threads() > 1).then_some("two")));
        assert_eq!(alone(|| ahead(|| 1, || panic!("not wanted yet"))), (1, None::<u8>));
        assert!(std::panic::catch_unwind(|| beside(|| 1, || panic!("a job that fails"))).is_err());
    }

    #[test]
    fn runs_meet() {
        assert_eq!(runs(10).into_iter().flatten().collect::<Vec<_>>(), (0..10).collect::<Vec<_>>());
    }

    #[test]
    fn results_keep_the_order_of_the_items() {
        let items: Vec<u64> = (0..1000).collect();
        let job = |&n: &u64| (0..(n * 7919) % 500).fold(n, |sum, k| sum ^ (k << 3));
        assert_eq!(map(&items, job), items.iter().map(job).collect::<Vec<_>>());
        assert!(map(&items[..0], job).is_empty());
    }

    /// Two below each number, as long as there are numbers.
    fn two_below_each(count: usize) -> Vec<Vec<usize>> {
        (0..count).map(|n| [2 * n + 1, 2 * n + 2].into_iter().filter(|below| *below < count).collect()).collect()
    }

    #[test]
    fn what_grows_comes_from_what_is_above_it() {
        let below = two_below_each(300);
        let job = |node: usize, above: &u64| above.wrapping_mul(31) + node as u64;
        let made = grow(&below, 0, 1, job);
        assert_eq!(made, alone(|| grow(&below, 0, 1, job)));
        assert_eq!((made.len(), made[0]), (300, (0, 1)));
        for (above, below) in below.iter().enumerate() {
            for &node in below {
                assert_eq!(made[node], (node, job(node, &made[above].1)), "{node} below {above}");
            }
        }
        // Of 20 with 41 and 42 below, and so on.
        let part: Vec<usize> = grow(&below, 20, 1, job).into_iter().map(|(node, _)| node).collect();
        assert_eq!(part, [20, 41, 42, 83, 84, 85, 86, 167, 168, 169, 170, 171, 172, 173, 174]);
    }

    #[test]
    fn nobody_waits_for_a_job_that_fails() {
        let below = two_below_each(100);
        for nodes in [9..10, 0..100] {
            let job = |node, _: &usize| if nodes.contains(&node) { panic!("a job that fails") } else { node };
            let failed = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| grow(&below, 0, 0, job)));
            assert_eq!(failed.unwrap_err().downcast_ref(), Some(&"a job that fails"), "whoever waits hears of it in its own words");
        }
    }
}
