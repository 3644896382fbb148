//! From an address to the parts and joints of the maps at hand, or to a plain answer why not.

use super::address::{Address, BadAddress};
use super::model::{BoardMap, Part, Pin, Side};

/// How many references an error offers.
const MAX_OFFERED: usize = 3;

/// Most pins that one list may name; as many as a map may have.
const MAX_RANGE: u32 = super::bounds::MAX_PINS as u32;

/// What an address points at.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// One pin's joint on one side.
    Joint {
        /// Board name of the map.
        board: String,
        /// The part's uid.
        part: String,
        /// The pin's uid.
        pin: String,
        /// The side.
        side: Side,
    },
    /// A whole part.
    Part {
        /// Board name of the map.
        board: String,
        /// The part's uid.
        part: String,
    },
}

/// Why an address points at nothing, or not at one thing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum AddressError {
    /// It is no address.
    #[error(transparent)]
    Malformed(#[from] BadAddress),
    /// No map of that board.
    #[error("{address}: no board `{board}` here; {}", offer_boards(.known))]
    NoBoard {
        /// As asked.
        address: String,
        /// The board asked for.
        board: String,
        /// The boards at hand.
        known: Vec<String>,
    },
    /// No such part.
    #[error("{address}: no {part} here{}", offer(.nearest))]
    NoPart {
        /// As asked.
        address: String,
        /// The reference asked for.
        part: String,
        /// The nearest references, with how many pins they have.
        nearest: Vec<String>,
    },
    /// Several parts answer to it.
    #[error("{address}: ambiguous, it could be {}; write which one", .choices.join(" or "))]
    Ambiguous {
        /// As asked.
        address: String,
        /// The addresses that it could mean.
        choices: Vec<String>,
    },
    /// The part has no such pin.
    #[error("{address}: {part} has no pin {pin}; {pins}")]
    NoPin {
        /// As asked.
        address: String,
        /// The reference.
        part: String,
        /// The pin asked for.
        pin: String,
        /// What pins it has.
        pins: String,
    },
    /// The pin has no joint on that side.
    #[error(
        "{address}: a surface land on the {other} side has no joint on the {side} side; write /{other} or leave the side out"
    )]
    NoJointThere {
        /// As asked.
        address: String,
        /// The side asked for.
        side: Side,
        /// The side it is on.
        other: Side,
    },
    /// One joint was wanted, but the address names several.
    #[error("{address}: names {count} joints where one is wanted; write one pin")]
    Several {
        /// As asked.
        address: String,
        /// How many.
        count: usize,
    },
    /// A side without a pin.
    #[error(
        "{address}: a side belongs to a pin; write {part}.1/{side}, {part}.*/{side} or {part} alone"
    )]
    SideOfPart {
        /// As asked.
        address: String,
        /// The reference.
        part: String,
        /// The side.
        side: Side,
    },
}

fn offer_boards(known: &[String]) -> String {
    if known.is_empty() {
        "there is no board map at all".to_owned()
    } else {
        format!("there is {}", known.join(", "))
    }
}

fn offer(nearest: &[String]) -> String {
    if nearest.is_empty() {
        "; there are no parts on it".to_owned()
    } else {
        format!("; {}", nearest.join(", "))
    }
}

/// Finds the one part or joint that `text` names in `maps`.
///
/// Board and side may be left out where they are unique; a pin without a side means the side
/// on which it is soldered ([`Pin::soldered_side`]).
///
/// # Errors
/// Says what is ambiguous, or offers what there is.
pub fn resolve<M: AsRef<BoardMap>>(maps: &[M], text: &str) -> Result<Place, AddressError> {
    let mut places = resolve_many(maps, text)?;
    match (places.len(), places.pop()) {
        (1, Some(place)) => Ok(place),
        (count, _) => Err(AddressError::Several {
            address: text.trim().to_owned(),
            count,
        }),
    }
}

/// Finds every joint that `text` names, in the order written: `J4.1-16`, `J4.A1-A8`, `J4.1,3,5`,
/// `J4.*` (all pins in electrical order); or the one part where no pin is named.
///
/// # Errors
/// As [`resolve`].
pub fn resolve_many<M: AsRef<BoardMap>>(
    maps: &[M],
    text: &str,
) -> Result<Vec<Place>, AddressError> {
    let address: Address = text.parse()?;
    let (map, part) = find_part(maps, &address)?;
    let Some(list) = &address.pin else {
        return match address.side {
            Some(side) => Err(AddressError::SideOfPart {
                address: address.to_string(),
                part: part.reference.clone(),
                side,
            }),
            None => Ok(vec![Place::Part {
                board: map.board.clone(),
                part: part.uid.clone(),
            }]),
        };
    };
    let pins = find_pins(part, list).map_err(|pin| AddressError::NoPin {
        address: address.to_string(),
        part: part.reference.clone(),
        pin,
        pins: describe_pins(part),
    })?;
    pins.into_iter()
        .map(|pin| {
            let side = address.side.unwrap_or(pin.soldered_side(part.side));
            if !pin.has_joint_on(part.side, side) {
                return Err(AddressError::NoJointThere {
                    address: address.to_string(),
                    side,
                    other: side.opposite(),
                });
            }
            Ok(Place::Joint {
                board: map.board.clone(),
                part: part.uid.clone(),
                pin: pin.uid.clone(),
                side,
            })
        })
        .collect()
}

fn find_part<'a, M: AsRef<BoardMap>>(
    maps: &'a [M],
    address: &Address,
) -> Result<(&'a BoardMap, &'a Part), AddressError> {
    let on_board = |map: &&BoardMap| {
        address
            .board
            .as_ref()
            .is_none_or(|board| same(board, &map.board))
    };
    let boards: Vec<&BoardMap> = maps.iter().map(AsRef::as_ref).filter(on_board).collect();
    if boards.is_empty() {
        return Err(AddressError::NoBoard {
            address: address.to_string(),
            board: address.board.clone().unwrap_or_default(),
            known: maps.iter().map(|m| m.as_ref().board.clone()).collect(),
        });
    }
    let all = || {
        boards
            .iter()
            .flat_map(|map| map.parts.iter().map(|part| (*map, part)))
    };
    let mut found: Vec<_> = all()
        .filter(|(_, part)| same(&part.reference, &address.part))
        .collect();
    // Two references that differ only in case: the exact one is meant.
    if found.len() > 1 {
        let exact = |(_, part): &(&BoardMap, &Part)| part.reference == address.part;
        if found.iter().filter(|f| exact(f)).count() == 1 {
            found.retain(exact);
        }
    }
    match found.as_slice() {
        [one] => Ok(*one),
        [] => Err(AddressError::NoPart {
            address: address.to_string(),
            part: address.part.clone(),
            nearest: nearest(all(), &address.part, boards.len() > 1),
        }),
        several => Err(AddressError::Ambiguous {
            address: address.to_string(),
            choices: several
                .iter()
                .map(|(map, part)| {
                    Address {
                        board: Some(map.board.clone()),
                        part: part.reference.clone(),
                        ..address.clone()
                    }
                    .to_string()
                })
                .collect(),
        }),
    }
}

/// Equal without regard to case.
fn same(a: &str, b: &str) -> bool {
    let plain = a.is_ascii() && b.is_ascii();
    a.eq_ignore_ascii_case(b) || (!plain && a.to_lowercase() == b.to_lowercase())
}

/// The references most like the one asked for, each with its pins: `J4 has 16 pins`.
fn nearest<'a>(
    parts: impl Iterator<Item = (&'a BoardMap, &'a Part)>,
    asked: &str,
    name_board: bool,
) -> Vec<String> {
    let asked = asked.to_uppercase();
    let mut by_likeness: Vec<_> = parts
        .map(|(map, part)| {
            let likeness = strsim::jaro_winkler(&asked, &part.reference.to_uppercase());
            (likeness, map, part)
        })
        .collect();
    by_likeness.sort_by(|a, b| {
        b.0.total_cmp(&a.0)
            .then_with(|| a.2.reference.cmp(&b.2.reference))
    });
    by_likeness
        .into_iter()
        .take(MAX_OFFERED)
        .map(|(_, map, part)| {
            let board = if name_board {
                format!("{}:", map.board)
            } else {
                String::new()
            };
            format!("{board}{} has {}", part.reference, count_pins(part))
        })
        .collect()
}

fn count_pins(part: &Part) -> String {
    match part.pins.len() {
        0 => "no pins".to_owned(),
        1 => "1 pin".to_owned(),
        n => format!("{n} pins"),
    }
}

fn describe_pins(part: &Part) -> String {
    match part.pins.as_slice() {
        [] => "the map gives it no pins".to_owned(),
        [only] => format!("its one pin is {}", only.no),
        [first, .., last] => format!("it has {}, {} to {}", count_pins(part), first.no, last.no),
    }
}

/// The pins that a list names; the error is the first pin that is not there.
fn find_pins<'a>(part: &'a Part, list: &str) -> Result<Vec<&'a Pin>, String> {
    let find = |no: &str| part.pins.iter().find(|pin| same(&pin.no, no));
    // A name that holds `-` or `,` itself goes before its reading as a list.
    if let Some(pin) = find(list) {
        return Ok(vec![pin]);
    }
    if list == "*" && !part.pins.is_empty() {
        return Ok(part.pins.iter().collect());
    }
    let by_name: std::collections::BTreeMap<String, &Pin> = part
        .pins
        .iter()
        .rev()
        .map(|pin| (pin.no.to_lowercase(), pin))
        .collect();
    let find = |no: &str| by_name.get(&no.trim().to_lowercase()).copied();
    let mut pins = Vec::new();
    for item in list.split(',') {
        if let Some(pin) = find(item) {
            pins.push(pin);
        } else if let Some((prefix, from, to)) = range(item) {
            for no in from..=to {
                let name = format!("{prefix}{no}");
                pins.push(find(&name).ok_or(name)?);
            }
        } else {
            return Err(item.trim().to_owned());
        }
    }
    Ok(pins)
}

/// `1-16` or `A1-A8` (or `A1-8`) as prefix, first and last.
fn range(item: &str) -> Option<(&str, u32, u32)> {
    let (first, last) = item.split_once('-')?;
    let split = |text: &'_ str| text.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (first, last) = (first.trim(), last.trim());
    let (prefix, from) = first.split_at(split(first));
    let (other, to) = last.split_at(split(last));
    let (from, to) = (from.parse().ok()?, to.parse().ok()?);
    let fits = (other.is_empty() || same(other, prefix)) && from <= to && to - from < MAX_RANGE;
    fits.then_some((prefix, from, to))
}
