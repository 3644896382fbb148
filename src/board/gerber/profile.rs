//! The board's edge from the strokes of a profile layer.

use std::collections::BTreeMap;

/// Most strokes that are followed; a board's edge has some dozen.
pub(super) const MAX_STROKES: usize = 20_000;

/// Most corners of an outline that a map takes.
const MAX_CORNERS: usize = 2_000;

/// Ends nearer than this meet, steps per mm: two micrometres.
const STEPS_PER_MM: f64 = 500.0;

/// A straight stroke, mm.
pub(super) type Stroke = [[f64; 2]; 2];

/// The closed loop of the greatest area, without its repeated first corner; `None` where no
/// strokes close.
pub(super) fn outline(strokes: &[Stroke]) -> Option<Vec<[f64; 2]>> {
    let key = |p: [f64; 2]| p.map(|v| (v * STEPS_PER_MM).round() as i64);
    let mut ends: BTreeMap<[i64; 2], Vec<usize>> = BTreeMap::new();
    for (i, stroke) in strokes.iter().enumerate().take(MAX_STROKES) {
        if key(stroke[0]) != key(stroke[1]) {
            ends.entry(key(stroke[0])).or_default().push(i);
            ends.entry(key(stroke[1])).or_default().push(i);
        }
    }
    let mut used = vec![false; strokes.len()];
    let mut best: Option<(f64, Vec<[f64; 2]>)> = None;
    for start in 0..strokes.len().min(MAX_STROKES) {
        if used[start] || key(strokes[start][0]) == key(strokes[start][1]) {
            continue;
        }
        used[start] = true;
        let mut corners = vec![strokes[start][0]];
        let mut end = strokes[start][1];
        while key(end) != key(corners[0]) {
            // Strokes that are used up are dropped, so that each end is looked through once.
            let next = ends.get_mut(&key(end)).and_then(|at| {
                while at.last().is_some_and(|i| used[*i]) {
                    at.pop();
                }
                at.pop()
            });
            let Some(next) = next else { break };
            used[next] = true;
            corners.push(end);
            let [a, b] = strokes[next];
            end = if key(a) == key(end) { b } else { a };
        }
        let closed = key(end) == key(corners[0]) && corners.len() >= 3;
        if !closed || corners.len() > MAX_CORNERS {
            continue;
        }
        let area = crate::board::polygon::area(&corners).abs();
        if best.as_ref().is_none_or(|(most, _)| area > *most) {
            best = Some((area, corners));
        }
    }
    best.filter(|(area, _)| *area > 0.0)
        .map(|(_, corners)| corners)
}
