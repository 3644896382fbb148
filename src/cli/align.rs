//! `align`: by landmarks in a job, or one photo against another.

use std::path::Path;

use serde::Serialize;

use crate::align::{Differing, Trust};
use crate::geometry::Lens;
use crate::record::{Event, View};
use crate::work::{Action, FoundAlignment, Session, WorkError, align_photos, differs_words};

use super::args::AlignArgs;
use super::exit::Ending;
use super::{Context, out, parse};

pub(super) fn align(context: &Context, args: &AlignArgs) -> Result<Ending, WorkError> {
    match (&args.reference, &args.job) {
        (Some(reference), _) => photo_against_photo(context, reference, args),
        (None, Some(job)) if args.place.is_empty() && args.landmarks.is_none() => {
            by_itself(context, job, args)
        }
        (None, Some(job)) => by_landmarks(context, job, args),
        (None, None) => Err(WorkError::BadInput {
            reason: "neither a job nor a reference photo was named".to_owned(),
            remedy: "benchglass align JOB --photo P [--against OTHER], benchglass align JOB --photo P --board B --side S --place NAME=X,Y ..., \
                     or benchglass align --reference A.jpg --photo B.jpg"
                .to_owned(),
        }),
    }
}

#[derive(Serialize)]
struct Placed<'a> {
    name: &'a str,
    at_px: [f64; 2],
    left_out_px: Option<f64>,
    left_out_mm: Option<f64>,
}

#[derive(Serialize)]
struct Aligned<'a> {
    schema: u32,
    event: String,
    photo: &'a str,
    board: &'a str,
    side: crate::board::Side,
    method: &'a str,
    /// Board millimetres to upright photo pixels, row-major, h33 = 1.
    homography: [[f64; 3]; 3],
    /// Bend of the lens after that, where the landmarks show it: `size` of the photo and `k`.
    #[serde(skip_serializing_if = "Option::is_none")]
    lens: Option<Lens>,
    rms_px: Option<f64>,
    px_per_mm: f64,
    landmarks: Vec<Placed<'a>>,
    cautions: &'a [String],
}

fn by_landmarks(context: &Context, job: &Path, args: &AlignArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(job)?;
    let photo = session.find_photo(&args.photo)?;
    let mut placed = args
        .place
        .iter()
        .map(|text| parse::landmark(text))
        .collect::<Result<Vec<_>, _>>()?;
    if let Some(path) = &args.landmarks {
        placed.extend(parse::landmarks_csv(path)?);
    }
    let view = view(&session, &photo, args)?;
    let snapped = if args.snap {
        session.snap(&photo, &view, &placed)?
    } else {
        Vec::new()
    };
    for (landmark, snapped) in placed.iter_mut().zip(&snapped) {
        landmark.1 = snapped.at();
    }
    let applied = session.apply(Action::Align {
        photo,
        view,
        placed,
    })?;
    let Some(Event::Aligned(alignment)) = session.event(applied.event) else {
        return Ok(Ending::Done);
    };
    let landmarks: Vec<Placed> = alignment
        .landmarks
        .iter()
        .map(|landmark| Placed {
            name: &landmark.name,
            at_px: landmark.at_px,
            left_out_px: landmark.left_out_px,
            left_out_mm: landmark.left_out_px.map(|px| px / alignment.px_per_mm),
        })
        .collect();
    if context.json {
        out::json(&Aligned {
            schema: 1,
            event: applied.event.to_string(),
            photo: &alignment.photo,
            board: &alignment.view.board,
            side: alignment.view.side,
            method: &alignment.method,
            homography: alignment.projection.photo_from_board.rows(),
            lens: alignment.projection.lens,
            rms_px: alignment.rms_px,
            px_per_mm: alignment.px_per_mm,
            landmarks,
            cautions: &applied.cautions,
        });
        return Ok(Ending::Done);
    }
    out::entry(&format!("Recorded: {}", applied.words));
    out::line(&format!(
        "  {}, {:.1} px/mm in the middle of the board, residual {:.2} px rms",
        alignment.method,
        alignment.px_per_mm,
        alignment.rms_px.unwrap_or(0.0)
    ));
    let mut rows = vec![
        ["landmark", "placed at", "off the others by"]
            .map(String::from)
            .to_vec(),
    ];
    for landmark in &landmarks {
        rows.push(vec![
            landmark.name.to_owned(),
            format!("{:.1}, {:.1}", landmark.at_px[0], landmark.at_px[1]),
            match (landmark.left_out_px, landmark.left_out_mm) {
                (Some(px), Some(mm)) => format!("{px:.1} px ({mm:.2} mm)"),
                _ => "cannot tell with so few".to_owned(),
            },
        ]);
    }
    out::line(out::table(&rows).trim_end());
    for snapped in &snapped {
        out::entry(&match snapped.middle {
            Some(middle) => format!(
                "  {} moved {:.1} px to the middle of what is round there",
                snapped.name,
                (middle - snapped.clicked).length()
            ),
            None => format!(
                "  {} stays where it was placed: nothing round there",
                snapped.name
            ),
        });
    }
    for caution in &applied.cautions {
        out::entry(&format!("  Mind: {caution}"));
    }
    Ok(Ending::Done)
}

#[derive(Serialize)]
struct MatchedInJob {
    schema: u32,
    event: String,
    expected_error_mm: Option<f64>,
    #[serde(flatten)]
    found: FoundAlignment,
}

fn by_itself(context: &Context, job: &Path, args: &AlignArgs) -> Result<Ending, WorkError> {
    let mut session = context.open(job)?;
    let photo = session.find_photo(&args.photo)?;
    let against = (args.against.as_deref())
        .map(|name| session.find_photo(name))
        .transpose()?;
    session.check_no_landmarks(&photo, against.as_ref())?;
    if args.board.is_some() || args.side.is_some() {
        let view = view(&session, &photo, args)?;
        let known = session
            .state()
            .photos
            .get(&photo)
            .and_then(|p| p.view.clone());
        if known.as_ref() != Some(&view) {
            session.apply(Action::PlacePhoto {
                photo: photo.clone(),
                view,
            })?;
        }
    }
    let task = session.plan_automatic(&photo, against.as_ref())?;
    let found = out::with_progress("matching", |progress| task.run(progress))?;
    let applied = session.apply(Action::AlignAutomatically(Box::new(found.clone())))?;
    let px_per_mm = match session.event(applied.event) {
        Some(Event::Aligned(alignment)) => Some(alignment.px_per_mm),
        _ => None,
    };
    if context.json {
        out::json(&MatchedInJob {
            schema: 1,
            event: applied.event.to_string(),
            expected_error_mm: px_per_mm.map(|scale| found.expected_error_px / scale),
            found,
        });
        return Ok(Ending::Done);
    }
    out::entry(&format!("Recorded: {}", applied.words));
    for caution in &applied.cautions {
        out::entry(&format!("  Mind: {caution}"));
    }
    Ok(Ending::Done)
}

fn view(session: &Session, photo: &str, args: &AlignArgs) -> Result<View, WorkError> {
    let known = session
        .state()
        .photos
        .get(photo)
        .and_then(|p| p.view.clone());
    let board = match (&args.board, &known) {
        (Some(board), _) => session.known_board(board)?,
        (None, Some(view)) => view.board.clone(),
        (None, None) => session.board_with(None, |_| true)?,
    };
    let side = match (args.side, known) {
        (Some(side), _) => side.into(),
        (None, Some(view)) => view.side,
        (None, None) => {
            return Err(WorkError::BadInput {
                reason: "which side does the photo show?".to_owned(),
                remedy: "add --side component or --side solder".to_owned(),
            });
        }
    };
    Ok(View { board, side })
}

#[derive(Serialize)]
struct Matched {
    schema: u32,
    /// Pixels of the reference to pixels of the photo, row-major, h33 = 1.
    homography: [[f64; 3]; 3],
    inliers: usize,
    rms_px: f64,
    /// The lesser of agreement and coverage, 0..=1; below what is believed the answer is a refusal.
    trust: f64,
    trust_because: Trust,
    expected_error_px: f64,
    /// The same with the lens of the photo in it, where the photos carry one: first the homography,
    /// then the lens.
    #[serde(skip_serializing_if = "Option::is_none")]
    bent: Option<MatchedBent>,
    /// Where both photos have detail and it is not the same, px of the reference.
    differs: Vec<Differing>,
}

#[derive(Serialize)]
struct MatchedBent {
    homography: [[f64; 3]; 3],
    lens: Lens,
    rms_px: f64,
    expected_error_px: f64,
}

fn photo_against_photo(
    context: &Context,
    reference: &Path,
    args: &AlignArgs,
) -> Result<Ending, WorkError> {
    let edge: Vec<_> = (args.edge.iter())
        .map(|text| parse::corner(text))
        .collect::<Result<_, _>>()?;
    let found = out::with_progress("matching", |progress| {
        align_photos(reference, Path::new(&args.photo), &edge, progress)
    })?;
    let matched = Matched {
        schema: 1,
        homography: found.homography.rows(),
        inliers: found.inliers,
        rms_px: found.rms_px,
        trust: found.trust.agreement.min(found.trust.coverage),
        trust_because: found.trust,
        expected_error_px: found.expected_error_px,
        bent: found.bent.map(|bent| MatchedBent {
            homography: bent.homography.rows(),
            lens: bent.lens,
            rms_px: bent.rms_px,
            expected_error_px: bent.expected_error_px,
        }),
        differs: found.differs,
    };
    if context.json {
        out::json(&matched);
    } else {
        out::line(&format!(
            "Aligned: {} matches agree within {:.1} px rms; expect an error of about {:.1} px.",
            matched.inliers, matched.rms_px, matched.expected_error_px
        ));
        for row in matched.homography {
            out::line(&format!(
                "  {:14.6} {:14.6} {:14.6}",
                row[0], row[1], row[2]
            ));
        }
        if let Some(words) = differs_words(&matched.differs, "the reference") {
            out::entry(&format!("  Mind: {words}."));
            if edge.is_empty() {
                out::line(
                    "  Two photos say nothing of where the board ends: if that region is the board itself, it is the table that fits. Give the corners of the board on the reference with --edge X,Y, in order round it; the table is then left out, as in a job.",
                );
            }
        }
    }
    Ok(Ending::Done)
}
