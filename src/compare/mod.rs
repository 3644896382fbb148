//! Meaning: the same place on two photos.
