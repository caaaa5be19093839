//! What halving, doubling and removing each limit changes.
//!
//! `cargo bench --bench limits --features try-limits -- [--folder FOLDER]
//! [--only NAME]`
//!
//! The clips of the sample, and those of another generator where a folder holds
//! them (as for the bench `independent`), are decoded once; then they are judged
//! from kept signals with one limit changed at a time. A row without a change is
//! not printed in full: it says so.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

// Which setup a clip is of does not matter here.
#[allow(dead_code)]
#[path = "independent/films.rs"]
mod films;
mod held;

use std::path::{Path, PathBuf};

use focuslag::limits::{ALL, Limit};

use held::quantile::{median, quantile};
use held::row::{Row, Settle};
use held::table::number;
use held::tool::Tool;
use held::truth::Film;

const SETUPS: [&str; 4] = ["kit-amber", "kit-slate", "kit-cobalt", "kit-amber-release"];

/// Everything that is judged.
struct Films {
    sample: PathBuf,
    rendered: Vec<(String, Film)>,
    others: Vec<films::Clip>,
}

impl Films {
    fn of(folder: Option<&Path>) -> Self {
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips");
        let entries = std::fs::read_dir(&sample).expect("the sample");
        let mut names: Vec<String> = entries
            .filter_map(|e| e.ok()?.file_name().into_string().ok())
            .filter(|n| n.ends_with(".mp4") && !n.contains("by-hand"))
            .collect();
        names.sort();
        let film = |n: String| (n.clone(), held::rendered::truth(&sample.join(n)));
        Self {
            rendered: names.into_iter().map(film).collect(),
            sample,
            others: folder.map(films::all).unwrap_or_default(),
        }
    }

    fn judged(&self, tool: &Tool, scratch: &Path) -> Row {
        let mut all = Row::default();
        let session = self.sample.join("session.toml");
        let timed = tool.session(&session, &SETUPS, scratch);
        let clips: Vec<_> = timed.iter().flat_map(|t| &t.clips).collect();
        for (name, film) in &self.rendered {
            let found = clips.iter().find(|c| c.file == *name);
            all.add(&Row::of(film, found.copied(), &[]));
        }
        for clip in &self.others {
            let name = &clip.film.name;
            let timed = tool.time(
                &clip.rig(true),
                name,
                std::slice::from_ref(&clip.path),
                scratch,
            );
            all.add(&Row::of(&clip.film, timed.clips.first(), &[]));
        }
        all
    }
}

/// Verdicts, settles and their uncertainty in one line.
fn line(row: &Row) -> String {
    let settles: Vec<Settle> = row.settles.values().flatten().copied().collect();
    let units: Vec<f64> = settles.iter().map(|s| s.units).collect();
    let latencies: Vec<(f64, f64)> = settles.iter().filter_map(|s| s.latency).collect();
    let twice: Vec<f64> = latencies.iter().map(|l| 2.0 * l.1).collect();
    let within = latencies.iter().filter(|(e, u)| e.abs() <= 2.0 * u).count();
    format!(
        "{}/{}, {}/{}, {}, {}, {}; {}, {}; {} of {}, {}",
        row.hits.right,
        row.hits.of,
        row.misses.right,
        row.misses.of,
        row.void,
        row.missed + row.extra,
        row.close,
        number(quantile(&units, 0.95), 2),
        number(quantile(&units, 0.99), 2),
        within,
        latencies.len(),
        number(median(&twice), 0)
    )
}

fn main() {
    let mut args = std::env::args().skip(1);
    let (mut folder, mut only) = (None, String::new());
    while let Some(a) = args.next() {
        match a.as_str() {
            "--folder" => folder = args.next().map(PathBuf::from),
            "--only" => only = args.next().expect("--only NAME"),
            _ => {}
        }
    }
    let folder = folder.map(|f| std::fs::canonicalize(f).expect("the folder of the films"));
    let films = Films::of(folder.as_deref());
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let mut tool = Tool::new(None);
    tool.signals = Some(scratch.path().join("signals"));
    let usual = line(&films.judged(&tool, scratch.path()));
    println!(
        "hits right, misses right, void, not found or invented, close calls; settle p95, p99 in \
         units; 2 u holds, median 2 u in ms\n\nas they stand: {usual}\n"
    );
    println!("| limit | origin | halved | doubled | removed |\n| --- | --- | --- | --- | --- |");
    for limit in ALL.iter().filter(|l| l.name.contains(&only)) {
        let changed = [Some(limit.value / 2.0), Some(limit.value * 2.0), limit.off]
            .map(|v| tried(limit, v, &usual, &films, &mut tool, scratch.path()));
        println!(
            "| `{}` {} {:?} | {:?} | {} |",
            limit.name,
            limit.value,
            limit.unit,
            limit.origin,
            changed.join(" | ")
        );
    }
}

fn tried(
    limit: &Limit,
    value: Option<f64>,
    usual: &str,
    films: &Films,
    tool: &mut Tool,
    scratch: &Path,
) -> String {
    let Some(value) = value else {
        return "-".to_owned();
    };
    tool.tried = Some(format!("{}={value}", limit.name));
    let found = line(&films.judged(tool, scratch));
    if found == usual {
        "the same".to_owned()
    } else {
        found
    }
}
