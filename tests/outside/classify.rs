//! ROC AUC, average precision, Brier score, false alarms at a recall and reliability bins against
//! scikit-learn (`roc_auc_score`, `average_precision_score`, `brier_score_loss`, `roc_curve`,
//! `calibration_curve(strategy="quantile")`); version and cases, ties among them, in
//! `tests/fixtures/joint/classify.json`. Logistic regression with a ridge against its
//! `LogisticRegression`, with weighted cases, in `logistic.json` beside it.

use benchglass::stats::{
    Case, alarms_at_recall, average_precision, brier, logistic_ridge, reliability, roc_auc,
};

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

#[test]
fn figures_agree_with_scikit_learn() {
    let fixture: serde_json::Value =
        serde_json::from_str(include_str!("../fixtures/joint/classify.json")).expect("fixture");
    assert!(
        fixture["made_with"]
            .as_str()
            .expect("text")
            .starts_with("scikit-learn ")
    );
    let bins = fixture["bins"].as_u64().expect("a number") as usize;
    let cases = fixture["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 3);
    for case in cases {
        let scores = numbers(&case["scores"]);
        let truth: Vec<bool> = case["truth"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|v| v.as_bool().expect("a truth"))
            .collect();
        for (name, ours) in [
            ("roc_auc", roc_auc(&scores, &truth)),
            ("average_precision", average_precision(&scores, &truth)),
            ("brier", brier(&scores, &truth)),
            ("alarms_at_90", alarms_at_recall(&scores, &truth, 0.9)),
        ] {
            let theirs = case[name].as_f64().expect("a number");
            let ours = ours.expect("both kinds are there");
            assert!(
                (ours - theirs).abs() < 1e-9,
                "{name}: {ours} against {theirs}"
            );
        }
        let ours = reliability(&scores, &truth, bins);
        let (said, came) = (numbers(&case["said"]), numbers(&case["came"]));
        assert_eq!(ours.len(), said.len());
        for (bin, (said, came)) in ours.iter().zip(said.iter().zip(came)) {
            assert!(
                (bin.said - said).abs() < 1e-9 && (bin.came - came).abs() < 1e-9,
                "{bin:?}"
            );
        }
    }
}

#[test]
fn a_regression_agrees_with_scikit_learn() {
    let fixture: serde_json::Value =
        serde_json::from_str(include_str!("../fixtures/joint/logistic.json")).expect("fixture");
    let made_with = fixture["made_with"].as_str().expect("text");
    assert!(made_with.starts_with("scikit-learn "));
    let list = |name: &str| fixture[name].as_array().expect("a list").clone();
    let values: Vec<Vec<f64>> = list("values").iter().map(numbers).collect();
    let (sought, weight) = (list("sought"), numbers(&fixture["weight"]));
    let fits = list("fits");
    assert_eq!(fits.len(), 2);
    for fit in fits {
        let times = fit["weight_times"].as_f64().expect("a number");
        let cases: Vec<Case> = (values.iter().zip(&sought).zip(&weight))
            .map(|((values, sought), weight)| Case {
                values,
                sought: sought.as_bool().expect("a truth"),
                weight: times * weight,
            })
            .collect();
        let ours = logistic_ridge(&cases).expect("a fit");
        let theirs = numbers(&fit["weights"]);
        assert_eq!(ours.weights.len(), theirs.len());
        let bias = fit["bias"].as_f64().expect("a number");
        for (ours, theirs) in ours
            .weights
            .iter()
            .zip(&theirs)
            .chain([(&ours.bias, &bias)])
        {
            assert!((ours - theirs).abs() < 1e-6, "{ours} against {theirs}");
        }
    }
}
