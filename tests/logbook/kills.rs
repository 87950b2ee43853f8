//! Several writers at once, and writers that are killed.

use crate::bench::Bench;
use std::collections::HashSet;
use std::process::Stdio;
use std::thread;

/// Ids of all entries, as the logbook has them.
fn ids(bench: &Bench) -> HashSet<String> {
    let entries = bench.shown("tray-1")["entries"].as_array().unwrap().clone();
    let count = entries.len();
    let ids: HashSet<String> = entries.iter().map(|entry| entry["id"].as_str().unwrap()[..8].to_owned()).collect();
    assert_eq!(ids.len(), count);
    ids
}

/// The id in what a writer said once its entry was on the disk.
fn acknowledged(said: &str) -> Option<String> {
    let (_, rest) = said.split_once("entry ")?;
    rest.get(..8).map(str::to_owned)
}

#[test]
fn two_writers_at_once_lose_nothing() {
    let bench = Bench::with_bath("two-writers");
    let write = |who: &str| {
        (0..15).map(|i| acknowledged(&bench.done(&["note", "tray-1", &format!("note {i}"), "--who", who])).unwrap()).collect::<Vec<_>>()
    };
    let said: Vec<String> = thread::scope(|scope| {
        let writers = ["ada", "ben", "cleo"].map(|who| scope.spawn(move || write(who)));
        writers.into_iter().flat_map(|writer| writer.join().unwrap()).collect()
    });
    let kept = ids(&bench);
    assert_eq!((said.len(), kept.len()), (45, 46));
    assert!(said.iter().all(|id| kept.contains(id)));
}

#[test]
fn two_writers_may_begin_the_same_logbook() {
    // Many rounds: the moment in which one sees what another has half read is short.
    for round in 0..25 {
        let bench = Bench::new(&format!("begin-{round}"));
        let new = |name: &str| bench.done(&["new", name, "--acid", "citric-anhydrous", "--grams-per-litre", "15", "--volume", "1l"]);
        thread::scope(|scope| {
            for name in ["a", "b", "c"] {
                scope.spawn(move || new(name));
            }
        });
        assert_eq!(bench.done(&["list", "--format", "json"]).lines().count(), 3);
    }
}

// What was told to the user as written must be there whenever the program is killed; what was not told may be there or not. Each round kills a writer after another
// delay, spread over the time that an undisturbed one needs and a little more.
#[test]
fn what_was_acknowledged_survives_a_kill() {
    let rounds: u32 = std::env::var("TINTPOINT_KILLS").ok().and_then(|text| text.parse().ok()).unwrap_or(50);
    let bench = Bench::with_bath("kills");
    let begun = std::time::Instant::now();
    bench.done(&["note", "tray-1", "undisturbed"]);
    let mut span = begun.elapsed().mul_f64(1.3);
    let mut said = ids(&bench);
    let (mut killed, mut lived) = (0, 0);
    // How long a writer takes depends on what else the machine does: the span follows, and rounds go on until enough were killed.
    for round in 0..10 * rounds {
        if round >= rounds && killed * 5 > rounds {
            break;
        }
        let mut child =
            bench.command(&["note", "tray-1", &format!("round {round}")]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        // The golden ratio spreads any number of delays evenly.
        thread::sleep(span.mul_f64((f64::from(round) * 0.618_034).fract()));
        let _ = child.kill();
        let output = child.wait_with_output().unwrap();
        if output.status.success() {
            lived += 1;
            span = span.mul_f64(0.9);
        } else {
            killed += 1;
            span = span.mul_f64(1.05);
        }
        // A line that was cut off was not told.
        let text = String::from_utf8_lossy(&output.stdout);
        if text.ends_with('\n') {
            said.extend(acknowledged(&text));
        }
        let kept = ids(&bench);
        let lost: Vec<&String> = said.difference(&kept).collect();
        assert!(lost.is_empty(), "round {round}: {lost:?}");
        said = kept;
    }
    println!("{} rounds: {killed} killed, {lived} had ended", killed + lived);
    assert!(killed * 5 > rounds, "only {killed} of {rounds} were killed before they ended");
    // And it takes new entries as ever.
    bench.done(&["note", "tray-1", "after"]);
    assert_eq!(ids(&bench).len(), said.len() + 1);
}
