//! Lays compact JSON out for people: what fits on one line stays on one line, so that a pin is
//! a line and a difference between two maps can be read.

/// Longest line before a list or object is opened up, bytes. A pin with net and land fits.
const WIDTH: usize = 160;

/// Lays out compact JSON (no white space outside strings) with two-space indents and a final
/// line break. The result is a function of the input alone.
pub(crate) fn lay_out(compact: &str) -> String {
    let src = compact.as_bytes();
    let ends = matching_ends(src);
    let mut out = String::with_capacity(compact.len() + compact.len() / 4);
    let mut depth = 0;
    let mut flat_until = 0;
    let mut run = 0;
    let mut opened = 0;
    let mut i = 0;
    while i < src.len() {
        let flat = i < flat_until;
        let before = &compact[run..i];
        match src[i] {
            b'"' => {
                i = string_end(src, i);
                continue;
            }
            open @ (b'{' | b'[') => {
                out.push_str(before);
                out.push(char::from(open));
                let end = ends[opened];
                opened += 1;
                if !flat && end - i <= WIDTH {
                    flat_until = end + 1;
                } else if !flat {
                    depth += 1;
                    new_line(&mut out, depth);
                }
            }
            close @ (b'}' | b']') => {
                out.push_str(before);
                if !flat {
                    depth -= 1;
                    new_line(&mut out, depth);
                }
                out.push(char::from(close));
            }
            b',' => {
                out.push_str(before);
                out.push(',');
                if flat {
                    out.push(' ');
                } else {
                    new_line(&mut out, depth);
                }
            }
            b':' => {
                out.push_str(before);
                out.push_str(": ");
            }
            _ => {
                i += 1;
                continue;
            }
        }
        i += 1;
        run = i;
    }
    out.push_str(&compact[run..]);
    out.push('\n');
    out
}

fn new_line(out: &mut String, depth: usize) {
    out.push('\n');
    for _ in 0..depth {
        out.push_str("  ");
    }
}

/// Index just past the string that opens at `open`.
fn string_end(src: &[u8], open: usize) -> usize {
    let mut i = open + 1;
    while i < src.len() {
        match src[i] {
            b'\\' => i += 2,
            b'"' => return i + 1,
            _ => i += 1,
        }
    }
    src.len()
}

/// Index of the closing bracket for each opening one, in the order in which they open.
fn matching_ends(src: &[u8]) -> Vec<usize> {
    let mut ends = Vec::new();
    let mut open = Vec::new();
    let mut i = 0;
    while i < src.len() {
        match src[i] {
            b'"' => {
                i = string_end(src, i);
                continue;
            }
            b'{' | b'[' => {
                open.push(ends.len());
                ends.push(src.len());
            }
            b'}' | b']' => {
                if let Some(start) = open.pop() {
                    ends[start] = i;
                }
            }
            _ => {}
        }
        i += 1;
    }
    ends
}

#[cfg(test)]
mod tests {
    use super::lay_out;

    #[test]
    fn short_stays_on_one_line_and_strings_are_left_alone() {
        assert_eq!(
            lay_out(r#"{"a":[1.0,-2.5],"b":"x,{\"}:"}"#),
            "{\"a\": [1.0, -2.5], \"b\": \"x,{\\\"}:\"}\n"
        );
    }

    #[test]
    fn long_is_opened_up() {
        let item = format!("\"{}\"", "m".repeat(100));
        let text = lay_out(&format!("{{\"a\":[{item},{item}],\"b\":[]}}"));
        assert_eq!(
            text,
            format!("{{\n  \"a\": [\n    {item},\n    {item}\n  ],\n  \"b\": []\n}}\n")
        );
    }
}
