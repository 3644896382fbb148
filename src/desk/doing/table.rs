//! The table: what a click and a drawn rectangle mean, and the places clicked without a map.

use crate::desk::app::Desk;
use crate::desk::model::{Bench, FaultOn, Page, Show};
use crate::desk::pointed::{Size, covers, tenth};
use crate::desk::viewer::mark_at;
use crate::geometry::PhotoPoint;
use crate::joint::land_at;
use crate::record::{Spot, Target};
use crate::work::middle_near;

/// Radius of a clicked place before anybody drew one, as a share of the photo's longer side:
/// a land of 2 mm where the photo shows 110 mm of board. A guess that is seen on the table at
/// once and drawn anew where it is wrong.
const RADIUS_SHARE: f64 = 1.0 / 110.0;
/// Never less than this, px: below it the hint says that the joint is too small to read.
const LEAST_RADIUS_PX: f64 = 18.0;

impl Desk {
    pub(super) fn clicked(&mut self, at: PhotoPoint) {
        if self.model.page == Page::Align {
            self.place_landmark(at);
            return;
        }
        let (Some(bench), Some(view)) = (&self.model.bench, self.viewer.view()) else {
            return;
        };
        if self.opened != bench.photo || !self.viewer.is_whole() {
            return;
        }
        if let Some(mark) = mark_at(&view, &bench.seen.marks, at) {
            let stop = bench.seen.stop_of_mark[mark];
            self.go_to(stop);
        } else if bench.show == Show::Loose {
            let land = (bench.image.as_ref())
                .filter(|(photo, _)| bench.photo.as_ref() == Some(photo))
                .and_then(|(_, image)| land_at(image, at));
            match land {
                Some(land) => self.add_spot(land.centre, land.radius_px, Size::Seen),
                None => self.add_spot(at, bench.usual_radius(), Size::Guessed),
            }
        }
    }

    /// Places the landmark that is next, moved to the middle of the hole or land that was meant,
    /// and says so.
    fn place_landmark(&mut self, at: PhotoPoint) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        if bench.draft.next.is_none() && !bench.draft.placed.is_empty() {
            self.model.tell(
                "No landmark is left to place on this photo.",
                "To move one, choose it in the list, then click where it is.",
                false,
            );
            return;
        }
        let scale = match &bench.draft.fit {
            Some(Ok(fit)) => Some(fit.px_per_mm.centre),
            _ => None,
        };
        let name = bench.draft.next_name();
        let middle = (self.viewer.pyramid())
            .filter(|_| !bench.clicks_as_they_are)
            .and_then(|pyramid| middle_near(pyramid.image(), at, scale));
        if let (Some((name, _)), Some(middle)) = (name, middle) {
            let words = format!(
                "{} moved {:.1} px to the middle of the hole or land there.",
                crate::paper::shown(name),
                (middle - at).length()
            );
            self.model.tell(words, "", false);
        }
        self.with_bench(|bench| bench.place_landmark(middle.unwrap_or(at)));
    }

    pub(super) fn drawn(&mut self, from: PhotoPoint, to: PhotoPoint) {
        let Some(bench) = &self.model.bench else {
            return;
        };
        let is_there = self.opened == bench.photo && self.viewer.is_whole();
        if self.model.page != Page::Table || !is_there {
            return;
        }
        let aligned = bench
            .photo_state()
            .and_then(|photo| photo.alignment())
            .cloned();
        if let (Show::Side(view), Some(alignment)) = (&bench.show, aligned) {
            let Ok(board) = alignment.projection.back() else {
                return;
            };
            let (Some(a), Some(b)) = (board.apply(from), board.apply(to)) else {
                return;
            };
            let area = Target::Area {
                view: view.clone(),
                from: [a.x, a.y],
                to: [b.x, b.y],
            };
            self.ask_fault(FaultOn::Area(area));
        } else {
            let radius_px = (to - from).length().max(3.0);
            self.add_spot(from, radius_px, Size::Shown);
        }
    }

    fn add_spot(&mut self, at: PhotoPoint, radius_px: f64, size: Size) {
        self.put_words_away();
        self.with_bench(|bench| {
            let Some(photo) = bench.photo.clone() else {
                return;
            };
            let spot = Spot {
                photo,
                at_px: [tenth(at.x), tenth(at.y)],
                radius_px: tenth(radius_px),
            };
            if bench.session.check_spot(&spot).is_err() {
                return;
            }
            if size == Size::Shown {
                bench.replace_covered(&spot);
            }
            bench.pointed.click(&spot, size);
            if size == Size::Shown {
                bench.show_size(&spot);
            }
            bench.clicked.push(spot);
            bench.show = Show::Loose;
            bench.refresh();
            bench.here = bench.stops.len().checked_sub(1);
            bench.redraw();
        });
    }
}

impl Bench {
    /// The radius that the next clicked place gets where no land is made out under it: that shown
    /// on this photo, that of the place clicked before on it, or a guess.
    #[must_use]
    pub fn usual_radius(&self) -> f64 {
        let here = |spot: &&Spot| self.photo.as_ref() == Some(&spot.photo);
        let shown = (self.photo.as_ref()).and_then(|photo| self.pointed.shown_size(photo));
        let clicked = || {
            let by_hand = |spot: &&Spot| !self.pointed.is_found(spot);
            let last = self.clicked.iter().rev().filter(here).find(by_hand);
            last.map(|spot| spot.radius_px)
        };
        let judged = || {
            self.stops.iter().rev().find_map(|stop| match &stop.target {
                Target::Photo(spot) => Some(spot.radius_px),
                _ => None,
            })
        };
        let size = self
            .photo_state()
            .map_or([4000, 3000], |photo| photo.facts.size);
        (shown.or_else(clicked).or_else(judged)).unwrap_or_else(|| {
            (f64::from(size[0].max(size[1])) * RADIUS_SHARE).max(LEAST_RADIUS_PX)
        })
    }

    /// Takes out the unjudged place on whose land this one was drawn: it shows that one anew.
    fn replace_covered(&mut self, drawn: &Spot) {
        let covered = (self.clicked.iter())
            .find(|spot| spot.photo == drawn.photo && covers(spot, drawn.at_px))
            .cloned();
        if let Some(covered) = covered {
            self.clicked.retain(|spot| *spot != covered);
            self.pointed.replace(&covered);
        }
    }

    /// Somebody shows how large a place is: those whose size is only guessed may take it.
    fn show_size(&mut self, spot: &Spot) {
        let follow = self.pointed.show(spot);
        for other in &mut self.clicked {
            if other.photo == spot.photo && follow.contains(&other.at_px) {
                other.radius_px = spot.radius_px;
            }
        }
    }

    pub(super) fn set_radius(&mut self, radius: f64) {
        let Some(Target::Photo(current)) = self.stop().map(|stop| stop.target.clone()) else {
            return;
        };
        let here = self.here;
        let shown = (self.clicked.iter_mut())
            .find(|spot| **spot == current)
            .map(|spot| {
                spot.radius_px = tenth(radius);
                spot.clone()
            });
        if let Some(spot) = shown {
            self.show_size(&spot);
        }
        self.refresh();
        self.here = here;
        self.redraw();
    }

    pub(super) fn forget(&mut self) {
        if let Some(Target::Photo(current)) = self.stop().map(|stop| stop.target.clone()) {
            self.clicked.retain(|spot| *spot != current);
            self.pointed.forget(&current);
            // The names of the places are others now.
            self.hints.remove(&current.photo);
            self.refresh();
        }
    }
}
