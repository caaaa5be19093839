//! Who may know whom.

use crate::scan::{Source, paths};

/// The row, left to right. `schema` (the records of the timing file) stands
/// apart from the rest of `store`, because `trial` and `stats` work on these
/// records.
const ROW: &[&str] = &[
    "beside",
    "names",
    "units",
    "ranked",
    "geometry",
    "limits",
    "written",
    "rig",
    "clip",
    "screen",
    "sharpness",
    "schema",
    "trial",
    "stats",
    "plan",
    "card",
    "store",
    "photo",
    "job",
    "scout",
    "report",
    "render",
    "prove",
    "cli",
    "root",
];

/// Crates that only one place may import, and that place.
const WRAPPED: &[(&str, &[&str])] = &[
    ("ffmpeg_next", &["clip/"]),
    ("ffmpeg_sys_next", &["clip/"]),
    ("clap", &["cli/"]),
    ("clap_complete", &["cli/"]),
    ("clap_mangen", &["cli/"]),
    ("indicatif", &["cli/progress.rs"]),
    ("ctrlc", &["cli/interrupt.rs"]),
    ("npyz", &["store/signals/"]),
    ("hdrhistogram", &["stats/histogram.rs"]),
    ("pdf_writer", &["card/"]),
    ("exif", &["photo/exif.rs"]),
];

/// Rooms that `render` may know. Of `clip` it may know the encoder alone: its
/// films must not agree with the analysis by sharing its code.
const RENDER_KNOWS: &[&str] = &["beside", "names", "units", "geometry", "written"];

/// The names that the door of `clip` hands on from its encoder.
pub fn encoder_names(sources: &[Source]) -> Vec<String> {
    let door = sources.iter().filter(|s| s.file == "clip/mod.rs");
    door.flat_map(paths)
        .filter_map(|path| {
            let stem = path
                .iter()
                .find(|n| !["crate", "clip"].contains(&n.as_str()))?;
            let name = path.last()?;
            (stem.starts_with("encode") && name != stem).then(|| name.clone())
        })
        .collect()
}

/// What a file does against the rules, in words.
pub fn complaints(source: &Source, encoder: &[String]) -> Vec<String> {
    let file = &source.file;
    let here = room(&file.trim_end_matches(".rs").split('/').collect::<Vec<_>>());
    let mut out = Vec::new();
    if place(here).is_none() {
        out.push(unplaced(file, here));
        return out;
    }
    for path in paths(source) {
        let names: Vec<&str> = path.iter().map(String::as_str).collect();
        let complaint = match names.as_slice() {
            ["crate", rest @ ..] => inside(file, here, rest, encoder),
            [first, ..] => outside(file, first),
            [] => None,
        };
        out.extend(complaint);
    }
    out.dedup();
    out
}

/// The room of a path from the crate's top.
fn room<'a>(names: &[&'a str]) -> &'a str {
    match names {
        ["store", "schema", ..] => "schema",
        ["lib" | "main"] | [] => "root",
        [first, ..] => first,
    }
}

fn place(room: &str) -> Option<usize> {
    ROW.iter().position(|r| *r == room)
}

fn unplaced(file: &str, room: &str) -> String {
    format!("{file}: {room} has no place in the row; give it one in tests/layers/rules.rs")
}

fn inside(file: &str, here: &str, names: &[&str], encoder: &[String]) -> Option<String> {
    let there = room(names);
    if here == "root" || here == there || there == "root" {
        return None;
    }
    if there == "*" {
        return Some(format!(
            "{file}: {here} takes in every room with a star; name what it needs"
        ));
    }
    // A macro or a type that lives at the top of the crate is in no room.
    let Some(right) = place(there) else {
        return Some(unplaced(file, there));
    };
    let known = match here {
        "render" => render_knows(names, encoder),
        _ => Some(right) < place(here),
    };
    (!known).then(|| {
        format!(
            "{file}: {here} must not know {there} (crate::{})",
            names.join("::")
        )
    })
}

fn render_knows(names: &[&str], encoder: &[String]) -> bool {
    match names {
        ["clip", name, ..] => name.starts_with("encode") || encoder.iter().any(|e| e == name),
        [room, ..] => RENDER_KNOWS.contains(room),
        [] => false,
    }
}

fn outside(file: &str, name: &str) -> Option<String> {
    let (_, homes) = WRAPPED.iter().find(|(krate, _)| *krate == name)?;
    let home = homes
        .iter()
        .any(|h| file == *h || (h.ends_with('/') && file.starts_with(h)));
    (!home).then(|| {
        format!(
            "{file} must not import {name}; its home is src/{}",
            homes.join(" or src/")
        )
    })
}
