//! Faces: the command line.
