//! Hint on photographs that belong to no job.

use crate::bench::{Bench, photo_px};

fn joints_csv() -> String {
    let mut text = String::from("id,x_px,y_px,land_radius_px\n");
    for i in 0..8 {
        let [x, y] = photo_px(10.0 + 3.81 * f64::from(i), 10.0);
        text.push_str(&format!("p{},{x},{y},28.8\n", i + 1));
    }
    text
}

#[test]
fn the_hint_keeps_its_contract() {
    let bench = Bench::new();
    bench.draw_photo("board.png");
    std::fs::write(bench.path("joints.csv"), joints_csv()).expect("writable");
    let hint = bench
        .done(&[
            "hint",
            "--photo",
            "board.png",
            "--joints",
            "joints.csv",
            "--json",
        ])
        .json();
    assert_eq!(hint["schema"], 1);
    assert!(hint["calibration"].as_str().is_some_and(|c| !c.is_empty()));
    let joints = hint["joints"].as_array().expect("a list");
    assert_eq!(joints.len(), 8);
    for joint in joints {
        for key in [
            "id",
            "likelihood",
            "band",
            "rank",
            "reason",
            "arc_deg",
            "depth_sigma",
            "arc",
            "px_across",
        ] {
            assert!(joint.get(key).is_some(), "{key} is missing: {joint}");
        }
        let reason = joint["reason"].as_str().unwrap_or("").to_lowercase();
        for word in ["sound", "good", "safe", " ok", "passes"] {
            assert!(!reason.contains(word), "a hint clears nothing: {reason}");
        }
    }
    let ringed = joints.iter().find(|j| j["id"] == "p2").expect("listed");
    assert_eq!(ringed["rank"], 1, "{hint}");
    assert!(
        ringed["arc_deg"].as_f64().is_some_and(|arc| arc > 200.0),
        "{ringed}"
    );
    // The drawn ring has a radius of 0.62 mm; the arc lies on it.
    let [cx, cy] = photo_px(10.0 + 3.81, 10.0);
    for point in ringed["arc"].as_array().expect("a list") {
        let at = |i: usize| point[i].as_f64().expect("a number");
        let radius = (at(0) - cx).hypot(at(1) - cy) / 24.0;
        assert!((radius - 0.62).abs() < 0.12, "{radius} mm");
    }
}

#[test]
fn text_output_names_the_first_suspect() {
    let bench = Bench::new();
    bench.draw_photo("board.png");
    std::fs::write(bench.path("joints.csv"), joints_csv()).expect("writable");
    let ran = bench.done(&["hint", "--photo", "board.png", "--joints", "joints.csv"]);
    assert!(ran.out().contains("p2"), "{ran:?}");
}
