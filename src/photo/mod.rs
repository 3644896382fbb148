//! Sources: opening photographs — EXIF orientation applied exactly once, limits, quality, pyramid.
