//! What the tests of the window do with it.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use benchglass::board::Side;
use benchglass::desk::Desk;
use benchglass::desk::theme::Look;
use benchglass::geometry::PhotoPoint;
use benchglass::record::JointKey;
use eframe::egui::accesskit::Role;
use eframe::egui::{self, Event, Key, Modifiers, PointerButton};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;

pub(crate) use super::drawn::*;

/// Runs a test in a process of its own, whose user data lie in a folder of its own: no test
/// touches those of the person who runs it.
pub(crate) fn at_home(name: &str, test: impl FnOnce(&Path)) {
    const HOME: &str = "BENCHGLASS_HOME";
    const INSIDE: &str = "BENCHGLASS_TEST_FOLDER";
    if let Some(folder) = std::env::var_os(INSIDE) {
        test(Path::new(&folder));
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(std::env::current_exe().unwrap())
        .args([name, "--exact", "--nocapture", "--test-threads=1"])
        .env(HOME, folder.path().join("home"))
        .env(INSIDE, folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    assert!(
        said.contains("1 passed"),
        "no test is called {name}: {said}"
    );
}

/// The window's insides in a window that is not there.
pub(crate) fn window(size: [f32; 2]) -> Harness<'static, Desk> {
    let desk = Desk::new(&egui::Context::default(), "tester");
    Harness::builder()
        .with_size(egui::vec2(size[0], size[1]))
        .with_context_setup(|ctx| Look::default().apply(ctx))
        .build_ui_state(
            |ui, desk: &mut Desk| {
                let ctx = ui.ctx().clone();
                desk.step(&ctx);
                desk.draw(ui);
            },
            desk,
        )
}

/// A few frames, and on until nothing is under way any more.
pub(crate) fn settle(window: &mut Harness<'static, Desk>) {
    let end = Instant::now() + Duration::from_secs(120);
    window.run_steps(4);
    while window.state().is_busy() {
        assert!(Instant::now() < end, "the window never came to rest");
        std::thread::sleep(Duration::from_millis(5));
        window.step();
    }
    window.run_steps(3);
}

/// Nobody touches the window until it has looked at the job's folder again.
pub(crate) fn left_alone(window: &mut Harness<'static, Desk>) {
    std::thread::sleep(Duration::from_millis(1100));
    window.run_steps(3);
}

/// A joint of the invented board.
pub(crate) fn joint(pin: usize) -> JointKey {
    JointKey {
        board: "main".to_owned(),
        pin: format!("j1-{pin}"),
        side: Side::Solder,
    }
}

/// Writes into the text field of this name, in place of what stands there.
pub(crate) fn fill(window: &mut Harness<'static, Desk>, field: &str, text: &str) {
    window.get_by_role_and_label(Role::TextInput, field).focus();
    window.run_steps(2);
    press_with(window, Modifiers::COMMAND, Key::A);
    write(window, text);
}

/// Presses a key as a keyboard does.
pub(crate) fn press(window: &mut Harness<'static, Desk>, key: Key) {
    window.key_press(key);
    settle(window);
}

/// Presses a key with others held.
pub(crate) fn press_with(window: &mut Harness<'static, Desk>, modifiers: Modifiers, key: Key) {
    window.key_press_modifiers(modifiers, key);
    settle(window);
}

/// Types into the field that has the focus.
pub(crate) fn write(window: &mut Harness<'static, Desk>, text: &str) {
    window.event(Event::Text(text.to_owned()));
    window.run_steps(2);
}

/// Drags from one place of the photo to another with Shift held.
pub(crate) fn draw(window: &mut Harness<'static, Desk>, from: PhotoPoint, to: PhotoPoint) {
    let view = window
        .state()
        .photo_view()
        .expect("a photo is on the table");
    let (from, to) = (view.point(from), view.point(to));
    let button = |pos, pressed| Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::SHIFT,
    };
    window.event(Event::ModifiersChanged(Modifiers::SHIFT));
    window.event(Event::PointerMoved(from));
    window.step();
    window.event(button(from, true));
    window.step();
    for share in [0.5, 1.0] {
        window.event(Event::PointerMoved(from + (to - from) * share));
        window.step();
    }
    window.event(button(to, false));
    window.step();
    window.event(Event::ModifiersChanged(Modifiers::NONE));
    settle(window);
}

/// Clicks a place of the photo on the table.
pub(crate) fn click_photo(window: &mut Harness<'static, Desk>, at: PhotoPoint) {
    let at = window
        .state()
        .photo_view()
        .expect("a photo is on the table")
        .point(at);
    window.hover_at(at);
    window.run_steps(2);
    for pressed in [true, false] {
        window.event(Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
        window.step();
    }
    settle(window);
}
