//! What coverage the shop demands: shown on the page of the gate, which asks for it, and changed
//! there.

use eframe::egui::Ui;

use super::gate::one_line;
use super::touched::wrong;
use crate::desk::ask::Ask;
use crate::desk::model::Bench;
use crate::desk::parts;
use crate::desk::theme::Look;
use crate::desk::typed::number;
use crate::record::Coverage;
use crate::work::Action;

/// Most px/mm that can be asked for, as the record has it.
const MOST_PX_PER_MM: f64 = 1000.0;

/// One number of the demand: its field, its words and the most that it can be.
struct Number {
    field: &'static str,
    words: &'static str,
    most: f64,
}

const NUMBERS: [Number; 3] = [
    Number {
        field: "demand: before power",
        words: "% of safety and supply joints before power",
        most: 100.0,
    },
    Number {
        field: "demand: before closing",
        words: "% of all joints before closing up",
        most: 100.0,
    },
    Number {
        field: "demand: least scale",
        words: "least px/mm of a look at a photo (0: any)",
        most: MOST_PX_PER_MM,
    },
];

pub(super) fn show(ui: &mut Ui, look: &Look, bench: &mut Bench, asks: &mut Vec<Ask>) {
    let state = bench.session.state();
    let (now, said) = (state.demand().clone(), state.demand.is_some());
    let standing = [
        in_percent(now.before_power),
        in_percent(now.before_closing),
        now.least_px_per_mm,
    ];
    ui.label(if said {
        "The shop wants looked at:"
    } else {
        "To be looked at, where the shop says nothing else:"
    });
    let mut typed = [None; 3];
    for ((number, standing), typed) in NUMBERS.iter().zip(standing).zip(&mut typed) {
        let text =
            (bench.fields.entry(number.field.to_owned())).or_insert_with(|| standing.to_string());
        let focus = ui
            .horizontal_wrapped(|ui| {
                let edit = one_line(ui, number.words, text, look.scaled(56.0));
                *typed = parsed(text, number.most);
                if typed.is_none() {
                    let words = format!("A number from 0 to {} is wanted.", number.most);
                    wrong(ui, look, &words);
                }
                edit.has_focus()
            })
            .inner;
        if *typed == Some(standing) && !focus {
            // Nothing else is asked for: what others demand meanwhile shows here at once.
            bench.fields.remove(number.field);
        }
    }
    let [Some(power), Some(closing), Some(least)] = typed else {
        return;
    };
    // To say what stands already changes nothing, unless nobody has said it yet.
    let is_new = !said || typed != standing.map(Some);
    if parts::button_if(ui, look, "This is what the shop demands", is_new).clicked() {
        let wish = Coverage {
            before_power: power / 100.0,
            before_closing: closing / 100.0,
            least_px_per_mm: least,
        };
        let fields = NUMBERS.map(|number| number.field.to_owned()).to_vec();
        asks.push(Ask::RecordTyped(Box::new(Action::Demand(wish)), fields));
    }
}

/// A share in per cent, without the dust of the binary fraction.
fn in_percent(share: f64) -> f64 {
    (share * 1e8).round() / 1e6
}

/// What was typed, where it is a number within its limits.
fn parsed(text: &str, most: f64) -> Option<f64> {
    number(text).filter(|number| (0.0..=most).contains(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_read_and_written_without_dust() {
        assert_eq!(in_percent(0.07).to_string(), "7");
        assert_eq!(in_percent(1.0 / 3.0).to_string(), "33.333333");
        assert_eq!(parsed(" 62,5 ", 100.0), Some(62.5));
        for wrong in ["", "all", "-1", "101", "NaN", "inf"] {
            assert_eq!(parsed(wrong, 100.0), None, "{wrong}");
        }
    }
}
