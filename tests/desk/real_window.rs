use std::path::Path;
use std::process::Command;

use benchglass::board::Side;
use benchglass::progress::Progress;
use benchglass::record::{Event, FaultKind, Target, Verdict};
use benchglass::work::{Session, verify_job};

use super::bench::{at_home, job};

/// Whether a display can be made here; says so where it cannot.
#[expect(clippy::print_stdout, reason = "a test that cannot run has to say so")]
fn can_run() -> bool {
    let missing: Vec<&str> = ["xvfb-run", "xdotool"]
        .into_iter()
        .filter(|tool| {
            Command::new("which")
                .arg(tool)
                .output()
                .is_ok_and(|found| !found.status.success())
        })
        .collect();
    if !missing.is_empty() {
        println!(
            "SKIPPED: no display can be made here, for want of {}",
            missing.join(" and ")
        );
    }
    missing.is_empty()
}

/// The real program, a real window, real key events; the journal is what counts.
#[test]
fn keys_in_a_real_window_reach_the_journal() {
    if !can_run() {
        return;
    }
    at_home(
        "real_window::keys_in_a_real_window_reach_the_journal",
        |folder| {
            let dir = job(folder, true);
            run(folder, NEXT, &dir);
            let session = Session::read(&dir).unwrap();
            let verdicts: Vec<Verdict> = session
                .state()
                .places
                .values()
                .map(|place| place.verdict)
                .collect();
            assert_eq!(verdicts, [Verdict::NoFaultSeen, Verdict::Suspect]);
        },
    );
}

/// From the first window to the journal: the invitation to the tour is pressed, its job is made
/// and opens by itself, a joint is named, judged, a fault is named and taken back. The journal
/// that the window wrote into has exactly that, after what the tour itself says in it.
///
/// Takes some ten seconds of processor time: the tour renders nothing, but looks at every joint.
#[test]
fn the_tour_is_opened_from_the_window_and_its_job_judged_by_keys() {
    if !can_run() {
        return;
    }
    at_home(
        "real_window::the_tour_is_opened_from_the_window_and_its_job_judged_by_keys",
        |folder| {
            run(folder, TOUR, folder);
            let dir = folder.join("home/tour/FH12-0242");
            let session = Session::read(&dir).unwrap();
            let state = session.state();
            let by_hand: Vec<&Event> = state
                .log
                .iter()
                .map(|logged| &logged.event)
                .filter(|event| event.by == "hand")
                .map(|event| &event.what)
                .collect();
            let [
                Event::Judged(first),
                Event::Judged(second),
                Event::Withdrawn { .. },
            ] = by_hand.as_slice()
            else {
                panic!("{by_hand:?}")
            };
            assert_eq!(first.verdict, Verdict::Suspect);
            let [Target::Joint(joint)] = first.targets.as_slice() else {
                panic!("{first:?}")
            };
            assert_eq!(
                (joint.board.as_str(), joint.pin.as_str(), joint.side),
                ("main", "j4-2", Side::Solder)
            );
            assert!(first.seen_on.is_some(), "it was seen on a photo");
            assert_eq!(second.verdict, Verdict::Faulty);
            assert_eq!(second.faults[0].fault, FaultKind::Bridge);
            // The tour itself was there before, and what was undone does not stand.
            assert!(state.log.len() > 100, "{} events", state.log.len());
            let place = state.place(&first.targets[0]).unwrap();
            assert_eq!(place.verdict, Verdict::Suspect);
            let place = state.place(&second.targets[0]).unwrap();
            assert_ne!(place.verdict, Verdict::Faulty);
            let proof = verify_job(&dir, &Progress::new()).unwrap();
            assert_eq!(proof.problems, Vec::<String>::new());
        },
    );
}

const TOUR: &str = r#"
job="$2/home/tour/FH12-0242"
"$1" &
window=$!
trap 'kill $window 2>/dev/null' EXIT
for try in $(seq 1 120); do
  sleep 0.5
  id=$(xdotool search --onlyvisible --name '^Benchglass$' | tail -1)
  [ -n "$id" ] && break
done
[ -n "$id" ] || { echo 'no window came up'; exit 1; }
sleep 2
xdotool windowfocus "$id"
sleep 1
# Past the place to drop photos to "Open the tour".
for key in Tab Tab Return; do xdotool key "$key"; sleep 0.4; done
for try in $(seq 1 240); do
  [ -f "$job/exports/FH12-0242-gate.html" ] && break
  sleep 0.5
done
[ -f "$job/exports/FH12-0242-gate.html" ] || { echo 'the tour was not made'; exit 1; }
sleep 5
lines() { cat "$job"/journal/*.jsonl | wc -l; }
# Presses keys until the journal has one line more, or says that it has not.
written() {
  before=$(lines)
  for key in "$@"; do xdotool key "$key"; sleep 0.4; done
  for try in $(seq 1 60); do
    [ "$(lines)" -gt "$before" ] && return 0
    sleep 0.25
  done
  echo "nothing was written after $*"
  exit 1
}
xdotool key slash; sleep 0.4
xdotool type 'J4.2'; sleep 0.4
xdotool key Return; sleep 3
written s
written f b
written ctrl+z
kill $window
wait $window 2>/dev/null
exit 0
"#;

/// Presses N, then S, once the window is there and its photo open.
const NEXT: &str = r#"
"$1" open "$2" &
window=$!
for try in $(seq 1 60); do
  sleep 0.5
  id=$(xdotool search --onlyvisible --name '^Benchglass$' | tail -1)
  [ -n "$id" ] && break
done
[ -n "$id" ] || { echo 'no window came up'; kill $window; exit 1; }
sleep 3
xdotool windowfocus "$id"
sleep 1
xdotool key n
sleep 1
xdotool key s
sleep 2
kill $window
wait $window 2>/dev/null
exit 0
"#;

/// Runs a script under a display of its own, with the program and a place.
fn run(folder: &Path, script: &str, place: &Path) {
    let path = folder.join("drive.sh");
    std::fs::write(&path, script).unwrap();
    let output = Command::new("xvfb-run")
        .args(["-a", "-s", "-screen 0 1280x800x24", "sh"])
        .arg(&path)
        .arg(env!("CARGO_BIN_EXE_benchglass"))
        .arg(place)
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .env("BENCHGLASS_BY", "hand")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
}
