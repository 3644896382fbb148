//! `evaluate`: the hint against known truth.

use std::fmt::Write as _;

use crate::joint::{Bands, Evaluation, Figure, Figures};
use crate::work::{Together, WorkError, check_output, evaluate_folder, write_text};

use super::args::EvaluateArgs;
use super::exit::Ending;
use super::{Context, out};

pub(super) fn evaluate(context: &Context, args: &EvaluateArgs) -> Result<Ending, WorkError> {
    let together = if args.by_folder {
        Together::Folder
    } else {
        Together::Photo
    };
    if let Some(plot) = &args.plot {
        check_output(plot, &[], &["svg"])?;
    }
    let evaluation = out::with_progress("looking at joints", |progress| {
        evaluate_folder(&args.folder, together, args.seed, progress)
    })?;
    if let Some(plot) = &args.plot {
        write_text(plot, &svg(&evaluation))?;
    }
    if context.json {
        out::json(&evaluation);
    } else {
        print(&evaluation);
    }
    Ok(Ending::Done)
}

fn print(evaluation: &Evaluation) {
    let mut rows = vec![
        [
            "px across",
            "joints",
            "cracked",
            "read",
            "ROC AUC",
            "average precision",
            "false alarms/100 at 90 % recall",
            "Brier",
            "skill",
            "calibration error",
            "no reading",
        ]
        .map(String::from)
        .to_vec(),
        row("all", &evaluation.all),
    ];
    for class in &evaluation.by_px {
        let name = match class.to_px {
            Some(to) => format!("{:.0} to {to:.0}", class.from_px),
            None => format!("{:.0} and more", class.from_px),
        };
        rows.push(row(&name, &class.figures));
    }
    out::line(out::table(&rows).trim_end());
    for (who, bands) in [
        ("cracked", evaluation.bands_cracked),
        ("not cracked", evaluation.bands_others),
    ] {
        if let Some(bands) = bands {
            out::line(&band_line(who, bands));
        }
    }
    out::line(&format!(
        "  Intervals: 95 %, {} groups redrawn whole. {}",
        evaluation.all.groups, evaluation.basis
    ));
}

fn row(name: &str, f: &Figures) -> Vec<String> {
    vec![
        name.to_owned(),
        f.joints.to_string(),
        f.cracked.to_string(),
        f.read.to_string(),
        shown(f.roc_auc, 3),
        shown(f.average_precision, 3),
        shown(f.false_alarms_per_100, 0),
        shown(f.brier, 3),
        shown(f.brier_skill, 2),
        shown(f.calibration_error, 3),
        shown(f.no_reading, 3),
    ]
}

fn band_line(who: &str, b: Bands) -> String {
    format!(
        "  {who}: look here first {:.2}, cannot tell {:.2}, no line seen {:.2}, no reading {:.2}",
        b.look_here_first, b.cannot_tell, b.no_line_seen, b.no_reading
    )
}

fn shown(figure: Figure, places: usize) -> String {
    match (figure.value, figure.low, figure.high) {
        (Some(v), Some(l), Some(h)) => format!("{v:.places$} [{l:.places$}, {h:.places$}]"),
        (Some(v), _, _) => format!("{v:.places$}"),
        (None, _, _) => "no data".to_owned(),
    }
}

/// The reliability plot. Side of the square, px; the margins hold the words.
const SIDE: f64 = 360.0;
const LEFT: f64 = 60.0;
const TOP: f64 = 46.0;

fn svg(evaluation: &Evaluation) -> String {
    let x = |p: f64| LEFT + p * SIDE;
    let y = |p: f64| TOP + (1.0 - p) * SIDE;
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.0} {h:.0}\" font-family=\"sans-serif\" font-size=\"12\" role=\"img\">\n<title>Reliability of the crack hint</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n<text x=\"{LEFT}\" y=\"16\">What the hint said against what was cracked: {n} joints read, {g} groups</text>\n<text x=\"{LEFT}\" y=\"34\">calibration error {ece}</text>\n",
        w = LEFT + SIDE + 30.0,
        h = TOP + SIDE + 50.0,
        n = evaluation.all.read,
        g = evaluation.all.groups,
        ece = shown(evaluation.all.calibration_error, 3),
    );
    for k in 0..=5 {
        let p = f64::from(k) / 5.0;
        let _ = writeln!(
            text,
            "<path d=\"M{:.1} {:.1}V{:.1}M{:.1} {:.1}H{:.1}\" stroke=\"#dddddd\"/><text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{p:.1}</text><text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{p:.1}</text>",
            x(p),
            y(0.0),
            y(1.0),
            x(0.0),
            y(p),
            x(1.0),
            x(p),
            y(0.0) + 17.0,
            x(0.0) - 6.0,
            y(p) + 4.0,
        );
    }
    let _ = writeln!(
        text,
        "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"#888888\" stroke-dasharray=\"4 4\"/>",
        x(0.0),
        y(0.0),
        x(1.0),
        y(1.0)
    );
    for bin in &evaluation.reliability {
        let _ = writeln!(
            text,
            "<path d=\"M{cx:.1} {:.1}V{:.1}\" stroke=\"#0072b2\"/><circle cx=\"{cx:.1}\" cy=\"{:.1}\" r=\"4\" fill=\"#0072b2\"><title>{} joints: said {:.2}, cracked {:.2} [{:.2}, {:.2}]</title></circle>",
            y(bin.low),
            y(bin.high),
            y(bin.came),
            bin.n,
            bin.said,
            bin.came,
            bin.low,
            bin.high,
            cx = x(bin.said),
        );
    }
    let _ = writeln!(
        text,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">likelihood said</text>\n<text transform=\"translate(16 {:.1}) rotate(-90)\" text-anchor=\"middle\">share that was cracked</text>\n</svg>",
        x(0.5),
        y(0.0) + 38.0,
        y(0.5)
    );
    text
}
