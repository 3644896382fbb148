//! Ground floor: plain counters and a cancel flag for long work.
//!
//! The worker holds a clone and ticks it; the command line prints it, the window draws it.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use thiserror::Error;

/// The user asked for the work to stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("stopped on request")]
pub struct Cancelled;

#[derive(Debug, Default)]
struct Counters {
    done: AtomicU64,
    total: AtomicU64,
    cancelled: AtomicBool,
}

/// Shared progress of one piece of long work. Clones share the counters.
#[derive(Debug, Clone, Default)]
pub struct Progress {
    counters: Arc<Counters>,
}

impl Progress {
    /// A fresh counter at 0 of 0.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Sets how many steps there will be.
    pub fn expect(&self, total: u64) {
        self.counters.total.store(total, Ordering::Relaxed);
    }

    /// One step is done.
    ///
    /// # Errors
    /// [`Cancelled`] where someone asked for the work to stop.
    pub fn tick(&self) -> Result<(), Cancelled> {
        self.counters.done.fetch_add(1, Ordering::Relaxed);
        self.check()
    }

    /// Looks at the cancel flag without counting a step.
    ///
    /// # Errors
    /// [`Cancelled`] where someone asked for the work to stop.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.counters.cancelled.load(Ordering::Relaxed) {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }

    /// Asks the worker to stop at its next step.
    pub fn cancel(&self) {
        self.counters.cancelled.store(true, Ordering::Relaxed);
    }

    /// Steps done and expected.
    #[must_use]
    pub fn counts(&self) -> (u64, u64) {
        (
            self.counters.done.load(Ordering::Relaxed),
            self.counters.total.load(Ordering::Relaxed),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clones_share_counts_and_the_flag() {
        let worker = Progress::new();
        let watcher = worker.clone();
        worker.expect(2);
        assert_eq!(worker.tick(), Ok(()));
        assert_eq!(watcher.counts(), (1, 2));
        watcher.cancel();
        assert_eq!(worker.tick(), Err(Cancelled));
    }
}
