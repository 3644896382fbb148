//! Opening, closing and touching the unit make earlier readings stale: said on the page of the
//! gate, where it counts, of no more than what was touched.

use eframe::egui::{RichText, Ui};

use super::gate::one_line;
use crate::board::BoardMap;
use crate::desk::ask::Ask;
use crate::desk::marker::State;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::paper::shown;
use crate::work::Action;

/// Field of the board that was opened; all of the unit where it names none.
const BOARD: &str = "gate: board that was opened";
/// Field of the reason.
const WHY: &str = "gate: why it was opened";
/// What the reason begins with: a word is wanted, and this one is true of any opening.
const WHY_AT_FIRST: &str = "opened or touched again";
/// Field of the board whose part was reseated.
const PART_BOARD: &str = "gate: board of the part";
/// Field of the part.
const PART: &str = "gate: part that was reseated";
/// References that are offered while one is typed: one row of them.
const OFFERED: usize = 8;

/// That the unit was closed up.
pub(super) fn closed(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        let closed = bench.session.state().closed_up > bench.session.state().reopened;
        if !closed && parts::button(ui, look, "The unit is closed up", false).clicked() {
            asks.push(Ask::Record(Box::new(Action::CloseUp {
                note: String::new(),
            })));
        }
        parts::caption(
            ui,
            look,
            "Readings and checks from before it was opened, touched or reseated no longer count then.",
        );
    });
}

/// That it was opened, or a part of it reseated.
pub(super) fn show(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    opened(ui, look, bench, asks);
    reseated(ui, look, bench, asks);
}

/// What was opened, of the unit or of one board, and why.
fn opened(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    let boards = boards(bench);
    ui.horizontal_wrapped(|ui| {
        ui.label("Opened or touched:");
        let board = bench.fields.entry(BOARD.to_owned()).or_default();
        // Its map may be another by now.
        if !boards.contains(board) {
            board.clear();
        }
        let all = board.is_empty();
        if ui.selectable_label(all, "all of the unit").clicked() {
            board.clear();
        }
        for one in &boards {
            let label = format!("{} board only", shown(one));
            if ui.selectable_label(*board == *one, label).clicked() {
                board.clone_from(one);
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        let board = bench.fields.get(BOARD).cloned();
        let board = board.filter(|board| !board.is_empty());
        let why = (bench.fields.entry(WHY.to_owned())).or_insert_with(|| WHY_AT_FIRST.to_owned());
        one_line(ui, "Why", why, look.scaled(240.0));
        let reason = why.trim().to_owned();
        let what = match &board {
            Some(board) => format!("The {} board", shown(board)),
            None => "The unit".to_owned(),
        };
        if reason.is_empty() {
            wrong(ui, look, "Say in a word why.");
        }
        let label = format!("{what} was opened or touched again");
        if parts::button_if(ui, look, &label, !reason.is_empty()).clicked() {
            let fields = vec![BOARD.to_owned(), WHY.to_owned()];
            let action = Action::Reopen { board, reason };
            asks.push(Ask::RecordTyped(Box::new(action), fields));
        }
    });
}

/// A part that was taken out and put back: its board, and its reference as the map has it.
fn reseated(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    let boards = boards(bench);
    let Some(first) = boards.first() else {
        return;
    };
    let mut board = bench.fields.remove(PART_BOARD).unwrap_or_default();
    if !boards.contains(&board) {
        board.clone_from(first);
    }
    let mut typed = bench.fields.remove(PART).unwrap_or_default();
    let mut taken = None;
    let maps = bench.session.maps();
    ui.horizontal_wrapped(|ui| {
        ui.label("Reseated, or unplugged and plugged again:");
        for one in boards.iter().filter(|_| boards.len() > 1) {
            let label = format!("a part of the {} board", shown(one));
            if ui.selectable_label(board == *one, label).clicked() {
                board.clone_from(one);
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        one_line(ui, "Reference", &mut typed, look.scaled(80.0));
        let wanted = typed.trim();
        let map = maps.iter().find(|map| map.board == board);
        let part = map.and_then(|map| map.part_by_reference(wanted));
        if part.is_none() && !wanted.is_empty() {
            let like = map.map(|map| references_like(map, wanted));
            let like = like.unwrap_or_default();
            if like.is_empty() {
                let words = format!("The {board} board has no part {wanted}.");
                wrong(ui, look, &shown(&words));
            }
            for reference in like {
                if ui.small_button(shown(reference)).clicked() {
                    taken = Some(reference.to_owned());
                }
            }
        }
        let pressed =
            parts::button_if(ui, look, "This part was reseated", part.is_some()).clicked();
        if let (true, Some(part)) = (pressed, part) {
            let action = Action::Reseat {
                board: board.clone(),
                part: part.reference.clone(),
                note: String::new(),
            };
            asks.push(Ask::RecordTyped(Box::new(action), vec![PART.to_owned()]));
        }
    });
    bench.fields.insert(PART_BOARD.to_owned(), board);
    bench.fields.insert(PART.to_owned(), taken.unwrap_or(typed));
}

/// References of the map that begin with what was typed.
fn references_like<'a>(map: &'a BoardMap, typed: &str) -> Vec<&'a str> {
    let typed = typed.to_lowercase();
    (map.parts.iter())
        .map(|part| part.reference.as_str())
        .filter(|reference| reference.to_lowercase().starts_with(&typed))
        .take(OFFERED)
        .collect()
}

fn boards(bench: &Bench) -> Vec<String> {
    (bench.session.maps().iter())
        .map(|map| map.board.clone())
        .collect()
}

/// What is wrong with what was typed, beside it.
pub(super) fn wrong(ui: &mut Ui, look: &Look, words: &str) {
    ui.label(
        RichText::new(words)
            .font(look.small())
            .color(look.palette.words(State::Faulty)),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn references_are_offered_by_their_beginning() {
        let parts = ["J1", "J12", "R1"].map(|reference| {
            serde_json::json!({
                "uid": reference, "ref": reference, "kind": "header", "side": "component",
                "outline": {"shape": "rect", "at": [3.0, 3.0], "size": [1.0, 1.0]},
            })
        });
        let map: BoardMap = serde_json::from_value(serde_json::json!({
            "schema": 1, "model": "Fernhollow FH-12", "board": "main", "origin": "invented",
            "outline": [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0]], "parts": parts,
            "landmarks": [], "rails": [],
        }))
        .unwrap();
        assert_eq!(references_like(&map, "j"), ["J1", "J12"]);
        assert_eq!(references_like(&map, "K"), Vec::<&str>::new());
    }
}
