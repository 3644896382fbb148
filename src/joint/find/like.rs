//! How much a place is like the joints that somebody pointed out on the same photo.
//!
//! The built-in trees know the boards that they were fitted on; on another kind of solder or mask
//! they may find little. A few joints pointed out on the photo itself tell what joints look like
//! there: a logistic regression, held down strongly, on the numbers that the trees read and on what
//! the trees say. What it is surest of then teaches it once more.

use rstar::primitives::GeomWithData;

use super::forest::FOREST;
use super::levels::Level;
use super::places::{Measure, Place, describe_all, thinned};
use super::shape::FEATURES;
use crate::stats::{Case, Logistic, logistic_ridge, median};

/// Fewer examples say too little: of the other joints of eight real photographs .69 was found with
/// three, .83 with five and .89 with eight (`docs/find.md`).
pub const LEAST_EXAMPLES: usize = 5;
/// Numbers of a place: its description and what the trees say.
const WIDTH: usize = FEATURES + 1;
/// The trees' log odds count within this.
const TREES_SAY: f64 = 6.0;
/// Standardised numbers count within this many standard deviations.
const FAR: f64 = 4.0;
/// Numbers that hardly differ over the photo are not blown up.
const LEAST_SPREAD: f64 = 1e-6;
/// How much the examples, and as much the others, weigh against weights of one. Higher learns the
/// examples by heart.
const STRENGTH: f64 = 5.0;
/// Places of the photo that stand for what is no joint. Some are joints; the examples outweigh them.
const BACKGROUND: usize = 3000;
/// Times that the surest finds teach.
const ROUNDS: usize = 2;
/// Most finds that teach.
const MOST_TAUGHT: usize = 400;
/// A find teaches that is as likely as this share of the examples.
const TEACHES: f64 = 0.25;
/// Places nearer to a joint than this, in radii, are no background.
const CLEAR: f64 = 1.2;
/// Moved to where they are likeliest, places from this share of the way between the middle of all
/// and that of the examples teach what a joint is, and those below the other what none is.
const SURE: f64 = 0.8;
const DOUBTFUL: f64 = 0.65;
/// ... and, weighed anew, a place is like the examples from this share on.
const KEPT: f64 = 0.65;
/// What an example has become lies within this many of its radii.
const SAME: f64 = 0.5;
/// Fewer places that are none teach nothing.
const LEAST_BACKGROUND: usize = 20;
/// A place with such log odds is still looked at more closely: moved and sized better it may be one.
const HOPE: f64 = -3.0;
/// Most places that are looked at more closely.
const MOST_PLACES: usize = 6000;
/// Where an example is looked at besides where it was pointed out, and how large, in radii: clicks
/// and rims are off by as much.
const ABOUT: [(f64, f64, f64); 9] = [
    (0.0, 0.0, 1.0),
    (0.1, 0.0, 1.05),
    (-0.1, 0.0, 0.95),
    (0.0, 0.1, 0.95),
    (0.0, -0.1, 1.05),
    (0.07, 0.07, 1.0),
    (-0.07, 0.07, 1.05),
    (0.07, -0.07, 0.95),
    (-0.07, -0.07, 1.0),
];

type Row = [f64; WIDTH];

/// A measure learned from examples.
#[derive(Debug, Clone)]
pub(super) struct Likeness {
    usual: Usual,
    learned: Logistic,
    /// What the examples look like, [`ABOUT`] each, and those that are none.
    examples: Vec<Row>,
    wrong: Vec<Row>,
}

impl Measure for Likeness {
    fn log_odds(&self, features: &[f32; FEATURES]) -> f64 {
        self.learned.log_odds(&self.usual.standard(features))
    }
}

/// What somebody pointed out on the photo.
#[derive(Debug, Clone)]
pub(super) struct Pointed {
    /// Joints.
    pub(super) like: Vec<Place>,
    /// Places that are none.
    pub(super) unlike: Vec<Place>,
}

impl Pointed {
    /// Whether the place is one of those that are none.
    pub(super) fn is_unlike(&self, place: &Place) -> bool {
        self.unlike.iter().any(|no| no.distance(place) < no.r)
    }
}

impl Likeness {
    /// Learns from what was pointed out; `places` are those of the photo that are worth a look,
    /// `described` what they look like. `None` where nothing can be learned.
    pub(super) fn learned(
        levels: &[Level],
        places: &[Place],
        described: &[[f32; FEATURES]],
        pointed: &Pointed,
    ) -> Option<Self> {
        let usual = Usual::of(described);
        let about = |places: &[Place]| -> Vec<Row> {
            usual.rows(levels, &places.iter().flat_map(around).collect::<Vec<_>>())
        };
        let mut likeness = Self {
            examples: about(&pointed.like),
            wrong: about(&pointed.unlike),
            learned: Logistic {
                weights: Vec::new(),
                bias: 0.0,
            },
            usual,
        };
        let rows: Vec<Row> = (described.iter())
            .map(|features| likeness.usual.standard(features))
            .collect();
        let mut taught = Vec::new();
        for round in 0..=ROUNDS {
            let clear = clear_of(&[&pointed.like[..], &taught].concat());
            let background: Vec<&Row> = (places.iter().zip(&rows))
                .step_by(places.len().div_ceil(BACKGROUND).max(1))
                .filter(|(place, _)| clear(place))
                .map(|(_, row)| row)
                .collect();
            if background.len() < LEAST_BACKGROUND {
                return None;
            }
            let more = likeness.usual.rows(levels, &taught);
            likeness.learned = likeness.fit(&more, &background)?;
            if round == ROUNDS {
                break;
            }
            let least = share_below(likeness.best_of_examples(), TEACHES);
            let likely = (places.iter().zip(&rows))
                .map(|(place, row)| Place {
                    odds: likeness.learned.log_odds(row),
                    ..*place
                })
                .filter(|place| place.odds > least && !pointed.is_unlike(place))
                .collect();
            taught = thinned(likely, 1.0);
            taught.truncate(MOST_TAUGHT);
        }
        Some(likeness)
    }

    /// The places that deserve a closer look, likeliest first.
    pub(super) fn likeliest(
        &self,
        places: Vec<Place>,
        described: &[[f32; FEATURES]],
    ) -> Vec<Place> {
        let mut likely: Vec<Place> = (places.into_iter().zip(described))
            .map(|(place, features)| Place {
                odds: self.log_odds(features),
                ..place
            })
            .filter(|place| place.odds > HOPE)
            .collect();
        likely.sort_by(|a, b| {
            (b.odds.total_cmp(&a.odds))
                .then(a.y.total_cmp(&b.y))
                .then(a.x.total_cmp(&b.x))
        });
        likely.truncate(MOST_PLACES);
        likely
    }

    /// Learns once more, from places that were moved to where they are likeliest: the others of
    /// these are now what a joint must be told from. Gives them weighed anew, above zero where they
    /// are nearer to the examples than to the others; nothing where no example was found again.
    pub(super) fn settled(
        &self,
        levels: &[Level],
        places: Vec<Place>,
        like: &[Place],
    ) -> Vec<Place> {
        let rows = self.usual.rows(levels, &places);
        let Some(limits) = Limits::of(&places, like) else {
            return Vec::new();
        };
        let sure = |place: &Place| place.odds >= limits.at(SURE);
        let joints: Vec<Place> = places.iter().copied().filter(sure).collect();
        let clear = clear_of(&[like, &joints].concat());
        let more: Vec<Row> = (places.iter().zip(&rows))
            .filter(|(place, _)| sure(place))
            .map(|(_, row)| *row)
            .take(MOST_TAUGHT)
            .collect();
        let background: Vec<&Row> = (places.iter().zip(&rows))
            .filter(|(place, _)| place.odds < limits.at(DOUBTFUL) && clear(place))
            .map(|(_, row)| row)
            .collect();
        let learned = (background.len() >= LEAST_BACKGROUND)
            .then(|| self.fit(&more, &background))
            .flatten()
            .unwrap_or_else(|| self.learned.clone());
        let mut places: Vec<Place> = (places.into_iter().zip(&rows))
            .map(|(place, row)| Place {
                odds: learned.log_odds(row),
                ..place
            })
            .collect();
        let Some(limits) = Limits::of(&places, like) else {
            return Vec::new();
        };
        for place in &mut places {
            place.odds -= limits.at(KEPT);
        }
        places
    }

    /// For each example, the log odds of where it is likeliest.
    fn best_of_examples(&self) -> Vec<f64> {
        let odds = |row: &Row| self.learned.log_odds(row);
        (self.examples.chunks(ABOUT.len()))
            .map(|rows| rows.iter().map(odds).fold(f64::NEG_INFINITY, f64::max))
            .collect()
    }

    /// Examples, and `more` that are taken for such, against the others. Both count alike however
    /// many they are, and each wrong one as much as one look at an example: somebody may be wrong.
    fn fit(&self, more: &[Row], no: &[&Row]) -> Option<Logistic> {
        let one = STRENGTH / (self.examples.len() + more.len()).max(1) as f64;
        let other = STRENGTH / no.len().max(1) as f64;
        let case = |sought: bool, weight: f64| {
            move |values| Case {
                values,
                sought,
                weight,
            }
        };
        let yes = (self.examples.iter().chain(more)).map(|row| &row[..]);
        let wrong = self.wrong.iter().map(|row| &row[..]);
        let no = no.iter().map(|row| &row[..]);
        let cases: Vec<Case> = (yes.map(case(true, one)))
            .chain(no.map(case(false, other)))
            .chain(wrong.map(case(false, one / ABOUT.len() as f64)))
            .collect();
        logistic_ridge(&cases)
    }
}

/// What the numbers of a photo's places usually are.
#[derive(Debug, Clone)]
struct Usual {
    middle: Row,
    spread: Row,
}

impl Usual {
    fn of(described: &[[f32; FEATURES]]) -> Self {
        let raw: Vec<Row> = described.iter().map(widened).collect();
        let count = raw.len().max(1) as f64;
        let middle: Row =
            std::array::from_fn(|k| raw.iter().map(|row| row[k]).sum::<f64>() / count);
        let spread = std::array::from_fn(|k| {
            let squares: f64 = raw.iter().map(|row| (row[k] - middle[k]).powi(2)).sum();
            (squares / count).sqrt() + LEAST_SPREAD
        });
        Self { middle, spread }
    }

    fn standard(&self, features: &[f32; FEATURES]) -> Row {
        let row = widened(features);
        std::array::from_fn(|k| ((row[k] - self.middle[k]) / self.spread[k]).clamp(-FAR, FAR))
    }

    fn rows(&self, levels: &[Level], places: &[Place]) -> Vec<Row> {
        let described = describe_all(levels, places);
        described.iter().map(|f| self.standard(f)).collect()
    }
}

fn widened(features: &[f32; FEATURES]) -> Row {
    let trees = FOREST.log_odds(features).clamp(-TREES_SAY, TREES_SAY);
    std::array::from_fn(|k| features.get(k).map_or(trees, |v| f64::from(*v)))
}

/// Where the log odds of all places lie, and of those that the examples have become.
struct Limits {
    far: f64,
    near: f64,
}

impl Limits {
    /// `None` where no example was found again.
    fn of(places: &[Place], like: &[Place]) -> Option<Self> {
        let all: Vec<f64> = places.iter().map(|place| place.odds).collect();
        let examples: Vec<f64> = (like.iter())
            .filter_map(|example| {
                (places.iter())
                    .filter(|place| place.distance(example) < SAME * example.r)
                    .map(|place| place.odds)
                    .max_by(f64::total_cmp)
            })
            .collect();
        Some(Self {
            far: median(&all)?,
            near: median(&examples)?,
        })
    }

    /// This share of the way from the one to the other.
    fn at(&self, share: f64) -> f64 {
        self.far + share * (self.near - self.far)
    }
}

/// Tells places that are clear of all these joints, each by its own size.
fn clear_of(joints: &[Place]) -> impl Fn(&Place) -> bool + use<> {
    let lands = (joints.iter()).map(|p| GeomWithData::new([p.x, p.y], CLEAR * p.r));
    let tree = rstar::RTree::bulk_load(lands.collect::<Vec<_>>());
    let reach = CLEAR * joints.iter().map(|p| p.r).fold(0.0, f64::max);
    move |place| {
        let at = [place.x, place.y];
        tree.locate_within_distance(at, reach * reach).all(|land| {
            let [x, y] = *land.geom();
            (x - at[0]).hypot(y - at[1]) >= land.data
        })
    }
}

/// The value that this share of them do not reach.
fn share_below(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let at = (share * values.len() as f64) as usize;
    values.get(at).copied().unwrap_or(0.0)
}

fn around(place: &Place) -> [Place; ABOUT.len()] {
    ABOUT.map(|(dx, dy, size)| Place {
        x: place.x + dx * place.r,
        y: place.y + dy * place.r,
        r: place.r * size,
        ..*place
    })
}
