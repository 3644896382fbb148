//! `hint`: joints of a photo ranked by how much they look cracked.

use std::path::Path;

use crate::joint::{Band, HintReport, read_joints_csv};
use crate::work::{Session, WorkError, hint_found, hint_in_job, hint_loose, read_joint_list};

use super::args::HintArgs;
use super::exit::Ending;
use super::{Context, out};

pub(super) fn hint(context: &Context, args: &HintArgs) -> Result<Ending, WorkError> {
    let report = match (&args.joints, &args.job) {
        (Some(list), None) => {
            let spots = read_joints_csv(&read_joint_list(list)?, &list.display().to_string())?;
            out::with_progress("looking at joints", |progress| {
                hint_loose(Path::new(&args.photo), &spots, progress)
            })?
        }
        (None, Some(job)) => {
            let session = Session::read(job)?;
            let photo = session.find_photo(&args.photo)?;
            out::with_progress("looking at joints", |progress| {
                hint_in_job(&session, &photo, progress)
            })?
        }
        (Some(_), Some(_)) => {
            return Err(WorkError::BadInput {
                reason: "both a job and a list of joints".to_owned(),
                remedy: "in a job the joints come from its map: leave --joints out".to_owned(),
            });
        }
        (None, None) => return hint_by_itself(context, args),
    };
    if context.json {
        out::json(&report);
    } else {
        print_table(&report, args.top);
    }
    Ok(Ending::Done)
}

/// The hint on a loose photo whose joints nobody listed.
fn hint_by_itself(context: &Context, args: &HintArgs) -> Result<Ending, WorkError> {
    let hint = out::with_progress("finding joints and looking at them", |progress| {
        hint_found(Path::new(&args.photo), progress)
    })?;
    if context.json {
        out::json(&hint);
    } else {
        out::line(&super::find::summary(&hint.found));
        print_table(&hint.report, args.top);
    }
    Ok(Ending::Done)
}

/// The suspects as a table: rank, place, band, reason.
pub(super) fn print_table(report: &HintReport, top: usize) {
    let read = report.joints.iter().filter(|j| j.rank.is_some()).count();
    let unread = report.joints.len() - read;
    let mut ranked: Vec<_> = report.joints.iter().filter(|j| j.rank.is_some()).collect();
    ranked.sort_by_key(|joint| joint.rank);
    let first = ranked
        .iter()
        .filter(|j| j.band == Band::LookHereFirst)
        .count();
    out::line(&format!(
        "{} joints: {read} read, {unread} without a reading, {first} to look at first.",
        report.joints.len()
    ));
    let mut rows = vec![["rank", "joint", "band", "why"].map(String::from).to_vec()];
    for joint in ranked.iter().take(top) {
        rows.push(vec![
            joint.rank.map(|rank| rank.to_string()).unwrap_or_default(),
            joint.id.clone(),
            joint.band.words().to_owned(),
            joint.reason.clone(),
        ]);
    }
    if rows.len() > 1 {
        out::line(out::table(&rows).trim_end());
    }
    if ranked.len() > top {
        out::line(&format!(
            "  ... and {} more (--top N, or --json)",
            ranked.len() - top
        ));
    }
    for joint in report.joints.iter().filter(|j| j.rank.is_none()).take(3) {
        out::entry(&format!("  no reading of {}: {}", joint.id, joint.reason));
    }
    if unread > 3 {
        out::line(&format!("  ... and {} more without a reading", unread - 3));
    }
    out::line(&format!("  {}", report.calibration));
}
