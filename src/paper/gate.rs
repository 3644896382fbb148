//! The gate on paper: how each power stage stands, everything that forbids it and what it would
//! permit. The gate itself is `record`'s; here it is only laid out.

use maud::{Markup, html};
use schemars::JsonSchema;
use serde::Serialize;

use super::cautions::{Caution, before_power, before_work};
use super::page::{caution_box, page, said};
use super::summary;
use super::view::GateLine;
use super::words::{capital, counted, shown_short};
use crate::board::BoardMap;
use crate::record::{Stage, State, demand_words, gate};

/// What the gate page says.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct GateView {
    /// Version of this structure; 1.
    pub schema: u32,
    /// The unit's code.
    pub unit: String,
    /// Its model.
    pub model: String,
    /// `Invented sample`, where it is the sample's.
    pub sample: Option<String>,
    /// The five stages in order.
    pub stages: Vec<GateLine>,
    /// What the shop demands of coverage and how far it is met.
    pub demand: String,
    /// What is dangerous on this very unit.
    pub hazards: Vec<String>,
    /// The cautions before power, then those before work.
    pub cautions: Vec<Caution>,
}

/// Lays out the gate of a job.
#[must_use]
pub fn gate_view(state: &State, maps: &[BoardMap], sample: Option<&str>) -> GateView {
    let unit = state.unit.as_ref();
    let mut cautions = before_power();
    cautions.extend(before_work());
    GateView {
        schema: 1,
        unit: unit.map_or_else(String::new, |unit| unit.code.clone()),
        model: unit.map_or_else(String::new, |unit| unit.model.clone()),
        sample: sample.map(str::to_owned),
        stages: gate_lines(state, maps),
        demand: demand_words(state, maps),
        hazards: summary::hazards(maps),
        cautions,
    }
}

/// Every stage with the reasons that count at it first. A stage is open only where the stages
/// before it are.
#[must_use]
pub fn gate_lines(state: &State, maps: &[BoardMap]) -> Vec<GateLine> {
    let verdict = gate(state, maps, Stage::Closed);
    let mut open = true;
    Stage::ALL
        .into_iter()
        .map(|stage| {
            let reasons: Vec<String> = verdict
                .reasons
                .iter()
                .filter(|held| held.stage == stage)
                .map(ToString::to_string)
                .collect();
            open &= reasons.is_empty();
            GateLine {
                stage: capital(stage.words()),
                open,
                permits: permits(stage, open),
                reasons,
            }
        })
        .collect()
}

/// What a stage permits, worded so that a stage that is shut never reads as a permission.
fn permits(stage: Stage, open: bool) -> String {
    let words = stage.permits();
    if open {
        return words.to_owned();
    }
    format!(
        "Once nothing is held against it, it {}",
        words.replacen("Permits", "permits", 1)
    )
}

/// Writes the gate as one self-contained HTML page.
#[must_use]
pub fn gate_page(view: &GateView) -> String {
    let unit = if view.unit.trim().is_empty() {
        "unit without a code"
    } else {
        &view.unit
    };
    let title = format!("Power gate: {unit}");
    let body = html! {
        header {
            h1 { "Power gate: " (said(unit)) }
            p.sub {
                (said(&view.model)) ". " (next_step(view))
                @if let Some(sample) = &view.sample { " " span.sample { (said(sample)) } }
            }
        }
        (caution_box("Before power", &view.hazards, &view.cautions))
        main {
            @for (index, stage) in view.stages.iter().enumerate() {
                (stage_html(index, stage, &view.stages[..index]))
            }
        }
        footer {
            p { (said(&view.demand)) }
            p {
                "Blank is not measured, and unknown holds the gate shut. The crack hint opens and \
                 shuts nothing. A person decides, and signs."
            }
        }
    };
    page(&title, &format!("Power gate {unit}"), &body).into_string()
}

fn next_step(view: &GateView) -> Markup {
    match view.stages.iter().find(|stage| !stage.open) {
        Some(shut) => html! {
            b { "Held at: " (shut.stage) ", " (counted(shut.reasons.len(), "reason", "reasons")) "." }
        },
        None => html! { b { "Nothing recorded holds a stage back." } },
    }
}

fn stage_html(index: usize, stage: &GateLine, before: &[GateLine]) -> Markup {
    let waits = before.iter().find(|earlier| !earlier.open);
    let class = if stage.reasons.len() > MOST_TOGETHER {
        "stage long"
    } else {
        "stage"
    };
    html! {
        section class=(class) {
            div.n { (index + 1) }
            div {
                h2 { (stage.stage) }
                @if stage.open {
                    span.state.clear { "nothing held against it" }
                } @else {
                    span.state { "\u{25a0} not permitted" }
                }
                p.permits { (stage.permits) }
                @if let Some(earlier) = waits {
                    p.later { "Waits for: " (earlier.stage) "." }
                }
                @if stage.open {
                    p.sign { span { "step taken by" } span { "when" } span { "second person" } }
                }
                @if !stage.reasons.is_empty() {
                    ul { @for reason in &stage.reasons { li { (said(&shown_short(reason))) } } }
                }
            }
        }
    }
}

/// Longest list of reasons that is kept on one sheet; a longer one may run over.
const MOST_TOGETHER: usize = 12;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shut_stage_never_reads_as_a_permission() {
        for stage in Stage::ALL {
            assert!(permits(stage, true).starts_with("Permits one step: "));
            let shut = permits(stage, false);
            assert!(shut.starts_with("Once nothing is held against it, it permits one step: "));
            assert!(!shut.contains("Permits"), "{shut}");
        }
    }
}
