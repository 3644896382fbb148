//! Fits that features propose.

use euclid::{Box2D, Point2D};
use rayon::prelude::*;

use super::view::{AtoB, Shown, View, apart};
use crate::align::refusal::{Refusal, RefusalKind as Kind};
use crate::geometry::{Homography, PhotoA, PhotoB};
use crate::register::{
    Feature, Match, consensuses, features, guided_matches, is_a_view, match_features, mirrored,
    settle,
};

/// Fewer features than this are no detail.
const LEAST_FEATURES: usize = 20;

/// Tolerance of the consensus, px at the feature size.
const TOLERANCE_PX: f64 = 3.0;

/// Seed of the consensus; any number would do, but always the same.
const SEED: u64 = 0x0062_656e_6368;

/// Search radii of the guided rounds, px at the feature size: the first spans what four matches
/// in one corner leave open at the other.
const GUIDED: [f64; 6] = [48.0, 32.0, 20.0, 14.0, 10.0, 8.0];

/// A fit with as many matches as this ...
const MANY: usize = 60;

/// ... spread over this share of either edge of the first picture leaves no corner that far open ...
const SPREAD_OVER: f32 = 0.5;

/// ... and is spared as many of the first rounds as this.
const SPARED: usize = 2;

/// Cauchy scale of a guided round as a share of its radius.
const GUIDED_WIDTH: f64 = 1.0 / 6.0;

/// Fewer guided matches than this settle no fit.
const LEAST_GUIDED: usize = 12;

/// Fits nearer to each other than this are one: the first refinement would bring them together.
const SAME_FIT_PX: f64 = 6.0;

/// A photo's features at one size.
pub(super) struct Sight {
    pub(super) view: View,
    pub(super) features: Vec<Feature>,
}

/// How closely a photo is looked at for features.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub(super) pixels: f64,
    pub(super) most: usize,
}

impl Sight {
    pub(super) fn of(name: &str, photo: Shown, look: Look) -> Result<Self, Refusal> {
        let view = photo.view(look.pixels)?;
        let features = features(&view.plane, look.most);
        if features.len() < LEAST_FEATURES {
            return Err(Refusal::new(
                Kind::NoDetail,
                format!(
                    "the {name} has almost no detail ({} features)",
                    features.len()
                ),
                "take it again in focus and with more light, or click landmarks",
            ));
        }
        Ok(Self { view, features })
    }

    /// The photo as it is seen.
    pub(super) fn shown(&self) -> Shown<'_> {
        Shown::whole(&self.view.gray)
    }

    /// The sight of the same photo mirrored left for right.
    pub(super) fn mirrored(&self) -> Self {
        let view = self.view.mirrored();
        let features = mirrored(&self.features, view.gray.width());
        Self { view, features }
    }
}

/// A fit between two sights' working pixels with the feature matches behind it.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub(super) fit: AtoB,
    pub(super) matches: usize,
}

/// The fits that families of matches agree on, each settled on matches looked for near it; and
/// the number of matches. Looked for from either photo: near the edge of what can be matched at
/// all, one way often finds what the other misses.
pub(super) fn candidates(a: &Sight, b: &Sight) -> (Vec<Candidate>, usize) {
    let matches = match_features(&a.features, &b.features);
    let turned: Vec<Match> = (matches.iter())
        .map(|m| Match {
            a: m.b,
            b: m.a,
            ratio: m.ratio,
        })
        .collect();
    let (forth, back) = rayon::join(
        || consensuses::<PhotoA, PhotoB>(&a.features, &b.features, &matches, TOLERANCE_PX, SEED),
        || consensuses::<PhotoB, PhotoA>(&b.features, &a.features, &turned, TOLERANCE_PX, SEED),
    );
    let size = a.view.gray.dimensions();
    let rounds = |inliers: &[usize]| -> &'static [f64] {
        let places = inliers.iter().map(|i| &a.features[matches[*i].a]);
        if inliers.len() >= MANY && spread(places, size) {
            &GUIDED[SPARED..]
        } else {
            &GUIDED
        }
    };
    let forth = (forth.into_iter()).map(|found| (found.transform, rounds(&found.inliers)));
    let back = back.into_iter().filter_map(|found| {
        let fit = found.transform.inverse().ok()?;
        Some((fit, rounds(&found.inliers)))
    });
    let rough = distinct(forth.chain(back), |(fit, _)| *fit, size);
    let settled: Vec<Candidate> = (rough.par_iter())
        .filter_map(|(fit, rounds)| {
            let (fit, matches) = settled(&a.features, &b.features, *fit, rounds)?;
            Some(Candidate { fit, matches })
        })
        .collect();
    (
        distinct(settled.into_iter(), |candidate| candidate.fit, size),
        matches.len(),
    )
}

/// Whether the places reach over much of the picture, either way.
fn spread<'a>(places: impl Iterator<Item = &'a Feature>, (width, height): (u32, u32)) -> bool {
    let extent = Box2D::<f32, ()>::from_points(places.map(|f| Point2D::new(f.x, f.y)));
    extent.width() >= SPREAD_OVER * width as f32 && extent.height() >= SPREAD_OVER * height as f32
}

/// Those of the `found` whose fit is another than those before it.
fn distinct<T>(
    found: impl Iterator<Item = T>,
    fit: impl Fn(&T) -> AtoB,
    size: (u32, u32),
) -> Vec<T> {
    let mut kept: Vec<T> = Vec::new();
    for one in found {
        let same = |other: &T| apart(&fit(other), &fit(&one), size, [0.25, 0.75]) < SAME_FIT_PX;
        if !kept.iter().any(same) {
            kept.push(one);
        }
    }
    kept
}

fn settled<A, B>(
    a: &[Feature],
    b: &[Feature],
    start: Homography<A, B>,
    rounds: &[f64],
) -> Option<(Homography<A, B>, usize)> {
    let mut fit = start;
    let mut used = 0;
    for reach in rounds {
        let near = guided_matches(a, b, &fit, *reach);
        if near.len() < LEAST_GUIDED {
            return None;
        }
        let from: Vec<_> = (near.iter())
            .map(|m| Point2D::new(f64::from(a[m.a].x), f64::from(a[m.a].y)))
            .collect();
        let to: Vec<_> = (near.iter())
            .map(|m| Point2D::new(f64::from(b[m.b].x), f64::from(b[m.b].y)))
            .collect();
        fit = settle(&from, &to, None, &fit, (reach * GUIDED_WIDTH).max(1.5))?;
        let off =
            |(f, t): (&Point2D<f64, _>, &Point2D<f64, _>)| Some((fit.apply(*f)? - *t).length());
        let close: Vec<_> = (from.iter().zip(&to))
            .filter(|pair| off(*pair).is_some_and(|off| off < TOLERANCE_PX))
            .map(|(f, _)| *f)
            .collect();
        used = close.len();
        if used < LEAST_GUIDED / 2 || !is_a_view(&fit, &Box2D::from_points(close)) {
            return None;
        }
    }
    Some((fit, used))
}
