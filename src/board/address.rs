//! Addresses of parts and joints as people write them: `main:J4.3/solder`.

use std::fmt;
use std::str::FromStr;

use super::model::Side;

/// Longest address that is read, characters; it is repeated in errors and labels.
const MAX_ADDRESS: usize = 400;

/// Marks that divide an address and so may stand in no board name or reference.
pub(crate) const MARKS: [char; 3] = [':', '.', '/'];

/// `board:part.pin/side` with everything but the part optional.
///
/// The pin may be a list for several joints: `1-16`, `A1-A8`, `1,3,5` or `*`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Address {
    /// Board name; left out where it is unique.
    pub board: Option<String>,
    /// Reference designator, compared without regard to case.
    pub part: String,
    /// Pin number, name or list.
    pub pin: Option<String>,
    /// The side; left out for the side on which the pin is soldered.
    pub side: Option<Side>,
}

/// A text that is no address.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is no address: {reason}; write it like main:J4.3/solder, J4.3 or J4")]
pub struct BadAddress {
    /// The text, cut short where it is very long.
    pub text: String,
    /// What is wrong with it.
    pub reason: &'static str,
}

impl FromStr for Address {
    type Err = BadAddress;

    fn from_str(text: &str) -> Result<Self, BadAddress> {
        parse(text.trim()).map_err(|reason| BadAddress {
            text: text.trim().chars().take(MAX_ADDRESS / 10).collect(),
            reason,
        })
    }
}

fn parse(text: &str) -> Result<Address, &'static str> {
    if text.len() > MAX_ADDRESS {
        return Err("it is too long");
    }
    if text.chars().any(char::is_control) {
        return Err("it holds a control character");
    }
    let (rest, side) = match text.rsplit_once('/') {
        Some((rest, side)) => (rest, Some(parse_side(side)?)),
        None => (text, None),
    };
    let (board, rest) = match rest.split_once(':') {
        Some((board, rest)) => (Some(named(board, "the board before `:` is blank")?), rest),
        None => (None, rest),
    };
    let (part, pin) = match rest.split_once('.') {
        Some((part, pin)) => (part, Some(named(pin, "the pin after `.` is blank")?)),
        None => (rest, None),
    };
    let part = named(part, "the reference is blank")?;
    let again = |text: &String| text.contains(':') || text.contains('/');
    if again(&part) || pin.as_ref().is_some_and(again) {
        return Err("`:` and `/` may each stand once");
    }
    if board.as_ref().is_some_and(|b| b.contains(MARKS)) {
        return Err("a board name holds no `.`, `:` or `/`");
    }
    Ok(Address {
        board,
        part,
        pin,
        side,
    })
}

fn named(text: &str, blank: &'static str) -> Result<String, &'static str> {
    match text.trim() {
        "" => Err(blank),
        text => Ok(text.to_owned()),
    }
}

fn parse_side(text: &str) -> Result<Side, &'static str> {
    match text.trim().to_lowercase().as_str() {
        "component" => Ok(Side::Component),
        "solder" => Ok(Side::Solder),
        _ => Err("after `/` stands `component` or `solder`"),
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(board) = &self.board {
            write!(f, "{board}:")?;
        }
        f.write_str(&self.part)?;
        if let Some(pin) = &self.pin {
            write!(f, ".{pin}")?;
        }
        match self.side {
            Some(side) => write!(f, "/{side}"),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Component => "component",
            Self::Solder => "solder",
        })
    }
}

impl Side {
    /// The side behind this one.
    #[must_use]
    pub fn opposite(self) -> Self {
        match self {
            Self::Component => Self::Solder,
            Self::Solder => Self::Component,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{Address, Side};

    #[test]
    fn whole_and_part_addresses() {
        let whole: Address = "main:J4.3/solder".parse().unwrap();
        assert_eq!(whole.board.as_deref(), Some("main"));
        assert_eq!(whole.part, "J4");
        assert_eq!(whole.pin.as_deref(), Some("3"));
        assert_eq!(whole.side, Some(Side::Solder));
        let part: Address = " J4 ".parse().unwrap();
        assert_eq!((part.board, part.pin, part.side), (None, None, None));
        let letter: Address = "U7.A/Component".parse().unwrap();
        assert_eq!(letter.pin.as_deref(), Some("A"));
        assert_eq!(letter.side, Some(Side::Component));
    }

    #[test]
    fn refusals_say_why() {
        for (text, want) in [
            ("", "reference is blank"),
            ("main:", "reference is blank"),
            (":J4", "board before"),
            ("J4.", "pin after"),
            ("J4.3/left", "`component` or `solder`"),
            ("a:b:J4", "each stand once"),
            ("a.b:J4", "a board name"),
            ("J4\u{7}", "control character"),
            (&"J".repeat(1000), "too long"),
        ] {
            let error = text.parse::<Address>().unwrap_err().to_string();
            assert!(error.contains(want), "{text:?}: {error}");
            assert!(error.len() < 300, "{error}");
        }
    }

    fn word() -> impl Strategy<Value = String> {
        "[A-Za-z0-9äÖ_+-][A-Za-z0-9äÖ _+-]{0,8}[A-Za-z0-9äÖ_+-]"
    }

    proptest! {
        #[test]
        fn round_trip(
            board in proptest::option::of(word()),
            part in word(),
            pin in proptest::option::of("[A-Za-z0-9*+.-]{1,6}"),
            side in proptest::option::of(prop_oneof![Just(Side::Component), Just(Side::Solder)]),
        ) {
            let address = Address { board, part, pin, side };
            prop_assert_eq!(address.to_string().parse::<Address>().unwrap(), address);
        }

        #[test]
        fn any_text_is_answered(text in "\\PC{0,40}|[a-zJ0-9:./ ]{0,12}") {
            if let Ok(address) = text.parse::<Address>() {
                prop_assert_eq!(address.to_string().parse::<Address>().unwrap(), address);
            }
        }
    }
}
