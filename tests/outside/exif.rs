//! (filled by its room)
