//! Names that came from files, made safe to stand anywhere in a page.

use maud::{Markup, html};

use crate::report::words::plain;

/// Without characters that would do more than stand there.
pub(super) fn shown(text: &str) -> String {
    plain(text)
}

/// A name on its own, isolated from the text around it.
pub(super) fn name(text: &str) -> Markup {
    html! { bdi { (shown(text)) } }
}

/// Running text in which these names may stand.
pub(super) fn prose(text: &str, names: &[&str]) -> Markup {
    let mut pieces: Vec<(&str, &str)> = Vec::new();
    let mut rest = text;
    while let Some((at, found)) = first(rest, names) {
        pieces.push((&rest[..at], found));
        rest = &rest[at + found.len()..];
    }
    html! {
        @for (before, found) in pieces { (shown(before)) (name(found)) }
        (shown(rest))
    }
}

/// The first name in a text; of two there, the longer.
fn first<'n>(text: &str, names: &[&'n str]) -> Option<(usize, &'n str)> {
    let there = names.iter().filter(|n| !n.is_empty());
    let there = there.filter_map(|n| Some((text.find(n)?, *n)));
    there.min_by_key(|(at, n)| (*at, std::cmp::Reverse(n.len())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_prose_are_isolated_and_escaped() {
        let text = prose("<b> is sooner than <b>-2.", &["<b>", "<b>-2"]).into_string();
        assert_eq!(
            text,
            "<bdi>&lt;b&gt;</bdi> is sooner than <bdi>&lt;b&gt;-2</bdi>."
        );
        assert_eq!(shown("a\u{202e}b\u{7}"), "a·b·");
        // A name as often as a timing file may repeat it: no depth of its own.
        let long = prose(&"x".repeat(200_000), &["x"]).into_string();
        assert_eq!(long.matches("<bdi>").count(), 200_000);
    }
}
