//! A real focal stack played as trials: photographs of one subject at known
//! lens positions, shown on a screen, filmed and timed, with the table that
//! `matrix` prints.
//!
//! `cargo bench --bench stack -- --folder FOLDER [--marker TEXT] [--focus Z]
//! [--ends A,B] [--seed N] [--only TEXT] [--measure NAME]... [--keep FOLDER] [-v]`
//!
//! `FOLDER` holds the photographs, the position after `--marker` in each name.
//! First it is said how the subject's blur grows with the position: real optics
//! against the disc that `render` draws. Seeds from 1000 on have never been
//! tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "stack/discs.rs"]
mod discs;
#[path = "played.rs"]
mod played;
#[path = "stack/scenes.rs"]
mod scenes;

use std::path::{Path, PathBuf};

use focuslag::prove::{self, Case, Row, Score, Trouble, Watch};
use focuslag::rig::{MeasureSpec, Rig};

struct Silent;
impl Watch for Silent {
    fn rendered(&self, _: u64, _: u64) {}
}

struct Request {
    stack: scenes::Request,
    only: Option<String>,
    measures: Vec<String>,
    keep: Option<String>,
    verbose: bool,
}

/// None where no folder is given: `cargo bench` alone runs every bench.
fn request() -> Option<Request> {
    let mut args = std::env::args().skip(1);
    let mut folder = None;
    let mut r = Request {
        stack: scenes::Request {
            folder: PathBuf::new(),
            marker: "_Z".to_owned(),
            focus: None,
            ends: [20.0, -105.0],
            seed: 1,
        },
        only: None,
        measures: Vec::new(),
        keep: None,
        verbose: false,
    };
    while let Some(a) = args.next() {
        let mut value = |what: &str| args.next().expect(what);
        match a.as_str() {
            "--folder" => folder = Some(value("FOLDER")),
            "--marker" => r.stack.marker = value("TEXT"),
            "--focus" => r.stack.focus = value("Z").parse().ok(),
            "--ends" => {
                let both = value("A,B");
                let (a, b) = both.split_once(',').expect("--ends A,B");
                r.stack.ends = [a.parse().expect("a number"), b.parse().expect("a number")];
            }
            "--seed" => r.stack.seed = value("N").parse().expect("--seed N"),
            "--only" => r.only = Some(value("TEXT")),
            "--measure" => r.measures.push(value("NAME")),
            "--keep" => r.keep = Some(value("FOLDER")),
            "-v" => r.verbose = true,
            _ => {}
        }
    }
    r.stack.folder = std::fs::canonicalize(folder?).expect("the folder of the photographs");
    Some(r)
}

fn main() {
    let Some(request) = request() else {
        println!("no --folder of photographs: nothing to play");
        return;
    };
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let folder = request.keep.as_ref().map_or(scratch.path(), Path::new);
    std::fs::create_dir_all(folder).expect("a folder");
    let optics = discs::Optics::of(&request.stack);
    println!("{optics}");
    let named = |m: &MeasureSpec| {
        request.measures.is_empty() || request.measures.iter().any(|n| n == m.name())
    };
    let measures: Vec<MeasureSpec> = MeasureSpec::all().into_iter().filter(named).collect();
    let mut sums = vec![Score::default(); measures.len()];
    println!("{}", line(&prove::HEAD.map(|h| h.replace('\n', " "))));
    for case in scenes::cases(&request.stack, &optics) {
        let only = request.only.as_ref();
        if only.is_some_and(|o| !case.name.contains(o.as_str())) {
            continue;
        }
        let truth = focuslag::render::foresee(&case.scene).expect("a truth");
        let rig = Rig::parse(&case.rig(&truth, "", ""), "rig").expect("a rig");
        let named = Case {
            name: format!("{}-{}", case.name, request.stack.seed),
            trouble: Trouble::None,
            scene: case.scene,
            rig,
        };
        let truth = prove::play(&named, folder, &Silent).expect("a clip");
        for (measure, sum) in measures.iter().zip(&mut sums) {
            let rig = Rig {
                measure: *measure,
                ..named.rig.clone()
            };
            let score = prove::measure(&named, &rig, &truth, folder).expect("a result");
            if request.verbose {
                println!("{}", score.lines.join("\n"));
            }
            let name = format!("{} {}", case.name, measure.name());
            println!("{}", line(&prove::cells(&Row::of(&name, &score))));
            sum.add(&score);
        }
    }
    for (measure, sum) in measures.iter().zip(&sums) {
        let name = format!("all {}", measure.name());
        println!("{}", line(&prove::cells(&Row::of(&name, sum))));
    }
}

/// Columns of one width, the first of another.
fn line(cells: &[String]) -> String {
    let rest: String = cells[1..].iter().map(|c| format!(" {c:>16}")).collect();
    format!("{:<30}{rest}", cells[0])
}
