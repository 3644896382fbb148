use proptest::prelude::*;

use super::*;
use crate::align::{RefusalKind as Kind, two_more_here};
use crate::board::Landmark;
use crate::geometry::{Lens, PhotoVector};

const SIZE: (u32, u32) = (4000, 3000);

fn map() -> BoardMap {
    let landmark = |(name, x, y): (&str, f64, f64)| Landmark {
        name: name.into(),
        at: [x, y],
        look_for: String::new(),
    };
    BoardMap {
        schema: 1,
        model: "Fernhollow FH-12".into(),
        board: "main".into(),
        title: String::new(),
        revision: None,
        origin: "invented for this test".into(),
        outline: vec![[0.0, 0.0], [180.0, 0.0], [180.0, 120.0], [0.0, 120.0]],
        parts: vec![],
        landmarks: [
            ("hole A", 4.0, 4.0),
            ("hole B", 176.0, 4.0),
            ("hole C", 176.0, 116.0),
            ("hole D", 4.0, 116.0),
            ("U3.1", 70.0, 52.0),
            ("J1.1", 120.0, 20.0),
            ("K2.1", 40.0, 95.0),
            ("U9.1", 72.0, 55.0),
        ]
        .map(landmark)
        .to_vec(),
        rails: vec![],
        test_points: vec![],
    }
}

fn view(side: Side) -> BoardToPhoto {
    let m = if side == Side::Component { -1.0 } else { 1.0 };
    let shift = if side == Side::Component {
        2600.0
    } else {
        200.0
    };
    BoardToPhoto::from_rows([
        [19.0, 0.8 * m, 250.0],
        [-0.6, 20.0 * m, shift],
        [1e-4, 5e-5, 1.0],
    ])
    .unwrap()
}

fn clicks(names: &[&str], view: &BoardToPhoto) -> Vec<(String, PhotoPoint)> {
    let map = map();
    let place = |name: &&str| {
        let l = map.landmarks.iter().find(|l| l.name == **name).unwrap();
        let at = view.apply(BoardPoint::new(l.at[0], l.at[1])).unwrap();
        ((*name).to_owned(), at)
    };
    names.iter().map(place).collect()
}

const CORNERS: [&str; 4] = ["hole A", "hole B", "hole C", "hole D"];
const SIX: [&str; 6] = ["hole A", "hole B", "hole C", "hole D", "U3.1", "J1.1"];

const SEVEN: [&str; 7] = [
    "hole A", "hole B", "hole C", "hole D", "J1.1", "K2.1", "U3.1",
];

fn refused(side: Side, placed: &[(String, PhotoPoint)]) -> Refusal {
    from_landmarks(&map(), side, placed, SIZE).unwrap_err()
}

#[test]
fn four_give_a_homography_and_say_what_they_cannot_tell() {
    for side in [Side::Component, Side::Solder] {
        let fit = from_landmarks(&map(), side, &clicks(&CORNERS, &view(side)), SIZE).unwrap();
        assert_eq!(fit.method, LandmarkMethod::Homography);
        assert!(fit.rms_px < 1e-6);
        assert!(fit.per_landmark.iter().all(|l| l.left_out_px.is_none()));
        assert!(
            fit.cautions[0].contains("add a fifth"),
            "{:?}",
            fit.cautions
        );
        let middle = BoardPoint::new(90.0, 60.0);
        let off = fit.projection.apply(middle).unwrap() - view(side).apply(middle).unwrap();
        assert!(off.length() < 1e-6);
        assert!((19.0..21.0).contains(&fit.px_per_mm.centre));
        assert!(fit.px_per_mm.min < fit.px_per_mm.centre);
        // 2 px clicks on four corners leave about 2 px inside (outside check: Monte Carlo in
        // `the_expected_error_is_the_error`).
        assert!(
            (1.0..4.0).contains(&fit.expected_error_px),
            "{}",
            fit.expected_error_px
        );
    }
}

#[test]
fn three_and_two_say_what_they_are() {
    let placed = clicks(&CORNERS, &view(Side::Solder));
    let three = from_landmarks(&map(), Side::Solder, &placed[..3], SIZE).unwrap();
    assert_eq!(three.method, LandmarkMethod::Affine);
    assert!(three.cautions[0].contains("without perspective"));
    let two = from_landmarks(&map(), Side::Solder, &placed[..2], SIZE).unwrap();
    assert_eq!(two.method.to_string(), "landmarks: similarity");
    assert!(two.cautions[0].contains("cannot tell a photo of the other side"));
    assert!(two.expected_error_px > three.expected_error_px);
    assert_eq!(refused(Side::Solder, &placed[..1]).kind, Kind::TooFew);
    assert_eq!(refused(Side::Solder, &[]).kind, Kind::TooFew);
}

#[test]
fn the_bad_click_is_named() {
    let eight = [&SEVEN[..], &["U9.1"]].concat();
    let mut placed = clicks(&eight, &view(Side::Component));
    placed[2].1 += PhotoVector::new(30.0, -23.0);
    let fit = from_landmarks(&map(), Side::Component, &placed, SIZE).unwrap();
    let suspect = fit.suspect_click.expect("one click is off");
    assert_eq!(suspect.name, "hole C");
    assert!((suspect.off_px - 37.8).abs() < 1.0, "{}", suspect.off_px);
    assert!((suspect.off_mm - 1.9).abs() < 0.2, "{}", suspect.off_mm);
    assert!(
        suspect.words.starts_with("hole C looks 38 px"),
        "{}",
        suspect.words
    );
    assert!(fit.cautions.contains(&suspect.words));
}

#[test]
fn five_name_the_click_or_say_that_they_cannot() {
    let mut flat =
        BoardToPhoto::from_rows([[19.0, 0.4, 250.0], [0.4, -19.0, 2600.0], [0.0, 0.0, 1.0]])
            .unwrap();
    let five = ["hole A", "hole B", "hole C", "hole D", "J1.1"];
    for bad in 0..5 {
        let mut placed = clicks(&five, &flat);
        placed[bad].1 += PhotoVector::new(30.0, -25.0);
        let fit = from_landmarks(&map(), Side::Component, &placed, SIZE).unwrap();
        let name = fit.suspect_click.map(|s| s.name);
        let told = fit
            .cautions
            .iter()
            .any(|c| c.contains("cannot tell which") && c.contains(five[bad]));
        assert!(
            name.as_deref() == Some(five[bad]) || told,
            "{bad}: {name:?} {:?}",
            fit.cautions
        );
    }
    flat = view(Side::Component);
    let fit = from_landmarks(&map(), Side::Component, &clicks(&five, &flat), SIZE).unwrap();
    assert_eq!(fit.suspect_click, None);
}

#[test]
fn the_wrong_side_is_refused_by_name() {
    for (truth, asked, other) in [
        (Side::Component, Side::Solder, "--side component"),
        (Side::Solder, Side::Component, "--side solder"),
    ] {
        for n in [3, 4, 6] {
            let refusal = refused(asked, &clicks(&SIX[..n], &view(truth)));
            assert_eq!(refusal.kind, Kind::WrongSide, "{refusal}");
            assert!(refusal.remedy.contains(other), "{refusal}");
        }
    }
}

#[test]
fn swapped_names_are_found() {
    let mut placed = clicks(&SIX, &view(Side::Component));
    let (a, e) = (placed[1].1, placed[4].1);
    (placed[1].1, placed[4].1) = (e, a);
    let refusal = refused(Side::Component, &placed);
    assert!(
        matches!(refusal.kind, Kind::DoNotFit | Kind::Horizon),
        "{refusal}"
    );
    let mut four = clicks(&CORNERS, &view(Side::Component));
    let (a, b) = (four[0].1, four[1].1);
    (four[0].1, four[1].1) = (b, a);
    let refusal = refused(Side::Component, &four);
    assert_eq!(refusal.kind, Kind::Horizon);
    assert!(refusal.remedy.contains("swapped"));
}

#[test]
fn nonsense_is_refused_by_name() {
    let good = clicks(&CORNERS, &view(Side::Component));
    let with = |change: fn(&mut [(String, PhotoPoint)])| {
        let mut placed = good.clone();
        change(&mut placed);
        refused(Side::Component, &placed)
    };
    let unknown = with(|p| p[0].0 = "hloe A".into());
    assert_eq!(unknown.kind, Kind::UnknownLandmark);
    assert!(unknown.remedy.contains("\"hole A\""), "{unknown}");
    assert_eq!(with(|p| p[1].0 = "Hole A ".into()).kind, Kind::Duplicate);
    assert_eq!(with(|p| p[1].1.x = f64::NAN).kind, Kind::NotFinite);
    assert_eq!(with(|p| p[1].1.x = 40_000.0).kind, Kind::OutsidePhoto);
    assert_eq!(with(|p| p[1].1 = p[0].1).kind, Kind::Coincident);
    let line = with(|p| p[1].1 = p[0].1.lerp(p[2].1, 0.5));
    assert_eq!(line.kind, Kind::Collinear);
    assert!(line.remedy.contains("off that line"));
    let tiny = with(|p| {
        for (_, at) in p {
            *at *= 0.01;
        }
    });
    assert_eq!(tiny.kind, Kind::AbsurdScale, "{tiny}");
    let squeezed = with(|p| {
        for (_, at) in p {
            at.y = 1500.0 + at.y * 0.1;
        }
    });
    assert_eq!(squeezed.kind, Kind::AbsurdAspect, "{squeezed}");
}

#[test]
fn a_map_without_numbers_is_refused() {
    let mut bad = map();
    bad.landmarks[1].at[0] = f64::NAN;
    let placed = clicks(&CORNERS, &view(Side::Component));
    let refusal = from_landmarks(&bad, Side::Component, &placed, SIZE).unwrap_err();
    assert_eq!(refusal.kind, Kind::BadMap);
}

#[test]
fn two_more_are_asked_for_where_they_help() {
    let near = ["U3.1", "U9.1", "J1.1", "K2.1"];
    let placed = clicks(&near, &view(Side::Component));
    let fit = from_landmarks(&map(), Side::Component, &placed, SIZE).unwrap();
    let more = two_more_here(&map(), &fit, &placed, SIZE);
    assert_eq!(more.len(), 2);
    assert!(more.iter().all(|s| s.name.starts_with("hole")), "{more:?}");
    assert!(more[0].expected_error_px < fit.expected_error_px);
    assert!(
        more[1].expected_error_px < fit.expected_error_px / 2.0,
        "{more:?}"
    );
}

/// Uniform noise of the given standard deviation from a hash of the index: enough here.
fn noise(k: u64, sd: f64) -> f64 {
    let mut z = k
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add(0x1234_5678);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    let unit = ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64;
    (unit - 0.5) * sd * 12f64.sqrt()
}

#[test]
fn the_expected_error_is_the_error() {
    // Monte Carlo: 2 px clicks; the prediction must be within a fifth of what is measured.
    for names in [&CORNERS[..], &SIX[..]] {
        let truth = view(Side::Solder);
        let clean = clicks(names, &truth);
        let (mut predicted, mut measured, mut count, runs) = (0.0, 0.0, 0.0, 300u64);
        for run in 0..runs {
            let mut placed = clean.clone();
            for (i, (_, at)) in placed.iter_mut().enumerate() {
                let k = run * 100 + 2 * i as u64;
                *at += PhotoVector::new(noise(k, 2.0), noise(k + 1, 2.0));
            }
            let fit = from_landmarks(&map(), Side::Solder, &placed, SIZE).unwrap();
            predicted += fit.expected_error_px.powi(2) / runs as f64;
            for p in seen_grid(&map(), &truth.into(), SIZE, &[]) {
                let off = fit.projection.apply(p).unwrap() - truth.apply(p).unwrap();
                measured += off.square_length();
                count += 1.0;
            }
        }
        let ratio = (predicted / (measured / count)).sqrt();
        assert!(
            (0.8..1.25).contains(&ratio),
            "{} landmarks: {ratio}",
            names.len()
        );
    }
}

/// Of 200 sets with clicks of `sd` px and one 38 px off: rightly named, wrongly named, and clean
/// sets accused.
fn accusations(truth: &BoardToPhoto, names: &[&str], sd: f64) -> [usize; 3] {
    let clean = clicks(names, truth);
    let mut counts = [0; 3];
    for run in 0..200u64 {
        for bad in [true, false] {
            let mut placed = clean.clone();
            for (i, (_, at)) in placed.iter_mut().enumerate() {
                let k = 99_000_000 * names.len() as u64 + run * 100 + 2 * i as u64;
                *at += PhotoVector::new(noise(k, sd), noise(k + 1, sd));
            }
            let who = run as usize % names.len();
            if bad {
                let (sin, cos) = (run as f64).sin_cos();
                placed[who].1 += PhotoVector::new(38.0 * cos, 38.0 * sin);
            }
            let fit = from_landmarks(&map(), Side::Component, &placed, SIZE).unwrap();
            let named = fit.suspect_click.map(|s| s.name);
            match (bad, named) {
                (_, None) => {}
                (true, Some(name)) if name == placed[who].0 => counts[0] += 1,
                (true, Some(_)) => counts[1] += 1,
                (false, Some(_)) => counts[2] += 1,
            }
        }
    }
    counts
}

#[test]
fn bad_clicks_are_found_and_clean_ones_left_alone() {
    let flat =
        BoardToPhoto::from_rows([[19.0, -0.8, 250.0], [-0.6, -20.0, 2600.0], [0.0, 0.0, 1.0]])
            .unwrap();
    let tilted = view(Side::Component);
    for (view, names, least_right) in [
        (&flat, &SIX[..], 150),
        (&flat, &SEVEN[..], 180),
        (&tilted, &SEVEN[..], 140),
    ] {
        let [right, wrong, accused] = accusations(view, names, 1.5);
        assert!(right >= least_right, "{right} of 200 named");
        assert!(wrong <= 6, "{wrong} of 200 wrongly named");
        assert!(accused <= 6, "{accused} of 200 clean sets accused");
    }
}

proptest! {
    #[test]
    fn the_order_of_clicks_does_not_matter(turn in 0usize..6, jitter in 0u64..1000) {
        let mut placed = clicks(&SIX, &view(Side::Component));
        for (i, (_, at)) in placed.iter_mut().enumerate() {
            *at += PhotoVector::new(noise(jitter * 20 + i as u64, 3.0), 0.0);
        }
        let one = from_landmarks(&map(), Side::Component, &placed, SIZE).unwrap();
        placed.rotate_left(turn);
        let two = from_landmarks(&map(), Side::Component, &placed, SIZE).unwrap();
        prop_assert_eq!(one, two);
    }

    #[test]
    fn any_clicks_give_an_answer_or_a_refusal(
        raw in prop::collection::vec((0usize..8, any::<f64>(), any::<f64>()), 0..10),
        near in prop::collection::vec((0usize..8, -100.0..4100.0f64, -100.0..3100.0f64), 0..9),
    ) {
        let map = map();
        for set in [raw, near] {
            let placed: Vec<_> = set.into_iter()
                .map(|(i, x, y)| (map.landmarks[i].name.clone(), PhotoPoint::new(x, y)))
                .collect();
            match from_landmarks(&map, Side::Component, &placed, SIZE) {
                Ok(fit) => prop_assert!(fit.rms_px.is_finite() && fit.px_per_mm.centre > 0.0),
                Err(refusal) => prop_assert!(!refusal.reason.is_empty() && !refusal.remedy.is_empty()),
            }
        }
    }
}

/// A careful hand misses by a pixel or so; the lens bends by `k` half diagonals at the corner.
fn bent(k: f64, off: Option<usize>) -> LandmarkFit {
    let names: Vec<&str> = CORNERS
        .iter()
        .chain(&["U3.1", "J1.1", "K2.1", "U9.1"])
        .copied()
        .collect();
    let mut placed = clicks(&names, &view(Side::Solder));
    let (middle, unit) = (PhotoPoint::new(1999.5, 1499.5), 2500.0);
    for (i, (_, at)) in placed.iter_mut().enumerate() {
        let away = *at - middle;
        *at = middle + away * (1.0 + k * away.square_length() / (unit * unit));
        let turn = i as f64 * 2.4;
        *at += PhotoVector::new(turn.cos(), turn.sin());
        if off == Some(i) {
            *at += PhotoVector::new(24.0, -18.0);
        }
    }
    from_landmarks(&map(), Side::Solder, &placed, SIZE).unwrap()
}

#[test]
fn a_lens_that_bends_is_not_blamed_on_a_click_and_a_bad_click_not_on_the_lens() {
    for k in [-0.025, 0.02] {
        let fit = bent(k, None);
        assert_eq!(fit.suspect_click, None, "{k}: {:?}", fit.cautions);
        let said = fit.cautions.join("; ");
        assert!(said.contains("the lens bends this photo by"), "{k}: {said}");
        assert!(said.contains("none is to blame"), "{k}: {said}");
    }
    for i in 0..8 {
        let said = bent(0.0, Some(i)).cautions.join("; ");
        assert!(!said.contains("lens"), "{i}: {said}");
    }
    assert!(bent(0.0, None).cautions.is_empty());
}

/// Eight landmarks as a lens of bend `k` shows them, clicked with `sd` px of error per axis.
fn through_a_lens(k: f64, sd: f64, run: u64) -> Vec<(String, PhotoPoint)> {
    let names: Vec<&str> = (CORNERS.iter().chain(&["U3.1", "J1.1", "K2.1", "U9.1"]))
        .copied()
        .collect();
    let lens = Lens::new(SIZE.into(), k).unwrap();
    let mut placed = clicks(&names, &view(Side::Solder));
    for (i, (_, at)) in placed.iter_mut().enumerate() {
        let seed = 7_000_000 + run * 100 + 2 * i as u64;
        *at = lens.bend(*at).unwrap() + PhotoVector::new(noise(seed, sd), noise(seed + 1, sd));
    }
    placed
}

#[test]
fn a_bend_that_the_landmarks_carry_is_in_the_fit_and_one_they_do_not_is_left_out() {
    // Monte Carlo, 1 px clicks. A bend of 2 % moves the corners by 50 px.
    let runs = 100u64;
    for (k, at_least, at_most) in [(-0.02, 95, 100), (0.0, 0, 4)] {
        let lens = Lens::new(SIZE.into(), k).unwrap();
        let truth = Projection {
            photo_from_board: view(Side::Solder),
            lens: Some(lens),
        };
        let (mut bent, mut predicted, mut measured, mut count) = (0, 0.0, 0.0, 0.0);
        for run in 0..runs {
            let placed = through_a_lens(k, 1.0, run);
            let fit = from_landmarks(&map(), Side::Solder, &placed, SIZE).unwrap();
            assert_eq!(fit.suspect_click, None, "{:?}", fit.cautions);
            bent += usize::from(fit.projection.lens.is_some());
            if let Some(without) = fit.rms_without_lens_px {
                assert!(fit.rms_px < without && fit.method == LandmarkMethod::HomographyAndLens);
            }
            predicted += fit.expected_error_px.powi(2) / runs as f64;
            for p in seen_grid(&map(), &truth, SIZE, &[]) {
                let off = fit.projection.apply(p).unwrap() - truth.apply(p).unwrap();
                measured += off.square_length();
                count += 1.0;
            }
        }
        assert!(
            (at_least..=at_most).contains(&bent),
            "{k}: {bent} of 100 bent"
        );
        // Prudent: the error of a click is taken for 2 px until many landmarks say otherwise.
        let ratio = (predicted / (measured / count)).sqrt();
        assert!((0.8..2.0).contains(&ratio), "{k}: {ratio}");
    }
}

#[test]
fn what_an_unknown_lens_may_add_is_said_until_the_landmarks_show_it() {
    let four = from_landmarks(
        &map(),
        Side::Solder,
        &clicks(&CORNERS, &view(Side::Solder)),
        SIZE,
    )
    .unwrap();
    let said = four.unknown_bend_px.unwrap();
    assert!(
        four.cautions
            .iter()
            .any(|words| words.contains("place seven or more"))
    );
    // What a lens of that strength does in fact, with the same four clicks bent by it.
    for k in [-0.01, 0.01] {
        let lens = Lens::new(SIZE.into(), k).unwrap();
        let through = |at: BoardPoint| lens.bend(view(Side::Solder).apply(at)?);
        let bent: Vec<(String, PhotoPoint)> = (map().landmarks.iter())
            .filter(|mark| CORNERS.contains(&mark.name.as_str()))
            .map(|mark| {
                let at = BoardPoint::new(mark.at[0], mark.at[1]);
                (mark.name.clone(), through(at).unwrap())
            })
            .collect();
        let fit = from_landmarks(&map(), Side::Solder, &bent, SIZE).unwrap();
        let seen = seen_grid(&map(), &fit.projection, SIZE, &[]);
        let squares = seen
            .iter()
            .map(|at| (fit.projection.apply(*at).unwrap() - through(*at).unwrap()).square_length());
        let off = (squares.sum::<f64>() / seen.len() as f64).sqrt();
        assert!(
            (0.7..1.4).contains(&(said / off)),
            "{said} px said, {off} px off"
        );
    }
}
