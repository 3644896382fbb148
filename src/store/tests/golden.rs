//! The version-1 job of `tests/fixtures/journal/job`: it has to fold as it does here for ever.

use std::path::Path;

use crate::record::{FaultKind, JointKey, Severity, Stage, Verdict, gate, history};

use super::super::*;

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/journal/job")
}

#[test]
fn version_1_job_folds_as_ever() {
    let job = Job::open(&folder()).unwrap();
    assert_eq!(job.format(), 1);
    let readout = job.read().unwrap();
    assert_eq!(readout.problems.len(), 1);
    assert_eq!(readout.problems[0].kind, ProblemKind::TornTail);
    let state = readout.fold(None);
    assert_eq!(state.log.len(), 27);
    assert_eq!(state.unknown.len(), 1);
    assert!(state.flags.is_empty());
    let unit = state.unit.clone().unwrap();
    assert_eq!(
        (unit.code.as_str(), unit.model.as_str()),
        ("FH12-0242", "Fernhollow FH-12")
    );
    let joint = |pin: &str| {
        state.joint(&JointKey {
            board: "main".to_owned(),
            pin: pin.to_owned(),
            side: crate::board::Side::Solder,
        })
    };
    // Found by one bench, reworked and accepted by the other.
    let accepted = joint("J4-3");
    assert_eq!(accepted.verdict, Some(Verdict::Accepted));
    assert_eq!(accepted.faults[0].fault, FaultKind::Fractured);
    assert_eq!(accepted.faults[0].severity, Severity::BlocksPower);
    assert_eq!(accepted.by, ["Bea"]);
    // Judged by both at once.
    let contradicted = joint("J4-4");
    assert!(contradicted.contradicted);
    assert_eq!(contradicted.verdict, Some(Verdict::Faulty));
    // Undone and redone; undone for good.
    assert_eq!(joint("K1-1").verdict, Some(Verdict::Suspect));
    assert_eq!(joint("K1-2").verdict, None);
    assert_eq!(state.marks().len(), 5);
    let photo = state.photos.values().next().unwrap();
    assert_eq!(photo.alignment().unwrap().px_per_mm, 41.5);
    // The rework made the earlier reading stale; the later one holds.
    let stale: Vec<bool> = state
        .measurements
        .values()
        .flatten()
        .map(|reading| reading.stale.is_some())
        .collect();
    assert_eq!(stale, [true, false]);
    assert!(state.closed_up > state.reopened);
    assert!(!gate(&state, &[], Stage::Cold).permitted);
    assert_eq!(history(&state, &[]).len(), 27);
    let problems = verify(&job).unwrap();
    assert!(
        problems
            .iter()
            .all(|problem| problem.kind != ProblemKind::BrokenChain)
    );
}
