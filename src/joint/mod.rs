//! Meaning: the crack hint and other measures on single joints.
