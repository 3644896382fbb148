use benchglass::desk::model::Page;
use std::path::Path;

use benchglass::progress::Progress;
use benchglass::record::{PlaceKey, Target, Unit, Verdict};
use benchglass::render::UnitTruth;
use benchglass::work::{Session, add_photos, find_loose};
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

/// A part of a rendered sample: left, top, width, height.
const PART: [u32; 4] = [900, 1350, 760, 760];

/// That part as a photo, with the middle and radius of each joint in it, px.
fn part_of_a_sample(path: &Path) -> Vec<[f64; 3]> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-boards");
    let file = "photos/FH12-0242/main-solder-overview.jpg";
    let photo = benchglass::photo::open(&root.join(file)).unwrap();
    let [left, top, width, height] = PART;
    let part = image::imageops::crop_imm(&photo.image, left, top, width, height).to_image();
    part.save(path).unwrap();
    let truth = std::fs::read(root.join("truth/FH12-0242.json")).unwrap();
    let truth: UnitTruth = serde_json::from_slice(&truth).unwrap();
    let shot = truth.photos.iter().find(|shot| shot.file == file).unwrap();
    (shot.joints.iter())
        .map(|joint| {
            let [x, y] = joint.at_px;
            [
                x - f64::from(left),
                y - f64::from(top),
                joint.land_radius_px,
            ]
        })
        .collect()
}

#[test]
fn the_joints_of_a_photo_without_a_map_are_found_and_walked() {
    at_home(
        "first_start::the_joints_of_a_photo_without_a_map_are_found_and_walked",
        |folder| {
            let shot = folder.join("part.png");
            let truth = part_of_a_sample(&shot);
            let found = find_loose(&shot, &Progress::new()).unwrap();
            let dir = folder.join("FH12-0902");
            let unit: Unit = serde_json::from_value(serde_json::json!({
                "code": "FH12-0902", "model": "Fernhollow FH-12", "complaint": "",
            }))
            .unwrap();
            let mut session = Session::begin(&dir, unit, &[], "tester").unwrap();
            add_photos(&mut session, &[shot], None, &Progress::new()).unwrap();
            drop(session);
            let mut window = window([1280.0, 800.0]);
            let ctx = window.ctx.clone();
            window.state_mut().open_job(&ctx, &dir);
            settle(&mut window);
            window.get_by_label_contains("or let them be found");
            press(&mut window, Key::J);
            settle(&mut window);
            window.get_by_label_contains("joints found, the most suspect first");

            let stops = window.state().model.bench.as_ref().unwrap().stops.clone();
            let on_a_joint = |at: [f64; 2]| {
                (truth.iter()).any(|[x, y, r]| (at[0] - x).hypot(at[1] - y) < 0.5 * r)
            };
            let places = stops.iter().map(|stop| match &stop.target {
                Target::Photo(spot) => spot.at_px,
                other => panic!("{other:?}"),
            });
            let joints = places.filter(|at| on_a_joint(*at)).count();
            // Vias filled with solder are found too: they look like small joints.
            assert!(
                joints >= 40 && joints * 10 >= stops.len() * 7,
                "{joints} of {}",
                stops.len()
            );

            window.get_by_label_contains("spot 1 on the glass");
            // Showing a place changes nothing of it.
            let shown = window.state().model.bench.as_ref().unwrap().stops[0].clone();
            let Target::Photo(spot) = &shown.target else {
                panic!("{shown:?}")
            };
            assert!(
                (found.joints.iter()).any(|joint| {
                    [joint.x_px, joint.y_px] == spot.at_px && joint.land_radius_px == spot.radius_px
                }),
                "{spot:?}"
            );
            press(&mut window, Key::S);
            window.get_by_label_contains("spot 2 on the glass");
            press(&mut window, Key::J);
            settle(&mut window);
            window.get_by_label_contains("all of them are in the round already");
            let session = Session::read(&dir).unwrap();
            let judged: Vec<_> = session.state().places.values().collect();
            let [first] = judged.as_slice() else {
                panic!("{judged:?}")
            };
            assert_eq!(first.verdict, Verdict::Suspect);
            assert_eq!(first.evidence.as_ref().and_then(|seen| seen.rank), Some(1));
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
