//! Real focal stacks played as trials: photographs of one subject at known
//! lens positions, shown on a screen, filmed, and timed through the command
//! line against a reference focused by hand.
//!
//! `cargo bench --bench stack -- --folder FOLDER... [--marker TEXT] [--high PX]...
//! [--disturb NAME] [--seed N] [--clips N] [--alone] [--found] [--delta N]...
//! [--binary PATH] [--keep FOLDER] [-v]`
//!
//! `FOLDER` holds photographs, the position after `--marker` in each name.
//! Very dark ones are left out, and the sharpest is the reference's place.
//! Per stack and height of the screen in the film (`--high`, px; 300 and 700)
//! eight clips of twelve trials, each framed a little differently, are one
//! setup with the first clip's corners (`--found`: with none); `--alone` times
//! every clip as a setup of its own, with its own corners and a reference in
//! its own framing; `--clips` takes the first few only, for a look. Two thirds
//! of the trials stop within 3 units of the reference's place, a sixth at least
//! 15 away, the others between. Films are rendered once with `--keep`. Seeds from
//! 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "stack/discs.rs"]
mod discs;
#[path = "stack/disturbed.rs"]
mod disturbed;
mod held;
#[path = "stack/scenes.rs"]
mod scenes;
#[path = "stack/score.rs"]
mod score;
#[path = "stack/ways.rs"]
mod ways;

use std::path::{Path, PathBuf};

use discs::Optics;
use held::table;
use held::tool::{Timed, Tool};
use scenes::{CLIPS, Clip};
use score::Score;

struct Request {
    folders: Vec<PathBuf>,
    marker: String,
    heights: Vec<f64>,
    disturb: String,
    seed: u64,
    clips: usize,
    alone: bool,
    found: bool,
    deltas: Vec<f64>,
    binary: Option<String>,
    keep: Option<String>,
    verbose: bool,
}

/// No folder: `cargo bench` alone runs every bench.
fn request() -> Request {
    let mut args = std::env::args().skip(1);
    let mut r = Request {
        folders: Vec::new(),
        marker: "_Z".to_owned(),
        heights: Vec::new(),
        disturb: "none".to_owned(),
        seed: 1,
        clips: CLIPS,
        alone: false,
        found: false,
        deltas: Vec::new(),
        binary: None,
        keep: None,
        verbose: false,
    };
    while let Some(a) = args.next() {
        let mut value = |what: &str| args.next().expect(what);
        match a.as_str() {
            "--folder" => {
                let folder = std::fs::canonicalize(value("FOLDER"));
                r.folders
                    .push(folder.expect("the folder of the photographs"));
            }
            "--marker" => r.marker = value("TEXT"),
            "--high" => r.heights.push(value("PX").parse().expect("--high PX")),
            "--disturb" => r.disturb = value("NAME"),
            "--seed" => r.seed = value("N").parse().expect("--seed N"),
            "--clips" => r.clips = value("N").parse().expect("--clips N"),
            "--alone" => r.alone = true,
            "--found" => r.found = true,
            "--delta" => r.deltas.push(value("N").parse().expect("--delta N")),
            "--binary" => r.binary = Some(value("PATH")),
            "--keep" => r.keep = Some(value("FOLDER")),
            "-v" => r.verbose = true,
            _ => {}
        }
    }
    if r.heights.is_empty() {
        r.heights = vec![300.0, 700.0];
    }
    if r.deltas.is_empty() {
        r.deltas = vec![4.0, 2.0];
    }
    r
}

fn main() {
    let request = request();
    if request.folders.is_empty() {
        println!("no --folder of photographs: nothing to play");
        return;
    }
    let tool = Tool::new(request.binary.as_ref());
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let kept = request.keep.as_ref().map_or(scratch.path(), Path::new);
    for folder in &request.folders {
        let optics = Optics::of(folder, &request.marker);
        let name = folder
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        println!("# {name}\n{optics}");
        for high in &request.heights {
            let title = format!("{name}-{high}-{}-{}", request.disturb, request.seed);
            println!("\n## {title}: screen {high} px high\n{}", table::head());
            let change = disturbed::change(&request.disturb);
            let clips = scenes::clips(&optics, *high, request.seed, change);
            set(&clips, &optics, (&tool, &request), &kept.join(title));
        }
    }
}

/// One stack at one height: filmed, timed, scored.
fn set(clips: &[Clip], optics: &Optics, (tool, request): (&Tool, &Request), folder: &Path) {
    std::fs::create_dir_all(folder).expect("a folder");
    let out = tempfile::tempdir().expect("a temporary folder");
    let mut all = Score::default();
    let (trials, rests) = clips.split_at(CLIPS);
    let trials = &trials[..request.clips.clamp(1, CLIPS)];
    if request.alone {
        for (clip, rest) in trials.iter().zip(rests) {
            let timed = time(clip, &[clip], rest, tool, request, (folder, out.path()));
            all.add(&tell(clip, &timed, optics, request));
        }
    } else {
        let every: Vec<&Clip> = trials.iter().collect();
        let rest = &rests[CLIPS];
        let timed = time(
            &trials[0],
            &every,
            rest,
            tool,
            request,
            (folder, out.path()),
        );
        if let Some(said) = &timed.said {
            println!("  {said}");
        }
        for clip in trials {
            all.add(&tell(clip, &timed, optics, request));
        }
    }
    println!("{}", all.lines().join("\n"));
}

/// Renders a clip that is not there yet.
fn film(clip: &Clip, folder: &Path) {
    let path = clip.path(folder);
    if !path.exists() {
        let part = folder.join(format!("part-{}.mp4", clip.name));
        focuslag::render::render(&clip.scene, Path::new("/"), &part, |_, _| ()).expect("a clip");
        std::fs::rename(&part, &path).expect("a clip");
    }
}

/// Times clips as one setup with the rig of `first`.
fn time(
    first: &Clip,
    clips: &[&Clip],
    rest: &Clip,
    tool: &Tool,
    request: &Request,
    (films, out): (&Path, &Path),
) -> Timed {
    let rig = out.join("rig.toml");
    std::fs::write(&rig, first.rig(!request.found)).expect("a rig");
    let films = std::fs::canonicalize(films).expect("the films");
    for clip in clips.iter().chain([&rest]) {
        film(clip, &films);
    }
    let paths: Vec<String> = clips
        .iter()
        .map(|c| format!("{:?}", c.path(&films)))
        .collect();
    let session = format!(
        "rig = \"rig.toml\"\n[[setup]]\nname = \"stack\"\nclips = [{}]\nreference = {:?}\n",
        paths.join(", "),
        rest.path(&films)
    );
    let path = out.join("session.toml");
    std::fs::write(&path, session).expect("a session");
    tool.session(&path, &["stack"], out).remove(0)
}

fn tell(clip: &Clip, timed: &Timed, optics: &Optics, request: &Request) -> Score {
    let file = format!("{}.mp4", clip.name);
    let found = timed.clips.iter().find(|c| c.file == file);
    let score = Score::of(clip, optics, found, &request.deltas);
    println!("{}", table::verdicts(&clip.name, &score.row));
    if request.verbose {
        println!("{}", score.row.lines.join("\n"));
    }
    score
}
