//! The dark-line view over the table: where the photo looks like part of a dark line. It decides
//! nothing, and scratches, edges of shadows and print show in it too.

use std::sync::Arc;

use eframe::egui::{
    Color32, ColorImage, Context, Mesh, Painter, Shape, TextureHandle, TextureOptions, pos2,
};
use image::RgbImage;

use super::app::Desk;
use super::background::Done;
use super::viewer::ScreenFromPhoto;
use crate::geometry::PhotoPoint;
use crate::joint::{DarkLines, JointError, dark_lines};
use crate::progress::Progress;
use crate::record::PhotoId;
use crate::work::WorkError;

/// What measuring it is called while it runs.
const MEASURING: &str = "Looking for dark lines on this photo";

/// Longest side of the picture that is laid over the photo, px: every graphics card takes it.
const LONGEST: usize = 2048;

/// Response from which a place is drawn in full; below [`FAINT`] it is not drawn. Lines that are
/// listed lie at 0.45 and above.
const FULL: f32 = 0.8;
/// See [`FULL`].
const FAINT: f32 = 0.2;

/// Most that the picture covers of the photo beneath, of 255: what lies there is still seen.
const COVERS: f32 = 235.0;

/// A blue that is on no board, the lightest of the palette of Okabe and Ito; the arc of the hint
/// is its yellow.
const COLOUR: [f32; 3] = [86.0, 180.0, 233.0];

/// The picture that is laid over the photo.
pub struct DarkPicture {
    image: ColorImage,
    /// The photo's size, px.
    photo: [f32; 2],
    /// Photo px per px of the picture.
    averaged: f32,
}

/// Whether the view is on, and for which photo it is there.
#[derive(Default)]
pub(super) struct DarkView {
    on: bool,
    /// For which photo it is being measured, or could not be.
    asked: Option<PhotoId>,
    shown: Option<(PhotoId, TextureHandle, [f32; 2], f32)>,
}

impl DarkView {
    /// What is to be said over the table while it is on.
    #[must_use]
    pub(super) fn words(&self) -> &'static str {
        if self.on {
            "Dark lines are shown in blue: cracks, and scratches, edges of shadows and print too. D puts them away."
        } else {
            ""
        }
    }

    /// Draws it over the photo.
    pub(super) fn paint(&self, painter: &Painter, view: &ScreenFromPhoto, photo: Option<&PhotoId>) {
        let Some((of, texture, size, averaged)) = &self.shown else {
            return;
        };
        if !self.on || photo != Some(of) {
            return;
        }
        let [across, down] = texture.size();
        let mut mesh = Mesh::with_texture(texture.id());
        for (x, y) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)] {
            let [width, height] = size.map(f64::from);
            let at = view.point(PhotoPoint::new(x * width - 0.5, y * height - 0.5));
            // The last column and row may stand for less than a whole number of photo px.
            let share = |side: f32, texels: usize| side / (averaged * texels as f32);
            let uv = pos2(
                x as f32 * share(size[0], across),
                y as f32 * share(size[1], down),
            );
            mesh.vertices.push(eframe::egui::epaint::Vertex {
                pos: at,
                uv,
                color: Color32::WHITE,
            });
        }
        mesh.add_triangle(0, 1, 2);
        mesh.add_triangle(0, 2, 3);
        painter.add(Shape::mesh(mesh));
    }
}

impl Desk {
    /// Shows the dark lines of the photo on the table, or puts them away.
    pub(super) fn toggle_dark_lines(&mut self) {
        self.dark.on = !self.dark.on;
        self.dark.asked = None;
    }

    /// Measures the photo on the table while the view is on, off the window's thread, once.
    pub(super) fn step_dark_lines(&mut self, ctx: &Context) {
        let Some((photo, image)) = (self.model.bench.as_ref()).and_then(|b| b.image.as_ref())
        else {
            return;
        };
        let there = self.dark.shown.as_ref().is_some_and(|(of, ..)| of == photo);
        if !self.dark.on || there || self.dark.asked.as_ref() == Some(photo) {
            return;
        }
        let (photo, image) = (photo.clone(), Arc::clone(image));
        self.dark.asked = Some(photo.clone());
        self.background
            .start(ctx, MEASURING, false, move |progress| {
                Done::DarkLines(photo, measured(&image, progress))
            });
    }

    /// The picture is there.
    pub(super) fn dark_lines_came(
        &mut self,
        ctx: &Context,
        photo: PhotoId,
        picture: Result<Box<DarkPicture>, WorkError>,
    ) {
        match picture {
            Ok(picture) => {
                let DarkPicture {
                    image,
                    photo: size,
                    averaged,
                } = *picture;
                let texture = ctx.load_texture("dark lines", image, TextureOptions::LINEAR);
                self.dark.shown = Some((photo, texture, size, averaged));
            }
            Err(WorkError::Cancelled(_) | WorkError::Joint(JointError::Cancelled)) => {
                self.dark.on = false;
            }
            Err(error) => self.trouble(&error),
        }
    }
}

fn measured(image: &RgbImage, progress: &Progress) -> Result<Box<DarkPicture>, WorkError> {
    Ok(Box::new(picture(&dark_lines(image, progress)?)))
}

/// The response as a picture with see-through places, made smaller where it is too large: a line
/// stays as strong as its strongest place.
fn picture(found: &DarkLines) -> DarkPicture {
    let [width, height] = found.working_size();
    let by = width.max(height).div_ceil(LONGEST).max(1);
    let (across, down) = (width.div_ceil(by), height.div_ceil(by));
    let mut strongest = vec![0.0_f32; across * down];
    for (y, row) in found.response.chunks(width.max(1)).enumerate() {
        for (x, value) in row.iter().enumerate() {
            let to = &mut strongest[y / by * across + x / by];
            *to = to.max(*value);
        }
    }
    let pixels = strongest.iter().map(|value| {
        let alpha = ((value - FAINT) / (FULL - FAINT)).clamp(0.0, 1.0) * COVERS;
        let [r, g, b] = COLOUR.map(|c| (c * alpha / 255.0) as u8);
        Color32::from_rgba_premultiplied(r, g, b, alpha as u8)
    });
    DarkPicture {
        image: ColorImage::new([across, down], pixels.collect()),
        photo: [found.width as f32, found.height as f32],
        averaged: (found.averaged * by) as f32,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_shows_where_it_is_and_nothing_beside_it() {
        let (width, height) = (3000usize, 40usize);
        let mut response = vec![0.1_f32; width * height];
        for row in response.chunks_mut(width) {
            row[1501] = 2.0;
        }
        let found = DarkLines {
            width: 5999,
            height: 80,
            response,
            averaged: 2,
            lines: Vec::new(),
        };
        let picture = picture(&found);
        assert_eq!(picture.image.size, [1500, 20]);
        assert!((picture.averaged - 4.0).abs() < f32::EPSILON);
        for (x, alpha) in [(749, 0), (750, COVERS as u8), (751, 0)] {
            assert_eq!(picture.image[(x, 7)].a(), alpha, "{x}");
        }
    }
}
