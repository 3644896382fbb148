//! What the eye found alone: counted from the first word on each hidden joint and no other.

use super::super::testing::*;
use super::super::*;

/// Pins whose hint is hidden, and one whose hint is shown.
fn pins() -> (Vec<String>, String) {
    let all = (0..400).map(|n| format!("J4-{n}"));
    let (hidden, shown): (Vec<_>, Vec<_>) = all.partition(|pin| is_unhinted(&key(pin)));
    (hidden, shown[0].clone())
}

fn first_word(pin: &str, verdict: Verdict, band: Option<&str>) -> Judgement {
    Judgement {
        seen_on: Some(Spot {
            photo: "aa".repeat(32),
            at_px: [100.0, 80.0],
            radius_px: 30.0,
        }),
        evidence: band.map(|band| Evidence {
            band: band.to_owned(),
            rank: Some(1),
            of: Some(16),
            arc_deg: None,
            depth_sigma: None,
            reason: String::new(),
            arc: Vec::new(),
        }),
        ..judge(&[pin], verdict, &[])
    }
}

/// FNV-1a is meant to spread: near one in ten of four hundred names (binomial, sd 6).
#[test]
fn about_one_joint_in_ten_is_judged_without_the_hint() {
    let (hidden, _) = pins();
    assert!((20..=60).contains(&hidden.len()), "{}", hidden.len());
}

#[test]
fn only_first_words_on_hidden_joints_are_counted() {
    let (hidden, shown) = pins();
    let mut bench = Bench::new(1);
    let first = [
        (&hidden[0], Verdict::Suspect, Some("look here first")),
        (&hidden[1], Verdict::Faulty, Some("cannot tell")),
        (&hidden[2], Verdict::NoFaultSeen, Some("look here first")),
        (&hidden[3], Verdict::NoFaultSeen, Some("no line seen")),
        (&hidden[4], Verdict::NoFaultSeen, Some("no reading")),
        (&hidden[5], Verdict::CannotBeJudged, None),
        // Its hint was in sight: tells nothing of the eye alone.
        (&shown, Verdict::Suspect, Some("look here first")),
    ];
    let mut events: Vec<Envelope> = first
        .into_iter()
        .map(|(pin, verdict, band)| bench.write(Event::Judged(first_word(pin, verdict, band))))
        .collect();
    // Said again with the hint in sight: the first word stays the one that counts.
    let again = Judgement {
        replaces: vec![events[3].id],
        ..first_word(&hidden[3], Verdict::Faulty, Some("no line seen"))
    };
    events.push(bench.write(Event::Judged(again)));
    // A whole row at one stroke.
    let row = judge(&[&hidden[6], &hidden[7]], Verdict::NoFaultSeen, &[]);
    events.push(bench.write(Event::Judged(row)));

    let counted = eye_and_hint(&fold(events));
    let wanted = EyeAndHint {
        both: 1,
        eye_alone: 1,
        hint_alone: 1,
        neither: 1,
        without_reading: 1,
        not_judged: 1,
    };
    assert_eq!(counted, wanted);
    assert_eq!(counted.compared(), 4);
    // Wilson 95 % of 1 in 2: 0.0945 to 0.9055 (computed by hand from the formula in the NIST
    // handbook 7.2.4.1).
    let share = counted.hint_of_eye().expect("two were marked");
    assert!((share.low - 0.0945).abs() < 1e-3 && (share.high - 0.9055).abs() < 1e-3);
}

#[test]
fn an_undone_word_is_not_counted_and_nothing_is_claimed_of_nothing() {
    let (hidden, _) = pins();
    let mut bench = Bench::new(1);
    let said = bench.write(Event::Judged(first_word(
        &hidden[0],
        Verdict::Suspect,
        Some("look here first"),
    )));
    let undone = bench.write(Event::Withdrawn {
        targets: vec![said.id],
    });
    let counted = eye_and_hint(&fold(vec![said, undone]));
    assert_eq!(counted, EyeAndHint::default());
    assert_eq!(counted.hint_of_eye(), None);
    let three = EyeAndHint { both: 3, ..counted };
    let low = EyeAndHint {
        eye_alone: 1,
        hint_alone: 2,
        neither: 9,
        ..counted
    };
    for words in [
        counted.words(),
        three.words(),
        three.words_on_paper(),
        low.words_on_paper(),
    ] {
        for claim in ["sound", "safe", "good", "correct", "accura", "missed"] {
            assert!(!words.contains(claim), "{claim}: {words}");
        }
    }
}

/// A reader of the paper must not take a hint that asked for nothing as a clean bill.
#[test]
fn the_paper_says_what_the_hint_passed_over() {
    let counted = EyeAndHint {
        both: 2,
        eye_alone: 3,
        hint_alone: 1,
        neither: 20,
        ..EyeAndHint::default()
    };
    let words = counted.words_on_paper();
    for said in [
        "26 joints were judged before the hint was shown",
        "The eye marked 5: the hint would have asked for 2 of those first, and passed 3 over",
        "one more joint, where the eye saw no fault",
        "in a hundred of what the eye marks (95 % interval)",
        "a low hint clears nothing",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    let none = EyeAndHint {
        neither: 4,
        ..EyeAndHint::default()
    };
    assert!(none.words_on_paper().contains("The eye marked none."));
    assert!(none.words_on_paper().contains("a low hint clears nothing"));
}
