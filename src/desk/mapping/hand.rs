//! Keys while a map is made: one letter for each tool, Shift and a class letter for each kind.

use eframe::egui::{Event, Key, Modifiers, Ui};

use super::MapAsk;
use super::making::Making;
use super::tools::{KINDS, Tool};
use crate::desk::ask::Ask;
use crate::desk::keys::Command;

/// What the keys of this frame ask for; nothing while a field is typed in.
pub(in crate::desk) fn keys(ui: &Ui, making: &Making) -> Vec<Ask> {
    if ui.ctx().text_edit_focused() {
        return Vec::new();
    }
    let mut counted = !making.count.is_empty() || !making.lengths[0].is_empty();
    ui.input_mut(|input| {
        let mut asks = Vec::new();
        input.events.retain(|event| {
            let Event::Key {
                key,
                pressed: true,
                modifiers,
                ..
            } = event
            else {
                return true;
            };
            let ask = ask_of(*key, *modifiers, counted, making);
            if let Some(Ask::Map(MapAsk::Digit(_))) = &ask {
                counted = true;
            }
            let taken = ask.is_some();
            asks.extend(ask);
            !taken
        });
        asks
    })
}

fn ask_of(key: Key, modifiers: Modifiers, counted: bool, making: &Making) -> Option<Ask> {
    if modifiers.alt {
        return None;
    }
    if modifiers.command || modifiers.ctrl {
        return match (key, modifiers.shift) {
            (Key::Z, false) => Some(Ask::Map(MapAsk::Undo)),
            (Key::Z, true) => Some(Ask::Map(MapAsk::Redo)),
            _ => None,
        };
    }
    let look = match key {
        Key::Plus | Key::Equals => Some(Command::ZoomIn),
        Key::Minus => Some(Command::ZoomOut),
        Key::Num0 if !counted => Some(Command::Fit),
        Key::Q if !modifiers.shift => Some(Command::TurnLeft),
        Key::Period => Some(Command::Brighter),
        Key::Comma => Some(Command::Darker),
        _ => None,
    };
    if let Some(command) = look {
        return Some(Ask::Command(command));
    }
    if modifiers.shift {
        let (kind, _) = KINDS.iter().find(|(_, wanted)| *wanted == key)?;
        return Some(Ask::Map(MapAsk::Kind(*kind)));
    }
    if let Some(digit) = digit(key) {
        return Some(Ask::Map(MapAsk::Digit(digit)));
    }
    let ask = match key {
        Key::Enter => MapAsk::Enter,
        Key::Backspace if counted => MapAsk::Rub,
        Key::Backspace | Key::Delete => MapAsk::Delete,
        Key::F => MapAsk::Find,
        Key::U => MapAsk::Accept,
        Key::N => MapAsk::Renumber,
        Key::K => MapAsk::Grid(making.pitch_mm),
        letter => MapAsk::Tool(*Tool::ALL.iter().find(|tool| tool.key() == letter)?),
    };
    Some(Ask::Map(ask))
}

fn digit(key: Key) -> Option<u8> {
    const DIGITS: [Key; 10] = [
        Key::Num0,
        Key::Num1,
        Key::Num2,
        Key::Num3,
        Key::Num4,
        Key::Num5,
        Key::Num6,
        Key::Num7,
        Key::Num8,
        Key::Num9,
    ];
    DIGITS
        .iter()
        .position(|known| *known == key)
        .and_then(|digit| u8::try_from(digit).ok())
}
