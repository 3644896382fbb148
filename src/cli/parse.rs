//! Small texts typed on the command line: landmarks, places on photos, areas, settings, faults.

use std::collections::BTreeMap;
use std::path::Path;

use crate::board::Side;
use crate::geometry::PhotoPoint;
use crate::record::{ConfirmedBy, FaultKind, Severity, Verdict, View};
use crate::work::WorkError;

use super::args::{ConfirmedArg, SeverityArg, SideArg, VerdictArg};

impl From<SideArg> for Side {
    fn from(side: SideArg) -> Self {
        match side {
            SideArg::Component => Self::Component,
            SideArg::Solder => Self::Solder,
        }
    }
}

impl From<VerdictArg> for Verdict {
    fn from(verdict: VerdictArg) -> Self {
        match verdict {
            VerdictArg::NoFaultSeen => Self::NoFaultSeen,
            VerdictArg::Suspect => Self::Suspect,
            VerdictArg::Faulty => Self::Faulty,
            VerdictArg::Reworked => Self::Reworked,
            VerdictArg::Accepted => Self::Accepted,
            VerdictArg::CannotBeJudged => Self::CannotBeJudged,
        }
    }
}

impl From<ConfirmedArg> for ConfirmedBy {
    fn from(confirmed: ConfirmedArg) -> Self {
        match confirmed {
            ConfirmedArg::Probe => Self::Probe,
            ConfirmedArg::Reflow => Self::Reflow,
            ConfirmedArg::Section => Self::Section,
        }
    }
}

impl From<SeverityArg> for Severity {
    fn from(severity: SeverityArg) -> Self {
        match severity {
            SeverityArg::BlocksPower => Self::BlocksPower,
            SeverityArg::FixNow => Self::FixNow,
            SeverityArg::Watch => Self::Watch,
            SeverityArg::Cosmetic => Self::Cosmetic,
        }
    }
}

fn bad(reason: impl Into<String>, remedy: impl Into<String>) -> WorkError {
    WorkError::BadInput {
        reason: reason.into(),
        remedy: remedy.into(),
    }
}

/// A finite number, or a message that names the field.
pub(super) fn number(what: &str, text: &str) -> Result<f64, WorkError> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(bad(
            format!("{what}: `{text}` is not a number"),
            "write a plain figure with a decimal point, for example 12.02",
        )),
    }
}

fn numbers<const N: usize>(what: &str, text: &str) -> Result<[f64; N], WorkError> {
    let parts = text
        .split(',')
        .map(|part| number(what, part))
        .collect::<Result<Vec<f64>, _>>()?;
    <[f64; N]>::try_from(parts).map_err(|parts| {
        bad(
            format!("{what}: `{text}` has {} numbers, not {N}", parts.len()),
            "separate them by commas",
        )
    })
}

/// `NAME=X,Y`.
pub(super) fn landmark(text: &str) -> Result<(String, PhotoPoint), WorkError> {
    let (name, at) = text.rsplit_once('=').ok_or_else(|| {
        bad(
            format!("landmark `{text}` has no `=`"),
            "write it as NAME=X,Y, for example \"hole A=212,180\"",
        )
    })?;
    let [x, y] = numbers(&format!("landmark {name}"), at)?;
    Ok((name.trim().to_owned(), PhotoPoint::new(x, y)))
}

/// `X,Y`, a corner of a board's edge.
pub(super) fn corner(text: &str) -> Result<PhotoPoint, WorkError> {
    let [x, y] = numbers("edge", text)?;
    Ok(PhotoPoint::new(x, y))
}

/// Landmarks from a CSV file with the columns `name,x_px,y_px`.
pub(super) fn landmarks_csv(path: &Path) -> Result<Vec<(String, PhotoPoint)>, WorkError> {
    let file = std::fs::File::open(path).map_err(|source| WorkError::File {
        path: path.to_path_buf(),
        source,
    })?;
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(file);
    let broken = |error: csv::Error| {
        bad(
            format!("{}: {error}", path.display()),
            "write the columns name,x_px,y_px, one landmark a line",
        )
    };
    let headers = reader.headers().map_err(broken)?.clone();
    let column = |name: &str| {
        headers
            .iter()
            .position(|h| h.trim_start_matches('\u{feff}').eq_ignore_ascii_case(name))
            .ok_or_else(|| {
                bad(
                    format!("{}: no column `{name}`", path.display()),
                    "the first line must read name,x_px,y_px",
                )
            })
    };
    let (name, x, y) = (column("name")?, column("x_px")?, column("y_px")?);
    let mut placed = Vec::new();
    for record in reader.records() {
        let record = record.map_err(broken)?;
        let line = record.position().map_or(0, csv::Position::line);
        let place = |what: &str| format!("{}, line {line}, {what}", path.display());
        let cell = |column: usize| record.get(column).unwrap_or("");
        placed.push((
            cell(name).to_owned(),
            PhotoPoint::new(
                number(&place("x_px"), cell(x))?,
                number(&place("y_px"), cell(y))?,
            ),
        ));
    }
    Ok(placed)
}

/// `X,Y` or `X,Y,RADIUS`; the radius is absent where it was not given.
pub(super) fn spot(text: &str) -> Result<([f64; 2], Option<f64>), WorkError> {
    if text.matches(',').count() == 2 {
        let [x, y, radius] = numbers("--at-px", text)?;
        if radius <= 0.0 {
            return Err(bad(
                format!("--at-px: a radius of {radius} px"),
                "give the radius of the place in pixels, more than 0",
            ));
        }
        return Ok(([x, y], Some(radius)));
    }
    let [x, y] = numbers("--at-px", text)?;
    Ok(([x, y], None))
}

/// `BOARD/SIDE:X1,Y1,X2,Y2` in mm.
pub(super) fn area(text: &str) -> Result<(View, [f64; 2], [f64; 2]), WorkError> {
    let form = || {
        bad(
            format!("--area: `{text}` is not BOARD/SIDE:X1,Y1,X2,Y2"),
            "for example main/solder:10,20,35,40 (millimetres)",
        )
    };
    let (view, corners) = text.split_once(':').ok_or_else(form)?;
    let (board, side) = view.split_once('/').ok_or_else(form)?;
    let side = match side.trim().to_lowercase().as_str() {
        "component" => Side::Component,
        "solder" => Side::Solder,
        _ => return Err(form()),
    };
    let [x1, y1, x2, y2] = numbers("--area", corners)?;
    let view = View {
        board: board.trim().to_owned(),
        side,
    };
    Ok((view, [x1, y1], [x2, y2]))
}

/// `NAME=POSITION`, repeated.
pub(super) fn settings(texts: &[String]) -> Result<BTreeMap<String, String>, WorkError> {
    texts
        .iter()
        .map(|text| {
            text.split_once('=')
                .map(|(name, position)| (name.trim().to_owned(), position.trim().to_owned()))
                .ok_or_else(|| {
                    bad(
                        format!("--set: `{text}` has no `=`"),
                        "write it as NAME=POSITION, for example SW1=RUN",
                    )
                })
        })
        .collect()
}

/// A fault by its code, however it is written: `loose-switch`, `Loose switch`, `loose_switch`.
pub(super) fn fault(text: &str) -> Result<FaultKind, WorkError> {
    let code = text.trim().to_lowercase().replace(['-', ' '], "_");
    serde_json::from_value(serde_json::Value::String(code)).map_err(|_| {
        let known: Vec<String> = crate::record::FaultKind::ALL
            .iter()
            .filter_map(|fault| serde_json::to_value(fault).ok())
            .filter_map(|value| value.as_str().map(|code| code.replace('_', "-")))
            .collect();
        bad(
            format!("--fault: `{text}` is not a fault that is known here"),
            format!("use one of: {}; or `other` with --note", known.join(", ")),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn landmarks_may_hold_an_equals_sign() {
        let (name, at) = landmark("U1 pin 1 = A=12.5, 7").unwrap();
        assert_eq!(name, "U1 pin 1 = A");
        assert_eq!(at, PhotoPoint::new(12.5, 7.0));
        assert!(landmark("hole A=NaN,3").is_err());
        assert!(landmark("hole A").is_err());
    }

    #[test]
    fn places_and_areas() {
        assert_eq!(spot("10,20").unwrap(), ([10.0, 20.0], None));
        assert_eq!(spot("10,20,5").unwrap(), ([10.0, 20.0], Some(5.0)));
        assert!(spot("10,20,-5").is_err());
        let (view, from, to) = area("main/solder:1,2,3,4").unwrap();
        assert_eq!((view.board.as_str(), view.side), ("main", Side::Solder));
        assert_eq!((from, to), ([1.0, 2.0], [3.0, 4.0]));
        assert!(area("main:1,2,3,4").is_err());
    }

    #[test]
    fn faults_are_found_however_they_are_written() {
        for text in ["loose-switch", "Loose switch", "loose_switch"] {
            assert_eq!(fault(text).unwrap(), FaultKind::LooseSwitch);
        }
        let error = fault("wobbly").unwrap_err();
        assert!(
            error.remedy().contains("loose-switch"),
            "{}",
            error.remedy()
        );
    }
}
