//! The cautions at the top of every paper. Own wording; local codes govern.

use schemars::JsonSchema;
use serde::Serialize;

/// One caution.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Caution {
    /// What it is about, in two or three words.
    pub title: String,
    /// What to do.
    pub text: String,
}

/// What stands above every list of cautions.
pub(super) const LIMITS: &str = "This paper records what was seen on photographs and read from meters. \
     It cannot prove that a board may be energised. Follow local law, site rules and the maker's \
     service information; mains and high-voltage work is for qualified or licensed people.";

/// The cautions before work on a dead unit, in the order of doing.
#[must_use]
pub fn before_work() -> Vec<Caution> {
    [
        (
            "Isolate",
            "Disconnect every supply, also batteries and signal cables that can feed power. Pull \
             the plug and keep it in your control; a switch alone is not isolation. Lock and tag \
             where that is required.",
        ),
        (
            "Stored charge",
            "Wait, discharge through a suitably rated resistor with insulated probes, never with \
             a bare short, then measure. Prove the meter on a known source before and after, and \
             measure again before you touch. Picture tubes need their own procedure.",
        ),
        (
            "Dead only",
            "Inspect and photograph only when dead. An isolation transformer does not make both \
             conductors harmless together and can defeat protection that relies on earth.",
        ),
        (
            "Static",
            "Wrist strap and mat for static-sensitive parts, on de-energised work only; take the \
             strap off near live parts.",
        ),
        (
            "Fumes and lead",
            "Extract the fumes: flux can cause asthma. Older solder holds lead: no food at the \
             bench, wash your hands. Eye protection when you cut leads or desolder.",
        ),
        (
            "Hot and leaking parts",
            "Let hot parts cool. Treat swollen or leaking parts as hazardous.",
        ),
        (
            "Second person",
            "A second person checks polarity, missing parts, bridges, fuse rating and rail \
             resistance, and signs separately. Who works alone checks twice, at two times.",
        ),
    ]
    .into_iter()
    .map(caution)
    .collect()
}

/// The cautions before power, for the gate page.
#[must_use]
pub fn before_power() -> Vec<Caution> {
    [
        (
            "First power",
            "Think of covers and shields first. Use a current-limited or protected source, keep \
             one hand clear, have somebody near who can cut the power and wear eye protection.",
        ),
        (
            "Stop",
            "Stop at smoke, smell, heat or too much current. Measure the rails before socketed \
             or costly parts go in.",
        ),
        (
            "After power",
            "Charge stays after the plug is out: measure again before every touch.",
        ),
    ]
    .into_iter()
    .map(caution)
    .collect()
}

fn caution((title, text): (&str, &str)) -> Caution {
    Caution {
        title: title.to_owned(),
        text: text.to_owned(),
    }
}
