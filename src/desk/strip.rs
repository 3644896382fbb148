//! The round strip: every joint of a side in walking order, as index, progress and heat map.

use eframe::egui::{
    CornerRadius, Rect, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

use super::marker::{self, On, State};
use super::theme::Look;

/// A tile at 100 % text, points.
const TILE_W: f32 = 24.0;
/// See [`TILE_W`].
const TILE_H: f32 = 28.0;
/// Width of the hint's bar, as a share of the tile's.
const BAR: f32 = 0.16;
/// Between tiles; the outline of the current one must fit in.
const GAP: f32 = 3.0;
/// Around the tiles, for the same reason.
const MARGIN: f32 = 3.0;

/// One joint of the round.
#[derive(Debug, Clone, PartialEq)]
pub struct Tile {
    /// Its reference, such as `J4.3`.
    pub name: String,
    /// What is known of it.
    pub state: State,
    /// That it was looked at from too far away, and from how far; absent where it was not.
    pub far: Option<String>,
    /// Its hint as the share of the tile's height, 0..=1; `None` for no reading or hidden.
    pub hint: Option<f32>,
    /// First of a new part: a slightly wider gap stands before it.
    pub starts_part: bool,
}

impl Tile {
    /// What a screen reader says.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = self.name.clone();
        if self.state != State::TooFar {
            words += &format!(", {}", self.state.label());
        }
        if let Some(far) = &self.far {
            words += &format!(", {far}");
        }
        if let Some(hint) = self.hint {
            words += &format!(", hint {hint:.2}");
        }
        words
    }
}

/// What the strip remembers between frames: only where it was scrolled for.
#[derive(Debug, Clone, Default)]
pub struct Strip {
    shown: Option<usize>,
}

/// Places of all tiles for a width, row by row, and the height they need.
///
/// Returns top-left corners relative to the strip's own.
#[must_use]
pub fn places(tiles: &[Tile], width: f32, tile: [f32; 2]) -> (Vec<[f32; 2]>, f32) {
    let mut corners = Vec::with_capacity(tiles.len());
    let (mut x, mut y) = (MARGIN, MARGIN);
    for (i, one) in tiles.iter().enumerate() {
        if one.starts_part && x > MARGIN && i > 0 {
            x += GAP * 1.5;
        }
        if x + tile[0] + MARGIN > width && x > MARGIN {
            (x, y) = (MARGIN, y + tile[1] + GAP);
        }
        corners.push([x, y]);
        x += tile[0] + GAP;
    }
    let height = if tiles.is_empty() {
        0.0
    } else {
        y + tile[1] + MARGIN
    };
    (corners, height)
}

impl Strip {
    /// Draws the strip `height` points high, or one row of tiles where that is more, and returns the
    /// tile that was pressed.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        look: &Look,
        tiles: &[Tile],
        here: Option<usize>,
        height: f32,
    ) -> Option<usize> {
        let mut pressed = None;
        let height = height.max(look.scaled(TILE_H) + 2.0 * MARGIN);
        ScrollArea::vertical()
            .id_salt("round strip")
            .max_height(height)
            .min_scrolled_height(height)
            .auto_shrink([false, false])
            .show(ui, |ui| {
                pressed = self.tiles(ui, look, tiles, here);
            });
        pressed
    }

    fn tiles(
        &mut self,
        ui: &mut Ui,
        look: &Look,
        tiles: &[Tile],
        here: Option<usize>,
    ) -> Option<usize> {
        let tile = [look.scaled(TILE_W), look.scaled(TILE_H)];
        let (corners, height) = places(tiles, ui.available_width(), tile);
        let (area, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
        let mut pressed = None;
        let mut under_pointer = None;
        for (i, (one, corner)) in tiles.iter().zip(&corners).enumerate() {
            let rect = Rect::from_min_size(area.min + vec2(corner[0], corner[1]), tile.into());
            // Not in the Tab order: four hundred stops would be a trap. The walk keys move here.
            let response = ui.interact(rect, ui.scope_id().with(("tile", i)), Sense::CLICK);
            response.widget_info(|| {
                WidgetInfo::selected(Role::Button, true, here == Some(i), one.words())
            });
            if response.clicked() {
                pressed = Some(i);
            }
            if response.hovered() {
                under_pointer = Some((one, response.clone()));
            }
            if ui.is_rect_visible(rect) {
                paint(ui, look, rect, one, response.hovered());
            }
        }
        if let Some((one, response)) = under_pointer {
            response.on_hover_text(one.words());
        }
        if let Some(corner) = here.and_then(|i| corners.get(i)) {
            let rect = Rect::from_min_size(area.min + vec2(corner[0], corner[1]), tile.into());
            outline(ui, look, rect);
            if self.shown != here {
                ui.scroll_to_rect(rect.expand(GAP), None);
            }
        }
        self.shown = here;
        pressed
    }
}

fn paint(ui: &Ui, look: &Look, rect: Rect, tile: &Tile, hot: bool) {
    let palette = &look.palette;
    let fill = if hot { palette.tile_hot } else { palette.tile };
    let corner = CornerRadius::same(2);
    ui.painter().rect_filled(rect, corner, fill);
    // The hint stands at the left edge like a level in a tube, the marker beside it: the two
    // never cover one another.
    let tube = rect.width() * BAR;
    let radius = rect.width() * 0.28;
    if let Some(hint) = tile.hint.filter(|hint| hint.is_finite()) {
        let height = rect.height() * hint.clamp(0.05, 1.0);
        let bar = Rect::from_min_max(
            pos2(rect.left(), rect.bottom() - height),
            pos2(rect.left() + tube, rect.bottom()),
        );
        ui.painter().rect_filled(bar, corner, palette.bar);
    }
    let centre = pos2(rect.center().x + tube / 2.0, rect.center().y);
    ui.painter().extend(marker::shapes(
        tile.state,
        centre,
        radius,
        On::Pane,
        palette,
    ));
}

fn outline(ui: &Ui, look: &Look, rect: Rect) {
    let line = Stroke::new(2.0, look.palette.ink);
    ui.painter()
        .rect_stroke(rect.expand(0.5), 2.0, line, StrokeKind::Outside);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::theme;
    use egui_kittest::kittest::Queryable as _;

    fn round(n: usize) -> Vec<Tile> {
        (0..n)
            .map(|i| Tile {
                name: format!("J{}.{}", i / 16 + 1, i % 16 + 1),
                state: State::ALL[i % 7],
                far: None,
                hint: (i % 3 != 0).then_some(i as f32 / n as f32),
                starts_part: i % 16 == 0,
            })
            .collect()
    }

    #[test]
    fn tiles_wrap_in_order_never_overlap_and_never_leave_the_width() {
        for width in [40.0, 300.0, 1248.0] {
            let (corners, height) = places(&round(430), width, [22.0, 28.0]);
            assert_eq!(corners.len(), 430);
            for pair in corners.windows(2) {
                let same_row = pair[0][1] == pair[1][1];
                let right_of = pair[1][0] >= pair[0][0] + 22.0 + GAP;
                assert!(if same_row {
                    right_of
                } else {
                    pair[1][1] >= pair[0][1] + 28.0
                });
                assert!(pair[1][0] + 22.0 <= width, "{width}: {pair:?}");
            }
            assert!(height >= corners[429][1] + 28.0);
        }
        assert_eq!(places(&[], 100.0, [22.0, 28.0]), (Vec::new(), 0.0));
    }

    #[test]
    fn four_hundred_joints_are_found_by_name_and_pressed() {
        let tiles = round(430);
        let mut strip = theme::harness()
            .with_size(vec2(1280.0, 124.0))
            .build_ui_state(
                move |ui, (strip, pressed): &mut (Strip, Option<usize>)| {
                    if let Some(i) = strip.show(ui, &Look::default(), &tiles, Some(18), 100.0) {
                        *pressed = Some(i);
                    }
                },
                (Strip::default(), None),
            );
        strip.run();
        strip.get_by_label("J2.4, accepted, hint 0.04");
        strip.get_by_label("J27.13, no fault seen, hint 1.00");
        strip.get_by_label("J2.5, cannot be judged, hint 0.05");
        let node = strip.get_by_label("J1.3, suspect, hint 0.00");
        node.click();
        strip.run();
        assert_eq!(strip.state().1, Some(2));
    }
}
