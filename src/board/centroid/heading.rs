//! Headings of a centroid CSV and what they mean.

use super::LengthUnit;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Reference,
    X,
    Y,
    Side,
    Turn,
    Value,
    Package,
}

/// Aliases without case, spaces and marks, the most telling first (from memory: there is no
/// standard). Those of x and y stand in the same order, so that a pair is taken from one family.
const ALIASES: [(Role, &[&str]); 7] = [
    (
        Role::Reference,
        &[
            "designator",
            "refdes",
            "referencedesignator",
            "reference",
            "ref",
            "part",
        ],
    ),
    (
        Role::X,
        &["midx", "centerx", "centrex", "x", "posx", "refx"],
    ),
    (
        Role::Y,
        &["midy", "centery", "centrey", "y", "posy", "refy"],
    ),
    (Role::Side, &["side", "layer", "tb"]),
    (Role::Turn, &["rotation", "rot", "angle", "turn"]),
    (Role::Value, &["value", "val", "comment"]),
    (Role::Package, &["footprint", "package", "pattern"]),
];

/// Our own column names, in order.
pub(super) const OURS: [&str; 5] = ["ref", "x_mm", "y_mm", "side", "turn_deg"];

/// The unit that a heading states.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Stated {
    Nothing,
    Length(LengthUnit),
    Degrees,
    /// In brackets, but no unit known here.
    Unknown(String),
}

/// Which column has which role.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Columns {
    pub(super) reference: usize,
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) side: Option<usize>,
    pub(super) turn: Option<usize>,
    pub(super) value: Option<usize>,
    pub(super) package: Option<usize>,
    /// Headings with the same meaning twice: index of the second and of the first.
    pub(super) twice: Option<(usize, usize)>,
}

impl Columns {
    /// Finds the columns; the error names the roles that are missing (nothing where all are).
    pub(super) fn find(headings: &[String]) -> Result<Self, Vec<&'static str>> {
        let bases: Vec<String> = headings.iter().map(|h| split(h).0).collect();
        let at = |role: Role, alias: usize| {
            let alias = aliases(role).get(alias)?;
            bases.iter().position(|base| base == alias)
        };
        let first = |role| (0..aliases(role).len()).find_map(|alias| at(role, alias));
        let pair = (0..aliases(Role::X).len())
            .find_map(|alias| Some((at(Role::X, alias)?, at(Role::Y, alias)?)));
        let reference = first(Role::Reference);
        let (Some(reference), Some((x, y))) = (reference, pair) else {
            let has = |role| first(role).is_some();
            let missing = [
                ("reference", reference.is_some()),
                ("x", has(Role::X)),
                ("y", has(Role::Y)),
            ];
            return Err(missing
                .into_iter()
                .filter_map(|(name, there)| (!there).then_some(name))
                .collect());
        };
        let mut columns = Self {
            reference,
            x,
            y,
            side: first(Role::Side),
            turn: first(Role::Turn),
            value: first(Role::Value),
            package: first(Role::Package),
            twice: None,
        };
        columns.twice = columns.used().find_map(|first| {
            let again = |i: &usize| *i != first && bases[*i] == bases[first];
            (0..bases.len()).find(again).map(|second| (second, first))
        });
        Ok(columns)
    }

    fn used(&self) -> impl Iterator<Item = usize> + use<> {
        let required = [Some(self.reference), Some(self.x), Some(self.y)];
        let optional = [self.side, self.turn, self.value, self.package];
        required.into_iter().chain(optional).flatten()
    }

    /// How many columns have a meaning.
    pub(super) fn count(&self) -> usize {
        self.used().count()
    }
}

fn aliases(role: Role) -> &'static [&'static str] {
    ALIASES
        .iter()
        .find(|(of, _)| *of == role)
        .map_or(&[], |(_, aliases)| aliases)
}

/// A heading as its bare name (lower case, letters and digits only) and the unit it states:
/// `Mid X (mm)` is `midx` in mm, `x_mm` is `x` in mm.
pub(super) fn split(heading: &str) -> (String, Stated) {
    let heading = heading.trim().to_lowercase();
    if let Some((name, rest)) = heading.split_once(['(', '[']) {
        let unit = rest.trim_end().trim_end_matches([')', ']']).trim();
        let stated = stated(unit).unwrap_or_else(|| Stated::Unknown(unit.to_owned()));
        return (bare(name), stated);
    }
    let Some((name, last)) = heading.rsplit_once([' ', '_', '-', '.']) else {
        return (bare(&heading), Stated::Nothing);
    };
    match stated(last) {
        Some(unit) => (bare(name), unit),
        None => (bare(&heading), Stated::Nothing),
    }
}

fn stated(unit: &str) -> Option<Stated> {
    if matches!(unit, "deg" | "degree" | "degrees" | "°") {
        return Some(Stated::Degrees);
    }
    unit.parse().ok().map(Stated::Length)
}

fn bare(name: &str) -> String {
    name.chars().filter(|c| c.is_alphanumeric()).collect()
}
