//! Limits that are checked before memory is asked for, and the memory budget that all decoding
//! threads share.

use std::path::Path;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use super::error::PhotoError;

/// Largest photo that is opened. Larger than any phone's or camera's single shot (about 100 MP at
/// the time of writing, common practice, no source); raising it lets one photo take more memory.
const MAX_PIXELS: u64 = 120_000_000;
/// Longest side: stitched panoramas reach it first. The JPEG standard itself ends at 65535.
const MAX_SIDE: u32 = 32_768;
/// Largest file. An uncompressed 16-bit RGB photo of [`MAX_PIXELS`] would be 720 MB and is
/// refused; an 8-bit one (360 MB) still opens.
const MAX_FILE_BYTES: u64 = 400 << 20;
/// Memory that all decodes together may hold. Two photos of 50 MP decode at once within it;
/// a decode that needs more than the whole runs alone.
const DECODE_MEMORY: u64 = 1 << 30;
/// Bytes held per pixel while a photo is decoded, as an upper estimate: RGB twice (turning it
/// upright makes a copy) and the 16-bit coefficients of a progressive JPEG.
const DECODE_BYTES_PER_PIXEL: u64 = 12;

/// How large a photo may be. Checked from the header, before memory is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest width times height. Default 120 000 000.
    pub max_pixels: u64,
    /// Longest side in pixels. Default 32 768.
    pub max_side: u32,
    /// Largest file in bytes. Default 400 MiB.
    pub max_file_bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            max_pixels: MAX_PIXELS,
            max_side: MAX_SIDE,
            max_file_bytes: MAX_FILE_BYTES,
        }
    }
}

impl Limits {
    /// Refuses a file of too many bytes.
    pub(super) fn check_bytes(&self, path: &Path, bytes: u64) -> Result<(), PhotoError> {
        if bytes <= self.max_file_bytes {
            return Ok(());
        }
        Err(PhotoError::TooManyBytes {
            path: path.to_path_buf(),
            bytes,
            max_bytes: self.max_file_bytes,
        })
    }

    /// Refuses a photo of too many pixels, or of none.
    pub(super) fn check_size(&self, path: &Path, size: [u32; 2]) -> Result<(), PhotoError> {
        let [width, height] = size;
        if width == 0 || height == 0 {
            return Err(PhotoError::Damaged {
                path: path.to_path_buf(),
                detail: format!("its header says {width} x {height} pixels"),
            });
        }
        let pixels = u64::from(width) * u64::from(height);
        if pixels <= self.max_pixels && width.max(height) <= self.max_side {
            return Ok(());
        }
        Err(PhotoError::TooManyPixels {
            path: path.to_path_buf(),
            width,
            height,
            max_pixels: self.max_pixels,
            max_side: self.max_side,
        })
    }

    /// The same limits for the decoders of the `image` crate.
    pub(super) fn for_decoder(&self) -> image::Limits {
        let mut limits = image::Limits::default();
        limits.max_image_width = Some(self.max_side);
        limits.max_image_height = Some(self.max_side);
        // Sixteen-bit RGBA, the widest pixel that is read, and room for one row more.
        limits.max_alloc = Some(self.max_pixels.saturating_mul(8).saturating_add(1 << 20));
        limits
    }
}

/// The budget that every decode of this program draws on.
static SHARED: Budget = Budget::new(DECODE_MEMORY);

/// Waits until the photo may be decoded; the room is given back when the result is dropped.
///
/// Nothing that holds a permit asks for a second one or waits for a shared worker pool, so that
/// threads that wait here cannot block the ones that decode.
pub(super) fn decode_permit(size: [u32; 2]) -> Permit<'static> {
    let pixels = u64::from(size[0]) * u64::from(size[1]);
    SHARED.take(pixels.saturating_mul(DECODE_BYTES_PER_PIXEL))
}

/// A semaphore counted in bytes, served in the order of asking so that a large photo is not
/// overtaken for ever by small ones.
#[derive(Debug)]
pub(super) struct Budget {
    total: u64,
    state: Mutex<Queue>,
    changed: Condvar,
}

#[derive(Debug)]
struct Queue {
    used: u64,
    next_ticket: u64,
    serving: u64,
}

/// Bytes taken from a [`Budget`].
#[derive(Debug)]
pub(super) struct Permit<'a> {
    budget: &'a Budget,
    bytes: u64,
}

impl Budget {
    const fn new(total: u64) -> Self {
        Self {
            total,
            state: Mutex::new(Queue {
                used: 0,
                next_ticket: 0,
                serving: 0,
            }),
            changed: Condvar::new(),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Queue> {
        // Plain counters: a thread that panicked while holding the lock left them whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits for `bytes`; a request beyond the whole budget waits to be alone.
    fn take(&self, bytes: u64) -> Permit<'_> {
        let bytes = bytes.min(self.total);
        let mut queue = self.lock();
        let ticket = queue.next_ticket;
        queue.next_ticket += 1;
        while queue.serving != ticket || queue.used + bytes > self.total {
            queue = self
                .changed
                .wait(queue)
                .unwrap_or_else(PoisonError::into_inner);
        }
        queue.used += bytes;
        queue.serving += 1;
        drop(queue);
        self.changed.notify_all();
        Permit {
            budget: self,
            bytes,
        }
    }
}

impl Drop for Permit<'_> {
    fn drop(&mut self) {
        self.budget.lock().used -= self.bytes;
        self.budget.changed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering};

    #[test]
    fn threads_together_never_hold_more_than_the_budget() {
        let budget = Budget::new(100);
        let held = AtomicU64::new(0);
        let peak = AtomicU64::new(0);
        std::thread::scope(|scope| {
            for worker in 0..8_u64 {
                let (budget, held, peak) = (&budget, &held, &peak);
                scope.spawn(move || {
                    for round in 0..50_u64 {
                        // Some ask for more than there is: they must come through, alone.
                        let ask = (worker * 37 + round * 13) % 140 + 1;
                        let permit = budget.take(ask);
                        let now = held.fetch_add(permit.bytes, Ordering::SeqCst) + permit.bytes;
                        peak.fetch_max(now, Ordering::SeqCst);
                        std::thread::yield_now();
                        held.fetch_sub(permit.bytes, Ordering::SeqCst);
                    }
                });
            }
        });
        let peak = peak.load(Ordering::SeqCst);
        assert!(peak <= 100, "peak {peak}");
        assert!(peak > 50, "threads did overlap or ran full: peak {peak}");
        assert_eq!(budget.lock().used, 0, "everything was given back");
    }

    #[test]
    fn limits_name_both_numbers() {
        let limits = Limits {
            max_pixels: 100,
            max_side: 50,
            max_file_bytes: 10,
        };
        let path = Path::new("board.png");
        assert!(limits.check_size(path, [10, 10]).is_ok());
        let error = limits.check_size(path, [60, 1]).unwrap_err().to_string();
        assert!(
            error.contains("60 x 1") && error.contains("50 a side"),
            "{error}"
        );
        assert!(matches!(
            limits.check_size(path, [0, 4]),
            Err(PhotoError::Damaged { .. })
        ));
        assert!(matches!(
            limits.check_bytes(path, 11),
            Err(PhotoError::TooManyBytes { bytes: 11, .. })
        ));
    }
}
