//! The two pictures of a line: the side of the board with the place ringed, and the place
//! enlarged. Photos come from outside; this room opens no files.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use image::RgbImage;

use super::error::PaperError;
use super::frame::{
    CLOSE_UP_PX, Frame, LAND_ROOM, LEAST_RING_PX, close_frame, close_marks, drawn, place_mark,
};
use super::picture::{PaperPoint, Picture, PictureMark, cut, packed};
use super::site::Site;
use super::slip::{NoPhoto, SlipSource, lie, map_of, title};
use crate::board::{BoardMap, Side};
use crate::geometry::{BoardPoint, PhotoPoint, Projection};
use crate::record::{PhotoId, PhotoState, PlaceState, Spot};

/// Greatest width and height of an overview, px: printed 33 mm wide this is some 230 px/inch.
const OVERVIEW_PX: [f64; 2] = [300.0, 240.0];
/// Room round the board's outline on an overview, mm: enough to see the edge as an edge.
const EDGE_MM: f64 = 3.0;
/// A photo counts as an overview where it shows this share of the outline's corners.
const WHOLE_BOARD: f64 = 1.0;
/// How many decoded photos are kept at once: an overview and a close-up, and one to spare.
const KEPT_PHOTOS: usize = 3;

/// Cuts the pictures of a slip, keeping what several lines share.
pub(super) struct Pictures<'a> {
    source: SlipSource<'a>,
    grounds: BTreeMap<(String, Side), Option<Ground>>,
    kept: VecDeque<(PhotoId, Option<Arc<RgbImage>>)>,
    lost: BTreeMap<PhotoId, NoPhoto>,
}

/// The picture of a whole side, before a place is ringed on it.
#[derive(Clone)]
struct Ground {
    picture: Picture,
    frame: Frame,
}

impl<'a> Pictures<'a> {
    /// No pictures cut yet.
    #[must_use]
    pub(super) fn new(source: &SlipSource<'a>) -> Self {
        Self {
            source: *source,
            grounds: BTreeMap::new(),
            kept: VecDeque::new(),
            lost: BTreeMap::new(),
        }
    }

    /// The photos that were asked for and could not be had, and why.
    #[must_use]
    pub(super) fn lost(self) -> BTreeMap<PhotoId, NoPhoto> {
        self.lost
    }

    /// The side of the board (or the photo) with the place ringed.
    ///
    /// # Errors
    /// [`PaperError::Picture`] where it cannot be packed.
    pub(super) fn overview(&mut self, site: &Site) -> Result<Option<Picture>, PaperError> {
        if let Some(spot) = &site.spot {
            return self.whole_photo(spot);
        }
        let (Some(board), Some(side), Some(extent)) = (&site.board, site.side, site.extent) else {
            return Ok(None);
        };
        let Some(ground) = self.ground(board, side)? else {
            return Ok(None);
        };
        let mut picture = ground.picture;
        picture.marks = vec![place_mark(&ground.frame, extent)];
        picture.alt = format!("{}, {} ringed", picture.alt, site.label);
        Ok(Some(picture))
    }

    /// The place enlarged.
    ///
    /// # Errors
    /// [`PaperError::Picture`] where it cannot be packed.
    pub(super) fn close_up(
        &mut self,
        site: &Site,
        place: &PlaceState,
    ) -> Result<Option<Picture>, PaperError> {
        let seen_on = place.seen_on.as_ref().or(site.spot.as_ref());
        for photo in self.candidates(site, seen_on) {
            let arc = place
                .evidence
                .as_ref()
                .filter(|_| seen_on.is_some_and(|spot| spot.photo == photo))
                .map(|evidence| evidence.arc.as_slice())
                .unwrap_or_default();
            if let Some(picture) = self.cut_place(site, &photo, arc)? {
                return Ok(Some(picture));
            }
        }
        match seen_on {
            Some(spot) => self.cut_spot(site, spot, place),
            None => Ok(None),
        }
    }

    /// Aligned photos that show the place: the one that was judged on, then the finest.
    fn candidates(&self, site: &Site, seen_on: Option<&Spot>) -> Vec<PhotoId> {
        let (Some(board), Some(side), Some(centre)) = (&site.board, site.side, site.centre())
        else {
            return Vec::new();
        };
        let mut found: Vec<(bool, f64, &PhotoState)> = self
            .source
            .state
            .photos_of(board, side)
            .filter_map(|photo| {
                let transform = photo.alignment()?.projection;
                let scale = transform.scale_at(centre)?;
                let judged_on = seen_on.is_some_and(|spot| spot.photo == photo.facts.photo);
                shows(photo, &transform, centre).then_some((judged_on, scale, photo))
            })
            .collect();
        found.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
        found
            .into_iter()
            .map(|(_, _, photo)| photo.facts.photo.clone())
            .collect()
    }

    fn cut_place(
        &mut self,
        site: &Site,
        photo: &PhotoId,
        arc: &[[f64; 2]],
    ) -> Result<Option<Picture>, PaperError> {
        let (Some(board), Some(side), Some(extent)) = (&site.board, site.side, site.extent) else {
            return Ok(None);
        };
        let maps = self.source.maps;
        let Some(lie) = map_of(maps, board).and_then(|map| lie(map, side)) else {
            return Ok(None);
        };
        let state = self.source.state;
        let Some(alignment) = state.photos.get(photo).and_then(PhotoState::alignment) else {
            return Ok(None);
        };
        let frame = close_frame(lie, extent, site.lands.len() == 1);
        let (Some(board), Some(pixels)) = (frame.board_from_paper(), self.photo(photo)) else {
            return Ok(None);
        };
        let projection = alignment.projection;
        let back = projection.back().ok();
        let arc: Vec<[f64; 2]> = arc
            .iter()
            .filter_map(|&[x, y]| back?.apply(PhotoPoint::new(x, y)))
            .map(|at| frame.px(at))
            .collect();
        let marks = close_marks(&frame, site, arc);
        let through = |paper| projection.apply(board.apply(paper)?);
        let jpeg = packed(&cut(&pixels, through, CLOSE_UP_PX), photo)?;
        let scale = projection.scale_at(extent.center());
        Ok(Some(Picture {
            photo: Some(photo.clone()),
            alt: format!("Close-up of {}", site.label),
            caption: scale.map_or_else(String::new, |scale| format!("photo at {scale:.0} px/mm")),
            size: CLOSE_UP_PX,
            jpeg,
            outlines: Vec::new(),
            marks,
        }))
    }

    /// Around a spot of a photo that no map covers.
    fn cut_spot(
        &mut self,
        site: &Site,
        spot: &Spot,
        place: &PlaceState,
    ) -> Result<Option<Picture>, PaperError> {
        let Some(pixels) = self.photo(&spot.photo) else {
            return Ok(None);
        };
        let radius = spot.radius_px.abs().max(1.0);
        let [width, height] = CLOSE_UP_PX.map(f64::from);
        let px = 2.0 * LAND_ROOM / 2.0 * radius / height;
        let from = [
            spot.at_px[0] - px * (width - 1.0) / 2.0,
            spot.at_px[1] - px * (height - 1.0) / 2.0,
        ];
        let through = enlarged(px, from);
        let arc: Vec<[f64; 2]> = place
            .evidence
            .iter()
            .flat_map(|evidence| &evidence.arc)
            .map(|at| [0, 1].map(|axis| (at[axis] - from[axis]) / px))
            .collect();
        let mark = if arc.len() > 1 {
            PictureMark::Arc { points: arc }
        } else {
            PictureMark::Ring {
                at: [(width - 1.0) / 2.0, (height - 1.0) / 2.0],
                radius: radius / px,
            }
        };
        Ok(Some(Picture {
            photo: Some(spot.photo.clone()),
            alt: format!("Close-up of {}", site.label),
            caption: String::new(),
            size: CLOSE_UP_PX,
            jpeg: packed(&cut(&pixels, through, CLOSE_UP_PX), &spot.photo)?,
            outlines: Vec::new(),
            marks: vec![mark],
        }))
    }

    fn whole_photo(&mut self, spot: &Spot) -> Result<Option<Picture>, PaperError> {
        let Some(pixels) = self.photo(&spot.photo) else {
            return Ok(None);
        };
        let [width, height] = [pixels.width(), pixels.height()].map(f64::from);
        let px = (width / OVERVIEW_PX[0]).max(height / OVERVIEW_PX[1]);
        let size = [width / px, height / px].map(|side| (side.round() as u32).max(1));
        let shift = px / 2.0 - 0.5;
        let through = enlarged(px, [shift, shift]);
        let name = self.source.state.photos.get(&spot.photo);
        let name = name.map_or_else(String::new, |photo| photo.facts.name.clone());
        Ok(Some(Picture {
            photo: Some(spot.photo.clone()),
            alt: format!("The whole photo {name}, the place ringed"),
            caption: name,
            size,
            jpeg: packed(&cut(&pixels, through, size), &spot.photo)?,
            outlines: Vec::new(),
            marks: vec![PictureMark::Ring {
                at: [0, 1].map(|axis| (spot.at_px[axis] - shift) / px),
                radius: (spot.radius_px / px).max(LEAST_RING_PX),
            }],
        }))
    }

    fn ground(&mut self, board: &str, side: Side) -> Result<Option<Ground>, PaperError> {
        let key = (board.to_owned(), side);
        if let Some(known) = self.grounds.get(&key) {
            return Ok(known.clone());
        }
        let made = self.make_ground(board, side)?;
        self.grounds.insert(key, made.clone());
        Ok(made)
    }

    fn make_ground(&mut self, board: &str, side: Side) -> Result<Option<Ground>, PaperError> {
        let maps = self.source.maps;
        let Some((map, lie)) = map_of(maps, board).and_then(|map| Some((map, lie(map, side)?)))
        else {
            return Ok(None);
        };
        let [width, height] =
            [lie.extent.width(), lie.extent.height()].map(|mm| mm + 2.0 * EDGE_MM);
        let frame = Frame {
            lie,
            from: [-EDGE_MM; 2],
            px_per_mm: (OVERVIEW_PX[0] / width).min(OVERVIEW_PX[1] / height),
        };
        let size = [width, height].map(|mm| ((mm * frame.px_per_mm).round() as u32).clamp(1, 300));
        let mut picture = Picture {
            photo: None,
            alt: format!(
                "{}, {}",
                super::words::capital(&title(map)),
                side_words(side)
            ),
            caption: "drawn from the map".to_owned(),
            size,
            jpeg: Vec::new(),
            outlines: Vec::new(),
            marks: Vec::new(),
        };
        for (photo, projection) in self.overviews(map, side) {
            if let (Some(board), Some(pixels)) = (frame.board_from_paper(), self.photo(&photo)) {
                let through = |paper| projection.apply(board.apply(paper)?);
                picture.jpeg = packed(&cut(&pixels, through, size), &photo)?;
                picture.photo = Some(photo);
                picture.caption = String::new();
                return Ok(Some(Ground { picture, frame }));
            }
        }
        picture.outlines = drawn(map, side, &frame);
        Ok(Some(Ground { picture, frame }))
    }

    /// Aligned photos that show the whole outline, the finest first.
    fn overviews(&self, map: &BoardMap, side: Side) -> Vec<(PhotoId, Projection)> {
        let mut found: Vec<(f64, PhotoId, Projection)> = self
            .source
            .state
            .photos_of(&map.board, side)
            .filter_map(|photo| {
                let alignment = photo.alignment()?;
                let inside = map
                    .outline
                    .iter()
                    .filter(|&&[x, y]| shows(photo, &alignment.projection, BoardPoint::new(x, y)))
                    .count();
                let whole = inside as f64 >= WHOLE_BOARD * map.outline.len() as f64;
                whole.then(|| {
                    let id = photo.facts.photo.clone();
                    (alignment.px_per_mm, id, alignment.projection)
                })
            })
            .collect();
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        found.into_iter().map(|(_, id, t)| (id, t)).collect()
    }

    fn photo(&mut self, id: &PhotoId) -> Option<Arc<RgbImage>> {
        if let Some((_, known)) = self.kept.iter().find(|(kept, _)| kept == id) {
            return known.clone();
        }
        let photo = (self.source.photos)(id);
        if let Err(why) = photo {
            self.lost.insert(id.clone(), why);
        }
        let photo = photo.ok().filter(|p| p.width() > 0 && p.height() > 0);
        if self.kept.len() >= KEPT_PHOTOS {
            self.kept.pop_front();
        }
        self.kept.push_back((id.clone(), photo.clone()));
        photo
    }
}

fn side_words(side: Side) -> &'static str {
    match side {
        Side::Component => "component side",
        Side::Solder => "solder side",
    }
}

/// Pixels of a picture that shows a photo from `from` on, `px` photo pixels to each of its own.
fn enlarged(px: f64, from: [f64; 2]) -> impl Fn(PaperPoint) -> Option<PhotoPoint> {
    move |at| Some(PhotoPoint::new(from[0] + px * at.x, from[1] + px * at.y))
}

fn shows(photo: &PhotoState, transform: &Projection, at: BoardPoint) -> bool {
    let [width, height] = photo.facts.size.map(f64::from);
    transform.apply(at).is_some_and(|at| {
        at.x >= -0.5 && at.y >= -0.5 && at.x <= width - 0.5 && at.y <= height - 0.5
    })
}
