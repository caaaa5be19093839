//! Names that came from strangers, made safe to be shown.
//!
//! In: any text: a file's name, a setup's, what a clip or a timing file says.
//! Out: the same without characters that do more than stand there, for each
//! form a result may have. Sources: Unicode Standard Annex 9 (what turns the
//! direction of text), The Unicode Standard 23.7 (noncharacters), ECMA-48
//! (control characters, C1 among them), CommonMark 0.31 (2.4, backslash
//! escapes), GitHub Flavored Markdown 0.29 (6.9, links by themselves).

/// Stands for what is not shown.
const DOT: char = '·';

/// Whether a character does more than stand there: it ends the line, moves a
/// terminal's cursor, turns the direction of what follows, or is none.
#[must_use]
pub fn acts(c: char) -> bool {
    let none = c as u32 & 0xfffe == 0xfffe || matches!(c, '\u{fdd0}'..='\u{fdef}');
    none || c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2066}'..='\u{2069}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
}

/// On one line, for a terminal, a table, a page or a comment.
///
/// ```
/// assert_eq!(focuslag::names::plain("kit\n\u{1b}[31mred"), "kit··[31mred");
/// ```
#[must_use]
pub fn plain(text: &str) -> String {
    text.chars()
        .map(|c| if acts(c) { DOT } else { c })
        .collect()
}

/// A whole text of several lines whose names were made plain before: the last
/// look before a terminal gets it.
#[must_use]
pub fn lines(text: &str) -> String {
    let kept = |c: char| !acts(c) || c == '\n' || c == '\t';
    text.chars()
        .map(|c| if kept(c) { c } else { DOT })
        .collect()
}

/// A JSON text, in which such characters can only stand in strings: there they
/// are written as `\uXXXX`, and mean the same.
#[must_use]
pub fn json(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if acts(c) && c != '\n' {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            out.push(c);
        }
    }
    out
}

/// A string of TOML in its quotes, on one line whatever is in it.
#[must_use]
pub fn toml(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if acts(c) => out.push_str(&format!("\\U{:08X}", c as u32)),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Running text for Markdown in which nothing is a link, markup or HTML.
///
/// ```
/// assert_eq!(focuslag::names::markdown("[x](y) <b>"), "\\[x\\](y) &lt;b&gt;");
/// ```
#[must_use]
pub fn markdown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let text = plain(text);
    for (at, c) in text.char_indices() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '~' | '@' | '$' => out.extend(['\\', c]),
            // What would be a link by itself.
            ':' if text[at..].starts_with("://") => out.push_str("&#58;"),
            '.' if text[..at].to_ascii_lowercase().ends_with("www") => out.push_str("&#46;"),
            // A heading or a list, at the beginning alone.
            '#' if at == 0 => out.push_str("\\#"),
            '-' | '+' if at == 0 && text[1..].starts_with(' ') => out.extend(['\\', c]),
            '.' | ')' if at > 0 && text[..at].bytes().all(|b| b.is_ascii_digit()) => {
                out.extend(['\\', c]);
            }
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_is_not_shown_and_what_stands_is() {
        for c in "\n\r\t\u{0}\u{1b}\u{7f}\u{9b}\u{85}\u{202e}\u{2066}\u{2028}\u{200f}\u{fffe}\u{ffff}\u{1fffe}"
            .chars()
        {
            assert!(acts(c), "{c:?}");
            assert_eq!(plain(&format!("a{c}b")), "a·b");
        }
        let fine = "Kit Ämber 2.0 — é 漢字 ✓ 👍🏽 עברית";
        assert_eq!(plain(fine), fine);
        assert_eq!(lines("a\n\tb\u{1b}[2J"), "a\n\tb·[2J");
    }

    #[test]
    fn json_means_the_same() {
        let nasty = "a\u{9b}31m\u{202e}\u{fffe}\u{1fffe}\"\\\n\u{7f}";
        let text = json(&serde_json::to_string_pretty(&[nasty]).unwrap());
        assert!(!text.chars().any(|c| acts(c) && c != '\n'), "{text}");
        let back: Vec<String> = serde_json::from_str(&text).unwrap();
        assert_eq!(back, [nasty]);
    }

    #[test]
    fn toml_stays_on_its_line_and_means_the_same() {
        let nasty = "a\n# \"x\\ \u{9b}\u{202e}\u{fffe}\u{1fffe}\u{7f}";
        let text = toml(nasty);
        assert!(!text.chars().any(acts), "{text}");
        let table: toml::Table = format!("k = {text}").parse().unwrap();
        assert_eq!(table["k"].as_str(), Some(nasty));
    }

    #[test]
    fn nothing_in_markdown_is_a_link_or_html() {
        let said = markdown("<img src=x> ![a](b) https://x.y www.x.y @all `c` **d** | e");
        for live in ["<", "[a]", "://", "www.", " @", " `", " **", " |"] {
            assert!(!said.contains(live), "{live}: {said}");
        }
        for (given, written) in [
            ("- no list", "\\- no list"),
            ("1. no list", "1\\. no list"),
            ("# no heading", "\\# no heading"),
            ("+12", "+12"),
            ("kit-2.0", "kit-2.0"),
        ] {
            assert_eq!(markdown(given), written);
        }
    }
}
