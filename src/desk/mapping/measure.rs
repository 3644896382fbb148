//! Rails and test points of the map being made.

use std::collections::BTreeMap;

use eframe::egui::{self, CollapsingHeader, RichText, Ui};

use super::detail::typed;
use super::making::Making;
use super::panel::{ask, small};
use crate::board::draft::Edit;
use crate::board::{Expect, Extent, Limits, Rail, TestPoint};
use crate::desk::ask::Ask;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::typed::number;

/// What can be read at a test point.
const QUANTITIES: [(Expect, &str); 6] = [
    (Expect::VoltsDc, "V"),
    (Expect::MillivoltsPp, "mV p-p"),
    (Expect::OffsetVolts, "V offset"),
    (Expect::Hertz, "Hz"),
    (Expect::Ohm, "ohm"),
    (Expect::AmperesDc, "A"),
];

pub(super) fn show(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    ui.add_space(4.0);
    let rails = making.map().rails.clone();
    CollapsingHeader::new(RichText::new(format!("Rails ({})", rails.len())).font(look.strong()))
        .id_salt("rails")
        .show(ui, |ui| {
            for rail in &rails {
                listed(
                    ui,
                    &rail_words(rail),
                    || Edit::DropRail {
                        name: rail.name.clone(),
                    },
                    asks,
                );
            }
            new_rail(ui, look, making, asks);
        });
    let points = making.map().test_points.clone();
    CollapsingHeader::new(
        RichText::new(format!("Test points ({})", points.len())).font(look.strong()),
    )
    .id_salt("test points")
    .show(ui, |ui| {
        for point in &points {
            listed(
                ui,
                &point_words(point),
                || Edit::DropTestPoint {
                    name: point.name.clone(),
                },
                asks,
            );
        }
        new_point(ui, look, making, asks);
    });
}

fn listed(ui: &mut Ui, words: &str, drop: impl Fn() -> Edit, asks: &mut Vec<Ask>) {
    ui.horizontal_wrapped(|ui| {
        ui.label(crate::paper::shown(words));
        if ui.small_button("Take away").clicked() {
            asks.push(ask(drop()));
        }
    });
}

fn rail_words(rail: &Rail) -> String {
    let amperes = rail
        .amperes_max
        .map(|most| format!(", at most {most} A"))
        .unwrap_or_default();
    format!(
        "{} at {} to {}: {} to {} V unloaded, {} to {} V loaded{amperes}",
        rail.name,
        rail.at,
        rail.return_at,
        rail.unloaded.min,
        rail.unloaded.max,
        rail.loaded.min,
        rail.loaded.max
    )
}

fn point_words(point: &TestPoint) -> String {
    let limit = |v: Option<f64>| v.map_or_else(|| "none".to_owned(), |v| v.to_string());
    let expect: Vec<String> = point
        .expect
        .iter()
        .map(|extent| {
            let unit = QUANTITIES.iter().find(|(q, _)| *q == extent.quantity);
            format!(
                "{} to {} {}",
                limit(extent.min),
                limit(extent.max),
                unit.map_or("", |(_, unit)| unit)
            )
        })
        .collect();
    let settings: Vec<String> = point
        .settings
        .iter()
        .map(|(control, at)| format!("{control} at {at}"))
        .collect();
    let with = if settings.is_empty() {
        String::new()
    } else {
        format!(", with {}", settings.join(", "))
    };
    format!(
        "{} at {}: {}{with}",
        point.name,
        point.at,
        expect.join("; ")
    )
}

/// Text of a field.
fn text(making: &Making, key: &str) -> String {
    making
        .fields
        .get(key)
        .map_or_else(String::new, |text| text.trim().to_owned())
}

/// A field for a place of the map; the chosen pin can be taken for it.
fn place(ui: &mut Ui, look: &Look, making: &mut Making, key: &str, label: &str) {
    ui.horizontal_wrapped(|ui| {
        typed(ui, look, making, key, label, 90.0);
        let chosen = making
            .pin
            .as_deref()
            .and_then(|uid| making.map().pin(uid))
            .map(|(part, pin)| format!("{}.{}", part.reference, pin.no));
        if let Some(address) = chosen.filter(|address| *address != text(making, key))
            && small(
                ui,
                "",
                &format!("take {address}"),
                "Measured at the pin that is chosen.",
            )
        {
            making.fields.insert(key.to_owned(), address);
        }
    });
}

/// Two limits, the smaller first: -11.4 and -12.6 mean -12.6 to -11.4.
fn limits(making: &Making, a: &str, b: &str) -> Option<Limits> {
    let (a, b) = (number(&text(making, a))?, number(&text(making, b))?);
    Some(Limits { min: a, max: b }.ordered())
}

fn new_rail(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    typed(ui, look, making, "rail name", "Rail", 90.0);
    place(ui, look, making, "rail at", "measured at, such as U7.3");
    place(ui, look, making, "rail return", "against, such as J1.2");
    ui.horizontal_wrapped(|ui| {
        typed(
            ui,
            look,
            making,
            "rail unloaded min",
            "unloaded min, V",
            56.0,
        );
        typed(ui, look, making, "rail unloaded max", "max, V", 56.0);
    });
    ui.horizontal_wrapped(|ui| {
        typed(ui, look, making, "rail loaded min", "loaded min, V", 56.0);
        typed(ui, look, making, "rail loaded max", "max, V", 56.0);
    });
    ui.horizontal_wrapped(|ui| {
        typed(ui, look, making, "rail ohm", "cold, at least, ohm", 56.0);
        typed(
            ui,
            look,
            making,
            "rail ripple",
            "ripple, at most, mV p-p",
            56.0,
        );
    });
    let unloaded = limits(making, "rail unloaded min", "rail unloaded max");
    // Blank limits under load are those without.
    let loaded = limits(making, "rail loaded min", "rail loaded max").or(unloaded);
    let name = text(making, "rail name");
    let ready = !name.is_empty() && unloaded.is_some();
    let begun = making
        .fields
        .iter()
        .any(|(key, text)| key.starts_with("rail ") && !text.trim().is_empty());
    if begun && !ready {
        let words = "A rail needs a name and both limits unloaded, in volts.";
        parts::caption(ui, look, words);
    }
    if ui
        .add_enabled(ready, egui::Button::new("Add this rail"))
        .clicked()
        && let (Some(unloaded), Some(loaded)) = (unloaded, loaded)
    {
        let before = (making.map().rails.iter()).find(|rail| rail.name == name);
        asks.push(ask(Edit::Rail {
            rail: Rail {
                name,
                at: text(making, "rail at"),
                return_at: text(making, "rail return"),
                unloaded,
                loaded,
                cold_min_ohm: number(&text(making, "rail ohm")),
                ripple_max_mv_pp: number(&text(making, "rail ripple")),
                // There is no field for it: what the map had stays.
                amperes_max: before.and_then(|rail| rail.amperes_max),
            },
        }));
    }
}

fn new_point(ui: &mut Ui, look: &Look, making: &mut Making, asks: &mut Vec<Ask>) {
    typed(ui, look, making, "point name", "Test point", 90.0);
    place(ui, look, making, "point at", "measured at, such as R4.2");
    let quantity = making
        .fields
        .get("point unit")
        .and_then(|unit| QUANTITIES.iter().find(|(_, name)| name == unit))
        .unwrap_or(&QUANTITIES[0])
        .0;
    ui.horizontal_wrapped(|ui| {
        for (kind, unit) in QUANTITIES {
            if ui.selectable_label(kind == quantity, unit).clicked() {
                making
                    .fields
                    .insert("point unit".to_owned(), unit.to_owned());
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        typed(ui, look, making, "point min", "min", 56.0);
        typed(ui, look, making, "point max", "max", 56.0);
    });
    typed(
        ui,
        look,
        making,
        "point settings",
        "controls, such as S1 at RUN, VR2 at 5",
        200.0,
    );
    let name = text(making, "point name");
    let (min, max) = (
        number(&text(making, "point min")),
        number(&text(making, "point max")),
    );
    if min.is_none() && max.is_none() {
        parts::caption(
            ui,
            look,
            "Without a limit a reading can be written down, but decides nothing.",
        );
    }
    let ready = !name.is_empty() && !text(making, "point at").is_empty();
    if !ready && (!name.is_empty() || min.is_some() || max.is_some()) {
        let words = "A test point needs a name and the place where it is measured.";
        parts::caption(ui, look, words);
    }
    if ui
        .add_enabled(ready, egui::Button::new("Add this test point"))
        .clicked()
    {
        let (min, max) = match (min, max) {
            (Some(a), Some(b)) => (Some(a.min(b)), Some(a.max(b))),
            one => one,
        };
        let before = making.map().test_points.iter().find(|p| p.name == name);
        // A second quantity at the same point is added to the first.
        let mut expect: Vec<Extent> = before.map(|p| p.expect.clone()).unwrap_or_default();
        expect.retain(|extent| extent.quantity != quantity);
        expect.push(Extent {
            quantity,
            nominal: None,
            min,
            max,
        });
        asks.push(ask(Edit::TestPoint {
            point: TestPoint {
                name,
                at: text(making, "point at"),
                expect,
                settings: settings(&text(making, "point settings")),
            },
        }));
    }
}

/// `S1 at RUN, VR2 = 5`: control to position.
fn settings(text: &str) -> BTreeMap<String, String> {
    text.split(',')
        .filter_map(|one| one.split_once(" at ").or_else(|| one.split_once('=')))
        .map(|(control, at)| (control.trim().to_owned(), at.trim().to_owned()))
        .filter(|(control, _)| !control.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::settings;

    #[test]
    fn controls_and_their_positions_are_read_as_typed() {
        let read = settings("S1 at RUN, VR2=5,, nonsense");
        let flat: Vec<(&str, &str)> = read.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
        assert_eq!(flat, [("S1", "RUN"), ("VR2", "5")]);
    }
}
