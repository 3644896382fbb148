//! The slip as HTML: one file to print, or to tick on a phone.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, html};

use super::page::{caution_box, page, said};
use super::picture::{Picture, PictureMark};
use super::view::{Line, NOT_DECIDED, Section, SeverityWord, SlipView};
use super::words::{counted, day, listed, shown_short, turns};

/// Writes the slip as one self-contained HTML page.
#[must_use]
pub fn slip_html(view: &SlipView) -> String {
    let title = format!("Rework slip: {}", unit_name(view));
    let running = format!("Rework slip {}", unit_name(view));
    let body = html! {
        header {
            h1 { "Rework slip: " (said(&unit_name(view))) }
            (subtitle(view))
            @if !view.complaint.trim().is_empty() {
                p.complaint { b { "Owner says: " } span.said { (said(&shown_short(&view.complaint))) } }
            }
        }
        (caution_box("Before you touch it", &view.hazards, &view.cautions))
        main {
            @if view.line_count == 0 {
                p.nolines {
                    "No place is marked. That is not a verdict: see below what was not looked at."
                }
            }
            @for section in &view.sections { (section_html(section)) }
            (ending(view))
        }
        footer {
            p.screen {
                "Ticks and names in this page are not stored by it: print it, or save it as PDF, \
                 to keep them."
            }
            h2 { "What this paper does not say" }
            @for text in &view.silent { p { (text) } }
        }
    };
    page(&title, &running, &body).into_string()
}

fn unit_name(view: &SlipView) -> String {
    if view.unit.trim().is_empty() {
        "unit without a code".to_owned()
    } else {
        view.unit.clone()
    }
}

fn subtitle(view: &SlipView) -> Markup {
    let boards = listed(&view.boards);
    let looked = match &view.looked_on {
        None => "Nobody has looked at it yet.".to_owned(),
        Some([first, last]) => {
            let (first, last) = (day(first), day(last));
            let days = if first == last {
                first
            } else {
                format!("{first} to {last}")
            };
            let by = listed(&view.looked_by);
            let bench = view.bench.trim();
            let bench = if bench.is_empty() {
                String::new()
            } else {
                format!(" on {bench}")
            };
            format!("Looked at by {by}{bench}, {days}.")
        }
    };
    html! {
        p.sub {
            (said(&view.model))
            @if !boards.is_empty() { ", " (said(&boards)) }
            ". " b { (counted(view.line_count, "line", "lines")) ", " (turns(view.turns)) "." }
            " " (said(&looked)) " " (said(&view.as_of))
            @if let Some(sample) = &view.sample { " " span.sample { (said(sample)) } }
        }
    }
}

fn section_html(section: &Section) -> Markup {
    html! {
        section {
            h2 {
                @if section.turn { span aria-hidden="true" { "\u{21bb} " } }
                (said(&section.heading))
            }
            ol.lines { @for line in &section.lines { (line_html(line)) } }
        }
    }
}

fn line_html(line: &Line) -> Markup {
    let bare = line.overview.is_none() && line.close_up.is_none() && line.at_mm.is_none();
    let who = format!("marked by {}, {}", line.seen_by, day(&line.seen_at));
    html! {
        li class=(if bare { "line bare" } else { "line" }) id=(format!("line-{}", line.number)) {
            div.n { (line.number) }
            div.txt {
                h3 { (said(&line.place)) }
                " " span.what { (what_stands_there(line)) }
                p.fault { (severity_html(line.severity)) (fault_sentences(line)) }
                @for action in &line.actions {
                    p.act { span aria-hidden="true" { "\u{2192}" } span { (said(&shown_short(action))) } }
                }
                @for caution in &line.cautions { p.caut { "\u{26a0} " (caution) } }
                @if let Some(text) = &line.disagreement {
                    p.split { (said(&shown_short(text))) }
                }
                @if !line.note.trim().is_empty() {
                    p.note { span.said { (said(&shown_short(&line.note))) } }
                }
                @if line.close_up.is_none() { p.who { (said(&super::words::capital(&who))) "." } }
            }
            @if !bare {
                div.pair {
                    (figure("over", line.overview.as_ref(), &line.whereabouts, "No picture of the board"))
                    (figure("close", line.close_up.as_ref(), &who, "No photo of this place"))
                }
            }
            (boxes(line))
        }
    }
}

fn what_stands_there(line: &Line) -> Markup {
    let nets = match line.nets.as_slice() {
        [] => String::new(),
        [net] => format!("net {net}"),
        nets => format!("nets {}", listed(nets)),
    };
    let both = [line.part.as_str(), nets.as_str()]
        .into_iter()
        .filter(|text| !text.trim().is_empty())
        .collect::<Vec<_>>()
        .join("; ");
    said(&both)
}

/// `Fractured. A dark arc runs 253 degrees round the pin.`
fn fault_sentences(line: &Line) -> Markup {
    let terms: Vec<String> = line
        .faults
        .iter()
        .enumerate()
        .map(|(i, fault)| match i {
            0 => fault.term.clone(),
            _ => super::words::small(&fault.term),
        })
        .collect();
    html! {
        b {
            @if terms.is_empty() {
                (super::words::capital(&line.verdict)) ", fault not named."
            } @else {
                (listed(&terms)) "."
            }
        }
        @for sentence in &line.evidence { " " (said(&shown_short(sentence))) }
    }
}

fn severity_html(severity: Option<SeverityWord>) -> Markup {
    let (class, mark, words) = match severity {
        Some(SeverityWord::BlocksPower) => {
            ("sev blocks", "\u{25a0} ", SeverityWord::BlocksPower.words())
        }
        Some(SeverityWord::FixNow) => ("sev", "\u{25c6} ", SeverityWord::FixNow.words()),
        Some(mild) => ("sev mild", "\u{25cb} ", mild.words()),
        None => ("sev mild", "? ", NOT_DECIDED),
    };
    html! { span class=(class) { span aria-hidden="true" { (mark) } (words) } " " }
}

fn figure(class: &str, picture: Option<&Picture>, below: &str, missing: &str) -> Markup {
    let Some(picture) = picture else {
        return html! { figure class=(class) { p.none { (missing) } } };
    };
    let caption: Vec<&str> = [below, picture.caption.as_str()]
        .into_iter()
        .filter(|text| !text.is_empty())
        .collect();
    html! {
        figure class=(class) {
            div.pic { (picture_html(picture)) }
            @if !caption.is_empty() {
                figcaption { @for (i, text) in caption.iter().enumerate() {
                    @if i > 0 { br; }
                    (said(text))
                } }
            }
        }
    }
}

fn picture_html(picture: &Picture) -> Markup {
    let [width, height] = picture.size;
    let view_box = format!("-0.5 -0.5 {width} {height}");
    let drawn = picture.jpeg.is_empty();
    html! {
        @if !drawn {
            img alt=(super::words::shown(&picture.alt)) width=(width) height=(height)
                src=(format!("data:image/jpeg;base64,{}", STANDARD.encode(&picture.jpeg)));
        }
        svg viewBox=(view_box) role=[drawn.then_some("img")] aria-hidden=[(!drawn).then_some("true")]
            aria-label=[drawn.then(|| super::words::shown(&picture.alt))] {
            @for outline in &picture.outlines {
                polygon points=(points(outline)) fill="none" stroke="#777" stroke-width="1.2" {}
            }
            @for mark in &picture.marks { (mark_svg(mark)) }
        }
    }
}

/// Every stroke double, dark under light, so that it reads on green, white and black boards.
fn mark_svg(mark: &PictureMark) -> Markup {
    let dashes = matches!(mark, PictureMark::Arc { .. }).then_some("9 7");
    html! {
        (stroke(mark, "#000", "9", None))
        (stroke(mark, "#fff", "4", dashes))
    }
}

fn stroke(mark: &PictureMark, colour: &str, width: &str, dashes: Option<&str>) -> Markup {
    let px = |value: f64| format!("{value:.1}");
    html! {
        g fill="none" stroke=(colour) stroke-width=(width) stroke-dasharray=[dashes] {
            @match mark {
                PictureMark::Ring { at, radius } => {
                    circle cx=(px(at[0])) cy=(px(at[1])) r=(px(*radius)) {}
                }
                PictureMark::Frame { from, to } => {
                    rect x=(px(from[0])) y=(px(from[1])) rx="8"
                        width=(px(to[0] - from[0])) height=(px(to[1] - from[1])) {}
                }
                PictureMark::Arc { points: arc } => {
                    polyline points=(points(arc)) {}
                }
            }
        }
    }
}

fn points(points: &[[f64; 2]]) -> String {
    points
        .iter()
        .map(|[x, y]| format!("{x:.1},{y:.1}"))
        .collect::<Vec<_>>()
        .join(" ")
}

fn boxes(line: &Line) -> Markup {
    let id = |what: &str| format!("l{}-{what}", line.number);
    let signed = |what: &str, ticked: &str, signed: &Option<super::view::Signed>, class: &str| {
        let by = signed.as_ref().map(|s| super::words::shown(&s.by));
        let at = signed.as_ref().map(|s| super::words::shown(&day(&s.at)));
        html! {
            div class=(class) {
                label {
                    input type="checkbox" id=(id(what)) checked[signed.is_some()];
                    (ticked)
                }
                label.w { "by " input type="text" id=(id(&format!("{what}-by"))) value=[by]
                    aria-label=(format!("line {}, {ticked} by", line.number)); }
                label.w { "when " input type="text" id=(id(&format!("{what}-when"))) value=[at]
                    aria-label=(format!("line {}, {ticked} when", line.number)); }
            }
        }
    };
    html! {
        div.bx {
            (signed("done", "done", &line.done, "first"))
            (signed("rechecked", "rechecked", &line.rechecked, "again"))
        }
    }
}

fn ending(view: &SlipView) -> Markup {
    html! {
        div.end {
            @if !view.materials.is_empty() { section {
                h2 { "To have at hand" }
                ul { @for item in &view.materials { li { (said(item)) } } }
            } }
            @if !view.terms.is_empty() { section {
                h2 { "Words on this slip" }
                dl { @for term in &view.terms { dt { (term.term) ": " } dd { (term.meaning) } } }
            } }
            section {
                h2 { "Looked at, and not" }
                ul {
                    @for text in &view.coverage { li { (said(text)) } }
                    @if view.coverage.is_empty() { li { "How much was not looked at is not known." } }
                    @for text in &view.accepted { li { (said(text)) } }
                }
            }
            @if !view.cannot_judge.is_empty() { section {
                h2 { "Cannot be judged as it is" }
                ul { @for item in &view.cannot_judge {
                    li { b { (said(&item.place)) } ": " (said(&shown_short(&item.obstacle))) }
                } }
            } }
            @if let Some(counted) = &view.eye_and_hint { section {
                h2 { "The eye and the hint" }
                p { (counted.words) }
            } }
            @if !view.gate.is_empty() { section {
                h2 { "Power" }
                ul { @for line in &view.gate { li {
                    b { (line.stage) ": " }
                    @if line.open { "nothing forbids it. " (line.permits) }
                    @else if line.reasons.is_empty() { "waits for the stages before it." }
                    @else { "held back, " (counted(line.reasons.len(), "reason", "reasons")) "." }
                } } }
            } }
        }
    }
}
