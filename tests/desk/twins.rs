use benchglass::record::Verdict;
use benchglass::work::Session;
use eframe::egui::Key;
use egui_kittest::kittest::Queryable as _;

use super::bench::{at_home, job_of, press, settle, window};

/// Another unit of the model that was open before stands under the joint; `T` puts it on the
/// glass and takes it away; what is said meanwhile is said of the unit on the bench.
#[test]
fn a_joint_is_seen_beside_the_same_joint_of_another_unit() {
    at_home(
        "twins::a_joint_is_seen_beside_the_same_joint_of_another_unit",
        |folder| {
            let reference = job_of(&folder.join("shelf"), "FH12-0455", true);
            let dir = job_of(&folder.join("bench"), "FH12-0900", true);
            let mut window = window([1280.0, 800.0]);
            let ctx = window.ctx.clone();
            window.state_mut().open_job(&ctx, &reference);
            settle(&mut window);
            assert!(window.query_by_label_contains("Twin:").is_none());

            window.state_mut().open_job(&ctx, &dir);
            settle(&mut window);
            let row = "Twin: FH12-0455, no date, solder.png, 20 px/mm";
            window.get_by_label(row);
            press(&mut window, Key::T);
            window.get_by_label_contains("twin of J1.1, FH12-0455 on the glass");
            press(&mut window, Key::T);
            window.get_by_label_contains("J1.1 on the glass, photographed at 20");
            window.get_by_label(row).click();
            settle(&mut window);
            window.get_by_label_contains("twin of J1.1, FH12-0455 on the glass");
            press(&mut window, Key::N);
            // The next joint itself, with a twin of its own.
            window.get_by_label_contains("J1.2 on the glass, photographed at 20");
            window.get_by_label(row);

            let said = |dir| -> Vec<Verdict> {
                let session = Session::read(dir).unwrap();
                session.state().places.values().map(|p| p.verdict).collect()
            };
            assert_eq!(said(&dir), [Verdict::NoFaultSeen]);
            assert_eq!(said(&reference), []);
        },
    );
}
