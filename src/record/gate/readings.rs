//! What the gate says of readings: rails cold, unloaded and loaded, and test points.

use std::collections::BTreeMap;

use crate::board::{BoardMap, Expect, Limits, Rail, TestPoint};

use super::super::event::{Measurement, ReadingMode, Subject};
use super::super::limits::{WithinLimits, judge_reading};
use super::super::reason::Reason;
use super::super::state::Current;
use super::Gate;

/// One quantity that a subject must show.
struct Asked {
    quantity: Expect,
    min: Option<f64>,
    max: Option<f64>,
}

impl Gate<'_> {
    /// Resistance of each rail to its return. Where the map does not say how low it may be, a
    /// short circuit could not be told from a rail that is in order.
    pub(super) fn cold_rails(&self, found: &mut Vec<Reason>) {
        for (map, rail) in self.rails() {
            let asked = [Asked {
                quantity: Expect::Ohm,
                min: rail.cold_min_ohm,
                max: None,
            }];
            self.subject(
                rail_subject(map, rail, ReadingMode::Cold),
                &asked,
                None,
                found,
            );
        }
    }

    /// Each rail with the load unplugged.
    pub(super) fn unloaded_rails(&self, found: &mut Vec<Reason>) {
        for (map, rail) in self.rails() {
            let asked = [volts(rail.unloaded)];
            self.subject(
                rail_subject(map, rail, ReadingMode::Unloaded),
                &asked,
                None,
                found,
            );
        }
    }

    /// Each rail with the load connected, and its ripple and current where the map asks.
    pub(super) fn loaded_rails(&self, found: &mut Vec<Reason>) {
        for (map, rail) in self.rails() {
            let mut asked = vec![volts(rail.loaded)];
            if rail.ripple_max_mv_pp.is_some() {
                asked.push(Asked {
                    quantity: Expect::MillivoltsPp,
                    min: None,
                    max: rail.ripple_max_mv_pp,
                });
            }
            if rail.amperes_max.is_some() {
                asked.push(Asked {
                    quantity: Expect::AmperesDc,
                    min: None,
                    max: rail.amperes_max,
                });
            }
            self.subject(
                rail_subject(map, rail, ReadingMode::Loaded),
                &asked,
                None,
                found,
            );
        }
    }

    /// Each test point under the settings that the map states.
    pub(super) fn test_points(&self, found: &mut Vec<Reason>) {
        for map in &self.maps {
            for point in &map.test_points {
                let asked: Vec<Asked> = point
                    .expect
                    .iter()
                    .map(|e| Asked {
                        quantity: e.quantity,
                        min: e.min,
                        max: e.max,
                    })
                    .collect();
                let subject = point_subject(map, point);
                self.subject(subject, &asked, Some(&point.settings), found);
            }
        }
    }

    /// Loaded rails that were not measured again since position `closed_up` of the record.
    pub(super) fn rails_before(&self, closed_up: usize, found: &mut Vec<Reason>) {
        for (map, rail) in self.rails() {
            let subject = rail_subject(map, rail, ReadingMode::Loaded);
            // A rail that was never measured is held by the load stage already.
            let Some(current) = self.state.measurements.get(&subject) else {
                continue;
            };
            let asked = |quantity| {
                matches!(
                    quantity,
                    Expect::VoltsDc | Expect::MillivoltsPp | Expect::AmperesDc
                )
            };
            let before = |reading: &&Current<Measurement>| {
                !self.state.is_after(reading.position, closed_up)
                    && (reading.what.readings.iter()).any(|r| asked(r.quantity))
            };
            if standing(current).iter().any(before) {
                found.push(Reason::ReadingBeforeClosing { subject });
            }
        }
    }

    fn rails(&self) -> impl Iterator<Item = (&BoardMap, &Rail)> {
        self.maps
            .iter()
            .flat_map(|map| map.rails.iter().map(move |rail| (*map, rail)))
    }

    /// The current readings of a subject must show every quantity, and each that shows it within its limits.
    fn subject(
        &self,
        subject: Subject,
        asked: &[Asked],
        settings: Option<&BTreeMap<String, String>>,
        found: &mut Vec<Reason>,
    ) {
        let current = self
            .state
            .measurements
            .get(&subject)
            .map_or(&[][..], Vec::as_slice);
        let standing = standing(current);
        if let Some(stale) = standing.iter().find_map(|reading| reading.stale.clone()) {
            found.push(Reason::ReadingStale { subject, stale });
            return;
        }
        let mut reasons = Vec::new();
        let mut counting: Vec<&Measurement> = Vec::new();
        for reading in &standing {
            match settings.and_then(|wanted| other_setting(&subject, wanted, &reading.what)) {
                Some(reason) => reasons.push(reason),
                None => counting.push(&reading.what),
            }
        }
        if !counting.is_empty() {
            // Readings under other settings lie beside those that count and hold nothing back.
            reasons.clear();
        }
        for asked in asked {
            quantity(&subject, asked, &counting, &mut reasons);
        }
        for reason in reasons {
            if !found.contains(&reason) {
                found.push(reason);
            }
        }
    }
}

fn quantity(
    subject: &Subject,
    asked: &Asked,
    counting: &[&Measurement],
    reasons: &mut Vec<Reason>,
) {
    let Asked { quantity, min, max } = *asked;
    let missing = || Reason::ReadingMissing {
        subject: subject.clone(),
        quantity,
    };
    if judge_reading(min, max, 0.0) == WithinLimits::NoTolerance {
        reasons.push(Reason::NoTolerance {
            subject: subject.clone(),
            quantity,
        });
    }
    let mut values = (counting.iter())
        .flat_map(|measurement| &measurement.readings)
        .filter(|reading| reading.quantity == quantity)
        .map(|reading| reading.value)
        .peekable();
    if values.peek().is_none() {
        reasons.push(missing());
    }
    for value in values {
        match judge_reading(min, max, value) {
            WithinLimits::Within | WithinLimits::NoTolerance => {}
            WithinLimits::Blank => reasons.push(missing()),
            WithinLimits::Outside => reasons.push(Reason::ReadingOutside {
                subject: subject.clone(),
                quantity,
                value,
                min,
                max,
            }),
        }
    }
}

/// The first control that did not stand as the map asks.
fn other_setting(
    subject: &Subject,
    wanted: &BTreeMap<String, String>,
    measurement: &Measurement,
) -> Option<Reason> {
    wanted.iter().find_map(|(control, wanted)| {
        let found = measurement.settings.get(control);
        let same = found.is_some_and(|found| found.trim() == wanted.trim());
        (!same).then(|| Reason::OtherSettings {
            subject: subject.clone(),
            control: control.clone(),
            wanted: wanted.clone(),
            found: found.cloned(),
        })
    })
}

/// The readings that have a say: those that still hold, or, where none does, the stale ones.
fn standing(current: &[Current<Measurement>]) -> Vec<&Current<Measurement>> {
    let any_fresh = current.iter().any(|reading| reading.stale.is_none());
    current
        .iter()
        .filter(|reading| reading.stale.is_none() || !any_fresh)
        .collect()
}

fn volts(limits: Limits) -> Asked {
    Asked {
        quantity: Expect::VoltsDc,
        min: Some(limits.min),
        max: Some(limits.max),
    }
}

fn rail_subject(map: &BoardMap, rail: &Rail, mode: ReadingMode) -> Subject {
    Subject::Rail {
        board: map.board.clone(),
        rail: rail.name.clone(),
        mode,
    }
}

fn point_subject(map: &BoardMap, point: &TestPoint) -> Subject {
    Subject::TestPoint {
        board: map.board.clone(),
        name: point.name.clone(),
    }
}
