//! From a job's state to the view of its slip.

use std::collections::BTreeMap;
use std::sync::Arc;

use image::RgbImage;

use super::cautions;
use super::error::PaperError;
use super::gate::gate_lines;
use super::line::{Draft, finished};
use super::pictures::Pictures;
use super::site::{Lie, box_of, site_of};
use super::summary;
use super::view::{Line, SLIP_SCHEMA, Section, SlipView};
use super::words::capital;
use crate::board::{BoardMap, Side};
use crate::geometry::BoardPoint;
use crate::record::{FaultKind, Mark, PhotoId, PlaceKey, State};

/// Where pictures come from: the upright photo of an identity, or why there is none.
pub type PhotoSource<'a> = dyn Fn(&PhotoId) -> Result<Arc<RgbImage>, NoPhoto> + 'a;

/// Why no picture is cut from a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoPhoto {
    /// Its original is no longer what came in: what it shows now is not what was judged.
    Altered,
    /// It cannot be had.
    Missing,
}

/// What a slip is made from.
#[derive(Clone, Copy)]
pub struct SlipSource<'a> {
    /// The job.
    pub state: &'a State,
    /// The maps in force.
    pub maps: &'a [BoardMap],
    /// Name of the bench that writes it; may be empty.
    pub bench: &'a str,
    /// `Invented sample`, where unit and photographs are the sample's.
    pub sample: Option<&'a str>,
    /// The photos.
    pub photos: &'a PhotoSource<'a>,
}

/// Computes the slip of a job.
///
/// # Errors
/// [`PaperError::Picture`] where a picture cannot be packed. A photo that cannot be had is no
/// error: the line says so and the map's drawing stands in, and the end of the slip names it.
pub fn slip_view(source: &SlipSource<'_>) -> Result<SlipView, PaperError> {
    let state = source.state;
    let marks = state.marks();
    let (accepted, open): (Vec<_>, Vec<_>) =
        marks.into_iter().partition(|mark| mark.place.is_accepted());
    let mut drafts: Vec<Draft<'_>> = gathered(source.maps, open)
        .into_iter()
        .map(|marks| draft(source, marks))
        .collect();
    drafts.sort_by_cached_key(|draft| order(source, draft));
    let hazards = summary::hazards(source.maps);
    let materials = summary::materials(&drafts);
    let terms = summary::terms(&drafts);
    let (sections, lost) = sections(source, drafts)?;
    let unit = state.unit.clone();
    let (looked_by, looked_on) = summary::looked(state);
    Ok(SlipView {
        schema: SLIP_SCHEMA,
        unit: unit.as_ref().map_or_else(String::new, |u| u.code.clone()),
        model: unit.as_ref().map_or_else(String::new, |u| u.model.clone()),
        complaint: unit.map_or_else(String::new, |u| u.complaint),
        boards: source.maps.iter().map(title).collect(),
        sample: source.sample.map(str::to_owned),
        bench: source.bench.to_owned(),
        looked_by,
        looked_on,
        as_of: summary::as_of(source.state),
        line_count: sections.iter().map(|section| section.lines.len()).sum(),
        turns: sections.iter().filter(|section| section.turn).count(),
        cautions: cautions::before_work(),
        hazards,
        sections,
        materials,
        terms,
        coverage: summary::coverage(state, source.maps),
        accepted: accepted
            .iter()
            .map(|mark| summary::accepted(source.maps, mark))
            .collect(),
        cannot_judge: summary::cannot_judge(state, source.maps),
        eye_and_hint: summary::beside_hint(state),
        gate: gate_lines(state, source.maps),
        silent: summary::silent(state, source.maps, &lost),
    })
}

/// The map of a board by its name.
#[must_use]
pub(super) fn map_of<'a>(maps: &'a [BoardMap], board: &str) -> Option<&'a BoardMap> {
    maps.iter().find(|map| map.board == board)
}

/// What people call the board.
#[must_use]
pub(super) fn title(map: &BoardMap) -> String {
    let title = map.title.trim();
    if title.is_empty() {
        format!("{} board", map.board)
    } else {
        title.to_owned()
    }
}

/// Marks of one gesture become one line: the same judgements, the same faults, on one part (or
/// a bridge over two).
fn gathered<'a>(maps: &[BoardMap], marks: Vec<Mark<'a>>) -> Vec<Vec<Mark<'a>>> {
    let mut lines: Vec<Vec<Mark<'_>>> = Vec::new();
    for mark in marks {
        let same = lines.iter_mut().find(|line| {
            line.first()
                .is_some_and(|first| one_line(maps, first, &mark))
        });
        match same {
            Some(line) => line.push(mark),
            None => lines.push(vec![mark]),
        }
    }
    lines
}

fn one_line(maps: &[BoardMap], a: &Mark<'_>, b: &Mark<'_>) -> bool {
    let (PlaceKey::Joint(one), PlaceKey::Joint(two)) = (a.key, b.key) else {
        return false;
    };
    one.board == two.board
        && one.side == two.side
        && a.place.current == b.place.current
        && a.place.faults == b.place.faults
        && a.place.verdict == b.place.verdict
        && (is_bridge(a) || same_part(map_of(maps, &one.board), &one.pin, &two.pin))
}

fn same_part(map: Option<&BoardMap>, one: &str, two: &str) -> bool {
    map.is_some_and(|map| {
        map.parts.iter().any(|part| {
            let has = |uid: &str| part.pins.iter().any(|pin| pin.uid == uid);
            has(one) && has(two)
        })
    })
}

fn draft<'a>(source: &SlipSource<'a>, marks: Vec<Mark<'a>>) -> Draft<'a> {
    let keys: Vec<&PlaceKey> = marks.iter().map(|mark| mark.key).collect();
    let map = board_of(keys.first().copied()).and_then(|board| map_of(source.maps, board));
    let site = match marks.first() {
        Some(first) => site_of(&keys, &first.place.target, map),
        None => super::site::Site::default(),
    };
    Draft { marks, site }
}

/// The board of a place, where it is on one.
#[must_use]
pub(super) fn board_of(key: Option<&PlaceKey>) -> Option<&str> {
    match key? {
        PlaceKey::Joint(joint) => Some(&joint.board),
        PlaceKey::Part(board, _) => Some(board),
        PlaceKey::Area(view, ..) => Some(&view.board),
        PlaceKey::Photo(..) | PlaceKey::Unit(_) => None,
    }
}

/// Whether any fault of the mark joins several joints into one place.
fn is_bridge(mark: &Mark<'_>) -> bool {
    mark.place
        .faults
        .iter()
        .any(|fault| fault.fault == FaultKind::Bridge)
}

/// Order on the slip: the unit itself, then board after board (the one with most parts first),
/// solder side before component side, in the walk over the board; then places on no map.
fn order(source: &SlipSource<'_>, draft: &Draft<'_>) -> (u8, usize, String, u8, i64, i64, String) {
    let site = &draft.site;
    let label = site.label.clone();
    let Some(board) = &site.board else {
        let group = if site.spot.is_some() { 2 } else { 0 };
        let photo = site.spot.as_ref().map_or("", |spot| spot.photo.as_str());
        return (group, 0, photo.to_owned(), 0, 0, 0, label);
    };
    let map = map_of(source.maps, board);
    let parts = map.map_or(0, |map| map.parts.len());
    let side = match site.side {
        Some(Side::Solder) => 0,
        Some(Side::Component) => 1,
        None => 2,
    };
    let (lane, along) = map
        .zip(site.side)
        .and_then(|(map, side)| lie(map, side))
        .zip(site.centre())
        .map_or((i64::MAX, 0), |(lie, at)| lie.walk(at));
    (
        1,
        usize::MAX - parts,
        board.clone(),
        side,
        lane,
        along,
        label,
    )
}

/// How the board lies with this side up; none where the map has no outline.
#[must_use]
pub(super) fn lie(map: &BoardMap, side: Side) -> Option<Lie> {
    let corners: Vec<BoardPoint> = map
        .outline
        .iter()
        .map(|&[x, y]| BoardPoint::new(x, y))
        .collect();
    let extent = box_of(&corners)?;
    (extent.width() > 0.0 && extent.height() > 0.0).then_some(Lie { extent, side })
}

/// The lines by sections, and the photos that were asked for and could not be had.
fn sections(
    source: &SlipSource<'_>,
    drafts: Vec<Draft<'_>>,
) -> Result<(Vec<Section>, BTreeMap<PhotoId, NoPhoto>), PaperError> {
    let mut pictures = Pictures::new(source);
    let mut sections: Vec<Section> = Vec::new();
    for (index, draft) in drafts.iter().enumerate() {
        let (board, side) = (draft.site.board.clone(), draft.site.side);
        let line: Line = finished(source, draft, index + 1, &mut pictures)?;
        let group = if draft.site.spot.is_some() { 1 } else { 0 };
        let heading = |turn| heading(source, board.as_deref(), side, turn, group);
        match sections.last_mut() {
            Some(last) if last.board == board && last.side == side && board.is_some() => {
                last.lines.push(line);
            }
            Some(last) if board.is_none() && last.heading == heading(false) => {
                last.lines.push(line);
            }
            last => {
                let turn = last.is_some_and(|last| {
                    last.board == board && board.is_some() && last.side.is_some() && side.is_some()
                });
                let heading = heading(turn);
                sections.push(Section {
                    heading,
                    board,
                    side,
                    turn,
                    lines: vec![line],
                });
            }
        }
    }
    Ok((sections, pictures.lost()))
}

fn heading(
    source: &SlipSource<'_>,
    board: Option<&str>,
    side: Option<Side>,
    turn: bool,
    group: u8,
) -> String {
    let Some(board) = board else {
        let text = if group == 1 {
            "On photographs that no map covers"
        } else {
            "The unit itself"
        };
        return text.to_owned();
    };
    let name = map_of(source.maps, board).map_or_else(|| format!("{board} board"), title);
    let side = match side {
        Some(Side::Component) => "component side",
        Some(Side::Solder) => "solder side",
        None => return format!("{}: not in the map", capital(&name)),
    };
    if turn {
        format!("{}: turn to the {side}", capital(&name))
    } else {
        format!("{}: {side}, as it lies", capital(&name))
    }
}
