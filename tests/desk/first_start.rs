use benchglass::desk::model::Page;
use benchglass::record::{PlaceKey, Verdict};
use benchglass::work::Session;
use eframe::egui::{Key, accesskit::Role};
use egui_kittest::kittest::Queryable as _;

use super::bench::{
    PINS, at_home, click_photo, job, on_photo, photo, press, settle, window, write,
};

#[test]
fn from_dropped_photos_to_a_judged_joint_without_a_map() {
    at_home(
        "first_start::from_dropped_photos_to_a_judged_joint_without_a_map",
        |folder| {
            let shot = photo(&folder.join("board.png"));
            let mut window = window([1280.0, 800.0]);
            settle(&mut window);
            for label in [
                "Drop or choose photos",
                "Open the tour",
                "Start a job",
                "Open a job",
            ] {
                window.get_by_label(label);
            }

            let ctx = window.ctx.clone();
            window.state_mut().photos_came(&ctx, vec![shot]);
            settle(&mut window);
            window.get_by_label("One photo or folder waits to be brought in.");
            window.state_mut().model.new_job.folder = folder.join("jobs").display().to_string();
            for (field, text) in [("Unit", "FH12-0901"), ("Model", "Fernhollow FH-12")] {
                window.get_by_role_and_label(Role::TextInput, field).focus();
                window.run_steps(2);
                write(&mut window, text);
            }
            window.get_by_label("Start this job").click();
            settle(&mut window);

            window.get_by_label_contains("Click a joint on the photo to begin");
            click_photo(&mut window, on_photo(PINS[1]));
            window.get_by_label_contains("spot 1 on the glass");
            press(&mut window, Key::N);

            let session = Session::read(&folder.join("jobs/FH12-0901")).unwrap();
            let places: Vec<_> = session.state().places.iter().collect();
            let [(PlaceKey::Photo(..), place)] = places.as_slice() else {
                panic!("{places:?}")
            };
            assert_eq!(place.verdict, Verdict::NoFaultSeen);
            let seen = place.seen_on.as_ref().unwrap();
            let wanted = on_photo(PINS[1]);
            assert!(
                (seen.at_px[0] - wanted.x).hypot(seen.at_px[1] - wanted.y) < 2.0,
                "{seen:?}"
            );
            assert!(place.evidence.is_some(), "the hint had spoken");
            // One click for the place, one key for the verdict.
            assert_eq!(session.state().log.len(), 3, "started, photo, judgement");
        },
    );
}

#[test]
fn a_job_that_another_window_records_in_opens_to_read_only() {
    at_home(
        "first_start::a_job_that_another_window_records_in_opens_to_read_only",
        |folder| {
            let dir = job(folder, true);
            let holder = Session::open(&dir, "other").unwrap();
            let mut window = window([1280.0, 800.0]);
            let ctx = window.ctx.clone();
            window.state_mut().open_job(&ctx, &dir);
            settle(&mut window);
            assert_eq!(window.state().model.page, Page::Table);
            window.get_by_label("read only");
            press(&mut window, Key::N);
            assert!(
                window
                    .state()
                    .model
                    .messages
                    .iter()
                    .any(|m| m.text.contains("read only"))
            );
            assert!(Session::read(&dir).unwrap().state().places.is_empty());
            drop(holder);
        },
    );
}
