//! Tests of the papers as a whole.

use super::testing::*;
use super::*;

/// Writes goldens anew where this is set to 1.
const REGENERATE: &str = "BENCHGLASS_REGENERATE";

fn golden(name: &str, text: &str) {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fixtures/paper")
        .join(name);
    if std::env::var(REGENERATE).is_ok_and(|value| value == "1") {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
    }
    let known = std::fs::read_to_string(&path)
        .unwrap_or_else(|_| panic!("no golden {name}: set {REGENERATE}=1 to write it"));
    assert!(
        known == text,
        "{name} differs: look at it, then set {REGENERATE}=1"
    );
}

/// Pictures are judged by eye and by the tests of `picture`; a golden keeps their place only.
fn without_pictures(html: &str) -> String {
    let mut out = String::new();
    let mut rest = html;
    while let Some(start) = rest.find("base64,") {
        let (head, tail) = rest.split_at(start + "base64,".len());
        out.push_str(head);
        out.push_str("(picture)");
        rest = tail.find('"').map_or("", |end| &tail[end..]);
    }
    out.push_str(rest);
    out.replace("><", ">\n<")
}

#[test]
fn the_slip_is_as_it_was() {
    let view = slip_of(&full_journal());
    let html = slip_html(&view);
    let state = full_journal().state();
    let gate = gate_page(&gate_view(&state, &[main_board()], Some("Invented sample")));
    if std::env::var(REGENERATE).is_ok_and(|value| value == "1") {
        let whole = std::env::temp_dir();
        std::fs::write(whole.join("benchglass-slip.html"), &html).unwrap();
        std::fs::write(whole.join("benchglass-gate.html"), &gate).unwrap();
    }
    golden("slip.html.txt", &without_pictures(&html));
    golden("gate.html.txt", &without_pictures(&gate));
    golden(
        "slip.csv",
        &slip_csv(&view, CsvFlavour::Spreadsheet).unwrap(),
    );
    golden("slip.json", &slip_json(&view).unwrap());
}
