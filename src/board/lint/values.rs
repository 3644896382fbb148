//! Rails and test points: limits that cannot be met, and probes that stand nowhere.

use super::{Finding, Kind};
use crate::board::address::Address;
use crate::board::model::{BoardMap, Extent, Limits, Rail};
use crate::board::resolve::{AddressError, resolve_many};

pub(super) fn check(map: &BoardMap, findings: &mut Vec<Finding>) {
    for rail in &map.rails {
        rail_limits(rail, findings);
        rail_extras(rail, findings);
    }
    test_points(map, findings);
    probes(map, findings);
}

fn rail_place(rail: &Rail) -> String {
    format!("rail {}", rail.name)
}

fn rail_limits(rail: &Rail, findings: &mut Vec<Finding>) {
    for (what, limits) in [("unloaded", rail.unloaded), ("loaded", rail.loaded)] {
        let place = rail_place(rail);
        wrong_way_round(&place, what, limits, findings);
        let Limits { min, max } = limits.ordered();
        if min <= 0.0 && 0.0 <= max {
            Kind::warning(findings, "rails").add(
                rail_place(rail),
                format!("the {what} limits {min} to {max} V hold 0 V: a dead rail would pass"),
                "give limits on one side of 0, both negative for a negative rail",
            );
        }
        let named = volts_in(&rail.name).filter(|volts| !(min..=max).contains(volts));
        if let Some(volts) = named {
            Kind::warning(findings, "rails").add(
                place,
                format!("the {what} limits {min} to {max} V leave out {volts} V, its name"),
                "check the limits, their signs above all",
            );
        }
    }
}

/// Names limits whose min is above their max. Both negative is the habit of writing a negative
/// rail by its size (-11.4 to -12.6), which is judged right; otherwise it is a slip.
fn wrong_way_round(place: &str, what: &str, limits: Limits, findings: &mut Vec<Finding>) {
    let Limits { min, max } = limits;
    if min <= max {
        return;
    }
    let mut kind = if min < 0.0 {
        Kind::warning(findings, "limits the wrong way round")
    } else {
        Kind::error(findings, "limits the wrong way round")
    };
    kind.add(
        place.to_owned(),
        format!(
            "the {what} limits have min {min} above max {max}; they are judged as {max} to {min}"
        ),
        format!("write min {max} and max {min} (below zero, the larger size is the smaller value)"),
    );
}

/// The voltage that a rail's name states: -12 of `-12 V`; `None` where it states none.
fn volts_in(name: &str) -> Option<f64> {
    let number = name
        .trim()
        .trim_end_matches(['V', 'v'])
        .trim_end()
        .replace('\u{2212}', "-");
    let signed = number.starts_with(['+', '-']) || name.trim_end().ends_with(['V', 'v']);
    number
        .parse()
        .ok()
        .filter(|v: &f64| signed && v.is_finite())
}

fn rail_extras(rail: &Rail, findings: &mut Vec<Finding>) {
    if rail.cold_min_ohm.is_none() {
        Kind::warning(findings, "rails").add(
            rail_place(rail),
            "no least resistance is stated, so the gate stays shut before first power",
            "measure a unit that is in order, power off and stored charge gone, and give cold_min_ohm",
        );
    }
    let mut kind = Kind::error(findings, "rails");
    let extras = [
        ("cold_min_ohm", rail.cold_min_ohm),
        ("ripple_max_mv_pp", rail.ripple_max_mv_pp),
        ("amperes_max", rail.amperes_max),
    ];
    for (what, value) in extras {
        if let Some(value) = value.filter(|v| *v <= 0.0) {
            kind.add(
                rail_place(rail),
                format!("{what} of {value} demands nothing or cannot be met"),
                "give a value above 0, or leave it out",
            );
        }
    }
}

fn test_points(map: &BoardMap, findings: &mut Vec<Finding>) {
    for point in &map.test_points {
        let place = format!("test point {}", point.name);
        if point.expect.is_empty() {
            Kind::warning(findings, "test points").add(
                place,
                "nothing is expected there",
                "say what is measured, with min and max",
            );
            continue;
        }
        for (i, extent) in point.expect.iter().enumerate() {
            let twice = point.expect[..i]
                .iter()
                .any(|other| other.quantity == extent.quantity);
            if twice {
                Kind::error(findings, "test points").add(
                    place.clone(),
                    format!("{} is expected twice", quantity(extent)),
                    "give each quantity once",
                );
            }
            one_extent(&place, extent, findings);
        }
    }
}

fn one_extent(place: &str, extent: &Extent, findings: &mut Vec<Finding>) {
    let what = quantity(extent);
    match (extent.min, extent.max) {
        (None, None) => Kind::warning(findings, "test points").add(
            place.to_owned(),
            format!("{what}: no tolerance stated: a reading can be recorded but never passes"),
            "state min or max, best from the service information",
        ),
        (Some(min), Some(max)) => {
            wrong_way_round(place, what, Limits { min, max }, findings);
        }
        _ => {}
    }
    let outside = extent
        .nominal
        .filter(|nominal| matches!(extent.judge(*nominal), v if !v.is_within()))
        .filter(|_| extent.min.is_some() || extent.max.is_some());
    if let Some(nominal) = outside {
        Kind::warning(findings, "test points").add(
            place.to_owned(),
            format!("{what}: the nominal value {nominal} is outside its own limits"),
            "check nominal, min and max",
        );
    }
}

fn quantity(extent: &Extent) -> &'static str {
    use crate::board::model::Expect as E;
    match extent.quantity {
        E::VoltsDc => "direct voltage",
        E::MillivoltsPp => "alternating level",
        E::OffsetVolts => "offset",
        E::Hertz => "frequency",
        E::Ohm => "resistance",
        E::AmperesDc => "direct current",
    }
}

/// Warns of probe places that look like an address of this board but are not on it.
fn probes(map: &BoardMap, findings: &mut Vec<Finding>) {
    let mut kind = Kind::warning(findings, "probe places");
    let of_rails = map.rails.iter().flat_map(|rail| {
        [("at", &rail.at), ("return", &rail.return_at)]
            .map(|(what, text)| (rail_place(rail), what, text))
    });
    let of_points = map
        .test_points
        .iter()
        .map(|point| (format!("test point {}", point.name), "at", &point.at));
    for (place, what, text) in of_rails.chain(of_points) {
        if kind.is_full() {
            return;
        }
        if text.trim().is_empty() {
            kind.add(
                place,
                format!("`{what}` is blank"),
                "say where the probe goes, in words or as an address",
            );
        } else if looks_like_address(text)
            && let Err(error) = resolve_many(&[map], text)
            && !matches!(error, AddressError::NoBoard { .. })
        {
            kind.add(
                place,
                format!("`{what}`: {error}"),
                "mend the address, or say it in words",
            );
        }
    }
}

/// Letters, digits, and perhaps a pin: `U7.3`, `main:J4.A/solder`, `C12`; not `chassis`, and not
/// a test pad `TP3` that the map does not list as a part.
fn looks_like_address(text: &str) -> bool {
    let Ok(address) = text.parse::<Address>() else {
        return false;
    };
    let letters = crate::board::class_letters::class_of(&address.part);
    let digits = &address.part[letters.len()..];
    (1..=3).contains(&letters.len())
        && !letters.eq_ignore_ascii_case("TP")
        && !digits.is_empty()
        && digits.bytes().all(|b| b.is_ascii_digit())
        && address.pin.is_none_or(|pin| !pin.contains(' '))
}
