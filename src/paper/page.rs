//! The shell of every HTML paper: one self-contained file, no script, nothing fetched.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::cautions::{Caution, LIMITS};
use super::words::shown;

/// The common look of all papers.
const STYLE: &str = include_str!("style.css");

/// Text of unknown origin, made fit to be shown and kept from turning its surroundings.
pub(super) fn said(text: &str) -> Markup {
    html! { bdi { (shown(text)) } }
}

/// A whole page. `running` stands at the head of every printed page.
pub(super) fn page(title: &str, running: &str, body: &Markup) -> Markup {
    let style = PreEscaped(format!("{STYLE}{}", page_rules(running)));
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                meta http-equiv="Content-Security-Policy"
                    content="default-src 'none'; img-src data:; style-src 'unsafe-inline'";
                title { (shown(title)) }
                style { (style) }
            }
            body { (body) }
        }
    }
}

/// `@page` with the running head and page numbers; the sheet's size is the printer's, so that it
/// comes out whole on A4 and on Letter.
fn page_rules(running: &str) -> String {
    format!(
        "@page{{margin:17mm 13mm 15mm;@top-left{{content:\"{}\";{HEAD}}}\
         @top-right{{content:\"page \" counter(page) \" of \" counter(pages);{HEAD}}}}}\
         @page:first{{margin-top:13mm;@top-left{{content:\"\"}}}}",
        css_string(running)
    )
}

const HEAD: &str = "font:600 9pt Inter,Helvetica,Arial,sans-serif;color:#111;vertical-align:middle";

/// Longest running head in characters: what fits on one line beside the page number.
const LONGEST_HEAD_CHARS: usize = 60;

/// Text as the inside of a CSS string: everything but letters and digits of ASCII as a code
/// point, so that no text can leave the string or the style element.
fn css_string(text: &str) -> String {
    shown(text)
        .chars()
        .take(LONGEST_HEAD_CHARS)
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_string()
            } else {
                format!("\\{:06x}", c as u32)
            }
        })
        .collect()
}

/// The cautions in their box, what is dangerous on this unit first.
pub(super) fn caution_box(title: &str, own: &[String], cautions: &[Caution]) -> Markup {
    html! {
        section.warn aria-label=(title) {
            h2 { (title) }
            @if !own.is_empty() {
                ul.own { @for text in own { li { (said(text)) } } }
            }
            ol {
                @for caution in cautions {
                    li { b { (caution.title) ". " } (caution.text) }
                }
            }
            p.limits { (LIMITS) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_leaves_the_style() {
        let text = css_string("a\"}</style><script>\u{0}");
        assert!(!text.contains(['"', '<', '>', '}', '/']), "{text}");
        assert!(text.starts_with("a\\000022"), "{text}");
    }
}
