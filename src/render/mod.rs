//! Outputs: the sample-board renderer with ground truth.
