//! The hint of every listed joint of one photo.

use image::RgbImage;
use rayon::prelude::*;
use serde::{Serialize, Serializer};

use crate::progress::Progress;

use super::features::{Traced, trace};
use super::gate::{self, Gate, NoReading};
use super::lanes::Lanes;
use super::light::Patch;
use super::polar::{Frame, Ring};
use super::sample::Grid;
use super::score::{self, CALIBRATION};
use super::{JointError, JointSpot};

/// Version of the JSON that `benchglass hint --json` prints.
pub const SCHEMA: u32 = 1;

/// What the hint says of one joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Band {
    /// Nothing like a crack was seen at this scale. It clears nothing.
    NoLineSeen,
    /// Something is there that solder's own reflections also make.
    CannotTell,
    /// A line like a crack: look here before the others.
    LookHereFirst,
    /// The photo cannot carry a reading of this joint.
    NoReading,
}

impl Band {
    /// The words shown and printed.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoLineSeen => "no line seen",
            Self::CannotTell => "cannot tell",
            Self::LookHereFirst => "look here first",
            Self::NoReading => "no reading",
        }
    }
}

impl Serialize for Band {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}

/// The hint of one photo.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HintReport {
    /// Version of this layout: [`SCHEMA`].
    pub schema: u32,
    /// What the numbers rest on, in plain words.
    pub calibration: String,
    /// One entry per listed joint, in the order of the list.
    pub joints: Vec<JointHint>,
}

/// The hint of one joint.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JointHint {
    /// Name from the list.
    pub id: String,
    /// Crack likelihood, 0..=1 (see [`HintReport::calibration`]), or `null` for no reading.
    pub likelihood: Option<f64>,
    /// What it comes to.
    pub band: Band,
    /// 1 is the joint to look at first in this photo; `null` for no reading.
    pub rank: Option<usize>,
    /// A sentence: what was seen, or why there is no reading and what would help.
    pub reason: String,
    /// Length of the dark arc round the pin, degrees, 0..=360; `null` for no reading.
    pub arc_deg: Option<f64>,
    /// Depth of the arc in multiples of this photo's noise; `null` for no reading.
    pub depth_sigma: Option<f64>,
    /// Points of the arc, upright photo pixels.
    pub arc: Vec<[f64; 2]>,
    /// Diameter of the land, photo px.
    pub px_across: f64,
    /// Scale here, px/mm, where it is known.
    pub px_per_mm: Option<f64>,
    /// Robust z of this joint's line against the other joints of this photo; `null` where fewer than
    /// five can be read.
    pub z_in_photo: Option<f64>,
    /// Log odds that the path is a crack before it is compared with the rest of the photo: what the likelihood
    /// rests on; `null` for no reading.
    pub line: Option<f64>,
    /// What the quality gate measured; `null` where the joint was not cut out.
    pub gate: Option<Gate>,
}

/// One joint measured, before it is compared with the others of its photo.
pub(crate) struct Measured {
    pub(crate) ring: Ring,
    pub(crate) lanes: Lanes,
    pub(crate) traced: Traced,
    pub(crate) gate: Gate,
    pub(crate) noise: f32,
    pub(crate) patch: Patch,
}

/// What the report keeps of a measured joint: a list of a hundred thousand must not keep its pictures.
pub(crate) struct Reading {
    pub(crate) line: f64,
    pub(crate) arc_deg: f64,
    /// Median contrast over the arc, log units.
    pub(crate) arc_depth: f64,
    pub(crate) noise: f64,
    gate: Gate,
    arc: Vec<[f64; 2]>,
}

#[cfg(test)]
impl Reading {
    /// A reading with this line and arc and nothing else of note.
    pub(crate) fn with(line: f64, arc_deg: f64) -> Self {
        Self {
            line,
            arc_deg,
            arc_depth: 0.3,
            noise: 0.1,
            gate: Gate {
                edge_px: None,
                unknown: 0.0,
                snr: 10.0,
            },
            arc: Vec::new(),
        }
    }
}

impl From<Measured> for Reading {
    fn from(measured: Measured) -> Self {
        Self {
            line: f64::from(measured.traced.line),
            arc_deg: measured.traced.arc_deg(),
            arc_depth: f64::from(measured.traced.arc_depth),
            noise: f64::from(measured.noise),
            gate: measured.gate,
            arc: arc_in_photo(&measured),
        }
    }
}

/// What became of one joint, with the gate's figures where it came that far.
pub(crate) type Outcome<T> = Result<T, (NoReading, Option<Gate>)>;

/// Measures one joint by itself.
pub(crate) fn measure(photo: &RgbImage, spot: &JointSpot) -> Outcome<Measured> {
    let patch = Patch::cut(photo, spot).map_err(|o| (NoReading::Outside(o), None))?;
    gate::size(spot.land_radius_px, spot.px_per_mm).map_err(|n| (n, None))?;
    gate::view(spot.tilt_deg).map_err(|n| (n, None))?;
    let noise = patch.noise();
    let grid = Grid::of(&patch.log, patch.side);
    let ring = Ring::unroll(&patch, &grid, Frame::of(&patch));
    let gate = gate::measure(&patch, &ring, noise);
    gate.judge().map_err(|n| (n, Some(gate)))?;
    let lanes = Lanes::unroll(&patch, &grid, Frame::of(&patch));
    let traced = trace(&lanes);
    Ok(Measured {
        ring,
        lanes,
        traced,
        gate,
        noise,
        patch,
    })
}

/// Looks at every spot of one upright photo. Spots are measured in parallel; the result does not
/// depend on how many threads there are.
///
/// A spot that the photo cannot carry (too small, soft, glaring, cut by the edge) gets *no reading*
/// with the reason: that is a result, not an error.
///
/// # Errors
/// [`JointError::Cancelled`] where the work was stopped through `progress`.
pub fn hint_photo(
    photo: &RgbImage,
    spots: &[JointSpot],
    progress: &Progress,
) -> Result<HintReport, JointError> {
    progress.expect(spots.len() as u64);
    let readings: Vec<Outcome<Reading>> = spots
        .par_iter()
        .map(|spot| {
            progress.check()?;
            let outcome = measure(photo, spot).map(Reading::from);
            progress.tick()?;
            Ok(outcome)
        })
        .collect::<Result<_, JointError>>()?;
    let scene = score::Scene::of(readings.iter().filter_map(|r| r.as_ref().ok()));
    let mut joints: Vec<JointHint> = spots
        .iter()
        .zip(&readings)
        .map(|(spot, outcome)| hint(spot, outcome, &scene))
        .collect();
    rank(&mut joints);
    Ok(HintReport {
        schema: SCHEMA,
        calibration: CALIBRATION.to_owned(),
        joints,
    })
}

fn hint(spot: &JointSpot, outcome: &Outcome<Reading>, scene: &score::Scene) -> JointHint {
    let blank = JointHint {
        id: spot.id.clone(),
        likelihood: None,
        band: Band::NoReading,
        rank: None,
        reason: String::new(),
        arc_deg: None,
        depth_sigma: None,
        arc: Vec::new(),
        px_across: rounded(2.0 * spot.land_radius_px, 10.0),
        px_per_mm: spot.px_per_mm,
        z_in_photo: None,
        line: None,
        gate: None,
    };
    let reading = match outcome {
        Ok(reading) => reading,
        Err((why, gate)) => {
            return JointHint {
                reason: why.sentence(),
                gate: *gate,
                ..blank
            };
        }
    };
    let verdict = scene.verdict(reading);
    JointHint {
        likelihood: Some(rounded(verdict.likelihood, 1e4)),
        band: verdict.band,
        reason: score::sentence(&verdict, reading.arc_deg, spot),
        arc_deg: Some(reading.arc_deg),
        depth_sigma: Some(rounded(verdict.depth_sigma, 100.0)),
        arc: reading.arc.clone(),
        z_in_photo: verdict.z.map(|z| rounded(z, 100.0)),
        line: Some(rounded(reading.line, 1e4)),
        gate: Some(reading.gate),
        ..blank
    }
}

fn arc_in_photo(measured: &Measured) -> Vec<[f64; 2]> {
    measured
        .traced
        .arc_points(&measured.lanes)
        .into_iter()
        .map(|(x, y)| {
            let p = measured.patch.to_photo(x, y);
            [rounded(p.x, 100.0), rounded(p.y, 100.0)]
        })
        .collect()
}

/// Highest likelihood first; equal ones in the order of the list.
fn rank(joints: &mut [JointHint]) {
    let mut order: Vec<usize> = (0..joints.len())
        .filter(|i| joints[*i].likelihood.is_some())
        .collect();
    order.sort_by(|a, b| {
        let (a, b) = (
            joints[*a].likelihood.unwrap_or(0.0),
            joints[*b].likelihood.unwrap_or(0.0),
        );
        b.total_cmp(&a)
    });
    for (place, i) in order.into_iter().enumerate() {
        joints[i].rank = Some(place + 1);
    }
}

fn rounded(value: f64, scale: f64) -> f64 {
    if value.is_finite() {
        (value * scale).round() / scale
    } else {
        value
    }
}
