//! `mark`: a person's verdict on places.

use serde::Serialize;

use crate::record::{Fault, Spot, Target};
use crate::work::{Action, Session, Wish, WorkError, usual_severity};

use super::args::MarkArgs;
use super::exit::Ending;
use super::{Context, out, parse};

#[derive(Serialize)]
struct Marked {
    schema: u32,
    event: String,
    words: String,
    cautions: Vec<String>,
}

/// Radius of a place on a photo where none was given, px.
const SPOT_RADIUS_PX: f64 = 40.0;

pub(super) fn mark(context: &Context, args: MarkArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(&args.job)?;
    let photo = args
        .photo
        .as_deref()
        .map(|name| session.find_photo(name))
        .transpose()?;
    let mut targets: Vec<Target> = Vec::new();
    for place in &args.places {
        targets.extend(session.targets(place)?);
    }
    let mut spot = None;
    if let (Some(text), Some(photo)) = (&args.at_px, &photo) {
        let (at_px, radius) = parse::spot(text)?;
        let place = Spot {
            photo: photo.clone(),
            at_px,
            radius_px: radius.unwrap_or(SPOT_RADIUS_PX),
        };
        session.check_spot(&place)?;
        if targets.is_empty() {
            targets.push(Target::Photo(place.clone()));
        }
        spot = Some(place);
    }
    if let Some(text) = &args.area {
        let (view, from, to) = parse::area(text)?;
        session.check_area(&view, from, to)?;
        targets.push(Target::Area { view, from, to });
    }
    if let Some(what) = &args.unit_part {
        if what.trim().is_empty() || what.chars().any(char::is_control) {
            return Err(WorkError::bad(
                "the part of the unit has no name that can be written",
                "say what it is in a word or two on one line: mains cord, plug, case",
            ));
        }
        targets.push(Target::Unit {
            what: what.trim().to_owned(),
        });
    }
    let faults = args
        .fault
        .iter()
        .map(|text| {
            let fault = parse::fault(text)?;
            Ok(Fault {
                fault,
                severity: match args.severity {
                    Some(severity) => severity.into(),
                    None => usual_severity(session.maps(), &targets, fault),
                },
                action: args.action.clone(),
            })
        })
        .collect::<Result<Vec<Fault>, WorkError>>()?;
    record(
        context,
        &mut session,
        Action::Judge(Wish {
            targets,
            verdict: args.verdict.into(),
            faults,
            obstacle: args.obstacle,
            note: args.note,
            photo,
            spot,
            evidence: None,
            confirmed_by: args.confirmed_by.map(Into::into),
        }),
    )
}

/// Carries out one action and says what was recorded.
pub(super) fn record(
    context: &Context,
    session: &mut Session,
    action: Action,
) -> Result<Ending, WorkError> {
    let applied = session.apply(action)?;
    if context.json {
        out::json(&Marked {
            schema: 1,
            event: applied.event.to_string(),
            words: applied.words,
            cautions: applied.cautions,
        });
        return Ok(Ending::Done);
    }
    out::entry(&format!("Recorded: {}", applied.words));
    for caution in applied.cautions {
        out::entry(&format!("  Mind: {caution}"));
    }
    Ok(Ending::Done)
}
