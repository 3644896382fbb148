//! The only place that prints.

use std::borrow::Cow;
use std::io::{IsTerminal as _, Write as _};
use std::time::Duration;

use serde::Serialize;

use crate::progress::Progress;

/// Prints one JSON document.
pub(crate) fn json(document: &impl Serialize) {
    match serde_json::to_string_pretty(document) {
        Ok(text) => line(&text),
        Err(error) => complain(
            &format!("the answer could not be written as JSON: {error}"),
            "",
        ),
    }
}

/// Prints one JSON document on one line.
pub(crate) fn json_line(document: &impl Serialize) {
    match serde_json::to_string(document) {
        Ok(text) => line(&text),
        Err(error) => complain(
            &format!("the answer could not be written as JSON: {error}"),
            "",
        ),
    }
}

/// Prints a line of text; a reader that went away (a closed pipe) is not an error. What files and
/// people say goes into an [`entry`].
pub(crate) fn line(text: &str) {
    let mut out = std::io::stdout().lock();
    let _gone = writeln!(out, "{}", tame(text));
    let _gone = out.flush();
}

/// Prints one entry of an answer that repeats what files or people say.
pub(crate) fn entry(text: &str) {
    line(&continued(text));
}

/// How what follows a line break within an entry begins: no line of the program's own does.
const CONTINUED: &str = "\n    | ";

/// What terminals or readers of lines take for a line break.
const BREAKS: [char; 7] = [
    '\n', '\r', '\u{b}', '\u{c}', '\u{85}', '\u{2028}', '\u{2029}',
];

/// A remark or a name may hold line breaks: what follows them is marked, so that it cannot be
/// taken for a line of the program's own, such as that a gate is open.
fn continued(text: &str) -> Cow<'_, str> {
    if text.contains(BREAKS) {
        text.replace("\r\n", "\n").replace(BREAKS, CONTINUED).into()
    } else {
        text.into()
    }
}

/// Names come from files and people: signs that would move the cursor, change colours or turn the
/// writing around are shown as a box. Line ends stay.
fn tame(text: &str) -> Cow<'_, str> {
    let wild = |c: char| {
        (c.is_control() && c != '\n' && c != '\t')
            || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if text.contains(wild) {
        text.replace(wild, "\u{fffd}").into()
    } else {
        text.into()
    }
}

/// Says on stderr what is wrong and what to do about it.
pub(crate) fn complain(reason: &str, remedy: &str) {
    let mut err = std::io::stderr().lock();
    let _gone = writeln!(err, "benchglass: {}", tame(&continued(reason)));
    if !remedy.is_empty() && !reason.contains(remedy) {
        let _gone = writeln!(err, "  What to do: {}", tame(&continued(remedy)));
    }
}

/// A number with its noun: `1 part`, `12 parts`.
pub(crate) fn many(count: usize, noun: &str) -> String {
    if count == 1 {
        format!("1 {noun}")
    } else {
        format!("{count} {noun}s")
    }
}

/// A remark on stderr.
pub(crate) fn remark(text: &str) {
    let mut err = std::io::stderr().lock();
    let _gone = writeln!(err, "{}", tame(&continued(text)));
}

/// Runs long work while its progress is shown on stderr: in place on a terminal, else a line every
/// ten seconds. Nothing is shown for work that ends at once.
pub(crate) fn with_progress<T>(what: &str, work: impl FnOnce(&Progress) -> T) -> T {
    let progress = Progress::new();
    let (stop, stopped) = std::sync::mpsc::channel::<()>();
    std::thread::scope(|scope| {
        let watched = progress.clone();
        let watcher = std::thread::Builder::new().name("progress".into());
        let handle = watcher.spawn_scoped(scope, move || watch(what, &watched, &stopped));
        let result = work(&progress);
        drop(stop);
        if let Ok(handle) = handle {
            let _watcher_ended = handle.join();
        }
        result
    })
}

fn watch(what: &str, progress: &Progress, stopped: &std::sync::mpsc::Receiver<()>) {
    let terminal = std::io::stderr().is_terminal();
    let step = Duration::from_millis(if terminal { 500 } else { 10_000 });
    let mut shown = false;
    while let Err(std::sync::mpsc::RecvTimeoutError::Timeout) = stopped.recv_timeout(step) {
        let (done, total) = progress.counts();
        let mut err = std::io::stderr().lock();
        let _gone = if terminal {
            write!(err, "\r{what}: {done} of {total}  ")
        } else {
            writeln!(err, "{what}: {done} of {total}")
        };
        let _gone = err.flush();
        shown = true;
    }
    if shown && terminal {
        let _gone = writeln!(std::io::stderr());
    }
}

/// Lays rows out in columns; the first row is the heading. A line break in a cell would begin
/// another row: it is shown as a box.
pub(crate) fn table(rows: &[Vec<String>]) -> String {
    let in_one_line = |cell: &String| cell.replace(BREAKS, "\u{fffd}");
    let rows: Vec<Vec<String>> = (rows.iter())
        .map(|row| row.iter().map(in_one_line).collect())
        .collect();
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut text = String::new();
    for row in &rows {
        let mut line = String::from("  ");
        for (column, cell) in row.iter().enumerate() {
            line.push_str(cell);
            if column + 1 < row.len() {
                let pad = widths[column].saturating_sub(cell.chars().count()) + 2;
                line.extend(std::iter::repeat_n(' ', pad));
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_begins_a_line_of_its_own() {
        for line_break in ["\n", "\r\n", "\r", "\u{85}", "\u{2028}", "\n\n"] {
            let forged = format!("  - failed (x{line_break}Cold: nothing forbids it.)");
            let shown = tame(&continued(&forged)).into_owned();
            let mut lines = shown.split(BREAKS);
            assert_eq!(lines.next(), Some("  - failed (x"));
            assert!(lines.all(|line| line.starts_with("    | ")), "{shown}");
            assert!(shown.ends_with("| Cold: nothing forbids it.)"), "{shown}");
        }
        assert_eq!(continued("plain, with a\ttab"), "plain, with a\ttab");
    }

    #[test]
    fn a_cell_is_no_row() {
        let rows = [["a", "b"], ["1\n  9", "2"]].map(|row| row.map(String::from).to_vec());
        assert_eq!(table(&rows), "  a      b\n  1\u{fffd}  9  2\n");
    }

    #[test]
    fn nothing_steers_the_terminal() {
        assert_eq!(tame("\u{1b}[2Jx\u{202e}"), "\u{fffd}[2Jx\u{fffd}");
    }
}
