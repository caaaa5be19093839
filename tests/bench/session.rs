//! Sessions as people film them: two setups of three to five clips, the stand
//! put up again between clips, timed and compared through the command line.
//!
//! `cargo bench --bench session -- [--kind swing|light]... [--seed N]
//! [--sessions N] [--trials N] [--still] [--reshuffles N] [--delta N]... [--binary PATH]
//! [--keep FOLDER] [-v]`
//!
//! The second setup reacts 45 ms later than the first. Every session is timed
//! with and without references focused by hand, with the rig of its first clip
//! (`--still`: all clips framed alike). Counted: verdicts, close calls, whether
//! the intervals of the differences hold the drawn ones. Then same against
//! same: the clips of a setup, over all sessions of a kind, are dealt into two
//! setups again and again, and differences shown are false alarms. Seeds from
//! 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "session/alarms.rs"]
mod alarms;
#[path = "session/differences.rs"]
mod differences;
#[path = "session/films.rs"]
mod films;
mod held;
#[path = "session/scenes.rs"]
mod scenes;

use std::path::{Path, PathBuf};

use focuslag::render::scene::Stimulus;

use differences::Held;
use held::row::Row;
use held::table;
use held::tool::{Timed, Tool, timing_path};
use held::truth::Film;
use scenes::Session;

struct Request {
    kinds: Vec<String>,
    seed: u64,
    sessions: u64,
    trials: usize,
    still: bool,
    reshuffles: usize,
    deltas: Vec<f64>,
    binary: Option<String>,
    keep: Option<String>,
    verbose: bool,
}

/// None unless asked for: `cargo bench` alone runs every bench, and this one
/// renders for minutes.
fn request() -> Option<Request> {
    let mut args = std::env::args().skip(1);
    let mut r = Request {
        kinds: Vec::new(),
        seed: 1,
        sessions: 2,
        trials: scenes::TRIALS,
        still: false,
        reshuffles: 1000,
        deltas: Vec::new(),
        binary: None,
        keep: None,
        verbose: false,
    };
    let mut asked = false;
    while let Some(a) = args.next() {
        asked |= a == "--bench";
        let mut value = |what: &str| args.next().expect(what);
        let mut count = |what: &str| value(what).parse::<u64>().expect("a number");
        match a.as_str() {
            "--seed" => r.seed = count("--seed N"),
            "--sessions" => r.sessions = count("--sessions N"),
            "--trials" => r.trials = count("--trials N") as usize,
            "--reshuffles" => r.reshuffles = count("--reshuffles N") as usize,
            "--delta" => r.deltas.push(count("--delta N") as f64),
            "--kind" => r.kinds.push(value("swing | light")),
            "--still" => r.still = true,
            "--binary" => r.binary = Some(value("PATH")),
            "--keep" => r.keep = Some(value("FOLDER")),
            "-v" => r.verbose = true,
            _ => {}
        }
    }
    if r.kinds.is_empty() {
        r.kinds = ["swing", "light"].map(str::to_owned).into();
    }
    if r.deltas.is_empty() {
        r.deltas = vec![2.0];
    }
    asked.then_some(r)
}

fn main() {
    let Some(request) = request() else {
        println!("run with: cargo bench --bench session");
        return;
    };
    let tool = Tool::new(request.binary.as_ref());
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let kept = request.keep.as_ref().map_or(scratch.path(), Path::new);
    for kind in &request.kinds {
        let stimulus = if kind == "light" {
            Stimulus::Light
        } else {
            Stimulus::Swing
        };
        let seeds = request.seed..request.seed + request.sessions;
        let sessions: Vec<Session> = seeds
            .map(|s| scenes::session(stimulus, s, request.trials, !request.still))
            .collect();
        for by_hand in [true, false] {
            let how = if by_hand {
                "references by hand"
            } else {
                "no references"
            };
            println!("\n## {kind}, {how}\n{}", table::head());
            let (mut all, mut held) = (Row::default(), Held::default());
            let mut pool = Vec::new();
            for session in &sessions {
                let timed = run(session, by_hand, (&tool, &request), kept);
                all.add(&timed.row);
                held.add(&timed.held);
                pool.extend(timed.first);
            }
            println!("{}", table::verdicts("all", &all));
            println!("{}", table::onsets(&all).join("\n"));
            println!("{}", table::settles(&all).join("\n"));
            println!("{}", held.lines().join("\n"));
            println!("{}", alarms::line(&pool, request.reshuffles, request.seed));
        }
    }
}

/// A session timed and compared.
struct Scored {
    row: Row,
    held: Held,
    /// The timing file of its first setup.
    first: Option<serde_json::Value>,
}

fn run(
    session: &Session,
    by_hand: bool,
    (tool, request): (&Tool, &Request),
    kept: &Path,
) -> Scored {
    let folder = kept.join(&session.name);
    std::fs::create_dir_all(&folder).expect("a folder");
    let folder = std::fs::canonicalize(folder).expect("a folder");
    let out = tempfile::tempdir().expect("a temporary folder");
    let text = written(session, by_hand, &folder);
    let path = out.path().join("session.toml");
    std::fs::write(
        out.path().join("rig.toml"),
        scenes::rig(&session.setups[0].clips[0]),
    )
    .expect("a rig");
    std::fs::write(&path, text).expect("a session");
    let names: Vec<&str> = session.setups.iter().map(|s| s.name.as_str()).collect();
    let mut timed = tool.session(&path, &names, out.path());
    let (mut all, mut films) = (Row::default(), Vec::new());
    for (setup, timed) in session.setups.iter().zip(&timed) {
        let mine: Vec<Film> = setup
            .clips
            .iter()
            .map(|c| held::rendered::truth(&films::film(c, &folder)))
            .collect();
        for film in &mine {
            all.add(&tell(&session.name, film, timed, request));
        }
        films.push(mine);
    }
    let files: Vec<PathBuf> = names.iter().map(|n| timing_path(out.path(), n)).collect();
    let held = match tool.compare(&files) {
        Ok(compared) => Held::of(&compared, &films),
        Err(said) => {
            println!("  {}: no comparison: {}", session.name, said.trim());
            Held::default()
        }
    };
    Scored {
        row: all,
        held,
        first: timed.swap_remove(0).timing,
    }
}

fn tell(session: &str, film: &Film, timed: &Timed, request: &Request) -> Row {
    let file = format!("{}.mp4", film.name);
    let found = timed.clips.iter().find(|c| c.file == file);
    let row = Row::of(film, found, &request.deltas);
    println!(
        "{}",
        table::verdicts(&format!("{session} {}", film.name), &row)
    );
    if request.verbose {
        println!("{}", row.lines.join("\n"));
    }
    row
}

/// The session file; films are made that are not there yet.
fn written(session: &Session, by_hand: bool, folder: &Path) -> String {
    let mut text = String::from("rig = \"rig.toml\"\n");
    for setup in &session.setups {
        let quoted = |c| format!("{:?}", films::film(c, folder));
        let clips: Vec<String> = setup.clips.iter().map(quoted).collect();
        text += &format!(
            "[[setup]]\nname = {:?}\nclips = [{}]\n",
            setup.name,
            clips.join(", ")
        );
        let hands: Vec<String> = setup.by_hand.iter().map(quoted).collect();
        if by_hand && session.stimulus == Stimulus::Light {
            text += &format!("reference = {}\n", hands[0]);
        } else if by_hand {
            text += &format!(
                "reference = {{ near = {}, far = {} }}\n",
                hands[0], hands[1]
            );
        }
    }
    text
}
