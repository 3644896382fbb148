//! Checks of the main job against something outside the project. Each names its source.
#![expect(
    clippy::unwrap_used,
    reason = "a fixture that cannot be read fails the test"
)]

mod board_import; // board maps, their schema and the centroid import
mod classify; // scikit-learn
mod csv_papers; // RFC 4180 and the OWASP prefix rule
mod exif; // EXIF orientation against Pillow's exif_transpose
mod hint_reference; // scikit-image warp_polar, Immerkaer 1996
mod homography; // OpenCV fixtures
mod map_import; // IPC-D-356 and Gerber: published records and rules
mod rails; // fixed-regulator limits, common practice
mod registration; // scikit-image phase_cross_correlation
mod wilson; // Newcombe 1998
