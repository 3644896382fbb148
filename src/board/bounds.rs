//! Limits before trust: counts, lengths and magnitudes that no board has are refused when the
//! map is read, so that nothing later has to fear them.

use std::path::Path;

use super::file::MapError;
use super::model::{BoardMap, Limits, Outline, Part, Pin, Rail, TestPoint};

/// Most parts on one board; the largest through-hole boards carry a few thousand.
pub const MAX_PARTS: usize = 50_000;
/// Most pins on one board, all parts together; twenty times the scale that the desk is built for.
pub const MAX_PINS: usize = 200_000;
/// Most landmarks, rails and test points, each.
pub(super) const MAX_POINTS: usize = 2_000;
/// Most corners of one polygon. The crossing test is quadratic in it.
pub(super) const MAX_CORNERS: usize = 2_000;
/// Longest uid, reference, pin or other name, characters. Longer ones fit no label or address.
pub(super) const MAX_NAME: usize = 128;
/// Longest free text, characters.
pub(super) const MAX_TEXT: usize = 4_000;
/// Greatest magnitude of a coordinate or size, mm. Ten metres: no board, yet far from where
/// arithmetic loses a micrometre.
pub const MAX_MM: f64 = 10_000.0;
/// Greatest magnitude of an electrical value in its unit. A teraohm; above it integer
/// millionths would leave 64 bits.
pub(super) const MAX_VALUE: f64 = 1e12;

/// Refuses what no board can have; `name` is used in errors only.
pub(crate) fn check(map: &BoardMap, name: &Path) -> Result<(), MapError> {
    let check = Check { name };
    check.count("parts", map.parts.len(), MAX_PARTS)?;
    let pins = map.parts.iter().map(|p| p.pins.len()).sum();
    check.count("pins", pins, MAX_PINS)?;
    check.count("landmarks", map.landmarks.len(), MAX_POINTS)?;
    check.count("rails", map.rails.len(), MAX_POINTS)?;
    check.count("test points", map.test_points.len(), MAX_POINTS)?;
    check.polygon("board outline", &map.outline)?;
    for (what, text) in [("model", &map.model), ("board", &map.board)] {
        check.name(what, text)?;
    }
    for (what, text) in [("title", &map.title), ("origin", &map.origin)] {
        check.text(what, text)?;
    }
    check.text("revision", map.revision.as_deref().unwrap_or_default())?;
    map.parts.iter().try_for_each(|part| check.part(part))?;
    for landmark in &map.landmarks {
        check.name("landmark name", &landmark.name)?;
        let place = format!("landmark {}", landmark.name);
        check.text(&place, &landmark.look_for)?;
        check.millimetres(&place, &landmark.at)?;
    }
    map.rails.iter().try_for_each(|rail| check.rail(rail))?;
    map.test_points
        .iter()
        .try_for_each(|tp| check.test_point(tp))
}

struct Check<'a> {
    name: &'a Path,
}

impl Check<'_> {
    fn part(&self, part: &Part) -> Result<(), MapError> {
        self.name("part uid", &part.uid)?;
        self.name("part ref", &part.reference)?;
        let place = format!("part {}", part.reference);
        self.text(&place, &part.value)?;
        self.text(&place, part.watch.as_deref().unwrap_or_default())?;
        match &part.outline {
            Outline::Rect { at, size, turn_deg } => {
                self.millimetres(&place, at)?;
                self.millimetres(&place, size)?;
                self.within(&place, &[*turn_deg], MAX_MM)?;
            }
            Outline::Circle { at, diameter } => {
                self.millimetres(&place, at)?;
                self.millimetres(&place, &[*diameter])?;
            }
            Outline::Polygon { points } => self.polygon(&place, points)?,
        }
        part.pins
            .iter()
            .try_for_each(|pin| self.pin(&part.reference, pin))
    }

    fn pin(&self, reference: &str, pin: &Pin) -> Result<(), MapError> {
        // Cheap tests first: the place is only written out for the pin that fails one.
        let in_order = [&pin.uid, &pin.no].iter().all(|t| t.len() <= MAX_NAME)
            && [&pin.net, &pin.watch]
                .iter()
                .all(|t| t.as_deref().unwrap_or_default().len() <= MAX_NAME)
            && [pin.at[0], pin.at[1], pin.land.size[0], pin.land.size[1]]
                .iter()
                .chain(pin.drill.iter())
                .all(|v| v.abs() <= MAX_MM);
        if in_order {
            return Ok(());
        }
        self.name(&format!("part {reference}, pin uid"), &pin.uid)?;
        self.name(&format!("part {reference}, pin no"), &pin.no)?;
        let place = format!("part {reference}, pin {}", pin.no);
        self.name(&place, pin.net.as_deref().unwrap_or_default())?;
        self.text(&place, pin.watch.as_deref().unwrap_or_default())?;
        self.millimetres(&place, &pin.at)?;
        self.millimetres(&place, &pin.land.size)?;
        self.millimetres(&place, &[pin.drill.unwrap_or_default()])
    }

    fn rail(&self, rail: &Rail) -> Result<(), MapError> {
        self.name("rail name", &rail.name)?;
        let place = format!("rail {}", rail.name);
        self.text(&place, &rail.at)?;
        self.text(&place, &rail.return_at)?;
        let Rail {
            unloaded: Limits { min, max },
            loaded,
            ..
        } = *rail;
        self.within(&place, &[min, max, loaded.min, loaded.max], MAX_VALUE)?;
        let more = [rail.cold_min_ohm, rail.ripple_max_mv_pp, rail.amperes_max];
        self.within(&place, &more.map(Option::unwrap_or_default), MAX_VALUE)
    }

    fn test_point(&self, point: &TestPoint) -> Result<(), MapError> {
        self.name("test point name", &point.name)?;
        let place = format!("test point {}", point.name);
        self.text(&place, &point.at)?;
        self.count("values of one test point", point.expect.len(), MAX_POINTS)?;
        self.count(
            "settings of one test point",
            point.settings.len(),
            MAX_POINTS,
        )?;
        for (control, position) in &point.settings {
            self.name(&place, control)?;
            self.text(&place, position)?;
        }
        point.expect.iter().try_for_each(|e| {
            let values = [e.nominal, e.min, e.max].map(Option::unwrap_or_default);
            self.within(&place, &values, MAX_VALUE)
        })
    }

    fn polygon(&self, place: &str, points: &[[f64; 2]]) -> Result<(), MapError> {
        self.count("corners of one polygon", points.len(), MAX_CORNERS)?;
        points
            .iter()
            .try_for_each(|point| self.millimetres(place, point))
    }

    fn millimetres(&self, place: &str, values: &[f64]) -> Result<(), MapError> {
        self.within(place, values, MAX_MM)
    }

    fn within(&self, place: &str, values: &[f64], limit: f64) -> Result<(), MapError> {
        match values.iter().find(|v| v.is_nan() || v.abs() > limit) {
            Some(&value) => Err(MapError::Absurd {
                path: self.name.to_path_buf(),
                place: place.to_owned(),
                value,
                limit,
            }),
            None => Ok(()),
        }
    }

    fn name(&self, place: &str, text: &str) -> Result<(), MapError> {
        self.length(place, text, MAX_NAME)
    }

    fn text(&self, place: &str, text: &str) -> Result<(), MapError> {
        self.length(place, text, MAX_TEXT)
    }

    fn length(&self, place: &str, text: &str, limit: usize) -> Result<(), MapError> {
        // Bytes bound characters, so that the count is only made where it can matter.
        if text.len() <= limit {
            return Ok(());
        }
        let chars = text.chars().count();
        if chars <= limit {
            return Ok(());
        }
        Err(MapError::TooLong {
            path: self.name.to_path_buf(),
            place: place.to_owned(),
            chars,
            limit,
        })
    }

    fn count(&self, what: &'static str, count: usize, limit: usize) -> Result<(), MapError> {
        if count <= limit {
            return Ok(());
        }
        Err(MapError::TooMany {
            path: self.name.to_path_buf(),
            what,
            count,
            limit,
        })
    }
}
