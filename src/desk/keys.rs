//! Commands as data: one table feeds the keyboard, the key hints, the menus and the help page.

use eframe::egui::{Key, KeyboardShortcut, Modifiers, Ui};

/// Everything that can be asked for with a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Command {
    /// Next joint of the round.
    Next,
    /// Previous joint of the round.
    Previous,
    /// Next joint that nobody has judged closely enough.
    NextUnseen,
    /// The unseen joint that the hint would look at first.
    NextByHint,
    /// Walk through unseen joints only, or through all.
    OnlyUnseen,
    /// Type a reference and go there.
    GoTo,
    /// Judge: no fault seen.
    NoFaultSeen,
    /// Judge: suspect.
    Suspect,
    /// Judge: a fault, named by letter.
    Fault,
    /// Judge: cannot be judged.
    CannotBeJudged,
    /// Judge: rework done, awaits its recheck.
    Reworked,
    /// Judge: rework rechecked and accepted.
    Accept,
    /// The next judgement is for the whole row.
    WholeRow,
    /// A note on this joint.
    Note,
    /// Mark the whole part.
    MarkPart,
    /// Mark something that is on no photo.
    MarkUnit,
    /// Take back what was last written down in this window.
    Undo,
    /// Do it again.
    Redo,
    /// Larger.
    ZoomIn,
    /// Smaller.
    ZoomOut,
    /// The whole photo.
    Fit,
    /// Quarter turn.
    TurnLeft,
    /// Quarter turn.
    TurnRight,
    /// Viewing aid.
    Brighter,
    /// Viewing aid.
    Darker,
    /// Viewing aid.
    LocalContrast,
    /// Dark lines over the photo, shown or put away.
    DarkLines,
    /// Next photo of this side.
    NextPhoto,
    /// Previous photo of this side.
    PreviousPhoto,
    /// The arc of the hint, shown or put away.
    Arc,
    /// The next twin to the glass.
    Twin,
    /// Bring photos in.
    AddPhotos,
    /// Landmarks of this photo.
    Landmarks,
    /// The photo finds its place on the map by itself.
    FindPlace,
    /// The joints of a photo without a map are looked for.
    FindJoints,
    /// Make a board map from the photo on the table.
    MakeMap,
    /// Rails and test points.
    Measure,
    /// The gate as a page.
    Gate,
    /// The slip as a page.
    Slip,
    /// Back to the table.
    Back,
    /// This table as a page.
    Help,
    /// Larger text.
    LargerText,
    /// Smaller text.
    SmallerText,
    /// Light or dark.
    LightOrDark,
}

/// Where a command stands on the help page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Moving along the round.
    Walk,
    /// Saying what was seen.
    Judge,
    /// Looking closer.
    Look,
    /// Pages and papers.
    Job,
    /// The window itself.
    Window,
}

impl Group {
    /// In the order of the help page.
    pub const ALL: [Self; 5] = [Self::Walk, Self::Judge, Self::Look, Self::Job, Self::Window];

    /// Heading.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Walk => "Walk",
            Self::Judge => "Say what you see",
            Self::Look => "Look closer",
            Self::Job => "The job",
            Self::Window => "The window",
        }
    }
}

/// What a command needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Needs {
    /// Nothing.
    Nothing,
    /// An open job.
    Job,
    /// A photo on the table.
    Photo,
    /// A current joint.
    Joint,
    /// Something to take back.
    SomethingDone,
    /// Something taken back.
    SomethingUndone,
}

/// What there is just now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Now {
    /// A job is open.
    pub job: bool,
    /// A photo is on the table.
    pub photo: bool,
    /// The table is what fills the window.
    pub table: bool,
    /// A page with the photo fills the window.
    pub on_photo: bool,
    /// A joint is current.
    pub joint: bool,
    /// Something can be taken back.
    pub can_undo: bool,
    /// Something was taken back.
    pub can_redo: bool,
}

impl Now {
    /// Whether a command can be carried out.
    #[must_use]
    pub fn allows(&self, entry: &Entry) -> bool {
        // A command whose doing the page does not show is none there.
        let shown = match entry.group {
            Group::Walk => self.table,
            Group::Judge => self.table || matches!(entry.command, Command::Undo | Command::Redo),
            Group::Look => self.on_photo,
            Group::Job | Group::Window => true,
        };
        shown
            && match entry.needs {
                Needs::Nothing => true,
                Needs::Job => self.job,
                Needs::Photo => self.photo,
                Needs::Joint => self.joint,
                Needs::SomethingDone => self.can_undo,
                Needs::SomethingUndone => self.can_redo,
            }
    }
}

/// One line of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// What.
    pub command: Command,
    /// Two or three words, for hints and menus.
    pub label: &'static str,
    /// One sentence, for tooltips and the help page.
    pub tooltip: &'static str,
    /// Its key.
    pub key: KeyboardShortcut,
    /// When it can be carried out.
    pub needs: Needs,
    /// Where it stands.
    pub group: Group,
}

const fn plain(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

const fn shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::SHIFT, key)
}

const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

const fn ctrl_shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), key)
}

const fn entry(
    command: Command,
    group: Group,
    needs: Needs,
    key: KeyboardShortcut,
    label: &'static str,
    tooltip: &'static str,
) -> Entry {
    Entry {
        command,
        label,
        tooltip,
        key,
        needs,
        group,
    }
}

/// Every command, in the order of the help page.
#[rustfmt::skip]
pub const TABLE: &[Entry] = {
    use Command as C;
    use Group as G;
    use Needs as N;
    &[
        entry(C::Next, G::Walk, N::Joint, plain(Key::ArrowRight), "next", "Go to the next joint of the round."),
        entry(C::Previous, G::Walk, N::Joint, plain(Key::ArrowLeft), "previous", "Go back one joint."),
        entry(C::NextUnseen, G::Walk, N::Job, plain(Key::U), "next unseen", "Go to the next joint that nobody has judged, or that was looked at from too far away."),
        entry(C::NextByHint, G::Walk, N::Photo, shift(Key::H), "next by hint", "Go to the unseen joint of this photo that the hint would look at first. Joints whose hint stays hidden wait for the round."),
        entry(C::OnlyUnseen, G::Walk, N::Job, shift(Key::U), "only unseen", "Walk through unseen joints only, or through all of them again."),
        entry(C::GoTo, G::Walk, N::Job, plain(Key::Slash), "go to", "Type a reference, such as J4.3, and go there."),
        entry(C::NoFaultSeen, G::Judge, N::Joint, plain(Key::N), "no fault seen", "You looked at this joint and saw no fault. Goes on to the next."),
        entry(C::Suspect, G::Judge, N::Joint, plain(Key::S), "suspect", "Worth a second look. Goes on to the next."),
        entry(C::Fault, G::Judge, N::Joint, plain(Key::F), "fault…", "Name the fault by its letter."),
        entry(C::CannotBeJudged, G::Judge, N::Joint, plain(Key::C), "cannot be judged", "Something is in the way: say what, so that it can be moved."),
        entry(C::Reworked, G::Judge, N::Joint, plain(Key::W), "reworked", "The rework is done and awaits its recheck."),
        entry(C::Accept, G::Judge, N::Joint, plain(Key::A), "accept rework", "You rechecked the rework and accept it."),
        entry(C::WholeRow, G::Judge, N::Joint, plain(Key::R), "whole row", "The next judgement is for the whole row of this joint."),
        entry(C::Note, G::Judge, N::Joint, plain(Key::O), "note…", "Write a note on this joint."),
        entry(C::MarkPart, G::Judge, N::Joint, plain(Key::M), "mark part…", "Name a fault of the whole part. With Shift held, draw an area or a place on the photo instead."),
        entry(C::MarkUnit, G::Judge, N::Job, shift(Key::M), "mark unit…", "Name a fault of something that is on no photo: the cord, the plug, the case."),
        entry(C::Undo, G::Judge, N::SomethingDone, ctrl(Key::Z), "undo", "Take back what was last written down in this window since it opened the job. Anything else is changed by saying it anew."),
        entry(C::Redo, G::Judge, N::SomethingUndone, ctrl_shift(Key::Z), "redo", "Put back what was last taken back in this window."),
        entry(C::ZoomIn, G::Look, N::Photo, plain(Key::Plus), "closer", "Look closer at the middle of the table."),
        entry(C::ZoomOut, G::Look, N::Photo, plain(Key::Minus), "further", "Look from further away."),
        entry(C::Fit, G::Look, N::Photo, plain(Key::Num0), "whole photo", "Show the whole photo."),
        entry(C::TurnLeft, G::Look, N::Photo, plain(Key::Q), "turn left", "Turn the view a quarter to the left. The photo is not altered."),
        entry(C::TurnRight, G::Look, N::Photo, plain(Key::E), "turn right", "Turn the view a quarter to the right. The photo is not altered."),
        entry(C::Brighter, G::Look, N::Photo, plain(Key::Period), "brighter", "Show the photo brighter. The photo is not altered."),
        entry(C::Darker, G::Look, N::Photo, plain(Key::Comma), "darker", "Show the photo darker. The photo is not altered."),
        entry(C::LocalContrast, G::Look, N::Photo, plain(Key::L), "local contrast", "Bring out faint differences in dark and bright places. The photo is not altered."),
        entry(C::DarkLines, G::Look, N::Photo, plain(Key::D), "dark lines", "Show in blue where the photo looks like part of a dark line, or put that away. It decides nothing: scratches, edges and print show too."),
        entry(C::PreviousPhoto, G::Look, N::Photo, plain(Key::OpenBracket), "photo before", "Show the photo before; those that show this joint closest come first."),
        entry(C::NextPhoto, G::Look, N::Photo, plain(Key::CloseBracket), "next photo", "Show the next photo; those that show this joint closest come first."),
        entry(C::Arc, G::Look, N::Joint, plain(Key::H), "hide the arc", "Put the arc of the hint away to look beneath it, or show it again."),
        entry(C::Twin, G::Look, N::Joint, plain(Key::T), "twins", "Put the same joint of another photo on the glass, then the next, then this one again: what differs blinks."),
        entry(C::AddPhotos, G::Job, N::Nothing, ctrl(Key::O), "add photos…", "Bring photos in. Dropping them on the window does the same."),
        entry(C::Landmarks, G::Job, N::Photo, plain(Key::K), "landmarks", "Say where this photo lies on the board."),
        entry(C::FindPlace, G::Job, N::Photo, shift(Key::K), "find its place", "Let this photo find its place on the board by itself, against one that lies there already. Check what it proposes."),
        entry(C::FindJoints, G::Job, N::Photo, plain(Key::J), "find the joints", "Let the joints of a photo without a map be looked for, the most suspect first. Check that each is one. Where it finds little, click about eight joints first: it then looks for others like them."),
        entry(C::MakeMap, G::Job, N::Photo, ctrl(Key::M), "make a map", "Make a board map from the photo on the table: parts and pins, by clicks."),
        entry(C::Measure, G::Job, N::Job, plain(Key::V), "readings", "Write down readings of rails and test points."),
        entry(C::Gate, G::Job, N::Job, plain(Key::G), "gate", "What still forbids the next power stage, and why."),
        entry(C::Slip, G::Job, N::Job, plain(Key::I), "slip", "The rework list to hand over."),
        entry(C::Back, G::Window, N::Nothing, plain(Key::Escape), "back", "Back to the table."),
        entry(C::Help, G::Window, N::Nothing, plain(Key::F1), "all keys", "Every key on one page."),
        entry(C::LargerText, G::Window, N::Nothing, ctrl(Key::Plus), "larger text", "Make all text larger, up to twice the size."),
        entry(C::SmallerText, G::Window, N::Nothing, ctrl(Key::Minus), "smaller text", "Make all text smaller."),
        entry(C::LightOrDark, G::Window, N::Nothing, plain(Key::F2), "light or dark", "Change between the light and the dark look."),
    ]
};

/// The line of a command.
#[must_use]
pub fn entry_of(command: Command) -> &'static Entry {
    // The test below proves that every command is in the table.
    TABLE
        .iter()
        .find(|entry| entry.command == command)
        .unwrap_or(&TABLE[0])
}

/// What stands on the key, for hints: `N`, `Ctrl Z`, `→`.
#[must_use]
pub fn key_name(key: &KeyboardShortcut) -> String {
    let name = match key.logical_key {
        Key::ArrowRight => "→",
        Key::ArrowLeft => "←",
        Key::ArrowUp => "↑",
        Key::ArrowDown => "↓",
        Key::Slash => "/",
        Key::Plus => "+",
        Key::Minus => "−",
        Key::OpenBracket => "[",
        Key::CloseBracket => "]",
        Key::Period => ".",
        Key::Comma => ",",
        Key::Escape => "Esc",
        other => other.name(),
    };
    let mut words = Vec::new();
    if key.modifiers.command {
        words.push("Ctrl");
    }
    if key.modifiers.shift {
        words.push("Shift");
    }
    words.push(name);
    words.join(" ")
}

/// The commands whose keys were pressed in this frame and that can be carried out now; their key
/// events are consumed. While somebody is typing, or letters stand for something else, only keys
/// with Ctrl, F-keys and Esc count.
pub fn pressed(ui: &Ui, now: &Now, letters_taken: bool) -> Vec<Command> {
    let typing = letters_taken || ui.ctx().text_edit_focused();
    let mut found = Vec::new();
    ui.input_mut(|input| {
        for entry in TABLE {
            let speaks = entry.key.modifiers.command
                || matches!(entry.key.logical_key, Key::Escape | Key::F1 | Key::F2);
            // A field that is being typed in has an undo of its own.
            let own = matches!(entry.command, Command::Undo | Command::Redo);
            if (typing && (!speaks || own)) || !now.allows(entry) {
                continue;
            }
            let (pressed, again) = count(input, &entry.key);
            // A key that is held down walks and zooms on; it says nothing of one joint after another.
            let times = if matches!(entry.group, Group::Walk | Group::Look) {
                pressed + again
            } else {
                pressed
            };
            for _ in 0..times {
                found.push(entry.command);
            }
        }
    });
    found
}

/// Counts and removes the presses of exactly this key with exactly these modifiers, and those that
/// come of holding it down. A sign that needs Shift on this keyboard (such as `+`) counts with and
/// without it.
fn count(input: &mut eframe::egui::InputState, wanted: &KeyboardShortcut) -> (usize, usize) {
    let sign = matches!(wanted.logical_key, Key::Plus | Key::Slash | Key::Minus);
    let (mut presses, mut again) = (0, 0);
    input.events.retain(|event| {
        let eframe::egui::Event::Key {
            key,
            pressed: true,
            modifiers,
            repeat,
            ..
        } = event
        else {
            return true;
        };
        let same_key =
            *key == wanted.logical_key || (wanted.logical_key == Key::Plus && *key == Key::Equals);
        let ctrl = modifiers.command || modifiers.ctrl;
        let same = ctrl == wanted.modifiers.command
            && (sign || modifiers.shift == wanted.modifiers.shift)
            && !modifiers.alt;
        let counts = same_key && same;
        if counts && *repeat {
            again += 1;
        } else if counts {
            presses += 1;
        }
        !counts
    });
    (presses, again)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme;
    use egui_kittest::Harness;

    #[test]
    fn no_two_commands_share_a_key_and_none_lacks_words() {
        for (i, a) in TABLE.iter().enumerate() {
            assert!(!a.label.is_empty() && a.tooltip.ends_with('.'), "{a:?}");
            assert_eq!(entry_of(a.command), a, "listed twice: {:?}", a.command);
            for b in &TABLE[i + 1..] {
                assert_ne!(a.key, b.key, "{:?} and {:?}", a.command, b.command);
            }
        }
    }

    #[test]
    fn no_wording_promises_that_a_joint_is_fine() {
        for entry in TABLE {
            let text = format!("{} {}", entry.label, entry.tooltip).to_lowercase();
            for word in ["ok", "good", "sound", "safe", "pass", "passes"] {
                assert!(
                    !text.split(|c: char| !c.is_alphabetic()).any(|w| w == word),
                    "{text}"
                );
            }
        }
    }

    struct Seen {
        commands: Vec<Command>,
        now: Now,
        text: String,
    }

    fn harness(now: Now) -> Harness<'static, Seen> {
        let seen = Seen {
            commands: Vec::new(),
            now,
            text: String::new(),
        };
        theme::harness().build_ui_state(
            |ui, seen: &mut Seen| {
                let now = seen.now;
                seen.commands.extend(pressed(ui, &now, false));
                let name = ui.label("Note");
                ui.text_edit_singleline(&mut seen.text).labelled_by(name.id);
            },
            seen,
        )
    }

    #[test]
    fn keys_ask_only_for_what_can_be_done() {
        let mut none = harness(Now::default());
        none.key_press(Key::N);
        none.run_steps(2);
        assert_eq!(none.state().commands, []);

        let joint = Now {
            job: true,
            table: true,
            on_photo: true,
            photo: true,
            joint: true,
            ..Now::default()
        };
        let mut desk = harness(joint);
        desk.key_press(Key::N);
        desk.run_steps(2);
        desk.key_press(Key::ArrowRight);
        desk.run_steps(2);
        desk.key_press_modifiers(Modifiers::SHIFT, Key::U);
        desk.run_steps(2);
        desk.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        desk.run_steps(2);
        assert_eq!(
            desk.state().commands,
            [Command::NoFaultSeen, Command::Next, Command::OnlyUnseen]
        );
    }

    #[test]
    fn a_key_that_is_held_down_walks_on_and_judges_once() {
        let mut desk = harness(Now {
            job: true,
            table: true,
            joint: true,
            ..Now::default()
        });
        for key in [Key::N, Key::ArrowRight] {
            for _ in 0..3 {
                // Without a release between, the window sees it as held down.
                desk.event(eframe::egui::Event::Key {
                    key,
                    physical_key: None,
                    pressed: true,
                    repeat: false,
                    modifiers: Modifiers::NONE,
                });
                desk.run_steps(1);
            }
        }
        assert_eq!(
            desk.state().commands,
            [
                Command::NoFaultSeen,
                Command::Next,
                Command::Next,
                Command::Next
            ]
        );
    }

    #[test]
    fn a_page_that_does_not_show_the_table_takes_no_verdicts() {
        let mut desk = harness(Now {
            job: true,
            photo: true,
            ..Now::default()
        });
        desk.key_press_modifiers(Modifiers::SHIFT, Key::M);
        desk.key_press(Key::Slash);
        desk.key_press(Key::U);
        desk.key_press(Key::Period);
        desk.run_steps(4);
        assert_eq!(desk.state().commands, []);
    }

    #[test]
    fn letters_typed_into_a_field_are_no_commands() {
        use egui_kittest::kittest::Queryable as _;
        let mut desk = harness(Now {
            table: true,
            joint: true,
            ..Now::default()
        });
        desk.get_by_role(eframe::egui::accesskit::Role::TextInput)
            .focus();
        desk.run_steps(2);
        desk.key_press(Key::N);
        desk.run_steps(2);
        assert_eq!(desk.state().commands, []);
        desk.key_press(Key::F1);
        desk.run_steps(2);
        assert_eq!(desk.state().commands, [Command::Help]);
    }
}
