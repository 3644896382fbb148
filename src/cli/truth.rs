//! `truth`: the judged joints of a job as a labelled set.

use std::collections::BTreeMap;

use clap::ValueEnum as _;

use crate::record::{ConfirmedBy, JointKey, Target};
use crate::work::{Session, TruthReport, WorkError, export_truth};

use super::args::{ConfirmedArg, TruthArgs};
use super::exit::Ending;
use super::{Context, out};

/// How many joints that were left out the text names.
const NAMED: usize = 6;

pub(super) fn truth(context: &Context, args: &TruthArgs) -> Result<Ending, WorkError> {
    let session = Session::read(&args.job)?;
    let said = confirmed(&session, &args.confirmed_by)?;
    let report = out::with_progress("writing the set", |progress| {
        export_truth(&session, &said, &args.out, progress)
    })?;
    if context.json {
        out::json(&report);
    } else {
        tell(&report);
    }
    Ok(Ending::Done)
}

/// `PLACE=HOW`, repeated.
fn confirmed(
    session: &Session,
    texts: &[String],
) -> Result<BTreeMap<JointKey, ConfirmedBy>, WorkError> {
    let mut said = BTreeMap::new();
    for text in texts {
        let bad = |reason: String| WorkError::BadInput {
            reason,
            remedy:
                "write it as PLACE=HOW, for example J4.3=probe; HOW is probe, reflow or section"
                    .to_owned(),
        };
        let (place, how) = text
            .rsplit_once('=')
            .ok_or_else(|| bad(format!("--confirmed-by: `{text}` has no `=`")))?;
        let how = ConfirmedArg::from_str(how.trim(), true)
            .map_err(|_| bad(format!("--confirmed-by: `{how}` is not known here")))?;
        for target in session.targets(place.trim())? {
            match target {
                Target::Joint(joint) => said.insert(joint, how.into()),
                _ => return Err(bad(format!("--confirmed-by: `{place}` is no joint"))),
            };
        }
    }
    Ok(said)
}

fn tell(report: &TruthReport) {
    out::entry(&format!(
        "{}: {} judged joints on {} photos: {} confirmed as cracked, {} as not cracked, {} judged and not confirmed.",
        report.folder.display(),
        report.joints,
        report.photos,
        report.cracked,
        report.not_cracked,
        report.unknown
    ));
    for left_out in report.left_out.iter().take(NAMED) {
        out::entry(&format!(
            "  left out {}: {}",
            left_out.joint, left_out.reason
        ));
    }
    if report.left_out.len() > NAMED {
        out::line(&format!("  ... and {} more", report.left_out.len() - NAMED));
    }
    out::line(
        "  The photos are exact copies, with whatever the camera wrote into them. Nothing was sent anywhere.",
    );
    out::entry(&format!(
        "  How the hint does on it: benchglass evaluate {}",
        report.folder.display()
    ));
}
