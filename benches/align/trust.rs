//! How often an automatic alignment is right, refused, or wrong with trust, on many made cases.
//!
//! The photographs are the rendered sample boards (their truth says where each joint is in each
//! photo) and whatever pairs were given; every case turns, scales, tilts, relights, soils and
//! covers the photo anew.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Instant;

use benchglass::align::{AutoAlignment, Differing, Refusal, automatic};
use benchglass::geometry::PhotoA;
use benchglass::progress::Progress;
use benchglass::stats::wilson_95;
use euclid::Point2D;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;

use super::cases::{self, Case, PIXELS};
use super::shots::{Shot, real, samples};

/// What may come of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Came {
    Right,
    Refused,
    Wrong,
}

/// What was answered to a case.
struct Answer {
    came: Came,
    /// Error that nine in ten named places lie within, px of the photo.
    p90: Option<f64>,
    fit: Result<AutoAlignment, Refusal>,
    millis: f64,
}

fn answer(case: &Case) -> Answer {
    let start = Instant::now();
    let fit = automatic(&case.a.image, &case.b.image, &Progress::new());
    let millis = start.elapsed().as_secs_f64() * 1e3;
    let Ok(found) = &fit else {
        let came = Came::Refused;
        return Answer {
            came,
            p90: None,
            fit,
            millis,
        };
    };
    let mut errors: Vec<f64> = (case.a.points.iter())
        .filter_map(|(name, p)| Some((p, case.b.points.get(name)?)))
        .map(|(p, q)| {
            let at = match &found.bent {
                Some(bent) => bent.apply(None, Point2D::from(*p)),
                None => found.homography.apply(Point2D::from(*p)),
            };
            at.map_or(f64::INFINITY, |at| (at - Point2D::from(*q)).length())
        })
        .collect();
    errors.sort_by(f64::total_cmp);
    let p90 = errors
        .get((errors.len() * 9).div_ceil(10).saturating_sub(1))
        .copied();
    let fits = case.a.face == case.b.face && p90.is_some_and(|p90| p90 <= case.right_px);
    let named = (case.changed).is_none_or(|corners| covered(&corners, found) >= NAMED);
    let came = if fits && named {
        Came::Right
    } else {
        Came::Wrong
    };
    Answer {
        came,
        p90,
        fit,
        millis,
    }
}

/// A changed part is named when this share of it lies in the regions that the answer names.
const NAMED: f64 = 1.0 / 3.0;

/// Share of the part with these corners that the named regions cover.
fn covered(corners: &[Point2D<f64, PhotoA>; 4], found: &AutoAlignment) -> f64 {
    const STEPS: u32 = 20;
    let along = |k: u32| (f64::from(k) + 0.5) / f64::from(STEPS);
    let places = (0..STEPS * STEPS).map(|k| {
        let (u, v) = (along(k % STEPS), along(k / STEPS));
        let upper = corners[0].lerp(corners[1], u);
        upper.lerp(corners[3].lerp(corners[2], u), v)
    });
    let named = |at: &Point2D<f64, PhotoA>| {
        let holds =
            |d: &Differing| (d.left..d.right).contains(&at.x) && (d.top..d.bottom).contains(&at.y);
        found.differs.iter().any(holds)
    };
    places.filter(named).count() as f64 / f64::from(STEPS * STEPS)
}

/// What came of many cases.
#[derive(Default)]
struct Tally {
    kinds: BTreeMap<&'static str, Vec<(Came, f64)>>,
    /// Trusted answers, and those whose error lay within 2.5 times the expected one.
    trusted: u64,
    honest: u64,
    /// Trusted answers to unchanged boards that name a region that differs.
    alarms: u64,
}

impl Tally {
    fn add(&mut self, number: usize, case: &Case) {
        let answer = answer(case);
        let kind = self.kinds.entry(case.kind).or_default();
        kind.push((answer.came, answer.millis));
        let (a, b) = (&case.a, &case.b);
        let who = format!(
            "{} {number}: {} {} against {} {}",
            case.kind, a.face, a.unit, b.face, b.unit
        );
        match &answer.fit {
            Ok(found) => {
                let expected = found.expected_error_px;
                if a.face == b.face {
                    self.trusted += 1;
                    let alarm = case.changed.is_none() && !found.differs.is_empty();
                    self.alarms += u64::from(alarm);
                    let within = |p90| p90 <= 2.5 * expected.max(0.5);
                    self.honest += u64::from(answer.p90.is_some_and(within));
                }
                let p90 = answer.p90.unwrap_or(f64::INFINITY);
                let word = match answer.came {
                    Came::Wrong => "WRONG",
                    _ if p90 > 2.5 * expected.max(0.5) => "right, but more than promised",
                    _ => "right",
                };
                let other: usize = found.differs.iter().map(|r| r.compared - r.same).sum();
                println!(
                    "{word} {who}: p90 {p90:.1}, expected {expected:.1}; differs in {}, {other} pieces; {:.0} ms; {:?}",
                    found.differs.len(),
                    answer.millis,
                    found.trust
                );
            }
            Err(refusal) => println!("refused {who}: {}; {:.0} ms", refusal.reason, answer.millis),
        }
    }

    fn print(&self) {
        for (kind, came) in &self.kinds {
            let all = came.len() as u64;
            print!("{kind:18} {all:4} cases:");
            for what in [Came::Right, Came::Refused, Came::Wrong] {
                let hits = came.iter().filter(|(came, _)| *came == what).count() as u64;
                let Some(interval) = wilson_95(hits, all) else {
                    continue;
                };
                print!(
                    "  {what:?} {hits} [{:.0}, {:.0} %]",
                    100.0 * interval.low,
                    100.0 * interval.high
                );
            }
            let mean = came.iter().map(|(_, millis)| millis).sum::<f64>() / all.max(1) as f64;
            println!("  {mean:.0} ms each");
        }
        let all: usize = self.kinds.values().map(Vec::len).sum();
        let came = self.kinds.values().flatten();
        let wrong = came.filter(|(came, _)| *came == Came::Wrong).count();
        println!(
            "wrong with trust: {wrong} of {all}; where it is 0, fewer than {:.1} % (3/n)",
            300.0 / all.max(1) as f64
        );
        println!(
            "p90 error within 2.5 times the expected error: {} of {}",
            self.honest, self.trusted
        );
        println!(
            "trusted answers, no revision made, that name a region which differs: {} of {}",
            self.alarms, self.trusted
        );
    }
}

/// Kinds besides the mixed ones: name, share of the mixed cases, and how one is made.
type Make = fn(&[Shot], &mut ChaCha8Rng) -> Option<Case>;
const KINDS: [(&str, f64, bool, Make); 5] = [
    ("close-up, cut", 0.3, true, cases::close_up),
    ("close-up, sample", 0.1, true, cases::sample_close_up),
    ("a row, a pitch on", 0.2, false, cases::row),
    ("header, a pitch on", 0.15, true, cases::header),
    ("another revision", 0.3, false, cases::revision),
];

/// Prints, for each kind of case, how many were right, refused and wrong: about `n` mixed ones,
/// and the other kinds besides. `only`: that kind alone.
pub(super) fn rates(n: usize, folder: &Path, pairs: Option<&Path>, only: Option<&str>) {
    let mut full = samples(folder);
    if let Some(pairs) = pairs {
        full.extend(real(pairs));
    }
    let shots: Vec<Shot> = full.iter().map(|shot| shot.smaller(PIXELS)).collect();
    let wanted = |kind: &str| only.is_none_or(|only| only == kind);
    let mut tally = Tally::default();
    let mut rng = ChaCha8Rng::seed_from_u64(12);
    for number in 0..n {
        if let Some(case) = cases::mixed(&shots, number, &mut rng)
            && wanted(case.kind)
        {
            tally.add(number, &case);
        }
    }
    for (index, (kind, share, at_full_size, make)) in KINDS.iter().enumerate() {
        if !wanted(kind) {
            continue;
        }
        let from = if *at_full_size { &full } else { &shots };
        for number in 0..(share * n as f64) as usize {
            let mut rng = ChaCha8Rng::seed_from_u64((1000 * (index + 1) + number) as u64);
            if let Some(case) = make(from, &mut rng) {
                tally.add(number, &case);
            }
        }
    }
    tally.print();
}
