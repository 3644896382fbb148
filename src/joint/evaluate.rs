//! How good the hint was on joints whose truth is known.

use serde::Serialize;

use crate::stats::{
    Interval, alarms_at_recall, average_precision, brier, brier_skill, calibration_error,
    group_bootstrap_95, reliability, roc_auc, wilson_95,
};

use super::report::Band;

/// Version of the JSON that `benchglass evaluate --json` prints.
const EVALUATION_SCHEMA: u32 = 1;
/// Recall at which false alarms are counted (crack-hint protocol, "Metrics").
const ALARM_RECALL: f64 = 0.9;
/// Bins of equal mass of the calibration error (same source).
const BINS: usize = 10;
/// Redraws of the bootstrap (same source).
const DRAWS: u32 = 2000;
/// Limits of the size classes, px across.
const PX_LIMITS: [f64; 5] = [0.0, 36.0, 48.0, 72.0, f64::INFINITY];

/// A figure of likelihoods and truth; `None` where they do not carry one.
type Measure<'a> = dyn Fn(&[f64], &[bool]) -> Option<f64> + Sync + 'a;

/// One joint whose truth is known, with what the hint said of it.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownJoint {
    /// Number of its group (photo) for the bootstrap.
    pub group: usize,
    /// Diameter of the land, photo px.
    pub px_across: f64,
    /// What the hint said; `None` for no reading.
    pub likelihood: Option<f64>,
    /// The hint's band.
    pub band: Band,
    /// The truth.
    pub cracked: bool,
}

/// One figure with its 95 % interval over redrawn groups.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Figure {
    /// The figure; `null` where the joints allow none.
    pub value: Option<f64>,
    /// Lower end; `null` with fewer than two groups.
    pub low: Option<f64>,
    /// Upper end; `null` with fewer than two groups.
    pub high: Option<f64>,
}

/// The figures of one set of joints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Groups (photos) they come from.
    pub groups: usize,
    /// Joints with a known truth.
    pub joints: usize,
    /// How many of them are cracked.
    pub cracked: usize,
    /// How many were read.
    pub read: usize,
    /// Area under the ROC curve, over what was read.
    pub roc_auc: Figure,
    /// Average precision, over what was read. It depends on how many are cracked.
    pub average_precision: Figure,
    /// False alarms per 100 joints that are not cracked, at 90 % recall.
    pub false_alarms_per_100: Figure,
    /// Brier score.
    pub brier: Figure,
    /// Brier skill against the share of cracked joints.
    pub brier_skill: Figure,
    /// Expected calibration error, ten bins of equal mass.
    pub calibration_error: Figure,
    /// Share of joints without a reading.
    pub no_reading: Figure,
}

/// One class of size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeClass {
    /// From this many px across ...
    pub from_px: f64,
    /// ... to below this many; `null` for no upper limit.
    pub to_px: Option<f64>,
    /// Its figures.
    pub figures: Figures,
}

/// One bin of the reliability plot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reliability {
    /// Mean likelihood said.
    pub said: f64,
    /// Share that was cracked.
    pub came: f64,
    /// Wilson 95 % interval of that share. It takes the joints as separate and is too narrow for that.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Joints.
    pub n: u64,
}

/// Share of each band among joints of one truth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bands {
    /// *look here first*
    pub look_here_first: f64,
    /// *cannot tell*
    pub cannot_tell: f64,
    /// *no line seen*
    pub no_line_seen: f64,
    /// *no reading*
    pub no_reading: f64,
}

/// The whole evaluation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Evaluation {
    /// Version of this layout: 1.
    pub schema: u32,
    /// What the figures rest on.
    pub basis: String,
    /// Over all joints.
    pub all: Figures,
    /// By px across; empty classes are left out.
    pub by_px: Vec<SizeClass>,
    /// Bands of the cracked joints; `null` where there are none.
    pub bands_cracked: Option<Bands>,
    /// Bands of the others; `null` where there are none.
    pub bands_others: Option<Bands>,
    /// The reliability plot.
    pub reliability: Vec<Reliability>,
}

/// Evaluates; `seed` decides the redraws.
#[must_use]
pub fn evaluate(joints: &[KnownJoint], seed: u64) -> Evaluation {
    let everything: Vec<&KnownJoint> = joints.iter().collect();
    let by_px = PX_LIMITS
        .windows(2)
        .filter_map(|w| {
            let class: Vec<&KnownJoint> = joints
                .iter()
                .filter(|j| j.px_across >= w[0] && j.px_across < w[1])
                .collect();
            (!class.is_empty()).then(|| SizeClass {
                from_px: w[0],
                to_px: w[1].is_finite().then_some(w[1]),
                figures: figures(&class, seed),
            })
        })
        .collect();
    let (said, truth) = read(joints.iter());
    Evaluation {
        schema: EVALUATION_SCHEMA,
        basis: "Figures of these joints only. Where their cracks are drawn or rendered, nothing follows for real cracks.".to_owned(),
        all: figures(&everything, seed),
        by_px,
        bands_cracked: bands(joints, true),
        bands_others: bands(joints, false),
        reliability: reliability(&said, &truth, BINS)
            .into_iter()
            .filter_map(|bin| {
                let interval = wilson_95(bin.hits, bin.n)?;
                Some(Reliability {
                    said: bin.said,
                    came: bin.came,
                    low: interval.low,
                    high: interval.high,
                    n: bin.n,
                })
            })
            .collect(),
    }
}

fn read<'a>(joints: impl Iterator<Item = &'a KnownJoint>) -> (Vec<f64>, Vec<bool>) {
    joints
        .filter_map(|j| Some((j.likelihood?, j.cracked)))
        .unzip()
}

fn figures(joints: &[&KnownJoint], seed: u64) -> Figures {
    let mut numbers: Vec<usize> = joints.iter().map(|j| j.group).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let groups: Vec<Vec<usize>> = numbers
        .iter()
        .map(|g| {
            (0..joints.len())
                .filter(|i| joints[*i].group == *g)
                .collect()
        })
        .collect();
    let every: Vec<usize> = (0..joints.len()).collect();
    let figure = |of: &(dyn Fn(&[usize]) -> Option<f64> + Sync)| {
        let interval: Option<Interval> = group_bootstrap_95(&groups, DRAWS, seed, of);
        Figure {
            value: of(&every),
            low: interval.map(|i| i.low),
            high: interval.map(|i| i.high),
        }
    };
    let over_read = |of: &Measure<'_>| {
        figure(&|cases| {
            let (said, truth) = read(cases.iter().map(|i| joints[*i]));
            of(&said, &truth)
        })
    };
    Figures {
        groups: groups.len(),
        joints: joints.len(),
        cracked: joints.iter().filter(|j| j.cracked).count(),
        read: joints.iter().filter(|j| j.likelihood.is_some()).count(),
        roc_auc: over_read(&roc_auc),
        average_precision: over_read(&average_precision),
        false_alarms_per_100: over_read(&|s, t| {
            alarms_at_recall(s, t, ALARM_RECALL).map(|a| 100.0 * a)
        }),
        brier: over_read(&brier),
        brier_skill: over_read(&brier_skill),
        calibration_error: over_read(&|s, t| calibration_error(s, t, BINS)),
        no_reading: figure(&|cases| {
            let unread = cases
                .iter()
                .filter(|i| joints[**i].likelihood.is_none())
                .count();
            (!cases.is_empty()).then(|| unread as f64 / cases.len() as f64)
        }),
    }
}

fn bands(joints: &[KnownJoint], cracked: bool) -> Option<Bands> {
    let of: Vec<&KnownJoint> = joints.iter().filter(|j| j.cracked == cracked).collect();
    let share = |band| of.iter().filter(|j| j.band == band).count() as f64 / of.len() as f64;
    (!of.is_empty()).then(|| Bands {
        look_here_first: share(Band::LookHereFirst),
        cannot_tell: share(Band::CannotTell),
        no_line_seen: share(Band::NoLineSeen),
        no_reading: share(Band::NoReading),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn joint(group: usize, likelihood: Option<f64>, cracked: bool) -> KnownJoint {
        KnownJoint {
            group,
            px_across: if group == 0 { 40.0 } else { 60.0 },
            likelihood,
            band: Band::CannotTell,
            cracked,
        }
    }

    #[test]
    fn figures_are_over_what_was_read_and_counted_by_size() {
        let mut joints = Vec::new();
        for group in 0..3 {
            for k in 0..10 {
                joints.push(joint(group, Some(f64::from(k) / 10.0), k >= 5));
            }
        }
        joints.push(joint(0, None, true));
        let e = evaluate(&joints, 1);
        assert_eq!(
            (e.all.joints, e.all.read, e.all.cracked, e.all.groups),
            (31, 30, 16, 3)
        );
        assert_eq!(e.all.roc_auc.value, Some(1.0));
        assert_eq!(e.all.false_alarms_per_100.value, Some(0.0));
        assert!((e.all.no_reading.value.unwrap() - 1.0 / 31.0).abs() < 1e-12);
        assert!(e.all.no_reading.low.unwrap() <= e.all.no_reading.high.unwrap());
        assert_eq!(e.by_px.len(), 2);
        assert_eq!(
            (e.by_px[0].figures.joints, e.by_px[1].figures.joints),
            (11, 20)
        );
        // One photo alone has no interval: nothing to redraw.
        assert_eq!(e.by_px[0].figures.roc_auc.low, None);
        assert_eq!(e.reliability.len(), BINS);
    }

    #[test]
    fn no_joints_make_no_figures() {
        let e = evaluate(&[], 1);
        assert_eq!((e.all.joints, e.all.roc_auc.value), (0, None));
        assert!(e.reliability.is_empty() && e.bands_cracked.is_none());
    }
}
