//! Colours, faces and sizes as data, and the arithmetic that proves them legible.

use std::sync::Arc;

use eframe::egui::{
    self, Color32, Context, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Stroke,
    TextStyle,
};

use super::marker::State;

/// Name of the semibold family among egui's fonts.
const SEMIBOLD: &str = "semibold";
/// Body text at 100 %, in points.
const BODY_PT: f32 = 15.0;
/// Captions and key hints; nothing is ever smaller than [`LEAST_PT`].
const SMALL_PT: f32 = 13.0;
/// The joint's reference at the top of the glass.
const TITLE_PT: f32 = 22.0;
/// No text is drawn smaller, whatever the setting.
pub const LEAST_PT: f32 = 12.0;
/// Range of the text setting: 200 % is what WCAG 2.1 1.4.4 asks for.
pub const TEXT_SCALE: std::ops::RangeInclusive<f32> = 0.8..=2.0;

/// The colours of one theme. Colour is for state only; the rest is warm grey.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// Behind the glass and on pages.
    pub pane: Color32,
    /// Behind photographs.
    pub well: Color32,
    /// Behind the round strip.
    pub strip: Color32,
    /// A tile of the strip, a chip, a resting button.
    pub tile: Color32,
    /// The same under the pointer.
    pub tile_hot: Color32,
    /// The hint's bar in a tile.
    pub bar: Color32,
    /// Hairlines between areas: decoration only, nothing depends on seeing them.
    pub edge: Color32,
    /// Outline of things that can be pressed.
    pub outline: Color32,
    /// Text.
    pub ink: Color32,
    /// Text of less weight.
    pub dim: Color32,
    /// Behind a stage that is passed.
    pub stage_done: Color32,
    /// Behind the stage that is next.
    pub stage_now: Color32,
    /// Around a marker's fill, so that pale fills stand out on pale panes.
    pub marker_edge: Color32,
    /// Fill of the state markers, in the order of [`State::ALL`].
    pub state_fill: [Color32; State::ALL.len()],
    /// The states' colours where they colour words, in the order of [`State::ALL`].
    pub state_text: [Color32; State::ALL.len()],
}

const fn rgb(hex: u32) -> Color32 {
    Color32::from_rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

/// The dark theme: the default, for a bench with the lamp on the board.
pub const DARK: Palette = Palette {
    ground: rgb(0x001d_1b18),
    pane: rgb(0x0026_231f),
    well: rgb(0x0017_1512),
    strip: rgb(0x0021_1e1a),
    tile: rgb(0x0030_2c26),
    tile_hot: rgb(0x003f_3a32),
    bar: rgb(0x009a_9080),
    edge: rgb(0x003a_352e),
    outline: rgb(0x0084_7b6c),
    ink: rgb(0x00ef_e8dc),
    dim: rgb(0x00b3_a896),
    stage_done: rgb(0x0026_3d36),
    stage_now: rgb(0x0045_331c),
    marker_edge: rgb(0x0000_0000),
    state_fill: [
        rgb(0x00a5_9c8c),
        rgb(0x00ef_e8dc),
        rgb(0x00e6_9f00),
        rgb(0x00d5_5e00),
        rgb(0x0056_b4e9),
        rgb(0x0000_9e73),
        rgb(0x00b3_a896),
        rgb(0x00a5_9c8c),
    ],
    state_text: [
        rgb(0x00b3_a896),
        rgb(0x00ef_e8dc),
        rgb(0x00e6_9f00),
        rgb(0x00f0_8035),
        rgb(0x0056_b4e9),
        rgb(0x002c_b98c),
        rgb(0x00b3_a896),
        rgb(0x00b3_a896),
    ],
};

/// The light theme: for daylight.
pub const LIGHT: Palette = Palette {
    ground: rgb(0x00ee_e8dd),
    pane: rgb(0x00f9_f5ed),
    well: rgb(0x00dd_d6c9),
    strip: rgb(0x00f1_ebe0),
    tile: rgb(0x00e4_dccd),
    tile_hot: rgb(0x00d6_ccba),
    bar: rgb(0x0077_6d5e),
    edge: rgb(0x00d2_c8b7),
    outline: rgb(0x0080_7768),
    ink: rgb(0x0026_221c),
    dim: rgb(0x0058_5145),
    stage_done: rgb(0x00cf_e3da),
    stage_now: rgb(0x00f7_dfb0),
    marker_edge: rgb(0x0026_221c),
    state_fill: [
        rgb(0x0066_5e51),
        rgb(0x0026_221c),
        rgb(0x00e6_9f00),
        rgb(0x00d5_5e00),
        rgb(0x0056_b4e9),
        rgb(0x0000_9e73),
        rgb(0x0058_5145),
        rgb(0x0066_5e51),
    ],
    state_text: [
        rgb(0x0058_5145),
        rgb(0x0026_221c),
        rgb(0x0080_5200),
        rgb(0x00a3_4300),
        rgb(0x000b_5f94),
        rgb(0x0000_664a),
        rgb(0x0058_5145),
        rgb(0x0058_5145),
    ],
};

impl Palette {
    /// Fill of a state's marker.
    #[must_use]
    pub fn fill(&self, state: State) -> Color32 {
        self.state_fill[state.index()]
    }

    /// Colour of a state's words.
    #[must_use]
    pub fn words(&self, state: State) -> Color32 {
        self.state_text[state.index()]
    }
}

/// One theme at one text size. Small and `Copy`: every part of the window gets it by reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// The colours.
    pub palette: Palette,
    /// Whether this is the dark theme.
    pub dark: bool,
    /// Text size, 1.0 is 100 %.
    pub text_scale: f32,
}

impl Default for Look {
    fn default() -> Self {
        Self::new(true, 1.0)
    }
}

impl Look {
    /// A look; `text_scale` is brought into [`TEXT_SCALE`] (a NaN becomes 100 %).
    #[must_use]
    pub fn new(dark: bool, text_scale: f32) -> Self {
        let text_scale = if text_scale.is_finite() {
            text_scale.clamp(*TEXT_SCALE.start(), *TEXT_SCALE.end())
        } else {
            1.0
        };
        Self {
            palette: if dark { DARK } else { LIGHT },
            dark,
            text_scale,
        }
    }

    fn size(&self, points: f32) -> f32 {
        (points * self.text_scale).max(LEAST_PT)
    }

    /// A length that grows with the text, for boxes that hold words.
    #[must_use]
    pub fn scaled(&self, points: f32) -> f32 {
        points * self.text_scale.max(1.0)
    }

    /// Body text.
    #[must_use]
    pub fn body(&self) -> FontId {
        FontId::new(self.size(BODY_PT), FontFamily::Proportional)
    }

    /// Body text, semibold.
    #[must_use]
    pub fn strong(&self) -> FontId {
        FontId::new(self.size(BODY_PT), semibold())
    }

    /// Captions.
    #[must_use]
    pub fn small(&self) -> FontId {
        FontId::new(self.size(SMALL_PT), FontFamily::Proportional)
    }

    /// Captions, semibold: letters on keys.
    #[must_use]
    pub fn small_strong(&self) -> FontId {
        FontId::new(self.size(SMALL_PT), semibold())
    }

    /// The one title of a place.
    #[must_use]
    pub fn title(&self) -> FontId {
        FontId::new(self.size(TITLE_PT), semibold())
    }

    /// Makes this the look of the whole window. Cheap enough to call when a setting changes,
    /// not every frame: the fonts are laid out anew.
    pub fn apply(&self, ctx: &Context) {
        ctx.set_fonts(fonts());
        let theme = if self.dark {
            egui::Theme::Dark
        } else {
            egui::Theme::Light
        };
        ctx.set_theme(theme);
        ctx.style_mut_of(theme, |style| self.write(style));
    }

    fn write(&self, style: &mut egui::Style) {
        style.text_styles = [
            (TextStyle::Small, self.small()),
            (TextStyle::Body, self.body()),
            (TextStyle::Button, self.body()),
            (TextStyle::Heading, self.title()),
            (TextStyle::Monospace, self.body()),
        ]
        .into();
        style.spacing.item_spacing = egui::vec2(8.0, 6.0);
        style.spacing.button_padding = egui::vec2(10.0, 4.0);
        style.spacing.interact_size.y = self.scaled(26.0);
        style.animation_time = 0.08;
        let mut visuals = if self.dark {
            egui::Visuals::dark()
        } else {
            egui::Visuals::light()
        };
        self.write_visuals(&mut visuals);
        style.visuals = visuals;
    }

    fn write_visuals(&self, visuals: &mut egui::Visuals) {
        let palette = &self.palette;
        visuals.panel_fill = palette.ground;
        visuals.window_fill = palette.pane;
        visuals.window_stroke = Stroke::new(1.0, palette.edge);
        visuals.faint_bg_color = palette.strip;
        visuals.extreme_bg_color = palette.well;
        visuals.override_text_color = Some(palette.ink);
        visuals.weak_text_color = Some(palette.dim);
        visuals.hyperlink_color = palette.ink;
        visuals.warn_fg_color = palette.words(State::Suspect);
        visuals.error_fg_color = palette.words(State::Faulty);
        visuals.selection.bg_fill = palette.tile_hot;
        visuals.selection.stroke = Stroke::new(1.0, palette.ink);
        let rounding = CornerRadius::same(3);
        visuals.window_corner_radius = rounding;
        visuals.menu_corner_radius = rounding;
        for (widget, fill, line) in [
            (
                &mut visuals.widgets.noninteractive,
                palette.pane,
                palette.edge,
            ),
            (&mut visuals.widgets.inactive, palette.tile, palette.outline),
            (&mut visuals.widgets.hovered, palette.tile_hot, palette.ink),
            (&mut visuals.widgets.active, palette.tile_hot, palette.ink),
            (&mut visuals.widgets.open, palette.tile_hot, palette.ink),
        ] {
            widget.bg_fill = fill;
            widget.weak_bg_fill = fill;
            widget.bg_stroke = Stroke::new(1.0, line);
            widget.fg_stroke = Stroke::new(1.0, palette.ink);
            widget.corner_radius = rounding;
            widget.expansion = 0.0;
        }
    }
}

/// The semibold family.
#[must_use]
pub fn semibold() -> FontFamily {
    FontFamily::Name(SEMIBOLD.into())
}

/// Inter (SIL Open Font License, see `fonts/OFL.txt`) before egui's own faces, which stay as the
/// fallback for signs that it lacks.
fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    let faces: [(&str, &'static [u8]); 2] = [
        ("inter", include_bytes!("fonts/Inter-Regular.otf")),
        ("inter-semibold", include_bytes!("fonts/Inter-SemiBold.otf")),
    ];
    for (name, bytes) in faces {
        let data = Arc::new(FontData::from_static(bytes));
        fonts.font_data.insert(name.to_owned(), data);
    }
    let fallback = fonts
        .families
        .get(&FontFamily::Proportional)
        .cloned()
        .unwrap_or_default();
    for (family, face) in [
        (FontFamily::Proportional, "inter"),
        (FontFamily::Monospace, "inter"),
        (semibold(), "inter-semibold"),
    ] {
        let mut order = vec![face.to_owned()];
        order.extend(fallback.iter().cloned());
        fonts.families.insert(family, order);
    }
    fonts
}

/// Contrast ratio of two opaque colours, 1..=21, by WCAG 2.1 (definitions of *contrast ratio*
/// and *relative luminance*). Alpha is ignored.
#[must_use]
pub fn contrast(a: Color32, b: Color32) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn luminance(colour: Color32) -> f64 {
    // WCAG writes the limit as 0.03928; for 8-bit values that is the same as sRGB's 0.04045.
    let linear = |value: u8| {
        let c = f64::from(value) / 255.0;
        if c <= 0.040_45 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
}

/// A test window that has our fonts from its first frame on.
#[cfg(test)]
pub(super) fn harness<State>() -> egui_kittest::HarnessBuilder<State> {
    egui_kittest::Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_context_setup(|ctx| Look::default().apply(ctx))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values computed from the formulae of WCAG 2.1 for greys on white; the first pair is the
    /// one that the recommendation's 4.5:1 falls between.
    #[test]
    fn contrast_agrees_with_published_values() {
        for (hex, ratio) in [
            (0x0076_7676, 4.5422),
            (0x0077_7777, 4.4781),
            (0x0094_9494, 3.0335),
            (0x0095_9595, 2.9953),
            (0x0000_0000, 21.0),
            (0x00e6_9f00, 2.25),
            (0x00d5_5e00, 3.87),
        ] {
            let got = contrast(rgb(hex), Color32::WHITE);
            let tolerance = if ratio * 100.0 % 1.0 == 0.0 {
                5e-3
            } else {
                5e-5
            };
            assert!((got - ratio).abs() <= tolerance, "{hex:06x}: {got}");
        }
    }

    /// WCAG 2.1 success criterion 1.4.3: text at least 4.5:1.
    #[test]
    fn every_text_is_legible_on_every_ground_that_it_stands_on() {
        for p in [DARK, LIGHT] {
            let grounds = [
                p.ground,
                p.pane,
                p.well,
                p.strip,
                p.tile,
                p.tile_hot,
                p.stage_done,
                p.stage_now,
            ];
            for ground in grounds {
                let ratio = contrast(p.ink, ground);
                assert!(ratio >= 4.5, "ink on {ground:?}: {ratio:.2}");
            }
            for ground in [
                p.ground,
                p.pane,
                p.well,
                p.strip,
                p.tile,
                p.stage_done,
                p.stage_now,
            ] {
                let ratio = contrast(p.dim, ground);
                assert!(ratio >= 4.5, "dim on {ground:?}: {ratio:.2}");
            }
            for (state, colour) in State::ALL.into_iter().zip(p.state_text) {
                for ground in [p.ground, p.pane, p.strip, p.tile] {
                    let ratio = contrast(colour, ground);
                    assert!(ratio >= 4.5, "{state:?} on {ground:?}: {ratio:.2}");
                }
            }
        }
    }

    /// WCAG 2.1 success criterion 1.4.11: graphical objects and outlines of controls 3:1. A
    /// filled marker may carry its contrast in its outline; its fill then has 3:1 against that.
    #[test]
    fn every_marker_and_outline_stands_out() {
        for p in [DARK, LIGHT] {
            for ground in [p.ground, p.pane, p.strip, p.tile] {
                for state in State::ALL {
                    let fill = p.fill(state);
                    let alone = contrast(fill, ground);
                    let outlined =
                        contrast(p.marker_edge, ground).min(contrast(fill, p.marker_edge));
                    let ratio = alone.max(outlined);
                    assert!(ratio >= 3.0, "{state:?} on {ground:?}: {ratio:.2}");
                }
            }
            assert!(contrast(p.bar, p.tile) >= 3.0);
            for ground in [p.ground, p.pane, p.strip] {
                let ratio = contrast(p.outline, ground);
                assert!(ratio >= 3.0, "outline on {ground:?}: {ratio:.2}");
            }
        }
    }

    #[test]
    fn text_is_never_below_the_least_size_nor_beyond_double() {
        for scale in [0.1, 0.8, 1.0, 2.0, 9.0, f32::NAN] {
            let look = Look::new(true, scale);
            for font in [look.body(), look.small(), look.small_strong(), look.title()] {
                assert!(
                    (LEAST_PT..=44.0).contains(&font.size),
                    "{scale}: {}",
                    font.size
                );
            }
        }
        assert_eq!(Look::new(true, 1.0).body().size, 15.0);
    }

    #[test]
    fn figures_are_tabular_and_the_signs_we_print_exist() {
        let ctx = Context::default();
        Look::default().apply(&ctx);
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            for font in [Look::default().body(), Look::default().strong()] {
                ui.fonts_mut(|fonts| {
                    assert!(fonts.has_glyphs(&font, "0123456789 °×–→←↑↓±Ω≤≥µ·…’“”"));
                    let widths: Vec<f32> =
                        ('0'..='9').map(|c| fonts.glyph_width(&font, c)).collect();
                    assert!(
                        widths.iter().all(|w| (w - widths[0]).abs() < 1e-3),
                        "{widths:?}"
                    );
                });
            }
        });
        output.textures_delta.clear();
    }
}
