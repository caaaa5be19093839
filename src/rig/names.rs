//! A setup's name as part of a file name.

/// Longest name of a setup in bytes: with its ending it fits every file system.
pub const LONGEST_NAME: usize = 120;

/// The name made safe for a file name on any system: separators and other
/// characters that some system forbids become `-`, a leading dot becomes `_`,
/// blanks at the ends go.
pub fn safe_name(name: &str) -> String {
    let plain = |c: char| if forbidden(c) { '-' } else { c };
    let safe: String = name.trim().chars().map(plain).collect();
    match safe.strip_prefix('.') {
        Some(rest) => format!("_{rest}"),
        None if safe.is_empty() => "_".to_owned(),
        None => safe,
    }
}

fn forbidden(c: char) -> bool {
    c.is_control() || r#"/\:*?"<>|"#.contains(c)
}

/// What two names share if their files would be one on a file system that
/// takes upper and lower case as the same.
pub fn file_key(name: &str) -> String {
    safe_name(name).to_lowercase()
}

/// What is wrong with a setup's name, if anything.
pub fn name_complaint(name: &str) -> Option<String> {
    if name.trim().is_empty() {
        Some("is empty; give the setup a name".to_owned())
    } else if name.chars().any(char::is_control) {
        Some("holds a line break or another control character; write plain text".to_owned())
    } else if name.len() > LONGEST_NAME {
        let long = name.len();
        Some(format!(
            "is {long} bytes long; use at most {LONGEST_NAME}, it becomes part of a file name"
        ))
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_separator_and_no_leading_dot_is_left() {
        for name in [
            "a/b", "a\\b", "../x", ".hidden", "..", ".", " / ", "c:d", "\u{7}x",
        ] {
            let safe = safe_name(name);
            assert!(
                !safe.contains(['/', '\\', ':']) && !safe.starts_with('.'),
                "{safe}"
            );
            assert!(!safe.is_empty() && safe.chars().all(|c| !c.is_control()));
            assert_eq!(safe_name(&safe), safe, "safe stays safe");
        }
        assert_eq!(safe_name("Kit Amber 2.0 ü"), "Kit Amber 2.0 ü");
        assert_eq!(safe_name("../kit:amber"), "_.-kit-amber");
        assert_eq!(file_key("Kit/Amber"), file_key("kit-amber"));
    }

    #[test]
    fn names_that_cannot_serve_are_refused() {
        let long = "x".repeat(LONGEST_NAME + 1);
        for name in ["", "  ", "a\nb", long.as_str()] {
            assert!(name_complaint(name).is_some(), "{name:?}");
        }
        assert_eq!(name_complaint(&long[1..]), None);
    }
}
