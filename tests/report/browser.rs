//! The page in a real browser, where there is one.

use std::process::{Command, Output};
use std::time::{Duration, Instant};

use crate::bench::{Bench, NASTY};

/// A browser that hangs is a failure, not a wait.
const LONGEST: Duration = Duration::from_secs(60);

/// Runs headless Chromium on a page; `None`, with a note, where there is none.
fn browse(bench: &Bench, page: &str, args: &[&str]) -> Option<(Output, Duration)> {
    let names = ["chromium", "chromium-browser", "google-chrome"];
    let found = names
        .iter()
        .find(|n| Command::new(n).arg("--version").output().is_ok());
    let Some(browser) = found else {
        println!("skipped: no Chromium is installed");
        return None;
    };
    let begun = Instant::now();
    let out = Command::new(browser)
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--hide-scrollbars",
        ])
        .args(["--enable-logging=stderr", "--timeout=30000"])
        .arg(format!(
            "--user-data-dir={}",
            bench.path("profile").display()
        ))
        .args(args)
        .arg(format!("file://{}", bench.path(page).display()))
        .output()
        .unwrap();
    Some((out, begun.elapsed()))
}

#[test]
fn no_script_runs_and_the_console_stays_empty() {
    let bench = Bench::new();
    let mut args = vec!["report".to_owned(), "-o".to_owned(), "a.html".to_owned()];
    for (k, name) in NASTY.iter().enumerate() {
        let path = bench.setup(&format!("n{k}"), name, 1, 6, true);
        args.push(path.display().to_string());
    }
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    assert!(bench.run(&args).status.success());
    let Some((out, took)) = browse(&bench, "a.html", &["--dump-dom"]) else {
        return;
    };
    let log = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(!log.contains("CONSOLE"), "{log}");
    let dom = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(dom.trim_end().ends_with("</html>"), "{log}");
    assert!(!dom.contains("<script") && dom.contains("Before you rely on this"));
    assert!(took < LONGEST, "{took:?}");
}

#[test]
fn it_prints_and_fits_a_phone() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 2, 8, true);
    assert!(
        bench
            .run(&["report", path.to_str().unwrap(), "-o", "a.html"])
            .status
            .success()
    );
    let pdf = format!("--print-to-pdf={}", bench.path("a.pdf").display());
    let Some(_) = browse(&bench, "a.html", &[&pdf]) else {
        return;
    };
    assert!(
        std::fs::read(bench.path("a.pdf"))
            .unwrap()
            .starts_with(b"%PDF")
    );
    let picture = format!("--screenshot={}", bench.path("a.png").display());
    browse(&bench, "a.html", &["--window-size=360,800", &picture]);
    let seen = image::open(bench.path("a.png")).unwrap().into_rgb8();
    // Paper at the right edge: nothing reaches beyond a phone's width.
    let paper = *seen.get_pixel(2, seen.height() - 2);
    let edge = (100..seen.height()).filter(|y| *seen.get_pixel(seen.width() - 1, *y) == paper);
    assert!(edge.count() + 100 > seen.height() as usize * 9 / 10);
}
