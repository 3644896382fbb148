//! Sources: the board map of a model — parts, pins and lands in millimetres, with what to
//! measure on them — its parser, linter and imports.

mod model;

pub use model::{
    BoardMap, Expect, Extent, Land, LandShape, Landmark, Limits, Outline, Part, PartKind, Pin,
    Rail, Side, TestPoint, Zone,
};
