//! The hint against known truth, on drawn photos.

use crate::bench::{Bench, photo_px};

/// Joints of the drawn board; the second has a ring.
fn lists(bench: &Bench, joints: &str, truth: &str) {
    let mut places = String::from("id,x_px,y_px,land_radius_px\n");
    let mut known = String::from("id,cracked,arc_deg\n");
    for i in 1..=8 {
        let [x, y] = photo_px(10.0 + 3.81 * f64::from(i - 1), 10.0);
        places.push_str(&format!("p{i},{x},{y},28.8\n"));
        known.push_str(&format!("p{i},{},0\n", u8::from(i == 2)));
    }
    std::fs::write(bench.path(joints), places).expect("writable");
    std::fs::write(bench.path(truth), known).expect("writable");
}

#[test]
fn both_layouts_are_found_and_the_figures_are_right() {
    let bench = Bench::new();
    std::fs::create_dir_all(bench.path("sets/inner")).expect("writable");
    bench.draw_photo("sets/one.png");
    lists(&bench, "sets/one_joints.csv", "sets/one_truth.csv");
    bench.draw_photo("sets/inner/photo.png");
    lists(&bench, "sets/inner/joints.csv", "sets/inner/truth.csv");
    let figures = bench
        .done(&["evaluate", "sets", "--json", "--plot", "plot.svg"])
        .json();
    assert_eq!(figures["schema"], 1);
    assert_eq!(figures["all"]["joints"], 16);
    assert_eq!(figures["all"]["cracked"], 2);
    assert_eq!(figures["all"]["groups"], 2);
    assert_eq!(figures["all"]["roc_auc"]["value"], 1.0, "{figures}");
    assert_eq!(figures["all"]["false_alarms_per_100"]["value"], 0.0);
    assert_eq!(figures["by_px"][0]["from_px"], 48.0);
    let plot = std::fs::read_to_string(bench.path("plot.svg")).expect("written");
    assert!(plot.starts_with("<svg") && plot.trim_end().ends_with("</svg>"));
    let text = bench.done(&["evaluate", "sets", "--by-folder"]);
    assert!(text.out().contains("false alarms/100") && text.out().contains("real cracks"));
}

#[test]
fn a_truth_list_without_its_photo_is_named() {
    let bench = Bench::new();
    std::fs::create_dir_all(bench.path("sets")).expect("writable");
    lists(&bench, "sets/a_joints.csv", "sets/a_truth.csv");
    let ran = bench.run(&["evaluate", "sets"]);
    assert_eq!(ran.code(), 2);
    let said = format!("{ran:?}");
    assert!(
        said.contains("a_truth.csv") && said.contains("into one folder"),
        "{said}"
    );
    std::fs::create_dir_all(bench.path("none")).expect("writable");
    assert_eq!(bench.run(&["evaluate", "none"]).code(), 2);
}
