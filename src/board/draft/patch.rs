//! What an edit changed, small enough to keep many of them.

use super::Sketch;
use crate::board::model::Part;

/// The difference between two states of a map being made.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    /// Where in `parts` the difference begins.
    from: usize,
    old: Vec<Part>,
    new: Vec<Part>,
    /// All but the parts, before and after, where any of it differs.
    rest: Option<Box<(Sketch, Sketch)>>,
}

impl Patch {
    pub(super) fn between(before: &Sketch, after: &Sketch) -> Self {
        let (a, b) = (&before.map.parts, &after.map.parts);
        let from = a.iter().zip(b).take_while(|(x, y)| x == y).count();
        let most = a.len().min(b.len()) - from;
        let back = a
            .iter()
            .rev()
            .zip(b.iter().rev())
            .take(most)
            .take_while(|(x, y)| x == y)
            .count();
        let (old_rest, new_rest) = (before.without_parts(), after.without_parts());
        Self {
            from,
            old: a[from..a.len() - back].to_vec(),
            new: b[from..b.len() - back].to_vec(),
            rest: (old_rest != new_rest).then(|| Box::new((old_rest, new_rest))),
        }
    }

    /// Whether nothing differs.
    pub(super) fn is_empty(&self) -> bool {
        self.old.is_empty() && self.new.is_empty() && self.rest.is_none()
    }

    /// Parts and pins that it holds, as a measure of its size.
    pub(super) fn weight(&self) -> usize {
        let parts = self.old.iter().chain(&self.new);
        1 + parts.map(|part| 1 + part.pins.len()).sum::<usize>()
    }

    pub(super) fn undo(&self, sketch: &mut Sketch) {
        self.put(sketch, self.new.len(), &self.old, |rest| &rest.0);
    }

    pub(super) fn redo(&self, sketch: &mut Sketch) {
        self.put(sketch, self.old.len(), &self.new, |rest| &rest.1);
    }

    fn put(
        &self,
        sketch: &mut Sketch,
        gone: usize,
        come: &[Part],
        which: impl Fn(&(Sketch, Sketch)) -> &Sketch,
    ) {
        sketch
            .map
            .parts
            .splice(self.from..self.from + gone, come.iter().cloned());
        if let Some(rest) = &self.rest {
            let parts = std::mem::take(&mut sketch.map.parts);
            *sketch = which(rest).clone();
            sketch.map.parts = parts;
        }
    }
}
