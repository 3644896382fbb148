//! Carrying out what was asked: the one place that changes the model and writes to the record.
//! This module says which part does what; each subject has a module of its own.

mod judging;
mod pages;
mod recording;
mod table;
mod walking;

pub(super) use recording::told;

use eframe::egui::Context;

use super::app::Desk;
use super::ask::{Ask, Choosing};
use super::chooser::Chooser;
use super::jobs::HINTING;
use super::keys::Command;
use super::matching::MATCHING;
use super::model::{Bench, FaultOn, Page, Pending};
use crate::record::Verdict;
use crate::work::Action;

impl Desk {
    /// Carries out one wish.
    pub(in crate::desk) fn carry_out(&mut self, ctx: &Context, ask: Ask) {
        match ask {
            Ask::Command(command) => self.command(ctx, command),
            Ask::Import => self.import(ctx),
            Ask::Map(ask) => self.map(ctx, ask),
            Ask::MapClick(at, shift) => self.map_clicked(at, shift),
            Ask::Page(page) => self.turn_to(ctx, page),
            Ask::GoTo(index) => self.go_to(index),
            Ask::GoToTyped(text) => self.go_to_typed(&text),
            Ask::Show(show) => self.show_side(show),
            Ask::Photo(photo) => self.show_photo(photo),
            Ask::StepPhoto(step) => self.step_photo(step),
            Ask::Clicked(at) => self.clicked(at),
            Ask::Drawn(from, to) => self.drawn(from, to),
            Ask::Radius(radius) => {
                // The places change with every step of the slider.
                self.background.stop(HINTING);
                self.with_bench(|bench| bench.set_radius(radius));
            }
            Ask::Fault(kind) => self.name_fault(kind),
            Ask::Severity(severity) => {
                if let Pending::Fault {
                    severity: chosen, ..
                } = &mut self.model.pending
                {
                    *chosen = severity;
                }
            }
            Ask::Entered => self.entered(),
            Ask::PutAway => {
                // On purpose: what was typed goes unsaid.
                self.model.pending = Pending::Nothing;
                self.model.chooser = None;
            }
            Ask::Record(action) => {
                if matches!(*action, Action::CloseUp { .. }) {
                    // Closing comes after all that is known by now, from other benches too.
                    self.take_in(ctx);
                }
                self.record(*action);
            }
            Ask::RecordTyped(action, fields) => {
                if self.record(*action) {
                    self.with_bench(|bench| {
                        for field in fields {
                            bench.fields.remove(&field);
                        }
                    });
                }
            }
            Ask::Landmark(index) => self.with_bench(|bench| bench.draft.next = Some(index)),
            Ask::Unplace(name) => self.with_bench(|bench| bench.unplace(&name)),
            Ask::PinAsLandmark(pin) => self.pin_as_landmark(&pin),
            Ask::Place(view) => self.place_photo(view),
            Ask::AcceptAlignment => self.accept_alignment(),
            Ask::TakeMatch => self.take_match(),
            Ask::Export => self.export(ctx),
            Ask::Tour => self.tour(ctx),
            Ask::Open(path) => self.open_job(ctx, &path),
            Ask::CloseJob => self.close_job(ctx),
            Ask::Choose(what) => {
                let from = self.start_folder();
                self.model.chooser = Some((what, Chooser::at(&from, what)));
            }
            Ask::Chosen(what, paths) => self.chosen(ctx, what, paths),
            Ask::Begin => self.begin(ctx),
            Ask::Stop(label) => {
                if label == MATCHING {
                    self.with_bench(|bench| bench.matching.stop_waiting());
                }
                self.background.stop(&label);
            }
            Ask::Dismiss(index) => {
                if index < self.model.messages.len() {
                    self.model.messages.remove(index);
                }
            }
            Ask::Twin(index) => self.with_bench(|bench| bench.twins.toggle(index)),
            Ask::Forget => self.with_bench(Bench::forget),
        }
    }

    pub(in crate::desk) fn with_bench(&mut self, change: impl FnOnce(&mut Bench)) {
        if let Some(bench) = &mut self.model.bench {
            change(bench);
        }
    }

    fn command(&mut self, ctx: &Context, command: Command) {
        use Command as C;
        match command {
            C::Next => self.walk(1),
            C::Previous => self.walk(-1),
            C::NextUnseen => self.next_unseen(),
            C::NextByHint => self.next_by_hint(),
            C::OnlyUnseen => self.with_bench(|bench| bench.only_unseen = !bench.only_unseen),
            C::GoTo => self.model.pending = Pending::GoTo(String::new()),
            C::NoFaultSeen => self.no_fault_seen(),
            C::Suspect => self.say(Verdict::Suspect),
            C::Fault => self.ask_fault(FaultOn::Stop),
            C::MarkPart => self.ask_fault(FaultOn::Part),
            C::MarkUnit => self.ask_fault(FaultOn::Unit(String::new())),
            C::CannotBeJudged => self.model.pending = Pending::Obstacle(String::new()),
            C::Reworked => self.say(Verdict::Reworked),
            C::Accept => self.say(Verdict::Accepted),
            C::WholeRow => self.with_bench(|bench| bench.whole_row = !bench.whole_row),
            C::Note => self.model.pending = Pending::Note(String::new(), None),
            C::Undo => self.take_back(),
            C::Redo => self.say_again(),
            C::NextPhoto => self.step_photo(1),
            C::PreviousPhoto => self.step_photo(-1),
            C::AddPhotos => self.carry_out(ctx, Ask::Choose(Choosing::Photos)),
            C::Landmarks => self.turn_to(ctx, Page::Align),
            C::FindPlace => self.find_place(),
            C::FindJoints => self.find_joints(ctx),
            C::MakeMap => self.turn_to(ctx, Page::Map),
            C::Measure => self.turn_to(ctx, Page::Measure),
            C::Gate => self.turn_to(ctx, Page::Gate),
            C::Slip => self.turn_to(ctx, Page::Slip),
            C::Help => self.turn_to(ctx, Page::Help),
            C::Back => self.back(ctx),
            look => self.look_command(ctx, look),
        }
    }
}
