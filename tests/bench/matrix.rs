//! The accuracy matrix: disturbance × content × rates, on scenes with known
//! truth.
//!
//! `cargo bench --bench matrix -- [--quick] [--seed N] [--only TEXT]
//! [--trial 'KEY = VALUE']... [--photographs FOLDER] [--keep FOLDER] [-v]`
//!
//! Each disturbance alone and all together, at capture rates of 60 (a feed),
//! 120, 240 and 480 frames per second and screens of 30, 60, 100 and 120 Hz in
//! turn. Photographs are looked for in packages that carry some (see `photographs.rs`), or taken from a folder.
//! Seeds from 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "matrix/photographs.rs"]
mod photographs;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use focuslag::prove::{self, Bed, Case, Content, Row, Score, Trouble};
use focuslag::rig::Rig;

struct Request {
    seed: u64,
    quick: bool,
    only: Option<String>,
    /// Lines put into `[trial]`.
    trial: String,
    photographs: Option<String>,
    keep: Option<String>,
    verbose: bool,
}

fn request() -> Request {
    let mut r = Request {
        seed: 1,
        quick: false,
        only: None,
        trial: String::new(),
        photographs: None,
        keep: None,
        verbose: false,
    };
    let mut args = std::env::args().skip(1);
    while let Some(a) = args.next() {
        match a.as_str() {
            "--seed" => r.seed = args.next().and_then(|s| s.parse().ok()).expect("--seed N"),
            "--quick" => r.quick = true,
            "--only" => r.only = args.next(),
            "--trial" => r.trial += &(args.next().expect("--trial 'KEY = VALUE'") + "\n"),
            "--photographs" => r.photographs = args.next(),
            "--keep" => r.keep = args.next(),
            "-v" => r.verbose = true,
            _ => {}
        }
    }
    r
}

/// Capture rate, screen refresh, live view where slower; 0 Hz: a feed.
const RATES: [(f64, f64, Option<f64>); 8] = [
    (240.0, 60.0, None),
    (120.0, 60.0, None),
    (480.0, 120.0, None),
    (240.0, 100.0, None),
    (60.0, 0.0, None),
    (240.0, 120.0, Some(60.0)),
    (120.0, 30.0, None),
    (480.0, 60.0, Some(30.0)),
];

/// A rig at some rates: a swing seen on the screen, or directly too, or a light.
fn bed(i: usize, (fps, refresh_hz, live_fps): (f64, f64, Option<f64>), trial: &str) -> Bed {
    let screen = if refresh_hz == 0.0 {
        "[screen]\nfeed = true\n".to_owned()
    } else {
        format!(
            "[screen]\ncorners = [[266, 82], [750, 91], [756, 456], [262, 450]]\n\
             refresh_hz = {refresh_hz:?}\n"
        )
    };
    let size = if refresh_hz == 0.0 {
        [640, 480]
    } else {
        [960, 540]
    };
    let stimulus = match i % 4 {
        1 if refresh_hz > 0.0 => "kind = \"swing\"\nregion = [16, 340, 228, 480]\n",
        3 if refresh_hz > 0.0 => "kind = \"light\"\nregion = [100, 60, 140, 100]\n",
        _ => "kind = \"swing\"\n",
    };
    let text = format!(
        "name = \"matrix\"\n[capture]\nfps = {fps:?}\nframe_size = {size:?}\n{screen}\
         [stimulus]\n{stimulus}[trial]\n{trial}"
    );
    let mut bed = Bed::of(&Rig::parse(&text, "rig").expect("a rig")).expect("a bed");
    bed.live_fps = live_fps;
    bed
}

/// The scenes of a seed.
fn cases(r: &Request, photographs: &[PathBuf]) -> Vec<Case> {
    let trials = if r.quick { 6 } else { 15 };
    let rounds = if r.quick { 1 } else { 2 };
    let mut out = Vec::new();
    let wanted = |t: &Trouble| {
        r.only
            .as_ref()
            .is_none_or(|o| t.name().contains(o.as_str()))
    };
    for (k, trouble) in Trouble::all().enumerate().filter(|(_, t)| wanted(t)) {
        for round in 0..rounds {
            let first = k * rounds + round + round * 3;
            let fitting = (0..RATES.len())
                .map(|j| (first + j) % RATES.len())
                .map(|i| bed(first, RATES[i], &r.trial))
                .find(|b| trouble.fits(b));
            let n = photographs.len();
            let content = match (round + k) % 2 {
                1 if n > 1 => Content::Photographs(
                    photographs[first % n].clone(),
                    photographs[(first + 1) % n].clone(),
                ),
                _ => Content::Drawn,
            };
            let seed = r.seed * 1000 + first as u64;
            out.extend(fitting.map(|b| prove::case(&b, trouble, &content, seed, trials)));
        }
    }
    out
}

fn main() {
    let request = request();
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let folder = request.keep.as_ref().map_or(scratch.path(), Path::new);
    std::fs::create_dir_all(folder).expect("a folder");
    let photographs = photographs::find(request.photographs.as_deref().map(Path::new));
    for p in &photographs {
        println!("photograph {}", p.display());
    }
    let mut sums: BTreeMap<String, Score> = BTreeMap::new();
    println!(
        "{}",
        line("clip", &prove::HEAD.map(|h| h.replace('\n', " ")))
    );
    for case in cases(&request, &photographs) {
        let truth = match prove::play(&case, folder, |_, _| ()) {
            Ok(truth) => truth,
            Err(e) => {
                println!("{}: {e}", case.name);
                continue;
            }
        };
        let content = if case.scene.near.image.is_some() {
            "photographs"
        } else {
            "drawn"
        };
        let rates = format!("{:.0} fps, {:.0} Hz", truth.capture_fps, truth.refresh_hz);
        let score = match prove::measure(&case, &case.rig, &truth, folder) {
            Ok(score) => score,
            Err(e) => {
                println!("{}: {e}", case.name);
                Score::empty(&truth)
            }
        };
        if request.verbose {
            println!("{}", score.lines.join("\n"));
        }
        println!("{}", line(&case.name, &prove::cells(&Row::of("", &score))));
        for of in [case.trouble.name(), content, &rates, "all"] {
            sums.entry(of.to_owned()).or_default().add(&score);
        }
    }
    println!(
        "\n{}",
        line("together", &prove::HEAD.map(|h| h.replace('\n', " ")))
    );
    for (of, score) in &sums {
        println!("{}", line(of, &prove::cells(&Row::of(of, score))));
    }
}

fn line(name: &str, cells: &[String]) -> String {
    let rest: String = cells[1..].iter().map(|c| format!(" {c:>16}")).collect();
    format!("{name:<44}{rest}")
}
