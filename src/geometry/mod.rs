//! Ground floor: typed coordinate spaces and the transforms between them.
//!
//! Two spaces exist and cannot be mixed up, because they are different types:
//! [`BoardPoint`] is millimetres, x to the right and y up as seen from the component
//! side; [`PhotoPoint`] is pixels of the *upright* photo, with (0, 0) at the centre of
//! the top-left pixel, x to the right and y down.

mod fit;
mod homography;
mod lens;
mod projection;
mod shapes;
mod spread;

pub use fit::{FitError, Handed, fit_affine, fit_homography, fit_similarity};
pub use homography::{Homography, HomographyError};
pub use lens::{Lens, LensError};
pub use projection::{BackProjection, Projection};
pub use shapes::{Circle, Polygon, circle_through, convex_hull};
pub use spread::FitSpread;

/// Unit tag of board millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoardMm {}

/// Unit tag of upright photo pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoPx {}

/// Unit tag of the upright pixels of the first of two photos (the reference).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoA {}

/// Unit tag of the upright pixels of the second of two photos.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoB {}

/// A point on a board, in millimetres (y up, seen from the component side).
pub type BoardPoint = euclid::Point2D<f64, BoardMm>;
/// A displacement on a board, in millimetres.
pub type BoardVector = euclid::Vector2D<f64, BoardMm>;
/// A rectangle on a board, in millimetres.
pub type BoardBox = euclid::Box2D<f64, BoardMm>;
/// A point of an upright photo, in pixels; (0, 0) is the centre of the top-left pixel.
pub type PhotoPoint = euclid::Point2D<f64, PhotoPx>;
/// A displacement in an upright photo, in pixels.
pub type PhotoVector = euclid::Vector2D<f64, PhotoPx>;
/// A rectangle in an upright photo, in pixels.
pub type PhotoBox = euclid::Box2D<f64, PhotoPx>;
