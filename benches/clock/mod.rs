//! Times a job several times and prints the median and the best.

use std::hint::black_box;
use std::time::Instant;

/// Runs `job` `runs` times.
pub(crate) fn time<T>(runs: usize, name: &str, mut job: impl FnMut() -> T) {
    let mut times: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            black_box(job());
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!("{name}: {:.1} ms, best {:.1} ms", times[runs / 2], times[0]);
}
