//! Readings and checks: what to measure, between which limits, and a field for what the meter
//! said.

use std::collections::BTreeMap;

use eframe::egui::{Key, RichText, Role, TextEdit, Ui, WidgetInfo};

use super::gate::one_line;
use crate::board::{BoardMap, Expect, Rail, TestPoint};
use crate::desk::ask::Ask;
use crate::desk::marker::State;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::typed::number;
use crate::record::{
    CheckKind, Measurement, Outcome, Reading, ReadingMode, Subject, WithinLimits, judge_reading,
};
use crate::work::Action;

/// One line to measure: where, what, between which limits.
struct Row {
    subject: Subject,
    words: String,
    wanted: Vec<Wanted>,
    /// How the map wants the controls to stand, each with its position.
    settings: BTreeMap<String, String>,
}

impl Row {
    fn board(&self) -> &str {
        match &self.subject {
            Subject::Rail { board, .. } | Subject::TestPoint { board, .. } => board,
        }
    }
}

/// One quantity of a row.
struct Wanted {
    quantity: Expect,
    min: Option<f64>,
    max: Option<f64>,
}

pub(super) fn show(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    parts::title(ui, look, "Readings and checks", "");
    parts::caption(
        ui,
        look,
        "Blank is not measured. Readings from before the unit was opened, touched or reworked no longer count.",
    );
    ui.add_space(8.0);
    checks(ui, look, bench, asks);
    let maps: Vec<BoardMap> = bench.session.maps().to_vec();
    if maps.is_empty() {
        ui.label("Rails and test points come from the board map, and this job has none.");
    }
    for map in &maps {
        for (mode, heading) in [
            (
                ReadingMode::Cold,
                "Cold, power off, stored charge gone: resistance to the return",
            ),
            (ReadingMode::Unloaded, "Supply alone, load unplugged"),
            (ReadingMode::Loaded, "Load connected"),
        ] {
            let rows: Vec<Row> = map
                .rails
                .iter()
                .map(|rail| rail_row(map, rail, mode))
                .collect();
            section(
                ui,
                look,
                &format!("{} board. {heading}", map.board),
                rows,
                bench,
                asks,
            );
        }
        let rows: Vec<Row> = map
            .test_points
            .iter()
            .map(|point| point_row(map, point))
            .collect();
        section(
            ui,
            look,
            &format!("{} board. Test points", map.board),
            rows,
            bench,
            asks,
        );
    }
    function_test(ui, look, bench, asks);
}

fn section(
    ui: &mut Ui,
    look: &Look,
    heading: &str,
    rows: Vec<Row>,
    bench: &mut Bench,
    asks: &mut Vec<Ask>,
) {
    if rows.is_empty() {
        return;
    }
    ui.add_space(10.0);
    ui.label(RichText::new(heading).font(look.strong()));
    for row in rows {
        line(ui, look, &row, bench, asks);
    }
}

fn rail_row(map: &BoardMap, rail: &Rail, mode: ReadingMode) -> Row {
    let wanted = |quantity, min, max| Wanted { quantity, min, max };
    let list = match mode {
        ReadingMode::Cold => vec![wanted(Expect::Ohm, rail.cold_min_ohm, None)],
        ReadingMode::Unloaded => {
            vec![wanted(
                Expect::VoltsDc,
                Some(rail.unloaded.min),
                Some(rail.unloaded.max),
            )]
        }
        ReadingMode::Loaded => {
            let mut list = vec![wanted(
                Expect::VoltsDc,
                Some(rail.loaded.min),
                Some(rail.loaded.max),
            )];
            list.extend(
                rail.ripple_max_mv_pp
                    .map(|most| wanted(Expect::MillivoltsPp, None, Some(most))),
            );
            list.extend(
                rail.amperes_max
                    .map(|most| wanted(Expect::AmperesDc, None, Some(most))),
            );
            list
        }
    };
    Row {
        subject: Subject::Rail {
            board: map.board.clone(),
            rail: rail.name.clone(),
            mode,
        },
        words: format!("{}, at {} to {}", rail.name, rail.at, rail.return_at),
        wanted: list,
        settings: BTreeMap::new(),
    }
}

fn point_row(map: &BoardMap, point: &TestPoint) -> Row {
    Row {
        subject: Subject::TestPoint {
            board: map.board.clone(),
            name: point.name.clone(),
        },
        words: format!("{}, at {}", point.name, point.at),
        wanted: point
            .expect
            .iter()
            .map(|extent| Wanted {
                quantity: extent.quantity,
                min: extent.min,
                max: extent.max,
            })
            .collect(),
        settings: point.settings.clone(),
    }
}

fn line(ui: &mut Ui, look: &Look, row: &Row, bench: &mut Bench, asks: &mut Vec<Ask>) {
    let before = (bench.session.state().measurements)
        .get(&row.subject)
        .cloned()
        .unwrap_or_default();
    ui.horizontal_wrapped(|ui| {
        lead(ui, look, &crate::paper::shown(&row.words), RAIL_W);
        let mut entered = false;
        for wanted in &row.wanted {
            let field = format!("{:?} {:?}", row.subject, wanted.quantity);
            let text = bench.fields.entry(field).or_default();
            let spoken = format!("{} {}", row.words, unit(wanted.quantity));
            let edit = ui.add(
                TextEdit::singleline(text)
                    .desired_width(look.scaled(74.0))
                    .hint_text(unit(wanted.quantity)),
            );
            edit.widget_info(|| {
                eframe::egui::WidgetInfo::labeled(
                    eframe::egui::Role::TextInput,
                    true,
                    spoken.as_str(),
                )
            });
            entered |= edit.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
            parts::caption(ui, look, &limits(wanted));
        }
        let typed = row.wanted.iter().any(|wanted| {
            let field = format!("{:?} {:?}", row.subject, wanted.quantity);
            bench
                .fields
                .get(&field)
                .is_some_and(|text| !text.trim().is_empty())
        });
        stands(ui, look, row, bench);
        if typed && (ui.button("Write down").clicked() || entered) {
            write_down(row, bench, asks);
        }
        for before in &before {
            read_before(
                ui,
                look,
                row,
                &before.what,
                before.stale.as_ref().map(|stale| stale.reason.as_str()),
            );
        }
    });
}

/// One box for each control that the map wants to stand somewhere. A control stands where it
/// stands: its box is ticked in every row of the board that wants the same, and ticking another
/// position of it takes this one away.
fn stands(ui: &mut Ui, look: &Look, row: &Row, bench: &mut Bench) {
    let mut all = true;
    for (control, position) in &row.settings {
        let mut ticked =
            stands_at(row, bench, control).is_some_and(|at| at.trim() == position.trim());
        let words = crate::paper::shown(&format!("{control} stands at {position}"));
        let spoken = format!("{}: {words}", row.words);
        let tick = ui.checkbox(&mut ticked, RichText::new(words).font(look.small()));
        tick.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, ticked, spoken.as_str()));
        if tick.changed() {
            let control = (row.board().to_owned(), control.clone());
            if ticked {
                bench.stands.insert(control, position.clone());
            } else {
                bench.stands.remove(&control);
            }
        }
        all &= ticked;
    }
    if !all {
        parts::caption(ui, look, "A new reading does not count until it is ticked.");
    }
}

/// Where a control stands, as it was ticked in this row or another.
fn stands_at<'a>(row: &Row, bench: &'a Bench, control: &str) -> Option<&'a String> {
    let control = (row.board().to_owned(), control.to_owned());
    bench.stands.get(&control)
}

/// The first control that was not written down where the row wants it, in words.
fn stood_elsewhere(row: &Row, measurement: &Measurement) -> Option<String> {
    row.settings.iter().find_map(|(control, wanted)| {
        let words = match measurement.settings.get(control) {
            Some(stood) if stood.trim() == wanted.trim() => return None,
            Some(stood) => format!("{control} stood at {stood}"),
            None => format!("nobody wrote down how {control} stood"),
        };
        Some(crate::paper::shown(&words))
    })
}

fn write_down(row: &Row, bench: &Bench, asks: &mut Vec<Ask>) {
    let (mut readings, mut fields) = (Vec::new(), Vec::new());
    for wanted in &row.wanted {
        let field = format!("{:?} {:?}", row.subject, wanted.quantity);
        let Some(text) = (bench.fields.get(&field)).filter(|text| !text.trim().is_empty()) else {
            continue;
        };
        readings.push(Reading {
            quantity: wanted.quantity,
            value: typed_number(text),
        });
        fields.push(field);
    }
    let action = Action::Measure {
        subject: row.subject.clone(),
        readings,
        // Only what was ticked: where the map wants a control is not where somebody saw it.
        settings: (row.settings.keys())
            .filter_map(|control| Some((control.clone(), stands_at(row, bench, control)?.clone())))
            .collect(),
        note: String::new(),
    };
    asks.push(Ask::RecordTyped(Box::new(action), fields));
}

/// What is no number is refused by name.
fn typed_number(text: &str) -> f64 {
    number(text).unwrap_or(f64::NAN)
}

fn read_before(
    ui: &mut Ui,
    look: &Look,
    row: &Row,
    measurement: &Measurement,
    stale: Option<&str>,
) {
    let elsewhere = stood_elsewhere(row, measurement);
    for reading in &measurement.readings {
        let wanted = row
            .wanted
            .iter()
            .find(|wanted| wanted.quantity == reading.quantity);
        let within = wanted.map(|wanted| judge_reading(wanted.min, wanted.max, reading.value));
        let (mut words, mut state) = match (stale, within) {
            (Some(why), _) => (format!("no longer counts: {why}"), State::Unseen),
            (None, Some(WithinLimits::Within)) => ("within its limits".to_owned(), State::Accepted),
            (None, Some(WithinLimits::Outside)) => ("outside its limits".to_owned(), State::Faulty),
            _ => ("no limit is stated".to_owned(), State::CannotBeJudged),
        };
        if let (None, Some(why)) = (stale, &elsewhere) {
            words += &format!("; does not count: {why}");
            state = State::CannotBeJudged;
        }
        let text = format!("{} {}, {words}", reading.value, unit(reading.quantity));
        ui.label(
            RichText::new(text)
                .font(look.small_strong())
                .color(look.palette.words(state)),
        );
    }
}

fn limits(wanted: &Wanted) -> String {
    match (wanted.min, wanted.max) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("at least {min}"),
        (None, Some(max)) => format!("at most {max}"),
        (None, None) => "no limit stated".to_owned(),
    }
}

fn unit(quantity: Expect) -> &'static str {
    match quantity {
        Expect::VoltsDc => "V",
        Expect::MillivoltsPp => "mV p-p",
        Expect::OffsetVolts => "V offset",
        Expect::Hertz => "Hz",
        Expect::Ohm => "ohm",
        Expect::AmperesDc => "A",
    }
}

/// The field of what the meter showed across the reservoirs.
const STORED_VOLTS: &str = "stored charge volts";
/// Width of that field and of a remark, points.
const STORED_W: f32 = 44.0;
const REMARK_W: f32 = 180.0;
/// Width of what a check is called at 100 % text, points: answers stand under one another.
const CHECK_W: f32 = 286.0;
/// Width of what a reading is of, points.
const RAIL_W: f32 = 190.0;

/// Words that begin a row; what follows begins at the same place in every row.
fn lead(ui: &mut Ui, look: &Look, words: &str, width: f32) {
    let there = ui.label(words).rect.width();
    ui.add_space((look.scaled(width) - there).max(0.0));
}

fn checks(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    ui.label(RichText::new("Before power").font(look.strong()));
    for kind in CheckKind::BEFORE_POWER {
        let before = bench
            .session
            .state()
            .checks
            .get(&kind)
            .and_then(|list| list.last())
            .cloned();
        let field = format!("check {kind:?}");
        ui.horizontal_wrapped(|ui| {
            let name = kind.words();
            lead(ui, look, &name, CHECK_W);
            for (outcome, label) in [
                (Outcome::Passed, "in order"),
                (Outcome::Failed, "not in order"),
                (Outcome::NotFitted, "not fitted"),
            ] {
                let button = ui.small_button(label);
                button.widget_info(|| {
                    eframe::egui::WidgetInfo::labeled(
                        eframe::egui::Role::Button,
                        true,
                        format!("{name}: {label}"),
                    )
                });
                if button.clicked() {
                    let note = bench.fields.get(&field).cloned().unwrap_or_default();
                    let volts = (bench.fields.get(STORED_VOLTS))
                        .filter(|text| kind == CheckKind::StoredCharge && !text.trim().is_empty());
                    let action = Action::Check {
                        check: kind.clone(),
                        outcome,
                        volts: volts.map(|text| typed_number(text)),
                        note,
                    };
                    let mut fields = vec![field.clone()];
                    if kind == CheckKind::StoredCharge {
                        fields.push(STORED_VOLTS.to_owned());
                    }
                    asks.push(Ask::RecordTyped(Box::new(action), fields));
                }
            }
            if kind == CheckKind::StoredCharge {
                let volts = bench.fields.entry(STORED_VOLTS.to_owned()).or_default();
                let edit = ui.add(
                    TextEdit::singleline(volts)
                        .desired_width(look.scaled(STORED_W))
                        .hint_text("V"),
                );
                edit.widget_info(|| {
                    eframe::egui::WidgetInfo::labeled(
                        eframe::egui::Role::TextInput,
                        true,
                        format!("{name}: V on the meter"),
                    )
                });
            }
            let note = bench.fields.entry(field.clone()).or_default();
            // As wide together as one alone, so that answers stand under one another.
            let (width, hint) = if kind == CheckKind::StoredCharge {
                (REMARK_W - STORED_W - 8.0, "remark")
            } else {
                (REMARK_W, "reading or remark")
            };
            let edit = ui.add(
                TextEdit::singleline(note)
                    .desired_width(look.scaled(width))
                    .hint_text(hint),
            );
            edit.widget_info(|| {
                eframe::egui::WidgetInfo::labeled(
                    eframe::egui::Role::TextInput,
                    true,
                    format!("{name}: remark"),
                )
            });
            if let Some(before) = &before {
                outcome_words(
                    ui,
                    look,
                    before.what.outcome,
                    "",
                    before.stale.as_ref().map(|stale| stale.reason.as_str()),
                );
            }
        });
        // A remark of any length stands under the answers that it belongs to.
        if let Some(note) = before
            .map(|before| with_volts(before.what.volts, &before.what.note))
            .filter(|note| !note.is_empty())
        {
            ui.horizontal(|ui| {
                ui.add_space(look.scaled(CHECK_W) + ui.spacing().item_spacing.x);
                ui.vertical(|ui| parts::caption(ui, look, &crate::paper::shown(&note)));
            });
        }
    }
}

/// What a check was recorded with besides its outcome.
fn with_volts(volts: Option<f64>, note: &str) -> String {
    match volts {
        Some(volts) if note.is_empty() => format!("{volts} V"),
        Some(volts) => format!("{volts} V; {note}"),
        None => note.to_owned(),
    }
}

fn outcome_words(ui: &mut Ui, look: &Look, outcome: Outcome, note: &str, stale: Option<&str>) {
    let (mut words, state) = match (stale, outcome) {
        (Some(why), _) => (format!("no longer counts: {why}"), State::Unseen),
        (None, Outcome::Passed) => ("in order".to_owned(), State::Accepted),
        (None, Outcome::NotFitted) => ("not fitted".to_owned(), State::CannotBeJudged),
        (None, Outcome::Failed) => ("not in order".to_owned(), State::Faulty),
    };
    if !note.is_empty() {
        words += &format!(": {}", crate::paper::shown(note));
    }
    ui.label(
        RichText::new(words)
            .font(look.small_strong())
            .color(look.palette.words(state)),
    );
}

fn function_test(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    ui.add_space(10.0);
    ui.label(RichText::new("Function").font(look.strong()));
    let tests: Vec<_> = bench
        .session
        .state()
        .checks
        .iter()
        .filter(|(kind, _)| matches!(kind, CheckKind::Function { .. }))
        .filter_map(|(kind, list)| Some((kind.words(), list.last()?.clone())))
        .collect();
    for (name, before) in tests {
        ui.horizontal_wrapped(|ui| {
            ui.label(crate::paper::shown(&name));
            outcome_words(
                ui,
                look,
                before.what.outcome,
                &before.what.note,
                before.stale.as_ref().map(|stale| stale.reason.as_str()),
            );
        });
    }
    ui.horizontal_wrapped(|ui| {
        let field = "function".to_owned();
        let text = bench.fields.entry(field.clone()).or_default();
        one_line(ui, "What was tried", text, look.scaled(260.0));
        let ready = !text.trim().is_empty();
        let test = text.clone();
        for (outcome, label) in [
            (Outcome::Passed, "it works"),
            (Outcome::Failed, "it does not"),
        ] {
            if ui
                .add_enabled(ready, eframe::egui::Button::new(label))
                .clicked()
            {
                let action = Action::Check {
                    check: CheckKind::Function { test: test.clone() },
                    outcome,
                    volts: None,
                    note: String::new(),
                };
                asks.push(Ask::RecordTyped(Box::new(action), vec![field.clone()]));
            }
        }
    });
}
