use std::path::Path;
use std::process::Command;

use benchglass::record::Verdict;
use benchglass::work::Session;

use super::bench::{at_home, job};

/// The real program, a real window, real key events; the journal is what counts.
#[test]
#[expect(clippy::print_stdout, reason = "a test that cannot run has to say so")]
fn keys_in_a_real_window_reach_the_journal() {
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
        return;
    }
    at_home(
        "real_window::keys_in_a_real_window_reach_the_journal",
        |folder| {
            let dir = job(folder, true);
            drive(folder, &dir);
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

/// Presses N, then S, once the window is there and its photo open.
fn drive(folder: &Path, dir: &Path) {
    let script = folder.join("drive.sh");
    let text = r#"
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
    std::fs::write(&script, text).unwrap();
    let output = Command::new("xvfb-run")
        .args(["-a", "-s", "-screen 0 1280x800x24", "sh"])
        .arg(&script)
        .arg(env!("CARGO_BIN_EXE_benchglass"))
        .arg(dir)
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
}
