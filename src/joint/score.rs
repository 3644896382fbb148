//! From the measured line to a likelihood, a band and a sentence.

use super::JointSpot;
use super::report::{Band, Measured, photo_noise};

/// What the numbers rest on.
pub const CALIBRATION: &str = "not calibrated: a contrast scale from 0 to 1, set on cracks drawn into photographs of real joints, none of them a real crack; use the rank and the drawn arc first. A low value clears no joint.";

/// Bands: from here down *no line seen*.
const LOW: f64 = 0.25;
/// ... from here up *look here first*.
const HIGH: f64 = 0.65;

/// What the other joints of the same photo say about its light and its noise.
pub(crate) struct Scene {
    noise: f64,
}

/// The judgement of one joint.
pub(crate) struct Verdict {
    pub(crate) likelihood: f64,
    pub(crate) band: Band,
    pub(crate) depth_sigma: f64,
    pub(crate) z: Option<f64>,
}

impl Scene {
    pub(crate) fn of<'a>(measured: impl Iterator<Item = &'a Measured>) -> Self {
        let noises: Vec<f64> = measured.map(|m| f64::from(m.noise)).collect();
        Self {
            noise: photo_noise(&noises),
        }
    }

    pub(crate) fn verdict(&self, measured: &Measured) -> Verdict {
        let mean = f64::from(measured.traced.line);
        let likelihood = 1.0 / (1.0 + (-(mean - 0.3) * 12.0).exp());
        let band = match likelihood {
            l if l >= HIGH => Band::LookHereFirst,
            l if l < LOW => Band::NoLineSeen,
            _ => Band::CannotTell,
        };
        Verdict {
            likelihood,
            band,
            depth_sigma: f64::from(measured.traced.arc_depth) / self.noise,
            z: None,
        }
    }
}

/// What was seen, in one or two sentences.
pub(crate) fn sentence(verdict: &Verdict, arc_deg: f64, spot: &JointSpot) -> String {
    let scale = match spot.px_per_mm {
        Some(scale) => format!("{scale:.0} px/mm"),
        None => format!("{:.0} px across", 2.0 * spot.land_radius_px),
    };
    let line = if arc_deg > 0.0 {
        format!(
            "A dark arc runs {arc_deg:.0} degrees round the pin, {:.1} times deeper than this photo's noise.",
            verdict.depth_sigma
        )
    } else {
        "No dark arc was found round the pin.".to_owned()
    };
    match verdict.band {
        Band::NoLineSeen => format!(
            "{line} That is no more than this photo's reflections make at {scale}; a finer crack would not show, and this clears nothing."
        ),
        Band::CannotTell => format!(
            "{line} Reflections can do the same at {scale}: look again under another lamp angle."
        ),
        _ => line,
    }
}
