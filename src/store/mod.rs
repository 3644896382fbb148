//! Outputs: the job folder — journal files, locks, originals.
