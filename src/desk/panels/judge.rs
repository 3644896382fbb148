//! What to press: the keys, or what is being typed after one.

use std::borrow::Cow;

use eframe::egui::{self, Key, RichText, TextEdit, Ui};

use crate::desk::ask::Ask;
use crate::desk::faults;
use crate::desk::keys::{Command, Now, entry_of};
use crate::desk::model::{Bench, FaultOn, Pending};
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::record::{Severity, Verdict};

/// Why there is nothing to take back.
const NOTHING_HERE: &str = "Nothing was written down in this window since it opened the job. What stands from before, or from somebody else, is changed by saying it anew.";

/// Keys shown under the joint; all others are on the page of keys.
const SHOWN: [Command; 16] = [
    Command::Previous,
    Command::Next,
    Command::NoFaultSeen,
    Command::Suspect,
    Command::Fault,
    Command::CannotBeJudged,
    Command::WholeRow,
    Command::NextUnseen,
    Command::Twin,
    Command::GoTo,
    Command::Note,
    Command::MarkPart,
    Command::Reworked,
    Command::Accept,
    Command::Undo,
    Command::Redo,
];

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    bench: &Bench,
    pending: &mut Pending,
    now: &Now,
    asks: &mut Vec<Ask>,
) {
    match pending {
        Pending::Nothing => keys(ui, look, bench, now, asks),
        Pending::Fault {
            filter,
            severity,
            on,
        } => fault(ui, look, bench, (filter, *severity, on), asks),
        Pending::Obstacle(text) => words(
            ui,
            look,
            text,
            "What is in the way?",
            "under K3, photo too soft, flux over it…",
            "Cannot be judged",
            asks,
        ),
        Pending::Note(text, None) => words(
            ui,
            look,
            text,
            "Note on this joint",
            "",
            "Write it down",
            asks,
        ),
        Pending::Note(text, Some(verdict)) => {
            let question = match verdict {
                Verdict::NoFaultSeen => "It is on the slip. Why is no fault seen any more?",
                _ => "Why?",
            };
            words(ui, look, text, question, "", "Write it down", asks);
        }
        Pending::GoTo(text) => words(ui, look, text, "Go to", "J4.3, U7, …", "Go there", asks),
    }
}

fn keys(ui: &mut Ui, look: &Look, bench: &Bench, now: &Now, asks: &mut Vec<Ask>) {
    if bench.whole_row {
        let n = bench.chosen().len();
        let part = bench
            .stop()
            .map(|stop| stop.part.clone())
            .unwrap_or_default();
        ui.label(
            RichText::new(format!(
                "The next word is for the whole row: {n} joints of {part}."
            ))
            .font(look.strong()),
        );
    }
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = egui::vec2(12.0, 6.0);
        for command in SHOWN {
            let entry = entry_of(command);
            let allowed =
                now.allows(entry) && (command != Command::Twin || !bench.twins.shown.is_empty());
            let quiet = matches!(command, Command::Redo | Command::Twin);
            if !allowed && quiet {
                continue;
            }
            let tooltip = tooltip(bench, command);
            if parts::key_hint_with(ui, look, entry, allowed, &tooltip) {
                asks.push(Ask::Command(command));
            }
        }
    });
}

/// What a key would do just now: undo and redo say of what.
fn tooltip(bench: &Bench, command: Command) -> Cow<'static, str> {
    let seen = &bench.seen;
    match (command, &seen.would_undo, &seen.would_redo) {
        (Command::Undo, Some(words), _) => format!("Takes back: {words}.").into(),
        (Command::Undo, None, _) => NOTHING_HERE.into(),
        (Command::Redo, _, Some(words)) => format!("Puts back: {words}.").into(),
        _ => entry_of(command).tooltip.into(),
    }
}

/// One line of text that ends with Enter.
fn words(
    ui: &mut Ui,
    look: &Look,
    text: &mut String,
    question: &str,
    example: &str,
    done: &str,
    asks: &mut Vec<Ask>,
) {
    let name = ui.label(RichText::new(question).font(look.strong()));
    let field = ui
        .add(
            TextEdit::singleline(text)
                .hint_text(example)
                .desired_width(ui.available_width() - 8.0),
        )
        .labelled_by(name.id);
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    if !field.has_focus() && !entered {
        field.request_focus();
    }
    ui.horizontal_wrapped(|ui| {
        let ready = !text.trim().is_empty();
        let pressed = ui
            .add_enabled_ui(ready, |ui| parts::button(ui, look, done, true))
            .inner
            .clicked();
        if ready && (pressed || entered) {
            asks.push(Ask::Entered);
        }
        if parts::button(ui, look, "Put away", false).clicked() {
            asks.push(Ask::PutAway);
        }
    });
}

type Naming<'a> = (&'a mut String, Option<Severity>, &'a mut FaultOn);

fn fault(
    ui: &mut Ui,
    look: &Look,
    bench: &Bench,
    (filter, severity, on): Naming<'_>,
    asks: &mut Vec<Ask>,
) {
    let place = match on {
        FaultOn::Stop => bench
            .stop()
            .map(|stop| stop.name.clone())
            .unwrap_or_default(),
        FaultOn::Part => bench
            .stop()
            .map(|stop| format!("the whole of {}", stop.part))
            .unwrap_or_default(),
        FaultOn::Area(_) => "the area that you drew".to_owned(),
        FaultOn::Unit(_) => "the unit".to_owned(),
    };
    ui.label(RichText::new(format!("Which fault of {place}?")).font(look.strong()));
    let mut typing = false;
    if let FaultOn::Unit(what) = on {
        let name = ui.label("On what? (mains cord, plug, case…)");
        let field = ui
            .add(TextEdit::singleline(what).desired_width(ui.available_width() - 8.0))
            .labelled_by(name.id);
        typing |= field.has_focus();
        // What it is on comes first: its letters name no fault.
        if what.is_empty() && ui.memory(|memory| memory.focused().is_none()) {
            field.request_focus();
            typing = true;
        }
    }
    severities(ui, look, severity, asks);
    ui.horizontal_wrapped(|ui| {
        let name = ui.label("Press its letter, or find it:");
        let field = ui
            .add(TextEdit::singleline(filter).desired_width(look.scaled(130.0)))
            .labelled_by(name.id);
        typing |= field.has_focus();
        let found = faults::found(filter);
        if field.lost_focus()
            && ui.input(|input| input.key_pressed(Key::Enter))
            && !filter.trim().is_empty()
        {
            asks.extend(found.first().map(|kind| Ask::Fault(*kind)));
        }
        if ui.button("Put away").clicked() {
            asks.push(Ask::PutAway);
        }
        if !typing && ui.input(|input| input.key_pressed(Key::Slash)) {
            field.request_focus();
        }
    });
    list(ui, look, filter, asks);
    if !typing {
        letters(ui, asks);
    }
}

fn severities(ui: &mut Ui, look: &Look, chosen: Option<Severity>, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        let small = |text: &str| RichText::new(text).font(look.small());
        ui.label(small("How bad:"));
        let all = [
            Severity::BlocksPower,
            Severity::FixNow,
            Severity::Watch,
            Severity::Cosmetic,
        ];
        if ui
            .selectable_label(chosen.is_none(), small("as usual"))
            .clicked()
        {
            asks.push(Ask::Severity(None));
        }
        for (number, severity) in all.into_iter().enumerate() {
            let label = format!("{} {}", number + 1, severity.words());
            if ui
                .selectable_label(chosen == Some(severity), small(&label))
                .clicked()
            {
                asks.push(Ask::Severity(Some(severity)));
            }
        }
    });
}

fn list(ui: &mut Ui, look: &Look, filter: &str, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = egui::vec2(5.0, 4.0);
        for kind in faults::found(filter) {
            let label = match faults::letter_of(kind) {
                Some(key) => format!("{}  {}", key.name(), kind.words()),
                None => kind.words().to_owned(),
            };
            let button = ui.add(egui::Button::new(RichText::new(label).font(look.small())));
            button
                .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, kind.words()));
            if button.clicked() {
                asks.push(Ask::Fault(kind));
            }
        }
    });
}

/// A letter names the fault at once, a digit says how bad it is.
fn letters(ui: &Ui, asks: &mut Vec<Ask>) {
    let digits = [
        (Key::Num1, Severity::BlocksPower),
        (Key::Num2, Severity::FixNow),
        (Key::Num3, Severity::Watch),
        (Key::Num4, Severity::Cosmetic),
    ];
    ui.input(|input| {
        if input.modifiers.any() {
            return;
        }
        // A key that is held down names one fault, and not of the next joint too.
        let pressed = |wanted: Key| {
            input.events.iter().any(|event| {
                matches!(event, egui::Event::Key { key, pressed: true, repeat: false, .. } if *key == wanted)
            })
        };
        asks.extend(
            (digits.iter().filter(|(key, _)| pressed(*key)))
                .map(|(_, s)| Ask::Severity(Some(*s))),
        );
        asks.extend(
            (faults::LETTERS.iter().filter(|(_, key)| pressed(*key)))
                .map(|(kind, _)| Ask::Fault(*kind)),
        );
    });
}
