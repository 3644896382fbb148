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

fn page_of(view: &SlipView) -> scraper::Html {
    scraper::Html::parse_document(&slip_html(view))
}

fn texts(page: &scraper::Html, selector: &str) -> Vec<String> {
    let selector = scraper::Selector::parse(selector).unwrap();
    page.select(&selector)
        .map(|element| element.text().collect::<String>())
        .collect()
}

#[test]
fn every_line_has_its_place_its_action_and_its_boxes() {
    let view = slip_of(&full_journal());
    let page = page_of(&view);
    assert!(view.line_count >= 12);
    assert_eq!(texts(&page, "li.line").len(), view.line_count);
    for line in view.lines() {
        let within = |rest: &str| format!("#line-{} {rest}", line.number);
        assert_eq!(
            texts(&page, &within("h3")),
            std::slice::from_ref(&line.place)
        );
        let actions = texts(&page, &within(".act span:last-child"));
        assert_eq!(actions, line.actions, "{}", line.place);
        assert!(!actions.is_empty(), "{} says nothing to do", line.place);
        assert_eq!(texts(&page, &within("input[type=checkbox]")).len(), 2);
        assert_eq!(texts(&page, &within("input[type=text]")).len(), 4);
    }
    assert_eq!(texts(&page, "img:not([alt])").len(), 0);
    assert_eq!(texts(&page, "html[lang]").len(), 1);
}

#[test]
fn lines_are_gathered_and_walked() {
    let view = slip_of(&full_journal());
    let places: Vec<&str> = view.lines().map(|line| line.place.as_str()).collect();
    for place in [
        "mains cord",
        "J4.3",
        "U3.4 to U3.5",
        "J4.9 to J4.12",
        "SW2",
        "C12",
    ] {
        assert!(places.contains(&place), "{place} is not in {places:?}");
    }
    assert!(!places.contains(&"C14.1"), "accepted work is no line");
    assert_eq!(view.turns, 1);
    assert_eq!(places[0], "mains cord");
    let sides: Vec<_> = view.sections.iter().map(|section| section.side).collect();
    let (solder, component) = (crate::board::Side::Solder, crate::board::Side::Component);
    assert_eq!(sides, [None, Some(solder), Some(component), None]);
}

#[test]
fn evidence_is_only_what_was_recorded() {
    let view = slip_of(&full_journal());
    let with_arc: Vec<&str> = view
        .lines()
        .filter(|line| line.evidence.iter().any(|text| text.contains("dark arc")))
        .map(|line| line.place.as_str())
        .collect();
    assert_eq!(with_arc, ["J4.3"]);
    let line = view.lines().find(|line| line.place == "J4.3").unwrap();
    assert_eq!(
        line.evidence[0],
        "A dark arc runs 253 degrees round the pin."
    );
    let disputed = view.lines().find(|line| line.place == "K2.1").unwrap();
    let said = disputed.disagreement.as_ref().unwrap();
    assert!(said.starts_with("Two people disagree: Ann"), "{said}");
    let reworked = view.lines().find(|line| line.place == "K3.2").unwrap();
    assert_eq!(reworked.done.as_ref().unwrap().by, "Ben");
    assert_eq!(reworked.rechecked, None);
}

/// The arc and the ring lie on the joint: the close-up is cut where the map says.
#[test]
fn the_close_up_shows_the_joint() {
    let view = slip_of(&full_journal());
    let line = view.lines().find(|line| line.place == "J4.3").unwrap();
    let picture = line.close_up.as_ref().unwrap();
    let pixels = image::load_from_memory(&picture.jpeg).unwrap().to_rgb8();
    assert_eq!([pixels.width(), pixels.height()], picture.size);
    let middle = pixels.get_pixel(picture.size[0] / 2, picture.size[1] / 2).0;
    assert!(
        middle.iter().all(|&value| value > 100),
        "no land in the middle: {middle:?}"
    );
    let PictureMark::Arc { points } = &picture.marks[0] else {
        panic!("no arc: {:?}", picture.marks)
    };
    // The line itself is dark just inside the drawn arc.
    let at = points[points.len() / 2];
    let centre = picture.size.map(|side| f64::from(side) / 2.0 - 0.5);
    let away = [at[0] - centre[0], at[1] - centre[1]];
    let inside = 1.0 - 16.0 / away[0].hypot(away[1]);
    let dark = [0, 1].map(|axis| (centre[axis] + away[axis] * inside).round() as u32);
    let value = pixels.get_pixel(dark[0], dark[1]).0;
    assert!(
        value.iter().all(|&value| value < 90),
        "no dark line at {dark:?}: {value:?}"
    );
}

#[test]
fn without_photos_the_map_is_drawn() {
    let state = full_journal().state();
    let view = slip_view(&SlipSource {
        state: &state,
        maps: &[main_board()],
        bench: "",
        sample: None,
        photos: &|_| Err(NoPhoto::Missing),
    })
    .unwrap();
    let line = view.lines().find(|line| line.place == "J4.3").unwrap();
    assert_eq!(line.close_up, None);
    let overview = line.overview.as_ref().unwrap();
    assert!(overview.jpeg.is_empty() && overview.outlines.len() > 10);
    assert!(slip_html(&view).contains("No photo of this place"));
}

/// A slip must not say that an original is unaltered which is not.
#[test]
fn a_photo_that_was_altered_is_named_and_nothing_is_cut_from_it() {
    const UNALTERED: &str = "the originals are in the job, unaltered";
    let state = full_journal().state();
    let (altered, _) = state.photos.iter().next().unwrap();
    let view = |photos: &PhotoSource<'_>| {
        slip_view(&SlipSource {
            state: &state,
            maps: &[main_board()],
            bench: "",
            sample: None,
            photos,
        })
        .unwrap()
    };
    let drawn = |id: &crate::record::PhotoId| PHOTOGRAPHS.get(id).cloned();
    let whole = view(&|id| drawn(id).ok_or(NoPhoto::Missing));
    assert!(slip_html(&whole).contains(UNALTERED));
    let some = view(&|id| drawn(id).filter(|_| id != altered).ok_or(NoPhoto::Altered));
    let all = view(&|_| Err(NoPhoto::Altered));
    let gone = view(&|_| Err(NoPhoto::Missing));
    assert!(!slip_html(&gone).contains(UNALTERED));
    assert!(slip_html(&gone).contains("What is missing from the job"));
    for (view, none_left) in [(&some, false), (&all, true)] {
        let html = slip_html(view);
        assert!(!html.contains(UNALTERED));
        let mut silent = view.silent.iter();
        let said = silent.find(|text| text.contains("altered in the job after it came in"));
        let said = said.expect("it is said");
        assert!(said.contains(&state.photos[altered].facts.name), "{said}");
        let cut_from = view
            .lines()
            .flat_map(|line| [&line.overview, &line.close_up]);
        let photos: Vec<_> = (cut_from.flatten())
            .filter_map(|p| p.photo.as_ref())
            .collect();
        assert!(!photos.contains(&altered));
        assert_eq!(photos.is_empty(), none_left);
    }
}

#[test]
fn an_empty_job_vouches_for_nothing() {
    let state = crate::record::State::default();
    let view = slip_view(&SlipSource {
        state: &state,
        maps: &[],
        bench: "",
        sample: None,
        photos: &|_| Err(NoPhoto::Missing),
    })
    .unwrap();
    let html = slip_html(&view);
    assert!(html.contains("No place is marked. That is not a verdict"));
    assert!(html.contains("Nobody has looked at it yet."));
    assert!(view.gate.iter().all(|line| !line.open));
}

const HOSTILE: &str = "</style><script>alert(1)</script><img src=x onerror=alert(2)>\u{202e}gpj\0\r\n\
    <!-- \" ' & =cmd|' /C calc'!A0";

#[test]
fn hostile_text_stays_text() {
    let mut view = slip_of(&full_journal());
    HOSTILE.clone_into(&mut view.unit);
    view.complaint = format!("{HOSTILE}{}", "x".repeat(100_000));
    for line in view
        .sections
        .iter_mut()
        .flat_map(|section| &mut section.lines)
    {
        HOSTILE.clone_into(&mut line.place);
        HOSTILE.clone_into(&mut line.note);
        line.disagreement = Some(HOSTILE.to_owned());
        line.actions = vec![HOSTILE.to_owned()];
    }
    let html = slip_html(&view);
    let page = scraper::Html::parse_document(&html);
    for element in [
        "script",
        "img[onerror]",
        "link",
        "iframe",
        "[src^=http]",
        "[href]",
    ] {
        assert_eq!(texts(&page, element).len(), 0, "{element} got in");
    }
    // Base64 may hold two strokes in a row, so the pictures are left out.
    let bare = without_pictures(&html);
    assert!(
        !bare.contains("http:")
            && !bare.contains("https:")
            && !bare.contains("//")
            && !bare.contains("url(")
    );
    assert!(html.chars().all(|c| c == '\n' || !c.is_control()));
    assert!(!html.contains('\u{202e}'));
    assert!(html.len() < 1_500_000, "a huge complaint fills the paper");
    assert_eq!(texts(&page, "#line-1 h3"), [shown(HOSTILE)]);
}

#[test]
fn the_json_follows_its_schema() {
    let view = slip_of(&full_journal());
    let json: serde_json::Value = serde_json::from_str(&slip_json(&view).unwrap()).unwrap();
    assert_eq!(json["schema"], 1);
    assert!(jsonschema::is_valid(&slip_json_schema(), &json));
    let mut broken = json.clone();
    broken["line_count"] = "many".into();
    assert!(!jsonschema::is_valid(&slip_json_schema(), &broken));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(64))]
    #[test]
    fn any_text_comes_back_from_the_page(text in "\\PC{0,80}|[\\x00-\\x7f]{0,80}") {
        let html = super::page::said(&text).into_string();
        let page = scraper::Html::parse_fragment(&html);
        let back: String = page.root_element().text().collect();
        proptest::prop_assert_eq!(back, shown(&text));
    }
}

/// A joint that is judged before its hint is shown, and that the hint passed over: the slip
/// counts it, says so in words, and lets no low hint stand for a clean bill.
#[test]
fn what_the_hint_passed_over_stands_on_the_slip() {
    use crate::board::Side;
    use crate::record::{Evidence, JointKey, Spot, Target, Verdict, is_unhinted};
    let map = main_board();
    let unhinted = map
        .parts
        .iter()
        .flat_map(|part| &part.pins)
        .map(|pin| JointKey {
            board: map.board.clone(),
            pin: pin.uid.clone(),
            side: Side::Solder,
        })
        .find(is_unhinted)
        .unwrap();
    let mut journal = Journal::new();
    add_photographs(&mut journal);
    assert_eq!(slip_of(&journal).eye_and_hint, None);
    assert!(!slip_html(&slip_of(&journal)).contains("The eye and the hint"));

    let photo = journal.state().photos.keys().next().unwrap().clone();
    let mut said = judgement(vec![Target::Joint(unhinted)], Verdict::Suspect);
    said.seen_on = Some(Spot {
        photo,
        at_px: [400.0, 300.0],
        radius_px: 30.0,
    });
    said.evidence = Some(Evidence {
        band: "no line seen".to_owned(),
        rank: Some(9),
        of: Some(16),
        arc_deg: None,
        depth_sigma: None,
        reason: String::new(),
        arc: Vec::new(),
    });
    journal.judged("Ada", said);
    let view = slip_of(&journal);
    let counted = view.eye_and_hint.as_ref().unwrap();
    assert_eq!(
        (counted.both, counted.eye_alone, counted.neither),
        (0, 1, 0)
    );
    let page = texts(&page_of(&view), ".end section p").join(" ");
    assert!(page.contains("asked for 0 of those first, and passed 1 over"));
    assert!(page.contains("a low hint clears nothing"), "{page}");
    let json: serde_json::Value = serde_json::from_str(&slip_json(&view).unwrap()).unwrap();
    assert_eq!(json["eye_and_hint"]["eye_alone"], 1);
    assert!(jsonschema::is_valid(&slip_json_schema(), &json));
}
