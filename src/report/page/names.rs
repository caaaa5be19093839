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
    let mut found: Option<(usize, &str)> = None;
    for name in names.iter().filter(|n| !n.is_empty()) {
        let Some(at) = text.find(*name) else { continue };
        // The first in the text; of two there, the longer.
        let before = found.is_none_or(|(k, other)| at < k || (at == k && name.len() > other.len()));
        if before {
            found = Some((at, name));
        }
    }
    match found {
        None => html! { (shown(text)) },
        Some((at, found)) => html! {
            (shown(&text[..at])) (name(found)) (prose(&text[at + found.len()..], names))
        },
    }
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
    }
}
