//! Wilson intervals against Newcombe 1998, "Two-sided confidence intervals for the single
//! proportion", table of examples, method 3 (from memory; recomputed independently).

use benchglass::stats::wilson_95;

#[test]
fn newcombe_examples() {
    for (hits, n, low, high) in [
        (81, 263, 0.255_289, 0.366_210),
        (15, 148, 0.062_386, 0.160_487),
        (0, 20, 0.0, 0.161_125),
        (1, 29, 0.006_113, 0.171_755),
        // The next two: computed independently, no published example.
        (4, 20, 0.080_658, 0.416_017),
        (10, 10, 0.722_467, 1.0),
    ] {
        let interval = wilson_95(hits, n).expect("n > 0");
        assert!(
            (interval.low - low).abs() < 1e-6,
            "{hits}/{n}: {interval:?}"
        );
        assert!(
            (interval.high - high).abs() < 1e-6,
            "{hits}/{n}: {interval:?}"
        );
    }
    assert_eq!(wilson_95(0, 0), None, "no data is not a rate");
}
