//! Saying what was seen.

use crate::desk::app::Desk;
use crate::desk::model::{Bench, FaultOn, Pending};
use crate::record::{Fault, FaultKind, PhotoId, Target, Verdict};
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
            self.say(Verdict::NoFaultSeen);
        }
    }

    /// Records a verdict that needs no more words.
    pub(super) fn say(&mut self, verdict: Verdict) {
        self.judge(verdict, Vec::new(), "", "");
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
        let chosen = severity;
        let severity =
            severity.unwrap_or_else(|| usual_severity(bench.session.maps(), &targets, kind));
        let fault = Fault {
            fault: kind,
            severity,
            action: String::new(),
        };
        let recorded = match &on {
            FaultOn::Stop => self.judge(Verdict::Faulty, vec![fault], "", ""),
            FaultOn::Unit(what) if what.trim().is_empty() => {
                self.model.tell(
                    "What the fault is on has no name.",
                    "Type it: mains cord, plug, case.",
                    true,
                );
                false
            }
            _ => {
                let mut wish = Wish::new(targets, Verdict::Faulty);
                wish.faults = match wish.targets.as_slice() {
                    [target] => bench.with_standing(target, &fault),
                    _ => vec![fault],
                };
                // A close-up of one of its joints may not show the middle of the part.
                let seen = bench.is_seen() && bench.shows_middle_of_part();
                if matches!(on, FaultOn::Part) && seen {
                    wish.photo = bench.photo.clone();
                }
                self.record(Action::Judge(wish))
            }
        };
        if !recorded {
            // What was typed and chosen waits for the remedy.
            self.model.pending = Pending::Fault {
                filter: String::new(),
                severity: chosen,
                on,
            };
        }
    }

    pub(super) fn entered(&mut self) {
        let typed = std::mem::take(&mut self.model.pending);
        let recorded = match &typed {
            Pending::Obstacle(text) => self.judge(Verdict::CannotBeJudged, Vec::new(), text, ""),
            Pending::Note(text, Some(verdict)) => self.judge(*verdict, Vec::new(), "", text),
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
                })
            }
            Pending::GoTo(text) => {
                self.go_to_typed(text);
                true
            }
            Pending::Nothing | Pending::Fault { .. } => false,
        };
        if !recorded {
            // What was typed is not lost where it could not be written down.
            self.model.pending = typed;
        }
    }

    /// Records a verdict on the chosen stops and goes on to the next. Whether it was recorded.
    pub(super) fn judge(
        &mut self,
        verdict: Verdict,
        faults: Vec<Fault>,
        obstacle: &str,
        note: &str,
    ) -> bool {
        let Some(bench) = &self.model.bench else {
            return false;
        };
        let chosen = bench.chosen();
        let Some(&last) = chosen.last() else {
            return false;
        };
        let judged = bench.stops.get(last).map(|stop| stop.target.clone());
        let on_photo = bench.stop_on_photo().is_some();
        let seen = on_photo && bench.is_seen();
        // A rework, its recheck and an obstacle are told of the board itself where a photo is lost.
        let by_hand = matches!(
            verdict,
            Verdict::Reworked | Verdict::Accepted | Verdict::CannotBeJudged
        ) && self.viewer.trouble().is_some();
        if on_photo && !seen && !by_hand {
            // Neither a look at the photo nor one at the board itself.
            let (text, remedy) = if self.viewer.trouble().is_some() {
                (
                    "The photo that shows this joint is not open: nothing was written down.",
                    "Choose it again, or another photo ([ and ]), and say it again.",
                )
            } else {
                (
                    "The photo is still being opened: nothing was written down.",
                    "Say it again once the photo is on the table.",
                )
            };
            self.model.tell(text, remedy, false);
            return false;
        }
        let mut wish = Wish::new(
            chosen
                .iter()
                .map(|&i| bench.stops[i].target.clone())
                .collect(),
            verdict,
        );
        // Naming a second fault takes the first one back nowhere. In a row one gesture says one
        // thing: joints that have other faults are left for a word of their own.
        let mut left_out = 0;
        let mut faults = faults;
        if let [fault] = faults.clone().as_slice() {
            if let [target] = wish.targets.as_slice() {
                faults = bench.with_standing(target, fault);
            } else {
                let all = wish.targets.len();
                (wish.targets).retain(|target| bench.with_standing(target, fault).len() == 1);
                left_out = all - wish.targets.len();
            }
        }
        if wish.targets.is_empty() {
            self.model.tell(
                "All of these joints have other faults already: nothing was written down.",
                "Name this one joint by joint, so that each keeps its own.",
                false,
            );
            return false;
        }
        // What was reworked since is not seen on this photo, whatever it shows of the rest.
        let mut reworked_since = 0;
        if let (Verdict::NoFaultSeen, Some(photo)) =
            (verdict, bench.photo.as_ref().filter(|_| seen))
        {
            let state = bench.session.state();
            let all = wish.targets.len();
            (wish.targets).retain(|target| !state.came_in_before_rework(target, photo));
            reworked_since = all - wish.targets.len();
        }
        if wish.targets.is_empty() {
            self.model.tell(
                "The photo on the table came in before this was reworked, so it does not show the rework: nothing was written down.",
                "Add a photo taken after it, or recheck it at the board and accept it (A).",
                false,
            );
            return false;
        }
        wish.faults = faults;
        wish.obstacle = obstacle.trim().to_owned();
        wish.note = note.trim().to_owned();
        // A photo of before a rework does not show it: what is said then is a look at the board.
        let shows_rework = |photo: &PhotoId| {
            let state = bench.session.state();
            !(wish.targets.iter()).any(|target| state.came_in_before_rework(target, photo))
        };
        let photo = bench.photo.clone().filter(|_| seen);
        let older = verdict == Verdict::Accepted
            && photo.as_ref().is_some_and(|photo| !shows_rework(photo));
        if !older {
            wish.photo = photo;
        }
        if let [only] = chosen.as_slice()
            && (seen || !on_photo)
            && !older
        {
            let stop = &bench.stops[*only];
            wish.evidence = bench
                .hint(stop)
                .map(|(report, hint)| evidence(report, hint));
            if let Target::Photo(spot) = &stop.target {
                wish.spot = Some(spot.clone());
            }
        }
        let recorded = self.record(Action::Judge(wish));
        if recorded && older {
            self.model.tell(
                "The photo on the table came in before the rework: this was written down as a look at the board itself.",
                "Undo it if you did not look there, and add a photo taken after the rework.",
                false,
            );
        }
        if recorded && reworked_since > 0 {
            let were = if reworked_since == 1 { "was" } else { "were" };
            self.model.tell(
                format!("{reworked_since} of this row {were} reworked after this photo came in: nothing was written down of them."),
                "Add a photo taken after it, or recheck them at the board and accept them (A).",
                false,
            );
        }
        if recorded && left_out > 0 {
            let (joints, have) = if left_out == 1 {
                ("joint", "has")
            } else {
                ("joints", "have")
            };
            self.model.tell(
                format!("{left_out} {joints} of this row {have} other faults already: this one was not added there."),
                "Name it joint by joint where it belongs to them too.",
                false,
            );
        }
        if recorded {
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
            // A place without a map that is judged anew moves to the end of the round: the next
            // one has taken its index.
            let follows = self.model.bench.as_ref().is_some_and(|bench| {
                let at =
                    (bench.stops.iter()).position(|stop| Some(&stop.target) == judged.as_ref());
                !bench.only_unseen && at.is_some_and(|at| at > last)
            });
            if follows {
                self.go_to(last);
            } else {
                self.walk(1);
            }
        }
        recorded
    }
}

impl Bench {
    /// Whether the photo that should be on the table is there, in full.
    fn is_seen(&self) -> bool {
        let on_table = self.image.as_ref().map(|(photo, _)| photo);
        on_table.is_some() && on_table == self.photo.as_ref()
    }

    /// Whether the photo on the table shows the middle of the current stop's part.
    fn shows_middle_of_part(&self) -> bool {
        let part = self
            .stop()
            .and_then(|stop| match stop.part_target.as_ref()? {
                Target::Part { board, part } => {
                    let map = (self.session.maps().iter()).find(|map| map.board == *board)?;
                    Some(map.part(part)?.outline.centre())
                }
                _ => None,
            });
        let photo = self.photo_state();
        let at = (part.zip(photo.and_then(|photo| photo.alignment())))
            .and_then(|(at, alignment)| alignment.projection.apply(at));
        at.zip(photo).is_some_and(|(at, photo)| {
            let [width, height] = photo.facts.size.map(f64::from);
            (0.0..=width - 1.0).contains(&at.x) && (0.0..=height - 1.0).contains(&at.y)
        })
    }

    /// The fault with the others that stand on this place.
    fn with_standing(&self, target: &Target, fault: &Fault) -> Vec<Fault> {
        let place = self.session.state().place(target);
        let others = (place.iter())
            .filter(|place| {
                // What was reworked is told by its own line.
                matches!(
                    place.verdict,
                    Verdict::Faulty | Verdict::Suspect | Verdict::CannotBeJudged
                )
            })
            .flat_map(|place| &place.faults)
            .filter(|other| other.fault != fault.fault);
        others.chain([fault]).cloned().collect()
    }
}
