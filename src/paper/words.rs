//! Small words: lists, dates, and text of unknown origin made fit to be shown.

/// Longest remark on paper in characters. A slip is read at arm's length with an iron in the
/// other hand: more than a screenful per line hides the next line. The JSON keeps all of it.
pub const LONGEST_REMARK_CHARS: usize = 700;

/// Text of unknown origin as it may stand on paper: control characters become their visible
/// pictures, marks that turn the writing direction become `[U+202E]` and the like, line breaks
/// stay. Nothing is dropped.
#[must_use]
pub fn shown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            '\r' if rest.peek() == Some(&'\n') => {}
            '\n' | '\r' | '\u{85}' | '\u{2028}' | '\u{2029}' => out.push('\n'),
            '\t' => out.push(' '),
            '\u{7f}' => out.push('\u{2421}'),
            c if (c as u32) < 0x20 => {
                out.push(char::from_u32(0x2400 + c as u32).unwrap_or('\u{fffd}'));
            }
            c if must_be_named(c) => out.push_str(&format!("[U+{:04X}]", c as u32)),
            c => out.push(c),
        }
    }
    out
}

/// Characters that show nothing and can make text read other than it is written.
fn must_be_named(c: char) -> bool {
    matches!(c,
        '\u{80}'..='\u{9f}'
        | '\u{ad}'
        | '\u{61c}'
        | '\u{180e}'
        | '\u{200b}'..='\u{200f}'
        | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{feff}'
        | '\u{fff9}'..='\u{fffb}'
        | '\u{e0000}'..='\u{e007f}')
        || (c as u32) & 0xfffe == 0xfffe
        || ('\u{fdd0}'..='\u{fdef}').contains(&c)
}

/// As [`shown`], cut at [`LONGEST_REMARK_CHARS`] with a remark that says how much is missing.
#[must_use]
pub(super) fn shown_short(text: &str) -> String {
    let count = text.chars().count();
    if count <= LONGEST_REMARK_CHARS {
        return shown(text);
    }
    let head: String = text.chars().take(LONGEST_REMARK_CHARS).collect();
    let more = count - LONGEST_REMARK_CHARS;
    format!(
        "{} [cut here: {more} more characters are in the job]",
        shown(&head)
    )
}

/// `a`, `a and b`, `a, b and c`.
#[must_use]
pub(super) fn listed<S: AsRef<str>>(items: &[S]) -> String {
    match items {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [head @ .., last] => {
            let head: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", head.join(", "), last.as_ref())
        }
    }
}

/// `1 line`, `3 lines`.
#[must_use]
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// `no turn`, `one turn`, `2 turns` of the board.
#[must_use]
pub(super) fn turns(count: usize) -> String {
    match count {
        0 => "no turn of the board".to_owned(),
        1 => "one turn of the board".to_owned(),
        more => format!("{more} turns of the board"),
    }
}

/// The day of an RFC 3339 time as it was written there, `14 Mar 2026`; other text unchanged.
#[must_use]
pub(super) fn day(at: &str) -> String {
    at.get(..10)
        .and_then(|date| date.parse::<jiff::civil::Date>().ok())
        .map_or_else(
            || at.to_owned(),
            |date| date.strftime("%-d %b %Y").to_string(),
        )
}

/// First letter upper case.
#[must_use]
pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(chars).collect()
    })
}

/// First letter lower case, unless the second is upper case too (an abbreviation).
#[must_use]
pub(super) fn small(text: &str) -> String {
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return String::new();
    };
    if chars.clone().next().is_some_and(char::is_uppercase) {
        return text.to_owned();
    }
    first.to_lowercase().chain(chars).collect()
}

/// Ends with a full stop (or already with a mark that ends a sentence).
#[must_use]
pub(super) fn sentence(text: &str) -> String {
    let text = text.trim();
    if text.is_empty() || text.ends_with(['.', '!', '?', ':']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn days_and_lists() {
        assert_eq!(day("2026-03-14T09:30:00+02:00"), "14 Mar 2026");
        assert_eq!(day("2026-13-45"), "2026-13-45");
        assert_eq!(day("é"), "é");
        assert_eq!(listed(&["C12"]), "C12");
        assert_eq!(listed(&["C12", "C14"]), "C12 and C14");
        assert_eq!(listed(&["a", "b", "c"]), "a, b and c");
    }

    #[test]
    fn control_characters_are_shown_not_obeyed() {
        assert_eq!(
            shown("a\0b\u{1b}[31m\u{202e}gpj\t!"),
            "a\u{2400}b\u{241b}[31m[U+202E]gpj !"
        );
        assert_eq!(shown("one\r\ntwo\rthree"), "one\ntwo\nthree");
    }

    #[test]
    fn a_huge_note_says_what_is_missing() {
        let short = shown_short(&"x".repeat(100_000));
        assert!(short.chars().count() < LONGEST_REMARK_CHARS + 80);
        assert!(short.contains("99300 more characters"), "{short}");
    }

    proptest! {
        #[test]
        fn shown_text_holds_no_control_character(text in any::<String>()) {
            let out = shown(&text);
            prop_assert!(out.chars().all(|c| c == '\n' || !c.is_control()));
            let turned = out.contains(['\u{202e}', '\u{2066}', '\u{200f}']);
            prop_assert!(!turned);
            prop_assert_eq!(shown(&out), out);
        }
    }
}
