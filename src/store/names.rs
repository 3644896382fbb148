//! File names that are legal everywhere and cannot lead out of their folder.

use std::path::{Component, Path};

/// Most bytes of the readable part of a photo's file name: with the hash before it this stays
/// far below the 255 bytes that file systems allow and leaves room in Windows' 260 characters.
const MAX_NAME_BYTES: usize = 100;

/// Most bytes of an extension that is kept when a name is shortened.
const MAX_EXTENSION_BYTES: usize = 10;

/// The readable part of a photo's file name: the last component of the name that it had, with
/// everything replaced that some system forbids or that misleads the eye.
#[must_use]
pub fn sanitised(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = last
        .chars()
        .map(|c| if is_plain(c) { c } else { '_' })
        .collect();
    let plain = plain.trim_matches([' ', '.']);
    if plain.is_empty() {
        return "photo".to_owned();
    }
    shortened(plain)
}

fn is_plain(c: char) -> bool {
    let forbidden = matches!(c, '<' | '>' | ':' | '"' | '|' | '?' | '*');
    // Marks that turn the direction of writing or are not seen at all.
    let misleading = matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}')
        || matches!(c, '\u{2060}'..='\u{206f}' | '\u{feff}');
    !(c.is_control() || forbidden || misleading)
}

fn shortened(name: &str) -> String {
    if name.len() <= MAX_NAME_BYTES {
        return name.to_owned();
    }
    let (stem, extension) = match name.rsplit_once('.') {
        Some((stem, extension)) if extension.len() <= MAX_EXTENSION_BYTES => (stem, extension),
        _ => (name, ""),
    };
    let mut end = MAX_NAME_BYTES - MAX_EXTENSION_BYTES - 1;
    while !stem.is_char_boundary(end.min(stem.len())) {
        end -= 1;
    }
    let stem = stem[..end.min(stem.len())].trim_end_matches([' ', '.']);
    if extension.is_empty() {
        stem.to_owned()
    } else {
        format!("{stem}.{extension}")
    }
}

/// Whether a name from a journal is one plain component that stays in its folder on any system.
pub(super) fn is_one_component(name: &str) -> bool {
    let mut components = Path::new(name).components();
    let one = matches!(components.next(), Some(Component::Normal(only)) if only == name);
    one && components.next().is_none() && !name.contains(['/', '\\', ':', '\0'])
}

/// Whether a text is a SHA-256 in lower-case hex.
pub(super) fn is_sha256(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn hostile_names_become_plain() {
        assert_eq!(sanitised("../../etc/passwd"), "passwd");
        assert_eq!(sanitised("C:\\photos\\IMG 1.jpg"), "IMG 1.jpg");
        assert_eq!(sanitised("a<b>:\"|?*.png"), "a_b______.png");
        assert_eq!(sanitised("gpj.\u{202e}exe"), "gpj._exe");
        assert_eq!(sanitised(".. ."), "photo");
        assert_eq!(sanitised(""), "photo");
        let long = format!("{}.jpeg", "é".repeat(300));
        assert!(sanitised(&long).ends_with(".jpeg") && sanitised(&long).len() <= 100);
        assert!(sanitised(&".x".repeat(300)).len() <= 100);
    }

    proptest! {
        #[test]
        fn any_name_becomes_one_component(name in any::<String>()) {
            let name = sanitised(&name);
            prop_assert!(is_one_component(&name) && name.len() <= MAX_NAME_BYTES);
            prop_assert!(!name.ends_with([' ', '.']));
        }
    }

    #[test]
    fn only_plain_components_are_followed() {
        for name in ["..", ".", "", "a/b", "/a", "a\\b", "C:x", "../x"] {
            assert!(!is_one_component(name), "{name}");
        }
        assert!(is_one_component("1a2b3c4d-IMG 1.jpg"));
    }
}
