//! Times rendered scenes whose truth is known and prints how far off the
//! machine was: wrong verdicts, settle and onset errors, coverage of the
//! stated uncertainty.
//!
//! `cargo bench --bench accuracy -- [--seed N] [--only TEXT] [--trial 'KEY = VALUE']
//! [--keep FOLDER] [-v]`
//!
//! Seeds from 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "played.rs"]
mod played;
#[path = "accuracy/scenes.rs"]
mod scenes;

use std::path::Path;

use focuslag::prove::{self, Row, Score, Trouble};
use focuslag::rig::Rig;

struct Request {
    seed: u64,
    only: Option<String>,
    /// Lines put into `[trial]`.
    trial: String,
    verbose: bool,
    keep: Option<String>,
}

fn request() -> Request {
    let mut r = Request {
        seed: 1,
        only: None,
        trial: String::new(),
        verbose: false,
        keep: None,
    };
    let mut args = std::env::args().skip(1);
    while let Some(a) = args.next() {
        match a.as_str() {
            "--seed" => r.seed = args.next().and_then(|s| s.parse().ok()).expect("--seed N"),
            "--only" => r.only = args.next(),
            "--trial" => r.trial += &(args.next().expect("--trial 'key = value'") + "\n"),
            "--keep" => r.keep = args.next(),
            "-v" => r.verbose = true,
            _ => {}
        }
    }
    r
}

fn main() {
    let request = request();
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let folder = request.keep.as_ref().map_or(scratch.path(), Path::new);
    std::fs::create_dir_all(folder).expect("a folder");
    let mut all = Score::default();
    println!("{}", line(&prove::HEAD.map(|h| h.replace('\n', " "))));
    for case in scenes::cases(request.seed) {
        if request
            .only
            .as_ref()
            .is_some_and(|o| !case.name.contains(o.as_str()))
        {
            continue;
        }
        let truth = focuslag::render::foresee(&case.scene).expect("a truth");
        let rig = case.rig(&truth, &request.trial);
        let named = prove::Case {
            name: format!("{}-{}-{}", case.name, request.seed, scenes::SET),
            trouble: Trouble::None,
            scene: case.scene,
            rig: Rig::parse(&rig, "rig").expect("a rig"),
        };
        let truth = prove::play(&named, folder, |_, _| ()).expect("a clip");
        let score = prove::measure(&named, &named.rig, &truth, folder).expect("a result");
        if request.verbose {
            println!("{}", score.lines.join("\n"));
        }
        println!("{}", line(&prove::cells(&Row::of(&case.name, &score))));
        all.add(&score);
    }
    println!("{}", line(&prove::cells(&Row::of("all", &all))));
}

/// Columns of one width, the first of another.
fn line(cells: &[String]) -> String {
    let rest: String = cells[1..].iter().map(|c| format!(" {c:>16}")).collect();
    format!("{:<20}{rest}", cells[0])
}
