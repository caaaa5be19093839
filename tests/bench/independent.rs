//! Films made by another hand, with another generator, timed through the
//! command line and held against their lens.
//!
//! `cargo bench --bench independent -- --folder FOLDER [--only TEXT]
//! [--binary PATH] [--delta N]... [-v]`
//!
//! `FOLDER` holds clips with `NAME.truth.json` and `NAME.ideal.npz` beside
//! them. Every clip is timed alone with its true rig; the clips of a setup,
//! framed differently, also as one setup with the first one's rig, and with no
//! corners at all. A settle is held against the δ its trial states; where it
//! states none, against each `--delta` (‰; 4 and 2).

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "independent/difference.rs"]
mod difference;
#[path = "independent/films.rs"]
mod films;
mod held;

use std::path::{Path, PathBuf};

use difference::Latencies;
use films::Clip;
use held::row::Row;
use held::table;
use held::tool::{Timed, Tool};

struct Request {
    folder: PathBuf,
    only: Option<String>,
    binary: Option<String>,
    deltas: Vec<f64>,
    verbose: bool,
}

/// None where no folder is given: `cargo bench` alone runs every bench.
fn request() -> Option<Request> {
    let mut args = std::env::args().skip(1);
    let mut folder = None;
    let mut r = Request {
        folder: PathBuf::new(),
        only: None,
        binary: None,
        deltas: Vec::new(),
        verbose: false,
    };
    while let Some(a) = args.next() {
        let mut value = |what: &str| args.next().expect(what);
        match a.as_str() {
            "--folder" => folder = Some(value("FOLDER")),
            "--only" => r.only = Some(value("TEXT")),
            "--binary" => r.binary = Some(value("PATH")),
            "--delta" => r.deltas.push(value("N").parse().expect("--delta N")),
            "-v" => r.verbose = true,
            _ => {}
        }
    }
    if r.deltas.is_empty() {
        r.deltas = vec![4.0, 2.0];
    }
    r.folder = std::fs::canonicalize(folder?).expect("the folder of the films");
    Some(r)
}

fn main() {
    let Some(request) = request() else {
        println!("no --folder of films: nothing to time");
        return;
    };
    let tool = Tool::new(request.binary.as_ref());
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let only = request.only.as_deref().unwrap_or("");
    let mut clips = films::all(&request.folder);
    clips.retain(|c| c.film.name.contains(only));
    println!("## Each clip alone, true rig\n{}", table::head());
    let mut all = Row::default();
    for clip in &clips {
        let name = &clip.film.name;
        let paths = [clip.path.clone()];
        let timed = tool.time(&clip.rig(true), name, &paths, scratch.path());
        let row = score(&[clip], &timed, &request);
        println!("{}", table::verdicts(name, &row));
        tell(&row, &timed, &request);
        all.add(&row);
    }
    sum("all", &all);
    for (title, corners) in [
        ("rig of the first clip", true),
        ("no corners in the rig", false),
    ] {
        println!("\n## Clips of a setup together, {title}\n{}", table::head());
        setups(&clips, corners, (&tool, &request), scratch.path());
    }
}

/// The clips of each setup as one; then the setups against each other.
fn setups(clips: &[Clip], corners: bool, (tool, request): (&Tool, &Request), folder: &Path) {
    let mut all = Row::default();
    let (mut found, mut drawn) = (Vec::new(), Vec::new());
    for setup in ["A", "B"] {
        let mine: Vec<&Clip> = clips
            .iter()
            .filter(|c| c.setup.as_deref() == Some(setup))
            .collect();
        let Some(first) = mine.first() else { return };
        let paths: Vec<PathBuf> = mine.iter().map(|c| c.path.clone()).collect();
        let timed = tool.time(&first.rig(corners), setup, &paths, folder);
        for clip in &mine {
            let row = score(&[clip], &timed, request);
            println!("{}", table::verdicts(&clip.film.name, &row));
            tell(&row, &timed, request);
            all.add(&row);
        }
        found.push(Latencies::found(&timed.clips));
        let films: Vec<_> = mine.iter().map(|c| &c.film).collect();
        let of = |label: &String| Latencies::drawn(&films, &timed.clips, &request.deltas, label);
        drawn.push(
            labels(&timed, request)
                .map(|l| (of(&l), l))
                .collect::<Vec<_>>(),
        );
    }
    sum("A and B", &all);
    for ((a, label), (b, _)) in drawn[0].iter().zip(&drawn[1]) {
        let lines = difference::lines(label, [&found[0], &found[1]], [a, b]);
        println!("{}", lines.join("\n"));
    }
}

/// What the δ of a run are called.
fn labels(timed: &Timed, request: &Request) -> impl Iterator<Item = String> {
    let first = timed.clips.iter().flat_map(|c| &c.trials).next();
    let stated = first
        .and_then(|t| t.delta_permille)
        .map(|_| vec!["stated".to_owned()]);
    let asked = || request.deltas.iter().map(f64::to_string).collect();
    stated.unwrap_or_else(asked).into_iter()
}

fn score(clips: &[&Clip], timed: &Timed, request: &Request) -> Row {
    let mut row = Row::default();
    for clip in clips {
        let file = clip.path.file_name().and_then(|n| n.to_str());
        let found = timed.clips.iter().find(|c| Some(c.file.as_str()) == file);
        let own = Row::of(&clip.film, found, &request.deltas);
        row.add(&own);
        row.lines.extend(own.lines);
    }
    row
}

fn tell(row: &Row, timed: &Timed, request: &Request) {
    if let Some(said) = &timed.said {
        println!("  {said}");
    }
    if request.verbose {
        println!("{}", row.lines.join("\n"));
    }
}

fn sum(name: &str, row: &Row) {
    println!("{}", table::verdicts(name, row));
    println!("{}", table::onsets(row).join("\n"));
    println!("{}", table::settles(row).join("\n"));
}
