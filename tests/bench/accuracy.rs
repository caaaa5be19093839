//! Times rendered scenes whose truth is known and prints how far off the
//! machine was: wrong verdicts, settle and onset errors, coverage of the
//! stated uncertainty.
//!
//! `cargo bench --bench accuracy -- [--seed N] [--only TEXT] [--measure NAME]
//! [--sharpness 'KEY = VALUE'] [--trial 'KEY = VALUE'] [--keep FOLDER] [-v]`
//!
//! Seeds from 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "accuracy/scenes.rs"]
mod scenes;
#[path = "accuracy/score.rs"]
mod score;

use std::path::Path;

use focuslag::job::{Events, JobOptions, run};
use focuslag::render::render;
use focuslag::rig::{Rig, Session, Setup};
use focuslag::store::schema::Timing;

struct Silent;
impl Events for Silent {
    fn clip(&self, _: &str, _: u64) {}
    fn frames(&self, _: u64) {}
    fn clip_done(&self) {}
    fn warning(&self, _: &str) {}
}

struct Request {
    seed: u64,
    only: Option<String>,
    /// Lines put into `[sharpness]` and `[trial]`.
    sharpness: String,
    trial: String,
    verbose: bool,
    keep: Option<String>,
}

fn request() -> Request {
    let mut r = Request {
        seed: 1,
        only: None,
        sharpness: String::new(),
        trial: String::new(),
        verbose: false,
        keep: None,
    };
    let mut args = std::env::args().skip(1);
    while let Some(a) = args.next() {
        match a.as_str() {
            "--seed" => r.seed = args.next().and_then(|s| s.parse().ok()).expect("--seed N"),
            "--only" => r.only = args.next(),
            "--measure" => {
                let name = args.next().expect("--measure NAME");
                r.sharpness += &format!("measure = \"{name}\"\n");
            }
            "--sharpness" => {
                r.sharpness += &(args.next().expect("--sharpness 'key = value'") + "\n")
            }
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
    let mut all = score::Score::default();
    println!("{}", score::HEADER);
    for case in scenes::cases(request.seed) {
        if request
            .only
            .as_ref()
            .is_some_and(|o| !case.name.contains(o.as_str()))
        {
            continue;
        }
        let clip = folder.join(format!("{}-{}.mp4", case.name, request.seed));
        let truth = if clip.exists() {
            focuslag::render::foresee(&case.scene).expect("a truth")
        } else {
            render(&case.scene, folder, &clip, |_, _| ()).expect("a clip")
        };
        let timing = time(
            &case.rig(&truth, &request.sharpness, &request.trial),
            &clip,
            folder,
        );
        let score = score::Score::of(&truth, &timing, request.verbose);
        println!("{}", score.row(&case.name));
        all.add(score);
    }
    println!("{}", all.row("all"));
}

fn time(rig: &str, clip: &Path, folder: &Path) -> Timing {
    let rig = Rig::parse(rig, "rig").expect("a rig");
    let session = Session {
        setups: vec![Setup {
            name: "kit-amber".to_owned(),
            tags: Default::default(),
            clips: vec![clip.to_path_buf()],
            rig,
            rig_file: "rig".into(),
            reference: None,
        }],
        excludes: Vec::new(),
        warnings: Vec::new(),
    };
    let options = JobOptions {
        out: folder.to_path_buf(),
        force: true,
        stdin: None,
        workers: 2,
    };
    let mut done = run(&session, &options, &Silent).expect("a sound request");
    for f in &done.failures {
        println!("  {f}");
    }
    done.written.remove(0).1
}
