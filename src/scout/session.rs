//! Several clips to a session: which belong to one setup, by their names.
//!
//! In: paths of clips, and what a draft of a setup's first clip gave. Out: the
//! text of a session file.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use crate::beside::folder_of;
use crate::names::{plain, toml};

/// Clips that are taken for one setup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// Their names without the number at the end.
    pub name: String,
    /// In the order of their names.
    pub clips: Vec<PathBuf>,
}

/// The clips by name: `amber-1.mp4` and `amber-2.mp4` are `amber`.
pub fn groups(clips: &[PathBuf]) -> Vec<Group> {
    let mut sorted: Vec<&PathBuf> = clips.iter().collect();
    sorted.sort();
    sorted.dedup();
    let mut out: Vec<Group> = Vec::new();
    for clip in sorted {
        let name = name_of(clip);
        match out.iter_mut().find(|g| g.name == name) {
            Some(group) => group.clips.push(clip.clone()),
            None => out.push(Group {
                name,
                clips: vec![clip.clone()],
            }),
        }
    }
    out
}

fn name_of(clip: &Path) -> String {
    let stem = clip.file_stem().unwrap_or(clip.as_os_str());
    let stem = stem.to_string_lossy();
    let plain = stem
        .trim_end_matches(|c: char| c.is_ascii_digit())
        .trim_end_matches(['-', '_', ' ', '.', '(']);
    if plain.is_empty() {
        stem.into_owned()
    } else {
        plain.to_owned()
    }
}

/// A setup as it stands in the session file.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Name and clips.
    pub group: Group,
    /// Its rig file, where it is not the session's.
    pub rig: Option<PathBuf>,
    /// Why it is no setup: nothing starts a trial in it, say.
    pub left_out: Option<String>,
}

/// The session file at `file` with `rig` for all setups but those with their
/// own.
pub fn session_toml(file: &Path, rig: &Path, entries: &[Entry]) -> String {
    let folder = folder_of(file);
    let mut out = String::from(
        "# Drafted by `focuslag scout` from the clips' names. Check which clips belong to\n\
         # which setup, and call the setups as you like.\n",
    );
    let _ = writeln!(out, "rig = {}", toml(&from(folder, rig)));
    let mut left_out = Vec::new();
    for e in entries {
        let clips: Vec<String> = e.group.clips.iter().map(|c| from(folder, c)).collect();
        if let Some(why) = &e.left_out {
            left_out.push((clips, why));
            continue;
        }
        out.push('\n');
        let _ = writeln!(out, "[[setup]]\nname = {}", toml(&plain(&e.group.name)));
        if let Some(own) = &e.rig {
            let _ = writeln!(out, "rig = {}", toml(&from(folder, own)));
        }
        let list: Vec<String> = clips.iter().map(|c| toml(c)).collect();
        let _ = writeln!(out, "clips = [{}]", list.join(", "));
    }
    out.push_str(&by_hand(&left_out));
    out
}

/// What is said of clips that are no setup: perhaps they were focused by hand.
fn by_hand(left_out: &[(Vec<String>, &String)]) -> String {
    let mut out = String::new();
    for (clips, why) in left_out {
        let _ = write!(out, "\n# {}: {}.", plain(&clips.join(", ")), plain(why));
    }
    let mut clips = left_out
        .iter()
        .flat_map(|(clips, _)| clips)
        .map(|c| toml(c));
    let Some(near) = clips.next() else {
        return out;
    };
    let far = clips.next().unwrap_or("\"CLIP\"".to_owned());
    let _ = writeln!(
        out,
        "\n# Clips that were focused by hand are the reference of the setups that they belong to:\n\
         # write under each of these (near: it shows the target; far: the background)\n\
         #   reference = {{ near = {near}, far = {far} }}"
    );
    out
}

/// A path as seen from the session's folder, with `/`.
fn from(folder: &Path, path: &Path) -> String {
    let absolute = |p: &Path| std::path::absolute(p).unwrap_or_else(|_| p.to_path_buf());
    let seen = pathdiff::diff_paths(absolute(path), absolute(folder));
    let seen = seen.unwrap_or_else(|| path.to_path_buf());
    let text = seen.display().to_string();
    if std::path::MAIN_SEPARATOR == '\\' {
        text.replace('\\', "/")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clips_are_grouped_by_their_names_without_the_number() {
        let clips = [
            "b/slate_2.mov",
            "a/amber-10.mp4",
            "a/amber-2.mp4",
            "2024.mp4",
        ];
        let found = groups(&clips.map(PathBuf::from)).into_iter();
        let names: Vec<(String, usize)> = found.map(|g| (g.name, g.clips.len())).collect();
        let want = [("2024", 1), ("amber", 2), ("slate", 1)];
        assert_eq!(names, want.map(|(name, n)| (name.to_owned(), n)));
    }

    #[test]
    fn a_session_reads_as_toml_whatever_names_hold() {
        let entry = |name: &str, left_out: Option<&str>| Entry {
            group: Group {
                name: name.to_owned(),
                clips: vec![PathBuf::from(format!("clips/{name}.mp4"))],
            },
            rig: None,
            left_out: left_out.map(str::to_owned),
        };
        let entries = [
            entry("kit \"amber\"\n", None),
            entry("card", Some("nothing\nmoves")),
            entry("x\n[[setup]]\nname = 'forged'\n#", Some("nothing moves")),
        ];
        let text = session_toml(Path::new("s.toml"), Path::new("rig.toml"), &entries);
        let value: toml::Table = text.parse().unwrap();
        let setups = value["setup"].as_array().unwrap();
        assert_eq!(setups.len(), 1, "{text}");
        assert_eq!(setups[0]["name"].as_str(), Some("kit \"amber\"·"));
        assert_eq!(value["rig"].as_str(), Some("rig.toml"));
    }
}
