//! What the tour's repairer does: looks joint by joint at the photo that shows it closest, marks
//! what was planted, measures, has it mended, and asks the gate at every step.

use crate::progress::Progress;
use crate::record::{Fault, FaultKind, Outcome, ReadingMode, Stage, Target, Verdict};
use crate::render::UnitTruth;

use super::super::action::{Action, Wish};
use super::super::error::WorkError;
use super::super::papers::write_slip;
use super::super::session::Session;
use super::super::severity::usual_severity;
use super::marking::{look_at_the_rest, mark_planted};
use super::measuring::{checks, cold_checks, function, rails};
use super::{Asked, Hints, TourReport};

/// The joint that opens again at the last test: invented, as all of the scenario is. So the
/// tour's job ends as many do, with lines on its slip and a gate that is shut.
const OPENS_AGAIN: &str = "main:K7.1";

/// Plays the job to its end and fills in the report.
pub(super) fn play(
    session: &mut Session,
    truth: &UnitTruth,
    hints: &Hints,
    report: &mut TourReport,
    progress: &Progress,
) -> Result<(), WorkError> {
    ask(
        session,
        report,
        "the photos are aligned, nothing is judged",
        Stage::Cold,
    );
    let marked = mark_planted(session, &truth.planted, hints)?;
    look_at_the_rest(session, &marked)?;
    report.coverage = session.coverage_rows();
    cold_checks(session)?;
    ask(session, report, "cold checks and looking", Stage::Cold);
    let handed = session.job().exports_folder()?.join("before-rework");
    report.papers = write_slip(session, Some(&handed), progress)?.files;

    // An earlier repair is the owner's to decide on: it stays on the slip.
    let mended: Vec<&Target> = marked
        .iter()
        .filter(|(_, fault)| *fault != FaultKind::PriorRepair)
        .map(|(target, _)| target)
        .collect();
    for &target in &mended {
        session.apply(Action::Judge(Wish::new(
            vec![target.clone()],
            Verdict::Reworked,
        )))?;
    }
    cold_checks(session)?;
    ask(
        session,
        report,
        "the rework, before anybody rechecked it",
        Stage::Cold,
    );
    for &target in &mended {
        session.apply(Action::Judge(Wish::new(
            vec![target.clone()],
            Verdict::Accepted,
        )))?;
    }
    ask(session, report, "the recheck", Stage::Cold);
    rails(session, ReadingMode::Unloaded)?;
    ask(
        session,
        report,
        "rails measured, load unplugged",
        Stage::Supply,
    );
    rails(session, ReadingMode::Loaded)?;
    ask(
        session,
        report,
        "rails measured, load connected",
        Stage::Load,
    );
    function(session, Outcome::Passed, "")?;
    ask(
        session,
        report,
        "test points and function test",
        Stage::Function,
    );
    session.apply(Action::CloseUp {
        note: "lid on, all screws in".to_owned(),
    })?;
    checks(session)?;
    rails(session, ReadingMode::Loaded)?;
    last_test(session)?;
    for stage in [Stage::Closed, Stage::Cold] {
        ask(session, report, "closing up and testing once more", stage);
    }
    report
        .papers
        .extend(write_slip(session, None, progress)?.files);
    Ok(())
}

/// With the lid on, one relay drops out: its joint has opened again.
fn last_test(session: &mut Session) -> Result<(), WorkError> {
    function(
        session,
        Outcome::Failed,
        "zone 7 drops out when the lid is pressed on",
    )?;
    let targets = session.targets(OPENS_AGAIN)?;
    let fault = FaultKind::Fractured;
    let mut wish = Wish::new(targets.clone(), Verdict::Faulty);
    wish.faults = vec![Fault {
        fault,
        severity: usual_severity(session.maps(), &targets, fault),
        action: "take the old solder off, tin the pin, solder anew".to_owned(),
    }];
    wish.note = "opened again at the last test, though it was mended and accepted".to_owned();
    session.apply(Action::Judge(wish))?;
    Ok(())
}

fn ask(session: &Session, report: &mut TourReport, after: &str, stage: Stage) {
    report.gate.push(Asked {
        after: after.to_owned(),
        verdict: session.gate(stage),
    });
}
