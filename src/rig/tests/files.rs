use super::super::*;
use super::{FULL, SMALL, faults, one, one_of};
use crate::written::Fault;

#[test]
fn all_faults_come_at_once_in_the_order_of_lines() {
    let all = faults("[trial]\nwindow_ms = 5\nhit_permille = 99\n[capture]\nfps = 0\n");
    let starts = [
        "rigs/counter.toml:1: name: is missing",
        "rigs/counter.toml:1: stimulus.kind: is missing",
        "rigs/counter.toml:2: trial.window_ms: is 5; give a number from 100 to 60000",
        "rigs/counter.toml:3: trial.hit_permille: is 99",
        "rigs/counter.toml:5: capture.fps: is 0",
    ];
    assert_eq!(all.len(), starts.len(), "{all:#?}");
    for (fault, start) in all.iter().zip(starts) {
        assert!(fault.starts_with(start), "{start} … {fault}");
    }
}

#[test]
fn unknown_keys_are_faults_with_the_nearest_known_key() {
    one(
        "trial.windw_ms = 900",
        3,
        "trial.windw_ms",
        "`trial.window_ms`",
    );
    one("window_ms = 900", 3, "window_ms", "`trial.window_ms`");
    one("iso = 100", 3, "iso", "known: name, capture.fps");
    one("[scren]\nfeed = true", 3, "scren", "not a known key");
    let segment = "capture.segments = [\n  { from_s = 0, fsp = 30.0, fps = 30.0 },\n]";
    one(
        segment,
        4,
        "capture.segments[0].fsp",
        "`capture.segments.fps`",
    );
    one(
        "[[cue]]\nname = 'a'\nkind = 'tone'\nsound = 1",
        6,
        "cue[0].sound",
        "not a known key",
    );
}

/// A megabyte of keys that nobody knows is told in a few lines, at once.
#[test]
fn the_first_faults_are_told_and_the_rest_counted() {
    let text: String = (0..60_000).map(|k| format!("key{k} = {k}\n")).collect();
    let begun = std::time::Instant::now();
    let faults = Rig::parse(&text, "r").unwrap_err().list;
    assert!(begun.elapsed().as_secs_f64() < 10.0);
    let lines: Vec<_> = faults.iter().take(20).map(|f| f.line.unwrap()).collect();
    assert_eq!(lines, Vec::from_iter(1..=20));
    assert_eq!(faults.len(), 21);
    assert!(rest(&faults) >= 59_980, "{}", faults[20]);
    // The same of what is no TOML at all.
    let faults = Rig::parse(&"= = =\n".repeat(100_000), "r").unwrap_err();
    assert_eq!(rest(&faults.list), 99_980);
    // Every one of these ends a pass through the file: not all are waited for.
    let begun = std::time::Instant::now();
    let text = "[[cue]]\nname = 7\nkind = 7\n".repeat(30_000);
    let faults = Rig::parse(&text, "r").unwrap_err().list;
    assert!(begun.elapsed().as_secs_f64() < 10.0);
    let last = faults[20].to_string();
    assert!(last.starts_with("r: has at least "), "{last}");
    assert!(faults.iter().take(20).all(|f| f.line.is_some()));
}

/// The faults that are only counted.
fn rest(faults: &[Fault]) -> usize {
    let last = faults[20].to_string();
    let n = last.strip_prefix("r: has ").and_then(|r| r.split_once(' '));
    n.unwrap_or_else(|| panic!("{last}")).0.parse().unwrap()
}

#[test]
fn wrong_types_are_named() {
    one(
        "capture.fps = \"240\"",
        3,
        "capture.fps",
        "is a string; give a number",
    );
    one("capture.fps = nan", 3, "capture.fps", "finite");
    one("capture.fps = 1e999", 3, "capture.fps", "finite");
    one(
        "capture.fps = 99999999999999999999",
        3,
        "capture.fps",
        "finite",
    );
    one("screen.feed = \"yes\"", 3, "screen.feed", "true or false");
    one("trial = 3", 3, "trial", "give a table");
    one_of("name = 'x'\nstimulus = 3", 2, "stimulus", "give a table");
    one("[cue]\nname = 'a'", 3, "cue", "list in square brackets");
    one("cue = [1]", 3, "cue[0]", "give a table");
    one(
        "screen.masks = 3",
        3,
        "screen.masks",
        "list in square brackets",
    );
    one_of(
        "name = 3\nstimulus.kind = 'tone'",
        1,
        "name",
        "text in quotes",
    );
    one_of("name = ' '\nstimulus.kind = 'tone'", 1, "name", "is empty");
    one_of(
        "name = \"a\\nb\"\nstimulus.kind = 'tone'",
        1,
        "name",
        "control",
    );
}

#[test]
fn broken_toml_is_named_by_line() {
    let all = faults("name = \"x\"\nstimulus.kind = swing\n");
    assert!(
        all[0].starts_with("rigs/counter.toml:2: stimulus.kind: not valid TOML"),
        "{all:?}"
    );
    let all = faults("name = \"x\"\nname = \"y\"\n");
    assert!(
        all[0].starts_with("rigs/counter.toml:2: name: not valid TOML"),
        "{all:?}"
    );
    let all = faults("name = \"x\n[[[\n");
    assert!(
        all[0].starts_with("rigs/counter.toml:1: name: not valid TOML"),
        "{all:?}"
    );
    assert!(!faults("").is_empty());
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_do_no_harm() {
    let text = format!("\u{feff}{}", FULL.replace('\n', "\r\n"));
    assert_eq!(
        Rig::parse(&text, "r").unwrap(),
        Rig::parse(FULL, "r").unwrap()
    );
}

#[test]
fn files_that_cannot_be_read_are_faults_too() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("rig.toml");
    let said = |path: &std::path::Path| Rig::read(path).unwrap_err().to_string();
    assert!(said(&path).contains("rig.toml: cannot be read ("));
    assert!(said(dir.path()).contains("cannot be read"));
    std::fs::write(&path, b"name = \"x\"\n# \xff\n").unwrap();
    assert!(said(&path).contains("rig.toml:2: is not UTF-8"));
    std::fs::write(&path, vec![b'#'; (1 << 20) + 1]).unwrap();
    assert!(said(&path).contains("longer than 1 MiB"));
    std::fs::write(&path, SMALL).unwrap();
    assert_eq!(Rig::read(&path).unwrap().name, "counter");
}

/// A key that is known but never read would be ignored in silence.
#[test]
fn every_known_key_is_really_read() {
    for key in super::super::keys::KEYS {
        let (section, name) = key.rsplit_once('.').unwrap_or(("", key));
        let text = match section {
            "" => format!("{name} = 1979-05-27"),
            "cue" => format!("[[cue]]\n{name} = 1979-05-27"),
            "capture.segments" => format!("[[{section}]]\n{name} = 1979-05-27"),
            _ => format!("[{section}]\n{name} = 1979-05-27"),
        };
        // A cue's other keys are only looked at once its kind is known.
        let kind = match *key {
            "cue.region" | "cue.color" => "\nkind = \"color\"",
            _ => "",
        };
        let all = faults(&format!("{text}{kind}"));
        let read = |f: &&String| f.contains(&format!("{name}: ")) && !f.contains("is missing");
        assert!(all.iter().any(|f| read(&f)), "{key}: {all:?}");
    }
}

proptest::proptest! {
    /// Whatever stands in a file, it is read or refused; nothing panics.
    #[test]
    fn damaged_files_never_panic(at in 0usize..900, cut in 0usize..40, with in "\\PC{0,12}") {
        let mut text: Vec<char> = FULL.chars().collect();
        let at = at.min(text.len());
        let end = (at + cut).min(text.len());
        text.splice(at..end, with.chars());
        let text: String = text.into_iter().collect();
        if let Err(faults) = Rig::parse(&text, "r") {
            proptest::prop_assert!(!faults.list.is_empty());
        }
        let _ = Session::parse(&text, "s", std::path::Path::new("nowhere"));
    }
}

/// `rigs/README.md` explains every key of both files, and its rig is a good one.
#[test]
fn the_readme_knows_every_key() {
    let readme = include_str!("../../../rigs/README.md");
    for key in super::super::keys::KEYS {
        let inside_list = key.starts_with("capture.segments.");
        let short = key.rsplit('.').next().unwrap_or(key);
        let wanted = if inside_list {
            format!("{short} = ")
        } else {
            format!("`{key}`")
        };
        assert!(readme.contains(&wanted), "{wanted}");
    }
    for key in super::super::read_session::KEYS {
        let name = key.trim_end_matches(".*").rsplit('.').next().unwrap_or(key);
        assert!(readme.contains(&format!("{name} = ")), "{name}");
    }
    let rig = readme
        .split("```toml\n")
        .nth(1)
        .and_then(|t| t.split("```").next());
    Rig::parse(rig.unwrap(), "rigs/README.md").unwrap_or_else(|e| panic!("{e}"));
}
