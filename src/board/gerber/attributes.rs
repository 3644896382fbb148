//! Attributes of files, apertures and objects.

use std::collections::BTreeMap;

/// Most attributes that are kept at once; the format names a few dozen.
const MOST: usize = 256;

/// Longest value that is kept, characters: longer ones fit no name of a map.
const MAX_VALUE: usize = 128;

/// Most fields of one attribute that are kept.
const MAX_FIELDS: usize = 16;

/// Names with their fields.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Attributes(BTreeMap<String, Vec<String>>);

impl Attributes {
    /// Sets `.N,Net1` as it stands behind `TO`, `TA` or `TF`.
    pub(super) fn set(&mut self, text: &str) {
        let mut fields = text.split(',');
        let name = fields.next().unwrap_or_default().trim().to_owned();
        let values: Vec<String> = fields.take(MAX_FIELDS).map(unescaped).collect();
        if self.0.len() < MOST || self.0.contains_key(&name) {
            self.0.insert(name, values);
        }
    }

    /// Deletes one by its name, or all where the name is empty.
    pub(super) fn delete(&mut self, name: &str) {
        let name = name.trim().trim_start_matches(',');
        if name.is_empty() {
            self.0.clear();
        } else {
            self.0.remove(name);
        }
    }

    /// The fields of an attribute.
    pub(super) fn get(&self, name: &str) -> Option<&[String]> {
        self.0.get(name).map(Vec::as_slice)
    }

    /// The first field of an attribute, empty where there is none.
    pub(super) fn first(&self, name: &str) -> &str {
        self.get(name)
            .and_then(|fields| fields.first())
            .map_or("", String::as_str)
    }
}

/// Text with its `\uXXXX` escapes read, trimmed and cut to a length that a map can hold.
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text.trim();
    while let Some(at) = rest.find("\\u") {
        out.push_str(&rest[..at]);
        let digits = rest.get(at + 2..at + 6);
        let read = digits
            .filter(|digits| digits.bytes().all(|b| b.is_ascii_hexdigit()))
            .and_then(|digits| u32::from_str_radix(digits, 16).ok())
            .and_then(char::from_u32);
        match read {
            Some(c) => {
                out.push(c);
                rest = &rest[at + 6..];
            }
            None => {
                out.push_str("\\u");
                rest = &rest[at + 2..];
            }
        }
    }
    out.push_str(rest);
    out.chars()
        .filter(|c| !c.is_control())
        .take(MAX_VALUE)
        .collect()
}
