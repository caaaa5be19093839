//! Files that a command writes where a person says.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::stdin;
use crate::beside::folder_of;

/// What a file is, told by how it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A report's page.
    Page,
    /// A picture.
    Png,
    /// A table of a trial.
    Csv,
    /// A table of all trials.
    Trials,
    /// A histogram log.
    HdrLog,
}

impl Kind {
    fn words(self) -> &'static str {
        match self {
            Self::Page => "a page that focuslag report wrote",
            Self::Png => "a PNG picture",
            Self::Csv => "a table that focuslag show wrote",
            Self::Trials => "a table that focuslag table wrote",
            Self::HdrLog => "a histogram log",
        }
    }

    fn begins(self, head: &[u8]) -> bool {
        let text = String::from_utf8_lossy(head);
        match self {
            Self::Page => text.contains(crate::report::PAGE_MARK),
            Self::Png => head.starts_with(b"\x89PNG\r\n\x1a\n"),
            Self::Csv => text.starts_with(&crate::report::CSV_HEAD.join(",")),
            Self::Trials => text.starts_with(crate::report::TRIALS_HEAD),
            Self::HdrLog => text.starts_with("#[Histogram log format"),
        }
    }
}

/// What is wrong with writing such a file there; nothing where there is none,
/// an empty one, or one of the same kind.
pub fn complaint(path: &Path, flag: &str, kind: Kind, force: bool) -> Option<String> {
    let name = path.display();
    if stdin::named(path) {
        return None;
    }
    if path.is_dir() {
        return Some(format!("{flag}: {name} is a folder; name a file in it"));
    }
    let folder = folder_of(path);
    if !folder.is_dir() {
        let folder = folder.display();
        return Some(format!(
            "{flag}: the folder {folder} does not exist; make it first"
        ));
    }
    // A pipe that nobody writes to would be waited for without end.
    if path.exists() && !path.is_file() {
        return Some(format!("{flag}: {name} is no ordinary file; name another"));
    }
    let mut head = vec![0; 4096];
    let read = File::open(path).and_then(|mut f| f.read(&mut head)).ok()?;
    head.truncate(read);
    (!force && read > 0 && !kind.begins(&head)).then(|| {
        format!(
            "{flag}: {name} is there already and is not {}; name another file, or --force",
            kind.words()
        )
    })
}

/// What is wrong where the folder of a file to be written is missing.
pub fn missing_folder(out: &Path) -> Option<String> {
    let folder = folder_of(out);
    let name = folder.display();
    let what = "this folder does not exist; make it first, or name another with --out";
    (!folder.is_dir()).then(|| format!("{name}: {what}"))
}

/// What is wrong where a file that is not to be replaced is there; `flag` names it.
pub fn there_already(file: &Path, flag: &str, force: bool) -> Option<String> {
    let name = file.display();
    (!force && file.exists()).then(|| {
        format!(
            "{name}: is there already; choose another name with {flag}, or give --force to replace it"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_kind_of_file_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.png");
        assert_eq!(complaint(&path, "--png", Kind::Png, false), None);
        std::fs::write(&path, b"letter to the harbour master").unwrap();
        let said = complaint(&path, "--png", Kind::Png, false).unwrap();
        assert!(said.contains("is not a PNG picture"), "{said}");
        assert_eq!(complaint(&path, "--png", Kind::Png, true), None);
        std::fs::write(&path, b"\x89PNG\r\n\x1a\nrest").unwrap();
        assert_eq!(complaint(&path, "--png", Kind::Png, false), None);
        let said = complaint(&folder.path().join("no/a.png"), "--png", Kind::Png, false);
        assert!(said.unwrap().contains("does not exist"));
        assert!(complaint(folder.path(), "-o", Kind::Page, true).is_some());
        #[cfg(unix)]
        assert!(complaint(Path::new("/dev/null"), "-o", Kind::Page, true).is_some());
    }
}
