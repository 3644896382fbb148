//! ROC AUC, average precision, Brier score, false alarms at a recall and reliability bins against
//! scikit-learn (`roc_auc_score`, `average_precision_score`, `brier_score_loss`, `roc_curve`,
//! `calibration_curve(strategy="quantile")`); version and cases, ties among them, in
//! `tests/fixtures/joint/classify.json`.

use benchglass::stats::{alarms_at_recall, average_precision, brier, reliability, roc_auc};

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
