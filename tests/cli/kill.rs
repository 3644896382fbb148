//! Killed at random moments while it records: every acknowledged event must be found again, and
//! the job must open, verify and go on.

use std::io::{BufRead as _, BufReader};
use std::process::Stdio;
use std::time::Duration;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::bench::Bench;

/// How many times the recorder is killed.
const ROUNDS: usize = 12;

#[test]
fn every_acknowledged_event_survives_a_kill() {
    let bench = Bench::new();
    let job = bench.job();
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let mut acknowledged: Vec<String> = Vec::new();
    for round in 0..ROUNDS {
        acknowledged.extend(record_until_killed(&bench, &job, &mut random, round));
        let history = bench.done(&["history", &job, "--json"]).json();
        let kept: Vec<&str> = history["events"]
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|event| event["event"].as_str())
            .collect();
        for event in &acknowledged {
            assert!(
                kept.contains(&event.as_str()),
                "round {round}: {event} is gone"
            );
        }
    }
    assert!(
        acknowledged.len() > ROUNDS,
        "the recorder was killed before it ever recorded"
    );
    // The job still takes new events and is whole.
    bench.done(&["mark", &job, "J1.3", "--verdict", "no-fault-seen"]);
    let proof = bench.run(&["verify", &job, "--json"]);
    assert_eq!(proof.code(), 0, "{proof:?}");
}

/// Feeds remarks to a recording process and kills it at a random moment; what it acknowledged.
fn record_until_killed(
    bench: &Bench,
    job: &str,
    random: &mut ChaCha8Rng,
    round: usize,
) -> Vec<String> {
    let mut child = bench
        .command(&["note", job, "--lines", "--json"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the binary starts");
    let mut stdin = child.stdin.take().expect("piped");
    let stdout = child.stdout.take().expect("piped");
    let reader = std::thread::Builder::new()
        .name("acknowledgements".into())
        .spawn(move || {
            BufReader::new(stdout)
                .lines()
                .map_while(Result::ok)
                .filter_map(|line| serde_json::from_str::<serde_json::Value>(&line).ok())
                .filter_map(|line| line["event"].as_str().map(str::to_owned))
                .collect::<Vec<_>>()
        })
        .expect("a thread");
    let writer = std::thread::Builder::new()
        .name("remarks".into())
        .spawn(move || {
            use std::io::Write as _;
            for i in 0..100_000 {
                if writeln!(stdin, "round {round}, remark {i}").is_err() {
                    break;
                }
            }
        })
        .expect("a thread");
    std::thread::sleep(Duration::from_millis(random.random_range(30..400)));
    child.kill().expect("killed");
    let _status = child.wait();
    let _writer = writer.join();
    reader.join().expect("read to the end")
}

#[test]
fn adding_photos_can_be_killed_and_done_again() {
    let bench = Bench::new();
    let job = bench.job();
    std::fs::create_dir(bench.path("roll")).expect("writable");
    for i in 0..12 {
        let picture = image::RgbImage::from_fn(900, 700, |x, y| {
            image::Rgb([(x % 251) as u8, (y % 241) as u8, i * 9])
        });
        picture
            .save(bench.path(&format!("roll/{i:02}.png")))
            .expect("writable");
    }
    let mut random = ChaCha8Rng::seed_from_u64(6);
    for _ in 0..6 {
        let mut child = bench
            .command(&["add", &job, "roll"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the binary starts");
        std::thread::sleep(Duration::from_millis(random.random_range(5..250)));
        let _maybe_over = child.kill();
        let _status = child.wait();
        let verify = bench.run(&["verify", &job, "--json"]);
        assert_eq!(verify.code(), 0, "{verify:?}");
    }
    let last = bench.done(&["add", &job, "roll", "--json"]).json();
    let count = |key: &str| last[key].as_array().map_or(0, Vec::len);
    assert_eq!(count("added") + count("duplicates"), 12, "{last}");
    assert_eq!(count("refused"), 0, "{last}");
    for i in 0..12 {
        let original = std::fs::read(bench.path(&format!("roll/{i:02}.png"))).expect("there");
        let kept = walkdir::WalkDir::new(bench.path("job/photos"))
            .into_iter()
            .filter_map(Result::ok)
            .filter(|e| {
                e.file_name()
                    .to_string_lossy()
                    .ends_with(&format!("-{i:02}.png"))
            })
            .count();
        assert_eq!(kept, 1, "photo {i} is in the job once");
        assert!(!original.is_empty());
    }
}
