//! Faces: the window.
