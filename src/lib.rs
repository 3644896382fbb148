//! Benchglass: for the person who repairs old electronics alone at a bench. It keeps where you
//! are on the board, what has not been looked at yet, what still forbids the next power stage,
//! and the rework list to hand over.
//!
//! Floors, arrows only downwards (checked by `tests/architecture.rs`):
//! ground [`geometry`] [`stats`] [`progress`] and wide vectors; sources [`board`] [`photo`] [`register`];
//! meaning [`record`] [`align`] [`joint`] [`compare`]; outputs [`work`] [`store`] [`paper`]
//! [`render`]; faces [`cli`] and, behind the feature `desk`, the window.

pub mod align;
pub mod board;
pub mod cli;
pub mod compare;
#[cfg(feature = "desk")]
pub mod desk;
pub mod geometry;
pub mod joint;
pub mod paper;
pub mod photo;
pub mod progress;
pub mod record;
pub mod register;
pub mod render;
pub mod stats;
pub mod store;
mod wide;
pub mod work;
