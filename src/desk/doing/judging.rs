//! Saying what was seen.

use crate::desk::app::Desk;
use crate::desk::model::{FaultOn, Pending};
use crate::record::{Fault, FaultKind, Target, Verdict};
use crate::work::{Action, Wish, evidence, usual_severity};

impl Desk {
    pub(super) fn no_fault_seen(&mut self) {
        let on_slip = self.model.bench.as_ref().is_some_and(|bench| {
            bench.chosen().iter().any(|&i| {
                let place = bench.session.state().place(&bench.stops[i].target);
                place.is_some_and(|place| place.is_mark() && !place.is_accepted())
            })
        });
        if on_slip {
            self.model.pending = Pending::Note(String::new(), Some(Verdict::NoFaultSeen));
        } else {
            self.judge(Verdict::NoFaultSeen, Vec::new(), "", "");
        }
    }

    pub(super) fn ask_fault(&mut self, on: FaultOn) {
        // A fault is named of the joint itself: no twin stands in its place meanwhile.
        self.with_bench(|bench| bench.twins.on_glass = None);
        self.model.pending = Pending::Fault {
            filter: String::new(),
            severity: None,
            on,
        };
    }

    pub(super) fn name_fault(&mut self, kind: FaultKind) {
        let Pending::Fault { severity, on, .. } = std::mem::take(&mut self.model.pending) else {
            return;
        };
        let Some(bench) = &self.model.bench else {
            return;
        };
        let targets: Vec<Target> = match &on {
            FaultOn::Stop => bench
                .chosen()
                .iter()
                .map(|&i| bench.stops[i].target.clone())
                .collect(),
            FaultOn::Part => bench
                .stop()
                .and_then(|stop| stop.part_target.clone())
                .into_iter()
                .collect(),
            FaultOn::Area(target) => vec![target.clone()],
            FaultOn::Unit(what) => vec![Target::Unit {
                what: what.trim().to_owned(),
            }],
        };
        let severity =
            severity.unwrap_or_else(|| usual_severity(bench.session.maps(), &targets, kind));
        let fault = Fault {
            fault: kind,
            severity,
            action: String::new(),
        };
        match on {
            FaultOn::Stop => self.judge(Verdict::Faulty, vec![fault], "", ""),
            FaultOn::Unit(what) if what.trim().is_empty() => {
                self.model.tell(
                    "What the fault is on has no name.",
                    "Type it: mains cord, plug, case.",
                    true,
                );
            }
            _ => {
                let mut wish = Wish::new(targets, Verdict::Faulty);
                wish.faults = vec![fault];
                if matches!(on, FaultOn::Part) && bench.stop_on_photo().is_some() {
                    wish.photo = bench.photo.clone();
                }
                self.record(Action::Judge(wish));
            }
        }
    }

    pub(super) fn entered(&mut self) {
        match std::mem::take(&mut self.model.pending) {
            Pending::Obstacle(text) => self.judge(Verdict::CannotBeJudged, Vec::new(), &text, ""),
            Pending::Note(text, Some(verdict)) => self.judge(verdict, Vec::new(), "", &text),
            Pending::Note(text, None) => {
                let Some(bench) = &self.model.bench else {
                    return;
                };
                let name = bench
                    .stop()
                    .map(|stop| format!("{}: ", stop.name))
                    .unwrap_or_default();
                let photo = bench.photo.clone();
                if text.trim().is_empty() {
                    return;
                }
                self.record(Action::Note {
                    text: format!("{name}{}", text.trim()),
                    photo,
                });
            }
            Pending::GoTo(text) => self.go_to_typed(&text),
            other => self.model.pending = other,
        }
    }

    /// Records a verdict on the chosen stops and goes on to the next.
    pub(super) fn judge(
        &mut self,
        verdict: Verdict,
        faults: Vec<Fault>,
        obstacle: &str,
        note: &str,
    ) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let chosen = bench.chosen();
        let Some(&last) = chosen.last() else { return };
        let mut wish = Wish::new(
            chosen
                .iter()
                .map(|&i| bench.stops[i].target.clone())
                .collect(),
            verdict,
        );
        wish.faults = faults;
        wish.obstacle = obstacle.trim().to_owned();
        wish.note = note.trim().to_owned();
        if bench.stop_on_photo().is_some() {
            wish.photo = bench.photo.clone();
        }
        if let [only] = chosen.as_slice() {
            let stop = &bench.stops[*only];
            wish.evidence = bench
                .hint(stop)
                .map(|(report, hint)| evidence(report, hint));
            if let Target::Photo(spot) = &stop.target {
                wish.spot = Some(spot.clone());
            }
        }
        if self.record(Action::Judge(wish)) {
            self.with_bench(|bench| {
                bench.whole_row = false;
                bench.clicked.retain(|spot| {
                    bench
                        .session
                        .state()
                        .place(&Target::Photo(spot.clone()))
                        .is_none()
                });
                bench.here = Some(last.min(bench.stops.len().saturating_sub(1)));
            });
            self.walk(1);
        }
    }
}
