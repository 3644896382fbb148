//! The files of one board together: which pad is in a hole, on which side its part stands.

use std::collections::BTreeSet;
use std::path::Path;

use super::hits::Hits;
use super::layer::{Component, Function, Layer, PinFlash};
use super::profile;
use crate::board::import::{
    Body, Drill, ImportError, ImportOptions, Outer, Pad, Question, QuestionKey, Sources, quoted,
    turned_note,
};
use crate::board::model::{Outline, Side};

/// Body that stands for a part whose outline and pins are not given, mm a side.
const BODY_MM: f64 = 2.0;

/// `.AperFunction`s of pads in holes and of surface pads (from memory).
const IN_HOLES: [&str; 3] = ["ComponentPad", "WasherPad", "ComponentDrill"];
const ON_SURFACE: [&str; 7] = [
    "SMDPad",
    "BGAPad",
    "ConnectorPad",
    "HeatsinkPad",
    "TestPad",
    "FiducialPad",
    "CastellatedPad",
];

pub(super) fn merge(
    mut layers: Vec<Layer>,
    options: &ImportOptions,
) -> Result<Sources, ImportError> {
    one_board(&layers)?;
    let mut sources = Sources {
        origin: origin(&layers),
        ..Sources::default()
    };
    name_layers(&mut layers, options, &mut sources.questions)?;
    units(&layers, &mut sources.questions);
    let hits = Hits::of(&layers);
    let mut copper: BTreeSet<(String, String)> = BTreeSet::new();
    for layer in &layers {
        if let Function::Copper(outer) = layer.function {
            for pin in &layer.pins {
                copper.insert((pin.reference.clone(), pin.no.clone()));
                sources.pads.push(pad(pin, outer, layer, hits.as_ref()));
            }
        }
    }
    components(&mut layers, &copper, hits.as_ref(), &mut sources)?;
    holes(&layers, &mut sources);
    edge(&layers, &mut sources);
    tell(&layers, &mut sources);
    Ok(sources)
}

fn shown(path: &Path) -> String {
    quoted(&path.file_name().unwrap_or_default().to_string_lossy())
}

fn origin(layers: &[Layer]) -> String {
    const MOST: usize = 10;
    let mut names: Vec<String> = layers.iter().take(MOST).map(|l| shown(&l.path)).collect();
    if layers.len() > MOST {
        names.push("...".to_owned());
    }
    format!("Gerber {}", names.join(", "))
}

/// Refuses files that say that they belong to different boards.
fn one_board(layers: &[Layer]) -> Result<(), ImportError> {
    type Of = fn(&Layer) -> Option<&String>;
    let checks: [(&str, Of); 2] = [
        (".ProjectId", |layer| layer.project.as_ref()),
        (".SameCoordinates", |layer| layer.same_coordinates.as_ref()),
    ];
    for (attribute, value) in checks {
        let mut first: Option<(&Layer, &String)> = None;
        for layer in layers {
            let Some(mine) = value(layer) else { continue };
            match first {
                None => first = Some((layer, mine)),
                Some((other, theirs)) if theirs != mine => {
                    return Err(ImportError::Unfit {
                        path: layer.path.clone(),
                        reason: format!(
                            "its {attribute} is not that of {}: they are of different boards",
                            other.path.display()
                        ),
                        remedy: "import the files of one board together".to_owned(),
                    });
                }
                Some(_) => {}
            }
        }
    }
    Ok(())
}

/// Asks which copper layer a file is that does not say it.
fn name_layers(
    layers: &mut [Layer],
    options: &ImportOptions,
    questions: &mut Vec<Question>,
) -> Result<(), ImportError> {
    let mut unsaid = layers
        .iter_mut()
        .filter(|layer| layer.function == Function::Unsaid && !layer.pins.is_empty());
    let Some(first) = unsaid.next() else {
        return Ok(());
    };
    if let Some(second) = unsaid.next() {
        return Err(ImportError::Unfit {
            path: second.path.clone(),
            reason: format!(
                "neither it nor {} says which layer it is (TF.FileFunction)",
                first.path.display()
            ),
            remedy: "give files with .FileFunction, or one such file at a time".to_owned(),
        });
    }
    match options.layer {
        Some(outer) => first.function = Function::Copper(outer),
        None => {
            questions.push(Question::new(
                QuestionKey::Layer,
                format!(
                    "{} does not say which layer it is (TF.FileFunction). Which copper is it?",
                    shown(&first.path)
                ),
                &[("top", "the component side"), ("bottom", "the solder side")],
            ));
            // So that everything else that is open can be asked at once.
            first.function = Function::Copper(Outer::Top);
        }
    }
    Ok(())
}

fn units(layers: &[Layer], questions: &mut Vec<Question>) {
    if let Some(layer) = layers.iter().find(|layer| layer.unit_open) {
        questions.push(Question::new(
            QuestionKey::Units,
            format!(
                "{} does not state its unit (MO). What is it in?",
                shown(&layer.path)
            ),
            &[("mm", "millimetres"), ("in", "inches")],
        ));
    }
}

fn pad(pin: &PinFlash, outer: Outer, layer: &Layer, hits: Option<&Hits>) -> Pad {
    let hit = hits.and_then(|hits| hits.at(pin.at));
    let drill = match (hit, pin.hole) {
        (Some(hole), _) | (None, Some(hole)) => Drill::Of(hole),
        (None, None) if IN_HOLES.contains(&pin.function.as_str()) => Drill::Unstated,
        (None, None) if ON_SURFACE.contains(&pin.function.as_str()) => Drill::Surface,
        // Plated hits were given and none is here.
        (None, None) if hits.is_some_and(|hits| hits.plated) => Drill::Surface,
        (None, None) => Drill::NotSaid,
    };
    Pad {
        reference: pin.reference.clone(),
        no: pin.no.clone(),
        at: pin.at,
        land: pin.land,
        drill,
        sides: match outer {
            Outer::Top => [true, false],
            Outer::Bottom => [false, true],
        },
        stands_on: None,
        net: pin.net.clone(),
        place: format!("{}, line {}", shown(&layer.path), pin.line),
    }
}

fn components(
    layers: &mut [Layer],
    copper: &BTreeSet<(String, String)>,
    hits: Option<&Hits>,
    sources: &mut Sources,
) -> Result<(), ImportError> {
    for layer in layers {
        let Function::Component(outer) = layer.function else {
            continue;
        };
        let mut with_pins: BTreeSet<&str> = copper.iter().map(|(part, _)| part.as_str()).collect();
        for pin in &layer.pins {
            with_pins.insert(&pin.reference);
            if copper.contains(&(pin.reference.clone(), pin.no.clone())) {
                continue;
            }
            let mut pad = pad(pin, outer, layer, hits);
            // The shape that marks a pin on a component layer is no land.
            pad.land = None;
            if !matches!(pad.drill, Drill::Of(_)) {
                pad.drill = Drill::NotSaid;
            }
            sources.pads.push(pad);
        }
        for (reference, component) in &layer.components {
            let body = body(component, outer, with_pins.contains(reference.as_str()));
            if sources.bodies.insert(reference.clone(), body).is_some() {
                return Err(ImportError::Unfit {
                    path: layer.path.clone(),
                    reason: format!("{} is on two component layers", quoted(reference)),
                    remedy: "give each component layer once".to_owned(),
                });
            }
        }
    }
    Ok(())
}

fn body(component: &Component, outer: Outer, has_pins: bool) -> Body {
    let box_of = |[low, high]: [[f64; 2]; 2]| Outline::Rect {
        at: [0, 1].map(|i| f64::midpoint(low[i], high[i])),
        size: [0, 1].map(|i| high[i] - low[i]),
        turn_deg: 0.0,
    };
    let drawn = component
        .extent
        .filter(|[low, high]| (0..2).all(|i| high[i] > low[i]));
    let stand_in = || {
        component.at.filter(|_| !has_pins).map(|at| Outline::Rect {
            at,
            size: [BODY_MM, BODY_MM],
            turn_deg: component.turn_deg,
        })
    };
    Body {
        side: Some(match outer {
            Outer::Top => Side::Component,
            Outer::Bottom => Side::Solder,
        }),
        outline: drawn.map(box_of).or_else(stand_in),
        value: component.value.clone(),
        through_hole: match component.mount.as_str() {
            "TH" | "Pressfit" => Some(true),
            "SMD" => Some(false),
            _ => None,
        },
    }
}

/// Holes without plating are easy to find in a photo: those at no pad become landmarks.
fn holes(layers: &[Layer], sources: &mut Sources) {
    let pads = Hits::from_points(sources.pads.iter().map(|pad| (pad.at, 1.0)), false);
    let mut vias = 0;
    for layer in layers {
        let Function::Drill { plated } = layer.function else {
            continue;
        };
        for (at, _) in &layer.hits {
            if pads.at(*at).is_some() {
                continue;
            }
            if plated {
                vias += 1;
            } else {
                let name = format!("hole {}", sources.holes.len() + 1);
                sources.holes.push((*at, name));
            }
        }
    }
    if vias > 0 {
        sources
            .left_out
            .push(format!("{vias} plated holes without a pin (vias)."));
    }
    if !sources.holes.is_empty() {
        sources.read.push(format!(
            "{} holes without plating, as landmarks.",
            sources.holes.len()
        ));
    }
}

fn edge(layers: &[Layer], sources: &mut Sources) {
    for layer in layers
        .iter()
        .filter(|layer| layer.function == Function::Profile)
    {
        match profile::outline(&layer.strokes) {
            Some(outline) => {
                sources.read.push(format!(
                    "The board's edge with {} corners from {}.",
                    outline.len(),
                    shown(&layer.path)
                ));
                if layer.arcs > 0 {
                    sources.assumed.push(format!(
                        "{} arcs of the board's edge were made straight.",
                        layer.arcs
                    ));
                }
                sources.outline = Some(outline);
            }
            None => sources.left_out.push(format!(
                "The profile {}: its strokes do not close.",
                shown(&layer.path)
            )),
        }
    }
}

fn tell(layers: &[Layer], sources: &mut Sources) {
    for layer in layers {
        let file = shown(&layer.path);
        match &layer.function {
            Function::InnerCopper => {
                sources
                    .left_out
                    .push(format!("{file}: an inner copper layer."));
            }
            Function::Other(what) => sources.left_out.push(format!("{file}: {what}.")),
            Function::Unsaid => sources.left_out.push(format!(
                "{file}: it says neither which layer it is nor which pins it has."
            )),
            Function::Copper(_) if layer.pins.is_empty() => sources
                .left_out
                .push(format!("{file}: copper, but no pad says its pin (TO.P).")),
            _ => {}
        }
        if layer.copies > 1 {
            sources.left_out.push(format!(
                "{file}: it repeats its contents {} times (a panel); the first copy was taken.",
                layer.copies
            ));
        }
        if layer.turned > 0 {
            sources.assumed.push(turned_note(layer.turned));
        }
        if layer.boxed > 0 {
            sources.assumed.push(format!(
                "{file}: {} lands made by macros are the boxes round their shapes.",
                layer.boxed
            ));
        }
        if !layer.ended {
            sources.assumed.push(format!(
                "{file} has no end (M02): was it cut short? Read as it stands."
            ));
        }
    }
}
