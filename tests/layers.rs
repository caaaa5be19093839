//! The rooms stand in a row, and each knows only what stands to its left.
//!
//! Reads every path written under `src/`, in code, attributes and macros, and
//! fails on an arrow that points back, on a second importer of a wrapped
//! crate, and on `render` knowing more of the analysis than it may.

#![expect(clippy::expect_used, reason = "a test may stop at the first surprise")]

#[path = "layers/rules.rs"]
mod rules;
#[path = "layers/scan.rs"]
mod scan;

use std::path::Path;

use rules::{complaints, encoder_names};
use scan::{Source, paths};

/// Every Rust file below `src/`, by its path from there.
fn sources() -> Vec<Source> {
    fn walk(folder: &Path, root: &Path, out: &mut Vec<Source>) {
        for entry in std::fs::read_dir(folder).expect("src is there") {
            let path = entry.expect("src can be listed").path();
            if path.is_dir() {
                walk(&path, root, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let name = path.strip_prefix(root).expect("below src");
                out.push(Source {
                    file: name.to_string_lossy().replace('\\', "/"),
                    text: std::fs::read_to_string(&path).expect("source is text"),
                });
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut out = Vec::new();
    walk(&root, &root, &mut out);
    out.sort_by(|a, b| a.file.cmp(&b.file));
    out
}

#[test]
fn every_arrow_points_to_the_right() {
    let sources = sources();
    assert!(sources.len() > 10, "the scanner found the sources");
    let encoder = encoder_names(&sources);
    let wrong: Vec<String> = sources
        .iter()
        .flat_map(|s| complaints(s, &encoder))
        .collect();
    assert!(wrong.is_empty(), "\n{}\n", wrong.join("\n"));
}

fn source(file: &str, text: &str) -> Source {
    Source {
        file: file.to_owned(),
        text: text.to_owned(),
    }
}

/// What a door of `clip` hands on.
fn door() -> Vec<String> {
    let text = "mod encode; mod open; pub use encode::{Encoder, EncodeSpec}; pub use open::Film;";
    encoder_names(&[source("clip/mod.rs", text)])
}

#[test]
fn a_bad_tree_is_seen_for_what_it_is() {
    let bad = [
        (
            "rig/mod.rs",
            "use crate::clip::Frame;",
            "rig must not know clip",
        ),
        (
            "clip/mod.rs",
            "use super::{units, trial::Trial};",
            "clip must not know trial",
        ),
        (
            "clip/a/b.rs",
            "fn f() { super::super::super::stats::mean() }",
            "clip must not know stats",
        ),
        (
            "units.rs",
            "mod tests { use super::super::geometry::Quad; }",
            "units must not know geometry",
        ),
        (
            "trial/mod.rs",
            "use crate::{units::Millis, store::{read}};",
            "trial must not know store",
        ),
        (
            "stats/mod.rs",
            "fn f() { println!(\"{}\", crate::report::text()) }",
            "stats must not know report",
        ),
        (
            "report/mod.rs",
            "use crate::render;",
            "report must not know render",
        ),
        (
            "render/mod.rs",
            "use crate::screen::Found;",
            "render must not know screen",
        ),
        (
            "render/mod.rs",
            "use crate::clip::ClipIndex;",
            "render must not know clip",
        ),
        (
            "render/mod.rs",
            "use crate::{clip::{Encoder, Film}};",
            "render must not know clip",
        ),
        ("trial/mod.rs", "use crate::*;", "trial takes in every room"),
        ("attic/mod.rs", "", "attic has no place in the row"),
        (
            "trial/mod.rs",
            "fn f(x: crate::attic::X) {}",
            "attic has no place in the row",
        ),
        (
            "screen/a.rs",
            "use ffmpeg_next as av;",
            "screen/a.rs must not import ffmpeg_next",
        ),
        (
            "trial/a.rs",
            "#[derive(clap::Parser)] struct A;",
            "must not import clap",
        ),
        (
            "cli/time.rs",
            "use ::indicatif::ProgressBar;",
            "must not import indicatif",
        ),
        (
            "stats/mod.rs",
            "extern crate hdrhistogram;",
            "must not import hdrhistogram",
        ),
    ];
    for (file, text, wanted) in bad {
        let found = complaints(&source(file, text), &door());
        assert_eq!(found.len(), 1, "{file}: {text}: {found:?}");
        assert!(found[0].contains(wanted), "{wanted} … {}", found[0]);
    }
}

#[test]
fn a_good_tree_passes() {
    let good = [
        (
            "trial/mod.rs",
            "use crate::{units::Millis, sharpness::Trace}; use super::trial::x;",
        ),
        (
            "clip/open.rs",
            "use ffmpeg_next as av; use super::error::ClipError;",
        ),
        (
            "clip/mod.rs",
            "//! crate::stats is not used.\n/* crate::stats */ const A: &str = \"crate::stats::x\";",
        ),
        (
            "render/film.rs",
            "use crate::clip::{encode::Film, EncodeSpec}; use crate::{geometry, units};",
        ),
        (
            "stats/histogram.rs",
            "use hdrhistogram::Histogram; use crate::store::schema::Trial;",
        ),
        (
            "store/read.rs",
            "use crate::stats::Summary; use super::schema;",
        ),
        ("cli/progress.rs", "use indicatif::ProgressBar;"),
        (
            "cli/mod.rs",
            "use clap::Parser; use crate::report; use crate::render;",
        ),
        ("main.rs", "fn main() { focuslag::cli::run() }"),
        (
            "rig/mod.rs",
            "fn f() { let clap = 3; other::clip::x(); self::fields::y() }",
        ),
    ];
    for (file, text) in good {
        let found = complaints(&source(file, text), &door());
        assert!(found.is_empty(), "{file}: {found:?}");
    }
}

#[test]
fn paths_are_resolved_to_the_crate() {
    let found = paths(&source(
        "clip/frame.rs",
        "use super::{a::B, c}; mod t { use super::super::d; }",
    ));
    let all: Vec<String> = found.iter().map(|p| p.join("::")).collect();
    assert_eq!(
        all,
        ["crate::clip::a::B", "crate::clip::c", "crate::clip::d"]
    );
}
