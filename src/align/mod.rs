//! Meaning: finding where on the board a photo looks.
