//! Which files of a folder are photographs, and in which order.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use super::PhotoError;

/// What photographs' names end with.
const ENDINGS: [&str; 5] = ["jpg", "jpeg", "png", "tif", "tiff"];
/// The folder within, of what was focused by hand.
const BY_HAND: &str = "by-hand";
/// Most photographs of a setup.
const MOST: usize = 20_000;

/// The photographs of one setup.
#[derive(Clone, Debug, PartialEq)]
pub struct Folder {
    /// The setup's name: the folder's.
    pub name: String,
    /// The folder.
    pub path: PathBuf,
    /// In shooting order: by name, numbers in it as numbers.
    pub shots: Vec<PathBuf>,
    /// Focused by hand.
    pub by_hand: Vec<PathBuf>,
    /// Files that are no photographs, by ending, with how many there are.
    pub others: BTreeMap<String, usize>,
}

impl Folder {
    /// Lists a folder.
    ///
    /// # Errors
    /// Where it cannot be listed, or holds no photograph.
    pub fn open(path: &Path) -> Result<Self, PhotoError> {
        let (shots, others) = listed(path)?;
        let shown = || path.display().to_string();
        if shots.is_empty() {
            return Err(PhotoError::Empty {
                folder: shown(),
                other: folders_in(path).unwrap_or_else(|| held(&others)),
            });
        }
        if shots.len() > MOST {
            return Err(PhotoError::TooMany {
                folder: shown(),
                count: shots.len(),
                most: MOST,
            });
        }
        let by_hand = path.join(BY_HAND);
        let by_hand = match by_hand.is_dir() {
            true => listed(&by_hand)?.0,
            false => Vec::new(),
        };
        let whole = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let name = whole.file_name().map(|n| n.to_string_lossy().into_owned());
        Ok(Self {
            name: name.unwrap_or_else(|| "photographs".to_owned()),
            path: path.to_path_buf(),
            shots,
            by_hand,
            others,
        })
    }
}

/// The photographs of a folder, and by ending what else lies there.
fn listed(folder: &Path) -> Result<(Vec<PathBuf>, BTreeMap<String, usize>), PhotoError> {
    let said = |e: std::io::Error| PhotoError::Folder {
        folder: folder.display().to_string(),
        source_text: e.to_string(),
    };
    let (mut photographs, mut others) = (Vec::new(), BTreeMap::new());
    for entry in fs::read_dir(folder).map_err(said)? {
        let path = entry.map_err(said)?.path();
        let hidden = path
            .file_name()
            .is_some_and(|n| n.to_string_lossy().starts_with('.'));
        if hidden || path.is_dir() {
            continue;
        }
        let ending = path.extension().unwrap_or_default().to_string_lossy();
        let ending = ending.to_ascii_lowercase();
        if ENDINGS.contains(&ending.as_str()) {
            photographs.push(path);
        } else {
            *others.entry(ending).or_default() += 1;
        }
    }
    photographs.sort_by(|a, b| by_name(&a.to_string_lossy(), &b.to_string_lossy()));
    Ok((photographs, others))
}

/// `; it holds the folders kit-amber, kit-slate`, where it does.
fn folders_in(path: &Path) -> Option<String> {
    let all = fs::read_dir(path).ok()?.flatten();
    let folders = all.filter(|e| e.path().is_dir());
    let mut names: Vec<String> = folders
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names.truncate(4);
    (!names.is_empty()).then(|| format!("; it holds the folders {}", names.join(", ")))
}

/// `; it holds 12 × .cr2`, or nothing.
fn held(others: &BTreeMap<String, usize>) -> String {
    let named: Vec<String> = others
        .iter()
        .take(4)
        .map(|(ending, n)| match ending.as_str() {
            "" => format!("{n} files without an ending"),
            e => format!("{n} × .{e}"),
        })
        .collect();
    match named.is_empty() {
        true => String::new(),
        false => format!("; it holds {}", named.join(", ")),
    }
}

/// By name, where runs of digits count as the numbers they are: `IMG_9` comes
/// before `IMG_10`.
fn by_name(a: &str, b: &str) -> Ordering {
    let (mut a, mut b) = (a.as_bytes(), b.as_bytes());
    loop {
        match (a, b) {
            ([], []) => return Ordering::Equal,
            ([], _) => return Ordering::Less,
            (_, []) => return Ordering::Greater,
            ([x, ..], [y, ..]) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let ((m, rest_a), (n, rest_b)) = (number(a), number(b));
                let order = m.len().cmp(&n.len()).then_with(|| m.cmp(n));
                if order != Ordering::Equal {
                    return order;
                }
                (a, b) = (rest_a, rest_b);
            }
            ([x, rest_a @ ..], [y, rest_b @ ..]) => {
                if x != y {
                    return x.cmp(y);
                }
                (a, b) = (rest_a, rest_b);
            }
        }
    }
}

/// The digits that a text begins with, without noughts before them, and the rest.
fn number(text: &[u8]) -> (&[u8], &[u8]) {
    let end = text.iter().take_while(|c| c.is_ascii_digit()).count();
    let noughts = text[..end].iter().take_while(|c| **c == b'0').count();
    (&text[noughts..end], &text[end..])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_names_count_as_numbers() {
        let mut names = [
            "b_10.jpg",
            "b_9.jpg",
            "a.jpg",
            "b_009a.jpg",
            "b_100.jpg",
            "b.jpg",
        ];
        names.sort_by(|a, b| by_name(a, b));
        assert_eq!(
            names,
            [
                "a.jpg",
                "b.jpg",
                "b_9.jpg",
                "b_009a.jpg",
                "b_10.jpg",
                "b_100.jpg"
            ]
        );
    }

    #[test]
    fn a_folder_without_photographs_says_what_it_holds() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["a.cr2", "b.CR2", "notes.txt", ".hidden.jpg"] {
            fs::write(folder.path().join(name), "x").unwrap();
        }
        let said = Folder::open(folder.path()).unwrap_err().to_string();
        assert!(said.contains("it holds 2 × .cr2, 1 × .txt"), "{said}");
        for kit in ["kit-slate", "kit-amber"] {
            fs::create_dir(folder.path().join(kit)).unwrap();
        }
        let said = Folder::open(folder.path()).unwrap_err().to_string();
        assert!(
            said.contains("it holds the folders kit-amber, kit-slate"),
            "{said}"
        );
    }
}
