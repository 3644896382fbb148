//! What is wrong or doubtful about a map that parsed: each finding with place, reason, remedy.

mod lands;
mod names;
mod places;
#[cfg(test)]
mod tests;
mod values;

use std::fmt;

use super::model::{BoardMap, Part, Pin};

/// Most findings of one kind that are listed; the rest are counted. A map with more of one kind
/// has one cause, and a hostile one must not fill the memory.
const MAX_PER_KIND: usize = 200;

/// How much a finding matters.
#[derive(Debug, serde::Serialize, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[serde(rename_all = "lowercase")]
pub enum FindingSeverity {
    /// The map says something that cannot be, or that leaves an address without one meaning.
    Error,
    /// Doubtful; work can go on.
    Warning,
}

/// One finding of the linter.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Finding {
    /// How much it matters.
    pub severity: FindingSeverity,
    /// Where: `part J4, pin 3`.
    pub place: String,
    /// What is wrong.
    pub reason: String,
    /// What to do about it.
    pub remedy: String,
}

impl fmt::Display for FindingSeverity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Error => "error",
            Self::Warning => "warning",
        })
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            severity,
            place,
            reason,
            remedy,
        } = self;
        write!(f, "{severity}: {place}: {reason}; {remedy}")
    }
}

/// Everything that is wrong or doubtful about `map`, sorted by place (numbers by value: J4
/// before J10), then severity and reason. The same map always gives the same list.
#[must_use]
pub fn lint(map: &BoardMap) -> Vec<Finding> {
    let mut findings = Vec::new();
    for check in [names::check, lands::check, places::check, values::check] {
        check(map, &mut findings);
    }
    findings.sort_by_cached_key(|f| (natural_key(&f.place), f.severity, f.reason.clone()));
    findings
}

/// Whether any finding is an error.
#[must_use]
pub fn has_errors(findings: &[Finding]) -> bool {
    findings
        .iter()
        .any(|finding| finding.severity == FindingSeverity::Error)
}

/// Collects the findings of one kind and counts those beyond [`MAX_PER_KIND`].
struct Kind<'a> {
    findings: &'a mut Vec<Finding>,
    severity: FindingSeverity,
    kind: &'static str,
    count: usize,
}

impl<'a> Kind<'a> {
    fn error(findings: &'a mut Vec<Finding>, kind: &'static str) -> Self {
        Self::new(findings, FindingSeverity::Error, kind)
    }

    fn warning(findings: &'a mut Vec<Finding>, kind: &'static str) -> Self {
        Self::new(findings, FindingSeverity::Warning, kind)
    }

    fn new(findings: &'a mut Vec<Finding>, severity: FindingSeverity, kind: &'static str) -> Self {
        Self {
            findings,
            severity,
            kind,
            count: 0,
        }
    }

    fn add(&mut self, place: String, reason: impl Into<String>, remedy: impl Into<String>) {
        self.count += 1;
        if self.count <= MAX_PER_KIND {
            self.findings.push(Finding {
                severity: self.severity,
                place,
                reason: reason.into(),
                remedy: remedy.into(),
            });
        }
    }

    fn is_full(&self) -> bool {
        self.count > MAX_PER_KIND
    }
}

impl Drop for Kind<'_> {
    fn drop(&mut self) {
        if self.is_full() {
            self.findings.push(Finding {
                severity: self.severity,
                place: "whole map".to_owned(),
                reason: format!("{}: more than the {MAX_PER_KIND} listed", self.kind),
                remedy: "mend those, then check again".to_owned(),
            });
        }
    }
}

fn part_place(part: &Part) -> String {
    format!("part {}", part.reference)
}

fn pin_place(part: &Part, pin: &Pin) -> String {
    format!("part {}, pin {}", part.reference, pin.no)
}

/// Sort key in which runs of digits compare by value.
pub(in crate::board) fn natural_key(text: &str) -> Vec<(bool, usize, String)> {
    let bytes = text.as_bytes();
    bytes
        .chunk_by(|a, b| a.is_ascii_digit() == b.is_ascii_digit())
        .map(|run| {
            let digits = run[0].is_ascii_digit();
            let text = String::from_utf8_lossy(run);
            let text = if digits {
                text.trim_start_matches('0')
            } else {
                &text
            };
            (
                !digits,
                if digits { text.len() } else { 0 },
                text.to_owned(),
            )
        })
        .collect()
}
