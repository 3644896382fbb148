use super::{Finding, FindingSeverity, lint};
use crate::board::model::{BoardMap, Limits, Outline, PartKind, Side};
use crate::board::testing::sample;

/// The findings after one change to the clean sample.
fn after(change: impl FnOnce(&mut BoardMap)) -> Vec<Finding> {
    let mut map = sample();
    change(&mut map);
    lint(&map)
}

/// Asserts that one change gives exactly one finding, and returns it.
fn only(change: impl FnOnce(&mut BoardMap)) -> Finding {
    let findings = after(change);
    assert_eq!(findings.len(), 1, "{findings:#?}");
    findings.into_iter().next().unwrap()
}

fn assert_only(
    severity: FindingSeverity,
    place: &str,
    reason: &str,
    change: impl FnOnce(&mut BoardMap),
) {
    let finding = only(change);
    assert_eq!(finding.severity, severity, "{finding}");
    assert_eq!(finding.place, place, "{finding}");
    assert!(finding.reason.contains(reason), "{finding}");
    assert!(!finding.remedy.is_empty());
}

use FindingSeverity::{Error, Warning};

#[test]
fn the_sample_of_the_page_is_clean() {
    assert_eq!(lint(&sample()), []);
}

#[test]
fn duplicates_are_named() {
    assert_only(Error, "part j1", "used twice", |m| {
        m.parts[2].reference = "j1".into();
        m.parts[2].kind = PartKind::Other;
        m.test_points[0].at = "the node".into();
        // The rail's probe is now ambiguous, which is one more finding: say it in words.
        m.rails[0].at = "pin 1".into();
        m.rails[0].return_at = "pin 2".into();
    });
    assert_only(Error, "part C1", "uid p-j1", |m| {
        m.parts[1].uid = "p-j1".into()
    });
    assert_only(Error, "part R1, pin 2", "uid j1-1", |m| {
        m.parts[2].pins[1].uid = "j1-1".into();
    });
    assert_only(Error, "part J1, pin 3", "used twice in this part", |m| {
        m.parts[0].pins[3].no = "3".into();
    });
    assert_only(Error, "landmark HOLE a", "used twice", |m| {
        m.landmarks[1].name = "HOLE a".into();
    });
    assert_only(Error, "rail +5 V", "used twice", |m| {
        let copy = m.rails[0].clone();
        m.rails.push(copy);
    });
    assert_only(Error, "test point TP1", "used twice", |m| {
        let copy = m.test_points[0].clone();
        m.test_points.push(copy);
    });
}

#[test]
fn overlapping_is_told_from_touching() {
    // J1 pins 3 and 4 are 2.54 apart with lands of 1.7: they touch at 2.54 wide.
    let widen = |w: f64| {
        move |m: &mut BoardMap| {
            for pin in &mut m.parts[0].pins[2..4] {
                pin.land.size = [w, w];
            }
        }
    };
    let findings = after(widen(2.54));
    assert!(
        findings.iter().all(|f| !f.reason.contains("pin 4")),
        "{findings:#?}"
    );
    assert_only(
        Error,
        "part J1, pin 4",
        "overlaps that of part J1, pin 3 by 0.100",
        |m| {
            m.parts[0].pins[3].at[0] = 15.08 + 1.6;
        },
    );
}

#[test]
fn lands_of_different_parts_and_sides() {
    assert_only(
        Error,
        "part R1, pin 1",
        "overlaps that of part C1, pin -",
        |m| {
            m.parts[2].pins[0].at = [31.25, 20.5];
        },
    );
    // The same place on two sides is no overlap, as long as neither is a hole.
    let surface = |m: &mut BoardMap, pin: usize| {
        m.parts[2].side = Side::Solder;
        m.parts[1].pins[1].drill = None;
        m.parts[2].pins[pin].drill = None;
        m.parts[2].pins[pin].at = m.parts[1].pins[1].at;
    };
    assert_eq!(after(|m| surface(m, 0)), []);
}

#[test]
fn off_the_board() {
    assert_only(Error, "part R1, pin 2", "off the board outline", |m| {
        m.parts[2].pins[1].at = [50.0, 50.2];
    });
    assert_only(Error, "part C1", "wholly off", |m| {
        m.parts[1].outline = Outline::Circle {
            at: [90.0, 20.0],
            diameter: 6.3,
        };
    });
    // A connector may hang over the edge.
    assert_eq!(
        after(|m| {
            m.parts[1].outline = Outline::Circle {
                at: [82.0, 20.0],
                diameter: 6.3,
            };
        }),
        []
    );
}

#[test]
fn impossible_sizes() {
    assert_only(
        Error,
        "part R1, pin 1",
        "a land of 0 x 2.2 mm cannot be",
        |m| {
            m.parts[2].pins[0].land.size[0] = 0.0;
        },
    );
    assert_only(Error, "part R1, pin 1", "leaves nothing", |m| {
        m.parts[2].pins[0].drill = Some(1.6);
    });
    assert_only(Error, "part R1, pin 1", "a hole of -0.8", |m| {
        m.parts[2].pins[0].drill = Some(-0.8);
    });
    assert_only(Warning, "part R1, pin 1", "ring under", |m| {
        m.parts[2].pins[0].drill = Some(1.55);
    });
    assert_only(Error, "part C1", "cannot be", |m| {
        m.parts[1].outline = Outline::Circle {
            at: [30.0, 20.0],
            diameter: -6.3,
        };
    });
    assert_only(Warning, "part J1, pin 4", "is not round", |m| {
        m.parts[0].pins[3].land.size = [1.7, 1.9];
    });
}

#[test]
fn inches_are_noticed() {
    let findings = after(|m| {
        for p in &mut m.outline {
            *p = p.map(|v| v / 25.4);
        }
        for landmark in &mut m.landmarks {
            landmark.at = landmark.at.map(|v| v / 25.4);
        }
        for part in &mut m.parts {
            for pin in &mut part.pins {
                pin.at = pin.at.map(|v| v / 25.4);
            }
        }
    });
    let told = |place: &str, text: &str| {
        findings
            .iter()
            .any(|f| f.place == place && f.reason.contains(text))
    };
    assert!(told("part J1", "0.100 mm apart"), "{findings:#?}");
    assert!(told("board outline", "unusual"), "{findings:#?}");
}

#[test]
fn outlines() {
    assert_only(Error, "board outline", "2 corners", |m| {
        m.outline.truncate(2)
    });
    assert_only(
        Error,
        "board outline",
        "edge 1 crosses or touches edge 3",
        |m| {
            m.outline = vec![[0.0, 0.0], [90.0, 50.0], [90.0, 0.0], [0.0, 60.0]];
            m.parts.clear();
            m.rails.clear();
            m.test_points.clear();
            m.landmarks.truncate(4);
            m.landmarks[0].at = [1.0, 5.0];
            m.landmarks[1].at = [89.0, 5.0];
            m.landmarks[2].at = [89.0, 40.0];
            m.landmarks[3].at = [1.0, 50.0];
        },
    );
}

#[test]
fn landmarks() {
    assert_only(Warning, "landmarks", "there are 3", |m| {
        m.landmarks.truncate(3)
    });
    assert_only(Error, "landmarks", "there are 1", |m| {
        m.landmarks.truncate(1)
    });
    let place = |places: [[f64; 2]; 4]| {
        move |m: &mut BoardMap| {
            for (landmark, at) in m.landmarks.iter_mut().zip(places) {
                landmark.at = at;
            }
        }
    };
    let line = place([[4.0, 4.0], [20.0, 14.0], [40.0, 26.0], [70.0, 44.0]]);
    assert_only(Error, "landmarks", "in one line", line);
    let nearly = place([[4.0, 4.0], [30.0, 4.0], [76.0, 4.0], [4.0, 46.0]]);
    assert_only(Error, "landmarks", "all but one", nearly);
    assert_only(Warning, "landmark hole E", "at the place of hole D", |m| {
        let mut twin = m.landmarks[3].clone();
        twin.name = "hole E".into();
        m.landmarks.push(twin);
    });
    let narrow = place([[4.0, 4.0], [24.0, 4.0], [24.0, 46.0], [4.0, 46.0]]);
    assert_only(Warning, "landmarks", "span 25 %", narrow);
}

#[test]
fn rails_and_test_points() {
    assert_only(Warning, "rail -12 V", "judged as -12.6 to -11.4", |m| {
        m.rails[0].name = "-12 V".into();
        m.rails[0].unloaded = Limits {
            min: -11.4,
            max: -12.6,
        };
        m.rails[0].loaded = Limits {
            min: -12.6,
            max: -11.4,
        };
    });
    assert_only(Error, "rail +5 V", "min 5.25 above max 4.75", |m| {
        m.rails[0].loaded = Limits {
            min: 5.25,
            max: 4.75,
        };
    });
    assert_only(Warning, "rail -5 V", "leave out -5 V", |m| {
        m.rails[0].name = "-5 V".into();
        m.rails[0].unloaded = Limits {
            min: -5.25,
            max: -4.75,
        };
    });
    assert_only(Warning, "rail +5 V", "J1 has no pin 9", |m| {
        m.rails[0].at = "J1.9".into()
    });
    assert_only(Warning, "rail +5 V", "no J44 here", |m| {
        m.rails[0].return_at = "J44.1".into()
    });
    assert_eq!(after(|m| m.rails[0].return_at = "metal case".into()), []);
    assert_eq!(after(|m| m.rails[0].return_at = "main:J44.1".into()), []);
    assert_only(Error, "rail +5 V", "cold_min_ohm of 0", |m| {
        m.rails[0].cold_min_ohm = Some(0.0);
    });
    assert_only(
        Warning,
        "test point TP1",
        "no tolerance stated: a reading can be recorded but never passes",
        |m| {
            m.test_points[0].expect[0].min = None;
            m.test_points[0].expect[0].max = None;
        },
    );
    assert_only(Warning, "test point TP1", "outside its own limits", |m| {
        m.test_points[0].expect[0].nominal = Some(2.3);
    });
}

#[test]
fn class_letters_and_unusable_references() {
    assert_only(Warning, "part C1", "IEEE 315: R", |m| {
        m.parts[1].kind = PartKind::Resistor;
    });
    assert_only(Error, "part R1.A", "the reference holds", |m| {
        m.parts[2].reference = "R1.A".into();
        m.test_points[0].at = "the node".into();
    })
}

#[test]
fn places_are_sorted_by_value() {
    let findings = after(|m| {
        for part in &mut m.parts {
            part.kind = PartKind::Crystal;
        }
        m.parts[0].reference = "J10".into();
        m.parts[1].reference = "J9".into();
        m.rails.clear();
    });
    let places: Vec<&str> = findings.iter().map(|f| f.place.as_str()).collect();
    assert_eq!(places, ["part J9", "part J10", "part R1"]);
}

#[test]
fn a_hostile_heap_of_pins_does_not_flood() {
    let mut map = sample();
    let pin = map.parts[0].pins[0].clone();
    map.parts[0].pins = (0..50_000)
        .map(|i| {
            let mut pin = pin.clone();
            pin.uid = format!("u{i}");
            pin.no = format!("{i}");
            pin
        })
        .collect();
    let findings = lint(&map);
    assert!(findings.len() < 1_000, "{}", findings.len());
    assert!(findings.iter().any(|f| f.place == "whole map"));
}

#[test]
fn limits_that_a_dead_rail_would_pass_are_named() {
    let found = after(|m| {
        m.rails[0].name = "bias".into();
        m.rails[0].loaded = Limits {
            min: -0.5,
            max: 5.25,
        };
    });
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].reason.contains("a dead rail would pass"));
    // A negative rail, even the wrong way round, keeps clear of 0.
    let found = after(|m| {
        m.rails[0].name = "-12 V".into();
        let limits = Limits {
            min: -12.6,
            max: -11.4,
        };
        (m.rails[0].loaded, m.rails[0].unloaded) = (limits, limits);
    });
    assert_eq!(found, []);
}

#[test]
fn parts_without_pins_at_one_place_are_named() {
    let found = after(|m| {
        for part in &mut m.parts[1..] {
            part.pins.clear();
            part.outline = Outline::Rect {
                at: [30.0, 20.0],
                size: [2.0, 2.0],
                turn_deg: 0.0,
            };
        }
        m.test_points[0].at = "the node".into();
    });
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].place, "part R1");
    assert!(found[0].reason.contains("at the place of C1"));
}
