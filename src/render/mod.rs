//! Outputs: the project's own board renderer. Everything it makes is invented and says so.
//!
//! [`maps`] and [`units`] are the invented Fernhollow FH-12; [`render_photo`] makes one picture
//! with its truth.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    reason = "pixels, hashes and picture sizes are converted on purpose and stay in range"
)]

mod assemble;
mod atlas;
mod bands;
mod body;
mod camera;
mod encode;
mod error;
mod font;
mod light;
mod noise;
mod parts3d;
mod picture;
mod route;
mod scenario;
mod scene;
mod sensor;
mod set;
mod shade;
mod skin;
mod solder;
mod spec;
#[cfg(test)]
mod tests;
mod workshop;

pub use camera::Camera;
pub use encode::{CAMERA, NOTICE};
pub use error::RenderError;
pub use light::{Lamp, LampShape, Light};
pub use scenario::{MODEL, PlantedFault, UnitSpec, maps, units};
pub use set::{
    Made, reduced_plan, render_plan, render_reduced_set, render_sample_set, sample_plan,
};
pub use spec::{CrackTruth, Distortion, JointTruth, PhotoSpec, PhotoTruth, Rendered, UnitTruth};
pub use workshop::{Workshop, render_photo};
