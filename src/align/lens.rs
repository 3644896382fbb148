//! The bend of the lens, and whether it or a click makes landmarks disagree.
//!
//! A phone's lens bends the picture by some pixels at its corners. A homography cannot follow,
//! and a landmark near a corner then seems badly placed. One radial coefficient ([`Lens`]) is
//! fitted with the homography where the landmarks carry it: where it cuts the misfit by far more
//! than chance, and, where a click stands out, by more than leaving out that click does.

use super::checks::Placed;
use super::suspect::{LeftOut, SuspectClick, blended_sd, sum_of_squares};
use crate::geometry::{
    BoardMm, BoardPoint, Homography, Lens, PhotoPoint, PhotoPx, Projection, fit_homography,
};

/// Fewest landmarks that can show a bend: with seven, five residuals are left.
const LEAST: usize = 7;

/// Strongest bend that is taken for a lens: beyond it a photo is a fish-eye's, and more likely a
/// click is wrong.
const MOST_BEND: f64 = 0.1;

/// Bends that are tried before the best is refined.
const TRIES: u32 = 41;
const STEP: f64 = 2.0 * MOST_BEND / (TRIES - 1) as f64;

/// The scatter left with a bent lens against that left without the worst click, as standard
/// deviations. Nearer to 1 excuses bad clicks, lower accuses good ones: on the sample photos,
/// whose lenses bend, it is at most 0.67 where the lens is at fault; 180 views without a bend and
/// with one click 8 to 40 px off never came below it.
const BETTER: f64 = 0.75;

/// How much one coefficient must cut the misfit, as the F statistic of one against the residuals
/// left: 12 is the one-in-a-hundred point for 1 and 7 (tables of F, from memory).
const CUT: f64 = 12.0;

/// Coefficients of a homography with a bend.
const FREEDOM: usize = 9;

/// A homography and a bend fitted to points.
#[derive(Debug, Clone, Copy)]
struct Fitted {
    lens: Lens,
    /// From the board to where the points would be without the lens.
    fit: Homography<BoardMm, PhotoPx>,
    /// Sum of squared residuals there, square px.
    squares: f64,
}

impl Fitted {
    fn with(lens: Lens, from: &[BoardPoint], to: &[PhotoPoint]) -> Option<Self> {
        let to: Vec<PhotoPoint> = to
            .iter()
            .map(|p| lens.straight(*p))
            .collect::<Option<_>>()?;
        let fit = fit_homography(from, &to, None).ok()?;
        let squares = sum_of_squares(&fit, from, &to)?;
        Some(Self { lens, fit, squares })
    }

    /// The best of all bends up to [`MOST_BEND`].
    fn best(size: [u32; 2], from: &[BoardPoint], to: &[PhotoPoint]) -> Option<Self> {
        let at = |k: f64| Self::with(Lens::new(size, k).ok()?, from, to);
        let cost = |k: f64| Some(at(k)?.squares);
        let tried = (0..TRIES).map(|i| f64::from(i) * STEP - MOST_BEND);
        let (near, _) = tried
            .filter_map(|k| Some((k, cost(k)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        at(refined(near, STEP, cost)?.0)
    }

    fn projection(&self) -> Projection {
        Projection {
            photo_from_board: self.fit,
            lens: Some(self.lens),
        }
    }
}

/// Landmarks with the bend of the lens taken out.
#[derive(Debug, Clone)]
pub(super) struct Bent {
    fitted: Fitted,
    /// The landmarks where they would be without the lens.
    pub(super) straight: Vec<Placed>,
    /// The fit if the lens bent by its standard error more.
    other: Projection,
}

/// The bend that these landmarks carry, if they do; `squares` is what their fit leaves without it.
pub(super) fn bent(found: &[Placed], size: [u32; 2], squares: f64) -> Option<Bent> {
    if found.len() < LEAST {
        return None;
    }
    let from: Vec<BoardPoint> = found.iter().map(|p| p.board).collect();
    let to: Vec<PhotoPoint> = found.iter().map(|p| p.photo).collect();
    let fitted = Fitted::best(size, &from, &to)?;
    let (k, left) = (fitted.lens.k(), fitted.squares);
    // Clicks that agree by luck would make a bend of what is left: the usual care weighs in.
    let variance = blended_sd(left, 2 * found.len() - FREEDOM).powi(2);
    if squares - left < CUT * variance || k.abs() >= MOST_BEND {
        return None;
    }
    let at = |k: f64| Fitted::with(Lens::new(size, k).ok()?, &from, &to);
    // The sum of squares is a parabola in k near its least: its curvature gives the error of k.
    let aside = STEP / 2.0;
    let rise = at(k + aside)?.squares + at(k - aside)?.squares - 2.0 * left;
    let error = (variance * 2.0 * aside * aside / rise).sqrt();
    let straight = found.iter().map(|placed| {
        Some(Placed {
            photo: fitted.lens.straight(placed.photo)?,
            ..placed.clone()
        })
    });
    Some(Bent {
        other: at(k + error)?.projection(),
        straight: straight.collect::<Option<_>>()?,
        fitted,
    })
}

/// How far a lens bends that nobody has measured, as a standard deviation of the coefficient: a
/// percent at the corners (common practice, no source; phones that straighten their pictures bend
/// less, wide zooms more).
const USUAL_BEND: f64 = 0.01;

/// Root mean square over `places` of the error that a bend makes which points fitted without one
/// do not show, px. `variance` is that of a click per axis; points that would show a bend of the
/// usual strength leave less of it open.
pub(super) fn unknown_bend_px(
    from: &[BoardPoint],
    to: &[PhotoPoint],
    size: [u32; 2],
    variance: f64,
    places: &[BoardPoint],
) -> Option<f64> {
    let at = |k: f64| Fitted::with(Lens::new(size, k).ok()?, from, to);
    let (here, more, less) = (at(0.0)?, at(USUAL_BEND)?, at(-USUAL_BEND)?);
    let rise = (more.squares + less.squares - 2.0 * here.squares).max(0.0);
    // Weights of what is usual and of what the points say of the coefficient.
    let usual = 1.0 / USUAL_BEND.powi(2);
    let shown = rise / (2.0 * USUAL_BEND.powi(2) * variance);
    let open = (usual + shown).sqrt().recip();
    let (here, bent) = (here.projection(), at(open)?.projection());
    let squares = places.iter().map(|place| {
        (here.apply(*place).zip(bent.apply(*place)))
            .map_or(f64::INFINITY, |(a, b)| (a - b).square_length())
    });
    Some((squares.sum::<f64>() / places.len() as f64).sqrt())
}

/// The projection of a photo of `size` that comes nearest to `through` at `places`, and the root
/// mean square of what is left, px: a photo matched with one whose lens bends is bent too.
pub fn projection_through(
    places: &[BoardPoint],
    size: [u32; 2],
    through: impl Fn(BoardPoint) -> Option<PhotoPoint>,
) -> Option<(Projection, f64)> {
    let (from, to): (Vec<_>, Vec<_>) = places
        .iter()
        .filter_map(|at| Some((*at, through(*at)?)))
        .unzip();
    let fitted = Fitted::best(size, &from, &to)?;
    let rms = (fitted.squares / from.len() as f64).sqrt();
    Some((fitted.projection(), rms))
}

fn freedom(found: &[Placed], taken: usize) -> f64 {
    (2 * found.len()).saturating_sub(taken) as f64
}

impl Bent {
    pub(super) fn projection(&self) -> Projection {
        self.fitted.projection()
    }

    pub(super) fn lens(&self) -> &Lens {
        &self.fitted.lens
    }

    /// Whether it explains the misfit better than leaving out any one click does.
    pub(super) fn explains_more_than_a_click(&self, left_out: &[Option<LeftOut>]) -> bool {
        let least = (left_out.iter().flatten())
            .map(|left| left.rest)
            .fold(f64::INFINITY, f64::min);
        let without_one = least / freedom(&self.straight, FREEDOM + 1);
        self.scatter_px() <= BETTER * without_one.sqrt()
    }

    /// Scatter of the clicks with the bend allowed for, px per axis.
    pub(super) fn scatter_px(&self) -> f64 {
        (self.fitted.squares / freedom(&self.straight, FREEDOM)).sqrt()
    }

    /// A click that stands out among the straightened ones, where the photo shows it.
    pub(super) fn seen(&self, click: SuspectClick) -> SuspectClick {
        let [x, y] = click.expected_px;
        let at = self.fitted.lens.bend(PhotoPoint::new(x, y));
        SuspectClick {
            expected_px: at.map_or(click.expected_px, |at| [at.x, at.y]),
            ..click
        }
    }

    /// Root mean square over `places` of the error that not knowing the bend exactly makes, px.
    pub(super) fn error_px(&self, places: &[BoardPoint]) -> f64 {
        let here = self.projection();
        let squares = places.iter().map(|at| {
            let (a, b) = (here.apply(*at), self.other.apply(*at));
            a.zip(b)
                .map_or(f64::INFINITY, |(a, b)| (a - b).square_length())
        });
        (squares.sum::<f64>() / places.len() as f64).sqrt()
    }
}

/// The least of `cost` within a step of `near`, by halving the step.
fn refined(near: f64, step: f64, cost: impl Fn(f64) -> Option<f64>) -> Option<(f64, f64)> {
    let (mut at, mut best, mut step) = (near, cost(near)?, step);
    for _ in 0..20 {
        step /= 2.0;
        for to in [at - step, at + step] {
            if let Some(other) = cost(to).filter(|other| *other < best) {
                (at, best) = (to, other);
            }
        }
    }
    Some((at, best))
}
