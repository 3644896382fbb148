//! Tests of the fold, coverage and the gate.

mod folding;
mod gates;
mod laws;
mod unhinted;
mod unknown;
