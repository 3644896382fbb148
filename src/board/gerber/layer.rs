//! What one file holds for a map.

use std::collections::BTreeMap;
use std::path::PathBuf;

use super::profile::Stroke;
use crate::board::import::{Outer, quoted};
use crate::board::model::Land;

/// What a file is, by `.FileFunction`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Function {
    Copper(Outer),
    InnerCopper,
    Component(Outer),
    Profile,
    Drill { plated: bool },
    Other(String),
    Unsaid,
}

/// A flash that says which pin it is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PinFlash {
    pub(super) reference: String,
    pub(super) no: String,
    pub(super) at: [f64; 2],
    pub(super) land: Option<Land>,
    pub(super) hole: Option<f64>,
    /// `.AperFunction` of its aperture.
    pub(super) function: String,
    pub(super) net: Option<String>,
    pub(super) line: usize,
}

/// What a component layer says of a part.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Component {
    pub(super) at: Option<[f64; 2]>,
    pub(super) turn_deg: f64,
    pub(super) mount: String,
    pub(super) value: String,
    /// Lower left and upper right corner of its outline.
    pub(super) extent: Option<[[f64; 2]; 2]>,
}

/// Everything that one file holds for a map, mm.
#[derive(Debug)]
pub(super) struct Layer {
    pub(super) path: PathBuf,
    pub(super) function: Function,
    pub(super) same_coordinates: Option<String>,
    pub(super) project: Option<String>,
    pub(super) pins: Vec<PinFlash>,
    pub(super) hits: Vec<([f64; 2], f64)>,
    pub(super) components: BTreeMap<String, Component>,
    pub(super) strokes: Vec<Stroke>,
    /// Whether coordinates came and no unit was stated or answered.
    pub(super) unit_open: bool,
    pub(super) arcs: usize,
    pub(super) turned: usize,
    /// Pins whose land is the box round a macro's shapes.
    pub(super) boxed: usize,
    pub(super) copies: usize,
    pub(super) ended: bool,
}

impl Function {
    /// By the fields of `.FileFunction`.
    pub(super) fn of(fields: &[String]) -> Self {
        let field = |i: usize| fields.get(i).map_or("", String::as_str);
        let outer = |text: &str| match text {
            "Top" => Some(Outer::Top),
            "Bot" => Some(Outer::Bottom),
            _ => None,
        };
        match (field(0), outer(field(2))) {
            ("Copper", Some(side)) => Function::Copper(side),
            ("Copper", None) => Function::InnerCopper,
            ("Component", Some(side)) => Function::Component(side),
            ("Profile", _) => Function::Profile,
            ("Plated", _) => Function::Drill { plated: true },
            ("NonPlated", _) => Function::Drill { plated: false },
            (other, _) => Function::Other(quoted(other)),
        }
    }
}
