//! Sources: features, robust fits and sub-pixel patches on plain images.
