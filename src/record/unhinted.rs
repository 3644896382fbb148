//! What the eye found before it saw the hint, beside what the hint would have said: counted over
//! the one joint in ten that is judged without it.

use crate::stats::{Interval, wilson_95};

use super::event::{Event, EventId, JointKey, Target, Verdict};
use super::state::{PlaceKey, State};

/// One joint in this many is judged without the hint, so that the job can tell what the eye
/// finds alone: fewer would take hundreds of joints to tell anything (design choice).
const ONE_IN: u64 = 10;

/// The band with which a hint asks for a look, as [`Evidence`](super::Evidence) words it.
const LOOK_FIRST: &str = "look here first";
/// The band of a hint that had nothing to go by.
const NO_READING: &str = "no reading";

/// Whether the hint of a joint stays hidden until somebody has judged it: the same joints on
/// every bench (FNV-1a over the pin's identity; constants from memory).
#[must_use]
pub fn is_unhinted(joint: &JointKey) -> bool {
    let hash = joint
        .pin
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
    (hash >> 7).is_multiple_of(ONE_IN)
}

/// Counts of joints whose hint was hidden when they were first judged. Nobody knows here which
/// of them truly are cracked: the counts say where eye and hint parted, not who was right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct EyeAndHint {
    /// The eye marked it, and the hint would have said *look here first*.
    pub both: usize,
    /// The eye marked it; the hint would have asked for no first look.
    pub eye_alone: usize,
    /// The hint would have said *look here first*; the eye saw no fault.
    pub hint_alone: usize,
    /// Neither.
    pub neither: usize,
    /// Judged, but the hint had no reading there, or none was kept.
    pub without_reading: usize,
    /// Joints that could not be judged.
    pub not_judged: usize,
}

impl EyeAndHint {
    /// Joints on which both spoke.
    #[must_use]
    pub fn compared(&self) -> usize {
        self.both + self.eye_alone + self.hint_alone + self.neither
    }

    /// Share of what the eye marked that the hint would have asked for, 95 % (Wilson); `None`
    /// where the eye marked nothing.
    #[must_use]
    pub fn hint_of_eye(&self) -> Option<Interval> {
        wilson_95(self.both as u64, (self.both + self.eye_alone) as u64)
    }

    /// The same for a paper, whose reader has no window to ask: says what a hint that asks for
    /// nothing is worth. Never says that either is right.
    #[must_use]
    pub fn words_on_paper(&self) -> String {
        let n = self.compared();
        let joints = if n == 1 { "joint was" } else { "joints were" };
        let marked = self.both + self.eye_alone;
        let mut words = match marked {
            0 => format!("{n} {joints} judged before the hint was shown. The eye marked none."),
            _ => format!(
                "{n} {joints} judged before the hint was shown. The eye marked {marked}: the \
                 hint would have asked for {} of those first, and passed {} over.",
                self.both, self.eye_alone
            ),
        };
        words += &match self.hint_alone {
            0 => String::new(),
            1 => " It would have asked for one more joint, where the eye saw no fault.".to_owned(),
            k => format!(" It would have asked for {k} more joints, where the eye saw no fault."),
        };
        if let Some(share) = self.hint_of_eye() {
            words += &format!(
                " So the hint asks for between {:.0} and {:.0} in a hundred of what the eye marks \
                 (95 % interval).",
                (share.low * 100.0).floor(),
                (share.high * 100.0).ceil()
            );
        }
        words
            + " A joint that the hint passes over is to be looked at like any other: a low hint \
               clears nothing. Which of the two was right only the soldering iron tells."
    }

    /// In sentences, for people. Never says that either is right.
    #[must_use]
    pub fn words(&self) -> String {
        let n = self.compared();
        if n == 0 {
            return "One joint in ten is judged before its hint is shown. None of those has been \
                    judged yet with a reading to set beside it, so nothing can be counted."
                .to_owned();
        }
        let joints = if n == 1 { "joint was" } else { "joints were" };
        let mut words = format!(
            "{n} {joints} judged before the hint was shown. The eye marked {}; of those the hint \
             would have asked for {} first. The hint would have asked for {} more, where the eye \
             saw no fault.",
            self.both + self.eye_alone,
            self.both,
            self.hint_alone,
        );
        if let Some(share) = self.hint_of_eye() {
            words += &format!(
                " So between {:.0} and {:.0} in a hundred of what the eye marks is what the hint \
                 asks for (95 % interval).",
                (share.low * 100.0).floor(),
                (share.high * 100.0).ceil()
            );
        }
        if self.without_reading > 0 {
            words += &format!(" On {} more the hint had no reading.", self.without_reading);
        }
        words + " Which of the two was right only the soldering iron tells."
    }
}

/// Counts the first counted judgement of every joint whose hint is hidden until then. Looks at
/// the board itself are left out: no photo, no hint.
#[must_use]
pub fn eye_and_hint(state: &State) -> EyeAndHint {
    let mut counts = EyeAndHint::default();
    for (key, place) in &state.places {
        let PlaceKey::Joint(joint) = key else {
            continue;
        };
        if !is_unhinted(joint) {
            continue;
        }
        let Some(first) = place.story.first() else {
            continue;
        };
        count(state, *first, joint, &mut counts);
    }
    counts
}

fn count(state: &State, first: EventId, joint: &JointKey, counts: &mut EyeAndHint) {
    let Some(judgement) = state
        .log
        .iter()
        .find_map(|logged| match &logged.event.what {
            Event::Judged(judgement) if logged.event.id == first => Some(judgement),
            _ => None,
        })
    else {
        return;
    };
    // A row judged at one stroke was judged by its worst member: it tells nothing of this one.
    if judgement.targets != [Target::Joint(joint.clone())] || judgement.seen_on.is_none() {
        return;
    }
    let marked = match judgement.verdict {
        Verdict::Suspect | Verdict::Faulty => true,
        Verdict::NoFaultSeen => false,
        Verdict::CannotBeJudged => {
            counts.not_judged += 1;
            return;
        }
        Verdict::Reworked | Verdict::Accepted => return,
    };
    let evidence = judgement
        .evidence
        .as_ref()
        .filter(|evidence| evidence.band != NO_READING);
    let Some(evidence) = evidence else {
        counts.without_reading += 1;
        return;
    };
    match (marked, evidence.band == LOOK_FIRST) {
        (true, true) => counts.both += 1,
        (true, false) => counts.eye_alone += 1,
        (false, true) => counts.hint_alone += 1,
        (false, false) => counts.neither += 1,
    }
}
