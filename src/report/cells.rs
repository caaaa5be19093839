//! Cells of a table for a spreadsheet.

use crate::names::acts;

/// A text that no spreadsheet takes for a formula: led by an apostrophe where
/// it begins like one (common practice, no source). One apostrophe taken off
/// such a cell gives the text back. Line breaks and tabs stay, other control
/// characters are shown by their pictures (Unicode, block 2400), and what turns the
/// direction of text by the replacement character.
pub(in crate::report) fn cell(text: &str) -> String {
    let plain: String = text.chars().map(shown).collect();
    let lead = plain.trim_start_matches('\'').trim_start();
    match lead.chars().next() {
        Some('=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠') => format!("'{plain}"),
        _ => plain,
    }
}

fn shown(c: char) -> char {
    match c {
        '\t' | '\n' | '\r' => c,
        '\0'..' ' => char::from_u32(0x2400 + u32::from(c)).unwrap_or(char::REPLACEMENT_CHARACTER),
        '\u{7f}' => '\u{2421}',
        c if acts(c) => char::REPLACEMENT_CHARACTER,
        c => c,
    }
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn formulas_become_text_and_words_stay() {
        for nasty in ["=1+1", "+1", "-1", "@x", " =1", "\t=1", "\r@x", "'=1"] {
            assert_eq!(cell(nasty), format!("'{nasty}"));
        }
        for plain in ["kit-amber", "a\nb", "'tis", "a\"b,c", "", "f/2 = wide"] {
            assert_eq!(cell(plain), plain);
        }
        assert_eq!(cell("a\0b\u{1b}[2J\u{7f}\u{9b}"), "a␀b␛[2J␡\u{fffd}");
    }
}
