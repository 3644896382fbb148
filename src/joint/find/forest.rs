//! Boosted decision trees: what a filled land looks like, as numbers.
//!
//! The table was fitted with scikit-learn 1.9.1 (`HistGradientBoostingClassifier`) on photographs
//! of three boards; `docs/find.md` says on which, and how well it does on a board left out.

use std::sync::LazyLock;

use super::places::Measure;
use super::shape::FEATURES;

/// The trees that are built in. A test holds that they are whole.
pub(super) static FOREST: LazyLock<Forest> =
    LazyLock::new(|| Forest::read(include_str!("forest.txt")).unwrap_or_default());

impl Measure for Forest {
    fn log_odds(&self, features: &[f32; FEATURES]) -> f64 {
        f64::from(self.sum(features))
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Node {
    Leaf(f32),
    Split {
        feature: usize,
        limit: f32,
        /// Where to go with a value up to the limit, and above it.
        below: usize,
        above: usize,
    },
}

/// Trees whose leaves add up to log odds.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Forest {
    base: f32,
    trees: Vec<Vec<Node>>,
}

impl Forest {
    /// Reads `baseline B`, then one tree a line: nodes apart by a space, a leaf as its value, a
    /// split as `feature<limit?below:above`. `None` where the text is anything else.
    pub(super) fn read(text: &str) -> Option<Self> {
        let mut lines = text.lines();
        let base = lines.next()?.strip_prefix("baseline ")?.parse().ok()?;
        let trees = lines
            .map(|line| {
                let nodes: Vec<Node> = line.split(' ').map(node).collect::<Option<_>>()?;
                let whole = nodes.iter().enumerate().all(|(i, n)| match n {
                    Node::Leaf(v) => v.is_finite(),
                    // Branches only lead onwards, so every walk ends.
                    Node::Split { below, above, .. } => {
                        i < *below && i < *above && *below < nodes.len() && *above < nodes.len()
                    }
                });
                whole.then_some(nodes)
            })
            .collect::<Option<_>>()?;
        Some(Self { base, trees })
    }

    /// Base and leaves together.
    fn sum(&self, features: &[f32]) -> f32 {
        self.base
            + self
                .trees
                .iter()
                .map(|nodes| walk(nodes, features))
                .sum::<f32>()
    }

    /// Largest feature number that a split asks for.
    #[cfg(test)]
    fn widest(&self) -> usize {
        let of = |n: &Node| match n {
            Node::Split { feature, .. } => *feature,
            Node::Leaf(_) => 0,
        };
        self.trees.iter().flatten().map(of).max().unwrap_or(0)
    }
}

fn node(text: &str) -> Option<Node> {
    let Some((feature, rest)) = text.split_once('<') else {
        return text.parse().ok().map(Node::Leaf);
    };
    let (limit, rest) = rest.split_once('?')?;
    let (below, above) = rest.split_once(':')?;
    Some(Node::Split {
        feature: feature.parse().ok()?,
        limit: limit.parse().ok()?,
        below: below.parse().ok()?,
        above: above.parse().ok()?,
    })
}

fn walk(nodes: &[Node], features: &[f32]) -> f32 {
    let mut at = 0;
    loop {
        match nodes[at] {
            Node::Leaf(value) => return value,
            Node::Split {
                feature,
                limit,
                below,
                above,
            } => {
                at = if features[feature] <= limit {
                    below
                } else {
                    above
                };
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::shape::FEATURES;
    use super::*;

    #[test]
    fn the_built_in_trees_are_whole() {
        assert!(FOREST.trees.len() >= 50, "{}", FOREST.trees.len());
        assert!(FOREST.widest() < FEATURES);
    }

    #[test]
    fn a_small_forest_adds_its_leaves() {
        let forest = Forest::read("baseline -1.5\n0<0.5?1:2 1 2\n1<-3?1:2 0.25 0.5\n").unwrap();
        assert_eq!(forest.sum(&[0.5, 0.0]), -1.5 + 1.0 + 0.5);
        assert_eq!(forest.sum(&[0.6, -3.0]), -1.5 + 2.0 + 0.25);
        for bad in [
            "",
            "baseline x",
            "baseline 0\n0<1?0:1 2",
            "baseline 0\n0<1?1:9 2",
        ] {
            assert_eq!(Forest::read(bad), None, "{bad}");
        }
    }
}
