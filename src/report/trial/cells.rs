//! Cells of a table for a spreadsheet.

/// A text that no spreadsheet takes for a formula: led by an apostrophe where
/// it begins like one (common practice, no source), without control characters.
pub(in crate::report) fn cell(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let begins = plain.trim_start().chars().next();
    match begins {
        Some('=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠') => format!("'{plain}"),
        _ => plain,
    }
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn formulas_become_text_and_words_stay() {
        for nasty in ["=1+1", "+1", "-1", "@x", " =1", "\t=1", "\r@x"] {
            assert!(cell(nasty).starts_with('\''), "{nasty:?}");
        }
        assert_eq!(cell("kit-amber"), "kit-amber");
        assert_eq!(cell("a\nb"), "a b");
    }
}
